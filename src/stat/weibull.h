/* weibull: the Weibull curve S(t) = exp(-(t/scale)^shape) by maximum likelihood, and its mixture with units that never fail.
 *
 * Each failure adds the log of its density (no constant dropped), each unit that was only watched the log of its survival, each
 * unit that was not watched from its beginning takes away the log of its survival to its entry (left truncation). Equal times are
 * one term, so a file in whole days is a few thousand terms however many rows it has. Pure: no allocation, no state.
 *
 * Shape below 1: early failures. About 1: at a constant rate. Above 1: wear.
 *
 * Sources: Meeker & Escobar 1998, Statistical Methods for Reliability Data, chapters 8 and 11 (from memory); the profile equation
 * in the shape alone: Cohen 1965, Technometrics 7, 579-588. Mixture: Boag 1949, J. Roy. Statist. Soc. B 11, 15-53. */
#ifndef STAT_WEIBULL_H
#define STAT_WEIBULL_H

#include "core/err.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct weibull_term {
    double log_t; /* natural log of a time > 0 */
    double events, censored,
        entered; /* units that fail, stop being watched, begin to be watched at it */
};

enum weibull_outcome {
    WEIBULL_FITTED,
    WEIBULL_NO_EVENT, /* nothing failed: any large scale fits */
    WEIBULL_STEEP, /* likelihood grows with the shape without end: every failure lies at the latest time */
    WEIBULL_SHALLOW,  /* likelihood grows as the shape goes to 0 */
    WEIBULL_UNSETTLED /* the search did not converge */
};

/* weibull_outcome_text: why there is no fit, for people; "" for WEIBULL_FITTED. Static. */
const char *weibull_outcome_text(enum weibull_outcome outcome);

struct weibull {
    double log_scale, log_shape;
    double cov[2][2]; /* of (log_scale, log_shape): inverse of the observed information */
    double se_log_scale, se_log_shape;
    double scale, shape; /* exp of the above */
    double loglik;
    double exponential_loglik; /* the best with shape 1 */
    double exponential_scale;
    double events; /* failures the fit rests on */
    int n_steps;
};

/* weibull_fit: terms[0..n), in any order. *ret is written only for WEIBULL_FITTED. The shape is searched for between 1e-4 and 1e4
 * as the root of the profile's slope, by Newton's steps held inside a bracket. O(n) a step, about ten steps.
 * Worked (NIST/SEMATECH e-Handbook 8.4.1.3): ten failures 54 ... 386 and ten running at 500: shape 1.7207, scale 606.53. */
enum weibull_outcome weibull_fit(const struct weibull_term *terms, size_t n, struct weibull *ret);

/* weibull_find_ends: the interval that the likelihood itself gives: every scale (shape) for which some shape (scale) has a log-likelihood no
 * more than z^2/2 below the best; z of the normal distribution, two-sided. With few failures it holds the truth as often as it says,
 * where intervals by standard errors do not. Some 200 passes over the terms. An end that is not there (has_ false) is unbounded.
 * Source: Meeker & Escobar 1998, section 8.3 (from memory). */
struct weibull_ends {
    bool has_scale_low, has_scale_high, has_shape_low, has_shape_high;
    double log_scale_low, log_scale_high, log_shape_low, log_shape_high;
};
void weibull_find_ends(const struct weibull_term *terms, size_t n, const struct weibull *fit,
                       double z, struct weibull_ends *ret);

/* weibull_survival: S at log t, by log scale and log shape. weibull_further: probability of failing within (t, t + more] when
 * whole at t >= 0. */
double weibull_survival(double log_t, double log_scale, double log_shape);
double weibull_further(double t, double more, double log_scale, double log_shape);

/* ---- when some never fail -------------------------------------------------------------------- */

enum { CURE_LOGIT, CURE_SCALE, CURE_SHAPE, CURE_PARAMETERS };

struct cure {
    double at
        [CURE_PARAMETERS]; /* log(share/(1-share)) of those that ever fail, log scale, log shape */
    double share, scale, shape;
    double loglik;
    bool
        is_bounded; /* false: the likelihood is no lower with everyone failing in the end, so share is only bounded from below */
};

/* cure_loglik: and its slope and curvature, unless NULL, at `at`. */
double cure_loglik(const struct weibull_term *terms, size_t n, const double at[CURE_PARAMETERS],
                   double slope[CURE_PARAMETERS], double curve[CURE_PARAMETERS][CURE_PARAMETERS]);

/* cure_fit: three parameters, from several beginnings, by Newton's steps made longer or shorter as they succeed
 * (Levenberg-Marquardt). `plain` the fit without a mixture, or NULL where there is none. */
enum weibull_outcome cure_fit(const struct weibull_term *terms, size_t n,
                              const struct weibull *plain, struct cure *ret);

/* cure_climb: the best with the share held: at[CURE_LOGIT] is kept, the others are the beginning and the end. false: it did not
 * settle. */
bool cure_climb(const struct weibull_term *terms, size_t n, double at[CURE_PARAMETERS],
                bool is_share_held, double *ret_loglik);

#endif
