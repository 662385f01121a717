/* conform: is a reading inside its limits, given its uncertainty?
 *
 * Probability of conformity Phi((U-x)/u) - Phi((L-x)/u), JCGM 106:2012 clause 7. Guard band g = z(1-risk) u at each
 * limit. Amounts are int64 nano of one dimension (quantity.h); u is a standard uncertainty in the same nano, a double,
 * >= 0; u = 0 is an exact reading. Standard uncertainties combine by root sum of squares (JCGM 100:2008, 5.1.2);
 * a reading to the nearest `a` has u = a/(2 sqrt 3) (JCGM 100:2008, F.2.2.1). */
#ifndef CORE_CONFORM_H
#define CORE_CONFORM_H

#include "core/err.h"

#include <stdbool.h>
#include <stdint.h>

enum verdict { VERDICT_INSIDE, VERDICT_OUTSIDE, VERDICT_UNCERTAIN };

struct conform_limits {
    int64_t low, high; /* INT64_MIN / INT64_MAX: no limit on that side */
};

struct conform_answer {
    double p_conform;
    enum verdict simple, guarded;
    int64_t guard; /* the band, whole nano, rounded up */
    struct conform_limits guarded_limits;
    int64_t margin; /* to the nearer unguarded limit, negative outside */
};

const char *conform_verdict_name(enum verdict v); /* "inside", "outside", "uncertain" */

/* conform_factor: k = z(1-risk) of the guard band k u; risk in (0, 0.5], else ERR_DOMAIN. */
MUST_USE enum err conform_factor(double risk, double *ret_factor);

/* conform_guard_by: k u rounded up to whole nano, for many u at one risk. Errors: ERR_DOMAIN, ERR_RANGE. */
MUST_USE enum err conform_guard_by(double factor, double u, int64_t *ret_guard);

/* conform_guard: z(1-risk) u rounded up to whole nano. risk in (0, 0.5], u >= 0 and finite.
 * Errors: ERR_DOMAIN, ERR_RANGE. */
MUST_USE enum err conform_guard(double u, double risk, int64_t *ret_guard);

/* conform_narrow: limits moved in by guard; where they cross, both become their midpoint rounded down (floor).
 * Errors: ERR_ORDER (low > high), ERR_RANGE. */
MUST_USE enum err conform_narrow(struct conform_limits limits, int64_t guard,
                                 struct conform_limits *ret);

/* conform_verdict: the guarded verdict: inside when within both guarded limits; outside when beyond a limit by more than the
 * guard band; else uncertain. guarded: limits narrowed by guard (conform_narrow). */
enum verdict conform_verdict(int64_t reading, struct conform_limits limits, int64_t guard,
                             struct conform_limits guarded);

/* conform_judge: the whole answer. Errors as above. */
MUST_USE enum err conform_judge(int64_t reading, double u, struct conform_limits limits,
                                double risk, struct conform_answer *ret);

/* conform_p: the probability alone; u = 0 gives 0 or 1 (limits included). */
double conform_p(int64_t reading, double u, struct conform_limits limits);

struct conform_u {
    int64_t resolution;   /* smallest step of the instrument, whole width; 0 = none */
    double calibration_u; /* standard uncertainty of its calibration */
    double repeat_u;      /* standard deviation of one reading repeated */
};

/* conform_combine: root sum of squares of the parts. */
double conform_combine(struct conform_u parts);

struct conform_risks {
    double consumer, producer,
        accept; /* JCGM 106:2012, 9.5: accepted and outside; rejected and inside; accepted */
};

/* conform_risks: process N(mean, process_u), measurement N(0, measure_u), accepted when low+w <= reading <= high-w
 * (w < 0 widens). All in one unit, doubles. Numerical integration, absolute error below 1e-12.
 * Errors: ERR_DOMAIN for a non-positive or non-finite spread, ERR_ORDER. */
MUST_USE enum err conform_risks(double mean, double process_u, double measure_u, double low,
                                double high, double w, struct conform_risks *ret);

#endif
