/* fnv: the 64-bit FNV-1a of Fowler, Noll and Vo (RFC 9923): spreads texts over the slots of a table. Not a
 * digest (digest.h): texts that meet are easily found. */
#ifndef BASE_FNV_H
#define BASE_FNV_H

#include <stddef.h>
#include <stdint.h>

#define FNV_START UINT64_C(14695981039346656037) /* the hash of nothing */

/* fnv_more: the hash of what `hash` is of, followed by bytes[0..n). Worked: of FNV_START and "a", 0xaf63dc4c8601ec8c. */
uint64_t fnv_more(uint64_t hash, const char *bytes, size_t n);

/* fnv_text: the hash of a text up to its NUL. */
uint64_t fnv_text(const char *text);

#endif
