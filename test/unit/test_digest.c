/* Digests against published vectors. The SHA ones are FIPS 180-4's examples (recomputed with
 * Python's hashlib, independent of OpenSSL's EVP calls made here); MD5's are RFC 1321, A.5; SHA-1
 * RFC 3174, 7.3. */
#include "base/digest.h"
#include "tap.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define MESSAGE_56 "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"
#define MESSAGE_112                                                                                \
    "abcdefghbcdefghicdefghijdefghijkefghijklfghijklmghijklmnhijklmnoijklmnopjklmnopqklmnopqrlmno" \
    "pqrsmnopqrstnopqrstu"

struct row {
    const char *source;
    enum digest_kind kind;
    const char *message; /* NULL: a million times 'a' */
    const char *hex;
};

/* clang-format off */
static const struct row rows[] = {
    {"FIPS 180-4, empty message", DIGEST_SHA256, "",
     "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"},
    {"FIPS 180-4, abc", DIGEST_SHA256, "abc",
     "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"},
    {"FIPS 180-4, 56 characters", DIGEST_SHA256, MESSAGE_56,
     "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"},
    {"FIPS 180-4, a million a", DIGEST_SHA256, NULL,
     "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"},
    {"FIPS 180-4, empty message", DIGEST_SHA512, "",
     "cf83e1357eefb8bdf1542850d66d8007d620e4050b5715dc83f4a921d36ce9ce47d0d13c5d85f2b0ff8318d2877eec2f63b931bd47417a81a538327af927da3e"},
    {"FIPS 180-4, abc", DIGEST_SHA512, "abc",
     "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a2192992a274fc1a836ba3c23a3feebbd454d4423643ce80e2a9ac94fa54ca49f"},
    {"FIPS 180-4, 112 characters", DIGEST_SHA512, MESSAGE_112,
     "8e959b75dae313da8cf4f72814fc143f8f7779c6eb9f7fa17299aeadb6889018501d289e4900f7e4331b99dec4b5433ac7d329eeb6dd26545e96e55b874be909"},
    {"FIPS 180-4, a million a", DIGEST_SHA512, NULL,
     "e718483d0ce769644e2e42c7bc15b4638e1f98b13b2044285632a803afa973ebde0ff244877ea60a4cb0432ce577c31beb009c5c2c49aa2e4eadb217ad8cc09b"},
    {"RFC 1321 A.5, from memory", DIGEST_MD5, "", "d41d8cd98f00b204e9800998ecf8427e"},
    {"RFC 1321 A.5, from memory", DIGEST_MD5, "abc", "900150983cd24fb0d6963f7d28e17f72"},
    {"RFC 1321 A.5, from memory", DIGEST_MD5, "message digest", "f96b697d7cb7938d525a2f31aaf161d0"},
    {"RFC 3174 7.3, from memory", DIGEST_SHA1, "abc", "a9993e364706816aba3e25717850c26c9cd0d89d"},
    {"RFC 3174 7.3, from memory", DIGEST_SHA1, MESSAGE_56, "84983e441c3bd26ebaae4aa1f95129e5e54670f1"},
    {"RFC 3174 7.3, from memory", DIGEST_SHA1, NULL, "34aa973cd4c4daa4f61eeb2bdbad27316534016f"},
};
/* clang-format on */

static void check_row(const struct row *row, const char *million, size_t n_million)
{
    const char *message = row->message != NULL ? row->message : million;
    const size_t n = row->message != NULL ? strlen(row->message) : n_million;
    uint8_t sum[DIGEST_SIZE_MAX];
    char hex[DIGEST_HEX_ROOM] = "";
    const enum err err = digest_bytes(row->kind, message, n, sum);
    if (err == ERR_OK)
        digest_hex(sum, digest_size(row->kind), hex);
    tap_ok(strcmp(hex, row->hex) == 0, "%s of %zu bytes (%s)", digest_name(row->kind), n,
           row->source);

    /* The same in uneven pieces, twice with one object. */
    struct digest *d = NULL;
    bool is_same = digest_new(row->kind, &d) == ERR_OK;
    for (int round = 0; is_same && round < 2; round++) {
        for (size_t at = 0, piece = 1; at < n; at += piece, piece = piece * 3 % 1009 + 1) {
            if (piece > n - at)
                piece = n - at;
            digest_add(d, message + at, piece);
        }
        uint8_t again[DIGEST_SIZE_MAX];
        is_same = digest_end(d, again) == ERR_OK && memcmp(again, sum, digest_size(row->kind)) == 0;
    }
    digest_free(d);
    tap_ok(is_same, "%s of %zu bytes in pieces, twice", digest_name(row->kind), n);
}

static void check_fd(const char *million, size_t n_million)
{
    char path[] = "/tmp/mendwright-digest-XXXXXX";
    const int fd = mkstemp(path);
    uint8_t sum[DIGEST_SIZE_MAX];
    char hex[DIGEST_HEX_ROOM] = "";
    uint64_t n = 0;
    struct fault f = {0};
    unlink(path);
    tap_ok(fd >= 0 && write(fd, million, n_million) == (ssize_t)n_million &&
               lseek(fd, 0, SEEK_SET) == 0,
           "a file of a million a");
    if (digest_fd(DIGEST_SHA256, fd, n_million, sum, &n, &f) == ERR_OK)
        digest_hex(sum, DIGEST_SHA256_SIZE, hex);
    tap_ok(n == n_million && strcmp(hex, rows[3].hex) == 0,
           "a file's digest (FIPS 180-4, a million a)");
    lseek(fd, 0, SEEK_SET);
    tap_ok(digest_fd(DIGEST_SHA256, fd, n_million - 1, sum, &n, &f) == ERR_LIMIT,
           "a file longer than allowed is refused: %s", f.message);
    close(fd);
    tap_ok(digest_fd(DIGEST_SHA256, fd, n_million, sum, &n, &f) == ERR_IO, "a closed file: %s",
           f.message);
}

static void check_text(void)
{
    uint8_t bytes[2] = {0};
    char hex[5];
    enum digest_kind kind = DIGEST_MD5;
    tap_ok(digest_unhex("0fA9", 2, bytes) && bytes[0] == 0x0f && bytes[1] == 0xa9,
           "either case is read");
    digest_hex(bytes, 2, hex);
    tap_ok(strcmp(hex, "0fa9") == 0, "lower case is written");
    tap_ok(!digest_unhex("0g", 1, bytes) && !digest_unhex("g0", 1, bytes) &&
               !digest_unhex("0", 1, bytes) && !digest_unhex("", 1, bytes),
           "what is not hexadecimal is refused");
    tap_ok(digest_named("sha512", 6, &kind) && kind == DIGEST_SHA512,
           "sha512 is known (RFC 8493, 2.4)");
    tap_ok(!digest_named("SHA512", 6, &kind) && !digest_named("sha", 3, &kind) &&
               !digest_named("", 0, &kind),
           "other names are not");
}

int main(void)
{
    enum { MILLION = 1000000 };
    char *million = malloc(MILLION);
    if (million == NULL)
        return 2;
    memset(million, 'a', MILLION);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        check_row(&rows[i], million, MILLION);
    check_fd(million, MILLION);
    check_text();
    free(million);
    return tap_done();
}
