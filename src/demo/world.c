/* world: owns the order in which the invented world is made. */
#include "demo/world.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static bool is_our_kind(const struct bulletin *b)
{
    if (b->scope.stations.n != WORLD_STATIONS || b->scope.variants.n == 0 || b->scope.labels.n == 0)
        return false;
    for (size_t i = 0; i < b->scope.variants.n; i++)
        if (b->scope.variants.at[i].codes.n == 0 || b->scope.variants.at[i].windows.n == 0)
            return false;
    return true;
}

enum err world_make(const struct bulletin *bulletin, const char *sha256, size_t units,
                    uint64_t seed, double faulty, struct world *ret, struct fault *reterr)
{
    *ret = (struct world){.bulletin = bulletin, .seed = seed, .n_units = units};
    snprintf(ret->bulletin_sha256, sizeof ret->bulletin_sha256, "%s", sha256);
    if (!is_our_kind(bulletin))
        return fault_set(reterr, ERR_DOMAIN,
                         "the bulletin has no %d stations, or variants without codes or windows",
                         (int)WORLD_STATIONS);
    ret->rule = calloc(1, sizeof *ret->rule);
    if (ret->rule == NULL)
        return fault_no_memory(reterr);
    enum err e = adapt_scope_rule(bulletin, ret->rule, reterr);
    if (e == ERR_OK)
        e = world_units(ret, reterr);
    if (e == ERR_OK)
        e = world_staff(ret, reterr);
    if (e == ERR_OK)
        e = world_plan(ret, faulty, reterr);
    return e;
}

void world_done(struct world *world)
{
    for (size_t i = 0; world->shops != NULL && i < world->n_shops; i++)
        sign_forget(world->shops[i].secret.seed, sizeof world->shops[i].secret.seed);
    free(world->rule);
    free(world->units);
    free(world->shops);
    free(world->persons);
    free(world->claims);
    *world = (struct world){.units = NULL};
}
