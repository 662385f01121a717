/* staff: owns the made-up shops and technicians. */
#include "demo/world.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#define EYE_OFF_NM 5e6 /* standard deviation of how far aside an eye stands */

enum { SHOPS_LEAST = 40, SHOPS_MOST = 4000, UNITS_A_SHOP = 100, PERSONS_MOST = 4, HABIT_EACH = 12 };

static const char *const names[] = {"ada",  "boris", "clara", "dario", "elif", "frida", "goran",
                                    "hana", "ines",  "jonas", "kamil", "lena", "milo",  "nora",
                                    "olek", "petra", "quim",  "rosa",  "sami", "tilda"};

static enum err make_shop(struct world *world, size_t at, struct fault *reterr)
{
    static const int offsets[] = {0, 60, 120};
    struct world_shop *shop = &world->shops[at];
    struct random r;
    random_start(&r, world->seed, RANDOM_SHOP, at);
    shop->kind = random_chance(&r, 0.3) ? BULLETIN_PAYEE_MOBILE : BULLETIN_PAYEE_SHOP;
    snprintf(shop->id, sizeof shop->id, "%s-%02zu",
             shop->kind == BULLETIN_PAYEE_MOBILE ? "fern-mobile" : "fern-yard", at + 1);
    /* At most 71.50: a whole unit's labour then stays below its cap. */
    shop->rate_minor = random_within(&r, 104, 143) * 50;
    shop->offset_min = offsets[random_below(&r, sizeof offsets / sizeof offsets[0])];
    shop->first_person = world->n_persons;
    shop->n_persons = 1 + random_below(&r, PERSONS_MOST);
    world->n_persons += shop->n_persons;
    snprintf(shop->secret.shop, sizeof shop->secret.shop, "%s", shop->id);
    random_start(&r, world->seed, RANDOM_KEY, at);
    random_bytes(&r, shop->secret.seed, sizeof shop->secret.seed);
    const enum err e = sign_key(shop->secret.seed, shop->key);
    return e == ERR_OK ? ERR_OK : fault_set(reterr, e, "a shop's key cannot be made");
}

static void make_person(const struct world *world, size_t at, size_t shop)
{
    struct world_person *person = &world->persons[at];
    struct random r;
    random_start(&r, world->seed, RANDOM_TECHNICIAN, at);
    snprintf(person->id, sizeof person->id, "%s-%zu",
             names[random_below(&r, sizeof names / sizeof names[0])], at + 1);
    person->shop = shop;
    person->speed = 0.86 + 0.28 * random_share(&r);
    /* Within two: a gauge further off than its certificate says would have been sorted out. */
    do
        person->gauge_off = random_normal(&r);
    while (fabs(person->gauge_off) > 2.0);
    person->eye_off_nm = (int64_t)(random_normal(&r) * EYE_OFF_NM);
    person->has_habit = random_below(&r, HABIT_EACH) == 0;
}

enum err world_staff(struct world *world, struct fault *reterr)
{
    const size_t n = world->n_units / UNITS_A_SHOP;
    world->n_shops = n < SHOPS_LEAST ? SHOPS_LEAST : n > SHOPS_MOST ? SHOPS_MOST : n;
    world->shops = calloc(world->n_shops, sizeof *world->shops);
    world->persons = calloc(world->n_shops * PERSONS_MOST, sizeof *world->persons);
    if (world->shops == NULL || world->persons == NULL)
        return fault_no_memory(reterr);
    for (size_t i = 0; i < world->n_shops; i++) {
        const enum err e = make_shop(world, i, reterr);
        if (e != ERR_OK)
            return e;
        for (size_t p = 0; p < world->shops[i].n_persons; p++)
            make_person(world, world->shops[i].first_person + p, i);
    }
    return ERR_OK;
}
