/* Rows for core/drive: a plain drive worked by hand from the formulas in its header, handbook values for shafts, energy, mirrors,
 * what slips, creeps, stalls and jams. */
#include "core/drive.h"
#include "random.h"
#include "tap.h"

#include <math.h>
#include <string.h>

#define MM INT64_C(1000000)

static bool near(double found, double want, double relative)
{
    return fabs(found - want) <= relative * fabs(want);
}

static void close_to(double found, double want, double relative, const char *what)
{
    tap_ok(near(found, want, relative), "%s: %.9g, found %.9g", what, want, found);
}

/* k 0.05 V s, R 0.4 and lead 0.1 ohm, 100 : 1 at one half, pinion of 20 teeth module 2 (r 20 mm), 250 N a rack, 12 V behind
 * 0.05 ohm, 0.96 m. Nothing else: no drag in the motor, no seal, no slope. */
static struct drive plain(void)
{
    const struct drive_side side = {.motor_v_s = 0.05,
                                    .motor_ohm = 0.4,
                                    .lead_ohm = 0.1,
                                    .ratio = 100.0,
                                    .efficiency = 0.5,
                                    .friction_n = {250.0, 250.0}};
    return (struct drive){.side = {side, side},
                          .supply_v = 12.0,
                          .supply_ohm = 0.05,
                          .module_m = 0.002,
                          .pinion_teeth = 20,
                          .motor_at = 1,
                          .shaft_m = 1.0,
                          .shaft_shear_pa = 80e9,
                          .shaft_j_m4 = drive_j_round(0.016),
                          .travel_m = 0.96,
                          .seal_m = 0.02,
                          .creep_per_m = 0.02};
}

static struct drive_run go(const struct drive *d, bool is_out)
{
    struct drive_run run;
    struct drive_ask ask = {.is_out = is_out, .to = is_out ? d->travel_m : 0.0};
    memset(&run, 0, sizeof run);
    ask.from[0] = ask.from[1] = is_out ? 0.0 : d->travel_m;
    if (drive_go(d, &ask, 1.0, NULL, 0, &run) != ERR_OK)
        run.end = DRIVE_LATE;
    return run;
}

/* ---- shafts -------------------------------------------------------------------------------- */

static void shafts(void)
{
    /* Philpot, MecMovies M6.23 (read): hollow shafts, J given as 2 207 951 and 3 106 311 mm4; for 3 degrees the first, 86 GPa and 2 m,
     * takes 4.97 kN m (4 971 146 N mm there), the second, 38 GPa and 0.8 m, 7.73 kN m (7 725 688). */
    const double degree = acos(-1.0) / 180.0;
    close_to((drive_j_round(0.075) - drive_j_round(0.055)) * 1e12, 2207951.0, 1e-6,
             "J of the hollow shaft of 75 and 55 mm, mm4 (Philpot M6.23)");
    close_to(drive_j_round(0.075) * 1e12, 3106311.0, 1e-6, "J of 75 mm round, mm4 (Philpot M6.23)");
    close_to(drive_twist(4971.146, 2.0, 86e9, 2207951e-12) / degree, 3.0, 1e-6,
             "twist of the first, degrees (Philpot M6.23)");
    close_to(drive_twist(7725.688, 0.8, 38e9, 3106311e-12) / degree, 3.0, 1e-6,
             "twist of the second, degrees (Philpot M6.23)");
    /* T L/(G J) worked in Python for round steel of 25 mm. */
    close_to(drive_j_round(0.025), 3.83495196971410e-8, 1e-13, "J of 25 mm round (Python)");
    close_to(drive_twist(20.0, 2.0, 79.3e9, drive_j_round(0.025)), 0.0131530622326235, 1e-13,
             "20 N m on 2 m of it (Python)");
    /* Hexagon of 1/2 in: 0.261207 rad under 300 in lbf on 72 in at 11.5e6 psi: torsion function by series in numpy. */
    close_to(drive_twist(300.0, 72.0, 11.5e6, drive_j_hexagon(0.5)), 0.261207, 5e-6,
             "hexagon of half an inch (numpy, harmonic series)");
    tap_ok(drive_twist(0.0, 2.0, 79.3e9, 1e-8) == 0.0, "no torque, no twist");

    struct drive d = plain();
    const struct drive_run run = go(&d, true);
    /* 250 N x 20 mm = 5 N m on 1 m, J = pi 0.016^4/32 = 6.43398e-9: 5/514.7185 = 9.71405e-3 rad, 0.194281 mm of rack. */
    close_to(run.twist_rad[0], 9.71405e-3, 2e-6, "twist of the shaft in a run (by hand)");
    close_to(run.lag_m[1], 0.194281e-3, 4e-6, "by which the far rack lags (by hand)");
    for (int i = 0; i < MECHANISM_SIDES; i++)
        for (int k = 0; k < MECHANISM_RACKS; k++)
            d.side[i].friction_n[k] = 0.0;
    const struct drive_run idle = go(&d, true);
    tap_ok(idle.twist_rad[0] == 0.0 && idle.twist_rad[1] == 0.0 && idle.lag_m[0] == 0.0 &&
               idle.end == DRIVE_ARRIVED,
           "a room that needs no force twists no shaft");
}

/* ---- motors on one supply ------------------------------------------------------------------ */

static void motors(void)
{
    struct drive d = plain();
    struct drive_run run = go(&d, true);
    /* 500 N x 0.02 m = 10 N m; /(100 x 0.5) = 0.2 N m; /0.05 = 4 A. 12 - 0.05 x 8 - 0.1 x 4 = 11.2 V. (11.2 - 1.6)/0.05 = 192 rad/s;
     * x 0.02/100 = 38.4 mm/s; 0.96 m in 25 s. */
    tap_ok(run.end == DRIVE_ARRIVED && run.at_m[0] == 0.96 && run.at_m[1] == 0.96, "arrives");
    close_to(run.current_a[0], 4.0, 1e-12, "current of one motor, A (by hand)");
    close_to(run.feed_a, 8.0, 1e-12, "current of both, A (by hand)");
    close_to(run.motor_v[1], 11.2, 1e-12, "volts at the motor (by hand)");
    close_to(run.time_s, 25.0, 1e-9, "travel time, s (by hand)");
    tap_ok(run.apart_m == 0.0, "sides alike stay in step, exactly");

    d.supply_v = 10.0; /* 10 - 0.8 = 9.2 V, 152 rad/s, 30.4 mm/s */
    run = go(&d, true);
    close_to(run.time_s, 0.96 / 0.0304, 1e-9, "10 V instead of 12: travel time, s (by hand)");
    close_to(run.current_a[0], 4.0, 1e-12, "and the same current");

    d = plain();
    for (int i = 0; i < MECHANISM_SIDES; i++)
        d.side[i].friction_n[0] = 350.0;
    run = go(&d, true); /* 600 N: 4.8 A; 12 - 0.48 - 0.48 = 11.04 V; 182.4 rad/s; 36.48 mm/s */
    close_to(run.current_a[1], 4.8, 1e-12, "600 N instead of 500: current, A (by hand)");
    close_to(run.time_s, 0.96 / 0.03648, 1e-9, "and travel time, s (by hand)");

    d = plain();
    d.side[0].motor_n_m_s = d.side[1].motor_n_m_s = 1e-4;
    /* 0.05 I = 0.2 + 1e-4 w and 12 - 0.6 I = 0.05 w: I = 0.224/0.0512 = 4.375 A, w = 187.5 rad/s, 37.5 mm/s. */
    run = go(&d, true);
    close_to(run.current_a[0], 4.375, 1e-12, "a motor with drag: current, A (by hand)");
    close_to(run.time_s, 25.6, 1e-9, "and travel time, s (by hand)");

    int n_good = 0;
    rng = 3;
    for (int k = 0; k < 500; k++) { /* always: more load, more current; fewer volts, later */
        d = plain();
        d.supply_v = (double)within(90, 150) / 10.0;
        d.limit_a = 12.0; /* a side at its stop is off, and takes no volts from the other */
        d.side[0].friction_n[0] = (double)within(100, 600);
        d.side[1].friction_n[1] = (double)within(100, 600);
        d.side[0].motor_n_m_s = (double)within(0, 100) * 1e-6;
        const struct drive_run before = go(&d, true);
        d.side[0].friction_n[1] += 50.0;
        const struct drive_run loaded = go(&d, true);
        d.supply_v -= 1.0;
        const struct drive_run low = go(&d, true);
        n_good += loaded.current_a[0] > before.current_a[0] && loaded.time_s > before.time_s &&
                  low.time_s > loaded.time_s;
    }
    tap_ok(n_good == 500, "%d of 500: more load is more current and later, fewer volts later still",
           n_good);
}

/* ---- sides out of step --------------------------------------------------------------------- */

static struct drive uneven(void)
{
    struct drive d = plain();
    d.side[MECHANISM_AFT].friction_n[0] = 750.0;
    return d;
}

static void sides(void)
{
    struct drive d = uneven();
    struct drive_run run = go(&d, true);
    /* 4 and 8 A: 12 - 0.6 - 0.4 = 11 V, 188 rad/s, 37.6 mm/s; 12 - 0.6 - 0.8 = 10.6 V, 148 rad/s, 29.6 mm/s. Fore arrives after
     * 25.531915 s, 0.96 x 8/37.6 = 0.204255 m ahead; then it stands with 11.6/0.55 = 21.0909 A, aft has 9.74545 V, 26.1818 mm/s and takes
     * 7.801418 s more. */
    close_to(run.apart_m, 0.96 * 8.0 / 37.6, 1e-9, "uneven load: sides apart, m (by hand)");
    close_to(run.time_s, 100.0 / 3.0, 1e-9,
             "and travel time with fore standing at its stop, s (by hand)");
    close_to(run.least_v[MECHANISM_AFT], 12.0 - 0.05 * (11.6 / 0.55 + 8.0) - 0.8, 1e-9,
             "with the volts that are left, V (by hand)");
    d.limit_a = 15.0; /* fore switched off at its stop: 12 - 0.4 - 0.8 = 10.8 V, 30.4 mm/s */
    run = go(&d, true);
    close_to(run.time_s, 0.96 / 0.0376 + 0.96 * 8.0 / 37.6 / 0.0304, 1e-9,
             "and with fore switched off there, s (by hand)");
    d = uneven();
    d.coupling_n_per_m = 20000.0; /* both at 750 N: 250 N across 20 000 N/m */
    run = go(&d, true);
    close_to(run.apart_m, 0.0125, 1e-6, "held together with 20 000 N/m: apart, m (by hand)");
    d = uneven();
    d.bind_m = 0.1;
    run = go(&d, true);
    tap_ok(run.end == DRIVE_BOUND && run.apart_m > 0.1 && run.apart_m < 0.101,
           "jams when the sides are 0.1 m apart");
    struct mechanism m;
    mechanism_invented(&m);
    /* 10 mm over a track of 2360 mm: 4.237288 mm/m. */
    tap_ok(drive_yaw_nm_per_m(&m, 0.010) == 4237288 && drive_yaw_nm_per_m(&m, -0.010) == -4237288,
           "10 mm apart yaws the room by 4.237288 mm/m (by hand)");

    int n_good = 0;
    rng = 4;
    for (int k = 0; k < 300; k++) {
        d = plain();
        for (int i = 0; i < MECHANISM_SIDES; i++) {
            d.side[i].friction_n[0] = (double)within(100, 600);
            d.side[i].motor_ohm = (double)within(200, 600) / 1000.0;
            d.side[i].lead_ohm = (double)within(0, 200) / 1000.0;
            d.side[i].seal_n = (double)within(0, 300);
        }
        d.coupling_n_per_m = (double)within(0, 3000);
        d.slope = (double)within(-50, 50) / 1000.0;
        d.room_kg = 500.0;
        struct drive mirror = d;
        mirror.side[0] = d.side[1];
        mirror.side[1] = d.side[0];
        const struct drive_run a = go(&d, k % 2 == 0), b = go(&mirror, k % 2 == 0);
        n_good += a.end == b.end && near(a.time_s, b.time_s, 1e-9) &&
                  near(a.current_a[0], b.current_a[1], 1e-9) &&
                  fabs(a.apart_m + b.apart_m) < 1e-9 && near(a.motor_v[1], b.motor_v[0], 1e-9);
    }
    tap_ok(n_good == 300, "%d of 300: fore and aft exchanged, the answers are too", n_good);
}

/* ---- energy -------------------------------------------------------------------------------- */

static double lost(const struct drive_energy *e)
{
    return e->supply + e->copper + e->motor + e->gearbox + e->friction + e->slope + e->seal +
           e->coupling;
}

static void energy(void)
{
    int n_balanced = 0, n_friction = 0, n_slope = 0, n_loss = 0, n_run = 0;
    rng = 5;
    for (int k = 0; k < 300; k++) {
        struct drive d = plain();
        for (int i = 0; i < MECHANISM_SIDES; i++) {
            d.side[i].friction_n[0] = (double)within(0, 600);
            d.side[i].motor_n_m = (double)within(0, 40) / 1000.0;
            d.side[i].motor_n_m_s = (double)within(0, 100) * 1e-6;
            d.side[i].seal_n = (double)within(0, 300);
            d.side[i].drag_in_n = (double)within(0, 100);
        }
        d.coupling_n_per_m = (double)within(0, 3000);
        d.slope = (double)within(-200, 200) / 1000.0; /* downhill the room pushes */
        d.room_kg = 500.0;
        const bool is_out = k % 2 == 0;
        const struct drive_run run = go(&d, is_out);
        if (run.end != DRIVE_ARRIVED)
            continue;
        n_run++;
        n_balanced += fabs(run.energy.in - lost(&run.energy)) <= 1e-9 * (fabs(run.energy.in) + 1.0);
        double friction = 0.0; /* force times way, whatever the speed */
        for (int i = 0; i < MECHANISM_SIDES; i++)
            friction += (d.side[i].friction_n[0] + 250.0 + (is_out ? 0.0 : d.side[i].drag_in_n)) *
                        d.travel_m;
        n_friction += near(run.energy.friction, friction, 1e-9);
        /* Height won is run x slope/sqrt(1 + slope^2), travel being measured along the ground. */
        const double lift = 500.0 * 9.80665 * d.travel_m * d.slope / sqrt(1.0 + d.slope * d.slope);
        n_slope += fabs(run.energy.slope - (is_out ? lift : -lift)) <= 1e-8;
        n_loss += run.energy.gearbox >= -1e-9 && run.energy.copper >= 0.0 &&
                  run.energy.supply >= 0.0 && run.energy.motor >= 0.0;
    }
    tap_ok(n_run > 250, "%d of 300 random drives arrive", n_run);
    tap_ok(n_balanced == n_run, "%d: energy in is work and losses, to rounding (1e-9)", n_balanced);
    tap_ok(n_friction == n_run, "%d: friction's share is force times way", n_friction);
    tap_ok(n_slope == n_run, "%d: the slope's share is weight times height", n_slope);
    tap_ok(n_loss == n_run, "%d: no loss is a gain", n_loss);
    struct drive d = plain();
    const struct drive_run run = go(&d, true);
    /* 12 V x 8 A x 25 s = 2400 J; useful 1000 N x 0.96 m = 960 J; gearbox as much again; 80 J supply, 400 J copper. */
    close_to(run.energy.in, 2400.0, 1e-9, "energy in, J (by hand)");
    close_to(run.energy.friction, 960.0, 1e-9, "friction, J (by hand)");
    close_to(run.energy.gearbox, 960.0, 1e-9, "gearbox at one half, J (by hand)");
    close_to(run.energy.supply, 80.0, 1e-9, "supply, J (by hand)");
    close_to(run.energy.copper, 400.0, 1e-9, "motors and leads, J (by hand)");
}

/* ---- backlash, teeth, keys ----------------------------------------------------------------- */

static void lost_motion(void)
{
    struct drive d = plain();
    struct drive_run run;
    const struct drive_ask back = {
        .is_out = true, .is_reversal = true, .from = {0.0, 0.0}, .to = 0.96};
    d.backlash_m = 0.00048;
    /* Free: no current, 240 rad/s, 48 mm/s: 0.01 s for 0.48 mm. */
    tap_ok(drive_go(&d, &back, 1.0, NULL, 0, &run) == ERR_OK, "reversed with backlash");
    close_to(run.time_s, 25.01, 1e-9, "takes that much longer, s (by hand)");
    tap_ok(drive_play(1.0, 0.9, 0.1) == 1.0 && drive_play(1.0, 1.05, 0.1) == 1.05 &&
               drive_play(1.0, 1.2, 0.1) == 1.1,
           "play: pushed, left alone, pulled");
    double rack =
        0.0; /* out to 1, back to 0: the rack is behind the pinion by the backlash, and no more */
    for (int i = 0; i <= 100; i++)
        rack = drive_play(i / 100.0, rack, 0.03);
    tap_ok(rack == 1.0, "play: out, in contact");
    for (int i = 100; i >= 0; i--)
        rack = drive_play(i / 100.0, rack, 0.03);
    close_to(rack, 0.03, 1e-12, "play: back in, behind by the backlash");

    d = plain();
    d.side[0].seal_n =
        500.0; /* rack 250 + 250 x depth/20 mm: beyond 375 N over the last 10 mm: two pitches of 6.283 begun */
    d.side[0].hold_n[1][0] = d.side[0].hold_n[1][1] = 375.0;
    run = go(&d, true);
    tap_ok(run.skips[0][1] == 2 && run.skips[0][0] == 0 && run.skips[1][1] == 0,
           "a rack that holds 375 N loses 2 teeth in the seal (by hand), found %d",
           run.skips[0][1]);
    d.side[0].hold_n[1][0] = d.side[0].hold_n[1][1] = 500.5;
    tap_ok(go(&d, true).skips[0][1] == 0, "and none when it holds more than the seal asks for");

    struct mechanism m;
    struct mechanism_state state = {0};
    double hold = 0.0;
    mechanism_invented(&m);
    tap_ok(drive_hold(&m, &state, MECHANISM_FORE, 0, 555 * MM, 2000.0, &hold) == ERR_OK &&
               near(hold, 2000.0, 1e-12),
           "in full mesh a rack holds what it holds");
    state.wear[MECHANISM_FORE][0] = MM; /* a quarter of the working depth of 4 mm */
    tap_ok(drive_hold(&m, &state, MECHANISM_FORE, 0, 555 * MM, 2000.0, &hold) == ERR_OK &&
               near(hold, 1500.0, 1e-12),
           "1 mm worn off a working depth of 4 mm: three quarters (by hand)");
    tap_ok(drive_hold(&m, &state, MECHANISM_FORE, 0, 555 * MM, -1.0, &hold) == ERR_DOMAIN,
           "a negative hold");

    d = plain();
    d.side[1].key_n_m[0] = 4.0; /* 5 N m: 0.02 x 0.25 x 0.96 m */
    run = go(&d, true);
    close_to(run.creep_m[1][0], 0.0048, 1e-9,
             "a key seat that holds 4 of 5 N m: creep, m (by hand)");
    tap_ok(run.creep_m[1][1] == 0.0 && run.creep_m[0][0] == 0.0, "a sound key does not creep");
    d.side[1].key_n_m[0] = 5.1;
    tap_ok(go(&d, true).creep_m[1][0] == 0.0, "nor does one that holds enough");
}

/* ---- ends ---------------------------------------------------------------------------------- */

static void ends(void)
{
    struct drive d = plain();
    d.supply_v = 1.5; /* needs 4 A through 0.6 ohm: 2.4 V */
    tap_ok(go(&d, true).end == DRIVE_STALLED, "1.5 V do not move it (by hand: 2.4 V are needed)");
    d.supply_v = 2.5;
    tap_ok(go(&d, true).end == DRIVE_ARRIVED || go(&d, true).end == DRIVE_LATE, "2.5 V do");
    d = plain();
    d.limit_a = 3.9;
    tap_ok(go(&d, true).end == DRIVE_TRIPPED, "a controller that switches off at 3.9 A");
    d.limit_a = 4.1;
    tap_ok(go(&d, true).end == DRIVE_ARRIVED, "and one at 4.1 A");
    d = plain();
    d.side[0].efficiency = 0.0;
    struct drive_run run;
    const struct drive_ask ask = {.is_out = true, .to = 0.96};
    tap_ok(drive_go(&d, &ask, 1.0, NULL, 0, &run) == ERR_DOMAIN, "a gearbox that gives nothing");
    d = plain();
    d.supply_v = NAN;
    tap_ok(drive_check(&d) == ERR_DOMAIN, "volts that are no number");
    d = plain();
    const struct drive_ask beyond = {.is_out = true, .to = 1.0};
    tap_ok(drive_go(&d, &beyond, 1.0, NULL, 0, &run) == ERR_DOMAIN, "further than it goes");
    const struct drive_ask wrong_way = {.is_out = true, .from = {0.5, 0.5}, .to = 0.2};
    tap_ok(drive_go(&d, &wrong_way, 1.0, NULL, 0, &run) == ERR_DOMAIN, "out to a place further in");

    struct drive_sample samples[8];
    tap_ok(drive_go(&d, &ask, 5.0, samples, 8, &run) == ERR_OK && run.n_samples == 6 + (size_t)0 &&
               samples[run.n_samples - 1].at_m[0] == 0.96,
           "samples every 5 s and the end, found %zu", run.n_samples);
    close_to(samples[1].at_m[0], 0.0384 * samples[1].time_s, 1e-9, "places by speed times time");

    /* What the demo's bulletin calls nominal: 13.2 V, 14 A out, 16 A in, 29 s (examples/OV-26-03.yaml). */
    drive_invented(&d);
    const struct drive_run out = go(&d, true), in = go(&d, false);
    tap_ok(out.end == DRIVE_ARRIVED && in.end == DRIVE_ARRIVED, "the invented drive arrives");
    close_to(out.feed_a, 14.0, 0.02, "current out, A (the bulletin's nominal)");
    close_to(in.feed_a, 16.0, 0.02, "current in, A (the bulletin's nominal)");
    close_to(out.motor_v[0], 13.2, 0.01, "volts at the motor (the bulletin's nominal)");
    close_to(out.time_s, 29.0, 0.03, "travel time, s (the bulletin's nominal)");
}

/* Anything drive_check lets pass must end, with places on the travel and figures that are numbers. */
static double wild(int least, int most)
{
    double value = (double)within(1, 9);
    for (int64_t n = within(least, most); n != 0; n += n < 0 ? 1 : -1)
        value = n < 0 ? value / 10.0 : value * 10.0;
    return value;
}

static void hostile(void)
{
    int n_run = 0, n_good = 0;
    rng = 9;
    for (int k = 0; k < 150; k++) {
        struct drive d = plain();
        const int span = k % 2 ? 11 : 3;
        for (int i = 0; i < MECHANISM_SIDES; i++) {
            d.side[i].motor_v_s = wild(-span, span);
            d.side[i].motor_ohm = wild(-span, span);
            d.side[i].ratio = wild(-span, span);
            d.side[i].motor_n_m_s = within(0, 1) ? 0.0 : wild(-span, span);
            d.side[i].friction_n[0] = wild(-span, span);
            d.side[i].seal_n = wild(-span, span);
            d.side[i].key_n_m[0] = wild(-span, span);
            d.side[i].hold_n[1][0] = wild(-span, span);
        }
        d.supply_v = wild(-span, span);
        d.supply_ohm = wild(-span, span);
        d.coupling_n_per_m = wild(-span, span);
        d.backlash_m = wild(-span, 0);
        d.travel_m = wild(-1, 3);
        d.seal_m = d.travel_m / (double)within(2, 100);
        if (drive_check(&d) != ERR_OK)
            continue;
        n_run++;
        const struct drive_ask ask = {.is_out = true, .is_reversal = k % 3 == 0, .to = d.travel_m};
        struct drive_run run;
        bool is_good = drive_go(&d, &ask, 1.0, NULL, 0, &run) == ERR_OK && isfinite(run.time_s) &&
                       isfinite(run.energy.in);
        for (int i = 0; is_good && i < MECHANISM_SIDES; i++)
            is_good = run.at_m[i] >= 0.0 && run.at_m[i] <= d.travel_m * (1.0 + 1e-12) &&
                      isfinite(run.current_a[i]) && run.skips[i][1] >= 0 &&
                      run.skips[i][1] <= DRIVE_SKIPS_MAX;
        n_good += is_good;
    }
    tap_ok(n_run > 100 && n_good == n_run, "%d of %d drives of wild figures end, on their travel",
           n_good, n_run);
}

int main(void)
{
    shafts();
    motors();
    sides();
    energy();
    lost_motion();
    ends();
    hostile();
    return tap_done();
}
