/* qr: a text as a QR code's square of modules, by libqrencode. How it is drawn is the caller's business. */
#ifndef DRAW_QR_H
#define DRAW_QR_H

#include "core/err.h"

#include <stdbool.h>
#include <stdint.h>

enum {
    QR_QUIET = 4,      /* modules of plain paper all round that ISO/IEC 18004 asks for */
    QR_TEXT_MAX = 1200 /* bytes; a larger code is no longer read from a photo */
};

struct qr {
    uint8_t *modules; /* side x side, row after row, 1 dark; owned; qr_done */
    int side;         /* without the quiet zone: 21..177 */
};
void qr_done(struct qr *qr);

/* qr_make: text (NUL-ended, any bytes) at error correction level M, which bears about 15 % damage, in the smallest version that holds
 * it. Errors: ERR_EMPTY, ERR_LIMIT (longer than QR_TEXT_MAX), ERR_MEMORY. */
MUST_USE enum err qr_make(const char *text, struct qr *ret);

bool qr_is_dark(const struct qr *qr, int column, int row);

#endif
