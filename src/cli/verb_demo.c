/* verb demo: owns the calls that make a made-up campaign and score the desk against its truth. */
#include "base/jsonw.h"
#include "cli/amount.h"
#include "cli/demo_score.h"
#include "cli/progress.h"
#include "cli/verbs.h"
#include "demo/campaign.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct call {
    struct cli *ctx;
    const char *word, *folder, *store;
    struct campaign_order order;
    struct progress progress;
};

/* ---- make -------------------------------------------------------------------------------------- */

static int run_make(struct call *c)
{
    struct campaign_made made;
    struct fault f = {0};
    c->order.folder = c->folder;
    c->order.step = progress_show;
    c->order.me = &c->progress;
    const enum err e = campaign_make(&c->order, &made, &f);
    progress_wipe(&c->progress);
    if (e != ERR_OK)
        return cli_fault(c->ctx, &f);
    if (c->ctx->is_json) {
        struct jsonw w;
        jsonw_start(&w, &c->ctx->out);
        jsonw_object(&w, NULL);
        jsonw_string(&w, "folder", c->folder);
        jsonw_bool(&w, "invented", true);
        jsonw_int(&w, "units", (int64_t)made.units);
        jsonw_int(&w, "claims", (int64_t)made.claims);
        jsonw_int(&w, "faults", (int64_t)made.faults);
        jsonw_int(&w, "photos", (int64_t)made.photos);
        jsonw_int(&w, "bytes", (int64_t)made.bytes);
        jsonw_object_end(&w);
        text_putc(&c->ctx->out, '\n');
        return CLI_GOOD;
    }
    cli_verdict(c->ctx, CLI_STRONG, "Made an invented campaign in %s.", c->folder);
    cli_say(c->ctx, 4,
            "%" PRIu64 " units, %" PRIu64 " claims, %" PRIu64
            " of them with a planted fault; %" PRIu64 " photos, %" PRIu64 " MB of bags.",
            made.units, made.claims, made.faults, made.photos, (made.bytes + 500000) / 1000000);
    cli_say(c->ctx, 4, "What was planted is in truth.json. No such unit, shop or person exists.");
    return CLI_GOOD;
}

/* ---- score ------------------------------------------------------------------------------------- */

static double share(uint64_t part, uint64_t all)
{
    return all > 0 ? (double)part / (double)all : 0.0;
}

static void put_names(struct jsonw *w, const char *key, char names[SCORE_NAMES][SCORE_NAME],
                      size_t n)
{
    jsonw_array(w, key);
    for (size_t i = 0; i < n; i++)
        jsonw_string(w, NULL, names[i]);
    jsonw_array_end(w);
}

static const char *const verdicts[SCORE_VERDICTS] = {"pay", "ask", "hold", "refuse"};

static void put_money(struct jsonw *w, const struct score *s)
{
    char key[32];
    jsonw_string(w, "currency", s->currency);
    jsonw_array(w, "verdicts");
    for (int i = 0; i < SCORE_VERDICTS; i++) {
        jsonw_object(w, NULL);
        jsonw_string(w, "verdict", verdicts[i]);
        jsonw_int(w, "claims", s->n_verdicts[i]);
        snprintf(key, sizeof key, "amount_minor");
        jsonw_int(w, key, s->minor[i]);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
    jsonw_int(w, "paid_minor", s->paid_minor);
}

static void put_score(struct cli *ctx, struct score *s)
{
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_bool(&w, "ok", s->is_good);
    jsonw_int(&w, "claims", (int64_t)s->n_claims);
    jsonw_int(&w, "taken", (int64_t)s->n_taken);
    jsonw_int(&w, "ruled", (int64_t)s->n_ruled);
    jsonw_int(&w, "clean", (int64_t)s->n_clean);
    jsonw_int(&w, "clean_with_findings", (int64_t)s->n_clean_found);
    put_names(&w, "blamed", s->blamed, s->n_blamed_names);
    jsonw_int(&w, "missed_deterministic", (int64_t)s->n_missed);
    put_names(&w, "missed", s->missed, s->n_missed_names);
    jsonw_array(&w, "kinds");
    for (int k = KIND_CLEAN + 1; k < KIND_N; k++) {
        const struct score_kind *kind = &s->kinds[k];
        if (kind->planted == 0)
            continue;
        jsonw_object(&w, NULL);
        jsonw_string(&w, "kind", kind_rows[k].name);
        jsonw_bool(&w, "deterministic", kind->is_deterministic);
        jsonw_int(&w, "planted", (int64_t)kind->planted);
        jsonw_int(&w, "found", (int64_t)kind->found);
        jsonw_double(&w, "recall", share(kind->found, kind->planted));
        jsonw_object_end(&w);
    }
    jsonw_array_end(&w);
    jsonw_int(&w, "photos", (int64_t)s->n_photos);
    jsonw_int(&w, "photo_pairs", (int64_t)s->n_pairs);
    jsonw_int(&w, "false_pairs", (int64_t)s->n_false_pairs);
    jsonw_double(&w, "false_share", share(s->n_false_pairs, s->n_pairs));
    put_money(&w, s);
    jsonw_object_end(&w);
    text_putc(&ctx->out, '\n');
}

static void say_kinds(struct cli *ctx, const struct score *s)
{
    static const char *const head[] = {"what was planted", "planted", "found", "recall", ""};
    struct cli_table *t = cli_table_new("lrrrl");
    cli_table_head(t, head);
    for (int k = KIND_CLEAN + 1; k < KIND_N; k++) {
        const struct score_kind *kind = &s->kinds[k];
        if (kind->planted == 0)
            continue;
        const bool is_missed = kind->found < kind->planted;
        cli_table_cell(t, CLI_PLAIN, "%s", kind_rows[k].name);
        cli_table_cell(t, CLI_PLAIN, "%zu", kind->planted);
        cli_table_cell(t, CLI_PLAIN, "%zu", kind->found);
        cli_table_cell(t, is_missed ? CLI_STOP : CLI_PLAIN, "%.3f",
                       share(kind->found, kind->planted));
        cli_table_cell(t, CLI_QUIET, "%s", kind->is_deterministic ? "" : "by likeness");
    }
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
}

static void say_money(struct cli *ctx, const struct score *s)
{
    static const char *const words[SCORE_VERDICTS] = {"to be paid", "once what is asked for comes",
                                                      "held for a person", "refused"};
    struct cli_table *t = cli_table_new("rl.ll");
    for (int i = 0; i < SCORE_VERDICTS; i++) {
        cli_table_cell(t, CLI_PLAIN, "%" PRId64, s->n_verdicts[i]);
        cli_table_cell(t, CLI_PLAIN, "%s", verdicts[i]);
        cli_table_cell(t, CLI_PLAIN, "%" PRId64 ".%02" PRId64, s->minor[i] / 100,
                       s->minor[i] % 100);
        cli_table_cell(t, CLI_PLAIN, "%s", s->currency);
        cli_table_cell(t, CLI_PLAIN, "%s", words[i]);
    }
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
    cli_say(ctx, 4, "Paid so far: %" PRId64 ".%02" PRId64 " %s.", s->paid_minor / 100,
            s->paid_minor % 100, s->currency);
}

static void say_names(struct cli *ctx, const char *what, char names[SCORE_NAMES][SCORE_NAME],
                      size_t n)
{
    for (size_t i = 0; i < n; i++)
        cli_say(ctx, 4, "%s: %s", what, names[i]);
}

static void say_score(struct cli *ctx, struct score *s)
{
    if (s->is_good)
        cli_verdict(
            ctx, CLI_STRONG,
            "Everything that must be found was found, and nothing is said of a clean claim.");
    else
        cli_verdict(
            ctx, CLI_STOP,
            "%zu sure faults missed, %zu clean claims blamed, %zu of %zu claims not ruled on.",
            s->n_missed, s->n_clean_found, s->n_taken - s->n_ruled, s->n_taken);
    cli_say(ctx, 4, "%zu claims, %zu of them clean; %zu taken in. Invented data.", s->n_claims,
            s->n_clean, s->n_taken);
    say_names(ctx, "missed", s->missed, s->n_missed_names);
    say_names(ctx, "blamed", s->blamed, s->n_blamed_names);
    text_putc(&ctx->out, '\n');
    say_kinds(ctx, s);
    text_putc(&ctx->out, '\n');
    cli_say(ctx, 4,
            "Photos: %" PRIu64 ", %" PRIu64 " pairs; %" PRIu64
            " called alike that were not copied (%.2g of all pairs).",
            s->n_photos, s->n_pairs, s->n_false_pairs, share(s->n_false_pairs, s->n_pairs));
    text_putc(&ctx->out, '\n');
    say_money(ctx, s);
}

static int run_score(struct call *c)
{
    struct fault f = {0};
    struct score *s = calloc(1, sizeof *s);
    if (s == NULL)
        return cli_fault(c->ctx, &(struct fault){.code = ERR_MEMORY, .message = "memory ran out"});
    const enum err e = demo_score(c->folder, c->store, s, &f);
    int code = e == ERR_OK ? (s->is_good ? CLI_GOOD : CLI_NO) : cli_fault(c->ctx, &f);
    if (e == ERR_OK && c->ctx->is_json)
        put_score(c->ctx, s);
    else if (e == ERR_OK)
        say_score(c->ctx, s);
    free(s);
    return code;
}

/* ---- the call ---------------------------------------------------------------------------------- */

/* A whole number of an option; the default stays when it is not given. */
static int take_number(const struct call *c, const struct cli_arg *args, int n, const char *option,
                       double low, double high, double *ret)
{
    const char *text = cli_value(args, n, option);
    if (text == NULL)
        return CLI_GOOD;
    const int code = cli_read_number(c->ctx, option, text, low, high, ret);
    if (code == CLI_GOOD && *ret != (double)(int64_t)*ret)
        return cli_error(c->ctx, "%s: found %s; expected a whole number", option, text);
    return code;
}

static int take_order(struct call *c, const struct cli_arg *args, int n)
{
    double units = 0, seed = 1, threads = 0, faulty = CAMPAIGN_FAULTY;
    int code = take_number(c, args, n, "--units", 10, 1e6, &units);
    if (code == CLI_GOOD)
        code = take_number(c, args, n, "--seed", 0, 9e15, &seed);
    if (code == CLI_GOOD)
        code = take_number(c, args, n, "--threads", 1, 16, &threads);
    if (code == CLI_GOOD)
        code = take_number(c, args, n, "--faulty", 0, 90, &faulty);
    if (code == CLI_GOOD && units == 0)
        return cli_error(c->ctx, "found no --units; expected how many, 10 to 1000000");
    c->order.units = (int)units;
    c->order.seed = (uint64_t)seed;
    c->order.n_threads = (int)threads;
    c->order.faulty_percent = (int)faulty;
    return code;
}

static bool is_given(const struct cli_arg *args, int n, const char *name)
{
    return cli_value(args, n, name) != NULL;
}

static int run_call(struct call *c, const struct cli_arg *args, int n)
{
    static const char *const names[] = {"make", "score"};
    const bool is_make = strcmp(c->word, "make") == 0;
    if (!is_make && strcmp(c->word, "score") != 0)
        return cli_error_near(c->ctx, "the call", c->word, names, 2, "expected make or score");
    if (c->folder == NULL)
        return cli_error(c->ctx, "found no folder; expected that of the campaign");
    if (is_make && is_given(args, n, "--store"))
        return cli_error(c->ctx, "--store belongs to score alone");
    if (!is_make && (is_given(args, n, "--units") || is_given(args, n, "--seed") ||
                     is_given(args, n, "--threads") || is_given(args, n, "--faulty")))
        return cli_error(c->ctx, "--units, --seed, --threads and --faulty belong to make alone");
    if (!is_make && c->store == NULL)
        return cli_error(c->ctx, "found no --store; expected the store's folder");
    if (!is_make)
        return run_score(c);
    const int code = take_order(c, args, n);
    return code == CLI_GOOD ? run_make(c) : code;
}

static int run_demo(struct cli *ctx, int argc, char **argv)
{
    struct cli_arg args[CLI_ARGS_MAX];
    struct call c = {.ctx = ctx};
    const int n = cli_options(ctx, &verb_demo, argc, argv, args);
    if (n < 0)
        return CLI_WRONG;
    for (int i = 0; i < n; i++) {
        if (args[i].name != NULL)
            continue;
        if (c.folder != NULL)
            return cli_error(ctx, "found one word too many, '%.80s'", args[i].value);
        if (c.word == NULL)
            c.word = args[i].value;
        else
            c.folder = args[i].value;
    }
    if (c.word == NULL)
        return cli_error(ctx, "found nothing to do; expected make or score");
    c.store = cli_value(args, n, "--store");
    progress_start(&c.progress);
    return run_call(&c, args, n);
}

static const struct cli_option options[] = {
    {"--units", "N", "make: how many units, 10 to 1000000", false},
    {"--seed", "S", "make: the same seed gives the same files (1)", false},
    {"--faulty", "PERCENT", "make: claims with a planted fault, 0 to 90 (25)", false},
    {"--threads", "T", "make: 1 to 16 (as many as there are processors)", false},
    {"--store", "FOLDER", "score: the store that the campaign was taken into", false},
    {NULL, NULL, NULL, false},
};

const struct cli_verb verb_demo = {
    .name = "demo",
    .line = "a made-up campaign with planted faults, and how many of them were found",
    .call = "demo make DIR --units N | demo score DIR --store FOLDER",
    .about = "make invents a whole campaign under the bulletin that the program carries: units "
             "with their build list, shops, "
             "technicians, and their claims as signed bags with drawn photos, in the order in "
             "which they arrive. About a quarter of "
             "the claims have one planted fault each; truth.json says which. No such unit, shop or "
             "person exists.\n"
             "\n"
             "score holds the rulings in a store against that truth: found per kind, clean claims "
             "of which something is said, photos "
             "called copies that are none, money. It ends with 1 when a fault that must be found "
             "was missed, when a clean claim has "
             "a finding, or when a claim was not ruled on.\n"
             "\n"
             "In between: store init, store keep and store builds for bulletin, shops, keys and "
             "build list, take --arrivals, rule.",
    .example =
        "  $ d=$(mktemp -d); mendwright demo make $d/campaign --units 10 --seed 3; rm -r $d\n"
        "  [=] Made an invented campaign in ...\n"
        "      10 units, ...\n"
        "      ...\n",
    .options = options,
    .run = run_demo,
};
