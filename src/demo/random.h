/* random: seeded figures for made-up campaigns. Every item (a unit, a claim, a photo) has a stream of its own, so that neither
 * threads nor the order of work change anything.
 *
 * The generator is core/xoshiro.h's, its state filled from seed, purpose and item.
 * Normal figures by the inverse of the distribution (core/normal): basic arithmetic only, the same on every machine. Not for
 * secrets. */
#ifndef DEMO_RANDOM_H
#define DEMO_RANDOM_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct random {
    uint64_t s[4];
};

/* What a stream is for: two of different purpose have nothing in common. */
enum random_purpose {
    RANDOM_UNIT,
    RANDOM_SHOP,
    RANDOM_TECHNICIAN,
    RANDOM_CLAIM,
    RANDOM_FAULTS,
    RANDOM_SOURCES,
    RANDOM_WORK,
    RANDOM_IDS,
    RANDOM_PICTURE,
    RANDOM_KEY,
    RANDOM_LATER /* failures after the bulletin came out */
};

void random_start(struct random *r, uint64_t seed, enum random_purpose purpose, uint64_t item);

uint64_t random_bits(struct random *r);
/* random_below: 0..n-1, n > 0, without bias (rejection). random_within: low..high, both included. */
uint64_t random_below(struct random *r, uint64_t n);
int64_t random_within(struct random *r, int64_t low, int64_t high);
double random_share(struct random *r);          /* 0 < x < 1 */
bool random_chance(struct random *r, double p); /* true with probability p */
double random_normal(struct random *r);         /* mean 0, standard deviation 1 */
void random_bytes(struct random *r, uint8_t *ret, size_t n);

/* random_mix: one figure out of three, well spread: for seeds that are handed on. */
uint64_t random_mix(uint64_t seed, enum random_purpose purpose, uint64_t item);

#endif
