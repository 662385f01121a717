/* jobs: owns jobs.db: its schema, jobs, their events and phones; photos are jobs_photo.c's. */
#include "store/jobs_inner.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { APPLICATION = 0x4d574a42 /* "MWJB" */, VERSION = 1 };

static const char schema[] =
    "CREATE TABLE jobs (\n"
    "  key INTEGER /* counted */ PRIMARY KEY, shop TEXT NOT NULL, job TEXT NOT NULL CHECK "
    "(length(job) = 26),\n"
    "  vin TEXT NOT NULL, bulletin TEXT NOT NULL, bulletin_sha256 TEXT NOT NULL,\n"
    "  revision INTEGER NOT NULL, is_invented INTEGER NOT NULL,\n"
    "  opened_ms INTEGER NOT NULL, touched_ms INTEGER NOT NULL, n_bytes INTEGER NOT NULL,\n"
    "  claim TEXT NOT NULL, claim_by TEXT NOT NULL, claim_ms INTEGER NOT NULL,\n"
    "  UNIQUE (shop, job)\n"
    ") STRICT;\n"
    "CREATE INDEX jobs_by_time ON jobs (touched_ms);\n"
    "CREATE TABLE events (\n"
    "  job INTEGER NOT NULL REFERENCES jobs (key) ON DELETE CASCADE, seq INTEGER NOT NULL,\n"
    "  ulid TEXT NOT NULL, json TEXT NOT NULL, photo BLOB, is_claimed INTEGER NOT NULL,\n"
    "  PRIMARY KEY (job, seq), UNIQUE (job, ulid)\n"
    ") STRICT, WITHOUT ROWID;\n"
    "CREATE INDEX events_by_ulid ON events (ulid);\n"
    "CREATE INDEX events_by_photo ON events (job, photo) WHERE photo IS NOT NULL;\n"
    "CREATE TABLE photos (\n"
    "  key INTEGER /* counted */ PRIMARY KEY, job INTEGER NOT NULL REFERENCES jobs (key) ON DELETE "
    "CASCADE,\n"
    "  sha256 BLOB NOT NULL CHECK (length(sha256) = 32), bytes BLOB NOT NULL,\n"
    "  UNIQUE (job, sha256)\n"
    ") STRICT;\n"
    "CREATE TABLE phones (\n"
    "  job INTEGER NOT NULL REFERENCES jobs (key) ON DELETE CASCADE, phone TEXT NOT NULL,\n"
    "  person TEXT NOT NULL, seen_ms INTEGER NOT NULL, PRIMARY KEY (job, phone)\n"
    ") STRICT, WITHOUT ROWID;\n";

const struct beside jobs_beside = {"jobs.db", "a box of open jobs", schema, APPLICATION, VERSION,
                                   NULL};

#define ROW                                                                                        \
    "SELECT key, job, vin, bulletin, bulletin_sha256, revision, is_invented, opened_ms, "          \
    "touched_ms, n_bytes, claim, claim_by, claim_ms,\n"                                            \
    "  (SELECT count(*) FROM events WHERE events.job = jobs.key),\n"                               \
    "  (SELECT count(*) FROM photos WHERE photos.job = jobs.key),\n"                               \
    "  (SELECT count(*) FROM events WHERE events.job = jobs.key AND is_claimed = 0),\n"            \
    "  (SELECT count(*) FROM phones WHERE phones.job = jobs.key),\n"                               \
    "  (SELECT coalesce(sum(seen_ms), 0) FROM phones WHERE phones.job = jobs.key)\n"               \
    "FROM jobs "

enum err jobs_open(const char *store, struct jobs **ret, struct fault *reterr)
{
    struct jobs *j = calloc(1, sizeof *j);
    *ret = NULL;
    if (j == NULL)
        return fault_no_memory(reterr);
    const enum err err = beside_open(&jobs_beside, store, j->path, &j->db, reterr);
    if (err != ERR_OK) {
        jobs_close(j);
        return err;
    }
    *ret = j;
    return ERR_OK;
}

void jobs_close(struct jobs *jobs)
{
    if (jobs == NULL)
        return;
    db_close(jobs->db);
    free(jobs);
}

/* ---- rows ---------------------------------------------------------------------------------------- */

/* The columns of ROW. */
static void take_row(const struct db_use *u, struct jobs_row *ret)
{
    *ret = (struct jobs_row){.key = db_col_int(u, 0),
                             .opened_ms = db_col_int(u, 7),
                             .touched_ms = db_col_int(u, 8),
                             .n_bytes = db_col_int(u, 9),
                             .claim_ms = db_col_int(u, 12),
                             .n_events = db_col_int(u, 13),
                             .n_photos = db_col_int(u, 14),
                             .n_unclaimed = db_col_int(u, 15),
                             .n_phones = db_col_int(u, 16),
                             .seen_ms = db_col_int(u, 17)};
    db_col_copy(u, 1, ret->head.job, sizeof ret->head.job);
    db_col_copy(u, 2, ret->head.vin, sizeof ret->head.vin);
    db_col_copy(u, 3, ret->head.bulletin, sizeof ret->head.bulletin);
    db_col_copy(u, 4, ret->head.bulletin_sha256, sizeof ret->head.bulletin_sha256);
    ret->head.revision = db_col_int(u, 5);
    ret->head.is_invented = db_col_int(u, 6) != 0;
    db_col_copy(u, 10, ret->claim, sizeof ret->claim);
    db_col_copy(u, 11, ret->claim_by, sizeof ret->claim_by);
}

static enum err find(struct jobs *j, const char *shop, const char *job, struct jobs_row *ret,
                     bool *ret_found, struct fault *f)
{
    static const char sql[] = ROW "WHERE shop = ? AND job = ?";
    struct db_use u = db_use(j->db, sql);
    db_text(&u, shop);
    db_text(&u, job);
    const enum err err = db_next(&u, ret_found, f);
    if (err == ERR_OK && *ret_found)
        take_row(&u, ret);
    db_rest(&u);
    return err;
}

enum err jobs_find(struct jobs *jobs, const char *shop, const char *job, struct jobs_row *ret,
                   bool *ret_found, struct fault *reterr)
{
    *ret_found = false;
    return beside_named(jobs->path, find(jobs, shop, job, ret, ret_found, reterr), reterr);
}

enum err jobs_list(struct jobs *jobs, const char *shop, jobs_see *see, void *me,
                   struct fault *reterr)
{
    static const char sql[] = ROW "WHERE shop = ? ORDER BY touched_ms DESC, key DESC";
    struct db_use u = db_use(jobs->db, sql);
    struct jobs_row row;
    bool has_row = true, goes_on = true;
    enum err err = ERR_OK;
    db_text(&u, shop);
    while (goes_on) {
        err = db_next(&u, &has_row, reterr);
        if (err != ERR_OK || !has_row)
            break;
        take_row(&u, &row);
        goes_on = see(me, &row);
    }
    db_rest(&u);
    return beside_named(jobs->path, err, reterr);
}

/* ---- bounds -------------------------------------------------------------------------------------- */

/* The two numbers of a query with a shop as its only value. */
static enum err ask_two(struct jobs *j, const char *sql, const char *shop, int64_t ret[2],
                        struct fault *f)
{
    struct db_use u = db_use(j->db, sql);
    bool has_row = false;
    db_text(&u, shop);
    const enum err err = db_next(&u, &has_row, f);
    ret[0] = err == ERR_OK && has_row ? db_col_int(&u, 0) : 0;
    ret[1] = err == ERR_OK && has_row ? db_col_int(&u, 1) : 0;
    db_rest(&u);
    return err;
}

static const char of_shop[] = "SELECT count(*), coalesce(sum(n_bytes), 0) FROM jobs WHERE shop = ?";

enum err jobs_room(struct jobs *j, const char *shop, const struct jobs_row *row, int64_t n,
                   struct fault *f)
{
    int64_t has[2];
    if (row->n_bytes + n > JOBS_BYTES_MAX)
        return fault_set(f, ERR_LIMIT, "an open job may hold %d MiB",
                         (int)(JOBS_BYTES_MAX / 1048576));
    const enum err err = ask_two(j, of_shop, shop, has, f);
    if (err == ERR_OK && has[1] + n > JOBS_SHOP_BYTES_MAX)
        return fault_set(f, ERR_LIMIT, "the shop's open jobs may hold %d MiB together",
                         (int)(JOBS_SHOP_BYTES_MAX / 1048576));
    return err;
}

enum err jobs_grew(struct jobs *j, int64_t key, int64_t n_bytes, int64_t now_ms, struct fault *f)
{
    static const char sql[] =
        "UPDATE jobs SET n_bytes = n_bytes + ?, touched_ms = max(touched_ms, ?) WHERE key = ?";
    struct db_use u = db_use(j->db, sql);
    db_int(&u, n_bytes);
    db_int(&u, now_ms);
    db_int(&u, key);
    return db_end(&u, f);
}

/* Forgets what nobody touched for too long. */
static enum err sweep(struct jobs *j, int64_t now_ms, struct fault *f)
{
    static const char sql[] = "DELETE FROM jobs WHERE touched_ms < ? AND (claim <> '' OR "
                              "touched_ms < ?)";
    struct db_use u = db_use(j->db, sql);
    db_int(&u, now_ms - JOBS_SENT_MS);
    db_int(&u, now_ms - JOBS_OPEN_MS);
    return db_end(&u, f);
}

/* ---- adding -------------------------------------------------------------------------------------- */

static enum err make(struct jobs *j, const char *shop, const struct jobs_head *head, int64_t now_ms,
                     struct fault *f)
{
    static const char sql[] =
        "INSERT INTO jobs (shop, job, vin, bulletin, bulletin_sha256, revision, is_invented, "
        "opened_ms, touched_ms, n_bytes, claim, claim_by, claim_ms)\n"
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, 0, '', '', 0)";
    int64_t has[2];
    enum err err = sweep(j, now_ms, f);
    if (err == ERR_OK)
        err = ask_two(j, of_shop, shop, has, f);
    if (err == ERR_OK && has[0] >= JOBS_SHOP_MAX)
        return fault_set(f, ERR_LIMIT, "the shop has %d open jobs here already",
                         (int)JOBS_SHOP_MAX);
    if (err != ERR_OK)
        return err;
    struct db_use u = db_use(j->db, sql);
    db_text(&u, shop);
    db_text(&u, head->job);
    db_text(&u, head->vin);
    db_text(&u, head->bulletin);
    db_text(&u, head->bulletin_sha256);
    db_int(&u, head->revision);
    db_int(&u, head->is_invented);
    db_int(&u, now_ms);
    db_int(&u, now_ms);
    return db_end(&u, f);
}

static enum err find_or_make(struct jobs *j, const char *shop, const struct jobs_head *head,
                             bool may_make, int64_t now_ms, struct jobs_row *ret, struct fault *f)
{
    bool is_found = false;
    enum err err = find(j, shop, head->job, ret, &is_found, f);
    if (err == ERR_OK && !is_found && may_make) {
        err = make(j, shop, head, now_ms, f);
        if (err == ERR_OK)
            err = find(j, shop, head->job, ret, &is_found, f);
    }
    if (err == ERR_OK && !is_found)
        return fault_set(f, ERR_UNKNOWN, "there is no such job");
    if (err == ERR_OK && (strcmp(ret->head.vin, head->vin) != 0 ||
                          strcmp(ret->head.bulletin_sha256, head->bulletin_sha256) != 0))
        return fault_set(f, ERR_ORDER, "the job is for another unit or by another bulletin");
    return err;
}

/* *ret_new: no event of that name is there. ERR_DUPLICATE: another one is. */
static enum err look(struct jobs *j, int64_t key, const struct jobs_event *e, bool *ret_new,
                     struct fault *f)
{
    static const char sql[] = "SELECT json FROM events WHERE job = ? AND ulid = ?";
    struct db_use u = db_use(j->db, sql);
    bool is_there = false;
    size_t n = 0;
    db_int(&u, key);
    db_text(&u, e->ulid);
    enum err err = db_next(&u, &is_there, f);
    *ret_new = !is_there;
    if (err == ERR_OK && is_there) {
        const char *json = db_col_text(&u, 0, &n);
        if (n != e->n || memcmp(json, e->json, n) != 0)
            err = fault_set(f, ERR_DUPLICATE, "another event is known by the name %.26s", e->ulid);
    }
    db_rest(&u);
    return err;
}

static enum err put(struct jobs *j, int64_t key, int64_t seq, const struct jobs_event *e,
                    struct fault *f)
{
    static const char sql[] =
        "INSERT INTO events (job, seq, ulid, json, photo, is_claimed) VALUES (?, ?, ?, ?, ?, 0)";
    struct db_use u = db_use(j->db, sql);
    db_int(&u, key);
    db_int(&u, seq);
    db_text(&u, e->ulid);
    db_text_n(&u, e->json, e->n);
    if (e->has_photo)
        db_blob(&u, e->photo, sizeof e->photo);
    else
        db_null(&u);
    return db_end(&u, f);
}

static enum err put_all(struct jobs *j, const char *shop, const struct jobs_row *row,
                        const struct jobs_event *events, size_t n, int64_t now_ms,
                        size_t *ret_added, struct fault *f)
{
    int64_t bytes = 0, seq = row->n_events; /* none is ever taken out: seq counts them */
    enum err err = ERR_OK;
    for (size_t i = 0; i < n && err == ERR_OK; i++) {
        bool is_new = false;
        err = look(j, row->key, &events[i], &is_new, f);
        if (err == ERR_OK && is_new && seq == JOBS_EVENTS_MAX)
            err = fault_set(f, ERR_LIMIT, "an open job may hold %d events", (int)JOBS_EVENTS_MAX);
        if (err == ERR_OK && is_new) {
            err = put(j, row->key, ++seq, &events[i], f);
            bytes += (int64_t)events[i].n;
        }
        if (err == ERR_DUPLICATE)
            snprintf(f->path, sizeof f->path, "events[%zu].id", i);
    }
    *ret_added = (size_t)(seq - row->n_events);
    if (err == ERR_OK && *ret_added > 0)
        err = jobs_room(j, shop, row, bytes, f);
    if (err == ERR_OK && *ret_added > 0)
        err = jobs_grew(j, row->key, bytes, now_ms, f);
    return err;
}

enum err jobs_add(struct jobs *jobs, const char *shop, const struct jobs_head *head, bool may_make,
                  const struct jobs_event *events, size_t n, int64_t now_ms, size_t *ret_added,
                  struct fault *reterr)
{
    struct jobs_row row = {0};
    *ret_added = 0;
    enum err err = db_begin(jobs->db, reterr);
    if (err != ERR_OK)
        return beside_named(jobs->path, err, reterr);
    err = find_or_make(jobs, shop, head, may_make, now_ms, &row, reterr);
    if (err == ERR_OK)
        err = put_all(jobs, shop, &row, events, n, now_ms, ret_added, reterr);
    return beside_finish(jobs->db, jobs->path, err, reterr);
}

enum err jobs_events(struct jobs *jobs, int64_t key, int64_t after, jobs_see_event *see, void *me,
                     struct fault *reterr)
{
    static const char sql[] =
        "SELECT seq, ulid, json FROM events WHERE job = ? AND seq > ? ORDER BY seq";
    struct db_use u = db_use(jobs->db, sql);
    bool has_row = true, goes_on = true;
    enum err err = ERR_OK;
    db_int(&u, key);
    db_int(&u, after);
    while (goes_on) {
        struct jobs_event e = {0};
        err = db_next(&u, &has_row, reterr);
        if (err != ERR_OK || !has_row)
            break;
        e.seq = db_col_int(&u, 0);
        db_col_copy(&u, 1, e.ulid, sizeof e.ulid);
        e.json = db_col_text(&u, 2, &e.n);
        goes_on = see(me, &e);
    }
    db_rest(&u);
    return beside_named(jobs->path, err, reterr);
}

/* ---- phones -------------------------------------------------------------------------------------- */

/* Whether it was written down a moment ago. */
static enum err is_fresh(struct jobs *j, int64_t key, const char *phone, const char *person,
                         int64_t now_ms, bool *ret, struct fault *f)
{
    static const char sql[] =
        "SELECT 1 FROM phones WHERE job = ? AND phone = ? AND person = ? AND seen_ms > ?";
    struct db_use u = db_use(j->db, sql);
    db_int(&u, key);
    db_text(&u, phone);
    db_text(&u, person);
    db_int(&u, now_ms - JOBS_SEEN_MS);
    const enum err err = db_next(&u, ret, f);
    db_rest(&u);
    return err;
}

static enum err note_phone(struct jobs *j, int64_t key, const char *phone, const char *person,
                           int64_t now_ms, struct fault *f)
{
    static const char put_sql[] =
        "INSERT INTO phones (job, phone, person, seen_ms) VALUES (?, ?, ?, ?)\n"
        "ON CONFLICT (job, phone) DO UPDATE SET person = excluded.person, seen_ms = "
        "max(phones.seen_ms, excluded.seen_ms)";
    static const char room_sql[] =
        "DELETE FROM phones WHERE job = ?1 AND phone NOT IN (SELECT phone FROM phones WHERE job = "
        "?1 ORDER BY seen_ms DESC LIMIT ?2)";
    struct db_use u = db_use(j->db, put_sql);
    db_int(&u, key);
    db_text(&u, phone);
    db_text(&u, person);
    db_int(&u, now_ms);
    enum err err = db_end(&u, f);
    if (err != ERR_OK)
        return err;
    struct db_use room = db_use(j->db, room_sql);
    db_int(&room, key);
    db_int(&room, JOBS_PHONES_MAX);
    return db_end(&room, f);
}

enum err jobs_phone(struct jobs *jobs, int64_t key, const char *phone, const char *person,
                    int64_t now_ms, struct fault *reterr)
{
    bool is_known = false;
    enum err err = is_fresh(jobs, key, phone, person, now_ms, &is_known, reterr);
    if (err == ERR_OK && is_known)
        return ERR_OK;
    if (err == ERR_OK)
        err = db_begin(jobs->db, reterr);
    if (err != ERR_OK)
        return beside_named(jobs->path, err, reterr);
    err = note_phone(jobs, key, phone, person, now_ms, reterr);
    return beside_finish(jobs->db, jobs->path, err, reterr);
}

enum err jobs_phones(struct jobs *jobs, int64_t key, jobs_see_phone *see, void *me,
                     struct fault *reterr)
{
    static const char sql[] =
        "SELECT phone, person, seen_ms FROM phones WHERE job = ? ORDER BY seen_ms DESC, phone";
    struct db_use u = db_use(jobs->db, sql);
    struct jobs_phone one;
    bool has_row = true, goes_on = true;
    enum err err = ERR_OK;
    db_int(&u, key);
    while (goes_on) {
        err = db_next(&u, &has_row, reterr);
        if (err != ERR_OK || !has_row)
            break;
        db_col_copy(&u, 0, one.phone, sizeof one.phone);
        db_col_copy(&u, 1, one.person, sizeof one.person);
        one.seen_ms = db_col_int(&u, 2);
        goes_on = see(me, &one);
    }
    db_rest(&u);
    return beside_named(jobs->path, err, reterr);
}

/* ---- claims -------------------------------------------------------------------------------------- */

/* The name of the shop's job that holds an event; "" when there is none. */
static enum err holder(struct jobs *j, const char *shop, const char *ulid,
                       char ret[ULID_TEXT_SIZE + 1], struct fault *f)
{
    static const char sql[] = "SELECT jobs.job FROM events JOIN jobs ON jobs.key = events.job "
                              "WHERE ulid = ? AND shop = ? ORDER BY jobs.touched_ms DESC LIMIT 1";
    struct db_use u = db_use(j->db, sql);
    bool is_found = false;
    db_text(&u, ulid);
    db_text(&u, shop);
    const enum err err = db_next(&u, &is_found, f);
    ret[0] = '\0';
    if (err == ERR_OK && is_found)
        db_col_copy(&u, 0, ret, ULID_TEXT_SIZE + 1);
    db_rest(&u);
    return err;
}

static enum err mark(struct jobs *j, int64_t key, const char (*ulids)[ULID_TEXT_SIZE + 1], size_t n,
                     struct fault *f)
{
    static const char sql[] = "UPDATE events SET is_claimed = 1 WHERE job = ? AND ulid = ?";
    enum err err = ERR_OK;
    for (size_t i = 0; i < n && err == ERR_OK; i++) {
        struct db_use u = db_use(j->db, sql);
        db_int(&u, key);
        db_text(&u, ulids[i]);
        err = db_end(&u, f);
    }
    return err;
}

static enum err name_claim(struct jobs *j, int64_t key, const char *claim, const char *by,
                           int64_t now_ms, struct fault *f)
{
    static const char sql[] =
        "UPDATE jobs SET claim = ?, claim_by = ?, claim_ms = ?, touched_ms = max(touched_ms, ?) "
        "WHERE key = ?";
    struct db_use u = db_use(j->db, sql);
    db_text(&u, claim);
    db_text(&u, by);
    db_int(&u, now_ms);
    db_int(&u, now_ms);
    db_int(&u, key);
    return db_end(&u, f);
}

enum err jobs_claimed(struct jobs *jobs, const char *shop, const char *opened, const char *claim,
                      const char *by, const char (*ulids)[ULID_TEXT_SIZE + 1], size_t n,
                      int64_t now_ms, struct fault *reterr)
{
    struct jobs_row was = {0}, is = {0};
    bool is_found = false;
    char job[ULID_TEXT_SIZE + 1] = "";
    enum err err = db_begin(jobs->db, reterr);
    if (err != ERR_OK)
        return beside_named(jobs->path, err, reterr);
    err = holder(jobs, shop, opened, job, reterr);
    if (err == ERR_OK && job[0] != '\0') {
        err = find(jobs, shop, job, &was, &is_found, reterr);
        if (err == ERR_OK)
            err = mark(jobs, was.key, ulids, n, reterr);
        if (err == ERR_OK)
            err = find(jobs, shop, job, &is, &is_found, reterr);
        if (err == ERR_OK && (was.claim[0] == '\0' || is.n_unclaimed < was.n_unclaimed))
            err = name_claim(jobs, was.key, claim, by, now_ms, reterr);
    }
    return beside_finish(jobs->db, jobs->path, err, reterr);
}
