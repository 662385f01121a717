/* api_rulings: owns the rules' turn over HTTP: POST /api/v1/rulings begins a task that rules on the claims that no ruling stands for yet, or, with
 * "all", on every claim by the newest revision kept, as `rule` does. It is asked for, not done as bags come in: a ruling looks at what
 * came before it all over the store, and who sends a bag should not wait for that. */
#include "serve/api.h"

#include "base/pool.h"
#include "desk/ruling.h"
#include "serve/tasks.h"

#include <string.h>

static const char all_of_them[] = "all";

struct tally {
    struct task *task;
    int64_t n, n_changed, by_verdict[4]; /* enum rule_verdict */
};

static bool see(void *me, const struct ruling_seen *seen)
{
    struct tally *t = me;
    t->n++;
    t->n_changed += seen->is_changed;
    t->by_verdict[seen->ruling->verdict]++;
    return !task_is_stopped(t->task);
}

static enum err rule(struct task *task, struct jsonw *w, struct fault *f)
{
    struct tally t = {.task = task};
    size_t n_unruled = 0;
    const struct known_progress progress = {task_step, task};
    struct door *door = task_door(task, f);
    if (door == NULL)
        return f->code;
    const struct ruling_order order = {.now_ms = task_now_ms(task),
                                       .n_threads = pool_threads(),
                                       .is_only_unruled =
                                           strcmp(task_words(task), all_of_them) != 0};
    const enum err err = ruling_run(door->store, &order, &progress, see, &t, &n_unruled, f);
    if (err == ERR_OK && task_is_stopped(task))
        return fault_set(f, ERR_BUSY, "it was stopped; what was ruled on stands");
    jsonw_int(w, "ruled", t.n);
    jsonw_int(w, "changed", t.n_changed);
    jsonw_int(w, "unruled", (int64_t)n_unruled);
    for (int i = 0; i < 4; i++)
        jsonw_int(w, rule_verdict_name((enum rule_verdict)i), t.by_verdict[i]);
    return err;
}

void api_rulings_post(struct http_call *c)
{
    struct json_doc *doc = api_body(c);
    if (doc == NULL)
        return;
    json_node *all = json_get(json_root(doc), "all");
    if (all != NULL && json_kind(all) != JSON_BOOL)
        http_problem(c, 400, "field", "\"all\" must be true or false");
    else
        api_begin_task(
            c, &(struct task_order){.kind = "rule",
                                    .run = rule,
                                    .words = all != NULL && json_bool(all) ? all_of_them : NULL});
    json_free(doc);
}
