/* plot_true: owns the drawing of an opening, its readings and the plan. */
#include "draw/plot_parts.h"

#include "base/amount.h"
#include "draw/strip.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { CORNERS = 4, PANELS = 2, NONE = -1, PLACES = 9 };

static const double open_width = 296, open_height = 246, side_room = 52, inset = 24;

/* ---- who stands where ------------------------------------------------------------------------- */

static int factor_of(const struct problem *p, const char *name)
{
    for (size_t i = 0; i < p->n_factors; i++)
        if (strcmp(p->factor[i], name) == 0)
            return (int)i;
    return NONE;
}

/* Which point stands at each corner (0 upper left, 1 upper right, 2 lower left, 3 lower right) with the room in (0) or out (1). */
struct corners {
    int point[PANELS][CORNERS];
    int side, height, travel; /* factors */
    size_t n_panels;
};

static void find_corners(const struct problem *p, struct corners *ret)
{
    *ret = (struct corners){.side = factor_of(p, "side"),
                            .height = factor_of(p, "height"),
                            .travel = factor_of(p, "travel")};
    for (size_t panel = 0; panel < PANELS; panel++)
        for (size_t k = 0; k < CORNERS; k++)
            ret->point[panel][k] = NONE;
    if (ret->side == NONE || ret->height == NONE)
        return;
    for (size_t i = 0; i < p->truing.n_points; i++) {
        const int *level = p->modes[i].level;
        if (p->n_levels[i] < p->n_factors)
            continue;
        const size_t panel = ret->travel != NONE && level[ret->travel] > 0 ? 1 : 0;
        const size_t k = (level[ret->height] > 0 ? 0U : 2U) + (level[ret->side] > 0 ? 0U : 1U);
        if (ret->point[panel][k] == NONE)
            ret->point[panel][k] = (int)i;
        ret->n_panels = panel + 1 > ret->n_panels ? panel + 1 : ret->n_panels;
    }
}

/* ---- figures ---------------------------------------------------------------------------------- */

static struct strip strip_of(const struct plot_true *o, size_t i, int64_t reading)
{
    const struct truing_point *point = &o->problem->truing.points[i];
    return (struct strip){.limits = {point->low, point->high},
                          .guarded = o->answer->guarded[i],
                          .nominal = point->nominal,
                          .has_reading = true,
                          .reading = reading,
                          .expanded_u = 2 * point->u};
}

/* "inside", "1.4 over", "0.4 under", "too near to tell". */
static void say_verdict(const struct plot_true *o, size_t i, char *buf, size_t room)
{
    char by[AMOUNT_SIZE];
    const struct truing_point *point = &o->problem->truing.points[i];
    if (o->answer->point[i] == VERDICT_INSIDE)
        (void)snprintf(buf, room, "inside");
    else if (point->reading > point->high)
        (void)snprintf(buf, room, "%s over",
                       amount_figure(point->reading - point->high, o->unit, by));
    else if (point->reading < point->low)
        (void)snprintf(buf, room, "%s under",
                       amount_figure(point->low - point->reading, o->unit, by));
    else
        (void)snprintf(buf, room, "too near to tell");
}

static void corner(struct paper *p, const struct plot_true *o, size_t i, double x, double y,
                   double width)
{
    char figure[AMOUNT_SIZE], says[AMOUNT_SIZE + 24];
    const struct truing_point *point = &o->problem->truing.points[i];
    const struct strip strip = strip_of(o, i, point->reading);
    const bool is_stop = o->answer->point[i] == VERDICT_OUTSIDE;
    amount_figure(point->reading, o->unit, figure);
    const double wide = paper_line_width(p, PAPER_FIGURE, figure);
    paper_line(p, PAPER_FIGURE, x, y, width, PAPER_LEFT, figure);
    if (point->u > 0) {
        (void)snprintf(says, sizeof says, "\xC2\xB1%.2g",
                       2 * point->u / (double)quantity_unit_nano(o->unit));
        paper_line(p, PAPER_QUIET, x + wide + 3, y + 2.5, width - wide - 3, PAPER_LEFT, says);
    }
    strip_draw(p, x, y + 15, width, &strip);
    say_verdict(o, i, says, sizeof says);
    paper_line(p, is_stop ? PAPER_HAZARD : PAPER_QUIET, x, y + 33, width, PAPER_LEFT, says);
    paper_line(p, PAPER_SMALL, x, y + 45, width, PAPER_LEFT, o->problem->point_id[i]);
}

/* ---- the opening ------------------------------------------------------------------------------ */

/* How much larger a deviation is drawn than the gap it is part of: 1, 2, 5, 10, 20 ... so that the greatest takes about half the gap. */
static int exaggeration(const struct plot_true *o, const struct corners *c)
{
    double most = 0, gap = 0;
    for (size_t panel = 0; panel < c->n_panels; panel++)
        for (size_t k = 0; k < CORNERS; k++)
            if (c->point[panel][k] != NONE) {
                const struct truing_point *point = &o->problem->truing.points[c->point[panel][k]];
                most = fmax(most, fabs((double)(point->reading - point->nominal)));
                gap = fmax(gap, fabs((double)point->nominal));
            }
    static const int steps[] = {1, 2, 5, 10, 20, 50, 100};
    int best = 1;
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++)
        if (most > 0 && gap > 0 && steps[i] * most / gap <= 0.6)
            best = steps[i];
    return best;
}

/* The room's outline: each corner is off by its deviation, drawn so much larger. */
static void outline(struct paper *p, const struct plot_true *o, const int *point, double x,
                    double y, int larger)
{
    double xy[8];
    static const size_t around[CORNERS] = {0, 1, 3, 2};
    for (size_t n = 0; n < CORNERS; n++) {
        const size_t k = around[n];
        double gap = inset;
        if (point[k] != NONE) {
            const struct truing_point *at = &o->problem->truing.points[point[k]];
            const double nominal = fabs((double)at->nominal);
            gap += nominal > 0 ? inset * larger * (double)(at->reading - at->nominal) / nominal : 0;
        }
        gap = fmin(fmax(gap, 2), inset * 2);
        xy[2 * n] = k % 2 == 0 ? x + gap : x + open_width - gap;
        xy[2 * n + 1] = k < 2 ? y + 14 : y + open_height - 14;
    }
    paper_poly(p, PAPER_CARD, xy, CORNERS);
    for (size_t n = 0; n < CORNERS; n++) {
        const size_t m = (n + 1) % CORNERS;
        paper_rule(p, PAPER_INK, 0.9, xy[2 * n], xy[2 * n + 1], xy[2 * m], xy[2 * m + 1]);
    }
}

/* ---- the plan, where it is done --------------------------------------------------------------- */

/* Where an adjuster stands: the middle of what it moves, by how much it moves it. 0..2 left, middle, right; 0..2 upper, middle, lower. */
static void place_of(const struct plot_true *o, const struct corners *c, size_t adjuster,
                     int *column, int *row)
{
    double side = 0, height = 0, weight = 0;
    const struct truing_problem *t = &o->problem->truing;
    for (size_t i = 0; i < t->n_points; i++) {
        const double w = fabs((double)t->effect[adjuster * t->n_points + i]);
        if (o->problem->n_levels[i] < o->problem->n_factors)
            continue;
        side += w * o->problem->modes[i].level[c->side];
        height += w * o->problem->modes[i].level[c->height];
        weight += w;
    }
    const double s = weight > 0 ? side / weight : 0, h = weight > 0 ? height / weight : 0;
    *column = s > 0.3 ? 0 : s < -0.3 ? 2 : 1;
    *row = h > 0.3 ? 0 : h < -0.3 ? 2 : 1;
}

/* A stack of as many sheets as there are steps (six at most are drawn): full for adding, hollow for taking out. */
static void stack(struct paper *p, double x, double y, int32_t steps)
{
    char says[24];
    const int n = abs(steps) > 6 ? 6 : abs(steps);
    for (int i = 0; i < n; i++) {
        if (steps > 0)
            paper_fill(p, PAPER_ACT, x, y + i * 6, 26, 4.5);
        else
            paper_frame(p, PAPER_ACT, 1, x + 0.5, y + i * 6 + 0.5, 25, 3.5);
    }
    (void)snprintf(says, sizeof says, "%s%d", steps > 0 ? "+" : "\xE2\x88\x92", abs(steps));
    paper_line(p, PAPER_ACTION, x, y + n * 6 + 2, 40, PAPER_LEFT, says);
}

static void plan_at(struct paper *p, const struct plot_true *o, const struct corners *c, double x,
                    double y)
{
    int n_there[PLACES] = {0};
    for (size_t i = 0; o->answer->n_plans > 0 && i < o->problem->truing.n_adjusters; i++) {
        const int32_t steps = o->answer->plans[0].steps[i];
        int column = 0, row = 0;
        if (steps == 0)
            continue;
        place_of(o, c, i, &column, &row);
        const int before = n_there[3 * row + column]++;
        if (column == 1) { /* of both sides: above, or below the opening */
            stack(p, x + open_width / 2 - 13 + before * 40, row == 0 ? y + 22 : y + open_height + 6,
                  steps);
            continue;
        }
        const double beside = column == 0 ? x - 40 : x + open_width + 12;
        const double top = row == 0   ? y + 22
                           : row == 1 ? y + open_height / 2 - 22
                                      : y + open_height - 72;
        stack(p, beside, top + before * 56, steps);
    }
}

static void draw_panel(struct paper *p, const struct plot_true *o, const struct corners *c,
                       size_t i, double x, double y, int larger)
{
    const char *says = o->travel[i] != NULL ? o->travel[i] : i == 0 ? "in" : "out";
    const double left = x + side_room, top = y + 16, width = (open_width - 2 * inset) / 2 - 18;
    if (c->travel != NONE)
        paper_line(p, PAPER_STRONG, left, y, open_width, PAPER_LEFT, says);
    paper_frame(p, PAPER_INK, 2, left, top, open_width, open_height);
    paper_fill(p, PAPER_RULE, left + 2, top + 1, 5, open_height - 2);
    paper_fill(p, PAPER_RULE, left + open_width - 7, top + 1, 5, open_height - 2);
    outline(p, o, c->point[i], left, top, larger);
    for (size_t k = 0; k < CORNERS; k++)
        if (c->point[i][k] != NONE)
            corner(p, o, (size_t)c->point[i][k],
                   k % 2 == 0 ? left + inset + 16 : left + open_width / 2 + 8,
                   k < 2 ? top + 24 : top + open_height - 82, width);
    plan_at(p, o, c, left, top);
}

static void opening(struct paper *p, const struct plot_true *o)
{
    struct corners c;
    char says[120];
    find_corners(o->problem, &c);
    if (c.n_panels == 0)
        return;
    const int larger = exaggeration(o, &c);
    for (size_t i = 0; i < c.n_panels; i++)
        draw_panel(p, o, &c, i, p->left + (double)i * (open_width + 2 * side_room + 4), p->y,
                   larger);
    p->y += open_height + 50;
    (void)snprintf(
        says, sizeof says,
        "Seen from outside, side +1 on the left. Deviations drawn %d times larger than the gaps.",
        larger);
    paper_flow(p, PAPER_QUIET, p->left, p->right - p->left, says);
    p->y += 10;
}

/* ---- lists ------------------------------------------------------------------------------------ */

static void plan_list(struct paper *p, const struct plot_true *o)
{
    const struct truing_plan *plan = &o->answer->plans[0];
    bool is_begun = false;
    for (size_t i = 0; o->answer->n_plans > 0 && i < o->problem->truing.n_adjusters; i++) {
        char step[AMOUNT_SIZE], says[AMOUNT_SIZE + 60];
        if (plan->steps[i] == 0)
            continue;
        if (!is_begun) {
            paper_boxed(p, p->left, p->right - p->left, "CRUSH", o->caution);
            p->y += 12;
            paper_rule(p, PAPER_INK, 1, p->left, p->y, p->right, p->y);
            p->y += 5;
        }
        is_begun = true;
        if (o->problem->step[i] > 0)
            (void)snprintf(says, sizeof says, "%s %d \xC3\x97 %s",
                           plan->steps[i] > 0 ? "add" : "take out", (int)abs(plan->steps[i]),
                           amount_show(o->problem->step[i], o->unit, step));
        else
            (void)snprintf(says, sizeof says, "%+d steps", (int)plan->steps[i]);
        paper_line(p, PAPER_ACTION, p->left, p->y, 420, PAPER_LEFT, o->problem->adjuster_id[i]);
        paper_line(p, PAPER_STRONG, p->left + 430, p->y, p->right - p->left - 430, PAPER_RIGHT,
                   says);
        p->y += 15;
        paper_rule(p, PAPER_RULE, 0.5, p->left, p->y - 2, p->right, p->y - 2);
    }
    if (is_begun) {
        char says[80];
        const long long minutes = (long long)((plan->cost_s + 59) / 60);
        (void)snprintf(says, sizeof says, "%lld min by the figures given", minutes);
        paper_line(p, PAPER_QUIET, p->left, p->y + 2, p->right - p->left, PAPER_RIGHT, says);
        p->y += 22;
    }
}

static void reading_row(struct paper *p, const struct plot_true *o, size_t i, bool has_after)
{
    char figure[AMOUNT_SIZE];
    const struct strip now = strip_of(o, i, o->problem->truing.points[i].reading);
    paper_line(p, PAPER_BODY, p->left, p->y, 250, PAPER_LEFT, o->problem->point_id[i]);
    paper_line(p, PAPER_STRONG, p->left + 250, p->y, 90, PAPER_RIGHT,
               amount_show(now.reading, o->unit, figure));
    strip_draw(p, p->left + 352, p->y - 3, 130, &now);
    if (has_after) {
        const struct strip after = strip_of(o, i, o->answer->plans[0].predicted[i]);
        paper_line(p, PAPER_BODY, p->left + 500, p->y, 100, PAPER_RIGHT,
                   amount_show(after.reading, o->unit, figure));
        strip_draw(p, p->left + 614, p->y - 3, 130, &after);
    }
    p->y += 20;
    paper_rule(p, PAPER_RULE, 0.5, p->left, p->y - 3, p->right, p->y - 3);
}

static bool is_moving(const struct plot_true *o)
{
    for (size_t i = 0; o->answer->n_plans > 0 && i < o->problem->truing.n_adjusters; i++)
        if (o->answer->plans[0].steps[i] != 0)
            return true;
    return false;
}

static void draw(struct paper *p, const void *me)
{
    const struct plot_true *o = me;
    plot_head(p, o->verdict, o->title, o->is_invented);
    opening(p, o);
    plan_list(p, o);
    paper_line(p, PAPER_SMALL, p->left + 250, p->y, 90, PAPER_RIGHT, "as read");
    if (is_moving(o))
        paper_line(p, PAPER_SMALL, p->left + 500, p->y, 100, PAPER_RIGHT, "predicted after it");
    p->y += 11;
    paper_rule(p, PAPER_INK, 0.9, p->left, p->y, p->right, p->y);
    p->y += 6;
    for (size_t i = 0; i < o->problem->truing.n_points; i++)
        reading_row(p, o, i, is_moving(o));
    p->y += 6;
    paper_flow(p, PAPER_QUIET, p->left, p->right - p->left,
               "Strips: ends are the limits, the tick is the nominal, the wedge the reading, the "
               "bar \xC2\xB1 two standard "
               "uncertainties; hatched: guard bands. An arrow: farther out than the frame.");
}

enum err plot_true(const struct plot_true *order, struct text *out, struct fault *reterr)
{
    struct text said = {0};
    for (size_t i = 0; i < order->problem->truing.n_points; i++) {
        char figure[AMOUNT_SIZE], verdict[AMOUNT_SIZE + 24];
        say_verdict(order, i, verdict, sizeof verdict);
        text_printf(&said, "%s %s, %s. ", order->problem->point_id[i],
                    amount_show(order->problem->truing.points[i].reading, order->unit, figure),
                    verdict);
    }
    const enum err e = said.is_broken ? fault_no_memory(reterr)
                                      : plot_run(draw, order, order->verdict,
                                                 said.data != NULL ? said.data : "", out, reterr);
    text_done(&said);
    return e;
}
