/* job: what a list of events comes to: the state of one repair, replayed from its events by one pure function.
 *
 * Order. Events are taken by device time, then ULID; the order of the list does not matter, and an event given twice counts
 * once. Two technicians' lists, merged either way, give the same job.
 *
 * Correcting. An event may name an earlier one of the same type: it then stands in the place (and the time) of that one, and the
 * earlier one is void, for good. A note that names an event takes it back without putting anything in its place. Nothing is
 * lost: void events stay in the entries, with what voided them. A correction that names nothing, or something later, or
 * something of another type, voids nothing, stands by itself, and is a finding.
 *
 * Items. What stands is grouped into items: one for each (type, station, key); the key is the rack, step, point, moved thing,
 * photo or part, else ""; moves are told apart by what is moved too, expenses by what they are for. An item keeps all its events in order; the last is what holds. Moves add up.
 *
 * Finished means: the last "finished" that stands comes after the last "opened". Work after it is a finding, unless the job was
 * opened again. Notes, corrections and expenses are no work. Times leave notes and expenses out and count each event in the place it stands. */
#ifndef PROOF_JOB_H
#define PROOF_JOB_H

#include "proof/event.h"

struct job_entry {
    const struct event *event; /* borrowed from the list */
    int64_t place_ms;          /* device time of the place it stands in */
    size_t
        root; /* the first event of its place, itself when it corrects nothing; both index entries */
    bool is_void, is_correction;
    size_t voided_by; /* index into entries when is_void; the first, when there are several */
};

struct job_item {
    enum event_type type;
    const char *station; /* NULL: the whole unit */
    const char *key;     /* never NULL */
    int64_t target;      /* of moves: enum event_target; of expenses: enum event_expense; else 0 */
    const size_t *entries;
    size_t n; /* >= 1; entries[n - 1] holds */
};

struct job_station {
    const char *id; /* NULL: what is about the whole unit; that one, if any, is the last */
    int64_t first_ms, last_ms;  /* EVENT_ABSENT when there are only notes and expenses */
    size_t first_item, n_items; /* its items stand side by side, in the order of types, then keys */
    size_t n_events;            /* that stand */
};

enum job_finding_kind {
    JOB_CORRECTS_UNKNOWN, /* names an event that is not in the list */
    JOB_CORRECTS_LATER,   /* names itself or a later one */
    JOB_CORRECTS_TYPE,    /* names an event of another type */
    JOB_CORRECTS_TWICE,   /* names one that another event has corrected already: both stand */
    JOB_ID_CONFLICT,      /* has the id of another event and differs from it: left out */
    JOB_CLOCK_BACK, /* made later (by its ULID) than another of the same technician, yet its clock shows an earlier time */
    JOB_WORK_AFTER, /* work after the job was finished */
    JOB_FINDING_N
};

struct job_finding {
    enum job_finding_kind kind;
    const struct event *event;
    const struct event *other; /* may be NULL */
};

enum { JOB_FINDINGS_MAX = 200 }; /* kept; further ones are counted */

struct job {
    struct job_entry *entries; /* in the order of time; each event once */
    size_t n_entries, n_void;
    size_t n_events; /* given, doubles too */
    struct job_item *items;
    size_t n_items;
    struct job_station *stations; /* in the order in which they were first worked on */
    size_t n_stations;
    int64_t first_ms, last_ms; /* of the work; EVENT_ABSENT when there is none */
    bool is_finished;
    int64_t finished_ms; /* EVENT_ABSENT unless is_finished */
    struct job_finding findings[JOB_FINDINGS_MAX];
    size_t n_findings;     /* kept */
    size_t n_all_findings; /* found */
    size_t *order;         /* what the items' entries point into */
};

/* job_replay: events[0..n), any order, which must outlive the job. Pure but for its memory: free with job_free (NULL is fine).
 * O(n log n). Errors: ERR_MEMORY, ERR_LIMIT (n > 2 EVENTS_MAX). */
MUST_USE enum err job_replay(const struct event *events, size_t n, struct job **ret);
void job_free(struct job *job);

/* job_item: NULL when there is none. station NULL and key NULL or "": the whole unit, no key. Of moves it finds adjusters, of
 * expenses travel; job_moved and job_expense find the others as well (part NULL: without one). O(stations + log items). */
const struct job_item *job_item(const struct job *job, enum event_type type, const char *station,
                                const char *key);
const struct job_item *job_moved(const struct job *job, enum event_target target,
                                 const char *station, const char *name);

const struct job_item *job_expense(const struct job *job, enum event_expense what,
                                   const char *station, const char *part);

/* job_latest: the event that holds for an item (NULL for NULL). job_reading: the latest reading of a point at any station. */
const struct event *job_latest(const struct job *job, const struct job_item *item);
const struct event *job_reading(const struct job *job, const char *point);

/* job_steps: the sum of an item's moves; 0 for other items and NULL. */
int64_t job_steps(const struct job *job, const struct job_item *item);

/* job_finding_name: "corrects-unknown" ... job_finding_text: a sentence without a closing full stop. */
const char *job_finding_name(enum job_finding_kind kind);
const char *job_finding_text(enum job_finding_kind kind);

/* job_write: the job as members of a JSON object that the caller has opened: "finished", "first_ms", "last_ms",
 * "finished_ms", "events", "corrected", "stations", "unit", "findings" (doc/proof.md). The same job gives the same bytes. */
void job_write(const struct job *job, struct jsonw *w);

#endif
