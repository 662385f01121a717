/* xoshiro: the one generator of seeded figures: xoshiro256** (Blackman, Vigna 2018), its state filled by splitmix64 (Steele, Lea,
 * Flood 2014). How streams are kept apart is its callers' business. Not for secrets. */
#ifndef CORE_XOSHIRO_H
#define CORE_XOSHIRO_H

#include <stdint.h>

/* xoshiro_split: the next of a splitmix64 sequence that stands at *at. */
static inline uint64_t xoshiro_split(uint64_t *at)
{
    uint64_t z = (*at += 0x9e3779b97f4a7c15U);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9U;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebU;
    return z ^ (z >> 31);
}

/* xoshiro_fill: a state from the sequence that stands at `at`. */
static inline void xoshiro_fill(uint64_t s[4], uint64_t at)
{
    for (int i = 0; i < 4; i++)
        s[i] = xoshiro_split(&at);
}

static inline uint64_t xoshiro_turn(uint64_t x, int by)
{
    return (x << by) | (x >> (64 - by));
}

/* xoshiro_bits: the next 64 bits. */
static inline uint64_t xoshiro_bits(uint64_t s[4])
{
    const uint64_t ret = xoshiro_turn(s[1] * 5, 7) * 9, t = s[1] << 17;
    s[2] ^= s[0];
    s[3] ^= s[1];
    s[1] ^= s[2];
    s[0] ^= s[3];
    s[2] ^= t;
    s[3] = xoshiro_turn(s[3], 45);
    return ret;
}

#endif
