/* photo_codes: owns finding QR, Code 39 and Code 128 in a picture by zbar, so that a VIN or a label in
 * a photo can be held against what was typed. What it finds is read, never trusted. */
#include <iconv.h>
#include <stdio.h>
#include <string.h>
#include <zbar.h>

#include "proof/photo_parts.h"

/* Code 39 has no check digit of its own: shorter finds are too often a picture's texture. */
enum { CODE39_SIZE_MIN = 4 };

static const char *type_name(zbar_symbol_type_t type)
{
    switch (type) {
    case ZBAR_QRCODE:
        return "QR";
    case ZBAR_CODE39:
        return "Code 39";
    case ZBAR_CODE128:
        return "Code 128";
    default:
        return NULL;
    }
}

static void take_symbol(const zbar_symbol_t *symbol, struct photo *photo)
{
    const char *type = type_name(zbar_symbol_get_type(symbol));
    const char *data = zbar_symbol_get_data(symbol);
    const size_t size = zbar_symbol_get_data_length(symbol);
    if (type == NULL || data == NULL || photo->n_codes == PHOTO_CODES_MAX)
        return;
    struct photo_code *code = &photo->codes[photo->n_codes++];
    code->type = type;
    code->is_cut = size > PHOTO_CODE_TEXT_MAX;
    code->size = code->is_cut ? PHOTO_CODE_TEXT_MAX : size;
    memcpy(code->text, data, code->size);
    code->text[code->size] = '\0';
}

static bool choose_types(zbar_image_scanner_t *scanner)
{
    static const zbar_symbol_type_t types[] = {ZBAR_QRCODE, ZBAR_CODE39, ZBAR_CODE128};
    bool is_good = zbar_image_scanner_set_config(scanner, ZBAR_NONE, ZBAR_CFG_ENABLE, 0) == 0;
    for (size_t i = 0; i < sizeof types / sizeof *types; i++)
        is_good &= zbar_image_scanner_set_config(scanner, types[i], ZBAR_CFG_ENABLE, 1) == 0;
    return is_good && zbar_image_scanner_set_config(scanner, ZBAR_CODE39, ZBAR_CFG_MIN_LEN,
                                                    CODE39_SIZE_MIN) == 0;
}

/* Those that zbar opens: four when it starts on a QR code's text, the others when the code names them (ECI). They are kept open, so that
 * the C library does not let their tables go. */
void photo_codes_ready(void)
{
    static const char *const always[] = {"UTF-8", "SJIS", "BIG-5", "ISO8859-1", "CP437"};
    char name[24];
    for (size_t i = 0; i < sizeof always / sizeof *always; i++)
        (void)iconv_open("UTF-8", always[i]);
    for (int i = 2; i <= 16; i++) {
        snprintf(name, sizeof name, "ISO8859-%d", i);
        (void)iconv_open("UTF-8", name);
    }
}

enum err photo_codes(const struct photo_grey *grey, struct photo *photo)
{
    const unsigned long y800 = 'Y' | '8' << 8 | '0' << 16 | '0' << 24; /* grey bytes */
    zbar_image_scanner_t *scanner = zbar_image_scanner_create();
    zbar_image_t *image = scanner != NULL ? zbar_image_create() : NULL;
    if (image != NULL && choose_types(scanner)) {
        zbar_image_set_format(image, y800);
        zbar_image_set_size(image, (unsigned)grey->width, (unsigned)grey->height);
        zbar_image_set_data(image, grey->pixels,
                            (unsigned long)grey->width * (unsigned long)grey->height, NULL);
        zbar_scan_image(scanner, image);
        for (const zbar_symbol_t *s = zbar_image_first_symbol(image); s != NULL;
             s = zbar_symbol_next(s))
            take_symbol(s, photo);
    }
    const bool has_memory = image != NULL;
    if (image != NULL)
        zbar_image_destroy(image);
    if (scanner != NULL)
        zbar_image_scanner_destroy(scanner);
    return has_memory ? ERR_OK : ERR_MEMORY;
}
