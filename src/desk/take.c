/* take: owns the way of a bag to a claim: verified, named by its content, refused or put into the store. What of the job stands in
 * the claim is take_claim.c's, its photos take_photos.c's. */
#include "desk/take_inner.h"

#include "proof/bag_path.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- what the files of taking in share ------------------------------------------------------- */

enum err take_refuse(struct take *t, const char *kind, enum err code, const char *path,
                     const char *fmt, ...)
{
    char message[FAULT_MESSAGE_MAX];
    va_list ap;
    va_start(ap, fmt);
    vsnprintf(message, sizeof message, fmt, ap);
    va_end(ap);
    t->is_refused = true;
    t->answer->kind = kind;
    t->answer->fault = (struct fault){0};
    snprintf(t->answer->fault.file, sizeof t->answer->fault.file, "%s", path);
    return fault_set(&t->answer->fault, code, "%s", message);
}

enum err take_memory(struct take *t)
{
    return fault_no_memory(&t->fault);
}

enum err take_unreadable(struct take *t, const char *path, const struct fault *f)
{
    if (f->code != ERR_IO && f->code != ERR_MEMORY)
        return take_refuse(t, "changed", f->code, path, "changed while it was taken in: it %s",
                           f->message);
    t->fault = *f;
    snprintf(t->fault.path, sizeof t->fault.path, "%.*s", FAULT_PATH_MAX - 1, path);
    return f->code;
}

const char *take_text(struct take *t, const char *fmt, ...)
{
    char text[STORE_TEXT_MAX + 1];
    va_list ap;
    va_start(ap, fmt);
    vsnprintf(text, sizeof text, fmt, ap);
    va_end(ap);
    const char *copy = event_pool_text(t->pool, text, strlen(text));
    if (copy == NULL)
        t->has_no_memory = true;
    return copy;
}

void take_find(struct take *t, const char *level, const char *station, const char *message,
               const char *cure)
{
    struct store_claim *c = &t->claim;
    if (c->n_findings == TAKE_FINDINGS_MAX) {
        t->n_more_findings++;
        return;
    }
    t->findings[c->n_findings++] = (struct store_finding){
        .rule = "bag", .level = level, .station = station, .message = message, .cure = cure};
}

static void find_rest(struct take *t)
{
    if (t->n_more_findings > 0)
        t->findings[t->claim.n_findings++] = (struct store_finding){
            .rule = "bag",
            .level = "ask",
            .message =
                take_text(t, "%zu more findings of this kind were not kept", t->n_more_findings),
            .cure = "Look into the bag itself."};
}

/* ---- which claim ----------------------------------------------------------------------------- */

/* The lines of a manifest of the payload (RFC 8493, 2.1.3), sorted by path: encoded as there, so that a line feed in a name cannot
 * pass for another file. */
static enum err name_claim(struct take *t)
{
    struct digest *d = NULL;
    struct text line = {0};
    enum err err = digest_new(DIGEST_SHA256, &d);
    for (size_t i = 0; err == ERR_OK && i < bag_n_files(t->bag); i++) {
        const struct bag_file *file = bag_file_at(t->bag, i);
        char hex[DIGEST_HEX_ROOM];
        if (!bag_path_is_payload(file->path))
            continue;
        digest_hex(bag_file_sha256(file), DIGEST_SHA256_SIZE, hex);
        text_clear(&line);
        text_printf(&line, "%s  ", hex);
        bag_path_encode(file->path, &line);
        text_putc(&line, '\n');
        if (line.is_broken)
            err = ERR_MEMORY;
        else
            digest_add(d, line.data, line.size);
    }
    if (err == ERR_OK)
        err = digest_end(d, t->claim.bag);
    digest_free(d);
    text_done(&line);
    if (err != ERR_OK)
        return fault_set(&t->fault, err == ERR_MEMORY ? err : ERR_IO, "the bag cannot be named: %s",
                         err_text(err));
    store_claim_id(t->claim.bag, t->answer->claim);
    return ERR_OK;
}

static void tell(struct take *t, const struct store_claim *c)
{
    snprintf(t->answer->job, sizeof t->answer->job, "%s", c->job != NULL ? c->job : "");
    snprintf(t->answer->vin, sizeof t->answer->vin, "%s", c->vin);
    snprintf(t->answer->signature, sizeof t->answer->signature, "%s",
             c->signature != NULL ? c->signature : "");
    t->answer->n_photos = c->n_photos;
    t->answer->n_findings = c->n_findings;
}

static bool see_claim(void *me, const char *id, const struct store_claim *claim)
{
    struct take *t = me;
    (void)id;
    if (memcmp(claim->bag, t->claim.bag, STORE_DIGEST) == 0) {
        t->answer->result = TAKE_ALREADY;
        tell(t, claim);
    }
    return false;
}

/* ---- from the bag to the job ----------------------------------------------------------------- */

static enum err check_text(struct take *t, const struct bag_file *file, const struct text *text)
{
    uint8_t sum[DIGEST_SHA256_SIZE];
    const enum err err =
        digest_bytes(DIGEST_SHA256, text->data != NULL ? text->data : "", text->size, sum);
    if (err != ERR_OK)
        return fault_set(&t->fault, err == ERR_MEMORY ? err : ERR_IO, "%s", err_text(err));
    return memcmp(sum, bag_file_sha256(file), sizeof sum) == 0
               ? ERR_OK
               : take_refuse(t, "changed", ERR_DOMAIN, file->path, "changed while it was taken in");
}

static enum err parse(struct take *t, const struct text *text)
{
    struct fault f = {0};
    enum err err =
        events_read(text->data != NULL ? text->data : "", text->size, TAKE_EVENTS, &t->events, &f);
    if (err == ERR_MEMORY)
        return take_memory(t);
    if (err != ERR_OK) {
        t->is_refused = true;
        t->answer->kind = "events";
        t->answer->fault = f;
        return err;
    }
    err = job_replay(t->events->events, t->events->n, &t->job);
    return err == ERR_OK ? err : take_memory(t);
}

static enum err read_job(struct take *t)
{
    const struct bag_file *file = bag_file_find(t->bag, TAKE_EVENTS);
    struct text text = {0};
    struct fault f = {0};
    if (file == NULL)
        return take_refuse(t, "no-job", ERR_EMPTY, "",
                           "the bag is sound, but it holds no " TAKE_EVENTS
                           ": it is not the proof of a job");
    if (file->size > TAKE_EVENTS_MAX)
        return take_refuse(t, "events", ERR_LIMIT, TAKE_EVENTS,
                           "has %llu bytes; expected at most %d", (unsigned long long)file->size,
                           (int)TAKE_EVENTS_MAX);
    enum err err = bag_file_text(t->bag, file, TAKE_EVENTS_MAX, &text, &f);
    if (err != ERR_OK)
        err = take_unreadable(t, TAKE_EVENTS, &f);
    if (err == ERR_OK)
        err = check_text(t, file, &text);
    if (err == ERR_OK)
        err = parse(t, &text);
    text_done(&text);
    return err;
}

/* ---- into the store -------------------------------------------------------------------------- */

static enum err put(struct take *t)
{
    enum store_taken taken = STORE_TAKEN;
    struct fault f = {0};
    const enum err err = store_take(t->store, &t->claim, &taken, t->answer->claim, &f);
    if (err == ERR_OK) {
        t->answer->result = taken == STORE_TAKEN ? TAKE_TAKEN : TAKE_ALREADY;
        tell(t, &t->claim);
        return ERR_OK;
    }
    if (t->is_refused ||
        t->fault.code != ERR_OK) /* a photo could not be read again: said already */
        return err;
    if (err == ERR_IO || err == ERR_MEMORY) {
        t->fault = f;
        return err;
    }
    t->is_refused = true;
    t->answer->kind = "claim";
    t->answer->fault = f;
    return err;
}

/* Who sends may send for their own shop alone. */
static enum err check_shop(struct take *t)
{
    const char *own = t->order->shop, *found = t->claim.shop;
    if (own == NULL || (found != NULL && strcmp(own, found) == 0))
        return ERR_OK;
    return take_refuse(t, "shop", ERR_DENIED, TAKE_EVENTS,
                       "is the work of shop %.64s, not of %.64s",
                       found != NULL ? found : "(none named)", own);
}

static enum err build(struct take *t)
{
    t->claim.findings = t->findings;
    t->pool = event_pool_new();
    enum err err = t->pool == NULL ? take_memory(t) : read_job(t);
    if (err == ERR_OK)
        err = take_claim(t);
    if (err == ERR_OK)
        err = check_shop(t);
    if (err == ERR_OK)
        err = take_photos(t);
    if (err != ERR_OK)
        return err;
    find_rest(t);
    return t->has_no_memory ? take_memory(t) : put(t);
}

static enum err run(struct take *t)
{
    const struct bag_result *bag = &t->answer->bag;
    enum err err = bag_open(t->order->path, t->order->limits, t->order->ring, &t->bag,
                            &t->answer->bag, &t->fault);
    if (err != ERR_OK)
        return err;
    t->answer->result = TAKE_REFUSED;
    if (!bag->is_valid || bag->signature == BAG_SIGNATURE_BAD)
        return ERR_OK;
    err = name_claim(t);
    if (err == ERR_OK)
        err = store_claims(t->store, t->answer->claim, see_claim, t, &t->fault);
    if (err == ERR_OK && t->answer->result != TAKE_ALREADY)
        err = build(t);
    if (t->is_refused) {
        t->answer->result = TAKE_REFUSED;
        t->answer->claim[0] = '\0';
        return ERR_OK;
    }
    return err;
}

static void done(struct take *t)
{
    for (size_t i = 0; t->sources != NULL && i < t->claim.n_photos; i++)
        text_done(&t->sources[i].bytes);
    free(t->sources);
    free(t->photos);
    free(t->readings);
    free(t->store_events);
    text_done(&t->json);
    event_pool_free(t->pool);
    job_free(t->job);
    events_free(t->events);
    bag_close(t->bag);
}

enum err take_bag(struct store *store, const struct take_order *order, struct take_answer *ret,
                  struct fault *reterr)
{
    *ret = (struct take_answer){.result = TAKE_REFUSED};
    struct take *t = calloc(1, sizeof *t);
    if (t == NULL)
        return fault_no_memory(reterr);
    t->store = store;
    t->order = order;
    t->answer = ret;
    const enum err err = run(t);
    if (err != ERR_OK) {
        *reterr = t->fault;
        ret->claim[0] = '\0';
    }
    done(t);
    free(t);
    return err;
}

void take_answer_done(struct take_answer *answer)
{
    bag_result_done(&answer->bag);
}

const char *take_result_name(enum take_result r)
{
    static const char *const names[] = {
        [TAKE_TAKEN] = "taken", [TAKE_ALREADY] = "already", [TAKE_REFUSED] = "refused"};
    return names[r];
}
