/* test_peer: truing against GLPK, a general-purpose solver (Debian's libglpk), on seeded random instances.
 * Arguments: FAMILY COUNT PLANS. Takes seeds 1, 2, ... until COUNT instances that need work have been compared; for each, plan by
 * plan: worst violation, cost and least margin, worked out in integers from GLPK's own steps, must equal ours.
 * Besides, every plan of ours is put through the forward direction by code of this file. */
#include "glpk_peer.h"
#include "instances.h"
#include "tap.h"

#include <stdlib.h>
#include <string.h>

enum { LIMIT_MS = 60000 };

struct tally {
    int compared, disagree, unproved, wrong_forward, out_of_order, asks_again, out_of_time;
};

static uint32_t touched(const struct truing_plan *plan, size_t n)
{
    uint32_t set = 0;
    for (size_t a = 0; a < n; a++)
        set |= plan->steps[a] != 0 ? UINT32_C(1) << a : 0;
    return set;
}

/* Recomputes a plan's figures from its steps alone. */
static bool is_forward_right(const struct instance *in, const struct truing_answer *answer,
                             const struct truing_plan *plan)
{
    const struct truing_problem *p = &in->problem;
    int64_t cost = 0, violation = 0, margin = INT64_MAX;
    for (size_t a = 0; a < p->n_adjusters; a++) {
        int64_t x = plan->steps[a];
        if (x < in->adjusters[a].min || x > in->adjusters[a].max)
            return false;
        if (x != 0)
            cost += in->adjusters[a].setup_s + in->adjusters[a].step_s * llabs(x);
    }
    for (size_t i = 0; i < p->n_points; i++) {
        int64_t value = in->points[i].reading;
        for (size_t a = 0; a < p->n_adjusters; a++)
            value += plan->steps[a] * in->effect[a * p->n_points + i];
        if (value != plan->predicted[i])
            return false;
        int64_t above = answer->guarded[i].high - value, below = value - answer->guarded[i].low;
        int64_t m = above < below ? above : below;
        margin = m < margin ? m : margin;
    }
    violation = margin < 0 ? -margin : 0;
    return cost == plan->cost_s && violation == plan->worst_violation &&
           margin == plan->least_margin;
}

static bool is_no_better(const struct truing_plan *later, const struct truing_plan *before)
{
    if (later->worst_violation != before->worst_violation)
        return later->worst_violation > before->worst_violation;
    if (later->cost_s != before->cost_s)
        return later->cost_s > before->cost_s;
    return later->least_margin <= before->least_margin;
}

static void check_plans(const struct instance *in, const struct truing_answer *answer,
                        struct tally *t)
{
    size_t n = in->problem.n_adjusters;
    t->unproved += !answer->is_proved;
    for (size_t k = 0; k < answer->n_plans; k++) {
        t->wrong_forward += !is_forward_right(in, answer, &answer->plans[k]);
        for (size_t e = 0; e < k; e++) {
            bool is_fine = is_no_better(&answer->plans[k], &answer->plans[e]) &&
                           touched(&answer->plans[k], n) != touched(&answer->plans[e], n);
            t->out_of_order += !is_fine;
        }
    }
}

/* A unit trued by the first plan, read again as predicted, asks for nothing more. */
static void check_again(const struct instance *in, const struct truing_answer *answer,
                        void *workspace, size_t size, struct tally *t)
{
    static struct instance after;
    static struct truing_answer again;
    size_t at;
    if (answer->plans[0].worst_violation > 0)
        return;
    after = *in;
    after.problem.points = after.points;
    for (size_t i = 0; i < in->problem.n_points; i++)
        after.points[i].reading = answer->plans[0].predicted[i];
    enum err e = truing_solve(&after.problem, workspace, size, &again, &at);
    t->asks_again += e != ERR_OK || again.verdict != VERDICT_INSIDE || again.n_plans != 1 ||
                     again.plans[0].cost_s != 0;
}

static void compare(uint64_t seed, enum instance_family family, const struct instance *in,
                    const struct truing_answer *answer, struct tally *t)
{
    uint32_t excluded[TRUING_PLANS_MAX];
    for (size_t k = 0; k < in->problem.n_plans; k++) {
        struct peer_plan peer;
        peer_plan(&in->problem, answer->guarded, excluded, k, LIMIT_MS, &peer);
        if (!peer.is_optimal) {
            t->out_of_time++;
            return;
        }
        if (!peer.has_plan || k >= answer->n_plans) {
            t->disagree += peer.has_plan != (k < answer->n_plans);
            break;
        }
        const struct truing_plan *ours = &answer->plans[k];
        if (ours->worst_violation != peer.violation || ours->cost_s != peer.cost_s ||
            ours->least_margin != peer.margin) {
            t->disagree++;
            tap_note("%s seed %llu plan %zu: violation %lld, GLPK %lld; cost %lld, GLPK %lld; "
                     "margin %lld, GLPK %lld",
                     instance_family_name(family), (unsigned long long)seed, k + 1,
                     (long long)ours->worst_violation, (long long)peer.violation,
                     (long long)ours->cost_s, (long long)peer.cost_s, (long long)ours->least_margin,
                     (long long)peer.margin);
        }
        excluded[k] = touched(ours, in->problem.n_adjusters);
    }
    t->compared++;
}

int main(int argc, char **argv)
{
    enum instance_family family = INSTANCE_WALL;
    int count = argc > 2 ? atoi(argv[2]) : 50;
    size_t n_plans = argc > 3 ? (size_t)atoi(argv[3]) : 1;
    while (argc > 1 && family < INSTANCE_N && strcmp(instance_family_name(family), argv[1]) != 0)
        family++;
    if (family == INSTANCE_N) {
        fprintf(stderr, "unknown family '%s'\n", argv[1]);
        return 2;
    }
    size_t size = truing_workspace(12, 14);
    void *workspace = malloc(size);
    struct tally t = {0};
    static struct truing_answer answer;
    for (uint64_t seed = 1; t.compared + t.out_of_time < count; seed++) {
        static struct instance in;
        size_t at;
        instance_make(seed, family, &in);
        in.problem.n_plans = n_plans;
        if (truing_solve(&in.problem, workspace, size, &answer, &at) != ERR_OK) {
            t.disagree++;
            break;
        }
        if (answer.worst_violation == 0)
            continue;
        check_plans(&in, &answer, &t);
        check_again(&in, &answer, workspace, size, &t);
        compare(seed, family, &in, &answer, &t);
    }
    free(workspace);
    const char *name = instance_family_name(family);
    tap_ok(t.disagree == 0,
           "%d %s instances, %zu plan(s) each: GLPK finds the same violation, cost and margin",
           t.compared, name, n_plans);
    tap_ok(t.unproved == 0, "%s: every answer is proved best", name);
    tap_ok(t.wrong_forward == 0,
           "%s: every plan, applied forward, gives its predicted readings and figures", name);
    tap_ok(t.out_of_order == 0, "%s: later plans are no better and touch other adjusters", name);
    tap_ok(t.asks_again == 0, "%s: a unit trued by its plan asks for no further plan", name);
    tap_ok(t.out_of_time * 50 <= count,
           "%s: GLPK ran out of time (%d s a stage) on %d instance(s), at most 2 in 100", name,
           LIMIT_MS / 1000, t.out_of_time);
    return tap_done();
}
