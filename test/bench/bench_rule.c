/* bench_rule: makes a store of invented claims, and rules on all of them.
 * usage: bench_rule make FOLDER N EVENTS.json BULLETIN | bench_rule rule FOLDER BULLETIN [trial] | bench_rule bare FOLDER */
#include "base/file.h"
#include "base/pool.h"
#include "desk/claims.h"
#include "desk/ruling.h"

#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* Of all threads, by the kernel's count: what the machine's other work does not change. */
static double cpu_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static int fail(const struct fault *f)
{
    fprintf(stderr, "bench_rule: %s: %s\n", f->file, f->message);
    return 1;
}

static int make(const char *folder, unsigned n, const char *events, const char *bulletin)
{
    struct text text = {0}, yaml = {0};
    struct fault f = {0};
    struct store *s = NULL;
    bool is_made = false;
    if (file_read(events, 1 << 22, &text, &f) != ERR_OK ||
        file_read(bulletin, 1 << 22, &yaml, &f) != ERR_OK ||
        store_init(folder, &is_made, &f) != ERR_OK ||
        store_open(folder, STORE_WRITE, &s, &f) != ERR_OK)
        return fail(&f);
    struct claims *c = claims_new(text.data, text.size);
    claims_set_bulletin(c, yaml.data, yaml.size);
    for (unsigned i = 0; i < n; i++) {
        const struct claims_how how = claims_how_of(i);
        claims_take(c, s, &how);
    }
    claims_free(c);
    store_close(s);
    text_done(&text);
    text_done(&yaml);
    return 0;
}

struct seen {
    size_t n, n_verdict[4], n_findings, n_changed;
};

static bool see(void *me, const struct ruling_seen *r)
{
    struct seen *s = me;
    s->n++;
    s->n_verdict[r->ruling->verdict]++;
    s->n_findings += r->ruling->n_findings;
    s->n_changed += r->is_changed;
    return true;
}

static int rule(const char *folder, const char *path, bool is_trial)
{
    struct text text = {0};
    struct fault f = {0};
    struct fault_list faults = {0};
    struct store *s = NULL;
    struct seen seen = {0};
    size_t n_unruled = 0;
    if (file_read(path, 1 << 22, &text, &f) != ERR_OK ||
        store_open(folder, is_trial ? STORE_READ : STORE_WRITE, &s, &f) != ERR_OK)
        return fail(&f);
    struct bulletin *b = bulletin_load(text.data, text.size, path, &faults);
    const struct ruling_order order = {.bulletin = b,
                                       .bulletin_text = text.data,
                                       .bulletin_size = text.size,
                                       .now_ms = 1800000000000,
                                       .n_threads = pool_threads(),
                                       .is_trial = is_trial};
    const double start = now_s(), cpu_start = cpu_s();
    if (b == NULL || ruling_run(s, &order, NULL, see, &seen, &n_unruled, &f) != ERR_OK)
        return fail(&f);
    printf("{\"seconds\":%.3f,\"cpu_s\":%.3f,\"claims\":%zu,\"pay\":%zu,\"ask\":%zu,\"hold\":%zu,"
           "\"refuse\":%zu,"
           "\"findings\":%zu,\"changed\":%zu,\"unruled\":%zu}\n",
           now_s() - start, cpu_s() - cpu_start, seen.n, seen.n_verdict[0], seen.n_verdict[1],
           seen.n_verdict[2], seen.n_verdict[3], seen.n_findings, seen.n_changed, n_unruled);
    bulletin_free(b);
    fault_list_done(&faults);
    store_close(s);
    text_done(&text);
    return 0;
}

/* Every row and column of the tables that ruling reads, by sqlite3_step alone. */
static int bare(const char *folder)
{
    static const char *const tables[] = {
        "SELECT * FROM log ORDER BY seq",
        "SELECT * FROM claims ORDER BY seq",
        "SELECT * FROM stations ORDER BY claim_seq, n",
        "SELECT * FROM readings ORDER BY claim_seq, n",
        "SELECT * FROM photos ORDER BY claim_seq, n",
        "SELECT * FROM reading_sets ORDER BY claim_seq",
        "SELECT * FROM findings ORDER BY seq, n",
        "SELECT * FROM rulings ORDER BY seq",
    };
    char path[512];
    sqlite3 *db = NULL;
    uint64_t rows = 0, bytes = 0;
    snprintf(path, sizeof path, "%s/store.db", folder);
    if (sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY, NULL) != SQLITE_OK)
        return 1;
    const double start = now_s(), cpu_start = cpu_s();
    for (size_t i = 0; i < sizeof tables / sizeof *tables; i++) {
        sqlite3_stmt *st = NULL;
        if (sqlite3_prepare_v2(db, tables[i], -1, &st, NULL) != SQLITE_OK)
            return 1;
        const int n = sqlite3_column_count(st);
        while (sqlite3_step(st) == SQLITE_ROW) {
            rows++;
            for (int k = 0; k < n; k++) {
                const void *at = sqlite3_column_blob(st, k);
                bytes += at != NULL ? (uint64_t)sqlite3_column_bytes(st, k) : 0;
            }
        }
        sqlite3_finalize(st);
    }
    printf("{\"seconds\":%.3f,\"cpu_s\":%.3f,\"rows\":%llu,\"bytes\":%llu}\n", now_s() - start,
           cpu_s() - cpu_start, (unsigned long long)rows, (unsigned long long)bytes);
    sqlite3_close(db);
    return 0;
}

int main(int argc, char **argv)
{
    if (argc == 6 && strcmp(argv[1], "make") == 0)
        return make(argv[2], (unsigned)strtoul(argv[3], NULL, 10), argv[4], argv[5]);
    if (argc >= 4 && strcmp(argv[1], "rule") == 0)
        return rule(argv[2], argv[3], argc > 4 && strcmp(argv[4], "trial") == 0);
    if (argc == 3 && strcmp(argv[1], "bare") == 0)
        return bare(argv[2]);
    fprintf(stderr,
            "usage: bench_rule make FOLDER N EVENTS.json BULLETIN | rule FOLDER BULLETIN [trial] | "
            "bare FOLDER\n");
    return 2;
}
