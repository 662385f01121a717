/* rates: two counts of failures over two spans of watching: how many times the rate of the one is that of the other.
 *
 * Given the total, the first count is binomial with chance r T1 / (r T1 + T2) when the rates stand as r to 1; Clopper and Pearson's
 * interval for that chance gives one for r that holds at least as often as it says, however few failures there were.
 * Sources: Przyborowski & Wilenski 1940, Biometrika 31, 313-323; Clopper & Pearson 1934, Biometrika 26, 404-413. */
#ifndef STAT_RATES_H
#define STAT_RATES_H

#include <stdbool.h>
#include <stdint.h>

struct rates {
    double ratio;     /* (n1/t1) / (n2/t2); infinite when only n2 is 0 */
    double low, high; /* high infinite when n2 is 0 */
    double
        p; /* two-sided, exact: outcomes no more likely than the one seen, when the rates are alike */
};

/* rates_compare: n1, n2 >= 0, together 1..2e9; t1, t2 > 0; level such as 0.95. false: nothing failed, so there is no ratio.
 * Worked: 3 in 1200 against 17 in 900: ratio 0.132, 0.0249 to 0.458 at 95 %. */
bool rates_compare(int64_t n1, double t1, int64_t n2, double t2, double level, struct rates *ret);

/* rates_bounds: exact interval for one rate, n in t. Source: Garwood 1936, Biometrika 28, 437-442. */
void rates_bounds(int64_t n, double t, double level, double *ret_low, double *ret_high);

#endif
