/* study_held: did the fix hold? The rate at which repaired units fail again against the rate of units not repaired, with the exact
 * interval of their ratio (stat/rates.h), however few failures there were. */
#ifndef DESK_STUDY_HELD_H
#define DESK_STUDY_HELD_H

#include "desk/study_table.h"
#include "stat/rates.h"

enum { HELD_REPAIRED, HELD_FAILED, HELD_TIME, HELD_COLUMNS };

struct study_held_order {
    double confidence; /* 0..1 exclusive */
    double at_most;    /* the fix holds when the ratio is surely below this, > 0; usually 1 */
};

struct study_held_side {
    size_t n; /* rows */
    int64_t n_failed;
    double time; /* in all */
    double rate, low, high;
};

struct study_held {
    struct study_held_side repaired, others;
    struct rates rates; /* repaired over others; high may be infinite */
    enum {
        HELD_HOLDS,
        HELD_WORSE,
        HELD_UNCERTAIN
    } verdict; /* below at_most; above 1; neither is sure */
    struct study_notes notes;
};

void study_held_wants(const char *repaired, const char *failed, const char *time,
                      struct study_want wants[HELD_COLUMNS]);

/* study_held: repaired 0 or 1, failed a whole count, time watched >= 0. Errors: ERR_EMPTY (no row), ERR_DOMAIN (one side has no time; nothing
 * failed on either), ERR_RANGE (too many failures). */
MUST_USE enum err study_held(const struct study_table *t, const struct study_held_order *order,
                             struct study_held *ret, struct fault *reterr);

#endif
