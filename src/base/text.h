/* text: a growing byte buffer, the one place where the outer layers build text.
 * Zero-initialised is empty and fine. Running out of memory is remembered (is_broken) and every later call does
 * nothing, so callers check once at the end. data is NUL-terminated when not NULL. */
#ifndef BASE_TEXT_H
#define BASE_TEXT_H

#include "core/err.h"

#include <stdbool.h>
#include <stddef.h>

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

/* text_columns: how many terminal columns the UTF-8 text s[0..n) takes (combining marks 0, wide East Asian 2). */
size_t text_columns(const char *s, size_t n);

/* text_is_utf8: true when s[0..n) is well-formed UTF-8 without NUL. *ret_at (may be NULL): first bad byte. */
bool text_is_utf8(const char *s, size_t n, size_t *ret_at);

#endif
