/* Rows for core/photohash. "definition" rows were computed by a separate program in Python 3.11 with
 * exact fractions and math.cos straight from the definitions in the header, on the same seeded
 * pictures (SplitMix64, highest byte of each number). */
#include "core/photohash.h"
#include "tap.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { SIDE = 128 };

/* SplitMix64, Steele, Lea & Flood 2014. */
static uint8_t random_byte(uint64_t *state)
{
    *state += 0x9e3779b97f4a7c15u;
    uint64_t z = *state;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return (uint8_t)((z ^ (z >> 31)) >> 56);
}

static void fill(uint8_t *pixels, int n, uint64_t seed)
{
    for (int i = 0; i < n; i++)
        pixels[i] = random_byte(&seed);
}

static void distance_rows(void)
{
    static const struct {
        uint64_t a, b;
        int want;
        const char *source;
    } rows[] = {
        {0xF0F0F0F0F0F0F0F0, 0x0F0F0F0F0F0F0F0F, 64, "computed in Python"},
        {0x123456789ABCDEF0, 0x123456789ABCDEF1, 1, "computed in Python"},
        {0, 0, 0, "definition"},
        {0, 0xFFFFFFFFFFFFFFFF, 64, "definition"},
        {0x8000000000000000, 1, 2, "definition"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        tap_ok(photohash_distance(rows[i].a, rows[i].b) == rows[i].want,
               "%016llx and %016llx differ in %d bits (%s)", (unsigned long long)rows[i].a,
               (unsigned long long)rows[i].b, rows[i].want, rows[i].source);
    bool is_same = true;
    for (int i = 0; i < 64; i++)
        for (int k = 0; k < 64; k++)
            is_same &= photohash_distance(1ull << i, 1ull << k) == (i == k ? 0 : 2);
    tap_ok(is_same, "any two single bits differ in 2, equal ones in 0 (definition)");
}

static void luma_rows(void)
{
    static const struct {
        uint8_t r, g, b, want;
    } rows[] = {{0, 0, 0, 0},     {255, 255, 255, 255}, {255, 0, 0, 76},
                {0, 255, 0, 150}, {0, 0, 255, 29},      {1, 1, 1, 1}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        tap_ok(photohash_luma(rows[i].r, rows[i].g, rows[i].b) == rows[i].want,
               "luma of %d %d %d is %d (0.299 R + 0.587 G + 0.114 B by hand; ITU-R BT.601)",
               rows[i].r, rows[i].g, rows[i].b, rows[i].want);
}

static void seeded_rows(void)
{
    static const struct {
        uint64_t seed;
        int width, height;
        uint64_t dhash, dhash_mirror, phash, phash_mirror;
        double sharpness, exposure;
    } rows[] = {
        {1, 9, 8, 0xcc53b545d333518b, 0xc435525d3433752e, 0xeb641a8627f82100, 0x41ceb02c8d528bff,
         113208.03911564626, 0.5116013071895424},
        {2, 32, 32, 0x34b3ba5d8baa5734, 0xd332a2452eaa15d3, 0x30b841ed6d62e4de, 0x9c12eb47c7c84e74,
         123887.30065555556, 0.5022441789215686},
        {3, 40, 23, 0xd53aea8a5ba5b1b0, 0x54a3a8ae255a72f2, 0x2f8945c7035f26b3, 0x8423af6da9fd8819,
         111437.75419752389, 0.49887468030690535},
        {4, 7, 5, 0xc7e771098999cbeb, 0x1c18716f6e662c28, 0xb94b61ccb8339cb4, 0x13e1cb665399361e,
         103465.18222222223, 0.5452100840336135},
        {5, 1, 1, 0, 0, 0, 0, 0.0, 0.38823529411764707},
        {6, 100, 64, 0x9dab2e2a69d22ad4, 0x462a8bab69b4abd4, 0xd063b585cacb6d45, 0x72c91f2b6061c7a7,
         111764.01282861676, 0.5000079656862745},
        {7, 64, 90, 0x696569923a4da68a, 0x695969b6a34d9aae, 0x9cafa5f600463f1a, 0x36250fdcaaec95b0,
         111427.34851267484, 0.49633782679738564},
    };
    static uint8_t pixels[SIDE * SIDE];
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        const struct photohash_grey grey = {pixels, rows[i].width, rows[i].height};
        struct photohash h = {0};
        struct photohash_exposure x = {0};
        double sharpness = -1.0;
        fill(pixels, grey.width * grey.height, rows[i].seed);
        const bool is_ok = photohash_of(&grey, &h) == ERR_OK &&
                           photohash_sharpness(&grey, &sharpness) == ERR_OK &&
                           photohash_exposure(&grey, &x) == ERR_OK;
        const char *what = "(definition, Python)";
        tap_ok(is_ok && h.dhash == rows[i].dhash, "dhash of seed %d %s", (int)rows[i].seed, what);
        tap_ok(h.dhash_mirror == rows[i].dhash_mirror, "dhash of its mirror %s", what);
        tap_ok(h.phash == rows[i].phash, "phash of seed %d %s", (int)rows[i].seed, what);
        tap_ok(h.phash_mirror == rows[i].phash_mirror, "phash of its mirror %s", what);
        tap_ok(fabs(sharpness - rows[i].sharpness) <= 1e-9 * rows[i].sharpness,
               "its sharpness is %.17g %s", rows[i].sharpness, what);
        tap_ok(fabs(x.mean - rows[i].exposure) <= 1e-14, "its exposure is %.17g %s",
               rows[i].exposure, what);
    }
}

/* A ramp that brightens to the right: by Krawetz's rule every right neighbour is brighter. */
static void ramp_rows(void)
{
    static uint8_t pixels[90 * 80];
    struct photohash h = {0};
    const struct photohash_grey grey = {pixels, 90, 80};
    for (int i = 0; i < 90 * 80; i++)
        pixels[i] = (uint8_t)(2 * (i % 90));
    tap_ok(photohash_of(&grey, &h) == ERR_OK && h.dhash == 0xFFFFFFFFFFFFFFFF,
           "a ramp brighter to the right gives all ones (our convention, by hand)");
    tap_ok(h.dhash_mirror == 0, "its mirror gives all zeros (by hand)");
    tap_ok(!h.is_flat, "a ramp is not flat");
    /* Rows of one ramp have no vertical change: all 64 coefficients are zero, none above the median. */
    tap_ok(h.phash == 0, "no change from row to row: the DCT hash is 0 (by hand)");
    memset(pixels, 255, sizeof pixels);
    pixels[0] = 254;
    tap_ok(photohash_of(&grey, &h) == ERR_OK && h.is_flat,
           "one pixel a level off makes no shape: flat");
    /* One bright area of 10 x 10 in the left upper corner: 9 x 8 areas, only the first is bright. */
    memset(pixels, 0, sizeof pixels);
    for (int y = 0; y < 10; y++)
        memset(pixels + y * 90, 200, 10);
    tap_ok(photohash_of(&grey, &h) == ERR_OK && h.dhash == 0 && h.dhash_mirror == 1ull << 56,
           "a bright corner: no right neighbour is brighter; mirrored the first row's last (by "
           "hand)");
}

static void area_rows(void)
{
    /* Python fractions, seed 4, 7 x 5 into 3 x 2. */
    static const uint64_t want[] = {5115, 5335, 5321, 4305, 4079, 5041};
    uint8_t pixels[35], small[6];
    uint64_t sums[6] = {0}, one = 0;
    fill(pixels, 35, 4);
    const struct photohash_grey grey = {pixels, 7, 5};
    tap_ok(photohash_sums(&grey, 3, 2, sums) == ERR_OK && memcmp(sums, want, sizeof want) == 0,
           "7 x 5 into 3 x 2: exact areas (Python fractions)");
    bool is_rounded = photohash_resize(&grey, 3, 2, small) == ERR_OK;
    for (int i = 0; i < 6; i++)
        is_rounded &= small[i] == (want[i] * 2 + 35) / 70;
    tap_ok(is_rounded, "resized: the same, rounded to whole levels (by hand)");
    uint64_t total = 0;
    for (int i = 0; i < 35; i++)
        total += pixels[i];
    tap_ok(photohash_sums(&grey, 1, 1, &one) == ERR_OK && one == total,
           "into one area: the plain sum (definition)");
    uint64_t self[35];
    bool is_same = photohash_sums(&grey, 7, 5, self) == ERR_OK;
    for (int i = 0; i < 35; i++)
        is_same &= self[i] == 35u * pixels[i];
    tap_ok(is_same, "into its own size: itself (definition)");
}

static void light_rows(void)
{
    uint8_t dot[25] = {0}, board[64], levels[4] = {0, 16, 250, 255};
    struct photohash_exposure x = {0};
    double sharpness = -1;
    dot[12] = 10;
    tap_ok(photohash_sharpness(&(struct photohash_grey){dot, 5, 5}, &sharpness) == ERR_OK &&
               fabs(sharpness - 2000.0 / 9.0) < 1e-12,
           "one pixel of 10 in 5 x 5: 2000/9 (by hand, as the header says)");
    for (int i = 0; i < 64; i++)
        board[i] = (i + i / 8) % 2 ? 255 : 0;
    /* Laplacian +1020 on black, -1020 on white, 18 each: mean 0, variance 1020 squared. */
    tap_ok(photohash_sharpness(&(struct photohash_grey){board, 8, 8}, &sharpness) == ERR_OK &&
               sharpness == 1020.0 * 1020.0,
           "a chessboard of single pixels: 1020 squared (by hand)");
    tap_ok(photohash_sharpness(&(struct photohash_grey){board, 32, 2}, &sharpness) == ERR_OK &&
               sharpness == 0.0,
           "no pixel with four neighbours: 0 (header)");
    tap_ok(photohash_exposure(&(struct photohash_grey){levels, 2, 2}, &x) == ERR_OK &&
               x.dark == 0.5 && x.bright == 0.5 && fabs(x.mean - 521.0 / 1020.0) < 1e-15,
           "0 16 250 255: half dark, half bright, mean 521/1020 (by hand)");
}

static void alike_rows(void)
{
    const uint64_t low10 = 0x3FF, low20 = 0xFFFFF; /* ten and twenty bits */
    const struct photohash a = {.dhash = 0, .phash = 0}, none = {.is_flat = true};
    const struct photohash edge = {.dhash = low10, .dhash_mirror = ~0ull, .phash = low20};
    const struct photohash off1 = {.dhash = 0x7FF, .dhash_mirror = ~0ull, .phash = low20};
    const struct photohash off2 = {.dhash = low10, .dhash_mirror = ~0ull, .phash = 0x1FFFFF};
    const struct photohash mirror = {
        .dhash = ~0ull, .phash = ~0ull, .dhash_mirror = 1, .phash_mirror = 1};
    bool is_mirrored = true;
    tap_ok(photohash_alike(&a, &edge, &is_mirrored) && !is_mirrored,
           "10 and 20 bits apart: alike (header)");
    tap_ok(!photohash_alike(&a, &off1, NULL), "11 and 20 bits apart: not alike (header)");
    tap_ok(!photohash_alike(&a, &off2, NULL), "10 and 21 bits apart: not alike (header)");
    tap_ok(photohash_alike(&a, &mirror, &is_mirrored) && is_mirrored,
           "near the other's mirror image: alike, mirrored (header)");
    tap_ok(!photohash_alike(&none, &none, NULL), "flat pictures are alike to none (header)");
}

static void cosine_rows(void)
{
    double c[PHOTOHASH_COSINES];
    double worst = 0;
    photohash_cosines(c);
    /* The C library's cosine is the outside judge here; the core itself never calls it. */
    for (int k = 0; k < PHOTOHASH_COSINES; k++)
        worst = fmax(worst, fabs(c[k] - cos(k * 3.14159265358979323846 / 64)));
    tap_ok(worst <= 1e-15, "cosines of k pi/64 within 1e-15 of the C library's (worst %.2g)",
           worst);
    tap_ok(c[0] == 1 && c[32] == 0 && c[64] == -1 && c[96] == 0, "0, 1 and -1 where they belong");
}

static void refusals(void)
{
    uint8_t pixel = 7;
    double d = 5;
    uint64_t sum = 3;
    struct photohash h;
    struct photohash_exposure x;
    const struct photohash_grey none = {&pixel, 0, 1}, wide = {&pixel, 65536, 1},
                                many = {&pixel, 65535, 65535}, one = {&pixel, 1, 1};
    tap_ok(photohash_of(&none, &h) == ERR_DOMAIN, "no pixels: ERR_DOMAIN");
    tap_ok(photohash_exposure(&wide, &x) == ERR_DOMAIN, "65536 wide: ERR_DOMAIN");
    tap_ok(photohash_sharpness(&many, &d) == ERR_DOMAIN && d == 5,
           "65535 x 65535: ERR_DOMAIN, nothing written");
    tap_ok(photohash_sums(&one, 0, 1, &sum) == ERR_DOMAIN && sum == 3,
           "into no areas: ERR_DOMAIN, nothing written");
    tap_ok(photohash_resize(&one, 1, -1, &pixel) == ERR_DOMAIN, "into -1: ERR_DOMAIN");
}

int main(void)
{
    distance_rows();
    luma_rows();
    seeded_rows();
    ramp_rows();
    area_rows();
    light_rows();
    alike_rows();
    cosine_rows();
    refusals();
    return tap_done();
}
