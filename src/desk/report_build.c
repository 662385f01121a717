/* report_build: owns how sections, blocks and tables of the report come about, and how amounts are written in it. */
#include "core/date.h"
#include "desk/report_inner.h"

#include <assert.h>
#include <inttypes.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#define LETTER_HEIGHT 0.88
#define BLANK         "\xC2\xA0" /* does not break */

static const char *say(struct report_run *r, const char *fmt, va_list ap)
{
    char buf[2048];
    (void)vsnprintf(buf, sizeof buf, fmt, ap);
    size_t n = strlen(buf);
    if (n == sizeof buf - 1) { /* a text that was cut is cut between characters */
        while (n > 0 && ((unsigned char)buf[n - 1] & 0xc0U) == 0x80U)
            n--;
        n -= n > 0; /* the first byte of the character that may be torn */
    }
    n = text_clean(buf, n, false);
    const char *kept = arena_text(&r->arena, buf, n);
    return kept != NULL ? kept : "";
}

const char *report_say(struct report_run *r, const char *fmt, ...)
{
    va_list ap;
    va_start(ap, fmt);
    const char *text = say(r, fmt, ap);
    va_end(ap);
    return text;
}

static void begin_section(struct report_run *r, const char *id, const char *title,
                          bool is_on_new_page, struct report_block *blocks, size_t room)
{
    assert(r->n_sections < REPORT_SECTIONS_MAX);
    r->rooms[r->n_sections] = blocks;
    r->room[r->n_sections] = room;
    r->sections[r->n_sections++] = (struct report_section){id, title, is_on_new_page, 0, blocks};
}

void report_section(struct report_run *r, const char *id, const char *title, bool is_on_new_page)
{
    begin_section(r, id, title, is_on_new_page, r->blocks[r->n_sections], REPORT_BLOCKS_MAX);
}

void report_section_of(struct report_run *r, const char *id, const char *title, bool is_on_new_page,
                       size_t room)
{
    struct report_block *blocks = arena_get(&r->arena, room * sizeof *blocks);
    if (blocks != NULL)
        begin_section(r, id, title, is_on_new_page, blocks, room);
    else /* told at the end: the arena is broken */
        report_section(r, id, title, is_on_new_page);
}

struct report_block *report_add(struct report_run *r, enum report_kind kind, const char *text)
{
    struct report_section *s = &r->sections[r->n_sections - 1];
    struct report_block *b = &r->rooms[r->n_sections - 1][s->n];
    assert(s->n < r->room[r->n_sections - 1]);
    *b = (struct report_block){.kind = kind, .text = text};
    s->n++;
    return b;
}

void report_put(struct report_run *r, enum report_kind kind, const char *fmt, ...)
{
    va_list ap;
    va_start(ap, fmt);
    (void)report_add(r, kind, say(r, fmt, ap));
    va_end(ap);
}

/* ---- tables -------------------------------------------------------------------------------- */

void report_rows_begin(struct report_rows *rows, struct report_run *r,
                       const struct report_column *columns, size_t n_columns, size_t n_rows)
{
    struct report_block *b = report_add(r, REPORT_TABLE, NULL);
    *rows = (struct report_rows){.run = r, .t = &b->table, .room = n_rows * n_columns};
    rows->cells = arena_get(&r->arena, (rows->room + 1) * sizeof *rows->cells);
    rows->totals = arena_get(&r->arena, n_rows + 1);
    rows->strips = arena_get(&r->arena, (n_rows + 1) * sizeof *rows->strips);
    b->table.n_columns = n_columns;
    b->table.columns = columns;
    if (rows->cells == NULL || rows->totals == NULL || rows->strips == NULL)
        rows->room = 0;
}

void report_cell(struct report_rows *rows, const char *fmt, ...)
{
    va_list ap;
    if (rows->at >= rows->room)
        return;
    va_start(ap, fmt);
    rows->cells[rows->at++] = say(rows->run, fmt, ap);
    va_end(ap);
}

void report_total(struct report_rows *rows)
{
    if (rows->at < rows->room)
        rows->totals[rows->at / rows->t->n_columns] = 1;
}

void report_rows_end(struct report_rows *rows, const char *source)
{
    bool has_strips = false;
    for (size_t i = 0; i < rows->t->n_columns; i++)
        has_strips = has_strips || rows->t->columns[i].is_strip;
    rows->t->n_rows = rows->t->n_columns > 0 ? rows->at / rows->t->n_columns : 0;
    rows->t->cells = rows->cells;
    rows->t->is_total = rows->totals;
    rows->t->strips = has_strips ? rows->strips : NULL;
    if (source != NULL)
        (void)report_add(rows->run, REPORT_SMALL, source);
}

/* ---- charts -------------------------------------------------------------------------------- */

struct study_chart *report_chart_next(struct report_run *r)
{
    assert(r->n_charts < REPORT_CHARTS_MAX);
    return &r->charts[r->n_charts++];
}

void report_chart(struct report_run *r, enum err e, bool has_title, double height)
{
    if (e != ERR_OK) {
        r->arena.is_broken = r->arena.is_broken || e == ERR_MEMORY;
        return;
    }
    struct report_block *b = report_add(r, REPORT_CHART, NULL);
    if (!has_title)
        r->charts[r->n_charts - 1].chart.title = "";
    r->charts[r->n_charts - 1].chart.assumed = ""; /* said in a section of its own */
    b->chart = &r->charts[r->n_charts - 1].chart;
    b->height = r->o->size == PAPER_LETTER ? LETTER_HEIGHT * height : height; /* a shorter page */
}

/* ---- amounts ------------------------------------------------------------------------------- */

/* Digits in groups of three, from five digits on (ISO 80000-1, 7.3.1: thin gaps, never a comma or a point). */
static void group(const char *digits, char *buf, size_t room)
{
    const size_t n = strlen(digits);
    size_t at = 0;
    for (size_t i = 0; i < n && at + 4 < room; i++) {
        if (n > 4 && i > 0 && (n - i) % 3 == 0) {
            memcpy(buf + at, BLANK, 2);
            at += 2;
        }
        buf[at++] = digits[i];
    }
    buf[at] = '\0';
}

const char *report_count(struct report_run *r, int64_t n)
{
    char digits[32], grouped[80];
    const uint64_t size = n < 0 ? (uint64_t)0 - (uint64_t)n : (uint64_t)n;
    (void)snprintf(digits, sizeof digits, "%" PRIu64, size);
    group(digits, grouped, sizeof grouped);
    return report_say(r, "%s%s", n < 0 ? "-" : "", grouped);
}

const char *report_money(struct report_run *r, int64_t minor)
{
    char digits[32], grouped[80];
    uint64_t scale = 1;
    for (int i = 0; i < r->c->currency_digits && i < 6; i++)
        scale *= 10;
    const uint64_t size = minor < 0 ? (uint64_t)0 - (uint64_t)minor : (uint64_t)minor;
    const uint64_t whole = size / scale + (size % scale * 2 >= scale && scale > 1);
    (void)snprintf(digits, sizeof digits, "%" PRIu64, whole);
    group(digits, grouped, sizeof grouped);
    return report_say(r, "%s%s" BLANK "%s", minor < 0 && whole > 0 ? "-" : "", grouped,
                      r->c->currency);
}

const char *report_number(struct report_run *r, double value, int digits)
{
    if (!isfinite(value))
        return value > 0 ? "no bound" : "-";
    char buf[64];
    int decimals = 0;
    if (value != 0)
        decimals = digits - 1 - (int)floor(log10(fabs(value)));
    decimals = decimals < 0 ? 0 : decimals > 9 ? 9 : decimals;
    (void)snprintf(buf, sizeof buf, "%.*f", decimals, value);
    return report_say(r, "%s", buf);
}

const char *report_share(struct report_run *r, double share)
{
    return report_say(r, "%s" BLANK "%%",
                      report_number(r, 100 * share, fabs(share) < 0.0995 ? 2 : 3));
}

const char *report_day(struct report_run *r, int32_t day)
{
    char buf[DATE_SHOW_SIZE];
    date_show(day, buf);
    return report_say(r, "%s", buf);
}

const char *report_p(struct report_run *r, double p)
{
    return p < 0.0001 ? "<0.0001" : report_number(r, p, p < 0.001 ? 1 : 2);
}

const char *report_expected(struct report_run *r, double value)
{
    if (value < 0.05)
        return "<0.1";
    return value < 9.95 ? report_say(r, "%.1f", value) : report_count(r, llround(value));
}
