/* normal: owns the standard normal distribution, computed from + - * / sqrt and floor alone.
 *
 * Near the middle: Phi(z) - 1/2 = density(z) x (z + z^3/3 + z^5/(3 5) + ...), all terms of one sign
 * (Abramowitz & Stegun 26.2.11). In the tail: Laplace's continued fraction
 * Q(z) = density(z) / (z + 1/(z + 2/(z + 3/(z + ...)))) (Abramowitz & Stegun 26.2.14), run
 * backwards from a depth that is enough for the place. The two meet at TAIL_FROM, where neither is
 * slow and 1/2 - S has lost less than two bits. The compiler must not fuse multiply and add
 * (-ffp-contract=off). */
#include "core/normal.h"

#include <math.h>
#include <stdbool.h>
#include <stdint.h>

#define TAIL_FROM 1.25
#define Z_MAX     39.0 /* density(39) is below the least subnormal double */
#define SQRT_2PI  2.5066282746310005024
#define LN2       0.69314718055994530942

/* 2^k for -1022 <= k <= 1023, by its bits. */
static double power_of_two(int k)
{
    union {
        uint64_t bits;
        double value;
    } u = {.bits = (uint64_t)(k + 1023) << 52};
    return u.value;
}

/* exp for -800 <= x <= 1, to about one unit in the last place: x = k ln 2 + r with |r| <= ln(2)/2,
 * then Taylor's series; r^14/14! is below 5e-18. ln 2 is taken in two parts, the first with 32
 * closing zero bits (0x3FE62E42 FEE00000), so that k times it is exact. */
static double exp_small(double x)
{
    static const double ln2_high = 6.93147180369123816490e-01, ln2_low = 1.90821492927058770002e-10;
    const double k = floor(x / LN2 + 0.5);
    const double r = (x - k * ln2_high) - k * ln2_low;
    double sum = 1.0;
    for (int i = 13; i >= 1; i--)
        sum = 1.0 + r * sum / i;
    const int ki = (int)k;
    if (ki < -1000) /* the answer may be subnormal: two steps, one rounding */
        return sum * power_of_two(ki + 200) * power_of_two(-200);
    return sum * power_of_two(ki);
}

/* exp(-z^2/2): z is split at a multiple of 1/16, whose square is exact, so that the rounding of z^2
 * is not multiplied by z^2 (W. J. Cody, Math. Comp. 23, 1969, 631-637). */
static double bell(double z)
{
    const double a = fabs(z);
    if (a >= Z_MAX)
        return 0.0;
    const double coarse = floor(a * 16.0) / 16.0;
    const double rest = (a - coarse) * (a + coarse);
    return exp_small(-0.5 * coarse * coarse) * exp_small(-0.5 * rest);
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

/* 1 - Phi(z) by the continued fraction; z >= TAIL_FROM. With a depth of 24 + 320/z^2 the result has
 * settled to the last bit everywhere (compared with twice that); 420 leaves room. */
static double tail_fraction(double z)
{
    if (z >= Z_MAX)
        return 0.0;
    double d = z;
    for (int i = 24 + (int)(420.0 / (z * z)); i >= 1; i--)
        d = z + i / d;
    return bell(z) / SQRT_2PI / d;
}

static double upper(double z) /* z >= 0: P(Z > z) */
{
    return z < TAIL_FROM ? 0.5 - middle_series(z) : tail_fraction(z);
}

static double middle(double z) /* z >= 0: P(0 < Z <= z) */
{
    return z < TAIL_FROM ? middle_series(z) : 0.5 - tail_fraction(z);
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
