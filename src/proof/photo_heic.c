/* photo_heic: owns decoding HEIC by libheif, where the build has it (HAS_HEIF). The library turns the
 * picture upright itself, so the EXIF orientation is not applied once more. */
#include "proof/photo_parts.h"

#ifdef HAS_HEIF

#include <libheif/heif.h>
#include <stdlib.h>
#include <string.h>

bool photo_reads_heic(void)
{
    return true;
}

struct reader {
    struct heif_context *context;
    struct heif_image_handle *handle;
    struct heif_image *image;
};

static bool is_good(struct heif_error error, struct photo *photo)
{
    if (error.code == heif_error_Ok)
        return true;
    const bool is_short = error.subcode == heif_suberror_End_of_data;
    return photo_fail(photo, is_short ? PHOTO_TRUNCATED : PHOTO_BROKEN, "%s: %.90s",
                      is_short ? "ends before the picture does" : "is damaged",
                      error.message != NULL ? error.message : "no reason given");
}

static enum err take_exif(const struct heif_image_handle *handle, struct photo *photo)
{
    heif_item_id id;
    if (heif_image_handle_get_list_of_metadata_block_IDs(handle, "Exif", &id, 1) < 1)
        return ERR_OK;
    const size_t n = heif_image_handle_get_metadata_size(handle, id);
    if (n < 4 || n > PHOTO_BYTES_MAX)
        return ERR_OK;
    uint8_t *block = malloc(n);
    if (block == NULL)
        return ERR_MEMORY;
    if (heif_image_handle_get_metadata(handle, id, block).code == heif_error_Ok) {
        /* Four bytes say how far behind them the TIFF block begins (ISO/IEC 23008-12, A.2.1). */
        const size_t skip =
            (size_t)block[0] << 24 | (size_t)block[1] << 16 | (size_t)block[2] << 8 | block[3];
        if (skip < n - 4)
            photo_exif(block + 4 + skip, n - 4 - skip, photo);
    }
    free(block);
    photo->orientation = 1;
    return ERR_OK;
}

/* A row of the luminance plane, eight bits or more (two bytes each), as eight bits. */
static void take_row(uint8_t *to, const uint8_t *row, int32_t width, int bits)
{
    if (bits == 8) {
        memcpy(to, row, (size_t)width);
        return;
    }
    for (int32_t x = 0; x < width; x++) {
        uint16_t value;
        memcpy(&value, row + 2 * (size_t)x, sizeof value);
        to[x] = (uint8_t)(value >> (bits - 8));
    }
}

static enum err take_pixels(const struct heif_image *image, struct photo *photo,
                            struct photo_grey *grey)
{
    int stride = 0;
    const int width = heif_image_get_width(image, heif_channel_Y);
    const int height = heif_image_get_height(image, heif_channel_Y);
    const int bits = heif_image_get_bits_per_pixel_range(image, heif_channel_Y);
    const int stored = heif_image_get_bits_per_pixel(image, heif_channel_Y);
    const uint8_t *plane = heif_image_get_plane_readonly(image, heif_channel_Y, &stride);
    if (plane == NULL || width < 1 || height < 1 || (int64_t)width * height > PHOTO_PIXELS_MAX ||
        bits < 8 || bits > 16 || stored != (bits == 8 ? 8 : 16) || stride / (stored / 8) < width) {
        photo_fail(photo, PHOTO_BROKEN, "gives no picture of 8 to 16 bits");
        return ERR_OK;
    }
    *grey = (struct photo_grey){malloc((size_t)width * (size_t)height), width, height};
    if (grey->pixels == NULL)
        return ERR_MEMORY;
    for (int y = 0; y < height; y++)
        take_row(grey->pixels + (size_t)y * (size_t)width, plane + (size_t)y * (size_t)stride,
                 width, bits);
    return ERR_OK;
}

/* Strictly: what is mended is not the picture that was taken. */
static bool decode(struct reader *r, struct photo *photo)
{
    struct heif_decoding_options *options = heif_decoding_options_alloc();
    if (options != NULL)
        options->strict_decoding = 1;
    const struct heif_error e =
        heif_decode_image(r->handle, &r->image, heif_colorspace_YCbCr, heif_chroma_420, options);
    heif_decoding_options_free(options);
    return is_good(e, photo);
}

static enum err read_all(struct reader *r, const uint8_t *bytes, size_t n, struct photo *photo,
                         struct photo_grey *grey)
{
    r->context = heif_context_alloc();
    if (r->context == NULL)
        return ERR_MEMORY;
    heif_context_set_maximum_image_size_limit(r->context, PHOTO_SIDE_MAX);
    if (!is_good(heif_context_read_from_memory_without_copy(r->context, bytes, n, NULL), photo) ||
        !is_good(heif_context_get_primary_image_handle(r->context, &r->handle), photo))
        return ERR_OK;
    const int width = heif_image_handle_get_width(r->handle);
    const int height = heif_image_handle_get_height(r->handle);
    if (!photo_size(photo, width > 0 ? (uint64_t)width : 0, height > 0 ? (uint64_t)height : 0))
        return ERR_OK;
    const enum err e = take_exif(r->handle, photo);
    if (e != ERR_OK)
        return e;
    if (!decode(r, photo))
        return ERR_OK;
    return take_pixels(r->image, photo, grey);
}

enum err photo_heic(const uint8_t *bytes, size_t n, struct photo *photo,
                    struct photo_grey *ret_grey)
{
    struct reader r = {0};
    const enum err e = read_all(&r, bytes, n, photo, ret_grey);
    if (r.image != NULL)
        heif_image_release(r.image);
    if (r.handle != NULL)
        heif_image_handle_release(r.handle);
    if (r.context != NULL)
        heif_context_free(r.context);
    return e;
}

#else

bool photo_reads_heic(void)
{
    return false;
}

enum err photo_heic(const uint8_t *bytes, size_t n, struct photo *photo,
                    struct photo_grey *ret_grey)
{
    (void)bytes;
    (void)n;
    *ret_grey = (struct photo_grey){0};
    photo_fail(photo, PHOTO_NOT_KNOWN, "is a HEIC; this build reads none: save it as JPEG");
    return ERR_OK;
}

#endif
