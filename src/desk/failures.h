/* failures: the list of failure reports as a CSV file (RFC 4180): which station of which unit failed on which day. The maker's
 * after-sales desk keeps it; studies of a store and the campaign report count from it.
 *
 * Columns by name, in any order: vin, station (an id, as in the bulletin), failed (YYYY-MM-DD, the day it failed), reported
 * (YYYY-MM-DD, the day the desk heard of it; the column may be missing, and a field empty: not known). Further columns are not
 * looked at. A station may fail several times; the same station and day twice is one failure told twice, and refused. */
#ifndef DESK_FAILURES_H
#define DESK_FAILURES_H

#include "base/csv.h"
#include "base/fault.h"
#include "core/vin.h"

enum { FAILURES_MAX = 1000000, FAILURES_STATION = 49 };
#define FAILURES_NO_DAY INT32_MIN

struct failure {
    char vin[VIN_SIZE + 1], station[FAILURES_STATION];
    int32_t failed;   /* day */
    int32_t reported; /* day; FAILURES_NO_DAY: not known */
};

struct failures {
    struct failure *at; /* by VIN, station, day */
    size_t n;
};

/* failures_read: text[0..n); *ret is the caller's, failures_done it. Faults name line and column. Errors: those of csv_open,
 * ERR_EMPTY (no column "vin", "station" or "failed"), ERR_SYNTAX (VIN, station, day), ERR_IMPOSSIBLE (day), ERR_ORDER (reported
 * before it failed), ERR_DUPLICATE, ERR_LIMIT, ERR_MEMORY. */
MUST_USE enum err failures_read(const char *text, size_t n, const char *name, struct failures *ret,
                                struct fault *reterr);
void failures_done(struct failures *list);

/* failures_row: the record at which csv stands, by its columns; reported -1: there is none. Errors: those of a row. */
MUST_USE enum err failures_row(struct csv *csv, int vin, int station, int failed, int reported,
                               struct failure *ret, struct fault *reterr);

/* failures_of: those of one station, *ret_n of them, by day; borrowed. O(log n). */
const struct failure *failures_of(const struct failures *list, const char *vin, const char *station,
                                  size_t *ret_n);

#endif
