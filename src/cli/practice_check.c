/* practice check, practice list: owns how sets of exercises are judged, exported and listed on the command line. */
#include "base/jsonw.h"
#include "cli/fault_show.h"
#include "cli/practice_call.h"

#include <string.h>

static const struct cli_option check_options[] = {
    {"--export", NULL, "print the sets as one JSON list, as the pages read it", false},
    {0},
};

static const char *plural(size_t n)
{
    return n == 1 ? "" : "s";
}

/* ---- check --------------------------------------------------------------------------------- */

static void say(struct cli *ctx, const struct practice_file *file)
{
    const struct fault_list *list = &file->faults;
    const char *name = strcmp(file->path, "-") == 0 ? "standard input" : file->path;
    const size_t n = list->n_faults + list->n_more_faults;
    const size_t n_warnings = list->n_warnings + list->n_more_warnings;
    if (file->set != NULL) {
        const size_t n_exercises = file->set->exercises.n;
        if (n_warnings > 0)
            cli_verdict(ctx, CLI_STRONG, "Valid, with %zu warning%s: %s, %zu exercise%s",
                        n_warnings, plural(n_warnings), file->set->head.id, n_exercises,
                        plural(n_exercises));
        else
            cli_verdict(ctx, CLI_STRONG, "Valid: %s, %zu exercise%s", file->set->head.id,
                        n_exercises, plural(n_exercises));
    } else {
        cli_verdict(ctx, CLI_STOP, "Not valid, %zu fault%s: %s", n, plural(n), name);
    }
    fault_show(ctx, &file->source, list->faults, list->n_faults, list->n_more_faults);
    if (n_warnings > 0) {
        text_putc(&ctx->out, '\n');
        cli_say(ctx, 2, "Odd, but may be meant:");
        fault_show(ctx, &file->source, list->warnings, list->n_warnings, list->n_more_warnings);
    }
}

static void tell(struct jsonw *w, const struct practice_file *file)
{
    jsonw_object(w, NULL);
    jsonw_string(w, "file", file->path);
    jsonw_bool(w, "valid", file->set != NULL);
    jsonw_string(w, "set", file->set != NULL ? file->set->head.id : NULL);
    jsonw_string(w, "sha256", file->sha256[0] != '\0' ? file->sha256 : NULL);
    jsonw_int(w, "exercises", file->set != NULL ? (int64_t)file->set->exercises.n : 0);
    fault_list_tell(&file->faults, w);
    jsonw_object_end(w);
}

static int worse(int a, int b)
{
    static const int rank[] = {
        [CLI_GOOD] = 0, [CLI_NO] = 1, [CLI_PERSON] = 2, [CLI_WRONG] = 3, [CLI_FAILED] = 4};
    return rank[a] >= rank[b] ? a : b;
}

/* One file after the other; ctx->out gets what is asked for. */
static int check_one(struct cli *ctx, const char *path, bool is_export, bool is_first,
                     struct jsonw *w)
{
    struct practice_file file;
    const int code = practice_file_read(path, &file);
    const bool is_told = file.set != NULL || (code == CLI_NO && !is_export);
    if (!is_told && file.faults.n_faults > 0)
        (void)cli_fault(ctx, &file.faults.faults[0]);
    if (is_export && is_told) {
        text_puts(&ctx->out, is_first ? "" : ",\n ");
        exercise_export(file.set, file.sha256, EXERCISE_ALL, &ctx->out);
    } else if (!is_export && ctx->is_json) {
        tell(w, &file);
    } else if (!is_export && is_told) {
        text_puts(&ctx->out, is_first ? "" : "\n");
        say(ctx, &file);
    }
    practice_file_done(&file);
    return code;
}

static int run_check(struct cli *ctx, int argc, char **argv)
{
    static struct cli_arg args[CLI_ARGS_MAX];
    const int n = cli_options(ctx, &practice_check_verb, argc, argv, args);
    if (n < 0)
        return CLI_WRONG;
    const bool is_export = cli_has(args, n, "--export");
    struct jsonw w;
    int code = CLI_GOOD, n_files = 0;
    if (is_export)
        text_putc(&ctx->out, '[');
    else if (ctx->is_json) {
        jsonw_start(&w, &ctx->out);
        jsonw_object(&w, NULL);
        jsonw_array(&w, "sets");
    }
    for (int i = 0; i < n; i++)
        if (args[i].name == NULL)
            code = worse(code, check_one(ctx, args[i].value, is_export, n_files++ == 0, &w));
    if (n_files == 0) {
        text_clear(&ctx->out);
        return cli_error(ctx, "which set? As in: mendwright practice check SET.yaml");
    }
    if (is_export)
        text_puts(&ctx->out, "]\n");
    else if (ctx->is_json) {
        jsonw_array_end(&w);
        jsonw_bool(&w, "valid", code == CLI_GOOD);
        jsonw_object_end(&w);
        text_putc(&ctx->out, '\n');
    }
    if (is_export && code != CLI_GOOD) /* half a list is no list */
        text_clear(&ctx->out);
    return is_export && code == CLI_NO ? CLI_WRONG : code;
}

const struct cli_verb practice_check_verb = {
    .name = "practice check",
    .line = "check sets of exercises: every fault with its line",
    .call = "practice check FILE... [--export]",
    .about =
        "Reads sets of exercises (YAML) and says everything that is wrong with them: their form, "
        "then what they mean, then whether each exercise can be solved within its limits, and "
        "whether it would be solved by doing nothing. doc/practice.md tells how a set is written. "
        "`-` reads standard input.\n\n"
        "--export prints valid sets as one JSON list (doc/practice.schema.json).\n\n"
        "Exit 0: valid. 1: faults. 2: not YAML, or not readable.",
    .example = "  $ mendwright practice check examples/practice/first-steps.yaml\n"
               "  [=] Valid: first-steps, ...\n",
    .options = check_options,
    .run = run_check,
};

/* ---- list ---------------------------------------------------------------------------------- */

static const struct cli_option list_options[] = {
    {"--language", "TAG", "show titles in this language where there is one: en, es, fr ...", false},
    {0},
};

static void tell_exercise(struct jsonw *w, const struct exercise_set *set, const struct exercise *x,
                          const char *language)
{
    jsonw_object(w, NULL);
    jsonw_string(w, "id", x->id);
    jsonw_string(w, "level", exercise_level_name(x->level));
    jsonw_string(w, "title", exercise_text(set, &x->title, language));
    jsonw_int(w, "minutes", x->limits.minutes);
    jsonw_int(w, "moves", x->limits.moves);
    jsonw_int(w, "hints", (int64_t)x->hints.n);
    jsonw_int(w, "questions", (int64_t)x->questions.n);
    jsonw_object_end(w);
}

static void tell_set(struct jsonw *w, const struct practice_file *file, const char *language)
{
    const struct exercise_set *set = file->set;
    jsonw_object(w, NULL);
    jsonw_string(w, "file", file->path);
    jsonw_string(w, "set", set->head.id);
    jsonw_string(w, "sha256", file->sha256);
    jsonw_string(w, "title", exercise_text(set, &set->head.title, language));
    jsonw_bool(w, "exam", set->head.is_exam);
    jsonw_bool(w, "invented", set->head.is_invented);
    jsonw_array(w, "exercises");
    for (size_t i = 0; i < set->exercises.n; i++)
        tell_exercise(w, set, &set->exercises.at[i], language);
    jsonw_array_end(w);
    jsonw_object_end(w);
}

static void say_set(struct cli *ctx, const struct exercise_set *set, const char *language)
{
    static const char *const head[] = {"exercise", "level", "min", "moves", "title"};
    struct cli_table *t = cli_table_new("llrrl");
    cli_verdict(ctx, CLI_STRONG, "%s: %s%s%s", set->head.id,
                exercise_text(set, &set->head.title, language), set->head.is_exam ? " (exam)" : "",
                set->head.is_invented ? " (invented)" : "");
    cli_table_head(t, head);
    for (size_t i = 0; i < set->exercises.n; i++) {
        const struct exercise *x = &set->exercises.at[i];
        cli_table_cell(t, CLI_STRONG, "%s", x->id);
        cli_table_cell(t, CLI_PLAIN, "%s", exercise_level_name(x->level));
        cli_table_cell(t, CLI_PLAIN, "%d", (int)x->limits.minutes);
        cli_table_cell(t, CLI_PLAIN, "%d", (int)x->limits.moves);
        cli_table_cell(t, CLI_PLAIN, "%s", exercise_text(set, &x->title, language));
    }
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
}

static int list_one(struct cli *ctx, const char *path, const char *language, bool is_first,
                    struct jsonw *w)
{
    struct practice_file file;
    const int code = practice_file_whole(ctx, path, &file);
    if (code == CLI_GOOD && ctx->is_json) {
        tell_set(w, &file, language);
    } else if (code == CLI_GOOD) {
        text_puts(&ctx->out, is_first ? "" : "\n");
        say_set(ctx, file.set, language);
    }
    practice_file_done(&file);
    return code;
}

static int run_list(struct cli *ctx, int argc, char **argv)
{
    static struct cli_arg args[CLI_ARGS_MAX];
    const int n = cli_options(ctx, &practice_list_verb, argc, argv, args);
    if (n < 0)
        return CLI_WRONG;
    const char *language = cli_value(args, n, "--language");
    struct jsonw w;
    int code = CLI_GOOD, n_files = 0;
    jsonw_start(&w, &ctx->out);
    if (ctx->is_json) {
        jsonw_object(&w, NULL);
        jsonw_array(&w, "sets");
    }
    for (int i = 0; i < n && code == CLI_GOOD; i++)
        if (args[i].name == NULL)
            code =
                list_one(ctx, args[i].value, language != NULL ? language : "", n_files++ == 0, &w);
    if (code == CLI_GOOD && n_files == 0)
        code = cli_error(ctx, "which set? As in: mendwright practice list SET.yaml");
    if (code != CLI_GOOD) {
        text_clear(&ctx->out);
        return code;
    }
    if (ctx->is_json) {
        jsonw_array_end(&w);
        jsonw_object_end(&w);
        text_putc(&ctx->out, '\n');
    }
    return code;
}

const struct cli_verb practice_list_verb = {
    .name = "practice list",
    .line = "what is in sets of exercises",
    .call = "practice list FILE... [--language TAG]",
    .about = "Lists the exercises of valid sets with their level and limits; it gives nothing "
             "away.\n\nExit 0: listed. 2: a file is not a valid set.",
    .example = "  $ mendwright practice list examples/practice/first-steps.yaml\n"
               "  [=] first-steps: First steps (invented)\n"
               "  ...\n",
    .options = list_options,
    .run = run_list,
};
