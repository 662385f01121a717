/* fault: one thing wrong with an input, in a form that people can act on: where, what was found,
 * what was expected. */
#ifndef BASE_FAULT_H
#define BASE_FAULT_H

#include "core/err.h"

#include <stddef.h>

enum { FAULT_FILE_MAX = 256, FAULT_PATH_MAX = 160, FAULT_MESSAGE_MAX = 400 };

struct fault {
    enum err code;
    char file[FAULT_FILE_MAX]; /* as the caller named it; "" when there is none; "-" for standard
                                  input */
    int line, column;          /* from 1; 0 when unknown */
    char path[FAULT_PATH_MAX]; /* "points[3].low"; "" for the whole file */
    char message[FAULT_MESSAGE_MAX]; /* a sentence without a closing full stop */
};

/* fault_set: code and message; place fields are left as they are. Long texts are cut, never
 * over-run; bytes that are not printable UTF-8 are shown as '?'. Returns code, so that `return
 * fault_set(...)` reads well. */
enum err fault_set(struct fault *f, enum err code, const char *fmt, ...) PRINTF_LIKE(3, 4);

/* fault_no_memory: as fault_set with ERR_MEMORY and "memory ran out". Here for the compiler and the analyser to see that what
 * it returns is never ERR_OK. */
static inline enum err fault_no_memory(struct fault *f)
{
    (void)fault_set(f, ERR_MEMORY, "memory ran out");
    return ERR_MEMORY;
}

/* fault_line: "file:line:column: path: message", leaving out what is unknown, into buf (cut to fit,
 * NUL-terminated). */
void fault_line(const struct fault *f, char *buf, size_t room);

#endif
