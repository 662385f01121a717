/* replay: a game as its list of operations: read from JSON, played again on the exercise's unit, and its account. What a page, the
 * command line and the server say of a game is this, so that it is the same everywhere. */
#ifndef PRACTICE_REPLAY_H
#define PRACTICE_REPLAY_H

#include "base/json.h"
#include "base/jsonw.h"
#include "practice/exercise.h"

enum { REPLAY_OPS_MAX = 5000 };

struct replay_op {
    int32_t op, side, place;
    int64_t amount;
};

struct replay_ops {
    struct replay_op *at; /* the caller's: replay_ops_done */
    size_t n;
};

struct replay {
    struct practice unit; /* as it stands at the end */
    struct practice_score score;
    size_t n_refused; /* operations that could not be done where the room stood */
    bool is_finished; /* the learner said so */
    bool is_reached;  /* exercise_reached, and finished */
};

/* replay_ops_read: a list of [op, side, place, amount], all whole numbers, or op as its id ("run"), side "fore" or "aft", place
 * "lower" or "upper". Errors: ERR_TYPE, ERR_LIMIT (more than REPLAY_OPS_MAX), ERR_UNKNOWN, ERR_RANGE, ERR_MEMORY; reterr says
 * where. */
MUST_USE enum err replay_ops_read(json_node *list, struct replay_ops *ret, struct fault *reterr);
void replay_ops_done(struct replay_ops *ops);

/* replay_run: ops[n] on the exercise's unit. results[n]: of each, or NULL. Errors: ERR_DOMAIN. *reterr_at: the operation. */
MUST_USE enum err replay_run(const struct exercise *x, const struct replay_op *ops, size_t n,
                             struct practice_result *results, struct replay *ret,
                             size_t *reterr_at);

/* replay_readings: gaps read before anything was moved or renewed, in order: at[max], returns how many. place: the corner, as
 * mechanism_corners orders them. */
struct replay_reading {
    int32_t place;
    int64_t nano;
};
size_t replay_readings(const struct exercise *x, const struct replay_op *ops, size_t n,
                       struct replay_reading *at, size_t max);

/* replay_answers: of the exercise's questions, how many the answers {question: choice} get right; *ret_given how many of them are
 * answered at all. NULL: none. */
size_t replay_answers(const struct exercise *x, json_node *answers, size_t *ret_given);

/* replay_tell: the account into an open object: "reached", "finished", "inside" (bits), "goal_bits", "missed" (goals not met),
 * "cautions" (ids), "n_cautions", "moves", "readings", "runs", "refused", "seconds", "worst_gap_nm". */
void replay_tell(const struct exercise *x, const struct replay *r, struct jsonw *w);

#endif
