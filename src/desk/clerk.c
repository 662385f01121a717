/* clerk: owns what is paid without being looked at one by one, and what is not. */
#include "desk/clerk.h"

#include "desk/ruling.h"
#include "desk/tell.h"

#include <string.h>

const char *clerk_result_name(enum clerk_result result)
{
    static const char *const names[] = {"paid",    "changed", "findings",
                                        "nothing", "unknown", "failed"};
    return names[result];
}

struct look {
    bool is_found;
    int64_t last_seq, n_findings;
    bool is_due;
};

static bool see_listed(void *me, const struct store_listed *l)
{
    struct look *v = me;
    *v =
        (struct look){true, l->last_seq, l->n_findings, strcmp(l->needs, STORE_NEEDS_PAYMENT) == 0};
    return false;
}

/* What is looked at here holds when it is paid, since any further entry makes that late. */
static enum clerk_result pay(struct store *store, const struct clerk_seen *seen, const char *person,
                             int64_t now_ms, int64_t *ret_amount, struct fault *f)
{
    const struct store_filter one = {.claim = seen->claim, .n_max = 1};
    struct look look = {0};
    bool is_late = false;
    *ret_amount = 0;
    if (store_list(store, &one, see_listed, &look, f) != ERR_OK)
        return CLERK_FAILED;
    if (!look.is_found)
        return CLERK_UNKNOWN;
    const int64_t seq = tell_tag_seq(seen->claim, seen->tag);
    if (seq == 0 || seq != (look.last_seq > 0 ? look.last_seq : -1))
        return CLERK_CHANGED;
    if (look.n_findings > 0)
        return CLERK_FINDINGS;
    if (!look.is_due)
        return CLERK_NOTHING;
    const struct ruling_word word = {seen->claim, person, NULL, now_ms, seq};
    if (ruling_pay(store, &word, ret_amount, &is_late, f) != ERR_OK)
        return CLERK_FAILED;
    return is_late ? CLERK_CHANGED : *ret_amount > 0 ? CLERK_PAID : CLERK_NOTHING;
}

enum err clerk_settle(struct store *store, const struct clerk_seen *claims, size_t n,
                      const char *person, int64_t now_ms, clerk_see *see, void *me,
                      struct fault *reterr)
{
    bool has_failed = false;
    if (person == NULL || person[0] == '\0')
        return fault_set(reterr, ERR_EMPTY, "nobody is named who settles");
    if (n > CLERK_SETTLE_MAX)
        return fault_set(reterr, ERR_LIMIT, "found %zu claims; expected at most %d", n,
                         (int)CLERK_SETTLE_MAX);
    for (size_t i = 0; i < n; i++) {
        int64_t amount_minor = 0;
        const enum clerk_result result =
            has_failed ? CLERK_FAILED
                       : pay(store, &claims[i], person, now_ms, &amount_minor, reterr);
        has_failed = result == CLERK_FAILED;
        see(me, claims[i].claim, result, amount_minor);
    }
    return ERR_OK;
}
