/* scene: what the subjects of picture.c are drawn with: a flat scene seen at a slant. Every point goes through one projection, so
 * that a label, its letters and its code lean together as in a photo. Inner to made-up photos; nobody else's.
 *
 * Places are in thousandths of the picture's shorter side, the origin in its middle, y downwards. Colours are 0xRRGGBB. */
#ifndef DRAW_SCENE_H
#define DRAW_SCENE_H

#include "core/err.h"
#include "draw/picture.h"

#include <cairo.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct scene {
    cairo_t *cr;
    uint64_t rng;
    double width, height, px; /* of the picture, in pixels; px: pixels a thousandth */
    double turn_cos, turn_sin, scale, lean_x, lean_y, shift_x, shift_y; /* the pose */
    enum err err; /* the first that went wrong; later calls go on harmlessly */
};

struct spot {
    double x, y;
};

/* Chance, all from the seed. scene_within: low..high. scene_tone: the colour made lighter or darker by up to the spread, 0..1. */
uint64_t scene_next(struct scene *s);
double scene_within(struct scene *s, double low, double high);
bool scene_chance(struct scene *s, double share);
uint32_t scene_tone(struct scene *s, uint32_t colour, double spread);

/* scene_pose: a pose from the seed, such that the box of half width and half height about the origin is wholly in the picture. */
void scene_pose(struct scene *s, double half_width, double half_height);
/* The pose moved along within the scene, for things that stand beside one another. */
struct spot scene_project(const struct scene *s, double x, double y);

/* Shapes, filled. scene_bar: a thick line. scene_ring: a circle's line. scene_gear: a rack's outline with n teeth along its top. */
void scene_poly(struct scene *s, uint32_t colour, const struct spot *spots, size_t n);
void scene_box(struct scene *s, uint32_t colour, double x, double y, double width, double height);
void scene_bar(struct scene *s, uint32_t colour, double width, double x0, double y0, double x1,
               double y1);
void scene_disc(struct scene *s, uint32_t colour, double x, double y, double radius);
void scene_ring(struct scene *s, uint32_t colour, double width, double x, double y, double radius);
void scene_rack(struct scene *s, uint32_t colour, double x, double y, double width, double height,
                double pitch, double from);
/* A darkening with soft meaning: black at this opacity. */
void scene_shade(struct scene *s, double opacity, const struct spot *spots, size_t n);

/* scene_text: lines at a baseline, each no wider than width (made smaller where needed). bold: 0 or 1. A machine without any font
 * gets cairo's own stroked letters. */
void scene_text(struct scene *s, uint32_t colour, double x, double y, double width, double size,
                bool is_bold, const char *text);
/* scene_code: a QR code on white paper, quiet zone and all, in the square of this side. */
void scene_code(struct scene *s, double x, double y, double side, const char *code);
/* scene_card: a paper card with the text and the code, whichever there are. */
void scene_card(struct scene *s, double x, double y, double width, double height, const char *text,
                const char *code);

/* scene_subject: the thing itself (subjects.c); the pose is set here too. */
void scene_subject(struct scene *s, enum picture_subject subject, const char *text,
                   const char *code);

#endif
