/* verb check: owns the call that judges a bulletin, and how its faults are shown: where, with the line itself and a caret,
 * then what to do. */
#include "base/digest.h"
#include "base/file.h"
#include "base/jsonw.h"
#include "bulletin/bulletin.h"
#include "bulletin/export.h"
#include "bulletin/reference.h"
#include "cli/check_more.h"
#include "cli/fault_show.h"
#include "cli/verbs.h"
#include "desk/draft.h"

#include <stdio.h>
#include <string.h>

static const struct cli_option options[] = {
    {"--reference", NULL, "print the reference of all keys, in Markdown, and check nothing", false},
    {"--against", "FILE", "an older revision: say what is different", false},
    {"--store", "FOLDER", "say what would follow for the units and claims of this store", false},
    {"--export", NULL, "print the whole of a valid bulletin as JSON, as the pages read it", false},
    {0},
};

/* ---- JSON ---- */

static void put_json(struct cli *ctx, const struct bulletin *b, const struct fault_list *list,
                     const char *file, const struct check_more *more)
{
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_string(&w, "file", file);
    draft_tell_check(b, list, &w);
    check_more_json(more, &w);
    jsonw_object_end(&w);
    text_putc(&ctx->out, '\n');
}

/* The whole bulletin, with the digest by which events name it. */
static enum err put_export(struct cli *ctx, const struct bulletin *b, const struct text *source)
{
    uint8_t digest[DIGEST_SHA256_SIZE];
    char hex[DIGEST_HEX_ROOM];
    enum err e = digest_bytes(DIGEST_SHA256, source->data, source->size, digest);
    if (e != ERR_OK)
        return e;
    digest_hex(digest, sizeof digest, hex);
    bulletin_export(b, hex, &ctx->out);
    return ERR_OK;
}

/* ---- for people ---- */

static const char *plural(size_t n)
{
    return n == 1 ? "" : "s";
}

static void say_verdict(struct cli *ctx, const struct bulletin *b, const struct fault_list *list,
                        const char *file)
{
    const size_t n = list->n_faults + list->n_more_faults;
    const size_t n_warnings = list->n_warnings + list->n_more_warnings;
    if (b != NULL && n_warnings > 0)
        cli_verdict(ctx, CLI_STRONG, "Valid, with %zu warning%s: %s revision %d", n_warnings,
                    plural(n_warnings), b->head.id, b->head.revision);
    else if (b != NULL)
        cli_verdict(ctx, CLI_STRONG, "Valid: %s revision %d", b->head.id, b->head.revision);
    else if (list->is_unreadable)
        cli_verdict(ctx, CLI_STOP, "Cannot be read: %s", file);
    else
        cli_verdict(ctx, CLI_STOP, "Not valid, %zu fault%s: %s", n, plural(n), file);
}

static size_t count_windows(const struct bulletin *b)
{
    size_t n = 0;
    for (size_t i = 0; i < b->scope.variants.n; i++)
        n += b->scope.variants.at[i].windows.n;
    return n;
}

static size_t count_cautions(const struct bulletin *b)
{
    size_t n = 0;
    for (size_t i = 0; i < b->steps.n; i++)
        n += b->steps.at[i].cautions.n;
    return n;
}

static void row(struct cli_table *t, const char *what, size_t n, const char *detail)
{
    cli_table_cell(t, CLI_PLAIN, "%s", what);
    cli_table_cell(t, CLI_PLAIN, "%zu", n);
    cli_table_cell(t, CLI_QUIET, "%s", detail);
}

static void say_holdings(struct cli *ctx, const struct bulletin *b)
{
    char detail[80];
    struct cli_table *t = cli_table_new("lrl");
    cli_say(ctx, 4, "%s%s", bulletin_text_in(b, &b->head.title, b->head.language),
            b->head.is_invented ? " (invented)" : "");
    text_putc(&ctx->out, '\n');
    cli_table_head(t, (const char *const[]){"it holds", "n", ""});
    row(t, "stations", b->scope.stations.n, "");
    snprintf(detail, sizeof detail, "%zu build windows", count_windows(b));
    row(t, "variants", b->scope.variants.n, detail);
    row(t, "kits", b->kits.n, "");
    snprintf(detail, sizeof detail, "%zu cautions", count_cautions(b));
    row(t, "steps", b->steps.n, detail);
    row(t, "points", b->points.n, "");
    row(t, "adjusters", b->adjusters.n, "");
    row(t, "photos", b->proof.photos.n, "");
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
}

static void put_human(struct cli *ctx, const struct bulletin *b, const struct fault_list *list,
                      const struct text *source, const char *file, const struct check_more *more)
{
    say_verdict(ctx, b, list, file);
    fault_show(ctx, source, list->faults, list->n_faults, list->n_more_faults);
    if (b == NULL && !list->is_unreadable && !list->is_checked) {
        text_putc(&ctx->out, '\n');
        cli_say(ctx, 2,
                "What the bulletin means is checked once its form is right: mend these, then "
                "check again.");
    }
    if (list->n_warnings > 0) {
        text_puts(&ctx->out, "\n  Warnings: odd, but may be meant.\n");
        fault_show(ctx, source, list->warnings, list->n_warnings, list->n_more_warnings);
        text_putc(&ctx->out, '\n');
    }
    if (b != NULL)
        say_holdings(ctx, b);
    check_more_say(ctx, more);
}

/* ---- the call ---- */

static int exit_code(const struct bulletin *b, const struct fault_list *list)
{
    if (b != NULL)
        return CLI_GOOD;
    if (list->is_out_of_memory || (list->n_faults > 0 && list->faults[0].code == ERR_MEMORY))
        return CLI_FAILED;
    return list->is_unreadable ? CLI_WRONG : CLI_NO;
}

/* What cannot be read also gets the one line on stderr that every verb gives. */
static int judge(struct cli *ctx, const struct text *source, const char *path,
                 const struct check_order *order)
{
    struct fault_list list = {0};
    struct fault f = {0};
    struct check_more more = {0};
    struct bulletin *b =
        bulletin_load(source->data != NULL ? source->data : "", source->size, path, &list);
    int code = exit_code(b, &list);
    if (b != NULL && check_more_read(b, order, &list, &more, &f) != ERR_OK)
        code = cli_fault(ctx, &f);
    else if (order->is_export && b != NULL)
        code = put_export(ctx, b, source) == ERR_OK ? code : CLI_FAILED;
    else if (ctx->is_json)
        put_json(ctx, b, &list, path, &more);
    else
        put_human(ctx, b, &list, source, strcmp(path, "-") == 0 ? "standard input" : path, &more);
    if (b == NULL && code != CLI_NO && list.n_faults > 0)
        (void)cli_fault(ctx, &list.faults[0]);
    check_more_done(&more);
    bulletin_free(b);
    fault_list_done(&list);
    return code;
}

static int check(struct cli *ctx, const char *path, const struct check_order *order)
{
    struct text source = {0};
    struct fault f = {0};
    int code = CLI_WRONG;
    if (file_read(path, BULLETIN_SIZE_MAX, &source, &f) == ERR_OK) {
        code = judge(ctx, &source, path, order);
    } else {
        struct fault_list list = {0};
        const struct check_more none = {0};
        fault_list_add(&list, &f, false);
        if (ctx->is_json)
            put_json(ctx, NULL, &list, path, &none);
        (void)cli_fault(ctx, &f);
        code = f.code == ERR_MEMORY ? CLI_FAILED : CLI_WRONG;
        fault_list_done(&list);
    }
    text_done(&source);
    return code;
}

static int run(struct cli *ctx, int argc, char **argv)
{
    struct cli_arg args[CLI_ARGS_MAX];
    const int n = cli_options(ctx, &verb_check, argc, argv, args);
    const char *path = NULL;
    if (n < 0)
        return CLI_WRONG;
    if (cli_has(args, n, "--reference")) {
        reference_write(&ctx->out);
        return CLI_GOOD;
    }
    for (int i = 0; i < n; i++) {
        if (args[i].name != NULL)
            continue;
        if (path != NULL)
            return cli_error(ctx, "found a second file, '%.80s'; expected one bulletin",
                             args[i].value);
        path = args[i].value;
    }
    if (path == NULL)
        return cli_error(ctx, "which bulletin? As in: mendwright check BULLETIN.yaml");
    const struct check_order order = {.against = cli_value(args, n, "--against"),
                                      .store = cli_value(args, n, "--store"),
                                      .is_export = cli_has(args, n, "--export")};
    if (order.is_export && (order.against != NULL || order.store != NULL))
        return cli_error(ctx, "--export prints the bulletin and nothing else; found it with %s",
                         order.against != NULL ? "--against" : "--store");
    return check(ctx, path, &order);
}

const struct cli_verb verb_check = {
    .name = "check",
    .line = "check a bulletin: every fault with its line and what to do",
    .call = "check BULLETIN",
    .about =
        "Reads a bulletin (YAML) and says everything that is wrong with it: first its form (keys, "
        "dates, lengths, money), then what it means (windows that overlap, kits nobody can get, "
        "hazards without cautions, proof nobody is asked for). Faults make a bulletin unusable; "
        "warnings are odd but may be meant. `-` reads standard input.\n\n"
        "With --against, what is different from an older revision, one line a thing. With --store, "
        "what "
        "would follow if it were issued, nothing being written: units and stations that come into "
        "scope or "
        "leave it, claims whose ruling would change, and the money.\n\n"
        "Exit 0: valid. 1: faults. 2: not YAML, or not readable.",
    .example = "  $ mendwright check examples/OV-26-03.yaml\n"
               "  [=] Valid: OV-26-03 revision 2\n"
               "      Wall drive WD - racks slip out of step (invented)\n"
               "  ...\n"
               "  $ sed 's/2026-02-16/2026-02-30/' examples/OV-26-03.yaml | mendwright check -\n"
               "  [x] Not valid, 1 fault: standard input\n"
               "\n"
               "    line 17, column 11: bulletin.issued\n"
               "       17 |   issued: 2026-02-30\n"
               "          |           ^\n"
               "      there is no day 2026-02-30 (expected a date such as 2026-02-16).\n"
               "  ...",
    .options = options,
    .run = run,
};
