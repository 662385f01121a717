/* The table of columns: what is kept, and the place that each fault names. Numbers against the C library's own reading. */
#include "desk/study_table.h"

#include "base/number.h"

#include "base/text.h"
#include "tap.h"

#include <stdlib.h>
#include <string.h>

enum { NUMBER, AMOUNT, DAY, NAME, YES, COLUMNS };

static const struct study_want wants[COLUMNS] = {
    [NUMBER] =
        {.column = "t (h)", .type = STUDY_NUMBER, .low = 0, .high = 1e6, .may_be_empty = true},
    [AMOUNT] =
        {.column = "gap", .type = STUDY_AMOUNT, .unit = UNIT_MM, STUDY_ANY, .may_be_empty = true},
    [DAY] = {.column = "made", .type = STUDY_DAY, .may_be_empty = true},
    [NAME] = {.column = "shop", .type = STUDY_TEXT, .may_be_empty = true},
    [YES] = {.column = "failed", .type = STUDY_YES, .may_be_empty = true},
};
#define HEAD "shop,failed,other,made,gap,t (h)\n"

static enum err read(const char *text, struct study_table **t, struct fault *f)
{
    *t = NULL;
    *f = (struct fault){0};
    return study_table_parse(text, strlen(text), "x.csv", wants, COLUMNS, t, f);
}

static void values(void)
{
    struct study_table *t = NULL;
    struct fault f;
    const enum err e =
        read(HEAD "\"a,b\",1,,1970-01-03,2 1/2 in,1.5\r\nc,0,zz,1969-12-31,-3,0\na,b\n", &t, &f);
    tap_ok(e == ERR_SYNTAX, "a row with too few fields is refused");
    tap_ok(read(HEAD "\"a,b\",1,,1970-01-03,2 1/2 "
                     "in,1.5\r\nc,0,zz,1969-12-31,-3,0\n,,,,,\n\"a,b\",1,,2000-03-01,0.1,1e3\n",
                &t, &f) == ERR_OK,
           "columns in any order, others beside them");
    if (t == NULL)
        return;
    tap_ok(study_rows(t) == 4, "four rows");
    tap_ok(study_numbers(t, NUMBER)[0] == 1.5 && study_numbers(t, NUMBER)[3] == 1000, "numbers");
    tap_ok(study_amounts(t, AMOUNT)[0] == 63500000 && study_amounts(t, AMOUNT)[1] == -3000000,
           "amounts: 2 1/2 in is 63.5 mm (international inch); a bare number takes the unit");
    tap_ok(study_days(t, DAY)[0] == 2 && study_days(t, DAY)[1] == -1 &&
               study_days(t, DAY)[3] == 11017,
           "days from 1970-01-01 (2000-03-01 is 11017)");
    tap_ok(study_n_texts(t, NAME) == 2 && study_texts(t, NAME)[3] == 0 &&
               study_texts(t, NAME)[1] == 1 && strcmp(study_text(t, NAME, 0), "a,b") == 0,
           "texts once each, in the order of appearance");
    tap_ok(study_yes(t, YES)[0] == 1 && study_yes(t, YES)[1] == 0, "0 and 1");
    tap_ok(isnan(study_numbers(t, NUMBER)[2]) && study_amounts(t, AMOUNT)[2] == STUDY_NO_AMOUNT &&
               study_days(t, DAY)[2] == STUDY_NO_DAY && study_texts(t, NAME)[2] == STUDY_NO_TEXT &&
               study_yes(t, YES)[2] == STUDY_NO_YES,
           "empty fields, where they may be");
    tap_ok(study_line(t, 3) == 5, "each row knows its line");
    (void)study_row_fault(t, 1, DAY, &f, ERR_ORDER, "found %d", 7);
    char line[200];
    fault_line(&f, line, sizeof line);
    tap_ok(strcmp(line, "x.csv:3: made: found 7") == 0, "a fault found later names its place: %s",
           line);
    study_table_free(t);
}

static void refusals(void)
{
    static const struct {
        const char *text, *want; /* the fault begins so */
        enum err err;
    } rows[] = {
        {"", "x.csv: ", ERR_EMPTY},
        {"shop,failed,made,gap\n", "x.csv:1: no column \"t (h)\"", ERR_EMPTY},
        {HEAD "a,2,,1970-01-01,1,1\n", "x.csv:2:3: failed: found \"2\"; expected 0 or 1",
         ERR_SYNTAX},
        {HEAD "a,1,,1970-02-30,1,1\n", "x.csv:2:6: made: found \"1970-02-30\"; expected a day",
         ERR_IMPOSSIBLE},
        {HEAD "a,1,,01/02/1970,1,1\n", "x.csv:2:6: made: ", ERR_SYNTAX},
        {HEAD "a,1,,1970-01-01,1 V,1\n", "x.csv:2:17: gap: found \"1 V\"", ERR_UNIT},
        {HEAD "a,1,,1970-01-01,1/2,1\n", "x.csv:2:17: gap: ", ERR_UNIT},
        {HEAD "a,1,,1970-01-01,1,-1\n", "x.csv:2:19: t (h): found -1; expected 0 or more",
         ERR_DOMAIN},
        {HEAD "a,1,,1970-01-01,1,1e7\n", "x.csv:2:19: t (h): found 1e7; expected 1e+06 or less",
         ERR_DOMAIN},
        {HEAD "a,1,,1970-01-01,1,nan\n", "x.csv:2:19: t (h): found \"nan\"; expected a number",
         ERR_SYNTAX},
        {HEAD "a,1,,1970-01-01,1,\"1,5\"\n",
         "x.csv:2:19: t (h): found \"1,5\"; expected a number with a decimal point", ERR_SYNTAX},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct study_table *t = NULL;
        struct fault f;
        char line[600];
        const enum err e = read(rows[i].text, &t, &f);
        fault_line(&f, line, sizeof line);
        tap_ok(e == rows[i].err && t == NULL &&
                   strncmp(line, rows[i].want, strlen(rows[i].want)) == 0,
               "refused: %s", line);
        study_table_free(t);
    }
}

static void empty_field(void)
{
    const struct study_want want = {
        .column = "n", .type = STUDY_NUMBER, STUDY_ANY, .is_whole = true};
    struct study_table *t = NULL;
    struct fault f = {0};
    tap_ok(study_table_parse("n,m\n1,\n,2\n", 10, "x", &want, 1, &t, &f) == ERR_EMPTY &&
               f.line == 3,
           "an empty field where a value is needed: line %d", f.line);
    tap_ok(study_table_parse("n\n1.5\n", 6, "x", &want, 1, &t, &f) == ERR_DOMAIN,
           "no fractions where wholes are wanted");
    tap_ok(study_table_parse("n\n", 2, "x", &want, 1, &t, &f) == ERR_OK && study_rows(t) == 0 &&
               study_numbers(t, 0) != NULL,
           "a head alone is a table of no rows");
    study_table_free(t);
    const struct study_want none[2] = {{.column = NULL, .type = STUDY_NUMBER},
                                       {.column = "n", .type = STUDY_TEXT}};
    tap_ok(study_table_parse("n\nq\n", 4, "x", none, 2, &t, &f) == ERR_OK &&
               study_numbers(t, 0) == NULL && study_rows(t) == 1,
           "a column that is not asked for is none");
    study_table_free(t);
}

/* Every spelling that strtod and the grammar both take gives the same double. */
static void numbers(void)
{
    static const char *const good[] = {"0",
                                       "-0",
                                       "1",
                                       "+1",
                                       "12.5",
                                       ".5",
                                       "5.",
                                       "1e3",
                                       "1E-3",
                                       "0.1",
                                       "9007199254740993",
                                       "123456789012345678901234567890",
                                       "2.2250738585072014e-308",
                                       "1e-320",
                                       "1.7976931348623157e308",
                                       "0.30000000000000004",
                                       "1e22",
                                       "1e23",
                                       "8.5e-22",
                                       "00012"};
    static const char *const bad[] = {"",      "-",     ".",    "e5",   "1e",  "1e+",
                                      "1 ",    " 1",    "0x10", "inf",  "nan", "1,5",
                                      "1.2.3", "1e400", "--1",  "1e1.5"};
    double x = 0;
    for (size_t i = 0; i < sizeof good / sizeof *good; i++)
        tap_ok(number_read(good[i], strlen(good[i]), &x, NULL) && x == strtod(good[i], NULL),
               "%s reads as strtod reads it", good[i]);
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        tap_ok(!number_read(bad[i], strlen(bad[i]), &x, NULL), "\"%s\" is no number", bad[i]);
    unsigned state = 1;
    size_t n_off = 0;
    for (int i = 0; i < 20000; i++) {
        char text[40];
        state = state * 1664525u + 1013904223u;
        const int places = (int)(state >> 28);
        (void)snprintf(text, sizeof text, "%.*f", places, (double)state / 1e4);
        n_off += !number_read(text, strlen(text), &x, NULL) || x != strtod(text, NULL);
    }
    tap_ok(n_off == 0, "20000 random decimals read as strtod reads them (%zu do not)", n_off);
}

/* Many rows and many texts: growth and the hash. */
static void many(void)
{
    struct text s = {0};
    struct study_table *t = NULL;
    struct fault f = {0};
    const struct study_want w[2] = {{.column = "n", .type = STUDY_NUMBER, STUDY_ANY},
                                    {.column = "s", .type = STUDY_TEXT}};
    text_puts(&s, "n,s\n");
    for (int i = 0; i < 100000; i++)
        text_printf(&s, "%d,unit %d\n", i, i % 70000);
    tap_ok(study_table_parse(s.data, s.size, "x", w, 2, &t, &f) == ERR_OK &&
               study_rows(t) == 100000 && study_n_texts(t, 1) == 70000,
           "100 000 rows, 70 000 different texts");
    bool is_good = t != NULL;
    for (uint32_t i = 0; is_good && i < 100000; i++) {
        char name[40];
        (void)snprintf(name, sizeof name, "unit %u", i % 70000);
        is_good = study_numbers(t, 0)[i] == i &&
                  strcmp(study_text(t, 1, study_texts(t, 1)[i]), name) == 0;
    }
    tap_ok(is_good, "each where it belongs");
    study_table_free(t);
    text_done(&s);
}

int main(void)
{
    values();
    refusals();
    empty_field();
    numbers();
    many();
    return tap_done();
}
