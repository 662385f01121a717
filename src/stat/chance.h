/* chance: seeded figures for what is estimated by simulation. Every draw has a stream of its own (seed, purpose, number), so that
 * neither threads nor the order of work change anything. Not for secrets.
 *
 * xoshiro256** (Blackman, Vigna 2018), its state filled by splitmix64 (Steele, Lea, Flood 2014). */
#ifndef STAT_CHANCE_H
#define STAT_CHANCE_H

#include <stdint.h>

struct chance {
    uint64_t s[4];
};

void chance_start(struct chance *c, uint64_t seed, uint64_t purpose, uint64_t number);
double chance_share(struct chance *c); /* 0 < x < 1, 2^-53 from either end at least */
double chance_normal(
    struct chance *c); /* mean 0, standard deviation 1: by the inverse of the distribution */

static inline uint64_t chance_turn(uint64_t x, int k)
{
    return (x << k) | (x >> (64 - k));
}

static inline uint64_t chance_bits(struct chance *c)
{
    uint64_t *s = c->s;
    const uint64_t ret = chance_turn(s[1] * 5, 7) * 9, t = s[1] << 17;
    s[2] ^= s[0];
    s[3] ^= s[1];
    s[1] ^= s[2];
    s[0] ^= s[3];
    s[2] ^= t;
    s[3] = chance_turn(s[3], 45);
    return ret;
}

#endif
