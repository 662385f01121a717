/* study stock: which lengths to stock, and how many kits to order. */
#include "desk/study_stock.h"
#include "cli/study.h"
#include "cli/study_plot.h"
#include "core/quantity.h"
#include "desk/study_kits.h"

#include <inttypes.h>

/* ---- lengths ------------------------------------------------------------------------------- */

static void put_lengths(struct cli *ctx, const struct study_stock *s)
{
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_array(&w, "lengths_nm");
    for (size_t i = 0; i < s->n; i++)
        jsonw_int(&w, NULL, s->lengths[i].length_nm);
    jsonw_array_end(&w);
    jsonw_int(&w, "waste_nm", s->waste_nm);
    jsonw_array(&w, "covers");
    for (size_t i = 0; i < s->n; i++)
        jsonw_int(&w, NULL, s->lengths[i].n_pieces);
    jsonw_array_end(&w);
    jsonw_array(&w, "waste_each_nm");
    for (size_t i = 0; i < s->n; i++)
        jsonw_int(&w, NULL, s->lengths[i].waste_nm);
    jsonw_array_end(&w);
    jsonw_int(&w, "pieces", s->n_pieces);
    jsonw_int(&w, "needs", (int64_t)s->n_needs);
    jsonw_int(&w, "used_nm", s->used_nm);
    if (s->waste_less_nm >= 0)
        jsonw_int(&w, "waste_one_less_nm", s->waste_less_nm);
    else
        jsonw_null(&w, "waste_one_less_nm");
    if (s->waste_more_nm >= 0)
        jsonw_int(&w, "waste_one_more_nm", s->waste_more_nm);
    else
        jsonw_null(&w, "waste_one_more_nm");
    study_put_notes(ctx, &w, &s->notes);
    jsonw_object_end(&w);
}

static void say_lengths(struct cli *ctx, const struct study_stock *s, enum unit unit)
{
    char a[CLI_AMOUNT_SIZE], b[CLI_AMOUNT_SIZE];
    cli_verdict(ctx, CLI_STRONG, "Stock %zu length%s: %s is cut away, %s %% of what is needed.",
                s->n, s->n == 1 ? "" : "s", cli_amount(s->waste_nm, unit, a),
                study_figure(100 * (double)s->waste_nm / (double)s->used_nm, 3, b));
    struct cli_table *t = cli_table_new("rrrr");
    cli_table_head(t, (const char *const[]){"stock", "pieces", "of lengths", "cut away"});
    for (size_t i = 0; i < s->n; i++) {
        cli_table_cell(t, CLI_STRONG, "%s", cli_amount(s->lengths[i].length_nm, unit, a));
        cli_table_cell(t, CLI_PLAIN, "%" PRId64, s->lengths[i].n_pieces);
        cli_table_cell(t, CLI_PLAIN, "%" PRId64, s->lengths[i].n_lengths);
        cli_table_cell(t, CLI_PLAIN, "%s", cli_amount(s->lengths[i].waste_nm, unit, a));
    }
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
    if (s->waste_less_nm >= 0)
        cli_say(ctx, 4, "With one length less %s would be cut away.",
                cli_amount(s->waste_less_nm, unit, a));
    if (s->waste_more_nm >= 0)
        cli_say(ctx, 4, "With one length more %s would be cut away.",
                cli_amount(s->waste_more_nm, unit, a));
    study_say_notes(ctx, &s->notes);
}

static int draw_lengths(struct study_call *c, const struct study_table *t, enum unit o,
                        const struct study_stock *r, int code)
{
    if (c->plot.path == NULL)
        return code;
    struct study_chart chart;
    struct fault f = {0};
    const struct study_chart_about about = study_plot_about(c, NULL);
    const enum err made = study_chart_stock(t, o, r, &about, &chart, &f);
    return study_plot_save(c, made, &chart, &f, code);
}

static int run_lengths(struct study_call *c, const char *length)
{
    struct study_want wants[STOCK_COLUMNS];
    struct study_table *t = NULL;
    struct study_stock s = {0};
    struct fault f = {0};
    enum unit unit = UNIT_MM;
    int64_t k = 0;
    int code = study_option_whole(c, "--k", 1, STOCK_KINDS_MAX, &k);
    if (code == CLI_GOOD && k == 0)
        return cli_error(c->ctx, "found no --k; expected how many lengths to stock");
    if (code == CLI_GOOD)
        code = study_option_unit(c, "--unit", &unit);
    if (code == CLI_GOOD && quantity_unit_dim(unit) != DIM_LENGTH)
        return cli_error(c->ctx, "--unit: found %s; expected a unit of length",
                         quantity_unit_name(unit));
    if (code != CLI_GOOD)
        return code;
    study_stock_wants(length, study_option(c, "--count"), unit, wants);
    code = study_read(c, wants, STOCK_COLUMNS, &t);
    if (code != CLI_GOOD)
        return code;
    if (study_stock(t, (size_t)k, &c->watch, &s, &f) != ERR_OK)
        code = study_cannot(c, &f);
    else {
        if (c->ctx->is_json)
            put_lengths(c->ctx, &s);
        if (study_is_said(c->ctx))
            say_lengths(c->ctx, &s, unit);
        code = draw_lengths(c, t, unit, &s, code);
    }
    study_stock_done(&s);
    study_table_free(t);
    return code;
}

/* ---- kits ---------------------------------------------------------------------------------- */

static void put_kits(struct cli *ctx, const struct study_table *t, const struct study_kits_order *o,
                     const struct study_kits *s)
{
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_int(&w, "n", s->n);
    study_put(&w, "service", o->service);
    study_put(&w, "level_each", s->level);
    jsonw_int(&w, "total", s->total);
    jsonw_array(&w, "kits");
    for (size_t i = 0; i < s->n_sorts; i++) {
        const struct study_kits_sort *k = &s->sorts[i];
        jsonw_object(&w, NULL);
        jsonw_string(&w, "kit", study_text(t, KITS_KIT, k->kit));
        jsonw_int(&w, "n", k->n);
        study_put(&w, "share", k->share);
        study_put_interval(&w, "share_interval", k->share_i);
        study_put(&w, "expected", k->expected);
        jsonw_int(&w, "order", k->order);
        jsonw_object_end(&w);
    }
    jsonw_array_end(&w);
    study_put_notes(ctx, &w, &s->notes);
    jsonw_object_end(&w);
}

static void say_kits(struct cli *ctx, const struct study_table *t, const struct study_kits_order *o,
                     const struct study_kits *s)
{
    char a[CLI_AMOUNT_SIZE], b[CLI_AMOUNT_SIZE];
    cli_verdict(ctx, CLI_STRONG,
                "Order %" PRId64 " kits: each sort then lasts with a chance of %s %%.", s->total,
                study_figure(100 * s->level, 4, a));
    struct cli_table *out = cli_table_new("lrrlrr");
    cli_table_head(
        out, (const char *const[]){"kit", "so far", "share", "95 % interval", "expected", "order"});
    for (size_t i = 0; i < s->n_sorts; i++) {
        const struct study_kits_sort *k = &s->sorts[i];
        cli_table_cell(out, CLI_PLAIN, "%s", study_text(t, KITS_KIT, k->kit));
        cli_table_cell(out, CLI_PLAIN, "%" PRId64, k->n);
        cli_table_cell(out, CLI_PLAIN, "%s %%", study_figure(100 * k->share, 3, a));
        cli_table_cell(out, CLI_PLAIN, "%s to %s %%", study_figure(100 * k->share_i.low, 3, a),
                       study_figure(100 * k->share_i.high, 3, b));
        cli_table_cell(out, CLI_PLAIN, "%s", study_figure(k->expected, 3, a));
        cli_table_cell(out, CLI_STRONG, "%" PRId64, k->order);
    }
    cli_table_print(out, ctx, 4);
    cli_table_free(out);
    study_say_notes(ctx, &s->notes);
    (void)o;
}

static int read_kits(const struct study_call *c, struct study_kits_order *o)
{
    double under = 0, over = 0;
    const bool has_costs =
        study_option(c, "--short-cost") != NULL || study_option(c, "--left-cost") != NULL;
    int code = study_option_percent(c, "--service", 1, 99.999, &o->service);
    if (code == CLI_GOOD)
        code = study_option_number(c, "--short-cost", 1e-6, 1e12, &under);
    if (code == CLI_GOOD)
        code = study_option_number(c, "--left-cost", 1e-6, 1e12, &over);
    if (code == CLI_GOOD)
        code = study_option_whole(c, "--units", 1, 1000000, &o->units);
    if (code == CLI_GOOD)
        code = study_option_number(c, "--watched", 0.01, 1e5, &o->watched_days);
    if (code == CLI_GOOD)
        code = study_option_number(c, "--lead", 0.01, 1e5, &o->lead_days);
    if (code != CLI_GOOD)
        return code;
    if (has_costs && (under == 0 || over == 0))
        return cli_error(c->ctx, "found one of --short-cost and --left-cost; expected both");
    if (has_costs && study_option(c, "--service") != NULL)
        return cli_error(c->ctx, "found --service and costs; expected one of them");
    if (has_costs)
        o->service = under / (under + over);
    if ((o->units > 0) == (o->lead_days > 0))
        return cli_error(
            c->ctx,
            "expected --units (how many are still to come) or --lead with --watched, one of them");
    if ((o->lead_days > 0) != (o->watched_days > 0))
        return cli_error(c->ctx, "found %s alone; expected --lead and --watched, both in days",
                         o->lead_days > 0 ? "--lead" : "--watched");
    o->is_joint = study_flag(c, "--all-sorts");
    return CLI_GOOD;
}

static int draw_kits(struct study_call *c, const struct study_table *t,
                     const struct study_kits_order *o, const struct study_kits *r, int code)
{
    if (c->plot.path == NULL)
        return code;
    struct study_chart chart;
    struct fault f = {0};
    const struct study_chart_about about = study_plot_about(c, NULL);
    const enum err made = study_chart_kits(t, o, r, &about, &chart, &f);
    return study_plot_save(c, made, &chart, &f, code);
}

static int run_kits(struct study_call *c, const char *kit)
{
    struct study_kits_order o = {.service = 0.95};
    struct study_want wants[KITS_COLUMNS];
    struct study_table *t = NULL;
    struct study_kits s = {0};
    struct fault f = {0};
    int code = read_kits(c, &o);
    if (code != CLI_GOOD)
        return code;
    study_kits_wants(kit, study_option(c, "--count"), wants);
    code = study_read(c, wants, KITS_COLUMNS, &t);
    if (code != CLI_GOOD)
        return code;
    if (study_kits(t, &o, &c->watch, &s, &f) != ERR_OK)
        code = study_cannot(c, &f);
    else {
        if (c->ctx->is_json)
            put_kits(c->ctx, t, &o, &s);
        if (study_is_said(c->ctx))
            say_kits(c->ctx, t, &o, &s);
        code = draw_kits(c, t, &o, &s, code);
    }
    study_kits_done(&s);
    study_table_free(t);
    return code;
}

static int run(struct study_call *c)
{
    const char *length = study_option(c, "--length"), *kit = study_option(c, "--kit");
    if ((length == NULL) == (kit == NULL))
        return cli_error(c->ctx, "expected --length (which lengths to stock) or --kit (how many "
                                 "kits to order), one of them");
    return length != NULL ? run_lengths(c, length) : run_kits(c, kit);
}

static const struct cli_option options[] = {
    STUDY_STORE_OPTIONS,
    {"--length", "COLUMN", "lengths that are needed: which to stock?", false},
    {"--k", "K", "with --length: how many lengths to stock", false},
    {"--unit", "UNIT", "with --length: what bare numbers are in, and results; mm", false},
    {"--kit", "COLUMN", "kits that were asked for: how many to order?", false},
    {"--count", "COLUMN", "how many pieces or kits a row stands for; 1", false},
    {"--units", "N", "with --kit: units that are still to come", false},
    {"--lead", "DAYS", "with --kit: from order to delivery; with --watched", false},
    {"--watched", "DAYS", "with --kit: in which the file's kits were asked for", false},
    {"--service", "PERCENT", "with --kit: the chance that a sort lasts; 95", false},
    {"--short-cost", "COST",
     "with --kit, instead of --service: of a kit that is missing; with --left-cost", false},
    {"--left-cost", "COST", "with --kit: of a kit that is left over", false},
    {"--all-sorts", NULL,
     "with --kit: the chance that no sort runs short, instead of each by itself", false},
    STUDY_PLOT_OPTIONS,
    {NULL, NULL, NULL, false},
};

const struct study_kind study_stock_kind = {
    .page =
        {
            .name = "study stock",
            .line = "which lengths to stock, and how many kits of each sort to order?",
            .call = "study stock FILE.csv --length COLUMN --k K | study stock FILE.csv --kit "
                    "COLUMN --units N",
            .about =
                "With --length: of all choices of K among the needed lengths the one that wastes "
                "least when each piece is cut from the shortest stocked "
                "length that is long enough (exact, dynamic programming).\n"
                "\n"
                "With --kit: the mix of kits so far tells how many of each sort will be asked for, "
                "among --units still to come (Dirichlet-multinomial) or within "
                "--lead days at the rate of the --watched days (gamma-Poisson); orders are "
                "quantiles of that at the service level, or at short/(short + left) by costs.\n"
                "\n"
                "Exit 4 when nothing is needed.",
            .example =
                "  $ printf 'need,n\\n22,5\\n25,8\\n28,12\\n31,7\\n34,9\\n37,4\\n40,6\\n' |\\\n"
                "      mendwright study stock - --length need --count n --k 3 --unit in\n"
                "  [=] Stock 3 lengths: 87 in is cut away, 5.59 % of what is needed.\n"
                "  ...\n",
            .options = options,
        },
    .file = STUDY_NEEDS_FILE,
    .rows = ROWS_KITS,
    .run = run,
};
