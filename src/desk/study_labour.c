/* study_labour: owns the questions about working time. */
#include "desk/study_labour.h"

#include "core/normal.h"
#include "stat/line.h"
#include "stat/special.h"
#include "stat/summary.h"

#include <stdlib.h>
#include <string.h>

#define MINUTES_MAX 1e7 /* nineteen years */

struct work {
    const struct study_table *t;
    const struct study_labour_order *order;
    struct study_labour *ret;
    double *x, *y; /* rows of room each */
    size_t n;
};

void study_labour_wants(const char *minutes, const char *order, const char *by,
                        struct study_want wants[LABOUR_COLUMNS])
{
    wants[LABOUR_MINUTES] =
        (struct study_want){.column = minutes, .type = STUDY_NUMBER, .low = 0, .high = MINUTES_MAX};
    wants[LABOUR_ORDER] =
        (struct study_want){.column = order, .type = STUDY_NUMBER, .low = 0, .high = 1e9};
    wants[LABOUR_BY] = (struct study_want){.column = by, .type = STUDY_TEXT};
}

/* Both go into logarithms. */
static enum err check_positive(const struct work *w, size_t column, struct fault *f)
{
    const double *x = study_numbers(w->t, column);
    for (size_t i = 0; x != NULL && i < w->n; i++)
        if (!(x[i] > 0))
            return study_row_fault(w->t, i, column, f, ERR_DOMAIN, "found %g; expected more than 0",
                                   x[i]);
    return ERR_OK;
}

static void find_typical(const struct work *w)
{
    struct study_labour *r = w->ret;
    const double level = w->order->confidence;
    memcpy(w->x, study_numbers(w->t, LABOUR_MINUTES), w->n * sizeof *w->x);
    stat_mean_sd(w->x, w->n, &r->mean_min, &r->sd_min);
    stat_sort(w->x, w->n);
    r->p50_min = stat_quantile(w->x, w->n, 0.5);
    r->p80_min = stat_quantile(w->x, w->n, 0.8);
    r->p50.is_known = stat_quantile_interval(w->x, w->n, 0.5, level, &r->p50.low, &r->p50.high);
    r->p80.is_known = stat_quantile_interval(w->x, w->n, 0.8, level, &r->p80.low, &r->p80.high);
    const double half =
        stat_t_quantile((1 + level) / 2, (double)(w->n - 1)) * r->sd_min / sqrt((double)w->n);
    r->mean = (struct study_interval){true, r->mean_min - half, r->mean_min + half};
    r->standard_min = r->mean_min * w->order->rating * (1 + w->order->relaxation);
    r->allowance_min = stat_quantile(w->x, w->n, w->order->share);
}

static void find_needed(const struct work *w)
{
    struct study_labour *r = w->ret;
    const double z = normal_quantile((1 + w->order->confidence) / 2);
    const double root = z * r->sd_min / (w->order->within * r->mean_min);
    r->needed_exact = root * root;
    r->needed = r->needed_exact > 1e15 ? -1 : (int64_t)ceil(fmax(r->needed_exact, 2));
}

/* ---- learning ------------------------------------------------------------------------------ */

static void note_learning(const struct work *w)
{
    struct study_labour *r = w->ret;
    if (r->slope_p < 0.05 && r->slope < 0)
        study_note(
            &r->notes, STUDY_CAVEAT,
            "The time still falls with practice (p %.2g), so mean and percentiles mix early and "
            "later jobs; set the labour by what a practised person takes.",
            r->slope_p);
    else if (r->slope_p < 0.05)
        study_note(
            &r->notes, STUDY_CAVEAT,
            "The time rises with the order (p %.2g): something other than learning is at work.",
            r->slope_p);
    else
        study_note(
            &r->notes, STUDY_CHECKED,
            "No learning can be told from chance in these jobs (p %.2g), so one mean for all "
            "is fair.",
            r->slope_p);
}

static void find_learning(const struct work *w)
{
    struct study_labour *r = w->ret;
    const double *minutes = study_numbers(w->t, LABOUR_MINUTES);
    const double *order = study_numbers(w->t, LABOUR_ORDER);
    struct stat_line line;
    if (order == NULL)
        return;
    for (size_t i = 0; i < w->n; i++) {
        w->x[i] = log(order[i]);
        w->y[i] = log(minutes[i]);
    }
    if (!stat_line_fit(w->x, w->y, w->n, &line)) {
        study_note(&r->notes, STUDY_CAVEAT,
                   "Every job has the same order, so there is no learning curve.");
        return;
    }
    r->has_learning = true;
    r->slope = line.slope;
    r->se_slope = line.se_slope;
    r->r2 = line.r2;
    r->learning_rate = exp2(line.slope);
    r->first_unit_min = exp(line.intercept);
    if (line.df < 1) {
        study_note(&r->notes, STUDY_CAVEAT,
                   "Two jobs make a learning curve through both; its uncertainty is unknown.");
        return;
    }
    const double t = stat_t_quantile((1 + w->order->confidence) / 2, line.df);
    r->rate = (struct study_interval){true, exp2(line.slope - t * line.se_slope),
                                      exp2(line.slope + t * line.se_slope)};
    r->first_unit = (struct study_interval){true, exp(line.intercept - t * line.se_intercept),
                                            exp(line.intercept + t * line.se_intercept)};
    r->slope_p = line.se_slope > 0 ? stat_t_two_sided(line.slope / line.se_slope, line.df)
                                   : (line.slope != 0 ? 0 : 1);
    study_note(
        &r->notes, STUDY_ASSUMED,
        "Learning follows Wright's unit curve: each doubling of the count takes the same share "
        "off; scatter about it is alike in per cent and independent from job to job.");
    note_learning(w);
}

/* ---- shops --------------------------------------------------------------------------------- */

struct shop {
    double n, sum, squares; /* squares: about the shop's mean */
};

/* Variance components of a one-way layout by the moments of its analysis of variance; n0 for unequal shops. */
static void find_components(const struct work *w, const struct shop *shops, double z)
{
    struct study_labour *r = w->ret;
    const double n = (double)w->n, k = (double)r->n_shops;
    double within = 0, between = 0, n2 = 0;
    for (size_t i = 0; i < r->n_shops; i++) {
        const double d = shops[i].sum / shops[i].n - r->mean_min;
        within += shops[i].squares;
        between += shops[i].n * d * d;
        n2 += shops[i].n * shops[i].n;
    }
    r->has_model = k >= 2 && n > k;
    if (!r->has_model)
        return;
    const double ms_within = within / (n - k), ms_between = between / (k - 1);
    const double n0 = (n - n2 / n) / (k - 1);
    double mean = 0;
    for (size_t i = 0; i < r->n_shops; i++)
        mean += shops[i].sum / shops[i].n / k;
    r->within_sd_min = sqrt(ms_within);
    r->between_sd_min = sqrt(fmax(0, (ms_between - ms_within) / n0));
    r->model_min = mean + z * r->between_sd_min;
    study_note(&r->notes, STUDY_ASSUMED,
               "For the modelled allowance: shops differ by a normal distribution about their "
               "common mean.");
    if (ms_between < ms_within)
        study_note(&r->notes, STUDY_CAVEAT,
                   "Shops differ less than the jobs within them make expect; their own spread is "
                   "put at 0.");
}

static enum err find_shops(const struct work *w, struct fault *f)
{
    struct study_labour *r = w->ret;
    const uint32_t *by = study_texts(w->t, LABOUR_BY);
    const double *minutes = study_numbers(w->t, LABOUR_MINUTES);
    if (by == NULL)
        return ERR_OK;
    r->n_shops = study_n_texts(w->t, LABOUR_BY);
    struct shop *shops = calloc(r->n_shops, sizeof *shops);
    if (shops == NULL)
        return fault_no_memory(f);
    for (size_t i = 0; i < w->n; i++) {
        shops[by[i]].n++;
        shops[by[i]].sum += minutes[i];
    }
    for (size_t i = 0; i < w->n; i++) {
        const double d = minutes[i] - shops[by[i]].sum / shops[by[i]].n;
        shops[by[i]].squares += d * d;
    }
    for (size_t i = 0; i < r->n_shops; i++)
        w->x[i] = shops[i].sum / shops[i].n;
    stat_sort(w->x, r->n_shops);
    r->allowance_min = stat_quantile(w->x, r->n_shops, w->order->share);
    find_components(w, shops, normal_quantile(w->order->share));
    if (r->n_shops < 10)
        study_note(&r->notes, STUDY_CAVEAT, "%zu shop%s: a share of them is a rough figure.",
                   r->n_shops, r->n_shops == 1 ? "" : "s");
    free(shops);
    return ERR_OK;
}

/* ---- together ------------------------------------------------------------------------------ */

static void note_sample(const struct work *w)
{
    struct study_labour *r = w->ret;
    study_note(&r->notes, STUDY_ASSUMED,
               "The jobs are a fair sample of those to come, timed in the same way.");
    if (r->needed < 0 || (double)w->n < r->needed_exact)
        study_note(&r->notes, STUDY_CAVEAT,
                   "Too few jobs yet for a mean within %g %% at %g %% confidence.",
                   100 * w->order->within, 100 * w->order->confidence);
    else
        study_note(&r->notes, STUDY_CHECKED,
                   "Enough jobs for a mean within %g %% at %g %% confidence.",
                   100 * w->order->within, 100 * w->order->confidence);
    if (!r->p50.is_known || !r->p80.is_known)
        study_note(&r->notes, STUDY_CAVEAT,
                   "Too few jobs for an interval of %s without assuming a distribution.",
                   r->p50.is_known ? "the 80th percentile" : "the percentiles");
}

static enum err check(const struct work *w, struct fault *f)
{
    const double *minutes = study_numbers(w->t, LABOUR_MINUTES);
    bool is_constant = true;
    if (w->n < 2)
        return study_table_fault(w->t, f, ERR_EMPTY, "found %zu row%s; expected two or more jobs",
                                 w->n, w->n == 1 ? "" : "s");
    enum err e = check_positive(w, LABOUR_MINUTES, f);
    if (e == ERR_OK)
        e = check_positive(w, LABOUR_ORDER, f);
    for (size_t i = 1; e == ERR_OK && i < w->n; i++)
        is_constant &= minutes[i] == minutes[0];
    if (e == ERR_OK && is_constant)
        return study_table_fault(
            w->t, f, ERR_DOMAIN,
            "all %zu jobs took exactly %g minutes: no times of real work vary so "
            "little, so nothing can be said of their spread",
            w->n, minutes[0]);
    return e;
}

enum err study_labour(const struct study_table *t, const struct study_labour_order *order,
                      struct study_labour *ret, struct fault *reterr)
{
    struct study_labour r = {.n = study_rows(t)};
    struct work w = {.t = t, .order = order, .ret = &r, .n = study_rows(t)};
    enum err e = check(&w, reterr);
    if (e != ERR_OK)
        return e;
    w.x = malloc(w.n * sizeof *w.x);
    w.y = malloc(w.n * sizeof *w.y);
    if (w.x != NULL && w.y != NULL) {
        find_typical(&w);
        find_needed(&w);
        note_sample(&w);
        find_learning(&w);
        e = find_shops(&w, reterr);
    } else
        e = fault_no_memory(reterr);
    free(w.x);
    free(w.y);
    if (e != ERR_OK)
        return e;
    r.covers = order->paid_min <= 0 || order->paid_min >= r.allowance_min;
    *ret = r;
    return ERR_OK;
}
