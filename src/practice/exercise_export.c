/* exercise_export: owns the exported form of a set, which the pages read (doc/practice.schema.json). */
#include "base/jsonw.h"
#include "practice/amounts.h"
#include "practice/exercise.h"
#include "practice/exercise_tables.h"

static void put_text(struct jsonw *w, const char *key, const struct bulletin_text *text)
{
    jsonw_object(w, key);
    for (size_t i = 0; i < text->n; i++)
        jsonw_string(w, text->at[i].language, text->at[i].text);
    jsonw_object_end(w);
}

static void put_fault(struct jsonw *w, const struct exercise_fault *f)
{
    jsonw_object(w, NULL);
    jsonw_string(w, "fault", practice_fault_id(f->kind));
    if (f->side >= 0)
        jsonw_string(w, "side", exercise_side_name(f->side));
    if (f->place >= 0)
        jsonw_string(w, "place", exercise_place_name(f->place));
    jsonw_int(w, "amount", f->amount);
    jsonw_object_end(w);
}

static void put_truth(struct jsonw *w, const struct exercise *x)
{
    jsonw_int(w, "seed", x->seed);
    jsonw_array(w, "faults");
    for (size_t i = 0; i < x->faults.n; i++)
        put_fault(w, &x->faults.at[i]);
    jsonw_array_end(w);
    jsonw_array(w, "goal");
    for (int g = 0; g < EXERCISE_GOAL_N; g++)
        if (exercise_has_goal(x, (enum exercise_goal)g))
            jsonw_string(w, NULL, exercise_goal_name(g));
    jsonw_array_end(w);
    jsonw_int(w, "goal_bits", exercise_goal_bits(x));
    jsonw_array(w, "hints");
    for (size_t i = 0; i < x->hints.n; i++)
        put_text(w, NULL, &x->hints.at[i]);
    jsonw_array_end(w);
}

static void put_question(struct jsonw *w, const struct exercise_question *q, bool has_truth)
{
    jsonw_object(w, NULL);
    jsonw_string(w, "id", q->id);
    put_text(w, "text", &q->text);
    jsonw_array(w, "choices");
    for (size_t i = 0; i < q->choices.n; i++) {
        const struct exercise_choice *c = &q->choices.at[i];
        jsonw_object(w, NULL);
        jsonw_string(w, "id", c->id);
        put_text(w, "text", &c->text);
        if (has_truth && c->is_right)
            jsonw_bool(w, "right", true);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
    jsonw_object_end(w);
}

static void put_exercise(struct jsonw *w, const struct exercise *x, bool has_truth)
{
    jsonw_object(w, NULL);
    jsonw_string(w, "id", x->id);
    jsonw_string(w, "level", exercise_level_name(x->level));
    put_text(w, "title", &x->title);
    put_text(w, "told", &x->told);
    if (has_truth)
        put_truth(w, x);
    jsonw_object(w, "limits");
    jsonw_int(w, "minutes", x->limits.minutes);
    jsonw_int(w, "moves", x->limits.moves);
    jsonw_object_end(w);
    jsonw_array(w, "questions");
    for (size_t i = 0; i < x->questions.n; i++)
        put_question(w, &x->questions.at[i], has_truth);
    jsonw_array_end(w);
    jsonw_object_end(w);
}

void exercise_export(const struct exercise_set *set, const char *sha256, uint64_t truth,
                     struct text *out)
{
    struct jsonw w;
    jsonw_start(&w, out);
    jsonw_object(&w, NULL);
    jsonw_string(&w, "set", set->head.id);
    jsonw_string(&w, "sha256", sha256);
    put_text(&w, "title", &set->head.title);
    put_text(&w, "about", &set->head.about);
    jsonw_string(&w, "language", set->head.language);
    jsonw_bool(&w, "invented", set->head.is_invented);
    jsonw_bool(&w, "exam", set->head.is_exam);
    jsonw_array(&w, "exercises");
    for (size_t i = 0; i < set->exercises.n; i++)
        put_exercise(&w, &set->exercises.at[i], (truth >> i & 1) != 0);
    jsonw_array_end(&w);
    jsonw_object_end(&w);
}

void exercise_export_one(const struct exercise *x, bool has_truth, struct text *out)
{
    struct jsonw w;
    jsonw_start(&w, out);
    put_exercise(&w, x, has_truth);
}
