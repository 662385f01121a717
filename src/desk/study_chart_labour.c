/* study_chart_labour: owns the picture of how long the job takes. */
#include "desk/study_chart_inner.h"

#include "stat/summary.h"

#include <math.h>
#include <string.h>

enum { FIT_POINTS = 80 };

/* Means of shops, or the jobs' own minutes, ascending. */
static void fill_levels(struct study_chart *c, const struct study_table *t,
                        const struct study_labour *r, struct chart_labour *ret)
{
    const double *minutes = study_numbers(t, LABOUR_MINUTES);
    const uint32_t *by = study_texts(t, LABOUR_BY);
    const size_t n = r->n_shops > 0 ? r->n_shops : r->n;
    double *level = study_chart_numbers(c, n);
    double *count = r->n_shops > 0 ? study_chart_numbers(c, n) : NULL;
    if (level == NULL || (r->n_shops > 0 && count == NULL))
        return;
    if (r->n_shops == 0)
        memcpy(level, minutes, n * sizeof *level);
    for (size_t i = 0; r->n_shops > 0 && i < r->n; i++) {
        level[by[i]] += minutes[i];
        count[by[i]]++;
    }
    for (size_t i = 0; i < r->n_shops; i++)
        level[i] /= count[i];
    stat_sort(level, n);
    ret->is_shops = r->n_shops > 0;
    ret->n_levels = n;
    ret->level = level;
}

/* Wright's curve over the orders that were seen, as close on a logarithmic axis as on a plain one. */
static struct chart_curve learning_of(struct study_chart *c, const struct study_labour *r,
                                      const double *order, size_t n)
{
    double *x = study_chart_numbers(c, FIT_POINTS), *y = study_chart_numbers(c, FIT_POINTS);
    double low = HUGE_VAL, high = 0;
    if (!r->has_learning || order == NULL || x == NULL || y == NULL)
        return (struct chart_curve){.n = 0};
    for (size_t i = 0; i < n; i++) {
        low = fmin(low, order[i]);
        high = fmax(high, order[i]);
    }
    for (size_t i = 0; i < FIT_POINTS; i++) {
        x[i] = low * pow(high / low, (double)i / (FIT_POINTS - 1));
        y[i] = r->first_unit_min * pow(x[i], r->slope);
    }
    return (struct chart_curve){FIT_POINTS, x, y};
}

static const char *title(struct study_chart *c, const struct study_labour_order *o,
                         const struct study_labour *r)
{
    const char *of = r->n_shops > 0 ? "shops" : "jobs",
               *allowed = study_chart_figure(c, r->allowance_min, 4);
    if (o->paid_min > 0)
        return study_chart_say(c, "%s min is %s: %g %% of the %s take up to %s min.",
                               study_chart_figure(c, o->paid_min, 4),
                               r->covers ? "enough" : "not enough", 100 * o->share, of, allowed);
    return study_chart_say(c, "The job takes %s min on average; %s min covers %g %% of the %s.",
                           study_chart_figure(c, r->mean_min, 4), allowed, 100 * o->share, of);
}

enum err study_chart_labour(const struct study_table *t, const struct study_labour_order *order,
                            const struct study_labour *r, const struct study_chart_about *about,
                            struct study_chart *ret, struct fault *reterr)
{
    study_chart_begin(ret, CHART_LABOUR);
    struct chart_labour *l = &ret->chart.labour;
    *l = (struct chart_labour){.confidence = order->confidence,
                               .n = r->n,
                               .minutes = study_numbers(t, LABOUR_MINUTES),
                               .order = study_numbers(t, LABOUR_ORDER),
                               .learning_rate = r->learning_rate,
                               .share = order->share,
                               .allowance = r->allowance_min,
                               .paid = order->paid_min,
                               .mean = r->mean_min,
                               .mean_low = r->mean.low,
                               .mean_high = r->mean.high,
                               .has_mean_interval = r->mean.is_known};
    fill_levels(ret, t, r, l);
    l->learning = learning_of(ret, r, l->order, r->n);
    ret->chart.title = title(ret, order, r);
    ret->chart.how = study_chart_say(
        ret,
        "Left: %s. Right: how many %s keep to which time; dashes: the share that is to be covered.",
        l->order != NULL
            ? (r->has_learning ? "each job, and Wright's curve through them" : "each job")
            : study_chart_say(ret, "each job; dot and bar: the mean with its interval of %g %%",
                              100 * order->confidence),
        r->n_shops > 0 ? "shops" : "jobs");
    study_chart_words(ret, &r->notes, t, about);
    return study_chart_end(ret, reterr);
}
