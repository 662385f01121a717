/* jsonw: what is written is JSON (RFC 8259), reads back the same, and keeps the command contract's
 * names. */
#include "base/json.h"
#include "base/jsonw.h"

#include "tap.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static void expect(struct text *t, const char *wanted, const char *what)
{
    if (!tap_ok(!t->is_broken && t->data != NULL && strcmp(t->data, wanted) == 0, "%s", what))
        tap_note("found %s, expected %s", t->data != NULL ? t->data : "nothing", wanted);
    text_clear(t);
}

static void check_shape(void)
{
    struct text t = {0};
    struct jsonw w;
    jsonw_start(&w, &t);
    jsonw_object(&w, NULL);
    jsonw_string(&w, "a", "x");
    jsonw_array(&w, "b");
    jsonw_int(&w, NULL, -1);
    jsonw_bool(&w, NULL, true);
    jsonw_null(&w, NULL);
    jsonw_object(&w, NULL);
    jsonw_object_end(&w);
    jsonw_array(&w, NULL);
    jsonw_array_end(&w);
    jsonw_array_end(&w);
    jsonw_string(&w, "c", NULL);
    jsonw_object_end(&w);
    expect(&t, "{\"a\":\"x\",\"b\":[-1,true,null,{},[]],\"c\":null}",
           "commas and brackets (RFC 8259, 2-5)");
    jsonw_start(&w, &t);
    for (int i = 0; i < 2; i++) {
        jsonw_object(&w, NULL);
        jsonw_int(&w, "i", i);
        jsonw_object_end(&w);
        text_putc(&t, '\n');
    }
    expect(&t, "{\"i\":0}\n{\"i\":1}\n", "one object a line, without a comma between them");
    jsonw_start(&w, &t);
    for (int i = 0; i < JSONW_DEPTH_MAX - 1; i++)
        jsonw_array(&w, NULL);
    for (int i = 0; i < JSONW_DEPTH_MAX - 1; i++)
        jsonw_array_end(&w);
    tap_ok(t.size == 2 * (JSONW_DEPTH_MAX - 1), "31 lists inside one another are written");
    jsonw_start(&w, &t);
    text_clear(&t);
    jsonw_int(&w, NULL, INT64_MIN);
    expect(&t, "-9223372036854775808", "the least 64-bit integer");
    text_done(&t);
}

struct string_row {
    const char *s;
    size_t n;
    const char *wanted, *what;
};

static const struct string_row string_rows[] = {
    {"", 0, "\"\"", "empty"},
    {"a\"b", 3, "\"a\\\"b\"", "quotation mark is escaped (RFC 8259, 7)"},
    {"a\\b", 3, "\"a\\\\b\"", "reverse solidus is escaped (RFC 8259, 7)"},
    {"a/b", 3, "\"a/b\"", "solidus need not be (RFC 8259, 7)"},
    {"\b\f\n\r\t", 5, "\"\\u0008\\u000c\\n\\r\\t\"", "controls are escaped (RFC 8259, 7)"},
    {"\0\x1F", 2, "\"\\u0000\\u001f\"", "NUL and U+001F too (RFC 8259, 7)"},
    {"\xF0\x9D\x84\x9E", 4, "\"\xF0\x9D\x84\x9E\"",
     "U+1D11E, the RFC's own example, as UTF-8 (RFC 8259, 7 and 8.1)"},
    {"a\xFFz", 3, "\"a\xEF\xBF\xBDz\"", "an ill-formed byte becomes U+FFFD (Unicode 3.9)"},
    {"\xE2\x82", 2, "\"\xEF\xBF\xBD\xEF\xBF\xBD\"", "a cut character, byte by byte"},
};

static void check_strings(void)
{
    struct text t = {0};
    struct jsonw w;
    for (size_t i = 0; i < sizeof string_rows / sizeof *string_rows; i++) {
        jsonw_start(&w, &t);
        jsonw_string_n(&w, NULL, string_rows[i].s, string_rows[i].n);
        expect(&t, string_rows[i].wanted, string_rows[i].what);
    }
    /* Every character below U+0100 goes through the reader and comes back. */
    int n_bad = 0;
    for (int c = 1; c < 0x100; c++) {
        char s[3] = {(char)c, '\0', '\0'};
        if (c >= 0x80) {
            s[0] = (char)(0xC0 | c >> 6);
            s[1] = (char)(0x80 | (c & 0x3F));
        }
        struct json_doc *doc = NULL;
        struct fault f;
        jsonw_start(&w, &t);
        jsonw_string(&w, NULL, s);
        if (json_parse(t.data, t.size, "", &doc, &f) != ERR_OK ||
            strcmp(json_string(json_root(doc), NULL), s) != 0)
            n_bad++;
        json_free(doc);
        text_clear(&t);
    }
    tap_ok(n_bad == 0, "U+0001..U+00FF written, read by jansson and the same again");
    text_done(&t);
}

struct double_row {
    double value;
    const char *wanted, *what;
};

static const struct double_row double_rows[] = {
    {0.1, "0.1", "one tenth"},
    {62.4, "62.4", "a reading"},
    {1.0 / 3, "0.3333333333333333", "one third: 16 digits are enough"},
    {-1.5, "-1.5", "negative"},
    {5, "5", "whole"},
    {20, "20", "whole, as ECMA-262 Number::toString writes it"},
    {-300, "-300", "the same below zero"},
    {0.0, "0", "zero"},
    {-0.0, "-0.0", "negative zero keeps its sign"},
    {5e-324, "5e-324", "the least subnormal (ECMA-262: Number.MIN_VALUE is 5e-324)"},
    {1.7976931348623157e308, "1.7976931348623157e+308",
     "the greatest (ECMA-262: Number.MAX_VALUE)"},
    {2.220446049250313e-16, "2.220446049250313e-16",
     "2^-52 (ECMA-262: Number.EPSILON is 2.220446049250313e-16, from memory)"},
    {9007199254740991.0, "9007199254740991", "2^53 - 1 (ECMA-262: Number.MAX_SAFE_INTEGER)"},
    {1e23, "1e+23", "1e23 lies between two doubles and still reads back from one digit"},
    {NAN, "null", "not a number: null, JSON has none (RFC 8259, 6)"},
    {INFINITY, "null", "infinity: null"},
};

static void check_doubles(void)
{
    struct text t = {0};
    struct jsonw w;
    for (size_t i = 0; i < sizeof double_rows / sizeof *double_rows; i++) {
        jsonw_start(&w, &t);
        jsonw_double(&w, NULL, double_rows[i].value);
        expect(&t, double_rows[i].wanted, double_rows[i].what);
    }
    int n_bad = 0;
    uint64_t seed = 1;
    for (int i = 0; i < 20000; i++) {
        double x;
        seed ^= seed << 13, seed ^= seed >> 7, seed ^= seed << 17;
        memcpy(&x, &seed, sizeof x);
        if (!isfinite(x))
            continue;
        struct json_doc *doc = NULL;
        struct fault f;
        jsonw_start(&w, &t);
        jsonw_double(&w, NULL, x);
        /* A whole number beyond 64 bits has an exponent, so it stays a real. */
        n_bad +=
            json_parse(t.data, t.size, "", &doc, &f) != ERR_OK || json_double(json_root(doc)) != x;
        json_free(doc);
        text_clear(&t);
    }
    tap_ok(
        n_bad == 0,
        "20000 doubles of random bits (xorshift, seed 1) written, read by jansson, the same again");
    text_done(&t);
}

static void check_nano(void)
{
    struct text t = {0};
    struct jsonw w;
    jsonw_start(&w, &t);
    jsonw_object(&w, NULL);
    jsonw_nano(&w, "reading", 62400000, UNIT_MM);
    jsonw_nano(&w, "gap", -25400000, UNIT_IN);
    jsonw_nano(&w, "supply", 12500000000, UNIT_V);
    jsonw_nano(&w, "small", 1, UNIT_A);
    jsonw_object_end(&w);
    expect(&t,
           "{\"reading_nm\":62400000,\"gap_nm\":-25400000,\"supply\":12.5,\"small\":0.000000001}",
           "lengths as _nm integers, the rest as plain numbers (command contract)");
    text_done(&t);
}

int main(void)
{
    check_shape();
    check_strings();
    check_doubles();
    check_nano();
    return tap_done();
}
