/* campaign: a bulletin being carried out, at one look: how far it is, what it cost, what is still to come, and where to look.
 *
 * Everything is computed from the store: the build list, claims, rulings, payments, and the papers "bulletin", "reserve" and
 * "stock". Sums are exact integers; what is estimated carries its interval.
 *
 * The words. A station is *in scope* when its label in the build list lies in the build windows of the newest revision kept
 * (core/scope.h); a unit when one of its stations is. Without a build list a unit's stations are in scope when its technician found
 * them so. *Reached*: a claim for it was taken in, whatever became of it. *Done*: a claim of a finished job that does not stand
 * refused has a kit or money for the station; a unit when all of its stations in scope are. *Proved*: the station stands as "pay" in
 * a claim that stands as "pay", by the rules or by a person's word; a unit when all of its stations in scope are.
 *
 * What stands for a claim is as in store.h (store_takes_over). *Paid*: what went out. *Promised*: what stands as pay and is not paid yet;
 * *owed back*: what was paid beyond what stands. *Asked*, *held*: what claims that stand so would cost once all is cured: at most.
 * *Refused*: what the rules had worked out before a person refused it (the rules work out nothing for what they refuse themselves).
 *
 * How it is kept quick. A campaign_board holds in memory what a store says of one bulletin, narrowly, and reads on from where in the
 * log it left off; what is told is worked out again only when something came. doc/campaign.md has the measurements. */
#ifndef DESK_CAMPAIGN_H
#define DESK_CAMPAIGN_H

#include "base/jsonw.h"
#include "bulletin/bulletin.h"
#include "store/store.h"

enum {
    CAMPAIGN_KINDS = BULLETIN_PAYS_N + 1, /* of money; the last: not told by kind */
    CAMPAIGN_VERDICTS = 5, /* pay, ask, hold, refuse (enum rule_verdict), not ruled yet */
    CAMPAIGN_UNRULED = 4,
    CAMPAIGN_REASONS = 3, /* to look at a shop */
    CAMPAIGN_WORDS = 400,
    CAMPAIGN_TAG_ROOM = 72
};

/* Of units, and of stations. */
struct campaign_count {
    int64_t in_scope, reached, done, proved;
    int64_t
        unknown; /* in the build list, and its label does not tell; units: none in, one unknown */
    int64_t beyond; /* a claim was taken in for it, but it is not in scope by the above */
};

/* Money of all claims, of one kind of money line, or of a shop: minor units of the bulletin's currency. stands - paid = promised -
 * owed_back, in sum and for each kind and shop (of a kind alone only the difference is known: then owed_back may be other claims'). */
struct campaign_money {
    int64_t stands_minor, paid_minor, promised_minor, owed_back_minor;
    int64_t asked_minor, held_minor, refused_minor;
};

struct campaign_shop {
    const char *id; /* "" for claims without one */
    int64_t n_claims[CAMPAIGN_VERDICTS];
    struct campaign_money money;
};

/* A paper that a person gave: how much there is for the campaign. */
struct campaign_reserve {
    bool is_given;
    int64_t minor, at_ms, seq; /* when it was kept, and its place in the log */
    const char *person;
    /* What it will come to when all that will come has come: everything above at most, and further units at the mean of those that
     * stand as pay. low and high by the forecast's interval. Only with a forecast and a claim that pays. */
    bool has_expected;
    int64_t expected_minor, low_minor, high_minor, mean_unit_minor;
};

struct campaign_kit {
    const char *id, *number, *name; /* name in the bulletin's language */
    int64_t used; /* stations it was used for, by claims that do not stand refused */
    int64_t to_come,
        to_come_high; /* stations still to do that will take it: mean, and 95 % are not more */
    bool has_to_come;
    bool has_stock; /* a paper "stock" tells of it */
    int64_t on_hand, ordered, lead_days;
    int64_t used_since; /* since the paper was kept */
    int64_t left;       /* on_hand less used_since; may be below 0 */
    bool
        has_days; /* at the rate so far (gamma, Jeffreys' prior), days until what is left is used: median, 95 % interval */
    double days, days_low, days_high;
    bool is_short; /* days_low is within lead_days, or nothing is left */
};

struct campaign_forecast {
    bool is_known; /* else `why` tells why not */
    char why[FAULT_MESSAGE_MAX];
    int32_t from; /* day of the notice: the bulletin's issue */
    int64_t n, n_come;
    double share, share_low, share_high; /* of units in scope that ever come; 95 % */
    int64_t further, low, high;          /* units that will still come, ever */
    bool has_most_by;
    double half_by, most_by; /* days from the notice: half, nine in ten, of those that ever come */
};

/* Final readings (after the work; at a point without one the last there is) at one point, of one shop or of all. */
struct campaign_readings {
    const char *point, *shop; /* shop NULL: all */
    enum unit unit;
    int64_t low_nano, high_nano; /* INT64_MIN, INT64_MAX: no limit */
    int64_t n, n_outside;
    double mean, sd; /* in unit */
    bool has_index;
    double ppk, ppk_low, ppk_high;
};

enum campaign_reason_kind {
    CAMPAIGN_FINDINGS, /* a larger share of claims with findings than at the other shops */
    CAMPAIGN_DIGITS,   /* readings end on some steps more often than at the other shops */
    CAMPAIGN_COPIES    /* sets of final readings that an earlier job had, value for value */
};

/* Why to look at a shop: never a proof of anything. */
struct campaign_reason {
    enum campaign_reason_kind kind;
    int64_t k,
        n; /* findings: claims with, of all; digits: most frequent step, readings; copies: sets alike, of all */
    double share, others_share; /* k/n here and at all other shops */
    double p, q;                /* q by Benjamini & Hochberg over every test made */
    bool is_flagged;            /* q <= 0.05 */
    char words[CAMPAIGN_WORDS];
};
struct campaign_look {
    const char *shop;
    size_t n;
    struct campaign_reason at[CAMPAIGN_REASONS]; /* the flagged ones */
};

struct campaign_news {
    bool is_asked;
    int64_t since_ms, n_taken, n_ruled[CAMPAIGN_VERDICTS], n_changed, n_words, n_paid, paid_minor,
        n_papers;
};

struct campaign {
    const char *id, *title, *currency;
    int64_t revision;
    int currency_digits;
    bool is_invented, has_builds;
    int32_t issued, until, today;
    int64_t seq; /* of the log's last entry */
    struct campaign_count units, stations;
    int64_t n_claims[CAMPAIGN_VERDICTS], n_other_currency;
    struct campaign_money money, by_kind[CAMPAIGN_KINDS];
    struct campaign_reserve reserve;
    struct campaign_forecast forecast;
    struct campaign_news news;
    const struct campaign_shop *shops; /* by id */
    const struct campaign_kit *kits;   /* in the bulletin's order */
    const struct campaign_readings
        *readings; /* by point in the bulletin's order: all shops, then each by id */
    const struct campaign_look *looks; /* by id: shops with a reason */
    size_t n_shops, n_kits, n_readings, n_looks, n_tests;
};

struct campaign_order {
    const char *bulletin; /* NULL: the one that is kept, where there is one alone */
    int64_t since_ms;     /* STORE_UNKNOWN: no news asked for */
    int64_t now_ms;
};

/* campaign_boards: what was read so far, shared between threads; each call brings its own store. Free when no call is under way. */
struct campaign_boards;
struct campaign_boards *campaign_boards_new(void); /* NULL: no memory */
void campaign_boards_free(struct campaign_boards *boards);

/* campaign_boards_stop: from now on nothing is read any more: calls that are reading break off with ERR_IO. */
void campaign_boards_stop(struct campaign_boards *boards);

/* campaign_warm: reads what campaign_json would have to read first, of every bulletin that is kept, as many as are held at once. Errors:
 * those of campaign_json. */
MUST_USE enum err campaign_warm(struct store *store, struct campaign_boards *boards, int64_t now_ms,
                                struct fault *reterr);

/* campaign_read: *ret is the caller's, campaign_free it. Errors: ERR_EMPTY (no bulletin kept), ERR_UNKNOWN (no such one), ERR_AMBIGUOUS
 * (several kept and none named), ERR_DOMAIN (a paper that cannot be read), ERR_LIMIT, ERR_MEMORY, the store's. */
MUST_USE enum err campaign_read(struct store *store, struct campaign_boards *boards,
                                const struct campaign_order *order, struct campaign **ret,
                                struct fault *reterr);
void campaign_free(struct campaign *c); /* NULL is fine */

/* campaign_json: the same as one JSON object and its line feed; the tag changes whenever the text may. With `known` the tag that the
 * caller has: where it still holds, nothing is written and *ret_same is true. */
MUST_USE enum err campaign_json(struct store *store, struct campaign_boards *boards,
                                const struct campaign_order *order, const char *known,
                                struct text *out, char tag[CAMPAIGN_TAG_ROOM], bool *ret_same,
                                struct fault *reterr);

/* campaign_write: a campaign as members of an object that the caller has opened. */
void campaign_write(const struct campaign *c, struct jsonw *w);

/* Within the reserve: surely, surely not, or it cannot be told (no reserve, no forecast, or the interval holds it). */
enum campaign_verdict { CAMPAIGN_WITHIN, CAMPAIGN_OVER, CAMPAIGN_OPEN };
enum campaign_verdict campaign_verdict(const struct campaign *c);

#endif
