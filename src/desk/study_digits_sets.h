/* study_digits_sets: the part of study_digits that looks for jobs with the same readings. */
#ifndef DESK_STUDY_DIGITS_SETS_H
#define DESK_STUDY_DIGITS_SETS_H

#include "desk/study_digits.h"

/* study_digits_sets: fills n_sets, copies, expected_copies. A job is the rows of one group with one text in DIGITS_SET, its
 * readings in
 * the file's order; jobs of fewer than DIGITS_SET_FEWEST readings are left out. Every job is held against the first of its
 * group that is
 * like it. O(n log n). ERR_MEMORY. */
MUST_USE enum err study_digits_sets(const struct study_table *t, struct study_digits *d,
                                    struct fault *reterr);

#endif
