/* advise: which plan of truing.h a person is advised to follow.
 *
 * A bulletin's guard is a risk for each reading: 5 % wrongly called inside. A plan that is cheapest within those limits likes to leave
 * readings just within them, and of eight readings at the brink one is soon outside. So the advice aims closer: at limits
 * guarded so that all readings together are inside with probability 1 - plan_risk or more. For n readings that are independent
 * each may then have the risk
 *     r = 1 - (1 - plan_risk)^(1/n)      (Sidak 1967, JASA 62, 626; guarded acceptance of each:
 * JCGM 106:2012, 8.3; both clauses from memory)
 * Readings by one gauge share its calibration; they then fall together, and the bound stays on the safe side for what they share.
 *
 *   1. What is inside by the bulletin's own guard stays as it is: nothing is moved.
 *   2. Else the plan that is best in truing's order within the closer limits, when one brings every reading inside them.
 *   3. Else the plan that is best within the bulletin's own, as truing_solve says.
 * Verdicts, probabilities and guarded limits of the answer are always by the bulletin's own guard; so are the violation and the margin of
 * each plan. Pure; the search is truing's, exact as there. */
#ifndef CORE_ADVISE_H
#define CORE_ADVISE_H

#include "core/truing.h"

/* What our own advice takes where nothing else is said: 1 % for all readings of a problem together. */
#define ADVISE_PLAN_RISK 0.01

/* advise_risk_each: r above, within 1e-15 of itself. risk in (0, 0.5], n in 1..TRUING_POINTS_MAX; ERR_DOMAIN else. Worked: 0.01 for 8
 * is 0.00125550. */
MUST_USE enum err advise_risk_each(double risk, size_t n, double *ret);

/* advise_solve: plan_risk: in (0, 0.5], or 0: as truing_solve. Without a guard in the problem nothing is aimed at. ret->is_aimed: whether the plans are by the closer limits (2). ret->nodes counts both searches; is_proved and the bounds are those of the search whose plans they
 * are. Memory and errors as truing_solve, ERR_DOMAIN for plan_risk. */
MUST_USE enum err advise_solve(const struct truing_problem *problem, double plan_risk,
                               void *workspace, size_t size, struct truing_answer *ret,
                               size_t *reterr_at);

#endif
