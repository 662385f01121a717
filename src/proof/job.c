/* job: owns replaying: order, corrections, items, times, and what is wrong with the list itself. */
#include "proof/job.h"

#include <stdlib.h>
#include <string.h>

struct id_place {
    struct ulid id;
    size_t entry;
};

/* What replaying needs besides the job. */
struct replay {
    struct job *job;
    const struct event **sorted; /* by event_compare, then by id */
    struct id_place *ids;        /* by id */
};

/* ---- findings ------------------------------------------------------------------------------ */

static void add_finding(struct job *job, enum job_finding_kind kind, const struct event *event,
                        const struct event *other)
{
    job->n_all_findings++;
    if (job->n_findings < JOB_FINDINGS_MAX)
        job->findings[job->n_findings++] = (struct job_finding){kind, event, other};
}

const char *job_finding_name(enum job_finding_kind kind)
{
    static const char *const names[JOB_FINDING_N] = {
        [JOB_CORRECTS_UNKNOWN] = "corrects-unknown",
        [JOB_CORRECTS_LATER] = "corrects-later",
        [JOB_CORRECTS_TYPE] = "corrects-type",
        [JOB_CORRECTS_TWICE] = "corrects-twice",
        [JOB_ID_CONFLICT] = "id-conflict",
        [JOB_CLOCK_BACK] = "clock-back",
        [JOB_WORK_AFTER] = "work-after",
    };
    return names[kind];
}

const char *job_finding_text(enum job_finding_kind kind)
{
    static const char *const texts[JOB_FINDING_N] = {
        [JOB_CORRECTS_UNKNOWN] = "corrects an event that is not in the list",
        [JOB_CORRECTS_LATER] = "corrects itself or a later event: it voids nothing",
        [JOB_CORRECTS_TYPE] = "corrects an event of another type: it voids nothing",
        [JOB_CORRECTS_TWICE] =
            "corrects an event that another one has corrected already: both stand",
        [JOB_ID_CONFLICT] = "has the id of another event and says something else: it is left out",
        [JOB_CLOCK_BACK] = "was made after one of the same technician that shows a later time",
        [JOB_WORK_AFTER] = "is work after the job was finished, and the job was not opened again",
    };
    return texts[kind];
}

/* ---- order --------------------------------------------------------------------------------- */

static int by_order(const void *a, const void *b)
{
    return event_compare(*(const struct event *const *)a, *(const struct event *const *)b);
}

static int by_id_then_order(const void *a, const void *b)
{
    const struct event *x = *(const struct event *const *)a, *y = *(const struct event *const *)b;
    const int c = ulid_compare(&x->id, &y->id);
    return c != 0 ? c : event_compare(x, y);
}

static int by_place_id(const void *a, const void *b)
{
    return ulid_compare(&((const struct id_place *)a)->id, &((const struct id_place *)b)->id);
}

static size_t drop_doubles(struct job *job, const struct event **sorted, size_t n)
{
    size_t kept = 0;
    const struct event *before = NULL;
    for (size_t i = 0; i < n; i++) {
        const struct event *e = sorted[i];
        if (before != NULL && event_compare(before, e) == 0)
            continue;
        before = e;
        if (kept > 0 && ulid_compare(&sorted[kept - 1]->id, &e->id) == 0)
            add_finding(job, JOB_ID_CONFLICT, e, sorted[kept - 1]);
        else
            sorted[kept++] = e;
    }
    return kept;
}

/* Each event once into job->entries by time; of several with one id the first stays. */
static void sort_events(struct replay *r, const struct event *events, size_t n)
{
    struct job *job = r->job;
    for (size_t i = 0; i < n; i++)
        r->sorted[i] = &events[i];
    if (n > 0)
        qsort(r->sorted, n, sizeof(const struct event *), by_id_then_order);
    job->n_entries = drop_doubles(job, r->sorted, n);
    if (job->n_entries > 0)
        qsort(r->sorted, job->n_entries, sizeof(const struct event *), by_order);
    for (size_t i = 0; i < job->n_entries; i++) {
        job->entries[i] =
            (struct job_entry){.event = r->sorted[i], .place_ms = r->sorted[i]->at_ms, .root = i};
        r->ids[i] = (struct id_place){r->sorted[i]->id, i};
    }
    if (job->n_entries > 0)
        qsort(r->ids, job->n_entries, sizeof *r->ids, by_place_id);
}

/* ---- corrections --------------------------------------------------------------------------- */

static void correct(struct replay *r, size_t i)
{
    struct job *job = r->job;
    struct job_entry *entry = &job->entries[i];
    const struct event *e = entry->event;
    const struct id_place wanted = {e->corrects, 0};
    const struct id_place *found =
        bsearch(&wanted, r->ids, job->n_entries, sizeof *r->ids, by_place_id);
    if (found == NULL) {
        add_finding(job, JOB_CORRECTS_UNKNOWN, e, NULL);
        return;
    }
    struct job_entry *target = &job->entries[found->entry];
    if (found->entry >= i) {
        add_finding(job, JOB_CORRECTS_LATER, e, target->event);
        return;
    }
    if (e->type != target->event->type && e->type != EVENT_NOTE) {
        add_finding(job, JOB_CORRECTS_TYPE, e, target->event);
        return;
    }
    if (target->is_void)
        add_finding(job, JOB_CORRECTS_TWICE, e, target->event);
    else
        target->voided_by = i;
    job->n_void += !target->is_void;
    target->is_void = true;
    entry->is_correction = true;
    entry->root = target->root; /* entries before i are settled: the target is one of them */
    entry->place_ms = target->place_ms;
}

/* By technician, then ULID: the order in which one device made them. */
static int by_maker(const void *a, const void *b)
{
    const struct event *x = *(const struct event *const *)a, *y = *(const struct event *const *)b;
    int c = strcmp(x->technician, y->technician);
    if (c == 0)
        c = strcmp(x->shop, y->shop);
    return c != 0 ? c : ulid_compare(&x->id, &y->id);
}

static void find_clocks(struct replay *r)
{
    struct job *job = r->job;
    const struct event **made = r->sorted;
    if (job->n_entries > 0)
        qsort(made, job->n_entries, sizeof(const struct event *), by_maker);
    for (size_t i = 1; i < job->n_entries; i++)
        if (strcmp(made[i - 1]->technician, made[i]->technician) == 0 &&
            strcmp(made[i - 1]->shop, made[i]->shop) == 0 && made[i]->at_ms < made[i - 1]->at_ms)
            add_finding(job, JOB_CLOCK_BACK, made[i], made[i - 1]);
}

/* ---- finished ------------------------------------------------------------------------------ */

static bool is_work(const struct job_entry *entry)
{
    return !entry->is_void && !entry->is_correction && entry->event->type != EVENT_NOTE &&
           entry->event->type != EVENT_FINISHED && entry->event->type != EVENT_OPENED &&
           entry->event->type != EVENT_EXPENSE_CLAIMED;
}

/* Where an entry stands among the others: by the root of its place, then by itself. */
static bool stands_before(const struct job *job, size_t a, size_t b)
{
    const size_t x = job->entries[a].root, y = job->entries[b].root;
    return x != y ? x < y : a < b;
}

static void find_end(struct job *job)
{
    size_t opened = SIZE_MAX, finished = SIZE_MAX;
    for (size_t i = 0; i < job->n_entries; i++) {
        const struct job_entry *entry = &job->entries[i];
        if (entry->is_void)
            continue;
        const enum event_type type = entry->event->type;
        if (type == EVENT_OPENED && (opened == SIZE_MAX || stands_before(job, opened, i)))
            opened = i;
        if (type == EVENT_FINISHED && (finished == SIZE_MAX || stands_before(job, finished, i)))
            finished = i;
    }
    job->finished_ms = EVENT_ABSENT;
    job->is_finished =
        finished != SIZE_MAX && (opened == SIZE_MAX || stands_before(job, opened, finished));
    if (!job->is_finished)
        return;
    job->finished_ms = job->entries[finished].place_ms;
    for (size_t i = 0; i < job->n_entries; i++)
        if (is_work(&job->entries[i]) && stands_before(job, finished, i))
            add_finding(job, JOB_WORK_AFTER, job->entries[i].event, job->entries[finished].event);
}

/* ---- items --------------------------------------------------------------------------------- */

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
    case EVENT_EXPENSE_CLAIMED:
        return e->as.expense_claimed.part != NULL ? e->as.expense_claimed.part : "";
    default:
        return "";
    }
}

static int64_t target_of(const struct event *e)
{
    if (e->type == EVENT_EXPENSE_CLAIMED)
        return e->as.expense_claimed.what;
    return e->type == EVENT_MOVED ? e->as.moved.target : 0;
}

/* What an entry is sorted by into items, made ready so that qsort needs nothing from outside. */
struct sort_key {
    size_t station; /* in the order of first work; the whole unit last */
    enum event_type type;
    const char *key;
    int64_t target;
    size_t root, entry;
};

static int compare_size(size_t a, size_t b)
{
    return (a > b) - (a < b);
}

static int same_item(const struct sort_key *a, const struct sort_key *b)
{
    int c = compare_size(a->station, b->station);
    if (c == 0)
        c = compare_size(a->type, b->type);
    if (c == 0)
        c = strcmp(a->key, b->key);
    return c != 0 ? c : (a->target > b->target) - (a->target < b->target);
}

static int by_item(const void *a, const void *b)
{
    const struct sort_key *x = a, *y = b;
    int c = same_item(x, y);
    if (c == 0)
        c = compare_size(x->root, y->root);
    return c != 0 ? c : compare_size(x->entry, y->entry);
}

struct name_place {
    const char *name; /* NULL sorts last */
    size_t root, station;
};

static int compare_name(const char *a, const char *b)
{
    if (a == NULL || b == NULL)
        return (a == NULL) - (b == NULL);
    return strcmp(a, b);
}

static int by_name(const void *a, const void *b)
{
    const struct name_place *x = a, *y = b;
    const int c = compare_name(x->name, y->name);
    return c != 0 ? c : compare_size(x->root, y->root);
}

static int by_first_work(const void *a, const void *b)
{
    const struct name_place *x = a, *y = b;
    if ((x->name == NULL) != (y->name == NULL))
        return x->name == NULL ? 1 : -1;
    const int c = compare_size(x->root, y->root);
    return c != 0 ? c : compare_name(x->name, y->name);
}

/* The stations of the entries that stand, in the order of first work; their number. names has room for all entries. */
static size_t find_stations(const struct job *job, struct name_place *names)
{
    size_t n = 0, kept = 0;
    for (size_t i = 0; i < job->n_entries; i++)
        if (!job->entries[i].is_void)
            names[n++] =
                (struct name_place){job->entries[i].event->station, job->entries[i].root, 0};
    if (n > 0)
        qsort(names, n, sizeof *names, by_name);
    for (size_t i = 0; i < n; i++)
        if (kept == 0 || compare_name(names[kept - 1].name, names[i].name) != 0)
            names[kept++] = names[i];
    if (kept > 0)
        qsort(names, kept, sizeof *names, by_first_work);
    for (size_t i = 0; i < kept; i++)
        names[i].station = i;
    if (kept > 0)
        qsort(names, kept, sizeof *names, by_name);
    return kept;
}

static int by_name_only(const void *a, const void *b)
{
    return compare_name(((const struct name_place *)a)->name, ((const struct name_place *)b)->name);
}

static size_t make_keys(const struct job *job, const struct name_place *names, size_t n_names,
                        struct sort_key *keys)
{
    size_t n = 0;
    for (size_t i = 0; i < job->n_entries; i++) {
        const struct job_entry *entry = &job->entries[i];
        if (entry->is_void)
            continue;
        const struct name_place wanted = {entry->event->station, 0, 0};
        const struct name_place *found =
            bsearch(&wanted, names, n_names, sizeof *names, by_name_only);
        keys[n++] = (struct sort_key){.station = found != NULL ? found->station : 0,
                                      .type = entry->event->type,
                                      .key = key_of(entry->event),
                                      .target = target_of(entry->event),
                                      .root = entry->root,
                                      .entry = i};
    }
    if (n > 0)
        qsort(keys, n, sizeof *keys, by_item);
    return n;
}

static void widen(const struct job_entry *entry, int64_t *first_ms, int64_t *last_ms)
{
    if (entry->event->type == EVENT_NOTE || entry->event->type == EVENT_EXPENSE_CLAIMED)
        return;
    if (*first_ms == EVENT_ABSENT || entry->place_ms < *first_ms)
        *first_ms = entry->place_ms;
    if (*last_ms == EVENT_ABSENT || entry->place_ms > *last_ms)
        *last_ms = entry->place_ms;
}

static void find_times(struct job *job)
{
    job->first_ms = job->last_ms = EVENT_ABSENT;
    for (size_t i = 0; i < job->n_entries; i++)
        if (!job->entries[i].is_void)
            widen(&job->entries[i], &job->first_ms, &job->last_ms);
}

static void fill_items(struct job *job, const struct sort_key *keys, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        const struct sort_key *key = &keys[i];
        const struct job_entry *entry = &job->entries[key->entry];
        struct job_station *station = &job->stations[key->station];
        job->order[i] = key->entry;
        const bool is_new = i == 0 || same_item(&keys[i - 1], key) != 0;
        if (station->n_events == 0)
            *station = (struct job_station){.id = entry->event->station,
                                            .first_ms = EVENT_ABSENT,
                                            .last_ms = EVENT_ABSENT,
                                            .first_item = job->n_items};
        if (is_new)
            job->items[job->n_items++] = (struct job_item){.type = key->type,
                                                           .station = entry->event->station,
                                                           .key = key->key,
                                                           .target = key->target,
                                                           .entries = &job->order[i]};
        job->items[job->n_items - 1].n++;
        station->n_items += is_new;
        station->n_events++;
        widen(entry, &station->first_ms, &station->last_ms);
    }
}

static enum err find_items(struct job *job)
{
    const size_t room = job->n_entries + 1;
    struct name_place *names = calloc(room, sizeof *names);
    struct sort_key *keys = calloc(room, sizeof *keys);
    const bool is_good = names != NULL && keys != NULL;
    if (is_good) {
        job->n_stations = find_stations(job, names);
        fill_items(job, keys, make_keys(job, names, job->n_stations, keys));
    }
    free(names);
    free(keys);
    return is_good ? ERR_OK : ERR_MEMORY;
}

/* ---- the whole ----------------------------------------------------------------------------- */

static enum err replay(struct replay *r, const struct event *events, size_t n)
{
    sort_events(r, events, n);
    for (size_t i = 0; i < r->job->n_entries; i++)
        if (r->job->entries[i].event->has_corrects)
            correct(r, i);
    find_clocks(r);
    find_end(r->job);
    find_times(r->job);
    return find_items(r->job);
}

enum err job_replay(const struct event *events, size_t n, struct job **ret)
{
    if (n > 2 * (size_t)EVENTS_MAX)
        return ERR_LIMIT;
    struct job *job = calloc(1, sizeof *job);
    struct replay r = {job, calloc(n + 1, sizeof(const struct event *)),
                       calloc(n + 1, sizeof(struct id_place))};
    enum err e = ERR_MEMORY;
    if (job != NULL) {
        job->n_events = n;
        job->entries = calloc(n + 1, sizeof *job->entries);
        job->items = calloc(n + 1, sizeof *job->items);
        job->stations = calloc(n + 1, sizeof *job->stations);
        job->order = calloc(n + 1, sizeof *job->order);
        if (r.sorted != NULL && r.ids != NULL && job->entries != NULL && job->items != NULL &&
            job->stations != NULL && job->order != NULL)
            e = replay(&r, events, n);
    }
    free(r.sorted);
    free(r.ids);
    if (e == ERR_OK) {
        *ret = job;
        return ERR_OK;
    }
    job_free(job);
    return e;
}

void job_free(struct job *job)
{
    if (job == NULL)
        return;
    free(job->entries);
    free(job->items);
    free(job->stations);
    free(job->order);
    free(job);
}

/* ---- looking ------------------------------------------------------------------------------- */

static const struct job_item *find(const struct job *job, const struct job_station *at,
                                   const struct sort_key *wanted)
{
    size_t low = at->first_item, high = at->first_item + at->n_items;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        const struct job_item *item = &job->items[middle];
        const struct sort_key key = {.type = item->type, .key = item->key, .target = item->target};
        const int c = same_item(wanted, &key);
        if (c == 0)
            return item;
        if (c < 0)
            high = middle;
        else
            low = middle + 1;
    }
    return NULL;
}

static const struct job_item *find_at(const struct job *job, const char *station,
                                      const struct sort_key *wanted)
{
    for (size_t s = 0; s < job->n_stations; s++)
        if (compare_name(job->stations[s].id, station) == 0)
            return find(job, &job->stations[s], wanted);
    return NULL;
}

const struct job_item *job_item(const struct job *job, enum event_type type, const char *station,
                                const char *key)
{
    const struct sort_key wanted = {.type = type, .key = key != NULL ? key : ""};
    return find_at(job, station, &wanted);
}

const struct job_item *job_moved(const struct job *job, enum event_target target,
                                 const char *station, const char *name)
{
    const struct sort_key wanted = {.type = EVENT_MOVED, .key = name, .target = (int64_t)target};
    return find_at(job, station, &wanted);
}

const struct job_item *job_expense(const struct job *job, enum event_expense what,
                                   const char *station, const char *part)
{
    const struct sort_key wanted = {
        .type = EVENT_EXPENSE_CLAIMED, .key = part != NULL ? part : "", .target = (int64_t)what};
    return find_at(job, station, &wanted);
}

const struct event *job_latest(const struct job *job, const struct job_item *item)
{
    return item != NULL ? job->entries[item->entries[item->n - 1]].event : NULL;
}

const struct event *job_reading(const struct job *job, const char *point)
{
    size_t best = SIZE_MAX;
    for (size_t s = 0; s < job->n_stations; s++) {
        const struct job_item *item =
            job_item(job, EVENT_READING_TAKEN, job->stations[s].id, point);
        if (item == NULL)
            continue;
        const size_t last = item->entries[item->n - 1];
        if (best == SIZE_MAX || stands_before(job, best, last))
            best = last;
    }
    return best != SIZE_MAX ? job->entries[best].event : NULL;
}

int64_t job_steps(const struct job *job, const struct job_item *item)
{
    int64_t sum = 0;
    for (size_t i = 0; item != NULL && item->type == EVENT_MOVED && i < item->n; i++)
        sum += job->entries[item->entries[i]].event->as.moved.steps;
    return sum;
}
