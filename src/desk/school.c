/* school: owns exams that begin and results that come in. */
#include "desk/school.h"

#include "core/date.h"
#include "practice/replay.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- an exam begins ------------------------------------------------------------------------ */

enum err school_begin(struct classroom *c, const struct school_who *who, const char *set,
                      const char *exercise, struct jsonw *w, struct fault *reterr)
{
    struct school_set s;
    struct text out = {0};
    int64_t began_ms = 0;
    enum err e = school_set_by_id(c, set, &s, reterr);
    const struct exercise *x = e == ERR_OK ? exercise_find(s.set, exercise) : NULL;
    if (e == ERR_OK && x == NULL)
        e = fault_set(reterr, ERR_UNKNOWN, "the set has no exercise '%.60s'", exercise);
    if (x != NULL && e == ERR_OK && !s.set->head.is_exam)
        e = fault_set(reterr, ERR_DOMAIN, "the set is no exam: there is nothing to begin");
    if (x != NULL && e == ERR_OK)
        e = classroom_begin(c, s.sha256, x->id, who->person, who->now_ms, &began_ms, reterr);
    if (x != NULL && e == ERR_OK) {
        exercise_export_one(x, true, &out);
        jsonw_string(w, "set", s.set->head.id);
        jsonw_string(w, "sha256", s.sha256);
        jsonw_int(w, "began_ms", began_ms);
        jsonw_raw(w, "exercise", out.data, out.size);
        if (out.is_broken)
            e = fault_no_memory(reterr);
    }
    text_done(&out);
    school_set_done(&s);
    return e;
}

/* ---- reading a result ---------------------------------------------------------------------- */

struct taking {
    json_node *root;
    struct school_set set;
    const struct exercise *x;
    struct replay_ops ops;
    struct replay played;
    struct classroom_result row;
    bool is_passed;
    struct fault *f;
};

static enum err refuse(struct taking *t, const char *key, enum err code, const char *message)
{
    json_node *node = json_get(t->root, key);
    json_place(node != NULL ? node : t->root, t->f);
    snprintf(t->f->path, sizeof t->f->path, "%s", key);
    return fault_set(t->f, code, "%s", message);
}

static enum err need_text(struct taking *t, const char *key, char *ret, size_t room)
{
    size_t n = 0;
    json_node *node = json_get(t->root, key);
    const char *text = node != NULL ? json_string(node, &n) : NULL;
    if (text == NULL || n == 0 || n >= room || strlen(text) != n)
        return refuse(t, key, ERR_TYPE, "expected a short text");
    memcpy(ret, text, n + 1);
    return ERR_OK;
}

static enum err need_whole(struct taking *t, const char *key, int64_t most, int64_t *ret)
{
    json_node *node = json_get(t->root, key);
    if (node == NULL || json_kind(node) != JSON_INT || json_int(node) < 0 || json_int(node) > most)
        return refuse(t, key, ERR_RANGE, "expected a whole number, from 0 on");
    *ret = json_int(node);
    return ERR_OK;
}

/* Two digits at s, at most `most`; -1 else. */
static int two(const char *s, int most)
{
    if (s[0] < '0' || s[0] > '9' || s[1] < '0' || s[1] > '9')
        return -1;
    const int n = (s[0] - '0') * 10 + (s[1] - '0');
    return n <= most ? n : -1;
}

/* "2026-11-25T20:51:10.123Z" (RFC 3339, in UTC, as pages write it). */
static bool read_moment(const char *s, int64_t *ret_ms)
{
    int32_t day = 0;
    const size_t n = strlen(s);
    if (n < 20 || n > 30 || date_parse(s, 10, &day) != ERR_OK || s[10] != 'T' || s[13] != ':' ||
        s[16] != ':' || s[n - 1] != 'Z')
        return false;
    const int hours = two(s + 11, 23), minutes = two(s + 14, 59), seconds = two(s + 17, 60);
    int64_t part = 0, unit = 100;
    if (hours < 0 || minutes < 0 || seconds < 0 || (n > 20 && (s[19] != '.' || n == 21)))
        return false;
    for (size_t i = 20; i + 1 < n; i++, unit /= 10) {
        if (s[i] < '0' || s[i] > '9')
            return false;
        part += unit * (s[i] - '0');
    }
    *ret_ms = (((int64_t)day * 24 + hours) * 60 + minutes) * 60000 + (int64_t)seconds * 1000 + part;
    return true;
}

static enum err need_moment(struct taking *t, const char *key, int64_t *ret)
{
    char text[32] = "";
    if (need_text(t, key, text, sizeof text) != ERR_OK || !read_moment(text, ret))
        return refuse(t, key, ERR_TYPE,
                      "expected a moment in UTC (RFC 3339), as 2026-11-25T20:51:10Z");
    return ERR_OK;
}

static enum err read_mode(struct taking *t)
{
    char mode[16];
    const enum err e = need_text(t, "mode", mode, sizeof mode);
    if (e != ERR_OK)
        return e;
    t->row.is_exam = strcmp(mode, "exam") == 0;
    return t->row.is_exam || strcmp(mode, "practice") == 0
               ? ERR_OK
               : refuse(t, "mode", ERR_UNKNOWN, "expected practice or exam");
}

static enum err read_head(struct taking *t)
{
    struct classroom_result *r = &t->row;
    enum err e = need_text(t, "set", r->set, sizeof r->set);
    if (e == ERR_OK)
        e = need_text(t, "set_sha256", r->set_sha256, sizeof r->set_sha256);
    if (e == ERR_OK)
        e = need_text(t, "exercise", r->exercise, sizeof r->exercise);
    if (e == ERR_OK)
        e = read_mode(t);
    if (e == ERR_OK)
        e = need_whole(t, "hints_used", 1000, &r->hints);
    if (e == ERR_OK)
        e = need_moment(t, "began", &r->began_ms);
    if (e == ERR_OK)
        e = need_moment(t, "ended", &r->ended_ms);
    if (e == ERR_OK && r->ended_ms < r->began_ms)
        e = refuse(t, "ended", ERR_DOMAIN, "it ended before it began");
    return e;
}

static enum err find_exercise(struct taking *t, struct classroom *c)
{
    int64_t seed = 0;
    enum err e = school_set_by_digest(c, t->row.set_sha256, &t->set, t->f);
    if (e != ERR_OK)
        return e;
    if (strcmp(t->set.set->head.id, t->row.set) != 0)
        return refuse(t, "set", ERR_UNKNOWN, "the digest is another set's");
    t->x = exercise_find(t->set.set, t->row.exercise);
    if (t->x == NULL)
        return refuse(t, "exercise", ERR_UNKNOWN, "the set has no such exercise");
    e = need_whole(t, "seed", INT32_MAX, &seed);
    if (e == ERR_OK && seed != t->x->seed)
        e = refuse(t, "seed", ERR_DOMAIN, "the exercise has another seed");
    return e;
}

/* What an exam asks for. */
static enum err check_exam(struct taking *t, struct classroom *c, const struct school_who *who)
{
    int64_t began_ms = 0;
    if (t->row.is_exam && t->row.hints > 0)
        return refuse(t, "hints_used", ERR_DOMAIN, "an exam is done without hints");
    if (!t->set.set->head.is_exam)
        return ERR_OK;
    if (!t->row.is_exam)
        return refuse(t, "mode", ERR_DOMAIN, "this set is an exam, and is not practised");
    enum err e = classroom_began(c, t->set.sha256, t->x->id, who->person, &began_ms, t->f);
    if (e == ERR_OK && began_ms == 0)
        e = refuse(t, "exercise", ERR_DOMAIN, "this exam was not begun here by you");
    return e;
}

static enum err play(struct taking *t)
{
    size_t at = 0, n_given = 0;
    struct classroom_result *r = &t->row;
    json_node *answers = json_get(t->root, "answers");
    enum err e = replay_ops_read(json_get(t->root, "ops"), &t->ops, t->f);
    if (e != ERR_OK)
        return e;
    if (answers != NULL && json_kind(answers) != JSON_OBJECT)
        return refuse(t, "answers", ERR_TYPE, "expected an object: question and choice");
    e = replay_run(t->x, t->ops.at, t->ops.n, NULL, &t->played, &at);
    if (e != ERR_OK)
        return refuse(t, "ops", e, "the operations cannot be played on this exercise");
    r->right = (int64_t)replay_answers(t->x, answers, &n_given);
    r->questions = (int64_t)t->x->questions.n;
    r->seconds = t->played.score.seconds;
    r->moves = t->played.score.n_moves;
    r->cautions = t->played.score.n_cautions;
    t->is_passed = t->played.is_reached && r->right == r->questions;
    r->is_reached = t->is_passed;
    return ERR_OK;
}

/* Of the answers only those that are choices of the exercise. */
static void tell_answers(const struct taking *t, struct jsonw *w)
{
    json_node *answers = json_get(t->root, "answers");
    jsonw_object(w, "answers");
    for (size_t i = 0; i < t->x->questions.n; i++) {
        const struct exercise_question *q = &t->x->questions.at[i];
        json_node *answer = answers != NULL ? json_get(answers, q->id) : NULL;
        const char *text = answer != NULL ? json_string(answer, NULL) : NULL;
        for (size_t k = 0; text != NULL && k < q->choices.n; k++)
            if (strcmp(q->choices.at[k].id, text) == 0) {
                jsonw_object(w, q->id);
                jsonw_string(w, "choice", text);
                jsonw_bool(w, "right", q->choices.at[k].is_right);
                jsonw_object_end(w);
            }
    }
    jsonw_object_end(w);
}

static void tell_account(const struct taking *t, struct jsonw *w)
{
    jsonw_bool(w, "passed", t->is_passed);
    replay_tell(t->x, &t->played, w);
    jsonw_int(w, "right", t->row.right);
    jsonw_int(w, "questions", t->row.questions);
    tell_answers(t, w);
}

static enum err add(struct taking *t, struct classroom *c, bool *ret_new)
{
    struct text account = {0};
    struct jsonw w;
    struct replay_reading found[SCHOOL_READINGS_MAX];
    struct classroom_reading readings[SCHOOL_READINGS_MAX];
    enum classroom_added added = CLASSROOM_NEW;
    jsonw_start(&w, &account);
    jsonw_object(&w, NULL);
    tell_account(t, &w);
    jsonw_object_end(&w);
    const size_t n = replay_readings(t->x, t->ops.at, t->ops.n, found, SCHOOL_READINGS_MAX);
    for (size_t i = 0; i < n; i++)
        readings[i] = (struct classroom_reading){found[i].place, found[i].nano};
    t->row.account = account.data;
    t->row.n_account = account.size;
    enum err e = account.is_broken ? fault_no_memory(t->f)
                                   : classroom_add(c, &t->row, readings, n, &added, t->f);
    text_done(&account);
    t->row.account = NULL;
    *ret_new = e == ERR_OK && added == CLASSROOM_NEW;
    if (e == ERR_OK && added == CLASSROOM_SECOND)
        e = refuse(t, "exercise", ERR_DUPLICATE,
                   "an exam in this exercise was handed in already: one attempt counts");
    return e;
}

static enum err take(struct taking *t, struct classroom *c, const struct school_who *who,
                     bool *ret_new)
{
    snprintf(t->row.person, sizeof t->row.person, "%s", who->person);
    snprintf(t->row.shop, sizeof t->row.shop, "%s", who->shop);
    t->row.came_ms = who->now_ms;
    if (json_kind(t->root) != JSON_OBJECT)
        return fault_set(t->f, ERR_TYPE, "expected an object, found %s",
                         json_kind_name(json_kind(t->root)));
    enum err e = read_head(t);
    if (e == ERR_OK)
        e = find_exercise(t, c);
    if (e == ERR_OK)
        e = check_exam(t, c, who);
    if (e == ERR_OK)
        e = play(t);
    return e == ERR_OK ? add(t, c, ret_new) : e;
}

enum err school_take(struct classroom *c, const struct school_who *who, const char *text, size_t n,
                     struct jsonw *w, bool *ret_new, struct fault *reterr)
{
    struct json_doc *doc = NULL;
    struct taking *t = calloc(1, sizeof *t);
    uint8_t digest[DIGEST_SHA256_SIZE];
    *ret_new = false;
    if (t == NULL)
        return fault_no_memory(reterr);
    enum err e = json_parse(text, n, "", &doc, reterr);
    if (e == ERR_OK) {
        e = digest_bytes(DIGEST_SHA256, text, n, digest);
        if (e != ERR_OK)
            fault_set(reterr, e, "the digest could not be made");
    }
    if (e == ERR_OK) {
        digest_hex(digest, sizeof digest, t->row.digest);
        t->root = json_root(doc);
        t->f = reterr;
        e = take(t, c, who, ret_new);
    }
    if (e == ERR_OK) {
        jsonw_string(w, "result", t->row.digest);
        jsonw_bool(w, "already", !*ret_new);
        tell_account(t, w);
    }
    replay_ops_done(&t->ops);
    school_set_done(&t->set);
    free(t);
    json_free(doc);
    return e;
}
