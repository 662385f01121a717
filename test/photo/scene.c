/* scene: owns the invented pictures and their disguises. Nothing here is clever; what matters is that
 * large and small shapes, light and grain differ from seed to seed as they do from photo to photo. */
#include "scene.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { LATTICE = 7 };

static uint64_t next(uint64_t *state)
{
    *state += 0x9e3779b97f4a7c15u; /* SplitMix64, Steele, Lea & Flood 2014 */
    uint64_t z = *state;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

static int below(uint64_t *state, int n)
{
    return (int)(next(state) % (uint64_t)n);
}

static struct scene blank(int width, int height)
{
    struct scene s = {malloc((size_t)width * (size_t)height * 3), width, height};
    if (s.rgb == NULL) {
        puts("Bail out! no memory");
        exit(2);
    }
    return s;
}

static uint8_t *pixel(const struct scene *s, int x, int y)
{
    return s->rgb + 3 * ((size_t)y * (size_t)s->width + (size_t)x);
}

static uint8_t held(double v)
{
    return (uint8_t)(v < 0 ? 0 : v > 255 ? 255 : v);
}

/* ---- drawing ------------------------------------------------------------------------------- */

struct colour {
    double r, g, b;
};

static struct colour any_colour(uint64_t *state, int low, int high)
{
    const double base = low + below(state, high - low);
    return (struct colour){base + below(state, 40) - 20, base + below(state, 40) - 20,
                           base + below(state, 40) - 20};
}

/* A rectangle around (cx, cy), turned by the direction (dx, dy), which need not be a unit. */
struct bar {
    double cx, cy, dx, dy, half_length, half_width;
};

static void draw_bar(const struct scene *s, const struct bar *b, struct colour c, double cover)
{
    const double size2 = b->dx * b->dx + b->dy * b->dy;
    for (int y = 0; y < s->height; y++)
        for (int x = 0; x < s->width; x++) {
            const double px = x - b->cx, py = y - b->cy;
            const double along = (px * b->dx + py * b->dy) / size2; /* in lengths of (dx, dy) */
            const double across = (py * b->dx - px * b->dy) / size2;
            if (along < -b->half_length || along > b->half_length || across < -b->half_width ||
                across > b->half_width)
                continue;
            uint8_t *p = pixel(s, x, y);
            p[0] = held(p[0] + cover * (c.r - p[0]));
            p[1] = held(p[1] + cover * (c.g - p[1]));
            p[2] = held(p[2] + cover * (c.b - p[2]));
        }
}

/* Uneven light: a lattice of grey values with smooth passages. */
static void draw_ground(const struct scene *s, uint64_t *state)
{
    double lattice[LATTICE][LATTICE];
    const struct colour c = any_colour(state, 60, 190);
    const double depth = 40 + below(state, 60);
    for (int j = 0; j < LATTICE; j++)
        for (int i = 0; i < LATTICE; i++)
            lattice[j][i] = depth * (below(state, 1000) / 500.0 - 1);
    for (int y = 0; y < s->height; y++)
        for (int x = 0; x < s->width; x++) {
            const double u = (double)x * (LATTICE - 1) / s->width;
            const double v = (double)y * (LATTICE - 1) / s->height;
            const int i = (int)u, j = (int)v;
            double fu = u - i, fv = v - j;
            fu = fu * fu * (3 - 2 * fu);
            fv = fv * fv * (3 - 2 * fv);
            const double top = lattice[j][i] + fu * (lattice[j][i + 1] - lattice[j][i]);
            const double low = lattice[j + 1][i] + fu * (lattice[j + 1][i + 1] - lattice[j + 1][i]);
            const double light = top + fv * (low - top);
            uint8_t *p = pixel(s, x, y);
            p[0] = held(c.r + light);
            p[1] = held(c.g + light);
            p[2] = held(c.b + light);
        }
}

static void draw_column(const struct scene *s, uint64_t *state)
{
    struct bar b = {.cx = below(state, s->width), .cy = s->height / 2.0};
    b.dx = below(state, 200) / 1000.0 - 0.1;
    b.dy = 1;
    b.half_length = s->height;
    b.half_width = s->width * (0.04 + below(state, 100) / 1000.0);
    draw_bar(s, &b, any_colour(state, 30, 230), 0.9);
    b.cx += b.half_width * 0.7;
    b.half_width *= 0.2;
    draw_bar(s, &b, any_colour(state, 10, 120), 0.8);
}

/* A plate with lines of text, which at this size are rows of dashes. */
static void draw_plate(const struct scene *s, uint64_t *state)
{
    const double w = s->width * (0.1 + below(state, 150) / 1000.0);
    struct bar b = {.cx = below(state, s->width), .cy = below(state, s->height), .dx = 1};
    b.dy = below(state, 400) / 1000.0 - 0.2;
    b.half_length = w;
    b.half_width = w * (0.3 + below(state, 400) / 1000.0);
    draw_bar(s, &b, any_colour(state, 170, 250), 0.95);
    const int lines = 3 + below(state, 4);
    for (int i = 0; i < lines; i++) {
        const double down = b.half_width * (2.0 * (i + 1) / (lines + 1) - 1);
        for (int at = -850; at < 800; at += 120 + below(state, 100)) { /* in 1/1000 of w */
            const struct bar dash = {.cx = b.cx + (at * w / 1000 * b.dx) - down * b.dy,
                                     .cy = b.cy + (at * w / 1000 * b.dy) + down * b.dx,
                                     .dx = b.dx,
                                     .dy = b.dy,
                                     .half_length = w * 0.045,
                                     .half_width = b.half_width * 0.25 / lines};
            draw_bar(s, &dash, (struct colour){20, 20, 25}, 0.9);
        }
    }
}

static void draw_tape(const struct scene *s, uint64_t *state)
{
    struct bar b = {.cx = s->width / 2.0, .cy = below(state, s->height), .dx = 1};
    b.dy = below(state, 1600) / 1000.0 - 0.8;
    b.half_length = s->width;
    b.half_width = s->height * 0.045;
    draw_bar(s, &b, (struct colour){225, 195, 60}, 0.95);
    const double pitch = 5 + below(state, 5);
    for (int i = -60; i <= 60; i++) {
        const struct bar tick = {.cx = b.cx + i * pitch * b.dx,
                                 .cy = b.cy + i * pitch * b.dy,
                                 .dx = b.dx,
                                 .dy = b.dy,
                                 .half_length = 0.7,
                                 .half_width = b.half_width * (i % 10 == 0 ? 0.9 : 0.45)};
        if (tick.cx > -20 && tick.cx < s->width + 20)
            draw_bar(s, &tick, (struct colour){15, 15, 15}, 0.9);
    }
}

static void draw_grain(const struct scene *s, uint64_t *state)
{
    const size_t n = (size_t)s->width * (size_t)s->height * 3;
    for (size_t i = 0; i < n; i++)
        s->rgb[i] = held(s->rgb[i] + below(state, 13) - 6);
}

struct scene scene_draw(uint64_t seed, int width, int height)
{
    const struct scene s = blank(width, height);
    uint64_t state = seed * 0x2545f4914f6cdd1du + 1;
    draw_ground(&s, &state);
    for (int i = 1 + below(&state, 3); i > 0; i--)
        draw_column(&s, &state);
    if (seed % 3 != 0)
        draw_plate(&s, &state);
    if (seed % 3 != 1)
        draw_tape(&s, &state);
    draw_grain(&s, &state);
    return s;
}

/* ---- disguises ----------------------------------------------------------------------------- */

struct scene scene_half(const struct scene *s)
{
    const struct scene to = blank(s->width / 2, s->height / 2);
    for (int y = 0; y < to.height; y++)
        for (int x = 0; x < to.width; x++)
            for (int c = 0; c < 3; c++)
                pixel(&to, x, y)[c] =
                    (uint8_t)((pixel(s, 2 * x, 2 * y)[c] + pixel(s, 2 * x + 1, 2 * y)[c] +
                               pixel(s, 2 * x, 2 * y + 1)[c] + pixel(s, 2 * x + 1, 2 * y + 1)[c] +
                               2) /
                              4);
    return to;
}

struct scene scene_crop(const struct scene *s, double share)
{
    const int left = (int)(s->width * share + 0.5), top = (int)(s->height * share + 0.5);
    const struct scene to = blank(s->width - left, s->height - top);
    for (int y = 0; y < to.height; y++)
        memcpy(pixel(&to, 0, y), pixel(s, left, y + top), 3 * (size_t)to.width);
    return to;
}

struct scene scene_brighten(const struct scene *s)
{
    const struct scene to = blank(s->width, s->height);
    for (size_t i = 0; i < (size_t)s->width * (size_t)s->height * 3; i++)
        to.rgb[i] = held(s->rgb[i] * 1.15 + 20);
    return to;
}

struct scene scene_dim(const struct scene *s, double factor)
{
    const struct scene to = blank(s->width, s->height);
    for (size_t i = 0; i < (size_t)s->width * (size_t)s->height * 3; i++)
        to.rgb[i] = held(s->rgb[i] * factor);
    return to;
}

struct scene scene_mirror(const struct scene *s)
{
    const struct scene to = blank(s->width, s->height);
    for (int y = 0; y < s->height; y++)
        for (int x = 0; x < s->width; x++)
            memcpy(pixel(&to, s->width - 1 - x, y), pixel(s, x, y), 3);
    return to;
}

static struct scene blur_once(const struct scene *s, int dx, int dy, int radius)
{
    const struct scene to = blank(s->width, s->height);
    for (int y = 0; y < s->height; y++)
        for (int x = 0; x < s->width; x++)
            for (int c = 0; c < 3; c++) {
                int sum = 0, n = 0;
                for (int k = -radius; k <= radius; k++) {
                    const int px = x + k * dx, py = y + k * dy;
                    if (px < 0 || py < 0 || px >= s->width || py >= s->height)
                        continue;
                    sum += pixel(s, px, py)[c];
                    n++;
                }
                pixel(&to, x, y)[c] = (uint8_t)(n > 0 ? (sum + n / 2) / n : 0);
            }
    return to;
}

struct scene scene_blur(const struct scene *s, int radius)
{
    const struct scene a = blur_once(s, 1, 0, radius), b = blur_once(&a, 0, 1, radius);
    const struct scene c = blur_once(&b, 1, 0, radius), d = blur_once(&c, 0, 1, radius);
    free(a.rgb);
    free(b.rgb);
    free(c.rgb);
    return d;
}

/* TIFF 6.0, tag 274: 1 top left, 2 top right, 3 bottom right, 4 bottom left, 5 left top, 6 right top,
 * 7 right bottom, 8 left bottom: at which seen edges the stored row 0 and column 0 lie. */
struct scene scene_store(const struct scene *s, int orientation)
{
    const int w = s->width, h = s->height;
    const struct scene to = orientation <= 4 ? blank(w, h) : blank(h, w);
    for (int y = 0; y < h; y++)
        for (int x = 0; x < w; x++) {
            int column, row;
            switch (orientation) {
            case 2:
                column = w - 1 - x, row = y;
                break;
            case 3:
                column = w - 1 - x, row = h - 1 - y;
                break;
            case 4:
                column = x, row = h - 1 - y;
                break;
            case 5:
                column = y, row = x;
                break;
            case 6:
                column = y, row = w - 1 - x;
                break;
            case 7:
                column = h - 1 - y, row = w - 1 - x;
                break;
            case 8:
                column = h - 1 - y, row = x;
                break;
            default:
                column = x, row = y;
                break;
            }
            memcpy(pixel(&to, column, row), pixel(s, x, y), 3);
        }
    return to;
}
