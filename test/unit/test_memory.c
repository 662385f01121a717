/* Memory that runs out: what reads bulletins, bags, events, keys and photos is done again and again, and each time another of our own
 * requests for memory is refused, the first, the second, and so on until a run needs no more. Whenever one was refused the answer is
 * ERR_MEMORY, or the whole answer where it can be done without; never a crash, never a half answer, never blame for what was read; under the sanitizers nothing is left behind. The run that nothing was refused to gives
 * the answer that is known from elsewhere. The refusing is done by the linker (--wrap): the libraries beneath are not touched. */
#include "base/file.h"
#include "bulletin/bulletin.h"
#include "bulletin/change.h"
#include "bulletin/export.h"
#include "proof/bag.h"
#include "proof/bag_make.h"
#include "proof/event.h"
#include "proof/job.h"
#include "proof/photo.h"
#include "tap.h"

#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define ROOT  TEST_TABLES "/../../"
#define TITLE "Wall drive WD - racks slip out of step" /* of the example */

/* ---- refusing -------------------------------------------------------------------------------- */

static atomic_long n_left = -1; /* requests until one is refused; below 0: none is */
static atomic_bool is_refused;

static bool refuses(void)
{
    if (atomic_load(&n_left) < 0 || atomic_fetch_sub(&n_left, 1) != 0)
        return false;
    atomic_store(&is_refused, true);
    return true;
}

void *real_malloc(size_t n) __asm__("__real_malloc");
void *real_calloc(size_t n, size_t size) __asm__("__real_calloc");
void *real_realloc(void *p, size_t n) __asm__("__real_realloc");
void *our_malloc(size_t n) __asm__("__wrap_malloc");
void *our_calloc(size_t n, size_t size) __asm__("__wrap_calloc");
void *our_realloc(void *p, size_t n) __asm__("__wrap_realloc");

void *our_malloc(size_t n)
{
    return refuses() ? NULL : real_malloc(n);
}

void *our_calloc(size_t n, size_t size)
{
    return refuses() ? NULL : real_calloc(n, size);
}

void *our_realloc(void *p, size_t n)
{
    return refuses() ? NULL : real_realloc(p, n);
}

/* ---- what is done ---------------------------------------------------------------------------- */

static char root[] = "/tmp/mendwright-test-XXXXXX";
static char folder[64], zip[64], out[64];
static struct text bulletin_text, older_text, events_text, photo_text, keys_text, secret_text,
    whole_json;

static enum err load(const struct text *text, struct bulletin **ret)
{
    struct fault_list faults = {0};
    *ret = bulletin_load(text->data, text->size, "b.yaml", &faults);
    const enum err err = *ret != NULL              ? ERR_OK
                         : faults.is_out_of_memory ? ERR_MEMORY
                                                   : ERR_IMPOSSIBLE;
    fault_list_done(&faults);
    return err;
}

static enum err run_bulletin(void)
{
    struct bulletin *b = NULL;
    struct text json = {0};
    enum err err = load(&bulletin_text, &b);
    if (err == ERR_OK) {
        bulletin_export(b, "00", &json);
        err = json.is_broken ? ERR_MEMORY
              : json.size == whole_json.size && memcmp(json.data, whole_json.data, json.size) == 0
                  ? ERR_OK
                  : ERR_IMPOSSIBLE;
    }
    text_done(&json);
    bulletin_free(b);
    return err;
}

static enum err run_change(void)
{
    struct bulletin *was = NULL, *now = NULL;
    struct change_list list = {0};
    struct fault f = {0};
    enum err err = load(&older_text, &was);
    if (err == ERR_OK)
        err = load(&bulletin_text, &now);
    if (err == ERR_OK)
        err = changes_between(was, now, &list, &f);
    /* The title alone was another (prepare). */
    if (err == ERR_OK && (list.n != 1 || strcmp(list.changes[0].now, TITLE) != 0))
        err = ERR_IMPOSSIBLE;
    change_list_done(&list);
    bulletin_free(was);
    bulletin_free(now);
    return err;
}

static enum err run_events(void)
{
    struct event_list *list = NULL;
    struct job *job = NULL;
    struct text again = {0};
    struct fault f = {0};
    enum err err = events_read(events_text.data, events_text.size, "events.json", &list, &f);
    if (err == ERR_OK)
        err = job_replay(list->events, list->n, &job);
    if (err == ERR_OK) {
        events_write(list, &again);
        err = again.is_broken ? ERR_MEMORY
              : again.size == events_text.size &&
                      memcmp(again.data, events_text.data, again.size) == 0
                  ? ERR_OK
                  : ERR_IMPOSSIBLE; /* what is read and written again is the same file */
    }
    text_done(&again);
    job_free(job);
    events_free(list);
    return err;
}

static enum err run_bag(const char *path)
{
    struct bag_result r = {0};
    struct keyring ring = {0};
    struct fault f = {0};
    enum err err = keyring_add(&ring, keys_text.data, keys_text.size, "keys", &f);
    if (err == ERR_OK)
        err = bag_verify(path, NULL, &ring, &r, &f);
    if (err == ERR_OK && (!r.is_valid || r.signature != BAG_SIGNATURE_GOOD))
        err = ERR_IMPOSSIBLE;
    bag_result_done(&r);
    keyring_done(&ring);
    return err;
}

static enum err run_zip(void)
{
    return run_bag(zip);
}

static enum err run_make(void)
{
    struct keyring_secret secret = {0};
    struct bag_made made = {0};
    struct fault f = {0};
    struct text was = {0}, now = {0};
    enum err err = keyring_secret_read(secret_text.data, secret_text.size, "secret", &secret, &f);
    if (err == ERR_OK)
        err = bag_make(
            &(struct bag_order){
                .folder = folder, .out = out, .secret = &secret, .date = "2026-01-02"},
            &made, &f);
    const bool is_there = access(out, F_OK) == 0;
    if (err != ERR_OK)
        return is_there ? ERR_IMPOSSIBLE : err; /* nothing is left behind after a failure */
    /* The same files, date and key: the same bytes as before. */
    if (file_read(zip, 1 << 24, &was, &f) == ERR_OK &&
        file_read(out, 1 << 24, &now, &f) == ERR_OK &&
        (was.size != now.size || memcmp(was.data, now.data, was.size) != 0))
        err = ERR_IMPOSSIBLE;
    if (was.is_broken || now.is_broken || was.data == NULL || now.data == NULL)
        err = ERR_MEMORY;
    text_done(&was);
    text_done(&now);
    unlink(out);
    return err;
}

static enum err run_photo(void)
{
    static struct photo photo;
    static struct likeness_picture picture;
    enum photo_fault fault = PHOTO_FINE;
    enum err err = photo_read(photo_text.data, photo_text.size, &photo);
    if (err == ERR_OK && (photo.fault != PHOTO_FINE || photo.width < 1))
        err = ERR_IMPOSSIBLE;
    if (err == ERR_OK)
        err = photo_likeness(photo_text.data, photo_text.size, &fault, &picture);
    return err == ERR_OK && fault != PHOTO_FINE ? ERR_IMPOSSIBLE : err;
}

/* ---- again and again ------------------------------------------------------------------------- */

static void check(const char *what, enum err (*run)(void))
{
    long n = 0, n_bad = 0, first_bad = -1;
    enum err err = ERR_MEMORY, bad = ERR_OK;
    for (long at = 0;;
         at += 1 + at / 20) { /* every one of the first twenty, later ones more thinly */
        atomic_store(&is_refused, false);
        atomic_store(&n_left, at);
        err = run();
        atomic_store(&n_left, -1);
        if (!atomic_load(&is_refused))
            break;
        n++;
        if (err != ERR_MEMORY && err != ERR_OK) {
            n_bad++;
            if (first_bad < 0) {
                first_bad = at;
                bad = err;
            }
        }
    }
    tap_ok(n > 0 && n_bad == 0,
           "%s: one of our requests for memory refused, %ld different ones: each time it is said, "
           "and nothing else",
           what, n);
    if (n_bad > 0)
        tap_note("%ld were not; the first is request %ld: %s", n_bad, first_bad, err_text(bad));
    tap_ok(err == ERR_OK, "%s: with none refused, the answer that it must be", what);
    if (err != ERR_OK)
        tap_note("%s", err_text(err));
}

static void need(bool is_good, const char *what)
{
    if (!is_good) {
        printf("Bail out! %s\n", what);
        exit(2);
    }
}

static void read_all(const char *path, struct text *ret)
{
    struct fault f = {0};
    need(file_read(path, 1 << 24, ret, &f) == ERR_OK, path);
}

static void put(const char *name, const char *bytes, size_t n)
{
    char path[128];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "wb");
    need(file != NULL && fwrite(bytes, 1, n, file) == n && fclose(file) == 0, path);
}

static void prepare(void)
{
    /* The key of RFC 8032, 7.1, test 1. */
    static const char seed[] =
        "secret fern-mobile-2 9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60\n";
    static const char keys[] =
        "fern-mobile-2 d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a\n";
    struct fault f = {0};
    struct bag_made made;
    struct keyring_secret secret;
    need(mkdtemp(root) != NULL, "no folder in /tmp");
    snprintf(folder, sizeof folder, "%s/job", root);
    snprintf(zip, sizeof zip, "%s/one.zip", root);
    snprintf(out, sizeof out, "%s/two.zip", root);
    need(mkdir(folder, 0700) == 0, folder);
    read_all(ROOT "examples/OV-26-03.yaml", &bulletin_text);
    read_all(ROOT "examples/jobs/ov-26-03-a/events.json", &events_text);
    read_all(ROOT "examples/jobs/ov-26-03-a/photos/fore-label.png", &photo_text);
    struct bulletin *whole = NULL;
    need(load(&bulletin_text, &whole) == ERR_OK, "the example is not read");
    bulletin_export(whole, "00", &whole_json);
    bulletin_free(whole);
    const char *title = strstr(bulletin_text.data, TITLE);
    need(title != NULL, "the example has another title");
    text_add(&older_text, bulletin_text.data, (size_t)(title - bulletin_text.data));
    text_puts(&older_text, "Racks slip");
    text_puts(&older_text, title + strlen(TITLE));
    text_puts(&secret_text, seed);
    text_puts(&keys_text, keys);
    put("events.json", events_text.data, events_text.size);
    put("label.png", photo_text.data, photo_text.size);
    put("na\xc3\xafve.txt", "abc", 3);
    need(keyring_secret_read(seed, sizeof seed - 1, "secret", &secret, &f) == ERR_OK &&
             bag_make(
                 &(struct bag_order){
                     .folder = folder, .out = zip, .secret = &secret, .date = "2026-01-02"},
                 &made, &f) == ERR_OK,
         f.message);
}

int main(void)
{
    prepare();
    check("a bulletin read and exported", run_bulletin);
    check("two revisions compared", run_change);
    check("events read, replayed and written", run_events);
    check("a signed bag verified", run_zip);
    check("a bag made", run_make);
    check("a photo read", run_photo);
    return tap_done();
}
