/* fault_show: owns how the faults of a file are shown: where, with the line itself and a caret, then what to do. */
#include "cli/fault_show.h"

#include <string.h>

/* Start and size of line `line` (from 1) of s[0..n), without its break and without a byte order mark. */
static const char *line_of(const char *s, size_t n, int line, size_t *ret_size)
{
    const char *end = s + n;
    if (n >= 3 && memcmp(s, "\xEF\xBB\xBF", 3) == 0)
        s += 3;
    for (; line > 1 && s < end; line--) {
        s += strcspn(s, "\r\n");
        s += s < end && *s == '\r' && s + 1 < end && s[1] == '\n' ? 2 : 1;
    }
    *ret_size = s < end ? strcspn(s, "\r\n") : 0;
    return s;
}

/* Bytes of the first `count` characters. */
static size_t bytes_of(const char *s, size_t n, int count)
{
    size_t i = 0;
    for (; i < n && count > 0; count--)
        do
            i++;
        while (i < n && ((unsigned char)s[i] & 0xC0) == 0x80);
    return i;
}

/* "   12 | low: 61 mm" and a caret under the place. Long lines are shown around it. */
static void show_line(struct cli *ctx, const struct text *source, const struct fault *f)
{
    size_t size;
    if (f->line < 1 || source->data == NULL)
        return;
    const char *line = line_of(source->data, source->size, f->line, &size);
    if (size == 0 || !text_is_utf8(line, size, NULL))
        return;
    const int room = ctx->columns - 12, column = f->column > 0 ? f->column : 1;
    const int first = column > room - 10 ? column - room / 2 : 1;
    const size_t from = bytes_of(line, size, first - 1);
    const size_t shown = bytes_of(line + from, size - from, room);
    const size_t before = bytes_of(line + from, size - from, column - first);
    struct text clean = {0};
    for (size_t i = 0; i < shown; i++)
        text_putc(&clean, (unsigned char)line[from + i] < 0x20 ? ' ' : line[from + i]);
    text_printf(&ctx->out, "  %5d | %s%s%s\n", f->line, first > 1 ? "..." : "",
                clean.data != NULL ? clean.data : "", from + shown < size ? "..." : "");
    const int caret = (int)text_columns(line + from, before) + (first > 1 ? 3 : 0);
    text_printf(&ctx->out, "        | %*s^\n", caret, "");
    ctx->out.is_broken |= clean.is_broken;
    text_done(&clean);
}

void fault_show(struct cli *ctx, const struct text *source, const struct fault *faults, size_t n,
                size_t n_more)
{
    for (size_t i = 0; i < n; i++) {
        const struct fault *f = &faults[i];
        text_putc(&ctx->out, '\n');
        if (f->line > 0)
            text_printf(&ctx->out, "  line %d, column %d%s%s\n", f->line, f->column,
                        f->path[0] != '\0' ? ": " : "", f->path);
        show_line(ctx, source, f);
        const size_t n_message = strlen(f->message);
        const char last = n_message > 0 ? f->message[n_message - 1] : '.';
        cli_say(ctx, 4, "%s%s", f->message, last == '?' || last == '.' ? "" : ".");
    }
    if (n_more > 0)
        cli_say(ctx, 2, "... and %zu more.", n_more);
}
