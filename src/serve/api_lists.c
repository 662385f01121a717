/* api_lists: owns the way of a list into the store over HTTP: it is sent, looked at, tried, and brought in (desk/bring.h).
 *
 * POST /api/v1/lists: the file's bytes; answered with its name (their SHA-256), its columns and what they may be. It lies in coming/, one for
 * each person, until it is brought in, another is sent, or COMING_HOURS are over. POST .../bring begins a task: dry, or for good; GET
 * .../faults has the faulty rows of the last one. A task works on a link of its own, which goes with it. */
#include "serve/api.h"

#include "base/digest.h"
#include "desk/audit.h"
#include "desk/bring.h"
#include "serve/coming.h"
#include "serve/tasks.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

enum { HEX = 64, COLUMN_MAX = 300 };

static bool is_digest(const char *text)
{
    return strlen(text) == HEX && strspn(text, "0123456789abcdef") == HEX;
}

static void no_list(struct http_call *c)
{
    http_problem(c, 404, "list", "there is no such list of yours; send it again");
}

/* ---- sending ------------------------------------------------------------------------------------ */

/* The name of what was sent; false: a problem is set. */
static bool name_of(struct http_call *c, char hex[DIGEST_HEX_ROOM])
{
    uint8_t digest[DIGEST_SHA256_SIZE];
    struct fault f = {0};
    const int fd = open(c->file, O_RDONLY | O_CLOEXEC);
    const bool is_read =
        fd >= 0 && digest_fd(DIGEST_SHA256, fd, BRING_FILE_MAX, digest, NULL, &f) == ERR_OK;
    if (fd >= 0)
        close(fd);
    if (is_read)
        digest_hex(digest, sizeof digest, hex);
    else
        http_problem(c, 503, "failed", "the list cannot be read now");
    return is_read;
}

void api_list_post(struct http_call *c)
{
    char hex[DIGEST_HEX_ROOM], path[COMING_ROOM];
    struct jsonw w;
    struct fault f = {0};
    if (c->file_size == 0) {
        http_problem(c, 400, "empty", "the body is empty");
        return;
    }
    if (!name_of(c, hex))
        return;
    http_json(c, &w);
    jsonw_string(&w, "list", hex);
    const enum err err = bring_look(c->file, &w, &f);
    http_json_end(&w);
    if (err != ERR_OK) {
        f.file[0] = '\0'; /* of the server */
        http_problem_fault(c, &f);
        return;
    }
    coming_drop_lists(c->door->path, c->who.name, hex);
    coming_list_path(c->door->path, c->who.name, hex, "list", path);
    if (rename(c->file, path) != 0) {
        http_problem(c, 503, "failed", "the list cannot be kept now");
        return;
    }
    c->file[0] = '\0';
    c->status = 201;
}

void api_list_delete(struct http_call *c)
{
    char path[COMING_ROOM];
    coming_list_path(c->door->path, c->who.name, c->args[0], "list", path);
    if (!is_digest(c->args[0]) || access(path, F_OK) != 0) {
        no_list(c);
        return;
    }
    coming_drop_lists(c->door->path, c->who.name, NULL);
    c->status = 204;
}

void api_list_faults(struct http_call *c)
{
    char path[COMING_ROOM];
    coming_list_path(c->door->path, c->who.name, c->args[0], "faults", path);
    c->answer_fd = is_digest(c->args[0]) ? open(path, O_RDONLY | O_CLOEXEC) : -1;
    if (c->answer_fd < 0) {
        http_problem(c, 404, "list", "no faulty rows of such a list are kept");
        return;
    }
    c->type = "text/csv; charset=utf-8; header=present";
    http_add_header(c, "Content-Disposition", "attachment; filename=\"faulty-rows.csv\"");
}

/* ---- bringing in -------------------------------------------------------------------------------- */

/* Kind, columns and whether it is dry, as they were sent; texts are the document's. The reason why they are not right, or NULL. */
static const char *read_order(json_node *root, struct bring_order *ret)
{
    json_node *kind = json_get(root, "kind"), *columns = json_get(root, "columns"),
              *dry = json_get(root, "dry");
    const char *word = kind != NULL ? json_string(kind, NULL) : NULL;
    int k = 0;
    while (k < BRING_KIND_N && (word == NULL || strcmp(word, bring_kind_names[k]) != 0))
        k++;
    if (k == BRING_KIND_N)
        return "expected \"kind\": builds, failures or shops";
    if (dry == NULL || json_kind(dry) != JSON_BOOL)
        return "expected \"dry\": true or false";
    if (columns == NULL || json_kind(columns) != JSON_OBJECT)
        return "expected \"columns\": for each of ours the name of the file's, or null";
    ret->kind = (enum bring_kind)k;
    ret->is_dry = json_bool(dry);
    const struct bring_field *fields = bring_fields(ret->kind);
    for (int i = 0; fields[i].name != NULL; i++) {
        json_node *column = json_get(columns, fields[i].name);
        ret->columns[i] = NULL;
        if (column == NULL || json_kind(column) == JSON_NULL)
            continue;
        size_t n = 0;
        ret->columns[i] = json_string(column, &n);
        if (ret->columns[i] == NULL || n > COLUMN_MAX || strlen(ret->columns[i]) != n)
            return "expected the name of a column, a text";
    }
    return NULL;
}

static bool is_stopped(void *me)
{
    return task_is_stopped(me);
}

/* Who brought a list in stands beside the people (desk/audit.h): the log has the list, not the name. */
static enum err note(struct task *task, struct door *door, enum bring_kind kind, struct fault *f)
{
    const char *who = task_person(task), *paper = kind == BRING_SHOPS ? "shops" : "failures";
    return kind == BRING_BUILDS
               ? audit_note(door->signin, who, "builds", NULL, task_now_ms(task), f)
               : audit_note_paper(door->store, door->signin, who, paper, paper, STORE_UNKNOWN,
                                  task_now_ms(task), f);
}

static enum err bring(struct task *task, struct jsonw *w, struct fault *f)
{
    char faults[COMING_ROOM];
    const struct text *body = task_body(task);
    const struct store_progress step = {task_step, task};
    struct json_doc *doc = NULL;
    struct door *door = task_door(task, f);
    if (door == NULL)
        return f->code;
    coming_list_path(door->path, task_person(task), task_words(task), "faults", faults);
    struct bring_order order = {.path = task_file(task),
                                .faults_path = faults,
                                .now_ms = task_now_ms(task),
                                .step = &step,
                                .is_stopped = is_stopped,
                                .me = task};
    enum err err = json_parse(body->data, body->size, "the order", &doc, f);
    if (err == ERR_OK && read_order(json_root(doc), &order) != NULL)
        err = fault_set(f, ERR_TYPE, "the order cannot be read"); /* it was right before */
    if (err == ERR_OK)
        err = bring_run(door->store, &order, w, f);
    if (err == ERR_OK && !order.is_dry && access(faults, F_OK) != 0) { /* it was put */
        coming_drop_lists(door->path, task_person(task), NULL);
        err = note(task, door, order.kind, f);
    }
    json_free(doc);
    return err;
}

/* A link of the list for the task; false: a problem is set. */
static bool link_list(struct http_call *c, char link_path[COMING_ROOM])
{
    char path[COMING_ROOM];
    coming_list_path(c->door->path, c->who.name, c->args[0], "list", path);
    const int fd = is_digest(c->args[0]) && access(path, F_OK) == 0
                       ? coming_open(c->door->path, link_path)
                       : -1;
    if (fd < 0) {
        no_list(c);
        return false;
    }
    close(fd);
    if (unlink(link_path) == 0 && link(path, link_path) == 0)
        return true;
    http_problem(c, 503, "failed", "the list cannot be read now");
    return false;
}

void api_list_bring(struct http_call *c)
{
    char path[COMING_ROOM];
    struct bring_order order = {0};
    struct json_doc *doc = api_body(c);
    const char *why = doc != NULL ? read_order(json_root(doc), &order) : NULL;
    if (why != NULL)
        http_problem(c, 422, "refused", "%s", why);
    if (doc != NULL && why == NULL && link_list(c, path)) {
        api_begin_task(c, &(struct task_order){.kind = order.is_dry ? "try-list" : "bring-list",
                                               .run = bring,
                                               .body = &c->body,
                                               .file = path,
                                               .words = c->args[0]});
        if (c->status != 202)
            unlink(path);
    }
    json_free(doc);
}
