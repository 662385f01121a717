/* study_rows: a store as the columns of a study. Each kind's rows come as CSV (RFC 4180), with what a study is told about them: which
 * columns are what, and a few figures that only the store knows. So a store and a file go the same way from here on, and what a
 * study of a store rests on can be written out and looked at.
 *
 * What counts (doc/studies.md says it for people):
 * window      a row a build day: stations of the build list by the first day of their label; failed: those that failed before any
 *             repair, each once
 * life        a row a station: days from the first day of its label to its first failure, its repair or `until`
 * completion  a row a unit in scope: days from the notice to its first claim, whatever became of it, or to `until`
 * held        a row for each station in scope before its repair (from the notice) and after it, with its failures
 * labour      a row a claim: minutes told, and how many-th of its shop it is
 * capability  a row a final reading at a point with limits: value, limits, shop
 * digits      a row a final reading: value, shop, technician, claim
 * kits        a row a kit: stations it was used for
 * audit       no rows: the lot is the number of units finished
 * Claims that stand refused count as no repair, no labour, no reading and no kit. A final reading is the last one after the work; at
 * a point without one the last there is. A store has no gauge study: nobody measures one part twice over. */
#ifndef DESK_STUDY_ROWS_H
#define DESK_STUDY_ROWS_H

#include "base/text.h"
#include "core/quantity.h"
#include "desk/study_sites.h"

enum study_rows_kind {
    ROWS_WINDOW,
    ROWS_LIFE,
    ROWS_COMPLETION,
    ROWS_HELD,
    ROWS_LABOUR,
    ROWS_GAUGE,
    ROWS_CAPABILITY,
    ROWS_AUDIT,
    ROWS_DIGITS,
    ROWS_KITS,
    ROWS_KIND_N
};

#define ROWS_NO_DAY INT32_MIN

struct study_rows_order {
    enum study_rows_kind kind;
    const char *variant; /* window, life, held, completion: this one alone; NULL: all */
    enum unit unit;      /* capability, digits: readings of its dimension, shown in it */
    int32_t notice;      /* ROWS_NO_DAY: the bulletin's day of issue */
    int32_t
        until; /* the last day watched; ROWS_NO_DAY: the last day from which the store has heard */
};

enum { ROWS_SAYS_MAX = 8, ROWS_SAY = 64 };

/* One option of the study that the store settles: {"--day", "day"}. */
struct study_rows_say {
    const char *option;
    char value[ROWS_SAY];
};

struct study_rows {
    struct text csv; /* with its head; study_rows_done frees it */
    size_t n_rows;
    size_t n_says;
    struct study_rows_say says[ROWS_SAYS_MAX];
    struct study_notes notes;
    int32_t notice, until;
};

/* study_rows_make: the sites must have been read from this store. *ret is the caller's, study_rows_done it. Errors: ERR_IMPOSSIBLE (the store
 * cannot answer this kind; the message says why), ERR_UNKNOWN (no such variant), ERR_BUSY, ERR_MEMORY, the store's. */
MUST_USE enum err study_rows_make(struct store *store, const struct study_sites *sites,
                                  const struct study_rows_order *order,
                                  const struct study_watch *watch, struct study_rows *ret,
                                  struct fault *reterr);
void study_rows_done(struct study_rows *r);

/* study_rows_value: what the store says of an option; NULL: nothing. */
const char *study_rows_value(const struct study_rows *r, const char *option);

#endif
