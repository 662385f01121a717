/* exercise: owns the way from bytes to a checked set, and the look-ups. */
#include "practice/exercise.h"

#include "base/file.h"
#include "bulletin/arena.h"
#include "practice/exercise_checks.h"
#include "practice/exercise_tables.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* The set stands first, so that its address is the owner's. */
struct owner {
    struct exercise_set set;
    struct arena arena;
};

void exercise_set_free(struct exercise_set *set)
{
    struct owner *owner = (struct owner *)(void *)set;
    if (owner == NULL)
        return;
    arena_done(&owner->arena);
    free(owner);
}

static void read_and_check(struct owner *owner, const char *text, size_t n, const char *name,
                           struct fault_list *faults)
{
    const struct yamlnode *root = NULL;
    if (yamltree_read(text, n, name, &owner->arena, &root, faults) != ERR_OK)
        return;
    struct schema s = {.arena = &owner->arena,
                       .faults = faults,
                       .name = name,
                       .whole = "set",
                       .language = "",
                       .currency = ""};
    const struct yamlnode *language = yamlnode_get(yamlnode_get(root, "set"), "language");
    if (language != NULL && language->kind == YAMLNODE_TEXT)
        s.language = language->text;
    schema_read(&s, exercise_tables_root(), root, &owner->set);
    if (owner->arena.is_broken) {
        fault_list_no_memory(faults, name);
        return;
    }
    if (faults->n_faults > 0)
        return;
    exercise_checks_run(&owner->set, &s);
    faults->is_checked = true;
}

struct exercise_set *exercise_set_load(const char *text, size_t n, const char *name,
                                       struct fault_list *faults)
{
    struct owner *owner = calloc(1, sizeof *owner);
    if (owner == NULL) {
        fault_list_no_memory(faults, name);
        return NULL;
    }
    if (n > EXERCISE_SIZE_MAX) {
        struct fault f = {0};
        snprintf(f.file, sizeof f.file, "%s", name);
        fault_set(&f, ERR_LIMIT, "%zu bytes, a set of exercises has at most %d", n,
                  EXERCISE_SIZE_MAX);
        fault_list_unreadable(faults, &f);
    } else {
        read_and_check(owner, text, n, name, faults);
    }
    fault_list_sort(faults);
    if (faults->n_faults == 0 && !faults->is_out_of_memory)
        return &owner->set;
    exercise_set_free(&owner->set);
    return NULL;
}

struct exercise_set *exercise_set_load_file(const char *path, struct fault_list *faults)
{
    struct text text = {0};
    struct fault f = {0};
    struct exercise_set *set = NULL;
    if (file_read(path, EXERCISE_SIZE_MAX, &text, &f) == ERR_OK) {
        set = exercise_set_load(text.data != NULL ? text.data : "", text.size, path, faults);
    } else {
        fault_list_unreadable(faults, &f);
    }
    text_done(&text);
    return set;
}

const struct exercise *exercise_find(const struct exercise_set *set, const char *id)
{
    for (size_t i = 0; i < set->exercises.n; i++)
        if (strcmp(set->exercises.at[i].id, id) == 0)
            return &set->exercises.at[i];
    return NULL;
}

const char *exercise_text(const struct exercise_set *set, const struct bulletin_text *text,
                          const char *language)
{
    const struct bulletin own = {.head.language = set->head.language};
    return bulletin_text_in(&own, text, language);
}

enum err exercise_plant(const struct exercise *x, struct practice *ret)
{
    struct practice_fault faults[PRACTICE_FAULTS_MAX];
    size_t at = 0;
    if (x->faults.n > PRACTICE_FAULTS_MAX)
        return ERR_LIMIT;
    for (size_t i = 0; i < x->faults.n; i++) {
        const struct exercise_fault *f = &x->faults.at[i];
        faults[i] = (struct practice_fault){f->kind, f->side > 0, f->place > 0, f->amount};
    }
    return practice_plant((uint64_t)x->seed, faults, x->faults.n, ret, &at);
}

/* ---- goal ---------------------------------------------------------------------------------- */

bool exercise_has_goal(const struct exercise *x, enum exercise_goal goal)
{
    if (x->goal.n == 0)
        return goal <= EXERCISE_KEYS;
    for (size_t i = 0; i < x->goal.n; i++)
        if (x->goal.at[i] == (int32_t)goal)
            return true;
    return false;
}

uint32_t exercise_goal_bits(const struct exercise *x)
{
    static const uint32_t bits[] = {PRACTICE_INSIDE_GAPS,  PRACTICE_INSIDE_ENDS,
                                    PRACTICE_INSIDE_VOLTS, PRACTICE_INSIDE_AMPS,
                                    PRACTICE_INSIDE_TIME,  PRACTICE_INSIDE_KEYS};
    uint32_t all = 0;
    for (int g = 0; g <= EXERCISE_KEYS; g++)
        if (exercise_has_goal(x, (enum exercise_goal)g))
            all |= bits[g];
    return all;
}

bool exercise_reached(const struct exercise *x, const struct practice_score *score)
{
    const uint32_t bits = exercise_goal_bits(x);
    return (score->inside & bits) == bits &&
           !(exercise_has_goal(x, EXERCISE_CAREFUL) && score->n_cautions > 0) &&
           score->seconds <= (int64_t)x->limits.minutes * 60 && score->n_moves <= x->limits.moves;
}
