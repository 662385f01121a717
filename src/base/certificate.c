/* certificate: owns the reading of X.509 certificates and private keys. */
#include "base/certificate.h"

#include <limits.h>
#include <openssl/bio.h>
#include <openssl/pem.h>
#include <openssl/x509.h>

/* A key that wants a passphrase is none that a server can start with by itself. */
static int
no_passphrase(char *buf, /* NOLINT(readability-non-const-parameter): the type is the library's */
              int room, int is_writing, void *me)
{
    (void)buf, (void)room, (void)is_writing, (void)me;
    return -1;
}

static X509 *read_chain(const char *pem, size_t n)
{
    BIO *bio = n <= INT_MAX ? BIO_new_mem_buf(pem, (int)n) : NULL;
    X509 *x = bio != NULL ? PEM_read_bio_X509(bio, NULL, no_passphrase, NULL) : NULL;
    BIO_free(bio);
    return x;
}

static EVP_PKEY *read_key(const char *pem, size_t n)
{
    BIO *bio = n <= INT_MAX ? BIO_new_mem_buf(pem, (int)n) : NULL;
    EVP_PKEY *k = bio != NULL ? PEM_read_bio_PrivateKey(bio, NULL, no_passphrase, NULL) : NULL;
    BIO_free(bio);
    return k;
}

/* Seconds since 1970 by the library's own difference of two times. */
static bool seconds_of(const ASN1_TIME *time, int64_t *ret)
{
    int days = 0, seconds = 0;
    ASN1_TIME *epoch = ASN1_TIME_set(NULL, 0);
    const bool is_good = epoch != NULL && ASN1_TIME_diff(&days, &seconds, epoch, time) == 1;
    *ret = (int64_t)days * 86400 + seconds;
    ASN1_TIME_free(epoch);
    return is_good;
}

static bool name_of(const X509 *x, char *ret)
{
    BIO *bio = BIO_new(BIO_s_mem());
    int n = -1;
    if (bio != NULL && X509_NAME_print_ex(bio, X509_get_subject_name(x), 0, XN_FLAG_RFC2253) >= 0)
        n = BIO_read(bio, ret, CERTIFICATE_NAME_MAX);
    ret[n > 0 ? n : 0] = '\0';
    BIO_free(bio);
    return bio != NULL;
}

enum err certificate_read(const char *chain, size_t n, const char *key, size_t n_key,
                          struct certificate *ret, struct fault *reterr)
{
    X509 *x = read_chain(chain, n);
    EVP_PKEY *k = key != NULL ? read_key(key, n_key) : NULL;
    enum err err = ERR_OK;
    *ret = (struct certificate){0};
    if (x == NULL)
        err = fault_set(reterr, ERR_SYNTAX, "holds no certificate (PEM)");
    else if (key != NULL && k == NULL)
        err = fault_set(reterr, ERR_SYNTAX, "the key is no private key (PEM) without a passphrase");
    else if (!name_of(x, ret->subject) || !seconds_of(X509_get0_notBefore(x), &ret->from_s) ||
             !seconds_of(X509_get0_notAfter(x), &ret->until_s))
        err = fault_set(reterr, ERR_SYNTAX, "is a certificate whose times make no sense");
    else
        ret->has_key = k != NULL && X509_check_private_key(x, k) == 1;
    EVP_PKEY_free(k);
    X509_free(x);
    return err;
}
