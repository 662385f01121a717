/* likeness: how alike two grey pictures are, from 0 (nothing in common) to 1 (the same shapes), whatever their light, size, a
 * narrow crop at any edge, or a mirror between them. Slower and far more certain than comparing hashes (photohash.h): it decides
 * among the few that hashes bring up.
 *
 * Definition. Both pictures are averaged over equal areas, side x side of them, and the likeness is Pearson's correlation of the
 * averages, r = sum (a - mean a)(b - mean b) / sqrt(sum (a - mean a)^2 sum (b - mean b)^2) (K. Pearson 1895, Proc. R. Soc.
 * London 58, 240-242, from memory), held to 0 where it is negative. Brightening by a factor and an offset leaves r as it is.
 *
 * Search. At each of the four edges one picture or the other may have lost up to LIKENESS_CROP_MAX of its side. The edges that give
 * the greatest r are looked for at coarse areas first, two opposite edges at a time, then finer; as the picture stands and in a
 * mirror. What is found is a lower bound of the best; the search always makes the same steps. */
#ifndef CORE_LIKENESS_H
#define CORE_LIKENESS_H

#include "core/photohash.h"

enum { LIKENESS_SIDE = 128, LIKENESS_AREAS = LIKENESS_SIDE * LIKENESS_SIDE };
#define LIKENESS_CROP_MAX 0.06

/* What is kept of a picture, 16 kB: the averages of 128 x 128 equal areas, whatever its proportions. */
struct likeness_picture {
    uint8_t grey[LIKENESS_AREAS];
};

/* Room for one comparison (about 200 kB: not from the stack); holds nothing between calls. */
struct likeness_work {
    uint32_t sums[2][LIKENESS_SIDE + 1][LIKENESS_SIDE + 1]; /* of everything above and left */
    double areas[2][LIKENESS_AREAS / 4];
};

/* likeness_of_grey: what is kept of a picture of any size. Errors: ERR_DOMAIN, as photohash_resize. */
MUST_USE enum err likeness_of_grey(const struct photohash_grey *grey, struct likeness_picture *ret);

/* At least so alike: taken for the same picture. Between what was measured on copies and on different pictures (doc/photos.md). */
#define LIKENESS_SAME 0.90

/* likeness: of two pictures, 0..1. *ret_mirrored (may be NULL): they are more alike with one seen in a mirror, where it is looked
 * for once what they have as they stand lies below LIKENESS_CLEAR. An even picture, one without any shape, is like none: 0. Takes
 * one to three milliseconds. */
#define LIKENESS_CLEAR 0.95
double likeness(const struct likeness_picture *a, const struct likeness_picture *b,
                struct likeness_work *work, bool *ret_mirrored);

/* likeness_at: the correlation alone, with no search: side 2..64 areas a side. For tests and for looking into it. */
double likeness_at(const struct likeness_picture *a, const struct likeness_picture *b, int side,
                   struct likeness_work *work);

#endif
