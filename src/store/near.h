/* near: a store that is read from a standby of its PostgreSQL, so that long reading is no burden on the primary. Whoever reads is told how far
 * the standby is behind; one that cannot be used is no reason not to answer: the primary is read then, and that is told too. */
#ifndef STORE_NEAR_H
#define STORE_NEAR_H

#include "store/store.h"

struct store_near {
    bool is_asked;   /* a place to read from was given */
    bool is_used;    /* it is what is read */
    bool is_standby; /* and it follows a primary */
    int64_t seq;     /* the last entry of the log that it has; 0: none */
    int64_t
        behind; /* how many entries more the primary has, at most; -1: the primary cannot be asked */
    int64_t as_of_ms;            /* when the last change that it has was made; STORE_UNKNOWN */
    char why[FAULT_MESSAGE_MAX]; /* why it is not used; "" */
};

/* store_open_near: for reading. path: the store; from: the address of a standby (files= and schema= are those of path where it has none), or
 * NULL: the store itself. A standby that cannot be reached, that is no store, or whose log is not the one of path is not used. Errors:
 * those of store_open; ERR_SYNTAX: one of the two is no address of a PostgreSQL. */
MUST_USE enum err store_open_near(const char *path, const char *from, struct store **ret,
                                  struct store_near *ret_near, struct fault *reterr);

/* store_near_say: in one sentence, without the full stop; "" when no standby was asked for. Returns buf. */
const char *store_near_say(const struct store_near *near, char *buf, size_t room);

#endif
