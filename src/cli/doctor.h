/* doctor: one check of an installation after the other, and what each found. Between verb_doctor.c and the files of the checks. */
#ifndef CLI_DOCTOR_H
#define CLI_DOCTOR_H

#include "base/fault.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum doctor_state { DOCTOR_GOOD, DOCTOR_WARN, DOCTOR_BAD };

enum { DOCTOR_LINES_MAX = 40, DOCTOR_TEXT_MAX = 300 };

struct doctor_line {
    const char *check; /* "program", "photos", "store" ... */
    enum doctor_state state;
    char found[DOCTOR_TEXT_MAX];
    char cure[DOCTOR_TEXT_MAX]; /* what to do; "" where all is good */
};

/* What is to be looked at; NULL: not asked for. */
struct doctor {
    const char *store, *certificate, *key;
    char files[1024]; /* the folder that the store's files lie in */
    bool is_whole;    /* the store from end to end */
    int64_t now_ms;
    struct doctor_line lines[DOCTOR_LINES_MAX];
    size_t n;
};

/* doctor_say: one more line; cure may be NULL. Texts are cut to their room. */
void doctor_say(struct doctor *d, const char *check, enum doctor_state state, const char *cure,
                const char *fmt, ...) PRINTF_LIKE(5, 6);

/* The checks. Of the program itself: core, digests, signatures, embedded files, photos in a child. Of the machine: letters, time zones,
 * clock, open files. Of a store: room, rights, what it holds. Of the TLS files. */
void doctor_program(struct doctor *d);
void doctor_machine(struct doctor *d);
void doctor_store(struct doctor *d);
void doctor_tls(struct doctor *d);

#endif
