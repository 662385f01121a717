/* teach_step: owns what stands on a step's card, front and back. The order is that of the hand: who, the dangers in their frame, what to
 * look at first, the act, what is read and its limits, the picture, why, with what, what must be there before the next. */
#include "draw/teach_parts.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static void quiet(struct teach *t, const char *text)
{
    struct paper *p = &t->s.p;
    if (text[0] == '\0')
        return;
    paper_flow(p, PAPER_QUIET, p->left, p->right - p->left, text);
    p->y += 2;
}

/* "unit", or the stations at each of which it is done. */
static void whom(struct teach *t, const struct bulletin_step *step, double x)
{
    struct sheet *s = &t->s;
    struct text names = {0};
    for (size_t i = 0; i < s->b->scope.stations.n; i++)
        text_printf(&names, "%s%s", i > 0 ? ", " : "",
                    sheet_text(s, &s->b->scope.stations.at[i].name));
    const char *says = step->per == BULLETIN_PER_UNIT
                           ? sheet_word(s, W_UNIT)
                           : sheet_format(s, W_EACH, names.data != NULL ? names.data : "", NULL);
    s->p.y += paper_text(&s->p, PAPER_QUIET, x, s->p.y, s->p.right - x, 2, PAPER_LEFT, says);
    s->p.is_broken |= names.is_broken;
    text_done(&names);
}

void teach_step_head(struct teach *t, const struct bulletin_step *step, size_t number, bool is_more)
{
    struct sheet *s = &t->s;
    struct paper *p = &s->p;
    char figure[SHEET_FIGURE];
    const double number_width =
        paper_line_width(p, PAPER_NUMBER, sheet_figure((int64_t)number, figure));
    const double x = p->left + fmax(number_width + 12, 44), top = p->y;
    const char *title = sheet_text(s, &step->title);
    paper_tag(p, "H2");
    paper_line(p, PAPER_NUMBER, p->left, top - 4, number_width + 2, PAPER_LEFT, figure);
    p->y += paper_text(p, PAPER_HEAD, x, top, p->right - x, 4, PAPER_LEFT,
                       is_more ? sheet_format(s, W_GOES_ON, title, NULL) : title);
    paper_untag(p, "H2");
    p->y += 1;
    if (!is_more)
        whom(t, step, x);
    p->y = fmax(p->y, top + 29) + 3;
    paper_rule(p, PAPER_INK, 1.0, p->left, p->y, p->right, p->y);
    p->y += 6;
}

static void cautions(struct teach *t, const struct bulletin_step *step)
{
    struct paper *p = &t->s.p;
    for (size_t i = 0; i < step->cautions.n; i++) {
        const struct bulletin_caution *c = &step->cautions.at[i];
        paper_boxed(p, p->left, p->right - p->left, sheet_hazard(&t->s, c->hazard),
                    sheet_text(&t->s, &c->text));
        p->y += 4;
    }
    p->y += step->cautions.n > 0 ? 3 : 0;
}

/* A line after a small box. */
static void ticked(struct teach *t, const char *text)
{
    struct paper *p = &t->s.p;
    paper_need(p, 13);
    paper_frame(p, PAPER_INK, 0.8, p->left, p->y + 1.5, 8, 8);
    paper_flow(p, PAPER_BODY, p->left + 14, p->right - p->left - 14, text);
    p->y += 2;
}

static void look_first(struct teach *t, const struct bulletin_step *step)
{
    struct paper *p = &t->s.p;
    if (step->check_first.n == 0)
        return;
    paper_need(p, 26);
    paper_line(p, PAPER_SMALL, p->left, p->y, p->right - p->left, PAPER_LEFT,
               sheet_word(&t->s, W_CHECK_FIRST));
    p->y += 10;
    for (size_t i = 0; i < step->check_first.n; i++)
        ticked(t, sheet_text(&t->s, &step->check_first.at[i]));
    p->y += 2;
}

static void inspections(struct teach *t, const struct bulletin_step *step)
{
    struct sheet *s = &t->s;
    for (size_t i = 0; i < step->inspections.n; i++) {
        const struct bulletin_inspection *look = &step->inspections.at[i];
        const struct bulletin_part *part = bulletin_part_find(s->b, look->part);
        struct text line = {0};
        text_printf(&line, "%s: %s %s", part != NULL ? sheet_text(s, &part->name) : look->part,
                    sheet_text(s, &look->criterion),
                    sheet_format(s, W_ELSE, sheet_text(s, &look->otherwise), NULL));
        ticked(t, line.data != NULL ? line.data : "");
        s->p.is_broken |= line.is_broken;
        text_done(&line);
    }
}

/* Points one after the other that have the same limits stand together: the limits, then their names. */
static void readings(struct teach *t, const struct bulletin_step *step)
{
    struct sheet *s = &t->s;
    struct paper *p = &s->p;
    for (size_t i = 0; i < step->readings.n;) {
        char limits[SHEET_LIMITS], next[SHEET_LIMITS];
        const struct bulletin_point *first = bulletin_point_find(s->b, step->readings.at[i]);
        struct text names = {0};
        const size_t begin = i;
        for (; i < step->readings.n; i++) {
            const struct bulletin_point *point = bulletin_point_find(s->b, step->readings.at[i]);
            if (first == NULL || point == NULL)
                break;
            if (strcmp(sheet_limits(first, limits), sheet_limits(point, next)) != 0)
                break;
            text_printf(&names, "%s%s", names.size > 0 ? "; " : "", sheet_text(s, &point->name));
        }
        i += i == begin;
        if (names.size == 0 || names.data == NULL)
            continue;
        const struct strip strip = sheet_strip(s, first);
        const double strip_width = 62, at = p->left + 14;
        paper_need(p, 32);
        paper_fill(p, PAPER_ACT, p->left, p->y + 1, 3, 12);
        paper_line(p, PAPER_FIGURE, at - 6, p->y, p->right - at - strip_width, PAPER_LEFT, limits);
        strip_draw(p, p->right - strip_width, p->y - 3, strip_width, &strip);
        p->y += paper_line_height(p, PAPER_FIGURE) + 1;
        paper_flow(p, PAPER_BODY, at - 6, p->right - at + 6, names.data);
        p->y += 4;
        p->is_broken |= names.is_broken;
        text_done(&names);
    }
}

static void with_what(struct teach *t, enum words word, const char *const *ids, size_t n,
                      const struct bulletin_item *items, size_t n_items)
{
    struct text names = {0};
    sheet_items(&t->s, ids, n, items, n_items, &names);
    if (n > 0 && names.data != NULL)
        quiet(t, sheet_format(&t->s, word, names.data, NULL));
    t->s.p.is_broken |= names.is_broken;
    text_done(&names);
}

/* Behind an arrow: what must be there before the next step. */
static void hold(struct teach *t, const struct bulletin_step *step)
{
    struct sheet *s = &t->s;
    struct paper *p = &s->p;
    struct text what = {0};
    const bool is_only = step->hold == BULLETIN_HOLD_READING || step->hold == BULLETIN_HOLD_PHOTO;
    for (size_t i = 0; i < step->photos.n; i++) {
        const struct bulletin_photo *photo = sheet_photo(s, step->photos.at[i]);
        if (photo != NULL)
            text_printf(&what, "%s%s", what.size > 0 ? "; " : "",
                        sheet_format(s, W_PHOTO, sheet_text(s, &photo->name), NULL));
    }
    if (step->hold == BULLETIN_HOLD_READING)
        text_printf(&what, "%s%s", what.size > 0 ? "; " : "", sheet_word(s, W_ALL_INSIDE));
    if (what.size > 0 || step->hold != BULLETIN_HOLD_NONE) {
        paper_need(p, 26);
        p->y += 2;
        const double y = p->y, xy[] = {p->left, y + 2, p->left + 8, y + 6, p->left, y + 10};
        paper_poly(p, PAPER_ACT, xy, 3);
        const double x = p->left + 14, width = p->right - p->left - 14;
        if (is_only)
            paper_flow(p, PAPER_ACTION, x, width, sheet_word(s, W_GO_ON));
        else if (step->hold == BULLETIN_HOLD_CONFIRM)
            paper_flow(p, PAPER_ACTION, x, width, sheet_word(s, W_CONFIRM));
        paper_flow(p, PAPER_BODY, x, width, what.data != NULL ? what.data : "");
        p->y += 2;
    }
    p->is_broken |= what.is_broken;
    text_done(&what);
}

void teach_step(struct teach *t, const struct bulletin_step *step, size_t number)
{
    struct sheet *s = &t->s;
    struct paper *p = &s->p;
    const char *why = sheet_text(s, &step->why);
    teach_step_head(t, step, number, false);
    cautions(t, step);
    look_first(t, step);
    paper_flow(p, PAPER_DO, p->left, p->right - p->left, sheet_text(s, &step->text));
    p->y += 5;
    inspections(t, step);
    readings(t, step);
    if (step->picture.node != NULL)
        p->y += teach_picture_draw(t, &step->picture, p->left, p->right - p->left, 120) + 4;
    if (why[0] != '\0')
        quiet(t, sheet_format(s, W_WHY, why, NULL));
    with_what(t, W_USE, step->tools.at, step->tools.n, s->b->tools.at, s->b->tools.n);
    with_what(t, W_WEAR, step->protective.at, step->protective.n, s->b->protective.at,
              s->b->protective.n);
    hold(t, step);
}

void teach_step_asks(struct teach *t, const struct bulletin_step *step, size_t number)
{
    struct sheet *s = &t->s;
    struct paper *p = &s->p;
    const struct {
        bool is_asked;
        enum words word;
    } asks[] = {
        {step->cautions.n > 0, W_ASK_HURT},
        {true, W_ASK_DO},
        {step->readings.n > 0, W_ASK_LIMIT},
        {step->why.n > 0, W_ASK_WHY},
        {step->hold != BULLETIN_HOLD_NONE || step->photos.n > 0, W_ASK_PROOF},
    };
    teach_step_head(t, step, number, false);
    p->y += 10;
    for (size_t i = 0; i < sizeof asks / sizeof *asks; i++) {
        if (!asks[i].is_asked)
            continue;
        const double xy[] = {p->left, p->y + 3, p->left + 9, p->y + 8, p->left, p->y + 13};
        paper_poly(p, PAPER_ACT, xy, 3);
        paper_flow(p, PAPER_DO, p->left + 16, p->right - p->left - 16, sheet_word(s, asks[i].word));
        p->y += 12;
    }
    p->y += 6;
    quiet(t, sheet_word(s, W_ASK_TURN));
}
