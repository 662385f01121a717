/* chart_capability: the final readings of each point and shop between their limits, and Ppk beside them. */
#include "draw/chart_parts.h"

#include <math.h>
#include <stdio.h>

#define GAP        18.0 /* between the readings and Ppk */
#define NAMES      0.42 /* of the width at most for the rows' names */
#define COMMON_PPK 1.33 /* four standard deviations to the nearer limit: common practice */

/* All rows on one axis when they have the same limits; else each row's own limits stand under one another, as on every strip. */
static bool is_shared(const struct chart_capability *k)
{
    for (size_t i = 1; i < k->n; i++) {
        const struct chart_capability_group *a = &k->groups[0], *b = &k->groups[i];
        if (a->has_low != b->has_low || a->has_high != b->has_high ||
            (a->has_low && a->low != b->low) || (a->has_high && a->high != b->high))
            return false;
    }
    return true;
}

/* A row's own axis: the limits at a sixth and five sixths of the width; one limit alone, or none: the readings' own range. */
static struct chart_axis row_axis(const struct chart_capability_group *g,
                                  const struct chart_panel *c, const struct chart_axis *shared)
{
    struct chart_axis a = {.from = c->frame.x, .to = c->frame.x + c->frame.width};
    if (shared != NULL)
        return c->x;
    a.low = g->has_low ? g->low : fmin(g->mean - 4 * g->sd, chart_least(g->value, g->n, g->mean));
    a.high = g->has_high ? g->high : fmax(g->mean + 4 * g->sd, chart_most(g->value, g->n, g->mean));
    const double room = fmax((a.high - a.low) / 4, 1e-9);
    a.low -= room;
    a.high += room;
    return a;
}

static void limit(struct chart_panel *c, const struct chart_axis *a, double value, double top,
                  double base, bool has_figure)
{
    char says[CHART_FIGURE_SIZE];
    const double at = chart_at(a, value);
    paper_rule(c->p, PAPER_INK, 1.1, at, top, at, base);
    if (!has_figure)
        return;
    const char *text = chart_figure(value, 6, says);
    const double wide = paper_line_width(c->p, PAPER_SMALL, text);
    paper_line(c->p, PAPER_SMALL, at - wide / 2, base + 1, wide + 1, PAPER_LEFT, text);
}

static void name_of(const struct chart_capability_group *g, char *buf, size_t room)
{
    char outside[CHART_FIGURE_SIZE], name[CHART_NAME_SIZE];
    if (g->n_outside > 0)
        (void)snprintf(buf, room, "%s: %s outside", chart_cut(g->name, name),
                       chart_figure(g->n_outside, 9, outside));
    else
        (void)snprintf(buf, room, "%s", chart_cut(g->name, name));
}

/* Where a row stands: its readings between top and base, its limits' figures below when it has its own. */
struct place {
    double top, base, height;
    const struct chart_axis *shared; /* NULL: the row's own */
    double radius;
};

static struct place place_of(const struct chart_panel *c, size_t i, size_t n, bool is_shared_axis)
{
    const double tall = c->frame.height / (double)n, top = c->frame.y + tall * (double)i;
    const double base = top + tall - (is_shared_axis ? 4 : 10);
    return (struct place){.top = top,
                          .base = base,
                          .height = base - top - 2,
                          .shared = is_shared_axis ? &c->x : NULL};
}

/* The largest dots that all rows can have. */
static double radius_of(struct chart_panel *c, const struct chart_capability *k, size_t n,
                        bool is_one)
{
    double radius = HUGE_VAL;
    const struct chart_axis was = c->x;
    for (size_t i = 0; i < n; i++) {
        const struct place at = place_of(c, i, n, is_one);
        c->x = row_axis(&k->groups[i], c, at.shared);
        radius =
            fmin(radius, chart_strip_radius(c, k->groups[i].value, k->groups[i].n, at.height - 5));
        c->x = was;
    }
    return radius;
}

static void draw_values(struct chart_panel *c, const struct chart_capability_group *g,
                        const struct place *at)
{
    const double right = c->frame.x + c->frame.width;
    chart_clip(c);
    chart_strip(c, g->value, g->n, at->base - 3, at->height - 5, at->radius,
                g->is_short ? PAPER_STOP : PAPER_GREY);
    chart_unclip(c);
    if (g->sd > 0) /* the mean and three standard deviations to either side */
        paper_rule(c->p, PAPER_ACT, 1.2, fmax(chart_x(c, g->mean - 3 * g->sd), c->frame.x),
                   at->base - 1.5, fmin(chart_x(c, g->mean + 3 * g->sd), right), at->base - 1.5);
    chart_dot(c, PAPER_ACT, chart_x(c, g->mean), at->base - 1.5, 2.6, false);
}

static void draw_row(struct chart_panel *c, const struct chart_capability_group *g,
                     const struct place *at)
{
    char says[160];
    const struct chart_axis was = c->x, a = row_axis(g, c, at->shared);
    const double right = c->frame.x + c->frame.width,
                 low = g->has_low ? fmax(chart_at(&a, g->low), c->frame.x) : c->frame.x,
                 high = g->has_high ? fmin(chart_at(&a, g->high), right) : right;
    paper_fill(c->p, PAPER_BAND, low, at->base - 3, high - low, 3);
    c->x = a;
    draw_values(c, g, at);
    c->x = was;
    const bool has_figures = at->shared == NULL;
    if (g->has_low)
        limit(c, &a, g->low, at->base - at->height, at->base, has_figures);
    if (g->has_high)
        limit(c, &a, g->high, at->base - at->height, at->base, has_figures);
    name_of(g, says, sizeof says);
    chart_name(c, g->is_short ? PAPER_HAZARD : PAPER_BODY, (at->top + at->base) / 2, says);
}

static void draw_readings(struct paper *p, const struct chart_capability *k, size_t n,
                          struct chart_box box)
{
    char label[120], unit[60], name[160];
    const bool shared = is_shared(k);
    double low = HUGE_VAL, high = -HUGE_VAL, names = 0;
    for (size_t i = 0; i < n; i++) {
        const struct chart_capability_group *g = &k->groups[i];
        name_of(g, name, sizeof name);
        names = chart_names_width(p, g->is_short ? PAPER_HAZARD : PAPER_BODY, name, names,
                                  box.width * NAMES);
        low = fmin(low, fmin(chart_least(g->value, g->n, g->mean), g->has_low ? g->low : g->mean));
        high =
            fmax(high, fmax(chart_most(g->value, g->n, g->mean), g->has_high ? g->high : g->mean));
    }
    (void)snprintf(unit, sizeof unit, "%.20s%s", k->unit,
                   shared ? "" : "; each row between its own limits");
    const struct chart_side x = {.label =
                                     chart_with_unit("final reading", unit, label, sizeof label),
                                 .axis = {.low = shared ? low : 0, .high = shared ? high : 1},
                                 .is_bare = !shared};
    const struct chart_side y = {.label = "", .axis = {.low = 0, .high = 1}, .is_bare = true};
    /* The panel beside has ticks; where this one has none, its foot must still stand as high, row in line with row. */
    box.height -= shared ? 0 : paper_line_height(p, PAPER_QUIET) + 4;
    struct chart_panel *c = chart_panel_new(p, box, &x, &y, names, 4);
    if (c == NULL)
        return;
    const double radius = radius_of(c, k, n, shared);
    for (size_t i = 0; i < n; i++) {
        struct place at = place_of(c, i, n, shared);
        at.radius = radius;
        draw_row(c, &k->groups[i], &at);
    }
    chart_panel_free(c);
}

static void draw_ppk(struct paper *p, const struct chart_capability *k, size_t n,
                     struct chart_box box)
{
    char says[60], a[CHART_FIGURE_SIZE];
    const double asked = k->least > 0 ? k->least : COMMON_PPK;
    double low = 0, high = asked;
    for (size_t i = 0; i < n; i++)
        if (k->groups[i].has_index) {
            low = fmin(low, k->groups[i].ppk_low);
            high = fmax(high, k->groups[i].ppk_high);
        }
    high = fmin(high, 4 * asked);
    low = fmax(low, -2 * asked);
    (void)snprintf(says, sizeof says, "Ppk; dashed: %s%s", chart_figure(asked, 3, a),
                   k->least > 0 ? " is asked for" : ", common practice");
    const struct chart_side x = {.label = says, .axis = {.low = low, .high = high}};
    const struct chart_side y = {.label = "", .axis = {.low = 0, .high = 1}, .is_bare = true};
    struct chart_panel *c = chart_panel_new(p, box, &x, &y, 6, 8);
    if (c == NULL)
        return;
    const double right = c->frame.x + c->frame.width;
    chart_rule_x(c, asked, PAPER_INK, 1, CHART_DASHED);
    for (size_t i = 0; i < n; i++) {
        const struct chart_capability_group *g = &k->groups[i];
        const double at = chart_row(c, i, n);
        const uint32_t colour = g->is_short ? PAPER_STOP : PAPER_INK;
        if (!g->has_index) {
            paper_line(p, PAPER_SMALL, c->frame.x + 2, at - 5, c->frame.width, PAPER_LEFT,
                       "too few, or all alike");
            continue;
        }
        const double from = fmax(chart_x(c, g->ppk_low), c->frame.x),
                     to = fmin(chart_x(c, g->ppk_high), right);
        chart_whisker(c, colour, 1.4, from, fmax(from, to), at, true);
        if (chart_x(c, g->ppk_high) > right)
            chart_arrow(c, colour, right + 6, at, 1, 0);
        chart_dot(c, colour, fmin(fmax(chart_x(c, g->ppk), c->frame.x), right), at, 3, g->is_short);
    }
    chart_panel_free(c);
}

void chart_draw_capability(struct paper *p, const struct chart *chart, struct chart_box box)
{
    const struct chart_capability *k = &chart->capability;
    const size_t n = chart_rows_shown(p, k->n, k->n_all, "groups", &box);
    if (n == 0)
        return;
    const double wide = box.width >= 360 ? box.width * 0.7 : box.width;
    draw_readings(p, k, n, (struct chart_box){box.x, box.y, wide - GAP / 2, box.height});
    if (box.width >= 360)
        draw_ppk(p, k, n,
                 (struct chart_box){box.x + wide + GAP / 2, box.y, box.width - wide - GAP / 2,
                                    box.height});
}
