/* sampling: chances of drawing bad ones from a lot, and the least plan that keeps two promises. */
#ifndef STAT_SAMPLING_H
#define STAT_SAMPLING_H

#include "core/err.h"

#include <stdbool.h>
#include <stdint.h>

enum { STAT_LOT_MAX = 100 * 1000 * 1000 };

/* stat_hypergeometric_cdf: P(X <= c), X the bad ones in a sample of n from a lot of `lot` that holds `bad`, without putting back.
 * 0 <= n, bad <= lot <= STAT_LOT_MAX. Ratios of neighbouring terms from the mode outwards, over their sum: no gamma
 * functions, so no
 * digits lost in large lots; relative error of a few 1e-14. O(root of n) terms. */
double stat_hypergeometric_cdf(int64_t c, int64_t n, int64_t bad, int64_t lot);

/* A plan: draw n, accept with at most c bad ones. */
struct stat_plan {
    int64_t n, c;
};

/* Two promises: a lot with fine_share bad is refused at most with producer's risk, one with poor_share is accepted at most with
 * consumer's risk. lot 0: large (binomial); else shares are whole numbers of the lot, good ones rounded down and poor ones up. */
struct stat_promise {
    int64_t lot;
    double fine_share, poor_share; /* 0 <= fine < poor <= 1 */
    double producer, consumer;     /* 0 < risk < 1, their sum below 1 */
};

/* stat_plan_find: the plan with the least n, and of these the least c. For each c the consumer's promise holds from some n
 * on, the
 * producer's up to some n; the least c for which the first is not above the second gives the least n (both grow with c).
 * Source: Hailey,
 * J. Quality Technology 12(4), 230-235, 1980 (from memory). watch
 * (may be NULL) is told how far n is and returns false to stop. Errors: ERR_IMPOSSIBLE (none with n <= n_max or the lot),
 * ERR_BUSY (stopped). */
typedef bool stat_plan_watch(void *me, uint64_t n, uint64_t n_max);
MUST_USE enum err stat_plan_find(const struct stat_promise *p, int64_t n_max,
                                 stat_plan_watch *watch, void *me, struct stat_plan *ret);

/* stat_plan_accepts: P(accept) when the lot holds a share (binomial, lot 0) or bad ones. */
double stat_plan_accepts(struct stat_plan plan, int64_t lot, int64_t bad, double share);

/* stat_lot_interval: how many bad ones a lot may hold when k were found in a sample of n: both ends by the exact test at (1 -
 * level)/2
 * each. 0 <= k <= n <= lot. Source: Konijn, Statistical Theory of Sample Survey Design and Analysis, 1973 (from memory). */
void stat_lot_interval(int64_t k, int64_t n, int64_t lot, double level, int64_t *ret_low,
                       int64_t *ret_high);

#endif
