/* study_stock: which lengths of rack to stock, so that least is cut away? Each need is one piece, cut from the shortest
 * stocked length that is long enough; the
 * lengths are chosen among the needed ones, the longest always. Exact, by stat/assort.h. The kerf is not counted: it is the
 * same for every
 * choice but where a need is stocked as it is. */
#ifndef DESK_STUDY_STOCK_H
#define DESK_STUDY_STOCK_H

#include "desk/study_table.h"

enum { STOCK_LENGTH, STOCK_COUNT, STOCK_COLUMNS };
enum { STOCK_KINDS_MAX = 1000 };

struct study_stock_length {
    int64_t length_nm, n_pieces, n_lengths,
        waste_nm; /* pieces cut from it; different needs among them */
};

struct study_stock {
    int64_t n_pieces;
    size_t n_needs;                     /* different lengths */
    size_t n;                           /* stocked lengths */
    struct study_stock_length *lengths; /* ascending; study_stock_done frees */
    int64_t waste_nm, used_nm;
    int64_t waste_less_nm,
        waste_more_nm; /* with one length less and one more; -1: there is no such */
    struct study_notes notes;
};

/* count may be NULL: a row is a piece. */
void study_stock_wants(const char *length, const char *count, enum unit unit,
                       struct study_want wants[STOCK_COLUMNS]);

/* study_stock: k 1..STOCK_KINDS_MAX. Errors: ERR_EMPTY (nothing needed), ERR_DOMAIN (a length of 0 or less, with its line),
 * ERR_RANGE (a total beyond int64
 * nanometres), ERR_LIMIT (different lengths times k), ERR_BUSY (the watch, which may be NULL, asked to stop), ERR_MEMORY. */
MUST_USE enum err study_stock(const struct study_table *t, size_t k,
                              const struct study_watch *watch, struct study_stock *ret,
                              struct fault *reterr);
void study_stock_done(struct study_stock *s);

#endif
