/* drive: the forward model of what moves a room: two motors on one supply, a gearbox and a torque shaft a side, pinions on racks.
 * What it needs in amperes, volts, seconds; how far the two sides fall out of step; what twists, slips and creeps. For practice.
 *
 * Motor (direct current, permanent magnets), at its terminals: V = I R + k w, and its torque k I = T0 + b w + T_load; k in V s,
 * which is N m/A. Gearbox: w = N w_pinion, T_load = T_pinion/(N eta) when it drives, T_pinion eta/N when the room drives it.
 * Pinion: pitch radius r = m z/2, T_pinion = F r, v = w_pinion r. The force F against the motion of one side is
 *     F = friction of its racks + drag when it runs in + (+ out, - in) (m g sin(slope)/2 + seal(x) + c (x - x_other)),
 * seal(x) rising in a straight line from 0 to seal_n over the last seal_m at either end and pushing back, c how stiffly the room
 * holds its sides together. The supply has an inner resistance that both motors share, each motor a lead of its own:
 *     V0 - Rs (I1 + I2) = (R_lead + R) I + k w.
 * The load does not depend on speed, so the two currents follow from one linear system. A motor that cannot turn stands (w = 0) and
 * draws what its resistance lets it; beyond the controller's limit it is switched off.
 *
 * Shaft: the far pinion's torque T twists it by T L/(G J): its rack lags by r times that. Round bar J = pi d^4/32; hexagon bar of
 * width d across flats J = 0.115051 d^4 (Prandtl's torsion function by series). Backlash: after a reversal the pinion turns that
 * far before the rack follows. Hold: a rack in full mesh holds hold_n; with part of the working depth, that part of it (index, ours:
 * it rests on no measurement). Beyond, it loses a tooth a pitch of travel. Creep: a pinion whose key seat is shallow holds a
 * torque of key_n_m; above, it lags by creep_per_m (T/key - 1) for each metre run (ours as well).
 *
 * Limits. Quasi-static: no inertia, no current rise, no heat. Friction does not depend on load or speed. Racks that lag shift the
 * rack, not the stop. Steps of 10 ms, cut where a side reaches a stop, a seal or the end of its backlash; with forces that do
 * not depend on place the times are exact.
 *
 * Pure and deterministic: doubles in SI units (m, N, N m, V, A, ohm, s, rad), + - * / sqrt floor ceil alone. */
#ifndef CORE_DRIVE_H
#define CORE_DRIVE_H

#include "core/mechanism.h"

#include <stdbool.h>
#include <stddef.h>

enum { DRIVE_SKIPS_MAX = MECHANISM_TEETH_MAX };

struct drive_side {
    double motor_v_s;                   /* k, > 0 */
    double motor_ohm;                   /* R, > 0 */
    double motor_n_m;                   /* T0: what it takes to turn it at all, >= 0 */
    double motor_n_m_s;                 /* b, >= 0 */
    double lead_ohm;                    /* >= 0 */
    double ratio;                       /* N, motor turns a pinion turn, > 0 */
    double efficiency;                  /* eta, > 0, at most 1 */
    double friction_n[MECHANISM_RACKS]; /* of shoe and rack, either way, >= 0 */
    double drag_in_n;                   /* more when it runs in, >= 0 */
    double seal_n;                      /* at either stop, >= 0 */
    double key_n_m[MECHANISM_RACKS];    /* torque that the pinion's key holds; 0: a sound key */
    double hold_n[MECHANISM_RACKS][2];  /* what a rack holds, in and out; 0, 0: any load */
};

struct drive {
    struct drive_side side[MECHANISM_SIDES];
    double supply_v;       /* with nothing running, > 0 */
    double supply_ohm;     /* inside it and in the common lead, >= 0 */
    double limit_a;        /* of one motor, at which the controller switches it off; 0: none */
    double module_m;       /* > 0 */
    int pinion_teeth;      /* 5..200 */
    int motor_at;          /* rack at whose pinion the gearbox sits: 0 lower, 1 upper */
    double shaft_m;        /* between the pinions, >= 0 */
    double shaft_shear_pa; /* G, > 0 */
    double shaft_j_m4;     /* > 0 */
    double backlash_m;     /* >= 0 */
    double room_kg;        /* >= 0 */
    double slope; /* rise per run of the ground outwards; + is uphill going out; within +-1 */
    double coupling_n_per_m; /* c, >= 0 */
    double bind_m;           /* sides that get further apart than this jam the room; 0: never */
    double travel_m;         /* > 0 */
    double seal_m;           /* >= 0, at most half the travel */
    double creep_per_m;      /* m per m, >= 0 */
};

/* drive_check: ERR_DOMAIN for anything out of the ranges above, not finite, or larger than 1e12. The functions below ask. */
MUST_USE enum err drive_check(const struct drive *d);

/* drive_j_round, drive_j_hexagon: polar moment, m^4, of a round bar, and the like of a hexagon bar across flats, both in m. */
double drive_j_round(double diameter_m);
double drive_j_hexagon(double across_m);

/* drive_twist: rad; T L/(G J). Worked: 20 N m, 2 m, 79.3 GPa, 25 mm round: 0.0131531 rad. */
double drive_twist(double torque_n_m, double length_m, double shear_pa, double j_m4);

/* drive_radius: of the pinion's pitch circle, m. */
double drive_radius(const struct drive *d);

/* drive_play: where a rack stands that follows its pinion with backlash_m of lost motion: as before while the pinion is within it.
 * pinion_m and rack_m count from a place where the pinion, going out, just touches. */
double drive_play(double pinion_m, double rack_m, double backlash_m);

/* drive_hold: hold_n times the part of the working depth in mesh. Errors: those of mechanism_mesh, ERR_DOMAIN for hold_n < 0. */
MUST_USE enum err drive_hold(const struct mechanism *m, const struct mechanism_state *state,
                             enum mechanism_side side, int rack, int64_t extension, double hold_n,
                             double *ret_n);

enum drive_motor { DRIVE_MOTOR_TURNS, DRIVE_MOTOR_STANDS, DRIVE_MOTOR_OFF };

struct drive_load { /* of one side */
    double force_n; /* against the motion; negative: the room pushes */
    enum drive_motor motor;
    bool is_free; /* the pinion takes up backlash: no load at all */
};

struct drive_point { /* of one side, with the current that its load asks for */
    enum drive_motor motor;
    double current_a, motor_v; /* motor_v: at its terminals */
    double speed_rad_s;        /* of the motor */
    double speed_m_s;          /* of the rack */
};

/* drive_steady: both sides under given loads. A motor that turns by `loads` but has too little torque stands in the answer.
 * Errors: ERR_DOMAIN. */
MUST_USE enum err drive_steady(const struct drive *d,
                               const struct drive_load loads[MECHANISM_SIDES],
                               struct drive_point ret[MECHANISM_SIDES]);

enum drive_end {
    DRIVE_ARRIVED, /* both sides where they were sent */
    DRIVE_STALLED, /* neither moves any more */
    DRIVE_TRIPPED, /* the controller switched off before the end */
    DRIVE_BOUND,   /* the sides got so far apart that the room jammed */
    DRIVE_LATE     /* 600 s were not enough */
};

struct drive_ask {
    bool is_out;      /* direction */
    bool is_reversal; /* the last run went the other way: backlash first */
    double
        from[MECHANISM_SIDES]; /* 0 .. travel_m; a side beyond `to` stays there, not both may be */
    double to;                 /* 0 .. travel_m */
};

struct drive_sample { /* for drawing */
    double time_s, at_m[MECHANISM_SIDES], current_a[MECHANISM_SIDES], motor_v[MECHANISM_SIDES];
};

struct drive_energy { /* J; in = all the others together */
    double in, supply, copper, motor, gearbox, friction, slope, seal, coupling;
};

struct drive_run {
    enum drive_end end;
    double time_s;
    double at_m[MECHANISM_SIDES];
    double apart_m; /* greatest fore - aft, signed */
    double apart_at_m;
    double current_a[MECHANISM_SIDES]; /* mean over the travel, by time while the side moved */
    double peak_a[MECHANISM_SIDES];    /* while it moved */
    double feed_a;                     /* of both together, mean while both moved */
    double motor_v[MECHANISM_SIDES];   /* mean while it moved */
    double least_v[MECHANISM_SIDES];   /* lowest while it moved */
    double force_n[MECHANISM_SIDES][MECHANISM_RACKS]; /* greatest */
    double twist_rad[MECHANISM_SIDES];                /* greatest */
    double lag_m[MECHANISM_SIDES];                    /* of the far rack, with that twist */
    double creep_m[MECHANISM_SIDES][MECHANISM_RACKS]; /* lost against the motion */
    int skips[MECHANISM_SIDES][MECHANISM_RACKS];      /* teeth lost against the motion */
    struct drive_energy energy;
    size_t n_samples; /* written */
};

/* drive_go: one run. samples[n]: one each `every_s` (> 0) and the last; NULL, 0 for none. Errors: ERR_DOMAIN, and nothing is written. */
MUST_USE enum err drive_go(const struct drive *d, const struct drive_ask *ask, double every_s,
                           struct drive_sample *samples, size_t n, struct drive_run *ret);

/* drive_yaw_nm_per_m: what sides that are apart_m apart add to the yaw of `m`: apart/track. */
int64_t drive_yaw_nm_per_m(const struct mechanism *m, double apart_m);

/* drive_invented: the invented drive of the demo (Orrin Vale WD): 960 mm in 29 s with 14 A out and 16 A in at 13.2 V. */
void drive_invented(struct drive *ret);

#endif
