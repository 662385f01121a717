/* schema: the tables, their versions, and the way from an older version to the present one. Inside
 * src/store/. */
#ifndef STORE_SCHEMA_H
#define STORE_SCHEMA_H

#include "store/db.h"

enum {
    SCHEMA_APPLICATION = 0x4d575254, /* "MWRT", in the file's head */
    SCHEMA_VERSION = 7
};

enum { SCHEMA_DERIVED = 14 };

/* The derived tables, each after those that it names, with a query that lists all of it in a fixed
 * order. NULL table closes the list. */
struct schema_table {
    const char *table, *list, *empty;
};
extern const struct schema_table schema_derived[SCHEMA_DERIVED + 1];

/* schema_make: every table in an empty database, in the caller's transaction. */
MUST_USE enum err schema_make(struct db *db, struct fault *reterr);

/* schema_bulk: before (is_end false) and after filling the empty derived tables from the whole log, in the caller's transaction. */
MUST_USE enum err schema_bulk(struct db *db, bool is_end, struct fault *reterr);

/* schema_builds: before (is_end false) and after the empty build list gets very many rows, in the caller's transaction: its indexes are
 * made when all rows are there. */
MUST_USE enum err schema_builds(struct db *db, bool is_end, struct fault *reterr);

/* schema_check: whether db is a store of ours; *ret_version its version. Errors: ERR_TYPE (not a
 * store), ERR_DOMAIN (made by a later program), those of db. */
MUST_USE enum err schema_check(struct db *db, int64_t *ret_version, struct fault *reterr);

/* schema_upgrade: from an older version to SCHEMA_VERSION in the caller's transaction. The log is
 * only ever added to. The derived tables are not changed but dropped and made empty:
 * *ret_is_empty says that they must now be filled from the log. Where only indexes came since, they stay and get them. */
MUST_USE enum err schema_upgrade(struct db *db, int64_t version, bool *ret_is_empty,
                                 struct fault *reterr);

/* What sqlite_schema holds, in a fixed order, to be compared with that of a fresh database. */
extern const char schema_list[];

/* Types and names alone, of what has a text of SQL of its own: to compare a database with one of another kind. */
extern const char *const schema_names[DB_DIALECTS];

#endif
