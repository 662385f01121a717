/* Values: the log-likelihood ratio as in Kulldorff 1997 (formula from memory), runs and exact p-values enumerated in Python with exact
 * fractions where they can be. Everything fast is held against looking at every run one by one. */
#include "stat/chance.h"
#include "stat/window.h"

#include "tap.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MAX = 400, CASES_MAX = 4000 };
#define COUNT(x) (sizeof(x) / sizeof *(x))

static double sum[MAX + 1], weights[MAX + 1], begin[MAX + 1], end[MAX + 1], share[MAX];
static double limits[CASES_MAX + 1], drops[1000];
static int64_t cases[MAX], before[MAX + 1], drawn[MAX];
static struct window_work work = {begin, end, before, drawn};

static bool is_near(double a, double b, double tolerance)
{
    return fabs(a - b) <= tolerance * fmax(1, fabs(b));
}

static struct window start(void)
{
    sum[0] = 0;
    return (struct window){.sum = sum, .cases = cases};
}

/* Every run, one by one. */
static struct window_run plainly(const struct window *w)
{
    struct window_run best = {0};
    for (size_t k = 0; k < w->n_parts; k++)
        for (size_t i = w->part[k]; i < w->part[k + 1]; i++) {
            int64_t c = 0;
            for (size_t j = i; j < w->part[k + 1]; j++) {
                c += w->cases[j];
                const double x = w->sum[j + 1] - w->sum[i];
                const double llr = window_ratio(c, w->n_cases, x, w->sum[w->n]);
                if (llr > best.llr)
                    best = (struct window_run){i,  j, c, x, (double)w->n_cases * (x / w->sum[w->n]),
                                               llr};
            }
        }
    return best;
}

/* ---- worked by enumeration --------------------------------------------------------------------- */

static void test_worked(void)
{
    static const double exposure[] = {50, 40, 60, 50, 45, 55, 50, 50};
    static const int64_t failed[] = {1, 0, 2, 7, 6, 1, 1, 2};
    struct window w = start();
    struct window_run run;
    for (size_t i = 0; i < COUNT(exposure); i++)
        window_take(&w, exposure[i], failed[i]);
    window_best(&w, &work, &run);
    tap_ok(run.first == 3 && run.last == 4 && run.cases == 13 && run.expected == 4.75 &&
               is_near(run.llr, 7.637776134408077, 1e-12),
           "days 4 to 5 of 8: 13 failed of 4.75 expected, ratio 7.6378 (enumerated)");
    static const struct {
        int64_t c;
        double x, llr;
    } next[] = {
        {15, 155, 5.424920243271139}, {14, 150, 4.334345276540711}, {7, 50, 3.343066115184996}};
    for (size_t i = 0; i < COUNT(next); i++)
        tap_ok(is_near(window_ratio(next[i].c, 20, next[i].x, 400), next[i].llr, 1e-12),
               "its neighbours: ratio %.4f (enumerated)", next[i].llr);
    tap_ok(window_ratio(0, 20, 50, 400) == 0 && window_ratio(2, 20, 40, 400) == 0 &&
               window_ratio(20, 20, 400, 400) == 0,
           "no more than its share, or all there is: ratio 0");
}

static struct window four_cells(void)
{
    static const int64_t failed[] = {0, 4, 1, 1};
    struct window w = start();
    for (size_t i = 0; i < COUNT(failed); i++)
        window_take(&w, 1, failed[i]);
    return w;
}

static void test_exact_p(void)
{
    struct window w = four_cells();
    struct window_run run;
    struct window_dice dice;
    window_best(&w, &work, &run);
    tap_ok(run.first == 1 && run.last == 1 && is_near(run.llr, 2.301456579614247, 1e-12),
           "four equal cells, 0 4 1 1: cell 2, ratio 2.3015 (enumerated)");
    window_limits(&w, run.llr, limits);
    window_dice(&dice, w.sum, w.n);
    const size_t n = 200000, reach = window_reach(&w, &dice, limits, 7, 0, n, &work);
    const double p = (double)reach / (double)n, exact = 0.1650390625;
    tap_ok(fabs(p - exact) < 4 * sqrt(exact * (1 - exact) / (double)n),
           "200000 draws: %.5f, exact 676/4096 = 0.16504 (all placements enumerated), within four "
           "standard errors",
           p);
}

/* ---- against looking at every run -------------------------------------------------------------- */

static struct window made_up(struct chance *c, bool has_parts)
{
    const size_t n = 1 + (size_t)(chance_share(c) * 120);
    const double rate = exp(-4 + 4 * chance_share(c));
    const size_t first = (size_t)(chance_share(c) * (double)n);
    const size_t last = first + (size_t)(chance_share(c) * 30);
    const double more = chance_share(c) < 0.5 ? 1 : 1 + 9 * chance_share(c);
    struct window w = start();
    for (size_t i = 0; i < n; i++) {
        const double built = 1 + floor(chance_share(c) * 40);
        int64_t failed = 0;
        for (int u = 0; u < (int)built; u++)
            failed += chance_share(c) < rate * (i >= first && i <= last ? more : 1) / 2;
        if (has_parts && chance_share(c) < 0.03 && w.n_parts < WINDOW_PARTS_MAX)
            window_part(&w);
        window_take(&w, built, failed);
    }
    return w;
}

static void test_best(void)
{
    struct chance c;
    size_t n_same = 0, n_found = 0;
    for (uint64_t i = 0; i < 500; i++) {
        chance_start(&c, 2026, 100, i);
        const struct window w = made_up(&c, i % 2 == 1);
        struct window_run fast;
        window_best(&w, &work, &fast);
        const struct window_run slow = plainly(&w);
        n_found += slow.llr > 0;
        n_same += fast.first == slow.first && fast.last == slow.last && fast.cases == slow.cases &&
                  fast.llr == slow.llr && fast.exposure == slow.exposure;
    }
    tap_ok(n_same == 500 && n_found > 400, "500 made-up series (seed 2026): the same run and "
                                           "ratio, bit for bit, as by looking at every one");
}

/* The draw as the header says it is made, then every run of it. */
static bool reaches_plainly(const struct window *w, double mark, uint64_t seed, uint64_t draw)
{
    static int64_t failed[MAX];
    struct chance c;
    struct window other = *w;
    memset(failed, 0, sizeof failed);
    chance_start(&c, seed, 1, draw);
    for (int64_t i = 0; i < w->n_cases; i++) {
        const double at = (double)(chance_bits(&c) >> 11) * (w->sum[w->n] * 0x1p-53);
        size_t day = 0;
        while (day + 1 < w->n && w->sum[day + 1] <= at)
            day++;
        failed[day]++;
    }
    other.cases = failed;
    return plainly(&other).llr >= mark * (1 - WINDOW_TOLERANCE);
}

static void test_reach(void)
{
    struct chance c;
    size_t n_same = 0, n_all = 0, n_reach = 0;
    for (uint64_t i = 0; i < 60; i++) {
        chance_start(&c, 2027, 100, i);
        const struct window w = made_up(&c, i % 3 == 1);
        struct window_run run;
        struct window_dice dice;
        window_best(&w, &work, &run);
        if (run.llr <= 0)
            continue;
        window_limits(&w, run.llr, limits);
        window_dice(&dice, w.sum, w.n);
        for (uint64_t draw = 0; draw < 50; draw++, n_all++) {
            const size_t fast = window_reach(&w, &dice, limits, i, draw, draw + 1, &work);
            n_reach += fast;
            n_same += (fast == 1) == reaches_plainly(&w, run.llr, i, draw);
        }
    }
    tap_ok(n_same == n_all && n_all > 2000 && n_reach > 100 && n_reach < n_all - 100,
           "%zu draws, %zu of them reach: the same verdict on every one as by looking at every run",
           n_all, n_reach);
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

static void test_no_effect(bool is_once)
{
    enum { WORLDS = 1000, DRAWS = 199 };
    static double p[WORLDS];
    size_t n_alarm = 0;
    double worst = 0;
    for (uint64_t i = 0; i < WORLDS; i++) {
        struct chance c;
        struct window_run run;
        chance_start(&c, 31, 200, i);
        const struct window w = is_once ? year(&c, 120, 0.03, 1, 0, 0) : by_chance(&c, 120, 108);
        window_best(&w, &work, &run);
        p[i] = p_of(&w, &run, i, DRAWS);
        n_alarm += p[i] <= 0.05;
    }
    qsort(p, WORLDS, sizeof *p, by_size);
    for (int i = 0; i < WORLDS; i++)
        worst = fmax(worst, fmax(fabs(p[i] - (double)i / WORLDS), fabs(p[i] - (i + 1.) / WORLDS)));
    const double alarm = (double)n_alarm / WORLDS, se = sqrt(0.05 * 0.95 / WORLDS);
    tap_note("no window, %d worlds (seed 31): false alarms %.1f %% +/- %.1f %%; largest distance "
             "from uniform %.4f",
             WORLDS, 100 * alarm, 100 * se, worst);
    if (is_once) {
        /* Failures of 3 % of the units, each once, spread a little less than the draws: p errs to the safe side. */
        tap_ok(alarm < 0.05 + 3.29 * se,
               "no window, units that fail once: no more false alarms than 5 %%");
        return;
    }
    tap_ok(fabs(alarm - 0.05) < 3.29 * se,
           "no window: false alarms at 5 %% within their binomial error (99.9 %%)");
    /* Kolmogorov-Smirnov, 99.9 %: 1.95 / sqrt(n); and p comes in steps of 1/200. */
    tap_ok(worst < 1.95 / sqrt((double)WORLDS) + 1. / (DRAWS + 1),
           "no window: p is uniform (Kolmogorov-Smirnov, 99.9 %%)");
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

static void test_ends(void)
{
    enum { WORLDS = 500, DRAWS = 199, DAYS = 200 };
    static const struct plan plans[] = {
        {"eight times the rate on 25 days", 0.02, 0.16, 25},
        {"three times the rate on 40 days", 0.03, 0.09, 40},
        {"five times the rate on 8 days", 0.02, 0.10, 8},
    };
    for (size_t k = 0; k < COUNT(plans); k++) {
        size_t n_in = 0, n_near = 0, n_seen = 0;
        double size = 0;
        for (uint64_t i = 0; i < WORLDS; i++) {
            struct chance c;
            struct window_run run, truth = {0};
            struct window_set set;
            chance_start(&c, 41 + k, 300, i);
            truth.first = 10 + (size_t)(chance_share(&c) * 120);
            truth.last = truth.first + plans[k].length - 1;
            const struct window w =
                year(&c, DAYS, plans[k].rate, truth.first, truth.last, plans[k].rate_in);
            window_best(&w, &work, &run);
            const double drop = drop_of(&w, &run, i, DRAWS, 0.95);
            for (size_t d = truth.first; d <= truth.last; d++)
                truth.cases += w.cases[d];
            truth.llr =
                window_ratio(truth.cases, w.n_cases, 30 * (double)plans[k].length, w.sum[w.n]);
            window_within(&w, &run, drop, &set, share);
            n_in += truth.llr >= run.llr - drop - run.llr * WINDOW_TOLERANCE;
            n_near += run.first < truth.last && run.last > truth.first;
            n_seen +=
                set.first_low <= run.first && run.last <= set.last_high && share[run.first] > 0;
            size += (double)set.n / WORLDS;
        }
        const double cover = (double)n_in / WORLDS, se = sqrt(0.95 * 0.05 / WORLDS);
        tap_note("%s: the set of 95 %% holds the true window in %.1f %% +/- %.1f %% of %d worlds; "
                 "%.0f runs in a set on average",
                 plans[k].name, 100 * cover, 100 * se, WORLDS, size);
        tap_ok(
            fabs(cover - 0.95) < 3.29 * se,
            "%s: the set holds the truth as often as it says, within the binomial error (99.9 %%)",
            plans[k].name);
        tap_note("%s: the best run overlaps the true window in %zu of %d worlds", plans[k].name,
                 n_near, WORLDS);
        tap_ok(n_seen == WORLDS, "%s: the best run lies in its own set", plans[k].name);
        tap_ok(k == 2 || n_near == WORLDS, "%s: the best run overlaps the truth", plans[k].name);
    }
}

static void test_shares(void)
{
    struct window w = four_cells();
    struct window_run run;
    struct window_set set;
    double all = 0, on[4] = {0};
    window_best(&w, &work, &run);
    for (size_t i = 0; i < 4; i++)
        for (size_t j = i; j < 4; j++) {
            int64_t c = 0;
            for (size_t d = i; d <= j; d++)
                c += cases[d];
            const double weight = exp(window_ratio(c, 6, (double)(j - i + 1), 4));
            all += weight;
            for (size_t d = i; d <= j; d++)
                on[d] += weight;
        }
    window_within(&w, &run, 0, &set, share);
    tap_ok(set.n == 1 && set.first_low == 1 && set.first_high == 1 && set.last_low == 1 &&
               set.last_high == 1,
           "no drop: the set is the best run alone");
    bool is_good = true;
    for (size_t d = 0; d < 4; d++)
        is_good &= is_near(share[d], on[d] / all, 1e-12);
    tap_ok(is_good, "the likelihood on each day is the sum over the ten runs of four days");
    window_within(&w, &run, 1e9, &set, share);
    tap_ok(set.n == 10, "any drop: all ten runs are in");
}

int main(void)
{
    test_worked();
    test_exact_p();
    test_best();
    test_reach();
    test_no_effect(false);
    test_no_effect(true);
    test_ends();
    test_shares();
    return tap_done();
}
