/* study_chart_stock: owns the pictures of which lengths to stock and how many kits to order. */
#include "desk/study_chart_inner.h"

#include "base/amount.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

/* ---- lengths ----------------------------------------------------------------------------------- */

struct need {
    int64_t length_nm;
    double pieces;
};

static int by_length(const void *a, const void *b)
{
    const struct need *x = a, *y = b;
    return (x->length_nm > y->length_nm) - (x->length_nm < y->length_nm);
}

static bool fill_needs(struct study_chart *c, const struct study_table *t, enum unit unit,
                       struct chart_stock *ret)
{
    const size_t rows = study_rows(t);
    const int64_t *length = study_amounts(t, STOCK_LENGTH);
    const double *count = study_numbers(t, STOCK_COUNT);
    struct need *needs = malloc((rows + 1) * sizeof *needs);
    size_t n = 0;
    if (needs == NULL)
        return false;
    for (size_t i = 0; i < rows; i++)
        needs[i] = (struct need){length[i], count != NULL ? count[i] : 1};
    qsort(needs, rows, sizeof *needs, by_length);
    for (size_t i = 0; i < rows; i++) {
        if (!(needs[i].pieces > 0))
            continue;
        if (n > 0 && needs[n - 1].length_nm == needs[i].length_nm)
            needs[n - 1].pieces += needs[i].pieces;
        else
            needs[n++] = needs[i];
    }
    double *x = study_chart_numbers(c, n), *y = study_chart_numbers(c, n);
    for (size_t i = 0; x != NULL && y != NULL && i < n; i++) {
        x[i] = quantity_to_double(needs[i].length_nm, unit);
        y[i] = needs[i].pieces;
    }
    free(needs);
    ret->n = n;
    ret->length = x;
    ret->pieces = y;
    return x != NULL && y != NULL;
}

static bool fill_stock(struct study_chart *c, enum unit unit, const struct study_stock *r,
                       struct chart_stock *ret)
{
    double *stock = study_chart_numbers(c, r->n), *served = study_chart_numbers(c, r->n),
           *wasted = study_chart_numbers(c, r->n);
    if (stock == NULL || served == NULL || wasted == NULL)
        return false;
    for (size_t i = 0; i < r->n; i++) {
        stock[i] = quantity_to_double(r->lengths[i].length_nm, unit);
        served[i] = (double)r->lengths[i].n_pieces;
        wasted[i] = quantity_to_double(r->lengths[i].waste_nm, unit);
    }
    ret->n_stock = r->n;
    ret->stock = stock;
    ret->served = served;
    ret->wasted = wasted;
    return true;
}

static const char *other(struct study_chart *c, const char *how, int64_t waste_nm, enum unit unit)
{
    char amount[AMOUNT_SIZE];
    return waste_nm < 0 ? ""
                        : study_chart_say(c, " With one length %s: %s.", how,
                                          amount_show(waste_nm, unit, amount));
}

enum err study_chart_stock(const struct study_table *t, enum unit unit, const struct study_stock *r,
                           const struct study_chart_about *about, struct study_chart *ret,
                           struct fault *reterr)
{
    char waste[AMOUNT_SIZE];
    study_chart_begin(ret, CHART_STOCK);
    struct chart_stock *s = &ret->chart.stock;
    *s = (struct chart_stock){
        .unit = quantity_unit_name(unit),
        .waste = quantity_to_double(r->waste_nm, unit),
        .waste_less = r->waste_less_nm < 0 ? -1 : quantity_to_double(r->waste_less_nm, unit),
        .waste_more = r->waste_more_nm < 0 ? -1 : quantity_to_double(r->waste_more_nm, unit)};
    if (!fill_needs(ret, t, unit, s) || !fill_stock(ret, unit, r, s))
        return fault_no_memory(reterr);
    ret->chart.title =
        study_chart_say(ret, "Stock %zu length%s: %s is cut away, %s %% of what is needed.", r->n,
                        r->n == 1 ? "" : "s", amount_show(r->waste_nm, unit, waste),
                        study_chart_figure(ret, 100 * (double)r->waste_nm / (double)r->used_nm, 3));
    ret->chart.how = study_chart_say(
        ret, "Columns: pieces needed of each length. Upright lines: the stocked lengths.%s%s",
        other(ret, "less", r->waste_less_nm, unit), other(ret, "more", r->waste_more_nm, unit));
    study_chart_words(ret, &r->notes, t, about);
    return study_chart_end(ret, reterr);
}

/* ---- kits -------------------------------------------------------------------------------------- */

static int by_order(const void *a, const void *b)
{
    const struct study_kits_sort *x = *(const struct study_kits_sort *const *)a;
    const struct study_kits_sort *y = *(const struct study_kits_sort *const *)b;
    if (x->order != y->order)
        return x->order > y->order ? -1 : 1;
    return (x > y) - (x < y);
}

static enum err fill_kits(struct study_chart *c, const struct study_table *t,
                          const struct study_kits_order *o, const struct study_kits *r,
                          struct chart_kits *ret)
{
    const size_t n = study_chart_shown(r->n_sorts, CHART_ROWS_MAX);
    const struct study_kits_sort **order =
        arena_get(&c->arena, (r->n_sorts + 1) * sizeof(const struct study_kits_sort *));
    struct chart_kit *kits = arena_get(&c->arena, (n + 1) * sizeof *kits);
    if (order == NULL || kits == NULL)
        return ERR_MEMORY;
    for (size_t i = 0; i < r->n_sorts; i++)
        order[i] = &r->sorts[i];
    qsort(order, r->n_sorts, sizeof(const struct study_kits_sort *), by_order);
    for (size_t i = 0; i < n; i++) {
        int64_t q[3] = {0};
        const double chances[3] = {ret->low_q, 0.5, ret->high_q};
        for (size_t k = 0; k < 3; k++) {
            const enum err e =
                study_kits_quantile(o, r, (size_t)(order[i] - r->sorts), chances[k], &q[k]);
            if (e != ERR_OK)
                return e;
        }
        kits[i] = (struct chart_kit){
            .name = study_chart_say(c, "%s", study_text(t, KITS_KIT, order[i]->kit)),
            .asked = (double)order[i]->n,
            .low = (double)q[0],
            .middle = (double)q[1],
            .high = (double)q[2],
            .order = (double)order[i]->order};
    }
    ret->n_all = r->n_sorts;
    ret->n = n;
    ret->kits = kits;
    return ERR_OK;
}

enum err study_chart_kits(const struct study_table *t, const struct study_kits_order *order,
                          const struct study_kits *r, const struct study_chart_about *about,
                          struct study_chart *ret, struct fault *reterr)
{
    study_chart_begin(ret, CHART_KITS);
    struct chart_kits *k = &ret->chart.kits;
    *k = (struct chart_kits){.level = r->level, .low_q = 0.05, .high_q = 0.95};
    k->within =
        order->units > 0
            ? study_chart_say(ret, "among %lld units still to come", (long long)order->units)
            : study_chart_say(ret, "within %s days", study_chart_figure(ret, order->lead_days, 5));
    const enum err e = fill_kits(ret, t, order, r, k);
    if (e != ERR_OK)
        return fault_set(reterr, e,
                         e == ERR_MEMORY ? "memory ran out" : "a demand is beyond 10^12");
    ret->chart.title =
        study_chart_say(ret, "Order %lld kits: each sort then lasts with a chance of %s %%.",
                        (long long)r->total, study_chart_figure(ret, 100 * r->level, 4));
    ret->chart.how = study_chart_say(ret,
                                     "Bars: from the demand that is exceeded with 95 %% to the one "
                                     "exceeded with 5 %%; tick in them: "
                                     "with 50 %%. Wedge: the order, exceeded with %s %%.",
                                     study_chart_figure(ret, 100 * (1 - r->level), 3));
    study_chart_words(ret, &r->notes, t, about);
    return study_chart_end(ret, reterr);
}
