/* report_parts: owns tiles, tables and bars on a report's pages. */
#include "draw/report_parts.h"

#include <math.h>
#include <string.h>

#define PAD 7.0 /* between columns */
enum { CELL_LINES = 8, HEAD_LINES = 3 };

/* ---- tiles --------------------------------------------------------------------------------- */

static double tile_height(struct paper *p, const struct report_tile *t, double width)
{
    return 8 + paper_text_height(p, PAPER_SMALL, width, 2, t->label) + 1 +
           paper_text_height(p, PAPER_HEAD, width, 2, t->value) + 2 +
           paper_text_height(p, PAPER_QUIET, width, 5, t->note) + 7;
}

void report_tiles(struct paper *p, const struct report_block *b)
{
    const double gap = 8, all = p->right - p->left;
    const double n = (double)b->n_tiles;
    const double width = (all - gap * (n - 1)) / n, inner = width - 14;
    double height = 0, x = p->left;
    for (size_t i = 0; i < b->n_tiles; i++)
        height = fmax(height, tile_height(p, &b->tiles[i], inner));
    (void)paper_need(p, height);
    for (size_t i = 0; i < b->n_tiles; i++) {
        double y = p->y + 7;
        paper_frame(p, PAPER_RULE, 0.8, x, p->y, width, height);
        paper_tag(p, "P");
        y += paper_text(p, PAPER_SMALL, x + 7, y, inner, 2, PAPER_LEFT, b->tiles[i].label) + 1;
        y += paper_text(p, PAPER_HEAD, x + 7, y, inner, 2, PAPER_LEFT, b->tiles[i].value) + 2;
        paper_text(p, PAPER_QUIET, x + 7, y, inner, 5, PAPER_LEFT, b->tiles[i].note);
        paper_untag(p, "P");
        x += width + gap;
    }
    p->y += height + 12;
}

/* ---- tables -------------------------------------------------------------------------------- */

static double width_of(const struct paper *p, const struct report_table *t, size_t i)
{
    return (p->right - p->left) * t->columns[i].share;
}

/* What its texts may take: the last column reaches the margin. */
static double room_of(const struct paper *p, const struct report_table *t, size_t i)
{
    return width_of(p, t, i) - (i + 1 < t->n_columns ? PAD : 0);
}

static enum paper_align align_of(const struct report_column *c)
{
    return c->is_right ? PAPER_RIGHT : PAPER_LEFT;
}

static double draw_cells(struct paper *p, const struct report_table *t, const char *const *cells,
                         enum paper_style style, int n_lines, const char *tag,
                         const struct strip *strip)
{
    double x = p->left, height = 0;
    for (size_t i = 0; i < t->n_columns; i++) {
        const double width = width_of(p, t, i);
        paper_tag(p, tag);
        if (strip != NULL && t->columns[i].is_strip) {
            if (!p->is_dry)
                strip_draw(p, x, p->y - 4, room_of(p, t, i), strip);
            height = fmax(height, STRIP_HEIGHT - 4);
        } else
            height = fmax(height, paper_text(p, style, x, p->y, room_of(p, t, i), n_lines,
                                             align_of(&t->columns[i]), cells[i]));
        paper_untag(p, tag);
        x += width;
    }
    return height;
}

static double draw_row(struct paper *p, const struct report_table *t, size_t row)
{
    const bool is_total = t->is_total != NULL && t->is_total[row];
    paper_tag(p, "TR");
    const double height =
        draw_cells(p, t, &t->cells[row * t->n_columns], is_total ? PAPER_STRONG : PAPER_BODY,
                   CELL_LINES, "TD", t->strips != NULL ? &t->strips[row] : NULL);
    paper_untag(p, "TR");
    return height;
}

/* What a row takes, without drawing it. */
static double measure(struct paper *p, const struct report_table *t, size_t row)
{
    const bool was_dry = p->is_dry;
    p->is_dry = true;
    const double height = draw_row(p, t, row) + 6;
    p->is_dry = was_dry;
    return height;
}

static void heads(struct paper *p, const struct report_table *t)
{
    const char *cells[REPORT_COLUMNS_MAX];
    double height = 0, x = p->left;
    for (size_t i = 0; i < t->n_columns; i++) {
        cells[i] = t->columns[i].head;
        height =
            fmax(height, paper_text_height(p, PAPER_SMALL, room_of(p, t, i), HEAD_LINES, cells[i]));
    }
    paper_tag(p, "TR");
    for (size_t i = 0; i < t->n_columns; i++) { /* heads stand on one line at their feet */
        const double own =
            paper_text_height(p, PAPER_SMALL, room_of(p, t, i), HEAD_LINES, cells[i]);
        paper_tag(p, "TH");
        paper_text(p, PAPER_SMALL, x, p->y + height - own, room_of(p, t, i), HEAD_LINES,
                   align_of(&t->columns[i]), cells[i]);
        paper_untag(p, "TH");
        x += width_of(p, t, i);
    }
    paper_untag(p, "TR");
    p->y += height + 2;
    paper_rule(p, PAPER_INK, 0.9, p->left, p->y, p->right, p->y);
    p->y += 4;
}

void report_table(struct paper *p, const struct report_table *t)
{
    double first = 24;
    for (size_t i = 0; i < t->n_rows && i < 3; i++) /* no head alone, no table torn after a row */
        first += measure(p, t, i);
    (void)paper_need(p, first);
    paper_tag(p, "Table");
    heads(p, t);
    for (size_t i = 0; i < t->n_rows; i++) {
        const double height = measure(p, t, i);
        if (height > paper_room(p) && p->y > p->top) {
            paper_untag(p, "Table"); /* an element of the structure never lies on two pages */
            paper_page(p, false);
            paper_tag(p, "Table");
            heads(p, t);
        }
        (void)draw_row(p, t, i);
        p->y += height;
        paper_rule(p, PAPER_RULE, 0.5, p->left, p->y - 3, p->right, p->y - 3);
    }
    paper_untag(p, "Table");
    p->y += 4;
}

/* ---- pictures ------------------------------------------------------------------------------ */

static void draw_surface(struct paper *p, cairo_surface_t *picture)
{
    const double width = cairo_image_surface_get_width(picture),
                 height = cairo_image_surface_get_height(picture);
    const double scale = fmin((p->right - p->left) / width, (p->bottom - p->top - 8) / height);
    p->y += 4;
    (void)paper_need(p, height * scale);
    paper_tag(p, "Figure");
    cairo_save(p->cr);
    cairo_translate(p->cr, p->left, p->y);
    cairo_scale(p->cr, scale, scale);
    cairo_set_source_surface(p->cr, picture, 0, 0);
    /* cairo 1.16 loses count of the open elements when something is painted inside one, but not when a shape is filled. */
    cairo_rectangle(p->cr, 0, 0, width, height);
    cairo_fill(p->cr);
    cairo_restore(p->cr);
    paper_untag(p, "Figure");
    p->y += height * scale + 6;
}

void report_picture(struct paper *p, const struct report_block *b)
{
    cairo_surface_t *picture = paper_png(b->picture, b->picture_n);
    if (cairo_surface_status(picture) == CAIRO_STATUS_SUCCESS &&
        cairo_image_surface_get_width(picture) > 0 && cairo_image_surface_get_height(picture) > 0)
        draw_surface(p, picture);
    else
        paper_flow(p, PAPER_QUIET, p->left, p->right - p->left, "The picture cannot be read.");
    cairo_surface_destroy(picture);
}

/* ---- bars ---------------------------------------------------------------------------------- */

#define BAR_HEIGHT 20.0
#define KEY_HEIGHT 14.0

static void fill_bar(struct paper *p, enum report_ink ink, double x, double y, double width,
                     double height)
{
    if (width <= 0)
        return;
    switch (ink) {
    case REPORT_FULL:
        paper_fill(p, PAPER_ACT, x, y, width, height);
        break;
    case REPORT_HALF:
        paper_fill(p, PAPER_BAND, x, y, width, height);
        break;
    case REPORT_HATCH:
        paper_hatch(p, PAPER_GREY, x, y, width, height, 5);
        break;
    case REPORT_LINE:
        break;
    }
    paper_frame(p, PAPER_INK, 0.6, x, y, width, height);
}

static double most_of(const struct report_bars *b)
{
    double most = b->has_mark ? b->mark : 0, sum = 0;
    for (size_t i = 0; i < b->n; i++)
        sum += b->bars[i].value;
    if (b->has_interval)
        most = fmax(most, b->high);
    most = fmax(most, sum);
    return most > 0 ? most * 1.04 : 1;
}

/* The key: a square of each kind, its name and amount; as many a line as fit. */
static void draw_key(struct paper *p, const struct report_bars *b)
{
    double x = p->left;
    for (size_t i = 0; i < b->n; i++) {
        const double name = paper_line_width(p, PAPER_BODY, b->bars[i].name);
        const double need =
            13 + name + 4 + paper_line_width(p, PAPER_STRONG, b->bars[i].shown) + 14;
        if (x > p->left && x + need > p->right) {
            x = p->left;
            p->y += KEY_HEIGHT;
        }
        fill_bar(p, b->bars[i].ink, x, p->y + 2, 8, 8);
        paper_line(p, PAPER_BODY, x + 13, p->y, p->right - x - 13, PAPER_LEFT, b->bars[i].name);
        if (x + 17 + name < p->right)
            paper_line(p, PAPER_STRONG, x + 17 + name, p->y, p->right - x - 17 - name, PAPER_LEFT,
                       b->bars[i].shown);
        x += need;
    }
    p->y += KEY_HEIGHT + 2;
}

/* A text beside a place on the line, on whichever side it has room. */
static void say_at(struct paper *p, double x, double y, const char *text)
{
    const double width = fmin(paper_line_width(p, PAPER_STRONG, text), p->right - p->left);
    const double from = fmin(fmax(x - width / 2, p->left), p->right - width);
    paper_line(p, PAPER_STRONG, from, y, width + 1, PAPER_LEFT, text);
}

void report_bars(struct paper *p, const struct report_bars *b)
{
    const double scale = (p->right - p->left) / most_of(b);
    const double height =
        2 * KEY_HEIGHT + BAR_HEIGHT + (b->has_interval ? 34 : 0) + (b->has_mark ? 16 : 0) + 8;
    double x = p->left;
    (void)paper_need(p, height + KEY_HEIGHT);
    draw_key(p, b);
    if (b->has_mark) {
        say_at(p, p->left + b->mark * scale, p->y, b->mark_says);
        p->y += 14;
    }
    const double top = p->y;
    for (size_t i = 0; i < b->n; i++) {
        fill_bar(p, b->bars[i].ink, x, p->y, b->bars[i].value * scale, BAR_HEIGHT);
        x += b->bars[i].value * scale;
    }
    p->y += BAR_HEIGHT;
    if (b->has_interval) {
        const double y = p->y + 9, low = p->left + b->low * scale, high = p->left + b->high * scale;
        const double at = p->left + b->expected * scale;
        paper_rule(p, PAPER_INK, 1.4, low, y, high, y);
        paper_rule(p, PAPER_INK, 1.4, low, y - 3, low, y + 3);
        paper_rule(p, PAPER_INK, 1.4, high, y - 3, high, y + 3);
        const double xy[] = {at, y - 4.5, at + 4.5, y, at, y + 4.5, at - 4.5, y};
        paper_poly(p, PAPER_INK, xy, 4);
        say_at(p, at, y + 7, b->expected_says);
        p->y = y + 22;
    }
    if (b->has_mark)
        paper_rule(p, PAPER_STOP, 1.6, p->left + b->mark * scale, top - 2,
                   p->left + b->mark * scale, top + BAR_HEIGHT + (b->has_interval ? 16 : 3));
    p->y += 8;
}
