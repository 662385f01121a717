/* tasks: work that is longer than a call: a list of a million rows, a campaign ruled anew to see what would change. A call begins it and
 * gets its name; the page asks how far it is, and fetches the answer. One task runs at a time, a few wait; what is done is kept until
 * newer ones push it out. Inside src/serve/. */
#ifndef SERVE_TASKS_H
#define SERVE_TASKS_H

#include "base/fault.h"
#include "base/jsonw.h"
#include "base/text.h"
#include "desk/study_ask.h"

#include <stdbool.h>
#include <stdint.h>

enum {
    TASK_ID_ROOM = 40,
    TASKS_WAITING_MAX = 8,
    TASKS_KEPT_MAX = 32,
    TASK_ANSWER_MAX = 8 * 1024 * 1024,
    TASK_BRIEF_MAX = 2000 /* bytes */
};

struct door;
struct signin_guard;
struct task;
struct tasks;

/* Does the work; the members of the answer go into w, an object that is open. Runs in the tasks' own thread. */
typedef enum err task_do(struct task *task, struct jsonw *w, struct fault *reterr);

struct task_order {
    const char *kind; /* "what-if"; static */
    const char *person;
    task_do *run;
    struct text *body; /* taken over: empty afterwards. NULL: none */
    const char *file;  /* taken over: renamed away, removed when the task is done. NULL: none */
    const char *words; /* the caller's, handed to run; NULL: none */
};

/* tasks_new: store: the folder; study: answers studies, NULL: none are; read_from: a standby that they are read from, borrowed, or NULL. NULL: no memory. tasks_end: what is under way is asked to stop and waited for; none is put from then on, the rest can still be asked. tasks_free: ends them first. NULL is fine for both. */
struct tasks *tasks_new(const char *store, struct signin_guard *guard, int64_t (*now_ms)(void),
                        study_ask_do *study, const char *read_from);
void tasks_end(struct tasks *tasks);
void tasks_free(struct tasks *tasks);

/* tasks_put: Errors: ERR_BUSY (enough are waiting), ERR_MEMORY, ERR_IO. */
MUST_USE enum err tasks_put(struct tasks *tasks, const struct task_order *order,
                            char ret_id[TASK_ID_ROOM], struct fault *reterr);

/* tasks_tell: members "task", "kind", "person", "state" ("waiting", "running", "done", "failed", "stopped"), "begun_ms", "ended_ms", "what", "done", "all",
 * and "answer" or "fault" ({"file", "line", "column", "path", "message"}), into an object that is open. false: there is none such. */
bool tasks_tell(struct tasks *tasks, const char *id, struct jsonw *w);

/* tasks_is_of: whether there is one such that the person began. */
bool tasks_is_of(struct tasks *tasks, const char *id, const char *person);

/* tasks_stop: asks it to stop, which it does when it next says how far it is. false: there is none such. */
bool tasks_stop(struct tasks *tasks, const char *id);

/* tasks_answer: the answer of a task of that kind that is done, appended to ret; false: there is none. tasks_brief: the newest one of the kind, with these words,
 * that left a brief and is done: its brief as the member `key` of an object that is open; nothing when there is none. */
bool tasks_answer(struct tasks *tasks, const char *id, const char *kind, struct text *ret);
void tasks_brief(struct tasks *tasks, const char *kind, const char *words, struct jsonw *w,
                 const char *key);

/* ---- for the work ---- */

/* task_door: the task's own. NULL after reterr was set. */
struct door *task_door(struct task *task, struct fault *reterr);
const struct text *task_body(const struct task *task);
const char *task_file(const struct task *task);
const char *task_words(const struct task *task); /* "" when there are none */
const char *task_person(const struct task *task);
int64_t task_now_ms(const struct task *task);
const char *task_store(const struct task *task); /* the folder, for what reads it alone */
study_ask_do *task_study(const struct task *task);
const char *task_read_from(const struct task *task); /* NULL: none */
/* task_brief: a JSON object of at most TASK_BRIEF_MAX bytes, told by tasks_brief once the task is done; a longer one is left out. */
void task_brief(struct task *task, const struct text *json);
/* task_step: how far it is; me: the task, so that it can be handed on as a callback. task_is_stopped: whether it is to end. */
void task_step(void *me, const char *what, uint64_t done, uint64_t all);
bool task_is_stopped(const struct task *task);

#endif
