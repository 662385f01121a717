/* life: what times to failure say without a curve being assumed: the share that survives (product limit), failures expected by
 * the running hazard, repairs of units that can fail again, and whether groups differ.
 *
 * Units that have not failed yet count as long as they were watched (right censoring). Units that were not watched from their
 * beginning count from their entry on only (left truncation): at risk at t means entry < t <= end. Several failures at one time
 * are one step; a unit that stops being watched at t is still at risk at t. Addition, multiplication, division and square root
 * only, so phone and desk agree. */
#ifndef CORE_LIFE_H
#define CORE_LIFE_H

#include "core/err.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct life_step {
    double t;         /* a time at which something failed */
    int64_t at_risk;  /* at t, those that fail then among them */
    int64_t events;   /* at t */
    double survival;  /* just after t; 0..1 */
    double greenwood; /* sum of d/(n (n-d)) up to t; meaningless once survival is 0 */
    double se; /* Greenwood's standard error of survival; 0 and has_se false once survival is 0 */
    bool has_se;
    double hazard;    /* Nelson-Aalen, sum of d/n */
    double hazard_se; /* square root of the sum of d/n^2 */
};

/* life_steps: the product-limit estimate.
 * end[n]    ascending, >= 0: failure or end of watching.  event[n]  1 failed, 0 not; goes with end.
 * entry[n]  ascending by itself (it does not go with end row by row: only counts matter); NULL: all watched from 0 on.
 * ret[room] one step for every different time with a failure; *ret_n their number.  Caller's, never allocated here.
 * n = 0 gives no steps.  Errors: ERR_DOMAIN (negative or not finite, an event neither 0 nor 1), ERR_ORDER (not ascending, or more
 * have left than entered at some time), ERR_SPACE.  O(n).
 * Sources: Kaplan & Meier 1958, J. Amer. Statist. Assoc. 53, 457-481; Greenwood 1926; Nelson 1969; for entries Andersen, Borgan,
 * Gill & Keiding 1993, section IV.  Worked: 11 at risk, one fails, survival 10/11. */
MUST_USE enum err life_steps(const double *entry, const double *end, const uint8_t *event, size_t n,
                             struct life_step *ret, size_t room, size_t *ret_n);

/* life_quantile: the first time at which survival is at most 1 - share (0 < share < 1); false when it never is. Sums that should
 * meet the mark exactly do so within 1e-12. */
bool life_quantile(const struct life_step *steps, size_t n, double share, double *ret_t);

/* life_survival: survival at t, 1 before the first step. The step is steps[*ret_i]; false when t lies before it. */
bool life_at(const struct life_step *steps, size_t n, double t, size_t *ret_i);

/* ---- do groups differ? ----------------------------------------------------------------------- */

enum { LIFE_GROUPS_MAX = 64 };

struct life_logrank {
    double observed[LIFE_GROUPS_MAX], expected[LIFE_GROUPS_MAX];
    double chi2; /* on df degrees of freedom */
    int df;      /* groups with something expected, less one; 0: nothing to compare, chi2 0 */
};

/* life_logrank: the log-rank test over groups.
 * end[n] ascending with event[n] and group[n] (0..n_groups-1, n_groups 1..LIFE_GROUPS_MAX); entry[n] ascending with its own
 * entry_group[n], or both NULL.  Errors: as life_steps; ERR_DOMAIN for a group out of range; ERR_LIMIT for too many groups.
 * O(n + times x groups^2).
 * Sources: Mantel 1966, Cancer Chemotherapy Reports 50, 163-170; the hypergeometric covariance as in Kalbfleisch & Prentice. */
MUST_USE enum err life_logrank(const double *entry, const uint32_t *entry_group, const double *end,
                               const uint8_t *event, const uint32_t *group, size_t n, int n_groups,
                               struct life_logrank *ret);

/* ---- units that fail again and again --------------------------------------------------------- */

struct life_mean_step {
    double t;
    int64_t at_risk, events; /* units watched at t; failures at t */
    double mean;             /* failures a unit up to t */
    double se;               /* robust: units vary, failures of one unit may hang together */
};

/* life_mean: the mean cumulative function.
 * t[n] ascending, unit[n] 0..n_units-1, event[n] 1 a failure, 0 the end of watching.  A unit is watched from 0 to its last row.
 * work[3 * n_units] is scratch.  ret[room], *ret_n: one step for every different time with a failure.
 * Errors: ERR_DOMAIN, ERR_ORDER, ERR_SPACE.  O(n + n_units).
 * Sources: Nelson 1995, Technometrics 37, 147-157; variance: Lawless & Nadeau 1995, Technometrics 37, 158-168.
 * Worked: of three units one fails at day 1: mean 1/3. */
MUST_USE enum err life_mean(const double *t, const uint32_t *unit, const uint8_t *event, size_t n,
                            size_t n_units, double *work, struct life_mean_step *ret, size_t room,
                            size_t *ret_n);

#endif
