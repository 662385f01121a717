/* bench_window: the window scan's draws against looking at every run of every draw, plainly, on the same 1,825 days.
 *
 * usage: bench_window DRAWS   (of the plain way; the fast one makes them too, and 9999 besides)
 * Prints one JSON object: seconds of both, how many draws each found to reach, the fast one's time for 9999 draws on all threads. */
#include "base/pool.h"
#include "stat/chance.h"
#include "stat/window.h"

#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum { DAYS = 1825, ALL = 9999, THREADS = 16, CASES_MAX = 20000, BLOCK = 32 };

static double sum[DAYS + 1], limits[CASES_MAX + 1];
static int64_t cases[DAYS];
static struct window_dice dice;
static double begin[THREADS][DAYS + 1], end[THREADS][DAYS + 1];
static int64_t before[THREADS][DAYS + 1], drawn[THREADS][DAYS + 1];
static struct window w = {.sum = sum, .cases = cases};
static _Atomic size_t n_reach;

static double now_s(void)
{
    struct timespec t = {0};
    (void)clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static struct window_work work_of(int thread)
{
    return (struct window_work){begin[thread], end[thread], before[thread], drawn[thread]};
}

/* Five years: 10 to 60 built a day, one in fifty fails, twice that on 80 days. */
static void make(void)
{
    struct chance c;
    chance_start(&c, 7, 900, 0);
    for (size_t d = 0; d < DAYS; d++) {
        const int built = 10 + (int)(chance_share(&c) * 51);
        int64_t failed = 0;
        for (int u = 0; u < built; u++)
            failed += chance_share(&c) < (d >= 600 && d < 680 ? 0.03 : 0.02);
        window_take(&w, built, failed);
    }
}

/* The plain way: lay the failures, look at every run. */
static bool plainly(uint64_t draw, double mark)
{
    static int64_t failed[DAYS];
    struct chance c;
    const double all = sum[DAYS];
    double best = 0;
    memset(failed, 0, sizeof failed);
    chance_start(&c, 1, 1, draw);
    for (int64_t i = 0; i < w.n_cases; i++) {
        const double at = (double)(chance_bits(&c) >> 11) * (all * 0x1p-53);
        size_t low = 0, high = DAYS;
        while (high - low > 1) {
            const size_t mid = low + (high - low) / 2;
            if (sum[mid] <= at)
                low = mid;
            else
                high = mid;
        }
        failed[low]++;
    }
    for (size_t i = 0; i < DAYS; i++) {
        int64_t count = 0;
        for (size_t j = i; j < DAYS; j++) {
            count += failed[j];
            const double llr = window_ratio(count, w.n_cases, sum[j + 1] - sum[i], all);
            best = llr > best ? llr : best;
        }
    }
    return best >= mark * (1 - WINDOW_TOLERANCE);
}

static enum err block(void *me, size_t i, int thread)
{
    struct window_work work = work_of(thread);
    const uint64_t from = i * BLOCK, to = from + BLOCK < ALL ? from + BLOCK : ALL;
    (void)me;
    (void)atomic_fetch_add(&n_reach, window_reach(&w, &dice, limits, 1, from, to, &work));
    return ERR_OK;
}

int main(int argc, char **argv)
{
    const uint64_t n_draws = argc > 1 ? strtoull(argv[1], NULL, 10) : 20;
    struct window_work work = work_of(0);
    struct window_run run;
    size_t plain_reach = 0;
    make();
    double start = now_s();
    window_best(&w, &work, &run);
    window_limits(&w, run.llr, limits);
    window_dice(&dice, sum, w.n);
    const double ready_s = now_s() - start;
    start = now_s();
    const size_t fast_reach = window_reach(&w, &dice, limits, 1, 0, n_draws, &work);
    const double fast_s = now_s() - start;
    start = now_s();
    for (uint64_t i = 0; i < n_draws; i++)
        plain_reach += plainly(i, run.llr);
    const double plain_s = now_s() - start;
    const struct pool_order order = {.n = (ALL + BLOCK - 1) / BLOCK, .run = block};
    start = now_s();
    if (pool_run(&order) != ERR_OK)
        return 1;
    printf("{\"days\":%d,\"failures\":%lld,\"llr\":%.6f,\"draws\":%llu,\"plain_s\":%.6f,\"fast_s\":"
           "%.6f,\"plain_reach\":%zu,"
           "\"fast_reach\":%zu,\"ready_s\":%.6f,\"all_draws\":%d,\"all_s\":%.6f,\"p\":%.6f}\n",
           DAYS, (long long)w.n_cases, run.llr, (unsigned long long)n_draws, plain_s, fast_s,
           plain_reach, fast_reach, ready_s, ALL, now_s() - start + ready_s,
           (1 + (double)atomic_load(&n_reach)) / (1 + ALL));
    return plain_reach == fast_reach ? 0 : 1;
}
