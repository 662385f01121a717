/* shops_list: the list of shops that holds, their keys and claims in one look, and changing them: each change is a new paper on the log,
 * so that what held on a day can always be read back.
 *
 * Who changes says which list they had before them (its SHA-256 in hexadecimal; NULL: there was none), so that of two the later one is
 * told (ERR_DUPLICATE). A key that is revoked is no longer known when a bag comes in; what was signed with it before, and checked when it
 * was taken in, stays as it was found then. */
#ifndef DESK_SHOPS_LIST_H
#define DESK_SHOPS_LIST_H

#include "base/jsonw.h"
#include "desk/papers.h"

enum { SHOPS_TAG_ROOM = 65 };

/* shops_tell: "sha256": of the list or null, "kept_ms", "shops": [{"shop", "claims", "rows": [{"kind", "rate": "68.00" or null, "from": day or
 * null}], "keys": [hexadecimal]}], by id: those of the list, of the keyrings and of the claims. A shop without rows is not in the list. tag: the list's digest, "none"
 * without. Errors: those of the store, ERR_MEMORY. */
MUST_USE enum err shops_tell(struct store *store, struct jsonw *w, char tag[SHOPS_TAG_ROOM],
                             struct fault *reterr);

/* shops_replace: text[0..n), a CSV file as shops.h has it, in place of the list. Errors: ERR_DUPLICATE (another list holds by now), those of
 * shops_read and store_keep. */
MUST_USE enum err shops_replace(struct store *store, const char *seen, const char *text, size_t n,
                                int64_t now_ms, struct fault *reterr);

/* shops_change: one row put into the list, or, with is_gone, taken out: the row of that shop and day. rate and from as they stand in
 * the file, "" for none. Other rows and further columns stay as they are. Errors: as shops_replace, ERR_UNKNOWN (no such row to take out). */
struct shops_change {
    const char *shop, *kind, *rate, *from;
    bool is_gone;
};
MUST_USE enum err shops_change(struct store *store, const char *seen,
                               const struct shops_change *change, int64_t now_ms,
                               struct fault *reterr);

/* shops_key_add: a shop's public key, 64 hexadecimal digits, on top of the keyring "keys". shops_key_revoke: out of every keyring that has
 * it; ret_name: the paper it was taken out of last. Errors: ERR_SYNTAX, ERR_DUPLICATE (there is such a key), ERR_UNKNOWN, ERR_ORDER (a keyring changed meanwhile), those of store_keep. */
MUST_USE enum err shops_key_add(struct store *store, const char *shop, const char *key,
                                int64_t now_ms, struct fault *reterr);
MUST_USE enum err shops_key_revoke(struct store *store, const char *key, int64_t now_ms,
                                   char ret_name[STORE_ID_MAX + 1], struct fault *reterr);

/* shops_paper_name: the name under which the list of shops is kept, "shops" while there is none. */
MUST_USE enum err shops_paper_name(struct store *store, char ret[STORE_ID_MAX + 1],
                                   struct fault *reterr);

#endif
