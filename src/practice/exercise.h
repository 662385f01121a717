/* exercise: a set of exercises on the practice unit (core/practice.h), read from a YAML file: what is wrong, what the customer says,
 * what must be reached, in how many minutes and moves, hints, questions.
 *
 * Read by the bulletin's reader (bulletin/schema.h, yamltree.h): each fault of the file has its line, column and path, and says what
 * was found and what was expected. Everything a set points at lives in its own arena and dies with exercise_set_free. Texts are as in
 * bulletins (struct bulletin_text). doc/practice.md tells what each key means; doc/practice.schema.json is the exported form. */
#ifndef PRACTICE_EXERCISE_H
#define PRACTICE_EXERCISE_H

#include "base/text.h"
#include "bulletin/bulletin.h"
#include "core/practice.h"

enum {
    EXERCISE_SIZE_MAX = 512 * 1024, /* bytes of a file */
    EXERCISES_MAX = 60,
    EXERCISE_HINTS_MAX = 8,
    EXERCISE_QUESTIONS_MAX = 6,
    EXERCISE_CHOICES_MAX = 6,
    EXERCISE_MINUTES_MAX = 600,
    EXERCISE_MOVES_MAX = 60
};

enum exercise_level { EXERCISE_EASY, EXERCISE_MEDIUM, EXERCISE_HARD };

/* What must hold at the end. The first six are figures of practice_score: exercise_goal_bits. */
enum exercise_goal {
    EXERCISE_GAPS,    /* all eight gaps inside */
    EXERCISE_ENDS,    /* rack ends of both sides */
    EXERCISE_VOLTS,   /* a run out and in: volts at the motors */
    EXERCISE_AMPS,    /* its amperes */
    EXERCISE_SECONDS, /* its seconds */
    EXERCISE_KEYS,    /* no pinion left that creeps */
    EXERCISE_CAREFUL, /* no caution skipped */
    EXERCISE_CANNOT, /* it cannot be brought in, and that must be said: stands alone, with a question */
    EXERCISE_GOAL_N
};

struct exercise_fault {
    const struct yamlnode *node;
    int32_t kind;        /* enum practice_fault_kind */
    int32_t side, place; /* 0, 1; -1: not given */
    const char *written; /* "+1 teeth" */
    int64_t amount;      /* in the model's unit */
};

struct exercise_choice {
    const struct yamlnode *node;
    const char *id;
    struct bulletin_text text;
    bool is_right;
};

struct exercise_question {
    const struct yamlnode *node;
    const char *id;
    struct bulletin_text text;
    BULLETIN_LIST(struct exercise_choice) choices;
};

struct exercise_limits {
    const struct yamlnode *node;
    int32_t minutes, moves;
};

struct exercise {
    const struct yamlnode *node;
    const char *id;
    int32_t level; /* enum exercise_level */
    struct bulletin_text title, told;
    int32_t seed;
    BULLETIN_LIST(struct exercise_fault) faults;
    BULLETIN_LIST(int32_t) goal; /* enum exercise_goal; not given: the first six */
    struct exercise_limits limits;
    BULLETIN_LIST(struct bulletin_text) hints; /* from gentle to plain */
    BULLETIN_LIST(struct exercise_question) questions;
};

struct exercise_head {
    const struct yamlnode *node;
    const char *id;
    struct bulletin_text title, about; /* about: optional */
    const char *language;
    bool is_invented, is_exam;
};

struct exercise_set {
    const struct yamlnode *node;
    struct exercise_head head;
    BULLETIN_LIST(struct exercise) exercises;
};

/* exercise_set_load: text[0..n) as a set; name stands in the faults. NULL with faults->n_faults > 0 when something is wrong; the
 * caller's to free. Form and meaning are checked; whether each can be solved is solve.h's (exercise_set_prove). */
struct exercise_set *exercise_set_load(const char *text, size_t n, const char *name,
                                       struct fault_list *faults);
struct exercise_set *exercise_set_load_file(const char *path, struct fault_list *faults);
void exercise_set_free(struct exercise_set *set);

const struct exercise *exercise_find(const struct exercise_set *set, const char *id);
/* exercise_text: the text in that language, else in the set's own. Never NULL. */
const char *exercise_text(const struct exercise_set *set, const struct bulletin_text *text,
                          const char *language);

/* exercise_plant: the unit as the exercise begins. Errors: those of practice_plant. */
MUST_USE enum err exercise_plant(const struct exercise *x, struct practice *ret);

const char *exercise_level_name(int level); /* "easy"; "?" for none; the same below */
const char *exercise_goal_name(int goal);
/* exercise_has_goal, exercise_goal_bits: of practice_score's `inside`. */
bool exercise_has_goal(const struct exercise *x, enum exercise_goal goal);
uint32_t exercise_goal_bits(const struct exercise *x);
/* exercise_reached: whether the account meets goal and limits, the questions apart. Of one that cannot be brought in: true. */
bool exercise_reached(const struct exercise *x, const struct practice_score *score);

/* exercise_export: the set as JSON, one object without line feed, appended to out; doc/practice.schema.json. sha256: of the file.
 * truth: a bit for each exercise, from the first on; without it seed, faults, goal, hints and which choice is right are left out: what
 * may be seen of an exam before it begins. exercise_export_one: one exercise. */
#define EXERCISE_ALL UINT64_MAX
void exercise_export(const struct exercise_set *set, const char *sha256, uint64_t truth,
                     struct text *out);
void exercise_export_one(const struct exercise *x, bool has_truth, struct text *out);

#endif
