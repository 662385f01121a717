/* exports_practice: the flat door to the unit that people learn on. Same rules as exports.c. The game is its list of operations:
 * each call plants the unit anew and goes through them, so that the page keeps plain numbers and no struct crosses the door. */
#include "core/practice.h"
#include "wasm/exports.h"
#include "wasm/pack.h"

enum { OPS_MAX = 5000, OP_ROW = 4, FAULT_ROW = 4, SAMPLE_ROW = 7 };

/* spread: -1 plants faults[n][4], 0..300 draws a unit by seed. ops[n_ops][4]; rows, when there are any, as mw_practice has them. */
static enum err play(int64_t seed, int32_t spread, const int64_t *faults, uint32_t n_faults,
                     const int64_t *ops, uint32_t n_ops, struct practice *ret, int64_t *rows,
                     size_t *reterr_at)
{
    struct practice_fault list[PRACTICE_FAULTS_MAX];
    *reterr_at = (size_t)-1;
    if (n_faults > PRACTICE_FAULTS_MAX || n_ops > OPS_MAX)
        return ERR_LIMIT;
    for (uint32_t i = 0; i < n_faults; i++) {
        const int64_t *row = &faults[(size_t)i * FAULT_ROW];
        *reterr_at = i;
        for (int k = 0; k < 3; k++)
            if (!pack_is_within(row[k], 0, INT32_MAX))
                return ERR_DOMAIN;
        list[i] =
            (struct practice_fault){(int32_t)row[0], (int32_t)row[1], (int32_t)row[2], row[3]};
    }
    enum err e = spread < 0 ? practice_plant((uint64_t)seed, list, n_faults, ret, reterr_at)
                            : practice_draw((uint64_t)seed, spread, ret);
    for (uint32_t i = 0; e == ERR_OK && i < n_ops; i++) {
        const int64_t *op = &ops[(size_t)i * OP_ROW];
        struct practice_result result;
        *reterr_at = i;
        if (!pack_is_within(op[0], 0, PRACTICE_OP_N - 1) || !pack_is_within(op[1], 0, 1) ||
            !pack_is_within(op[2], 0, 1))
            return ERR_DOMAIN;
        e = practice_do(ret, (enum practice_op)op[0], (int)op[1], (int)op[2], op[3], &result);
        if (e != ERR_OK || rows == NULL)
            continue;
        rows[0] = (int64_t)result.refusal;
        rows[1] = result.cautions;
        rows[2] = result.nano;
        rows[3] = result.seconds;
        rows += OP_ROW;
    }
    return e;
}

/* How it stands: 30 figures. */
static enum err put_scene(const struct practice *p, int64_t *ret)
{
    const struct mechanism_state state = practice_stance(p);
    const int64_t at = practice_extension(p);
    ret[0] = at;
    ret[1] = practice_visible(p);
    ret[2] = (int64_t)p->run.end;
    ret[3] = p->is_supported;
    ret[4] = p->is_isolated;
    ret[5] = p->is_finished;
    ret[6] = state.yaw_per_m;
    ret[7] = state.lean_per_m;
    for (int i = 0; i < 4; i++) {
        const enum mechanism_side side = i < 2 ? MECHANISM_FORE : MECHANISM_AFT;
        struct mechanism_mesh mesh;
        enum err e =
            mechanism_gap(&p->m, &state, side, p->m.reading_height[i % 2], at, &ret[8 + i]);
        if (e == ERR_OK)
            e = mechanism_mesh(&p->m, &state, side, i % 2, at, &mesh);
        if (e != ERR_OK)
            return e;
        ret[12 + i] = mesh.depth;
        ret[16 + i] = p->state.teeth[side][i % 2];
        ret[20 + i] = p->state.creep[side][i % 2] + p->cut_nm[side][i % 2];
        ret[24 + i] = p->state.packing[side][i % 2];
    }
    ret[28] = p->state.toe[MECHANISM_FORE];
    ret[29] = p->state.toe[MECHANISM_AFT];
    return ERR_OK;
}

/* The account: 9 figures and the 8 true gaps. */
static enum err put_score(const struct practice *p, int64_t *ret)
{
    struct practice_score score;
    enum err e = practice_score(p, &score);
    if (e == ERR_OK)
        e = practice_gaps(p, &ret[9]);
    if (e != ERR_OK)
        return e;
    ret[0] = score.is_inside;
    ret[1] = score.inside;
    ret[2] = score.cautions;
    ret[3] = score.n_cautions;
    ret[4] = score.n_moves;
    ret[5] = score.n_readings;
    ret[6] = score.n_runs;
    ret[7] = score.seconds;
    ret[8] = score.worst_gap_nm;
    return ERR_OK;
}

int32_t mw_practice(int64_t seed, int32_t spread, const int64_t *faults, uint32_t n_faults,
                    const int64_t *ops, uint32_t n_ops, int64_t *ret, double *ret_real)
{
    struct practice p;
    size_t at = (size_t)-1;
    enum err e = play(seed, spread, faults, n_faults, ops, n_ops, &p, ret + 47, &at);
    if (e != ERR_OK)
        return pack_fail(e, at, ret);
    e = put_scene(&p, ret);
    if (e == ERR_OK)
        e = put_score(&p, ret + 30);
    if (e != ERR_OK)
        return pack_fail(e, (size_t)-1, ret);
    for (int i = 0; i < MECHANISM_SIDES; i++) {
        ret_real[i] = p.at_m[i];
        ret_real[2 + i] = p.run.motor_v[i];
        ret_real[4 + i] = p.run.current_a[i];
        ret_real[6 + i] = p.run.twist_rad[i];
    }
    ret_real[8] = p.run.feed_a;
    ret_real[9] = p.run.time_s;
    ret_real[10] = p.run.apart_m;
    ret_real[11] = p.run.energy.in;
    return 0;
}

int32_t mw_practice_trace(int64_t seed, int32_t spread, const int64_t *faults, uint32_t n_faults,
                          const int64_t *ops, uint32_t n_ops, int64_t to_nm, double every_s,
                          uint32_t n_samples, int64_t *ret, double *ret_real)
{
    struct practice p;
    struct drive_run run;
    size_t at = (size_t)-1;
    enum err e = play(seed, spread, faults, n_faults, ops, n_ops, &p, NULL, &at);
    if (e != ERR_OK)
        return pack_fail(e, at, ret);
    const uintptr_t mark = pack_mark();
    struct drive_sample *samples =
        n_samples <= OPS_MAX ? mw_alloc(n_samples * (uint32_t)sizeof *samples) : NULL;
    if (samples == NULL) {
        pack_release(mark);
        return pack_fail(n_samples <= OPS_MAX ? ERR_MEMORY : ERR_LIMIT, (size_t)-1, ret);
    }
    e = practice_trace(&p, to_nm, every_s, samples, n_samples, &run);
    for (size_t i = 0; e == ERR_OK && i < run.n_samples; i++) {
        double *row = &ret_real[i * SAMPLE_ROW];
        row[0] = samples[i].time_s;
        for (int k = 0; k < MECHANISM_SIDES; k++) {
            row[1 + k] = samples[i].at_m[k];
            row[3 + k] = samples[i].current_a[k];
            row[5 + k] = samples[i].motor_v[k];
        }
    }
    pack_release(mark);
    if (e != ERR_OK)
        return pack_fail(e, (size_t)-1, ret);
    ret[0] = (int64_t)run.n_samples;
    ret[1] = (int64_t)run.end;
    return 0;
}
