/* vin: owns the judgement of vehicle identification numbers. Repairs are in vin_repair.c. */
#include "core/vin.h"

/* ---- tables of 49 CFR 565.15
 * ----------------------------------------------------------------------------------- */

/* Every legal character with its value (Table III), either case. I, O and Q are no VIN characters.
 */
#define LEGAL_TABLE(X, w)                                                                          \
    X('0', 0, w), X('1', 1, w), X('2', 2, w), X('3', 3, w), X('4', 4, w), X('5', 5, w),            \
        X('6', 6, w), X('7', 7, w), X('8', 8, w), X('9', 9, w), X('A', 1, w), X('B', 2, w),        \
        X('C', 3, w), X('D', 4, w), X('E', 5, w), X('F', 6, w), X('G', 7, w), X('H', 8, w),        \
        X('J', 1, w), X('K', 2, w), X('L', 3, w), X('M', 4, w), X('N', 5, w), X('P', 7, w),        \
        X('R', 9, w), X('S', 2, w), X('T', 3, w), X('U', 4, w), X('V', 5, w), X('W', 6, w),        \
        X('X', 7, w), X('Y', 8, w), X('Z', 9, w), X('a', 1, w), X('b', 2, w), X('c', 3, w),        \
        X('d', 4, w), X('e', 5, w), X('f', 6, w), X('g', 7, w), X('h', 8, w), X('j', 1, w),        \
        X('k', 2, w), X('l', 3, w), X('m', 4, w), X('n', 5, w), X('p', 7, w), X('r', 9, w),        \
        X('s', 2, w), X('t', 3, w), X('u', 4, w), X('v', 5, w), X('w', 6, w), X('x', 7, w),        \
        X('y', 8, w), X('z', 9, w)

/* One row a weight (Table IV): the product modulo 11, plus LEGAL for a character that a VIN may
 * hold and 0 for any other. The sum of seventeen such cells tells both how many characters are
 * legal and the remainder, without a branch. */
enum { LEGAL = 0x100, ROW_CHECK = 0 };
#define CELL(c, value, w) [c] = LEGAL | ((value) * (w)) % 11
#define ROW(w)                                                                                     \
    {                                                                                              \
        LEGAL_TABLE(CELL, w)                                                                       \
    }

static const uint16_t products[11][256] = {
    /* Position 9 has weight 0; its row holds what takes the sum to a multiple of 11. */
    [ROW_CHECK] = {['0'] = LEGAL,
                   ['1'] = LEGAL | 10,
                   ['2'] = LEGAL | 9,
                   ['3'] = LEGAL | 8,
                   ['4'] = LEGAL | 7,
                   ['5'] = LEGAL | 6,
                   ['6'] = LEGAL | 5,
                   ['7'] = LEGAL | 4,
                   ['8'] = LEGAL | 3,
                   ['9'] = LEGAL | 2,
                   ['X'] = LEGAL | 1,
                   ['x'] = LEGAL | 1},
    [2] = ROW(2),
    [3] = ROW(3),
    [4] = ROW(4),
    [5] = ROW(5),
    [6] = ROW(6),
    [7] = ROW(7),
    [8] = ROW(8),
    [9] = ROW(9),
    [10] = ROW(10),
};

static const unsigned char weights[VIN_SIZE] = {8, 7, 6, 5, 4, 3, 2, 10, ROW_CHECK,
                                                9, 8, 7, 6, 5, 4, 3, 2};

enum { CHECK_AT = 8, YEAR_AT = 9, YEAR_RULE_AT = 6 };

/* ---- the fast path
 * --------------------------------------------------------------------------------------------- */

static bool is_filler(const char *text)
{
    if (text[0] != text[1] || text[0] == '1')
        return false;
    for (size_t i = 2; i < VIN_SIZE; i++)
        if (text[i] != text[0])
            return false;
    return true;
}

bool vin_is_valid17(const char *text)
{
    const unsigned char *t = (const unsigned char *)text;
    unsigned sum = (unsigned)products[8][t[0]] + products[7][t[1]] + products[6][t[2]] +
                   products[5][t[3]] + products[4][t[4]] + products[3][t[5]] + products[2][t[6]] +
                   products[10][t[7]] + products[ROW_CHECK][t[8]] + products[9][t[9]] +
                   products[8][t[10]] + products[7][t[11]] + products[6][t[12]] +
                   products[5][t[13]] + products[4][t[14]] + products[3][t[15]] +
                   products[2][t[16]];
    /* An illegal character takes at least LEGAL away, and the remainders sum to 170 at most: the
     * difference wraps. */
    unsigned remainders = sum - VIN_SIZE * LEGAL;
    return remainders <= 170 && remainders % 11 == 0 && !is_filler(text);
}

/* ---- the whole judgement
 * --------------------------------------------------------------------------------------- */

const char *vin_fault_name(enum vin_fault fault)
{
    static const char *const names[] = {NULL, "length", "character", "check"};
    return names[fault];
}

static bool is_edge(char c)
{
    return c == ' ' || c == '\t' || c == '-';
}

static char shown(char c)
{
    if (c >= 'a' && c <= 'z')
        return (char)(c - 'a' + 'A');
    return c >= ' ' && c <= '~' ? c : '?';
}

static bool is_legal(char c)
{
    return products[weights[0]][(unsigned char)c] != 0;
}

/* The check digit that the other sixteen ask for; 0 when one of them is not legal. */
static char expected_digit(const char *text)
{
    unsigned sum = 0;
    for (size_t i = 0; i < VIN_SIZE; i++)
        if (i != CHECK_AT)
            sum += products[weights[i]][(unsigned char)text[i]];
    unsigned remainders = sum - (VIN_SIZE - 1) * LEGAL;
    if (remainders > 160)
        return '\0';
    return "0123456789X"[remainders % 11];
}

static void find_years(struct vin_verdict *v)
{
    static const char codes[] =
        "ABCDEFGHJKLMNPRSTVWXY123456789"; /* 1980 .. 2009, and again 2010 .. 2039 */
    char code = v->vin[YEAR_AT], rule = v->vin[YEAR_RULE_AT];
    for (int i = 0; codes[i] != '\0'; i++) {
        if (codes[i] != code)
            continue;
        bool is_later = is_legal(rule) && rule > '9'; /* a misread I, O or Q is rather a digit */
        v->n_years = 2;
        v->years[is_later] = 1980 + i;
        v->years[!is_later] = 2010 + i;
    }
}

void vin_check(const char *text, size_t n, struct vin_verdict *ret)
{
    *ret = (struct vin_verdict){.fault = VIN_FAULT_NONE};
    size_t first = 0, size = n;
    while (size > 0 && is_edge(text[first])) {
        first++;
        size--;
    }
    while (size > 0 && is_edge(text[first + size - 1]))
        size--;
    if (size != VIN_SIZE) {
        ret->fault = VIN_FAULT_LENGTH;
        ret->at = size > VIN_SIZE ? first + VIN_SIZE : n;
        return;
    }

    const char *vin = text + first;
    for (size_t i = VIN_SIZE; i-- > 0;) {
        ret->vin[i] = shown(vin[i]);
        if (!is_legal(vin[i])) {
            ret->fault = VIN_FAULT_CHARACTER;
            ret->at = first + i;
        }
    }
    ret->check_expected = expected_digit(vin);
    ret->check_found = ret->vin[CHECK_AT];
    find_years(ret);
    ret->is_filler = is_filler(vin) && vin[0] >= '0' && vin[0] <= '9';
    if (ret->fault == VIN_FAULT_NONE &&
        (ret->check_expected != ret->check_found || ret->is_filler)) {
        ret->fault = VIN_FAULT_CHECK;
        ret->at = first + CHECK_AT;
    }
}
