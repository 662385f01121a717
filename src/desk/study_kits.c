/* study_kits: owns the question how many kits to order. */
#include "desk/study_kits.h"

#include "stat/demand.h"
#include "stat/special.h"

#include <stdlib.h>

#define PRIOR 0.5

void study_kits_wants(const char *kit, const char *count, struct study_want wants[KITS_COLUMNS])
{
    wants[KITS_KIT] = (struct study_want){.column = kit, .type = STUDY_TEXT};
    wants[KITS_COUNT] = (struct study_want){
        .column = count, .type = STUDY_NUMBER, .low = 0, .high = 1e9, .is_whole = true};
}

static void count(const struct study_table *t, struct study_kits *s)
{
    const uint32_t *kit = study_texts(t, KITS_KIT);
    const double *n = study_numbers(t, KITS_COUNT);
    for (size_t i = 0; i < s->n_sorts; i++)
        s->sorts[i].kit = (uint32_t)i;
    for (size_t i = 0; i < study_rows(t); i++) {
        const int64_t more = n != NULL ? (int64_t)n[i] : 1;
        s->sorts[kit[i]].n += more;
        s->n += more;
    }
}

static double weight_of_all(const struct study_kits *s)
{
    return (double)s->n + PRIOR * (double)s->n_sorts;
}

enum err study_kits_quantile(const struct study_kits_order *order, const struct study_kits *s,
                             size_t i, double p, int64_t *ret)
{
    const double a = (double)s->sorts[i].n + PRIOR;
    if (order->units == 0)
        return stat_negative_binomial_quantile(p, a, order->lead_days / order->watched_days, ret);
    *ret = s->n_sorts == 1 /* every unit takes it */
               ? order->units
               : stat_beta_binomial_quantile(p, order->units, a, weight_of_all(s) - a);
    return ERR_OK;
}

static enum err order_sort(const struct study_kits_order *o, const struct study_kits *s,
                           struct study_kits_sort *k)
{
    const double a = (double)k->n + PRIOR;
    k->share = (double)k->n / (double)s->n;
    stat_share_interval(k->n, s->n, 0.95, &k->share_i.low, &k->share_i.high);
    k->share_i.is_known = true;
    if (o->units > 0)
        k->expected = s->n_sorts == 1 ? (double)o->units : (double)o->units * a / weight_of_all(s);
    else
        k->expected = a * o->lead_days / o->watched_days;
    return study_kits_quantile(o, s, (size_t)(k - s->sorts), s->level, &k->order);
}

static void note(const struct study_kits_order *o, struct study_kits *s)
{
    study_note(&s->notes, STUDY_ASSUMED,
               "Units to come need the same mix as those so far, one by one; a sort that was never "
               "asked for cannot "
               "be foreseen.");
    if (o->units == 0)
        study_note(&s->notes, STUDY_ASSUMED,
                   "Units come one by one at the rate of the %g days watched (a Poisson stream), "
                   "without waves after "
                   "notices or seasons.",
                   o->watched_days);
    study_note(&s->notes, STUDY_CHECKED,
               "The figures carry what %lld kits can tell of the mix, no more.", (long long)s->n);
    if (o->is_joint && s->n_sorts > 1)
        study_note(&s->notes, STUDY_CHECKED,
                   "Each sort is held to %.4g %%, so that all together hold at least %.4g %%.",
                   100 * s->level, 100 * o->service);
    else if (s->n_sorts > 1)
        study_note(&s->notes, STUDY_CAVEAT,
                   "The level holds for each sort by itself; that none of the %zu runs short is "
                   "less likely.",
                   s->n_sorts);
    if (s->n < 30)
        study_note(&s->notes, STUDY_CAVEAT,
                   "Only %lld kits so far: the mix is hardly known, and the order is large "
                   "for its mean.",
                   (long long)s->n);
}

enum err study_kits(const struct study_table *t, const struct study_kits_order *order,
                    const struct study_watch *watch, struct study_kits *ret, struct fault *reterr)
{
    struct study_kits s = {.n_sorts = study_n_texts(t, KITS_KIT)};
    s.sorts = calloc(s.n_sorts + 1, sizeof *s.sorts);
    if (s.sorts == NULL)
        return fault_no_memory(reterr);
    count(t, &s);
    enum err e = ERR_OK;
    if (s.n == 0)
        e = study_table_fault(t, reterr, ERR_EMPTY, "found no kit; expected one or more");
    s.level = order->is_joint ? 1 - (1 - order->service) / (double)s.n_sorts : order->service;
    for (size_t i = 0; e == ERR_OK && i < s.n_sorts; i++) {
        e = order_sort(order, &s, &s.sorts[i]);
        s.total += s.sorts[i].order;
        if (e != ERR_OK)
            e = study_table_fault(t, reterr, e, "the order would be more than 10^12 kits");
        else if (!study_go_on(watch, "sorts", i + 1, s.n_sorts))
            e = study_table_fault(t, reterr, ERR_BUSY,
                                  "stopped after %zu of %zu sorts, before there was an order",
                                  i + 1, s.n_sorts);
    }
    if (e != ERR_OK) {
        study_kits_done(&s);
        return e;
    }
    note(order, &s);
    *ret = s;
    return ERR_OK;
}

void study_kits_done(struct study_kits *s)
{
    free(s->sorts);
    s->sorts = NULL;
}
