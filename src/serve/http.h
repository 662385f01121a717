/* http: the server's door: owns libmicrohttpd, the threads, limits, and what every answer carries. What paths there are is route.h's
 * business, what they do their handlers'.
 *
 * A call is read whole before its handler runs: small bodies into memory, bags into a file below the store. Before the first byte of
 * a body is taken the route, the person, their role and the size are looked at, so that a stranger cannot make the server store
 * anything.
 *
 * What only looks is answered by the threads that hold the connections. What changes something, and so may wait for the disk or for
 * another writer, and what hashes a password, is done by threads of its own (lane.h), a few at a time; when too much waits there, the
 * call is turned away with 503 and Retry-After. So neither many sign-ins nor many bags keep a page waiting. Each stage of a call has an
 * end (watch.h): timeout_s for a whole head, and for a body or an answer twice that and a second for each KiB.
 *
 * Every answer carries: a strict content policy, no sniffing, no framing, no referrer, a request id. Errors are problem
 * details (RFC 9457). One JSON line a call goes to the log; no query, no cookie, no body. */
#ifndef SERVE_HTTP_H
#define SERVE_HTTP_H

#include "base/fault.h"
#include "base/jsonw.h"
#include "base/text.h"
#include "desk/door.h"
#include "desk/study_ask.h"

#include <stdbool.h>
#include <stdint.h>

enum {
    HTTP_PARTS_MAX = 8,          /* of a path */
    HTTP_PATH_MAX = 1024,        /* bytes */
    HTTP_BODY_MAX = 1024 * 1024, /* of a body in memory, unless the route says less */
    HTTP_HEADERS_MAX = 8,        /* that a handler adds */
    HTTP_HASHING_MAX = 16,       /* calls that hash a password, waiting and under way */
    HTTP_CHANGES_MAX = 64,       /* the same of those that change something */
    HTTP_FILES_MAX = 64,         /* the same of those that bring a file or take long */
    HTTP_SUMS_MAX = 1024         /* the same of those that ask for the campaign */
};

struct http_settings {
    const char *store;             /* the folder, or the address */
    const char *address;           /* "127.0.0.1", "::1", "0.0.0.0" ... */
    uint16_t port;                 /* 0: any that is free */
    int n_threads;                 /* 1..64 */
    int connections_max;           /* 1..100000 */
    int connections_one_max;       /* from one address; 0: no limit */
    int timeout_s;                 /* without a byte, and for a whole head */
    int tidy_s;                    /* between two looks for what is left over in coming/ */
    const char *certificate, *key; /* PEM texts; NULL: no TLS */
    bool
        is_behind_proxy; /* the person's address and https come by X-Forwarded-For, X-Forwarded-Proto */
    uint64_t bag_max;        /* bytes */
    uint64_t coming_max;     /* bytes of one person's unfinished bags */
    struct quota *quota;     /* borrowed; NULL: a shop may send what it likes */
    int log_fd;              /* -1: no log */
    int64_t (*now_ms)(void); /* the clock */
    study_ask_do *study;     /* answers studies; NULL: none are answered here */
    const char *read_from;   /* a standby that studies are read from; NULL: none */
};

struct http;

struct http_call {
    struct http *http;
    const char *method;
    const char *path;                  /* as it was asked, without its query */
    const char *parts[HTTP_PARTS_MAX]; /* of the path, decoded: "api", "v1", "claims" ... */
    int n_parts;
    const char *args[HTTP_PARTS_MAX]; /* what stands for the {} of the route, in order */
    const char *address;              /* where it came from */
    bool is_https;
    const char *token; /* of the session; NULL */
    struct signin_person who;
    struct door *door; /* a worker's own, for this call */
    struct text body;  /* in memory */
    char file
        [800]; /* or in this file (route->body is HTTP_FILE); removed afterwards unless a handler renames it */
    uint64_t file_size;
    int64_t now_ms;
    char id[32];                 /* of the call, in the log and in problems */
    char why[FAULT_MESSAGE_MAX]; /* what failed inside, for the log alone; "" */
    void *connection;            /* http.c's */

    /* the answer */
    int status;       /* 0: 200 */
    const char *type; /* "application/json" unless set; static */
    struct text answer;
    int answer_fd; /* -1; else a file that is sent in place of answer, closed afterwards */
    struct news_listener *listener; /* or a stream of news, by http_listen */
    const void *bytes;              /* static bytes in place of answer */
    size_t n_bytes;
    char etag[80];
    bool may_keep;      /* Cache-Control: it never changes */
    const char *policy; /* Content-Security-Policy in place of the pages'; static; NULL */
    struct {
        char name[40], value[400];
    } headers[HTTP_HEADERS_MAX];
    int n_headers;
};

/* http_query, http_header: NULL when there is none. Borrowed until the call is over. */
const char *http_query(const struct http_call *c, const char *name);
const char *http_header(const struct http_call *c, const char *name);
/* For policy above: what holds without one; of a page that shows another of ours in a frame; and of that one (policy.c). */
extern const char http_policy[], http_policy_framing[], http_policy_framed[];

void http_add_header(struct http_call *c, const char *name, const char *fmt, ...) PRINTF_LIKE(3, 4);

/* http_problem: makes the answer a problem (RFC 9457): type "urn:mendwright:problem:<kind>", title, status, detail; the request id as
 * "instance". http_problem_fault: the same with the place of a fault; its status follows from its code. */
void http_problem(struct http_call *c, int status, const char *kind, const char *fmt, ...)
    PRINTF_LIKE(4, 5);
void http_problem_fault(struct http_call *c, const struct fault *f);
/* http_empty: 204 when err is ERR_OK, else the fault's problem. */
void http_empty(struct http_call *c, enum err err, const struct fault *f);

/* http_problem_open: the same with further members, which the caller writes and ends by http_json_end (RFC 9457, 3.2). */
void http_problem_open(struct http_call *c, struct jsonw *w, int status, const char *kind,
                       const char *detail);

/* http_json: begins an object as the answer; http_json_end: ends it. */
void http_json(struct http_call *c, struct jsonw *w);
void http_json_end(struct jsonw *w);

/* http_etag: the answer's entity tag (quotes are added). http_is_match: whether If-None-Match names it (a handler then answers 304). http_if_match: ERR_OK when If-Match is
 * there and names it; else a problem is set: 428 (missing) or 412. */
void http_etag(struct http_call *c, const char *tag);
/* http_tagged: an answer that is written, with its tag; where the caller has it already it becomes 304 without a body. */
void http_tagged(struct http_call *c, const char *tag);
bool http_is_match(const struct http_call *c);
bool http_if_match(struct http_call *c, const char *tag);

/* http_session: sets (or with NULL takes away) the session's cookie. */
void http_session(struct http_call *c, const char *token);

/* http_listen: makes the answer a stream of news (http_news.h) of what the log holds after that entry; -1: from now on. false: too many
 * listen already. */
bool http_listen(struct http_call *c, int64_t after);

/* What was read of campaigns so far (desk/campaign.h), for every handler. */
struct campaign_boards;
struct campaign_boards *http_boards(struct http *http);

/* http_start: *ret_port: where it listens. Errors: ERR_OPEN (port, store), ERR_MEMORY, ERR_UNKNOWN (certificate). http_stop: takes no new calls, lets
 * those under way end (at most 30 s), frees everything. */
MUST_USE enum err http_start(const struct http_settings *settings, struct http **ret,
                             uint16_t *ret_port, struct fault *reterr);
void http_stop(struct http *http);

/* http_add: a connection that was made elsewhere; its socket is the server's from then on, also on failure. false: it was not taken. */
bool http_add(struct http *http, int fd);

const struct http_settings *http_settings_of(const struct http *http);
struct shelf;
struct shelf *http_shelf_of(struct http *http);

/* http_tasks_of: the long work of this server. */
struct tasks;
struct tasks *http_tasks_of(const struct http *http);

/* What is counted, for /metrics. */
struct http_counts {
    uint64_t calls, by_class[6], bytes_in, bytes_out, open, refused, turned_away, too_slow;
    uint64_t micro_sum, micro_buckets[12]; /* of the time a call took, up to 1 ms, 2, 5, 10, ... */
};
void http_counts(const struct http *http, struct http_counts *ret);

#endif
