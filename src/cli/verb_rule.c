/* verb rule: owns the calls that rule on claims, overrule a ruling, and settle what is to be paid. */
#include "base/file.h"
#include "base/pool.h"
#include "bulletin/values.h"
#include "cli/job.h"
#include "cli/moment.h"
#include "cli/progress.h"
#include "cli/rule_job.h"
#include "cli/verbs.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { OUT_AT_ONCE = 64 * 1024 };

struct call {
    struct cli *ctx;
    const char *store, *claim, *bulletin, *shops, *overrule, *reason, *person, *amount;
    bool settles, is_trial, lists_rules;
    int64_t now_ms;
    struct store *open;
    struct rule_tally tally;
    struct progress progress;
    int code; /* of a failed write */
};

/* ---- ruling -------------------------------------------------------------------------------------- */

/* Rulings of a large store go out as they come. */
static bool hand_on(struct call *c)
{
    struct text *out = &c->ctx->out;
    if (out->size < OUT_AT_ONCE || out->is_broken)
        return true;
    errno = 0;
    if (fwrite(out->data, 1, out->size, stdout) != out->size) {
        progress_wipe(&c->progress);
        cli_error(c->ctx, "the answer could not be written: %s", strerror(errno));
        c->code = CLI_FAILED;
    }
    text_clear(out);
    return c->code == CLI_GOOD;
}

static bool see_ruling(void *me, const struct ruling_seen *seen)
{
    struct call *c = me;
    rule_tally_add(&c->tally, seen);
    if (c->ctx->is_json) {
        rule_json_claim(c->ctx, seen);
        return hand_on(c);
    }
    if (c->claim != NULL)
        rule_say_claim(c->ctx, seen);
    return true;
}

static int run_order(struct call *c, const struct ruling_order *order)
{
    const struct known_progress progress = {progress_show, &c->progress};
    struct fault f = {0};
    progress_start(&c->progress);
    const enum err err =
        ruling_run(c->open, order, &progress, see_ruling, c, &c->tally.n_unruled, &f);
    progress_wipe(&c->progress);
    if (err != ERR_OK)
        return cli_fault(c->ctx, &f);
    if (c->code != CLI_GOOD)
        return c->code;
    if (!c->ctx->is_json && c->claim == NULL)
        rule_say_summary(c->ctx, &c->tally);
    else if (!c->ctx->is_json && c->tally.n == 0)
        rule_say_unruled(c->ctx, c->claim);
    else if (!c->ctx->is_json)
        rule_say_log(c->ctx, c->open, c->claim);
    return rule_tally_exit(&c->tally);
}

static int rule_by(struct call *c, const struct bulletin *bulletin,
                   const struct text *bulletin_text)
{
    struct text shops = {0};
    struct fault f = {0};
    if (c->shops != NULL && file_read(c->shops, STORE_PAPER_MAX, &shops, &f) != ERR_OK) {
        text_done(&shops);
        return cli_fault(c->ctx, &f);
    }
    const struct ruling_order order = {.claim = c->claim,
                                       .bulletin = bulletin,
                                       .bulletin_text = bulletin_text->data,
                                       .bulletin_size = bulletin_text->size,
                                       .shops_text = c->shops == NULL     ? NULL
                                                     : shops.data != NULL ? shops.data
                                                                          : "",
                                       .shops_name = c->shops,
                                       .shops_size = shops.size,
                                       .now_ms = c->now_ms,
                                       .n_threads = pool_threads(),
                                       .is_trial = c->is_trial};
    c->tally.is_trial = c->is_trial;
    const int code = run_order(c, &order);
    text_done(&shops);
    return code;
}

static int run_rule(struct call *c)
{
    struct text text = {0};
    struct fault f = {0};
    int code = CLI_WRONG;
    if (c->bulletin == NULL)
        return rule_by(c, NULL, &text);
    if (file_read(c->bulletin, BULLETIN_SIZE_MAX, &text, &f) != ERR_OK) {
        code = cli_fault(c->ctx, &f);
    } else {
        struct bulletin *b = job_bulletin_text(c->ctx, text.data != NULL ? text.data : "",
                                               text.size, c->bulletin, &code);
        if (b != NULL)
            code = rule_by(c, b, &text);
        bulletin_free(b);
    }
    text_done(&text);
    return code;
}

/* ---- overruling ---------------------------------------------------------------------------------- */

static bool note_currency(void *me, const struct store_ruling *r)
{
    char *currency = me;
    snprintf(currency, STORE_CURRENCY_ROOM, "%s", r->currency != NULL ? r->currency : "");
    return true;
}

/* --amount, in the currency that the claim was ruled in. */
static int read_amount(struct call *c, int64_t *ret_minor)
{
    char currency[STORE_CURRENCY_ROOM] = "", why[FAULT_MESSAGE_MAX] = "";
    struct fault f = {0};
    *ret_minor = BULLETIN_NO_AMOUNT;
    if (c->amount == NULL)
        return CLI_GOOD;
    if (store_rulings(c->open, c->claim, note_currency, currency, &f) != ERR_OK)
        return cli_fault(c->ctx, &f);
    if (value_money(c->amount, strlen(c->amount), currency, rule_say_digits(currency), ret_minor,
                    why) == ERR_OK)
        return CLI_GOOD;
    return cli_error(c->ctx, "--amount '%.40s': %s", c->amount,
                     why[0] != '\0' ? why : "expected money such as 123.45");
}

struct last_word {
    struct call *call;
    bool is_told;
};

static bool see_word(void *me, const struct store_ruling *r)
{
    struct last_word *w = me;
    if (r->kind == STORE_OVERRULED && r->at_ms == w->call->now_ms) {
        rule_say_word(w->call->ctx, r);
        w->is_told = true;
    }
    return true;
}

static int run_overrule(struct call *c)
{
    struct fault f = {0};
    struct last_word word = {.call = c};
    int64_t amount_minor = 0;
    const int code = read_amount(c, &amount_minor);
    if (code != CLI_GOOD)
        return code;
    if (ruling_overrule(c->open, c->claim, c->overrule, amount_minor, c->person, c->reason,
                        c->now_ms, &f) != ERR_OK ||
        store_rulings(c->open, c->claim, see_word, &word, &f) != ERR_OK)
        return cli_fault(c->ctx, &f);
    return CLI_GOOD;
}

/* ---- settling ------------------------------------------------------------------------------------ */

struct paid {
    struct call *call;
    struct rule_paid sum;
};

static bool see_payment(void *me, const char *claim, int64_t amount_minor, const char *currency)
{
    struct paid *p = me;
    rule_say_payment(p->call->ctx, &p->sum, claim, amount_minor, currency);
    return hand_on(p->call);
}

static int run_settle(struct call *c)
{
    struct paid paid = {.call = c};
    struct fault f = {0};
    const enum err err =
        ruling_settle(c->open, c->claim, c->person, c->now_ms, see_payment, &paid, &f);
    /* What was paid before something went wrong was paid, and is told. */
    if (!c->ctx->is_json && (err == ERR_OK || paid.sum.n > 0))
        rule_say_payments(c->ctx, &paid.sum);
    if (err != ERR_OK)
        return cli_fault(c->ctx, &f);
    return c->code;
}

/* ---- the call ------------------------------------------------------------------------------------ */

static int check_call(const struct call *c)
{
    const bool says = c->overrule != NULL;
    if (c->store == NULL)
        return cli_error(c->ctx, "found no --store; expected the store's folder");
    if (says && c->settles)
        return cli_error(c->ctx, "found --overrule and --settle; expected one of them");
    if ((says || c->settles) && (c->bulletin != NULL || c->shops != NULL || c->is_trial))
        return cli_error(c->ctx, "--bulletin, --shops and --trial belong to ruling alone");
    if (says && (c->claim == NULL || c->reason == NULL || c->person == NULL))
        return cli_error(c->ctx, "--overrule needs --claim, --reason and --person");
    if (c->settles && c->person == NULL)
        return cli_error(c->ctx, "--settle needs --person: who lets the money go");
    if (!says && (c->reason != NULL || c->amount != NULL))
        return cli_error(c->ctx, "--reason and --amount belong to --overrule");
    if (!says && !c->settles && c->person != NULL)
        return cli_error(c->ctx, "--person belongs to --overrule or --settle");
    return CLI_GOOD;
}

static int run_in_store(struct call *c)
{
    struct fault f = {0};
    if (store_open(c->store, c->is_trial ? STORE_READ : STORE_WRITE, &c->open, &f) != ERR_OK)
        return cli_fault(c->ctx, &f);
    const int code = c->overrule != NULL ? run_overrule(c)
                     : c->settles        ? run_settle(c)
                                         : run_rule(c);
    store_close(c->open);
    return code;
}

static int run_verb(struct cli *ctx, int argc, char **argv)
{
    struct cli_arg args[CLI_ARGS_MAX];
    const int n = cli_options(ctx, &verb_rule, argc, argv, args);
    if (n < 0)
        return CLI_WRONG;
    for (int i = 0; i < n; i++)
        if (args[i].name == NULL)
            return cli_error(ctx, "found one word too many, '%.80s'", args[i].value);
    struct call c = {.ctx = ctx,
                     .store = cli_value(args, n, "--store"),
                     .claim = cli_value(args, n, "--claim"),
                     .bulletin = cli_value(args, n, "--bulletin"),
                     .shops = cli_value(args, n, "--shops"),
                     .overrule = cli_value(args, n, "--overrule"),
                     .reason = cli_value(args, n, "--reason"),
                     .person = cli_value(args, n, "--person"),
                     .amount = cli_value(args, n, "--amount"),
                     .settles = cli_has(args, n, "--settle"),
                     .is_trial = cli_has(args, n, "--trial"),
                     .lists_rules = cli_has(args, n, "--rules"),
                     .now_ms = moment_now()};
    const char *at = cli_value(args, n, "--at");
    if (at != NULL && !moment_read(at, &c.now_ms))
        return cli_error(ctx, "--at '%.40s': expected " MOMENT_WANTED, at);
    if (c.lists_rules) {
        if (n > 1)
            return cli_error(ctx, "--rules lists the rules and goes with nothing else");
        if (ctx->is_json)
            rule_json_rules(ctx);
        else
            rule_say_rules(ctx);
        return CLI_GOOD;
    }
    const int code = check_call(&c);
    return code == CLI_GOOD ? run_in_store(&c) : code;
}

static const struct cli_option options[] = {
    {"--store", "FOLDER", "the store's folder", false},
    {"--claim", "ID", "this claim alone, in full; else all", false},
    {"--bulletin", "FILE", "a bulletin to rule by from now on; it is checked and kept in the store",
     false},
    {"--shops", "FILE", "a list of shops (CSV: shop, kind, rate, from), which is kept as well",
     false},
    {"--trial", NULL, "write nothing, only tell what would change", false},
    {"--overrule", "VERDICT", "put a person's word over the rules: pay, ask, hold or refuse",
     false},
    {"--amount", "MONEY", "with --overrule pay: this much, in the claim's currency", false},
    {"--reason", "TEXT", "with --overrule: why", false},
    {"--settle", NULL, "pay what stands as pay and is not paid yet", false},
    {"--person", "NAME", "who overrules or settles", false},
    {"--at", "TIME", "the desk's clock, such as 2026-03-05T09:14:00Z; else now", false},
    {"--rules", NULL, "list every rule: what it sees, why, and how to cure it", false},
    {NULL, NULL, NULL, false},
};

const struct cli_verb verb_rule = {
    .name = "rule",
    .line = "rule on claims: pay, ask, hold or refuse, with reasons and money",
    .call = "rule --store FOLDER [--claim ID] [--bulletin FILE] [--shops FILE] [--trial] | "
            "rule --overrule VERDICT --claim ID --reason TEXT --person NAME | "
            "rule --settle --person NAME",
    .about =
        "Holds every claim of a store against its bulletin and against what the store knows of "
        "other "
        "claims, and puts what is new on the log. Ruling again writes only what changed, and tells "
        "it. A person's word (--overrule) stands over the rules, with its reason, until a person "
        "changes it. Money goes out by --settle alone, once: a later ruling that comes to more "
        "leaves a rest to be settled, one that comes to less is told as owed back.\n"
        "\n"
        "Nothing is paid by a machine's word where something is in doubt: such claims are asked "
        "about or held for a person. Photos that look like earlier ones are a reason to look at "
        "both, not a proof.\n"
        "\n"
        "Ends with 0 when every claim is to be paid, 1 when some are refused and none needs a "
        "person, 4 when some are asked about, held, or could not be ruled on.",
    .example = "  $ mendwright rule --rules\n"
               "  vin-check (ask)\n"
               "  ...\n",
    .options = options,
    .run = run_verb,
};
