/* keyring: owns the text form of keys. */
#include "proof/keyring.h"

#include "base/digest.h"
#include "base/file.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static bool is_shop_char(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9');
}

bool keyring_is_shop(const char *id, size_t n)
{
    if (n == 0 || n > KEYRING_SHOP_MAX || !is_shop_char(id[0]))
        return false;
    for (size_t i = 1; i < n; i++)
        if (!is_shop_char(id[i]) && id[i] != '.' && id[i] != '_' && id[i] != '-')
            return false;
    return true;
}

/* ---- lines ------------------------------------------------------------------------------------*/

enum { WORDS_MAX = 4 };

struct line {
    const char *word[WORDS_MAX];
    size_t size[WORDS_MAX];
    int n; /* 0 for an empty line or a comment */
};

/* The next line's words; false at the end. */
static bool next_line(const char *text, size_t n, size_t *at, struct line *ret)
{
    *ret = (struct line){.n = 0};
    if (*at >= n)
        return false;
    size_t i = *at;
    while (i < n && text[i] != '\n') {
        const size_t start = i;
        while (i < n && text[i] != '\n' && text[i] != ' ' && text[i] != '\t' && text[i] != '\r')
            i++;
        if (i > start && ret->n < WORDS_MAX) {
            ret->word[ret->n] = text + start;
            ret->size[ret->n++] = i - start;
        }
        if (i == start)
            i++;
    }
    *at = i < n ? i + 1 : n;
    if (ret->n > 0 && ret->word[0][0] == '#')
        ret->n = 0;
    return true;
}

static bool is_secret(const struct line *l)
{
    return l->n == 3 && l->size[0] == strlen("secret") && memcmp(l->word[0], "secret", 6) == 0;
}

/* The two words that both kinds of line end in. */
static enum err read_words(const struct line *l, int first, char *shop, uint8_t key[SIGN_KEY_SIZE],
                           struct fault *f)
{
    const char *id = l->word[first];
    const size_t n = l->size[first];
    if (!keyring_is_shop(id, n))
        return fault_set(f, ERR_SYNTAX,
                         "'%.*s' is no shop id; expected letters, digits, '.', '_', '-'",
                         (int)(n < 80 ? n : 80), id);
    if (l->size[first + 1] != (size_t)2 * SIGN_KEY_SIZE ||
        !digest_unhex(l->word[first + 1], SIGN_KEY_SIZE, key))
        return fault_set(f, ERR_SYNTAX, "expected a key of 64 hexadecimal digits after '%.*s'",
                         (int)n, id);
    memcpy(shop, id, n);
    shop[n] = '\0';
    return ERR_OK;
}

/* ---- the ring ---------------------------------------------------------------------------------*/

const char *keyring_owner(const struct keyring *ring, const uint8_t key[SIGN_KEY_SIZE])
{
    for (size_t i = 0; i < ring->n; i++)
        if (memcmp(ring->keys[i].key, key, SIGN_KEY_SIZE) == 0)
            return ring->keys[i].shop;
    return NULL;
}

static enum err add_key(struct keyring *ring, const struct keyring_key *key, struct fault *f)
{
    const char *owner = keyring_owner(ring, key->key);
    if (owner != NULL && strcmp(owner, key->shop) == 0)
        return ERR_OK;
    if (owner != NULL)
        return fault_set(f, ERR_DUPLICATE, "the key of %s is already the key of %s", key->shop,
                         owner);
    if (ring->n == KEYRING_KEYS_MAX)
        return fault_set(f, ERR_LIMIT, "more than %d keys", (int)KEYRING_KEYS_MAX);
    if ((ring->n & (ring->n - 1)) == 0) {
        struct keyring_key *more =
            realloc(ring->keys, (ring->n == 0 ? 1 : 2 * ring->n) * sizeof *more);
        if (more == NULL)
            return fault_no_memory(f);
        ring->keys = more;
    }
    ring->keys[ring->n++] = *key;
    return ERR_OK;
}

enum err keyring_add(struct keyring *ring, const char *text, size_t n, const char *name,
                     struct fault *reterr)
{
    struct fault f = {0};
    struct line l;
    enum err err = ERR_OK;
    snprintf(f.file, sizeof f.file, "%s", name);
    for (size_t at = 0; err == ERR_OK && next_line(text, n, &at, &l);) {
        struct keyring_key key;
        f.line++;
        if (l.n == 0)
            continue;
        if (is_secret(&l))
            err = fault_set(&f, ERR_SYNTAX, "is a secret key; expected public keys only");
        else if (l.n != 2)
            err = fault_set(&f, ERR_SYNTAX, "expected a shop id and a key, found %d word%s", l.n,
                            l.n == 1 ? "" : "s");
        if (err == ERR_OK)
            err = read_words(&l, 0, key.shop, key.key, &f);
        if (err == ERR_OK)
            err = add_key(ring, &key, &f);
    }
    if (err != ERR_OK)
        *reterr = f;
    return err;
}

static enum err load_file(struct keyring *ring, const char *path, struct fault *reterr)
{
    struct text text = {0};
    enum err err = file_read(path, KEYRING_FILE_MAX, &text, reterr);
    if (err == ERR_OK)
        err = keyring_add(ring, text.data ? text.data : "", text.size, path, reterr);
    text_done(&text);
    return err;
}

static bool is_public_name(const char *name)
{
    const size_t n = strlen(name);
    return n > 4 && name[0] != '.' && strcmp(name + n - 4, ".pub") == 0;
}

static enum err load_folder(struct keyring *ring, const char *path, struct fault *reterr)
{
    char file[4096];
    DIR *dir = opendir(path);
    enum err err = ERR_OK;
    if (dir == NULL)
        return fault_set(reterr, ERR_OPEN, "cannot be opened: %s", strerror(errno));
    for (const struct dirent *entry; err == ERR_OK && (entry = readdir(dir)) != NULL;) {
        if (!is_public_name(entry->d_name))
            continue;
        const int n = snprintf(file, sizeof file, "%s/%s", path, entry->d_name);
        err = n > 0 && (size_t)n < sizeof file
                  ? load_file(ring, file, reterr)
                  : fault_set(reterr, ERR_OPEN, "the path of a key is too long");
    }
    closedir(dir);
    return err;
}

enum err keyring_load(struct keyring *ring, const char *path, struct fault *reterr)
{
    struct stat st;
    snprintf(reterr->file, sizeof reterr->file, "%s", path);
    if (stat(path, &st) == 0 && S_ISDIR(st.st_mode))
        return load_folder(ring, path, reterr);
    return load_file(ring, path, reterr);
}

void keyring_done(struct keyring *ring)
{
    free(ring->keys);
    *ring = (struct keyring){0};
}

/* ---- the secret key ---------------------------------------------------------------------------*/

enum err keyring_secret_read(const char *text, size_t n, const char *name,
                             struct keyring_secret *ret, struct fault *reterr)
{
    struct fault f = {0};
    struct line l;
    bool is_found = false;
    enum err err = ERR_OK;
    snprintf(f.file, sizeof f.file, "%s", name);
    for (size_t at = 0; err == ERR_OK && next_line(text, n, &at, &l);) {
        f.line++;
        if (l.n == 0)
            continue;
        if (!is_secret(&l))
            err = fault_set(&f, ERR_SYNTAX,
                            "expected 'secret SHOP SEED', as `mendwright bag key` writes it");
        else if (is_found)
            err = fault_set(&f, ERR_SYNTAX, "holds a second key; expected one");
        /* Said in other words than a keyring's: its words may be the seed, which belongs in no message. */
        if (err == ERR_OK && read_words(&l, 1, ret->shop, ret->seed, &f) != ERR_OK)
            err = fault_set(&f, ERR_SYNTAX,
                            "its shop or its seed is not right; expected 'secret SHOP SEED', as "
                            "`mendwright bag key` writes it");
        is_found = true;
    }
    if (err == ERR_OK && !is_found)
        err = fault_set(&f, ERR_EMPTY, "holds no key");
    if (err != ERR_OK) {
        sign_forget(ret->seed, sizeof ret->seed);
        *reterr = f;
    }
    return err;
}

enum err keyring_secret_load(const char *path, struct keyring_secret *ret, struct fault *reterr)
{
    struct text text = {0};
    enum err err = file_read(path, KEYRING_FILE_MAX, &text, reterr);
    if (err == ERR_OK)
        err = keyring_secret_read(text.data ? text.data : "", text.size, path, ret, reterr);
    if (text.data != NULL)
        sign_forget(text.data, text.size);
    text_done(&text);
    return err;
}

/* ---- a new pair -------------------------------------------------------------------------------*/

/* Writes a file that must not be there yet, down to the disk. */
static enum err write_new(const char *path, mode_t mode, const char *text, struct fault *f)
{
    snprintf(f->file, sizeof f->file, "%s", path);
    const int fd = open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC | O_NOFOLLOW, mode);
    if (fd < 0 && errno == EEXIST)
        return fault_set(f, ERR_OPEN, "is there already; a key is never overwritten");
    if (fd < 0)
        return fault_set(f, errno == ENOSPC || errno == EIO ? ERR_IO : ERR_OPEN,
                         "cannot be written: %s", strerror(errno));
    const size_t n = strlen(text);
    bool is_good = write(fd, text, n) == (ssize_t)n && fsync(fd) == 0;
    const int number = errno;
    is_good = close(fd) == 0 && is_good;
    if (is_good)
        return ERR_OK;
    unlink(path);
    return fault_set(f, ERR_IO, "cannot be written: %s", strerror(number));
}

enum err keyring_pair_write(const char *path, const char *shop, uint8_t ret_key[SIGN_KEY_SIZE],
                            struct fault *reterr)
{
    uint8_t seed[SIGN_SEED_SIZE];
    char hex[DIGEST_HEX_ROOM], secret[256], public[256], public_path[4096];
    const int n = snprintf(public_path, sizeof public_path, "%s.pub", path);
    if (n < 0 || (size_t)n >= sizeof public_path)
        return fault_set(reterr, ERR_OPEN, "the name is too long");
    if (sign_seed_new(seed) != ERR_OK || sign_key(seed, ret_key) != ERR_OK)
        return fault_set(reterr, ERR_IO, "this machine gives no random bytes");
    digest_hex(seed, sizeof seed, hex);
    snprintf(secret, sizeof secret, "# Keep this file to yourself.\nsecret %s %s\n", shop, hex);
    sign_forget(seed, sizeof seed);
    sign_forget(hex, sizeof hex);
    digest_hex(ret_key, SIGN_KEY_SIZE, hex);
    snprintf(public, sizeof public, "%s %s\n", shop, hex);
    enum err err = write_new(public_path, 0644, public, reterr);
    if (err == ERR_OK) {
        err = write_new(path, 0600, secret, reterr);
        if (err != ERR_OK)
            unlink(public_path);
    }
    sign_forget(secret, sizeof secret);
    return err;
}
