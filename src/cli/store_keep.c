/* store_keep: owns how the build list and papers are asked for and what is said of them. */
#include "cli/store_keep.h"

#include "base/json.h"
#include "base/jsonw.h"
#include "cli/moment.h"
#include "desk/builds.h"
#include "desk/papers.h"
#include "desk/shops_list.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

enum { REVISION_MAX = 1000000 };

/* ---- the build list ------------------------------------------------------------------------ */

static void say_builds(struct cli *ctx, const struct builds_answer *a)
{
    cli_verdict(ctx, CLI_STRONG, "Put %" PRId64 " row%s of the build list into the store.",
                a->n_rows, a->n_rows == 1 ? "" : "s");
    if (a->n_bad_checks == 0)
        return;
    cli_say(ctx, 4,
            "%" PRId64 " of them %s a VIN whose check digit is wrong, first %s in line %d. Not "
            "every country has one; where yours "
            "does, it is misprinted: `mendwright vin` proposes what it may have been.",
            a->n_bad_checks, a->n_bad_checks == 1 ? "has" : "have", a->first_bad_vin,
            a->first_bad_line);
}

static void put_builds(struct cli *ctx, const char *path, const struct builds_answer *a)
{
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_string(&w, "file", path);
    jsonw_int(&w, "rows", a->n_rows);
    jsonw_int(&w, "wrong_check_digits", a->n_bad_checks);
    jsonw_object(&w, "first_wrong");
    if (a->n_bad_checks > 0) {
        jsonw_string(&w, "vin", a->first_bad_vin);
        jsonw_int(&w, "line", a->first_bad_line);
    }
    jsonw_object_end(&w);
    jsonw_object_end(&w);
}

int store_keep_builds(struct cli *ctx, struct store *store, const char *path,
                      struct progress *progress)
{
    const struct store_progress step = {progress_show, progress};
    struct builds_answer a = {0};
    struct fault f = {0};
    const enum err e = builds_take(store, path, moment_now(), &step, &a, &f);
    progress_wipe(progress);
    if (e != ERR_OK)
        return cli_fault(ctx, &f);
    if (ctx->is_json)
        put_builds(ctx, path, &a);
    else
        say_builds(ctx, &a);
    return CLI_GOOD;
}

/* ---- papers -------------------------------------------------------------------------------- */

static bool read_revision(const char *s, int64_t *ret)
{
    int64_t n = 0;
    const size_t size = strlen(s);
    if (size == 0 || size > 7 || strspn(s, "0123456789") != size)
        return false;
    for (; *s != '\0'; s++)
        n = n * 10 + (*s - '0');
    *ret = n;
    return n >= 1 && n <= REVISION_MAX;
}

static void say_paper(struct cli *ctx, enum paper_kind kind, const struct paper_answer *a)
{
    static const char *const counted[PAPER_KIND_N] = {"step",    "row", "key",
                                                      "failure", "row", "kit"};
    char revision[40] = "";
    if (a->revision != STORE_UNKNOWN)
        snprintf(revision, sizeof revision, ", revision %" PRId64, a->revision);
    cli_verdict(ctx, CLI_STRONG,
                a->is_new ? "Kept %s \"%s\"%s."
                          : "Nothing to do: %s \"%s\"%s is the one that holds.",
                paper_kind_names[kind], a->name, revision);
    if (a->n_pictures > 0)
        cli_say(ctx, 4, "%zu %s%s, %zu picture%s.", a->n, counted[kind], a->n == 1 ? "" : "s",
                a->n_pictures, a->n_pictures == 1 ? "" : "s");
    else
        cli_say(ctx, 4, "%zu %s%s.", a->n, counted[kind], a->n == 1 ? "" : "s");
}

static void put_paper(struct cli *ctx, enum paper_kind kind, const struct paper_answer *a)
{
    struct jsonw w;
    char hex[DIGEST_HEX_ROOM];
    digest_hex(a->sha256, STORE_DIGEST, hex);
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_string(&w, "kind", paper_kind_names[kind]);
    jsonw_string(&w, "name", a->name);
    if (a->revision != STORE_UNKNOWN)
        jsonw_int(&w, "revision", a->revision);
    else
        jsonw_null(&w, "revision");
    jsonw_bool(&w, "new", a->is_new);
    jsonw_string(&w, "sha256", hex);
    if (kind == PAPER_BULLETIN)
        jsonw_int(&w, "pictures", (int64_t)a->n_pictures);
    jsonw_object_end(&w);
}

/* The first fault, and how many there are; the rest is for `check`. */
static int refuse(const struct cli *ctx, const struct fault *f, const struct fault_list *faults)
{
    const size_t n = faults->n_faults + faults->n_more_faults;
    struct fault said = *f;
    const size_t used = strlen(said.message);
    if (n > 1)
        snprintf(said.message + used, sizeof said.message - used,
                 " (and %zu more; `mendwright check` lists them)", n - 1);
    return cli_fault(ctx, &said);
}

int store_keep_paper(struct cli *ctx, struct store *store, const char *kind, const char *path,
                     const char *name, const char *revision)
{
    struct paper_order order = {
        .path = path, .name = name, .revision = STORE_UNKNOWN, .now_ms = moment_now()};
    struct paper_answer a = {0};
    struct fault_list faults = {0};
    struct fault f = {0};
    int k = 0;
    while (k < PAPER_KIND_N && strcmp(kind, paper_kind_names[k]) != 0)
        k++;
    if (k == PAPER_KIND_N)
        return cli_error_near(ctx, "the kind", kind, paper_kind_names, PAPER_KIND_N,
                              "expected bulletin, shops, keys, failures, reserve or stock");
    order.kind = (enum paper_kind)k;
    if (revision != NULL && !read_revision(revision, &order.revision))
        return cli_error(ctx, "--revision '%.40s': expected a whole number 1..%d", revision,
                         (int)REVISION_MAX);
    const enum err e = paper_keep(store, &order, &faults, &a, &f);
    int code = CLI_GOOD;
    if (e != ERR_OK)
        code = refuse(ctx, &f, &faults);
    else if (ctx->is_json)
        put_paper(ctx, order.kind, &a);
    else
        say_paper(ctx, order.kind, &a);
    fault_list_done(&faults);
    return code;
}

/* ---- shops --------------------------------------------------------------------------------- */

/* A shop's rows and keys, a line each. */
static void say_shop(struct cli_table *table, json_node *shop)
{
    json_node *rows = json_get(shop, "rows"), *keys = json_get(shop, "keys");
    const size_t n_rows = json_size(rows), n_keys = json_size(keys);
    for (size_t i = 0; i == 0 || i < n_rows || i < n_keys; i++) {
        json_node *row = json_at(rows, i), *key = json_at(keys, i);
        const char *kind = row != NULL ? json_string(json_get(row, "kind"), NULL) : NULL;
        const char *rate = row != NULL ? json_string(json_get(row, "rate"), NULL) : NULL;
        const char *from = row != NULL ? json_string(json_get(row, "from"), NULL) : NULL;
        const char *hex = key != NULL ? json_string(key, NULL) : NULL;
        cli_table_cell(table, CLI_STRONG, "%s",
                       i == 0 ? json_string(json_get(shop, "shop"), NULL) : "");
        cli_table_cell(table, CLI_PLAIN, "%s",
                       kind != NULL ? kind
                       : i == 0     ? "not in the list"
                                    : "");
        cli_table_cell(table, CLI_PLAIN, "%s",
                       rate != NULL   ? rate
                       : kind != NULL ? "the bulletin's"
                                      : "");
        cli_table_cell(table, CLI_PLAIN, "%s", from != NULL ? from : kind != NULL ? "always" : "");
        if (i == 0)
            cli_table_cell(table, CLI_PLAIN, "%" PRId64, json_int(json_get(shop, "claims")));
        else
            cli_table_cell(table, CLI_PLAIN, "%s", "");
        cli_table_cell(table, CLI_QUIET, "%.16s", hex != NULL ? hex : "");
    }
}

/* What is told is the JSON of the pages, so that both say the same. */
int store_keep_shops(struct cli *ctx, struct store *store)
{
    static const char *const head[] = {"Shop", "Kind", "Rate an hour", "From", "Claims", "Key"};
    char tag[SHOPS_TAG_ROOM];
    struct text told = {0};
    struct json_doc *doc = NULL;
    struct jsonw w;
    struct fault f = {0};
    jsonw_start(&w, &told);
    jsonw_object(&w, NULL);
    enum err err = shops_tell(store, &w, tag, &f);
    jsonw_object_end(&w);
    if (err == ERR_OK && !ctx->is_json)
        err = json_parse(told.data, told.size, "shops", &doc, &f);
    if (err == ERR_OK && ctx->is_json)
        text_add(&ctx->out, told.data, told.size);
    if (err == ERR_OK && !ctx->is_json) {
        json_node *shops = json_get(json_root(doc), "shops");
        struct cli_table *table = cli_table_new("llrlrl");
        cli_table_head(table, head);
        for (size_t i = 0; i < json_size(shops); i++)
            say_shop(table, json_at(shops, i));
        cli_table_print(table, ctx, 2);
        cli_table_free(table);
    }
    json_free(doc);
    text_done(&told);
    return err == ERR_OK ? CLI_GOOD : cli_fault(ctx, &f);
}
