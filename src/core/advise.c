/* advise: owns the closer limits, and when they are aimed at; see advise.h. */
#include "core/advise.h"

#include <math.h>

enum { NEWTON_MOST = 60 };

static double power(double x, size_t n)
{
    double y = 1.0;
    for (size_t i = 0; i < n; i++)
        y *= x;
    return y;
}

/* q^n = 1 - risk by Newton from above, where the power is convex: the steps only go down. */
enum err advise_risk_each(double risk, size_t n, double *ret)
{
    if (!(risk > 0 && risk <= 0.5) || n < 1 || n > TRUING_POINTS_MAX)
        return ERR_DOMAIN;
    /* in r, not in q: 1 - q would lose what r is about. (1 - r)^n = 1 - risk; risk/n is below r. */
    double r = risk / (double)n;
    for (int i = 0; i < NEWTON_MOST; i++) {
        const double left = power(1.0 - r, n - 1), over = left * (1.0 - r) - (1.0 - risk);
        const double next = r + over / ((double)n * left);
        if (fabs(next - r) <= 1e-17)
            break;
        r = next;
    }
    *ret = r;
    return ERR_OK;
}

/* Readings that are known exactly need no share of the risk. */
static size_t count_doubtful(const struct truing_problem *problem)
{
    size_t n = 0;
    for (size_t p = 0; p < problem->n_points; p++)
        n += problem->points[p].u > 0;
    return n;
}

static int64_t margin_of(struct conform_limits l, int64_t value)
{
    /* amounts lie far within int64 (truing.h), a limit that is not there does not */
    const int64_t below = l.low == INT64_MIN ? INT64_MAX : value - l.low;
    const int64_t above = l.high == INT64_MAX ? INT64_MAX : l.high - value;
    return below < above ? below : above;
}

/* A plan of the closer limits, told by the bulletin's own. */
static void retell(const struct truing_problem *problem, const struct truing_answer *own,
                   struct truing_plan *plan)
{
    plan->least_margin = INT64_MAX;
    for (size_t p = 0; p < problem->n_points; p++) {
        const int64_t m = margin_of(own->guarded[p], plan->predicted[p]);
        plan->least_margin = m < plan->least_margin ? m : plan->least_margin;
    }
    plan->worst_violation = plan->least_margin < 0 ? -plan->least_margin : 0;
}

/* The verdicts of `from`, which are the bulletin's, onto an answer whose plans are by closer limits. */
static void take_verdicts(const struct truing_problem *problem, const struct truing_answer *from,
                          struct truing_answer *to)
{
    to->verdict = from->verdict;
    to->worst_violation = from->worst_violation;
    for (size_t p = 0; p < problem->n_points; p++) {
        to->point[p] = from->point[p];
        to->p_conform[p] = from->p_conform[p];
        to->guarded[p] = from->guarded[p];
    }
}

enum err advise_solve(const struct truing_problem *problem, double plan_risk, void *workspace,
                      size_t size, struct truing_answer *ret, size_t *reterr_at)
{
    double each = 0;
    const size_t n = count_doubtful(problem);
    *reterr_at = (size_t)-1;
    if (plan_risk != 0 && !(plan_risk > 0 && plan_risk <= 0.5))
        return ERR_DOMAIN;
    enum err e = truing_solve(problem, workspace, size, ret, reterr_at);
    if (e != ERR_OK || plan_risk == 0 || !problem->has_guard || n == 0 || ret->worst_violation == 0)
        return e;
    e = advise_risk_each(plan_risk, n, &each);
    /* Not even the limits as the bulletin guards them can be met: closer ones cannot either. */
    if (e != ERR_OK || each >= problem->risk || ret->n_plans == 0 ||
        ret->plans[0].worst_violation > 0)
        return e;
    struct truing_answer own = *ret;
    struct truing_problem closer = *problem;
    closer.risk = each;
    e = truing_solve(&closer, workspace, size, ret, reterr_at);
    const int64_t nodes = own.nodes + (e == ERR_OK ? ret->nodes : 0);
    /* A guard too wide for whole nano is no fault of the problem: then it is not aimed at. */
    const bool is_aimed = e == ERR_OK && ret->n_plans > 0 && ret->plans[0].worst_violation == 0;
    if (!is_aimed) {
        *ret = own;
        ret->nodes = nodes;
        return ERR_OK;
    }
    take_verdicts(problem, &own, ret);
    ret->nodes = nodes;
    ret->is_aimed = true;
    for (size_t i = 0; i < ret->n_plans; i++)
        retell(problem, &own, &ret->plans[i]);
    return ERR_OK;
}
