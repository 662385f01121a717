/* route: owns the cutting of paths and the finding of a path's route. The table is in routes.c. */
#include "serve/route.h"

#include <stdio.h>
#include <string.h>

static int hex(char c)
{
    if (c >= '0' && c <= '9')
        return c - '0';
    if (c >= 'a' && c <= 'f')
        return c - 'a' + 10;
    return c >= 'A' && c <= 'F' ? c - 'A' + 10 : -1;
}

/* One part of the path, decoded to `to`; *p moves on to the slash or the end behind it. NULL: malformed, or it holds a slash or a
 * control byte; else where the decoded part ends. */
static char *decode_part(const char **p, char *to)
{
    const char *at = *p;
    for (; *at != '\0' && *at != '/'; at++) {
        int byte = (unsigned char)*at;
        if (*at == '%') {
            const int a = hex(at[1]), b = a >= 0 ? hex(at[2]) : -1;
            if (b < 0)
                return NULL;
            byte = a * 16 + b;
            at += 2;
        }
        if (byte < ' ' || byte == '/' || byte == 127)
            return NULL;
        *to++ = (char)byte;
    }
    *to = '\0';
    *p = at;
    return to;
}

bool route_cut(const char *path, char *words, const char *parts[HTTP_PARTS_MAX], int *ret_n)
{
    char *to = words;
    const char *p = path;
    *ret_n = 0;
    while (*p == '/' && p[1] != '\0') {
        char *part = to;
        p++;
        to = decode_part(&p, to);
        if (to == NULL || to == part || strcmp(part, ".") == 0 || strcmp(part, "..") == 0 ||
            *ret_n == HTTP_PARTS_MAX)
            return false;
        parts[(*ret_n)++] = part;
        to++;
    }
    return p[0] == '/' && p[1] == '\0' ? true : p[0] == '\0' && *ret_n > 0;
}

void route_told(const struct route *route, const char *path, char *ret)
{
    const bool is_call = route != NULL && route != &route_page;
    if (is_call && strncmp(route->path, "/enter/", 7) == 0)
        path = "/enter";
    for (const char *p = path; *p != '\0';) {
        const size_t start = strspn(p, "/"), n = strcspn(p + start, "/");
        const bool is_told = is_call || n <= ROUTE_TOLD_MAX;
        memcpy(ret, p, start);
        ret += start;
        if (is_told)
            memcpy(ret, p + start, n);
        else
            *ret = '*';
        ret += is_told ? n : 1;
        p += start + n;
    }
    *ret = '\0';
}

/* Whether the route's path is that of the call; args: what stands for its {}. */
static bool is_path(const char *path, const char *const *parts, int n_parts, const char **args)
{
    int n_args = 0, i = 0;
    for (const char *p = path; *p == '/' && p[1] != '\0'; i++) {
        const char *end = strchr(p + 1, '/');
        const size_t n = end != NULL ? (size_t)(end - p) - 1 : strlen(p + 1);
        if (i >= n_parts)
            return false;
        if (p[1] == '{')
            args[n_args++] = parts[i];
        else if (strlen(parts[i]) != n || memcmp(parts[i], p + 1, n) != 0)
            return false;
        p += n + 1;
    }
    return i == n_parts;
}

const struct route *route_find(const char *method, const char *const *parts, int n_parts,
                               const char *args[HTTP_PARTS_MAX], char ret_allow[64])
{
    const bool is_head = strcmp(method, "HEAD") == 0;
    size_t n = 0;
    ret_allow[0] = '\0';
    for (size_t i = 0; i < n_routes; i++) {
        const struct route *r = &routes[i];
        if (!is_path(r->path, parts, n_parts, args))
            continue;
        if (strcmp(r->method, method) == 0)
            return r;
        n += (size_t)snprintf(ret_allow + n, 64 - n, "%s%s", n > 0 ? ", " : "", r->method);
        if (n >= 64)
            n = 63;
    }
    for (size_t i = 0; i < n_routes && is_head; i++)
        if (strcmp(routes[i].method, "GET") == 0 && is_path(routes[i].path, parts, n_parts, args))
            return &routes[i];
    return NULL;
}
