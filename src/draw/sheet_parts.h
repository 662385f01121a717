/* sheet_parts: what the parts of the sheet share; nobody else's. */
#ifndef DRAW_SHEET_PARTS_H
#define DRAW_SHEET_PARTS_H

#include "draw/paper.h"
#include "draw/sheet.h"
#include "draw/strip.h"
#include "draw/words.h"

struct sheet {
    struct paper p;
    const struct sheet_order *o;
    const struct bulletin *b;
    enum words_language words;
    const char *language;
    const char *code; /* what the QR says */
    int n_sections;
    int n_template_pages;
    struct text run_left, run_right, buf; /* buf: for one text at a time */
    struct fault fault;
};

const char *sheet_word(const struct sheet *s, enum words word);
const char *sheet_text(const struct sheet *s, const struct bulletin_text *text);
/* sheet_format: our words with what is put in for each "%s"; second may be NULL. The text lives until the next call. */
const char *sheet_format(struct sheet *s, enum words word, const char *first, const char *second);
/* sheet_figure: a number in digits. */
enum { SHEET_FIGURE = 24 };
const char *sheet_figure(int64_t figure, char buf[SHEET_FIGURE]);
/* sheet_has: whether a station is printed; "" (the whole unit) always is. */
bool sheet_has(const struct sheet *s, const char *station);

/* sheet_section: a heading, with this much room kept for what follows; an entry in the table of contents. */
void sheet_section(struct sheet *s, const char *title, double keep);
/* sheet_strip: the limits of a point, as a strip without a reading. */
struct strip sheet_strip(const struct sheet *s, const struct bulletin_point *point);
/* sheet_limits: "56 ... 61 mm", "at most 22 A" by sign; into buf[SHEET_LIMITS]. */
enum { SHEET_LIMITS = 240 };
const char *sheet_limits(const struct bulletin_point *point, char buf[SHEET_LIMITS]);
bool sheet_is_corner(const struct bulletin_point *point);

/* ---- tables ----------------------------------------------------------------------------------- */

enum { TABLE_COLUMNS_MAX = 8 };

struct table_column {
    const char *head;
    double share; /* of the width */
    enum paper_align align;
};

enum cell_kind { CELL_TEXT, CELL_STRONG, CELL_QUIET, CELL_BLANK, CELL_TICKS, CELL_STRIP };

struct cell {
    enum cell_kind kind;
    const char *
        text; /* borrowed until the row is drawn; CELL_TICKS: words, parted by '\n', each after a box */
    struct strip strip;
};

struct table {
    const struct table_column *columns;
    size_t n;
};

/* table_begin: the heads; table_end after the last row; table_row: one row, on a new page under its heads again where there is no room; cells of a row end in an
 * ellipsis after 9 lines. */
void table_begin(struct sheet *s, const struct table *t);
void table_row(struct sheet *s, const struct table *t, const struct cell *cells);
void table_end(struct sheet *s);

/* ---- the parts -------------------------------------------------------------------------------- */

void sheet_front(struct sheet *s); /* sheet_front.c: head, scope, kits, what to bring */
void sheet_steps(struct sheet *s); /* sheet_steps.c */
void sheet_readings(
    struct sheet *s); /* sheet_readings.c: opening, other readings, what moves, timing */
void sheet_cuts(struct sheet *s);     /* sheet_template.c: the record */
void sheet_proof(struct sheet *s);    /* sheet_front.c */
void sheet_template(struct sheet *s); /* sheet_template.c: the pages at true scale */

#endif
