/* text: a growing byte buffer, the one place where the outer layers build text.
 * Zero-initialised is empty and fine. Running out of memory is remembered (is_broken) and every
 * later call does nothing, so callers check once at the end. data is NUL-terminated when not NULL.
 */
#ifndef BASE_TEXT_H
#define BASE_TEXT_H

#include "core/err.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct text {
    char *data;
    size_t size, room;
    bool is_broken;
};

void text_add(struct text *t, const char *bytes, size_t n);
void text_puts(struct text *t, const char *s);
void text_putc(struct text *t, char c);
void text_printf(struct text *t, const char *fmt, ...) PRINTF_LIKE(2, 3);
void text_clear(struct text *t); /* empty again, room kept */
void text_done(struct text *t);  /* frees; leaves it zero-initialised */

/* text_decode: the first character of s[0..n), by the Unicode standard's table 3-7 (well-formed
 * UTF-8): how many bytes it takes (1..4), or 0 when s is empty or starts with an ill-formed
 * sequence. *ret_code is written only if not 0. */
size_t text_decode(const char *s, size_t n, uint32_t *ret_code);

/* text_clean: makes s[0..n) fit to be shown, in place: every ill-formed byte, control character
 * (line feeds too unless keep_lines) and character that turns the reading direction becomes one
 * '?'. So no name read from a file can move the cursor or hide a part of a message. Returns the new
 * size, never larger than n; writes no closing NUL. */
size_t text_clean(char *s, size_t n, bool keep_lines);

/* text_columns: how many terminal columns the UTF-8 text s[0..n) takes (combining marks 0, wide
 * East Asian 2; an ill-formed byte 1). The ranges cover the scripts that bulletins are likely to
 * use; the rest counts 1. */
size_t text_columns(const char *s, size_t n);

/* text_is_utf8: true when s[0..n) is well-formed UTF-8 without NUL. *ret_at (may be NULL): first
 * bad byte. */
bool text_is_utf8(const char *s, size_t n, size_t *ret_at);

#endif
