/* tell: what the store holds, as JSON for pages and scripts. Where a shop is given, only what is that shop's is told; what is
 * another's is told like what is not there. */
#ifndef DESK_TELL_H
#define DESK_TELL_H

#include "base/fault.h"
#include "base/jsonw.h"

#include <stdbool.h>
#include <stdint.h>

struct store;
struct store_listed;

enum { TELL_CLAIMS_MAX = 500, TELL_TAG_ROOM = 40 };

struct tell_order {
    const char *shop;     /* NULL: every shop's */
    const char *vin;      /* whole; NULL: any unit */
    const char *tail;     /* the last characters of the VIN; NULL */
    const char *verdict;  /* among tell_verdicts; NULL: any */
    const char *needs;    /* among tell_needs; NULL: any */
    const char *bulletin; /* NULL: any */
    const char *rule;     /* with a finding of this rule; NULL */
    bool is_clean;        /* without any finding */
    const char *after;    /* a claim's id: those taken in before it; NULL: from the newest on */
    int n_max;            /* 1..TELL_CLAIMS_MAX */
};

/* Closed by NULL: "pay", "ask", "hold", "refuse", "unruled"; "person", "payment", "shop", "ruling", "nothing" (store.h). */
extern const char *const tell_verdicts[], *const tell_needs[];

/* tell_int: one member; null for STORE_UNKNOWN. */
void tell_int(struct jsonw *w, const char *key, int64_t value);

/* tell_claims: members "claims": [{claim, vin, shop, technician, bulletin, revision, taken_ms, finished_ms, job, verdict,
 * amount_minor, currency, paid_minor, is_overruled, needs, finding, n_findings, etag}] from the newest on and "more": whether there are
 * further ones, into an object that the caller has opened. verdict null: not ruled yet. Every filter is found by an index. Errors: the
 * store's, ERR_UNKNOWN (no such `after`). */
MUST_USE enum err tell_claims(struct store *store, const struct tell_order *order, struct jsonw *w,
                              struct fault *reterr);

/* tell_counts: member "counts": {all, verdict: {pay ...}, needs: {person ...}, clean: to be paid and without any finding}, of a shop's
 * claims; NULL: of all. */
MUST_USE enum err tell_counts(struct store *store, const char *shop, struct jsonw *w,
                              struct fault *reterr);

/* tell_limits: the bulletin whose limits claims were told with last, ready for the next: reading one takes longer than all the rest. Of one
 * thread at a time. tell_limits_new: NULL: no memory. tell_limits_free: NULL is fine. */
struct tell_limits;
struct tell_limits *tell_limits_new(void);
void tell_limits_free(struct tell_limits *limits);

/* tell_claim: everything about one claim: head, stations, readings with their limits and verdicts as the rules judge them, photos,
 * findings of taking in, rulings (with findings and awards), payments, notes. tag: changes whenever any of it does
 * (but for the limits of a claim that was not ruled on, which are those of the newest revision kept); *ret_seq: the last
 * entry of the claim that it tells (ruling.h's since_seq), -1 for none. ERR_UNKNOWN: no such claim, or another shop's. */
MUST_USE enum err tell_claim(struct store *store, struct tell_limits *limits, const char *claim,
                             const char *shop, struct jsonw *w, char tag[TELL_TAG_ROOM],
                             int64_t *ret_seq, struct fault *reterr);

/* tell_events: members "claim" and "events": the technician's, in their order, as they were written. ERR_UNKNOWN as tell_claim. */
MUST_USE enum err tell_events(struct store *store, const char *claim, const char *shop,
                              struct text *ret, struct fault *reterr);

/* tell_present: members "claim", "etag", "verdict", "amount_minor", "currency", "paid_minor", "is_overruled" and "last": what was
 * entered last (kind, person, reason, at_ms, amount_minor; null: nothing), for who has seen an earlier state. */
MUST_USE enum err tell_present(struct store *store, const char *claim, struct jsonw *w,
                               struct fault *reterr);

/* The tag of a claim after its entry seq (0: none); and the seq that a tag tells, -1 for none, 0 for a tag of something else. */
void tell_tag(const char *claim, int64_t seq, char tag[TELL_TAG_ROOM]);
int64_t tell_tag_seq(const char *claim, const char *tag);

/* tell_bulletin_sha256: the digest alone of the bulletin that tell_bulletin tells of the same id and revision; quick. */
MUST_USE enum err tell_bulletin_sha256(struct store *store, const char *id, int64_t revision,
                                       char sha256[65], struct fault *reterr);

/* tell_bulletins: "bulletins": [{id, revision, sha256, kept_ms}]. tell_bulletin: one as JSON (bulletin/export.h) and its digest; or, with is_file, its file as it
 * was kept. revision 0: the newest. ERR_UNKNOWN: not kept. */
MUST_USE enum err tell_bulletins(struct store *store, struct jsonw *w, struct fault *reterr);
MUST_USE enum err tell_bulletin(struct store *store, const char *id, int64_t revision, bool is_file,
                                struct text *ret, char sha256[65], struct fault *reterr);

/* tell_photo: the bytes of the photo `sha256` of a claim into ret (the caller's), compared with their digest, and its kind ("jpg",
 * "png" ...). ERR_UNKNOWN as tell_claim; else as store_photo_read. */
MUST_USE enum err tell_photo(struct store *store, const char *claim, const char *shop,
                             const char *sha256, struct text *ret, char ext[8],
                             struct fault *reterr);

/* tell_currency: "currency" and "currency_digits", the digits after the point of an amount in it; null where it is not known to us, for then
 * nobody knows how to write one. currency: an ISO 4217 code, or NULL. */
void tell_currency(struct jsonw *w, const char *currency);

/* tell_head: the members that lists and claims share. */
void tell_head(struct jsonw *w, const struct store_listed *listed);

#endif
