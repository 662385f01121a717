/* album_s3: owns the album that lies in an object store: what its photos are called there, when it is asked again, and what its refusals
 * mean to people. A put is whole or not at all, and durable when it is answered, by the protocol's own promise. */
#include "base/media.h"
#include "store/album_ops.h"
#include "store/s3.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

enum {
    TRIES = 4,
    TRIES_LOCKED = 2,     /* while the right to write is held and everybody waits */
    FIRST_PAUSE_MS = 100, /* then four times as long each time */
    PAUSE_GROWS = 4,
    SKEW_MAX_S = 15 * 60, /* what servers allow, by the protocol's documentation (from memory) */
    QUERY_MAX = 4 * S3_TOKEN_MAX
};

struct album_s3 {
    struct album album; /* first: what the ops are given points here */
    struct s3_http *http;
    struct place_s3 at;
};

static const struct album_s3 *of(const struct album *a)
{
    return (const struct album_s3 *)a;
}

/* ---- asking -------------------------------------------------------------------------------- */

/* Waits; a part of it is by chance, so that servers that were turned away together do not come back together. */
static void pause_for(int64_t ms)
{
    struct timespec now = {0};
    clock_gettime(CLOCK_MONOTONIC, &now);
    const int64_t wait_ms = ms / 2 + (now.tv_nsec / 1000 + getpid()) % (ms / 2 + 1);
    const struct timespec wait = {(time_t)(wait_ms / 1000), (long)(wait_ms % 1000) * 1000000};
    nanosleep(&wait, NULL);
}

/* An answer that is neither a yes nor a no, in words. */
static enum err refused(const struct album_s3 *s, const struct s3_answer *a, struct fault *f)
{
    const char *at = s->at.endpoint, *code = a->code;
    const bool is_late = a->has_skew && (a->skew_s > SKEW_MAX_S || a->skew_s < -SKEW_MAX_S);
    if (strcmp(code, "RequestTimeTooSkewed") == 0 || (a->status == 403 && is_late))
        return fault_set(f, ERR_IO,
                         "this machine's clock is %" PRId64 " s %s that of the object store at "
                         "%.150s, which therefore refuses it; set the clock",
                         a->skew_s < 0 ? -a->skew_s : a->skew_s,
                         a->skew_s < 0 ? "behind" : "ahead of", at);
    if (strcmp(code, "NoSuchBucket") == 0)
        return fault_set(f, ERR_IO, "there is no bucket %s in the object store at %.200s",
                         s->at.bucket, at);
    if (strcmp(code, "AuthorizationHeaderMalformed") == 0 || a->status == 301 || a->status == 307)
        return fault_set(f, ERR_IO,
                         "the object store at %.200s expects the bucket's own address or region, "
                         "not %s (s3_endpoint, s3_region)",
                         at, s->at.region);
    if (a->status == 401 || a->status == 403)
        return fault_set(f, ERR_IO,
                         "the object store at %.200s refuses the key%s%s; look at the key, its "
                         "secret, and what it may do in the bucket %s",
                         at, code[0] != '\0' ? ": " : "", code, s->at.bucket);
    if (a->status == 507)
        return fault_set(f, ERR_IO, "there is no room left in the object store at %.200s", at);
    return fault_set(f, ERR_IO, "the object store at %.200s answers %d%s%s", at, a->status,
                     code[0] != '\0' ? " " : "", code);
}

/* Asks until there is an answer of the server's own that will not pass by waiting. 200, 204 and 404 are for the caller to read; all else
 * is ERR_IO. */
static enum err ask(const struct album_s3 *s, const struct s3_call *call, int tries,
                    struct s3_answer *ret, struct fault *f)
{
    int64_t pause_ms = FIRST_PAUSE_MS;
    for (int i = 1;; i++, pause_ms *= PAUSE_GROWS) {
        const enum err err = s3_http_call(s->http, call, ret, f);
        if (err != ERR_OK && (!ret->may_pass || i >= tries))
            return err;
        if (err == ERR_OK && (!ret->may_pass || i >= tries))
            break;
        pause_for(pause_ms);
    }
    if (ret->status == 200 || ret->status == 204 ||
        (ret->status == 404 && strcmp(ret->code, "NoSuchBucket") != 0))
        return ERR_OK;
    return refused(s, ret, f);
}

/* "/BUCKET/PREFIX/photos/ab/cdef....EXT"; its room is enough by the bounds of place_s3. */
static void path_of(const struct album_s3 *s, const char *name, char buf[S3_PATH_MAX])
{
    snprintf(buf, S3_PATH_MAX, "/%s/%s%s%s", s->at.bucket, s->at.prefix,
             s->at.prefix[0] != '\0' ? "/" : "", name);
}

static void path_of_photo(const struct album_s3 *s, const uint8_t *sha256, const char *ext,
                          char buf[S3_PATH_MAX])
{
    char name[DIGEST_HEX_ROOM + 32];
    files_name(sha256, ext, name, sizeof name);
    path_of(s, name, buf);
}

/* ---- photos -------------------------------------------------------------------------------- */

/* The server is told the digest of what it is to get, and refuses anything else: what it has stored is what was meant. Never said to be
 * new: whether it was there would be one more question each time, asked only for the case that the claim is not taken; what is left then,
 * `store tidy` removes. */
static enum err s3_put(const struct album *a, struct store_photo *photo, bool *ret_new,
                       struct fault *f)
{
    const struct album_s3 *s = of(a);
    char path[S3_PATH_MAX], hex[DIGEST_HEX_ROOM];
    struct text bytes = {0};
    struct s3_answer answer;
    *ret_new = false;
    snprintf(f->path, sizeof f->path, "%s", photo->name);
    enum err err = files_gather(photo, &bytes, f);
    if (err == ERR_OK) {
        digest_hex(photo->sha256, STORE_DIGEST, hex);
        path_of_photo(s, photo->sha256, photo->ext, path);
        const struct s3_call call = {.method = S3_PUT,
                                     .path = path,
                                     .sha256 = hex,
                                     .body = bytes.data,
                                     .n_body = bytes.size,
                                     .type = media_of_photo(photo->ext)};
        err = ask(s, &call, TRIES, &answer, f);
        if (err == ERR_OK && answer.status != 200)
            err = refused(s, &answer, f);
    }
    text_done(&bytes);
    if (err == ERR_OK)
        f->path[0] = '\0';
    return err;
}

/* Asked inside the taker's transaction. */
static enum err s3_has(const struct album *a, const uint8_t *sha256, const char *ext, int64_t bytes,
                       bool *ret, struct fault *f)
{
    const struct album_s3 *s = of(a);
    char path[S3_PATH_MAX];
    struct s3_answer answer;
    path_of_photo(s, sha256, ext, path);
    const struct s3_call call = {.method = S3_HEAD, .path = path};
    const enum err err = ask(s, &call, TRIES_LOCKED, &answer, f);
    *ret = err == ERR_OK && answer.status == 200 && answer.bytes == bytes;
    return err;
}

static enum err s3_read(const struct album *a, const uint8_t *sha256, const char *ext, size_t max,
                        struct text *ret, struct fault *f)
{
    const struct album_s3 *s = of(a);
    char path[S3_PATH_MAX];
    struct s3_answer answer;
    path_of_photo(s, sha256, ext, path);
    const struct s3_call call = {.method = S3_GET, .path = path, .answer = ret, .answer_max = max};
    const enum err err = ask(s, &call, TRIES, &answer, f);
    if (err != ERR_OK)
        return err;
    if (answer.is_large)
        return fault_set(f, ERR_LIMIT, "the photo is larger than %zu bytes", max);
    return answer.status == 200
               ? ERR_OK
               : fault_set(f, ERR_OPEN, "the photo is missing from the object store");
}

static enum err s3_check(const struct album *a, const uint8_t *sha256, const char *ext,
                         int64_t bytes, struct fault *f)
{
    struct text photo = {0};
    enum err err = album_read(a, sha256, ext, STORE_PHOTO_MAX, &photo, f);
    if (err == ERR_LIMIT || (err == ERR_OK && photo.size != (uint64_t)bytes))
        err = fault_set(f, ERR_DOMAIN, "the photo was changed: it has another size");
    text_done(&photo);
    return err;
}

static enum err s3_remove(const struct album *a, const char *name, bool *ret_gone, struct fault *f)
{
    const struct album_s3 *s = of(a);
    char path[S3_PATH_MAX];
    struct s3_answer answer;
    path_of(s, name, path);
    const struct s3_call call = {.method = S3_DELETE, .path = path};
    const enum err err = ask(s, &call, TRIES_LOCKED, &answer, f);
    *ret_gone = err == ERR_OK && answer.status != 404;
    return err;
}

/* ---- the list ------------------------------------------------------------------------------ */

struct walking {
    files_see *see;
    void *me;
    size_t n_prefix; /* of a key, before "photos/" */
};

/* What is not named like a photo of ours is somebody else's: object stores have no folders to keep apart. */
static enum err see_key(void *me, const char *key, int64_t bytes, struct fault *f)
{
    struct walking *w = me;
    uint8_t sha256[STORE_DIGEST];
    char ext[FILES_EXT_MAX];
    if (strlen(key) <= w->n_prefix || !files_parse(key + w->n_prefix, sha256, ext))
        return ERR_OK;
    return w->see(w->me, key + w->n_prefix, sha256, ext, bytes, false, f);
}

/* A page of the list behind `token`, into page; n_most objects. */
static enum err ask_page(const struct album_s3 *s, const char *token, int n_most, struct text *page,
                         struct s3_answer *ret, struct fault *f)
{
    char prefix[3 * S3_PATH_MAX], behind[3 * S3_TOKEN_MAX], query[QUERY_MAX], path[S3_PATH_MAX];
    char name[S3_PATH_MAX];
    snprintf(name, sizeof name, "%s%sphotos/", s->at.prefix, s->at.prefix[0] != '\0' ? "/" : "");
    if (!s3_encode(name, prefix, sizeof prefix) || !s3_encode(token, behind, sizeof behind))
        return fault_set(f, ERR_IO, "the object store's list cannot be asked on");
    snprintf(query, sizeof query, "%s%s%slist-type=2&max-keys=%d&prefix=%s",
             token[0] != '\0' ? "continuation-token=" : "", behind, token[0] != '\0' ? "&" : "",
             n_most, prefix);
    snprintf(path, sizeof path, "/%s", s->at.bucket);
    const struct s3_call call = {
        .method = S3_GET, .path = path, .query = query, .answer = page, .answer_max = S3_LIST_MAX};
    const enum err err = ask(s, &call, TRIES, ret, f);
    if (err != ERR_OK)
        return err;
    if (ret->is_large)
        return fault_set(f, ERR_IO, "the object store's list is larger than %d MiB a page",
                         (int)(S3_LIST_MAX / 1048576));
    return ret->status == 200
               ? ERR_OK
               : fault_set(f, ERR_IO, "there is no bucket %s in the object store at %.200s",
                           s->at.bucket, s->at.endpoint);
}

static enum err s3_walk(const struct album *a, files_see *see, void *me, struct fault *f)
{
    enum { PAGE = 1000 };
    const struct album_s3 *s = of(a);
    struct walking w = {see, me, s->at.prefix[0] != '\0' ? strlen(s->at.prefix) + 1 : 0};
    char token[S3_TOKEN_MAX] = "", next[S3_TOKEN_MAX] = "";
    struct text page = {0};
    struct s3_answer answer;
    enum err err = ERR_OK;
    do {
        err = ask_page(s, token, PAGE, &page, &answer, f);
        if (err == ERR_OK)
            err = s3_list(page.data != NULL ? page.data : "", page.size, see_key, &w, next, f);
        if (err == ERR_SYNTAX || (err == ERR_OK && next[0] != '\0' && strcmp(token, next) == 0))
            err =
                fault_set(f, ERR_IO, "the object store at %.200s sends a list that cannot be read",
                          s->at.endpoint);
        memcpy(token, next, sizeof token);
    } while (err == ERR_OK && token[0] != '\0');
    text_done(&page);
    return err;
}

/* ---- looking ------------------------------------------------------------------------------- */

static enum err s3_look(const struct album *a, char *told, size_t room, struct fault *f)
{
    const struct album_s3 *s = of(a);
    struct text page = {0};
    struct s3_answer answer = {0};
    const enum err err = ask_page(s, "", 1, &page, &answer, f);
    text_done(&page);
    if (err == ERR_OK && answer.has_skew)
        snprintf(told, room,
                 "lie in the bucket %s at %.120s; its clock and ours differ by %" PRId64 " s",
                 s->at.bucket, s->at.endpoint, answer.skew_s < 0 ? -answer.skew_s : answer.skew_s);
    else if (err == ERR_OK)
        snprintf(told, room, "lie in the bucket %s at %.120s", s->at.bucket, s->at.endpoint);
    return err;
}

/* A bucket is its owner's to make, with its rights and its redundancy; here it must be there. */
static enum err s3_make(const struct album *a, struct fault *f)
{
    char unused[PLACE_ENDPOINT_MAX];
    return s3_look(a, unused, sizeof unused, f);
}

static void s3_close(struct album *a)
{
    struct album_s3 *s = (struct album_s3 *)a;
    s3_http_free(s->http);
    free(s);
}

enum err album_s3_open(const struct place_s3 *at, struct album **ret, struct fault *reterr)
{
    static const struct album_ops ops = {.make = s3_make,
                                         .put = s3_put,
                                         .has = s3_has,
                                         .read = s3_read,
                                         .check = s3_check,
                                         .walk = s3_walk,
                                         .remove = s3_remove,
                                         .look = s3_look,
                                         .close = s3_close};
    struct album_s3 *s = calloc(1, sizeof *s);
    if (s == NULL)
        return fault_no_memory(reterr);
    s->album.ops = &ops;
    s->at = *at;
    const enum err err = s3_http_new(at, &s->http, reterr);
    if (err == ERR_OK)
        *ret = &s->album;
    else
        s3_close(&s->album);
    return err;
}
