/* solve: the plain good procedure, done on an exercise's unit by what can be read on it and by nothing else: meter, tape, rack ends,
 * count; then what is found wrong is put right with the room on stands and the supply off; then the gaps by truing's advice; then
 * run and read again. It proves that an exercise can be solved within its limits; it is no bound on how well it can be done. */
#ifndef PRACTICE_SOLVE_H
#define PRACTICE_SOLVE_H

#include "practice/replay.h"

enum { SOLVE_OPS_MAX = 600 };

struct solve {
    struct replay_op ops[SOLVE_OPS_MAX]; /* what was done, to be replayed */
    size_t n;
    struct practice_score score;
    bool is_reached; /* goal and limits, the questions apart */
    bool
        says_cannot; /* truing proved, by the readings, that no packing or toe brings the gaps in */
    bool truly_cannot;    /* the same by the true gaps, and only the gaps are then out */
    int64_t least_out_nm; /* of the true gaps: what no plan gets below; 0: it can */
};

/* solve_exercise: Errors: ERR_MEMORY, ERR_LIMIT (SOLVE_OPS_MAX), ERR_DOMAIN. */
MUST_USE enum err solve_exercise(const struct exercise *x, struct solve *ret);

/* solve_prove: each exercise of a valid set is done; one that cannot be done within its limits, or that is done by doing nothing, is a
 * fault of the file, and so is a `cannot` that can. name: the file's. Errors: ERR_MEMORY. */
MUST_USE enum err solve_prove(const struct exercise_set *set, const char *name,
                              struct fault_list *faults);

/* solve_load: exercise_set_load, and every exercise of it proved. NULL when there is any fault, or memory ran out; freed by
 * exercise_set_free. */
struct exercise_set *solve_load(const char *text, size_t n, const char *name,
                                struct fault_list *faults);

#endif
