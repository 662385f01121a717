/* Ed25519 against RFC 8032, 7.1 (tests 1 to 3; read second-hand, signatures recomputed with another
 * library and OpenSSL), and what must not hold. */
#include "base/digest.h"
#include "proof/sign.h"
#include "tap.h"

#include <string.h>

struct row {
    const char *source, *seed, *key, *message, *signature;
};

/* clang-format off */
static const struct row rows[] = {
    {"RFC 8032, 7.1, test 1",
     "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
     "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a", "",
     "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b"},
    {"RFC 8032, 7.1, test 2",
     "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
     "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c", "72",
     "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"},
    {"RFC 8032, 7.1, test 3",
     "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
     "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025", "af82",
     "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a"},
};
/* clang-format on */

static void check(const struct row *r)
{
    uint8_t seed[SIGN_SEED_SIZE], key[SIGN_KEY_SIZE], found_key[SIGN_KEY_SIZE], message[8];
    uint8_t signature[SIGN_SIZE] = {0}, found[SIGN_SIZE];
    const size_t n = strlen(r->message) / 2;
    const bool is_read = digest_unhex(r->seed, sizeof seed, seed) &&
                         digest_unhex(r->key, sizeof key, key) &&
                         digest_unhex(r->message, n, message) &&
                         digest_unhex(r->signature, sizeof signature, signature);
    tap_ok(is_read && sign_key(seed, found_key) == ERR_OK &&
               memcmp(found_key, key, sizeof key) == 0,
           "the public key (%s)", r->source);
    tap_ok(sign_bytes(seed, message, n, found) == ERR_OK &&
               memcmp(found, signature, sizeof found) == 0,
           "the signature (%s)", r->source);
    tap_ok(sign_holds(key, message, n, signature), "the signature holds (%s)", r->source);
    int n_held = 0;
    for (size_t bit = 0; bit < sizeof signature * 8; bit++) {
        signature[bit / 8] ^= (uint8_t)(1u << bit % 8);
        n_held += sign_holds(key, message, n, signature);
        signature[bit / 8] ^= (uint8_t)(1u << bit % 8);
    }
    tap_ok(n_held == 0, "none of its 512 one-bit changes holds (%s)", r->source);
    tap_ok(!sign_holds(key, "other", 5, signature), "it holds for no other message (%s)",
           r->source);
}

/* S + L in place of S signs the same; RFC 8032, 5.1.7, wants S below L, so that there is one signature
 * only. L = 2^252 + 27742317777372353535851937790883648493 (RFC 8032, 5.1). */
static void check_unreduced(void)
{
    uint8_t key[SIGN_KEY_SIZE] = {0}, signature[SIGN_SIZE] = {0}, order[32] = {0};
    const bool is_read =
        digest_unhex(rows[1].key, sizeof key, key) &&
        digest_unhex(rows[1].signature, sizeof signature, signature) &&
        digest_unhex("edd3f55c1a631258d69cf7a2def9de1400000000000000000000000000000010", 32, order);
    unsigned carry = 0;
    for (size_t i = 0; i < 32; i++) {
        carry += (unsigned)signature[32 + i] + order[i];
        signature[32 + i] = (uint8_t)carry;
        carry >>= 8;
    }
    tap_ok(is_read && carry == 0 && !sign_holds(key, "\x72", 1, signature),
           "a signature with S + L in place of S does not hold (RFC 8032, 5.1.7)");
}

/* The neutral element as key would make a signature of nothing hold for every message. */
static void check_small_order(void)
{
    const uint8_t one[SIGN_KEY_SIZE] = {1};
    uint8_t signature[SIGN_SIZE] = {1};
    tap_ok(!sign_holds(one, "any", 3, signature),
           "a key of small order holds for nothing (RFC 8032, 5.1: 1 encodes the neutral point)");
}

static void check_new(void)
{
    uint8_t a[SIGN_SEED_SIZE], b[SIGN_SEED_SIZE], key[SIGN_KEY_SIZE], signature[SIGN_SIZE];
    tap_ok(sign_seed_new(a) == ERR_OK && sign_seed_new(b) == ERR_OK && memcmp(a, b, sizeof a) != 0,
           "two new seeds differ (property)");
    tap_ok(sign_key(a, key) == ERR_OK && sign_bytes(a, "x", 1, signature) == ERR_OK &&
               sign_holds(key, "x", 1, signature),
           "what a new seed signs holds under its key (property)");
    sign_forget(a, sizeof a);
    tap_ok(memcmp(a, (const uint8_t[SIGN_SEED_SIZE]){0}, sizeof a) == 0, "a seed is forgotten");
}

int main(void)
{
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        check(&rows[i]);
    check_unreduced();
    check_small_order();
    check_new();
    return tap_done();
}
