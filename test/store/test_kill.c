/* kill -9 at random moments of taking in. A child takes in claims with photos and acknowledges each
 * through a pipe; the parent kills it. Then: every acknowledged claim is there whole, the store is
 * good, no leftover is counted as a photo, and the next child goes on with the claim that was under
 * way. MENDWRIGHT_KILLS sets the rounds (100), MENDWRIGHT_SEED the seed. A process that is killed
 * loses nothing that it has handed to the system; that what it waited for also outlives a power cut
 * rests on fsync and is not tested here. */
#include "synth.h"
#include "tap.h"

#include "table.h"

#include <signal.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

enum {
    ROUNDS = 100,
    FRESH_EVERY = 20, /* rounds on one store: later ones find what earlier ones left */
    CLAIMS_AT_MOST = 5
};

static char folder[256], path[600];
static unsigned seed;
static unsigned long long state;

struct tally {
    int n_rounds, n_acknowledged, n_under_way, n_orphans, n_swept;
    int n_lost, n_bad, n_counted, n_twice;
};

static unsigned number_from(const char *name, unsigned otherwise)
{
    const char *text = getenv(name);
    return text != NULL && text[0] != '\0' ? (unsigned)strtoul(text, NULL, 10) : otherwise;
}

/* Takes in claims from number `first` on until it is killed. */
static void child(unsigned first, int fd)
{
    static struct synth one;
    struct store *s = NULL;
    struct fault f = {0};
    if (store_open(path, STORE_WRITE, &s, &f) != ERR_OK)
        _exit(3);
    for (unsigned i = first;; i++) {
        enum store_taken taken;
        synth_make(&one, seed, i, true);
        if (store_take(s, &one.claim, &taken, NULL, &f) != ERR_OK)
            _exit(4);
        const unsigned char said[] = {(unsigned char)taken};
        if (write(fd, said, 1) != 1)
            _exit(5);
    }
}

static int64_t now_us(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}

/* Counts one acknowledgement; false at the end. */
static bool hear(int fd, unsigned *n, struct tally *t)
{
    unsigned char said;
    if (read(fd, &said, 1) != 1)
        return false;
    /* Only the claim that was under way at the last kill may be there already. */
    t->n_twice += *n > 0 && said == STORE_ALREADY;
    t->n_under_way += *n == 0 && said == STORE_ALREADY;
    ++*n;
    return true;
}

/* One child, killed some claims after its start and a random part of a claim's time later, however
 * fast or slow the disk is; returns how many claims it acknowledged. */
static unsigned run_child(unsigned first, struct tally *t)
{
    static int64_t claim_us = 20000; /* what one took so far */
    const unsigned n_wanted = (unsigned)(table_random(&state) % CLAIMS_AT_MOST);
    int ends[2], status = 0;
    unsigned n = 0;
    if (pipe(ends) != 0)
        synth_bail("pipe", NULL);
    fflush(stdout);
    const int64_t start_us = now_us();
    const pid_t pid = fork();
    if (pid == 0) {
        close(ends[0]);
        child(first, ends[1]);
    }
    close(ends[1]);
    while (n < n_wanted && hear(ends[0], &n, t))
        ;
    if (n > 0)
        claim_us = (3 * claim_us + (now_us() - start_us) / n) / 4;
    const int64_t pause_us = (int64_t)(table_random(&state) % 1000) * claim_us * 3 / 2 / 1000;
    const struct timespec pause = {.tv_sec = (time_t)(pause_us / 1000000),
                                   .tv_nsec = (long)(pause_us % 1000000 * 1000)};
    nanosleep(&pause, NULL);
    kill(pid, SIGKILL);
    if (pid < 0 || waitpid(pid, &status, 0) != pid || !WIFSIGNALED(status)) {
        printf("Bail out! seed %u: the child ended by itself with %d\n", seed,
               WIFEXITED(status) ? WEXITSTATUS(status) : -1);
        exit(2);
    }
    while (hear(ends[0], &n, t))
        ;
    close(ends[0]);
    return n;
}

struct found {
    unsigned next; /* the claim that must come now */
    int n_wrong;
};

static bool see_claim(void *me, const char *id, const struct store_claim *c)
{
    struct found *found = me;
    static struct synth want;
    (void)id;
    synth_make(&want, seed, found->next++, true);
    found->n_wrong += memcmp(want.claim.bag, c->bag, STORE_DIGEST) != 0 ||
                      c->n_readings != SYNTH_READINGS || c->n_photos != SYNTH_PHOTOS ||
                      c->n_events != SYNTH_EVENTS ||
                      c->readings[7].value_nano != want.readings[7].value_nano;
    return true;
}

/* Whether the claims 0..n_acknowledged) are there, at most one more, and all is good. */
static void look(unsigned n_acknowledged, struct tally *t)
{
    static struct store_health h;
    struct store *s = NULL;
    struct fault f = {0};
    struct found found = {0};
    int64_t n_files = 0, n_bytes = 0;
    if (store_open(path, STORE_WRITE, &s, &f) != ERR_OK ||
        store_verify(s, NULL, NULL, &h, &f) != ERR_OK ||
        store_claims(s, NULL, see_claim, &found, &f) != ERR_OK)
        synth_bail("a look after the kill", &f);
    t->n_lost += found.next < n_acknowledged || found.next > n_acknowledged + 1;
    t->n_bad += h.n_faults > 0 || found.n_wrong > 0 ||
                h.counts.entries != (int64_t)found.next * (1 + SYNTH_EVENTS);
    /* Every claim brings two photos of its own: a leftover would be one too many. */
    t->n_counted += h.counts.photos != (int64_t)found.next * SYNTH_PHOTOS;
    t->n_orphans += (int)h.n_orphans;
    for (int64_t i = 0; i < h.n_faults && i < 3; i++)
        tap_note("seed %u: %s, %s: %s", seed, h.faults[i].kind, h.faults[i].where,
                 h.faults[i].message);
    /* Every second time the leftovers stay for the next child to meet. */
    if (table_random(&state) % 2 == 0 && store_tidy(s, &n_files, &n_bytes, &f) != ERR_OK)
        synth_bail("tidy", &f);
    t->n_swept += (int)n_files;
    store_close(s);
}

int main(void)
{
    const unsigned rounds = number_from("MENDWRIGHT_KILLS", ROUNDS);
    struct tally t = {0};
    struct fault f = {0};
    unsigned n = 0;
    seed = number_from("MENDWRIGHT_SEED", (unsigned)time(NULL));
    state = seed;
    tap_note("seed %u; MENDWRIGHT_SEED=%u runs the same claims and times again", seed, seed);
    synth_folder(folder);
    synth_store(folder, path, sizeof path);
    for (unsigned i = 0; i < rounds; i++) {
        if (i % FRESH_EVERY == 0) {
            bool is_made;
            n = 0;
            if (synth_is_server())
                synth_store(folder, path, sizeof path); /* a schema of its own; the photos stay */
            else
                synth_remove(path);
            if (store_init(path, &is_made, &f) != ERR_OK)
                synth_bail("init", &f);
        }
        const unsigned more = run_child(n, &t);
        n += more;
        t.n_acknowledged += (int)more;
        t.n_rounds++;
        look(n, &t);
    }
    synth_remove(folder);
    tap_note("%d kills, %d claims acknowledged, %d found taken though not yet acknowledged, %d "
             "leftover files, %d swept",
             t.n_rounds, t.n_acknowledged, t.n_under_way, t.n_orphans, t.n_swept);
    tap_ok(t.n_rounds == (int)rounds && t.n_acknowledged > (int)rounds / 2,
           "%d kills hit children at work", t.n_rounds);
    tap_ok(t.n_lost == 0,
           "every acknowledged claim is there, and at most the one under way besides");
    tap_ok(t.n_bad == 0, "after every kill the store is good and its claims are whole");
    tap_ok(t.n_counted == 0, "no leftover is counted as a photo");
    tap_ok(t.n_twice == 0, "no claim is taken in twice");
    return tap_done();
}
