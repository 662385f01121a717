/* The store: every function of its interface. What it must keep (a claim whole or not at all, twice
 * is once, nothing earlier changes) is the issue's; the values are invented. Ids and paths are
 * worked out by hand from the layout in doc/store.md; the chain is recomputed by another program in
 * chain.py. */
#include "synth.h"
#include "tap.h"

#include <fcntl.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

static char folder[256], path[600];
static struct synth one;
static struct store *store;

static void must(enum err err, const struct fault *f, const char *what)
{
    if (err != ERR_OK)
        synth_bail(what, f);
}

static bool is_good(struct store *s)
{
    static struct store_health h;
    struct fault f = {0};
    must(store_verify(s, NULL, NULL, &h, &f), &f, "verify");
    for (int64_t i = 0; i < h.n_faults && i < STORE_FAULTS_MAX; i++)
        tap_note("%s, %s: %s", h.faults[i].kind, h.faults[i].where, h.faults[i].message);
    return h.n_faults == 0;
}

static enum store_taken take(unsigned i)
{
    struct fault f = {0};
    enum store_taken taken = STORE_ALREADY;
    synth_make(&one, 1, i, true);
    must(store_take(store, &one.claim, &taken, NULL, &f), &f, "take");
    return taken;
}

/* ---- making and opening -------------------------------------------------------------------- */

static void check_open(void)
{
    struct fault f = {0};
    bool is_made = false;
    char other[340];
    tap_ok(store_open(path, STORE_WRITE, &store, &f) == ERR_OPEN, "no store: %s", f.message);
    must(store_init(path, &is_made, &f), &f, "init");
    tap_ok(is_made, "a store is made");
    tap_ok(store_init(path, &is_made, &f) == ERR_OK && !is_made, "making it again changes nothing");
    snprintf(other, sizeof other, "%s/none/store", folder);
    tap_ok(store_init(other, &is_made, &f) == ERR_OPEN, "no folder to lie in: %s", f.message);
    tap_ok(store_init(folder, &is_made, &f) == ERR_DUPLICATE, "a folder with something else: %s",
           f.message);
    tap_ok(store_init("", &is_made, &f) == ERR_OPEN, "an empty name: %s", f.message);
    snprintf(other, sizeof other, "%s/text", folder);
    mkdir(other, 0777);
    snprintf(other, sizeof other, "%s/text/store.db", folder);
    FILE *file = fopen(other, "w");
    for (int i = 0; i < 100; i++)
        fputs("this is no database but a text that someone saved under its name\n", file);
    fclose(file);
    snprintf(other, sizeof other, "%s/text", folder);
    tap_ok(store_open(other, STORE_READ, &store, &f) == ERR_TYPE, "a text file: %s", f.message);
    tap_ok(store_init(other, &is_made, &f) == ERR_TYPE, "a text file is not made a store: %s",
           f.message);
    snprintf(other, sizeof other, "%s/circle", folder);
    if (symlink("circle", other) != 0)
        synth_bail("symlink", NULL);
    tap_ok(store_open(other, STORE_READ, &store, &f) == ERR_OPEN, "a circle of links: %s",
           f.message);
    tap_ok(store_init(other, &is_made, &f) == ERR_OPEN, "cannot be made a store: %s", f.message);
    snprintf(other, sizeof other, "%s/folder", folder);
    mkdir(other, 0777);
    snprintf(other, sizeof other, "%s/folder/store.db", folder);
    mkdir(other, 0777);
    snprintf(other, sizeof other, "%s/folder", folder);
    tap_ok(store_open(other, STORE_READ, &store, &f) == ERR_TYPE, "a folder named store.db: %s",
           f.message);
    must(store_open(path, STORE_WRITE, &store, &f), &f, "open");
    tap_ok(is_good(store), "an empty store is whole");
}

static void check_id(void)
{
    /* 60 bits by hand: ff ff ff ff ff ff ff f is twelve times 31, 'Z'; 08 42 10 84 21 08 42 1 is
     * twelve times 00001, '1' (Crockford's alphabet, crockford.com/base32). */
    uint8_t bag[STORE_DIGEST];
    char id[STORE_CLAIM_SIZE + 1];
    memset(bag, 0xff, sizeof bag);
    store_claim_id(bag, id);
    tap_ok(strcmp(id, "KZZZZZZZZZZZZ") == 0, "id of a bag of ones: %s", id);
    static const uint8_t fives[] = {0x08, 0x42, 0x10, 0x84, 0x21, 0x08, 0x42, 0x10};
    memcpy(bag, fives, sizeof fives);
    store_claim_id(bag, id);
    tap_ok(strcmp(id, "K111111111111") == 0, "id of a bag of ones, five bits each: %s", id);
}

/* ---- taking in and reading back ------------------------------------------------------------- */

static bool same(const char *a, const char *b)
{
    return (a == NULL) == (b == NULL) && (a == NULL || strcmp(a, b) == 0);
}

static bool same_claim(const struct store_claim *a, const struct store_claim *b)
{
    return memcmp(a->bag, b->bag, STORE_DIGEST) == 0 && same(a->job, b->job) &&
           same(a->bulletin, b->bulletin) && a->revision == b->revision &&
           same(a->bulletin_sha256, b->bulletin_sha256) && a->is_invented == b->is_invented &&
           same(a->signed_by, b->signed_by) && same(a->vin, b->vin) && same(a->shop, b->shop) &&
           same(a->technician, b->technician) && same(a->signature, b->signature) &&
           a->opened_ms == b->opened_ms && a->finished_ms == b->finished_ms &&
           a->taken_ms == b->taken_ms && a->labour_s == b->labour_s &&
           a->n_stations == b->n_stations && a->n_readings == b->n_readings &&
           a->n_photos == b->n_photos && a->n_findings == b->n_findings &&
           a->n_events == b->n_events;
}

static bool same_station(const struct store_station *a, const struct store_station *b)
{
    return same(a->station, b->station) && same(a->variant, b->variant) &&
           same(a->label, b->label) && same(a->built_first, b->built_first) &&
           same(a->built_last, b->built_last) && same(a->scope, b->scope) && same(a->kit, b->kit);
}

static bool same_reading(const struct store_reading *a, const struct store_reading *b)
{
    return same(a->station, b->station) && same(a->point, b->point) && same(a->phase, b->phase) &&
           same(a->unit, b->unit) && a->value_nano == b->value_nano && a->u_nano == b->u_nano &&
           a->taken_ms == b->taken_ms && same(a->ulid, b->ulid);
}

/* Bit for bit, any NaN for any other. */
static bool same_real(double a, double b)
{
    uint64_t bits_a, bits_b;
    memcpy(&bits_a, &a, sizeof bits_a);
    memcpy(&bits_b, &b, sizeof bits_b);
    return (isnan(a) && isnan(b)) || bits_a == bits_b;
}

static bool same_photo(const struct store_photo *a, const struct store_photo *b)
{
    return same(a->name, b->name) && same(a->station, b->station) &&
           memcmp(a->sha256, b->sha256, STORE_DIGEST) == 0 && same(a->ext, b->ext) &&
           a->bytes == b->bytes && a->width == b->width && a->height == b->height &&
           a->taken_ms == b->taken_ms && a->dhash.is_known == b->dhash.is_known &&
           a->dhash.bits == b->dhash.bits && a->phash.is_known == b->phash.is_known &&
           same_real(a->sharpness, b->sharpness) && same_real(a->exposure, b->exposure) &&
           same(a->fault, b->fault) && same(a->codes, b->codes) && a->is_flat == b->is_flat &&
           a->phash_mirror.bits == b->phash_mirror.bits &&
           a->dhash_mirror.is_known == b->dhash_mirror.is_known;
}

struct seen {
    int n, n_good;
};

static bool see_claim(void *me, const char *id, const struct store_claim *c)
{
    struct seen *seen = me;
    const struct store_claim *want = &one.claim;
    char id_wanted[STORE_CLAIM_SIZE + 1];
    store_claim_id(want->bag, id_wanted);
    bool is_same = strcmp(id, id_wanted) == 0 && same_claim(c, want);
    for (size_t i = 0; is_same && i < c->n_stations; i++)
        is_same = same_station(&c->stations[i], &want->stations[i]);
    for (size_t i = 0; is_same && i < c->n_readings; i++)
        is_same = same_reading(&c->readings[i], &want->readings[i]);
    for (size_t i = 0; is_same && i < c->n_photos; i++)
        is_same = same_photo(&c->photos[i], &want->photos[i]);
    seen->n++;
    seen->n_good += is_same && same(c->findings[0].cure, want->findings[0].cure);
    return true;
}

static bool see_event(void *me, const struct store_event *e)
{
    struct seen *seen = me;
    const struct store_event *want = &one.events[seen->n < SYNTH_EVENTS ? seen->n : 0];
    seen->n++;
    seen->n_good += same(e->ulid, want->ulid) && same(e->type, want->type) && e->n == want->n &&
                    memcmp(e->json, want->json, e->n) == 0;
    return true;
}

static bool count_claim(void *me, const char *id, const struct store_claim *c)
{
    (void)id;
    (void)c;
    return --*(int *)me > 0;
}

static void check_take(void)
{
    struct fault f = {0};
    char id[STORE_CLAIM_SIZE + 1], file[700];
    struct store_counts c = {0};
    struct stat st;
    tap_ok(take(7) == STORE_TAKEN, "a bag is taken in");
    tap_ok(take(7) == STORE_ALREADY, "the same bag again is already there");
    must(store_count(store, &c, &f), &f, "count");
    tap_ok(c.claims == 1 && c.units == 1 && c.events == SYNTH_EVENTS &&
               c.entries == 1 + SYNTH_EVENTS && c.photos == SYNTH_PHOTOS &&
               c.readings == SYNTH_READINGS && c.stations == SYNTH_STATIONS && c.rulings == 0,
           "one claim is counted, with what belongs to it");
    store_claim_id(one.claim.bag, id);
    struct seen seen = {0};
    one.photos[0].ext = one.photos[1].ext = "jpg";
    one.photos[0].bytes = (int64_t)one.photo_bytes[0].n;
    one.photos[1].bytes = (int64_t)one.photo_bytes[1].n;
    must(store_claims(store, id, see_claim, &seen, &f), &f, "claims");
    tap_ok(seen.n == 1 && seen.n_good == 1, "a claim comes back value for value");
    seen = (struct seen){0};
    must(store_events(store, id, see_event, &seen, &f), &f, "events");
    tap_ok(seen.n == SYNTH_EVENTS && seen.n_good == SYNTH_EVENTS,
           "its events come back byte for byte, in order");
    store_photo_path(store, one.photos[1].sha256, "jpg", file, sizeof file);
    tap_ok(stat(file, &st) == 0 && st.st_size == (off_t)one.photo_bytes[1].n,
           "a photo lies at %.12s...", file + strlen(store_folder(store)));
    seen = (struct seen){0};
    must(store_claims(store, "KNONE", see_claim, &seen, &f), &f, "claims");
    tap_ok(seen.n == 0, "a claim that is not there is not there");
    for (unsigned i = 8; i < 12; i++)
        take(i);
    int stop = 2;
    must(store_claims(store, NULL, count_claim, &stop, &f), &f, "claims");
    tap_ok(stop == 0, "reading stops when told to");
    tap_ok(is_good(store), "the store is whole");
}

/* ---- what is refused ------------------------------------------------------------------------ */

static void refused(const char *what, enum err expected, const char *where)
{
    struct fault f = {0};
    struct store_counts before = {0}, after = {0};
    enum store_taken taken;
    must(store_count(store, &before, &f), &f, "count");
    const enum err err = store_take(store, &one.claim, &taken, NULL, &f);
    tap_ok(err == expected && strcmp(f.path, where) == 0, "%s: %s: %s (%s)", what, f.path,
           f.message, err_symbol(err));
    must(store_count(store, &after, &f), &f, "count");
    tap_ok(memcmp(&before, &after, sizeof before) == 0, "%s: nothing was taken", what);
}

static void check_refusals(void)
{
    static char longish[STORE_ID_MAX + 2];
    memset(longish, 'x', sizeof longish - 1);
#define ROW(what, expected, where, change)                                                         \
    do {                                                                                           \
        synth_make(&one, 2, 99, true);                                                             \
        change;                                                                                    \
        refused(what, expected, where);                                                            \
    } while (0)
    ROW("no VIN", ERR_EMPTY, "vin", one.claim.vin = NULL);
    ROW("no bulletin", ERR_EMPTY, "bulletin", one.claim.bulletin = "");
    ROW("a long shop", ERR_LIMIT, "shop", one.claim.shop = longish);
    ROW("a technician in Latin-1", ERR_ENCODING, "technician", one.claim.technician = "M\xfcller");
    ROW("no time", ERR_EMPTY, "taken_ms", one.claim.taken_ms = STORE_UNKNOWN);
    ROW("a time before 1970", ERR_DOMAIN, "", one.claim.taken_ms = -1);
    ROW("a digest of the bulletin that is none", ERR_SYNTAX, "bulletin_sha256",
        one.claim.bulletin_sha256 = "sha256:0123");
    ROW("neither invented nor not", ERR_DOMAIN, "is_invented", one.claim.is_invented = 2);
    ROW("a reading without a point", ERR_EMPTY, "readings[3].point", one.readings[3].point = NULL);
    ROW("a reading without a value", ERR_EMPTY, "readings[2].value_nano",
        one.readings[2].value_nano = STORE_UNKNOWN);
    ROW("a station that is not there", ERR_DOMAIN, "readings[5].station",
        one.readings[5].station = "mid");
    ROW("a photo's station", ERR_DOMAIN, "photos[1].station", one.photos[1].station = "mid");
    ROW("a station twice", ERR_DUPLICATE, "stations[1].station", one.stations[1].station = "fore");
    ROW("too many readings", ERR_LIMIT, "readings", one.claim.n_readings = STORE_READINGS_MAX + 1);
    ROW("an infinite sharpness", ERR_DOMAIN, "photos[0].sharpness",
        one.photos[0].sharpness = (double)INFINITY);
    ROW("an event without a name", ERR_SYNTAX, "events[4]", one.events[4].ulid = "no-ulid");
    ROW("an event twice", ERR_DUPLICATE, "events", one.events[4].ulid = one.events[2].ulid);
    ROW("an event of the store's own type", ERR_DOMAIN, "events[0]",
        one.events[0].type = "store.payment");
    ROW("an event that is a list", ERR_TYPE, "events[1]",
        (one.events[1].json = "[1, 2, 3]", one.events[1].n = 9));
    ROW("an event with broken JSON", ERR_SYNTAX, "events[1]",
        (one.events[1].json = "{\"a\":}", one.events[1].n = 6));
    ROW("a photo with other bytes", ERR_DOMAIN, one.name[1], one.photo_bytes[1].bytes[40] ^= 1);
    ROW("a photo without bytes", ERR_EMPTY, one.name[0], one.photo_bytes[0].n = 0);
    ROW("a photo without a source", ERR_EMPTY, one.name[0], one.photos[0].read = NULL);
    char pipe_path[600];
    snprintf(pipe_path, sizeof pipe_path, "%s/pipe", folder);
    mkfifo(pipe_path, 0666);
    ROW("a photo that is a pipe", ERR_OPEN, one.name[0], one.photos[0].path = pipe_path);
    ROW("a photo that is a folder", ERR_OPEN, one.name[0], one.photos[0].path = folder);
    ROW("a photo whose file is missing", ERR_OPEN, one.name[0],
        one.photos[0].path = "/nonexistent/photo.jpg");
#undef ROW
    static struct store_health h;
    struct fault f = {0};
    must(store_verify(store, NULL, NULL, &h, &f), &f, "verify");
    tap_ok(h.n_faults == 0 && h.n_orphans == 0,
           "after all of these the store is whole, without leftovers (%lld)",
           (long long)h.n_orphans);
}

/* ---- rulings -------------------------------------------------------------------------------- */

static bool see_ruling(void *me, const struct store_ruling *r)
{
    struct seen *seen = me;
    static const char *const verdicts[] = {"ask", "pay", "pay"};
    const int i = seen->n++;
    seen->n_good += i < 3 && (int)r->kind == i && strcmp(r->verdict, verdicts[i]) == 0 &&
                    r->amount_minor == 100 * i && r->n_awards == 2 &&
                    strcmp(r->awards[1].station, "aft") == 0 &&
                    r->awards[1].amount_minor == 50 * i && r->n_findings == 1 &&
                    strcmp(r->findings[0].cure, "send one") == 0 && same(r->currency, "EUR");
    return true;
}

static bool count_id(void *me, const char *id)
{
    (void)id;
    ++*(int *)me;
    return true;
}

static bool see_inside(void *me, const char *id, const struct store_claim *c)
{
    struct fault f = {0};
    struct seen *seen = me, inner = {0};
    int n = 0;
    const char vin_first = c->vin[0];
    must(store_rulings(store, id, see_ruling, &inner, &f), &f, "rulings inside");
    must(store_same_readings(store, id, count_id, &n, &f), &f, "same inside");
    seen->n++;
    seen->n_good +=
        c->vin[0] == vin_first && c->n_readings == SYNTH_READINGS && c->readings[11].unit[0] == 'm';
    return true;
}

static void check_rulings(void)
{
    struct fault f = {0};
    char id[STORE_CLAIM_SIZE + 1];
    synth_make(&one, 1, 9, true);
    store_claim_id(one.claim.bag, id);
    const struct store_finding finding = {"photo.missing", "ask", "fore", "no photo of the label",
                                          "send one",      NULL,  NULL,   NULL};
    int64_t last = 0;
    bool is_rising = true;
    for (int i = 0; i < 3; i++) {
        const struct store_award awards[] = {{"fore", "pay", 50 * i, NULL},
                                             {"aft", "pay", 50 * i, NULL}};
        struct store_ruling r = {.kind = (enum store_ruling_kind)i,
                                 .claim = id,
                                 .verdict = i == 0 ? "ask" : "pay",
                                 .amount_minor = 100 * i,
                                 .currency = "EUR",
                                 .revision = 2,
                                 .person = "C. Example",
                                 .reason = i == 1 ? "photo came by mail" : NULL,
                                 .at_ms = 1770000000000 + i,
                                 .awards = awards,
                                 .n_awards = 2,
                                 .findings = &finding,
                                 .n_findings = 1};
        must(store_rule(store, &r, &f), &f, "rule");
        is_rising &= r.seq > last;
        last = r.seq;
    }
    struct seen seen = {0};
    must(store_rulings(store, id, see_ruling, &seen, &f), &f, "rulings");
    tap_ok(seen.n == 3 && seen.n_good == 3 && is_rising,
           "ruling, overrule and payment come back in order, none replaced");
    seen = (struct seen){0};
    must(store_rulings(store, NULL, see_ruling, &seen, &f), &f, "rulings");
    tap_ok(seen.n == 3, "and among all");
    struct store_ruling r = {.kind = STORE_OVERRULED,
                             .claim = id,
                             .verdict = "pay",
                             .amount_minor = 1,
                             .person = "C. Example",
                             .at_ms = 1};
    tap_ok(store_rule(store, &r, &f) == ERR_EMPTY, "no overrule without a reason: %s", f.message);
    r.reason = "because";
    r.person = NULL;
    tap_ok(store_rule(store, &r, &f) == ERR_EMPTY, "no overrule by nobody: %s", f.message);
    r.person = "C. Example";
    r.claim = "KNONE";
    tap_ok(store_rule(store, &r, &f) == ERR_UNKNOWN, "no ruling on a claim that is not there: %s",
           f.message);
    seen = (struct seen){0};
    must(store_claims(store, NULL, see_inside, &seen, &f), &f, "claims");
    tap_ok(seen.n == 5 && seen.n_good == 5, "other things can be read while claims are");
    tap_ok(is_good(store), "the store is whole");
}

static bool count_ruling(void *me, const struct store_ruling *r)
{
    (void)r;
    ++*(int *)me;
    return true;
}

static void check_many_rulings(void)
{
    enum { MANY = 40 };
    struct fault f = {0};
    char id[STORE_CLAIM_SIZE + 1];
    struct store_ruling many[MANY];
    int n_before = 0, n_after = 0;
    synth_make(&one, 1, 10, true);
    store_claim_id(one.claim.bag, id);
    for (int i = 0; i < MANY; i++)
        many[i] = (struct store_ruling){
            .claim = id, .verdict = "pay", .amount_minor = i, .at_ms = 1770000000000 + i};
    must(store_rulings(store, NULL, count_ruling, &n_before, &f), &f, "rulings");
    many[MANY - 1].claim = "KNONE";
    tap_ok(store_rule_all(store, many, MANY, &f) == ERR_UNKNOWN &&
               strcmp(f.path, "rulings[39]") == 0,
           "the last of many rulings is on no claim: %s: %s", f.path, f.message);
    many[MANY - 1].claim = id;
    many[7].verdict = NULL;
    f.path[0] = '\0';
    tap_ok(store_rule_all(store, many, MANY, &f) == ERR_EMPTY &&
               strcmp(f.path, "rulings[7].verdict") == 0,
           "one of many has no verdict: %s: %s", f.path, f.message);
    many[7].verdict = "pay";
    must(store_rulings(store, NULL, count_ruling, &n_after, &f), &f, "rulings");
    tap_ok(n_after == n_before, "then none of them is there");
    must(store_rule_all(store, many, MANY, &f), &f, "rule all");
    bool is_rising = true;
    for (int i = 1; i < MANY; i++)
        is_rising &= many[i].seq == many[i - 1].seq + 1;
    n_after = 0;
    must(store_rulings(store, NULL, count_ruling, &n_after, &f), &f, "rulings");
    tap_ok(n_after == n_before + MANY && is_rising, "else all, one after the other");
    must(store_rule_all(store, NULL, 0, &f), &f, "rule none");
    tap_ok(store_rule_all(store, many, STORE_RULINGS_AT_ONCE + 1, &f) == ERR_LIMIT,
           "more than at once: %s", f.message);
    tap_ok(is_good(store), "the store is whole");
}

static void check_lookups(void)
{
    struct fault f = {0};
    enum store_taken taken;
    char id[STORE_CLAIM_SIZE + 1], copy[STORE_CLAIM_SIZE + 1];
    int n = 0;
    /* The final readings of claim 8, in another order and in inches, under another unit; what was
     * found before the work is another. */
    synth_make(&one, 1, 8, true);
    store_claim_id(one.claim.bag, id);
    one.claim.bag[0] ^= 0x80;
    one.claim.vin = "1FHMC00X999999999";
    const struct store_reading swap = one.readings[1];
    one.readings[1] = one.readings[11];
    one.readings[11] = swap;
    one.readings[5].unit = "in";
    one.readings[4].value_nano++;
    must(store_take(store, &one.claim, &taken, copy, &f), &f, "take");
    must(store_same_readings(store, id, count_id, &n, &f), &f, "same");
    tap_ok(n == 1, "a copied set of readings is found");
    n = 0;
    must(store_same_readings(store, copy, count_id, &n, &f), &f, "same");
    tap_ok(n == 1, "from the other side too");
    synth_make(&one, 1, 8, true);
    one.claim.bag[0] ^= 0x40;
    one.readings[5].value_nano++;
    must(store_take(store, &one.claim, &taken, copy, &f), &f, "take");
    n = 0;
    must(store_same_readings(store, copy, count_id, &n, &f), &f, "same");
    tap_ok(n == 0, "one nanometre is a difference");
    n = 0;
    must(store_claims_of_unit(store, one.claim.vin, count_id, &n, &f), &f, "unit");
    tap_ok(n == 3, "claims 8 and 9 and the one just taken in are of one unit");
}

/* ---- keeping ---------------------------------------------------------------------------------- */

static void steps(void *me, const char *what, uint64_t done, uint64_t all)
{
    (void)what;
    *(bool *)me &= done <= all;
}

static void check_keeping(void)
{
    struct fault f = {0};
    struct store_counts c = {0}, copied = {0};
    struct store *copy = NULL;
    char dest[300], file[700];
    int64_t n = 0, bytes = 0;
    bool is_in_step = true;
    const struct store_progress progress = {steps, &is_in_step};
    must(store_count(store, &c, &f), &f, "count");
    must(store_rebuild(store, &progress, &n, &f), &f, "rebuild");
    tap_ok(n == c.entries && is_good(store), "rebuilt from %lld entries, and whole", (long long)n);

    snprintf(file, sizeof file, "%s/photos/part-999999999-0", store_folder(store));
    fclose(fopen(file, "w"));
    snprintf(file, sizeof file, "%s/photos/part-%ld-7", store_folder(store), (long)getpid());
    fclose(fopen(file, "w"));
    uint8_t sum[STORE_DIGEST] = {0xab};
    store_photo_path(store, sum, "jpg", file, sizeof file);
    *strrchr(file, '/') = '\0';
    mkdir(file, 0777);
    store_photo_path(store, sum, "jpg", file, sizeof file);
    FILE *orphan = fopen(file, "w");
    fputs("an orphan", orphan);
    fclose(orphan);
    char mine[700];
    snprintf(mine, sizeof mine, "%s/photos/mine", store_folder(store));
    mkdir(mine, 0777);
    snprintf(mine, sizeof mine, "%s/photos/mine/deeper", store_folder(store));
    mkdir(mine, 0777);
    static struct store_health h;
    /* Of another machine on the same folder, whose process cannot be asked: young is alive, untouched for two days is not. */
    char young[700];
    snprintf(young, sizeof young, "%s/photos/part-999999999-0-yard", store_folder(store));
    fclose(fopen(young, "w"));
    snprintf(mine, sizeof mine, "%s/photos/part-999999999-1-yard", store_folder(store));
    fclose(fopen(mine, "w"));
    const struct timespec past[] = {{time(NULL) - 2 * 24 * 60 * 60, 0},
                                    {time(NULL) - 2 * 24 * 60 * 60, 0}};
    utimensat(AT_FDCWD, mine, past, 0);
    snprintf(mine, sizeof mine, "%s/photos/mine/deeper", store_folder(store));
    must(store_verify(store, NULL, &progress, &h, &f), &f, "verify");
    tap_ok(h.n_faults == 0 && h.n_orphans == 3 && h.orphan_bytes == 9,
           "leftovers are told and are no faults; a living writer's file is not one");
    must(store_tidy(store, &n, &bytes, &f), &f, "tidy");
    tap_ok(n == 3 && bytes == 9 && access(file, F_OK) != 0 && access(mine, F_OK) == 0 &&
               access(young, F_OK) == 0,
           "tidy removes them, and leaves folders of others and what another machine writes");
    unlink(young);
    must(store_verify(store, h.head, &progress, &h, &f), &f, "verify");
    tap_ok(h.n_faults == 0 && h.n_orphans == 0,
           "and nothing else; the head that was noted is there");
    snprintf(file, sizeof file, "%s/photos/part-%ld-7", store_folder(store), (long)getpid());
    unlink(file);

    snprintf(dest, sizeof dest, "%s/copy", folder);
    must(store_backup(store, dest, &progress, &copied, &f), &f, "backup");
    tap_ok(memcmp(&c, &copied, sizeof c) == 0, "a backup has as many of everything");
    must(store_open(dest, STORE_READ, &copy, &f), &f, "open copy");
    tap_ok(is_good(copy), "it is whole");
    enum store_taken taken;
    synth_make(&one, 3, 1, true);
    tap_ok(store_take(copy, &one.claim, &taken, NULL, &f) == ERR_IO,
           "opened to read it is not written: %s", f.message);
    tap_ok(store_rebuild(copy, NULL, &n, &f) == ERR_IO &&
               store_tidy(copy, &n, &bytes, &f) == ERR_IO,
           "in no other way either");
    store_close(copy);
    tap_ok(store_backup(store, dest, NULL, &copied, &f) == ERR_DUPLICATE,
           "it is not written over: %s", f.message);
    snprintf(dest, sizeof dest, "%s/none/copy", folder);
    tap_ok(store_backup(store, dest, NULL, &copied, &f) == ERR_OPEN,
           "nor made where there is no folder: %s", f.message);
    snprintf(dest, sizeof dest, "%s/circle/copy", folder);
    tap_ok(store_backup(store, dest, NULL, &copied, &f) == ERR_OPEN, "nor in a circle of links: %s",
           f.message);
    tap_ok(is_in_step, "progress never passes its end");
}

int main(void)
{
    synth_folder(folder);
    synth_store(folder, path, sizeof path);
    check_open();
    check_id();
    check_take();
    check_refusals();
    check_rulings();
    check_many_rulings();
    check_lookups();
    check_keeping();
    store_close(store);
    store_close(NULL);
    synth_remove(folder);
    return tap_done();
}
