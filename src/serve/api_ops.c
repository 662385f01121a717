/* api_ops: owns what whoever runs the server looks at: health, figures, the description of the interface. */
#include "serve/api.h"

#include <inttypes.h>

void api_health(struct http_call *c)
{
    struct jsonw w;
    http_json(c, &w);
    jsonw_bool(&w, "ok", true); /* that this ran means: a door to the store is open */
    jsonw_string(&w, "version", MENDWRIGHT_VERSION);
    http_json_end(&w);
}

/* Prometheus text exposition format 0.0.4. */
static void metric(struct text *t, const char *name, const char *kind, const char *help)
{
    text_printf(t, "# HELP mendwright_%s %s\n# TYPE mendwright_%s %s\n", name, help, name, kind);
}

static void single(struct text *t, const char *name, const char *kind, const char *help,
                   uint64_t value)
{
    metric(t, name, kind, help);
    text_printf(t, "mendwright_%s %" PRIu64 "\n", name, value);
}

void api_metrics(struct http_call *c)
{
    static const char *const ends[] = {"0.001", "0.002", "0.005", "0.01", "0.02", "0.05",
                                       "0.1",   "0.2",   "0.5",   "1",    "5",    "+Inf"};
    struct http_counts n;
    struct text *t = &c->answer;
    uint64_t sum = 0;
    http_counts(c->http, &n);
    single(t, "http_requests_total", "counter", "Calls answered.", n.calls);
    metric(t, "http_responses_total", "counter", "Answers by class of status.");
    for (int i = 1; i < 6; i++)
        text_printf(t, "mendwright_http_responses_total{class=\"%dxx\"} %" PRIu64 "\n", i,
                    n.by_class[i]);
    single(t, "http_request_bytes_total", "counter", "Bytes of bodies received.", n.bytes_in);
    single(t, "http_response_bytes_total", "counter", "Bytes of bodies sent.", n.bytes_out);
    single(t, "http_broken_total", "counter", "Calls that ended before they were answered.",
           n.refused);
    single(t, "http_turned_away_total", "counter", "Calls refused because too many were under way.",
           n.turned_away);
    single(t, "http_too_slow_total", "counter",
           "Connections closed because a head, a body or an answer took too long.", n.too_slow);
    single(t, "http_open", "gauge", "Calls under way.", n.open);
    metric(t, "http_request_duration_seconds", "histogram",
           "Time from the first header to the answer.");
    for (int i = 0; i < 12; i++) {
        sum += n.micro_buckets[i];
        text_printf(t, "mendwright_http_request_duration_seconds_bucket{le=\"%s\"} %" PRIu64 "\n",
                    ends[i], sum);
    }
    text_printf(t, "mendwright_http_request_duration_seconds_sum %.6f\n",
                (double)n.micro_sum / 1e6);
    text_printf(t, "mendwright_http_request_duration_seconds_count %" PRIu64 "\n", sum);
    c->type = "text/plain; version=0.0.4; charset=utf-8";
}
