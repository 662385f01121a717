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

double draws_gamma(struct chance *c, double shape)
{
    assert(shape > 0);
    if (shape < 1) /* section 6 of the paper */
        return draws_gamma(c, shape + 1) * pow(chance_share(c), 1 / shape);
    const double d = shape - 1.0 / 3, k = 1 / sqrt(9 * d);
    for (;;) {
        const double x = chance_normal(c), root = 1 + k * x, u = chance_share(c);
        const double v = root * root * root;
        if (root > 0 && log(u) < 0.5 * x * x + d - d * v + d * log(v))
            return d * v;
    }
}

double draws_chi2(struct chance *c, double df)
{
    return 2 * draws_gamma(c, df / 2);
}
