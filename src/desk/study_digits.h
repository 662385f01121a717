/* study_digits: who reads, and who makes readings up?
 *
 * Readings in steps (sixteenths of an inch, tenths of a millimetre) end on each step of the whole unit about equally often
 * when they
 * spread over more than a unit; people who round or invent have favourites. Per group (a shop, a technician) Pearson's
 * chi-square of the
 * steps against equal counts; where fewer than 5 are expected a step (Cochran's rule), its p by simulation instead: 9 999
 * seeded draws, p = (1 +
 * draws at least as far)/(1 + draws). q by Benjamini & Hochberg over all groups tested (J. Royal Statistical Society B 57(1),
 * 289-300, 1995): of the groups with q <= 5 %, one in
 * twenty is flagged by chance.
 *
 * Repeated sets: with a column that names the job, two jobs of one group whose readings are all alike, row by row. By chance
 * that happens as often
 * as the places' values agree by themselves: for each place the share of pairs of jobs that hold the same value, multiplied
 * over the places. */
#ifndef DESK_STUDY_DIGITS_H
#define DESK_STUDY_DIGITS_H

#include "desk/study_table.h"

enum { DIGITS_VALUE, DIGITS_BY, DIGITS_SET, DIGITS_COLUMNS };
enum { DIGITS_STEPS_MAX = 1000, DIGITS_DRAWS = 9999, DIGITS_FEWEST = 5, DIGITS_SET_FEWEST = 3 };
enum { DIGITS_CELLS_MAX = 100 * 1000 * 1000 }; /* groups times steps */

struct study_digits_order {
    int64_t step_nano;
    enum unit unit;   /* the whole that the steps divide */
    double discovery; /* share of the flags that may be by chance: 0.05 */
};

struct study_digits_group {
    uint32_t by; /* study_text(t, DIGITS_BY, by) */
    size_t n;
    bool is_tested; /* DIGITS_FEWEST readings or more */
    double chi2, p, q;
    bool is_simulated; /* p is */
    bool
        is_spread; /* the readings spread enough for the steps to be equally likely: sd of half a unit or more */
    bool is_flagged;  /* q <= discovery */
    size_t favourite; /* the step seen most often, in steps from the whole unit */
    double favourite_share;
};

/* Two jobs of one group with the same readings. */
struct study_digits_copy {
    uint32_t by, first, second; /* texts of DIGITS_SET */
    size_t n;                   /* readings alike */
    double chance; /* that two jobs of that many readings agree, by their values' own frequencies */
};

struct study_digits {
    size_t n_steps, df;
    size_t n_groups, n_flagged;
    struct study_digits_group *groups; /* in the order of the file; study_digits_done frees */
    size_t n_sets, n_copies; /* jobs compared; pairs alike (each job against the first like it) */
    struct study_digits_copy *copies;
    double expected_copies; /* pairs of jobs of one group that would be alike by chance */
    bool is_cut_short;      /* stopped: groups after the last simulated one carry no p */
    struct study_notes notes;
};

/* set may be NULL. */
void study_digits_wants(const char *value, const char *by, const char *set, enum unit unit,
                        struct study_want wants[DIGITS_COLUMNS]);

/* study_digits: errors: ERR_EMPTY (no row, no group with DIGITS_FEWEST readings), ERR_DOMAIN (the step does not divide the
 * unit into 2 .. DIGITS_STEPS_MAX: path "--step"; or, with
 * its line, a reading that is no whole number of steps), ERR_LIMIT (groups times steps), ERR_MEMORY. */
MUST_USE enum err study_digits(const struct study_table *t, const struct study_digits_order *order,
                               const struct study_watch *watch, struct study_digits *ret,
                               struct fault *reterr);
void study_digits_done(struct study_digits *d);

#endif
