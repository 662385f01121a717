/* export: everything in a table of the store, row by row, under names that stay: doc/serve.md lists them. Texts are the store's own, words
 * and numbers are those that other answers use. */
#ifndef STORE_EXPORT_H
#define STORE_EXPORT_H

#include "store/store.h"

enum export_table {
    EXPORT_UNITS,
    EXPORT_CLAIMS,
    EXPORT_STATIONS,
    EXPORT_READINGS,
    EXPORT_RULINGS,
    EXPORT_AWARDS,
    EXPORT_PAYMENTS,
    EXPORT_TABLES
};
extern const char *const export_table_names[EXPORT_TABLES + 1]; /* closed by NULL */

enum { EXPORT_CELLS_MAX = 24 };
enum export_kind { EXPORT_NULL, EXPORT_INT, EXPORT_TEXT };
struct export_cell {
    const char *name; /* of its column */
    enum export_kind kind;
    int64_t number;
    const char *text; /* n bytes, NUL behind them */
    size_t n;
};

/* store_export: see is called once before the first row with the columns' names alone (every kind EXPORT_NULL, row -1), then for each
 * row from 0 on; false ends it. All of one moment. Errors: the database's. */
typedef bool store_see_cells(void *me, int64_t row, const struct export_cell *cells, size_t n);
MUST_USE enum err store_export(struct store *store, enum export_table table, store_see_cells *see,
                               void *me, struct fault *reterr);

#endif
