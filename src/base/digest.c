/* digest: owns the names and sizes of the digests and the way to OpenSSL's EVP. */
#include "base/digest.h"

#include <errno.h>
#include <openssl/evp.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { DIGEST_PIECE = 64 * 1024 };

struct digest {
    EVP_MD_CTX *context;
    const EVP_MD *method; /* OpenSSL's own, never freed */
    bool is_broken;
};

static const struct {
    const char *name;
    size_t size;
    const EVP_MD *(*method)(void);
} kinds[DIGEST_KINDS] = {
    [DIGEST_MD5] = {"md5", DIGEST_MD5_SIZE, EVP_md5},
    [DIGEST_SHA1] = {"sha1", DIGEST_SHA1_SIZE, EVP_sha1},
    [DIGEST_SHA256] = {"sha256", DIGEST_SHA256_SIZE, EVP_sha256},
    [DIGEST_SHA512] = {"sha512", DIGEST_SHA512_SIZE, EVP_sha512},
};

size_t digest_size(enum digest_kind kind)
{
    return kinds[kind].size;
}

const char *digest_name(enum digest_kind kind)
{
    return kinds[kind].name;
}

bool digest_named(const char *name, size_t n, enum digest_kind *ret)
{
    for (size_t i = 0; i < DIGEST_KINDS; i++)
        if (strlen(kinds[i].name) == n && memcmp(kinds[i].name, name, n) == 0) {
            *ret = (enum digest_kind)i;
            return true;
        }
    return false;
}

enum err digest_new(enum digest_kind kind, struct digest **ret)
{
    struct digest *d = calloc(1, sizeof *d);
    if (d == NULL)
        return ERR_MEMORY;
    d->context = EVP_MD_CTX_new();
    d->method = kinds[kind].method();
    enum err err = d->context == NULL ? ERR_MEMORY : ERR_OK;
    if (err == ERR_OK && EVP_DigestInit_ex(d->context, d->method, NULL) != 1)
        err = ERR_UNKNOWN;
    if (err != ERR_OK) {
        digest_free(d);
        return err;
    }
    *ret = d;
    return ERR_OK;
}

void digest_free(struct digest *d)
{
    if (d == NULL)
        return;
    EVP_MD_CTX_free(d->context);
    free(d);
}

void digest_add(struct digest *d, const void *bytes, size_t n)
{
    if (n > 0 && EVP_DigestUpdate(d->context, bytes, n) != 1)
        d->is_broken = true;
}

enum err digest_end(struct digest *d, uint8_t *ret)
{
    const bool is_good = EVP_DigestFinal_ex(d->context, ret, NULL) == 1 && !d->is_broken;
    d->is_broken = EVP_DigestInit_ex(d->context, d->method, NULL) != 1;
    return is_good ? ERR_OK : ERR_MEMORY;
}

enum err digest_bytes(enum digest_kind kind, const void *bytes, size_t n, uint8_t *ret)
{
    struct digest *d = NULL;
    enum err err = digest_new(kind, &d);
    if (err != ERR_OK)
        return err;
    digest_add(d, bytes, n);
    err = digest_end(d, ret);
    digest_free(d);
    return err;
}

static enum err read_on(struct digest *d, int fd, uint64_t max, uint64_t *n_read, struct fault *f)
{
    unsigned char *piece = malloc(DIGEST_PIECE);
    enum err err = ERR_OK;
    if (piece == NULL)
        return fault_set(f, ERR_MEMORY, "memory ran out while reading");
    for (;;) {
        const ssize_t n = read(fd, piece, DIGEST_PIECE);
        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0)
            err = fault_set(f, ERR_IO, "cannot be read: %s", strerror(errno));
        else if ((uint64_t)n > max - *n_read)
            err = fault_set(f, ERR_LIMIT, "is larger than %llu bytes", (unsigned long long)max);
        if (n <= 0 || err != ERR_OK)
            break;
        digest_add(d, piece, (size_t)n);
        *n_read += (uint64_t)n;
    }
    free(piece);
    return err;
}

enum err digest_fd(enum digest_kind kind, int fd, uint64_t max, uint8_t *ret, uint64_t *ret_n,
                   struct fault *reterr)
{
    struct digest *d = NULL;
    uint64_t n_read = 0;
    enum err err = digest_new(kind, &d);
    if (err != ERR_OK)
        return fault_set(reterr, err, "no %s digest: %s", digest_name(kind),
                         err == ERR_MEMORY ? "memory ran out" : "this machine does not offer it");
    err = read_on(d, fd, max, &n_read, reterr);
    if (err == ERR_OK && digest_end(d, ret) != ERR_OK)
        err = fault_set(reterr, ERR_MEMORY, "memory ran out while reading");
    digest_free(d);
    if (err == ERR_OK && ret_n != NULL)
        *ret_n = n_read;
    return err;
}

void digest_hex(const uint8_t *bytes, size_t n, char *buf)
{
    static const char digits[] = "0123456789abcdef";
    for (size_t i = 0; i < n; i++) {
        buf[2 * i] = digits[bytes[i] >> 4];
        buf[2 * i + 1] = digits[bytes[i] & 15];
    }
    buf[2 * n] = '\0';
}

static int nibble(char c)
{
    if (c >= '0' && c <= '9')
        return c - '0';
    if (c >= 'a' && c <= 'f')
        return c - 'a' + 10;
    return c >= 'A' && c <= 'F' ? c - 'A' + 10 : -1;
}

bool digest_unhex(const char *text, size_t n, uint8_t *ret)
{
    for (size_t i = 0; i < n; i++) {
        const int high = nibble(text[2 * i]);
        const int low = high < 0 ? -1 : nibble(text[2 * i + 1]); /* never past a short text's NUL */
        if (low < 0)
            return false;
        ret[i] = (uint8_t)(high * 16 + low);
    }
    return true;
}
