/* campaign_points: owns final readings against their limits, of all shops and of each.
 *
 * A reading is one job's last word at a point; of a job that was sent again the later claim counts. Mean and spread by Welford's
 * method (Technometrics 4(3), 419-420, 1962), since the readings lie in one run of memory and are not kept by shop. */
#include "desk/campaign_board.h"

#include "desk/study_capability.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { CELLS_MAX = 1000 * 1000 }; /* points times shops */

struct cell {
    int64_t n, n_outside;
    double mean, squares;
};

static void add(struct cell *c, double x, bool is_outside)
{
    const double from = x - c->mean;
    c->n++;
    c->n_outside += is_outside;
    c->mean += from / (double)c->n;
    c->squares += from * (x - c->mean);
}

static int64_t low_of(const struct bulletin_point *p)
{
    return p->low.is_given ? p->low.nano : INT64_MIN;
}
static int64_t high_of(const struct bulletin_point *p)
{
    return p->high.is_given ? p->high.nano : INT64_MAX;
}
static enum unit unit_of(const struct bulletin_point *p)
{
    return p->nominal.is_given ? p->nominal.unit : p->low.is_given ? p->low.unit : p->high.unit;
}

/* all[p]; by_shop[shop * points + p]. */
static void add_up(const struct board *b, struct cell *all, struct cell *by_shop)
{
    const size_t n = b->bulletin->points.n;
    for (size_t i = 0; i < b->n_claims; i++) {
        const struct board_claim *c = &b->claims[i];
        if ((c->flags & BOARD_IS_REPLACED) != 0)
            continue;
        for (uint32_t k = c->first_reading; k < c->first_reading + c->n_readings; k++) {
            const size_t point = b->marks[k] & BOARD_POINT;
            const int64_t nano = b->values_nano[k];
            const struct bulletin_point *p = &b->bulletin->points.at[point];
            const bool is_out = nano < low_of(p) || nano > high_of(p);
            const double x = (double)nano / (double)quantity_unit_nano(unit_of(p));
            if ((b->marks[k] & BOARD_IS_FINAL) == 0)
                continue;
            add(&all[point], x, is_out);
            add(&by_shop[c->shop * n + point], x, is_out);
        }
    }
}

static void tell(const struct bulletin_point *p, const struct cell *cell,
                 struct campaign_readings *to)
{
    const struct study_capability_order order = {.unit = unit_of(p), .confidence = 0.95};
    struct study_capability_group g = {
        .n = (size_t)cell->n,
        .low_nano = low_of(p),
        .high_nano = high_of(p),
        .mean = cell->mean,
        .sd = cell->n > 1 ? sqrt(cell->squares / (double)(cell->n - 1)) : 0};
    study_capability_indices(&order, &g);
    to->unit = order.unit;
    to->low_nano = g.low_nano;
    to->high_nano = g.high_nano;
    to->n = cell->n;
    to->n_outside = cell->n_outside;
    to->mean = g.mean;
    to->sd = g.sd;
    to->has_index = g.has_index;
    to->ppk = g.ppk;
    to->ppk_low = g.ppk_i.low;
    to->ppk_high = g.ppk_i.high;
}

struct shop_order {
    uint32_t shop;
    const char *id;
};
static int by_id(const void *a, const void *b)
{
    return strcmp(((const struct shop_order *)a)->id, ((const struct shop_order *)b)->id);
}

static void fill(const struct board *b, struct board_answer *made, const struct cell *all,
                 const struct cell *by_shop, const struct shop_order *shops)
{
    const size_t n = b->bulletin->points.n;
    size_t n_rows = 0;
    for (size_t i = 0; i < n; i++)
        n_rows += all[i].n > 0;
    for (size_t i = 0; i < n * b->shops.n; i++)
        n_rows += by_shop[i].n > 0;
    struct campaign_readings *rows = arena_get(&made->arena, (n_rows + 1) * sizeof *rows),
                             *to = rows;
    if (rows == NULL)
        return;
    for (size_t p = 0; p < n; p++) {
        const struct bulletin_point *point = &b->bulletin->points.at[p];
        const char *id = campaign_keep(made, point->id);
        if (all[p].n == 0)
            continue;
        to->point = id;
        tell(point, &all[p], to++);
        for (size_t s = 0; s < b->shops.n; s++) {
            const struct cell *cell = &by_shop[shops[s].shop * n + p];
            if (cell->n == 0)
                continue;
            to->point = id;
            to->shop = campaign_keep(made, shops[s].id);
            tell(point, cell, to++);
        }
    }
    made->c.readings = rows;
    made->c.n_readings = n_rows;
}

enum err campaign_points(const struct board *b, struct board_answer *made, struct fault *reterr)
{
    const size_t n = b->bulletin->points.n;
    if (n * b->shops.n > CELLS_MAX)
        return fault_set(reterr, ERR_LIMIT,
                         "there are %zu shops; expected at most %zu for %zu points", b->shops.n,
                         CELLS_MAX / n, n);
    struct cell *all = calloc(n + 1, sizeof *all),
                *by_shop = calloc(n * b->shops.n + 1, sizeof *by_shop);
    struct shop_order *shops = calloc(b->shops.n + 1, sizeof *shops);
    const bool is_good = all != NULL && by_shop != NULL && shops != NULL;
    if (is_good) {
        for (uint32_t i = 0; i < b->shops.n; i++)
            shops[i] = (struct shop_order){i, words_text(&b->shops, i)};
        qsort(shops, b->shops.n, sizeof *shops, by_id);
        add_up(b, all, by_shop);
        fill(b, made, all, by_shop, shops);
    }
    free(all);
    free(by_shop);
    free(shops);
    return is_good ? ERR_OK : fault_no_memory(reterr);
}
