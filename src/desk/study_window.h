/* study_window: which build days are bad? The run of days with the raised rate of failures, how sure that is, how sure its ends
 * are, and what it costs to draw them wider or narrower.
 *
 * The scan and its p-value: stat/window.h (Kulldorff 1997). Rows of one day are added up; days without exposure are left out, and a
 * run may span days that are not in the file. What is expected of a run is its share of what was built, or of the exposure where
 * such a column is named (days in service, say, when later builds have had less time to fail).
 *
 * The ends: the confidence set holds every run whose log-likelihood ratio lies at most `drop` below the best one's. The ends are
 * whole days at which the likelihood jumps, so the textbook's chi-square limit does not hold for it; drop is the `confidence`
 * quantile of what that difference is for the true run in draws from a world with the run and the rates that were found
 * (parametric bootstrap, ENDS_DRAWS of them).
 *
 * The cost curve: the likelihood, taken as weights over all runs (flat beforehand), gives each day the share with which it belongs
 * to the bad run. A run swept in costs the units on its days times (1 - share), needlessly; it leaves out units and failures on the
 * other days times share. One row for each share at which the line may be drawn.
 *
 * Several runs: after the first its days are taken out, and the rest is scanned anew, no run reaching over what was taken out. */
#ifndef DESK_STUDY_WINDOW_H
#define DESK_STUDY_WINDOW_H

#include "desk/study_table.h"

enum { WINDOW_DAY, WINDOW_BUILT, WINDOW_FAILED, WINDOW_EXPOSURE, WINDOW_COLUMNS };
enum {
    WINDOW_RUNS_MAX = 8,
    WINDOW_CURVE_MAX = 12,
    WINDOW_DRAWS_MAX = 10 * 1000 * 1000,
    WINDOW_ENDS_DRAWS = 999,
    WINDOW_DAY_SIZE = 24
};

struct study_window_order {
    int64_t n_draws; /* 99..WINDOW_DRAWS_MAX */
    uint64_t seed;
    int n_runs; /* to look for, 1..WINDOW_RUNS_MAX */
    double
        confidence; /* of the ends; 1 - confidence is the p up to which a run counts; 0.5..0.999 */
    int n_threads;  /* 0: as many as there are processors. Changes nothing but the time */
};

/* A day as the file writes it: a date, or a whole number. */
struct study_window_day {
    char text[WINDOW_DAY_SIZE];
    bool is_number;
    int64_t number;
};

struct study_window_cut {
    double share; /* days that belong to the bad run with at least this share */
    struct study_window_day first, last;
    int64_t built, failed; /* swept in */
    double needless;       /* units swept in that do not belong, expected */
    double left_built,
        left_failed; /* units, and failures seen so far, left out that do; expected */
};

struct study_window_run {
    struct study_window_day first, last;
    int64_t built, failed;
    double expected, llr, p;
    double rate_inside, rate_outside; /* failed / built */
    bool has_outside;                 /* false: nothing was built outside */
    bool is_found;                    /* p <= 1 - confidence */
    int64_t n_draws;                  /* that p rests on; fewer than asked for when stopped */
    bool has_set;                     /* the ends are known with their confidence */
    double drop;
    struct study_window_day first_low, first_high, last_low, last_high;
    int64_t n_set; /* runs in the set */
    size_t n_curve;
    struct study_window_cut curve[WINDOW_CURVE_MAX];
};

struct study_window {
    size_t n_rows, n_days; /* n_days with exposure */
    int64_t built, failed;
    bool is_by_exposure;
    bool is_stopped; /* asked to stop: what is here is less than was asked for */
    size_t n_runs;   /* 0: no run has more than its share */
    struct study_window_run runs[WINDOW_RUNS_MAX];
    struct study_notes notes;
};

/* study_window_wants: the columns; built NULL: every row is one unit. exposure may be NULL. */
void study_window_wants(const char *day, const char *built, const char *failed,
                        const char *exposure, struct study_want wants[WINDOW_COLUMNS]);

/* study_window: t holds those columns. Errors: ERR_EMPTY (no row, nothing built or exposed), ERR_DOMAIN (nothing failed; one day
 * only; a failure on a day on which nothing was built), ERR_SYNTAX (a day that is neither), ERR_TYPE (dates and numbers mixed),
 * ERR_LIMIT (too many days or failures), ERR_MEMORY. */
MUST_USE enum err study_window(const struct study_table *t, const struct study_window_order *order,
                               const struct study_watch *watch, struct study_window *ret,
                               struct fault *reterr);

#endif
