/* s3: one request to an object store that speaks S3, signed with signature version 4; who may; and what its lists and refusals say.
 * S3 is named here after its protocol, which many servers speak. Path-style alone: https://HOST/BUCKET/KEY. Inside src/store/. */
#ifndef STORE_S3_H
#define STORE_S3_H

#include "base/text.h"
#include "store/place.h"

enum {
    S3_PATH_MAX = 512,             /* "/BUCKET/KEY", with its NUL */
    S3_CODE_MAX = 64,              /* a refusal's code */
    S3_TOKEN_MAX = 2048,           /* what a list's next page is asked for with */
    S3_LIST_MAX = 4 * 1024 * 1024, /* bytes of a page of a list */
    S3_SECRET_MAX = 256
};

/* ---- who may (s3_secret.c) ----------------------------------------------------------------- */

struct s3_secret {
    char key[S3_SECRET_MAX], secret[S3_SECRET_MAX];
};

/* s3_secret_find: MENDWRIGHT_S3_FILE names a file of two lines, the key's name and its secret, that nobody else may read; else
 * MENDWRIGHT_S3_KEY and MENDWRIGHT_S3_SECRET hold them. Nothing of them is ever repeated. Errors: ERR_OPEN (neither; the file cannot be
 * read), ERR_DENIED (others may read it), ERR_SYNTAX. */
MUST_USE enum err s3_secret_find(struct s3_secret *ret, struct fault *reterr);
void s3_secret_wipe(struct s3_secret *secret);

/* ---- asking (s3_http.c, the only place that sees libcurl) ---------------------------------- */

struct s3_http;

/* s3_http_new: asks nothing yet; may be used by several threads at once. Errors: those of s3_secret_find, ERR_MEMORY. */
MUST_USE enum err s3_http_new(const struct place_s3 *at, struct s3_http **ret,
                              struct fault *reterr);
void s3_http_free(struct s3_http *http); /* NULL is fine */

enum s3_method { S3_GET, S3_HEAD, S3_PUT, S3_DELETE };

struct s3_call {
    enum s3_method method;
    const char *path;   /* "/BUCKET/..": letters, digits and - . _ / alone */
    const char *query;  /* sorted by name and percent-encoded, as it is signed; NULL: none */
    const char *sha256; /* of the body, hexadecimal; NULL: no body */
    const char *body;   /* PUT */
    size_t n_body;
    const char *type;    /* PUT: of the body */
    struct text *answer; /* its body, cleared first; NULL: not wanted */
    size_t answer_max;
};

struct s3_answer {
    int status; /* 0: there was none */
    bool
        may_pass; /* asked again it may be otherwise: no connection, no answer in time, a server in trouble */
    bool is_large;          /* its body was larger than answer_max, and was not read to its end */
    char code[S3_CODE_MAX]; /* of a refusal; "" when it tells none */
    int64_t bytes;          /* of the body, as announced; -1: not known */
    bool has_skew;
    int64_t skew_s; /* this machine's clock less the server's */
};

/* s3_http_call: once. ERR_OK: there is an answer, of whatever status, and when it is 200 the body is whole, as long as announced. Errors:
 * ERR_IO (ret->may_pass says of which kind), ERR_MEMORY. ret is filled in in any case. */
MUST_USE enum err s3_http_call(struct s3_http *http, const struct s3_call *call,
                               struct s3_answer *ret, struct fault *reterr);

/* ---- what it says (s3_xml.c) --------------------------------------------------------------- */

/* s3_code: <Code> of a refusal's body; "" when there is none that is made of letters and digits. */
void s3_code(const char *xml, size_t n, char ret[S3_CODE_MAX]);

/* s3_list: a page of a list (ListObjectsV2), one call of see an object; see returns ERR_OK to go on. *ret_token: "" on the last page.
 * Errors: ERR_SYNTAX (no such list), that of see. */
typedef enum err s3_see(void *me, const char *key, int64_t bytes, struct fault *reterr);
MUST_USE enum err s3_list(const char *xml, size_t n, s3_see *see, void *me,
                          char ret_token[S3_TOKEN_MAX], struct fault *reterr);

/* s3_encode: s as it stands in a query that is signed: all but letters, digits and - . _ ~ as %XX. false: no room. */
bool s3_encode(const char *s, char *buf, size_t room);

#endif
