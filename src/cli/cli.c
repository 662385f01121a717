/* cli: owns how a call is split into options and operands, and how errors are said. */
#include "cli/cli.h"

#include "base/suggest.h"

#include <stdarg.h>
#include <string.h>

const struct cli_option cli_common_options[] = {
    {"--json", NULL, "print one JSON object instead of text", false},
    {"--help", NULL, "show this page", false},
    {NULL, NULL, NULL, false},
};

/* ---- errors -------------------------------------------------------------------------------- */

static void print_error(const struct cli *ctx, char *message)
{
    message[text_clean(message, strlen(message), false)] = '\0';
    if (ctx->tap != NULL)
        text_printf(&ctx->tap->wrong, "%s%s", ctx->tap->wrong.size > 0 ? "\n" : "", message);
    else if (ctx->verb != NULL)
        fprintf(stderr, "mendwright %s: %s\n", ctx->verb, message);
    else
        fprintf(stderr, "mendwright: %s\n", message);
}

int cli_error(const struct cli *ctx, const char *fmt, ...)
{
    char message[FAULT_FILE_MAX + FAULT_PATH_MAX + FAULT_MESSAGE_MAX];
    va_list ap;
    va_start(ap, fmt);
    vsnprintf(message, sizeof message, fmt, ap);
    va_end(ap);
    print_error(ctx, message);
    return CLI_WRONG;
}

int cli_fault(const struct cli *ctx, const struct fault *f)
{
    char message[FAULT_FILE_MAX + FAULT_PATH_MAX + FAULT_MESSAGE_MAX];
    fault_line(f, message, sizeof message);
    print_error(ctx, message);
    return f->code == ERR_IO || f->code == ERR_MEMORY ? CLI_FAILED : CLI_WRONG;
}

int cli_error_near(const struct cli *ctx, const char *what, const char *word,
                   const char *const *known, size_t n_known, const char *hint)
{
    const char *near = suggest_nearest(word, strlen(word), known, n_known);
    if (near != NULL)
        return cli_error(ctx, "%s '%.80s' is not known; did you mean '%s'?", what, word, near);
    if (hint != NULL)
        return cli_error(ctx, "%s '%.80s' is not known; %s", what, word, hint);
    return cli_error(ctx, "%s '%.80s' is not known", what, word);
}

/* ---- options ------------------------------------------------------------------------------- */

/* "-" is standard input and "-5.4", "-1/16", "-.5" are numbers; everything else after a dash names
 * an option. */
static bool is_option(const char *word)
{
    if (word[0] != '-' || word[1] == '\0')
        return false;
    const char first = word[1] == '.' ? word[2] : word[1];
    return !(first >= '0' && first <= '9');
}

static size_t name_size(const char *word)
{
    return strncmp(word, "--", 2) == 0 ? strcspn(word, "=") : strlen(word);
}

static const struct cli_option *find_option(const struct cli_option *options, const char *word)
{
    const size_t n = name_size(word);
    for (; options != NULL && options->name != NULL; options++)
        if (strlen(options->name) == n && strncmp(options->name, word, n) == 0)
            return options;
    return NULL;
}

static int refuse_unknown(const struct cli *ctx, const struct cli_verb *verb, const char *word)
{
    const char *known[CLI_ARGS_MAX];
    size_t n = 0;
    const struct cli_option *lists[] = {verb->options, cli_common_options};
    for (size_t i = 0; i < 2; i++)
        for (const struct cli_option *o = lists[i]; o != NULL && o->name != NULL; o++)
            if (n < CLI_ARGS_MAX)
                known[n++] = o->name;
    const int size = (int)(name_size(word) < 80 ? name_size(word) : 80);
    const char *near = suggest_nearest(word, name_size(word), known, n);
    if (near != NULL)
        cli_error(ctx, "unknown option %.*s; did you mean %s?", size, word, near);
    else
        cli_error(ctx, "unknown option %.*s; `mendwright %s --help` lists what there is", size,
                  word, verb->name);
    return -1;
}

/* The value of argv[*i]: after '=' or the next word, which *i then points at. NULL after an error.
 */
static const char *take_value(const struct cli *ctx, const struct cli_option *o, int argc,
                              char **argv, int *i)
{
    const char *word = argv[*i];
    if (word[name_size(word)] == '=')
        return word + name_size(word) + 1;
    if (*i + 1 >= argc) {
        cli_error(ctx, "%s needs a value: %s %s", o->name, o->name, o->value);
        return NULL;
    }
    const char *next = argv[*i + 1];
    if (is_option(next)) {
        cli_error(
            ctx,
            "%s needs a value; found %.80s (a value that begins with a dash is written %s=...)",
            o->name, next, o->name);
        return NULL;
    }
    (*i)++;
    return next;
}

/* One option at argv[*i] into *ret. *ret->name stays NULL for --json, which is kept in ctx. False
 * after an error. */
static bool take_option(struct cli *ctx, const struct cli_verb *verb, int argc, char **argv, int *i,
                        struct cli_arg *ret)
{
    const char *word = argv[*i];
    const struct cli_option *o = find_option(verb->options, word);
    const bool is_common = o == NULL;
    if (is_common)
        o = find_option(cli_common_options, word);
    if (o == NULL)
        return refuse_unknown(ctx, verb, word) == 0;
    if (o->value == NULL && word[name_size(word)] == '=') {
        cli_error(ctx, "%s takes no value", o->name);
        return false;
    }
    *ret = (struct cli_arg){is_common ? NULL : o->name, NULL};
    if (is_common)
        ctx->is_json |= strcmp(o->name, "--json") == 0;
    if (o->value != NULL)
        ret->value = take_value(ctx, o, argc, argv, i);
    return o->value == NULL || ret->value != NULL;
}

int cli_options(struct cli *ctx, const struct cli_verb *verb, int argc, char **argv,
                struct cli_arg *args)
{
    int n = 0;
    bool is_over = false; /* "--" was met: the rest are operands */
    for (int i = 1; i < argc; i++) {
        struct cli_arg arg = {NULL, argv[i]};
        if (!is_over && strcmp(argv[i], "--") == 0) {
            is_over = true;
            continue;
        }
        if (!is_over && is_option(argv[i])) {
            if (!take_option(ctx, verb, argc, argv, &i, &arg))
                return -1;
            if (arg.name == NULL)
                continue;
            const struct cli_option *o = find_option(verb->options, arg.name);
            if (!o->is_repeatable && cli_has(args, n, arg.name)) {
                cli_error(ctx, "%s is given twice; expected it once", arg.name);
                return -1;
            }
        }
        if (n == CLI_ARGS_MAX) {
            cli_error(ctx, "the call has more than %d words", (int)CLI_ARGS_MAX);
            return -1;
        }
        args[n++] = arg;
    }
    return n;
}

const char *cli_value(const struct cli_arg *args, int n, const char *name)
{
    for (int i = n - 1; i >= 0; i--)
        if (args[i].name != NULL && strcmp(args[i].name, name) == 0)
            return args[i].value;
    return NULL;
}

bool cli_has(const struct cli_arg *args, int n, const char *name)
{
    for (int i = 0; i < n; i++)
        if (args[i].name != NULL && strcmp(args[i].name, name) == 0)
            return true;
    return false;
}
