/* paper: owns the surface, the styles of text, the flow down the page and the plain shapes. */
#include "draw/paper.h"

#include <cairo-pdf.h>
#include <cairo-svg.h>
#include <math.h>
#include <pango/pangocairo.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const struct {
    double size;
    bool is_bold;
    uint32_t colour;
} styles[PAPER_STYLE_N] = {
    [PAPER_TITLE] = {20, true, PAPER_INK},  [PAPER_HEAD] = {13, true, PAPER_INK},
    [PAPER_STRONG] = {9, true, PAPER_INK},  [PAPER_BODY] = {9, false, PAPER_INK},
    [PAPER_QUIET] = {8, false, PAPER_GREY}, [PAPER_SMALL] = {6.5, false, PAPER_GREY},
    [PAPER_FIGURE] = {11, true, PAPER_INK}, [PAPER_HAZARD] = {9, true, PAPER_STOP},
    [PAPER_ACTION] = {9, true, PAPER_ACT},  [PAPER_NUMBER] = {30, true, PAPER_ACT},
    [PAPER_DO] = {10.5, false, PAPER_INK},
};

/* Printers leave some 5 mm of every edge blank; the foot stands below the text, within the margin. */
static const double margin = 15 * PAPER_MM, foot_at = 12 * PAPER_MM;

/* ---- the surface ------------------------------------------------------------------------------ */

static cairo_status_t take(void *me, const unsigned char *bytes, unsigned n)
{
    struct paper *p = me;
    text_add(&p->out, (const char *)bytes, n);
    return p->out.is_broken ? CAIRO_STATUS_NO_MEMORY : CAIRO_STATUS_SUCCESS;
}

static enum err begin(struct paper *p)
{
    p->cr = cairo_create(p->surface);
    p->layout = pango_cairo_create_layout(p->cr);
    if (p->layout == NULL || cairo_status(p->cr) != CAIRO_STATUS_SUCCESS)
        return ERR_MEMORY;
    /* Unhinted, so that lines break in the same places on every device. */
    cairo_font_options_t *options = cairo_font_options_create();
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    pango_cairo_context_set_font_options(pango_layout_get_context(p->layout), options);
    cairo_font_options_destroy(options);
    pango_cairo_context_set_resolution(pango_layout_get_context(p->layout), 72);
    pango_layout_set_wrap(p->layout, PANGO_WRAP_WORD_CHAR);
    return ERR_OK;
}

static void lay(struct paper *p, bool is_landscape)
{
    const double a = p->size == PAPER_A4 ? 210 * PAPER_MM : 8.5 * 72;
    const double b = p->size == PAPER_A4 ? 297 * PAPER_MM : 11.0 * 72;
    p->width = is_landscape ? b : a;
    p->height = is_landscape ? a : b;
    p->left = p->top = margin;
    p->right = p->width - margin;
    p->bottom = p->height - foot_at - 4 * PAPER_MM;
}

enum err paper_open(struct paper *p, enum paper_size size)
{
    *p = (struct paper){.kind = PAPER_PDF, .size = size};
    lay(p, false);
    p->surface = cairo_pdf_surface_create_for_stream(take, p, p->width, p->height);
    cairo_pdf_surface_restrict_to_version(p->surface, CAIRO_PDF_VERSION_1_5);
    return begin(p);
}

enum err paper_open_svg(struct paper *p, double width, double height)
{
    *p = (struct paper){.kind = PAPER_SVG, .width = width, .height = height};
    p->surface = cairo_svg_surface_create_for_stream(take, p, width, height);
    p->is_page_open = true;
    p->right = width;
    p->bottom = height;
    return begin(p);
}

/* No page is open for the foot's sake: cairo ends the only one with the file. */
enum err paper_open_single(struct paper *p, double width, double height)
{
    *p = (struct paper){
        .kind = PAPER_PDF, .width = width, .height = height, .right = width, .bottom = height};
    p->surface = cairo_pdf_surface_create_for_stream(take, p, width, height);
    cairo_pdf_surface_restrict_to_version(p->surface, CAIRO_PDF_VERSION_1_5);
    return begin(p);
}

enum err paper_open_png(struct paper *p, double width, double height, int pixels)
{
    *p = (struct paper){
        .kind = PAPER_PNG, .width = width, .height = height, .right = width, .bottom = height};
    p->surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)ceil(width * pixels),
                                            (int)ceil(height * pixels));
    cairo_surface_set_device_scale(p->surface, pixels, pixels);
    return begin(p);
}

static void blank(struct paper *p)
{
    cairo_set_source_rgb(p->cr, 1, 1, 1);
    cairo_paint(p->cr);
}

enum err paper_open_page(struct paper *p, enum paper_size size, int page, double pixels)
{
    *p = (struct paper){.kind = PAPER_PNG, .size = size, .wanted = page};
    lay(p, false);
    p->surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)ceil(p->width * pixels),
                                            (int)ceil(p->height * pixels));
    cairo_surface_set_device_scale(p->surface, pixels, pixels);
    const enum err err = begin(p);
    if (err == ERR_OK)
        blank(p);
    return err;
}

static void foot(struct paper *p)
{
    char page[48];
    const double y = p->height - foot_at, gap = 12;
    paper_rule(p, PAPER_RULE, 0.5, p->left, y - 3, p->right, y - 3);
    (void)snprintf(page, sizeof page, "%d / %d", p->page, p->n_pages);
    const double n_width = paper_line_width(p, PAPER_SMALL, page) + gap;
    const double most = (p->right - p->left - n_width) / 2;
    paper_line(p, PAPER_SMALL, p->right - n_width, y, n_width, PAPER_RIGHT, page);
    const double left = paper_line(p, PAPER_SMALL, p->left, y, most, PAPER_LEFT, p->run_left) + gap;
    paper_line(p, PAPER_SMALL, p->left + left, y, p->right - p->left - left - n_width, PAPER_LEFT,
               p->run_right);
}

static void end_page(struct paper *p)
{
    if (!p->is_page_open)
        return;
    if (!p->has_no_foot)
        foot(p);
    if (p->kind == PAPER_PDF) {
        cairo_show_page(p->cr);
    } else { /* one surface for all pages: the wanted one is written out as it stands */
        if (p->page == p->wanted &&
            cairo_surface_write_to_png_stream(p->surface, take, p) != CAIRO_STATUS_SUCCESS)
            p->is_broken = true;
        blank(p);
    }
    p->is_page_open = false;
}

enum err paper_close(struct paper *p)
{
    if (p->kind == PAPER_PDF || p->wanted > 0)
        end_page(p);
    if (p->layout != NULL)
        g_object_unref(p->layout);
    const bool is_good = p->cr != NULL && cairo_status(p->cr) == CAIRO_STATUS_SUCCESS;
    cairo_destroy(p->cr);
    if (is_good && p->kind == PAPER_PNG && p->wanted == 0 &&
        cairo_surface_write_to_png_stream(p->surface, take, p) != CAIRO_STATUS_SUCCESS)
        p->is_broken = true;
    cairo_surface_finish(p->surface);
    const bool is_whole = cairo_surface_status(p->surface) == CAIRO_STATUS_SUCCESS;
    cairo_surface_destroy(p->surface);
    p->layout = NULL;
    p->cr = NULL;
    p->surface = NULL;
    return is_good && is_whole && !p->out.is_broken && !p->is_broken ? ERR_OK : ERR_MEMORY;
}

void paper_page(struct paper *p, bool is_landscape)
{
    end_page(p);
    lay(p, is_landscape);
    if (p->kind == PAPER_PDF)
        cairo_pdf_surface_set_size(p->surface, p->width, p->height);
    p->is_page_open = true;
    p->page++;
    p->y = p->top;
}

double paper_room(const struct paper *p)
{
    return p->bottom - p->y;
}

bool paper_need(struct paper *p, double height)
{
    if (p->is_dry || p->is_unbroken || height <= paper_room(p) || p->y <= p->top)
        return false;
    if (p->turn != NULL)
        p->turn(p->turn_me);
    else
        paper_page(p, false);
    return true;
}

void paper_shrink(struct paper *p, double scale, double least_pt, double left, double top,
                  double right, double bottom)
{
    cairo_save(p->cr);
    cairo_scale(p->cr, scale, scale);
    p->scale = scale;
    p->least_pt = least_pt;
    p->left = left / scale;
    p->top = p->y = top / scale;
    p->right = right / scale;
    p->bottom = bottom / scale;
}

void paper_unshrink(struct paper *p)
{
    cairo_restore(p->cr);
    p->scale = p->least_pt = 0;
}

/* ---- structure -------------------------------------------------------------------------------- */

void paper_tag(struct paper *p, const char *name)
{
    if (!p->is_dry && p->kind == PAPER_PDF)
        cairo_tag_begin(p->cr, name, NULL);
}

void paper_untag(struct paper *p, const char *name)
{
    if (!p->is_dry && p->kind == PAPER_PDF)
        cairo_tag_end(p->cr, name);
}

void paper_mark(struct paper *p, const char *text, const char *name)
{
    char attributes[80];
    if (p->is_dry || p->kind != PAPER_PDF)
        return;
    (void)snprintf(attributes, sizeof attributes, "name='%.60s'", name);
    cairo_tag_begin(p->cr, CAIRO_TAG_DEST, attributes);
    cairo_tag_end(p->cr, CAIRO_TAG_DEST);
    (void)snprintf(attributes, sizeof attributes, "dest='%.60s'", name);
    cairo_pdf_surface_add_outline(p->surface, CAIRO_PDF_OUTLINE_ROOT, text, attributes, 0);
}

/* Cairo takes the address as it is into its own list of attributes and into the file: whatever could end either is not linked. The
 * code says it all the same. */
static bool is_linkable(const char *uri)
{
    if (strlen(uri) > 500)
        return false;
    for (; *uri != '\0'; uri++)
        if (*uri <= ' ' || *uri > '~' || strchr("'\\()<>", *uri) != NULL)
            return false;
    return true;
}

void paper_link(struct paper *p, const char *uri, double x, double y, double width, double height)
{
    char attributes[700];
    if (p->is_dry || p->kind != PAPER_PDF || !is_linkable(uri))
        return;
    (void)snprintf(attributes, sizeof attributes, "uri='%s' rect=[%.2f %.2f %.2f %.2f]", uri, x, y,
                   width, height);
    cairo_tag_begin(p->cr, CAIRO_TAG_LINK, attributes);
    cairo_tag_end(p->cr, CAIRO_TAG_LINK);
}

/* ---- text ------------------------------------------------------------------------------------- */

/* As drawn: a small style stays legible on paper however much the rest shrinks. */
static double letters(const struct paper *p, enum paper_style style)
{
    const double least = p->scale > 0 ? p->least_pt / p->scale : 0;
    return fmax(styles[style].size, least);
}

/* Between lines, of the size of the letters. What shrinks gives up its air first: DejaVu's own lines are 1.16 of its size. */
static double leading(const struct paper *p)
{
    const double least = 0.78, most = 0.12;
    if (p->scale <= 0 || p->scale >= 1)
        return most;
    return most * fmax(0, (p->scale - least) / (1 - least));
}

static PangoLayout *laid(struct paper *p, enum paper_style style, double width, int n_lines,
                         const char *text)
{
    PangoFontDescription *font = pango_font_description_new();
    pango_font_description_set_family_static(font, "DejaVu Sans, sans");
    pango_font_description_set_absolute_size(font, letters(p, style) * PANGO_SCALE);
    pango_font_description_set_weight(font, styles[style].is_bold ? PANGO_WEIGHT_BOLD
                                                                  : PANGO_WEIGHT_NORMAL);
    pango_layout_set_font_description(p->layout, font);
    pango_font_description_free(font);
    pango_layout_set_text(p->layout, text, -1);
    pango_layout_set_width(p->layout, width > 0 ? (int)(width * PANGO_SCALE) : -1);
    pango_layout_set_height(p->layout, n_lines > 0 ? -n_lines : -1000000);
    pango_layout_set_ellipsize(p->layout, n_lines > 0 ? PANGO_ELLIPSIZE_END : PANGO_ELLIPSIZE_NONE);
    pango_layout_set_alignment(p->layout, PANGO_ALIGN_LEFT);
    pango_layout_set_spacing(p->layout, (int)(letters(p, style) * leading(p) * PANGO_SCALE));
    pango_layout_set_single_paragraph_mode(p->layout, false);
    return p->layout;
}

static double height_of(PangoLayout *layout)
{
    int width = 0, height = 0;
    pango_layout_get_size(layout, &width, &height);
    return (double)height / PANGO_SCALE;
}

double paper_text_height(struct paper *p, enum paper_style style, double width, int n_lines,
                         const char *text)
{
    return *text == '\0' ? 0 : height_of(laid(p, style, width, n_lines, text));
}

double paper_text(struct paper *p, enum paper_style style, double x, double y, double width,
                  int n_lines, enum paper_align align, const char *text)
{
    if (*text == '\0' || width <= 0)
        return 0;
    PangoLayout *layout = laid(p, style, width, n_lines, text);
    pango_layout_set_alignment(layout, align == PAPER_RIGHT    ? PANGO_ALIGN_RIGHT
                                       : align == PAPER_CENTRE ? PANGO_ALIGN_CENTER
                                                               : PANGO_ALIGN_LEFT);
    const double height = height_of(layout);
    if (!p->is_dry) {
        paper_ink(p, styles[style].colour);
        cairo_move_to(p->cr, x, y);
        pango_cairo_show_layout(p->cr, layout);
    }
    return height;
}

double paper_line(struct paper *p, enum paper_style style, double x, double y, double width,
                  enum paper_align align, const char *text)
{
    int n = 0, height = 0;
    if (*text == '\0' || width <= 0)
        return 0;
    PangoLayout *layout = laid(p, style, width, 1, text);
    pango_layout_set_single_paragraph_mode(layout, true);
    pango_layout_set_alignment(layout, align == PAPER_RIGHT    ? PANGO_ALIGN_RIGHT
                                       : align == PAPER_CENTRE ? PANGO_ALIGN_CENTER
                                                               : PANGO_ALIGN_LEFT);
    pango_layout_get_size(layout, &n, &height);
    if (!p->is_dry) {
        paper_ink(p, styles[style].colour);
        cairo_move_to(p->cr, x, y);
        pango_cairo_show_layout(p->cr, layout);
    }
    return (double)n / PANGO_SCALE;
}

double paper_line_width(struct paper *p, enum paper_style style, const char *text)
{
    int n = 0, height = 0;
    pango_layout_get_size(laid(p, style, 0, 0, text), &n, &height);
    return (double)n / PANGO_SCALE + 0.5;
}

double paper_line_height(struct paper *p, enum paper_style style)
{
    return height_of(laid(p, style, 0, 0, "Xg"));
}

/* ---- flow ------------------------------------------------------------------------------------- */

struct slice {
    int first, n_lines;
    double top, height; /* within the whole text */
};

/* The lines from `first` on that fit into `room`; at least one, so that the flow always goes on. */
static struct slice slice(PangoLayout *layout, int first, double room)
{
    PangoLayoutIter *iter = pango_layout_get_iter(layout);
    struct slice s = {.first = first};
    int i = 0, y0 = 0, y1 = 0;
    do {
        if (i >= first) {
            pango_layout_iter_get_line_yrange(iter, &y0, &y1);
            if (s.n_lines == 0)
                s.top = (double)y0 / PANGO_SCALE;
            if (s.n_lines > 0 && (double)y1 / PANGO_SCALE - s.top > room)
                break;
            s.height = (double)y1 / PANGO_SCALE - s.top;
            s.n_lines++;
        }
        i++;
    } while (pango_layout_iter_next_line(iter));
    pango_layout_iter_free(iter);
    return s;
}

static void show_slice(struct paper *p, enum paper_style style, PangoLayout *layout,
                       const struct slice *s, double x, double y)
{
    if (p->is_dry)
        return;
    PangoLayoutIter *iter = pango_layout_get_iter(layout);
    int i = 0;
    paper_ink(p, styles[style].colour);
    do {
        if (i >= s->first && i < s->first + s->n_lines) {
            const double base = (double)pango_layout_iter_get_baseline(iter) / PANGO_SCALE;
            cairo_move_to(p->cr, x, y + base - s->top);
            pango_cairo_show_layout_line(p->cr, pango_layout_iter_get_line_readonly(iter));
        }
        i++;
    } while (pango_layout_iter_next_line(iter));
    pango_layout_iter_free(iter);
}

static bool is_endless(const struct paper *p)
{
    return p->is_dry || p->is_unbroken;
}

void paper_flow(struct paper *p, enum paper_style style, double x, double width, const char *text)
{
    if (*text == '\0')
        return;
    const double line = paper_line_height(p, style);
    for (int first = 0, n = 1; first < n;) {
        paper_need(p, line);
        /* laid out anew for each page: the foot of the page before used the same layout */
        PangoLayout *layout = laid(p, style, width, 0, text);
        n = pango_layout_get_line_count(layout);
        const struct slice s = slice(layout, first, is_endless(p) ? 1e9 : paper_room(p));
        paper_tag(p, "P");
        show_slice(p, style, layout, &s, x, p->y);
        paper_untag(p, "P");
        p->y += s.height;
        first += s.n_lines;
    }
}

void paper_boxed(struct paper *p, double x, double width, const char *word, const char *text)
{
    enum { PAD = 6, GAP = 2 };
    const double natural = paper_line_width(p, PAPER_HAZARD, word);
    const bool is_above = natural > width / 3; /* else beside the text */
    const double word_width = is_above ? width - 2 * PAD : natural;
    const double head = paper_line_height(p, PAPER_HAZARD), lift = is_above ? head + GAP : 0;
    const double body_x = x + PAD + (is_above ? 0 : word_width + PAD * 1.5);
    const double body_width = x + width - PAD - body_x;
    for (int first = 0, n = 1; first < n;) {
        paper_need(p, head + lift + paper_line_height(p, PAPER_BODY) + 2 * PAD + GAP);
        PangoLayout *layout = laid(p, PAPER_BODY, body_width, 0, text);
        n = pango_layout_get_line_count(layout);
        const struct slice s =
            slice(layout, first, is_endless(p) ? 1e9 : paper_room(p) - 2 * PAD - lift);
        const double inner = fmax(s.height + lift, head), height = inner + 2 * PAD;
        paper_tag(p, "P");
        show_slice(p, PAPER_BODY, layout, &s, body_x, p->y + PAD + lift);
        paper_frame(p, PAPER_STOP, 1.1, x, p->y, width, height);
        paper_frame(p, PAPER_STOP, 0.5, x + GAP, p->y + GAP, width - 2 * GAP, height - 2 * GAP);
        paper_line(p, PAPER_HAZARD, x + PAD, p->y + PAD, word_width, PAPER_LEFT, word);
        paper_untag(p, "P");
        p->y += height;
        first += s.n_lines;
    }
}

/* ---- shapes ----------------------------------------------------------------------------------- */

void paper_ink(struct paper *p, uint32_t colour)
{
    cairo_set_source_rgb(p->cr, (double)(colour >> 16 & 0xffU) / 255,
                         (double)(colour >> 8 & 0xffU) / 255, (double)(colour & 0xffU) / 255);
}

void paper_rule(struct paper *p, uint32_t colour, double thick, double x0, double y0, double x1,
                double y1)
{
    if (p->is_dry)
        return;
    paper_ink(p, colour);
    cairo_set_line_width(p->cr, thick);
    cairo_move_to(p->cr, x0, y0);
    cairo_line_to(p->cr, x1, y1);
    cairo_stroke(p->cr);
}

void paper_frame(struct paper *p, uint32_t colour, double thick, double x, double y, double width,
                 double height)
{
    if (p->is_dry)
        return;
    paper_ink(p, colour);
    cairo_set_line_width(p->cr, thick);
    cairo_rectangle(p->cr, x, y, width, height);
    cairo_stroke(p->cr);
}

void paper_fill(struct paper *p, uint32_t colour, double x, double y, double width, double height)
{
    if (p->is_dry)
        return;
    paper_ink(p, colour);
    cairo_rectangle(p->cr, x, y, width, height);
    cairo_fill(p->cr);
}

void paper_hatch(struct paper *p, uint32_t colour, double x, double y, double width, double height,
                 double step)
{
    if (p->is_dry || width <= 0 || height <= 0 || step <= 0)
        return;
    cairo_save(p->cr);
    cairo_rectangle(p->cr, x, y, width, height);
    cairo_clip(p->cr);
    paper_ink(p, colour);
    cairo_set_line_width(p->cr, 0.6);
    const int n = (int)fmin((width + height) / step + 1, 2000);
    for (int i = 0; i <= n; i++) {
        cairo_move_to(p->cr, x + i * step, y);
        cairo_line_to(p->cr, x + i * step - height, y + height);
    }
    cairo_stroke(p->cr);
    cairo_restore(p->cr);
}

void paper_tick_box(struct paper *p, double x, double y, double side)
{
    paper_frame(p, PAPER_INK, 0.8, x, y, side, side);
}

void paper_poly(struct paper *p, uint32_t colour, const double *xy, size_t n)
{
    if (p->is_dry)
        return;
    paper_ink(p, colour);
    cairo_new_path(p->cr); /* a text drawn before has left its place */
    for (size_t i = 0; i < n; i++)
        cairo_line_to(p->cr, xy[2 * i], xy[2 * i + 1]);
    cairo_close_path(p->cr);
    cairo_fill(p->cr);
}

/* ---- pictures ------------------------------------------------------------------------------- */

struct bytes {
    const char *at;
    size_t n;
};

static cairo_status_t give(void *me, unsigned char *to, unsigned n)
{
    struct bytes *b = me;
    if (n > b->n)
        return CAIRO_STATUS_READ_ERROR;
    memcpy(to, b->at, n);
    b->at += n;
    b->n -= n;
    return CAIRO_STATUS_SUCCESS;
}

cairo_surface_t *paper_png(const char *bytes, size_t n)
{
    struct bytes b = {bytes, n};
    return cairo_image_surface_create_from_png_stream(give, &b);
}
