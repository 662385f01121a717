/* rule_try: for the tests of desk/rule: a clean claim to begin with (the finished example job under its bulletin, as taken in two
 * days later), which each case changes in one place. Everything in it is invented. */
#ifndef TEST_RULE_TRY_H
#define TEST_RULE_TRY_H

#include "desk/rule.h"
#include "tap.h"

#include <string.h>

enum { TRY_MORE = 64, TRY_PHOTOS = 64, TRY_LISTS = 16 };

struct rule_try {
    struct bulletin *b; /* the example's, or one of its own after try_bulletin */
    struct rule_book *book;
    bool owns_bulletin;
    struct event_list head; /* as the file's; its list is not used */
    struct event *events;
    size_t n_events, room;
    struct store_claim claim;
    struct store_photo photos[TRY_PHOTOS];
    struct store_finding bag[TRY_LISTS];
    struct rule_known known;
    struct rule_shop shop;
    struct rule_label labels[TRY_LISTS];
    struct rule_other others[TRY_LISTS];
    struct rule_seen seen[TRY_LISTS];
    struct rule_overlap overlaps[TRY_LISTS];
    const char *same[TRY_LISTS];
    struct job *job;
    struct rule_ruling *ruling;
};

/* try_new: the clean case; ends the test when it cannot be had. try_bulletin: the same under a bulletin in which each `from` (which
 * stands there exactly once) is put as `to`; pairs closed by NULL. */
struct rule_try *try_new(void);
struct rule_try *try_bulletin(const char *const *pairs);
struct rule_try *try_text(const char *text, size_t n); /* under this bulletin's text */
const struct text *try_yaml(void);                     /* the example bulletin's */
void try_free(struct rule_try *t);

/* The nth (from 0) event of a type at a station (NULL: the unit) with a key ("" or NULL: any) in time; ends the test when there is
 * none. */
struct event *try_event(struct rule_try *t, enum event_type type, const char *station,
                        const char *key, size_t nth);
size_t try_drop(struct rule_try *t, enum event_type type, const char *station,
                const char *key);                               /* all of them; how many */
void try_drop_station(struct rule_try *t, const char *station); /* every event of it */
struct event *try_add(struct rule_try *t, const struct event *like,
                      int64_t at_ms); /* a copy, under its own id */
struct store_photo *try_photo(struct rule_try *t, const char *station, const char *id);
int64_t try_finished_ms(const struct rule_try *t);

/* try_rule: replays and rules. */
const struct rule_ruling *try_rule(struct rule_try *t);

/* ---- what is said of it; here and not in rule_try.c, as each test counts its own lines ---- */

/* As notes. */
static inline void try_show(const struct rule_ruling *ruling)
{
    for (size_t i = 0; i < ruling->n_findings; i++) {
        const struct rule_finding *f = &ruling->findings[i];
        tap_note("%s %s %s: %s | %s", rule_rows[f->rule].name, rule_level_name(f->level),
                 f->station != NULL ? f->station : "-", f->message, f->cure);
    }
}

/* Rules, says one line, and frees: that there is no finding and the verdict is pay. */
static inline void try_clean(struct rule_try *t, const char *what)
{
    const struct rule_ruling *r = try_rule(t);
    if (!tap_ok(r->n_findings == 0 && r->verdict == RULE_PAY, "%s: no finding, pay", what))
        try_show(r);
    try_free(t);
}

static inline bool try_is_told(const struct rule_finding *f, enum rule_level level,
                               const char *station, const char *needle)
{
    const bool is_here = station == NULL ? f->station == NULL
                                         : f->station != NULL && strcmp(f->station, station) == 0;
    return f->level == level && is_here && strstr(f->message, needle) != NULL && f->cure[0] != '\0';
}

static inline enum rule_verdict try_verdict(enum rule_level level)
{
    return level == RULE_NOTE   ? RULE_PAY
           : level == RULE_ASK  ? RULE_VERDICT_ASK
           : level == RULE_HOLD ? RULE_VERDICT_HOLD
                                : RULE_VERDICT_REFUSE;
}

/* The same: that there is one finding and what it is: needle stands in its message. station NULL: the whole claim. */
static inline void try_one(struct rule_try *t, enum rule_id rule, enum rule_level level,
                           const char *station, const char *needle, const char *what)
{
    const struct rule_ruling *r = try_rule(t);
    const bool is_one = r->n_findings == 1 && r->findings[0].rule == rule &&
                        try_is_told(&r->findings[0], level, station, needle);
    /* One station of two may be refused and the other paid. */
    const bool is_judged =
        r->verdict == try_verdict(level) || (level == RULE_REFUSE && station != NULL);
    if (!tap_ok(is_one && is_judged, "%s: %s alone, %s", what, rule_rows[rule].name,
                rule_level_name(level)))
        try_show(r);
    try_free(t);
}

/* A line: the findings of this rule are as many, the last of them as said; other rules' do not matter. Does not free. */
static inline bool try_has(struct rule_try *t, enum rule_id rule, size_t n, enum rule_level level,
                           const char *station, const char *needle, const char *what)
{
    const struct rule_ruling *r = try_rule(t);
    size_t found = 0;
    bool is_good = n == 0;
    for (size_t i = 0; i < r->n_findings; i++) {
        if (r->findings[i].rule != rule)
            continue;
        found++;
        is_good = try_is_told(&r->findings[i], level, station, needle);
    }
    if (!tap_ok(is_good && found == n, "%s: %s %zu times", what, rule_rows[rule].name, n))
        try_show(r);
    return is_good && found == n;
}

#endif
