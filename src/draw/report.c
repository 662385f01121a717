/* report: owns the first page, the sections, and the flow of blocks down the pages. */
#include "draw/report.h"

#include "core/date.h"
#include "draw/fonts.h"
#include "draw/report_parts.h"

#include <cairo-pdf.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#define GAP    5.0
#define HARDLY 0.45

/* ---- texts --------------------------------------------------------------------------------- */

/* A text that fits on a page stays on one. */
static void flow(struct paper *p, enum paper_style style, double indent, const char *text)
{
    const double width = p->right - p->left - indent;
    const double height = paper_text_height(p, style, width, 0, text);
    if (height <= p->bottom - p->top)
        (void)paper_need(p, height);
    paper_flow(p, style, p->left + indent, width, text);
}

static void draw_point(struct paper *p, const char *text)
{
    const double width = p->right - p->left - 12;
    const double height = paper_text_height(p, PAPER_BODY, width, 0, text);
    if (height <= p->bottom - p->top)
        (void)paper_need(p, height);
    paper_fill(p, PAPER_ACT, p->left + 2, p->y + 4, 4, 4);
    flow(p, PAPER_BODY, 12, text);
    p->y += 3;
}

static void draw_heading(struct paper *p, const char *text)
{
    p->y += 6;
    (void)paper_need(p, 60); /* with some of what follows */
    paper_tag(p, "H3");
    p->y += paper_text(p, PAPER_FIGURE, p->left, p->y, p->right - p->left, 2, PAPER_LEFT, text);
    paper_untag(p, "H3");
    p->y += 3;
}

/* ---- blocks -------------------------------------------------------------------------------- */

static void draw_chart(struct paper *p, const struct report_block *b)
{
    const double width = p->right - p->left;
    const double most = p->bottom - p->top;
    const double height = fmin(b->height > 0 ? b->height : chart_height(b->chart, width), most);
    p->y += 4;
    (void)paper_need(p, height);
    paper_tag(p, "Figure");
    chart_draw(p, b->chart, p->left, p->y, width, fmin(height, paper_room(p)));
    paper_untag(p, "Figure");
    p->y += height + 6;
}

static void draw_block(struct paper *p, const struct report_block *b)
{
    switch (b->kind) {
    case REPORT_SENTENCE:
        flow(p, PAPER_FIGURE, 0, b->text);
        p->y += GAP;
        break;
    case REPORT_TEXT:
        flow(p, PAPER_BODY, 0, b->text);
        p->y += GAP;
        break;
    case REPORT_POINT:
        draw_point(p, b->text);
        break;
    case REPORT_HEADING:
        draw_heading(p, b->text);
        break;
    case REPORT_SMALL:
        flow(p, PAPER_QUIET, 0, b->text);
        p->y += GAP + 3;
        break;
    case REPORT_NOTICE:
        paper_boxed(p, p->left, p->right - p->left, b->word, b->text);
        p->y += GAP + 3;
        break;
    case REPORT_TILES:
        report_tiles(p, b);
        break;
    case REPORT_TABLE:
        report_table(p, &b->table);
        break;
    case REPORT_BARS:
        report_bars(p, &b->bars);
        break;
    case REPORT_CHART:
        draw_chart(p, b);
        break;
    case REPORT_PICTURE:
        report_picture(p, b);
        break;
    }
}

/* Room for the head and what comes first, so that no head stands alone at the foot of a page. */
static double keep_of(struct paper *p, const struct report_section *s)
{
    double keep = 40;
    for (size_t i = 0; i < s->n && i < 3; i++) {
        if (s->blocks[i].kind == REPORT_CHART) {
            keep += s->blocks[i].height > 0 ? s->blocks[i].height
                                            : chart_height(s->blocks[i].chart, p->right - p->left);
            break;
        }
        keep += 26;
    }
    return fmin(keep, p->bottom - p->top - 30);
}

static void draw_section(struct paper *p, const struct report_section *s)
{
    /* A page that is hardly begun is gone on with, so that a report of little has few pages. */
    if (s->is_on_new_page && p->y > p->top + HARDLY * (p->bottom - p->top))
        paper_page(p, false);
    p->y += p->y > p->top ? 16 : 0;
    (void)paper_need(p, keep_of(p, s));
    paper_mark(p, s->title, s->id);
    paper_tag(p, "H2");
    const double height =
        paper_text(p, PAPER_HEAD, p->left, p->y, p->right - p->left, 2, PAPER_LEFT, s->title);
    paper_untag(p, "H2");
    p->y += height + 2;
    paper_rule(p, PAPER_INK, 1.2, p->left, p->y, p->right, p->y);
    p->y += 8;
    for (size_t i = 0; i < s->n; i++)
        draw_block(p, &s->blocks[i]);
}

/* ---- the first page ------------------------------------------------------------------------ */

static void draw_verdict(struct paper *p, const struct report *r)
{
    static const uint32_t colours[] = {
        [REPORT_GOOD] = PAPER_ACT, [REPORT_BAD] = PAPER_STOP, [REPORT_UNSURE] = PAPER_INK};
    const double width = p->right - p->left, inner = width - 28;
    const double text = paper_text_height(p, PAPER_HEAD, inner, 6, r->verdict);
    const double height = text + 20;
    paper_fill(p, PAPER_WARM, p->left, p->y, width, height);
    paper_fill(p, colours[r->tone], p->left, p->y, 5, height);
    paper_tag(p, "P");
    paper_text(p, PAPER_HEAD, p->left + 17, p->y + 10, inner, 6, PAPER_LEFT, r->verdict);
    paper_untag(p, "P");
    p->y += height + 12;
}

static void draw_front(struct paper *p, const struct report *r)
{
    const double width = p->right - p->left;
    paper_page(p, false);
    paper_mark(p, r->title, "report");
    paper_tag(p, "P");
    p->y += paper_text(p, PAPER_ACTION, p->left, p->y, width, 1, PAPER_LEFT, r->over) + 2;
    paper_untag(p, "P");
    paper_tag(p, "H1");
    p->y += paper_text(p, PAPER_TITLE, p->left, p->y, width, 3, PAPER_LEFT, r->title) + 3;
    paper_untag(p, "H1");
    paper_tag(p, "P");
    p->y += paper_text(p, PAPER_QUIET, p->left, p->y, width, 3, PAPER_LEFT, r->subtitle) + 12;
    paper_untag(p, "P");
    draw_verdict(p, r);
}

/* ---- the whole ----------------------------------------------------------------------------- */

static void describe(struct paper *p, const struct report *r)
{
    char date[DATE_SHOW_SIZE], when[40];
    const int64_t day = r->made_s / 86400, second = r->made_s % 86400;
    cairo_surface_t *surface = p->surface;
    date_show((int32_t)day, date);
    (void)snprintf(when, sizeof when, "%sT%02d:%02d:%02dZ", date, (int)(second / 3600),
                   (int)(second / 60 % 60), (int)(second % 60));
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_TITLE, r->title);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_SUBJECT, r->verdict);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_AUTHOR, r->author);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATOR,
                                   "Mendwright " MENDWRIGHT_VERSION);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_KEYWORDS, r->keywords);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATE_DATE, when);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_MOD_DATE, when);
}

static void draw_all(struct paper *p, const struct report *r)
{
    draw_front(p, r);
    for (size_t i = 0; r->n > 0 && i < r->sections[0].n; i++)
        draw_block(p, &r->sections[0].blocks[i]);
    for (size_t i = 1; i < r->n; i++)
        draw_section(p, &r->sections[i]);
}

/* One pass; *pages in: how many there will be (0: not known), out: how many there are. */
static enum err pass(const struct report *r, int *pages, struct text *out)
{
    struct paper p = {0};
    enum err e = paper_open(&p, r->size);
    p.n_pages = *pages;
    p.run_left = r->foot_left;
    p.run_right = r->foot_right;
    if (e == ERR_OK) {
        describe(&p, r);
        draw_all(&p, r);
    }
    const enum err closed = paper_close(&p);
    e = e != ERR_OK ? e : closed;
    *pages = p.page;
    if (e == ERR_OK && out != NULL)
        text_add(out, p.out.data, p.out.size);
    text_done(&p.out);
    return e == ERR_OK && out != NULL && out->is_broken ? ERR_MEMORY : e;
}

static enum err check(const struct report *r, struct fault *f)
{
    for (size_t i = 0; i < r->n; i++)
        for (size_t k = 0; k < r->sections[i].n; k++) {
            const struct report_block *b = &r->sections[i].blocks[k];
            if (b->n_tiles > REPORT_TILES_MAX || b->table.n_columns > REPORT_COLUMNS_MAX)
                return fault_set(f, ERR_LIMIT, "more tiles or columns than a page can hold");
        }
    if (!fonts_any())
        return fault_set(f, ERR_UNKNOWN,
                         "found no font on this machine; expected any that fontconfig "
                         "finds, such as Debian's fonts-dejavu-core");
    return ERR_OK;
}

enum err report_make(const struct report *report, struct text *out, int *ret_pages,
                     struct fault *reterr)
{
    int pages = 0;
    enum err e = check(report, reterr);
    if (e != ERR_OK)
        return e;
    e = pass(report, &pages, NULL);
    if (e == ERR_OK)
        e = pass(report, &pages, out);
    if (e != ERR_OK)
        return fault_set(reterr, e, "memory ran out while drawing");
    *ret_pages = pages;
    return ERR_OK;
}
