/* api_session: owns signing in and out over HTTP. */
#include "serve/api.h"

#include <stdio.h>
#include <string.h>

struct json_doc *api_body(struct http_call *c)
{
    struct json_doc *doc = NULL;
    struct fault f = {0};
    if (json_parse(c->body.data != NULL ? c->body.data : "", c->body.size, "body", &doc, &f) !=
        ERR_OK) {
        http_problem(c, f.code == ERR_MEMORY ? 503 : 400, "json",
                     "the body is no JSON that can be read: line %d, column %d: %s", f.line,
                     f.column, f.message);
        return NULL;
    }
    if (json_kind(json_root(doc)) == JSON_OBJECT)
        return doc;
    http_problem(c, 400, "json", "the body is %s; expected an object",
                 json_kind_name(json_kind(json_root(doc))));
    json_free(doc);
    return NULL;
}

const char *api_text(struct http_call *c, json_node *object, const char *name, size_t max)
{
    size_t n = 0;
    json_node *node = json_get(object, name);
    const char *text = node != NULL ? json_string(node, &n) : NULL;
    if (text == NULL || n == 0 || n > max) {
        http_problem(c, 400, "field", "\"%s\" must be a text of 1 to %zu bytes", name, max);
        return NULL;
    }
    for (size_t i = 0; i < n; i++)
        if ((unsigned char)text[i] < ' ') {
            http_problem(c, 400, "field", "\"%s\" holds a control character", name);
            return NULL;
        }
    return text;
}

static void tell(struct http_call *c, const char *token)
{
    struct jsonw w;
    char csrf[SIGNIN_TOKEN_ROOM + 32] = "";
    http_json(c, &w);
    jsonw_string(&w, "role", signin_role_name(c->who.role));
    if (c->who.role != SIGNIN_NOBODY && token != NULL && signin_csrf(token, csrf) == ERR_OK) {
        jsonw_string(&w, "name", c->who.name);
        jsonw_string(&w, "shop", c->who.shop[0] != '\0' ? c->who.shop : NULL);
        jsonw_bool(&w, "has_password", c->who.has_password);
        jsonw_string(&w, "csrf", csrf);
    }
    http_json_end(&w);
}

void api_session_get(struct http_call *c)
{
    tell(c, c->token);
}

void api_session_post(struct http_call *c)
{
    struct fault f = {0};
    char token[SIGNIN_TOKEN_ROOM];
    int64_t wait_ms = 0;
    struct json_doc *doc = api_body(c);
    if (doc == NULL)
        return;
    json_node *root = json_root(doc);
    const bool by_link = json_get(root, "link") != NULL;
    const char *one = api_text(c, root, by_link ? "link" : "name", 128);
    const char *two = one != NULL && !by_link ? api_text(c, root, "password", 256) : NULL;
    enum err err = ERR_SYNTAX;
    if (one != NULL && by_link)
        err = signin_by_link(c->door->signin, one, c->address, c->now_ms, token, &c->who, &wait_ms,
                             &f);
    else if (one != NULL && two != NULL)
        err = signin_by_password(c->door->signin, one, two, c->address, c->now_ms, token, &c->who,
                                 &wait_ms, &f);
    json_free(doc);
    if (c->status != 0)
        return;
    if (err != ERR_OK) {
        http_problem_fault(c, &f);
        if (err == ERR_BUSY)
            http_add_header(c, "Retry-After", "%lld", (long long)((wait_ms + 999) / 1000));
        return;
    }
    http_session(c, token);
    tell(c, token);
}

void api_session_delete(struct http_call *c)
{
    struct fault f = {0};
    if (c->token != NULL && signin_leave(c->door->signin, c->token, &f) != ERR_OK) {
        http_problem_fault(c, &f);
        return;
    }
    http_session(c, NULL);
    c->status = 204;
}

void api_password_put(struct http_call *c)
{
    struct fault f = {0};
    struct json_doc *doc = api_body(c);
    const char *password = doc != NULL ? api_text(c, json_root(doc), "password", 256) : NULL;
    if (password != NULL &&
        signin_password(c->door->signin, c->who.name, password, c->token, &f) != ERR_OK)
        http_problem_fault(c, &f);
    json_free(doc);
    if (c->status == 0)
        c->status = 204;
}

/* A one-time link must not be spent by whatever looks at links before people do; so the page asks once more. The button's script
 * is a file of its own, as the content policy wants it. */
void api_enter_page(struct http_call *c)
{
    static const char page[] =
        "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><title>Mendwright</title>"
        "<meta name=\"viewport\" content=\"width=device-width,initial-scale=1\"><link "
        "rel=\"stylesheet\" href=\"/enter.css\">"
        "<script src=\"/enter.js\" defer></script></head>\n<body><main><h1>Mendwright</h1>"
        "<p id=\"lets\">This link lets you in once.</p><button id=\"enter\">Come in</button><p "
        "id=\"said\" "
        "role=\"status\"></p>"
        "<noscript><p>This page needs JavaScript.</p></noscript></main></body></html>\n";
    c->type = "text/html; charset=utf-8";
    c->bytes = page;
    c->n_bytes = sizeof page - 1;
}
