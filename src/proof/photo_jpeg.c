/* photo_jpeg: owns decoding JPEG by libjpeg-turbo. The library reports by jumping out; the jump is
 * caught in photo_jpeg alone, and everything that outlives it is in one struct. */
#include <setjmp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
/* jpeglib.h needs stdio.h before it. */
#include <jerror.h>
#include <jpeglib.h>

#include "core/photohash.h"
#include "proof/photo_parts.h"

enum {
    SCANS_MAX = 100,
    /* A block of 64 pixels takes at least one bit of Huffman code. */
    PIXELS_A_BYTE_MAX = 512,
    EXIF_HEAD = 6 /* "Exif\0\0" */
};

/* Bound on scans times pixels: a small progressive file can ask for very many passes. */
static const uint64_t scanned_pixels_max = (uint64_t)1 << 30;

struct reader {
    struct jpeg_decompress_struct jpeg;
    struct jpeg_error_mgr errors;
    struct jpeg_progress_mgr progress;
    jmp_buf back;
    struct photo *photo;
    struct photo_grey *grey;
    uint8_t *row; /* four colours a pixel, CMYK only */
    enum err err;
};

static struct reader *reader_of(j_common_ptr c)
{
    return c->client_data;
}

_Noreturn static void give_up(j_common_ptr c, enum photo_fault fault)
{
    struct reader *r = reader_of(c);
    char text[JMSG_LENGTH_MAX];
    c->err->format_message(c, text);
    photo_fail(r->photo, fault, "%s: %.90s",
               fault == PHOTO_TRUNCATED ? "ends before the picture does" : "is damaged", text);
    longjmp(r->back, 1);
}

static void on_error(j_common_ptr c)
{
    struct reader *r = reader_of(c);
    switch (c->err->msg_code) {
    case JERR_IMAGE_TOO_BIG:
        photo_fail(r->photo, PHOTO_LARGE, "says that it has more than %ld pixels on a side",
                   (long)JPEG_MAX_DIMENSION);
        longjmp(r->back, 1);
    case JERR_OUT_OF_MEMORY:
    case JERR_NO_BACKING_STORE:
    case JERR_WIDTH_OVERFLOW:
        photo_fail(r->photo, PHOTO_LARGE, "needs more memory than is allowed for one photo");
        longjmp(r->back, 1);
    case JERR_INPUT_EMPTY:
    case JERR_INPUT_EOF:
        give_up(c, PHOTO_TRUNCATED);
    default:
        give_up(c, PHOTO_BROKEN);
    }
}

/* The library mends what it can and warns; a mended picture is not the picture that was taken. */
static void on_message(j_common_ptr c, int level)
{
    if (level >= 0)
        return;
    switch (c->err->msg_code) {
    case JWRN_ADOBE_XFORM: /* harmless: cameras and editors do these */
    case JWRN_BOGUS_ICC:
    case JWRN_EXTRANEOUS_DATA:
    case JWRN_JFIF_MAJOR:
        return;
    case JWRN_JPEG_EOF:
        give_up(c, PHOTO_TRUNCATED);
    default:
        give_up(c, PHOTO_BROKEN);
    }
}

static void no_output(j_common_ptr c)
{
    (void)c;
}

static void on_progress(j_common_ptr c)
{
    struct reader *r = reader_of(c);
    const uint64_t pixels = (uint64_t)r->jpeg.image_width * r->jpeg.image_height;
    const uint64_t scans =
        (uint64_t)(r->jpeg.input_scan_number > 0 ? r->jpeg.input_scan_number : 0);
    if (scans <= SCANS_MAX && (scans <= 1 || scans * pixels <= scanned_pixels_max))
        return;
    photo_fail(r->photo, PHOTO_BROKEN, "sends its pixels in more passes than any camera does");
    longjmp(r->back, 1);
}

/* ---- EXIF ---------------------------------------------------------------------------------- */

static void take_exif(const struct reader *r)
{
    for (jpeg_saved_marker_ptr m = r->jpeg.marker_list; m != NULL; m = m->next) {
        if (m->marker != JPEG_APP0 + 1 || m->data_length < EXIF_HEAD ||
            memcmp(m->data, "Exif\0", EXIF_HEAD - 1) != 0)
            continue;
        photo_exif(m->data + EXIF_HEAD, m->data_length - EXIF_HEAD, r->photo);
        return;
    }
}

/* ---- pixels -------------------------------------------------------------------------------- */

/* The smallest scale in eighths that still gives PHOTO_DECODED_SIDE. */
static unsigned eighths_for(const struct jpeg_decompress_struct *jpeg)
{
    const uint64_t longer =
        jpeg->image_width > jpeg->image_height ? jpeg->image_width : jpeg->image_height;
    for (unsigned eighths = 1; eighths < 8; eighths++)
        if (longer * eighths >= (uint64_t)PHOTO_DECODED_SIDE * 8)
            return eighths;
    return 8;
}

/* Adobe writes CMYK with all colours upside down; others do not. */
static void grey_of_cmyk(const struct reader *r, uint8_t *to)
{
    const unsigned flip = r->jpeg.saw_Adobe_marker ? 0 : 255;
    for (int32_t x = 0; x < r->grey->width; x++) {
        const uint8_t *p = r->row + 4 * (size_t)x;
        const unsigned black = p[3] ^ flip;
        to[x] = photohash_luma((uint8_t)((p[0] ^ flip) * black / 255),
                               (uint8_t)((p[1] ^ flip) * black / 255),
                               (uint8_t)((p[2] ^ flip) * black / 255));
    }
}

static bool choose_colours(struct reader *r)
{
    switch (r->jpeg.jpeg_color_space) {
    case JCS_GRAYSCALE:
    case JCS_RGB:
    case JCS_YCbCr:
        r->jpeg.out_color_space = JCS_GRAYSCALE;
        return true;
    case JCS_CMYK:
    case JCS_YCCK:
        r->jpeg.out_color_space = JCS_CMYK;
        return true;
    default:
        return photo_fail(r->photo, PHOTO_BROKEN, "has colours of an unknown kind");
    }
}

static void read_rows(struct reader *r)
{
    const bool is_cmyk = r->jpeg.out_color_space == JCS_CMYK;
    r->grey->width = (int32_t)r->jpeg.output_width;
    r->grey->height = (int32_t)r->jpeg.output_height;
    r->grey->pixels = malloc((size_t)r->grey->width * (size_t)r->grey->height);
    r->row = is_cmyk ? malloc(4 * (size_t)r->grey->width) : NULL;
    if (r->grey->pixels == NULL || (is_cmyk && r->row == NULL)) {
        r->err = ERR_MEMORY;
        return;
    }
    while (r->jpeg.output_scanline < r->jpeg.output_height) {
        uint8_t *to = r->grey->pixels + (size_t)r->jpeg.output_scanline * (size_t)r->grey->width;
        JSAMPROW line = is_cmyk ? r->row : to;
        jpeg_read_scanlines(&r->jpeg, &line, 1);
        if (is_cmyk)
            grey_of_cmyk(r, to);
    }
    jpeg_finish_decompress(&r->jpeg); /* reads on to the end mark, so that a missing one is seen */
}

static void read_all(struct reader *r, const uint8_t *bytes, size_t n)
{
    jpeg_create_decompress(&r->jpeg);
    r->jpeg.mem->max_memory_to_use = PHOTO_JPEG_MEMORY_MAX;
    r->jpeg.progress = &r->progress;
    jpeg_mem_src(&r->jpeg, bytes, (unsigned long)n);
    jpeg_save_markers(&r->jpeg, JPEG_APP0 + 1, 0xFFFF);
    jpeg_read_header(&r->jpeg, TRUE);
    take_exif(r);
    if (!photo_size(r->photo, r->jpeg.image_width, r->jpeg.image_height))
        return;
    if ((uint64_t)r->jpeg.image_width * r->jpeg.image_height > (uint64_t)n * PIXELS_A_BYTE_MAX) {
        photo_fail(r->photo, PHOTO_TRUNCATED,
                   "is %zu bytes, too few for the %u x %u pixels it says", n, r->jpeg.image_width,
                   r->jpeg.image_height);
        return;
    }
    if (!choose_colours(r))
        return;
    r->jpeg.scale_num = eighths_for(&r->jpeg);
    r->jpeg.scale_denom = 8;
    r->jpeg.dct_method = JDCT_ISLOW; /* the same answer on every machine */
    jpeg_start_decompress(&r->jpeg);
    read_rows(r);
}

enum err photo_jpeg(const uint8_t *bytes, size_t n, struct photo *photo,
                    struct photo_grey *ret_grey)
{
    struct reader *r = calloc(1, sizeof *r);
    if (r == NULL)
        return ERR_MEMORY;
    r->photo = photo;
    r->grey = ret_grey;
    r->jpeg.err = jpeg_std_error(&r->errors);
    r->jpeg.client_data = r;
    r->errors.error_exit = on_error;
    r->errors.emit_message = on_message;
    r->errors.output_message = no_output;
    r->progress.progress_monitor = on_progress;
    if (setjmp(r->back) == 0)
        read_all(r, bytes, n);
    jpeg_destroy_decompress(&r->jpeg);
    const enum err e = r->err;
    free(r->row);
    free(r);
    return e;
}
