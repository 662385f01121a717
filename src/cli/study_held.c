/* study held: did the fix hold? */
#include "desk/study_held.h"
#include "cli/study.h"
#include "cli/study_plot.h"

#include <inttypes.h>
#include <math.h>

static const char *const verdicts[] = {"holds", "worse", "uncertain"};

static void put_side(struct jsonw *w, const char *key, const struct study_held_side *s)
{
    jsonw_object(w, key);
    jsonw_int(w, "units", (int64_t)s->n);
    jsonw_int(w, "failed", s->n_failed);
    study_put(w, "time", s->time);
    study_put(w, "rate", s->rate);
    jsonw_array(w, "rate_interval");
    study_put(w, NULL, s->low);
    study_put(w, NULL, s->high);
    jsonw_array_end(w);
    jsonw_object_end(w);
}

static void put_json(struct cli *ctx, const struct study_held_order *o, const struct study_held *r)
{
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_string(&w, "verdict", verdicts[r->verdict]);
    study_put(&w, "ratio", r->rates.ratio);
    jsonw_array(&w, "ratio_interval");
    study_put(&w, NULL, r->rates.low);
    study_put(&w, NULL, r->rates.high);
    jsonw_array_end(&w);
    study_put(&w, "p_value", r->rates.p);
    study_put(&w, "confidence", o->confidence);
    study_put(&w, "at_most", o->at_most);
    put_side(&w, "repaired", &r->repaired);
    put_side(&w, "unrepaired", &r->others);
    study_put_notes(ctx, &w, &r->notes);
    jsonw_object_end(&w);
}

static void row(struct cli_table *t, const char *name, const struct study_held_side *s)
{
    char a[CLI_AMOUNT_SIZE], b[CLI_AMOUNT_SIZE];
    cli_table_cell(t, CLI_PLAIN, "%s", name);
    cli_table_cell(t, CLI_PLAIN, "%zu", s->n);
    cli_table_cell(t, CLI_PLAIN, "%" PRId64, s->n_failed);
    cli_table_cell(t, CLI_PLAIN, "%s", study_figure(s->time, 6, a));
    cli_table_cell(t, CLI_STRONG, "%s", study_figure(1000 * s->rate, 3, a));
    cli_table_cell(t, CLI_PLAIN, "%s to %s", study_figure(1000 * s->low, 2, a),
                   study_figure(1000 * s->high, 2, b));
}

static void say_all(struct cli *ctx, const struct study_held_order *o, const struct study_held *r)
{
    char a[CLI_AMOUNT_SIZE], b[CLI_AMOUNT_SIZE], c[CLI_AMOUNT_SIZE], p[CLI_AMOUNT_SIZE];
    static const enum cli_tone tones[] = {CLI_STRONG, CLI_STOP, CLI_QUIET};
    static const char *const words[] = {"The fix holds", "The fix does not hold",
                                        "It cannot be told yet whether the fix holds"};
    const bool has_high = isfinite(r->rates.high);
    cli_verdict(ctx, tones[r->verdict],
                "%s: repaired units fail at %s times the rate of the others (%s to %s, p %s).",
                words[r->verdict],
                isfinite(r->rates.ratio) ? study_figure(r->rates.ratio, 2, a) : "many",
                study_figure(r->rates.low, 2, b),
                has_high ? study_figure(r->rates.high, 2, c) : "any", study_p(r->rates.p, p));
    struct cli_table *t = cli_table_new("lrrrrl");
    cli_table_head(t, (const char *const[]){"", "units", "failed", "time watched",
                                            "per thousand of it", "interval"});
    row(t, "repaired", &r->repaired);
    row(t, "not repaired", &r->others);
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
    cli_say(ctx, 4, "Intervals of %g %%, exact.", 100 * o->confidence);
    study_say_notes(ctx, &r->notes);
}

static int draw(struct study_call *c, const struct study_table *t, const struct study_held_order *o,
                const struct study_held *r, int code)
{
    if (c->plot.path == NULL)
        return code;
    struct study_chart chart;
    struct fault f = {0};
    const struct study_chart_about about = study_plot_about(c, study_option(c, "--time"));
    const enum err made = study_chart_held(t, o, r, &about, &chart, &f);
    return study_plot_save(c, made, &chart, &f, code);
}

static int run(struct study_call *c)
{
    static const int codes[] = {CLI_GOOD, CLI_NO, CLI_PERSON};
    struct study_held_order o = {.at_most = 1};
    struct study_want wants[HELD_COLUMNS];
    struct study_table *t = NULL;
    struct study_held r;
    struct fault f = {0};
    const char *repaired = NULL, *failed = NULL, *time = NULL;
    double confidence = 95;
    int code = study_need(c, "--repaired", "the name of the column that says 1 repaired, 0 not",
                          &repaired);
    if (code == CLI_GOOD)
        code = study_need(c, "--failed", "the name of the column that counts failures", &failed);
    if (code == CLI_GOOD)
        code = study_need(c, "--time", "the name of the column with the time watched", &time);
    if (code == CLI_GOOD)
        code = study_option_number(c, "--confidence", 50, 99.99, &confidence);
    if (code == CLI_GOOD)
        code = study_option_number(c, "--at-most", 1e-6, 1e6, &o.at_most);
    if (code != CLI_GOOD)
        return code;
    o.confidence = confidence / 100;
    study_held_wants(repaired, failed, time, wants);
    code = study_read(c, wants, HELD_COLUMNS, &t);
    if (code != CLI_GOOD)
        return code;
    if (study_held(t, &o, &r, &f) != ERR_OK)
        code = study_cannot(c, &f);
    else {
        code = codes[r.verdict];
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
    {"--repaired", "COLUMN", "1: repaired; 0: not", false},
    {"--failed", "COLUMN", "failures in the time watched; of repaired units those after the repair",
     false},
    {"--time", "COLUMN", "time watched; of repaired units from the repair on", false},
    {"--at-most", "RATIO", "the fix holds when the ratio is surely below this; 1", false},
    {"--confidence", "PERCENT", "of every interval; 95", false},
    STUDY_TIME_UNIT_OPTION,
    STUDY_PLOT_OPTIONS,
    {NULL, NULL, NULL, false},
};

const struct study_kind study_held_kind = {
    .page =
        {
            .name = "study held",
            .line = "did the fix hold: do repaired units fail less than the others?",
            .call = "study held FILE.csv --repaired COLUMN --failed COLUMN --time COLUMN",
            .about =
                "The rate of failures of repaired units over that of units not repaired, with the "
                "exact interval of their ratio given the total. A row is a unit, or units added "
                "up. A unit may have two rows: before its repair and after.\n"
                "\n"
                "Exit 0 when the fix holds (the ratio is surely below --at-most), 1 when it makes "
                "things worse, 4 when that cannot be told yet. With --json, \"verdict\" is "
                "\"holds\", \"worse\" or \"uncertain\"; an end that is not bounded is null.",
            .example =
                "  $ printf 'fixed,failed,days\\n1,3,1200\\n0,17,900\\n' |\\\n"
                "      mendwright study held - --repaired fixed --failed failed --time days\n"
                "  [=] The fix holds: repaired units fail at 0.13 times the rate of ...\n"
                "  ...\n",
            .options = options,
        },
    .file = STUDY_NEEDS_FILE,
    .rows = ROWS_HELD,
    .run = run,
};
