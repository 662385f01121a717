/* fault: owns how a fault is worded as one line; what went wrong is the caller's. */
#include "base/fault.h"

#include "base/text.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* Ends buf at a whole character with "..." when the text did not fit. */
static void mark_cut(char *buf, size_t room)
{
    static const char mark[] = "...";
    if (room < sizeof mark)
        return;
    size_t at = room - sizeof mark;
    while (at > 0 && ((unsigned char)buf[at] & 0xC0) == 0x80)
        at--;
    memcpy(buf + at, mark, sizeof mark);
}

enum err fault_set(struct fault *f, enum err code, const char *fmt, ...)
{
    va_list ap;
    va_start(ap, fmt);
    const int n = vsnprintf(f->message, sizeof f->message, fmt, ap);
    va_end(ap);
    if (n < 0)
        f->message[0] = '\0';
    else if ((size_t)n >= sizeof f->message)
        mark_cut(f->message, sizeof f->message);
    f->message[text_clean(f->message, strlen(f->message), false)] = '\0';
    f->code = code;
    return code;
}

void fault_line(const struct fault *f, char *buf, size_t room)
{
    if (room == 0)
        return;
    struct text t = {0};
    if (f->file[0] != '\0') {
        text_puts(&t, strcmp(f->file, "-") == 0 ? "standard input" : f->file);
        if (f->line > 0)
            text_printf(&t, ":%d", f->line);
        if (f->line > 0 && f->column > 0)
            text_printf(&t, ":%d", f->column);
        text_puts(&t, ": ");
    } else if (f->line > 0) {
        text_printf(&t, "line %d", f->line);
        if (f->column > 0)
            text_printf(&t, ", column %d", f->column);
        text_puts(&t, ": ");
    }
    if (f->path[0] != '\0')
        text_printf(&t, "%s: ", f->path);
    text_puts(&t, f->message[0] != '\0' ? f->message : err_text(f->code));
    const char *line = t.is_broken ? f->message : t.data;
    snprintf(buf, room, "%s", line);
    if (strlen(line) >= room)
        mark_cut(buf, room);
    buf[text_clean(buf, strlen(buf), false)] = '\0';
    text_done(&t);
}
