/* api_campaign: owns the campaign at one look over HTTP, and who may listen to the news. What it holds is desk/campaign.h's business. */
#include "serve/api.h"

#include "desk/campaign.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

/* A whole number from 0 on; false: it is none. */
static bool read_number(const char *text, int64_t *ret)
{
    char *end = NULL;
    errno = 0;
    const long long n = strtoll(text, &end, 10);
    *ret = n;
    return errno == 0 && text[0] >= '0' && text[0] <= '9' && *end == '\0';
}

void api_campaign(struct http_call *c)
{
    const char *since = http_query(c, "since"), *known = http_header(c, "If-None-Match");
    struct campaign_order order = {
        .bulletin = http_query(c, "bulletin"), .since_ms = STORE_UNKNOWN, .now_ms = c->now_ms};
    struct fault f = {0};
    char tag[CAMPAIGN_TAG_ROOM] = "", bare[CAMPAIGN_TAG_ROOM] = "";
    bool is_same = false;
    if (since != NULL && !read_number(since, &order.since_ms)) {
        http_problem(c, 400, "number",
                     "\"since\" must be a time in milliseconds since 1970-01-01 UTC");
        return;
    }
    /* One tag of our own, as browsers send it; of a list http_is_match finds it, once the answer is made. */
    const size_t n = known != NULL ? strlen(known) : 0;
    if (n > 2 && n < sizeof bare && known[0] == '"' && known[n - 1] == '"')
        memcpy(bare, known + 1, n - 2);
    if (campaign_json(c->door->store, http_boards(c->http), &order, bare, &c->answer, tag, &is_same,
                      &f) != ERR_OK) {
        if (f.code == ERR_EMPTY)
            http_problem(c, 404, "no-bulletin", "%s", f.message);
        else
            http_problem_fault(c, &f);
        return;
    }
    http_etag(c, tag);
    c->type = "application/json";
    if (!is_same && !http_is_match(c))
        return;
    text_clear(&c->answer);
    c->type = NULL;
    c->status = 304;
}

void api_news(struct http_call *c)
{
    const char *last = http_header(c, "Last-Event-ID");
    int64_t after = -1;
    if (last != NULL && !read_number(last, &after)) {
        http_problem(c, 400, "number", "Last-Event-ID must be the id of an event that was sent");
        return;
    }
    if (!http_listen(c, after)) {
        http_problem(c, 503, "too-many", "too many listen already; ask again later");
        http_add_header(c, "Retry-After", "60");
        return;
    }
    c->type = "text/event-stream";
    http_add_header(c, "X-Accel-Buffering",
                    "no"); /* proxies that gather answers would keep the news back */
}
