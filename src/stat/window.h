/* window: the run of build days with the raised rate of failures. A scan over every run of days, however long.
 *
 * Given how many failed of what was built on each day, and how many failed in all (C, taken as given), the run with the largest
 * log-likelihood ratio is found: with c failures, and E = C x the run's share of the exposure, the ratio is
 * c ln(c/E) + (C-c) ln((C-c)/(C-E)) when c > E, else 0. How often chance alone gives a ratio as large is found by drawing: the C
 * failures are laid on the days in proportion to exposure and the scan is done again. Since every run is looked at in every draw,
 * the p-value needs no correction for how many were looked at.
 *
 * Source: Kulldorff 1997, Commun. Statist. Theory Meth. 26(6), 1481-1496 (Poisson model, one dimension). Further runs, each after
 * those found are taken out: Zhang, Assuncao & Kulldorff 2010, J. Probab. Statist., 642379.
 *
 * Two things make a draw cheap. A run that begins or ends on a day without a failure is never the best, so only days with
 * failures are looked at. And a block of runs whose largest count and smallest exposure together do not reach the mark is left
 * out as a whole. Both leave the answer exactly as it would be by looking at every run. Pure: no allocation, no threads. */
#ifndef STAT_WINDOW_H
#define STAT_WINDOW_H

#include "core/err.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    WINDOW_DAYS_MAX = 20000,
    WINDOW_PARTS_MAX = 16,             /* stretches of days that a run may not leave */
    WINDOW_CASES_MAX = 4 * 1000 * 1000 /* failures in all */
};

/* Two ratios that should be one and the same differ by rounding at most so much, as a share. */
#define WINDOW_TOLERANCE 1e-12

/* The days, in order, only those with exposure. Runs stay inside one part: part k is the days part[k]..part[k+1]-1. */
struct window {
    size_t n;       /* days, 1..WINDOW_DAYS_MAX */
    double *sum;    /* [n + 1] exposure of the days before day i; sum[n] is all */
    int64_t *cases; /* [n] failures on day i */
    size_t part[WINDOW_PARTS_MAX + 1];
    size_t n_parts;
    int64_t n_cases; /* C */
};

struct window_run {
    size_t first, last; /* days, both included */
    int64_t cases;
    double exposure, expected;
    double llr; /* the log-likelihood ratio; 0: no run has more than its share */
};

/* window_ratio: the ratio of a run with c of C failures and `exposure` of all (> 0 when c > 0). */
double window_ratio(int64_t c, int64_t n_cases, double exposure, double all);

/* window_take: day's exposure and failures into w, which has room for n_max days. For filling a window: start with n = 0,
 * sum[0] = 0; days without exposure must be left out. window_part: the next day begins a new part. */
void window_take(struct window *w, double exposure, int64_t cases);
void window_part(struct window *w);

/* What a scan needs besides: for days with failures. Arrays of n + 1; the caller's. One for each thread. */
struct window_work {
    double *begin, *end; /* exposure before and after the day */
    int64_t *before;     /* failures before the day */
    int64_t *drawn;      /* [n] failures of a draw; all 0 between calls */
};

/* window_best: the run with the largest ratio; of several the earliest, then the shortest. Every failure lies on a day with
 * exposure, so ratios are finite. llr 0 and everything else 0 when no run has more than its share. */
void window_best(const struct window *w, struct window_work *work, struct window_run *ret);

/* ---- by chance alone ------------------------------------------------------------------------- */

/* window_limits: limit[c], c = 0..C: the largest exposure with which c failures reach the mark; -1: none does. mark > 0. */
void window_limits(const struct window *w, double mark, double *limit);

/* Where a uniform figure falls: guide[g] is the first day whose end lies beyond g / n_guide of the total weight. */
enum { WINDOW_GUIDE = 4096 };
struct window_dice {
    const double *sum; /* [n + 1] weights of the days before day i */
    uint32_t guide[WINDOW_GUIDE + 1];
};
void window_dice(struct window_dice *dice, const double *sum, size_t n);

/* window_reach: of the draws from..to-1 of `seed`, how many have a run that reaches the mark the limits were made for. Draw i is
 * the same whoever makes it. */
size_t window_reach(const struct window *w, const struct window_dice *dice, const double *limit,
                    uint64_t seed, uint64_t from, uint64_t to, struct window_work *work);

/* ---- how sure the ends are ------------------------------------------------------------------- */

/* window_drops: draws from..to-1 of a world in which `run` is the window, with the rates found inside and outside: dice by
 * window_weigh. ret[i - from]: by how much the ratio of the true window lies below that of the best run of the draw; >= 0. */
void window_weigh(const struct window *w, const struct window_run *run, double *ret_sum);
void window_drops(const struct window *w, const struct window_dice *dice,
                  const struct window_run *run, uint64_t seed, uint64_t from, uint64_t to,
                  struct window_work *work, double *ret);

struct window_set {
    size_t first_low, first_high, last_low, last_high;
    uint64_t n; /* runs in the set */
};

/* window_within: every run of the part that holds `run` whose ratio is at most `drop` below its own, and how much the likelihood
 * (flat over the runs of that part) lays on each day: ret_share[n], 0..1, 0 outside the part. O(days^2). */
void window_within(const struct window *w, const struct window_run *run, double drop,
                   struct window_set *ret, double *ret_share);

#endif
