/* rule: the ruling of one claim: a pure function of the bulletin, the technician's job, and what the store knows.
 *
 * No input or output, no clock, no memory of its own: the same case gives the same ruling, byte for byte. Every finding names
 * its rule, what was seen, and how to cure it; doc/ruling.md has every rule with its reason; its tables are made from rule_rows.
 *
 * Verdict. A finding's level says what it does: a note changes nothing but is told; ask: the shop can put it right by sending
 * something; hold: a person at the desk must look; refuse: it is not paid. A finding with a station concerns that station alone,
 * one without concerns the whole claim. A station's verdict is its worst level (refuse, hold, ask; else pay). The claim's: the
 * whole claim's worst where that is refuse, and refuse where every station worked on is; else hold if any part that is not refused
 * holds, else ask if any asks, else pay. Money goes out for a claim that is ruled "pay" only, and then for the stations that pay.
 *
 * Money. Whole minor units of the bulletin's currency. Labour: seconds of the allowance x rate / 3600, rounded half up, once a
 * line; what is once a unit is paid with the first station that pays and only if no earlier claim of the unit was paid it. Kit
 * by the kit that was chosen; travel, consumables and further parts as they were claimed (expense_claimed), parts at the
 * bulletin's price at most. Only kinds in claim.pays. Caps are a unit's, less what other claims of it were paid.
 *
 * Worked on. A station counts as worked on when a kit was chosen for it, a rack of it measured, cut or moved, a step of it
 * confirmed or a proof photo of it taken, other than those that only show its label: so a column whose label was read and found
 * out is no part of the claim. Only stations that were worked on get an award.
 *
 * Order of findings: that of RULE_TABLE, then the bulletin's order of stations (the whole claim first, stations that the bulletin
 * does not have last), then the message. Neither the order of the events nor that of the lists in rule_known matters. */
#ifndef DESK_RULE_H
#define DESK_RULE_H

#include "base/text.h"
#include "bulletin/bulletin.h"
#include "proof/job.h"
#include "store/store.h"

#define RULE_BUILD_LIST "the build list"

enum rule_level { RULE_NOTE, RULE_ASK, RULE_HOLD, RULE_REFUSE, RULE_LEVEL_N };
enum rule_verdict { RULE_PAY, RULE_VERDICT_ASK, RULE_VERDICT_HOLD, RULE_VERDICT_REFUSE };

/* X(symbol, "name", usual level): a rule may be milder or harder where its text in doc/ruling.md says so. */
#define RULE_TABLE(X)                                                                              \
    /* scope */                                                                                    \
    X(RULE_VIN_CHECK, "vin-check", RULE_ASK)                                                       \
    X(RULE_VIN_PREFIX, "vin-prefix", RULE_REFUSE)                                                  \
    X(RULE_VIN_UNKNOWN, "vin-unknown", RULE_HOLD)                                                  \
    X(RULE_LABEL_MISSING, "label-missing", RULE_ASK)                                               \
    X(RULE_SCOPE_UNKNOWN, "scope-unknown", RULE_ASK)                                               \
    X(RULE_OUT_OF_SCOPE, "out-of-scope", RULE_REFUSE)                                              \
    X(RULE_SCOPE_DIFFERS, "scope-differs", RULE_NOTE)                                              \
    X(RULE_LABEL_DIFFERS, "label-differs", RULE_HOLD)                                              \
    X(RULE_STATION_UNKNOWN, "station-unknown", RULE_ASK)                                           \
    /* bulletin */                                                                                 \
    X(RULE_REVISION_OLD, "revision-old", RULE_ASK)                                                 \
    X(RULE_REVISION_NEW, "revision-new", RULE_HOLD)                                                \
    X(RULE_BULLETIN_DIFFERS, "bulletin-differs", RULE_HOLD)                                        \
    /* photos */                                                                                   \
    X(RULE_PHOTO_MISSING, "photo-missing", RULE_ASK)                                               \
    X(RULE_PHOTO_BROKEN, "photo-broken", RULE_ASK)                                                 \
    X(RULE_PHOTO_DARK, "photo-dark", RULE_ASK)                                                     \
    X(RULE_PHOTO_BRIGHT, "photo-bright", RULE_ASK)                                                 \
    X(RULE_PHOTO_BLURRED, "photo-blurred", RULE_ASK)                                               \
    X(RULE_PHOTO_TIME, "photo-time", RULE_ASK)                                                     \
    X(RULE_PHOTO_SEEN, "photo-seen", RULE_HOLD)                                                    \
    X(RULE_PHOTO_TWICE, "photo-twice", RULE_ASK)                                                   \
    X(RULE_CODE_DIFFERS, "code-differs", RULE_HOLD)                                                \
    /* readings */                                                                                 \
    X(RULE_READING_MISSING, "reading-missing", RULE_ASK)                                           \
    X(RULE_READING_OUTSIDE, "reading-outside", RULE_ASK)                                           \
    X(RULE_READING_UNCERTAIN, "reading-uncertain", RULE_ASK)                                       \
    X(RULE_READING_EARLY, "reading-early", RULE_ASK)                                               \
    X(RULE_READINGS_COPIED, "readings-copied", RULE_HOLD)                                          \
    /* kit and cut */                                                                              \
    X(RULE_KIT_MISSING, "kit-missing", RULE_ASK)                                                   \
    X(RULE_KIT_WRONG, "kit-wrong", RULE_HOLD)                                                      \
    X(RULE_RACK_MISSING, "rack-missing", RULE_ASK)                                                 \
    X(RULE_RACKS_DISAGREE, "racks-disagree", RULE_ASK)                                             \
    X(RULE_CUT_MISSING, "cut-missing", RULE_ASK)                                                   \
    X(RULE_CUT_WRONG, "cut-wrong", RULE_HOLD)                                                      \
    /* work and times */                                                                           \
    X(RULE_HOLD_SKIPPED, "hold-skipped", RULE_ASK)                                                 \
    X(RULE_NOT_FINISHED, "not-finished", RULE_ASK)                                                 \
    X(RULE_WORK_AFTER, "work-after", RULE_ASK)                                                     \
    X(RULE_CLOCK, "clock", RULE_NOTE)                                                              \
    X(RULE_EVENTS_ODD, "events-odd", RULE_ASK)                                                     \
    X(RULE_TOO_FAST, "too-fast", RULE_HOLD)                                                        \
    X(RULE_TWO_AT_ONCE, "two-at-once", RULE_HOLD)                                                  \
    X(RULE_IN_FUTURE, "in-future", RULE_ASK)                                                       \
    /* claim and shop */                                                                           \
    X(RULE_LATE, "late", RULE_REFUSE)                                                              \
    X(RULE_REPLACED, "replaced", RULE_REFUSE)                                                      \
    X(RULE_CLAIMED_TWICE, "claimed-twice", RULE_HOLD)                                              \
    X(RULE_PAID_ALREADY, "paid-already", RULE_REFUSE)                                              \
    X(RULE_SHOP_UNKNOWN, "shop-unknown", RULE_HOLD)                                                \
    X(RULE_PAYEE, "payee", RULE_REFUSE)                                                            \
    X(RULE_UNSIGNED, "unsigned", RULE_ASK)                                                         \
    X(RULE_SIGNATURE, "signature", RULE_HOLD)                                                      \
    X(RULE_BAG, "bag", RULE_ASK) /* what taking in noted: a photo that the bag does not hold */    \
    /* money */                                                                                    \
    X(RULE_NOT_PAYABLE, "not-payable", RULE_NOTE)                                                  \
    X(RULE_CAPPED, "capped", RULE_NOTE)

enum rule_id {
#define X(symbol, name, level) symbol,
    RULE_TABLE(X)
#undef X
        RULE_N
};

/* For doc/ruling.md and for `rule --rules`: one sentence each. */
struct rule_row {
    const char *name;
    enum rule_level level;
    const char *sees, *why, *cure;
};
extern const struct rule_row rule_rows[RULE_N];

/* ---- what the store knows, gathered by desk/known.h -------------------------------------------- */

struct rule_shop {
    const char *id;
    enum bulletin_payee kind;
    int64_t
        rate_minor; /* an hour, on the day the job was finished; BULLETIN_NO_AMOUNT: the bulletin's */
    bool has_keys; /* its bags should be signed */
};

/* What a label of this unit says elsewhere: a build list, or an earlier claim. */
struct rule_label {
    const char *station, *label;
    const char *source; /* RULE_BUILD_LIST, or a claim's id */
};

/* Another claim for the same unit, taken in earlier (or later, of the same job, when is_later). */
struct rule_other {
    const char *claim, *shop;
    bool is_same_job, is_later;
    const struct store_award
        *paid; /* what was paid so far, a station each; station "" : the unit */
    size_t n_paid;
    const char *const *stations; /* that it worked on: those for which it has a kit */
    size_t n_stations;
    bool is_refused; /* it stands refused: nothing is claimed by it any more */
};

/* A photo of an earlier claim of another job that shows the same picture. Of several only the most alike is told. */
struct rule_seen {
    size_t photo; /* index into claim->photos */
    const char *claim, *name;
    bool is_same_bytes, is_mirrored;
    double
        likeness; /* correlation of the two pictures, 0..1; NaN when only their hashes were compared */
};

/* Another job of the same technician, taken in earlier, that lies in the same hours. */
struct rule_overlap {
    const char *claim, *vin;
    int64_t first_ms, last_ms;
};

struct rule_known {
    bool has_shops, has_builds;   /* a list of shops, of units, is kept */
    const struct rule_shop *shop; /* NULL: not in the list */
    bool is_built;                /* the VIN is in the list of units */
    const struct rule_label *labels;
    const struct rule_other *others;
    const struct rule_seen *seen;
    const struct rule_overlap *overlaps;
    const char *const
        *same_readings; /* earlier claims of other jobs with the same final readings */
    size_t n_labels, n_others, n_seen, n_overlaps, n_same_readings;
    /* Paid for this unit by other claims than this one: by kind as far as known, and in all. What this claim itself was paid is
     * no part of it: a claim that is ruled again comes to the same. */
    int64_t paid_minor[BULLETIN_PAYS_N];
    int64_t paid_unit_minor;
    bool is_once_paid; /* another claim was paid the share that is once a unit */
    int64_t
        paid_here_minor; /* by this claim so far: one that was paid is not replaced by a later one of its job */
};

/* ---- what depends on the bulletin alone -------------------------------------------------------- */

/* Made once and used for every claim, by several threads at once: windows, kits, guard bands, which step reads which point. */
struct rule_book;

/* rule_book_new: the bulletin to rule by, which must outlive the book, and the digest of its file, 64 hexadecimal digits (copied;
 * NULL or "": not known, and nothing is said of it). Errors: ERR_MEMORY, and those of adapt_scope_rule and adapt_kits, which a
 * checked bulletin never gives but for counts beyond the core's limits. */
MUST_USE enum err rule_book_new(const struct bulletin *bulletin, const char *sha256,
                                struct rule_book **ret, struct fault *reterr);
void rule_book_free(struct rule_book *book); /* NULL is fine */
const struct bulletin *rule_book_bulletin(const struct rule_book *book);

struct rule_case {
    const struct rule_book *book;    /* of the revision to rule by */
    const struct store_claim *claim; /* as read back from the store */
    const struct event_list *events; /* the technician's */
    const struct job *job;           /* their replay */
    const struct rule_known *known;
};

/* ---- what comes out ---------------------------------------------------------------------------- */

enum { RULE_FINDINGS_MAX = 200, RULE_TEXT = 320, RULE_LINES_MAX = 64 };

struct rule_finding {
    enum rule_id rule;
    enum rule_level level;
    const char *station; /* borrowed from the bulletin or the claim; NULL: the whole claim */
    const char *what, *other,
        *other_what; /* what it points at, as in struct store_finding; borrowed; NULL */
    char message[RULE_TEXT], cure[RULE_TEXT];
};

/* One line of money. */
struct rule_line {
    const char *station; /* NULL: once a unit */
    enum bulletin_pays kind;
    int64_t due_minor, paid_minor; /* before and after the caps */
    char what[120];                /* "200 min at 68.00 EUR/h" */
};

struct rule_award {
    const char *station;
    enum rule_verdict verdict;
    int64_t
        amount_minor; /* as if the claim were paid; its lines, and what is once a unit with the first */
};

struct rule_ruling {
    enum rule_verdict verdict;
    int64_t amount_minor;   /* to be paid: 0 unless the verdict is pay */
    int64_t if_cured_minor; /* once every ask and hold is put right */
    struct rule_award awards[BULLETIN_STATIONS_MAX];
    struct rule_line lines[RULE_LINES_MAX];
    struct rule_finding findings[RULE_FINDINGS_MAX];
    size_t n_awards, n_lines, n_findings, n_more_findings;
};

/* rule_claim: writes *ret (about 140 kB: from the heap, used again and again; lists beyond their counts are left as they were). Never fails: what cannot be judged is a
 * finding. No allocation. Pure. */
void rule_claim(const struct rule_case *c, struct rule_ruling *ret);

const char *rule_verdict_name(enum rule_verdict v); /* "pay", "ask", "hold", "refuse" */
const char *rule_level_name(enum rule_level l);     /* "note", "ask", "hold", "refuse" */
const char *
rule_pays_name(enum bulletin_pays kind); /* "labour", "kit", "parts", "travel", "consumables" */

/* rule_worked_on: whether the job worked on a station, in the sense above; false for one that the bulletin does not have. */
bool rule_worked_on(const struct rule_book *book, const struct job *job, const char *station);

/* How a reading stands to its point's limits under the bulletin's decision, as the rules judge it. */
struct rule_sight {
    struct conform_limits limits, guarded; /* INT64_MIN, INT64_MAX: no limit on that side */
    int64_t guard;                         /* band, nano */
    double u, p;          /* standard uncertainty, nano; probability of conformity */
    enum verdict verdict; /* guarded */
};

/* rule_sight: instrument NULL: the point's own. false: the bulletin has no such point, or the unit is of another kind. */
bool rule_sight(const struct rule_book *book, const char *point, const char *instrument,
                int64_t nano, enum unit unit, struct rule_sight *ret);

/* rule_doc_write: doc/ruling.md's tables, Markdown: each rule with its level, what it sees, why, and how to cure it. */
void rule_doc_write(struct text *out);

#endif
