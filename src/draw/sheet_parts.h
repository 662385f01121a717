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
    int step_page; /* on which the step that was asked for begins; 0: not met yet */
    int n_template_pages;
    bool
        has_marks; /* texts that the bulletin does not have in this language say which one they are in: sheet_text */
    struct sheet_marked *marked; /* owned; sheet_marked_done */
    size_t n_marked, marked_room;
    struct text run_left, run_right, buf; /* buf: for one text at a time */
    struct fault fault;
};

const char *sheet_word(const struct sheet *s, enum words word);
/* sheet_text: in the sheet's language; with has_marks a text in another one ends in " [en]". Lives as long as the sheet. */
const char *sheet_text(struct sheet *s, const struct bulletin_text *text);
void sheet_marked_done(struct sheet *s);
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

/* sheet_describe: the file's own title, author, dates. sheet_ready: whether this machine can draw at all; ERR_UNKNOWN else. */
void sheet_describe(struct sheet *s, const char *title);
MUST_USE enum err sheet_ready(struct fault *f);
void sheet_mark(struct paper *p, double x, double y); /* our mark, 26 x 15 */
void sheet_code(struct sheet *s, double x, double y, double side);
const char *sheet_hazard(const struct sheet *s, enum bulletin_hazard hazard);
/* sheet_items: the names of some of the bulletin's items, one after the other: "saw; file". */
void sheet_items(struct sheet *s, const char *const *ids, size_t n,
                 const struct bulletin_item *items, size_t n_items, struct text *out);
const struct bulletin_photo *sheet_photo(const struct sheet *s, const char *id);
/* sheet_time: what an adjuster takes: "10 min + 30 s", once and for each step. */
void sheet_time(const struct bulletin_adjuster *a, char *buf, size_t room);

/* Which point stands at which corner. Corners: 0 upper left, 1 upper right, 2 lower left, 3 lower right. Side +1 stands on the left,
 * seen from outside. One group is read with the room at one extension. */
enum { SHEET_CORNERS = 4, SHEET_GROUPS_MAX = 8 };
struct sheet_group {
    const struct bulletin_point *corners[SHEET_CORNERS];
    int32_t travel;
    int64_t extension; /* INT64_MIN: not given */
};
/* sheet_groups: in the order of their first points; a point whose corner is taken stays out. Returns how many. */
size_t sheet_groups(const struct sheet *s, struct sheet_group groups[SHEET_GROUPS_MAX]);
/* sheet_side: the name of the station whose points stand on the side of corner `upper` (0 left, 1 right); "" when they are of several
 * or of none. */
const char *sheet_side(struct sheet *s, const struct sheet_group *g, size_t upper);
bool sheet_is_grouped(const struct sheet_group *groups, size_t n,
                      const struct bulletin_point *point);

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
 * ellipsis after 9 lines, but not where the page is unbroken. */
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
