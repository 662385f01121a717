/* problem: the JSON file of a truing problem: readings, limits, adjusters.
 *
 *   {"unit": "mm", "title": "...", "note": "...",
 *    "points": [{"id": "fore-upper-out", "nominal": 58, "low": 56, "high": 61, "reading": 62.4,
 * "u": 0.3, "factors": {"side": 1, "height": 1, "travel": -1}, "note": "..."}], "adjusters":
 * [{"id": "fore-upper", "step": 0.5, "min": -6, "max": 6, "setup_s": 600, "step_s": 30, "effect":
 * {"fore-upper-out": -0.5}, "note": "..."}], "rule": {"guard": "none"} or {"guard": "risk", "risk":
 * 0.05}, "plans": 3}
 *
 * Amounts are numbers in "unit" or strings with a unit of the same kind. May be left out: title,
 * note, nominal (middle of the limits, or the only limit), u (0: an exact reading), factors, step,
 * rule (no guard), plans (3), and one of low and high (or null: no limit on that side). All else is
 * required; a key that is not listed is refused. */
#ifndef BASE_PROBLEM_H
#define BASE_PROBLEM_H

#include "base/fault.h"
#include "core/modes.h"
#include "core/quantity.h"
#include "core/truing.h"

enum {
    PROBLEM_SIZE_MAX = 1024 * 1024,
    PROBLEM_ID_MAX = 64,    /* bytes of an id or a factor's name */
    PROBLEM_TEXT_MAX = 400, /* bytes of a title or note */
    PROBLEM_PLANS = 3       /* when the file does not say */
};

struct problem {
    char title[PROBLEM_TEXT_MAX + 1]; /* "" when there is none */
    enum unit unit;
    struct truing_problem truing; /* points into the arrays below: do not copy the struct */
    struct truing_point points[TRUING_POINTS_MAX];
    struct truing_adjuster adjusters[TRUING_ADJUSTERS_MAX];
    int64_t effect[TRUING_ADJUSTERS_MAX * TRUING_POINTS_MAX];
    char point_id[TRUING_POINTS_MAX][PROBLEM_ID_MAX + 1];
    char adjuster_id[TRUING_ADJUSTERS_MAX][PROBLEM_ID_MAX + 1];
    int64_t step[TRUING_ADJUSTERS_MAX]; /* size of one step, for showing; 0 when the file does not
                                           say */

    /* Effects of the factors on the deviations (modes.h), when the points are a full factorial. */
    size_t n_factors;
    char factor[MODES_FACTORS_MAX][PROBLEM_ID_MAX + 1];
    struct modes_point modes[TRUING_POINTS_MAX]; /* where each point stands, and its deviation */
    size_t n_levels[TRUING_POINTS_MAX];          /* how many factors each point names */
    bool has_other_factors;                      /* a point names one that the first does not */
    size_t n_effects;                            /* 2^n_factors, or 0 */
    struct modes_effect effects[MODES_EFFECTS_MAX];
    const char *effects_note; /* why there are none; NULL when there are. Static. */
};

/* problem_new: an empty one whose truing points into its own arrays; NULL when memory ran out. The
 * caller fills it, calls problem_level for every factor of a point (points in order) and then
 * problem_finish. */
struct problem *problem_new(void);

/* problem_level: point i stands at level (-1 or +1) of a factor; name of at most PROBLEM_ID_MAX
 * bytes, at most MODES_FACTORS_MAX a point. The first point says which factors there are. */
void problem_level(struct problem *problem, size_t i, const char *factor, int level);

/* problem_finish: once points, adjusters, effects and rule are there: finds the effects of the
 * factors, and checks what the solver's sums rely on (reach, guard bands). Afterwards truing_solve
 * takes it without a fault. Errors: ERR_RANGE, with *reterr's path ("points[3]") and message. */
MUST_USE enum err problem_finish(struct problem *problem, struct fault *reterr);

/* problem_read: reads text[0..n). name is for messages. On success *ret is the caller's to free
 * with problem_free, and truing_solve takes it without a fault. On failure *reterr names the file,
 * the path ("points[3].low") and says what was found and expected. Errors: those of json_parse;
 * ERR_EMPTY (a member is missing), ERR_TYPE, ERR_UNKNOWN (key, id or unit), ERR_DUPLICATE,
 * ERR_ORDER (limits), ERR_DOMAIN, ERR_RANGE, ERR_LIMIT, ERR_UNIT, ERR_SYNTAX, ERR_MEMORY. */
MUST_USE enum err problem_read(const char *text, size_t n, const char *name, struct problem **ret,
                               struct fault *reterr);
void problem_free(struct problem *problem); /* NULL is fine */

#endif
