/* ruling: rules on the claims of a store, writes what is new to its log, tells what changed; overrules; settles.
 *
 * Rule: each claim by the revision of its bulletin that holds (the newest kept, or the one given). A ruling that says the same as
 * the one that stands (verdict, money, stations, findings word for word) is not written again, be it by another revision. One that
 * a person overruled stays as they said until they overrule it again; what the rules would say now is told beside it. What was
 * paid stays paid: a new ruling that comes to less is told as owed back, one that comes to more as still due; only settling writes
 * a payment.
 *
 * Settle: pays what stands as "pay" and is not paid yet, a log entry each.
 *
 * How it is kept. A ruling's awards name stations and what for (known_award_name), so that caps by kind hold over several claims
 * of a unit. A person who gives an amount of their own has it shared out as the rules' is. */
#ifndef DESK_RULING_H
#define DESK_RULING_H

#include "desk/known.h"

struct ruling_order {
    const char *claim;               /* NULL: all */
    const struct bulletin *bulletin; /* NULL: the newest revision kept for each claim */
    const char *bulletin_text;       /* with bulletin: its file, which is kept */
    size_t bulletin_size;
    const char
        *shops_text; /* a list of shops (desk/shops.h), which is kept; NULL: the one that is */
    const char *shops_name; /* for faults */
    size_t shops_size;
    int64_t now_ms;
    int n_threads;        /* 1..16 */
    bool is_trial;        /* nothing is written: what would change */
    bool is_only_unruled; /* claim NULL: those alone that no ruling stands for yet */
};

/* What stands after ruling one claim. Borrowed until the next. */
struct ruling_seen {
    const char *claim_id;
    const struct store_claim *claim;
    const struct rule_ruling *ruling;  /* by the rules, now */
    const struct store_ruling *before; /* what stood, NULL: nothing */
    bool is_new, is_changed;           /* against before; never where a person's word stands */
    bool is_overruled;                 /* a person's word stands: before */
    int64_t paid_minor;                /* so far */
    const char *currency;
    int currency_digits;
};
typedef bool ruling_see(void *me, const struct ruling_seen *seen);

/* ruling_run: calls see for each claim in the order of taking in, before it is written; when see returns false the run ends after
 * that batch. *ret_unruled: claims whose bulletin is not kept, or whose events cannot be read. What was given with the order is
 * kept first, unless it is a trial; rates of shops are read in the currency of the first bulletin by id. While it runs nobody else
 * may use this struct store; other processes may. Errors: those of the store and of shops_read; ERR_UNKNOWN (no such claim);
 * ERR_EMPTY (no bulletin kept and none given). */
MUST_USE enum err ruling_run(struct store *store, const struct ruling_order *order,
                             const struct known_progress *progress, ruling_see *see, void *me,
                             size_t *ret_unruled, struct fault *reterr);

/* ruling_overrule: a person's word over the rules. amount_minor BULLETIN_NO_AMOUNT: with "pay" what would be paid once all is
 * cured, else 0. Errors: ERR_EMPTY (no person or reason), ERR_UNKNOWN (claim or verdict), ERR_ORDER (not ruled yet), ERR_DOMAIN
 * (an amount without "pay", or "pay" of nothing: refused claims need an amount), the store's. */
MUST_USE enum err ruling_overrule(struct store *store, const char *claim, const char *verdict,
                                  int64_t amount_minor, const char *person, const char *reason,
                                  int64_t now_ms, struct fault *reterr);

/* What a person says of one claim, who has seen it as it stood after its entry since_seq (0: no matter; -1: it had none). Every call
 * below with one: *ret_is_late: the claim has got another entry meanwhile, and nothing was written. */
struct ruling_word {
    const char *claim;
    const char *person; /* who is signed in, or named on the command line */
    const char *text;   /* the reason, or the note */
    int64_t now_ms, since_seq;
};

/* ruling_say: ruling_overrule by such a word. */
MUST_USE enum err ruling_say(struct store *store, const struct ruling_word *word,
                             const char *verdict, int64_t amount_minor, bool *ret_is_late,
                             struct fault *reterr);

/* ruling_take_back: the person takes back what they said last, and the rules' ruling stands again: a further entry of the log, the
 * word stays on it. text is not looked at. Errors: ERR_EMPTY (nobody named), ERR_UNKNOWN (claim), ERR_ORDER: no word stands; it is
 * another person's; another person's stood before it (say anew what is to hold, so that it is not lost unseen); money was paid on it. */
MUST_USE enum err ruling_take_back(struct store *store, const struct ruling_word *word,
                                   bool *ret_is_late, struct fault *reterr);

/* ruling_note: writes the text down with the claim; what stands does not change. Errors: ERR_EMPTY (nobody, nothing), ERR_UNKNOWN. */
MUST_USE enum err ruling_note(struct store *store, const struct ruling_word *word,
                              bool *ret_is_late, struct fault *reterr);

/* ruling_pay: settles one claim. text is not looked at. *ret_amount 0: nothing was due. Errors as ruling_settle. */
MUST_USE enum err ruling_pay(struct store *store, const struct ruling_word *word,
                             int64_t *ret_amount, bool *ret_is_late, struct fault *reterr);

/* ruling_settle: claim NULL: all. see may be NULL. Two who settle at once pay once: each claim is looked at and paid in one
 * transaction (store_settle). Errors: ERR_EMPTY (no person), ERR_UNKNOWN, the store's. */
typedef bool ruling_see_payment(void *me, const char *claim, int64_t amount_minor,
                                const char *currency);
MUST_USE enum err ruling_settle(struct store *store, const char *claim, const char *person,
                                int64_t now_ms, ruling_see_payment *see, void *me,
                                struct fault *reterr);

#endif
