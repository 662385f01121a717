/* Sets of exercises: every fault with its line, column, path and message; amounts into the model's units; each exercise that comes with
 * the program is solved by the plain good procedure and not by doing nothing; a replay gives the same account.
 *
 * The expected place of a fault is where the row's text has an '@' (taken out before it is read), its message is written from
 * doc/practice.md, not from what the program printed. */
#include "base/digest.h"
#include "base/file.h"
#include "practice/amounts.h"
#include "practice/solve.h"
#include "tap.h"

#include <stdlib.h>
#include <string.h>

static const char base[] = "set:\n"
                           "  id: small\n"
                           "  title: {en: Small, fr: Petit}\n"
                           "  language: en\n"
                           "exercises:\n"
                           "  - id: one\n"
                           "    level: easy\n"
                           "    title: {en: One, fr: Un}\n"
                           "    told: {en: It grumbles, fr: Elle grogne}\n"
                           "    seed: 17\n"
                           "    faults:\n"
                           "      - {fault: teeth, side: fore, place: upper, amount: +1 teeth}\n"
                           "    goal: [ends]\n"
                           "    limits: {minutes: 90, moves: 2}\n"
                           "    hints:\n"
                           "      - {en: Look, fr: Regardez}\n"
                           "    questions:\n"
                           "      - id: which\n"
                           "        text: {en: Which, fr: Lequel}\n"
                           "        choices:\n"
                           "          - {id: a, text: {en: A, fr: A}, right: true}\n"
                           "          - {id: b, text: {en: B, fr: B}}\n";

struct row {
    const char *name, *from, *to, *path, *message;
    bool is_warning;
};

#define TOOTH "{fault: teeth, side: fore, place: upper, amount: +1 teeth}"

static const struct row rows[] = {
    /* form */
    {"no set", "set:\n", "@sets:\n", "sets", "unknown key 'sets': did you mean 'set'?", false},
    {"an unknown key", "    seed: 17\n", "    seed: 17\n    @pace: 3\n", "exercises[0].pace",
     "unknown key 'pace': an exercise has id, level, title, told, seed, faults, goal, limits, "
     "hints, questions",
     false},
    {"a misspelt key", "    told:", "    @tol:", "exercises[0].tol",
     "unknown key 'tol': did you mean 'told'?", false},
    {"an id with capitals", "  id: small", "  id: @Small", "set.id",
     "an id is lower-case words with dashes: write 'small' instead of 'Small' (expected an id such "
     "as first-steps)",
     false},
    {"a level that is none", "level: easy", "level: @esy", "exercises[0].level",
     "unknown word 'esy', did you mean 'easy'? (expected one of easy, medium, hard)", false},
    {"a language that is none", "language: en", "language: @English", "set.language",
     "expected a language tag (BCP 47) such as en, found 'English'", false},
    {"a text not in the set's language", "told: {en: It grumbles, fr: Elle grogne}",
     "told: @{fr: Elle grogne}", "exercises[0].told",
     "the text is missing in the set's own language, 'en'", false},
    {"an empty text", "told: {en: It grumbles, fr: Elle grogne}", "@told:", "exercises[0].told",
     "expected a text, or a mapping of languages to texts, such as Since the last camp it goes in "
     "crooked, found nothing",
     false},
    {"a seed that is no number", "seed: 17", "seed: @many", "exercises[0].seed",
     "expected a whole number such as 17, found 'many'", false},
    {"a seed below zero", "seed: 17", "seed: @-1", "exercises[0].seed",
     "-1 is not within 0..2147483647 (expected a whole number such as 17)", false},
    {"no minutes", "{minutes: 90, moves: 2}", "@{moves: 2}", "exercises[0].limits.minutes",
     "'minutes' is missing: most minutes, all work counted (expected a whole number such as 90)",
     false},
    {"no time at all", "minutes: 90", "minutes: @0", "exercises[0].limits.minutes",
     "0 is not within 1..600 (expected a whole number such as 90)", false},
    {"too many moves", "moves: 2", "moves: @61", "exercises[0].limits.moves",
     "61 is not within 0..60 (expected a whole number such as 4)", false},
    {"no faults", "faults:\n      - " TOOTH "\n", "faults: @[]\n", "exercises[0].faults",
     "the list is empty: at least 1 needed", false},
    {"a fault that is none", "fault: teeth", "fault: @tooth", "exercises[0].faults[0].fault", NULL,
     false},
    {"a side that is none", "side: fore", "side: @left", "exercises[0].faults[0].side",
     "expected one of fore, aft, found 'left'", false},
    {"a place that is none", "place: upper", "place: @uper", "exercises[0].faults[0].place",
     "unknown word 'uper', did you mean 'upper'? (expected one of lower, upper)", false},
    {"a fault without an amount", ", amount: +1 teeth}", "}", "", NULL, false},
    {"one choice", "          - {id: b, text: {en: B, fr: B}}\n", "", "", NULL, false},
    {"a right that is neither", "right: true", "right: @yes",
     "exercises[0].questions[0].choices[0].right", "expected true or false, found 'yes'", false},
    {"a hint that is a mapping of nothing", "- {en: Look, fr: Regardez}", "- @{}",
     "exercises[0].hints[0]",
     "expected a text, or a mapping of languages to texts, such as Look at the rack ends first, "
     "found "
     "a mapping",
     false},
    {"a key twice", "    seed: 17\n", "    seed: 17\n    @seed: 18\n", "exercises[0].seed", NULL,
     false},
    /* meaning */
    {"teeth without a side", TOOTH, "@{fault: teeth, place: upper, amount: +1 teeth}",
     "exercises[0].faults[0].side",
     "'side' is missing: the fault 'teeth' has one (expected fore or aft)", false},
    {"teeth without a place", TOOTH, "@{fault: teeth, side: fore, amount: +1 teeth}",
     "exercises[0].faults[0].place",
     "'place' is missing: the fault 'teeth' has one (expected lower or upper)", false},
    {"a width with a side", TOOTH, "{fault: width, @side: fore, amount: 8 mm}",
     "exercises[0].faults[0].side", "the fault 'width' has no side: leave 'side' out", false},
    {"a toe with a place", TOOTH, "{fault: toe, side: fore, @place: upper, amount: +3 notches}",
     "exercises[0].faults[0].place", "the fault 'toe' has no place: leave 'place' out", false},
    {"teeth in mm", "amount: +1 teeth", "amount: @6.3 mm", "exercises[0].faults[0].amount",
     "expected a whole number and teeth for the fault 'teeth', such as +1 teeth; found '6.3 mm'",
     false},
    {"half a tooth", "amount: +1 teeth", "amount: @0.5 teeth", "exercises[0].faults[0].amount",
     "expected a whole number and teeth for the fault 'teeth', such as +1 teeth; found '0.5 teeth'",
     false},
    {"no teeth", "amount: +1 teeth", "amount: @0 teeth", "exercises[0].faults[0].amount",
     "'0 teeth' is no fault at all: expected anything but 0", false},
    {"four teeth", "amount: +1 teeth", "amount: @+4 teeth", "exercises[0].faults[0].amount",
     "'+4 teeth' is outside what the fault 'teeth' may be: expected -3 to 3 teeth", false},
    {"a width without a unit", TOOTH, "{fault: width, amount: @8}", "exercises[0].faults[0].amount",
     "expected a number and mm for the fault 'width', such as 4 mm; found '8'", false},
    {"a width in volts", TOOTH, "{fault: width, amount: @8 V}", "exercises[0].faults[0].amount",
     "expected a number and mm for the fault 'width', such as 4 mm; found '8 V'", false},
    {"a lean in mm", TOOTH, "{fault: lean, amount: @3 mm}", "exercises[0].faults[0].amount",
     "expected a number and mm/m for the fault 'lean', such as 1.5 mm/m; found '3 mm'", false},
    {"a twist in mm/m", TOOTH, "{fault: twist, amount: @3 mm/m}", "exercises[0].faults[0].amount",
     "expected a number and mm/m/m for the fault 'twist', such as 1 mm/m/m; found '3 mm/m'", false},
    {"a width too large", TOOTH, "{fault: width, amount: @41 mm}", "exercises[0].faults[0].amount",
     "'41 mm' is outside what the fault 'width' may be: expected -40 to 40 mm", false},
    {"a wear below zero", TOOTH, "{fault: wear, side: fore, place: upper, amount: @-1 mm}",
     "exercises[0].faults[0].amount",
     "'-1 mm' is outside what the fault 'wear' may be: expected 0 to 5 mm", false},
    {"the same fault twice", TOOTH, TOOTH "\n      - @" TOOTH, "exercises[0].faults[1]",
     "the fault 'teeth' stands there already, in line 12: make one of the two", false},
    {"a goal twice", "goal: [ends]", "goal: [ends, @ends]", "exercises[0].goal[1]",
     "the goal 'ends' is given twice", false},
    {"cannot beside another", "goal: [ends]", "goal: @[cannot, ends]", "exercises[0].goal",
     "'cannot' stands alone: a unit that cannot be brought in meets no other goal", false},
    {"no right choice", ", right: true", "", "", NULL, false},
    {"every choice right", "{id: b, text: {en: B, fr: B}}",
     "{id: b, text: {en: B, fr: B}, right: true}", "", NULL, false},
    {"a choice twice", "{id: b,", "{id: @a,", "exercises[0].questions[0].choices[1].id",
     "the choice 'a' stands in line 21 already", false},
    {"a text that the title's language lacks", "told: {en: It grumbles, fr: Elle grogne}",
     "@told: {en: It grumbles}", "exercises[0].told",
     "the text is missing in 'fr', which the set's title has", true},
    {"hints of an exam", "language: en\n", "language: en\n  exam: true\n", "", NULL, true},
    /* proof */
    {"a limit too tight", "minutes: 90", "minutes: 20", "", NULL, false},
    {"nothing to do", "goal: [ends]", "goal: [volts]", "", NULL, false},
    {"cannot, and can", "goal: [ends]", "@goal: [cannot]", "exercises[0].goal", NULL, false},
};

/* Rows whose place is told here, because the '@' would stand in a part of the text that the row does not touch. */
static const struct {
    const char *name;
    int line, column;
    const char *path, *message;
} told[] = {
    {"a fault without an amount", 12, 9, "exercises[0].faults[0].amount",
     "'amount' is missing: how much, with its unit (expected a line of text such as +1 teeth)"},
    {"one choice", 21, 11, "exercises[0].questions[0].choices", "1 items, allowed are 2 to 6"},
    {"no right choice", 21, 11, "exercises[0].questions[0].choices",
     "no choice is right: give one of them `right: true`"},
    {"every choice right", 21, 11, "exercises[0].questions[0].choices",
     "every choice is right: the question asks nothing"},
    {"hints of an exam", 16, 5, "exercises[0].hints",
     "an exam gives no hints: these are never shown"},
    {"a fault that is none", 12, 17, "exercises[0].faults[0].fault", NULL},
    {"a key twice", 11, 5, "exercises[0]",
     "the key 'seed' is given twice, first in line 10: keep one of them"},
    {"a limit too tight", 14, 5, "exercises[0].limits", NULL},
    {"nothing to do", 11, 5, "exercises[0].faults",
     "solved by doing nothing: the goal holds before anything is done; make the faults worse, or "
     "the goal stricter"},
    {"cannot, and can", 13, 5, "exercises[0].goal", NULL},
};

/* base with the row's change, '@' taken out; its line and column, 0 when there is none. The caller's to free. */
static char *changed(const struct row *r, int *line, int *column)
{
    const char *at = strstr(base, r->from);
    char *text = malloc(sizeof base + strlen(r->to) + 1);
    *line = *column = 0;
    if (at == NULL || text == NULL) {
        free(text);
        return NULL;
    }
    const size_t before = (size_t)(at - base);
    memcpy(text, base, before);
    snprintf(text + before, sizeof base + strlen(r->to) + 1 - before, "%s%s", r->to,
             at + strlen(r->from));
    char *mark = strchr(text, '@');
    if (mark != NULL) {
        memmove(mark, mark + 1, strlen(mark));
        *line = *column = 1;
        for (const char *c = text; c < mark; c++) {
            *column = *c == '\n' ? 1 : *column + 1;
            *line += *c == '\n';
        }
    }
    return text;
}

static void fault_row(const struct row *r)
{
    struct fault_list list = {0};
    int line, column;
    const char *path = r->path, *message = r->message;
    char *text = changed(r, &line, &column);
    if (text == NULL) {
        tap_ok(false, "%s: the row's text is in the base", r->name);
        return;
    }
    for (size_t i = 0; i < sizeof told / sizeof *told; i++)
        if (strcmp(told[i].name, r->name) == 0) {
            line = told[i].line;
            column = told[i].column;
            path = told[i].path;
            message = told[i].message;
        }
    struct exercise_set *set = exercise_set_load(text, strlen(text), "small.yaml", &list);
    if (set != NULL && solve_prove(set, "small.yaml", &list) != ERR_OK)
        tap_note("memory ran out");
    const struct fault *found = r->is_warning ? list.warnings : list.faults;
    const size_t n = r->is_warning ? list.n_warnings : list.n_faults;
    bool is_there = false;
    for (size_t i = 0; i < n; i++)
        is_there = is_there || (found[i].line == line && found[i].column == column &&
                                strcmp(found[i].path, path) == 0 &&
                                (message == NULL || strcmp(found[i].message, message) == 0));
    if (!tap_ok(is_there, "%s: at %d:%d, %s", r->name, line, column, path))
        for (size_t i = 0; i < n; i++)
            tap_note("%d:%d %s: %s", found[i].line, found[i].column, found[i].path,
                     found[i].message);
    exercise_set_free(set);
    fault_list_done(&list);
    free(text);
}

/* What is valid is valid without a word. */
static void good(void)
{
    struct fault_list list = {0};
    struct exercise_set *set = exercise_set_load(base, sizeof base - 1, "small.yaml", &list);
    tap_ok(set != NULL && list.n_faults == 0 && list.n_warnings == 0, "the base itself is valid");
    if (set == NULL)
        return;
    tap_ok(solve_prove(set, "small.yaml", &list) == ERR_OK && list.n_faults == 0,
           "and can be solved");
    tap_ok(exercise_find(set, "one") != NULL && exercise_find(set, "two") == NULL, "found by id");
    tap_ok(strcmp(exercise_text(set, &set->exercises.at[0].title, "fr-CA"), "Un") == 0 &&
               strcmp(exercise_text(set, &set->exercises.at[0].title, "es"), "One") == 0,
           "a text in the reader's language, else in the set's own");
    exercise_set_free(set);
    fault_list_done(&list);
}

/* Amounts into the model's units, by hand from core/practice.h. */
static void amounts(void)
{
    static const struct {
        int kind;
        const char *written;
        int64_t want;
    } in[] = {
        {PRACTICE_TEETH, "+1 tooth", 1},         {PRACTICE_TEETH, "-2 teeth", -2},
        {PRACTICE_CUT, "1/2 in", 12700000}, /* international inch, 1959 */
        {PRACTICE_WIDTH, "+2.5 mm", 2500000},    {PRACTICE_LEAN, "1.5 mm/m", 1500000},
        {PRACTICE_TWIST, "-1 mm/m/m", -1000000}, {PRACTICE_SUPPLY, "2.5 V", 2500},
        {PRACTICE_SUPPLY, "2500 mV", 2500},      {PRACTICE_LEAD, "250 mohm", 250000},
        {PRACTICE_LEAD, "0.25 ohm", 250000},     {PRACTICE_DRAG, "900 N", 900},
        {PRACTICE_SCALE, "40000 ppm", 40000},    {PRACTICE_HABIT, "80 percent", 80},
        {PRACTICE_PACKING, "-9 shims", -9},      {PRACTICE_TOE, "+3 notches", 3},
    };
    char why[FAULT_MESSAGE_MAX];
    for (size_t i = 0; i < sizeof in / sizeof *in; i++) {
        int64_t got = 0;
        const enum err e = amount_read(in[i].kind, in[i].written, strlen(in[i].written), &got, why);
        tap_ok(e == ERR_OK && got == in[i].want, "%s is %lld in the model", in[i].written,
               (long long)in[i].want);
    }
}

/* ---- the sets that come with the program --------------------------------------------------- */

static bool is_in_all(const struct bulletin_text *text)
{
    static const char *const languages[] = {"en", "es", "fr"};
    size_t n = 0;
    for (size_t i = 0; i < 3; i++)
        for (size_t k = 0; k < text->n; k++)
            n += strcmp(text->at[k].language, languages[i]) == 0;
    return n == 3;
}

static bool is_spoken(const struct exercise *x)
{
    bool is = is_in_all(&x->title) && is_in_all(&x->told);
    for (size_t i = 0; i < x->hints.n; i++)
        is = is && is_in_all(&x->hints.at[i]);
    for (size_t i = 0; i < x->questions.n; i++) {
        is = is && is_in_all(&x->questions.at[i].text);
        for (size_t k = 0; k < x->questions.at[i].choices.n; k++)
            is = is && is_in_all(&x->questions.at[i].choices.at[k].text);
    }
    return is;
}

static bool is_same_score(const struct practice_score *a, const struct practice_score *b)
{
    return a->is_inside == b->is_inside && a->inside == b->inside && a->cautions == b->cautions &&
           a->n_cautions == b->n_cautions && a->n_moves == b->n_moves &&
           a->n_readings == b->n_readings && a->n_runs == b->n_runs && a->seconds == b->seconds &&
           a->worst_gap_nm == b->worst_gap_nm;
}

static void one_exercise(const struct exercise_set *set, const struct exercise *x)
{
    static struct solve s, again;
    static struct practice_result results[SOLVE_OPS_MAX];
    struct replay r;
    size_t at = 0;
    const bool is_cannot = exercise_has_goal(x, EXERCISE_CANNOT);
    tap_ok(solve_exercise(x, &s) == ERR_OK && s.is_reached && s.says_cannot == is_cannot &&
               s.truly_cannot == is_cannot,
           "%s %s: %s by the plain good procedure within its limits (%lld s, %d moves)",
           set->head.id, x->id, is_cannot ? "told that it cannot be brought in" : "solved",
           (long long)s.score.seconds, (int)s.score.n_moves);
    tap_ok(s.score.n_cautions == 0, "%s: and no caution skipped", x->id);
    tap_ok(replay_run(x, s.ops, s.n, results, &r, &at) == ERR_OK && r.n_refused == 0 &&
               is_same_score(&r.score, &s.score) && r.is_reached,
           "%s: its operations played again give the same account", x->id);
    tap_ok(solve_exercise(x, &again) == ERR_OK && again.n == s.n &&
               memcmp(again.ops, s.ops, s.n * sizeof *s.ops) == 0,
           "%s: solved again, by the same operations", x->id);
    const struct replay_op finish = {PRACTICE_FINISH, 0, 0, 0};
    tap_ok(replay_run(x, &finish, 1, NULL, &r, &at) == ERR_OK && r.is_reached == is_cannot,
           "%s: doing nothing %s", x->id, is_cannot ? "leaves it to the question" : "fails");
    tap_ok(is_spoken(x), "%s: every text in English, Spanish and French", x->id);
    tap_ok(set->head.is_exam || x->hints.n >= 3, "%s: hints from gentle to plain", x->id);
}

static size_t one_set(const char *name)
{
    char path[600];
    struct fault_list list = {0};
    size_t n = 0;
    snprintf(path, sizeof path, "%s/examples/practice/%s.yaml", getenv("TEST_ROOT"), name);
    struct exercise_set *set = exercise_set_load_file(path, &list);
    tap_ok(set != NULL, "%s is valid", name);
    if (set != NULL) {
        n = set->exercises.n;
        tap_ok(set->head.is_invented && solve_prove(set, path, &list) == ERR_OK &&
                   list.n_faults == 0,
               "%s is called invented, and proved", name);
        for (size_t i = 0; i < n; i++)
            one_exercise(set, &set->exercises.at[i]);
    }
    exercise_set_free(set);
    fault_list_done(&list);
    return n;
}

/* ---- operations ---------------------------------------------------------------------------- */

static void ops(void)
{
    static const struct {
        const char *text, *path, *message;
    } bad[] = {
        {"{}", "ops", "expected a list of operations, found an object"},
        {"[[0,0,0]]", "ops[0]", NULL},
        {"[[0,0,0,0],[20,0,0,0]]", "ops[1]", NULL},
        {"[[\"runs\",0,0,0]]", "ops[0]",
         "op: expected an operation's number or id, as run, found runs"},
        {"[[0,2,0,0]]", "ops[0]", NULL},
        {"[[0,0,\"middle\",0]]", "ops[0]", "place: expected 0 (lower) or 1 (upper), found middle"},
        {"[[0,0,0,1.5]]", "ops[0]", "amount: expected a whole number within 10^12, found a number"},
        {"[[0,0,0,1000000000001]]", "ops[0]", NULL},
    };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct json_doc *doc = NULL;
        struct fault f = {0};
        struct replay_ops read;
        const bool is_refused =
            json_parse(bad[i].text, strlen(bad[i].text), "ops", &doc, &f) == ERR_OK &&
            replay_ops_read(json_root(doc), &read, &f) != ERR_OK;
        if (!tap_ok(is_refused && strcmp(f.path, bad[i].path) == 0 &&
                        (bad[i].message == NULL || strcmp(f.message, bad[i].message) == 0),
                    "operations refused: %s", bad[i].text))
            tap_note("%s: %s", f.path, f.message);
        json_free(doc);
    }
}

/* ---- what an exam keeps back --------------------------------------------------------------- */

static void kept_back(void)
{
    struct fault_list list = {0};
    struct text out = {0};
    struct exercise_set *set = exercise_set_load(base, sizeof base - 1, "small.yaml", &list);
    exercise_export(set, "00", 0, &out);
    tap_ok(out.data != NULL && strstr(out.data, "teeth") == NULL &&
               strstr(out.data, "\"seed\"") == NULL && strstr(out.data, "\"right\"") == NULL &&
               strstr(out.data, "Look") == NULL && strstr(out.data, "It grumbles") != NULL,
           "without the truth: no seed, fault, hint or right choice, but what is told");
    text_done(&out);
    exercise_set_free(set);
    fault_list_done(&list);
}

int main(void)
{
    good();
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        fault_row(&rows[i]);
    amounts();
    ops();
    kept_back();
    const size_t n = one_set("first-steps") + one_set("in-the-yard") + one_set("hard-days") +
                     one_set("exam-one");
    tap_ok(n >= 15, "%zu exercises come with the program, at least 15", n);
    return tap_done();
}
