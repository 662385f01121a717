/* api_people: owns people, shops, keys and the list of who did what over HTTP. What they hold is the business of desk/signin.h,
 * desk/shops_list.h and desk/audit.h. */
#include "serve/api.h"

#include "desk/audit.h"
#include "desk/shops_list.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

enum { LINK_HOURS = 24, HOUR_MS = 60 * 60 * 1000, ID_MAX = 64 };

/* ---- people ------------------------------------------------------------------------------------------- */

void api_people(struct http_call *c)
{
    struct jsonw w;
    struct fault f = {0};
    http_json(c, &w);
    const enum err err = signin_tell(c->door->signin, NULL, &w, &f);
    http_json_end(&w);
    if (err != ERR_OK)
        http_problem_fault(c, &f);
}

/* The person as they are now. */
static void tell_person(struct http_call *c, const char *name, int status)
{
    struct jsonw w;
    struct fault f = {0};
    http_json(c, &w);
    const enum err err = signin_tell(c->door->signin, name, &w, &f);
    http_json_end(&w);
    if (err != ERR_OK)
        http_problem_fault(c, &f);
    else
        c->status = status;
}

/* A text that may be missing, null or empty: "". NULL after a problem was set. */
static const char *text_or_none(struct http_call *c, json_node *object, const char *name)
{
    json_node *node = json_get(object, name);
    size_t n = 0;
    if (node == NULL || json_kind(node) == JSON_NULL || (json_string(node, &n) != NULL && n == 0))
        return "";
    return api_text(c, object, name, ID_MAX);
}

/* role and shop of the body; false after a problem was set. */
static bool role_of(struct http_call *c, json_node *root, enum signin_role *ret_role,
                    const char **ret_shop)
{
    const char *role = api_text(c, root, "role", 16);
    *ret_shop = role != NULL ? text_or_none(c, root, "shop") : NULL;
    if (*ret_shop == NULL)
        return false;
    if (signin_role_named(role, ret_role))
        return true;
    http_problem(c, 422, "refused", "expected \"role\" to be owner, clerk or technician");
    return false;
}

static void put_person(struct http_call *c, json_node *root, const char *name, enum people_how how)
{
    struct fault f = {0};
    enum signin_role role = SIGNIN_NOBODY;
    const char *shop = NULL;
    if (name == NULL || !role_of(c, root, &role, &shop))
        return;
    if (signin_put(c->door->signin, c->who.name, name, role, shop, how, c->now_ms, &f) != ERR_OK)
        http_problem_fault(c, &f);
    else
        tell_person(c, name, how == PEOPLE_ADD ? 201 : 200);
}

void api_people_post(struct http_call *c)
{
    struct json_doc *doc = api_body(c);
    if (doc == NULL)
        return;
    put_person(c, json_root(doc), api_text(c, json_root(doc), "name", ID_MAX), PEOPLE_ADD);
    json_free(doc);
}

void api_person_put(struct http_call *c)
{
    struct json_doc *doc = api_body(c);
    if (doc == NULL)
        return;
    put_person(c, json_root(doc), c->args[0], PEOPLE_CHANGE);
    json_free(doc);
}

void api_person_delete(struct http_call *c)
{
    struct fault f = {0};
    http_empty(c, signin_revoke(c->door->signin, c->who.name, c->args[0], c->now_ms, &f), &f);
}

/* Of somebody who was revoked; what they did stays, under a number. */
void api_person_forget(struct http_call *c)
{
    struct fault f = {0};
    http_empty(c, signin_forget(c->door->signin, c->who.name, c->args[0], c->now_ms, &f), &f);
}

/* Told once: only its digest is kept. */
void api_person_link(struct http_call *c)
{
    struct fault f = {0};
    struct jsonw w;
    char token[SIGNIN_TOKEN_ROOM], path[SIGNIN_TOKEN_ROOM + 16] = "/enter/";
    if (signin_link(c->door->signin, c->who.name, c->args[0], (int64_t)LINK_HOURS * HOUR_MS,
                    c->now_ms, token, &f) != ERR_OK) {
        http_problem_fault(c, &f);
        return;
    }
    memcpy(path + strlen("/enter/"), token, strlen(token) + 1);
    http_json(c, &w);
    jsonw_string(&w, "name", c->args[0]);
    jsonw_string(&w, "path", path);
    jsonw_int(&w, "hours", LINK_HOURS);
    http_json_end(&w);
    c->status = 201;
}

/* ---- who did what ------------------------------------------------------------------------------------- */

void api_audit(struct http_call *c)
{
    struct audit_order order = {.what = http_query(c, "what"),
                                .who = http_query(c, "who"),
                                .from = http_query(c, "from"),
                                .limit = AUDIT_LIMIT};
    const char *limit = http_query(c, "limit");
    struct audit_list list;
    struct jsonw w;
    struct fault f = {0};
    char *end = NULL;
    errno = 0;
    if (limit != NULL)
        order.limit = strtoll(limit, &end, 10);
    if (limit != NULL && (errno != 0 || limit[0] < '0' || limit[0] > '9' || *end != '\0' ||
                          order.limit < 1 || order.limit > AUDIT_LIMIT_MAX)) {
        http_problem(c, 400, "number", "\"limit\" must be a whole number from 1 to %d",
                     AUDIT_LIMIT_MAX);
        return;
    }
    const enum err err = audit_read(c->door->store, c->door->signin, &order, &list, &f);
    if (err == ERR_UNKNOWN || err == ERR_SYNTAX)
        http_problem(c, 400, "query", "%s", f.message);
    else if (err != ERR_OK)
        http_problem_fault(c, &f);
    if (err != ERR_OK)
        return;
    http_json(c, &w);
    audit_json(&list, &w);
    http_json_end(&w);
    audit_done(&list);
}

/* ---- shops -------------------------------------------------------------------------------------------- */

/* The list of shops as it is, with the tag that a change names. */
static void tell_shops(struct http_call *c, int status)
{
    struct jsonw w;
    struct fault f = {0};
    char tag[SHOPS_TAG_ROOM] = "";
    http_json(c, &w);
    const enum err err = shops_tell(c->door->store, &w, tag, &f);
    http_json_end(&w);
    if (err != ERR_OK) {
        http_problem_fault(c, &f);
        return;
    }
    http_etag(c, tag);
    c->status = status;
}

void api_shops(struct http_call *c)
{
    tell_shops(c, 200);
}

/* The list that If-Match names; false after a problem was set. */
static bool seen_of(struct http_call *c, char ret[SHOPS_TAG_ROOM])
{
    const char *match = http_header(c, "If-Match");
    const size_t n = match != NULL ? strlen(match) : 0;
    if (match == NULL || strcmp(match, "*") == 0) {
        http_problem(c, 428, "if-match", "send If-Match with the ETag of the list you looked at");
        return false;
    }
    if (n < 3 || n - 2 >= SHOPS_TAG_ROOM || match[0] != '"' || match[n - 1] != '"') {
        http_problem(c, 412, "changed", "If-Match names no list; send one ETag as it was told");
        return false;
    }
    memcpy(ret, match + 1, n - 2);
    ret[n - 2] = '\0';
    return true;
}

/* A row of the body; false after a problem was set. */
static bool row_of(struct http_call *c, json_node *row, bool is_gone, struct shops_change *ret)
{
    if (json_kind(row) != JSON_OBJECT) {
        http_problem(c, 400, "field", "a row must be an object");
        return false;
    }
    *ret = (struct shops_change){.kind = "", .rate = "", .is_gone = is_gone};
    ret->shop = api_text(c, row, "shop", ID_MAX);
    ret->from = ret->shop != NULL ? text_or_none(c, row, "from") : NULL;
    if (ret->from == NULL || is_gone)
        return ret->from != NULL;
    ret->kind = api_text(c, row, "kind", 16);
    ret->rate = ret->kind != NULL ? text_or_none(c, row, "rate") : NULL;
    return ret->rate != NULL;
}

static enum err change_shops(struct http_call *c, json_node *root, const char *seen,
                             struct fault *f)
{
    json_node *text = json_get(root, "text"), *row = json_get(root, "row"),
              *gone = json_get(root, "gone");
    struct shops_change change;
    size_t n = 0;
    const char *all = text != NULL ? json_string(text, &n) : NULL;
    if ((text != NULL) + (row != NULL) + (gone != NULL) != 1 || (text != NULL && all == NULL)) {
        http_problem(c, 400, "field",
                     "expected one of \"text\" (the whole list as CSV), \"row\" and \"gone\"");
        return ERR_SYNTAX;
    }
    if (all != NULL)
        return shops_replace(c->door->store, seen, all, n, c->now_ms, f);
    return row_of(c, row != NULL ? row : gone, gone != NULL, &change)
               ? shops_change(c->door->store, seen, &change, c->now_ms, f)
               : ERR_SYNTAX;
}

/* Who kept the paper goes beside the people; the paper itself stands on the log. */
static bool note(struct http_call *c, const char *kind, const char *name)
{
    struct fault f = {0};
    if (audit_note_paper(c->door->store, c->door->signin, c->who.name, kind, name, STORE_UNKNOWN,
                         c->now_ms, &f) == ERR_OK)
        return true;
    http_problem_fault(c, &f);
    return false;
}

void api_shops_post(struct http_call *c)
{
    struct fault f = {0};
    char seen[SHOPS_TAG_ROOM], name[STORE_ID_MAX + 1];
    struct json_doc *doc = seen_of(c, seen) ? api_body(c) : NULL;
    if (doc == NULL)
        return;
    enum err err = change_shops(c, json_root(doc), seen, &f);
    json_free(doc);
    if (c->status != 0)
        return;
    if (err == ERR_OK)
        err = shops_paper_name(c->door->store, name, &f);
    if (err == ERR_DUPLICATE && f.line == 0)
        http_problem(c, 412, "changed", "%s", f.message);
    else if (err != ERR_OK && f.line > 0) /* the list itself: which line, and what is wrong there */
        http_problem(c, 422, "refused", "line %d: %s", f.line, f.message);
    else if (err != ERR_OK)
        http_problem_fault(c, &f);
    else if (note(c, "shops", name))
        tell_shops(c, 201);
}

void api_key_post(struct http_call *c)
{
    struct fault f = {0};
    struct json_doc *doc = api_body(c);
    if (doc == NULL)
        return;
    const char *shop = api_text(c, json_root(doc), "shop", ID_MAX);
    const char *key = shop != NULL ? api_text(c, json_root(doc), "key", 128) : NULL;
    const enum err err =
        key != NULL ? shops_key_add(c->door->store, shop, key, c->now_ms, &f) : ERR_SYNTAX;
    json_free(doc);
    if (c->status != 0)
        return;
    if (err != ERR_OK)
        http_problem_fault(c, &f);
    else if (note(c, "keys", "keys"))
        tell_shops(c, 201);
}

void api_key_delete(struct http_call *c)
{
    struct fault f = {0};
    char name[STORE_ID_MAX + 1];
    const enum err err = shops_key_revoke(c->door->store, c->args[0], c->now_ms, name, &f);
    if (err == ERR_SYNTAX)
        http_problem(c, 404, "key", "there is no such key");
    else if (err != ERR_OK)
        http_problem_fault(c, &f);
    else if (note(c, "keys", name))
        tell_shops(c, 200);
}
