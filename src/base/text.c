/* text: owns the growing buffer and what a byte sequence means as UTF-8. It does not know what is
 * written. */
#include "base/text.h"

#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { TEXT_ROOM_FIRST = 64 };

/* Room for n more bytes and the closing NUL; false, and broken, when there is no memory for it. */
static bool make_room(struct text *t, size_t n)
{
    if (t->is_broken)
        return false;
    if (n >= SIZE_MAX / 2 - t->size) {
        t->is_broken = true;
        return false;
    }
    const size_t need = t->size + n + 1;
    if (need <= t->room)
        return true;
    size_t room = t->room > 0 ? t->room : TEXT_ROOM_FIRST;
    while (room < need)
        room *= 2;
    char *data = realloc(t->data, room);
    if (data == NULL) {
        t->is_broken = true;
        return false;
    }
    t->data = data;
    t->room = room;
    return true;
}

void text_add(struct text *t, const char *bytes, size_t n)
{
    if (!make_room(t, n))
        return;
    if (n > 0)
        memcpy(t->data + t->size, bytes, n);
    t->size += n;
    t->data[t->size] = '\0';
}

void text_puts(struct text *t, const char *s)
{
    text_add(t, s, strlen(s));
}

void text_putc(struct text *t, char c)
{
    if (!make_room(t, 1))
        return;
    t->data[t->size++] = c;
    t->data[t->size] = '\0';
}

void text_printf(struct text *t, const char *fmt, ...)
{
    va_list ap;
    va_list again;
    va_start(ap, fmt);
    va_copy(again, ap);
    const int n = vsnprintf(NULL, 0, fmt, ap);
    if (n < 0)
        t->is_broken = true;
    else if (make_room(t, (size_t)n)) {
        vsnprintf(t->data + t->size, (size_t)n + 1, fmt, again);
        t->size += (size_t)n;
    }
    va_end(again);
    va_end(ap);
}

void text_clear(struct text *t)
{
    t->size = 0;
    if (t->data != NULL)
        t->data[0] = '\0';
}

void text_done(struct text *t)
{
    free(t->data);
    *t = (struct text){0};
}

/* ---- UTF-8
 * --------------------------------------------------------------------------------------------------------
 */

static bool is_tail(unsigned char b)
{
    return (b & 0xC0) == 0x80;
}

/* What table 3-7 allows for the second byte after the first; the only place where it is narrower
 * than 80..BF. */
static bool is_second(unsigned char first, unsigned char second)
{
    switch (first) {
    case 0xE0:
        return second >= 0xA0 && second <= 0xBF; /* shorter forms exist below */
    case 0xED:
        return second >= 0x80 && second <= 0x9F; /* surrogates above */
    case 0xF0:
        return second >= 0x90 && second <= 0xBF; /* shorter forms exist below */
    case 0xF4:
        return second >= 0x80 && second <= 0x8F; /* beyond U+10FFFF above */
    default:
        return is_tail(second);
    }
}

size_t text_decode(const char *s, size_t n, uint32_t *ret_code)
{
    if (n == 0)
        return 0;
    const unsigned char *b = (const unsigned char *)s;
    if (b[0] < 0x80) {
        *ret_code = b[0];
        return 1;
    }
    const size_t size = b[0] >= 0xC2 && b[0] <= 0xDF   ? 2
                        : b[0] >= 0xE0 && b[0] <= 0xEF ? 3
                        : b[0] >= 0xF0 && b[0] <= 0xF4 ? 4
                                                       : 0;
    if (size == 0 || size > n || !is_second(b[0], b[1]))
        return 0;
    uint32_t code = (b[0] & (0xFFU >> (size + 1))) << 6 | (b[1] & 0x3FU);
    for (size_t i = 2; i < size; i++) {
        if (!is_tail(b[i]))
            return 0;
        code = code << 6 | (b[i] & 0x3FU);
    }
    *ret_code = code;
    return size;
}

enum { WORD = sizeof(uint64_t) };

/* Whether WORD bytes at s are all ASCII and none is NUL. */
static bool is_plain_word(const char *s)
{
    uint64_t w;
    memcpy(&w, s, sizeof w);
    const uint64_t high = 0x8080808080808080U, ones = 0x0101010101010101U;
    /* Without a high bit, taking one from each byte borrows into its high bit for a zero alone. */
    return (w & high) == 0 && ((w - ones) & high) == 0;
}

bool text_is_utf8(const char *s, size_t n, size_t *ret_at)
{
    size_t at = 0;
    while (at < n) {
        uint32_t code;
        const unsigned char c = (unsigned char)s[at];
        if (c > 0 && c < 0x80) { /* ASCII: most of what is read */
            at += at + WORD <= n && is_plain_word(s + at) ? WORD : 1;
            continue;
        }
        const size_t size = text_decode(s + at, n - at, &code);
        if (size == 0 || code == 0) {
            if (ret_at != NULL)
                *ret_at = at;
            return false;
        }
        at += size;
    }
    return true;
}

/* Controls (C0, delete, C1), line and paragraph separators, and what embeds, overrides or isolates
 * a direction. */
static bool is_hidden(uint32_t code)
{
    return code < 0x20 || (code >= 0x7F && code < 0xA0) || (code >= 0x2028 && code <= 0x202E) ||
           (code >= 0x2066 && code <= 0x2069) || code == 0x200E || code == 0x200F || code == 0x061C;
}

size_t text_clean(char *s, size_t n, bool keep_lines)
{
    size_t to = 0;
    for (size_t at = 0; at < n;) {
        uint32_t code;
        if (s[at] >= 0x20 && s[at] < 0x7F) { /* most of what is read */
            s[to++] = s[at++];
            continue;
        }
        const size_t size = text_decode(s + at, n - at, &code);
        if (size == 0 || (is_hidden(code) && !(keep_lines && code == '\n'))) {
            s[to++] = '?';
            at += size > 0 ? size : 1;
            continue;
        }
        memmove(s + to, s + at, size);
        to += size;
        at += size;
    }
    return to;
}

struct range {
    uint32_t first, last;
};

/* Marks that are drawn over the character before them: Latin, Cyrillic, Hebrew, Arabic, Devanagari,
 * Thai, general and symbol blocks, kana voicing marks, variation selectors; and characters that are
 * never drawn. Ascending. */
static const struct range zero_wide[] = {
    {0x0300, 0x036F}, {0x0483, 0x0489}, {0x0591, 0x05BD}, {0x05BF, 0x05BF}, {0x05C1, 0x05C2},
    {0x05C4, 0x05C5}, {0x05C7, 0x05C7}, {0x0610, 0x061A}, {0x064B, 0x065F}, {0x0670, 0x0670},
    {0x06D6, 0x06DC}, {0x06DF, 0x06E4}, {0x06E7, 0x06E8}, {0x06EA, 0x06ED}, {0x0900, 0x0902},
    {0x093A, 0x093A}, {0x093C, 0x093C}, {0x0941, 0x0948}, {0x094D, 0x094D}, {0x0951, 0x0957},
    {0x0E31, 0x0E31}, {0x0E34, 0x0E3A}, {0x0E47, 0x0E4E}, {0x1AB0, 0x1ACE}, {0x1DC0, 0x1DFF},
    {0x200B, 0x200F}, {0x202A, 0x202E}, {0x2060, 0x2064}, {0x2066, 0x206F}, {0x20D0, 0x20F0},
    {0x3099, 0x309A}, {0xFE00, 0xFE0F}, {0xFE20, 0xFE2F}, {0xFEFF, 0xFEFF}, {0xE0100, 0xE01EF},
};

/* East Asian wide and full-width blocks and the picture characters (Unicode standard annex 11,
 * whole blocks). */
static const struct range two_wide[] = {
    {0x1100, 0x115F},   {0x2E80, 0x303E},   {0x3041, 0x3098},   {0x309B, 0x33FF},
    {0x3400, 0x4DBF},   {0x4E00, 0xA4CF},   {0xA960, 0xA97C},   {0xAC00, 0xD7A3},
    {0xF900, 0xFAFF},   {0xFE10, 0xFE19},   {0xFE30, 0xFE6F},   {0xFF01, 0xFF60},
    {0xFFE0, 0xFFE6},   {0x1F300, 0x1F64F}, {0x1F680, 0x1F6FF}, {0x1F900, 0x1F9FF},
    {0x1FA70, 0x1FAFF}, {0x20000, 0x3FFFD},
};

static bool is_in(uint32_t code, const struct range *ranges, size_t n)
{
    size_t low = 0;
    while (low < n) {
        const size_t mid = low + (n - low) / 2;
        if (code > ranges[mid].last)
            low = mid + 1;
        else if (code < ranges[mid].first)
            n = mid;
        else
            return true;
    }
    return false;
}

size_t text_columns(const char *s, size_t n)
{
    size_t columns = 0;
    for (size_t at = 0; at < n;) {
        uint32_t code;
        const size_t size = text_decode(s + at, n - at, &code);
        at += size > 0 ? size : 1;
        if (size > 0 && is_in(code, zero_wide, sizeof zero_wide / sizeof *zero_wide))
            continue;
        columns += size > 0 && is_in(code, two_wide, sizeof two_wide / sizeof *two_wide) ? 2 : 1;
    }
    return columns;
}
