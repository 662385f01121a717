/* tape: owns the way from a true length to the figure that is written down; formulas in tape.h. */
#include "core/tape.h"

#include "core/mechanism.h"
#include "core/normal.h"
#include "core/xoshiro.h"

#include <math.h>

#define PPM       1e6
#define UNIT_53   (1.0 / 9007199254740992.0) /* 2^-53 */
#define SCALE_MAX INT64_C(100000)

static bool is_length(int64_t value)
{
    return value >= -MECHANISM_LENGTH_MAX_NM && value <= MECHANISM_LENGTH_MAX_NM;
}

void tape_gap_gauge(struct tape *ret)
{
    *ret = (struct tape){.resolution_nm = 100000, .repeat_nm = 150000, .calibration_nm = 50000};
}

void tape_end_gauge(struct tape *ret)
{
    *ret = (struct tape){.resolution_nm = 50000, .repeat_nm = 40000, .calibration_nm = 20000};
}

void tape_of_steel(struct tape *ret)
{
    *ret = (struct tape){.resolution_nm = 1000000, .repeat_nm = 400000, .calibration_nm = 300000};
}

enum err tape_check(const struct tape *t)
{
    const bool is_good =
        is_length(t->resolution_nm) && t->resolution_nm > 0 && is_length(t->repeat_nm) &&
        t->repeat_nm >= 0 && is_length(t->calibration_nm) && t->calibration_nm >= 0 &&
        is_length(t->hook_nm) && t->scale_ppm >= -SCALE_MAX && t->scale_ppm <= SCALE_MAX &&
        is_length(t->stand_off_nm) && is_length(t->eye_off_nm) && is_length(t->eye_distance_nm) &&
        (t->stand_off_nm == 0 || t->eye_distance_nm > 0) && is_length(t->habit_nm) &&
        t->habit_nm >= 0 && t->habit_percent >= 0 && t->habit_percent <= 100;
    return is_good ? ERR_OK : ERR_DOMAIN;
}

void tape_stream(uint64_t seed, uint64_t place, uint64_t take, uint64_t ret_state[4])
{
    uint64_t at = seed;
    at = xoshiro_split(&at) ^ place;
    at = xoshiro_split(&at) ^ take;
    xoshiro_fill(ret_state, at);
}

/* Open at both ends: half a step in. */
static double share(uint64_t state[4])
{
    return ((double)(xoshiro_bits(state) >> 11) + 0.5) * UNIT_53;
}

static double to_mark(double value, double step)
{
    const double marks = floor(fabs(value) / step + 0.5);
    return (value < 0.0 ? -marks : marks) * step;
}

enum err tape_read(const struct tape *t, int64_t true_nm, uint64_t state[4], int64_t *ret_nm)
{
    if (tape_check(t) != ERR_OK || !is_length(true_nm))
        return ERR_DOMAIN;
    /* Both are drawn whatever the tape is: the same stream gives the same noise to a good and to a bad one. */
    const double noise = normal_quantile(share(state)), mood = share(state);
    double seen = (double)true_nm * (1.0 + (double)t->scale_ppm / PPM) + (double)t->hook_nm +
                  noise * (double)t->repeat_nm;
    if (t->stand_off_nm != 0)
        seen += (double)t->stand_off_nm * ((double)t->eye_off_nm / (double)t->eye_distance_nm);
    const bool is_habit = t->habit_nm > 0 && mood * 100.0 < (double)t->habit_percent;
    const double written = to_mark(seen, (double)(is_habit ? t->habit_nm : t->resolution_nm));
    if (!(fabs(written) <= 1000.0 * (double)MECHANISM_LENGTH_MAX_NM))
        return ERR_DOMAIN;
    *ret_nm = (int64_t)written;
    return ERR_OK;
}

double tape_u(const struct tape *t)
{
    return conform_combine(
        (struct conform_u){t->resolution_nm, (double)t->calibration_nm, (double)t->repeat_nm});
}
