/* picture_change: owns what people and cameras do to a picture that is there already. No cairo: plain arithmetic on bytes. */
#include "draw/picture.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

enum { SIDE_MAX = 8192, RADIUS_MAX = 200 };

static enum err make(int width, int height, struct picture *ret)
{
    if (width < 1 || width > SIDE_MAX || height < 1 || height > SIDE_MAX)
        return ERR_DOMAIN;
    *ret = (struct picture){malloc(3 * (size_t)width * (size_t)height), width, height};
    return ret->pixels != NULL ? ERR_OK : ERR_MEMORY;
}

enum err picture_darken(const struct picture *p, double factor, struct picture *ret)
{
    struct picture to;
    if (!(factor >= 0 && factor <= 4))
        return ERR_DOMAIN;
    const enum err e = make(p->width, p->height, &to);
    if (e != ERR_OK)
        return e;
    uint8_t table[256];
    for (int i = 0; i < 256; i++) {
        const double v = i * factor + 0.5;
        table[i] = v > 255 ? 255 : (uint8_t)v;
    }
    const size_t n = 3 * (size_t)p->width * (size_t)p->height;
    for (size_t i = 0; i < n; i++)
        to.pixels[i] = table[p->pixels[i]];
    *ret = to;
    return ERR_OK;
}

/* A line of n bytes, step apart, averaged over 2 radius + 1; past the ends the end bytes go on. */
static void blur_line(const uint8_t *from, uint8_t *to, int n, size_t step, int radius)
{
    const int wide = 2 * radius + 1;
    int sum = from[0] * (radius + 1);
    for (int i = 1; i <= radius; i++)
        sum += from[step * (size_t)(i < n ? i : n - 1)];
    for (int i = 0; i < n; i++) {
        to[step * (size_t)i] = (uint8_t)((sum + wide / 2) / wide);
        const int in = i + radius + 1 < n ? i + radius + 1 : n - 1,
                  out = i - radius > 0 ? i - radius : 0;
        sum += from[step * (size_t)in] - from[step * (size_t)out];
    }
}

static void blur_along(const struct picture *from, const struct picture *to, bool is_across,
                       int radius)
{
    const size_t row = 3 * (size_t)from->width;
    const int lines = is_across ? from->height : from->width;
    for (int i = 0; i < lines; i++)
        for (size_t c = 0; c < 3; c++) {
            const size_t start = (is_across ? (size_t)i * row : 3 * (size_t)i) + c;
            blur_line(from->pixels + start, to->pixels + start,
                      is_across ? from->width : from->height, is_across ? 3 : row, radius);
        }
}

enum err picture_blur(const struct picture *p, int radius, struct picture *ret)
{
    struct picture a, b;
    if (radius < 0 || radius > RADIUS_MAX)
        return ERR_DOMAIN;
    enum err e = make(p->width, p->height, &a);
    if (e != ERR_OK)
        return e;
    e = make(p->width, p->height, &b);
    if (e != ERR_OK) {
        picture_done(&a);
        return e;
    }
    blur_along(
        p, &a, true,
        radius); /* twice each way: a box blurred by itself is a tent, near to what a lens does */
    blur_along(&a, &b, false, radius);
    blur_along(&b, &a, true, radius);
    blur_along(&a, &b, false, radius);
    picture_done(&a);
    *ret = b;
    return ERR_OK;
}

/* Where pixel i of to lies in from, in 1/65536 of a pixel. */
static int64_t edge(int i, int from, int to)
{
    return ((int64_t)i * from * 65536 + to / 2) / to;
}

/* The average of channel c over a part of the picture; parts of pixels count as parts. */
static uint8_t area(const struct picture *p, size_t c, int64_t left, int64_t right, int64_t top,
                    int64_t bottom)
{
    uint64_t sum = 0, weight = 0;
    for (int64_t y = top / 65536; y * 65536 < bottom; y++) {
        const int64_t y0 = y * 65536 > top ? y * 65536 : top,
                      y1 = (y + 1) * 65536 < bottom ? (y + 1) * 65536 : bottom;
        for (int64_t x = left / 65536; x * 65536 < right; x++) {
            const int64_t x0 = x * 65536 > left ? x * 65536 : left,
                          x1 = (x + 1) * 65536 < right ? (x + 1) * 65536 : right;
            const uint64_t w = ((uint64_t)(x1 - x0) * (uint64_t)(y1 - y0)) >> 12U;
            sum += w * p->pixels[3 * ((size_t)y * (size_t)p->width + (size_t)x) + c];
            weight += w;
        }
    }
    if (weight == 0)
        return 0;
    return (uint8_t)((sum + weight / 2) / weight);
}

enum err picture_scale(const struct picture *p, int width, int height, struct picture *ret)
{
    struct picture to;
    const enum err e = make(width, height, &to);
    if (e != ERR_OK)
        return e;
    for (int y = 0; y < height; y++)
        for (int x = 0; x < width; x++)
            for (size_t c = 0; c < 3; c++)
                to.pixels[3 * ((size_t)y * (size_t)width + (size_t)x) + c] =
                    area(p, c, edge(x, p->width, width), edge(x + 1, p->width, width),
                         edge(y, p->height, height), edge(y + 1, p->height, height));
    *ret = to;
    return ERR_OK;
}

enum err picture_crop(const struct picture *p, double share, struct picture *ret)
{
    struct picture to;
    if (!(share >= 0 && share < 0.5))
        return ERR_DOMAIN;
    const int left = (int)(p->width * share + 0.5), top = (int)(p->height * share + 0.5);
    const enum err e = make(p->width - 2 * left, p->height - 2 * top, &to);
    if (e != ERR_OK)
        return e;
    for (int y = 0; y < to.height; y++)
        memcpy(to.pixels + 3 * (size_t)y * (size_t)to.width,
               p->pixels + 3 * ((size_t)(y + top) * (size_t)p->width + (size_t)left),
               3 * (size_t)to.width);
    *ret = to;
    return ERR_OK;
}

enum err picture_mirror(const struct picture *p, struct picture *ret)
{
    struct picture to;
    const enum err e = make(p->width, p->height, &to);
    if (e != ERR_OK)
        return e;
    for (int y = 0; y < p->height; y++)
        for (int x = 0; x < p->width; x++) {
            const size_t row = (size_t)y * (size_t)p->width;
            memcpy(to.pixels + 3 * (row + (size_t)(p->width - 1 - x)),
                   p->pixels + 3 * (row + (size_t)x), 3);
        }
    *ret = to;
    return ERR_OK;
}
