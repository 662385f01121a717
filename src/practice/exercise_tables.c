/* exercise_tables: the rows of a set of exercises, for the bulletin's reader. */
#include "practice/exercise_tables.h"

#include "practice/exercise.h"

#define AT(type, member) .offset = offsetof(struct type, member)
#define RECORD(type, what, says, rows)                                                             \
    {                                                                                              \
        .name = what, .size = sizeof(struct type), .fields = rows,                                 \
        .n_fields = sizeof rows / sizeof *rows, .doc = says                                        \
    }

static const char *const levels[] = {"easy", "medium", "hard", NULL};
static const char *const goals[] = {"gaps", "ends",    "volts",  "amps", "seconds",
                                    "keys", "careful", "cannot", NULL};
static const char *const sides[] = {"fore", "aft", NULL};
static const char *const places[] = {"lower", "upper", NULL};
static const char *const kinds[] = {
#define X(symbol, number, id) [symbol] = id,
    PRACTICE_FAULT_TABLE(X)
#undef X
        [PRACTICE_FAULT_N] = NULL};

const char *exercise_level_name(int level)
{
    return level >= 0 && level <= EXERCISE_HARD ? levels[level] : "?";
}

const char *exercise_goal_name(int goal)
{
    return goal >= 0 && goal < EXERCISE_GOAL_N ? goals[goal] : "?";
}

const char *exercise_side_name(int side)
{
    return side == 0 || side == 1 ? sides[side] : "?";
}

const char *exercise_place_name(int place)
{
    return place == 0 || place == 1 ? places[place] : "?";
}

static const struct field fault_fields[] = {
    {"fault", FIELD_WORD, FIELD_REQUIRED, AT(exercise_fault, kind), .words = kinds,
     .doc = "what is wrong", .example = "teeth"},
    {"side", FIELD_WORD, FIELD_OPTIONAL, AT(exercise_fault, side), .words = sides, .fallback = -1,
     .doc = "on which column", .example = "fore"},
    {"place", FIELD_WORD, FIELD_OPTIONAL, AT(exercise_fault, place), .words = places,
     .fallback = -1, .doc = "at which rack or fixing", .example = "upper"},
    {"amount", FIELD_LINE, FIELD_REQUIRED, AT(exercise_fault, written),
     .doc = "how much, with its unit", .example = "+1 teeth"},
};
static const struct record table_fault =
    RECORD(exercise_fault, "a fault", "One thing that is wrong with the unit.", fault_fields);

static const struct field limits_fields[] = {
    {"minutes", FIELD_INT, FIELD_REQUIRED, AT(exercise_limits, minutes), .min = 1,
     .max = EXERCISE_MINUTES_MAX, .doc = "most minutes, all work counted", .example = "90"},
    {"moves", FIELD_INT, FIELD_REQUIRED, AT(exercise_limits, moves), .min = 0,
     .max = EXERCISE_MOVES_MAX, .doc = "most parts moved or renewed", .example = "4"},
};
static const struct record table_limits =
    RECORD(exercise_limits, "the limits", "How much it may take.", limits_fields);

static const struct field choice_fields[] = {
    {"id", FIELD_ID, FIELD_REQUIRED, AT(exercise_choice, id), .doc = "its name in results",
     .example = "fore-upper"},
    {"text", FIELD_TEXT, FIELD_REQUIRED, AT(exercise_choice, text), .doc = "what can be answered",
     .example = "The upper rack of the fore column"},
    {"right", FIELD_BOOL, FIELD_OPTIONAL, AT(exercise_choice, is_right),
     .doc = "whether it is a right answer", .example = "true"},
};
static const struct record table_choice =
    RECORD(exercise_choice, "a choice", "An answer to choose.", choice_fields);

static const struct field question_fields[] = {
    {"id", FIELD_ID, FIELD_REQUIRED, AT(exercise_question, id), .doc = "its name in results",
     .example = "which-rack"},
    {"text", FIELD_TEXT, FIELD_REQUIRED, AT(exercise_question, text), .doc = "what is asked",
     .example = "Which rack was out of step?"},
    {"choices", FIELD_LIST, FIELD_REQUIRED, AT(exercise_question, choices), .item = FIELD_RECORD,
     .min = 2, .max = EXERCISE_CHOICES_MAX, .record = &table_choice, .doc = "answers to choose"},
};
static const struct record table_question =
    RECORD(exercise_question, "a question", "Asked at the end, one answer.", question_fields);

static const struct field exercise_fields[] = {
    {"id", FIELD_ID, FIELD_REQUIRED, AT(exercise, id), .doc = "its name in results",
     .example = "one-tooth"},
    {"level", FIELD_WORD, FIELD_REQUIRED, AT(exercise, level), .words = levels,
     .doc = "how hard it is", .example = "easy"},
    {"title", FIELD_TEXT, FIELD_REQUIRED, AT(exercise, title),
     .doc = "a few words that do not give it away", .example = "It goes in crooked"},
    {"told", FIELD_TEXT, FIELD_REQUIRED, AT(exercise, told), .doc = "what the customer says",
     .example = "Since the last camp it goes in crooked"},
    {"seed", FIELD_INT, FIELD_REQUIRED, AT(exercise, seed), .min = 0, .max = INT32_MAX,
     .doc = "of the noise in the readings", .example = "17"},
    {"faults", FIELD_LIST, FIELD_REQUIRED, AT(exercise, faults), .item = FIELD_RECORD, .min = 1,
     .max = PRACTICE_FAULTS_MAX, .record = &table_fault, .doc = "what is wrong"},
    {"goal", FIELD_LIST, FIELD_OPTIONAL, AT(exercise, goal), .item = FIELD_WORD, .min = 1,
     .max = EXERCISE_GOAL_N, .words = goals, .doc = "what must hold at the end",
     .example = "[gaps, ends]"},
    {"limits", FIELD_RECORD, FIELD_REQUIRED, AT(exercise, limits), .record = &table_limits,
     .doc = "how much it may take"},
    {"hints", FIELD_LIST, FIELD_OPTIONAL, AT(exercise, hints), .item = FIELD_TEXT, .min = 1,
     .max = EXERCISE_HINTS_MAX, .doc = "help, from gentle to plain",
     .example = "[Look at the rack ends first]"},
    {"questions", FIELD_LIST, FIELD_OPTIONAL, AT(exercise, questions), .item = FIELD_RECORD,
     .min = 1, .max = EXERCISE_QUESTIONS_MAX, .record = &table_question, .doc = "asked at the end"},
};
static const struct record table_exercise =
    RECORD(exercise, "an exercise", "One unit with something wrong.", exercise_fields);

static const struct field head_fields[] = {
    {"id", FIELD_ID, FIELD_REQUIRED, AT(exercise_head, id), .doc = "its name in results",
     .example = "first-steps"},
    {"title", FIELD_TEXT, FIELD_REQUIRED, AT(exercise_head, title), .doc = "a few words",
     .example = "First steps"},
    {"about", FIELD_TEXT, FIELD_OPTIONAL, AT(exercise_head, about), .doc = "for whom, and what for",
     .example = "For a first morning with the tape in hand"},
    {"language", FIELD_LANGUAGE, FIELD_REQUIRED, AT(exercise_head, language),
     .doc = "the set's own; every text has it", .example = "en"},
    {"invented", FIELD_BOOL, FIELD_OPTIONAL, AT(exercise_head, is_invented),
     .doc = "made up, and shown so", .example = "true"},
    {"exam", FIELD_BOOL, FIELD_OPTIONAL, AT(exercise_head, is_exam),
     .doc = "one attempt counts, no hints, no undo", .example = "true"},
};
static const struct record table_head =
    RECORD(exercise_head, "the set's head", "What the set is.", head_fields);

static const struct field set_fields[] = {
    {"set", FIELD_RECORD, FIELD_REQUIRED, AT(exercise_set, head), .record = &table_head,
     .doc = "what the set is"},
    {"exercises", FIELD_LIST, FIELD_REQUIRED, AT(exercise_set, exercises), .item = FIELD_RECORD,
     .min = 1, .max = EXERCISES_MAX, .record = &table_exercise, .doc = "from easy to hard"},
};
static const struct record table_set =
    RECORD(exercise_set, "a set of exercises", "Exercises on the practice unit.", set_fields);

const struct record *exercise_tables_root(void)
{
    return &table_set;
}
