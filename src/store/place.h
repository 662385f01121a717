/* place: where a store lies, by the one word that --store gives. Inside src/store/.
 *
 *   FOLDER                      SQLite: FOLDER/store.db, people.db, jobs.db beside it, photos/ and the other files in FOLDER
 *   postgresql://[USER@][HOST][:PORT]/[DATABASE]?files=FOLDER[&schema=NAME][&...]
 *                               PostgreSQL: the schemas NAME (mendwright when not given), NAME_people, NAME_jobs; photos/ and the other
 *                               files in FOLDER. What else stands behind ? goes to libpq (its manual, "Connection URIs"). postgres:// too.
 *                               With photos=s3://BUCKET[/PREFIX]&s3_endpoint=https://HOST[:PORT] photos lie in an object store that
 *                               speaks S3, all other files in FOLDER. s3_region=NAME, s3_ca=FILE (who signs its certificate),
 *                               s3_wait=SECONDS (of silence). Its key comes from the environment or a file (s3.h).
 *
 * A password in the address is refused: it would stand in the list of processes. It belongs into the password file, a service file
 * or the environment (PGPASSFILE, PGSERVICE), which libpq reads. */
#ifndef STORE_PLACE_H
#define STORE_PLACE_H

#include "store/files.h"

enum {
    PLACE_ROOM = 2 * FILES_PATH_MAX,
    PLACE_SCHEMA_MAX = 48,
    PLACE_BUCKET_MAX = 64, /* with its NUL, as the next three */
    PLACE_PREFIX_MAX = 256,
    PLACE_ENDPOINT_MAX = 256,
    PLACE_REGION_MAX = 64
};

struct place_s3 {
    bool is_used;
    char bucket[PLACE_BUCKET_MAX];     /* 3 to 63 of a-z 0-9 . - */
    char prefix[PLACE_PREFIX_MAX];     /* names of A-Z a-z 0-9 . _ - with / between; "" */
    char endpoint[PLACE_ENDPOINT_MAX]; /* "https://HOST[:PORT]"; http of this machine alone */
    char region[PLACE_REGION_MAX];
    char ca[FILES_PATH_MAX]; /* PEM; "": those that the system trusts */
    int wait_s;
};

struct place {
    bool is_server;
    char files[FILES_PATH_MAX]; /* the folder, without a slash at its end */
    struct place_s3 s3;         /* where photos lie, when it is_used */
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
