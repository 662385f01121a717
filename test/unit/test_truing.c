/* test_truing: hand-worked problems, refusals, plain enumeration of small ones, and properties. Bigger ones are compared with
 * GLPK in test/peer. Seeds are fixed and printed. */
#include "../peer/instances.h"
#include "core/truing.h"
#include "tap.h"

#include <stdlib.h>
#include <string.h>

#define MM ((int64_t)1000000)

static char workspace[4 * 1024 * 1024];
static struct truing_answer answer;

static enum err solve(const struct truing_problem *p)
{
    size_t at;
    return truing_solve(p, workspace, sizeof workspace, &answer, &at);
}

/* ---- by hand ------------------------------------------------------------------------------------------------------ */

static void one_adjuster(void)
{
    /* 62.4 must come to 61.0 or less: 1.4 over, 0.5 a step, so three steps; setup 600 s + 3 x 30 s. */
    struct truing_point point = {58 * MM, 56 * MM, 61 * MM, 62 * MM + 400000, 0};
    struct truing_adjuster adj = {-6, 6, 600, 30};
    int64_t effect = -500000;
    struct truing_problem p = {1, 1, &point, &adj, &effect, false, 0, 3, 0};
    tap_ok(solve(&p) == ERR_OK && answer.verdict == VERDICT_OUTSIDE,
           "62.4 mm with limits 56..61 is outside (by hand)");
    tap_ok(answer.worst_violation == 1400000, "it is 1.4 mm over (by hand)");
    tap_ok(answer.plans[0].steps[0] == 3, "three steps of -0.5 mm bring it in (by hand)");
    tap_ok(answer.plans[0].cost_s == 690, "they take 600 s + 3 x 30 s (by hand)");
    tap_ok(answer.plans[0].predicted[0] == 60 * MM + 900000, "predicted 60.9 mm (by hand)");
    tap_ok(answer.plans[0].least_margin == 100000, "0.1 mm left (by hand)");
    tap_ok(answer.is_proved, "and that is proved best");
    tap_ok(answer.n_plans == 2 && answer.plans[1].steps[0] == 0 &&
               answer.plans[1].worst_violation == 1400000,
           "the only other set of adjusters is none at all, which leaves 1.4 mm over");
    adj.max = 2;
    tap_ok(solve(&p) == ERR_OK && answer.plans[0].worst_violation == 400000 &&
               answer.plans[0].steps[0] == 2,
           "with two steps at most 0.4 mm stays over (by hand)");
}

static void cost_before_margin(void)
{
    /* Two ways in: A needs one step and leaves 0.1 mm, B needs one step, costs a second more and leaves 2 mm. */
    struct truing_point point = {0, -5 * MM, 5 * MM, 6 * MM, 0};
    struct truing_adjuster adj[2] = {{-3, 3, 60, 10}, {-3, 3, 61, 10}};
    int64_t effect[2] = {-1100000, -3000000};
    struct truing_problem p = {1, 2, &point, adj, effect, false, 0, 3, 0};
    tap_ok(solve(&p) == ERR_OK && answer.plans[0].steps[0] == 1 && answer.plans[0].steps[1] == 0,
           "a cheaper plan comes before one with more margin");
    tap_ok(answer.plans[1].steps[1] == 1 && answer.plans[1].least_margin == 2 * MM,
           "the dearer one comes second");
    adj[1].setup_s = 60;
    tap_ok(solve(&p) == ERR_OK && answer.plans[0].steps[1] == 1,
           "at equal cost more margin comes first");
    effect[1] = -1100000;
    tap_ok(
        solve(&p) == ERR_OK && answer.plans[0].steps[0] == 0 && answer.plans[0].steps[1] == 1,
        "at equal cost and margin 0 comes before +1 for the first adjuster: the second one moves");
}

static void guard(void)
{
    /* u = 0.3 mm, risk 0.05: z = 1.6448536269514722 (SciPy 1.10.1 norm.ppf), band 493 456.09 nm, rounded up 493 457. */
    struct truing_point point = {58 * MM, 56 * MM, 61 * MM, 60 * MM + 600000, 300000};
    struct truing_problem p = {1, 0, &point, NULL, NULL, true, 0.05, 1, 0};
    tap_ok(solve(&p) == ERR_OK && answer.guarded[0].low == 56493457 &&
               answer.guarded[0].high == 60506543,
           "guard band z(0.95) u, rounded up (SciPy 1.10.1 norm.ppf)");
    tap_ok(answer.verdict == VERDICT_UNCERTAIN,
           "60.6 mm lies between the guarded and the plain limit: uncertain");
    point.reading = 61 * MM + 493457;
    tap_ok(solve(&p) == ERR_OK && answer.verdict == VERDICT_UNCERTAIN,
           "exactly a band beyond is still uncertain");
    point.reading++;
    tap_ok(solve(&p) == ERR_OK && answer.verdict == VERDICT_OUTSIDE, "a nanometre more is outside");
    point.low = 58 * MM - 1;
    point.high = 58 * MM + 200000;
    tap_ok(solve(&p) == ERR_OK && answer.guarded[0].low == 58099999 &&
               answer.guarded[0].high == 58099999,
           "bands that cross meet at the midpoint, rounded down (contract)");
}

static void odd_shapes(void)
{
    struct truing_point points[2] = {{0, INT64_MIN, 5 * MM, 9 * MM, 0},
                                     {0, 0, INT64_MAX, 2 * MM, 0}};
    struct truing_adjuster adj = {0, 10, 0, 60};
    int64_t effect[2] = {-MM, -500000};
    struct truing_problem p = {2, 1, points, &adj, effect, false, 0, 1, 0};
    tap_ok(solve(&p) == ERR_OK && answer.plans[0].steps[0] == 4 &&
               answer.plans[0].least_margin == 0,
           "limits on one side only: four steps meet both exactly (by hand)");
    effect[0] = effect[1] = 0;
    tap_ok(solve(&p) == ERR_OK && answer.plans[0].worst_violation == 4 * MM &&
               answer.plans[0].cost_s == 0 && answer.is_proved,
           "an adjuster that moves nothing is left alone");
    p.n_adjusters = 0;
    tap_ok(solve(&p) == ERR_OK && answer.n_plans == 1 && answer.is_proved,
           "no adjusters: the empty plan, proved");
    points[0].reading = 4 * MM;
    tap_ok(solve(&p) == ERR_OK && answer.verdict == VERDICT_INSIDE && answer.n_plans == 1 &&
               answer.nodes == 0,
           "inside already: one plan, which moves nothing, without a search");
}

/* ---- refusals ----------------------------------------------------------------------------------------------------- */

static void refusals(void)
{
    struct truing_point point = {0, -MM, MM, 2 * MM, 0};
    struct truing_adjuster adj = {-1, 1, 1, 1};
    int64_t effect = -MM;
    const struct truing_problem good = {1, 1, &point, &adj, &effect, false, 0, 1, 0};
    struct truing_problem p = good;
    size_t at;
    p.n_points = 0;
    tap_ok(solve(&p) == ERR_EMPTY, "no points: ERR_EMPTY");
    p.n_points = TRUING_POINTS_MAX + 1;
    tap_ok(solve(&p) == ERR_LIMIT && truing_workspace(TRUING_POINTS_MAX + 1, 1) == 0,
           "too many points: ERR_LIMIT");
    p = good;
    p.n_adjusters = TRUING_ADJUSTERS_MAX + 1;
    tap_ok(solve(&p) == ERR_LIMIT, "too many adjusters: ERR_LIMIT");
    p = good;
    p.n_plans = 0;
    tap_ok(solve(&p) == ERR_DOMAIN, "no plan wanted: ERR_DOMAIN");
    p = good;
    tap_ok(truing_solve(&p, workspace, truing_workspace(1, 1) - 1, &answer, &at) == ERR_SPACE,
           "a workspace a byte too small: ERR_SPACE");
    p.has_guard = true;
    p.risk = 0.6;
    tap_ok(solve(&p) == ERR_DOMAIN, "risk 0.6: ERR_DOMAIN");
    p = good;
    point.low = 2 * MM;
    tap_ok(truing_solve(&p, workspace, sizeof workspace, &answer, &at) == ERR_ORDER && at == 0,
           "low above high: ERR_ORDER, with the point");
    point.low = -MM;
    point.u = -1;
    tap_ok(solve(&p) == ERR_DOMAIN, "u below 0: ERR_DOMAIN");
    point.u = 0;
    adj.min = 1;
    tap_ok(solve(&p) == ERR_DOMAIN, "an adjuster that must move: ERR_DOMAIN");
    adj.min = -TRUING_STEPS_MAX - 1;
    tap_ok(solve(&p) == ERR_DOMAIN, "too many steps: ERR_DOMAIN");
    adj.min = -1;
    adj.step_s = -1;
    tap_ok(solve(&p) == ERR_DOMAIN, "seconds below 0: ERR_DOMAIN");
    adj.step_s = 1;
    effect = INT64_MIN;
    tap_ok(solve(&p) == ERR_RANGE, "an effect of INT64_MIN: ERR_RANGE");
    effect = TRUING_AMOUNT_MAX;
    tap_ok(solve(&p) == ERR_OK, "an effect at the edge of the range is worked with");
    point.reading = INT64_MAX;
    tap_ok(solve(&p) == ERR_RANGE, "a reading of INT64_MAX: ERR_RANGE");
}

/* ---- plain enumeration -------------------------------------------------------------------------------------------- */

enum { SMALL = 5 };

struct listed {
    bool has;
    int64_t violation, cost, margin;
    int32_t x[SMALL];
};

static int tie_rank(int32_t v)
{
    return v > 0 ? 2 * v - 1 : -2 * v;
}

static bool is_before(const struct listed *a, const struct listed *b, size_t n)
{
    if (!b->has || a->violation != b->violation)
        return !b->has || a->violation < b->violation;
    if (a->cost != b->cost)
        return a->cost < b->cost;
    if (a->margin != b->margin)
        return a->margin > b->margin;
    for (size_t j = 0; j < n; j++) {
        if (a->x[j] != b->x[j])
            return tie_rank(a->x[j]) < tie_rank(b->x[j]);
    }
    return false;
}

static struct listed look_at(const struct instance *in, const int32_t *x)
{
    struct listed l = {true, 0, 0, INT64_MAX, {0}};
    const struct truing_problem *p = &in->problem;
    for (size_t j = 0; j < p->n_adjusters; j++) {
        l.x[j] = x[j];
        if (x[j] != 0)
            l.cost += in->adjusters[j].setup_s + in->adjusters[j].step_s * abs(x[j]);
    }
    for (size_t i = 0; i < p->n_points; i++) {
        int64_t value = in->points[i].reading;
        for (size_t j = 0; j < p->n_adjusters; j++)
            value += x[j] * in->effect[j * p->n_points + i];
        int64_t above = answer.guarded[i].high - value, below = value - answer.guarded[i].low;
        int64_t margin = above < below ? above : below;
        l.margin = margin < l.margin ? margin : l.margin;
    }
    l.violation = l.margin < 0 ? -l.margin : 0;
    return l;
}

/* The best plan of every touched set, by looking at all plans. */
static void list_all(const struct instance *in, struct listed *best)
{
    size_t n = in->problem.n_adjusters;
    int32_t x[SMALL];
    for (size_t j = 0; j < n; j++)
        x[j] = in->adjusters[j].min;
    for (;;) {
        unsigned set = 0;
        for (size_t j = 0; j < n; j++)
            set |= x[j] != 0 ? 1u << j : 0;
        struct listed l = look_at(in, x);
        if (is_before(&l, &best[set], n))
            best[set] = l;
        size_t j = 0;
        while (j < n && x[j] == in->adjusters[j].max) {
            x[j] = in->adjusters[j].min;
            j++;
        }
        if (j == n)
            return;
        x[j]++;
    }
}

static void enumeration(void)
{
    for (int f = 0; f < INSTANCE_N; f++) {
        int n_looked = 0, n_wrong = 0;
        for (uint64_t seed = 5001; n_looked < 40; seed++) {
            static struct instance in;
            static struct listed best[1 << SMALL];
            instance_make(seed, (enum instance_family)f, &in);
            if (in.problem.n_adjusters > SMALL)
                in.problem.n_adjusters = SMALL;
            if (solve(&in.problem) != ERR_OK || answer.worst_violation == 0)
                continue;
            n_looked++;
            memset(best, 0, sizeof best);
            list_all(&in, best);
            bool is_right = answer.is_proved;
            for (size_t k = 0; k < in.problem.n_plans; k++) {
                size_t first = 0;
                for (size_t s = 1; s < 1u << SMALL; s++) {
                    if (best[s].has && is_before(&best[s], &best[first], in.problem.n_adjusters))
                        first = s;
                }
                if (!best[first].has) {
                    is_right = is_right && k >= answer.n_plans;
                    break;
                }
                is_right = is_right && k < answer.n_plans &&
                           answer.plans[k].worst_violation == best[first].violation &&
                           answer.plans[k].cost_s == best[first].cost &&
                           answer.plans[k].least_margin == best[first].margin &&
                           memcmp(answer.plans[k].steps, best[first].x,
                                  in.problem.n_adjusters * sizeof(int32_t)) == 0;
                best[first].has = false;
            }
            n_wrong += !is_right;
            if (!is_right)
                tap_note("%s seed %llu", instance_family_name((enum instance_family)f),
                         (unsigned long long)seed);
        }
        tap_ok(n_wrong == 0,
               "%d small %s problems: all three plans, tie order included, as by looking at every "
               "plan",
               n_looked, instance_family_name((enum instance_family)f));
    }
}

/* ---- properties --------------------------------------------------------------------------------------------------- */

static void scale(struct instance *in, int64_t by)
{
    for (size_t i = 0; i < in->problem.n_points; i++) {
        struct truing_point *q = &in->points[i];
        q->nominal *= by, q->low *= by, q->high *= by, q->reading *= by;
        q->u *= (double)by;
    }
    for (size_t k = 0; k < in->problem.n_adjusters * in->problem.n_points; k++)
        in->effect[k] *= by;
}

/* Another unit of length is another factor on every length. No guard: its band is rounded to whole nanometres. */
static void other_unit(void)
{
    int n_wrong = 0;
    for (uint64_t seed = 1; seed <= 60; seed++) {
        static struct instance in;
        static struct truing_answer first;
        instance_make(seed, (enum instance_family)(seed % INSTANCE_N), &in);
        in.problem.has_guard = false;
        if (solve(&in.problem) != ERR_OK)
            n_wrong++;
        first = answer;
        scale(&in, 254);
        if (solve(&in.problem) != ERR_OK || answer.n_plans != first.n_plans)
            n_wrong++;
        for (size_t k = 0; k < first.n_plans; k++) {
            const struct truing_plan *a = &first.plans[k], *b = &answer.plans[k];
            n_wrong += memcmp(a->steps, b->steps, sizeof a->steps) != 0 || a->cost_s != b->cost_s ||
                       a->worst_violation * 254 != b->worst_violation;
        }
    }
    tap_ok(n_wrong == 0, "60 problems with every length times 254: the same steps, violations "
                         "times 254 (seeds 1..60)");
}

/* Points in reverse order are the same problem. */
static void reversed_points(void)
{
    int n_wrong = 0;
    for (uint64_t seed = 101; seed <= 150; seed++) {
        static struct instance in, back;
        static struct truing_answer first;
        instance_make(seed, (enum instance_family)(seed % INSTANCE_N), &in);
        instance_make(seed, (enum instance_family)(seed % INSTANCE_N), &back);
        size_t n = in.problem.n_points;
        for (size_t i = 0; i < n; i++) {
            back.points[i] = in.points[n - 1 - i];
            for (size_t a = 0; a < in.problem.n_adjusters; a++)
                back.effect[a * n + i] = in.effect[a * n + n - 1 - i];
        }
        n_wrong += solve(&in.problem) != ERR_OK;
        first = answer;
        n_wrong += solve(&back.problem) != ERR_OK || first.n_plans != answer.n_plans;
        for (size_t k = 0; k < first.n_plans; k++)
            n_wrong += memcmp(first.plans[k].steps, answer.plans[k].steps,
                              sizeof first.plans[k].steps) != 0;
    }
    tap_ok(n_wrong == 0, "50 problems with their points reversed: the same plans (seeds 101..150)");
}

static void node_limit(void)
{
    static struct instance in;
    static struct truing_answer full;
    int n_wrong = 0, n_stopped = 0;
    for (uint64_t seed = 1; seed <= 40; seed++) {
        instance_make(seed, INSTANCE_TIGHT, &in);
        n_wrong += solve(&in.problem) != ERR_OK || !answer.is_proved;
        full = answer;
        in.problem.node_limit = 40;
        n_wrong += solve(&in.problem) != ERR_OK || answer.n_plans == 0;
        n_stopped += !answer.is_proved;
        n_wrong += answer.bound_violation > full.plans[0].worst_violation ||
                   answer.plans[0].worst_violation < full.plans[0].worst_violation;
        if (answer.bound_violation == full.plans[0].worst_violation)
            n_wrong += answer.bound_cost_s > full.plans[0].cost_s;
    }
    tap_ok(n_stopped >= 20, "a limit of 40 nodes stops at least half of 40 tight problems, which "
                            "then say proved = false");
    tap_ok(
        n_wrong == 0,
        "the bounds they give are below the true optimum, the plan they give not better than it");
}

/* The largest sizes allowed, to see that nothing overflows and the node limit holds the time. */
static void largest(void)
{
    static struct truing_point points[TRUING_POINTS_MAX];
    static struct truing_adjuster adj[TRUING_ADJUSTERS_MAX];
    static int64_t effect[TRUING_POINTS_MAX * TRUING_ADJUSTERS_MAX];
    uint64_t state = 7;
    for (size_t i = 0; i < TRUING_POINTS_MAX; i++) {
        int64_t reading = (int64_t)(instance_random(&state) % 1000000000000000);
        points[i] = (struct truing_point){0, -MM, MM, reading - 500000000000000, 1e5};
    }
    for (size_t a = 0; a < TRUING_ADJUSTERS_MAX; a++) {
        adj[a] = (struct truing_adjuster){-TRUING_STEPS_MAX, TRUING_STEPS_MAX, TRUING_SECONDS_MAX,
                                          TRUING_SECONDS_MAX};
        for (size_t i = 0; i < TRUING_POINTS_MAX; i++)
            effect[a * TRUING_POINTS_MAX + i] =
                (int64_t)(instance_random(&state) % 20000000000) - 10000000000;
    }
    struct truing_problem p = {
        TRUING_POINTS_MAX, TRUING_ADJUSTERS_MAX, points, adj, effect, true, 0.05, 3, 2000};
    size_t size = truing_workspace(TRUING_POINTS_MAX, TRUING_ADJUSTERS_MAX), at;
    void *room = malloc(size);
    if (!room)
        return;
    int64_t predicted[TRUING_POINTS_MAX];
    enum err e = truing_solve(&p, room, size, &answer, &at);
    tap_ok(e == ERR_OK && answer.n_plans >= 1,
           "64 points, 32 adjusters of 20 001 steps, huge amounts: an answer");
    truing_apply(&p, answer.plans[0].steps, predicted);
    tap_ok(memcmp(predicted, answer.plans[0].predicted, sizeof predicted) == 0,
           "and its prediction is what applying it gives");
    free(room);
}

int main(void)
{
    one_adjuster();
    cost_before_margin();
    guard();
    odd_shapes();
    refusals();
    enumeration();
    other_unit();
    reversed_points();
    node_limit();
    largest();
    return tap_done();
}
