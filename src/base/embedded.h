/* embedded: files that the program carries in itself (tools/embed): a table closed by a NULL path. */
#ifndef BASE_EMBEDDED_H
#define BASE_EMBEDDED_H

#include <stddef.h>

struct embedded {
    const char *path;           /* as it stands in the tree, "examples/OV-26-03.yaml" */
    const unsigned char *bytes; /* a NUL follows that size does not count */
    size_t size;
    const char *tag; /* the first 32 hexadecimal digits of the bytes' SHA-256 */
};

#endif
