/* fault_work: what a program does with a store on the pretended disk until something goes wrong: it takes in, rules, pays, keeps, tidies and
 * copies, and writes down in memory that outlives it what was acknowledged. */
#ifndef TEST_STORE_FAULT_WORK_H
#define TEST_STORE_FAULT_WORK_H

#include "disk.h"
#include "store/store.h"

enum {
    WORK_CLAIMS_MAX = 256,
    WORK_COPIES_MAX = 8,
    WORK_STEP_MINOR = 500, /* each ruling of a claim allows so much more than the one before */
    WORK_PATH = 400
};

/* What is known of a claim: what stands lies from low to high (the same, unless a ruling was tried and not acknowledged); so much was paid for
 * certain; may_be_paid: a payment was tried and not acknowledged. Amounts in minor units. */
struct work_claim {
    char id[STORE_CLAIM_SIZE + 1];
    int64_t low_minor, high_minor, paid_minor;
    bool may_be_paid;
};

struct work_ledger {
    bool is_made;            /* making the store was acknowledged */
    unsigned n_old, n_taken; /* claims that were there when all began; all that are acknowledged */
    bool may_be_taken;       /* the next one was tried */
    struct work_claim claims[WORK_CLAIMS_MAX];
    unsigned n_kept; /* papers: the last is number n_kept - 1 */
    bool may_be_kept;
    struct {
        bool is_whole; /* acknowledged */
        unsigned n_claims;
    } copies[WORK_COPIES_MAX];
    unsigned n_copies; /* tried */
    int64_t clock_ms;
    int n_acts, n_failed; /* of this child */
    int n_wrong; /* answers that cannot be: taken in twice, another amount paid than was due */
    const char *act, *struck_in;
    long n_first; /* operations until the store was open */
    struct disk_report disk;
    char how[200]; /* the order, in words, for a complaint */
};

enum work_end { WORK_CLOSED, WORK_CUT, WORK_KILLED };

struct work_order {
    const char *root; /* the disk: the store is root/store, copies are root/copy-N */
    unsigned synth_seed;
    unsigned long long seed;
    struct disk_plan plan;
    int n_acts;
    int jump_at; /* the act before which the clock jumps; -1: never */
    enum work_end end;
};

/* work_run: in a child of its own, which it ends. */
void work_run(const struct work_order *order, struct work_ledger *ledger) __attribute__((noreturn));

/* The text of paper number i, and how an act is called, for the parent, which goes on by the same acts. */
void work_paper(unsigned i, char *buf, size_t room);

/* One act each, told to the ledger. */
MUST_USE enum err work_take(struct store *s, unsigned synth_seed, struct work_ledger *l,
                            struct fault *f);
MUST_USE enum err work_rule(struct store *s, unsigned i, struct work_ledger *l, struct fault *f);
MUST_USE enum err work_pay(struct store *s, unsigned i, struct work_ledger *l, struct fault *f);

#endif
