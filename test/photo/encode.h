/* encode: writes scenes as JPEG, PNG and HEIC for tests, by libjpeg-turbo, libpng and libheif. */
#ifndef TEST_ENCODE_H
#define TEST_ENCODE_H

#include "scene.h"

#include <stdbool.h>
#include <stddef.h>

struct bytes {
    uint8_t *data; /* the caller's to free */
    size_t n;
};

enum encode_colours { ENCODE_COLOUR, ENCODE_GREY, ENCODE_CMYK };

struct encode_jpeg {
    int quality;
    enum encode_colours colours;
    bool is_progressive;
    int orientation; /* 1..8 in an EXIF block; 0: no EXIF */
};

struct bytes encode_jpeg(const struct scene *s, const struct encode_jpeg *how);

/* depth 8 or 16 bits a colour. */
struct bytes encode_png(const struct scene *s, int depth, bool is_interlaced);

/* data NULL when this build has no libheif or libheif no encoder. */
struct bytes encode_heic(const struct scene *s);

#endif
