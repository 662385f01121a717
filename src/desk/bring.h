/* bring: a list as it came (a CSV file, RFC 4180, by any names of columns) into the store: which of its columns is which of ours, what
 * would come of it, its faulty rows as the same file with a last column `reason`, and the bringing in itself, which is that of
 * builds_take and paper_keep.
 *
 * A list with a faulty row is not brought in at all. Where the columns have our names already, what is kept of failures and shops is the
 * file byte for byte; else the file is written anew with our columns alone, so that page and command line keep the same. The build list
 * is streamed; it adds to what is there. Failures and shops take the place of the list that is there, and are at most
 * STORE_PAPER_MAX bytes. */
#ifndef DESK_BRING_H
#define DESK_BRING_H

#include "base/jsonw.h"
#include "store/store.h"

enum bring_kind { BRING_BUILDS, BRING_FAILURES, BRING_SHOPS, BRING_KIND_N };
extern const char *const bring_kind_names[BRING_KIND_N + 1]; /* "builds", "failures", "shops" */

enum {
    BRING_FIELDS_MAX = 4,
    BRING_FAULTS_MAX = 10000, /* rows in the file of faults; further ones are counted */
    BRING_FAULTS_TOLD = 50,   /* in the answer */
    BRING_ROWS_MAX = 4000000,
    BRING_STATIONS_MAX = 256, /* different stations in one list */
    BRING_FILE_MAX = 512 * 1024 * 1024
};

struct bring_field {
    const char *name; /* ours; NULL closes the list */
    bool is_needed;
};
const struct bring_field *bring_fields(enum bring_kind kind); /* at most BRING_FIELDS_MAX */

/* bring_look: what a file is, before anything is said of it: members "bytes", "columns": [names], "first": the first rows (3 at most,
 * each an array of texts), "kind": the one that fits best, and "guess": {kind: {field: the column that may be it, or null}}, into an
 * object that is open. Errors: those of csv_open_file and csv_next. */
MUST_USE enum err bring_look(const char *path, struct jsonw *w, struct fault *reterr);

struct bring_order {
    enum bring_kind kind;
    const char *path;
    const char
        *columns[BRING_FIELDS_MAX]; /* the file's column for each of bring_fields; NULL: none */
    const char *faults_path; /* where the faulty rows go, when there are any; NULL: nowhere */
    int64_t now_ms;
    bool is_dry; /* nothing is put into the store */
    const struct store_progress *step;
    bool (*is_stopped)(void *me); /* asked until writing begins; NULL: never */
    void *me;
};

/* bring_run: members "kind", "dry", "rows", "faulty", "faults": [{line, column, field, reason}] (the first ones; of a row its first
 * fault), "more_faults", "in_file", "new", "changed", "same", "repeated" (rows that a later row of the list replaces; builds alone),
 * "gone" (rows of the list that is there which this one has not; failures and shops), "wrong_check_digits", "first_wrong": {vin, line}
 * or null, "put": whether it was put into the store. Faulty rows are no error. Errors: ERR_EMPTY (no such column, no row), ERR_LIMIT,
 * ERR_BUSY (stopped), those of builds_take, paper_keep, file_read. */
MUST_USE enum err bring_run(struct store *store, const struct bring_order *order, struct jsonw *w,
                            struct fault *reterr);

#endif
