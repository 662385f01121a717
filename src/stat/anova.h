/* anova: sums of squares of balanced layouts, from means taken out one after the other, so that values far from 0 lose no
 * more than
 * their storage lost already. */
#ifndef STAT_ANOVA_H
#define STAT_ANOVA_H

#include "core/err.h"

#include <stddef.h>
#include <stdint.h>

struct stat_square {
    double df, ss, ms; /* ms 0 where df is 0 */
    double f,
        p; /* against the term that the layout tests it with; f NaN and p NaN where that cannot be */
};

/* stat_oneway: y[0..n) in groups group[0..n) numbered 0..k-1, of any sizes, none empty; n > k >= 2. Source of the check
 * values: NIST
 * StRD. Errors: ERR_DOMAIN (k < 2, n <= k, an empty group), ERR_MEMORY. */
struct stat_oneway {
    struct stat_square between, within;
    double grand_mean, r2, residual_sd;
};
MUST_USE enum err stat_oneway(const double *y, const uint32_t *group, size_t n, size_t k,
                              struct stat_oneway *ret);

/* stat_crossed: y[(a nb + b) nr + r], na >= 2, nb >= 2, nr >= 2 readings in every cell: both factors crossed, with
 * interaction. a, b are tested
 * against the interaction (both factors random), the interaction against what is within cells. ERR_DOMAIN, ERR_MEMORY. Source:
 * Montgomery, Design and Analysis of Experiments, the two-factor random model (from memory). */
struct stat_crossed {
    struct stat_square a, b, ab, within, total;
    double grand_mean;
};
MUST_USE enum err stat_crossed(const double *y, size_t na, size_t nb, size_t nr,
                               struct stat_crossed *ret);

#endif
