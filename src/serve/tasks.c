/* tasks: owns the thread that does long work, what waits for it, and what came of it. */
#include "serve/tasks.h"

#include "base/heap.h"
#include "desk/door.h"
#include "serve/lane.h"

#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <threads.h>
#include <unistd.h>

enum state { WAITING, RUNNING, DONE, FAILED, STOPPED };

struct task {
    struct tasks *tasks;
    struct task *older;
    char id[TASK_ID_ROOM];
    const char *kind;
    char person[80];
    char words[400];
    task_do *run;
    struct text body;
    char file[600];
    struct door *door;
    atomic_bool is_stopped;
    /* The rest is looked at by others: under the lock. */
    enum state state;
    int64_t begun_ms, ended_ms;
    char what[40];
    uint64_t done, all;
    struct text answer, brief;
    struct fault fault;
};

struct tasks {
    char store[2048];
    study_ask_do *study;
    const char *read_from;
    struct signin_guard *guard;
    int64_t (*now_ms)(void);
    struct lane *lane;
    mtx_t lock;
    struct task *newest;
    int n;
    unsigned long n_put; /* ever */
    atomic_bool is_over;
};

static void forget(struct task *t)
{
    if (t->file[0] != '\0')
        (void)unlink(t->file);
    door_close(t->door);
    text_done(&t->body);
    text_done(&t->answer);
    text_done(&t->brief);
    free(t);
}

/* ---- doing it ----------------------------------------------------------------------------------- */

static void set_state(struct task *t, enum state state)
{
    mtx_lock(&t->tasks->lock);
    t->state = state;
    *(state == RUNNING ? &t->begun_ms : &t->ended_ms) = t->tasks->now_ms();
    mtx_unlock(&t->tasks->lock);
}

static void do_task(void *job)
{
    struct task *t = job;
    struct text answer = {0};
    struct fault f = {0};
    struct jsonw w;
    set_state(t, RUNNING);
    jsonw_start(&w, &answer);
    jsonw_object(&w, NULL);
    enum err err = task_is_stopped(t) ? ERR_BUSY : t->run(t, &w, &f);
    while (w.depth >
           1) /* a work that failed may have left some open; the answer is thrown away then */
        jsonw_object_end(&w);
    jsonw_object_end(&w);
    if (err == ERR_OK && (answer.is_broken || answer.size > TASK_ANSWER_MAX))
        err = fault_set(&f, ERR_MEMORY, "the answer is too large");
    mtx_lock(&t->tasks->lock);
    if (err == ERR_OK) {
        t->answer = answer;
        answer = (struct text){0};
    }
    t->fault = f;
    mtx_unlock(&t->tasks->lock);
    text_done(&answer);
    door_close(t->door);
    t->door = NULL;
    text_done(&t->body);
    if (t->file[0] != '\0')
        (void)unlink(t->file);
    heap_give_back();
    set_state(t, err == ERR_OK ? DONE : task_is_stopped(t) ? STOPPED : FAILED);
}

/* ---- the list ----------------------------------------------------------------------------------- */

struct tasks *tasks_new(const char *store, struct signin_guard *guard, int64_t (*now_ms)(void),
                        study_ask_do *study, const char *read_from)
{
    struct tasks *ts = calloc(1, sizeof *ts);
    if (ts == NULL || mtx_init(&ts->lock, mtx_plain) != thrd_success) {
        free(ts);
        return NULL;
    }
    snprintf(ts->store, sizeof ts->store, "%s", store);
    ts->guard = guard;
    ts->study = study;
    ts->read_from = read_from;
    ts->now_ms = now_ms;
    ts->lane = lane_new(1, TASKS_WAITING_MAX, do_task);
    if (ts->lane == NULL) {
        mtx_destroy(&ts->lock);
        free(ts);
        return NULL;
    }
    return ts;
}

void tasks_end(struct tasks *tasks)
{
    if (tasks == NULL)
        return;
    atomic_store(&tasks->is_over, true);
    lane_end(tasks->lane);
}

void tasks_free(struct tasks *tasks)
{
    if (tasks == NULL)
        return;
    tasks_end(tasks);
    lane_free(tasks->lane);
    while (tasks->newest != NULL) {
        struct task *t = tasks->newest;
        tasks->newest = t->older;
        forget(t);
    }
    mtx_destroy(&tasks->lock);
    free(tasks);
}

/* The oldest that is over makes room; what waits or runs is never more than TASKS_WAITING_MAX. */
static void make_room(struct tasks *ts)
{
    struct task **oldest = NULL;
    if (ts->n < TASKS_KEPT_MAX)
        return;
    for (struct task **at = &ts->newest; *at != NULL; at = &(*at)->older)
        if ((*at)->state >= DONE)
            oldest = at;
    if (oldest == NULL)
        return;
    struct task *t = *oldest;
    *oldest = t->older;
    ts->n--;
    forget(t);
}

static enum err take_file(struct tasks *ts, struct task *t, const char *file, struct fault *f)
{
    if (file == NULL)
        return ERR_OK;
    snprintf(t->file, sizeof t->file, "%.570s.%lu", file, ts->n_put);
    if (rename(file, t->file) == 0)
        return ERR_OK;
    t->file[0] = '\0';
    return fault_set(f, ERR_IO, "the file that was sent cannot be kept");
}

enum err tasks_put(struct tasks *tasks, const struct task_order *order, char ret_id[TASK_ID_ROOM],
                   struct fault *reterr)
{
    struct task *t = calloc(1, sizeof *t);
    if (t == NULL)
        return fault_no_memory(reterr);
    if (!lane_reserve(tasks->lane)) {
        free(t);
        return fault_set(reterr, ERR_BUSY,
                         "%d tasks are waiting already; try again when one is done",
                         TASKS_WAITING_MAX);
    }
    t->tasks = tasks;
    t->kind = order->kind;
    t->run = order->run;
    snprintf(t->person, sizeof t->person, "%s", order->person);
    snprintf(t->words, sizeof t->words, "%s", order->words != NULL ? order->words : "");
    mtx_lock(&tasks->lock);
    /* Names are not told twice, also not by a server that was started anew. */
    snprintf(t->id, sizeof t->id, "%llx-%lu", (unsigned long long)tasks->now_ms(), ++tasks->n_put);
    /* A place that is reserved must be filled: a task whose file is lost runs into its fault. */
    struct fault f = {0};
    if (take_file(tasks, t, order->file, &f) != ERR_OK)
        atomic_store(&t->is_stopped, true);
    if (order->body != NULL) {
        t->body = *order->body;
        *order->body = (struct text){0};
    }
    make_room(tasks);
    t->older = tasks->newest;
    tasks->newest = t;
    tasks->n++;
    memcpy(ret_id, t->id, TASK_ID_ROOM);
    mtx_unlock(&tasks->lock);
    lane_put(tasks->lane, t);
    return ERR_OK;
}

static struct task *find(struct tasks *ts, const char *id)
{
    struct task *t = ts->newest;
    while (t != NULL && strcmp(t->id, id) != 0)
        t = t->older;
    return t;
}

static void tell_fault(const struct fault *f, struct jsonw *w)
{
    jsonw_object(w, "fault");
    jsonw_int(w, "line", f->line);
    jsonw_int(w, "column", f->column);
    jsonw_string(w, "path", f->path);
    jsonw_string(w, "message", f->message);
    jsonw_object_end(w);
}

bool tasks_tell(struct tasks *tasks, const char *id, struct jsonw *w)
{
    static const char *const names[] = {"waiting", "running", "done", "failed", "stopped"};
    mtx_lock(&tasks->lock);
    const struct task *t = find(tasks, id);
    if (t != NULL) {
        jsonw_string(w, "task", t->id);
        jsonw_string(w, "kind", t->kind);
        jsonw_string(w, "person", t->person);
        jsonw_string(w, "state", names[t->state]);
        jsonw_int(w, "begun_ms", t->begun_ms);
        jsonw_int(w, "ended_ms", t->ended_ms);
        jsonw_string(w, "what", t->what);
        jsonw_int(w, "done", (int64_t)t->done);
        jsonw_int(w, "all", (int64_t)t->all);
        if (t->state == DONE)
            jsonw_raw(w, "answer", t->answer.data, t->answer.size);
        if (t->state == FAILED)
            tell_fault(&t->fault, w);
    }
    mtx_unlock(&tasks->lock);
    return t != NULL;
}

bool tasks_is_of(struct tasks *tasks, const char *id, const char *person)
{
    mtx_lock(&tasks->lock);
    const struct task *t = find(tasks, id);
    const bool is_of = t != NULL && strcmp(t->person, person) == 0;
    mtx_unlock(&tasks->lock);
    return is_of;
}

bool tasks_stop(struct tasks *tasks, const char *id)
{
    mtx_lock(&tasks->lock);
    struct task *t = find(tasks, id);
    if (t != NULL)
        atomic_store(&t->is_stopped, true);
    mtx_unlock(&tasks->lock);
    return t != NULL;
}

bool tasks_answer(struct tasks *tasks, const char *id, const char *kind, struct text *ret)
{
    mtx_lock(&tasks->lock);
    const struct task *t = find(tasks, id);
    const bool is_there = t != NULL && t->state == DONE && strcmp(t->kind, kind) == 0;
    if (is_there)
        text_add(ret, t->answer.data, t->answer.size);
    mtx_unlock(&tasks->lock);
    return is_there;
}

void tasks_brief(struct tasks *tasks, const char *kind, const char *words, struct jsonw *w,
                 const char *key)
{
    mtx_lock(&tasks->lock);
    const struct task *t = tasks->newest;
    while (t != NULL && (t->state != DONE || t->brief.size == 0 || strcmp(t->kind, kind) != 0 ||
                         strcmp(t->words, words) != 0))
        t = t->older;
    if (t != NULL)
        jsonw_raw(w, key, t->brief.data, t->brief.size);
    mtx_unlock(&tasks->lock);
}

/* ---- for the work ------------------------------------------------------------------------------- */

struct door *task_door(struct task *task, struct fault *reterr)
{
    if (task->door == NULL &&
        door_open(task->tasks->store, task->tasks->guard, &task->door, reterr) != ERR_OK)
        return NULL;
    return task->door;
}

const struct text *task_body(const struct task *task)
{
    return &task->body;
}

const char *task_file(const struct task *task)
{
    return task->file;
}

const char *task_words(const struct task *task)
{
    return task->words;
}

const char *task_person(const struct task *task)
{
    return task->person;
}

int64_t task_now_ms(const struct task *task)
{
    return task->tasks->now_ms();
}

const char *task_store(const struct task *task)
{
    return task->tasks->store;
}

const char *task_read_from(const struct task *task)
{
    return task->tasks->read_from;
}

study_ask_do *task_study(const struct task *task)
{
    return task->tasks->study;
}

void task_brief(struct task *task, const struct text *json)
{
    if (json->is_broken || json->size > TASK_BRIEF_MAX)
        return;
    mtx_lock(&task->tasks->lock);
    text_add(&task->brief, json->data, json->size);
    mtx_unlock(&task->tasks->lock);
}

void task_step(void *me, const char *what, uint64_t done, uint64_t all)
{
    struct task *t = me;
    mtx_lock(&t->tasks->lock);
    snprintf(t->what, sizeof t->what, "%s", what);
    t->done = done;
    t->all = all;
    mtx_unlock(&t->tasks->lock);
}

bool task_is_stopped(const struct task *task)
{
    return atomic_load(&task->is_stopped) || atomic_load(&task->tasks->is_over);
}
