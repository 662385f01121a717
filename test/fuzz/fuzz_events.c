/* fuzz_events: the reader of events.json on any bytes, and the job it comes to.
 * Property: it either refuses with a code and a sentence, or gives a list that, written, reads back as the same list and is
 * written again to the same bytes; merged with itself it loses nothing; the job has each event once, its items hold exactly the
 * events that stand, and merging or giving the list twice changes no byte of it. The fast reader takes each event as it is written,
 * unless that holds an escape, and takes nothing of the bytes themselves that the other would not. */
#include "proof/job.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void must(bool holds)
{
    if (!holds)
        abort();
}

static void check_job(const struct job *job)
{
    size_t n_held = 0, n_void = 0, n_stations = 0;
    for (size_t i = 0; i < job->n_entries; i++) {
        n_void += job->entries[i].is_void;
        must(job->entries[i].root <= i &&
             (!job->entries[i].is_void || job->entries[i].voided_by > i));
    }
    for (size_t i = 0; i < job->n_items; i++) {
        const struct job_item *item = &job->items[i];
        must(item->n > 0);
        n_held += item->n;
        for (size_t k = 0; k < item->n; k++)
            must(!job->entries[item->entries[k]].is_void);
        const struct job_item *found =
            item->type == EVENT_MOVED
                ? job_moved(job, (enum event_target)item->target, item->station, item->key)
            : item->type == EVENT_EXPENSE_CLAIMED
                ? job_expense(job, (enum event_expense)item->target, item->station, item->key)
                : job_item(job, item->type, item->station, item->key);
        must(found == item && job_latest(job, item) != NULL);
    }
    for (size_t s = 0; s < job->n_stations; s++)
        n_stations += job->stations[s].n_items;
    must(n_void == job->n_void && n_held + n_void == job->n_entries && n_stations == job->n_items);
}

/* The job as text; aborts where it does not hold together. */
static struct text job_text_of(const struct event *events, size_t n)
{
    struct text t = {0};
    struct jsonw w;
    struct job *job = NULL;
    must(job_replay(events, n, &job) == ERR_OK);
    check_job(job);
    jsonw_start(&w, &t);
    jsonw_object(&w, NULL);
    job_write(job, &w);
    jsonw_object_end(&w);
    job_free(job);
    return t;
}

static bool is_same(const struct text *a, const struct text *b)
{
    return a->size == b->size && memcmp(a->data, b->data, a->size) == 0;
}

static void check_list(const struct event_list *list)
{
    struct text once = {0}, again = {0};
    struct event_list *back = NULL, *both = NULL;
    struct fault fault = {0};
    events_write(list, &once);
    must(events_read(once.data, once.size, "again", &back, &fault) == ERR_OK);
    events_write(back, &again);
    must(is_same(&once, &again) && back->n == list->n);
    for (size_t i = 0; i < list->n; i++)
        must(event_compare(&list->events[i], &back->events[i]) == 0);
    must(events_merge(list, back, &both, &fault) == ERR_OK && both->n <= list->n);
    struct text job = job_text_of(list->events, list->n),
                merged = job_text_of(both->events, both->n);
    must(is_same(&job, &merged));
    text_done(&once);
    text_done(&again);
    text_done(&job);
    text_done(&merged);
    events_free(back);
    events_free(both);
}

static void check_fast(const struct event *e)
{
    struct text one = {0};
    struct jsonw w;
    struct event_list *list = events_new();
    jsonw_start(&w, &one);
    event_write(e, &w, NULL);
    must(list != NULL && !one.is_broken);
    const enum err err = events_add_written(list, one.data, one.size);
    must(err == ERR_OK ? event_compare(&list->events[0], e) == 0
                       : err == ERR_SYNTAX && memchr(one.data, '\\', one.size) != NULL);
    events_free(list);
    text_done(&one);
}

/* The bytes as one event: what is taken is written, and read back, as the same. */
static void check_bytes(const char *data, size_t size)
{
    struct event_list *list = events_new();
    must(list != NULL);
    if (events_add_written(list, data, size) == ERR_OK)
        check_fast(&list->events[0]);
    events_free(list);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct event_list *list = NULL;
    struct fault fault = {0};
    const enum err e = events_read((const char *)data, size, "fuzz", &list, &fault);
    check_bytes((const char *)data, size);
    for (size_t i = 0; e == ERR_OK && i < list->n; i++)
        check_fast(&list->events[i]);
    if (e == ERR_OK)
        check_list(list);
    else
        must(list == NULL && fault.code == e && fault.message[0] != '\0');
    events_free(list);
    return 0;
}
