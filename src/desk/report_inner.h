/* report_inner: what the parts of the report share: what was read and worked out, and the pages as they come about. */
#ifndef DESK_REPORT_INNER_H
#define DESK_REPORT_INNER_H

#include "bulletin/arena.h"
#include "desk/report.h"
#include "desk/rule.h"
#include "desk/study_chart.h"
#include "desk/study_rows.h"
#include "draw/report.h"

enum {
    REPORT_SECTIONS_MAX = 12,
    REPORT_BLOCKS_MAX = 64,
    REPORT_WINDOWS_MAX = 8, /* variants that are looked at one by one */
    REPORT_RUNS = 2,        /* runs of days looked for in each */
    REPORT_CHARTS_MAX = 4
};

/* A study on the store's rows; has false: `why` says why not. */
struct report_study {
    bool has;
    char why[FAULT_MESSAGE_MAX];
    struct study_rows rows;
    struct study_table *t;
};

struct report_window {
    struct report_study s;
    const char *variant, *name; /* id, for people */
    struct study_window_order order;
    struct study_window *r;
};

struct report_run {
    struct store *store;
    const struct report_order *o;
    const struct study_watch *watch;
    struct fault *f;
    struct arena arena;
    const struct campaign *c;
    struct study_sites sites;
    const struct bulletin *b;
    const char *language,
        *source; /* source: "Source: store claims, bulletin OV-26-03 revision 2, 2026-12-01." */
    char today[DATE_SHOW_SIZE];
    int64_t findings[RULE_N]; /* claims whose last ruling has it */
    int64_t n_ruled;

    size_t n_windows;
    struct report_window windows[REPORT_WINDOWS_MAX];
    int best; /* the window to draw; -1: none */
    struct report_study completion_s, held_s;
    struct study_completion_order completion_order;
    struct study_completion *completion;
    struct study_held_order held_order;
    struct study_held held;
    struct study_chart charts[REPORT_CHARTS_MAX];
    size_t n_charts;

    struct report_section sections[REPORT_SECTIONS_MAX];
    struct report_block blocks[REPORT_SECTIONS_MAX][REPORT_BLOCKS_MAX];
    struct report_block *rooms[REPORT_SECTIONS_MAX]; /* where the blocks of each section go */
    size_t room[REPORT_SECTIONS_MAX];
    size_t n_sections;
    size_t n_kept; /* studies in the chapter of those kept */
    const char *verdict;
    enum report_tone tone;
};

/* ---- writing (report_build.c) ---------------------------------------------------------------- */

/* report_say: a text of the report's own; "" when memory ran out, which is told once at the end. */
const char *report_say(struct report_run *r, const char *fmt, ...) PRINTF_LIKE(2, 3);
void report_section(struct report_run *r, const char *id, const char *title, bool is_on_new_page);
/* report_section_of: one of up to `room` blocks, more than REPORT_BLOCKS_MAX. */
void report_section_of(struct report_run *r, const char *id, const char *title, bool is_on_new_page,
                       size_t room);
struct report_block *report_add(struct report_run *r, enum report_kind kind, const char *text);
void report_put(struct report_run *r, enum report_kind kind, const char *fmt, ...)
    PRINTF_LIKE(3, 4);

/* A table of at most n_rows rows: its cells are put one after another, row by row. */
struct report_rows {
    struct report_run *run;
    struct report_table *t;
    const char **cells;
    uint8_t *totals;
    struct strip *strips;
    size_t at, room;
};
void report_rows_begin(struct report_rows *rows, struct report_run *r,
                       const struct report_column *columns, size_t n_columns, size_t n_rows);
void report_cell(struct report_rows *rows, const char *fmt, ...) PRINTF_LIKE(2, 3);
void report_total(struct report_rows *rows); /* the row under way is a sum */
void report_rows_end(struct report_rows *rows, const char *source);

/* A chart that was made (e ERR_OK) as a block; one that was not is left out. has_title false: the section says it already. height 0: as it likes. */
void report_chart(struct report_run *r, enum err e, bool has_title, double height);
struct study_chart *report_chart_next(struct report_run *r);

/* Amounts for people: money in whole units, rounded half up, "12 346 EUR"; a share "54 %"; a count "12 345"; a number with `digits` that count. */
const char *report_money(struct report_run *r, int64_t minor);
const char *report_share(struct report_run *r, double share);
const char *report_count(struct report_run *r, int64_t n);
const char *report_number(struct report_run *r, double value, int digits);
const char *report_day(struct report_run *r, int32_t day);
const char *report_p(struct report_run *r, double p);
const char *report_expected(struct report_run *r, double value); /* units: "<0.1", "4.4", "61" */

/* ---- working out (report_figures.c) ---------------------------------------------------------- */

MUST_USE enum err report_figures(struct report_run *r);
void report_figures_done(struct report_run *r);

/* report_ever: units that will ever come, with their interval, as the forecast's row "ever" has it; with completion_s.has. */
struct report_ever {
    int64_t units, low, high;
};
struct report_ever report_ever(const struct report_run *r);
bool report_money_bars(
    struct report_run *r); /* report_progress.c; false: there is nothing to draw */
bool report_is_short(
    const struct campaign_kit *k); /* runs out before an order comes, and before nobody needs it */

/* ---- the sections, in their order ------------------------------------------------------------ */

void report_first(struct report_run *r);    /* report_first.c: the page at a glance */
void report_found(struct report_run *r);    /* report_found.c */
void report_progress(struct report_run *r); /* report_progress.c: completion, money, kits */
void report_work(struct report_run *r); /* report_work.c: readings, rulings, shops, did it hold */
MUST_USE enum err
report_kept(struct report_run *r); /* report_kept.c: what people kept; no section when nothing is */
void report_ground(
    struct report_run *r); /* report_ground.c: what is uncertain, how it was worked out */

#endif
