/* study: how a kind of study plugs into the verb `study`. A kind is one file, study_NAME.c: its page for help, and a function
 * that
 * reads its options and columns, calls desk/study_NAME and says what came out: one sentence that answers (cli_verdict), the
 * table,
 * then study_say_notes; or JSON by the contract, closed by study_put_notes. Its line in the table is in verb_study.c. */
#ifndef CLI_STUDY_H
#define CLI_STUDY_H

#include "base/jsonw.h"
#include "cli/amount.h"
#include "cli/cli.h"
#include "cli/progress.h"
#include "desk/study.h"
#include "desk/study_rows.h"
#include "desk/study_table.h"
#include "store/near.h"

/* What was asked of the picture (cli/study_plot.h). */
struct study_plot_order {
    const char *path;       /* NULL: none */
    const char *date;       /* NULL: none */
    int format;             /* enum chart_format */
    double width, height;   /* points; 0: as the picture needs */
    char unit[128];         /* room for what the times are in */
    struct text *svg, *png; /* into memory instead of the path, in both forms; NULL: the path */
    struct fault *fault;    /* with svg: why there is no picture, which spoils no answer */
};

struct study_call {
    struct cli *ctx;
    const char *file;              /* NULL for a kind that takes none; with a store: its folder */
    const struct study_rows *rows; /* of a store, instead of a file; NULL: a file */
    const struct cli_arg *args;
    int n_args;
    struct study_watch watch; /* shows progress on a terminal; asks to stop after Ctrl-C */
    struct progress progress;
    struct study_plot_order plot;
    struct store_near near;        /* of a store: where it is read */
    char bulletin[STUDY_TEXT_MAX]; /* set by study_on_store: whose campaign it is of */
};

struct study_kind {
    struct cli_verb page; /* name "study labour"; run is left NULL */
    enum { STUDY_NEEDS_FILE, STUDY_MAY_FILE, STUDY_NO_FILE } file;
    enum study_rows_kind rows; /* what --store gives */
    /* Returns an exit code: 0 answered, 1 the answer is no (the page says what that is), 2 the input is wrong, 4 the data cannot
     * answer (study_cannot). */
    int (*run)(struct study_call *c);
};

/* ---- options; each returns CLI_GOOD, or an exit code after cli_error. What is not given stays as *ret was.
 * ------------------ */

const char *study_option(const struct study_call *c, const char *name); /* NULL: not given */
bool study_flag(const struct study_call *c, const char *name);

/* study_need: a value that must be there; `what` as in "expected the column of the minutes". */
int study_need(const struct study_call *c, const char *name, const char *what, const char **ret);
int study_option_number(const struct study_call *c, const char *name, double low, double high,
                        double *ret);
int study_option_whole(const struct study_call *c, const char *name, int64_t low, int64_t high,
                       int64_t *ret);
int study_option_unit(const struct study_call *c, const char *name, enum unit *ret);

/* study_read: the file's columns; says what is wrong with it. CLI_FAILED when stopped by Ctrl-C. */
int study_read(struct study_call *c, const struct study_want *wants, size_t n_wants,
               struct study_table **ret);

/* The options of every kind by which the rows come from a store; the first line of each kind's list. */
/* clang-format off */
#define STUDY_STORE_OPTIONS                                                                                          \
    {"--store", "FOLDER", "take the rows from a store of claims instead of a file; columns need not be named", false}, \
    {"--read-from", "ADDRESS", "with a store in PostgreSQL: read from this standby, and say how far it is behind", false}, \
    {"--bulletin", "ID", "with --store: which campaign, where several are kept", false},                             \
    {"--variant", "ID", "with --store: stations of this variant alone", false},                                      \
    {"--notice", "DATE", "with --store: the day notice was given; the bulletin's day of issue", false},              \
    {"--until", "DATE", "with --store: the last day watched; the last from which the store has heard", false},       \
    {"--rows", "FILE", "with --store: also write the rows that were used, as CSV", false}
/* clang-format on */

/* study_is_said: whether the answer is wanted in words; JSON may be wanted beside them (cli_tap). */
static inline bool study_is_said(const struct cli *ctx)
{
    return !ctx->is_json || ctx->tap != NULL;
}

/* ---- answers ------------------------------------------------------------------------------- */

/* study_cannot: says why there are no figures, and returns the exit code. The data cannot answer (ERR_EMPTY, ERR_DOMAIN,
 * ERR_IMPOSSIBLE, ERR_AMBIGUOUS about the file as a whole, that is without a line: too few, all alike, all censored): an
 * answer on stdout, with --json {"cannot": "why"},
 * CLI_PERSON. Anything else is a fault on stderr: CLI_FAILED for ERR_IO, ERR_MEMORY and ERR_BUSY, else CLI_WRONG. */
int study_cannot(const struct study_call *c, const struct fault *f);

/* study_say_notes: what was assumed, checked and is a caveat, as a list with its heading; nothing when there are none, nor to a tap, which
 * has them in the JSON. study_put_notes: "assumptions": [{"kind","text"}]. Both say first where the rows come from (ctx->first_notes). */
void study_say_notes(struct cli *ctx, const struct study_notes *notes);
void study_put_notes(const struct cli *ctx, struct jsonw *w, const struct study_notes *notes);

/* study_figure: a number with `digits` that count and no needless zeros, never in exponents below 1e9: "12.3", "0.0042", "1250".
 * Not finite: "-". buf[CLI_AMOUNT_SIZE]; returns buf. study_p: a p-value: "0.032", "<0.0001". */
const char *study_figure(double value, int digits, char *buf);
const char *study_p(double p, char *buf);

/* study_put: a number, null when it is not finite. */
void study_put(struct jsonw *w, const char *key, double value);

extern const struct study_kind study_labour_kind;
extern const struct study_kind study_completion_kind;
extern const struct study_kind study_held_kind;
extern const struct study_kind study_life_kind;
extern const struct study_kind study_window_kind;
extern const struct study_kind study_gauge_kind;
extern const struct study_kind study_audit_kind;
extern const struct study_kind study_capability_kind;
extern const struct study_kind study_digits_kind;
extern const struct study_kind study_stock_kind;

/* study_put_interval: [low, high], or [] when it is not known. */
void study_put_interval(struct jsonw *w, const char *key, struct study_interval i);

/* study_option_percent: in per cent in the call, a share in *ret. */
int study_option_percent(const struct study_call *c, const char *name, double low, double high,
                         double *ret);

/* The kinds, in the order in which they are listed; closed by NULL. study_kind_find: "window"; NULL: none such. */
extern const struct study_kind *const study_kinds[];
const struct study_kind *study_kind_find(const char *word);

/* study_on_rows: the study on rows that are there already, which stand for a file. study_on_store: on the store's rows; c->file names it.
 * Both return an exit code as run does. */
int study_on_rows(struct study_call *c, const struct study_kind *kind,
                  const struct study_rows *rows);
int study_on_store(struct study_call *c, const struct study_kind *kind, struct store *store);

#endif
