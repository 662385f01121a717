/* study audit: how many finished units to look at again. */
#include "desk/study_audit.h"
#include "cli/study.h"
#include "cli/study_plot.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

/* ---- JSON ---------------------------------------------------------------------------------- */

static void put_plan(struct jsonw *w, const struct study_audit_order *o,
                     const struct study_audit *r)
{
    jsonw_object(w, "plan");
    if (o->lot > 0)
        jsonw_int(w, "lot", o->lot);
    else
        jsonw_null(w, "lot");
    jsonw_int(w, "sample", r->plan.n);
    jsonw_int(w, "accept", r->plan.c);
    jsonw_string(w, "distribution", o->lot > 0 ? "hypergeometric" : "binomial");
    if (r->has_risks) {
        study_put(w, "aql", o->fine_share);
        study_put(w, "producer_risk", r->producer_risk);
        study_put(w, "lq", o->poor_share);
        study_put(w, "consumer_risk", r->consumer_risk);
    }
    jsonw_object_end(w);
}

static void put_found(struct jsonw *w, const struct study_audit_order *o,
                      const struct study_audit *r)
{
    jsonw_object(w, "found");
    jsonw_int(w, "bad", o->found);
    jsonw_bool(w, "accepted", r->is_accepted);
    if (o->lot > 0) {
        jsonw_int(w, "lot_bad_low", r->may_low);
        jsonw_int(w, "lot_bad_high", r->may_high);
    }
    study_put(w, "share_low", r->may_low_share);
    study_put(w, "share_high", r->may_high_share);
    study_put(w, "confidence", o->confidence);
    jsonw_object_end(w);
}

static void put_json(struct cli *ctx, const struct study_audit_order *o,
                     const struct study_audit *r)
{
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    put_plan(&w, o, r);
    jsonw_array(&w, "curve");
    for (size_t i = 0; i < r->n_points; i++) {
        jsonw_object(&w, NULL);
        if (o->lot > 0)
            jsonw_int(&w, "bad", r->points[i].bad);
        study_put(&w, "share", r->points[i].share);
        study_put(&w, "p_accept", r->points[i].accept);
        study_put(&w, "outgoing", r->points[i].outgoing);
        jsonw_object_end(&w);
    }
    jsonw_array_end(&w);
    if (o->found >= 0)
        put_found(&w, o, r);
    study_put_notes(ctx, &w, &r->notes);
    jsonw_object_end(&w);
}

/* ---- text ---------------------------------------------------------------------------------- */

static void say_sentence(struct cli *ctx, const struct study_audit_order *o,
                         const struct study_audit *r)
{
    char a[CLI_AMOUNT_SIZE], b[CLI_AMOUNT_SIZE];
    if (o->found >= 0) {
        cli_verdict(ctx, r->is_accepted ? CLI_STRONG : CLI_STOP,
                    "%s: %" PRId64 " bad in %" PRId64 ", and %s.",
                    r->is_accepted ? "Accept" : "Refuse", o->found, r->plan.n,
                    r->plan.c == 0   ? "none is allowed"
                    : r->is_accepted ? "no more than allowed"
                                     : "more than allowed");
        if (o->lot > 0)
            cli_say(ctx, 4,
                    "The lot of %" PRId64 " may hold %" PRId64 " to %" PRId64
                    " bad ones (%g %% interval).",
                    o->lot, r->may_low, r->may_high, 100 * o->confidence);
        else
            cli_say(ctx, 4, "Of the lot %s to %s %% may be bad (%g %% interval).",
                    study_figure(100 * r->may_low_share, 3, a),
                    study_figure(100 * r->may_high_share, 3, b), 100 * o->confidence);
        return;
    }
    cli_verdict(ctx, CLI_STRONG,
                "Look at %" PRId64 " units drawn at random; accept with at most %" PRId64 " bad.",
                r->plan.n, r->plan.c);
    if (r->has_risks)
        cli_say(ctx, 4,
                "With %g %% bad it is refused with a chance of %s %%, with %g %% bad accepted with "
                "%s %%.",
                100 * o->fine_share, study_figure(100 * r->producer_risk, 3, a),
                100 * o->poor_share, study_figure(100 * r->consumer_risk, 3, b));
}

static void say_curve(struct cli *ctx, const struct study_audit_order *o,
                      const struct study_audit *r)
{
    struct cli_table *t = cli_table_new("rrrr");
    char a[CLI_AMOUNT_SIZE];
    cli_table_head(t, (const char *const[]){o->lot > 0 ? "bad in the lot" : "", "share",
                                            "accepted with", "bad share let through"});
    for (size_t i = 0; i < r->n_points; i++) {
        const struct study_audit_point *p = &r->points[i];
        if (o->lot > 0)
            cli_table_cell(t, CLI_PLAIN, "%" PRId64, p->bad);
        else
            cli_table_cell(t, CLI_PLAIN, "%s", "");
        cli_table_cell(t, CLI_PLAIN, "%s %%", study_figure(100 * p->share, 3, a));
        cli_table_cell(t, CLI_STRONG, "%s", p->accept >= 1 ? "100 %" : cli_percent(p->accept, a));
        cli_table_cell(t, CLI_PLAIN, "%s %%", study_figure(100 * p->outgoing, 3, a));
    }
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
}

/* ---- the call ------------------------------------------------------------------------------ */

static int read_points(const struct study_call *c, struct study_audit_order *o)
{
    for (int i = 0; i < c->n_args; i++) {
        const struct cli_arg *a = &c->args[i];
        if (a->name == NULL || strcmp(a->name, "--bad") != 0)
            continue;
        double value = 0;
        const bool is_share = o->lot == 0;
        const int code =
            cli_read_number(c->ctx, "--bad", a->value, 0, is_share ? 100 : STAT_LOT_MAX, &value);
        if (code != CLI_GOOD)
            return code;
        if (!is_share && value != (double)(int64_t)value)
            return cli_error(c->ctx, "--bad: found %.80s; expected a whole number of units",
                             a->value);
        if (o->n_bad + o->n_shares == AUDIT_POINTS_MAX)
            return cli_error(c->ctx, "--bad is given more than %d times", (int)AUDIT_POINTS_MAX);
        if (is_share)
            o->shares[o->n_shares++] = value / 100;
        else
            o->bad[o->n_bad++] = (int64_t)value;
    }
    return CLI_GOOD;
}

static int read_plan(const struct study_call *c, struct study_audit_order *o)
{
    const bool has_sample = study_option(c, "--sample") != NULL,
               has_accept = study_option(c, "--accept") != NULL;
    o->is_search = !has_sample && !has_accept;
    if (has_sample != has_accept)
        return cli_error(
            c->ctx,
            "found %s alone; expected --sample and --accept, or neither to seek the least plan",
            has_sample ? "--sample" : "--accept");
    int code = study_option_whole(c, "--sample", 1, AUDIT_SAMPLE_MAX, &o->plan.n);
    if (code == CLI_GOOD)
        code = study_option_whole(c, "--accept", 0, AUDIT_SAMPLE_MAX, &o->plan.c);
    if (code == CLI_GOOD)
        code = study_option_percent(c, "--aql", 0, 100, &o->fine_share);
    if (code == CLI_GOOD)
        code = study_option_percent(c, "--lq", 0, 100, &o->poor_share);
    if (code == CLI_GOOD)
        code = study_option_percent(c, "--producer", 0.0001, 99, &o->producer);
    return code == CLI_GOOD ? study_option_percent(c, "--consumer", 0.0001, 99, &o->consumer)
                            : code;
}

static int read_order(const struct study_call *c, struct study_audit_order *o)
{
    int code = study_option_whole(c, "--lot", 1, STAT_LOT_MAX, &o->lot);
    if (code == CLI_GOOD)
        code = read_plan(c, o);
    if (code == CLI_GOOD)
        code = read_points(c, o);
    if (code == CLI_GOOD)
        code = study_option_whole(c, "--found", 0, AUDIT_SAMPLE_MAX, &o->found);
    return code == CLI_GOOD ? study_option_percent(c, "--confidence", 50, 99.99, &o->confidence)
                            : code;
}

static int draw(struct study_call *c, const struct study_audit_order *o,
                const struct study_audit *r, int code)
{
    if (c->plot.path == NULL)
        return code;
    struct study_chart chart;
    struct fault f = {0};
    const struct study_chart_about about = study_plot_about(c, NULL);
    const enum err made = study_chart_audit(o, r, &about, &chart, &f);
    return study_plot_save(c, made, &chart, &f, code);
}

static int answer(struct study_call *c, const struct study_audit_order *o, struct study_audit *r)
{
    struct fault f = {0};
    if (study_audit(o, &c->watch, r, &f) != ERR_OK) {
        progress_wipe(&c->progress);
        if (f.code == ERR_IMPOSSIBLE || f.code == ERR_BUSY)
            return study_cannot(c, &f);
        return cli_fault(c->ctx, &f);
    }
    if (c->ctx->is_json)
        put_json(c->ctx, o, r);
    if (study_is_said(c->ctx)) {
        say_sentence(c->ctx, o, r);
        say_curve(c->ctx, o, r);
        study_say_notes(c->ctx, &r->notes);
    }
    return draw(c, o, r, o->found < 0 || r->is_accepted ? CLI_GOOD : CLI_NO);
}

static int run(struct study_call *c)
{
    struct study_audit_order *o = calloc(1, sizeof *o);
    struct study_audit *r = calloc(1, sizeof *r);
    int code = CLI_FAILED;
    if (o == NULL || r == NULL)
        (void)cli_error(c->ctx, "memory ran out");
    else {
        *o = (struct study_audit_order){.fine_share = -1,
                                        .poor_share = -1,
                                        .producer = 0.05,
                                        .consumer = 0.10,
                                        .found = -1,
                                        .confidence = 0.95};
        code = read_order(c, o);
        if (code == CLI_GOOD)
            code = answer(c, o, r);
    }
    free(o);
    free(r);
    return code;
}

static const struct cli_option options[] = {
    STUDY_STORE_OPTIONS,
    {"--lot", "N", "units in the lot; left out: so many that the sample is a small part (binomial)",
     false},
    {"--sample", "N", "how many are looked at; with --accept", false},
    {"--accept", "C", "how many bad ones may be among them", false},
    {"--bad", "D",
     "bad ones in the lot for a point of the curve (without --lot: in per cent); a dozen points "
     "are chosen when left out",
     true},
    {"--aql", "PERCENT",
     "bad share that is still fine; with --lq and no --sample: seeks the least plan", false},
    {"--lq", "PERCENT", "bad share that is too poor to accept", false},
    {"--producer", "PERCENT", "most chance to refuse a lot at --aql; 5", false},
    {"--consumer", "PERCENT", "most chance to accept a lot at --lq; 10", false},
    {"--found", "D",
     "bad ones that were found in the sample: accept or refuse, and what the lot may hold", false},
    {"--confidence", "PERCENT", "of what the lot may hold; 95", false},
    STUDY_PLOT_OPTIONS,
    {NULL, NULL, NULL, false},
};

const struct study_kind study_audit_kind = {
    .page =
        {
            .name = "study audit",
            .line = "how many finished units must be looked at again?",
            .call = "study audit --lot N --sample N --accept C [--bad D]... | study audit --lot N "
                    "--aql PERCENT --lq PERCENT",
            .about = "A plan: draw so many of the lot at random, accept it with at most so many "
                     "bad ones. Prints the chance to accept against the bad ones in the "
                     "lot (hypergeometric, exact), or seeks the least sample that keeps two "
                     "promises: lots at --aql are seldom refused, lots at --lq seldom "
                     "accepted.\n"
                     "\n"
                     "Exit 1 when --found is more than the plan accepts; 4 when no plan keeps both "
                     "promises. Whether an audit may be by sample at all is for "
                     "the maker and the law to say: a safety recall often asks for every unit.",
            .example = "  $ mendwright study audit --lot 280 --sample 32 --accept 1 --bad 3 --bad "
                       "14 --bad 28\n"
                       "  [=] Look at 32 units drawn at random; accept with at most 1 bad.\n"
                       "      bad in the lot   share  accepted with  bad share let through\n"
                       "      ...\n"
                       "                  14     5 %         50.9 %                 2.25 %\n"
                       "  ...\n",
            .options = options,
        },
    .file = STUDY_NO_FILE,
    .rows = ROWS_AUDIT,
    .run = run,
};
