/* chart_audit: the chance to accept a lot against how bad it is, with the two promises. */
#include "draw/chart_parts.h"

#include <math.h>
#include <stdio.h>

/* A promise: across to the curve and down to the share. */
static void promise(struct chart_panel *c, double share, double accept, bool is_fine)
{
    char says[120], a[CHART_FIGURE_SIZE], b[CHART_FIGURE_SIZE];
    const double x = chart_x(c, share), y = chart_y(c, accept);
    chart_segment(c, PAPER_ACT, 1, CHART_DASHED, c->frame.x, y, x, y);
    chart_segment(c, PAPER_ACT, 1, CHART_DASHED, x, y, x, chart_y(c, 0));
    chart_dot(c, PAPER_ACT, x, y, 4, !is_fine);
    chart_take(c, x - 5, y - 5, 10, 10);
    if (is_fine)
        (void)snprintf(says, sizeof says, "%s %% bad, still fine: refused with a chance of %s %%",
                       chart_figure(100 * share, 3, a), chart_figure(100 * (1 - accept), 3, b));
    else
        (void)snprintf(says, sizeof says, "%s %% bad, too poor: accepted with a chance of %s %%",
                       chart_figure(100 * share, 3, a), chart_figure(100 * accept, 3, b));
    chart_label(c, PAPER_ACTION, x, y, CHART_RIGHT, says);
}

static void draw_found(struct chart_panel *c, const struct chart_audit *a)
{
    char says[160], low[CHART_FIGURE_SIZE], high[CHART_FIGURE_SIZE], n[CHART_FIGURE_SIZE];
    const double from = fmin(fmax(chart_x(c, a->may_low), c->frame.x), c->frame.x + c->frame.width),
                 to = fmin(chart_x(c, a->may_high), c->frame.x + c->frame.width);
    const double at = chart_y(c, 0.5);
    chart_whisker(c, PAPER_INK, 1.6, from, fmax(to, from), at, true);
    if (chart_x(c, a->may_high) > c->frame.x + c->frame.width)
        chart_arrow(c, PAPER_INK, c->frame.x + c->frame.width + 6, at, 1, 0);
    (void)snprintf(says, sizeof says, "%s found: %s to %s %% of the lot may be bad",
                   chart_figure(a->found, 9, n), chart_figure(100 * a->may_low, 3, low),
                   chart_figure(100 * a->may_high, 3, high));
    chart_label(c, PAPER_STRONG, (from + to) / 2, at, CHART_ABOVE, says);
}

void chart_draw_audit(struct paper *p, const struct chart *chart, struct chart_box box)
{
    const struct chart_audit *a = &chart->audit;
    const double end = a->accept.n > 0 ? a->accept.x[a->accept.n - 1] : 1;
    const struct chart_side x = {.label = "share of the lot that is bad, %",
                                 .axis = {.low = 0, .high = end, .factor = 100},
                                 .is_fixed = true};
    const struct chart_side y = {.label = "chance that the lot is accepted, %",
                                 .axis = {.low = 0, .high = 1, .factor = 100},
                                 .is_fixed = true};
    struct chart_panel *c = chart_panel_new(p, box, &x, &y, 0, 14);
    if (c == NULL)
        return;
    chart_clip(c);
    chart_line(c, &a->accept, PAPER_INK, 1.8, CHART_SOLID);
    chart_unclip(c);
    if (a->has_promises) {
        promise(c, a->fine, 1 - a->producer, true);
        promise(c, a->poor, a->consumer, false);
    }
    if (a->has_found)
        draw_found(c, a);
    chart_panel_free(c);
}
