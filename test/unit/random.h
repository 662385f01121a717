/* random: seeded figures for the property tests, the same on every machine; set rng, then draw. */
#ifndef TEST_RANDOM_H
#define TEST_RANDOM_H

#include <stdint.h>

static uint64_t rng;

/* splitmix64 (Steele, Lea, Flood 2014). */
static inline uint64_t next(void)
{
    uint64_t z = (rng += 0x9e3779b97f4a7c15U);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9U;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebU;
    return z ^ (z >> 31);
}

/* low..high, both included; for ranges far smaller than 2^64. */
static inline int64_t within(int64_t low, int64_t high)
{
    return low + (int64_t)(next() % (uint64_t)(high - low + 1));
}

#endif
