/* study_table: owns how fields become numbers, amounts, days, numbered texts, and the growing columns they lie in. Columns grow
 * together, by halves again, so that a row is either there in all of them or in none. */
#include "desk/study_table.h"

#include "base/csv.h"
#include "base/fnv.h"
#include "base/number.h"
#include "core/date.h"

#include <assert.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { ROOM_FIRST = 256, WATCH_EVERY = 4096 };

/* Texts of a column, each once, found by an open hash table of twice their number. */
struct texts {
    struct text bytes; /* one after the other, each with its NUL */
    size_t *at;        /* where text k begins */
    size_t n, room;
    uint32_t *slots; /* number of a text + 1; 0: free */
    size_t n_slots;  /* a power of two, or 0 */
};

struct column {
    struct study_want want;
    char *name;   /* a copy */
    int from;     /* its place in the file */
    void *data;   /* double, int64_t, int32_t, uint32_t or uint8_t */
    double *rest; /* beside numbers that keep theirs, else NULL */
    struct texts texts;
};

struct study_table {
    char file[FAULT_FILE_MAX];
    size_t n_columns, n_rows, room;
    struct column columns[STUDY_WANTS_MAX];
    int *lines; /* of each row */
};

static size_t size_of(enum study_type type)
{
    static const size_t sizes[] = {sizeof(double), sizeof(int64_t), sizeof(int32_t),
                                   sizeof(uint32_t), sizeof(uint8_t)};
    return sizes[type];
}

/* ---- texts --------------------------------------------------------------------------------- */

static uint64_t hash(const char *s, size_t n)
{
    const uint64_t h = fnv_more(FNV_START, s, n);
    return h ^ h >> 32;
}

static const char *text_at(const struct texts *t, size_t k)
{
    return t->bytes.data + t->at[k];
}

/* The slot of s, or the free one where it would go. */
static size_t find_slot(const struct texts *t, const char *s, size_t n)
{
    size_t i = hash(s, n) & (t->n_slots - 1);
    while (t->slots[i] != 0 && (strncmp(text_at(t, t->slots[i] - 1), s, n) != 0 ||
                                text_at(t, t->slots[i] - 1)[n] != '\0'))
        i = (i + 1) & (t->n_slots - 1);
    return i;
}

static bool grow_texts(struct texts *t)
{
    const size_t room = t->room > 0 ? 2 * t->room : ROOM_FIRST;
    size_t *at = realloc(t->at, room * sizeof *at);
    if (at == NULL)
        return false;
    t->at = at;
    uint32_t *slots = calloc(2 * room, sizeof *slots);
    if (slots == NULL)
        return false;
    free(t->slots);
    t->slots = slots;
    t->n_slots = 2 * room;
    t->room = room;
    for (size_t k = 0; k < t->n; k++)
        t->slots[find_slot(t, text_at(t, k), strlen(text_at(t, k)))] = (uint32_t)k + 1;
    return true;
}

/* The number of s, a new one when it was not there; UINT32_MAX when memory ran out. */
static uint32_t number_text(struct texts *t, const char *s, size_t n)
{
    if (t->n == t->room && !grow_texts(t))
        return UINT32_MAX;
    const size_t slot = find_slot(t, s, n);
    if (t->slots[slot] != 0)
        return t->slots[slot] - 1;
    t->at[t->n] = t->bytes.size;
    text_add(&t->bytes, s, n);
    text_putc(&t->bytes, '\0');
    if (t->bytes.is_broken)
        return UINT32_MAX;
    t->slots[slot] = (uint32_t)++t->n;
    return (uint32_t)t->n - 1;
}

static void free_texts(struct texts *t)
{
    text_done(&t->bytes);
    free(t->at);
    free(t->slots);
}

/* ---- a field ------------------------------------------------------------------------------- */

struct reading {
    struct csv *csv;
    struct study_table *t;
};

static enum err field_number(const struct reading *r, struct column *c, struct csv_field field,
                             struct fault *f)
{
    const size_t at = (size_t)c->from;
    const struct study_want *w = &c->want;
    double value = 0, rest = 0;
    if (!number_read(field.at, field.n, &value, c->rest != NULL ? &rest : NULL)) {
        const bool is_comma = memchr(field.at, ',', field.n) != NULL;
        return csv_fault(r->csv, at, f, ERR_SYNTAX, "found \"%.60s\"; expected a number%s",
                         field.at, is_comma ? " with a decimal point, not a comma" : "");
    }
    if (value < w->low)
        return csv_fault(r->csv, at, f, ERR_DOMAIN, "found %.60s; expected %g or more", field.at,
                         w->low);
    if (value > w->high)
        return csv_fault(r->csv, at, f, ERR_DOMAIN, "found %.60s; expected %g or less", field.at,
                         w->high);
    if (w->is_whole && value != floor(value))
        return csv_fault(r->csv, at, f, ERR_DOMAIN, "found %.60s; expected a whole number",
                         field.at);
    ((double *)c->data)[r->t->n_rows] = value;
    if (c->rest != NULL)
        c->rest[r->t->n_rows] = rest;
    return ERR_OK;
}

static enum err field_amount(const struct reading *r, struct column *c, struct csv_field field,
                             struct fault *f)
{
    const size_t at = (size_t)c->from;
    struct quantity q;
    size_t bad = 0;
    enum err e = quantity_parse(field.at, field.n, c->want.unit, &q, &bad);
    if (e == ERR_OK && q.dim != quantity_unit_dim(c->want.unit))
        e = ERR_UNIT;
    if (e != ERR_OK)
        return csv_fault(r->csv, at, f, e,
                         "found \"%.60s\"; %s; expected an amount such as 12.5 %s", field.at,
                         err_text(e), quantity_unit_name(c->want.unit));
    const double shown = quantity_to_double(q.nano, c->want.unit);
    if (shown < c->want.low || shown > c->want.high)
        return csv_fault(r->csv, at, f, ERR_DOMAIN, "found %.60s; expected %s%g %s", field.at,
                         shown < c->want.low ? "at least " : "at most ",
                         shown < c->want.low ? c->want.low : c->want.high,
                         quantity_unit_name(c->want.unit));
    ((int64_t *)c->data)[r->t->n_rows] = q.nano;
    return ERR_OK;
}

static enum err field_day(const struct reading *r, struct column *c, struct csv_field field,
                          struct fault *f)
{
    int32_t day = 0;
    const enum err e = date_parse(field.at, field.n, &day);
    if (e != ERR_OK)
        return csv_fault(r->csv, (size_t)c->from, f, e,
                         "found \"%.60s\"; expected a day \"YYYY-MM-DD\"", field.at);
    ((int32_t *)c->data)[r->t->n_rows] = day;
    return ERR_OK;
}

static enum err field_text(const struct reading *r, struct column *c, struct csv_field field,
                           struct fault *f)
{
    if (field.n > STUDY_TEXT_MAX)
        return csv_fault(r->csv, (size_t)c->from, f, ERR_LIMIT,
                         "found a text of %zu bytes; expected at most %d", field.n,
                         (int)STUDY_TEXT_MAX);
    const uint32_t k = number_text(&c->texts, field.at, field.n);
    if (k == UINT32_MAX)
        return fault_no_memory(f);
    ((uint32_t *)c->data)[r->t->n_rows] = k;
    return ERR_OK;
}

static enum err field_yes(const struct reading *r, struct column *c, struct csv_field field,
                          struct fault *f)
{
    if (field.n != 1 || (field.at[0] != '0' && field.at[0] != '1'))
        return csv_fault(r->csv, (size_t)c->from, f, ERR_SYNTAX, "found \"%.60s\"; expected 0 or 1",
                         field.at);
    ((uint8_t *)c->data)[r->t->n_rows] = field.at[0] == '1';
    return ERR_OK;
}

static void put_empty(struct column *c, size_t row)
{
    switch (c->want.type) {
    case STUDY_NUMBER:
        ((double *)c->data)[row] = (double)NAN;
        if (c->rest != NULL)
            c->rest[row] = 0;
        break;
    case STUDY_AMOUNT:
        ((int64_t *)c->data)[row] = STUDY_NO_AMOUNT;
        break;
    case STUDY_DAY:
        ((int32_t *)c->data)[row] = STUDY_NO_DAY;
        break;
    case STUDY_TEXT:
        ((uint32_t *)c->data)[row] = STUDY_NO_TEXT;
        break;
    case STUDY_YES:
        ((uint8_t *)c->data)[row] = STUDY_NO_YES;
        break;
    }
}

static enum err read_field(const struct reading *r, struct column *c, struct fault *f)
{
    typedef enum err read(const struct reading *r, struct column *c, struct csv_field field,
                          struct fault *f);
    static read *const reads[] = {field_number, field_amount, field_day, field_text, field_yes};
    const struct csv_field field = csv_at(r->csv, (size_t)c->from);
    if (field.n > 0)
        return reads[c->want.type](r, c, field, f);
    if (!c->want.may_be_empty)
        return csv_fault(r->csv, (size_t)c->from, f, ERR_EMPTY,
                         "found an empty field; expected a value in every row");
    put_empty(c, r->t->n_rows);
    return ERR_OK;
}

/* ---- rows ---------------------------------------------------------------------------------- */

static bool keeps_rest(const struct column *c)
{
    return c->want.column != NULL && c->want.type == STUDY_NUMBER && c->want.keeps_rest;
}

static enum err make_room(const struct reading *r, struct fault *f)
{
    struct study_table *t = r->t;
    if (t->n_rows == STUDY_ROWS_MAX)
        return csv_fault(r->csv, 0, f, ERR_LIMIT, "found more than %d rows", (int)STUDY_ROWS_MAX);
    if (t->n_rows < t->room)
        return ERR_OK;
    const size_t room = t->room > 0 ? t->room + t->room / 2 : ROOM_FIRST;
    int *lines = realloc(t->lines, room * sizeof *lines);
    if (lines == NULL)
        return fault_no_memory(f);
    t->lines = lines;
    for (size_t i = 0; i < t->n_columns; i++) {
        struct column *c = &t->columns[i];
        void *data = c->want.column == NULL ? NULL : realloc(c->data, room * size_of(c->want.type));
        if (data == NULL && c->want.column != NULL)
            return fault_no_memory(f);
        c->data = data;
        if (!keeps_rest(c))
            continue;
        double *rest = realloc(c->rest, room * sizeof *rest);
        if (rest == NULL)
            return fault_no_memory(f);
        c->rest = rest;
    }
    t->room = room;
    return ERR_OK;
}

static enum err read_row(const struct reading *r, struct fault *f)
{
    struct study_table *t = r->t;
    enum err e = make_room(r, f);
    for (size_t i = 0; e == ERR_OK && i < t->n_columns; i++)
        if (t->columns[i].want.column != NULL)
            e = read_field(r, &t->columns[i], f);
    if (e == ERR_OK)
        t->lines[t->n_rows++] = csv_line(r->csv);
    return e;
}

static enum err read_rows(const struct reading *r, const struct study_watch *watch, struct fault *f)
{
    for (;;) {
        bool is_row = false;
        enum err e = csv_next(r->csv, &is_row, f);
        if (e != ERR_OK || !is_row)
            return e;
        e = read_row(r, f);
        if (e != ERR_OK)
            return e;
        if (r->t->n_rows % WATCH_EVERY == 0 && !study_go_on(watch, "reading", r->t->n_rows, 0))
            return fault_set(f, ERR_BUSY, "stopped after %zu rows, before all were read",
                             r->t->n_rows);
    }
}

static enum err find_columns(const struct reading *r, const struct study_want *wants, size_t n,
                             struct fault *f)
{
    r->t->n_columns = n;
    for (size_t i = 0; i < n; i++) {
        struct column *c = &r->t->columns[i];
        c->want = wants[i];
        if (wants[i].column == NULL)
            continue;
        const enum err e = csv_need(r->csv, wants[i].column, &c->from, f);
        if (e != ERR_OK)
            return e;
        c->name = strdup(wants[i].column);
        if (c->name == NULL)
            return fault_no_memory(f);
        c->want.column = c->name;
    }
    return ERR_OK;
}

static enum err read_all(struct csv *csv, const char *name, const struct study_want *wants,
                         size_t n_wants, const struct study_watch *watch, struct study_table **ret,
                         struct fault *f)
{
    assert(n_wants <= STUDY_WANTS_MAX);
    struct study_table *t = calloc(1, sizeof *t);
    const struct reading r = {csv, t};
    if (t == NULL)
        return fault_no_memory(f);
    (void)snprintf(t->file, sizeof t->file, "%s", name);
    (void)snprintf(f->file, sizeof f->file, "%s", name);
    enum err e = find_columns(&r, wants, n_wants, f);
    if (e == ERR_OK)
        e = make_room(&r, f); /* so that a column of no rows is there, too */
    if (e == ERR_OK)
        e = read_rows(&r, watch, f);
    if (e != ERR_OK) {
        study_table_free(t);
        return e;
    }
    *ret = t;
    return ERR_OK;
}

enum err study_table_read(const char *path, const struct study_want *wants, size_t n_wants,
                          const struct study_watch *watch, struct study_table **ret,
                          struct fault *reterr)
{
    struct csv *csv = NULL;
    enum err e = csv_open_file(path, &csv, reterr);
    if (e == ERR_OK)
        e = read_all(csv, path, wants, n_wants, watch, ret, reterr);
    csv_close(csv);
    return e;
}

enum err study_table_parse(const char *text, size_t n, const char *name,
                           const struct study_want *wants, size_t n_wants, struct study_table **ret,
                           struct fault *reterr)
{
    struct csv *csv = NULL;
    enum err e = csv_open(text, n, name, &csv, reterr);
    if (e == ERR_OK)
        e = read_all(csv, name, wants, n_wants, NULL, ret, reterr);
    csv_close(csv);
    return e;
}

void study_table_free(struct study_table *t)
{
    if (t == NULL)
        return;
    for (size_t i = 0; i < t->n_columns; i++) {
        free(t->columns[i].name);
        free(t->columns[i].data);
        free(t->columns[i].rest);
        free_texts(&t->columns[i].texts);
    }
    free(t->lines);
    free(t);
}

/* ---- columns ------------------------------------------------------------------------------- */

static const void *data_of(const struct study_table *t, size_t i, enum study_type type)
{
    assert(i < t->n_columns && t->columns[i].want.type == type);
    (void)type;
    return t->columns[i].data;
}

size_t study_rows(const struct study_table *t)
{
    return t->n_rows;
}

const double *study_numbers(const struct study_table *t, size_t i)
{
    return data_of(t, i, STUDY_NUMBER);
}

void study_shifted(const struct study_table *t, size_t i, double origin, double *ret)
{
    const double *x = study_numbers(t, i), *rest = t->columns[i].rest;
    assert(rest != NULL);
    for (size_t k = 0; k < t->n_rows; k++)
        ret[k] = (x[k] - origin) + rest[k];
}

const int64_t *study_amounts(const struct study_table *t, size_t i)
{
    return data_of(t, i, STUDY_AMOUNT);
}

const int32_t *study_days(const struct study_table *t, size_t i)
{
    return data_of(t, i, STUDY_DAY);
}

const uint32_t *study_texts(const struct study_table *t, size_t i)
{
    return data_of(t, i, STUDY_TEXT);
}

const uint8_t *study_yes(const struct study_table *t, size_t i)
{
    return data_of(t, i, STUDY_YES);
}

size_t study_n_texts(const struct study_table *t, size_t i)
{
    assert(i < t->n_columns);
    return t->columns[i].texts.n;
}

const char *study_text(const struct study_table *t, size_t i, uint32_t text)
{
    assert(i < t->n_columns && text < t->columns[i].texts.n);
    return text_at(&t->columns[i].texts, text);
}

/* ---- faults -------------------------------------------------------------------------------- */

int study_line(const struct study_table *t, size_t row)
{
    assert(row < t->n_rows);
    return t->lines[row];
}

static enum err say(const struct study_table *t, struct fault *f, enum err code, const char *fmt,
                    va_list ap)
{
    char message[FAULT_MESSAGE_MAX];
    (void)vsnprintf(message, sizeof message, fmt, ap);
    (void)snprintf(f->file, sizeof f->file, "%s", t->file);
    f->column = 0;
    return fault_set(f, code, "%s", message);
}

enum err study_row_fault(const struct study_table *t, size_t row, size_t i, struct fault *f,
                         enum err code, const char *fmt, ...)
{
    va_list ap;
    assert(i < t->n_columns);
    f->line = study_line(t, row);
    const char *name = t->columns[i].name;
    (void)snprintf(f->path, sizeof f->path, "%s", name != NULL ? name : "");
    va_start(ap, fmt);
    const enum err e = say(t, f, code, fmt, ap);
    va_end(ap);
    return e;
}

enum err study_table_fault(const struct study_table *t, struct fault *f, enum err code,
                           const char *fmt, ...)
{
    va_list ap;
    f->line = 0;
    f->path[0] = '\0';
    va_start(ap, fmt);
    const enum err e = say(t, f, code, fmt, ap);
    va_end(ap);
    return e;
}
