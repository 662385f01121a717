/* bring_rows: owns what a row of each kind of list means beside what is in the store: new, changed, the same, told twice, gone. */
#include "desk/bring_inner.h"

#include "core/date.h"
#include "desk/builds.h"
#include "desk/failures.h"
#include "desk/shops.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- the build list ------------------------------------------------------------------------ */

enum err bring_builds_begin(struct bring *b, struct fault *reterr)
{
    struct store_counts counts = {0};
    enum err err = store_hold(b->store, reterr);
    if (err != ERR_OK)
        return err;
    b->is_held = true;
    err = store_count(b->store, &counts, reterr);
    b->has_builds = counts.builds > 0;
    return err;
}

struct lookup {
    const struct builds_row *row;
    enum bring_state state;
};

static bool see_build(void *me, const struct store_build *s)
{
    struct lookup *l = me;
    if (strcmp(s->station, l->row->station) != 0)
        return true;
    l->state =
        strcmp(s->label != NULL ? s->label : "", l->row->label) == 0 ? BRING_SAME : BRING_CHANGED;
    return false;
}

static uint64_t digits36(const char *s, size_t n)
{
    uint64_t ret = 0;
    for (size_t i = 0; i < n; i++)
        ret = ret * 36 + (uint64_t)(s[i] <= '9' ? s[i] - '0' : s[i] - 'A' + 10);
    return ret;
}

static int station_of(struct bring *b, const char *station)
{
    int i = 0;
    while (i < b->n_stations && strcmp(b->stations[i], station) != 0)
        i++;
    if (i == BRING_STATIONS_MAX)
        return -1;
    if (i == b->n_stations)
        snprintf(b->stations[b->n_stations++], sizeof b->stations[0], "%s", station);
    return i;
}

static bool grow(void **at, size_t n, size_t *room, size_t size)
{
    if (n < *room)
        return true;
    const size_t more = *room > 0 ? 2 * *room : 256;
    void *p = realloc(*at, more * size);
    if (p == NULL)
        return false;
    *at = p;
    *room = more;
    return true;
}

enum err bring_build_row(struct bring *b, struct fault *reterr)
{
    struct builds_row row;
    struct lookup l = {&row, BRING_NEW};
    enum err err = builds_row(b->csv, b->columns[0], b->columns[1], b->columns[2], &row, reterr);
    if (err != ERR_OK)
        return err;
    const int station = station_of(b, row.station);
    if (station < 0) {
        b->is_over = true;
        return fault_set(reterr, ERR_LIMIT, "found more than %d different stations",
                         (int)BRING_STATIONS_MAX);
    }
    if (row.is_bad_check && b->n_bad_checks++ == 0) {
        b->bad_line = b->line;
        memcpy(b->bad_vin, row.vin, sizeof row.vin);
    }
    if (b->has_builds)
        err = store_builds(b->store, row.vin, see_build, &l, reterr);
    if (err == ERR_OK && !grow((void **)&b->seen, b->n_seen, &b->seen_room, sizeof *b->seen))
        err = fault_no_memory(reterr);
    if (err != ERR_OK) {
        b->is_over = true;
        return err;
    }
    /* 36^12 < 2^63, and 36^5 * 256 < 2^34: VIN and station, exact. */
    b->seen[b->n_seen++] = (struct bring_seen){
        digits36(row.vin, 12), digits36(row.vin + 12, 5) * BRING_STATIONS_MAX + (uint64_t)station,
        (uint32_t)b->n_rows, (uint8_t)l.state};
    return ERR_OK;
}

static int by_seen(const void *a, const void *b)
{
    const struct bring_seen *x = a, *y = b;
    if (x->high != y->high)
        return x->high < y->high ? -1 : 1;
    if (x->low != y->low)
        return x->low < y->low ? -1 : 1;
    return (x->row > y->row) - (x->row < y->row);
}

void bring_builds_end(struct bring *b)
{
    if (b->is_held)
        store_release(b->store);
    b->is_held = false;
    if (b->n_seen > 1)
        qsort(b->seen, b->n_seen, sizeof *b->seen, by_seen);
    for (size_t i = 0; i < b->n_seen; i++) {
        const struct bring_seen *s = &b->seen[i];
        if (i + 1 < b->n_seen && s[1].high == s->high && s[1].low == s->low)
            b->n_repeated++;
        else if (s->state == BRING_NEW)
            b->n_new++;
        else if (s->state == BRING_CHANGED)
            b->n_changed++;
        else
            b->n_same++;
    }
}

enum { ID_ROOM = 65 }; /* keyring_is_shop */

/* ---- failures and shops -------------------------------------------------------------------- */

static void show_day(int32_t day, bool is_known, char ret[DATE_SHOW_SIZE])
{
    ret[0] = '\0';
    if (is_known)
        date_show(day, ret);
}

static enum err read_failure(struct csv *csv, const int at[BRING_FIELDS_MAX],
                             struct bring_item *ret, struct fault *f)
{
    struct failure row;
    char failed[DATE_SHOW_SIZE], reported[DATE_SHOW_SIZE];
    const enum err err = failures_row(csv, at[0], at[1], at[2], at[3], &row, f);
    if (err != ERR_OK)
        return err;
    show_day(row.failed, true, failed);
    show_day(row.reported, row.reported != FAILURES_NO_DAY, reported);
    snprintf(ret->key, sizeof ret->key, "%s, station %s, failed %s", row.vin, row.station, failed);
    snprintf(ret->value, sizeof ret->value, "%s", reported);
    return ERR_OK;
}

/* Which currency rates are in the list does not say: each alone must be right for one of 2, 0 and 3 decimals, and paper_keep then wants
 * all of them right for the same. */
static enum err read_shop(struct csv *csv, const int at[BRING_FIELDS_MAX], struct bring_item *ret,
                          struct fault *f)
{
    static const int digits[] = {2, 0, 3};
    struct shops_row row = {0};
    char id[ID_ROOM], from[DATE_SHOW_SIZE];
    enum err err = ERR_OK;
    for (size_t i = 0; i < 3; i++) {
        struct fault here = {0};
        err = shops_row(csv, at[0], at[1], at[2], at[3], digits[i], id, &row, &here);
        if (err == ERR_OK)
            break;
        if (i == 0)
            *f = here;
    }
    if (err != ERR_OK)
        return f->code;
    const struct csv_field rate =
        at[2] >= 0 ? csv_at(csv, (size_t)at[2]) : (struct csv_field){"", 0, 0};
    show_day(row.from, row.from != INT32_MIN, from);
    snprintf(ret->key, sizeof ret->key, "%s%s%s", row.id, from[0] != '\0' ? " from " : "", from);
    snprintf(ret->value, sizeof ret->value, "%s %s", bulletin_payee_names[row.kind], rate.at);
    return ERR_OK;
}

static enum err read_item(enum bring_kind kind, struct csv *csv, const int at[BRING_FIELDS_MAX],
                          struct bring_item *ret, struct fault *f)
{
    memset(ret, 0, sizeof *ret);
    return kind == BRING_FAILURES ? read_failure(csv, at, ret, f) : read_shop(csv, at, ret, f);
}

static enum err add_item(struct bring_items *list, const struct bring_item *item, struct fault *f)
{
    if (!grow((void **)&list->at, list->n, &list->room, sizeof *list->at))
        return fault_no_memory(f);
    list->at[list->n++] = *item;
    return ERR_OK;
}

enum err bring_item_row(struct bring *b, struct fault *reterr)
{
    struct bring_item item;
    const enum err err = read_item(b->order->kind, b->csv, b->columns, &item, reterr);
    if (err != ERR_OK)
        return err;
    item.line = b->line;
    item.at = b->at;
    item.n = b->n;
    return add_item(&b->items, &item, reterr);
}

static int by_key(const void *a, const void *b)
{
    const struct bring_item *x = a, *y = b;
    const int c = strcmp(x->key, y->key);
    return c != 0 ? c : (x->line > y->line) - (x->line < y->line);
}

static void sort(struct bring_items *list)
{
    if (list->n > 1)
        qsort(list->at, list->n, sizeof *list->at, by_key);
}

/* What is in the store now: the paper that holds, by its own columns. One that this program would not keep any more is like none. */
struct held {
    enum bring_kind kind;
    struct bring_items list;
    enum err err;
};

static bool see_paper(void *me, const struct store_paper *p)
{
    struct held *h = me;
    struct fault f = {0};
    struct csv *csv = NULL;
    int at[BRING_FIELDS_MAX] = {-1, -1, -1, -1};
    bool is_row = true;
    const struct bring_field *fields = bring_fields(h->kind);
    if (csv_open(p->text, p->n, p->name, &csv, &f) != ERR_OK)
        return false;
    for (int i = 0; fields[i].name != NULL; i++) {
        at[i] = csv_column(csv, fields[i].name);
        is_row = is_row && (at[i] >= 0 || !fields[i].is_needed);
    }
    while (is_row && h->err == ERR_OK && csv_next(csv, &is_row, &f) == ERR_OK && is_row) {
        struct bring_item item;
        if (read_item(h->kind, csv, at, &item, &f) == ERR_OK)
            h->err = add_item(&h->list, &item, &f);
    }
    csv_close(csv);
    return false;
}

static void compare(struct bring *b, const struct bring_items *held)
{
    size_t i = 0, k = 0;
    while (i < b->items.n || k < held->n) {
        const int c = i == b->items.n ? 1
                      : k == held->n  ? -1
                                      : strcmp(b->items.at[i].key, held->at[k].key);
        if (c < 0)
            b->n_new++;
        else if (c > 0)
            b->n_gone++;
        else if (strcmp(b->items.at[i].value, held->at[k].value) == 0)
            b->n_same++;
        else
            b->n_changed++;
        i += c <= 0;
        k += c >= 0;
    }
}

/* The later of two that are about the same is faulty. */
static bool find_twice(struct bring *b)
{
    size_t n = 0;
    for (size_t i = 0; i < b->items.n; i++) {
        const struct bring_item *item = &b->items.at[i];
        if (n > 0 && strcmp(b->items.at[n - 1].key, item->key) == 0) {
            struct fault f = {.line = item->line};
            (void)fault_set(&f, ERR_DUPLICATE, "found %s again, which line %d says already",
                            item->key, b->items.at[n - 1].line);
            b->at = item->at;
            b->n = item->n;
            b->line = item->line;
            if (!bring_add_fault(b, &f))
                return false;
            continue;
        }
        b->items.at[n++] = *item;
    }
    b->items.n = n;
    return true;
}

enum err bring_items_end(struct bring *b, struct fault *reterr)
{
    struct held held = {.kind = b->order->kind};
    sort(&b->items);
    if (!find_twice(b))
        return fault_no_memory(reterr);
    const char *name = bring_kind_names[b->order->kind];
    enum err err = store_papers(b->store, name, name, true, see_paper, &held, reterr);
    if (err == ERR_OK && held.err != ERR_OK)
        err = fault_set(reterr, held.err, "memory ran out");
    sort(&held.list);
    if (err == ERR_OK)
        compare(b, &held.list);
    free(held.list.at);
    return err;
}
