/* forecast: how many of the units that have not failed (or not come) yet will, within a time or ever, with an interval that holds both
 * what is not known of the curve and the luck of the units themselves.
 *
 * Curves are drawn from the likelihood, and for each a count: the sum of the units' own chances, each conditional on the age it has
 * reached, spread as a binomial of that mean and variance. The counts' quantiles are the interval. Draws are seeded.
 *
 * Plain Weibull: (log scale, log shape) normal about the fit with its covariance. Mixture: the share that ever fails on a grid, flat beforehand
 * between 0 and 1, weighted by the profile likelihood and the spread of the other two (Laplace); those normal about their
 * best for that share. So a file that cannot bound the share says so by a wide interval, not by a failing fit.
 *
 * Sources: Escobar & Meeker 1999, Technometrics 41, 113-124 (prediction of further failures; from memory); Tierney & Kadane 1986, J. Amer.
 * Statist. Assoc. 81, 82-86 (Laplace's approximation; from memory). */
#ifndef STAT_FORECAST_H
#define STAT_FORECAST_H

#include "stat/weibull.h"

/* Units that are still open. */
struct forecast_open {
    double t; /* age that they have reached, >= 0 */
    double n; /* how many */
};

struct forecast_question {
    const struct forecast_open *open;
    size_t n_open;
    double more; /* within so much time; HUGE_VAL: ever */
    uint64_t seed;
    size_t n_draws;
};

/* forecast_weibull: draws[n_draws], sorted; returns the count expected by the fit itself. */
double forecast_weibull(const struct weibull *w, const struct forecast_question *q, double *draws);

enum { CURE_GRID = 128 };

/* The share that ever fails, as the likelihood has it. */
struct cure_shares {
    size_t n;                 /* points of the grid at which the fit settled; 0: none */
    double share[CURE_GRID];  /* ascending */
    double weight[CURE_GRID]; /* sums to 1 */
    double at[CURE_GRID][CURE_PARAMETERS];
    double root[CURE_GRID]
               [3]; /* lower triangle of the covariance of (log scale, log shape): 00, 10, 11 */
};

/* cure_spread: about a fit. cure_share_quantile: of the share, linear between the points of the grid. */
void cure_spread(const struct weibull_term *terms, size_t n, const struct cure *fit,
                 struct cure_shares *ret);
double cure_share_quantile(const struct cure_shares *s, double p);

/* forecast_cure: as forecast_weibull; s->n > 0. */
double forecast_cure(const struct cure_shares *s, const struct cure *fit,
                     const struct forecast_question *q, double *draws);

#endif
