/* Rows for core/mechanism, worked by hand from the geometry in its header (plane, straight line, lever; pitch pi m of ISO 53), and
 * consistency with the bulletin's effects, with modes and with truing. */
#include "bulletin/bulletin.h"
#include "core/mechanism.h"
#include "core/modes.h"
#include "core/truing.h"
#include "table.h"
#include "tap.h"

#include <inttypes.h>
#include <math.h>

#define ROOT TEST_TABLES "/../../"
#define MM   INT64_C(1000000)

enum { IN = 150, OUT = 960 };

static bool corners(const struct mechanism *m, const struct mechanism_state *s,
                    int64_t gaps[MECHANISM_CORNERS])
{
    return mechanism_corners(m, s, IN * MM, OUT * MM, gaps) == ERR_OK;
}

/* Gaps of the invented drive in this state against eight values, within `within` nm. */
static void row(const struct mechanism_state *s, const int64_t want[MECHANISM_CORNERS],
                int64_t within, const char *what)
{
    static const char *const names[MECHANISM_CORNERS] = {
        "fore upper in", "fore upper out", "fore lower in", "fore lower out",
        "aft upper in",  "aft upper out",  "aft lower in",  "aft lower out"};
    struct mechanism m;
    int64_t got[MECHANISM_CORNERS] = {0};
    mechanism_invented(&m);
    if (!tap_ok(corners(&m, s, got), "%s: computed", what))
        return;
    for (int i = 0; i < MECHANISM_CORNERS; i++)
        tap_ok(got[i] >= want[i] - within && got[i] <= want[i] + within,
               "%s: %s is %" PRId64 " nm, found %" PRId64 " (by hand)", what, names[i], want[i],
               got[i]);
}

static void pose_rows(void)
{
    const struct mechanism_state as_made = {0};
    row(&as_made,
        (const int64_t[]){58000000, 58000000, 58000000, 58000000, 58000000, 58000000, 58000000,
                          58000000},
        0, "as made: 1258 - 1200 mm");
    const struct mechanism_state aside = {.offset = MM};
    row(&aside,
        (const int64_t[]){57000000, 57000000, 57000000, 57000000, 59000000, 59000000, 59000000,
                          59000000},
        0, "1 mm to fore");
    /* 2 mm/m over 405 mm either way is 0.81 mm; both sides lose 1.2 m x (sqrt(1 + 4e-6) - 1) = 1.2 m x 1.999998e-6 = 2400 nm. */
    const struct mechanism_state yaw = {.yaw_per_m = 2 * MM};
    row(&yaw,
        (const int64_t[]){58807600, 57187600, 58807600, 57187600, 57187600, 58807600, 57187600,
                          58807600},
        1, "yaw 2 mm/m");
    /* 3 mm/m over 600 mm is 1.8 mm; both sides lose 1.2 m x 4.5e-6 = 5400 nm. */
    const struct mechanism_state lean = {.lean_per_m = 3 * MM};
    row(&lean,
        (const int64_t[]){56194600, 56194600, 59794600, 59794600, 59794600, 59794600, 56194600,
                          56194600},
        1, "lean 3 mm/m");
    /* 4 mm/m a metre: at 405 mm from straight 1.62 mm/m, over 600 mm 0.972 mm; 1.2 m x 1.3122e-6 = 1575 nm. */
    const struct mechanism_state twist = {.twist_per_m = 4 * MM};
    row(&twist,
        (const int64_t[]){58970425, 57026425, 57026425, 58970425, 57026425, 58970425, 58970425,
                          57026425},
        1, "twist 4 mm/m a metre");
}

static void column_rows(void)
{
    struct mechanism_state s = {0};
    s.packing[MECHANISM_FORE][MECHANISM_UPPER] = 2;
    row(&s,
        (const int64_t[]){57000000, 57000000, 57800000, 57800000, 58000000, 58000000, 58000000,
                          58000000},
        1, "two shims at fore upper: 2 x 0.5 x 1.2 x 5/6 and x 1/6");
    s = (struct mechanism_state){0};
    s.toe[MECHANISM_AFT] = 3;
    row(&s,
        (const int64_t[]){58000000, 58000000, 58000000, 58000000, 58000000, 56500000, 58000000,
                          56500000},
        1, "three notches of toe aft: 1.5 mm when out");
}

static void rack_rows(void)
{
    /* Pitch pi x 2 mm = 6 283 185 nm; one side one tooth ahead turns the room by 6.283185/2360 = 0.00266236653 over 405 mm:
     * 1 078 258 nm; both sides lose 1.2 m x 3.5440977e-6 = 4253 nm. */
    struct mechanism_state s = {0};
    s.teeth[MECHANISM_FORE][0] = s.teeth[MECHANISM_FORE][1] = 1;
    row(&s,
        (const int64_t[]){59074005, 56917489, 59074005, 56917489, 56917489, 59074005, 56917489,
                          59074005},
        2, "fore one tooth ahead");
    /* Both sides ahead alike: straight again. */
    s.teeth[MECHANISM_AFT][0] = s.teeth[MECHANISM_AFT][1] = 1;
    row(&s,
        (const int64_t[]){58000000, 58000000, 58000000, 58000000, 58000000, 58000000, 58000000,
                          58000000},
        0, "both sides one tooth ahead");
    struct mechanism m;
    int64_t end = 0, other = 0;
    mechanism_invented(&m);
    s.teeth[MECHANISM_FORE][1] = -2;
    s.creep[MECHANISM_FORE][1] = 400000;
    tap_ok(mechanism_rack_end(&m, &s, MECHANISM_FORE, 0, &end) == ERR_OK && end == 6283185,
           "one tooth of module 2 is 6 283 185 nm (pi m, ISO 53)");
    tap_ok(mechanism_rack_end(&m, &s, MECHANISM_FORE, 1, &other) == ERR_OK && other == -12166371,
           "two teeth back and 0.4 mm of creep: 400 000 - 12 566 371 nm");
    s = (struct mechanism_state){0};
    s.creep[MECHANISM_AFT][0] =
        236 * MM /
        100; /* mean 1.18 mm behind fore: 1.18/2360 = 0.0005 towards aft, over 405 mm 0.2025 mm */
    row(&s,
        (const int64_t[]){57797350, 58202350, 57797350, 58202350, 58202350, 57797350, 58202350,
                          57797350},
        1, "one aft rack creeps 2.36 mm (150 nm by the turn)");
}

static void mesh_row(const struct mechanism_state *s, int64_t depth, double skip, const char *what)
{
    struct mechanism m;
    struct mechanism_mesh got = {0, 0.0};
    mechanism_invented(&m);
    const bool is_good = mechanism_mesh(&m, s, MECHANISM_FORE, 0, 555 * MM, &got) == ERR_OK;
    tap_ok(is_good && got.depth == depth && got.skip > skip - 1e-12 && got.skip < skip + 1e-12,
           "mesh, %s: %" PRId64 " nm, skip %.4f, found %" PRId64 ", %.4f (by hand)", what, depth,
           skip, got.depth, got.skip);
}

static void mesh_rows(void)
{
    struct mechanism_state s = {0};
    mesh_row(&s, 4000000, 0.0, "as made: twice the module");
    s.offset = -MM;
    mesh_row(&s, 3000000, 0.25, "face 1 mm off");
    s.offset = -5 * MM;
    mesh_row(&s, 2500000, 0.375, "face 5 mm off: the shoe holds it at 1.5 mm");
    s.wear[MECHANISM_FORE][0] = MM;
    mesh_row(&s, 1500000, 0.625, "and 1 mm worn");
    s.wear[MECHANISM_FORE][0] = 9 * MM;
    mesh_row(&s, 0, 1.0, "worn through");
    s = (struct mechanism_state){.offset = MM};
    mesh_row(&s, 4000000, 0.0, "face 1 mm too near: no deeper than the teeth");
}

/* ---- modes --------------------------------------------------------------------------------- */

/* Effects of the eight deviations from 58 mm: factors side, height, travel. */
static bool effects_of(const struct mechanism *m, const struct mechanism_state *s,
                       struct modes_effect effects[8])
{
    struct modes_point points[MECHANISM_CORNERS];
    int64_t gaps[MECHANISM_CORNERS];
    if (!corners(m, s, gaps))
        return false;
    for (int i = 0; i < MECHANISM_CORNERS; i++)
        points[i] = (struct modes_point){
            {i < 4 ? 1 : -1, i % 4 < 2 ? 1 : -1, i % 2 ? 1 : -1, 0}, gaps[i] - 58 * MM, 0.0};
    return modes_effects(points, 8, 3, effects) == ERR_OK;
}

static void mode_rows(void)
{
    enum { SIDE = 1, HEIGHT = 2, TRAVEL = 4 };
    static const struct {
        struct mechanism_state s;
        unsigned set;
        int64_t value, mean; /* mean: what turning adds to both sides */
        const char *what;
    } rows[] = {
        {{.offset = MM}, SIDE, -1000000, 0, "off-centre by 1 mm"},
        {{.yaw_per_m = 2 * MM}, SIDE | TRAVEL, -810000, -2400, "yaw 2 mm/m"},
        {{.lean_per_m = 3 * MM}, SIDE | HEIGHT, -1800000, -5400, "lean 3 mm/m"},
        {{.twist_per_m = 4 * MM}, SIDE | HEIGHT | TRAVEL, -972000, -1575, "twist 4 mm/m a metre"},
    };
    struct mechanism m;
    mechanism_invented(&m);
    for (size_t r = 0; r < sizeof rows / sizeof *rows; r++) {
        struct modes_effect e[8];
        bool is_pure = effects_of(&m, &rows[r].s, e);
        for (unsigned set = 0; is_pure && set < 8; set++) {
            const int64_t want = set == rows[r].set ? rows[r].value : set == 0 ? rows[r].mean : 0;
            is_pure = e[set].value >= want - 1 && e[set].value <= want + 1;
        }
        tap_ok(is_pure,
               "%s is one effect alone, %" PRId64 " nm, and %" PRId64 " nm on the mean (by hand)",
               rows[r].what, rows[r].value, rows[r].mean);
    }
    /* Opening 2 mm narrower on each side; then a keystone: the faces 3 mm further apart at the upper fixing, 3 mm nearer at the
     * lower one, of which two thirds are left at the heights read. */
    struct modes_effect e[8];
    const struct mechanism_state none = {0};
    for (int s = 0; s < MECHANISM_SIDES; s++)
        m.edge[s][MECHANISM_LOWER] = m.edge[s][MECHANISM_UPPER] = 1256 * MM;
    tap_ok(effects_of(&m, &none, e) && e[0].value == -2000000 && e[SIDE].sum == 0 &&
               e[HEIGHT].sum == 0,
           "a narrow opening is the mean alone");
    mechanism_invented(&m);
    for (int s = 0; s < MECHANISM_SIDES; s++) {
        m.edge[s][MECHANISM_LOWER] -= 3 * MM;
        m.edge[s][MECHANISM_UPPER] += 3 * MM;
    }
    tap_ok(effects_of(&m, &none, e) && e[HEIGHT].value >= 1999999 && e[HEIGHT].value <= 2000001 &&
               e[0].sum == 0 && e[SIDE].sum == 0,
           "a keystone is the height effect alone: 2 mm");
}

/* ---- the bulletin's effects ---------------------------------------------------------------- */

/* Which corner a point of OV-26-03 is, by its name; -1 for a point that is no gap. */
static int corner_of(const char *id)
{
    static const char *const ids[MECHANISM_CORNERS] = {
        "fore-upper-in", "fore-upper-out", "fore-lower-in", "fore-lower-out",
        "aft-upper-in",  "aft-upper-out",  "aft-lower-in",  "aft-lower-out"};
    for (int i = 0; i < MECHANISM_CORNERS; i++)
        if (strcmp(id, ids[i]) == 0)
            return i;
    return -1;
}

/* Moves the adjuster of OV-26-03 with this name. */
static bool move(struct mechanism_state *s, const char *id, int steps)
{
    const enum mechanism_side side = strncmp(id, "fore", 4) == 0 ? MECHANISM_FORE : MECHANISM_AFT;
    if (strstr(id, "-toe") != NULL)
        s->toe[side] += steps;
    else if (strstr(id, "-upper-packing") != NULL)
        s->packing[side][MECHANISM_UPPER] += steps;
    else if (strstr(id, "-lower-packing") != NULL)
        s->packing[side][MECHANISM_LOWER] += steps;
    else
        return false;
    return true;
}

static void adjuster_row(const struct mechanism *m, const struct mechanism_state *pose,
                         const struct bulletin_adjuster *a)
{
    struct mechanism_state moved = *pose;
    int64_t before[MECHANISM_CORNERS], after[MECHANISM_CORNERS], want[MECHANISM_CORNERS] = {0},
                                                                 worst = 0;
    bool is_good = move(&moved, a->id, 1) && corners(m, pose, before) && corners(m, &moved, after);
    for (size_t i = 0; i < a->effects.n; i++) {
        const int corner = corner_of(a->effects.at[i].point);
        is_good = is_good && corner >= 0;
        if (corner >= 0)
            want[corner] = a->effects.at[i].change.nano;
    }
    for (int i = 0; is_good && i < MECHANISM_CORNERS; i++) {
        const int64_t off = llabs(after[i] - before[i] - want[i]);
        worst = off > worst ? off : worst;
    }
    tap_ok(is_good && worst <= 1,
           "one step of %s changes all eight readings as OV-26-03 says, within 1 nm (worst %" PRId64
           ")",
           a->id, worst);
}

/* Many moves at once, by truing's linear forward direction. */
static void many_moves(const struct mechanism *m, const struct bulletin *b)
{
    enum { CASES = 300 };
    unsigned long long state = 77;
    int n_good = 0;
    for (int k = 0; k < CASES; k++) {
        struct mechanism_state s = {
            .offset = (int64_t)(table_random(&state) % 4000001) - 2 * MM,
            .yaw_per_m = (int64_t)(table_random(&state) % 10000001) - 5 * MM,
            .lean_per_m = (int64_t)(table_random(&state) % 10000001) - 5 * MM};
        struct truing_point points[MECHANISM_CORNERS] = {{0}};
        struct truing_adjuster adjusters[TRUING_ADJUSTERS_MAX] = {{0}};
        int64_t effect[TRUING_ADJUSTERS_MAX * MECHANISM_CORNERS] = {0}, gaps[MECHANISM_CORNERS],
                                              predicted[MECHANISM_CORNERS];
        int32_t steps[TRUING_ADJUSTERS_MAX] = {0};
        bool is_good = corners(m, &s, gaps);
        for (int i = 0; i < MECHANISM_CORNERS; i++)
            points[i].reading = gaps[i];
        for (size_t a = 0; a < b->adjusters.n; a++) {
            const struct bulletin_adjuster *adjuster = &b->adjusters.at[a];
            steps[a] = (int32_t)(table_random(&state) % 9) - 4;
            is_good = is_good && move(&s, adjuster->id, steps[a]);
            for (size_t i = 0; i < adjuster->effects.n; i++)
                effect[a * MECHANISM_CORNERS + (size_t)corner_of(adjuster->effects.at[i].point)] =
                    adjuster->effects.at[i].change.nano;
        }
        const struct truing_problem problem = {.n_points = MECHANISM_CORNERS,
                                               .n_adjusters = b->adjusters.n,
                                               .points = points,
                                               .adjusters = adjusters,
                                               .effect = effect};
        truing_apply(&problem, steps, predicted);
        is_good = is_good && corners(m, &s, gaps);
        for (int i = 0; i < MECHANISM_CORNERS; i++)
            is_good = is_good && llabs(gaps[i] - predicted[i]) <= 1;
        n_good += is_good;
    }
    tap_ok(n_good == CASES,
           "%d of %d: after random moves in a random pose, truing's prediction and the model agree "
           "within 1 nm",
           n_good, (int)CASES);
}

static void bulletin_rows(void)
{
    struct mechanism m;
    struct fault_list faults = {0};
    struct bulletin *b = bulletin_load_file(ROOT "examples/OV-26-03.yaml", &faults);
    const struct mechanism_state pose = {
        .offset = MM / 3, .yaw_per_m = 1234567, .lean_per_m = -2345678};
    mechanism_invented(&m);
    if (b == NULL) {
        tap_ok(false, "OV-26-03 loads");
        fault_list_done(&faults);
        return;
    }
    tap_ok(b->adjusters.n == 6, "OV-26-03 has six adjusters");
    for (size_t a = 0; a < b->adjusters.n; a++)
        adjuster_row(&m, &pose, &b->adjusters.at[a]);
    many_moves(&m, b);
    tap_ok(b->timing.module.nano == m.module, "and racks of the same module");
    bulletin_free(b);
    fault_list_done(&faults);
}

/* ---- the rest ------------------------------------------------------------------------------ */

static void symmetry(void)
{
    enum { CASES = 1000 };
    unsigned long long state = 5;
    int n_good = 0;
    struct mechanism m;
    mechanism_invented(&m);
    for (int k = 0; k < CASES; k++) {
        struct mechanism_state s = {
            .offset = (int64_t)(table_random(&state) % 8000001) - 4 * MM,
            .yaw_per_m = (int64_t)(table_random(&state) % 20000001) - 10 * MM,
            .lean_per_m = (int64_t)(table_random(&state) % 20000001) - 10 * MM,
            .twist_per_m = (int64_t)(table_random(&state) % 20000001) - 10 * MM};
        struct mechanism_state mirror = {.offset = -s.offset,
                                         .yaw_per_m = -s.yaw_per_m,
                                         .lean_per_m = -s.lean_per_m,
                                         .twist_per_m = -s.twist_per_m};
        for (int side = 0; side < MECHANISM_SIDES; side++) {
            mirror.toe[1 - side] = s.toe[side] = (int32_t)(table_random(&state) % 9) - 4;
            for (int i = 0; i < MECHANISM_HEIGHTS; i++) {
                mirror.packing[1 - side][i] = s.packing[side][i] =
                    (int32_t)(table_random(&state) % 13) - 6;
                mirror.teeth[1 - side][i] = s.teeth[side][i] =
                    (int32_t)(table_random(&state) % 5) - 2;
            }
        }
        int64_t gaps[MECHANISM_CORNERS], mirrored[MECHANISM_CORNERS];
        bool is_good = corners(&m, &s, gaps) && corners(&m, &mirror, mirrored);
        for (int i = 0; is_good && i < MECHANISM_CORNERS; i++)
            is_good = gaps[i] == mirrored[(i + 4) % MECHANISM_CORNERS];
        n_good += is_good;
    }
    tap_ok(n_good == CASES, "%d of %d: seen in a mirror, fore and aft change places, to the nm",
           n_good, (int)CASES);
}

/* ---- a rigid body --------------------------------------------------------------------------- */

/* Distance of a point from the plane through three others: |n.(q - p)|/|n|, n the cross product of two edges (analytic geometry; the
 * model itself goes by slopes). */
static double from_plane(const double p[3][3], const double q[3])
{
    double a[3], b[3], n[3], along = 0.0, length = 0.0;
    for (int i = 0; i < 3; i++) {
        a[i] = p[1][i] - p[0][i];
        b[i] = p[2][i] - p[0][i];
    }
    for (int i = 0; i < 3; i++)
        n[i] = a[(i + 1) % 3] * b[(i + 2) % 3] - a[(i + 2) % 3] * b[(i + 1) % 3];
    for (int i = 0; i < 3; i++) {
        along += n[i] * (q[i] - p[0][i]);
        length += n[i] * n[i];
    }
    return fabs(along) / sqrt(length);
}

/* Where the room's face is at the four corners of a side, from the gaps alone: x is the column's face, which stands straight here, less
 * the gap. */
static void face_of(const struct mechanism *m, const int64_t gaps[MECHANISM_CORNERS], int side,
                    double ret[4][3])
{
    static const double travel[2] = {150e6, 960e6};
    for (int i = 0; i < 4; i++) {
        const int height = i < 2 ? MECHANISM_UPPER : MECHANISM_LOWER;
        const double sign = side == MECHANISM_FORE ? 1.0 : -1.0;
        ret[i][0] = sign * (double)(m->edge[side][height] - gaps[side * 4 + i]);
        ret[i][1] = travel[i % 2];
        ret[i][2] = (double)m->reading_height[height];
    }
}

/* However it stands: the four places of a face lie in one plane, and the two faces are as far apart as the room is wide. */
static void rigid(void)
{
    enum { CASES = 300 };
    struct mechanism m;
    unsigned long long state = 17;
    int n_flat = 0, n_wide = 0;
    mechanism_invented(&m);
    for (int k = 0; k < CASES; k++) {
        const struct mechanism_state s = {
            .offset = (int64_t)(table_random(&state) % 8000001) - 4 * MM,
            .yaw_per_m = (int64_t)(table_random(&state) % 20000001) - 10 * MM,
            .lean_per_m = (int64_t)(table_random(&state) % 20000001) - 10 * MM};
        int64_t gaps[MECHANISM_CORNERS];
        double fore[4][3], aft[4][3];
        if (!corners(&m, &s, gaps))
            continue;
        face_of(&m, gaps, MECHANISM_FORE, fore);
        face_of(&m, gaps, MECHANISM_AFT, aft);
        n_flat += from_plane(fore, fore[3]) <= 3.0 && from_plane(aft, aft[3]) <= 3.0;
        double worst = 0.0;
        for (int i = 0; i < 4; i++)
            worst = fmax(worst, fabs(from_plane(fore, aft[i]) - (double)m.room_width));
        n_wide +=
            worst <=
            10.0; /* each gap is rounded to 1 nm; half a metre of face carries it over the width */
    }
    tap_ok(n_flat == CASES, "%d of %d: the four places of a face lie in one plane, within 3 nm",
           n_flat, (int)CASES);
    tap_ok(n_wide == CASES,
           "%d of %d: turned and leaning, the faces are as far apart as the room is wide, within "
           "10 nm",
           n_wide, (int)CASES);
}

static void refusals(void)
{
    struct mechanism m;
    struct mechanism_state s = {0};
    int64_t gap = 7;
    mechanism_invented(&m);
    tap_ok(mechanism_check(&m, &s) == ERR_OK, "the invented drive is in range");
    tap_ok(mechanism_gap(&m, &s, MECHANISM_FORE, 0, MECHANISM_LENGTH_MAX_NM + 1, &gap) ==
                   ERR_DOMAIN &&
               gap == 7,
           "an extension of more than 20 m");
    s.yaw_per_m = MECHANISM_SLOPE_MAX + 1;
    tap_ok(mechanism_gap(&m, &s, MECHANISM_FORE, 0, 0, &gap) == ERR_DOMAIN && gap == 7,
           "a yaw of more than 100 mm/m");
    s.yaw_per_m = INT64_MIN;
    tap_ok(mechanism_check(&m, &s) == ERR_DOMAIN, "the least integer");
    s = (struct mechanism_state){0};
    m.toe_full = m.toe_from;
    tap_ok(mechanism_check(&m, &s) == ERR_DOMAIN, "toe over no travel");
    mechanism_invented(&m);
    m.fixing_height[MECHANISM_UPPER] = m.fixing_height[MECHANISM_LOWER];
    tap_ok(mechanism_check(&m, &s) == ERR_DOMAIN, "fixings at one height");
    mechanism_invented(&m);
    m.track = 1;
    s.teeth[MECHANISM_FORE][0] = 1;
    tap_ok(mechanism_gap(&m, &s, MECHANISM_FORE, 0, 0, &gap) == ERR_DOMAIN,
           "racks that turn the room head over heels");
    mechanism_invented(&m);
    m.pivot_to_packing = 1;
    m.pivot_to_face = MECHANISM_LENGTH_MAX_NM;
    s = (struct mechanism_state){0};
    s.packing[0][0] = s.packing[0][1] = 1000;
    tap_ok(mechanism_gap(&m, &s, MECHANISM_FORE, 0, 0, &gap) == ERR_DOMAIN,
           "a lever of twenty thousand million to one");
    tap_ok(mechanism_rack_end(&m, &s, MECHANISM_FORE, 2, &gap) == ERR_DOMAIN, "a third rack");
}

int main(void)
{
    pose_rows();
    column_rows();
    rack_rows();
    mesh_rows();
    mode_rows();
    bulletin_rows();
    symmetry();
    rigid();
    refusals();
    return tap_done();
}
