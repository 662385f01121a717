/* verb rule: owns the calls that rule on claims, overrule a ruling, and settle what is to be paid. */
#include "base/file.h"
#include "base/pool.h"
#include "base/save.h"
#include "bulletin/values.h"
#include "cli/job.h"
#include "cli/moment.h"
#include "cli/progress.h"
#include "cli/rule_job.h"
#include "cli/verbs.h"
#include "desk/ruling_letter.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { OUT_AT_ONCE = 64 * 1024 };

struct call {
    struct cli *ctx;
    const char *store, *claim, *bulletin, *shops, *overrule, *reason, *person, *amount, *note, *out,
        *language, *paper;
    bool settles, is_trial, lists_rules, takes_back, writes_letter;
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
    if (r->kind != STORE_RULED && r->kind != STORE_PAID && r->at_ms == w->call->now_ms) {
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

/* Taking one's word back, and notes: told as the log has them. */
static int run_word(struct call *c)
{
    struct fault f = {0};
    struct last_word told = {.call = c};
    bool is_late = false;
    const struct ruling_word word = {c->claim, c->person, c->note, c->now_ms, 0};
    const enum err err = c->takes_back ? ruling_take_back(c->open, &word, &is_late, &f)
                                       : ruling_note(c->open, &word, &is_late, &f);
    if (err != ERR_OK || store_rulings(c->open, c->claim, see_word, &told, &f) != ERR_OK)
        return cli_fault(c->ctx, &f);
    return is_late ? cli_error(c->ctx, "somebody else wrote at the same moment; look and try again")
                   : CLI_GOOD;
}

/* ---- the letter ---------------------------------------------------------------------------------- */

static bool ends_in(const char *s, const char *end)
{
    const size_t n = strlen(s), m = strlen(end);
    return n >= m && strcmp(s + n - m, end) == 0;
}

static int take_letter(const struct call *c, struct ruling_letter_order *ret)
{
    const char *language = c->language, *paper = c->paper;
    if (language != NULL && strcmp(language, "en") != 0 && strcmp(language, "es") != 0 &&
        strcmp(language, "fr") != 0)
        return cli_error(c->ctx, "--language '%.40s': expected en, es or fr", language);
    if (paper != NULL && strcmp(paper, "a4") != 0 && strcmp(paper, "letter") != 0)
        return cli_error(c->ctx, "--paper '%.40s': expected a4 or letter", paper);
    if (c->out != NULL && !ends_in(c->out, ".pdf") && !ends_in(c->out, ".txt"))
        return cli_error(c->ctx, "-o '%.200s': expected a name that ends in .pdf or .txt", c->out);
    *ret = (struct ruling_letter_order){
        .claim = c->claim,
        .language = language,
        .size = paper != NULL && strcmp(paper, "letter") == 0 ? PAPER_LETTER : PAPER_A4,
        .is_pdf = c->out != NULL && ends_in(c->out, ".pdf"),
        .now_ms = c->now_ms};
    return CLI_GOOD;
}

/* To the file, or as text to the screen. */
static int run_letter(struct call *c)
{
    struct ruling_letter_order order;
    struct text letter = {0};
    struct fault f = {0};
    int code = take_letter(c, &order);
    if (code != CLI_GOOD)
        return code;
    if (ruling_letter(c->open, &order, &letter, &f) != ERR_OK ||
        (c->out != NULL && save_file(c->out, letter.data, letter.size, &f) != ERR_OK)) {
        code = cli_fault(c->ctx, &f);
    } else if (c->ctx->is_json) {
        struct jsonw w;
        jsonw_start(&w, &c->ctx->out);
        jsonw_object(&w, NULL);
        jsonw_string(&w, "claim", c->claim);
        jsonw_string(&w, "path", c->out);
        jsonw_int(&w, "bytes", (int64_t)letter.size);
        if (c->out == NULL)
            jsonw_string_n(&w, "text", letter.data, letter.size);
        jsonw_object_end(&w);
        text_putc(&c->ctx->out, '\n');
    } else if (c->out == NULL) {
        text_add(&c->ctx->out, letter.data, letter.size);
    } else {
        cli_verdict(c->ctx, CLI_STRONG, "The letter about claim %s is in %s.", c->claim, c->out);
    }
    text_done(&letter);
    return code;
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
    const bool writes = c->takes_back || c->note != NULL;
    if (says + c->settles + c->takes_back + (c->note != NULL) + c->writes_letter > 1)
        return cli_error(c->ctx, "found several of --overrule, --take-back, --note, --letter and "
                                 "--settle; expected one of them");
    if (c->writes_letter && c->claim == NULL)
        return cli_error(c->ctx, "--letter needs --claim");
    if (!c->writes_letter && (c->out != NULL || c->language != NULL || c->paper != NULL))
        return cli_error(c->ctx, "-o, --language and --paper belong to --letter");
    if (writes && (c->claim == NULL || c->person == NULL))
        return cli_error(c->ctx, "%s needs --claim and --person",
                         c->takes_back ? "--take-back" : "--note");
    if ((says || c->settles || writes || c->writes_letter) &&
        (c->bulletin != NULL || c->shops != NULL || c->is_trial))
        return cli_error(c->ctx, "--bulletin, --shops and --trial belong to ruling alone");
    if (says && (c->claim == NULL || c->reason == NULL || c->person == NULL))
        return cli_error(c->ctx, "--overrule needs --claim, --reason and --person");
    if (c->settles && c->person == NULL)
        return cli_error(c->ctx, "--settle needs --person: who lets the money go");
    if (!says && (c->reason != NULL || c->amount != NULL))
        return cli_error(c->ctx, "--reason and --amount belong to --overrule");
    if (!says && !c->settles && !writes && c->person != NULL)
        return cli_error(c->ctx, "--person belongs to --overrule, --take-back, --note or --settle");
    return CLI_GOOD;
}

static int run_in_store(struct call *c)
{
    struct fault f = {0};
    if (store_open(c->store, c->is_trial || c->writes_letter ? STORE_READ : STORE_WRITE, &c->open,
                   &f) != ERR_OK)
        return cli_fault(c->ctx, &f);
    const int code = c->overrule != NULL                ? run_overrule(c)
                     : c->takes_back || c->note != NULL ? run_word(c)
                     : c->writes_letter                 ? run_letter(c)
                     : c->settles                       ? run_settle(c)
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
                     .note = cli_value(args, n, "--note"),
                     .takes_back = cli_has(args, n, "--take-back"),
                     .writes_letter = cli_has(args, n, "--letter"),
                     .out = cli_value(args, n, "-o"),
                     .language = cli_value(args, n, "--language"),
                     .paper = cli_value(args, n, "--paper"),
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
    {"--take-back", NULL, "take back one's own last word: the rules' ruling stands again", false},
    {"--note", "TEXT", "write something down with a claim; what stands does not change", false},
    {"--letter", NULL, "the letter to the shop about a claim: what to send and how to cure it",
     false},
    {"-o", "FILE", "with --letter: into a file, FILE.pdf or FILE.txt; else as text to the screen",
     false},
    {"--language", "TAG", "with --letter: en, es or fr; else the bulletin's", false},
    {"--paper", "SIZE", "with --letter: a4 (the usual) or letter", false},
    {"--settle", NULL, "pay what stands as pay and is not paid yet", false},
    {"--person", "NAME", "who overrules, takes back, notes or settles", false},
    {"--at", "TIME", "the desk's clock, such as 2026-03-05T09:14:00Z; else now", false},
    {"--rules", NULL, "list every rule: what it sees, why, and how to cure it", false},
    {NULL, NULL, NULL, false},
};

const struct cli_verb verb_rule = {
    .name = "rule",
    .line = "rule on claims: pay, ask, hold or refuse, with reasons and money",
    .call = "rule --store FOLDER [--claim ID] [--bulletin FILE] [--shops FILE] [--trial] | "
            "rule --overrule VERDICT --claim ID --reason TEXT --person NAME | "
            "rule --take-back --claim ID --person NAME | rule --letter --claim ID [-o FILE] | rule "
            "--note TEXT --claim ID --person NAME | "
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
