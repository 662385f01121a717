/* mechanism: the forward model of a room on rack-and-pinion columns: from dimensions and state to what one would read. For
 * practice and for made-up campaigns; truing and timing go the other way and do not know it.
 *
 * Geometry. x runs along the wall towards fore, y out of the wall, z up; the origin is the middle of the opening at the floor, in
 * the plane of the wall. The room is a box with flat faces, width W. Its middle stands at (x0, e - e0), e the extension and e0
 * that at which yaw and twist do not show. Turned by yaw a (x per y) and lean b (x per z, from the middle height z0), the face on
 * side s (+1 fore, -1 aft) meets the wall's plane at height z at
 *     x = x0 + a (e - e0) + b (z - z0) + s (W/2) sqrt(1 + a^2 + b^2),         b = b0 + t (e - e0), t the twist
 * exactly: the distance of a plane. The gap at (s, z, e) is what is left to the column's face:
 *     gap = edge_s(z) - pack_s(z) - toe_s (e - e1)/(e2 - e1) - s x
 * edge_s(z): the face with no packing, a straight line through its places at the two fixings. pack_s(z): packing put behind a
 * fixing turns the flange about its far edge, so the face moves by packing x (pivot to face)/(pivot to packing) at the height of
 * that fixing, and in between on a straight line. toe_s: from extension e1 on, nothing at e1 and all of it at e2.
 *
 * Racks. A rack that is ahead by whole teeth n and by creep c (a pinion turned on the torque shaft, as arc on its pitch circle)
 * carries its side of the room out by n p + c, p = pi m. The two sides, each the mean of its racks, add to the yaw:
 *     a = a0 + (ahead_fore - ahead_aft)/track
 * Two racks of one side out of step tip the room in the plane of its own side, which no gap shows: only the rack ends do.
 * Mesh: working depth 2 m, less wear, less what the face stands off beyond the nominal gap at the rack's height, but no more than
 * the shoe's play. Skip: the part of the working depth that is lost, 0 to 1; an index, no probability, rests on no measurement.
 *
 * Limits. Rigid bodies, flat faces, straight edges; no sag, no backlash, no twist of the shaft, no force. Toe is taken as bulletins
 * declare it (linear in the extension, on its own side) and not derived. Packing and toe are linear, exactly; yaw and lean also
 * add (W/2)(sqrt(1 + a^2 + b^2) - 1) to both sides: 0.06 mm for a room of 2.4 m that is turned by 10 mm/m. Rack and pinion do not
 * push the room sideways: a rack that backs off its pinion changes the mesh, not the gap.
 *
 * Pure and deterministic: int64 nm in and out, doubles inside with + - * / sqrt alone, so every machine gives the same nm. */
#ifndef CORE_MECHANISM_H
#define CORE_MECHANISM_H

#include "core/err.h"

#include <stdint.h>

enum mechanism_side { MECHANISM_FORE, MECHANISM_AFT, MECHANISM_SIDES };
enum mechanism_height { MECHANISM_LOWER, MECHANISM_UPPER, MECHANISM_HEIGHTS };
enum {
    MECHANISM_RACKS = 2,
    MECHANISM_CORNERS = 8,
    MECHANISM_STEPS_MAX = 1000,
    MECHANISM_TEETH_MAX = 100
};

#define MECHANISM_LENGTH_MAX_NM ((int64_t)20000000000) /* 20 m, either way */
#define MECHANISM_SLOPE_MAX     ((int64_t)100000000)   /* 100 mm per m */

/* How it is made: nm. */
struct mechanism {
    int64_t room_width;
    int64_t edge
        [MECHANISM_SIDES]
        [MECHANISM_HEIGHTS]; /* middle of the opening to the column's face at each fixing, > 0 */
    int64_t fixing_height[MECHANISM_HEIGHTS];  /* ascending */
    int64_t reading_height[MECHANISM_HEIGHTS]; /* where gaps are read; ascending */
    int64_t middle_height;                     /* z0 */
    int64_t pivot_to_packing, pivot_to_face;   /* the flange's lever, > 0 */
    int64_t packing_step, toe_step;            /* of one step of either, > 0 */
    int64_t toe_from, toe_full;                /* e1 < e2 */
    int64_t straight;                          /* e0 */
    int64_t track;                             /* between the racks of fore and aft, > 0 */
    int64_t module;                            /* of the racks, > 0, at most GEAR_MODULE_MAX_NM */
    int64_t rack_height[MECHANISM_RACKS];
    int64_t nominal_gap; /* at which a rack is in full mesh */
    int64_t shoe_play;   /* >= 0 */
};

/* How it stands now: nm, slopes in nm per m. All zero: as made, in the middle, straight. */
struct mechanism_state {
    int64_t offset;      /* x0: towards fore */
    int64_t yaw_per_m;   /* a0: the room swings to fore as it goes out */
    int64_t lean_per_m;  /* b0: its top lies to fore */
    int64_t twist_per_m; /* of lean (nm per m), for each m of travel */
    int32_t packing[MECHANISM_SIDES][MECHANISM_HEIGHTS]; /* steps: + closes the gap */
    int32_t toe[MECHANISM_SIDES];                    /* steps: + closes the gap with the room out */
    int32_t teeth[MECHANISM_SIDES][MECHANISM_RACKS]; /* ahead */
    int64_t creep[MECHANISM_SIDES][MECHANISM_RACKS]; /* ahead */
    int64_t wear[MECHANISM_SIDES][MECHANISM_RACKS];  /* depth lost, >= 0 */
};

/* mechanism_check: whether everything lies in its range (lengths within MECHANISM_LENGTH_MAX_NM, slopes within
 * MECHANISM_SLOPE_MAX, steps and teeth within theirs). ERR_DOMAIN else. The functions below ask for it themselves. */
MUST_USE enum err mechanism_check(const struct mechanism *m, const struct mechanism_state *state);

/* mechanism_gap: the gap on one side at height z with the room at `extension`, to the nearest nm. May be negative: the room then
 * stands in the column, and what one would see is a jam. Errors: ERR_DOMAIN. */
MUST_USE enum err mechanism_gap(const struct mechanism *m, const struct mechanism_state *state,
                                enum mechanism_side side, int64_t z, int64_t extension,
                                int64_t *ret_gap);

/* mechanism_corners: the gaps at the reading heights with the room `in` and `out`, in the order fore upper in, fore upper out,
 * fore lower in, fore lower out, and the same for aft. Errors: ERR_DOMAIN. */
MUST_USE enum err mechanism_corners(const struct mechanism *m, const struct mechanism_state *state,
                                    int64_t in, int64_t out, int64_t ret_gaps[MECHANISM_CORNERS]);

/* mechanism_rack_end: how far the end of a rack stands ahead of where it should: n p + c. The difference of two of one side is
 * what timing reads. Errors: ERR_DOMAIN. */
MUST_USE enum err mechanism_rack_end(const struct mechanism *m, const struct mechanism_state *state,
                                     enum mechanism_side side, int rack, int64_t *ret_nm);

struct mechanism_mesh {
    int64_t depth; /* nm in mesh; 0 when the teeth no longer meet, at most 2 modules */
    double skip;   /* 0 full depth .. 1 no depth: an index, no probability */
};

/* mechanism_mesh: of one rack with the room at `extension`. Errors: ERR_DOMAIN. */
MUST_USE enum err mechanism_mesh(const struct mechanism *m, const struct mechanism_state *state,
                                 enum mechanism_side side, int rack, int64_t extension,
                                 struct mechanism_mesh *ret);

/* mechanism_invented: the dimensions of the invented drive of the demo (Orrin Vale WD): gaps of 58 mm all round, packing that
 * moves its own corner by 0.5 mm and the other by 0.1 mm a step, toe from 150 mm to 960 mm. */
void mechanism_invented(struct mechanism *ret);

#endif
