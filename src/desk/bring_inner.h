/* bring_inner: what the files of bringing in share. Inside src/desk/bring*. */
#ifndef DESK_BRING_INNER_H
#define DESK_BRING_INNER_H

#include "base/csv.h"
#include "core/vin.h"
#include "desk/bring.h"

enum { BRING_REASON_ROOM = 320, BRING_KEY_ROOM = 96, BRING_VALUE_ROOM = 64 };

struct bring_fault {
    int line, column;
    uint64_t at, n; /* the row's bytes in the file */
    char field[64];
    char reason[BRING_REASON_ROOM];
};

/* A row of the build list, told apart exactly: VIN and station in 128 bits. */
struct bring_seen {
    uint64_t high, low;
    uint32_t row;
    uint8_t state; /* enum bring_state */
};
enum bring_state { BRING_NEW, BRING_CHANGED, BRING_SAME };

/* A row of a paper: what it is about, and what it says. */
struct bring_item {
    char key[BRING_KEY_ROOM], value[BRING_VALUE_ROOM];
    int line;
    uint64_t at, n;
};
struct bring_items {
    struct bring_item *at;
    size_t n, room;
};

struct bring {
    const struct bring_order *order;
    struct store *store;
    struct csv *csv;
    int columns[BRING_FIELDS_MAX];
    bool is_ours, is_put, is_held, has_builds;
    bool is_over; /* the fault just set is not the row's but the list's */
    uint64_t bytes, head_n;
    uint64_t at, n; /* the row under way: its bytes in the file */
    int line;
    int64_t n_rows, n_new, n_changed, n_same, n_repeated, n_gone, n_bad_checks;
    int bad_line;
    char bad_vin[VIN_SIZE + 1];
    /* faults */
    struct bring_fault *faults;
    size_t n_faults, faults_room;
    int64_t n_faulty;
    /* builds */
    char stations[BRING_STATIONS_MAX][49];
    int n_stations;
    struct bring_seen *seen;
    size_t n_seen, seen_room;
    /* papers */
    struct bring_items items;
};

/* The row under way is faulty. false: no memory. bring_put_faults: members "faulty", "faults", "more_faults", "in_file". bring_write_faults:
 * the file of them, in the order of the list; none: no file. */
bool bring_add_fault(struct bring *b, const struct fault *f);
void bring_put_faults(const struct bring *b, struct jsonw *w);
MUST_USE enum err bring_write_faults(struct bring *b, struct fault *reterr);
void bring_done(struct bring *b);

MUST_USE enum err bring_builds_begin(struct bring *b, struct fault *reterr);
MUST_USE enum err bring_build_row(struct bring *b, struct fault *reterr);
void bring_builds_end(struct bring *b);

MUST_USE enum err bring_item_row(struct bring *b, struct fault *reterr);
MUST_USE enum err bring_items_end(struct bring *b, struct fault *reterr);

#endif
