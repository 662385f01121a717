/* study_ask: owns a study that a page asked for: its options as those of a call, its answer into memory, both as JSON and in words, and what
 * the command would have said to standard error as a fault. No globals: several may run at once. */
#include "cli/study_ask.h"

#include "cli/study.h"
#include "store/near.h"

#include <stdio.h>
#include <string.h>

enum { ARGS_MAX = STUDY_ASK_OPTIONS_MAX + 1, NAME_ROOM = 40 };

struct run {
    struct study_call c;
    struct cli ctx;
    struct cli_tap tap;
    struct jsonw said;
    struct fault no_picture;
    bool is_stopped;
    const struct study_watch *watch;
    char store_name[STUDY_ASK_STORE_ROOM];
    char names[STUDY_ASK_OPTIONS_MAX][NAME_ROOM]; /* "--confidence" */
    struct cli_arg args[ARGS_MAX];
};

/* A study that was asked to stop may answer early all the same, so it is remembered. */
static bool go_on(void *me, const char *what, uint64_t done, uint64_t all)
{
    struct run *r = me;
    r->is_stopped = r->is_stopped || !study_go_on(r->watch, what, done, all);
    return !r->is_stopped;
}

static void prepare(struct run *r, const struct study_ask *ask, const struct study_kind *kind,
                    const struct study_watch *watch, struct study_told *ret)
{
    *r = (struct run){.ctx = {.verb = kind->page.name, .is_json = true, .columns = 80}};
    r->watch = watch;
    r->ctx.tap = &r->tap;
    r->tap.said = &r->said;
    r->c = (struct study_call){.ctx = &r->ctx, .args = r->args, .watch = {go_on, r}};
    r->c.plot = (struct study_plot_order){
        .path = "", .svg = &ret->svg, .png = &ret->png, .fault = &r->no_picture};
    for (size_t i = 0; i < ask->n; i++) {
        (void)snprintf(r->names[i], NAME_ROOM, "--%.30s", ask->at[i].option->name);
        r->args[r->c.n_args++] = (struct cli_arg){
            r->names[i], ask->at[i].option->type == STUDY_ASK_FLAG ? NULL : ask->at[i].text};
    }
}

/* The columns of rows that were handed in, each named as its option: "part,operator,value". */
static int run_given(struct run *r, const struct study_ask *ask, const struct study_kind *kind)
{
    char options[ROWS_SAYS_MAX][ROWS_SAY + 2];
    struct study_rows rows = {.csv = {.data = (char *)ask->rows, .size = ask->n_rows}};
    for (const char *at = ask->kind->columns; *at != '\0' && rows.n_says < ROWS_SAYS_MAX;) {
        struct study_rows_say *say = &rows.says[rows.n_says];
        const int n = (int)strcspn(at, ",");
        (void)snprintf(say->value, sizeof say->value, "%.*s", n, at);
        (void)snprintf(options[rows.n_says], sizeof options[0], "--%s", say->value);
        say->option = options[rows.n_says++];
        at += n + (at[n] == ',');
    }
    r->c.file = "rows.csv";
    return study_on_rows(&r->c, kind, &rows);
}

/* Where the store lies on this machine is nobody's business who looks at a page. */
static void hide_path(struct text *wrong, const char *path, const char *name)
{
    struct text told = {0};
    const char *rest = wrong->data != NULL ? wrong->data : "";
    for (const char *at = strstr(rest, path); at != NULL; at = strstr(rest, path)) {
        text_add(&told, rest, (size_t)(at - rest));
        text_puts(&told, name);
        rest = at + strlen(path);
    }
    text_puts(&told, rest);
    text_done(wrong);
    *wrong = told;
}

static int run_store(struct run *r, const char *path, const char *from,
                     const struct study_kind *kind)
{
    struct fault f = {0};
    struct store *store = NULL;
    r->args[r->c.n_args++] = (struct cli_arg){"--store", path};
    study_ask_store(path, r->store_name);
    r->c.file = r->store_name;
    const enum err err = store_open_near(path, from, &store, &r->c.near, &f);
    if (r->c.near.why[0] != '\0') /* the reason names hosts: that is for whoever runs the server */
        snprintf(r->c.near.why, sizeof r->c.near.why, "ask whoever runs the server");
    const int code = err != ERR_OK ? cli_fault(&r->ctx, &f) : study_on_store(&r->c, kind, store);
    store_close(store);
    hide_path(&r->tap.wrong, path, r->store_name);
    return code;
}

static enum err end(struct run *r, int code, struct study_told *ret, struct fault *f)
{
    const char *wrong = r->tap.wrong.size > 0 ? r->tap.wrong.data : "it could not be answered";
    if (r->is_stopped)
        return fault_set(f, ERR_BUSY, "it was stopped");
    if (code == CLI_WRONG)
        return fault_set(f, ERR_DOMAIN, "%s", wrong);
    if (code == CLI_FAILED)
        return fault_set(f, ERR_IO,
                         "the store could not be used, or memory ran out; try again, or "
                         "ask whoever runs the server"); /* the words name files */
    if (ret->said.is_broken || r->ctx.out.is_broken || ret->svg.is_broken || ret->png.is_broken)
        return fault_no_memory(f);
    while (r->ctx.out.size > 0 && r->ctx.out.data[r->ctx.out.size - 1] == '\n')
        r->ctx.out.data[--r->ctx.out.size] = '\0';
    ret->answer = r->ctx.out;
    r->ctx.out = (struct text){0};
    ret->code = code;
    (void)snprintf(ret->bulletin, sizeof ret->bulletin, "%s", r->c.bulletin);
    (void)snprintf(ret->no_picture, sizeof ret->no_picture, "%s", r->no_picture.message);
    return ERR_OK;
}

enum err study_ask_run(const char *store, const struct study_ask *ask,
                       const struct study_watch *watch, struct study_told *ret,
                       struct fault *reterr)
{
    struct run r;
    const struct study_kind *kind = study_kind_find(ask->kind->kind);
    *ret = (struct study_told){0};
    if (kind == NULL)
        return fault_set(reterr, ERR_UNKNOWN, "there is no such study");
    prepare(&r, ask, kind, watch, ret);
    jsonw_start(&r.said, &ret->said);
    jsonw_array(&r.said, NULL);
    const int code = ask->kind->columns != NULL ? run_given(&r, ask, kind)
                                                : run_store(&r, store, ask->read_from, kind);
    jsonw_array_end(&r.said);
    const enum err e = end(&r, code, ret, reterr);
    text_done(&r.tap.wrong);
    text_done(&r.ctx.out);
    if (e != ERR_OK)
        study_told_done(ret);
    return e;
}
