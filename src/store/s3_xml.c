/* s3_xml: owns the little that is read of an object store's XML: a list's objects and a refusal's code. A server may say anything: every
 * step is bounded by the text, and what is not as expected is an error. */
#include "store/s3.h"

#include <stdlib.h>
#include <string.h>

enum { DEPTH_MAX = 8, NAME_MAX_ = 40, VALUE_MAX = S3_TOKEN_MAX };

struct reader {
    const char *at, *end;
    char open[DEPTH_MAX][NAME_MAX_];
    int depth;
    char value[VALUE_MAX]; /* of the element just closed, when it had no others in it */
    size_t n;
    bool is_leaf;
};

/* ---- characters ---------------------------------------------------------------------------- */

/* One character of text, &...; resolved; below 0: none. */
static int next_char(struct reader *r)
{
    static const struct {
        const char *name;
        char c;
    } known[] = {{"&amp;", '&'}, {"&lt;", '<'}, {"&gt;", '>'}, {"&quot;", '"'}, {"&apos;", '\''}};
    if (*r->at != '&')
        return (unsigned char)*r->at++;
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        const size_t n = strlen(known[i].name);
        if ((size_t)(r->end - r->at) >= n && memcmp(r->at, known[i].name, n) == 0) {
            r->at += n;
            return (unsigned char)known[i].c;
        }
    }
    /* &#34; and the like: of ASCII alone, which is all that our keys are made of. */
    int code = 0, n = 2;
    if (r->end - r->at < 4 || r->at[1] != '#')
        return -1;
    while (n < 6 && r->at + n < r->end && r->at[n] >= '0' && r->at[n] <= '9')
        code = 10 * code + (r->at[n++] - '0');
    if (n == 2 || r->at + n >= r->end || r->at[n] != ';' || code < 1 || code > 127)
        return -1;
    r->at += n + 1;
    return code;
}

static bool is_name(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' ||
           c == '-' || c == ':' || c == '.';
}

static bool read_name(struct reader *r, char ret[NAME_MAX_])
{
    size_t n = 0;
    while (r->at < r->end && is_name(*r->at)) {
        if (n + 1 >= NAME_MAX_)
            return false;
        ret[n++] = *r->at++;
    }
    ret[n] = '\0';
    return n > 0;
}

/* To behind the tag's >; a > inside quotes is none. *ret_closed: it ended in />. */
static bool skip_tag(struct reader *r, bool *ret_closed)
{
    char quote = '\0', last = '\0';
    for (; r->at < r->end; r->at++) {
        const char c = *r->at;
        if (quote != '\0')
            quote = c == quote ? '\0' : quote;
        else if (c == '"' || c == '\'')
            quote = c;
        else if (c == '>') {
            *ret_closed = last == '/';
            r->at++;
            return true;
        }
        last = c;
    }
    return false;
}

/* ---- elements ------------------------------------------------------------------------------ */

enum step { STEP_BAD, STEP_END, STEP_OPENED, STEP_CLOSED };

static enum step close_tag(struct reader *r)
{
    char name[NAME_MAX_];
    r->at++;
    if (!read_name(r, name) || r->at >= r->end || *r->at != '>' || r->depth == 0 ||
        strcmp(name, r->open[r->depth - 1]) != 0)
        return STEP_BAD;
    r->at++;
    r->depth--; /* its name stays readable in open[depth] */
    return STEP_CLOSED;
}

static enum step open_tag(struct reader *r)
{
    bool is_closed = false;
    if (r->depth == DEPTH_MAX || !read_name(r, r->open[r->depth]) || !skip_tag(r, &is_closed))
        return STEP_BAD;
    r->n = 0;
    r->is_leaf = true;
    if (is_closed)
        return STEP_CLOSED;
    r->depth++;
    return STEP_OPENED;
}

/* On to the next tag. */
static enum step next(struct reader *r)
{
    bool unused = false;
    while (r->at < r->end) {
        if (*r->at != '<') {
            const int c = next_char(r);
            if (c < 0 || (r->depth > 0 && r->n + 1 >= VALUE_MAX))
                return STEP_BAD;
            if (r->depth > 0)
                r->value[r->n++] = (char)c;
            continue;
        }
        r->at++;
        if (r->at < r->end && *r->at == '?' && r->depth == 0) { /* <?xml ... ?> */
            if (!skip_tag(r, &unused))
                return STEP_BAD;
            continue;
        }
        const bool is_close = r->at < r->end && *r->at == '/';
        const enum step step = is_close ? close_tag(r) : open_tag(r);
        r->value[r->n] = '\0';
        return step;
    }
    return r->depth == 0 ? STEP_END : STEP_BAD;
}

/* What is read of an element ends with it: what follows belongs to the one around it. */
static void forget(struct reader *r)
{
    r->n = 0;
    r->is_leaf = false;
}

static bool is_at(const struct reader *r, int depth, const char *parent, const char *name)
{
    return r->depth == depth && r->is_leaf && strcmp(r->open[depth], name) == 0 &&
           strcmp(r->open[depth - 1], parent) == 0;
}

/* ---- what is asked for --------------------------------------------------------------------- */

void s3_code(const char *xml, size_t n, char ret[S3_CODE_MAX])
{
    struct reader r = {.at = xml, .end = xml + n};
    ret[0] = '\0';
    for (enum step step = STEP_OPENED; step != STEP_BAD && step != STEP_END;) {
        step = n > 0 ? next(&r) : STEP_END;
        if (step != STEP_CLOSED)
            continue;
        if (is_at(&r, 1, "Error", "Code") && r.n < S3_CODE_MAX &&
            strspn(r.value, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789") ==
                r.n) {
            memcpy(ret, r.value, r.n + 1);
            return;
        }
        forget(&r);
    }
}

struct object {
    char key[VALUE_MAX];
    int64_t bytes;
};

static bool take_size(const char *s, int64_t *ret)
{
    char *end = NULL;
    if (s[0] < '0' || s[0] > '9' || strlen(s) > 18)
        return false;
    *ret = strtoll(s, &end, 10);
    return *end == '\0';
}

enum err s3_list(const char *xml, size_t n, s3_see *see, void *me, char ret_token[S3_TOKEN_MAX],
                 struct fault *reterr)
{
    struct reader r = {.at = xml, .end = xml + n};
    struct object o = {.bytes = -1};
    bool is_more = false, is_list = false, is_good = true;
    char token[S3_TOKEN_MAX] = "";
    for (enum step step = STEP_OPENED; is_good && step != STEP_END;) {
        step = n > 0 ? next(&r) : STEP_BAD;
        is_good = step != STEP_BAD;
        if (step != STEP_CLOSED)
            continue;
        if (is_at(&r, 2, "Contents", "Key"))
            memcpy(o.key, r.value, r.n + 1);
        else if (is_at(&r, 2, "Contents", "Size"))
            is_good = take_size(r.value, &o.bytes);
        else if (is_at(&r, 1, "ListBucketResult", "IsTruncated"))
            is_more = strcmp(r.value, "true") == 0;
        else if (is_at(&r, 1, "ListBucketResult", "NextContinuationToken"))
            memcpy(token, r.value, r.n + 1);
        else if (r.depth == 0)
            is_list = strcmp(r.open[0], "ListBucketResult") == 0;
        else if (r.depth == 1 && strcmp(r.open[1], "Contents") == 0) {
            is_good = o.key[0] != '\0' && o.bytes >= 0;
            const enum err err = is_good ? see(me, o.key, o.bytes, reterr) : ERR_OK;
            if (err != ERR_OK)
                return err;
            o = (struct object){.bytes = -1};
        }
        forget(&r);
    }
    /* One that says there is more, and not how to come to it, would be read as a whole list. */
    if (!is_good || !is_list || (is_more && token[0] == '\0'))
        return fault_set(reterr, ERR_SYNTAX, "the object store's list cannot be read");
    memcpy(ret_token, is_more ? token : "", is_more ? strlen(token) + 1 : 1);
    return ERR_OK;
}

bool s3_encode(const char *s, char *buf, size_t room)
{
    static const char digits[] = "0123456789ABCDEF";
    size_t n = 0;
    for (; *s != '\0'; s++) {
        const unsigned char c = (unsigned char)*s;
        const bool is_plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') ||
                              (c >= '0' && c <= '9') || c == '-' || c == '.' || c == '_' ||
                              c == '~';
        if (n + 4 > room)
            return false;
        if (!is_plain) {
            buf[n++] = '%';
            buf[n++] = digits[c >> 4];
            buf[n++] = digits[c & 15];
        } else
            buf[n++] = (char)c;
    }
    buf[n] = '\0';
    return true;
}
