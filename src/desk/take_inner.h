/* take_inner: what the files of taking in share behind desk/take.h: one bag on its way to a claim. */
#ifndef DESK_TAKE_INNER_H
#define DESK_TAKE_INNER_H

#include "desk/take.h"
#include "proof/event_pool.h"
#include "proof/job.h"

enum {
    TAKE_EVENTS_MAX = 16 * 1024 * 1024, /* bytes of events.json */
    TAKE_FINDINGS_MAX = 200,            /* told one by one; the rest as one number */
    TAKE_THREADS_MAX = 16
};
#define TAKE_FOLDER "data/"
#define TAKE_EVENTS TAKE_FOLDER "events.json"

struct take;

/* Where the bytes of one of the claim's photos come from. */
struct take_photo {
    struct take *take;
    const struct bag_file *file;
    struct text bytes; /* empty: not in memory */
    bool is_kept;      /* they stay in memory until the bag is done with */
};

struct take {
    struct store *store;
    const struct take_order *order;
    struct take_answer *answer;
    struct fault fault; /* why it cannot be finished */
    bool is_refused;    /* answer->fault says why */
    bool has_no_memory; /* a text is missing */
    struct bag *bag;
    struct event_list *events;
    struct job *job;
    struct event_pool *pool; /* texts of the claim */

    struct store_claim claim;
    struct store_station stations[STORE_STATIONS_MAX];
    struct store_reading *readings;
    struct store_photo *photos;
    struct take_photo *sources; /* one a photo */
    struct store_event *store_events;
    struct text json; /* the events' bytes, one after the other */
    struct store_finding findings[TAKE_FINDINGS_MAX + 1];
    size_t n_more_findings;
};

/* take_refuse: the bag is sound, its content is not: one of the kinds of take_answer, the file in the bag. Returns code, which is
 * never ERR_OK. */
enum err take_refuse(struct take *t, const char *kind, enum err code, const char *path,
                     const char *fmt, ...) PRINTF_LIKE(5, 6);

/* take_memory: memory ran out. */
enum err take_memory(struct take *t);

/* take_unreadable: what a file of the bag that cannot be read again comes to: a refusal, unless disk or memory failed. */
enum err take_unreadable(struct take *t, const char *path, const struct fault *f);

/* take_text: a printed text that lives as long as the claim; NULL when memory ran out. */
const char *take_text(struct take *t, const char *fmt, ...) PRINTF_LIKE(2, 3);

/* take_find: one finding more. station may be NULL. Its message is kept as it is; its cure is static. */
void take_find(struct take *t, const char *level, const char *station, const char *message,
               const char *cure);

/* take_claim: stations, readings, events and the head of the claim, from t->events, t->job and t->answer->bag. */
MUST_USE enum err take_claim(struct take *t);

/* take_photos: the claim's photos, looked at, and what is wrong with them as findings. */
MUST_USE enum err take_photos(struct take *t);

#endif
