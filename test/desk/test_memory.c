/* Rows for what long work holds in memory at most: a what-if over all claims, and a list that is given out. Counted are the bytes that
 * are allocated, by the allocator's own count, each time something is handed to the caller: no matter how fast or busy the machine is.
 * The work is done once before, so that what the store's connection keeps for itself is there already. */
#include "base/file.h"
#include "claims.h"
#include "desk/export.h"
#include "desk/ruling.h"
#include "proof/event_pool.h"
#include "store/synth.h"
#include "tap.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#ifdef __SANITIZE_ADDRESS__
size_t __sanitizer_get_current_allocated_bytes(
    void); /* sanitizer/allocator_interface.h, which not every package of the compiler brings */
#else
#include <malloc.h>
#endif

#define ROOT TEST_TABLES "/../../"

/* FEW fills every batch of a ruling run already, so more claims add only what is kept of each. */
enum { FEW = 400, MANY = 1600, STATIONS = 2, MIB = 1024 * 1024 };

static struct text yaml, json;
static struct bulletin *bulletin;
static struct claims *claims;
static char folder[256], path[512];
static struct store *store;

static int64_t live(void)
{
#ifdef __SANITIZE_ADDRESS__
    return (int64_t)__sanitizer_get_current_allocated_bytes();
#else
    const struct mallinfo2 m = mallinfo2();
    return (int64_t)(m.uordblks + m.hblkhd);
#endif
}

/* The most that was allocated beyond the base. */
struct high {
    int64_t base, most, n;
};

static void look(struct high *h)
{
    const int64_t now = live() - h->base;
    h->most = now > h->most ? now : h->most;
}

/* ---- a store ------------------------------------------------------------------------------------ */

static void slurp(const char *name, struct text *ret)
{
    struct fault f = {0};
    if (file_read(name, 1 << 22, ret, &f) != ERR_OK)
        synth_bail("reading", &f);
}

/* Claims from..end - 1, and the build list's two rows of each one's unit, by a label out of eighty. */
static void take(unsigned from, unsigned end)
{
    struct store_build *rows = calloc((size_t)(end - from) * STATIONS, sizeof *rows);
    char(*texts)[2][32] = calloc(end - from, sizeof *texts);
    struct fault f = {0};
    if (rows == NULL || texts == NULL)
        synth_bail("memory", &f);
    for (unsigned i = from; i < end; i++) {
        const struct claims_how how = claims_how_of(i);
        char(*own)[32] = texts[i - from];
        snprintf(own[0], sizeof own[0], "%s", claims_make(claims, &how)->vin);
        snprintf(own[1], sizeof own[1], "WD40 2024-W%02u", 1 + i % 40);
        rows[STATIONS * (i - from)] = (struct store_build){own[0], "fore", own[1]};
        rows[STATIONS * (i - from) + 1] = (struct store_build){own[0], "aft", own[1]};
        claims_take(claims, store, &how);
    }
    if (store_build_put(store, rows, (size_t)(end - from) * STATIONS, 1, &f) != ERR_OK)
        synth_bail("build list", &f);
    free(rows);
    free(texts);
}

/* ---- a what-if ---------------------------------------------------------------------------------- */

static bool see_ruled(void *me, const struct ruling_seen *seen)
{
    struct high *h = me;
    (void)seen;
    h->n++;
    look(h);
    return true;
}

static struct high rule_all(void)
{
    const struct ruling_order order = {
        .bulletin = bulletin, .now_ms = 1790000000000, .n_threads = 2, .is_trial = true};
    struct high h = {.base = live()};
    struct fault f = {0};
    size_t n_unruled = 0;
    if (ruling_run(store, &order, NULL, see_ruled, &h, &n_unruled, &f) != ERR_OK)
        synth_bail("what-if", &f);
    return h;
}

static struct high test_what_if(unsigned n)
{
    (void)rule_all();
    const struct high h = rule_all();
    tap_ok(h.n == n, "a what-if over %u claims looks at each", n);
    tap_note("at most %" PRId64 " bytes", h.most);
    tap_ok(h.most < 20 * MIB,
           "a what-if over %u claims holds less than 20 MiB: its batches are of few claims", n);
    return h;
}

/* ---- a list that is given out ------------------------------------------------------------------- */

static bool put(void *me, const char *bytes, size_t n)
{
    struct high *h = me;
    (void)bytes;
    h->n += (int64_t)n;
    look(h);
    return true;
}

static struct high export_all(const char *name)
{
    struct high h = {.base = live()};
    struct fault f = {0};
    int64_t n_rows = 0;
    if (export_write(store, export_find(name), true, put, &h, &n_rows, &f) != ERR_OK)
        synth_bail("export", &f);
    return h;
}

static void test_export(const char *name, int64_t least_bytes)
{
    (void)export_all(name);
    const struct high h = export_all(name);
    tap_note("%s: %" PRId64 " bytes, at most %" PRId64 " held", name, h.n, h.most);
    tap_ok(h.n > least_bytes && h.most < 256 * 1024,
           "%s are given out a piece at a time: more than %" PRId64
           " bytes by way of less than 256 KiB",
           name, least_bytes);
}

/* ---- texts side by side ------------------------------------------------------------------------- */

static void test_texts(void)
{
    enum { N = 20000 };
    static const char vin[] = "ZZZFM24T8R0000000";
    const int64_t before = live();
    struct event_pool *pool = event_pool_new();
    bool is_good = pool != NULL;
    for (int i = 0; i < N && is_good; i++)
        is_good = event_pool_text(pool, vin, strlen(vin)) != NULL;
    const int64_t took = live() - before;
    tap_ok(is_good && took < (int64_t)(N * sizeof vin) * 21 / 20 + 32 * 1024,
           "texts in a pool take their bytes, a twentieth and two blocks (%d of %zu bytes: %" PRId64
           ")",
           (int)N, sizeof vin, took);
    double *number = is_good ? event_pool_get(pool, sizeof *number) : NULL;
    tap_ok(number != NULL && (uintptr_t)number % _Alignof(double) == 0,
           "what is not text is aligned behind them");
    event_pool_free(pool);
}

int main(void)
{
    struct fault_list faults = {0};
    struct fault f = {0};
    bool is_made = false;
    slurp(ROOT "examples/OV-26-03.yaml", &yaml);
    slurp(ROOT "examples/jobs/ov-26-03-a/events.json", &json);
    bulletin = bulletin_load(yaml.data, yaml.size, "OV-26-03.yaml", &faults);
    if (bulletin == NULL)
        synth_bail("bulletin", &f);
    claims = claims_new(json.data, json.size);
    synth_folder(folder);
    snprintf(path, sizeof path, "%s/store", folder);
    if (store_init(path, &is_made, &f) != ERR_OK ||
        store_open(path, STORE_WRITE, &store, &f) != ERR_OK)
        synth_bail("store", &f);
    test_texts();
    take(0, FEW);
    const struct high few = test_what_if(FEW);
    take(FEW, MANY);
    const struct high many = test_what_if(MANY);
    const int64_t each = (many.most - few.most) / (MANY - FEW);
    tap_ok(each < 380, "a further claim of a what-if takes less than 380 bytes (%" PRId64 ")",
           each);
    test_export("readings", 2 * MIB);
    test_export("claims", MIB / 2);
    test_export("units", MIB / 8);
    store_close(store);
    bulletin_free(bulletin);
    fault_list_done(&faults);
    claims_free(claims);
    text_done(&yaml);
    text_done(&json);
    synth_remove(folder);
    return tap_done();
}
