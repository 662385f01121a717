/* truing: owns what "best" means, stage by stage; search.h does the looking.
 *
 * Stage 1 finds the least excess t >= 0 that a plan can have, stage 2 the least cost at that excess, stage 3 (only when all
 * can come inside) the greatest margin at that cost, stage 4 the first plan in the tie order with all three. Further plans
 * repeat this with the touched sets so far excluded, starting from the excess already proved. */
#include "core/truing.h"

#include "core/align.h"
#include "core/search.h"

#include <string.h>

_Static_assert((int)MOVES_MAX == (int)TRUING_ADJUSTERS_MAX &&
                   (int)ROWS_MAX == (int)TRUING_POINTS_MAX,
               "sizes are the same");
_Static_assert((int)SEARCH_EXCLUDED_MAX >= (int)TRUING_PLANS_MAX, "every plan before is excluded");

enum { NO_PLACE = -1 };

static bool are_sizes_fine(size_t n_points, size_t n_adjusters)
{
    return n_points >= 1 && n_points <= TRUING_POINTS_MAX && n_adjusters <= TRUING_ADJUSTERS_MAX;
}

size_t truing_workspace(size_t n_points, size_t n_adjusters)
{
    if (!are_sizes_fine(n_points, n_adjusters))
        return 0;
    return align8(sizeof(struct search)) + align8(n_points * sizeof(int64_t)) +
           align8(n_adjusters * sizeof(struct move)) + search_size(n_points, n_adjusters);
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
            if (!is_amount(e) ||
                (farthest > 0 && (e < 0 ? -e : e) > TRUING_AMOUNT_MAX / farthest)) {
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

static int64_t margin_of(struct conform_limits l, int64_t value)
{
    int64_t above = l.high == INT64_MAX ? INT64_MAX : l.high - value;
    int64_t below = l.low == INT64_MIN ? INT64_MAX : value - l.low;
    return above < below ? above : below;
}

static int64_t violation(int64_t margin)
{
    return margin < 0 ? -margin : 0;
}

static enum err judge_point(const struct truing_problem *problem, size_t p, double factor,
                            struct truing_answer *ret)
{
    const struct truing_point *point = &problem->points[p];
    struct conform_limits limits = {point->low, point->high};
    int64_t guard = 0;
    if (problem->has_guard) {
        enum err e = conform_guard_by(factor, point->u, &guard);
        if (e != ERR_OK)
            return e;
        if (guard > TRUING_AMOUNT_MAX)
            return ERR_RANGE;
    }
    enum err e = conform_narrow(limits, guard, &ret->guarded[p]);
    if (e != ERR_OK)
        return e;
    ret->point[p] = conform_verdict(point->reading, limits, guard, ret->guarded[p]);
    ret->p_conform[p] = conform_p(point->reading, point->u, limits);
    return ERR_OK;
}

static enum err judge_all(const struct truing_problem *problem, struct truing_answer *ret,
                          size_t *reterr_at)
{
    enum verdict worst = VERDICT_INSIDE;
    double factor = 0;
    if (problem->has_guard) {
        enum err e = conform_factor(problem->risk, &factor);
        if (e != ERR_OK)
            return e;
    }
    ret->worst_violation = 0;
    for (size_t p = 0; p < problem->n_points; p++) {
        enum err e = judge_point(problem, p, factor, ret);
        if (e != ERR_OK) {
            *reterr_at = p;
            return e;
        }
        int64_t v = violation(margin_of(ret->guarded[p], problem->points[p].reading));
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

/* Lowers the excess from that of x (a plan within budget) towards `floor`, the least that is of use: first by halving the
 * stretch between what is proved impossible and what is in hand, until it is short or a no was not to be had from the
 * relaxation alone (to halve on would prove nearly the same again and again); then by one search that tightens as it finds.
 * Returns false when the node limit stopped it; x is the best plan found and *ret_bound an excess that no plan can beat. */
static bool lower_excess(struct search *s, int64_t floor, int64_t budget, int32_t *x,
                         int64_t *ret_bound)
{
    int64_t least = s->rows.fixed_excess > floor ? s->rows.fixed_excess : floor;
    int64_t impossible = least - 1; /* no plan of use has this or less */
    int64_t hand = rows_excess(&s->rows, x), shortest = (hand - impossible) / 16;
    bool has, is_easy = true;
    while (is_easy && hand - impossible > 1 && hand - impossible > shortest) {
        int64_t probe = impossible + (hand - impossible) / 2, before = s->nodes;
        enum search_end end = search_run(s, SEARCH_ANY, probe, budget, 0, x, &has);
        if (has)
            hand = rows_excess(&s->rows, x);
        else if (end == SEARCH_NONE)
            impossible = rows_next_excess(&s->rows, probe) - 1;
        is_easy = end != SEARCH_STOPPED && (has || s->nodes - before <= 1);
    }
    *ret_bound = hand <= impossible + 1 ? hand : impossible + 1;
    if (hand <= impossible + 1)
        return true;
    enum search_end end = search_run(s, SEARCH_LEAST, hand - 1, budget, impossible + 1, x, &has);
    if (end == SEARCH_STOPPED)
        return false;
    *ret_bound = rows_excess(&s->rows, x);
    return true;
}

/* Moves x to the first plan in the tie order within excess and budget. For one adjuster after another: all values that come
 * before the one in hand make up one stretch around 0, so one question a step settles it. */
static bool first_in_tie_order(struct search *s, int64_t excess, int64_t budget, int32_t *x)
{
    bool is_exact = true;
    for (size_t j = 0; j < s->n_cols && is_exact; j++) {
        while (x[j] != 0) {
            int32_t lo = x[j] > 0 ? 1 - x[j] : x[j] + 1, hi = x[j] > 0 ? x[j] - 1 : -x[j];
            s->box_lo[j] = lo > s->move[j].lo ? lo : s->move[j].lo;
            s->box_hi[j] = hi < s->move[j].hi ? hi : s->move[j].hi;
            bool has;
            enum search_end end = search_run(s, SEARCH_ANY, excess, budget, 0, x, &has);
            is_exact = end != SEARCH_STOPPED;
            if (!has)
                break;
        }
        s->box_lo[j] = s->box_hi[j] = x[j];
    }
    for (size_t j = 0; j < s->n_cols; j++) {
        s->box_lo[j] = s->move[j].lo;
        s->box_hi[j] = s->move[j].hi;
    }
    return is_exact;
}

/* Some plan whose touched set is not excluded, however bad. */
static bool some_plan(struct search *s, int32_t *x)
{
    bool has;
    (void)search_run(s, SEARCH_ANY, 4 * TRUING_AMOUNT_MAX, SEARCH_NO_BUDGET, 0, x, &has);
    return has;
}

/* Stages 3 and 4 for a plan with proved excess and cost. */
static bool best_margin_and_first(struct search *s, int32_t *x)
{
    int64_t cost = moves_cost(s->move, s->n_cols, x), excess = rows_excess(&s->rows, x);
    if (excess <= 0) {
        int64_t least = INT64_MIN / 4, unused;
        for (size_t p = 0; p < s->rows.n_rows; p++) {
            struct conform_limits l = s->rows.limits[p];
            if (l.low == INT64_MIN || l.high == INT64_MAX)
                continue;
            int64_t half = (l.high - l.low) / 2;
            least = -half > least ? -half : least;
        }
        if (least < -2 * TRUING_AMOUNT_MAX)
            least = -2 * TRUING_AMOUNT_MAX;
        if (!lower_excess(s, least, cost, x, &unused))
            return false;
        excess = rows_excess(&s->rows, x);
    }
    return first_in_tie_order(s, excess, cost, x);
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
        int64_t m = margin_of(answer->guarded[p], ret->predicted[p]);
        ret->least_margin = m < ret->least_margin ? m : ret->least_margin;
        ret->p_conform[p] = conform_p(ret->predicted[p], point->u, limits);
    }
    ret->worst_violation = violation(ret->least_margin);
}

/* What is left to the search, once the node limit has been hit with no plan in hand, to find at least a decent one. */
enum { LAST_RESORT_NODES = 2000 };

struct hunt {
    const struct truing_problem *problem;
    struct search *s;
    struct truing_answer *answer;
    int64_t excess; /* the least that a plan with a set not yet excluded can have */
};

/* Finishes one plan from x, which has the least excess and cost, and excludes its touched set. */
static void add_plan(struct hunt *h, int32_t *x)
{
    struct truing_answer *answer = h->answer;
    if (!best_margin_and_first(h->s, x))
        answer->is_proved = false;
    write_plan(h->problem, answer, x, &answer->plans[answer->n_plans++]);
    h->s->excluded[h->s->n_excluded++] = moves_touched(x, h->s->n_cols);
}

static bool is_excluded(const struct search *s, uint32_t touched)
{
    for (size_t e = 0; e < s->n_excluded; e++) {
        if (s->excluded[e] == touched)
            return true;
    }
    return false;
}

/* All plans still wanted that have h->excess: their costs are the least ones, set by set, so whichever of equally dear sets the
 * later stages prefer, one of the pool is always left as a start for the next. */
static void add_plans_at_excess(struct hunt *h)
{
    struct search *s = h->s;
    struct truing_answer *answer = h->answer;
    struct search_kept pool[SEARCH_POOL_MAX];
    int32_t x[TRUING_ADJUSTERS_MAX];
    bool has;
    s->n_wanted = h->problem->n_plans - answer->n_plans;
    enum search_end end = search_run(s, SEARCH_CHEAPEST, h->excess, SEARCH_NO_BUDGET, 0, x, &has);
    if (answer->n_plans == 0)
        answer->bound_cost_s = s->bound_cost;
    if (end == SEARCH_STOPPED)
        answer->is_proved = false;
    size_t n = s->n_pool;
    memcpy(pool, s->pool, n * sizeof *pool);
    for (size_t k = 0; k < n; k++) {
        size_t start = 0;
        while (start < n && is_excluded(s, pool[start].touched))
            start++;
        if (start == n)
            break; /* only when the node limit left the pool short */
        memcpy(x, pool[start].x, sizeof x);
        add_plan(h, x);
    }
}

/* Sets h->excess to the least excess, `floor` or more, of a plan whose touched set is not excluded, and x to such a plan.
 * *ret_has false: there is none. Returns false when the node limit stopped it: h->excess is then a bound that no plan can beat, and
 * x a decent plan if there is one. */
static bool find_excess(struct hunt *h, int64_t floor, int32_t *x, bool *ret_has)
{
    struct search *s = h->s;
    h->excess = floor;
    enum search_end end = search_run(s, SEARCH_ANY, floor, SEARCH_NO_BUDGET, 0, x, ret_has);
    if (*ret_has)
        return true;
    if (end == SEARCH_STOPPED)
        s->node_limit = s->nodes + LAST_RESORT_NODES;
    *ret_has = some_plan(s, x);
    if (!*ret_has)
        return end == SEARCH_NONE && s->nodes < s->node_limit;
    if (end == SEARCH_NONE)
        return lower_excess(s, floor + 1, SEARCH_NO_BUDGET, x, &h->excess);
    int64_t unused;
    (void)lower_excess(s, floor + 1, SEARCH_NO_BUDGET, x, &unused);
    return false;
}

static void find_plans(struct hunt *h)
{
    struct truing_answer *answer = h->answer;
    int64_t floor = h->s->rows.fixed_excess > 0 ? h->s->rows.fixed_excess : 0;
    answer->is_proved = true;
    while (answer->n_plans < h->problem->n_plans && answer->is_proved) {
        int32_t x[TRUING_ADJUSTERS_MAX] = {0};
        bool has, is_first = answer->n_plans == 0;
        answer->is_proved = find_excess(h, floor, x, &has);
        if (is_first)
            answer->bound_violation = h->excess;
        if (!has)
            break;
        if (answer->is_proved)
            add_plans_at_excess(h);
        if (is_first && answer->n_plans == 0) {
            write_plan(h->problem, answer, x, &answer->plans[answer->n_plans++]);
            answer->is_proved = false;
        }
        floor = h->excess + 1;
    }
    answer->nodes = h->s->nodes;
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
    memory += align8(sizeof *s);
    int64_t *start = (int64_t *)(void *)memory;
    memory += align8(problem->n_points * sizeof *start);
    struct move *move = (struct move *)(void *)memory;
    memory += align8(problem->n_adjusters * sizeof *move);
    for (size_t p = 0; p < problem->n_points; p++)
        start[p] = problem->points[p].reading;
    for (size_t a = 0; a < problem->n_adjusters; a++) {
        const struct truing_adjuster *adj = &problem->adjusters[a];
        move[a] = (struct move){adj->min, adj->max, adj->setup_s, adj->step_s};
    }
    search_init(s, problem->n_points, problem->n_adjusters, start, answer.guarded, problem->effect,
                move, problem->node_limit ? problem->node_limit : TRUING_NODE_LIMIT, memory);
    struct hunt hunt = {.problem = problem, .s = s, .answer = &answer};
    find_plans(&hunt);
    *ret = answer;
    return ERR_OK;
}
