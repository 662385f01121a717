/* true_json: owns the members of a truing answer and their order. */
#include "cli/true_json.h"

#include "cli/true_show.h"

struct out {
    struct jsonw *w;
    const struct problem *p;
    const struct truing_answer *a;
};

static void nano(struct out *o, const char *stem, int64_t value)
{
    jsonw_nano(o->w, stem, value, o->p->unit);
}

/* A standard uncertainty: nm, or the plain unit. */
static void spread(struct out *o, double u)
{
    if (quantity_unit_dim(o->p->unit) == DIM_LENGTH)
        jsonw_double(o->w, "u_nm", u);
    else
        jsonw_double(o->w, "u", u / (double)quantity_unit_nano(o->p->unit));
}

static void json_points(struct out *o)
{
    jsonw_array(o->w, "points");
    for (size_t i = 0; i < o->p->truing.n_points; i++) {
        const struct truing_point *point = &o->p->points[i];
        jsonw_object(o->w, NULL);
        jsonw_string(o->w, "id", o->p->point_id[i]);
        nano(o, "reading", point->reading);
        nano(o, "deviation", point->reading - point->nominal);
        jsonw_double(o->w, "p_conform", o->a->p_conform[i]);
        jsonw_string(o->w, "verdict", conform_verdict_name(o->a->point[i]));
        jsonw_object_end(o->w);
    }
    jsonw_array_end(o->w);
}

static void json_plan(struct out *o, const struct truing_plan *plan)
{
    jsonw_object(o->w, NULL);
    jsonw_array(o->w, "moves");
    for (size_t a = 0; a < o->p->truing.n_adjusters; a++) {
        if (plan->steps[a] == 0)
            continue;
        jsonw_object(o->w, NULL);
        jsonw_string(o->w, "adjuster", o->p->adjuster_id[a]);
        jsonw_int(o->w, "steps", plan->steps[a]);
        if (o->p->step[a])
            nano(o, "moved", o->p->step[a] * plan->steps[a]);
        jsonw_object_end(o->w);
    }
    jsonw_array_end(o->w);
    jsonw_int(o->w, "cost_s", plan->cost_s);
    nano(o, "worst_violation", plan->worst_violation);
    nano(o, "least_margin", plan->least_margin);
    jsonw_array(o->w, "predicted");
    for (size_t i = 0; i < o->p->truing.n_points; i++) {
        jsonw_object(o->w, NULL);
        jsonw_string(o->w, "id", o->p->point_id[i]);
        nano(o, "value", plan->predicted[i]);
        jsonw_double(o->w, "p_conform", plan->p_conform[i]);
        jsonw_object_end(o->w);
    }
    jsonw_array_end(o->w);
    jsonw_object_end(o->w);
}

static void json_effects(struct out *o)
{
    const char *names[MODES_FACTORS_MAX];
    for (size_t i = 0; i < o->p->n_factors; i++)
        names[i] = o->p->factor[i];
    jsonw_array(o->w, "effects");
    for (size_t i = 0; i < o->p->n_effects; i++) {
        const struct modes_effect *e = &o->p->effects[i];
        char name[MODES_FACTORS_MAX * (PROBLEM_ID_MAX + 4)], meaning[2 * PROBLEM_TEXT_MAX];
        true_effect_name(o->p, e->set, name, sizeof name);
        (void)modes_meaning(names, o->p->n_factors, e->set, meaning, sizeof meaning);
        jsonw_object(o->w, NULL);
        jsonw_string(o->w, "name", name);
        nano(o, "value", e->value);
        spread(o, e->u);
        jsonw_bool(o->w, "significant", e->is_significant);
        jsonw_string(o->w, "meaning", meaning);
        jsonw_object_end(o->w);
    }
    jsonw_array_end(o->w);
    if (o->p->effects_note)
        jsonw_string(o->w, "effects_note", o->p->effects_note);
}

void true_json(struct jsonw *w, const struct problem *problem, const struct truing_answer *answer,
               enum verdict verdict)
{
    struct out o = {w, problem, answer};
    jsonw_string(w, "verdict", conform_verdict_name(verdict));
    nano(&o, "worst_violation", answer->worst_violation);
    json_points(&o);
    jsonw_array(w, "plans");
    for (size_t k = 0; k < answer->n_plans; k++)
        json_plan(&o, &answer->plans[k]);
    jsonw_array_end(w);
    jsonw_bool(w, "proved", answer->is_proved);
    jsonw_bool(w, "aimed", answer->is_aimed);
    jsonw_int(w, "nodes", answer->nodes);
    if (!answer->is_proved) {
        nano(&o, "bound_violation", answer->bound_violation);
        jsonw_int(w, "bound_cost_s", answer->bound_cost_s);
    }
    json_effects(&o);
    jsonw_string(w, "unit", quantity_unit_name(problem->unit));
}

void true_json_none(struct jsonw *w, enum verdict verdict)
{
    static const char *const lists[] = {"points", "plans", "effects"};
    jsonw_string(w, "verdict", conform_verdict_name(verdict));
    for (size_t i = 0; i < sizeof lists / sizeof lists[0]; i++) {
        jsonw_array(w, lists[i]);
        jsonw_array_end(w);
    }
    jsonw_bool(w, "proved", false);
    jsonw_bool(w, "aimed", false);
    jsonw_int(w, "nodes", 0);
}
