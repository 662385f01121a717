/* chart_window: how often what was built on each day failed, the run that stands out with what is known of its ends, and the price of
 * each line that may be drawn. */
#include "draw/chart_parts.h"

#include "core/date.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

/* Days put together: bin i is [from + i width, from + (i + 1) width). */
struct bins {
    double from, width;
    size_t n;
    double *built, *failed; /* one allocation; free built */
};

/* The least width of whole weeks, or of 1, 2, 5 times a power of ten, with no more bins than wanted. Weeks begin on Monday. */
static double width_of(const struct chart_window *w, double days, double most)
{
    static const double spans[] = {1, 7, 14, 28, 56, 91, 182, 364, 728, 3640};
    for (size_t i = 0; w->is_date && i < sizeof spans / sizeof *spans; i++)
        if (days / spans[i] <= most)
            return spans[i];
    return fmax(chart_nice(days / most, false), 1);
}

static bool bins_new(const struct chart_window *w, double most, struct bins *ret)
{
    const double first = w->day[0], last = w->day[w->n - 1];
    *ret = (struct bins){.width = width_of(w, last - first + 1, most)};
    const double phase = w->is_date ? 4 : 0; /* day 4 was a Monday */
    ret->from = floor((first - phase) / ret->width) * ret->width + phase;
    ret->n = (size_t)((last - ret->from) / ret->width) + 1;
    ret->built = calloc(2 * ret->n, sizeof(double));
    ret->failed = ret->built != NULL ? ret->built + ret->n : NULL;
    for (size_t i = 0; i < w->n && ret->built != NULL; i++) {
        const size_t at = (size_t)((w->day[i] - ret->from) / ret->width);
        ret->built[at] += w->built[i];
        ret->failed[at] += w->failed[i];
    }
    return ret->built != NULL;
}

static const char *span_word(const struct bins *b, bool is_date, char *buf, size_t room)
{
    if (b->width == 1)
        return "day";
    if (is_date && b->width == 7)
        return "week";
    if (is_date && fmod(b->width, 7) == 0)
        (void)snprintf(buf, room, "%.0f weeks", b->width / 7);
    else
        (void)snprintf(buf, room, "%.0f days", b->width);
    return buf;
}

static void day_text(const struct chart_window *w, double day, char *buf, size_t room)
{
    if (w->is_date && room >= DATE_SHOW_SIZE)
        date_show((int32_t)day, buf);
    else
        chart_number(day, 1, buf, room);
}

/* ---- the rate ---------------------------------------------------------------------------------- */

static double rate_of(const struct bins *b, size_t i)
{
    return b->built[i] > 0 ? b->failed[i] / b->built[i] : 0;
}

static void draw_bars(struct chart_panel *c, const struct chart_window *w, const struct bins *b)
{
    const double gap = b->n < 200 ? 0.5 : 0;
    for (size_t i = 0; i < b->n; i++) {
        const double left = b->from + (double)i * b->width, middle = left + b->width / 2;
        bool is_in = false;
        for (size_t k = 0; k < w->n_runs; k++)
            is_in |=
                w->runs[k].is_found && middle >= w->runs[k].first && middle <= w->runs[k].last + 1;
        if (rate_of(b, i) <= 0)
            continue;
        const double x0 = fmax(chart_x(c, left) + gap, c->frame.x),
                     x1 = fmin(chart_x(c, left + b->width) - gap, c->frame.x + c->frame.width);
        const double top = chart_y(c, rate_of(b, i));
        chart_bar(c, is_in ? PAPER_ACT : PAPER_GREY, x0, chart_y(c, 0), fmax(x1, x0 + 0.3), top);
        chart_take(c, x0, top, x1 - x0, chart_y(c, 0) - top);
    }
}

/* How high the brackets of run i stand: above the bars, runs below one another. */
static double run_line(const struct chart_panel *c, size_t i)
{
    return c->frame.y + 10 + 11 * (double)(i % 3);
}

/* From where to where an end may lie: a lying whisker above the bars. */
static void draw_ends(struct chart_panel *c, const struct chart_window_run *r, double at)
{
    if (!r->has_set)
        return;
    chart_whisker(c, PAPER_INK, 1.4, chart_x(c, r->first_low), chart_x(c, r->first_high + 1), at,
                  true);
    chart_whisker(c, PAPER_INK, 1.4, chart_x(c, r->last_low), chart_x(c, r->last_high + 1), at,
                  true);
}

static void label_run(struct chart_panel *c, const struct chart_window *w, size_t i)
{
    const struct chart_window_run *r = &w->runs[i];
    char says[120], from[CHART_TICK_SIZE], to[CHART_TICK_SIZE], a[CHART_FIGURE_SIZE];
    day_text(w, r->first, from, sizeof from);
    day_text(w, r->last, to, sizeof to);
    if (i == 0 && r->is_found) /* its days stand in the title */
        (void)snprintf(says, sizeof says, "%s of 100", chart_figure(100 * r->rate_inside, 3, a));
    else
        (void)snprintf(says, sizeof says, "%s to %s: %s of 100%s", from, to,
                       chart_figure(100 * r->rate_inside, 3, a),
                       r->is_found ? "" : ", as chance may have it");
    const double end = fmax(r->last, r->has_set ? r->last_high : r->last) + 1;
    chart_label(c, r->is_found ? PAPER_ACTION : PAPER_BODY, chart_x(c, end), run_line(c, i),
                CHART_RIGHT, says);
    if (!r->has_outside || i > 0)
        return;
    (void)snprintf(says, sizeof says, "elsewhere %s of 100",
                   chart_figure(100 * r->rate_outside, 3, a));
    const bool is_right = chart_x(c, r->last) < c->frame.x + c->frame.width * 0.6;
    chart_label(c, PAPER_BODY, c->frame.x + c->frame.width * (is_right ? 0.95 : 0.05),
                chart_y(c, r->rate_outside), CHART_ABOVE, says);
}

static void draw_run(struct chart_panel *c, const struct chart_window_run *r, size_t i)
{
    const double inside = chart_y(c, r->rate_inside), x0 = chart_x(c, r->first),
                 x1 = chart_x(c, r->last + 1);
    chart_segment(c, PAPER_INK, 1, CHART_DASHED, x0, inside, x1, inside);
    if (r->has_outside && i == 0)
        chart_rule_y(c, r->rate_outside, PAPER_INK, 0.8, CHART_DOTTED);
    draw_ends(c, r, run_line(c, i));
}

static void draw_rate(struct paper *p, const struct chart_window *w, const struct bins *b,
                      struct chart_box box)
{
    char label[100], span[40];
    double most = 0;
    for (size_t i = 0; i < b->n; i++)
        most = fmax(most, rate_of(b, i));
    for (size_t i = 0; i < w->n_runs; i++)
        most = fmax(most, w->runs[i].rate_inside);
    (void)snprintf(label, sizeof label, "failed of 100 built, by %s of building",
                   span_word(b, w->is_date, span, sizeof span));
    const double end = b->from + (double)b->n * b->width;
    const struct chart_side x = {
        .label = "",
        .axis = {.scale = w->is_date ? CHART_DAYS : CHART_LINEAR, .low = b->from, .high = end},
        .is_fixed = true};
    const struct chart_side y = {.label = label,
                                 .axis = {.low = 0, .high = most * 1.35, .factor = 100}};
    struct chart_panel *c = chart_panel_new(p, box, &x, &y, 40, 8);
    if (c == NULL)
        return;
    for (size_t i = 0; i < w->n_runs; i++)
        if (w->runs[i].is_found)
            chart_span_x(c, w->runs[i].first, w->runs[i].last + 1, PAPER_BAND);
    draw_bars(c, w, b);
    for (size_t i = 0; i < w->n_runs; i++)
        if (w->runs[i].is_found || i == 0)
            draw_run(c, &w->runs[i], i);
    for (size_t i = 0; i < w->n_runs; i++)
        if (w->runs[i].is_found || i == 0)
            label_run(c, w, i);
    chart_panel_free(c);
}

/* What was built: how much each bar above rests on. */
static void draw_built(struct paper *p, const struct chart_window *w, const struct bins *b,
                       struct chart_box box)
{
    const struct chart_side x = {.label = w->is_date ? "day of building"
                                                     : "day of building, as numbered",
                                 .axis = {.scale = w->is_date ? CHART_DAYS : CHART_LINEAR,
                                          .low = b->from,
                                          .high = b->from + (double)b->n * b->width},
                                 .is_fixed = true};
    const struct chart_side y = {.label = "units built",
                                 .axis = {.low = 0, .high = chart_most(b->built, b->n, 1)}};
    struct chart_panel *c = chart_panel_new(p, box, &x, &y, 40, 8);
    if (c == NULL)
        return;
    for (size_t i = 0; i < b->n; i++) {
        const double left = b->from + (double)i * b->width, gap = b->n < 200 ? 0.5 : 0;
        if (b->built[i] > 0)
            chart_bar(c, PAPER_RULE, chart_x(c, left) + gap, chart_y(c, 0),
                      fmax(chart_x(c, left + b->width) - gap, chart_x(c, left) + 0.3),
                      chart_y(c, b->built[i]));
    }
    chart_panel_free(c);
}

/* ---- the price of the line ---------------------------------------------------------------------- */

static void label_cut(struct chart_panel *c, const struct chart_window *w, size_t i,
                      enum paper_style style)
{
    char says[100], from[CHART_TICK_SIZE], to[CHART_TICK_SIZE];
    day_text(w, w->cuts[i].first, from, sizeof from);
    day_text(w, w->cuts[i].last, to, sizeof to);
    (void)snprintf(says, sizeof says, "%s to %s", from, to);
    chart_label_near(c, style, chart_x(c, w->cuts[i].needless), chart_y(c, w->cuts[i].left),
                     CHART_RIGHT, says);
}

static void draw_cost(struct paper *p, const struct chart_window *w, struct chart_box box)
{
    double wide = 0, left = 0;
    for (size_t i = 0; i < w->n_cuts; i++) {
        wide = fmax(wide, w->cuts[i].needless);
        left = fmax(left, w->cuts[i].left);
    }
    const struct chart_side x = {.label = "units swept in needlessly, expected",
                                 .axis = {.low = 0, .high = wide > 0 ? wide : 1}};
    const struct chart_side y = {.label = "bad units left out, expected",
                                 .axis = {.low = 0, .high = left > 0 ? left : 1}};
    struct chart_panel *c = chart_panel_new(p, box, &x, &y, 0, 30);
    if (c == NULL)
        return;
    for (size_t i = 0; i + 1 < w->n_cuts; i++)
        chart_segment(c, PAPER_GREY, 0.9, CHART_SOLID, chart_x(c, w->cuts[i].needless),
                      chart_y(c, w->cuts[i].left), chart_x(c, w->cuts[i + 1].needless),
                      chart_y(c, w->cuts[i + 1].left));
    size_t found = w->n_cuts;
    for (size_t i = 0; i < w->n_cuts; i++) {
        const bool is_it = w->n_runs > 0 && w->cuts[i].first == w->runs[0].first &&
                           w->cuts[i].last == w->runs[0].last;
        const double x_at = chart_x(c, w->cuts[i].needless), y_at = chart_y(c, w->cuts[i].left);
        chart_dot(c, is_it ? PAPER_ACT : PAPER_INK, x_at, y_at, is_it ? 4 : 2.8, !is_it);
        chart_take(c, x_at - 4, y_at - 4, 8, 8);
        found = is_it && found == w->n_cuts ? i : found;
    }
    /* The run itself and the two ends first; of the others those that have room beside them. */
    if (found < w->n_cuts)
        label_cut(c, w, found, PAPER_ACTION);
    if (found != 0)
        label_cut(c, w, 0, PAPER_QUIET);
    if (w->n_cuts > 1 && found != w->n_cuts - 1)
        label_cut(c, w, w->n_cuts - 1, PAPER_QUIET);
    for (size_t i = 1; i + 1 < w->n_cuts; i++)
        if (i != found)
            label_cut(c, w, i, PAPER_QUIET);
    chart_panel_free(c);
}

void chart_draw_window(struct paper *p, const struct chart *chart, struct chart_box box)
{
    const struct chart_window *w = &chart->window;
    struct bins b;
    const bool has_cost = w->n_cuts > 0 && box.width >= 480;
    const double wide = has_cost ? box.width * 0.64 : box.width;
    if (w->n == 0)
        return;
    if (!bins_new(w, fmax(wide / 6, 10), &b)) {
        p->is_broken = true;
        return;
    }
    const bool has_built = box.height >= 180;
    const double upper = has_built ? box.height * 0.7 : box.height + 4;
    draw_rate(p, w, &b, (struct chart_box){box.x, box.y, wide - 8, upper - 4});
    if (has_built)
        draw_built(p, w, &b,
                   (struct chart_box){box.x, box.y + upper + 4, wide - 8, box.height - upper - 4});
    if (has_cost)
        draw_cost(p, w,
                  (struct chart_box){box.x + wide + 8, box.y, box.width - wide - 8, box.height});
    free(b.built);
}
