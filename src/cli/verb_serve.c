/* verb_serve: serves the pages and the store behind them until it is told to stop. */
#include "base/file.h"
#include "base/heap.h"
#include "base/jsonw.h"
#include "base/pool.h"
#include "cli/moment.h"
#include "cli/study_ask.h"
#include "cli/verbs.h"
#include "proof/photo_apart.h"
#include "serve/http.h"
#include "serve/quota.h"
#include "store/near.h"

#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum {
    PEM_MAX = 1024 * 1024,
    BAG_MIB = 512,
    BAG_MIB_MAX = 16384,
    TIMEOUT_S = 30,
    TIDY_S = 3600,
    SECONDS_MAX = 86400,
    CONNECTIONS_MAX = 2000,
    SHOP_MIB = 16384, /* of a shop in a day */
    SHOP_CLAIMS = 1000,
    SHOP_MAX = 10000000
};

struct call {
    struct cli *ctx;
    struct http_settings s;
    char address[64];
    struct text certificate, key;
    bool is_trial;
};

/* "127.0.0.1:8080", "[::1]:8080", "8080"; port 0: any that is free. */
static bool read_listen(const char *text, struct call *c)
{
    const char *colon = strrchr(text, ':'), *port = colon != NULL ? colon + 1 : text;
    size_t n = colon != NULL ? (size_t)(colon - text) : 0;
    char *end = NULL;
    const unsigned long value = strtoul(port, &end, 10);
    if (port[0] < '0' || port[0] > '9' || *end != '\0' || value > 65535)
        return false;
    c->s.port = (uint16_t)value;
    if (n == 0)
        return colon == NULL;
    if (text[0] == '[' && text[n - 1] == ']')
        text++, n -= 2;
    snprintf(c->address, sizeof c->address, "%.*s", (int)n, text);
    return n < sizeof c->address;
}

static bool is_loopback(const char *address)
{
    return strncmp(address, "127.", 4) == 0 || strcmp(address, "::1") == 0;
}

static int read_pem(struct call *c, const char *path, struct text *ret)
{
    struct fault f = {0};
    return file_read(path, PEM_MAX, ret, &f) == ERR_OK ? CLI_GOOD : cli_fault(c->ctx, &f);
}

static void say_start(struct call *c, uint16_t port)
{
    const bool is_six = strchr(c->s.address, ':') != NULL;
    struct text t = {0};
    struct jsonw w;
    char url[160];
    snprintf(url, sizeof url, "%s://%s%s%s:%u/", c->s.certificate != NULL ? "https" : "http",
             is_six ? "[" : "", c->s.address, is_six ? "]" : "", port);
    if (c->ctx->is_json) {
        jsonw_start(&w, &t);
        jsonw_object(&w, NULL);
        jsonw_string(&w, "url", url);
        jsonw_int(&w, "port", port);
        jsonw_int(&w, "pid", (int64_t)getpid());
        jsonw_object_end(&w);
        text_putc(&t, '\n');
    } else
        text_printf(&t, "Serving %s at %s (stop with Ctrl-C)\n", c->s.store, url);
    if (!t.is_broken)
        fwrite(t.data, 1, t.size, stdout);
    fflush(stdout);
    text_done(&t);
}

/* Waits for SIGINT or SIGTERM, which every thread has blocked since before the first was made. */
static int serve(struct call *c)
{
    struct fault f = {0};
    struct http *http = NULL;
    uint16_t port = 0;
    sigset_t stop;
    int signal_seen = 0;
    sigemptyset(&stop);
    sigaddset(&stop, SIGINT);
    sigaddset(&stop, SIGTERM);
    if (sigprocmask(SIG_BLOCK, &stop, NULL) != 0 || signal(SIGPIPE, SIG_IGN) == SIG_ERR)
        return cli_error(c->ctx, "signals cannot be set: %s", strerror(errno));
    /* While there is one thread, and nothing of the store is in memory. */
    if (photo_apart_start() != ERR_OK)
        return cli_error(c->ctx, "no process can be made for reading photos");
    heap_settle();
    if (http_start(&c->s, &http, &port, &f) != ERR_OK)
        return cli_fault(c->ctx, &f);
    say_start(c, port);
    if (!c->is_trial)
        sigwait(&stop, &signal_seen);
    if (!c->ctx->is_json && !c->is_trial)
        fprintf(stderr, "Stopping; calls under way are answered first.\n");
    http_stop(http);
    return CLI_GOOD;
}

static bool read_count(const char *text, unsigned long least, unsigned long most,
                       unsigned long *ret)
{
    char *end = NULL;
    *ret = strtoul(text, &end, 10);
    return text[0] >= '0' && text[0] <= '9' && *end == '\0' && *ret >= least && *ret <= most;
}

/* A whole number of least..most in *ret; `usual` when the option is not there. false: said what is wrong. */
static bool read_option(struct call *c, const struct cli_arg *args, int n, const char *name,
                        unsigned long usual, unsigned long least, unsigned long most,
                        unsigned long *ret)
{
    const char *text = cli_value(args, n, name);
    *ret = usual;
    if (text == NULL || read_count(text, least, most, ret))
        return true;
    cli_error(c->ctx, "%s '%.20s': expected %lu to %lu", name, text, least, most);
    return false;
}

static bool read_numbers(struct call *c, const struct cli_arg *args, int n)
{
    const int usual = 2 * pool_threads() < 4 ? 4 : 2 * pool_threads();
    unsigned long threads = 0, bag = 0, coming = 0, timeout = 0, tidy = 0, mib = 0, claims = 0;
    if (!read_option(c, args, n, "--threads", (unsigned long)usual, 1, 64, &threads) ||
        !read_option(c, args, n, "--bag-mib", BAG_MIB, 1, BAG_MIB_MAX, &bag) ||
        !read_option(c, args, n, "--coming-mib", 2 * bag, 1, 2ul * BAG_MIB_MAX, &coming) ||
        !read_option(c, args, n, "--shop-mib", SHOP_MIB, 0, SHOP_MAX, &mib) ||
        !read_option(c, args, n, "--shop-claims", SHOP_CLAIMS, 0, SHOP_MAX, &claims) ||
        !read_option(c, args, n, "--timeout", TIMEOUT_S, 1, SECONDS_MAX, &timeout) ||
        !read_option(c, args, n, "--tidy", TIDY_S, 1, SECONDS_MAX, &tidy))
        return false;
    c->s.n_threads = (int)threads;
    c->s.bag_max = (uint64_t)bag << 20;
    c->s.coming_max = (uint64_t)coming << 20;
    c->s.timeout_s = (int)timeout;
    c->s.tidy_s = (int)tidy;
    c->s.quota = quota_new((uint64_t)mib << 20, claims);
    if (c->s.quota == NULL)
        cli_error(c->ctx, "memory ran out");
    return c->s.quota != NULL;
}

/* Whether --read-from can be meant; where it stands just now is told, and no reason not to start. */
static bool check_near(struct call *c)
{
    struct fault f = {0};
    struct store *store = NULL;
    struct store_near near;
    char said[FAULT_MESSAGE_MAX + 100];
    if (c->s.read_from == NULL)
        return true;
    const enum err err = store_open_near(c->s.store, c->s.read_from, &store, &near, &f);
    store_close(store);
    if (err == ERR_OK)
        fprintf(stderr, "note: studies are %s\n", store_near_say(&near, said, sizeof said));
    else if (err == ERR_SYNTAX || err == ERR_LIMIT)
        (void)cli_fault(c->ctx, &f);
    return err != ERR_SYNTAX && err != ERR_LIMIT; /* all else http_start tells */
}

static int prepare(struct call *c, const struct cli_arg *args, int n)
{
    const char *listen = cli_value(args, n, "--listen"), *pem = cli_value(args, n, "--certificate"),
               *key = cli_value(args, n, "--key");
    c->s.store = cli_value(args, n, "--store");
    c->s.read_from = cli_value(args, n, "--read-from");
    c->s.is_behind_proxy = cli_has(args, n, "--behind-proxy");
    c->is_trial = cli_has(args, n, "--trial");
    if (c->s.store == NULL)
        return cli_error(c->ctx, "--store is missing: the folder of the store");
    if (listen != NULL && !read_listen(listen, c))
        return cli_error(
            c->ctx, "--listen '%.60s': expected ADDRESS:PORT, such as 127.0.0.1:8080 or [::1]:8080",
            listen);
    if (!read_numbers(c, args, n))
        return CLI_WRONG;
    /* One address may not take every connection; behind a proxy all come from one. */
    c->s.connections_one_max = c->s.is_behind_proxy ? 0 : CONNECTIONS_MAX / 4;
    if ((pem == NULL) != (key == NULL))
        return cli_error(c->ctx, "--certificate and --key go together");
    if (pem == NULL && !c->s.is_behind_proxy && !is_loopback(c->s.address))
        return cli_error(c->ctx,
                         "%s is seen from other machines: give --certificate and --key, or "
                         "--behind-proxy when a proxy speaks TLS for it",
                         c->s.address);
    if (!check_near(c))
        return CLI_WRONG;
    int code = pem != NULL ? read_pem(c, pem, &c->certificate) : CLI_GOOD;
    if (code == CLI_GOOD && key != NULL)
        code = read_pem(c, key, &c->key);
    c->s.certificate = c->certificate.data;
    c->s.key = c->key.data;
    return code;
}

static int run(struct cli *ctx, int argc, char **argv)
{
    struct cli_arg args[CLI_ARGS_MAX];
    const int n = cli_options(ctx, &verb_serve, argc, argv, args);
    struct call c = {.ctx = ctx, .address = "127.0.0.1"};
    if (n < 0)
        return CLI_WRONG;
    for (int i = 0; i < n; i++)
        if (args[i].name == NULL)
            return cli_error(ctx, "one word too many: '%.40s'", args[i].value);
    c.s = (struct http_settings){.address = c.address,
                                 .port = 8080,
                                 .connections_max = CONNECTIONS_MAX,
                                 .log_fd = cli_has(args, n, "--log") ? STDERR_FILENO : -1,
                                 .now_ms = moment_now,
                                 .study = study_ask_run};
    int code = prepare(&c, args, n);
    if (code == CLI_GOOD)
        code = serve(&c);
    quota_free(c.s.quota);
    text_done(&c.certificate);
    text_done(&c.key);
    return code;
}

static const struct cli_option options[] = {
    {"--store", "FOLDER", "the store (`store init` makes one)", false},
    {"--listen", "ADDRESS:PORT", "where (127.0.0.1:8080); port 0: any that is free", false},
    {"--read-from", "ADDRESS",
     "of a store in PostgreSQL: a standby that studies are read from; they say how far it is "
     "behind",
     false},
    {"--certificate", "FILE", "certificate chain for TLS, PEM; wanted beyond loopback, with --key",
     false},
    {"--key", "FILE", "its private key, PEM", false},
    {"--behind-proxy", NULL,
     "a proxy in front speaks TLS and sets X-Forwarded-For and X-Forwarded-Proto", false},
    {"--threads", "N", "threads that answer (twice the processors, at least 4)", false},
    {"--bag-mib", "N", "the largest bag that is taken, MiB (512)", false},
    {"--coming-mib", "N", "room for one person's unfinished bags, MiB (twice the largest bag)",
     false},
    {"--shop-mib", "N", "what one shop may send in a day of UTC, MiB (16384; 0: no limit)", false},
    {"--shop-claims", "N", "claims of one shop that are taken in a day (1000; 0: no limit)", false},
    {"--timeout", "SECONDS", "for the head of a call, and of silence in it (30)", false},
    {"--tidy", "SECONDS", "between two looks for uploads that were left off (3600)", false},
    {"--trial", NULL, "start, say where, and stop at once: whether it could", false},
    {"--log", NULL, "one JSON line a call to standard error", false},
    {NULL, NULL, NULL, false},
};

const struct cli_verb verb_serve = {
    .name = "serve",
    .line = "serve the pages and the store behind them",
    .call = "serve --store FOLDER [--listen ADDRESS:PORT] [--certificate FILE --key FILE | "
            "--behind-proxy]",
    .about = "The pages are in the program. Who may use them is said by `people`. It listens on "
             "this machine alone unless it is told "
             "otherwise, and beyond it only with TLS or behind a proxy that speaks it. SIGTERM and "
             "Ctrl-C stop it: calls under way are "
             "answered first.\n\n"
             "Figures for a monitor are at /metrics, whether it lives at /health, the interface at "
             "/api/v1/openapi.json.\n\n"
             "Exit code: 0 stopped when asked, 2 the call is wrong or the port is taken, 3 the "
             "store could not be used.",
    .example = "  $ mendwright store init --store desk\n"
               "  [=] Made an empty store in desk.\n"
               "  $ mendwright serve --store desk --listen 127.0.0.1:0 --trial\n"
               "  Serving desk at http://127.0.0.1:.../ (stop with Ctrl-C)\n",
    .options = options,
    .run = run,
};
