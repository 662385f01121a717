/* jsonw: owns how values become JSON text (RFC 8259): commas, quotes, escapes, digits. Output is
 * one line. */
#include "base/jsonw.h"

#include <assert.h>
#include <float.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* How many of the first bytes stand for themselves: ASCII that needs no escape. */
static size_t plain(const char *s, size_t n)
{
    size_t at = 0;
    while (at < n && s[at] >= 0x20 && s[at] < 0x7F && s[at] != '"' && s[at] != '\\')
        at++;
    return at;
}

static void put_string(struct text *out, const char *s, size_t n)
{
    text_putc(out, '"');
    for (size_t at = 0; at < n;) {
        uint32_t code;
        const size_t run = plain(s + at, n - at);
        if (run > 0) {
            text_add(out, s + at, run);
            at += run;
            continue;
        }
        const size_t size = text_decode(s + at, n - at, &code);
        if (size == 0)
            text_puts(out, "\xEF\xBF\xBD"); /* U+FFFD, the replacement character */
        else if (code == '"' || code == '\\')
            text_printf(out, "\\%c", (int)code);
        else if (code == '\n')
            text_puts(out, "\\n");
        else if (code == '\t')
            text_puts(out, "\\t");
        else if (code == '\r')
            text_puts(out, "\\r");
        else if (code < 0x20 || code == 0x7F)
            text_printf(out, "\\u%04x", (unsigned)code);
        else
            text_add(out, s + at, size);
        at += size > 0 ? size : 1;
    }
    text_putc(out, '"');
}

/* The comma before all but the first item, then the key. */
static void start_item(struct jsonw *w, const char *key)
{
    if (w->has_item[w->depth])
        text_putc(w->out, ',');
    w->has_item[w->depth] = true;
    if (key == NULL)
        return;
    put_string(w->out, key, strlen(key));
    text_putc(w->out, ':');
}

static void open_with(struct jsonw *w, const char *key, char c)
{
    start_item(w, key);
    assert(w->depth + 1 < JSONW_DEPTH_MAX);
    w->has_item[++w->depth] = false;
    text_putc(w->out, c);
}

static void close_with(struct jsonw *w, char c)
{
    assert(w->depth > 0);
    text_putc(w->out, c);
    /* What stands at the top is a whole text: the next one there starts afresh, one object a line.
     */
    if (--w->depth == 0)
        w->has_item[0] = false;
}

void jsonw_start(struct jsonw *w, struct text *out)
{
    *w = (struct jsonw){.out = out};
}

void jsonw_object(struct jsonw *w, const char *key)
{
    open_with(w, key, '{');
}

void jsonw_object_end(struct jsonw *w)
{
    close_with(w, '}');
}

void jsonw_array(struct jsonw *w, const char *key)
{
    open_with(w, key, '[');
}

void jsonw_array_end(struct jsonw *w)
{
    close_with(w, ']');
}

void jsonw_string_n(struct jsonw *w, const char *key, const char *value, size_t n)
{
    start_item(w, key);
    put_string(w->out, value, n);
}

void jsonw_string(struct jsonw *w, const char *key, const char *value)
{
    if (value == NULL)
        jsonw_null(w, key);
    else
        jsonw_string_n(w, key, value, strlen(value));
}

void jsonw_int(struct jsonw *w, const char *key, int64_t value)
{
    start_item(w, key);
    text_printf(w->out, "%" PRId64, value);
}

void jsonw_double(struct jsonw *w, const char *key, double value)
{
    if (!isfinite(value)) {
        jsonw_null(w, key);
        return;
    }
    start_item(w, key);
    if (value == 0) {
        /* "-0" would be read back as the integer 0. */
        text_puts(w->out, signbit(value) ? "-0.0" : "0");
        return;
    }
    char digits[32];
    if (fabs(value) < 1e15 && value == floor(value)) { /* 20, where %g would say 2e+01 */
        text_printf(w->out, "%.0f", value);
        return;
    }
    /* %g leaves closing zeros out, so fifteen digits are as few as will do where they do; a number too small to be normal has fewer
     * to begin with. */
    for (int n = fabs(value) < DBL_MIN ? 1 : 15; n <= 17; n++) {
        snprintf(digits, sizeof digits, "%.*g", n, value);
        if (strtod(digits, NULL) == value)
            break;
    }
    text_puts(w->out, digits);
}

void jsonw_bool(struct jsonw *w, const char *key, bool value)
{
    start_item(w, key);
    text_puts(w->out, value ? "true" : "false");
}

void jsonw_raw(struct jsonw *w, const char *key, const char *json, size_t n)
{
    if (n == 0) {
        jsonw_null(w, key);
        return;
    }
    start_item(w, key);
    text_add(w->out, json, n);
}

void jsonw_null(struct jsonw *w, const char *key)
{
    start_item(w, key);
    text_puts(w->out, "null");
}

void jsonw_nano(struct jsonw *w, const char *stem, int64_t nano, enum unit unit)
{
    struct text key = {0};
    if (quantity_unit_dim(unit) == DIM_LENGTH) {
        text_printf(&key, "%s_nm", stem);
        jsonw_int(w, key.is_broken ? stem : key.data, nano);
        w->out->is_broken |= key.is_broken;
        text_done(&key);
        return;
    }
    char number[QUANTITY_SHOW_MAX];
    start_item(w, stem);
    text_add(w->out, number, quantity_show_number(nano, unit, number, NULL));
}
