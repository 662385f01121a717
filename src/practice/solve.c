/* solve: owns the plain good procedure; see solve.h. Every decision is taken from what an operation gave (what a learner would have
 * written down), from the instrument in hand and from watching a run; the truth is looked at in account() alone. */
#include "practice/solve.h"

#include "bulletin/yamltree.h"
#include "core/gear.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#define MM    INT64_C(1000000)
#define VOLT  INT64_C(1000000000)
#define BLOCK (100 * MM)

enum { CORNERS = MECHANISM_CORNERS, ADJUSTERS = PRACTICE_ADJUSTERS, ROUNDS = 4 };

/* Of 1 in 100 units brought in by the advice, one reading may lie beyond: 1 - 0.99^(1/8) each. */
static const double RISK = 0.0012555;

struct game {
    struct practice p;
    struct solve *log;
    enum err err;
    void *room; /* for truing */
    size_t size;
    struct truing_answer answer;
    int64_t volts[2], amps, seconds;
    bool has_lost[4]; /* racks that were out by teeth */
    int lagging;      /* side that falls behind in a run, as one sees it; -1: none */
};

/* ---- one operation ------------------------------------------------------------------------- */

static int64_t act(struct game *g, enum practice_op op, int side, int place, int64_t amount)
{
    struct practice_result result = {0};
    if (g->err == ERR_OK && g->log->n == SOLVE_OPS_MAX)
        g->err = ERR_LIMIT;
    if (g->err == ERR_OK)
        g->err = practice_do(&g->p, op, side, place, amount, &result);
    if (g->err != ERR_OK || result.refusal != PRACTICE_FINE)
        return 0;
    g->log->ops[g->log->n++] = (struct replay_op){(int32_t)op, side, place, amount};
    return result.nano;
}

static void stand(struct game *g, bool is_on)
{
    act(g, PRACTICE_SUPPORT, 0, 0, is_on);
    act(g, PRACTICE_ISOLATE, 0, 0, is_on);
}

static int64_t stop_nm(const struct game *g)
{
    return (int64_t)floor(g->p.drive.travel_m * 1e9 + 0.5);
}

static void run_in_and_out(struct game *g)
{
    act(g, PRACTICE_RUN, 0, 0, 0);
    act(g, PRACTICE_RUN, 0, 0, stop_nm(g));
}

/* ---- what moves it ------------------------------------------------------------------------- */

/* A run out from the inner stop, looked at and measured. */
static void watch(struct game *g)
{
    act(g, PRACTICE_RUN, 0, 0, 0);
    act(g, PRACTICE_RUN, 0, 0, stop_nm(g));
    /* Sides a centimetre apart are seen by eye. */
    g->lagging = fabs(g->p.run.apart_m) < 0.010 ? -1 : g->p.run.apart_m < 0.0 ? 0 : 1;
    for (int i = 0; i < 2; i++)
        g->volts[i] = act(g, PRACTICE_READ_VOLTS, i, 0, 0);
    g->amps = act(g, PRACTICE_READ_AMPS, 0, 0, 0);
    g->seconds = act(g, PRACTICE_READ_TIME, 0, 0, 0);
}

static bool is_supply_low(const struct game *g)
{
    return (double)g->volts[0] < g->p.limits.volts_low * 1e9 &&
           (double)g->volts[1] < g->p.limits.volts_low * 1e9;
}

/* The side whose motor gets clearly less than the other's; -1: none. */
static int weak_side(const struct game *g)
{
    const int64_t apart = g->volts[0] - g->volts[1];
    return llabs(apart) < 3 * VOLT / 10 ? -1 : apart < 0 ? 0 : 1;
}

static void mend_drive(struct game *g)
{
    const struct practice_limits *l = &g->p.limits;
    watch(g);
    const int weak = weak_side(g);
    if (weak >= 0) {
        act(g, PRACTICE_ISOLATE, 0, 0, 1);
        act(g, PRACTICE_RENEW_LEAD, weak, 0, 0);
        act(g, PRACTICE_ISOLATE, 0, 0, 0);
        watch(g);
    }
    if (is_supply_low(g)) {
        act(g, PRACTICE_CHARGE, 0, 0, 0);
        watch(g);
    }
    if (g->lagging >= 0 || (double)g->amps > l->amps_out * 1e9 ||
        (double)g->seconds > l->time_high_s * 1e9) {
        act(g, PRACTICE_ISOLATE, 0, 0, 1);
        for (int side = 0; side < 2; side++)
            for (int k = 0; (g->lagging < 0 || g->lagging == side) && k < 2; k++)
                act(g, PRACTICE_EASE, side, k, 0);
        act(g, PRACTICE_ISOLATE, 0, 0, 0);
        watch(g);
    }
}

/* ---- racks --------------------------------------------------------------------------------- */

struct racks {
    int64_t end[4], teeth[4], left[4]; /* left: of the end, less the teeth that are out */
};

static void read_ends(struct game *g, struct racks *r)
{
    for (int i = 0; i < 4; i++)
        r->end[i] = act(g, PRACTICE_READ_END, i / 2, i % 2, 0);
}

static void count(struct game *g, struct racks *r)
{
    const int64_t pitch = gear_pitch_nm(g->p.m.module);
    for (int i = 0; i < 4; i++) {
        r->teeth[i] = act(g, PRACTICE_COUNT, i / 2, i % 2, 0);
        r->left[i] = r->end[i] - r->teeth[i] * pitch;
    }
}

static bool is_off(int64_t left)
{
    return llabs(left) > 3 * MM / 10;
}

/* Every rack back to its tooth, and what is not a whole tooth off renewed: a key where the end wandered from run to run or is off
 * again after a new rack, else the rack. */
static void mend_racks(struct game *g)
{
    bool is_new[4] = {false};
    for (int round = 0; round < 3; round++) {
        struct racks r, again;
        read_ends(g, &r);
        run_in_and_out(g);
        read_ends(g, &again);
        act(g, PRACTICE_ISOLATE, 0, 0, 1);
        count(g, &again);
        bool is_good = true;
        for (int i = 0; i < 4; i++)
            is_good = is_good && again.teeth[i] == 0 && !is_off(again.left[i]);
        if (is_good) {
            act(g, PRACTICE_ISOLATE, 0, 0, 0);
            return;
        }
        act(g, PRACTICE_SUPPORT, 0, 0, 1);
        for (int i = 0; i < 4; i++) {
            const bool has_wandered = llabs(again.end[i] - r.end[i]) > MM / 2;
            if (is_off(again.left[i]))
                act(g, has_wandered || is_new[i] ? PRACTICE_RENEW_KEY : PRACTICE_RENEW_RACK, i / 2,
                    i % 2, 0);
            else if (again.teeth[i] != 0 && round > 0) /* it lost teeth again: no depth */
                act(g, PRACTICE_RENEW_RACK, i / 2, i % 2, 0);
            is_new[i] = is_new[i] || is_off(again.left[i]);
            g->has_lost[i] = g->has_lost[i] || again.teeth[i] != 0;
            if (again.teeth[i] != 0)
                act(g, PRACTICE_JUMP, i / 2, i % 2, -again.teeth[i]);
        }
        stand(g, false);
    }
}

/* ---- tape and gaps ------------------------------------------------------------------------- */

/* The bulletin asks for the gap gauge; a tape in whole millimetres, or one that is off on the block, is changed for it. */
static void check_tape(struct game *g)
{
    const int64_t shown = act(g, PRACTICE_CHECK_TAPE, 0, 0, 0);
    if (g->p.tape.resolution_nm >= MM || llabs(shown - BLOCK) > MM / 2)
        act(g, PRACTICE_CHANGE_TAPE, 0, 0, 0);
}

static void read_gaps(struct game *g, int64_t ret[CORNERS])
{
    for (int travel = 0; travel < 2; travel++) {
        act(g, PRACTICE_RUN, 0, 0, g->p.gap_at_nm[travel]);
        for (int i = travel; i < CORNERS; i += 2)
            ret[i] = act(g, PRACTICE_READ_GAP, i / 4, i % 4 < 2 ? 1 : 0, 0);
    }
}

static bool advise(struct game *g, const int64_t gaps[CORNERS], double u, double risk)
{
    struct truing_point points[CORNERS];
    struct truing_adjuster adjusters[ADJUSTERS];
    int64_t effect[ADJUSTERS * CORNERS];
    struct truing_problem problem;
    size_t at = 0;
    if (g->err == ERR_OK)
        g->err = practice_problem(&g->p, gaps, u, risk, points, adjusters, effect, &problem);
    if (g->err == ERR_OK)
        g->err = truing_solve(&problem, g->room, g->size, &g->answer, &at);
    return g->err == ERR_OK;
}

static bool is_all_inside(const struct game *g, const int64_t gaps[CORNERS])
{
    for (int i = 0; i < CORNERS; i++)
        if (gaps[i] < g->p.limits.gap_low_nm || gaps[i] > g->p.limits.gap_high_nm)
            return false;
    return true;
}

static int apply(struct game *g)
{
    const int32_t *steps = g->answer.plans[0].steps;
    int n = 0;
    for (int a = 0; a < ADJUSTERS; a++)
        n += steps[a] != 0;
    if (n == 0)
        return 0;
    stand(g, true);
    for (int a = 0; a < ADJUSTERS; a++) {
        if (steps[a] == 0)
            continue;
        if (a < 4)
            act(g, PRACTICE_PACK, a / 2, a % 2 == 0, steps[a]);
        else
            act(g, PRACTICE_TURN_TOE, a - 4, 0, steps[a]);
    }
    stand(g, false);
    return n;
}

/* Gaps that no packing explains, or a room that scrapes: a rack that was out by teeth slips on the way in and back on the way out.
 * It goes in new. */
static bool has_slipped(const struct game *g, const int64_t gaps[CORNERS])
{
    for (int i = 0; i < CORNERS; i++)
        if (llabs(gaps[i] - g->p.limits.gap_nominal_nm) > 15 * MM)
            return g->has_lost[0] || g->has_lost[1] || g->has_lost[2] || g->has_lost[3];
    return false;
}

static void mend_slip(struct game *g)
{
    act(g, PRACTICE_RUN, 0, 0, stop_nm(g));
    stand(g, true);
    for (int i = 0; i < 4; i++) {
        if (!g->has_lost[i])
            continue;
        act(g, PRACTICE_RENEW_RACK, i / 2, i % 2, 0);
        const int64_t teeth = act(g, PRACTICE_COUNT, i / 2, i % 2, 0);
        if (teeth != 0)
            act(g, PRACTICE_JUMP, i / 2, i % 2, -teeth);
    }
    stand(g, false);
}

static void true_gaps(struct game *g)
{
    for (int round = 0; round < ROUNDS; round++) {
        int64_t gaps[CORNERS];
        read_gaps(g, gaps);
        if (round == 0 && has_slipped(g, gaps)) {
            mend_slip(g);
            read_gaps(g, gaps);
        }
        if (round > 0 && is_all_inside(g, gaps))
            return;
        if (!advise(g, gaps, tape_u(&g->p.tape), RISK))
            return;
        const struct conform_limits guarded = g->answer.guarded[0];
        if (round == 0 && g->answer.bound_violation > 2 * (guarded.low - g->p.limits.gap_low_nm)) {
            g->log->says_cannot = true;
            return;
        }
        if (apply(g) == 0)
            return;
    }
}

/* ---- the account --------------------------------------------------------------------------- */

static void account(struct game *g, const struct exercise *x)
{
    int64_t gaps[CORNERS];
    struct solve *s = g->log;
    if (g->err == ERR_OK)
        g->err = practice_score(&g->p, &s->score);
    if (g->err == ERR_OK)
        g->err = practice_gaps(&g->p, gaps);
    if (!advise(g, gaps, 0.0, 0.0))
        return;
    s->least_out_nm = g->answer.bound_violation;
    s->truly_cannot =
        s->least_out_nm > 0 && (s->score.inside | PRACTICE_INSIDE_GAPS) == PRACTICE_INSIDE_ALL;
    s->is_reached = exercise_reached(x, &s->score);
}

enum err solve_exercise(const struct exercise *x, struct solve *ret)
{
    struct game *g = calloc(1, sizeof *g);
    if (g == NULL)
        return ERR_MEMORY;
    *ret = (struct solve){0};
    g->log = ret;
    g->size = truing_workspace(CORNERS, ADJUSTERS);
    g->room = malloc(g->size);
    g->err = g->room == NULL ? ERR_MEMORY : exercise_plant(x, &g->p);
    if (g->err == ERR_OK) {
        mend_drive(g);
        mend_racks(g);
        check_tape(g);
        true_gaps(g);
        act(g, PRACTICE_RUN, 0, 0, 0);
        act(g, PRACTICE_FINISH, 0, 0, 0);
        account(g, x);
    }
    const enum err e = g->err;
    free(g->room);
    free(g);
    return e;
}

/* ---- proof --------------------------------------------------------------------------------- */

static void complain(struct fault_list *faults, const char *name, const struct exercise *x,
                     const char *key, bool is_warning, const char *message)
{
    const struct yamlnode *node = yamlnode_get(x->node, key);
    struct fault f = {.line = node != NULL ? node->key_line : x->node->line,
                      .column = node != NULL ? node->key_column : x->node->column};
    snprintf(f.file, sizeof f.file, "%s", name);
    yamlnode_path(node != NULL ? node : x->node, f.path, sizeof f.path);
    fault_set(&f, ERR_DOMAIN, "%s", message);
    fault_list_add(faults, &f, is_warning);
}

static void judge_cannot(const struct exercise *x, const struct solve *s, const char *name,
                         struct fault_list *faults)
{
    char message[FAULT_MESSAGE_MAX];
    if (!s->truly_cannot) {
        snprintf(message, sizeof message,
                 "the goal says that the unit cannot be brought in, but it can, in %d moves and "
                 "%lld minutes: make the faults worse, or the goal another",
                 (int)s->score.n_moves, (long long)((s->score.seconds + 59) / 60));
        complain(faults, name, x, "goal", false, message);
    } else if (!s->says_cannot) {
        complain(faults, name, x, "goal", false,
                 "the unit cannot be brought in, but only just: by readings of usual uncertainty "
                 "nobody can be sure of it; make the faults worse");
    } else {
        snprintf(message, sizeof message,
                 "this unit cannot be brought in (at best a gap stays %.1f mm out), as the goal "
                 "says: it is solved by its question alone",
                 (double)s->least_out_nm / (double)MM);
        complain(faults, name, x, "goal", true, message);
    }
}

static void judge_limits(const struct exercise *x, const struct solve *s, const char *name,
                         struct fault_list *faults)
{
    char message[FAULT_MESSAGE_MAX];
    const long long minutes = (s->score.seconds + 59) / 60;
    const uint32_t bits = exercise_goal_bits(x);
    if ((s->score.inside & bits) != bits)
        snprintf(message, sizeof message,
                 "the plain good procedure does not solve this: after %lld minutes and %d moves "
                 "it is still out%s (`mendwright practice solve` shows what it does)",
                 minutes, (int)s->score.n_moves,
                 s->says_cannot ? ", and cannot be brought in" : "");
    else if (s->score.n_moves > x->limits.moves)
        snprintf(message, sizeof message,
                 "the plain good procedure takes %d moves, the limits allow %d: allow more",
                 (int)s->score.n_moves, (int)x->limits.moves);
    else
        snprintf(message, sizeof message,
                 "the plain good procedure takes %lld minutes, the limits allow %d: allow more",
                 minutes, (int)x->limits.minutes);
    complain(faults, name, x, (s->score.inside & bits) == bits ? "limits" : "faults", false,
             message);
}

/* Finished at once, with nothing done. */
static bool is_idle_enough(const struct exercise *x)
{
    const struct replay_op finish = {PRACTICE_FINISH, 0, 0, 0};
    struct replay r;
    size_t at = 0;
    const uint32_t bits = exercise_goal_bits(x);
    return replay_run(x, &finish, 1, NULL, &r, &at) == ERR_OK && (r.score.inside & bits) == bits;
}

enum err solve_prove(const struct exercise_set *set, const char *name, struct fault_list *faults)
{
    struct solve *s = malloc(sizeof *s);
    enum err e = s == NULL ? ERR_MEMORY : ERR_OK;
    for (size_t i = 0; e == ERR_OK && i < set->exercises.n; i++) {
        const struct exercise *x = &set->exercises.at[i];
        const bool is_cannot = exercise_has_goal(x, EXERCISE_CANNOT);
        e = solve_exercise(x, s);
        if (e == ERR_DOMAIN || e == ERR_LIMIT) {
            complain(faults, name, x, "faults", false,
                     "with these faults the practice model cannot be worked to an end");
            e = ERR_OK;
            continue;
        }
        if (e != ERR_OK)
            break;
        if (is_cannot)
            judge_cannot(x, s, name, faults);
        if (!s->is_reached)
            judge_limits(x, s, name, faults);
        if (!is_cannot && is_idle_enough(x))
            complain(faults, name, x, "faults", false,
                     "solved by doing nothing: the goal holds before anything is done; make the "
                     "faults worse, or the goal stricter");
    }
    free(s);
    fault_list_sort(faults);
    return e;
}

struct exercise_set *solve_load(const char *text, size_t n, const char *name,
                                struct fault_list *faults)
{
    struct exercise_set *set = exercise_set_load(text, n, name, faults);
    if (set != NULL && solve_prove(set, name, faults) != ERR_OK)
        faults->is_out_of_memory = true;
    if (faults->n_faults == 0 && !faults->is_out_of_memory)
        return set;
    exercise_set_free(set);
    return NULL;
}
