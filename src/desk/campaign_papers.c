/* campaign_papers: owns the reading of reserve and stock, and which of those kept holds for a bulletin. */
#include "desk/campaign_papers.h"

#include "base/csv.h"
#include "bulletin/values.h"
#include "desk/campaign_board.h"

#include <stdio.h>
#include <string.h>

enum { COUNT_MAX = 1000000000 };

/* ---- reserve ------------------------------------------------------------------------------- */

enum { RESERVE_BULLETIN, RESERVE_AMOUNT, RESERVE_CURRENCY, RESERVE_PERSON, RESERVE_COLUMNS };
static const char *const reserve_columns[] = {"bulletin", "amount", "currency", "person"};

static enum err copy_field(const struct csv *csv, int i, char *to, size_t room, struct fault *f)
{
    const struct csv_field field = csv_at(csv, (size_t)i);
    if (field.n == 0)
        return csv_fault(csv, (size_t)i, f, ERR_EMPTY, "is empty");
    if (field.n >= room)
        return csv_fault(csv, (size_t)i, f, ERR_LIMIT, "is %zu bytes long; expected at most %zu",
                         field.n, room - 1);
    for (size_t k = 0; k < field.n; k++)
        if ((unsigned char)field.at[k] < ' ')
            return csv_fault(csv, (size_t)i, f, ERR_ENCODING, "holds a control character");
    memcpy(to, field.at, field.n + 1);
    return ERR_OK;
}

static enum err read_money(const struct csv *csv, int i, const struct reserve_told *told,
                           int digits, int64_t *ret_minor, struct fault *f)
{
    static const int usual[] = {2, 0, 3, 4};
    char why[FAULT_MESSAGE_MAX] = "";
    enum err err = ERR_SYNTAX;
    for (size_t k = 0; k < sizeof usual / sizeof *usual && err != ERR_OK; k++)
        if (digits < 0 || usual[k] == digits)
            err = value_money(told->amount, strlen(told->amount), told->currency, usual[k],
                              ret_minor, why);
    if (err == ERR_OK)
        return err;
    return csv_fault(csv, (size_t)i, f, err, "%s",
                     why[0] != '\0' ? why : "expected money such as 120000.00");
}

static enum err read_reserve_row(const struct csv *csv, const int at[RESERVE_COLUMNS], int digits,
                                 struct reserve_told *told, int64_t *ret_minor, struct fault *f)
{
    enum err err = copy_field(csv, at[RESERVE_BULLETIN], told->bulletin, sizeof told->bulletin, f);
    if (err == ERR_OK)
        err = copy_field(csv, at[RESERVE_CURRENCY], told->currency, sizeof told->currency, f);
    if (err == ERR_OK && strspn(told->currency, "ABCDEFGHIJKLMNOPQRSTUVWXYZ") != 3)
        err =
            csv_fault(csv, (size_t)at[RESERVE_CURRENCY], f, ERR_SYNTAX,
                      "found \"%s\"; expected a code of three letters such as EUR", told->currency);
    if (err == ERR_OK)
        err = copy_field(csv, at[RESERVE_PERSON], told->person, sizeof told->person, f);
    if (err == ERR_OK)
        err = copy_field(csv, at[RESERVE_AMOUNT], told->amount, sizeof told->amount, f);
    return err == ERR_OK ? read_money(csv, at[RESERVE_AMOUNT], told, digits, ret_minor, f) : err;
}

enum err reserve_read(const char *text, size_t n, const char *name, int digits,
                      struct reserve_told *ret, int64_t *ret_minor, struct fault *reterr)
{
    struct csv *csv = NULL;
    int at[RESERVE_COLUMNS];
    bool is_row = false;
    enum err err = csv_open(text, n, name, &csv, reterr);
    for (int i = 0; err == ERR_OK && i < RESERVE_COLUMNS; i++)
        err = csv_need(csv, reserve_columns[i], &at[i], reterr);
    if (err == ERR_OK)
        err = csv_next(csv, &is_row, reterr);
    if (err == ERR_OK && !is_row)
        err = fault_set(reterr, ERR_EMPTY,
                        "there is no row in it; expected one below the first line");
    if (err == ERR_OK)
        err = read_reserve_row(csv, at, digits, ret, ret_minor, reterr);
    if (err == ERR_OK)
        err = csv_next(csv, &is_row, reterr);
    if (err == ERR_OK && is_row)
        err = csv_fault(csv, 0, reterr, ERR_DUPLICATE,
                        "found a second row; expected one reserve a file");
    csv_close(csv);
    return err;
}

/* ---- stock --------------------------------------------------------------------------------- */

enum { STOCK_KIT, STOCK_ON_HAND, STOCK_ORDERED, STOCK_LEAD_DAYS, STOCK_TELLS };
static const char *const stock_columns[] = {"kit", "on_hand", "ordered", "lead_days"};

static enum err read_count(const struct csv *csv, int i, int64_t *ret, struct fault *f)
{
    const struct csv_field field = csv_at(csv, (size_t)i);
    *ret = 0;
    if (field.n == 0 || field.n > 10 || strspn(field.at, "0123456789") != field.n)
        return csv_fault(csv, (size_t)i, f, ERR_SYNTAX,
                         "found \"%.60s\"; expected a whole number from 0", field.at);
    for (size_t k = 0; k < field.n; k++)
        *ret = *ret * 10 + (field.at[k] - '0');
    if (*ret > COUNT_MAX)
        return csv_fault(csv, (size_t)i, f, ERR_RANGE, "found %.60s; expected at most %d", field.at,
                         (int)COUNT_MAX);
    return ERR_OK;
}

static enum err read_stock_row(const struct csv *csv, const int at[STOCK_TELLS], stock_see *see,
                               void *me, struct fault *f)
{
    const struct csv_field kit = csv_at(csv, (size_t)at[STOCK_KIT]);
    struct stock_told row = {.kit = kit.at};
    enum err err =
        kit.n > 0 ? ERR_OK : csv_fault(csv, (size_t)at[STOCK_KIT], f, ERR_EMPTY, "is empty");
    if (err == ERR_OK)
        err = read_count(csv, at[STOCK_ON_HAND], &row.on_hand, f);
    if (err == ERR_OK)
        err = read_count(csv, at[STOCK_ORDERED], &row.ordered, f);
    if (err == ERR_OK)
        err = read_count(csv, at[STOCK_LEAD_DAYS], &row.lead_days, f);
    return err == ERR_OK && see != NULL ? see(me, &row, f) : err;
}

enum err stock_read(const char *text, size_t n, const char *name, stock_see *see, void *me,
                    size_t *ret_n, struct fault *reterr)
{
    struct csv *csv = NULL;
    int at[STOCK_TELLS];
    bool is_row = true;
    size_t n_rows = 0;
    enum err err = csv_open(text, n, name, &csv, reterr);
    for (int i = 0; err == ERR_OK && i < STOCK_TELLS; i++)
        err = csv_need(csv, stock_columns[i], &at[i], reterr);
    while (err == ERR_OK && is_row) {
        err = csv_next(csv, &is_row, reterr);
        if (err == ERR_OK && is_row) {
            n_rows++;
            err = read_stock_row(csv, at, see, me, reterr);
        }
    }
    if (err == ERR_OK && n_rows == 0)
        err = fault_set(reterr, ERR_EMPTY,
                        "there is no kit in it; expected one or more lines below the first");
    csv_close(csv);
    if (err == ERR_OK)
        *ret_n = n_rows;
    return err;
}

/* ---- those that are kept ------------------------------------------------------------------- */

struct reading {
    struct board *b;
    enum err err;
    struct fault *fault;
};

static enum err put_stock(void *me, const struct stock_told *row, struct fault *f)
{
    struct board *b = me;
    (void)f;
    for (size_t i = 0; i < b->bulletin->kits.n; i++)
        if (strcmp(b->bulletin->kits.at[i].id, row->kit) == 0)
            b->stock[i] = (struct board_stock){row->on_hand, row->ordered, row->lead_days, true};
    return ERR_OK; /* kits of another bulletin may stand in the same list */
}

static bool see_stock(void *me, const struct store_paper *p)
{
    struct reading *r = me;
    size_t n = 0;
    memset(r->b->stock, 0, sizeof r->b->stock);
    r->b->stock_ms = p->at_ms;
    r->err = stock_read(p->text, p->n, p->name, put_stock, r->b, &n, r->fault);
    return r->err == ERR_OK;
}

static bool see_reserve(void *me, const struct store_paper *p)
{
    struct reading *r = me;
    struct board_reserve *reserve = &r->b->reserve;
    const struct bulletin_head *head = &r->b->bulletin->head;
    struct reserve_told told;
    r->err = reserve_read(p->text, p->n, p->name, head->currency_digits, &told, &reserve->minor,
                          r->fault);
    if (r->err == ERR_OK && strcmp(told.currency, head->currency) != 0)
        r->err = fault_set(r->fault, ERR_DOMAIN,
                           "the reserve kept for %.60s is in %s; expected the bulletin's %s",
                           r->b->id, told.currency, head->currency);
    if (r->err != ERR_OK)
        return false;
    reserve->is_given = true;
    reserve->at_ms = p->at_ms;
    reserve->seq = p->seq;
    memcpy(reserve->person, told.person, sizeof reserve->person);
    return true;
}

static bool see_any(void *me, const struct store_paper *p)
{
    struct reading *r = me;
    struct board *b = r->b;
    if (!board_grow(&b->papers_ms, &b->papers_room, b->n_papers + 1, sizeof *b->papers_ms)) {
        r->err = fault_no_memory(r->fault);
        return false;
    }
    b->papers_ms[b->n_papers++] = p->at_ms;
    return true;
}

enum err board_read_papers(struct board *b, struct store *store, struct fault *reterr)
{
    struct reading r = {b, ERR_OK, reterr};
    b->n_papers = 0;
    b->reserve = (struct board_reserve){0};
    b->stock_ms = 0;
    memset(b->stock, 0, sizeof b->stock);
    enum err err = store_papers(store, NULL, NULL, false, see_any, &r, reterr);
    if (err == ERR_OK && r.err == ERR_OK)
        err = store_papers(store, "reserve", b->id, true, see_reserve, &r, reterr);
    /* A list of the bulletin's own goes over the one for all. */
    if (err == ERR_OK && r.err == ERR_OK)
        err = store_papers(store, "stock", "stock", true, see_stock, &r, reterr);
    if (err == ERR_OK && r.err == ERR_OK)
        err = store_papers(store, "stock", b->id, true, see_stock, &r, reterr);
    return err == ERR_OK ? r.err : err;
}
