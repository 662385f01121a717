/* db_ops: what a database behind db.h has to bring: one of these tables for each (store_sqlite.c, store_pg.c). db.c hands every call on.
 * The contracts are those of db.h. Inside db.c and those files only. */
#ifndef STORE_DB_OPS_H
#define STORE_DB_OPS_H

#include "store/db.h"

enum db_kind { DB_NULL, DB_INT, DB_REAL, DB_TEXT, DB_BLOB };

struct db_ops {
    enum db_dialect dialect;
    enum err (*open)(const char *path, enum db_mode mode, struct db **ret, struct fault *f);
    void (*close)(struct db *db);
    enum err (*script)(struct db *db, const char *sql, struct fault *f);
    enum err (*marks)(struct db *db, int64_t *ret_application, int64_t *ret_version,
                      struct fault *f);
    enum err (*mark)(struct db *db, int64_t application, int64_t version, struct fault *f);
    enum err (*count_objects)(struct db *db, int64_t *ret, struct fault *f);
    enum err (*bulk)(struct db *db, enum db_bulk bulk, struct fault *f); /* NULL: nothing to do */

    /* is_many: db_use_many. */
    struct db_use (*use)(struct db *db, const char *sql, bool is_many);
    void (*bind_int)(struct db_use *u, int64_t value);
    void (*bind_real)(struct db_use *u, double value);
    void (*bind_null)(struct db_use *u);
    void (*bind_text)(struct db_use *u, const char *value, size_t n); /* value NULL: null */
    void (*bind_blob)(struct db_use *u, const void *bytes, size_t n);
    enum err (*next)(struct db_use *u, bool *ret_row, struct fault *f);
    enum err (*end)(struct db_use *u, struct fault *f);
    void (*rest)(struct db_use *u);

    enum db_kind (*kind)(const struct db_use *u, int i);
    int64_t (*col_int)(const struct db_use *u, int i);
    double (*col_real)(const struct db_use *u, int i);
    const char *(*col_text)(const struct db_use *u, int i, size_t *ret_n);
    const uint8_t *(*col_blob)(const struct db_use *u, int i, size_t *ret_n);
    int (*cols)(const struct db_use *u);
    const char *(*col_name)(const struct db_use *u, int i);

    enum err (*begin)(struct db *db, struct fault *f);
    enum err (*snapshot)(struct db *db, struct fault *f);
    enum err (*commit)(struct db *db, struct fault *f);
    void (*rollback)(struct db *db);
    enum err (*confirm)(struct db *db, struct fault *f); /* NULL: nothing to do */
    enum err (*log_room)(struct db *db, int64_t seq, struct fault *f);
    enum err (*copy)(struct db *db, const char *path,
                     void (*step)(void *me, uint64_t done, uint64_t all), void *me,
                     struct fault *f);
    enum err (*check_file)(struct db *db, int max, db_tell *tell, void *me, struct fault *f);
};

/* Every struct db begins with this. */
struct db {
    const struct db_ops *ops;
};

extern const struct db_ops db_sqlite, db_pg;

#endif
