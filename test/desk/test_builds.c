/* builds: what a row may be, in which batches rows are put, and that a list with a fault changes nothing. The sound VIN is the worked
 * example of 49 CFR 565.15 (core/vin.h); in the other only its check digit, 4, is changed. */
#include "base/text.h"
#include "desk/builds.h"

#include "tap.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define GOOD_VIN "1G4AH59H45G118341"
#define BAD_VIN  "1G4AH59H55G118341"

struct seen {
    struct text rows, sizes; /* "VIN station label|", "10000 10000 500 " */
    size_t n_batches, fail_at;
};

static enum err put(void *me, const struct store_build *rows, size_t n, struct fault *f)
{
    struct seen *seen = me;
    if (++seen->n_batches == seen->fail_at)
        return fault_set(f, ERR_IO, "the disk is full");
    text_printf(&seen->sizes, "%zu ", n);
    for (size_t i = 0; i < n; i++)
        text_printf(&seen->rows, "%s %s %s|", rows[i].vin, rows[i].station,
                    rows[i].label != NULL ? rows[i].label : "-");
    return ERR_OK;
}

static void seen_done(struct seen *seen)
{
    text_done(&seen->rows);
    text_done(&seen->sizes);
}

/* ---- by hand ------------------------------------------------------------------------------- */

static void by_hand(void)
{
    static const char text[] = "label,plant,station,vin\r\n"
                               "\"WD40, 2024-W13\",north,fore," GOOD_VIN "\r\n"
                               ",north,aft, 1g4ah59h45g118341 \r\n"
                               "C2\xC3\xA9,south,fore," BAD_VIN "\r\n"
                               "C2,south,fore,1G4AH59H65G118341\r\n";
    struct seen seen = {0};
    struct builds_answer a = {0};
    struct fault f = {0};
    const enum err e = builds_read(text, sizeof text - 1, "b.csv", put, &seen, &a, &f);
    tap_ok(e == ERR_OK && seen.rows.data != NULL &&
               strcmp(seen.rows.data, GOOD_VIN " fore WD40, 2024-W13|" GOOD_VIN " aft -|" BAD_VIN
                                               " fore C2\xC3\xA9|1G4AH59H65G118341 fore C2|") == 0,
           "columns in any order; VINs in capitals, without blanks around; an empty label is not "
           "known");
    tap_ok(a.n_rows == 4 && a.n_bad_checks == 2 && a.first_bad_line == 4 &&
               strcmp(a.first_bad_vin, BAD_VIN) == 0,
           "wrong check digits are taken and counted, the first is named");
    seen_done(&seen);
    a = (struct builds_answer){0};
    tap_ok(builds_read(text, sizeof text - 1, "b.csv", NULL, NULL, &a, &f) == ERR_OK &&
               a.n_rows == 4 && a.n_bad_checks == 2,
           "only checked: the same count");
}

static void refusals(void)
{
    static const struct {
        const char *row;
        enum err e;
        int line, column;
        const char *path, *words;
    } rows[] = {
        {"1G4AH59H45G11834,fore,L", ERR_SYNTAX, 3, 1, "vin", "17 characters"},
        {"1G4AH59H45G1183411,fore,L", ERR_SYNTAX, 3, 1, "vin", "17 characters"},
        {"1G4AH59H45G11834I,fore,L", ERR_SYNTAX, 3, 1, "vin", "without I, O and Q"},
        {"1G4AH59H45G11834O,fore,L", ERR_SYNTAX, 3, 1, "vin", "without I, O and Q"},
        {"1G4AH59H45G11834Q,fore,L", ERR_SYNTAX, 3, 1, "vin", "without I, O and Q"},
        {"1G4AH59H45G11834\xC3\x84,fore,L", ERR_SYNTAX, 3, 1, "vin", "expected a VIN"},
        {",fore,L", ERR_SYNTAX, 3, 1, "vin", "found \"\""},
        {GOOD_VIN ",,L", ERR_SYNTAX, 3, 19, "station", "expected a station's id"},
        {GOOD_VIN ",Fore,L", ERR_SYNTAX, 3, 19, "station", "write 'fore'"},
        {GOOD_VIN ",fore--x,L", ERR_SYNTAX, 3, 19, "station", "fore-x"},
        {GOOD_VIN ",fore,\"a\nb\"", ERR_ENCODING, 3, 24, "label", "one line"},
        {GOOD_VIN ",fore,a\x1B[2J", ERR_ENCODING, 3, 24, "label", "plain text"},
        {GOOD_VIN ",fore", ERR_SYNTAX, 3, 0, "", "found 2 fields"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct text t = {0};
        struct seen seen = {0};
        struct builds_answer a = {0};
        struct fault f = {0};
        text_printf(&t, "vin,station,label\n" GOOD_VIN ",fore,L\n%s\n", rows[i].row);
        const enum err e = builds_read(t.data, t.size, "b.csv", put, &seen, &a, &f);
        if (!tap_ok(e == rows[i].e && f.line == rows[i].line && f.column == rows[i].column &&
                        strcmp(f.path, rows[i].path) == 0 && strcmp(f.file, "b.csv") == 0 &&
                        strstr(f.message, rows[i].words) != NULL && seen.n_batches == 0 &&
                        a.n_rows == 0,
                    "refused, and the row before it is not put either: %.40s", rows[i].words))
            tap_note("%s at %d:%d %s: %s", err_symbol(e), f.line, f.column, f.path, f.message);
        seen_done(&seen);
        text_done(&t);
    }
    static const char none[] = "vin,station,label\n",
                      column[] = "vin,station,lable\n" GOOD_VIN ",fore,L\n";
    struct builds_answer a = {0};
    struct fault f = {0};
    tap_ok(builds_read(none, sizeof none - 1, "b.csv", NULL, NULL, &a, &f) == ERR_EMPTY &&
               strcmp(f.file, "b.csv") == 0,
           "a list of no unit: %s", f.message);
    tap_ok(builds_read(column, sizeof column - 1, "b.csv", NULL, NULL, &a, &f) == ERR_EMPTY &&
               strstr(f.message, "did you mean \"lable\"") != NULL,
           "a column that is missing: %s", f.message);
    tap_ok(builds_read("", 0, "b.csv", NULL, NULL, &a, &f) == ERR_EMPTY, "nothing at all: %s",
           f.message);
    char longest[BUILDS_LABEL_MAX + 2];
    struct text t = {0};
    memset(longest, 'x', sizeof longest - 1);
    longest[BUILDS_LABEL_MAX + 1] = '\0';
    text_printf(&t, "vin,station,label\n" GOOD_VIN ",fore,%s\n", longest + 1);
    tap_ok(builds_read(t.data, t.size, "b.csv", NULL, NULL, &a, &f) == ERR_OK,
           "a label of 120 bytes");
    text_clear(&t);
    text_printf(&t, "vin,station,label\n" GOOD_VIN ",fore,%s\n", longest);
    tap_ok(builds_read(t.data, t.size, "b.csv", NULL, NULL, &a, &f) == ERR_LIMIT && f.line == 2,
           "one of 121: %s", f.message);
    text_done(&t);
}

/* ---- many ---------------------------------------------------------------------------------- */

/* n rows of made-up units: 11 letters and digits, then a number of six digits. */
static void make_list(struct text *t, int n)
{
    text_puts(t, "vin,station,label\n");
    for (int i = 0; i < n; i++)
        text_printf(t, "ZZZFM24T5R0%06d,%s,C2-2024-W%02d\n", i / 2, i % 2 == 0 ? "fore" : "aft",
                    i % 52 + 1);
}

static void batches(void)
{
    struct text t = {0};
    struct seen seen = {0}, broken = {.fail_at = 2};
    struct builds_answer a = {0};
    struct fault f = {0};
    make_list(&t, 2 * STORE_BUILDS_AT_ONCE + 500);
    tap_ok(builds_read(t.data, t.size, "b.csv", put, &seen, &a, &f) == ERR_OK &&
               strcmp(seen.sizes.data, "10000 10000 500 ") == 0 && a.n_rows == 20500,
           "20500 rows are put as 10000, 10000 and 500");
    size_t n = 0;
    for (const char *s = seen.rows.data; s != NULL && (s = strchr(s, '|')) != NULL; s++)
        n++;
    tap_ok(n == 20500 &&
               strncmp(seen.rows.data, "ZZZFM24T5R0000000 fore C2-2024-W01|ZZZFM24T5R0000000 aft",
                       56) == 0,
           "each once, in order");
    tap_ok(builds_read(t.data, t.size, "b.csv", put, &broken, &a, &f) == ERR_IO &&
               broken.n_batches == 2 && strcmp(f.message, "the disk is full") == 0,
           "what fails on the way is told, and nothing is put after it");
    seen_done(&seen);
    seen_done(&broken);
    text_puts(&t, "x,fore,L\n");
    seen = (struct seen){0};
    tap_ok(builds_read(t.data, t.size, "b.csv", put, &seen, &a, &f) == ERR_SYNTAX &&
               f.line == 20502 && seen.n_batches == 0,
           "a fault in the last of 20501 rows: nothing was put");
    seen_done(&seen);
    text_done(&t);
}

/* ---- into a store -------------------------------------------------------------------------- */

struct steps {
    uint64_t last, all;
    int n;
    bool is_odd;
};

static void step(void *me, const char *what, uint64_t done, uint64_t all)
{
    struct steps *s = me;
    s->is_odd |= done < s->last || done > all || what == NULL;
    s->last = done;
    s->all = all;
    s->n++;
}

static bool count_build(void *me, const struct store_build *b)
{
    int *n = me;
    *n += b->label != NULL && strncmp(b->label, "C2-2024-W", 9) == 0;
    return true;
}

static int count(struct store *store)
{
    struct fault f = {0};
    int n = 0;
    return store_builds(store, NULL, count_build, &n, &f) == ERR_OK ? n : -1;
}

static int64_t entries(struct store *store)
{
    struct store_counts c = {0};
    struct fault f = {0};
    return store_count(store, &c, &f) == ERR_OK ? c.entries : -1;
}

static void into_store(struct store *store, const char *list)
{
    struct builds_answer a = {0};
    struct fault f = {0};
    struct steps steps = {0};
    const struct store_progress progress = {step, &steps};
    const enum err e = builds_take(store, list, 1770000000000, &progress, &a, &f);
    tap_ok(e == ERR_OK && a.n_rows == 20500 && count(store) == 20500,
           "a file's 20500 rows stand in the store %s", f.message);
    tap_ok(steps.n > 10 && !steps.is_odd && steps.last <= steps.all,
           "told how far it is, forwards (%d times)", steps.n);
    const int64_t n = entries(store);
    tap_ok(builds_take(store, list, 1770000000001, NULL, &a, &f) == ERR_OK && entries(store) == n,
           "the same list again adds nothing to the log");
    tap_ok(builds_take(store, "/nowhere/b.csv", 1, NULL, &a, &f) == ERR_OPEN &&
               strcmp(f.file, "/nowhere/b.csv") == 0,
           "a list that is not there");
    tap_ok(builds_take(store, "/tmp", 1, NULL, &a, &f) == ERR_OPEN, "a folder: %s", f.message);
    const int held = dup(STDIN_FILENO);
    if (held >= 0 && freopen(list, "rb", stdin) != NULL)
        tap_ok(builds_take(store, "-", 1770000000002, NULL, &a, &f) == ERR_OK && a.n_rows == 20500,
               "from standard input");
    if (held >= 0) {
        dup2(held, STDIN_FILENO);
        close(held);
    }
}

static void stores(void)
{
    char folder[] = "/tmp/mendwright-test-builds-XXXXXX";
    char path[80], list[80], command[120];
    struct text t = {0};
    struct store *store = NULL;
    struct fault f = {0};
    bool is_made = false;
    if (mkdtemp(folder) == NULL) {
        printf("Bail out! no folder\n");
        exit(2);
    }
    snprintf(path, sizeof path, "%s/claims", folder);
    snprintf(list, sizeof list, "%s/b.csv", folder);
    make_list(&t, 20500);
    FILE *file = fopen(list, "wb");
    const bool is_written =
        file != NULL && fwrite(t.data, 1, t.size, file) == t.size && fclose(file) == 0;
    if (is_written && store_init(path, &is_made, &f) == ERR_OK &&
        store_open(path, STORE_WRITE, &store, &f) == ERR_OK)
        into_store(store, list);
    else
        tap_ok(false, "a store is made: %s", f.message);
    store_close(store);
    text_done(&t);
    snprintf(command, sizeof command, "rm -r %s", folder);
    if (system(command) != 0)
        tap_note("%s is left behind", folder);
}

int main(void)
{
    by_hand();
    refusals();
    batches();
    stores();
    return tap_done();
}
