/* normal: the standard normal distribution from basic arithmetic only.
 * No libm call is made for exp or erf, so that phone (WebAssembly) and desk agree bit for bit; IEEE 754 addition,
 * multiplication, division and square root are the only operations. Relative error of the cdf below 1e-14 for
 * |z| <= 8; the far tail is right to 1e-12 relative down to 1e-300. */
#ifndef CORE_NORMAL_H
#define CORE_NORMAL_H

/* normal_cdf: P(Z <= z). NaN gives NaN; -inf 0; +inf 1. */
double normal_cdf(double z);

/* normal_between: P(a < Z <= b) without cancellation when both lie in one tail; 0 when b <= a. */
double normal_between(double a, double b);

/* normal_quantile: the z with P(Z <= z) = p, 0 < p < 1; exactly 0 for 0.5; NaN outside. */
double normal_quantile(double p);

/* normal_density: exp(-z^2/2)/sqrt(2 pi). */
double normal_density(double z);

#endif
