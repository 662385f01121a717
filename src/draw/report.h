/* report: a report on paper, made of plain blocks: texts, tiles, tables, bars, readings against limits, charts (draw/chart.h), pictures, notes.
 * What is said and which figures stand where is the caller's; this folder lays it out: a first page at a glance, sections with
 * their heads in the table of contents, tables whose heads come again on every page, captions and sources beside what they belong
 * to, the page's number at its foot. Any text may be long or odd; nothing is drawn beyond the margins. */
#ifndef DRAW_REPORT_H
#define DRAW_REPORT_H

#include "base/fault.h"
#include "base/text.h"
#include "draw/chart.h"
#include "draw/size.h"
#include "draw/strip.h"

enum { REPORT_COLUMNS_MAX = 10, REPORT_TILES_MAX = 4 };

/* A figure to be seen first: what it is, the figure, what to know about it. */
struct report_tile {
    const char *label, *value, *note;
};

struct report_column {
    const char *head;
    double share; /* of the width; together 1 */
    bool is_right, is_strip;
};
struct report_table {
    size_t n_columns, n_rows;
    const struct report_column *columns;
    const char *const *cells;   /* [n_rows * n_columns]; "" where a strip is drawn */
    const struct strip *strips; /* [n_rows], with a column that is_strip; else NULL */
    const uint8_t *is_total;    /* [n_rows] 1: a sum, said strongly; NULL: none is */
};

/* Amounts side by side on one line, to scale, against a mark: money against a reserve. */
struct report_bar {
    const char *name, *shown; /* "paid", "12 300.00 EUR" */
    double value;             /* >= 0 */
    enum report_ink { REPORT_FULL, REPORT_HALF, REPORT_HATCH, REPORT_LINE } ink;
};
struct report_bars {
    size_t n;
    const struct report_bar *bars;
    bool has_mark, has_interval;
    double mark;           /* the reserve */
    const char *mark_says; /* "reserve 150 000.00 EUR" */
    double expected, low, high;
    const char *expected_says;
};

enum report_kind {
    REPORT_SENTENCE, /* the answer of a section: stronger */
    REPORT_TEXT,
    REPORT_POINT,   /* one item of a list */
    REPORT_HEADING, /* within a section */
    REPORT_SMALL,   /* caption, source line */
    REPORT_NOTICE,  /* boxed: a word over it, and the text */
    REPORT_TILES,
    REPORT_TABLE,
    REPORT_BARS,
    REPORT_CHART,
    REPORT_PICTURE
};
struct report_block {
    enum report_kind kind;
    const char *
        text; /* of texts; of a notice its words; of a picture what it shows; of a table, bars: NULL */
    const char *word; /* of a notice */
    size_t n_tiles;
    const struct report_tile *tiles;
    struct report_table table;
    struct report_bars bars;
    const struct chart *chart;
    double height;       /* of a chart; 0: as it likes */
    const char *picture; /* a PNG's bytes; one that cannot be read is left out, and said */
    size_t picture_n;
};

struct report_section {
    const char *id, *title; /* id for the table of contents: "window" */
    bool is_on_new_page;
    size_t n;
    const struct report_block *blocks;
};

struct report {
    const char *over; /* above the title: "Campaign report" */
    const char *title, *subtitle;
    const char *verdict; /* a sentence */
    enum report_tone { REPORT_GOOD, REPORT_BAD, REPORT_UNSURE } tone;
    const char *language; /* BCP 47 */
    const char *author, *keywords;
    const char *foot_left, *foot_right;
    enum paper_size size;
    int64_t made_s; /* seconds since 1970-01-01T00:00Z */
    size_t n;
    const struct report_section
        *sections; /* the first goes on the page of the verdict, under no head of its own */
};

/* report_make: the PDF appended to out; the same report gives the same bytes on one machine. *ret_pages: how many pages. Errors:
 * ERR_UNKNOWN (no font), ERR_LIMIT (more tiles or columns than there may be), ERR_MEMORY; reterr->message says it for people. */
MUST_USE enum err report_make(const struct report *report, struct text *out, int *ret_pages,
                              struct fault *reterr);

#endif
