/* study window: which build days are bad? */
#include "desk/study_window.h"
#include "cli/study.h"
#include "cli/study_plot.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

/* ---- JSON ---------------------------------------------------------------------------------- */

/* As the file has it: a date is text, a number is one. */
static void put_day(struct jsonw *w, const char *key, const struct study_window_day *day)
{
    if (day->is_number)
        jsonw_int(w, key, day->number);
    else
        jsonw_string(w, key, day->text);
}

static void put_range(struct jsonw *w, const char *key, const struct study_window_day *low,
                      const struct study_window_day *high)
{
    jsonw_array(w, key);
    put_day(w, NULL, low);
    put_day(w, NULL, high);
    jsonw_array_end(w);
}

static void put_set(struct jsonw *w, const struct study_window_order *o,
                    const struct study_window_run *r)
{
    if (!r->has_set) {
        jsonw_null(w, "confidence_set");
        return;
    }
    jsonw_object(w, "confidence_set");
    study_put(w, "level", o->confidence);
    study_put(w, "drop", r->drop);
    put_range(w, "first", &r->first_low, &r->first_high);
    put_range(w, "last", &r->last_low, &r->last_high);
    jsonw_int(w, "runs", r->n_set);
    jsonw_object_end(w);
}

static void put_curve(struct jsonw *w, const struct study_window_run *r)
{
    jsonw_array(w, "cost_curve");
    for (size_t i = 0; i < r->n_curve; i++) {
        const struct study_window_cut *c = &r->curve[i];
        jsonw_object(w, NULL);
        study_put(w, "share", c->share);
        put_day(w, "first", &c->first);
        put_day(w, "last", &c->last);
        jsonw_int(w, "built", c->built);
        jsonw_int(w, "failed", c->failed);
        study_put(w, "needless", c->needless);
        study_put(w, "left_out_built", c->left_built);
        study_put(w, "left_out_failed", c->left_failed);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
}

static void put_run(struct jsonw *w, const struct study_window_order *o,
                    const struct study_window_run *r)
{
    put_day(w, "first", &r->first);
    put_day(w, "last", &r->last);
    jsonw_int(w, "built", r->built);
    jsonw_int(w, "failed", r->failed);
    study_put(w, "expected", r->expected);
    study_put(w, "llr", r->llr);
    study_put(w, "p_value", r->p);
    study_put(w, "rate_inside", r->rate_inside);
    if (r->has_outside)
        study_put(w, "rate_outside", r->rate_outside);
    else
        jsonw_null(w, "rate_outside");
    jsonw_int(w, "draws", r->n_draws);
    jsonw_bool(w, "found", r->is_found);
    put_set(w, o, r);
    put_curve(w, r);
}

/* No run has more than its share: the contract's fields, without days. */
static void put_none(struct jsonw *w)
{
    static const char *const none[] = {"first", "last", "built", "failed", "expected"};
    for (size_t i = 0; i < sizeof none / sizeof *none; i++)
        jsonw_null(w, none[i]);
    jsonw_int(w, "llr", 0);
    jsonw_int(w, "p_value", 1);
    jsonw_null(w, "rate_inside");
    jsonw_null(w, "rate_outside");
    jsonw_int(w, "draws", 0);
    jsonw_bool(w, "found", false);
}

static void put_json(struct cli *ctx, const struct study_window_order *o,
                     const struct study_window *r)
{
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    if (r->n_runs > 0)
        put_run(&w, o, &r->runs[0]);
    else
        put_none(&w);
    jsonw_array(&w, "windows");
    for (size_t i = 0; i < r->n_runs; i++) {
        jsonw_object(&w, NULL);
        put_run(&w, o, &r->runs[i]);
        jsonw_object_end(&w);
    }
    jsonw_array_end(&w);
    jsonw_int(&w, "days", (int64_t)r->n_days);
    jsonw_int(&w, "built_all", r->built);
    jsonw_int(&w, "failed_all", r->failed);
    jsonw_int(&w, "seed", (int64_t)o->seed);
    jsonw_bool(&w, "stopped", r->is_stopped);
    study_put_notes(ctx, &w, &r->notes);
    jsonw_object_end(&w);
}

/* ---- text ---------------------------------------------------------------------------------- */

static void say_times(char *buf, size_t room, const struct study_window_run *r)
{
    char a[CLI_AMOUNT_SIZE];
    if (r->has_outside && r->rate_outside > 0)
        (void)snprintf(buf, room, "%s times as often as the rest",
                       study_figure(r->rate_inside / r->rate_outside, 2, a));
    else
        (void)snprintf(buf, room, "and none of the rest do");
}

static void say_run(struct cli *ctx, const struct study_window_order *o,
                    const struct study_window_run *r)
{
    char times[80], p[CLI_AMOUNT_SIZE];
    say_times(times, sizeof times, r);
    if (r->is_found)
        cli_verdict(ctx, CLI_STRONG, "Units built %s to %s fail %s (p %s).", r->first.text,
                    r->last.text, times, study_p(r->p, p));
    else
        cli_verdict(
            ctx, CLI_STRONG,
            "No run of days stands out: chance alone gives one as marked as the best, %s to "
            "%s, in %s %% of all cases.",
            r->first.text, r->last.text, study_figure(100 * r->p, 2, p));
    if (r->is_found && r->has_set)
        cli_say(ctx, 4,
                "With %g %% confidence it begins between %s and %s, and ends between %s and %s.",
                100 * o->confidence, r->first_low.text, r->first_high.text, r->last_low.text,
                r->last_high.text);
}

static void say_figures(struct cli *ctx, const struct study_window *r,
                        const struct study_window_run *run)
{
    char a[CLI_AMOUNT_SIZE];
    struct cli_table *t = cli_table_new("lrrrr");
    const int64_t built = r->built - run->built, failed = r->failed - run->failed;
    cli_table_head(t, (const char *const[]){"", "built", "failed", "expected", "failed of 100"});
    cli_table_cell(t, CLI_STRONG, "%s to %s", run->first.text, run->last.text);
    cli_table_cell(t, CLI_PLAIN, "%" PRId64, run->built);
    cli_table_cell(t, CLI_PLAIN, "%" PRId64, run->failed);
    cli_table_cell(t, CLI_PLAIN, "%s", study_figure(run->expected, 3, a));
    cli_table_cell(t, CLI_PLAIN, "%s", study_figure(100 * run->rate_inside, 2, a));
    cli_table_cell(t, CLI_PLAIN, "all other days");
    cli_table_cell(t, CLI_PLAIN, "%" PRId64, built);
    cli_table_cell(t, CLI_PLAIN, "%" PRId64, failed);
    cli_table_cell(t, CLI_PLAIN, "%s", study_figure((double)r->failed - run->expected, 3, a));
    cli_table_cell(t, CLI_PLAIN, "%s",
                   built > 0 ? study_figure(100 * (double)failed / (double)built, 2, a) : "-");
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
}

static void say_curve(struct cli *ctx, const struct study_window_run *run)
{
    char a[CLI_AMOUNT_SIZE], b[CLI_AMOUNT_SIZE], c[CLI_AMOUNT_SIZE];
    struct cli_table *t = cli_table_new("lrrrr");
    text_putc(&ctx->out, '\n');
    cli_say(ctx, 4,
            "Where to draw the line, and what it costs (expected units, by the likelihood):");
    cli_table_head(t, (const char *const[]){"built from, to", "swept in", "needless",
                                            "bad left out", "failed of them"});
    for (size_t i = 0; i < run->n_curve; i++) {
        const struct study_window_cut *cut = &run->curve[i];
        cli_table_cell(t, CLI_PLAIN, "%s to %s", cut->first.text, cut->last.text);
        cli_table_cell(t, CLI_PLAIN, "%" PRId64, cut->built);
        cli_table_cell(t, CLI_PLAIN, "%s", study_figure(cut->needless, 3, a));
        cli_table_cell(t, CLI_PLAIN, "%s", study_figure(cut->left_built, 3, b));
        cli_table_cell(t, CLI_PLAIN, "%s", study_figure(cut->left_failed, 2, c));
    }
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
}

static void say_all(struct cli *ctx, const struct study_window_order *o,
                    const struct study_window *r)
{
    if (r->n_runs == 0)
        cli_verdict(ctx, CLI_STRONG, "No run of days has more than its share of the failures.");
    for (size_t i = 0; i < r->n_runs; i++) {
        const struct study_window_run *one = &r->runs[i];
        if (i > 0)
            text_putc(&ctx->out, '\n');
        if (i > 0 && !one->is_found) {
            cli_say(ctx, 0, "No further run of days stands out.");
            continue;
        }
        say_run(ctx, o, one);
        say_figures(ctx, r, one);
        if (one->is_found && one->n_curve > 0)
            say_curve(ctx, one);
    }
    study_say_notes(ctx, &r->notes);
}

/* ---- the call ------------------------------------------------------------------------------ */

static int read_order(const struct study_call *c, struct study_window_order *o)
{
    int64_t seed = 1, n_runs = 1, n_threads = 0;
    double confidence = 95;
    int code = study_option_whole(c, "--draws", 99, WINDOW_DRAWS_MAX, &o->n_draws);
    if (code == CLI_GOOD)
        code = study_option_whole(c, "--seed", 0, INT64_C(1) << 53, &seed);
    if (code == CLI_GOOD)
        code = study_option_whole(c, "--windows", 1, WINDOW_RUNS_MAX, &n_runs);
    if (code == CLI_GOOD)
        code = study_option_whole(c, "--threads", 0, 16, &n_threads);
    if (code == CLI_GOOD)
        code = study_option_number(c, "--confidence", 50, 99.9, &confidence);
    o->seed = (uint64_t)seed;
    o->n_runs = (int)n_runs;
    o->n_threads = (int)n_threads;
    o->confidence = confidence / 100;
    return code;
}

static int draw(struct study_call *c, const struct study_table *t,
                const struct study_window_order *o, const struct study_window *r, int code)
{
    if (c->plot.path == NULL)
        return code;
    struct study_chart chart;
    struct fault f = {0};
    const struct study_chart_about about = study_plot_about(c, NULL);
    const enum err made = study_chart_window(t, o, r, &about, &chart, &f);
    return study_plot_save(c, made, &chart, &f, code);
}

static int answer(struct study_call *c, const struct study_table *t,
                  const struct study_window_order *o)
{
    struct fault f = {0};
    struct study_window *r = malloc(sizeof *r);
    if (r == NULL)
        return study_cannot(c, &(struct fault){.code = ERR_MEMORY, .message = "memory ran out"});
    int code = CLI_GOOD;
    if (study_window(t, o, &c->watch, r, &f) != ERR_OK)
        code = study_cannot(c, &f);
    else {
        progress_wipe(&c->progress);
        code = r->n_runs > 0 && r->runs[0].is_found ? CLI_GOOD : CLI_NO;
        if (c->ctx->is_json)
            put_json(c->ctx, o, r);
        if (study_is_said(c->ctx))
            say_all(c->ctx, o, r);
        code = draw(c, t, o, r, code);
    }
    free(r);
    return code;
}

static int run(struct study_call *c)
{
    struct study_window_order o = {.n_draws = 9999};
    struct study_want wants[WINDOW_COLUMNS];
    struct study_table *t = NULL;
    const char *day = NULL, *failed = NULL;
    int code = study_need(c, "--day", "the name of the column with the day of building", &day);
    if (code == CLI_GOOD)
        code = study_need(c, "--failed", "the name of the column that counts failures", &failed);
    if (code == CLI_GOOD)
        code = read_order(c, &o);
    if (code != CLI_GOOD)
        return code;
    study_window_wants(day, study_option(c, "--built"), failed, study_option(c, "--exposure"),
                       wants);
    code = study_read(c, wants, WINDOW_COLUMNS, &t);
    if (code != CLI_GOOD)
        return code;
    code = answer(c, t, &o);
    study_table_free(t);
    return code;
}

static const struct cli_option options[] = {
    STUDY_STORE_OPTIONS,
    {"--day", "COLUMN", "the day of building: YYYY-MM-DD, or a whole number", false},
    {"--built", "COLUMN", "how many were built; left out: every row is one unit", false},
    {"--failed", "COLUMN", "how many of them failed", false},
    {"--exposure", "COLUMN",
     "what failures are expected in proportion to, days in service for example; left out: the "
     "number built",
     false},
    {"--windows", "N", "how many runs of days to look for, each after those before; 1", false},
    {"--draws", "N", "draws by chance alone, for the p-value; 9999", false},
    {"--seed", "N", "of the draws; 1. The same seed gives the same answer", false},
    {"--confidence", "PERCENT", "of the ends; a run counts when p is at most the rest; 95", false},
    {"--threads", "N", "0: as many as there are processors. Changes nothing but the time", false},
    STUDY_PLOT_OPTIONS,
    {NULL, NULL, NULL, false},
};

const struct study_kind study_window_kind = {
    .page =
        {
            .name = "study window",
            .line = "which build days are bad, how sure is that, and where is the line drawn?",
            .call = "study window FILE.csv --day COLUMN [--built COLUMN] --failed COLUMN "
                    "[--exposure COLUMN] [--windows N]",
            .about =
                "From what was built and what failed by build day: the run of days whose rate of "
                "failures stands out most, however long (Kulldorff's scan), and how often chance "
                "alone would show one as marked, by seeded draws. Then between which days it "
                "begins and ends, and the price of drawing the line wider or narrower: units swept "
                "in needlessly against bad ones left out. Rows of one day are added up.\n"
                "\n"
                "Exit 1 when no run stands out; 4 when nothing failed or all is from one day.",
            .example = "  $ printf "
                       "'day,built,failed\\n1,50,1\\n2,40,0\\n3,60,2\\n4,50,7\\n5,45,6\\n6,55,1\\n"
                       "7,50,1\\n8,50,2\\n' |\\\n"
                       "      mendwright study window - --day day --built built --failed failed\n"
                       "  [=] Units built 4 to 5 fail 6 times as often as the rest (p 0.0012).\n"
                       "  ...\n",
            .options = options,
        },
    .file = STUDY_NEEDS_FILE,
    .rows = ROWS_WINDOW,
    .run = run,
};
