/* true_json: the answer to a truing problem as JSON, the same members whether the problem came from
 * a file or from a bulletin. */
#ifndef CLI_TRUE_JSON_H
#define CLI_TRUE_JSON_H

#include "base/jsonw.h"
#include "base/problem.h"

/* true_json: the members of the contract into the object that is open. verdict: of the whole call.
 */
void true_json(struct jsonw *w, const struct problem *problem, const struct truing_answer *answer,
               enum verdict verdict);

/* true_json_none: the same members for a call in which nothing can be trued: no points, no plans.
 */
void true_json_none(struct jsonw *w, enum verdict verdict);

#endif
