/* Passes over all claims: briefs and photos hold what store_claims holds, in the order of taking in;
 * which sets of readings are held against each other; readings inside readings. */
#include "synth.h"
#include "tap.h"

#include <math.h>
#include <string.h>

enum { CLAIMS = 9 };

static char folder[256], path[600];
static struct store *store;
static struct synth one;

static void must(enum err err, const struct fault *f, const char *what)
{
    if (err != ERR_OK)
        synth_bail(what, f);
}

static void take_in(char id[STORE_CLAIM_SIZE + 1])
{
    struct fault f = {0};
    enum store_taken taken;
    must(store_take(store, &one.claim, &taken, id, &f), &f, "take");
}

static bool same(const char *a, const char *b)
{
    return (a == NULL) == (b == NULL) && (a == NULL || strcmp(a, b) == 0);
}

/* ---- briefs ---------------------------------------------------------------------------------- */

struct pass {
    int n, n_good;
    int64_t seq;
};

static bool see_brief(void *me, const struct store_brief *b)
{
    struct pass *p = me;
    const struct store_claim *c = &one.claim;
    char id[STORE_CLAIM_SIZE + 1];
    synth_make(&one, 1, CLAIMS - 1 - (unsigned)p->n, false);
    if (p->n == 2) /* as check_briefs has it */
        one.claim.shop = one.claim.technician = one.claim.job = NULL;
    store_claim_id(c->bag, id);
    p->n++;
    p->n_good += b->seq > p->seq && strcmp(b->claim, id) == 0 && same(b->job, c->job) &&
                 same(b->bulletin, c->bulletin) && same(b->vin, c->vin) && same(b->shop, c->shop) &&
                 same(b->technician, c->technician) && b->opened_ms == c->opened_ms &&
                 b->finished_ms == c->finished_ms && b->taken_ms == c->taken_ms &&
                 b->revision == c->revision && b->has_readings;
    p->seq = b->seq;
    return true;
}

/* Taken in from the last to the first, so that no other order is mistaken for it. */
static void check_briefs(void)
{
    struct fault f = {0};
    struct pass p = {0};
    must(store_briefs(store, see_brief, &p, &f), &f, "briefs");
    tap_ok(p.n == 0, "no briefs at first");
    for (unsigned i = 0; i < CLAIMS; i++) {
        synth_make(&one, 1, CLAIMS - 1 - i, true);
        if (i == 2) {
            one.claim.shop = "";
            one.claim.technician = one.claim.job = NULL;
        }
        take_in(NULL);
    }
    p = (struct pass){0};
    must(store_briefs(store, see_brief, &p, &f), &f, "briefs");
    tap_ok(p.n == CLAIMS && p.n_good == CLAIMS,
           "briefs come value for value, in the order of taking in");
}

static bool see_photo(void *me, int64_t seq, const char *claim, const struct store_photo *p)
{
    struct pass *pass = me;
    const unsigned i = CLAIMS - 1 - (unsigned)pass->n / SYNTH_PHOTOS;
    const struct store_photo *want = &one.photos[pass->n % SYNTH_PHOTOS];
    char id[STORE_CLAIM_SIZE + 1];
    synth_make(&one, 1, i, true);
    store_claim_id(one.claim.bag, id);
    pass->n++;
    pass->n_good += strcmp(claim, id) == 0 && seq >= pass->seq && same(p->name, want->name) &&
                    same(p->station, want->station) && same(p->point, want->point) &&
                    memcmp(p->sha256, want->sha256, STORE_DIGEST) == 0 && same(p->ext, "jpg") &&
                    p->dhash.is_known && p->dhash.bits == want->dhash.bits &&
                    !p->dhash_mirror.is_known && p->dhash_mirror.bits == 0 && !p->phash.is_known &&
                    p->phash_mirror.is_known && p->phash_mirror.bits == want->phash_mirror.bits &&
                    p->is_flat == want->is_flat && p->width == STORE_UNKNOWN &&
                    isnan(p->sharpness) && p->codes == NULL;
    pass->seq = seq;
    return true;
}

static bool stop_at_3(void *me, int64_t seq, const char *claim, const struct store_photo *p)
{
    (void)seq;
    (void)claim;
    (void)p;
    return ++*(int *)me < 3;
}

static void check_photos(void)
{
    struct fault f = {0};
    struct pass p = {0};
    int n = 0;
    must(store_photos(store, see_photo, &p, &f), &f, "photos");
    tap_ok(p.n == CLAIMS * SYNTH_PHOTOS && p.n_good == p.n,
           "photos come value for value, in the order of taking in");
    must(store_photos(store, stop_at_3, &n, &f), &f, "photos");
    tap_ok(n == 3, "and stop when told to");
}

/* ---- sets of readings ------------------------------------------------------------------------ */

struct lookup {
    const char *id;
    bool is_there, has_readings, is_zero;
};

static bool find_brief(void *me, const struct store_brief *b)
{
    static const uint8_t zero[STORE_DIGEST];
    struct lookup *l = me;
    if (strcmp(b->claim, l->id) != 0)
        return true;
    l->is_there = true;
    l->has_readings = b->has_readings;
    l->is_zero = memcmp(b->readings, zero, sizeof zero) == 0;
    return false;
}

static bool count_id(void *me, const char *id)
{
    (void)id;
    ++*(int *)me;
    return true;
}

/* Takes in two claims with n readings of a phase and a unit that are the same in both. */
static void sets(const char *what, size_t n, const char *phase, const char *unit, bool are_alike)
{
    static unsigned bag = 100;
    struct fault f = {0};
    char id[STORE_CLAIM_SIZE + 1];
    int n_same = 0;
    for (int k = 0; k < 2; k++) {
        synth_make(&one, 9, bag++, false);
        one.claim.n_readings = n;
        for (size_t i = 0; i < n; i++) {
            one.readings[i].phase = phase;
            one.readings[i].unit = unit;
            one.readings[i].value_nano = 7000000000 + (int64_t)i;
            one.readings[i].u_nano = k;
            one.readings[i].taken_ms = k;
        }
        take_in(id);
    }
    struct lookup l = {.id = id};
    must(store_briefs(store, find_brief, &l, &f), &f, "briefs");
    must(store_same_readings(store, id, count_id, &n_same, &f), &f, "same");
    tap_ok(l.is_there && l.has_readings == are_alike && l.is_zero == !are_alike &&
               n_same == are_alike,
           "%s: %s", what, are_alike ? "a set" : "no set");
}

static void check_sets(void)
{
    sets("as many as are needed", STORE_SET_LEAST, "after", "mm", true);
    sets("one less", STORE_SET_LEAST - 1, "after", "mm", false);
    sets("of before the work", 12, "before", "mm", false);
    sets("of no phase", 12, NULL, "mm", false);
    sets("counts", 12, "after", "1", false);
    sets("counts in a word", 12, "after", "count", false);
    sets("volts", 7, "after", "V", true);
    sets("a unit of which nothing is known", 8, "after", "furlong", true);
    sets("none at all", 0, "after", "mm", false);
    /* Five measured ones and seven counts are not six. */
    struct fault f = {0};
    char id[STORE_CLAIM_SIZE + 1];
    synth_make(&one, 9, 999, false);
    for (int i = 0; i < SYNTH_READINGS; i++) {
        one.readings[i].phase = "after";
        one.readings[i].unit = i < STORE_SET_LEAST - 1 ? "mm" : "1";
    }
    take_in(id);
    struct lookup l = {.id = id};
    must(store_briefs(store, find_brief, &l, &f), &f, "briefs");
    tap_ok(l.is_there && !l.has_readings, "five measured ones among seven counts: no set");
}

/* A torque that one job read before its last move and the other after it is the same torque; of several the last one counts. */
static void check_last(void)
{
    struct fault f = {0};
    char id[STORE_CLAIM_SIZE + 1];
    int n_same[3] = {0};
    for (int k = 0; k < 3; k++) {
        synth_make(&one, 9, 2000 + (unsigned)k, false);
        for (int i = 0; i < SYNTH_READINGS; i++) {
            one.readings[i].phase = "after";
            one.readings[i].value_nano = 8000000000 + i;
        }
        /* The last two are of one point of its own. */
        one.readings[10].point = one.readings[11].point = "torque";
        one.readings[10].phase = "before";
        one.readings[10].taken_ms = 5;
        one.readings[10].value_nano = 100 + k;
        one.readings[11].phase = k == 0 ? "after" : "before";
        one.readings[11].taken_ms = k == 2 ? 4 : 6;
        one.readings[11].value_nano = 24000000000;
        take_in(id);
        must(store_same_readings(store, id, count_id, &n_same[k], &f), &f, "same");
    }
    tap_ok(n_same[1] == 1, "a point that was last read before the work counts with that reading");
    tap_ok(n_same[2] == 0, "not with an earlier one");
}

/* ---- inside one another ---------------------------------------------------------------------- */

struct nest {
    const char *outer;
    int n_outer, n_inner;
    bool is_same;
};

static bool count_event(void *me, const struct store_event *e)
{
    struct nest *n = me;
    n->n_inner++;
    return e->ulid[0] != '\0';
}

/* The same reading, of another claim, within itself. */
static bool see_event(void *me, const struct store_event *e)
{
    struct nest *n = me;
    struct fault f = {0};
    const struct store_event *want = &one.events[n->n_outer];
    n->n_outer++;
    must(store_events(store, n->outer, count_event, n, &f), &f, "events inside");
    n->is_same = n->is_same && same(e->ulid, want->ulid) && e->n == want->n &&
                 memcmp(e->json, want->json, e->n) == 0;
    return true;
}

static bool see_brief_inside(void *me, const struct store_brief *b)
{
    struct nest *n = me;
    struct fault f = {0};
    const int n_before = n->n_inner;
    const int64_t seq = b->seq;
    must(store_events(store, b->claim, count_event, n, &f), &f, "events inside");
    n->n_outer += n->n_inner == n_before + SYNTH_EVENTS && b->seq == seq;
    return true;
}

static void check_nests(void)
{
    struct fault f = {0};
    char id[STORE_CLAIM_SIZE + 1], other[STORE_CLAIM_SIZE + 1];
    synth_make(&one, 1, 1, true);
    store_claim_id(one.claim.bag, other);
    synth_make(&one, 1, 0, true);
    store_claim_id(one.claim.bag, id);
    struct nest n = {.outer = other, .is_same = true};
    must(store_events(store, id, see_event, &n, &f), &f, "events");
    tap_ok(n.n_outer == SYNTH_EVENTS && n.n_inner == SYNTH_EVENTS * SYNTH_EVENTS && n.is_same,
           "a claim's events can be read while another's are");
    struct store_counts c = {0};
    n = (struct nest){0};
    must(store_count(store, &c, &f), &f, "count");
    must(store_briefs(store, see_brief_inside, &n, &f), &f, "briefs");
    tap_ok(n.n_outer == c.claims, "and while a pass goes over all");
}

int main(void)
{
    static struct store_health h;
    struct fault f = {0};
    bool is_made;
    synth_folder(folder);
    synth_store(folder, path, sizeof path);
    must(store_init(path, &is_made, &f), &f, "init");
    must(store_open(path, STORE_WRITE, &store, &f), &f, "open");
    check_briefs();
    check_photos();
    check_nests();
    check_sets();
    check_last();
    must(store_verify(store, NULL, NULL, &h, &f), &f, "verify");
    tap_ok(h.n_faults == 0, "the store is whole");
    store_close(store);
    synth_remove(folder);
    return tap_done();
}
