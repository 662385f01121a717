/* csv: comma-separated values as RFC 4180 defines them, read in one pass and written.
 *
 * Read: records end in CRLF or LF, the last one with or without; a field in double quotes may hold commas, line ends and doubled
 * quotes; blanks belong to the field. A byte order mark at the start is skipped. The first record names the columns. A record with
 * another number of fields is a fault, as is a quote inside an unquoted field, text after a closing quote, a NUL, bytes that are
 * not UTF-8, a carriage return that no line feed follows outside quotes, an unclosed quote (told with the line where it opened). An
 * empty line between records is skipped. Rows are streamed: memory is that of one record. After a fault reading does not go on.
 *
 * Written: fields are quoted only where they must be; records end in CRLF (RFC 4180, section 2). */
#ifndef BASE_CSV_H
#define BASE_CSV_H

#include "base/fault.h"
#include "base/text.h"

#include <stdbool.h>

enum { CSV_COLUMNS_MAX = 256, CSV_RECORD_MAX = 1024 * 1024 }; /* bytes of one record */

struct csv_field {
    const char *at; /* NUL-terminated, borrowed until the next call */
    size_t n;
    int column; /* byte of the line where it begins, from 1 */
};

struct csv; /* a reader */

/* csv_open: over text[0..n), which must outlive it. name is for faults. The head is read at once. Errors: ERR_EMPTY (no head),
 * ERR_DUPLICATE (two columns of one name), ERR_LIMIT, ERR_SYNTAX, ERR_ENCODING, ERR_MEMORY. csv_open_file: a path or "-", read in
 * pieces, of any size; ERR_OPEN and ERR_IO as file_open. */
MUST_USE enum err csv_open(const char *text, size_t n, const char *name, struct csv **ret,
                           struct fault *reterr);
MUST_USE enum err csv_open_file(const char *path, struct csv **ret, struct fault *reterr);
void csv_close(struct csv *csv); /* NULL is fine */

/* csv_column: index of a named column, -1 when there is none (names are compared as they stand). csv_need: the same with a fault
 * that lists the columns there are and suggests the nearest (ERR_EMPTY). */
int csv_column(const struct csv *csv, const char *name);
MUST_USE enum err csv_need(const struct csv *csv, const char *name, int *ret, struct fault *reterr);
size_t csv_columns(const struct csv *csv);
const char *csv_column_name(const struct csv *csv, size_t i);

/* csv_next: the next record; *ret_row false at the end. Errors: ERR_SYNTAX, ERR_ENCODING, ERR_LIMIT, ERR_IO, ERR_MEMORY. csv_at: its fields. csv_line: the line it began on, from 1. csv_bytes: how
 * far reading is, for progress. csv_fault: fills place (file, line, column, path = the column's name) and message of a fault about
 * field i; returns code. */
MUST_USE enum err csv_next(struct csv *csv, bool *ret_row, struct fault *reterr);
/* csv_resume: after a fault of csv_next reading goes on with the next line that it did not look at, so that every wrong record of a
 * file can be told: behind a record that has another number of fields, and behind the line where the fault was. What is inside
 * quotes that are never closed is past. Not after ERR_IO and ERR_MEMORY; these two alone come out of it. */
MUST_USE enum err csv_resume(struct csv *csv, struct fault *reterr);
struct csv_field csv_at(const struct csv *csv, size_t i);
int csv_line(const struct csv *csv);
uint64_t csv_bytes(const struct csv *csv);
enum err csv_fault(const struct csv *csv, size_t i, struct fault *f, enum err code, const char *fmt,
                   ...) PRINTF_LIKE(5, 6);

/* csv_put: one field more of the record being written (first: it begins a record); UTF-8 without NUL. csv_put_end: ends the
 * record, which must lie in `out` from its first field on: a record of one empty field is written as "", since an empty line would
 * be none. */
void csv_put(struct text *out, bool is_first, const char *field, size_t n);
void csv_put_end(struct text *out);

#endif
