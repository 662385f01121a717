/* draws: owns whole numbers, gamma and chi-square by chance. */
#include "stat/draws.h"

#include <assert.h>
#include <math.h>

uint64_t draws_below(struct chance *c, uint64_t below)
{
    assert(below >= 1);
    const uint64_t uneven = (0 - below) % below; /* 2^64 mod below: that many too many */
    uint64_t bits = 0;
    do
        bits = chance_bits(c);
    while (bits < uneven);
    return bits % below;
}

/* Half of a pair by the polar method (Marsaglia & Bray, SIAM Review 6(3), 260-264, 1964): many times quicker than the inverse
 * of the
 * distribution, which chance_normal takes to spend one share on each figure. */
static double normal(struct chance *c)
{
    double x = 0, s = 0;
    do {
        x = 2 * chance_share(c) - 1;
        const double y = 2 * chance_share(c) - 1;
        s = x * x + y * y;
    } while (s >= 1 || s <= 0);
    return x * sqrt(-2 * log(s) / s);
}

double draws_gamma(struct chance *c, double shape)
{
    assert(shape > 0);
    if (shape < 1) /* section 6 of the paper */
        return draws_gamma(c, shape + 1) * pow(chance_share(c), 1 / shape);
    const double d = shape - 1.0 / 3, k = 1 / sqrt(9 * d);
    for (;;) {
        const double x = normal(c), root = 1 + k * x, u = chance_share(c);
        const double v = root * root * root;
        if (root > 0 && log(u) < 0.5 * x * x + d - d * v + d * log(v))
            return d * v;
    }
}

double draws_chi2(struct chance *c, double df)
{
    return 2 * draws_gamma(c, df / 2);
}
