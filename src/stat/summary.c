/* summary: owns sums that do not lose digits, and quantiles. */
#include "stat/summary.h"

#include "stat/special.h"

#include <assert.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>

void stat_add(struct stat_sum *s, double x)
{
    const double total = s->total + x;
    if (fabs(s->total) >= fabs(x))
        s->rest += (s->total - total) + x;
    else
        s->rest += (x - total) + s->total;
    s->total = total;
}

double stat_total(const struct stat_sum *s)
{
    return s->total + s->rest;
}

void stat_mean_sd(const double *x, size_t n, double *ret_mean, double *ret_sd)
{
    struct stat_sum sum = {0}, squares = {0}, rest = {0};
    assert(n >= 1);
    for (size_t i = 0; i < n; i++)
        stat_add(&sum, x[i]);
    const double mean = stat_total(&sum) / (double)n;
    for (size_t i = 0; i < n; i++) {
        const double d = x[i] - mean;
        stat_add(&squares, d * d);
        stat_add(&rest, d);
    }
    const double off = stat_total(&rest);
    const double ss = stat_total(&squares) - off * off / (double)n;
    *ret_mean = mean + off / (double)n;
    *ret_sd = n > 1 ? sqrt(fmax(ss, 0) / (double)(n - 1)) : 0;
}

static int compare(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

void stat_sort(double *x, size_t n)
{
    qsort(x, n, sizeof *x, compare);
}

double stat_quantile(const double *sorted, size_t n, double p)
{
    assert(n >= 1 && p >= 0 && p <= 1);
    const double at = (double)(n - 1) * p;
    const size_t low = (size_t)floor(at);
    if (low + 1 >= n)
        return sorted[n - 1];
    return sorted[low] + (at - (double)low) * (sorted[low + 1] - sorted[low]);
}

/* The largest k in 0..n with P(X <= k - 1) <= tail for X binomial(n, p), by halving. */
static int64_t last_below(int64_t n, double p, double tail)
{
    int64_t low = 0, high = n + 1; /* holds at low, not at high */
    while (high - low > 1) {
        const int64_t middle = low + (high - low) / 2;
        if (stat_binomial_cdf(middle - 1, n, p) <= tail)
            low = middle;
        else
            high = middle;
    }
    return low;
}

bool stat_quantile_interval(const double *sorted, size_t n, double p, double level, double *ret_low,
                            double *ret_high)
{
    const double tail = (1 - level) / 2;
    const int64_t low = last_below((int64_t)n, p, tail); /* P(X < low) <= tail */
    const int64_t high = (int64_t)n + 1 - last_below((int64_t)n, 1 - p, tail); /* mirrored */
    if (low < 1 || high > (int64_t)n || low >= high)
        return false;
    *ret_low = sorted[low - 1];
    *ret_high = sorted[high - 1];
    return true;
}
