/* people: who may use the pages: names, roles, shops, passwords (only their hashes), one-time links, sessions. A database of its own
 * (people.db beside store.db), because these are to be forgotten on request, while the log forgets nothing.
 *
 * Beside them stands the list of acts: who did what to people, papers and lists, as far as the log does not say. It only grows; the one
 * thing that ever changes in it is a name that is to be forgotten (people_forget).
 *
 * Secrets never lie here: passwords as the caller's salted hash, tokens of links and sessions as their SHA-256. Several processes
 * may use it at once; a struct people is used by one thread at a time. Times are milliseconds UTC, by the caller's clock. */
#ifndef STORE_PEOPLE_H
#define STORE_PEOPLE_H

#include "base/digest.h"
#include "base/fault.h"

#include <stdbool.h>
#include <stdint.h>

enum {
    PEOPLE_NAME_MAX = 64,
    PEOPLE_HASH_MAX = 200, /* characters of a password's hash */
    PEOPLE_TOKEN = DIGEST_SHA256_SIZE
};

struct people;

/* people_open: the file in the store's folder, made when it is not there yet. Errors: ERR_OPEN, ERR_TYPE, ERR_DOMAIN (a later
 * version), ERR_IO, ERR_MEMORY. people_close: NULL is fine. */
MUST_USE enum err people_open(const char *store, struct people **ret, struct fault *reterr);
void people_close(struct people *people);

struct person {
    char name[PEOPLE_NAME_MAX + 1];
    char role[16];                  /* "owner", "clerk", "technician": the caller's words */
    char shop[PEOPLE_NAME_MAX + 1]; /* "" for none */
    char hash[PEOPLE_HASH_MAX + 1]; /* "" without a password */
    int64_t made_ms;
    bool is_revoked;
};

/* Who does it, and when. who: NULL: somebody at the command line, whom nobody signed in. */
struct people_by {
    const char *who;
    int64_t at_ms;
};

/* people_put: a new person, or one that is there with another role and shop; a revoked one is let in again. Their sessions end
 * when role or shop changed. how: PEOPLE_ADD refuses one who may come in already (ERR_DUPLICATE), PEOPLE_CHANGE one who may not
 * (ERR_UNKNOWN). people_set_hash: the password's hash; ends every session but keep (may be NULL). people_revoke: may no
 * longer come in; ends their sessions and links. people_forget: a revoked person is gone, and a number stands for the name in the list of acts.
 *
 * Nobody takes away their own role, and the last owner's stays (ERR_ORDER). Each of these but people_set_hash puts an act into the list, in
 * the same transaction. Errors: ERR_UNKNOWN (no such person), ERR_LIMIT, ERR_EMPTY, ERR_ORDER, the database's. */
enum people_how { PEOPLE_PUT, PEOPLE_ADD, PEOPLE_CHANGE };
MUST_USE enum err people_put(struct people *people, const struct people_by *by, const char *name,
                             const char *role, const char *shop, enum people_how how,
                             struct fault *reterr);
MUST_USE enum err people_set_hash(struct people *people, const char *name, const char *hash,
                                  const uint8_t keep[PEOPLE_TOKEN], struct fault *reterr);
MUST_USE enum err people_revoke(struct people *people, const struct people_by *by, const char *name,
                                struct fault *reterr);
MUST_USE enum err people_forget(struct people *people, const struct people_by *by, const char *name,
                                struct fault *reterr);

/* An act. what: "added", "let-in", "changed", "link", "revoked", "forgotten", or the caller's word; whom: the person it was done to;
 * detail: in words; seq: the entry of the log that came of it, 0: none. */
struct people_act {
    int64_t n, at_ms, seq; /* n: its place, set when read back */
    const char *who;       /* NULL: at the command line */
    const char *what, *whom, *detail;
};
MUST_USE enum err people_note(struct people *people, const struct people_act *act,
                              struct fault *reterr);

/* people_acts: those before a place, the newest first; texts live until see returns. people_act_of: who did what the log's entry seq
 * came of; *ret_found false when that is not known. ret_who is "" for the command line. */
typedef bool people_see_act(void *me, const struct people_act *act);
MUST_USE enum err people_acts(struct people *people, int64_t before, people_see_act *see, void *me,
                              struct fault *reterr);
MUST_USE enum err people_act_of(struct people *people, int64_t seq,
                                char ret_who[PEOPLE_NAME_MAX + 1], bool *ret_found,
                                struct fault *reterr);

/* people_find: *ret_found false when there is nobody of that name. people_see: everybody, by name. */
MUST_USE enum err people_find(struct people *people, const char *name, struct person *ret,
                              bool *ret_found, struct fault *reterr);
typedef bool people_see_one(void *me, const struct person *person);
MUST_USE enum err people_see(struct people *people, people_see_one *see, void *me,
                             struct fault *reterr);

/* people_copy: everybody of the store in folder `from` into people.db of the folder `to`, which nobody but its owner may read: names,
 * roles, shops, passwords' hashes, and the list of acts. No session and no link goes along. What was there is replaced. *ret_n: how many; where `from` has no
 * people.db, 0 and no file. Errors: the database's. */
MUST_USE enum err people_copy(const char *from, const char *to, int64_t *ret_n,
                              struct fault *reterr);

/* people_link: a one-time link for a person, by its token's SHA-256, until expires_ms. people_use_link: spends it, whoever comes
 * first of two: *ret_found false when it is unknown, spent, or has expired. Errors: ERR_UNKNOWN (no such person, or revoked). */
MUST_USE enum err people_link(struct people *people, const struct people_by *by, const char *name,
                              const uint8_t hash[PEOPLE_TOKEN], int64_t expires_ms,
                              struct fault *reterr);
MUST_USE enum err people_use_link(struct people *people, const uint8_t hash[PEOPLE_TOKEN],
                                  int64_t now_ms, struct person *ret, bool *ret_found,
                                  struct fault *reterr);

/* people_begin: a session, by its token's SHA-256, until now + idle_ms. people_session: whose it is; *ret_ends_ms: when it ends.
 * people_prolong: lets it end then, but never later than PEOPLE_SESSION_MS after its begin. people_end: ends it. */
#define PEOPLE_SESSION_MS ((int64_t)30 * 86400000)
MUST_USE enum err people_begin(struct people *people, const char *name,
                               const uint8_t hash[PEOPLE_TOKEN], int64_t now_ms, int64_t idle_ms,
                               struct fault *reterr);
MUST_USE enum err people_session(struct people *people, const uint8_t hash[PEOPLE_TOKEN],
                                 int64_t now_ms, struct person *ret, bool *ret_found,
                                 int64_t *ret_ends_ms, struct fault *reterr);
MUST_USE enum err people_prolong(struct people *people, const uint8_t hash[PEOPLE_TOKEN],
                                 int64_t ends_ms, struct fault *reterr);
MUST_USE enum err people_end(struct people *people, const uint8_t hash[PEOPLE_TOKEN],
                             struct fault *reterr);

#endif
