/* place: where a store lies, by the one word that --store gives. Inside src/store/.
 *
 *   FOLDER                      SQLite: FOLDER/store.db, people.db, jobs.db beside it, photos/ and the other files in FOLDER
 *   postgresql://[USER@][HOST][:PORT]/[DATABASE]?files=FOLDER[&schema=NAME][&...]
 *                               PostgreSQL: the schemas NAME (mendwright when not given), NAME_people, NAME_jobs; photos/ and the other
 *                               files in FOLDER. What else stands behind ? goes to libpq (its manual, "Connection URIs"). postgres:// too.
 *
 * A password in the address is refused: it would stand in the list of processes. It belongs into the password file, a service file
 * or the environment (PGPASSFILE, PGSERVICE), which libpq reads. */
#ifndef STORE_PLACE_H
#define STORE_PLACE_H

#include "store/files.h"

enum { PLACE_ROOM = 2 * FILES_PATH_MAX, PLACE_SCHEMA_MAX = 48 };

struct place {
    bool is_server;
    char files[FILES_PATH_MAX]; /* the folder, without a slash at its end */
    char db[PLACE_ROOM];        /* for db_open */
    char shown[FAULT_FILE_MAX]; /* for messages: no user, no options */
};

bool place_is_server(const char *store);

/* place_find: name is that of the database: "store.db", "people.db", "jobs.db". Errors: ERR_OPEN (empty; a server's without files),
 * ERR_LIMIT, ERR_SYNTAX, ERR_DOMAIN (a password). ret->shown is filled in in any case. */
MUST_USE enum err place_find(const char *store, const char *name, struct place *ret,
                             struct fault *reterr);

/* place_server: what place.db of a server means: the address for libpq (allocated), the schema, the entries of the log in one partition
 * when it is made. */
MUST_USE enum err place_server(const char *db, char **ret_uri, char ret_schema[64],
                               int64_t *ret_log_part, struct fault *reterr);

/* place_near: the address `from` of another server that holds the store at `store`: with the store's files= and schema= where it has none.
 * Errors: ERR_SYNTAX (one of them is no server's address), ERR_LIMIT. */
MUST_USE enum err place_near(const char *store, const char *from, char *buf, size_t room,
                             struct fault *reterr);

#endif
