/* exercise_checks: owns what a set means: ids once each, faults that the model takes, goals that go together, questions that have an
 * answer, texts in all of the set's languages. */
#include "practice/exercise_checks.h"

#include "practice/amounts.h"
#include "practice/exercise_tables.h"

#include <stdio.h>
#include <string.h>

static void complain(const struct schema *s, const struct yamlnode *node, const char *key,
                     const char *message)
{
    schema_complain(s, node, key, false, ERR_DOMAIN, "%s", message);
}

/* ---- faults -------------------------------------------------------------------------------- */

static bool check_where(const struct schema *s, const struct exercise_fault *f)
{
    const char *id = practice_fault_id(f->kind);
    const struct {
        const char *key, *words;
        int32_t given;
        bool is_needed;
    } keys[] = {{"side", "fore or aft", f->side, amount_has_side(f->kind)},
                {"place", "lower or upper", f->place, amount_has_place(f->kind)}};
    bool is_good = true;
    for (size_t i = 0; i < 2; i++) {
        if (keys[i].is_needed == (keys[i].given >= 0))
            continue;
        is_good = false;
        if (keys[i].is_needed)
            schema_complain(s, f->node, keys[i].key, false, ERR_EMPTY,
                            "'%s' is missing: the fault '%s' has one (expected %s)", keys[i].key,
                            id, keys[i].words);
        else
            schema_complain(s, f->node, keys[i].key, false, ERR_UNKNOWN,
                            "the fault '%s' has no %s: leave '%s' out", id, keys[i].key,
                            keys[i].key);
    }
    return is_good;
}

static bool check_fault(const struct schema *s, struct exercise_fault *f)
{
    char why[FAULT_MESSAGE_MAX];
    const bool is_where = check_where(s, f);
    const enum err e = amount_read(f->kind, f->written, strlen(f->written), &f->amount, why);
    if (e != ERR_OK)
        schema_complain(s, yamlnode_get(f->node, "amount"), "", false, e, "%s", why);
    return is_where && e == ERR_OK;
}

static void check_twice(const struct schema *s, const struct exercise *x)
{
    for (size_t i = 1; i < x->faults.n; i++)
        for (size_t k = 0; k < i; k++) {
            const struct exercise_fault *a = &x->faults.at[k], *b = &x->faults.at[i];
            if (a->kind != b->kind || a->side != b->side || a->place != b->place)
                continue;
            schema_complain(s, b->node, "", false, ERR_DUPLICATE,
                            "the fault '%s' stands there already, in line %d: make one of the two",
                            practice_fault_id(b->kind), a->node->line);
            return;
        }
}

static void check_faults(const struct schema *s, struct exercise *x)
{
    bool is_good = true;
    for (size_t i = 0; i < x->faults.n; i++)
        is_good = check_fault(s, &x->faults.at[i]) && is_good;
    check_twice(s, x);
    struct practice p;
    size_t at = 0;
    if (!is_good)
        return;
    for (size_t i = 0; i <= x->faults.n; i++) { /* the first that the model refuses */
        struct exercise part = *x;
        part.faults.n = i;
        if (exercise_plant(&part, &p) == ERR_OK)
            continue;
        at = i > 0 ? i - 1 : 0;
        complain(s, x->faults.at[at].node, "",
                 "with this fault the unit is beyond what the practice model can show: make it "
                 "smaller, or leave it out");
        return;
    }
}

/* ---- goal, hints, questions ---------------------------------------------------------------- */

static void check_goal(const struct schema *s, const struct exercise *x)
{
    const struct yamlnode *node = yamlnode_get(x->node, "goal");
    for (size_t i = 1; i < x->goal.n; i++)
        for (size_t k = 0; k < i; k++)
            if (x->goal.at[i] == x->goal.at[k]) {
                schema_complain(s, node->items[i], "", false, ERR_DUPLICATE,
                                "the goal '%s' is given twice", exercise_goal_name(x->goal.at[i]));
                return;
            }
    if (!exercise_has_goal(x, EXERCISE_CANNOT))
        return;
    if (x->goal.n > 1)
        complain(s, node, "",
                 "'cannot' stands alone: a unit that cannot be brought in meets no other goal");
    if (x->questions.n == 0)
        complain(s, node, "",
                 "'cannot' needs a question: how else can the learner say that it cannot be "
                 "brought in?");
}

static void check_question(const struct schema *s, const struct exercise_question *q)
{
    size_t n_right = 0;
    for (size_t i = 0; i < q->choices.n; i++) {
        const struct exercise_choice *c = &q->choices.at[i];
        n_right += c->is_right;
        for (size_t k = 0; k < i; k++)
            if (strcmp(q->choices.at[k].id, c->id) == 0) {
                schema_complain(s, yamlnode_get(c->node, "id"), "", false, ERR_DUPLICATE,
                                "the choice '%s' stands in line %d already", c->id,
                                q->choices.at[k].node->line);
                break;
            }
    }
    const struct yamlnode *node = yamlnode_get(q->node, "choices");
    if (n_right == 0)
        complain(s, node, "", "no choice is right: give one of them `right: true`");
    else if (n_right == q->choices.n)
        complain(s, node, "", "every choice is right: the question asks nothing");
}

static void check_questions(const struct schema *s, const struct exercise *x)
{
    for (size_t i = 0; i < x->questions.n; i++) {
        const struct exercise_question *q = &x->questions.at[i];
        check_question(s, q);
        for (size_t k = 0; k < i; k++)
            if (strcmp(x->questions.at[k].id, q->id) == 0) {
                schema_complain(s, yamlnode_get(q->node, "id"), "", false, ERR_DUPLICATE,
                                "the question '%s' stands in line %d already", q->id,
                                x->questions.at[k].node->line);
                break;
            }
    }
}

/* ---- languages ----------------------------------------------------------------------------- */

/* Every language of the set's title is promised: a text without it is shown in the set's own. */
static void check_text(const struct schema *s, const struct exercise_set *set,
                       const struct bulletin_text *text, const struct yamlnode *parent,
                       const char *key)
{
    for (size_t i = 0; i < set->head.title.n; i++) {
        const char *language = set->head.title.at[i].language;
        bool is_there = false;
        for (size_t k = 0; k < text->n; k++)
            is_there = is_there || strcmp(text->at[k].language, language) == 0;
        if (!is_there && text->n > 0)
            schema_complain(s, parent, key, true, ERR_EMPTY,
                            "the text is missing in '%.40s', which the set's title has", language);
    }
}

static void check_languages(const struct schema *s, const struct exercise_set *set,
                            const struct exercise *x)
{
    const struct yamlnode *hints = yamlnode_get(x->node, "hints");
    check_text(s, set, &x->title, x->node, "title");
    check_text(s, set, &x->told, x->node, "told");
    for (size_t i = 0; i < x->hints.n; i++)
        check_text(s, set, &x->hints.at[i], hints->items[i], "");
    for (size_t i = 0; i < x->questions.n; i++) {
        const struct exercise_question *q = &x->questions.at[i];
        check_text(s, set, &q->text, q->node, "text");
        for (size_t k = 0; k < q->choices.n; k++)
            check_text(s, set, &q->choices.at[k].text, q->choices.at[k].node, "text");
    }
}

/* ---- all ----------------------------------------------------------------------------------- */

void exercise_checks_run(struct exercise_set *set, const struct schema *s)
{
    for (size_t i = 0; i < set->exercises.n; i++) {
        struct exercise *x = &set->exercises.at[i];
        for (size_t k = 0; k < i; k++)
            if (strcmp(set->exercises.at[k].id, x->id) == 0) {
                schema_complain(s, yamlnode_get(x->node, "id"), "", false, ERR_DUPLICATE,
                                "the exercise '%s' stands in line %d already", x->id,
                                set->exercises.at[k].node->line);
                break;
            }
        check_faults(s, x);
        check_goal(s, x);
        check_questions(s, x);
        check_languages(s, set, x);
        if (set->head.is_exam && x->hints.n > 0)
            schema_complain(s, x->node, "hints", true, ERR_UNKNOWN,
                            "an exam gives no hints: these are never shown");
    }
}
