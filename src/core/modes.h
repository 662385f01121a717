/* modes: what a set of deviations means, by Walsh-Hadamard effects of two-level factors (side, height, travel).
 *
 * For a full 2^k factorial (every combination of levels exactly once; k <= MODES_FACTORS_MAX) the effect of a set of
 * factors is the mean of sign x deviation, sign = product of the levels in the set. The effects of all 2^k sets, the empty
 * one included, hold the deviations again exactly: dev = sum over sets of sign x effect. Sums are kept as integers so that the
 * inversion is exact; value = sum / 2^k. Standard uncertainty of an effect: sqrt(sum u_i^2) / 2^k (JCGM 100:2008, 5.1.2).
 * An effect is significant beyond MODES_COVERAGE (2) standard uncertainties. */
#ifndef CORE_MODES_H
#define CORE_MODES_H

#include "core/err.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { MODES_FACTORS_MAX = 4, MODES_EFFECTS_MAX = 16 };

struct modes_point {
    int level[MODES_FACTORS_MAX]; /* -1 or +1 for each of the k factors */
    int64_t deviation;            /* nano */
    double u;
};

struct modes_effect {
    unsigned set;  /* bit i: factor i takes part; 0: the mean of all */
    int64_t sum;   /* of sign x deviation: exact */
    int64_t value; /* sum / 2^k, rounded half to even */
    double u;
    bool is_significant;
};

/* modes_effects: points[n], n = 2^k. ret_effects[n], in the order of `set` 0..n-1.
 * Errors: ERR_LIMIT (k or n), ERR_DOMAIN (a level that is not -1 or +1), ERR_DUPLICATE / ERR_EMPTY (not a full
 * factorial: a combination twice / missing), ERR_RANGE. */
MUST_USE enum err modes_effects(const struct modes_point *points, size_t n, size_t k,
                                struct modes_effect *ret_effects);

/* modes_invert: deviations again from the sums: level sets as in `points`. Exact. */
void modes_invert(const struct modes_effect *effects, const struct modes_point *points, size_t n,
                  size_t k, int64_t *ret_deviations);

/* modes_meaning: the plain meaning of a set of named factors for gap readings of a room in its opening: side (+1 fore),
 * height (+1 upper), travel (+1 out). {}: "opening wrong width for the room"; side: "room off-centre"; side x height:
 * "room or column leaning"; height: "keystone: ..." ; side x travel: "yaw over travel"; side x height x travel: "twist" ...
 * Where travel is not among the names nothing is known to slide (a ramp, a door): then side, height and the mean are
 * told without a room. Unknown names give a plain "differs with NAME". buf gets a NUL; returns the size. */
size_t modes_meaning(const char *const *names, size_t k, unsigned set, char *buf, size_t room);

#endif
