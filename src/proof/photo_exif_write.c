/* photo_exif_write: owns making an EXIF block by libexif: time, its offset, size, the right way up, and a line that says that the
 * picture is invented. No camera is named: none took it. */
#include "proof/photo_exif_write.h"

#include <libexif/exif-data.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char description[] = "Invented picture, drawn for practice";

static bool add(ExifData *exif, ExifIfd ifd, unsigned tag, ExifFormat format,
                unsigned long components, const void *bytes, size_t n)
{
    ExifEntry *e = exif_entry_new();
    if (e == NULL)
        return false;
    ExifMem *mem = exif_mem_new_default();
    unsigned char *copy = mem != NULL ? exif_mem_alloc(mem, (ExifLong)n) : NULL;
    exif_mem_unref(mem);
    if (copy == NULL) {
        exif_entry_unref(e);
        return false;
    }
    memcpy(copy, bytes, n);
    e->tag = (ExifTag)tag;
    e->format = format;
    e->components = components;
    e->data = copy;
    e->size = (unsigned)n;
    exif_content_add_entry(exif->ifd[ifd], e);
    exif_entry_unref(e);
    return true;
}

static bool add_text(ExifData *exif, ExifIfd ifd, unsigned tag, const char *text)
{
    return add(exif, ifd, tag, EXIF_FORMAT_ASCII, strlen(text) + 1, text, strlen(text) + 1);
}

static bool add_short(ExifData *exif, ExifIfd ifd, unsigned tag, int value)
{
    unsigned char bytes[2];
    exif_set_short(bytes, exif_data_get_byte_order(exif), (ExifShort)value);
    return add(exif, ifd, tag, EXIF_FORMAT_SHORT, 1, bytes, sizeof bytes);
}

static bool add_ratio(ExifData *exif, ExifIfd ifd, unsigned tag, unsigned value)
{
    unsigned char bytes[8];
    const ExifRational ratio = {value, 1};
    exif_set_rational(bytes, exif_data_get_byte_order(exif), ratio);
    return add(exif, ifd, tag, EXIF_FORMAT_RATIONAL, 1, bytes, sizeof bytes);
}

/* What Exif 2.31 (table 21 and its notes) wants of every compressed picture, whatever it shows. */
static bool add_wanted(ExifData *exif)
{
    enum { INCH = 2, CENTRED = 1, SRGB = 1 };
    static const unsigned char components[] = {1, 2, 3, 0}; /* Y, Cb, Cr */
    return add_ratio(exif, EXIF_IFD_0, EXIF_TAG_X_RESOLUTION, 72) &&
           add_ratio(exif, EXIF_IFD_0, EXIF_TAG_Y_RESOLUTION, 72) &&
           add_short(exif, EXIF_IFD_0, EXIF_TAG_RESOLUTION_UNIT, INCH) &&
           add_short(exif, EXIF_IFD_0, EXIF_TAG_YCBCR_POSITIONING, CENTRED) &&
           add(exif, EXIF_IFD_EXIF, EXIF_TAG_EXIF_VERSION, EXIF_FORMAT_UNDEFINED, 4, "0231", 4) &&
           add(exif, EXIF_IFD_EXIF, EXIF_TAG_COMPONENTS_CONFIGURATION, EXIF_FORMAT_UNDEFINED, 4,
               components, 4) &&
           add(exif, EXIF_IFD_EXIF, EXIF_TAG_FLASH_PIX_VERSION, EXIF_FORMAT_UNDEFINED, 4, "0100",
               4) &&
           add_short(exif, EXIF_IFD_EXIF, EXIF_TAG_COLOR_SPACE, SRGB);
}

static bool fill(ExifData *exif, const struct photo_write *photo)
{
    char taken[20];
    snprintf(taken, sizeof taken, "%.4s:%.2s:%.2s %.8s", photo->taken, photo->taken + 5,
             photo->taken + 8, photo->taken + 11);
    if (photo->offset != NULL &&
        !(add_text(exif, EXIF_IFD_EXIF, EXIF_TAG_OFFSET_TIME_ORIGINAL, photo->offset) &&
          add_text(exif, EXIF_IFD_EXIF, EXIF_TAG_OFFSET_TIME, photo->offset)))
        return false;
    return add_wanted(exif) &&
           add_text(exif, EXIF_IFD_0, EXIF_TAG_IMAGE_DESCRIPTION, description) &&
           add_short(exif, EXIF_IFD_0, EXIF_TAG_ORIENTATION, 1) &&
           add_text(exif, EXIF_IFD_0, EXIF_TAG_DATE_TIME, taken) &&
           add_text(exif, EXIF_IFD_EXIF, EXIF_TAG_DATE_TIME_ORIGINAL, taken) &&
           add_text(exif, EXIF_IFD_EXIF, EXIF_TAG_DATE_TIME_DIGITIZED, taken) &&
           add_short(exif, EXIF_IFD_EXIF, EXIF_TAG_PIXEL_X_DIMENSION, photo->width) &&
           add_short(exif, EXIF_IFD_EXIF, EXIF_TAG_PIXEL_Y_DIMENSION, photo->height);
}

enum err photo_exif_write(const struct photo_write *photo, struct text *out)
{
    ExifData *exif = exif_data_new();
    unsigned char *bytes = NULL;
    unsigned n = 0;
    if (exif == NULL)
        return ERR_MEMORY;
    exif_data_set_byte_order(exif, EXIF_BYTE_ORDER_INTEL);
    if (fill(exif, photo))
        exif_data_save_data(exif, &bytes, &n);
    if (bytes != NULL)
        text_add(out, (const char *)bytes, n);
    const bool is_made = bytes != NULL && !out->is_broken;
    free(bytes);
    exif_data_unref(exif);
    return is_made ? ERR_OK : ERR_MEMORY;
}
