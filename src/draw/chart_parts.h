/* chart_parts: what the pictures of studies share: panels with their axes, marks, and labels that keep out of one another's way. Nobody
 * else's. Places are in points, as in draw/paper.h. */
#ifndef DRAW_CHART_PARTS_H
#define DRAW_CHART_PARTS_H

#include "draw/chart.h"
#include "draw/chart_axis.h"
#include "draw/paper.h"

struct chart_box {
    double x, y, width, height;
};

static inline size_t chart_fewer(size_t a, size_t b)
{
    return a < b ? a : b;
}

/* ---- a panel ---------------------------------------------------------------------------------- */

enum { CHART_TAKEN_MAX = 3000 };

struct chart_panel {
    struct paper *p;
    struct chart_box frame; /* where the data are */
    struct chart_box whole; /* with axes; labels stay within */
    struct chart_axis x, y;
    size_t n_x_ticks;
    struct chart_tick x_tick[CHART_TICKS_MAX];
    size_t n_taken;
    struct chart_box taken[CHART_TAKEN_MAX]; /* where no label may go */
};

struct chart_side {
    const char *label;      /* what and in which unit; "" none */
    struct chart_axis axis; /* scale, low, high, factor; places are set here */
    bool is_fixed;          /* low and high are the ends; else they are widened to whole ticks */
    bool is_bare;           /* no ticks, no numbers, no rules: a panel of rows */
};

/* chart_panel: sets the places of both axes within the box and draws rules, ticks and labels. The y label stands above, the x label below.
 * left: room for names of rows; 0: what the y axis needs. right: room right of the frame for labels. Panels are large: allocated by
 * the caller, chart_panel_new; NULL and p->is_broken when memory ran out. */
struct chart_panel *chart_panel_new(struct paper *p, struct chart_box box,
                                    const struct chart_side *x, const struct chart_side *y,
                                    double left, double right);
void chart_panel_free(struct chart_panel *c);

double chart_x(const struct chart_panel *c, double value);
double chart_y(const struct chart_panel *c, double value);

/* Marks are drawn inside chart_clip only up to the frame's edges. */
void chart_clip(struct chart_panel *c);
void chart_unclip(struct chart_panel *c);

/* ---- marks ------------------------------------------------------------------------------------ */

enum chart_dash { CHART_SOLID, CHART_DASHED, CHART_DOTTED };

/* chart_line: through the points; chart_stairs: as steps that begin at (from, first) and go on to `to`. Points nearer than a third of a
 * point to the last one drawn are left out. Labels keep away from both. */
void chart_line(struct chart_panel *c, const struct chart_curve *curve, uint32_t colour,
                double thick, enum chart_dash dash);
void chart_stairs(struct chart_panel *c, const struct chart_steps *s, double first, double from,
                  double to, uint32_t colour, double thick, enum chart_dash dash);
/* chart_stairs_band: the interval of the steps, filled, or hatched. */
void chart_stairs_band(struct chart_panel *c, const struct chart_steps *s, double first,
                       double from, double to, bool is_hatched);
/* chart_share: the share of values that are no greater than x, of values in ascending order, as steps from the frame's left edge to its right. */
void chart_share(struct chart_panel *c, const double *level, size_t n, uint32_t colour,
                 double thick);
/* chart_segment: a straight line between two data points; chart_rule_x, chart_rule_y: across the frame at a value. */
void chart_segment(struct chart_panel *c, uint32_t colour, double thick, enum chart_dash dash,
                   double x0, double y0, double x1, double y1);
void chart_rule_x(struct chart_panel *c, double x, uint32_t colour, double thick,
                  enum chart_dash dash);
void chart_rule_y(struct chart_panel *c, double y, uint32_t colour, double thick,
                  enum chart_dash dash);
/* chart_span_x: everything between two values of x, shaded. */
void chart_span_x(struct chart_panel *c, double low, double high, uint32_t colour);
void chart_bar(struct chart_panel *c, uint32_t colour, double x0, double y0, double x1, double y1);

/* Marks at places in points. chart_dot: filled, or a ring. chart_whisker: a bar from low to high with caps, lying (at y) or standing (at x). */
void chart_dot(struct chart_panel *c, uint32_t colour, double x, double y, double radius,
               bool is_ring);
void chart_whisker(struct chart_panel *c, uint32_t colour, double thick, double low, double high,
                   double at, bool is_lying);
/* chart_arrow: a small arrow head whose tip is here; dx, dy: where it points, one of them 0. */
void chart_arrow(struct chart_panel *c, uint32_t colour, double x, double y, double dx, double dy);

/* chart_dots: one dot a row; dots that would cover one another are drawn once, and where there are thousands, as an area. */
void chart_dots(struct chart_panel *c, const double *x, const double *y, size_t n, uint32_t colour,
                double radius);
/* chart_strip: how values lie along the x axis, standing on the line at `base` and no higher than `height`: a dot each, stacked, or, with radius
 * 0, columns in proportion. chart_strip_radius: the largest dots whose stacks have room, 0 where none have. Rows beside one another take
 * the least of theirs. */
double chart_strip_radius(struct chart_panel *c, const double *value, size_t n, double height);
void chart_strip(struct chart_panel *c, const double *value, size_t n, double base, double height,
                 double radius, uint32_t colour);

/* ---- labels ----------------------------------------------------------------------------------- */

enum chart_prefer { CHART_RIGHT, CHART_LEFT, CHART_ABOVE, CHART_BELOW };

void chart_take(struct chart_panel *c, double x, double y, double width, double height);

/* chart_label: text beside the place, on the preferred side or where there is room, within the panel; a fine line leads to it when it
 * had to move far. Text wider than the panel ends in an ellipsis. False when there is no room at all: nothing is drawn. */
bool chart_label(struct chart_panel *c, enum paper_style style, double x, double y,
                 enum chart_prefer prefer, const char *text);

/* chart_label_near: the same, or nothing at all where there is no room close by. */
bool chart_label_near(struct chart_panel *c, enum paper_style style, double x, double y,
                      enum chart_prefer prefer, const char *text);

/* chart_names_width: room for the widest of the names that are passed one by one: most = chart_names_width(p, style, name, most), no more
 * than `limit`. chart_name: a row's name in the room left of the frame, its middle at y. */
double chart_names_width(struct paper *p, enum paper_style style, const char *name, double most,
                         double limit);
void chart_name(struct chart_panel *c, enum paper_style style, double y, const char *text);

/* ---- figures ---------------------------------------------------------------------------------- */

/* chart_row: the middle of row i of n. chart_rows_shown: how many of the n rows here are drawn; where
 * not all of n_all are, "and 12 more shops, not drawn" stands at the foot of the box, which gets lower by it. */
double chart_row(const struct chart_panel *c, size_t i, size_t n);
size_t chart_rows_shown(struct paper *p, size_t n, size_t n_all, const char *what,
                        struct chart_box *box);

/* chart_with_unit: "rate, per 1000 days", "age" when unit is "". buf[room]; returns buf. */
const char *chart_with_unit(const char *what, const char *unit, char *buf, size_t room);

/* chart_least, chart_most over an array; the given value when n is 0. */
double chart_least(const double *v, size_t n, double none);
double chart_most(const double *v, size_t n, double none);

/* ---- kinds: each draws its panels into the box ------------------------------------------------- */

void chart_draw_life(struct paper *p, const struct chart *c, struct chart_box box);
void chart_draw_window(struct paper *p, const struct chart *c, struct chart_box box);
void chart_draw_completion(struct paper *p, const struct chart *c, struct chart_box box);
void chart_draw_held(struct paper *p, const struct chart *c, struct chart_box box);
void chart_draw_labour(struct paper *p, const struct chart *c, struct chart_box box);
void chart_draw_gauge(struct paper *p, const struct chart *c, struct chart_box box);
void chart_draw_capability(struct paper *p, const struct chart *c, struct chart_box box);
void chart_draw_audit(struct paper *p, const struct chart *c, struct chart_box box);
void chart_draw_digits(struct paper *p, const struct chart *c, struct chart_box box);
void chart_draw_stock(struct paper *p, const struct chart *c, struct chart_box box);
void chart_draw_kits(struct paper *p, const struct chart *c, struct chart_box box);

#endif
