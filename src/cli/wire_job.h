/* wire_job: one call of the wire verb: what was asked and what came out, and how both are said (wire_say.c). */
#ifndef CLI_WIRE_JOB_H
#define CLI_WIRE_JOB_H

#include "cli/cli.h"
#include "core/quantity.h"
#include "core/wire.h"

/* Far below anything a conductor's tables can tell; it only forgives the last bit of a double. */
#define WIRE_ROUNDING 1e-12

struct wire_call {
    struct wire_load load;
    int64_t supply_nano, current_nano;
    enum unit length_unit;
    bool has_size, has_most, is_most_percent;
    struct wire wire;
    enum wire_kind list;
    double most_v, most_percent;
};

struct wire_answer {
    struct wire_drop drop; /* with a size only */
    bool is_within;        /* the greatest loss; without one, what there is to lose */
    bool has_least; /* else `least` is the thickest that is listed, and still loses too much */
    struct wire least;
    struct wire_drop least_drop;
};

/* wire_json, wire_words: the whole answer into ctx->out. */
void wire_json(struct cli *ctx, const struct wire_call *c, const struct wire_answer *a);
void wire_words(struct cli *ctx, const struct wire_call *c, const struct wire_answer *a);

#endif
