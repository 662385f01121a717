/* photo_jpeg_write: owns writing JPEG by libjpeg-turbo. The library reports by jumping out; the jump is caught in photo_write_jpeg
 * alone, and everything that outlives it is in one struct. */
#include <setjmp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
/* jpeglib.h needs stdio.h before it. */
#include <jpeglib.h>

#include "core/date.h"
#include "proof/photo_exif_write.h"

enum { SIDE_MAX = 32767, PIECE = 1 << 16 };

struct writer {
    struct jpeg_compress_struct jpeg;
    struct jpeg_error_mgr errors;
    jmp_buf back;
    struct text exif;
    struct jpeg_destination_mgr to;
    struct text *out;
    uint8_t piece[PIECE], row[3 * SIDE_MAX];
};

_Noreturn static void on_error(j_common_ptr c)
{
    struct writer *w = c->client_data;
    longjmp(w->back, 1);
}

static void no_output(j_common_ptr c)
{
    (void)c;
}

/* ---- where the bytes go: piece by piece into the text -------------------------------------- */

static void piece_begin(j_compress_ptr c)
{
    struct writer *w = c->client_data;
    w->to.next_output_byte = w->piece;
    w->to.free_in_buffer = sizeof w->piece;
}

static boolean piece_full(j_compress_ptr c)
{
    struct writer *w = c->client_data; /* full: what free_in_buffer says is not to be looked at */
    text_add(w->out, (const char *)w->piece, sizeof w->piece);
    piece_begin(c);
    return TRUE;
}

static void piece_end(j_compress_ptr c)
{
    struct writer *w = c->client_data;
    text_add(w->out, (const char *)w->piece, sizeof w->piece - w->to.free_in_buffer);
}

/* "2026-03-05T09:14:00": a time that is. */
static bool is_time(const char *s)
{
    int32_t day;
    if (strlen(s) != 19 || s[4] != '-' || s[7] != '-' || s[10] != 'T' || s[13] != ':' ||
        s[16] != ':')
        return false;
    const int hour = date_digits(s + 11, 2), minute = date_digits(s + 14, 2),
              second = date_digits(s + 17, 2);
    return date_from_civil(date_digits(s, 4), date_digits(s + 5, 2), date_digits(s + 8, 2), &day) ==
               ERR_OK &&
           hour >= 0 && hour < 24 && minute >= 0 && minute < 60 && second >= 0 && second < 60;
}

static bool is_offset(const char *s)
{
    return strlen(s) == 6 && (s[0] == '+' || s[0] == '-') && s[3] == ':' &&
           date_digits(s + 1, 2) >= 0 && date_digits(s + 1, 2) <= 14 &&
           date_digits(s + 4, 2) >= 0 && date_digits(s + 4, 2) < 60;
}

static void write_all(struct writer *w, const struct photo_write *photo)
{
    jpeg_create_compress(&w->jpeg);
    w->to.init_destination = piece_begin;
    w->to.empty_output_buffer = piece_full;
    w->to.term_destination = piece_end;
    w->jpeg.dest = &w->to;
    w->jpeg.image_width = (JDIMENSION)photo->width;
    w->jpeg.image_height = (JDIMENSION)photo->height;
    w->jpeg.input_components = 3;
    w->jpeg.in_color_space = JCS_RGB;
    jpeg_set_defaults(&w->jpeg);
    jpeg_set_quality(&w->jpeg, photo->quality, TRUE);
    w->jpeg.dct_method = JDCT_ISLOW; /* the same bytes on every machine */
    w->jpeg.write_JFIF_header =
        w->exif.size == 0; /* an EXIF file has its block first (Exif 2.31, 4.5.5) */
    jpeg_start_compress(&w->jpeg, TRUE);
    if (w->exif.size > 0)
        jpeg_write_marker(&w->jpeg, JPEG_APP0 + 1, (const JOCTET *)w->exif.data,
                          (unsigned)w->exif.size);
    while (w->jpeg.next_scanline < w->jpeg.image_height) {
        const size_t row = 3 * (size_t)photo->width;
        JSAMPROW rows[] = {w->row}; /* a copy: the library's rows are not const */
        memcpy(w->row, photo->rgb + row * w->jpeg.next_scanline, row);
        jpeg_write_scanlines(&w->jpeg, rows, 1);
    }
    jpeg_finish_compress(&w->jpeg);
}

enum err photo_write_jpeg(const struct photo_write *photo, struct text *out)
{
    if (photo->rgb == NULL || photo->width < 1 || photo->width > SIDE_MAX || photo->height < 1 ||
        photo->height > SIDE_MAX || photo->quality < 1 || photo->quality > 100 ||
        (photo->taken != NULL && !is_time(photo->taken)) ||
        (photo->offset != NULL && (photo->taken == NULL || !is_offset(photo->offset))))
        return ERR_DOMAIN;
    struct writer *w = calloc(1, sizeof *w);
    if (w == NULL)
        return ERR_MEMORY;
    enum err e = photo->taken != NULL ? photo_exif_write(photo, &w->exif) : ERR_OK;
    w->out = out;
    w->jpeg.client_data = w;
    w->jpeg.err = jpeg_std_error(&w->errors);
    w->errors.error_exit = on_error;
    w->errors.output_message = no_output;
    if (e == ERR_OK) {
        if (setjmp(w->back) == 0) {
            write_all(w, photo);
            e = out->is_broken ? ERR_MEMORY : ERR_OK;
        } else
            e = ERR_MEMORY; /* everything else was ruled out above */
        jpeg_destroy_compress(&w->jpeg);
    }
    text_done(&w->exif);
    free(w);
    return e;
}
