/* The text form of keys: what is read, what is refused and with which line. Forms by keyring.h. */
#include "proof/keyring.h"
#include "tap.h"

#include <string.h>

#define A "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a"
#define B "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c"

struct row {
    const char *name, *text;
    enum err err;
    int line;
    size_t n; /* keys, when err is ERR_OK */
};

static const struct row rows[] = {
    {"empty", "", ERR_OK, 0, 0},
    {"a comment and an empty line", "# keys\n\n", ERR_OK, 0, 0},
    {"one key", "fore-7 " A "\n", ERR_OK, 0, 1},
    {"two shops, blanks, tabs, CRLF, no last end", "fore-7\t" A " \r\n  aft.9 " B, ERR_OK, 0, 2},
    {"two keys of one shop", "s " A "\ns " B "\n", ERR_OK, 0, 2},
    {"the same line twice", "s " A "\ns " A "\n", ERR_OK, 0, 1},
    {"one key of two shops", "s " A "\nt " A "\n", ERR_DUPLICATE, 2, 0},
    {"a key alone", "#\n" A "\n", ERR_SYNTAX, 2, 0},
    {"three words", "s " A " x\n", ERR_SYNTAX, 1, 0},
    {"a secret key", "secret s " A "\n", ERR_SYNTAX, 1, 0},
    {"a key with a wrong digit", "s g" A "\n", ERR_SYNTAX, 1, 0},
    {"a key one digit short", "s 75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a\n",
     ERR_SYNTAX, 1, 0},
    {"a shop that begins with a dash", "-s " A "\n", ERR_SYNTAX, 1, 0},
    {"a shop with a slash", "a/b " A "\n", ERR_SYNTAX, 1, 0},
    {"a shop of 65 letters",
     "aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa " A "\n", ERR_SYNTAX, 1, 0},
};

static void check(const struct row *r)
{
    struct keyring ring = {0};
    struct fault f = {0};
    const enum err err = keyring_add(&ring, r->text, strlen(r->text), "ring.txt", &f);
    if (r->err == ERR_OK)
        tap_ok(err == ERR_OK && ring.n == r->n, "a ring with %s is read", r->name);
    else
        tap_ok(err == r->err && f.line == r->line && strcmp(f.file, "ring.txt") == 0,
               "a ring with %s is refused in line %d (found %s in line %d)", r->name, r->line,
               err_symbol(err), f.line);
    keyring_done(&ring);
}

static void check_owner(void)
{
    struct keyring ring = {0};
    struct fault f = {0};
    const char *text = "fore-7 " A "\n";
    const bool is_read = keyring_add(&ring, text, strlen(text), "ring.txt", &f) == ERR_OK;
    const uint8_t other[SIGN_KEY_SIZE] = {0};
    tap_ok(is_read && strcmp(keyring_owner(&ring, ring.keys[0].key), "fore-7") == 0,
           "a key's owner is found");
    tap_ok(keyring_owner(&ring, other) == NULL, "nobody owns another key");
    keyring_done(&ring);
}

static const struct {
    const char *name, *text;
    enum err err;
} secrets[] = {
    {"as written", "# Keep this file to yourself.\nsecret fore-7 " A "\n", ERR_OK},
    {"that is empty", "", ERR_EMPTY},
    {"that is a public key", "fore-7 " A "\n", ERR_SYNTAX},
    {"with two keys", "secret s " A "\nsecret s " B "\n", ERR_SYNTAX},
    {"with a short seed", "secret s abcd\n", ERR_SYNTAX},
    {"with its words swapped", "secret " A " s\n", ERR_SYNTAX},
};

int main(void)
{
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        check(&rows[i]);
    check_owner();
    for (size_t i = 0; i < sizeof secrets / sizeof *secrets; i++) {
        struct keyring_secret secret = {.shop = ""};
        struct fault f = {0};
        const enum err err =
            keyring_secret_read(secrets[i].text, strlen(secrets[i].text), "s.key", &secret, &f);
        tap_ok(err == secrets[i].err && (err != ERR_OK || strcmp(secret.shop, "fore-7") == 0),
               "a secret key file %s: %s", secrets[i].name, err_symbol(secrets[i].err));
        tap_ok(strstr(f.message, A) == NULL, "%s: no message shows the seed", secrets[i].name);
    }
    return tap_done();
}
