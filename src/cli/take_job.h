/* take_job: what the files of the verb take share: which bags, and how each is told. */
#ifndef CLI_TAKE_JOB_H
#define CLI_TAKE_JOB_H

#include "cli/cli.h"
#include "desk/take.h"

struct take_item {
    char *path;
    int64_t at_ms; /* the desk's clock; STORE_UNKNOWN: now */
};

/* Zero-initialised is empty. */
struct take_items {
    struct take_item *items;
    size_t n, room;
};

/* take_items_add: the bag at path, or every zip in it in the order of their names when it is a folder that holds zips and is no bag
 * itself. Errors: ERR_OPEN (nothing there, a device, may not be read), ERR_IO, ERR_MEMORY. */
MUST_USE enum err take_items_add(struct take_items *items, const char *path, int64_t at_ms,
                                 struct fault *reterr);

/* take_items_arrivals: the bags of a CSV file with the columns bag (a path beside the file, or in bags/ beside it) and arrived_ms, in its order. Errors:
 * those of csv_open_file and take_items_add; ERR_SYNTAX, ERR_DOMAIN, ERR_EMPTY. */
MUST_USE enum err take_items_arrivals(struct take_items *items, const char *file,
                                      struct fault *reterr);
void take_items_done(struct take_items *items);

struct take_tally {
    size_t n, n_taken, n_already, n_refused, n_photos, n_findings;
};

/* take_say_one: one bag, as a line of JSON or, when it was refused, of text. take_say_all: the closing words for people; last: the
 * only bag there was, else NULL. */
void take_say_one(struct cli *ctx, const char *path, const struct take_answer *answer);
void take_say_all(struct cli *ctx, const struct take_tally *tally, const struct take_answer *last);

#endif
