/* crib_readings: owns the opening with the limits at each corner, the table of what moves what, and the other limits. */
#include "draw/teach_parts.h"

#include "base/amount.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static bool is_moved(const struct bulletin *b, const struct bulletin_point *point)
{
    for (size_t i = 0; i < b->adjusters.n; i++)
        for (size_t k = 0; k < b->adjusters.at[i].effects.n; k++)
            if (strcmp(b->adjusters.at[i].effects.at[k].point, point->id) == 0)
                return true;
    return false;
}

int crib_figure(const struct sheet *s, const struct sheet_group *groups, size_t n,
                const struct bulletin_point *point)
{
    int figure = 0;
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k < SHEET_CORNERS; k++) {
            figure += groups[i].corners[k] != NULL;
            if (groups[i].corners[k] == point)
                return figure;
        }
    for (size_t i = 0; i < s->b->points.n; i++) {
        const struct bulletin_point *other = &s->b->points.at[i];
        if (sheet_is_grouped(groups, n, other))
            continue;
        figure++;
        if (other == point)
            return figure;
    }
    return 0;
}

/* ---- the opening ------------------------------------------------------------------------------ */

/* "3  58 ... 61 mm" and below it how far the room is out; returns the height. */
static double corner_line(struct sheet *s, const struct sheet_group *groups, size_t n, size_t group,
                          size_t corner, double x, double y, double width)
{
    struct paper *p = &s->p;
    const struct bulletin_point *point = groups[group].corners[corner];
    char limits[SHEET_LIMITS], figure[SHEET_FIGURE], travel[AMOUNT_SIZE];
    if (point == NULL)
        return 0;
    const bool is_left = corner % 2 == 0;
    const double figure_width = 15, x_figure = is_left ? x : x + width - figure_width;
    const double x_text = is_left ? x + figure_width : x;
    const enum paper_align align = is_left ? PAPER_LEFT : PAPER_RIGHT;
    paper_line(p, PAPER_ACTION, x_figure, y, figure_width, align,
               sheet_figure(crib_figure(s, groups, n, point), figure));
    double height = paper_text(p, PAPER_STRONG, x_text, y, width - figure_width, 0, align,
                               sheet_limits(point, limits));
    if (groups[group].extension != INT64_MIN) {
        amount_show(groups[group].extension, point->extension.unit, travel);
        height += paper_text(p, PAPER_QUIET, x_text, y + height, width - figure_width, 0, align,
                             sheet_format(s, W_TRAVEL, travel, NULL));
    }
    return height + 4;
}

static double corner_block(struct sheet *s, const struct sheet_group *groups, size_t n,
                           size_t corner, double x, double y, double width)
{
    double at = y;
    for (size_t i = 0; i < n; i++)
        at += corner_line(s, groups, n, i, corner, x, at, width);
    return at - y;
}

static void room(struct sheet *s, double x, double y, double width, double height)
{
    struct paper *p = &s->p;
    const double gap = 9;
    paper_frame(p, PAPER_INK, 1.6, x, y, width, height);
    paper_fill(p, PAPER_CARD, x + gap, y + gap, width - 2 * gap, height - 2 * gap);
    paper_frame(p, PAPER_INK, 0.8, x + gap, y + gap, width - 2 * gap, height - 2 * gap);
    paper_text(p, PAPER_SMALL, x + gap + 3, y + height / 2 - 14, width - 2 * gap - 6, 2,
               PAPER_CENTRE, sheet_word(s, W_ROOM));
    paper_text(p, PAPER_SMALL, x + gap + 3, y + height / 2 + 4, width - 2 * gap - 6, 2,
               PAPER_CENTRE, sheet_word(s, W_OUTSIDE));
    for (int i = 0; i < SHEET_CORNERS; i++) {
        const double at = i < 2 ? y + gap + 10 : y + height - gap - 10;
        const double from = i % 2 == 0 ? x : x + width, to = i % 2 == 0 ? x + gap : x + width - gap;
        paper_rule(p, PAPER_ACT, 1.4, from, at, to, at);
        paper_rule(p, PAPER_ACT, 1.0, from, at - 4, from, at + 4);
        paper_rule(p, PAPER_ACT, 1.0, to, at - 4, to, at + 4);
    }
}

/* Wide enough for the limits on one line, where that leaves the drawing something. */
static double side_width(struct sheet *s, const struct sheet_group *groups, size_t n)
{
    const double width = s->p.right - s->p.left;
    double widest = 0;
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k < SHEET_CORNERS; k++) {
            char limits[SHEET_LIMITS];
            if (groups[i].corners[k] != NULL)
                widest = fmax(widest, paper_line_width(&s->p, PAPER_STRONG,
                                                       sheet_limits(groups[i].corners[k], limits)));
        }
    return fmin(fmax(widest + 17, width * 0.25), width * 0.4);
}

static void how_once(struct sheet *s, const struct sheet_group *groups, size_t n)
{
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k < SHEET_CORNERS; k++)
            if (groups[i].corners[k] != NULL && groups[i].corners[k]->how.n > 0) {
                crib_line(s, PAPER_QUIET, sheet_text(s, &groups[i].corners[k]->how));
                return;
            }
}

void crib_opening(struct sheet *s)
{
    struct sheet_group groups[SHEET_GROUPS_MAX] = {0};
    const size_t n = sheet_groups(s, groups);
    struct paper *p = &s->p;
    if (n == 0)
        return;
    crib_head(s, sheet_word(s, W_CORNER_LIMITS));
    const double width = p->right - p->left, side = side_width(s, groups, n);
    const double half = width / 2 - 4;
    p->y += fmax(paper_text(p, PAPER_QUIET, p->left, p->y, half, 0, PAPER_LEFT,
                            sheet_side(s, &groups[0], 0)),
                 paper_text(p, PAPER_QUIET, p->left + width - half, p->y, half, 0, PAPER_RIGHT,
                            sheet_side(s, &groups[0], 1)));
    const double y = p->y;
    const bool was_dry = p->is_dry;
    double upper = 0, lower = 0;
    p->is_dry = true;
    for (size_t k = 0; k < SHEET_CORNERS; k++) {
        const double height = corner_block(s, groups, n, k, p->left, y, side);
        if (k < 2)
            upper = fmax(upper, height);
        else
            lower = fmax(lower, height);
    }
    p->is_dry = was_dry;
    const double height = fmax(upper + lower + 10, 84);
    for (size_t k = 0; k < SHEET_CORNERS; k++)
        corner_block(s, groups, n, k, k % 2 == 0 ? p->left : p->right - side,
                     k < 2 ? y : y + height - lower, side);
    room(s, p->left + side + 6, y + 2, width - 2 * side - 12, height - 6);
    p->y = y + height + 2;
    how_once(s, groups, n);
}

/* ---- what moves what -------------------------------------------------------------------------- */

/* Points that something moves, by their figures. */
static size_t moved_points(const struct sheet *s, const struct sheet_group *groups, size_t n,
                           const struct bulletin_point *ret[BULLETIN_POINTS_MAX])
{
    size_t n_found = 0;
    for (int figure = 1; figure <= (int)s->b->points.n; figure++)
        for (size_t i = 0; i < s->b->points.n; i++)
            if (crib_figure(s, groups, n, &s->b->points.at[i]) == figure &&
                is_moved(s->b, &s->b->points.at[i]) && n_found < BULLETIN_POINTS_MAX)
                ret[n_found++] = &s->b->points.at[i];
    return n_found;
}

static const struct bulletin_effect *effect_on(const struct bulletin_adjuster *a,
                                               const struct bulletin_point *point)
{
    for (size_t i = 0; i < a->effects.n; i++)
        if (strcmp(a->effects.at[i].point, point->id) == 0)
            return &a->effects.at[i];
    return NULL;
}

/* "-0.5", "+1/32": with a true minus. */
static void signed_figure(const struct bulletin_amount *change, char *buf, size_t room_)
{
    char figure[AMOUNT_SIZE];
    const int64_t size = change->nano < 0 ? -change->nano : change->nano;
    (void)snprintf(buf, room_, "%s%s", change->nano < 0 ? "\xE2\x88\x92" : "+",
                   amount_figure(size, change->unit, figure));
}

enum { FIGURE_ROOM = AMOUNT_SIZE + 4 };

/* What one step of a changes at the point, and its figure; NULL: nothing. */
static const struct bulletin_effect *figure_on(const struct bulletin_adjuster *a,
                                               const struct bulletin_point *point,
                                               char figure[FIGURE_ROOM])
{
    const struct bulletin_effect *effect = effect_on(a, point);
    if (effect != NULL)
        signed_figure(&effect->change, figure, FIGURE_ROOM);
    return effect;
}

/* What one step is, how many there are, how long they take; once above the adjusters one after the other that are alike in
 * it. before: the one above; NULL for the first. */
static void detail(struct sheet *s, const struct bulletin_adjuster *a,
                   const struct bulletin_adjuster *before)
{
    char step[AMOUNT_SIZE], time[64], range[AMOUNT_SIZE + 120];
    if (before != NULL && before->step.nano == a->step.nano && before->step.unit == a->step.unit &&
        before->min == a->min && before->max == a->max && before->setup_s == a->setup_s &&
        before->per_step_s == a->per_step_s)
        return;
    sheet_time(a, time, sizeof time);
    (void)snprintf(range, sizeof range, "%s \xC2\xB7 %+d \xE2\x80\xA6 %+d \xC2\xB7 %s",
                   amount_show(a->step.nano, a->step.unit, step), (int)a->min, (int)a->max, time);
    s->p.y += paper_text(&s->p, PAPER_QUIET, s->p.left, s->p.y, s->p.right - s->p.left, 0,
                         PAPER_LEFT, range) +
              1;
}

/* Names have a column of their own, figures as much room as the widest needs. */
struct grid {
    const struct bulletin_point **points;
    size_t n;
    double name, cell; /* widths */
};

static double matrix_row(struct sheet *s, const struct bulletin_adjuster *a,
                         const struct grid *grid)
{
    struct paper *p = &s->p;
    const double height = paper_text(p, PAPER_BODY, p->left, p->y, grid->name - 4, 0, PAPER_LEFT,
                                     sheet_text(s, &a->name));
    for (size_t i = 0; i < grid->n; i++) {
        char figure[FIGURE_ROOM];
        if (figure_on(a, grid->points[i], figure) == NULL)
            continue;
        paper_line(p, PAPER_BODY, p->left + grid->name + (double)i * grid->cell, p->y, grid->cell,
                   PAPER_CENTRE, figure);
    }
    return height;
}

/* As a table where the figures have room, ... */
static void matrix(struct sheet *s, const struct sheet_group *groups, size_t n_groups,
                   const struct grid *grid)
{
    struct paper *p = &s->p;
    const struct bulletin_adjuster *all = s->b->adjusters.at;
    for (size_t i = 0; i < grid->n; i++) {
        char figure[SHEET_FIGURE];
        paper_line(p, PAPER_ACTION, p->left + grid->name + (double)i * grid->cell, p->y, grid->cell,
                   PAPER_CENTRE,
                   sheet_figure(crib_figure(s, groups, n_groups, grid->points[i]), figure));
    }
    p->y += paper_line_height(p, PAPER_ACTION) + 1;
    paper_rule(p, PAPER_INK, 0.9, p->left, p->y, p->right, p->y);
    p->y += 2;
    for (size_t i = 0; i < s->b->adjusters.n; i++) {
        detail(s, &all[i], i > 0 ? &all[i - 1] : NULL);
        p->y += matrix_row(s, &s->b->adjusters.at[i], grid) + 2;
        paper_rule(p, PAPER_RULE, 0.5, p->left, p->y - 1, p->right, p->y - 1);
        p->y += 1;
    }
}

/* ... else in words. */
static void list(struct sheet *s, const struct sheet_group *groups, size_t n_groups,
                 const struct bulletin_point **points, size_t n, bool has_units)
{
    const struct bulletin_adjuster *all = s->b->adjusters.at;
    for (size_t i = 0; i < s->b->adjusters.n; i++) {
        struct text line = {0};
        detail(s, &all[i], i > 0 ? &all[i - 1] : NULL);
        text_printf(&line, "%s:", sheet_text(s, &all[i].name));
        bool is_first = true;
        for (size_t k = 0; k < n; k++) {
            char figure[FIGURE_ROOM];
            const struct bulletin_effect *effect = figure_on(&all[i], points[k], figure);
            if (effect == NULL)
                continue;
            text_printf(&line, "%s%d:\xC2\xA0%s", is_first ? " " : " \xC2\xB7 ",
                        crib_figure(s, groups, n_groups, points[k]), figure);
            is_first = false;
            if (has_units)
                text_printf(&line, "\xC2\xA0%s", quantity_unit_name(effect->change.unit));
        }
        crib_line(s, PAPER_BODY, line.data != NULL ? line.data : "");
        s->p.is_broken |= line.is_broken;
        text_done(&line);
    }
}

/* Where a table has room: names keep a good quarter of the width. */
static bool lay_grid(struct sheet *s, const struct bulletin_point **points, size_t n,
                     struct grid *ret)
{
    double widest = 12;
    for (size_t i = 0; i < s->b->adjusters.n; i++)
        for (size_t k = 0; k < n; k++) {
            char figure[FIGURE_ROOM];
            if (figure_on(&s->b->adjusters.at[i], points[k], figure) == NULL)
                continue;
            widest = fmax(widest, paper_line_width(&s->p, PAPER_BODY, figure) + 1.5);
        }
    const double width = s->p.right - s->p.left;
    *ret = (struct grid){points, n, width - (double)n * widest, widest};
    return n > 0 && ret->name >= width * 0.28;
}

/* The unit that all changes are in; NULL when they are in several. */
static const char *unit_of_effects(const struct sheet *s)
{
    const struct bulletin_amount *first = NULL;
    for (size_t i = 0; i < s->b->adjusters.n; i++)
        for (size_t k = 0; k < s->b->adjusters.at[i].effects.n; k++) {
            const struct bulletin_amount *change = &s->b->adjusters.at[i].effects.at[k].change;
            if (first != NULL && first->unit != change->unit)
                return NULL;
            first = change;
        }
    return first != NULL ? quantity_unit_name(first->unit) : NULL;
}

void crib_effects(struct sheet *s)
{
    struct sheet_group groups[SHEET_GROUPS_MAX] = {0};
    const size_t n_groups = sheet_groups(s, groups);
    const struct bulletin_point *points[BULLETIN_POINTS_MAX];
    if (s->b->adjusters.n == 0 || s->b->adjusters.at == NULL)
        return;
    const size_t n = moved_points(s, groups, n_groups, points);
    const char *unit = unit_of_effects(s);
    crib_head(s, unit != NULL ? sheet_format(s, W_EFFECTS, unit, NULL) : sheet_word(s, W_MOVE));
    struct grid grid;
    if (unit != NULL && lay_grid(s, points, n, &grid))
        matrix(s, groups, n_groups, &grid);
    else
        list(s, groups, n_groups, points, n, unit == NULL);
    for (size_t i = 0; i < s->b->adjusters.n; i++)
        crib_line(s, PAPER_QUIET, sheet_text(s, &s->b->adjusters.at[i].how));
}

/* ---- other limits ----------------------------------------------------------------------------- */

void crib_others(struct sheet *s)
{
    struct sheet_group groups[SHEET_GROUPS_MAX] = {0};
    const size_t n = sheet_groups(s, groups);
    struct paper *p = &s->p;
    bool is_begun = false;
    for (size_t i = 0; i < s->b->points.n; i++) {
        const struct bulletin_point *point = &s->b->points.at[i];
        char limits[SHEET_LIMITS];
        if (sheet_is_grouped(groups, n, point))
            continue;
        if (!is_begun)
            crib_head(s, sheet_word(s, W_READINGS));
        is_begun = true;
        char figure[SHEET_FIGURE];
        const double column = 17;
        paper_line(p, PAPER_ACTION, p->left, p->y, column, PAPER_LEFT,
                   sheet_figure(crib_figure(s, groups, n, point), figure));
        const double width = p->right - p->left;
        const double says = paper_line_width(p, PAPER_STRONG, sheet_limits(point, limits)) + 2;
        const double split = fmax(width - says, width / 2);
        const double a = paper_text(p, PAPER_BODY, p->left + column, p->y, split - 6 - column, 0,
                                    PAPER_LEFT, sheet_text(s, &point->name));
        const double b =
            paper_text(p, PAPER_STRONG, p->left + split, p->y, p->right - p->left - split, 0,
                       PAPER_RIGHT, sheet_limits(point, limits));
        p->y += fmax(a, b) + 2;
    }
}
