/* jsonw: writes JSON into a text, in the order of the calls; commas and escapes are its business.
 * Bytes that are not UTF-8 are written as U+FFFD. Numbers: integers as they are; doubles with the
 * fewest digits that read back the same (whole ones below 10^15 without an exponent), NaN and infinities as null. Output is one line; several
 * texts one after the other need no new start (write the line feed between them yourself). Nesting
 * is bounded by JSONW_DEPTH_MAX (assert: our own bug). */
#ifndef BASE_JSONW_H
#define BASE_JSONW_H

#include "base/text.h"
#include "core/quantity.h"

#include <stdint.h>

enum { JSONW_DEPTH_MAX = 32 };

struct jsonw {
    struct text *out; /* borrowed */
    int depth;
    bool has_item[JSONW_DEPTH_MAX];
};

void jsonw_start(struct jsonw *w, struct text *out);
/* key: NULL inside an array or at the top. */
void jsonw_object(struct jsonw *w, const char *key);
void jsonw_object_end(struct jsonw *w);
void jsonw_array(struct jsonw *w, const char *key);
void jsonw_array_end(struct jsonw *w);
void jsonw_string(struct jsonw *w, const char *key, const char *value); /* NULL value: null */
void jsonw_string_n(struct jsonw *w, const char *key, const char *value, size_t n);
void jsonw_int(struct jsonw *w, const char *key, int64_t value);
void jsonw_double(struct jsonw *w, const char *key, double value);
void jsonw_bool(struct jsonw *w, const char *key, bool value);
void jsonw_null(struct jsonw *w, const char *key);
/* jsonw_raw: text that is JSON already, as it stands; empty: null. */
void jsonw_raw(struct jsonw *w, const char *key, const char *json, size_t n);

/* jsonw_nano: the contract's rule for amounts: a length is written as "<stem>_nm": integer; any
 * other dimension as
 * "<stem>": plain number in `unit` (exact decimal). */
void jsonw_nano(struct jsonw *w, const char *stem, int64_t nano, enum unit unit);

#endif
