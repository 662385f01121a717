/* instances: owns how random truing problems are drawn. */
#include "instances.h"

#include <string.h>

const char *instance_family_name(enum instance_family f)
{
    static const char *const names[INSTANCE_N] = {"wall", "dense", "ties", "tight", "odd"};
    return names[f];
}

uint64_t instance_random(uint64_t *state)
{
    uint64_t z = (*state += UINT64_C(0x9e3779b97f4a7c15));
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return z ^ (z >> 31);
}

static int64_t between(uint64_t *state, int64_t lo, int64_t hi)
{
    return lo + (int64_t)(instance_random(state) % (uint64_t)(hi - lo + 1));
}

static int64_t draw_effect(uint64_t *state, enum instance_family family)
{
    switch (family) {
    case INSTANCE_WALL:
        return between(state, 0, 3) ? 0 : between(state, -4, 4) * 250000;
    case INSTANCE_TIES:
        return between(state, -1, 1) * 1000000;
    case INSTANCE_ODD:
        return between(state, -1200000, 1200000);
    default:
        return between(state, -4, 4) * 250000;
    }
}

static void draw_adjuster(uint64_t *state, enum instance_family family, struct truing_adjuster *ret)
{
    ret->max = (int32_t)between(state, 1, 5);
    ret->min = between(state, 0, 3) ? -(int32_t)between(state, 0, 5) : 0;
    if (family == INSTANCE_TIES) {
        ret->min = -2;
        ret->max = 2;
        ret->setup_s = 300;
        ret->step_s = 60;
        return;
    }
    ret->setup_s = between(state, 2, 20) * 60;
    ret->step_s = between(state, 0, 6) * 15;
}

void instance_make(uint64_t seed, enum instance_family family, struct instance *ret)
{
    uint64_t state = seed * 977 + (uint64_t)family;
    memset(ret, 0, sizeof *ret);
    size_t n_points = (size_t)between(&state, 8, 12), n_adjusters = (size_t)between(&state, 4, 14);
    for (size_t a = 0; a < n_adjusters; a++) {
        draw_adjuster(&state, family, &ret->adjusters[a]);
        for (size_t p = 0; p < n_points; p++)
            ret->effect[a * n_points + p] = draw_effect(&state, family);
        if (family == INSTANCE_TIES && a > 0 && between(&state, 0, 2) == 0)
            memcpy(&ret->effect[a * n_points], &ret->effect[(a - 1) * n_points],
                   n_points * sizeof ret->effect[0]);
    }
    /* Half of the problems start from a unit that a hidden move put out, so that a way back exists or nearly exists. */
    bool has_way = between(&state, 0, 3) != 0;
    for (size_t p = 0; p < n_points; p++) {
        struct truing_point *q = &ret->points[p];
        q->nominal = 58000000;
        q->low = q->nominal - between(&state, 4, 12) * 250000;
        q->high = q->nominal + between(&state, 4, 12) * 250000;
        if (family == INSTANCE_TIGHT) {
            q->low = q->nominal - between(&state, 0, 2) * 100000;
            q->high = q->nominal + between(&state, 0, 2) * 100000;
        }
        q->reading = q->nominal + between(&state, -20, 20) * (has_way ? 50000 : 200000);
        q->u = 150000;
    }
    for (size_t a = 0; has_way && a < n_adjusters; a++) {
        const struct truing_adjuster *adj = &ret->adjusters[a];
        int64_t x = between(&state, 0, 1) ? between(&state, adj->min, adj->max) : 0;
        for (size_t p = 0; p < n_points; p++)
            ret->points[p].reading -= x * ret->effect[a * n_points + p];
    }
    ret->problem =
        (struct truing_problem){.n_points = n_points,
                                .n_adjusters = n_adjusters,
                                .points = ret->points,
                                .adjusters = ret->adjusters,
                                .effect = ret->effect,
                                .has_guard = between(&state, 0, 3) == 0 && family != INSTANCE_TIGHT,
                                .risk = 0.05,
                                .n_plans = 3};
}
