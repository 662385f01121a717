/* event_fast: owns reading events from the very bytes that event_write makes: no tree, no look-ups, every member in its place.
 * Whatever is written in another way, though it may mean the same, is not for here: event_read.c reads it. */
#include "proof/event.h"

#include "base/text.h"
#include "core/date.h"
#include "core/decimal.h"
#include "proof/event_pool.h"
#include "proof/event_rules.h"

#include <string.h>

enum { NUMBER_DIGITS = 15, NANO_DIGITS = 9 };

struct cursor {
    const char *at, *end;
    struct event_pool *pool;
    bool is_out_of_memory;
};

/* ---- bytes ------------------------------------------------------------------------------------- */

static bool skip(struct cursor *c, const char *s, size_t n)
{
    if ((size_t)(c->end - c->at) < n || memcmp(c->at, s, n) != 0)
        return false;
    c->at += n;
    return true;
}

#define SKIP(c, literal) skip(c, literal, sizeof(literal) - 1)

/* "NAME": with a comma before it unless it is the first. The cursor stays where it is when another member stands there. */
static bool skip_key(struct cursor *c, const char *name, bool *is_first)
{
    const struct cursor before = *c;
    const bool is_it = (*is_first || SKIP(c, ",")) && SKIP(c, "\"") &&
                       skip(c, name, strlen(name)) && SKIP(c, "\":");
    if (is_it)
        *is_first = false;
    else
        c->at = before.at;
    return is_it;
}

/* A text without any escape; *ret_n bytes, in place. */
static bool take_text(struct cursor *c, const char **ret, size_t *ret_n)
{
    if (!SKIP(c, "\""))
        return false;
    const char *close = memchr(c->at, '"', (size_t)(c->end - c->at));
    if (close == NULL || memchr(c->at, '\\', (size_t)(close - c->at)) != NULL)
        return false;
    *ret = c->at;
    *ret_n = (size_t)(close - c->at);
    c->at = close + 1;
    return true;
}

/* The same by the rule of its kind, copied. */
static bool read_text(struct cursor *c, enum event_field_kind kind, const char **ret)
{
    const char *s = NULL;
    size_t n = 0;
    if (!take_text(c, &s, &n) || !event_text_fits(kind, s, n))
        return false;
    *ret = event_pool_text(c->pool, s, n);
    c->is_out_of_memory |= *ret == NULL;
    return *ret != NULL;
}

static size_t count_digits(const struct cursor *c)
{
    size_t n = 0;
    while (n < (size_t)(c->end - c->at) && c->at[n] >= '0' && c->at[n] <= '9')
        n++;
    return n;
}

/* A whole number as jsonw_int writes it: no sign but '-', no 0 in front. */
static bool read_whole(struct cursor *c, int64_t least, int64_t most, int64_t *ret)
{
    const bool is_negative = SKIP(c, "-");
    const size_t n = count_digits(c);
    int64_t value = 0;
    if (n == 0 || n > NUMBER_DIGITS + 1 || (c->at[0] == '0' && (n > 1 || is_negative)))
        return false;
    for (size_t i = 0; i < n; i++)
        value = 10 * value + (c->at[i] - '0');
    c->at += n;
    *ret = is_negative ? -value : value;
    return *ret >= least && *ret <= most;
}

/* A plain decimal in nano; the point and the sign as quantity_show_number writes them. */
static bool read_nano(struct cursor *c, int64_t least, int64_t most, int64_t *ret)
{
    const bool is_negative = SKIP(c, "-");
    const char *whole = c->at;
    const size_t n_whole = count_digits(c);
    uint64_t nano = 0;
    bool is_rounded = false;
    if (n_whole == 0 || n_whole > NUMBER_DIGITS || (whole[0] == '0' && n_whole > 1))
        return false;
    c->at += n_whole;
    const bool has_point = SKIP(c, ".");
    const char *frac = c->at;
    const size_t n_frac = has_point ? count_digits(c) : 0;
    if (has_point && (n_frac == 0 || n_frac > NANO_DIGITS))
        return false;
    c->at += n_frac;
    if (decimal_scale(whole, n_whole, frac, n_frac, 1000000000, &nano, &is_rounded) != ERR_OK ||
        nano > INT64_MAX || (is_negative && nano == 0))
        return false;
    *ret = is_negative ? -(int64_t)nano : (int64_t)nano;
    return *ret >= least && *ret <= most;
}

static bool read_ulid(struct cursor *c, struct ulid *ret)
{
    const char *s = NULL;
    size_t n = 0, byte = 0;
    if (!take_text(c, &s, &n) || ulid_parse(s, n, ret, &byte) != ERR_OK)
        return false;
    for (size_t i = 0; i < n; i++)
        if (s[i] >= 'a' && s[i] <= 'z')
            return false;
    return true;
}

/* ---- fields ------------------------------------------------------------------------------------ */

static bool read_choice(struct cursor *c, const char *const *choices, int64_t *ret)
{
    const char *s = NULL;
    size_t n = 0;
    if (!take_text(c, &s, &n))
        return false;
    for (size_t i = 0; choices[i] != NULL; i++)
        if (strlen(choices[i]) == n && memcmp(choices[i], s, n) == 0) {
            *ret = (int64_t)i;
            return true;
        }
    return false;
}

static bool read_date(struct cursor *c, int64_t *ret)
{
    const char *s = NULL;
    size_t n = 0;
    int32_t day = 0;
    if (!take_text(c, &s, &n) || date_parse(s, n, &day) != ERR_OK)
        return false;
    *ret = day;
    return true;
}

static bool read_pairs(struct cursor *c, struct event_pairs *ret)
{
    struct event_pair pairs[EVENT_PAIRS_MAX];
    size_t n = 0;
    bool is_first = true;
    if (!SKIP(c, "{"))
        return false;
    while (!SKIP(c, "}")) {
        if (n == EVENT_PAIRS_MAX || (!is_first && !SKIP(c, ",")) ||
            !read_text(c, EVENT_FIELD_ID, &pairs[n].name) || !SKIP(c, ":") ||
            !read_text(c, EVENT_FIELD_ID, &pairs[n].value))
            return false;
        if (n > 0 && strcmp(pairs[n - 1].name, pairs[n].name) >= 0)
            return false; /* in another order, or twice */
        is_first = false;
        n++;
    }
    if (n == 0)
        return false;
    ret->pairs = event_pool_get(c->pool, n * sizeof *pairs);
    c->is_out_of_memory |= ret->pairs == NULL;
    if (ret->pairs == NULL)
        return false;
    memcpy(ret->pairs, pairs, n * sizeof *pairs);
    ret->n = n;
    return true;
}

/* "NAME_nm":1 or "NAME":1.5,"unit":"V" */
static bool read_amount(struct cursor *c, const struct event_field *f, bool *is_first,
                        struct event_amount *ret)
{
    char key[EVENT_ID_MAX];
    const size_t n = strlen(f->name);
    int64_t choice = 0;
    if (n + sizeof "_nm" > sizeof key)
        return false;
    memcpy(key, f->name, n);
    memcpy(key + n, "_nm", sizeof "_nm");
    if (skip_key(c, key, is_first)) {
        ret->unit = UNIT_NM;
        return read_whole(c, f->least, f->most, &ret->nano);
    }
    if (!skip_key(c, f->name, is_first) || !read_nano(c, f->least, f->most, &ret->nano) ||
        !skip_key(c, "unit", is_first) || !read_choice(c, event_units, &choice))
        return false;
    ret->unit = quantity_unit_find(event_units[choice], strlen(event_units[choice]));
    return true;
}

static bool read_value(struct cursor *c, const struct event_field *f, void *into)
{
    int64_t *number = into;
    switch (f->kind) {
    case EVENT_FIELD_INTEGER:
        return read_whole(c, f->least, f->most, number) && !(f->is_not_zero && *number == 0);
    case EVENT_FIELD_DATE:
        return read_date(c, number);
    case EVENT_FIELD_CHOICE:
        return read_choice(c, f->choices, number);
    case EVENT_FIELD_PAIRS:
        return read_pairs(c, into);
    default:
        return read_text(c, f->kind, into);
    }
}

static bool read_payload(struct cursor *c, struct event *e)
{
    const struct event_field *f = event_types[e->type].fields;
    bool is_first = true;
    if (!SKIP(c, "{"))
        return false;
    for (size_t i = 0; i < EVENT_FIELDS_MAX && f[i].name != NULL; i++) {
        void *into = (unsigned char *)e + f[i].at;
        const int64_t absent = EVENT_ABSENT;
        if (f[i].kind == EVENT_FIELD_AMOUNT) {
            if (!read_amount(c, &f[i], &is_first, into))
                return false;
        } else if (skip_key(c, f[i].name, &is_first)) {
            if (!read_value(c, &f[i], into))
                return false;
        } else if (f[i].is_needed) {
            return false;
        } else if (f[i].kind == EVENT_FIELD_INTEGER || f[i].kind == EVENT_FIELD_DATE) {
            memcpy(into, &absent, sizeof absent);
        }
    }
    return SKIP(c, "}") && event_clash(e) == EVENT_CLASH_NONE;
}

/* ---- events ------------------------------------------------------------------------------------ */

static bool read_type(struct cursor *c, enum event_type *ret)
{
    const char *s = NULL;
    size_t n = 0;
    if (!take_text(c, &s, &n))
        return false;
    for (int i = 0; i < EVENT_TYPE_N; i++)
        if (strlen(event_types[i].name) == n && memcmp(event_types[i].name, s, n) == 0) {
            *ret = (enum event_type)i;
            return true;
        }
    return false;
}

static bool read_event(struct cursor *c, struct event *e)
{
    bool is_first = false;
    if (!SKIP(c, "{\"id\":") || !read_ulid(c, &e->id) || !SKIP(c, ",\"type\":") ||
        !read_type(c, &e->type) || !SKIP(c, ",\"at_ms\":") ||
        !read_whole(c, 0, EVENT_TIME_MAX_MS, &e->at_ms) || !SKIP(c, ",\"technician\":") ||
        !read_text(c, EVENT_FIELD_ID, &e->technician) || !SKIP(c, ",\"shop\":") ||
        !read_text(c, EVENT_FIELD_ID, &e->shop))
        return false;
    const enum event_station station = event_types[e->type].station;
    if (skip_key(c, "station", &is_first)) {
        if (station == EVENT_STATION_NONE || !read_text(c, EVENT_FIELD_ID, &e->station))
            return false;
    } else if (station == EVENT_STATION_MUST) {
        return false;
    }
    e->has_corrects = skip_key(c, "corrects", &is_first);
    if (e->has_corrects && !read_ulid(c, &e->corrects))
        return false;
    return SKIP(c, ",\"payload\":") && read_payload(c, e) && SKIP(c, "}");
}

enum err events_add_written(struct event_list *list, const char *text, size_t n)
{
    struct cursor c = {text, text + n, list->pool, false};
    struct event e;
    memset(&e, 0, sizeof e);
    if (!read_event(&c, &e) || c.at != c.end)
        return c.is_out_of_memory ? ERR_MEMORY : ERR_SYNTAX;
    return events_put(list, &e);
}
