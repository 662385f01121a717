/* api_drafts: owns drafts of bulletins over HTTP: putting them away, checking them, what would follow, issuing. */
#include "serve/api.h"

#include "base/pool.h"
#include "desk/draft.h"
#include "desk/drawer.h"
#include "serve/tasks.h"

#include <string.h>

enum { STEP_MAX = 64, PAGE_MAX = 500 };

/* ---- the drawer --------------------------------------------------------------------------------- */

void api_drafts(struct http_call *c)
{
    struct jsonw w;
    struct fault f = {0};
    http_json(c, &w);
    const enum err err = drawer_list(c->door->path, &w, &f);
    http_json_end(&w);
    if (err != ERR_OK)
        http_problem_fault(c, &f);
}

void api_draft_get(struct http_call *c)
{
    char sha256[65] = "";
    struct fault f = {0};
    if (drawer_get(c->door->path, c->args[0], &c->answer, sha256, &f) != ERR_OK) {
        http_problem_fault(c, &f);
        return;
    }
    c->type = "application/yaml; charset=utf-8";
    http_etag(c, sha256);
}

/* The digest that If-Match names, NULL for a draft that is new; false after a problem was set. */
static bool seen_of(struct http_call *c, char seen[65], const char **ret)
{
    const char *match = http_header(c, "If-Match"), *none = http_header(c, "If-None-Match");
    *ret = NULL;
    if (match == NULL && none != NULL && strcmp(none, "*") == 0)
        return true;
    if (match == NULL) {
        http_problem(c, 428, "if-match",
                     "send If-Match with the ETag of the draft you looked at, or If-None-Match: * "
                     "for a new one");
        return false;
    }
    if (strlen(match) != 66 || match[0] != '"' || match[65] != '"') {
        http_problem(c, 412, "changed", "If-Match names no draft; send one ETag as it was told");
        return false;
    }
    memcpy(seen, match + 1, 64);
    seen[64] = '\0';
    *ret = seen;
    return true;
}

/* A conflict is told as RFC 9110 has it: 412 Precondition Failed. */
static void draft_problem(struct http_call *c, const struct fault *f)
{
    if (f->code == ERR_DUPLICATE)
        http_problem(c, 412, "changed", "%s", f->message);
    else
        http_problem_fault(c, f);
}

/* The member "text", with its size; NULL after a problem was set. */
static const char *text_of(struct http_call *c, struct json_doc *doc, size_t *ret_n)
{
    json_node *node = doc != NULL ? json_get(json_root(doc), "text") : NULL;
    const char *text = node != NULL ? json_string(node, ret_n) : NULL;
    if (doc != NULL && text == NULL)
        http_problem(c, 422, "refused", "expected a member \"text\" with the bulletin's file");
    else if (text != NULL && *ret_n > DRAWER_DRAFT_MAX) {
        http_problem(c, 413, "large", "a draft has at most %d bytes", DRAWER_DRAFT_MAX);
        text = NULL;
    }
    return text;
}

void api_draft_put(struct http_call *c)
{
    char seen[65], sha256[65];
    const char *match;
    size_t n = 0;
    struct fault f = {0};
    struct json_doc *doc = seen_of(c, seen, &match) ? api_body(c) : NULL;
    const char *text = doc != NULL ? text_of(c, doc, &n) : NULL;
    if (text != NULL && drawer_put(c->door->path, c->args[0], text, n, match, sha256, &f) != ERR_OK)
        draft_problem(c, &f);
    json_free(doc);
    if (c->status != 0)
        return;
    struct jsonw w;
    http_json(c, &w);
    jsonw_string(&w, "name", c->args[0]);
    jsonw_string(&w, "sha256", sha256);
    http_json_end(&w);
    http_etag(c, sha256);
}

void api_draft_delete(struct http_call *c)
{
    char seen[65];
    const char *match;
    struct fault f = {0};
    if (!seen_of(c, seen, &match))
        return;
    if (drawer_drop(c->door->path, c->args[0], match, &f) != ERR_OK)
        draft_problem(c, &f);
    else
        c->status = 204;
}

/* ---- what may stand in it ----------------------------------------------------------------------- */

void api_reference(struct http_call *c)
{
    char sha256[65];
    struct fault f = {0};
    text_clear(&c->answer);
    if (draft_reference(&c->answer, sha256, &f) != ERR_OK) {
        http_problem_fault(c, &f);
        return;
    }
    c->type = "application/json";
    http_tagged(c, sha256);
}

/* ---- what is wrong with it, what would follow --------------------------------------------------- */

void api_bulletin_check(struct http_call *c)
{
    size_t n = 0;
    struct jsonw w;
    struct fault f = {0};
    struct json_doc *doc = api_body(c);
    const char *text = doc != NULL ? text_of(c, doc, &n) : NULL;
    if (text != NULL) {
        json_node *whole = json_get(json_root(doc), "whole");
        http_json(c, &w);
        const enum err err = draft_check(c->door->store, c->door->held, text, n,
                                         whole != NULL && json_bool(whole), &w, &f);
        http_json_end(&w);
        if (err != ERR_OK)
            http_problem_fault(c, &f);
    }
    json_free(doc);
}

/* "paper": "a4" or "letter"; A4 when it is not told. false: a problem is set. */
static bool paper_of(struct http_call *c, struct json_doc *doc, bool *ret_letter)
{
    json_node *node = json_get(json_root(doc), "paper");
    const char *paper = node != NULL ? json_string(node, NULL) : "a4";
    *ret_letter = paper != NULL && strcmp(paper, "letter") == 0;
    if (*ret_letter || (paper != NULL && strcmp(paper, "a4") == 0))
        return true;
    http_problem(c, 422, "refused", "expected \"paper\" to be \"a4\" or \"letter\"");
    return false;
}

/* One page as a picture: "page", a number, or "step", an id, says which. */
static void put_page(struct http_call *c, json_node *root, const char *text, size_t n,
                     bool on_letter)
{
    struct fault f = {0};
    int made = 0, n_made = 0;
    json_node *step = json_get(root, "step"), *page = json_get(root, "page");
    const char *id = step != NULL ? api_text(c, root, "step", STEP_MAX) : NULL;
    if (step != NULL && id == NULL)
        return;
    if (step == NULL &&
        (json_kind(page) != JSON_INT || json_int(page) < 1 || json_int(page) > PAGE_MAX)) {
        http_problem(c, 422, "refused", "expected \"page\" to be a whole number from 1 to %d",
                     PAGE_MAX);
        return;
    }
    if (draft_page(text, n, on_letter, id, step == NULL ? (int)json_int(page) : 0, &c->answer,
                   &made, &n_made, &f) != ERR_OK) {
        http_problem_fault(c, &f);
        return;
    }
    c->type = "image/png";
    http_add_header(c, "X-Mendwright-Page", "%d", made);
    http_add_header(c, "X-Mendwright-Pages", "%d", n_made);
}

void api_bulletin_sheet(struct http_call *c)
{
    size_t n = 0;
    bool on_letter = false;
    struct fault f = {0};
    struct json_doc *doc = api_body(c);
    const char *text = doc != NULL ? text_of(c, doc, &n) : NULL;
    const bool is_fine = text != NULL && paper_of(c, doc, &on_letter);
    if (is_fine &&
        (json_get(json_root(doc), "page") != NULL || json_get(json_root(doc), "step") != NULL)) {
        put_page(c, json_root(doc), text, n, on_letter);
    } else if (is_fine) {
        if (draft_sheet(text, n, on_letter, c->now_ms, &c->answer, &f) == ERR_OK)
            c->type = "application/pdf";
        else
            http_problem_fault(c, &f);
    }
    json_free(doc);
}

static enum err foresee(struct task *task, struct jsonw *w, struct fault *f)
{
    const struct text *text = task_body(task);
    const struct known_progress progress = {task_step, task};
    struct door *door = task_door(task, f);
    return door == NULL
               ? f->code
               : draft_foresee(door->store, text->data != NULL ? text->data : "", text->size,
                               task_now_ms(task), pool_threads(), &progress, w, f);
}

void api_bulletin_whatif(struct http_call *c)
{
    size_t n = 0;
    struct text body = {0};
    struct json_doc *doc = api_body(c);
    const char *text = doc != NULL ? text_of(c, doc, &n) : NULL;
    if (text != NULL) {
        text_add(&body, text, n);
        api_begin_task(c, &(struct task_order){.kind = "what-if", .run = foresee, .body = &body});
    }
    text_done(&body);
    json_free(doc);
}

void api_bulletin_post(struct http_call *c)
{
    size_t n = 0;
    struct jsonw w;
    struct fault f = {0};
    struct json_doc *doc = api_body(c);
    const char *text = doc != NULL ? text_of(c, doc, &n) : NULL;
    json_node *before = doc != NULL ? json_get(json_root(doc), "before") : NULL;
    if (text != NULL && (before == NULL || json_kind(before) != JSON_INT || json_int(before) < 0))
        http_problem(c, 422, "refused",
                     "expected a member \"before\": the revision that holds, or 0 for none");
    else if (text != NULL) {
        http_json(c, &w);
        const enum err err = draft_issue(c->door->store, c->door->signin, c->who.name, text, n,
                                         json_int(before), c->now_ms, &w, &f);
        http_json_end(&w);
        if (err != ERR_OK)
            http_problem_fault(c, &f);
        else
            c->status = 201;
    }
    json_free(doc);
}
