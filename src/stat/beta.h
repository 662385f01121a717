/* beta: the incomplete beta function, and with it the binomial, for parameters of any size. GSL's own gives up its continued
 * fraction after 512 terms, which is too few once the parameters pass some ten thousand. */
#ifndef STAT_BETA_H
#define STAT_BETA_H

/* stat_beta_cdf: I_x(a, b); stat_beta_upper: 1 - I_x(a, b), without cancellation. 0 <= x <= 1; a, b > 0, at most 10^12; else
 * NaN. Continued
 * fraction (DLMF 8.17.22, modified Lentz), about the root of the larger parameter many terms; the factor before it by
 * Loader's saddle point ("Fast and
 * accurate computation of binomial probabilities", 2000), so that no digits are lost to large gammas. */
double stat_beta_cdf(double x, double a, double b);
double stat_beta_upper(double x, double a, double b);

/* stat_beta_quantile: the x with I_x(a, b) = p, 0 <= p <= 1, by Newton's steps kept inside a bracket; NaN outside. */
double stat_beta_quantile(double p, double a, double b);

#endif
