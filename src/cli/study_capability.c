/* study capability: do final readings hold their limits with room to spare? */
#include "desk/study_capability.h"
#include "cli/study.h"
#include "cli/study_plot.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>

enum { GROUPS_SHOWN = 60 };

struct call {
    struct study_capability_columns columns;
    struct study_capability_order order;
};

/* ---- JSON ---------------------------------------------------------------------------------- */

static void put_limit(struct jsonw *w, const char *stem, int64_t nano, enum unit unit)
{
    char key[16];
    const bool is_length = quantity_unit_dim(unit) == DIM_LENGTH;
    if (nano != INT64_MIN && nano != INT64_MAX) {
        jsonw_nano(w, stem, nano, unit);
        return;
    }
    (void)snprintf(key, sizeof key, "%s%s", stem, is_length ? "_nm" : "");
    jsonw_null(w, key);
}

static const char *name_of(const struct study_table *t, size_t column, uint32_t text)
{
    return text == STUDY_NO_TEXT ? NULL : study_text(t, column, text);
}

static void put_group(struct jsonw *w, const struct study_table *t,
                      const struct study_capability_order *o,
                      const struct study_capability_group *g)
{
    const double none = (double)NAN;
    jsonw_object(w, NULL);
    jsonw_string(w, "point", name_of(t, CAPABILITY_POINT, g->point));
    jsonw_string(w, "by", name_of(t, CAPABILITY_BY, g->by));
    jsonw_int(w, "n", (int64_t)g->n);
    put_limit(w, "low", g->low_nano, o->unit);
    put_limit(w, "high", g->high_nano, o->unit);
    study_put(w, "mean", g->mean);
    study_put(w, "sd", g->sd);
    jsonw_int(w, "outside", (int64_t)g->n_outside);
    study_put_interval(w, "outside_share_interval", g->outside_i);
    study_put(w, "pp", g->has_index && g->has_pp ? g->pp : none);
    study_put_interval(w, "pp_interval", g->pp_i);
    study_put(w, "ppk", g->has_index ? g->ppk : none);
    study_put_interval(w, "ppk_interval", g->ppk_i);
    study_put(w, "measured_share", g->has_index && o->u_nano > 0 ? g->measured_share : none);
    study_put(w, "process_sd", g->has_process ? g->process_sd : none);
    study_put(w, "process_ppk", g->has_process ? g->process_ppk : none);
    jsonw_bool(w, "short", g->is_short);
    jsonw_object_end(w);
}

static void put_json(struct cli *ctx, const struct study_table *t,
                     const struct study_capability_order *o, const struct study_capability *c)
{
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_string(&w, "unit", quantity_unit_name(o->unit));
    jsonw_int(&w, "n", (int64_t)c->n);
    jsonw_int(&w, "outside", (int64_t)c->n_outside);
    jsonw_array(&w, "groups");
    for (size_t i = 0; i < c->n_groups; i++)
        put_group(&w, t, o, &c->groups[i]);
    jsonw_array_end(&w);
    study_put_notes(ctx, &w, &c->notes);
    jsonw_object_end(&w);
}

/* ---- text ---------------------------------------------------------------------------------- */

static void group_row(struct cli_table *out, const struct study_table *t,
                      const struct study_capability_order *o,
                      const struct study_capability_group *g)
{
    char a[CLI_AMOUNT_SIZE], b[CLI_AMOUNT_SIZE];
    const char *point = name_of(t, CAPABILITY_POINT, g->point),
               *by = name_of(t, CAPABILITY_BY, g->by);
    cli_table_cell(out, g->is_short ? CLI_STOP : CLI_PLAIN, "%s%s%s",
                   point != NULL ? point
                   : by == NULL  ? "all"
                                 : "",
                   point != NULL && by != NULL ? ", " : "", by != NULL ? by : "");
    cli_table_cell(out, CLI_PLAIN, "%zu", g->n);
    cli_table_cell(out, CLI_PLAIN, "%s", study_figure(g->mean, 5, a));
    cli_table_cell(out, CLI_PLAIN, "%s", study_figure(g->sd, 3, a));
    cli_table_cell(out, CLI_PLAIN, "%zu", g->n_outside);
    cli_table_cell(out, CLI_STRONG, "%s", g->has_index ? study_figure(g->ppk, 3, a) : "-");
    if (g->has_index)
        cli_table_cell(out, CLI_PLAIN, "%s to %s", study_figure(g->ppk_i.low, 3, a),
                       study_figure(g->ppk_i.high, 3, b));
    else
        cli_table_cell(out, CLI_PLAIN, "-");
    cli_table_cell(out, CLI_PLAIN, "%s", g->has_process ? study_figure(g->process_ppk, 3, a) : "-");
    cli_table_cell(out, CLI_PLAIN, "%s%s",
                   g->has_index && o->u_nano > 0 ? study_figure(100 * g->measured_share, 2, a)
                                                 : "-",
                   g->has_index && o->u_nano > 0 ? " %" : "");
}

static void say_sentence(struct cli *ctx, const struct study_capability_order *o,
                         const struct study_capability *c)
{
    char a[CLI_AMOUNT_SIZE];
    if (c->n_short > 0)
        cli_verdict(ctx, CLI_STOP,
                    "%zu of %zu group%s fall%s short of Ppk %s; %zu of %zu readings lie outside.",
                    c->n_short, c->n_groups, c->n_groups == 1 ? "" : "s",
                    c->n_short == 1 ? "s" : "", study_figure(o->least_ppk, 3, a), c->n_outside,
                    c->n);
    else if (o->least_ppk > 0)
        cli_verdict(
            ctx, CLI_STRONG,
            "Every group that can be judged reaches Ppk %s; %zu of %zu readings lie outside.",
            study_figure(o->least_ppk, 3, a), c->n_outside, c->n);
    else
        cli_verdict(ctx, c->n_outside > 0 ? CLI_ACT : CLI_STRONG,
                    "%zu of %zu readings lie outside their limits.", c->n_outside, c->n);
}

static void say_text(struct cli *ctx, const struct study_table *t,
                     const struct study_capability_order *o, const struct study_capability *c)
{
    char interval[CLI_AMOUNT_SIZE];
    say_sentence(ctx, o, c);
    struct cli_table *out = cli_table_new("lrrrrrlrr");
    (void)snprintf(interval, sizeof interval, "%g %% interval", 100 * o->confidence);
    cli_table_head(out, (const char *const[]){"group", "n", "mean", "sd", "outside", "Ppk",
                                              interval, "work alone", "measuring"});
    for (size_t i = 0; i < c->n_groups && i < GROUPS_SHOWN; i++)
        group_row(out, t, o, &c->groups[i]);
    cli_table_print(out, ctx, 4);
    cli_table_free(out);
    if (c->n_groups > GROUPS_SHOWN)
        cli_say(ctx, 4, "... and %zu more groups; --json gives all.", c->n_groups - GROUPS_SHOWN);
    cli_say(ctx, 4,
            "Mean and sd in %s. Ppk 1 means that the nearer limit is three sd away, 1.33 four "
            "(common practice asks for that much).",
            quantity_unit_name(o->unit));
    study_say_notes(ctx, &c->notes);
}

/* ---- the call ------------------------------------------------------------------------------ */

static int read_limits(const struct study_call *c, struct call *k)
{
    const char *low = study_option(c, "--low"), *high = study_option(c, "--high"),
               *u = study_option(c, "--u");
    int code = CLI_GOOD;
    if (low == NULL && high == NULL && k->columns.low == NULL && k->columns.high == NULL)
        return cli_error(
            c->ctx,
            "found no limit; expected --low, --high or both, or --low-column, --high-column");
    if (low != NULL)
        code = cli_read_amount(c->ctx, "--low", low, k->order.unit, &k->order.low_nano);
    if (code == CLI_GOOD && high != NULL)
        code = cli_read_amount(c->ctx, "--high", high, k->order.unit, &k->order.high_nano);
    if (code == CLI_GOOD && u != NULL)
        code = cli_read_u(c->ctx, "--u", u, k->order.unit, &k->order.u_nano);
    if (code == CLI_GOOD && k->order.low_nano >= k->order.high_nano)
        return cli_error(c->ctx, "--low is not below --high");
    return code;
}

static int read_call(const struct study_call *c, struct call *k)
{
    int code = study_need(c, "--value", "the name of the column with the final readings",
                          &k->columns.value);
    k->columns.point = study_option(c, "--point");
    k->columns.by = study_option(c, "--by");
    k->columns.low = study_option(c, "--low-column");
    k->columns.high = study_option(c, "--high-column");
    if (code == CLI_GOOD)
        code = study_option_unit(c, "--unit", &k->order.unit);
    if (code == CLI_GOOD)
        code = read_limits(c, k);
    if (code == CLI_GOOD)
        code = study_option_number(c, "--least", 0.01, 100, &k->order.least_ppk);
    return code == CLI_GOOD
               ? study_option_percent(c, "--confidence", 50, 99.99, &k->order.confidence)
               : code;
}

static int draw(struct study_call *c, const struct study_table *t,
                const struct study_capability_order *o, const struct study_capability *r, int code)
{
    if (c->plot.path == NULL)
        return code;
    struct study_chart chart;
    struct fault f = {0};
    const struct study_chart_about about = study_plot_about(c, NULL);
    const enum err made = study_chart_capability(t, o, r, &about, &chart, &f);
    return study_plot_save(c, made, &chart, &f, code);
}

static int run(struct study_call *c)
{
    struct call k = {
        .order = {
            .unit = UNIT_MM, .low_nano = INT64_MIN, .high_nano = INT64_MAX, .confidence = 0.95}};
    struct study_want wants[CAPABILITY_COLUMNS];
    struct study_table *t = NULL;
    struct study_capability r = {0};
    struct fault f = {0};
    int code = read_call(c, &k);
    if (code != CLI_GOOD)
        return code;
    study_capability_wants(&k.columns, k.order.unit, wants);
    code = study_read(c, wants, CAPABILITY_COLUMNS, &t);
    if (code != CLI_GOOD)
        return code;
    if (study_capability(t, &k.order, &r, &f) != ERR_OK)
        code = study_cannot(c, &f);
    else {
        code = r.n_short > 0 ? CLI_NO : CLI_GOOD;
        if (c->ctx->is_json)
            put_json(c->ctx, t, &k.order, &r);
        if (study_is_said(c->ctx))
            say_text(c->ctx, t, &k.order, &r);
        code = draw(c, t, &k.order, &r, code);
    }
    study_capability_done(&r);
    study_table_free(t);
    return code;
}

static const struct cli_option options[] = {
    STUDY_STORE_OPTIONS,
    {"--value", "COLUMN", "the final reading", false},
    {"--low", "AMOUNT", "lowest allowed, for all rows", false},
    {"--high", "AMOUNT", "highest allowed, for all rows", false},
    {"--low-column", "COLUMN", "lowest allowed, row by row; empty: none", false},
    {"--high-column", "COLUMN", "highest allowed, row by row; empty: none", false},
    {"--unit", "UNIT", "what bare numbers are in, and results; mm", false},
    {"--point", "COLUMN", "the point: judged each by itself", false},
    {"--by", "COLUMN", "the shop: likewise", false},
    {"--u", "AMOUNT", "a reading's standard uncertainty, to take the measuring out of the spread",
     false},
    {"--least", "PPK", "the Ppk that each group must reach (1.33: common practice)", false},
    {"--confidence", "PERCENT", "of the intervals; 95", false},
    STUDY_PLOT_OPTIONS,
    {NULL, NULL, NULL, false},
};

const struct study_kind study_capability_kind = {
    .page =
        {
            .name = "study capability",
            .line = "do final readings hold their limits with room to spare?",
            .call = "study capability FILE.csv --value COLUMN --low AMOUNT --high AMOUNT [--point "
                    "COLUMN] [--by COLUMN] [--u AMOUNT]",
            .about =
                "Per point, shop, or both: mean, spread, readings outside, and Ppk with its "
                "interval: how many times three standard deviations fit "
                "between the mean and the nearer limit. With --u the measuring's share of the "
                "spread is taken out, so that a coarse tape does not make good work look bad.\n"
                "\n"
                "Exit 1 when --least is given and a group's Ppk is below it; 4 when no group has "
                "five readings that vary.",
            .example =
                "  $ printf 'gap\\n58.1\\n57.6\\n58.9\\n58.4\\n57.8\\n58.3\\n59.0\\n58.2\\n' |\\\n"
                "      mendwright study capability - --value gap --low 56 --high 61 --u 0.3\n"
                "  [=] 0 of 8 readings lie outside their limits.\n"
                "  ...\n",
            .options = options,
        },
    .file = STUDY_NEEDS_FILE,
    .rows = ROWS_CAPABILITY,
    .run = run,
};
