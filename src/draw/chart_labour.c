/* chart_labour: how long jobs took, how it was learnt, and what time covers the wanted share. */
#include "draw/chart_parts.h"

#include <math.h>
#include <stdio.h>

static void draw_learning(struct paper *p, const struct chart_labour *l, struct chart_box box)
{
    char says[120], a[CHART_FIGURE_SIZE];
    const struct chart_side x = {.label =
                                     "how many-th job of its kind for who did it (logarithmic)",
                                 .axis = {.scale = CHART_LOG,
                                          .low = chart_least(l->order, l->n, 1) / 1.1,
                                          .high = chart_most(l->order, l->n, 2) * 1.1},
                                 .is_fixed = true};
    const struct chart_side y = {.label = "time a job took, min",
                                 .axis = {.low = 0, .high = chart_most(l->minutes, l->n, 1)}};
    struct chart_panel *c = chart_panel_new(p, box, &x, &y, 0, 8);
    if (c == NULL)
        return;
    chart_dots(c, l->order, l->minutes, l->n, PAPER_GREY, 2);
    if (l->learning.n > 0) {
        const size_t i = l->learning.n * 2 / 3;
        chart_clip(c);
        chart_line(c, &l->learning, PAPER_ACT, 1.8, CHART_SOLID);
        chart_unclip(c);
        (void)snprintf(says, sizeof says, "each doubling leaves %s %%",
                       chart_figure(100 * l->learning_rate, 3, a));
        chart_label(c, PAPER_ACTION, chart_x(c, l->learning.x[i]), chart_y(c, l->learning.y[i]),
                    CHART_ABOVE, says);
    }
    chart_panel_free(c);
}

/* Without an order: how the times lie. */
static void draw_times(struct paper *p, const struct chart_labour *l, struct chart_box box)
{
    char says[120], a[CHART_FIGURE_SIZE], b[CHART_FIGURE_SIZE], d[CHART_FIGURE_SIZE];
    const double least = chart_least(l->minutes, l->n, 0);
    const struct chart_side x = {.label = "time a job took, min",
                                 .axis = {.low = least, .high = chart_most(l->minutes, l->n, 1)}};
    const struct chart_side y = {.label = "", .axis = {.low = 0, .high = 1}, .is_bare = true};
    struct chart_panel *c = chart_panel_new(p, box, &x, &y, 0, 8);
    if (c == NULL)
        return;
    const double foot = c->frame.y + c->frame.height, at = c->frame.y + c->frame.height * 0.3;
    const double tall = c->frame.height * 0.55;
    chart_strip(c, l->minutes, l->n, foot - 1, tall, chart_strip_radius(c, l->minutes, l->n, tall),
                PAPER_GREY);
    if (l->has_mean_interval)
        chart_whisker(c, PAPER_INK, 1.4, chart_x(c, l->mean_low), chart_x(c, l->mean_high), at,
                      true);
    chart_dot(c, PAPER_INK, chart_x(c, l->mean), at, 3.4, false);
    chart_take(c, chart_x(c, l->mean) - 4, at - 4, 8, 8);
    if (l->has_mean_interval)
        (void)snprintf(says, sizeof says, "mean %s min (%s to %s)", chart_figure(l->mean, 4, a),
                       chart_figure(l->mean_low, 4, b), chart_figure(l->mean_high, 4, d));
    else
        (void)snprintf(says, sizeof says, "mean %s min", chart_figure(l->mean, 4, a));
    chart_label(c, PAPER_BODY, chart_x(c, l->mean), at, CHART_ABOVE, says);
    chart_panel_free(c);
}

/* The allowance is read where the steps meet the wanted share. */
static void draw_allowance(struct paper *p, const struct chart_labour *l, struct chart_box box)
{
    char label[100], says[120], a[CHART_FIGURE_SIZE];
    const char *of = l->is_shops ? "shops" : "jobs";
    const double low = chart_least(l->level, l->n_levels, 0),
                 high = fmax(chart_most(l->level, l->n_levels, 1), fmax(l->paid, l->allowance));
    (void)snprintf(label, sizeof label, "share of the %s that take no longer, %%", of);
    const struct chart_side x = {
        .label = l->is_shops ? "mean time of a shop, min" : "time, min",
        .axis = {.low = l->paid > 0 ? fmin(low, l->paid) : low, .high = high}};
    const struct chart_side y = {
        .label = label, .axis = {.low = 0, .high = 1, .factor = 100}, .is_fixed = true};
    struct chart_panel *c = chart_panel_new(p, box, &x, &y, 0, 8);
    if (c == NULL)
        return;
    const double at_x = chart_x(c, l->allowance), at_y = chart_y(c, l->share);
    chart_share(c, l->level, l->n_levels, PAPER_INK, 1.5);
    chart_segment(c, PAPER_ACT, 1.1, CHART_DASHED, c->frame.x, at_y, at_x, at_y);
    chart_segment(c, PAPER_ACT, 1.1, CHART_DASHED, at_x, at_y, at_x, chart_y(c, 0));
    chart_dot(c, PAPER_ACT, at_x, at_y, 4, false);
    chart_take(c, at_x - 4, at_y - 4, 8, 8);
    if (l->paid > 0) {
        const bool is_short = l->paid < l->allowance;
        chart_rule_x(c, l->paid, is_short ? PAPER_STOP : PAPER_INK, 1.4, CHART_SOLID);
        (void)snprintf(says, sizeof says, "paid: %s min%s", chart_figure(l->paid, 4, a),
                       is_short ? ", too short" : "");
        chart_label(c, is_short ? PAPER_HAZARD : PAPER_STRONG, chart_x(c, l->paid),
                    chart_y(c, 0.12), is_short ? CHART_LEFT : CHART_RIGHT, says);
    }
    (void)snprintf(says, sizeof says, "%s min covers %.3g %%", chart_figure(l->allowance, 4, a),
                   100 * l->share);
    chart_label(c, PAPER_ACTION, at_x, at_y, CHART_RIGHT, says);
    chart_panel_free(c);
}

void chart_draw_labour(struct paper *p, const struct chart *chart, struct chart_box box)
{
    const struct chart_labour *l = &chart->labour;
    const double wide = box.width >= 400 ? box.width / 2 : box.width;
    const struct chart_box left = {box.x, box.y, wide - 10, box.height};
    if (l->order != NULL)
        draw_learning(p, l, left);
    else
        draw_times(p, l, left);
    if (box.width >= 400)
        draw_allowance(
            p, l, (struct chart_box){box.x + wide + 10, box.y, box.width - wide - 10, box.height});
}
