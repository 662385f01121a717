/* api_page: owns the files that the program carries: pages, scripts, styles, the description of the interface. */
#include "base/embedded.h"
#include "serve/api.h"

#include <stdio.h>
#include <string.h>

extern const struct embedded serve_files[];

static const char *type_of(const char *path)
{
    static const char *const types[][2] = {{".html", "text/html; charset=utf-8"},
                                           {".js", "text/javascript; charset=utf-8"},
                                           {".css", "text/css; charset=utf-8"},
                                           {".json", "application/json"},
                                           {".webmanifest", "application/manifest+json"},
                                           {".wasm", "application/wasm"},
                                           {".svg", "image/svg+xml"},
                                           {".png", "image/png"},
                                           {".ico", "image/x-icon"},
                                           {".woff2", "font/woff2"},
                                           {".txt", "text/plain; charset=utf-8"}};
    const size_t n = strlen(path);
    for (size_t i = 0; i < sizeof types / sizeof *types; i++) {
        const size_t k = strlen(types[i][0]);
        if (n > k && strcmp(path + n - k, types[i][0]) == 0)
            return types[i][1];
    }
    return "application/octet-stream";
}

static const struct embedded *find(const char *path)
{
    for (const struct embedded *e = serve_files; e->path != NULL; e++)
        if (strcmp(e->path, path) == 0)
            return e;
    return NULL;
}

/* Whether the caller takes gzip (RFC 9110, 12.5.3): named, and not with the weight 0. */
static bool takes_gzip(const struct http_call *c)
{
    const char *accept = http_header(c, "Accept-Encoding");
    const char *at = accept != NULL ? strstr(accept, "gzip") : NULL;
    return at != NULL && strncmp(at + 4, ";q=0", 4) != 0;
}

static void send_file(struct http_call *c, const struct embedded *e)
{
    char packed[HTTP_PATH_MAX + 16];
    snprintf(packed, sizeof packed, "%s.gz", e->path);
    const struct embedded *gzip = find(packed);
    c->type = type_of(e->path);
    if (strcmp(e->path, "bench/index.html") == 0)
        c->policy = http_policy_framed;
    else if (strcmp(e->path, "desk/index.html") == 0)
        c->policy = http_policy_framing;
    /* Vite names what it puts there after its content. */
    c->may_keep =
        strncmp(e->path, "bench/assets/", 13) == 0 || strncmp(e->path, "desk/assets/", 12) == 0;
    if (gzip != NULL)
        http_add_header(c, "Vary", "Accept-Encoding");
    if (gzip != NULL && takes_gzip(c)) {
        http_add_header(c, "Content-Encoding", "gzip");
        e = gzip;
    }
    http_etag(c, e->tag); /* of the bytes as they go out */
    if (http_is_match(c)) {
        c->status = 304;
        c->type = NULL;
        return;
    }
    c->bytes = e->bytes;
    c->n_bytes = e->size;
}

static void go_to(struct http_call *c, const char *path)
{
    http_add_header(c, "Location", "%s", path);
    c->status = 303;
}

/* The root goes to the person's own pages. A folder stands for its index.html, and its path ends in a slash, for what it names is told from there on. */
void api_page(struct http_call *c)
{
    char path[HTTP_PATH_MAX + 16] = "";
    const struct embedded *e = NULL;
    size_t n = 0;
    for (int i = 0; i < c->n_parts; i++)
        n += (size_t)snprintf(path + n, sizeof path - n, "%s%s", i > 0 ? "/" : "", c->parts[i]);
    if (c->n_parts == 0) {
        go_to(c, c->who.role >= SIGNIN_CLERK ? "/desk/" : "/bench/");
        return;
    }
    e = find(path);
    if (e == NULL) {
        snprintf(path + n, sizeof path - n, "/index.html");
        e = find(path);
        if (e != NULL && c->path[strlen(c->path) - 1] != '/') {
            path[n] = '\0';
            char to[HTTP_PATH_MAX + 16];
            snprintf(to, sizeof to, "/%.*s/", HTTP_PATH_MAX, path);
            go_to(c, to);
            return;
        }
    }
    if (e != NULL)
        send_file(c, e);
    else
        http_problem(c, 404, "path", "there is no such path");
}

void api_openapi(struct http_call *c)
{
    const struct embedded *e = find("openapi.json");
    if (e != NULL)
        send_file(c, e);
    else
        http_problem(c, 404, "path", "there is no such path");
}
