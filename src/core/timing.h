/* timing: are the racks of one torque shaft in step, and if not which rack jumps how many teeth?
 *
 * Timing is truing with teeth (truing.h): the points are differences of rack-end positions, the
 * adjusters are jumps of whole teeth, each moving a rack's end by one pitch (p = pi x module,
 * core/gear.h, rounded to the nearest nm for the exact search). The best plan has the fewest teeth
 * moved in all, by the adjusters' seconds.
 *
 * The residue of a difference is what is left of (difference - nominal)/p after the nearest whole
 * number of teeth: -1/2..1/2. Racks that jumped have a residue near 0. When no whole jump brings
 * the differences in, nothing is forced: the residue says where to look. A residue near 1/2 cannot
 * come from teeth in mesh: a pinion has turned on its shaft, a rack rides on tooth tips, or it was
 * cut or relieved at another place in the tooth. A small one beyond the limits: a wrong length, a
 * bent rack, or a misread end. The borders (1/8 and 3/8 of a pitch) are ours: quarters of the half
 * pitch either side of the two. */
#ifndef CORE_TIMING_H
#define CORE_TIMING_H

#include "core/fill.h"
#include "core/gear.h"
#include "core/truing.h"

enum {
    TIMING_RACKS_MAX = 8,
    TIMING_DIFFERENCES_MAX = 28,
    TIMING_TEETH_MAX = 1000,
    TIMING_TEXT_MAX = 480
};

struct timing_rack {
    int64_t end_nm;   /* measured position of the rack's end; larger is further out */
    double u_nm;      /* standard uncertainty, >= 0 */
    int32_t min, max; /* teeth it may jump, min <= 0 <= max; + is out */
    int64_t setup_s, step_s;
};

struct timing_difference {
    size_t a, b; /* end of rack a minus end of rack b; a != b */
    int64_t nominal_nm, low_nm, high_nm;
};

struct timing_problem {
    size_t n_racks, n_differences;
    const struct timing_rack *racks;
    const struct timing_difference *differences;
    int64_t module_nm; /* of the teeth, 1..GEAR_MODULE_MAX_NM */
    bool has_guard;
    double risk;
};

#define TIMING_MEANING_TABLE(X)                                                                    \
    X(TIMING_IN_STEP, 0, "in-step")                                                                \
    X(TIMING_UNCERTAIN, 1, "uncertain")                                                            \
    X(TIMING_JUMPED, 2, "jumped")                                                                  \
    X(TIMING_BEYOND_RANGE, 3, "beyond-range")                                                      \
    X(TIMING_SMALL_RESIDUE, 4, "small-residue")                                                    \
    X(TIMING_ODD_RESIDUE, 5, "odd-residue")                                                        \
    X(TIMING_HALF_PITCH, 6, "half-pitch")                                                          \
    X(TIMING_CONFLICT, 7, "conflict")                                                              \
    X(TIMING_TOO_COARSE, 8, "too-coarse")

enum timing_meaning {
#define X(symbol, number, code) symbol = number,
    TIMING_MEANING_TABLE(X)
#undef X
};

enum timing_verdict { TIMING_STEP, TIMING_WORK, TIMING_CANNOT, TIMING_PERSON };

struct timing_finding { /* one difference */
    enum timing_meaning meaning;
    enum verdict verdict; /* as measured, by the rule */
    int64_t before_nm;
    int64_t after_nm; /* with the moves; before_nm when there are none */
    double u_nm;      /* of the difference */
    int32_t
        teeth; /* nearest whole number of teeth that rack a stands ahead of b (negative: behind) */
    double residue;   /* fraction of the pitch, -1/2..1/2 */
    double residue_u; /* its standard uncertainty, same unit */
    bool is_whole;    /* the residue is 0 within 2 standard uncertainties or within 1/20 pitch, and
                         teeth != 0 */
};

struct timing_answer {
    enum timing_verdict verdict;
    int32_t moves[TIMING_RACKS_MAX]; /* teeth, + is out; all 0 unless TIMING_WORK */
    int64_t pitch_nm;                /* as used */
    size_t worst;                    /* the difference furthest from its limits as measured */
    struct timing_finding differences[TIMING_DIFFERENCES_MAX];
    bool is_proved;
    int64_t nodes;
};

/* timing_pose: the truing problem. points[n_differences], adjusters[n_racks], effect[n_racks *
 * n_differences] are the caller's and must outlive *ret. Errors: ERR_EMPTY (fewer than two racks,
 * no difference), ERR_LIMIT, ERR_DOMAIN (a module, u, index, range that cannot be), ERR_RANGE,
 * ERR_ORDER. *reterr_at: index of the rack or difference. */
MUST_USE enum err timing_pose(const struct timing_problem *problem, struct truing_point *points,
                              struct truing_adjuster *adjusters, int64_t *effect,
                              struct truing_problem *ret, size_t *reterr_at);

/* timing_workspace: bytes that timing_solve needs; 0 when the sizes are out of range. */
size_t timing_workspace(size_t n_racks, size_t n_differences);

/* timing_solve: everything. workspace is the caller's, aligned for double. Errors: those of
 * timing_pose and truing_solve. Worked: module 2 (p = 6.283 mm), ends 100.0 and 106.3 mm, limits
 * +-1.5 mm: the first rack is 1 tooth behind; it jumps 1 tooth out. */
MUST_USE enum err timing_solve(const struct timing_problem *problem, void *workspace, size_t size,
                               struct timing_answer *ret, size_t *reterr_at);

const char *timing_verdict_name(
    enum timing_verdict verdict); /* "in step", "out of step", "cannot", "uncertain" */
const char *timing_meaning_code(enum timing_meaning meaning);

/* timing_meaning_text: what a finding means and what to do, one or two sentences with full stops.
 * a, b: the racks' names. buf[room >= TIMING_TEXT_MAX]; returns the size. */
size_t timing_meaning_text(const struct timing_finding *finding, int64_t pitch_nm, const char *a,
                           const char *b, enum unit show, char *buf, size_t room);

#endif
