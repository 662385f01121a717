/* rule_try: for the tests of desk/rule: a clean claim to begin with (the finished example job under its bulletin, as taken in two
 * days later), which each case changes in one place. Everything in it is invented. */
#ifndef TEST_RULE_TRY_H
#define TEST_RULE_TRY_H

#include "desk/rule.h"

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

/* Rules, says one line, and frees: that there is no finding and the verdict is pay; that there is one finding and what it is:
 * needle stands in its message. station NULL: the whole claim. */
void try_clean(struct rule_try *t, const char *what);
void try_one(struct rule_try *t, enum rule_id rule, enum rule_level level, const char *station,
             const char *needle, const char *what);

/* A line: the findings of this rule are as many, the last of them as said; other rules' do not matter. Does not free. */
bool try_has(struct rule_try *t, enum rule_id rule, size_t n, enum rule_level level,
             const char *station, const char *needle, const char *what);
void try_show(const struct rule_ruling *ruling); /* as notes */

#endif
