/* on_paper: what the verbs that write a PDF of a bulletin share: where to, on which paper, in which language, and what is said of the file. */
#ifndef CLI_ON_PAPER_H
#define CLI_ON_PAPER_H

#include "base/jsonw.h"
#include "bulletin/bulletin.h"
#include "cli/cli.h"
#include "draw/size.h"

struct on_paper {
    const char *out;      /* -o; "-": standard output */
    const char *language; /* --language; NULL: the bulletin's own */
    enum paper_size size; /* --paper */
    int64_t
        made_s; /* now, or SOURCE_DATE_EPOCH, so that two files can be compared byte by byte (reproducible-builds.org) */
};

/* on_paper_take: -o FILE (must be given; not "-" with --json), --paper, --language. like: an example of a name. CLI_GOOD, or CLI_WRONG
 * after cli_error. */
int on_paper_take(const struct cli *ctx, const struct cli_arg *args, int n, const char *like,
                  struct on_paper *ret);

/* on_paper_answer: the file, or onto standard output and then nothing more; behind a file with --json one object: the bulletin's head, "path",
 * what `tell` puts in, "paper", "language", "words", "bytes", "sha256"; else what `say` says. me is handed to both. An exit code. */
int on_paper_answer(struct cli *ctx, const struct on_paper *paper, const struct bulletin *b,
                    const struct text *pdf, const void *me,
                    void (*tell)(const void *me, struct jsonw *w),
                    void (*say)(struct cli *ctx, const void *me));

const char *on_paper_name(const struct on_paper *paper); /* "A4", "Letter" */

#endif
