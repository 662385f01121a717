/* http_news: the stream of news (server-sent events; HTML Living Standard, 9.2): tells every listener that the log went on. Inside src/serve/.
 *
 * A listener costs a connection and no thread: its connection sleeps (suspended) until there is something to say. One thread looks at
 * the log's end while anybody listens, so what another process takes in is told as well. Nothing is queued for a slow listener: it
 * is told what came since the event that it got last, in one. A stream ends by itself after NEWS_LIFE_MS, so that the browser comes
 * again and who it is is looked at anew. */
#ifndef SERVE_HTTP_NEWS_H
#define SERVE_HTTP_NEWS_H

#include "base/fault.h"

#include <stdint.h>

enum {
    NEWS_LISTENERS_MAX = 400, /* below what one address may have of connections */
    NEWS_LOOK_MS = 300,       /* how often the log is looked at */
    NEWS_BEAT_MS = 15000,     /* a comment at least so often */
    NEWS_LIFE_MS = 10 * 60000
};

struct news;
struct news_listener;
struct MHD_Connection;
struct MHD_Response;

/* news_start: opens the store for reading on a thread of its own. Errors: the store's, ERR_MEMORY. news_end: every stream is ended, nobody
 * is let in; they still have their connections. news_free: once the daemon is stopped; NULL is fine. */
MUST_USE enum err news_start(const char *store, struct news **ret, struct fault *reterr);
void news_end(struct news *n);
void news_free(struct news *n);

/* news_listen: after: the last entry of the log that the listener knows of; -1: the present end. NULL: too many listen, or the server
 * stops. The listener goes away with its response, or by news_leave where there never is one. */
struct news_listener *news_listen(struct news *n, int64_t after);
struct MHD_Response *news_response(struct news_listener *l, struct MHD_Connection *wire);
void news_leave(struct news_listener *l);

#endif
