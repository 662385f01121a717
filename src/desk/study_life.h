/* study_life: how long do units last, do groups differ, how do repeats add up, and how many more will fail?
 *
 * The curve without assumption: core/life.h (Kaplan & Meier, Greenwood's error), with log-log intervals: the logarithm of the
 * cumulative hazard is taken as normal, which keeps the ends inside 0..1 (Kalbfleisch & Prentice 1980; R's conf.type "log-log"). The
 * Weibull curve: stat/weibull.h. Groups: the log-rank test. Repeats: with a column of units, the mean cumulative function; the
 * curves are then those of each unit's first failure. Further failures: stat/forecast.h. */
#ifndef DESK_STUDY_LIFE_H
#define DESK_STUDY_LIFE_H

#include "core/life.h"
#include "desk/study_table.h"
#include "stat/weibull.h"

enum { LIFE_TIME, LIFE_EVENT, LIFE_ENTRY, LIFE_GROUP, LIFE_UNIT, LIFE_COLUMNS };
enum {
    LIFE_DRAWS = 4000,
    LIFE_MANY_EVENTS = 200 /* up to here a Weibull curve's intervals are the likelihood's own */
};

struct study_life_order {
    double confidence;               /* of every interval, 0..1 exclusive */
    bool has_cure;                   /* fit the mixture with units that never fail too */
    double forecast;                 /* within so much more time; 0: not asked */
    uint64_t seed;                   /* of the forecast's draws */
    const struct study_watch *watch; /* NULL: nobody watches */
};

/* Nearest and farthest, with what is expected between; is_known false: cannot be told. */
struct study_life_range {
    bool is_known;
    double value, low, high;
    bool has_low, has_high; /* an end that lies beyond what was watched is not there */
};

struct study_life_group {
    const char *name; /* the table's; "all" without a column of groups */
    size_t n, n_events;
    double first_entry, watched; /* unit-time watched in all */
    struct life_step *steps;     /* [n_steps], with low and high beside them */
    double *low, *high;
    size_t n_steps;
    struct study_life_range median; /* first time at which half or fewer are left */
    bool has_zero_event;            /* something failed at time 0: no Weibull curve */
    enum weibull_outcome outcome;   /* of the Weibull fit */
    struct weibull weibull;
    struct study_life_range scale, shape;
    double shape_p; /* of shape 1, by the likelihood ratio */
    double misfit;  /* largest distance of the Weibull curve from the steps, as a share of units */
    size_t n_outside; /* steps whose interval does not hold the Weibull curve */
    bool has_cure;
    struct cure cure;
    double
        cure_p; /* of everyone failing in the end, by the likelihood ratio; its null lies at the edge: half of a chi-square of 1 */
    size_t n_open; /* units still whole */
    struct study_life_range forecast;
    double rate_high; /* nothing failed: the greatest constant rate that goes with that */
};

struct study_life {
    size_t n_rows, n_groups;
    struct study_life_group *groups;
    bool has_logrank;
    struct life_logrank logrank;
    double logrank_p;
    size_t n_units; /* with a column of units, else 0 */
    struct life_mean_step *mean;
    double *mean_low,
        *mean_high; /* [n_mean] by the normal distribution of log(mean); mean no interval where se is 0 */
    size_t n_mean;
    bool
        is_stopped; /* the watch asked to stop: groups after the last one worked are not there, nor the log-rank test */
    struct study_notes notes;
};

/* study_life_wants: the columns; entry, group and unit may be NULL. */
void study_life_wants(const char *time, const char *event, const char *entry, const char *group,
                      const char *unit, struct study_want wants[LIFE_COLUMNS]);

/* study_life: t holds those columns and outlives *ret, which study_life_done frees. A unit column excludes entry and group (assert).
 * Errors: ERR_EMPTY (no row), ERR_ORDER (an entry that is not before its time, with its line), ERR_LIMIT (more than LIFE_GROUPS_MAX
 * groups), ERR_BUSY (stopped before there was a part of an answer), ERR_MEMORY. */
MUST_USE enum err study_life(const struct study_table *t, const struct study_life_order *order,
                             struct study_life *ret, struct fault *reterr);
void study_life_done(struct study_life *r);

/* study_life_interval: of the survival at a step, z the normal quantile: S to the power e^(-+ z s), s the error of log(-log S). Both ends are
 * the survival itself where it has no error. */
void study_life_interval(const struct life_step *s, double z, double *ret_low, double *ret_high);

#endif
