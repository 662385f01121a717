/* clerk: paying out many claims at once, for who has seen each of them as it stood. */
#ifndef DESK_CLERK_H
#define DESK_CLERK_H

#include "base/fault.h"

#include <stddef.h>
#include <stdint.h>

struct store;

enum { CLERK_SETTLE_MAX = 500 };

struct clerk_seen {
    const char *claim, *tag; /* desk/tell.h */
};

enum clerk_result {
    CLERK_PAID,
    CLERK_CHANGED,  /* it has got another entry since it was seen */
    CLERK_FINDINGS, /* it has a finding, if only a note: such a claim is paid by itself, looked at */
    CLERK_NOTHING,  /* nothing is due */
    CLERK_UNKNOWN,  /* there is no such claim */
    CLERK_FAILED    /* the store could not do it; it and those after it are as they were */
};
const char *clerk_result_name(enum clerk_result result); /* "paid", "changed" ... */

/* clerk_settle: each claim in its own transaction. see is called once a claim, in their order. Errors: ERR_EMPTY (nobody named),
 * ERR_LIMIT (too many). */
typedef void clerk_see(void *me, const char *claim, enum clerk_result result, int64_t amount_minor);
MUST_USE enum err clerk_settle(struct store *store, const struct clerk_seen *claims, size_t n,
                               const char *person, int64_t now_ms, clerk_see *see, void *me,
                               struct fault *reterr);

#endif
