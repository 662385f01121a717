/* bag: a bag as RFC 8493 defines it, opened and verified: a folder or a zip, ours or anybody's,
 * version 0.97 or 1.0. Nothing is unpacked to disk and nothing is fetched from anywhere; each file is
 * read once, in pieces, for all the sums it needs. */
#ifndef PROOF_BAG_H
#define PROOF_BAG_H

#include "proof/bag_files.h"
#include "proof/keyring.h"

struct bag;

/* bag_open: opens and verifies the bag at path (a folder, a zip, "-": a zip on standard input).
 * limits NULL: the usual ones; ring NULL: no key is known. What is wrong with the bag goes into
 * result (zero-initialised by the caller, who calls bag_result_done on it also after a failure).
 * Errors: ERR_OPEN (no such thing, a device, not permitted), ERR_LIMIT (standard input is too large),
 * ERR_IO, ERR_MEMORY. */
MUST_USE enum err bag_open(const char *path, const struct bag_limits *limits,
                           const struct keyring *ring, struct bag **ret, struct bag_result *result,
                           struct fault *reterr);
void bag_close(struct bag *bag); /* NULL is fine */

/* The files of an opened bag, sorted by path; none when it could not be used. */
size_t bag_n_files(const struct bag *bag);
const struct bag_file *bag_file_at(const struct bag *bag, size_t i);
const struct bag_file *bag_file_find(const struct bag *bag, const char *path);

/* bag_file_sum: the sum under this kind that the bag gives for the file, which bag_open has compared
 * (see result); NULL when it gives none. Borrowed. */
const uint8_t *bag_file_sum(const struct bag_file *file, enum digest_kind kind);

/* bag_file_sha256: the SHA-256 of a payload file, made while bag_open verified it, whichever kinds of
 * sum the bag lists; of a valid bag only. Borrowed. */
const uint8_t *bag_file_sha256(const struct bag_file *file);

/* bag_file_stream: the file once more, in pieces of at most BAG_PIECE. bag_file_text: a small file
 * whole, at most max bytes, in place of what ret holds. A bag on disk may have changed since it was
 * verified: whoever keeps the bytes compares their sum. Errors: ERR_IO, ERR_MEMORY, ERR_LIMIT,
 * ERR_OPEN, ERR_SYNTAX (a damaged zip). */
MUST_USE enum err bag_file_stream(struct bag *bag, const struct bag_file *file, bag_take *take,
                                  void *to, struct fault *reterr);
MUST_USE enum err bag_file_text(struct bag *bag, const struct bag_file *file, uint64_t max,
                                struct text *ret, struct fault *reterr);

/* bag_verify: bag_open for those who want the result alone. */
MUST_USE enum err bag_verify(const char *path, const struct bag_limits *limits,
                             const struct keyring *ring, struct bag_result *result,
                             struct fault *reterr);

#endif
