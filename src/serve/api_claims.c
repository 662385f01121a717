/* api_claims: owns bulletins, claims and photos over HTTP. What they hold is desk/tell.h's business. */
#include "serve/api.h"

#include "base/media.h"
#include "desk/pictures.h"
#include "desk/tell.h"
#include "serve/shelf.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* The shop whose things may be seen; NULL: every shop's. */
static const char *own_shop(const struct http_call *c)
{
    return c->who.role == SIGNIN_TECHNICIAN ? c->who.shop : NULL;
}

int64_t api_number(struct http_call *c, const char *name, const char *text, int64_t usual,
                   int64_t most)
{
    char *end = NULL;
    if (text == NULL)
        return usual;
    errno = 0;
    const long long n = strtoll(text, &end, 10);
    if (errno == 0 && text[0] >= '0' && text[0] <= '9' && *end == '\0' && n >= 1 && n <= most)
        return n;
    http_problem(c, 400, "number", "\"%s\" must be a whole number from 1 to %lld", name,
                 (long long)most);
    return 0;
}

void api_bulletins(struct http_call *c)
{
    struct jsonw w;
    struct fault f = {0};
    http_json(c, &w);
    const enum err err = tell_bulletins(c->door->store, &w, &f);
    http_json_end(&w);
    if (err != ERR_OK)
        http_problem_fault(c, &f);
}

/* A bulletin as JSON is made once: its digest says all of it. */
static enum err bulletin_json(struct http_call *c, int64_t revision, char sha256[65],
                              struct fault *f)
{
    if (shelf_get(http_shelf_of(c->http), sha256, &c->answer))
        return ERR_OK;
    const enum err err =
        tell_bulletin(c->door->store, c->args[0], revision, false, &c->answer, sha256, f);
    if (err == ERR_OK)
        shelf_put(http_shelf_of(c->http), sha256, &c->answer);
    return err;
}

static void tell(struct http_call *c, bool is_file)
{
    char sha256[65] = "";
    struct fault f = {0};
    const int64_t revision = api_number(c, "revision", c->args[1], 0, 1000000);
    if (c->status != 0)
        return;
    enum err err = tell_bulletin_sha256(c->door->store, c->args[0], revision, sha256, &f);
    if (err == ERR_OK)
        http_etag(c, sha256);
    if (err == ERR_OK && http_is_match(c)) {
        c->status = 304;
        return;
    }
    if (err == ERR_OK)
        err = is_file ? tell_bulletin(c->door->store, c->args[0], revision, true, &c->answer,
                                      sha256, &f)
                      : bulletin_json(c, revision, sha256, &f);
    if (err != ERR_OK) {
        http_problem_fault(c, &f);
        return;
    }
    http_etag(c, sha256); /* of what is told, should a later one have come in between */
    c->type = is_file ? "application/yaml; charset=utf-8" : "application/json";
}

void api_bulletin(struct http_call *c)
{
    tell(c, false);
}

void api_bulletin_file(struct http_call *c)
{
    tell(c, true);
}

/* A picture is shown, never run: an SVG opened by itself would be a page of this server, so it is shut in (no script, no origin, nothing
 * fetched; Content Security Policy Level 3, "sandbox"). Inside <img> none of it runs anyway. */
static const char picture_policy[] =
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; sandbox";

void api_picture(struct http_call *c)
{
    char tag[65] = "";
    const char *type = NULL;
    struct fault f = {0};
    const int64_t revision = api_number(c, "revision", c->args[1], 0, 1000000);
    if (c->status != 0)
        return;
    if (picture_find(c->door->store, c->args[0], revision, c->args[2], &c->answer, tag, &type,
                     &f) != ERR_OK) {
        http_problem_fault(c, &f);
        return;
    }
    c->policy = picture_policy;
    c->type = type;
    http_tagged(c, tag);
}

/* A query's word among those that there are; NULL when it is not given, or after a problem was set. */
static const char *word_of(struct http_call *c, const char *name, const char *const *words)
{
    struct text all = {0};
    const char *given = http_query(c, name);
    for (size_t i = 0; given != NULL && words[i] != NULL; i++)
        if (strcmp(words[i], given) == 0)
            return words[i];
    if (given == NULL || c->status != 0)
        return NULL;
    for (size_t i = 0; words[i] != NULL; i++)
        text_printf(&all, "%s%s", i > 0 ? ", " : "", words[i]);
    http_problem(c, 400, "word", "\"%s\" must be one of: %s", name,
                 all.data != NULL ? all.data : "");
    text_done(&all);
    return NULL;
}

void api_claims(struct http_call *c)
{
    static const char *const none[] = {"none", NULL};
    struct jsonw w;
    struct fault f = {0};
    const struct tell_order order = {
        .shop = own_shop(c) != NULL ? own_shop(c) : http_query(c, "shop"),
        .vin = http_query(c, "vin"),
        .tail = http_query(c, "tail"),
        .verdict = word_of(c, "verdict", tell_verdicts),
        .needs = word_of(c, "needs", tell_needs),
        .bulletin = http_query(c, "bulletin"),
        .rule = http_query(c, "rule"),
        .is_clean = word_of(c, "findings", none) != NULL,
        .after = http_query(c, "after"),
        .n_max = (int)api_number(c, "limit", http_query(c, "limit"), 100, TELL_CLAIMS_MAX)};
    if (c->status != 0)
        return;
    http_json(c, &w);
    enum err err = tell_claims(c->door->store, &order, &w, &f);
    if (err == ERR_OK)
        err = tell_counts(c->door->store, own_shop(c), &w, &f);
    http_json_end(&w);
    if (err != ERR_OK)
        http_problem_fault(c, &f);
}

void api_claim(struct http_call *c)
{
    struct jsonw w;
    struct fault f = {0};
    char tag[TELL_TAG_ROOM] = "";
    int64_t seq = 0;
    http_json(c, &w);
    const enum err err =
        tell_claim(c->door->store, c->door->limits, c->args[0], own_shop(c), &w, tag, &seq, &f);
    http_json_end(&w);
    if (err != ERR_OK) {
        http_problem_fault(c, &f);
        return;
    }
    http_tagged(c, tag);
}

void api_claim_events(struct http_call *c)
{
    struct fault f = {0};
    text_clear(&c->answer);
    c->type = "application/json";
    if (tell_events(c->door->store, c->args[0], own_shop(c), &c->answer, &f) != ERR_OK)
        http_problem_fault(c, &f);
}

void api_photo(struct http_call *c)
{
    char ext[8];
    struct fault f = {0};
    const enum err err =
        tell_photo(c->door->store, c->args[0], own_shop(c), c->args[1], &c->answer, ext, &f);
    if (err != ERR_OK) {
        text_clear(&c->answer); /* not one byte of a photo that is not what its name says */
        if (err == ERR_UNKNOWN)
            http_problem_fault(c, &f);
        else if (err == ERR_DOMAIN || err == ERR_OPEN)
            http_problem(
                c, 503, "failed",
                "the photo is missing or damaged at the server; whoever runs it sees more by "
                "`store verify`");
        else
            http_problem(c, 503, "failed", "the photo cannot be read now");
        return;
    }
    http_etag(c, c->args[1]);
    c->type = media_of_photo(ext);
    c->may_keep = true; /* named by its content */
}
