/* sheet_readings: owns where readings are taken and written down: the opening with a box at each corner, the other readings in a
 * table, what can be moved, the ends of racks. */
#include "draw/sheet_parts.h"

#include "base/amount.h"
#include "core/gear.h"

#include <stdio.h>
#include <string.h>

/* ---- which point stands at which corner ------------------------------------------------------- */

enum { CORNERS = SHEET_CORNERS };

static int32_t level(const struct bulletin_point *point, const char *factor)
{
    for (size_t i = 0; i < point->factors.n; i++)
        if (strcmp(point->factors.at[i].factor, factor) == 0)
            return point->factors.at[i].level;
    return 0;
}

static size_t corner_of(const struct bulletin_point *point)
{
    return (level(point, "height") > 0 ? 0U : 2U) + (level(point, "side") > 0 ? 0U : 1U);
}

size_t sheet_groups(const struct sheet *s, struct sheet_group groups[SHEET_GROUPS_MAX])
{
    size_t n = 0;
    for (size_t i = 0; i < s->b->points.n; i++) {
        const struct bulletin_point *point = &s->b->points.at[i];
        const int64_t extension = point->extension.is_given ? point->extension.nano : INT64_MIN;
        size_t k = 0;
        if (!sheet_is_corner(point) || !sheet_has(s, point->station))
            continue;
        while (k < n &&
               (groups[k].extension != extension || groups[k].travel != level(point, "travel")))
            k++;
        if (k == n) {
            if (n == SHEET_GROUPS_MAX)
                continue;
            groups[n++] =
                (struct sheet_group){.travel = level(point, "travel"), .extension = extension};
        }
        if (groups[k].corners[corner_of(point)] == NULL)
            groups[k].corners[corner_of(point)] = point;
    }
    return n;
}

bool sheet_is_grouped(const struct sheet_group *groups, size_t n,
                      const struct bulletin_point *point)
{
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k < CORNERS; k++)
            if (groups[i].corners[k] == point)
                return true;
    return false;
}

/* ---- the opening ------------------------------------------------------------------------------ */

static const double box_width = 158, box_height = 72, diagram_height = 186;

static void reading_box(struct sheet *s, double x, double y, const struct bulletin_point *point)
{
    static const enum words rounds[] = {W_FIRST_READING, W_SECOND_READING, W_LAST_READING};
    enum { ROUNDS = 3 };
    struct paper *p = &s->p;
    char limits[SHEET_LIMITS];
    const struct strip strip = sheet_strip(s, point);
    const double cell = box_width / ROUNDS;
    paper_text(p, PAPER_QUIET, x, y, box_width, 2, PAPER_LEFT, sheet_text(s, &point->name));
    paper_line(p, PAPER_STRONG, x, y + 23, box_width - 78, PAPER_LEFT, sheet_limits(point, limits));
    strip_draw(p, x + box_width - 74, y + 20, 74, &strip);
    paper_fill(p, PAPER_CARD, x, y + 38, box_width, box_height - 38);
    for (int i = 0; i < ROUNDS; i++) {
        paper_frame(p, PAPER_INK, 0.6, x + i * cell, y + 38, cell, box_height - 38);
        paper_line(p, PAPER_SMALL, x + i * cell + 3, y + 39.5, cell - 6, PAPER_LEFT,
                   sheet_word(s, rounds[i]));
    }
}

const char *sheet_side(struct sheet *s, const struct sheet_group *g, size_t upper)
{
    const struct bulletin_point *a = g->corners[upper], *b = g->corners[upper + 2];
    const struct bulletin_point *any = a != NULL ? a : b;
    if (any == NULL || (a != NULL && b != NULL && strcmp(a->station, b->station) != 0))
        return "";
    const struct bulletin_station *station = bulletin_station_find(s->b, any->station);
    return station != NULL ? sheet_text(s, &station->name) : "";
}

static void opening(struct sheet *s, const struct sheet_group *g, double x, double y, double width)
{
    struct paper *p = &s->p;
    const double top = y + 14, height = diagram_height - 46, gap = 13;
    paper_line(p, PAPER_QUIET, x, y, width / 2 - 2, PAPER_LEFT, sheet_side(s, g, 0));
    paper_line(p, PAPER_QUIET, x + width / 2 + 2, y, width / 2 - 2, PAPER_RIGHT,
               sheet_side(s, g, 1));
    paper_frame(p, PAPER_INK, 1.8, x, top, width, height);
    paper_fill(p, PAPER_RULE, x + 3, top + 1, 4, height - 2); /* the columns */
    paper_fill(p, PAPER_RULE, x + width - 7, top + 1, 4, height - 2);
    paper_fill(p, PAPER_CARD, x + gap, top + gap, width - 2 * gap, height - 2 * gap);
    paper_frame(p, PAPER_INK, 0.8, x + gap, top + gap, width - 2 * gap, height - 2 * gap);
    paper_text(p, PAPER_SMALL, x + gap + 6, top + height / 2 - 12, width - 2 * gap - 12, 2,
               PAPER_CENTRE, sheet_word(s, W_ROOM));
    paper_text(p, PAPER_SMALL, x + gap + 6, top + height / 2, width - 2 * gap - 12, 2, PAPER_CENTRE,
               sheet_word(s, W_OUTSIDE));
    for (size_t i = 0; i < CORNERS; i++) {
        if (g->corners[i] == NULL)
            continue;
        const bool is_left = i % 2 == 0;
        const double at = i < 2 ? top + gap + 16 : top + height - gap - 16;
        const double from = is_left ? x : x + width, to = is_left ? x + gap : x + width - gap;
        const double box = is_left ? x - 14 : x + width + 14,
                     box_y = i < 2 ? top + 24 : top + height - 24;
        paper_rule(p, PAPER_ACT, 1.6, from, at, to, at);
        paper_rule(p, PAPER_ACT, 1.2, from, at - 4, from, at + 4);
        paper_rule(p, PAPER_ACT, 1.2, to, at - 4, to, at + 4);
        paper_rule(p, PAPER_ACT, 0.6, (from + to) / 2, at, box, box_y);
    }
}

static void group_title(struct sheet *s, const struct sheet_group *g)
{
    struct paper *p = &s->p;
    char extension[AMOUNT_SIZE];
    const struct bulletin_point *any = NULL;
    for (size_t i = 0; i < CORNERS; i++)
        any = any != NULL ? any : g->corners[i];
    if (g->extension == INT64_MIN || any == NULL)
        return;
    amount_show(g->extension, any->extension.unit, extension);
    paper_tag(p, "P");
    paper_line(p, PAPER_STRONG, p->left, p->y, p->right - p->left, PAPER_LEFT,
               sheet_format(s, W_TRAVEL, extension, NULL));
    paper_untag(p, "P");
    p->y += 15;
}

static void diagram(struct sheet *s, const struct sheet_group *g)
{
    struct paper *p = &s->p;
    paper_need(p, diagram_height + 22);
    group_title(s, g);
    const double y = p->y, middle = p->left + box_width + 16;
    for (size_t i = 0; i < CORNERS; i++)
        if (g->corners[i] != NULL)
            reading_box(s, i % 2 == 0 ? p->left : p->right - box_width,
                        i < 2 ? y : y + diagram_height - 26 - box_height, g->corners[i]);
    opening(s, g, middle, y, p->right - box_width - 16 - middle);
    p->y = y + diagram_height - 12;
}

static void how_to_read(struct sheet *s, const struct sheet_group *groups, size_t n)
{
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k < CORNERS; k++) {
            const struct bulletin_point *point = groups[i].corners[k];
            if (point == NULL || sheet_text(s, &point->how)[0] == '\0')
                continue;
            paper_flow(&s->p, PAPER_QUIET, s->p.left, s->p.right - s->p.left,
                       sheet_text(s, &point->how));
            return; /* once: they are read alike */
        }
}

/* ---- the other readings ----------------------------------------------------------------------- */

static void other_row(struct sheet *s, const struct table *t, const struct bulletin_point *point)
{
    const struct bulletin_instrument *instrument =
        bulletin_instrument_find(s->b, point->instrument);
    const char *how = sheet_text(s, &point->how), *otherwise = sheet_text(s, &point->otherwise);
    char limits[SHEET_LIMITS];
    struct text what = {0};
    text_puts(&what, sheet_text(s, &point->name));
    if (how[0] != '\0')
        text_printf(&what, "\n%s", how);
    if (otherwise[0] != '\0')
        text_printf(&what, "\n%s", sheet_format(s, W_ELSE, otherwise, NULL));
    const struct cell cells[] = {
        {.text = what.data != NULL ? what.data : ""},
        {.kind = CELL_STRONG, .text = sheet_limits(point, limits)},
        {.kind = CELL_STRIP, .strip = sheet_strip(s, point)},
        {.kind = CELL_BLANK},
        {.kind = CELL_BLANK},
        {.kind = CELL_QUIET, .text = instrument != NULL ? sheet_text(s, &instrument->name) : ""}};
    table_row(s, t, cells);
    s->p.is_broken |= what.is_broken;
    text_done(&what);
}

static void others(struct sheet *s, const struct sheet_group *groups, size_t n)
{
    const struct table_column columns[] = {
        {sheet_word(s, W_POINT), 0.34, PAPER_LEFT},
        {sheet_word(s, W_LIMITS), 0.17, PAPER_LEFT},
        {"", 0.15, PAPER_LEFT},
        {sheet_word(s, W_FIRST_READING), 0.09, PAPER_LEFT},
        {sheet_word(s, W_LAST_READING), 0.09, PAPER_LEFT},
        {"", 0.16, PAPER_LEFT},
    };
    const struct table t = {columns, 6};
    bool is_begun = false;
    for (size_t i = 0; i < s->b->points.n; i++) {
        const struct bulletin_point *point = &s->b->points.at[i];
        if (!sheet_has(s, point->station) || sheet_is_grouped(groups, n, point))
            continue;
        if (!is_begun) {
            sheet_section(s, sheet_word(s, W_READINGS), 90);
            table_begin(s, &t);
            is_begun = true;
        }
        other_row(s, &t, point);
    }
    if (is_begun)
        table_end(s);
}

/* ---- what moves ------------------------------------------------------------------------------- */

void sheet_time(const struct bulletin_adjuster *a, char *buf, size_t room)
{
    const long long once = (long long)((a->setup_s + 59) / 60), step = (long long)a->per_step_s;
    if (step >= 60 && step % 60 == 0)
        (void)snprintf(buf, room, "%lld + %lld min", once, step / 60);
    else
        (void)snprintf(buf, room, "%lld min + %lld s", once, step);
}

static void adjusters(struct sheet *s)
{
    const struct table_column columns[] = {
        {sheet_word(s, W_ADJUSTER), 0.25, PAPER_LEFT}, {sheet_word(s, W_PLUS), 0.30, PAPER_LEFT},
        {sheet_word(s, W_ONE_STEP), 0.11, PAPER_LEFT}, {sheet_word(s, W_RANGE), 0.11, PAPER_LEFT},
        {sheet_word(s, W_TIME), 0.13, PAPER_LEFT},     {sheet_word(s, W_MOVED), 0.10, PAPER_LEFT},
    };
    const struct table t = {columns, 6};
    bool is_begun = false;
    for (size_t i = 0; i < s->b->adjusters.n; i++) {
        const struct bulletin_adjuster *a = &s->b->adjusters.at[i];
        char step[AMOUNT_SIZE], range[40], time[64];
        if (!sheet_has(s, a->station))
            continue;
        if (!is_begun) {
            sheet_section(s, sheet_word(s, W_MOVE), 90);
            table_begin(s, &t);
            is_begun = true;
        }
        amount_show(a->step.nano, a->step.unit, step);
        (void)snprintf(range, sizeof range, "%+d \xE2\x80\xA6 %+d", (int)a->min, (int)a->max);
        sheet_time(a, time, sizeof time);
        const struct cell cells[] = {{.kind = CELL_STRONG, .text = sheet_text(s, &a->name)},
                                     {.text = sheet_text(s, &a->how)},
                                     {.text = step},
                                     {.text = range},
                                     {.text = time},
                                     {.kind = CELL_BLANK}};
        table_row(s, &t, cells);
    }
    if (is_begun)
        table_end(s);
}

static void timing(struct sheet *s)
{
    const struct table_column columns[] = {
        {sheet_word(s, W_STATION), 0.34, PAPER_LEFT},
        {sheet_word(s, W_RACK), 0.26, PAPER_LEFT},
        {sheet_word(s, W_END), 0.2, PAPER_LEFT},
        {sheet_word(s, W_AFTER_JUMP), 0.2, PAPER_LEFT},
    };
    const struct table t = {columns, 4};
    char limit[AMOUNT_SIZE], pitch[AMOUNT_SIZE];
    const struct bulletin_timing *rule = &s->b->timing;
    if (rule->node == NULL)
        return;
    sheet_section(s, sheet_word(s, W_TIMING), 90);
    amount_show(rule->limit.nano, rule->limit.unit, limit);
    const int64_t pitch_nm = gear_pitch_nm(rule->module.nano);
    if (pitch_nm > 0) {
        (void)quantity_show(pitch_nm, rule->module.unit, 2, pitch, NULL);
        paper_flow(&s->p, PAPER_BODY, s->p.left, s->p.right - s->p.left,
                   sheet_format(s, W_TIMING_LIMIT, limit, pitch));
    }
    paper_flow(&s->p, PAPER_QUIET, s->p.left, s->p.right - s->p.left, sheet_text(s, &rule->how));
    s->p.y += 4;
    table_begin(s, &t);
    for (size_t i = 0; i < rule->stations.n; i++) {
        const struct bulletin_timing_station *at = &rule->stations.at[i];
        const struct bulletin_station *station = bulletin_station_find(s->b, at->station);
        for (size_t k = 0; sheet_has(s, at->station) && k < at->racks.n; k++) {
            const struct cell cells[] = {
                {.kind = CELL_STRONG,
                 .text = k == 0 && station != NULL ? sheet_text(s, &station->name) : ""},
                {.text = at->racks.at[k]},
                {.kind = CELL_BLANK},
                {.kind = CELL_BLANK}};
            table_row(s, &t, cells);
        }
    }
    table_end(s);
}

void sheet_readings(struct sheet *s)
{
    struct sheet_group groups[SHEET_GROUPS_MAX] = {0};
    const size_t n = sheet_groups(s, groups);
    timing(s);
    if (n > 0) {
        sheet_section(s, sheet_word(s, W_GAPS), diagram_height + 40);
        how_to_read(s, groups, n);
        paper_flow(&s->p, PAPER_QUIET, s->p.left, s->p.right - s->p.left, sheet_word(s, W_STRIPS));
        s->p.y += 6;
        for (size_t i = 0; i < n; i++)
            diagram(s, &groups[i]);
    }
    adjusters(s);
    others(s, groups, n);
}
