/* chance: seeded figures for what is estimated by simulation. Every draw has a stream of its own (seed, purpose, number), so that
 * neither threads nor the order of work change anything. Not for secrets.
 * The generator is core/xoshiro.h's. */
#ifndef STAT_CHANCE_H
#define STAT_CHANCE_H

#include "core/xoshiro.h"

struct chance {
    uint64_t s[4];
};

void chance_start(struct chance *c, uint64_t seed, uint64_t purpose, uint64_t number);
double chance_share(struct chance *c); /* 0 < x < 1, 2^-53 from either end at least */
double chance_normal(
    struct chance *c); /* mean 0, standard deviation 1: by the inverse of the distribution */

static inline uint64_t chance_bits(struct chance *c)
{
    return xoshiro_bits(c->s);
}

#endif
