/* answer: owns what handlers say: problems, JSON, entity tags, cookies. The wire is http.c's. */
#include "serve/http.h"

#include <ctype.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

void http_add_header(struct http_call *c, const char *name, const char *fmt, ...)
{
    va_list ap;
    if (c->n_headers >= HTTP_HEADERS_MAX)
        return;
    snprintf(c->headers[c->n_headers].name, sizeof c->headers[0].name, "%s", name);
    va_start(ap, fmt);
    vsnprintf(c->headers[c->n_headers].value, sizeof c->headers[0].value, fmt, ap);
    va_end(ap);
    for (char *p = c->headers[c->n_headers].value; *p != '\0'; p++)
        if ((unsigned char)*p < ' ') /* no line of ours is ever split by what came in */
            *p = ' ';
    c->n_headers++;
}

/* ---- problems ------------------------------------------------------------------------------- */

static const char *title_of(int status)
{
    static const struct {
        int status;
        const char *title;
    } rows[] = {
        {400, "The call cannot be understood"},
        {401, "Nobody is signed in"},
        {403, "This is not allowed"},
        {404, "There is no such thing"},
        {405, "This cannot be done with it"},
        {409, "It does not fit what is there"},
        {411, "The size must be told"},
        {412, "It has changed meanwhile"},
        {413, "It is too large"},
        {415, "It is of the wrong kind"},
        {422, "It was read and cannot be taken"},
        {428, "Say which state you mean to change"},
        {429, "Too many tries"},
        {500, "The server failed"},
        {503, "The server cannot do this now"},
        {507, "There is no room left"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        if (rows[i].status == status)
            return rows[i].title;
    return "It did not work";
}

void http_problem_open(struct http_call *c, struct jsonw *w, int status, const char *kind,
                       const char *detail)
{
    char type[80];
    text_clear(&c->answer);
    snprintf(type, sizeof type, "urn:mendwright:problem:%.40s", kind);
    jsonw_start(w, &c->answer);
    jsonw_object(w, NULL);
    jsonw_string(w, "type", type);
    jsonw_string(w, "title", title_of(status));
    jsonw_int(w, "status", status);
    jsonw_string(w, "detail", detail);
    jsonw_string(w, "instance", c->id);
    c->status = status;
    c->type = "application/problem+json";
    c->bytes = NULL;
    c->etag[0] = '\0';
    c->may_keep = false;
}

static void problem(struct http_call *c, int status, const char *kind, const char *detail,
                    const struct fault *f)
{
    struct jsonw w;
    http_problem_open(c, &w, status, kind, detail);
    if (f != NULL && f->path[0] != '\0')
        jsonw_string(&w, "field", f->path);
    if (f != NULL && f->line > 0)
        jsonw_int(&w, "line", f->line);
    if (f != NULL && f->column > 0)
        jsonw_int(&w, "column", f->column);
    http_json_end(&w);
}

void http_problem(struct http_call *c, int status, const char *kind, const char *fmt, ...)
{
    char detail[600];
    va_list ap;
    va_start(ap, fmt);
    vsnprintf(detail, sizeof detail, fmt, ap);
    va_end(ap);
    problem(c, status, kind, detail, NULL);
}

static int status_of(enum err code)
{
    switch (code) {
    case ERR_IO:
    case ERR_MEMORY:
        return 503;
    case ERR_UNKNOWN:
        return 404;
    case ERR_DENIED:
        return 401;
    case ERR_BUSY:
        return 429;
    case ERR_LIMIT:
        return 413;
    case ERR_OPEN:
        return 500;
    case ERR_DUPLICATE:
    case ERR_ORDER:
        return 409;
    default:
        return 422;
    }
}

void http_problem_fault(struct http_call *c, const struct fault *f)
{
    const int status = status_of(f->code);
    /* What failed inside names files of the server: that is for the log, not for whoever asked. */
    if (status == 500 || status == 503) {
        snprintf(c->why, sizeof c->why, "%s", f->message);
        problem(c, status, "failed",
                "the store could not be used; try again, or ask whoever runs the server", NULL);
        if (status == 503)
            http_add_header(c, "Retry-After", "5");
    } else
        problem(c, status, "refused", f->message, f);
}

void http_empty(struct http_call *c, enum err err, const struct fault *f)
{
    if (err != ERR_OK)
        http_problem_fault(c, f);
    else
        c->status = 204;
}

/* ---- JSON ------------------------------------------------------------------------------------ */

void http_json(struct http_call *c, struct jsonw *w)
{
    text_clear(&c->answer);
    c->type = "application/json";
    jsonw_start(w, &c->answer);
    jsonw_object(w, NULL);
}

void http_json_end(struct jsonw *w)
{
    jsonw_object_end(w);
    text_puts(w->out, "\n");
}

/* ---- entity tags ------------------------------------------------------------------------------ */

void http_etag(struct http_call *c, const char *tag)
{
    snprintf(c->etag, sizeof c->etag, "\"%.76s\"", tag);
}

/* Whether a list of entity tags names one, by the weak comparison of RFC 9110, 8.8.3.2. */
static bool names(const char *list, const char *quoted)
{
    const size_t n = strlen(quoted);
    for (const char *p = list; *p != '\0';) {
        while (*p == ' ' || *p == '\t' || *p == ',')
            p++;
        if (*p == '*')
            return true;
        if (p[0] == 'W' && p[1] == '/')
            p += 2;
        if (*p != '"')
            return false;
        const char *end = strchr(p + 1, '"');
        if (end == NULL)
            return false;
        if ((size_t)(end - p) + 1 == n && strncmp(p, quoted, n) == 0)
            return true;
        p = end + 1;
    }
    return false;
}

bool http_is_match(const struct http_call *c)
{
    const char *list = http_header(c, "If-None-Match");
    return list != NULL && c->etag[0] != '\0' && names(list, c->etag);
}

void http_tagged(struct http_call *c, const char *tag)
{
    http_etag(c, tag);
    if (!http_is_match(c))
        return;
    text_clear(&c->answer);
    c->type = NULL;
    c->status = 304;
}

bool http_if_match(struct http_call *c, const char *tag)
{
    char quoted[80];
    const char *list = http_header(c, "If-Match");
    snprintf(quoted, sizeof quoted, "\"%.76s\"", tag);
    if (list == NULL) {
        http_problem(c, 428, "if-match", "send If-Match with the ETag of what you looked at");
        return false;
    }
    if (strstr(list, "W/") != NULL || !names(list, quoted)) {
        http_problem(c, 412, "changed", "somebody changed it since you looked; look again");
        return false;
    }
    return true;
}

/* ---- the session's cookie ------------------------------------------------------------------------ */

void http_session(struct http_call *c, const char *token)
{
    /* RFC 6265bis: the __Host- prefix binds the cookie to this host and to https; a plain name serves loopback. */
    const char *name = c->is_https ? "__Host-mendwright" : "mendwright";
    http_add_header(c, "Set-Cookie", "%s=%s; Path=/; HttpOnly; SameSite=Strict%s%s", name,
                    token != NULL ? token : "", c->is_https ? "; Secure" : "",
                    token != NULL ? "; Max-Age=2592000" : "; Max-Age=0");
}
