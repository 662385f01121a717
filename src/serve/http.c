/* http: owns the daemon, the life of a call from its first header to its last byte, the log and the counts. */
#include "serve/http.h"

#include "desk/campaign.h"
#include "serve/coming.h"
#include "serve/counts.h"
#include "serve/doors.h"
#include "serve/framing.h"
#include "serve/http_news.h"
#include "serve/lanes.h"
#include "serve/route.h"
#include "serve/shelf.h"
#include "serve/tasks.h"
#include "serve/warm.h"
#include "serve/watch.h"

#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <microhttpd.h>
#include <netinet/in.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <threads.h>
#include <time.h>
#include <unistd.h>

enum {
    STOP_WAIT_MS = 30000,
    CONNECTION_MEMORY = 64 * 1024,
    THREADS_MAX = 64,
    TICK_MS = 100,
    BODY_UNTOLD = HTTP_BODY_MAX /* whose size is not told */
};

struct http {
    struct http_settings settings;
    char files[512]; /* the folder of the store's files */
    struct MHD_Daemon *daemon;
    struct signin_guard *guard;
    struct doors *doors;
    struct campaign_boards *boards;
    struct news *news;
    struct shelf *shelf;
    struct lanes *lanes;
    struct warm *warm;
    struct tasks *tasks;
    struct watch *watch;
    thrd_t keeper; /* shuts down what is too slow, tidies */
    bool has_keeper;
    /* Stopping: nobody new comes, what is under way or comes by an open connection is done. Over: nothing long is begun. */
    atomic_bool is_stopping, is_over;
    int64_t started_ms;
    atomic_ullong n_ids;
    struct counts counts;
};

/* A call as http.c sees it: the handler's part first. */
struct life {
    struct http_call call;
    const struct route *route;
    struct MHD_Connection *wire;
    struct watch_wire *watched;                             /* NULL: not */
    char path[HTTP_PATH_MAX + 1], words[HTTP_PATH_MAX + 1]; /* as asked; cut into decoded parts */
    char token[SIGNIN_TOKEN_ROOM], where[64];
    int fd; /* of call.file */
    bool is_judged, is_run, is_answered;
    uint64_t n_in;
    struct timespec begun;
};

/* Libraries that only read ask for what they could write. */
static void *unconst(const void *p)
{
    void *q = NULL;
    memcpy(&q, &p, sizeof q);
    return q;
}

/* ---- what a call brings ------------------------------------------------------------------------- */

const char *http_query(const struct http_call *c, const char *name)
{
    return MHD_lookup_connection_value(c->connection, MHD_GET_ARGUMENT_KIND, name);
}

const char *http_header(const struct http_call *c, const char *name)
{
    return MHD_lookup_connection_value(c->connection, MHD_HEADER_KIND, name);
}

const struct http_settings *http_settings_of(const struct http *http)
{
    return &http->settings;
}

struct tasks *http_tasks_of(const struct http *http)
{
    return http->tasks;
}

struct campaign_boards *http_boards(struct http *http)
{
    return http->boards;
}

bool http_listen(struct http_call *c, int64_t after)
{
    c->listener = news_listen(c->http->news, after);
    return c->listener != NULL;
}

struct shelf *http_shelf_of(struct http *http)
{
    return http->shelf;
}

static void see_address(struct life *l)
{
    struct http_call *c = &l->call;
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(l->wire, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
    const struct sockaddr *a = info != NULL ? info->client_addr : NULL;
    if (a != NULL && a->sa_family == AF_INET)
        inet_ntop(AF_INET, &((const struct sockaddr_in *)(const void *)a)->sin_addr, l->where,
                  sizeof l->where);
    else if (a != NULL && a->sa_family == AF_INET6)
        inet_ntop(AF_INET6, &((const struct sockaddr_in6 *)(const void *)a)->sin6_addr, l->where,
                  sizeof l->where);
    c->is_https = c->http->settings.certificate != NULL;
    if (c->http->settings.is_behind_proxy) {
        const char *by = http_header(c, "X-Forwarded-For"),
                   *proto = http_header(c, "X-Forwarded-Proto");
        const char *last = by != NULL ? strrchr(by, ',') : NULL; /* what the proxy itself saw */
        last = last != NULL ? last + 1 : by;
        if (last != NULL)
            snprintf(l->where, sizeof l->where, "%.60s", last + strspn(last, " "));
        c->is_https = proto != NULL && strcmp(proto, "https") == 0;
    }
    c->address = l->where;
}

/* ---- judging: before a body is read ------------------------------------------------------------- */

static bool is_change(const char *method)
{
    return strcmp(method, "GET") != 0 && strcmp(method, "HEAD") != 0;
}

static void see_person(struct life *l)
{
    struct http_call *c = &l->call;
    struct fault f = {0};
    const char *cookie = MHD_lookup_connection_value(
        l->wire, MHD_COOKIE_KIND, c->is_https ? "__Host-mendwright" : "mendwright");
    if (cookie == NULL || strlen(cookie) >= sizeof l->token)
        return;
    c->door = doors_take(c->http->doors, &f);
    if (c->door == NULL || signin_who(c->door->signin, cookie, c->now_ms, &c->who, &f) != ERR_OK)
        http_problem_fault(c, &f);
    if (c->who.role == SIGNIN_NOBODY)
        return;
    snprintf(l->token, sizeof l->token, "%s", cookie);
    c->token = l->token;
}

static void judge_person(struct life *l)
{
    struct http_call *c = &l->call;
    const char *csrf = http_header(c, "X-Mendwright-Csrf");
    if (l->route->role == SIGNIN_NOBODY)
        return;
    if (c->who.role == SIGNIN_NOBODY)
        http_problem(c, 401, "sign-in", "sign in first");
    else if (c->who.role < l->route->role)
        http_problem(c, 403, "role", "this is for the role %s", signin_role_name(l->route->role));
    else if (is_change(c->method) && (csrf == NULL || !signin_csrf_holds(c->token, csrf)))
        http_problem(
            c, 403, "csrf",
            "the header X-Mendwright-Csrf is missing or wrong; read it from /api/v1/session");
}

/* The most that a call's body may have: what the route says, else (a bag) what the settings say. */
static uint64_t most(const struct life *l)
{
    return l->route->body == ROUTE_FILE && l->route->body_max == 0 ? l->call.http->settings.bag_max
                                                                   : l->route->body_max;
}

static void judge_body(struct life *l)
{
    struct http_call *c = &l->call;
    bool is_told = false;
    const uint64_t n = framing_size(c, &is_told), max = most(l);
    const char *type = http_header(c, "Content-Type");
    if (l->route->body == ROUTE_NO_BODY && n > 0)
        http_problem(c, 413, "too-large", "this call takes no body");
    else if (n > max)
        http_problem(c, 413, "too-large", "the body is larger than %llu bytes",
                     (unsigned long long)max);
    else if (l->route->body == ROUTE_JSON &&
             (type == NULL || strncmp(type, "application/json", 16) != 0))
        http_problem(c, 415, "type", "the body's Content-Type is not application/json");
    else if (l->route->body == ROUTE_FILE && !is_told)
        http_problem(c, 411, "length", "tell the size by Content-Length");
}

static void open_file(struct life *l)
{
    struct http_call *c = &l->call;
    _Static_assert(sizeof c->file >= COMING_ROOM, "a name of coming/ fits");
    l->fd = coming_open(c->http->files, c->file);
    if (l->fd < 0) {
        c->file[0] = '\0';
        http_problem(c, errno == ENOSPC ? 507 : 503, "failed", "the body cannot be stored now");
    }
}

/* Whether a problem was set; each judge may set one. */
static bool is_refused(const struct http_call *c)
{
    return c->status != 0;
}

static void judge(struct life *l)
{
    struct http_call *c = &l->call;
    char allow[64];
    l->is_judged = true;
    see_address(l);
    framing_judge(c);
    if (is_refused(c))
        return;
    if (!route_cut(l->path, l->words, c->parts, &c->n_parts)) {
        http_problem(c, 404, "path", "there is no such path");
        return;
    }
    l->route = route_find(c->method, c->parts, c->n_parts, c->args, allow);
    if (l->route == NULL && allow[0] == '\0' &&
        (c->n_parts == 0 || strcmp(c->parts[0], "api") != 0))
        l->route = is_change(c->method) ? NULL : &route_page;
    if (l->route == NULL && allow[0] != '\0') {
        http_problem(c, 405, "method", "this path takes %s", allow);
        http_add_header(c, "Allow", "%s", allow);
        return;
    }
    if (l->route == NULL) {
        http_problem(c, 404, "path", "there is no such path");
        return;
    }
    see_person(l);
    if (!is_refused(c))
        judge_person(l);
    if (!is_refused(c))
        judge_body(l);
    if (!is_refused(c) && l->route->body == ROUTE_FILE)
        open_file(l);
}

/* ---- reading a body ------------------------------------------------------------------------------- */

static void read_body(struct life *l, const char *bytes, size_t n)
{
    struct http_call *c = &l->call;
    l->n_in += n;
    if (c->status != 0)
        return;
    if (l->route->body == ROUTE_FILE) {
        if (l->n_in > most(l)) {
            http_problem(c, 413, "too-large", "the body is larger than %llu bytes",
                         (unsigned long long)most(l));
            return;
        }
        for (size_t at = 0; at < n;) {
            const ssize_t k = write(l->fd, bytes + at, n - at);
            if (k < 0 && errno == EINTR)
                continue;
            if (k < 0) {
                http_problem(c, errno == ENOSPC ? 507 : 503, "failed",
                             "the body cannot be stored now");
                return;
            }
            at += (size_t)k;
        }
        c->file_size = l->n_in;
        return;
    }
    if (l->n_in > l->route->body_max)
        http_problem(c, 413, "too-large", "the body is larger than %llu bytes",
                     (unsigned long long)l->route->body_max);
    else
        text_add(&c->body, bytes, n);
}

/* ---- answering -------------------------------------------------------------------------------------- */

static void add_headers(const struct life *l, struct MHD_Response *r)
{
    const struct http_call *c = &l->call;
    MHD_add_response_header(r, "Content-Security-Policy",
                            c->policy != NULL ? c->policy : http_policy);
    MHD_add_response_header(r, "X-Content-Type-Options", "nosniff");
    MHD_add_response_header(r, "X-Frame-Options",
                            c->policy == http_policy_framed ? "SAMEORIGIN" : "DENY");
    MHD_add_response_header(r, "Referrer-Policy", "no-referrer");
    MHD_add_response_header(r, "Cross-Origin-Opener-Policy", "same-origin");
    MHD_add_response_header(r, "Cross-Origin-Resource-Policy", "same-origin");
    MHD_add_response_header(r, "Permissions-Policy",
                            "camera=(self), geolocation=(), microphone=()");
    MHD_add_response_header(r, "X-Request-Id", c->id);
    if (c->is_https)
        MHD_add_response_header(r, "Strict-Transport-Security", "max-age=31536000");
    MHD_add_response_header(r, "Cache-Control",
                            c->may_keep ? "private, max-age=31536000, immutable" : "no-cache");
    if (c->etag[0] != '\0')
        MHD_add_response_header(r, "ETag", c->etag);
    if (c->type != NULL)
        MHD_add_response_header(r, "Content-Type", c->type);
    if (atomic_load(&c->http->is_stopping)) /* else who calls without pause would hold it up */
        MHD_add_response_header(r, "Connection", "close");
    for (int i = 0; i < c->n_headers; i++)
        MHD_add_response_header(r, c->headers[i].name, c->headers[i].value);
}

static struct MHD_Response *make_response(struct life *l, uint64_t *ret_n)
{
    struct http_call *c = &l->call;
    struct stat st;
    if (c->listener != NULL) {
        struct MHD_Response *r = news_response(c->listener, l->wire);
        if (r != NULL)
            c->listener = NULL; /* it goes away with the response */
        *ret_n = 0;
        return r;
    }
    if (c->answer_fd >= 0 && fstat(c->answer_fd, &st) == 0) {
        *ret_n = (uint64_t)st.st_size;
        struct MHD_Response *r = MHD_create_response_from_fd64(*ret_n, c->answer_fd);
        if (r != NULL)
            c->answer_fd = -1; /* microhttpd closes it */
        return r;
    }
    if (c->bytes != NULL) {
        *ret_n = c->n_bytes;
        return MHD_create_response_from_buffer(c->n_bytes, unconst(c->bytes),
                                               MHD_RESPMEM_PERSISTENT);
    }
    if (c->answer.is_broken) {
        text_done(&c->answer);
        c->status = 503;
        c->type = NULL;
    }
    *ret_n = c->answer.size;
    struct MHD_Response *r = MHD_create_response_from_buffer(
        c->answer.size, c->answer.data,
        c->answer.data != NULL ? MHD_RESPMEM_MUST_FREE : MHD_RESPMEM_PERSISTENT);
    if (r != NULL)
        c->answer = (struct text){0};
    return r;
}

static uint64_t micros_since(const struct timespec *then)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)((now.tv_sec - then->tv_sec) * 1000000 + (now.tv_nsec - then->tv_nsec) / 1000);
}

/* One line a call: who, what, how it went. The path stands without its query. */
static void log_call(const struct life *l, uint64_t n_out, uint64_t micros)
{
    const struct http_call *c = &l->call;
    const int fd = c->http->settings.log_fd;
    struct text line = {0};
    struct jsonw w;
    if (fd < 0)
        return;
    char path[HTTP_PATH_MAX + 1];
    route_told(l->route, l->path, path);
    jsonw_start(&w, &line);
    jsonw_object(&w, NULL);
    jsonw_int(&w, "at_ms", c->now_ms);
    jsonw_string(&w, "id", c->id);
    jsonw_string(&w, "from", c->address);
    jsonw_string(&w, "who", c->who.role != SIGNIN_NOBODY ? c->who.name : NULL);
    jsonw_string(&w, "method", c->method);
    jsonw_string(&w, "path", path);
    jsonw_int(&w, "status", c->status);
    jsonw_int(&w, "bytes_in", (int64_t)l->n_in);
    jsonw_int(&w, "bytes_out", (int64_t)n_out);
    jsonw_int(&w, "micros", (int64_t)micros);
    if (c->why[0] != '\0')
        jsonw_string(&w, "why", c->why);
    jsonw_object_end(&w);
    text_puts(&line, "\n");
    /* A log that cannot be written stops nobody's work. */
    const ssize_t n_written = line.is_broken ? 0 : write(fd, line.data, line.size);
    (void)n_written;
    text_done(&line);
}

static enum MHD_Result answer(struct life *l)
{
    struct http_call *c = &l->call;
    uint64_t n = 0;
    if (c->status == 0)
        c->status = 200;
    const int64_t listens_ms = c->listener != NULL ? NEWS_LIFE_MS : 0;
    struct MHD_Response *r = make_response(l, &n);
    if (r == NULL)
        return MHD_NO;
    add_headers(l, r);
    const enum MHD_Result result = MHD_queue_response(l->wire, (unsigned)c->status, r);
    MHD_destroy_response(r);
    l->is_answered = true;
    watch_until(l->watched, listens_ms + watch_stage_ms(c->http->settings.timeout_s, n));
    const uint64_t micros = micros_since(&l->begun);
    counts_call(&c->http->counts, c->status, l->n_in, n, micros);
    log_call(l, n, micros);
    return result;
}

/* ---- the life of a call --------------------------------------------------------------------------------- */

/* microhttpd calls this with the path before it takes the query off and decodes it: ours to decode. */
static void *begin(void *me, const char *uri, struct MHD_Connection *wire)
{
    struct http *h = me;
    struct life *l = calloc(1, sizeof *l);
    if (l == NULL)
        return NULL;
    clock_gettime(CLOCK_MONOTONIC, &l->begun);
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(wire, MHD_CONNECTION_INFO_SOCKET_CONTEXT);
    l->wire = wire;
    l->watched = info != NULL ? info->socket_context : NULL;
    l->fd = -1;
    l->call.http = h;
    l->call.connection = wire;
    l->call.answer_fd = -1;
    l->call.path = l->path;
    l->call.now_ms = h->settings.now_ms();
    const size_t n = strcspn(uri, "?");
    snprintf(l->path, sizeof l->path, "%.*s", n > HTTP_PATH_MAX ? 0 : (int)n, uri);
    snprintf(l->call.id, sizeof l->call.id, "%llx-%llx", (unsigned long long)h->started_ms,
             (unsigned long long)atomic_fetch_add(&h->n_ids, 1));
    atomic_fetch_add(&h->counts.n_open, 1);
    return l;
}

/* ---- running a handler ---- */

static void give_door(struct http_call *c)
{
    doors_give(c->http->doors, c->door);
    c->door = NULL;
}

static void run(struct life *l)
{
    struct http_call *c = &l->call;
    struct fault f = {0};
    l->is_run = true;
    if (c->door == NULL) /* else it is still held from looking who it is */
        c->door = doors_take(c->http->doors, &f);
    if (c->door == NULL)
        http_problem_fault(c, &f);
    else
        l->route->run(c);
    give_door(c);
}

/* Whether the server is about to end, which the caller is then told. */
static bool is_too_late(struct http_call *c)
{
    if (!atomic_load(&c->http->is_over))
        return false;
    http_problem(c, 503, "stopping", "the server stops; try again later");
    return true;
}

/* A job of a lane: the connection sleeps meanwhile, and l may be gone as soon as it wakes. */
static void run_aside(void *job)
{
    struct life *l = job;
    if (!is_too_late(&l->call))
        run(l);
    l->is_run = true;
    MHD_resume_connection(l->wire);
}

/* Puts the call into its lane. false: the lane is full or ended, a problem is set. */
static bool put_aside(struct life *l)
{
    struct http *h = l->call.http;
    struct lane *lane = lanes_of(h->lanes, l->route);
    if (!lane_reserve(lane)) {
        if (is_too_late(&l->call))
            return false;
        atomic_fetch_add(&h->counts.turned_away, 1);
        http_problem(&l->call, 503, "busy",
                     "too much is under way at once; try again in a few seconds");
        http_add_header(&l->call, "Retry-After", "%d", 2);
        return false;
    }
    MHD_suspend_connection(l->wire); /* before it can be woken */
    lane_put(lane, l);
    return true;
}

/* The head of a call is there. What only looks and brings no body is done at once, with the door by which its person was seen; its
 * answer waits for the next call of handle, because behind an answer that is given now microhttpd closes the connection. So it does
 * behind a refusal, before a byte of the body is taken. */
static enum MHD_Result handle_head(struct life *l, const char *method)
{
    struct http_call *c = &l->call;
    bool is_told = false;
    c->method = method;
    judge(l);
    const uint64_t n = framing_size(c, &is_told);
    const bool has_body = (is_told && n > 0) || http_header(c, "Transfer-Encoding") != NULL;
    watch_until(l->watched,
                has_body ? watch_stage_ms(c->http->settings.timeout_s, is_told ? n : BODY_UNTOLD)
                         : -1);
    if (!is_refused(c) && !has_body && !is_change(method) && !route_is_long(l->route))
        run(l);
    give_door(c);
    return is_refused(c) && has_body ? answer(l) : MHD_YES;
}

static enum MHD_Result handle(void *me, struct MHD_Connection *wire, const char *url,
                              const char *method, const char *version, const char *bytes, size_t *n,
                              void **state)
{
    struct life *l = *state;
    (void)me, (void)wire, (void)url, (void)version;
    if (l == NULL)
        return MHD_NO;
    if (!l->is_judged)
        return handle_head(l, method);
    if (*n > 0) {
        read_body(l, bytes, *n);
        *n = 0;
        return MHD_YES;
    }
    if (l->is_answered)
        return MHD_YES;
    if (l->is_run)
        return answer(l);
    watch_until(l->watched, -1);
    if (!is_refused(&l->call) && l->call.body.is_broken)
        http_problem(&l->call, 503, "failed", "memory ran out");
    if (!is_refused(&l->call) && (is_change(l->call.method) || route_is_long(l->route)) &&
        put_aside(l))
        return MHD_YES;
    if (!is_refused(&l->call))
        run(l);
    return answer(l);
}

static void end(void *me, struct MHD_Connection *wire, void **state,
                enum MHD_RequestTerminationCode code)
{
    struct http *h = me;
    struct life *l = *state;
    (void)wire;
    *state = NULL;
    if (l == NULL)
        return;
    /* Who falls silent is cut off by the library itself, sooner than by the keeper. */
    if (code == MHD_REQUEST_TERMINATED_TIMEOUT_REACHED)
        atomic_fetch_add(&h->counts.too_slow, 1);
    if (!l->is_answered)
        atomic_fetch_add(&h->counts.refused, 1);
    if (l->fd >= 0)
        close(l->fd);
    if (l->call.file[0] != '\0')
        unlink(l->call.file);
    if (l->call.answer_fd >= 0)
        close(l->call.answer_fd);
    if (l->call.listener != NULL)
        news_leave(l->call.listener);
    text_done(&l->call.body);
    text_done(&l->call.answer);
    watch_until(l->watched, (int64_t)h->settings.timeout_s * 1000); /* the next call's head */
    free(l);
    atomic_fetch_sub(&h->counts.n_open, 1);
}

/* A connection has come or is about to be closed. */
static void see_wire(void *me, struct MHD_Connection *wire, void **state,
                     enum MHD_ConnectionNotificationCode code)
{
    struct http *h = me;
    if (code == MHD_CONNECTION_NOTIFY_STARTED) {
        const union MHD_ConnectionInfo *info =
            MHD_get_connection_info(wire, MHD_CONNECTION_INFO_CONNECTION_FD);
        *state = info != NULL
                     ? watch_add(h->watch, info->connect_fd, (int64_t)h->settings.timeout_s * 1000)
                     : NULL;
        return;
    }
    watch_remove(h->watch, *state);
    *state = NULL;
}

/* The keeper's thread. */
static int keep(void *me)
{
    struct http *h = me;
    const struct timespec tick = {0, TICK_MS * 1000000L};
    int64_t since_ms = 0;
    while (!atomic_load(&h->is_over)) {
        nanosleep(&tick, NULL);
        atomic_fetch_add(&h->counts.too_slow, (unsigned)watch_reap(h->watch));
        since_ms += TICK_MS;
        if (since_ms >= (int64_t)h->settings.tidy_s * 1000) {
            coming_tidy(h->files, h->settings.now_ms());
            since_ms = 0;
        }
    }
    return 0;
}

/* ---- starting and stopping ---------------------------------------------------------------------------------- */

union address {
    struct sockaddr any;
    struct sockaddr_in four;
    struct sockaddr_in6 six;
};

static bool read_address(const struct http_settings *s, union address *ret)
{
    memset(ret, 0, sizeof *ret);
    if (inet_pton(AF_INET6, s->address, &ret->six.sin6_addr) == 1) {
        ret->six.sin6_family = AF_INET6;
        ret->six.sin6_port = htons(s->port);
        return true;
    }
    memset(ret, 0, sizeof *ret);
    ret->four.sin_family = AF_INET;
    ret->four.sin_port = htons(s->port);
    return inet_pton(AF_INET, s->address, &ret->four.sin_addr) == 1;
}

static enum err start_daemon(struct http *h, struct fault *f)
{
    const struct http_settings *s = &h->settings;
    union address a;
    struct MHD_OptionItem tls[3] = {
        {MHD_OPTION_END, 0, NULL}, {MHD_OPTION_END, 0, NULL}, {MHD_OPTION_END, 0, NULL}};
    unsigned flags = MHD_USE_EPOLL_INTERNAL_THREAD | MHD_USE_ITC | MHD_ALLOW_SUSPEND_RESUME;
    if (!read_address(s, &a))
        return fault_set(f, ERR_SYNTAX, "'%.60s' is no IP address", s->address);
    if (a.any.sa_family == AF_INET6)
        flags |= MHD_USE_IPv6;
    if (s->certificate != NULL) {
        flags |= MHD_USE_TLS;
        tls[0] = (struct MHD_OptionItem){MHD_OPTION_HTTPS_MEM_CERT, 0, unconst(s->certificate)};
        tls[1] = (struct MHD_OptionItem){MHD_OPTION_HTTPS_MEM_KEY, 0, unconst(s->key)};
    }
    errno = 0;
    h->daemon = MHD_start_daemon(
        flags, s->port, NULL, NULL, handle, h, MHD_OPTION_SOCK_ADDR, &a.any,
        MHD_OPTION_THREAD_POOL_SIZE, (unsigned)s->n_threads, MHD_OPTION_CONNECTION_LIMIT,
        (unsigned)s->connections_max, MHD_OPTION_PER_IP_CONNECTION_LIMIT,
        (unsigned)s->connections_one_max, MHD_OPTION_CONNECTION_TIMEOUT, (unsigned)s->timeout_s,
        MHD_OPTION_CONNECTION_MEMORY_LIMIT, (size_t)CONNECTION_MEMORY, MHD_OPTION_NOTIFY_COMPLETED,
        end, h, MHD_OPTION_URI_LOG_CALLBACK, begin, h, MHD_OPTION_NOTIFY_CONNECTION, see_wire, h,
        MHD_OPTION_STRICT_FOR_CLIENT, 1, MHD_OPTION_ARRAY, tls, MHD_OPTION_END);
    if (h->daemon == NULL && s->certificate != NULL && errno == 0)
        return fault_set(f, ERR_UNKNOWN, "certificate and key cannot be used");
    if (h->daemon == NULL)
        return fault_set(f, ERR_OPEN, "cannot listen on %.60s port %d: %s", s->address, s->port,
                         errno != 0 ? strerror(errno) : "refused");
    return ERR_OK;
}

/* What stands behind the daemon. */
static enum err make_parts(struct http *h, struct fault *f)
{
    const int n = h->settings.n_threads;
    h->guard = signin_guard_new();
    h->watch = watch_new();
    h->boards = campaign_boards_new();
    h->shelf = shelf_new();
    if (h->guard != NULL)
        h->doors = doors_new(h->settings.store, h->guard, n + lanes_threads(n) + 1);
    h->lanes = lanes_new(n, run_aside);
    h->tasks = tasks_new(h->settings.store, h->guard, h->settings.now_ms, h->settings.study,
                         h->settings.read_from);
    if (h->doors == NULL || h->watch == NULL || h->boards == NULL || h->lanes == NULL ||
        h->tasks == NULL || h->shelf == NULL)
        return fault_no_memory(f);
    /* A store that cannot be opened is told now, not to the first caller. */
    struct door *door = doors_take(h->doors, f);
    if (door == NULL)
        return f->code;
    snprintf(h->files, sizeof h->files, "%s", door->path);
    doors_give(h->doors, door);
    const enum err err = news_start(h->settings.store, &h->news, f);
    if (err != ERR_OK)
        return err;
    coming_tidy(h->files, h->settings.now_ms());
    h->warm = warm_start(h->doors, h->boards, h->started_ms);
    h->has_keeper = h->warm != NULL && thrd_create(&h->keeper, keep, h) == thrd_success;
    return h->has_keeper ? ERR_OK : fault_set(f, ERR_MEMORY, "no thread can be made");
}

enum err http_start(const struct http_settings *settings, struct http **ret, uint16_t *ret_port,
                    struct fault *reterr)
{
    struct http *h = calloc(1, sizeof *h);
    *ret = NULL;
    if (h == NULL)
        return fault_no_memory(reterr);
    h->settings = *settings;
    if (h->settings.n_threads > THREADS_MAX)
        h->settings.n_threads = THREADS_MAX;
    h->started_ms = settings->now_ms();
    enum err err = make_parts(h, reterr);
    if (err == ERR_OK)
        err = start_daemon(h, reterr);
    if (err != ERR_OK) {
        http_stop(h);
        return err;
    }
    const union MHD_DaemonInfo *info = MHD_get_daemon_info(h->daemon, MHD_DAEMON_INFO_BIND_PORT);
    *ret_port = info != NULL ? info->port : settings->port;
    *ret = h;
    return ERR_OK;
}

void http_stop(struct http *http)
{
    MHD_socket listening = MHD_INVALID_SOCKET;
    if (http == NULL)
        return;
    if (http->daemon != NULL) {
        const struct timespec little = {0, 20000000};
        atomic_store(&http->is_stopping, true);
        listening = MHD_quiesce_daemon(http->daemon);
        news_end(http->news); /* who only listens is not waited for */
        for (int waited = 0; atomic_load(&http->counts.n_open) > 0 && waited < STOP_WAIT_MS;
             waited += 20)
            nanosleep(&little, NULL);
    }
    atomic_store(&http->is_over, true);
    warm_stop(http->warm); /* whoever waits for it is told so */
    /* Wakes every connection that sleeps; microhttpd must not be stopped while one does. What a call may still ask for, one that was
     * read only now, is freed when microhttpd is stopped, no sooner. */
    lanes_end(http->lanes);
    tasks_end(http->tasks);
    if (http->has_keeper)
        thrd_join(http->keeper, NULL);
    if (http->daemon != NULL)
        MHD_stop_daemon(http->daemon);
    if (listening != MHD_INVALID_SOCKET)
        close(listening);
    lanes_free(http->lanes);
    tasks_free(http->tasks);
    news_free(http->news);
    campaign_boards_free(http->boards);
    doors_free(http->doors);
    signin_guard_free(http->guard);
    watch_free(http->watch);
    shelf_free(http->shelf);
    free(http);
}

bool http_add(struct http *http, int fd)
{
    struct sockaddr_in from = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    return MHD_add_connection(http->daemon, fd, (const struct sockaddr *)(const void *)&from,
                              sizeof from) == MHD_YES;
}

void http_counts(const struct http *http, struct http_counts *ret)
{
    struct http *h = unconst(http); /* reading an atomic wants it so */
    counts_tell(&h->counts, ret);
}
