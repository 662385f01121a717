/* plot_cut: owns how racks and their cuts are drawn. */
#include "draw/plot_parts.h"

#include "base/amount.h"
#include "core/gear.h"

#include <math.h>
#include <stdio.h>

enum { TEETH_MAX = 2000 };

static const double lane_high = 26, least_kerf = 3;

struct lane {
    double x, y, scale; /* scale: points a nm */
};

/* Teeth along the upper edge, at their true pitch where it is known; between the reliefs, which are signs. */
static void teeth(struct paper *p, const struct lane *l, const struct plot_cut_rack *r, double from,
                  double to)
{
    const double pitch = (double)gear_pitch_nm(r->piece->module_nm) * l->scale;
    if (p->is_dry || !(pitch > 0.8) || (to - from) / pitch > TEETH_MAX)
        return;
    const double first = r->piece->has_first_tooth
                             ? l->x + (double)r->piece->first_tooth_nm * l->scale
                             : from + pitch / 2;
    const double depth = fmin(pitch * 0.7, 6);
    paper_ink(p, PAPER_GREY);
    cairo_set_line_width(p->cr, 0.45);
    for (int i = 0; first + i * pitch + pitch / 2 <= to; i++) {
        const double at = first + i * pitch;
        if (at - pitch / 2 < from)
            continue;
        cairo_move_to(p->cr, at - pitch * 0.36, l->y + depth);
        cairo_line_to(p->cr, at - pitch * 0.14, l->y);
        cairo_line_to(p->cr, at + pitch * 0.14, l->y);
        cairo_line_to(p->cr, at + pitch * 0.36, l->y + depth);
    }
    cairo_stroke(p->cr);
}

static void dimension(struct paper *p, double x0, double x1, double y, const char *says)
{
    const double need = paper_line_width(p, PAPER_STRONG, says);
    paper_rule(p, PAPER_INK, 0.6, x0, y, x1, y);
    paper_rule(p, PAPER_INK, 0.6, x0, y - 4, x0, y + 4);
    paper_rule(p, PAPER_INK, 0.6, x1, y - 4, x1, y + 4);
    const double middle = (x0 + x1) / 2;
    const double left = fmin(fmax(middle - need / 2 - 3, p->left), p->right - need - 6);
    paper_fill(p, PAPER_WARM, left, y - 6, need + 6, 12);
    paper_line(p, PAPER_STRONG, left + 3, y - 6, need + 2, PAPER_LEFT, says);
}

static void relief(struct paper *p, double x, double y, double width, bool is_left)
{
    const double outer = is_left ? x : x + width, inner = is_left ? x + width : x;
    paper_fill(p, PAPER_WARM, x - 2, y - 2, width + 4, 9);
    paper_rule(p, PAPER_INK, 1, inner, y - 0.5, inner, y + 7);
    paper_rule(p, PAPER_INK, 1, outer, y + 7, inner, y + 7);
}

static void ends(struct paper *p, const struct lane *l, const struct plot_cut_rack *r, double stock)
{
    struct text name = {0};
    text_printf(&name, "%s, kept", r->kept_end);
    paper_line(p, PAPER_QUIET, l->x, l->y - 13, 160, PAPER_LEFT, name.is_broken ? "" : name.data);
    paper_line(p, PAPER_QUIET, l->x + stock - 160, l->y - 13, 160, PAPER_RIGHT, r->other_end);
    p->is_broken |= name.is_broken;
    text_done(&name);
}

/* The line, the blade beside it and the offcut. */
static void cut(struct paper *p, const struct lane *l, const struct plot_cut_rack *r,
                enum unit show)
{
    char amount[AMOUNT_SIZE], says[AMOUNT_SIZE + 40];
    const struct cut_answer *a = r->answer;
    const double stock = (double)a->stock_nm * l->scale, x = l->x + (double)a->mark_nm * l->scale;
    const double kerf = fmax((double)a->kerf_nm * l->scale, least_kerf);
    const bool is_centre = r->piece->blade == CUT_BLADE_CENTRE;
    const double from = is_centre ? x - kerf / 2 : x;
    paper_hatch(p, PAPER_GREY, from + kerf, l->y, l->x + stock - from - kerf, lane_high, 5);
    paper_fill(p, PAPER_STOP, from, l->y - 3, kerf, lane_high + 6);
    paper_rule(p, PAPER_STOP, 0.9, x, l->y - 12, x, l->y + lane_high + 34);
    (void)snprintf(says, sizeof says, "mark %s", amount_show(a->mark_nm, show, amount));
    dimension(p, l->x, x, l->y + lane_high + 14, says);
    (void)snprintf(says, sizeof says, "offcut %s", amount_show(a->offcut_nm, show, amount));
    if (a->offcut_nm > 0)
        dimension(p, from + kerf, l->x + stock, l->y + lane_high + 14, says);
    const char *blade = is_centre ? "blade's middle on the line" : "blade on this side";
    const char *beyond = is_centre ? blade : "blade beyond the line";
    const double need = paper_line_width(p, PAPER_HAZARD, blade),
                 wide = paper_line_width(p, PAPER_HAZARD, beyond);
    const bool has_room = x + need + 6 <= p->right;
    paper_line(p, PAPER_HAZARD, has_room ? x + 6 : x - wide - 6, l->y + lane_high + 26,
               has_room ? need : wide, PAPER_LEFT, has_room ? blade : beyond);
}

static void rack(struct paper *p, const struct plot_cut_rack *r, double scale, enum unit show)
{
    char amount[AMOUNT_SIZE], kerf[AMOUNT_SIZE];
    struct text says = {0};
    const struct lane l = {p->left, p->y + 38, scale};
    const double stock = (double)r->answer->stock_nm * scale, notch = 16;
    const bool is_cut = r->answer->status == CUT_DO;
    text_printf(&says, "%s: %s long", r->rack, amount_show(r->answer->stock_nm, show, amount));
    if (is_cut)
        text_printf(&says, ", kerf %s (drawn at least %.0f points wide)",
                    amount_show(r->answer->kerf_nm, show, kerf), least_kerf);
    else
        text_printf(&says, ", needed %s: fits as it is, not cut",
                    amount_show(r->answer->needed_nm, show, kerf));
    paper_line(p, PAPER_STRONG, p->left, p->y, p->right - p->left, PAPER_LEFT,
               says.is_broken ? "" : says.data);
    ends(p, &l, r, stock);
    paper_fill(p, PAPER_CARD, l.x, l.y, stock, lane_high);
    teeth(p, &l, r, l.x + (r->is_kept_relieved ? notch : 0),
          l.x + stock - (r->is_other_relieved ? notch : 0));
    if (is_cut)
        cut(p, &l, r, show);
    paper_frame(p, PAPER_INK, 1, l.x, l.y, stock, lane_high);
    if (r->is_kept_relieved)
        relief(p, l.x, l.y, notch, true);
    if (r->is_other_relieved)
        relief(p, l.x + stock - notch, l.y, notch, false);
    p->y = l.y + lane_high + (is_cut ? 52 : 20);
    p->is_broken |= says.is_broken;
    text_done(&says);
}

static void draw(struct paper *p, const void *me)
{
    const struct plot_cut *o = me;
    int64_t longest = 1;
    bool is_any = false;
    plot_head(p, o->verdict, o->title, o->is_invented);
    for (size_t i = 0; i < o->n_racks; i++) {
        longest = o->racks[i].answer->stock_nm > longest ? o->racks[i].answer->stock_nm : longest;
        is_any = is_any || o->racks[i].answer->status == CUT_DO;
    }
    if (is_any) {
        paper_boxed(p, p->left, p->right - p->left, "CUT", o->caution);
        p->y += 14;
    }
    for (size_t i = 0; i < o->n_racks; i++)
        rack(p, &o->racks[i], (p->right - p->left) / (double)longest, o->show);
    p->y += 4;
    paper_flow(p, PAPER_ACTION, p->left, p->right - p->left, o->blade_says);
    p->y += 4;
    paper_flow(
        p, PAPER_QUIET, p->left, p->right - p->left,
        "Lengths to one proportion; teeth at their pitch where the bulletin states it; hatched: "
        "offcut. A cut-out at "
        "an end is a sign, not to scale. Measure and mark by the tape, not by this drawing.");
}

enum err plot_cut(const struct plot_cut *order, struct text *out, struct fault *reterr)
{
    struct text said = {0};
    char mark[AMOUNT_SIZE];
    for (size_t i = 0; i < order->n_racks; i++) {
        const struct plot_cut_rack *r = &order->racks[i];
        if (r->answer->status == CUT_DO)
            text_printf(&said, "%s: mark %s from the %s end, which is kept. ", r->rack,
                        amount_show(r->answer->mark_nm, order->show, mark), r->kept_end);
        else
            text_printf(&said, "%s: not cut. ", r->rack);
    }
    const enum err e = said.is_broken ? fault_no_memory(reterr)
                                      : plot_run(draw, order, order->verdict,
                                                 said.data != NULL ? said.data : "", out, reterr);
    text_done(&said);
    return e;
}
