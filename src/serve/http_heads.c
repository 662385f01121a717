/* http_heads: owns the look at a call's headers one by one, before anything is done by them. */
#include "serve/http_heads.h"

#include <microhttpd.h>
#include <string.h>
#include <strings.h>

struct looking {
    int n_hosts, n_sizes, n_codings;
    bool has_name, has_value; /* one that is not allowed */
};

/* tchar of RFC 9110, 5.6.2. */
static bool is_token(const char *name)
{
    static const char allowed[] = "!#$%&'*+-.^_`|~0123456789abcdefghijklmnopqrstuvwxyz"
                                  "ABCDEFGHIJKLMNOPQRSTUVWXYZ";
    return name[0] != '\0' && name[strspn(name, allowed)] == '\0';
}

static bool has_control(const char *value)
{
    for (const char *p = value; *p != '\0'; p++)
        if (((unsigned char)*p < 0x20 && *p != '\t') || *p == 0x7f)
            return true;
    return false;
}

static enum MHD_Result look(void *me, enum MHD_ValueKind kind, const char *name, const char *value)
{
    struct looking *l = me;
    (void)kind;
    l->has_name |= !is_token(name);
    l->has_value |= value != NULL && has_control(value);
    l->n_hosts += strcasecmp(name, "Host") == 0;
    l->n_sizes += strcasecmp(name, "Content-Length") == 0;
    l->n_codings += strcasecmp(name, "Transfer-Encoding") == 0;
    return MHD_YES;
}

void http_heads_judge(struct http_call *c)
{
    struct looking l = {0};
    const char *twice = NULL;
    MHD_get_connection_values(c->connection, MHD_HEADER_KIND, look, &l);
    if (l.n_hosts > 1)
        twice = "Host";
    else if (l.n_sizes > 1)
        twice = "Content-Length";
    else if (l.n_codings > 1)
        twice = "Transfer-Encoding";
    if (l.has_name)
        http_problem(c, 400, "header", "a header's name is no token");
    else if (l.has_value)
        http_problem(c, 400, "header", "a header's value holds a control character");
    else if (twice != NULL)
        http_problem(c, 400, "header", "%s stands there twice", twice);
    else
        return;
    http_add_header(c, "Connection", "close");
}
