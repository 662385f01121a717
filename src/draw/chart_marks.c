/* chart_marks: owns lines, steps, bands, bars, dots and whiskers, and what of them labels keep away from. */
#include "draw/chart_parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define NEAR 0.3 /* points: two places this near look like one */

static void dash_of(cairo_t *cr, enum chart_dash dash)
{
    static const double dashes[][2] = {{0, 0}, {6, 3}, {1.5, 2.5}};
    cairo_set_dash(cr, dashes[dash], dash == CHART_SOLID ? 0 : 2, 0);
}

static void stroke(struct chart_panel *c, uint32_t colour, double thick, enum chart_dash dash)
{
    cairo_t *cr = c->p->cr;
    paper_ink(c->p, colour);
    cairo_set_line_width(cr, thick);
    cairo_set_line_join(cr, CAIRO_LINE_JOIN_ROUND);
    dash_of(cr, dash);
    cairo_stroke(cr);
    dash_of(cr, CHART_SOLID);
}

/* Boxes of some points' size along a line, so that labels keep off it. */
static void take_along(struct chart_panel *c, double x0, double y0, double x1, double y1)
{
    enum { EVERY = 5 };
    const double length = hypot(x1 - x0, y1 - y0);
    const int n = (int)fmin(length / EVERY, 400);
    for (int i = 0; i <= n; i++) {
        const double s = n > 0 ? (double)i / n : 0;
        chart_take(c, x0 + s * (x1 - x0) - 1, y0 + s * (y1 - y0) - 1, 2, 2);
    }
}

/* A path that leaves out places which cannot be told from the last. */
struct pen {
    struct chart_panel *c;
    double x, y, taken_x, taken_y;
    bool is_down, has_rest;
    double rest_x, rest_y;
};

static void pen_to(struct pen *p, double x, double y)
{
    p->has_rest = p->is_down && fabs(x - p->x) < NEAR && fabs(y - p->y) < NEAR;
    p->rest_x = x;
    p->rest_y = y;
    if (p->has_rest)
        return;
    if (!p->c->p->is_dry && !p->is_down)
        cairo_new_path(p->c->p->cr); /* a text drawn before has left its place */
    if (!p->c->p->is_dry)
        cairo_line_to(p->c->p->cr, x, y);
    if (!p->is_down || hypot(x - p->taken_x, y - p->taken_y) > 4) {
        take_along(p->c, p->is_down ? p->taken_x : x, p->is_down ? p->taken_y : y, x, y);
        p->taken_x = x;
        p->taken_y = y;
    }
    p->x = x;
    p->y = y;
    p->is_down = true;
}

static void pen_end(struct pen *p)
{
    if (p->has_rest && !p->c->p->is_dry)
        cairo_line_to(p->c->p->cr, p->rest_x, p->rest_y);
}

void chart_line(struct chart_panel *c, const struct chart_curve *curve, uint32_t colour,
                double thick, enum chart_dash dash)
{
    struct pen pen = {.c = c};
    for (size_t i = 0; i < curve->n; i++)
        pen_to(&pen, chart_x(c, curve->x[i]), chart_y(c, curve->y[i]));
    pen_end(&pen);
    if (!c->p->is_dry)
        stroke(c, colour, thick, dash);
}

void chart_stairs(struct chart_panel *c, const struct chart_steps *s, double first, double from,
                  double to, uint32_t colour, double thick, enum chart_dash dash)
{
    struct pen pen = {.c = c};
    double y = chart_y(c, first), last = chart_x(c, from);
    pen_to(&pen, last, y);
    for (size_t i = 0; i < s->n; i++) {
        const double x = chart_x(c, s->x[i]), next = chart_y(c, s->y[i]);
        if (x - last < NEAR && fabs(next - y) < NEAR && i + 1 < s->n)
            continue; /* so many steps that they make a slope */
        pen_to(&pen, x, y);
        pen_to(&pen, x, next);
        y = next;
        last = x;
    }
    pen_to(&pen, chart_x(c, to), y);
    pen_end(&pen);
    if (!c->p->is_dry)
        stroke(c, colour, thick, dash);
}

/* One edge of the band: from left to right, or back. */
static void edge(struct chart_panel *c, const struct chart_steps *s, const double *v, double first,
                 double from, double to, bool is_back)
{
    cairo_t *cr = c->p->cr;
    const double start = chart_x(c, from), end = chart_x(c, to);
    double last = is_back ? end : start;
    const double first_y = chart_y(c, first);
    cairo_line_to(cr, last, is_back && s->n_band > 0 ? chart_y(c, v[s->n_band - 1]) : first_y);
    for (size_t k = 0; k < s->n_band; k++) {
        const size_t i = is_back ? s->n_band - 1 - k : k;
        const double x = chart_x(c, s->x[i]), before = i > 0 ? chart_y(c, v[i - 1]) : first_y,
                     after = chart_y(c, v[i]);
        if (fabs(x - last) < NEAR && fabs(after - before) < NEAR && k > 0 && k + 1 < s->n_band)
            continue;
        cairo_line_to(cr, x, is_back ? after : before);
        cairo_line_to(cr, x, is_back ? before : after);
        last = x;
    }
    cairo_line_to(cr, is_back ? start : end,
                  is_back || s->n_band == 0 ? first_y : chart_y(c, v[s->n_band - 1]));
}

/* Labels keep off the band: they would bite holes into it. */
static void take_band(struct chart_panel *c, const struct chart_steps *s, double end)
{
    enum { EVERY = 8 };
    size_t i = 0;
    const double begin = chart_x(c, s->x[0]),
                 last = fmin(chart_x(c, end), c->frame.x + c->frame.width);
    const int n = (int)fmin(fmax(ceil((last - begin) / EVERY), 0), CHART_TAKEN_MAX);
    for (int k = 0; k < n; k++) {
        const double x = begin + EVERY * (double)k;
        while (i + 1 < s->n_band && chart_x(c, s->x[i + 1]) <= x)
            i++;
        const double top = chart_y(c, s->high[i]), foot = chart_y(c, s->low[i]);
        chart_take(c, x, fmin(top, foot), EVERY, fabs(foot - top));
    }
}

void chart_stairs_band(struct chart_panel *c, const struct chart_steps *s, double first,
                       double from, double to, bool is_hatched)
{
    if (c->p->is_dry || s->n_band == 0)
        return;
    /* Where the interval ends before the steps do, so does the band. */
    const double end = s->n_band < s->n ? s->x[s->n_band] : to;
    cairo_t *cr = c->p->cr;
    take_band(c, s, end);
    cairo_save(cr);
    cairo_new_path(cr);
    edge(c, s, s->high, first, from, end, false);
    edge(c, s, s->low, first, from, end, true);
    cairo_close_path(cr);
    if (is_hatched) {
        cairo_clip(cr);
        paper_hatch(c->p, PAPER_GREY, c->frame.x, c->frame.y, c->frame.width, c->frame.height, 5);
    } else {
        paper_ink(c->p, PAPER_BAND);
        cairo_fill(cr);
    }
    cairo_restore(cr);
}

void chart_share(struct chart_panel *c, const double *level, size_t n, uint32_t colour,
                 double thick)
{
    struct pen pen = {.c = c};
    double last = c->frame.x;
    pen_to(&pen, last, chart_y(c, 0));
    for (size_t i = 0; i < n; i++) {
        const double x = chart_x(c, level[i]);
        if (x - last < NEAR && i > 0 && i + 1 < n)
            continue; /* the next that is drawn rises by this one too */
        pen_to(&pen, x, chart_y(c, (double)i / (double)n));
        pen_to(&pen, x, chart_y(c, (double)(i + 1) / (double)n));
        last = x;
    }
    pen_to(&pen, c->frame.x + c->frame.width, chart_y(c, 1));
    pen_end(&pen);
    if (!c->p->is_dry)
        stroke(c, colour, thick, CHART_SOLID);
}

void chart_segment(struct chart_panel *c, uint32_t colour, double thick, enum chart_dash dash,
                   double x0, double y0, double x1, double y1)
{
    take_along(c, x0, y0, x1, y1);
    if (c->p->is_dry)
        return;
    cairo_move_to(c->p->cr, x0, y0);
    cairo_line_to(c->p->cr, x1, y1);
    stroke(c, colour, thick, dash);
}

void chart_rule_x(struct chart_panel *c, double x, uint32_t colour, double thick,
                  enum chart_dash dash)
{
    const double at = chart_x(c, x);
    chart_segment(c, colour, thick, dash, at, c->frame.y, at, c->frame.y + c->frame.height);
}

void chart_rule_y(struct chart_panel *c, double y, uint32_t colour, double thick,
                  enum chart_dash dash)
{
    const double at = chart_y(c, y);
    chart_segment(c, colour, thick, dash, c->frame.x, at, c->frame.x + c->frame.width, at);
}

void chart_span_x(struct chart_panel *c, double low, double high, uint32_t colour)
{
    const double from = fmin(fmax(chart_x(c, low), c->frame.x), c->frame.x + c->frame.width),
                 to = fmin(fmax(chart_x(c, high), c->frame.x), c->frame.x + c->frame.width);
    paper_fill(c->p, colour, from, c->frame.y, to - from, c->frame.height);
}

void chart_bar(struct chart_panel *c, uint32_t colour, double x0, double y0, double x1, double y1)
{
    const double left = fmin(x0, x1), top = fmin(y0, y1);
    paper_fill(c->p, colour, left, top, fabs(x1 - x0), fabs(y1 - y0));
}

void chart_dot(struct chart_panel *c, uint32_t colour, double x, double y, double radius,
               bool is_ring)
{
    if (c->p->is_dry)
        return;
    cairo_new_sub_path(c->p->cr);
    cairo_arc(c->p->cr, x, y, radius, 0, 6.283185307179586);
    if (is_ring) {
        paper_ink(c->p, PAPER_CARD);
        cairo_fill_preserve(c->p->cr);
        stroke(c, colour, 1.2, CHART_SOLID);
        return;
    }
    paper_ink(c->p, colour);
    cairo_fill(c->p->cr);
}

void chart_whisker(struct chart_panel *c, uint32_t colour, double thick, double low, double high,
                   double at, bool is_lying)
{
    enum { CAP = 3 };
    if (is_lying) {
        paper_rule(c->p, colour, thick, low, at, high, at);
        paper_rule(c->p, colour, thick, low, at - CAP, low, at + CAP);
        paper_rule(c->p, colour, thick, high, at - CAP, high, at + CAP);
        chart_take(c, fmin(low, high) - 1, at - CAP, fabs(high - low) + 2, 2 * CAP);
        return;
    }
    paper_rule(c->p, colour, thick, at, low, at, high);
    paper_rule(c->p, colour, thick, at - CAP, low, at + CAP, low);
    paper_rule(c->p, colour, thick, at - CAP, high, at + CAP, high);
    chart_take(c, at - CAP, fmin(low, high) - 1, 2 * CAP, fabs(high - low) + 2);
}

void chart_arrow(struct chart_panel *c, uint32_t colour, double x, double y, double dx, double dy)
{
    enum { LONG = 6, WIDE = 3 };
    const double xy[6] = {x,
                          y,
                          x - LONG * dx - WIDE * dy,
                          y - LONG * dy - WIDE * dx,
                          x - LONG * dx + WIDE * dy,
                          y - LONG * dy + WIDE * dx};
    paper_poly(c->p, colour, xy, 3);
}

/* ---- many values ------------------------------------------------------------------------------ */

enum { CELLS_MAX = 4096 };
#define RADIUS_MOST 3.5
enum { RADII = 6 }; /* 3.5, 3.0 ... 1.0 */

/* So many dots that they are an area: the cells that hold one, side by side, as bars. */
static void draw_area(struct chart_panel *c, const uint8_t *seen, size_t across, size_t down,
                      double cell, uint32_t colour)
{
    for (size_t row = 0; row < down; row++)
        for (size_t i = 0, end = 0; i < across; i = end + 1) {
            for (end = i; end < across && seen[row * across + end] != 0; end++)
                ;
            if (end > i)
                paper_fill(c->p, colour, c->frame.x + (double)i * cell,
                           c->frame.y + (double)row * cell, (double)(end - i) * cell, cell);
        }
}

void chart_dots(struct chart_panel *c, const double *x, const double *y, size_t n, uint32_t colour,
                double radius)
{
    enum { DOTS_MAX = 5000, NEAR_ALL = 200 };
    const double cell = radius * 0.8;
    const size_t across = (size_t)fmin(c->frame.width / cell + 2, CELLS_MAX),
                 down = (size_t)fmin(c->frame.height / cell + 2, CELLS_MAX);
    uint8_t *seen = calloc(across * down, 1);
    if (seen == NULL) {
        c->p->is_broken = true;
        return;
    }
    for (size_t i = 0; i < n; i++) {
        const double at_x = chart_x(c, x[i]), at_y = chart_y(c, y[i]);
        const double column = (at_x - c->frame.x) / cell, row = (at_y - c->frame.y) / cell;
        if (column < 0 || row < 0 || column >= (double)across || row >= (double)down)
            continue;
        uint8_t *mark = &seen[(size_t)row * across + (size_t)column];
        if (*mark == 0 && n <= DOTS_MAX)
            chart_dot(c, colour, at_x, at_y, radius, false);
        if (*mark == 0 && n <= NEAR_ALL)
            chart_take(c, at_x - radius, at_y - radius, 2 * radius, 2 * radius);
        *mark = 1;
    }
    if (n > DOTS_MAX)
        draw_area(c, seen, across, down, cell, colour);
    free(seen);
}

static int by_value(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* The steps that readings come in (tenths, sixteenths), in points: the smallest distance between two of them, unless that is too
 * small to be seen. Cells that are not whole steps wide would make a comb of even data. */
static double grid_of(const struct chart_panel *c, const double *value, size_t n)
{
    enum { SAMPLE = 2000 };
    double sample[SAMPLE], step = HUGE_VAL;
    const size_t k = chart_fewer(n, SAMPLE);
    if (k == 0)
        return 0;
    for (size_t i = 0; i < k; i++)
        sample[i] = chart_x(c, value[i * (n / k)]);
    qsort(sample, k, sizeof *sample, by_value);
    for (size_t i = 1; i < k; i++)
        if (sample[i] - sample[i - 1] > 1e-6)
            step = fmin(step, sample[i] - sample[i - 1]);
    return isfinite(step) && step >= 0.5 ? step : 0;
}

/* Cells across the frame: cell i is [from + i cell, from + (i + 1) cell). */
struct cells {
    double from, cell;
    size_t n;
};

static struct cells cells_of(const struct chart_panel *c, double first, double least, double grid)
{
    struct cells k = {.from = c->frame.x, .cell = least};
    if (grid > 0) { /* the steps in the middle of their cells, as far as there is room */
        k.cell = ceil(least / grid - 1e-9) * grid;
        const double off = fmod(first - k.cell / 2 - c->frame.x, k.cell);
        k.from = c->frame.x + off - (off > 0 ? k.cell : 0);
    }
    k.n = (size_t)fmin((c->frame.x + c->frame.width - k.from) / k.cell + 1, CELLS_MAX);
    return k;
}

/* How many values fall into each cell; the greatest of it. */
static uint32_t count_cells(const struct chart_panel *c, const double *value, size_t n,
                            const struct cells *k, uint32_t *count)
{
    uint32_t most = 1;
    memset(count, 0, k->n * sizeof *count);
    for (size_t i = 0; i < n; i++) {
        const double column =
            fmin(fmax((chart_x(c, value[i]) - k->from) / k->cell, 0), (double)k->n - 1);
        if (count[(size_t)column] < UINT32_MAX)
            count[(size_t)column]++;
        most = count[(size_t)column] > most ? count[(size_t)column] : most;
    }
    return most;
}

double chart_strip_radius(struct chart_panel *c, const double *value, size_t n, double height)
{
    uint32_t *count = malloc(CELLS_MAX * sizeof *count);
    if (count == NULL || n == 0) {
        c->p->is_broken |= count == NULL;
        free(count);
        return RADIUS_MOST;
    }
    const double grid = grid_of(c, value, n), first = chart_x(c, value[0]);
    double radius = 0;
    for (int i = 0; i < RADII; i++) {
        radius = RADIUS_MOST - 0.5 * i;
        const struct cells k = cells_of(c, first, 2 * radius, grid);
        const uint32_t most = count_cells(c, value, n, &k, count);
        if ((double)most * 2 * radius <= height && 5 * radius <= height)
            break;
        radius = 0;
    }
    free(count);
    return radius;
}

void chart_strip(struct chart_panel *c, const double *value, size_t n, double base, double height,
                 double radius, uint32_t colour)
{
    enum { COLUMN = 3 };
    uint32_t *count = malloc(CELLS_MAX * sizeof *count);
    if (count == NULL || n == 0) {
        c->p->is_broken |= count == NULL;
        free(count);
        return;
    }
    const struct cells k =
        cells_of(c, chart_x(c, value[0]), radius > 0 ? 2 * radius : COLUMN, grid_of(c, value, n));
    const uint32_t most = count_cells(c, value, n, &k, count);
    for (size_t i = 0; i < k.n; i++) {
        const double left = k.from + (double)i * k.cell;
        for (uint32_t j = 0; radius > 0 && j < count[i]; j++)
            chart_dot(c, colour, left + k.cell / 2, base - radius - (double)j * 2 * radius, radius,
                      false);
        if (!(radius > 0) && count[i] > 0)
            paper_fill(c->p, colour, left, base - height * count[i] / most, k.cell - 0.4,
                       height * count[i] / most);
    }
    free(count);
}
