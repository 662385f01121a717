/* study life: how long do units last, do groups differ, how do repeats add up, how many more will fail? */
#include "desk/study_life.h"
#include "cli/study.h"
#include "cli/study_plot.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>

enum { STEPS_SHOWN = 12 };

/* ---- JSON ---------------------------------------------------------------------------------- */

static void put_end(struct jsonw *w, bool is_there, double value, const char *key)
{
    if (is_there)
        study_put(w, key, value);
    else
        jsonw_null(w, key);
}

/* KEY: value and KEY_interval: [low, high]; an end that was not reached is null. */
static void put_range(struct jsonw *w, const char *key, const struct study_life_range *r)
{
    char name[40];
    if (r->is_known)
        study_put(w, key, r->value);
    else
        jsonw_null(w, key);
    (void)snprintf(name, sizeof name, "%s_interval", key);
    jsonw_array(w, name);
    put_end(w, r->has_low, r->low, NULL);
    put_end(w, r->has_high, r->high, NULL);
    jsonw_array_end(w);
}

static void put_weibull(struct jsonw *w, const struct study_life_group *g)
{
    if (g->outcome != WEIBULL_FITTED) {
        jsonw_null(w, "weibull");
        jsonw_string(w, "weibull_fault",
                     g->has_zero_event ? "something failed at time 0"
                                       : weibull_outcome_text(g->outcome));
        return;
    }
    jsonw_object(w, "weibull");
    put_range(w, "shape", &g->shape);
    put_range(w, "scale", &g->scale);
    study_put(w, "loglik", g->weibull.loglik);
    study_put(w, "se_log_scale", g->weibull.se_log_scale);
    study_put(w, "se_log_shape", g->weibull.se_log_shape);
    study_put(w, "cov_log_scale_log_shape", g->weibull.cov[0][1]);
    study_put(w, "shape_one_p", g->shape_p);
    study_put(w, "exponential_loglik", g->weibull.exponential_loglik);
    study_put(w, "exponential_scale", g->weibull.exponential_scale);
    study_put(w, "misfit", g->misfit);
    jsonw_object_end(w);
}

static void put_cure(struct jsonw *w, const struct study_life_group *g)
{
    if (!g->has_cure) {
        jsonw_null(w, "mixture");
        return;
    }
    jsonw_object(w, "mixture");
    study_put(w, "share", g->cure.share);
    study_put(w, "scale", g->cure.scale);
    study_put(w, "shape", g->cure.shape);
    study_put(w, "loglik", g->cure.loglik);
    study_put(w, "all_fail_p", g->cure_p);
    jsonw_bool(w, "bounded", g->cure.is_bounded);
    jsonw_object_end(w);
}

static void put_steps(struct jsonw *w, const struct study_life_group *g)
{
    jsonw_array(w, "km");
    for (size_t i = 0; i < g->n_steps; i++) {
        const struct life_step *s = &g->steps[i];
        jsonw_object(w, NULL);
        study_put(w, "t", s->t);
        jsonw_int(w, "at_risk", s->at_risk);
        jsonw_int(w, "events", s->events);
        study_put(w, "survival", s->survival);
        if (s->has_se)
            study_put(w, "se", s->se);
        else
            jsonw_null(w, "se");
        if (s->has_se) {
            study_put(w, "low", g->low[i]);
            study_put(w, "high", g->high[i]);
        }
        study_put(w, "hazard", s->hazard);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
}

static void put_group(struct jsonw *w, const struct study_life_order *o,
                      const struct study_life_group *g)
{
    jsonw_object(w, NULL);
    jsonw_string(w, "group", g->name);
    jsonw_int(w, "n", (int64_t)g->n);
    jsonw_int(w, "events", (int64_t)g->n_events);
    study_put(w, "watched", g->watched);
    put_range(w, "median", &g->median);
    put_weibull(w, g);
    if (o->has_cure)
        put_cure(w, g);
    if (g->n_events == 0)
        study_put(w, "rate_at_most", g->rate_high);
    if (o->forecast > 0) {
        jsonw_int(w, "open", (int64_t)g->n_open);
        put_range(w, "further", &g->forecast);
    }
    put_steps(w, g);
    jsonw_object_end(w);
}

static void put_mean(struct jsonw *w, const struct study_life *r)
{
    jsonw_int(w, "units", (int64_t)r->n_units);
    jsonw_array(w, "mcf");
    for (size_t i = 0; i < r->n_mean; i++) {
        const struct life_mean_step *s = &r->mean[i];
        jsonw_object(w, NULL);
        study_put(w, "t", s->t);
        jsonw_int(w, "at_risk", s->at_risk);
        jsonw_int(w, "events", s->events);
        study_put(w, "mean", s->mean);
        study_put(w, "se", s->se);
        put_end(w, s->se > 0, r->mean_low[i], "low");
        put_end(w, s->se > 0, r->mean_high[i], "high");
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
}

static void put_json(struct cli *ctx, const struct study_life_order *o, const struct study_life *r)
{
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_array(&w, "groups");
    for (size_t g = 0; g < r->n_groups; g++)
        put_group(&w, o, &r->groups[g]);
    jsonw_array_end(&w);
    study_put(&w, "confidence", o->confidence);
    if (o->forecast > 0)
        study_put(&w, "forecast", o->forecast);
    if (r->has_logrank) {
        jsonw_object(&w, "logrank");
        study_put(&w, "chi2", r->logrank.chi2);
        jsonw_int(&w, "df", r->logrank.df);
        study_put(&w, "p", r->logrank_p);
        jsonw_array(&w, "expected");
        for (size_t g = 0; g < r->n_groups; g++)
            study_put(&w, NULL, r->logrank.expected[g]);
        jsonw_array_end(&w);
        jsonw_object_end(&w);
    }
    if (r->n_units > 0)
        put_mean(&w, r);
    jsonw_bool(&w, "stopped", r->is_stopped);
    study_put_notes(ctx, &w, &r->notes);
    jsonw_object_end(&w);
}

/* ---- text ---------------------------------------------------------------------------------- */

/* "31 (18 to more)"; "not reached" when there is no value. */
static const char *range_text(const struct study_life_range *r, char *buf, size_t room)
{
    char a[CLI_AMOUNT_SIZE], b[CLI_AMOUNT_SIZE], c[CLI_AMOUNT_SIZE];
    if (!r->is_known)
        (void)snprintf(buf, room, "not reached");
    else
        (void)snprintf(buf, room, "%s (%s to %s)", study_figure(r->value, 4, a),
                       r->has_low ? study_figure(r->low, 3, b) : "0",
                       r->has_high ? study_figure(r->high, 3, c) : "more");
    return buf;
}

static const char *shape_text(const struct study_life_group *g)
{
    if (g->outcome != WEIBULL_FITTED)
        return "";
    if (g->shape_p >= 0.05)
        return " Neither wear nor early failures can be told from a constant rate.";
    return g->weibull.shape > 1 ? " The rate of failures rises with age: wear."
                                : " The rate of failures falls with age: early failures.";
}

static void say_one(struct cli *ctx, const struct study_life_group *g)
{
    char a[CLI_AMOUNT_SIZE], rate[CLI_AMOUNT_SIZE];
    if (g->n_events == 0)
        cli_verdict(ctx, CLI_STRONG,
                    "None of %zu units failed in %s of unit-time: at most %s a thousand of it.",
                    g->n, study_figure(g->watched, 4, a),
                    study_figure(1000 * g->rate_high, 2, rate));
    else if (g->median.is_known)
        cli_verdict(ctx, CLI_STRONG, "%zu of %zu units failed, half of all by %s.%s", g->n_events,
                    g->n, study_figure(g->median.value, 4, a), shape_text(g));
    else
        cli_verdict(ctx, CLI_STRONG, "%zu of %zu units failed; %s %% are left at %s.%s",
                    g->n_events, g->n,
                    study_figure(100 * g->steps[g->n_steps - 1].survival, 3, rate),
                    study_figure(g->steps[g->n_steps - 1].t, 4, a), shape_text(g));
}

static void say_sentence(struct cli *ctx, const struct study_life *r)
{
    char p[CLI_AMOUNT_SIZE];
    if (r->is_stopped) {
        cli_verdict(ctx, CLI_STRONG, "Stopped early: %zu group%s worked, and nothing compared.",
                    r->n_groups, r->n_groups == 1 ? " was" : "s were");
        return;
    }
    if (r->n_groups == 1) {
        say_one(ctx, &r->groups[0]);
        return;
    }
    size_t n_events = 0;
    for (size_t g = 0; g < r->n_groups; g++)
        n_events += r->groups[g].n_events;
    if (!r->has_logrank && n_events == 0)
        cli_verdict(ctx, CLI_STRONG,
                    "Nothing failed in any of the %zu groups, so nothing can be said of a "
                    "difference.",
                    r->n_groups);
    else if (!r->has_logrank)
        cli_verdict(ctx, CLI_STRONG,
                    "The %zu groups cannot be compared: whenever something failed, one group was "
                    "watched alone, or all that were left failed at once.",
                    r->n_groups);
    else if (r->logrank_p < 0.05)
        cli_verdict(ctx, CLI_STRONG, "The %zu groups last differently long (log-rank p %s).",
                    r->n_groups, study_p(r->logrank_p, p));
    else
        cli_verdict(ctx, CLI_STRONG,
                    "No difference between the %zu groups can be told from chance (log-rank p %s).",
                    r->n_groups, study_p(r->logrank_p, p));
}

static void say_groups(struct cli *ctx, const struct study_life *r)
{
    char buf[4 * CLI_AMOUNT_SIZE];
    struct cli_table *t = cli_table_new("lrrlll");
    cli_table_head(
        t, (const char *const[]){"", "units", "failed", "half by", "Weibull scale", "shape"});
    for (size_t i = 0; i < r->n_groups; i++) {
        const struct study_life_group *g = &r->groups[i];
        const bool is_fitted = g->outcome == WEIBULL_FITTED;
        cli_table_cell(t, CLI_STRONG, "%.40s", g->name);
        cli_table_cell(t, CLI_PLAIN, "%zu", g->n);
        cli_table_cell(t, CLI_PLAIN, "%zu", g->n_events);
        cli_table_cell(t, CLI_PLAIN, "%s", range_text(&g->median, buf, sizeof buf));
        cli_table_cell(t, CLI_PLAIN, "%s",
                       is_fitted ? range_text(&g->scale, buf, sizeof buf) : "none");
        cli_table_cell(t, CLI_PLAIN, "%s",
                       is_fitted ? range_text(&g->shape, buf, sizeof buf) : "none");
    }
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
}

static void say_steps(struct cli *ctx, const struct study_life_order *o,
                      const struct study_life_group *g)
{
    char a[CLI_AMOUNT_SIZE], b[CLI_AMOUNT_SIZE], interval[CLI_AMOUNT_SIZE];
    struct cli_table *t = cli_table_new("rrrrl");
    const size_t n = g->n_steps < STEPS_SHOWN ? g->n_steps : STEPS_SHOWN;
    (void)snprintf(interval, sizeof interval, "%g %% interval", 100 * o->confidence);
    cli_table_head(t, (const char *const[]){"at", "at risk", "failed", "left, %", interval});
    for (size_t k = 0; k < n; k++) { /* evenly over the steps, first and last among them */
        const size_t i = n > 1 ? k * (g->n_steps - 1) / (n - 1) : 0;
        const struct life_step *s = &g->steps[i];
        cli_table_cell(t, CLI_PLAIN, "%s", study_figure(s->t, 5, a));
        cli_table_cell(t, CLI_PLAIN, "%" PRId64, s->at_risk);
        cli_table_cell(t, CLI_PLAIN, "%" PRId64, s->events);
        cli_table_cell(t, CLI_STRONG, "%.1f", 100 * s->survival);
        if (s->has_se)
            cli_table_cell(t, CLI_PLAIN, "%s to %s", study_figure(100 * g->low[i], 3, a),
                           study_figure(100 * g->high[i], 3, b));
        else
            cli_table_cell(t, CLI_PLAIN, "none left");
    }
    text_putc(&ctx->out, '\n');
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
    if (n < g->n_steps)
        cli_say(ctx, 4, "%zu of %zu steps; all are in --json.", n, g->n_steps);
}

static void say_extras(struct cli *ctx, const struct study_life_order *o,
                       const struct study_life_group *g, bool has_name)
{
    char a[CLI_AMOUNT_SIZE], b[CLI_AMOUNT_SIZE], c[CLI_AMOUNT_SIZE];
    char name[80] = "";
    if (has_name)
        (void)snprintf(name, sizeof name, "%.60s: ", g->name);
    if (g->has_cure && g->cure.is_bounded)
        cli_say(ctx, 4,
                "%sWith units that never fail: %s %% ever fail, along scale %s, shape %s (everyone "
                "failing in the end: p %s).",
                name, study_figure(100 * g->cure.share, 3, a), study_figure(g->cure.scale, 4, b),
                study_figure(g->cure.shape, 3, c), study_p(g->cure_p, (char[CLI_AMOUNT_SIZE]){0}));
    if (o->forecast > 0 && g->forecast.is_known)
        cli_say(ctx, 4, "%sWithin %s more, %s of the %zu still whole will fail (%s to %s).", name,
                study_figure(o->forecast, 5, (char[CLI_AMOUNT_SIZE]){0}),
                study_figure(g->forecast.value, 3, a), g->n_open,
                study_figure(g->forecast.low, 6, b), study_figure(g->forecast.high, 6, c));
    else if (o->forecast > 0)
        cli_say(ctx, 4, "%sNo forecast: there is no curve to go by.", name);
}

static void say_mean(struct cli *ctx, const struct study_life_order *o, const struct study_life *r)
{
    char a[CLI_AMOUNT_SIZE], b[CLI_AMOUNT_SIZE], interval[CLI_AMOUNT_SIZE];
    struct cli_table *t = cli_table_new("rrrrl");
    (void)snprintf(interval, sizeof interval, "%g %% interval", 100 * o->confidence);
    const size_t n = r->n_mean < STEPS_SHOWN ? r->n_mean : STEPS_SHOWN;
    text_putc(&ctx->out, '\n');
    cli_say(ctx, 4, "Failures a unit, repeats counted:");
    cli_table_head(t, (const char *const[]){"up to", "at risk", "failures", "mean", interval});
    for (size_t k = 0; k < n; k++) {
        const size_t i = n > 1 ? k * (r->n_mean - 1) / (n - 1) : 0;
        const struct life_mean_step *s = &r->mean[i];
        cli_table_cell(t, CLI_PLAIN, "%s", study_figure(s->t, 5, a));
        cli_table_cell(t, CLI_PLAIN, "%" PRId64, s->at_risk);
        cli_table_cell(t, CLI_PLAIN, "%" PRId64, s->events);
        cli_table_cell(t, CLI_STRONG, "%s", study_figure(s->mean, 3, a));
        if (s->se > 0)
            cli_table_cell(t, CLI_PLAIN, "%s to %s", study_figure(r->mean_low[i], 3, a),
                           study_figure(r->mean_high[i], 3, b));
        else
            cli_table_cell(t, CLI_PLAIN, "not known");
    }
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
}

static void say_all(struct cli *ctx, const struct study_life_order *o, const struct study_life *r)
{
    say_sentence(ctx, r);
    say_groups(ctx, r);
    for (size_t g = 0; g < r->n_groups; g++)
        say_extras(ctx, o, &r->groups[g], r->n_groups > 1);
    if (r->n_groups == 1 && r->groups[0].n_steps > 0)
        say_steps(ctx, o, &r->groups[0]);
    if (r->n_mean > 0)
        say_mean(ctx, o, r);
    study_say_notes(ctx, &r->notes);
}

/* ---- the call ------------------------------------------------------------------------------ */

static int read_order(const struct study_call *c, struct study_life_order *o)
{
    double confidence = 95;
    int64_t seed = 1;
    int code = study_option_number(c, "--confidence", 50, 99.99, &confidence);
    if (code == CLI_GOOD)
        code = study_option_number(c, "--forecast", 1e-9, 1e12, &o->forecast);
    if (code == CLI_GOOD)
        code = study_option_whole(c, "--seed", 0, INT64_C(1) << 53, &seed);
    if (code == CLI_GOOD && study_option(c, "--unit") != NULL &&
        (study_option(c, "--entry") != NULL || study_option(c, "--group") != NULL))
        code = cli_error(c->ctx, "found --unit with --entry or --group; expected it alone");
    o->confidence = confidence / 100;
    o->seed = (uint64_t)seed;
    o->has_cure = study_flag(c, "--cure");
    o->watch = &c->watch;
    return code;
}

static int draw(struct study_call *c, const struct study_table *t, const struct study_life_order *o,
                const struct study_life *r, int code)
{
    if (c->plot.path == NULL)
        return code;
    struct study_chart chart;
    struct fault f = {0};
    const struct study_chart_about about = study_plot_about(c, study_option(c, "--time"));
    const enum err made = study_chart_life(t, o, r, &about, &chart, &f);
    return study_plot_save(c, made, &chart, &f, code);
}

static int run(struct study_call *c)
{
    struct study_life_order o = {.forecast = 0};
    struct study_want wants[LIFE_COLUMNS];
    struct study_table *t = NULL;
    struct study_life r = {.n_rows = 0};
    struct fault f = {0};
    const char *time = NULL, *event = NULL;
    int code = study_need(c, "--time", "the name of the column with the times", &time);
    if (code == CLI_GOOD)
        code = study_need(c, "--event", "the name of the column that says 1 failed, 0 not", &event);
    if (code == CLI_GOOD)
        code = read_order(c, &o);
    if (code != CLI_GOOD)
        return code;
    study_life_wants(time, event, study_option(c, "--entry"), study_option(c, "--group"),
                     study_option(c, "--unit"), wants);
    code = study_read(c, wants, LIFE_COLUMNS, &t);
    if (code != CLI_GOOD)
        return code;
    if (study_life(t, &o, &r, &f) != ERR_OK)
        code = study_cannot(c, &f);
    else {
        if (c->ctx->is_json)
            put_json(c->ctx, &o, &r);
        if (study_is_said(c->ctx))
            say_all(c->ctx, &o, &r);
        code = draw(c, t, &o, &r, code);
    }
    study_life_done(&r);
    study_table_free(t);
    return code;
}

static const struct cli_option options[] = {
    STUDY_STORE_OPTIONS,
    {"--time", "COLUMN", "to the failure, or for how long a unit was watched without one", false},
    {"--event", "COLUMN", "1: failed at that time; 0: still whole then", false},
    {"--entry", "COLUMN", "age at which watching began; left out: 0", false},
    {"--group", "COLUMN", "a curve for each group, and whether they differ", false},
    {"--unit", "COLUMN",
     "units that fail again and again: a row for each failure and one, with 0, for the end of "
     "watching; gives the mean number of failures a unit as well",
     false},
    {"--forecast", "TIME", "how many of the units still whole will fail within so much more time",
     false},
    {"--cure", NULL, "fit a share of units that never fail as well", false},
    {"--confidence", "PERCENT", "of every interval; 95", false},
    {"--seed", "N", "of the forecast's draws; 1", false},
    STUDY_TIME_UNIT_OPTION,
    STUDY_PLOT_OPTIONS,
    {NULL, NULL, NULL, false},
};

const struct study_kind study_life_kind = {
    .page =
        {
            .name = "study life",
            .line = "how long do units last, do groups differ, and how many more will fail?",
            .call = "study life FILE.csv --time COLUMN --event COLUMN [--entry COLUMN] [--group "
                    "COLUMN] [--forecast TIME]",
            .about =
                "From times to failure, and times without one: what share is left by when (Kaplan "
                "and Meier, with Greenwood's error and log-log intervals), the Weibull curve by "
                "maximum likelihood, whether the rate of failures rises or falls with age, whether "
                "groups differ (log-rank), how repeats add up (Nelson's mean cumulative function), "
                "and how many more will fail. Units that were not watched from the beginning are "
                "counted from their --entry on.\n"
                "\n"
                "A curve that cannot be fitted is left out, with the reason. Exit 4 when the file "
                "holds no unit.",
            .example =
                "  $ printf "
                "'weeks,failed\\n9,1\\n13,1\\n13,0\\n18,1\\n23,1\\n28,0\\n31,1\\n34,1\\n45,0\\n"
                "48,1\\n161,0\\n' |\\\n"
                "      mendwright study life - --time weeks --event failed\n"
                "  [=] 7 of 11 units failed, half of all by 31. Neither wear nor ...\n"
                "  ...\n",
            .options = options,
        },
    .file = STUDY_NEEDS_FILE,
    .rows = ROWS_LIFE,
    .run = run,
};
