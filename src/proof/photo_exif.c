/* photo_exif: owns reading EXIF by libexif: time, orientation, size, whether a place is told. The
 * place itself is not taken over: nothing here needs to know where a person was. */
#include <libexif/exif-data.h>
#include <stdlib.h>
#include <string.h>

#include "core/date.h"
#include "proof/photo_parts.h"

enum { TIFF_MAX = 1 << 20, HEAD = 6, TIME_SIZE = 19, OFFSET_SIZE = 6 };

static const ExifEntry *entry(const ExifData *exif, ExifIfd ifd, unsigned tag)
{
    return exif_content_get_entry(exif->ifd[ifd], (ExifTag)tag);
}

/* A whole number; 0 when missing, of another kind or cut short. */
static int32_t number(ExifData *exif, ExifIfd ifd, ExifTag tag)
{
    const ExifEntry *e = entry(exif, ifd, tag);
    const ExifByteOrder order = exif_data_get_byte_order(exif);
    if (e == NULL || e->data == NULL || e->components < 1)
        return 0;
    if (e->format == EXIF_FORMAT_SHORT && e->size >= 2)
        return exif_get_short(e->data, order);
    if (e->format == EXIF_FORMAT_LONG && e->size >= 4) {
        const uint32_t n = exif_get_long(e->data, order);
        return n <= INT32_MAX ? (int32_t)n : 0;
    }
    return 0;
}

/* "YYYY:MM:DD HH:MM:SS" (Exif 2.3, 4.6.4) as "YYYY-MM-DDTHH:MM:SS", if there is such a time. */
static bool take_time(const ExifEntry *e, char ret[PHOTO_TAKEN_SIZE])
{
    if (e == NULL || e->data == NULL || e->format != EXIF_FORMAT_ASCII || e->size < TIME_SIZE)
        return false;
    const char *s = (const char *)e->data;
    const int year = date_digits(s, 4), month = date_digits(s + 5, 2), day = date_digits(s + 8, 2);
    const int hour = date_digits(s + 11, 2), minute = date_digits(s + 14, 2),
              second = date_digits(s + 17, 2);
    int32_t day_number;
    if (s[4] != ':' || s[7] != ':' || s[10] != ' ' || s[13] != ':' || s[16] != ':' || hour < 0 ||
        hour > 23 || minute < 0 || minute > 59 || second < 0 || second > 59 ||
        date_from_civil(year, month, day, &day_number) != ERR_OK)
        return false;
    memcpy(ret, s, TIME_SIZE);
    ret[4] = ret[7] = '-';
    ret[10] = 'T';
    ret[TIME_SIZE] = '\0';
    return true;
}

/* "+HH:MM" or "-HH:MM" (Exif 2.31). */
static void take_offset(const ExifEntry *e, char ret[PHOTO_OFFSET_SIZE])
{
    if (e == NULL || e->data == NULL || e->format != EXIF_FORMAT_ASCII || e->size < OFFSET_SIZE)
        return;
    const char *s = (const char *)e->data;
    const int hours = date_digits(s + 1, 2), minutes = date_digits(s + 4, 2);
    if ((s[0] != '+' && s[0] != '-') || s[3] != ':' || hours < 0 || hours > 14 || minutes < 0 ||
        minutes > 59)
        return;
    memcpy(ret, s, OFFSET_SIZE);
    ret[OFFSET_SIZE] = '\0';
}

static void take_clock(const ExifData *exif, struct photo *photo)
{
    static const struct {
        enum photo_clock clock;
        ExifIfd ifd;
        ExifTag time, offset;
    } clocks[] = {
        {PHOTO_CLOCK_ORIGINAL, EXIF_IFD_EXIF, EXIF_TAG_DATE_TIME_ORIGINAL,
         EXIF_TAG_OFFSET_TIME_ORIGINAL},
        {PHOTO_CLOCK_DIGITIZED, EXIF_IFD_EXIF, EXIF_TAG_DATE_TIME_DIGITIZED,
         EXIF_TAG_OFFSET_TIME_DIGITIZED},
        {PHOTO_CLOCK_CHANGED, EXIF_IFD_0, EXIF_TAG_DATE_TIME, EXIF_TAG_OFFSET_TIME},
    };
    for (size_t i = 0; i < sizeof clocks / sizeof *clocks; i++) {
        if (!take_time(entry(exif, clocks[i].ifd, clocks[i].time), photo->taken))
            continue;
        photo->clock = clocks[i].clock;
        take_offset(entry(exif, EXIF_IFD_EXIF, clocks[i].offset), photo->offset);
        return;
    }
}

static bool has_entries(const ExifData *exif)
{
    for (int i = 0; i < EXIF_IFD_COUNT; i++)
        if (exif->ifd[i] != NULL && exif->ifd[i]->count > 0)
            return true;
    return false;
}

void photo_exif(const uint8_t *tiff, size_t n, struct photo *photo)
{
    if (n == 0 || n > TIFF_MAX)
        return;
    /* libexif wants the head that JPEG puts before the block and PNG does not. */
    uint8_t *block = malloc(HEAD + n);
    ExifData *exif = block != NULL ? exif_data_new() : NULL;
    if (exif != NULL) {
        memcpy(block, "Exif\0", HEAD);
        memcpy(block + HEAD, tiff, n);
        exif_data_unset_option(exif, EXIF_DATA_OPTION_FOLLOW_SPECIFICATION);
        exif_data_load_data(exif, block, (unsigned)(HEAD + n));
        photo->has_exif = has_entries(exif);
        const int32_t orientation = number(exif, EXIF_IFD_0, EXIF_TAG_ORIENTATION);
        photo->orientation = orientation >= 1 && orientation <= 8 ? (int)orientation : 1;
        photo->exif_width = number(exif, EXIF_IFD_EXIF, EXIF_TAG_PIXEL_X_DIMENSION);
        photo->exif_height = number(exif, EXIF_IFD_EXIF, EXIF_TAG_PIXEL_Y_DIMENSION);
        photo->has_gps = entry(exif, EXIF_IFD_GPS, EXIF_TAG_GPS_LATITUDE) != NULL ||
                         entry(exif, EXIF_IFD_GPS, EXIF_TAG_GPS_LONGITUDE) != NULL;
        take_clock(exif, photo);
        exif_data_unref(exif);
    }
    free(block);
}
