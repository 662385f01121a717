/* life_rows: rows of a table as the times of groups, in order; what life and completion work on. */
#ifndef DESK_LIFE_ROWS_H
#define DESK_LIFE_ROWS_H

#include "desk/study_table.h"
#include "stat/forecast.h"
#include "stat/weibull.h"

/* Group g is the rows first[g]..first[g+1]-1 of end, event and entry; ends ascend within a group, entries by themselves. */
struct life_rows {
    size_t n, n_groups;
    double *end, *entry; /* entry NULL: all watched from 0 on */
    uint8_t *event;
    size_t *first; /* [n_groups + 1] */
    /* All rows in the order of their ends, with their groups, and of their entries: for the log-rank test. */
    double *all_end, *all_entry;
    uint8_t *all_event;
    uint32_t *all_group, *all_entry_group;
};

/* life_rows_new: from end[n], event[n], entry[n] (or NULL) and group[n] below n_groups (or NULL: one group). */
MUST_USE enum err life_rows_new(const double *end, const uint8_t *event, const double *entry,
                                const uint32_t *group, size_t n, size_t n_groups,
                                struct life_rows *ret);
void life_rows_done(struct life_rows *r);

/* life_terms: a group's times as terms, equal ones together, times of 0 left out. terms[2 * rows of the group] is room enough; returns how many. */
size_t life_terms(const struct life_rows *r, size_t group, struct weibull_term *terms);

/* life_terms_merge: neighbours in time put together so that at most `most` are left, each at its mean; returns how many. terms in the order of time. */
size_t life_terms_merge(struct weibull_term *terms, size_t n, size_t most);

/* life_open: a group's units that are still whole, by age, neighbours put together so that there are at most `most`; open[most]. */
size_t life_open(const struct life_rows *r, size_t group, struct forecast_open *open, size_t most);

#endif
