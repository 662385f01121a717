/* verb_bag: verifies bags, packs a job as one, makes a shop's keys. */
#include "base/digest.h"
#include "base/jsonw.h"
#include "cli/verbs.h"
#include "core/date.h"
#include "proof/bag.h"
#include "proof/bag_make.h"

#include <string.h>

enum { WORDS_MAX = 2 };

/* What the call says, by name. */
struct call {
    const char *words[WORDS_MAX]; /* operands: the action, then a path */
    int n_words;
    const char *keys, *key, *out, *date, *shop;
};

/* ---- verify -----------------------------------------------------------------------------------*/

static void verify_json(struct cli *ctx, const struct bag_result *r)
{
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_bool(&w, "valid", r->is_valid);
    jsonw_bool(&w, "complete", r->is_complete);
    jsonw_string(&w, "version", r->version[0] ? r->version : NULL);
    jsonw_array(&w, "faults");
    for (size_t i = 0; i < r->n_faults; i++) {
        jsonw_object(&w, NULL);
        jsonw_string(&w, "kind", bag_kind_word(r->faults[i].kind));
        jsonw_string(&w, "path", r->faults[i].path);
        jsonw_string(&w, "message", r->faults[i].message);
        jsonw_object_end(&w);
    }
    jsonw_array_end(&w);
    jsonw_int(&w, "more_faults", (int64_t)r->n_more_faults);
    jsonw_array(&w, "warnings");
    for (size_t i = 0; i < r->n_warnings; i++)
        jsonw_string(&w, NULL, r->warnings[i]);
    jsonw_array_end(&w);
    jsonw_int(&w, "more_warnings", (int64_t)r->n_more_warnings);
    jsonw_string(&w, "signature", bag_signature_word(r->signature));
    jsonw_string(&w, "shop", r->shop[0] ? r->shop : NULL);
    jsonw_int(&w, "bytes", (int64_t)r->bytes);
    jsonw_int(&w, "files", (int64_t)r->files);
    jsonw_object_end(&w);
}

static void say_signature(struct cli *ctx, const struct bag_result *r)
{
    switch (r->signature) {
    case BAG_SIGNATURE_GOOD:
        cli_say(ctx, 4, "Signed by %s, with a key in the keyring.", r->shop);
        break;
    case BAG_SIGNATURE_BAD:
        cli_say(ctx, 4, "The signature is bad.");
        break;
    case BAG_SIGNATURE_UNKNOWN_KEY:
        cli_say(ctx, 4, "Signed as %s, by a key that nobody here vouches for.", r->shop);
        break;
    default:
        cli_say(ctx, 4, "Not signed.");
        break;
    }
}

static void say_found(struct cli *ctx, const struct bag_result *r)
{
    for (size_t i = 0; i < r->n_faults; i++) {
        const struct bag_fault *f = &r->faults[i];
        cli_say(ctx, 4, "%s: %s%s%s", bag_kind_word(f->kind), f->path, f->path[0] ? ": " : "",
                f->message);
    }
    if (r->n_more_faults > 0)
        cli_say(ctx, 4, "and %zu more", r->n_more_faults);
    for (size_t i = 0; i < r->n_warnings; i++)
        cli_say(ctx, 4, "warning: %s", r->warnings[i]);
    if (r->n_more_warnings > 0)
        cli_say(ctx, 4, "and %zu more warnings", r->n_more_warnings);
}

static void verify_say(struct cli *ctx, const struct bag_result *r, int code)
{
    if (!r->is_valid)
        cli_verdict(ctx, CLI_STOP,
                    r->is_complete ? "The bag is complete, but its sums do not agree."
                                   : "The bag is not whole.");
    else if (code == CLI_NO)
        cli_verdict(ctx, CLI_STOP, "The bag is whole, but its signature is bad.");
    else if (code == CLI_PERSON)
        cli_verdict(ctx, CLI_QUIET, "The bag is whole; nobody here can say who made it.");
    else
        cli_verdict(ctx, CLI_STRONG, "The bag is whole.");
    if (r->version[0])
        cli_say(ctx, 4, "Version %s, %llu bytes in %llu file%s.", r->version,
                (unsigned long long)r->bytes, (unsigned long long)r->files,
                r->files == 1 ? "" : "s");
    if (r->is_valid || r->signature != BAG_SIGNATURE_NONE)
        say_signature(ctx, r);
    say_found(ctx, r);
    if (code == CLI_GOOD)
        return;
    text_putc(&ctx->out, '\n');
    cli_verdict(ctx, CLI_ACT,
                code == CLI_PERSON
                    ? "Ask the shop for its public key, and put it into the keyring."
                    : "Ask the shop to pack and send it again; change nothing in it.");
}

static int verify_code(const struct bag_result *r, bool is_asked_who)
{
    if (!r->is_valid || r->signature == BAG_SIGNATURE_BAD)
        return CLI_NO;
    return is_asked_who && r->signature != BAG_SIGNATURE_GOOD ? CLI_PERSON : CLI_GOOD;
}

static int run_verify(struct cli *ctx, const struct call *call)
{
    struct keyring ring = {0};
    struct bag_result result = {0};
    struct fault f = {0};
    int code = CLI_GOOD;
    enum err err = ERR_OK;
    if (call->key || call->out || call->date || call->shop)
        return cli_error(ctx, "verify takes --keys alone");
    if (call->keys != NULL)
        err = keyring_load(&ring, call->keys, &f);
    if (err == ERR_OK)
        err = bag_verify(call->words[1], NULL, call->keys ? &ring : NULL, &result, &f);
    if (err != ERR_OK) {
        code = cli_fault(ctx, &f);
    } else {
        code = verify_code(&result, call->keys != NULL);
        if (ctx->is_json)
            verify_json(ctx, &result);
        else
            verify_say(ctx, &result, code);
    }
    bag_result_done(&result);
    keyring_done(&ring);
    return code;
}

/* ---- make -------------------------------------------------------------------------------------*/

static void make_answer(struct cli *ctx, const struct call *call, const struct bag_made *made,
                        const char *shop)
{
    char hex[DIGEST_HEX_ROOM];
    digest_hex(made->sha256, sizeof made->sha256, hex);
    if (ctx->is_json) {
        struct jsonw w;
        jsonw_start(&w, &ctx->out);
        jsonw_object(&w, NULL);
        jsonw_string(&w, "path", call->out);
        jsonw_string(&w, "sha256", hex);
        jsonw_int(&w, "files", (int64_t)made->files);
        jsonw_int(&w, "bytes", (int64_t)made->bytes);
        jsonw_int(&w, "zip_bytes", (int64_t)made->zip_bytes);
        jsonw_string(&w, "folder", made->folder);
        jsonw_string(&w, "shop", shop);
        jsonw_object_end(&w);
        return;
    }
    cli_verdict(ctx, CLI_STRONG, "Packed, read back and found whole: %s", call->out);
    cli_say(ctx, 4, "%llu bytes in %llu file%s.", (unsigned long long)made->bytes,
            (unsigned long long)made->files, made->files == 1 ? "" : "s");
    if (shop != NULL)
        cli_say(ctx, 4, "Signed as %s.", shop);
    else
        cli_say(ctx, 4, "Not signed.");
    cli_say(ctx, 4, "sha256 %s", hex);
}

static int run_make(struct cli *ctx, const struct call *call)
{
    struct keyring_secret secret = {.shop = ""};
    struct bag_made made;
    struct fault f = {0};
    int32_t day = 0;
    int code = CLI_GOOD;
    enum err err = ERR_OK;
    if (call->keys || call->shop)
        return cli_error(ctx, "make takes -o, --key and --date alone");
    if (call->out == NULL)
        return cli_error(ctx, "found no -o; expected -o OUT.zip");
    if (call->date != NULL && date_parse(call->date, strlen(call->date), &day) != ERR_OK)
        return cli_error(ctx, "--date '%.40s': expected a date such as 2026-03-02", call->date);
    if (call->key != NULL)
        err = keyring_secret_load(call->key, &secret, &f);
    const struct bag_order order = {.folder = call->words[1],
                                    .out = call->out,
                                    .secret = call->key ? &secret : NULL,
                                    .date = call->date};
    if (err == ERR_OK)
        err = bag_make(&order, &made, &f);
    if (err == ERR_OK)
        make_answer(ctx, call, &made, call->key ? secret.shop : NULL);
    else
        code = cli_fault(ctx, &f);
    sign_forget(&secret, sizeof secret);
    return code;
}

/* ---- key --------------------------------------------------------------------------------------*/

/* The shop's id when none is given: the file's name without folder and ending. */
static size_t name_part(const char *path, const char **ret)
{
    const char *slash = strrchr(path, '/');
    const char *name = slash ? slash + 1 : path;
    const char *dot = strrchr(name, '.');
    *ret = name;
    return dot != NULL && dot != name ? (size_t)(dot - name) : strlen(name);
}

static int run_key(struct cli *ctx, const struct call *call)
{
    char shop[KEYRING_SHOP_MAX + 1], hex[DIGEST_HEX_ROOM];
    uint8_t key[SIGN_KEY_SIZE];
    struct fault f = {0};
    const char *id = call->shop;
    size_t n = id ? strlen(id) : 0;
    if (call->keys || call->key || call->out || call->date)
        return cli_error(ctx, "key takes --shop alone");
    if (id == NULL)
        n = name_part(call->words[1], &id);
    if (!keyring_is_shop(id, n))
        return cli_error(
            ctx, "'%.80s' is no shop id; expected --shop ID of letters, digits, '.', '_', '-'", id);
    memcpy(shop, id, n);
    shop[n] = '\0';
    if (keyring_pair_write(call->words[1], shop, key, &f) != ERR_OK)
        return cli_fault(ctx, &f);
    digest_hex(key, sizeof key, hex);
    if (ctx->is_json) {
        struct jsonw w;
        jsonw_start(&w, &ctx->out);
        jsonw_object(&w, NULL);
        jsonw_string(&w, "path", call->words[1]);
        jsonw_string(&w, "shop", shop);
        jsonw_string(&w, "key", hex);
        jsonw_object_end(&w);
        return CLI_GOOD;
    }
    cli_verdict(ctx, CLI_STRONG, "A key pair for %s.", shop);
    cli_say(ctx, 4, "Secret: %s. Keep it; whoever has it can sign as this shop.", call->words[1]);
    cli_say(ctx, 4,
            "Public: %s.pub. Send this one; its line goes into the keyring:", call->words[1]);
    cli_say(ctx, 4, "%s %s", shop, hex);
    return CLI_GOOD;
}

/* ---- the call ---------------------------------------------------------------------------------*/

static const struct {
    const char *name;
    int (*run)(struct cli *ctx, const struct call *call);
    const char *operand;
} actions[] = {
    {"verify", run_verify, "the path of a bag"},
    {"make", run_make, "the folder of a job"},
    {"key", run_key, "the name of the secret key's file"},
};

static int refuse_action(const struct cli *ctx, const char *word)
{
    const char *known[sizeof actions / sizeof *actions];
    for (size_t i = 0; i < sizeof actions / sizeof *actions; i++)
        known[i] = actions[i].name;
    return cli_error_near(ctx, "the action", word, known, sizeof known / sizeof *known,
                          "expected verify, make or key");
}

static int run_bag(struct cli *ctx, int argc, char **argv)
{
    struct cli_arg args[CLI_ARGS_MAX];
    const int n = cli_options(ctx, &verb_bag, argc, argv, args);
    if (n < 0)
        return CLI_WRONG;
    struct call call = {.keys = cli_value(args, n, "--keys"),
                        .key = cli_value(args, n, "--key"),
                        .out = cli_value(args, n, "-o"),
                        .date = cli_value(args, n, "--date"),
                        .shop = cli_value(args, n, "--shop")};
    for (int i = 0; i < n; i++) {
        if (args[i].name != NULL)
            continue;
        if (call.n_words == WORDS_MAX)
            return cli_error(ctx, "found '%.80s' too; expected one path", args[i].value);
        call.words[call.n_words++] = args[i].value;
    }
    if (call.n_words == 0)
        return cli_error(ctx, "found no action; expected verify, make or key");
    for (size_t i = 0; i < sizeof actions / sizeof *actions; i++) {
        if (strcmp(call.words[0], actions[i].name) != 0)
            continue;
        if (call.n_words < WORDS_MAX)
            return cli_error(ctx, "%s: expected %s", actions[i].name, actions[i].operand);
        return actions[i].run(ctx, &call);
    }
    return refuse_action(ctx, call.words[0]);
}

static const struct cli_option options[] = {
    {"--keys", "FILE",
     "verify: the keyring, a text file with a line 'SHOP KEY' for each key, or a folder of .pub "
     "files; the bag must then be signed by one of them",
     false},
    {"-o", "OUT.zip", "make: the zip to write", false},
    {"--key", "FILE", "make: the shop's secret key, to sign with", false},
    {"--date", "DATE",
     "make: the Bagging-Date, such as 2026-03-02; else the day of the last change to a file, UTC",
     false},
    {"--shop", "ID", "key: the shop's id; else the file's name without its ending", false},
    {NULL, NULL, NULL, false},
};

const struct cli_verb verb_bag = {
    .name = "bag",
    .line = "pack the proof of a job, or check a packed one",
    .call = "bag verify PATH [--keys FILE]  |  bag make JOBDIR -o OUT.zip [--key FILE]  |  "
            "bag key OUT [--shop ID]",
    .about =
        "A bag is a folder, or a zip of one, that says of each file what its sum must be (RFC "
        "8493, "
        "BagIt). verify takes any bag of version 0.97 or 1.0, with md5, sha1, sha256 or sha512 "
        "sums, whoever made it. It is complete when every file listed is there and every file "
        "there is listed, valid when all sums agree as well. Nothing is unpacked to disk, nothing "
        "is "
        "fetched, and a zip made to do harm is refused before it is unpacked.\n"
        "\n"
        "make packs every file of a job's folder into a bag in a zip, reads it back and verifies "
        "it "
        "before it takes its place. The same files, date and key give the same bytes. Links and "
        "devices are refused.\n"
        "\n"
        "key makes a shop's key pair: OUT, to be kept secret, and OUT.pub, to be sent to whoever "
        "checks. The signature (Ed25519, RFC 8032) covers the tag manifest, and through it every "
        "byte.\n"
        "\n"
        "Exit 0 when the bag is valid; 1 when it is not, or its signature is bad; 4 when --keys "
        "was "
        "given and the bag is unsigned or signed by a key that is not in it; 2 when a path or key "
        "cannot be used; 3 when disk or memory failed. \"valid\" in JSON is RFC 8493's word alone.",
    .example = "  $ mendwright bag verify examples\n"
               "  [x] The bag is not whole.\n"
               "      declaration: bagit.txt: is missing: this is not a bag\n"
               "\n"
               "  [>] Ask the shop to pack and send it again; change nothing in it.\n",
    .options = options,
    .run = run_bag,
};
