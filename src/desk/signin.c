/* signin: owns who may come in: roles, tokens, and the slowing down of guesses. */
#include "desk/signin.h"

#include "base/digest.h"
#include "base/fnv.h"
#include "proof/keyring.h"
#include "proof/sign_secret.h"
#include "store/classroom.h"
#include "store/people.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <threads.h>

enum { GUARD_SLOTS = 4096, GUARD_PROBES = 8, FIRST_WAIT_MS = 1000, FORGET_MS = 60 * 60 * 1000 };

_Static_assert((int)SIGNIN_TOKEN_ROOM == (int)SECRET_TOKEN_ROOM, "a token is a token");
_Static_assert((int)SIGNIN_NAME_ROOM == (int)PEOPLE_NAME_MAX + 1, "a name is a name");

struct signin {
    char store[512];
    struct people *people;
    struct signin_guard *guard;
};

/* ---- slowing down ---------------------------------------------------------------------------------- */

struct slot {
    uint64_t key; /* 0: free */
    int64_t last_ms;
    int n_failed;
};

struct signin_guard {
    mtx_t lock;
    struct slot slots[GUARD_SLOTS];
};

struct signin_guard *signin_guard_new(void)
{
    struct signin_guard *g = calloc(1, sizeof *g);
    if (g != NULL && mtx_init(&g->lock, mtx_plain) != thrd_success) {
        free(g);
        return NULL;
    }
    return g;
}

void signin_guard_free(struct signin_guard *guard)
{
    if (guard == NULL)
        return;
    mtx_destroy(&guard->lock);
    free(guard);
}

/* Spreads names over the slots; two that meet only wait for each other. */
static uint64_t key_of(char kind, const char *text)
{
    const uint64_t h = fnv_more(fnv_more(FNV_START, &kind, 1), text, strlen(text));
    return h != 0 ? h : 1;
}

/* The key's slot; when it has none and make: a free one, one that is forgotten, or the oldest near. */
static struct slot *slot_of(struct signin_guard *g, uint64_t key, int64_t now_ms, bool make)
{
    struct slot *oldest = NULL;
    for (size_t i = 0; i < GUARD_PROBES; i++) {
        struct slot *s = &g->slots[(key + i) % GUARD_SLOTS];
        if (s->key == key)
            return s;
        if (s->key == 0 || now_ms - s->last_ms > FORGET_MS)
            *s = (struct slot){0};
        if (oldest == NULL || s->last_ms < oldest->last_ms)
            oldest = s;
    }
    if (!make)
        return NULL;
    *oldest = (struct slot){.key = key};
    return oldest;
}

static int64_t wait_of(const struct slot *s, int64_t now_ms)
{
    if (s == NULL || s->n_failed < SIGNIN_FREE || now_ms - s->last_ms > FORGET_MS)
        return 0;
    const int doubled = s->n_failed - SIGNIN_FREE;
    int64_t wait = doubled > 20 ? SIGNIN_WAIT_MAX_MS : (int64_t)FIRST_WAIT_MS << doubled;
    if (wait > SIGNIN_WAIT_MAX_MS)
        wait = SIGNIN_WAIT_MAX_MS;
    const int64_t left = s->last_ms + wait - now_ms;
    return left > 0 ? left : 0;
}

/* How long both have to wait before another try. A try that may go ahead counts as failed until it is forgiven, so that many at
 * once are no way round. */
static int64_t guard_try(struct signin_guard *g, uint64_t name, uint64_t address, int64_t now_ms)
{
    if (g == NULL)
        return 0;
    mtx_lock(&g->lock);
    const int64_t a = wait_of(slot_of(g, name, now_ms, false), now_ms);
    const int64_t b = wait_of(slot_of(g, address, now_ms, false), now_ms);
    const uint64_t keys[2] = {name, address};
    for (size_t i = 0; i < 2 && a == 0 && b == 0; i++) {
        struct slot *s = slot_of(g, keys[i], now_ms, true);
        s->n_failed += s->n_failed < 1000 ? 1 : 0;
        s->last_ms = now_ms;
    }
    mtx_unlock(&g->lock);
    return a > b ? a : b;
}

static void guard_forgive(struct signin_guard *g, uint64_t name, uint64_t address, int64_t now_ms)
{
    if (g == NULL)
        return;
    mtx_lock(&g->lock);
    struct slot *s = slot_of(g, name, now_ms, false);
    if (s != NULL)
        s->n_failed = 0;
    s = slot_of(g, address, now_ms, false);
    if (s != NULL && s->n_failed > 0)
        s->n_failed--;
    mtx_unlock(&g->lock);
}

/* ---- opening ---------------------------------------------------------------------------------------- */

enum err signin_open(const char *store, struct signin_guard *guard, struct signin **ret,
                     struct fault *reterr)
{
    struct signin *s = calloc(1, sizeof *s);
    *ret = NULL;
    if (s == NULL)
        return fault_no_memory(reterr);
    s->guard = guard;
    snprintf(s->store, sizeof s->store, "%s", store); /* a door has refused a longer one */
    const enum err err = people_open(store, &s->people, reterr);
    if (err != ERR_OK) {
        free(s);
        return err;
    }
    *ret = s;
    return ERR_OK;
}

void signin_close(struct signin *s)
{
    if (s == NULL)
        return;
    people_close(s->people);
    free(s);
}

/* ---- roles ------------------------------------------------------------------------------------------ */

static const char *const roles[] = {"nobody", "technician", "clerk", "owner"};

const char *signin_role_name(enum signin_role role)
{
    return (size_t)role < sizeof roles / sizeof *roles ? roles[role] : roles[0];
}

bool signin_role_named(const char *name, enum signin_role *ret)
{
    for (size_t i = 1; i < sizeof roles / sizeof *roles; i++)
        if (strcmp(name, roles[i]) == 0) {
            *ret = (enum signin_role)i;
            return true;
        }
    return false;
}

static struct signin_person who_is(const struct person *p)
{
    struct signin_person who = {.is_revoked = p->is_revoked, .has_password = p->hash[0] != '\0'};
    if (!signin_role_named(p->role, &who.role))
        who.role = SIGNIN_NOBODY; /* a role of a later program: may do nothing here */
    snprintf(who.name, sizeof who.name, "%s", p->name);
    snprintf(who.shop, sizeof who.shop, "%s", p->shop);
    return who;
}

/* ---- people ------------------------------------------------------------------------------------------ */

static bool is_name(const char *name)
{
    const size_t n = strlen(name);
    for (size_t i = 0; i < n; i++)
        if (strchr("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789._-@", name[i]) ==
            NULL)
            return false;
    return n >= 1 && n <= PEOPLE_NAME_MAX;
}

enum err signin_put(struct signin *s, const char *by, const char *name, enum signin_role role,
                    const char *shop, enum people_how how, int64_t now_ms, struct fault *reterr)
{
    const struct people_by who = {by, now_ms};
    const bool has_shop = shop != NULL && shop[0] != '\0';
    if (!is_name(name))
        return fault_set(reterr, ERR_SYNTAX,
                         "the name '%.80s' is not 1 to %d letters, digits and . _ - @", name,
                         PEOPLE_NAME_MAX);
    if (role < SIGNIN_TECHNICIAN || role > SIGNIN_OWNER)
        return fault_set(reterr, ERR_DOMAIN, "the role is none of owner, clerk, technician");
    if (role == SIGNIN_TECHNICIAN && (!has_shop || !keyring_is_shop(shop, strlen(shop))))
        return fault_set(reterr, ERR_DOMAIN, "a technician needs the id of a shop");
    if (role != SIGNIN_TECHNICIAN && has_shop)
        return fault_set(reterr, ERR_DOMAIN, "only a technician belongs to a shop");
    return people_put(s->people, &who, name, signin_role_name(role), has_shop ? shop : "", how,
                      reterr);
}

enum err signin_revoke(struct signin *s, const char *by, const char *name, int64_t now_ms,
                       struct fault *reterr)
{
    return people_revoke(s->people, &(struct people_by){by, now_ms}, name, reterr);
}

enum err signin_forget(struct signin *s, const char *by, const char *name, int64_t now_ms,
                       struct fault *reterr)
{
    struct classroom *classroom = NULL;
    enum err err = people_forget(s->people, &(struct people_by){by, now_ms}, name, reterr);
    if (err == ERR_OK)
        err = classroom_open(s->store, &classroom, reterr);
    if (err == ERR_OK)
        err = classroom_forget(classroom, name, reterr);
    classroom_close(classroom);
    return err;
}

struct people *signin_people(struct signin *s)
{
    return s->people;
}

struct seeing {
    signin_see *see;
    void *me;
};

static bool see_one(void *me, const struct person *p)
{
    const struct seeing *v = me;
    const struct signin_person who = who_is(p);
    return v->see(v->me, &who);
}

enum err signin_list(struct signin *s, signin_see *see, void *me, struct fault *reterr)
{
    struct seeing v = {see, me};
    return people_see(s->people, see_one, &v, reterr);
}

static void put_person(struct jsonw *w, const struct signin_person *p)
{
    jsonw_string(w, "name", p->name);
    jsonw_string(w, "role", signin_role_name(p->role));
    jsonw_string(w, "shop", p->shop[0] != '\0' ? p->shop : NULL);
    jsonw_bool(w, "revoked", p->is_revoked);
    jsonw_bool(w, "has_password", p->has_password);
}

static bool tell_one(void *me, const struct signin_person *p)
{
    struct jsonw *w = me;
    jsonw_object(w, NULL);
    put_person(w, p);
    jsonw_object_end(w);
    return true;
}

enum err signin_tell(struct signin *s, const char *name, struct jsonw *w, struct fault *reterr)
{
    struct person p = {0};
    bool is_found = false;
    enum err err = ERR_OK;
    if (name == NULL) {
        jsonw_array(w, "people");
        err = signin_list(s, tell_one, w, reterr);
        jsonw_array_end(w);
        return err;
    }
    err = people_find(s->people, name, &p, &is_found, reterr);
    if (err == ERR_OK && !is_found)
        return fault_set(reterr, ERR_UNKNOWN, "there is nobody called %.64s", name);
    const struct signin_person who = who_is(&p);
    if (err == ERR_OK)
        put_person(w, &who);
    return err;
}

/* ---- tokens ------------------------------------------------------------------------------------------ */

static enum err hash_of(const char *token, uint8_t ret[PEOPLE_TOKEN], struct fault *f)
{
    const enum err err = digest_bytes(DIGEST_SHA256, token, strlen(token), ret);
    return err == ERR_OK ? err : fault_set(f, err, "no SHA-256 on this machine");
}

static enum err new_token(char ret[SIGNIN_TOKEN_ROOM], uint8_t hash[PEOPLE_TOKEN], struct fault *f)
{
    const enum err err = secret_token(ret);
    return err == ERR_OK ? hash_of(ret, hash, f)
                         : fault_set(f, err, "the system gives no random numbers");
}

enum err signin_link(struct signin *s, const char *by, const char *name, int64_t life_ms,
                     int64_t now_ms, char ret[SIGNIN_TOKEN_ROOM], struct fault *reterr)
{
    const struct people_by who = {by, now_ms};
    uint8_t hash[PEOPLE_TOKEN];
    const enum err err = new_token(ret, hash, reterr);
    return err == ERR_OK ? people_link(s->people, &who, name, hash, now_ms + life_ms, reterr) : err;
}

enum err signin_password(struct signin *s, const char *name, const char *password,
                         const char *token, struct fault *reterr)
{
    char text[SECRET_HASH_ROOM];
    uint8_t keep[PEOPLE_TOKEN];
    enum err err = secret_hash(password, strlen(password), text);
    if (err == ERR_LIMIT)
        return fault_set(reterr, ERR_LIMIT, "a password has %d to %d characters",
                         SECRET_PASSWORD_MIN, SECRET_PASSWORD_MAX);
    if (err != ERR_OK)
        return fault_set(reterr, err, "the password could not be hashed: %s", err_text(err));
    if (token != NULL)
        err = hash_of(token, keep, reterr);
    return err == ERR_OK
               ? people_set_hash(s->people, name, text, token != NULL ? keep : NULL, reterr)
               : err;
}

static int64_t idle_of(const struct person *p)
{
    return strcmp(p->role, roles[SIGNIN_TECHNICIAN]) == 0 ? SIGNIN_IDLE_YARD_MS : SIGNIN_IDLE_MS;
}

static enum err begin(struct signin *s, const struct person *p, int64_t now_ms,
                      char ret_token[SIGNIN_TOKEN_ROOM], struct signin_person *ret_who,
                      struct fault *f)
{
    uint8_t hash[PEOPLE_TOKEN];
    enum err err = new_token(ret_token, hash, f);
    if (err == ERR_OK)
        err = people_begin(s->people, p->name, hash, now_ms, idle_of(p), f);
    if (err == ERR_OK)
        *ret_who = who_is(p);
    return err;
}

static enum err denied(struct fault *f)
{
    return fault_set(f, ERR_DENIED,
                     "name and password do not go together, or the link is spent or too old");
}

static enum err busy(int64_t wait_ms, struct fault *f)
{
    return fault_set(f, ERR_BUSY, "too many tries; wait %lld s",
                     (long long)((wait_ms + 999) / 1000));
}

enum err signin_by_password(struct signin *s, const char *name, const char *password,
                            const char *address, int64_t now_ms, char ret_token[SIGNIN_TOKEN_ROOM],
                            struct signin_person *ret_who, int64_t *ret_wait_ms,
                            struct fault *reterr)
{
    struct person p = {0};
    bool is_found = false;
    const uint64_t by_name = key_of('n', name), by_address = key_of('a', address);
    const size_t n = strlen(password);
    *ret_wait_ms = guard_try(s->guard, by_name, by_address, now_ms);
    if (*ret_wait_ms > 0)
        return busy(*ret_wait_ms, reterr);
    const enum err err = people_find(s->people, name, &p, &is_found, reterr);
    if (err != ERR_OK)
        return err;
    if (!is_found || p.is_revoked || p.hash[0] == '\0') {
        secret_waste(password, n);
        return denied(reterr);
    }
    if (!secret_holds(p.hash, password, n))
        return denied(reterr);
    guard_forgive(s->guard, by_name, by_address, now_ms);
    return begin(s, &p, now_ms, ret_token, ret_who, reterr);
}

enum err signin_by_link(struct signin *s, const char *link, const char *address, int64_t now_ms,
                        char ret_token[SIGNIN_TOKEN_ROOM], struct signin_person *ret_who,
                        int64_t *ret_wait_ms, struct fault *reterr)
{
    struct person p = {0};
    uint8_t hash[PEOPLE_TOKEN];
    bool is_found = false;
    const uint64_t by_link = key_of('l', address), by_address = key_of('a', address);
    *ret_wait_ms = guard_try(s->guard, by_link, by_address, now_ms);
    if (*ret_wait_ms > 0)
        return busy(*ret_wait_ms, reterr);
    enum err err = hash_of(link, hash, reterr);
    if (err == ERR_OK)
        err = people_use_link(s->people, hash, now_ms, &p, &is_found, reterr);
    if (err != ERR_OK)
        return err;
    if (!is_found)
        return denied(reterr);
    guard_forgive(s->guard, by_link, by_address, now_ms);
    return begin(s, &p, now_ms, ret_token, ret_who, reterr);
}

enum err signin_who(struct signin *s, const char *token, int64_t now_ms, struct signin_person *ret,
                    struct fault *reterr)
{
    struct person p = {0};
    uint8_t hash[PEOPLE_TOKEN];
    bool is_found = false;
    int64_t ends_ms = 0;
    *ret = (struct signin_person){0};
    enum err err = hash_of(token, hash, reterr);
    if (err == ERR_OK)
        err = people_session(s->people, hash, now_ms, &p, &is_found, &ends_ms, reterr);
    if (err != ERR_OK || !is_found)
        return err;
    *ret = who_is(&p);
    /* By a tenth at a time, so that looking does not write at each call. */
    const int64_t idle_ms = idle_of(&p);
    return now_ms + idle_ms - ends_ms > idle_ms / 10
               ? people_prolong(s->people, hash, now_ms + idle_ms, reterr)
               : ERR_OK;
}

enum err signin_leave(struct signin *s, const char *token, struct fault *reterr)
{
    uint8_t hash[PEOPLE_TOKEN];
    const enum err err = hash_of(token, hash, reterr);
    return err == ERR_OK ? people_end(s->people, hash, reterr) : err;
}

enum err signin_csrf(const char *token, char ret[SIGNIN_TOKEN_ROOM + 32])
{
    uint8_t hash[DIGEST_SHA256_SIZE];
    char text[SIGNIN_TOKEN_ROOM + 16];
    snprintf(text, sizeof text, "csrf:%.*s", SIGNIN_TOKEN_ROOM, token);
    const enum err err = digest_bytes(DIGEST_SHA256, text, strlen(text), hash);
    if (err == ERR_OK)
        digest_hex(hash, sizeof hash, ret);
    return err;
}

bool signin_csrf_holds(const char *token, const char *csrf)
{
    char right[SIGNIN_TOKEN_ROOM + 32];
    return signin_csrf(token, right) == ERR_OK && strlen(csrf) == strlen(right) &&
           secret_same(right, csrf, strlen(right));
}
