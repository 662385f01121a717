/* native: calls the flat functions of the core as the machine's own code, one call a line, and
 * prints every bit of the answers, for compare.mjs to hold against the same calls in WebAssembly.
 * Its twin is flat.mjs.
 *
 * A line is a name and its arguments: i:5 (32 bits) l:5 (64 bits) d:HEX (the double's bits) s:HEX
 * (text: pointer and size) p:HEX (pointer to bytes) L:1,2 U:1,2 D:HEX,HEX (pointers to int64,
 * uint32, double) and >L4 >D3 >T64 (room for an answer, cleared). An answer is the value returned
 * and then each room's contents; NaN is one word, since only its being one is promised.
 *
 * usage: wasm_native <LINES             answers
 *        wasm_native --time N <LINES    nanoseconds for all lines, the best of N rounds */
#include "wasm/exports.h"

#include <inttypes.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum { ARGS_MAX = 16, LINE_MAX_BYTES = 1 << 20, LINES_MAX = 100000 };

struct arg {
    char kind; /* as in the signatures below */
    bool is_answer;
    int64_t i;
    double d;
    void *p;
    uint32_t n; /* bytes of a text, items of an array */
};

struct flat {
    const char *name, *kinds;
    int32_t (*call)(const struct arg *a);
};

#define S(k) (const char *)a[k].p, a[k].n
#define P(k) a[k].p
#define I(k) (int32_t) a[k].i
#define U(k) (uint32_t) a[k].i
#define L(k) a[k].i
#define D(k) a[k].d
#define FLATS(X)                                                                                   \
    X(mw_err_text, "iTi", I(0), P(1), U(2))                                                        \
    X(mw_unit_find, "s", S(0))                                                                     \
    X(mw_quantity_parse, "siL", S(0), I(1), P(2))                                                  \
    X(mw_quantity_from_double, "diL", D(0), I(1), P(2))                                            \
    X(mw_quantity_show, "liiTL", L(0), I(1), I(2), P(3), P(4))                                     \
    X(mw_length_fraction, "liTL", L(0), I(1), P(2), P(3))                                          \
    X(mw_date_show, "iTL", I(0), P(1), P(2))                                                       \
    X(mw_ulid_next, "slpLT", S(0), L(1), P(2), P(3), P(4))                                         \
    X(mw_label_read, "ssiLT", S(0), S(1), U(2), P(3), P(4))                                        \
    X(mw_vin_check, "sLT", S(0), P(1), P(2))                                                       \
    X(mw_vin_repair, "spiLT", S(0), P(1), U(2), P(3), P(4))                                        \
    X(mw_scope, "UUpippLpLLpLT", P(0), P(1), P(2), I(3), P(4), P(5), P(6), P(7), P(8), P(9),       \
      P(10), P(11), P(12))                                                                         \
    X(mw_cut_plan, "LlDiLDT", P(0), L(1), P(2), I(3), P(4), P(5), P(6))                            \
    X(mw_cut_remeasure, "LLiddL", P(0), P(1), U(2), D(3), D(4), P(5))                              \
    X(mw_kit_choose, "LiiLLDL", P(0), U(1), U(2), P(3), P(4), P(5), P(6))                          \
    X(mw_gear_span, "llL", L(0), L(1), P(2))                                                       \
    X(mw_wire_least, "iDldDT", I(0), P(1), L(2), D(3), P(4), P(5))                                 \
    X(mw_conform, "ldlldLD", L(0), D(1), L(2), L(3), D(4), P(5), P(6))                             \
    X(mw_conform_risks, "ddddddD", D(0), D(1), D(2), D(3), D(4), D(5), P(6))                       \
    X(mw_modes, "LDiiLD", P(0), P(1), U(2), U(3), P(4), P(5))                                      \
    X(mw_modes_meaning, "siiTiL", S(0), U(1), U(2), P(3), U(4), P(5))                              \
    X(mw_truing, "LDiLiLdilLD", P(0), P(1), U(2), P(3), U(4), P(5), D(6), U(7), L(8), P(9), P(10)) \
    X(mw_advise, "LDiLiLddilLD", P(0), P(1), U(2), P(3), U(4), P(5), D(6), D(7), U(8), L(9),       \
      P(10), P(11))                                                                                \
    X(mw_photo_alike, "LL", P(0), P(1))                                                            \
    X(mw_photo, "piiLD", P(0), U(1), U(2), P(3), P(4))                                             \
    X(mw_practice, "liLiLiLD", L(0), I(1), P(2), U(3), P(4), U(5), P(6), P(7))                     \
    X(mw_practice_trace, "liLiLildiLD", L(0), I(1), P(2), U(3), P(4), U(5), L(6), D(7), U(8),      \
      P(9), P(10))                                                                                 \
    X(mw_timing, "LDiLildLD", P(0), P(1), U(2), P(3), U(4), L(5), D(6), P(7), P(8))

#define X(name, kinds, ...)                                                                        \
    static int32_t call_##name(const struct arg *a)                                                \
    {                                                                                              \
        return name(__VA_ARGS__);                                                                  \
    }
FLATS(X)
#undef X

static int32_t call_mw_truing_size(const struct arg *a)
{
    return (int32_t)mw_truing_size(U(0), U(1), U(2));
}

/* Returns a double, the only one: its bits go into a room for one, so that all calls look alike. */
static int32_t call_mw_conform_combine(const struct arg *a)
{
    *(double *)P(3) = mw_conform_combine(L(0), D(1), D(2));
    return 0;
}

static const struct flat flats[] = {
#define X(name, kinds, ...) {#name, kinds, call_##name},
    FLATS(X)
#undef X
        {"mw_truing_size", "iii", call_mw_truing_size},
    {"mw_conform_combine", "lddD", call_mw_conform_combine},
};

static void fail(const char *what, const char *token)
{
    fprintf(stderr, "wasm_native: %s: %.80s\n", what, token);
    exit(2);
}

static void *room(size_t bytes)
{
    void *p = bytes <= UINT32_MAX ? mw_alloc((uint32_t)bytes) : NULL;
    if (!p)
        fail("no room left", "");
    memset(p, 0, bytes);
    return p;
}

static double double_of(const char *hex, char **end)
{
    uint64_t bits = strtoull(hex, end, 16);
    double d;
    memcpy(&d, &bits, sizeof d);
    return d;
}

static void read_bytes(struct arg *a, const char *hex)
{
    size_t n = strlen(hex) / 2;
    unsigned char *p = room(n + 1);
    for (size_t i = 0; i < n; i++) {
        char pair[3] = {hex[2 * i], hex[2 * i + 1], '\0'};
        p[i] = (unsigned char)strtoul(pair, NULL, 16);
    }
    p[n] = 0xff; /* whoever reads one too far finds no closing NUL */
    a->p = p;
    a->n = (uint32_t)n;
}

static void read_list(struct arg *a, char *text)
{
    size_t n = *text ? 1 : 0;
    for (const char *c = text; *c; c++)
        n += *c == ',';
    a->n = (uint32_t)n;
    a->p = room(n * 8 + 8);
    char *at = text;
    for (size_t i = 0; i < n; i++) {
        if (a->kind == 'L')
            ((int64_t *)a->p)[i] = strtoll(at, &at, 10);
        else if (a->kind == 'U')
            ((uint32_t *)a->p)[i] = (uint32_t)strtoul(at, &at, 10);
        else
            ((double *)a->p)[i] = double_of(at, &at);
        at += *at == ',';
    }
}

static struct arg read_arg(char *token)
{
    struct arg a = {.kind = token[0] == '>' ? token[1] : token[0], .is_answer = token[0] == '>'};
    char *rest = token + 2;
    if (token[0] == '\0' || token[1] == '\0')
        fail("not an argument", token);
    if (a.is_answer) {
        a.n = (uint32_t)strtoul(rest, NULL, 10);
        a.p = room(a.kind == 'T' ? a.n : 8 * (size_t)a.n);
    } else if (a.kind == 'i' || a.kind == 'l') {
        a.i = strtoll(rest, NULL, 10);
    } else if (a.kind == 'd') {
        a.d = double_of(rest, NULL);
    } else if (a.kind == 's' || a.kind == 'p') {
        read_bytes(&a, rest);
    } else {
        read_list(&a, rest);
    }
    return a;
}

struct call {
    const struct flat *flat;
    struct arg args[ARGS_MAX];
    size_t n;
};

static void read_call(char *line, struct call *ret)
{
    char *save = NULL;
    const char *name = strtok_r(line, " ", &save);
    ret->flat = NULL;
    ret->n = 0;
    for (size_t i = 0; name && i < sizeof flats / sizeof *flats; i++) {
        if (strcmp(flats[i].name, name) == 0)
            ret->flat = &flats[i];
    }
    if (!ret->flat)
        fail("no such function", name ? name : "(an empty line)");
    for (char *token; (token = strtok_r(NULL, " ", &save));) {
        if (ret->n == strlen(ret->flat->kinds))
            fail("too many arguments", name);
        ret->args[ret->n] = read_arg(token);
        if (ret->args[ret->n].kind != ret->flat->kinds[ret->n])
            fail("an argument of the wrong kind", token);
        ret->n++;
    }
    if (ret->n != strlen(ret->flat->kinds))
        fail("too few arguments", name);
}

static void show_answer(const struct arg *a)
{
    printf(" %c", a->kind);
    uint32_t n = a->n;
    if (a->kind == 'T') {
        while (n && ((unsigned char *)a->p)[n - 1] == 0)
            n--;
        for (uint32_t i = 0; i < n; i++)
            printf("%02x", ((unsigned char *)a->p)[i]);
    }
    for (uint32_t i = 0; i < n && a->kind == 'L'; i++)
        printf("%s%" PRId64, i ? "," : "", ((int64_t *)a->p)[i]);
    for (uint32_t i = 0; i < n && a->kind == 'D'; i++) {
        double d = ((double *)a->p)[i];
        uint64_t bits;
        memcpy(&bits, &d, sizeof bits);
        if (d == d)
            printf("%s%016" PRIx64, i ? "," : "", bits);
        else
            printf("%snan", i ? "," : "");
    }
}

static void answer(char *line)
{
    struct call call;
    mw_reset();
    read_call(line, &call);
    printf("%" PRId32, call.flat->call(call.args));
    for (size_t i = 0; i < call.n; i++) {
        if (call.args[i].is_answer)
            show_answer(&call.args[i]);
    }
    putchar('\n');
}

static int64_t now_ns(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000000000 + t.tv_nsec;
}

static int64_t best_round(const struct call *calls, size_t n, long rounds)
{
    int64_t best = INT64_MAX;
    for (long r = 0; r < rounds; r++) {
        int64_t start = now_ns();
        for (size_t i = 0; i < n; i++)
            calls[i].flat->call(calls[i].args);
        int64_t took = now_ns() - start;
        best = took < best ? took : best;
    }
    return best;
}

int main(int argc, char **argv)
{
    static char line[LINE_MAX_BYTES];
    long rounds = argc == 3 && strcmp(argv[1], "--time") == 0 ? strtol(argv[2], NULL, 10) : 0;
    if (argc != 1 && rounds <= 0)
        fail("usage: wasm_native [--time N] <LINES", "");
    struct call *calls = rounds ? calloc(LINES_MAX, sizeof *calls) : NULL;
    if (rounds && !calls)
        fail("no room left", "");
    size_t n = 0;
    while (fgets(line, sizeof line, stdin)) {
        line[strcspn(line, "\n")] = '\0';
        if (!rounds)
            answer(line);
        else if (n < LINES_MAX)
            read_call(line, &calls[n++]);
    }
    if (rounds)
        printf("%" PRId64 "\n", best_round(calls, n, rounds));
    free(calls);
    return 0;
}
