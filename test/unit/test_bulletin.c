/* test_bulletin: what a bulletin says is read exactly; every kind of fault is said at its place, in words; nothing hostile
 * gets through. The faulty ones are edits in bulletins/faults_*.txt, whose places are marked there by hand. */
#include "base/file.h"
#include "base/text.h"
#include "bulletin/adapt.h"
#include "bulletin/bulletin.h"
#include "bulletin/reference.h"
#include "bulletin/schema.h"
#include "tap.h"

#include <stdlib.h>
#include <string.h>

#define FOLDER TEST_TABLES "/../unit/bulletins/"
#define ROOT   TEST_TABLES "/../../"

static bool slurp(const char *path, struct text *ret)
{
    struct fault f = {0};
    if (file_read(path, BULLETIN_SIZE_MAX, ret, &f) == ERR_OK && ret->data != NULL)
        return true;
    tap_ok(false, "%s can be read (%s)", path, f.message);
    return false;
}

/* ---- the table of faults ---- */

enum { EXPECT_MAX = 16, MARKS = 128 };

struct expect {
    char mark; /* '1'.. */
    bool is_warning;
    char path[FAULT_PATH_MAX], message[FAULT_MESSAGE_MAX];
};

struct row {
    char name[256];
    struct text text; /* the edited bulletin, marks still in it */
    struct expect expect[EXPECT_MAX];
    size_t n_expect;
    bool is_unreadable, is_broken;
};

struct place {
    int line, column;
};

/* Replaces the one occurrence of whole lines `find` by `with`. */
static void edit(struct row *row, const struct text *find, const struct text *with)
{
    char *at = NULL;
    size_t n = 0;
    for (char *p = row->text.data; (p = strstr(p, find->data)) != NULL; p++)
        if (p == row->text.data || p[-1] == '\n') {
            at = p;
            n++;
        }
    if (n != 1) {
        tap_ok(false, "%s: the lines to edit stand %zu times in base.yaml, not once: %s", row->name,
               n, find->data);
        row->is_broken = true;
        return;
    }
    struct text made = {0};
    text_add(&made, row->text.data, (size_t)(at - row->text.data));
    text_add(&made, with->data, with->size);
    text_puts(&made, at + find->size);
    text_done(&row->text);
    row->text = made;
}

/* Takes out "@x>" marks and notes the line and the column (in characters) of what follows each. */
static void take_marks(struct text *t, struct place *places)
{
    struct text clean = {0};
    int line = 1, column = 1;
    for (size_t i = 0; i < t->size; i++) {
        const char *s = t->data + i;
        if (s[0] == '@' && i + 2 < t->size && s[2] == '>') {
            places[(unsigned char)s[1] % MARKS] = (struct place){line, column};
            i += 2;
            continue;
        }
        text_putc(&clean, s[0]);
        column = s[0] == '\n' ? 1 : column + (((unsigned char)s[0] & 0xC0) != 0x80);
        line += s[0] == '\n';
    }
    text_done(t);
    *t = clean;
}

/* "{a}" in a message is the line of mark a. */
static void fill_lines(char *message, const struct place *places)
{
    char made[FAULT_MESSAGE_MAX + 64] = "";
    size_t used = 0;
    for (const char *p = message; *p != '\0' && used + 12 < sizeof made;) {
        if (p[0] == '{' && p[1] >= 'a' && p[1] <= 'z' && p[2] == '}') {
            used += (size_t)snprintf(made + used, sizeof made - used, "%d",
                                     places[(unsigned char)p[1] % MARKS].line);
            p += 3;
        } else {
            made[used++] = *p++;
        }
    }
    snprintf(message, FAULT_MESSAGE_MAX, "%.*s", FAULT_MESSAGE_MAX - 1, made);
}

/* "1 path: message", "w2 path: message" */
static void add_expect(struct row *row, const char *line)
{
    struct expect *e = &row->expect[row->n_expect];
    const char *colon = strstr(line, ": ");
    e->is_warning = line[0] == 'w';
    line += e->is_warning;
    if (row->n_expect == EXPECT_MAX || colon == NULL || line[1] != ' ') {
        tap_ok(false, "%s: cannot read the expectation '%s'", row->name, line);
        row->is_broken = true;
        return;
    }
    e->mark = line[0];
    snprintf(e->path, sizeof e->path, "%.*s", (int)(colon - line - 2), line + 2);
    snprintf(e->message, sizeof e->message, "%s", colon + 2);
    row->n_expect++;
}

static bool is_said(const struct fault *faults, size_t n, const struct expect *e,
                    const struct place *p)
{
    for (size_t i = 0; i < n; i++)
        if (faults[i].line == p->line && faults[i].column == p->column &&
            strcmp(faults[i].path, e->path) == 0 && strcmp(faults[i].message, e->message) == 0)
            return true;
    return false;
}

static void show_list(const char *what, const struct fault *faults, size_t n)
{
    for (size_t i = 0; i < n; i++)
        tap_note("%s %d:%d %s: %s", what, faults[i].line, faults[i].column, faults[i].path,
                 faults[i].message);
}

static void judge(struct row *row)
{
    struct place places[MARKS] = {{0, 0}};
    struct fault_list list = {0};
    size_t n_faults = 0, n_warnings = 0;
    bool is_good = true;
    take_marks(&row->text, places);
    struct bulletin *b = bulletin_load(row->text.data, row->text.size, "edited.yaml", &list);
    for (size_t i = 0; i < row->n_expect; i++) {
        struct expect *e = &row->expect[i];
        const struct place *p = &places[(unsigned char)e->mark % MARKS];
        fill_lines(e->message, places);
        n_warnings += e->is_warning;
        n_faults += !e->is_warning;
        const bool is_there = e->is_warning ? is_said(list.warnings, list.n_warnings, e, p)
                                            : is_said(list.faults, list.n_faults, e, p);
        if (!is_there)
            tap_note("not said: %d:%d %s: %s", p->line, p->column, e->path, e->message);
        is_good = is_good && is_there;
    }
    is_good = is_good && list.n_faults == n_faults && list.n_warnings == n_warnings &&
              list.is_unreadable == row->is_unreadable && (b != NULL) == (n_faults == 0);
    if (!tap_ok(is_good && row->n_expect > 0,
                "%s: %zu said, each with its line, column, path and words", row->name,
                row->n_expect)) {
        show_list("fault", list.faults, list.n_faults);
        show_list("warning", list.warnings, list.n_warnings);
    }
    bulletin_free(b);
    fault_list_done(&list);
}

static void finish(struct row *row, struct text *find, struct text *with)
{
    if (find->size > 0)
        edit(row, find, with);
    text_clear(find);
    text_clear(with);
}

static void take_line(struct row *row, const char *line, struct text *find, struct text *with)
{
    if (line[0] == '-' || line[0] == '~') {
        if (with->size > 0 || line[0] == '~')
            finish(row, find, with);
        if (line[0] == '-')
            text_printf(find, "%s\n", line + 1);
    } else if (line[0] == '+') {
        text_printf(with, "%s\n", line + 1);
    } else if (strcmp(line, "unreadable") == 0) {
        row->is_unreadable = true;
    } else if (line[0] != '\0' && line[0] != '#') {
        finish(row, find, with);
        add_expect(row, line);
    }
}

static void end_row(struct row *row, struct text *find, struct text *with)
{
    if (row->name[0] != '\0') {
        finish(row, find, with);
        if (!row->is_broken)
            judge(row);
    }
    text_done(&row->text);
    *row = (struct row){.n_expect = 0};
}

/* Returns the number of rows. */
static size_t test_faults(const struct text *base, const char *path)
{
    struct text table = {0}, find = {0}, with = {0};
    static struct row row;
    size_t n = 0;
    if (!slurp(path, &table))
        return 0;
    for (char *line = table.data, *next; line != NULL && *line != '\0'; line = next) {
        next = strchr(line, '\n');
        if (next != NULL)
            *next++ = '\0';
        if (strncmp(line, "== ", 3) != 0) {
            if (row.name[0] != '\0')
                take_line(&row, line, &find, &with);
            continue;
        }
        end_row(&row, &find, &with);
        snprintf(row.name, sizeof row.name, "%s", line + 3);
        text_add(&row.text, base->data, base->size);
        n++;
    }
    end_row(&row, &find, &with);
    text_done(&table);
    text_done(&find);
    text_done(&with);
    return n;
}

/* ---- what is read ---- */

/* Days by Python 3.11 datetime.date.fromisocalendar(...).toordinal() - date(1970, 1, 1).toordinal(). */
static void test_scope_values(const struct bulletin *b)
{
    const struct bulletin_variant *v = &b->scope.variants.at[0];
    tap_ok(v->windows.at[0].from.first == 19814,
           "2024-W14 counts from Monday 2024-04-01 (Python datetime)");
    tap_ok(v->windows.at[0].to.last == 19862,
           "2024-W20 counts to Sunday 2024-05-19 (Python datetime)");
    tap_ok(v->windows.at[1].from.first == 19905 && v->windows.at[1].to.last == 19935,
           "2024-07-01 to 2024-07-31 (Python datetime)");
    tap_ok(v->codes.n == 2 && strcmp(v->codes.at[1], "SD2*") == 0, "codes are kept as written");
    tap_ok(b->head.issued == 20148, "issued 2025-03-01 (Python datetime)");
    const char *hand = bulletin_station_value(bulletin_station_find(b, "aft"), "hand");
    tap_ok(hand != NULL && strcmp(hand, "right") == 0, "aft fixes hand to right");
    tap_ok(bulletin_station_value(bulletin_station_find(b, "aft"), "relief") == NULL,
           "aft does not fix the relief");
    tap_ok(bulletin_station_find(b, "middle") == NULL, "there is no station in the middle");
    tap_ok(b->scope.mixed == BULLETIN_MIXED_PER_STATION &&
               b->scope.vin.check == BULLETIN_VIN_ADVISORY,
           "words become enums");
}

/* Inches by the international yard and pound agreement, 1959: 1 in = 25.4 mm exactly. */
static void test_kit_values(const struct bulletin *b)
{
    const struct bulletin_kit *upper = bulletin_kit_find(b, "cut-upper"),
                              *lower = bulletin_kit_find(b, "lower-left");
    tap_ok(upper->racks.at[0].stock.nano == 1480000000, "1480 mm is 1 480 000 000 nm");
    tap_ok(lower->racks.at[0].stock.nano == 1479550000,
           "58 1/4 in is 58.25 x 25.4 mm (yard and pound agreement, 1959)");
    tap_ok(lower->racks.at[0].greatest.nano == 1470025000,
           "57 7/8 in is 57.875 x 25.4 mm (yard and pound agreement, 1959)");
    tap_ok(lower->racks.at[0].stock.unit == UNIT_IN, "the unit is kept as written");
    tap_ok(upper->racks.at[0].keep == BULLETIN_END_UPPER,
           "the relieved end is the kept end (common practice)");
    tap_ok(lower->racks.at[0].keep == BULLETIN_END_UPPER &&
               upper->racks.at[1].keep == BULLETIN_END_NONE,
           "keep as written; none for a ready piece");
    tap_ok(!upper->racks.at[1].least.is_given && upper->racks.at[1].fit.nano == 1000000,
           "what is not given is told apart from 0");
    tap_ok(upper->price_minor == 16200 && b->parts.at[0].price_minor == 3150,
           "162.00 and 31.50 EUR are 16200 and 3150 cents (ISO 4217: 2 decimals)");
    tap_ok(b->parts.at[1].price_minor == BULLETIN_NO_AMOUNT && b->parts.at[1].is_kept,
           "no price is not a price of 0");
    tap_ok(upper->parts.at[0].count == 2, "two pinions");
}

static void test_work_values(const struct bulletin *b)
{
    const struct bulletin_point *in = bulletin_point_find(b, "gap-in");
    tap_ok(bulletin_labour_s(b, "fore") == 12000,
           "half of 400 min is 12000 s (common practice: a racked column takes half)");
    tap_ok(bulletin_labour_s(b, "aft") == 12000 && bulletin_labour_s(b, "none") == 0,
           "200 min is 12000 s; an unknown station is paid nothing");
    tap_ok(b->labour.once_s == 1800, "30 min once a unit");
    tap_ok(in->extension.nano == 152400000 && in->factors.at[0].level == -1,
           "6 in out is 152.4 mm; travel is at -1");
    tap_ok(bulletin_point_find(b, "cycles")->nominal.dim == DIM_COUNT &&
               bulletin_point_find(b, "cycles")->low.nano == 5000000000,
           "5 count");
    tap_ok(bulletin_point_find(b, "volts")->nominal.nano == 13200000000 &&
               !bulletin_point_find(b, "volts")->high.is_given,
           "13.2 V, no highest");
    tap_ok(b->adjusters.at[0].min == -6 && b->adjusters.at[0].max == 5 &&
               b->adjusters.at[0].effects.at[1].change.nano == -250000,
           "steps and effects keep their signs");
    tap_ok(b->adjusters.at[0].setup_s == 600 && b->adjusters.at[0].per_step_s == 30,
           "10 min and 30 s");
    tap_ok(b->timing.jump_max == 3 && b->timing.limit.nano == 1200000,
           "an unwritten largest jump is 3 teeth");
    tap_ok(b->steps.at[0].hold == BULLETIN_HOLD_PHOTO &&
               b->steps.at[0].hazards.at[0] == BULLETIN_HAZARD_LIFTING,
           "holds and hazards");
    tap_ok(b->steps.at[1].per == BULLETIN_PER_STATION && b->steps.at[0].picture.node == NULL,
           "per station; no picture");
    const struct conform_u u = bulletin_uncertainty(b, "tape");
    tap_ok(u.resolution == 1000000 && u.calibration_u == 300000 && u.repeat_u == 400000,
           "1 mm, 0.3 mm, 0.4 mm");
    tap_ok(bulletin_uncertainty(b, "eye").resolution == 0, "an unknown instrument adds nothing");
    tap_ok(b->cut.remeasure_factor == 2.5 && b->decision.risk == 0.05,
           "decimals become the nearest doubles");
    tap_ok(b->claim.rate_minor == 6800 && b->claim.caps.minor[BULLETIN_PAYS_LABOUR] == 48734 &&
               b->claim.caps.minor[BULLETIN_PAYS_TRAVEL] == BULLETIN_NO_AMOUNT,
           "money and caps; no cap is not a cap of 0");
    tap_ok(b->claim.until == 20634, "until 2026-06-30 (Python datetime)");
    tap_ok(b->head.is_invented && b->head.currency_digits == 2,
           "invented is said; EUR has 2 decimals (ISO 4217)");
}

static void test_texts(void)
{
    struct bulletin_part_text parts[] = {{"en", "gap"}, {"es", "holgura"}, {"pt-BR", "folga"}};
    const struct bulletin_text text = {parts, 3}, none = {NULL, 0};
    struct bulletin b = {.head.language = "es"};
    tap_ok(strcmp(bulletin_text_in(&b, &text, "en"), "gap") == 0,
           "a text in the language asked for");
    tap_ok(strcmp(bulletin_text_in(&b, &text, "en-GB"), "gap") == 0,
           "else in the language without its region (BCP 47, RFC 4647 lookup)");
    tap_ok(strcmp(bulletin_text_in(&b, &text, "fr"), "holgura") == 0, "else in the bulletin's own");
    tap_ok(strcmp(bulletin_text_in(NULL, &text, "fr"), "gap") == 0, "else in any");
    tap_ok(bulletin_text_in(&b, &none, "en")[0] == '\0', "nothing is an empty text");
}

static void test_base(const struct text *base)
{
    struct fault_list list = {0};
    struct bulletin *b = bulletin_load(base->data, base->size, "base.yaml", &list);
    tap_ok(b != NULL && list.n_faults == 0 && list.n_warnings == 0,
           "the small bulletin has no fault and no warning");
    if (b != NULL) {
        test_scope_values(b);
        test_kit_values(b);
        test_work_values(b);
    }
    show_list("fault", list.faults, list.n_faults);
    show_list("warning", list.warnings, list.n_warnings);
    bulletin_free(b);
    fault_list_done(&list);
}

/* ---- other spellings of the same file ---- */

/* Whether text gives a faultless bulletin. */
static bool is_fine(const char *text, size_t n)
{
    struct fault_list list = {0};
    struct bulletin *b = bulletin_load(text, n, "t.yaml", &list);
    const bool is_good = b != NULL && list.n_warnings == 0;
    bulletin_free(b);
    fault_list_done(&list);
    return is_good;
}

static void test_line_ends(const struct text *base)
{
    struct text crlf = {0}, bom = {0};
    for (size_t i = 0; i < base->size; i++) {
        if (base->data[i] == '\n')
            text_putc(&crlf, '\r');
        text_putc(&crlf, base->data[i]);
    }
    text_puts(&bom, "\xEF\xBB\xBF");
    text_add(&bom, base->data, base->size);
    tap_ok(is_fine(crlf.data, crlf.size), "CRLF line ends are fine");
    tap_ok(is_fine(bom.data, bom.size), "a byte order mark is fine");
    text_done(&crlf);
    text_done(&bom);
}

/* One fault, and no more, with this code and place. */
static void refuse(const char *text, size_t n, enum err code, int line, int column,
                   const char *what)
{
    struct fault_list list = {0};
    struct bulletin *b = bulletin_load(text, n, "t.yaml", &list);
    const bool is_good = b == NULL && list.is_unreadable && list.n_faults == 1 &&
                         list.faults[0].code == code && list.faults[0].line == line &&
                         list.faults[0].column == column;
    if (!tap_ok(is_good, "refused as unreadable: %s", what))
        show_list("fault", list.faults, list.n_faults);
    bulletin_free(b);
    fault_list_done(&list);
}

static void test_hostile(void)
{
    refuse("", 0, ERR_EMPTY, 1, 1, "nothing");
    refuse("# only a remark\n", 16, ERR_EMPTY, 1, 1, "only a remark");
    refuse("a: b\nc: \xFFz\n", 11, ERR_ENCODING, 2, 4, "bytes that are not UTF-8");
    refuse("a: b\nc: \0z\n", 11, ERR_ENCODING, 2, 4, "a NUL");
    refuse("a: \x01\n", 5, ERR_ENCODING, 1, 4, "a control character");
    refuse("a: \xC2\x85\n", 6, ERR_ENCODING, 1, 4, "NEL, a line end to YAML 1.1 only");
    refuse("a: \xC3\xA9\xE2\x80\xA8\n", 9, ERR_ENCODING, 1, 5,
           "LS, a line end to YAML 1.1 only; columns count characters");
    refuse("\xFF\xFE"
           "a\0:\0",
           6, ERR_ENCODING, 1, 1, "UTF-16");
}

static void test_bounds(void)
{
    struct text t = {0};
    text_puts(&t, "a: [");
    for (int i = 0; i < 200100; i++)
        text_puts(&t, "b,");
    text_puts(&t, "]\n");
    refuse(t.data, t.size, ERR_LIMIT, 1, 5 + 2 * (200000 - 2),
           "more than 200 000 values (root, list and 199 998 items are taken)");
    text_clear(&t);
    for (int i = 0; i < 600; i++)
        text_printf(&t, "k%d: 1\n", i);
    refuse(t.data, t.size, ERR_LIMIT, 513, 1, "more than 512 keys in a mapping");
    text_clear(&t);
    for (int i = 0; i < 100000; i++)
        text_putc(&t, '[');
    refuse(t.data, t.size, ERR_LIMIT, 1, 17, "more than 16 levels");
    text_done(&t);
}

static void test_many_faults(void)
{
    struct text t = {0};
    struct fault_list list = {0};
    for (int i = 0; i < 500; i++)
        text_printf(&t, "zzzzzzzz%d: 1\n", i);
    struct bulletin *b = bulletin_load(t.data, t.size, "t.yaml", &list);
    tap_ok(b == NULL && list.n_faults == FAULTS_MAX && list.n_more_faults == 500 + 8 - FAULTS_MAX,
           "500 unknown keys and 8 missing sections: 200 are kept, the rest is counted");
    bulletin_free(b);
    fault_list_done(&list);
    text_done(&t);
}

/* Every beginning of the file is either fine or has a fault; a half-read bulletin is never handed out. */
static void test_beginnings(const struct text *base)
{
    size_t n_bad = 0, n_fine = 0;
    for (size_t n = 0; n < base->size; n += 7) {
        struct fault_list list = {0};
        struct bulletin *b = bulletin_load(base->data, n, "t.yaml", &list);
        n_bad += (b == NULL) != (list.n_faults > 0);
        n_fine += b != NULL;
        bulletin_free(b);
        fault_list_done(&list);
    }
    tap_ok(n_bad == 0, "a file that breaks off gives a bulletin or a fault, never both or neither");
    tap_ok(n_fine == 0, "no beginning of it is a whole bulletin");
}

/* ---- the tables and the manual ---- */

/* The example that stands beside a key in the manual is taken by the key. */
static void test_example(const struct field *f, const char *path)
{
    struct arena arena = {0};
    struct fault_list list = {0};
    struct text yaml = {0};
    const struct yamlnode *root = NULL;
    struct schema s = {&arena, &list, "example.yaml", "bulletin", "en", "EUR", 2};
    unsigned char room[512] = {0};
    text_printf(&yaml, "%s: %s\n", f->key, f->example);
    bool is_good =
        yamltree_read(yaml.data, yaml.size, "example.yaml", &arena, &root, &list) == ERR_OK &&
        schema_kind_size(f->kind, f->record) <= sizeof room &&
        schema_value(&s, f, root->items[0], room);
    tap_ok(is_good && f->doc[0] != '\0', "the manual's example of %s.%s is taken: %s", path, f->key,
           f->example);
    show_list("fault", list.faults, list.n_faults);
    text_done(&yaml);
    fault_list_done(&list);
    arena_done(&arena);
}

static void test_examples(const struct record *record, const char *path)
{
    for (size_t i = 0; i < record->n_fields; i++) {
        const struct field *f = &record->fields[i];
        if (f->example != NULL)
            test_example(f, path);
        if (f->record != NULL)
            test_examples(f->record, f->key);
    }
}

static void test_manual(void)
{
    struct text file = {0}, made = {0};
    if (slurp(ROOT "doc/bulletin.md", &file)) {
        reference_write(&made);
        tap_ok(made.size == file.size && memcmp(made.data, file.data, made.size) == 0,
               "doc/bulletin.md is what `mendwright check --reference` prints");
    }
    text_done(&file);
    text_done(&made);
}

static void test_demo(void)
{
    struct fault_list list = {0};
    struct bulletin *b = bulletin_load_file(ROOT "examples/OV-26-03.yaml", &list);
    tap_ok(b != NULL && list.n_warnings == 0, "examples/OV-26-03.yaml has no fault and no warning");
    tap_ok(b != NULL && b->head.is_invented, "it says that it is invented");
    show_list("fault", list.faults, list.n_faults);
    bulletin_free(b);
    fault_list_done(&list);
    b = bulletin_load_file(ROOT "examples", &list);
    tap_ok(b == NULL && list.is_unreadable && list.n_faults == 1, "a folder is refused");
    fault_list_done(&list);
}

/* base.yaml with other variants: four with 64 codes and 64 windows each, and a fifth with the rest. *ret_codes: the
 * line on which the fifth's codes stand. */
static void many_variants(const struct text *base, size_t n_more, struct text *ret, int *ret_codes)
{
    const char *from = strstr(base->data, "    - id: small\n"),
               *to = strstr(base->data, "  mixed:");
    text_add(ret, base->data, (size_t)(from - base->data));
    for (size_t v = 0; v < 4 + (n_more > 0); v++) {
        const size_t n = v < 4 ? 64 : n_more;
        text_printf(ret, "    - id: v%zu\n      name: Variant\n      codes: [", v);
        for (size_t i = 0; i < n; i++)
            text_printf(ret, "%sV%zuC%02zu", i > 0 ? ", " : "", v, i);
        text_puts(ret, "]\n      windows:\n");
        for (size_t i = 0; i < n; i++) {
            text_printf(ret, "        - {from: 2023-%02zu-%02zu, to: 2023-%02zu-%02zu}\n",
                        1 + i / 28, 1 + i % 28, 1 + i / 28, 1 + i % 28);
        }
    }
    const char *fifth = strstr(ret->data, "- id: v4");
    *ret_codes = 3; /* the id's line, counted from 1, and two further */
    for (const char *p = ret->data; fifth != NULL && p < fifth; p++)
        *ret_codes += *p == '\n';
    text_puts(ret, to);
}

/* What `check` takes, the core's scope takes as well (core/scope.h: 256 codes, 256 windows). */
static void test_counts(const struct text *base)
{
    struct text full = {0}, over = {0};
    struct fault_list list = {0};
    struct fault f = {0};
    int line = 0;
    many_variants(base, 0, &full, &line);
    struct bulletin *b = bulletin_load(full.data, full.size, "full.yaml", &list);
    struct adapt_scope *scope = calloc(1, sizeof *scope);
    tap_ok(b != NULL && scope != NULL && adapt_scope_rule(b, scope, &f) == ERR_OK &&
               scope->rule.n_windows == 256 && scope->rule.n_codes == 256,
           "256 codes and 256 windows pass the check and make a scope rule");
    show_list("fault", list.faults, list.n_faults);
    bulletin_free(b);
    fault_list_done(&list);
    free(scope);

    many_variants(base, 2, &over, &line);
    b = bulletin_load(over.data, over.size, "over.yaml", &list);
    tap_ok(b == NULL && list.n_faults == 2, "of 258 each, the 257th is refused, once");
    tap_ok(list.n_faults == 2 && list.faults[0].line == line &&
               strcmp(list.faults[0].path, "scope.variants[4].codes[0]") == 0,
           "the code at its line %d", line);
    tap_ok(list.n_faults == 2 && list.faults[1].line == line + 2 &&
               strcmp(list.faults[1].path, "scope.variants[4].windows[0]") == 0,
           "the window at its line %d", line + 2);
    show_list("fault", list.faults, list.n_faults);
    bulletin_free(b);
    fault_list_done(&list);
    text_done(&full);
    text_done(&over);
}

/* Digits from memory of ISO 4217. */
static void test_currencies(void)
{
    static const struct {
        const char *code;
        int digits;
    } rows[] = {{"EUR", 2},   {"USD", 2},  {"JPY", 0}, {"KRW", 0},  {"KWD", 3}, {"TND", 3},
                {"EURO", -1}, {"eur", -1}, {"", -1},   {"D E", -1}, {"XXX", -1}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        tap_ok(schema_currency_digits(rows[i].code) == rows[i].digits,
               "currency '%s' has %d decimals (ISO 4217, from memory)", rows[i].code,
               rows[i].digits);
}

int main(void)
{
    struct text base = {0};
    if (!slurp(FOLDER "base.yaml", &base))
        return tap_done();
    test_base(&base);
    test_texts();
    test_line_ends(&base);
    test_hostile();
    test_bounds();
    test_many_faults();
    test_beginnings(&base);
    test_counts(&base);
    test_currencies();
    test_examples(schema_root(), "");
    test_manual();
    test_demo();
    const size_t n = test_faults(&base, FOLDER "faults_form.txt") +
                     test_faults(&base, FOLDER "faults_scope.txt") +
                     test_faults(&base, FOLDER "faults_work.txt");
    tap_ok(n >= 70, "%zu faulty bulletins (70 or more)", n);
    text_done(&base);
    return tap_done();
}
