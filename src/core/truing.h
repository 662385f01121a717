/* truing: what to move so that every reading comes inside its limits.
 *
 * Given readings at points, limits, and adjusters that move in whole steps and change readings in proportion, find the
 * plan that is best in this order:
 *   1. least worst violation of the guarded limits (0: all inside),
 *   2. least cost in seconds: setup_s once for an adjuster that is moved, step_s for each step,
 *   3. greatest least margin to the guarded limits,
 *   4. a fixed tie order: adjusters in the order given, and for each 0 before +1 before -1 before +2 before -2 ...
 * All of it in whole nano (quantity.h) and whole seconds. Floating point only guides the search: whatever it
 * suggests is checked in integers before anything is decided (search.h tells how).
 *
 * The further plans are the best ones that touch another set of adjusters than every plan before them.
 * When the readings are inside already there is one plan, which moves nothing. */
#ifndef CORE_TRUING_H
#define CORE_TRUING_H

#include "core/conform.h"

#include <stddef.h>

enum {
    TRUING_POINTS_MAX = 64,
    TRUING_ADJUSTERS_MAX = 32,
    TRUING_PLANS_MAX = 8,
    TRUING_STEPS_MAX = 10000 /* greatest |min|, |max| of an adjuster */
};

/* Amounts beyond this (in nano; for lengths 4 000 km) are refused, and so is a plan whose reach could pass it: sums then
 * never overflow. Seconds likewise. */
#define TRUING_AMOUNT_MAX  ((int64_t)4000000000000000)
#define TRUING_SECONDS_MAX ((int64_t)1000000000)

struct truing_point {
    int64_t nominal;
    int64_t low, high; /* INT64_MIN / INT64_MAX: no limit on that side */
    int64_t reading;
    double u; /* standard uncertainty of the reading, nano, >= 0 */
};

struct truing_adjuster {
    int32_t min, max; /* steps, min <= 0 <= max */
    int64_t setup_s, step_s;
};

struct truing_problem {
    size_t n_points, n_adjusters;
    const struct truing_point *points;
    const struct truing_adjuster *adjusters;
    const int64_t
        *effect; /* [n_adjusters][n_points]: change of reading p by one step +1 of adjuster a is
                              effect[a * n_points + p] */
    bool has_guard;
    double risk;        /* in (0, 0.5], when has_guard */
    size_t n_plans;     /* wanted, 1..TRUING_PLANS_MAX */
    int64_t node_limit; /* 0: TRUING_NODE_LIMIT */
};

/* Enough for every problem of the trade's size many times over; where it is hit the answer says proved = false. */
#define TRUING_NODE_LIMIT ((int64_t)400000)

struct truing_plan {
    int32_t steps[TRUING_ADJUSTERS_MAX];
    int64_t predicted[TRUING_POINTS_MAX];
    double p_conform
        [TRUING_POINTS_MAX]; /* after the move, against the unguarded limits, with the reading's u */
    int64_t cost_s;
    int64_t worst_violation;
    int64_t least_margin; /* to the nearer guarded limit, negative outside */
};

struct truing_answer {
    enum verdict verdict; /* of the readings as they are */
    enum verdict point[TRUING_POINTS_MAX];
    double p_conform[TRUING_POINTS_MAX];
    struct conform_limits guarded[TRUING_POINTS_MAX];
    int64_t worst_violation; /* of the guarded limits, as read */
    size_t n_plans;
    struct truing_plan plans[TRUING_PLANS_MAX];
    bool is_proved; /* every plan returned is proved best in its turn */
    int64_t nodes;
    int64_t
        bound_violation; /* no plan can have a smaller worst violation than this (proved, also when not is_proved) */
    int64_t bound_cost_s; /* nor, at the first plan's violation, a smaller cost */
    bool is_aimed;        /* the plans keep to closer limits (advise.h); truing_solve: never */
};

/* truing_workspace: bytes of memory that truing_solve needs for this problem; 0 when the sizes are out of range. */
size_t truing_workspace(size_t n_points, size_t n_adjusters);

/* truing_judge: verdicts, probabilities and guarded limits only; no search, no workspace. Same errors. */
MUST_USE enum err truing_judge(const struct truing_problem *problem, struct truing_answer *ret);

/* truing_solve: everything. workspace[size >= truing_workspace()] is the caller's, aligned for double.
 * Errors: ERR_EMPTY (no points), ERR_LIMIT (sizes), ERR_ORDER (low > high), ERR_DOMAIN (min > 0, max < 0, negative or huge
 * seconds, u, risk, n_plans), ERR_RANGE (amounts), ERR_SPACE. *reterr_at: index of the point or adjuster at fault,
 * (size_t)-1 when it is neither. */
MUST_USE enum err truing_solve(const struct truing_problem *problem, void *workspace, size_t size,
                               struct truing_answer *ret, size_t *reterr_at);

/* truing_apply: the forward direction: predicted[p] = reading + sum of steps x effect. */
void truing_apply(const struct truing_problem *problem, const int32_t *steps, int64_t *predicted);

#endif
