/* signin: who comes in to the pages, and as what: passwords, one-time links, sessions, and what slows down guessing.
 *
 * Roles: the owner may do everything; a clerk rules on claims; a technician sees the jobs and claims of their own shop alone. A session is
 * a random token in a cookie; the token against forged requests (csrf) is derived from it, so nothing more has to be kept.
 *
 * Guessing: after SIGNIN_FREE failures for a name or from an address, each further try has to wait twice as long as the last, up to
 * SIGNIN_WAIT_MAX_MS; a success forgets the name's failures. Kept in memory, in a table of fixed size. */
#ifndef DESK_SIGNIN_H
#define DESK_SIGNIN_H

#include "base/fault.h"
#include "base/jsonw.h"
#include "store/people.h"

#include <stdbool.h>
#include <stdint.h>

enum signin_role { SIGNIN_NOBODY, SIGNIN_TECHNICIAN, SIGNIN_CLERK, SIGNIN_OWNER };

enum {
    SIGNIN_TOKEN_ROOM = 44,
    SIGNIN_NAME_ROOM = 65,
    SIGNIN_FREE = 5,
    SIGNIN_WAIT_MAX_MS = 15 * 60 * 1000,
    /* a session ends after so long without a call: at a desk; of a technician, who may be away from any network for days */
    SIGNIN_IDLE_MS = 12 * 60 * 60 * 1000,
    SIGNIN_IDLE_YARD_MS = 14 * 24 * 60 * 60 * 1000
};

struct signin; /* one thread's connection */

struct signin_person {
    enum signin_role role;
    char name[SIGNIN_NAME_ROOM], shop[SIGNIN_NAME_ROOM];
    bool is_revoked, has_password;
};

/* What is shared between threads: who failed how often. */
struct signin_guard;
struct signin_guard *signin_guard_new(void); /* NULL: no memory */
void signin_guard_free(struct signin_guard *guard);

/* signin_open: people of a store. guard is borrowed, may be NULL for the command line. */
MUST_USE enum err signin_open(const char *store, struct signin_guard *guard, struct signin **ret,
                              struct fault *reterr);
void signin_close(struct signin *s);

/* signin_put: a person with a role; a technician needs a shop, nobody else has one. Names: letters, digits and . _ - @, 1..64.
 * by: who does it (NULL: somebody at the command line), for the list of acts (desk/audit.h). how, and what is refused: people_put.
 * Errors: ERR_SYNTAX, ERR_DOMAIN, the database's. signin_revoke: ERR_UNKNOWN, ERR_ORDER (oneself, the last owner). signin_forget: a revoked
 * person is gone from here, their name from the list of acts and what they practised too. signin_list: everybody, by name. */
MUST_USE enum err signin_put(struct signin *s, const char *by, const char *name,
                             enum signin_role role, const char *shop, enum people_how how,
                             int64_t now_ms, struct fault *reterr);
MUST_USE enum err signin_revoke(struct signin *s, const char *by, const char *name, int64_t now_ms,
                                struct fault *reterr);
MUST_USE enum err signin_forget(struct signin *s, const char *by, const char *name, int64_t now_ms,
                                struct fault *reterr);
typedef bool signin_see(void *me, const struct signin_person *person);
MUST_USE enum err signin_list(struct signin *s, signin_see *see, void *me, struct fault *reterr);

/* signin_tell: "people": [{"name", "role", "shop", "revoked", "has_password"}] into an object that is open; of one person, by name, those
 * members themselves (ERR_UNKNOWN). */
MUST_USE enum err signin_tell(struct signin *s, const char *name, struct jsonw *w,
                              struct fault *reterr);

/* signin_link: a token that lets a person in once within life_ms. signin_password: sets it; ends the person's other sessions than
 * that of `token` (may be NULL). Errors: ERR_UNKNOWN, ERR_LIMIT (too short, too long), the database's. */
MUST_USE enum err signin_link(struct signin *s, const char *by, const char *name, int64_t life_ms,
                              int64_t now_ms, char ret[SIGNIN_TOKEN_ROOM], struct fault *reterr);
MUST_USE enum err signin_password(struct signin *s, const char *name, const char *password,
                                  const char *token, struct fault *reterr);

/* signin_by_password, signin_by_link: *ret_token is a new session's, *ret_who whose. ERR_DENIED: it is not right (one word for every reason);
 * ERR_BUSY: too many tries, *ret_wait_ms says how long to wait. address: where the call came from, for the guard. */
MUST_USE enum err signin_by_password(struct signin *s, const char *name, const char *password,
                                     const char *address, int64_t now_ms,
                                     char ret_token[SIGNIN_TOKEN_ROOM],
                                     struct signin_person *ret_who, int64_t *ret_wait_ms,
                                     struct fault *reterr);
MUST_USE enum err signin_by_link(struct signin *s, const char *link, const char *address,
                                 int64_t now_ms, char ret_token[SIGNIN_TOKEN_ROOM],
                                 struct signin_person *ret_who, int64_t *ret_wait_ms,
                                 struct fault *reterr);

/* signin_who: whose session a token is; role SIGNIN_NOBODY when it is nobody's. signin_leave: ends it. */
MUST_USE enum err signin_who(struct signin *s, const char *token, int64_t now_ms,
                             struct signin_person *ret, struct fault *reterr);
MUST_USE enum err signin_leave(struct signin *s, const char *token, struct fault *reterr);

/* signin_csrf: what a page of this session must send along with whatever changes something; signin_csrf_holds compares. */
MUST_USE enum err signin_csrf(const char *token, char ret[SIGNIN_TOKEN_ROOM + 32]);
bool signin_csrf_holds(const char *token, const char *csrf);

/* signin_people: the list of people and acts behind it, for desk/audit.h. */
struct people *signin_people(struct signin *s);

const char *signin_role_name(enum signin_role role); /* "owner", "clerk", "technician", "nobody" */
bool signin_role_named(const char *name, enum signin_role *ret);

#endif
