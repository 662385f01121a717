/* truing: owns what "best" means, stage by stage; search.h does the looking.
 *
 * Stage 1 finds the least excess t >= 0 that a plan can have, stage 2 the least cost at that excess, stage 3 (only when all
 * can come inside) the greatest margin at that cost, stage 4 the first plan in the tie order with all three. Further plans
 * repeat this with the touched sets so far excluded, starting from the excess already proved. */
#include "core/truing.h"

#include "core/search.h"

#include <string.h>

_Static_assert((int)SEARCH_COLS_MAX == (int)TRUING_ADJUSTERS_MAX, "one bit a move");
_Static_assert((int)SEARCH_EXCLUDED_MAX >= (int)TRUING_PLANS_MAX, "every plan before is excluded");

enum { NO_PLACE = -1 };

static size_t round8(size_t n)
{
    return (n + 7u) & ~(size_t)7u;
}

static bool are_sizes_fine(size_t n_points, size_t n_adjusters)
{
    return n_points >= 1 && n_points <= TRUING_POINTS_MAX && n_adjusters <= TRUING_ADJUSTERS_MAX;
}

size_t truing_workspace(size_t n_points, size_t n_adjusters)
{
    if (!are_sizes_fine(n_points, n_adjusters))
        return 0;
    return round8(sizeof(struct search)) + round8(n_points * sizeof(int64_t)) +
           round8(n_adjusters * sizeof(struct search_move)) + search_size(n_points, n_adjusters);
}

void truing_apply(const struct truing_problem *problem, const int32_t *steps, int64_t *predicted)
{
    for (size_t p = 0; p < problem->n_points; p++) {
        int64_t sum = problem->points[p].reading;
        for (size_t a = 0; a < problem->n_adjusters; a++)
            sum += problem->effect[a * problem->n_points + p] * steps[a];
        predicted[p] = sum;
    }
}

/* ---- checks ---------------------------------------------------------------------------------------------------- */

static bool is_amount(int64_t v)
{
    return v >= -TRUING_AMOUNT_MAX && v <= TRUING_AMOUNT_MAX;
}

static enum err check_point(const struct truing_point *p)
{
    bool has_low = p->low != INT64_MIN, has_high = p->high != INT64_MAX;
    if ((has_low && !is_amount(p->low)) || (has_high && !is_amount(p->high)))
        return ERR_RANGE;
    if (!is_amount(p->reading) || !is_amount(p->nominal))
        return ERR_RANGE;
    if (has_low && has_high && p->low > p->high)
        return ERR_ORDER;
    if (!(p->u >= 0 && p->u <= (double)TRUING_AMOUNT_MAX))
        return ERR_DOMAIN;
    return ERR_OK;
}

static enum err check_adjuster(const struct truing_adjuster *a)
{
    if (a->min > 0 || a->max < 0 || a->min < -TRUING_STEPS_MAX || a->max > TRUING_STEPS_MAX)
        return ERR_DOMAIN;
    if (a->setup_s < 0 || a->setup_s > TRUING_SECONDS_MAX || a->step_s < 0 ||
        a->step_s > TRUING_SECONDS_MAX)
        return ERR_DOMAIN;
    return ERR_OK;
}

/* Sums of reading and all effects must stay small enough that no later sum can overflow. */
static enum err check_reach(const struct truing_problem *problem, size_t *reterr_at)
{
    for (size_t p = 0; p < problem->n_points; p++) {
        int64_t reach = 0;
        for (size_t a = 0; a < problem->n_adjusters; a++) {
            const struct truing_adjuster *adj = &problem->adjusters[a];
            int64_t e = problem->effect[a * problem->n_points + p];
            int64_t farthest = adj->max > -adj->min ? adj->max : -adj->min;
            if (!is_amount(e) || (farthest > 0 && (e < 0 ? -e : e) > TRUING_AMOUNT_MAX / farthest)) {
                *reterr_at = a;
                return ERR_RANGE;
            }
            reach += (e < 0 ? -e : e) * farthest;
            if (reach > TRUING_AMOUNT_MAX) {
                *reterr_at = a;
                return ERR_RANGE;
            }
        }
    }
    return ERR_OK;
}

static enum err check_problem(const struct truing_problem *problem, size_t *reterr_at)
{
    *reterr_at = (size_t)NO_PLACE;
    if (problem->n_points == 0)
        return ERR_EMPTY;
    if (!are_sizes_fine(problem->n_points, problem->n_adjusters))
        return ERR_LIMIT;
    if (problem->n_plans < 1 || problem->n_plans > TRUING_PLANS_MAX || problem->node_limit < 0)
        return ERR_DOMAIN;
    if (problem->has_guard && !(problem->risk > 0 && problem->risk <= 0.5))
        return ERR_DOMAIN;
    for (size_t p = 0; p < problem->n_points; p++) {
        enum err e = check_point(&problem->points[p]);
        if (e != ERR_OK) {
            *reterr_at = p;
            return e;
        }
    }
    for (size_t a = 0; a < problem->n_adjusters; a++) {
        enum err e = check_adjuster(&problem->adjusters[a]);
        if (e != ERR_OK) {
            *reterr_at = a;
            return e;
        }
    }
    return check_reach(problem, reterr_at);
}

/* ---- the readings as they are ---------------------------------------------------------------------------------- */

static int64_t violation(struct conform_limits l, int64_t value)
{
    int64_t worst = 0;
    if (l.high != INT64_MAX && value - l.high > worst)
        worst = value - l.high;
    if (l.low != INT64_MIN && l.low - value > worst)
        worst = l.low - value;
    return worst;
}

static int64_t margin_of(struct conform_limits l, int64_t value)
{
    int64_t above = l.high == INT64_MAX ? INT64_MAX : l.high - value;
    int64_t below = l.low == INT64_MIN ? INT64_MAX : value - l.low;
    return above < below ? above : below;
}

static enum err judge_point(const struct truing_problem *problem, size_t p, struct truing_answer *ret)
{
    const struct truing_point *point = &problem->points[p];
    struct conform_limits limits = {point->low, point->high};
    int64_t guard = 0;
    if (problem->has_guard) {
        enum err e = conform_guard(point->u, problem->risk, &guard);
        if (e != ERR_OK)
            return e;
        if (guard > TRUING_AMOUNT_MAX)
            return ERR_RANGE;
    }
    enum err e = conform_narrow(limits, guard, &ret->guarded[p]);
    if (e != ERR_OK)
        return e;
    int64_t past = violation(limits, point->reading);
    if (violation(ret->guarded[p], point->reading) == 0)
        ret->point[p] = VERDICT_INSIDE;
    else
        ret->point[p] = past > guard ? VERDICT_OUTSIDE : VERDICT_UNCERTAIN;
    ret->p_conform[p] = conform_p(point->reading, point->u, limits);
    return ERR_OK;
}

static enum err judge_all(const struct truing_problem *problem, struct truing_answer *ret,
                          size_t *reterr_at)
{
    enum verdict worst = VERDICT_INSIDE;
    ret->worst_violation = 0;
    for (size_t p = 0; p < problem->n_points; p++) {
        enum err e = judge_point(problem, p, ret);
        if (e != ERR_OK) {
            *reterr_at = p;
            return e;
        }
        int64_t v = violation(ret->guarded[p], problem->points[p].reading);
        ret->worst_violation = v > ret->worst_violation ? v : ret->worst_violation;
        if (ret->point[p] == VERDICT_OUTSIDE)
            worst = VERDICT_OUTSIDE;
        else if (ret->point[p] == VERDICT_UNCERTAIN && worst == VERDICT_INSIDE)
            worst = VERDICT_UNCERTAIN;
    }
    ret->verdict = worst;
    return ERR_OK;
}

enum err truing_judge(const struct truing_problem *problem, struct truing_answer *ret)
{
    size_t at;
    enum err e = check_problem(problem, &at);
    if (e != ERR_OK)
        return e;
    struct truing_answer answer;
    memset(&answer, 0, sizeof answer);
    e = judge_all(problem, &answer, &at);
    if (e == ERR_OK)
        *ret = answer;
    return e;
}

/* ---- the stages ------------------------------------------------------------------------------------------------ */

static int64_t excess_least(const struct search *s)
{
    return s->fixed_excess;
}

/* Lowers the excess from that of x (a plan within budget) towards `floor`, the least that is of use, by halving the
 * stretch between what is proved impossible and what is in hand. Returns false when the node limit stopped it; x is the
 * best plan found and *ret_bound an excess that no plan can beat. */
static bool lower_excess(struct search *s, int64_t floor, int64_t budget, int32_t *x, int64_t *ret_bound)
{
    int64_t impossible = floor - 1; /* no plan of use has this or less */
    if (excess_least(s) > floor)
        impossible = excess_least(s) - 1;
    int64_t hand = search_excess(s, x);
    while (hand > impossible + 1 && hand > floor) {
        int64_t probe = impossible + (hand - impossible) / 2;
        bool has;
        enum search_end end = search_run(s, SEARCH_ANY, probe, budget, x, &has);
        if (has)
            hand = search_excess(s, x);
        else if (end == SEARCH_NONE)
            impossible = search_next_excess(s, probe) - 1;
        if (end == SEARCH_STOPPED)
            break;
        if (impossible >= hand)
            break;
    }
    bool is_exact = hand <= floor || hand <= impossible + 1;
    *ret_bound = is_exact ? hand : impossible + 1;
    return is_exact;
}

struct stage {
    int64_t excess_bound, cost_bound;
    bool is_proved;
};

/* Stage 1 from above: some plan with another touched set, as near inside as a first look finds. */
static bool some_plan(struct search *s, int32_t *x)
{
    bool has;
    (void)search_run(s, SEARCH_ANY, 4 * TRUING_AMOUNT_MAX, SEARCH_NO_BUDGET, x, &has);
    return has;
}

/* Stages 1 and 2: least excess not below `known`, then least cost. False when there is no further plan at all. */
static bool least_excess_and_cost(struct search *s, int64_t known, int32_t *x, struct stage *st)
{
    bool has;
    enum search_end end = search_run(s, SEARCH_CHEAPEST, known, SEARCH_NO_BUDGET, x, &has);
    st->excess_bound = known;
    st->cost_bound = s->bound_cost;
    st->is_proved = end != SEARCH_STOPPED;
    if (has)
        return true;
    if (!some_plan(s, x))
        return false;
    if (end == SEARCH_STOPPED || !lower_excess(s, known + 1, SEARCH_NO_BUDGET, x, &st->excess_bound)) {
        st->is_proved = false;
        st->cost_bound = 0;
        return true;
    }
    int32_t cheaper[TRUING_ADJUSTERS_MAX];
    end = search_run(s, SEARCH_CHEAPEST, search_excess(s, x), SEARCH_NO_BUDGET, cheaper, &has);
    st->cost_bound = s->bound_cost;
    st->is_proved = end != SEARCH_STOPPED;
    if (has)
        memcpy(x, cheaper, s->n_cols * sizeof *x);
    return true;
}

/* Stages 3 and 4 for a plan with proved excess and cost. */
static bool best_margin_and_first(struct search *s, int32_t *x)
{
    int64_t cost = search_cost(s, x), excess = search_excess(s, x);
    if (excess <= 0) {
        int64_t least = INT64_MIN / 4, unused;
        for (size_t p = 0; p < s->n_rows; p++) {
            struct conform_limits l = s->limits[p];
            if (l.low == INT64_MIN || l.high == INT64_MAX)
                continue;
            int64_t half = (l.high - l.low) / 2;
            least = -half > least ? -half : least;
        }
        if (least < -2 * TRUING_AMOUNT_MAX)
            least = -2 * TRUING_AMOUNT_MAX;
        if (!lower_excess(s, least, cost, x, &unused))
            return false;
        excess = search_excess(s, x);
    }
    bool has;
    int32_t first[TRUING_ADJUSTERS_MAX];
    enum search_end end = search_run(s, SEARCH_FIRST, excess, cost, first, &has);
    if (has)
        memcpy(x, first, s->n_cols * sizeof *x);
    return end == SEARCH_FOUND;
}

static void write_plan(const struct truing_problem *problem, const struct truing_answer *answer,
                       const int32_t *x, struct truing_plan *ret)
{
    memset(ret, 0, sizeof *ret);
    ret->least_margin = INT64_MAX;
    for (size_t a = 0; a < problem->n_adjusters; a++) {
        const struct truing_adjuster *adj = &problem->adjusters[a];
        ret->steps[a] = x[a];
        if (x[a] != 0)
            ret->cost_s += adj->setup_s + adj->step_s * (x[a] < 0 ? -x[a] : x[a]);
    }
    truing_apply(problem, x, ret->predicted);
    for (size_t p = 0; p < problem->n_points; p++) {
        const struct truing_point *point = &problem->points[p];
        struct conform_limits limits = {point->low, point->high};
        int64_t v = violation(answer->guarded[p], ret->predicted[p]);
        int64_t m = margin_of(answer->guarded[p], ret->predicted[p]);
        ret->worst_violation = v > ret->worst_violation ? v : ret->worst_violation;
        ret->least_margin = m < ret->least_margin ? m : ret->least_margin;
        ret->p_conform[p] = conform_p(ret->predicted[p], point->u, limits);
    }
}

static void find_plans(const struct truing_problem *problem, struct search *s, struct truing_answer *ret)
{
    int64_t known = excess_least(s) > 0 ? excess_least(s) : 0;
    ret->is_proved = true;
    while (ret->n_plans < problem->n_plans) {
        int32_t x[TRUING_ADJUSTERS_MAX] = {0};
        struct stage st = {0};
        bool has = least_excess_and_cost(s, known, x, &st);
        if (ret->n_plans == 0) {
            ret->bound_violation = st.excess_bound;
            ret->bound_cost_s = st.cost_bound;
        }
        if (!has) {
            ret->is_proved = ret->is_proved && s->nodes < s->node_limit;
            break;
        }
        if (!st.is_proved || !best_margin_and_first(s, x))
            ret->is_proved = false;
        write_plan(problem, ret, x, &ret->plans[ret->n_plans]);
        known = ret->plans[ret->n_plans].worst_violation;
        ret->n_plans++;
        if (!ret->is_proved || s->n_excluded == SEARCH_EXCLUDED_MAX)
            break;
        s->excluded[s->n_excluded++] = search_touched(s, x);
    }
    ret->nodes = s->nodes;
}

enum err truing_solve(const struct truing_problem *problem, void *workspace, size_t size,
                      struct truing_answer *ret, size_t *reterr_at)
{
    enum err e = check_problem(problem, reterr_at);
    if (e != ERR_OK)
        return e;
    if (size < truing_workspace(problem->n_points, problem->n_adjusters))
        return ERR_SPACE;
    struct truing_answer answer;
    memset(&answer, 0, sizeof answer);
    e = judge_all(problem, &answer, reterr_at);
    if (e != ERR_OK)
        return e;

    if (answer.worst_violation == 0) {
        int32_t still[TRUING_ADJUSTERS_MAX] = {0};
        answer.n_plans = 1;
        answer.is_proved = true;
        write_plan(problem, &answer, still, &answer.plans[0]);
        *ret = answer;
        return ERR_OK;
    }

    char *memory = workspace;
    struct search *s = (struct search *)(void *)memory;
    memory += round8(sizeof *s);
    int64_t *start = (int64_t *)(void *)memory;
    memory += round8(problem->n_points * sizeof *start);
    struct search_move *move = (struct search_move *)(void *)memory;
    memory += round8(problem->n_adjusters * sizeof *move);
    for (size_t p = 0; p < problem->n_points; p++)
        start[p] = problem->points[p].reading;
    for (size_t a = 0; a < problem->n_adjusters; a++) {
        const struct truing_adjuster *adj = &problem->adjusters[a];
        move[a] = (struct search_move){adj->min, adj->max, adj->setup_s, adj->step_s};
    }
    search_init(s, problem->n_points, problem->n_adjusters, start, answer.guarded, problem->effect, move,
                problem->node_limit ? problem->node_limit : TRUING_NODE_LIMIT, memory);
    find_plans(problem, s, &answer);
    *ret = answer;
    return ERR_OK;
}
