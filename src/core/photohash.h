/* photohash: what a grey picture looks like, in a few numbers that can be compared: area averages,
 * exposure, sharpness, a difference hash and a DCT hash. Whole numbers where that is exact, + - * /
 * and square roots elsewhere, so that the desk and the phone give the same bits. Decoding files is
 * not its business. */
#ifndef CORE_PHOTOHASH_H
#define CORE_PHOTOHASH_H

#include "core/err.h"

#include <stdbool.h>
#include <stdint.h>

enum {
    PHOTOHASH_SIDE_MAX = 65535,     /* pixels on one side */
    PHOTOHASH_PIXELS_MAX = 1 << 28, /* width times height */
    PHOTOHASH_DCT_SIDE = 32,        /* the DCT hash looks at 32 x 32 averages */
    PHOTOHASH_COSINES = 4 * PHOTOHASH_DCT_SIDE
};

/* A grey picture, 0 black to 255 white, row after row from the top without a gap. Borrowed. */
struct photohash_grey {
    const uint8_t *pixels;
    int32_t width, height; /* 1..PHOTOHASH_SIDE_MAX, together at most PHOTOHASH_PIXELS_MAX */
};

/* photohash_luma: the luminance of a colour: 0.299 R + 0.587 G + 0.114 B, rounded (ITU-R BT.601, the
 * Y of JPEG files as ITU-T T.871 defines it). */
uint8_t photohash_luma(uint8_t red, uint8_t green, uint8_t blue);

/* photohash_sums: the picture averaged over to_width x to_height equal areas, exactly: ret_sums
 * [to_width * to_height], row after row, holds the average of each area times width * height. An
 * area that covers a part of a pixel takes that part of it. Errors: ERR_DOMAIN (a side out of
 * range). O(pixels + areas). */
MUST_USE enum err photohash_sums(const struct photohash_grey *grey, int32_t to_width,
                                 int32_t to_height, uint64_t *ret_sums);

/* photohash_resize: the same, rounded to whole grey levels into ret[to_width * to_height]. */
MUST_USE enum err photohash_resize(const struct photohash_grey *grey, int32_t to_width,
                                   int32_t to_height, uint8_t *ret);

/* photohash_exposure: mean luminance from 0 (black) to 1 (white), and the share of pixels that are
 * almost black (at most PHOTOHASH_DARK_LEVEL) and almost white (at least PHOTOHASH_BRIGHT_LEVEL).
 * Errors: ERR_DOMAIN. */
enum { PHOTOHASH_DARK_LEVEL = 16, PHOTOHASH_BRIGHT_LEVEL = 250 };
struct photohash_exposure {
    double mean, dark, bright;
};
MUST_USE enum err photohash_exposure(const struct photohash_grey *grey,
                                     struct photohash_exposure *ret);

/* photohash_sharpness: the variance of the Laplacian (a pixel's four neighbours less four times
 * itself) over all pixels that have four neighbours, in squared grey levels; 0 when there are none.
 * It grows with detail and falls with blur and with size, so pictures are compared at one size only.
 * Source: Pech-Pacheco et al. 2000, "Diatom autofocusing in brightfield microscopy" (from memory).
 * Worked: one pixel of 10 in the middle of a black 5 x 5: (1600 + 4 x 100)/9 - 0 = 222.2.
 * Errors: ERR_DOMAIN. */
MUST_USE enum err photohash_sharpness(const struct photohash_grey *grey, double *ret);

/* A picture's hashes. Two pictures are compared by the number of bits that differ
 * (photohash_distance): 0 the same, up to about 10 perhaps a variation, more a different picture.
 *
 * dhash: Krawetz, "Kind of Like That", 2013: averaged to 9 x 8, each of a row's eight neighbour pairs
 * gives a bit, 1 when the right one is brighter. Bits from the top row's left pair (the highest bit)
 * to the bottom row's right pair (the lowest).
 *
 * phash: averaged to 32 x 32, two-dimensional DCT-II; the 64 coefficients with both frequencies in
 * 1..8 give a bit each, 1 when above their median (Zauner 2010, "Implementation and Benchmarking of
 * Perceptual Image Hash Functions", from memory). Bits by vertical frequency, then by horizontal,
 * highest bit first. Coefficients are first rounded to 1/1024 grey level, so that a direction without
 * any change gives zeros and not rounding noise.
 *
 * _mirror: the hashes of the picture seen in a mirror (left and right changed).
 *
 * contrast: standard deviation of the 9 x 8 averages in grey levels. Below
 * PHOTOHASH_CONTRAST_MIN the picture has no shapes that a hash could tell (is_flat): every
 * such picture is near every other, which means nothing. */
#define PHOTOHASH_CONTRAST_MIN 2.0
struct photohash {
    uint64_t dhash, dhash_mirror, phash, phash_mirror;
    double contrast;
    bool is_flat;
};

/* photohash_of: all hashes of one picture. Errors: ERR_DOMAIN. */
MUST_USE enum err photohash_of(const struct photohash_grey *grey, struct photohash *ret);

/* photohash_alike: whether two pictures are likely the same one: both hashes agree, the difference
 * hash to within PHOTOHASH_ALIKE_BITS and the DCT hash to within PHOTOHASH_ALIKE_DCT_BITS, or both do
 * so with b seen in a mirror. One hash alone calls about one in 10 000 invented pictures a copy of
 * another at 10 bits, both together about one in a million (measured, see doc/photos.md); that is a reason
 * to look at both, never a proof. Flat pictures are alike to none. ret_mirrored may be NULL. */
enum { PHOTOHASH_ALIKE_BITS = 10, PHOTOHASH_ALIKE_DCT_BITS = 20 };
bool photohash_alike(const struct photohash *a, const struct photohash *b, bool *ret_mirrored);

/* photohash_perhaps: the same with wider bounds, for pictures that are then compared by likeness.h: finds copies cropped by 3 % at
 * two edges as well, and calls about one different pair in 100 000 a perhaps (measured, doc/photos.md). */
enum { PHOTOHASH_PERHAPS_BITS = 14, PHOTOHASH_PERHAPS_DCT_BITS = 18 };
bool photohash_perhaps(const struct photohash *a, const struct photohash *b, bool *ret_mirrored);

/* photohash_cosines: ret[k] = cos(k pi / 64) for k = 0..127, from half angles and sums of angles;
 * within 1e-15 of the true values. */
void photohash_cosines(double ret[PHOTOHASH_COSINES]);

/* photohash_distance: in how many bits a and b differ, 0..64. */
int photohash_distance(uint64_t a, uint64_t b);

#endif
