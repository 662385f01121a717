/* practice_plant: owns the names of faults and operations, and the planting of faults by list and by seed; rules in practice.h. */
#include "core/normal.h"
#include "core/practice.h"
#include "core/xoshiro.h"

#include <math.h>

#define MM_NM      INT64_C(1000000)
#define CREEP_KEY  6.0 /* N m that a shallow key seat holds */
#define AMOUNT_MAX INT64_C(1000000000)

enum { SIDES = MECHANISM_SIDES, RACKS = MECHANISM_RACKS, HEIGHTS = MECHANISM_HEIGHTS };

/* ---- names --------------------------------------------------------------------------------- */

const char *practice_fault_id(int kind)
{
    switch (kind) {
#define X(symbol, number, id)                                                                      \
    case number:                                                                                   \
        return id;
        PRACTICE_FAULT_TABLE(X)
#undef X
    default:
        return NULL;
    }
}

const char *practice_op_id(int op)
{
    switch (op) {
#define X(symbol, number, id, once, each)                                                          \
    case number:                                                                                   \
        return id;
        PRACTICE_OP_TABLE(X)
#undef X
    default:
        return NULL;
    }
}

const char *practice_refusal_id(int refusal)
{
    switch (refusal) {
#define X(symbol, number, id)                                                                      \
    case number:                                                                                   \
        return id;
        PRACTICE_REFUSAL_TABLE(X)
#undef X
    default:
        return NULL;
    }
}

const char *practice_caution_id(int caution)
{
    switch (caution) {
#define X(symbol, number, id)                                                                      \
    case number:                                                                                   \
        return id;
        PRACTICE_CAUTION_TABLE(X)
#undef X
    default:
        return NULL;
    }
}

/* ---- planting ------------------------------------------------------------------------------ */

void practice_perfect(uint64_t seed, struct practice *ret)
{
    *ret = (struct practice){
        .seed = seed,
        .limits = {.gap_nominal_nm = 58 * MM_NM,
                   .gap_low_nm = 56 * MM_NM,
                   .gap_high_nm = 61 * MM_NM,
                   .end_limit_nm = 6 * MM_NM / 5,
                   .volts_low = 11.8,
                   .volts_high = 14.8,
                   .amps_out = 22.0,
                   .amps_in = 24.0,
                   .time_low_s = 24.0,
                   .time_high_s = 34.0},
        .gap_at_nm = {150 * MM_NM, 960 * MM_NM},
        .hold_n = 2000.0,
    };
    mechanism_invented(&ret->m);
    drive_invented(&ret->drive);
    tape_gap_gauge(&ret->tape);
    tape_end_gauge(&ret->end_gauge);
}

void practice_open_up(struct mechanism *m, struct mechanism_state *state, int64_t width_nm,
                      int64_t taper_nm, int64_t lean_nm, int64_t twist_per_m)
{
    for (int h = 0; h < HEIGHTS; h++) {
        const int64_t up = h == MECHANISM_UPPER ? 1 : -1;
        m->edge[MECHANISM_FORE][h] += width_nm / 2 + up * (taper_nm / 4) + up * (lean_nm / 2);
        m->edge[MECHANISM_AFT][h] += width_nm / 2 + up * (taper_nm / 4) - up * (lean_nm / 2);
    }
    state->twist_per_m -= twist_per_m;
}

static bool is_within(int64_t value, int64_t least, int64_t most)
{
    return value >= least && value <= most;
}

static bool is_place(int side, int place)
{
    return is_within(side, 0, SIDES - 1) && is_within(place, 0, RACKS - 1);
}

/* Faults of one rack, fixing or side. */
static void plant_local(struct practice *p, const struct practice_fault *f)
{
    struct mechanism_state *state = &p->state;
    struct drive_side *side = &p->drive.side[f->side];
    switch (f->kind) {
    case PRACTICE_TEETH:
        state->teeth[f->side][f->place] += (int32_t)f->amount;
        break;
    case PRACTICE_CUT:
        p->cut_nm[f->side][f->place] += f->amount;
        break;
    case PRACTICE_KEY:
        state->creep[f->side][f->place] += f->amount;
        side->key_n_m[f->place] = CREEP_KEY;
        break;
    case PRACTICE_PACKING:
        state->packing[f->side][f->place] += (int32_t)f->amount;
        break;
    case PRACTICE_TOE:
        state->toe[f->side] += (int32_t)f->amount;
        break;
    case PRACTICE_WEAR:
        state->wear[f->side][f->place] += f->amount;
        break;
    case PRACTICE_LEAD:
        side->lead_ohm += (double)f->amount * 1e-6;
        break;
    case PRACTICE_DRAG:
        side->friction_n[f->place] += (double)f->amount;
        break;
    default:
        break;
    }
}

/* Whoever reads badly reads with the steel tape. */
static void take_tape(struct tape *t)
{
    struct tape steel;
    tape_of_steel(&steel);
    t->resolution_nm = steel.resolution_nm;
    t->repeat_nm = steel.repeat_nm;
    t->calibration_nm = steel.calibration_nm;
}

/* Faults of the whole unit, and of who reads it. */
static void plant_whole(struct practice *p, const struct practice_fault *f)
{
    struct mechanism_state *state = &p->state;
    if (f->kind >= PRACTICE_HOOK)
        take_tape(&p->tape);
    switch (f->kind) {
    case PRACTICE_OFFSET:
        state->offset += f->amount;
        break;
    case PRACTICE_YAW:
        state->yaw_per_m += f->amount;
        break;
    case PRACTICE_LEAN:
        state->lean_per_m += f->amount;
        break;
    case PRACTICE_TWIST:
        state->twist_per_m += f->amount;
        break;
    case PRACTICE_WIDTH:
        practice_open_up(&p->m, state, f->amount, 0, 0, 0);
        break;
    case PRACTICE_TAPER:
        practice_open_up(&p->m, state, 0, f->amount, 0, 0);
        break;
    case PRACTICE_OPENING:
        practice_open_up(&p->m, state, 0, 0, f->amount, 0);
        break;
    case PRACTICE_SUPPLY:
        p->drive.supply_v -= (double)f->amount / 1000.0;
        break;
    case PRACTICE_HOOK:
        p->tape.hook_nm += f->amount;
        break;
    case PRACTICE_SCALE:
        p->tape.scale_ppm += f->amount;
        break;
    case PRACTICE_HABIT:
        p->tape.habit_nm = 5 * MM_NM;
        p->tape.habit_percent = (int32_t)f->amount;
        break;
    case PRACTICE_PARALLAX:
        p->tape.eye_off_nm = f->amount;
        p->tape.eye_distance_nm = 300 * MM_NM;
        p->tape.stand_off_nm = 5 * MM_NM;
        break;
    default:
        break;
    }
}

static bool is_local(int kind)
{
    return kind <= PRACTICE_TOE || kind == PRACTICE_WEAR || kind == PRACTICE_LEAD ||
           kind == PRACTICE_DRAG;
}

static enum err is_sound(const struct practice *p)
{
    enum err e = mechanism_check(&p->m, &p->state);
    if (e == ERR_OK)
        e = drive_check(&p->drive);
    return e == ERR_OK ? tape_check(&p->tape) : e;
}

enum err practice_plant(uint64_t seed, const struct practice_fault *faults, size_t n,
                        struct practice *ret, size_t *reterr_at)
{
    struct practice p;
    *reterr_at = n;
    if (n > PRACTICE_FAULTS_MAX)
        return ERR_LIMIT;
    practice_perfect(seed, &p);
    for (size_t i = 0; i < n; i++) {
        const struct practice_fault *f = &faults[i];
        *reterr_at = i;
        if (practice_fault_id(f->kind) == NULL || !is_place(f->side, f->place) ||
            !is_within(f->amount, -AMOUNT_MAX, AMOUNT_MAX))
            return ERR_DOMAIN;
        /* Steps and teeth stay far from the ends of their 32 bits. */
        if ((f->kind == PRACTICE_TEETH || f->kind == PRACTICE_PACKING || f->kind == PRACTICE_TOE ||
             f->kind == PRACTICE_HABIT) &&
            !is_within(f->amount, -100, 100))
            return ERR_DOMAIN;
        if (is_local(f->kind))
            plant_local(&p, f);
        else
            plant_whole(&p, f);
        if (is_sound(&p) != ERR_OK)
            return ERR_DOMAIN;
    }
    *ret = p;
    return ERR_OK;
}

static double draw_share(uint64_t s[4])
{
    return ((double)(xoshiro_bits(s) >> 11) + 0.5) / 9007199254740992.0;
}

/* Normal, cut at 2.5: a room further off would not have left the works. */
static int64_t draw_nm(uint64_t s[4], double sd_mm, int spread)
{
    double z = normal_quantile(draw_share(s));
    z = z > 2.5 ? 2.5 : z < -2.5 ? -2.5 : z;
    return (int64_t)floor(z * sd_mm * (double)MM_NM * spread / 100.0 + 0.5);
}

enum err practice_draw(uint64_t seed, int spread, struct practice *ret)
{
    uint64_t s[4];
    if (spread < 0 || spread > 300)
        return ERR_DOMAIN;
    practice_perfect(seed, ret);
    tape_stream(seed, UINT64_MAX, 0, s); /* apart from the streams of readings */
    ret->state.offset = draw_nm(s, 1.0, spread);
    ret->state.yaw_per_m = draw_nm(s, 1.2, spread);
    ret->state.lean_per_m = draw_nm(s, 1.0, spread);
    const int64_t width = draw_nm(s, 2.0, spread), taper = draw_nm(s, 1.2, spread);
    const int64_t lean = draw_nm(s, 1.0, spread), twist = draw_nm(s, 0.5, spread);
    practice_open_up(&ret->m, &ret->state, width, taper, lean, twist);
    for (int side = 0; side < SIDES; side++)
        for (int k = 0; k < RACKS; k++) {
            const double share = draw_share(s), sign = draw_share(s);
            if (share < 0.25)
                ret->state.packing[side][k] = sign < 0.5 ? -2 : 2;
            else if (share < 0.40)
                ret->state.teeth[side][k] = sign < 0.5 ? -1 : 1;
            ret->state.creep[side][k] = draw_nm(s, 0.1, 100);
        }
    ret->tape.hook_nm = draw_nm(s, (double)ret->tape.calibration_nm / (double)MM_NM, 100);
    ret->end_gauge.hook_nm = draw_nm(s, (double)ret->end_gauge.calibration_nm / (double)MM_NM, 100);
    return is_sound(ret);
}
