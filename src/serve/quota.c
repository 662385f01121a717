/* quota: owns what each shop has sent today. Shops that sent nothing today make room when the table grows. */
#include "serve/quota.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <threads.h>

enum { SHOP_ROOM = 64, DAY_S = 86400 };

struct sent {
    char shop[SHOP_ROOM];
    int64_t day;
    uint64_t bytes, claims;
};

struct quota {
    mtx_t lock;
    uint64_t bytes_max, claims_max;
    struct sent *sent;
    size_t n, room;
};

struct quota *quota_new(uint64_t bytes_max, uint64_t claims_max)
{
    struct quota *q = calloc(1, sizeof *q);
    if (q == NULL)
        return NULL;
    q->bytes_max = bytes_max;
    q->claims_max = claims_max;
    if (mtx_init(&q->lock, mtx_plain) != thrd_success) {
        free(q);
        return NULL;
    }
    return q;
}

void quota_free(struct quota *quota)
{
    if (quota == NULL)
        return;
    mtx_destroy(&quota->lock);
    free(quota->sent);
    free(quota);
}

static void forget_old(struct quota *q, int64_t day)
{
    size_t n = 0;
    for (size_t i = 0; i < q->n; i++)
        if (q->sent[i].day == day)
            q->sent[n++] = q->sent[i];
    q->n = n;
}

/* What a shop has sent on a day; NULL: no memory. */
static struct sent *find(struct quota *q, const char *shop, int64_t day)
{
    for (size_t i = 0; i < q->n; i++)
        if (strcmp(q->sent[i].shop, shop) == 0) {
            if (q->sent[i].day != day)
                q->sent[i].bytes = q->sent[i].claims = 0;
            q->sent[i].day = day;
            return &q->sent[i];
        }
    if (q->n == q->room)
        forget_old(q, day);
    if (q->n == q->room) {
        const size_t room = q->room > 0 ? 2 * q->room : 64;
        struct sent *more = realloc(q->sent, room * sizeof *more);
        if (more == NULL)
            return NULL;
        q->sent = more;
        q->room = room;
    }
    struct sent *s = &q->sent[q->n++];
    *s = (struct sent){.day = day};
    snprintf(s->shop, sizeof s->shop, "%s", shop);
    return s;
}

bool quota_bytes(struct quota *quota, const char *shop, uint64_t n, int64_t now_ms,
                 int64_t *ret_wait_s)
{
    const int64_t now_s = now_ms / 1000, day = now_s / DAY_S;
    *ret_wait_s = (day + 1) * DAY_S - now_s;
    if (quota == NULL || mtx_lock(&quota->lock) != thrd_success)
        return true;
    struct sent *s = find(quota, shop, day);
    bool is_within = s != NULL; /* out of memory is no time to take more */
    if (is_within && quota->claims_max > 0)
        is_within = s->claims < quota->claims_max;
    if (is_within && quota->bytes_max > 0)
        is_within = n <= quota->bytes_max && s->bytes <= quota->bytes_max - n;
    if (is_within)
        s->bytes += n;
    mtx_unlock(&quota->lock);
    return is_within;
}

void quota_claim(struct quota *quota, const char *shop, int64_t now_ms)
{
    if (quota == NULL || mtx_lock(&quota->lock) != thrd_success)
        return;
    struct sent *s = find(quota, shop, now_ms / 1000 / DAY_S);
    if (s != NULL)
        s->claims++;
    mtx_unlock(&quota->lock);
}
