/* http_news: owns the listeners, the thread that looks at the log, and the bytes of an event.
 *
 * Locks: the daemon holds a response's own lock while it asks for bytes (read_on) and none when it gives the response up (gone); `lock`
 * is taken inside both, and the daemon's lists are touched (suspend, resume) under it. So a connection is resumed only while its
 * listener is in the list, and it leaves the list before it goes away. */
#include "serve/http_news.h"

#include "desk/newest.h"

#include <microhttpd.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <threads.h>
#include <time.h>

enum { EVENT_ROOM = 256, BLOCK = 512 };

struct news_listener {
    struct news *news;
    struct news_listener *next;
    struct MHD_Connection *wire;
    bool sleeps, wants_beat, has_begun;
    int64_t seq;   /* told up to; -1: from the next look on */
    int64_t until; /* the clock at which it ends */
    char out[EVENT_ROOM];
    size_t n_out, at; /* bytes of out; sent */
};

struct news {
    mtx_t lock;
    cnd_t wake;
    thrd_t thread;
    bool has_thread, stops;
    struct newest *newest;
    struct news_listener *first;
    int n_listeners;
    int64_t seq;     /* of the log, as last looked at */
    bool has_failed; /* the last look: the next one waits */
    bool is_stale; /* nobody listened, so nobody looked; who comes first waits for the next look */
};

static int64_t clock_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

/* ---- the thread ---------------------------------------------------------------------------- */

static void rouse(struct news_listener *l)
{
    if (!l->sleeps)
        return;
    l->sleeps = false;
    MHD_resume_connection(l->wire);
}

/* Waits until somebody listens, then for the time of a look. */
static void wait_a_little(struct news *n)
{
    struct timespec t;
    while (n->first == NULL && !n->stops) {
        n->is_stale = true;
        cnd_wait(&n->wake, &n->lock);
    }
    if (n->stops || (n->is_stale && !n->has_failed))
        return;
    timespec_get(&t, TIME_UTC);
    t.tv_nsec += (long)NEWS_LOOK_MS * 1000000;
    if (t.tv_nsec >= 1000000000) {
        t.tv_sec++;
        t.tv_nsec -= 1000000000;
    }
    cnd_timedwait(&n->wake, &n->lock, &t);
}

static int look_on(void *me)
{
    struct news *n = me;
    int64_t beat = clock_ms();
    mtx_lock(&n->lock);
    while (!n->stops) {
        int64_t seq = 0;
        struct fault f = {0};
        wait_a_little(n);
        if (n->stops)
            break;
        /* The store is this thread's own; nobody waits for the disk. A failed look is tried again. */
        mtx_unlock(&n->lock);
        const bool is_good = newest_seq(n->newest, &seq, &f) == ERR_OK;
        const int64_t now = clock_ms();
        mtx_lock(&n->lock);
        const bool is_news = is_good && (seq > n->seq || n->is_stale),
                   is_beat = now - beat >= NEWS_BEAT_MS;
        n->has_failed = !is_good;
        n->is_stale = n->is_stale && !is_good;
        if (is_news)
            n->seq = seq;
        if (is_beat)
            beat = now;
        for (struct news_listener *l = n->first; l != NULL; l = l->next) {
            l->wants_beat |= is_beat;
            if (is_news || is_beat || now >= l->until)
                rouse(l);
        }
    }
    mtx_unlock(&n->lock);
    return 0;
}

/* ---- a listener ---------------------------------------------------------------------------- */

/* The next bytes to say, if any. */
static void say(struct news_listener *l)
{
    int size = 0;
    l->n_out = l->at = 0;
    if (!l->has_begun && l->news->is_stale)
        return;
    if (l->seq < 0)
        l->seq = l->news->seq;
    if (!l->has_begun)
        size = snprintf(l->out, sizeof l->out,
                        "retry: 2000\nid: %lld\nevent: here\ndata: {\"seq\":%lld}\n\n",
                        (long long)l->seq, (long long)l->seq);
    else if (l->news->seq > l->seq)
        size = snprintf(l->out, sizeof l->out,
                        "id: %lld\nevent: news\ndata: {\"seq\":%lld,\"since\":%lld}\n\n",
                        (long long)l->news->seq, (long long)l->news->seq, (long long)l->seq);
    else if (l->wants_beat)
        size = snprintf(l->out, sizeof l->out, ": still here\n\n");
    if (l->has_begun && l->news->seq > l->seq)
        l->seq = l->news->seq;
    l->has_begun = true;
    l->wants_beat = false;
    l->n_out = size > 0 ? (size_t)size : 0;
}

/* The daemon asks for bytes: some, none for now (and the connection sleeps), or the end. */
static ssize_t read_on(void *me, uint64_t pos, char *buf, size_t max)
{
    struct news_listener *l = me;
    struct news *n = l->news;
    (void)pos;
    mtx_lock(&n->lock);
    if (l->at == l->n_out)
        say(l);
    size_t size = l->n_out - l->at;
    if (size > max)
        size = max;
    memcpy(buf, l->out + l->at, size);
    l->at += size;
    const bool is_over = size == 0 && (n->stops || clock_ms() >= l->until);
    if (size == 0 && !is_over) {
        l->sleeps = true;
        MHD_suspend_connection(l->wire);
    }
    mtx_unlock(&n->lock);
    return is_over ? MHD_CONTENT_READER_END_OF_STREAM : (ssize_t)size;
}

static void gone(void *me)
{
    news_leave(me);
}

void news_leave(struct news_listener *l)
{
    struct news *n = l->news;
    mtx_lock(&n->lock);
    struct news_listener **p = &n->first;
    while (*p != NULL && *p != l)
        p = &(*p)->next;
    if (*p != NULL) {
        *p = l->next;
        n->n_listeners--;
    }
    mtx_unlock(&n->lock);
    free(l);
}

struct news_listener *news_listen(struct news *n, int64_t after)
{
    struct news_listener *l = calloc(1, sizeof *l);
    if (l == NULL)
        return NULL;
    mtx_lock(&n->lock);
    const bool is_full = n->n_listeners >= NEWS_LISTENERS_MAX || n->stops;
    if (!is_full) {
        *l = (struct news_listener){
            .news = n, .next = n->first, .seq = after, .until = clock_ms() + NEWS_LIFE_MS};
        n->first = l;
        n->n_listeners++;
        cnd_signal(&n->wake);
    }
    mtx_unlock(&n->lock);
    if (!is_full)
        return l;
    free(l);
    return NULL;
}

struct MHD_Response *news_response(struct news_listener *l, struct MHD_Connection *wire)
{
    l->wire = wire;
    return MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, BLOCK, read_on, l, gone);
}

/* ---- life ---------------------------------------------------------------------------------- */

enum err news_start(const char *store, struct news **ret, struct fault *reterr)
{
    struct news *n = calloc(1, sizeof *n);
    *ret = NULL;
    if (n == NULL || mtx_init(&n->lock, mtx_plain) != thrd_success) {
        free(n);
        return fault_no_memory(reterr);
    }
    if (cnd_init(&n->wake) != thrd_success) {
        mtx_destroy(&n->lock);
        free(n);
        return fault_no_memory(reterr);
    }
    enum err err = newest_open(store, &n->newest, reterr);
    if (err == ERR_OK)
        err = newest_seq(n->newest, &n->seq, reterr);
    if (err == ERR_OK) {
        n->has_thread = thrd_create(&n->thread, look_on, n) == thrd_success;
        if (!n->has_thread)
            err = fault_set(reterr, ERR_MEMORY, "a thread cannot be made");
    }
    if (err == ERR_OK)
        *ret = n;
    else
        news_free(n);
    return err;
}

void news_end(struct news *n)
{
    if (n == NULL)
        return;
    mtx_lock(&n->lock);
    n->stops = true;
    cnd_broadcast(&n->wake);
    for (struct news_listener *l = n->first; l != NULL; l = l->next)
        rouse(l);
    mtx_unlock(&n->lock);
    if (n->has_thread)
        thrd_join(n->thread, NULL);
    n->has_thread = false;
}

void news_free(struct news *n)
{
    if (n == NULL)
        return;
    news_end(n);
    newest_close(n->newest);
    cnd_destroy(&n->wake);
    mtx_destroy(&n->lock);
    free(n);
}
