/* pack: what the two sources behind exports.h share: failing, lists of texts, ranges, room for one
 * call. Not exported. */
#ifndef WASM_PACK_H
#define WASM_PACK_H

#include "core/quantity.h"

#include <stdint.h>
#include <string.h>

/* Room for one call is taken with mw_alloc and given back by pack_release with the mark from
 * before. */
uintptr_t pack_mark(void);
void pack_release(uintptr_t mark);

/* An index, or -1 for (size_t)-1, which is of another size here and there. */
static inline int64_t pack_index(size_t at)
{
    return at == (size_t)-1 ? -1 : (int64_t)at;
}

static inline int32_t pack_fail(enum err code, size_t at, int64_t *ret)
{
    ret[0] = pack_index(at);
    return (int32_t)code;
}

static inline int pack_is_unit(int32_t unit)
{
    return unit >= 0 && unit < (int32_t)UNIT_N;
}

/* pack_split: the n texts, each closed by NUL, of block[0..size) as pointers. */
static inline enum err pack_split(const char *block, size_t size, size_t n, const char **ret)
{
    for (size_t i = 0, at = 0; i < n; i++) {
        const char *end = at < size ? memchr(block + at, '\0', size - at) : NULL;
        if (!end)
            return ERR_SYNTAX;
        ret[i] = block + at;
        at = (size_t)(end - block) + 1;
    }
    return ERR_OK;
}

/* A whole number as an index or count: refused beyond its range rather than cut. */
static inline int pack_is_within(int64_t value, int64_t least, int64_t greatest)
{
    return value >= least && value <= greatest;
}

static inline void pack_copy_text(char *buf, size_t room, const char *text)
{
    size_t size = strlen(text);
    if (room == 0)
        return;
    if (size > room - 1)
        size = room - 1;
    memcpy(buf, text, size);
    buf[size] = '\0';
}

#endif
