/* encode: owns the writing of test pictures. A failure in a library ends the test. */
#include "encode.h"

#include <png.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
/* jpeglib.h needs stdio.h before it. */
#include <jpeglib.h>

static void *need(void *p)
{
    if (p == NULL) {
        puts("Bail out! no memory");
        exit(2);
    }
    return p;
}

/* A TIFF block of one entry (TIFF 6.0; Exif 2.3, 4.5.4): orientation, a SHORT, little endian. */
static void write_exif(struct jpeg_compress_struct *jpeg, int orientation)
{
    uint8_t block[] = {'E',  'x', 'i', 'f', 0, 0, 'I', 'I', 42, 0, 8, 0, 0, 0, 1, 0,
                       0x12, 1,   3,   0,   1, 0, 0,   0,   0,  0, 0, 0, 0, 0, 0, 0};
    block[24] = (uint8_t)orientation;
    jpeg_write_marker(jpeg, JPEG_APP0 + 1, block, sizeof block);
}

/* One row in the file's colours. Cyan, magenta and yellow stand upside down, as Adobe writes them. */
static void fill_row(const struct scene *s, int y, enum encode_colours colours, uint8_t *row)
{
    const uint8_t *p = s->rgb + (size_t)y * (size_t)s->width * 3;
    for (int x = 0; x < s->width; x++, p += 3)
        switch (colours) {
        case ENCODE_GREY:
            row[x] = p[1];
            break;
        case ENCODE_CMYK:
            memcpy(row + 4 * (size_t)x, p, 3);
            row[4 * (size_t)x + 3] = 255;
            break;
        case ENCODE_COLOUR:
            memcpy(row + 3 * (size_t)x, p, 3);
            break;
        }
}

struct bytes encode_jpeg(const struct scene *s, const struct encode_jpeg *how)
{
    static const J_COLOR_SPACE spaces[] = {JCS_RGB, JCS_GRAYSCALE, JCS_CMYK};
    static const int components[] = {3, 1, 4};
    struct jpeg_compress_struct jpeg;
    struct jpeg_error_mgr errors;
    unsigned char *data = NULL;
    unsigned long n = 0;
    uint8_t *row = need(malloc(4 * (size_t)s->width));
    jpeg.err = jpeg_std_error(&errors);
    jpeg_create_compress(&jpeg);
    jpeg_mem_dest(&jpeg, &data, &n);
    jpeg.image_width = (JDIMENSION)s->width;
    jpeg.image_height = (JDIMENSION)s->height;
    jpeg.input_components = components[how->colours];
    jpeg.in_color_space = spaces[how->colours];
    jpeg_set_defaults(&jpeg);
    jpeg_set_quality(&jpeg, how->quality, TRUE);
    if (how->is_progressive)
        jpeg_simple_progression(&jpeg);
    jpeg_start_compress(&jpeg, TRUE);
    if (how->orientation > 0)
        write_exif(&jpeg, how->orientation);
    for (int y = 0; y < s->height; y++) {
        JSAMPROW line = row;
        fill_row(s, y, how->colours, row);
        jpeg_write_scanlines(&jpeg, &line, 1);
    }
    jpeg_finish_compress(&jpeg);
    jpeg_destroy_compress(&jpeg);
    free(row);
    return (struct bytes){need(data), n};
}

static void on_write(png_structp png, png_bytep from, size_t n)
{
    struct bytes *b = png_get_io_ptr(png);
    b->data = need(realloc(b->data, b->n + n));
    memcpy(b->data + b->n, from, n);
    b->n += n;
}

static void on_flush(png_structp png)
{
    (void)png;
}

struct bytes encode_png(const struct scene *s, int depth, bool is_interlaced)
{
    struct bytes b = {0};
    png_structp png = need(png_create_write_struct(PNG_LIBPNG_VER_STRING, NULL, NULL, NULL));
    png_infop info = need(png_create_info_struct(png));
    const size_t row_size = (size_t)s->width * 3 * (size_t)(depth / 8);
    uint8_t *all = need(malloc(row_size * (size_t)s->height));
    png_bytep *rows = need(malloc((size_t)s->height * sizeof *rows));
    if (setjmp(png_jmpbuf(png))) {
        puts("Bail out! libpng cannot write");
        exit(2);
    }
    for (int y = 0; y < s->height; y++) {
        rows[y] = all + (size_t)y * row_size;
        for (size_t i = 0; i < (size_t)s->width * 3; i++) {
            const uint8_t v = s->rgb[(size_t)y * (size_t)s->width * 3 + i];
            if (depth == 8)
                rows[y][i] = v;
            else /* v * 257 in 16 bits, the exact widening */
                rows[y][2 * i] = rows[y][2 * i + 1] = v;
        }
    }
    png_set_write_fn(png, &b, on_write, on_flush);
    png_set_IHDR(png, info, (png_uint_32)s->width, (png_uint_32)s->height, depth,
                 PNG_COLOR_TYPE_RGB, is_interlaced ? PNG_INTERLACE_ADAM7 : PNG_INTERLACE_NONE,
                 PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
    png_set_compression_level(png, 3);
    png_write_info(png, info);
    png_write_image(png, rows);
    png_write_end(png, info);
    png_destroy_write_struct(&png, &info);
    free(rows);
    free(all);
    return b;
}
