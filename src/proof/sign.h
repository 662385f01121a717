/* sign: Ed25519 signatures (RFC 8032) and the random bytes for a new key. The only place that sees
 * libsodium. A secret key is its 32-byte seed. */
#ifndef PROOF_SIGN_H
#define PROOF_SIGN_H

#include "core/err.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { SIGN_SEED_SIZE = 32, SIGN_KEY_SIZE = 32, SIGN_SIZE = 64 };

/* sign_seed_new: a new secret seed from the system's random source. Error: ERR_IO (there is none). */
MUST_USE enum err sign_seed_new(uint8_t ret[SIGN_SEED_SIZE]);

/* sign_key: the public key of a seed. sign_bytes: the signature of bytes[0..n); the same bytes and
 * seed give the same signature. Error: ERR_IO. */
MUST_USE enum err sign_key(const uint8_t seed[SIGN_SEED_SIZE], uint8_t ret[SIGN_KEY_SIZE]);
MUST_USE enum err sign_bytes(const uint8_t seed[SIGN_SEED_SIZE], const void *bytes, size_t n,
                             uint8_t ret[SIGN_SIZE]);

/* sign_holds: the signature is by this key over these bytes. Keys of small order and signatures
 * whose second half is not reduced never hold. */
bool sign_holds(const uint8_t key[SIGN_KEY_SIZE], const void *bytes, size_t n,
                const uint8_t signature[SIGN_SIZE]);

/* sign_forget: overwrites a secret, whatever the compiler thinks of it. */
void sign_forget(void *secret, size_t n);

#endif
