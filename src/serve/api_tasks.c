/* api_tasks: owns long work over HTTP: beginning it, how far it is, its answer. */
#include "serve/api.h"

#include "serve/tasks.h"

void api_begin_task(struct http_call *c, const struct task_order *order)
{
    char id[TASK_ID_ROOM];
    struct jsonw w;
    struct fault f = {0};
    struct task_order own = *order;
    own.person = c->who.name;
    if (tasks_put(http_tasks_of(c->http), &own, id, &f) != ERR_OK) {
        http_problem_fault(c, &f);
        return;
    }
    http_json(c, &w);
    jsonw_string(&w, "task", id);
    http_json_end(&w);
    http_add_header(c, "Location", "/api/v1/tasks/%s", id);
    c->status = 202;
}

/* A clerk sees and stops what they began, an owner everything; what is another's is told like what is not there. */
static bool is_hidden(struct http_call *c)
{
    if (c->who.role == SIGNIN_OWNER || tasks_is_of(http_tasks_of(c->http), c->args[0], c->who.name))
        return false;
    http_problem(c, 404, "task", "there is no such task, or it was long ago");
    return true;
}

void api_task_get(struct http_call *c)
{
    struct jsonw w;
    if (is_hidden(c))
        return;
    http_json(c, &w);
    const bool is_there = tasks_tell(http_tasks_of(c->http), c->args[0], &w);
    http_json_end(&w);
    if (!is_there)
        http_problem(c, 404, "task", "there is no such task, or it was long ago");
}

void api_task_delete(struct http_call *c)
{
    if (is_hidden(c))
        return;
    if (tasks_stop(http_tasks_of(c->http), c->args[0]))
        c->status = 204;
    else
        http_problem(c, 404, "task", "there is no such task, or it was long ago");
}
