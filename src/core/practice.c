/* practice: owns operations, sight and account of the unit that people learn on; rules in practice.h, planting in practice_plant.c. */
#include "core/practice.h"

#include <math.h>

#define MM_NM     INT64_C(1000000)
#define M_NM      1e9
#define NANO      1e9
#define BLOCK_NM  (100 * MM_NM)
#define AT_MARK_M 0.005 /* near enough to a reading extension */
#define APART_M   0.005

enum { SIDES = MECHANISM_SIDES, RACKS = MECHANISM_RACKS, HEIGHTS = MECHANISM_HEIGHTS };

static bool is_within(int64_t value, int64_t least, int64_t most)
{
    return value >= least && value <= most;
}

static bool is_place(int side, int place)
{
    return is_within(side, 0, SIDES - 1) && is_within(place, 0, RACKS - 1);
}

static int64_t op_seconds(enum practice_op op, int64_t steps)
{
    static const int64_t costs[PRACTICE_OP_N][2] = {
#define X(symbol, number, id, once, each) [symbol] = {once, each},
        PRACTICE_OP_TABLE(X)
#undef X
    };
    return costs[op][0] + costs[op][1] * (steps < 0 ? -steps : steps);
}

/* ---- where it stands ----------------------------------------------------------------------- */

static double middle_m(const struct practice *p)
{
    return (p->at_m[MECHANISM_FORE] + p->at_m[MECHANISM_AFT]) / 2.0;
}

int64_t practice_extension(const struct practice *p)
{
    return (int64_t)floor(middle_m(p) * M_NM + 0.5);
}

struct mechanism_state practice_stance(const struct practice *p)
{
    struct mechanism_state state = p->state;
    state.yaw_per_m += drive_yaw_nm_per_m(&p->m, p->at_m[MECHANISM_FORE] - p->at_m[MECHANISM_AFT]);
    return state;
}

/* 0 or 1 when both sides stand at that reading extension, else -1. */
static int gap_travel(const struct practice *p)
{
    for (int i = 0; i < 2; i++) {
        const double mark = (double)p->gap_at_nm[i] / M_NM;
        if (fabs(p->at_m[0] - mark) <= AT_MARK_M && fabs(p->at_m[1] - mark) <= AT_MARK_M)
            return i;
    }
    return -1;
}

static bool is_at_stop(const struct practice *p)
{
    return fabs(p->at_m[0] - p->drive.travel_m) <= AT_MARK_M &&
           fabs(p->at_m[1] - p->drive.travel_m) <= AT_MARK_M;
}

uint32_t practice_visible(const struct practice *p)
{
    uint32_t seen = 0;
    if (gap_travel(p) >= 0)
        seen |= PRACTICE_SEE_GAPS;
    if (is_at_stop(p))
        seen |= PRACTICE_SEE_ENDS;
    if (p->has_run)
        seen |= PRACTICE_SEE_METER;
    if (fabs(p->at_m[0] - p->at_m[1]) > APART_M)
        seen |= PRACTICE_SEE_APART;
    if (p->is_scraping)
        seen |= PRACTICE_SEE_SCRAPE;
    return seen;
}

enum err practice_gaps(const struct practice *p, int64_t ret[MECHANISM_CORNERS])
{
    return mechanism_corners(&p->m, &p->state, p->gap_at_nm[0], p->gap_at_nm[1], ret);
}

/* ---- reading ------------------------------------------------------------------------------- */

static int corner_of(int side, int height, int travel)
{
    return side * 4 + (height == MECHANISM_UPPER ? 0 : 2) + travel;
}

static enum err read_length(struct practice *p, const struct tape *with, uint64_t place,
                            int64_t true_nm, int64_t *ret_nm)
{
    uint64_t stream[4];
    tape_stream(p->seed, place, p->n_taken, stream);
    const enum err e = tape_read(with, true_nm, stream, ret_nm);
    if (e == ERR_OK)
        p->n_taken++;
    return e;
}

static enum err read_gap(struct practice *p, int side, int height, struct practice_result *ret)
{
    const int travel = gap_travel(p);
    int64_t gap = 0;
    if (travel < 0) {
        ret->refusal = PRACTICE_NOT_HERE;
        return ERR_OK;
    }
    const struct mechanism_state state = practice_stance(p);
    const int corner = corner_of(side, height, travel);
    enum err e = mechanism_gap(&p->m, &state, (enum mechanism_side)side,
                               p->m.reading_height[height], practice_extension(p), &gap);
    if (e == ERR_OK)
        e = read_length(p, &p->tape, (uint64_t)corner, gap, &ret->nano);
    if (e == ERR_OK)
        p->gaps_read |= UINT32_C(1) << corner;
    return e;
}

static enum err end_nm(const struct practice *p, int side, int rack, int64_t *ret_nm)
{
    int64_t end = 0;
    const enum err e = mechanism_rack_end(&p->m, &p->state, (enum mechanism_side)side, rack, &end);
    if (e == ERR_OK)
        *ret_nm = end + p->cut_nm[side][rack];
    return e;
}

static enum err read_end(struct practice *p, int side, int rack, struct practice_result *ret)
{
    int64_t end = 0;
    if (!is_at_stop(p)) {
        ret->refusal = PRACTICE_NOT_HERE;
        return ERR_OK;
    }
    const enum err e = end_nm(p, side, rack, &end);
    return e == ERR_OK ? read_length(p, &p->end_gauge, 16U + (uint64_t)(side * RACKS + rack), end,
                                     &ret->nano)
                       : e;
}

static void read_meter(const struct practice *p, enum practice_op op, int side,
                       struct practice_result *ret)
{
    if (!p->has_run) {
        ret->refusal = PRACTICE_RUN_FIRST;
        return;
    }
    /* A meter to 0.1 V, 0.1 A, a watch to 0.1 s. */
    const double shown = op == PRACTICE_READ_VOLTS  ? p->run.motor_v[side]
                         : op == PRACTICE_READ_AMPS ? p->run.feed_a
                                                    : p->run.time_s;
    ret->nano = (int64_t)(floor(shown * 10.0 + 0.5) * (NANO / 10.0));
}

/* ---- running ------------------------------------------------------------------------------- */

/* What each rack holds with the teeth it has in mesh; no less than 1 N, for 0 means any load. */
static enum err set_holds(struct practice *p)
{
    const int64_t ends[2] = {0, (int64_t)(p->drive.travel_m * M_NM)};
    for (int side = 0; side < SIDES; side++)
        for (int k = 0; k < RACKS; k++)
            for (int i = 0; i < 2; i++) {
                double hold = 0.0;
                const enum err e = drive_hold(&p->m, &p->state, (enum mechanism_side)side, k,
                                              ends[i], p->hold_n, &hold);
                if (e != ERR_OK)
                    return e;
                p->drive.side[side].hold_n[k][i] = hold < 1.0 ? 1.0 : hold;
            }
    return ERR_OK;
}

static int32_t clamped_teeth(int64_t teeth)
{
    return (int32_t)(teeth > MECHANISM_TEETH_MAX    ? MECHANISM_TEETH_MAX
                     : teeth < -MECHANISM_TEETH_MAX ? -MECHANISM_TEETH_MAX
                                                    : teeth);
}

/* What slipped and crept falls behind the motion. */
static void fall_behind(struct practice *p, bool is_out)
{
    const int sign = is_out ? -1 : 1;
    for (int side = 0; side < SIDES; side++)
        for (int k = 0; k < RACKS; k++) {
            p->state.teeth[side][k] = clamped_teeth((int64_t)p->state.teeth[side][k] +
                                                    sign * (int64_t)p->run.skips[side][k]);
            const double crept = p->run.creep_m[side][k] * M_NM;
            p->state.creep[side][k] += sign * (int64_t)floor(crept + 0.5);
        }
}

static bool is_scraping(const struct practice *p)
{
    const struct mechanism_state state = practice_stance(p);
    for (int side = 0; side < SIDES; side++)
        for (int h = 0; h < HEIGHTS; h++) {
            int64_t gap = 0;
            if (mechanism_gap(&p->m, &state, (enum mechanism_side)side, p->m.reading_height[h],
                              practice_extension(p), &gap) != ERR_OK ||
                gap <= 0)
                return true;
        }
    return false;
}

static uint32_t skipped(struct practice *p, enum practice_caution caution)
{
    p->cautions |= UINT32_C(1) << caution;
    p->n_skipped[caution]++;
    return UINT32_C(1) << caution;
}

static enum practice_refusal pose_run(const struct practice *p, int64_t to_nm,
                                      struct drive_ask *ret)
{
    const double to = (double)to_nm / M_NM, at = middle_m(p);
    if (p->is_isolated)
        return PRACTICE_NO_POWER;
    if (to_nm < 0 || to > p->drive.travel_m)
        return PRACTICE_NO_RANGE;
    if (to >= at && to <= at)
        return PRACTICE_AS_IT_IS;
    *ret = (struct drive_ask){.is_out = to > at, .to = to};
    ret->is_reversal = ret->is_out != p->is_last_out;
    for (int i = 0; i < SIDES; i++)
        ret->from[i] = p->at_m[i];
    return PRACTICE_FINE;
}

enum err practice_trace(const struct practice *p, int64_t to_nm, double every_s,
                        struct drive_sample *samples, size_t n, struct drive_run *ret)
{
    struct practice copy = *p;
    struct drive_ask ask;
    if (p->is_finished || pose_run(p, to_nm, &ask) != PRACTICE_FINE)
        return ERR_DOMAIN;
    const enum err e = set_holds(&copy);
    return e == ERR_OK ? drive_go(&copy.drive, &ask, every_s, samples, n, ret) : e;
}

static enum err run_to(struct practice *p, int64_t to_nm, struct practice_result *ret)
{
    struct drive_ask ask;
    struct practice next = *p;
    ret->refusal = pose_run(p, to_nm, &ask);
    if (ret->refusal != PRACTICE_FINE)
        return ERR_OK;
    enum err e = set_holds(&next);
    if (e == ERR_OK)
        e = drive_go(&next.drive, &ask, 1.0, NULL, 0, &next.run);
    if (e != ERR_OK)
        return e;
    *p = next;
    if (p->is_supported)
        ret->cautions |= skipped(p, PRACTICE_ON_STANDS);
    for (int i = 0; i < SIDES; i++)
        p->at_m[i] = p->run.at_m[i];
    fall_behind(p, ask.is_out);
    p->is_last_out = ask.is_out;
    p->has_run = true;
    p->is_scraping = is_scraping(p);
    p->runs_done |= ask.is_out ? 2U : 1U;
    p->n_runs++;
    ret->seconds += (int64_t)ceil(p->run.time_s);
    return ERR_OK;
}

/* ---- moving -------------------------------------------------------------------------------- */

static void changed(struct practice *p)
{
    p->has_run = false;
    p->gaps_read = p->runs_done = 0;
    p->n_moves++;
}

static enum practice_refusal adjust(struct practice *p, int adjuster, int32_t *value, int64_t most,
                                    int64_t amount)
{
    if (amount == 0)
        return PRACTICE_AS_IT_IS;
    if (!is_within(amount, -2 * most, 2 * most) ||
        !is_within(p->moved[adjuster] + amount, -most, most) ||
        !is_within(*value + amount, -MECHANISM_STEPS_MAX, MECHANISM_STEPS_MAX))
        return PRACTICE_NO_RANGE;
    p->moved[adjuster] += (int32_t)amount;
    *value += (int32_t)amount;
    return PRACTICE_FINE;
}

static enum practice_refusal jump(struct practice *p, int side, int rack, int64_t amount)
{
    int32_t *teeth = &p->state.teeth[side][rack];
    if (!is_at_stop(p))
        return PRACTICE_NOT_HERE;
    if (amount == 0)
        return PRACTICE_AS_IT_IS;
    if (!is_within(amount, -PRACTICE_JUMP_MOST, PRACTICE_JUMP_MOST) ||
        !is_within(*teeth + amount, -MECHANISM_TEETH_MAX, MECHANISM_TEETH_MAX))
        return PRACTICE_NO_RANGE;
    *teeth += (int32_t)amount;
    p->jumped[side][rack] += (int32_t)amount;
    return PRACTICE_FINE;
}

/* Puts one part right as the perfect unit has it. */
static enum practice_refusal renew(struct practice *p, enum practice_op op, int side, int rack)
{
    struct drive_side *s = &p->drive.side[side];
    struct drive perfect;
    drive_invented(&perfect);
    switch (op) {
    case PRACTICE_RENEW_RACK:
        p->cut_nm[side][rack] = p->state.wear[side][rack] = 0;
        return is_at_stop(p) ? PRACTICE_FINE : PRACTICE_NOT_HERE;
    case PRACTICE_RENEW_KEY:
        s->key_n_m[rack] = 0.0;
        p->state.creep[side][rack] = 0;
        return is_at_stop(p) ? PRACTICE_FINE : PRACTICE_NOT_HERE;
    case PRACTICE_EASE:
        s->friction_n[rack] = perfect.side[side].friction_n[rack];
        return PRACTICE_FINE;
    case PRACTICE_RENEW_LEAD:
        s->lead_ohm = perfect.side[side].lead_ohm;
        return PRACTICE_FINE;
    default:
        p->drive.supply_v = perfect.supply_v;
        return PRACTICE_FINE;
    }
}

static bool needs_stands(enum practice_op op)
{
    return op == PRACTICE_JUMP || op == PRACTICE_PACK || op == PRACTICE_TURN_TOE ||
           op == PRACTICE_RENEW_RACK || op == PRACTICE_RENEW_KEY;
}

static bool needs_isolation(enum practice_op op)
{
    return needs_stands(op) || op == PRACTICE_COUNT || op == PRACTICE_EASE ||
           op == PRACTICE_RENEW_LEAD;
}

/* Order of the six: fore upper, fore lower, aft upper, aft lower packing, fore toe, aft toe. */
static int packing_of(int side, int height)
{
    return side * 2 + (height == MECHANISM_UPPER ? 0 : 1);
}

static enum practice_refusal move_part(struct practice *p, enum practice_op op, int side, int place,
                                       int64_t amount)
{
    if (op == PRACTICE_JUMP)
        return jump(p, side, place, amount);
    if (op == PRACTICE_PACK)
        return adjust(p, packing_of(side, place), &p->state.packing[side][place],
                      PRACTICE_PACK_MOST, amount);
    if (op == PRACTICE_TURN_TOE)
        return adjust(p, 4 + side, &p->state.toe[side], PRACTICE_TOE_MOST, amount);
    return renew(p, op, side, place);
}

static enum practice_refusal set_switch(bool *is_on, int64_t amount)
{
    if (*is_on == (amount != 0))
        return PRACTICE_AS_IT_IS;
    *is_on = amount != 0;
    return PRACTICE_FINE;
}

static void finish(struct practice *p, struct practice_result *ret)
{
    if (p->runs_done != 3U)
        ret->cautions |= skipped(p, PRACTICE_NOT_RUN);
    if (p->gaps_read != PRACTICE_INSIDE_GAPS)
        ret->cautions |= skipped(p, PRACTICE_NOT_READ);
    p->is_finished = true;
}

static enum err perform(struct practice *p, enum practice_op op, int side, int place,
                        int64_t amount, struct practice_result *ret)
{
    switch (op) {
    case PRACTICE_RUN:
        return run_to(p, amount, ret);
    case PRACTICE_READ_GAP:
        return read_gap(p, side, place, ret);
    case PRACTICE_READ_END:
        return read_end(p, side, place, ret);
    case PRACTICE_CHECK_TAPE:
        return read_length(p, &p->tape, 32U, BLOCK_NM, &ret->nano);
    case PRACTICE_COUNT:
        ret->refusal = is_at_stop(p) ? PRACTICE_FINE : PRACTICE_NOT_HERE;
        ret->nano = p->state.teeth[side][place];
        break;
    case PRACTICE_READ_VOLTS:
    case PRACTICE_READ_AMPS:
    case PRACTICE_READ_TIME:
        read_meter(p, op, side, ret);
        break;
    case PRACTICE_CHANGE_TAPE:
        tape_gap_gauge(&p->tape);
        break;
    case PRACTICE_SUPPORT:
        ret->refusal = set_switch(&p->is_supported, amount);
        break;
    case PRACTICE_ISOLATE:
        ret->refusal = set_switch(&p->is_isolated, amount);
        break;
    case PRACTICE_FINISH:
        finish(p, ret);
        break;
    default:
        ret->refusal = move_part(p, op, side, place, amount);
        if (ret->refusal == PRACTICE_FINE)
            changed(p);
        break;
    }
    return ERR_OK;
}

static bool is_reading(enum practice_op op)
{
    return op >= PRACTICE_READ_GAP && op <= PRACTICE_CHECK_TAPE;
}

enum err practice_do(struct practice *p, enum practice_op op, int side, int place, int64_t amount,
                     struct practice_result *ret)
{
    if (practice_op_id((int)op) == NULL || !is_place(side, place))
        return ERR_DOMAIN;
    struct practice_result result = {.refusal = p->is_finished ? PRACTICE_OVER : PRACTICE_FINE};
    struct practice next = *p;
    if (!p->is_finished) {
        const enum err e = perform(&next, op, side, place, amount, &result);
        if (e != ERR_OK)
            return e;
    }
    if (result.refusal != PRACTICE_FINE) {
        *ret = (struct practice_result){.refusal = result.refusal};
        return ERR_OK;
    }
    if (needs_stands(op) && !p->is_supported)
        result.cautions |= skipped(&next, PRACTICE_UNSUPPORTED);
    if (needs_isolation(op) && !p->is_isolated)
        result.cautions |= skipped(&next, PRACTICE_LIVE);
    const bool has_steps = op == PRACTICE_JUMP || op == PRACTICE_PACK || op == PRACTICE_TURN_TOE;
    result.seconds += op_seconds(op, has_steps ? amount : 0);
    next.seconds += result.seconds;
    next.n_readings += is_reading(op);
    *p = next;
    *ret = result;
    return ERR_OK;
}

/* ---- advice and account -------------------------------------------------------------------- */

static void set_adjuster(const struct practice *p, int a, struct truing_adjuster *adjuster,
                         struct mechanism_state *moved)
{
    const bool is_toe = a >= 4;
    const int32_t most = is_toe ? PRACTICE_TOE_MOST : PRACTICE_PACK_MOST;
    *moved = (struct mechanism_state){0};
    if (is_toe)
        moved->toe[a - 4] = 1;
    else
        moved->packing[a / 2][a % 2 == 0 ? MECHANISM_UPPER : MECHANISM_LOWER] = 1;
    *adjuster = (struct truing_adjuster){
        .min = -most - p->moved[a] < 0 ? -most - p->moved[a] : 0,
        .max = most - p->moved[a] > 0 ? most - p->moved[a] : 0,
        .setup_s = op_seconds(is_toe ? PRACTICE_TURN_TOE : PRACTICE_PACK, 0),
        .step_s = op_seconds(is_toe ? PRACTICE_TURN_TOE : PRACTICE_PACK, 1) -
                  op_seconds(is_toe ? PRACTICE_TURN_TOE : PRACTICE_PACK, 0)};
}

enum err practice_problem(const struct practice *p, const int64_t readings[MECHANISM_CORNERS],
                          double u, double risk, struct truing_point *points,
                          struct truing_adjuster *adjusters, int64_t *effect,
                          struct truing_problem *ret)
{
    const struct mechanism_state none = {0};
    int64_t before[MECHANISM_CORNERS], after[MECHANISM_CORNERS];
    enum err e = mechanism_corners(&p->m, &none, p->gap_at_nm[0], p->gap_at_nm[1], before);
    for (int a = 0; e == ERR_OK && a < PRACTICE_ADJUSTERS; a++) {
        struct mechanism_state moved;
        set_adjuster(p, a, &adjusters[a], &moved);
        e = mechanism_corners(&p->m, &moved, p->gap_at_nm[0], p->gap_at_nm[1], after);
        for (int i = 0; e == ERR_OK && i < MECHANISM_CORNERS; i++)
            effect[a * MECHANISM_CORNERS + i] = after[i] - before[i];
    }
    if (e != ERR_OK)
        return e;
    for (int i = 0; i < MECHANISM_CORNERS; i++)
        points[i] = (struct truing_point){.nominal = p->limits.gap_nominal_nm,
                                          .low = p->limits.gap_low_nm,
                                          .high = p->limits.gap_high_nm,
                                          .reading = readings[i],
                                          .u = u};
    *ret = (struct truing_problem){.n_points = MECHANISM_CORNERS,
                                   .n_adjusters = PRACTICE_ADJUSTERS,
                                   .points = points,
                                   .adjusters = adjusters,
                                   .effect = effect,
                                   .has_guard = risk > 0.0,
                                   .risk = risk,
                                   .n_plans = 1};
    return ERR_OK;
}

static uint32_t gaps_inside(const struct practice *p, const int64_t gaps[MECHANISM_CORNERS],
                            int64_t *ret_worst)
{
    uint32_t inside = 0;
    *ret_worst = INT64_MAX;
    for (int i = 0; i < MECHANISM_CORNERS; i++) {
        const int64_t low = gaps[i] - p->limits.gap_low_nm, high = p->limits.gap_high_nm - gaps[i];
        const int64_t margin = low < high ? low : high;
        inside |= (uint32_t)(margin >= 0) << i;
        *ret_worst = margin < *ret_worst ? margin : *ret_worst;
    }
    return inside;
}

static bool has_slipped(const struct drive_run *run, int side)
{
    bool has = false;
    for (int k = 0; k < RACKS; k++)
        has = has || run->skips[side][k] != 0;
    return has;
}

/* A run out and one in on a copy, from stop to stop. *ret_slipped: the ends' bits of sides whose racks lose teeth on the way: they
 * may stand in step now, but do not stay so. */
static enum err runs_inside(const struct practice *p, uint32_t *ret_inside, uint32_t *ret_slipped)
{
    const struct practice_limits *l = &p->limits;
    struct practice copy = *p;
    struct drive_run out, in;
    const double travel = p->drive.travel_m;
    const struct drive_ask ask_out = {.is_out = true, .to = travel},
                           ask_in = {.is_out = false, .from = {travel, travel}, .to = 0.0};
    enum err e = set_holds(&copy);
    if (e == ERR_OK)
        e = drive_go(&copy.drive, &ask_out, 1.0, NULL, 0, &out);
    if (e == ERR_OK)
        e = drive_go(&copy.drive, &ask_in, 1.0, NULL, 0, &in);
    if (e != ERR_OK)
        return e;
    const bool is_there = out.end == DRIVE_ARRIVED && in.end == DRIVE_ARRIVED;
    for (int i = 0; i < SIDES; i++)
        if (has_slipped(&out, i) || has_slipped(&in, i))
            *ret_slipped |= UINT32_C(1) << (8 + i);
    bool has_volts = is_there,
         has_amps = is_there && out.feed_a <= l->amps_out && in.feed_a <= l->amps_in;
    for (int i = 0; i < SIDES; i++)
        has_volts = has_volts && out.motor_v[i] >= l->volts_low && out.motor_v[i] <= l->volts_high;
    const bool has_time = is_there && out.time_s >= l->time_low_s && out.time_s <= l->time_high_s;
    *ret_inside = (has_volts ? (uint32_t)PRACTICE_INSIDE_VOLTS : 0U) |
                  (has_amps ? (uint32_t)PRACTICE_INSIDE_AMPS : 0U) |
                  (has_time ? (uint32_t)PRACTICE_INSIDE_TIME : 0U);
    return ERR_OK;
}

static uint32_t racks_inside(const struct practice *p)
{
    uint32_t inside = 0;
    bool is_keyed = true;
    for (int side = 0; side < SIDES; side++) {
        int64_t lower = 0, upper = 0;
        if (end_nm(p, side, 0, &lower) == ERR_OK && end_nm(p, side, 1, &upper) == ERR_OK) {
            const int64_t apart = upper > lower ? upper - lower : lower - upper;
            inside |= (uint32_t)(apart <= p->limits.end_limit_nm) << (8 + side);
        }
        for (int k = 0; k < RACKS; k++)
            is_keyed = is_keyed && p->drive.side[side].key_n_m[k] <= 0.0;
    }
    return inside | (is_keyed ? (uint32_t)PRACTICE_INSIDE_KEYS : 0U);
}

enum err practice_score(const struct practice *p, struct practice_score *ret)
{
    struct practice_score score = {.cautions = p->cautions,
                                   .n_moves = p->n_moves,
                                   .n_readings = p->n_readings,
                                   .n_runs = p->n_runs,
                                   .seconds = p->seconds};
    int64_t gaps[MECHANISM_CORNERS];
    uint32_t of_runs = 0, slipped = 0;
    enum err e = practice_gaps(p, gaps);
    if (e == ERR_OK)
        e = runs_inside(p, &of_runs, &slipped);
    if (e != ERR_OK)
        return e;
    for (int i = 0; i < PRACTICE_CAUTION_N; i++)
        score.n_cautions += p->n_skipped[i];
    score.inside =
        gaps_inside(p, gaps, &score.worst_gap_nm) | (racks_inside(p) & ~slipped) | of_runs;
    score.is_inside = score.inside == PRACTICE_INSIDE_ALL;
    *ret = score;
    return ERR_OK;
}
