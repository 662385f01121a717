/* claims: see claims.h. */
#include "claims.h"

#include "base/jsonw.h"
#include "core/date.h"
#include "core/vin.h"
#include "proof/event.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define DAY_MS ((int64_t)86400000)

struct photo_bytes {
    char text[64];
    size_t n;
};

struct claims {
    struct event_list *base;
    struct event events[CLAIMS_EVENTS];
    size_t n_events;
    struct store_claim claim;
    struct store_event store_events[CLAIMS_EVENTS];
    struct store_station stations[2];
    struct store_reading readings[CLAIMS_READINGS];
    struct store_photo photos[CLAIMS_PHOTOS];
    struct photo_bytes bytes[CLAIMS_PHOTOS];
    char ulids[CLAIMS_EVENTS][ULID_TEXT_SIZE + 1], sums[CLAIMS_PHOTOS][EVENT_SHA256_SIZE + 1];
    char vin[EVENT_VIN_SIZE + 1], technician[32], job[ULID_TEXT_SIZE + 1], id[STORE_CLAIM_SIZE + 1];
    char days[2][2][DATE_SHOW_SIZE];
    struct text json;
    size_t ends[CLAIMS_EVENTS + 1];
};

static void bail(const char *why)
{
    printf("Bail out! %s\n", why);
    exit(2);
}

struct claims *claims_new(const char *text, size_t n)
{
    struct claims *c = calloc(1, sizeof *c);
    struct fault f = {0};
    if (c == NULL)
        bail("no memory");
    if (events_read(text, n, "events.json", &c->base, &f) != ERR_OK)
        bail(f.message);
    if (c->base->n > CLAIMS_EVENTS)
        bail("the example has more events than expected");
    return c;
}

void claims_set_bulletin(struct claims *c, const char *text, size_t n)
{
    uint8_t sum[DIGEST_SHA256_SIZE];
    char hex[DIGEST_HEX_ROOM];
    if (digest_bytes(DIGEST_SHA256, text, n, sum) != ERR_OK)
        bail("no digest");
    digest_hex(sum, sizeof sum, hex);
    memcpy(c->base->bulletin_sha256, hex, EVENT_SHA256_SIZE);
}

void claims_free(struct claims *c)
{
    events_free(c->base);
    text_done(&c->json);
    free(c);
}

struct claims_how claims_how_of(unsigned i)
{
    return (struct claims_how){.unit = i,
                               .job = i + 1,
                               .technician = i % 5000,
                               .day = i / 5000,
                               .bag = i + 1,
                               .readings = i,
                               .is_small = true};
}

/* ---- the parts ---------------------------------------------------------------------------------- */

/* The example's VIN with another serial number, and the check digit that goes with it. */
static void make_vin(struct claims *c, unsigned unit)
{
    struct vin_verdict v;
    snprintf(c->vin, sizeof c->vin, "%.11s%06u", c->base->vin, unit % 1000000);
    vin_check(c->vin, VIN_SIZE, &v);
    c->vin[8] = v.check_expected;
}

static void make_ulid(int64_t at_ms, unsigned job, size_t k, struct ulid *ret)
{
    uint8_t random[ULID_RANDOM_SIZE] = {0};
    for (int i = 0; i < 4; i++)
        random[i] = (uint8_t)(job >> (24 - 8 * i));
    random[9] = (uint8_t)k;
    if (ulid_make(at_ms, random, ret) != ERR_OK)
        bail("no id");
}

static bool is_left_out(const struct event *e, const struct claims_how *how)
{
    if (e->type == EVENT_PHOTO_TAKEN && !how->has_photos)
        return true;
    if (!how->is_small || e->station == NULL || strcmp(e->station, "aft") != 0)
        return false;
    return e->type != EVENT_LABEL_READ && e->type != EVENT_SCOPE_FOUND &&
           !(e->type == EVENT_PHOTO_TAKEN && strcmp(e->as.photo_taken.photo, "label") == 0) &&
           !(e->type == EVENT_HOLD_CONFIRMED && strcmp(e->as.hold_confirmed.step, "identify") == 0);
}

static void set_label(struct event *e, const struct claims_how *how)
{
    const bool is_fore = e->station != NULL && strcmp(e->station, "fore") == 0;
    if (e->type == EVENT_LABEL_READ && is_fore && how->fore_label != NULL)
        e->as.label_read.text = how->fore_label;
    if (!how->is_small || is_fore)
        return;
    if (e->type == EVENT_LABEL_READ) {
        e->as.label_read.text = "WD40 2024-W40";
        e->as.label_read.built_first_day = e->as.label_read.built_last_day = EVENT_ABSENT;
    }
    if (e->type == EVENT_SCOPE_FOUND)
        e->as.scope_found.verdict = EVENT_OUT;
}

static void make_events(struct claims *c, const struct claims_how *how)
{
    const int64_t shift_ms = (int64_t)how->day * DAY_MS;
    c->n_events = 0;
    for (size_t i = 0; i < c->base->n; i++) {
        struct event *e = &c->events[c->n_events];
        *e = c->base->events[i];
        if (is_left_out(e, how))
            continue;
        e->at_ms += shift_ms;
        make_ulid(e->at_ms, how->job, i, &e->id);
        for (size_t k = 0; k < i && e->has_corrects; k++)
            if (ulid_compare(&c->base->events[k].id, &c->base->events[i].corrects) == 0)
                make_ulid(c->base->events[k].at_ms + shift_ms, how->job, k, &e->corrects);
        e->technician = c->technician;
        set_label(e, how);
        if (e->type == EVENT_READING_TAKEN && e->as.reading_taken.value.unit == UNIT_NM &&
            e->as.reading_taken.step != NULL && strcmp(e->as.reading_taken.step, "true-room") == 0)
            e->as.reading_taken.value.nano += how->readings;
        c->n_events++;
    }
    ulid_show(&c->events[0].id, c->job);
}

static long read_bytes(void *me, uint64_t at, void *buf, size_t n)
{
    const struct photo_bytes *b = me;
    const size_t left = at < b->n ? b->n - (size_t)at : 0;
    n = n < left ? n : left;
    memcpy(buf, b->text + (left > 0 ? at : 0), n);
    return (long)n;
}

static void make_photos(struct claims *c, const struct claims_how *how)
{
    struct store_claim *claim = &c->claim;
    claim->photos = c->photos;
    for (size_t i = 0; i < c->n_events && how->has_photos; i++) {
        struct event *e = &c->events[i];
        if (e->type != EVENT_PHOTO_TAKEN)
            continue;
        const size_t k = claim->n_photos++;
        struct store_photo *p = &c->photos[k];
        const unsigned of = how->photo_of != 0 ? how->photo_of : how->job;
        c->bytes[k].n = (size_t)snprintf(c->bytes[k].text, sizeof c->bytes[k].text,
                                         "photo %zu of job %u", k, of);
        *p = (struct store_photo){.name = e->as.photo_taken.path,
                                  .station = e->station,
                                  .point = e->as.photo_taken.photo,
                                  .width = 1600,
                                  .height = 1200,
                                  .taken_ms = e->at_ms,
                                  .is_flat = STORE_UNKNOWN,
                                  .sharpness = how->is_blurred && k == 2 ? 1 : 200,
                                  .exposure = 0.5,
                                  .read = read_bytes,
                                  .me = &c->bytes[k]};
        if (digest_bytes(DIGEST_SHA256, c->bytes[k].text, c->bytes[k].n, p->sha256) != ERR_OK)
            bail("no digest");
        digest_hex(p->sha256, STORE_DIGEST, c->sums[k]);
        e->as.photo_taken.sha256 = c->sums[k];
    }
}

static void make_stations(struct claims *c)
{
    static const char *const ids[] = {"fore", "aft"};
    static const char *const scopes[] = {"in", "out", "unknown"};
    for (size_t s = 0; s < 2; s++)
        c->stations[s] = (struct store_station){.station = ids[s]};
    for (size_t i = 0; i < c->n_events; i++) {
        const struct event *e = &c->events[i];
        struct store_station *s = e->station == NULL                ? NULL
                                  : strcmp(e->station, "fore") == 0 ? &c->stations[0]
                                                                    : &c->stations[1];
        if (s == NULL)
            continue;
        if (e->type == EVENT_LABEL_READ) {
            s->label = e->as.label_read.text;
            s->variant = e->as.label_read.variant;
        } else if (e->type == EVENT_SCOPE_FOUND)
            s->scope = scopes[e->as.scope_found.verdict];
        else if (e->type == EVENT_KIT_CHOSEN)
            s->kit = e->as.kit_chosen.kit;
    }
    c->claim.stations = c->stations;
    c->claim.n_stations = 2;
}

static void make_readings(struct claims *c)
{
    struct store_claim *claim = &c->claim;
    for (size_t i = 0; i < c->n_events; i++) {
        const struct event *e = &c->events[i];
        const struct event_reading_taken *r = &e->as.reading_taken;
        if (e->type != EVENT_READING_TAKEN)
            continue;
        const bool is_before = r->step != NULL && strcmp(r->step, "gaps-before") == 0;
        size_t k = 0; /* the last of a point and its step is the one */
        while (k < claim->n_readings &&
               (strcmp(c->readings[k].point, r->point) != 0 ||
                (strcmp(c->readings[k].phase, "before") == 0) != is_before))
            k++;
        claim->n_readings += k == claim->n_readings;
        c->readings[k] = (struct store_reading){.station = e->station,
                                                .point = r->point,
                                                .phase = is_before ? "before" : "after",
                                                .unit = quantity_unit_name(r->value.unit),
                                                .value_nano = r->value.nano,
                                                .u_nano = STORE_UNKNOWN,
                                                .taken_ms = e->at_ms,
                                                .ulid = c->ulids[i]};
    }
    claim->readings = c->readings;
}

static void write_events(struct claims *c)
{
    struct store_claim *claim = &c->claim;
    text_clear(&c->json);
    for (size_t i = 0; i < c->n_events; i++) {
        struct jsonw w;
        c->ends[i] = c->json.size;
        jsonw_start(&w, &c->json);
        event_write(&c->events[i], &w, NULL);
        ulid_show(&c->events[i].id, c->ulids[i]);
    }
    c->ends[c->n_events] = c->json.size;
    for (size_t i = 0; i < c->n_events; i++)
        c->store_events[i] = (struct store_event){.ulid = c->ulids[i],
                                                  .type = event_types[c->events[i].type].name,
                                                  .json = c->json.data + c->ends[i],
                                                  .n = c->ends[i + 1] - c->ends[i]};
    claim->events = c->store_events;
    claim->n_events = c->n_events;
}

struct store_claim *claims_make(struct claims *c, const struct claims_how *how)
{
    char name[64];
    snprintf(c->technician, sizeof c->technician, "tech-%u", how->technician);
    make_vin(c, how->unit);
    make_events(c, how);
    const int64_t finished_ms = c->events[c->n_events - 1].at_ms;
    c->claim = (struct store_claim){.job = c->job,
                                    .bulletin = c->base->bulletin_id,
                                    .revision = c->base->revision,
                                    .bulletin_sha256 = c->base->bulletin_sha256,
                                    .is_invented = 1,
                                    .vin = c->vin,
                                    .shop = c->base->events[0].shop,
                                    .technician = c->technician,
                                    .signature = "good",
                                    .signed_by = c->base->events[0].shop,
                                    .opened_ms = c->events[0].at_ms,
                                    .finished_ms = finished_ms,
                                    .taken_ms = finished_ms + 2 * DAY_MS,
                                    .labour_s = STORE_UNKNOWN};
    make_photos(c, how);
    write_events(c);
    make_stations(c);
    make_readings(c);
    const int n = snprintf(name, sizeof name, "bag %u", how->bag);
    if (digest_bytes(DIGEST_SHA256, name, (size_t)n, c->claim.bag) != ERR_OK)
        bail("no digest");
    return &c->claim;
}

const char *claims_take(struct claims *c, struct store *store, const struct claims_how *how)
{
    enum store_taken taken = STORE_TAKEN;
    struct fault f = {0};
    if (store_take(store, claims_make(c, how), &taken, c->id, &f) != ERR_OK) {
        printf("# %s: %s\n", f.path, f.message);
        bail("a claim could not be taken in");
    }
    return c->id;
}
