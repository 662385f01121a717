/* api_jobs: owns open jobs over HTTP: what several phones of one shop pass to one another before a job is finished. What is told and
 * taken is desk/relay.h's business; here are the path, the numbers and the statuses.
 *
 * Only a technician has a shop, and only with a shop is there anything to see: a clerk and the owner see claims. */
#include "serve/api.h"

#include "base/media.h"
#include "desk/relay.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* false: a problem is set. */
static bool order_of(struct http_call *c, struct relay_order *ret)
{
    *ret = (struct relay_order){.jobs = c->door->jobs,
                                .shop = c->who.shop,
                                .person = c->who.name,
                                .job = c->args[0],
                                .now_ms = c->now_ms};
    if (c->who.shop[0] == '\0')
        http_problem(c, 403, "shop", "open jobs are for the people of a shop");
    return c->status == 0;
}

void api_jobs(struct http_call *c)
{
    struct relay_order order;
    struct jsonw w;
    struct fault f = {0};
    if (!order_of(c, &order))
        return;
    http_json(c, &w);
    const enum err err = relay_list(order.jobs, order.shop, &w, &f);
    http_json_end(&w);
    if (err != ERR_OK)
        http_problem_fault(c, &f);
}

/* ?after=: events that were seen. false: a problem is set. */
static bool read_after(struct http_call *c, int64_t *ret)
{
    const char *text = http_query(c, "after");
    char *end = NULL;
    *ret = 0;
    if (text == NULL)
        return true;
    errno = 0;
    const long long n = strtoll(text, &end, 10);
    if (errno == 0 && text[0] >= '0' && text[0] <= '9' && *end == '\0') {
        *ret = n;
        return true;
    }
    http_problem(c, 400, "number", "\"after\" must be a whole number from 0 on");
    return false;
}

void api_job_get(struct http_call *c)
{
    struct relay_order order;
    struct jsonw w;
    struct fault f = {0};
    char tag[RELAY_TAG_ROOM] = "";
    if (!order_of(c, &order) || !read_after(c, &order.after))
        return;
    http_json(c, &w);
    const enum err err = relay_tell(&order, &w, tag, &f);
    http_json_end(&w);
    if (err != ERR_OK) {
        http_problem_fault(c, &f);
        return;
    }
    http_tagged(c, tag);
}

void api_job_phone_put(struct http_call *c)
{
    struct relay_order order;
    struct fault f = {0};
    if (!order_of(c, &order))
        return;
    http_empty(c, relay_phone(&order, c->args[1], &f), &f);
}

void api_job_post(struct http_call *c)
{
    struct relay_order order;
    struct jsonw w;
    struct fault f = {0};
    bool is_made = false;
    if (!order_of(c, &order))
        return;
    http_json(c, &w);
    const enum err err =
        relay_add(&order, c->body.data != NULL ? c->body.data : "", c->body.size, &w, &is_made, &f);
    http_json_end(&w);
    if (err != ERR_OK)
        http_problem_fault(c, &f);
    else
        c->status = is_made ? 201 : 200;
}

void api_job_photo_get(struct http_call *c)
{
    struct relay_order order;
    struct fault f = {0};
    const char *kind = NULL;
    char *bytes = NULL;
    size_t n = 0;
    if (!order_of(c, &order))
        return;
    if (relay_photo(&order, c->args[1], &bytes, &n, &kind, &f) != ERR_OK) {
        http_problem_fault(c, &f);
        return;
    }
    text_clear(&c->answer);
    text_add(&c->answer, bytes, n);
    free(bytes);
    http_etag(c, c->args[1]);
    c->type = media_of_photo(kind);
}

void api_job_photo_put(struct http_call *c)
{
    struct relay_order order;
    struct fault f = {0};
    bool is_new = false;
    if (!order_of(c, &order))
        return;
    const int fd = open(c->file, O_RDONLY | O_CLOEXEC);
    if (fd < 0) {
        http_problem(c, 503, "failed", "what was sent cannot be read back");
        return;
    }
    const enum err err = relay_photo_put(&order, c->args[1], fd, &is_new, &f);
    close(fd);
    if (err != ERR_OK)
        http_problem_fault(c, &f);
    else
        c->status = is_new ? 201 : 204;
}
