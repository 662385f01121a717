/* teach_picture: owns a step's picture on its card: PNG by cairo's own reader, JPEG as the bytes that it is, anything else by its words. */
#include "draw/teach_parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Cairo keeps the copy until the file is written. The pixels of the surface are never looked at: the bytes stand for them. */
static cairo_surface_t *of_jpeg(const struct teach_picture *picture)
{
    cairo_surface_t *surface =
        cairo_image_surface_create(CAIRO_FORMAT_RGB24, picture->width, picture->height);
    unsigned char *copy = malloc(picture->bytes.size);
    if (copy == NULL)
        return surface;
    memcpy(copy, picture->bytes.data, picture->bytes.size);
    if (cairo_surface_set_mime_data(surface, CAIRO_MIME_TYPE_JPEG, copy, picture->bytes.size, free,
                                    copy) != CAIRO_STATUS_SUCCESS)
        free(copy);
    return surface;
}

static cairo_surface_t *surface_of(const struct teach_picture *picture)
{
    if (picture->kind == TEACH_JPEG)
        return of_jpeg(picture);
    return paper_png(picture->bytes.data, picture->bytes.size);
}

static bool is_sound(const struct teach_picture *picture)
{
    return picture->kind != TEACH_NO_PICTURE && picture->bytes.size > 0 &&
           picture->bytes.size < (1U << 30) && picture->width > 0 && picture->height > 0 &&
           picture->width <= TEACH_PICTURE_SIDE_MAX && picture->height <= TEACH_PICTURE_SIDE_MAX;
}

/* Turned as the camera says it was held (EXIF 2.32, tag 0x0112): 3 half round, 6 a quarter clockwise, 8 a quarter the other way. */
static void show(struct paper *p, cairo_surface_t *surface, const struct teach_picture *picture,
                 double x, double y, double scale)
{
    const int turn = picture->orientation;
    const double width = picture->width, height = picture->height;
    cairo_save(p->cr);
    cairo_translate(p->cr, x, y);
    cairo_scale(p->cr, scale, scale);
    if (turn == 6 || turn == 8) {
        cairo_translate(p->cr, turn == 6 ? height : 0, turn == 6 ? 0 : width);
        cairo_rotate(p->cr, turn == 6 ? G_PI / 2 : -G_PI / 2);
    } else if (turn == 3) {
        cairo_translate(p->cr, width, height);
        cairo_rotate(p->cr, G_PI);
    }
    cairo_set_source_surface(p->cr, surface, 0, 0);
    cairo_paint(p->cr);
    cairo_restore(p->cr);
}

static double words_instead(struct teach *t, const struct bulletin_picture *picture, double x,
                            double width)
{
    const char *says =
        sheet_format(&t->s, W_PICTURE, picture->file, sheet_text(&t->s, &picture->alt));
    const double height = paper_text_height(&t->s.p, PAPER_QUIET, width - 12, 0, says) + 10;
    paper_need(&t->s.p, height);
    paper_frame(&t->s.p, PAPER_RULE, 0.8, x, t->s.p.y, width, height);
    paper_text(&t->s.p, PAPER_QUIET, x + 6, t->s.p.y + 5, width - 12, 0, PAPER_LEFT, says);
    return height;
}

/* Height on the card is worked out from what the head says, so that measuring needs no drawing. */
static double drawn(struct teach *t, const struct teach_picture *picture, const char *alt, double x,
                    double width, double most)
{
    struct paper *p = &t->s.p;
    const bool is_turned = picture->orientation == 6 || picture->orientation == 8;
    const double w = is_turned ? picture->height : picture->width;
    const double h = is_turned ? picture->width : picture->height;
    const double scale = fmin(width / w, most / h), height = h * scale;
    const double words = paper_text_height(p, PAPER_QUIET, width, 0, alt);
    paper_need(p, height + words + 3);
    if (!p->is_dry) {
        cairo_surface_t *surface = surface_of(picture);
        if (cairo_surface_status(surface) == CAIRO_STATUS_SUCCESS) {
            show(p, surface, picture, x + (width - w * scale) / 2, p->y, scale);
            t->made.n_pictures++;
        }
        cairo_surface_destroy(surface);
    }
    paper_text(p, PAPER_QUIET, x, p->y + height + 3, width, 0, PAPER_CENTRE, alt);
    return height + 3 + words;
}

double teach_picture_draw(struct teach *t, const struct bulletin_picture *picture, double x,
                          double width, double most)
{
    struct teach_picture found = {0};
    double height = 0;
    if (t->o->picture != NULL)
        t->o->picture(t->o->me, picture->file, &found);
    if (is_sound(&found))
        height = drawn(t, &found, sheet_text(&t->s, &picture->alt), x, width, most);
    else
        height = words_instead(t, picture, x, width);
    text_done(&found.bytes);
    return height;
}
