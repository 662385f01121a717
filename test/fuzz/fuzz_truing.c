/* fuzz_truing: bytes as a small truing problem (1..4 points, 0..4 adjusters of at most -3..3 steps). Properties: the solver
 * agrees with looking at every plan (violation, cost, margin of the best one), its answer is proved, later plans are no
 * better and touch other adjusters, and predictions are what truing_apply gives. */
#include "core/truing.h"

#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

enum { POINTS = 4, ADJUSTERS = 4 };

struct bytes {
    const uint8_t *at;
    size_t left;
};

struct small {
    struct truing_problem problem;
    struct truing_point point[POINTS];
    struct truing_adjuster adjuster[ADJUSTERS];
    int64_t effect[POINTS * ADJUSTERS];
};

struct figures {
    int64_t violation, cost, margin;
};

static void expect(bool holds)
{
    if (!holds)
        abort();
}

static int next(struct bytes *b)
{
    if (b->left == 0)
        return 0;
    b->left--;
    return *b->at++;
}

static int64_t signed_next(struct bytes *b)
{
    int64_t high = next(b) - 128;
    return high * 1000 + next(b);
}

static void draw(struct bytes *b, struct small *s)
{
    memset(s, 0, sizeof *s);
    size_t n_points = 1 + (size_t)next(b) % POINTS, n_adjusters = (size_t)next(b) % (ADJUSTERS + 1);
    int form = next(b);
    for (size_t i = 0; i < n_points; i++) {
        struct truing_point *p = &s->point[i];
        p->reading = signed_next(b);
        p->low = signed_next(b);
        p->high = p->low + next(b) * 500;
        p->u = next(b);
        if (form & 1 && next(b) < 40)
            p->low = INT64_MIN;
    }
    for (size_t a = 0; a < n_adjusters; a++) {
        s->adjuster[a] =
            (struct truing_adjuster){-(next(b) % 4), next(b) % 4, next(b), next(b) % 8};
        for (size_t i = 0; i < n_points; i++)
            s->effect[a * n_points + i] = form & 2 ? (next(b) % 5 - 2) * 1000 : signed_next(b);
    }
    s->problem = (struct truing_problem){
        n_points, n_adjusters, s->point, s->adjuster, s->effect, (form & 4) != 0, 0.05, 3, 0};
}

static struct figures look_at(const struct small *s, const struct truing_answer *answer,
                              const int32_t *x)
{
    struct figures f = {0, 0, INT64_MAX};
    int64_t value[POINTS];
    truing_apply(&s->problem, x, value);
    for (size_t a = 0; a < s->problem.n_adjusters; a++)
        f.cost += x[a] ? s->adjuster[a].setup_s + s->adjuster[a].step_s * abs(x[a]) : 0;
    for (size_t i = 0; i < s->problem.n_points; i++) {
        struct conform_limits l = answer->guarded[i];
        int64_t above = l.high == INT64_MAX ? INT64_MAX : l.high - value[i];
        int64_t below = l.low == INT64_MIN ? INT64_MAX : value[i] - l.low;
        int64_t margin = above < below ? above : below;
        f.margin = margin < f.margin ? margin : f.margin;
    }
    f.violation = f.margin < 0 ? -f.margin : 0;
    return f;
}

static bool is_better(struct figures a, struct figures b)
{
    if (a.violation != b.violation)
        return a.violation < b.violation;
    if (a.cost != b.cost)
        return a.cost < b.cost;
    return a.margin > b.margin;
}

static bool is_same(struct figures a, struct figures b)
{
    return !is_better(a, b) && !is_better(b, a);
}

static struct figures best_of_all(const struct small *s, const struct truing_answer *answer)
{
    int32_t x[TRUING_ADJUSTERS_MAX] = {0};
    size_t n = s->problem.n_adjusters, j;
    for (j = 0; j < n; j++)
        x[j] = s->adjuster[j].min;
    struct figures best = look_at(s, answer, x);
    for (;;) {
        for (j = 0; j < n && x[j] == s->adjuster[j].max; j++)
            x[j] = s->adjuster[j].min;
        if (j == n)
            return best;
        x[j]++;
        struct figures f = look_at(s, answer, x);
        if (is_better(f, best))
            best = f;
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static char workspace[1 << 20];
    static struct truing_answer answer;
    struct bytes b = {data, size};
    struct small s;
    size_t at;
    draw(&b, &s);
    expect(truing_solve(&s.problem, workspace, sizeof workspace, &answer, &at) == ERR_OK);
    expect(answer.n_plans >= 1 && answer.is_proved);
    if (answer.worst_violation == 0) {
        expect(answer.n_plans == 1 && answer.plans[0].cost_s == 0);
        return 0;
    }
    expect(is_same(best_of_all(&s, &answer), look_at(&s, &answer, answer.plans[0].steps)));
    for (size_t k = 0; k < answer.n_plans; k++) {
        const struct truing_plan *p = &answer.plans[k];
        int64_t value[POINTS];
        truing_apply(&s.problem, p->steps, value);
        expect(memcmp(value, p->predicted, s.problem.n_points * sizeof *value) == 0);
        struct figures f = look_at(&s, &answer, p->steps);
        expect(f.violation == p->worst_violation && f.cost == p->cost_s &&
               f.margin == p->least_margin);
        for (size_t e = 0; e < k; e++) {
            bool differs = false;
            for (size_t a = 0; a < s.problem.n_adjusters; a++)
                differs = differs || (p->steps[a] != 0) != (answer.plans[e].steps[a] != 0);
            expect(differs && !is_better(f, look_at(&s, &answer, answer.plans[e].steps)));
        }
    }
    return 0;
}
