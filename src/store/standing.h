/* standing: the derived row of a claim that says what stands for it, what was paid, and what it needs next. Inside src/store/. */
#ifndef STORE_STANDING_H
#define STORE_STANDING_H

#include "store/db.h"
#include "store/store.h"

/* standing_begin: the row of a claim that was just taken in, with n_intake findings. */
MUST_USE enum err standing_begin(struct db *db, int64_t claim_seq, const char *vin,
                                 int64_t n_intake, struct fault *reterr);

/* standing_move: what an entry of the claim changes in it; kind, seq, verdict, amount, currency and n_findings of r are looked at. */
MUST_USE enum err standing_move(struct db *db, int64_t claim_seq, const struct store_ruling *r,
                                struct fault *reterr);

#endif
