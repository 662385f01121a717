/* random: owns the generator and how streams are kept apart. */
#include "demo/random.h"

#include "core/normal.h"

static uint64_t splitmix(uint64_t *at)
{
    uint64_t z = (*at += 0x9e3779b97f4a7c15U);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9U;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebU;
    return z ^ (z >> 31);
}

uint64_t random_mix(uint64_t seed, enum random_purpose purpose, uint64_t item)
{
    uint64_t at = seed;
    at = splitmix(&at) ^ ((uint64_t)purpose + 1);
    at = splitmix(&at) ^ item;
    return splitmix(&at);
}

void random_start(struct random *r, uint64_t seed, enum random_purpose purpose, uint64_t item)
{
    uint64_t at = random_mix(seed, purpose, item);
    for (int i = 0; i < 4; i++)
        r->s[i] = splitmix(&at);
}

static uint64_t turned(uint64_t x, int by)
{
    return (x << by) | (x >> (64 - by));
}

uint64_t random_bits(struct random *r)
{
    uint64_t *s = r->s;
    const uint64_t result = turned(s[1] * 5, 7) * 9, t = s[1] << 17;
    s[2] ^= s[0];
    s[3] ^= s[1];
    s[1] ^= s[2];
    s[0] ^= s[3];
    s[2] ^= t;
    s[3] = turned(s[3], 45);
    return result;
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
