/* chart_panel: owns how axes are drawn and where labels may stand. */
#include "draw/chart_parts.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { GAP = 4, TICK = 3, ROOM = 14, HALF = 14, NAME_GAP = 6, LEADER = 16, FARTHEST = 200 };
/* An axis ends at whole steps of so many at least, so that little of it stays empty; fewer are named where there is no room. */
enum { ENDS = 6 };

double chart_x(const struct chart_panel *c, double value)
{
    return chart_at(&c->x, value);
}

double chart_y(const struct chart_panel *c, double value)
{
    return chart_at(&c->y, value);
}

/* ---- axes ------------------------------------------------------------------------------------- */

static double widest(struct paper *p, const struct chart_tick *ticks, size_t n)
{
    double most = 0;
    for (size_t i = 0; i < n; i++)
        most = fmax(most, paper_line_width(p, PAPER_QUIET, ticks[i].text));
    return most;
}

/* As many ticks as leave room between their numbers; which numbers those are depends on how many there are. */
static size_t x_ticks(struct paper *p, const struct chart_axis *a, double width,
                      struct chart_tick *ticks)
{
    for (size_t most = (size_t)fmin(fmax(width / 28, 2), 13);; most--) {
        const size_t n = chart_ticks(a, most, ticks);
        if (most <= 2 || (widest(p, ticks, n) + ROOM) * (double)n <= width + ROOM)
            return n;
    }
}

/* A number is left out where it would touch the one before it or the edge: two far ticks of a log axis, a very narrow panel. */
static void draw_x(struct chart_panel *c, const struct chart_tick *ticks, size_t n)
{
    const double base = c->frame.y + c->frame.height;
    double used = c->whole.x - GAP;
    for (size_t i = 0; i < n; i++) {
        const double at = chart_x(c, ticks[i].value);
        const double wide = paper_line_width(c->p, PAPER_QUIET, ticks[i].text);
        paper_rule(c->p, PAPER_GREY, 0.6, at, base, at, base + TICK);
        if (at - wide / 2 < used + GAP || at + wide / 2 > c->whole.x + c->whole.width + 0.5)
            continue;
        paper_line(c->p, PAPER_QUIET, at - wide / 2, base + TICK + 1, wide + 1, PAPER_LEFT,
                   ticks[i].text);
        used = at + wide / 2;
    }
}

static void draw_y(struct chart_panel *c, const struct chart_tick *ticks, size_t n)
{
    const double tall = paper_line_height(c->p, PAPER_QUIET);
    double used = c->whole.y + c->whole.height + tall;
    for (size_t i = 0; i < n; i++) {
        const double at = chart_y(c, ticks[i].value);
        const double wide = paper_line_width(c->p, PAPER_QUIET, ticks[i].text);
        paper_rule(c->p, PAPER_RULE, 0.5, c->frame.x, at, c->frame.x + c->frame.width, at);
        if (at + tall * 0.8 > used)
            continue; /* a very low panel */
        used = at;
        paper_line(c->p, PAPER_QUIET, c->frame.x - GAP - wide, at - tall / 2, wide + 1, PAPER_LEFT,
                   ticks[i].text);
    }
}

static size_t y_ticks(const struct chart_axis *a, double height, struct chart_tick *ticks)
{
    return chart_ticks(a, (size_t)fmin(fmax(height / 22, 2), 9), ticks);
}

struct chart_panel *chart_panel_new(struct paper *p, struct chart_box box,
                                    const struct chart_side *x, const struct chart_side *y,
                                    double left, double right)
{
    struct chart_panel *c = calloc(1, sizeof *c);
    if (c == NULL) {
        p->is_broken = true;
        return NULL;
    }
    struct chart_tick ys[CHART_TICKS_MAX];
    const double line = paper_line_height(p, PAPER_QUIET);
    *c = (struct chart_panel){.p = p, .whole = box, .x = x->axis, .y = y->axis};
    const double above = *y->label != '\0' ? line + 5 : y->is_bare ? 0 : line / 2;
    const double below = (x->is_bare ? 0 : TICK + 1 + line) + (*x->label != '\0' ? line + 1 : 0);
    c->frame.y = box.y + above;
    c->frame.height = fmax(box.height - above - below, 1);
    if (!y->is_bare)
        chart_axis_nice(&c->y, (int)fmin(fmax(c->frame.height / 34, ENDS), 8), y->is_fixed);
    c->y.from = c->frame.y + c->frame.height;
    c->y.to = c->frame.y;
    const size_t n_y = y->is_bare ? 0 : y_ticks(&c->y, c->frame.height, ys);
    /* Half of the first number of the x axis stands left of the frame, half of the last one right of it. */
    left = fmax(left, x->is_bare ? 0 : HALF);
    right = fmax(right, x->is_bare ? 0 : HALF);
    const double room_left =
        fmin(fmax(left, n_y > 0 ? widest(p, ys, n_y) + GAP : 0), box.width * 0.6);
    c->frame.x = box.x + room_left;
    c->frame.width = fmax(box.width - room_left - fmin(right, box.width * 0.3), 1);
    if (!x->is_bare)
        chart_axis_nice(&c->x, (int)fmin(fmax(c->frame.width / 60, ENDS), 10), x->is_fixed);
    c->x.from = c->frame.x;
    c->x.to = c->frame.x + c->frame.width;
    c->n_x_ticks = x->is_bare ? 0 : x_ticks(p, &c->x, c->frame.width, c->x_tick);
    draw_y(c, ys, n_y);
    draw_x(c, c->x_tick, c->n_x_ticks);
    const double base = c->frame.y + c->frame.height;
    paper_rule(p, PAPER_GREY, 0.8, c->frame.x, base, c->frame.x + c->frame.width, base);
    paper_line(p, PAPER_QUIET, box.x, box.y, box.width, PAPER_LEFT, y->label);
    /* Below the frame's middle; where it is wider than the frame, as far to the left as it must. */
    const double wide = fmin(paper_line_width(p, PAPER_QUIET, x->label), box.width);
    const double at = fmin(c->frame.x + (c->frame.width - wide) / 2, box.x + box.width - wide);
    paper_line(p, PAPER_QUIET, fmax(at, box.x), box.y + box.height - line, wide + 1, PAPER_LEFT,
               x->label);
    return c;
}

void chart_panel_free(struct chart_panel *c)
{
    free(c);
}

void chart_clip(struct chart_panel *c)
{
    cairo_save(c->p->cr);
    cairo_rectangle(c->p->cr, c->frame.x, c->frame.y - 1, c->frame.width, c->frame.height + 2);
    cairo_clip(c->p->cr);
}

void chart_unclip(struct chart_panel *c)
{
    cairo_restore(c->p->cr);
}

/* ---- labels ----------------------------------------------------------------------------------- */

void chart_take(struct chart_panel *c, double x, double y, double width, double height)
{
    if (c->n_taken < CHART_TAKEN_MAX)
        c->taken[c->n_taken++] = (struct chart_box){x, y, width, height};
}

static bool is_free(const struct chart_panel *c, const struct chart_box *b)
{
    if (b->x < c->frame.x + 0.01 || b->x + b->width > c->whole.x + c->whole.width + 0.01 ||
        b->y < c->frame.y - 0.01 || b->y + b->height > c->frame.y + c->frame.height + 0.01)
        return false;
    for (size_t i = 0; i < c->n_taken; i++) {
        const struct chart_box *t = &c->taken[i];
        if (b->x < t->x + t->width && t->x < b->x + b->width && b->y < t->y + t->height &&
            t->y < b->y + b->height)
            return false;
    }
    return true;
}

/* The place of a box of this size beside (x, y), `off` away on a side; `slide` moves it along that side. */
static struct chart_box beside(double x, double y, double width, double height,
                               enum chart_prefer side, double off, double slide)
{
    switch (side) {
    case CHART_RIGHT:
        return (struct chart_box){x + off, y - height / 2 + slide, width, height};
    case CHART_LEFT:
        return (struct chart_box){x - off - width, y - height / 2 + slide, width, height};
    case CHART_ABOVE:
        return (struct chart_box){x - width / 2 + slide, y - off - height, width, height};
    default:
        return (struct chart_box){x - width / 2 + slide, y + off, width, height};
    }
}

/* Nearest first: each ring of distance, the preferred side before the others, straight beside before slid along. */
static bool find_room(const struct chart_panel *c, double x, double y, double width, double height,
                      enum chart_prefer prefer, double farthest, struct chart_box *ret,
                      bool *ret_is_apart)
{
    static const enum chart_prefer order[4][4] = {
        [CHART_RIGHT] = {CHART_RIGHT, CHART_ABOVE, CHART_BELOW, CHART_LEFT},
        [CHART_LEFT] = {CHART_LEFT, CHART_ABOVE, CHART_BELOW, CHART_RIGHT},
        [CHART_ABOVE] = {CHART_ABOVE, CHART_RIGHT, CHART_LEFT, CHART_BELOW},
        [CHART_BELOW] = {CHART_BELOW, CHART_RIGHT, CHART_LEFT, CHART_ABOVE}};
    enum { NEAR_RINGS = 5, RINGS = 28 }; /* three points apart, then eight */
    static const double slides[] = {0, -0.5, 0.5, -1, 1};
    for (int ring = 0; ring < RINGS; ring++) {
        const double off =
            ring < NEAR_RINGS ? 5 + 3 * (double)ring : 20 + 8 * (double)(ring - NEAR_RINGS);
        if (off >= farthest)
            break;
        for (size_t i = 0; i < 4; i++)
            for (size_t k = 0; k < sizeof slides / sizeof *slides; k++) {
                const enum chart_prefer side = order[prefer][i];
                const double along = side == CHART_RIGHT || side == CHART_LEFT
                                         ? slides[k] * (height + off / 2)
                                         : slides[k] * (width + off) / 2;
                *ret = beside(x, y, width, height, side, off, along);
                *ret_is_apart =
                    off > LEADER || (k > 0 && (side == CHART_ABOVE || side == CHART_BELOW));
                if (is_free(c, ret))
                    return true;
            }
    }
    return false;
}

static bool label(struct chart_panel *c, enum paper_style style, double x, double y,
                  enum chart_prefer prefer, double farthest, const char *text)
{
    struct chart_box b;
    bool is_apart = false;
    const double width = fmin(paper_line_width(c->p, style, text), c->frame.width * 0.9),
                 height = paper_line_height(c->p, style);
    if (*text == '\0' || !find_room(c, x, y, width, height, prefer, farthest, &b, &is_apart))
        return false;
    if (is_apart) { /* from the place to the nearest edge of the text */
        const double to_x = fmin(fmax(x, b.x), b.x + b.width),
                     to_y = fmin(fmax(y, b.y), b.y + b.height);
        paper_rule(c->p, PAPER_GREY, 0.5, x, y, to_x, to_y);
    }
    /* the rules and bands behind would run through the letters */
    paper_fill(c->p, c->p->kind == PAPER_PDF ? 0xffffff : PAPER_WARM, b.x - 1, b.y + 0.5,
               b.width + 2, b.height - 1);
    paper_line(c->p, style, b.x, b.y, b.width + 1, PAPER_LEFT, text);
    chart_take(c, b.x - 1, b.y, b.width + 2, b.height);
    return true;
}

bool chart_label(struct chart_panel *c, enum paper_style style, double x, double y,
                 enum chart_prefer prefer, const char *text)
{
    return label(c, style, x, y, prefer, FARTHEST, text);
}

bool chart_label_near(struct chart_panel *c, enum paper_style style, double x, double y,
                      enum chart_prefer prefer, const char *text)
{
    return label(c, style, x, y, prefer, LEADER, text);
}

double chart_names_width(struct paper *p, enum paper_style style, const char *name, double most,
                         double limit)
{
    return fmin(fmax(most, paper_line_width(p, style, name) + NAME_GAP + 2), limit);
}

void chart_name(struct chart_panel *c, enum paper_style style, double y, const char *text)
{
    const double room = c->frame.x - c->whole.x - NAME_GAP;
    const double wide = fmin(paper_line_width(c->p, style, text), room);
    paper_line(c->p, style, c->frame.x - NAME_GAP - wide, y - paper_line_height(c->p, style) / 2,
               wide + 1, PAPER_LEFT, text);
}

double chart_row(const struct chart_panel *c, size_t i, size_t n)
{
    return c->frame.y + c->frame.height * ((double)i + 0.5) / (double)n;
}

size_t chart_rows_shown(struct paper *p, size_t n, size_t n_all, const char *what,
                        struct chart_box *box)
{
    char says[180];
    const size_t shown = chart_fewer(n, CHART_ROWS_MAX);
    if (shown >= n_all)
        return shown;
    (void)snprintf(says, sizeof says, "... and %zu more %.60s, not drawn; the answer has them all.",
                   n_all - shown, what);
    const double line = paper_line_height(p, PAPER_QUIET);
    paper_line(p, PAPER_QUIET, box->x, box->y + box->height - line, box->width, PAPER_LEFT, says);
    box->height -= line + 4;
    return shown;
}

/* ---- figures ---------------------------------------------------------------------------------- */

const char *chart_figure(double value, int digits, char *buf)
{
    if (isinf(value))
        return value > 0 ? "\xE2\x88\x9E" : "\xE2\x88\x92\xE2\x88\x9E";
    if (value == 0 || fabs(value) >= 1e9 || fabs(value) < 1e-9) {
        (void)snprintf(buf, CHART_FIGURE_SIZE, "%.*g", digits, value);
        return buf;
    }
    const int power = (int)floor(log10(fabs(value)));
    const int decimals = digits - 1 - power > 0 ? digits - 1 - power : 0;
    chart_number(value, pow(10, -decimals), buf, CHART_FIGURE_SIZE);
    if (strchr(buf, '.') != NULL) {
        size_t n = strlen(buf);
        while (buf[n - 1] == '0')
            n--;
        buf[buf[n - 1] == '.' ? n - 1 : n] = '\0';
    }
    return buf;
}

const char *chart_cut(const char *name, char *buf)
{
    const size_t n = strlen(name);
    size_t used = 0;
    uint32_t code = 0;
    if (n <= CHART_NAME_BYTES) {
        memcpy(buf, name, n + 1);
        return buf;
    }
    for (size_t size;
         (size = text_decode(name + used, n - used, &code)) > 0 && used + size <= CHART_NAME_BYTES;)
        used += size;
    memcpy(buf, name, used);
    memcpy(buf + used, "\xE2\x80\xA6", 4);
    return buf;
}

const char *chart_with_unit(const char *what, const char *unit, char *buf, size_t room)
{
    char cut[CHART_NAME_SIZE];
    (void)snprintf(buf, room, "%s%s%s", what, *unit != '\0' ? ", " : "", chart_cut(unit, cut));
    return buf;
}

double chart_least(const double *v, size_t n, double none)
{
    double least = n > 0 ? v[0] : none;
    for (size_t i = 1; i < n; i++)
        least = fmin(least, v[i]);
    return least;
}

double chart_most(const double *v, size_t n, double none)
{
    double most = n > 0 ? v[0] : none;
    for (size_t i = 1; i < n; i++)
        most = fmax(most, v[i]);
    return most;
}
