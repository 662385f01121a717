/* near: how a computed figure is held against a published one. */
#ifndef TEST_STAT_NEAR_H
#define TEST_STAT_NEAR_H

#include "tap.h"

#include <math.h>

/* Within a relative tolerance, or absolutely when 0 is expected; NaN never is. */
static inline void near(double got, double want, double tolerance, const char *what)
{
    const double off = want != 0 ? fabs(got - want) / fabs(want) : fabs(got);
    if (!tap_ok(off <= tolerance, "%s", what))
        tap_note("got %.17g, expected %.17g, relative difference %.3g", got, want, off);
}

#endif
