/* keyring: which public key belongs to which shop, and a shop's own secret key, as text files.
 *
 * A keyring has one line a key, "SHOP KEY": the shop's id, a blank, 64 hexadecimal digits. Empty
 * lines and lines that begin with '#' count for nothing. A shop may have several keys, a key only
 * one shop. A folder serves as well: every file in it whose name ends in .pub is read.
 * A secret key file has one such line, "secret SHOP SEED". */
#ifndef PROOF_KEYRING_H
#define PROOF_KEYRING_H

#include "base/fault.h"
#include "proof/sign.h"

enum { KEYRING_SHOP_MAX = 64, KEYRING_KEYS_MAX = 4096, KEYRING_FILE_MAX = 1024 * 1024 };

struct keyring_key {
    char shop[KEYRING_SHOP_MAX + 1];
    uint8_t key[SIGN_KEY_SIZE];
};

/* Zero-initialised is empty. */
struct keyring {
    struct keyring_key *keys;
    size_t n;
};

/* keyring_is_shop: 1 to 64 letters, digits, '.', '_' and '-' of ASCII, the first a letter or digit. */
bool keyring_is_shop(const char *id, size_t n);

/* keyring_add: the lines of text added to the ring. name is for messages. Errors, with line:
 * ERR_SYNTAX, ERR_DUPLICATE (a key given to two shops), ERR_LIMIT, ERR_MEMORY. */
MUST_USE enum err keyring_add(struct keyring *ring, const char *text, size_t n, const char *name,
                              struct fault *reterr);

/* keyring_load: a file or a folder. Errors: those of file_read and keyring_add. */
MUST_USE enum err keyring_load(struct keyring *ring, const char *path, struct fault *reterr);
void keyring_done(struct keyring *ring);

/* keyring_owner: the shop that owns the key; NULL when nobody does. */
const char *keyring_owner(const struct keyring *ring, const uint8_t key[SIGN_KEY_SIZE]);

struct keyring_secret {
    char shop[KEYRING_SHOP_MAX + 1];
    uint8_t seed[SIGN_SEED_SIZE]; /* sign_forget it when done */
};

/* keyring_secret_read: a secret key file's text. keyring_secret_load: the file. Errors: ERR_SYNTAX;
 * those of file_read. */
MUST_USE enum err keyring_secret_read(const char *text, size_t n, const char *name,
                                      struct keyring_secret *ret, struct fault *reterr);
MUST_USE enum err keyring_secret_load(const char *path, struct keyring_secret *ret,
                                      struct fault *reterr);

/* keyring_pair_write: makes a key pair for a shop: the secret key to path, readable by its owner
 * only, and the keyring line to path with ".pub" added. Neither may exist. Nothing is left behind
 * after a failure. *ret_key: the public key. Errors: ERR_OPEN (one exists, not permitted), ERR_IO. */
MUST_USE enum err keyring_pair_write(const char *path, const char *shop,
                                     uint8_t ret_key[SIGN_KEY_SIZE], struct fault *reterr);

#endif
