/* append: owns the way of the store's own entries onto the log, with what follows from them. */
#include "store/inner.h"

#include <string.h>

enum err store_append_log(struct store *store, struct log_end *end, struct log_entry *e,
                          const char *type, int64_t at_ms, struct fault *reterr)
{
    const struct text *json = &store->json;
    if (json->is_broken)
        return fault_no_memory(reterr);
    if (json->size > JSON_SIZE_MAX) /* it has to be read again */
        return fault_set(reterr, ERR_LIMIT, "makes an entry of %zu bytes; expected at most %d MiB",
                         json->size, JSON_SIZE_MAX / 1048576);
    if (log_name(end, at_ms, e->ulid) != ERR_OK)
        return fault_set(reterr, ERR_DOMAIN, "the time %lld ms lies before 1970 or too far ahead",
                         (long long)at_ms);
    e->type = type;
    e->n_type = strlen(type);
    e->json = json->data;
    e->n_json = json->size;
    return log_append(store->db, store->digest, end, e, reterr);
}

enum err store_append(struct store *store, struct log_end *end, struct log_entry *e,
                      const char *type, int64_t at_ms, struct fault *reterr)
{
    const enum err err = store_append_log(store, end, e, type, at_ms, reterr);
    return err != ERR_OK ? err : derive_entry(store->db, &store->scratch, store->digest, e, reterr);
}

enum err store_append_last(struct store *store, enum err err, struct log_entry *e, const char *type,
                           int64_t at_ms, struct fault *reterr)
{
    struct log_end end;
    if (err == ERR_OK)
        err = log_find_end(store->db, &end, reterr);
    if (err == ERR_OK)
        err = store_append(store, &end, e, type, at_ms, reterr);
    if (err == ERR_OK)
        return db_commit(store->db, reterr);
    db_rollback(store->db);
    return err;
}
