/* near: owns which of a primary and its standby is read, and how far the standby is behind. */
#include "store/near.h"

#include "store/inner.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

/* The last entry's place and hash; seq 0 when there is none. */
static enum err find_end(struct store *s, int64_t *ret_seq, uint8_t ret[STORE_DIGEST],
                         struct fault *f)
{
    struct db_use u = db_use(s->db, "SELECT seq, hash FROM log ORDER BY seq DESC LIMIT 1");
    bool has_row = false;
    size_t n = 0;
    *ret_seq = 0;
    const enum err err = db_next(&u, &has_row, f);
    if (err == ERR_OK && has_row) {
        const uint8_t *hash = db_col_blob(&u, 1, &n);
        if (n == STORE_DIGEST) {
            *ret_seq = db_col_int(&u, 0);
            memcpy(ret, hash, n);
        }
    }
    db_rest(&u);
    return err;
}

static enum err has_entry(struct store *s, int64_t seq, const uint8_t hash[STORE_DIGEST], bool *ret,
                          struct fault *f)
{
    struct db_use u = db_use(s->db, "SELECT 1 FROM log WHERE seq = ? AND hash = ?");
    db_int(&u, seq);
    db_blob(&u, hash, STORE_DIGEST);
    const enum err err = db_next(&u, ret, f);
    db_rest(&u);
    return err;
}

static enum err ask_standby(struct store *s, struct store_near *near, uint8_t hash[STORE_DIGEST],
                            struct fault *f)
{
    int64_t is_standby = 0;
    enum err err = find_end(s, &near->seq, hash, f);
    if (err == ERR_OK)
        err = store_number(s->db, "SELECT CASE WHEN pg_is_in_recovery() THEN 1 ELSE 0 END",
                           &is_standby, f);
    if (err == ERR_OK) /* -1: nothing was played back since it started */
        err = store_number(s->db,
                           "SELECT CAST(coalesce(floor(extract(epoch FROM "
                           "pg_last_xact_replay_timestamp()) * 1000), -1) AS BIGINT)",
                           &near->as_of_ms, f);
    near->is_standby = is_standby == 1;
    if (near->as_of_ms < 0)
        near->as_of_ms = STORE_UNKNOWN;
    return err;
}

/* Holds the standby's end against the primary's log. A primary that is away is no fault: then it is not known. */
static enum err compare(const char *path, const uint8_t hash[STORE_DIGEST], struct store_near *near,
                        struct fault *f)
{
    struct store *primary = NULL;
    struct fault unused = {0};
    uint8_t end[STORE_DIGEST];
    int64_t seq = 0;
    bool is_same = near->seq == 0;
    near->behind = -1;
    enum err err = store_open(path, STORE_READ, &primary, &unused);
    if (err == ERR_OK)
        err = find_end(primary, &seq, end, &unused);
    if (err == ERR_OK && near->seq > 0)
        err = has_entry(primary, near->seq, hash, &is_same, &unused);
    store_close(primary);
    if (err != ERR_OK)
        return ERR_OK;
    if (!is_same)
        return fault_set(f, ERR_DOMAIN, "its log is not the one of this store");
    near->behind = seq > near->seq ? seq - near->seq : 0;
    return ERR_OK;
}

enum err store_open_near(const char *path, const char *from, struct store **ret,
                         struct store_near *ret_near, struct fault *reterr)
{
    char word[PLACE_ROOM];
    struct fault f = {0};
    uint8_t hash[STORE_DIGEST] = {0};
    *ret_near = (struct store_near){.is_asked = from != NULL};
    if (from == NULL)
        return store_open(path, STORE_READ, ret, reterr);
    enum err err = place_near(path, from, word, sizeof word, reterr);
    if (err != ERR_OK)
        return err;
    struct store *s = NULL;
    err = store_open(word, STORE_READ, &s, &f);
    if (err == ERR_DOMAIN || err == ERR_SYNTAX || err == ERR_LIMIT) { /* the call is wrong */
        *reterr = f;
        return err;
    }
    if (err == ERR_OK)
        err = ask_standby(s, ret_near, hash, &f);
    if (err == ERR_OK)
        err = compare(path, hash, ret_near, &f);
    if (err == ERR_OK) {
        ret_near->is_used = true;
        *ret = s;
        return ERR_OK;
    }
    store_close(s);
    snprintf(ret_near->why, sizeof ret_near->why, "%s", f.message);
    return store_open(path, STORE_READ, ret, reterr);
}

/* ", its last change is of 2026-03-05T09:14:00Z"; "" when that is not known. */
static void say_as_of(int64_t ms, char buf[64])
{
    struct tm utc;
    const time_t t = (time_t)(ms / 1000);
    buf[0] = '\0';
    if (ms != STORE_UNKNOWN && gmtime_r(&t, &utc) != NULL)
        (void)strftime(buf, 64, "; its last change is of %Y-%m-%dT%H:%M:%SZ", &utc);
}

const char *store_near_say(const struct store_near *near, char *buf, size_t room)
{
    char as_of[64];
    say_as_of(near->as_of_ms, as_of);
    buf[0] = '\0';
    if (!near->is_asked)
        return buf;
    if (!near->is_used)
        (void)snprintf(buf, room, "read from the primary, since the standby cannot be used: %s",
                       near->why);
    else if (!near->is_standby)
        (void)snprintf(buf, room, "read from another server than the store's, which is no standby");
    else if (near->behind < 0)
        (void)snprintf(buf, room,
                       "read from the standby, up to entry %" PRId64
                       " of the log%s; the primary cannot be asked what came since",
                       near->seq, as_of);
    else if (near->behind == 0)
        (void)snprintf(buf, room,
                       "read from the standby, which has the whole log, up to entry %" PRId64,
                       near->seq);
    else
        (void)snprintf(buf, room,
                       "read from the standby, which lacks the last %" PRId64
                       " entries of the log%s",
                       near->behind, as_of);
    return buf;
}
