/* chance: owns how a stream is started and shaped. */
#include "stat/chance.h"

#include "core/normal.h"

/* splitmix64: the next of a sequence that never stays the same. */
static uint64_t split(uint64_t *x)
{
    uint64_t z = (*x += 0x9e3779b97f4a7c15U);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9U;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebU;
    return z ^ (z >> 31);
}

void chance_start(struct chance *c, uint64_t seed, uint64_t purpose, uint64_t number)
{
    uint64_t x = seed;
    x = split(&x) ^ purpose;
    x = split(&x) ^ number;
    for (int i = 0; i < 4; i++)
        c->s[i] = split(&x);
}

double chance_share(struct chance *c)
{
    return ((double)(chance_bits(c) >> 12) + 0.5) * 0x1p-52;
}

double chance_normal(struct chance *c)
{
    return normal_quantile(chance_share(c));
}
