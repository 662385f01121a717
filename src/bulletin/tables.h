/* tables: what the schema's tables share; for tables_*.c only. */
#ifndef BULLETIN_TABLES_H
#define BULLETIN_TABLES_H

#include "bulletin/schema.h"
#include "core/cut.h"
#include "core/truing.h"

#include <stddef.h>

enum { TIME_MAX_S = 3600 * 1000, ITEMS_MAX = 200 };

/* A row's place in its struct, its bounds and its fallback. */
#define AT(type, member)  .offset = offsetof(struct type, member)
#define LENGTH_ABOVE_ZERO .dim = DIM_LENGTH, .min = 1, .max = CUT_LENGTH_MAX
#define LENGTH_FROM_ZERO  .dim = DIM_LENGTH, .min = 0, .max = CUT_LENGTH_MAX
#define ANY_AMOUNT        .dim = DIM_N, .min = -TRUING_AMOUNT_MAX, .max = TRUING_AMOUNT_MAX
#define ABOVE_ZERO        .dim = DIM_N, .min = 1, .max = TRUING_AMOUNT_MAX
#define FROM_ZERO         .dim = DIM_N, .min = 0, .max = TRUING_AMOUNT_MAX
#define LIST(kind, most)  .item = kind, .min = 1, .max = most
#define NOTHING_GIVEN     .fallback = BULLETIN_NO_AMOUNT
#define RECORD(type, what, says, rows)                                                             \
    {                                                                                              \
        .name = what, .size = sizeof(struct type), .fields = rows,                                 \
        .n_fields = sizeof rows / sizeof *rows, .doc = says                                        \
    }

extern const struct record table_head, table_scope, table_labour, table_part, table_kit,
    table_instrument, table_cut, table_item, table_step, table_point, table_adjuster, table_timing,
    table_proof, table_claim, table_decision;

#endif
