/* route: owns the finding of a path's route. The table is in routes.c. */
#include "serve/route.h"

#include <stdio.h>
#include <string.h>

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
