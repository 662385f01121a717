/* verb store: owns the calls that make, verify, rebuild, tidy and copy a store. */
#include "base/jsonw.h"
#include "cli/moment.h"
#include "cli/progress.h"
#include "cli/store_give.h"
#include "cli/store_keep.h"
#include "cli/verbs.h"
#include "desk/audit.h"
#include "store/jobs.h"
#include "store/store.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { HEX = 2 * STORE_DIGEST, WORDS_MAX = 2 };

/* ---- the answers ------------------------------------------------------------------------------- */

static void put_counts(struct jsonw *w, const struct store_counts *c)
{
    jsonw_int(w, "entries", c->entries);
    jsonw_int(w, "events", c->events);
    jsonw_int(w, "claims", c->claims);
    jsonw_int(w, "units", c->units);
    jsonw_int(w, "readings", c->readings);
    jsonw_int(w, "photos", c->photos);
    jsonw_int(w, "rulings", c->rulings);
    jsonw_int(w, "papers", c->papers);
    jsonw_int(w, "builds", c->builds);
}

static void put_health(struct cli *ctx, const struct store_health *h, const char *head)
{
    const size_t n = h->n_faults < STORE_FAULTS_MAX ? (size_t)h->n_faults : STORE_FAULTS_MAX;
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_bool(&w, "ok", h->n_faults == 0);
    put_counts(&w, &h->counts);
    jsonw_array(&w, "faults");
    for (size_t i = 0; i < n; i++) {
        jsonw_object(&w, NULL);
        jsonw_string(&w, "kind", h->faults[i].kind);
        jsonw_string(&w, "where", h->faults[i].where);
        jsonw_string(&w, "message", h->faults[i].message);
        jsonw_object_end(&w);
    }
    jsonw_array_end(&w);
    jsonw_int(&w, "more_faults", h->n_faults - (int64_t)n);
    jsonw_int(&w, "orphans", h->n_orphans);
    jsonw_int(&w, "orphan_bytes", h->orphan_bytes);
    jsonw_string(&w, "head", head);
    jsonw_object_end(&w);
}

static void say_counts(struct cli *ctx, const struct store_counts *c)
{
    cli_say(ctx, 4,
            "%" PRId64 " claims on %" PRId64 " units: %" PRId64 " events, %" PRId64
            " readings, %" PRId64 " photos, %" PRId64 " rulings; %" PRId64 " papers and %" PRId64
            " rows of the build list; %" PRId64 " entries in the log.",
            c->claims, c->units, c->events, c->readings, c->photos, c->rulings, c->papers,
            c->builds, c->entries);
}

static void say_health(struct cli *ctx, const struct store_health *h, const char *head)
{
    const size_t n = h->n_faults < STORE_FAULTS_MAX ? (size_t)h->n_faults : STORE_FAULTS_MAX;
    if (h->n_faults == 0)
        cli_verdict(ctx, CLI_STRONG, "The store is whole.");
    else
        cli_verdict(ctx, CLI_STOP, "The store is not whole: %" PRId64 " fault%s.", h->n_faults,
                    h->n_faults == 1 ? "" : "s");
    say_counts(ctx, &h->counts);
    for (size_t i = 0; i < n; i++)
        cli_say(ctx, 4, "%s, %s: %s.", h->faults[i].kind, h->faults[i].where, h->faults[i].message);
    if (h->n_faults > (int64_t)n)
        cli_say(ctx, 4, "... and %" PRId64 " more.", h->n_faults - (int64_t)n);
    if (h->n_orphans > 0)
        cli_say(ctx, 4,
                "%" PRId64 " leftover file%s (%" PRId64 " bytes) in photos/ that no claim names; "
                "`store tidy` removes what is left over.",
                h->n_orphans, h->n_orphans == 1 ? "" : "s", h->orphan_bytes);
    cli_say(ctx, 4, "Head of the log: %s.", head);
    if (h->n_faults == 0)
        return;
    text_putc(&ctx->out, '\n');
    bool is_derived = h->n_faults <= (int64_t)n;
    for (size_t i = 0; i < n; i++)
        is_derived &= strcmp(h->faults[i].kind, "derived") == 0;
    cli_verdict(ctx, CLI_ACT, "%s",
                is_derived
                    ? "Only tables that follow from the log are wrong: `store rebuild` mends them."
                    : "Put a copy of the store aside, then restore the last good backup.");
}

/* ---- the calls --------------------------------------------------------------------------------- */

struct call {
    struct cli *ctx;
    const char *path, *head, *name, *revision;
    bool with_people, without_people;
    const char *words[WORDS_MAX]; /* behind the call's own */
    int n_words;
    struct progress progress;
    struct store_progress step;
};

static int run_init(struct call *c)
{
    struct fault f = {0};
    bool is_made = false;
    if (store_init(c->path, &is_made, &f) != ERR_OK)
        return cli_fault(c->ctx, &f);
    if (c->ctx->is_json) {
        struct jsonw w;
        jsonw_start(&w, &c->ctx->out);
        jsonw_object(&w, NULL);
        jsonw_string(&w, "store", c->path);
        jsonw_bool(&w, "made", is_made);
        jsonw_object_end(&w);
    } else
        cli_verdict(c->ctx, CLI_STRONG,
                    is_made ? "Made an empty store in %s."
                            : "There is a store in %s; it is up to date.",
                    c->path);
    return CLI_GOOD;
}

static int verify(struct call *c, struct store *s, struct store_health *h)
{
    struct fault f = {0};
    uint8_t head[STORE_DIGEST];
    char hex[DIGEST_HEX_ROOM];
    if (c->head != NULL && (strlen(c->head) != HEX || !digest_unhex(c->head, STORE_DIGEST, head)))
        return cli_error(c->ctx,
                         "--head '%.80s': expected the %d hexadecimal digits that an earlier "
                         "`store verify` printed",
                         c->head, HEX);
    const enum err err = store_verify(s, c->head != NULL ? head : NULL, &c->step, h, &f);
    progress_wipe(&c->progress);
    if (err != ERR_OK)
        return cli_fault(c->ctx, &f);
    digest_hex(h->head, STORE_DIGEST, hex);
    if (c->ctx->is_json)
        put_health(c->ctx, h, hex);
    else
        say_health(c->ctx, h, hex);
    return h->n_faults == 0 ? CLI_GOOD : CLI_NO;
}

static int run_verify(struct call *c, struct store *s)
{
    struct store_health *h = malloc(sizeof *h);
    struct fault f = {0};
    if (h == NULL) {
        (void)fault_no_memory(&f);
        return cli_fault(c->ctx, &f);
    }
    const int code = verify(c, s, h);
    free(h);
    return code;
}

static int run_rebuild(struct call *c, struct store *s)
{
    struct fault f = {0};
    int64_t n = 0;
    const enum err err = store_rebuild(s, &c->step, &n, &f);
    progress_wipe(&c->progress);
    if (err == ERR_DOMAIN) { /* an answer: this log cannot be built upon */
        if (!c->ctx->is_json)
            cli_verdict(c->ctx, CLI_STOP, "Not rebuilt: %s.", f.message);
    } else if (err != ERR_OK)
        return cli_fault(c->ctx, &f);
    else if (!c->ctx->is_json)
        cli_verdict(c->ctx, CLI_STRONG, "Rebuilt every table from %" PRId64 " entries of the log.",
                    n);
    if (c->ctx->is_json) {
        struct jsonw w;
        jsonw_start(&w, &c->ctx->out);
        jsonw_object(&w, NULL);
        jsonw_bool(&w, "ok", err == ERR_OK);
        jsonw_int(&w, "entries", n);
        jsonw_string(&w, "fault", err == ERR_OK ? NULL : f.message);
        jsonw_object_end(&w);
    }
    return err == ERR_OK ? CLI_GOOD : CLI_NO;
}

static int run_tidy(struct call *c, struct store *s)
{
    struct fault f = {0};
    int64_t n_files = 0, n_bytes = 0;
    if (store_tidy(s, &n_files, &n_bytes, &f) != ERR_OK)
        return cli_fault(c->ctx, &f);
    if (c->ctx->is_json) {
        struct jsonw w;
        jsonw_start(&w, &c->ctx->out);
        jsonw_object(&w, NULL);
        jsonw_int(&w, "removed", n_files);
        jsonw_int(&w, "bytes", n_bytes);
        jsonw_object_end(&w);
    } else
        cli_verdict(c->ctx, CLI_STRONG, "Removed %" PRId64 " leftover file%s, %" PRId64 " bytes.",
                    n_files, n_files == 1 ? "" : "s", n_bytes);
    return CLI_GOOD;
}

static int run_backup(struct call *c, struct store *s)
{
    struct fault f = {0};
    struct store_counts counts = {0};
    const char *dest = c->words[0];
    int64_t n_people = 0, n_jobs = 0;
    enum err err = c->with_people
                       ? store_backup_with_people(s, dest, &c->step, &counts, &n_people, &f)
                       : store_backup(s, dest, &c->step, &counts, &f);
    if (err == ERR_OK)
        err = jobs_count(dest, &n_jobs, &f);
    progress_wipe(&c->progress);
    if (err != ERR_OK)
        return cli_fault(c->ctx, &f);
    if (c->ctx->is_json) {
        struct jsonw w;
        jsonw_start(&w, &c->ctx->out);
        jsonw_object(&w, NULL);
        jsonw_string(&w, "path", dest);
        put_counts(&w, &counts);
        jsonw_int(&w, "open_jobs", n_jobs);
        jsonw_int(&w, "people", n_people);
        jsonw_object_end(&w);
        return CLI_GOOD;
    }
    cli_verdict(c->ctx, CLI_STRONG, "Copied the store to %s.", dest);
    say_counts(c->ctx, &counts);
    if (n_jobs > 0)
        cli_say(c->ctx, 4, "With %" PRId64 " open job%s (jobs.db, for its owner alone to read).",
                n_jobs, n_jobs == 1 ? "" : "s");
    if (c->with_people)
        cli_say(c->ctx, 4,
                "With %" PRId64 " people and their password hashes (people.db, for its owner alone "
                "to read); their sessions and links end with this store.",
                n_people);
    else
        cli_say(c->ctx, 4, "Without the people who may come in: --with-people copies them too.");
    return CLI_GOOD;
}

/* FROM and TO are folders or addresses; both are opened by the copying itself. */
static int run_copy(struct call *c)
{
    struct fault f = {0};
    struct store_copied copied;
    char hex[DIGEST_HEX_ROOM];
    const struct store_copy_order order = {!c->without_people, &c->step};
    const enum err err = store_copy(c->words[0], c->words[1], &order, &copied, &f);
    progress_wipe(&c->progress);
    if (err != ERR_OK)
        return cli_fault(c->ctx, &f);
    digest_hex(copied.head, STORE_DIGEST, hex);
    if (c->ctx->is_json) {
        struct jsonw w;
        jsonw_start(&w, &c->ctx->out);
        jsonw_object(&w, NULL);
        put_counts(&w, &copied.counts);
        jsonw_int(&w, "people", copied.n_people);
        jsonw_string(&w, "head", hex);
        jsonw_object_end(&w);
        return CLI_GOOD;
    }
    cli_verdict(c->ctx, CLI_STRONG,
                "Copied the store; read back, both logs have the same entries to the last.");
    say_counts(c->ctx, &copied.counts);
    cli_say(c->ctx, 4, "Head of both logs: %s.", hex);
    if (c->without_people)
        cli_say(c->ctx, 4, "Without the people who may come in.");
    else
        cli_say(c->ctx, 4,
                "With %" PRId64 " people and their password hashes; their sessions and links end "
                "with the old store.",
                copied.n_people);
    cli_say(c->ctx, 4, "Jobs that phones have not sent yet and drafts of bulletins stay there.");
    return CLI_GOOD;
}

static int run_builds(struct call *c, struct store *s)
{
    struct signin *signin = NULL;
    /* Where the file lies on this machine is nobody's business who looks at the list. */
    const char *slash = strrchr(c->words[0], '/');
    struct fault f = {0};
    const int code = store_keep_builds(c->ctx, s, c->words[0], &c->progress);
    if (code != CLI_GOOD)
        return code;
    /* The log has the rows; that they came, and when, stands in the list of who did what. */
    enum err err = signin_open(c->path, NULL, &signin, &f);
    if (err == ERR_OK)
        err = audit_note(signin, NULL, "builds", slash != NULL ? slash + 1 : c->words[0],
                         moment_now(), &f);
    signin_close(signin);
    return err == ERR_OK ? code : cli_fault(c->ctx, &f);
}

static int run_export(struct call *c, struct store *s)
{
    return store_give(c->ctx, s, c->words[0], c->words[1]);
}

static int run_keep(struct call *c, struct store *s)
{
    return store_keep_paper(c->ctx, s, c->words[0], c->words[1], c->name, c->revision);
}

static int run_shops(struct call *c, struct store *s)
{
    return store_keep_shops(c->ctx, s);
}

static const struct {
    const char *name;
    bool writes;
    int (*run)(struct call *c, struct store *s); /* NULL: alone, which opens by itself */
    int n_words;
    const char *wanted; /* what they are, when one is missing */
    int (*alone)(struct call *c);
} calls[] = {
    {"init", true, NULL, 0, NULL, run_init},
    {"verify", false, run_verify, 0, NULL, NULL},
    {"rebuild", true, run_rebuild, 0, NULL, NULL},
    {"backup", false, run_backup, 1, "found no name for the copy; expected one after backup", NULL},
    {"copy", true, NULL, 2,
     "found no two stores; expected the one to copy and the new one after copy, each a folder or "
     "an address",
     run_copy},
    {"tidy", true, run_tidy, 0, NULL, NULL},
    {"builds", true, run_builds, 1, "found no build list; expected a CSV file after builds", NULL},
    {"keep", true, run_keep, 2,
     "found no paper; expected bulletin, shops, keys, failures, reserve or stock after keep, and "
     "its file",
     NULL},
    {"export", false, run_export, 2,
     "found nothing to give out; expected units, claims, stations, readings, rulings, awards, "
     "payments, "
     "failures or shops after export, and a file that ends in .csv or .json",
     NULL},
    {"shops", false, run_shops, 0, NULL, NULL},
};
enum { CALLS = sizeof calls / sizeof *calls };
#define CALLS_WANTED                                                                               \
    "expected init, verify, rebuild, tidy, backup, copy, builds, keep, export or shops"

static int run_call(struct call *c, size_t i)
{
    struct fault f = {0};
    struct store *s = NULL;
    if (calls[i].run == NULL)
        return calls[i].alone(c);
    if (store_open(c->path, calls[i].writes ? STORE_WRITE : STORE_READ, &s, &f) != ERR_OK)
        return cli_fault(c->ctx, &f);
    const int code = calls[i].run(c, s);
    store_close(s);
    return code;
}

/* Whether call i has what it needs and no more; says what is wrong. */
static bool check_call(const struct call *c, size_t i)
{
    const bool is_copy = calls[i].alone == run_copy;
    if (c->path == NULL && !is_copy)
        cli_error(c->ctx, "found no --store; expected the store's folder or address");
    else if (c->path != NULL && is_copy)
        cli_error(c->ctx, "--store has no place with copy; expected two stores after it");
    else if (c->n_words < calls[i].n_words)
        cli_error(c->ctx, "%s", calls[i].wanted);
    else if (c->n_words > calls[i].n_words)
        cli_error(c->ctx, "found one word too many, '%.80s'", c->words[calls[i].n_words]);
    else if (c->head != NULL && calls[i].run != run_verify)
        cli_error(c->ctx, "--head belongs to verify alone");
    else if ((c->name != NULL || c->revision != NULL) && calls[i].run != run_keep)
        cli_error(c->ctx, "--name and --revision belong to keep alone");
    else if (c->with_people && calls[i].run != run_backup)
        cli_error(c->ctx, "--with-people belongs to backup alone");
    else if (c->without_people && !is_copy)
        cli_error(c->ctx, "--without-people belongs to copy alone");
    else
        return true;
    return false;
}

static int run_store(struct cli *ctx, int argc, char **argv)
{
    struct cli_arg args[CLI_ARGS_MAX];
    const char *names[CALLS];
    struct call c = {.ctx = ctx};
    const char *word = NULL;
    const int n = cli_options(ctx, &verb_store, argc, argv, args);
    if (n < 0)
        return CLI_WRONG;
    c.path = cli_value(args, n, "--store");
    c.head = cli_value(args, n, "--head");
    c.name = cli_value(args, n, "--name");
    c.revision = cli_value(args, n, "--revision");
    c.with_people = cli_has(args, n, "--with-people");
    c.without_people = cli_has(args, n, "--without-people");
    progress_start(&c.progress);
    c.step = (struct store_progress){progress_show, &c.progress};
    for (int i = 0; i < n; i++) {
        if (args[i].name != NULL)
            continue;
        if (word != NULL && c.n_words == WORDS_MAX)
            return cli_error(ctx, "found one word too many, '%.80s'", args[i].value);
        if (word == NULL)
            word = args[i].value;
        else
            c.words[c.n_words++] = args[i].value;
    }
    if (word == NULL)
        return cli_error(ctx, "found nothing to do; " CALLS_WANTED);
    for (size_t i = 0; i < CALLS; i++) {
        names[i] = calls[i].name;
        if (strcmp(word, calls[i].name) != 0)
            continue;
        return check_call(&c, i) ? run_call(&c, i) : CLI_WRONG;
    }
    return cli_error_near(ctx, "the call", word, names, CALLS, CALLS_WANTED);
}

static const struct cli_option options[] = {
    {"--store", "STORE", "the store's folder, or its address (postgresql://...?files=FOLDER)",
     false},
    {"--head", "HASH", "with verify: a head noted earlier that must still be in the log", false},
    {"--name", "NAME",
     "with keep, not of a bulletin: a name of its own; else the last one kept is replaced", false},
    {"--revision", "R", "with keep, not of a bulletin: a number of its own", false},
    {"--with-people", NULL, "with backup: who may come in, too (see `people`)", false},
    {"--without-people", NULL, "with copy: leave out who may come in", false},
    {NULL, NULL, NULL, false},
};

const struct cli_verb verb_store = {
    .name = "store",
    .line = "make, fill, verify, rebuild, tidy, copy or give out the store of claims",
    .call = "store init|verify|rebuild|tidy|backup COPY|copy FROM TO|builds LIST.csv|keep KIND "
            "FILE|export WHAT FILE|shops --store STORE",
    .about =
        "A store keeps every claim in a log that is only ever added to, each entry carrying the "
        "hash of the one before, with tables that follow from the log and photos as files.\n"
        "\n"
        "init makes an empty one, or brings an older one up to this program. verify reads "
        "everything back: the chain, the tables against the log, every photo against its digest; "
        "it ends with 1 when something is wrong. It prints the head of the log: note it, and "
        "verify "
        "--head tells later whether the log's end was cut off. rebuild makes the tables anew from "
        "the log. tidy removes files in photos/ that a crash left over. backup copies the store as "
        "it is at one moment, while others go on writing, and the open jobs; --with-people adds "
        "the people who may "
        "come "
        "in, with their password hashes.\n"
        "\n"
        "STORE is a folder, in which SQLite keeps the log, or the address of a PostgreSQL "
        "database, "
        "postgresql://HOST/DATABASE?files=FOLDER: photos lie in FOLDER, which all that use the "
        "store "
        "share; schema=NAME takes another name than mendwright. Passwords belong into PGPASSFILE "
        "or a service file, never into the address. copy makes a new store TO of the store FROM, "
        "each "
        "of either kind: "
        "everything as of one moment, people too unless --without-people says otherwise. It writes "
        "the log entry by entry, works out each hash anew, reads the new log back and compares "
        "the last hash. A copy that is broken off leaves no store.\n"
        "\n"
        "builds reads the maker's build list, a CSV file with the columns vin, station and label, "
        "so that a label read in the field "
        "can be held against the one that was printed. keep puts a paper on the log that claims "
        "are ruled by: a bulletin (under its "
        "own id and revision, with its steps' pictures, which lie beside it), shops (a CSV file "
        "with the columns shop, kind, rate, from), keys "
        "(a keyring), or failures (the whole list of failure reports: a CSV file with the columns "
        "vin, station, failed, reported); or what a campaign has: reserve (a CSV file of one row: "
        "bulletin, amount, currency, person) and stock (kit, on_hand, ordered, lead_days). Each is "
        "checked "
        "first, and nothing is put when it has a fault. A later one replaces an earlier one of the "
        "same name; what was kept stays in "
        "the log. shops shows the list of shops that holds, with each one's rates and the days "
        "from which they hold, its keys and how many claims it has sent.\n"
        "\n"
        "export writes all that the store holds of a kind: units (the build list), claims, "
        "stations, readings, rulings, awards, payments, "
        "failures or shops, as CSV or JSON by the file's name; - is standard output. In CSV a text "
        "that begins with = + - or @ gets an "
        "apostrophe before it, so that a spreadsheet runs no formula that a stranger wrote; JSON "
        "has texts as they are.",
    .example =
        "  $ d=$(mktemp -d); mendwright store init --store $d/claims;\\\n"
        "      mendwright store verify --store $d/claims; rm -r $d\n"
        "  [=] Made an empty store in ...\n"
        "  [=] The store is whole.\n"
        "      0 claims on 0 units: 0 events, 0 readings, 0 photos, 0 rulings; 0 papers and\n"
        "      0 rows of the build list; 0 entries in the log.\n"
        "      Head of the log:\n"
        "      ...\n",
    .options = options,
    .run = run_store,
};
