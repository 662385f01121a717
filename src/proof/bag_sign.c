/* bag_sign: owns the text of a bag's signature and what it proves. */
#include "proof/bag_sign.h"

#include "base/digest.h"
#include "proof/bag_text.h"

#include <stdio.h>
#include <string.h>

struct claim {
    char shop[KEYRING_SHOP_MAX + 1];
    uint8_t key[SIGN_KEY_SIZE], signature[SIGN_SIZE];
};

enum err bag_sign_write(const struct keyring_secret *secret, const void *bytes, size_t n,
                        struct text *out)
{
    uint8_t key[SIGN_KEY_SIZE], signature[SIGN_SIZE];
    char hex[DIGEST_HEX_ROOM];
    enum err err = sign_key(secret->seed, key);
    if (err == ERR_OK)
        err = sign_bytes(secret->seed, bytes, n, signature);
    if (err != ERR_OK)
        return err;
    digest_hex(key, sizeof key, hex);
    text_printf(out, "Shop: %s\nKey: %s\n", secret->shop, hex);
    digest_hex(signature, sizeof signature, hex);
    text_printf(out, "Signature: %s\n", hex);
    return ERR_OK;
}

/* The value of a line that must begin with this label. */
static const char *value(struct bag_lines *l, const char *label, size_t *ret_n)
{
    const char *line = NULL;
    size_t n = 0;
    const size_t size = strlen(label);
    if (!bag_lines_next(l, &line, &n) || n < size || memcmp(line, label, size) != 0)
        return NULL;
    *ret_n = n - size;
    return line + size;
}

static bool read_hex(struct bag_lines *l, const char *label, size_t size, uint8_t *ret)
{
    size_t n = 0;
    const char *text = value(l, label, &n);
    return text != NULL && n == 2 * size && digest_unhex(text, size, ret);
}

static bool read_claim(const char *text, size_t n, struct claim *ret)
{
    struct bag_lines l = {.data = text, .size = n};
    size_t shop_n = 0;
    const char *shop = value(&l, "Shop: ", &shop_n);
    if (shop == NULL || !keyring_is_shop(shop, shop_n))
        return false;
    memcpy(ret->shop, shop, shop_n);
    ret->shop[shop_n] = '\0';
    return read_hex(&l, "Key: ", SIGN_KEY_SIZE, ret->key) &&
           read_hex(&l, "Signature: ", SIGN_SIZE, ret->signature) && l.at == l.size;
}

static void bad(struct bag_result *result, const char *why)
{
    result->signature = BAG_SIGNATURE_BAD;
    bag_fault_add(result, BAG_BAD_SIGNATURE, BAG_SIGN_NAME, "%s", why);
}

void bag_sign_check(const char *text, size_t n, const void *bytes, size_t n_bytes,
                    const struct keyring *ring, struct bag_result *result)
{
    struct claim c;
    if (!read_claim(text, n, &c)) {
        bad(result, "expected the three lines 'Shop:', 'Key:' and 'Signature:'");
        return;
    }
    snprintf(result->shop, sizeof result->shop, "%s", c.shop);
    if (!sign_holds(c.key, bytes, n_bytes, c.signature)) {
        bad(result, "does not belong to " BAG_SIGN_SIGNED ": one of the two was changed");
        return;
    }
    const char *owner = ring != NULL ? keyring_owner(ring, c.key) : NULL;
    if (owner == NULL) {
        result->signature = BAG_SIGNATURE_UNKNOWN_KEY;
        bag_warn(result,
                 ring != NULL ? "the bag is signed as %s, by a key that is not in the keyring"
                              : "the bag is signed as %s; no keyring was given to check the key",
                 c.shop);
    } else if (strcmp(owner, c.shop) != 0) {
        bag_warn(result, "the key belongs to %s", owner);
        bad(result, "is made in one shop's name with another shop's key");
    } else {
        result->signature = BAG_SIGNATURE_GOOD;
    }
}
