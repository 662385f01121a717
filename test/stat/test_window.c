/* Values: the log-likelihood ratio as in Kulldorff 1997 (formula from memory), runs and exact p-values enumerated in Python with exact
 * fractions where they can be. Everything fast is held against looking at every run one by one.
 * How often the p-value and the confidence set hold: test/sim/sim_window.c. */
#include "stat/chance.h"
#include "stat/window.h"

#include "tap.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { MAX = 400, CASES_MAX = 4000 };
#define COUNT(x) (sizeof(x) / sizeof *(x))

static double sum[MAX + 1], begin[MAX + 1], end[MAX + 1], share[MAX];
static double limits[CASES_MAX + 1];
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

/* ---- the ends ----------------------------------------------------------------------------------- */

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
    test_shares();
    return tap_done();
}
