/* scene: invented pictures for tests: uneven light, a column, a plate with lines of text, a tape with
 * ticks, screws, grain. Drawn from a seed, so that every run and machine sees the same ones; and the
 * ways in which a copied photo is disguised. */
#ifndef TEST_SCENE_H
#define TEST_SCENE_H

#include <stdint.h>

struct scene {
    uint8_t *rgb; /* three bytes a pixel, row after row; the caller's to free */
    int width, height;
};

/* Each ends the test when memory runs out. */
struct scene scene_draw(uint64_t seed, int width, int height);
struct scene scene_half(const struct scene *s);
struct scene scene_crop(const struct scene *s, double share); /* off the left and off the top */
struct scene scene_brighten(const struct scene *s);           /* x 1.15 + 20, held to 255 */
struct scene scene_mirror(const struct scene *s);
struct scene scene_blur(const struct scene *s, int radius); /* box, twice */
struct scene scene_dim(const struct scene *s, double factor);
/* How a camera would store the scene that is to be seen under this EXIF orientation 1..8. */
struct scene scene_store(const struct scene *s, int orientation);

#endif
