/* cli: what every verb shares: exit codes, options, help, where output goes.
 *
 * A verb is one file, verb_NAME.c, holding one const struct cli_verb and its run function. It reads
 * its options with cli_options, builds its whole answer in ctx->out and returns an exit code; main
 * writes ctx->out to stdout at the end (a failed write is exit 3). Errors go through cli_fault /
 * cli_error to stderr, one line each, "mendwright VERB: ...". */
#ifndef CLI_CLI_H
#define CLI_CLI_H

#include "base/fault.h"
#include "base/jsonw.h"
#include "base/text.h"

#include <stdbool.h>
#include <stdio.h>

struct study_notes;

enum cli_exit {
    CLI_GOOD = 0,   /* done and good */
    CLI_NO = 1,     /* done, and the answer is no */
    CLI_WRONG = 2,  /* the input or the call is wrong */
    CLI_FAILED = 3, /* could not finish: disk, network, memory */
    CLI_PERSON = 4  /* needs a person: uncertain or unknown */
};

/* Where an answer goes that no terminal shows (study_ask.h): what is said, piece by piece, and what is wrong. */
struct cli_tap {
    /* An array that is open. A verdict: {"kind": "verdict", "tone", "text"}; a paragraph: {"kind": "text", "text"}; a table:
     * {"kind": "table", "align": "lr", "head": [...] (empty without one), "rows": [[...]]}. */
    struct jsonw *said;
    struct text wrong; /* a line each, without the verb before it */
};

struct cli {
    const char *verb;
    struct text out;     /* the answer, written to stdout by main */
    bool is_json;        /* --json was given */
    bool has_colour;     /* stdout is a terminal, NO_COLOR is not set, TERM is not dumb */
    int columns;         /* width of the terminal, 80 when unknown, 60..120 */
    struct cli_tap *tap; /* NULL: what is said goes into out, what is wrong to standard error */
    const struct study_notes
        *first_notes; /* of a study of a store: where its rows come from (study.h); NULL: none */
};

struct cli_option {
    const char *name;   /* "--unit" ; NULL closes the list */
    const char *value;  /* what to call its value in help ("UNIT"); NULL for a flag */
    const char *help;   /* one line; wraps by itself */
    bool is_repeatable; /* may be given several times */
};

struct cli_verb {
    const char *name;    /* "conform" */
    const char *line;    /* what it does, one line for `mendwright help` */
    const char *call;    /* "conform --reading R --low L --high U --u S" */
    const char *about;   /* a paragraph or two for --help, blank lines kept, wraps by itself */
    const char *example; /* a call and what it prints, indented as it stands */
    const struct cli_option *options; /* --help and --json are added for every verb */
    int (*run)(struct cli *ctx, int argc, char **argv); /* argv[0] is the verb */
    const struct cli_verb *const *
        kinds; /* a verb whose first word chooses what it does: a page of its own for each, named "VERB
                                            WORD", closed by NULL; NULL for all others. run of these is not used */
};

/* One option or operand as found, in order. name NULL: an operand. Values are borrowed from argv.
 */
struct cli_arg {
    const char *name;
    const char *value; /* NULL for a flag */
};

enum { CLI_ARGS_MAX = 4096 };

/* cli_options: splits argv[1..) by the verb's options ("--name value", "--name=value", "--" ends
 * them; "-" alone is an operand; a negative number such as -5.4 is an operand or value, not an
 * option). Refuses unknown options (with the nearest known name), missing values, an unrepeatable
 * option given twice, a call longer than CLI_ARGS_MAX. Handles --json. Writes args[CLI_ARGS_MAX]
 * and returns their number, or -1 after cli_error. */
int cli_options(struct cli *ctx, const struct cli_verb *verb, int argc, char **argv,
                struct cli_arg *args);

/* Options that every verb has; closed by a NULL name. */
extern const struct cli_option cli_common_options[];

/* cli_value: the value of the last arg so named; NULL when missing. cli_has: whether a flag was
 * given. */
const char *cli_value(const struct cli_arg *args, int n, const char *name);
bool cli_has(const struct cli_arg *args, int n, const char *name);

/* cli_error: one line to stderr, "mendwright VERB: message"; returns CLI_WRONG so that `return
 * cli_error(...)` works. cli_fault: the same for a fault; CLI_FAILED for ERR_IO and ERR_MEMORY,
 * else CLI_WRONG. */
int cli_error(const struct cli *ctx, const char *fmt, ...) PRINTF_LIKE(2, 3);
int cli_fault(const struct cli *ctx, const struct fault *f);

/* cli_error_near: cli_error for a word that is not known: "WHAT 'word' is not known; did you mean
 * 'near'?", or with the hint in place of the question when nothing is near ("expected one of ...";
 * may be NULL). known[0..n_known). */
int cli_error_near(const struct cli *ctx, const char *what, const char *word,
                   const char *const *known, size_t n_known, const char *hint);

/* ---- terminal output ----------------------------------------------------------------------- */

/* Everything below replaces control characters and ill-formed bytes by '?', so that no text from a
 * file can move the cursor. cli_is_utf8: LC_ALL, LC_CTYPE or LANG (the first that is set) asks for
 * UTF-8. */
bool cli_is_utf8(void);

enum cli_tone {
    CLI_PLAIN,
    CLI_STRONG,
    CLI_QUIET,
    CLI_STOP,
    CLI_ACT
}; /* bold, dim, must-not-go-on, what to do */

/* cli_verdict: the first line of an answer: a shape, the verdict in words, tone only on a terminal.
 * tone CLI_STOP shows "[x]", CLI_ACT "[>]", CLI_STRONG "[=]", CLI_QUIET "[?]" before the words;
 * CLI_PLAIN none. */
void cli_verdict(struct cli *ctx, enum cli_tone tone, const char *fmt, ...) PRINTF_LIKE(3, 4);

/* cli_say: a paragraph wrapped to ctx->columns, `indent` blanks before every line. A line feed in
 * the text ends a line, a line that begins with a blank is kept as it stands. An amount and its unit,
 * and whole inches and their fraction, stay on one line. A closing line feed is added. */
void cli_say(struct cli *ctx, int indent, const char *fmt, ...) PRINTF_LIKE(3, 4);

/* cli_rule: a thin line of `columns` from `indent` on. */
void cli_rule(struct cli *ctx, int indent, int columns);

/* A table: cells are copied; columns align ('l' or 'r' or '.' for a decimal point, one letter a
 * column in `align`), header underlined by a rule, cells wider than the terminal wrap in the last
 * column; a table with a head that is too wide all the same is printed row by row, each cell after its heading. At most 12 columns. */
struct cli_table;
struct cli_table *
cli_table_new(const char *align); /* NULL: no memory; every call below takes NULL */
void cli_table_head(struct cli_table *t, const char *const *cells);
void cli_table_cell(struct cli_table *t, enum cli_tone tone, const char *fmt, ...)
    PRINTF_LIKE(3, 4);
void cli_table_print(struct cli_table *t, struct cli *ctx, int indent);
void cli_table_free(struct cli_table *t);

/* cli_strip: a reading against its limits, drawn `width` columns wide (12..120, held to that),
 * always in the same frame so that strips below one another line up: a sixth of the width outside
 * on either side, the limits as ends, guard bands hatched, the nominal as a tick, the reading as a
 * wedge to scale. Beyond the frame the strip ends in an arrow, with the distance to the limit in
 * the caller's numbers where it fits. ASCII unless cli_is_utf8.
 *   |::----+---v--::|        inside            |::----+------::| v    outside, as far as it really
 * is
 *   |::----+------::|  4.2>  4.2 beyond the upper limit, too far to draw
 * guard_low and guard_high are the guarded limits (low and high when there is no guard). Limits
 * that are not finite or not ascending give an empty string. buf needs CLI_STRIP_MAX bytes to hold
 * any strip; it is cut to room. */
enum { CLI_STRIP_MAX = 4 * 120 + 1 };
void cli_strip(char *buf, size_t room, int width, double low, double high, double guard_low,
               double guard_high, double nominal, double reading);

/* The same with the reading's uncertainty as a bar of '=' over reading - U .. reading + U (U >= 0,
 * as the caller expands it: say so in words, for example U = 2 u). */
struct cli_strip_values {
    double low, high, guard_low, guard_high, nominal, reading, expanded_u;
};
void cli_strip_draw(char *buf, size_t room, int width, const struct cli_strip_values *v);

#endif
