/* builds: the maker's build list, a CSV file (RFC 4180), into the store: what the label of each station of each unit said when it
 * was printed, so that what a technician reads can be held against it.
 *
 * Columns by name, in any order: vin, station (an id, as in the bulletin), label (as printed; may be empty: not known). Further
 * columns are not looked at. A row replaces what an earlier one said of the same unit and station. VINs are cleaned as vin_check
 * does; one of another length or with a character that no VIN has is refused, one whose check digit is wrong is taken and counted,
 * since not every country has it.
 *
 * A list with a fault changes nothing. Into an SQLite store without a build list, a list of at most BUILDS_WHOLE_MAX bytes goes as one
 * transaction, checked as it is read: after a fault or a break-down on the way nothing was changed. Others who would write to the store
 * wait for it, hence the bound; who reads sees the store as it was. Else the whole list is checked before the first row is put, and
 * rows are put in batches, so a break-down on the way (disk full) leaves whole batches; putting the list again goes on from there. A file
 * of any size is streamed; what comes through a pipe is held in memory, at most BUILDS_PIPE_MAX bytes. */
#ifndef DESK_BUILDS_H
#define DESK_BUILDS_H

#include "base/csv.h"
#include "core/vin.h"
#include "store/store.h"

enum {
    BUILDS_LABEL_MAX = 120,
    BUILDS_STATION_ROOM = 49,
    BUILDS_PIPE_MAX = 256 * 1024 * 1024,
    BUILDS_WHOLE_MAX = 128 * 1024 * 1024 /* about 3.5 million rows */
};

struct builds_row {
    char vin[VIN_SIZE + 1], station[BUILDS_STATION_ROOM], label[BUILDS_LABEL_MAX + 1];
    bool is_bad_check; /* the VIN's check digit is wrong */
};

/* builds_row: the record at which csv stands, by its columns `vin`, `station` and `label`. Errors: those of a row below. */
MUST_USE enum err builds_row(struct csv *csv, int vin, int station, int label,
                             struct builds_row *ret, struct fault *reterr);

struct builds_answer {
    int64_t n_rows;
    int64_t n_bad_checks; /* rows whose VIN has a wrong check digit */
    int first_bad_line;   /* of these the first; 0: none */
    char first_bad_vin[18];
};

/* builds_take: path "-": standard input. step may be NULL; `all` are twice the file's bytes, since it is read twice, or since making the
 * indexes afterwards takes about as long again. *ret is written
 * on ERR_OK only. Errors: those of csv_open_file, csv_need and csv_next; with line, column and the column's name ERR_SYNTAX (VIN,
 * station), ERR_LIMIT and ERR_ENCODING (label); ERR_EMPTY (no row), those of store_build_put. */
MUST_USE enum err builds_take(struct store *store, const char *path, int64_t now_ms,
                              const struct store_progress *step, struct builds_answer *ret,
                              struct fault *reterr);

/* builds_read: the same without a store: calls put for each batch, in order, n_rows at most STORE_BUILDS_AT_ONCE; what it is handed
 * lives until it returns. put NULL: only checked. */
typedef enum err builds_put(void *me, const struct store_build *rows, size_t n_rows,
                            struct fault *f);
MUST_USE enum err builds_read(const char *text, size_t n, const char *name, builds_put *put,
                              void *me, struct builds_answer *ret, struct fault *reterr);

#endif
