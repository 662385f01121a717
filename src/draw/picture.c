/* picture: owns the making of one made-up photo: clutter behind, the subject (subjects.c), shadows before it, then what light and
 * camera do: uneven and dappled light, automatic exposure, grain. Changing a picture that is there is in picture_change.c. */
#include "draw/picture.h"

#include "base/text.h"
#include "draw/scene.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    SIDE_MIN = 64,
    SIDE_MAX = 4096,
    LIGHT_COLUMNS = 33,
    LIGHT_ROWS = 25,
    NOISE = 4096,
    TEXT_BYTES_MAX = 400
};

void picture_done(struct picture *p)
{
    free(p->pixels);
    *p = (struct picture){0};
}

/* ---- behind and before -------------------------------------------------------------------------------------------------------- */

static void patch(struct scene *s, double least, double most, struct spot spots[4])
{
    const double x = scene_within(s, -750, 750), y = scene_within(s, -560, 560),
                 turn = scene_within(s, 0, 3.1416);
    const double along = scene_within(s, least, most), across = scene_within(s, least, most) * 0.6;
    for (int i = 0; i < 4; i++) {
        const double u = (i == 0 || i == 3 ? -1 : 1) * along, v = (i < 2 ? -1 : 1) * across;
        spots[i] =
            (struct spot){x + u * cos(turn) - v * sin(turn), y + u * sin(turn) + v * cos(turn)};
    }
}

/* A yard seen past the subject: boards, sheets, shadows of all tones. */
static void clutter(struct scene *s)
{
    static const uint32_t colours[] = {0x2c2f31, 0x6a6357, 0x9a9a94, 0xd6d2c4,
                                       0x4e5a49, 0x80592f, 0x39506a, 0xbfae8b};
    cairo_set_source_rgb(s->cr, scene_within(s, 0.15, 0.8), scene_within(s, 0.2, 0.75),
                         scene_within(s, 0.15, 0.7));
    cairo_paint(s->cr);
    for (int i = 0; i < 16; i++) {
        struct spot spots[4];
        patch(s, 60, 330, spots);
        scene_poly(s, scene_tone(s, colours[scene_next(s) % 8], 0.3), spots, 4);
    }
}

/* Lighter ones where a code is to be read: nobody photographs a label in half shadow. */
static void shadows(struct scene *s, bool is_code)
{
    const int n = (int)(scene_next(s) % 4);
    for (int i = 0; i < n; i++) {
        struct spot spots[4];
        patch(s, 90, 420, spots);
        scene_shade(s, scene_within(s, 0.1, is_code ? 0.22 : 0.42), spots, 4);
    }
}

/* ---- light -------------------------------------------------------------------------------------------------------------------- */

/* Adds blotches: random heights on a grid of this many cells, smoothed between. */
static void blotches(struct scene *s, float light[LIGHT_ROWS][LIGHT_COLUMNS], int cells,
                     double depth)
{
    enum { CELLS_MAX = 12 };
    double heights[CELLS_MAX + 1][CELLS_MAX + 1];
    for (int y = 0; y <= cells; y++)
        for (int x = 0; x <= cells; x++)
            heights[y][x] = scene_within(s, -depth, depth);
    for (int row = 0; row < LIGHT_ROWS; row++)
        for (int column = 0; column < LIGHT_COLUMNS; column++) {
            const double x = (double)column * cells / LIGHT_COLUMNS,
                         y = (double)row * cells / LIGHT_ROWS;
            const int i = (int)x, k = (int)y;
            const double u = (x - i) * (x - i) * (3 - 2 * (x - i)),
                         v = (y - k) * (y - k) * (3 - 2 * (y - k));
            const double upper = heights[k][i] + u * (heights[k][i + 1] - heights[k][i]);
            const double lower =
                heights[k + 1][i] + u * (heights[k + 1][i + 1] - heights[k + 1][i]);
            light[row][column] += (float)(upper + v * (lower - upper));
        }
}

static void make_light(struct scene *s, float light[LIGHT_ROWS][LIGHT_COLUMNS])
{
    const double across = scene_within(s, -0.35, 0.35), down = scene_within(s, -0.3, 0.3),
                 vignette = scene_within(s, 0.05, 0.25);
    for (int row = 0; row < LIGHT_ROWS; row++)
        for (int column = 0; column < LIGHT_COLUMNS; column++) {
            const double x = 2.0 * column / (LIGHT_COLUMNS - 1) - 1,
                         y = 2.0 * row / (LIGHT_ROWS - 1) - 1;
            light[row][column] =
                (float)(1 + across * x + down * y - vignette * (x * x + y * y) / 2);
        }
    blotches(s, light, 4, 0.22);
    blotches(s, light, 9, 0.26);
    for (int row = 0; row < LIGHT_ROWS; row++)
        for (int column = 0; column < LIGHT_COLUMNS; column++)
            light[row][column] = light[row][column] < 0.3F   ? 0.3F
                                 : light[row][column] > 1.7F ? 1.7F
                                                             : light[row][column];
}

/* One row of light by pixels, in 1/1024. */
static void light_row(const float light[LIGHT_ROWS][LIGHT_COLUMNS], int y, int width, int height,
                      double gain, int32_t *ret)
{
    const double at = (double)y * (LIGHT_ROWS - 1) / height;
    const int k = (int)at;
    const double down = at - k;
    int x = 0;
    for (int i = 0; i < LIGHT_COLUMNS - 1; i++) {
        const int end = (int)((int64_t)width * (i + 1) / (LIGHT_COLUMNS - 1));
        const double left =
            (light[k][i] + down * (double)(light[k + 1][i] - light[k][i])) * gain * 1024;
        const double right =
            (light[k][i + 1] + down * (double)(light[k + 1][i + 1] - light[k][i + 1])) * gain *
            1024;
        const int32_t step = end > x ? (int32_t)((right - left) * 64) / (end - x) : 0;
        for (int32_t value = (int32_t)(left * 64); x < end; x++, value += step)
            ret[x] = value / 64;
    }
}

/* Mean luminance 0..255 of the lit picture, from every eighth pixel of every eighth row. */
static double mean_lit(const uint32_t *pixels, int stride, int width, int height,
                       const float light[LIGHT_ROWS][LIGHT_COLUMNS])
{
    double sum = 0;
    int n = 0;
    for (int y = 4; y < height; y += 8)
        for (int x = 4; x < width; x += 8, n++) {
            const uint32_t p = pixels[(size_t)y * (size_t)stride + (size_t)x];
            const double luma =
                0.299 * (p >> 16 & 0xffU) + 0.587 * (p >> 8 & 0xffU) + 0.114 * (p & 0xffU);
            sum += luma * (double)light[y * LIGHT_ROWS / height][x * LIGHT_COLUMNS / width];
        }
    return sum / n;
}

/* A camera's curve: straight up to KNEE, then ever flatter, so that bright paper keeps its shades. */
enum { CURVE = 1536, KNEE = 190 };

static void make_curve(uint8_t curve[CURVE])
{
    for (int i = 0; i < CURVE; i++)
        curve[i] = i < KNEE ? (uint8_t)i
                            : (uint8_t)(255 - (255 - KNEE) * exp((KNEE - i) / (255.0 - KNEE)));
}

static uint8_t seen(const uint8_t curve[CURVE], int32_t v)
{
    return curve[v < 0 ? 0 : v >= CURVE ? CURVE - 1 : v];
}

/* What the camera makes of the scene: light, exposure, grain. */
static enum err expose(struct scene *s, const uint32_t *pixels, int stride, struct picture *to)
{
    float light[LIGHT_ROWS][LIGHT_COLUMNS];
    int32_t noise[NOISE];
    uint8_t curve[CURVE];
    int32_t *row_light = malloc((size_t)to->width * sizeof *row_light);
    if (row_light == NULL)
        return ERR_MEMORY;
    make_light(s, light);
    make_curve(curve);
    const double grain = scene_within(s, 1.5, 3.5);
    for (int i = 0; i < NOISE; i++) { /* four even chances make nearly a bell, of spread 2/sqrt 3 */
        const double two = scene_within(s, -1, 1) + scene_within(s, -1, 1);
        noise[i] = (int32_t)lround(grain * 0.866 *
                                   (two + scene_within(s, -1, 1) + scene_within(s, -1, 1)));
    }
    const double wanted = scene_within(s, 88, 150);
    const double mean =
        mean_lit(pixels, stride, to->width, to->height, (const float(*)[LIGHT_COLUMNS])light);
    const double gain = mean > 1 ? fmin(fmax(wanted / mean, 0.4), 3) : 1;
    const int32_t warm = (int32_t)scene_within(s, 940, 1100);
    const int32_t cold = (int32_t)scene_within(s, 940, 1100);
    for (int y = 0; y < to->height; y++) {
        const uint32_t *from = pixels + (size_t)y * (size_t)stride;
        uint8_t *at = to->pixels + 3 * (size_t)y * (size_t)to->width;
        light_row((const float(*)[LIGHT_COLUMNS])light, y, to->width, to->height, gain, row_light);
        uint32_t chance = (uint32_t)scene_next(s);
        for (int x = 0; x < to->width; x++, at += 3) {
            chance = chance * 1664525U + 1013904223U;
            const int32_t lit = row_light[x], n = noise[chance >> 20];
            at[0] = seen(curve, ((int32_t)(from[x] >> 16 & 0xffU) * lit / 1024) * warm / 1024 + n);
            at[1] = seen(curve, (int32_t)(from[x] >> 8 & 0xffU) * lit / 1024 + n);
            at[2] = seen(curve, ((int32_t)(from[x] & 0xffU) * lit / 1024) * cold / 1024 + n);
        }
    }
    free(row_light);
    return ERR_OK;
}

/* ---- the call ----------------------------------------------------------------------------------------------------------------- */

static enum err draw_scene(struct scene *s, enum picture_subject subject, const char *text,
                           const char *code)
{
    cairo_font_options_t *options = cairo_font_options_create();
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    cairo_set_font_options(s->cr, options);
    cairo_font_options_destroy(options);
    s->turn_cos = s->scale = 1;
    clutter(s);
    scene_subject(s, subject, text, code);
    shadows(s, subject == PICTURE_LABEL || subject == PICTURE_PLATE);
    return s->err != ERR_OK                              ? s->err
           : cairo_status(s->cr) == CAIRO_STATUS_SUCCESS ? ERR_OK
                                                         : ERR_MEMORY;
}

static enum err check_text(const char *text)
{
    if (text == NULL)
        return ERR_OK;
    const size_t n = strlen(text);
    if (n > TEXT_BYTES_MAX)
        return ERR_LIMIT;
    return text_is_utf8(text, n, NULL) ? ERR_OK : ERR_ENCODING;
}

enum err picture_draw(enum picture_subject subject, uint64_t seed, const char *text,
                      const char *code, int width, int height, struct picture *ret)
{
    if ((int)subject < 0 || subject >= PICTURE_SUBJECT_N || width < SIDE_MIN || width > SIDE_MAX ||
        height < SIDE_MIN || height > SIDE_MAX)
        return ERR_DOMAIN;
    enum err e = check_text(text);
    if (e == ERR_OK)
        e = check_text(code);
    if (e != ERR_OK)
        return e;
    cairo_surface_t *surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, width, height);
    struct picture made = {malloc(3 * (size_t)width * (size_t)height), width, height};
    struct scene s = {.cr = cairo_create(surface), .width = width, .height = height};
    s.px = (width < height ? width : height) / 1000.0;
    s.rng = seed * (uint64_t)PICTURE_SUBJECT_N + (uint64_t)subject;
    e = made.pixels != NULL ? draw_scene(&s, subject, text, code) : ERR_MEMORY;
    cairo_surface_flush(surface);
    if (e == ERR_OK && cairo_image_surface_get_data(surface) == NULL)
        e = ERR_MEMORY;
    if (e ==
        ERR_OK) /* cairo aligns every row to whole 32-bit pixels, in the machine's own byte order */
        e = expose(&s, (const uint32_t *)(const void *)cairo_image_surface_get_data(surface),
                   cairo_image_surface_get_stride(surface) / 4, &made);
    cairo_destroy(s.cr);
    cairo_surface_destroy(surface);
    if (e == ERR_OK)
        *ret = made;
    else
        picture_done(&made);
    return e;
}
