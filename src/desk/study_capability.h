/* study_capability: do final readings hold their limits with room to spare, and how much of their spread is the measuring?
 *
 * Per group (a point, a point and shop): Pp = (U - L)/(6 s), Ppk = min(U - m, m - L)/(3 s), with s over all readings (ISO
 * 22514-2; from memory). Pp's interval
 * by chi-square, Ppk's by Bissell's approximation (Applied Statistics 39(3), 331-340, 1990): Ppk (1 +- z sqrt(1/(9 n Ppk^2) +
 * 1/(2(n - 1)))). With the reading's standard
 * uncertainty u the process itself has sqrt(s^2 - u^2): its Pp and Ppk stand beside, unless u explains all of the spread.
 * Readings outside their limits are
 * counted, with Clopper and Pearson's interval of their share. */
#ifndef DESK_STUDY_CAPABILITY_H
#define DESK_STUDY_CAPABILITY_H

#include "desk/study_table.h"

enum {
    CAPABILITY_VALUE,
    CAPABILITY_POINT,
    CAPABILITY_BY,
    CAPABILITY_LOW,
    CAPABILITY_HIGH,
    CAPABILITY_COLUMNS
};
enum { CAPABILITY_FEWEST = 5, CAPABILITY_GROUPS_MAX = 100000 };

struct study_capability_order {
    enum unit unit;
    int64_t low_nano,
        high_nano;    /* limits for all, where there are no columns; INT64_MIN, INT64_MAX: none */
    double u_nano;    /* standard uncertainty of a reading; 0: not known */
    double least_ppk; /* each group's Ppk is held against it; 0: not asked */
    double confidence;
};

struct study_capability_group {
    uint32_t point, by; /* texts; STUDY_NO_TEXT where there is no such column */
    size_t n, n_outside;
    int64_t low_nano, high_nano; /* INT64_MIN, INT64_MAX: no limit on that side */
    double mean, sd;             /* in unit */
    bool has_index;              /* enough readings and they vary */
    bool has_pp;                 /* and both limits */
    double pp, ppk;
    struct study_interval pp_i, ppk_i, outside_i;
    double process_sd; /* measurement taken out; 0 when it explains all */
    bool has_process;
    double process_ppk;
    double measured_share; /* u^2/s^2, at most 1 */
    bool is_short;         /* ppk < least_ppk */
};

struct study_capability {
    size_t n_groups, n_short, n_outside, n;
    struct study_capability_group *groups; /* by point, then by `by`; study_capability_done frees */
    struct study_notes notes;
};

/* point, by, low, high may be NULL. Limits in the columns win over the order's. */
struct study_capability_columns {
    const char *value, *point, *by, *low, *high;
};
void study_capability_wants(const struct study_capability_columns *c, enum unit unit,
                            struct study_want wants[CAPABILITY_COLUMNS]);

/* study_capability_indices: of a group whose n, mean, sd and limits stand: whether it has an index, and if so the indices, their
 * intervals, and what the measuring takes. */
void study_capability_indices(const struct study_capability_order *order,
                              struct study_capability_group *g);

/* study_capability: errors: ERR_EMPTY (no row; no group with CAPABILITY_FEWEST readings that vary), ERR_ORDER (low not below
 * high; with its line where it has one), ERR_DOMAIN (with its line: a
 * group whose limits change), ERR_LIMIT, ERR_MEMORY. */
MUST_USE enum err study_capability(const struct study_table *t,
                                   const struct study_capability_order *order,
                                   struct study_capability *ret, struct fault *reterr);
void study_capability_done(struct study_capability *c);

#endif
