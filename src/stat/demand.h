/* demand: how many of a thing will be asked for, when its rate or share is known only from what was asked for so far. */
#ifndef STAT_DEMAND_H
#define STAT_DEMAND_H

#include "core/err.h"

#include <stdint.h>

/* stat_negative_binomial_cdf: P(X <= k), X Poisson with a rate that is gamma: shape > 0, mean shape x over. k < 0: 0. With
 * shape to
 * infinity and the mean kept it is the Poisson distribution. By the incomplete beta function. */
double stat_negative_binomial_cdf(int64_t k, double shape, double over);

/* stat_negative_binomial_quantile: the least k with P(X <= k) >= p, 0 < p < 1. ERR_RANGE beyond 10^12. */
MUST_USE enum err stat_negative_binomial_quantile(double p, double shape, double over,
                                                  int64_t *ret);

/* stat_beta_binomial: X of n, each with one chance that is beta(a, b): the marginal of a Dirichlet-multinomial. a, b > 0, 0
 * <= n <=
 * STAT_UNITS_MAX. By the ratios of neighbouring terms, in logarithms; O(n). quantile: the least k with P(X <= k) >= p. Source:
 * Johnson, Kotz & Balakrishnan, Discrete Multivariate Distributions, chapter 35.13 (from memory). */
enum { STAT_UNITS_MAX = 1000 * 1000 };
double stat_beta_binomial_cdf(int64_t k, int64_t n, double a, double b);
int64_t stat_beta_binomial_quantile(double p, int64_t n, double a, double b);

#endif
