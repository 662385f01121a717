/* api_bags: owns the way of a bag from a phone into the store: whole, or in pieces that go on where they broke off.
 *
 * PUT /api/v1/bags/{sha256}: the zip's bytes; {sha256} is theirs. With "Content-Range: bytes a-b/all" it is a piece (a partial PUT, RFC 9110,
 * 14.5): the first begins at 0, each further one where the last ended, or 409 tells where that is. GET tells how far it has come. What
 * has come lies in the store's folder coming/ (coming.h), by person and digest, until it is whole and taken in. Sent again, it is "already". */
#include "serve/api.h"

#include "base/digest.h"
#include "desk/papers.h"
#include "desk/relay.h"
#include "desk/take.h"
#include "serve/coming.h"
#include "serve/quota.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { PIECE = 64 * 1024 };

static bool is_digest(const char *text)
{
    return strlen(text) == 64 && strspn(text, "0123456789abcdef") == 64;
}

static void part_path(const struct http_call *c, char path[COMING_ROOM])
{
    coming_path(c->door->path, c->who.name, c->args[0], path);
}

static uint64_t size_of(const char *path)
{
    struct stat st;
    return stat(path, &st) == 0 && st.st_size > 0 ? (uint64_t)st.st_size : 0;
}

void api_bag_get(struct http_call *c)
{
    struct jsonw w;
    char path[COMING_ROOM];
    if (!is_digest(c->args[0])) {
        http_problem(c, 404, "digest",
                     "a bag is named by the 64 hexadecimal digits of its SHA-256");
        return;
    }
    part_path(c, path);
    http_json(c, &w);
    jsonw_string(&w, "sha256", c->args[0]);
    jsonw_int(&w, "received", (int64_t)size_of(path));
    http_json_end(&w);
}

/* ---- pieces ------------------------------------------------------------------------------------- */

struct range {
    uint64_t first, last, all;
};

/* "bytes a-b/all"; false: something else. */
static bool read_range(const char *text, struct range *ret)
{
    uint64_t *const to[3] = {&ret->first, &ret->last, &ret->all};
    static const char after[3] = {'-', '/', '\0'};
    if (strncmp(text, "bytes ", 6) != 0)
        return false;
    text += 6;
    for (int i = 0; i < 3; i++) {
        char *end = NULL;
        errno = 0;
        if (*text < '0' || *text > '9')
            return false;
        *to[i] = strtoull(text, &end, 10);
        if (errno != 0 || *end != after[i])
            return false;
        text = end + (after[i] != '\0');
    }
    return ret->first <= ret->last && ret->last < ret->all;
}

static bool copy(int from, int to)
{
    char buf[PIECE];
    ssize_t n = 0;
    while ((n = read(from, buf, sizeof buf)) > 0)
        for (ssize_t at = 0; at < n;) {
            const ssize_t k = write(to, buf + at, (size_t)(n - at));
            if (k < 0 && errno != EINTR)
                return false;
            at += k > 0 ? k : 0;
        }
    return n == 0;
}

/* Adds the call's file to what has come, at the place it belongs to: a phone that sends a piece once more while the first try is still
 * under way writes the same bytes to the same place. false: a problem is set. */
static bool append(struct http_call *c, const char *path, uint64_t was)
{
    const int from = open(c->file, O_RDONLY | O_CLOEXEC),
              to = open(path, O_WRONLY | O_CREAT | O_CLOEXEC, 0600);
    bool is_good =
        from >= 0 && to >= 0 && lseek(to, (off_t)was, SEEK_SET) == (off_t)was && copy(from, to);
    const int number = errno;
    if (!is_good && to >= 0 && ftruncate(to, (off_t)was) != 0)
        unlink(path); /* a piece that is half there would spoil the rest */
    if (from >= 0)
        close(from);
    if (to >= 0)
        is_good &= close(to) == 0;
    if (!is_good)
        http_problem(c, number == ENOSPC ? 507 : 503, "failed", "the piece cannot be stored now");
    return is_good;
}

/* ---- taking in ------------------------------------------------------------------------------------ */

static bool is_right(struct http_call *c, const char *path)
{
    uint8_t sum[DIGEST_SHA256_SIZE];
    char hex[2 * DIGEST_SHA256_SIZE + 1] = "";
    struct fault f = {0};
    const int fd = open(path, O_RDONLY | O_CLOEXEC);
    const bool is_read = fd >= 0 && digest_fd(DIGEST_SHA256, fd, http_settings_of(c->http)->bag_max,
                                              sum, NULL, &f) == ERR_OK;
    if (fd >= 0)
        close(fd);
    if (is_read)
        digest_hex(sum, sizeof sum, hex);
    if (is_read && strcmp(hex, c->args[0]) == 0)
        return true;
    if (!is_read)
        http_problem(c, 503, "failed", "what was sent cannot be read back");
    else
        http_problem(c, 422, "digest",
                     "the bytes have the SHA-256 %s, not %s; send it again from the start", hex,
                     c->args[0]);
    return false;
}

static void tell_refused(struct http_call *c, const struct take_answer *a)
{
    const char *why = a->fault.message[0] != '\0' ? a->fault.message : "the bag is not valid";
    if (a->bag.n_faults > 0)
        http_problem(c, 422, bag_kind_word(a->bag.faults[0].kind), "%s%s%s", a->bag.faults[0].path,
                     a->bag.faults[0].path[0] != '\0' ? ": " : "", a->bag.faults[0].message);
    else
        http_problem(c, a->kind != NULL && strcmp(a->kind, "shop") == 0 ? 403 : 422,
                     a->kind != NULL ? a->kind : "refused", "%s", why);
}

static void tell_taken(struct http_call *c, const struct take_answer *a)
{
    struct jsonw w;
    http_json(c, &w);
    jsonw_string(&w, "result", take_result_name(a->result));
    jsonw_string(&w, "claim", a->claim);
    jsonw_string(&w, "job", a->job);
    jsonw_string(&w, "vin", a->vin);
    jsonw_int(&w, "photos", (int64_t)a->n_photos);
    jsonw_int(&w, "findings", (int64_t)a->n_findings);
    http_json_end(&w);
    c->status = a->result == TAKE_TAKEN ? 201 : 200;
    http_add_header(c, "Location", "/api/v1/claims/%s", a->claim);
}

static void take(struct http_call *c, const char *path)
{
    struct fault f = {0};
    struct keyring ring = {0};
    struct take_answer a = {0};
    struct take_order order = {.path = path,
                               .ring = &ring,
                               .now_ms = c->now_ms,
                               .n_threads = 1,
                               .shop = c->who.role == SIGNIN_TECHNICIAN ? c->who.shop : NULL};
    enum err err = papers_ring(c->door->store, &ring, &f);
    if (err == ERR_OK)
        err = take_bag(c->door->store, &order, &a, &f);
    if (err != ERR_OK)
        http_problem_fault(c, &f);
    else if (a.result == TAKE_REFUSED)
        tell_refused(c, &a);
    else {
        if (a.result == TAKE_TAKEN && order.shop != NULL)
            quota_claim(http_settings_of(c->http)->quota, order.shop, c->now_ms);
        /* Before it is acknowledged: a phone that hears of a failure sends the bag again and marks it then. */
        err = relay_claimed(c->door->store, c->door->jobs, a.claim, c->who.name, c->now_ms, &f);
        if (err == ERR_OK)
            tell_taken(c, &a);
        else
            http_problem_fault(c, &f);
    }
    take_answer_done(&a);
    keyring_done(&ring);
}

static void put_piece(struct http_call *c, const char *text)
{
    struct range r = {0};
    struct jsonw w;
    char path[COMING_ROOM];
    if (!read_range(text, &r) || r.last - r.first + 1 != c->file_size ||
        r.all > http_settings_of(c->http)->bag_max) {
        http_problem(c, 400, "range",
                     "Content-Range must be 'bytes FIRST-LAST/ALL' and fit the body of %llu bytes",
                     (unsigned long long)c->file_size);
        return;
    }
    part_path(c, path);
    const uint64_t was = size_of(path);
    if (r.first != was && r.first != 0) {
        http_problem(c, 409, "range", "%llu bytes have come; go on from there",
                     (unsigned long long)was);
        http_add_header(c, "X-Mendwright-Received", "%llu", (unsigned long long)was);
        return;
    }
    if (r.first == 0 && was != 0)
        unlink(path); /* begun anew */
    coming_make_room(c->door->path, c->who.name, c->args[0], r.all,
                     http_settings_of(c->http)->coming_max);
    if (!append(c, path, r.first))
        return;
    if (r.last + 1 == r.all) {
        if (is_right(c, path))
            take(c, path);
        if (c->status < 500)
            unlink(path); /* taken in, or never will be; else it can be tried again */
        return;
    }
    http_json(c, &w);
    jsonw_string(&w, "sha256", c->args[0]);
    jsonw_int(&w, "received", (int64_t)(r.last + 1));
    http_json_end(&w);
    c->status = 202;
}

/* Whether the shop may send so much more today; false: a problem is set. */
static bool is_within(struct http_call *c)
{
    int64_t wait_s = 0;
    if (c->who.role != SIGNIN_TECHNICIAN ||
        quota_bytes(http_settings_of(c->http)->quota, c->who.shop, c->file_size, c->now_ms,
                    &wait_s))
        return true;
    http_problem(c, 429, "quota",
                 "the shop has sent as much as it may in a day; what is on the phone stays there "
                 "and goes tomorrow (UTC)");
    http_add_header(c, "Retry-After", "%lld", (long long)wait_s);
    return false;
}

void api_bag_put(struct http_call *c)
{
    const char *range = http_header(c, "Content-Range");
    if (!is_digest(c->args[0]))
        http_problem(c, 404, "digest",
                     "a bag is named by the 64 hexadecimal digits of its SHA-256");
    else if (c->file_size == 0)
        http_problem(c, 400, "empty", "the body is empty");
    else if (!is_within(c))
        return;
    else if (range != NULL)
        put_piece(c, range);
    else if (is_right(c, c->file))
        take(c, c->file);
}
