/* digest: message digests, streamed. The only place that sees OpenSSL's EVP.
 *
 * MD5 and SHA-1 are here because old bags carry them (RFC 8493, 2.4); nothing of ours is written
 * with them. Digests are compared as bytes; as text they are hexadecimal in lower case, read in
 * either case. */
#ifndef BASE_DIGEST_H
#define BASE_DIGEST_H

#include "base/fault.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum digest_kind { DIGEST_MD5, DIGEST_SHA1, DIGEST_SHA256, DIGEST_SHA512, DIGEST_KINDS };

enum {
    DIGEST_MD5_SIZE = 16,
    DIGEST_SHA1_SIZE = 20,
    DIGEST_SHA256_SIZE = 32,
    DIGEST_SHA512_SIZE = 64,
    DIGEST_SIZE_MAX = DIGEST_SHA512_SIZE,
    DIGEST_HEX_ROOM = 2 * DIGEST_SIZE_MAX + 1 /* any digest as text, with its NUL */
};

/* digest_size: bytes of a digest: 16, 20, 32, 64. digest_name: "md5", "sha1", "sha256", "sha512",
 * as RFC 8493 writes them in manifest-ALG.txt. digest_named: the kind of name[0..n), exact and in
 * lower case; false when it is not known. */
size_t digest_size(enum digest_kind kind);
const char *digest_name(enum digest_kind kind);
bool digest_named(const char *name, size_t n, enum digest_kind *ret);

/* A digest under way. digest_new gives one that has read nothing yet, the caller's to free with
 * digest_free (NULL is fine). Errors: ERR_MEMORY; ERR_UNKNOWN when this machine's OpenSSL does not
 * offer the kind (a policy may forbid MD5). */
struct digest;
MUST_USE enum err digest_new(enum digest_kind kind, struct digest **ret);
void digest_free(struct digest *d);

/* digest_add: reads on; bytes may be NULL when n is 0. A failure inside is remembered and returned
 * by digest_end. */
void digest_add(struct digest *d, const void *bytes, size_t n);

/* digest_end: writes digest_size(kind) bytes to ret and starts afresh, so that one object serves
 * many messages without asking for memory again. Error: ERR_MEMORY. */
MUST_USE enum err digest_end(struct digest *d, uint8_t *ret);

/* digest_bytes: the digest of bytes[0..n) at once. Errors as digest_new. */
MUST_USE enum err digest_bytes(enum digest_kind kind, const void *bytes, size_t n, uint8_t *ret);

/* digest_fd: reads fd from where it stands to its end, at most max bytes, and writes the digest and
 * the number of bytes read (ret_n may be NULL). Errors: those of digest_new, ERR_IO (message says
 * why), ERR_LIMIT (more than max bytes). reterr->file is left as it is. */
MUST_USE enum err digest_fd(enum digest_kind kind, int fd, uint64_t max, uint8_t *ret,
                            uint64_t *ret_n, struct fault *reterr);

/* digest_hex: bytes[0..n) as 2n lower-case digits and a NUL; buf has at least 2n + 1 bytes. */
void digest_hex(const uint8_t *bytes, size_t n, char *buf);

/* digest_unhex: text[0..2 n) as n bytes; false when a character is no hexadecimal digit (ret is
 * then undefined). */
bool digest_unhex(const char *text, size_t n, uint8_t *ret);

#endif
