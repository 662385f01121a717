/* Rows for proof/job: small jobs worked by hand from the rules in its header, and properties: the order of the list, doubles and
 * the way of merging change nothing. The finished example is held against its bulletin. */
#include "base/file.h"
#include "base/json.h"
#include "bulletin/bulletin.h"
#include "proof/job.h"
#include "table.h"
#include "tap.h"

#include <inttypes.h>

#define ROOT TEST_TABLES "/../../"

/* ---- building lists ------------------------------------------------------------------------ */

/* An id with this time; n tells apart those of one millisecond. */
static struct ulid make_id(int64_t ms, unsigned n)
{
    uint8_t random[ULID_RANDOM_SIZE] = {0};
    struct ulid id = {{0}};
    random[ULID_RANDOM_SIZE - 1] = (uint8_t)n;
    random[ULID_RANDOM_SIZE - 2] = (uint8_t)(n >> 8);
    if (ulid_make(ms, random, &id) != ERR_OK)
        tap_ok(false, "an id is made");
    return id;
}

static struct event head(enum event_type type, int64_t ms, const char *station)
{
    struct event e = {
        .type = type, .at_ms = ms, .technician = "ines", .shop = "fern", .station = station};
    e.id = make_id(ms, 1);
    if (type == EVENT_FINISHED)
        e.as.finished.minutes = EVENT_ABSENT;
    return e;
}

static struct event reading(int64_t ms, const char *point, int64_t nm)
{
    struct event e = head(EVENT_READING_TAKEN, ms, "fore");
    e.as.reading_taken = (struct event_reading_taken){.point = point, .value = {nm, UNIT_NM}};
    return e;
}

static struct event moved(int64_t ms, enum event_target target, const char *name, int64_t steps)
{
    struct event e = head(EVENT_MOVED, ms, "fore");
    e.as.moved = (struct event_moved){(int64_t)target, name, steps};
    return e;
}

static struct event expense(int64_t ms, enum event_expense what, const char *part, int64_t minor)
{
    struct event e = head(EVENT_EXPENSE_CLAIMED, ms, NULL);
    e.as.expense_claimed = (struct event_expense_claimed){
        .what = (int64_t)what, .amount_minor = minor, .part = part, .count = EVENT_ABSENT};
    return e;
}

static struct event note(int64_t ms, const char *words)
{
    struct event e = head(EVENT_NOTE, ms, NULL);
    e.as.note.text = words;
    return e;
}

static struct event correcting(struct event e, const struct event *target)
{
    e.has_corrects = true;
    e.corrects = target->id;
    return e;
}

static struct job *play(const struct event *events, size_t n)
{
    struct job *job = NULL;
    if (job_replay(events, n, &job) != ERR_OK) {
        printf("Bail out! no memory\n");
        exit(2);
    }
    return job;
}

static int64_t value_at(const struct job *job, const char *point)
{
    const struct event *e = job_reading(job, point);
    return e != NULL ? e->as.reading_taken.value.nano : EVENT_ABSENT;
}

static size_t count_findings(const struct job *job, enum job_finding_kind kind)
{
    size_t n = 0;
    for (size_t i = 0; i < job->n_findings; i++)
        n += job->findings[i].kind == kind;
    return n;
}

/* ---- by hand ------------------------------------------------------------------------------- */

static void latest_rows(void)
{
    /* Given out of order: 5 at 10 ms, 7 at 30 ms, 6 at 20 ms. */
    const struct event e[] = {reading(30, "a", 7),
                              reading(10, "a", 5),
                              reading(20, "a", 6),
                              moved(15, EVENT_ADJUSTER, "x", 3),
                              moved(25, EVENT_ADJUSTER, "x", -5),
                              moved(26, EVENT_RACK, "x", 1)};
    struct job *job = play(e, 6);
    const struct job_item *item = job_item(job, EVENT_READING_TAKEN, "fore", "a");
    tap_ok(value_at(job, "a") == 7, "the latest reading holds");
    tap_ok(item != NULL && item->n == 3 && job->entries[item->entries[0]].event->at_ms == 10 &&
               job->entries[item->entries[1]].event->at_ms == 20,
           "all three are kept, in order");
    tap_ok(job_steps(job, job_item(job, EVENT_MOVED, "fore", "x")) == -2, "moves add up: 3 - 5");
    tap_ok(job_steps(job, job_moved(job, EVENT_RACK, "fore", "x")) == 1,
           "a rack of the adjuster's name is another thing");
    tap_ok(job->first_ms == 10 && job->last_ms == 30 && job->stations[0].first_ms == 10,
           "times: 10 to 30 ms");
    tap_ok(!job->is_finished && job->n_all_findings == 0, "not finished, nothing to remark");
    tap_ok(job_item(job, EVENT_READING_TAKEN, "aft", "a") == NULL &&
               job_item(job, EVENT_CUT, "fore", "a") == NULL && job_reading(job, "b") == NULL,
           "what is not there is not found");
    job_free(job);
}

static int64_t minor_of(const struct job *job, enum event_expense what, const char *part)
{
    const struct event *e = job_latest(job, job_expense(job, what, NULL, part));
    return e != NULL ? e->as.expense_claimed.amount_minor : EVENT_ABSENT;
}

static void expense_rows(void)
{
    /* Told at the desk in the evening: the job ended at 30. */
    const struct event e[] = {reading(10, "a", 5),
                              head(EVENT_FINISHED, 30, NULL),
                              expense(40, EVENT_TRAVEL, NULL, 900),
                              expense(41, EVENT_PARTS, "seal", 150),
                              expense(42, EVENT_PARTS, NULL, 75),
                              expense(43, EVENT_TRAVEL, NULL, 800)};
    struct job *job = play(e, 6);
    tap_ok(minor_of(job, EVENT_TRAVEL, NULL) == 800, "of two sums for travel the later holds");
    tap_ok(job_expense(job, EVENT_TRAVEL, NULL, NULL)->n == 2, "and both are kept");
    tap_ok(minor_of(job, EVENT_PARTS, "seal") == 150 && minor_of(job, EVENT_PARTS, NULL) == 75,
           "a named part and unnamed ones are two items");
    tap_ok(minor_of(job, EVENT_CONSUMABLES, NULL) == EVENT_ABSENT &&
               minor_of(job, EVENT_PARTS, "rail") == EVENT_ABSENT,
           "what was not claimed is not found");
    tap_ok(job_item(job, EVENT_EXPENSE_CLAIMED, NULL, NULL) ==
               job_expense(job, EVENT_TRAVEL, NULL, NULL),
           "job_item finds travel");
    tap_ok(job->is_finished && job->n_all_findings == 0, "an expense is no work after the end");
    tap_ok(job->last_ms == 30, "nor does it make the job longer");
    job_free(job);
}

static void correction_rows(void)
{
    /* 50 read at 10, 60 at 20; at 90 the first is put right to 55: the reading that holds is still that of 20. */
    const struct event first = reading(10, "a", 50), second = reading(20, "a", 60);
    const struct event right = correcting(reading(90, "a", 55), &first);
    const struct event list[] = {first, second, right};
    struct job *job = play(list, 3);
    tap_ok(value_at(job, "a") == 60,
           "a correction stands in the place of what it corrects, not at the end");
    tap_ok(job->n_void == 1 && job->entries[0].is_void && job->entries[0].voided_by == 2,
           "the first is void, and says by what");
    tap_ok(job->last_ms == 20, "its time is that of the place: no work at 90");
    job_free(job);

    /* Correct the correction: 56 holds in the first place. */
    const struct event again = correcting(reading(95, "a", 56), &right);
    const struct event chain[] = {first, right, again};
    job = play(chain, 3);
    tap_ok(value_at(job, "a") == 56 && job->n_void == 2 && job->first_ms == 10 &&
               job->last_ms == 10,
           "a corrected correction: two void, one place");
    job_free(job);

    const struct event back = correcting(note(96, "not ours"), &second);
    const struct event taken_back[] = {first, second, back};
    job = play(taken_back, 3);
    tap_ok(value_at(job, "a") == 50 && job->n_void == 1 && job->n_all_findings == 0,
           "a note takes an event back");
    job_free(job);

    /* Taking back the correction does not bring the first again: void is for good. */
    const struct event undo = correcting(note(97, "no"), &right);
    const struct event undone[] = {first, right, undo};
    job = play(undone, 3);
    tap_ok(value_at(job, "a") == EVENT_ABSENT && job->n_void == 2, "void is for good");
    job_free(job);

    /* Another point: the correction moves the reading away. */
    const struct event other = correcting(reading(91, "b", 50), &first);
    const struct event away[] = {first, other};
    job = play(away, 2);
    tap_ok(value_at(job, "a") == EVENT_ABSENT && value_at(job, "b") == 50,
           "the point itself may be what was wrong");
    job_free(job);
}

static void finding_rows(void)
{
    const struct event a = reading(10, "a", 50), b = reading(20, "a", 60);
    struct event lost = reading(30, "a", 1);
    lost.has_corrects = true;
    lost.corrects = make_id(5, 77);
    struct job *job = play((const struct event[]){a, lost}, 2);
    tap_ok(count_findings(job, JOB_CORRECTS_UNKNOWN) == 1 && job->n_void == 0 &&
               value_at(job, "a") == 1,
           "a correction of nothing is found, and stands by itself");
    job_free(job);

    struct event self = a;
    self = correcting(self, &self);
    job = play((const struct event[]){self, b}, 2);
    tap_ok(count_findings(job, JOB_CORRECTS_LATER) == 1 && job->n_void == 0,
           "a correction of itself");
    job_free(job);
    const struct event early = correcting(reading(5, "a", 9), &b);
    job = play((const struct event[]){early, b}, 2);
    tap_ok(count_findings(job, JOB_CORRECTS_LATER) == 1 && value_at(job, "a") == 60,
           "a correction of what comes later");
    job_free(job);

    const struct event strange = correcting(moved(40, EVENT_ADJUSTER, "x", 1), &a);
    job = play((const struct event[]){a, strange}, 2);
    tap_ok(count_findings(job, JOB_CORRECTS_TYPE) == 1 && value_at(job, "a") == 50,
           "a move corrects no reading");
    job_free(job);

    const struct event one = correcting(reading(50, "a", 51), &a),
                       two = correcting(reading(51, "a", 52), &a);
    job = play((const struct event[]){two, a, one}, 3);
    tap_ok(count_findings(job, JOB_CORRECTS_TWICE) == 1 && value_at(job, "a") == 52 &&
               job->n_void == 1,
           "corrected twice: both stand, the later holds");
    job_free(job);

    struct event clash = a;
    clash.as.reading_taken.value.nano = 99;
    job = play((const struct event[]){clash, a, b}, 3);
    tap_ok(count_findings(job, JOB_ID_CONFLICT) == 1 && job->n_entries == 2,
           "one id for two events: one is left out");
    job_free(job);
    job = play((const struct event[]){a, a, b}, 3);
    tap_ok(job->n_all_findings == 0 && job->n_entries == 2 && job->n_events == 3,
           "the same event twice counts once, without remark");
    job_free(job);

    struct event back = reading(15, "b", 1);
    back.id = make_id(21, 1); /* made after b, by its id */
    job = play((const struct event[]){a, b, back}, 3);
    tap_ok(count_findings(job, JOB_CLOCK_BACK) == 1 && job->findings[0].event->at_ms == 15,
           "a clock that went back from 20 to 15");
    job_free(job);
    back.technician = "jon";
    job = play((const struct event[]){a, b, back}, 3);
    tap_ok(job->n_all_findings == 0, "two technicians' clocks need not agree");
    job_free(job);
}

static void end_rows(void)
{
    const struct event opened = head(EVENT_OPENED, 1, NULL), done = head(EVENT_FINISHED, 50, NULL),
                       a = reading(10, "a", 1), late = reading(60, "a", 2),
                       word = note(70, "thanks"), again = head(EVENT_OPENED, 55, NULL),
                       done_again = head(EVENT_FINISHED, 80, NULL);
    struct job *job = play((const struct event[]){opened, a, done, word}, 4);
    tap_ok(job->is_finished && job->finished_ms == 50 && job->n_all_findings == 0 &&
               job->last_ms == 50,
           "finished; a note is no work");
    job_free(job);
    job = play((const struct event[]){opened, a, done, late}, 4);
    tap_ok(job->is_finished && count_findings(job, JOB_WORK_AFTER) == 1,
           "work after the end is found");
    job_free(job);
    const struct event right = correcting(reading(61, "a", 3), &a);
    job = play((const struct event[]){opened, a, done, right}, 4);
    tap_ok(job->is_finished && job->n_all_findings == 0 && value_at(job, "a") == 3,
           "a correction after the end is no work");
    job_free(job);
    job = play((const struct event[]){opened, a, done, again, late}, 5);
    tap_ok(!job->is_finished && job->n_all_findings == 0, "opened again: not finished");
    job_free(job);
    job = play((const struct event[]){opened, a, done, again, late, done_again}, 6);
    tap_ok(job->is_finished && job->finished_ms == 80 && job->n_all_findings == 0,
           "and finished again");
    job_free(job);
    const struct event no = correcting(note(51, "too soon"), &done);
    job = play((const struct event[]){opened, a, done, no}, 4);
    tap_ok(!job->is_finished, "finished can be taken back");
    job_free(job);
    job = play(NULL, 0);
    tap_ok(!job->is_finished && job->n_items == 0 && job->first_ms == EVENT_ABSENT,
           "no events, no job");
    job_free(job);
}

static void station_rows(void)
{
    struct event aft = reading(5, "z", 1), unit = reading(1, "y", 2);
    aft.station = "aft";
    unit.station = NULL;
    const struct event e[] = {reading(10, "a", 1), aft, unit, reading(3, "b", 1)};
    struct job *job = play(e, 4);
    tap_ok(job->n_stations == 3 && strcmp(job->stations[0].id, "fore") == 0 &&
               strcmp(job->stations[1].id, "aft") == 0 && job->stations[2].id == NULL,
           "stations by first work, the whole unit last");
    tap_ok(job->stations[0].first_ms == 3 && job->stations[0].last_ms == 10 &&
               job->stations[0].n_items == 2 && job->stations[0].n_events == 2,
           "fore: two points, 3 to 10 ms");
    job_free(job);
}

/* ---- properties ---------------------------------------------------------------------------- */

enum { N_MAX = 60 };

/* A random list of events from few ids, times and names, so that everything that can go wrong does. */
static size_t random_events(unsigned long long *state, struct event *events)
{
    static const char *const points[] = {"a", "b", "c"};
    static const char *const people[] = {"ines", "jon"};
    static const char *const stations[] = {"fore", "aft", NULL};
    const size_t n = table_random(state) % N_MAX;
    for (size_t i = 0; i < n; i++) {
        const int64_t ms = (int64_t)(table_random(state) % 25);
        struct event *e = &events[i];
        switch (table_random(state) % 6) {
        case 0:
            *e = moved(ms, (enum event_target)(table_random(state) % 2),
                       points[table_random(state) % 3], 1 + (int64_t)(table_random(state) % 3));
            break;
        case 1:
            *e = note(ms, points[table_random(state) % 3]);
            break;
        case 2:
            *e = head(table_random(state) % 2 ? EVENT_OPENED : EVENT_FINISHED, ms, NULL);
            if (e->type == EVENT_OPENED)
                e->as.opened.software = NULL;
            break;
        case 3:
            *e = table_random(state) % 2
                     ? expense(ms, EVENT_PARTS, points[table_random(state) % 3], 7)
                     : expense(ms, (enum event_expense)(table_random(state) % EVENT_EXPENSE_N),
                               NULL, (int64_t)(table_random(state) % 3));
            break;
        default:
            *e = reading(ms, points[table_random(state) % 3], (int64_t)(table_random(state) % 4));
            e->station = stations[table_random(state) % 3];
        }
        e->technician = people[table_random(state) % 2];
        e->id =
            make_id(ms + (int64_t)(table_random(state) % 3), (unsigned)(table_random(state) % 3));
        if (table_random(state) % 3 == 0 && i > 0)
            *e = correcting(*e, &events[table_random(state) % i]);
    }
    return n;
}

static struct text shown(const struct event *events, size_t n)
{
    struct text t = {0};
    struct jsonw w;
    struct job *job = play(events, n);
    jsonw_start(&w, &t);
    jsonw_object(&w, NULL);
    job_write(job, &w);
    jsonw_object_end(&w);
    job_free(job);
    return t;
}

static bool is_same_text(struct text a, struct text b)
{
    const bool is_same =
        a.size == b.size && a.data != NULL && b.data != NULL && memcmp(a.data, b.data, a.size) == 0;
    text_done(&a);
    text_done(&b);
    return is_same;
}

static void shuffle(unsigned long long *state, struct event *events, size_t n)
{
    for (size_t i = n; i > 1; i--) {
        const size_t k = table_random(state) % i;
        const struct event held = events[i - 1];
        events[i - 1] = events[k];
        events[k] = held;
    }
}

static struct event_list *list_of(const struct event *events, size_t n)
{
    struct event_list *list = events_new();
    for (size_t i = 0; list != NULL && i < n; i++)
        if (events_add(list, &events[i]) != ERR_OK)
            tap_ok(false, "an event is added");
    return list;
}

static struct event_list *merged(const struct event_list *a, const struct event_list *b)
{
    struct event_list *list = NULL;
    struct fault f;
    if (events_merge(a, b, &list, &f) != ERR_OK)
        printf("Bail out! %s\n", f.message);
    return list;
}

static struct text written(const struct event_list *list)
{
    struct text t = {0};
    events_write(list, &t);
    return t;
}

/* Of one random case: which properties hold. */
struct tally {
    int order, doubles, commutes, associates, idempotent, same_job;
};

static void try_case(unsigned long long *state, struct tally *t)
{
    struct event a[2 * N_MAX], b[N_MAX], c[N_MAX];
    const size_t na = random_events(state, a), nb = random_events(state, b),
                 nc = random_events(state, c);
    struct event_list *la = list_of(a, na), *lb = list_of(b, nb), *lc = list_of(c, nc);
    struct event_list *ab = merged(la, lb), *ba = merged(lb, la), *bc = merged(lb, lc);
    struct event_list *left = merged(ab, lc), *right = merged(la, bc), *twice = merged(ab, ab),
                      *more = merged(ab, la);
    t->commutes += is_same_text(written(ab), written(ba));
    t->associates += is_same_text(written(left), written(right));
    t->idempotent +=
        is_same_text(written(ab), written(twice)) && is_same_text(written(ab), written(more));
    t->same_job += is_same_text(shown(ab->events, ab->n), shown(ba->events, ba->n));
    struct text once = shown(a, na);
    memcpy(a + na, a, na * sizeof *a);
    t->doubles += is_same_text(shown(a, 2 * na), once);
    once = shown(a, na);
    shuffle(state, a, na);
    t->order += is_same_text(shown(a, na), once);
    enum { N_LISTS = 10 };
    struct event_list *all[N_LISTS] = {la, lb, lc, ab, ba, bc, left, right, twice, more};
    for (size_t i = 0; i < N_LISTS; i++)
        events_free(all[i]);
}

static void properties(void)
{
    enum { CASES = 1500 };
    unsigned long long state = 20260504;
    struct tally t = {0};
    for (int i = 0; i < CASES; i++)
        try_case(&state, &t);
    tap_ok(t.order == CASES, "%d of %d: the order of the list changes nothing", t.order,
           (int)CASES);
    tap_ok(t.doubles == CASES, "%d of %d: replaying a list twice over equals once", t.doubles,
           (int)CASES);
    tap_ok(t.commutes == CASES, "%d of %d: merging is commutative", t.commutes, (int)CASES);
    tap_ok(t.associates == CASES, "%d of %d: merging is associative", t.associates, (int)CASES);
    tap_ok(t.idempotent == CASES, "%d of %d: merging is idempotent, also with a part of itself",
           t.idempotent, (int)CASES);
    tap_ok(t.same_job == CASES, "%d of %d: either order of merging gives the same job", t.same_job,
           (int)CASES);
}

/* ---- the example against its bulletin ------------------------------------------------------ */

static bool has_photo(const struct job *job, const struct bulletin *b,
                      const struct bulletin_photo *photo)
{
    if (photo->per == BULLETIN_PER_UNIT)
        return job_item(job, EVENT_PHOTO_TAKEN, NULL, photo->id) != NULL;
    for (size_t s = 0; s < b->scope.stations.n; s++)
        if (job_item(job, EVENT_PHOTO_TAKEN, b->scope.stations.at[s].id, photo->id) == NULL)
            return false;
    return true;
}

static bool has_hold(const struct job *job, const struct bulletin *b,
                     const struct bulletin_step *step)
{
    if (step->hold == BULLETIN_HOLD_NONE)
        return true;
    if (step->per == BULLETIN_PER_UNIT)
        return job_item(job, EVENT_HOLD_CONFIRMED, NULL, step->id) != NULL;
    for (size_t s = 0; s < b->scope.stations.n; s++)
        if (job_item(job, EVENT_HOLD_CONFIRMED, b->scope.stations.at[s].id, step->id) == NULL)
            return false;
    return true;
}

static void example_rows(void)
{
    struct text t = {0};
    struct fault f = {0};
    struct fault_list faults = {0};
    struct event_list *list = NULL;
    struct bulletin *b = bulletin_load_file(ROOT "examples/OV-26-03.yaml", &faults);
    if (b == NULL ||
        file_read(ROOT "examples/jobs/ov-26-03-a/events.json", JSON_SIZE_MAX, &t, &f) != ERR_OK ||
        events_read(t.data, t.size, "example", &list, &f) != ERR_OK) {
        printf("Bail out! the example or its bulletin does not read: %s\n", f.message);
        exit(2);
    }
    struct job *job = play(list->events, list->n);
    tap_ok(job->is_finished && job->n_void == 2 && job->n_all_findings == 0,
           "the example is finished, with two corrections and nothing to remark");
    tap_ok(value_at(job, "aft-upper-out") == 58200000, "aft-upper-out was put right to 58.2 mm");
    for (size_t i = 0; i < b->proof.photos.n; i++)
        tap_ok(has_photo(job, b, &b->proof.photos.at[i]), "the example has photo %s (OV-26-03)",
               b->proof.photos.at[i].id);
    for (size_t i = 0; i < b->steps.n; i++)
        tap_ok(has_hold(job, b, &b->steps.at[i]),
               "the example has step %s confirmed, where it holds (OV-26-03)", b->steps.at[i].id);
    for (size_t i = 0; i < b->proof.readings.n; i++) {
        const struct bulletin_point *point = bulletin_point_find(b, b->proof.readings.at[i]);
        const int64_t value = value_at(job, b->proof.readings.at[i]);
        const bool is_inside = point != NULL && value != EVENT_ABSENT &&
                               (!point->low.is_given || value >= point->low.nano) &&
                               (!point->high.is_given || value <= point->high.nano);
        tap_ok(is_inside, "the example reads %s inside its limits (OV-26-03)",
               b->proof.readings.at[i]);
    }
    job_free(job);
    events_free(list);
    text_done(&t);
    bulletin_free(b);
    fault_list_done(&faults);
}

int main(void)
{
    latest_rows();
    expense_rows();
    correction_rows();
    finding_rows();
    end_rows();
    station_rows();
    properties();
    example_rows();
    return tap_done();
}
