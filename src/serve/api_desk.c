/* api_desk: owns what a clerk does over HTTP: ruling over the rules, taking it back, paying, noting; the letter. Whatever changes a claim
 * says by If-Match which state was looked at; when it has changed meanwhile the answer tells what is there now. */
#include "serve/api.h"

#include "desk/clerk.h"
#include "desk/ruling.h"
#include "desk/ruling_letter.h"
#include "desk/tell.h"

#include <string.h>

/* ---- the state that was looked at ----------------------------------------------------------------- */

/* 412 with what is there now, or 404. */
static void put_present(struct http_call *c, const char *claim)
{
    struct jsonw w;
    struct fault f = {0};
    http_problem_open(c, &w, 412, "changed",
                      "somebody changed it since you looked; nothing was written. What is there "
                      "now stands in \"present\"");
    jsonw_object(&w, "present");
    const enum err err = tell_present(c->door->store, claim, &w, &f);
    jsonw_object_end(&w);
    http_json_end(&w);
    if (err != ERR_OK)
        http_problem_fault(c, &f);
}

/* The entry that If-Match names; 0 after a problem was set. `*` names no state, and a list of several no single one. */
static int64_t seen_seq(struct http_call *c)
{
    char tag[TELL_TAG_ROOM] = "";
    const char *given = http_header(c, "If-Match");
    const size_t n = given != NULL ? strlen(given) : 0;
    if (given == NULL || strcmp(given, "*") == 0) {
        http_problem(c, 428, "if-match", "send If-Match with the ETag of what you looked at");
        return 0;
    }
    if (n >= 3 && n < sizeof tag + 2 && given[0] == '"' && given[n - 1] == '"') {
        memcpy(tag, given + 1, n - 2);
        tag[n - 2] = '\0';
    }
    const int64_t seq = tell_tag_seq(c->args[0], tag);
    if (seq == 0)
        put_present(c, c->args[0]);
    return seq;
}

/* The claim as it is now, after what was done. */
static void put_claim(struct http_call *c)
{
    struct jsonw w;
    struct fault f = {0};
    char tag[TELL_TAG_ROOM] = "";
    int64_t seq = 0;
    http_json(c, &w);
    const enum err err =
        tell_claim(c->door->store, c->door->limits, c->args[0], NULL, &w, tag, &seq, &f);
    http_json_end(&w);
    if (err != ERR_OK)
        http_problem_fault(c, &f);
    else
        http_etag(c, tag);
}

static void finish(struct http_call *c, enum err err, bool is_late, const struct fault *f)
{
    if (err != ERR_OK)
        http_problem_fault(c, f);
    else if (is_late)
        put_present(c, c->args[0]);
    else
        put_claim(c);
}

/* ---- words ---------------------------------------------------------------------------------------- */

enum { TEXT_MAX = 1000 };

/* An amount in whole minor units; *ret BULLETIN_NO_AMOUNT where it is not given. false after a problem was set. */
static bool read_amount(struct http_call *c, json_node *root, int64_t *ret)
{
    json_node *node = json_get(root, "amount_minor");
    *ret = BULLETIN_NO_AMOUNT;
    if (node == NULL || json_kind(node) == JSON_NULL)
        return true;
    if (json_kind(node) != JSON_INT || json_int(node) < 0) {
        http_problem(c, 400, "field", "\"amount_minor\" must be a whole number of minor units");
        return false;
    }
    *ret = json_int(node);
    return true;
}

void api_ruling_post(struct http_call *c)
{
    struct fault f = {0};
    bool is_late = false;
    int64_t amount_minor = 0;
    struct json_doc *doc = api_body(c);
    if (doc == NULL)
        return;
    json_node *root = json_root(doc);
    const char *verdict = api_text(c, root, "verdict", 16);
    const char *reason = verdict != NULL ? api_text(c, root, "reason", TEXT_MAX) : NULL;
    const bool is_read = reason != NULL && read_amount(c, root, &amount_minor);
    const int64_t seq = is_read ? seen_seq(c) : 0;
    if (seq != 0) {
        const struct ruling_word word = {c->args[0], c->who.name, reason, c->now_ms, seq};
        const enum err err = ruling_say(c->door->store, &word, verdict, amount_minor, &is_late, &f);
        finish(c, err, is_late, &f);
    }
    json_free(doc);
}

void api_ruling_delete(struct http_call *c)
{
    struct fault f = {0};
    bool is_late = false;
    const int64_t seq = seen_seq(c);
    if (seq == 0)
        return;
    const struct ruling_word word = {c->args[0], c->who.name, NULL, c->now_ms, seq};
    const enum err err = ruling_take_back(c->door->store, &word, &is_late, &f);
    finish(c, err, is_late, &f);
}

void api_note_post(struct http_call *c)
{
    struct fault f = {0};
    bool is_late = false;
    struct json_doc *doc = api_body(c);
    const char *text = doc != NULL ? api_text(c, json_root(doc), "text", TEXT_MAX) : NULL;
    const int64_t seq = text != NULL ? seen_seq(c) : 0;
    if (seq != 0) {
        const struct ruling_word word = {c->args[0], c->who.name, text, c->now_ms, seq};
        const enum err err = ruling_note(c->door->store, &word, &is_late, &f);
        finish(c, err, is_late, &f);
    }
    json_free(doc);
}

/* ---- money ---------------------------------------------------------------------------------------- */

void api_payment_post(struct http_call *c)
{
    struct fault f = {0};
    bool is_late = false;
    int64_t amount_minor = 0;
    const int64_t seq = seen_seq(c);
    if (seq == 0)
        return;
    const struct ruling_word word = {c->args[0], c->who.name, NULL, c->now_ms, seq};
    const enum err err = ruling_pay(c->door->store, &word, &amount_minor, &is_late, &f);
    if (err == ERR_OK && !is_late && amount_minor == 0)
        http_problem(c, 409, "nothing-due", "nothing is due for this claim: nothing was paid");
    else
        finish(c, err, is_late, &f);
}

struct settled {
    struct jsonw *w;
    int64_t n_paid;
};

static void see_settled(void *me, const char *claim, enum clerk_result result, int64_t amount_minor)
{
    struct settled *s = me;
    s->n_paid += result == CLERK_PAID;
    jsonw_object(s->w, NULL);
    jsonw_string(s->w, "claim", claim);
    jsonw_string(s->w, "result", clerk_result_name(result));
    jsonw_int(s->w, "paid_minor", amount_minor);
    jsonw_object_end(s->w);
}

/* The list of the body; its texts are the document's. false after a problem was set. */
static bool read_seen(struct http_call *c, json_node *root,
                      struct clerk_seen seen[CLERK_SETTLE_MAX], size_t *ret_n)
{
    json_node *list = json_get(root, "claims");
    *ret_n = json_size(list);
    if (list == NULL || json_kind(list) != JSON_ARRAY || *ret_n == 0 || *ret_n > CLERK_SETTLE_MAX) {
        http_problem(c, 400, "field", "\"claims\" must be a list of 1 to %d claims",
                     (int)CLERK_SETTLE_MAX);
        return false;
    }
    for (size_t i = 0; i < *ret_n; i++) {
        json_node *one = json_at(list, i);
        seen[i].claim = api_text(c, one, "claim", 32);
        seen[i].tag = seen[i].claim != NULL ? api_text(c, one, "etag", TELL_TAG_ROOM) : NULL;
        if (seen[i].tag == NULL)
            return false;
    }
    return true;
}

void api_settle_post(struct http_call *c)
{
    struct clerk_seen seen[CLERK_SETTLE_MAX];
    struct fault f = {0};
    struct jsonw w;
    size_t n = 0;
    struct json_doc *doc = api_body(c);
    if (doc != NULL && read_seen(c, json_root(doc), seen, &n)) {
        struct settled settled = {.w = &w};
        http_json(c, &w);
        jsonw_array(&w, "claims");
        const enum err err = clerk_settle(c->door->store, seen, n, c->who.name, c->now_ms,
                                          see_settled, &settled, &f);
        jsonw_array_end(&w);
        jsonw_int(&w, "n_paid", settled.n_paid);
        http_json_end(&w);
        if (err != ERR_OK)
            http_problem_fault(c, &f);
    }
    json_free(doc);
}

/* ---- the letter ------------------------------------------------------------------------------------ */

void api_letter(struct http_call *c)
{
    struct fault f = {0};
    const char *as = http_query(c, "as"), *language = http_query(c, "language"),
               *paper = http_query(c, "paper");
    const struct ruling_letter_order order = {
        .claim = c->args[0],
        .shop = c->who.role == SIGNIN_TECHNICIAN ? c->who.shop : NULL,
        .language = language,
        .size = paper != NULL && strcmp(paper, "letter") == 0 ? PAPER_LETTER : PAPER_A4,
        .is_pdf = as != NULL && strcmp(as, "pdf") == 0,
        .now_ms = c->now_ms};
    if ((as != NULL && !order.is_pdf && strcmp(as, "text") != 0) ||
        (paper != NULL && order.size == PAPER_A4 && strcmp(paper, "a4") != 0) ||
        (language != NULL && strcmp(language, "en") != 0 && strcmp(language, "es") != 0 &&
         strcmp(language, "fr") != 0)) {
        http_problem(c, 400, "word",
                     "expected as=text or pdf, language=en, es or fr, paper=a4 or letter");
        return;
    }
    text_clear(&c->answer);
    c->type = order.is_pdf ? "application/pdf" : "text/plain; charset=utf-8";
    if (ruling_letter(c->door->store, &order, &c->answer, &f) != ERR_OK)
        http_problem_fault(c, &f);
}
