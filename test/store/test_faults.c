/* Faults by the hundred: a program takes in, rules, pays, keeps, tidies and copies on a pretended disk (disk.h) until the power goes, the
 * disk fails or fills, a lock is not given, the process is killed or the clock jumps; also while a store is made and while one of each earlier
 * version is brought up. After each fault the store is opened as it usually is: what was acknowledged has to be there, once, and `store
 * verify` good, and the work goes on.
 *
 * MENDWRIGHT_FAULTS=2000 injects so many, MENDWRIGHT_SEED=N others, MENDWRIGHT_FAULT=N those of one kind alone (0: the first of
 * the list below). */
#define _DEFAULT_SOURCE /* MAP_ANONYMOUS */
#include "fault_work.h"
#include "synth.h"
#include "tap.h"

#include "table.h"

#include <signal.h>
#include <sqlite3.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

enum {
    FAULTS = 40,
    SEED = 8,
    FRESH_EVERY = 12, /* faults on one store: later ones find what earlier ones left */
    VERSIONS = 6,     /* earlier ones */
    ACTS_MAX = 14,
    LOST_IN_A_CHILD_S = 300
};

enum kind {
    CUT_SAFE,
    CUT_BARE,
    EIO_READ,
    EIO_WRITE,
    EIO_SYNC,
    EIO_OTHER,
    NO_LOCK,
    FULL,
    KILL,
    CLOCK,
    KINDS
};

static const char *const kind_words[KINDS] = {
    [CUT_SAFE] = "power cut, sectors of 512 bytes",
    [CUT_BARE] = "power cut, sectors of 4096 bytes, a torn one ruined whole",
    [EIO_READ] = "read fails",
    [EIO_WRITE] = "write fails, half done",
    [EIO_SYNC] = "sync fails",
    [EIO_OTHER] = "opening, naming, sizing or sharing fails",
    [NO_LOCK] = "a lock fails or is another's",
    [FULL] = "disk full",
    [KILL] = "kill -9",
    [CLOCK] = "clock jumps",
};

enum { USED = 0, NEW = -1 }; /* what a round begins on; else an earlier version */

static char folder[256], root[300], path[WORK_PATH];
static unsigned seed;
static unsigned long long state;
static struct work_ledger *ledger;
static int64_t n_log; /* entries of the old store that a round began on, and their digest */
static uint8_t log_digest[STORE_DIGEST];

static struct tally {
    int n_struck, n_calm, n_lost, n_twice, n_paid_lost, n_bad, n_wrong, n_stuck, n_orphans;
    int by_start[VERSIONS + 2], by_end[3];
} tallies[KINDS];
static struct {
    const char *act;
    int n;
} acts[16];

static unsigned dice(unsigned sides)
{
    return (unsigned)(table_random(&state) % sides);
}

static unsigned number_from(const char *name, unsigned otherwise)
{
    const char *text = getenv(name);
    return text != NULL && text[0] != '\0' ? (unsigned)strtoul(text, NULL, 10) : otherwise;
}

PRINTF_LIKE(1, 2) static void complain(const char *fmt, ...)
{
    char text[400];
    va_list ap;
    va_start(ap, fmt);
    vsnprintf(text, sizeof text, fmt, ap);
    va_end(ap);
    tap_note("seed %u, %s while %s: %s (%s)", seed, ledger->disk.what,
             ledger->struck_in != NULL ? ledger->struck_in : "-", text, ledger->how);
}

/* ---- looking past the store's interface ------------------------------------------------------ */

static int add_row(void *me, int n, char **values, char **names)
{
    (void)names;
    for (int i = 0; i < n; i++)
        digest_add(me, values[i], strlen(values[i]) + 1);
    return 0;
}

/* Version, number of entries, digest of the first n_most of them; false: not to be read. */
static bool look_raw(int64_t *ret_version, int64_t n_most, int64_t *ret_n, uint8_t *ret_digest)
{
    char file[WORK_PATH + 16], sql[200];
    sqlite3 *db = NULL;
    sqlite3_stmt *ask = NULL;
    struct digest *d = NULL;
    snprintf(file, sizeof file, "%s/store.db", path);
    bool is_read =
        sqlite3_open_v2(file, &db, SQLITE_OPEN_READWRITE, NULL) == SQLITE_OK &&
        sqlite3_prepare_v2(
            db, "SELECT user_version, (SELECT count(*) FROM log) FROM pragma_user_version", -1,
            &ask, NULL) == SQLITE_OK &&
        sqlite3_step(ask) == SQLITE_ROW && digest_new(DIGEST_SHA256, &d) == ERR_OK;
    if (is_read) {
        *ret_version = sqlite3_column_int64(ask, 0);
        *ret_n = sqlite3_column_int64(ask, 1);
    }
    sqlite3_finalize(ask);
    snprintf(sql, sizeof sql,
             "SELECT seq, ulid, hex(bag), type, json, hex(prev), hex(hash) FROM log WHERE seq <= "
             "%lld ORDER BY seq",
             (long long)n_most);
    is_read = is_read && sqlite3_exec(db, sql, add_row, d, NULL) == SQLITE_OK &&
              digest_end(d, ret_digest) == ERR_OK;
    digest_free(d);
    sqlite3_close(db);
    return is_read;
}

/* ---- what a round begins on ------------------------------------------------------------------ */

static void old_name(int version, char *buf, size_t room)
{
    snprintf(buf, room, "%s/v%d", folder, version);
}

/* The photo that version 1's claim names (make_old.py). */
static void put_old_photo(const char *store)
{
    static const unsigned char photo[] = "\xff\xd8\xff a photo of version 1";
    char hex[DIGEST_HEX_ROOM], file[800];
    uint8_t sum[STORE_DIGEST];
    if (digest_bytes(DIGEST_SHA256, photo, sizeof photo - 1, sum) != ERR_OK)
        synth_bail("digest", NULL);
    digest_hex(sum, STORE_DIGEST, hex);
    snprintf(file, sizeof file, "%s/photos/%.2s", store, hex);
    mkdir(file, 0777);
    snprintf(file, sizeof file, "%s/photos/%.2s/%s.jpg", store, hex, hex + 2);
    FILE *out = fopen(file, "w");
    if (out == NULL || fwrite(photo, 1, sizeof photo - 1, out) != sizeof photo - 1 ||
        fclose(out) != 0)
        synth_bail(file, NULL);
}

/* A store of each earlier version, by the SQL beside this file. */
static void make_old(void)
{
    static char sql[64 * 1024];
    for (int version = 1; version <= VERSIONS; version++) {
        char file[700], store[400];
        sqlite3 *db = NULL;
        snprintf(file, sizeof file, "%s/v%d.sql", TEST_TABLES, version);
        FILE *in = fopen(file, "r");
        if (in == NULL)
            synth_bail(file, NULL);
        sql[fread(sql, 1, sizeof sql - 1, in)] = '\0';
        fclose(in);
        old_name(version, store, sizeof store);
        mkdir(store, 0777);
        snprintf(file, sizeof file, "%s/photos", store);
        mkdir(file, 0777);
        snprintf(file, sizeof file, "%s/store.db", store);
        if (sqlite3_open(file, &db) != SQLITE_OK ||
            sqlite3_exec(db, sql, NULL, NULL, NULL) != SQLITE_OK)
            synth_bail(file, NULL);
        sqlite3_close(db);
        if (version == 1)
            put_old_photo(store);
    }
}

/* What make_old.py says stands: version 1 one claim ruled to be paid 125.00; the others three, 99.00 each, of which the first was paid. */
static void know_old(int version)
{
    const int64_t amount = version == 1 ? 12500 : 9900;
    const unsigned n = version == 1 ? 1 : 3;
    char text[32] = "a bag of version 1";
    uint8_t bag[STORE_DIGEST];
    ledger->is_made = true;
    ledger->n_old = ledger->n_taken = n;
    for (unsigned i = 0; i < n; i++) {
        struct work_claim *c = &ledger->claims[i];
        if (version > 1)
            snprintf(text, sizeof text, "bag %u of version 2", i);
        if (digest_bytes(DIGEST_SHA256, text, strlen(text), bag) != ERR_OK)
            synth_bail("digest", NULL);
        store_claim_id(bag, c->id);
        c->low_minor = c->high_minor = amount;
        c->paid_minor = version > 1 && i == 0 ? amount : 0;
    }
}

static void begin_on(int start)
{
    char store[400];
    int64_t version = 0;
    if (start == USED)
        return;
    synth_remove(root);
    mkdir(root, 0777);
    *ledger = (struct work_ledger){.clock_ms = 1770001000000};
    n_log = 0;
    if (start == NEW)
        return;
    old_name(start, store, sizeof store);
    synth_copy(store, path);
    know_old(start);
    if (!look_raw(&version, INT64_MAX, &n_log, log_digest) || version != start)
        synth_bail("an old store", NULL);
}

/* ---- looking after a fault ------------------------------------------------------------------- */

/* What the store says of its claims, in their order. */
struct found {
    unsigned n;
    int n_wrong;
    struct {
        char id[STORE_CLAIM_SIZE + 1];
        int64_t stands_minor, paid_minor;
    } claims[WORK_CLAIMS_MAX];
};

static bool see_claim(void *me, const char *id, const struct store_claim *c)
{
    struct found *found = me;
    static struct synth want;
    const unsigned i = found->n;
    if (i == WORK_CLAIMS_MAX)
        return false;
    found->n++;
    snprintf(found->claims[i].id, sizeof found->claims[i].id, "%s", id);
    if (i < ledger->n_old) {
        found->n_wrong += strcmp(id, ledger->claims[i].id) != 0;
        return true;
    }
    synth_make(&want, seed, i - ledger->n_old, true);
    found->n_wrong += memcmp(want.claim.bag, c->bag, STORE_DIGEST) != 0 ||
                      c->n_readings != SYNTH_READINGS || c->n_photos != SYNTH_PHOTOS ||
                      c->n_events != SYNTH_EVENTS ||
                      c->readings[7].value_nano != want.readings[7].value_nano;
    return true;
}

static bool see_ruling(void *me, const struct store_ruling *r)
{
    struct found *found = me;
    for (unsigned i = 0; i < found->n; i++) {
        if (strcmp(found->claims[i].id, r->claim) != 0)
            continue;
        if (r->kind == STORE_PAID)
            found->claims[i].paid_minor += r->amount_minor;
        else
            found->claims[i].stands_minor = r->amount_minor;
        return true;
    }
    found->n_wrong++;
    return true;
}

static void judge_claim(const struct work_claim *c, int64_t stands, int64_t paid, struct tally *t)
{
    if (stands < c->low_minor || stands > c->high_minor) {
        complain("%s stands at %lld, not from %lld to %lld", c->id, (long long)stands,
                 (long long)c->low_minor, (long long)c->high_minor);
        t->n_lost++;
    }
    if (paid > stands || (paid > c->paid_minor && !c->may_be_paid)) {
        complain("%s was paid %lld, expected %lld of %lld", c->id, (long long)paid,
                 (long long)c->paid_minor, (long long)stands);
        t->n_twice++;
    }
    if (paid < c->paid_minor) {
        complain("%s was paid %lld, acknowledged %lld", c->id, (long long)paid,
                 (long long)c->paid_minor);
        t->n_paid_lost++;
    }
}

static void judge_claims(struct store *s, struct tally *t)
{
    static struct found found;
    struct fault f = {0};
    found = (struct found){0};
    if (store_claims(s, NULL, see_claim, &found, &f) != ERR_OK ||
        store_rulings(s, NULL, see_ruling, &found, &f) != ERR_OK)
        synth_bail("reading back", &f);
    t->n_wrong += found.n_wrong;
    if (found.n < ledger->n_taken || found.n > ledger->n_taken + ledger->may_be_taken) {
        complain("%u claims, %u acknowledged", found.n, ledger->n_taken);
        t->n_lost++;
    }
    for (unsigned i = 0; i < ledger->n_taken && i < found.n; i++)
        judge_claim(&ledger->claims[i], found.claims[i].stands_minor, found.claims[i].paid_minor,
                    t);
    ledger->n_taken = found.n;
    ledger->may_be_taken = false;
    for (unsigned i = 0; i < found.n; i++) {
        struct work_claim *c = &ledger->claims[i];
        memcpy(c->id, found.claims[i].id, sizeof c->id);
        c->low_minor = c->high_minor = found.claims[i].stands_minor;
        c->paid_minor = found.claims[i].paid_minor;
        c->may_be_paid = false;
    }
}

static bool see_paper(void *me, const struct store_paper *p)
{
    int *n_right = me;
    char text[64];
    const unsigned most = ledger->may_be_kept ? 1 : 0;
    for (unsigned more = 0; more <= most; more++) {
        const unsigned n = ledger->n_kept + more;
        if (n == 0)
            continue;
        work_paper(n - 1, text, sizeof text);
        if (p->n == strlen(text) && memcmp(p->text, text, p->n) == 0) {
            ledger->n_kept = n;
            *n_right = 1;
            return false;
        }
    }
    return true;
}

static void judge_papers(struct store *s, struct tally *t)
{
    struct fault f = {0};
    int n_right = 0;
    const bool is_wanted = ledger->n_kept > 0;
    if (store_papers(s, "shops", "list", true, see_paper, &n_right, &f) != ERR_OK)
        synth_bail("papers", &f);
    if (is_wanted && n_right == 0) {
        complain("paper %u is not the one that holds", ledger->n_kept - 1);
        t->n_lost++;
        ledger->n_kept = 0; /* told once */
    }
    ledger->may_be_kept = false;
}

static void verify(struct store *s, struct tally *t, int64_t *ret_claims)
{
    static struct store_health h;
    struct fault f = {0};
    if (store_verify(s, NULL, NULL, &h, &f) != ERR_OK)
        synth_bail("verify", &f);
    for (int64_t i = 0; i < h.n_faults && i < 3; i++)
        complain("%s, %s: %s", h.faults[i].kind, h.faults[i].where, h.faults[i].message);
    t->n_bad += h.n_faults > 0;
    t->n_orphans += (int)h.n_orphans;
    *ret_claims = h.counts.claims;
}

/* A copy that has its name is whole, whether it was acknowledged or not; one that was has it. */
static void judge_copies(struct tally *t)
{
    for (unsigned i = 0; i < ledger->n_copies; i++) {
        char name[WORK_PATH];
        struct stat st;
        struct store *s = NULL;
        struct fault f = {0};
        int64_t n_claims = 0;
        snprintf(name, sizeof name, "%s/copy-%u", root, i);
        const bool is_there = stat(name, &st) == 0;
        if (is_there && store_open(name, STORE_READ, &s, &f) == ERR_OK)
            verify(s, t, &n_claims);
        const bool is_good = s != NULL && n_claims >= ledger->copies[i].n_claims;
        store_close(s);
        if ((is_there || ledger->copies[i].is_whole) && !is_good) {
            complain("copy %u of %u claims is not whole: %s", i, ledger->copies[i].n_claims,
                     f.message);
            t->n_lost++;
        }
        if (is_there)
            synth_remove(name);
        snprintf(name, sizeof name, "%s/copy-%u.part", root, i);
        if (stat(name, &st) == 0)
            synth_remove(name);
    }
    ledger->n_copies = 0;
    memset(ledger->copies, 0, sizeof ledger->copies);
}

/* The same work by the usual ways: the claim that was under way, and whatever is due. */
static void go_on(struct store *s, struct tally *t)
{
    static struct found found;
    struct fault f = {0};
    ledger->n_wrong = 0;
    if (work_take(s, seed, ledger, &f) != ERR_OK ||
        work_rule(s, ledger->n_taken - 1, ledger, &f) != ERR_OK)
        synth_bail("going on", &f);
    for (unsigned i = 0; i < ledger->n_taken; i++)
        if (ledger->claims[i].paid_minor != ledger->claims[i].low_minor &&
            work_pay(s, i, ledger, &f) != ERR_OK)
            synth_bail("going on to pay", &f);
    found = (struct found){0};
    if (store_claims(s, NULL, see_claim, &found, &f) != ERR_OK ||
        store_rulings(s, NULL, see_ruling, &found, &f) != ERR_OK)
        synth_bail("reading back at the end", &f);
    bool is_even = found.n == ledger->n_taken && ledger->n_wrong == 0;
    for (unsigned i = 0; i < found.n; i++)
        is_even = is_even && found.claims[i].paid_minor == found.claims[i].stands_minor &&
                  found.claims[i].paid_minor == ledger->claims[i].paid_minor;
    if (!is_even)
        complain("the work that went on does not come out even");
    t->n_stuck += !is_even;
}

/* Before anything else opens it: an old store is as it was, or brought up whole; its log is what it was. */
static void judge_log(int start, struct tally *t)
{
    uint8_t digest[STORE_DIGEST];
    int64_t version = 0, n = 0;
    if (n_log == 0)
        return;
    const bool is_read = look_raw(&version, n_log, &n, digest);
    const bool is_known = version == 7 || (version == start && n == n_log);
    if (!is_read || !is_known || n < n_log || memcmp(digest, log_digest, sizeof digest) != 0) {
        complain("version %lld with %lld entries, began as %d with %lld", (long long)version,
                 (long long)n, start, (long long)n_log);
        t->n_bad++;
    }
}

static void look(int start, struct tally *t)
{
    struct store *s = NULL;
    struct fault f = {0};
    bool is_made;
    int64_t n_claims = 0, n_files = 0, n_bytes = 0;
    t->n_wrong += ledger->n_wrong;
    judge_log(start, t);
    if (!ledger->is_made && store_init(path, &is_made, &f) != ERR_OK)
        synth_bail("making it again", &f);
    ledger->is_made = true;
    if (store_open(path, STORE_WRITE, &s, &f) != ERR_OK) {
        complain("it cannot be opened: %s", f.message);
        synth_bail("opening", &f);
    }
    verify(s, t, &n_claims);
    judge_claims(s, t);
    judge_papers(s, t);
    judge_copies(t);
    go_on(s, t);
    if (dice(2) == 0 && store_tidy(s, &n_files, &n_bytes, &f) != ERR_OK)
        synth_bail("tidying", &f);
    store_close(s);
}

/* ---- a round --------------------------------------------------------------------------------- */

/* A torn sector is ruined whole only where nothing but the power fails, as the usual VFS promises that it is not. Without the promise SQLite
 * fills up the sector behind a commit and leaves the last bytes of that to the next sync; should that fail, what comes behind is lost. */
static void plan_kind(enum kind kind, struct work_order *o)
{
    static const unsigned classes[KINDS] = {
        [CUT_SAFE] = DISK_ALL,  [CUT_BARE] = DISK_ALL,
        [EIO_READ] = DISK_READ, [EIO_WRITE] = DISK_WRITE,
        [EIO_SYNC] = DISK_SYNC, [EIO_OTHER] = DISK_OPEN | DISK_NAME | DISK_SIZE | DISK_SHARE,
        [NO_LOCK] = DISK_LOCK,  [FULL] = DISK_WRITE | DISK_NAME | DISK_SHARE,
        [KILL] = DISK_ALL,
    };
    static const int more[] = {0, 0, 1, 5, 1000000};
    const bool is_cut = kind == CUT_SAFE || kind == CUT_BARE;
    struct disk_plan *p = &o->plan;
    p->classes = classes[kind];
    p->is_safe = kind != CUT_BARE;
    p->seed = table_random(&state);
    p->n_more = kind == NO_LOCK ? 0 : more[dice(5)];
    p->fault = is_cut                            ? DISK_CUT
               : kind == KILL                    ? DISK_KILL
               : kind == FULL                    ? DISK_FULL
               : kind == NO_LOCK && dice(2) == 0 ? DISK_BUSY
                                                 : DISK_EIO;
    o->end = is_cut || kind == KILL ? WORK_CLOSED : (enum work_end)dice(3);
    o->n_acts = 2 + (int)dice(ACTS_MAX - 1);
    o->jump_at = kind == CLOCK ? (int)dice((unsigned)o->n_acts) : -1;
}

/* At which operation: anywhere in what such a round had so far; where a store is made or brought up, mostly there. */
static void plan_time(enum kind kind, int start, struct work_order *o, const long *about)
{
    const long n = start != USED && dice(4) > 0 ? about[0] : about[1];
    o->plan.at = kind == CLOCK ? 0 : 1 + (long)dice((unsigned)n);
}

/* One child; true when the fault struck. */
static bool run_child(const struct work_order *o)
{
    int status = 0;
    fflush(stdout);
    snprintf(ledger->how, sizeof ledger->how,
             "fault %d at %ld and %d more, safe %d, acts %d, end %d, "
             "seeds %llu %llu",
             (int)o->plan.fault, o->plan.at, o->plan.n_more, o->plan.is_safe, o->n_acts,
             (int)o->end, o->seed, o->plan.seed);
    const pid_t pid = fork();
    if (pid == 0) {
        alarm(LOST_IN_A_CHILD_S);
        work_run(o, ledger);
    }
    if (pid < 0 || waitpid(pid, &status, 0) != pid)
        synth_bail("fork", NULL);
    const bool is_killed = WIFSIGNALED(status) && WTERMSIG(status) == SIGKILL;
    const bool is_struck = o->plan.at > 0 ? ledger->disk.is_struck : ledger->n_acts > o->jump_at;
    if (is_struck && ledger->struck_in == NULL)
        ledger->struck_in = ledger->act;
    if (!(WIFEXITED(status) && WEXITSTATUS(status) == 0) &&
        !(is_killed && (o->end == WORK_KILLED || o->plan.fault == DISK_KILL))) {
        printf("Bail out! seed %u: the child ended by itself (status %d) while %s, after: %s\n",
               seed, status, ledger->act, ledger->disk.what);
        exit(2);
    }
    return is_struck;
}

static void count_act(const char *act)
{
    size_t i = 0;
    while (i < sizeof acts / sizeof *acts - 1 && acts[i].act != NULL &&
           strcmp(acts[i].act, act) != 0)
        i++;
    acts[i].act = act;
    acts[i].n++;
}

/* One fault of this kind, or two, the second while the first is being got over. */
static bool run_round(enum kind kind, int start)
{
    static long about[KINDS][3]
                     [2]; /* operations until the store was open, and in all; of which start */
    const int group = start == USED ? 0 : start == NEW ? 1 : 2;
    struct tally *t = &tallies[kind];
    struct work_order o = {.root = root, .synth_seed = seed};
    begin_on(start);
    plan_kind(kind, &o);
    long *n = about[kind][group];
    n[0] = n[0] > 0 ? n[0] : 20;
    n[1] = n[1] > 0 ? n[1] : 50;
    plan_time(kind, start, &o, n);
    o.seed = table_random(&state);
    ledger->n_wrong = 0;
    const bool is_struck = run_child(&o);
    if (is_struck) {
        t->n_struck++;
        t->by_start[start + 1]++;
        t->by_end[o.end]++;
        count_act(ledger->struck_in);
        if (ledger->n_first > n[0]) /* it got on farther than thought */
            n[0] = ledger->n_first;
    } else {
        t->n_calm++;
        n[0] = ledger->n_first > 0 ? ledger->n_first : n[0];
        n[1] = (n[1] + ledger->disk.n + 2) / 2;
    }
    if (is_struck && dice(4) == 0) { /* and again before anybody looks */
        const bool is_safe = o.plan.is_safe;
        const enum kind second = (enum kind)dice(CLOCK);
        plan_kind(is_safe && second != CUT_BARE ? second : dice(2) == 0 ? CUT_SAFE : KILL, &o);
        o.plan.is_safe = is_safe; /* it is the same disk */
        o.plan.at = 1 + (long)dice(60);
        o.seed = table_random(&state);
        if (ledger->n_taken + ACTS_MAX < WORK_CLAIMS_MAX)
            (void)run_child(&o);
    }
    look(start, t);
    return is_struck;
}

static void run_all(unsigned n_wanted)
{
    const unsigned only = number_from("MENDWRIGHT_FAULT", KINDS);
    int n_on_one = 0, start = NEW;
    unsigned n = 0;
    for (unsigned i = 0; n < n_wanted && i < 6 * n_wanted + 60; i++) {
        const unsigned how = dice(20);
        if (n_on_one == 0 || n_on_one > FRESH_EVERY || how < 10)
            start = how % 10 < 3 ? NEW : 1 + (int)dice(VERSIONS);
        else
            start = USED;
        n_on_one = start == USED ? n_on_one + 1 : 1;
        n += run_round((enum kind)(only < KINDS ? only : n % KINDS), start);
    }
}

/* Each sync of a short piece of work fails in turn, once, and then the process is killed: what a commit that failed left in the write-ahead
 * log must not come back without its photos. */
static int check_each_sync(void)
{
    struct tally *t = &tallies[EIO_SYNC];
    struct work_order o = {.root = root,
                           .synth_seed = seed,
                           .seed = 1, /* of the one act: to take in */
                           .plan = {.fault = DISK_EIO, .classes = DISK_SYNC, .is_safe = true},
                           .n_acts = 1,
                           .jump_at = -1,
                           .end = WORK_KILLED};
    int n = 0, n_taking = 0;
    bool is_struck = true;
    for (o.plan.at = 1; is_struck; o.plan.at++) {
        begin_on(NEW);
        is_struck = run_child(&o);
        if (is_struck) {
            n++;
            t->n_struck++;
            t->by_start[0]++;
            t->by_end[o.end]++;
            n_taking += strcmp(ledger->struck_in, "taking in") == 0;
            count_act(ledger->struck_in);
        }
        look(NEW, t);
    }
    tap_ok(n_taking > 2 * SYNTH_PHOTOS, "each of %d syncs failed, %d of them while taking in", n,
           n_taking);
    return n;
}

/* A clock before 1970 is refused, and nothing is written. */
static void check_no_time(void)
{
    static struct synth one;
    struct store *s = NULL;
    struct fault f = {0};
    struct store_counts c = {0};
    enum store_taken taken;
    bool is_made;
    begin_on(NEW);
    synth_make(&one, seed, 0, true);
    one.claim.taken_ms = -1;
    if (store_init(path, &is_made, &f) != ERR_OK || store_open(path, STORE_WRITE, &s, &f) != ERR_OK)
        synth_bail("init", &f);
    const enum err err = store_take(s, &one.claim, &taken, NULL, &f);
    tap_ok(err == ERR_DOMAIN && store_count(s, &c, &f) == ERR_OK && c.entries == 0,
           "a clock before 1970 is refused: %s", f.message);
    store_close(s);
}

static void tell(unsigned n_wanted)
{
    struct tally all = {0};
    for (int k = 0; k < KINDS; k++) {
        const struct tally *t = &tallies[k];
        tap_note("%-58s %5d struck (making %d, used %d, versions 1 to 6: %d %d %d %d %d %d; then "
                 "closed %d, cut %d, killed %d), %d calm, %d lost, %d paid twice, %d payments "
                 "lost, %d not good, %d leftover files",
                 kind_words[k], t->n_struck, t->by_start[0], t->by_start[1], t->by_start[2],
                 t->by_start[3], t->by_start[4], t->by_start[5], t->by_start[6], t->by_start[7],
                 t->by_end[0], t->by_end[1], t->by_end[2], t->n_calm, t->n_lost, t->n_twice,
                 t->n_paid_lost, t->n_bad, t->n_orphans);
        all.n_struck += t->n_struck;
        all.n_lost += t->n_lost;
        all.n_twice += t->n_twice;
        all.n_paid_lost += t->n_paid_lost;
        all.n_bad += t->n_bad;
        all.n_wrong += t->n_wrong;
        all.n_stuck += t->n_stuck;
    }
    for (size_t i = 0; i < sizeof acts / sizeof *acts && acts[i].act != NULL; i++)
        tap_note("struck while %s: %d", acts[i].act, acts[i].n);
    tap_ok(all.n_struck == (int)n_wanted, "%d faults struck", all.n_struck);
    tap_ok(all.n_lost == 0, "every acknowledged claim, ruling, paper and copy is there");
    tap_ok(all.n_twice == 0, "no claim is paid twice, nor without being told to");
    tap_ok(all.n_paid_lost == 0, "every acknowledged payment is there");
    tap_ok(all.n_bad == 0, "store verify is good after each, and an old store's log what it was");
    tap_ok(all.n_wrong == 0, "claims come back in their order, whole, and every answer was right");
    tap_ok(all.n_stuck == 0, "the work went on each time, and came out even");
}

int main(void)
{
    const unsigned n_wanted = number_from("MENDWRIGHT_FAULTS", FAULTS);
    if (access("/dev/shm", W_OK) ==
        0) /* what is synced is pretended; the rest need not wait for a disk either */
        setenv("TMPDIR", "/dev/shm", 0);
    seed = number_from("MENDWRIGHT_SEED", SEED);
    state = seed;
    tap_note("seed %u; MENDWRIGHT_SEED=%u injects the same faults again", seed, seed);
    synth_folder(folder);
    char *real = realpath(folder, NULL); /* as SQLite names it */
    if (real == NULL)
        synth_bail("the folder's path", NULL);
    snprintf(folder, sizeof folder, "%.200s", real);
    free(real);
    snprintf(root, sizeof root, "%s/disk", folder);
    snprintf(path, sizeof path, "%s/store", root);
    ledger = mmap(NULL, sizeof *ledger, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    if (ledger == MAP_FAILED)
        synth_bail("mmap", NULL);
    make_old();
    const int n_syncs = check_each_sync();
    run_all(n_wanted);
    tell(n_wanted + (unsigned)n_syncs);
    check_no_time();
    synth_remove(folder);
    return tap_done();
}
