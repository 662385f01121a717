/* bag_sign: the signature of a bag: a tag file of our own, three lines over the bytes of
 * tagmanifest-sha256.txt, which in turn covers every other tag file and through the payload manifest
 * every byte of the payload. No manifest lists it, which RFC 8493 allows.
 *
 *   Shop: fore-street-7
 *   Key: 64 hexadecimal digits
 *   Signature: 128 hexadecimal digits */
#ifndef PROOF_BAG_SIGN_H
#define PROOF_BAG_SIGN_H

#include "base/text.h"
#include "proof/bag_result.h"
#include "proof/keyring.h"

#define BAG_SIGN_NAME   "signature-ed25519.txt"
#define BAG_SIGN_SIGNED "tagmanifest-sha256.txt"
enum { BAG_SIGN_MAX = 4096 };

/* bag_sign_write: the file's text for these bytes, appended to out. Error: ERR_IO. */
MUST_USE enum err bag_sign_write(const struct keyring_secret *secret, const void *bytes, size_t n,
                                 struct text *out);

/* bag_sign_check: what the file says about these bytes. ring may be NULL. result->signature and shop
 * are set, and a fault or warning says why when it is not good. */
void bag_sign_check(const char *text, size_t n, const void *bytes, size_t n_bytes,
                    const struct keyring *ring, struct bag_result *result);

#endif
