/* photo: owns the way from a file's bytes to what is said about it: which reader, the right way up,
 * at which size things are measured. The formats are in photo_jpeg.c, photo_png.c, photo_heic.c. */
#include "proof/photo.h"

#include "base/text.h"
#include "core/photohash.h"
#include "proof/photo_parts.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const char *photo_fault_name(enum photo_fault fault)
{
    static const char *const names[] = {
#define X(symbol, name) [symbol] = name,
        PHOTO_FAULT_TABLE(X)
#undef X
    };
    return (size_t)fault < sizeof names / sizeof *names ? names[fault] : NULL;
}

const char *photo_kind_name(enum photo_kind kind)
{
    static const char *const names[] = {NULL, "JPEG", "PNG", "HEIC"};
    return (size_t)kind < sizeof names / sizeof *names ? names[kind] : NULL;
}

void photo_grey_done(struct photo_grey *grey)
{
    free(grey->pixels);
    *grey = (struct photo_grey){0};
}

bool photo_fail(struct photo *photo, enum photo_fault fault, const char *fmt, ...)
{
    if (photo->fault != PHOTO_FINE)
        return false;
    va_list ap;
    va_start(ap, fmt);
    vsnprintf(photo->fault_text, sizeof photo->fault_text, fmt, ap);
    va_end(ap);
    photo->fault_text[text_clean(photo->fault_text, strlen(photo->fault_text), false)] = '\0';
    photo->fault = fault;
    return false;
}

bool photo_size(struct photo *photo, uint64_t width, uint64_t height)
{
    if (width == 0 || height == 0 || width > INT32_MAX || height > INT32_MAX)
        return photo_fail(photo, PHOTO_BROKEN, "says that it is %llu x %llu pixels",
                          (unsigned long long)width, (unsigned long long)height);
    photo->width = (int32_t)width;
    photo->height = (int32_t)height;
    if (width > PHOTO_SIDE_MAX || height > PHOTO_SIDE_MAX || width * height > PHOTO_PIXELS_MAX)
        return photo_fail(
            photo, PHOTO_LARGE, "says that it is %llu x %llu pixels; at most %d million are read",
            (unsigned long long)width, (unsigned long long)height, PHOTO_PIXELS_MAX / 1000000);
    return true;
}

/* ---- the right way up ---------------------------------------------------------------------- */

/* Turns and mirrors by the EXIF orientation (TIFF 6.0, tag 274: where the stored row 0 and column 0
 * are seen). */
static enum err turn(struct photo_grey *grey, int orientation)
{
    if (orientation <= 1 || orientation > 8)
        return ERR_OK;
    const int32_t width = grey->width, height = grey->height;
    const bool is_swapped = orientation >= 5;
    const bool from_right = orientation == 2 || orientation == 3 || orientation == 7 ||
                            orientation == 8; /* stored columns run towards the seen origin */
    const bool from_bottom =
        orientation == 3 || orientation == 4 || orientation == 6 || orientation == 7;
    const int32_t to_width = is_swapped ? height : width;
    const int32_t to_height = is_swapped ? width : height;
    if (width < 1 || height < 1)
        return ERR_DOMAIN;
    uint8_t *to = malloc((size_t)width * (size_t)height);
    if (to == NULL)
        return ERR_MEMORY;
    for (int32_t y = 0; y < to_height; y++)
        for (int32_t x = 0; x < to_width; x++) {
            const int32_t column = is_swapped ? y : x, row = is_swapped ? x : y;
            const int32_t from_x = from_right ? width - 1 - column : column;
            const int32_t from_y = from_bottom ? height - 1 - row : row;
            to[(size_t)y * (size_t)to_width + (size_t)x] =
                grey->pixels[(size_t)from_y * (size_t)width + (size_t)from_x];
        }
    free(grey->pixels);
    *grey = (struct photo_grey){to, to_width, to_height};
    return ERR_OK;
}

/* ---- measuring ----------------------------------------------------------------------------- */

static struct photohash_grey view(const struct photo_grey *grey)
{
    return (struct photohash_grey){grey->pixels, grey->width, grey->height};
}

static int32_t scaled(int32_t side, int32_t longer, int32_t to_longer)
{
    const int64_t s = ((int64_t)side * to_longer + longer / 2) / longer;
    return s > 0 ? (int32_t)s : 1;
}

/* Shrinks so that the longer side is at most to_longer; a smaller picture stays as it is. */
static enum err shrink(const struct photo_grey *grey, int32_t to_longer, struct photo_grey *ret)
{
    const int32_t longer = grey->width > grey->height ? grey->width : grey->height;
    if (grey->width < 1 || grey->height < 1)
        return ERR_DOMAIN;
    const int32_t to = longer > to_longer ? to_longer : longer;
    ret->width = scaled(grey->width, longer, to);
    ret->height = scaled(grey->height, longer, to);
    ret->pixels = malloc((size_t)ret->width * (size_t)ret->height);
    if (ret->pixels == NULL)
        return ERR_MEMORY;
    const struct photohash_grey from = view(grey);
    return photohash_resize(&from, ret->width, ret->height, ret->pixels);
}

void photo_light(struct photo *photo)
{
    const bool is_fine = photo->fault == PHOTO_FINE;
    photo->is_dark = is_fine && photo->exposure < PHOTO_DARK_BELOW;
    photo->is_bright = is_fine && photo->exposure > PHOTO_BRIGHT_ABOVE;
    photo->is_blurred = is_fine && photo->sharpness < PHOTO_BLURRED_BELOW;
}

static enum err judge(const struct photo_grey *grey, struct photo *photo)
{
    struct photo_grey small = {0};
    struct photohash_exposure light = {0};
    enum err e = shrink(grey, PHOTO_JUDGED_SIDE, &small);
    if (e == ERR_OK) {
        const struct photohash_grey seen = view(&small);
        e = photohash_exposure(&seen, &light);
        if (e == ERR_OK)
            e = photohash_sharpness(&seen, &photo->sharpness);
    }
    photo_grey_done(&small);
    if (e != ERR_OK)
        return e;
    photo->exposure = light.mean;
    photo->dark_share = light.dark;
    photo->bright_share = light.bright;
    photo_light(photo);
    return ERR_OK;
}

/* To the size at which it is looked at, the right way up. */
static enum err bring_up(struct photo_grey *grey, int orientation)
{
    struct photo_grey small = {0};
    enum err e = ERR_OK;
    if (grey->width > PHOTO_DECODED_SIDE || grey->height > PHOTO_DECODED_SIDE) {
        e = shrink(grey, PHOTO_DECODED_SIDE, &small);
        photo_grey_done(grey);
        *grey = small;
    }
    return e == ERR_OK ? turn(grey, orientation) : e;
}

static enum err measure(struct photo_grey *grey, struct photo *photo)
{
    enum err e = bring_up(grey, photo->orientation);
    if (e == ERR_OK) {
        const struct photohash_grey seen = view(grey);
        e = photohash_of(&seen, &photo->hash);
    }
    if (e == ERR_OK)
        e = judge(grey, photo);
    if (e == ERR_OK)
        e = photo_codes(grey, photo);
    return e;
}

/* ---- the call ------------------------------------------------------------------------------ */

enum photo_kind photo_kind_of(const uint8_t *bytes, size_t n)
{
    if (n >= 3 && memcmp(bytes, "\xff\xd8\xff", 3) == 0)
        return PHOTO_JPEG;
    if (n >= 8 && memcmp(bytes, "\x89PNG\r\n\x1a\n", 8) == 0)
        return PHOTO_PNG;
    if (n >= 12 && memcmp(bytes + 4, "ftyp", 4) == 0)
        return PHOTO_HEIC;
    return PHOTO_UNKNOWN;
}

/* The start of a JPEG or PNG that was cut within its first bytes. */
static bool is_start(const uint8_t *bytes, size_t n)
{
    return (n < 3 && memcmp(bytes, "\xff\xd8\xff", n) == 0) ||
           (n < 8 && memcmp(bytes, "\x89PNG\r\n\x1a\n", n) == 0);
}

static uint64_t big_endian(const uint8_t *p, int n)
{
    uint64_t value = 0;
    for (int i = 0; i < n; i++)
        value = value << 8 | p[i];
    return value;
}

/* The first start of frame: marker, two bytes of length, one of precision, height, width (ITU-T T.81, B.1.1 and B.2.2). What lies
 * between segments is passed over, as the decoder does it. */
static uint64_t jpeg_pixels(const uint8_t *bytes, size_t n)
{
    size_t at = 2;
    while (at < n) {
        while (at < n && bytes[at] != 0xff)
            at++;
        while (at < n && bytes[at] == 0xff)
            at++;
        if (at + 8 > n)
            return 0;
        const uint8_t marker = bytes[at];
        const bool is_frame =
            marker >= 0xc0 && marker <= 0xcf && marker != 0xc4 && marker != 0xc8 && marker != 0xcc;
        if (is_frame)
            return big_endian(bytes + at + 4, 2) * big_endian(bytes + at + 6, 2);
        const bool is_alone = marker < 0xc0 || (marker >= 0xd0 && marker <= 0xd8);
        at += is_alone ? 1 : 1 + (size_t)big_endian(bytes + at + 1, 2);
    }
    return 0;
}

uint64_t photo_pixels(const void *bytes, size_t n)
{
    const uint8_t *b = bytes;
    switch (photo_kind_of(b, n)) {
    case PHOTO_JPEG:
        return jpeg_pixels(b, n);
    case PHOTO_PNG: /* the first chunk is IHDR: length, name, width, height (PNG, 11.2.2) */
        return n >= 24 ? big_endian(b + 16, 4) * big_endian(b + 20, 4) : 0;
    default:
        return 0;
    }
}

static enum err decode(const uint8_t *bytes, size_t n, struct photo *photo, struct photo_grey *grey)
{
    switch (photo->kind) {
    case PHOTO_JPEG:
        return photo_jpeg(bytes, n, photo, grey);
    case PHOTO_PNG:
        return photo_png(bytes, n, photo, grey);
    case PHOTO_HEIC:
        return photo_heic(bytes, n, photo, grey);
    case PHOTO_UNKNOWN:
        break;
    }
    if (n == 0)
        photo_fail(photo, PHOTO_EMPTY, "is empty: it holds no byte");
    else if (is_start(bytes, n))
        photo_fail(photo, PHOTO_TRUNCATED, "ends within its first bytes");
    else
        photo_fail(photo, PHOTO_NOT_KNOWN, "is no JPEG, PNG%s",
                   photo_reads_heic() ? " or HEIC" : "; this build reads no HEIC");
    return ERR_OK;
}

/* The picture itself, whatever it is; a fault is an answer. */
static enum err open_up(const void *bytes, size_t n, struct photo *photo, struct photo_grey *grey)
{
    if (n > PHOTO_BYTES_MAX) {
        photo_fail(photo, PHOTO_LARGE, "has %zu bytes; at most %d MiB are read", n,
                   PHOTO_BYTES_MAX >> 20);
        return ERR_OK;
    }
    photo->kind = photo_kind_of(bytes, n);
    return decode(bytes, n, photo, grey);
}

enum err photo_look(const void *bytes, size_t n, struct photo *photo)
{
    struct photo_grey grey = {0};
    enum err e = open_up(bytes, n, photo, &grey);
    if (e == ERR_OK && photo->fault == PHOTO_FINE)
        e = measure(&grey, photo);
    photo_grey_done(&grey);
    return e;
}

enum err photo_read(const void *bytes, size_t n, struct photo *ret)
{
    uint8_t sha256[DIGEST_SHA256_SIZE];
    memset(ret, 0, sizeof *ret);
    ret->orientation = 1;
    enum err e = digest_bytes(DIGEST_SHA256, bytes, n, sha256);
    if (e != ERR_OK)
        return e;
    digest_hex(sha256, sizeof sha256, ret->sha256);
    return photo_look(bytes, n, ret);
}

/* Shrunk before it is turned: as measure() does it, so that the averages are of the same pixels. */
enum err photo_likeness(const void *bytes, size_t n, enum photo_fault *ret_fault,
                        struct likeness_picture *ret)
{
    struct photo_grey grey = {0};
    struct photo *photo = calloc(1, sizeof *photo);
    if (photo == NULL)
        return ERR_MEMORY;
    photo->orientation = 1;
    enum err e = open_up(bytes, n, photo, &grey);
    *ret_fault = photo->fault;
    if (e == ERR_OK && photo->fault == PHOTO_FINE)
        e = bring_up(&grey, photo->orientation);
    if (e == ERR_OK && photo->fault == PHOTO_FINE) {
        const struct photohash_grey seen = view(&grey);
        e = likeness_of_grey(&seen, ret);
    }
    photo_grey_done(&grey);
    free(photo);
    return e;
}
