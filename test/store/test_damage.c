/* What `store verify` must find: one thing is changed behind the store's back, and verify must name
 * it. And an old store must come up whole: v1.sql to v3.sql are written by
 * make_old.py without the program, v4.sql to v6.sql by the programs of those versions. */
#include "synth.h"
#include "tap.h"

#include <fcntl.h>
#include <sqlite3.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { CLAIMS = 20 };

static char folder[256], path[300], base[300];
static struct store_health h;

/* SQL past the store's interface, as a person with a shell could run it. */
static void meddle(const char *sql)
{
    char file[400], *message = NULL;
    sqlite3 *db = NULL;
    snprintf(file, sizeof file, "%s/store.db", path);
    if (sqlite3_open(file, &db) != SQLITE_OK ||
        sqlite3_exec(db, sql, NULL, NULL, &message) != SQLITE_OK) {
        printf("Bail out! %s: %s\n", sql, message != NULL ? message : sqlite3_errmsg(db));
        exit(2);
    }
    sqlite3_close(db);
}

static void verify(const uint8_t *head)
{
    struct store *s = NULL;
    struct fault f = {0};
    if (store_open(path, STORE_READ, &s, &f) != ERR_OK ||
        store_verify(s, head, NULL, &h, &f) != ERR_OK)
        synth_bail("verify", &f);
    store_close(s);
}

/* A fault of this kind whose place or message holds these words. */
static bool names(const char *kind, const char *words)
{
    for (int64_t i = 0; i < h.n_faults && i < STORE_FAULTS_MAX; i++)
        if (strcmp(h.faults[i].kind, kind) == 0 && (strstr(h.faults[i].where, words) != NULL ||
                                                    strstr(h.faults[i].message, words) != NULL))
            return true;
    for (int64_t i = 0; i < h.n_faults && i < 5; i++)
        tap_note("%s, %s: %s", h.faults[i].kind, h.faults[i].where, h.faults[i].message);
    return false;
}

/* The same store each time; made once and copied, because every claim waits for the disk. */
static void build(void)
{
    static struct synth one;
    struct store *s = NULL;
    struct fault f = {0};
    bool is_made;
    enum store_taken taken;
    char id[STORE_CLAIM_SIZE + 1];
    synth_remove(path);
    if (access(base, F_OK) == 0) {
        synth_copy(base, path);
        return;
    }
    if (store_init(base, &is_made, &f) != ERR_OK || store_open(base, STORE_WRITE, &s, &f) != ERR_OK)
        synth_bail("init", &f);
    for (unsigned i = 0; i < CLAIMS; i++) {
        synth_make(&one, 1, i, true);
        if (store_take(s, &one.claim, &taken, id, &f) != ERR_OK)
            synth_bail("take", &f);
    }
    struct store_ruling r = {
        .claim = id, .verdict = "pay", .amount_minor = 100, .at_ms = 1770000000000};
    struct store_paper paper = {.kind = "shops",
                                .name = "list",
                                .revision = STORE_UNKNOWN,
                                .at_ms = 1770000000000,
                                .text = "shop,kind\n",
                                .n = 10};
    const struct store_build builds[] = {{"1FHMC00X000000000", "fore", "C2-2024-W19"},
                                         {"1FHMC00X000000000", "aft", NULL}};
    bool is_new;
    if (store_keep(s, &paper, &is_new, &f) != ERR_OK ||
        store_build_put(s, builds, 2, 1770000000000, &f) != ERR_OK ||
        store_rule(s, &r, &f) != ERR_OK)
        synth_bail("rule", &f);
    store_close(s);
    synth_copy(base, path);
}

/* ---- rows ------------------------------------------------------------------------------------ */

#define OPEN_LOG "DROP TRIGGER log_keeps_rows; DROP TRIGGER log_keeps_values; "

static void check_log(void)
{
    static const struct {
        const char *what, *sql, *kind, *words;
    } rows[] = {
        {"a byte of an event",
         OPEN_LOG "UPDATE log SET json = replace(json, '\"n\":4', '\"n\":5') WHERE seq = 50",
         "chain", "entry 50"},
        {"an event's type", OPEN_LOG "UPDATE log SET type = 'finished' WHERE seq = 3", "chain",
         "entry 3"},
        {"an event's name",
         OPEN_LOG "UPDATE log SET ulid = '01K6ZK0000AAAAAAAAAAAAAAAA' WHERE seq = 4", "chain",
         "entry 4"},
        {"a bag's digest", OPEN_LOG "UPDATE log SET bag = zeroblob(32) WHERE seq = 5", "chain",
         "entry 5"},
        {"a hash", OPEN_LOG "UPDATE log SET hash = zeroblob(32) WHERE seq = 6", "chain", "entry 6"},
        {"an entry taken out", OPEN_LOG "PRAGMA foreign_keys = OFF; DELETE FROM log WHERE seq = 7",
         "chain", "entry 8"},
        {"the first entry taken out",
         OPEN_LOG "PRAGMA foreign_keys = OFF; DELETE FROM log WHERE seq = 1", "chain", "entry 2"},
        {"two entries exchanged",
         OPEN_LOG "UPDATE log SET seq = 100000 WHERE seq = 9; UPDATE log SET seq = 9 WHERE seq = "
                  "10; UPDATE log SET seq = 10 WHERE seq = 100000",
         "chain", "entry 9"},
        {"the amount in a ruling",
         OPEN_LOG
         "UPDATE log SET json = replace(json, ':100,', ':900,') WHERE type = 'store.ruling'",
         "derived", "amount_minor"},
        {"a claim made unreadable", OPEN_LOG "UPDATE log SET json = '{' WHERE seq = 1", "derived",
         "entry 1"},
        {"an entry of an unknown kind", OPEN_LOG "UPDATE log SET type = 'store.gift' WHERE seq = 1",
         "derived", "store.gift"},
        {"a claim that says of more events than there are",
         OPEN_LOG "UPDATE log SET json = replace(json, '\"n_events\":10', '\"n_events\":11') "
                  "WHERE seq = 12",
         "derived", "events of the claim before it are missing: 1"},
        {"and of fewer than none",
         OPEN_LOG "UPDATE log SET json = replace(json, '\"n_events\":10', '\"n_events\":-1') "
                  "WHERE seq = 12",
         "derived", "says of -1 events"},
        {"a list that is none",
         OPEN_LOG "UPDATE log SET json = replace(json, '\"findings\":[', '\"findings\":{\"a\":[') "
                  "|| '}' WHERE seq = 12",
         "derived", "\"findings\" is an object; expected a list"},
        {"and of fewer",
         OPEN_LOG "UPDATE log SET json = replace(json, '\"n_events\":10', '\"n_events\":9') "
                  "WHERE seq = 12",
         "derived", "entry 22"},
        {"the last claim's events cut off",
         OPEN_LOG "DELETE FROM rulings; DELETE FROM log WHERE seq >= 220", "derived",
         "events of the last claim"},
        {"a reading in a table",
         "UPDATE readings SET value_nano = value_nano + 1 WHERE claim_seq = 12 AND n = 3",
         "derived", "readings: claim_seq 12, n 3"},
        {"a station's kit in a table",
         "UPDATE stations SET kit = 'K-R' WHERE claim_seq = 1 AND n = 0", "derived", "kit"},
        {"a real number in a table",
         "UPDATE photos SET sharpness = sharpness + 1e-9 WHERE claim_seq = 12 AND n = 0", "derived",
         "sharpness"},
        {"a null in a table", "UPDATE claims SET shop = NULL WHERE seq = 12", "derived", "shop"},
        {"an amount in a table", "UPDATE rulings SET amount_minor = 1", "derived", "amount_minor"},
        {"a paper's text",
         OPEN_LOG "UPDATE log SET json = replace(json, 'shop,kind', 'shop,kin_') "
                  "WHERE type = 'store.paper'",
         "derived", "papers: seq 221"},
        {"a paper's text in the log",
         OPEN_LOG
         "UPDATE log SET json = replace(json, 'shop,kind', 'shop,kin_') WHERE type = 'store.paper'",
         "chain", "entry 221"},
        {"a paper without a text",
         OPEN_LOG "UPDATE log SET json = replace(json, '\"text\"', '\"test\"') "
                  "WHERE type = 'store.paper'",
         "derived", "the paper has no text"},
        {"a paper's revision in a table", "UPDATE papers SET revision = 7", "derived", "revision"},
        {"a paper out of a table", "DELETE FROM papers", "derived", "papers: seq 221"},
        {"a label in the build list",
         "UPDATE builds SET label = 'C2-2024-W20' WHERE station = 'fore'", "derived", "label"},
        {"a unit out of the build list", "DELETE FROM builds WHERE station = 'aft'", "derived",
         "builds: vin 1FHMC00X000000000, station fore"},
        {"a digest of readings",
         "UPDATE reading_sets SET digest = zeroblob(32) WHERE claim_seq = 12", "derived",
         "reading_sets: claim_seq 12"},
        {"who signed", "UPDATE claims SET signed_by = 'shop-0' WHERE seq = 12", "derived",
         "signed_by"},
        {"what is invented", "UPDATE claims SET is_invented = 0 WHERE seq = 12", "derived",
         "is_invented"},
        {"a row too many", "INSERT INTO units VALUES ('ZZZ', 1)", "derived", "vin ZZZ"},
        {"a row too few", "DELETE FROM findings WHERE seq = 1", "derived", "findings"},
        {"a tally that is wrong", "UPDATE tallies SET n = n + 1", "derived", "tallies"},
        {"a claim that names no unit",
         "PRAGMA foreign_keys = OFF; UPDATE claims SET vin = 'NONE' WHERE seq = 1", "key",
         "claims"},
        {"a trigger that is gone", "DROP TRIGGER log_keeps_rows", "schema", "log_keeps"},
        {"an index that is gone", "DROP INDEX photos_by_sha256", "schema", "photos_by_sha256"},
        {"a table of somebody else", "CREATE TABLE zebra (a)", "schema", "zebra"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        build();
        meddle(rows[i].sql);
        verify(NULL);
        tap_ok(names(rows[i].kind, rows[i].words), "%s: found as \"%s\" at %s", rows[i].what,
               rows[i].kind, rows[i].words);
    }
}

/* ---- rebuilding ------------------------------------------------------------------------------ */

static void check_rebuild(void)
{
    struct store *s = NULL;
    struct fault f = {0};
    int64_t n = 0;
    build();
    meddle("UPDATE readings SET value_nano = 1; DELETE FROM findings; PRAGMA foreign_keys = OFF; "
           "UPDATE claims SET vin = 'NONE'");
    if (store_open(path, STORE_WRITE, &s, &f) != ERR_OK)
        synth_bail("open", &f);
    tap_ok(store_rebuild(s, NULL, &n, &f) == ERR_OK, "meddled tables are made anew");
    store_close(s);
    verify(NULL);
    tap_ok(h.n_faults == 0, "and the store is whole");
    meddle(OPEN_LOG "UPDATE log SET type = 'x' WHERE seq = 30; UPDATE readings SET value_nano = 1");
    if (store_open(path, STORE_WRITE, &s, &f) != ERR_OK)
        synth_bail("open", &f);
    tap_ok(store_rebuild(s, NULL, &n, &f) == ERR_DOMAIN && strstr(f.message, "entry 30") != NULL,
           "a broken log is not built upon: %s", f.message);
    store_close(s);
    verify(NULL);
    tap_ok(names("derived", "value_nano"), "and nothing was changed by the try");
}

/* ---- the end cut off ------------------------------------------------------------------------- */

static void check_head(void)
{
    uint8_t head[STORE_DIGEST];
    build();
    verify(NULL);
    memcpy(head, h.head, sizeof head);
    /* Someone who knows the tables takes out the last ruling and all that follows from it. */
    meddle(OPEN_LOG "UPDATE standings SET verdict = 'unruled', needs = 'ruling', amount_minor = 0, "
                    "currency = NULL, ruled_seq = NULL, last_seq = 0, n_ruled = 0; "
                    "DELETE FROM rulings; DELETE FROM log WHERE type = 'store.ruling'; "
                    "CREATE TRIGGER log_keeps_rows BEFORE DELETE ON log\nBEGIN SELECT RAISE(ABORT, "
                    "'the log is only ever added to'); END; "
                    "CREATE TRIGGER log_keeps_values BEFORE UPDATE ON log\nBEGIN SELECT "
                    "RAISE(ABORT, 'the log is only ever added to'); END;");
    verify(NULL);
    tap_ok(h.n_faults == 0, "an end that was cut off cleanly cannot be seen in what is left");
    verify(head);
    tap_ok(names("head", "log"), "a head that was noted tells it");
}

static void check_triggers(void)
{
    char file[400];
    sqlite3 *db = NULL;
    build();
    snprintf(file, sizeof file, "%s/store.db", path);
    sqlite3_open(file, &db);
    tap_ok(sqlite3_exec(db, "UPDATE log SET type = 'x' WHERE seq = 1", NULL, NULL, NULL) ==
               SQLITE_CONSTRAINT,
           "the log cannot be changed by a slip");
    tap_ok(sqlite3_exec(db, "DELETE FROM log WHERE seq = 100", NULL, NULL, NULL) ==
               SQLITE_CONSTRAINT,
           "nor shortened");
    sqlite3_close(db);
}

/* ---- files ----------------------------------------------------------------------------------- */

static void photo_of(unsigned i, char *file, size_t room)
{
    static struct synth one;
    struct store *s = NULL;
    struct fault f = {0};
    synth_make(&one, 1, i, true);
    if (store_open(path, STORE_READ, &s, &f) != ERR_OK)
        synth_bail("open", &f);
    store_photo_path(s, one.photos[0].sha256, "jpg", file, room);
    store_close(s);
}

static void flip(const char *file, off_t at)
{
    char byte = 0;
    const int fd = open(file, O_RDWR);
    if (fd < 0 || pread(fd, &byte, 1, at) != 1)
        synth_bail(file, NULL);
    byte ^= 1;
    if (pwrite(fd, &byte, 1, at) != 1 || close(fd) != 0)
        synth_bail(file, NULL);
}

/* ---- the database's file --------------------------------------------------------------------- */

static int add_row(void *me, int n, char **values, char **names_of)
{
    (void)names_of;
    for (int i = 0; i < n; i++)
        digest_add(me, values[i] != NULL ? values[i] : "\1",
                   values[i] != NULL ? strlen(values[i]) + 1 : 1);
    return 0;
}

/* Everything that can be read out of the tables, as one digest; false when reading fails. */
static bool content(uint8_t ret[STORE_DIGEST])
{
    static const char *const queries[] = {
        "SELECT seq, ulid, hex(bag), type, json, hex(prev), hex(hash) FROM log ORDER BY seq",
        "SELECT seq, claim, hex(bag), n_events, job, bulletin, revision, vin FROM claims",
        "SELECT seq, shop, technician, signature, opened_ms, finished_ms, taken_ms FROM claims",
        "SELECT * FROM units ORDER BY vin",
        "SELECT * FROM stations ORDER BY claim_seq, n",
        "SELECT * FROM readings ORDER BY claim_seq, n",
        "SELECT * FROM findings ORDER BY seq, n",
        "SELECT * FROM rulings ORDER BY seq",
        "SELECT claim_seq, hex(digest) FROM reading_sets ORDER BY claim_seq",
        "SELECT claim_seq, n, name, hex(sha256), dhash, sharpness FROM photos",
        "SELECT seq, bulletin_sha256, is_invented, signed_by FROM claims",
        "SELECT seq, kind, name, revision, at_ms, hex(sha256), bytes FROM papers",
        "SELECT * FROM builds ORDER BY vin, station",
    };
    char file[400];
    sqlite3 *db = NULL;
    struct digest *d = NULL;
    snprintf(file, sizeof file, "%s/store.db", path);
    bool is_read = sqlite3_open(file, &db) == SQLITE_OK && digest_new(DIGEST_SHA256, &d) == ERR_OK;
    for (size_t i = 0; is_read && i < sizeof queries / sizeof *queries; i++)
        is_read = sqlite3_exec(db, queries[i], add_row, d, NULL) == SQLITE_OK;
    is_read = is_read && digest_end(d, ret) == ERR_OK;
    digest_free(d);
    sqlite3_close(db);
    return is_read;
}

/* Whatever bit is hit: verify says so, or what can be read is what it was. */
static void check_bits(void)
{
    char db_file[400];
    struct store *s = NULL;
    struct fault f = {0};
    struct stat st;
    uint8_t before[STORE_DIGEST], after[STORE_DIGEST];
    int n_found = 0, n_free = 0, n_refused = 0, n_missed = 0;
    build();
    snprintf(db_file, sizeof db_file, "%s/store.db", path);
    if (stat(db_file, &st) != 0 || !content(before))
        synth_bail("store.db", NULL);
    for (off_t at = 4096 + 700; at < st.st_size; at += 1361) {
        flip(db_file, at);
        const bool is_open = store_open(path, STORE_READ, &s, &f) == ERR_OK;
        const bool is_seen = is_open && store_verify(s, NULL, NULL, &h, &f) == ERR_OK;
        if (is_open)
            store_close(s);
        const bool is_same = content(after) && memcmp(before, after, sizeof before) == 0;
        n_refused += !is_seen;
        n_found += is_seen && h.n_faults > 0;
        n_free += is_seen && h.n_faults == 0 && is_same;
        n_missed += is_seen && h.n_faults == 0 && !is_same;
        flip(db_file, at);
    }
    verify(NULL);
    tap_ok(h.n_faults == 0 && n_missed == 0 && n_found > 20,
           "a bit flipped in the file at %d places: %d found, %d not read at all, %d where nothing "
           "stands, %d missed",
           n_found + n_free + n_refused + n_missed, n_found, n_refused, n_free, n_missed);
}

static void check_files(void)
{
    char file[700];
    struct store *s = NULL;
    struct fault f = {0};
    enum store_taken taken;
    static struct synth one;
    build();
    photo_of(3, file, sizeof file);
    flip(file, 100);
    verify(NULL);
    tap_ok(h.n_faults == 1 && names("photo", file + strlen(path) + 1),
           "one bit of a photo: found by its name");
    struct store_counts copied;
    char dest[400];
    snprintf(dest, sizeof dest, "%s/copy", folder);
    if (store_open(path, STORE_WRITE, &s, &f) != ERR_OK)
        synth_bail("open", &f);
    tap_ok(store_backup(s, dest, NULL, &copied, &f) == ERR_IO && access(dest, F_OK) != 0,
           "a damaged photo is not copied quietly: %s", f.message);
    /* Another claim with the same photo brings it back. */
    synth_make(&one, 1, 3, true);
    one.claim.bag[0] ^= 1;
    if (store_take(s, &one.claim, &taken, NULL, &f) != ERR_OK)
        synth_bail("take", &f);
    tap_ok(store_backup(s, dest, NULL, &copied, &f) == ERR_OK,
           "a copy that was broken off is gone on with");
    store_close(s);
    verify(NULL);
    tap_ok(h.n_faults == 0, "the same photo taken in again mends it");
    unlink(file);
    verify(NULL);
    tap_ok(h.n_faults == 1 && names("photo", "missing"), "a photo that is gone: found");
    synth_remove(dest);
}

/* ---- an old store ---------------------------------------------------------------------------- */

static bool see_claim(void *me, const char *id, const struct store_claim *c)
{
    (void)id;
    *(bool *)me = c->n_readings == 1 && c->readings[0].value_nano == 58000000 && c->n_photos == 1 &&
                  c->photos[0].dhash.bits == 0xf0f0f0f0f0f0f0f0u && c->n_events == 2 &&
                  strcmp(c->vin, "1FHMC00X000000042") == 0 && c->bulletin_sha256 == NULL &&
                  c->is_invented == STORE_UNKNOWN && c->signed_by == NULL;
    return true;
}

/* A store made by the SQL in a file. */
static void make_by(const char *name)
{
    static char sql[64 * 1024];
    char file[700];
    synth_remove(path);
    mkdir(path, 0777);
    snprintf(file, sizeof file, "%s/%s", TEST_TABLES, name);
    FILE *in = fopen(file, "r");
    if (in == NULL)
        synth_bail(file, NULL);
    sql[fread(sql, 1, sizeof sql - 1, in)] = '\0';
    fclose(in);
    meddle(sql);
}

static void check_old(void)
{
    static const unsigned char photo[] =
        "\xff\xd8\xff a photo of version 1"; /* as make_old.py has it */
    struct store *s = NULL;
    struct fault f = {0};
    bool is_made = true, is_same = false;
    char file[700], photos[700];
    uint8_t sum[STORE_DIGEST];
    make_by("v1.sql");
    tap_ok(store_open(path, STORE_READ, &s, &f) == ERR_DOMAIN,
           "a store of version 1 opened to read: %s", f.message);
    tap_ok(store_init(path, &is_made, &f) == ERR_OK && !is_made, "init brings it up: %s",
           f.message);
    if (store_open(path, STORE_WRITE, &s, &f) != ERR_OK ||
        store_claims(s, NULL, see_claim, &is_same, &f) != ERR_OK)
        synth_bail("open", &f);
    tap_ok(is_same, "its claim is there, value for value (make_old.py)");
    if (digest_bytes(DIGEST_SHA256, photo, sizeof photo - 1, sum) != ERR_OK)
        synth_bail("digest", NULL);
    store_photo_path(s, sum, "jpg", file, sizeof file);
    store_close(s);
    *strrchr(file, '/') = '\0';
    snprintf(photos, sizeof photos, "%s/photos", path);
    mkdir(photos, 0777);
    mkdir(file, 0777);
    file[strlen(file)] = '/';
    FILE *out = fopen(file, "w");
    fwrite(photo, 1, sizeof photo - 1, out);
    fclose(out);
    verify(NULL);
    tap_ok(h.n_faults == 0 && h.counts.rulings == 1 && h.counts.photos == 1,
           "chain, tables and photo of the old store are good");
    if (h.n_faults > 0)
        (void)names("", "-");
    meddle("PRAGMA user_version = 99");
    tap_ok(store_open(path, STORE_WRITE, &s, &f) == ERR_DOMAIN,
           "a store of a later program is left alone: %s", f.message);
    meddle("PRAGMA user_version = 2; PRAGMA application_id = 1");
    tap_ok(store_open(path, STORE_WRITE, &s, &f) == ERR_TYPE,
           "a database of another program too: %s", f.message);
}

/* What a pass over an upgraded store of version 2 must see, by make_old.py. */
struct passed {
    int n, n_good;
    uint8_t readings[3][STORE_DIGEST];
    char ids[3][STORE_CLAIM_SIZE + 1];
};

static bool see_brief(void *me, const struct store_brief *b)
{
    struct passed *p = me;
    const int i = p->n++;
    char vin[32];
    snprintf(vin, sizeof vin, "1FHMC00X00000005%d", i);
    if (i >= 3)
        return false;
    memcpy(p->readings[i], b->readings, STORE_DIGEST);
    snprintf(p->ids[i], sizeof p->ids[i], "%s", b->claim);
    p->n_good += strcmp(b->vin, vin) == 0 && b->has_readings && b->revision == 1 &&
                 b->opened_ms == 1770000000000 && b->finished_ms == STORE_UNKNOWN &&
                 b->taken_ms == 1770000500000 + i && b->job == NULL &&
                 strcmp(b->technician, "T. Example") == 0;
    return true;
}

static void check_version_2(void)
{
    struct store *s = NULL;
    struct fault f = {0};
    struct passed p = {0};
    int64_t amounts[2] = {-1, -1};
    char currency[STORE_CURRENCY_ROOM] = "";
    make_by("v2.sql");
    tap_ok(store_open(path, STORE_READ, &s, &f) == ERR_DOMAIN,
           "a store of version 2 opened to read: %s", f.message);
    if (store_open(path, STORE_WRITE, &s, &f) != ERR_OK ||
        store_briefs(s, see_brief, &p, &f) != ERR_OK)
        synth_bail("open", &f);
    tap_ok(p.n == 3 && p.n_good == 3, "opened to write, its claims are there (make_old.py)");
    tap_ok(memcmp(p.readings[0], p.readings[1], STORE_DIGEST) == 0 &&
               memcmp(p.readings[0], p.readings[2], STORE_DIGEST) != 0,
           "its sets of readings are made anew by the rule of version 3");
    for (int i = 0; i < 2; i++)
        if (store_settle(s, p.ids[i], NULL, 1770001000000, &amounts[i], currency, &f) != ERR_OK)
            synth_bail("settle", &f);
    tap_ok(amounts[0] == 0 && amounts[1] == 9900 && strcmp(currency, "EUR") == 0,
           "what version 2 paid is paid, and what it left is due");
    store_close(s);
    verify(NULL);
    tap_ok(h.n_faults == 0 && h.counts.claims == 3 && h.counts.rulings == 5 &&
               h.counts.papers == 0 && h.counts.builds == 0,
           "chain and tables of the old store are good");
    if (h.n_faults > 0)
        (void)names("", "-");
}

static bool see_listed(void *me, const struct store_listed *l)
{
    int *n_good = me;
    *n_good +=
        strcmp(l->needs, l->paid_minor == 0 ? STORE_NEEDS_PAYMENT : STORE_NEEDS_NOTHING) == 0 &&
        l->amount_minor == 9900 && l->verdict != NULL && strcmp(l->verdict, "pay") == 0;
    return true;
}

/* What stood in version 3's log stands in the table that came with version 4: one of three was paid (make_old.py). */
static void check_version_3(void)
{
    struct store *s = NULL;
    struct fault f = {0};
    int n_good = 0, n_due = 0;
    const struct store_filter all = {0}, due = {.needs = STORE_NEEDS_PAYMENT};
    make_by("v3.sql");
    tap_ok(store_open(path, STORE_READ, &s, &f) == ERR_DOMAIN,
           "a store of version 3 opened to read: %s", f.message);
    if (store_open(path, STORE_WRITE, &s, &f) != ERR_OK ||
        store_list(s, &all, see_listed, &n_good, &f) != ERR_OK ||
        store_list(s, &due, see_listed, &n_due, &f) != ERR_OK)
        synth_bail("open", &f);
    store_close(s);
    tap_ok(n_good == 3 && n_due == 2, "opened to write, what stands for its claims is there");
    verify(NULL);
    tap_ok(h.n_faults == 0, "chain and tables of the old store are good");
    if (h.n_faults > 0)
        (void)names("", "-");
}

/* The same store as its programs of versions 4 to 6 made it of it. Those of 4 and 5 have their derived tables made anew, with the
 * tallies that came with 6; those of 6 stay, and get the indexes that came with version 7. */
static void check_version_dumped(int version)
{
    struct store *s = NULL;
    struct fault f = {0};
    int n_good = 0, n_due = 0;
    const struct store_filter all = {0}, due = {.needs = STORE_NEEDS_PAYMENT};
    char name[16];
    snprintf(name, sizeof name, "v%d.sql", version);
    make_by(name);
    tap_ok(store_open(path, STORE_READ, &s, &f) == ERR_DOMAIN,
           "a store of version %d opened to read: %s", version, f.message);
    if (store_open(path, STORE_WRITE, &s, &f) != ERR_OK ||
        store_list(s, &all, see_listed, &n_good, &f) != ERR_OK ||
        store_list(s, &due, see_listed, &n_due, &f) != ERR_OK)
        synth_bail("open", &f);
    store_close(s);
    tap_ok(n_good == 3 && n_due == 2, "opened to write, its claims stand as they did");
    verify(NULL);
    tap_ok(h.n_faults == 0, "chain, tables and indexes are those of a new store");
    if (h.n_faults > 0)
        (void)names("", "-");
}

int main(void)
{
    synth_folder(folder);
    snprintf(path, sizeof path, "%s/store", folder);
    snprintf(base, sizeof base, "%s/base", folder);
    build();
    verify(NULL);
    tap_ok(h.n_faults == 0, "the store is whole before anything is changed");
    check_log();
    check_rebuild();
    check_head();
    check_triggers();
    check_files();
    check_bits();
    check_old();
    check_version_2();
    check_version_3();
    for (int version = 4; version <= 6; version++)
        check_version_dumped(version);
    synth_remove(folder);
    return tap_done();
}
