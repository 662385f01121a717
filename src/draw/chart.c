/* chart: owns the frame that every picture has (title, words, source) and the files. */
#include "draw/chart.h"

#include "draw/chart_parts.h"
#include "draw/fonts.h"
#include "draw/plot_parts.h"

#include <cairo-pdf.h>
#include <math.h>
#include <string.h>
#include <strings.h>

enum { TITLE_LINES = 3, HOW_LINES = 3, ASSUMED_LINES = 3, PAD = 16 };

/* ---- the frame -------------------------------------------------------------------------------- */

typedef void draw_kind(struct paper *p, const struct chart *c, struct chart_box box);
static draw_kind *const kinds[] = {
    [CHART_LIFE] = chart_draw_life,
    [CHART_WINDOW] = chart_draw_window,
    [CHART_COMPLETION] = chart_draw_completion,
    [CHART_HELD] = chart_draw_held,
    [CHART_LABOUR] = chart_draw_labour,
    [CHART_GAUGE] = chart_draw_gauge,
    [CHART_CAPABILITY] = chart_draw_capability,
    [CHART_AUDIT] = chart_draw_audit,
    [CHART_DIGITS] = chart_draw_digits,
    [CHART_STOCK] = chart_draw_stock,
    [CHART_KITS] = chart_draw_kits,
};

static const char *or_none(const char *text)
{
    return text != NULL ? text : "";
}

/* What stands below the picture, from the bottom up; returns how much of the height it takes. */
static double foot(struct paper *p, const struct chart *c, double x, double bottom, double width)
{
    const char *assumed = or_none(c->assumed), *source = or_none(c->source);
    const double source_height = paper_text_height(p, PAPER_SMALL, width, 2, source),
                 assumed_height = paper_text_height(p, PAPER_QUIET, width, ASSUMED_LINES, assumed);
    double used = 0;
    if (*source != '\0') {
        paper_text(p, PAPER_SMALL, x, bottom - source_height, width, 2, PAPER_LEFT, source);
        used += source_height + 3;
    }
    if (*assumed != '\0') {
        paper_text(p, PAPER_QUIET, x, bottom - used - assumed_height, width, ASSUMED_LINES,
                   PAPER_LEFT, assumed);
        used += assumed_height + 4;
    }
    if (used > 0) {
        paper_rule(p, PAPER_RULE, 0.5, x, bottom - used, x + width, bottom - used);
        used += 8;
    }
    return used;
}

void chart_draw(struct paper *p, const struct chart *c, double x, double y, double width,
                double height)
{
    const double was = p->y;
    if (!(width > 0 && height > 0) || width > CHART_SIDE_MAX || height > CHART_SIDE_MAX)
        return;
    if (!p->is_dry) {
        cairo_save(p->cr);
        cairo_rectangle(p->cr, x, y, width, height);
        cairo_clip(p->cr);
    }
    double top = y;
    top += paper_text(p, PAPER_HEAD, x, top, width, TITLE_LINES, PAPER_LEFT, or_none(c->title));
    if (width >= CHART_LEAST_WIDTH && height >= CHART_LEAST_HEIGHT) {
        top += top > y ? 3 : 0;
        const double how =
            paper_text(p, PAPER_QUIET, x, top, width, HOW_LINES, PAPER_LEFT, or_none(c->how));
        top += how > 0 ? how + 8 : 4;
        const double below = foot(p, c, x, y + height, width);
        const struct chart_box box = {x, top, width, y + height - below - top};
        if (box.height >= 40)
            kinds[c->kind](p, c, box);
    }
    if (!p->is_dry)
        cairo_restore(p->cr);
    p->y = was;
}

static double rows_height(size_t n, double row)
{
    return (double)(n < CHART_ROWS_MAX ? n : CHART_ROWS_MAX) * row;
}

double chart_height(const struct chart *c, double width)
{
    const double plain = fmin(fmax(floor(width * 0.66), 300), 520);
    switch (c->kind) {
    case CHART_HELD:
        return fmin(plain, 320);
    case CHART_CAPABILITY:
        return 180 + rows_height(c->capability.n, 24);
    case CHART_KITS:
        return 190 + rows_height(c->kits.n, 26);
    case CHART_DIGITS:
        return 190 +
               ceil((double)(c->digits.n < CHART_PANELS_MAX ? c->digits.n : CHART_PANELS_MAX) / 3) *
                   105;
    default:
        return plain;
    }
}

/* ---- files ------------------------------------------------------------------------------------ */

bool chart_format_of(const char *path, enum chart_format *ret)
{
    static const struct {
        const char *ending;
        enum chart_format format;
    } known[] = {{".svg", CHART_SVG}, {".png", CHART_PNG}, {".pdf", CHART_PDF}};
    const char *name = strrchr(path, '/'), *dot = strrchr(name != NULL ? name + 1 : path, '.');
    for (size_t i = 0; dot != NULL && i < sizeof known / sizeof *known; i++)
        if (strcasecmp(dot, known[i].ending) == 0) {
            *ret = known[i].format;
            return true;
        }
    return false;
}

static enum err open_file(struct paper *p, const struct chart *c, enum chart_format format,
                          double width, double height)
{
    if (format == CHART_SVG)
        return paper_open_svg(p, width, height);
    if (format == CHART_PNG)
        return paper_open_png(p, width, height, CHART_PIXELS);
    const enum err e = paper_open_single(p, width, height);
    if (e == ERR_OK) {
        cairo_pdf_surface_set_metadata(p->surface, CAIRO_PDF_METADATA_TITLE, or_none(c->title));
        cairo_pdf_surface_set_metadata(p->surface, CAIRO_PDF_METADATA_SUBJECT, or_none(c->source));
        cairo_pdf_surface_set_metadata(p->surface, CAIRO_PDF_METADATA_CREATOR,
                                       "mendwright " MENDWRIGHT_VERSION);
        cairo_pdf_surface_set_metadata(p->surface, CAIRO_PDF_METADATA_CREATE_DATE, "");
        cairo_pdf_surface_set_metadata(p->surface, CAIRO_PDF_METADATA_MOD_DATE, "");
    }
    return e;
}

/* Paper of screens is warm; what is printed stays white (doc/looks.md). */
enum err chart_file(const struct chart *c, enum chart_format format, double width, double height,
                    struct text *out, struct fault *reterr)
{
    struct paper p;
    if (!(width >= 1 && width <= CHART_SIDE_MAX && height >= 1 && height <= CHART_SIDE_MAX))
        return fault_set(reterr, ERR_RANGE, "found %g x %g points; expected sides of 1 to %d",
                         width, height, (int)CHART_SIDE_MAX);
    if (!fonts_any())
        return fault_set(reterr, ERR_UNKNOWN,
                         "found no font on this machine; expected any that fontconfig "
                         "finds, such as Debian's fonts-dejavu-core");
    enum err e = open_file(&p, c, format, width, height);
    if (e == ERR_OK) {
        if (format != CHART_PDF)
            paper_fill(&p, PAPER_WARM, 0, 0, width + 1, height + 1);
        const double pad = fmin(PAD, fmin(width, height) / 10);
        chart_draw(&p, c, pad, pad, width - 2 * pad, height - 2 * pad);
    }
    const enum err closed = paper_close(&p);
    e = e != ERR_OK ? e : closed;
    if (e == ERR_OK && format == CHART_SVG)
        plot_described(out, &p.out, or_none(c->title), or_none(c->how));
    else if (e == ERR_OK)
        text_add(out, p.out.data, p.out.size);
    text_done(&p.out);
    if (e == ERR_OK && out->is_broken)
        e = ERR_MEMORY;
    return e == ERR_OK ? e : fault_set(reterr, e, "memory ran out while drawing");
}
