/* sheet_template: owns the record of what was measured and cut, and the racks at true scale on as many sheets as they take, with a
 * bar to check the printer by and crosses to glue by. */
#include "draw/sheet_parts.h"

#include "base/amount.h"
#include "core/gear.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { RACKS_A_SHEET = 3, NM_A_MM = 1000000 };

/* ---- the record ------------------------------------------------------------------------------- */

static const struct sheet_cut *cut_of(const struct sheet *s, const char *station, const char *rack)
{
    for (size_t i = 0; i < s->o->n_cuts; i++)
        if (strcmp(s->o->cuts[i].station, station) == 0 && strcmp(s->o->cuts[i].rack, rack) == 0)
            return &s->o->cuts[i];
    return NULL;
}

static void record_row(struct sheet *s, const struct table *t,
                       const struct bulletin_station *station, const char *rack)
{
    char needed[AMOUNT_SIZE], mark[AMOUNT_SIZE], offcut[AMOUNT_SIZE];
    const struct sheet_cut *c = cut_of(s, station->id, rack);
    struct text name = {0};
    text_printf(&name, "%s, %s", sheet_text(s, &station->name), rack);
    struct cell cells[] = {{.kind = CELL_STRONG, .text = name.data != NULL ? name.data : ""},
                           {.kind = CELL_BLANK},
                           {.kind = CELL_BLANK},
                           {.kind = CELL_BLANK},
                           {.kind = CELL_BLANK},
                           {.kind = CELL_BLANK}};
    if (c != NULL) {
        const bool is_cut = c->answer->status == CUT_DO;
        cells[1] = (struct cell){.kind = CELL_STRONG,
                                 .text = amount_show(c->answer->needed_nm, c->show, needed)};
        cells[3] = (struct cell){.text = c->kit};
        cells[4] = (struct cell){.kind = CELL_STRONG,
                                 .text = is_cut ? amount_show(c->answer->mark_nm, c->show, mark)
                                                : sheet_word(s, W_NOT_CUT)};
        cells[5] =
            (struct cell){.text = is_cut ? amount_show(c->answer->offcut_nm, c->show, offcut) : ""};
    }
    table_row(s, t, cells);
    s->p.is_broken |= name.is_broken;
    text_done(&name);
}

/* Every rack id that a kit for this station holds, once. */
static void record_station(struct sheet *s, const struct table *t,
                           const struct bulletin_station *station)
{
    const char *seen[BULLETIN_KITS_MAX * 2];
    size_t n = 0;
    for (size_t k = 0; k < s->b->kits.n; k++)
        for (size_t r = 0; r < s->b->kits.at[k].racks.n; r++) {
            const char *id = s->b->kits.at[k].racks.at[r].id;
            bool is_seen = false;
            for (size_t i = 0; i < n; i++)
                is_seen = is_seen || strcmp(seen[i], id) == 0;
            if (is_seen || n == sizeof seen / sizeof *seen)
                continue;
            seen[n++] = id;
            record_row(s, t, station, id);
        }
}

static bool has_racks(const struct bulletin *b)
{
    for (size_t k = 0; k < b->kits.n; k++)
        if (b->kits.at[k].racks.n > 0)
            return true;
    return false;
}

void sheet_cuts(struct sheet *s)
{
    const struct table_column columns[] = {
        {"", 0.25, PAPER_LEFT},
        {sheet_word(s, W_MEASURED), 0.15, PAPER_LEFT},
        {sheet_word(s, W_TWICE), 0.15, PAPER_LEFT},
        {sheet_word(s, W_KIT), 0.15, PAPER_LEFT},
        {sheet_word(s, W_MARK), 0.15, PAPER_LEFT},
        {sheet_word(s, W_OFFCUT), 0.15, PAPER_LEFT},
    };
    const struct table t = {columns, 6};
    struct paper *p = &s->p;
    if (!has_racks(s->b))
        return;
    sheet_section(s, sheet_word(s, W_CUTS), 90);
    paper_flow(p, PAPER_BODY, p->left, p->right - p->left, sheet_text(s, &s->b->cut.measure));
    paper_flow(p, PAPER_BODY, p->left, p->right - p->left, sheet_text(s, &s->b->cut.blade_says));
    p->y += 5;
    table_begin(s, &t);
    for (size_t i = 0; i < s->b->scope.stations.n; i++)
        if (sheet_has(s, s->b->scope.stations.at[i].id))
            record_station(s, &t, &s->b->scope.stations.at[i]);
    table_end(s);
}

/* ---- true scale ------------------------------------------------------------------------------- */

/* One sheet's window along the racks, millimetres from the kept end. */
struct window {
    double from_mm, to_mm, left; /* left: where from_mm stands on the page, points */
    int sheet, n_sheets;
};

static const double glue_mm = 10, rack_height = 15 * PAPER_MM, lane_height = 37 * PAPER_MM;

static double at_mm(const struct window *w, double mm)
{
    return w->left + (mm - w->from_mm) * PAPER_MM;
}

/* What a rack's template shows: up to the mark and the kerf and a little of the offcut. */
static double shown_mm(const struct sheet_cut *c)
{
    const double stock = (double)c->answer->stock_nm / NM_A_MM;
    return fmin(stock, (double)(c->answer->mark_nm + c->answer->kerf_nm) / NM_A_MM + 40);
}

static bool has_teeth(const struct sheet_cut *c)
{
    return c->piece->module.is_given && c->piece->first_tooth.is_given &&
           gear_pitch_mm((double)c->piece->module.nano / NM_A_MM) > 0.5;
}

/* The basic rack of ISO 53: flanks of 20 degrees, half a pitch wide at the pitch line, one module above it and a quarter more
 * below. Half widths, of the pitch: 1/4 - tan 20 / pi at the tip, 1/4 + 1.25 tan 20 / pi at the root. */
static void teeth(struct paper *p, const struct window *w, const struct sheet_cut *c, double end,
                  double y)
{
    const double pitch = gear_pitch_mm((double)c->piece->module.nano / NM_A_MM);
    const double first = (double)c->piece->first_tooth.nano / NM_A_MM;
    const double depth = fmin(2.25 / 3.14159265358979 * pitch, 8) * PAPER_MM;
    const double tip = pitch * 0.1341, root = pitch * 0.3948;
    const int from = (int)fmax(floor((w->from_mm - first) / pitch) - 1, 0);
    cairo_save(p->cr);
    cairo_rectangle(p->cr, at_mm(w, w->from_mm), y - 1, (end - w->from_mm) * PAPER_MM, depth + 4);
    cairo_clip(p->cr);
    paper_ink(p, PAPER_INK);
    cairo_set_line_width(p->cr, 0.7);
    cairo_move_to(p->cr,
                  at_mm(w, w->from_mm < first ? fmax(w->from_mm, 0) : first + (from - 0.5) * pitch),
                  y);
    if (w->from_mm < first - root) /* plain up to the first gap */
        cairo_line_to(p->cr, at_mm(w, fmax(first - pitch + tip, 0)), y);
    for (int i = from; first + (i - 1) * pitch <= end && i < from + 2000; i++) {
        const double middle = first + i * pitch;
        cairo_line_to(p->cr, at_mm(w, fmax(middle - pitch + root, 0)), y + depth);
        cairo_line_to(p->cr, at_mm(w, middle - root), y + depth);
        cairo_line_to(p->cr, at_mm(w, middle - tip), y);
        cairo_line_to(p->cr, at_mm(w, middle + tip), y);
    }
    cairo_stroke(p->cr);
    cairo_restore(p->cr);
}

static void ruler_mm(struct paper *p, const struct window *w, double end, double y)
{
    for (int mm = (int)ceil(w->from_mm); mm <= (int)floor(end); mm++) {
        char figure[12];
        const double tick = mm % 10 == 0 ? 9 : mm % 5 == 0 ? 6.5 : 4;
        paper_rule(p, PAPER_INK, mm % 10 == 0 ? 0.5 : 0.3, at_mm(w, mm), y, at_mm(w, mm), y + tick);
        (void)snprintf(figure, sizeof figure, "%d", mm);
        if (mm % 10 == 0)
            paper_line(p, PAPER_SMALL, at_mm(w, mm) - 14, y + 9, 28, PAPER_CENTRE, figure);
    }
}

static void ruler_in(struct paper *p, const struct window *w, double end, double y)
{
    enum { SIXTEENTHS = 16 };
    const double step = 25.4 / SIXTEENTHS;
    for (int i = (int)ceil(w->from_mm / step); i * step <= end; i++) {
        char figure[12];
        const double tick = i % 16 == 0  ? 9
                            : i % 8 == 0 ? 7.5
                            : i % 4 == 0 ? 6
                            : i % 2 == 0 ? 4.5
                                         : 3.5;
        paper_rule(p, PAPER_INK, i % 16 == 0 ? 0.5 : 0.3, at_mm(w, i * step), y, at_mm(w, i * step),
                   y + tick);
        (void)snprintf(figure, sizeof figure, "%d", i / SIXTEENTHS);
        if (i % SIXTEENTHS == 0)
            paper_line(p, PAPER_SMALL, at_mm(w, i * step) - 14, y + 9, 28, PAPER_CENTRE, figure);
    }
}

static const char *end_word(const struct sheet *s, enum bulletin_end end)
{
    return sheet_word(s, end == BULLETIN_END_UPPER   ? W_UPPER
                         : end == BULLETIN_END_LOWER ? W_LOWER
                                                     : W_EITHER);
}

/* The line, the kerf on its side of it, and the words beside it. */
static void cut_line(struct sheet *s, const struct window *w, const struct sheet_cut *c, double y)
{
    struct paper *p = &s->p;
    char mark[AMOUNT_SIZE];
    struct text says = {0};
    const double mm = (double)c->answer->mark_nm / NM_A_MM,
                 kerf = (double)c->answer->kerf_nm / NM_A_MM;
    const double from = c->blade == CUT_BLADE_CENTRE ? mm - kerf / 2 : mm;
    if (mm < w->from_mm || mm > w->to_mm)
        return;
    paper_hatch(p, PAPER_STOP, at_mm(w, from), y, kerf * PAPER_MM, rack_height, 2.2);
    paper_rule(p, PAPER_STOP, 0.5, at_mm(w, mm), y - 9, at_mm(w, mm), y + rack_height + 9);
    text_printf(&says, "%s %s %s (%s)", sheet_word(s, W_MARK),
                amount_show(c->answer->mark_nm, c->show, mark), sheet_word(s, W_FROM),
                end_word(s, c->piece->keep));
    const char *line = says.data != NULL ? says.data : "";
    const char *blade = sheet_word(s, c->blade == CUT_BLADE_CENTRE ? W_BLADE_CENTRE : W_BLADE);
    const double x = at_mm(w, mm), right = x + kerf * PAPER_MM + 4;
    const double room = x - 4 - p->left, need = paper_line_width(p, PAPER_HAZARD, line);
    if (need <= room) {
        paper_line(p, PAPER_HAZARD, x - 4 - need, y - 13, need, PAPER_RIGHT, line);
        paper_line(p, PAPER_QUIET, right, y - 12, p->right - right, PAPER_LEFT, blade);
    } else {
        paper_line(p, PAPER_HAZARD, right, y - 13, p->right - right, PAPER_LEFT, line);
        paper_line(p, PAPER_QUIET, right, y + rack_height + 24, p->right - right, PAPER_LEFT,
                   blade);
    }
    p->is_broken |= says.is_broken;
    text_done(&says);
}

static void lane(struct sheet *s, const struct window *w, const struct sheet_cut *c, double y)
{
    struct paper *p = &s->p;
    struct text name = {0};
    const double end = fmin(w->to_mm, shown_mm(c));
    const struct bulletin_station *station = bulletin_station_find(s->b, c->station);
    if (w->from_mm > shown_mm(c))
        return;
    text_printf(&name, "%s, %s", station != NULL ? sheet_text(s, &station->name) : c->station,
                c->rack);
    if (w->from_mm <= 0) {
        text_printf(&name, " \xC2\xB7 %s",
                    sheet_format(s, W_KEPT_END, end_word(s, c->piece->keep), NULL));
        paper_rule(p, PAPER_INK, 1.2, at_mm(w, 0), y - 6, at_mm(w, 0), y + rack_height + 6);
    }
    paper_line(p, PAPER_STRONG, w->left, y - 25, 300, PAPER_LEFT,
               name.data != NULL ? name.data : "");
    const double mark = (double)c->answer->mark_nm / NM_A_MM;
    if (end > mark) /* what falls off */
        paper_fill(p, PAPER_BAND, at_mm(w, fmax(mark, w->from_mm)), y,
                   (end - fmax(mark, w->from_mm)) * PAPER_MM, rack_height);
    if (has_teeth(c))
        teeth(p, w, c, end, y);
    else
        paper_rule(p, PAPER_INK, 0.8, at_mm(w, w->from_mm), y, at_mm(w, end), y);
    paper_rule(p, PAPER_INK, 0.8, at_mm(w, w->from_mm), y + rack_height, at_mm(w, end),
               y + rack_height);
    (c->show == UNIT_IN ? ruler_in : ruler_mm)(p, w, end, y + rack_height);
    cut_line(s, w, c, y);
    p->is_broken |= name.is_broken;
    text_done(&name);
}

/* 100 mm above, 4 in below, to the same left end. */
static void check_bar(struct sheet *s, double x, double y)
{
    struct paper *p = &s->p;
    paper_fill(p, 0x000000, x, y, 100 * PAPER_MM, 2 * PAPER_MM);
    paper_fill(p, 0x000000, x, y + 4 * PAPER_MM, 4 * 72, 2 * PAPER_MM);
    paper_line(p, PAPER_SMALL, x + 4 * 72 + 6, y - 1, 60, PAPER_LEFT, "100 mm");
    paper_line(p, PAPER_SMALL, x + 4 * 72 + 6, y + 4 * PAPER_MM - 1, 60, PAPER_LEFT, "4 in");
    paper_text(p, PAPER_QUIET, x + 4 * 72 + 50, y - 3, p->right - x - 4 * 72 - 50, 4, PAPER_LEFT,
               sheet_word(s, W_BAR));
}

static void cross(struct paper *p, double x, double y)
{
    paper_rule(p, PAPER_ACT, 0.5, x - 8, y, x + 8, y);
    paper_rule(p, PAPER_ACT, 0.5, x, y - 8, x, y + 8);
}

static void glue_marks(struct sheet *s, const struct window *w, double top, double bottom)
{
    struct paper *p = &s->p;
    if (w->sheet > 1) {
        cross(p, w->left, top);
        cross(p, w->left, bottom);
    }
    if (w->sheet == w->n_sheets)
        return;
    char figure[SHEET_FIGURE];
    const double x = at_mm(w, w->to_mm);
    cross(p, x, top);
    cross(p, x, bottom);
    cairo_save(p->cr);
    paper_ink(p, PAPER_ACT);
    const double dashes[] = {4, 3};
    cairo_set_dash(p->cr, dashes, 2, 0);
    cairo_set_line_width(p->cr, 0.5);
    cairo_move_to(p->cr, x, top);
    cairo_line_to(p->cr, x, bottom);
    cairo_stroke(p->cr);
    cairo_translate(p->cr, x + glue_mm * PAPER_MM - 9, bottom - 6);
    cairo_rotate(p->cr, -1.5707963267948966);
    paper_line(p, PAPER_QUIET, 0, 0, bottom - top - 12, PAPER_LEFT,
               sheet_format(s, W_GLUE, sheet_figure(w->sheet + 1, figure), NULL));
    cairo_restore(p->cr);
}

static void one_sheet(struct sheet *s, const struct window *w, const struct sheet_cut *const *cuts,
                      size_t n)
{
    struct paper *p = &s->p;
    paper_page(p, true);
    s->n_template_pages++;
    struct text title = {0};
    char figure[SHEET_FIGURE], all[SHEET_FIGURE];
    text_printf(&title, "%s \xC2\xB7 ", sheet_word(s, W_TEMPLATE));
    text_puts(&title, sheet_format(s, W_SHEET_OF, sheet_figure(w->sheet, figure),
                                   sheet_figure(w->n_sheets, all)));
    if (w->sheet == 1) {
        (void)snprintf(figure, sizeof figure, "template-%d", s->n_template_pages);
        paper_mark(p, sheet_word(s, W_TEMPLATE), figure);
    }
    paper_tag(p, "H2");
    paper_line(p, PAPER_HEAD, p->left, p->y, p->right - p->left, PAPER_LEFT,
               title.data != NULL ? title.data : "");
    paper_untag(p, "H2");
    p->is_broken |= title.is_broken;
    text_done(&title);
    check_bar(s, p->left, p->y + 26);
    paper_line(p, PAPER_STRONG, p->left, p->y + 52, p->right - p->left, PAPER_LEFT,
               sheet_word(s, W_STRETCH));
    const double top = p->y + 40 * PAPER_MM;
    for (size_t i = 0; i < n; i++)
        lane(s, w, cuts[i], top + (double)i * lane_height);
    glue_marks(s, w, top - 8, top + (double)(n - 1) * lane_height + rack_height + 26);
}

/* Racks together on the same sheets, at most RACKS_A_SHEET. */
static void sheets_of(struct sheet *s, const struct sheet_cut *const *cuts, size_t n)
{
    const double side = s->o->size == PAPER_A4 ? 297 : 279.4;
    const double window_mm = floor((side - 30 - glue_mm - 2) / 10) * 10;
    double longest = 0;
    for (size_t i = 0; i < n; i++)
        longest = fmax(longest, shown_mm(cuts[i]));
    const int n_sheets = (int)ceil(longest / window_mm);
    for (int i = 0; i < n_sheets; i++) {
        const struct window w = {i * window_mm, (i + 1) * window_mm, 15 * PAPER_MM, i + 1,
                                 n_sheets};
        one_sheet(s, &w, cuts, n);
    }
}

void sheet_template(struct sheet *s)
{
    const struct sheet_cut *cuts[RACKS_A_SHEET];
    size_t n = 0;
    for (size_t i = 0; i < s->o->n_cuts; i++) {
        if (s->o->cuts[i].answer->status != CUT_DO)
            continue;
        cuts[n++] = &s->o->cuts[i];
        if (n == RACKS_A_SHEET) {
            sheets_of(s, cuts, n);
            n = 0;
        }
    }
    if (n > 0)
        sheets_of(s, cuts, n);
}
