/* study digits: who reads, and who makes readings up. */
#include "desk/study_digits.h"
#include "cli/study.h"
#include "cli/study_plot.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

enum { COPIES_SHOWN = 20, GROUPS_SHOWN = 60 };

/* ---- JSON ---------------------------------------------------------------------------------- */

static void put_group(struct jsonw *w, const struct study_table *t,
                      const struct study_digits_order *o, const struct study_digits_group *g,
                      size_t df)
{
    jsonw_object(w, NULL);
    jsonw_string(w, "by", study_text(t, DIGITS_BY, g->by));
    jsonw_int(w, "n", (int64_t)g->n);
    if (g->is_tested) {
        study_put(w, "chi2", g->chi2);
        jsonw_int(w, "df", (int64_t)df);
        study_put(w, "p", g->p);
        jsonw_string(w, "p_by", g->is_simulated ? "simulation" : "chi-square");
        study_put(w, "q", g->q);
    } else {
        jsonw_null(w, "chi2");
        jsonw_int(w, "df", (int64_t)df);
        jsonw_null(w, "p");
        jsonw_null(w, "q");
    }
    jsonw_bool(w, "flag", g->is_flagged);
    jsonw_bool(w, "spread_ok", g->is_spread);
    jsonw_nano(w, "favourite", (int64_t)g->favourite * o->step_nano, o->unit);
    study_put(w, "favourite_share", g->favourite_share);
    jsonw_object_end(w);
}

static void put_copies(struct jsonw *w, const struct study_table *t, const struct study_digits *d)
{
    jsonw_int(w, "sets", (int64_t)d->n_sets);
    study_put(w, "expected_copies", d->expected_copies);
    jsonw_array(w, "copies");
    for (size_t i = 0; i < d->n_copies; i++) {
        const struct study_digits_copy *c = &d->copies[i];
        jsonw_object(w, NULL);
        jsonw_string(w, "by", study_text(t, DIGITS_BY, c->by));
        jsonw_string(w, "first", study_text(t, DIGITS_SET, c->first));
        jsonw_string(w, "second", study_text(t, DIGITS_SET, c->second));
        jsonw_int(w, "n", (int64_t)c->n);
        study_put(w, "chance", c->chance);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
}

static void put_json(struct cli *ctx, const struct study_table *t,
                     const struct study_digits_order *o, const struct study_digits *d)
{
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_int(&w, "steps", (int64_t)d->n_steps);
    jsonw_array(&w, "groups");
    for (size_t i = 0; i < d->n_groups; i++)
        put_group(&w, t, o, &d->groups[i], d->df);
    jsonw_array_end(&w);
    if (study_texts(t, DIGITS_SET) != NULL)
        put_copies(&w, t, d);
    jsonw_bool(&w, "partial", d->is_cut_short);
    study_put_notes(ctx, &w, &d->notes);
    jsonw_object_end(&w);
}

/* ---- text ---------------------------------------------------------------------------------- */

/* Flagged ones first, then by p. */
static int compare(const void *a, const void *b)
{
    const struct study_digits_group *x = *(const struct study_digits_group *const *)a;
    const struct study_digits_group *y = *(const struct study_digits_group *const *)b;
    if (x->is_tested != y->is_tested)
        return x->is_tested ? -1 : 1;
    if (x->q != y->q)
        return (x->q > y->q) - (x->q < y->q);
    return x->p != y->p ? (x->p > y->p) - (x->p < y->p) : (x->by > y->by) - (x->by < y->by);
}

static void group_row(struct cli_table *out, const struct study_table *t,
                      const struct study_digits_order *o, const struct study_digits_group *g)
{
    char a[CLI_AMOUNT_SIZE];
    cli_table_cell(out, g->is_flagged ? CLI_STOP : CLI_PLAIN, "%s",
                   study_text(t, DIGITS_BY, g->by));
    cli_table_cell(out, CLI_PLAIN, "%zu", g->n);
    cli_table_cell(out, CLI_PLAIN, "%s", g->is_tested ? study_figure(g->chi2, 4, a) : "-");
    cli_table_cell(out, CLI_PLAIN, "%s", g->is_tested ? study_p(g->p, a) : "-");
    cli_table_cell(out, CLI_PLAIN, "%s", g->is_tested ? study_p(g->q, a) : "-");
    cli_table_cell(out, CLI_PLAIN, "%s", cli_percent(g->favourite_share, a));
    cli_table_cell(out, CLI_PLAIN, "on %s",
                   cli_amount((int64_t)g->favourite * o->step_nano, o->unit, a));
    cli_table_cell(out, CLI_PLAIN, "%s",
                   !g->is_tested ? "too few"
                   : !g->is_spread
                       ? (g->is_flagged ? "flagged, but spread too narrow" : "spread too narrow")
                   : g->is_flagged ? "flagged"
                                   : "");
}

static void say_groups(struct cli *ctx, const struct study_table *t,
                       const struct study_digits_order *o, const struct study_digits *d)
{
    const struct study_digits_group **order =
        malloc((d->n_groups + 1) * sizeof(const struct study_digits_group *));
    if (order == NULL) {
        ctx->out.is_broken = true;
        return;
    }
    for (size_t i = 0; i < d->n_groups; i++)
        order[i] = &d->groups[i];
    qsort(order, d->n_groups, sizeof(const struct study_digits_group *), compare);
    struct cli_table *out = cli_table_new("lrrrrrll");
    cli_table_head(
        out, (const char *const[]){"group", "readings", "chi2", "p", "q", "most often", "", ""});
    for (size_t i = 0; i < d->n_groups && i < GROUPS_SHOWN; i++)
        group_row(out, t, o, order[i]);
    cli_table_print(out, ctx, 4);
    cli_table_free(out);
    if (d->n_groups > GROUPS_SHOWN)
        cli_say(ctx, 4, "... and %zu more groups; --json gives all.", d->n_groups - GROUPS_SHOWN);
    free(order);
}

static void say_copies(struct cli *ctx, const struct study_table *t, const struct study_digits *d)
{
    char a[CLI_AMOUNT_SIZE];
    text_putc(&ctx->out, '\n');
    if (d->n_copies == 0) {
        cli_say(ctx, 4, "No two of the %zu jobs compared have the same readings.", d->n_sets);
        return;
    }
    cli_say(ctx, 4,
            "%zu of %zu jobs repeat%s the readings of an earlier one of the same group; by chance "
            "%s would be expected.",
            d->n_copies, d->n_sets, d->n_copies == 1 ? "s" : "",
            study_figure(d->expected_copies, 2, a));
    struct cli_table *out = cli_table_new("llrr");
    cli_table_head(out, (const char *const[]){"group", "jobs", "readings", "chance of one pair"});
    for (size_t i = 0; i < d->n_copies && i < COPIES_SHOWN; i++) {
        const struct study_digits_copy *c = &d->copies[i];
        cli_table_cell(out, CLI_PLAIN, "%s", study_text(t, DIGITS_BY, c->by));
        cli_table_cell(out, CLI_PLAIN, "%s = %s", study_text(t, DIGITS_SET, c->first),
                       study_text(t, DIGITS_SET, c->second));
        cli_table_cell(out, CLI_PLAIN, "%zu", c->n);
        cli_table_cell(out, CLI_PLAIN, "%.2g", c->chance);
    }
    cli_table_print(out, ctx, 4);
    cli_table_free(out);
    if (d->n_copies > COPIES_SHOWN)
        cli_say(ctx, 4, "... and %zu more; --json gives all.", d->n_copies - COPIES_SHOWN);
    cli_say(ctx, 4,
            "The chance takes the places of a job for independent; readings that hang together "
            "agree more often.");
}

static void say_text(struct cli *ctx, const struct study_table *t,
                     const struct study_digits_order *o, const struct study_digits *d)
{
    size_t n_tested = 0;
    for (size_t i = 0; i < d->n_groups; i++)
        n_tested += d->groups[i].is_tested;
    if (d->n_flagged == 0)
        cli_verdict(ctx, CLI_STRONG,
                    "None of %zu group%s favours certain steps more than chance explains.",
                    n_tested, n_tested == 1 ? "" : "s");
    else
        cli_verdict(ctx, CLI_ACT,
                    "Look at %zu of %zu group%s: their readings favour certain steps.",
                    d->n_flagged, n_tested, n_tested == 1 ? "" : "s");
    say_groups(ctx, t, o, d);
    if (study_texts(t, DIGITS_SET) != NULL)
        say_copies(ctx, t, d);
    study_say_notes(ctx, &d->notes);
}

/* ---- the call ------------------------------------------------------------------------------ */

static int read_call(const struct study_call *c, const char **value, const char **by,
                     struct study_digits_order *o)
{
    const char *step = NULL;
    int code = study_need(c, "--value", "the name of the column with the readings", value);
    if (code == CLI_GOOD)
        code = study_need(c, "--by", "the name of the column with the shop or technician", by);
    if (code == CLI_GOOD)
        code = study_need(c, "--step", "the readings' resolution, such as 1/16", &step);
    if (code == CLI_GOOD)
        code = study_option_unit(c, "--unit", &o->unit);
    if (code == CLI_GOOD)
        code = cli_read_amount(c->ctx, "--step", step, o->unit, &o->step_nano);
    return code == CLI_GOOD ? study_option_percent(c, "--discovery", 0.01, 50, &o->discovery)
                            : code;
}

static int draw(struct study_call *c, const struct study_table *t,
                const struct study_digits_order *o, const struct study_digits *r, int code)
{
    if (c->plot.path == NULL)
        return code;
    struct study_chart chart;
    struct fault f = {0};
    const struct study_chart_about about = study_plot_about(c, NULL);
    const enum err made = study_chart_digits(t, o, r, &about, &chart, &f);
    return study_plot_save(c, made, &chart, &f, code);
}

static int run(struct study_call *c)
{
    struct study_digits_order o = {.unit = UNIT_MM, .discovery = 0.05};
    struct study_want wants[DIGITS_COLUMNS];
    struct study_table *t = NULL;
    struct study_digits d = {0};
    struct fault f = {0};
    const char *value = NULL, *by = NULL;
    int code = read_call(c, &value, &by, &o);
    if (code != CLI_GOOD)
        return code;
    study_digits_wants(value, by, study_option(c, "--set"), o.unit, wants);
    code = study_read(c, wants, DIGITS_COLUMNS, &t);
    if (code != CLI_GOOD)
        return code;
    const enum err e = study_digits(t, &o, &c->watch, &d, &f);
    progress_wipe(&c->progress);
    if (e != ERR_OK)
        code = strcmp(f.path, "--step") == 0 ? cli_fault(c->ctx, &f) : study_cannot(c, &f);
    else {
        code = d.n_flagged + d.n_copies == 0 ? CLI_GOOD : CLI_NO;
        if (c->ctx->is_json)
            put_json(c->ctx, t, &o, &d);
        if (study_is_said(c->ctx))
            say_text(c->ctx, t, &o, &d);
        code = draw(c, t, &o, &d, code);
    }
    study_digits_done(&d);
    study_table_free(t);
    return code;
}

static const struct cli_option options[] = {
    STUDY_STORE_OPTIONS,
    {"--value", "COLUMN", "the reading", false},
    {"--by", "COLUMN", "who is compared: the shop or the technician", false},
    {"--step", "AMOUNT",
     "the readings' resolution, such as 1/16 or 0.1; it must divide one whole unit", false},
    {"--unit", "UNIT", "the whole unit, and what bare numbers are in; mm", false},
    {"--set", "COLUMN", "the job: also finds jobs of one group with the same readings", false},
    {"--discovery", "PERCENT", "of the flags that may be by chance; 5", false},
    STUDY_PLOT_OPTIONS,
    {NULL, NULL, NULL, false},
};

const struct study_kind study_digits_kind = {
    .page =
        {
            .name = "study digits",
            .line = "who reads the tape, and who makes readings up or copies them?",
            .call = "study digits FILE.csv --value COLUMN --by COLUMN --step AMOUNT [--unit UNIT] "
                    "[--set COLUMN]",
            .about = "Honest readings that spread over more than a unit end on each step (each "
                     "sixteenth, each tenth) about equally often. Per group a chi-square test of "
                     "equal counts (by simulation where the group is small), with Benjamini and "
                     "Hochberg's q over all groups; a group is flagged when q is at most "
                     "--discovery. With --set, jobs of one group whose readings are all alike are "
                     "listed, beside how many would be by chance.\n"
                     "\n"
                     "A flag is a reason to look, never proof. Exit 1 when a group is flagged or a "
                     "set repeated; 4 when no group has five readings.",
            .example = "  $ for i in 1 2 3 4 5 6 7 8 9 10; do echo $i.0,North; echo "
                       "$((2*i)).$((i%10)),South; done |\\\n"
                       "      (echo mm,shop; cat) | mendwright study digits - --value mm --by shop "
                       "--step 0.1\n"
                       "  [>] Look at 1 of 2 groups: their readings favour certain steps.\n"
                       "  ...\n",
            .options = options,
        },
    .file = STUDY_NEEDS_FILE,
    .rows = ROWS_DIGITS,
    .run = run,
};
