/* study completion: how many units have come, and how many ever will? */
#include "desk/study_completion.h"
#include "cli/study.h"
#include "cli/study_plot.h"

#include <math.h>

static void put_two(struct jsonw *w, const char *key, double low, double high)
{
    jsonw_array(w, key);
    study_put(w, NULL, low);
    study_put(w, NULL, high);
    jsonw_array_end(w);
}

static void put_json(struct cli *ctx, const struct study_completion_order *o,
                     const struct study_completion *r)
{
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_int(&w, "n", (int64_t)r->n);
    jsonw_int(&w, "come", (int64_t)r->n_come);
    jsonw_int(&w, "open", (int64_t)r->n_open);
    study_put(&w, "share_ever", r->share);
    put_two(&w, "share_ever_interval", r->share_low, r->share_high);
    jsonw_bool(&w, "bounded", r->cure.is_bounded);
    study_put(&w, "scale", r->cure.scale);
    study_put(&w, "shape", r->cure.shape);
    study_put(&w, "loglik", r->cure.loglik);
    study_put(&w, "half_by", r->half_by);
    study_put(&w, "nine_in_ten_by", r->most_by);
    study_put(&w, "misfit", r->misfit);
    study_put(&w, "confidence", o->confidence);
    jsonw_array(&w, "forecast");
    for (size_t i = 0; i < r->n_rows; i++) {
        const struct study_completion_row *row = &r->rows[i];
        const double come = (double)r->n_come;
        jsonw_object(&w, NULL);
        study_put(&w, "within", row->within); /* null: ever */
        study_put(&w, "further", row->further);
        put_two(&w, "further_interval", row->low, row->high);
        study_put(&w, "total", come + row->further);
        put_two(&w, "total_interval", come + row->low, come + row->high);
        jsonw_object_end(&w);
    }
    jsonw_array_end(&w);
    study_put_notes(ctx, &w, &r->notes);
    jsonw_object_end(&w);
}

static void say_rows(struct cli *ctx, const struct study_completion *r)
{
    char a[CLI_AMOUNT_SIZE], b[CLI_AMOUNT_SIZE];
    struct cli_table *t = cli_table_new("lrlr");
    cli_table_head(t,
                   (const char *const[]){"within", "more will come", "interval", "then, in all"});
    for (size_t i = 0; i < r->n_rows; i++) {
        const struct study_completion_row *row = &r->rows[i];
        const double total = (double)r->n_come + row->further;
        if (isinf(row->within))
            cli_table_cell(t, CLI_STRONG, "ever");
        else
            cli_table_cell(t, CLI_PLAIN, "%s", study_figure(row->within, 6, a));
        cli_table_cell(t, CLI_PLAIN, "%.0f", row->further);
        cli_table_cell(t, CLI_PLAIN, "%.0f to %.0f", row->low, row->high);
        cli_table_cell(t, CLI_PLAIN, "%.0f (%s %%)", total,
                       study_figure(100 * total / (double)r->n, 3, b));
    }
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
}

static void say_all(struct cli *ctx, const struct study_completion_order *o,
                    const struct study_completion *r)
{
    char a[CLI_AMOUNT_SIZE], b[CLI_AMOUNT_SIZE], c[CLI_AMOUNT_SIZE];
    const struct study_completion_row *ever = &r->rows[r->n_rows - 1];
    const double come = (double)r->n_come;
    if (r->n_open == 0)
        cli_verdict(ctx, CLI_STRONG, "All %zu units have come.", r->n);
    else
        cli_verdict(ctx, CLI_STRONG,
                    "%zu of %zu units have come; in the end it will be about %.0f (%.0f to %.0f), "
                    "%s %%.",
                    r->n_come, r->n, come + ever->further, come + ever->low, come + ever->high,
                    study_figure(100 * (come + ever->further) / (double)r->n, 2, a));
    cli_say(ctx, 4,
            "Of all owners %s %% ever come (%s to %s); half of those by %s after the notice, nine "
            "in ten by %s.",
            study_figure(100 * r->share, 3, a), study_figure(100 * r->share_low, 3, b),
            study_figure(100 * r->share_high, 3, c),
            study_figure(r->half_by, 3, (char[CLI_AMOUNT_SIZE]){0}),
            study_figure(r->most_by, 3, (char[CLI_AMOUNT_SIZE]){0}));
    if (r->n_open > 0)
        say_rows(ctx, r);
    cli_say(ctx, 4, "Intervals of %g %%.", 100 * o->confidence);
    study_say_notes(ctx, &r->notes);
}

static int draw(struct study_call *c, const struct study_table *t,
                const struct study_completion_order *o, const struct study_completion *r, int code)
{
    if (c->plot.path == NULL)
        return code;
    struct study_chart chart;
    struct fault f = {0};
    const struct study_chart_about about = study_plot_about(c, study_option(c, "--time"));
    const enum err made = study_chart_completion(t, o, r, &about, &chart, &f);
    return study_plot_save(c, made, &chart, &f, code);
}

static int run(struct study_call *c)
{
    struct study_completion_order o = {.within = 0};
    struct study_want wants[COMPLETION_COLUMNS];
    struct study_table *t = NULL;
    struct study_completion r;
    struct fault f = {0};
    const char *time = NULL, *event = NULL;
    double confidence = 95;
    int64_t seed = 1;
    int code =
        study_need(c, "--time", "the name of the column with the time since the notice", &time);
    if (code == CLI_GOOD)
        code = study_need(c, "--event", "the name of the column that says 1 has come, 0 not yet",
                          &event);
    if (code == CLI_GOOD)
        code = study_option_number(c, "--confidence", 50, 99.9, &confidence);
    if (code == CLI_GOOD)
        code = study_option_number(c, "--within", 1e-9, 1e9, &o.within);
    if (code == CLI_GOOD)
        code = study_option_whole(c, "--seed", 0, INT64_C(1) << 53, &seed);
    if (code != CLI_GOOD)
        return code;
    o.confidence = confidence / 100;
    o.seed = (uint64_t)seed;
    study_completion_wants(time, event, wants);
    code = study_read(c, wants, COMPLETION_COLUMNS, &t);
    if (code != CLI_GOOD)
        return code;
    if (study_completion(t, &o, &r, &f) != ERR_OK)
        code = study_cannot(c, &f);
    else {
        if (c->ctx->is_json)
            put_json(c->ctx, &o, &r);
        if (study_is_said(c->ctx))
            say_all(c->ctx, &o, &r);
        code = draw(c, t, &o, &r, code);
    }
    study_table_free(t);
    return code;
}

static const struct cli_option options[] = {
    STUDY_STORE_OPTIONS,
    {"--time", "COLUMN", "from the notice to the claim, or until today without one", false},
    {"--event", "COLUMN", "1: has come; 0: not yet", false},
    {"--within", "TIME", "a row for so much more time, beside 30, 90, 180, 365 and ever", false},
    {"--confidence", "PERCENT", "of every interval; 95", false},
    {"--seed", "N", "of the draws; 1", false},
    STUDY_TIME_UNIT_OPTION,
    STUDY_PLOT_OPTIONS,
    {NULL, NULL, NULL, false},
};

const struct study_kind study_completion_kind = {
    .page =
        {
            .name = "study completion",
            .line = "how many units have come, and how many ever will?",
            .call = "study completion FILE.csv --time COLUMN --event COLUMN [--within TIME]",
            .about =
                "From the time between notice and claim, and the time waited so far without one: "
                "the share of owners who ever come, how fast they do, and how many more will come "
                "within a time and ever, each with an interval that grows as far as the data "
                "leave it open. Some never come: a mixture of a Weibull curve and a share that "
                "stays away.\n"
                "\n"
                "Exit 4 when nobody has come yet, all claims came at one time, or the fit does not "
                "settle.",
            .example = "  $ printf "
                       "'days,come\\n3,1\\n5,1\\n6,1\\n8,1\\n9,1\\n11,1\\n14,1\\n18,1\\n21,1\\n25,"
                       "1\\n33,1\\n40,1\\n60,0\\n"
                       "60,0\\n60,0\\n60,0\\n60,0\\n60,0\\n60,0\\n30,0\\n20,0\\n' |\\\n"
                       "      mendwright study completion - --time days --event come\n"
                       "  [=] 12 of 21 units have come; in the end it will be about ...\n"
                       "  ...\n",
            .options = options,
        },
    .file = STUDY_NEEDS_FILE,
    .rows = ROWS_COMPLETION,
    .run = run,
};
