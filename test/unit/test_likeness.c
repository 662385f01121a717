/* likeness: cases that can be worked out by hand. For pictures of two levels Pearson's correlation is the phi coefficient,
 * (p_ab - p_a p_b) / sqrt(p_a (1 - p_a) p_b (1 - p_b)), with the shares of the areas that are bright (K. Pearson's fourfold table;
 * G. U. Yule 1912, from memory). */
#include "core/likeness.h"
#include "tap.h"

#include <math.h>
#include <string.h>

enum { SIDE = LIKENESS_SIDE, BIG = 640 };

static struct likeness_work work;
static uint8_t pixels[BIG * BIG];

/* Bright where x0 <= x < x1 and y0 <= y < y1, in eighths of the side. */
static struct likeness_picture block(int x0, int x1, int y0, int y1, int dark, int bright)
{
    struct likeness_picture p;
    for (int y = 0; y < SIDE; y++)
        for (int x = 0; x < SIDE; x++) {
            const int i = x * 8 / SIDE, k = y * 8 / SIDE;
            p.grey[y * SIDE + x] =
                (uint8_t)(i >= x0 && i < x1 && k >= y0 && k < y1 ? bright : dark);
        }
    return p;
}

static double at(struct likeness_picture a, struct likeness_picture b)
{
    return likeness_at(&a, &b, 8, &work);
}

static void by_hand(void)
{
    const struct likeness_picture left = block(0, 4, 0, 8, 10, 90),
                                  right = block(4, 8, 0, 8, 0, 200);
    const struct likeness_picture top = block(0, 8, 0, 4, 0, 255), even = block(0, 0, 0, 0, 77, 77);
    const struct likeness_picture quarter = block(0, 2, 0, 8, 0, 100);
    const struct likeness_picture corner = block(0, 4, 0, 4, 0, 100);
    bool is_mirrored = true;
    tap_ok(fabs(at(left, block(0, 4, 0, 8, 60, 220)) - 1) < 1e-9,
           "another light, 2 x + 40: r = 1 (r does not change under a x + b, a > 0)");
    tap_ok(fabs(at(left, quarter) - 1 / sqrt(3.0)) < 1e-6,
           "left half against left quarter: phi = 1/sqrt 3 (%.9f)", at(left, quarter));
    tap_ok(fabs(at(left, corner) - 1 / sqrt(3.0)) < 1e-6,
           "left half against its upper half: phi = 1/sqrt 3");
    tap_ok(at(left, top) < 1e-6, "left half against upper half: phi = 0");
    tap_ok(at(left, right) <= 0, "left half against right half: r = -1, held to 0");
    tap_ok(likeness(&left, &top, &work, NULL) < 1e-6,
           "stripes across and down stay at 0 whatever the edges: their covariance is 0 for each");
    tap_ok(likeness(&left, &left, &work, &is_mirrored) > 1 - 1e-9 && !is_mirrored,
           "a picture against itself: 1, not mirrored");
    tap_ok(likeness(&left, &right, &work, &is_mirrored) > 1 - 1e-9 && is_mirrored,
           "against its mirror image: 1, mirrored");
    tap_ok(likeness(&even, &even, &work, NULL) <= 0,
           "an even picture is like none, not even itself");
    tap_ok(likeness(&even, &left, &work, NULL) <= 0 && likeness(&left, &even, &work, NULL) <= 0,
           "an even picture is like no other");
    tap_ok(likeness_at(&left, &left, 1, &work) <= 0 && likeness_at(&left, &left, 65, &work) <= 0,
           "areas a side out of range: 0");
}

/* A picture of waves that no two places share; `turn` makes another one. */
static uint8_t wave(double x, double y, int turn)
{
    const double tau = 6.283185307179586;
    double v = sin(tau * (2.3 * x + 1.1 * y + 0.13 * turn)) + sin(tau * (1.7 * y - 3.1 * x * y)) +
               0.7 * sin(tau * (5.9 * x * x + 4.3 * y + 0.37 * turn));
    if (turn > 0)
        v = sin(tau * (3.7 * y * y + turn * 1.31 * x)) - sin(tau * (4.9 * x - 2.2 * y * x));
    return (uint8_t)(128 + 40 * v);
}

/* The part of the wave picture within left..right and top..bottom. */
static struct likeness_picture part(double left, double right, double top, double bottom, int turn)
{
    const struct photohash_grey grey = {pixels, BIG, BIG};
    struct likeness_picture p;
    for (int y = 0; y < BIG; y++)
        for (int x = 0; x < BIG; x++)
            pixels[y * BIG + x] = wave(left + (right - left) * (x + 0.5) / BIG,
                                       top + (bottom - top) * (y + 0.5) / BIG, turn);
    tap_n_bad += likeness_of_grey(&grey, &p) != ERR_OK;
    return p;
}

static void crops(void)
{
    static const double cuts[][4] = {{0.03, 1, 0.03, 1}, {0.05, 1, 0, 1},
                                     {0, 0.95, 0, 0.95}, {0.05, 0.95, 0.05, 0.95},
                                     {0, 1, 0.04, 0.97}, {0.02, 0.98, 0.05, 1}};
    const struct likeness_picture whole = part(0, 1, 0, 1, 0);
    for (size_t i = 0; i < sizeof cuts / sizeof *cuts; i++) {
        const struct likeness_picture p = part(cuts[i][0], cuts[i][1], cuts[i][2], cuts[i][3], 0);
        const double none = likeness_at(&whole, &p, 64, &work);
        const double a = likeness(&whole, &p, &work, NULL), b = likeness(&p, &whole, &work, NULL);
        tap_ok(a > 0.99 && b > 0.99 && a > none + 0.03,
               "cut to %.2f..%.2f x %.2f..%.2f: %.4f and %.4f either way round (without the search "
               "%.4f)",
               cuts[i][0], cuts[i][1], cuts[i][2], cuts[i][3], a, b, none);
    }
    const struct likeness_picture l = part(0, 0.96, 0, 1, 0), r = part(0.04, 1, 0, 1, 0);
    tap_ok(likeness(&l, &r, &work, NULL) > 0.99,
           "one cut at the left, the other at the right: %.4f", likeness(&l, &r, &work, NULL));
    for (int turn = 1; turn <= 5; turn++) {
        const struct likeness_picture other = part(0, 1, 0, 1, turn);
        const double a = likeness(&whole, &other, &work, NULL);
        tap_ok(a < LIKENESS_SAME - 0.2, "another picture, %d: %.4f, well below %.2f", turn, a,
               LIKENESS_SAME);
    }
}

static void refusals(void)
{
    const struct photohash_grey none = {pixels, 0, 10};
    struct likeness_picture p;
    tap_ok(likeness_of_grey(&none, &p) == ERR_DOMAIN, "a picture without pixels: ERR_DOMAIN");
}

int main(void)
{
    by_hand();
    crops();
    refusals();
    return tap_done();
}
