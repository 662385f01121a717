/* tell: what the store holds, as JSON for pages and scripts. Where a shop is given, only what is that shop's is told; what is
 * another's is told like what is not there. */
#ifndef DESK_TELL_H
#define DESK_TELL_H

#include "base/fault.h"
#include "base/jsonw.h"

#include <stdbool.h>
#include <stdint.h>

struct store;

enum { TELL_CLAIMS_MAX = 500, TELL_TAG_ROOM = 40 };

struct tell_order {
    const char *shop;  /* NULL: every shop's */
    const char *vin;   /* NULL: any unit */
    const char *after; /* a claim's id: those taken in before it; NULL: from the newest on */
    int n_max;         /* 1..TELL_CLAIMS_MAX */
};

/* tell_claims: members "claims": [{claim, vin, shop, technician, bulletin, revision, taken_ms, finished_ms, job, verdict,
 * amount_minor, currency, paid_minor, is_overruled}] from the newest on and "more": whether there are further ones, into an object
 * that the caller has opened. verdict null: not ruled yet. Errors: the store's, ERR_MEMORY, ERR_UNKNOWN (no such `after`). */
MUST_USE enum err tell_claims(struct store *store, const struct tell_order *order, struct jsonw *w,
                              struct fault *reterr);

/* tell_claim: everything about one claim: head, stations, readings, photos, findings of taking in, rulings (with findings and
 * awards), payments. tag: changes whenever any of it does. ERR_UNKNOWN: no such claim, or another shop's. */
MUST_USE enum err tell_claim(struct store *store, const char *claim, const char *shop,
                             struct jsonw *w, char tag[TELL_TAG_ROOM], struct fault *reterr);

/* tell_bulletin_sha256: the digest alone of the bulletin that tell_bulletin tells of the same id and revision; quick. */
MUST_USE enum err tell_bulletin_sha256(struct store *store, const char *id, int64_t revision,
                                       char sha256[65], struct fault *reterr);

/* tell_bulletins: "bulletins": [{id, revision, sha256, kept_ms}]. tell_bulletin: one as JSON (bulletin/export.h) and its digest; or, with is_file, its file as it
 * was kept. revision 0: the newest. ERR_UNKNOWN: not kept. */
MUST_USE enum err tell_bulletins(struct store *store, struct jsonw *w, struct fault *reterr);
MUST_USE enum err tell_bulletin(struct store *store, const char *id, int64_t revision, bool is_file,
                                struct text *ret, char sha256[65], struct fault *reterr);

/* tell_photo: where the photo `name` of a claim lies, and its kind ("jpg", "png" ...). ERR_UNKNOWN as tell_claim. */
MUST_USE enum err tell_photo(struct store *store, const char *claim, const char *shop,
                             const char *sha256, char *path, size_t room, char ext[8],
                             struct fault *reterr);

#endif
