/* test_advise: the share of a risk by Python, the choice of a plan by enumeration of every plan, the refusals. Seeds are fixed. */
#include "core/advise.h"
#include "core/xoshiro.h"
#include "tap.h"

#include <math.h>
#include <string.h>

#define MM ((int64_t)1000000)

enum { POINTS = 6, ADJUSTERS = 3, STEPS = 2, TRIES = 400 };

static char workspace[1024 * 1024];
static struct truing_answer answer, plain;

/* ---- the share -------------------------------------------------------------------------------- */

static void shares(void)
{
    /* Python 3.11: -math.expm1(math.log1p(-risk)/n) */
    static const struct {
        double risk;
        size_t n;
        double each;
    } rows[] = {
        {0.01, 8, 0.0012555031772735197},
        {0.05, 64, 0.0008011366433466191},
        {0.5, 1, 0.5},
        {0.01, 1, 0.01},
        {0.05, 8, 0.006391150954544988},
    };
    double each = 0;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        tap_ok(advise_risk_each(rows[i].risk, rows[i].n, &each) == ERR_OK &&
                   fabs(each - rows[i].each) <= 1e-15,
               "%g for %zu together is %.16g each (Python 3.11)", rows[i].risk, rows[i].n,
               rows[i].each);
    tap_ok(advise_risk_each(0, 8, &each) == ERR_DOMAIN &&
               advise_risk_each(0.51, 8, &each) == ERR_DOMAIN &&
               advise_risk_each(NAN, 8, &each) == ERR_DOMAIN &&
               advise_risk_each(0.1, 0, &each) == ERR_DOMAIN &&
               advise_risk_each(0.1, TRUING_POINTS_MAX + 1, &each) == ERR_DOMAIN,
           "a risk of 0, above one half or of no reading is refused");
}

/* ---- every plan ------------------------------------------------------------------------------- */

/* Python 3.11: -statistics.NormalDist().inv_cdf(risk), for 0.05 and for the share of 0.01 among six. */
static const double own_factor = 1.6448536269514726, closer_factor = 2.9339011719257093;

struct world {
    struct truing_point points[POINTS];
    struct truing_adjuster adjusters[ADJUSTERS];
    int64_t effect[ADJUSTERS * POINTS];
    struct truing_problem problem;
};

static int64_t within(uint64_t s[4], int64_t low, int64_t high)
{
    return low + (int64_t)(xoshiro_bits(s) % (uint64_t)(high - low + 1));
}

static void make(struct world *w, uint64_t seed)
{
    uint64_t s[4];
    xoshiro_fill(s, seed);
    for (int p = 0; p < POINTS; p++)
        w->points[p] =
            (struct truing_point){58 * MM, 56 * MM, 61 * MM, 58 * MM + within(s, -35, 45) * MM / 10,
                                  (double)(within(s, 1, 4) * 60000)};
    for (int a = 0; a < ADJUSTERS; a++) {
        w->adjusters[a] =
            (struct truing_adjuster){-STEPS, STEPS, within(s, 1, 10) * 60, within(s, 1, 4) * 30};
        for (int p = 0; p < POINTS; p++)
            w->effect[a * POINTS + p] = within(s, -9, 9) * MM / 10;
    }
    w->problem = (struct truing_problem){
        POINTS, ADJUSTERS, w->points, w->adjusters, w->effect, true, 0.05, 2, 0};
}

struct found {
    int64_t violation, cost_s, margin;
};

static struct found found_of(const struct world *w, const int32_t *steps, double factor)
{
    struct found f = {0, 0, INT64_MAX};
    int64_t predicted[POINTS];
    truing_apply(&w->problem, steps, predicted);
    for (int a = 0; a < ADJUSTERS; a++)
        if (steps[a] != 0)
            f.cost_s += w->adjusters[a].setup_s +
                        w->adjusters[a].step_s * (steps[a] < 0 ? -steps[a] : steps[a]);
    for (int p = 0; p < POINTS; p++) {
        const int64_t guard = (int64_t)ceil(factor * w->points[p].u);
        const int64_t low = predicted[p] - (w->points[p].low + guard);
        const int64_t high = w->points[p].high - guard - predicted[p];
        const int64_t least = low < high ? low : high;
        f.margin = least < f.margin ? least : f.margin;
    }
    f.violation = f.margin < 0 ? -f.margin : 0;
    return f;
}

static bool is_better(struct found a, struct found b)
{
    if (a.violation != b.violation)
        return a.violation < b.violation;
    return a.cost_s != b.cost_s ? a.cost_s < b.cost_s : a.margin > b.margin;
}

static struct found best_of(const struct world *w, double factor)
{
    const int32_t none[ADJUSTERS] = {0};
    struct found best = found_of(w, none, factor);
    for (int32_t i = -STEPS; i <= STEPS; i++)
        for (int32_t j = -STEPS; j <= STEPS; j++)
            for (int32_t k = -STEPS; k <= STEPS; k++) {
                const struct found f = found_of(w, (int32_t[]){i, j, k}, factor);
                if (is_better(f, best))
                    best = f;
            }
    return best;
}

static bool is_as(struct found a, struct found b)
{
    return a.violation == b.violation && a.cost_s == b.cost_s && a.margin == b.margin;
}

static void enumerated(void)
{
    int n_still = 0, n_aimed = 0, n_own = 0, n_dearer = 0, n_good = 0;
    for (uint64_t seed = 1; seed <= TRIES; seed++) {
        static struct world w;
        const int32_t none[ADJUSTERS] = {0};
        size_t at = 0;
        make(&w, seed);
        if (advise_solve(&w.problem, 0.01, workspace, sizeof workspace, &answer, &at) != ERR_OK)
            continue;
        const int32_t *steps = answer.plans[0].steps;
        const struct found as_read = found_of(&w, none, own_factor);
        const struct found own = best_of(&w, own_factor), closer = best_of(&w, closer_factor);
        const bool is_still = as_read.violation == 0, must_aim = !is_still && closer.violation == 0;
        const double factor = must_aim ? closer_factor : own_factor;
        const struct found told = found_of(&w, steps, own_factor);
        n_good += answer.is_aimed == must_aim &&
                  is_as(found_of(&w, steps, factor), must_aim ? closer : own) &&
                  told.violation == answer.plans[0].worst_violation &&
                  told.margin == answer.plans[0].least_margin &&
                  told.cost_s == answer.plans[0].cost_s && answer.is_proved &&
                  answer.worst_violation == as_read.violation;
        n_still += is_still;
        n_aimed += must_aim;
        n_own += !is_still && !must_aim;
        n_dearer += must_aim && closer.cost_s > own.cost_s;
    }
    tap_ok(n_good == TRIES,
           "%d problems of 125 plans: the plan is the best of all by enumeration, told by the "
           "bulletin's own limits (%d)",
           TRIES, n_good);
    tap_ok(n_still > 0 && n_aimed > 20 && n_own > 20 && n_dearer > 10,
           "of these %d are inside already, %d aimed at closer limits, %d not within their reach; "
           "%d plans are dearer "
           "for it",
           n_still, n_aimed, n_own, n_dearer);
}

/* ---- refusals and the plain case -------------------------------------------------------------- */

static void plain_cases(void)
{
    static struct world w;
    size_t at = 0;
    make(&w, 3);
    const enum err one = advise_solve(&w.problem, 0, workspace, sizeof workspace, &answer, &at);
    const enum err two = truing_solve(&w.problem, workspace, sizeof workspace, &plain, &at);
    tap_ok(one == ERR_OK && two == ERR_OK && !answer.is_aimed && answer.n_plans == plain.n_plans &&
               answer.nodes == plain.nodes &&
               is_as(found_of(&w, answer.plans[0].steps, own_factor),
                     found_of(&w, plain.plans[0].steps, own_factor)) &&
               memcmp(answer.plans[0].steps, plain.plans[0].steps, sizeof plain.plans[0].steps) ==
                   0,
           "a plan risk of 0 is truing as it stands");
    w.problem.has_guard = false;
    tap_ok(advise_solve(&w.problem, 0.01, workspace, sizeof workspace, &answer, &at) == ERR_OK &&
               !answer.is_aimed,
           "without a guard nothing is aimed at");
    w.problem.has_guard = true;
    tap_ok(advise_solve(&w.problem, 0.6, workspace, sizeof workspace, &answer, &at) == ERR_DOMAIN &&
               advise_solve(&w.problem, -0.1, workspace, sizeof workspace, &answer, &at) ==
                   ERR_DOMAIN &&
               advise_solve(&w.problem, NAN, workspace, sizeof workspace, &answer, &at) ==
                   ERR_DOMAIN,
           "a plan risk above one half, below 0 or none is refused");
    tap_ok(advise_solve(&w.problem, 0.01, workspace, 8, &answer, &at) == ERR_SPACE,
           "too little memory is refused");
    w.points[2].low = 62 * MM;
    tap_ok(advise_solve(&w.problem, 0.01, workspace, sizeof workspace, &answer, &at) == ERR_ORDER &&
               at == 2,
           "limits the wrong way round are refused, with the point");
}

int main(void)
{
    shares();
    enumerated();
    plain_cases();
    return tap_done();
}
