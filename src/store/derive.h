/* derive: what entries of our own say as JSON, and the rows that follow from them. The one way by
 * which a derived row comes about: taking in, ruling, rebuilding and verifying all pass here.
 * Inside src/store/. */
#ifndef STORE_DERIVE_H
#define STORE_DERIVE_H

#include "store/fields.h"
#include "store/log.h"

/* The JSON of a claim, without its bag (which is a column of the log); of a ruling; of a paper with
 * its text; of rows of the build list. */
void derive_claim_json(const struct store_claim *claim, struct text *ret);
void derive_ruling_json(const struct store_ruling *ruling, struct text *ret);
void derive_paper_json(const struct store_paper *paper, struct text *ret);
void derive_builds_json(const struct store_build *builds, size_t n, int64_t at_ms,
                        struct text *ret);

/* The log's word for a kind of ruling. */
const char *derive_ruling_type(enum store_ruling_kind kind);

/* derive_entry: inserts into db's derived tables what follows from e; nothing for a technician's
 * event. scratch and digest (a SHA-256 at its start) are for its own use. Errors: those of the
 * database, ERR_SYNTAX and its like (an entry of ours that cannot be read), ERR_DUPLICATE,
 * ERR_UNKNOWN (a ruling on a claim that is not there), ERR_MEMORY. */
MUST_USE enum err derive_entry(struct db *db, struct scratch *scratch, struct digest *digest,
                               const struct log_entry *e, struct fault *reterr);

/* derive_builds_rows: the same for an entry of the build list at seq that says so, without reading its JSON: a list of a million rows is
 * taken in by it. What derive_entry makes of the entry is the same. */
MUST_USE enum err derive_builds_rows(struct db *db, int64_t seq, const struct store_build *builds,
                                     size_t n, struct fault *reterr);

/* derive_empty: deletes every derived row. */
MUST_USE enum err derive_empty(struct db *db, struct fault *reterr);

#endif
