/* drawer: where drafts of bulletins lie until they are issued: plain files in the store's folder drafts/, by a name of the writer's. They
 * need not be sound, so that half a thought can be put away; they are no proof of anything, so they are not on the log.
 *
 * Who writes says which text they had before them (its SHA-256), so that of two who write at once the later one is told. */
#ifndef DESK_DRAWER_H
#define DESK_DRAWER_H

#include "base/fault.h"
#include "base/jsonw.h"
#include "base/text.h"

#include <stdint.h>

enum { DRAWER_NAME_MAX = 60, DRAWER_DRAFTS_MAX = 200, DRAWER_DRAFT_MAX = 1024 * 1024 };

/* drawer_list: "drafts": [{"name", "bytes", "changed_ms"}], by name, into an object that is open. store: the folder. Errors: ERR_IO,
 * ERR_MEMORY. */
MUST_USE enum err drawer_list(const char *store, struct jsonw *w, struct fault *reterr);

/* drawer_get: the text is appended to ret (the caller's); sha256: its digest in hexadecimal. Errors: ERR_UNKNOWN (none of that name, or no name: letters,
 * digits, "-", ".", "_", not at the start), ERR_IO, ERR_MEMORY. */
MUST_USE enum err drawer_get(const char *store, const char *name, struct text *ret, char sha256[65],
                             struct fault *reterr);

/* drawer_put: text[0..n), UTF-8; seen: the digest of the text it replaces, NULL: there must be none yet. Errors: ERR_DUPLICATE (there is one, or another one by
 * now; sha256 is then its digest), ERR_UNKNOWN (there is none any more; a bad name), ERR_LIMIT, ERR_ENCODING, ERR_IO, ERR_MEMORY. */
MUST_USE enum err drawer_put(const char *store, const char *name, const char *text, size_t n,
                             const char *seen, char sha256[65], struct fault *reterr);

/* drawer_drop: as drawer_put, with nothing in its place. */
MUST_USE enum err drawer_drop(const char *store, const char *name, const char *seen,
                              struct fault *reterr);

#endif
