/* study_chart_life: owns the picture of how long units last. */
#include "desk/study_chart_inner.h"

#include "core/normal.h"
#include "desk/life_rows.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { FIT_POINTS = 160 };

/* ---- the sentence ------------------------------------------------------------------------------ */

static const char *wear(const struct study_life_group *g)
{
    if (g->outcome != WEIBULL_FITTED)
        return "";
    if (g->shape_p >= 0.05)
        return ", at a rate that cannot be told from a constant one";
    return g->weibull.shape > 1 ? ", and ever faster with age: wear"
                                : ", and ever more slowly with age: early failures";
}

static const char *one(struct study_chart *c, const struct study_life_group *g, const char *unit)
{
    const char *space = *unit != '\0' ? " " : "";
    if (g->n_events == 0)
        return study_chart_say(c, "None of %zu units failed in %s%s%s of watching.", g->n,
                               study_chart_figure(c, g->watched, 4), space, unit);
    if (g->median.is_known)
        return study_chart_say(c, "Half of the units had failed by %s%s%s (%zu of %zu failed)%s.",
                               study_chart_figure(c, g->median.value, 4), space, unit, g->n_events,
                               g->n, wear(g));
    const struct life_step *last = &g->steps[g->n_steps - 1];
    return study_chart_say(c, "%s %% of the units are left at %s%s%s (%zu of %zu failed)%s.",
                           study_chart_figure(c, 100 * last->survival, 3),
                           study_chart_figure(c, last->t, 4), space, unit, g->n_events, g->n,
                           wear(g));
}

/* The group with most failures for what would be expected if all were alike. */
static const char *soonest(const struct study_life *r)
{
    size_t worst = 0;
    double most = -1;
    for (size_t i = 0; i < r->n_groups; i++) {
        const double expected = r->logrank.expected[i],
                     ratio = expected > 0 ? (double)r->groups[i].n_events / expected : 0;
        if (ratio > most) {
            most = ratio;
            worst = i;
        }
    }
    return r->groups[worst].name;
}

static const char *title(struct study_chart *c, const struct study_life *r, const char *unit)
{
    if (r->n_groups == 1)
        return one(c, &r->groups[0], unit);
    if (!r->has_logrank)
        return "Nothing failed while two groups were watched: nothing can be said of a difference.";
    const char *first = soonest(r);
    if (r->logrank_p < 0.05 && r->n_groups == 2)
        return study_chart_say(
            c, "Group %s fails sooner than group %s (log-rank p %s).", study_chart_name(c, first),
            study_chart_name(c, first == r->groups[0].name ? r->groups[1].name : r->groups[0].name),
            study_chart_p(c, r->logrank_p));
    if (r->logrank_p < 0.05)
        return study_chart_say(c, "Of the %zu groups %s fails soonest (log-rank p %s).",
                               r->n_groups, study_chart_name(c, first),
                               study_chart_p(c, r->logrank_p));
    return study_chart_say(
        c, "No difference between the %zu groups can be told from chance (log-rank p %s).",
        r->n_groups, study_chart_p(c, r->logrank_p));
}

/* "Within 180 days more, 27 of the 164 still whole will fail (18 to 38)." */
static const char *further(struct study_chart *c, const struct study_life *r, double forecast,
                           const char *unit)
{
    const struct study_life_group *g = &r->groups[0];
    if (r->n_groups != 1 || !(forecast > 0) || !g->forecast.is_known)
        return "";
    return study_chart_say(
        c, " Within %s%s%s more, %s of the %zu still whole will fail (%s to %s).",
        study_chart_figure(c, forecast, 5), *unit != '\0' ? " " : "", unit,
        study_chart_figure(c, round(g->forecast.value), 9), g->n_open,
        study_chart_figure(c, g->forecast.low, 6), study_chart_figure(c, g->forecast.high, 6));
}

/* ---- the rows, in order ------------------------------------------------------------------------ */

/* Each unit's first failure, or the last that was seen of it. */
static enum err repeats(const struct study_table *t, struct life_rows *ret)
{
    const size_t n = study_n_texts(t, LIFE_UNIT);
    const uint32_t *unit = study_texts(t, LIFE_UNIT);
    const double *time = study_numbers(t, LIFE_TIME);
    const uint8_t *failed = study_yes(t, LIFE_EVENT);
    double *end = calloc(n + 1, sizeof *end);
    uint8_t *event = calloc(n + 1, 1);
    enum err e = ERR_MEMORY;
    if (end != NULL && event != NULL) {
        for (size_t i = 0; i < study_rows(t); i++) {
            const uint32_t u = unit[i];
            if (failed[i])
                end[u] = event[u] ? fmin(end[u], time[i]) : time[i];
            else if (!event[u])
                end[u] = fmax(end[u], time[i]);
            event[u] |= failed[i];
        }
        e = life_rows_new(end, event, NULL, NULL, n, 1, ret);
    }
    free(end);
    free(event);
    return e;
}

static enum err rows_of(const struct study_table *t, size_t n_groups, struct life_rows *ret)
{
    return study_texts(t, LIFE_UNIT) != NULL
               ? repeats(t, ret)
               : life_rows_new(study_numbers(t, LIFE_TIME), study_yes(t, LIFE_EVENT),
                               study_numbers(t, LIFE_ENTRY), study_texts(t, LIFE_GROUP),
                               study_rows(t), n_groups, ret);
}

/* ---- curves ------------------------------------------------------------------------------------ */

static struct chart_steps steps_of(struct study_chart *c, const struct study_life_group *g)
{
    double *x = study_chart_numbers(c, g->n_steps), *y = study_chart_numbers(c, g->n_steps),
           *low = study_chart_numbers(c, g->n_steps), *high = study_chart_numbers(c, g->n_steps);
    struct chart_steps s = {.n = g->n_steps, .x = x, .y = y, .low = low, .high = high};
    if (x == NULL || y == NULL || low == NULL || high == NULL)
        return (struct chart_steps){.n = 0};
    for (size_t i = 0; i < s.n; i++) {
        x[i] = g->steps[i].t;
        y[i] = g->steps[i].survival;
        low[i] = g->low[i];
        high[i] = g->high[i];
        s.n_band += g->steps[i].has_se; /* none from where nothing is left, the last step */
    }
    return s;
}

/* Closer together where the curve is young; from the first entry on, given that a unit was whole then, as the steps are. */
static struct chart_curve fit_of(struct study_chart *c, const struct study_life_group *g,
                                 double end)
{
    double *x = study_chart_numbers(c, FIT_POINTS), *y = study_chart_numbers(c, FIT_POINTS);
    const double from = g->first_entry;
    if (g->outcome != WEIBULL_FITTED || x == NULL || y == NULL || !(end > from))
        return (struct chart_curve){.n = 0};
    const double whole =
        from > 0 ? weibull_survival(log(from), g->weibull.log_scale, g->weibull.log_shape) : 1;
    for (size_t i = 0; i < FIT_POINTS; i++) {
        const double share = (double)i / (FIT_POINTS - 1);
        x[i] = from + (end - from) * share * share;
        const double s =
            x[i] > 0 ? weibull_survival(log(x[i]), g->weibull.log_scale, g->weibull.log_shape) : 1;
        y[i] = whole > 0 ? fmin(s / whole, 1) : 0;
    }
    return (struct chart_curve){FIT_POINTS, x, y};
}

static struct chart_steps mean_of(struct study_chart *c, const struct study_life *r, double z)
{
    const size_t n = r->n_mean;
    double *x = study_chart_numbers(c, n), *y = study_chart_numbers(c, n),
           *low = study_chart_numbers(c, n), *high = study_chart_numbers(c, n);
    if (n == 0 || x == NULL || y == NULL || low == NULL || high == NULL)
        return (struct chart_steps){.n = 0};
    for (size_t i = 0; i < n; i++) {
        x[i] = r->mean[i].t;
        y[i] = r->mean[i].mean;
        low[i] = fmax(y[i] - z * r->mean[i].se, 0);
        high[i] = y[i] + z * r->mean[i].se;
    }
    return (struct chart_steps){n, n, x, y, low, high};
}

static void fill_group(struct study_chart *c, const struct life_rows *rows, size_t i,
                       const struct study_life *r, struct chart_life_group *ret)
{
    const struct study_life_group *g = &r->groups[i];
    const size_t first = rows->first[i];
    double *end = study_chart_numbers(c, g->n);
    uint8_t *event = arena_get(&c->arena, g->n + 1);
    double *entry = rows->entry != NULL ? study_chart_numbers(c, g->n) : NULL;
    *ret =
        (struct chart_life_group){.name = r->n_groups > 1 ? study_chart_say(c, "%s", g->name) : ""};
    if (end == NULL || event == NULL || (rows->entry != NULL && entry == NULL))
        return;
    memcpy(end, rows->end + first, g->n * sizeof *end);
    memcpy(event, rows->event + first, g->n);
    if (entry != NULL)
        memcpy(entry, rows->entry + first, g->n * sizeof *entry);
    ret->n = g->n;
    ret->end = end;
    ret->event = event;
    ret->entry = entry;
    ret->left = steps_of(c, g);
    ret->fit = fit_of(c, g, g->n > 0 ? end[g->n - 1] : 0);
}

enum err study_chart_life(const struct study_table *t, const struct study_life_order *order,
                          const struct study_life *r, const struct study_chart_about *about,
                          struct study_chart *ret, struct fault *reterr)
{
    struct life_rows rows = {.n = 0};
    study_chart_begin(ret, CHART_LIFE);
    const char *unit = study_chart_unit(about);
    struct chart_life_group *groups = arena_get(&ret->arena, (r->n_groups + 1) * sizeof *groups);
    if (rows_of(t, r->n_groups, &rows) != ERR_OK || groups == NULL) {
        life_rows_done(&rows);
        return fault_no_memory(reterr);
    }
    for (size_t i = 0; i < r->n_groups; i++)
        fill_group(ret, &rows, i, r, &groups[i]);
    life_rows_done(&rows);
    ret->chart.title = title(ret, r, unit);
    const bool has_band = r->n_groups <= 2;
    ret->chart.how = study_chart_say(
        ret,
        "Steps: share still whole (Kaplan and Meier)%s; ticks: units still whole when last "
        "seen%s.%s%s",
        has_band ? study_chart_say(ret, "; band: its interval of %g %%", 100 * order->confidence)
                 : "",
        has_band ? "; dots: Weibull curve" : "",
        r->n_units > 0
            ? " Right: mean number of failures, with repeats (Nelson); band: its interval."
            : "",
        further(ret, r, order->forecast, unit));
    ret->chart.life = (struct chart_life){
        .unit = unit, .confidence = order->confidence, .n_groups = r->n_groups, .groups = groups};
    ret->chart.life.mean = mean_of(ret, r, normal_quantile((1 + order->confidence) / 2));
    study_chart_words(ret, &r->notes, t, about);
    return study_chart_end(ret, reterr);
}
