/* line: owns the straight line of least squares. */
#include "stat/line.h"

#include "stat/summary.h"

#include <math.h>

bool stat_line_fit(const double *x, const double *y, size_t n, struct stat_line *ret)
{
    struct stat_line l = {.n = n, .df = n >= 2 ? (double)(n - 2) : 0};
    struct stat_sum xx = {0}, xy = {0}, yy = {0}, rr = {0};
    double mean_y = 0, sd = 0;
    if (n < 2)
        return false;
    stat_mean_sd(x, n, &l.mean_x, &sd);
    stat_mean_sd(y, n, &mean_y, &sd);
    for (size_t i = 0; i < n; i++) {
        stat_add(&xx, (x[i] - l.mean_x) * (x[i] - l.mean_x));
        stat_add(&xy, (x[i] - l.mean_x) * (y[i] - mean_y));
        stat_add(&yy, (y[i] - mean_y) * (y[i] - mean_y));
    }
    l.ss_x = stat_total(&xx);
    if (!(l.ss_x > 0))
        return false;
    l.slope = stat_total(&xy) / l.ss_x;
    l.intercept = mean_y - l.slope * l.mean_x;
    for (size_t i = 0; i < n; i++) {
        const double r = (y[i] - mean_y) - l.slope * (x[i] - l.mean_x);
        stat_add(&rr, r * r);
    }
    l.residual_sd = l.df > 0 ? sqrt(stat_total(&rr) / l.df) : 0;
    l.se_slope = l.residual_sd / sqrt(l.ss_x);
    l.se_intercept = l.residual_sd * sqrt(1 / (double)n + l.mean_x * l.mean_x / l.ss_x);
    l.r2 = stat_total(&yy) > 0 ? 1 - stat_total(&rr) / stat_total(&yy) : 1;
    *ret = l;
    return true;
}
