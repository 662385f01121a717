/* crib_parts: owns the list of the crib's parts in their order, and the plain ones: what is in, timing, dangers, proof. */
#include "draw/teach_parts.h"

#include "base/amount.h"
#include "core/gear.h"
#include "core/label.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* ---- what is in ------------------------------------------------------------------------------- */

/* "2024-W11", or the day. */
static const char *show_days(const struct bulletin_days *days, char buf[32])
{
    int year = 0, week = 0;
    if (days->first == days->last) {
        date_show(days->first, buf);
        return buf;
    }
    date_to_week(days->first, &year, &week, NULL);
    (void)snprintf(buf, 32, "%04d-W%02d", year, week);
    return buf;
}

static void add_window(const struct bulletin_window *w, struct text *t)
{
    char from[32], to[32], first[DATE_SHOW_SIZE], last[DATE_SHOW_SIZE];
    show_days(&w->from, from);
    show_days(&w->to, to);
    date_show(w->from.first, first);
    date_show(w->to.last, last);
    text_printf(t, "%s%s \xE2\x80\xA6 %s", t->size > 0 ? "\n" : "", from, to);
    if (w->from.first != w->from.last || w->to.first != w->to.last)
        text_printf(t, " (%s \xE2\x80\xA6 %s)", first, last);
}

static void windows(struct sheet *s)
{
    double code = 0, window = 0;
    for (size_t i = 0; i < s->b->scope.variants.n; i++) {
        const struct bulletin_variant *v = &s->b->scope.variants.at[i];
        for (size_t k = 0; k < v->codes.n; k++)
            code = fmax(code, paper_line_width(&s->p, PAPER_STRONG, v->codes.at[k]));
        for (size_t k = 0; k < v->windows.n; k++) {
            struct text line = {0};
            add_window(&v->windows.at[k], &line);
            if (line.data != NULL)
                window = fmax(window, paper_line_width(&s->p, PAPER_BODY, line.data));
            text_done(&line);
        }
    }
    const double code_share = crib_share(s, code, 0.12, 0.25);
    const double days = crib_share(s, window, 0.3, 0.82 - code_share);
    const struct table_column columns[] = {
        {sheet_word(s, W_VARIANT), 1 - code_share - days, PAPER_LEFT},
        {sheet_word(s, W_CODES), code_share, PAPER_LEFT},
        {sheet_word(s, W_BUILT), days, PAPER_LEFT},
    };
    const struct table t = {columns, 3};
    table_begin(s, &t);
    for (size_t i = 0; i < s->b->scope.variants.n; i++) {
        const struct bulletin_variant *v = &s->b->scope.variants.at[i];
        struct text codes = {0}, built = {0};
        for (size_t k = 0; k < v->codes.n; k++)
            text_printf(&codes, "%s%s", k > 0 ? "\n" : "", v->codes.at[k]);
        for (size_t k = 0; k < v->windows.n; k++)
            add_window(&v->windows.at[k], &built);
        const struct cell cells[] = {
            {.text = sheet_text(s, &v->name)},
            {.kind = CELL_STRONG, .text = codes.data != NULL ? codes.data : ""},
            {.text = built.data != NULL ? built.data : ""}};
        table_row(s, &t, cells);
        s->p.is_broken |= codes.is_broken || built.is_broken;
        text_done(&codes);
        text_done(&built);
    }
    table_end(s);
}

/* Each pattern by an example: the first variant's first window and code. Patterns that say the same stand together. */
static void labels(struct sheet *s)
{
    const struct bulletin_scope *of = &s->b->scope;
    if (of->variants.n == 0 || of->variants.at[0].windows.n == 0)
        return;
    const struct bulletin_variant *v = &of->variants.at[0];
    char code[LABEL_VARIANT_MAX + 1] = "", from[DATE_SHOW_SIZE], to[DATE_SHOW_SIZE];
    if (v->codes.n > 0)
        (void)snprintf(code, sizeof code, "%.*s", (int)strcspn(v->codes.at[0], "*"),
                       v->codes.at[0]);
    struct text says = {0};
    struct label last = {0};
    for (size_t i = 0; i <= of->labels.n; i++) {
        char label[LABEL_TEXT_MAX + 1];
        struct label read = {0};
        struct text days = {0};
        size_t at = 0, n = 0;
        const char *pattern = i < of->labels.n ? of->labels.at[i] : "";
        if (i < of->labels.n)
            n = label_example(pattern, strlen(pattern), v->windows.at[0].from.first, code, label,
                              sizeof label);
        const bool is_read = n > 0 && label_read(label, n, &pattern, 1, &read, &at) == ERR_OK;
        const bool is_same =
            is_read && read.first_day == last.first_day && read.last_day == last.last_day;
        if (says.size > 0 && says.data != NULL && !is_same) {
            date_show(last.first_day, from);
            date_show(last.last_day, to);
            text_puts(&days, from);
            if (last.first_day != last.last_day)
                text_printf(&days, " \xE2\x80\xA6 %s", to);
            crib_line(
                s, PAPER_BODY,
                sheet_format(s, W_LABEL_MEANS, says.data, days.data != NULL ? days.data : ""));
            text_clear(&says);
        }
        if (is_read) {
            text_printf(&says, "%s\xE2\x80\x9C%s\xE2\x80\x9D", says.size > 0 ? " / " : "", label);
            last = read;
        }
        s->p.is_broken |= days.is_broken || says.is_broken;
        text_done(&days);
    }
    text_done(&says);
}

static void scope(struct sheet *s)
{
    struct text vins = {0};
    crib_head(s, sheet_word(s, W_SCOPE));
    for (size_t i = 0; i < s->b->scope.vin.prefixes.n; i++)
        text_printf(&vins, "%s%s", i > 0 ? ", " : "", s->b->scope.vin.prefixes.at[i]);
    if (vins.size > 0 && vins.data != NULL)
        crib_line(s, PAPER_BODY, sheet_format(s, W_VIN_BEGINS, vins.data, NULL));
    for (size_t i = 0; i < s->b->scope.stations.n; i++) {
        const struct bulletin_station *station = &s->b->scope.stations.at[i];
        struct text line = {0};
        text_puts(&line, sheet_text(s, &station->name));
        if (station->label_at.n > 0)
            text_printf(&line, ": %s", sheet_text(s, &station->label_at));
        crib_line(s, PAPER_BODY, line.data != NULL ? line.data : "");
        s->p.is_broken |= line.is_broken;
        text_done(&line);
    }
    labels(s);
    s->p.y += 3;
    windows(s);
    crib_line(s, PAPER_QUIET,
              sheet_word(s, s->b->scope.mixed == BULLETIN_MIXED_PER_STATION ? W_MIXED_STATION
                                                                            : W_MIXED_UNIT));
    s->p.is_broken |= vins.is_broken;
    text_done(&vins);
}

/* ---- timing ----------------------------------------------------------------------------------- */

static void timing(struct sheet *s)
{
    const struct bulletin_timing *rule = &s->b->timing;
    char limit[AMOUNT_SIZE], pitch[AMOUNT_SIZE], figure[SHEET_FIGURE];
    struct text teeth = {0};
    if (rule->node == NULL)
        return;
    crib_head(s, sheet_word(s, W_TIMING));
    amount_show(rule->limit.nano, rule->limit.unit, limit);
    const int64_t pitch_nm = gear_pitch_nm(rule->module.nano);
    if (pitch_nm > 0) {
        (void)quantity_show(pitch_nm, rule->module.unit, 2, pitch, NULL);
        crib_line(s, PAPER_STRONG, sheet_format(s, W_TIMING_LIMIT, limit, pitch));
        text_printf(&teeth, "%s: ", sheet_word(s, W_TEETH));
        for (int i = 1; i <= rule->jump_max && i <= 6; i++) {
            (void)quantity_show(i * pitch_nm, rule->module.unit, 2, pitch, NULL);
            text_printf(&teeth, "%s%d = %s", i > 1 ? " \xC2\xB7 " : "", i, pitch);
        }
        crib_line(s, PAPER_BODY, teeth.data != NULL ? teeth.data : "");
    }
    crib_line(s, PAPER_BODY,
              sheet_format(s, W_JUMP_MOST, sheet_figure(rule->jump_max, figure), NULL));
    crib_line(s, PAPER_QUIET, sheet_text(s, &rule->how));
    s->p.is_broken |= teeth.is_broken;
    text_done(&teeth);
}

/* ---- dangers ---------------------------------------------------------------------------------- */

static void hazards(struct sheet *s)
{
    struct paper *p = &s->p;
    bool is_begun = false;
    for (int hazard = 0; hazard < BULLETIN_HAZARD_N; hazard++) {
        struct text steps = {0};
        for (size_t i = 0; i < s->b->steps.n; i++) {
            bool has = false;
            for (size_t k = 0; k < s->b->steps.at[i].cautions.n; k++)
                has |= (int)s->b->steps.at[i].cautions.at[k].hazard == hazard;
            if (has)
                text_printf(&steps, "%s%zu", steps.size > 0 ? ", " : "", i + 1);
        }
        if (steps.size > 0 && steps.data != NULL) {
            if (!is_begun)
                crib_head(s, sheet_word(s, W_HURTS));
            is_begun = true;
            const double word = (p->right - p->left) * 0.36;
            const double a = paper_text(p, PAPER_HAZARD, p->left, p->y, word - 4, 0, PAPER_LEFT,
                                        sheet_hazard(s, (enum bulletin_hazard)hazard));
            const double b = paper_text(p, PAPER_BODY, p->left + word, p->y,
                                        p->right - p->left - word, 0, PAPER_LEFT, steps.data);
            p->y += (a > b ? a : b) + 1;
        }
        p->is_broken |= steps.is_broken;
        text_done(&steps);
    }
}

/* ---- proof ------------------------------------------------------------------------------------ */

static void photos(struct sheet *s)
{
    struct paper *p = &s->p;
    for (size_t i = 0; i < s->b->proof.photos.n; i++) {
        const struct bulletin_photo *photo = &s->b->proof.photos.at[i];
        struct text line = {0};
        text_puts(&line, sheet_text(s, &photo->name));
        for (size_t k = 0; photo->per == BULLETIN_PER_STATION && k < s->b->scope.stations.n; k++)
            text_printf(&line, "%s%s", k == 0 ? " \xC2\xB7 " : ", ", s->b->scope.stations.at[k].id);
        paper_frame(p, PAPER_INK, 0.8, p->left, p->y + 1.5, 7, 7);
        paper_tag(p, "LI");
        p->y += paper_text(p, PAPER_BODY, p->left + 12, p->y, p->right - p->left - 12, 0,
                           PAPER_LEFT, line.data != NULL ? line.data : "") +
                2;
        paper_untag(p, "LI");
        p->is_broken |= line.is_broken;
        text_done(&line);
    }
}

/* By their figures, those that follow one another as "1 ... 8". */
static void last_readings(struct sheet *s)
{
    struct sheet_group groups[SHEET_GROUPS_MAX] = {0};
    const size_t n = sheet_groups(s, groups);
    bool is_asked[BULLETIN_POINTS_MAX + 2] = {false};
    struct text all = {0};
    for (size_t i = 0; i < s->b->proof.readings.n; i++) {
        const struct bulletin_point *point = bulletin_point_find(s->b, s->b->proof.readings.at[i]);
        if (point != NULL)
            is_asked[crib_figure(s, groups, n, point)] = true;
    }
    for (int first = 1; first <= BULLETIN_POINTS_MAX; first++) {
        int last = first;
        if (!is_asked[first])
            continue;
        while (is_asked[last + 1])
            last++;
        text_printf(&all, "%s%d", all.size > 0 ? ", " : ": ", first);
        if (last > first)
            text_printf(&all, " \xE2\x80\xA6 %d", last);
        first = last;
    }
    struct text line = {0};
    text_printf(&line, "%s%s", sheet_word(s, W_FINAL), all.data != NULL ? all.data : "");
    if (all.size > 0 && line.data != NULL)
        crib_line(s, PAPER_BODY, line.data);
    s->p.is_broken |= all.is_broken || line.is_broken;
    text_done(&all);
    text_done(&line);
}

static void proof(struct sheet *s)
{
    char date[DATE_SHOW_SIZE], days[SHEET_FIGURE];
    crib_head(s, sheet_word(s, W_PROOF));
    photos(s);
    last_readings(s);
    if (s->b->proof.keep_old_parts_days > 0)
        crib_line(
            s, PAPER_BODY,
            sheet_format(s, W_KEEP, sheet_figure(s->b->proof.keep_old_parts_days, days), NULL));
    date_show(s->b->claim.until, date);
    if (s->b->claim.days_after_repair > 0)
        crib_line(
            s, PAPER_STRONG,
            sheet_format(s, W_CLAIM_DAYS, sheet_figure(s->b->claim.days_after_repair, days), date));
    else
        crib_line(s, PAPER_STRONG, sheet_format(s, W_UNTIL, date, NULL));
}

const struct crib_part crib_parts[] = {
    {W_SCOPE, scope},          {W_KITS, crib_kits},       {W_CUTTING, crib_cut},
    {W_TIMING, timing},        {W_HURTS, hazards},        {W_CORNER_LIMITS, crib_opening},
    {W_EFFECTS, crib_effects}, {W_READINGS, crib_others}, {W_PROOF, proof},
    {W_PROOF, NULL},
};
