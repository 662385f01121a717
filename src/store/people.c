/* people: owns people.db: its schema and every statement on it. */
#include "store/people.h"

#include "store/people_inner.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { APPLICATION = 0x4d575050 /* "MWPP" */, VERSION = 2 };

static const char schema[] =
    "CREATE TABLE people (\n"
    "  name TEXT PRIMARY KEY, role TEXT NOT NULL, shop TEXT NOT NULL, hash TEXT NOT NULL,\n"
    "  made_ms INTEGER NOT NULL, is_revoked INTEGER NOT NULL\n"
    ") STRICT, WITHOUT ROWID;\n"
    "CREATE TABLE links (\n"
    "  hash BLOB PRIMARY KEY CHECK (length(hash) = 32),\n"
    "  name TEXT NOT NULL REFERENCES people (name), expires_ms INTEGER NOT NULL\n"
    ") STRICT, WITHOUT ROWID;\n"
    "CREATE TABLE sessions (\n"
    "  hash BLOB PRIMARY KEY CHECK (length(hash) = 32),\n"
    "  name TEXT NOT NULL REFERENCES people (name),\n"
    "  begun_ms INTEGER NOT NULL, ends_ms INTEGER NOT NULL\n"
    ") STRICT, WITHOUT ROWID;\n"
    "CREATE INDEX links_by_name ON links (name);\n"
    "CREATE INDEX sessions_by_name ON sessions (name);\n" PEOPLE_ACTS_SQL;

static const char *const steps[VERSION - 1] = {PEOPLE_ACTS_SQL};
static const struct beside beside = {"people.db", "a list of people", schema, APPLICATION, VERSION,
                                     steps};

static enum err named(const struct people *p, enum err err, struct fault *f)
{
    return beside_named(p->path, err, f);
}

enum err people_open(const char *store, struct people **ret, struct fault *reterr)
{
    struct people *p = calloc(1, sizeof *p);
    *ret = NULL;
    if (p == NULL)
        return fault_no_memory(reterr);
    const enum err err = beside_open(&beside, store, p->path, &p->db, reterr);
    if (err != ERR_OK) {
        people_close(p);
        return err;
    }
    *ret = p;
    return ERR_OK;
}

void people_close(struct people *people)
{
    if (people == NULL)
        return;
    db_close(people->db);
    free(people);
}

/* ---- pieces ---------------------------------------------------------------------------------------- */

static enum err check(const char *what, const char *text, size_t max, bool may_be_empty,
                      struct fault *f)
{
    snprintf(f->path, sizeof f->path, "%s", what);
    if (text == NULL || (text[0] == '\0' && !may_be_empty))
        return fault_set(f, ERR_EMPTY, "is empty");
    if (strlen(text) > max)
        return fault_set(f, ERR_LIMIT, "is longer than %zu bytes", max);
    f->path[0] = '\0';
    return ERR_OK;
}

/* Columns name, role, shop, hash, made_ms, is_revoked from 0 on. */
static void take_person(const struct db_use *u, struct person *ret)
{
    db_col_copy(u, 0, ret->name, sizeof ret->name);
    db_col_copy(u, 1, ret->role, sizeof ret->role);
    db_col_copy(u, 2, ret->shop, sizeof ret->shop);
    db_col_copy(u, 3, ret->hash, sizeof ret->hash);
    ret->made_ms = db_col_int(u, 4);
    ret->is_revoked = db_col_int(u, 5) != 0;
}

static enum err find(struct people *p, const char *name, struct person *ret, bool *ret_found,
                     struct fault *f)
{
    static const char sql[] =
        "SELECT name, role, shop, hash, made_ms, is_revoked FROM people WHERE name = ?";
    struct db_use u = db_use(p->db, sql);
    db_text(&u, name);
    const enum err err = db_next(&u, ret_found, f);
    if (err == ERR_OK && *ret_found)
        take_person(&u, ret);
    db_rest(&u);
    return err;
}

/* Somebody who is there and may come in. */
static enum err need(struct people *p, const char *name, struct person *ret, struct fault *f)
{
    bool is_found = false;
    const enum err err = find(p, name, ret, &is_found, f);
    if (err != ERR_OK)
        return err;
    return is_found && !ret->is_revoked
               ? ERR_OK
               : fault_set(f, ERR_UNKNOWN, "there is nobody called %.64s", name);
}

static const char end_sessions[] = "DELETE FROM sessions WHERE name = ?";
static const char end_others[] = "DELETE FROM sessions WHERE name = ? AND hash <> ?";
static const char end_links[] = "DELETE FROM links WHERE name = ?";

static enum err run_name(struct people *p, const char *sql, const char *name, struct fault *f)
{
    struct db_use u = db_use(p->db, sql);
    db_text(&u, name);
    return db_end(&u, f);
}

static enum err finish(struct people *p, enum err err, struct fault *f)
{
    return beside_finish(p->db, p->path, err, f);
}

/* ---- people ---------------------------------------------------------------------------------------- */

/* How many owners may come in, but for one. */
static enum err other_owners(struct people *p, const char *but, int64_t *ret, struct fault *f)
{
    struct db_use u = db_use(p->db, "SELECT count(*) FROM people WHERE role = 'owner' AND "
                                    "is_revoked = 0 AND name <> ?");
    bool has_row = false;
    db_text(&u, but);
    const enum err err = db_next(&u, &has_row, f);
    *ret = err == ERR_OK && has_row ? db_col_int(&u, 0) : 0;
    db_rest(&u);
    return err;
}

/* Whether a person's role may be taken away or changed. */
static enum err may_lose(struct people *p, const struct people_by *by, const struct person *who,
                         struct fault *f)
{
    int64_t n_others = 0;
    if (by->who != NULL && strcmp(by->who, who->name) == 0)
        return fault_set(f, ERR_ORDER, "nobody takes away their own role; another owner has to");
    if (strcmp(who->role, "owner") != 0)
        return ERR_OK;
    const enum err err = other_owners(p, who->name, &n_others, f);
    return err != ERR_OK || n_others > 0
               ? err
               : fault_set(f, ERR_ORDER, "%.64s is the last owner; add another one first",
                           who->name);
}

static enum err act(struct people *p, const struct people_by *by, const char *what,
                    const char *whom, const char *detail, struct fault *f)
{
    const struct people_act a = {
        .at_ms = by->at_ms, .who = by->who, .what = what, .whom = whom, .detail = detail};
    return people_act_put(p, &a, f);
}

struct putting {
    const struct people_by *by;
    const char *name, *role, *shop;
    enum people_how how;
};

static enum err put_row(struct people *p, const struct putting *w, struct fault *f)
{
    static const char insert_sql[] =
        "INSERT INTO people (name, role, shop, hash, made_ms, is_revoked) "
        "VALUES (?, ?, ?, '', ?, 0)\n"
        "ON CONFLICT (name) DO UPDATE SET role = excluded.role, shop = "
        "excluded.shop, is_revoked = 0";
    struct db_use u = db_use(p->db, insert_sql);
    db_text(&u, w->name);
    db_text(&u, w->role);
    db_text(&u, w->shop);
    db_int(&u, w->by->at_ms);
    return db_end(&u, f);
}

/* In a transaction. */
static enum err put(struct people *p, const struct putting *w, struct fault *f)
{
    struct person was = {0};
    bool is_found = false;
    char detail[128];
    enum err err = find(p, w->name, &was, &is_found, f);
    const bool is_in = is_found && !was.is_revoked;
    const bool is_other =
        is_found && (strcmp(was.role, w->role) != 0 || strcmp(was.shop, w->shop) != 0);
    if (err != ERR_OK)
        return err;
    if (w->how == PEOPLE_ADD && is_in)
        return fault_set(f, ERR_DUPLICATE, "%.64s may come in already, as %s", w->name, was.role);
    if (w->how == PEOPLE_CHANGE && !is_in)
        return fault_set(f, ERR_UNKNOWN, "there is nobody called %.64s", w->name);
    if (is_in && !is_other)
        return ERR_OK;
    if (is_in && strcmp(was.role, w->role) != 0)
        err = may_lose(p, w->by, &was, f);
    if (err == ERR_OK)
        err = put_row(p, w, f);
    if (err == ERR_OK && is_other)
        err = run_name(p, end_sessions, w->name, f);
    snprintf(detail, sizeof detail, "%s%s%s", w->role, w->shop[0] != '\0' ? " of " : "", w->shop);
    return err != ERR_OK ? err
                         : act(p, w->by,
                               is_in      ? "changed"
                               : is_found ? "let-in"
                                          : "added",
                               w->name, detail, f);
}

enum err people_put(struct people *people, const struct people_by *by, const char *name,
                    const char *role, const char *shop, enum people_how how, struct fault *reterr)
{
    const struct putting w = {by, name, role, shop, how};
    struct person longest;
    enum err err = check("name", name, PEOPLE_NAME_MAX, false, reterr);
    if (err == ERR_OK)
        err = check("role", role, sizeof longest.role - 1, false, reterr);
    if (err == ERR_OK)
        err = check("shop", shop, PEOPLE_NAME_MAX, true, reterr);
    if (err == ERR_OK)
        err = db_begin(people->db, reterr);
    if (err != ERR_OK)
        return named(people, err, reterr);
    return finish(people, put(people, &w, reterr), reterr);
}

enum err people_set_hash(struct people *people, const char *name, const char *hash,
                         const uint8_t keep[PEOPLE_TOKEN], struct fault *reterr)
{
    struct person who = {0};
    static const uint8_t none[PEOPLE_TOKEN];
    enum err err = check("hash", hash, PEOPLE_HASH_MAX, false, reterr);
    if (err == ERR_OK)
        err = db_begin(people->db, reterr);
    if (err != ERR_OK)
        return named(people, err, reterr);
    err = need(people, name, &who, reterr);
    if (err == ERR_OK) {
        struct db_use u = db_use(people->db, "UPDATE people SET hash = ? WHERE name = ?");
        db_text(&u, hash);
        db_text(&u, name);
        err = db_end(&u, reterr);
    }
    if (err == ERR_OK) {
        struct db_use u = db_use(people->db, end_others);
        db_text(&u, name);
        db_blob(&u, keep != NULL ? keep : none, PEOPLE_TOKEN);
        err = db_end(&u, reterr);
    }
    return finish(people, err, reterr);
}

enum err people_revoke(struct people *people, const struct people_by *by, const char *name,
                       struct fault *reterr)
{
    struct person who = {0};
    enum err err = db_begin(people->db, reterr);
    if (err != ERR_OK)
        return named(people, err, reterr);
    err = need(people, name, &who, reterr);
    if (err == ERR_OK)
        err = may_lose(people, by, &who, reterr);
    if (err == ERR_OK)
        err = run_name(people, "UPDATE people SET is_revoked = 1, hash = '' WHERE name = ?", name,
                       reterr);
    if (err == ERR_OK)
        err = run_name(people, end_sessions, name, reterr);
    if (err == ERR_OK)
        err = run_name(people, end_links, name, reterr);
    if (err == ERR_OK)
        err = act(people, by, "revoked", name, who.role, reterr);
    return finish(people, err, reterr);
}

/* The name that stands in the list of acts for one that is forgotten: no name of a person, since it has a blank. */
static enum err forgotten_name(struct people *p, char ret[40], struct fault *f)
{
    struct db_use u =
        db_use(p->db, "SELECT count(*) + 1 FROM acts WHERE what = 'forgotten' AND detail IS NULL");
    bool has_row = false;
    const enum err err = db_next(&u, &has_row, f);
    snprintf(ret, 40, "forgotten %lld", (long long)(err == ERR_OK ? db_col_int(&u, 0) : 0));
    db_rest(&u);
    return err;
}

static enum err rename_acts(struct people *p, const char *sql, const char *to, const char *from,
                            struct fault *f)
{
    struct db_use u = db_use(p->db, sql);
    db_text(&u, to);
    db_text(&u, from);
    return db_end(&u, f);
}

static enum err forget(struct people *p, const struct people_by *by, const char *name,
                       struct fault *f)
{
    struct person who = {0};
    bool is_found = false;
    char number[40];
    enum err err = find(p, name, &who, &is_found, f);
    if (err == ERR_OK && !is_found)
        err = fault_set(f, ERR_UNKNOWN, "there is nobody called %.64s", name);
    if (err == ERR_OK && !who.is_revoked)
        err = fault_set(f, ERR_ORDER, "%.64s may still come in; revoke that first", name);
    if (err == ERR_OK)
        err = forgotten_name(p, number, f);
    if (err == ERR_OK)
        err = rename_acts(p, "UPDATE acts SET who = ? WHERE who = ?", number, name, f);
    if (err == ERR_OK)
        err = rename_acts(p, "UPDATE acts SET whom = ? WHERE whom = ?", number, name, f);
    if (err == ERR_OK)
        err = run_name(p, "DELETE FROM people WHERE name = ?", name, f);
    return err == ERR_OK ? act(p, by, "forgotten", number, NULL, f) : err;
}

enum err people_forget(struct people *people, const struct people_by *by, const char *name,
                       struct fault *reterr)
{
    const enum err err = db_begin(people->db, reterr);
    if (err != ERR_OK)
        return named(people, err, reterr);
    return finish(people, forget(people, by, name, reterr), reterr);
}

enum err people_find(struct people *people, const char *name, struct person *ret, bool *ret_found,
                     struct fault *reterr)
{
    return named(people, find(people, name, ret, ret_found, reterr), reterr);
}

enum err people_see(struct people *people, people_see_one *see, void *me, struct fault *reterr)
{
    static const char sql[] =
        "SELECT name, role, shop, hash, made_ms, is_revoked FROM people ORDER BY name";
    struct db_use u = db_use(people->db, sql);
    struct person one = {0};
    bool has_row = true, goes_on = true;
    enum err err = ERR_OK;
    while (goes_on) {
        err = db_next(&u, &has_row, reterr);
        if (err != ERR_OK || !has_row)
            break;
        take_person(&u, &one);
        goes_on = see(me, &one);
    }
    db_rest(&u);
    return named(people, err, reterr);
}

/* ---- a copy ---------------------------------------------------------------------------------------- */

static enum err put_whole(struct people *p, const struct person *who, struct fault *f)
{
    static const char sql[] = "INSERT INTO people (name, role, shop, hash, made_ms, is_revoked) "
                              "VALUES (?, ?, ?, ?, ?, ?)";
    struct db_use u = db_use(p->db, sql);
    db_text(&u, who->name);
    db_text(&u, who->role);
    db_text(&u, who->shop);
    db_text(&u, who->hash);
    db_int(&u, who->made_ms);
    db_int(&u, who->is_revoked ? 1 : 0);
    return db_end(&u, f);
}

struct copying {
    struct people *to;
    enum err err;
    struct fault *f;
    int64_t n;
};

static bool copy_one(void *me, const struct person *who)
{
    struct copying *c = me;
    c->err = put_whole(c->to, who, c->f);
    c->n += c->err == ERR_OK ? 1 : 0;
    return c->err == ERR_OK;
}

enum err people_copy(const char *from, const char *to, int64_t *ret_n, struct fault *reterr)
{
    struct people source = {0};
    struct copying c = {.f = reterr};
    *ret_n = 0;
    if (!beside_is_there(&beside, from))
        return ERR_OK;
    enum err err = beside_open_read(&beside, from, source.path, &source.db, reterr);
    if (err == ERR_OK)
        err = people_open(to, &c.to, reterr);
    if (err == ERR_OK && c.to != NULL && (err = db_begin(c.to->db, reterr)) == ERR_OK) {
        err = db_script(c.to->db,
                        "DELETE FROM links; DELETE FROM sessions; DELETE FROM people; "
                        "DELETE FROM acts",
                        reterr);
        if (err == ERR_OK)
            err = people_see(&source, copy_one, &c, reterr);
        if (err == ERR_OK && c.err == ERR_OK)
            err = people_act_copy(c.to, source.db, reterr);
        err = finish(c.to, err != ERR_OK ? err : c.err, reterr);
    }
    people_close(c.to);
    db_close(source.db);
    *ret_n = err == ERR_OK ? c.n : 0;
    return err;
}

/* ---- links ----------------------------------------------------------------------------------------- */

enum err people_link(struct people *people, const struct people_by *by, const char *name,
                     const uint8_t hash[PEOPLE_TOKEN], int64_t expires_ms, struct fault *reterr)
{
    struct person who = {0};
    enum err err = db_begin(people->db, reterr);
    if (err != ERR_OK)
        return named(people, err, reterr);
    err = need(people, name, &who, reterr);
    if (err == ERR_OK) {
        struct db_use u =
            db_use(people->db, "INSERT INTO links (hash, name, expires_ms) VALUES (?, ?, ?)");
        db_blob(&u, hash, PEOPLE_TOKEN);
        db_text(&u, name);
        db_int(&u, expires_ms);
        err = db_end(&u, reterr);
    }
    if (err == ERR_OK)
        err = act(people, by, "link", name, who.role, reterr);
    return finish(people, err, reterr);
}

/* The person behind a link that is still good; it is gone afterwards, as are all that have expired. */
static enum err spend(struct people *p, const uint8_t *hash, int64_t now_ms, struct person *ret,
                      bool *ret_found, struct fault *f)
{
    static const char sql[] = "SELECT p.name, role, shop, p.hash, made_ms, is_revoked FROM links "
                              "JOIN people AS p USING (name)\n"
                              "WHERE links.hash = ? AND expires_ms >= ? AND is_revoked = 0";
    struct db_use u = db_use(p->db, sql);
    db_blob(&u, hash, PEOPLE_TOKEN);
    db_int(&u, now_ms);
    enum err err = db_next(&u, ret_found, f);
    if (err == ERR_OK && *ret_found)
        take_person(&u, ret);
    db_rest(&u);
    if (err != ERR_OK)
        return err;
    struct db_use gone = db_use(p->db, "DELETE FROM links WHERE hash = ? OR expires_ms < ?");
    db_blob(&gone, hash, PEOPLE_TOKEN);
    db_int(&gone, now_ms);
    return db_end(&gone, f);
}

enum err people_use_link(struct people *people, const uint8_t hash[PEOPLE_TOKEN], int64_t now_ms,
                         struct person *ret, bool *ret_found, struct fault *reterr)
{
    *ret_found = false;
    const enum err err = db_begin(people->db, reterr);
    if (err != ERR_OK)
        return named(people, err, reterr);
    return finish(people, spend(people, hash, now_ms, ret, ret_found, reterr), reterr);
}

/* ---- sessions -------------------------------------------------------------------------------------- */

enum err people_begin(struct people *people, const char *name, const uint8_t hash[PEOPLE_TOKEN],
                      int64_t now_ms, int64_t idle_ms, struct fault *reterr)
{
    struct person who = {0};
    enum err err = db_begin(people->db, reterr);
    if (err != ERR_OK)
        return named(people, err, reterr);
    err = need(people, name, &who, reterr);
    if (err == ERR_OK) {
        struct db_use old = db_use(people->db, "DELETE FROM sessions WHERE ends_ms < ?");
        db_int(&old, now_ms);
        err = db_end(&old, reterr);
    }
    if (err == ERR_OK) {
        struct db_use u = db_use(
            people->db, "INSERT INTO sessions (hash, name, begun_ms, ends_ms) VALUES (?, ?, ?, ?)");
        db_blob(&u, hash, PEOPLE_TOKEN);
        db_text(&u, name);
        db_int(&u, now_ms);
        db_int(&u, now_ms + idle_ms);
        err = db_end(&u, reterr);
    }
    return finish(people, err, reterr);
}

enum err people_session(struct people *people, const uint8_t hash[PEOPLE_TOKEN], int64_t now_ms,
                        struct person *ret, bool *ret_found, int64_t *ret_ends_ms,
                        struct fault *reterr)
{
    static const char sql[] = "SELECT p.name, role, shop, p.hash, made_ms, is_revoked, ends_ms "
                              "FROM sessions JOIN people AS p USING (name)\n"
                              "WHERE sessions.hash = ? AND ends_ms >= ? AND is_revoked = 0";
    struct db_use u = db_use(people->db, sql);
    db_blob(&u, hash, PEOPLE_TOKEN);
    db_int(&u, now_ms);
    const enum err err = db_next(&u, ret_found, reterr);
    if (err == ERR_OK && *ret_found) {
        take_person(&u, ret);
        *ret_ends_ms = db_col_int(&u, 6);
    }
    db_rest(&u);
    return named(people, err, reterr);
}

enum err people_prolong(struct people *people, const uint8_t hash[PEOPLE_TOKEN], int64_t ends_ms,
                        struct fault *reterr)
{
    struct db_use u =
        db_use(people->db, "UPDATE sessions SET ends_ms = min(?, begun_ms + ?) WHERE hash = ?");
    db_int(&u, ends_ms);
    db_int(&u, PEOPLE_SESSION_MS);
    db_blob(&u, hash, PEOPLE_TOKEN);
    return named(people, db_end(&u, reterr), reterr);
}

enum err people_end(struct people *people, const uint8_t hash[PEOPLE_TOKEN], struct fault *reterr)
{
    struct db_use u = db_use(people->db, "DELETE FROM sessions WHERE hash = ?");
    db_blob(&u, hash, PEOPLE_TOKEN);
    return named(people, db_end(&u, reterr), reterr);
}
