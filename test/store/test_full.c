/* A disk that is full, and a store that may only be read: an error in plain words, and nothing half
 * written. As root on a small tmpfs; else what an ordinary user can try. */
#define _DEFAULT_SOURCE /* mount */
#include "synth.h"
#include "tap.h"

#include <string.h>
#include <sys/mount.h>
#include <sys/stat.h>
#include <unistd.h>

enum { CLAIMS_MAX = 4000, SIZES = 8 }; /* the largest has room for more than one checkpoint */
enum { LIST_CALL = 2000, LIST_CALLS = 8 };

static char folder[256], path[300];
static bool is_full_of_photos;
static int n_full;

static int64_t verify(struct store_counts *ret)
{
    static struct store_health h;
    struct store *s = NULL;
    struct fault f = {0};
    if (store_open(path, STORE_READ, &s, &f) != ERR_OK ||
        store_verify(s, NULL, NULL, &h, &f) != ERR_OK)
        synth_bail("verify", &f);
    store_close(s);
    for (int64_t i = 0; i < h.n_faults && i < 3; i++)
        tap_note("%s, %s: %s", h.faults[i].kind, h.faults[i].where, h.faults[i].message);
    *ret = h.counts;
    return h.n_faults + h.n_orphans;
}

/* Takes in until the disk is full; how many were acknowledged. */
static int64_t fill(enum err *ret_err, struct fault *f)
{
    static struct synth one;
    struct store *s = NULL;
    bool is_made;
    int64_t n = 0;
    *ret_err = store_init(path, &is_made, f);
    if (*ret_err == ERR_OK)
        *ret_err = store_open(path, STORE_WRITE, &s, f);
    for (unsigned i = 0; *ret_err == ERR_OK && i < CLAIMS_MAX; i++) {
        enum store_taken taken;
        synth_make(&one, 9, i, is_full_of_photos);
        *ret_err = store_take(s, &one.claim, &taken, NULL, f);
        n += *ret_err == ERR_OK;
    }
    store_close(s);
    return n;
}

static void check_full(int kib)
{
    char options[32];
    struct fault f = {0};
    struct store_counts c = {0};
    enum err err;
    snprintf(options, sizeof options, "size=%dk", kib);
    if (mount("mendwright", folder, "tmpfs", 0, options) != 0)
        synth_bail("mount", NULL);
    const int64_t n = fill(&err, &f);
    tap_ok(err == ERR_IO && strstr(f.message, "no room left") != NULL,
           "%d KiB, %s photos: full after %lld claims: %s", kib,
           is_full_of_photos ? "with" : "without", (long long)n, f.message);
    if (n > 0) { /* else the disk was too small to make the store at all */
        const int64_t n_bad = verify(&c);
        tap_ok(n_bad == 0 && c.claims == n,
               "%d KiB: the store is good, with exactly what was acknowledged and no leftovers",
               kib);
    }
    /* With room again it goes on. */
    snprintf(options, sizeof options, "size=%dk", kib + 4096);
    if (mount("mendwright", folder, "tmpfs", MS_REMOUNT, options) != 0)
        synth_bail("remount", NULL);
    static struct synth one;
    struct store *s = NULL;
    enum store_taken taken = STORE_ALREADY;
    bool is_made;
    synth_make(&one, 9, CLAIMS_MAX + 1, true);
    err = store_init(path, &is_made, &f);
    if (err == ERR_OK)
        err = store_open(path, STORE_WRITE, &s, &f);
    if (err == ERR_OK)
        err = store_take(s, &one.claim, &taken, NULL, &f);
    store_close(s);
    tap_ok(err == ERR_OK && taken == STORE_TAKEN && verify(&c) == 0 && c.claims == n + 1,
           "%d KiB: with room again it goes on", kib);
    umount(folder);
}

/* A build list into a store without one: all of it or nothing, wherever the room ends: at its rows, at the indexes, or only when it is
 * carried over from the write-ahead log, which is no matter to who was told that it is in. */
static enum err put_list(struct fault *f)
{
    static struct store_build rows[LIST_CALL];
    static char vins[LIST_CALL][18], label[] = "C2-2024-W19";
    struct store *s = NULL;
    bool is_made, is_whole = false;
    enum err err = store_init(path, &is_made, f);
    if (err == ERR_OK)
        err = store_open(path, STORE_WRITE, &s, f);
    if (err != ERR_OK)
        return err;
    err = store_builds_begin(s, true, &is_whole, f);
    if (err == ERR_OK && !is_whole)
        synth_bail("a store without a list", NULL);
    for (int k = 0; k < LIST_CALLS && err == ERR_OK; k++) {
        for (int i = 0; i < LIST_CALL; i++) {
            snprintf(vins[i], sizeof vins[i], "ZZZFM24T5R0%06d", k * LIST_CALL + i);
            rows[i] = (struct store_build){vins[i], "fore", label};
        }
        err = store_build_put(s, rows, LIST_CALL, 1770000000000, f);
    }
    struct fault ignored = {0};
    const enum err end = store_builds_end(s, err == ERR_OK, err == ERR_OK ? f : &ignored);
    store_close(s);
    return err != ERR_OK ? err : end;
}

static void check_full_list(int kib)
{
    char options[32];
    struct fault f = {0};
    struct store_counts c = {0};
    snprintf(options, sizeof options, "size=%dk", kib);
    if (mount("mendwright", folder, "tmpfs", 0, options) != 0)
        synth_bail("mount", NULL);
    const enum err err = put_list(&f);
    const int64_t n_bad = verify(&c);
    tap_ok(n_bad == 0 &&
               (err == ERR_OK ? c.builds == LIST_CALLS * LIST_CALL
                              : err == ERR_IO && strstr(f.message, "no room left") != NULL &&
                                    c.builds == 0 && c.entries == 0),
           "%d KiB: a list of %d rows is in or not: %lld rows%s%s", kib, LIST_CALLS * LIST_CALL,
           (long long)c.builds, err != ERR_OK ? ": " : "", f.message);
    n_full += err != ERR_OK;
    snprintf(options, sizeof options, "size=%dk", kib + 16384);
    if (mount("mendwright", folder, "tmpfs", MS_REMOUNT, options) != 0)
        synth_bail("remount", NULL);
    if (err != ERR_OK)
        tap_ok(put_list(&f) == ERR_OK && verify(&c) == 0 && c.builds == LIST_CALLS * LIST_CALL,
               "%d KiB: with room again it goes in", kib);
    umount(folder);
}

/* The store in `path` may now only be read. */
static void check_read_only(const char *how)
{
    static struct synth one;
    struct store *s = NULL;
    struct fault f = {0};
    struct store_counts c = {0};
    enum store_taken taken;
    char dest[320];
    bool is_made;
    synth_make(&one, 9, 0, true);
    enum err err = store_open(path, STORE_WRITE, &s, &f);
    if (err == ERR_OK)
        err = store_take(s, &one.claim, &taken, NULL, &f);
    store_close(s);
    s = NULL;
    tap_ok(err == ERR_IO && strstr(f.message, "may only be read") != NULL, "%s: not written: %s",
           how, f.message);
    err = store_init(path, &is_made, &f);
    tap_ok(err == ERR_IO, "%s: not made: %s", how, f.message);
    tap_ok(verify(&c) == 0 && c.claims == 1, "%s: but read and verified", how);
    snprintf(dest, sizeof dest, "%s/copy", folder);
    if (store_open(path, STORE_READ, &s, &f) != ERR_OK)
        synth_bail("open", &f);
    err = store_backup(s, dest, NULL, &c, &f);
    tap_ok(err == ERR_IO && access(dest, F_OK) != 0, "%s: no copy onto it: %s", how, f.message);
    store_close(s);
}

static void make_one(void)
{
    static struct synth one;
    struct store *s = NULL;
    struct fault f = {0};
    enum store_taken taken;
    bool is_made;
    synth_make(&one, 9, 1, true);
    if (store_init(path, &is_made, &f) != ERR_OK ||
        store_open(path, STORE_WRITE, &s, &f) != ERR_OK ||
        store_take(s, &one.claim, &taken, NULL, &f) != ERR_OK)
        synth_bail("one claim", &f);
    store_close(s);
}

int main(void)
{
    synth_folder(folder);
    snprintf(path, sizeof path, "%s/store", folder);
    if (geteuid() == 0 && mount("mendwright", folder, "tmpfs", 0, "size=4m") == 0) {
        make_one();
        if (mount("mendwright", folder, "tmpfs", MS_REMOUNT | MS_RDONLY, "size=4m") != 0)
            synth_bail("remount", NULL);
        check_read_only("a disk that may only be read");
        umount(folder);
        for (int i = 0; i < SIZES; i++)
            for (int k = 0; k < 2; k++) {
                is_full_of_photos = k == 1;
                check_full(i < SIZES - 1 ? 96 + 173 * i : 12000);
            }
        for (int kib = 800; kib < 9000; kib += 750)
            check_full_list(kib);
        tap_ok(n_full > 2 && n_full < 11, "the room ended before the end in %d of 11", n_full);
    } else if (geteuid() != 0) {
        char file[400];
        make_one();
        snprintf(file, sizeof file, "%s/store.db", path);
        chmod(file, 0444);
        chmod(path, 0555);
        chmod(folder, 0555);
        check_read_only("a folder that may only be read");
        chmod(folder, 0755);
        chmod(path, 0755);
        tap_ok(true, "a full disk # SKIP only root can make a small one");
    } else
        tap_ok(true, "a full disk and one to be read only # SKIP no tmpfs can be mounted here");
    synth_remove(folder);
    return tap_done();
}
