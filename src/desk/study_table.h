/* study_table: the columns a study asks for, out of a CSV file (RFC 4180, base/csv.h) with any others beside them, each
 * checked and
 * kept in the form in which it is worked with. Rows are streamed; what is kept is 8 bytes a number or amount, 4 a day or text
 * and 1
 * a yes, beside each text once. Reading a number takes no locale. */
#ifndef DESK_STUDY_TABLE_H
#define DESK_STUDY_TABLE_H

#include "base/fault.h"
#include "core/quantity.h"
#include "desk/study.h"

#include <math.h>

enum study_type {
    STUDY_NUMBER, /* decimal, exponent allowed: 12, -0.5, 1e-3 */
    STUDY_AMOUNT, /* as core/quantity reads it, kept in nano of unit's dimension */
    STUDY_DAY,    /* "YYYY-MM-DD", kept as the day's number (core/date.h) */
    STUDY_TEXT, /* names things: kept as the number of the text, in the order of first appearance */
    STUDY_YES   /* 0 or 1 */
};

/* One column that is asked for. */
struct study_want {
    const char *column; /* as the file's head names it; NULL: not asked for, reads as none */
    enum study_type type;
    enum unit unit; /* of amounts: the one a bare number takes */
    double low,
        high;      /* of numbers: least and greatest that make sense (-HUGE_VAL, HUGE_VAL: any) */
    bool is_whole; /* of numbers: no fractions */
    bool may_be_empty;
    bool keeps_rest; /* of numbers: keep what the double leaves of the decimal, for study_shifted */
};

#define STUDY_ANY .low = -HUGE_VAL, .high = HUGE_VAL /* low and high of a number that may be any */

enum { STUDY_WANTS_MAX = 16 };
#define STUDY_NO_AMOUNT INT64_MIN  /* an empty field, where it may be: amounts */
#define STUDY_NO_DAY    INT32_MIN  /* days */
#define STUDY_NO_TEXT   UINT32_MAX /* texts */
/* An empty number is NaN (isnan), an empty yes 2. */
enum { STUDY_NO_YES = 2 };

struct study_table;

/* study_table_read: path "-": standard input. wants[0..n_wants), n_wants <= STUDY_WANTS_MAX; column i of the table is
 * wants[i]. What is
 * asked for twice is kept twice. *ret is the caller's to free. A file without a row is a table of none: what that means is the
 * study's to say. Errors, with file, line, column and the column's name: those of csv_open_file, csv_need and csv_next;
 * ERR_EMPTY (an empty field), ERR_SYNTAX, ERR_UNIT, ERR_RANGE, ERR_DOMAIN (outside low..high, not whole), ERR_IMPOSSIBLE (a day),
 * ERR_LIMIT (rows, a text's size), ERR_MEMORY; ERR_BUSY when the watch asked to stop. */
MUST_USE enum err study_table_read(const char *path, const struct study_want *wants, size_t n_wants,
                                   const struct study_watch *watch, struct study_table **ret,
                                   struct fault *reterr);

/* study_table_parse: the same over text[0..n); name is for faults. */
MUST_USE enum err study_table_parse(const char *text, size_t n, const char *name,
                                    const struct study_want *wants, size_t n_wants,
                                    struct study_table **ret, struct fault *reterr);
void study_table_free(struct study_table *t); /* NULL is fine */

size_t study_rows(const struct study_table *t);

/* Column i, study_rows of them, borrowed; NULL for one that was not asked for. Its type must be the one asked for (assert). */
const double *study_numbers(const struct study_table *t, size_t i);
const int64_t *study_amounts(const struct study_table *t, size_t i);
const int32_t *study_days(const struct study_table *t, size_t i);
const uint32_t *study_texts(const struct study_table *t, size_t i);
const uint8_t *study_yes(const struct study_table *t, size_t i);

/* study_shifted: column i, numbers that keep their rest, less origin; ret[study_rows]. As exact as if the decimals had been subtracted
 * when origin lies near them (one of them, say): 1000000000000.4 less 1000000000000.3 is 0.1. */
void study_shifted(const struct study_table *t, size_t i, double origin, double *ret);

/* How many different texts column i holds; the text of a number below that. */
size_t study_n_texts(const struct study_table *t, size_t i);
const char *study_text(const struct study_table *t, size_t i, uint32_t text);

/* study_row_fault: fills *f with file, line of row and column i's name, and the message; returns code. study_table_fault:
 * about the
 * file as a whole. For what only shows when columns are held against one another. */
enum err study_row_fault(const struct study_table *t, size_t row, size_t i, struct fault *f,
                         enum err code, const char *fmt, ...) PRINTF_LIKE(6, 7);
enum err study_table_fault(const struct study_table *t, struct fault *f, enum err code,
                           const char *fmt, ...) PRINTF_LIKE(4, 5);
int study_line(const struct study_table *t, size_t row);

#endif
