/* photohash: owns the numbers by which grey pictures are judged and compared. Sums are whole numbers
 * as long as possible: every area of a shrunk picture carries the same weight, width x height, so
 * neighbours compare without any rounding. */
#include "core/photohash.h"

#include <math.h>
#include <stddef.h>

enum {
    DHASH_ACROSS = 9,
    DHASH_DOWN = 8,
    DCT_SIDE = PHOTOHASH_DCT_SIDE,
    DCT_KEPT = 8,
    HASH_BITS = 64,
    COEFFICIENT_STEPS = 1024 /* a grey level */
};

static bool is_sound(const struct photohash_grey *grey)
{
    return grey->width >= 1 && grey->height >= 1 && grey->width <= PHOTOHASH_SIDE_MAX &&
           grey->height <= PHOTOHASH_SIDE_MAX &&
           (int64_t)grey->width * grey->height <= PHOTOHASH_PIXELS_MAX;
}

uint8_t photohash_luma(uint8_t red, uint8_t green, uint8_t blue)
{
    return (uint8_t)((299u * red + 587u * green + 114u * blue + 500u) / 1000u);
}

/* ---- area averages ------------------------------------------------------------------------- */

/* The pixels first..last that part i of `parts` equal parts of a side covers, with the weights of
 * the two at the ends; those between weigh `parts`. All weights add up to `side`. */
struct span {
    int32_t first, last;
    uint32_t first_weight, last_weight;
};

static struct span span_of(int32_t i, int32_t parts, int32_t side)
{
    const int64_t begin = (int64_t)i * side, end = begin + side; /* in 1/parts of a pixel */
    struct span s = {.first = (int32_t)(begin / parts), .last = (int32_t)((end - 1) / parts)};
    const int64_t first_end = ((int64_t)s.first + 1) * parts;
    s.first_weight = (uint32_t)((first_end < end ? first_end : end) - begin);
    s.last_weight = (uint32_t)(end - (int64_t)s.last * parts);
    return s;
}

static uint64_t row_sum(const uint8_t *row, const struct span *s, uint32_t parts)
{
    uint64_t between = 0;
    if (s->first == s->last)
        return (uint64_t)row[s->first] * s->first_weight;
    for (int32_t x = s->first + 1; x < s->last; x++)
        between += row[x];
    return between * parts + (uint64_t)row[s->first] * s->first_weight +
           (uint64_t)row[s->last] * s->last_weight;
}

static uint64_t area_sum(const struct photohash_grey *grey, const struct span *across,
                         const struct span *down, uint32_t parts_across, uint32_t parts_down)
{
    uint64_t sum = 0;
    for (int32_t y = down->first; y <= down->last; y++) {
        const uint8_t *row = grey->pixels + (size_t)y * (size_t)grey->width;
        const uint32_t weight = y == down->first  ? down->first_weight
                                : y == down->last ? down->last_weight
                                                  : parts_down;
        sum += weight * row_sum(row, across, parts_across);
    }
    return sum;
}

static bool is_size(int32_t width, int32_t height)
{
    return width >= 1 && height >= 1 && width <= PHOTOHASH_SIDE_MAX && height <= PHOTOHASH_SIDE_MAX;
}

enum err photohash_sums(const struct photohash_grey *grey, int32_t to_width, int32_t to_height,
                        uint64_t *ret_sums)
{
    if (!is_sound(grey) || !is_size(to_width, to_height))
        return ERR_DOMAIN;
    for (int32_t y = 0; y < to_height; y++) {
        const struct span down = span_of(y, to_height, grey->height);
        for (int32_t x = 0; x < to_width; x++) {
            const struct span across = span_of(x, to_width, grey->width);
            *ret_sums++ = area_sum(grey, &across, &down, (uint32_t)to_width, (uint32_t)to_height);
        }
    }
    return ERR_OK;
}

enum err photohash_resize(const struct photohash_grey *grey, int32_t to_width, int32_t to_height,
                          uint8_t *ret)
{
    if (!is_sound(grey) || !is_size(to_width, to_height))
        return ERR_DOMAIN;
    const uint64_t weight = (uint64_t)grey->width * (uint64_t)grey->height;
    for (int32_t y = 0; y < to_height; y++) {
        const struct span down = span_of(y, to_height, grey->height);
        for (int32_t x = 0; x < to_width; x++) {
            const struct span across = span_of(x, to_width, grey->width);
            const uint64_t sum =
                area_sum(grey, &across, &down, (uint32_t)to_width, (uint32_t)to_height);
            *ret++ = (uint8_t)((sum + weight / 2) / weight);
        }
    }
    return ERR_OK;
}

/* ---- exposure and sharpness ---------------------------------------------------------------- */

enum err photohash_exposure(const struct photohash_grey *grey, struct photohash_exposure *ret)
{
    if (!is_sound(grey))
        return ERR_DOMAIN;
    const size_t n = (size_t)grey->width * (size_t)grey->height;
    uint64_t sum = 0, dark = 0, bright = 0;
    for (size_t i = 0; i < n; i++) {
        sum += grey->pixels[i];
        dark += grey->pixels[i] <= PHOTOHASH_DARK_LEVEL;
        bright += grey->pixels[i] >= PHOTOHASH_BRIGHT_LEVEL;
    }
    ret->mean = (double)sum / (255.0 * (double)n);
    ret->dark = (double)dark / (double)n;
    ret->bright = (double)bright / (double)n;
    return ERR_OK;
}

enum err photohash_sharpness(const struct photohash_grey *grey, double *ret)
{
    if (!is_sound(grey))
        return ERR_DOMAIN;
    const int32_t width = grey->width, height = grey->height;
    if (width < 3 || height < 3) {
        *ret = 0.0;
        return ERR_OK;
    }
    int64_t sum = 0, squares = 0; /* at most 2^28 x 1020^2: far inside */
    for (int32_t y = 1; y < height - 1; y++) {
        const uint8_t *row = grey->pixels + (size_t)y * (size_t)width;
        for (int32_t x = 1; x < width - 1; x++) {
            const int32_t laplacian =
                row[x - 1] + row[x + 1] + row[x - width] + row[x + width] - 4 * row[x];
            sum += laplacian;
            squares += (int64_t)laplacian * laplacian;
        }
    }
    const double n = (double)(width - 2) * (double)(height - 2);
    const double mean = (double)sum / n;
    *ret = (double)squares / n - mean * mean;
    return ERR_OK;
}

/* ---- the difference hash ------------------------------------------------------------------- */

static uint64_t difference_hash(const uint64_t *sums)
{
    uint64_t hash = 0;
    for (int y = 0; y < DHASH_DOWN; y++)
        for (int x = 0; x + 1 < DHASH_ACROSS; x++)
            hash = hash << 1 | (sums[y * DHASH_ACROSS + x + 1] > sums[y * DHASH_ACROSS + x]);
    return hash;
}

static uint64_t difference_hash_mirror(const uint64_t *sums)
{
    uint64_t hash = 0;
    for (int y = 0; y < DHASH_DOWN; y++)
        for (int x = DHASH_ACROSS - 1; x > 0; x--)
            hash = hash << 1 | (sums[y * DHASH_ACROSS + x - 1] > sums[y * DHASH_ACROSS + x]);
    return hash;
}

/* Standard deviation of n areas, in grey levels. */
static double contrast_of(const uint64_t *sums, int n, double weight)
{
    double mean = 0.0, squares = 0.0;
    for (int i = 0; i < n; i++)
        mean += (double)sums[i] / weight;
    mean /= n;
    for (int i = 0; i < n; i++) {
        const double off = (double)sums[i] / weight - mean;
        squares += off * off;
    }
    return sqrt(squares / n);
}

/* ---- the DCT hash -------------------------------------------------------------------------- */

void photohash_cosines(double ret[PHOTOHASH_COSINES])
{
    enum { QUARTER = DCT_SIDE, EIGHTH = DCT_SIDE / 2 };
    /* From pi/4, halved down to pi/64: sin(a/2) = sin(a) / (2 cos(a/2)) keeps its digits. */
    double step_cos = sqrt(0.5), step_sin = sqrt(0.5);
    for (int parts = 4; parts < 2 * DCT_SIDE; parts *= 2) {
        step_cos = sqrt((1.0 + step_cos) / 2.0);
        step_sin = step_sin / (2.0 * step_cos);
    }
    double c = 1.0, s = 0.0;
    for (int k = 0; k <= EIGHTH; k++) { /* up to pi/4; the rest by symmetry */
        ret[k] = c;
        ret[QUARTER - k] = s;
        const double next = c * step_cos - s * step_sin;
        s = s * step_cos + c * step_sin;
        c = next;
    }
    ret[EIGHTH] = sqrt(0.5);
    for (int k = 0; k < QUARTER; k++)
        ret[2 * QUARTER - k] = -ret[k];
    for (int k = 1; k < 2 * QUARTER; k++)
        ret[2 * QUARTER + k] = ret[2 * QUARTER - k];
}

/* The coefficients with both frequencies in 1..8, vertical frequency first, in 1/1024 grey level.
 * grey[y][x]: departures from the mean. Rows first, then columns; the scale is orthonormal. */
static void low_coefficients(double grey[DCT_SIDE][DCT_SIDE], int64_t ret[HASH_BITS])
{
    double cosines[PHOTOHASH_COSINES], rows[DCT_SIDE][DCT_KEPT];
    photohash_cosines(cosines);
    for (int y = 0; y < DCT_SIDE; y++)
        for (int u = 1; u <= DCT_KEPT; u++) {
            double sum = 0.0;
            for (int x = 0; x < DCT_SIDE; x++)
                sum += grey[y][x] * cosines[(2 * x + 1) * u % PHOTOHASH_COSINES];
            rows[y][u - 1] = sum;
        }
    for (int v = 1; v <= DCT_KEPT; v++)
        for (int u = 0; u < DCT_KEPT; u++) {
            double sum = 0.0;
            for (int y = 0; y < DCT_SIDE; y++)
                sum += rows[y][u] * cosines[(2 * y + 1) * v % PHOTOHASH_COSINES];
            ret[(v - 1) * DCT_KEPT + u] =
                (int64_t)floor(sum * 2.0 / DCT_SIDE * COEFFICIENT_STEPS + 0.5);
        }
}

static uint64_t above_median(const int64_t c[HASH_BITS])
{
    int64_t sorted[HASH_BITS] = {0};
    for (int i = 0; i < HASH_BITS; i++) {
        int at = i;
        for (; at > 0 && sorted[at - 1] > c[i]; at--)
            sorted[at] = sorted[at - 1];
        sorted[at] = c[i];
    }
    const int64_t twice_median = sorted[HASH_BITS / 2 - 1] + sorted[HASH_BITS / 2];
    uint64_t hash = 0;
    for (int i = 0; i < HASH_BITS; i++)
        hash = hash << 1 | (2 * c[i] > twice_median);
    return hash;
}

static enum err dct_hash(const struct photohash_grey *grey, struct photohash *ret)
{
    enum { AREAS = DCT_SIDE * DCT_SIDE };
    uint64_t sums[AREAS], total = 0;
    double off[DCT_SIDE][DCT_SIDE];
    int64_t c[HASH_BITS];
    const enum err e = photohash_sums(grey, DCT_SIDE, DCT_SIDE, sums);
    if (e != ERR_OK)
        return e;
    for (int i = 0; i < AREAS; i++)
        total += sums[i];
    /* The mean is taken off in whole numbers: an even picture gives exact zeros. */
    const double weight = (double)grey->width * (double)grey->height * AREAS;
    for (int i = 0; i < AREAS; i++)
        off[i / DCT_SIDE][i % DCT_SIDE] =
            (double)((int64_t)(AREAS * sums[i]) - (int64_t)total) / weight;
    low_coefficients(off, c);
    ret->phash = above_median(c);
    for (int i = 0; i < HASH_BITS; i += 2)
        c[i] = -c[i]; /* odd horizontal frequencies change sign in a mirror */
    ret->phash_mirror = above_median(c);
    return ERR_OK;
}

enum err photohash_of(const struct photohash_grey *grey, struct photohash *ret)
{
    enum { AREAS = DHASH_ACROSS * DHASH_DOWN };
    uint64_t sums[AREAS];
    struct photohash h = {0};
    enum err e = photohash_sums(grey, DHASH_ACROSS, DHASH_DOWN, sums);
    if (e == ERR_OK)
        e = dct_hash(grey, &h);
    if (e != ERR_OK)
        return e;
    h.dhash = difference_hash(sums);
    h.dhash_mirror = difference_hash_mirror(sums);
    h.contrast = contrast_of(sums, AREAS, (double)grey->width * (double)grey->height);
    h.is_flat = h.contrast < PHOTOHASH_CONTRAST_MIN;
    *ret = h;
    return ERR_OK;
}

int photohash_distance(uint64_t a, uint64_t b)
{
    /* Sums of neighbouring bits, pairs, nibbles; no machine's own instruction is assumed. */
    uint64_t x = a ^ b;
    x -= x >> 1 & 0x5555555555555555u;
    x = (x & 0x3333333333333333u) + (x >> 2 & 0x3333333333333333u);
    x = (x + (x >> 4)) & 0x0f0f0f0f0f0f0f0fu;
    return (int)(x * 0x0101010101010101u >> 56);
}

/* Within so many bits, in either hash. */
struct reach {
    int dhash, phash;
};

static bool agree(uint64_t dhash_a, uint64_t dhash_b, uint64_t phash_a, uint64_t phash_b,
                  struct reach reach)
{
    return photohash_distance(dhash_a, dhash_b) <= reach.dhash &&
           photohash_distance(phash_a, phash_b) <= reach.phash;
}

static bool are_within(const struct photohash *a, const struct photohash *b, struct reach reach,
                       bool *ret_mirrored)
{
    if (a->is_flat || b->is_flat)
        return false;
    const bool is_plain = agree(a->dhash, b->dhash, a->phash, b->phash, reach);
    const bool is_mirrored =
        !is_plain && agree(a->dhash, b->dhash_mirror, a->phash, b->phash_mirror, reach);
    if (ret_mirrored != NULL)
        *ret_mirrored = is_mirrored;
    return is_plain || is_mirrored;
}

bool photohash_alike(const struct photohash *a, const struct photohash *b, bool *ret_mirrored)
{
    return are_within(a, b, (struct reach){PHOTOHASH_ALIKE_BITS, PHOTOHASH_ALIKE_DCT_BITS},
                      ret_mirrored);
}

bool photohash_perhaps(const struct photohash *a, const struct photohash *b, bool *ret_mirrored)
{
    return are_within(a, b, (struct reach){PHOTOHASH_PERHAPS_BITS, PHOTOHASH_PERHAPS_DCT_BITS},
                      ret_mirrored);
}
