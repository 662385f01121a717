/* mechanism: owns the geometry of room, columns and racks; formulas in mechanism.h. */
#include "core/mechanism.h"

#include "core/gear.h"

#include <math.h>
#include <stdbool.h>
#include <stddef.h>

#define M_NM  1e9 /* one metre */
#define MM_NM INT64_C(1000000)

/* ---- ranges -------------------------------------------------------------------------------- */

static bool within(int64_t value, int64_t least, int64_t most)
{
    return value >= least && value <= most;
}

static bool is_length(int64_t value)
{
    return within(value, -MECHANISM_LENGTH_MAX_NM, MECHANISM_LENGTH_MAX_NM);
}

static bool is_size(int64_t value)
{
    return within(value, 1, MECHANISM_LENGTH_MAX_NM);
}

static bool is_slope(int64_t value)
{
    return within(value, -MECHANISM_SLOPE_MAX, MECHANISM_SLOPE_MAX);
}

static bool is_made_well(const struct mechanism *m)
{
    for (int s = 0; s < MECHANISM_SIDES; s++)
        for (int h = 0; h < MECHANISM_HEIGHTS; h++)
            if (!is_size(m->edge[s][h]))
                return false;
    for (int h = 0; h < MECHANISM_HEIGHTS; h++)
        if (!is_length(m->fixing_height[h]) || !is_length(m->reading_height[h]) ||
            !is_length(m->rack_height[h]))
            return false;
    return is_size(m->room_width) && m->fixing_height[0] < m->fixing_height[1] &&
           m->reading_height[0] < m->reading_height[1] && is_length(m->middle_height) &&
           is_size(m->pivot_to_packing) && is_size(m->pivot_to_face) && is_size(m->packing_step) &&
           is_size(m->toe_step) && is_length(m->toe_from) && is_length(m->toe_full) &&
           m->toe_from < m->toe_full && is_length(m->straight) && is_size(m->track) &&
           within(m->module, 1, GEAR_MODULE_MAX_NM) && is_length(m->nominal_gap) &&
           within(m->shoe_play, 0, MECHANISM_LENGTH_MAX_NM);
}

enum err mechanism_check(const struct mechanism *m, const struct mechanism_state *state)
{
    bool is_good = is_made_well(m) && is_length(state->offset) && is_slope(state->yaw_per_m) &&
                   is_slope(state->lean_per_m) && is_slope(state->twist_per_m);
    for (int s = 0; is_good && s < MECHANISM_SIDES; s++) {
        is_good = within(state->toe[s], -MECHANISM_STEPS_MAX, MECHANISM_STEPS_MAX);
        for (int h = 0; is_good && h < MECHANISM_HEIGHTS; h++)
            is_good = within(state->packing[s][h], -MECHANISM_STEPS_MAX, MECHANISM_STEPS_MAX);
        for (int r = 0; is_good && r < MECHANISM_RACKS; r++)
            is_good = within(state->teeth[s][r], -MECHANISM_TEETH_MAX, MECHANISM_TEETH_MAX) &&
                      is_length(state->creep[s][r]) &&
                      within(state->wear[s][r], 0, MECHANISM_LENGTH_MAX_NM);
    }
    return is_good ? ERR_OK : ERR_DOMAIN;
}

/* ---- geometry ------------------------------------------------------------------------------ */

/* Everything stays below 2^62: 20 m of lengths, levers of at most 2e10, and slopes of at most 0.1 after the racks; see gap_nm. */
static int64_t nearest(double value)
{
    return (int64_t)floor(value + 0.5);
}

/* On the straight line through low and high at the two fixings. */
static double along(const struct mechanism *m, double low, double high, double z)
{
    const double bottom = (double)m->fixing_height[MECHANISM_LOWER];
    const double height = (double)m->fixing_height[MECHANISM_UPPER] - bottom;
    return low + (high - low) * ((z - bottom) / height);
}

static double rack_ahead(const struct mechanism *m, const struct mechanism_state *state, int side,
                         int rack)
{
    int64_t span = 0;
    if (gear_span_nm(m->module, state->teeth[side][rack], &span) != ERR_OK)
        return 0.0; /* never: module and teeth were checked */
    return (double)span + (double)state->creep[side][rack];
}

static double side_ahead(const struct mechanism *m, const struct mechanism_state *state, int side)
{
    return (rack_ahead(m, state, side, 0) + rack_ahead(m, state, side, 1)) / 2.0;
}

/* The column's face from the middle of the opening. */
static double face(const struct mechanism *m, const struct mechanism_state *state, int side,
                   double z, double extension)
{
    const double lever = (double)m->pivot_to_face / (double)m->pivot_to_packing;
    const double step = (double)m->packing_step * lever;
    const double edge =
        along(m, (double)m->edge[side][MECHANISM_LOWER], (double)m->edge[side][MECHANISM_UPPER], z);
    const double pack = along(m, step * state->packing[side][MECHANISM_LOWER],
                              step * state->packing[side][MECHANISM_UPPER], z);
    const double reach = (extension - (double)m->toe_from) / (double)(m->toe_full - m->toe_from);
    return edge - pack - (double)m->toe_step * state->toe[side] * reach;
}

static double gap_nm(const struct mechanism *m, const struct mechanism_state *state, int side,
                     double z, double extension)
{
    const double travel = extension - (double)m->straight;
    const double yaw = (double)state->yaw_per_m / M_NM + (side_ahead(m, state, MECHANISM_FORE) -
                                                          side_ahead(m, state, MECHANISM_AFT)) /
                                                             (double)m->track;
    const double lean =
        (double)state->lean_per_m / M_NM + (double)state->twist_per_m / M_NM * (travel / M_NM);
    const double middle =
        (double)state->offset + yaw * travel + lean * (z - (double)m->middle_height);
    const double half = (double)m->room_width / 2.0 * sqrt(1.0 + yaw * yaw + lean * lean);
    const double towards = side == MECHANISM_FORE ? middle : -middle;
    return face(m, state, side, z, extension) - towards - half;
}

/* A track of 1 nm and racks metres ahead turn the room by more than any slope allowed: such a room is refused. */
static bool is_turned_little(const struct mechanism *m, const struct mechanism_state *state)
{
    const double ahead = side_ahead(m, state, MECHANISM_FORE) - side_ahead(m, state, MECHANISM_AFT);
    return fabs(ahead) <= (double)m->track;
}

/* Levers beyond 1 : 1000, lines stretched far beyond their fixings: refused, so that every answer fits. */
static bool is_answer(double value)
{
    return fabs(value) <= 1000.0 * (double)MECHANISM_LENGTH_MAX_NM;
}

static enum err checked_gap(const struct mechanism *m, const struct mechanism_state *state,
                            int side, int64_t z, int64_t extension, double *ret)
{
    if (mechanism_check(m, state) != ERR_OK || !within(side, 0, MECHANISM_SIDES - 1) ||
        !is_length(z) || !is_length(extension) || !is_turned_little(m, state))
        return ERR_DOMAIN;
    const double gap = gap_nm(m, state, side, (double)z, (double)extension);
    if (!is_answer(gap))
        return ERR_DOMAIN;
    *ret = gap;
    return ERR_OK;
}

enum err mechanism_gap(const struct mechanism *m, const struct mechanism_state *state,
                       enum mechanism_side side, int64_t z, int64_t extension, int64_t *ret_gap)
{
    double gap = 0.0;
    const enum err e = checked_gap(m, state, (int)side, z, extension, &gap);
    if (e == ERR_OK)
        *ret_gap = nearest(gap);
    return e;
}

enum err mechanism_corners(const struct mechanism *m, const struct mechanism_state *state,
                           int64_t in, int64_t out, int64_t ret_gaps[MECHANISM_CORNERS])
{
    int64_t gaps[MECHANISM_CORNERS];
    for (int i = 0; i < MECHANISM_CORNERS; i++) {
        const enum mechanism_side side = i < 4 ? MECHANISM_FORE : MECHANISM_AFT;
        const int height = i % 4 < 2 ? MECHANISM_UPPER : MECHANISM_LOWER;
        const int64_t z = m->reading_height[height];
        const enum err e = mechanism_gap(m, state, side, z, i % 2 ? out : in, &gaps[i]);
        if (e != ERR_OK)
            return e;
    }
    for (int i = 0; i < MECHANISM_CORNERS; i++)
        ret_gaps[i] = gaps[i];
    return ERR_OK;
}

/* ---- racks --------------------------------------------------------------------------------- */

enum err mechanism_rack_end(const struct mechanism *m, const struct mechanism_state *state,
                            enum mechanism_side side, int rack, int64_t *ret_nm)
{
    if (mechanism_check(m, state) != ERR_OK || !within(side, 0, MECHANISM_SIDES - 1) ||
        !within(rack, 0, MECHANISM_RACKS - 1))
        return ERR_DOMAIN;
    *ret_nm = nearest(rack_ahead(m, state, (int)side, rack));
    return ERR_OK;
}

enum err mechanism_mesh(const struct mechanism *m, const struct mechanism_state *state,
                        enum mechanism_side side, int rack, int64_t extension,
                        struct mechanism_mesh *ret)
{
    if (!within(rack, 0, MECHANISM_RACKS - 1) || !is_made_well(m))
        return ERR_DOMAIN;
    double gap = 0.0;
    const enum err e = checked_gap(m, state, (int)side, m->rack_height[rack], extension, &gap);
    if (e != ERR_OK)
        return e;
    const double play = (double)m->shoe_play, working = 2.0 * (double)m->module;
    double off = gap - (double)m->nominal_gap;
    off = off < 0.0 ? 0.0 : off > play ? play : off;
    double depth = working - (double)state->wear[side][rack] - off;
    depth = depth < 0.0 ? 0.0 : depth;
    *ret = (struct mechanism_mesh){nearest(depth), 1.0 - depth / working};
    return ERR_OK;
}

/* ---- the invented drive -------------------------------------------------------------------- */

void mechanism_invented(struct mechanism *ret)
{
    *ret = (struct mechanism){
        .room_width = 2400 * MM_NM,
        .edge = {{1258 * MM_NM, 1258 * MM_NM}, {1258 * MM_NM, 1258 * MM_NM}},
        .fixing_height = {100 * MM_NM, 1900 * MM_NM},
        .reading_height = {400 * MM_NM, 1600 * MM_NM}, /* a sixth of the way in from each fixing */
        .middle_height = 1000 * MM_NM,
        .pivot_to_packing = 100 * MM_NM,
        .pivot_to_face =
            120 * MM_NM, /* 1.2 x 5/6 = 1 at the near corner, 1.2 x 1/6 = 0.2 at the far one */
        .packing_step = MM_NM / 2,
        .toe_step = MM_NM / 2,
        .toe_from = 150 * MM_NM,
        .toe_full = 960 * MM_NM,
        .straight = 555 * MM_NM, /* midway between the two extensions at which gaps are read */
        .track = 2360 * MM_NM,
        .module = 2 * MM_NM,
        .rack_height = {500 * MM_NM, 1500 * MM_NM},
        .nominal_gap = 58 * MM_NM,
        .shoe_play = 3 * MM_NM / 2,
    };
}
