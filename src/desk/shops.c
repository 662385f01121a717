/* shops: owns reading the list of shops and finding the row that holds. */
#include "desk/shops.h"

#include "base/suggest.h"
#include "bulletin/values.h"
#include "core/date.h"
#include "proof/keyring.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { SHOPS_MAX = 1000000, KIND_N = BULLETIN_PAYEE_OWNER + 1 };

struct shops {
    struct shops_row *rows; /* by id, then day */
    size_t n;
    char *ids;
};

/* A row and the line it was on, until all are sorted. */
struct line {
    struct shops_row row;
    int line;
};

struct reading {
    struct csv *csv;
    int digits;
    int shop, kind, rate, from; /* columns; -1: there is none */
    struct line *lines;
    size_t n, room;
    char *ids, *next_id;
};

/* ---- columns ------------------------------------------------------------------------------- */

/* A column that may be missing, as long as none is nearly called so. */
static enum err may_have(const struct csv *csv, const char *name, int *ret, struct fault *f)
{
    const char *names[CSV_COLUMNS_MAX];
    *ret = csv_column(csv, name);
    for (size_t i = 0; i < csv_columns(csv); i++)
        names[i] = csv_column_name(csv, i);
    const char *near =
        *ret < 0 ? suggest_nearest(name, strlen(name), names, csv_columns(csv)) : NULL;
    if (near == NULL || strcmp(near, "shop") == 0 || strcmp(near, "kind") == 0)
        return ERR_OK;
    f->line = 1;
    return fault_set(f, ERR_UNKNOWN,
                     "found a column \"%.60s\" and none \"%s\"; if that is not what is meant, add "
                     "a column \"%s\", which may be "
                     "empty",
                     near, name, name);
}

static enum err find_columns(struct reading *r, struct fault *f)
{
    enum err e = csv_need(r->csv, "shop", &r->shop, f);
    if (e == ERR_OK)
        e = csv_need(r->csv, "kind", &r->kind, f);
    if (e == ERR_OK)
        e = may_have(r->csv, "rate", &r->rate, f);
    return e == ERR_OK ? may_have(r->csv, "from", &r->from, f) : e;
}

/* ---- a row --------------------------------------------------------------------------------- */

static enum err read_id(struct reading *r, const char **ret, struct fault *f)
{
    const struct csv_field shop = csv_at(r->csv, (size_t)r->shop);
    if (!keyring_is_shop(shop.at, shop.n))
        return csv_fault(r->csv, (size_t)r->shop, f, ERR_SYNTAX,
                         "found \"%.60s\"; expected a shop's id: letters, digits, '.', '_', '-'",
                         shop.at);
    *ret = r->next_id;
    memcpy(r->next_id, shop.at, shop.n + 1);
    r->next_id += shop.n + 1;
    return ERR_OK;
}

static enum err read_kind(const struct reading *r, enum bulletin_payee *ret, struct fault *f)
{
    const struct csv_field kind = csv_at(r->csv, (size_t)r->kind);
    for (int i = 0; i < KIND_N; i++)
        if (strcmp(kind.at, bulletin_payee_names[i]) == 0) {
            *ret = (enum bulletin_payee)i;
            return ERR_OK;
        }
    return csv_fault(r->csv, (size_t)r->kind, f, ERR_UNKNOWN,
                     "found \"%.60s\"; expected shop, mobile, dealer or owner", kind.at);
}

static enum err read_rate(const struct reading *r, int64_t *ret, struct fault *f)
{
    char why[FAULT_MESSAGE_MAX] = "";
    *ret = BULLETIN_NO_AMOUNT;
    const struct csv_field rate =
        r->rate >= 0 ? csv_at(r->csv, (size_t)r->rate) : (struct csv_field){0};
    if (rate.n == 0)
        return ERR_OK;
    const enum err e = value_money(rate.at, rate.n, "the currency", r->digits, ret, why);
    if (e == ERR_OK)
        return e;
    if (why[0] != '\0')
        return csv_fault(r->csv, (size_t)r->rate, f, e, "%s", why);
    return csv_fault(r->csv, (size_t)r->rate, f, e,
                     "found \"%.60s\"; expected money an hour such as 68.00", rate.at);
}

static enum err read_from(const struct reading *r, int32_t *ret, struct fault *f)
{
    *ret = INT32_MIN;
    const struct csv_field from =
        r->from >= 0 ? csv_at(r->csv, (size_t)r->from) : (struct csv_field){0};
    if (from.n == 0)
        return ERR_OK;
    const enum err e = date_parse(from.at, from.n, ret);
    return e == ERR_OK ? e
                       : csv_fault(r->csv, (size_t)r->from, f, e,
                                   "found \"%.60s\"; expected a day \"YYYY-MM-DD\"", from.at);
}

static enum err make_room(struct reading *r, struct fault *f)
{
    if (r->n == SHOPS_MAX)
        return csv_fault(r->csv, 0, f, ERR_LIMIT, "found more than %d rows", (int)SHOPS_MAX);
    if (r->n < r->room)
        return ERR_OK;
    const size_t room = r->room > 0 ? 2 * r->room : 64;
    struct line *lines = realloc(r->lines, room * sizeof *lines);
    if (lines == NULL)
        return fault_set(f, ERR_MEMORY, "memory ran out while reading shops");
    r->lines = lines;
    r->room = room;
    return ERR_OK;
}

static enum err read_fields(struct reading *r, struct shops_row *row, struct fault *f)
{
    enum err e = read_id(r, &row->id, f);
    if (e == ERR_OK)
        e = read_kind(r, &row->kind, f);
    if (e == ERR_OK)
        e = read_rate(r, &row->rate_minor, f);
    return e == ERR_OK ? read_from(r, &row->from, f) : e;
}

enum err shops_row(struct csv *csv, int shop, int kind, int rate, int from, int digits, char *id,
                   struct shops_row *ret, struct fault *reterr)
{
    struct reading r = {.csv = csv,
                        .digits = digits,
                        .shop = shop,
                        .kind = kind,
                        .rate = rate,
                        .from = from,
                        .next_id = id};
    return read_fields(&r, ret, reterr);
}

static enum err read_row(struct reading *r, struct fault *f)
{
    enum err e = make_room(r, f);
    if (e != ERR_OK)
        return e;
    struct line *line = &r->lines[r->n];
    line->line = csv_line(r->csv);
    e = read_fields(r, &line->row, f);
    r->n += e == ERR_OK;
    return e;
}

/* ---- the list ------------------------------------------------------------------------------ */

static int compare_rows(const struct shops_row *a, const struct shops_row *b)
{
    const int c = strcmp(a->id, b->id);
    return c != 0 ? c : (a->from > b->from) - (a->from < b->from);
}

static int by_row_then_line(const void *a, const void *b)
{
    const struct line *x = a, *y = b;
    const int c = compare_rows(&x->row, &y->row);
    return c != 0 ? c : (x->line > y->line) - (x->line < y->line);
}

static enum err check_twice(const struct reading *r, const char *name, struct fault *f)
{
    for (size_t i = 1; i < r->n; i++) {
        const struct line *line = &r->lines[i];
        char day[DATE_SHOW_SIZE] = "";
        if (compare_rows(&r->lines[i - 1].row, &line->row) != 0)
            continue;
        if (line->row.from != INT32_MIN)
            date_show(line->row.from, day);
        *f = (struct fault){.line = line->line};
        snprintf(f->file, sizeof f->file, "%s", name);
        return fault_set(f, ERR_DUPLICATE, "found %s %s%s again, which line %d says already",
                         line->row.id, day[0] != '\0' ? "from " : "without a day", day,
                         r->lines[i - 1].line);
    }
    return ERR_OK;
}

static enum err make_list(struct reading *r, const char *name, struct shops **ret, struct fault *f)
{
    if (r->n > 0)
        qsort(r->lines, r->n, sizeof *r->lines, by_row_then_line);
    const enum err e = check_twice(r, name, f);
    if (e != ERR_OK)
        return e;
    struct shops *shops = calloc(1, sizeof *shops);
    struct shops_row *rows = calloc(r->n + 1, sizeof *rows);
    if (shops == NULL || rows == NULL) {
        free(shops);
        free(rows);
        return fault_set(f, ERR_MEMORY, "memory ran out while reading shops");
    }
    for (size_t i = 0; i < r->n; i++)
        rows[i] = r->lines[i].row;
    *shops = (struct shops){rows, r->n, r->ids};
    r->ids = NULL; /* the list's now */
    *ret = shops;
    return ERR_OK;
}

/* n: bytes of the whole file. */
static enum err read_rows(struct reading *r, size_t n, struct fault *f)
{
    bool is_row = true;
    enum err e = ERR_OK;
    /* Every id and its NUL are no longer than the field and what parts it from the next, but for the last. */
    r->ids = r->next_id = malloc(n + 1);
    if (r->ids == NULL) {
        (void)fault_set(f, ERR_MEMORY, "memory ran out while reading shops");
        return ERR_MEMORY;
    }
    while (e == ERR_OK && is_row) {
        e = csv_next(r->csv, &is_row, f);
        if (e == ERR_OK && is_row)
            e = read_row(r, f);
    }
    return e;
}

enum err shops_read(const char *text, size_t n, const char *name, int digits, struct shops **ret,
                    struct fault *reterr)
{
    struct fault f = {0};
    struct reading r = {.digits = digits};
    snprintf(f.file, sizeof f.file, "%s", name);
    enum err e = csv_open(text, n, name, &r.csv, &f);
    if (e == ERR_OK)
        e = find_columns(&r, &f);
    if (e == ERR_OK)
        e = read_rows(&r, n, &f);
    if (e == ERR_OK)
        e = make_list(&r, name, ret, &f);
    csv_close(r.csv);
    free(r.lines);
    free(r.ids);
    if (e != ERR_OK)
        *reterr = f;
    return e;
}

enum err shops_read_any(const char *text, size_t n, const char *name, struct shops **ret,
                        int *ret_digits, struct fault *reterr)
{
    static const int digits[] = {2, 0, 3};
    enum err first = ERR_OK;
    for (size_t i = 0; i < sizeof digits / sizeof *digits; i++) {
        struct fault f = {0};
        const enum err e = shops_read(text, n, name, digits[i], ret, &f);
        if (e == ERR_OK) {
            *ret_digits = digits[i];
            return ERR_OK;
        }
        if (i == 0) {
            first = e;
            *reterr = f;
        }
    }
    return first;
}

void shops_free(struct shops *shops)
{
    if (shops == NULL)
        return;
    free(shops->rows);
    free(shops->ids);
    free(shops);
}

size_t shops_n(const struct shops *shops)
{
    return shops->n;
}

const struct shops_row *shops_at(const struct shops *shops, size_t i)
{
    return &shops->rows[i];
}

const struct shops_row *shops_find(const struct shops *shops, const char *id, int32_t day)
{
    const struct shops_row wanted = {.id = id, .from = day};
    size_t low = 0, high = shops->n;
    while (low < high) { /* rows[0..low) are not after it, rows[high..) are */
        const size_t middle = low + (high - low) / 2;
        if (compare_rows(&shops->rows[middle], &wanted) <= 0)
            low = middle + 1;
        else
            high = middle;
    }
    return low > 0 && strcmp(shops->rows[low - 1].id, id) == 0 ? &shops->rows[low - 1] : NULL;
}
