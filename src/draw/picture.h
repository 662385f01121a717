/* picture: small colour pictures drawn by cairo for made-up photos: what a phone would see in a yard. The only folder that sees
 * cairo and the code maker. Deterministic: the same seed gives the same pixels on the same machine and library. */
#ifndef DRAW_PICTURE_H
#define DRAW_PICTURE_H

#include "core/err.h"

#include <stdint.h>

/* RGB, 3 bytes a pixel, row after row from the top. */
struct picture {
    uint8_t *pixels; /* owned; picture_done */
    int width, height;
};
void picture_done(struct picture *p);

enum picture_subject {
    PICTURE_LABEL,  /* a label on a column: text, and a code that says the same */
    PICTURE_PLATE,  /* the unit's plate: VIN as text and code */
    PICTURE_ROOM,   /* the room out, on stands, straps */
    PICTURE_SWITCH, /* battery switch and fuse with lock and tag */
    PICTURE_RACKS,  /* old racks with the tape along them */
    PICTURE_CUT_ENDS,
    PICTURE_RACK_ENDS, /* at the stop, with the depth gauge */
    PICTURE_FIXINGS,   /* paint marks */
    PICTURE_SEAL,
    PICTURE_FINISHED, /* the room fully out, from outside */
    PICTURE_SUBJECT_N
};

/* picture_draw: seed: pose, light, clutter and noise all follow from it, so that two seeds give two pictures that nobody takes for
 * one (see test). text (lines parted by \n, at most 6 are drawn), code: at most 400 bytes of UTF-8 each; NULL: none. On a label or a
 * plate the code can be read back at 640 x 480 and JPEG quality 85; elsewhere it stands on a small card. width, height: 64..4096.
 * Several threads may draw at once. About 4 ms at 640 x 480. Errors: ERR_DOMAIN, ERR_LIMIT and ERR_ENCODING (text or code),
 * ERR_EMPTY (a code of no bytes), ERR_MEMORY. */
MUST_USE enum err picture_draw(enum picture_subject subject, uint64_t seed, const char *text,
                               const char *code, int width, int height, struct picture *ret);

/* What people and cameras do to a picture. Each makes a new one; *ret is written on success only. Errors: ERR_DOMAIN (a factor,
 * radius above 200, share or size that cannot be), ERR_MEMORY. */
MUST_USE enum err picture_darken(const struct picture *p, double factor,
                                 struct picture *ret); /* every channel x factor, 0..4 */
MUST_USE enum err picture_blur(const struct picture *p, int radius, struct picture *ret);
MUST_USE enum err picture_scale(const struct picture *p, int width, int height,
                                struct picture *ret);
MUST_USE enum err picture_crop(const struct picture *p, double share,
                               struct picture *ret); /* this share off each side */
MUST_USE enum err picture_mirror(const struct picture *p, struct picture *ret);

#endif
