/* glpk_peer: the truing problem as a chain of mixed-integer programs for GLPK, a general-purpose solver, used in tests and
 * bench only. It knows nothing of our method: binaries for "moved up / moved down", whole steps, and one program a stage. */
#ifndef TEST_PEER_GLPK_PEER_H
#define TEST_PEER_GLPK_PEER_H

#include "core/truing.h"

struct peer_plan {
    int32_t x[TRUING_ADJUSTERS_MAX];
    int64_t violation, cost_s,
        margin; /* worked out in integers from x, not taken from the solver */
    double solver_violation_mm, solver_margin_mm;
    bool has_plan, is_optimal; /* false: no such plan; the solver hit its time limit */
};

/* peer_plan: the best plan whose touched set is none of excluded[n_excluded] (bit j = adjuster j).
 * guarded[n_points]: limits to work with (the contract's arithmetic, not a matter for the peer). limit_ms: the processor's time
 * for each program. */
void peer_plan(const struct truing_problem *problem, const struct conform_limits *guarded,
               const uint32_t *excluded, size_t n_excluded, int limit_ms, struct peer_plan *ret);

#endif
