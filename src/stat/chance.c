/* chance: owns how a stream is started and shaped. */
#include "stat/chance.h"

#include "core/normal.h"

void chance_start(struct chance *c, uint64_t seed, uint64_t purpose, uint64_t number)
{
    uint64_t x = seed;
    x = xoshiro_split(&x) ^ purpose;
    x = xoshiro_split(&x) ^ number;
    xoshiro_fill(c->s, x);
}

double chance_share(struct chance *c)
{
    return ((double)(chance_bits(c) >> 12) + 0.5) * 0x1p-52;
}

double chance_normal(struct chance *c)
{
    return normal_quantile(chance_share(c));
}
