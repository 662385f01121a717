/* study_rows_inner: what the parts of study_rows share. */
#ifndef DESK_STUDY_ROWS_INNER_H
#define DESK_STUDY_ROWS_INNER_H

#include "desk/study_rows.h"

struct rows_run {
    struct store *store;
    const struct study_sites *s;
    const struct study_rows_order *o;
    const struct study_watch *watch;
    struct study_rows *r;
    struct fault *f;
    int variant; /* index; -1: all */
};

/* rows_say: an option that the store settles. rows_put, rows_end: a field, a record. */
void rows_say(struct study_rows *r, const char *option, const char *fmt, ...) PRINTF_LIKE(3, 4);
void rows_put(struct study_rows *r, bool is_first, const char *fmt, ...) PRINTF_LIKE(3, 4);
void rows_end(struct study_rows *r);
void rows_head(struct study_rows *r, const char *head); /* as it stands in the file */

/* Kinds that need the claims' readings (study_rows_readings.c). */
MUST_USE enum err rows_capability(struct rows_run *run);
MUST_USE enum err rows_digits(struct rows_run *run);
MUST_USE enum err rows_kits(struct rows_run *run);

#endif
