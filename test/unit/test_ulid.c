/* Rows for core/ulid: the texts printed in the ULID specification (github.com/ulid/spec, README), with their time parts worked
 * by arithmetic, and properties. */
#include "core/ulid.h"
#include "table.h"
#include "tap.h"

#include <inttypes.h>

/* The first ten characters as a number in base 32: the arithmetic, apart from the code under test. */
static int64_t time_by_hand(const char *text)
{
    int64_t ms = 0;
    for (int i = 0; i < 10; i++)
        ms = ms * 32 + (strchr("0123456789ABCDEFGHJKMNPQRSTVWXYZ", text[i]) -
                        "0123456789ABCDEFGHJKMNPQRSTVWXYZ");
    return ms;
}

static bool follows(const char *first, const char *second)
{
    static const uint8_t unused[ULID_RANDOM_SIZE] = {9};
    struct ulid a, b;
    size_t at;
    char text[ULID_TEXT_SIZE + 1];
    if (ulid_parse(first, strlen(first), &a, &at) != ERR_OK)
        return false;
    if (ulid_next(&a, ulid_time_ms(&a), unused, &b) != ERR_OK)
        return false;
    ulid_show(&b, text);
    return strcmp(text, second) == 0 && ulid_compare(&a, &b) < 0;
}

static void spec_rows(void)
{
    static const char *const texts[] = {"01ARZ3NDEKTSV4RRFFQ69G5FAV", "01BX5ZZKBKACTAV9WEVGEMMVRZ",
                                        "7ZZZZZZZZZZZZZZZZZZZZZZZZZ", "00000000000000000000000000"};
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        struct ulid u;
        size_t at;
        char text[ULID_TEXT_SIZE + 1] = "";
        const bool is_good = ulid_parse(texts[i], 26, &u, &at) == ERR_OK;
        if (is_good)
            ulid_show(&u, text);
        tap_ok(is_good && strcmp(text, texts[i]) == 0, "%s reads and shows the same (ULID spec)",
               texts[i]);
        tap_ok(is_good && ulid_time_ms(&u) == time_by_hand(texts[i]),
               "its time is %" PRId64 " ms (first ten characters in base 32)",
               time_by_hand(texts[i]));
    }
    struct ulid u;
    size_t at;
    tap_ok(ulid_parse("7ZZZZZZZZZZZZZZZZZZZZZZZZZ", 26, &u, &at) == ERR_OK &&
               ulid_time_ms(&u) == INT64_C(281474976710655),
           "the largest has time 281474976710655 = 2^48 - 1 (ULID spec)");
    tap_ok(ulid_parse("01ARZ3NDEKTSV4RRFFQ69G5FAV", 26, &u, &at) == ERR_OK &&
               ulid_time_ms(&u) == INT64_C(1469922850259),
           "01ARZ3NDEK is 1469922850259 ms, 30 July 2016 (base 32 worked apart, in Python)");
    static const uint8_t bytes[ULID_RANDOM_SIZE] = {0, 0, 0, 0, 0, 0, 0, 0, 0, 33};
    char text[ULID_TEXT_SIZE + 1] = "";
    if (ulid_make(32, bytes, &u) == ERR_OK)
        ulid_show(&u, text);
    tap_ok(strcmp(text, "00000000100000000000000011") == 0,
           "time 32, random 33: 10 and 11 in base 32 (by hand)");
    tap_ok(u.byte[5] == 32 && u.byte[15] == 33 && u.byte[0] == 0,
           "most significant byte first (ULID spec, binary layout)");
}

static void monotonic_rows(void)
{
    tap_ok(follows("01BX5ZZKBKACTAV9WEVGEMMVRY", "01BX5ZZKBKACTAV9WEVGEMMVRZ"),
           "...VRY, ...VRZ (ULID spec)");
    tap_ok(follows("01BX5ZZKBKACTAV9WEVGEMMVRZ", "01BX5ZZKBKACTAV9WEVGEMMVS0"),
           "...VRZ, ...VS0 (ULID spec)");
    tap_ok(follows("01BX5ZZKBKACTAV9WEVGEMMVS0", "01BX5ZZKBKACTAV9WEVGEMMVS1"),
           "...VS0, ...VS1 (ULID spec)");
    tap_ok(follows("01BX5ZZKBKZZZZZZZZZZZZZZZX", "01BX5ZZKBKZZZZZZZZZZZZZZZY"),
           "...ZZX, ...ZZY (ULID spec)");
    static const uint8_t random[ULID_RANDOM_SIZE] = {1, 2, 3, 4, 5, 6, 7, 8, 9, 10};
    struct ulid last, next;
    size_t at;
    if (ulid_parse("01BX5ZZKBKZZZZZZZZZZZZZZZZ", 26, &last, &at) != ERR_OK)
        tap_ok(false, "01BX5ZZKBKZZZZZZZZZZZZZZZZ reads");
    const int64_t ms = ulid_time_ms(&last);
    tap_ok(ulid_next(&last, ms, random, &next) == ERR_RANGE,
           "...ZZZ has no next in its millisecond (ULID spec)");
    tap_ok(ulid_next(&last, ms + 1, random, &next) == ERR_OK && ulid_time_ms(&next) == ms + 1 &&
               memcmp(next.byte + 6, random, sizeof random) == 0,
           "a millisecond later it is made afresh");
    tap_ok(ulid_make(ms, random, &last) == ERR_OK &&
               ulid_next(&last, ms - 5000, random, &next) == ERR_OK &&
               ulid_compare(&last, &next) < 0 && ulid_time_ms(&next) == ms,
           "a clock that was set back does not break the order");
}

static void refusals(void)
{
    static const struct {
        const char *text;
        enum err e;
        size_t at;
    } rows[] = {
        {"", ERR_EMPTY, 0},
        {"01ARZ3NDEKTSV4RRFFQ69G5FA", ERR_LIMIT, 25},
        {"01ARZ3NDEKTSV4RRFFQ69G5FAV0", ERR_LIMIT, 26},
        {"80000000000000000000000000", ERR_RANGE, 0}, /* ULID spec: larger must be rejected */
        {"01ARZ3NDEKTSV4RRFFQ69G5FAU", ERR_SYNTAX, 25},
        {"0IARZ3NDEKTSV4RRFFQ69G5FAV", ERR_SYNTAX, 1},
        {"01ARZ3NDEK-SV4RRFFQ69G5FAV", ERR_SYNTAX, 10},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct ulid u;
        size_t at = 99;
        const enum err e = ulid_parse(rows[i].text, strlen(rows[i].text), &u, &at);
        tap_ok(e == rows[i].e && at == rows[i].at,
               "\"%s\" is refused at byte %zu (alphabet and length of the ULID spec)", rows[i].text,
               rows[i].at);
    }
    struct ulid u;
    size_t at;
    static const uint8_t zero[ULID_RANDOM_SIZE] = {0};
    tap_ok(ulid_make(-1, zero, &u) == ERR_DOMAIN &&
               ulid_make(ULID_TIME_MAX_MS + 1, zero, &u) == ERR_DOMAIN,
           "times that 48 bits do not hold are refused");
    tap_ok(ulid_parse("01arz3ndektsv4rrffq69g5fav", 26, &u, &at) == ERR_OK &&
               ulid_time_ms(&u) == INT64_C(1469922850259),
           "lower case reads as upper case (ULID spec: case insensitive)");
}

static void properties(void)
{
    unsigned long long state = 1;
    int n_same = 0, n_ordered = 0;
    enum { N = 5000 };
    struct ulid last = {{0}};
    char last_text[ULID_TEXT_SIZE + 1] = "";
    for (int i = 0; i < N; i++) {
        uint8_t random[ULID_RANDOM_SIZE];
        for (size_t b = 0; b < sizeof random; b++)
            random[b] = (uint8_t)table_random(&state);
        struct ulid u, again;
        size_t at;
        char text[ULID_TEXT_SIZE + 1] = "";
        const int64_t ms = (int64_t)(table_random(&state) >> 16);
        if (ulid_make(ms, random, &u) != ERR_OK)
            continue;
        ulid_show(&u, text);
        n_same += ulid_parse(text, 26, &again, &at) == ERR_OK && ulid_compare(&u, &again) == 0 &&
                  ulid_time_ms(&u) == ms && time_by_hand(text) == ms;
        n_ordered += i == 0 || (ulid_compare(&last, &u) < 0) == (strcmp(last_text, text) < 0);
        last = u;
        memcpy(last_text, text, sizeof text);
    }
    tap_ok(n_same == N, "%d of %d random ones show and read the same", n_same, (int)N);
    tap_ok(n_ordered == N, "%d of %d sort as their texts do", n_ordered, (int)N);
}

int main(void)
{
    spec_rows();
    monotonic_rows();
    refusals();
    properties();
    return tap_done();
}
