/* take: owns the way of a bag into the store: checked, its photos on the disk first, then one
 * transaction. */
#include "store/inner.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { TRIES = 4 }; /* when someone tidies a photo away before the claim names it */

/* ---- checking ------------------------------------------------------------------------------ */

/* A station that a reading or photo names stands in the list of stations. */
static enum err check_station(const struct store_claim *c, const char *station, const char *what,
                              size_t i, struct fault *f)
{
    if (station == NULL || station[0] == '\0')
        return ERR_OK;
    for (size_t k = 0; k < c->n_stations; k++)
        if (strcmp(c->stations[k].station, station) == 0)
            return ERR_OK;
    snprintf(f->path, sizeof f->path, "%s[%zu].station", what, i);
    return fault_set(f, ERR_DOMAIN, "%.40s is not among the claim's stations", station);
}

static enum err check_stations(const struct store_claim *c, struct fault *f)
{
    enum err err = ERR_OK;
    for (size_t i = 1; i < c->n_stations; i++)
        for (size_t k = 0; k < i; k++)
            if (strcmp(c->stations[i].station, c->stations[k].station) == 0) {
                snprintf(f->path, sizeof f->path, "stations[%zu].station", i);
                return fault_set(f, ERR_DUPLICATE, "is the same as that of stations[%zu]", k);
            }
    for (size_t i = 0; i < c->n_readings && err == ERR_OK; i++)
        err = check_station(c, c->readings[i].station, "readings", i, f);
    for (size_t i = 0; i < c->n_photos && err == ERR_OK; i++)
        err = check_station(c, c->photos[i].station, "photos", i, f);
    return err;
}

static enum err check_event(const struct store_event *e, struct fault *f)
{
    struct ulid ulid;
    char name[ULID_TEXT_SIZE + 1];
    size_t at = 0, n = 0;
    if (e->ulid == NULL || ulid_parse(e->ulid, strlen(e->ulid), &ulid, &at) != ERR_OK)
        return fault_set(f, ERR_SYNTAX, "has no ULID as its name");
    ulid_show(&ulid, name);
    if (strcmp(name, e->ulid) != 0) /* one spelling, so that the same name is the same bytes */
        return fault_set(f, ERR_SYNTAX, "has a ULID in lower case as its name");
    if (e->type == NULL || e->type[0] == '\0')
        return fault_set(f, ERR_EMPTY, "has no type");
    n = strlen(e->type);
    if (n > STORE_ID_MAX || !text_is_utf8(e->type, n, NULL))
        return fault_set(f, ERR_LIMIT, "has a type that is too long or not UTF-8");
    if (strncmp(e->type, LOG_OURS, sizeof LOG_OURS - 1) == 0)
        return fault_set(f, ERR_DOMAIN, "has the type %.40s, which only the store itself writes",
                         e->type);
    if (e->n > STORE_EVENT_MAX)
        return fault_set(f, ERR_LIMIT, "is larger than %d bytes", STORE_EVENT_MAX);
    if (e->json == NULL)
        return fault_set(f, ERR_EMPTY, "has no content");
    struct json_doc *doc = NULL;
    enum err err = json_parse(e->json, e->n, "event", &doc, f);
    f->file[0] = '\0'; /* the place in the claim says more */
    if (err == ERR_OK && json_kind(json_root(doc)) != JSON_OBJECT)
        err = fault_set(f, ERR_TYPE, "is no JSON object");
    json_free(doc);
    return err;
}

static int compare_names(const void *a, const void *b)
{
    const char *const *x = a, *const *y = b;
    return strcmp(*x, *y);
}

static enum err check_events(const struct store_claim *c, struct fault *f)
{
    enum err err = c->n_events <= STORE_EVENTS_MAX
                       ? ERR_OK
                       : shape_too_many("events", c->n_events, STORE_EVENTS_MAX, f);
    if (err != ERR_OK)
        return err;
    const char **names = calloc(c->n_events + 1, sizeof *names);
    if (names == NULL)
        return fault_no_memory(f);
    for (size_t i = 0; i < c->n_events && err == ERR_OK; i++) {
        err = check_event(&c->events[i], f);
        if (err != ERR_OK)
            snprintf(f->path, sizeof f->path, "events[%zu]", i);
        names[i] = c->events[i].ulid;
    }
    if (err == ERR_OK)
        qsort(names, c->n_events, sizeof *names, compare_names);
    for (size_t i = 1; i < c->n_events && err == ERR_OK; i++)
        if (strcmp(names[i], names[i - 1]) == 0) {
            snprintf(f->path, sizeof f->path, "events");
            err = fault_set(f, ERR_DUPLICATE, "the event %s is there twice", names[i]);
        }
    free(names);
    return err;
}

/* What a claim says of its bulletin's file and of itself. */
static enum err check_head(const struct store_claim *c, struct fault *f)
{
    enum { DIGITS = 2 * STORE_DIGEST };
    const char *sum = c->bulletin_sha256;
    uint8_t bytes[STORE_DIGEST];
    if (sum != NULL && sum[0] != '\0' &&
        (strlen(sum) != DIGITS || !digest_unhex(sum, STORE_DIGEST, bytes))) {
        snprintf(f->path, sizeof f->path, "bulletin_sha256");
        return fault_set(f, ERR_SYNTAX, "found '%.70s'; expected %d hexadecimal digits", sum,
                         DIGITS);
    }
    if (c->is_invented != 0 && c->is_invented != 1 && c->is_invented != STORE_UNKNOWN) {
        snprintf(f->path, sizeof f->path, "is_invented");
        return fault_set(f, ERR_DOMAIN, "found %lld; expected 0 or 1", (long long)c->is_invented);
    }
    return ERR_OK;
}

static enum err check_claim(const struct store_claim *c, struct fault *f)
{
    enum err err = shape_check(&shape_claim, c, "", f);
    if (err == ERR_OK)
        err = check_head(c, f);
    if (err == ERR_OK)
        err = shape_check_list("stations", &shape_station, c->stations, c->n_stations,
                               STORE_STATIONS_MAX, f);
    if (err == ERR_OK)
        err = shape_check_list("readings", &shape_reading, c->readings, c->n_readings,
                               STORE_READINGS_MAX, f);
    if (err == ERR_OK)
        err = shape_check_list("photos", &shape_photo, c->photos, c->n_photos, STORE_PHOTOS_MAX, f);
    if (err == ERR_OK)
        err = shape_check_list("findings", &shape_finding, c->findings, c->n_findings,
                               STORE_FINDINGS_MAX, f);
    if (err == ERR_OK)
        err = check_stations(c, f);
    return err != ERR_OK ? err : check_events(c, f);
}

/* ---- photos -------------------------------------------------------------------------------- */

/* Which of a claim's photos are new files of this call. */
struct files_made {
    bool is_new[STORE_PHOTOS_MAX];
};

static enum err put_photos(struct store *s, struct store_claim *c, struct files_made *made,
                           struct fault *f)
{
    enum err err = ERR_OK;
    for (size_t i = 0; i < c->n_photos && err == ERR_OK; i++) {
        bool is_new = false;
        err = album_put(s->album, &c->photos[i], &is_new, f);
        made->is_new[i] |= is_new;
    }
    return err;
}

static enum err are_photos_there(const struct store *s, const struct store_claim *c, bool *ret,
                                 struct fault *f)
{
    enum err err = ERR_OK;
    *ret = true;
    for (size_t i = 0; i < c->n_photos && err == ERR_OK && *ret; i++) {
        const struct store_photo *p = &c->photos[i];
        err = album_has(s->album, p->sha256, p->ext, p->bytes, ret, f);
    }
    return err;
}

/* After a failure: takes away the files that this call made and that no claim names. Under the
 * right to write, so that nobody is just about to name them. As far as it goes: what is left is
 * found by `store verify` and removed by `store tidy`. */
static void take_back(struct store *s, const struct store_claim *c, const struct files_made *made)
{
    struct fault unused = {0};
    char name[FILES_PATH_MAX];
    bool has_any = false, is_gone = false;
    for (size_t i = 0; i < c->n_photos; i++)
        has_any |= made->is_new[i];
    if (!has_any || db_begin(s->db, &unused) != ERR_OK)
        return;
    for (size_t i = 0; i < c->n_photos; i++) {
        bool is_named = true;
        struct db_use u = db_use(s->db, "SELECT 1 FROM photo_files WHERE sha256 = ?");
        db_blob(&u, c->photos[i].sha256, STORE_DIGEST);
        if (made->is_new[i] && db_next(&u, &is_named, &unused) == ERR_OK && !is_named) {
            files_name(c->photos[i].sha256, c->photos[i].ext, name, sizeof name);
            (void)!album_remove(s->album, name, &is_gone, &unused);
        }
        db_rest(&u);
    }
    db_rollback(s->db);
}

/* ---- taking in ----------------------------------------------------------------------------- */

static enum err is_taken(struct store *s, const struct store_claim *c, const char *id, bool *ret,
                         struct fault *f)
{
    struct db_use u = db_use(s->db, "SELECT bag FROM claims WHERE claim = ?");
    size_t n = 0;
    db_text(&u, id);
    enum err err = db_next(&u, ret, f);
    if (err == ERR_OK && *ret) {
        const uint8_t *bag = db_col_blob(&u, 0, &n);
        if (n != STORE_DIGEST || memcmp(bag, c->bag, STORE_DIGEST) != 0)
            err = fault_set(f, ERR_DUPLICATE, "another bag has the same claim id %s", id);
    }
    db_rest(&u);
    return err;
}

static enum err append_claim(struct store *s, const struct store_claim *c, struct fault *f)
{
    struct log_end end;
    struct log_entry e = {0};
    enum err err = log_find_end(s->db, &end, f);
    if (err != ERR_OK)
        return err;
    memcpy(e.bag, c->bag, STORE_DIGEST);
    text_clear(&s->json);
    derive_claim_json(c, &s->json);
    err = store_append(s, &end, &e, LOG_CLAIM, c->taken_ms, f);
    for (size_t i = 0; i < c->n_events && err == ERR_OK; i++) {
        snprintf(e.ulid, sizeof e.ulid, "%s", c->events[i].ulid);
        e.type = c->events[i].type;
        e.n_type = strlen(e.type);
        e.json = c->events[i].json;
        e.n_json = c->events[i].n;
        err = log_append(s->db, s->digest, &end, &e, f);
        if (err != ERR_OK)
            snprintf(f->path, sizeof f->path, "events[%zu]", i);
    }
    return err;
}

/* One try at the transaction. *ret_gone: a photo was tidied away before it began. */
static enum err try_claim(struct store *s, const struct store_claim *c, const char *id,
                          bool *ret_already, bool *ret_gone, struct fault *f)
{
    bool are_there = true;
    enum err err = db_begin(s->db, f);
    if (err == ERR_OK)
        err = is_taken(s, c, id, ret_already, f);
    if (err == ERR_OK && !*ret_already)
        err = are_photos_there(s, c, &are_there, f);
    *ret_gone = err == ERR_OK && !are_there;
    if (err == ERR_OK && !*ret_already && !*ret_gone) {
        err = append_claim(s, c, f);
        if (err == ERR_OK)
            return db_commit(s->db, f);
    }
    db_rollback(s->db);
    return err;
}

static enum err take(struct store *s, struct store_claim *c, const char *id, bool *ret_already,
                     struct files_made *made, struct fault *f)
{
    bool is_gone = true;
    enum err err = is_taken(s, c, id, ret_already, f);
    if (err != ERR_OK || *ret_already)
        return err;
    for (int i = 0; i < TRIES && is_gone && err == ERR_OK; i++) {
        err = put_photos(s, c, made, f);
        if (err == ERR_OK)
            err = try_claim(s, c, id, ret_already, &is_gone, f);
    }
    return err == ERR_OK && is_gone
               ? fault_set(f, ERR_IO, "photos vanish from photos/ as fast as they are put there")
               : err;
}

enum err store_take(struct store *store, struct store_claim *claim, enum store_taken *ret_taken,
                    char ret_claim[STORE_CLAIM_SIZE + 1], struct fault *reterr)
{
    char id[STORE_CLAIM_SIZE + 1];
    bool is_already = false;
    struct files_made made = {0};
    enum err err = store_writable(store, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    err = check_claim(claim, reterr);
    if (err != ERR_OK)
        return err;
    store_claim_id(claim->bag, id);
    err = take(store, claim, id, &is_already, &made, reterr);
    if (err != ERR_OK || is_already)
        take_back(store, claim, &made);
    if (err == ERR_OK && is_already)
        err = db_confirm(store->db, reterr);
    if (err != ERR_OK)
        return reterr->path[0] == '\0' ? store_named(store, err, reterr) : err;
    *ret_taken = is_already ? STORE_ALREADY : STORE_TAKEN;
    if (ret_claim != NULL)
        memcpy(ret_claim, id, sizeof id);
    return ERR_OK;
}
