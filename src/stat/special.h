/* special: the distributions that studies need, on top of GSL, which this file keeps from ending the program on a bad argument.
 * Arguments outside the stated range give NaN; callers check what comes from outside before. */
#ifndef STAT_SPECIAL_H
#define STAT_SPECIAL_H

#include <stdint.h>

/* stat_quiet: turns off GSL's own handling of errors, which is to abort. Every function here calls it; so must any other
 * file of this folder that calls GSL by itself. Safe from several threads. */
void stat_quiet(void);

double stat_t_quantile(double p, double df);           /* 0 < p < 1, df > 0 */
double stat_t_two_sided(double t, double df);          /* P(|T| >= |t|) */
double stat_chi2_upper(double x, double df);           /* P(X >= x), x >= 0 */
double stat_chi2_quantile(double p, double df);        /* 0 < p < 1 */
double stat_f_upper(double x, double df1, double df2); /* P(F >= x) */
double stat_f_quantile(double p, double df1, double df2);
double stat_ln_gamma(double x);            /* x > 0 */
double stat_ln_choose(double n, double k); /* 0 <= k <= n; 0 for k = 0 or n */
double stat_digamma(double x);             /* x > 0 */

/* stat_binomial_cdf: P(X <= k) of n trials with chance p each, 0 <= p <= 1; 0 for k < 0, 1 for k >= n. */
double stat_binomial_cdf(int64_t k, int64_t n, double p);

/* stat_share_interval: Clopper & Pearson's interval for a share of which k of n were seen: 0 <= k <= n, n >= 1; level such as
 * 0.95.
 * Source: Biometrika 26(4), 404-413, 1934. */
void stat_share_interval(int64_t k, int64_t n, double level, double *ret_low, double *ret_high);

#endif
