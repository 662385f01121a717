/* encode_heic: writes a scene as HEIC, where the build has libheif (HAS_HEIF) and it an encoder. */
#include "encode.h"

#include <stdlib.h>
#include <string.h>

#ifdef HAS_HEIF

#include <libheif/heif.h>

/* libx265, which libheif encodes by, keeps a little of what it asked for; that is no fault of ours,
 * and nothing but this test ever encodes. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void)
{
    return "leak:libx265";
}

static struct heif_error on_write(struct heif_context *context, const void *data, size_t n,
                                  void *user)
{
    static const struct heif_error fine = {heif_error_Ok, heif_suberror_Unspecified, "fine"};
    struct bytes *b = user;
    (void)context;
    b->data = malloc(n);
    if (b->data != NULL) {
        memcpy(b->data, data, n);
        b->n = n;
    }
    return fine;
}

static struct heif_image *image_of(const struct scene *s)
{
    struct heif_image *image = NULL;
    int stride = 0;
    if (heif_image_create(s->width, s->height, heif_colorspace_RGB, heif_chroma_interleaved_RGB,
                          &image)
            .code != heif_error_Ok)
        return NULL;
    heif_image_add_plane(image, heif_channel_interleaved, s->width, s->height, 8);
    uint8_t *to = heif_image_get_plane(image, heif_channel_interleaved, &stride);
    for (int y = 0; y < s->height; y++)
        memcpy(to + (size_t)y * (size_t)stride, s->rgb + 3 * (size_t)y * (size_t)s->width,
               3 * (size_t)s->width);
    return image;
}

struct bytes encode_heic(const struct scene *s)
{
    struct bytes b = {0};
    struct heif_writer writer = {.writer_api_version = 1, .write = on_write};
    struct heif_encoder *encoder = NULL;
    struct heif_image_handle *handle = NULL;
    struct heif_context *context = heif_context_alloc();
    struct heif_image *image = image_of(s);
    if (context != NULL && image != NULL &&
        heif_context_get_encoder_for_format(context, heif_compression_HEVC, &encoder).code ==
            heif_error_Ok) {
        heif_encoder_set_lossy_quality(encoder, 80);
        if (heif_context_encode_image(context, image, encoder, NULL, &handle).code == heif_error_Ok)
            heif_context_write(context, &writer, &b);
    }
    if (handle != NULL)
        heif_image_handle_release(handle);
    if (encoder != NULL)
        heif_encoder_release(encoder);
    if (image != NULL)
        heif_image_release(image);
    if (context != NULL)
        heif_context_free(context);
    return b;
}

#else

struct bytes encode_heic(const struct scene *s)
{
    (void)s;
    return (struct bytes){0};
}

#endif
