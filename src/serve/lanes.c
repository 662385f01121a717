/* lanes: owns the lanes of the server and how many threads each has. */
#include "serve/lanes.h"

#include "serve/http.h"

#include <stdlib.h>

enum { HASHERS_MAX = 4 };

struct lanes {
    struct lane *hashing, *changing, *taking, *summing;
};

static int hashers(int n)
{
    return n / 4 < 1 ? 1 : n / 4 > HASHERS_MAX ? HASHERS_MAX : n / 4;
}

static int changers(int n)
{
    return n / 2 < 1 ? 1 : n / 2;
}

int lanes_threads(int n_threads)
{
    return hashers(n_threads) + 2 * changers(n_threads) + 1;
}

struct lanes *lanes_new(int n_threads, lane_do *run)
{
    struct lanes *l = calloc(1, sizeof *l);
    if (l == NULL)
        return NULL;
    l->hashing = lane_new(hashers(n_threads), HTTP_HASHING_MAX, run);
    l->changing = lane_new(changers(n_threads), HTTP_CHANGES_MAX, run);
    l->taking = lane_new(changers(n_threads), HTTP_FILES_MAX, run);
    l->summing = lane_new(1, HTTP_SUMS_MAX, run);
    if (l->hashing != NULL && l->changing != NULL && l->taking != NULL && l->summing != NULL)
        return l;
    lanes_free(l);
    return NULL;
}

void lanes_end(struct lanes *lanes)
{
    if (lanes == NULL)
        return;
    lane_end(lanes->hashing);
    lane_end(lanes->changing);
    lane_end(lanes->taking);
    lane_end(lanes->summing);
}

void lanes_free(struct lanes *lanes)
{
    if (lanes == NULL)
        return;
    lane_free(lanes->hashing);
    lane_free(lanes->changing);
    lane_free(lanes->taking);
    lane_free(lanes->summing);
    free(lanes);
}

struct lane *lanes_of(const struct lanes *lanes, const struct route *route)
{
    const bool is_slow = route->body == ROUTE_FILE || route_is_long(route);
    return route_hashes(route) ? lanes->hashing
           : route_sums(route) ? lanes->summing
           : is_slow           ? lanes->taking
                               : lanes->changing;
}
