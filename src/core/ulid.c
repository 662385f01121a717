/* ulid: owns the layout of a ULID, its 26 characters and how one follows another. */
#include "core/ulid.h"

#include <string.h>

enum { TIME_SIZE = ULID_SIZE - ULID_RANDOM_SIZE, BITS_A_CHARACTER = 5 };

static const char digits[] = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";

enum err ulid_make(int64_t time_ms, const uint8_t random[ULID_RANDOM_SIZE], struct ulid *ret)
{
    if (time_ms < 0 || time_ms > ULID_TIME_MAX_MS)
        return ERR_DOMAIN;
    for (int i = 0; i < TIME_SIZE; i++)
        ret->byte[i] = (uint8_t)(time_ms >> (8 * (TIME_SIZE - 1 - i)) & 0xFF);
    memcpy(ret->byte + TIME_SIZE, random, ULID_RANDOM_SIZE);
    return ERR_OK;
}

enum err ulid_next(const struct ulid *last, int64_t time_ms, const uint8_t random[ULID_RANDOM_SIZE],
                   struct ulid *ret)
{
    if (time_ms < 0 || time_ms > ULID_TIME_MAX_MS)
        return ERR_DOMAIN;
    if (time_ms > ulid_time_ms(last))
        return ulid_make(time_ms, random, ret);
    struct ulid next = *last;
    int i = ULID_SIZE - 1;
    while (i >= TIME_SIZE && next.byte[i] == 0xFF)
        next.byte[i--] = 0;
    if (i < TIME_SIZE)
        return ERR_RANGE;
    next.byte[i]++;
    *ret = next;
    return ERR_OK;
}

static int digit_of(char c)
{
    /* Of 'A' to 'Z'; I, L, O and U are none. */
    static const signed char letters[] = {10, 11, 12, 13, 14, 15, 16, 17, -1, 18, 19, -1, 20,
                                          21, -1, 22, 23, 24, 25, 26, -1, 27, 28, 29, 30, 31};
    if (c >= '0' && c <= '9')
        return c - '0';
    if (c >= 'a' && c <= 'z')
        c = (char)(c - 'a' + 'A');
    return c >= 'A' && c <= 'Z' ? letters[c - 'A'] : -1;
}

enum err ulid_parse(const char *text, size_t n, struct ulid *ret, size_t *reterr_at)
{
    uint64_t high = 0, low = 0; /* the 128 bits */
    *reterr_at = 0;
    if (n == 0)
        return ERR_EMPTY;
    for (size_t i = 0; i < n && i < ULID_TEXT_SIZE; i++) {
        const int digit = digit_of(text[i]);
        *reterr_at = i;
        if (digit < 0)
            return ERR_SYNTAX;
        if (i == 0 && digit > 7)
            return ERR_RANGE;
        high = high << BITS_A_CHARACTER | low >> (64 - BITS_A_CHARACTER);
        low = low << BITS_A_CHARACTER | (uint64_t)digit;
    }
    if (n != ULID_TEXT_SIZE) {
        *reterr_at = n < ULID_TEXT_SIZE ? n : ULID_TEXT_SIZE;
        return ERR_LIMIT;
    }
    for (int i = 0; i < 8; i++) {
        ret->byte[i] = (uint8_t)(high >> (56 - 8 * i) & 0xFF);
        ret->byte[8 + i] = (uint8_t)(low >> (56 - 8 * i) & 0xFF);
    }
    return ERR_OK;
}

void ulid_show(const struct ulid *ulid, char buf[ULID_TEXT_SIZE + 1])
{
    for (int i = 0; i < ULID_TEXT_SIZE; i++) {
        /* The last character holds the lowest five bits. */
        const int low = BITS_A_CHARACTER * (ULID_TEXT_SIZE - 1 - i);
        const int byte = ULID_SIZE - 1 - low / 8;
        unsigned wide = ulid->byte[byte];
        if (byte > 0)
            wide |= (unsigned)ulid->byte[byte - 1] << 8;
        buf[i] = digits[wide >> low % 8 & 31u];
    }
    buf[ULID_TEXT_SIZE] = '\0';
}

int64_t ulid_time_ms(const struct ulid *ulid)
{
    int64_t ms = 0;
    for (int i = 0; i < TIME_SIZE; i++)
        ms = ms << 8 | ulid->byte[i];
    return ms;
}

int ulid_compare(const struct ulid *a, const struct ulid *b)
{
    return memcmp(a->byte, b->byte, ULID_SIZE);
}
