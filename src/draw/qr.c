/* qr: owns the only contact with libqrencode. */
#include "draw/qr.h"

#include <errno.h>
#include <qrencode.h>
#include <stdlib.h>
#include <string.h>

void qr_done(struct qr *qr)
{
    free(qr->modules);
    *qr = (struct qr){0};
}

enum err qr_make(const char *text, struct qr *ret)
{
    if (text == NULL || *text == '\0')
        return ERR_EMPTY;
    if (strlen(text) > QR_TEXT_MAX)
        return ERR_LIMIT;
    QRcode *code = QRcode_encodeString(text, 0, QR_ECLEVEL_M, QR_MODE_8, 1);
    if (code == NULL)
        return errno == ERANGE ? ERR_LIMIT : ERR_MEMORY;
    const size_t n = (size_t)code->width * (size_t)code->width;
    uint8_t *modules = malloc(n);
    for (size_t i = 0; modules != NULL && i < n; i++)
        modules[i] = code->data[i] & 1U; /* the other bits tell what the module is for */
    if (modules != NULL)
        *ret = (struct qr){modules, code->width};
    QRcode_free(code);
    return modules != NULL ? ERR_OK : ERR_MEMORY;
}

bool qr_is_dark(const struct qr *qr, int column, int row)
{
    return qr->modules[(size_t)row * (size_t)qr->side + (size_t)column] != 0;
}
