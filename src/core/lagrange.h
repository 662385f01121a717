/* lagrange: what no plan of a box can undercut, in integers.
 *
 * With whole multipliers Y for the rows, scaled by K, every plan x of a box that meets the rows costs at least
 *   (sum_j min over x_j in the box of (K cost_j(x_j) + (Y.coef)_j x_j) - sum_i max over allowed q of Y_i q) / K,
 * the minimum being over the true cost with its fixed charge. Any multipliers give a valid bound, good ones a sharp one, so they may
 * come from floating point (relax.h) without its errors mattering. With K = 0 the costs drop out, and a positive sum proves
 * that no plan of the box meets the rows (Farkas). Sums are 128 bits wide.
 * Source: Lagrangian relaxation as in Geoffrion, Math. Programming Study 2 (1974) 82-114 (from memory). */
#ifndef CORE_LAGRANGE_H
#define CORE_LAGRANGE_H

#include "core/moves.h"
#include "core/rows.h"

struct lagrange {
    const struct rows *rows; /* borrowed */
    const struct move *move; /* borrowed */
    int64_t *multiplier;     /* [rows->n_live], the caller's; whole, below 2^40 */
};

#define LAGRANGE_NO_ALLOWANCE INT64_MAX

/* lagrange_kills: rounds y[n_live] to whole multipliers and works out the bound for the box lo..hi.
 * is_ray: y is to show that the rows cannot be met, costs do not matter.
 * True when the box holds no plan of at most `allowance`. Else, with an allowance, single values that no such plan can use are
 * trimmed off the box, and *ret_bound is the least cost of its plans as far as proved (0 for a ray). */
bool lagrange_kills(const struct lagrange *l, const double *y, bool is_ray, int64_t allowance,
                    int32_t *lo, int32_t *hi, int64_t *ret_bound);

#endif
