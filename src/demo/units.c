/* units: owns the made-up units: VINs, days of building, labels, and which columns fail.
 *
 * The two columns of a unit were fitted from stock, each built some weeks before the unit, often in different weeks. Half of the
 * columns are drawn from the weeks of their variant's windows and half from all of 2024 and 2025, so that the list of units is
 * that of a campaign (around the bad weeks) and not of a whole production. */
#include "demo/world.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    FIRST_DAY = 19723, /* 2024-01-01, a Monday */
    LAST_DAY = 20453,  /* 2025-12-31 */
    WEEK = 7,
    MEAN_DAYS = 260 /* in service until a column that fails does so */
};
#define SHARE_FROM_WINDOWS 0.5
#define SHARE_SAME_WEEK    0.55

void world_vin(int year, uint64_t serial, char ret[VIN_SIZE + 1])
{
    static const char years[] = "ABCDEFGHJKLMNPRSTVWXY123456789"; /* from 2010 on, 49 CFR 565.15 */
    static const char plants[] = "0123456789ABCDEFGHJKLMNPRSTUVWXYZ";
    struct vin_verdict verdict;
    snprintf(ret, VIN_SIZE + 1, "ZZZFM24T0%c%c%06d", years[(year - 2010) % 30],
             plants[serial / 1000000 % (sizeof plants - 1)], (int)(serial % 1000000));
    vin_check(ret, VIN_SIZE, &verdict);
    ret[8] = verdict.check_expected;
}

void world_label(const struct world *world, size_t pattern, int32_t day, const char *code,
                 char ret[WORLD_LABEL])
{
    const char *text = world->bulletin->scope.labels.at[pattern % world->bulletin->scope.labels.n];
    (void)label_example(text, strlen(text), day, code, ret, WORLD_LABEL);
}

bool world_is_in(const struct world *world, int variant, int32_t day)
{
    const struct bulletin_variant *v = &world->bulletin->scope.variants.at[variant];
    for (size_t i = 0; i < v->windows.n; i++)
        if (day >= v->windows.at[i].from.first && day <= v->windows.at[i].to.last)
            return true;
    return false;
}

int32_t world_window_day(const struct world *world, int variant, struct random *r)
{
    const struct bulletin_variant *v = &world->bulletin->scope.variants.at[variant];
    int64_t all = 0;
    for (size_t i = 0; i < v->windows.n; i++)
        all += v->windows.at[i].to.last - v->windows.at[i].from.first + 1;
    int64_t at = random_within(r, 0, all - 1);
    for (size_t i = 0; i < v->windows.n; i++) {
        const int32_t first = v->windows.at[i].from.first;
        const int64_t n = v->windows.at[i].to.last - first + 1;
        if (at < n)
            return first + (int32_t)at;
        at -= n;
    }
    return v->windows.at[0].from.first;
}

static int32_t monday(int32_t day)
{
    return day - (day + 3) % WEEK; /* day 0 was a Thursday */
}

int32_t world_other_week(const struct world *world, int variant, int32_t day, struct random *r)
{
    int32_t other = day;
    for (int i = 0; i < 1000 && monday(other) == monday(day); i++)
        other = world_window_day(world, variant, r);
    return other;
}

void world_code(const struct world *world, int variant, struct random *r, char *buf, size_t room)
{
    const struct bulletin_variant *v = &world->bulletin->scope.variants.at[variant];
    const char *code = v->codes.at[random_below(r, v->codes.n)];
    const size_t n = strlen(code);
    if (n > 0 && code[n - 1] == '*')
        snprintf(buf, room, "%.*s%c", (int)(n - 1), code, (int)('A' + (int)random_below(r, 4)));
    else
        snprintf(buf, room, "%s", code);
}

static int32_t column_day(const struct world *world, int variant, struct random *r)
{
    return random_chance(r, SHARE_FROM_WINDOWS) ? world_window_day(world, variant, r)
                                                : (int32_t)random_within(r, FIRST_DAY, LAST_DAY);
}

/* A column fails or not at a rate that hangs on where it was built; when it does, after a time that is drawn from an exponential
 * distribution, cut to the time it has been in service. */
static void draw_life(const struct world *world, struct world_station *s, int32_t built,
                      struct random *r)
{
    const double rate = s->is_in ? WORLD_RATE_INSIDE : WORLD_RATE_OUTSIDE;
    const int32_t service = world->bulletin->head.issued - built;
    s->has_failed = random_chance(r, rate);
    s->days = service > 1 ? service : 1;
    if (!s->has_failed)
        return;
    const double share = 1.0 - exp(-(double)s->days / MEAN_DAYS);
    const double days = -(double)MEAN_DAYS * log1p(-random_share(r) * share);
    s->days = days < 1 ? 1 : (int32_t)days;
}

static void make_unit(const struct world *world, size_t at, struct world_unit *u)
{
    struct random r;
    char code[LABEL_VARIANT_MAX + 1];
    int year = 0;
    random_start(&r, world->seed, RANDOM_UNIT, at);
    u->variant = (int)random_below(&r, world->bulletin->scope.variants.n);
    world_code(world, u->variant, &r, code, sizeof code);
    const size_t pattern = random_chance(&r, 0.8) ? 0 : 1;
    for (int s = 0; s < WORLD_STATIONS; s++) {
        struct world_station *station = &u->station[s];
        station->day = s > 0 && random_chance(&r, SHARE_SAME_WEEK)
                           ? u->station[0].day
                           : column_day(world, u->variant, &r);
        station->is_in = world_is_in(world, u->variant, station->day);
        world_label(world, pattern, station->day, code, station->label);
    }
    const int32_t last =
        u->station[0].day > u->station[1].day ? u->station[0].day : u->station[1].day;
    u->day = last + (int32_t)random_within(&r, WEEK, (int64_t)6 * WEEK);
    for (int s = 0; s < WORLD_STATIONS; s++)
        draw_life(world, &u->station[s], u->day, &r);
    date_to_civil(u->day, &year, NULL, NULL);
    world_vin(year, at + 1, u->vin);
}

enum err world_units(struct world *world, struct fault *reterr)
{
    world->units = calloc(world->n_units, sizeof *world->units);
    if (world->units == NULL)
        return fault_no_memory(reterr);
    for (size_t i = 0; i < world->n_units; i++)
        make_unit(world, i, &world->units[i]);
    return ERR_OK;
}
