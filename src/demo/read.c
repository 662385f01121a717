/* read: owns what a technician reads of what is: lengths by core/tape, with the instrument that this person holds and the way they read
 * it; volts, amperes and seconds of the run in and out that core/drive works out for this unit. */
#include "demo/work.h"

#include <math.h>
#include <string.h>

#define NANO        1e9
#define HABIT_MARKS 5 /* favourite marks: every fifth */

/* ---- instruments ------------------------------------------------------------------------------- */

static const struct world_person *person_of(const struct work *w)
{
    return &w->world->persons[w->claim->person];
}

double work_normal(struct random *r, double most)
{
    double z = random_normal(r);
    while (fabs(z) > most)
        z = random_normal(r);
    return z;
}

/* One instrument of a kind a person, off by what its certificate leaves open; the eye stands aside of the mark as this person stands. */
static struct tape tape_of(const struct work *w, const struct conform_u *u)
{
    const struct world_person *person = person_of(w);
    return (struct tape){.resolution_nm = u->resolution,
                         .repeat_nm = (int64_t)u->repeat_u,
                         .calibration_nm = (int64_t)u->calibration_u,
                         .hook_nm = (int64_t)(person->gauge_off * u->calibration_u),
                         .stand_off_nm = WORLD_STAND_OFF_NM,
                         .eye_off_nm = person->eye_off_nm,
                         .eye_distance_nm = WORLD_EYE_DISTANCE_NM,
                         .habit_nm = person->has_habit ? HABIT_MARKS * u->resolution : 0,
                         .habit_percent = person->has_habit ? WORLD_HABIT_PERCENT : 0};
}

/* A meter shows its own figures: nobody favours fives on it, and no eye stands aside. */
static int64_t by_meter(struct work *w, const struct conform_u *u, int64_t true_nano)
{
    const double seen = (double)true_nano + person_of(w)->gauge_off * u->calibration_u +
                        work_normal(&w->random, 3.0) * u->repeat_u;
    const double step = u->resolution > 0 ? (double)u->resolution : 1.0;
    return (int64_t)(floor(seen / step + 0.5) * step);
}

int64_t work_shown(struct work *w, const char *instrument, bool is_length, int64_t true_nano)
{
    const struct conform_u u = bulletin_uncertainty(w->world->bulletin, instrument);
    if (!is_length || u.resolution <= 0)
        return by_meter(w, &u, true_nano);
    const struct tape tape = tape_of(w, &u);
    int64_t value = true_nano;
    const enum err e = tape_read(&tape, true_nano, w->random.s, &value);
    if (e != ERR_OK && w->err == ERR_OK)
        w->err = e;
    return value;
}

/* ---- the drive --------------------------------------------------------------------------------- */

/* Of two hundred drives no two are alike: shoes, seals, the charge of the battery, the ground, the room's weight. */
static void vary(struct random *r, struct drive *d)
{
    d->supply_v += 0.25 * work_normal(r, 2.0);
    d->slope = 0.004 * work_normal(r, 2.0);
    d->room_kg *= 1.0 + 0.1 * work_normal(r, 2.0);
    for (int side = 0; side < MECHANISM_SIDES; side++) {
        d->side[side].drag_in_n *= 1.0 + 0.2 * work_normal(r, 2.0);
        d->side[side].seal_n *= 1.0 + 0.2 * work_normal(r, 2.0);
        for (int k = 0; k < MECHANISM_RACKS; k++)
            d->side[side].friction_n[k] *= 1.0 + 0.06 * work_normal(r, 2.0);
    }
}

/* Out and in again, once the column is rebuilt and all is trued. */
static void run_once(struct work *w)
{
    struct drive d;
    drive_invented(&d);
    vary(&w->random, &d);
    for (int way = 0; way < 2; way++) {
        const double from = way == WORK_RUN_OUT ? 0.0 : d.travel_m;
        const struct drive_ask ask = {.is_out = way == WORK_RUN_OUT,
                                      .is_reversal = true,
                                      .from = {from, from},
                                      .to = d.travel_m - from};
        const enum err e = drive_go(&d, &ask, 1.0, NULL, 0, &w->runs[way]);
        if (e != ERR_OK && w->err == ERR_OK)
            w->err = e;
    }
    w->has_run = true;
}

bool work_drive_tells(struct work *w, const struct bulletin_point *point, int64_t *ret_nano)
{
    const enum dim dim = point->nominal.dim;
    if (dim != DIM_VOLTAGE && dim != DIM_CURRENT && dim != DIM_TIME)
        return false;
    if (!w->has_run)
        run_once(w);
    const struct drive_run *out = &w->runs[WORK_RUN_OUT];
    const size_t n = strlen(point->id);
    const bool is_in = n >= 3 && strcmp(point->id + n - 3, "-in") == 0; /* "current-in" */
    const struct drive_run *run = is_in ? &w->runs[WORK_RUN_IN] : out;
    const double value = dim == DIM_VOLTAGE   ? run->motor_v[MECHANISM_FORE]
                         : dim == DIM_CURRENT ? run->feed_a
                                              : run->time_s;
    *ret_nano = (int64_t)(value * NANO);
    return true;
}
