/* door: one thread's connections to a store: its claims, its people, its open jobs, its practice. */
#ifndef DESK_DOOR_H
#define DESK_DOOR_H

#include "desk/signin.h"

struct classroom;
struct jobs;
struct store;
struct tell_limits;
struct units_by;
struct draft_held;

struct door {
    struct store *store;
    struct signin *signin;
    struct jobs *jobs;
    struct classroom *classroom;
    struct tell_limits *limits; /* of the claims told through it */
    struct units_by *by;        /* of the units found through it */
    struct draft_held *held;    /* against which drafts are checked through it */
    char path[512];             /* the folder that the store's files lie in */
};

/* door_open: for writing. Errors: those of store_open, signin_open, jobs_open and classroom_open. door_close: NULL is fine. */
MUST_USE enum err door_open(const char *path, struct signin_guard *guard, struct door **ret,
                            struct fault *reterr);
void door_close(struct door *door);

#endif
