/* chart_held: two rates with their intervals, and their ratio against what it must stay below. */
#include "draw/chart_parts.h"

#include <math.h>
#include <stdio.h>

enum { NAMES = 96, RIGHT = 60 };

/* Rates are shown a thousand units of time, or a million where a thousand would leave noughts. */
static double scale_of(const struct chart_held *h)
{
    const double most = fmax(h->sides[0].high, h->sides[1].high);
    return most * 1000 < 0.01 ? 1e6 : 1000;
}

static void draw_rates(struct paper *p, const struct chart_held *h, struct chart_box box)
{
    char label[240], per[160], unit[CHART_NAME_SIZE];
    const double scale = scale_of(h);
    (void)snprintf(per, sizeof per, "failures per %s %s", scale > 1000 ? "million" : "1000",
                   *h->unit != '\0' ? chart_cut(h->unit, unit) : "units of time");
    const struct chart_side x = {
        .label = per,
        .axis = {.low = 0, .high = fmax(h->sides[0].high, h->sides[1].high), .factor = scale}};
    const struct chart_side y = {.label = "", .axis = {.low = 0, .high = 1}, .is_bare = true};
    struct chart_panel *c = chart_panel_new(p, box, &x, &y, NAMES, RIGHT);
    if (c == NULL)
        return;
    for (size_t i = 0; i < 2; i++) {
        const struct chart_held_side *s = &h->sides[i];
        char rate[CHART_FIGURE_SIZE], failed[CHART_FIGURE_SIZE], time[CHART_FIGURE_SIZE];
        const double at = c->frame.y + c->frame.height * (0.27 + 0.46 * (double)i);
        const uint32_t colour = i == 0 ? PAPER_ACT : PAPER_INK;
        chart_whisker(c, colour, 1.6, chart_x(c, s->low), chart_x(c, s->high), at, true);
        chart_dot(c, colour, chart_x(c, s->rate), at, 4, i == 1);
        chart_take(c, chart_x(c, s->rate) - 5, at - 5, 10, 10);
        chart_name(c, PAPER_STRONG, at, s->name);
        (void)snprintf(label, sizeof label, "%s: %s failed in %s%s%s",
                       chart_figure(s->rate * scale, 3, rate), chart_figure(s->failed, 6, failed),
                       chart_figure(s->time, 6, time), *h->unit != '\0' ? " " : "",
                       chart_cut(h->unit, unit));
        chart_label(c, PAPER_BODY, chart_x(c, s->rate), at, CHART_ABOVE, label);
    }
    chart_panel_free(c);
}

static void draw_ratio(struct paper *p, const struct chart_held *h, struct chart_box box)
{
    char label[120], a[CHART_FIGURE_SIZE];
    /* An end without bound is drawn as an arrow at the frame's edge; so is a ratio of 0. */
    const double least = h->low > 0 ? h->low : (h->ratio > 0 ? h->ratio : fmin(h->at_most, 1)) / 20;
    const double most =
        isfinite(h->high) ? h->high : (isfinite(h->ratio) ? h->ratio : fmax(h->low, 1)) * 20;
    const struct chart_side x = {
        .label = "rate of the repaired over the rate of the others (logarithmic)",
        .axis = {.scale = CHART_LOG,
                 .low = fmin(least, fmin(h->at_most, 1)) / 1.3,
                 .high = fmax(most, fmax(h->at_most, 1)) * 1.3}};
    const struct chart_side y = {.label = "", .axis = {.low = 0, .high = 1}, .is_bare = true};
    struct chart_panel *c = chart_panel_new(p, box, &x, &y, NAMES, RIGHT);
    if (c == NULL)
        return;
    const double at = c->frame.y + c->frame.height * 0.62;
    const double low = h->low > 0 ? chart_x(c, h->low) : c->frame.x;
    const double high = isfinite(h->high) ? chart_x(c, h->high) : c->frame.x + c->frame.width;
    chart_rule_x(c, 1, PAPER_INK, 1, CHART_SOLID);
    if (h->at_most != 1)
        chart_rule_x(c, h->at_most, PAPER_ACT, 1, CHART_DASHED);
    if (h->low > 0 && isfinite(h->high))
        chart_whisker(c, PAPER_ACT, 1.6, low, high, at, true);
    else {
        chart_segment(c, PAPER_ACT, 1.6, CHART_SOLID, low, at, high, at);
        if (!(h->low > 0))
            chart_arrow(c, PAPER_ACT, low, at, -1, 0);
        if (!isfinite(h->high))
            chart_arrow(c, PAPER_ACT, high, at, 1, 0);
    }
    if (h->ratio > 0 && isfinite(h->ratio)) {
        chart_dot(c, PAPER_ACT, chart_x(c, h->ratio), at, 4, false);
        chart_take(c, chart_x(c, h->ratio) - 5, at - 5, 10, 10);
    }
    chart_name(c, PAPER_STRONG, at, "ratio");
    (void)snprintf(label, sizeof label, "%s times", chart_figure(h->ratio, 2, a));
    chart_label(c, PAPER_BODY,
                isfinite(h->ratio) && h->ratio > 0 ? chart_x(c, h->ratio) : (low + high) / 2, at,
                CHART_ABOVE, label);
    chart_label(c, PAPER_QUIET, chart_x(c, 1), c->frame.y + 8, CHART_RIGHT, "1: no difference");
    if (h->at_most != 1) {
        (void)snprintf(label, sizeof label, "%s: must stay below", chart_figure(h->at_most, 3, a));
        chart_label(c, PAPER_QUIET, chart_x(c, h->at_most), c->frame.y + 8, CHART_LEFT, label);
    }
    chart_panel_free(c);
}

void chart_draw_held(struct paper *p, const struct chart *chart, struct chart_box box)
{
    const double upper = box.height * 0.56;
    draw_rates(p, &chart->held, (struct chart_box){box.x, box.y, box.width, upper - 6});
    draw_ratio(p, &chart->held,
               (struct chart_box){box.x, box.y + upper + 6, box.width, box.height - upper - 6});
}
