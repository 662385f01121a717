/* verb true: owns the call that asks what to move, and its JSON answer. */
#include "base/file.h"
#include "base/jsonw.h"
#include "base/problem.h"
#include "cli/amount.h"
#include "cli/true_show.h"
#include "cli/verbs.h"

#include <stdlib.h>

static const struct cli_option options[] = {
    {"--plans", "N", "how many plans to show, 1..8; else what the file says, else 3", false},
    {"--unit", "UNIT", "show amounts in this unit instead of the file's", false},
    {0},
};

/* ---- JSON
 * -------------------------------------------------------------------------------------------------------
 */

struct out {
    struct jsonw w;
    const struct problem *p;
    const struct truing_answer *a;
};

static void nano(struct out *o, const char *stem, int64_t value)
{
    jsonw_nano(&o->w, stem, value, o->p->unit);
}

/* A standard uncertainty: nm, or the plain unit. */
static void spread(struct out *o, double u)
{
    if (quantity_unit_dim(o->p->unit) == DIM_LENGTH)
        jsonw_double(&o->w, "u_nm", u);
    else
        jsonw_double(&o->w, "u", u / (double)quantity_unit_nano(o->p->unit));
}

static void json_points(struct out *o)
{
    jsonw_array(&o->w, "points");
    for (size_t i = 0; i < o->p->truing.n_points; i++) {
        const struct truing_point *point = &o->p->points[i];
        jsonw_object(&o->w, NULL);
        jsonw_string(&o->w, "id", o->p->point_id[i]);
        nano(o, "reading", point->reading);
        nano(o, "deviation", point->reading - point->nominal);
        jsonw_double(&o->w, "p_conform", o->a->p_conform[i]);
        jsonw_string(&o->w, "verdict", conform_verdict_name(o->a->point[i]));
        jsonw_object_end(&o->w);
    }
    jsonw_array_end(&o->w);
}

static void json_plan(struct out *o, const struct truing_plan *plan)
{
    jsonw_object(&o->w, NULL);
    jsonw_array(&o->w, "moves");
    for (size_t a = 0; a < o->p->truing.n_adjusters; a++) {
        if (plan->steps[a] == 0)
            continue;
        jsonw_object(&o->w, NULL);
        jsonw_string(&o->w, "adjuster", o->p->adjuster_id[a]);
        jsonw_int(&o->w, "steps", plan->steps[a]);
        if (o->p->step[a])
            nano(o, "moved", o->p->step[a] * plan->steps[a]);
        jsonw_object_end(&o->w);
    }
    jsonw_array_end(&o->w);
    jsonw_int(&o->w, "cost_s", plan->cost_s);
    nano(o, "worst_violation", plan->worst_violation);
    nano(o, "least_margin", plan->least_margin);
    jsonw_array(&o->w, "predicted");
    for (size_t i = 0; i < o->p->truing.n_points; i++) {
        jsonw_object(&o->w, NULL);
        jsonw_string(&o->w, "id", o->p->point_id[i]);
        nano(o, "value", plan->predicted[i]);
        jsonw_double(&o->w, "p_conform", plan->p_conform[i]);
        jsonw_object_end(&o->w);
    }
    jsonw_array_end(&o->w);
    jsonw_object_end(&o->w);
}

static void json_effects(struct out *o)
{
    const char *names[MODES_FACTORS_MAX];
    for (size_t i = 0; i < o->p->n_factors; i++)
        names[i] = o->p->factor[i];
    jsonw_array(&o->w, "effects");
    for (size_t i = 0; i < o->p->n_effects; i++) {
        const struct modes_effect *e = &o->p->effects[i];
        char name[MODES_FACTORS_MAX * (PROBLEM_ID_MAX + 4)], meaning[2 * PROBLEM_TEXT_MAX];
        true_effect_name(o->p, e->set, name, sizeof name);
        (void)modes_meaning(names, o->p->n_factors, e->set, meaning, sizeof meaning);
        jsonw_object(&o->w, NULL);
        jsonw_string(&o->w, "name", name);
        nano(o, "value", e->value);
        spread(o, e->u);
        jsonw_bool(&o->w, "significant", e->is_significant);
        jsonw_string(&o->w, "meaning", meaning);
        jsonw_object_end(&o->w);
    }
    jsonw_array_end(&o->w);
    if (o->p->effects_note)
        jsonw_string(&o->w, "effects_note", o->p->effects_note);
}

static void print_json(struct cli *ctx, const struct problem *p, const struct truing_answer *a)
{
    struct out o = {.p = p, .a = a};
    jsonw_start(&o.w, &ctx->out);
    jsonw_object(&o.w, NULL);
    jsonw_string(&o.w, "verdict", conform_verdict_name(a->verdict));
    nano(&o, "worst_violation", a->worst_violation);
    json_points(&o);
    jsonw_array(&o.w, "plans");
    for (size_t k = 0; k < a->n_plans; k++)
        json_plan(&o, &a->plans[k]);
    jsonw_array_end(&o.w);
    jsonw_bool(&o.w, "proved", a->is_proved);
    jsonw_int(&o.w, "nodes", a->nodes);
    if (!a->is_proved) {
        nano(&o, "bound_violation", a->bound_violation);
        jsonw_int(&o.w, "bound_cost_s", a->bound_cost_s);
    }
    json_effects(&o);
    jsonw_string(&o.w, "unit", quantity_unit_name(p->unit));
    jsonw_object_end(&o.w);
    text_putc(&ctx->out, '\n');
}

/* ---- the call
 * ---------------------------------------------------------------------------------------------------
 */

static int solve(const struct cli *ctx, const struct problem *p, struct truing_answer *ret)
{
    const size_t size = truing_workspace(p->truing.n_points, p->truing.n_adjusters);
    void *workspace = malloc(size ? size : 1);
    if (!workspace)
        return cli_fault(ctx, &(struct fault){.code = ERR_MEMORY, .message = "memory ran out"});
    size_t at = 0;
    const enum err e = truing_solve(&p->truing, workspace, size, ret, &at);
    free(workspace);
    if (e != ERR_OK) /* problem_read has checked all of it; never quiet if it has not */
        return cli_error(ctx, "the problem cannot be solved as it is (%s at %zu)", err_text(e), at);
    return CLI_GOOD;
}

static int read_problem(const struct cli *ctx, const char *path, struct problem **ret)
{
    struct text text = {0};
    struct fault fault = {0};
    enum err e = file_read(path, PROBLEM_SIZE_MAX, &text, &fault);
    const bool is_unreadable =
        e == ERR_IO; /* a wrong name or a folder: the call is wrong, says the contract */
    if (e == ERR_OK)
        e = problem_read(text.data ? text.data : "", text.size, path, ret, &fault);
    text_done(&text);
    if (e == ERR_OK)
        return CLI_GOOD;
    const int code = cli_fault(ctx, &fault);
    return is_unreadable ? CLI_WRONG : code;
}

/* --plans and --unit over what the file says. */
static int overrule(const struct cli *ctx, const struct cli_arg *args, int n, struct problem *p,
                    enum unit *ret_shown)
{
    const char *plans = cli_value(args, n, "--plans"), *unit = cli_value(args, n, "--unit");
    *ret_shown = p->unit;
    if (plans) {
        double wanted = 0.0;
        const int code = cli_read_number(ctx, "--plans", plans, 1, TRUING_PLANS_MAX, &wanted);
        if (code != CLI_GOOD)
            return code;
        if (wanted != (double)(size_t)wanted)
            return cli_error(ctx, "--plans: found %s; expected a whole number", plans);
        p->truing.n_plans = (size_t)wanted;
    }
    if (!unit)
        return CLI_GOOD;
    const int code = cli_read_unit(ctx, "--unit", unit, ret_shown);
    if (code == CLI_GOOD && quantity_unit_dim(*ret_shown) != quantity_unit_dim(p->unit))
        return cli_error(ctx, "--unit: found %s; expected a unit of the same kind as the file's %s",
                         unit, quantity_unit_name(p->unit));
    return code;
}

static int answer_problem(struct cli *ctx, const struct cli_arg *args, int n, struct problem *p)
{
    enum unit shown = p->unit;
    struct truing_answer answer = {0};
    int code = overrule(ctx, args, n, p, &shown);
    if (code == CLI_GOOD)
        code = solve(ctx, p, &answer);
    if (code != CLI_GOOD)
        return code;
    if (ctx->is_json)
        print_json(ctx, p, &answer);
    else
        true_show(ctx, p, &answer, shown);
    return answer.verdict == VERDICT_INSIDE    ? CLI_GOOD
           : answer.verdict == VERDICT_OUTSIDE ? CLI_NO
                                               : CLI_PERSON;
}

static int run(struct cli *ctx, int argc, char **argv)
{
    struct cli_arg args[CLI_ARGS_MAX];
    const int n = cli_options(ctx, &verb_true, argc, argv, args);
    const char *path = NULL;
    for (int i = 0; i < n; i++) {
        if (args[i].name)
            continue;
        if (path)
            return cli_error(ctx, "'%.80s' is a second file; expected one", args[i].value);
        path = args[i].value;
    }
    if (n < 0)
        return CLI_WRONG;
    if (!path)
        return cli_error(ctx, "no file; expected a problem file, or - for standard input");

    struct problem *p = NULL;
    int code = read_problem(ctx, path, &p);
    if (code != CLI_GOOD || !p)
        return code;
    code = answer_problem(ctx, args, n, p);
    problem_free(p);
    return code;
}

const struct cli_verb verb_true = {
    .name = "true",
    .line = "find what to move so that every reading comes inside its limits",
    .call = "true FILE.json [--plans N] [--unit UNIT]",
    .about = "Reads points (readings, limits, uncertainty) and adjusters (what can be moved, in "
             "steps, and what a step "
             "does to each reading), and finds the plan with the least worst violation, then the "
             "least time, then the "
             "greatest margin; exactly, in whole nanometres and seconds. Further plans move other "
             "adjusters.\n\n"
             "The plan is as good as the effects in the file: they come from the bulletin or from "
             "a trial move that was "
             "measured. Support what you loosen as its maker says. Exit status: 0 all inside, 1 "
             "work is needed, 4 too "
             "near a limit to tell.",
    .example = "  $ mendwright true examples/problems/wall-gaps.json --plans 1\n"
               "  [>] Two of eight readings are outside; 12 min of work brings all inside (97 %\n"
               "      sure).\n"
               "  ...\n"
               "  Plan 1, 12 min: all inside the guarded limits, 0.107 mm to spare, 97.7 % sure\n"
               "    fore-upper-packing  add  4 x 0.5 mm  -> +2 mm  12 min\n"
               "  ...\n"
               "  Proved: no allowed combination of moves does better.\n"
               "  ...",
    .options = options,
    .run = run,
};
