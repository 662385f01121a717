/* tape: what a person reads of a length: the tape, the eye and the habit between the true value and the figure written down.
 *
 *     seen = true (1 + scale) + hook + parallax + noise,      parallax = stand_off x eye_off/eye_distance
 * (similar triangles: the mark stands off the face, the eye stands aside of the mark), noise normal with standard deviation
 * repeat_nm. Written down is `seen` to the nearest mark: of the tape, or, as often as habit_share says, of the reader's
 * favourite marks (fives, whole millimetres). Halves go away from zero. Deterministic: the generator's state is the caller's.
 *
 * What the reader states as uncertainty is that of resolution, calibration and repeatability (core/conform.h); a hook off, a scale
 * error, parallax and habit are what nobody has taken out, and are not in it. */
#ifndef CORE_TAPE_H
#define CORE_TAPE_H

#include "core/conform.h"

#include <stdint.h>

struct tape {
    int64_t resolution_nm; /* > 0 */
    int64_t repeat_nm;     /* standard deviation of one reading, >= 0 */
    int64_t
        calibration_nm; /* standard uncertainty that its certificate states, >= 0; used by tape_u alone */
    int64_t hook_nm;                                   /* the end hook is off by this */
    int64_t scale_ppm;                                 /* the tape shows too much by this */
    int64_t stand_off_nm, eye_off_nm, eye_distance_nm; /* distance > 0 unless stand_off is 0 */
    int64_t habit_nm;                                  /* favourite marks; 0: none */
    int32_t habit_percent;                             /* how often, 0..100 */
};

/* Instruments of the demo's bulletin (examples/OV-26-03.yaml), read straight on: the sliding gap gauge (0.1 mm, calibration 0.05 mm,
 * repeated within 0.15 mm), the depth gauge for rack ends (0.05, 0.02, 0.04 mm), the steel tape of class II (1, 0.3, 0.4 mm). */
void tape_gap_gauge(struct tape *ret);
void tape_end_gauge(struct tape *ret);
void tape_of_steel(struct tape *ret);

/* tape_check: ERR_DOMAIN for lengths beyond 20 m, negative spreads, |scale| above 100 000 ppm, a percentage outside 0..100. */
MUST_USE enum err tape_check(const struct tape *t);

/* tape_stream: the generator's state for one reading: of a seed, a place and how often it was read before. */
void tape_stream(uint64_t seed, uint64_t place, uint64_t take, uint64_t ret_state[4]);

/* tape_read: what is written down of true_nm (within 20 m either way). state[4] moves on. Errors: ERR_DOMAIN. */
MUST_USE enum err tape_read(const struct tape *t, int64_t true_nm, uint64_t state[4],
                            int64_t *ret_nm);

/* tape_u: standard uncertainty that the reader may state, nm. */
double tape_u(const struct tape *t);

#endif
