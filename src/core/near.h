/* near: every 64-bit hash within a Hamming radius of a query, exactly, without looking at all of
 * them: multi-index hashing (Norouzi, Punjani & Fleet, "Fast Search in Hamming Space with Multi-Index
 * Hashing", CVPR 2012).
 *
 * A hash is cut into four parts of 16 bits. Two hashes that differ in at most r = 4a + b bits
 * (b = 0..3) agree to within a bits in one of the first b + 1 parts, or to within a - 1 in one of the
 * others. So one table a part, looked up at every value so near, meets every answer; each candidate is
 * then compared in full. Answers are the same as those of a linear scan, always. */
#ifndef CORE_NEAR_H
#define CORE_NEAR_H

#include "core/err.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { NEAR_TABLES = 4, NEAR_VALUES = 65536, NEAR_RADIUS_MAX = 64 };

/* Points into the room that near_build was given and to its hashes; nothing to free. */
struct near {
    const uint64_t *hashes;
    uint32_t n;
    const uint32_t *starts[NEAR_TABLES]; /* [NEAR_VALUES + 1]: where each value's hashes begin */
    const uint64_t
        *sorted[NEAR_TABLES];         /* the hashes once more, by that part: read in one stream */
    const uint32_t *ids[NEAR_TABLES]; /* which they are */
};

/* near_room: bytes that near_build needs for n hashes: 48 n + 1 MiB + 16. */
size_t near_room(uint32_t n);

/* near_build: an index over hashes[n], which must stay as they are while it is used. room: aligned to
 * 8 bytes, at least near_room(n). Errors: ERR_SPACE. O(n). */
MUST_USE enum err near_build(const uint64_t *hashes, uint32_t n, void *room, size_t size,
                             struct near *ret);

/* Takes one answer; returns false to end the search. */
typedef bool near_take(void *context, uint32_t id, int distance);
typedef bool near_take_pair(void *context, uint32_t a, uint32_t b, int distance);

/* near_query: calls take once for every i with distance(hashes[i], query) <= radius; in the same
 * order on every machine, which is not the order of i. Errors: ERR_DOMAIN (radius not in
 * 0..NEAR_RADIUS_MAX). Where the values to look up would be more than n, it looks at all hashes
 * instead. */
MUST_USE enum err near_query(const struct near *near, uint64_t query, int radius, near_take *take,
                             void *context);

/* near_pairs: calls take once for every pair a < b within the radius, a ascending. */
MUST_USE enum err near_pairs(const struct near *near, int radius, near_take_pair *take,
                             void *context);

#endif
