/* draft: a bulletin that somebody is writing: what is wrong with it, what is different from the one that holds, and what would follow
 * if it were issued. Computes nothing of its own about a bulletin: the check is bulletin.h's, the difference change.h's, the rulings
 * ruling.h's. */
#ifndef DESK_DRAFT_H
#define DESK_DRAFT_H

#include "base/jsonw.h"
#include "bulletin/change.h"
#include "desk/ruling.h"

struct signin;

/* draft_tell_check: what `check --json` says, as members of an object that the caller has opened; b NULL: not sound. */
void draft_tell_check(const struct bulletin *b, const struct fault_list *faults, struct jsonw *w);

/* draft_warn_day: a warning when b is a higher revision, but issued on the day of the one it replaces: allowed, and seldom meant, for from that
 * day on every job by the older one counts as done by an old revision (rule.h, revision-old). */
void draft_warn_day(const struct bulletin *b, int32_t before_revision, int32_t before_issued,
                    struct fault_list *faults);

/* draft_tell_changes: "changes": [{"where", "was", "now"}] and "more_changes", likewise. */
void draft_tell_changes(const struct change_list *changes, struct jsonw *w);

/* draft_before: the newest revision that is kept under the id of b; *ret NULL when there is none. Free with bulletin_free. Errors: the
 * store's, ERR_DOMAIN (what is kept cannot be read), ERR_MEMORY. */
MUST_USE enum err draft_before(struct store *store, const struct bulletin *b, struct bulletin **ret,
                               struct fault *reterr);

/* ---- what would follow ---- */

enum { WHATIF_LISTED_MAX = 200, WHATIF_VERDICTS = 5 }; /* pay, ask, hold, refuse, not ruled */

struct whatif_claim {
    char claim[STORE_CLAIM_SIZE + 1], vin[24];
    int was, now; /* enum rule_verdict; 4: not ruled yet */
    int64_t was_minor, now_minor, paid_minor;
};

struct whatif {
    bool has_before; /* a revision holds already; units and claims are compared with it */
    int64_t before_revision;
    /* Units and stations of the build list: in scope before and now, and how many go in or out. */
    struct whatif_scope {
        int64_t before, now, swept_in, let_out, unknown_now;
    } units, stations;
    int64_t n_claims, n_changed, n_overruled, n_unruled;
    int64_t moves[WHATIF_VERDICTS][WHATIF_VERDICTS]; /* claims from a verdict to a verdict */
    /* The same, by the gravest finding that there would be; RULE_N: none would be left. */
    int64_t because[WHATIF_VERDICTS][WHATIF_VERDICTS][RULE_N + 1];
    int64_t was_minor, now_minor; /* what stands for all claims, and what would */
    int64_t owed_back_minor;      /* paid already, beyond what would stand */
    char currency[STORE_CURRENCY_ROOM];
    struct whatif_claim listed[WHATIF_LISTED_MAX]; /* that would change, the dearest first */
    size_t n_listed;
};

/* draft_whatif: before may be NULL. Nothing is written. Where a person's word stands for a claim it goes on standing. progress may be NULL.
 * Errors: those of the store and of ruling_run. */
MUST_USE enum err draft_whatif(struct store *store, const struct bulletin *before,
                               const struct bulletin *now, int64_t now_ms, int n_threads,
                               const struct known_progress *progress, struct whatif *ret,
                               struct fault *reterr);

/* whatif_reason: the rules by which claims move, most frequent first, of equals in the order of the rules: the one after `last`, -1 for the first; -1: there is
 * no more. n_of: one of because. */
int whatif_reason(const int64_t n_of[RULE_N + 1], int last);

/* draft_tell_whatif: {"units": {...}, "stations": {...}, "claims": {...}, "money": {...}} as members of an object that is open. */
void draft_tell_whatif(const struct whatif *what, struct jsonw *w);

/* ---- from its text, for pages: members of an object that is open ---------------------------------- */

/* draft_held: the bulletin against which a draft was checked last, ready for the next check: reading it takes as long as reading the
 * draft. Of one thread and one store. draft_held_new: NULL: no memory. draft_held_free: NULL is fine. */
struct draft_held;
struct draft_held *draft_held_new(void);
void draft_held_free(struct draft_held *held);

/* draft_check: draft_tell_check of text[0..n), and where it is sound "against" (the revision that holds, or null),
 * draft_tell_changes and the warning of draft_warn_day; with_whole: and "bulletin", all of it as the pages read it (bulletin/export.h). Errors: the store's, ERR_MEMORY; faults of the text are the
 * answer. */
MUST_USE enum err draft_check(struct store *store, struct draft_held *held, const char *text,
                              size_t n, bool with_whole, struct jsonw *w, struct fault *reterr);

/* draft_reference: what may stand in a bulletin (bulletin/reference.h) as JSON, appended to out, and the digest of it. Errors: ERR_MEMORY, ERR_IO. */
MUST_USE enum err draft_reference(struct text *out, char ret_sha256[65], struct fault *reterr);

/* draft_sheet: its job sheet (draw/sheet.h) on A4 or Letter, as a PDF, appended to out. Errors: as draft_foresee, and sheet_make's. */
MUST_USE enum err draft_sheet(const char *text, size_t n, bool on_letter, int64_t now_ms,
                              struct text *out, struct fault *reterr);

/* draft_page: one page of the same sheet as a PNG (sheet_order): the one on which the step begins, or where step is NULL that of this number.
 * *ret_page: which one it is, of *ret_pages. Errors: as draft_sheet. */
MUST_USE enum err draft_page(const char *text, size_t n, bool on_letter, const char *step, int page,
                             struct text *out, int *ret_page, int *ret_pages, struct fault *reterr);

/* draft_foresee: "id", "revision" and draft_tell_whatif. Errors: as draft_whatif; ERR_DOMAIN or ERR_SYNTAX: not sound, reterr is its first fault. */
MUST_USE enum err draft_foresee(struct store *store, const char *text, size_t n, int64_t now_ms,
                                int n_threads, const struct known_progress *progress,
                                struct jsonw *w, struct fault *reterr);

/* draft_issue: puts it on the log for good, and notes beside the people who did: "id", "revision", "sha256". Its revision must be above the
 * one that holds, and its day of issue not before that one's. before: the revision that holds as the person saw it, 0 for none; ERR_ORDER when that is no longer so.
 * Errors: ERR_DOMAIN or ERR_SYNTAX (not sound: reterr is its first fault), ERR_RANGE (the revision), ERR_ORDER, the store's. */
MUST_USE enum err draft_issue(struct store *store, struct signin *signin, const char *who,
                              const char *text, size_t n, int64_t before, int64_t now_ms,
                              struct jsonw *w, struct fault *reterr);

#endif
