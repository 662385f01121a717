/* jsontree: the shape of a JSON tree, between json.c, which builds it, and jsontree.c, which looks into it. Everybody
 * else takes nodes through base/json.h. */
#ifndef BASE_JSONTREE_H
#define BASE_JSONTREE_H

#include "base/json.h"

struct json_node {
    enum json_kind kind;
    int line, column;
    const char *key; /* of a member; borrowed from the jansson tree, as are texts */
    union {
        int64_t integer;
        double real;
        bool truth;
        struct {
            const char *data;
            size_t n;
        } string;
        struct {
            struct json_node *items;
            size_t n;
        } list;
    } as;
};

#endif
