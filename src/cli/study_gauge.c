/* study gauge: how much of what is measured is the measuring. */
#include "desk/study_gauge.h"
#include "cli/study.h"
#include "cli/study_plot.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>

/* ---- JSON ---------------------------------------------------------------------------------- */

static void put_term(struct jsonw *w, const char *name, const struct stat_square *s)
{
    jsonw_object(w, NULL);
    jsonw_string(w, "term", name);
    study_put(w, "df", s->df);
    study_put(w, "ss", s->ss);
    study_put(w, "ms", s->ms);
    study_put(w, "f", s->f);
    study_put(w, "p", s->p);
    jsonw_object_end(w);
}

static void put_anova(struct jsonw *w, const struct stat_crossed *a)
{
    jsonw_array(w, "anova");
    put_term(w, "part", &a->a);
    put_term(w, "operator", &a->b);
    put_term(w, "part:operator", &a->ab);
    put_term(w, "repeatability", &a->within);
    put_term(w, "total", &a->total);
    jsonw_array_end(w);
}

static void put_json(struct cli *ctx, const struct study_gauge_order *o,
                     const struct study_gauge *g)
{
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_int(&w, "parts", (int64_t)g->n_parts);
    jsonw_int(&w, "operators", (int64_t)g->n_operators);
    jsonw_int(&w, "repeats", (int64_t)g->n_repeats);
    if (o->unit != UNIT_N)
        jsonw_string(&w, "unit", quantity_unit_name(o->unit));
    study_put(&w, "repeatability_var", g->repeatability);
    study_put_interval(&w, "repeatability_var_interval", g->repeatability_i);
    study_put(&w, "reproducibility_var", g->reproducibility);
    study_put(&w, "operator_var", g->operators);
    study_put(&w, "interaction_var", g->interaction);
    study_put(&w, "gauge_var", g->gauge);
    study_put_interval(&w, "gauge_var_interval", g->gauge_i);
    study_put(&w, "part_var", g->part);
    study_put_interval(&w, "part_var_interval", g->part_i);
    study_put(&w, "total_var", g->total);
    study_put(&w, "percent_study", g->percent_study);
    study_put_interval(&w, "percent_study_interval", g->percent_study_i);
    study_put(&w, "percent_tolerance", g->percent_tolerance);
    if (g->has_ndc)
        jsonw_int(&w, "ndc", g->ndc);
    else
        jsonw_null(&w, "ndc");
    study_put(&w, "ndc_exact", g->has_ndc ? g->ndc_exact : (double)NAN);
    jsonw_bool(&w, "pooled", g->is_pooled);
    study_put(&w, "confidence", o->confidence);
    put_anova(&w, &g->anova);
    study_put_notes(ctx, &w, &g->notes);
    jsonw_object_end(&w);
}

/* ---- text ---------------------------------------------------------------------------------- */

/* Below 10 % good, above 30 % not fit: common practice (AIAG's guideline). */
static const char *judge(double percent)
{
    return percent < 10   ? "good enough for this work"
           : percent > 30 ? "too much: mend how it is measured first"
                          : "usable with care";
}

static void component(struct cli_table *t, const struct study_gauge *g, const char *name,
                      double variance, const char *unit, const struct study_interval *i)
{
    char a[CLI_AMOUNT_SIZE], b[CLI_AMOUNT_SIZE];
    cli_table_cell(t, CLI_PLAIN, "%s", name);
    cli_table_cell(t, CLI_STRONG, "%s%s", study_figure(sqrt(variance), 3, a), unit);
    cli_table_cell(t, CLI_PLAIN, "%s %%", study_figure(100 * sqrt(variance / g->total), 3, a));
    if (i == NULL)
        cli_table_cell(t, CLI_PLAIN, "%s", "");
    else
        cli_table_cell(t, CLI_PLAIN, "%s to %s%s", study_figure(sqrt(i->low), 3, a),
                       study_figure(sqrt(i->high), 3, b), unit);
}

static void say_components(struct cli *ctx, const struct study_gauge_order *o,
                           const struct study_gauge *g)
{
    char unit[24] = "", interval[CLI_AMOUNT_SIZE];
    if (o->unit != UNIT_N)
        (void)snprintf(unit, sizeof unit, " %s", quantity_unit_name(o->unit));
    (void)snprintf(interval, sizeof interval, "%g %% interval", 100 * o->confidence);
    struct cli_table *t = cli_table_new("lrrl");
    cli_table_head(t, (const char *const[]){"spread (sd) of", "found", "of all", interval});
    component(t, g, "repeating (one person, one part)", g->repeatability, unit,
              &g->repeatability_i);
    component(t, g, "people", g->operators, unit, NULL);
    component(t, g, "people on certain parts", g->interaction, unit, NULL);
    component(t, g, "all measuring together", g->gauge, unit, &g->gauge_i);
    component(t, g, "the parts themselves", g->part, unit, &g->part_i);
    component(t, g, "everything", g->total, unit, NULL);
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
}

static void say_anova(struct cli *ctx, const struct stat_crossed *a)
{
    const struct {
        const char *name;
        const struct stat_square *s;
    } rows[] = {
        {"parts", &a->a}, {"people", &a->b}, {"people on parts", &a->ab}, {"repeats", &a->within}};
    struct cli_table *t = cli_table_new("lrrrrr");
    cli_table_head(
        t, (const char *const[]){"source", "df", "sum of squares", "mean square", "F", "p"});
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char b[CLI_AMOUNT_SIZE];
        cli_table_cell(t, CLI_PLAIN, "%s", rows[i].name);
        cli_table_cell(t, CLI_PLAIN, "%.0f", rows[i].s->df);
        cli_table_cell(t, CLI_PLAIN, "%s", study_figure(rows[i].s->ss, 5, b));
        cli_table_cell(t, CLI_PLAIN, "%s", study_figure(rows[i].s->ms, 5, b));
        cli_table_cell(t, CLI_PLAIN, "%s", study_figure(rows[i].s->f, 4, b));
        cli_table_cell(t, CLI_PLAIN, "%s", isfinite(rows[i].s->p) ? study_p(rows[i].s->p, b) : "-");
    }
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
}

static void say_text(struct cli *ctx, const struct study_gauge_order *o,
                     const struct study_gauge *g, bool is_good)
{
    char a[CLI_AMOUNT_SIZE], b[CLI_AMOUNT_SIZE], c[CLI_AMOUNT_SIZE];
    cli_verdict(ctx, is_good ? CLI_STRONG : CLI_STOP,
                "Measuring makes up %s %% of the spread (%s to %s %%): %s.",
                study_figure(g->percent_study, 3, a), study_figure(g->percent_study_i.low, 3, b),
                study_figure(g->percent_study_i.high, 3, c), judge(g->percent_study));
    say_components(ctx, o, g);
    if (g->has_ndc)
        cli_say(ctx, 4,
                "It tells %" PRId64
                " classes of parts apart (five or more are wanted: common practice).",
                g->ndc);
    if (isfinite(g->percent_tolerance))
        cli_say(
            ctx, 4,
            "Six standard deviations of measuring take up %s %% of the width between the limits.",
            study_figure(g->percent_tolerance, 3, a));
    text_putc(&ctx->out, '\n');
    say_anova(ctx, &g->anova);
    study_say_notes(ctx, &g->notes);
}

/* ---- the call ------------------------------------------------------------------------------ */

struct columns {
    const char *part, *who, *value;
};

static int read_call(const struct study_call *c, struct columns *k, struct study_gauge_order *o,
                     double *most)
{
    int code = study_need(c, "--part", "the name of the column with the parts", &k->part);
    if (code == CLI_GOOD)
        code = study_need(c, "--operator", "the name of the column with who measured", &k->who);
    if (code == CLI_GOOD)
        code = study_need(c, "--value", "the name of the column with the readings", &k->value);
    if (code == CLI_GOOD)
        code = study_option_unit(c, "--unit", &o->unit);
    if (code == CLI_GOOD)
        code = study_option_number(c, "--pool-above", 0, 1, &o->pool_above);
    if (code == CLI_GOOD)
        code = study_option_percent(c, "--confidence", 50, 99.9, &o->confidence);
    if (code == CLI_GOOD)
        code = study_option_number(c, "--tolerance", 1e-12, 1e12, &o->tolerance);
    return code == CLI_GOOD ? study_option_number(c, "--most", 0, 100, most) : code;
}

static int draw(struct study_call *c, const struct study_table *t,
                const struct study_gauge_order *o, const struct study_gauge *r, int code)
{
    if (c->plot.path == NULL)
        return code;
    struct study_chart chart;
    struct fault f = {0};
    const struct study_chart_about about = study_plot_about(c, NULL);
    const enum err made = study_chart_gauge(t, o, r, &about, &chart, &f);
    return study_plot_save(c, made, &chart, &f, code);
}

static int run(struct study_call *c)
{
    struct study_gauge_order o = {.pool_above = 1, .confidence = 0.95, .unit = UNIT_N};
    struct columns k;
    struct study_want wants[GAUGE_COLUMNS];
    struct study_table *t = NULL;
    struct study_gauge g;
    struct fault f = {0};
    double most = 100;
    int code = read_call(c, &k, &o, &most);
    if (code != CLI_GOOD)
        return code;
    study_gauge_wants(k.part, k.who, k.value, o.unit, wants);
    code = study_read(c, wants, GAUGE_COLUMNS, &t);
    if (code != CLI_GOOD)
        return code;
    if (study_gauge(t, &o, &g, &f) != ERR_OK)
        code = study_cannot(c, &f);
    else {
        code = g.percent_study <= most ? CLI_GOOD : CLI_NO;
        if (c->ctx->is_json)
            put_json(c->ctx, &o, &g);
        if (study_is_said(c->ctx))
            say_text(c->ctx, &o, &g, code == CLI_GOOD);
        code = draw(c, t, &o, &g, code);
    }
    study_table_free(t);
    return code;
}

static const struct cli_option options[] = {
    STUDY_STORE_OPTIONS,
    {"--part", "COLUMN", "what was measured", false},
    {"--operator", "COLUMN", "who measured", false},
    {"--value", "COLUMN", "the reading", false},
    {"--unit", "UNIT",
     "readings are amounts (2 1/2 in, 63.5 mm); bare numbers and results are in this unit", false},
    {"--tolerance", "WIDTH",
     "between the limits, in the readings' unit: how much of it measuring takes up", false},
    {"--pool-above", "P",
     "pool the interaction with the repeatability when its p is above P (0.25: AIAG's way); never",
     false},
    {"--most", "PERCENT", "of the spread that measuring may make up", false},
    {"--confidence", "PERCENT", "of the intervals; 95", false},
    STUDY_PLOT_OPTIONS,
    {NULL, NULL, NULL, false},
};

const struct study_kind study_gauge_kind = {
    .page =
        {
            .name = "study gauge",
            .line = "how much of what is measured is the measuring itself?",
            .call =
                "study gauge FILE.csv --part COLUMN --operator COLUMN --value COLUMN [--unit UNIT]",
            .about = "Several people measure the same parts, each part the same number of times "
                     "(ten parts, three people, three times: common practice). The "
                     "spread is divided into repeating, people, people on certain parts, and the "
                     "parts themselves (balanced crossed analysis of variance, both "
                     "random; a component that comes out negative is set to 0, which is said), "
                     "with generalised confidence intervals.\n"
                     "\n"
                     "Exit 1 when measuring makes up more than --most; 4 when the layout is not "
                     "balanced or nothing varies.",
            .example =
                "  $ printf "
                "'gap,who,in\\n1,A,1/2\\n1,A,17/32\\n1,B,15/32\\n1,B,1/2\\n2,A,3/4\\n2,A,23/"
                "32\\n2,B,11/16\\n2,B,3/4\\n' |\\\n"
                "      mendwright study gauge - --part gap --operator who --value in --unit in\n"
                "  [=] Measuring makes up 20.3 % of the spread ...\n"
                "  ...\n",
            .options = options,
        },
    .file = STUDY_NEEDS_FILE,
    .rows = ROWS_GAUGE,
    .run = run,
};
