/* The window study's promises: with nothing planted false alarms come at 5 %, and p is uniform; with a run planted, the confidence set holds
 * it as often as it says. usage: sim_window [WORLDS] */
#include "stat/chance.h"
#include "stat/window.h"

#include "sim/sim.h"

#include <string.h>

enum { MAX = 400, CASES_MAX = 4000 };
#define COUNT(x) (sizeof(x) / sizeof *(x))

static double sum[MAX + 1], weights[MAX + 1], begin[MAX + 1], end[MAX + 1], share[MAX];
static double limits[CASES_MAX + 1], drops[1000];
static int64_t cases[MAX], before[MAX + 1], drawn[MAX];
static struct window_work work = {begin, end, before, drawn};
static size_t n_worlds;

static struct window start(void)
{
    sum[0] = 0;
    return (struct window){.sum = sum, .cases = cases};
}

/* ---- by chance alone ---------------------------------------------------------------------------- */

static int by_size(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* A year of days, 30 built on each; failures by a binomial, from first to last at rate_in. */
static struct window year(struct chance *c, size_t n, double rate, size_t first, size_t last,
                          double rate_in)
{
    struct window w = start();
    for (size_t i = 0; i < n; i++) {
        int64_t failed = 0;
        for (int u = 0; u < 30; u++)
            failed += chance_share(c) < (i >= first && i <= last ? rate_in : rate);
        window_take(&w, 30, failed);
    }
    return w;
}

static double p_of(const struct window *w, const struct window_run *run, uint64_t seed, size_t n)
{
    struct window_dice dice;
    if (run->llr <= 0)
        return 1;
    window_limits(w, run->llr, limits);
    window_dice(&dice, w->sum, w->n);
    return (1 + (double)window_reach(w, &dice, limits, seed, 0, n, &work)) / (1 + (double)n);
}

/* Days in which failures fall anywhere, each by itself and in proportion to exposure; no two runs of like exposure, so that hardly
 * any ratios are equal (equal ones make p larger than uniform). */
static struct window by_chance(struct chance *c, size_t n, size_t n_failed)
{
    struct window w = start();
    for (size_t i = 0; i < n; i++)
        window_take(&w, 20 + 20 * chance_share(c), 0);
    for (size_t i = 0; i < n_failed; i++) {
        const double at = chance_share(c) * sum[n];
        size_t day = 0;
        while (sum[day + 1] <= at)
            day++;
        cases[day]++;
    }
    w.n_cases = (int64_t)n_failed;
    return w;
}

static void sim_no_effect(bool is_once)
{
    enum { DRAWS = 199 };
    const size_t n = 2 * n_worlds;
    double *p = calloc(n, sizeof *p);
    size_t n_alarm = 0;
    double worst = 0;
    for (uint64_t i = 0; p != NULL && i < n; i++) {
        struct chance c;
        struct window_run run;
        chance_start(&c, 31, 200, i);
        const struct window w = is_once ? year(&c, 120, 0.03, 1, 0, 0) : by_chance(&c, 120, 108);
        window_best(&w, &work, &run);
        p[i] = p_of(&w, &run, i, DRAWS);
        n_alarm += p[i] <= 0.05;
    }
    if (is_once) /* failures of units, each once, spread a little less than the draws: p errs to the safe side */
        sim_report("window, none planted, units fail once: no false alarm at 5 %", n - n_alarm, n,
                   0.95, 0, SIM_AT_LEAST);
    else
        sim_report("window, none planted: no false alarm at 5 %", n - n_alarm, n, 0.95, 0,
                   SIM_AS_STATED);
    if (p != NULL && !is_once) {
        qsort(p, n, sizeof *p, by_size);
        for (size_t i = 0; i < n; i++) {
            const double low = (double)i / (double)n, high = (double)(i + 1) / (double)n;
            worst = fmax(worst, fmax(fabs(p[i] - low), fabs(p[i] - high)));
        }
        tap_note("window, none planted: largest distance of p from uniform %.4f", worst);
        /* Kolmogorov-Smirnov, 99.9 %: 1.95 / sqrt(n); and p comes in steps of 1/200. */
        tap_ok(worst < 1.95 / sqrt((double)n) + 1. / (DRAWS + 1),
               "window, none planted: p is uniform (Kolmogorov-Smirnov, 99.9 %%)");
    }
    free(p);
}

/* ---- the ends ----------------------------------------------------------------------------------- */

static double drop_of(const struct window *w, const struct window_run *run, uint64_t seed, size_t n,
                      double level)
{
    struct window_dice dice;
    window_weigh(w, run, weights);
    window_dice(&dice, weights, w->n);
    window_drops(w, &dice, run, seed, 0, n, &work, drops);
    qsort(drops, n, sizeof *drops, by_size);
    return drops[(size_t)ceil(level * (double)(n + 1)) - 1];
}

struct plan {
    const char *name;
    double rate, rate_in;
    size_t length;
};

static void sim_ends(const struct plan *plan, uint64_t seed, bool is_always_met)
{
    enum { DRAWS = 199, DAYS = 200 };
    size_t n_in = 0, n_met = 0, n_seen = 0;
    double size = 0;
    char what[120];
    for (uint64_t i = 0; i < n_worlds; i++) {
        struct chance c;
        struct window_run run, truth = {0};
        struct window_set set;
        chance_start(&c, seed, 300, i);
        truth.first = 10 + (size_t)(chance_share(&c) * 120);
        truth.last = truth.first + plan->length - 1;
        const struct window w = year(&c, DAYS, plan->rate, truth.first, truth.last, plan->rate_in);
        window_best(&w, &work, &run);
        const double drop = drop_of(&w, &run, i, DRAWS, 0.95);
        for (size_t d = truth.first; d <= truth.last; d++)
            truth.cases += w.cases[d];
        truth.llr = window_ratio(truth.cases, w.n_cases, 30 * (double)plan->length, w.sum[w.n]);
        window_within(&w, &run, drop, &set, share);
        n_in += truth.llr >= run.llr - drop - run.llr * WINDOW_TOLERANCE;
        n_met += run.first < truth.last && run.last > truth.first;
        n_seen += set.first_low <= run.first && run.last <= set.last_high && share[run.first] > 0;
        size += (double)set.n / (double)n_worlds;
    }
    (void)snprintf(what, sizeof what, "window, %s: confidence set", plan->name);
    sim_report(what, n_in, n_worlds, 0.95, 0.01, SIM_AS_STATED);
    tap_note("window, %s: %.0f runs in a set on average; the best run overlaps the planted one in "
             "%zu of %zu worlds",
             plan->name, size, n_met, n_worlds);
    tap_ok(n_seen == n_worlds, "window, %s: the best run lies in its own set", plan->name);
    tap_ok(!is_always_met || (double)n_met > 0.995 * (double)n_worlds,
           "window, %s: the best run overlaps the planted one", plan->name);
}

int main(int argc, char **argv)
{
    static const struct plan plans[] = {
        {"eight times the rate on 25 days", 0.02, 0.16, 25},
        {"three times the rate on 40 days", 0.03, 0.09, 40},
        {"five times the rate on 8 days", 0.02, 0.10, 8},
    };
    n_worlds = sim_worlds(argc, argv, 500);
    sim_no_effect(false);
    sim_no_effect(true);
    for (size_t k = 0; k < COUNT(plans); k++)
        sim_ends(&plans[k], 41 + k, k < 2);
    return tap_done();
}
