/* fuzz_s3_xml: any bytes as what an object store sends. Properties:
 *   a refusal's code is empty or short and made of letters and digits, whatever it stood in;
 *   of a list that was taken, every key has a byte and every size is 0 or more, and the token for the next page is a text within its room;
 *   an error that the caller's own call gives is handed on; a list that is refused is refused as unreadable;
 *   s3_encode leaves signs alone that stand in a query as they are, and decoded by %XX gives what it was given. */
#include "store/s3.h"

#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void expect(bool holds)
{
    if (!holds)
        abort();
}

struct seen {
    size_t n, stop; /* stop: the object that is not wanted */
};

static enum err see(void *me, const char *key, int64_t bytes, struct fault *f)
{
    struct seen *s = me;
    expect(key[0] != '\0' && strlen(key) < S3_TOKEN_MAX && bytes >= 0);
    return ++s->n == s->stop ? fault_set(f, ERR_BUSY, "enough") : ERR_OK;
}

static int digit(char c)
{
    return c >= 'A' ? c - 'A' + 10 : c - '0';
}

static void check_encoding(const char *s)
{
    char coded[3 * S3_TOKEN_MAX + 8];
    const char *at = coded;
    if (!s3_encode(s, coded, sizeof coded))
        return;
    for (; *s != '\0'; s++) {
        const bool is_coded = *at == '%';
        const unsigned char c =
            is_coded ? (unsigned char)(16 * digit(at[1]) + digit(at[2])) : (unsigned char)*at;
        expect(c == (unsigned char)*s && (is_coded || strchr("&=#+?/ %", *at) == NULL));
        at += is_coded ? 3 : 1;
    }
    expect(*at == '\0');
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    char code[S3_CODE_MAX], token[S3_TOKEN_MAX] = "";
    struct seen all = {0}, some = {.stop = 1};
    struct fault f = {0};
    char *xml = malloc(size + 1); /* of that size, so that a byte behind it is found */
    expect(xml != NULL);
    memcpy(xml, data, size);
    s3_code(xml, size, code);
    expect(strlen(code) < sizeof code &&
           strspn(code, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789") ==
               strlen(code));
    const enum err err = s3_list(xml, size, see, &all, token, &f);
    expect(err == ERR_OK || err == ERR_SYNTAX);
    expect(memchr(token, '\0', sizeof token) != NULL);
    const enum err other = s3_list(xml, size, see, &some, token, &f);
    expect(other == (all.n > 0 ? ERR_BUSY : err));
    xml[size] = '\0';
    if (size < S3_TOKEN_MAX)
        check_encoding(xml);
    free(xml);
    return 0;
}
