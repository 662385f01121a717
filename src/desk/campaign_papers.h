/* campaign_papers: what a person tells of a campaign's means, as CSV files (RFC 4180) that are kept on the store's log, so that it is on
 * record who said how much, and when.
 *
 * reserve: one row. Columns: bulletin (its id), amount (money), currency (the bulletin's), person (who gives it).
 * stock: a row a kit. Columns: kit (its id in the bulletin), on_hand, ordered, lead_days (whole numbers, 0 .. 10^9). Further columns
 * are not looked at. */
#ifndef DESK_CAMPAIGN_PAPERS_H
#define DESK_CAMPAIGN_PAPERS_H

#include "store/store.h"

struct reserve_told {
    char bulletin[STORE_ID_MAX + 1], currency[4], person[STORE_ID_MAX + 1];
    char amount[40]; /* as it stands: its digits are the currency's */
};

/* reserve_read: errors, with line and column: those of csv_open, csv_need and csv_next; ERR_EMPTY, ERR_SYNTAX, ERR_LIMIT, ERR_DUPLICATE
 * (a second row). digits: the currency's, 0..4; -1: any of them may be right. */
MUST_USE enum err reserve_read(const char *text, size_t n, const char *name, int digits,
                               struct reserve_told *ret, int64_t *ret_minor, struct fault *reterr);

struct stock_told {
    const char *kit; /* borrowed until the next */
    int64_t on_hand, ordered, lead_days;
};
typedef enum err stock_see(void *me, const struct stock_told *row, struct fault *f);
/* stock_read: see for each row (NULL: only checked); *ret_n rows. Errors as above, and see's. */
MUST_USE enum err stock_read(const char *text, size_t n, const char *name, stock_see *see, void *me,
                             size_t *ret_n, struct fault *reterr);

#endif
