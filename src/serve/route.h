/* route: which paths there are, who may call them, and how large a body they take. */
#ifndef SERVE_ROUTE_H
#define SERVE_ROUTE_H

#include "serve/http.h"

enum { ROUTE_TOLD_MAX = 24 }; /* bytes; SIGNIN_TOKEN_ROOM is far more */

enum route_body { ROUTE_NO_BODY, ROUTE_JSON, ROUTE_FILE };

struct route {
    const char *method;    /* GET serves HEAD as well */
    const char *path;      /* "/api/v1/claims/{claim}" */
    enum signin_role role; /* the least that may call it; NOBODY: anyone */
    enum route_body body;
    uint64_t body_max; /* of a file 0: the settings' bag_max */
    void (*run)(struct http_call *call);
};

/* route_hashes: whether a call of it hashes a password, which takes memory and time. */
bool route_hashes(const struct route *route);

/* route_is_long: whether a call of it that only looks takes so long that it must not keep the connections' threads. */
bool route_is_long(const struct route *route);

/* route_sums: whether a call of it adds up the campaign. */
bool route_sums(const struct route *route);

extern const struct route routes[];
extern const size_t n_routes;
extern const struct route
    route_page; /* for every other path that is only looked at: the files the program carries */

/* route_cut: the path as decoded parts, in words (as much room as path with its end); a closing slash says nothing. false: malformed, more
 * than HTTP_PARTS_MAX, or a part that is "", "." or "..", or holds a slash or a control byte. */
bool route_cut(const char *path, char *words, const char *parts[HTTP_PARTS_MAX], int *ret_n);

/* route_told: the path as a log may have it, in ret (as much room as path has, with its end). Of a link that signs in only "/enter" is told.
 * Where the path is no call's (route NULL, or the pages'), a part longer than ROUTE_TOLD_MAX bytes becomes "*": it may be such a link,
 * mistyped, or refused before anyone looked where it leads. */
void route_told(const struct route *route, const char *path, char *ret);

/* route_find: by method and path parts. *ret_allow: methods that the path has, "GET, PUT", when the method is not among them; "" when
 * no route has the path. args are filled in. */
const struct route *route_find(const char *method, const char *const *parts, int n_parts,
                               const char *args[HTTP_PARTS_MAX], char ret_allow[64]);

#endif
