/* advice: owns the strategies; see advice.h. */
#include "advice.h"

#include "core/advise.h"
#include "core/timing.h"

#include <math.h>
#include <stdlib.h>

enum { CORNERS = MECHANISM_CORNERS, ADJUSTERS = PRACTICE_ADJUSTERS };
#define MM INT64_C(1000000)

static const double RISK = 0.05, RISK_ALL = 0.0012555; /* 1 - 0.99^(1/8) */

const char *advice_name(enum advice_way way)
{
    static const char *const names[ADVICE_WAYS] = {"truing, 5 % each", "truing, 1 % of all",
                                                   "as advised",       "worst corner",
                                                   "one at a time",    "shim all equally"};
    return names[way];
}

static bool act(struct practice *p, enum practice_op op, int side, int place, int64_t amount,
                int64_t *ret_nano)
{
    struct practice_result result;
    if (practice_do(p, op, side, place, amount, &result) != ERR_OK)
        return false;
    if (ret_nano != NULL)
        *ret_nano = result.nano;
    return result.refusal == PRACTICE_FINE || result.refusal == PRACTICE_AS_IT_IS;
}

/* ---- reading and moving -------------------------------------------------------------------- */

static bool read_gaps(struct practice *p, int64_t ret[CORNERS])
{
    for (int travel = 0; travel < 2; travel++) {
        if (!act(p, PRACTICE_RUN, 0, 0, p->gap_at_nm[travel], NULL))
            return false;
        for (int i = travel; i < CORNERS; i += 2)
            if (!act(p, PRACTICE_READ_GAP, i / 4, i % 4 < 2 ? 1 : 0, 0, &ret[i]))
                return false;
    }
    return true;
}

/* On stands and switched off, as the cautions say. */
static bool stand(struct practice *p, bool is_on)
{
    return act(p, PRACTICE_SUPPORT, 0, 0, is_on, NULL) &&
           act(p, PRACTICE_ISOLATE, 0, 0, is_on, NULL);
}

static bool apply(struct practice *p, const int32_t steps[ADJUSTERS], int *moves)
{
    bool is_good = stand(p, true);
    for (int a = 0; a < ADJUSTERS; a++) {
        if (steps[a] == 0)
            continue;
        is_good = is_good && (a < 4 ? act(p, PRACTICE_PACK, a / 2, a % 2 == 0, steps[a], NULL)
                                    : act(p, PRACTICE_TURN_TOE, a - 4, 0, steps[a], NULL));
        (*moves)++;
    }
    return stand(p, false) && is_good;
}

/* Within what is left of its range. */
static int32_t clamp(const struct practice *p, int a, int64_t steps)
{
    const int32_t most = a < 4 ? PRACTICE_PACK_MOST : PRACTICE_TOE_MOST;
    const int64_t low = -most - p->moved[a], high = most - p->moved[a];
    return (int32_t)(steps < low ? low : steps > high ? high : steps);
}

static int64_t to_steps(const struct practice *p, int64_t too_wide)
{
    return (int64_t)floor((double)too_wide / (double)p->m.packing_step + 0.5);
}

static bool is_all_inside(const struct practice *p, const int64_t gaps[CORNERS])
{
    for (int i = 0; i < CORNERS; i++)
        if (gaps[i] < p->limits.gap_low_nm || gaps[i] > p->limits.gap_high_nm)
            return false;
    return true;
}

static bool is_truly_inside(const struct practice *p)
{
    int64_t gaps[CORNERS];
    return practice_gaps(p, gaps) == ERR_OK && is_all_inside(p, gaps);
}

/* ---- racks first --------------------------------------------------------------------------- */

static bool in_step(struct practice *p)
{
    static char room[1 << 20];
    struct timing_rack racks[4];
    struct timing_answer answer;
    size_t at = 0;
    int64_t ends[4];
    if (!act(p, PRACTICE_RUN, 0, 0, p->gap_at_nm[1], NULL))
        return false;
    for (int i = 0; i < 4; i++) {
        if (!act(p, PRACTICE_READ_END, i / 2, i % 2, 0, &ends[i]))
            return false;
        racks[i] = (struct timing_rack){ends[i], tape_u(&p->end_gauge), -3, 3, 720, 120};
    }
    const int64_t limit = p->limits.end_limit_nm;
    const struct timing_difference differences[] = {{0, 1, 0, -limit, limit},
                                                    {2, 3, 0, -limit, limit}};
    const struct timing_problem problem = {.n_racks = 4,
                                           .n_differences = 2,
                                           .racks = racks,
                                           .differences = differences,
                                           .module_nm = p->m.module,
                                           .has_guard = true,
                                           .risk = RISK};
    if (timing_workspace(4, 2) > sizeof room ||
        timing_solve(&problem, room, sizeof room, &answer, &at) != ERR_OK || !stand(p, true))
        return false;
    for (int i = 0; i < 4; i++)
        if (answer.moves[i] != 0 && !act(p, PRACTICE_JUMP, i / 2, i % 2, answer.moves[i], NULL))
            return false;
    return stand(p, false);
}

static bool ends_agree(const struct practice *p)
{
    for (int side = 0; side < MECHANISM_SIDES; side++) {
        int64_t a = 0, b = 0;
        if (mechanism_rack_end(&p->m, &p->state, (enum mechanism_side)side, 0, &a) != ERR_OK ||
            mechanism_rack_end(&p->m, &p->state, (enum mechanism_side)side, 1, &b) != ERR_OK ||
            llabs(a - b) > p->limits.end_limit_nm)
            return false;
    }
    return true;
}

/* ---- the four ways ------------------------------------------------------------------------- */

static bool solve(const struct practice *p, const int64_t gaps[CORNERS], double u, double risk,
                  double plan_risk, struct truing_answer *answer)
{
    static char room[4 << 20];
    struct truing_point points[CORNERS];
    struct truing_adjuster adjusters[ADJUSTERS];
    int64_t effect[ADJUSTERS * CORNERS];
    struct truing_problem problem;
    size_t at = 0;
    return practice_problem(p, gaps, u, risk, points, adjusters, effect, &problem) == ERR_OK &&
           truing_workspace(CORNERS, ADJUSTERS) <= sizeof room &&
           advise_solve(&problem, plan_risk, room, sizeof room, answer, &at) == ERR_OK;
}

static bool is_fixable(const struct practice *p, bool *ret)
{
    static struct truing_answer answer;
    int64_t gaps[CORNERS];
    if (practice_gaps(p, gaps) != ERR_OK || !solve(p, gaps, 0.0, 0.0, 0.0, &answer))
        return false;
    *ret = answer.plans[0].worst_violation == 0;
    return true;
}

/* What truing says; steps all 0: it is content or can do no better. */
static bool by_truing(const struct practice *p, double risk, double plan_risk,
                      const int64_t gaps[CORNERS], int32_t steps[ADJUSTERS],
                      struct advice_outcome *o)
{
    static struct truing_answer answer;
    if (!solve(p, gaps, tape_u(&p->tape), risk, plan_risk, &answer))
        return false;
    for (int a = 0; a < ADJUSTERS; a++)
        steps[a] = answer.plans[0].steps[a];
    if (o->rounds == 0) {
        const struct conform_limits g = answer.guarded[0];
        o->said_no = answer.is_proved && answer.plans[0].worst_violation > 0;
        o->said_never = answer.bound_violation > 2 * (g.low - p->limits.gap_low_nm);
    }
    return true;
}

static int64_t deviation(const struct practice *p, const int64_t gaps[CORNERS], int i)
{
    return gaps[i] - p->limits.gap_nominal_nm;
}

/* The packing nearest the reading that is furthest out, until that one reading is nominal. */
static void by_worst(const struct practice *p, const int64_t gaps[CORNERS],
                     int32_t steps[ADJUSTERS])
{
    const int64_t middle = (p->limits.gap_low_nm + p->limits.gap_high_nm) / 2;
    int worst = 0;
    for (int i = 1; i < CORNERS; i++)
        if (llabs(gaps[i] - middle) > llabs(gaps[worst] - middle))
            worst = i;
    const int a = worst / 2;
    steps[a] = clamp(p, a, to_steps(p, gaps[worst] - middle));
}

/* One adjuster after the other: packing by the mean of its corner in and out, toe by the mean of what its side swings. */
static void by_one(const struct practice *p, const int64_t gaps[CORNERS], int round,
                   int32_t steps[ADJUSTERS])
{
    const int a = round % ADJUSTERS;
    if (a < 4)
        steps[a] = clamp(
            p, a, to_steps(p, (deviation(p, gaps, 2 * a) + deviation(p, gaps, 2 * a + 1)) / 2));
    else {
        const int at = (a - 4) * 4;
        steps[a] =
            clamp(p, a, to_steps(p, (gaps[at + 1] - gaps[at] + gaps[at + 3] - gaps[at + 2]) / 2));
    }
}

/* The same packing at all four fixings, by the mean of all readings. */
static void by_equal(const struct practice *p, const int64_t gaps[CORNERS],
                     int32_t steps[ADJUSTERS])
{
    int64_t sum = 0;
    for (int i = 0; i < CORNERS; i++)
        sum += deviation(p, gaps, i);
    for (int a = 0; a < 4; a++)
        steps[a] = clamp(p, a, to_steps(p, sum / CORNERS));
}

static bool choose(enum advice_way way, const struct practice *p, const int64_t gaps[CORNERS],
                   int32_t steps[ADJUSTERS], struct advice_outcome *o)
{
    switch (way) {
    case ADVICE_TRUING:
        return by_truing(p, RISK, 0.0, gaps, steps, o);
    case ADVICE_TRUING_ALL:
        return by_truing(p, RISK_ALL, 0.0, gaps, steps, o);
    case ADVICE_AIMED:
        return by_truing(p, RISK, ADVISE_PLAN_RISK, gaps, steps, o);
    case ADVICE_WORST:
        by_worst(p, gaps, steps);
        return true;
    case ADVICE_ONE:
        by_one(p, gaps, o->rounds, steps);
        return true;
    default:
        by_equal(p, gaps, steps);
        return true;
    }
}

static bool is_still(const int32_t steps[ADJUSTERS])
{
    for (int a = 0; a < ADJUSTERS; a++)
        if (steps[a] != 0)
            return false;
    return true;
}

static bool go_on(enum advice_way way, struct practice *p, struct advice_outcome *o)
{
    for (o->rounds = 0;; o->rounds++) {
        int64_t gaps[CORNERS];
        int32_t steps[ADJUSTERS] = {0};
        if (!read_gaps(p, gaps))
            return false;
        o->is_content = is_all_inside(p, gaps);
        /* Truing keeps to its guarded limits on the first go; whoever reads again stops when all of it is inside. */
        if (o->is_content && (way > ADVICE_AIMED || o->rounds > 0))
            return true;
        if (o->rounds == ADVICE_ROUNDS)
            return true;
        if (!choose(way, p, gaps, steps, o))
            return false;
        /* One at a time goes on to the next when this one is right; the others have nothing left to do. */
        if (is_still(steps) && way != ADVICE_ONE)
            return true;
        if (!is_still(steps) && !apply(p, steps, &o->moves))
            return false;
        if (o->rounds == 0)
            o->is_in_first = is_truly_inside(p);
    }
}

/* The same draw of what calibration leaves open, in the tape's own measure. */
static void take_tape(struct tape *t)
{
    struct tape steel;
    tape_of_steel(&steel);
    steel.hook_nm = t->hook_nm * steel.calibration_nm / t->calibration_nm;
    *t = steel;
}

bool advice_follow(enum advice_way way, uint64_t seed, int spread, bool has_tape,
                   struct advice_outcome *ret)
{
    struct practice p;
    *ret = (struct advice_outcome){0};
    if (practice_draw(seed, spread, &p) != ERR_OK || !in_step(&p) ||
        !is_fixable(&p, &ret->is_fixable))
        return false;
    if (has_tape)
        take_tape(&p.tape);
    ret->is_in_step = ends_agree(&p);
    ret->is_in_before = ret->is_in_first = is_truly_inside(&p);
    const int64_t before = p.seconds;
    struct practice_score score;
    if (!go_on(way, &p, ret) || practice_score(&p, &score) != ERR_OK)
        return false;
    ret->is_in_end = is_truly_inside(&p);
    ret->seconds = p.seconds - before;
    ret->worst_left = score.worst_gap_nm;
    return true;
}
