/* main: owns the way from a call to a verb and from its answer to standard output. */
#include "cli/cli.h"
#include "cli/help.h"
#include "cli/verbs.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

enum { COLUMNS_UNKNOWN = 80, COLUMNS_MIN = 60, COLUMNS_MAX = 120, VERBS_MAX = 64 };

/* A file opened while standard output is closed would take its number, and the answer would go into
 * that file. */
static void keep_standard_streams(void)
{
    for (int fd = 0; fd <= 2; fd++)
        if (fcntl(fd, F_GETFD) < 0 && errno == EBADF)
            /* Open the other way round, so that using the stream still fails as it should. */
            (void)!open("/dev/null", fd == 0 ? O_WRONLY : O_RDONLY);
}

static int terminal_columns(void)
{
    long columns = 0;
    struct winsize size;
    const char *wanted = getenv("COLUMNS");
    if (ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0)
        columns = size.ws_col;
    if (columns == 0 && wanted != NULL)
        columns = strtol(wanted, NULL, 10);
    if (columns <= 0)
        columns = COLUMNS_UNKNOWN;
    return columns < COLUMNS_MIN ? COLUMNS_MIN : columns > COLUMNS_MAX ? COLUMNS_MAX : (int)columns;
}

static bool wants_colour(void)
{
    const char *no_colour = getenv("NO_COLOR");
    const char *term = getenv("TERM");
    if (no_colour != NULL && no_colour[0] != '\0')
        return false;
    return isatty(STDOUT_FILENO) && term != NULL && strcmp(term, "dumb") != 0;
}

static const struct cli_verb *find_verb(const char *name)
{
    for (const struct cli_verb *const *v = cli_verbs; *v != NULL; v++)
        if (strcmp((*v)->name, name) == 0)
            return *v;
    return NULL;
}

static int refuse_verb(const struct cli *ctx, const char *name)
{
    const char *known[VERBS_MAX] = {"help", "--version", "--help"};
    size_t n = 3;
    for (const struct cli_verb *const *v = cli_verbs; *v != NULL && n < VERBS_MAX; v++)
        known[n++] = (*v)->name;
    return cli_error_near(ctx, "the verb", name, known, n, "`mendwright help` lists the verbs");
}

static bool is_help(const char *word)
{
    return strcmp(word, "--help") == 0 || strcmp(word, "-h") == 0;
}

static bool asks_help(int argc, char **argv)
{
    for (int i = 1; i < argc && strcmp(argv[i], "--") != 0; i++)
        if (is_help(argv[i]))
            return true;
    return false;
}

/* The page for a word behind the verb: the verb's own when the word chooses no kind of it. */
static const struct cli_verb *find_page(const struct cli_verb *verb, const char *word)
{
    const size_t skip = strlen(verb->name) + 1;
    for (const struct cli_verb *const *k = verb->kinds; word != NULL && k != NULL && *k != NULL;
         k++)
        if (strcmp((*k)->name + skip, word) == 0)
            return *k;
    return verb;
}

/* mendwright help [VERB [KIND]] [--json] */
static int run_help(struct cli *ctx, int argc, char **argv)
{
    const struct cli_verb *verb = NULL;
    for (int i = 1; i < argc; i++) {
        if (strcmp(argv[i], "--json") == 0) {
            ctx->is_json = true;
            continue;
        }
        if (is_help(argv[i]))
            continue;
        const struct cli_verb *kind = verb != NULL ? find_page(verb, argv[i]) : NULL;
        if (kind != verb) {
            verb = kind;
            continue;
        }
        if (verb != NULL || argv[i][0] == '-')
            return cli_error(ctx, "found %.80s; expected the name of one verb", argv[i]);
        verb = find_verb(argv[i]);
        if (verb == NULL && strcmp(argv[i], "help") != 0)
            return refuse_verb(ctx, argv[i]);
    }
    if (ctx->is_json)
        help_json(ctx, cli_verbs);
    else if (verb != NULL)
        help_verb(ctx, verb);
    else
        help_all(ctx, cli_verbs);
    return CLI_GOOD;
}

static int run(struct cli *ctx, int argc, char **argv)
{
    if (argc < 2) {
        struct text t = {0};
        help_short(&t);
        if (t.data != NULL)
            fputs(t.data, stderr);
        text_done(&t);
        return CLI_WRONG;
    }
    const char *name = argv[1];
    if (strcmp(name, "--version") == 0) {
        text_puts(&ctx->out, "mendwright " MENDWRIGHT_VERSION "\n");
        return CLI_GOOD;
    }
    if (strcmp(name, "help") == 0 || is_help(name)) {
        ctx->verb = "help";
        return run_help(ctx, argc - 1, argv + 1);
    }
    const struct cli_verb *verb = find_verb(name);
    if (verb == NULL)
        return refuse_verb(ctx, name);
    ctx->verb = verb->name;
    if (asks_help(argc - 1, argv + 1)) {
        help_verb(ctx, find_page(verb, argc > 2 ? argv[2] : NULL));
        return CLI_GOOD;
    }
    return verb->run(ctx, argc - 1, argv + 1);
}

/* The whole answer at once; a write that fails outweighs whatever the answer was. */
static int write_out(struct cli *ctx, int code)
{
    if (ctx->out.is_broken) {
        cli_error(ctx, "memory ran out");
        return CLI_FAILED;
    }
    if (ctx->out.size == 0)
        return code;
    if (ctx->is_json && ctx->out.data[ctx->out.size - 1] != '\n')
        text_putc(&ctx->out, '\n');
    errno = 0;
    fwrite(ctx->out.data, 1, ctx->out.size, stdout);
    if (fflush(stdout) != 0 || ferror(stdout) || fclose(stdout) != 0) {
        cli_error(ctx, "the answer could not be written: %s", strerror(errno));
        return CLI_FAILED;
    }
    return code;
}

int main(int argc, char **argv)
{
    keep_standard_streams();
    /* A reader that went away is a failed write with a message, not a silent end. */
    signal(SIGPIPE, SIG_IGN);
    struct cli ctx = {.has_colour = wants_colour(), .columns = terminal_columns()};
    const int code = write_out(&ctx, run(&ctx, argc, argv));
    text_done(&ctx.out);
    return code;
}
