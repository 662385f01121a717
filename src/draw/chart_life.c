/* chart_life: the share still whole by age, with its interval, the fitted curve, and how many were under watch. */
#include "draw/chart_parts.h"

#include <math.h>
#include <stdio.h>

enum { SHOWN_MAX = 6, ROW = 12 };

static const struct {
    uint32_t colour;
    enum chart_dash dash;
} looks[SHOWN_MAX] = {{PAPER_ACT, CHART_SOLID},  {PAPER_INK, CHART_DASHED},
                      {PAPER_GREY, CHART_SOLID}, {PAPER_ACT, CHART_DOTTED},
                      {PAPER_INK, CHART_DOTTED}, {PAPER_GREY, CHART_DASHED}};

/* The groups with most units, at most SHOWN_MAX, in the order given. */
static size_t choose(const struct chart_life *l, size_t shown[SHOWN_MAX])
{
    size_t n = 0;
    for (size_t i = 0; i < l->n_groups; i++) {
        size_t larger = 0;
        for (size_t k = 0; k < l->n_groups; k++)
            larger +=
                l->groups[k].n > l->groups[i].n || (k < i && l->groups[k].n == l->groups[i].n);
        if (larger < SHOWN_MAX && n < SHOWN_MAX)
            shown[n++] = i;
    }
    return n;
}

static double last_of(const struct chart_life_group *g)
{
    return g->n > 0 ? g->end[g->n - 1] : 0;
}

/* Units under watch at t: entered by then, and neither failed nor left before. */
static size_t watched(const struct chart_life_group *g, double t)
{
    size_t entered = 0, left = 0;
    for (size_t low = 0, high = g->n; low < high;) { /* first end that is not before t */
        const size_t middle = low + (high - low) / 2;
        if (g->end[middle] < t)
            low = middle + 1;
        else
            high = middle;
        left = low;
    }
    if (g->entry == NULL)
        return g->n - left;
    for (size_t low = 0, high = g->n; low < high;) { /* first entry after t */
        const size_t middle = low + (high - low) / 2;
        if (g->entry[middle] <= t)
            low = middle + 1;
        else
            high = middle;
        entered = low;
    }
    return entered > left ? entered - left : 0;
}

/* Units that were whole when last seen: a tick on the curve, one where many would cover one another. */
static void draw_whole(struct chart_panel *c, const struct chart_life_group *g, uint32_t colour)
{
    double last = -HUGE_VAL, share = 1;
    size_t step = 0;
    for (size_t i = 0; i < g->n; i++) {
        if (g->event[i])
            continue;
        for (; step < g->left.n && g->left.x[step] <= g->end[i]; step++)
            share = g->left.y[step];
        const double x = chart_x(c, g->end[i]), y = chart_y(c, share);
        if (x - last < 2)
            continue;
        paper_rule(c->p, colour, 0.8, x, y - 3, x, y + 3);
        last = x;
    }
}

static double lowest(const struct chart_life *l, const size_t *shown, size_t n)
{
    double least = 1;
    for (size_t i = 0; i < n; i++) {
        const struct chart_life_group *g = &l->groups[shown[i]];
        least = fmin(least, chart_least(g->left.y, g->left.n, 1));
        if (n <= 2)
            least = fmin(least, chart_least(g->left.low, g->left.n_band, 1));
    }
    return least > 0.55 ? floor(least * 10 - 0.2) / 10 : 0;
}

static double share_left(const struct chart_life_group *g)
{
    return g->left.n > 0 ? g->left.y[g->left.n - 1] : 1;
}

static void end_text(const struct chart_life_group *g, char *buf, size_t room)
{
    char share[CHART_FIGURE_SIZE], name[CHART_NAME_SIZE];
    (void)snprintf(buf, room, "%s%s%s %%", chart_cut(g->name, name), *g->name != '\0' ? " " : "",
                   chart_figure(100 * share_left(g), 3, share));
}

static void label_group(struct chart_panel *c, const struct chart_life_group *g, uint32_t colour)
{
    char says[160];
    const double y = share_left(g);
    end_text(g, says, sizeof says);
    chart_label(c, colour == PAPER_ACT ? PAPER_ACTION : PAPER_STRONG, chart_x(c, last_of(g)),
                chart_y(c, y), CHART_RIGHT, says);
}

static void label_fit(struct chart_panel *c, const struct chart_life_group *g)
{
    if (g->fit.n == 0)
        return;
    const size_t i = g->fit.n * 2 / 3;
    chart_label(c, PAPER_QUIET, chart_x(c, g->fit.x[i]), chart_y(c, g->fit.y[i]), CHART_ABOVE,
                "Weibull");
}

static void draw_rows(struct chart_panel *c, const struct chart_life *l, const size_t *shown,
                      size_t n, double y)
{
    paper_line(c->p, PAPER_QUIET, c->whole.x, y, c->whole.width, PAPER_LEFT, "units under watch");
    for (size_t i = 0; i < n; i++) {
        const struct chart_life_group *g = &l->groups[shown[i]];
        const double top = y + ROW * (double)(i + 1);
        double used = c->whole.x;
        if (*g->name != '\0')
            paper_line(c->p, PAPER_SMALL, c->frame.x + c->frame.width + 14, top,
                       c->whole.x + c->whole.width - c->frame.x - c->frame.width - 14, PAPER_LEFT,
                       g->name);
        for (size_t k = 0; k < c->n_x_ticks; k++) {
            char says[CHART_TICK_SIZE];
            chart_number((double)watched(g, c->x_tick[k].value), 1, says, sizeof says);
            const double wide = paper_line_width(c->p, PAPER_QUIET, says),
                         at = chart_x(c, c->x_tick[k].value) - wide / 2;
            if (at < used)
                continue;
            paper_line(c->p, PAPER_QUIET, at, top, wide + 1, PAPER_LEFT, says);
            used = at + wide + 4;
        }
    }
}

static void draw_curves(struct chart_panel *c, const struct chart_life *l, const size_t *shown,
                        size_t n)
{
    chart_clip(c);
    for (size_t i = 0; i < n && n <= 2; i++)
        chart_stairs_band(c, &l->groups[shown[i]].left, 1, 0, last_of(&l->groups[shown[i]]), i > 0);
    for (size_t i = 0; i < n; i++) {
        const struct chart_life_group *g = &l->groups[shown[i]];
        if (n <= 2)
            chart_line(c, &g->fit, n == 1 ? PAPER_INK : looks[i].colour, 1, CHART_DOTTED);
        chart_stairs(c, &g->left, 1, 0, last_of(g), looks[i].colour, 1.6, looks[i].dash);
        draw_whole(c, g, looks[i].colour);
    }
    chart_unclip(c);
    for (size_t i = 0; i < n; i++)
        label_group(c, &l->groups[shown[i]], looks[i].colour);
    if (n == 1)
        label_fit(c, &l->groups[shown[0]]);
}

static void draw_left(struct paper *p, const struct chart_life *l, struct chart_box box)
{
    char x_label[120], y_label[80], says[160];
    size_t shown[SHOWN_MAX];
    const size_t n = choose(l, shown);
    double most = 0, right = 0;
    for (size_t i = 0; i < n; i++) {
        most = fmax(most, last_of(&l->groups[shown[i]]));
        end_text(&l->groups[shown[i]], says, sizeof says);
        right = chart_names_width(p, PAPER_STRONG, says, right, box.width * 0.28);
    }
    const double low = lowest(l, shown, n);
    (void)snprintf(y_label, sizeof y_label, "share still whole, %%%s",
                   low > 0 ? " (the axis does not begin at 0)" : "");
    const struct chart_side x = {.label = chart_with_unit("age", l->unit, x_label, sizeof x_label),
                                 .axis = {.low = 0, .high = most > 0 ? most : 1}};
    const struct chart_side y = {
        .label = y_label, .axis = {.low = low, .high = 1, .factor = 100}, .is_fixed = true};
    const double rows = ROW * (double)(n + 1) + 2;
    if (l->n_groups > n) {
        (void)snprintf(says, sizeof says, "The %zu largest of %zu groups are drawn.", n,
                       l->n_groups);
        paper_line(p, PAPER_QUIET, box.x, box.y + box.height - ROW, box.width, PAPER_LEFT, says);
        box.height -= ROW + 2;
    }
    const bool has_rows = box.height > rows + 90;
    struct chart_box frame = box;
    frame.height -= has_rows ? rows : 0;
    struct chart_panel *c = chart_panel_new(p, frame, &x, &y, 0, right);
    if (c == NULL)
        return;
    draw_curves(c, l, shown, n);
    if (has_rows)
        draw_rows(c, l, shown, n, frame.y + frame.height + 2);
    chart_panel_free(c);
}

/* Failures a unit, repeats counted: rising steps. */
static void draw_mean(struct paper *p, const struct chart_life *l, struct chart_box box)
{
    char x_label[120], says[80], a[CHART_FIGURE_SIZE];
    const struct chart_steps *m = &l->mean;
    const double last = m->x[m->n - 1], high = chart_most(m->high, m->n_band, m->y[m->n - 1]);
    const struct chart_side x = {.label = chart_with_unit("age", l->unit, x_label, sizeof x_label),
                                 .axis = {.low = 0, .high = last}};
    const struct chart_side y = {.label = "failures a unit, repeats counted",
                                 .axis = {.low = 0, .high = high}};
    struct chart_panel *c = chart_panel_new(p, box, &x, &y, 0, 40);
    if (c == NULL)
        return;
    chart_clip(c);
    chart_stairs_band(c, m, 0, 0, last, false);
    chart_stairs(c, m, 0, 0, last, PAPER_ACT, 1.6, CHART_SOLID);
    chart_unclip(c);
    (void)snprintf(says, sizeof says, "%s", chart_figure(m->y[m->n - 1], 3, a));
    chart_label(c, PAPER_ACTION, chart_x(c, last), chart_y(c, m->y[m->n - 1]), CHART_RIGHT, says);
    chart_panel_free(c);
}

void chart_draw_life(struct paper *p, const struct chart *chart, struct chart_box box)
{
    const struct chart_life *l = &chart->life;
    if (l->mean.n == 0 || box.width < 400) {
        draw_left(p, l, box);
        return;
    }
    const double half = box.width / 2;
    draw_left(p, l, (struct chart_box){box.x, box.y, half - 8, box.height});
    draw_mean(p, l, (struct chart_box){box.x + half + 8, box.y, half - 8, box.height});
}
