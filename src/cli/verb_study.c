/* verb study: owns the list of kinds of study and what a kind is called with. */
#include "base/save.h"
#include "cli/stop.h"
#include "cli/study.h"
#include "cli/study_plot.h"
#include "cli/verbs.h"
#include "core/date.h"

#include <assert.h>
#include <stdio.h>
#include <string.h>

/* One kind a line (the formatter would put them side by side); keep the closing NULL last, and pages below in the same order. */
/* clang-format off */
const struct study_kind *const study_kinds[] = {
    &study_window_kind,
    &study_life_kind,
    &study_completion_kind,
    &study_held_kind,
    &study_labour_kind,
    &study_gauge_kind,
    &study_capability_kind,
    &study_audit_kind,
    &study_digits_kind,
    &study_stock_kind,
    NULL,
};
static const struct cli_verb *const pages[] = {
    &study_window_kind.page,
    &study_life_kind.page,
    &study_completion_kind.page,
    &study_held_kind.page,
    &study_labour_kind.page,
    &study_gauge_kind.page,
    &study_capability_kind.page,
    &study_audit_kind.page,
    &study_digits_kind.page,
    &study_stock_kind.page,
    NULL,
};
/* clang-format on */

enum { KINDS_MAX = 32, SKIP = sizeof "study " - 1 };

const struct study_kind *study_kind_find(const char *word)
{
    for (size_t i = 0; study_kinds[i] != NULL; i++)
        if (strcmp(study_kinds[i]->page.name + SKIP, word) == 0)
            return study_kinds[i];
    return NULL;
}

/* ---- the call ------------------------------------------------------------------------------ */

static int refuse_kind(const struct cli *ctx, const char *word)
{
    const char *names[KINDS_MAX];
    char hint[200] = "expected one of ";
    size_t n = 0;
    for (; study_kinds[n] != NULL; n++) {
        assert(n < KINDS_MAX);
        const size_t used = strlen(hint);
        names[n] = study_kinds[n]->page.name + SKIP;
        (void)snprintf(hint + used, sizeof hint - used, "%s%s", n > 0 ? ", " : "", names[n]);
    }
    if (word == NULL)
        return cli_error(ctx, "found no kind of study; %s", hint);
    return cli_error_near(ctx, "the study", word, names, n, hint);
}

static int find_file(struct study_call *c, const struct study_kind *kind)
{
    for (int i = 0; i < c->n_args; i++) {
        if (c->args[i].name != NULL)
            continue;
        if (kind->file == STUDY_NO_FILE)
            return cli_error(c->ctx, "found '%.80s'; expected no file, options only",
                             c->args[i].value);
        if (c->file != NULL)
            return cli_error(c->ctx, "found a second file, '%.80s'; expected one",
                             c->args[i].value);
        c->file = c->args[i].value;
    }
    if (c->file != NULL && study_option(c, "--store") != NULL)
        return cli_error(c->ctx, "found a file and --store; expected one of them");
    if (c->file == NULL && kind->file == STUDY_NEEDS_FILE && study_option(c, "--store") == NULL)
        return cli_error(
            c->ctx, "found no file; expected a CSV file, - for standard input, or --store FOLDER");
    return CLI_GOOD;
}

/* ---- a store ------------------------------------------------------------------------------- */

static int read_day(const struct study_call *c, const char *name, int32_t *ret)
{
    const char *text = study_option(c, name);
    if (text == NULL || date_parse(text, strlen(text), ret) == ERR_OK)
        return CLI_GOOD;
    return cli_error(c->ctx, "%s: found '%.40s'; expected a day \"YYYY-MM-DD\"", name, text);
}

static int read_rows_order(const struct study_call *c, const struct study_kind *kind,
                           struct study_rows_order *o)
{
    static const char *const alone[] = {"--bulletin", "--variant", "--notice", "--until", "--rows"};
    for (size_t i = 0; i < sizeof alone / sizeof *alone; i++)
        if (study_option(c, "--store") == NULL && study_option(c, alone[i]) != NULL)
            return cli_error(c->ctx, "found %s without --store; expected both", alone[i]);
    *o = (struct study_rows_order){.kind = kind->rows,
                                   .variant = study_option(c, "--variant"),
                                   .unit = UNIT_MM,
                                   .notice = ROWS_NO_DAY,
                                   .until = ROWS_NO_DAY};
    int code = read_day(c, "--notice", &o->notice);
    if (code == CLI_GOOD)
        code = read_day(c, "--until", &o->until);
    if (code == CLI_GOOD && (kind->rows == ROWS_CAPABILITY || kind->rows == ROWS_DIGITS))
        code = study_option_unit(c, "--unit", &o->unit);
    return code;
}

/* The rows written where they were asked for, then the study on them. */
static int run_rows(struct study_call *c, const struct study_kind *kind,
                    const struct study_rows *rows)
{
    struct fault f = {0};
    const char *path = study_option(c, "--rows");
    if (path != NULL &&
        save_file(path, rows->csv.data != NULL ? rows->csv.data : "", rows->csv.size, &f) != ERR_OK)
        return cli_fault(c->ctx, &f);
    return study_on_rows(c, kind, rows);
}

int study_on_rows(struct study_call *c, const struct study_kind *kind,
                  const struct study_rows *rows)
{
    c->rows = rows;
    c->ctx->first_notes = &rows->notes;
    const int code = kind->run(c);
    c->ctx->first_notes = NULL;
    c->rows = NULL;
    return code;
}

/* Where the rows were read stands with the other notes. */
static void say_near(const struct store_near *near, struct study_notes *notes)
{
    char text[STUDY_TEXT_MAX];
    if (near->is_asked && notes->n < STUDY_NOTES_MAX)
        study_note(notes, near->is_used ? STUDY_CHECKED : STUDY_CAVEAT, "%s",
                   store_near_say(near, text, sizeof text));
}

int study_on_store(struct study_call *c, const struct study_kind *kind, struct store *store)
{
    struct fault f = {0};
    struct study_sites sites = {0};
    struct study_rows rows = {0};
    struct study_rows_order o;
    int code = read_rows_order(c, kind, &o);
    if (code != CLI_GOOD)
        return code;
    enum err e = study_sites_read(store, study_option(c, "--bulletin"), &c->watch, &sites, &f);
    if (e == ERR_OK)
        e = study_rows_make(store, &sites, &o, &c->watch, &rows, &f);
    progress_wipe(&c->progress);
    say_near(&c->near, &rows.notes);
    if (sites.bulletin != NULL)
        (void)snprintf(c->bulletin, sizeof c->bulletin, "%s", sites.bulletin->head.id);
    if (e == ERR_OK)
        code = run_rows(c, kind, &rows);
    else if (e == ERR_IMPOSSIBLE)
        code = study_cannot(c, &f);
    else
        code = cli_fault(c->ctx, &f) == CLI_FAILED || e == ERR_BUSY ? CLI_FAILED : CLI_WRONG;
    study_rows_done(&rows);
    study_sites_done(&sites);
    return code;
}

static int run_store(struct study_call *c, const struct study_kind *kind)
{
    struct fault f = {0};
    struct store *store = NULL;
    c->file = study_option(c, "--store");
    if (store_open_near(c->file, study_option(c, "--read-from"), &store, &c->near, &f) != ERR_OK)
        return cli_fault(c->ctx, &f);
    char said[STUDY_TEXT_MAX];
    if (c->near.is_asked)
        fprintf(stderr, "note: %s\n", store_near_say(&c->near, said, sizeof said));
    const int code = study_on_store(c, kind, store);
    store_close(store);
    return code;
}

static int run_study(struct cli *ctx, int argc, char **argv)
{
    struct cli_arg args[CLI_ARGS_MAX];
    struct study_call c = {.ctx = ctx, .args = args};
    const char *word = argc > 1 && argv[1][0] != '-' ? argv[1] : NULL;
    const struct study_kind *kind = word != NULL ? study_kind_find(word) : NULL;
    if (kind == NULL)
        return refuse_kind(ctx, word);
    ctx->verb = kind->page.name;
    c.n_args = cli_options(ctx, &kind->page, argc - 1, argv + 1, args);
    if (c.n_args < 0)
        return CLI_WRONG;
    int code = find_file(&c, kind);
    if (code == CLI_GOOD)
        code = study_plot_read(&c);
    if (code != CLI_GOOD)
        return code;
    progress_start(&c.progress);
    c.watch = stop_watch(&c.progress);
    struct study_rows_order unused;
    const int answer = study_option(&c, "--store") != NULL              ? run_store(&c, kind)
                       : read_rows_order(&c, kind, &unused) != CLI_GOOD ? CLI_WRONG
                                                                        : kind->run(&c);
    progress_wipe(&c.progress);
    return answer;
}

static const struct cli_option options[] = {
    {NULL, NULL, NULL, false},
};

const struct cli_verb verb_study = {
    .name = "study",
    .line = "answer a question about the campaign from its figures",
    .call = "study KIND FILE.csv --OPTION...",
    .about = "Each kind of study answers one question from the columns of a CSV file (RFC 4180, "
             "any column names; - is standard "
             "input): `mendwright help study KIND` tells which, by which method, and what it takes "
             "for granted.\n"
             "\n"
             "Every answer begins with one sentence, then the figures with their uncertainty, then "
             "what was assumed and what "
             "was checked in the data; --plot FILE.svg, .png or .pdf draws it as well. Ctrl-C ends "
             "long work early; what is then printed says so.\n"
             "\n"
             "Exit 0 when answered, 1 when the answer is no (each kind says what that is), 2 when "
             "the call or the file is "
             "wrong, 3 when it could not finish, 4 when the data cannot answer: too few, all "
             "alike, and the like.",
    .example = "  $ printf 'min\\n95\\n104\\n88\\n99\\n91\\n112\\n97\\n90\\n' |\\\n"
               "      mendwright study labour - --minutes min --paid 90\n"
               "  [x] 90 min is not enough: ...\n"
               "  ...\n",
    .options = options,
    .kinds = pages,
    .run = run_study,
};
