/* sign_secret: what people sign in with: passwords as salted, slow hashes (Argon2id, RFC 9106, by libsodium) and random tokens. */
#ifndef PROOF_SIGN_SECRET_H
#define PROOF_SIGN_SECRET_H

#include "core/err.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    SECRET_HASH_ROOM = 128,   /* a hash as text, with its NUL */
    SECRET_TOKEN_ROOM = 44,   /* a token as text, with its NUL */
    SECRET_PASSWORD_MIN = 10, /* characters; length is what helps, not a mixture of signs */
    SECRET_PASSWORD_MAX = 256
};

/* secret_hash: "$argon2id$..." with a salt of its own; takes about 64 MiB and 0.1 s on purpose (libsodium's "interactive" limits).
 * Errors: ERR_LIMIT (length), ERR_MEMORY, ERR_IO (no random source). secret_holds: whether hash is that of the password; a hash that
 * is none never holds. secret_waste: takes as long as secret_holds does, for names that nobody has. */
MUST_USE enum err secret_hash(const char *password, size_t n, char ret[SECRET_HASH_ROOM]);
bool secret_holds(const char *hash, const char *password, size_t n);
void secret_waste(const char *password, size_t n);

/* secret_token: 256 random bits as 43 letters, digits, '-' and '_' (base64url, RFC 4648). secret_same: compares in a time that
 * does not depend on where they differ. */
MUST_USE enum err secret_token(char ret[SECRET_TOKEN_ROOM]);
bool secret_same(const void *a, const void *b, size_t n);

#endif
