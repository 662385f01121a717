/* study_chart_completion: owns the picture of how many units have come and ever will. */
#include "desk/study_chart_inner.h"

#include "core/life.h"
#include "core/normal.h"
#include "desk/life_rows.h"

#include <math.h>
#include <stdlib.h>

enum { FIT_POINTS = 160 };

/* The steps turned over: what has come is what is no longer waited for. */
static struct chart_steps come_of(struct study_chart *c, const struct life_step *steps, size_t n,
                                  double z)
{
    double *x = study_chart_numbers(c, n), *y = study_chart_numbers(c, n),
           *low = study_chart_numbers(c, n), *high = study_chart_numbers(c, n);
    struct chart_steps s = {.n = n, .x = x, .y = y, .low = low, .high = high};
    if (x == NULL || y == NULL || low == NULL || high == NULL)
        return (struct chart_steps){.n = 0};
    for (size_t i = 0; i < n; i++) {
        double least = 0, most = 0;
        study_life_interval(&steps[i], z, &least, &most);
        x[i] = steps[i].t;
        y[i] = 1 - steps[i].survival;
        low[i] = 1 - most;
        high[i] = 1 - least;
        s.n_band += steps[i].has_se;
    }
    return s;
}

static struct chart_curve fit_of(struct study_chart *c, const struct study_completion *r)
{
    double *x = study_chart_numbers(c, FIT_POINTS), *y = study_chart_numbers(c, FIT_POINTS);
    const double end = fmin(fmax(r->last_seen, r->most_by), 2 * r->last_seen);
    if (x == NULL || y == NULL || !(end > 0))
        return (struct chart_curve){.n = 0};
    for (size_t i = 0; i < FIT_POINTS; i++) {
        const double share = (double)i / (FIT_POINTS - 1);
        x[i] = end * share * share;
        y[i] = x[i] > 0
                   ? r->share *
                         (1 - weibull_survival(log(x[i]), log(r->cure.scale), log(r->cure.shape)))
                   : 0;
    }
    return (struct chart_curve){FIT_POINTS, x, y};
}

static enum err fill_come(struct study_chart *c, const struct study_table *t,
                          const struct study_completion *r, double z, struct chart_steps *ret)
{
    struct life_rows rows = {.n = 0};
    struct life_step *steps = malloc((r->n + 1) * sizeof *steps);
    size_t n = 0;
    enum err e = life_rows_new(study_numbers(t, COMPLETION_TIME), study_yes(t, COMPLETION_EVENT),
                               NULL, NULL, r->n, 1, &rows);
    if (steps == NULL)
        e = ERR_MEMORY;
    if (e == ERR_OK)
        e = life_steps(NULL, rows.end, rows.event, r->n, steps, r->n, &n);
    if (e == ERR_OK)
        *ret = come_of(c, steps, n, z);
    life_rows_done(&rows);
    free(steps);
    return e;
}

static const char *title(struct study_chart *c, const struct study_completion *r)
{
    if (r->n_open == 0)
        return study_chart_say(c, "All %zu units have come.", r->n);
    const struct study_completion_row *ever = &r->rows[r->n_rows - 1];
    const double come = (double)r->n_come;
    return study_chart_say(
        c, "%zu of %zu units have come; in the end it will be about %.0f (%.0f to %.0f), %s %%.",
        r->n_come, r->n, come + ever->further, come + ever->low, come + ever->high,
        study_chart_figure(c, 100 * (come + ever->further) / (double)r->n, 2));
}

enum err study_chart_completion(const struct study_table *t,
                                const struct study_completion_order *order,
                                const struct study_completion *r,
                                const struct study_chart_about *about, struct study_chart *ret,
                                struct fault *reterr)
{
    study_chart_begin(ret, CHART_COMPLETION);
    struct chart_completion *k = &ret->chart.completion;
    struct chart_completion_row *rows = arena_get(&ret->arena, (r->n_rows + 1) * sizeof *rows);
    *k = (struct chart_completion){.unit = study_chart_unit(about),
                                   .confidence = order->confidence,
                                   .n = (double)r->n,
                                   .n_come = (double)r->n_come,
                                   .share = r->share,
                                   .share_low = r->share_low,
                                   .share_high = r->share_high,
                                   .rows = rows};
    const double z = normal_quantile((1 + order->confidence) / 2);
    if (rows == NULL || fill_come(ret, t, r, z, &k->come) != ERR_OK)
        return fault_no_memory(reterr);
    for (size_t i = 0; i < r->n_rows && r->n_open > 0; i++) {
        const struct study_completion_row *row = &r->rows[i];
        const double come = (double)r->n_come;
        rows[k->n_rows++] = (struct chart_completion_row){row->within, come + row->further,
                                                          come + row->low, come + row->high};
    }
    k->fit = fit_of(ret, r);
    ret->chart.title = title(ret, r);
    ret->chart.how = study_chart_say(
        ret,
        "Left: steps with their interval; dots: the fitted curve; dashes: the share that ever "
        "comes. "
        "%sIntervals of %g %%.",
        r->n_open > 0 ? "Right: how many will have come by when, with the forecast's interval. "
                      : "",
        100 * order->confidence);
    study_chart_words(ret, &r->notes, t, about);
    return study_chart_end(ret, reterr);
}
