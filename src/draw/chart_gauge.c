/* chart_gauge: what the spread is made of, and how each person reads. */
#include "draw/chart_parts.h"

#include <math.h>
#include <stdio.h>

#define NAMES 0.4 /* of the width at most for the rows' names */

static void draw_parts(struct paper *p, const struct chart_gauge *g, struct chart_box box)
{
    char label[80], says[80], a[CHART_FIGURE_SIZE], b[CHART_FIGURE_SIZE];
    double most = g->total_sd, names = 0;
    for (size_t i = 0; i < g->n_parts; i++)
        names = chart_names_width(p, PAPER_BODY, g->parts[i].name, names, box.width * NAMES);
    for (size_t i = 0; i < g->n_parts; i++)
        most = fmax(most, g->parts[i].has_interval ? g->parts[i].high : g->parts[i].sd);
    /* An interval of few people reaches very far: it is cut at three times the whole, and an arrow says so. */
    const double cut = fmin(most, 3 * g->total_sd);
    const struct chart_side x = {
        .label = chart_with_unit("spread (standard deviation)", g->unit, label, sizeof label),
        .axis = {.low = 0, .high = cut}};
    const struct chart_side y = {.label = "", .axis = {.low = 0, .high = 1}, .is_bare = true};
    struct chart_panel *c = chart_panel_new(p, box, &x, &y, names, 72);
    if (c == NULL)
        return;
    const double half = fmin(9, c->frame.height / (double)g->n_parts * 0.3);
    for (size_t i = 0; i < g->n_parts; i++) {
        const struct chart_gauge_part *k = &g->parts[i];
        const double at = chart_row(c, i, g->n_parts), end = chart_x(c, k->sd);
        double reach = end;
        chart_bar(c, i + 1 == g->n_parts ? PAPER_RULE : PAPER_BAND, c->frame.x, at - half, end,
                  at + half);
        paper_rule(p, PAPER_INK, 1.4, end, at - half, end, at + half);
        if (k->has_interval) {
            const bool is_cut = k->high > chart_value(&c->x, c->frame.x + c->frame.width);
            reach = is_cut ? c->frame.x + c->frame.width : chart_x(c, k->high);
            chart_whisker(c, PAPER_ACT, 1.4, chart_x(c, k->low), reach, at, true);
            if (is_cut)
                chart_arrow(c, PAPER_ACT, reach + 6, at, 1, 0);
            reach += is_cut ? 8 : 0;
        }
        chart_name(c, PAPER_BODY, at, k->name);
        (void)snprintf(says, sizeof says, "%s (%s %%)", chart_figure(k->sd, 3, a),
                       chart_figure(g->total_sd > 0 ? 100 * k->sd / g->total_sd : 0, 2, b));
        chart_label(c, PAPER_QUIET, fmax(reach, end), at, CHART_RIGHT, says);
    }
    chart_panel_free(c);
}

static void draw_people(struct paper *p, const struct chart_gauge *g, struct chart_box box)
{
    char label[100];
    double most = 0, names = 0;
    const size_t n = chart_rows_shown(p, g->n_people, g->n_people, "people", &box);
    for (size_t i = 0; i < n; i++)
        names = chart_names_width(p, PAPER_BODY, g->people[i].name, names, box.width * NAMES);
    for (size_t i = 0; i < g->n_people; i++)
        for (size_t k = 0; k < g->people[i].n; k++)
            most = fmax(most, fabs(g->people[i].off[k]));
    const struct chart_side x = {
        .label = chart_with_unit("reading less its part's mean", g->unit, label, sizeof label),
        .axis = {.low = -most, .high = most}};
    const struct chart_side y = {.label = "", .axis = {.low = 0, .high = 1}, .is_bare = true};
    struct chart_panel *c = chart_panel_new(p, box, &x, &y, names, 8);
    if (c == NULL)
        return;
    chart_rule_x(c, 0, PAPER_GREY, 0.8, CHART_SOLID);
    const double tall = c->frame.height / (double)n;
    double radius = HUGE_VAL;
    for (size_t i = 0; i < n; i++)
        radius = fmin(radius, chart_strip_radius(c, g->people[i].off, g->people[i].n, tall * 0.66));
    for (size_t i = 0; i < n; i++) {
        const struct chart_gauge_person *k = &g->people[i];
        const double base = c->frame.y + tall * ((double)i + 0.82);
        double sum = 0;
        for (size_t r = 0; r < k->n; r++)
            sum += k->off[r];
        chart_strip(c, k->off, k->n, base, tall * 0.66, radius, PAPER_GREY);
        paper_rule(p, PAPER_RULE, 0.5, c->frame.x, base, c->frame.x + c->frame.width, base);
        if (k->n > 0) { /* the person's own mean: a wedge from below */
            const double at = chart_x(c, sum / (double)k->n);
            const double xy[6] = {at, base, at - 4, base + 6, at + 4, base + 6};
            paper_poly(p, PAPER_ACT, xy, 3);
        }
        chart_name(c, PAPER_BODY, base - tall * 0.25, k->name);
    }
    chart_panel_free(c);
}

void chart_draw_gauge(struct paper *p, const struct chart *chart, struct chart_box box)
{
    const struct chart_gauge *g = &chart->gauge;
    const bool has_people = g->n_people > 0 && box.width >= 480;
    const double wide = has_people ? box.width * 0.58 : box.width;
    if (g->n_parts > 0)
        draw_parts(p, g, (struct chart_box){box.x, box.y, wide - 8, box.height});
    if (has_people)
        draw_people(p, g,
                    (struct chart_box){box.x + wide + 8, box.y, box.width - wide - 8, box.height});
}
