/* api_studies: owns studies over HTTP: what may be asked, beginning one as long work, and those that are put by for the report. The answer is
 * the command's own (http_settings.study); what is put by is taken from the task that made it, never from the page, so that nobody can put a
 * figure on record that was not worked out here. */
#include "serve/api.h"

#include "desk/study_ask.h"
#include "desk/study_kept.h"
#include "serve/tasks.h"

#include <stdlib.h>
#include <string.h>

static const char task_kind[] = "study";

/* ---- the list ------------------------------------------------------------------------------------------ */

void api_studies(struct http_call *c)
{
    struct jsonw w;
    struct fault f = {0};
    http_json(c, &w);
    study_ask_list(&w);
    jsonw_object(&w, "last");
    for (const struct study_ask_kind *k = study_ask_kinds; k->kind != NULL; k++)
        tasks_brief(http_tasks_of(c->http), task_kind, k->kind, &w, k->kind);
    jsonw_object_end(&w);
    const enum err err = study_kept_list(c->door->store, &w, &f);
    http_json_end(&w);
    if (err != ERR_OK)
        http_problem_fault(c, &f);
}

/* ---- asking -------------------------------------------------------------------------------------------- */

static enum err read_options(json_node *options, struct study_ask *ask, struct fault *f)
{
    enum err err = ERR_OK;
    if (options == NULL || json_kind(options) != JSON_OBJECT)
        return fault_set(f, ERR_SYNTAX, "expected a member \"options\" that is an object");
    for (size_t i = 0; i < json_size(options) && err == ERR_OK; i++) {
        const char *name = NULL;
        size_t n = 0;
        json_node *node = json_member(options, i, &name);
        const char *text = json_string(node, &n);
        err = text != NULL
                  ? study_ask_set(ask, name, text, n, f)
                  : fault_set(f, ERR_SYNTAX, "\"%.40s\" must be a text, such as \"95\"", name);
    }
    return err;
}

/* The body's members; the rows are borrowed from it. */
static enum err read_ask(json_node *body, struct study_ask *ask, struct fault *f)
{
    const enum err err = read_options(json_get(body, "options"), ask, f);
    json_node *rows = json_get(body, "rows");
    if (err != ERR_OK)
        return err;
    if (rows != NULL)
        ask->rows = json_string(rows, &ask->n_rows);
    if (ask->kind->columns == NULL)
        return rows == NULL
                   ? ERR_OK
                   : fault_set(f, ERR_SYNTAX,
                               "this study takes its rows from the store; send no \"rows\"");
    if (ask->rows == NULL || ask->n_rows == 0)
        return fault_set(f, ERR_EMPTY, "expected \"rows\": a table as CSV with the columns %s",
                         ask->kind->columns);
    if (ask->n_rows > STUDY_ASK_ROWS_MAX)
        return fault_set(f, ERR_LIMIT, "found %zu bytes of rows; expected at most %d", ask->n_rows,
                         (int)STUDY_ASK_ROWS_MAX);
    return ERR_OK;
}

static bool go_on(void *me, const char *what, uint64_t done, uint64_t all)
{
    task_step(me, what, done, all);
    return !task_is_stopped(me);
}

/* What the list of studies shows of the last run. */
static void leave_brief(struct task *task, const struct study_ask *ask, const char *run, size_t n)
{
    struct json_doc *doc = NULL;
    struct text brief = {0};
    struct fault unused = {0};
    struct jsonw w;
    if (json_parse(run, n, "", &doc, &unused) != ERR_OK)
        return;
    jsonw_start(&w, &brief);
    jsonw_object(&w, NULL);
    jsonw_string(&w, "sentence", json_string(json_get(json_root(doc), "sentence"), NULL));
    jsonw_string(&w, "tone", json_string(json_get(json_root(doc), "tone"), NULL));
    jsonw_string(&w, "person", task_person(task));
    jsonw_int(&w, "at_ms", task_now_ms(task));
    jsonw_object(&w, "options");
    for (size_t i = 0; i < ask->n; i++)
        jsonw_string(&w, ask->at[i].option->name, ask->at[i].text);
    jsonw_object_end(&w);
    jsonw_object_end(&w);
    task_brief(task, &brief);
    text_done(&brief);
    json_free(doc);
}

static enum err run_ask(struct task *task, const struct study_ask *ask, struct jsonw *w,
                        struct fault *f)
{
    struct study_told told;
    char name[STUDY_ASK_STORE_ROOM];
    const struct study_watch watch = {go_on, task};
    enum err err = task_study(task)(task_store(task), ask, &watch, &told, f);
    if (err != ERR_OK)
        return err;
    study_ask_store(task_store(task), name);
    err = study_run_put(ask, &told, name, w, f);
    study_told_done(&told);
    return err;
}

/* The object is closed by the tasks; the brief is of what stands so far, closed. */
static void brief_of(struct task *task, const struct study_ask *ask, const struct jsonw *w)
{
    struct text so_far = {0};
    text_add(&so_far, w->out->data, w->out->size);
    text_putc(&so_far, '}');
    if (!so_far.is_broken)
        leave_brief(task, ask, so_far.data, so_far.size);
    text_done(&so_far);
}

static enum err run(struct task *task, struct jsonw *w, struct fault *f)
{
    struct json_doc *doc = NULL;
    const struct text *body = task_body(task);
    struct study_ask *ask = calloc(1, sizeof *ask);
    if (ask == NULL)
        return fault_no_memory(f);
    ask->kind = study_ask_find(task_words(task));
    ask->read_from = task_read_from(task);
    enum err err = json_parse(body->data, body->size, "", &doc, f);
    if (err == ERR_OK)
        err = read_ask(json_root(doc), ask, f);
    if (err == ERR_OK)
        err = run_ask(task, ask, w, f);
    if (err == ERR_OK)
        brief_of(task, ask, w);
    json_free(doc);
    free(ask);
    return err;
}

void api_study_post(struct http_call *c)
{
    struct fault f = {0};
    struct study_ask ask = {.kind = study_ask_find(c->args[0])};
    if (ask.kind == NULL || http_settings_of(c->http)->study == NULL) {
        http_problem(c, 404, "study", "there is no such study");
        return;
    }
    struct json_doc *doc = api_body(c);
    if (doc == NULL)
        return;
    const enum err err = read_ask(json_root(doc), &ask, &f);
    json_free(doc);
    if (err != ERR_OK) {
        f.code = ERR_SYNTAX; /* whatever is wrong with it, it is the call's */
        http_problem_fault(c, &f);
        return;
    }
    api_begin_task(c,
                   &(struct task_order){
                       .kind = task_kind, .run = run, .body = &c->body, .words = ask.kind->kind});
}

/* ---- for the report -------------------------------------------------------------------------------------- */

/* The person's words; NULL: none. false after a problem was set. */
static bool note_of(struct http_call *c, json_node *body, const char **ret)
{
    *ret = NULL;
    json_node *note = json_get(body, "note");
    if (note == NULL || json_kind(note) == JSON_NULL)
        return true;
    size_t n = 0;
    const char *text = json_string(note, &n);
    if (text != NULL && n == 0)
        return true;
    *ret = api_text(c, body, "note", STUDY_KEPT_NOTE_MAX);
    return *ret != NULL;
}

static void keep(struct http_call *c, json_node *body)
{
    struct fault f = {0};
    struct text answer = {0};
    struct tasks *tasks = http_tasks_of(c->http);
    char id[STUDY_KEPT_ID_ROOM] = "";
    const char *note = NULL, *task = api_text(c, body, "task", TASK_ID_ROOM - 1);
    if (task == NULL || !note_of(c, body, &note))
        return;
    if ((c->who.role != SIGNIN_OWNER && !tasks_is_of(tasks, task, c->who.name)) ||
        !tasks_answer(tasks, task, task_kind, &answer)) {
        http_problem(c, 409, "task",
                     "that study is not there any more; run it again, then save it");
        return;
    }
    const struct study_kept_order order = {c->who.name, note, c->now_ms, answer.data, answer.size};
    const enum err err =
        answer.is_broken ? fault_no_memory(&f) : study_kept_put(c->door->store, &order, id, &f);
    text_done(&answer);
    if (err == ERR_LIMIT)
        http_problem(c, 409, "full", "%s", f.message);
    else if (err != ERR_OK)
        http_problem_fault(c, &f);
    if (err != ERR_OK)
        return;
    struct jsonw w;
    http_json(c, &w);
    jsonw_string(&w, "kept", id);
    http_json_end(&w);
    http_add_header(c, "Location", "/api/v1/kept-studies/%s", id);
    c->status = 201;
}

void api_kept_post(struct http_call *c)
{
    struct json_doc *doc = api_body(c);
    if (doc == NULL)
        return;
    keep(c, json_root(doc));
    json_free(doc);
}

void api_kept_get(struct http_call *c)
{
    struct fault f = {0};
    if (study_kept_get(c->door->store, c->args[0], &c->answer, &f) != ERR_OK) {
        http_problem_fault(c, &f);
        return;
    }
    c->type = "application/json";
}

void api_kept_delete(struct http_call *c)
{
    struct fault f = {0};
    const enum err err = study_kept_drop(c->door->store, c->args[0], c->who.name,
                                         c->who.role == SIGNIN_OWNER, c->now_ms, &f);
    if (err == ERR_DENIED)
        http_problem(c, 403, "another", "%s", f.message);
    else if (err != ERR_OK)
        http_problem_fault(c, &f);
    else
        c->status = 204;
}
