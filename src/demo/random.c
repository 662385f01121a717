/* random: owns the generator and how streams are kept apart. */
#include "demo/random.h"

#include "core/normal.h"
#include "core/xoshiro.h"

uint64_t random_mix(uint64_t seed, enum random_purpose purpose, uint64_t item)
{
    uint64_t at = seed;
    at = xoshiro_split(&at) ^ ((uint64_t)purpose + 1);
    at = xoshiro_split(&at) ^ item;
    return xoshiro_split(&at);
}

void random_start(struct random *r, uint64_t seed, enum random_purpose purpose, uint64_t item)
{
    xoshiro_fill(r->s, random_mix(seed, purpose, item));
}

uint64_t random_bits(struct random *r)
{
    return xoshiro_bits(r->s);
}

uint64_t random_below(struct random *r, uint64_t n)
{
    const uint64_t least =
        (0 - n) % n; /* 2^64 mod n: figures below it would favour the small ones */
    uint64_t x = random_bits(r);
    while (x < least)
        x = random_bits(r);
    return x % n;
}

int64_t random_within(struct random *r, int64_t low, int64_t high)
{
    return low + (int64_t)random_below(r, (uint64_t)(high - low) + 1);
}

double random_share(struct random *r)
{
    return ((double)(random_bits(r) >> 11) + 0.5) * 0x1p-53;
}

bool random_chance(struct random *r, double p)
{
    return random_share(r) < p;
}

double random_normal(struct random *r)
{
    return normal_quantile(random_share(r));
}

void random_bytes(struct random *r, uint8_t *ret, size_t n)
{
    for (size_t i = 0; i < n; i++)
        ret[i] = (uint8_t)(random_bits(r) >> 56);
}
