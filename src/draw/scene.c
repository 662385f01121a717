/* scene: owns the projection, the chance and the shapes that made-up photos are drawn with. */
#include "draw/scene.h"

#include "draw/fonts.h"
#include "draw/qr.h"

#include <math.h>
#include <string.h>

enum { CIRCLE_SPOTS = 28, TEETH_MAX = 200, LINES_MAX = 6, LINE_BYTES = 96 };

/* ---- chance ------------------------------------------------------------------------------------------------------------------- */

/* splitmix64 (Steele, Lea, Flood 2014). */
uint64_t scene_next(struct scene *s)
{
    uint64_t z = (s->rng += 0x9e3779b97f4a7c15U);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9U;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebU;
    return z ^ (z >> 31);
}

double scene_within(struct scene *s, double low, double high)
{
    return low + (high - low) * ((double)(scene_next(s) >> 11) * 0x1p-53);
}

bool scene_chance(struct scene *s, double share)
{
    return scene_within(s, 0, 1) < share;
}

static uint32_t channel(uint32_t value, double factor)
{
    const double v = (double)(value & 0xffU) * factor;
    return v > 255 ? 255U : (uint32_t)v;
}

uint32_t scene_tone(struct scene *s, uint32_t colour, double spread)
{
    const double factor = scene_within(s, 1 - spread, 1 + spread);
    return channel(colour >> 16, factor) << 16 | channel(colour >> 8, factor) << 8 |
           channel(colour, factor);
}

/* ---- the pose ----------------------------------------------------------------------------------------------------------------- */

struct spot scene_project(const struct scene *s, double x, double y)
{
    const double u = s->scale * (s->turn_cos * x - s->turn_sin * y),
                 v = s->scale * (s->turn_sin * x + s->turn_cos * y);
    const double far =
        1 + (s->lean_x * u + s->lean_y * v) / 1000; /* away from the camera; kept well above 0 */
    const double w = far > 0.2 ? far : 0.2;
    return (struct spot){s->width / 2 + s->px * (u / w + s->shift_x),
                         s->height / 2 + s->px * (v / w + s->shift_y)};
}

static bool is_seen(const struct scene *s, double x, double y)
{
    const struct spot at = scene_project(s, x, y);
    const double edge = 8 * s->px;
    return at.x > edge && at.y > edge && at.x < s->width - edge && at.y < s->height - edge;
}

void scene_pose(struct scene *s, double half_width, double half_height)
{
    enum { TRIES = 40 };
    for (int i = 0; i < TRIES; i++) {
        const double turn = scene_within(s, -0.38, 0.38);
        s->turn_cos = cos(turn);
        s->turn_sin = sin(turn);
        s->scale = scene_within(s, 0.86, 1.2);
        s->lean_x = scene_within(s, -0.32, 0.32);
        s->lean_y = scene_within(s, -0.32, 0.32);
        s->shift_x = scene_within(s, -300, 300) * s->width / s->height;
        s->shift_y = scene_within(s, -260, 260);
        if (is_seen(s, -half_width, -half_height) && is_seen(s, half_width, -half_height) &&
            is_seen(s, -half_width, half_height) && is_seen(s, half_width, half_height))
            return;
    }
    s->turn_cos = 1;
    s->turn_sin = s->lean_x = s->lean_y = 0;
    s->shift_x = scene_within(s, -40, 40);
    s->shift_y = scene_within(s, -30, 30);
    s->scale = 0.86;
}

/* ---- shapes ------------------------------------------------------------------------------------------------------------------- */

static void ink(struct scene *s, uint32_t colour)
{
    cairo_set_source_rgb(s->cr, (double)(colour >> 16 & 0xffU) / 255,
                         (double)(colour >> 8 & 0xffU) / 255, (double)(colour & 0xffU) / 255);
}

static void trace(struct scene *s, const struct spot *spots, size_t n)
{
    cairo_new_sub_path(s->cr);
    for (size_t i = 0; i < n; i++) {
        const struct spot at = scene_project(s, spots[i].x, spots[i].y);
        cairo_line_to(s->cr, at.x, at.y);
    }
    cairo_close_path(s->cr);
}

void scene_poly(struct scene *s, uint32_t colour, const struct spot *spots, size_t n)
{
    trace(s, spots, n);
    ink(s, colour);
    cairo_fill(s->cr);
}

void scene_shade(struct scene *s, double opacity, const struct spot *spots, size_t n)
{
    trace(s, spots, n);
    cairo_set_source_rgba(s->cr, 0, 0, 0, opacity);
    cairo_fill(s->cr);
}

void scene_box(struct scene *s, uint32_t colour, double x, double y, double width, double height)
{
    const struct spot spots[] = {{x, y}, {x + width, y}, {x + width, y + height}, {x, y + height}};
    scene_poly(s, colour, spots, 4);
}

void scene_bar(struct scene *s, uint32_t colour, double width, double x0, double y0, double x1,
               double y1)
{
    const double along = hypot(x1 - x0, y1 - y0);
    if (along <= 0)
        return;
    const double dx = width / 2 * (y0 - y1) / along, dy = width / 2 * (x1 - x0) / along;
    const struct spot spots[] = {
        {x0 + dx, y0 + dy}, {x1 + dx, y1 + dy}, {x1 - dx, y1 - dy}, {x0 - dx, y0 - dy}};
    scene_poly(s, colour, spots, 4);
}

static void circle(struct spot *spots, double x, double y, double radius)
{
    for (int i = 0; i < CIRCLE_SPOTS; i++) {
        const double angle = 2 * 3.14159265358979323846 * i / CIRCLE_SPOTS;
        spots[i] = (struct spot){x + radius * cos(angle), y + radius * sin(angle)};
    }
}

void scene_disc(struct scene *s, uint32_t colour, double x, double y, double radius)
{
    struct spot spots[CIRCLE_SPOTS];
    circle(spots, x, y, radius);
    scene_poly(s, colour, spots, CIRCLE_SPOTS);
}

void scene_ring(struct scene *s, uint32_t colour, double width, double x, double y, double radius)
{
    struct spot spots[CIRCLE_SPOTS];
    circle(spots, x, y, radius);
    trace(s, spots, CIRCLE_SPOTS);
    ink(s, colour);
    cairo_set_line_width(s->cr, width * s->px * s->scale);
    cairo_stroke(s->cr);
}

void scene_rack(struct scene *s, uint32_t colour, double x, double y, double width, double height,
                double pitch, double from)
{
    struct spot spots[4 * TEETH_MAX + 4];
    size_t n = 0;
    const double tooth = pitch * 0.7;
    spots[n++] = (struct spot){x, y + height};
    spots[n++] = (struct spot){x, y + tooth};
    for (int i = 0; i < TEETH_MAX && x + from + (i + 1) * pitch <= x + width; i++) {
        const double at = x + from + i * pitch;
        spots[n++] = (struct spot){at + pitch * 0.1, y + tooth};
        spots[n++] = (struct spot){at + pitch * 0.35, y};
        spots[n++] = (struct spot){at + pitch * 0.65, y};
        spots[n++] = (struct spot){at + pitch * 0.9, y + tooth};
    }
    spots[n++] = (struct spot){x + width, y + tooth};
    spots[n++] = (struct spot){x + width, y + height};
    scene_poly(s, colour, spots, n);
}

/* ---- text and codes ----------------------------------------------------------------------------------------------------------- */

/* The letters' outlines are laid out flat at the picture's own corner (cairo drops letters that lie
 * far outside it), then every point of them goes through the projection. */
static void text_line(struct scene *s, struct spot at, double width, double size, const char *line)
{
    cairo_text_extents_t extents;
    cairo_set_font_size(s->cr, size * s->px);
    cairo_text_extents(s->cr, line, &extents);
    if (extents.x_advance > width * s->px)
        cairo_set_font_size(s->cr, size * s->px * width * s->px / extents.x_advance);
    cairo_new_path(s->cr);
    cairo_move_to(s->cr, 0, 0);
    cairo_text_path(s->cr, line);
    cairo_path_t *path = cairo_copy_path_flat(s->cr);
    cairo_new_path(s->cr);
    for (int i = 0; i < path->num_data; i += path->data[i].header.length) {
        const cairo_path_data_t *part = &path->data[i];
        if (part->header.type == CAIRO_PATH_CLOSE_PATH) {
            cairo_close_path(s->cr);
            continue;
        }
        const struct spot to =
            scene_project(s, at.x + part[1].point.x / s->px, at.y + part[1].point.y / s->px);
        if (part->header.type == CAIRO_PATH_MOVE_TO)
            cairo_move_to(s->cr, to.x, to.y);
        else
            cairo_line_to(s->cr, to.x, to.y);
    }
    cairo_path_destroy(path);
    cairo_fill(s->cr);
}

void scene_text(struct scene *s, uint32_t colour, double x, double y, double width, double size,
                bool is_bold, const char *text)
{
    fonts_select(s->cr, is_bold);
    ink(s, colour);
    for (int i = 0; i < LINES_MAX && *text != '\0'; i++) {
        char line[LINE_BYTES];
        size_t n = strcspn(text, "\n");
        const size_t whole = n;
        if (n >= sizeof line)
            for (n = sizeof line - 1; n > 0 && ((unsigned char)text[n] & 0xc0U) == 0x80U;)
                n--; /* never through the middle of a character */
        memcpy(line, text, n);
        line[n] = '\0';
        text_line(s, (struct spot){x, y + i * size * 1.3}, width, size, line);
        text += whole + (text[whole] == '\n');
    }
}

void scene_code(struct scene *s, double x, double y, double side, const char *code)
{
    struct qr qr = {0};
    const enum err e = qr_make(code, &qr);
    if (e != ERR_OK) {
        s->err = s->err != ERR_OK ? s->err : e;
        return;
    }
    scene_box(s, 0xfbfaf5, x, y, side, side);
    const double module = side / (qr.side + 2 * QR_QUIET);
    ink(s, 0x16181a);
    for (int row = 0; row < qr.side; row++)
        for (int column = 0; column < qr.side; column++) {
            int run = 0; /* neighbours as one, or hairlines of paper would show between them */
            while (column + run < qr.side && qr_is_dark(&qr, column + run, row))
                run++;
            if (run == 0)
                continue;
            const double left = x + (column + QR_QUIET) * module,
                         top = y + (row + QR_QUIET) * module;
            const double right = left + run * module, bottom = top + module * 1.02;
            const struct spot spots[] = {
                {left, top}, {right, top}, {right, bottom}, {left, bottom}};
            trace(s, spots, 4);
            column += run - 1;
        }
    cairo_set_fill_rule(s->cr, CAIRO_FILL_RULE_WINDING);
    cairo_fill(s->cr);
    qr_done(&qr);
}

void scene_card(struct scene *s, double x, double y, double width, double height, const char *text,
                const char *code)
{
    if (text == NULL && code == NULL)
        return;
    scene_box(s, 0x3a3934, x + 8, y + 10, width, height); /* its shadow */
    scene_box(s, scene_tone(s, 0xf2efe4, 0.04), x, y, width, height);
    const double side = code != NULL ? height - 20 : 0;
    if (code != NULL)
        scene_code(s, x + width - side - 10, y + 10, side, code);
    if (text != NULL)
        scene_text(s, 0x1b1d1f, x + 24, y + 70, width - side - 54, 44, true, text);
}
