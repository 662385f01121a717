/* study_window: owns the question which build days are bad: run after run, its ends, its price, and what the answer rests on. */
#include "desk/study_window.h"

#include "desk/study_window_inner.h"
#include "stat/special.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

void study_window_wants(const char *day, const char *built, const char *failed,
                        const char *exposure, struct study_want wants[WINDOW_COLUMNS])
{
    wants[WINDOW_DAY] = (struct study_want){.column = day, .type = STUDY_TEXT};
    wants[WINDOW_BUILT] = (struct study_want){
        .column = built, .type = STUDY_NUMBER, .low = 0, .high = 1e12, .is_whole = true};
    wants[WINDOW_FAILED] = (struct study_want){
        .column = failed, .type = STUDY_NUMBER, .low = 0, .high = 1e12, .is_whole = true};
    wants[WINDOW_EXPOSURE] =
        (struct study_want){.column = exposure, .type = STUDY_NUMBER, .low = 0, .high = 1e12};
}

struct work {
    const struct study_window_order *order;
    const struct study_watch *watch;
    struct study_window *ret;
    struct window_days days;
    struct window_scan scan;
};

/* ---- a run told in days ------------------------------------------------------------------------ */

static const struct window_day *day_at(const struct work *w, size_t i)
{
    return &w->days.at[w->scan.day[i]];
}

static void show(const struct work *w, size_t i, struct study_window_day *ret)
{
    window_day_show(&w->days, day_at(w, i)->key, ret);
}

static void tell_run(const struct work *w, const struct window_run *run,
                     struct study_window_run *ret)
{
    int64_t built = 0, failed = 0;
    show(w, run->first, &ret->first);
    show(w, run->last, &ret->last);
    for (size_t i = 0; i < w->scan.w.n; i++) {
        const bool is_in = i >= run->first && i <= run->last;
        ret->built += is_in ? day_at(w, i)->built : 0;
        built += is_in ? 0 : day_at(w, i)->built;
        failed += is_in ? 0 : day_at(w, i)->failed;
    }
    ret->failed = run->cases;
    ret->expected = run->expected;
    ret->llr = run->llr;
    ret->rate_inside = ret->built > 0 ? (double)ret->failed / (double)ret->built : 0;
    ret->has_outside = built > 0;
    ret->rate_outside = built > 0 ? (double)failed / (double)built : 0;
}

/* ---- the cost curve ---------------------------------------------------------------------------- */

/* The days that belong with at least `share`, and all between them. */
static struct study_window_cut cut_at(const struct work *w, double share)
{
    const struct window_scan *s = &w->scan;
    struct study_window_cut cut = {.share = share};
    size_t first = s->w.n, last = 0;
    for (size_t i = 0; i < s->w.n; i++) {
        if (s->share[i] < share)
            continue;
        first = first == s->w.n ? i : first;
        last = i;
    }
    if (first == s->w.n)
        return cut;
    show(w, first, &cut.first);
    show(w, last, &cut.last);
    for (size_t i = 0; i < s->w.n; i++) {
        const struct window_day *d = day_at(w, i);
        if (i >= first && i <= last) {
            cut.built += d->built;
            cut.failed += d->failed;
            cut.needless += (double)d->built * (1 - s->share[i]);
        } else {
            cut.left_built += (double)d->built * s->share[i];
            cut.left_failed += (double)d->failed * s->share[i];
        }
    }
    return cut;
}

static void find_curve(const struct work *w, struct study_window_run *ret)
{
    static const double shares[] = {0.99, 0.95, 0.9,  0.75, 0.5,   0.25,
                                    0.1,  0.05, 0.02, 0.01, 0.005, 0.001};
    for (size_t i = 0; i < sizeof shares / sizeof *shares; i++) {
        const struct study_window_cut cut = cut_at(w, shares[i]);
        const struct study_window_cut *last =
            ret->n_curve > 0 ? &ret->curve[ret->n_curve - 1] : NULL;
        if (cut.first.text[0] == '\0' ||
            (last != NULL && strcmp(last->first.text, cut.first.text) == 0 &&
             strcmp(last->last.text, cut.last.text) == 0))
            continue;
        ret->curve[ret->n_curve++] = cut;
    }
}

/* ---- run after run ----------------------------------------------------------------------------- */

static enum err find_ends(struct work *w, const struct window_run *run, uint64_t seed,
                          struct study_window_run *ret)
{
    struct window_set set;
    const enum err e = window_scan_drop(&w->scan, run, seed, w->order->confidence, w->watch,
                                        &ret->has_set, &ret->drop);
    if (e != ERR_OK || !ret->has_set)
        return e;
    window_within(&w->scan.w, run, ret->drop, &set, w->scan.share);
    show(w, set.first_low, &ret->first_low);
    show(w, set.first_high, &ret->first_high);
    show(w, set.last_low, &ret->last_low);
    show(w, set.last_high, &ret->last_high);
    ret->n_set = (int64_t)set.n;
    find_curve(w, ret);
    return ERR_OK;
}

static void take_out(struct work *w, const struct window_run *run)
{
    for (size_t i = run->first; i <= run->last; i++)
        w->days.at[w->scan.day[i]].is_gone = true;
}

/* The next run into ret->runs; *ret_is_last: nothing more to look for. */
static enum err find_run(struct work *w, bool *ret_is_last)
{
    const uint64_t seed = w->order->seed + w->ret->n_runs * 0x9e3779b97f4a7c15U;
    struct study_window_run *r = &w->ret->runs[w->ret->n_runs];
    struct window_run run;
    window_scan_fill(&w->scan, &w->days);
    *ret_is_last = true;
    if (w->scan.w.n < 2 || w->scan.w.n_cases == 0)
        return ERR_OK;
    window_best(&w->scan.w, &w->scan.works[0], &run);
    if (run.llr <= 0)
        return ERR_OK;
    tell_run(w, &run, r);
    enum err e =
        window_scan_p(&w->scan, run.llr, seed, w->order->n_draws, w->watch, &r->p, &r->n_draws);
    if (e != ERR_OK)
        return e;
    w->ret->n_runs++;
    w->ret->is_stopped = r->n_draws < w->order->n_draws;
    r->is_found = r->p <= 1 - w->order->confidence + 1e-12;
    if (w->ret->is_stopped)
        return ERR_OK;
    e = find_ends(w, &run, seed, r);
    if (e != ERR_OK)
        return e;
    w->ret->is_stopped = !r->has_set;
    *ret_is_last = !r->is_found || w->ret->is_stopped;
    if (r->is_found)
        take_out(w, &run);
    return ERR_OK;
}

/* ---- what the answer rests on ------------------------------------------------------------------ */

/* Pearson's chi-square of the days outside all runs found, neighbours put together until each has five expected. */
static double scatter(const struct work *w, double rate, double *ret_df)
{
    double exposure = 0, failed = 0, chi2 = 0;
    *ret_df = -1;
    for (size_t i = 0; i < w->days.n; i++) {
        if (w->days.at[i].is_gone)
            continue;
        exposure += w->days.at[i].exposure;
        failed += (double)w->days.at[i].failed;
        const double expected = exposure * rate;
        if (expected < 5)
            continue;
        chi2 += (failed - expected) * (failed - expected) / expected;
        ++*ret_df;
        exposure = failed = 0;
    }
    return chi2;
}

static void note_scatter(const struct work *w)
{
    struct study_window *r = w->ret;
    double exposure = 0, failed = 0, df = 0;
    for (size_t i = 0; i < w->days.n; i++) {
        exposure += w->days.at[i].is_gone ? 0 : w->days.at[i].exposure;
        failed += w->days.at[i].is_gone ? 0 : (double)w->days.at[i].failed;
    }
    const double chi2 = exposure > 0 && failed > 0 ? scatter(w, failed / exposure, &df) : 0;
    if (df < 4) {
        study_note(
            &r->notes, STUDY_ASSUMED,
            "Outside, failures fall on days by chance alone; there are too few to check it.");
        return;
    }
    const double p = stat_chi2_upper(chi2, df);
    if (p < 0.01)
        study_note(&r->notes, STUDY_CAVEAT,
                   "The days outside differ more than chance alone makes them (chi-square %.0f on "
                   "%.0f degrees of freedom, p %.2g): there may be another bad run (--windows), or "
                   "failures come in clusters, and then the p-value is too small.",
                   chi2, df, p);
    else
        study_note(&r->notes, STUDY_CHECKED,
                   "The days outside differ no more than chance makes them (chi-square %.0f on "
                   "%.0f degrees of freedom, p %.2g).",
                   chi2, df, p);
}

static size_t n_overfull(const struct work *w)
{
    size_t n = 0;
    for (size_t i = 0; i < w->days.n; i++)
        n += w->days.at[i].failed > w->days.at[i].built;
    return n;
}

static void note_all(const struct work *w)
{
    struct study_window *r = w->ret;
    if (r->is_by_exposure)
        study_note(&r->notes, STUDY_ASSUMED,
                   "A failure is expected in proportion to the exposure, alike early and late.");
    else
        study_note(
            &r->notes, STUDY_ASSUMED,
            "Every unit has had the same time to fail. When later builds have had less, name "
            "a column of their time in service with --exposure.");
    study_note(
        &r->notes, STUDY_ASSUMED,
        "One unit's failure makes no other's likelier, and all failures are reported alike.");
    if (r->failed * 10 > r->built)
        study_note(&r->notes, STUDY_CAVEAT,
                   "More than a tenth of the units failed. A unit fails once, so the days vary a "
                   "little less than the draws do: the p-value errs on the large side.");
    const size_t n_over = n_overfull(w);
    if (n_over > 0)
        study_note(&r->notes, STUDY_CAVEAT,
                   "On %zu day%s more failed than were built: the columns were mixed up, or "
                   "units failed more than once, which makes the p-value too small.",
                   n_over, n_over == 1 ? "" : "s");
    if (r->failed > r->built)
        study_note(&r->notes, STUDY_CAVEAT,
                   "There are more failures than units: is the column a count of units?");
    note_scatter(w);
    if (r->is_stopped)
        study_note(
            &r->notes, STUDY_CAVEAT,
            "Stopped before the end: the p-value rests on the draws that were made, and what "
            "comes after it is missing.");
    if (r->n_runs > 0 && r->runs[0].p * (1 + (double)r->runs[0].n_draws) < 1.5)
        study_note(&r->notes, STUDY_CHECKED,
                   "No draw came up to the run: its p-value is the least that so many draws can "
                   "give.");
}

/* ---- together ---------------------------------------------------------------------------------- */

static enum err check(const struct work *w, const struct study_table *t, struct fault *f)
{
    const struct study_window *r = w->ret;
    if (w->days.n < 2)
        return study_table_fault(
            t, f, ERR_DOMAIN, "all units are from one day, so no days can be held against others");
    if (r->failed == 0)
        return study_table_fault(t, f, ERR_DOMAIN,
                                 "nothing failed on any of %zu days, so no day can stand out",
                                 w->days.n);
    if (r->failed > WINDOW_CASES_MAX)
        return study_table_fault(t, f, ERR_LIMIT, "found %lld failures; expected at most %d",
                                 (long long)r->failed, (int)WINDOW_CASES_MAX);
    return ERR_OK;
}

static enum err run_all(struct work *w, const struct study_table *t, struct fault *f)
{
    struct study_window *r = w->ret;
    for (size_t i = 0; i < w->days.n; i++) {
        r->built += w->days.at[i].built;
        r->failed += w->days.at[i].failed;
    }
    enum err e = check(w, t, f);
    if (e != ERR_OK)
        return e;
    e = window_scan_new(w->days.n, r->failed, w->order->n_threads, &w->scan);
    bool is_last = false;
    while (e == ERR_OK && !is_last && (int)r->n_runs < w->order->n_runs)
        e = find_run(w, &is_last);
    if (e != ERR_OK)
        return fault_set(f, e, "%s", err_text(e));
    note_all(w);
    return ERR_OK;
}

enum err study_window(const struct study_table *t, const struct study_window_order *order,
                      const struct study_watch *watch, struct study_window *ret,
                      struct fault *reterr)
{
    struct study_window *r = calloc(1, sizeof *r);
    struct work w = {.order = order, .watch = watch, .ret = r};
    if (r == NULL)
        return fault_no_memory(reterr);
    enum err e = window_days_read(t, &w.days, reterr);
    if (e == ERR_OK) {
        r->n_rows = study_rows(t);
        r->n_days = w.days.n;
        r->is_by_exposure = study_numbers(t, WINDOW_EXPOSURE) != NULL;
        e = run_all(&w, t, reterr);
        window_scan_free(&w.scan);
        free(w.days.at);
    }
    if (e == ERR_OK)
        *ret = *r;
    free(r);
    return e;
}
