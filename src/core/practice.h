/* practice: a unit to learn on: faults planted by list or by seed, the operations of the trade on it with the minutes they take, what
 * can be seen from where it stands, and the account of it all. Rules of the game only: geometry is mechanism's, forces are
 * drive's, readings are tape's.
 *
 * The unit is one struct without pointers: a copy of it is a saved game, and the same operations on the same copy give the same
 * answers. An operation is refused (enum practice_refusal), costs nothing and changes nothing, when it cannot be done where the
 * room stands; one that is dangerous as things stand is *done* and the caution it skipped is written down, because a learner who is
 * stopped learns less than one who is told. Minutes are ours, after the demo's bulletin where it states them.
 *
 * Gaps are read with the room at gap_at_nm[0] or [1], rack ends and teeth with it at the outer stop, volts, amperes and seconds
 * of the last run and only until something is changed. A rack that was cut wrong shows at its end and nowhere else; teeth that are
 * out show at the end, at the count and, as yaw, in the gaps; creep shows at the end and in the gaps, but not at the count.
 *
 * Limits. Those of mechanism and drive. A room that scrapes is told (is_scraping) and not stopped. Nothing breaks.
 * Pure and deterministic. */
#ifndef CORE_PRACTICE_H
#define CORE_PRACTICE_H

#include "core/drive.h"
#include "core/tape.h"
#include "core/truing.h"

/* side and place: which of the two the amount is of, where it is of one; 0 else. place: height of a fixing or rack, 0 lower. */
#define PRACTICE_FAULT_TABLE(X)                                                                    \
    X(PRACTICE_TEETH, 0, "teeth")      /* side, rack: teeth ahead */                               \
    X(PRACTICE_CUT, 1, "cut")          /* side, rack: its end stands off by nm */                  \
    X(PRACTICE_KEY, 2, "key")          /* side, rack: shallow key seat; crept by nm so far */      \
    X(PRACTICE_PACKING, 3, "packing")  /* side, height: shims too many */                          \
    X(PRACTICE_TOE, 4, "toe")          /* side: notches too many */                                \
    X(PRACTICE_OFFSET, 5, "offset")    /* nm to fore */                                            \
    X(PRACTICE_YAW, 6, "yaw")          /* nm per m */                                              \
    X(PRACTICE_LEAN, 7, "lean")        /* nm per m, of the room */                                 \
    X(PRACTICE_TWIST, 8, "twist")      /* nm per m a metre, of the room against the opening */     \
    X(PRACTICE_WIDTH, 9, "width")      /* nm, opening too wide */                                  \
    X(PRACTICE_TAPER, 10, "taper")     /* nm, opening wider at the upper fixings */                \
    X(PRACTICE_OPENING, 11, "opening") /* nm, opening leans to fore between the fixings */         \
    X(PRACTICE_WEAR, 12, "wear")       /* side, rack: nm of depth lost (worn, or a wrong kit) */   \
    X(PRACTICE_SUPPLY, 13, "supply")   /* mV missing */                                            \
    X(PRACTICE_LEAD, 14, "lead")       /* side: micro-ohm too many */                              \
    X(PRACTICE_DRAG, 15, "drag")       /* side, rack: N more */                                    \
    X(PRACTICE_HOOK, 16, "hook")   /* nm; of the steel tape, which these four read gaps with */    \
    X(PRACTICE_SCALE, 17, "scale") /* ppm, of the tape */                                          \
    X(PRACTICE_HABIT, 18, "habit") /* per cent, of the reader, for fives */                        \
    X(PRACTICE_PARALLAX, 19,                                                                       \
      "parallax") /* nm that the eye stands aside, at 300 mm, mark 5 mm off */

enum practice_fault_kind {
#define X(symbol, number, id) symbol = number,
    PRACTICE_FAULT_TABLE(X)
#undef X
        PRACTICE_FAULT_N
};

/* op, number, id, seconds once, seconds for each step. amount as said; a run also takes its own time. */
#define PRACTICE_OP_TABLE(X)                                                                       \
    X(PRACTICE_RUN, 0, "run", 30, 0)               /* amount: nm to which, 0 in */                 \
    X(PRACTICE_READ_GAP, 1, "read-gap", 30, 0)     /* side, height */                              \
    X(PRACTICE_READ_END, 2, "read-end", 45, 0)     /* side, rack */                                \
    X(PRACTICE_COUNT, 3, "count-teeth", 60, 0)     /* side, rack */                                \
    X(PRACTICE_READ_VOLTS, 4, "read-volts", 60, 0) /* side */                                      \
    X(PRACTICE_READ_AMPS, 5, "read-amps", 60, 0)   /* of the common lead */                        \
    X(PRACTICE_READ_TIME, 6, "read-time", 10, 0)                                                   \
    X(PRACTICE_CHECK_TAPE, 7, "check-tape", 60, 0)    /* on a block of 100 mm */                   \
    X(PRACTICE_CHANGE_TAPE, 8, "change-tape", 60, 0)  /* for the gap gauge */                      \
    X(PRACTICE_SUPPORT, 9, "support", 300, 0)         /* amount: 1 stands under, 0 away */         \
    X(PRACTICE_ISOLATE, 10, "isolate", 120, 0)        /* amount: 1 battery off and locked, 0 on */ \
    X(PRACTICE_JUMP, 11, "jump", 720, 120)            /* side, rack, teeth out */                  \
    X(PRACTICE_PACK, 12, "pack", 600, 30)             /* side, height, shims more */               \
    X(PRACTICE_TURN_TOE, 13, "toe", 900, 45)          /* side, notches more */                     \
    X(PRACTICE_RENEW_RACK, 14, "renew-rack", 2700, 0) /* side, rack */                             \
    X(PRACTICE_RENEW_KEY, 15, "renew-key", 3600, 0)   /* side, rack */                             \
    X(PRACTICE_EASE, 16, "ease", 900, 0)              /* side, rack: clean, free what drags */     \
    X(PRACTICE_RENEW_LEAD, 17, "renew-lead", 1800, 0) /* side */                                   \
    X(PRACTICE_CHARGE, 18, "charge", 2400, 0)                                                      \
    X(PRACTICE_FINISH, 19, "finish", 0, 0)

enum practice_op {
#define X(symbol, number, id, once, each) symbol = number,
    PRACTICE_OP_TABLE(X)
#undef X
        PRACTICE_OP_N
};

#define PRACTICE_REFUSAL_TABLE(X)                                                                  \
    X(PRACTICE_FINE, 0, "fine")                                                                    \
    X(PRACTICE_NOT_HERE, 1, "not-here")   /* cannot be seen or reached where the room stands */    \
    X(PRACTICE_NO_POWER, 2, "no-power")   /* the supply is isolated */                             \
    X(PRACTICE_RUN_FIRST, 3, "run-first") /* nothing has run since the last change */              \
    X(PRACTICE_NO_RANGE, 4, "no-range")   /* beyond what can be moved */                           \
    X(PRACTICE_AS_IT_IS, 5, "as-it-is")   /* stands like that already */                           \
    X(PRACTICE_OVER, 6, "over")           /* the learner has finished */

enum practice_refusal {
#define X(symbol, number, id) symbol = number,
    PRACTICE_REFUSAL_TABLE(X)
#undef X
        PRACTICE_REFUSAL_N
};

/* Cautions skipped, a bit each. */
#define PRACTICE_CAUTION_TABLE(X)                                                                  \
    X(PRACTICE_UNSUPPORTED, 0, "unsupported") /* rack, packing or toe moved, room not on stands */ \
    X(PRACTICE_LIVE, 1, "live")               /* hands in the drive, supply not isolated */        \
    X(PRACTICE_ON_STANDS, 2, "on-stands")     /* run with the stands under it */                   \
    X(PRACTICE_NOT_RUN, 3, "not-run")         /* finished without a run in and out at the end */   \
    X(PRACTICE_NOT_READ, 4, "not-read") /* finished without all gaps read after the last change */

enum practice_caution {
#define X(symbol, number, id) symbol = number,
    PRACTICE_CAUTION_TABLE(X)
#undef X
        PRACTICE_CAUTION_N
};

/* What can be seen or reached where the room stands, a bit each. */
enum practice_sight {
    PRACTICE_SEE_GAPS = 1,  /* at a reading extension, both sides */
    PRACTICE_SEE_ENDS = 2,  /* rack ends and teeth: at the outer stop */
    PRACTICE_SEE_METER = 4, /* volts, amperes, seconds of the last run */
    PRACTICE_SEE_APART = 8, /* the sides visibly apart: more than 5 mm */
    PRACTICE_SEE_SCRAPE = 16
};

const char *practice_fault_id(int kind); /* NULL for a number that is none; the same below */
const char *practice_op_id(int op);
const char *practice_refusal_id(int refusal);
const char *practice_caution_id(int caution);

enum {
    PRACTICE_FAULTS_MAX = 16,
    PRACTICE_ADJUSTERS =
        6, /* fore upper, fore lower, aft upper, aft lower packing, fore toe, aft toe */
    PRACTICE_PACK_MOST = 6,
    PRACTICE_TOE_MOST = 4,
    PRACTICE_JUMP_MOST = 3
};

struct practice_fault {
    int32_t kind, side, place;
    int64_t amount;
};

struct practice_limits {
    int64_t gap_nominal_nm, gap_low_nm, gap_high_nm, end_limit_nm; /* of the two ends of a side */
    double volts_low, volts_high, amps_out, amps_in, time_low_s,
        time_high_s; /* time of a run out */
};

struct practice {
    uint64_t seed;
    struct mechanism m;
    struct mechanism_state state;
    struct drive drive;
    struct tape tape, end_gauge; /* for gaps, and for rack ends */
    struct practice_limits limits;
    int64_t gap_at_nm[2];
    int64_t cut_nm[MECHANISM_SIDES][MECHANISM_RACKS];
    double hold_n; /* of a rack in full mesh */
    /* How it stands. */
    double at_m[MECHANISM_SIDES];
    bool is_last_out, has_run, is_supported, is_isolated, is_scraping, is_finished;
    struct drive_run run; /* the last one */
    /* What was done. */
    int32_t moved[PRACTICE_ADJUSTERS], jumped[MECHANISM_SIDES][MECHANISM_RACKS];
    int64_t seconds;
    int32_t n_moves, n_readings, n_runs; /* n_moves: racks, packing, toe and what was renewed */
    uint32_t cautions;                   /* bit: enum practice_caution */
    int32_t n_skipped[PRACTICE_CAUTION_N];
    uint32_t gaps_read, runs_done; /* since the last change: bit a corner; bit 0 in, 1 out */
    uint64_t n_taken;
};

/* practice_perfect: the demo's invented drive with nothing wrong, room in, the demo's gauges and limits. */
void practice_perfect(uint64_t seed, struct practice *ret);

/* practice_plant: a perfect unit with faults[n] on it. Errors: ERR_LIMIT (n), ERR_DOMAIN (kind, side, place, amount out of range),
 * *reterr_at being the fault's index, and nothing is written. */
MUST_USE enum err practice_plant(uint64_t seed, const struct practice_fault *faults, size_t n,
                                 struct practice *ret, size_t *reterr_at);

/* practice_draw: a faulty unit by seed: pose, opening and packing off by normal amounts, now and then a rack out by teeth; both
 * gauges off by what their calibration leaves open, the same for all of the unit's readings.
 * `spread` in per cent of the usual: 100; ERR_DOMAIN outside 0..300. */
MUST_USE enum err practice_draw(uint64_t seed, int spread, struct practice *ret);

/* practice_open_up: the opening by its four figures: too wide by width, wider at the upper fixings by taper, leaning to fore by lean
 * between the fixings, twisted against the room by twist (nm per m a metre). Adds to what is there. */
void practice_open_up(struct mechanism *m, struct mechanism_state *state, int64_t width_nm,
                      int64_t taper_nm, int64_t lean_nm, int64_t twist_per_m);

struct practice_result {
    enum practice_refusal refusal;
    uint32_t cautions; /* skipped by this operation */
    int64_t
        nano; /* what was read: nm, or a billionth of a volt, ampere, second; a count of teeth as it is */
    int64_t seconds;
};

/* practice_do: one operation. Errors: ERR_DOMAIN for an op, side or place that there is not; the unit is then unchanged. */
MUST_USE enum err practice_do(struct practice *p, enum practice_op op, int side, int place,
                              int64_t amount, struct practice_result *ret);

/* practice_trace: how a run to to_nm would go, for drawing it; the unit stays as it is. samples[n], one each every_s: drive_go.
 * Errors: ERR_DOMAIN also where practice_do would refuse the run. */
MUST_USE enum err practice_trace(const struct practice *p, int64_t to_nm, double every_s,
                                 struct drive_sample *samples, size_t n, struct drive_run *ret);

/* practice_visible: bits of enum practice_sight. */
uint32_t practice_visible(const struct practice *p);

/* practice_extension: where the middle of the room stands, nm; practice_stance: state with the yaw that sides apart add. */
int64_t practice_extension(const struct practice *p);
struct mechanism_state practice_stance(const struct practice *p);

/* practice_gaps: the true eight, in the order of mechanism_corners. Errors: ERR_DOMAIN. */
MUST_USE enum err practice_gaps(const struct practice *p, int64_t ret[MECHANISM_CORNERS]);

/* practice_problem: truing's problem from eight readings of uncertainty u (nm): the demo's six adjusters, with what is left of
 * their range. points[8], adjusters[6], effect[48] are the caller's and must outlive *ret. risk 0: no guard. Errors: ERR_DOMAIN. */
MUST_USE enum err practice_problem(const struct practice *p,
                                   const int64_t readings[MECHANISM_CORNERS], double u, double risk,
                                   struct truing_point *points, struct truing_adjuster *adjusters,
                                   int64_t *effect, struct truing_problem *ret);

/* What is inside its limits in truth, a bit each: the 8 gaps, then ends of fore and aft (out also where a rack would lose a tooth in
 * a run out and in), volts, amperes, seconds. */
enum {
    PRACTICE_INSIDE_GAPS = 0xff,
    PRACTICE_INSIDE_ENDS = 0x300,
    PRACTICE_INSIDE_VOLTS = 0x400,
    PRACTICE_INSIDE_AMPS = 0x800,
    PRACTICE_INSIDE_TIME = 0x1000,
    PRACTICE_INSIDE_KEYS = 0x2000, /* no pinion left that creeps: it would come back */
    PRACTICE_INSIDE_ALL = 0x3fff
};

struct practice_score {
    bool is_inside;  /* everything */
    uint32_t inside; /* the bits above */
    uint32_t cautions;
    int32_t n_cautions, n_moves, n_readings, n_runs;
    int64_t seconds;
    int64_t worst_gap_nm; /* furthest from its limits; negative: outside by that */
};

/* practice_score: the account as it stands, by the truth and not by what was read. Errors: ERR_DOMAIN. */
MUST_USE enum err practice_score(const struct practice *p, struct practice_score *ret);

#endif
