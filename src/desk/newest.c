/* newest: owns a connection that looks at the log's end. */
#include "desk/newest.h"

#include "store/since.h"

#include <stdlib.h>

struct newest {
    struct store *store;
};

enum err newest_open(const char *store, struct newest **ret, struct fault *reterr)
{
    struct newest *n = calloc(1, sizeof *n);
    *ret = NULL;
    if (n == NULL)
        return fault_no_memory(reterr);
    const enum err err = store_open(store, STORE_READ, &n->store, reterr);
    if (err == ERR_OK)
        *ret = n;
    else
        free(n);
    return err;
}

void newest_close(struct newest *n)
{
    if (n != NULL)
        store_close(n->store);
    free(n);
}

enum err newest_seq(struct newest *n, int64_t *ret, struct fault *reterr)
{
    struct store_heads heads = {0};
    const enum err err = store_heads(n->store, 0, &heads, reterr);
    if (err == ERR_OK)
        *ret = heads.seq;
    return err;
}
