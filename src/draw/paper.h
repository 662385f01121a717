/* paper: a page, the few looks that texts on it have (doc/looks.md), and the flow of texts down the page. One place where cairo's
 * surfaces and pango's layouts are handled; the sheet and the plots say what stands where.
 *
 * All places are in points (1/72 in), the origin at the upper left corner, y downwards. */
#ifndef DRAW_PAPER_H
#define DRAW_PAPER_H

#include "base/text.h"
#include "core/err.h"
#include "draw/size.h"

#include <cairo.h>
#include <pango/pango.h>
#include <stdbool.h>
#include <stdint.h>

#define PAPER_MM (72.0 / 25.4)

enum paper_kind { PAPER_PDF, PAPER_SVG, PAPER_PNG };

/* Colours, 0xRRGGBB: ink on warm paper. The printed sheet leaves the paper white. */
enum {
    PAPER_INK = 0x22262a,
    PAPER_GREY = 0x5d5a50,
    PAPER_RULE = 0xc9c1ad,
    PAPER_BAND = 0xd9d2c0,
    PAPER_WARM = 0xf6f2e8,
    PAPER_CARD = 0xfffdf6,
    PAPER_ACT = 0x0f5b5e,
    PAPER_STOP = 0xb4521c
};

enum paper_style {
    PAPER_TITLE,  /* of the whole: 20 pt bold */
    PAPER_HEAD,   /* of a section: 13 pt bold */
    PAPER_STRONG, /* 9 pt bold */
    PAPER_BODY,   /* 9 pt */
    PAPER_QUIET,  /* 8 pt grey */
    PAPER_SMALL,  /* 7 pt grey */
    PAPER_FIGURE, /* 11 pt bold, for figures that are read off */
    PAPER_HAZARD, /* 9 pt bold, burnt orange */
    PAPER_ACTION, /* 9 pt bold, the accent */
    PAPER_NUMBER, /* 30 pt bold, the accent: what is seen from afar */
    PAPER_DO,     /* 10.5 pt: what is done */
    PAPER_STYLE_N
};

enum paper_align { PAPER_LEFT, PAPER_RIGHT, PAPER_CENTRE };

struct paper {
    enum paper_kind kind;
    cairo_surface_t *surface;
    cairo_t *cr;
    PangoLayout *layout;                            /* used again for every text */
    struct text out;                                /* the file's bytes so far */
    double width, height, left, right, top, bottom; /* of the page as it lies */
    double y;                                       /* where the next thing goes */
    int page, n_pages; /* this one, from 1; in all, 0 in the first pass when it is not known */
    int wanted;        /* paper_open_page: this page becomes the PNG; else 0 */
    bool is_dry;       /* nothing is drawn or broken: only y moves */
    bool is_broken;    /* memory ran out */
    enum paper_size size;
    bool is_page_open;
    const char *run_left, *run_right; /* what stands at the foot of every page; borrowed */
    int depth;                        /* open tags */
    double scale, least_pt;           /* of the letters, set by paper_shrink; 0: 1 and none */
    bool is_unbroken; /* all of it on this page: nothing breaks, whoever draws has measured */
    bool has_no_foot;
    void (*turn)(void *me); /* what follows where a page would: the next card. NULL: a page */
    void *turn_me;
};

/* paper_open: *p zeroed or not; a PDF of this size, pages not yet begun; or an SVG of width x height points. paper_close: ends
 * the file; p->out holds it whole. The caller frees p->out by text_done. Error: ERR_MEMORY. */
MUST_USE enum err paper_open(struct paper *p, enum paper_size size);
MUST_USE enum err paper_open_svg(struct paper *p, double width, double height);
/* paper_open_single: a PDF of one page of this size, without margins or foot. paper_open_png: pixels a point each way. */
MUST_USE enum err paper_open_single(struct paper *p, double width, double height);
MUST_USE enum err paper_open_png(struct paper *p, double width, double height, int pixels);
/* paper_open_page: of the pages that are drawn, the one with this number (from 1) alone, as a PNG; an upright one. */
MUST_USE enum err paper_open_page(struct paper *p, enum paper_size size, int page, double pixels);
MUST_USE enum err paper_close(struct paper *p);

/* paper_page: ends the page that is open, with its foot, and begins the next. */
void paper_page(struct paper *p, bool is_landscape);
/* paper_need: a new page (upright) unless this much room is left; true when the page is new. */
bool paper_need(struct paper *p, double height);
double paper_room(const struct paper *p); /* from y to the bottom */
/* paper_shrink: all that is drawn from here on `scale` times as large, within this box of the page (points of the page; left, right,
 * top, bottom and y are set to it, in points of what is drawn); but no letters smaller than least_pt on paper. paper_unshrink: as before. */
void paper_shrink(struct paper *p, double scale, double least_pt, double left, double top,
                  double right, double bottom);
void paper_unshrink(struct paper *p);

/* ---- structure (PDF only) --------------------------------------------------------------------- */

/* paper_tag, paper_untag: an element of the document's structure: "H1", "P", "Table", "TR", "TD", "L", "LI". Balanced by the
 * caller; never across pages. paper_mark: an entry of the table of contents that leads here. */
void paper_tag(struct paper *p, const char *name);
void paper_untag(struct paper *p, const char *name);
void paper_mark(struct paper *p, const char *text, const char *name);
/* paper_link: the rectangle leads to the address. */
void paper_link(struct paper *p, const char *uri, double x, double y, double width, double height);

/* paper_png: a picture of bytes[0..n), the caller's to destroy; one that cannot be read has a status that says so. */
cairo_surface_t *paper_png(const char *bytes, size_t n);

/* ---- text ------------------------------------------------------------------------------------- */

/* paper_text: text wrapped to width, its top left at x, y; at most n_lines (0: any), then an ellipsis. Returns its height. */
double paper_text(struct paper *p, enum paper_style style, double x, double y, double width,
                  int n_lines, enum paper_align align, const char *text);
double paper_text_height(struct paper *p, enum paper_style style, double width, int n_lines,
                         const char *text);
/* paper_line: one line, an ellipsis where it is too wide; returns the width that it takes. */
double paper_line(struct paper *p, enum paper_style style, double x, double y, double width,
                  enum paper_align align, const char *text);
double paper_line_width(struct paper *p, enum paper_style style, const char *text);
double paper_line_height(struct paper *p, enum paper_style style);

/* paper_flow: text from p->y on, over as many pages as it takes; p->y is left below it. */
void paper_flow(struct paper *p, enum paper_style style, double x, double width, const char *text);
/* paper_boxed: the same in a box of a double rule, a word standing over it: a caution. On every page that it reaches the box is
 * closed and the word stands again. */
void paper_boxed(struct paper *p, double x, double width, const char *word, const char *text);

/* ---- lines and shapes ------------------------------------------------------------------------- */

void paper_ink(struct paper *p, uint32_t colour);
void paper_rule(struct paper *p, uint32_t colour, double thick, double x0, double y0, double x1,
                double y1);
void paper_frame(struct paper *p, uint32_t colour, double thick, double x, double y, double width,
                 double height);
void paper_fill(struct paper *p, uint32_t colour, double x, double y, double width, double height);
void paper_hatch(struct paper *p, uint32_t colour, double x, double y, double width, double height,
                 double step);
void paper_tick_box(struct paper *p, double x, double y, double side);
/* paper_poly: filled; points x0, y0, x1, y1 ... */
void paper_poly(struct paper *p, uint32_t colour, const double *xy, size_t n);

#endif
