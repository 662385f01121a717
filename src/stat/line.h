/* line: the straight line of least squares, with the uncertainty of what it says. */
#ifndef STAT_LINE_H
#define STAT_LINE_H

#include <stdbool.h>
#include <stddef.h>

struct stat_line {
    double intercept, slope;
    double se_intercept, se_slope; /* 0 when df is 0 */
    double residual_sd, r2;        /* r2 1 when y is constant and the line fits it */
    double mean_x, ss_x;           /* about the mean */
    size_t n;
    double df; /* n - 2 */
};

/* stat_line_fit: y = intercept + slope x by ordinary least squares about the means. False when n < 2 or all x are alike.
 * Source: NIST/SEMATECH e-Handbook of Statistical Methods, 4.4.3.1 (from memory). */
bool stat_line_fit(const double *x, const double *y, size_t n, struct stat_line *ret);

#endif
