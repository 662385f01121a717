/* exercise_checks: what a set means, once its form is right; for this folder only. */
#ifndef PRACTICE_EXERCISE_CHECKS_H
#define PRACTICE_EXERCISE_CHECKS_H

#include "bulletin/schema.h"
#include "practice/exercise.h"

/* exercise_checks_run: reads the faults' amounts into *set; faults and warnings into s->faults. */
void exercise_checks_run(struct exercise_set *set, const struct schema *s);

#endif
