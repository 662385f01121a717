/* builds, whole: a list that comes into an SQLite store without one is one transaction, its indexes are made last. What comes of it is what
 * comes of calls of store_build_put one by one: every entry of the log (by the last hash of the chain), every row, the schema, and the
 * indexes against the rows (SQLite's own integrity_check, by store_verify). After a fault, while others look, and after kill -9 at random
 * moments, the store is as it was before, or whole. On PostgreSQL, where each call stays one transaction, the first part alone.
 * MENDWRIGHT_SEED sets the moments of the kills, MENDWRIGHT_KILLS their number. */
#include "../store/synth.h"
#include "tap.h"

#include "base/digest.h"
#include "base/text.h"
#include "desk/builds.h"

#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

enum { ROWS = 41000, ROWS_SERVER = 21000, ROWS_KILLED = 21000, KILLS = 6, NOW = 1770000000 };

static char folder[256];

static int64_t now_ms(int list)
{
    return (int64_t)NOW * 1000 + list;
}

/* ---- lists --------------------------------------------------------------------------------- */

/* Made-up units in no order: of 2^k numbers each once, by an odd factor. From row 20000 on every 7th says another thing of the row before
 * it, or of one far before it. Every 11th has no label, some are written otherwise; list 1 has rows of list 0, other labels and other
 * units. */
static void put_row(struct text *t, unsigned i, unsigned list)
{
    const unsigned k = i < 20000 || i % 7 != 6 ? i : i % 14 == 6 ? i - 1 : i - 20000;
    const unsigned unit = k / 2 * 40503U % 65536U;
    const char *form = i % 13 == 0 ? "zzzfm24t5r0%06u,%s," : " ZZZFM24T5R0%06u ,%s,";
    text_printf(t, i % 13 < 2 ? form : "ZZZFM24T5R0%06u,%s,",
                unit + (list > 0 && i % 3 == 0 ? 70000 : 0), k % 2 == 0 ? "fore" : "aft");
    if (i % 11 != 0)
        text_printf(t, i % 17 == 0 ? "\"C2, 2024-W%02u\"" : "C2-2024-W%02u",
                    (i + (list > 0 && i % 5 == 0)) % 52 + 1);
    text_putc(t, '\n');
}

/* Rows of which those from the 10000th on are the first 10000 once more, as a batch of its own: it says nothing new. */
static void make_list(struct text *t, unsigned n, unsigned list)
{
    text_clear(t);
    text_puts(t, "vin,station,label\n");
    for (unsigned i = 0; i < n; i++)
        put_row(t, i >= 10000 && i < 20000 ? i - 10000 : i, list);
}

static void save(const char *path, const struct text *t)
{
    FILE *file = fopen(path, "wb");
    if (file == NULL || fwrite(t->data, 1, t->size, file) != t->size || fclose(file) != 0)
        synth_bail("a list is written", NULL);
}

/* ---- what a store holds -------------------------------------------------------------------- */

static struct store *open_store(const char *path)
{
    struct store *s = NULL;
    struct fault f = {0};
    if (store_open(path, STORE_WRITE, &s, &f) != ERR_OK)
        synth_bail("a store is opened", &f);
    return s;
}

static struct store *new_store(const char *path)
{
    struct fault f = {0};
    bool is_made = false;
    if (store_init(path, &is_made, &f) != ERR_OK || !is_made)
        synth_bail("a store is made", &f);
    return open_store(path);
}

static bool add_build(void *me, const struct store_build *b)
{
    text_printf(me, "%s %s %s\n", b->vin, b->station, b->label != NULL ? b->label : "-");
    return true;
}

struct held {
    struct text rows;
    struct store_health health;
};

static void look(struct store *s, struct held *ret)
{
    struct fault f = {0};
    text_clear(&ret->rows);
    text_puts(&ret->rows, "");
    if (store_verify(s, NULL, NULL, &ret->health, &f) != ERR_OK ||
        store_builds(s, NULL, add_build, &ret->rows, &f) != ERR_OK)
        synth_bail("a look", &f);
    for (int64_t i = 0; i < ret->health.n_faults && i < 3; i++)
        tap_note("%s, %s: %s", ret->health.faults[i].kind, ret->health.faults[i].where,
                 ret->health.faults[i].message);
}

static bool is_same(const struct held *a, const struct held *b)
{
    return a->health.n_faults == 0 && b->health.n_faults == 0 && a->rows.size > 0 &&
           memcmp(a->health.head, b->health.head, STORE_DIGEST) == 0 &&
           a->health.counts.builds == b->health.counts.builds &&
           strcmp(a->rows.data, b->rows.data) == 0;
}

static bool is_empty(const struct held *h)
{
    return h->health.n_faults == 0 && h->health.counts.builds == 0 && h->health.counts.entries == 0;
}

/* ---- the same as one by one ---------------------------------------------------------------- */

struct each {
    struct store *store;
    int64_t at_ms;
};

static enum err put_each(void *me, const struct store_build *rows, size_t n, struct fault *f)
{
    const struct each *e = me;
    return store_build_put(e->store, rows, n, e->at_ms, f);
}

static void check_same(void)
{
    static struct held whole, each;
    struct text t = {0};
    char list[300], path[600], other[600];
    synth_store(folder, path, sizeof path);
    synth_store(folder, other, sizeof other); /* on a server another one each time */
    if (!synth_is_server())
        snprintf(other, sizeof other, "%s/each", folder);
    snprintf(list, sizeof list, "%s/list.csv", folder);
    struct store *a = new_store(path), *b = new_store(other);
    const int64_t n = synth_is_server() ? ROWS_SERVER : ROWS, n_entries = synth_is_server() ? 2 : 4;
    for (unsigned i = 0; i < 3; i++) { /* the third time the first again */
        struct builds_answer x = {0}, y = {0};
        struct fault f = {0};
        struct each e = {b, now_ms((int)i)};
        make_list(&t, (unsigned)n, i % 2);
        save(list, &t);
        if (builds_take(a, list, now_ms((int)i), NULL, &x, &f) != ERR_OK ||
            builds_read(t.data, t.size, "list.csv", put_each, &e, &y, &f) != ERR_OK)
            synth_bail("a list is taken", &f);
        look(a, &whole);
        look(b, &each);
        tap_ok(is_same(&whole, &each) && whole.health.counts.entries > 2 * i,
               "list %u: the store is as by calls one by one: %lld rows, %lld entries", i + 1,
               (long long)whole.health.counts.builds, (long long)whole.health.counts.entries);
        tap_ok(x.n_rows == n && x.n_rows == y.n_rows && x.n_bad_checks == y.n_bad_checks &&
                   x.first_bad_line == y.first_bad_line &&
                   strcmp(x.first_bad_vin, y.first_bad_vin) == 0,
               "and so is the answer: %lld rows", (long long)x.n_rows);
    }
    tap_ok(whole.health.counts.entries == 3 * n_entries, "what said nothing new is in no entry");
    store_close(a);
    store_close(b);
    text_done(&t);
}

/* ---- all or nothing ------------------------------------------------------------------------ */

struct other {
    const char *path;
    int n_steps, n_seen, n_wrong;
};

/* Another reader looks in now and then. */
static void look_in(void *me, const char *what, uint64_t done, uint64_t all)
{
    struct other *o = me;
    struct store *s = NULL;
    struct store_counts c = {0};
    struct fault f = {0};
    (void)what;
    if (++o->n_steps % 40 != 1 || done == all)
        return;
    if (store_open(o->path, STORE_READ, &s, &f) != ERR_OK || store_count(s, &c, &f) != ERR_OK)
        synth_bail("another looks in", &f);
    o->n_seen++;
    o->n_wrong += c.builds != 0 || c.entries != 0;
    store_close(s);
}

static void check_faults(const char *list)
{
    static struct held held;
    char path[300];
    struct text t = {0};
    struct builds_answer a = {0};
    struct fault f = {0};
    struct other other = {.path = path};
    const struct store_progress progress = {look_in, &other};
    snprintf(path, sizeof path, "%s/faults", folder);
    struct store *s = new_store(path);
    make_list(&t, ROWS_KILLED, 0);
    text_puts(&t, "ZZZFM24T5R0000001,Fore,L\n");
    save(list, &t);
    const enum err err = builds_take(s, list, now_ms(0), NULL, &a, &f);
    look(s, &held);
    tap_ok(err == ERR_SYNTAX && f.line == ROWS_KILLED + 2 && f.column == 19 &&
               strcmp(f.path, "station") == 0 && a.n_rows == 0 && is_empty(&held),
           "a fault in the last row: nothing is changed, and its place is told: %d:%d %s", f.line,
           f.column, f.message);
    text_clear(&t);
    text_puts(&t, "vin,station,label\n");
    save(list, &t);
    const enum err none = builds_take(s, list, now_ms(0), NULL, &a, &f);
    look(s, &held);
    tap_ok(none == ERR_EMPTY && strcmp(f.file, list) == 0 && is_empty(&held),
           "nor by a list of no unit");
    make_list(&t, ROWS_KILLED, 0);
    save(list, &t);
    const enum err good = builds_take(s, list, now_ms(0), &progress, &a, &f);
    look(s, &held);
    tap_ok(good == ERR_OK && held.health.n_faults == 0 && held.health.counts.entries == 2,
           "after both the list without a fault is taken");
    tap_ok(other.n_seen > 1 && other.n_wrong == 0,
           "who looked in meanwhile saw a store without a list (%d times)", other.n_seen);
    store_close(s);
    text_done(&t);
}

static void check_broken(void)
{
    static struct held held;
    const struct store_build rows[] = {{"V1", "fore", "A"}, {"V2", "fore", NULL}};
    const struct store_build late = {"V3", "fore", "A"};
    char path[300];
    struct fault f = {0};
    bool is_whole = false;
    snprintf(path, sizeof path, "%s/broken", folder);
    struct store *s = new_store(path);
    enum err err = store_builds_begin(s, true, &is_whole, &f);
    if (err == ERR_OK)
        err = store_build_put(s, rows, 2, now_ms(0), &f);
    tap_ok(err == ERR_OK && is_whole, "a call within the whole");
    tap_ok(store_build_put(s, &late, 1, -1, &f) == ERR_DOMAIN, "one that fails: %s", f.message);
    tap_ok(store_build_put(s, rows, 1, now_ms(1), &f) == ERR_ORDER, "none after it: %s", f.message);
    tap_ok(store_builds_end(s, true, &f) == ERR_ORDER, "and it cannot be kept: %s", f.message);
    look(s, &held);
    tap_ok(is_empty(&held), "nothing was changed");
    err = store_builds_begin(s, true, &is_whole, &f);
    if (err == ERR_OK)
        err = store_build_put(s, rows, 2, now_ms(2), &f);
    if (err == ERR_OK)
        err = store_builds_end(s, true, &f);
    tap_ok(err == ERR_OK && is_whole, "the next time it is: %s", f.message);
    look(s, &held);
    tap_ok(held.health.n_faults == 0 && held.health.counts.builds == 2, "with both rows");
    err = store_builds_begin(s, true, &is_whole, &f);
    tap_ok(err == ERR_OK && !is_whole, "where there is a list, each call is one");
    tap_ok(store_builds_end(s, false, &f) == ERR_OK, "and it ends");
    err = store_builds_begin(s, false, &is_whole, &f);
    tap_ok(err == ERR_OK && !is_whole && store_builds_end(s, true, &f) == ERR_OK,
           "or where it is not wanted");
    store_close(s);
    s = NULL;
    if (store_open(path, STORE_READ, &s, &f) != ERR_OK)
        synth_bail("open", &f);
    tap_ok(store_builds_begin(s, true, &is_whole, &f) == ERR_IO &&
               store_builds_end(s, true, &f) == ERR_OK,
           "not in a store that is only read: %s", f.message);
    store_close(s);
}

/* ---- killed -------------------------------------------------------------------------------- */

static void say_step(void *me, const char *what, uint64_t done, uint64_t all)
{
    const int *fd = me;
    (void)what;
    if (done < all && write(*fd, "s", 1) != 1)
        _exit(5);
}

static void child(const char *path, const char *list, int fd)
{
    struct store *s = NULL;
    struct builds_answer a = {0};
    struct fault f = {0};
    const struct store_progress progress = {say_step, &fd};
    if (store_open(path, STORE_WRITE, &s, &f) != ERR_OK)
        _exit(3);
    if (builds_take(s, list, now_ms(0), &progress, &a, &f) != ERR_OK || write(fd, "a", 1) != 1)
        _exit(4);
    store_close(s);
    _exit(0);
}

static int64_t now_us(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}

struct kills {
    int n_empty, n_whole, n_acknowledged, n_wrong;
};

/* Kills a child after n_wanted steps (each 256 rows) and a pause; whether it had said that all is in. */
static bool kill_one(const char *path, const char *list, int n_wanted, int64_t pause_us)
{
    const struct timespec pause = {.tv_sec = 0, .tv_nsec = pause_us * 1000};
    bool is_acknowledged = false;
    int ends[2], status = 0, n = 0;
    char said;
    if (pipe(ends) != 0)
        synth_bail("pipe", NULL);
    fflush(stdout);
    const pid_t pid = fork();
    if (pid == 0) {
        close(ends[0]);
        child(path, list, ends[1]);
    }
    close(ends[1]);
    while (n < n_wanted && read(ends[0], &said, 1) == 1) {
        n++;
        is_acknowledged |= said == 'a';
    }
    nanosleep(&pause, NULL);
    kill(pid, SIGKILL);
    if (pid < 0 || waitpid(pid, &status, 0) != pid ||
        (!WIFSIGNALED(status) && WEXITSTATUS(status) != 0)) {
        printf("Bail out! the child ended by itself with %d\n", WEXITSTATUS(status));
        exit(2);
    }
    while (read(ends[0], &said, 1) == 1)
        is_acknowledged |= said == 'a';
    close(ends[0]);
    return is_acknowledged;
}

/* pause_most_us: about how long a list takes. */
static void check_killed(const char *list, const struct held *wanted, unsigned pause_most_us)
{
    static struct held held;
    enum { STEPS = ROWS_KILLED / 256 };
    const char *kills = getenv("MENDWRIGHT_KILLS"), *from = getenv("MENDWRIGHT_SEED");
    const int n = kills != NULL && kills[0] != '\0' ? atoi(kills) : KILLS;
    unsigned seed = from != NULL ? (unsigned)strtoul(from, NULL, 10) : (unsigned)time(NULL);
    char path[300];
    struct kills k = {0};
    tap_note("seed %u", seed);
    for (int i = 0; i < n; i++) {
        snprintf(path, sizeof path, "%s/killed%d", folder, i);
        store_close(new_store(path));
        /* Two of three behind the last row, where the indexes are made and all is committed. */
        seed = seed * 1103515245U + 12345U;
        const int steps = i % 3 == 0 ? 1 + (int)(seed >> 16) % STEPS : STEPS;
        seed = seed * 1103515245U + 12345U;
        const bool is_acknowledged = kill_one(path, list, steps, (seed >> 8) % pause_most_us);
        struct store *s = open_store(path);
        look(s, &held);
        const bool was_empty = is_empty(&held);
        k.n_wrong += !(was_empty && !is_acknowledged) && !is_same(&held, wanted);
        k.n_empty += was_empty;
        k.n_whole += !was_empty;
        k.n_acknowledged += is_acknowledged;
        struct builds_answer a = {0};
        struct fault f = {0};
        if (was_empty && builds_take(s, list, now_ms(0), NULL, &a, &f) != ERR_OK)
            synth_bail("the list is taken after the kill", &f);
        look(s, &held);
        k.n_wrong += !is_same(&held, wanted);
        store_close(s);
        synth_remove(path);
    }
    tap_ok(k.n_wrong == 0,
           "%d kills: the store without a list %d times, with all of it %d times, in %d it "
           "had been said so; and where it is without, the list is taken",
           n, k.n_empty, k.n_whole, k.n_acknowledged);
}

int main(void)
{
    static struct held wanted;
    char list[300], path[300];
    struct text t = {0};
    struct builds_answer a = {0};
    struct fault f = {0};
    synth_folder(folder);
    snprintf(list, sizeof list, "%s/list.csv", folder);
    check_same();
    if (!synth_is_server()) {
        check_faults(list);
        check_broken();
        make_list(&t, ROWS_KILLED, 0);
        save(list, &t);
        snprintf(path, sizeof path, "%s/wanted", folder);
        struct store *s = new_store(path);
        const int64_t start_us = now_us();
        if (builds_take(s, list, now_ms(0), NULL, &a, &f) != ERR_OK)
            synth_bail("a list is taken", &f);
        const int64_t took_us = now_us() - start_us;
        look(s, &wanted);
        store_close(s);
        check_killed(list, &wanted, took_us < 900000 ? (unsigned)took_us + 1 : 900000);
    }
    text_done(&wanted.rows);
    text_done(&t);
    synth_remove(folder);
    return tap_done();
}
