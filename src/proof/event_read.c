/* event_read: owns the shape of events.json and what is said when one is not right.
 *
 * Every reader below sets the path first, so that whatever fails names its place; place() adds line and column. */
#include "proof/event.h"

#include "base/json.h"
#include "base/suggest.h"
#include "core/date.h"
#include "proof/event_pool.h"
#include "proof/event_rules.h"

#include <assert.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { KNOWN_MAX = EVENT_TYPE_N + EVENT_FIELDS_MAX, WHERE_MAX = 64 };

struct reader {
    struct event_list *list;
    struct fault *f;
};

/* Where the next value stands: its path, and its line and column when it is there. */
PRINTF_LIKE(3, 4)
static void at(struct reader *r, json_node *node, const char *fmt, ...)
{
    va_list ap;
    va_start(ap, fmt);
    vsnprintf(r->f->path, sizeof r->f->path, fmt, ap);
    va_end(ap);
    r->f->path[text_clean(r->f->path, strlen(r->f->path), false)] = '\0';
    json_place(node, r->f);
}

static enum err wrong_kind(struct reader *r, json_node *node, const char *expected)
{
    return fault_set(r->f, ERR_TYPE, "found %s; expected %s", json_kind_name(json_kind(node)),
                     expected);
}

/* ---- members ------------------------------------------------------------------------------- */

/* "found WORD; did you mean ...?" or the whole list. */
static enum err say_known(struct reader *r, const char *what, const char *word,
                          const char *const *known, size_t n)
{
    const char *near = suggest_nearest(word, strlen(word), known, n);
    if (near != NULL)
        return fault_set(r->f, ERR_UNKNOWN, "%s; did you mean \"%s\"?", what, near);
    struct text list = {0};
    for (size_t k = 0; k < n; k++)
        text_printf(&list, "%s%s", k > 0 ? ", " : "", known[k]);
    const enum err e = fault_set(r->f, ERR_UNKNOWN, "%s; expected one of %s", what,
                                 list.data != NULL ? list.data : "those documented");
    text_done(&list);
    return e;
}

/* Refuses what is no object, and members that are not known. */
static enum err only_known(struct reader *r, const char *where, json_node *object,
                           const char *const *known, size_t n_known)
{
    at(r, object, "%s", where);
    if (json_kind(object) != JSON_OBJECT)
        return wrong_kind(r, object, "an object {...}");
    for (size_t i = 0; i < json_size(object); i++) {
        const char *key = NULL;
        json_node *node = json_member(object, i, &key);
        bool is_known = false;
        for (size_t k = 0; k < n_known; k++)
            is_known = is_known || strcmp(key, known[k]) == 0;
        if (is_known)
            continue;
        at(r, node, "%s%s%s", where, *where != '\0' ? "." : "", key);
        return say_known(r, "no such member here", key, known, n_known);
    }
    return ERR_OK;
}

/* The member `key`, with the path set to it; NULL, with a fault, when it is missing. */
static json_node *need(struct reader *r, const char *where, json_node *object, const char *key)
{
    json_node *node = json_get(object, key);
    at(r, node != NULL ? node : object, "%s%s%s", where, *where != '\0' ? "." : "", key);
    if (node == NULL)
        (void)fault_set(r->f, ERR_EMPTY, "missing; expected \"%s\" here", key);
    return node;
}

/* ---- values, at the path that is set ------------------------------------------------------- */

static enum err read_whole(struct reader *r, json_node *node, int64_t least, int64_t most,
                           int64_t *ret)
{
    const enum json_kind kind = json_kind(node);
    if (kind != JSON_INT && kind != JSON_REAL)
        return wrong_kind(r, node, "a whole number");
    /* The bounds lie below 2^53, so a double holds every number that passes. */
    const double value = json_double(node);
    if (!(value >= (double)least && value <= (double)most) || value != (double)(int64_t)value)
        return fault_set(r->f, ERR_DOMAIN, "found %.17g; expected a whole number %lld..%lld", value,
                         (long long)least, (long long)most);
    *ret = (int64_t)value;
    return ERR_OK;
}

static bool is_word_char(char c, const char *more)
{
    return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') ||
           (c != '\0' && strchr(more, c) != NULL);
}

#define CAPITALS "ABCDEFGHIJKLMNOPQRSTUVWXYZ"

static bool is_id(const char *s, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (!is_word_char(s[i], "-") || (s[i] == '-' && (i == 0 || i + 1 == n || s[i - 1] == '-')))
            return false;
    return n > 0;
}

static bool is_code(const char *s, size_t n)
{
    size_t i = 0;
    while (i < n && is_word_char(s[i], CAPITALS "-./_*"))
        i++;
    return n > 0 && i == n;
}

/* No segment is empty or begins with a point: nothing can climb out of the folder or hide in it. */
static bool is_path(const char *s, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        const bool is_first = i == 0 || s[i - 1] == '/';
        if (s[i] == '/' ? is_first || i + 1 == n
                        : !is_word_char(s[i], is_first ? CAPITALS "_-" : CAPITALS "._-"))
            return false;
    }
    return n > 0;
}

static bool is_hex(const char *s, size_t n)
{
    size_t i = 0;
    while (i < n && ((s[i] >= '0' && s[i] <= '9') || (s[i] >= 'a' && s[i] <= 'f')))
        i++;
    return n == EVENT_SHA256_SIZE && i == n;
}

/* Characters of s, or SIZE_MAX when one may not stand there. */
static size_t count_plain(const char *s, size_t n, bool may_break)
{
    size_t count = 0;
    for (size_t i = 0; i < n; count++) {
        uint32_t code = 0;
        const size_t size = text_decode(s + i, n - i, &code);
        const bool is_break = may_break && (code == '\n' || code == '\t');
        if (size == 0 || ((code < 0x20 || code == 0x7F) && !is_break))
            return SIZE_MAX;
        i += size;
    }
    return count;
}

struct text_rule {
    size_t most;
    const char *expected;
};

static struct text_rule rule_of(enum event_field_kind kind)
{
    switch (kind) {
    case EVENT_FIELD_ID:
        return (struct text_rule){EVENT_ID_MAX, "an id: lower-case words with dashes"};
    case EVENT_FIELD_CODE:
        return (struct text_rule){EVENT_CODE_MAX, "a code: letters, digits and - . / _ *"};
    case EVENT_FIELD_PATH:
        return (struct text_rule){EVENT_PATH_MAX, "a path such as photos/a-1.jpg: letters, digits, "
                                                  ". _ -, no part that begins with a point"};
    case EVENT_FIELD_SHA256:
        return (struct text_rule){EVENT_SHA256_SIZE, "64 hexadecimal digits, a to f lower case"};
    case EVENT_FIELD_TEXT:
        return (struct text_rule){EVENT_TEXT_MAX, "plain text"};
    default:
        return (struct text_rule){EVENT_LINE_MAX, "one line of plain text"};
    }
}

static bool obeys(enum event_field_kind kind, const char *s, size_t n)
{
    switch (kind) {
    case EVENT_FIELD_ID:
        return is_id(s, n);
    case EVENT_FIELD_CODE:
        return is_code(s, n);
    case EVENT_FIELD_PATH:
        return is_path(s, n);
    case EVENT_FIELD_SHA256:
        return is_hex(s, n);
    default:
        return true;
    }
}

bool event_text_fits(enum event_field_kind kind, const char *s, size_t n)
{
    const size_t most = rule_of(kind).most;
    if (n == 0 || n > 4 * most || !obeys(kind, s, n))
        return false;
    if (kind != EVENT_FIELD_LINE && kind != EVENT_FIELD_TEXT)
        return n <= most; /* what it obeys allows characters of one byte alone */
    const size_t count = count_plain(s, n, kind == EVENT_FIELD_TEXT);
    return count != SIZE_MAX && count <= most;
}

/* A text of a kind; *ret_n bytes, borrowed from the document. */
static enum err check_text(struct reader *r, json_node *node, enum event_field_kind kind,
                           const char **ret, size_t *ret_n)
{
    const struct text_rule rule = rule_of(kind);
    size_t n = 0;
    const char *s = json_string(node, &n);
    if (s == NULL)
        return wrong_kind(r, node, rule.expected);
    if (n == 0)
        return fault_set(r->f, ERR_EMPTY, "found empty text; expected %s", rule.expected);
    const size_t count = count_plain(s, n, kind == EVENT_FIELD_TEXT);
    if (count == SIZE_MAX)
        return fault_set(r->f, ERR_ENCODING, "found a control character; expected %s",
                         rule.expected);
    if (count > rule.most)
        return fault_set(r->f, ERR_LIMIT, "found %zu characters; expected at most %zu", count,
                         rule.most);
    if (!obeys(kind, s, n))
        return fault_set(r->f, ERR_SYNTAX, "found \"%.60s\"; expected %s", s, rule.expected);
    *ret = s;
    *ret_n = n;
    return ERR_OK;
}

static enum err read_text(struct reader *r, json_node *node, enum event_field_kind kind,
                          const char **ret)
{
    const char *s = NULL;
    size_t n = 0;
    const enum err e = check_text(r, node, kind, &s, &n);
    if (e != ERR_OK)
        return e;
    const char *copy = event_pool_text(r->list->pool, s, n);
    if (copy == NULL)
        return fault_set(r->f, ERR_MEMORY, "memory ran out while reading events");
    *ret = copy;
    return ERR_OK;
}

/* The same into a buffer that holds rule_of(kind).most bytes and a NUL; kinds of one byte a character. */
static enum err read_word(struct reader *r, json_node *node, enum event_field_kind kind, char *buf)
{
    const char *s = NULL;
    size_t n = 0;
    const enum err e = check_text(r, node, kind, &s, &n);
    if (e != ERR_OK)
        return e;
    assert(s != NULL); /* check_text gives one with ERR_OK */
    memcpy(buf, s, n);
    buf[n] = '\0';
    return ERR_OK;
}

/* Index into choices (closed by NULL). */
static enum err read_choice(struct reader *r, json_node *node, const char *const *choices,
                            int64_t *ret)
{
    size_t n = 0;
    const char *s = json_string(node, NULL);
    while (choices[n] != NULL) {
        if (s != NULL && strcmp(s, choices[n]) == 0) {
            *ret = (int64_t)n;
            return ERR_OK;
        }
        n++;
    }
    if (s == NULL)
        return wrong_kind(r, node, "a text");
    char what[FAULT_MESSAGE_MAX / 2];
    snprintf(what, sizeof what, "found \"%.60s\"", s);
    return say_known(r, what, s, choices, n);
}

static enum err read_date(struct reader *r, json_node *node, int64_t *ret)
{
    size_t n = 0;
    int32_t day = 0;
    const char *s = json_string(node, &n);
    if (s == NULL)
        return wrong_kind(r, node, "a date \"YYYY-MM-DD\"");
    if (date_parse(s, n, &day) != ERR_OK)
        return fault_set(r->f, ERR_IMPOSSIBLE, "found \"%.60s\"; expected a date \"YYYY-MM-DD\"",
                         s);
    *ret = day;
    return ERR_OK;
}

static enum err read_ulid(struct reader *r, json_node *node, struct ulid *ret)
{
    size_t n = 0, byte = 0;
    char again[ULID_TEXT_SIZE + 1];
    const char *s = json_string(node, &n);
    if (s == NULL)
        return wrong_kind(r, node, "a ULID of 26 characters");
    struct ulid ulid;
    const enum err e = ulid_parse(s, n, &ulid, &byte);
    if (e != ERR_OK)
        return fault_set(r->f, e, "found \"%.40s\"; expected a ULID: 26 characters of base 32", s);
    ulid_show(&ulid, again);
    if (strcmp(again, s) != 0) /* one spelling only, so that equal ids are equal texts */
        return fault_set(r->f, ERR_SYNTAX, "found \"%s\"; expected it in capitals: \"%s\"", s,
                         again);
    *ret = ulid;
    return ERR_OK;
}

static int by_name(const void *a, const void *b)
{
    return strcmp(((const struct event_pair *)a)->name, ((const struct event_pair *)b)->name);
}

/* The members of a JSON object have no order: by name, so that an event that another program wrote again is still the same. */
static enum err read_pairs(struct reader *r, const char *where, json_node *node,
                           struct event_pairs *ret)
{
    const size_t n = json_size(node);
    if (json_kind(node) != JSON_OBJECT)
        return wrong_kind(r, node, "an object {\"attribute\": \"value\"}");
    if (n == 0 || n > EVENT_PAIRS_MAX)
        return fault_set(r->f, n == 0 ? ERR_EMPTY : ERR_LIMIT,
                         "found %zu attributes; expected 1..%d", n, (int)EVENT_PAIRS_MAX);
    struct event_pair *pairs = event_pool_get(r->list->pool, n * sizeof *pairs);
    if (pairs == NULL)
        return fault_set(r->f, ERR_MEMORY, "memory ran out while reading events");
    for (size_t i = 0; i < n; i++) {
        const char *key = NULL;
        json_node *value = json_member(node, i, &key);
        at(r, value, "%s.%s", where, key);
        if (!is_id(key, strlen(key)) || strlen(key) > EVENT_ID_MAX)
            return fault_set(r->f, ERR_SYNTAX, "found the name \"%.60s\"; expected an id", key);
        pairs[i].name = event_pool_text(r->list->pool, key, strlen(key));
        if (pairs[i].name == NULL)
            return fault_set(r->f, ERR_MEMORY, "memory ran out while reading events");
        const enum err e = read_text(r, value, EVENT_FIELD_ID, &pairs[i].value);
        if (e != ERR_OK)
            return e;
    }
    qsort(pairs, n, sizeof *pairs, by_name);
    *ret = (struct event_pairs){pairs, n};
    return ERR_OK;
}

/* "NAME_nm": whole number, or "NAME": number with "unit". */
static enum err read_amount(struct reader *r, const char *where, json_node *object,
                            const struct event_field *f, struct event_amount *ret)
{
    char key[EVENT_ID_MAX];
    snprintf(key, sizeof key, "%s_nm", f->name);
    json_node *length = json_get(object, key);
    json_node *number = json_get(object, f->name);
    json_node *unit = json_get(object, "unit");
    at(r, length != NULL ? length : object, "%s.%s", where, key);
    if ((length != NULL) == (number != NULL) || (length != NULL && unit != NULL))
        return fault_set(r->f, ERR_AMBIGUOUS,
                         "expected either \"%s\" or \"%s\" with its \"unit\", and not both", key,
                         f->name);
    if (length != NULL) {
        ret->unit = UNIT_NM;
        return read_whole(r, length, f->least, f->most, &ret->nano);
    }
    int64_t choice = 0;
    unit = need(r, where, object, "unit");
    enum err e = unit != NULL ? read_choice(r, unit, event_units, &choice) : r->f->code;
    if (e != ERR_OK)
        return e;
    ret->unit = quantity_unit_find(event_units[choice], strlen(event_units[choice]));
    at(r, number, "%s.%s", where, f->name);
    if (json_kind(number) != JSON_INT && json_kind(number) != JSON_REAL)
        return wrong_kind(r, number, "a number");
    const double most = quantity_to_double(f->most, ret->unit);
    if (!(json_double(number) >= -most && json_double(number) <= most))
        return fault_set(r->f, ERR_DOMAIN, "found %.17g; expected at most %.0f either way",
                         json_double(number), most);
    e = json_quantity(number, ret->unit, &ret->nano, r->f);
    return e;
}

/* ---- payloads ------------------------------------------------------------------------------ */

/* Everything optional is absent until it is found. */
static void clear_field(struct event *e, const struct event_field *f)
{
    const int64_t absent = EVENT_ABSENT;
    if (f->kind == EVENT_FIELD_INTEGER || f->kind == EVENT_FIELD_DATE)
        memcpy((unsigned char *)e + f->at, &absent, sizeof absent);
}

static enum err read_field(struct reader *r, const char *where, json_node *payload,
                           const struct event_field *f, struct event *e)
{
    void *into = (unsigned char *)e + f->at;
    clear_field(e, f);
    if (f->kind == EVENT_FIELD_AMOUNT)
        return read_amount(r, where, payload, f, into);
    json_node *node = json_get(payload, f->name);
    if (node == NULL)
        return f->is_needed && need(r, where, payload, f->name) == NULL ? r->f->code : ERR_OK;
    at(r, node, "%s.%s", where, f->name);
    switch (f->kind) {
    case EVENT_FIELD_INTEGER: {
        const enum err err = read_whole(r, node, f->least, f->most, into);
        if (err == ERR_OK && f->is_not_zero && *(const int64_t *)into == 0)
            return fault_set(r->f, ERR_DOMAIN, "found 0; expected a whole number other than 0");
        return err;
    }
    case EVENT_FIELD_DATE:
        return read_date(r, node, into);
    case EVENT_FIELD_CHOICE:
        return read_choice(r, node, f->choices, into);
    case EVENT_FIELD_PAIRS: {
        char path[FAULT_PATH_MAX];
        snprintf(path, sizeof path, "%s.%s", where, f->name);
        return read_pairs(r, path, node, into);
    }
    default:
        return read_text(r, node, f->kind, into);
    }
}

/* The names a payload may have; known[KNOWN_MAX]. Texts for "_nm" live in room. */
static size_t payload_names(const struct event_type_row *row, const char **known, char *room,
                            size_t room_size)
{
    size_t n = 0;
    for (size_t i = 0; i < EVENT_FIELDS_MAX && row->fields[i].name != NULL; i++) {
        known[n++] = row->fields[i].name;
        if (row->fields[i].kind != EVENT_FIELD_AMOUNT)
            continue;
        snprintf(room, room_size, "%s_nm", row->fields[i].name);
        known[n++] = room;
        known[n++] = "unit";
    }
    return n;
}

/* What one field cannot say of another; path is the payload's. */
static enum err check_together(struct reader *r, const char *path, json_node *payload,
                               const struct event *e)
{
    const enum event_clash clash = event_clash(e);
    if (clash == EVENT_CLASH_DAYS) {
        at(r, json_get(payload, "built_last"), "%s.built_last", path);
        return fault_set(r->f, ERR_ORDER, "the last day lies before the first");
    }
    if (clash == EVENT_CLASH_PART) {
        at(r, json_get(payload, "part"), "%s.part", path);
        return fault_set(r->f, ERR_UNKNOWN, "found a part; expected one with \"parts\" only");
    }
    return ERR_OK;
}

static enum err read_payload(struct reader *r, const char *where, json_node *object,
                             struct event *e)
{
    const struct event_type_row *row = &event_types[e->type];
    const char *known[KNOWN_MAX];
    char room[EVENT_ID_MAX], path[WHERE_MAX + 16];
    json_node *payload = need(r, where, object, "payload");
    if (payload == NULL)
        return r->f->code;
    snprintf(path, sizeof path, "%s.payload", where);
    enum err err =
        only_known(r, path, payload, known, payload_names(row, known, room, sizeof room));
    for (size_t i = 0; err == ERR_OK && i < EVENT_FIELDS_MAX && row->fields[i].name != NULL; i++)
        err = read_field(r, path, payload, &row->fields[i], e);
    return err == ERR_OK ? check_together(r, path, payload, e) : err;
}

/* ---- events -------------------------------------------------------------------------------- */

static enum err read_type(struct reader *r, const char *where, json_node *object,
                          enum event_type *ret)
{
    const char *names[EVENT_TYPE_N + 1] = {NULL};
    int64_t type = 0;
    for (size_t i = 0; i < EVENT_TYPE_N; i++)
        names[i] = event_types[i].name;
    json_node *node = need(r, where, object, "type");
    const enum err e = node != NULL ? read_choice(r, node, names, &type) : r->f->code;
    if (e == ERR_OK)
        *ret = (enum event_type)type;
    return e;
}

static enum err read_station(struct reader *r, const char *where, json_node *object,
                             struct event *e)
{
    const struct event_type_row *row = &event_types[e->type];
    json_node *node = json_get(object, "station");
    if (node == NULL)
        return row->station == EVENT_STATION_MUST && need(r, where, object, "station") == NULL
                   ? r->f->code
                   : ERR_OK;
    at(r, node, "%s.station", where);
    if (row->station == EVENT_STATION_NONE)
        return fault_set(r->f, ERR_UNKNOWN,
                         "\"%s\" is about the whole unit; expected no station here", row->name);
    return read_text(r, node, EVENT_FIELD_ID, &e->station);
}

static enum err read_event(struct reader *r, json_node *object, size_t i, struct event *e)
{
    static const char *const known[] = {"id",   "type",    "at_ms",    "technician",
                                        "shop", "station", "corrects", "payload"};
    char where[WHERE_MAX];
    snprintf(where, sizeof where, "events[%zu]", i);
    enum err err = only_known(r, where, object, known, sizeof known / sizeof *known);
    if (err != ERR_OK)
        return err;
    json_node *node = need(r, where, object, "id");
    err = node != NULL ? read_ulid(r, node, &e->id) : r->f->code;
    if (err == ERR_OK)
        err = read_type(r, where, object, &e->type);
    if (err != ERR_OK)
        return err;
    node = need(r, where, object, "at_ms");
    err = node != NULL ? read_whole(r, node, 0, EVENT_TIME_MAX_MS, &e->at_ms) : r->f->code;
    if (err != ERR_OK)
        return err;
    node = need(r, where, object, "technician");
    err = node != NULL ? read_text(r, node, EVENT_FIELD_ID, &e->technician) : r->f->code;
    if (err != ERR_OK)
        return err;
    node = need(r, where, object, "shop");
    err = node != NULL ? read_text(r, node, EVENT_FIELD_ID, &e->shop) : r->f->code;
    if (err == ERR_OK)
        err = read_station(r, where, object, e);
    if (err != ERR_OK)
        return err;
    node = json_get(object, "corrects");
    at(r, node, "%s.corrects", where);
    e->has_corrects = node != NULL;
    err = node != NULL ? read_ulid(r, node, &e->corrects) : ERR_OK;
    return err == ERR_OK ? read_payload(r, where, object, e) : err;
}

static enum err read_events(struct reader *r, json_node *root)
{
    json_node *list = need(r, "", root, "events");
    if (list == NULL)
        return r->f->code;
    if (json_kind(list) != JSON_ARRAY)
        return wrong_kind(r, list, "a list [...] of events");
    const size_t n = json_size(list);
    if (n == 0 || n > EVENTS_MAX)
        return fault_set(r->f, n == 0 ? ERR_EMPTY : ERR_LIMIT, "found %zu events; expected 1..%d",
                         n, (int)EVENTS_MAX);
    r->list->events = calloc(n, sizeof *r->list->events);
    if (r->list->events == NULL)
        return fault_set(r->f, ERR_MEMORY, "memory ran out while reading events");
    r->list->room = n;
    for (size_t i = 0; i < n; i++) {
        const enum err e = read_event(r, json_at(list, i), i, &r->list->events[i]);
        if (e != ERR_OK)
            return e;
        r->list->n = i + 1;
    }
    return ERR_OK;
}

/* ---- the head ------------------------------------------------------------------------------ */

static enum err read_bulletin(struct reader *r, json_node *root)
{
    static const char *const known[] = {"id", "revision", "sha256"};
    json_node *bulletin = need(r, "", root, "bulletin");
    if (bulletin == NULL)
        return r->f->code;
    enum err e = only_known(r, "bulletin", bulletin, known, sizeof known / sizeof *known);
    if (e != ERR_OK)
        return e;
    json_node *node = need(r, "bulletin", bulletin, "id");
    e = node != NULL ? read_word(r, node, EVENT_FIELD_CODE, r->list->bulletin_id) : r->f->code;
    if (e != ERR_OK)
        return e;
    node = need(r, "bulletin", bulletin, "revision");
    e = node != NULL ? read_whole(r, node, 1, 1000000, &r->list->revision) : r->f->code;
    if (e != ERR_OK)
        return e;
    node = need(r, "bulletin", bulletin, "sha256");
    return node != NULL ? read_word(r, node, EVENT_FIELD_SHA256, r->list->bulletin_sha256)
                        : r->f->code;
}

static enum err read_vin(struct reader *r, json_node *root)
{
    size_t n = 0, i = 0;
    json_node *node = need(r, "", root, "vin");
    if (node == NULL)
        return r->f->code;
    const char *s = json_string(node, &n);
    if (s == NULL)
        return wrong_kind(r, node, "a VIN of 17 characters");
    while (i < n && strchr("ABCDEFGHJKLMNPRSTUVWXYZ0123456789", s[i]) != NULL)
        i++;
    if (n != EVENT_VIN_SIZE || i < n)
        return fault_set(r->f, ERR_SYNTAX,
                         "found \"%.40s\"; expected a VIN: 17 capital letters and digits, "
                         "without I, O and Q",
                         s);
    memcpy(r->list->vin, s, n + 1);
    return ERR_OK;
}

static enum err read_root(struct reader *r, json_node *root)
{
    static const char *const known[] = {"mendwright_events", "invented", "bulletin", "vin",
                                        "events"};
    enum err e = only_known(r, "", root, known, sizeof known / sizeof *known);
    if (e != ERR_OK)
        return e;
    int64_t format = 0;
    json_node *node = need(r, "", root, "mendwright_events");
    e = node != NULL ? read_whole(r, node, EVENT_FORMAT, EVENT_FORMAT, &format) : r->f->code;
    if (e != ERR_OK)
        return e;
    node = json_get(root, "invented");
    at(r, node, "invented");
    if (node != NULL && json_kind(node) != JSON_BOOL)
        return wrong_kind(r, node, "true or false");
    r->list->is_invented = json_bool(node);
    e = read_bulletin(r, root);
    if (e == ERR_OK)
        e = read_vin(r, root);
    return e == ERR_OK ? read_events(r, root) : e;
}

enum err events_read(const char *text, size_t n, const char *name, struct event_list **ret,
                     struct fault *reterr)
{
    struct json_doc *doc = NULL;
    struct fault fault = {0};
    enum err e = json_parse(text, n, name, &doc, &fault);
    struct event_list *list = e == ERR_OK ? events_new() : NULL;
    if (list != NULL) {
        struct reader r = {list, &fault};
        snprintf(fault.file, sizeof fault.file, "%s", name);
        e = read_root(&r, json_root(doc));
    } else if (e == ERR_OK) {
        e = fault_set(&fault, ERR_MEMORY, "memory ran out while reading events");
    }
    json_free(doc);
    if (e == ERR_OK) {
        *ret = list;
        return ERR_OK;
    }
    events_free(list);
    *reterr = fault;
    return e;
}
