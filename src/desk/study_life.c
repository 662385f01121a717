/* study_life: owns the question how long units last: curves, groups, repeats, forecasts, and what they rest on. */
#include "desk/study_life.h"

#include "core/normal.h"
#include "desk/life_rows.h"
#include "stat/forecast.h"
#include "stat/rates.h"
#include "stat/special.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define TIME_MAX 1e12
#define LOG_MOST 700 /* exp of it is still a number */
enum {
    OPEN_MAX = 512,
    CURE_TERMS_MAX = 4000,
    FEW_EVENTS = 10,
    FEW_AT_RISK = 5,
    NOTES_OF_GROUP = 5
};

void study_life_wants(const char *time, const char *event, const char *entry, const char *group,
                      const char *unit, struct study_want wants[LIFE_COLUMNS])
{
    wants[LIFE_TIME] =
        (struct study_want){.column = time, .type = STUDY_NUMBER, .low = 0, .high = TIME_MAX};
    wants[LIFE_EVENT] = (struct study_want){.column = event, .type = STUDY_YES};
    wants[LIFE_ENTRY] =
        (struct study_want){.column = entry, .type = STUDY_NUMBER, .low = 0, .high = TIME_MAX};
    wants[LIFE_GROUP] = (struct study_want){.column = group, .type = STUDY_TEXT};
    wants[LIFE_UNIT] = (struct study_want){.column = unit, .type = STUDY_TEXT};
}

struct work {
    const struct study_table *t;
    const struct study_life_order *order;
    struct study_life *ret;
    double z; /* of the confidence, two-sided */
    struct life_rows rows;
    struct weibull_term *terms; /* [2 * rows] */
    size_t n_cut;               /* units whose last row is a failure */
    size_t n_merged;            /* terms left where a mixture's were put together; 0: nowhere */
};

void study_life_done(struct study_life *r)
{
    for (size_t g = 0; r->groups != NULL && g < r->n_groups; g++) {
        free(r->groups[g].steps);
        free(r->groups[g].low);
        free(r->groups[g].high);
    }
    free(r->groups);
    free(r->mean);
    free(r->mean_low);
    free(r->mean_high);
    *r = (struct study_life){.n_rows = 0};
}

/* ---- the curve without assumption -------------------------------------------------------------- */

/* S to the power e^(-+ z s), s the error of log(-log S): S^.. stays inside 0..1. */
void study_life_interval(const struct life_step *s, double z, double *low, double *high)
{
    if (!s->has_se || s->survival >= 1) {
        *low = *high = s->survival;
        return;
    }
    const double log_s = log(s->survival);
    const double half = z * sqrt(s->greenwood) / fabs(log_s);
    *low = exp(log_s * exp(half));
    *high = exp(log_s * exp(-half));
}

/* Median: the first time at which the curve is at or below a half; its interval where the curve's ends cross it (Brookmeyer & Crowley
 * 1982). */
static void find_median(struct study_life_group *g)
{
    struct study_life_range *m = &g->median;
    m->is_known = life_quantile(g->steps, g->n_steps, 0.5, &m->value);
    for (size_t i = 0; i < g->n_steps; i++) {
        if (!m->has_low && g->low[i] <= 0.5) {
            m->has_low = true;
            m->low = g->steps[i].t;
        }
        if (!m->has_high && g->steps[i].has_se && g->high[i] <= 0.5) {
            m->has_high = true;
            m->high = g->steps[i].t;
        }
    }
}

static enum err find_steps(struct work *w, size_t i)
{
    struct study_life_group *g = &w->ret->groups[i];
    const size_t first = w->rows.first[i];
    const double *entry = w->rows.entry != NULL ? w->rows.entry + first : NULL;
    size_t room = 0; /* different times with a failure */
    for (size_t k = first; k < first + g->n; k++) {
        g->n_events += w->rows.event[k];
        g->watched += w->rows.end[k] - (entry != NULL ? entry[k - first] : 0);
        room += w->rows.event[k] != 0;
        g->has_zero_event |= w->rows.event[k] && w->rows.end[k] == 0;
    }
    g->n_open = g->n - g->n_events;
    g->steps = malloc((room + 1) * sizeof *g->steps);
    g->low = malloc((room + 1) * sizeof *g->low);
    g->high = malloc((room + 1) * sizeof *g->high);
    if (g->steps == NULL || g->low == NULL || g->high == NULL)
        return ERR_MEMORY;
    const enum err e = life_steps(entry, w->rows.end + first, w->rows.event + first, g->n, g->steps,
                                  room, &g->n_steps);
    for (size_t k = 0; e == ERR_OK && k < g->n_steps; k++)
        study_life_interval(&g->steps[k], w->z, &g->low[k], &g->high[k]);
    if (e == ERR_OK)
        find_median(g);
    return e;
}

/* ---- the Weibull curve ------------------------------------------------------------------------- */

static struct study_life_range on_logs(double log_value, double se, double z)
{
    const struct study_life_range r = {.is_known = true,
                                       .value = exp(log_value),
                                       .low = exp(log_value - z * se),
                                       .high = exp(log_value + z * se)};
    struct study_life_range ret = r;
    ret.has_low = isfinite(r.low);
    ret.has_high = isfinite(r.high);
    return ret;
}

/* By the likelihood itself, which is right with few failures; with many, by standard errors, which is the same and quicker. */
static void find_ranges(const struct work *w, struct study_life_group *g, size_t n_terms)
{
    struct weibull_ends ends;
    g->scale = on_logs(g->weibull.log_scale, g->weibull.se_log_scale, w->z);
    g->shape = on_logs(g->weibull.log_shape, g->weibull.se_log_shape, w->z);
    if (g->n_events > LIFE_MANY_EVENTS)
        return;
    weibull_find_ends(w->terms, n_terms, &g->weibull, w->z, &ends);
    g->scale.has_low = ends.has_scale_low;
    g->scale.low = exp(ends.log_scale_low);
    g->scale.has_high = ends.has_scale_high && ends.log_scale_high < LOG_MOST;
    g->scale.high = g->scale.has_high ? exp(ends.log_scale_high) : 0;
    g->shape.has_low = ends.has_shape_low;
    g->shape.low = exp(ends.log_shape_low);
    g->shape.has_high = ends.has_shape_high;
    g->shape.high = exp(ends.log_shape_high);
}

/* How far the fitted curve lies from the steps: given that a unit is whole at the first entry where there is one. */
static void find_misfit(struct study_life_group *g)
{
    const double from =
        g->first_entry > 0
            ? weibull_survival(log(g->first_entry), g->weibull.log_scale, g->weibull.log_shape)
            : 1;
    double before = 1;
    for (size_t i = 0; i < g->n_steps && from > 0; i++) {
        const double s =
            weibull_survival(log(g->steps[i].t), g->weibull.log_scale, g->weibull.log_shape) / from;
        g->misfit = fmax(g->misfit, fmax(fabs(s - g->steps[i].survival), fabs(s - before)));
        before = g->steps[i].survival;
        g->n_outside += g->steps[i].has_se && (s < g->low[i] || s > g->high[i]);
    }
}

static void find_cure(struct work *w, struct study_life_group *g, size_t n_terms)
{
    const bool is_plain = g->outcome == WEIBULL_FITTED;
    const size_t n = life_terms_merge(w->terms, n_terms, CURE_TERMS_MAX);
    struct weibull merged;
    const bool is_merged = n < n_terms;
    const struct weibull *plain = is_plain ? &g->weibull : NULL;
    if (is_plain && is_merged && weibull_fit(w->terms, n, &merged) == WEIBULL_FITTED)
        plain = &merged;
    g->has_cure = cure_fit(w->terms, n, plain, &g->cure) == WEIBULL_FITTED;
    if (g->has_cure && plain != NULL)
        g->cure_p = g->cure.is_bounded
                        ? stat_chi2_upper(fmax(0, 2 * (g->cure.loglik - plain->loglik)), 1) / 2
                        : 1;
    if (is_merged)
        w->n_merged = n;
}

static enum err find_forecast(const struct work *w, struct study_life_group *g, size_t i)
{
    struct forecast_open *open = malloc(OPEN_MAX * sizeof *open);
    double *draws = malloc(LIFE_DRAWS * sizeof *draws);
    if (open != NULL && draws != NULL) {
        const size_t n_open = life_open(&w->rows, i, open, OPEN_MAX);
        const struct forecast_question q = {open, n_open, w->order->forecast, w->order->seed,
                                            LIFE_DRAWS};
        const double tail = (1 - w->order->confidence) / 2;
        g->forecast.value = forecast_weibull(&g->weibull, &q, draws);
        g->forecast.low = draws[(size_t)(tail * LIFE_DRAWS)];
        g->forecast.high = draws[LIFE_DRAWS - 1 - (size_t)(tail * LIFE_DRAWS)];
        g->forecast.is_known = g->forecast.has_low = g->forecast.has_high = true;
    }
    const bool is_good = open != NULL && draws != NULL;
    free(open);
    free(draws);
    return is_good ? ERR_OK : ERR_MEMORY;
}

static enum err find_curve(struct work *w, size_t i)
{
    struct study_life_group *g = &w->ret->groups[i];
    double unused = 0;
    if (g->n_events == 0 && g->watched > 0)
        rates_bounds(0, g->watched, w->order->confidence, &unused, &g->rate_high);
    g->outcome = g->n_events == 0 ? WEIBULL_NO_EVENT : WEIBULL_UNSETTLED;
    if (g->has_zero_event)
        return ERR_OK;
    const size_t n_terms = life_terms(&w->rows, i, w->terms);
    g->outcome = weibull_fit(w->terms, n_terms, &g->weibull);
    if (g->outcome == WEIBULL_FITTED) {
        find_ranges(w, g, n_terms);
        const double lr = 2 * (g->weibull.loglik - g->weibull.exponential_loglik);
        g->shape_p = stat_chi2_upper(fmax(0, lr), 1);
        find_misfit(g);
    }
    if (w->order->has_cure && g->n_events > 0)
        find_cure(w, g, n_terms);
    return g->outcome == WEIBULL_FITTED && w->order->forecast > 0 ? find_forecast(w, g, i) : ERR_OK;
}

/* ---- what the answer rests on ------------------------------------------------------------------ */

static void note_group(const struct work *w, const struct study_life_group *g)
{
    struct study_notes *notes = &w->ret->notes;
    const char *dot = w->ret->n_groups > 1 ? g->name : "all units";
    if (g->has_zero_event)
        study_note(
            notes, STUDY_CAVEAT,
            "%.60s: something failed at time 0, which no Weibull curve can hold; none is given.",
            dot);
    else if (g->outcome != WEIBULL_FITTED)
        study_note(notes, STUDY_CAVEAT, "%.60s: no Weibull curve, because %s.", dot,
                   weibull_outcome_text(g->outcome));
    else if (g->n_outside * 10 > g->n_steps)
        study_note(notes, STUDY_CAVEAT,
                   "%.60s: the Weibull curve lies outside the interval of %zu of %zu steps, up to "
                   "%.2g from them: believe the steps, not the curve, and no forecast from it.",
                   dot, g->n_outside, g->n_steps, g->misfit);
    else
        study_note(notes, STUDY_CHECKED,
                   "%.60s: the Weibull curve keeps within %.2g of the steps, and inside their "
                   "intervals at %zu of %zu.",
                   dot, g->misfit, g->n_steps - g->n_outside, g->n_steps);
    if (g->n_events > 0 && g->n_events < FEW_EVENTS)
        study_note(notes, STUDY_CAVEAT,
                   "%.60s: only %zu failed, so intervals and errors are rough.", dot, g->n_events);
    if (w->rows.entry != NULL && g->n_steps > 0 && g->steps[0].at_risk < FEW_AT_RISK)
        study_note(notes, STUDY_CAVEAT,
                   "%.60s: the steps begin with %lld at risk; all later ones hang on that.", dot,
                   (long long)g->steps[0].at_risk);
    if (w->order->has_cure && !g->has_cure && g->n_events > 0)
        study_note(notes, STUDY_CAVEAT, "%.60s: the mixture did not settle, so none is given.",
                   dot);
    if (g->has_cure && !g->cure.is_bounded)
        study_note(
            notes, STUDY_CHECKED,
            "%.60s: nothing points to units that never fail; the mixture is the plain curve.", dot);
}

/* The error of the mean cumulative function comes from how units differ, which few units cannot show. */
static void note_mean(struct study_life *r)
{
    size_t i = 0;
    while (i < r->n_mean && r->mean[i].at_risk >= FEW_AT_RISK)
        i++;
    if (i < r->n_mean)
        study_note(&r->notes, STUDY_CAVEAT,
                   "From %g on fewer than %d units are watched: how much units differ is hardly "
                   "known then, so the mean's interval is a rough one, or none.",
                   r->mean[i].t, (int)FEW_AT_RISK);
}

static void note_all(const struct work *w)
{
    struct study_notes *notes = &w->ret->notes;
    study_note(
        notes, STUDY_ASSUMED,
        "A unit that was still whole when last seen is as likely to fail later as the others: "
        "nobody stopped watching because it was about to fail, or about not to.");
    if (w->rows.entry != NULL)
        study_note(notes, STUDY_ASSUMED,
                   "Units came under watch for reasons that say nothing of when they will fail.");
    if (w->ret->n_units > 0)
        study_note(
            notes, STUDY_ASSUMED,
            "Units are independent of each other; failures of one unit need not be. The steps "
            "and the Weibull curve are of each unit's first failure.");
    if (w->n_cut > 0)
        study_note(
            notes, STUDY_CAVEAT,
            "%zu unit%s with a failure: taken as watched no longer than to it. Give each unit a "
            "last row, without a failure, for when watching ended.",
            w->n_cut, w->n_cut == 1 ? " ends" : "s end");
    note_mean(w->ret);
    if (w->order->forecast > 0)
        study_note(notes, STUDY_ASSUMED,
                   "Units go on being used as before, and nothing is done to them.");
    if (w->n_merged > 0)
        study_note(notes, STUDY_ASSUMED,
                   "For the mixture, neighbouring times were put together into %zu.", w->n_merged);
    for (size_t g = 0; g < w->ret->n_groups; g++) {
        if (notes->n + NOTES_OF_GROUP + 1 > STUDY_NOTES_MAX) {
            study_note(notes, STUDY_CAVEAT,
                       "What is to be said of the other %zu groups did not fit in here: study them "
                       "by themselves.",
                       w->ret->n_groups - g);
            break;
        }
        note_group(w, &w->ret->groups[g]);
    }
}

/* ---- together ---------------------------------------------------------------------------------- */

static void stop_at(struct work *w, size_t n_done)
{
    study_note(
        &w->ret->notes, STUDY_CAVEAT,
        "Stopped before the end: %zu of %zu groups were worked, and groups are not compared.",
        n_done, w->ret->n_groups);
    w->ret->n_groups = n_done; /* those after it hold nothing yet */
    w->ret->is_stopped = true;
}

static enum err find_groups(struct work *w, struct fault *f)
{
    struct study_life *r = w->ret;
    enum err e = ERR_OK;
    assert(w->rows.first != NULL);
    for (size_t g = 0; e == ERR_OK && g < r->n_groups; g++) {
        struct study_life_group *group = &r->groups[g];
        if (!study_go_on(w->order->watch, "groups", g, r->n_groups)) {
            if (g == 0)
                return fault_set(f, ERR_BUSY,
                                 "stopped before the first group; there is no part of an answer");
            stop_at(w, g);
            return ERR_OK;
        }
        group->name = study_texts(w->t, LIFE_GROUP) != NULL
                          ? study_text(w->t, LIFE_GROUP, (uint32_t)g)
                          : "all";
        group->n = w->rows.first[g + 1] - w->rows.first[g];
        group->first_entry = w->rows.entry != NULL ? w->rows.entry[w->rows.first[g]] : 0;
        e = find_steps(w, g);
        if (e == ERR_OK)
            e = find_curve(w, g);
    }
    if (e == ERR_OK && r->n_groups > 1) {
        e = life_logrank(w->rows.all_entry, w->rows.all_entry_group, w->rows.all_end,
                         w->rows.all_event, w->rows.all_group, w->rows.n, (int)r->n_groups,
                         &r->logrank);
        r->has_logrank = e == ERR_OK && r->logrank.df > 0;
        if (r->has_logrank)
            r->logrank_p = stat_chi2_upper(r->logrank.chi2, r->logrank.df);
    }
    return e == ERR_OK ? ERR_OK : fault_set(f, e, "%s", err_text(e));
}

static enum err check_entries(const struct study_table *t, struct fault *f)
{
    const double *end = study_numbers(t, LIFE_TIME), *entry = study_numbers(t, LIFE_ENTRY);
    for (size_t i = 0; entry != NULL && i < study_rows(t); i++)
        if (!(entry[i] < end[i]))
            return study_row_fault(
                t, i, LIFE_ENTRY, f, ERR_ORDER,
                "found an entry at %g and an end at %g; expected the entry first", entry[i],
                end[i]);
    return ERR_OK;
}

/* ---- repeats ----------------------------------------------------------------------------------- */

struct repeat {
    double t;
    uint32_t unit;
    uint8_t event;
};

/* Equal times: failures before the end of watching. */
static int by_time(const void *a, const void *b)
{
    const struct repeat *x = a, *y = b;
    if (x->t != y->t)
        return x->t > y->t ? 1 : -1;
    return (int)y->event - (int)x->event;
}

/* Each unit's first failure, or else its last row, into first[], event[]; the mean cumulative function into ret. */
static enum err find_mean(struct work *w, struct repeat *list, double *first, uint8_t *event,
                          struct fault *f)
{
    const size_t n = study_rows(w->t), n_units = w->ret->n_units;
    double *t = malloc(n * sizeof *t), *scratch = malloc(3 * n_units * sizeof *scratch);
    uint32_t *unit = malloc(n * sizeof *unit);
    uint8_t *events = malloc(n);
    w->ret->mean = malloc(n * sizeof *w->ret->mean);
    w->ret->mean_low = malloc(n * sizeof *w->ret->mean_low);
    w->ret->mean_high = malloc(n * sizeof *w->ret->mean_high);
    enum err e = ERR_MEMORY;
    if (t != NULL && scratch != NULL && unit != NULL && events != NULL && w->ret->mean != NULL &&
        w->ret->mean_low != NULL && w->ret->mean_high != NULL) {
        for (size_t i = 0; i < n; i++) {
            t[i] = list[i].t;
            unit[i] = list[i].unit;
            events[i] = list[i].event;
            scratch[unit[i]] = events[i]; /* of the unit's last row, in the end */
            if (event[unit[i]])
                continue;
            first[unit[i]] = t[i];
            event[unit[i]] = events[i];
        }
        for (size_t u = 0; u < n_units; u++)
            w->n_cut += scratch[u] > 0;
        e = life_mean(t, unit, events, n, n_units, scratch, w->ret->mean, n, &w->ret->n_mean);
        for (size_t i = 0; e == ERR_OK && i < w->ret->n_mean; i++) {
            const struct life_mean_step *s = &w->ret->mean[i];
            const double factor = exp(w->z * s->se / s->mean);
            w->ret->mean_low[i] = s->mean / factor;
            w->ret->mean_high[i] = s->mean * factor;
        }
    }
    free(t);
    free(scratch);
    free(unit);
    free(events);
    return e == ERR_OK ? ERR_OK : fault_set(f, e, "%s", err_text(e));
}

static enum err read_repeats(struct work *w, struct fault *f)
{
    const size_t n = study_rows(w->t), n_units = study_n_texts(w->t, LIFE_UNIT);
    const uint32_t *unit = study_texts(w->t, LIFE_UNIT);
    struct repeat *list = malloc(n * sizeof *list);
    double *first = calloc(n_units, sizeof *first);
    uint8_t *event = calloc(n_units, sizeof *event);
    w->ret->n_units = n_units;
    enum err e = ERR_MEMORY;
    if (list == NULL || first == NULL || event == NULL)
        (void)fault_set(f, e, "memory ran out");
    else {
        for (size_t i = 0; i < n; i++)
            list[i] = (struct repeat){study_numbers(w->t, LIFE_TIME)[i], unit[i],
                                      study_yes(w->t, LIFE_EVENT)[i]};
        qsort(list, n, sizeof *list, by_time);
        e = find_mean(w, list, first, event, f);
    }
    if (e == ERR_OK) {
        e = life_rows_new(first, event, NULL, NULL, n_units, 1, &w->rows);
        if (e != ERR_OK)
            (void)fault_set(f, e, "%s", err_text(e));
    }
    free(list);
    free(first);
    free(event);
    return e;
}

/* ---- the whole --------------------------------------------------------------------------------- */

static enum err read_rows(struct work *w, struct fault *f)
{
    const size_t n_groups =
        study_texts(w->t, LIFE_GROUP) != NULL ? study_n_texts(w->t, LIFE_GROUP) : 1;
    if (study_rows(w->t) == 0)
        return study_table_fault(w->t, f, ERR_EMPTY,
                                 "found no row; expected units with their times");
    if (n_groups > LIFE_GROUPS_MAX)
        return study_table_fault(w->t, f, ERR_LIMIT, "found %zu groups; expected at most %d",
                                 n_groups, (int)LIFE_GROUPS_MAX);
    w->ret->n_groups = n_groups;
    w->ret->groups = calloc(n_groups, sizeof *w->ret->groups);
    if (w->ret->groups == NULL)
        return fault_no_memory(f);
    if (study_texts(w->t, LIFE_UNIT) != NULL) {
        assert(study_texts(w->t, LIFE_GROUP) == NULL && study_numbers(w->t, LIFE_ENTRY) == NULL);
        return read_repeats(w, f);
    }
    enum err e = check_entries(w->t, f);
    if (e != ERR_OK)
        return e;
    e = life_rows_new(study_numbers(w->t, LIFE_TIME), study_yes(w->t, LIFE_EVENT),
                      study_numbers(w->t, LIFE_ENTRY), study_texts(w->t, LIFE_GROUP),
                      study_rows(w->t), n_groups, &w->rows);
    return e == ERR_OK ? ERR_OK : fault_set(f, e, "%s", err_text(e));
}

enum err study_life(const struct study_table *t, const struct study_life_order *order,
                    struct study_life *ret, struct fault *reterr)
{
    struct study_life r = {.n_rows = study_rows(t)};
    struct work w = {
        .t = t, .order = order, .ret = &r, .z = normal_quantile((1 + order->confidence) / 2)};
    enum err e = read_rows(&w, reterr);
    if (e == ERR_OK) {
        w.terms = malloc((2 * w.rows.n + 1) * sizeof *w.terms);
        e = w.terms != NULL ? find_groups(&w, reterr) : fault_no_memory(reterr);
    }
    if (e == ERR_OK)
        note_all(&w);
    free(w.terms);
    life_rows_done(&w.rows);
    if (e != ERR_OK) {
        study_life_done(&r);
        return e;
    }
    *ret = r;
    return ERR_OK;
}
