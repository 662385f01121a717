/* drive: owns motors, supply, shafts and racks under load, and one run of the room; formulas in drive.h. */
#include "core/drive.h"

#include <math.h>

#define PI          3.141592653589793
#define GRAVITY     9.80665 /* standard acceleration of free fall, 3rd CGPM 1901 */
#define STEP_S      0.01
#define TIME_MAX_S  600.0
#define FINITE_MAX  1e12
#define NEAR_M      1e-12 /* a place reached */
#define M_TO_NM     1e9
#define HEXAGON_J   0.115051
#define SIDES       MECHANISM_SIDES
#define RACKS       MECHANISM_RACKS
#define YAW_MOST_NM ((double)MECHANISM_SLOPE_MAX)

/* ---- ranges -------------------------------------------------------------------------------- */

static bool is_least(double value, double least)
{
    return value >= least && value <= FINITE_MAX; /* also refuses what is no number */
}

static bool is_above(double value)
{
    return value > 1e-30 && value <= FINITE_MAX;
}

static bool is_side(const struct drive_side *s)
{
    for (int r = 0; r < RACKS; r++)
        if (!is_least(s->friction_n[r], 0.0) || !is_least(s->key_n_m[r], 0.0) ||
            !is_least(s->hold_n[r][0], 0.0) || !is_least(s->hold_n[r][1], 0.0))
            return false;
    return is_above(s->motor_v_s) && is_above(s->motor_ohm) && is_least(s->motor_n_m, 0.0) &&
           is_least(s->motor_n_m_s, 0.0) && is_least(s->lead_ohm, 0.0) && is_above(s->ratio) &&
           is_above(s->efficiency) && s->efficiency <= 1.0 && is_least(s->drag_in_n, 0.0) &&
           is_least(s->seal_n, 0.0);
}

enum err drive_check(const struct drive *d)
{
    for (int s = 0; s < SIDES; s++)
        if (!is_side(&d->side[s]))
            return ERR_DOMAIN;
    const bool is_good =
        is_above(d->supply_v) && is_least(d->supply_ohm, 0.0) && is_least(d->limit_a, 0.0) &&
        is_above(d->module_m) && d->pinion_teeth >= 5 && d->pinion_teeth <= 200 &&
        d->motor_at >= 0 && d->motor_at < RACKS && is_least(d->shaft_m, 0.0) &&
        is_above(d->shaft_shear_pa) && is_above(d->shaft_j_m4) && is_least(d->backlash_m, 0.0) &&
        is_least(d->room_kg, 0.0) && is_least(d->slope, -1.0) && d->slope <= 1.0 &&
        is_least(d->coupling_n_per_m, 0.0) && is_least(d->bind_m, 0.0) && is_above(d->travel_m) &&
        is_least(d->seal_m, 0.0) && d->seal_m <= d->travel_m / 2.0 && is_least(d->creep_per_m, 0.0);
    return is_good ? ERR_OK : ERR_DOMAIN;
}

/* ---- parts --------------------------------------------------------------------------------- */

double drive_j_round(double diameter_m)
{
    const double square = diameter_m * diameter_m;
    return PI * square * square / 32.0;
}

double drive_j_hexagon(double across_m)
{
    const double square = across_m * across_m;
    return HEXAGON_J * square * square;
}

double drive_twist(double torque_n_m, double length_m, double shear_pa, double j_m4)
{
    return torque_n_m * length_m / (shear_pa * j_m4);
}

double drive_radius(const struct drive *d)
{
    return d->module_m * d->pinion_teeth / 2.0;
}

double drive_play(double pinion_m, double rack_m, double backlash_m)
{
    if (rack_m < pinion_m)
        return pinion_m;
    return rack_m > pinion_m + backlash_m ? pinion_m + backlash_m : rack_m;
}

enum err drive_hold(const struct mechanism *m, const struct mechanism_state *state,
                    enum mechanism_side side, int rack, int64_t extension, double hold_n,
                    double *ret_n)
{
    struct mechanism_mesh mesh;
    if (!is_least(hold_n, 0.0))
        return ERR_DOMAIN;
    const enum err e = mechanism_mesh(m, state, side, rack, extension, &mesh);
    if (e == ERR_OK)
        *ret_n = hold_n * (1.0 - mesh.skip);
    return e;
}

int64_t drive_yaw_nm_per_m(const struct mechanism *m, double apart_m)
{
    const double yaw = apart_m * M_TO_NM / (double)m->track * M_TO_NM;
    if (!(fabs(yaw) <= YAW_MOST_NM)) /* also what is no number */
        return yaw < 0.0 ? -MECHANISM_SLOPE_MAX : MECHANISM_SLOPE_MAX;
    return (int64_t)floor(yaw + 0.5);
}

/* ---- both motors on one supply -------------------------------------------------------------- */

/* Torque at the motor that the load asks for. */
static double load_n_m(const struct drive *d, int side, const struct drive_load *load)
{
    const struct drive_side *s = &d->side[side];
    if (load->is_free)
        return 0.0;
    const double pinion = load->force_n * drive_radius(d) / s->ratio;
    return pinion >= 0.0 ? pinion / s->efficiency : pinion * s->efficiency;
}

/* One side is a I + c S = e, S the sum of both currents:
 *   it turns:  (k + b R/k) I + (b/k) Rs S = T0 + T_load + (b/k) V0;  it stands: R I + Rs S = V0;  it is off: I = 0.
 * So I = (e - c S)/a, and S follows from the sum of the two. */
static void currents(const struct drive *d, const struct drive_load loads[SIDES],
                     struct drive_point ret[SIDES])
{
    double a[SIDES], c[SIDES], e[SIDES], top = 0.0, below = 1.0;
    for (int i = 0; i < SIDES; i++) {
        const struct drive_side *s = &d->side[i];
        const double ohm = s->motor_ohm + s->lead_ohm, drag = s->motor_n_m_s / s->motor_v_s;
        a[i] = 1.0;
        c[i] = e[i] = 0.0;
        if (ret[i].motor == DRIVE_MOTOR_TURNS) {
            a[i] = s->motor_v_s + drag * ohm;
            c[i] = drag * d->supply_ohm;
            e[i] = s->motor_n_m + load_n_m(d, i, &loads[i]) + drag * d->supply_v;
        } else if (ret[i].motor == DRIVE_MOTOR_STANDS) {
            a[i] = ohm;
            c[i] = d->supply_ohm;
            e[i] = d->supply_v;
        }
        top += e[i] / a[i];
        below += c[i] / a[i];
    }
    const double sum = top / below;
    for (int i = 0; i < SIDES; i++) {
        const struct drive_side *s = &d->side[i];
        ret[i].current_a = (e[i] - c[i] * sum) / a[i];
        ret[i].motor_v = d->supply_v - d->supply_ohm * sum - s->lead_ohm * ret[i].current_a;
        ret[i].speed_rad_s = ret[i].motor == DRIVE_MOTOR_TURNS
                                 ? (ret[i].motor_v - s->motor_ohm * ret[i].current_a) / s->motor_v_s
                                 : 0.0;
        ret[i].speed_m_s = ret[i].speed_rad_s / s->ratio * drive_radius(d);
    }
}

/* A motor that would have to turn backwards stands; with it the other gets other volts, so once more for each. */
static void settle(const struct drive *d, const struct drive_load loads[SIDES],
                   struct drive_point ret[SIDES])
{
    for (int i = 0; i < SIDES; i++)
        ret[i].motor = loads[i].motor;
    for (int round = 0; round <= SIDES; round++) {
        bool is_settled = true;
        currents(d, loads, ret);
        for (int i = 0; i < SIDES; i++)
            if (ret[i].motor == DRIVE_MOTOR_TURNS && ret[i].speed_rad_s <= 0.0) {
                ret[i].motor = DRIVE_MOTOR_STANDS;
                is_settled = false;
            }
        if (is_settled)
            return;
    }
}

enum err drive_steady(const struct drive *d, const struct drive_load loads[SIDES],
                      struct drive_point ret[SIDES])
{
    if (drive_check(d) != ERR_OK)
        return ERR_DOMAIN;
    for (int i = 0; i < SIDES; i++)
        if (!(fabs(loads[i].force_n) <= FINITE_MAX) || loads[i].motor > DRIVE_MOTOR_OFF)
            return ERR_DOMAIN;
    settle(d, loads, ret);
    return ERR_OK;
}

/* ---- one run ------------------------------------------------------------------------------- */

struct running {
    const struct drive *d;
    const struct drive_ask *ask;
    struct drive_run *run;
    double sign, weight_n; /* +1 out; the room's weight along the slope, of one side */
    double at[SIDES], free[SIDES];
    bool has_come[SIDES], is_off[SIDES];
    double moved_s[SIDES], both_s;
    double over[SIDES][RACKS]; /* m run beyond what the rack holds */
};

struct forces {
    double seal, coupling, all;
};

/* Pushes towards the middle of the travel; + resists going out. */
static double seal_n(const struct drive *d, int side, double at)
{
    const double most = d->side[side].seal_n, s = d->seal_m;
    if (s <= 0.0)
        return 0.0;
    if (at > d->travel_m - s)
        return most * (at - (d->travel_m - s)) / s;
    return at < s ? -most * (s - at) / s : 0.0;
}

static struct forces against(const struct running *r, int side)
{
    const struct drive *d = r->d;
    struct forces f = {.seal = r->sign * seal_n(d, side, r->at[side]),
                       .coupling = r->sign * d->coupling_n_per_m * (r->at[side] - r->at[1 - side])};
    f.all = f.seal + f.coupling + r->sign * r->weight_n;
    for (int k = 0; k < RACKS; k++)
        f.all += d->side[side].friction_n[k];
    if (!r->ask->is_out)
        f.all += d->side[side].drag_in_n;
    return f;
}

/* A rack bears its own friction and its share of the rest. */
static double rack_n(const struct running *r, int side, int rack, double all)
{
    const double *own = r->d->side[side].friction_n;
    double rest = all;
    for (int k = 0; k < RACKS; k++)
        rest -= own[k];
    return own[rack] + rest / RACKS;
}

static void note_racks(struct running *r, int side, double all, double moved)
{
    const struct drive *d = r->d;
    const struct drive_side *s = &d->side[side];
    struct drive_run *run = r->run;
    const int far = 1 - d->motor_at;
    for (int k = 0; k < RACKS; k++) {
        const double force = rack_n(r, side, k, all), torque = force * drive_radius(d);
        const double share = r->at[side] / d->travel_m;
        const double hold = s->hold_n[k][0] + (s->hold_n[k][1] - s->hold_n[k][0]) * share;
        if (fabs(force) > fabs(run->force_n[side][k]))
            run->force_n[side][k] = force;
        if ((s->hold_n[k][0] > 0.0 || s->hold_n[k][1] > 0.0) && fabs(force) > hold)
            r->over[side][k] += moved;
        if (s->key_n_m[k] > 0.0 && torque > s->key_n_m[k])
            run->creep_m[side][k] += d->creep_per_m * (torque / s->key_n_m[k] - 1.0) * moved;
    }
    const double twist = drive_twist(rack_n(r, side, far, all) * drive_radius(d), d->shaft_m,
                                     d->shaft_shear_pa, d->shaft_j_m4);
    if (fabs(twist) > fabs(run->twist_rad[side])) {
        run->twist_rad[side] = twist;
        run->lag_m[side] = twist * drive_radius(d);
    }
}

/* How long until this side comes to where something changes. */
static double until_change(const struct running *r, int side, double speed)
{
    const double marks[] = {r->ask->to, r->d->seal_m, r->d->travel_m - r->d->seal_m};
    double least = STEP_S;
    if (speed <= 0.0)
        return least;
    if (r->free[side] > 0.0)
        return r->free[side] / speed < least ? r->free[side] / speed : least;
    for (int i = 0; i < 3; i++) {
        const double ahead = r->sign * (marks[i] - r->at[side]);
        if (ahead > NEAR_M && ahead / speed < least)
            least = ahead / speed;
    }
    return least;
}

static void note_energy(struct running *r, int side, const struct drive_point *p,
                        const struct drive_load *load, const struct forces *f, double dt)
{
    const struct drive_side *s = &r->d->side[side];
    struct drive_energy *e = &r->run->energy;
    const double speed = load->is_free ? 0.0 : p->speed_m_s, turned = p->speed_rad_s * dt;
    const double moved = speed * dt;
    e->copper += (s->motor_ohm + s->lead_ohm) * p->current_a * p->current_a * dt;
    e->motor += (s->motor_n_m + s->motor_n_m_s * p->speed_rad_s) * turned;
    e->gearbox += load_n_m(r->d, side, load) * turned - f->all * moved;
    e->seal += f->seal * moved;
    e->coupling += f->coupling * moved;
    e->slope += r->sign * r->weight_n * moved;
    e->friction += (f->all - f->seal - f->coupling - r->sign * r->weight_n) * moved;
}

static void move_side(struct running *r, int side, const struct drive_point *p, double all,
                      double dt)
{
    struct drive_run *run = r->run;
    const double moved = p->speed_m_s * dt;
    if (r->free[side] > 0.0) {
        r->free[side] -= moved;
        if (r->free[side] < NEAR_M)
            r->free[side] = 0.0;
        return;
    }
    note_racks(r, side, all, moved);
    r->at[side] += r->sign * moved;
    r->moved_s[side] += dt;
    run->current_a[side] += p->current_a * dt;
    run->motor_v[side] += p->motor_v * dt;
    if (p->current_a > run->peak_a[side])
        run->peak_a[side] = p->current_a;
    if (p->motor_v < run->least_v[side])
        run->least_v[side] = p->motor_v;
    if (r->sign * (r->ask->to - r->at[side]) <= NEAR_M) {
        r->at[side] = r->ask->to;
        r->has_come[side] = true;
    }
}

/* Loads now, the currents they ask for, and what the controller switches off. False: it did so on the way. */
static bool powered(struct running *r, struct forces f[SIDES], struct drive_load loads[SIDES],
                    struct drive_point p[SIDES])
{
    const bool is_stop = r->ask->to <= 0.0 || r->ask->to >= r->d->travel_m;
    for (int i = 0; i < SIDES; i++) {
        f[i] = against(r, i);
        /* At a stop a motor stands and draws; sent to a place between, it is switched off there. */
        const bool is_off = r->is_off[i] || (r->has_come[i] && !is_stop);
        loads[i] = (struct drive_load){f[i].all,
                                       is_off           ? DRIVE_MOTOR_OFF
                                       : r->has_come[i] ? DRIVE_MOTOR_STANDS
                                                        : DRIVE_MOTOR_TURNS,
                                       r->free[i] > 0.0};
    }
    for (int round = 0; round <= SIDES; round++) {
        bool is_changed = false;
        settle(r->d, loads, p);
        for (int i = 0; i < SIDES; i++) {
            if (r->d->limit_a <= 0.0 || p[i].current_a <= r->d->limit_a)
                continue;
            if (!r->has_come[i])
                return false;
            loads[i].motor = DRIVE_MOTOR_OFF;
            r->is_off[i] = is_changed = true;
        }
        if (!is_changed)
            break;
    }
    return true;
}

static void note_apart(struct running *r)
{
    const double apart = r->at[MECHANISM_FORE] - r->at[MECHANISM_AFT];
    if (fabs(apart) > fabs(r->run->apart_m)) {
        r->run->apart_m = apart;
        r->run->apart_at_m = (r->at[MECHANISM_FORE] + r->at[MECHANISM_AFT]) / 2.0;
    }
}

/* One step; false at the end, which is then written. */
static bool step_on(struct running *r, struct drive_point p[SIDES])
{
    struct forces f[SIDES];
    struct drive_load loads[SIDES];
    struct drive_run *run = r->run;
    if (r->has_come[0] && r->has_come[1]) {
        run->end = DRIVE_ARRIVED;
        return false;
    }
    if (!powered(r, f, loads, p)) {
        run->end = DRIVE_TRIPPED;
        return false;
    }
    const bool is_moving[SIDES] = {p[0].speed_m_s > 0.0, p[1].speed_m_s > 0.0};
    if (!is_moving[0] && !is_moving[1]) {
        run->end = DRIVE_STALLED;
        return false;
    }
    double dt = STEP_S;
    for (int i = 0; i < SIDES; i++) {
        const double own = until_change(r, i, p[i].speed_m_s);
        dt = own < dt ? own : dt;
    }
    const double sum = p[0].current_a + p[1].current_a, apart = fabs(r->at[0] - r->at[1]);
    run->energy.in += r->d->supply_v * sum * dt;
    run->energy.supply += r->d->supply_ohm * sum * sum * dt;
    if (is_moving[0] && is_moving[1] && r->free[0] <= 0.0 && r->free[1] <= 0.0) {
        r->both_s += dt;
        run->feed_a += sum * dt;
    }
    for (int i = 0; i < SIDES; i++) {
        note_energy(r, i, &p[i], &loads[i], &f[i], dt);
        if (is_moving[i])
            move_side(r, i, &p[i], f[i].all, dt);
    }
    run->time_s += dt;
    note_apart(r);
    const double now = fabs(r->at[0] - r->at[1]);
    if (r->d->bind_m > 0.0 && now > r->d->bind_m && now > apart) { /* coming back frees it */
        run->end = DRIVE_BOUND;
        return false;
    }
    run->end = DRIVE_LATE;
    return run->time_s < TIME_MAX_S;
}

static void sample(struct running *r, const struct drive_point p[SIDES],
                   struct drive_sample *samples, size_t n)
{
    if (r->run->n_samples >= n)
        return;
    struct drive_sample *s = &samples[r->run->n_samples++];
    s->time_s = r->run->time_s;
    for (int i = 0; i < SIDES; i++) {
        s->at_m[i] = r->at[i];
        s->current_a[i] = p[i].current_a;
        s->motor_v[i] = p[i].motor_v;
    }
}

static void close_run(struct running *r)
{
    struct drive_run *run = r->run;
    const double pitch = PI * r->d->module_m;
    for (int i = 0; i < SIDES; i++) {
        run->at_m[i] = r->at[i];
        if (r->moved_s[i] > 0.0) {
            run->current_a[i] /= r->moved_s[i];
            run->motor_v[i] /= r->moved_s[i];
        } else {
            run->least_v[i] = 0.0;
        }
        for (int k = 0; k < RACKS; k++) {
            const double teeth = ceil(r->over[i][k] / pitch);
            run->skips[i][k] = teeth < DRIVE_SKIPS_MAX ? (int)teeth : DRIVE_SKIPS_MAX;
        }
    }
    if (r->both_s > 0.0)
        run->feed_a /= r->both_s;
}

static bool is_asked_well(const struct drive *d, const struct drive_ask *ask)
{
    if (!is_least(ask->to, 0.0) || ask->to > d->travel_m)
        return false;
    bool is_short = false;
    for (int i = 0; i < SIDES; i++) {
        if (!is_least(ask->from[i], 0.0) || ask->from[i] > d->travel_m)
            return false;
        is_short = is_short || (ask->is_out ? ask->from[i] <= ask->to : ask->from[i] >= ask->to);
    }
    return is_short;
}

enum err drive_go(const struct drive *d, const struct drive_ask *ask, double every_s,
                  struct drive_sample *samples, size_t n, struct drive_run *ret)
{
    if (drive_check(d) != ERR_OK || !is_asked_well(d, ask) || (n > 0 && !is_above(every_s)))
        return ERR_DOMAIN;
    *ret = (struct drive_run){.least_v = {FINITE_MAX, FINITE_MAX}};
    struct running r = {.d = d, .ask = ask, .run = ret, .sign = ask->is_out ? 1.0 : -1.0};
    struct drive_point p[SIDES] = {{DRIVE_MOTOR_OFF, 0.0, 0.0, 0.0, 0.0}};
    double next = 0.0;
    r.weight_n = d->room_kg * GRAVITY * d->slope / sqrt(1.0 + d->slope * d->slope) / SIDES;
    for (int i = 0; i < SIDES; i++) {
        r.at[i] = ask->from[i];
        r.free[i] = ask->is_reversal ? d->backlash_m : 0.0;
        r.has_come[i] = r.sign * (ask->to - r.at[i]) <= NEAR_M;
    }
    note_apart(&r);
    while (step_on(&r, p))
        if (ret->time_s >= next) {
            sample(&r, p, samples, n > 0 ? n - 1 : 0); /* room for the last */
            next += every_s;
        }
    sample(&r, p, samples, n);
    close_run(&r);
    return ERR_OK;
}

/* ---- the invented drive -------------------------------------------------------------------- */

void drive_invented(struct drive *ret)
{
    /* Each motor takes 7 A out: 0.0487 x 7 = 0.341 N m, less 0.02 and 1e-4 x 221, leaves 0.299 N m, which through 120 : 1 at one half
     * and 18 mm are 996 N a side; 13.2 V at the motor less 7 x 0.35 V are 10.75 V = 0.0487 x 221 rad/s: 33.1 mm/s, 29 s. */
    const struct drive_side side = {.motor_v_s = 0.0487,
                                    .motor_ohm = 0.35,
                                    .motor_n_m = 0.02,
                                    .motor_n_m_s = 1e-4,
                                    .lead_ohm = 0.025,
                                    .ratio = 120.0,
                                    .efficiency = 0.5,
                                    .friction_n = {510.0, 485.0},
                                    .drag_in_n = 160.0,
                                    .seal_n = 500.0};
    *ret = (struct drive){.side = {side, side},
                          .supply_v = 13.8,
                          .supply_ohm = 0.03,
                          .limit_a = 20.0,
                          .module_m = 0.002,
                          .pinion_teeth = 18,
                          .motor_at = 1,
                          .shaft_m = 1.0,
                          .shaft_shear_pa = 79.3e9,
                          .shaft_j_m4 = 0.0,
                          .backlash_m = 0.0004,
                          .room_kg = 550.0,
                          .coupling_n_per_m = 2000.0,
                          .bind_m = 0.06,
                          .travel_m = 0.96,
                          .seal_m = 0.02,
                          .creep_per_m = 0.02};
    ret->shaft_j_m4 = drive_j_round(0.016);
}
