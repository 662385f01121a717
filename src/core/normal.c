/* normal: owns the standard normal distribution, computed from + - * / sqrt and floor alone.
 *
 * Near the middle: Phi(z) - 1/2 = density(z) x (z + z^3/3 + z^5/(3 5) + ...), all terms of one sign
 * (Abramowitz & Stegun 26.2.11). Elsewhere Q(z) = density(z) x Mills' ratio, the latter as a Chebyshev
 * series whose coefficients tools/mills works out with 60 digits. The compiler must not fuse multiply
 * and add (-ffp-contract=off). */
#include "core/normal.h"

#include <math.h>
#include <stdbool.h>
#include <stdint.h>

#define MIDDLE_FULL 8.5 /* from here 1/2 - Q(z) is 1/2 in doubles: Q(8.5) is below 1e-17 */
#define TAIL_FROM   0.6
#define Z_MAX       39.0 /* density(39) is below the least subnormal double */
#define SQRT_2PI    2.5066282746310005024
#define LN2         0.69314718055994530942

/* 2^k for -1022 <= k <= 1023, by its bits. */
static double power_of_two(int k)
{
    union {
        uint64_t bits;
        double value;
    } u = {.bits = (uint64_t)(k + 1023) << 52};
    return u.value;
}

/* 1 + r + ... + r^13/13! for |r| <= 0.35 (r^14/14! is below 5e-18), in Estrin's order: most of the products do not wait for
 * each other. */
static double exp_series(double r)
{
    const double r2 = r * r, r4 = r2 * r2, r8 = r4 * r4;
    const double p01 = 1.0 + r, p23 = 1.0 / 2.0 + r * (1.0 / 6.0);
    const double p45 = 1.0 / 24.0 + r * (1.0 / 120.0), p67 = 1.0 / 720.0 + r * (1.0 / 5040.0);
    const double p89 = 1.0 / 40320.0 + r * (1.0 / 362880.0);
    const double pab = 1.0 / 3628800.0 + r * (1.0 / 39916800.0);
    const double pcd = 1.0 / 479001600.0 + r * (1.0 / 6227020800.0);
    return (p01 + r2 * p23) + r4 * (p45 + r2 * p67) + r8 * ((p89 + r2 * pab) + r4 * pcd);
}

/* exp(x + y) for -800 <= x <= 0 and small y, to about one unit in the last place: x + y = k ln 2 + r with |r| <= ln(2)/2. ln 2
 * is taken in two parts, the first with 32 closing zero bits (0x3FE62E42 FEE00000), so that k times it is exact. */
static double exp_sum(double x, double y)
{
    static const double ln2_high = 6.93147180369123816490e-01, ln2_low = 1.90821492927058770002e-10;
    const double k = floor((x + y) * (1.0 / LN2) + 0.5);
    const double r = (x - k * ln2_high) + (y - k * ln2_low);
    const double sum = exp_series(r);
    const int ki = (int)k;
    if (ki < -1000) /* the answer may be subnormal: two steps, one rounding */
        return sum * power_of_two(ki + 200) * power_of_two(-200);
    return sum * power_of_two(ki);
}

/* exp(-z^2/2): z is split at a multiple of 1/256, whose square is exact, so that the rounding of z^2 is not multiplied by z^2
 * (after W. J. Cody, Math. Comp. 23, 1969, 631-637). */
static double bell(double z)
{
    const double a = fabs(z);
    if (a >= Z_MAX)
        return 0.0;
    const double coarse = floor(a * 256.0) * (1.0 / 256.0);
    const double rest = (a - coarse) * (a + coarse);
    return exp_sum(-0.5 * coarse * coarse, -0.5 * rest);
}

double normal_density(double z)
{
    return z != z ? z : bell(z) / SQRT_2PI;
}

/* Phi(z) - 1/2 by the series; 0 <= z < TAIL_FROM or a little more. Keeps its relative precision
 * down to z = 0. */
static double middle_series(double z)
{
    double term = z, sum = z;
    for (int i = 3; term > sum * 1e-18; i += 2) {
        term = term * z * z / i;
        sum += term;
    }
    return sum * bell(z) / SQRT_2PI;
}

/* Coefficients of (z + MILLS_C) Q(z) / density(z) in t = (z - MILLS_K) / (z + MILLS_K), z >= 0; the first
 * one counts half. From tools/mills, which also finds the series right to 3.3e-16 relative in doubles. */
#define MILLS_K 4.5
#define MILLS_C 1.25
static const double mills_series[] = {
    2.5271254555346654,      -0.30309018222054623,    0.031246771130038133,
    0.016161853798356246,    -0.010765164873724744,   0.0035311906606821297,
    -0.0007267214904990953,  7.826122525467071e-05,   3.534188331977329e-06,
    -2.5129911502418404e-06, 1.990905958932573e-07,   5.4876164884573355e-08,
    -1.0384117623815317e-08, -1.2021350625895614e-09, 4.094875195906462e-10,
    3.238596080564543e-11,   -1.586206439612559e-11,  -1.2637709223826894e-12,
    6.290592851813628e-13,   6.76663282159169e-14,    -2.4953778990129663e-14,
    -4.123802259260357e-15,  9.227440761499181e-16,   2.5270614878141483e-16,
    -2.6371831617568482e-17, -1.4634036854393585e-17,
};

/* 1 - Phi(z), z >= 0: Clenshaw's sum of the series. */
static double tail(double z)
{
    if (z >= Z_MAX)
        return 0.0;
    const int n = (int)(sizeof mills_series / sizeof *mills_series);
    const double t = (z - MILLS_K) / (z + MILLS_K);
    double b1 = 0.0, b2 = 0.0;
    for (int j = n - 1; j >= 1; j--) {
        const double b = 2.0 * t * b1 - b2 + mills_series[j];
        b2 = b1;
        b1 = b;
    }
    const double f = t * b1 - b2 + 0.5 * mills_series[0];
    return bell(z) / SQRT_2PI * f / (z + MILLS_C);
}

static double upper(double z) /* z >= 0: P(Z > z) */
{
    return z < TAIL_FROM ? 0.5 - middle_series(z) : tail(z);
}

static double middle(double z) /* z >= 0: P(0 < Z <= z) */
{
    if (z >= MIDDLE_FULL)
        return 0.5;
    return z < TAIL_FROM ? middle_series(z) : 0.5 - tail(z);
}

double normal_cdf(double z)
{
    if (z != z)
        return z;
    return z < 0.0 ? upper(-z) : 0.5 + middle(z);
}

/* Narrow intervals: density at the middle times width, with the next two terms of Taylor's series;
 * the difference of two tails would keep only the digits in which they differ. */
static double narrow_between(double a, double b)
{
    const double h = b - a, m = a + 0.5 * h, m2 = m * m, h2 = h * h;
    const double second = (m2 - 1.0) * h2 / 24.0;
    const double fourth = (m2 * m2 - 6.0 * m2 + 3.0) * h2 * h2 / 1920.0;
    return normal_density(m) * h * (1.0 + second + fourth);
}

double normal_between(double a, double b)
{
    if (a != a || b != b)
        return a + b;
    if (b <= a)
        return 0.0;
    const double reach = fabs(a) > fabs(b) ? fabs(a) : fabs(b);
    if ((b - a) * (reach + 1.0) < 0.01)
        return narrow_between(a, b);
    if (a >= 0.0)
        return upper(a) - upper(b);
    if (b <= 0.0)
        return upper(-b) - upper(-a);
    return middle(-a) + middle(b);
}

/* z > 0 with P(0 < Z <= z) = target (is_tail false) or P(Z > z) = target. Bisection until the
 * bracket is narrow enough for Halley's steps, which are kept inside the bracket. The distance is
 * measured in widths of the density, so the far tail, where everything is tiny, needs no special
 * care. */
static double solve(double target, bool is_tail)
{
    double low = 0.0, high = Z_MAX, z = 0.0;
    while (high - low > 0.04) {
        z = 0.5 * (low + high);
        const bool is_short = is_tail ? upper(z) > target : middle(z) < target;
        *(is_short ? &low : &high) = z;
    }
    z = 0.5 * (low + high);
    for (int i = 0; i < 12; i++) {
        const double gap = is_tail ? upper(z) - target : target - middle(z);
        const double e = gap / normal_density(z);
        *(gap > 0.0 ? &low : &high) = z;
        double next = z + e / (1.0 - 0.5 * z * e);
        if (!(next >= low && next <= high))
            next = 0.5 * (low + high);
        const double moved = fabs(next - z);
        z = next;
        if (moved <= 1e-16 * z)
            break;
    }
    return z;
}

double normal_quantile(double p)
{
    if (!(p > 0.0 && p < 1.0))
        return (double)NAN;
    if (p == 0.5)
        return 0.0;
    if (p >= 0.25 && p <= 0.75) /* p - 1/2 is exact here, and so small z keep their digits */
        return p < 0.5 ? -solve(0.5 - p, false) : solve(p - 0.5, false);
    return p < 0.5 ? -solve(p, true) : solve(1.0 - p, true);
}
