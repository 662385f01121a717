/* study_ask: a study asked for by a page: which kinds there are, which of a kind's options a page may set, within which bounds, and what comes
 * back. The command line answers (cli/study_ask.c, handed over through http_settings), so that every figure is the command's own; this is
 * the narrow door between the two. Nothing here names a file: the rows are the store's, or a text that was handed in. */
#ifndef DESK_STUDY_ASK_H
#define DESK_STUDY_ASK_H

#include "base/fault.h"
#include "base/jsonw.h"
#include "base/text.h"
#include "desk/study.h"

#include <stdbool.h>
#include <stddef.h>

enum {
    STUDY_ASK_OPTIONS_MAX = 16,
    STUDY_ASK_VALUE_MAX = 60,          /* bytes of one option's value */
    STUDY_ASK_ROWS_MAX = 256 * 1024,   /* bytes of rows that are handed in */
    STUDY_ASK_PICTURE_MAX = 512 * 1024 /* bytes of a PNG that goes along */
};

enum study_ask_type {
    STUDY_ASK_NUMBER, /* least..most */
    STUDY_ASK_WHOLE,
    STUDY_ASK_DAY,    /* "2026-03-05" */
    STUDY_ASK_WORD,   /* an id */
    STUDY_ASK_AMOUNT, /* "0.5 mm", "1/16"; the study says which units fit */
    STUDY_ASK_CHOICE, /* one of `choices` */
    STUDY_ASK_FLAG    /* "yes", or not there at all */
};

/* One option that may be set. The bounds are those of the command, or narrower: work for a page stays bounded. */
struct study_ask_option {
    const char
        *name; /* as the command has it, without its dashes: "at-most"; NULL closes the list */
    enum study_ask_type type;
    double least, most;
    const char
        *usual; /* what holds when it is left out, as text; NULL: nothing, or the store says */
    const char *const *choices; /* closed by NULL */
};

struct study_ask_kind {
    const char *kind; /* "window"; NULL closes the list */
    /* The columns of rows that are handed in, "part,operator,value"; NULL: the rows are the store's. */
    const char *columns;
    const struct study_ask_option *options;
};
extern const struct study_ask_kind study_ask_kinds[];
const struct study_ask_kind *study_ask_find(const char *kind); /* NULL: none such */

struct study_ask_value {
    const struct study_ask_option *option;
    char text[STUDY_ASK_VALUE_MAX + 1]; /* "yes" of a flag */
};

struct study_ask {
    const struct study_ask_kind *kind;
    size_t n;
    struct study_ask_value at[STUDY_ASK_OPTIONS_MAX];
    const char *rows; /* CSV, n_rows bytes; of kinds with columns, else NULL */
    size_t n_rows;
    const char *
        read_from; /* a standby of the store's (store/near.h), by the server's own settings; NULL: none */
};

/* study_ask_set: one more option, checked. Errors: ERR_UNKNOWN (the kind has none of that name), ERR_DUPLICATE, ERR_SYNTAX, ERR_RANGE, ERR_LIMIT;
 * reterr->path is its name, reterr->message says what was found and expected. */
MUST_USE enum err study_ask_set(struct study_ask *ask, const char *name, const char *value,
                                size_t n, struct fault *reterr);

/* study_ask_command: the same as a call for a shell, the store named `store`: "mendwright study window --store claims --confidence 90".
 * Words are quoted where a shell would take them apart. */
void study_ask_command(const struct study_ask *ask, const char *store, struct text *ret);

/* study_ask_store: what a store is called where people see it: the last part of its folder or address, without what may stand behind it; never where it
 * lies, nor who may open it. */
enum { STUDY_ASK_STORE_ROOM = 80 };
void study_ask_store(const char *store, char ret[STUDY_ASK_STORE_ROOM]);

/* study_ask_list: "kinds": [{"kind", "columns" (null), "options": [{"name", "type", "least", "most", "usual", "choices"}]}], into an object that is open. */
void study_ask_list(struct jsonw *w);

/* What came of it. study_told_done frees it. */
struct study_told {
    int code; /* the command's exit code: 0, 1 (the answer is no), 4 (the data cannot answer) */
    char bulletin[STUDY_TEXT_MAX]; /* whose campaign the store's rows are of; "": of none */
    struct text answer;            /* what the command prints with --json, without its line feed */
    struct text said; /* the answer in words: a JSON array (cli/cli.h, struct cli_tap) */
    struct text svg,
        png; /* empty: there is no picture; no_picture says why, when it should be there */
    char no_picture[FAULT_MESSAGE_MAX];
};
void study_told_done(struct study_told *told);

/* study_ask_do: answers, without writing to the store. store: its folder, named by `name` in source lines. Codes 2 and 3 of the command come back as faults, with the command's
 * words: ERR_DOMAIN (the call or the rows are wrong), ERR_BUSY (the watch asked to stop), ERR_IO (could not finish). Several may run at once. */
typedef enum err study_ask_do(const char *store, const struct study_ask *ask,
                              const struct study_watch *watch, struct study_told *ret,
                              struct fault *reterr);

#endif
