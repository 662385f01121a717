/* sheet_steps: owns how a step stands on paper: its number, its boxes to tick, its cautions before anything else, then what to look
 * at first, what to do, why, what is inspected, and what must be there before the next. */
#include "draw/sheet_parts.h"

#include <stdio.h>
#include <string.h>

static const double gutter = 26; /* left of the step's text: its number */

const char *sheet_hazard(const struct sheet *s, enum bulletin_hazard hazard)
{
    static const enum words hazards[BULLETIN_HAZARD_N] = {
        [BULLETIN_HAZARD_CUTTING] = W_CUT,          [BULLETIN_HAZARD_LIFTING] = W_CRUSH,
        [BULLETIN_HAZARD_STORED_ENERGY] = W_STORED, [BULLETIN_HAZARD_ELECTRICAL] = W_SUPPLY,
        [BULLETIN_HAZARD_PINCH] = W_PINCH,
    };
    return sheet_word(s, hazards[hazard]);
}

/* A box and its word, its right end at x; returns where its left end is. */
static double tick_box(struct paper *p, double x, double y, const char *word)
{
    double width = paper_line_width(p, PAPER_QUIET, word);
    width = width > 70 ? 70 : width;
    x -= width;
    paper_line(p, PAPER_QUIET, x, y + 2.5, width, PAPER_LEFT, word);
    if (!p->is_dry)
        paper_tick_box(p, x - 14, y + 1, 11);
    return x - 14;
}

/* The boxes to tick, right-aligned; returns the width that they take. */
static double tick_boxes(struct sheet *s, const struct bulletin_step *step, double y)
{
    struct paper *p = &s->p;
    double x = p->right;
    if (step->per == BULLETIN_PER_UNIT)
        return p->right - tick_box(p, x, y, sheet_word(s, W_UNIT)) + 10;
    for (size_t i = s->b->scope.stations.n; i > 0 && p->right - x < (p->right - p->left) * 0.5; i--)
        if (sheet_has(s, s->b->scope.stations.at[i - 1].id))
            x = tick_box(p, x, y, s->b->scope.stations.at[i - 1].id) - 10;
    return p->right - x;
}

static void step_head(struct sheet *s, const struct bulletin_step *step, size_t number)
{
    struct paper *p = &s->p;
    char figure[24], name[32];
    (void)snprintf(figure, sizeof figure, "%zu", number);
    (void)snprintf(name, sizeof name, "step-%zu", number);
    const double boxes = tick_boxes(s, step, p->y);
    paper_tag(p, "H3");
    paper_line(p, PAPER_FIGURE, p->left, p->y, gutter - 4, PAPER_LEFT, figure);
    const double height =
        paper_text(p, PAPER_FIGURE, p->left + gutter, p->y, p->right - p->left - gutter - boxes, 3,
                   PAPER_LEFT, sheet_text(s, &step->title));
    paper_untag(p, "H3");
    p->y += (height > 14 ? height : 14) + 4;
}

static void flow(struct sheet *s, enum paper_style style, const char *text)
{
    paper_flow(&s->p, style, s->p.left + gutter, s->p.right - s->p.left - gutter, text);
}

static void cautions(struct sheet *s, const struct bulletin_step *step)
{
    struct paper *p = &s->p;
    for (size_t i = 0; i < step->cautions.n; i++) {
        const struct bulletin_caution *c = &step->cautions.at[i];
        paper_boxed(p, p->left + gutter, p->right - p->left - gutter, sheet_hazard(s, c->hazard),
                    sheet_text(s, &c->text));
        p->y += 4;
    }
}

/* Lines, each after a small box, under a word in small letters. */
static void check_first(struct sheet *s, const struct bulletin_step *step)
{
    struct paper *p = &s->p;
    const double x = p->left + gutter;
    if (step->check_first.n == 0)
        return;
    p->y += 2;
    paper_need(p, 24);
    paper_line(p, PAPER_SMALL, x, p->y, 200, PAPER_LEFT, sheet_word(s, W_CHECK_FIRST));
    p->y += 10;
    for (size_t i = 0; i < step->check_first.n; i++) {
        paper_need(p, 13);
        if (!p->is_dry)
            paper_tick_box(p, x, p->y + 1.5, 8);
        paper_flow(p, PAPER_BODY, x + 14, p->right - x - 14,
                   sheet_text(s, &step->check_first.at[i]));
        p->y += 2;
    }
    p->y += 2;
}

static void inspections(struct sheet *s, const struct bulletin_step *step)
{
    struct paper *p = &s->p;
    const double x = p->left + gutter;
    for (size_t i = 0; i < step->inspections.n; i++) {
        const struct bulletin_inspection *look = &step->inspections.at[i];
        const struct bulletin_part *part = bulletin_part_find(s->b, look->part);
        struct text line = {0};
        text_printf(&line, "%s: %s", part != NULL ? sheet_text(s, &part->name) : look->part,
                    sheet_text(s, &look->criterion));
        p->y += 2;
        paper_need(p, 26);
        if (!p->is_dry)
            paper_tick_box(p, x, p->y + 1.5, 8);
        paper_flow(p, PAPER_BODY, x + 14, p->right - x - 14, line.data != NULL ? line.data : "");
        paper_flow(p, PAPER_QUIET, x + 14, p->right - x - 14,
                   sheet_format(s, W_ELSE, sheet_text(s, &look->otherwise), NULL));
        p->is_broken |= line.is_broken;
        text_done(&line);
    }
}

/* The names of some of the bulletin's items, one after the other. */
static const struct bulletin_text *item_name(const struct bulletin_item *items, size_t n,
                                             const char *id)
{
    for (size_t i = 0; i < n; i++)
        if (strcmp(items[i].id, id) == 0)
            return &items[i].name;
    return NULL;
}

void sheet_items(struct sheet *s, const char *const *ids, size_t n,
                 const struct bulletin_item *items, size_t n_items, struct text *out)
{
    for (size_t i = 0; i < n; i++) {
        const struct bulletin_text *name = item_name(items, n_items, ids[i]);
        text_printf(out, "%s%s", i > 0 ? "; " : "", name != NULL ? sheet_text(s, name) : ids[i]);
    }
}

static void named(struct sheet *s, enum words word, const char *const *ids, size_t n,
                  const struct bulletin_item *items, size_t n_items)
{
    struct text names = {0};
    sheet_items(s, ids, n, items, n_items, &names);
    if (n > 0 && names.data != NULL)
        flow(s, PAPER_QUIET, sheet_format(s, word, names.data, NULL));
    s->p.is_broken |= names.is_broken;
    text_done(&names);
}

const struct bulletin_photo *sheet_photo(const struct sheet *s, const char *id)
{
    for (size_t k = 0; k < s->b->proof.photos.n; k++)
        if (strcmp(id, s->b->proof.photos.at[k].id) == 0)
            return &s->b->proof.photos.at[k];
    return NULL;
}

/* All in one line: "reading: A (56 ... 61 mm); B (...)". */
static void add_readings(struct sheet *s, const struct bulletin_step *step, struct text *what)
{
    struct text names = {0};
    for (size_t i = 0; i < step->readings.n; i++) {
        const struct bulletin_point *point = bulletin_point_find(s->b, step->readings.at[i]);
        char limits[SHEET_LIMITS];
        if (point != NULL && sheet_has(s, point->station))
            text_printf(&names, "%s%s (%s)", names.size > 0 ? "; " : "",
                        sheet_text(s, &point->name), sheet_limits(point, limits));
    }
    if (names.size > 0 && names.data != NULL)
        text_printf(what, "%s%s", what->size > 0 ? "\n" : "",
                    sheet_format(s, W_READ, names.data, NULL));
    what->is_broken |= names.is_broken;
    text_done(&names);
}

/* What must be there before the next step, behind an arrow. */
static void hold(struct sheet *s, const struct bulletin_step *step)
{
    struct paper *p = &s->p;
    const double x = p->left + gutter;
    struct text what = {0};
    for (size_t i = 0; i < step->photos.n; i++) {
        const struct bulletin_photo *photo = sheet_photo(s, step->photos.at[i]);
        if (photo != NULL)
            text_printf(&what, "%s%s", what.size > 0 ? "; " : "",
                        sheet_format(s, W_PHOTO, sheet_text(s, &photo->name), NULL));
    }
    add_readings(s, step, &what);
    if (what.size > 0 || step->hold != BULLETIN_HOLD_NONE) {
        p->y += 3;
        paper_need(p, 24);
        const double y = p->y, xy[] = {x, y + 2, x + 8, y + 6, x, y + 10};
        paper_poly(p, PAPER_ACT, xy, 3);
        if (step->hold == BULLETIN_HOLD_NONE || step->hold == BULLETIN_HOLD_CONFIRM) {
            if (step->hold == BULLETIN_HOLD_CONFIRM)
                paper_flow(p, PAPER_ACTION, x + 14, p->right - x - 14, sheet_word(s, W_CONFIRM));
        } else {
            paper_flow(p, PAPER_ACTION, x + 14, p->right - x - 14, sheet_word(s, W_GO_ON));
        }
        paper_flow(p, PAPER_BODY, x + 14, p->right - x - 14, what.data != NULL ? what.data : "");
    }
    p->is_broken |= what.is_broken;
    text_done(&what);
}

static void step_doing(struct sheet *s, const struct bulletin_step *step)
{
    s->p.y += step->cautions.n > 0 ? 2 : 0;
    check_first(s, step);
    flow(s, PAPER_BODY, sheet_text(s, &step->text));
}

static void step_rest(struct sheet *s, const struct bulletin_step *step)
{
    const char *why = sheet_text(s, &step->why);
    if (why[0] != '\0') {
        s->p.y += 2;
        flow(s, PAPER_QUIET, sheet_format(s, W_WHY, why, NULL));
    }
    if (step->picture.node != NULL)
        flow(s, PAPER_QUIET,
             sheet_format(s, W_PICTURE, step->picture.file, sheet_text(s, &step->picture.alt)));
    inspections(s, step);
    if (step->tools.n + step->protective.n > 0)
        s->p.y += 3;
    named(s, W_USE, step->tools.at, step->tools.n, s->b->tools.at, s->b->tools.n);
    named(s, W_WEAR, step->protective.at, step->protective.n, s->b->protective.at,
          s->b->protective.n);
    hold(s, step);
}

/* How high a step is when nothing breaks: its head with the cautions, that with what is done, or all. */
enum depth { DEPTH_HEAD, DEPTH_TEXT, DEPTH_ALL };

static double measure(struct sheet *s, const struct bulletin_step *step, enum depth depth)
{
    struct paper *p = &s->p;
    const double y = p->y;
    p->is_dry = true;
    step_head(s, step, 1);
    cautions(s, step);
    if (depth >= DEPTH_TEXT)
        step_doing(s, step);
    if (depth == DEPTH_ALL)
        step_rest(s, step);
    const double height = p->y - y;
    p->is_dry = false;
    p->y = y;
    return height;
}

void sheet_steps(struct sheet *s)
{
    struct paper *p = &s->p;
    if (s->b->steps.n == 0)
        return;
    sheet_section(s, sheet_word(s, W_STEPS), 120);
    for (size_t i = 0; i < s->b->steps.n; i++) {
        const struct bulletin_step *step = &s->b->steps.at[i];
        /* A step stays on one page where it can. What is done never parts from its cautions, unless they fill pages; the rest
         * may go over when a third of the page would stay empty. */
        const double page = p->bottom - p->top, whole = measure(s, step, DEPTH_ALL);
        const double doing = measure(s, step, DEPTH_TEXT), head = measure(s, step, DEPTH_HEAD) + 40;
        if (whole > paper_room(p) && !(paper_room(p) > page / 3 && doing <= paper_room(p)))
            paper_need(p, whole <= page ? whole : doing <= page ? doing : head <= page ? head : 90);
        if (s->o->step != NULL && strcmp(s->o->step, step->id) == 0)
            s->step_page = p->page;
        step_head(s, step, i + 1);
        cautions(s, step);
        step_doing(s, step);
        step_rest(s, step);
        p->y += 7;
        if (i + 1 < s->b->steps.n && paper_room(p) > 8)
            paper_rule(p, PAPER_RULE, 0.5, p->left, p->y, p->right, p->y);
        p->y += 8;
    }
}
