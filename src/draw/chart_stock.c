/* chart_stock: what lengths are needed, which are stocked, and which need is cut from which. */
#include "draw/chart_parts.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

enum { SERVED = 46 };

/* Needs put together: bars no thinner than two points. */
static void draw_needs(struct chart_panel *c, const struct chart_stock *s, const double *sum,
                       size_t bins, double from, double width)
{
    for (size_t i = 0; i < bins; i++) {
        if (sum[i] <= 0)
            continue;
        const double left = chart_x(c, from + (double)i * width),
                     right = chart_x(c, from + (double)(i + 1) * width);
        const double gap = right - left > 4 ? 0.5 : 0;
        chart_bar(c, PAPER_GREY, left + gap, chart_y(c, 0), right - gap, chart_y(c, sum[i]));
        chart_take(c, left, chart_y(c, sum[i]), right - left, chart_y(c, 0) - chart_y(c, sum[i]));
    }
    (void)s;
}

/* Below the axis: from which needs up to which stocked length, with what is cut away. */
static void draw_served(struct chart_panel *c, const struct chart_stock *s, double y)
{
    double before = c->frame.x, used = c->whole.x;
    for (size_t i = 0; i < s->n_stock; i++) {
        char says[80], a[CHART_FIGURE_SIZE];
        const double at = chart_x(c, s->stock[i]);
        paper_rule(c->p, PAPER_ACT, 3, before + 1.5, y, at - 0.5, y);
        chart_arrow(c, PAPER_ACT, at, y, 1, 0);
        (void)snprintf(says, sizeof says, "%s from it", chart_figure(s->served[i], 9, a));
        const double wide = paper_line_width(c->p, PAPER_SMALL, says);
        const double x =
            fmin(fmax((before + at - wide) / 2, c->frame.x), c->frame.x + c->frame.width - wide);
        if (wide + 4 < at - before && x > used) {
            paper_line(c->p, PAPER_SMALL, x, y + 4, wide + 1, PAPER_LEFT, says);
            used = x + wide + 2;
        }
        before = at;
    }
}

static void label_stock(struct chart_panel *c, const struct chart_stock *s)
{
    for (size_t i = 0; i < s->n_stock; i++)
        chart_rule_x(c, s->stock[i], PAPER_ACT, 1.6, CHART_SOLID);
    /* The longest last of all: where not every label has room, the ends are named first. */
    for (size_t k = 0; k < s->n_stock; k++) {
        char says[CHART_FIGURE_SIZE];
        const size_t i = k == 0 ? s->n_stock - 1 : k - 1;
        chart_label(c, PAPER_ACTION, chart_x(c, s->stock[i]), c->frame.y + 8,
                    k == 0 ? CHART_LEFT : CHART_RIGHT, chart_figure(s->stock[i], 6, says));
    }
}

void chart_draw_stock(struct paper *p, const struct chart *chart, struct chart_box box)
{
    const struct chart_stock *s = &chart->stock;
    char label[80];
    if (s->n == 0)
        return;
    const double first = s->length[0], last = s->length[s->n - 1];
    double least = last - first > 0 ? last - first : 1;
    for (size_t i = 1; i < s->n; i++)
        least = fmin(least, s->length[i] - s->length[i - 1]);
    const double range = last - first > 0 ? last - first : 1;
    const double width = fmax(least, range / fmax(box.width / 4, 8));
    const double from = first - width / 2;
    const size_t bins = (size_t)((last - from) / width) + 1;
    double *sum = calloc(bins, sizeof *sum);
    if (sum == NULL) {
        p->is_broken = true;
        return;
    }
    for (size_t i = 0; i < s->n; i++)
        sum[(size_t)fmin((s->length[i] - from) / width, (double)bins - 1)] += s->pieces[i];
    const struct chart_side x = {.label =
                                     chart_with_unit("length needed", s->unit, label, sizeof label),
                                 .axis = {.low = from, .high = last + width / 2}};
    const struct chart_side y = {.label = "pieces needed",
                                 .axis = {.low = 0, .high = chart_most(sum, bins, 1) * 1.25}};
    struct chart_box upper = box;
    upper.height -= SERVED;
    struct chart_panel *c = chart_panel_new(p, upper, &x, &y, 0, 12);
    if (c != NULL) {
        draw_needs(c, s, sum, bins, from, width);
        label_stock(c, s);
        paper_line(p, PAPER_QUIET, c->frame.x, upper.y + upper.height + 6, c->frame.width,
                   PAPER_LEFT, "cut from which stocked length:");
        draw_served(c, s, upper.y + upper.height + 24);
    }
    chart_panel_free(c);
    free(sum);
}
