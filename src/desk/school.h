/* school: practice at the desk: which sets of exercises there are, exams that begin, results that come in and are played again here, and
 * what the owner sees of them. The sets that come with the program are always there; the owner's own are kept in the store's folder
 * (store/classroom.h).
 *
 * A result is the list of operations, not a mark: the server plays them on the exercise's unit by the same core as the phone, so the
 * account is its own. What it cannot know is who held the phone, and whether a list was tried elsewhere before: an exam's exercise is
 * told only when its holder begins it, and then the phone holds the seed, because it must work without a network. That is no secret kept
 * from somebody who takes the phone apart; an exam that must be one is sat in the class room. */
#ifndef DESK_SCHOOL_H
#define DESK_SCHOOL_H

#include "base/jsonw.h"
#include "practice/exercise.h"
#include "store/classroom.h"

enum {
    SCHOOL_BODY_MAX = 256 * 1024, /* bytes of a result */
    SCHOOL_CSV_MAX = 1024 * 1024,
    SCHOOL_READINGS_MAX = 64, /* kept of one result */
    SCHOOL_LOOK_MAX = 20000,  /* newest results that the owner's page looks at */
    SCHOOL_SHOWN_MAX = 200    /* of which so many are listed one by one */
};

struct school_who {
    const char *person, *shop;
    bool is_owner;
    int64_t now_ms;
};

/* school_sets: "sets": [doc/practice.schema.json], those of the program first; of an exam a person who is not the owner is told the truth
 * (seed, faults, goal, hints, right choices) of the exercises they have begun. For the owner "kept" as well: [{set, sha256, by, kept_ms}].
 * Into an open object. */
MUST_USE enum err school_sets(struct classroom *c, const struct school_who *who, struct jsonw *w,
                              struct fault *reterr);

/* school_check: "valid", "set", "exercises", the faults (fault_list_tell), of a set that is only looked at. */
MUST_USE enum err school_check(const char *text, size_t n, struct jsonw *w, struct fault *reterr);

/* school_share: text[0..n) is the set `id` from now on: "set", "sha256", "exercises". Errors: the file's first fault, with its place;
 * ERR_DOMAIN (another id in it, or one that comes with the program), those of classroom_share. */
MUST_USE enum err school_share(struct classroom *c, const struct school_who *who, const char *id,
                               const char *text, size_t n, struct jsonw *w, struct fault *reterr);

/* school_begin: a person begins an exercise of an exam; from then on they are told it whole: "began_ms", "set", "sha256", "exercise":
 * {...}. Begun before: the same again. Errors: ERR_UNKNOWN, ERR_DOMAIN (no exam), the database's. */
MUST_USE enum err school_begin(struct classroom *c, const struct school_who *who, const char *set,
                               const char *exercise, struct jsonw *w, struct fault *reterr);

/* school_take: a result, text[0..n): {"set", "set_sha256", "exercise", "mode": "practice" or "exam", "seed", "ops": [[op, side, place,
 * amount], ...], "hints_used", "answers": {question: choice}, "began", "ended": RFC 3339}. Told: "result" (its digest), "already", and the
 * account (replay_tell, "right", "questions", "passed"). Errors: ERR_SYNTAX, ERR_TYPE, ERR_RANGE with the path; ERR_UNKNOWN (no such set
 * or exercise); ERR_DOMAIN (another seed; an exam with hints, not begun, or as practice); ERR_DUPLICATE (a second exam in the
 * exercise). */
MUST_USE enum err school_take(struct classroom *c, const struct school_who *who, const char *text,
                              size_t n, struct jsonw *w, bool *ret_new, struct fault *reterr);

/* school_results: what the owner sees: "results" (the newest), "people", "exercises", "questions", "disagree" (gaps of one exercise as read
 * by several people before anything was moved), "gauge" (school_gauge of the exercise where most people read everything twice; or null);
 * "looked_at": how many results that is. Into an open object. */
MUST_USE enum err school_results(struct classroom *c, struct jsonw *w, struct fault *reterr);

/* school_gauge: a gauge study (desk/study_gauge.h) of a CSV file with the columns part, operator, value (mm), into an open object. Errors:
 * those of study_table_parse and study_gauge. */
MUST_USE enum err school_gauge(const char *csv, size_t n, struct jsonw *w, struct fault *reterr);

/* ---- inside src/desk/ ---------------------------------------------------------------------- */

/* A set that was found, the caller's: school_set_done. */
struct school_set {
    struct exercise_set *set;
    char sha256[CLASSROOM_HEX_ROOM];
    bool is_builtin;
};
/* By digest, shared or not; ERR_UNKNOWN. By id, of those that are shared. */
MUST_USE enum err school_set_by_digest(struct classroom *c, const char *sha256,
                                       struct school_set *ret, struct fault *reterr);
MUST_USE enum err school_set_by_id(struct classroom *c, const char *id, struct school_set *ret,
                                   struct fault *reterr);
void school_set_done(struct school_set *s);

#endif
