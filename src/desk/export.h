/* export: what the store holds, given out as CSV (RFC 4180) or JSON, the same bytes to the page and to the command line, a piece at a
 * time.
 *
 * The columns' names stay (doc/serve.md). CSV: records end in CRLF; what is not known is an empty field; a text that begins with = + - @, a
 * tab or a carriage return gets an apostrophe before it, so that no spreadsheet runs what a stranger wrote as a formula. JSON: an array of
 * objects, one a line, unknown null, texts as they are. */
#ifndef DESK_EXPORT_H
#define DESK_EXPORT_H

#include "base/fault.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct store;

/* "units", "claims", "stations", "readings", "rulings", "awards", "payments", "failures", "shops"; closed by NULL. export_find: -1 when there
 * is none of that name. */
enum { EXPORT_KINDS = 9 };
extern const char *const export_names[EXPORT_KINDS + 1];
int export_find(const char *name);

/* export_write: what: an index of export_names. put takes n bytes, and false ends it (ERR_IO). *ret_rows: without the head. Errors: those of the store,
 * ERR_MEMORY, ERR_IO. */
typedef bool export_put(void *me, const char *bytes, size_t n);
MUST_USE enum err export_write(struct store *store, int what, bool is_json, export_put *put,
                               void *me, int64_t *ret_rows, struct fault *reterr);

#endif
