/* log: owns the chain. What entries mean is derive.c's business. */
#include "store/log.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

static const char layout[] = "mendwright-log-1";

/* value as n bytes, most significant first. */
static void add_int(struct digest *d, uint64_t value, int n)
{
    uint8_t bytes[8];
    for (int i = 0; i < n; i++)
        bytes[i] = (uint8_t)(value >> (8 * (n - 1 - i)));
    digest_add(d, bytes, (size_t)n);
}

enum err log_hash(struct digest *d, const struct log_entry *e, uint8_t ret[STORE_DIGEST])
{
    digest_add(d, layout, sizeof layout - 1);
    add_int(d, (uint64_t)e->seq, 8);
    digest_add(d, e->prev, STORE_DIGEST);
    digest_add(d, e->bag, STORE_DIGEST);
    digest_add(d, e->ulid, ULID_TEXT_SIZE);
    add_int(d, e->n_type, 4);
    digest_add(d, e->type, e->n_type);
    add_int(d, e->n_json, 8);
    digest_add(d, e->json, e->n_json);
    return digest_end(d, ret);
}

enum err log_find_end(struct db *db, struct log_end *ret, struct fault *reterr)
{
    struct db_use u = db_use(db, "SELECT seq, hash FROM log ORDER BY seq DESC LIMIT 1");
    struct log_end end = {0};
    bool has_row = false;
    const enum err err = db_next(&u, &has_row, reterr);
    if (err == ERR_OK && has_row) {
        size_t n = 0;
        end.seq = db_col_int(&u, 0);
        const uint8_t *hash = db_col_blob(&u, 1, &n);
        if (n == STORE_DIGEST)
            memcpy(end.hash, hash, n);
    }
    db_rest(&u);
    if (err == ERR_OK)
        *ret = end;
    return err;
}

enum err log_append(struct db *db, struct digest *d, struct log_end *end, struct log_entry *e,
                    struct fault *reterr)
{
    e->seq = end->seq + 1;
    memcpy(e->prev, end->hash, STORE_DIGEST);
    if (log_hash(d, e, e->hash) != ERR_OK)
        return fault_no_memory(reterr);
    const enum err no_room = db_log_room(db, e->seq, reterr);
    if (no_room != ERR_OK)
        return no_room;
    struct db_use u = db_use(
        db,
        "INSERT INTO log (seq, ulid, bag, type, json, prev, hash) VALUES (?, ?, ?, ?, ?, ?, ?)");
    db_int(&u, e->seq);
    db_text(&u, e->ulid);
    db_blob(&u, e->bag, STORE_DIGEST);
    db_text_n(&u, e->type, e->n_type);
    db_text_n(&u, e->json, e->n_json);
    db_blob(&u, e->prev, STORE_DIGEST);
    db_blob(&u, e->hash, STORE_DIGEST);
    const enum err err = db_end(&u, reterr);
    if (err == ERR_OK) {
        end->seq = e->seq;
        memcpy(end->hash, e->hash, STORE_DIGEST);
    }
    return err;
}

enum err log_name(const struct log_end *end, int64_t at_ms, char ret[ULID_TEXT_SIZE + 1])
{
    struct ulid ulid;
    const enum err err = ulid_make(at_ms, end->hash, &ulid);
    if (err == ERR_OK)
        ulid_show(&ulid, ret);
    return err;
}

static void take_blob(const struct db_use *u, int i, uint8_t ret[STORE_DIGEST])
{
    size_t n = 0;
    const uint8_t *bytes = db_col_blob(u, i, &n);
    memset(ret, 0, STORE_DIGEST);
    if (n == STORE_DIGEST)
        memcpy(ret, bytes, n);
}

static void take_entry(const struct db_use *u, struct log_entry *e)
{
    size_t n = 0;
    const char *ulid = db_col_text(u, 1, &n);
    e->seq = db_col_int(u, 0);
    memset(e->ulid, 0, sizeof e->ulid);
    memcpy(e->ulid, ulid, n < ULID_TEXT_SIZE ? n : ULID_TEXT_SIZE);
    take_blob(u, 2, e->bag);
    e->type = db_col_text(u, 3, &e->n_type);
    e->json = db_col_text(u, 4, &e->n_json);
    take_blob(u, 5, e->prev);
    take_blob(u, 6, e->hash);
}

/* What is wrong with e after `end`, or NULL; buf holds it. */
static enum err judge(struct digest *d, const struct log_end *end, const struct log_entry *e,
                      char *buf, size_t room, const char **ret)
{
    uint8_t hash[STORE_DIGEST];
    *ret = buf;
    if (e->seq != end->seq + 1)
        snprintf(buf, room, "follows entry %" PRId64 ": entries between them are missing",
                 end->seq);
    else if (memcmp(e->prev, end->hash, STORE_DIGEST) != 0)
        snprintf(buf, room, "does not name the hash of the entry before it");
    else if (log_hash(d, e, hash) != ERR_OK)
        return ERR_MEMORY;
    else if (memcmp(e->hash, hash, STORE_DIGEST) != 0)
        snprintf(buf, room, "was changed: its hash is not that of its content");
    else
        *ret = NULL;
    return ERR_OK;
}

enum err log_walk(struct db *db, struct digest *d, log_see *see, void *me, struct fault *reterr)
{
    struct db_use u =
        db_use_many(db, "SELECT seq, ulid, bag, type, json, prev, hash FROM log ORDER BY seq");
    struct log_end end = {0};
    struct log_entry e = {0};
    char buf[160];
    for (;;) {
        bool has_row = false;
        const char *wrong = NULL;
        enum err err = db_next(&u, &has_row, reterr);
        if (err != ERR_OK || !has_row)
            return err;
        take_entry(&u, &e);
        if (judge(d, &end, &e, buf, sizeof buf, &wrong) != ERR_OK)
            err = fault_no_memory(reterr);
        if (err == ERR_OK)
            err = see(me, &e, wrong, reterr);
        if (err != ERR_OK) {
            db_rest(&u);
            return err;
        }
        end.seq = e.seq;
        memcpy(end.hash, e.hash, STORE_DIGEST);
    }
}
