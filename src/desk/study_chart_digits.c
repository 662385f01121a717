/* study_chart_digits: owns the picture of how each shop's readings end. */
#include "desk/study_chart_inner.h"

#include "base/amount.h"

#include <stdlib.h>

/* Flagged ones first, then by q and p; groups that were not tested last. */
static int compare(const void *a, const void *b)
{
    const struct study_digits_group *x = *(const struct study_digits_group *const *)a;
    const struct study_digits_group *y = *(const struct study_digits_group *const *)b;
    if (x->is_tested != y->is_tested)
        return x->is_tested ? -1 : 1;
    if (x->is_tested && x->q != y->q)
        return x->q < y->q ? -1 : 1;
    if (x->is_tested && x->p != y->p)
        return x->p < y->p ? -1 : 1;
    return (x > y) - (x < y);
}

static const char *const *steps_of(struct study_chart *c, const struct study_digits_order *o,
                                   size_t n)
{
    char figure[AMOUNT_SIZE];
    const char **names = arena_get(&c->arena, (n + 1) * sizeof(const char *));
    for (size_t i = 0; names != NULL && i < n; i++)
        names[i] =
            study_chart_say(c, "%s", amount_figure((int64_t)i * o->step_nano, o->unit, figure));
    return names;
}

static void count(const struct study_table *t, const struct study_digits_order *o, size_t n_steps,
                  const struct study_digits_group *const *order, double *const *counts, size_t n)
{
    const int64_t *value = study_amounts(t, DIGITS_VALUE);
    const uint32_t *by = study_texts(t, DIGITS_BY);
    for (size_t i = 0; i < study_rows(t); i++)
        for (size_t k = 0; k < n; k++)
            if (order[k]->by == by[i]) {
                const int64_t at = (value[i] / o->step_nano) % (int64_t)n_steps;
                counts[k][at < 0 ? at + (int64_t)n_steps : at]++;
                break;
            }
}

static bool fill(struct study_chart *c, const struct study_table *t,
                 const struct study_digits_order *o, const struct study_digits *r,
                 const struct study_digits_group **order, struct chart_digits *ret)
{
    const size_t n = study_chart_shown(r->n_groups, CHART_PANELS_MAX);
    struct chart_digits_group *groups = arena_get(&c->arena, (n + 1) * sizeof *groups);
    double *counts[CHART_PANELS_MAX];
    ret->n_steps = r->n_steps;
    ret->step = steps_of(c, o, r->n_steps);
    ret->whole = quantity_unit_name(o->unit);
    if (groups == NULL || ret->step == NULL)
        return false;
    for (size_t i = 0; i < n; i++) {
        const struct study_digits_group *g = order[i];
        counts[i] = study_chart_numbers(c, r->n_steps);
        if (counts[i] == NULL)
            return false;
        groups[i] = (struct chart_digits_group){
            .name = study_chart_say(c, "%s", study_text(t, DIGITS_BY, g->by)),
            .n = (double)g->n,
            .count = counts[i],
            .is_tested = g->is_tested,
            .is_flagged = g->is_flagged,
            .is_narrow = g->is_tested && !g->is_spread,
            .q = g->is_tested ? g->q : 1};
    }
    count(t, o, r->n_steps, order, counts, n);
    ret->n_all = r->n_groups;
    ret->n = n;
    ret->groups = groups;
    return true;
}

static const char *title(struct study_chart *c, const struct study_table *t,
                         const struct study_digits_order *o, const struct study_digits *r,
                         const struct study_digits_group *worst)
{
    char figure[AMOUNT_SIZE];
    size_t n_tested = 0;
    for (size_t i = 0; i < r->n_groups; i++)
        n_tested += r->groups[i].is_tested;
    const char *s = n_tested == 1 ? "" : "s";
    const char *copies =
        r->n_copies > 0 ? study_chart_say(c, " %zu job%s the readings of an earlier one.",
                                          r->n_copies, r->n_copies == 1 ? " repeats" : "s repeat")
                        : "";
    if (r->n_flagged == 0)
        return study_chart_say(
            c, "None of %zu group%s favours certain steps more than chance explains.%s", n_tested,
            s, copies);
    return study_chart_say(
        c, "Look at %zu of %zu group%s: %s ends on %s %.20s in %s %% of its readings.%s",
        r->n_flagged, n_tested, s, study_chart_name(c, study_text(t, DIGITS_BY, worst->by)),
        amount_figure((int64_t)worst->favourite * o->step_nano, o->unit, figure),
        quantity_unit_name(o->unit), study_chart_figure(c, 100 * worst->favourite_share, 2),
        copies);
}

enum err study_chart_digits(const struct study_table *t, const struct study_digits_order *order,
                            const struct study_digits *r, const struct study_chart_about *about,
                            struct study_chart *ret, struct fault *reterr)
{
    study_chart_begin(ret, CHART_DIGITS);
    const struct study_digits_group **by =
        arena_get(&ret->arena, (r->n_groups + 1) * sizeof(const struct study_digits_group *));
    for (size_t i = 0; by != NULL && i < r->n_groups; i++)
        by[i] = &r->groups[i];
    if (by != NULL)
        qsort(by, r->n_groups, sizeof(const struct study_digits_group *), compare);
    if (by == NULL || !fill(ret, t, order, r, by, &ret->chart.digits))
        return fault_no_memory(reterr);
    ret->chart.title = title(ret, t, order, r, by[0]);
    ret->chart.how = study_chart_say(ret,
                                     "Lines across: what each step would have if all were alike. "
                                     "q: of all that are flagged at this "
                                     "q, so large a share is flagged by chance; LOOK stands where "
                                     "it is at most %g %%. A flag is a "
                                     "reason to look, never proof.",
                                     100 * order->discovery);
    study_chart_words(ret, &r->notes, t, about);
    return study_chart_end(ret, reterr);
}
