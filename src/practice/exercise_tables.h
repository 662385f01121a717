/* exercise_tables: which keys a set of exercises has; for this folder only. */
#ifndef PRACTICE_EXERCISE_TABLES_H
#define PRACTICE_EXERCISE_TABLES_H

#include "bulletin/schema.h"

/* The whole file: fills struct exercise_set. */
const struct record *exercise_tables_root(void);

const char *exercise_side_name(int side);   /* "fore" */
const char *exercise_place_name(int place); /* "lower" */

#endif
