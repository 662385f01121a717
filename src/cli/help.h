/* help: what mendwright says about itself: the list of verbs, one verb's page, and both as JSON for
 * the man page. */
#ifndef CLI_HELP_H
#define CLI_HELP_H

#include "cli/cli.h"

/* help_all: the job, the verbs one line each, the exit codes. help_short: the two lines for a call
 * without a verb. help_verb: call, about, options, exit codes, example. help_json: everything as
 * one object, for tools/manpage and the tests that run the examples:
 * {"program","version","job","verbs":[{"name","line","call","about","example",
 * "options":[{"name","value","help","repeatable"}]}],"exit":[{"code","meaning"}]}; the pages of a verb's kinds follow it as "VERB KIND". verbs: closed by NULL. */
void help_all(struct cli *ctx, const struct cli_verb *const *verbs);
void help_short(struct text *out);
void help_verb(struct cli *ctx, const struct cli_verb *verb);
void help_json(struct cli *ctx, const struct cli_verb *const *verbs);

#endif
