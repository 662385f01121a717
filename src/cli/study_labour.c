/* study labour: how long the job takes and what time to pay. */
#include "desk/study_labour.h"
#include "cli/study.h"
#include "cli/study_plot.h"

#include <inttypes.h>
#include <stdio.h>

/* ---- JSON ---------------------------------------------------------------------------------- */

static void put_learning(struct jsonw *w, const struct study_labour *r)
{
    if (!r->has_learning) {
        jsonw_null(w, "learning_rate");
        jsonw_null(w, "first_unit");
        return;
    }
    study_put(w, "learning_rate", r->learning_rate);
    study_put_interval(w, "learning_rate_interval", r->rate);
    study_put(w, "first_unit", r->first_unit_min);
    study_put_interval(w, "first_unit_interval", r->first_unit);
    study_put(w, "slope", r->slope);
    study_put(w, "r2", r->r2);
}

static void put_allowance(struct jsonw *w, const struct study_labour_order *o,
                          const struct study_labour *r)
{
    jsonw_object(w, "allowance");
    jsonw_string(w, "of", r->n_shops > 0 ? "shops" : "jobs");
    study_put(w, "share", o->share);
    study_put(w, "minutes", r->allowance_min);
    if (r->n_shops > 0)
        jsonw_int(w, "shops", (int64_t)r->n_shops);
    if (r->has_model) {
        study_put(w, "model_minutes", r->model_min);
        study_put(w, "between_sd", r->between_sd_min);
        study_put(w, "within_sd", r->within_sd_min);
    }
    if (o->paid_min > 0) {
        study_put(w, "paid", o->paid_min);
        jsonw_bool(w, "covers", r->covers);
    }
    jsonw_object_end(w);
}

static void put_json(struct cli *ctx, const struct study_labour_order *o,
                     const struct study_labour *r)
{
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_int(&w, "n", (int64_t)r->n);
    study_put(&w, "mean", r->mean_min);
    study_put_interval(&w, "mean_interval", r->mean);
    study_put(&w, "sd", r->sd_min);
    study_put(&w, "p50", r->p50_min);
    study_put_interval(&w, "p50_interval", r->p50);
    study_put(&w, "p80", r->p80_min);
    study_put_interval(&w, "p80_interval", r->p80);
    study_put(&w, "confidence", o->confidence);
    put_learning(&w, r);
    study_put(&w, "needed_exact", r->needed_exact);
    if (r->needed >= 0)
        jsonw_int(&w, "needed", r->needed);
    else
        jsonw_null(&w, "needed");
    study_put(&w, "standard_time", r->standard_min);
    put_allowance(&w, o, r);
    study_put_notes(ctx, &w, &r->notes);
    jsonw_object_end(&w);
}

/* ---- text ---------------------------------------------------------------------------------- */

static void row(struct cli_table *t, const char *what, double value, const char *unit,
                const struct study_interval *i)
{
    char a[CLI_AMOUNT_SIZE], b[CLI_AMOUNT_SIZE];
    cli_table_cell(t, CLI_PLAIN, "%s", what);
    cli_table_cell(t, CLI_STRONG, "%s%s", study_figure(value, 4, a), unit);
    if (i == NULL)
        cli_table_cell(t, CLI_PLAIN, "%s", "");
    else if (!i->is_known)
        cli_table_cell(t, CLI_PLAIN, "too few jobs");
    else
        cli_table_cell(t, CLI_PLAIN, "%s to %s%s", study_figure(i->low, 4, a),
                       study_figure(i->high, 4, b), unit);
}

static void say_sentence(struct cli *ctx, const struct study_labour_order *o,
                         const struct study_labour *r)
{
    char a[CLI_AMOUNT_SIZE], b[CLI_AMOUNT_SIZE];
    const char *of = r->n_shops > 0 ? "shops" : "jobs";
    study_figure(r->allowance_min, 4, a);
    if (o->paid_min > 0 && r->covers)
        cli_verdict(ctx, CLI_STRONG, "%s min is enough: %g %% of the %s keep to %s min.",
                    study_figure(o->paid_min, 4, b), 100 * o->share, of, a);
    else if (o->paid_min > 0)
        cli_verdict(ctx, CLI_STOP, "%s min is not enough: %g %% of the %s take up to %s min.",
                    study_figure(o->paid_min, 4, b), 100 * o->share, of, a);
    else
        cli_verdict(ctx, CLI_STRONG,
                    "The job takes %s min on average; %s min covers %g %% of the %s.",
                    study_figure(r->mean_min, 4, b), a, 100 * o->share, of);
}

static void say_table(struct cli *ctx, const struct study_labour_order *o,
                      const struct study_labour *r)
{
    char interval[CLI_AMOUNT_SIZE];
    struct cli_table *t = cli_table_new("lrl");
    (void)snprintf(interval, sizeof interval, "%g %% interval", 100 * o->confidence);
    cli_table_head(t, (const char *const[]){"", "found", interval});
    row(t, "mean", r->mean_min, " min", &r->mean);
    row(t, "standard deviation", r->sd_min, " min", NULL);
    row(t, "half of the jobs take up to", r->p50_min, " min", &r->p50);
    row(t, "80 % of the jobs take up to", r->p80_min, " min", &r->p80);
    row(t, "standard time", r->standard_min, " min", NULL);
    if (r->n_shops > 0)
        row(t, "allowance by the shops' means", r->allowance_min, " min", NULL);
    if (r->has_model) {
        row(t, "allowance by the model", r->model_min, " min", NULL);
        row(t, "shops differ by (sd)", r->between_sd_min, " min", NULL);
        row(t, "jobs of one shop differ by (sd)", r->within_sd_min, " min", NULL);
    }
    if (r->has_learning) {
        const struct study_interval rate = {r->rate.is_known, 100 * r->rate.low,
                                            100 * r->rate.high};
        row(t, "left after each doubling", 100 * r->learning_rate, " %", &rate);
        row(t, "first job by the curve", r->first_unit_min, " min", &r->first_unit);
    }
    cli_table_cell(t, CLI_PLAIN, "jobs timed");
    cli_table_cell(t, CLI_STRONG, "%zu", r->n);
    cli_table_cell(t, CLI_PLAIN, "%s", "");
    cli_table_cell(t, CLI_PLAIN, "jobs needed for the mean within %g %%", 100 * o->within);
    if (r->needed >= 0)
        cli_table_cell(t, CLI_STRONG, "%" PRId64, r->needed);
    else
        cli_table_cell(t, CLI_STRONG, "too many to count");
    cli_table_cell(t, CLI_PLAIN, "%s", "");
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
}

/* ---- the call ------------------------------------------------------------------------------ */

static int read_order(const struct study_call *c, struct study_labour_order *o)
{
    int code = study_option_percent(c, "--share", 1, 99, &o->share);
    if (code == CLI_GOOD)
        code = study_option_percent(c, "--within", 0.01, 100, &o->within);
    if (code == CLI_GOOD)
        code = study_option_percent(c, "--confidence", 50, 99.99, &o->confidence);
    if (code == CLI_GOOD)
        code = study_option_percent(c, "--rating", 10, 300, &o->rating);
    if (code == CLI_GOOD)
        code = study_option_percent(c, "--relaxation", 0, 200, &o->relaxation);
    if (code == CLI_GOOD)
        code = study_option_number(c, "--paid", 0.001, 1e7, &o->paid_min);
    return code;
}

static int draw(struct study_call *c, const struct study_table *t,
                const struct study_labour_order *o, const struct study_labour *r, int code)
{
    if (c->plot.path == NULL)
        return code;
    struct study_chart chart;
    struct fault f = {0};
    const struct study_chart_about about = study_plot_about(c, NULL);
    const enum err made = study_chart_labour(t, o, r, &about, &chart, &f);
    return study_plot_save(c, made, &chart, &f, code);
}

static int run(struct study_call *c)
{
    struct study_labour_order o = {
        .share = 0.8, .within = 0.05, .confidence = 0.95, .rating = 1, .relaxation = 0};
    struct study_want wants[LABOUR_COLUMNS];
    struct study_table *t = NULL;
    struct study_labour r;
    struct fault f = {0};
    const char *minutes = NULL;
    int code = study_need(c, "--minutes", "the name of the column with the minutes", &minutes);
    if (code == CLI_GOOD)
        code = read_order(c, &o);
    if (code != CLI_GOOD)
        return code;
    study_labour_wants(minutes, study_option(c, "--order"), study_option(c, "--by"), wants);
    code = study_read(c, wants, LABOUR_COLUMNS, &t);
    if (code != CLI_GOOD)
        return code;
    if (study_labour(t, &o, &r, &f) != ERR_OK)
        code = study_cannot(c, &f);
    else {
        code = r.covers ? CLI_GOOD : CLI_NO;
        if (c->ctx->is_json)
            put_json(c->ctx, &o, &r);
        if (study_is_said(c->ctx)) {
            say_sentence(c->ctx, &o, &r);
            say_table(c->ctx, &o, &r);
            study_say_notes(c->ctx, &r.notes);
        }
        code = draw(c, t, &o, &r, code);
    }
    study_table_free(t);
    return code;
}

static const struct cli_option options[] = {
    STUDY_STORE_OPTIONS,
    {"--minutes", "COLUMN", "minutes that each job took", false},
    {"--order", "COLUMN",
     "how many-th job of its kind it was for who did it, from 1: fits the learning curve", false},
    {"--by", "COLUMN", "the shop: the allowance is then a share of shops, not of jobs", false},
    {"--share", "PERCENT", "of the shops (or jobs) that the allowance shall cover; 80", false},
    {"--paid", "MINUTES", "the time that is paid: is it enough for that share?", false},
    {"--within", "PERCENT", "how near the mean is wanted, for the number of jobs needed; 5", false},
    {"--confidence", "PERCENT", "of the intervals and of the number needed; 95", false},
    {"--rating", "PERCENT",
     "the pace that was seen against a normal one, for the standard time; 100", false},
    {"--relaxation", "PERCENT", "added for rest and needs, for the standard time; 0", false},
    STUDY_PLOT_OPTIONS,
    {NULL, NULL, NULL, false},
};

const struct study_kind study_labour_kind = {
    .page =
        {
            .name = "study labour",
            .line = "how long does the job take, and what time covers most shops?",
            .call = "study labour FILE.csv --minutes COLUMN [--order COLUMN] [--by COLUMN] [--paid "
                    "MINUTES]",
            .about = "From timed jobs: mean, spread, median and 80th percentile with their "
                     "intervals; how many jobs must be timed for "
                     "a mean as near as wanted; by --order how fast the job is learnt (Wright's "
                     "unit curve, least squares on "
                     "logarithms); by --by what time covers a share of the shops, each by its own "
                     "mean.\n"
                     "\n"
                     "Exit 1 when --paid is given and is less than the allowance; 4 when fewer "
                     "than two jobs were timed or all took exactly as long.",
            .example = "  $ printf 'job,min\\n1,100\\n2,81\\n3,70\\n4,64\\n5,59\\n6,57\\n' |\\\n"
                       "      mendwright study labour - --minutes min --order job\n"
                       "  [=] The job takes 71.83 min on average; 81 min covers 80 % of the jobs.\n"
                       "  ...\n",
            .options = options,
        },
    .file = STUDY_NEEDS_FILE,
    .rows = ROWS_LABOUR,
    .run = run,
};
