/* Taking invented claims into a store, for test/bench/run and test/store/chain.py.
 *
 * usage: bench_store --claims N [--photos] [--from K] FOLDER   makes a store in FOLDER and takes N claims in; prints the seconds
 *                                                    that taking in took; with --photos alone also keeps three papers, two of
 *                                                    which hold, and three rows of a build list, two of which hold;
 *                                                    --from K takes claims K to K + N, so that several can write at once;
 *                                                    FOLDER may be any store's address
 *        bench_store --read FOLDER                   reads every claim and its events back; prints the seconds and how
 *                                                    many values it saw
 *        bench_store --bare FOLDER                   the same rows and columns by SQLite alone, table by table
 *        bench_store --sql FOLDER                    prints the rows of that store as SQL for the sqlite3 shell, one
 *                                                    transaction a claim */
#include "../store/synth.h"

#include <inttypes.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

/* What an escape in JSON has to bring back: quotes, line feeds, a tab, letters of two to four bytes. */
static const char paper_text[] = "a: \"b\"\n\tc: \\ \xc3\xb6 \xe2\x82\xac \xf0\x9d\x84\x9e\n";

static void keep_papers(struct store *s)
{
    struct store_paper papers[] = {
        {.kind = "bulletin", .name = "OV-26-03", .revision = 2, .text = "first", .n = 5},
        {.kind = "shops", .name = "shops", .revision = STORE_UNKNOWN, .text = "shop\n", .n = 5},
        {.kind = "bulletin", .name = "OV-26-03", .revision = 2, .text = paper_text},
    };
    const struct store_build first[] = {{"1FHMC00X000000000", "fore", "C2-2024-W19"},
                                        {"1FHMC00X000000000", "aft", "C2-2024-W20"}};
    const struct store_build second = {"1FHMC00X000000000", "fore", NULL};
    struct fault f = {0};
    papers[2].n = sizeof paper_text - 1;
    for (int i = 0; i < 3; i++) {
        bool is_new = false;
        papers[i].at_ms = 1770000000000 + i;
        if (store_keep(s, &papers[i], &is_new, &f) != ERR_OK || !is_new)
            synth_bail("keep", &f);
    }
    if (store_build_put(s, first, 2, 1770000000000, &f) != ERR_OK ||
        store_build_put(s, &second, 1, 1770000000001, &f) != ERR_OK)
        synth_bail("builds", &f);
}

static int take_all(const char *folder, unsigned first, unsigned n, bool is_with_photos,
                    bool has_papers)
{
    struct synth *all = calloc(n, sizeof *all);
    struct store *s = NULL;
    struct fault f = {0};
    bool is_made;
    if (all == NULL || store_init(folder, &is_made, &f) != ERR_OK ||
        store_open(folder, STORE_WRITE, &s, &f) != ERR_OK)
        synth_bail("store", &f);
    for (unsigned i = 0; i < n; i++)
        synth_make(&all[i], 1, first + i, is_with_photos);
    const double start = now_s();
    for (unsigned i = 0; i < n; i++) {
        enum store_taken taken;
        if (store_take(s, &all[i].claim, &taken, NULL, &f) != ERR_OK || taken != STORE_TAKEN)
            synth_bail("take", &f);
    }
    const double end = now_s();
    if (has_papers)
        keep_papers(s);
    store_close(s);
    printf("%.6f\n", end - start);
    free(all);
    return 0;
}

/* ---- the same rows as SQL -------------------------------------------------------------------- */

static void put_value(sqlite3_stmt *row, int i)
{
    const unsigned char *text;
    switch (sqlite3_column_type(row, i)) {
    case SQLITE_INTEGER:
        printf("%lld", (long long)sqlite3_column_int64(row, i));
        break;
    case SQLITE_FLOAT:
        printf("%.17g", sqlite3_column_double(row, i));
        break;
    case SQLITE_NULL:
        fputs("NULL", stdout);
        break;
    case SQLITE_BLOB:
        fputs("x'", stdout);
        text = sqlite3_column_blob(row, i);
        for (int k = 0; k < sqlite3_column_bytes(row, i); k++)
            printf("%02x", text[k]);
        putchar('\'');
        break;
    default:
        putchar('\'');
        for (text = sqlite3_column_text(row, i); *text != '\0'; text++)
            printf(*text == '\'' ? "''" : "%c", *text);
        putchar('\'');
    }
}

/* INSERTs for the rows of a table whose key lies in first..last. */
static void put_rows(sqlite3_stmt *rows, const char *table, int64_t first, int64_t last)
{
    sqlite3_bind_int64(rows, 1, first);
    sqlite3_bind_int64(rows, 2, last);
    while (sqlite3_step(rows) == SQLITE_ROW) {
        printf("INSERT INTO %s VALUES (", table);
        for (int i = 0; i < sqlite3_column_count(rows); i++) {
            fputs(i > 0 ? "," : "", stdout);
            put_value(rows, i);
        }
        puts(");");
    }
    sqlite3_reset(rows);
}

static sqlite3_stmt *prepare(sqlite3 *db, const char *sql)
{
    sqlite3_stmt *s = NULL;
    if (sqlite3_prepare_v2(db, sql, -1, &s, NULL) != SQLITE_OK) {
        fprintf(stderr, "bench_store: %s: %s\n", sql, sqlite3_errmsg(db));
        exit(2);
    }
    return s;
}

static int print_sql(const char *folder)
{
    static const struct {
        const char *table, *source, *key;
    } tables[] = {
        {"log", "log", "seq"},
        {"units", "temp.u", "first_seq"},
        {"claims", "claims", "seq"},
        {"stations", "stations", "claim_seq"},
        {"readings", "readings", "claim_seq"},
        {"reading_sets", "reading_sets", "claim_seq"},
        {"photos", "photos", "claim_seq"},
        {"findings", "findings", "seq"},
    };
    enum { TABLES = sizeof tables / sizeof *tables };
    char path[1024], sql[256];
    sqlite3 *db = NULL;
    sqlite3_stmt *rows[TABLES], *claims, *schema;
    snprintf(path, sizeof path, "%s/store.db", folder);
    if (sqlite3_open(path, &db) != SQLITE_OK)
        return 2;
    /* A unit's first claim is found without an index only here: not in what is measured. */
    sqlite3_exec(db,
                 "CREATE TEMP TABLE u AS SELECT * FROM units; CREATE INDEX temp.u_seq "
                 "ON u (first_seq);",
                 NULL, NULL, NULL);
    for (int i = 0; i < TABLES; i++) {
        snprintf(sql, sizeof sql, "SELECT * FROM %s WHERE %s BETWEEN ? AND ?", tables[i].source,
                 tables[i].key);
        rows[i] = prepare(db, sql);
    }
    puts("PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON;");
    schema = prepare(db, "SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL ORDER BY type = "
                         "'trigger', type = 'index'");
    while (sqlite3_step(schema) == SQLITE_ROW)
        printf("%s;\n", (const char *)sqlite3_column_text(schema, 0));
    sqlite3_finalize(schema);
    claims = prepare(db, "SELECT seq, seq + n_events FROM claims ORDER BY seq");
    while (sqlite3_step(claims) == SQLITE_ROW) {
        puts("BEGIN IMMEDIATE;");
        for (int i = 0; i < TABLES; i++)
            put_rows(rows[i], tables[i].table, sqlite3_column_int64(claims, 0),
                     sqlite3_column_int64(claims, 1));
        puts("COMMIT;");
    }
    sqlite3_finalize(claims);
    for (int i = 0; i < TABLES; i++)
        sqlite3_finalize(rows[i]);
    return sqlite3_close(db) == SQLITE_OK ? 0 : 2;
}

/* ---- reading back ---------------------------------------------------------------------------- */

struct reading {
    struct store *store;
    int64_t n; /* values seen */
};

static bool see_event(void *me, const struct store_event *e)
{
    ((struct reading *)me)->n +=
        2 + (e->ulid[0] != '\0' && e->type[0] != '\0' && e->json[0] == '{');
    return true;
}

static bool see_claim(void *me, const char *id, const struct store_claim *c)
{
    struct reading *r = me;
    struct fault f = {0};
    r->n += (int64_t)(16 + 7 * c->n_stations + 8 * c->n_readings + 19 * c->n_photos +
                      5 * c->n_findings);
    if (store_events(r->store, id, see_event, r, &f) != ERR_OK)
        synth_bail("events", &f);
    return true;
}

static int read_all(const char *folder)
{
    struct reading r = {0};
    struct fault f = {0};
    const double start = now_s();
    if (store_open(folder, STORE_READ, &r.store, &f) != ERR_OK ||
        store_claims(r.store, NULL, see_claim, &r, &f) != ERR_OK)
        synth_bail("claims", &f);
    store_close(r.store);
    printf("%.6f %lld\n", now_s() - start, (long long)r.n);
    return 0;
}

static int read_bare(const char *folder)
{
    static const char *const queries[] = {
        ("SELECT bag, n_events, job, bulletin, revision, bulletin_sha256, is_invented, vin, shop, "
         "technician, signature, signed_by, opened_ms, finished_ms, taken_ms, labour_s FROM claims "
         "ORDER BY seq"),
        "SELECT station, variant, label, built_first, built_last, scope, kit FROM stations",
        "SELECT station, point, phase, unit, value_nano, u_nano, taken_ms, ulid FROM readings",
        ("SELECT name, station, point, ulid, sha256, ext, bytes, width, height, taken_ms, dhash, "
         "dhash_mirror, phash, phash_mirror, is_flat, sharpness, exposure, codes, fault FROM "
         "photos"),
        "SELECT rule, level, station, message, cure FROM findings",
        "SELECT ulid, type, json FROM log WHERE type NOT LIKE 'store.%' ORDER BY seq",
    };
    char path[1024];
    sqlite3 *db = NULL;
    int64_t n = 0;
    const double start = now_s();
    snprintf(path, sizeof path, "%s/store.db", folder);
    if (sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY | SQLITE_OPEN_NOMUTEX, NULL) != SQLITE_OK)
        return 2;
    for (size_t i = 0; i < sizeof queries / sizeof *queries; i++) {
        sqlite3_stmt *s = prepare(db, queries[i]);
        while (sqlite3_step(s) == SQLITE_ROW)
            for (int k = 0; k < sqlite3_column_count(s); k++) {
                const int kind = sqlite3_column_type(s, k);
                n += kind == SQLITE_INTEGER ? (sqlite3_column_int64(s, k), 1)
                     : kind == SQLITE_FLOAT ? (sqlite3_column_double(s, k), 1)
                     : kind == SQLITE_TEXT  ? sqlite3_column_text(s, k) != NULL
                     : kind == SQLITE_BLOB  ? sqlite3_column_blob(s, k) != NULL
                                            : 1;
            }
        sqlite3_finalize(s);
    }
    printf("%.6f %lld\n", now_s() - start, (long long)n);
    return sqlite3_close(db) == SQLITE_OK ? 0 : 2;
}

int main(int argc, char **argv)
{
    if (argc == 3 && strcmp(argv[1], "--read") == 0)
        return read_all(argv[2]);
    if (argc == 3 && strcmp(argv[1], "--bare") == 0)
        return read_bare(argv[2]);
    if (argc == 3 && strcmp(argv[1], "--sql") == 0)
        return print_sql(argv[2]);
    const bool is_with_photos = (argc == 5 || argc == 7) && strcmp(argv[3], "--photos") == 0;
    const bool is_from = argc >= 6 && strcmp(argv[argc - 3], "--from") == 0;
    const long n = argc >= 4 && strcmp(argv[1], "--claims") == 0 ? strtol(argv[2], NULL, 10) : 0;
    const long first = is_from ? strtol(argv[argc - 2], NULL, 10) : 0;
    if (n < 1 || n > 1000000 || first < 0 || first > 100000000 || (argc == 5 && !is_with_photos) ||
        (argc == 6 && !is_from) || (argc == 7 && !(is_from && is_with_photos)) || argc > 7) {
        fputs("usage: bench_store --claims N [--photos] [--from K] FOLDER | bench_store "
              "--read|--bare|--sql FOLDER\n",
              stderr);
        return 2;
    }
    return take_all(argv[argc - 1], (unsigned)first, (unsigned)n, is_with_photos,
                    is_with_photos && !is_from);
}
