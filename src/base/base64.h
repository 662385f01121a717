/* base64: bytes as text and back (RFC 4648, section 4: the usual alphabet, with padding). */
#ifndef BASE_BASE64_H
#define BASE_BASE64_H

#include "base/text.h"

#include <stddef.h>
#include <stdint.h>

/* base64_add: bytes[0..n) as text, appended to out. */
void base64_add(struct text *out, const uint8_t *bytes, size_t n);

/* base64_read: text[0..n) as bytes, appended to out (check out->is_broken). Strict: nothing but the alphabet, whole groups of four, padding at the end
 * alone, no bits left over. ERR_SYNTAX otherwise, with nothing appended. */
MUST_USE enum err base64_read(const char *text, size_t n, struct text *out);

#endif
