/* api_page: owns the files that the program carries: pages, scripts, styles, the description of the interface. */
#include "base/embedded.h"
#include "serve/api.h"

#include "base/digest.h"

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

static void send_file(struct http_call *c, const struct embedded *e)
{
    uint8_t sum[DIGEST_SHA256_SIZE];
    char hex[2 * DIGEST_SHA256_SIZE + 1];
    if (digest_bytes(DIGEST_SHA256, e->bytes, e->size, sum) == ERR_OK) {
        digest_hex(sum, 16, hex);
        http_etag(c, hex);
    }
    c->type = type_of(e->path);
    /* Vite names what it builds after its content. */
    c->may_keep = strncmp(e->path, "assets/", 7) == 0;
    if (http_is_match(c)) {
        c->status = 304;
        c->type = NULL;
        return;
    }
    c->bytes = e->bytes;
    c->n_bytes = e->size;
}

/* A folder stands for its index.html. */
void api_page(struct http_call *c)
{
    char path[HTTP_PATH_MAX + 16] = "";
    const struct embedded *e = NULL;
    size_t n = 0;
    for (int i = 0; i < c->n_parts; i++)
        n += (size_t)snprintf(path + n, sizeof path - n, "%s%s", i > 0 ? "/" : "", c->parts[i]);
    if (c->n_parts > 0)
        e = find(path);
    if (e == NULL) {
        snprintf(path + n, sizeof path - n, "%sindex.html", n > 0 ? "/" : "");
        e = find(path);
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
