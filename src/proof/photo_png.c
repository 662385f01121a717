/* photo_png: owns decoding PNG by libpng. The library reports by jumping out; the jump is caught in
 * photo_png alone, and everything that outlives it is in one struct. */
#include <png.h>
#include <stdlib.h>
#include <string.h>

#include "core/photohash.h"
#include "proof/photo_parts.h"

enum {
    CHUNK_BYTES_MAX = 8 << 20,
    CHUNKS_MAX = 1000,
    DEFLATE_RATIO_MAX = 1032 /* zlib's own bound on how far bytes can unfold */
};

struct reader {
    png_structp png;
    png_infop info;
    const uint8_t *bytes;
    size_t n, at;
    struct photo *photo;
    struct photo_grey *grey;
    uint8_t *rows; /* one row, or all of them when they come interlaced */
    enum err err;
};

_Noreturn static void on_error(png_structp png, png_const_charp text)
{
    struct reader *r = png_get_error_ptr(png);
    photo_fail(r->photo, PHOTO_BROKEN, "is damaged: %.90s", text);
    png_longjmp(png, 1);
}

static void on_warning(png_structp png, png_const_charp text)
{
    (void)png;
    (void)text;
}

static void on_read(png_structp png, png_bytep to, size_t n)
{
    struct reader *r = png_get_io_ptr(png);
    if (n > r->n - r->at) {
        photo_fail(r->photo, PHOTO_TRUNCATED, "ends before the picture does");
        png_error(png, "truncated");
    }
    memcpy(to, r->bytes + r->at, n);
    r->at += n;
}

static void take_row(const struct reader *r, const uint8_t *row, int channels, int32_t y)
{
    uint8_t *to = r->grey->pixels + (size_t)y * (size_t)r->grey->width;
    if (channels == 1) {
        memcpy(to, row, (size_t)r->grey->width);
        return;
    }
    for (int32_t x = 0; x < r->grey->width; x++, row += 3)
        to[x] = photohash_luma(row[0], row[1], row[2]);
}

/* Whatever is stored becomes eight bits of grey or of red, green and blue; transparency is left out. */
static void choose_colours(const struct reader *r)
{
    png_set_expand(r->png);
    png_set_scale_16(r->png);
    png_set_strip_alpha(r->png);
}

static void read_rows(struct reader *r)
{
    const int passes = png_set_interlace_handling(r->png);
    png_read_update_info(r->png, r->info);
    const size_t row_size = png_get_rowbytes(r->png, r->info);
    const int channels = png_get_channels(r->png, r->info);
    if ((channels != 1 && channels != 3) ||
        row_size != (size_t)channels * (size_t)r->photo->width) {
        photo_fail(r->photo, PHOTO_BROKEN, "has colours of an unknown kind");
        return;
    }
    r->grey->width = r->photo->width;
    r->grey->height = r->photo->height;
    const size_t height = (size_t)r->grey->height;
    r->grey->pixels = malloc((size_t)r->grey->width * height);
    r->rows = malloc(passes == 1 ? row_size : row_size * height);
    if (r->grey->pixels == NULL || r->rows == NULL) {
        r->err = ERR_MEMORY;
        return;
    }
    for (int pass = 0; pass < passes; pass++)
        for (int32_t y = 0; y < r->grey->height; y++) {
            uint8_t *row = r->rows + (passes == 1 ? 0 : (size_t)y * row_size);
            png_read_row(r->png, row, NULL);
            if (pass == passes - 1)
                take_row(r, row, channels, y);
        }
    png_read_end(r->png, r->info); /* to the end mark, so that a missing one is seen */
}

static void take_exif(const struct reader *r)
{
    png_uint_32 n = 0;
    png_bytep exif = NULL;
    if (png_get_eXIf_1(r->png, r->info, &n, &exif) != 0 && exif != NULL)
        photo_exif(exif, n, r->photo);
}

static void read_all(struct reader *r)
{
    png_set_read_fn(r->png, r, on_read);
    png_set_user_limits(r->png, 0x7fffffff,
                        0x7fffffff); /* our own bounds follow, in our own words */
    png_set_chunk_malloc_max(r->png, CHUNK_BYTES_MAX);
    png_set_chunk_cache_max(r->png, CHUNKS_MAX);
    png_read_info(r->png, r->info);
    const uint64_t width = png_get_image_width(r->png, r->info);
    const uint64_t height = png_get_image_height(r->png, r->info);
    if (!photo_size(r->photo, width, height))
        return;
    take_exif(r);
    if (png_get_rowbytes(r->png, r->info) * height / DEFLATE_RATIO_MAX > r->n) {
        photo_fail(r->photo, PHOTO_TRUNCATED,
                   "is %zu bytes, too few for the %d x %d pixels it says", r->n, r->photo->width,
                   r->photo->height);
        return;
    }
    choose_colours(r);
    read_rows(r);
    if (r->err == ERR_OK && r->photo->fault == PHOTO_FINE && !r->photo->has_exif)
        take_exif(r); /* it may also stand behind the pixels */
}

enum err photo_png(const uint8_t *bytes, size_t n, struct photo *photo, struct photo_grey *ret_grey)
{
    struct reader *r = calloc(1, sizeof *r);
    if (r == NULL)
        return ERR_MEMORY;
    *r = (struct reader){.bytes = bytes, .n = n, .photo = photo, .grey = ret_grey};
    r->png = png_create_read_struct(PNG_LIBPNG_VER_STRING, r, on_error, on_warning);
    r->info = r->png != NULL ? png_create_info_struct(r->png) : NULL;
    if (r->info == NULL)
        r->err = ERR_MEMORY;
    else if (setjmp(png_jmpbuf(r->png)) == 0)
        read_all(r);
    png_destroy_read_struct(&r->png, &r->info, NULL);
    const enum err e = r->err;
    free(r->rows);
    free(r);
    return e;
}
