/* relay: owns what is said of open jobs and what is taken of them. */
#include "desk/relay.h"

#include "proof/event.h"
#include "store/jobs.h"
#include "store/store.h"

#include <assert.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static_assert((int)JOBS_CLAIM_SIZE == (int)STORE_CLAIM_SIZE &&
                  (int)JOBS_VIN_SIZE == (int)EVENT_VIN_SIZE &&
                  (int)JOBS_CODE_MAX == (int)EVENT_CODE_MAX,
              "what the box of jobs holds is what claims and events have");

static enum err no_job(struct fault *f)
{
    return fault_set(f, ERR_UNKNOWN, "there is no such job");
}

/* A ULID as it is written, in capitals. */
static bool read_ulid(const char *text, char ret[ULID_TEXT_SIZE + 1])
{
    struct ulid ulid;
    size_t at = 0;
    if (text == NULL || ulid_parse(text, strlen(text), &ulid, &at) != ERR_OK)
        return false;
    ulid_show(&ulid, ret);
    return true;
}

static bool read_digest(const char *hex, uint8_t ret[DIGEST_SHA256_SIZE])
{
    return strlen(hex) == (size_t)2 * DIGEST_SHA256_SIZE &&
           strspn(hex, "0123456789abcdef") == (size_t)2 * DIGEST_SHA256_SIZE &&
           digest_unhex(hex, DIGEST_SHA256_SIZE, ret);
}

static enum err find(const struct relay_order *o, struct jobs_row *ret, struct fault *f)
{
    char job[ULID_TEXT_SIZE + 1];
    bool is_found = false;
    if (!read_ulid(o->job, job))
        return no_job(f);
    const enum err err = jobs_find(o->jobs, o->shop, job, ret, &is_found, f);
    return err == ERR_OK && !is_found ? no_job(f) : err;
}

/* ---- telling ------------------------------------------------------------------------------------- */

static void write_head(struct jsonw *w, const struct jobs_row *row)
{
    jsonw_string(w, "job", row->head.job);
    jsonw_string(w, "vin", row->head.vin);
    jsonw_object(w, "bulletin");
    jsonw_string(w, "id", row->head.bulletin);
    jsonw_int(w, "revision", row->head.revision);
    jsonw_string(w, "sha256", row->head.bulletin_sha256);
    jsonw_object_end(w);
    jsonw_bool(w, "invented", row->head.is_invented);
    jsonw_int(w, "opened_ms", row->opened_ms);
    jsonw_int(w, "touched_ms", row->touched_ms);
    jsonw_string(w, "claim", row->claim[0] != '\0' ? row->claim : NULL);
}

struct listing {
    struct jobs *jobs;
    struct jsonw *w;
    struct fault *f;
    enum err err;
    char names[JOBS_PHONES_MAX][JOBS_NAME_MAX + 1]; /* of the present job's people */
    size_t n_names;
};

static bool see_name(void *me, const struct jobs_phone *phone)
{
    struct listing *l = me;
    for (size_t i = 0; i < l->n_names; i++)
        if (strcmp(l->names[i], phone->person) == 0)
            return true;
    if (l->n_names == JOBS_PHONES_MAX)
        return false;
    snprintf(l->names[l->n_names++], JOBS_NAME_MAX + 1, "%s", phone->person);
    jsonw_string(l->w, NULL, phone->person);
    return true;
}

static bool see_job(void *me, const struct jobs_row *row)
{
    struct listing *l = me;
    l->n_names = 0;
    jsonw_object(l->w, NULL);
    write_head(l->w, row);
    jsonw_int(l->w, "events", row->n_events);
    jsonw_array(l->w, "people");
    l->err = jobs_phones(l->jobs, row->key, see_name, l, l->f);
    jsonw_array_end(l->w);
    jsonw_object_end(l->w);
    return l->err == ERR_OK;
}

enum err relay_list(struct jobs *jobs, const char *shop, struct jsonw *w, struct fault *reterr)
{
    struct listing l = {.jobs = jobs, .w = w, .f = reterr};
    jsonw_array(w, "jobs");
    const enum err err = jobs_list(jobs, shop, see_job, &l, reterr);
    jsonw_array_end(w);
    return err != ERR_OK ? err : l.err;
}

static bool see_phone(void *me, const struct jobs_phone *phone)
{
    struct jsonw *w = me;
    jsonw_object(w, NULL);
    jsonw_string(w, "phone", phone->phone);
    jsonw_string(w, "person", phone->person);
    jsonw_int(w, "seen_ms", phone->seen_ms);
    jsonw_object_end(w);
    return true;
}

static bool see_photo(void *me, const uint8_t sha256[DIGEST_SHA256_SIZE])
{
    char hex[DIGEST_HEX_ROOM];
    digest_hex(sha256, DIGEST_SHA256_SIZE, hex);
    jsonw_string(me, NULL, hex);
    return true;
}

struct page {
    struct event_list *list;
    size_t bytes;
    int64_t next;
    bool has_more;
    enum err err;
};

/* What was kept is read by the program's own quick reader and written again: so nothing is told that is no event. */
static bool see_event(void *me, const struct jobs_event *e)
{
    struct page *p = me;
    if (p->list->n == RELAY_PAGE || (p->list->n > 0 && p->bytes + e->n > RELAY_PAGE_BYTES)) {
        p->has_more = true;
        return false;
    }
    p->err = events_add_written(p->list, e->json, e->n);
    p->bytes += e->n;
    p->next = e->seq;
    return p->err == ERR_OK;
}

static enum err write_events(const struct relay_order *o, const struct jobs_row *row,
                             struct jsonw *w, struct fault *f)
{
    struct page p = {.list = events_new(), .next = o->after};
    if (p.list == NULL)
        return fault_no_memory(f);
    enum err err = jobs_events(o->jobs, row->key, o->after, see_event, &p, f);
    if (err == ERR_OK && p.err != ERR_OK)
        err = fault_set(f, p.err == ERR_MEMORY ? ERR_MEMORY : ERR_IO,
                        "the event after number %lld cannot be read", (long long)p.next);
    jsonw_array(w, "events");
    for (size_t i = 0; i < p.list->n; i++)
        event_write(&p.list->events[i], w, NULL);
    jsonw_array_end(w);
    jsonw_int(w, "next", p.next);
    jsonw_bool(w, "more", p.has_more);
    events_free(p.list);
    return err;
}

enum err relay_phone(const struct relay_order *order, const char *text, struct fault *reterr)
{
    struct jobs_row row = {0};
    char phone[ULID_TEXT_SIZE + 1];
    if (!read_ulid(text, phone)) {
        snprintf(reterr->path, sizeof reterr->path, "phone");
        return fault_set(reterr, ERR_SYNTAX, "is no ULID");
    }
    const enum err err = find(order, &row, reterr);
    return err != ERR_OK
               ? err
               : jobs_phone(order->jobs, row.key, phone, order->person, order->now_ms, reterr);
}

enum err relay_tell(const struct relay_order *order, struct jsonw *w, char tag[RELAY_TAG_ROOM],
                    struct fault *reterr)
{
    struct jobs_row row = {0};
    enum err err = find(order, &row, reterr);
    if (err != ERR_OK)
        return err;
    /* Events are never taken away one by one, so this is another box than the phone knows: a backup that was put up again. */
    if (order->after > row.n_events)
        return fault_set(reterr, ERR_UNKNOWN,
                         "%lld events are here, fewer than the %lld that you have seen; send all "
                         "of yours again and ask from 0 on",
                         (long long)row.n_events, (long long)order->after);
    snprintf(tag, RELAY_TAG_ROOM, "%llx.%llx.%llx.%llx.%llx.%s", (long long)order->after,
             (long long)row.n_events, (long long)row.n_photos, (long long)row.seen_ms,
             (long long)row.n_unclaimed, row.claim);
    write_head(w, &row);
    jsonw_string(w, "claim_by", row.claim[0] != '\0' ? row.claim_by : NULL);
    if (row.claim[0] != '\0')
        jsonw_int(w, "claim_ms", row.claim_ms);
    else
        jsonw_null(w, "claim_ms");
    jsonw_int(w, "unclaimed", row.n_unclaimed);
    jsonw_array(w, "phones");
    err = jobs_phones(order->jobs, row.key, see_phone, w, reterr);
    jsonw_array_end(w);
    jsonw_array(w, "photos");
    if (err == ERR_OK)
        err = jobs_photos(order->jobs, row.key, see_photo, w, reterr);
    jsonw_array_end(w);
    return err != ERR_OK ? err : write_events(order, &row, w, reterr);
}

/* ---- taking -------------------------------------------------------------------------------------- */

/* The events as they are kept: canonical bytes, one after the other in `all`. */
struct batch {
    struct text all;
    size_t *ends;
    struct jobs_event *events;
    size_t n;
};

static void batch_done(struct batch *b)
{
    text_done(&b->all);
    free(b->ends);
    free(b->events);
}

static enum err make_batch(const struct event_list *list, struct batch *b, struct fault *f)
{
    b->n = list->n;
    b->events = calloc(list->n, sizeof *b->events);
    b->ends = calloc(list->n, sizeof *b->ends);
    for (size_t i = 0; b->events != NULL && b->ends != NULL && i < list->n; i++) {
        const struct event *e = &list->events[i];
        struct jsonw w;
        jsonw_start(&w, &b->all);
        event_write(e, &w, NULL);
        b->ends[i] = b->all.size;
        ulid_show(&e->id, b->events[i].ulid);
        b->events[i].has_photo = e->type == EVENT_PHOTO_TAKEN &&
                                 read_digest(e->as.photo_taken.sha256, b->events[i].photo);
    }
    if (b->events == NULL || b->ends == NULL || b->all.is_broken)
        return fault_no_memory(f);
    for (size_t i = 0; i < list->n; i++) { /* the text has stopped growing */
        const size_t begin = i > 0 ? b->ends[i - 1] : 0;
        b->events[i].json = b->all.data + begin;
        b->events[i].n = b->ends[i] - begin;
    }
    return ERR_OK;
}

/* Whether every event is the shop's; *ret_opened: the one that names the job is among them. */
static enum err judge(const struct relay_order *o, const struct event_list *list, const char *job,
                      bool *ret_opened, struct fault *f)
{
    char ulid[ULID_TEXT_SIZE + 1];
    for (size_t i = 0; i < list->n; i++) {
        const struct event *e = &list->events[i];
        if (strcmp(e->shop, o->shop) != 0) {
            snprintf(f->path, sizeof f->path, "events[%zu].shop", i);
            return fault_set(f, ERR_DOMAIN, "is \"%s\"; expected \"%s\", your own", e->shop,
                             o->shop);
        }
        ulid_show(&e->id, ulid);
        if (e->type == EVENT_OPENED && strcmp(ulid, job) == 0)
            *ret_opened = true;
    }
    return ERR_OK;
}

static void head_of(const struct event_list *list, const char *job, struct jobs_head *ret)
{
    *ret = (struct jobs_head){.revision = list->revision, .is_invented = list->is_invented};
    snprintf(ret->job, sizeof ret->job, "%s", job);
    snprintf(ret->vin, sizeof ret->vin, "%s", list->vin);
    snprintf(ret->bulletin, sizeof ret->bulletin, "%s", list->bulletin_id);
    snprintf(ret->bulletin_sha256, sizeof ret->bulletin_sha256, "%s", list->bulletin_sha256);
}

static enum err add(const struct relay_order *o, const struct event_list *list, const char *job,
                    size_t *ret_added, struct fault *f)
{
    struct batch b = {0};
    struct jobs_head head;
    bool has_opened = false;
    enum err err = judge(o, list, job, &has_opened, f);
    head_of(list, job, &head);
    if (err == ERR_OK)
        err = make_batch(list, &b, f);
    if (err == ERR_OK)
        err = jobs_add(o->jobs, o->shop, &head, has_opened, b.events, b.n, o->now_ms, ret_added, f);
    batch_done(&b);
    return err;
}

enum err relay_add(const struct relay_order *order, const char *text, size_t n, struct jsonw *w,
                   bool *ret_made, struct fault *reterr)
{
    struct event_list *list = NULL;
    struct jobs_row row = {0};
    char job[ULID_TEXT_SIZE + 1];
    size_t n_added = 0;
    bool was_there = false;
    *ret_made = false;
    if (!read_ulid(order->job, job))
        return no_job(reterr);
    enum err err = events_read(text, n, "body", &list, reterr);
    if (err != ERR_OK && err != ERR_MEMORY)
        err = reterr->code = ERR_SYNTAX; /* an unknown word in a file is no unknown job */
    if (err == ERR_OK)
        err = jobs_find(order->jobs, order->shop, job, &row, &was_there, reterr);
    if (err == ERR_OK)
        err = add(order, list, job, &n_added, reterr);
    events_free(list);
    if (err == ERR_OK)
        err = find(order, &row, reterr);
    if (err != ERR_OK)
        return err;
    *ret_made = !was_there;
    jsonw_string(w, "job", row.head.job);
    jsonw_int(w, "added", (int64_t)n_added);
    jsonw_int(w, "events", row.n_events);
    return ERR_OK;
}

/* ---- photos -------------------------------------------------------------------------------------- */

/* The file's bytes, at most a photo's; free *ret. */
static enum err read_file(int fd, uint8_t **ret, size_t *ret_n, struct fault *f)
{
    const off_t size = lseek(fd, 0, SEEK_END);
    *ret = NULL;
    *ret_n = 0;
    if (size > JOBS_PHOTO_MAX)
        return fault_set(f, ERR_LIMIT, "the photo is larger than %d MiB",
                         (int)(JOBS_PHOTO_MAX / 1048576));
    if (size <= 0)
        return fault_set(f, ERR_EMPTY, "the photo has no bytes");
    *ret = malloc((size_t)size);
    if (*ret == NULL)
        return fault_no_memory(f);
    while (*ret_n < (size_t)size) {
        const ssize_t k = pread(fd, *ret + *ret_n, (size_t)size - *ret_n, (off_t)*ret_n);
        if (k < 0 && errno == EINTR)
            continue;
        if (k <= 0)
            return fault_set(f, ERR_IO, "what was sent cannot be read back");
        *ret_n += (size_t)k;
    }
    return ERR_OK;
}

static enum err check_sum(const uint8_t *bytes, size_t n, const uint8_t *sha256, struct fault *f)
{
    uint8_t sum[DIGEST_SHA256_SIZE];
    if (digest_bytes(DIGEST_SHA256, bytes, n, sum) != ERR_OK)
        return fault_no_memory(f);
    return memcmp(sum, sha256, sizeof sum) == 0
               ? ERR_OK
               : fault_set(f, ERR_DOMAIN, "the bytes have another SHA-256 than the path says");
}

enum err relay_photo_put(const struct relay_order *order, const char *hex, int fd, bool *ret_new,
                         struct fault *reterr)
{
    uint8_t sha256[DIGEST_SHA256_SIZE], *bytes = NULL;
    char job[ULID_TEXT_SIZE + 1];
    size_t n = 0;
    *ret_new = false;
    if (!read_digest(hex, sha256) || !read_ulid(order->job, job))
        return no_job(reterr);
    enum err err = read_file(fd, &bytes, &n, reterr);
    if (err == ERR_OK)
        err = check_sum(bytes, n, sha256, reterr);
    if (err == ERR_OK)
        err = jobs_photo_put(order->jobs, order->shop, job, sha256, bytes, n, order->now_ms,
                             ret_new, reterr);
    free(bytes);
    return err;
}

enum err relay_photo(const struct relay_order *order, const char *hex, char **ret, size_t *ret_n,
                     const char **ret_kind, struct fault *reterr)
{
    uint8_t sha256[DIGEST_SHA256_SIZE];
    char job[ULID_TEXT_SIZE + 1];
    *ret = NULL;
    if (!read_digest(hex, sha256) || !read_ulid(order->job, job))
        return fault_set(reterr, ERR_UNKNOWN, "there is no such photo");
    return jobs_photo_get(order->jobs, order->shop, job, sha256, ret, ret_n, ret_kind, reterr);
}

/* ---- claims -------------------------------------------------------------------------------------- */

struct claimed {
    char (*ulids)[ULID_TEXT_SIZE + 1];
    size_t n, room;
    char shop[JOBS_NAME_MAX + 1], opened[ULID_TEXT_SIZE + 1];
    bool is_short; /* of memory */
};

static bool see_claim(void *me, const char *id, const struct store_claim *claim)
{
    struct claimed *c = me;
    (void)id;
    snprintf(c->shop, sizeof c->shop, "%s", claim->shop != NULL ? claim->shop : "");
    snprintf(c->opened, sizeof c->opened, "%s", claim->job != NULL ? claim->job : "");
    return true;
}

static bool see_ulid(void *me, const struct store_event *event)
{
    struct claimed *c = me;
    if (c->n == c->room) {
        const size_t room = c->room > 0 ? 2 * c->room : 256;
        char(*more)[ULID_TEXT_SIZE + 1] = realloc(c->ulids, room * sizeof *more);
        c->is_short = more == NULL;
        if (more == NULL)
            return false;
        c->ulids = more;
        c->room = room;
    }
    snprintf(c->ulids[c->n++], ULID_TEXT_SIZE + 1, "%s", event->ulid);
    return true;
}

enum err relay_claimed(struct store *store, struct jobs *jobs, const char *claim, const char *by,
                       int64_t now_ms, struct fault *reterr)
{
    struct claimed c = {0};
    enum err err = store_claims(store, claim, see_claim, &c, reterr);
    if (err == ERR_OK)
        err = store_events(store, claim, see_ulid, &c, reterr);
    if (err == ERR_OK && c.is_short)
        err = fault_no_memory(reterr);
    if (err == ERR_OK)
        err = jobs_claimed(jobs, c.shop, c.opened, claim, by,
                           (const char(*)[ULID_TEXT_SIZE + 1]) c.ulids, c.n, now_ms, reterr);
    free(c.ulids);
    return err;
}
