/* Two processes take in at once, half of their claims the same ones, while a third verifies, copies
 * and tidies: no claim is lost, none is there twice, and nobody sees a locked database. */
#include "synth.h"
#include "tap.h"

#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

enum { CLAIMS = 120, WRITERS = 2 };

static char folder[256], path[600];

struct report {
    int n_taken, n_already, n_failed;
    char message[FAULT_MESSAGE_MAX];
};

/* Writer k takes in its own claims and, in the same order as the other, the common ones: so both
 * come to the same bag at about the same time again and again. */
static void writer(int k, int fd)
{
    static struct synth one;
    struct report r = {0};
    struct store *s = NULL;
    struct fault f = {0};
    if (store_open(path, STORE_WRITE, &s, &f) != ERR_OK) {
        r.n_failed++;
        memcpy(r.message, f.message, sizeof r.message);
    }
    for (unsigned i = 0; s != NULL && i < CLAIMS; i++) {
        const unsigned number = i % 2 == 0 ? i : i + 1000 * ((unsigned)k + 1);
        enum store_taken taken = STORE_ALREADY;
        synth_make(&one, 5, number, true);
        if (store_take(s, &one.claim, &taken, NULL, &f) != ERR_OK) {
            r.n_failed++;
            memcpy(r.message, f.message, sizeof r.message);
        } else if (taken == STORE_TAKEN)
            r.n_taken++;
        else
            r.n_already++;
    }
    store_close(s);
    _exit(write(fd, &r, sizeof r) == (ssize_t)sizeof r ? 0 : 1);
}

struct watch {
    int n_looks, n_bad, n_failed, n_copies;
    char message[FAULT_MESSAGE_MAX];
};

/* One round of what a person may do meanwhile. Each opens the store anew, as a command does. */
static void meddle(struct watch *w)
{
    static struct store_health h;
    struct store *s = NULL;
    struct fault f = {0};
    struct store_counts c = {0};
    int64_t n = 0, bytes = 0;
    char dest[320];
    enum err err = store_open(path, STORE_READ, &s, &f);
    if (err == ERR_OK)
        err = store_verify(s, NULL, NULL, &h, &f);
    w->n_bad += err == ERR_OK && h.n_faults > 0;
    snprintf(dest, sizeof dest, "%s/copy%d", folder, w->n_looks++);
    if (err == ERR_OK)
        err = store_backup(s, dest, NULL, &c, &f);
    store_close(s);
    s = NULL;
    if (err == ERR_OK)
        err = store_open(dest, STORE_READ, &s, &f);
    if (err == ERR_OK)
        err = store_verify(s, NULL, NULL, &h, &f);
    w->n_copies +=
        err == ERR_OK && h.n_faults == 0 && h.n_orphans == 0 && h.counts.claims == c.claims;
    store_close(s);
    s = NULL;
    if (err == ERR_OK)
        err = store_open(path, STORE_WRITE, &s, &f);
    if (err == ERR_OK)
        err = store_tidy(s, &n, &bytes, &f);
    store_close(s);
    w->n_failed += err != ERR_OK;
    if (err != ERR_OK)
        memcpy(w->message, f.message, sizeof w->message);
}

static bool all_over(const pid_t *pids, bool *is_over)
{
    bool is_all = true;
    for (int k = 0; k < WRITERS; k++) {
        is_over[k] = is_over[k] || waitpid(pids[k], NULL, WNOHANG) == pids[k];
        is_all &= is_over[k];
    }
    return is_all;
}

/* Several processes make the same store at the same moment. */
static void check_init(void)
{
    enum { MAKERS = 4 };
    int n_made = 0, n_failed = 0, status;
    pid_t pids[MAKERS];
    fflush(stdout);
    for (int k = 0; k < MAKERS; k++) {
        pids[k] = fork();
        if (pids[k] == 0) {
            struct fault f = {0};
            bool is_made = false;
            _exit(store_init(path, &is_made, &f) != ERR_OK ? 2 : is_made);
        }
    }
    for (int k = 0; k < MAKERS; k++) {
        waitpid(pids[k], &status, 0);
        n_made += WIFEXITED(status) && WEXITSTATUS(status) == 1;
        n_failed += !WIFEXITED(status) || WEXITSTATUS(status) > 1;
    }
    tap_ok(n_made == 1 && n_failed == 0,
           "of %d that make the same store at once, one made it and none failed", MAKERS);
}

int main(void)
{
    struct report reports[WRITERS] = {{0}};
    static struct store_health h;
    struct watch w = {0};
    struct fault f = {0};
    struct store *s = NULL;
    pid_t pids[WRITERS];
    int ends[WRITERS][2], n_taken = 0, n_already = 0, n_failed = 0;
    bool is_over[WRITERS] = {false};
    synth_folder(folder);
    synth_store(folder, path, sizeof path);
    check_init();
    fflush(stdout);
    for (int k = 0; k < WRITERS; k++) {
        if (pipe(ends[k]) != 0)
            synth_bail("pipe", NULL);
        pids[k] = fork();
        if (pids[k] == 0)
            writer(k, ends[k][1]);
        close(ends[k][1]);
    }
    while (!all_over(pids, is_over))
        meddle(&w);
    for (int k = 0; k < WRITERS; k++) {
        if (read(ends[k][0], &reports[k], sizeof reports[k]) != (ssize_t)sizeof reports[k])
            synth_bail("a writer ended without a word", NULL);
        n_taken += reports[k].n_taken;
        n_already += reports[k].n_already;
        n_failed += reports[k].n_failed;
        if (reports[k].n_failed > 0)
            tap_note("writer %d: %s", k, reports[k].message);
    }
    if (w.n_failed > 0)
        tap_note("watcher: %s", w.message);
    if (store_open(path, STORE_READ, &s, &f) != ERR_OK ||
        store_verify(s, NULL, NULL, &h, &f) != ERR_OK)
        synth_bail("verify", &f);
    store_close(s);
    /* Each has 60 of its own and 60 in common: 60 + 60 + 60 are there, 60 were there already. */
    tap_ok(n_failed == 0, "no writer met an error");
    tap_ok(h.counts.claims == CLAIMS * 3 / 2 && n_taken == CLAIMS * 3 / 2 &&
               n_already == CLAIMS / 2,
           "no claim lost or doubled: %d taken, %d already there", n_taken, n_already);
    tap_ok(h.n_faults == 0 && h.counts.photos == CLAIMS * 3,
           "the store is good, with every photo once");
    tap_ok(h.n_orphans == 0, "no leftovers");
    tap_ok(w.n_looks > 0 && w.n_failed == 0,
           "%d times someone verified, copied and tidied meanwhile, without an error", w.n_looks);
    tap_ok(w.n_bad == 0, "each look found the store good");
    tap_ok(w.n_copies == w.n_looks, "each copy is whole by itself");
    synth_remove(folder);
    return tap_done();
}
