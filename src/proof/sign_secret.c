/* sign_secret: owns passwords and tokens by libsodium. */
#include "proof/sign_secret.h"

#include <sodium.h>
#include <string.h>

_Static_assert(SECRET_HASH_ROOM >= crypto_pwhash_STRBYTES, "room for libsodium's text");

enum err secret_hash(const char *password, size_t n, char ret[SECRET_HASH_ROOM])
{
    if (sodium_init() < 0)
        return ERR_IO;
    if (n < SECRET_PASSWORD_MIN || n > SECRET_PASSWORD_MAX)
        return ERR_LIMIT;
    return crypto_pwhash_str(ret, password, n, crypto_pwhash_OPSLIMIT_INTERACTIVE,
                             crypto_pwhash_MEMLIMIT_INTERACTIVE) == 0
               ? ERR_OK
               : ERR_MEMORY;
}

bool secret_holds(const char *hash, const char *password, size_t n)
{
    return sodium_init() >= 0 && n <= SECRET_PASSWORD_MAX &&
           crypto_pwhash_str_verify(hash, password, n) == 0;
}

void secret_waste(const char *password, size_t n)
{
    uint8_t out[32];
    static const uint8_t salt[crypto_pwhash_SALTBYTES];
    if (sodium_init() < 0 || n > SECRET_PASSWORD_MAX)
        return;
    if (crypto_pwhash(out, sizeof out, password, n, salt, crypto_pwhash_OPSLIMIT_INTERACTIVE,
                      crypto_pwhash_MEMLIMIT_INTERACTIVE, crypto_pwhash_ALG_ARGON2ID13) == 0)
        sodium_memzero(out, sizeof out);
}

enum err secret_token(char ret[SECRET_TOKEN_ROOM])
{
    uint8_t bits[32];
    if (sodium_init() < 0)
        return ERR_IO;
    randombytes_buf(bits, sizeof bits);
    sodium_bin2base64(ret, SECRET_TOKEN_ROOM, bits, sizeof bits,
                      sodium_base64_VARIANT_URLSAFE_NO_PADDING);
    sodium_memzero(bits, sizeof bits);
    return ERR_OK;
}

bool secret_same(const void *a, const void *b, size_t n)
{
    return sodium_memcmp(a, b, n) == 0;
}
