/* instances: seeded random truing problems, the same ones for the tests against GLPK and for the bench.
 * 8..12 points, 4..14 adjusters of range up to +-5, in five families; feasible and infeasible, with ties. */
#ifndef TEST_PEER_INSTANCES_H
#define TEST_PEER_INSTANCES_H

#include "core/truing.h"

enum instance_family {
    INSTANCE_WALL, /* corner fixings: each adjuster moves two to four points, quarter-millimetre steps */
    INSTANCE_DENSE, /* every adjuster moves every point by a few quarters of a millimetre */
    INSTANCE_TIES,  /* twins, equal costs, whole millimetres: many plans are equally good */
    INSTANCE_TIGHT, /* limits narrower than a step: mostly infeasible */
    INSTANCE_ODD,   /* effects of any nanometre: nothing has a common divisor */
    INSTANCE_N
};

struct instance {
    struct truing_problem problem;
    struct truing_point points[12];
    struct truing_adjuster adjusters[14];
    int64_t effect[14 * 12];
};

const char *instance_family_name(enum instance_family f);

/* instance_make: the problem of a seed; the same everywhere. `ret` owns what ret->problem points to. */
void instance_make(uint64_t seed, enum instance_family family, struct instance *ret);

/* instance_random: next number of a splitmix64 stream (Steele, Lea, Flood 2014; from memory). */
uint64_t instance_random(uint64_t *state);

#endif
