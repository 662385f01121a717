/* ruling_inner: what the files of ruling share. Inside src/desk/ruling*. */
#ifndef DESK_RULING_INNER_H
#define DESK_RULING_INNER_H

#include "base/text.h"
#include "desk/ruling.h"
#include "proof/event_pool.h"

/* A revision to rule by. */
struct ruling_book {
    const char *id;         /* of the bulletin; owned with the book */
    struct bulletin *owned; /* NULL: the caller's */
    const struct bulletin *bulletin;
    struct rule_book *book;
};
struct ruling_books {
    struct ruling_book *at;
    size_t n;
};

/* ruling_books_open: the newest revision kept of each bulletin; the order's in place of its own kind. One that cannot be read is
 * left out: its claims are not ruled. Errors: ERR_EMPTY (none at all), ERR_MEMORY, the store's. */
MUST_USE enum err ruling_books_open(struct store *store, const struct ruling_order *order,
                                    struct ruling_books *ret, struct fault *reterr);
void ruling_books_close(struct ruling_books *books);
const struct ruling_book *ruling_books_find(const struct ruling_books *books, const char *id);

/* What stands for a claim and what it was paid. */
struct ruling_standing {
    const struct store_ruling *stands;  /* in the pool; NULL: nothing. Its claim is not filled in */
    const struct store_ruling *by_rule; /* the last by the rules; NULL */
    int64_t paid_minor, last_seq;
    bool is_out_of_memory;
};
MUST_USE enum err ruling_standing(struct store *store, const char *claim, struct event_pool *pool,
                                  struct ruling_standing *ret, struct fault *reterr);

/* A ruling without its empty places. */
struct ruling_small {
    enum rule_verdict verdict;
    int64_t amount_minor, if_cured_minor;
    struct rule_award *awards;
    struct rule_line *lines;
    struct rule_finding *findings;
    size_t n_awards, n_lines, n_findings, n_more_findings;
};
void ruling_unfold(const struct ruling_small *small, struct rule_ruling *ret);

/* A claim on its way through ruling: read, ruled, told, written. */
struct ruling_item {
    struct event_pool *pool; /* of everything below */
    char id[STORE_CLAIM_SIZE + 1];
    const struct store_claim *claim;
    struct text events; /* their bytes one after the other, a NUL behind each; room is kept */
    struct ruling_standing standing;
    const struct ruling_book *book; /* NULL: not kept */
    uint64_t unit;                  /* a hash of its VIN */
    bool waits;                     /* for another of its unit */
    bool is_ruled;
    struct ruling_small ruling;
    struct store_ruling said; /* the same as it is kept */
    bool is_changed;
};

/* ruling_item_read: claim `id` from the store. Errors: ERR_UNKNOWN, ERR_MEMORY, the store's. */
MUST_USE enum err ruling_item_read(struct store *store, const char *id, struct ruling_item *ret,
                                   struct fault *reterr);
void ruling_item_clear(struct ruling_item *item); /* empty, room kept */
void ruling_item_done(struct ruling_item *item);

/* One thread's room. */
struct ruling_hand {
    struct known_work *work;
    struct rule_ruling *ruling;
};

/* ruling_item_rule: sets ruling, said and is_ruled; a claim whose events cannot be read stays as it is. Error: ERR_MEMORY, those
 * of known_of. */
MUST_USE enum err ruling_item_rule(struct ruling_item *item, const struct known *known,
                                   struct ruling_hand *hand, int64_t now_ms, struct fault *reterr);

/* The same verdict, money, stations and findings, word for word. */
bool ruling_same(const struct store_ruling *a, const struct store_ruling *b);

#endif
