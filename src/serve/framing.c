/* framing: owns the reading of Content-Length and Transfer-Encoding. */
#include "serve/framing.h"

#include "serve/http_heads.h"

#include <errno.h>
#include <stdlib.h>
#include <strings.h>

uint64_t framing_size(const struct http_call *c, bool *ret_told)
{
    const char *text = http_header(c, "Content-Length");
    char *rest = NULL;
    *ret_told = text != NULL;
    if (text == NULL)
        return 0;
    errno = 0;
    const unsigned long long n = strtoull(text, &rest, 10);
    return errno != 0 || *rest != '\0' || text[0] < '0' || text[0] > '9' ? UINT64_MAX : n;
}

void framing_judge(struct http_call *c)
{
    const char *coding = http_header(c, "Transfer-Encoding");
    http_heads_judge(c);
    if (c->status != 0 || coding == NULL)
        return;
    if (strcasecmp(coding, "chunked") != 0)
        http_problem(c, 400, "coding", "the only Transfer-Encoding is chunked");
    else if (http_header(c, "Content-Length") != NULL)
        http_problem(c, 400, "coding", "Transfer-Encoding and Content-Length do not go together");
    else
        return;
    http_add_header(c, "Connection", "close"); /* where the next call begins is in doubt */
}
