/* study: what every study shares: how it tells what it took for granted, how it may be watched and stopped, its bounds.
 *
 * A study is one file, study_NAME.[ch]: a function from columns and options to a plain struct of figures with their uncertainty,
 * and notes. It reads its columns by study_table, does its sums by src/stat, prints nothing and knows no command line; the
 * command
 * and the page call the same function. Figures that do not exist are told by flags or counts beside them, never by NaN. */
#ifndef DESK_STUDY_H
#define DESK_STUDY_H

#include "base/fault.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    STUDY_ROWS_MAX = 10 * 1000 * 1000, /* rows of a file */
    STUDY_TEXT_MAX = 200,              /* bytes of a text in a column that names things */
    STUDY_NOTES_MAX = 32,
    STUDY_NOTE_MAX = 400 /* bytes of a note */
};

/* ---- notes --------------------------------------------------------------------------------- */

enum study_note_kind {
    STUDY_ASSUMED, /* taken for granted; the data cannot show it */
    STUDY_CHECKED, /* looked at in the data and found to hold */
    STUDY_CAVEAT   /* looked at and found not to hold, or a limit of the answer */
};

struct study_note {
    enum study_note_kind kind;
    char text[STUDY_NOTE_MAX]; /* a sentence with its full stop */
};

struct study_notes {
    size_t n;
    struct study_note at[STUDY_NOTES_MAX];
};

/* study_note: one more; a text that is too long is cut, never over-run. More than STUDY_NOTES_MAX is our own bug (assert). */
void study_note(struct study_notes *notes, enum study_note_kind kind, const char *fmt, ...)
    PRINTF_LIKE(3, 4);
const char *study_note_word(enum study_note_kind kind); /* "assumed", "checked", "caveat" */

/* ---- intervals ----------------------------------------------------------------------------- */

struct study_interval {
    bool is_known; /* false: the data are too few for one; then low and high mean nothing */
    double low, high;
};

/* ---- being watched ------------------------------------------------------------------------- */

/* go_on: told how far the work is, `what` in a word; false asks it to stop at the next good place. Called on the thread that
 * called the study, as often as one likes. */
struct study_watch {
    bool (*go_on)(void *me, const char *what, uint64_t done, uint64_t all);
    void *me;
};

/* study_go_on: true when nobody watches (watch or go_on NULL). */
bool study_go_on(const struct study_watch *watch, const char *what, uint64_t done, uint64_t all);

#endif
