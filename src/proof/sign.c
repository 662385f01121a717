/* sign: owns the way to libsodium. */
#include "proof/sign.h"

#include <sodium.h>

static bool is_ready(void)
{
    return sodium_init() >= 0; /* may be called again and again */
}

enum err sign_seed_new(uint8_t ret[SIGN_SEED_SIZE])
{
    if (!is_ready())
        return ERR_IO;
    randombytes_buf(ret, SIGN_SEED_SIZE);
    return ERR_OK;
}

/* libsodium's secret key is the seed and the public key side by side. */
static enum err pair(const uint8_t seed[SIGN_SEED_SIZE], uint8_t key[SIGN_KEY_SIZE],
                     uint8_t secret[crypto_sign_SECRETKEYBYTES])
{
    if (!is_ready() || crypto_sign_seed_keypair(key, secret, seed) != 0)
        return ERR_IO;
    return ERR_OK;
}

enum err sign_key(const uint8_t seed[SIGN_SEED_SIZE], uint8_t ret[SIGN_KEY_SIZE])
{
    uint8_t secret[crypto_sign_SECRETKEYBYTES];
    const enum err err = pair(seed, ret, secret);
    sodium_memzero(secret, sizeof secret);
    return err;
}

enum err sign_bytes(const uint8_t seed[SIGN_SEED_SIZE], const void *bytes, size_t n,
                    uint8_t ret[SIGN_SIZE])
{
    uint8_t key[SIGN_KEY_SIZE], secret[crypto_sign_SECRETKEYBYTES];
    enum err err = pair(seed, key, secret);
    if (err == ERR_OK && crypto_sign_detached(ret, NULL, bytes, n, secret) != 0)
        err = ERR_IO;
    sodium_memzero(secret, sizeof secret);
    return err;
}

bool sign_holds(const uint8_t key[SIGN_KEY_SIZE], const void *bytes, size_t n,
                const uint8_t signature[SIGN_SIZE])
{
    return is_ready() && crypto_sign_verify_detached(signature, bytes, n, key) == 0;
}

void sign_forget(void *secret, size_t n)
{
    sodium_memzero(secret, n);
}
