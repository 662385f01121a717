/* json: RFC 8259 row by row: what it allows is read, what it does not is refused at the right
 * place. Line and column are counted by hand in each row. */
#include "base/json.h"

#include "tap.h"

#include <stdlib.h>
#include <string.h>

static enum err parse(const char *text, size_t n, struct json_doc **doc, struct fault *f)
{
    *doc = NULL;
    *f = (struct fault){0};
    /* On the heap and without a closing NUL, so that a byte read too far is seen. */
    char *copy = malloc(n > 0 ? n : 1);
    if (copy == NULL)
        exit(2);
    memcpy(copy, text, n);
    const enum err err = json_parse(copy, n, "p.json", doc, f);
    free(copy);
    return err;
}

struct good_row {
    const char *text;
    enum json_kind kind;
    const char *source;
};

static const struct good_row good_rows[] = {
    {"null", JSON_NULL, "RFC 8259, 2: any value may stand alone"},
    {"true", JSON_BOOL, "RFC 8259, 3"},
    {" \t\r\n1 \t\r\n", JSON_INT, "RFC 8259, 2: the four blanks around"},
    {"-0", JSON_INT, "RFC 8259, 6: minus zero is a number"},
    {"0.5", JSON_REAL, "RFC 8259, 6: frac"},
    {"1E+2", JSON_REAL, "RFC 8259, 6: exp with E and +"},
    {"9223372036854775807", JSON_INT, "the greatest 64-bit integer"},
    {"-9223372036854775808", JSON_INT, "the least 64-bit integer"},
    {"1.7976931348623157e308", JSON_REAL, "IEEE 754: the greatest double"},
    {"4.9e-324", JSON_REAL, "IEEE 754: the least double"},
    {"\"\\u005C\\/\\b\\f\\n\\r\\t\\\"\"", JSON_STRING, "RFC 8259, 7: every escape"},
    {"\"\\uD834\\uDD1E\"", JSON_STRING, "RFC 8259, 7: its example of a surrogate pair"},
    {"[]", JSON_ARRAY, "RFC 8259, 5: empty"},
    {"{}", JSON_OBJECT, "RFC 8259, 4: empty"},
    {"{\"\":{\"a\":[1,\"x\",null]}}", JSON_OBJECT, "RFC 8259, 4: an empty name is a name"},
    {"\xEF\xBB\xBF[1]", JSON_ARRAY, "RFC 8259, 8.1: a reader may skip a byte order mark"},
    {"{\"a\":1,\r\n\"b\":2}\r\n", JSON_OBJECT, "RFC 8259, 2: CR LF are blanks"},
};

static void check_good(void)
{
    for (size_t i = 0; i < sizeof good_rows / sizeof *good_rows; i++) {
        const struct good_row *r = &good_rows[i];
        struct json_doc *doc;
        struct fault f;
        const enum err err = parse(r->text, strlen(r->text), &doc, &f);
        if (!tap_ok(err == ERR_OK && json_kind(json_root(doc)) == r->kind, "read (%s)", r->source))
            tap_note("%s", f.message);
        json_free(doc);
    }
}

struct bad_row {
    const char *text;
    enum err code;
    int line, column;
    const char *message; /* what it begins with */
    const char *source;
};

#define END_OF(bracket, close, place)                                                              \
    "found the end; expected '" close "' to close the '" bracket "' of " place
#define VALUE "expected a value: a number"

static const struct bad_row bad_rows[] = {
    {"", ERR_EMPTY, 0, 0, "is empty; expected JSON", "an empty file"},
    {" \n\t", ERR_EMPTY, 0, 0, "is empty; expected JSON", "nothing but blanks"},
    {"\xEF\xBB\xBF", ERR_EMPTY, 0, 0, "is empty; expected JSON", "nothing but a byte order mark"},
    {"[1,2", ERR_SYNTAX, 1, 5, END_OF("[", "]", "line 1, column 1"),
     "truncated list (RFC 8259, 5)"},
    {"{\"a\":\n [1,2]", ERR_SYNTAX, 2, 7, END_OF("{", "}", "line 1, column 1"),
     "truncated object (4)"},
    {"[{\"a\"", ERR_SYNTAX, 1, 6, END_OF("{", "}", "line 1, column 2"),
     "truncated after a name (4)"},
    {"[\"abc", ERR_SYNTAX, 1, 6, "found the end; expected the closing double quote",
     "truncated text (7)"},
    {"[\"abc\\\"", ERR_SYNTAX, 1, 8, "found the end; expected the closing double quote",
     "truncated after \\\" (7)"},
    {"[1,]", ERR_SYNTAX, 1, 4, "found ']'; " VALUE, "comma before the end of a list (5)"},
    {"{\"a\":1,}", ERR_SYNTAX, 1, 8, "found '}'; expected a key in double quotes",
     "comma before the end of an object (4)"},
    {"[1 2]", ERR_SYNTAX, 1, 4, "found '2'; expected ',' or ']'", "missing comma (5)"},
    {"{\"a\":1 \"b\":2}", ERR_SYNTAX, 1, 8, "found \"b\"; expected ',' or '}'",
     "missing comma (4)"},
    {"{\"a\" 1}", ERR_SYNTAX, 1, 6, "found '1'; expected ':' after the key", "missing colon (4)"},
    {"{a:1}", ERR_SYNTAX, 1, 2, "found 'a'; expected a key in double quotes", "bare key (4)"},
    {"{'a':1}", ERR_SYNTAX, 1, 2, "found ''a''; expected a key in double quotes",
     "single quotes (7)"},
    {"[1}", ERR_SYNTAX, 1, 3, "found '}'; expected ',' or ']'", "wrong bracket (5)"},
    {"]", ERR_SYNTAX, 1, 1, "found ']'; " VALUE, "closing bracket alone (5)"},
    {"[NaN]", ERR_SYNTAX, 1, 2, "found 'NaN'; " VALUE, "NaN (6)"},
    {"[-Infinity]", ERR_SYNTAX, 1, 2, "found '-Infinity'; " VALUE, "-Infinity (6)"},
    {"[01]", ERR_SYNTAX, 1, 2, "found '01'; " VALUE, "leading zero (6)"},
    {"[+1]", ERR_SYNTAX, 1, 2, "found '+1'; " VALUE, "leading plus (6)"},
    {"[.5]", ERR_SYNTAX, 1, 2, "found '.5'; " VALUE, "no digit before the point (6)"},
    {"[1.]", ERR_SYNTAX, 1, 2, "found '1.'; " VALUE, "no digit after the point (6)"},
    {"[1e]", ERR_SYNTAX, 1, 2, "found '1e'; " VALUE, "no digit in the exponent (6)"},
    {"[0x10]", ERR_SYNTAX, 1, 2, "found '0x10'; " VALUE, "hexadecimal (6)"},
    {"[1,5,2_000]", ERR_SYNTAX, 1, 6, "found '2_000'; " VALUE, "grouped digits (6)"},
    {"TRUE", ERR_SYNTAX, 1, 1, "found 'TRUE'; " VALUE, "capitals (3)"},
    {"// x\n1", ERR_SYNTAX, 1, 1, "found '//'; " VALUE, "comment (2)"},
    {"[1]\n [2]", ERR_SYNTAX, 2, 2, "found '['; expected nothing after the end", "two values (2)"},
    {"[\"a\tb\"]", ERR_SYNTAX, 1, 4, "found the control character 0x09", "tab in a text (7)"},
    {"[\"a\nb\"]", ERR_SYNTAX, 1, 4, "found the end of the line", "line feed in a text (7)"},
    {"[\"\\q\"]", ERR_SYNTAX, 1, 4, "found 'q'; expected one of", "unknown escape (7)"},
    {"[\"\\ud800\"]", ERR_SYNTAX, 1, 9, "found \"]; expected \\u and the four",
     "half a surrogate pair (8.2)"},
    {"[\"\\u0000\"]", ERR_SYNTAX, 1, 2, "found \"\\u0000\"; expected a text without",
     "NUL in a text (our own rule)"},
    {"{\"\\u0000\":1}", ERR_SYNTAX, 1, 2, "found \"\\u0000\"; expected a key without",
     "NUL in a key (our own rule)"},
    {"{\"a\":1,\n  \"a\":2}", ERR_DUPLICATE, 2, 3, "found the key \"a\" twice",
     "names SHOULD be unique (4)"},
    {"{\"a\":1,\"\\u0061\":2}", ERR_DUPLICATE, 1, 8, "found the key \"\\u0061\" twice",
     "the same name by escape (4, 8.3)"},
    {"{\"a-name-of-more-than-twenty-bytes\":1,\"a-name-of-more-than-twenty-bytes\":2}",
     ERR_DUPLICATE, 1, 39, "found the key \"a-name-of-more-than-twe... twice",
     "a long name twice (4)"},
    {"[1e400]", ERR_RANGE, 1, 2, "found the number '1e400'", "beyond IEEE 754 double (6)"},
    {"[-1e400]", ERR_RANGE, 1, 2, "found the number '-1e400'", "beyond it below zero (6)"},
    {"[9223372036854775808]", ERR_RANGE, 1, 2, "found the number '9223372036854775808'", "2^63"},
    {"[-9223372036854775809]", ERR_RANGE, 1, 2, "found the number '-9223372036854775809'",
     "-2^63 - 1"},
    {"{\"k\":\"\xC3\xA9\xC3\xA9\", x}", ERR_SYNTAX, 1, 12, "found 'x'",
     "columns count characters, not bytes"},
    {"{\r\n\"a\":1,\r\n\"b\" 2}", ERR_SYNTAX, 3, 5, "found '2'", "CR LF is one line end"},
    {"\xEF\xBB\xBF[x]", ERR_SYNTAX, 1, 2, "found 'x'", "a byte order mark takes no column"},
    {"{\"a\":\"\xFF\"}", ERR_ENCODING, 1, 7, "found the byte 0xFF", "ill-formed: FF (Unicode 3.9)"},
    {"[\"\xC0\xAF\"]", ERR_ENCODING, 1, 3, "found the byte 0xC0",
     "ill-formed: C0 AF (Unicode table 3-8)"},
    {"[\n\"\xED\xA0\x80\"]", ERR_ENCODING, 2, 2, "found the byte 0xED",
     "ill-formed: ED A0 80 (Unicode table 3-9)"},
    {"[\"\xF4\x91\x92\x93\"]", ERR_ENCODING, 1, 3, "found the byte 0xF4",
     "ill-formed: F4 91 (Unicode table 3-10)"},
    {"[\"\xE1\x80\"]", ERR_ENCODING, 1, 3, "found the byte 0xE1",
     "ill-formed: E1 80 cut (Unicode table 3-11)"},
    {"[\"\x80\"]", ERR_ENCODING, 1, 3, "found the byte 0x80",
     "ill-formed: a tail alone (Unicode table 3-7)"},
    {"\xFF\xFE[\x01", ERR_ENCODING, 1, 1, "found the byte 0xFF",
     "UTF-16 byte order mark (RFC 8259, 8.1: UTF-8 only)"},
};

static void expect_bad(const char *text, size_t n, const struct bad_row *r)
{
    struct json_doc *doc;
    struct fault f;
    const enum err err = parse(text, n, &doc, &f);
    const bool is_good = err == r->code && f.code == r->code && f.line == r->line &&
                         f.column == r->column &&
                         strncmp(f.message, r->message, strlen(r->message)) == 0 && doc == NULL &&
                         strcmp(f.file, "p.json") == 0;
    if (!tap_ok(is_good, "refused: %s", r->source))
        tap_note("found %s %d:%d %s", err_symbol(err), f.line, f.column, f.message);
    json_free(doc);
}

static void check_bad(void)
{
    for (size_t i = 0; i < sizeof bad_rows / sizeof *bad_rows; i++)
        expect_bad(bad_rows[i].text, strlen(bad_rows[i].text), &bad_rows[i]);
    expect_bad("[\"a\0b\"]", 7,
               &(struct bad_row){"", ERR_ENCODING, 1, 4, "found a NUL byte", "a NUL byte (7)"});
}

/* Every beginning of a sound text is unsound, except where only blanks are cut off. */
static void check_truncated(void)
{
    static const char whole[] = "{\"unit\":\"mm\",\"points\":[{\"id\":\"a\\u00e9\",\"low\":-1.5e1,"
                                "\"on\":true}],\"n\":null}";
    int n_bad = 0;
    for (size_t n = 0; n < sizeof whole - 1; n++) {
        struct json_doc *doc;
        struct fault f;
        const enum err err = parse(whole, n, &doc, &f);
        n_bad += err == ERR_OK || f.message[0] == '\0';
        json_free(doc);
    }
    tap_ok(n_bad == 0, "each of %zu beginnings of a sound text is refused with a message",
           sizeof whole - 1);
}

static char *repeat(const char *piece, size_t n, size_t *ret_size)
{
    const size_t size = strlen(piece);
    char *text = malloc(n * size + 2);
    if (text == NULL)
        exit(2);
    for (size_t i = 0; i < n * size; i++)
        text[i] = piece[i % size];
    *ret_size = n * size;
    return text;
}

static void check_bounds(void)
{
    struct json_doc *doc;
    struct fault f;
    char nested[2 * JSON_DEPTH_MAX + 2];
    memset(nested, '[', JSON_DEPTH_MAX);
    memset(nested + JSON_DEPTH_MAX, ']', JSON_DEPTH_MAX);
    tap_ok(parse(nested, 2 * (size_t)JSON_DEPTH_MAX, &doc, &f) == ERR_OK,
           "64 lists inside one another are read");
    json_free(doc);

    size_t n;
    char *deep = repeat("[", 100, &n);
    tap_ok(parse(deep, n, &doc, &f) == ERR_LIMIT && f.line == 1 && f.column == 65,
           "depth 100 is refused where 65 begins");
    free(deep);
    deep = repeat("{\"a\":", 1000000, &n);
    tap_ok(parse(deep, n, &doc, &f) == ERR_LIMIT && f.column == 64 * 5 + 1,
           "depth 1000000 is refused at once");
    free(deep);
    deep = repeat("\"[[[[\",", 50, &n);
    deep[n - 1] = ']';
    char *list = malloc(n + 1);
    if (list == NULL)
        exit(2);
    list[0] = '[';
    memcpy(list + 1, deep, n);
    tap_ok(parse(list, n + 1, &doc, &f) == ERR_OK && json_size(json_root(doc)) == 50,
           "brackets in texts are not depth");
    json_free(doc);
    free(list);
    free(deep);

    char *many = repeat("1,", JSON_ITEMS_MAX + 1, &n);
    many[0] = '[';
    tap_ok(parse(many, n, &doc, &f) == ERR_LIMIT &&
               strstr(f.message, "more than 1000000 values") != NULL,
           "more than a million values are refused");
    free(many);
    char *big = repeat(" ", JSON_SIZE_MAX + 1, &n);
    tap_ok(parse(big, n, &doc, &f) == ERR_LIMIT && strstr(f.message, "16 MiB") != NULL,
           "16 MiB and a byte are refused");
    big[n - 2] = '1';
    tap_ok(parse(big, n - 1, &doc, &f) == ERR_OK && json_int(json_root(doc)) == 1,
           "16 MiB exactly are read");
    json_free(doc);
    free(big);
}

static void check_tree(void)
{
    static const char text[] =
        "{\"b\": 2, \"a\": [1, -2.5, \"x\\ty\", true, null, {}],\n \"c\": {\"d\": 7}}";
    struct json_doc *doc;
    struct fault f;
    if (!tap_ok(parse(text, sizeof text - 1, &doc, &f) == ERR_OK, "a small document is read"))
        return;
    json_node *root = json_root(doc);
    json_node *a = json_get(root, "a");
    const char *key = NULL;
    size_t n = 0;
    tap_ok(json_size(root) == 3 && json_member(root, 0, &key) != NULL && strcmp(key, "b") == 0 &&
               json_member(root, 1, &key) == a && strcmp(key, "a") == 0,
           "members come in the order of the file");
    tap_ok(json_member(root, 3, &key) == NULL && json_member(a, 0, &key) == NULL,
           "no member out of range or of a list");
    tap_ok(json_int(json_get(root, "b")) == 2 && json_double(json_get(root, "b")) == 2.0,
           "an integer is a number too");
    tap_ok(json_size(a) == 6 && json_int(json_at(a, 0)) == 1 && json_double(json_at(a, 1)) == -2.5,
           "items of a list");
    tap_ok(strcmp(json_string(json_at(a, 2), &n), "x\ty") == 0 && n == 3,
           "a text without its escapes");
    tap_ok(json_bool(json_at(a, 3)) && !json_bool(json_at(a, 0)), "true is true, a number is not");
    tap_ok(json_kind(json_at(a, 4)) == JSON_NULL && json_kind(json_at(a, 5)) == JSON_OBJECT,
           "null and an empty object");
    tap_ok(json_at(a, 6) == NULL && json_at(root, 0) == NULL && json_get(a, "a") == NULL &&
               json_get(root, "z") == NULL,
           "what is not there is NULL");
    tap_ok(json_string(a, NULL) == NULL && json_int(a) == 0 && json_double(a) == 0 &&
               json_size(json_at(a, 0)) == 0,
           "asking for the wrong kind gives nothing");
    tap_ok(json_get(NULL, "a") == NULL && json_at(NULL, 0) == NULL && json_size(NULL) == 0 &&
               json_string(NULL, NULL) == NULL && json_kind(NULL) == JSON_NULL,
           "NULL may be asked anything");
    json_place(json_at(a, 2), &f);
    tap_ok(f.line == 1 && f.column == 25, "place of an item: 1:25, counted by hand");
    json_place(json_get(json_get(root, "c"), "d"), &f);
    tap_ok(f.line == 2 && f.column == 13, "place of a member's value: 2:13, counted by hand");
    json_place(NULL, &f);
    tap_ok(f.line == 2 && f.column == 13, "NULL has no place and changes nothing");
    json_free(doc);
    json_free(NULL);
}

struct quantity_row {
    const char *text;
    enum unit bare;
    enum err code;
    int64_t nano;
    const char *message, *source;
};

static const struct quantity_row quantity_rows[] = {
    {"62.4", UNIT_MM, ERR_OK, 62400000, NULL, "SI: 1 mm is 1000000 nm"},
    {"58", UNIT_MM, ERR_OK, 58000000, NULL, "SI"},
    {"2.5", UNIT_IN, ERR_OK, 63500000, NULL, "yard and pound agreement 1959: 1 in is 25.4 mm"},
    {"\"2 1/2 in\"", UNIT_MM, ERR_OK, 63500000, NULL, "yard and pound agreement 1959"},
    {"\"63.5 mm\"", UNIT_IN, ERR_OK, 63500000, NULL, "SI"},
    {"12.5", UNIT_V, ERR_OK, 12500000000, NULL, "volts in nano"},
    {"\"12500 mV\"", UNIT_V, ERR_OK, 12500000000, NULL, "SI: 1000 mV are 1 V"},
    {"\"2.5\"", UNIT_MM, ERR_UNIT, 0, "found \"2.5\"; expected an amount with a unit",
     "a text without a unit"},
    {"\"5 V\"", UNIT_MM, ERR_UNIT, 0, "found \"5 V\"; expected an amount in mm",
     "volts where a length is wanted"},
    {"\"five mm\"", UNIT_MM, ERR_SYNTAX, 0, "found \"five mm\"", "words"},
    {"9223372036854775807", UNIT_MM, ERR_RANGE, 0, "found 9.2", "an integer whose nano overflow"},
    {"1e300", UNIT_MM, ERR_RANGE, 0, "found 1e+300 mm", "a real whose nano overflow"},
    {"true", UNIT_MM, ERR_TYPE, 0, "found true or false; expected an amount", "a truth value"},
    {"null", UNIT_MM, ERR_TYPE, 0, "found null; expected an amount", "null"},
    {"[5]", UNIT_MM, ERR_TYPE, 0, "found a list; expected an amount", "a list"},
};

static void check_quantities(void)
{
    for (size_t i = 0; i < sizeof quantity_rows / sizeof *quantity_rows; i++) {
        const struct quantity_row *r = &quantity_rows[i];
        struct json_doc *doc;
        struct fault f;
        int64_t nano = -7;
        enum err err = parse(r->text, strlen(r->text), &doc, &f);
        if (err == ERR_OK)
            err = json_quantity(json_root(doc), r->bare, &nano, &f);
        const bool is_good =
            err == r->code && (err == ERR_OK ? nano == r->nano : nano == -7) &&
            (r->message == NULL || strncmp(f.message, r->message, strlen(r->message)) == 0);
        if (!tap_ok(is_good, "quantity %s (%s)", r->text, r->source))
            tap_note("found %s %lld %s", err_symbol(err), (long long)nano, f.message);
        json_free(doc);
    }
}

int main(void)
{
    check_good();
    check_bad();
    check_truncated();
    check_bounds();
    check_tree();
    check_quantities();
    return tap_done();
}
