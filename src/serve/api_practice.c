/* api_practice: owns practice over HTTP: sets of exercises, exams that begin, results. What is told and taken is desk/school.h's business;
 * here are the path, the body and the statuses. */
#include "serve/api.h"

#include "desk/school.h"

static struct school_who who_of(const struct http_call *c)
{
    return (struct school_who){.person = c->who.name,
                               .shop = c->who.shop,
                               .is_owner = c->who.role == SIGNIN_OWNER,
                               .now_ms = c->now_ms};
}

void api_practice_sets(struct http_call *c)
{
    struct jsonw w;
    struct fault f = {0};
    const struct school_who who = who_of(c);
    http_json(c, &w);
    const enum err err = school_sets(c->door->classroom, &who, &w, &f);
    http_json_end(&w);
    if (err != ERR_OK)
        http_problem_fault(c, &f);
}

/* A text that is a member of the body; NULL after a problem was set. */
static const char *text_of(struct http_call *c, struct json_doc *doc, const char *name, size_t max,
                           size_t *ret_n)
{
    json_node *node = doc != NULL ? json_get(json_root(doc), name) : NULL;
    const char *text = node != NULL ? json_string(node, ret_n) : NULL;
    if (doc != NULL && text == NULL)
        http_problem(c, 422, "refused", "expected a member \"%s\" with the file's text", name);
    else if (text != NULL && *ret_n > max) {
        http_problem(c, 413, "large", "the file has at most %zu bytes", max);
        text = NULL;
    }
    return text;
}

/* What `work` says of the text in that member. */
static void answer_text(struct http_call *c, const char *member, size_t most,
                        enum err (*work)(const char *text, size_t n, struct jsonw *w,
                                         struct fault *reterr))
{
    size_t n = 0;
    struct jsonw w;
    struct fault f = {0};
    struct json_doc *doc = api_body(c);
    const char *text = text_of(c, doc, member, most, &n);
    if (text != NULL) {
        http_json(c, &w);
        const enum err err = work(text, n, &w, &f);
        http_json_end(&w);
        if (err != ERR_OK)
            http_problem_fault(c, &f);
    }
    json_free(doc);
}

void api_practice_check(struct http_call *c)
{
    answer_text(c, "text", EXERCISE_SIZE_MAX, school_check);
}

void api_practice_put(struct http_call *c)
{
    size_t n = 0;
    struct jsonw w;
    struct fault f = {0};
    struct json_doc *doc = api_body(c);
    const char *text = text_of(c, doc, "text", EXERCISE_SIZE_MAX, &n);
    if (text != NULL) {
        const struct school_who who = who_of(c);
        http_json(c, &w);
        const enum err err = school_share(c->door->classroom, &who, c->args[0], text, n, &w, &f);
        http_json_end(&w);
        if (err != ERR_OK)
            http_problem_fault(c, &f);
    }
    json_free(doc);
}

void api_practice_delete(struct http_call *c)
{
    struct fault f = {0};
    http_empty(c, classroom_withdraw(c->door->classroom, c->args[0], &f), &f);
}

void api_practice_begin(struct http_call *c)
{
    struct jsonw w;
    struct fault f = {0};
    const struct school_who who = who_of(c);
    http_json(c, &w);
    const enum err err = school_begin(c->door->classroom, &who, c->args[0], c->args[1], &w, &f);
    http_json_end(&w);
    if (err != ERR_OK)
        http_problem_fault(c, &f);
}

void api_practice_results(struct http_call *c)
{
    struct jsonw w;
    struct fault f = {0};
    http_json(c, &w);
    const enum err err = school_results(c->door->classroom, &w, &f);
    http_json_end(&w);
    if (err != ERR_OK)
        http_problem_fault(c, &f);
}

void api_practice_post(struct http_call *c)
{
    struct jsonw w;
    struct fault f = {0};
    bool is_new = false;
    const struct school_who who = who_of(c);
    http_json(c, &w);
    const enum err err =
        school_take(c->door->classroom, &who, c->body.data != NULL ? c->body.data : "",
                    c->body.size, &w, &is_new, &f);
    http_json_end(&w);
    if (err != ERR_OK)
        http_problem_fault(c, &f);
    else
        c->status = is_new ? 201 : 200;
}

void api_practice_gauge(struct http_call *c)
{
    answer_text(c, "csv", SCHOOL_CSV_MAX, school_gauge);
}
