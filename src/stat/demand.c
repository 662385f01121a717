/* demand: owns the distributions of future demand. */
#include "stat/demand.h"

#include "stat/beta.h"
#include "stat/summary.h"

#include <assert.h>
#include <math.h>

#define DEMAND_MAX ((int64_t)1000000000000)

/* Failures before the shape-th success with chance 1/(1 + over). */
double stat_negative_binomial_cdf(int64_t k, double shape, double over)
{
    return k < 0 ? 0 : stat_beta_cdf(1 / (1 + over), shape, (double)k + 1);
}

enum err stat_negative_binomial_quantile(double p, double shape, double over, int64_t *ret)
{
    int64_t low = 0, high = 1;
    while (stat_negative_binomial_cdf(high, shape, over) < p) {
        low = high + 1;
        high *= 2;
        if (high > DEMAND_MAX)
            return ERR_RANGE;
    }
    while (low < high) {
        const int64_t k = low + (high - low) / 2;
        if (stat_negative_binomial_cdf(k, shape, over) >= p)
            high = k;
        else
            low = k + 1;
    }
    *ret = low;
    return ERR_OK;
}

/* ---- beta-binomial ------------------------------------------------------------------------- */

struct urn {
    int64_t n;
    double a, b;
};

/* ln P(X = k + 1) - ln P(X = k). */
static double step_up(const struct urn *u, int64_t k)
{
    return log((double)(u->n - k) * ((double)k + u->a)) -
           log(((double)k + 1) * ((double)(u->n - k - 1) + u->b));
}

/* Logarithms walk from 0 on; what is summed is relative to the greatest term, so that neither end under- or overflows. */
static double greatest(const struct urn *u)
{
    struct stat_sum l = {0};
    double most = 0;
    for (int64_t k = 0; k < u->n; k++) {
        stat_add(&l, step_up(u, k));
        most = fmax(most, stat_total(&l));
    }
    return most;
}

/* Sum of the terms of 0..last; stops where the sum reaches `enough` and tells where. */
static double sum_terms(const struct urn *u, double most, int64_t last, double enough, int64_t *at)
{
    struct stat_sum l = {0}, sum = {0};
    for (int64_t k = 0; k <= last; k++) {
        stat_add(&sum, exp(stat_total(&l) - most));
        *at = k;
        if (stat_total(&sum) >= enough)
            break;
        if (k < u->n)
            stat_add(&l, step_up(u, k));
    }
    return stat_total(&sum);
}

double stat_beta_binomial_cdf(int64_t k, int64_t n, double a, double b)
{
    assert(n >= 0 && n <= STAT_UNITS_MAX && a > 0 && b > 0);
    const struct urn u = {n, a, b};
    int64_t at = 0;
    if (k < 0)
        return 0;
    if (k >= n)
        return 1;
    const double most = greatest(&u);
    return sum_terms(&u, most, k, INFINITY, &at) / sum_terms(&u, most, n, INFINITY, &at);
}

int64_t stat_beta_binomial_quantile(double p, int64_t n, double a, double b)
{
    assert(n >= 0 && n <= STAT_UNITS_MAX && a > 0 && b > 0);
    const struct urn u = {n, a, b};
    int64_t at = 0;
    const double most = greatest(&u), all = sum_terms(&u, most, n, INFINITY, &at);
    (void)sum_terms(&u, most, n, p * all, &at);
    return at;
}
