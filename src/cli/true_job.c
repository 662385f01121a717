/* true_job: owns how a bulletin, readings and the core come together in one answer; see true_job.h.
 */
#include "cli/true_job.h"

#include "cli/amount.h"
#include "cli/job.h"
#include "cli/readings.h"
#include "cli/svg.h"
#include "cli/true_json.h"
#include "cli/true_show.h"
#include "core/advise.h"

#include <stdlib.h>

int true_solve(const struct cli *ctx, const struct problem *problem, double plan_risk,
               struct truing_answer *ret)
{
    const size_t size = truing_workspace(problem->truing.n_points, problem->truing.n_adjusters);
    void *workspace = malloc(size ? size : 1);
    if (!workspace)
        return cli_fault(ctx, &(struct fault){.code = ERR_MEMORY, .message = "memory ran out"});
    size_t at = 0;
    const enum err e = advise_solve(&problem->truing, plan_risk, workspace, size, ret, &at);
    free(workspace);
    if (e != ERR_OK) /* problem_finish has checked all of it; never quiet if it has not */
        return cli_error(ctx, "the problem cannot be solved as it is (%s at %zu)", err_text(e), at);
    return CLI_GOOD;
}

int true_plans(const struct cli *ctx, const struct cli_arg *args, int n, size_t *ret)
{
    const char *plans = cli_value(args, n, "--plans");
    double wanted = 0.0;
    if (!plans)
        return CLI_GOOD;
    const int code = cli_read_number(ctx, "--plans", plans, 1, TRUING_PLANS_MAX, &wanted);
    if (code != CLI_GOOD)
        return code;
    if (wanted != (double)(size_t)wanted)
        return cli_error(ctx, "--plans: found %s; expected a whole number", plans);
    *ret = (size_t)wanted;
    return CLI_GOOD;
}

int true_exit(enum verdict verdict)
{
    return verdict == VERDICT_INSIDE ? CLI_GOOD : verdict == VERDICT_OUTSIDE ? CLI_NO : CLI_PERSON;
}

/* ---- taking and solving ---- */

static int take_unit(const struct cli *ctx, const struct cli_arg *args, int n, struct true_job *job)
{
    const char *text = cli_value(args, n, "--unit");
    enum unit unit = UNIT_N;
    for (int d = 0; d < DIM_N; d++)
        job->shown[d] = UNIT_N;
    if (!text)
        return CLI_GOOD;
    const int code = cli_read_unit(ctx, "--unit", text, &unit);
    if (code != CLI_GOOD)
        return code;
    job->shown[quantity_unit_dim(unit)] = unit;
    for (size_t i = 0; i < job->b->points.n; i++)
        if (job->b->points.at[i].nominal.dim == quantity_unit_dim(unit))
            return CLI_GOOD;
    return cli_error(ctx, "--unit: found %s; the bulletin has no point of that kind", text);
}

static void worsen(struct true_job *job, enum verdict v)
{
    if (v == VERDICT_OUTSIDE || job->verdict == VERDICT_INSIDE)
        job->verdict = v;
}

static int solve_all(const struct cli *ctx, const struct cli_arg *args, int n, struct true_job *job)
{
    job->verdict = VERDICT_INSIDE;
    for (size_t k = 0; k < job->truing.n_problems; k++) {
        struct problem *p = job->truing.problems[k];
        int code = true_plans(ctx, args, n, &p->truing.n_plans);
        if (code == CLI_GOOD)
            code = true_solve(ctx, p, ADVISE_PLAN_RISK, &job->answers[k]);
        if (code != CLI_GOOD)
            return code;
        worsen(job, job->answers[k].verdict);
    }
    for (size_t i = 0; i < job->b->points.n; i++) {
        if (job->truing.part[i] == ADAPT_JUDGED)
            worsen(job, job->truing.judged[i].guarded);
        else if (job->truing.part[i] == ADAPT_MISSING)
            worsen(job, VERDICT_UNCERTAIN);
    }
    return CLI_GOOD;
}

/* ---- the answer ---- */

static void print_json(struct cli *ctx, const struct true_job *job)
{
    struct jsonw w;
    const struct adapt_truing *t = &job->truing;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    job_json_head(&w, job->b);
    if (t->n_problems > 0)
        true_json(&w, t->problems[0], &job->answers[0], job->verdict);
    else
        true_json_none(&w, job->verdict);
    true_rest_json(&w, job);
    if (t->n_problems > 1) {
        jsonw_array(&w, "more");
        for (size_t k = 1; k < t->n_problems; k++) {
            jsonw_object(&w, NULL);
            true_json(&w, t->problems[k], &job->answers[k], job->answers[k].verdict);
            jsonw_object_end(&w);
        }
        jsonw_array_end(&w);
    }
    jsonw_object_end(&w);
    text_putc(&ctx->out, '\n');
}

static enum unit unit_of(const struct true_job *job, size_t k)
{
    const enum unit own = job->truing.problems[k]->unit;
    const enum unit shown = job->shown[quantity_unit_dim(own)];
    return shown == UNIT_N ? own : shown;
}

/* Chance that every reading is inside, if their errors are independent; *ret_sure: any has an
 * uncertainty. */
static double chance_of_all(const struct true_job *job, bool *ret_sure)
{
    double p = 1.0;
    *ret_sure = false;
    for (size_t k = 0; k < job->truing.n_problems; k++)
        for (size_t i = 0; i < job->truing.problems[k]->truing.n_points; i++)
            p *= job->answers[k].p_conform[i];
    for (size_t i = 0; i < job->b->points.n; i++) {
        if (job->truing.part[i] == ADAPT_JUDGED)
            p *= job->truing.judged[i].p_conform;
        *ret_sure = *ret_sure || (job->readings[i].is_given && job->readings[i].u > 0.0);
    }
    return p;
}

static void say_all_inside(struct cli *ctx, const struct true_job *job)
{
    char count[CLI_AMOUNT_SIZE], sure[CLI_AMOUNT_SIZE];
    const size_t n = true_count(job, ADAPT_TRUED) + true_count(job, ADAPT_JUDGED);
    bool is_sure = false;
    const double p = chance_of_all(job, &is_sure);
    const char *how_sure = is_sure ? true_sureness(p, sure) : "";
    const char *next = job->truing.n_problems > 0 ? " Nothing to move." : "";
    if (n == 1)
        cli_verdict(ctx, CLI_STRONG, "The reading is inside%s.%s", how_sure, next);
    else
        cli_verdict(ctx, CLI_STRONG, "All %s readings are inside%s.%s", cli_count(n, count),
                    how_sure, next);
}

/* What must be done first, first. */
static void say_verdicts(struct cli *ctx, const struct true_job *job)
{
    const struct adapt_truing *t = &job->truing;
    char inside[80], count[CLI_AMOUNT_SIZE];
    if (job->verdict == VERDICT_INSIDE) {
        say_all_inside(ctx, job);
        return;
    }
    for (int pass = 0; pass < 2; pass++) {
        for (size_t k = 0; k < t->n_problems; k++) {
            const bool is_inside = job->answers[k].verdict == VERDICT_INSIDE;
            if (is_inside != (pass == 1))
                continue;
            snprintf(inside, sizeof inside, "The %s readings that can be trued are inside",
                     cli_count(t->problems[k]->truing.n_points, count));
            true_show_verdict(ctx, t->problems[k], &job->answers[k], unit_of(job, k), inside);
        }
        if (pass == 0)
            true_rest_verdict(ctx, job);
    }
}

static bool is_moving(const struct true_job *job)
{
    for (size_t k = 0; k < job->truing.n_problems; k++)
        if (job->answers[k].verdict != VERDICT_INSIDE && job->answers[k].n_plans > 0)
            return true;
    return false;
}

static void print_words(struct cli *ctx, const struct true_job *job)
{
    static const char *const words[] = {"true", NULL};
    static const char always[] =
        "Before anything is loosened: support what it holds, make the supply safe against coming "
        "back, keep everyone out of what can move or fall. The maker's instructions come first.";
    say_verdicts(ctx, job);
    job_head(ctx, job->b);
    for (size_t k = 0; k < job->truing.n_problems; k++)
        true_show_readings(ctx, job->truing.problems[k], &job->answers[k], unit_of(job, k));
    true_rest_show(ctx, job);
    if (is_moving(job)) /* to be read before any plan is */
        job_cautions(ctx, job->b,
                     1U << BULLETIN_HAZARD_LIFTING | 1U << BULLETIN_HAZARD_STORED_ENERGY |
                         1U << BULLETIN_HAZARD_PINCH,
                     words, NULL, always);
    for (size_t k = 0; k < job->truing.n_problems; k++)
        true_show_plans(ctx, job->truing.problems[k], &job->answers[k], unit_of(job, k));
    job_foot(ctx, job->b);
}

static int run_with(struct cli *ctx, struct true_job *job, const struct cli_arg *args, int n)
{
    struct fault fault = {0};
    int code = take_unit(ctx, args, n, job);
    if (code == CLI_GOOD)
        code = readings_take(ctx, job->b, args, n, job->readings);
    if (code != CLI_GOOD)
        return code;
    if (adapt_truing(job->b, job->readings, &job->truing, &fault) != ERR_OK)
        return cli_fault(ctx, &fault);
    if (cli_value(args, n, "--svg") != NULL && job->truing.n_problems == 0)
        return cli_error(ctx,
                         "--svg: found no readings that can be trued together; expected all of "
                         "those that adjusters reach");
    code = solve_all(ctx, args, n, job);
    if (code != CLI_GOOD)
        return code;
    if (ctx->is_json)
        print_json(ctx, job);
    else
        print_words(ctx, job);
    const char *svg = cli_value(args, n, "--svg");
    code = svg != NULL ? svg_true(ctx, svg, job->truing.problems[0], &job->answers[0],
                                  unit_of(job, 0), job->b)
                       : CLI_GOOD;
    return code == CLI_GOOD ? true_exit(job->verdict) : code;
}

int true_by_bulletin(struct cli *ctx, const struct cli_arg *args, int n)
{
    int code = CLI_WRONG;
    struct bulletin *b = job_bulletin(ctx, args, n, &code);
    if (b == NULL)
        return code;
    struct true_job *job = calloc(1, sizeof *job);
    if (job == NULL) {
        cli_error(ctx, "memory ran out");
        code = CLI_FAILED;
    } else {
        job->b = b;
        code = run_with(ctx, job, args, n);
        adapt_truing_done(&job->truing);
    }
    free(job);
    bulletin_free(b);
    return code;
}
