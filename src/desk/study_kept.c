/* study_kept: owns what a kept study is made of, and its way onto the log and back. */
#include "desk/study_kept.h"

#include "base/base64.h"
#include "base/digest.h"
#include "core/date.h"
#include "desk/study_ask.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char paper_kind[] = "study";
enum { TRIES = 50 };

/* ---- a run ----------------------------------------------------------------------------------------- */

/* The verdict that the answer in words begins with: its text and its tone. */
static void put_sentence(const struct text *said, struct jsonw *w)
{
    struct json_doc *doc = NULL;
    struct fault unused = {0};
    const char *text = NULL, *tone = NULL;
    if (json_parse(said->data != NULL ? said->data : "[]", said->size, "", &doc, &unused) == ERR_OK)
        for (size_t i = 0; i < json_size(json_root(doc)) && text == NULL; i++) {
            json_node *piece = json_at(json_root(doc), i);
            tone =
                json_get(piece, "tone") != NULL ? json_string(json_get(piece, "tone"), NULL) : NULL;
            text = tone != NULL ? json_string(json_get(piece, "text"), NULL) : NULL;
        }
    jsonw_string(w, "sentence", text != NULL ? text : "");
    jsonw_string(w, "tone", tone != NULL ? tone : "plain");
    json_free(doc);
}

static enum err put_digest(const struct text *answer, struct jsonw *w, struct fault *f)
{
    uint8_t sum[DIGEST_SHA256_SIZE];
    char hex[DIGEST_HEX_ROOM];
    struct text printed = {0};
    text_add(&printed, answer->data, answer->size);
    text_putc(&printed, '\n');
    const enum err e = printed.is_broken
                           ? ERR_MEMORY
                           : digest_bytes(DIGEST_SHA256, printed.data, printed.size, sum);
    text_done(&printed);
    if (e != ERR_OK)
        return fault_set(f, e, "the digest could not be computed");
    digest_hex(sum, sizeof sum, hex);
    jsonw_string(w, "answer_sha256", hex);
    return ERR_OK;
}

static void put_picture(const struct study_told *told, struct jsonw *w)
{
    struct text png = {0};
    if (told->svg.size > 0)
        jsonw_string_n(w, "svg", told->svg.data, told->svg.size);
    else
        jsonw_null(w, "svg");
    jsonw_string(w, "no_picture", told->no_picture[0] != '\0' ? told->no_picture : NULL);
    if (told->png.size > 0 && told->png.size <= STUDY_ASK_PICTURE_MAX)
        base64_add(&png, (const uint8_t *)told->png.data, told->png.size);
    if (png.size > 0)
        jsonw_string_n(w, "png", png.data, png.size);
    else
        jsonw_null(w, "png");
    w->out->is_broken |= png.is_broken;
    text_done(&png);
}

enum err study_run_put(const struct study_ask *ask, const struct study_told *told,
                       const char *store_name, struct jsonw *w, struct fault *reterr)
{
    struct text command = {0};
    jsonw_string(w, "study", ask->kind->kind);
    jsonw_string(w, "bulletin", told->bulletin[0] != '\0' ? told->bulletin : NULL);
    jsonw_object(w, "options");
    for (size_t i = 0; i < ask->n; i++)
        jsonw_string(w, ask->at[i].option->name, ask->at[i].text);
    jsonw_object_end(w);
    if (ask->rows != NULL)
        jsonw_string_n(w, "rows", ask->rows, ask->n_rows);
    else
        jsonw_null(w, "rows");
    study_ask_command(ask, store_name, &command);
    jsonw_string(w, "command", command.data);
    text_done(&command);
    jsonw_int(w, "code", told->code);
    put_sentence(&told->said, w);
    jsonw_raw(w, "said", told->said.data, told->said.size);
    jsonw_raw(w, "answer", told->answer.data, told->answer.size);
    const enum err e = put_digest(&told->answer, w, reterr);
    put_picture(told, w);
    return e;
}

/* ---- reading back ------------------------------------------------------------------------------------ */

static const char *text_of(json_node *object, const char *key)
{
    json_node *node = json_get(object, key);
    const char *text = node != NULL ? json_string(node, NULL) : NULL;
    return text != NULL ? text : "";
}

/* The paper as a kept study; false: it was taken out, or is none. */
static bool read_kept(const struct store_paper *p, json_node *root, struct study_kept *ret)
{
    json_node *run = json_get(root, "run"), *at = json_get(root, "at_ms");
    if (run == NULL || json_kind(run) != JSON_OBJECT || at == NULL || json_kind(at) != JSON_INT)
        return false;
    *ret = (struct study_kept){.id = p->name,
                               .person = text_of(root, "person"),
                               .note = text_of(root, "note"),
                               .at_ms = json_int(at),
                               .study = text_of(run, "study"),
                               .bulletin = text_of(run, "bulletin"),
                               .sentence = text_of(run, "sentence"),
                               .tone = text_of(run, "tone"),
                               .command = text_of(run, "command"),
                               .sha256 = text_of(run, "answer_sha256"),
                               .run = run,
                               .text = p->text,
                               .n = p->n};
    return ret->study[0] != '\0';
}

/* When each was put by, so that they can be told in that order: names begin with their kind. */
struct place {
    char id[STUDY_KEPT_ID_ROOM];
    int64_t seq;
};
struct places {
    struct place at[STUDY_KEPT_MAX];
    size_t n;
    const char *bulletin;
};

struct pass {
    study_kept_see *see;
    void *me;
    const char *bulletin;
    enum err err;
    struct fault *f;
};

static bool see_paper(void *me, const struct store_paper *p)
{
    struct pass *pass = me;
    struct json_doc *doc = NULL;
    struct fault unused = {0};
    struct study_kept kept;
    bool goes_on = true;
    pass->err = json_parse(p->text, p->n, "the log", &doc, &unused);
    if (pass->err == ERR_MEMORY) {
        (void)fault_no_memory(pass->f);
        return false;
    }
    pass->err = ERR_OK;
    if (doc != NULL && read_kept(p, json_root(doc), &kept) &&
        (pass->bulletin == NULL || kept.bulletin[0] == '\0' ||
         strcmp(pass->bulletin, kept.bulletin) == 0))
        goes_on = pass->see(pass->me, &kept);
    json_free(doc);
    return goes_on;
}

/* One by its name (NULL: all, in the store's order of names). */
static enum err pass_over(struct store *store, const char *id, const char *bulletin,
                          study_kept_see *see, void *me, struct fault *f)
{
    struct pass pass = {see, me, bulletin, ERR_OK, f};
    const enum err e = store_papers(store, paper_kind, id, true, see_paper, &pass, f);
    return e != ERR_OK ? e : pass.err;
}

static bool see_place(void *me, const struct study_kept *kept)
{
    struct places *p = me;
    if (p->n == STUDY_KEPT_MAX)
        return false;
    (void)snprintf(p->at[p->n].id, STUDY_KEPT_ID_ROOM, "%s", kept->id);
    p->at[p->n++].seq = kept->at_ms;
    return true;
}

static int by_time(const void *a, const void *b)
{
    const struct place *x = a, *y = b;
    return x->seq != y->seq ? (x->seq > y->seq) - (x->seq < y->seq) : strcmp(x->id, y->id);
}

enum err study_kept_each(struct store *store, const char *bulletin, study_kept_see *see, void *me,
                         struct fault *reterr)
{
    struct places *places = calloc(1, sizeof *places);
    if (places == NULL)
        return fault_no_memory(reterr);
    enum err e = pass_over(store, NULL, bulletin, see_place, places, reterr);
    qsort(places->at, places->n, sizeof *places->at, by_time);
    for (size_t i = 0; i < places->n && e == ERR_OK; i++)
        e = pass_over(store, places->at[i].id, bulletin, see, me, reterr);
    free(places);
    return e;
}

static bool list_one(void *me, const struct study_kept *k)
{
    struct jsonw *w = me;
    json_node *options = json_get(k->run, "options");
    jsonw_object(w, NULL);
    jsonw_string(w, "id", k->id);
    jsonw_string(w, "study", k->study);
    jsonw_string(w, "bulletin", k->bulletin[0] != '\0' ? k->bulletin : NULL);
    jsonw_string(w, "sentence", k->sentence);
    jsonw_string(w, "tone", k->tone);
    jsonw_string(w, "command", k->command);
    jsonw_object(w, "options");
    for (size_t i = 0; i < json_size(options); i++) {
        const char *key = NULL;
        json_node *value = json_member(options, i, &key);
        jsonw_string(w, key, json_string(value, NULL));
    }
    jsonw_object_end(w);
    jsonw_string(w, "sha256", k->sha256);
    jsonw_string(w, "person", k->person);
    jsonw_int(w, "at_ms", k->at_ms);
    jsonw_string(w, "note", k->note);
    jsonw_object_end(w);
    return true;
}

enum err study_kept_list(struct store *store, struct jsonw *w, struct fault *reterr)
{
    jsonw_array(w, "kept");
    const enum err e = study_kept_each(store, NULL, list_one, w, reterr);
    jsonw_array_end(w);
    return e;
}

/* ---- one ---------------------------------------------------------------------------------------------- */

struct found {
    bool is_there;
    char person[STORE_ID_MAX + 1];
    struct text *text;
};

static bool see_found(void *me, const struct study_kept *k)
{
    struct found *found = me;
    found->is_there = true;
    (void)snprintf(found->person, sizeof found->person, "%s", k->person);
    if (found->text != NULL)
        text_add(found->text, k->text, k->n);
    return false;
}

static enum err find(struct store *store, const char *id, struct found *found, struct fault *f)
{
    const enum err e = pass_over(store, id, NULL, see_found, found, f);
    if (e == ERR_OK && !found->is_there)
        return fault_set(f, ERR_UNKNOWN, "no such study is kept");
    return e;
}

enum err study_kept_get(struct store *store, const char *id, struct text *ret, struct fault *reterr)
{
    struct found found = {.text = ret};
    return find(store, id, &found, reterr);
}

/* ---- putting by, taking out ------------------------------------------------------------------------------ */

static enum err hold_run(const struct study_kept_order *o, char study[24], struct fault *f)
{
    struct json_doc *doc = NULL;
    const enum err e = json_parse(o->run, o->n, "the study", &doc, f);
    if (e != ERR_OK)
        return e;
    const char *kind = text_of(json_root(doc), "study");
    const bool is_ours =
        study_ask_find(kind) != NULL && text_of(json_root(doc), "answer_sha256")[0] != '\0';
    (void)snprintf(study, 24, "%s", is_ours ? kind : "");
    json_free(doc);
    return is_ours ? ERR_OK : fault_set(f, ERR_SYNTAX, "this is not the answer to a study");
}

static bool count_one(void *me, const struct study_kept *kept)
{
    (void)kept;
    ++*(size_t *)me;
    return true;
}

/* "window-2026-11-25T201530.123Z", so that names sort by time within a kind and tell people something. */
static void name_of(const char *study, int64_t at_ms, char ret[STUDY_KEPT_ID_ROOM])
{
    char day[DATE_SHOW_SIZE];
    const int64_t ms = at_ms % 86400000;
    date_show((int32_t)(at_ms / 86400000), day);
    (void)snprintf(ret, STUDY_KEPT_ID_ROOM, "%.10s-%.10sT%02d%02d%02d.%03dZ", study, day,
                   (int)(ms / 3600000), (int)(ms / 60000 % 60), (int)(ms / 1000 % 60),
                   (int)(ms % 1000));
}

static enum err keep_text(struct store *store, const char *study, struct text *text, int64_t at_ms,
                          char id[STUDY_KEPT_ID_ROOM], struct fault *f)
{
    static const uint8_t none[STORE_DIGEST] = {0};
    enum err e = ERR_ORDER;
    if (text->is_broken)
        return fault_no_memory(f);
    if (text->size > STORE_PAPER_MAX)
        return fault_set(f, ERR_LIMIT, "the answer is too large to be kept (at most %d MiB)",
                         STORE_PAPER_MAX / 1048576);
    for (int64_t i = 0; i < TRIES && e == ERR_ORDER; i++) { /* two in one millisecond */
        bool is_new = false;
        struct store_paper paper = {.kind = paper_kind,
                                    .name = id,
                                    .revision = STORE_UNKNOWN,
                                    .at_ms = at_ms,
                                    .text = text->data,
                                    .n = text->size,
                                    .replaces = none};
        *f = (struct fault){0};
        name_of(study, at_ms + i, id);
        e = store_keep(store, &paper, &is_new, f);
    }
    return e;
}

enum err study_kept_put(struct store *store, const struct study_kept_order *order,
                        char ret_id[STUDY_KEPT_ID_ROOM], struct fault *reterr)
{
    char study[24];
    size_t n = 0;
    struct text text = {0};
    struct jsonw w;
    enum err e = hold_run(order, study, reterr);
    if (e == ERR_OK)
        e = pass_over(store, NULL, NULL, count_one, &n, reterr);
    if (e == ERR_OK && n >= STUDY_KEPT_MAX)
        e = fault_set(reterr, ERR_LIMIT, "%d studies are kept already; take one out first",
                      STUDY_KEPT_MAX);
    if (e == ERR_OK && order->note != NULL && strlen(order->note) > STUDY_KEPT_NOTE_MAX)
        e = fault_set(reterr, ERR_LIMIT, "the note is longer than %d bytes", STUDY_KEPT_NOTE_MAX);
    if (e != ERR_OK)
        return e;
    jsonw_start(&w, &text);
    jsonw_object(&w, NULL);
    jsonw_string(&w, "person", order->person);
    jsonw_int(&w, "at_ms", order->now_ms);
    jsonw_string(&w, "note", order->note != NULL ? order->note : "");
    jsonw_raw(&w, "run", order->run, order->n);
    jsonw_object_end(&w);
    e = keep_text(store, study, &text, order->now_ms, ret_id, reterr);
    text_done(&text);
    return e;
}

enum err study_kept_drop(struct store *store, const char *id, const char *person, bool is_any,
                         int64_t now_ms, struct fault *reterr)
{
    struct found found = {0};
    struct text text = {0};
    struct jsonw w;
    bool is_new = false;
    enum err e = find(store, id, &found, reterr);
    if (e == ERR_OK && !is_any && strcmp(found.person, person) != 0)
        e = fault_set(reterr, ERR_DENIED, "%s kept it; they or an owner may take it out",
                      found.person);
    if (e != ERR_OK)
        return e;
    jsonw_start(&w, &text);
    jsonw_object(&w, NULL);
    jsonw_string(&w, "person", person);
    jsonw_int(&w, "at_ms", now_ms);
    jsonw_bool(&w, "taken_out", true);
    jsonw_object_end(&w);
    struct store_paper paper = {.kind = paper_kind,
                                .name = id,
                                .revision = STORE_UNKNOWN,
                                .at_ms = now_ms,
                                .text = text.data,
                                .n = text.size};
    e = text.is_broken ? fault_no_memory(reterr) : store_keep(store, &paper, &is_new, reterr);
    text_done(&text);
    return e;
}
