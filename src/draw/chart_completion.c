/* chart_completion: how the units came since their notices, and how many will have come by when. */
#include "draw/chart_parts.h"

#include <math.h>
#include <stdio.h>

static void draw_come(struct paper *p, const struct chart_completion *k, struct chart_box box)
{
    char x_label[120], says[120], a[CHART_FIGURE_SIZE], b[CHART_FIGURE_SIZE], d[CHART_FIGURE_SIZE];
    const double last = k->come.n > 0 ? k->come.x[k->come.n - 1] : 1;
    const double end = fmax(last, k->fit.n > 0 ? k->fit.x[k->fit.n - 1] : last);
    const struct chart_side x = {
        .label = chart_with_unit("time since the notice", k->unit, x_label, sizeof x_label),
        .axis = {.low = 0, .high = end}};
    const struct chart_side y = {.label = "share of all that has come, %",
                                 .axis = {.low = 0, .high = 1, .factor = 100},
                                 .is_fixed = true};
    struct chart_panel *c = chart_panel_new(p, box, &x, &y, 0, 14);
    if (c == NULL)
        return;
    const double edge = c->frame.x + c->frame.width;
    chart_clip(c);
    chart_stairs_band(c, &k->come, 0, 0, last, false);
    chart_unclip(c);
    chart_rule_y(c, k->share, PAPER_ACT, 0.9, CHART_DASHED);
    chart_clip(c);
    chart_line(c, &k->fit, PAPER_INK, 1, CHART_DOTTED);
    chart_stairs(c, &k->come, 0, 0, last, PAPER_ACT, 1.6, CHART_SOLID);
    chart_unclip(c);
    chart_whisker(c, PAPER_ACT, 1.4, chart_y(c, k->share_low), chart_y(c, k->share_high), edge + 6,
                  false);
    (void)snprintf(says, sizeof says, "ever: %s %% (%s to %s %%)",
                   chart_figure(100 * k->share, 3, a), chart_figure(100 * k->share_low, 3, b),
                   chart_figure(100 * k->share_high, 3, d));
    chart_label(c, PAPER_ACTION, edge - paper_line_width(p, PAPER_ACTION, says) / 2 - 4,
                chart_y(c, k->share), k->share > 0.85 ? CHART_BELOW : CHART_ABOVE, says);
    if (k->fit.n > 2) {
        const size_t i = k->fit.n / 3;
        chart_label(c, PAPER_QUIET, chart_x(c, k->fit.x[i]), chart_y(c, k->fit.y[i]), CHART_RIGHT,
                    "fitted curve");
    }
    chart_panel_free(c);
}

/* Places of the forecast: now, each time, ever; evenly apart, since ever has no date. */
static double place(const struct chart_panel *c, const struct chart_completion *k, size_t i)
{
    return c->frame.x + c->frame.width * ((double)i + 0.5) / (double)(k->n_rows + 1);
}

static void draw_row(struct chart_panel *c, const struct chart_completion *k, size_t i)
{
    char says[60], a[CHART_FIGURE_SIZE];
    const struct chart_completion_row *r = &k->rows[i];
    const double at = place(c, k, i + 1);
    const bool is_ever = isinf(r->within);
    const uint32_t colour = is_ever ? PAPER_ACT : PAPER_INK;
    chart_whisker(c, colour, 1.6, chart_y(c, r->low), chart_y(c, r->high), at, false);
    chart_dot(c, colour, at, chart_y(c, r->total), 3.4, false);
    (void)snprintf(says, sizeof says, "%s", chart_figure(round(r->total), 9, a));
    chart_label(c, is_ever ? PAPER_ACTION : PAPER_BODY, at, chart_y(c, r->total), CHART_RIGHT,
                says);
}

static void names_below(struct chart_panel *c, const struct chart_completion *k, double y)
{
    const double wide = c->frame.width / (double)(k->n_rows + 1);
    paper_line(c->p, PAPER_QUIET, place(c, k, 0) - wide / 2, y, wide, PAPER_CENTRE, "now");
    for (size_t i = 0; i < k->n_rows; i++) {
        char says[40], a[CHART_FIGURE_SIZE];
        (void)snprintf(says, sizeof says, "+%s", chart_figure(k->rows[i].within, 4, a));
        paper_line(c->p, PAPER_QUIET, place(c, k, i + 1) - wide / 2, y, wide, PAPER_CENTRE,
                   isinf(k->rows[i].within) ? "ever" : says);
    }
}

static void draw_forecast(struct paper *p, const struct chart_completion *k, struct chart_box box)
{
    char x_label[120], says[60], a[CHART_FIGURE_SIZE];
    const double line = paper_line_height(p, PAPER_QUIET);
    double high = k->n;
    for (size_t i = 0; i < k->n_rows; i++)
        high = fmax(high, k->rows[i].high);
    const double low = k->n_come > 0.4 * k->n ? k->n_come - 0.25 * (high - k->n_come) : 0;
    const struct chart_side x = {.label = "", .axis = {.low = 0, .high = 1}, .is_bare = true};
    const struct chart_side y = {.label = "units that will have come, in all",
                                 .axis = {.low = fmax(low, 0), .high = high}};
    struct chart_panel *c = chart_panel_new(
        p, (struct chart_box){box.x, box.y, box.width, box.height - 2 * line - 6}, &x, &y, 0, 8);
    if (c == NULL)
        return;
    const double foot = c->frame.y + c->frame.height;
    names_below(c, k, foot + 4);
    paper_line(p, PAPER_QUIET, c->frame.x, foot + line + 5, c->frame.width, PAPER_CENTRE,
               chart_with_unit("time from now", k->unit, x_label, sizeof x_label));
    chart_rule_y(c, k->n, PAPER_GREY, 0.8, CHART_DASHED);
    chart_dot(c, PAPER_INK, place(c, k, 0), chart_y(c, k->n_come), 3.4, true);
    chart_take(c, place(c, k, 0) - 4, chart_y(c, k->n_come) - 4, 8, 8);
    for (size_t i = 0; i < k->n_rows; i++)
        draw_row(c, k, i);
    (void)snprintf(says, sizeof says, "%s", chart_figure(k->n_come, 9, a));
    chart_label(c, PAPER_BODY, place(c, k, 0), chart_y(c, k->n_come), CHART_ABOVE, says);
    (void)snprintf(says, sizeof says, "all %s that were given notice", chart_figure(k->n, 9, a));
    chart_label(c, PAPER_QUIET, c->frame.x + 4, chart_y(c, k->n), CHART_RIGHT, says);
    chart_panel_free(c);
}

void chart_draw_completion(struct paper *p, const struct chart *chart, struct chart_box box)
{
    const struct chart_completion *k = &chart->completion;
    const bool has_rows = k->n_rows > 0 && box.width >= 400;
    const double wide = has_rows ? box.width * 0.56 : box.width;
    draw_come(p, k, (struct chart_box){box.x, box.y, wide - 8, box.height});
    if (has_rows)
        draw_forecast(
            p, k, (struct chart_box){box.x + wide + 8, box.y, box.width - wide - 8, box.height});
}
