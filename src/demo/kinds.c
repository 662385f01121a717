/* kinds: owns the table of planted faults. */
#include "demo/kinds.h"

#include <string.h>

const struct kind_row kind_rows[KIND_N] = {
#define X(symbol, name, is_sure, source, rules, what) {name, is_sure, source, rules, what},
    KIND_TABLE(X)
#undef X
};

bool kind_is_copy(enum kind kind)
{
    return kind >= KIND_COPY_BYTES && kind <= KIND_COPY_MIRROR;
}

enum kind kind_find(const char *name)
{
    int kind = 0;
    while (kind < KIND_N && strcmp(kind_rows[kind].name, name) != 0)
        kind++;
    return (enum kind)kind;
}
