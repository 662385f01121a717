/* classroom: what the practice pages leave at the desk: sets of exercises that the owner shares, exams begun, results handed in. A
 * database of its own (practice.db beside store.db): none of it is proof of work, so nothing stands in the log, and a person's part is
 * forgotten with the person. `store backup --with-people` copies it.
 *
 * What a set says and whether a result is right is desk/classroom.h's business; here are rows. A struct classroom is used by one thread
 * at a time; several processes may use the file at once. Times are milliseconds UTC, the caller's. */
#ifndef STORE_CLASSROOM_H
#define STORE_CLASSROOM_H

#include "base/digest.h"
#include "base/fault.h"
#include "base/text.h"

#include <stdbool.h>
#include <stdint.h>

enum {
    CLASSROOM_ID_ROOM = 49, /* of a set, an exercise, a question */
    CLASSROOM_NAME_ROOM = 65,
    CLASSROOM_HEX_ROOM = 2 * DIGEST_SHA256_SIZE + 1,
    CLASSROOM_SHARED_MAX = 24,    /* sets at once */
    CLASSROOM_KEPT_MAX = 400,     /* sets ever: results name the one they were done by */
    CLASSROOM_RESULTS_MAX = 2000, /* of one person */
    CLASSROOM_ALL_MAX = 200000
};

struct classroom;

/* classroom_open: the file in the store's folder, made when it is not there yet. Errors: those of people_open. classroom_close: NULL is fine. */
MUST_USE enum err classroom_open(const char *store, struct classroom **ret, struct fault *reterr);
void classroom_close(struct classroom *c);

/* ---- sets ---------------------------------------------------------------------------------- */

struct classroom_set {
    char id[CLASSROOM_ID_ROOM], sha256[CLASSROOM_HEX_ROOM], by[CLASSROOM_NAME_ROOM];
    int64_t kept_ms;
    const char *yaml; /* borrowed */
    size_t n;
};

/* classroom_share: this set is the one of its id from now on; the same bytes again change nothing. Errors: ERR_LIMIT, the database's.
 * classroom_withdraw: no set of that id is shared any more; results stay. ERR_UNKNOWN. */
MUST_USE enum err classroom_share(struct classroom *c, const struct classroom_set *set,
                                  struct fault *reterr);
MUST_USE enum err classroom_withdraw(struct classroom *c, const char *id, struct fault *reterr);

/* classroom_sets: those that are shared, by id. classroom_set_text: the bytes of a set by its digest, shared or not, appended to ret. */
typedef bool classroom_see_set(void *me, const struct classroom_set *set);
MUST_USE enum err classroom_sets(struct classroom *c, classroom_see_set *see, void *me,
                                 struct fault *reterr);
MUST_USE enum err classroom_set_text(struct classroom *c, const char *sha256, struct text *ret,
                                     bool *ret_found, struct fault *reterr);

/* ---- exams --------------------------------------------------------------------------------- */

/* classroom_begin: notes when a person began an exercise of a set; the first time holds. *ret_ms: when that was.
 * classroom_began: 0 when not. */
MUST_USE enum err classroom_begin(struct classroom *c, const char *sha256, const char *exercise,
                                  const char *person, int64_t now_ms, int64_t *ret_ms,
                                  struct fault *reterr);
MUST_USE enum err classroom_began(struct classroom *c, const char *sha256, const char *exercise,
                                  const char *person, int64_t *ret_ms, struct fault *reterr);

/* ---- results ------------------------------------------------------------------------------- */

struct classroom_result {
    char digest[CLASSROOM_HEX_ROOM]; /* of what was handed in */
    char person[CLASSROOM_NAME_ROOM], shop[CLASSROOM_NAME_ROOM];
    char set[CLASSROOM_ID_ROOM], set_sha256[CLASSROOM_HEX_ROOM], exercise[CLASSROOM_ID_ROOM];
    bool is_exam, is_reached;
    int64_t came_ms, began_ms, ended_ms, hints, seconds, moves, cautions, right, questions;
    const char *account; /* JSON, borrowed: the replay's account and the answers */
    size_t n_account;
};

/* A reading in a result, taken before anything was moved. */
struct classroom_reading {
    int32_t place; /* corner 0..7, of MECHANISM_CORNERS' order */
    int64_t nano;
};

enum classroom_added { CLASSROOM_NEW, CLASSROOM_ALREADY, CLASSROOM_SECOND };

/* classroom_add: a result and its readings. *ret: ALREADY, the same digest of the same person is there; SECOND, an exam of theirs in this
 * exercise is: nothing was then written. Errors: ERR_LIMIT, the database's. */
MUST_USE enum err classroom_add(struct classroom *c, const struct classroom_result *r,
                                const struct classroom_reading *readings, size_t n,
                                enum classroom_added *ret, struct fault *reterr);

/* classroom_results: the newest first, until see returns false. classroom_readings: of all results, by set, exercise, place, person, and
 * in the order in which they were taken. */
typedef bool classroom_see_result(void *me, const struct classroom_result *r);
MUST_USE enum err classroom_results(struct classroom *c, classroom_see_result *see, void *me,
                                    struct fault *reterr);
typedef bool classroom_see_reading(void *me, const char *set, const char *exercise,
                                   const char *person, const struct classroom_reading *reading);
MUST_USE enum err classroom_readings(struct classroom *c, classroom_see_reading *see, void *me,
                                     struct fault *reterr);

/* classroom_forget: everything of a person. classroom_copy: the whole into the folder `to`; nothing when there is none. */
MUST_USE enum err classroom_forget(struct classroom *c, const char *person, struct fault *reterr);
MUST_USE enum err classroom_copy(const char *from, const char *to, struct fault *reterr);

#endif
