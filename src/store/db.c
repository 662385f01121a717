/* db: owns which database a call goes to, and what is the same for all of them. */
#include "store/db_ops.h"
#include "store/place.h"

#include <stdio.h>
#include <string.h>

enum err db_open(const char *path, enum db_mode mode, struct db **ret, struct fault *reterr)
{
    const bool is_server = mode != DB_SCRATCH && place_is_server(path);
    return (is_server ? &db_pg : &db_sqlite)->open(path, mode, ret, reterr);
}

void db_close(struct db *db)
{
    if (db != NULL)
        db->ops->close(db);
}

enum db_dialect db_dialect(const struct db *db)
{
    return db->ops->dialect;
}

enum err db_script(struct db *db, const char *sql, struct fault *reterr)
{
    return db->ops->script(db, sql, reterr);
}

enum err db_counted(struct db *db, const char *table, const char *key, struct fault *reterr)
{
    char sql[256];
    if (db->ops->dialect != DB_POSTGRESQL) /* SQLite looks at the largest itself */
        return ERR_OK;
    snprintf(sql, sizeof sql,
             "SELECT setval(pg_get_serial_sequence('%s', '%s'), (SELECT coalesce(max(%s), 0) + 1 "
             "FROM %s), false)",
             table, key, key, table);
    return db_script(db, sql, reterr);
}

enum err db_marks(struct db *db, int64_t *ret_application, int64_t *ret_version,
                  struct fault *reterr)
{
    return db->ops->marks(db, ret_application, ret_version, reterr);
}

enum err db_mark(struct db *db, int64_t application, int64_t version, struct fault *reterr)
{
    return db->ops->mark(db, application, version, reterr);
}

enum err db_count_objects(struct db *db, int64_t *ret, struct fault *reterr)
{
    return db->ops->count_objects(db, ret, reterr);
}

enum err db_bulk(struct db *db, enum db_bulk bulk, struct fault *reterr)
{
    return db->ops->bulk != NULL ? db->ops->bulk(db, bulk, reterr) : ERR_OK;
}

/* ---- statements ---------------------------------------------------------------------------- */

struct db_use db_use(struct db *db, const char *sql)
{
    return db->ops->use(db, sql, false);
}

struct db_use db_use_many(struct db *db, const char *sql)
{
    return db->ops->use(db, sql, true);
}

void db_int(struct db_use *u, int64_t value)
{
    u->db->ops->bind_int(u, value);
}

void db_real(struct db_use *u, double value)
{
    u->db->ops->bind_real(u, value);
}

void db_null(struct db_use *u)
{
    u->db->ops->bind_null(u);
}

void db_text(struct db_use *u, const char *value)
{
    u->db->ops->bind_text(u, value, value != NULL ? strlen(value) : 0);
}

void db_text_n(struct db_use *u, const char *value, size_t n)
{
    u->db->ops->bind_text(u, value, n);
}

void db_blob(struct db_use *u, const void *bytes, size_t n)
{
    u->db->ops->bind_blob(u, bytes, n);
}

enum err db_next(struct db_use *u, bool *ret_row, struct fault *reterr)
{
    return u->db->ops->next(u, ret_row, reterr);
}

enum err db_end(struct db_use *u, struct fault *reterr)
{
    return u->db->ops->end(u, reterr);
}

void db_rest(struct db_use *u)
{
    if (u->statement != NULL)
        u->db->ops->rest(u);
}

int64_t db_col_int(const struct db_use *u, int i)
{
    return u->db->ops->col_int(u, i);
}

double db_col_real(const struct db_use *u, int i)
{
    return u->db->ops->col_real(u, i);
}

const char *db_col_text(const struct db_use *u, int i, size_t *ret_n)
{
    return u->db->ops->col_text(u, i, ret_n);
}

void db_col_copy(const struct db_use *u, int i, char *ret, size_t room)
{
    snprintf(ret, room, "%s", db_col_text(u, i, NULL));
}

const uint8_t *db_col_blob(const struct db_use *u, int i, size_t *ret_n)
{
    return u->db->ops->col_blob(u, i, ret_n);
}

bool db_col_is_null(const struct db_use *u, int i)
{
    return u->db->ops->kind(u, i) == DB_NULL;
}

bool db_col_is_int(const struct db_use *u, int i)
{
    return u->db->ops->kind(u, i) == DB_INT;
}

int db_cols(const struct db_use *u)
{
    return u->statement != NULL ? u->db->ops->cols(u) : 0;
}

const char *db_col_name(const struct db_use *u, int i)
{
    return u->db->ops->col_name(u, i);
}

bool db_col_same(const struct db_use *a, const struct db_use *b, int i)
{
    const enum db_kind kind = a->db->ops->kind(a, i);
    if (kind != b->db->ops->kind(b, i))
        return false;
    if (kind == DB_INT)
        return db_col_int(a, i) == db_col_int(b, i);
    if (kind == DB_NULL)
        return true;
    if (kind == DB_REAL) { /* bit for bit: one came from the same text as the other */
        const double x = db_col_real(a, i), y = db_col_real(b, i);
        uint64_t bits_x, bits_y;
        memcpy(&bits_x, &x, sizeof bits_x);
        memcpy(&bits_y, &y, sizeof bits_y);
        return bits_x == bits_y;
    }
    size_t n_a = 0, n_b = 0;
    const uint8_t *bytes_a = db_col_blob(a, i, &n_a);
    const uint8_t *bytes_b = db_col_blob(b, i, &n_b);
    return n_a == n_b && (n_a == 0 || memcmp(bytes_a, bytes_b, n_a) == 0);
}

/* ---- transactions and copies --------------------------------------------------------------- */

enum err db_begin(struct db *db, struct fault *reterr)
{
    return db->ops->begin(db, reterr);
}

enum err db_snapshot(struct db *db, struct fault *reterr)
{
    return db->ops->snapshot(db, reterr);
}

enum err db_commit(struct db *db, struct fault *reterr)
{
    return db->ops->commit(db, reterr);
}

void db_rollback(struct db *db)
{
    db->ops->rollback(db);
}

enum err db_confirm(struct db *db, struct fault *reterr)
{
    return db->ops->confirm != NULL ? db->ops->confirm(db, reterr) : ERR_OK;
}

enum err db_log_room(struct db *db, int64_t seq, struct fault *reterr)
{
    return db->ops->log_room(db, seq, reterr);
}

enum err db_copy(struct db *db, const char *path,
                 void (*step)(void *me, uint64_t done, uint64_t all), void *me,
                 struct fault *reterr)
{
    return db->ops->copy(db, path, step, me, reterr);
}

enum err db_check_file(struct db *db, int max, db_tell *tell, void *me, struct fault *reterr)
{
    return db->ops->check_file(db, max, tell, me, reterr);
}
