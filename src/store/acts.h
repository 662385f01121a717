/* acts: what people did that stands on the log, newest first: words over the rules, payments, notes, papers. And how many claims each
 * shop has. */
#ifndef STORE_ACTS_H
#define STORE_ACTS_H

#include "store/store.h"

/* One entry. claim is NULL for a paper; kind, name and revision are a paper's. person NULL: not told. */
struct store_act {
    int64_t seq, at_ms;
    enum store_ruling_kind ruling;
    const char *claim, *verdict, *currency, *person, *reason;
    int64_t amount_minor;
    const char *kind, *name;
    int64_t revision; /* STORE_UNKNOWN: none */
};
typedef bool store_see_act(void *me, const struct store_act *act);

/* store_acts: rulings (never those by the rules alone) or papers before a place in the log, the newest first; person NULL: anybody's,
 * which is not told of papers. ruling STORE_RULED: of any kind. Texts live until see returns. */
MUST_USE enum err store_ruling_acts(struct store *store, int64_t before,
                                    enum store_ruling_kind ruling, const char *person,
                                    store_see_act *see, void *me, struct fault *reterr);
MUST_USE enum err store_paper_acts(struct store *store, int64_t before, store_see_act *see,
                                   void *me, struct fault *reterr);

/* store_shop_counts: shops that have claims, by name. */
typedef bool store_see_shop(void *me, const char *shop, int64_t n_claims);
MUST_USE enum err store_shop_counts(struct store *store, store_see_shop *see, void *me,
                                    struct fault *reterr);

#endif
