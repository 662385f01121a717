/* shops: the list of shops as a CSV file (RFC 4180): who may claim, at which rate, from which day.
 *
 * Columns by name, in any order: shop (id, as keyring_is_shop), kind (shop, mobile, dealer, owner), rate (money an hour, may be
 * empty: the bulletin's), from (YYYY-MM-DD, may be empty: always). Columns rate and from may be missing altogether, but then none may
 * have nearly their name, so that a slip does not pay another rate. Further columns are not looked at. A shop may have
 * several rows with different days; the latest that has begun holds. */
#ifndef DESK_SHOPS_H
#define DESK_SHOPS_H

#include "base/csv.h"
#include "base/fault.h"
#include "bulletin/bulletin.h"

struct shops_row {
    const char *id; /* owned by the list */
    enum bulletin_payee kind;
    int64_t rate_minor; /* BULLETIN_NO_AMOUNT: the bulletin's */
    int32_t from;       /* day; INT32_MIN: always */
};
struct shops; /* immutable once read; may be shared between threads */

/* shops_read: text[0..n). digits: minor digits of the currency of rates. Faults name line and column. Errors: those of csv_open,
 * ERR_EMPTY (no column "shop" or "kind"), ERR_UNKNOWN (kind; nearly a column's name), ERR_SYNTAX, ERR_IMPOSSIBLE and
 * ERR_DOMAIN (day, money), ERR_RANGE (money), ERR_DUPLICATE (the same shop and day), ERR_LIMIT (1 000 000 rows), ERR_MEMORY. */
MUST_USE enum err shops_read(const char *text, size_t n, const char *name, int digits,
                             struct shops **ret, struct fault *reterr);
/* shops_read_any: read for a currency of 2, else 0, else 3 decimals, since the list says none; *ret_digits: which. The fault is that of 2. */
MUST_USE enum err shops_read_any(const char *text, size_t n, const char *name, struct shops **ret,
                                 int *ret_digits, struct fault *reterr);
void shops_free(struct shops *shops);                                  /* NULL is fine */
size_t shops_n(const struct shops *shops);                             /* rows */
const struct shops_row *shops_at(const struct shops *shops, size_t i); /* by id, then day */

/* shops_row: the record at which csv stands, by its columns; rate and from -1: there is none. id: room for the field and its end; *ret's is id.
 * Errors: those of a row. */
MUST_USE enum err shops_row(struct csv *csv, int shop, int kind, int rate, int from, int digits,
                            char *id, struct shops_row *ret, struct fault *reterr);

/* shops_find: the row that holds for a shop on a day; NULL when there is none. The first row when day lies before all of them is
 * not it: a shop that has not begun is not in the list. O(log n). */
const struct shops_row *shops_find(const struct shops *shops, const char *id, int32_t day);

#endif
