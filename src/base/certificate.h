/* certificate: what a TLS certificate and its key say of themselves, before a server trusts its calls to them. The only place that sees
 * OpenSSL's X.509. */
#ifndef BASE_CERTIFICATE_H
#define BASE_CERTIFICATE_H

#include "base/fault.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { CERTIFICATE_NAME_MAX = 200 };

struct certificate {
    char
        subject[CERTIFICATE_NAME_MAX + 1]; /* "CN=desk.example", RFC 2253; cut where it is longer */
    int64_t from_s, until_s;               /* seconds since 1970-01-01 UTC */
    bool has_key;                          /* the key given belongs to it */
};

/* certificate_read: the first certificate of a chain, PEM, and a private key, PEM, without a passphrase (NULL: none given).
 * Errors: ERR_SYNTAX (the message says which of the two is none), ERR_MEMORY. */
MUST_USE enum err certificate_read(const char *chain, size_t n, const char *key, size_t n_key,
                                   struct certificate *ret, struct fault *reterr);

#endif
