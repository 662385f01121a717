/* sim: how a simulation reports. Each program takes the number of made-up worlds (`make test` few, `make simulate` many), makes them
 * by seed, and prints for each kind of interval in how many it held what was planted, beside the binomial error of that count. */
#ifndef TEST_SIM_SIM_H
#define TEST_SIM_SIM_H

#include "tap.h"

#include <math.h>
#include <stdlib.h>

enum sim_promise {
    SIM_AS_STATED, /* an approximation: as often as it says, within the slack */
    SIM_AT_LEAST   /* exact for counts: as often as it says, or more */
};

#define SIM_FAR 3.29 /* standard errors; a sound interval is farther off once in a thousand */

static inline size_t sim_worlds(int argc, char **argv, size_t few)
{
    const size_t n = argc > 1 ? strtoull(argv[1], NULL, 10) : few;
    return n > 0 ? n : few;
}

static inline bool sim_is_held(double low, double high, double truth)
{
    return low <= truth && truth <= high;
}

/* sim_report: n_held of n worlds; slack: how far from its level the interval may truly be, a share. */
static inline void sim_report(const char *what, size_t n_held, size_t n, double level, double slack,
                              enum sim_promise promise)
{
    const double cover = n > 0 ? (double)n_held / (double)n : 0;
    const double se = n > 0 ? sqrt(level * (1 - level) / (double)n) : 1;
    const bool is_good = cover > level - SIM_FAR * se - slack &&
                         (promise == SIM_AT_LEAST || cover < level + SIM_FAR * se + slack);
    tap_note("%-74s %5.1f %% +- %.1f %% of %zu worlds (stated %.0f %%)", what, 100 * cover,
             100 * se, n, 100 * level);
    tap_ok(n > 0 && is_good, "%s: holds the truth %s it says%s, within the binomial error", what,
           promise == SIM_AT_LEAST ? "at least as often as" : "as often as",
           slack > 0 ? " to two per cent" : "");
}

#endif
