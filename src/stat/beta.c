/* beta: owns the incomplete beta function. */
#include "stat/beta.h"

#include <math.h>
#include <stdbool.h>

#define PARAMETER_MAX 1e12
enum { TERMS_MAX = 20 * 1000 * 1000, STEPS_MAX = 400 };

/* ---- the factor ---------------------------------------------------------------------------- */

/* ln(n!) less Stirling's formula for it: the series from 15 on (Abramowitz & Stegun 6.1.41), below by lgamma, whose values
 * are small
 * there. */
static double stirling_rest(double n)
{
    if (n < 15)
        return lgamma(n + 1) - (n + 0.5) * log(n) + n - 0.91893853320467274178; /* ln(2 pi)/2 */
    const double q = 1 / (n * n);
    return (1.0 / 12 - q * (1.0 / 360 - q * (1.0 / 1260 - q * (1.0 / 1680 - q / 1188)))) / n;
}

/* x ln(x/m) + m - x without cancellation near x = m: a series in (x - m)/(x + m). */
static double deviance(double x, double m)
{
    if (fabs(x - m) >= 0.1 * (x + m))
        return x * log(x / m) + m - x;
    const double v = (x - m) / (x + m);
    double sum = (x - m) * v, term = 2 * x * v;
    for (int i = 3; i < 200; i += 2) {
        term *= v * v;
        const double next = sum + term / i;
        if (next == sum)
            break;
        sum = next;
    }
    return sum;
}

/* x^a y^b / B(a, b), y = 1 - x. */
static double factor(double x, double y, double a, double b)
{
    const double n = a + b;
    const double ln = stirling_rest(n) - stirling_rest(a) - stirling_rest(b) - deviance(a, n * x) -
                      deviance(b, n * y);
    /* ab/n times the binomial term sqrt(n/(2 pi a b)) exp(ln) */
    return sqrt(a * b / n / (2 * 3.14159265358979323846)) * exp(ln);
}

/* ---- the fraction -------------------------------------------------------------------------- */

static double keep_off_zero(double x)
{
    return fabs(x) < 1e-300 ? 1e-300 : x;
}

/* Converges quickly for x < (a + 1)/(a + b + 2). */
static double fraction(double x, double a, double b)
{
    double c = 1, d = 1 / keep_off_zero(1 - (a + b) * x / (a + 1)), f = d;
    for (int i = 1; i < TERMS_MAX; i++) {
        const double m = i, a2 = a + 2 * m;
        const double even = m * (b - m) * x / ((a2 - 1) * a2);
        d = 1 / keep_off_zero(1 + even * d);
        c = keep_off_zero(1 + even / c);
        f *= c * d;
        const double odd = -(a + m) * (a + b + m) * x / (a2 * (a2 + 1));
        d = 1 / keep_off_zero(1 + odd * d);
        c = keep_off_zero(1 + odd / c);
        f *= c * d;
        if (fabs(c * d - 1) < 1e-16)
            return f;
    }
    return (double)NAN; /* never seen to happen below PARAMETER_MAX */
}

/* I_x(a, b) or its complement; y = 1 - x is handed in, since one of the two may be tiny. */
static double tail(double x, double y, double a, double b, bool is_upper)
{
    if (!(x >= 0 && y >= 0 && a > 0 && b > 0 && a <= PARAMETER_MAX && b <= PARAMETER_MAX))
        return (double)NAN;
    if (x <= 0 || y <= 0)
        return (x <= 0) == is_upper ? 1 : 0;
    if (x < (a + 1) / (a + b + 2)) {
        const double lower = factor(x, y, a, b) * fraction(x, a, b) / a;
        return is_upper ? 1 - lower : lower;
    }
    const double upper = factor(x, y, a, b) * fraction(y, b, a) / b;
    return is_upper ? upper : 1 - upper;
}

double stat_beta_cdf(double x, double a, double b)
{
    return tail(x, 1 - x, a, b, false);
}

double stat_beta_upper(double x, double a, double b)
{
    return tail(x, 1 - x, a, b, true);
}

/* ---- the quantile -------------------------------------------------------------------------- */

double stat_beta_quantile(double p, double a, double b)
{
    double low = 0, high = 1, x = a / (a + b);
    if (!(p >= 0 && p <= 1 && a > 0 && b > 0 && a <= PARAMETER_MAX && b <= PARAMETER_MAX))
        return (double)NAN;
    if (p == 0 || p == 1)
        return p;
    for (int i = 0; i < STEPS_MAX; i++) {
        const bool is_top = p > 0.5; /* the smaller tail is the exact one */
        const double off = is_top ? (1 - p) - stat_beta_upper(x, a, b) : stat_beta_cdf(x, a, b) - p;
        if (off > 0)
            high = x;
        else
            low = x;
        const double density = factor(x, 1 - x, a, b) / (x * (1 - x));
        double next = x - off / density;
        if (off == 0 || fabs(next - x) <= 4e-16 * x)
            return x;
        if (!(next > low &&
              next < high)) /* halve the bracket; by its root near 0, where a width says little */
            next = low > 0 || high > 1e-3 ? low + (high - low) / 2 : high / 64;
        x = next;
    }
    return x;
}
