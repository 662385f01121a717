/* photo_write: a picture as a JPEG file with EXIF, for made-up campaigns and for tests. */
#ifndef PROOF_PHOTO_WRITE_H
#define PROOF_PHOTO_WRITE_H

#include "base/text.h"
#include "core/err.h"

#include <stdint.h>

struct photo_write {
    const uint8_t *rgb;         /* 3 bytes a pixel, row after row from the top */
    int width, height, quality; /* 1..100 */
    const char *taken;          /* "2026-03-05T09:14:00", the camera's clock; NULL: no EXIF */
    const char *offset;         /* "+01:00" (EXIF 2.31 OffsetTimeOriginal); NULL: none */
};

/* photo_write_jpeg: appended to out. The same picture gives the same bytes. Errors: ERR_DOMAIN, ERR_MEMORY. */
MUST_USE enum err photo_write_jpeg(const struct photo_write *photo, struct text *out);

#endif
