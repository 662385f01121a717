/* take_claim: owns what of a job stands in a claim: the head, stations, readings, and the events' bytes. */
#include "desk/take_inner.h"

#include "core/date.h"

#include <stdlib.h>
#include <string.h>

/* ---- stations ------------------------------------------------------------------------------ */

/* A station that notes alone are about was not worked on. */
static bool is_worked_on(const struct job *job, const struct job_station *at)
{
    for (size_t i = 0; i < at->n_items; i++)
        if (job->items[at->first_item + i].type != EVENT_NOTE)
            return true;
    return false;
}

static const char *day(struct take *t, int64_t value)
{
    char text[DATE_SHOW_SIZE];
    if (value == EVENT_ABSENT)
        return NULL;
    date_show((int32_t)value, text);
    return take_text(t, "%s", text);
}

static const char *scope_word(const struct event *e)
{
    static const char *const words[EVENT_VERDICT_N] = {
        [EVENT_IN] = "in", [EVENT_OUT] = "out", [EVENT_UNKNOWN] = "unknown"};
    return e != NULL ? words[e->as.scope_found.verdict] : NULL;
}

static const struct event *holds(const struct take *t, enum event_type type, const char *station)
{
    return job_latest(t->job, job_item(t->job, type, station, NULL));
}

static void fill_station(struct take *t, const char *id, struct store_station *ret)
{
    const struct event *label = holds(t, EVENT_LABEL_READ, id);
    const struct event *kit = holds(t, EVENT_KIT_CHOSEN, id);
    *ret =
        (struct store_station){.station = id, .scope = scope_word(holds(t, EVENT_SCOPE_FOUND, id))};
    ret->kit = kit != NULL ? kit->as.kit_chosen.kit : NULL;
    if (label == NULL)
        return;
    ret->label = label->as.label_read.text;
    ret->variant = label->as.label_read.variant;
    ret->built_first = day(t, label->as.label_read.built_first_day);
    ret->built_last = day(t, label->as.label_read.built_last_day);
}

static enum err fill_stations(struct take *t)
{
    struct store_claim *c = &t->claim;
    c->stations = t->stations;
    for (size_t i = 0; i < t->job->n_stations; i++) {
        const struct job_station *at = &t->job->stations[i];
        if (at->id == NULL || !is_worked_on(t->job, at))
            continue;
        if (c->n_stations == STORE_STATIONS_MAX)
            return take_refuse(t, "events", ERR_LIMIT, TAKE_EVENTS, "names more than %d stations",
                               (int)STORE_STATIONS_MAX);
        fill_station(t, at->id, &t->stations[c->n_stations++]);
    }
    return ERR_OK;
}

/* ---- readings ------------------------------------------------------------------------------ */

static bool is_work(const struct job_item *item)
{
    return item->type == EVENT_CUT || item->type == EVENT_MOVED || item->type == EVENT_KIT_CHOSEN;
}

/* One more than the root of the last work at the station (NULL: at any), 0 when there is none. Entries stand in the order of time,
 * so the root of a place tells when; a reading and work never share one. */
static size_t work_end(const struct job *job, const char *station)
{
    size_t end = 0;
    for (size_t i = 0; i < job->n_items; i++) {
        const struct job_item *item = &job->items[i];
        if (!is_work(item) || (station != NULL && strcmp(item->station, station) != 0))
            continue;
        for (size_t k = 0; k < item->n; k++) {
            const size_t root = job->entries[item->entries[k]].root;
            end = root + 1 > end ? root + 1 : end;
        }
    }
    return end;
}

static bool is_same_step(const struct event *a, const struct event *b)
{
    const char *x = a->as.reading_taken.step, *y = b->as.reading_taken.step;
    return x == NULL || y == NULL ? x == y : strcmp(x, y) == 0;
}

/* Whether the k-th reading of a point is the last one of its step. */
static bool is_last_of_step(const struct job *job, const struct job_item *item, size_t k)
{
    const struct event *e = job->entries[item->entries[k]].event;
    for (size_t later = k + 1; later < item->n; later++)
        if (is_same_step(e, job->entries[item->entries[later]].event))
            return false;
    return true;
}

static const char *ulid_text(struct take *t, const struct ulid *id)
{
    char text[ULID_TEXT_SIZE + 1];
    ulid_show(id, text);
    return take_text(t, "%s", text);
}

static enum err add_readings(struct take *t, const struct job_item *item)
{
    struct store_claim *c = &t->claim;
    const size_t end = work_end(t->job, item->station);
    for (size_t k = 0; k < item->n; k++) {
        const struct job_entry *entry = &t->job->entries[item->entries[k]];
        const struct event_reading_taken *r = &entry->event->as.reading_taken;
        /* What a later step read anew is no final reading, also at a station that nobody worked on. */
        const bool is_last = k + 1 == item->n;
        if (!is_last_of_step(t->job, item, k))
            continue;
        if (c->n_readings == STORE_READINGS_MAX)
            return take_refuse(t, "events", ERR_LIMIT, TAKE_EVENTS, "holds more than %d readings",
                               (int)STORE_READINGS_MAX);
        t->readings[c->n_readings++] =
            (struct store_reading){.station = item->station,
                                   .point = item->key,
                                   .phase = is_last && entry->root >= end ? "after" : "before",
                                   .unit = quantity_unit_name(r->value.unit),
                                   .value_nano = r->value.nano,
                                   .u_nano = STORE_UNKNOWN,
                                   .taken_ms = entry->place_ms,
                                   .ulid = ulid_text(t, &entry->event->id)};
    }
    return ERR_OK;
}

static enum err fill_readings(struct take *t)
{
    t->readings = calloc(STORE_READINGS_MAX, sizeof *t->readings);
    if (t->readings == NULL)
        return take_memory(t);
    t->claim.readings = t->readings;
    enum err err = ERR_OK;
    for (size_t i = 0; i < t->job->n_items && err == ERR_OK; i++)
        if (t->job->items[i].type == EVENT_READING_TAKEN)
            err = add_readings(t, &t->job->items[i]);
    return err;
}

/* ---- events -------------------------------------------------------------------------------- */

/* Each event as its own object, in the order of the job; those that were left out for their id are told. */
static enum err fill_events(struct take *t)
{
    const struct job *job = t->job;
    size_t *ends = calloc(job->n_entries + 1, sizeof *ends);
    t->store_events = calloc(job->n_entries + 1, sizeof *t->store_events);
    if (ends == NULL || t->store_events == NULL) {
        free(ends);
        return take_memory(t);
    }
    for (size_t i = 0; i < job->n_entries; i++) {
        struct jsonw w;
        jsonw_start(&w, &t->json);
        event_write(job->entries[i].event, &w, NULL);
        ends[i] = t->json.size;
    }
    for (size_t i = 0; i < job->n_entries && !t->json.is_broken; i++) {
        const struct event *e = job->entries[i].event;
        const size_t at = i > 0 ? ends[i - 1] : 0;
        t->store_events[i] = (struct store_event){.ulid = ulid_text(t, &e->id),
                                                  .type = event_types[e->type].name,
                                                  .json = t->json.data + at,
                                                  .n = ends[i] - at};
    }
    free(ends);
    t->claim.events = t->store_events;
    t->claim.n_events = job->n_entries;
    return t->json.is_broken ? take_memory(t) : ERR_OK;
}

static void find_conflicts(struct take *t)
{
    for (size_t i = 0; i < t->job->n_findings; i++) {
        const struct job_finding *f = &t->job->findings[i];
        char id[ULID_TEXT_SIZE + 1];
        if (f->kind != JOB_ID_CONFLICT)
            continue;
        ulid_show(&f->event->id, id);
        take_find(t, "ask", f->event->station,
                  take_text(t,
                            "the event %s (%s) has the id of another event and says something "
                            "else; it was left out",
                            id, event_types[f->event->type].name),
                  "Ask the shop which of the two is right, and for the job with both under ids of "
                  "their own.");
    }
}

/* ---- the head ------------------------------------------------------------------------------ */

static const struct job_entry *first_opened(const struct job *job, bool must_stand)
{
    for (size_t i = 0; i < job->n_entries; i++)
        if (job->entries[i].event->type == EVENT_OPENED && !(must_stand && job->entries[i].is_void))
            return &job->entries[i];
    return NULL;
}

/* The job's name is that of its very first "opened", put right or not, so that it stays the same when the job is sent again. Who
 * did it is what stands; without an "opened" the first event has to say. */
static void fill_opened(struct take *t)
{
    struct store_claim *c = &t->claim;
    const struct job_entry *named = first_opened(t->job, false),
                           *opened = first_opened(t->job, true);
    const struct event *who = opened != NULL ? opened->event : t->job->entries[0].event;
    c->job = named != NULL ? ulid_text(t, &named->event->id) : NULL;
    c->opened_ms = opened != NULL ? opened->place_ms : STORE_UNKNOWN;
    c->shop = who->shop;
    c->technician = who->technician;
    if (named == NULL)
        take_find(t, "ask", NULL,
                  "no event says that the job was opened: if it is sent again it is taken for "
                  "another job",
                  "Ask the shop for the job as its device holds it, with its first event.");
}

static void fill_finished(struct take *t)
{
    struct store_claim *c = &t->claim;
    const struct event *finished = holds(t, EVENT_FINISHED, NULL);
    c->finished_ms = t->job->is_finished ? t->job->finished_ms : STORE_UNKNOWN;
    c->labour_s = STORE_UNKNOWN;
    if (t->job->is_finished && finished != NULL && finished->as.finished.minutes != EVENT_ABSENT)
        c->labour_s = finished->as.finished.minutes * 60;
}

enum err take_claim(struct take *t)
{
    struct store_claim *c = &t->claim;
    const struct bag_result *bag = &t->answer->bag;
    c->bulletin = t->events->bulletin_id;
    c->revision = t->events->revision;
    c->bulletin_sha256 = t->events->bulletin_sha256;
    c->is_invented = t->events->is_invented;
    c->vin = t->events->vin;
    c->signature = bag_signature_word(bag->signature);
    c->signed_by = bag->shop[0] != '\0' ? bag->shop : NULL;
    c->taken_ms = t->order->now_ms;
    fill_opened(t);
    fill_finished(t);
    enum err err = fill_stations(t);
    if (err == ERR_OK)
        err = fill_readings(t);
    if (err == ERR_OK)
        err = fill_events(t);
    find_conflicts(t);
    return err;
}
