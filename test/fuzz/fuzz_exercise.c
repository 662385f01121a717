/* fuzz_exercise: any bytes as a set of exercises. Holds: a set or at least one fault, never both or neither; every fault has words and a
 * place; a set that is handed out can be planted, played by doing nothing, and exported as JSON that reads back. */
#include "base/json.h"
#include "practice/replay.h"

#include <stdint.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void need(bool holds)
{
    if (!holds)
        abort();
}

static void judge_faults(const struct fault *faults, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        need(faults[i].message[0] != '\0' && faults[i].code != ERR_OK);
        need(faults[i].line >= 1 || faults[i].code == ERR_LIMIT);
        need(i == 0 || faults[i - 1].line <= faults[i].line);
    }
}

static void use(const struct exercise_set *set)
{
    const struct replay_op finish = {PRACTICE_FINISH, 0, 0, 0};
    struct text out = {0};
    struct json_doc *doc = NULL;
    struct fault f = {0};
    for (size_t i = 0; i < set->exercises.n; i++) {
        const struct exercise *x = &set->exercises.at[i];
        struct replay r;
        size_t at = 0;
        /* Each fault alone is within its bounds; several together may be more than the model shows, which is told. */
        if (replay_run(x, &finish, 1, NULL, &r, &at) == ERR_OK)
            need(r.is_finished && r.n_refused == 0 && r.score.n_moves == 0);
        need(exercise_find(set, x->id) != NULL);
    }
    exercise_export(set, "00", EXERCISE_ALL, &out);
    need(json_parse(out.data, out.size, "set", &doc, &f) == ERR_OK);
    need(json_size(json_get(json_root(doc), "exercises")) == set->exercises.n);
    json_free(doc);
    text_done(&out);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct fault_list list = {0};
    struct exercise_set *set = exercise_set_load((const char *)data, size, "fuzz.yaml", &list);
    need((set == NULL) == (list.n_faults > 0));
    judge_faults(list.faults, list.n_faults);
    judge_faults(list.warnings, list.n_warnings);
    if (set != NULL)
        use(set);
    exercise_set_free(set);
    fault_list_done(&list);
    return 0;
}
