/* verb_take: takes bags into a store, one after the other, each acknowledged as soon as it is safe. */
#include "base/pool.h"
#include "cli/moment.h"
#include "cli/progress.h"
#include "cli/take_job.h"
#include "cli/verbs.h"
#include "desk/papers.h"

#include <errno.h>
#include <string.h>

struct call {
    struct cli *ctx;
    const char *store, *keys, *at, *arrivals;
    struct take_items items;
    struct keyring ring;
    struct progress progress;
    struct take_tally tally;
};

/* ---- keys ---------------------------------------------------------------------------------------- */

/* The keyring that was given, else the ones that the store keeps. */
static enum err load_keys(struct call *c, struct store *store, struct fault *f)
{
    return c->keys != NULL ? keyring_load(&c->ring, c->keys, f) : papers_ring(store, &c->ring, f);
}

/* ---- bags ---------------------------------------------------------------------------------------- */

/* What was said of a bag goes out at once: whoever reads it may rely on it. */
static int hand_on(struct call *c)
{
    struct text *out = &c->ctx->out;
    if (out->is_broken) {
        cli_error(c->ctx, "memory ran out");
        return CLI_FAILED;
    }
    if (out->size == 0)
        return CLI_GOOD;
    progress_wipe(&c->progress);
    errno = 0;
    if (fwrite(out->data, 1, out->size, stdout) != out->size || fflush(stdout) != 0) {
        cli_error(c->ctx, "the answer could not be written: %s", strerror(errno));
        text_clear(out);
        return CLI_FAILED;
    }
    text_clear(out);
    return CLI_GOOD;
}

static void count(struct take_tally *t, const struct take_answer *a)
{
    t->n++;
    t->n_taken += a->result == TAKE_TAKEN;
    t->n_already += a->result == TAKE_ALREADY;
    t->n_refused += a->result == TAKE_REFUSED;
    t->n_photos += a->n_photos;
    t->n_findings += a->n_findings;
}

/* One bag. A path that can no longer be opened is said and passed over. */
static int take_one(struct call *c, struct store *store, const struct take_item *item,
                    struct take_answer *answer)
{
    const struct take_order order = {.path = item->path,
                                     .ring = c->ring.n > 0 ? &c->ring : NULL,
                                     .now_ms =
                                         item->at_ms != STORE_UNKNOWN ? item->at_ms : moment_now(),
                                     .n_threads = pool_threads()};
    struct fault f = {0};
    if (take_bag(store, &order, answer, &f) != ERR_OK) {
        progress_wipe(&c->progress);
        return cli_fault(c->ctx, &f);
    }
    count(&c->tally, answer);
    take_say_one(c->ctx, item->path, answer);
    const int code = hand_on(c);
    return code == CLI_GOOD && answer->result == TAKE_REFUSED ? CLI_NO : code;
}

static int take_all(struct call *c, struct store *store)
{
    const size_t n = c->items.n;
    struct take_answer answer = {0};
    int worst = CLI_GOOD;
    for (size_t i = 0; i < n && worst != CLI_FAILED; i++) {
        take_answer_done(&answer);
        progress_show(&c->progress, "bags", i, n);
        const int code = take_one(c, store, &c->items.items[i], &answer);
        worst = code > worst ? code : worst;
    }
    progress_wipe(&c->progress);
    if (!c->ctx->is_json && c->tally.n > 0)
        take_say_all(c->ctx, &c->tally, n == 1 ? &answer : NULL);
    take_answer_done(&answer);
    const int code = hand_on(c);
    return code > worst ? code : worst;
}

/* ---- the call ------------------------------------------------------------------------------------ */

static int read_items(struct call *c, const struct cli_arg *args, int n)
{
    struct fault f = {0};
    int64_t at_ms = STORE_UNKNOWN;
    enum err err = ERR_OK;
    if (c->at != NULL && c->arrivals != NULL)
        return cli_error(c->ctx, "found --at and --arrivals; expected one of them");
    if (c->at != NULL && !moment_read(c->at, &at_ms))
        return cli_error(c->ctx, "--at '%.40s': expected " MOMENT_WANTED, c->at);
    for (int i = 0; i < n && err == ERR_OK; i++)
        if (args[i].name == NULL)
            err = take_items_add(&c->items, args[i].value, at_ms, &f);
    if (err == ERR_OK && c->arrivals != NULL)
        err = take_items_arrivals(&c->items, c->arrivals, &f);
    if (err != ERR_OK)
        return cli_fault(c->ctx, &f);
    if (c->items.n == 0)
        return cli_error(c->ctx, "found no bag; expected folders or zips, or --arrivals");
    return CLI_GOOD;
}

static int run_in_store(struct call *c)
{
    struct fault f = {0};
    struct store *store = NULL;
    if (store_open(c->store, STORE_WRITE, &store, &f) != ERR_OK)
        return cli_fault(c->ctx, &f);
    progress_start(&c->progress);
    const int code = load_keys(c, store, &f) != ERR_OK ? cli_fault(c->ctx, &f) : take_all(c, store);
    store_close(store);
    return code;
}

static int run_take(struct cli *ctx, int argc, char **argv)
{
    struct cli_arg args[CLI_ARGS_MAX];
    struct call c = {.ctx = ctx};
    const int n = cli_options(ctx, &verb_take, argc, argv, args);
    if (n < 0)
        return CLI_WRONG;
    c.store = cli_value(args, n, "--store");
    c.keys = cli_value(args, n, "--keys");
    c.at = cli_value(args, n, "--at");
    c.arrivals = cli_value(args, n, "--arrivals");
    if (c.store == NULL)
        return cli_error(ctx, "found no --store; expected the store's folder");
    int code = read_items(&c, args, n);
    if (code == CLI_GOOD)
        code = run_in_store(&c);
    take_items_done(&c.items);
    keyring_done(&c.ring);
    return code;
}

static const struct cli_option options[] = {
    {"--store", "FOLDER", "the store's folder; `store init` makes one", false},
    {"--keys", "FILE",
     "the keyring, a text file with a line 'SHOP KEY' for each key, or a folder of .pub files; "
     "else what the store keeps",
     false},
    {"--at", "TIME",
     "the desk's clock: UTC such as 2026-03-05T09:14:00Z, or milliseconds since 1970; else now",
     false},
    {"--arrivals", "FILE.csv",
     "bags and the desk's clock for each: columns bag (a path beside the file, or in bags/ "
     "beside it) and arrived_ms, in this order",
     false},
    {NULL, NULL, NULL, false},
};

const struct cli_verb verb_take = {
    .name = "take",
    .line = "take in bags of proof as claims",
    .call = "take BAG... --store FOLDER [--keys FILE] [--at TIME] | take --arrivals FILE.csv "
            "--store FOLDER",
    .about =
        "Verifies each bag (a folder, or a zip of one, as `bag make` and the phone make them), "
        "replays its events, looks at its photos "
        "and puts all of it into the store in one step: a claim is there whole or not at all, and "
        "once it was told it outlives a "
        "crash. A folder that holds zips and is no bag itself stands for all of them, in the order "
        "of their names.\n"
        "\n"
        "A claim is named by what the bag holds, not by how it is packed or signed: the same job "
        "as a folder, as a zip, or sent again "
        "is the same claim, and taking it in again changes nothing. The same job with more proof "
        "is a new claim, which replaces the "
        "earlier one when it is ruled on.\n"
        "\n"
        "Refused, and nothing kept: a bag that is not valid or whose signature is bad, one without "
        "data/events.json, events that "
        "cannot be read. Photos that are missing, changed, or named by no event are findings, kept "
        "with the claim.\n"
        "\n"
        "Exit 0 when every bag is in the store, 1 when some were refused, 2 when the call is wrong "
        "or a path cannot be read (then "
        "nothing was taken in), 3 when the store could not finish; what was told before stays.",
    .example = "  $ d=$(mktemp -d); mendwright store init --store $d/claims >$d/log;\\\n"
               "      mendwright bag make examples/jobs/ov-26-03-a -o $d/job.zip >$d/log;\\\n"
               "      mendwright take $d/job.zip --store $d/claims; rm -r $d\n"
               "  [=] Taken in as claim K...\n"
               "      ZZZFM24T5R0001234, 15 photos, signature: none.\n",
    .options = options,
    .run = run_take,
};
