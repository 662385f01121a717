/* chart_digits: on which steps the readings of each shop end, against all steps alike. */
#include "draw/chart_parts.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

enum { BARS_MAX = 50, LEAST_WIDTH = 150, LEAST_HEIGHT = 76 };

/* Steps put together so that there are at most BARS_MAX bars. */
static size_t steps_a_bar(const struct chart_digits *d)
{
    return (d->n_steps + BARS_MAX - 1) / BARS_MAX;
}

static double share_of(const struct chart_digits *d, const struct chart_digits_group *g, size_t bar,
                       size_t *ret_n)
{
    const size_t each = steps_a_bar(d), first = bar * each;
    double sum = 0;
    *ret_n = 0;
    for (size_t i = first; i < first + each && i < d->n_steps; i++, ++*ret_n)
        sum += g->count[i];
    return g->n > 0 ? sum / g->n : 0;
}

static double highest_of(const struct chart_digits *d, size_t n)
{
    double most = 0;
    size_t steps = 0;
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k * steps_a_bar(d) < d->n_steps; k++)
            most = fmax(most, share_of(d, &d->groups[i], k, &steps));
    return fmax(most, 1.0 / (double)d->n_steps);
}

static void verdict_of(const struct chart_digits_group *g, char *buf, size_t room)
{
    char n[CHART_FIGURE_SIZE], q[CHART_FIGURE_SIZE];
    chart_number(g->n, 1, n, sizeof n);
    if (!g->is_tested)
        (void)snprintf(buf, room, "%s readings, too few to test", n);
    else
        (void)snprintf(buf, room, "%s%s readings, q %s%s", g->is_flagged ? "LOOK: " : "", n,
                       g->q < 0.0001 ? "<0.0001" : chart_figure(g->q, 2, q),
                       g->is_narrow ? ", spread too narrow" : "");
}

static void names_of(struct chart_panel *c, const struct chart_digits *d, size_t bars, double width)
{
    double used = c->whole.x - 4;
    const double y = c->frame.y + c->frame.height + 2;
    for (size_t k = 0; k < bars; k++) {
        const char *name = d->step[k * steps_a_bar(d)];
        const double wide = paper_line_width(c->p, PAPER_SMALL, name),
                     at = c->frame.x + width * ((double)k + 0.5) - wide / 2;
        if (at < used + 3 || at + wide > c->whole.x + c->whole.width)
            continue;
        paper_line(c->p, PAPER_SMALL, at, y, wide + 1, PAPER_LEFT, name);
        used = at + wide;
    }
}

static void draw_group(struct paper *p, const struct chart_digits *d,
                       const struct chart_digits_group *g, double most, struct chart_box box)
{
    char says[100];
    const double line = paper_line_height(p, PAPER_SMALL),
                 head = 2 * paper_line_height(p, PAPER_BODY) + 2;
    const struct chart_side x = {.label = "", .axis = {.low = 0, .high = 1}, .is_bare = true};
    const struct chart_side y = {.label = "", .axis = {.low = 0, .high = most, .factor = 100}};
    verdict_of(g, says, sizeof says);
    paper_line(p, g->is_flagged ? PAPER_HAZARD : PAPER_STRONG, box.x, box.y, box.width, PAPER_LEFT,
               g->name);
    paper_line(p, g->is_flagged ? PAPER_HAZARD : PAPER_QUIET, box.x, box.y + head / 2 - 1,
               box.width, PAPER_LEFT, says);
    struct chart_panel *c = chart_panel_new(
        p, (struct chart_box){box.x, box.y + head, box.width, box.height - head - line - 3}, &x, &y,
        22, 2);
    if (c == NULL)
        return;
    const size_t each = steps_a_bar(d), bars = (d->n_steps + each - 1) / each;
    const double width = c->frame.width / (double)bars, foot = c->frame.y + c->frame.height;
    for (size_t k = 0; k < bars; k++) {
        size_t n = 0;
        const double share = share_of(d, g, k, &n), left = c->frame.x + width * (double)k;
        const double even = chart_y(c, (double)n / (double)d->n_steps);
        if (share > 0)
            paper_fill(p, g->is_flagged ? PAPER_STOP : PAPER_GREY, left + width * 0.12,
                       chart_y(c, share), width * 0.76, foot - chart_y(c, share));
        paper_rule(p, PAPER_INK, 1, left, even, left + width, even);
    }
    names_of(c, d, bars, width);
    chart_panel_free(c);
}

void chart_draw_digits(struct paper *p, const struct chart *chart, struct chart_box box)
{
    const struct chart_digits *d = &chart->digits;
    size_t n = chart_fewer(d->n, CHART_PANELS_MAX);
    char says[160], more[60] = "";
    if (n == 0 || d->n_steps == 0)
        return;
    const double line = paper_line_height(p, PAPER_QUIET), room = box.height - line - 4;
    const size_t most = n < 4 ? n : n == 4 ? 2 : 3;
    const size_t across = (size_t)fmin(fmax(floor(box.width / LEAST_WIDTH), 1), (double)most);
    const size_t fits = across * (size_t)fmax(floor(room / LEAST_HEIGHT), 1);
    n = chart_fewer(n, fits);
    const size_t down = (n + across - 1) / across;
    if (d->n_all > n)
        (void)snprintf(more, sizeof more, " %zu more groups are not drawn.", d->n_all - n);
    (void)snprintf(says, sizeof says,
                   "Up: share of a group's readings, %%. Across: the step above the whole %.20s.%s",
                   d->whole, more);
    paper_line(p, PAPER_QUIET, box.x, box.y + box.height - line, box.width, PAPER_LEFT, says);
    const double wide = box.width / (double)across, tall = room / (double)down;
    const double highest = highest_of(d, n);
    for (size_t i = 0; i < n; i++) {
        const size_t column = i % across, row = i / across;
        const double inset = column == 0 ? 0 : 8;
        draw_group(p, d, &d->groups[i], highest,
                   (struct chart_box){box.x + wide * (double)column + inset,
                                      box.y + tall * (double)row, wide - inset - 8, tall - 8});
    }
}
