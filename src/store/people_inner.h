/* people_inner: what people.c and people_acts.c share. Inside src/store/. */
#ifndef STORE_PEOPLE_INNER_H
#define STORE_PEOPLE_INNER_H

#include "store/beside.h"
#include "store/people.h"

struct people {
    struct db *db;
    char path[FILES_PATH_MAX];
};

/* The table of acts, version 2 of the file. */
#define PEOPLE_ACTS_SQL                                                                            \
    "CREATE TABLE acts (\n"                                                                        \
    "  n INTEGER /* counted */ PRIMARY KEY, at_ms INTEGER NOT NULL, who TEXT, what TEXT NOT "      \
    "NULL, whom TEXT,\n"                                                                           \
    "  detail TEXT, seq INTEGER\n"                                                                 \
    ") STRICT;\n"                                                                                  \
    "CREATE INDEX acts_by_seq ON acts (seq) WHERE seq IS NOT NULL;\n"

/* people_act_put: one act, in the caller's transaction. */
MUST_USE enum err people_act_put(struct people *p, const struct people_act *act, struct fault *f);

/* people_act_copy: every act of another file (open for reading, perhaps of version 1) into p, in the caller's transaction. */
MUST_USE enum err people_act_copy(struct people *p, struct db *from, struct fault *f);

#endif
