/* fnv: owns the hash of texts in tables. See fnv.h. */
#include "base/fnv.h"

#include <string.h>

uint64_t fnv_more(uint64_t hash, const char *bytes, size_t n)
{
    for (size_t i = 0; i < n; i++)
        hash = (hash ^ (unsigned char)bytes[i]) * UINT64_C(1099511628211);
    return hash;
}

uint64_t fnv_text(const char *text)
{
    return fnv_more(FNV_START, text, strlen(text));
}
