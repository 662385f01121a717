/* bag_result: owns the list of what was found in a bag and the words for it. */
#include "proof/bag_result.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { SHOWN_MAX = 600 };

const char *bag_kind_word(enum bag_kind kind)
{
    switch (kind) {
#define X(symbol, word)                                                                            \
    case symbol:                                                                                   \
        return word;
        BAG_FAULT_TABLE(X)
#undef X
    case BAG_KINDS:
        break;
    }
    return "?";
}

const char *bag_signature_word(enum bag_signature s)
{
    switch (s) {
    case BAG_SIGNATURE_GOOD:
        return "good";
    case BAG_SIGNATURE_BAD:
        return "bad";
    case BAG_SIGNATURE_UNKNOWN_KEY:
        return "unknown-key";
    default:
        return "none";
    }
}

void bag_result_done(struct bag_result *r)
{
    for (size_t i = 0; i < r->n_faults; i++) {
        free(r->faults[i].path);
        free(r->faults[i].message);
    }
    for (size_t i = 0; i < r->n_warnings; i++)
        free(r->warnings[i]);
    free(r->faults);
    free(r->warnings);
    *r = (struct bag_result){0};
}

static char *copy_clean(const char *s)
{
    size_t n = strlen(s);
    n = n < SHOWN_MAX ? n : SHOWN_MAX;
    char *copy = malloc(n + 1);
    if (copy == NULL)
        return NULL;
    memcpy(copy, s, n);
    copy[text_clean(copy, n, false)] = '\0';
    return copy;
}

/* Room for one more, doubling; false: no memory. */
static bool grow(void **list, size_t n, size_t item)
{
    if (n != 0 && (n & (n - 1)) != 0)
        return true;
    void *more = realloc(*list, (n == 0 ? 1 : 2 * n) * item);
    if (more == NULL)
        return false;
    *list = more;
    return true;
}

void bag_fault_add(struct bag_result *r, enum bag_kind kind, const char *path, const char *fmt, ...)
{
    char message[SHOWN_MAX + 1];
    va_list ap;
    if (r->n_faults == BAG_FAULTS_MAX) {
        r->n_more_faults++;
        return;
    }
    va_start(ap, fmt);
    vsnprintf(message, sizeof message, fmt, ap);
    va_end(ap);
    void *list = r->faults;
    const bool has_room = grow(&list, r->n_faults, sizeof *r->faults);
    r->faults = list;
    if (!has_room) {
        r->has_no_memory = true;
        return;
    }
    struct bag_fault *f = &r->faults[r->n_faults++];
    *f = (struct bag_fault){kind, copy_clean(path ? path : ""), copy_clean(message)};
    if (f->path == NULL || f->message == NULL)
        r->has_no_memory = true;
}

void bag_warn(struct bag_result *r, const char *fmt, ...)
{
    char message[SHOWN_MAX + 1];
    va_list ap;
    if (r->n_warnings == BAG_WARNINGS_MAX) {
        r->n_more_warnings++;
        return;
    }
    va_start(ap, fmt);
    vsnprintf(message, sizeof message, fmt, ap);
    va_end(ap);
    void *list = r->warnings;
    const bool has_room = grow(&list, r->n_warnings, sizeof *r->warnings);
    r->warnings = list;
    char *copy = has_room ? copy_clean(message) : NULL;
    if (copy == NULL)
        r->has_no_memory = true;
    else
        r->warnings[r->n_warnings++] = copy;
}

bool bag_result_is_sound(const struct bag_result *r)
{
    for (size_t i = 0; i < r->n_faults; i++)
        if (r->faults[i].kind != BAG_BAD_SIGNATURE)
            return false;
    return r->n_more_faults == 0;
}
