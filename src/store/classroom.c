/* classroom: owns practice.db: its schema and every statement on it. */
#include "store/classroom.h"

#include "store/beside.h"

#include <stdlib.h>
#include <string.h>

enum { APPLICATION = 0x4d575052 /* "MWPR" */, VERSION = 1 };

static const char schema[] =
    "CREATE TABLE sets (\n"
    "  sha256 TEXT PRIMARY KEY CHECK (length(sha256) = 64), id TEXT NOT NULL, yaml TEXT NOT NULL,\n"
    "  by_name TEXT NOT NULL, kept_ms INTEGER NOT NULL, is_shared INTEGER NOT NULL\n"
    ") STRICT;\n"
    "CREATE INDEX sets_by_id ON sets (id) WHERE is_shared = 1;\n"
    "CREATE TABLE begun (\n"
    "  set_sha256 TEXT NOT NULL, exercise TEXT NOT NULL, person TEXT NOT NULL,\n"
    "  began_ms INTEGER NOT NULL, PRIMARY KEY (set_sha256, exercise, person)\n"
    ") STRICT, WITHOUT ROWID;\n"
    "CREATE TABLE results (\n"
    "  key INTEGER /* counted */ PRIMARY KEY, digest TEXT NOT NULL, person TEXT NOT NULL, shop "
    "TEXT NOT NULL,\n"
    "  set_id TEXT NOT NULL, set_sha256 TEXT NOT NULL, exercise TEXT NOT NULL,\n"
    "  is_exam INTEGER NOT NULL, is_reached INTEGER NOT NULL, came_ms INTEGER NOT NULL,\n"
    "  began_ms INTEGER NOT NULL, ended_ms INTEGER NOT NULL, hints INTEGER NOT NULL,\n"
    "  seconds INTEGER NOT NULL, moves INTEGER NOT NULL, cautions INTEGER NOT NULL,\n"
    "  n_right INTEGER NOT NULL, n_questions INTEGER NOT NULL, account TEXT NOT NULL,\n"
    "  UNIQUE (person, digest)\n"
    ") STRICT;\n"
    "CREATE INDEX results_by_work ON results (person, set_sha256, exercise);\n"
    "CREATE TABLE readings (\n"
    "  result INTEGER NOT NULL REFERENCES results (key) ON DELETE CASCADE, n INTEGER NOT NULL,\n"
    "  place INTEGER NOT NULL, nano INTEGER NOT NULL, PRIMARY KEY (result, n)\n"
    ") STRICT, WITHOUT ROWID;\n";

static const struct beside beside = {
    "practice.db", "a record of practice", schema, APPLICATION, VERSION, NULL};

struct classroom {
    struct db *db;
    char path[FILES_PATH_MAX];
};

enum err classroom_open(const char *store, struct classroom **ret, struct fault *reterr)
{
    struct classroom *c = calloc(1, sizeof *c);
    *ret = NULL;
    if (c == NULL)
        return fault_no_memory(reterr);
    const enum err err = beside_open(&beside, store, c->path, &c->db, reterr);
    if (err != ERR_OK) {
        classroom_close(c);
        return err;
    }
    *ret = c;
    return ERR_OK;
}

void classroom_close(struct classroom *c)
{
    if (c == NULL)
        return;
    db_close(c->db);
    free(c);
}

/* The one number of a query; values[n] are bound in order. */
static enum err ask(struct classroom *c, const char *sql, const char *const *values, size_t n,
                    int64_t *ret, struct fault *f)
{
    struct db_use u = db_use(c->db, sql);
    bool has_row = false;
    for (size_t i = 0; i < n; i++)
        db_text(&u, values[i]);
    const enum err err = db_next(&u, &has_row, f);
    *ret = err == ERR_OK && has_row ? db_col_int(&u, 0) : 0;
    db_rest(&u);
    return err;
}

static enum err run(struct classroom *c, const char *sql, const char *value, struct fault *f)
{
    struct db_use u = db_use(c->db, sql);
    db_text(&u, value);
    return db_end(&u, f);
}

/* ---- sets ---------------------------------------------------------------------------------- */

static enum err check_room(struct classroom *c, const char *id, struct fault *f)
{
    int64_t n_shared = 0, n_kept = 0;
    enum err err =
        ask(c, "SELECT count(*) FROM sets WHERE is_shared = 1 AND id <> ?", &id, 1, &n_shared, f);
    if (err == ERR_OK)
        err = ask(c, "SELECT count(*) FROM sets", NULL, 0, &n_kept, f);
    if (err != ERR_OK)
        return err;
    if (n_shared >= CLASSROOM_SHARED_MAX)
        return fault_set(f, ERR_LIMIT, "%d sets are shared already: withdraw one first",
                         CLASSROOM_SHARED_MAX);
    if (n_kept >= CLASSROOM_KEPT_MAX)
        return fault_set(f, ERR_LIMIT, "%d sets have been kept, no more are taken",
                         CLASSROOM_KEPT_MAX);
    return ERR_OK;
}

static enum err put_set(struct classroom *c, const struct classroom_set *set, struct fault *f)
{
    int64_t is_there = 0;
    const char *sha256 = set->sha256;
    enum err err = ask(c, "SELECT count(*) FROM sets WHERE sha256 = ? AND is_shared = 1", &sha256,
                       1, &is_there, f);
    if (err != ERR_OK || is_there != 0)
        return err;
    err = check_room(c, set->id, f);
    if (err == ERR_OK)
        err = run(c, "UPDATE sets SET is_shared = 0 WHERE id = ?", set->id, f);
    if (err != ERR_OK)
        return err;
    struct db_use u =
        db_use(c->db, "INSERT INTO sets (sha256, id, yaml, by_name, kept_ms, is_shared) "
                      "VALUES (?, ?, ?, ?, ?, 1) ON CONFLICT (sha256) DO UPDATE SET is_shared = 1, "
                      "by_name = excluded.by_name, kept_ms = excluded.kept_ms");
    db_text(&u, set->sha256);
    db_text(&u, set->id);
    db_text_n(&u, set->yaml, set->n);
    db_text(&u, set->by);
    db_int(&u, set->kept_ms);
    return db_end(&u, f);
}

enum err classroom_share(struct classroom *c, const struct classroom_set *set, struct fault *reterr)
{
    const enum err err = db_begin(c->db, reterr);
    if (err != ERR_OK)
        return beside_named(c->path, err, reterr);
    return beside_finish(c->db, c->path, put_set(c, set, reterr), reterr);
}

enum err classroom_withdraw(struct classroom *c, const char *id, struct fault *reterr)
{
    int64_t n = 0;
    enum err err = db_begin(c->db, reterr);
    if (err != ERR_OK)
        return beside_named(c->path, err, reterr);
    err = ask(c, "SELECT count(*) FROM sets WHERE id = ? AND is_shared = 1", &id, 1, &n, reterr);
    if (err == ERR_OK && n == 0)
        err = fault_set(reterr, ERR_UNKNOWN, "no set of that name is shared");
    if (err == ERR_OK)
        err = run(c, "UPDATE sets SET is_shared = 0 WHERE id = ?", id, reterr);
    return beside_finish(c->db, c->path, err, reterr);
}

enum err classroom_sets(struct classroom *c, classroom_see_set *see, void *me, struct fault *reterr)
{
    struct db_use u = db_use(c->db, "SELECT id, sha256, by_name, kept_ms, yaml FROM sets "
                                    "WHERE is_shared = 1 ORDER BY id");
    bool has_row = true, goes_on = true;
    enum err err = ERR_OK;
    while (goes_on) {
        struct classroom_set set = {0};
        err = db_next(&u, &has_row, reterr);
        if (err != ERR_OK || !has_row)
            break;
        db_col_copy(&u, 0, set.id, sizeof set.id);
        db_col_copy(&u, 1, set.sha256, sizeof set.sha256);
        db_col_copy(&u, 2, set.by, sizeof set.by);
        set.kept_ms = db_col_int(&u, 3);
        set.yaml = db_col_text(&u, 4, &set.n);
        goes_on = see(me, &set);
    }
    db_rest(&u);
    return beside_named(c->path, err, reterr);
}

enum err classroom_set_text(struct classroom *c, const char *sha256, struct text *ret,
                            bool *ret_found, struct fault *reterr)
{
    struct db_use u = db_use(c->db, "SELECT yaml FROM sets WHERE sha256 = ?");
    db_text(&u, sha256);
    *ret_found = false;
    const enum err err = db_next(&u, ret_found, reterr);
    if (err == ERR_OK && *ret_found) {
        size_t n = 0;
        const char *yaml = db_col_text(&u, 0, &n);
        text_add(ret, yaml, n);
    }
    db_rest(&u);
    return beside_named(c->path, err, reterr);
}

/* ---- exams --------------------------------------------------------------------------------- */

enum err classroom_began(struct classroom *c, const char *sha256, const char *exercise,
                         const char *person, int64_t *ret_ms, struct fault *reterr)
{
    const char *const values[] = {sha256, exercise, person};
    return beside_named(c->path,
                        ask(c,
                            "SELECT began_ms FROM begun WHERE set_sha256 = ? AND exercise = ? "
                            "AND person = ?",
                            values, 3, ret_ms, reterr),
                        reterr);
}

enum err classroom_begin(struct classroom *c, const char *sha256, const char *exercise,
                         const char *person, int64_t now_ms, int64_t *ret_ms, struct fault *reterr)
{
    enum err err = db_begin(c->db, reterr);
    if (err != ERR_OK)
        return beside_named(c->path, err, reterr);
    struct db_use u = db_use(c->db, "INSERT INTO begun (set_sha256, exercise, person, began_ms) "
                                    "VALUES (?, ?, ?, ?) ON CONFLICT DO NOTHING");
    db_text(&u, sha256);
    db_text(&u, exercise);
    db_text(&u, person);
    db_int(&u, now_ms);
    err = beside_finish(c->db, c->path, db_end(&u, reterr), reterr);
    return err == ERR_OK ? classroom_began(c, sha256, exercise, person, ret_ms, reterr) : err;
}

/* ---- results ------------------------------------------------------------------------------- */

/* Whether this may be added, and if not, why not. */
static enum err look(struct classroom *c, const struct classroom_result *r,
                     enum classroom_added *ret, struct fault *f)
{
    const char *const same[] = {r->person, r->digest};
    const char *const work[] = {r->person, r->set_sha256, r->exercise};
    int64_t n = 0, n_exam = 0, n_own = 0, n_all = 0;
    enum err err =
        ask(c, "SELECT count(*) FROM results WHERE person = ? AND digest = ?", same, 2, &n, f);
    if (err == ERR_OK)
        err = ask(c,
                  "SELECT count(*) FROM results WHERE person = ? AND set_sha256 = ? AND "
                  "exercise = ? AND is_exam = 1",
                  work, 3, &n_exam, f);
    if (err == ERR_OK)
        err = ask(c, "SELECT count(*) FROM results WHERE person = ?", work, 1, &n_own, f);
    if (err == ERR_OK)
        err = ask(c, "SELECT count(*) FROM results", NULL, 0, &n_all, f);
    if (err != ERR_OK)
        return err;
    *ret = n > 0 ? CLASSROOM_ALREADY : r->is_exam && n_exam > 0 ? CLASSROOM_SECOND : CLASSROOM_NEW;
    if (*ret == CLASSROOM_NEW && (n_own >= CLASSROOM_RESULTS_MAX || n_all >= CLASSROOM_ALL_MAX))
        return fault_set(f, ERR_LIMIT, "no more results are kept than there are");
    return ERR_OK;
}

static enum err put_result(struct classroom *c, const struct classroom_result *r, struct fault *f)
{
    struct db_use u = db_use(
        c->db,
        "INSERT INTO results (digest, person, shop, set_id, set_sha256, exercise, is_exam, "
        "is_reached, came_ms, began_ms, ended_ms, hints, seconds, moves, cautions, n_right, "
        "n_questions, account) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)");
    db_text(&u, r->digest);
    db_text(&u, r->person);
    db_text(&u, r->shop);
    db_text(&u, r->set);
    db_text(&u, r->set_sha256);
    db_text(&u, r->exercise);
    db_int(&u, r->is_exam);
    db_int(&u, r->is_reached);
    db_int(&u, r->came_ms);
    db_int(&u, r->began_ms);
    db_int(&u, r->ended_ms);
    db_int(&u, r->hints);
    db_int(&u, r->seconds);
    db_int(&u, r->moves);
    db_int(&u, r->cautions);
    db_int(&u, r->right);
    db_int(&u, r->questions);
    db_text_n(&u, r->account, r->n_account);
    return db_end(&u, f);
}

static enum err put_readings(struct classroom *c, const struct classroom_result *r,
                             const struct classroom_reading *readings, size_t n, struct fault *f)
{
    const char *const same[] = {r->person, r->digest};
    int64_t key = 0;
    enum err err =
        ask(c, "SELECT key FROM results WHERE person = ? AND digest = ?", same, 2, &key, f);
    for (size_t i = 0; err == ERR_OK && i < n; i++) {
        struct db_use u =
            db_use(c->db, "INSERT INTO readings (result, n, place, nano) VALUES (?, ?, ?, ?)");
        db_int(&u, key);
        db_int(&u, (int64_t)i);
        db_int(&u, readings[i].place);
        db_int(&u, readings[i].nano);
        err = db_end(&u, f);
    }
    return err;
}

enum err classroom_add(struct classroom *c, const struct classroom_result *r,
                       const struct classroom_reading *readings, size_t n,
                       enum classroom_added *ret, struct fault *reterr)
{
    enum err err = db_begin(c->db, reterr);
    if (err != ERR_OK)
        return beside_named(c->path, err, reterr);
    err = look(c, r, ret, reterr);
    if (err == ERR_OK && *ret == CLASSROOM_NEW)
        err = put_result(c, r, reterr);
    if (err == ERR_OK && *ret == CLASSROOM_NEW)
        err = put_readings(c, r, readings, n, reterr);
    return beside_finish(c->db, c->path, err, reterr);
}

static void take_result(const struct db_use *u, struct classroom_result *r)
{
    *r = (struct classroom_result){.is_exam = db_col_int(u, 6) != 0,
                                   .is_reached = db_col_int(u, 7) != 0,
                                   .came_ms = db_col_int(u, 8),
                                   .began_ms = db_col_int(u, 9),
                                   .ended_ms = db_col_int(u, 10),
                                   .hints = db_col_int(u, 11),
                                   .seconds = db_col_int(u, 12),
                                   .moves = db_col_int(u, 13),
                                   .cautions = db_col_int(u, 14),
                                   .right = db_col_int(u, 15),
                                   .questions = db_col_int(u, 16)};
    db_col_copy(u, 0, r->digest, sizeof r->digest);
    db_col_copy(u, 1, r->person, sizeof r->person);
    db_col_copy(u, 2, r->shop, sizeof r->shop);
    db_col_copy(u, 3, r->set, sizeof r->set);
    db_col_copy(u, 4, r->set_sha256, sizeof r->set_sha256);
    db_col_copy(u, 5, r->exercise, sizeof r->exercise);
    r->account = db_col_text(u, 17, &r->n_account);
}

enum err classroom_results(struct classroom *c, classroom_see_result *see, void *me,
                           struct fault *reterr)
{
    struct db_use u = db_use(
        c->db, "SELECT digest, person, shop, set_id, set_sha256, exercise, is_exam, is_reached, "
               "came_ms, began_ms, ended_ms, hints, seconds, moves, cautions, n_right, "
               "n_questions, account FROM results ORDER BY came_ms DESC, key DESC");
    bool has_row = true, goes_on = true;
    enum err err = ERR_OK;
    while (goes_on) {
        struct classroom_result r;
        err = db_next(&u, &has_row, reterr);
        if (err != ERR_OK || !has_row)
            break;
        take_result(&u, &r);
        goes_on = see(me, &r);
    }
    db_rest(&u);
    return beside_named(c->path, err, reterr);
}

enum err classroom_readings(struct classroom *c, classroom_see_reading *see, void *me,
                            struct fault *reterr)
{
    struct db_use u =
        db_use(c->db, "SELECT set_id, exercise, person, place, nano FROM readings JOIN results "
                      "ON results.key = readings.result "
                      "ORDER BY set_id, exercise, place, person, came_ms, results.key, readings.n");
    bool has_row = true, goes_on = true;
    enum err err = ERR_OK;
    while (goes_on) {
        char set[CLASSROOM_ID_ROOM], exercise[CLASSROOM_ID_ROOM], person[CLASSROOM_NAME_ROOM];
        err = db_next(&u, &has_row, reterr);
        if (err != ERR_OK || !has_row)
            break;
        db_col_copy(&u, 0, set, sizeof set);
        db_col_copy(&u, 1, exercise, sizeof exercise);
        db_col_copy(&u, 2, person, sizeof person);
        const struct classroom_reading reading = {(int32_t)db_col_int(&u, 3), db_col_int(&u, 4)};
        goes_on = see(me, set, exercise, person, &reading);
    }
    db_rest(&u);
    return beside_named(c->path, err, reterr);
}

/* ---- forgetting and copying ---------------------------------------------------------------- */

enum err classroom_forget(struct classroom *c, const char *person, struct fault *reterr)
{
    enum err err = db_begin(c->db, reterr);
    if (err != ERR_OK)
        return beside_named(c->path, err, reterr);
    err = run(c, "DELETE FROM results WHERE person = ?", person, reterr);
    if (err == ERR_OK)
        err = run(c, "DELETE FROM begun WHERE person = ?", person, reterr);
    if (err == ERR_OK)
        err = run(c, "UPDATE sets SET by_name = '' WHERE by_name = ?", person, reterr);
    return beside_finish(c->db, c->path, err, reterr);
}

/* Every row of one table; columns are whole numbers and texts. */
static enum err copy_table(struct db *from, struct db *to, const char *select, const char *insert,
                           struct fault *f)
{
    struct db_use u = db_use_many(from, select);
    bool has_row = true;
    enum err err = ERR_OK;
    for (;;) {
        err = db_next(&u, &has_row, f);
        if (err != ERR_OK || !has_row)
            break;
        struct db_use put = db_use(to, insert);
        for (int i = 0; i < db_cols(&u); i++) {
            size_t n = 0;
            if (db_col_is_int(&u, i)) {
                db_int(&put, db_col_int(&u, i));
            } else {
                const char *text = db_col_text(&u, i, &n);
                db_text_n(&put, text, n);
            }
        }
        err = db_end(&put, f);
        if (err != ERR_OK)
            break;
    }
    db_rest(&u);
    return err;
}

static enum err copy_all(struct db *from, struct db *to, struct fault *f)
{
    enum err err = db_script(to,
                             "DELETE FROM readings; DELETE FROM results; DELETE FROM begun; "
                             "DELETE FROM sets",
                             f);
    if (err == ERR_OK)
        err = copy_table(from, to, "SELECT sha256, id, yaml, by_name, kept_ms, is_shared FROM sets",
                         "INSERT INTO sets (sha256, id, yaml, by_name, kept_ms, is_shared) "
                         "VALUES (?, ?, ?, ?, ?, ?)",
                         f);
    if (err == ERR_OK)
        err = copy_table(from, to, "SELECT set_sha256, exercise, person, began_ms FROM begun",
                         "INSERT INTO begun (set_sha256, exercise, person, began_ms) "
                         "VALUES (?, ?, ?, ?)",
                         f);
    if (err == ERR_OK)
        err = copy_table(
            from, to,
            "SELECT key, digest, person, shop, set_id, set_sha256, exercise, is_exam, is_reached, "
            "came_ms, began_ms, ended_ms, hints, seconds, moves, cautions, n_right, n_questions, "
            "account FROM results",
            "INSERT INTO results (key, digest, person, shop, set_id, set_sha256, exercise, "
            "is_exam, "
            "is_reached, came_ms, began_ms, ended_ms, hints, seconds, moves, cautions, n_right, "
            "n_questions, account) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, "
            "?)",
            f);
    if (err == ERR_OK)
        err = copy_table(from, to, "SELECT result, n, place, nano FROM readings",
                         "INSERT INTO readings (result, n, place, nano) VALUES (?, ?, ?, ?)", f);
    return err == ERR_OK ? db_counted(to, "results", "key", f) : err;
}

enum err classroom_copy(const char *from, const char *to, struct fault *reterr)
{
    char path[FILES_PATH_MAX];
    struct db *source = NULL;
    struct classroom *target = NULL;
    if (!beside_is_there(&beside, from))
        return ERR_OK;
    enum err err = beside_open_read(&beside, from, path, &source, reterr);
    if (err == ERR_OK)
        err = classroom_open(to, &target, reterr);
    if (err == ERR_OK)
        err = db_snapshot(source, reterr);
    if (err == ERR_OK && target != NULL) {
        err = db_begin(target->db, reterr);
        if (err == ERR_OK)
            err = beside_finish(target->db, target->path, copy_all(source, target->db, reterr),
                                reterr);
        db_rollback(source);
    }
    classroom_close(target);
    db_close(source);
    return err;
}
