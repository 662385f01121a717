/* beside: small databases that lie beside the log in the store's folder and are to be forgotten in part: people, open jobs. Opening one,
 * making its tables the first time, refusing a stranger's. Inside src/store/. */
#ifndef STORE_BESIDE_H
#define STORE_BESIDE_H

#include "store/db.h"
#include "store/files.h"

struct beside {
    const char *name;   /* of the file: "people.db" */
    const char *what;   /* for messages: "a list of people" */
    const char *schema; /* its tables, for a new one */
    int64_t application, version;
    const char *const *
        steps; /* steps[v - 1]: what makes a file of version v one of v + 1; NULL when version is 1 */
};

/* beside_open: the file in the folder `store`, made, its owner's alone, when it is not there yet; an older one is brought up to this version. path is filled in whenever it fits.
 * Errors: ERR_OPEN, ERR_TYPE (another program's), ERR_DOMAIN (a later version's), ERR_IO, ERR_MEMORY, ERR_LIMIT. *ret is NULL after one. */
MUST_USE enum err beside_open(const struct beside *b, const char *store, char path[FILES_PATH_MAX],
                              struct db **ret, struct fault *reterr);

/* beside_is_there: whether beside_open would find one. beside_open_read: one that is there, as it is, whatever its version, for reading. */
bool beside_is_there(const struct beside *b, const char *store);
MUST_USE enum err beside_open_read(const struct beside *b, const char *store,
                                   char path[FILES_PATH_MAX], struct db **ret,
                                   struct fault *reterr);

/* beside_named: names the file in a fault that names none yet; returns err. */
enum err beside_named(const char *path, enum err err, struct fault *f);

/* beside_finish: commits after ERR_OK, else rolls back; beside_named of what came of it. */
enum err beside_finish(struct db *db, const char *path, enum err err, struct fault *f);

#endif
