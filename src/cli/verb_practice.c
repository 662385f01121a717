/* verb practice: owns the list of what can be done with exercises. */
#include "cli/practice_call.h"
#include "cli/verbs.h"

#include <stdio.h>
#include <string.h>

static const struct cli_verb *const kinds[] = {
    &practice_check_verb, &practice_list_verb, &practice_try_verb, &practice_solve_verb, NULL,
};

enum { SKIP = sizeof "practice " - 1, KINDS = 4 /* of them, without the closing NULL */ };

static int run(struct cli *ctx, int argc, char **argv)
{
    const char *names[KINDS];
    char hint[120] = "expected ";
    const char *word = argc > 1 && argv[1][0] != '-' ? argv[1] : NULL;
    for (size_t i = 0; i < KINDS; i++) {
        const size_t used = strlen(hint);
        names[i] = kinds[i]->name + SKIP;
        (void)snprintf(hint + used, sizeof hint - used, "%s%s",
                       i == 0           ? ""
                       : i == KINDS - 1 ? " or "
                                        : ", ",
                       names[i]);
        if (word != NULL && strcmp(names[i], word) == 0) {
            ctx->verb = kinds[i]->name;
            return kinds[i]->run(ctx, argc - 1, argv + 1);
        }
    }
    if (word == NULL)
        return cli_error(ctx, "what is to be done? %s", hint);
    return cli_error_near(ctx, "the word", word, names, KINDS, hint);
}

static const struct cli_option options[] = {
    {0},
};

const struct cli_verb verb_practice = {
    .name = "practice",
    .line = "exercises on a simulated column: check, list, try, solve",
    .call = "practice WHAT FILE...",
    .about = "Sets of exercises are YAML files: a simulated unit with something wrong, what the "
             "customer says, and what must be reached (doc/practice.md). `mendwright help practice "
             "check` tells how a set is checked.",
    .example = "  $ mendwright practice check examples/practice/first-steps.yaml\n"
               "  [=] Valid: first-steps, ...\n",
    .options = options,
    .kinds = kinds,
    .run = run,
};
