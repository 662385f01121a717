/* verb_report: a campaign as pages for a board. Owns the call; what stands in it is desk/report. */
#include "base/digest.h"
#include "base/save.h"
#include "cli/moment.h"
#include "cli/stop.h"
#include "cli/verbs.h"
#include "desk/report.h"
#include "store/near.h"

#include <stdio.h>
#include <string.h>

/* ---- the call ------------------------------------------------------------------------------ */

struct call {
    struct cli *ctx;
    const char *store, *out, *from;
    struct report_order order;
};

static const char *last_part(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash != NULL && slash[1] != '\0' ? slash + 1 : path;
}

static int take_args(struct call *c, const struct cli_arg *args, int n)
{
    static const char *const papers[] = {"a4", "letter"};
    const char *paper = cli_value(args, n, "--paper"), *at = cli_value(args, n, "--at");
    c->store = cli_value(args, n, "--store");
    c->out = cli_value(args, n, "-o");
    c->from = cli_value(args, n, "--read-from");
    c->order = (struct report_order){.bulletin = cli_value(args, n, "--bulletin"),
                                     .language = cli_value(args, n, "--lang"),
                                     .now_ms = moment_now()};
    for (int i = 0; i < n; i++)
        if (args[i].name == NULL)
            return cli_error(c->ctx, "found '%.80s'; expected options only", args[i].value);
    if (c->store == NULL)
        return cli_error(c->ctx, "found no --store; expected the store's folder");
    if (c->out == NULL)
        return cli_error(c->ctx, "found no -o; expected the PDF's name, such as -o report.pdf");
    if (strcmp(c->out, "-") == 0 && c->ctx->is_json)
        return cli_error(c->ctx, "found -o - with --json; expected one of them on standard output");
    if (paper != NULL && strcmp(paper, "letter") == 0)
        c->order.size = PAPER_LETTER;
    else if (paper != NULL && strcmp(paper, "a4") != 0)
        return cli_error_near(c->ctx, "paper", paper, papers, 2, "expected a4 or letter");
    if (at != NULL && !moment_read(at, &c->order.now_ms))
        return cli_error(c->ctx, "--at: found '%.40s'; expected %s", at, MOMENT_WANTED);
    if (c->order.language != NULL &&
        (strlen(c->order.language) < 2 || strlen(c->order.language) > 35))
        return cli_error(c->ctx,
                         "--lang: found '%.40s'; expected a language tag such as en, es or fr",
                         c->order.language);
    c->order.store_name = last_part(c->store);
    return CLI_GOOD;
}

static int end_json(const struct call *c, const struct report_done *done, struct jsonw *w)
{
    uint8_t sha256[DIGEST_SHA256_SIZE];
    char hex[DIGEST_HEX_ROOM];
    if (digest_bytes(DIGEST_SHA256, done->pdf.data, done->pdf.size, sha256) != ERR_OK)
        return cli_error(c->ctx, "SHA-256 cannot be had on this machine");
    digest_hex(sha256, sizeof sha256, hex);
    jsonw_string(w, "path", c->out);
    jsonw_int(w, "pages", done->n_pages);
    jsonw_string(w, "paper", c->order.size == PAPER_A4 ? "a4" : "letter");
    jsonw_int(w, "bytes", (int64_t)done->pdf.size);
    jsonw_string(w, "sha256", hex);
    jsonw_object_end(w);
    text_putc(&c->ctx->out, '\n');
    return CLI_GOOD;
}

static void say_words(const struct call *c, const struct report_done *done)
{
    static const enum cli_tone tones[] = {
        [CAMPAIGN_WITHIN] = CLI_STRONG, [CAMPAIGN_OVER] = CLI_ACT, [CAMPAIGN_OPEN] = CLI_QUIET};
    cli_verdict(c->ctx, tones[done->money], "%s", done->verdict);
    cli_say(c->ctx, 4, "%d pages, %s, in %s.", done->n_pages,
            c->order.size == PAPER_A4 ? "A4" : "Letter", c->out);
}

static int write_out(const struct call *c, const struct report_done *done, struct jsonw *w)
{
    struct fault f = {0};
    if (strcmp(c->out, "-") == 0) {
        text_add(&c->ctx->out, done->pdf.data, done->pdf.size);
        return CLI_GOOD;
    }
    if (save_file(c->out, done->pdf.data, done->pdf.size, &f) != ERR_OK)
        return cli_fault(c->ctx, &f);
    if (c->ctx->is_json)
        return end_json(c, done, w);
    say_words(c, done);
    return CLI_GOOD;
}

static int make(struct call *c)
{
    struct fault f = {0};
    struct store *store = NULL;
    struct report_done done = {0};
    struct progress progress;
    struct store_near near;
    char said[FAULT_MESSAGE_MAX + 100];
    if (store_open_near(c->store, c->from, &store, &near, &f) != ERR_OK)
        return cli_fault(c->ctx, &f);
    if (near.is_asked)
        fprintf(stderr, "note: %s\n", store_near_say(&near, said, sizeof said));
    struct jsonw w;
    if (c->ctx->is_json) {
        jsonw_start(&w, &c->ctx->out);
        jsonw_object(&w, NULL);
    }
    progress_start(&progress);
    const struct study_watch watch = stop_watch(&progress);
    const enum err e =
        report_campaign(store, &c->order, &watch, c->ctx->is_json ? &w : NULL, &done, &f);
    progress_wipe(&progress);
    store_close(store);
    int code = CLI_GOOD;
    if (e != ERR_OK)
        code = cli_fault(c->ctx, &f) == CLI_FAILED || e == ERR_BUSY ? CLI_FAILED : CLI_WRONG;
    else
        code = write_out(c, &done, &w);
    report_free(&done);
    if (code != CLI_GOOD)
        text_clear(&c->ctx->out);
    return code;
}

static int run_report(struct cli *ctx, int argc, char **argv)
{
    struct cli_arg args[CLI_ARGS_MAX];
    struct call c = {.ctx = ctx};
    const int n = cli_options(ctx, &verb_report, argc, argv, args);
    if (n < 0)
        return CLI_WRONG;
    const int code = take_args(&c, args, n);
    return code == CLI_GOOD ? make(&c) : code;
}

static const struct cli_option options[] = {
    {"--store", "FOLDER", "the store's folder", false},
    {"--read-from", "ADDRESS",
     "of a store in PostgreSQL: read from this standby, and say how far it is behind", false},
    {"-o", "FILE", "the PDF to write; - for standard output", false},
    {"--bulletin", "ID", "which campaign, where several are kept", false},
    {"--paper", "SIZE", "a4 or letter; a4", false},
    {"--lang", "TAG",
     "of the bulletin's texts, such as es; its own when left out. The report's words are English",
     false},
    {"--at", "TIME", "as if it were then; the same store and time give the same report", false},
    {NULL, NULL, NULL, false},
};

const struct cli_verb verb_report = {
    .name = "report",
    .line = "a campaign as pages to hand to a board",
    .call = "report --store FOLDER [--bulletin ID] -o report.pdf",
    .about = "Writes a PDF: at a glance whether the campaign will stay within its reserve, how "
             "many units "
             "will come and by when, and what is not certain; then what was found, completion and "
             "its forecast, money, kits, final readings against their limits, rulings, shops to "
             "look at, "
             "whether the repair held, what was taken for granted, and how the figures were worked "
             "out.\n"
             "\n"
             "It counts from what the store holds: the build list (store builds), the reserve, the "
             "stock and "
             "the failure reports (store keep), claims, rulings and payments. What is not there is "
             "said to "
             "be missing, not guessed. --json prints everything that stands on the pages, word for "
             "word, "
             "and the campaign's numbers.\n"
             "\n"
             "Exit 0 when the report was written, whatever it says.",
    .example =
        "  $ d=$(mktemp -d); mendwright store init --store $d/s >/dev/null;\\\n"
        "      mendwright store keep bulletin examples/OV-26-03.yaml --store $d/s >/dev/null;\\\n"
        "      mendwright report --store $d/s -o $d/report.pdf; rm -r $d\n"
        "  [?] No reserve is kept for the campaign, ...\n"
        "  ...\n",
    .options = options,
    .run = run_report,
};
