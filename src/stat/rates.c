/* rates: owns the exact comparison of two rates. */
#include "stat/rates.h"

#include "stat/special.h"

#include <math.h>

static double log_chance(int64_t k, int64_t n, double p)
{
    return stat_ln_choose((double)n, (double)k) + (double)k * log(p) + (double)(n - k) * log1p(-p);
}

/* The first of low..high-1 whose chance is not above the mark; high when there is none. Beyond the middle chances only fall. */
static int64_t first_rare(int64_t n, double p, double mark, int64_t low, int64_t high)
{
    while (low < high) {
        const int64_t mid = low + (high - low) / 2;
        if (log_chance(mid, n, p) <= mark)
            high = mid;
        else
            low = mid + 1;
    }
    return low;
}

/* All outcomes that are no more likely than k: those on its side of the middle, and the far ones on the other. */
static double two_sided(int64_t k, int64_t n, double p)
{
    const double middle = (double)n * p;
    if ((double)k == middle)
        return 1;
    if ((double)k > middle)
        return two_sided(n - k, n, 1 - p);
    const double mark = log_chance(k, n, p) + 1e-7; /* chances that are alike but for rounding */
    const int64_t far = first_rare(n, p, mark, (int64_t)ceil(middle), n + 1);
    const double beyond = far <= n ? stat_binomial_cdf(n - far, n, 1 - p) : 0;
    return fmin(1, stat_binomial_cdf(k, n, p) + beyond);
}

bool rates_compare(int64_t n1, double t1, int64_t n2, double t2, double level, struct rates *ret)
{
    const int64_t n = n1 + n2;
    if (n == 0)
        return false;
    double low = 0, high = 0;
    stat_share_interval(n1, n, level, &low, &high);
    const double scale = t2 / t1;
    ret->ratio = n2 > 0 ? (double)n1 / (double)n2 * scale : HUGE_VAL;
    ret->low = low / (1 - low) * scale;
    ret->high = high < 1 ? high / (1 - high) * scale : HUGE_VAL;
    ret->p = two_sided(n1, n, t1 / (t1 + t2));
    return true;
}

void rates_bounds(int64_t n, double t, double level, double *ret_low, double *ret_high)
{
    const double tail = (1 - level) / 2;
    *ret_low = n > 0 ? stat_chi2_quantile(tail, 2 * (double)n) / (2 * t) : 0;
    *ret_high = stat_chi2_quantile(1 - tail, 2 * (double)n + 2) / (2 * t);
}
