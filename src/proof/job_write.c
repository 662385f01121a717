/* job_write: owns how a job stands in JSON. */
#include "proof/job.h"

/* What a station (or the whole unit) shows, in this order. One: an item without key, an object or null; else a list. */
static const struct group {
    const char *name;
    enum event_type type;
    bool is_one, is_of_unit;
} groups[] = {
    {"label", EVENT_LABEL_READ, true, false},
    {"scope", EVENT_SCOPE_FOUND, true, false},
    {"racks", EVENT_RACK_MEASURED, false, false},
    {"kit", EVENT_KIT_CHOSEN, true, false},
    {"cuts", EVENT_CUT, false, false},
    {"holds", EVENT_HOLD_CONFIRMED, false, true},
    {"readings", EVENT_READING_TAKEN, false, true},
    {"moves", EVENT_MOVED, false, false},
    {"photos", EVENT_PHOTO_TAKEN, false, true},
    {"expenses", EVENT_EXPENSE_CLAIMED, false, true},
};

static void write_ulid(struct jsonw *w, const char *key, const struct ulid *ulid)
{
    char text[ULID_TEXT_SIZE + 1];
    ulid_show(ulid, text);
    jsonw_string(w, key, text);
}

static void write_time(struct jsonw *w, const char *key, int64_t ms)
{
    if (ms == EVENT_ABSENT)
        jsonw_null(w, key);
    else
        jsonw_int(w, key, ms);
}

static void write_entry(const struct job_entry *entry, struct jsonw *w)
{
    event_write_payload(entry->event, w);
    jsonw_int(w, "at_ms", entry->place_ms);
    write_ulid(w, "event", &entry->event->id);
    jsonw_string(w, "technician", entry->event->technician);
}

static void write_item(const struct job *job, const struct job_item *item, const char *key,
                       struct jsonw *w)
{
    jsonw_object(w, key);
    write_entry(&job->entries[item->entries[item->n - 1]], w);
    if (item->type == EVENT_MOVED)
        jsonw_int(w, "total_steps", job_steps(job, item));
    jsonw_array(w, "history");
    for (size_t i = 0; i < item->n; i++) {
        jsonw_object(w, NULL);
        write_entry(&job->entries[item->entries[i]], w);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
    jsonw_object_end(w);
}

static void write_group(const struct job *job, const struct job_item *items, size_t n,
                        const struct group *group, struct jsonw *w)
{
    bool is_there = false;
    if (!group->is_one)
        jsonw_array(w, group->name);
    for (size_t i = 0; i < n; i++) {
        if (items[i].type != group->type)
            continue;
        write_item(job, &items[i], group->is_one ? group->name : NULL, w);
        is_there = true;
    }
    if (!group->is_one)
        jsonw_array_end(w);
    else if (!is_there)
        jsonw_null(w, group->name);
}

/* Every note that stands, one after the other: notes have no key, so they share one item. */
static void write_notes(const struct job *job, const struct job_item *items, size_t n,
                        struct jsonw *w)
{
    jsonw_array(w, "notes");
    for (size_t i = 0; i < n; i++) {
        if (items[i].type != EVENT_NOTE)
            continue;
        for (size_t k = 0; k < items[i].n; k++) {
            jsonw_object(w, NULL);
            write_entry(&job->entries[items[i].entries[k]], w);
            jsonw_object_end(w);
        }
    }
    jsonw_array_end(w);
}

/* station NULL: the whole unit, about which there is nothing. */
static void write_station(const struct job *job, const struct job_station *station, bool is_unit,
                          struct jsonw *w)
{
    const struct job_item *items = station != NULL ? &job->items[station->first_item] : NULL;
    const size_t n = station != NULL ? station->n_items : 0;
    if (!is_unit)
        jsonw_string(w, "id", station->id);
    write_time(w, "first_ms", station != NULL ? station->first_ms : EVENT_ABSENT);
    write_time(w, "last_ms", station != NULL ? station->last_ms : EVENT_ABSENT);
    for (size_t g = 0; g < sizeof groups / sizeof *groups; g++)
        if (!is_unit || groups[g].is_of_unit)
            write_group(job, items, n, &groups[g], w);
    write_notes(job, items, n, w);
}

static void write_corrected(const struct job *job, struct jsonw *w)
{
    jsonw_array(w, "corrected");
    for (size_t i = 0; i < job->n_entries; i++) {
        const struct job_entry *entry = &job->entries[i];
        if (!entry->is_void)
            continue;
        jsonw_object(w, NULL);
        write_ulid(w, "event", &entry->event->id);
        jsonw_string(w, "type", event_types[entry->event->type].name);
        write_ulid(w, "by", &job->entries[entry->voided_by].event->id);
        jsonw_bool(w, "taken_back",
                   job->entries[entry->voided_by].event->type != entry->event->type);
        jsonw_object(w, "was");
        event_write_payload(entry->event, w);
        jsonw_object_end(w);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
}

static void write_findings(const struct job *job, struct jsonw *w)
{
    jsonw_array(w, "findings");
    for (size_t i = 0; i < job->n_findings; i++) {
        const struct job_finding *f = &job->findings[i];
        jsonw_object(w, NULL);
        jsonw_string(w, "kind", job_finding_name(f->kind));
        write_ulid(w, "event", &f->event->id);
        if (f->other != NULL)
            write_ulid(w, "other", &f->other->id);
        else
            jsonw_null(w, "other");
        jsonw_string(w, "message", job_finding_text(f->kind));
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
    jsonw_int(w, "findings_in_all", (int64_t)job->n_all_findings);
}

void job_write(const struct job *job, struct jsonw *w)
{
    const struct job_station *unit = NULL;
    jsonw_bool(w, "finished", job->is_finished);
    write_time(w, "first_ms", job->first_ms);
    write_time(w, "last_ms", job->last_ms);
    write_time(w, "finished_ms", job->finished_ms);
    jsonw_int(w, "events", (int64_t)job->n_entries);
    write_corrected(job, w);
    jsonw_array(w, "stations");
    for (size_t s = 0; s < job->n_stations; s++) {
        if (job->stations[s].id == NULL) {
            unit = &job->stations[s];
            continue;
        }
        jsonw_object(w, NULL);
        write_station(job, &job->stations[s], false, w);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
    jsonw_object(w, "unit");
    write_station(job, unit, true, w);
    jsonw_object_end(w);
    write_findings(job, w);
}
