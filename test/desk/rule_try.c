/* rule_try: see rule_try.h. */
#include "rule_try.h"

#include "base/file.h"
#include "core/ulid.h"
#include "tap.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define ROOT TEST_TABLES "/../../"

#define DAY_MS ((int64_t)86400000)

static struct text yaml, json;
static char sha256[EVENT_SHA256_SIZE + 1];
static struct bulletin *base;
static struct rule_book *base_book;
static struct event_list *base_events;

static void bail(const char *why)
{
    printf("Bail out! %s\n", why);
    exit(2);
}

static void slurp(const char *path, struct text *ret)
{
    struct fault f = {0};
    if (file_read(path, 1 << 22, ret, &f) != ERR_OK)
        bail(f.message);
}

static struct bulletin *load(const char *text, size_t n)
{
    struct fault_list faults = {0};
    struct bulletin *b = bulletin_load(text, n, "try.yaml", &faults);
    for (size_t i = 0; b == NULL && i < faults.n_faults; i++)
        tap_note("%d: %s: %s", faults.faults[i].line, faults.faults[i].path,
                 faults.faults[i].message);
    fault_list_done(&faults);
    if (b == NULL)
        bail("the bulletin has faults");
    return b;
}

static struct rule_book *book_of(const struct bulletin *b)
{
    struct rule_book *book = NULL;
    struct fault f = {0};
    if (rule_book_new(b, sha256, &book, &f) != ERR_OK)
        bail(f.message);
    return book;
}

static void done(void)
{
    rule_book_free(base_book);
    bulletin_free(base);
    events_free(base_events);
    text_done(&yaml);
    text_done(&json);
}

static void start(void)
{
    uint8_t sum[DIGEST_SHA256_SIZE];
    char hex[DIGEST_HEX_ROOM];
    struct fault f = {0};
    if (base != NULL)
        return;
    slurp(ROOT "examples/OV-26-03.yaml", &yaml);
    slurp(ROOT "examples/jobs/ov-26-03-a/events.json", &json);
    if (digest_bytes(DIGEST_SHA256, yaml.data, yaml.size, sum) != ERR_OK)
        bail("no SHA-256");
    digest_hex(sum, DIGEST_SHA256_SIZE, hex);
    memcpy(sha256, hex, EVENT_SHA256_SIZE);
    base = load(yaml.data, yaml.size);
    base_book = book_of(base);
    if (events_read(json.data, json.size, "events.json", &base_events, &f) != ERR_OK)
        bail(f.message);
    atexit(done);
}

/* ---- the clean case ---- */

static void hex_to(const char *hex, uint8_t *ret)
{
    for (size_t i = 0; i < STORE_DIGEST; i++) {
        unsigned byte = 0;
        if (sscanf(hex + 2 * i, "%2x", &byte) != 1)
            bail("a sum that is none");
        ret[i] = (uint8_t)byte;
    }
}

static void add_photos(struct rule_try *t)
{
    for (size_t i = 0; i < t->n_events; i++) {
        const struct event *e = &t->events[i];
        if (e->type != EVENT_PHOTO_TAKEN)
            continue;
        struct store_photo *p = &t->photos[t->claim.n_photos++];
        *p = (struct store_photo){.name = e->as.photo_taken.path,
                                  .station = e->station,
                                  .point = e->as.photo_taken.photo,
                                  .width = 1600,
                                  .height = 1200,
                                  .taken_ms = e->at_ms,
                                  .sharpness = 200,
                                  .exposure = 0.5};
        hex_to(e->as.photo_taken.sha256, p->sha256);
    }
}

static void fill(struct rule_try *t)
{
    t->claim = (struct store_claim){.bulletin = "OV-26-03",
                                    .revision = 2,
                                    .is_invented = 1,
                                    .vin = t->head.vin,
                                    .shop = "fern-mobile-2",
                                    .technician = "ines",
                                    .signature = "good",
                                    .signed_by = "fern-mobile-2",
                                    .taken_ms = try_finished_ms(t) + 2 * DAY_MS,
                                    .photos = t->photos,
                                    .findings = t->bag};
    add_photos(t);
    t->shop = (struct rule_shop){"fern-mobile-2", BULLETIN_PAYEE_MOBILE, BULLETIN_NO_AMOUNT, true};
    t->labels[0] = (struct rule_label){"fore", "WD40 2024-W13", "the build list"};
    t->labels[1] = (struct rule_label){"aft", "WD40 2024-W32", "the build list"};
    t->known = (struct rule_known){.has_shops = true,
                                   .has_builds = true,
                                   .shop = &t->shop,
                                   .is_built = true,
                                   .labels = t->labels,
                                   .others = t->others,
                                   .seen = t->seen,
                                   .overlaps = t->overlaps,
                                   .same_readings = t->same,
                                   .n_labels = 2};
}

struct rule_try *try_new(void)
{
    start();
    struct rule_try *t = calloc(1, sizeof *t);
    if (t == NULL)
        bail("no memory");
    t->b = base;
    t->book = base_book;
    t->head = *base_events;
    t->n_events = base_events->n;
    t->room = base_events->n + TRY_MORE;
    t->events = calloc(t->room, sizeof *t->events);
    t->ruling = calloc(1, sizeof *t->ruling);
    if (t->events == NULL || t->ruling == NULL)
        bail("no memory");
    memcpy(t->events, base_events->events, base_events->n * sizeof *t->events);
    fill(t);
    return t;
}

struct rule_try *try_text(const char *text, size_t n)
{
    struct rule_try *t = try_new();
    t->b = load(text, n);
    t->book = book_of(t->b); /* with the example's digest: the text is not what is tried */
    t->owns_bulletin = true;
    return t;
}

const struct text *try_yaml(void)
{
    start();
    return &yaml;
}

struct rule_try *try_bulletin(const char *const *pairs)
{
    start();
    struct text now = {0}, next = {0};
    text_add(&now, yaml.data, yaml.size);
    for (size_t i = 0; pairs[i] != NULL; i += 2) {
        const char *at = strstr(now.data, pairs[i]);
        if (at == NULL || strstr(at + 1, pairs[i]) != NULL)
            bail(pairs[i]);
        text_clear(&next);
        text_add(&next, now.data, (size_t)(at - now.data));
        text_puts(&next, pairs[i + 1]);
        text_puts(&next, at + strlen(pairs[i]));
        struct text swap = now;
        now = next;
        next = swap;
    }
    struct rule_try *t = try_text(now.data, now.size);
    text_done(&now);
    text_done(&next);
    return t;
}

void try_free(struct rule_try *t)
{
    job_free(t->job);
    free(t->events);
    free(t->ruling);
    if (t->owns_bulletin) {
        rule_book_free(t->book);
        bulletin_free(t->b);
    }
    free(t);
}

/* ---- changing it ---- */

static const char *key_of(const struct event *e)
{
    switch (e->type) {
    case EVENT_RACK_MEASURED:
        return e->as.rack_measured.rack;
    case EVENT_CUT:
        return e->as.cut.rack;
    case EVENT_HOLD_CONFIRMED:
        return e->as.hold_confirmed.step;
    case EVENT_READING_TAKEN:
        return e->as.reading_taken.point;
    case EVENT_MOVED:
        return e->as.moved.name;
    case EVENT_PHOTO_TAKEN:
        return e->as.photo_taken.photo;
    default:
        return "";
    }
}

static bool is_it(const struct event *e, enum event_type type, const char *station, const char *key)
{
    const bool is_here = station == NULL ? e->station == NULL
                                         : e->station != NULL && strcmp(e->station, station) == 0;
    return e->type == type && is_here &&
           (key == NULL || *key == '\0' || strcmp(key_of(e), key) == 0);
}

struct event *try_event(struct rule_try *t, enum event_type type, const char *station,
                        const char *key, size_t nth)
{
    for (size_t i = 0; i < t->n_events; i++)
        if (is_it(&t->events[i], type, station, key) && nth-- == 0)
            return &t->events[i];
    bail("the example has no such event");
    return NULL;
}

size_t try_drop(struct rule_try *t, enum event_type type, const char *station, const char *key)
{
    size_t n = 0;
    for (size_t i = 0; i < t->n_events; i++)
        if (!is_it(&t->events[i], type, station, key))
            t->events[n++] = t->events[i];
    const size_t dropped = t->n_events - n;
    t->n_events = n;
    if (dropped == 0)
        bail("nothing to drop");
    return dropped;
}

void try_drop_station(struct rule_try *t, const char *station)
{
    size_t n = 0;
    for (size_t i = 0; i < t->n_events; i++)
        if (t->events[i].station == NULL || strcmp(t->events[i].station, station) != 0)
            t->events[n++] = t->events[i];
    t->n_events = n;
}

struct event *try_add(struct rule_try *t, const struct event *like, int64_t at_ms)
{
    const uint8_t random[ULID_RANDOM_SIZE] = {1, 2, 3, 4, 5, 6, 7, 8, 9, (uint8_t)t->n_events};
    if (t->n_events == t->room)
        bail("no room for more events");
    struct event *e = &t->events[t->n_events++];
    *e = *like;
    e->at_ms = at_ms;
    e->has_corrects = false;
    if (ulid_make(at_ms, random, &e->id) != ERR_OK)
        bail("no id");
    return e;
}

struct store_photo *try_photo(struct rule_try *t, const char *station, const char *id)
{
    for (size_t i = 0; i < t->claim.n_photos; i++) {
        struct store_photo *p = &t->photos[i];
        const bool is_here = station == NULL
                                 ? p->station == NULL
                                 : p->station != NULL && strcmp(p->station, station) == 0;
        if (is_here && strcmp(p->point, id) == 0)
            return p;
    }
    bail("the example has no such photo");
    return NULL;
}

int64_t try_finished_ms(const struct rule_try *t)
{
    for (size_t i = 0; i < t->n_events; i++)
        if (t->events[i].type == EVENT_FINISHED)
            return t->events[i].at_ms;
    bail("the example is not finished");
    return 0;
}

/* ---- ruling ---- */

const struct rule_ruling *try_rule(struct rule_try *t)
{
    job_free(t->job);
    t->job = NULL;
    if (job_replay(t->events, t->n_events, &t->job) != ERR_OK)
        bail("no memory");
    const struct rule_case c = {t->book, &t->claim, &t->head, t->job, &t->known};
    rule_claim(&c, t->ruling);
    return t->ruling;
}
