/* summary: mean, spread and quantiles of numbers, each with its interval. */
#ifndef STAT_SUMMARY_H
#define STAT_SUMMARY_H

#include "core/err.h"

#include <stdbool.h>
#include <stddef.h>

struct stat_sum { /* a sum that keeps what rounding took away (Neumaier, ZAMM 54(1), 39-51, 1974) */
    double total, rest;
};
void stat_add(struct stat_sum *s, double x);
double stat_total(const struct stat_sum *s);

/* stat_mean_sd: of x[0..n), n >= 1; sd with n - 1, 0 for n = 1. Two passes, compensated, with the correction of Chan, Golub &
 * LeVeque (The American Statistician 37(3), 242-247, 1983), so that values far from 0 lose nothing. */
void stat_mean_sd(const double *x, size_t n, double *ret_mean, double *ret_sd);

/* stat_sort: ascending, in place. */
void stat_sort(double *x, size_t n);

/* stat_quantile: of sorted x[0..n), n >= 1, 0 <= p <= 1: linear between the order statistics, position (n - 1) p. Definition 7 of
 * Hyndman & Fan, The American Statistician 50(4), 361-365, 1996. */
double stat_quantile(const double *sorted, size_t n, double p);

/* stat_quantile_interval: order statistics between which the quantile lies with at least the chance `level`, whatever the
 * distribution:
 * the tails are at most (1 - level)/2 each. False when n is too small for one (5 values: none for the median at 0.95).
 * Source: David & Nagaraja, Order Statistics, 3rd ed.,
 * section 7.1 (from memory). */
bool stat_quantile_interval(const double *sorted, size_t n, double p, double level, double *ret_low,
                            double *ret_high);

#endif
