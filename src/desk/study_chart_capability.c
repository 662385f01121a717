/* study_chart_capability: owns the picture of final readings between their limits. */
#include "desk/study_chart_inner.h"

#include <math.h>
#include <stdlib.h>

/* Least Ppk first; groups that have none last; else as the study lists them. */
static int worse(const void *a, const void *b)
{
    const struct study_capability_group *x = *(const struct study_capability_group *const *)a;
    const struct study_capability_group *y = *(const struct study_capability_group *const *)b;
    if (x->has_index != y->has_index)
        return x->has_index ? -1 : 1;
    if (x->has_index && x->ppk != y->ppk)
        return x->ppk < y->ppk ? -1 : 1;
    return (x > y) - (x < y);
}

static const char *name_of(struct study_chart *c, const struct study_table *t,
                           const struct study_capability_group *g)
{
    const bool has_point = g->point != STUDY_NO_TEXT, has_by = g->by != STUDY_NO_TEXT;
    return study_chart_say(c, "%s%s%s",
                           has_point ? study_text(t, CAPABILITY_POINT, g->point)
                           : has_by  ? ""
                                     : "all",
                           has_point && has_by ? ", " : "",
                           has_by ? study_text(t, CAPABILITY_BY, g->by) : "");
}

static struct chart_capability_group group_of(struct study_chart *c, const struct study_table *t,
                                              enum unit unit,
                                              const struct study_capability_group *g)
{
    const double per = (double)quantity_unit_nano(unit);
    return (struct chart_capability_group){
        .name = name_of(c, t, g),
        .has_low = g->low_nano != INT64_MIN,
        .has_high = g->high_nano != INT64_MAX,
        .low = g->low_nano != INT64_MIN ? (double)g->low_nano / per : 0,
        .high = g->high_nano != INT64_MAX ? (double)g->high_nano / per : 0,
        .has_index = g->has_index,
        .is_short = g->is_short,
        .mean = g->mean,
        .sd = g->sd,
        .ppk = g->has_index ? g->ppk : 0,
        .ppk_low = g->has_index ? g->ppk_i.low : 0,
        .ppk_high = g->has_index ? g->ppk_i.high : 0,
        .n_outside = (double)g->n_outside};
}

/* The readings of the groups that are drawn, into values[k]. */
static void fill_values(const struct study_table *t, enum unit unit,
                        const struct study_capability_group *const *order,
                        struct chart_capability_group *groups, double *const *values, size_t n)
{
    const int64_t *value = study_amounts(t, CAPABILITY_VALUE);
    const uint32_t *point = study_texts(t, CAPABILITY_POINT), *by = study_texts(t, CAPABILITY_BY);
    for (size_t i = 0; i < study_rows(t); i++)
        for (size_t k = 0; k < n; k++)
            if ((point == NULL || point[i] == order[k]->point) &&
                (by == NULL || by[i] == order[k]->by) && groups[k].n < order[k]->n) {
                values[k][groups[k].n++] = quantity_to_double(value[i], unit);
                break;
            }
}

static const char *title(struct study_chart *c, const struct study_capability_order *o,
                         const struct study_capability *r)
{
    if (r->n_short > 0)
        return study_chart_say(
            c, "%zu of %zu group%s fall%s short of Ppk %s; %zu of %zu readings lie outside.",
            r->n_short, r->n_groups, r->n_groups == 1 ? "" : "s", r->n_short == 1 ? "s" : "",
            study_chart_figure(c, o->least_ppk, 3), r->n_outside, r->n);
    if (o->least_ppk > 0)
        return study_chart_say(
            c, "Every group that can be judged reaches Ppk %s; %zu of %zu readings lie outside.",
            study_chart_figure(c, o->least_ppk, 3), r->n_outside, r->n);
    return study_chart_say(c, "%zu of %zu readings lie outside their limits.", r->n_outside, r->n);
}

static bool fill(struct study_chart *c, const struct study_table *t, enum unit unit,
                 const struct study_capability *r, struct chart_capability *ret)
{
    const size_t n = study_chart_shown(r->n_groups, CHART_ROWS_MAX);
    const struct study_capability_group **order =
        arena_get(&c->arena, r->n_groups * sizeof(const struct study_capability_group *));
    struct chart_capability_group *groups = arena_get(&c->arena, (n + 1) * sizeof *groups);
    double *values[CHART_ROWS_MAX];
    if (order == NULL || groups == NULL)
        return false;
    for (size_t i = 0; i < r->n_groups; i++)
        order[i] = &r->groups[i];
    qsort(order, r->n_groups, sizeof(const struct study_capability_group *), worse);
    for (size_t i = 0; i < n; i++) {
        values[i] = study_chart_numbers(c, order[i]->n);
        if (values[i] == NULL)
            return false;
        groups[i] = group_of(c, t, unit, order[i]);
        groups[i].value = values[i];
    }
    fill_values(t, unit, order, groups, values, n);
    ret->n_all = r->n_groups;
    ret->n = n;
    ret->groups = groups;
    return true;
}

enum err study_chart_capability(const struct study_table *t,
                                const struct study_capability_order *order,
                                const struct study_capability *r,
                                const struct study_chart_about *about, struct study_chart *ret,
                                struct fault *reterr)
{
    study_chart_begin(ret, CHART_CAPABILITY);
    ret->chart.capability = (struct chart_capability){.unit = quantity_unit_name(order->unit),
                                                      .confidence = order->confidence,
                                                      .least = order->least_ppk};
    if (!fill(ret, t, order->unit, r, &ret->chart.capability))
        return fault_no_memory(reterr);
    ret->chart.title = title(ret, order, r);
    ret->chart.how = study_chart_say(
        ret,
        "Upright: the limits. Dots or columns: readings; below them the mean and three standard "
        "deviations to either side. Right: Ppk, how often those fit before the nearer limit, with "
        "its "
        "interval of %g %%; rings fall short.",
        100 * order->confidence);
    study_chart_words(ret, &r->notes, t, about);
    return study_chart_end(ret, reterr);
}
