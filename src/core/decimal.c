/* decimal: owns digit-by-digit scaling and the shortest decimal of a double. Nothing here knows
 * units. */
#include "core/decimal.h"

/* ---- scaling
 * ---------------------------------------------------------------------------------------------------
 */

static const uint64_t MAGNITUDE_MAX = (uint64_t)1 << 63; /* the magnitude of INT64_MIN */

enum err decimal_scale(const char *whole, size_t n_whole, const char *frac, size_t n_frac,
                       uint64_t per, uint64_t *ret, bool *ret_rounded)
{
    uint64_t units = 0;
    for (size_t i = 0; i < n_whole; i++) {
        units = units * 10 + (uint64_t)(whole[i] - '0');
        if (units > MAGNITUDE_MAX / per)
            return ERR_RANGE;
    }

    /* Long multiplication from the right: what is carried past the point is whole, what stays
     * behind are the digits of the remainder. So no digit is ever cut, however many were written.
     */
    uint64_t carry = 0;
    uint64_t first_behind = 0;
    bool has_more_behind = false;
    for (size_t i = n_frac; i-- > 0;) {
        has_more_behind = has_more_behind || first_behind != 0;
        uint64_t t = (uint64_t)(frac[i] - '0') * per + carry;
        first_behind = t % 10;
        carry = t / 10;
    }

    uint64_t sum = units * per + carry; /* at most 2^63 + 10^17: no wrap */
    bool is_above_half = first_behind > 5 || (first_behind == 5 && has_more_behind);
    bool is_half = first_behind == 5 && !has_more_behind;
    if (is_above_half || (is_half && (sum & 1)))
        sum++;
    if (sum > MAGNITUDE_MAX)
        return ERR_RANGE;
    *ret = sum;
    *ret_rounded = first_behind != 0 || has_more_behind;
    return ERR_OK;
}

/* ---- shortest digits
 * ------------------------------------------------------------------------------------------- */

/* 256 bits hold every intermediate: for 2^-80 <= value < 2^63 none needs more than 148. */
enum { BIG_WORDS = 8 };

struct big {
    uint32_t word[BIG_WORDS]; /* least significant first */
};

static void big_shift(struct big *b, uint64_t value, int bits)
{
    for (int i = 0; i < BIG_WORDS; i++)
        b->word[i] = 0;
    int w = bits / 32, r = bits % 32;
    uint64_t low = (value & 0xffffffffu) << r, high = (value >> 32) << r;
    b->word[w] = (uint32_t)low;
    high += low >> 32;
    b->word[w + 1] = (uint32_t)high;
    b->word[w + 2] = (uint32_t)(high >> 32);
}

static void big_times10(struct big *b)
{
    uint64_t carry = 0;
    for (int i = 0; i < BIG_WORDS; i++) {
        uint64_t t = (uint64_t)b->word[i] * 10 + carry;
        b->word[i] = (uint32_t)t;
        carry = t >> 32;
    }
}

static struct big big_plus(const struct big *a, const struct big *b)
{
    struct big sum;
    uint64_t carry = 0;
    for (int i = 0; i < BIG_WORDS; i++) {
        uint64_t t = (uint64_t)a->word[i] + b->word[i] + carry;
        sum.word[i] = (uint32_t)t;
        carry = t >> 32;
    }
    return sum;
}

static void big_take(struct big *a, const struct big *b)
{
    uint64_t borrow = 0;
    for (int i = 0; i < BIG_WORDS; i++) {
        uint64_t t = (uint64_t)a->word[i] - b->word[i] - borrow;
        a->word[i] = (uint32_t)t;
        borrow = t >> 63;
    }
}

static int big_compare(const struct big *a, const struct big *b)
{
    for (int i = BIG_WORDS; i-- > 0;)
        if (a->word[i] != b->word[i])
            return a->word[i] < b->word[i] ? -1 : 1;
    return 0;
}

/* value = r/s; half the distance to the next double below is m_low/s, above m_high/s. */
struct spread {
    struct big r, s, m_low, m_high;
    bool takes_ends; /* the ends of the interval read back as value too: its significand is even */
};

static bool spread_reaches(const struct spread *p, const struct big *limit)
{
    struct big top = big_plus(&p->r, &p->m_high);
    int c = big_compare(&top, limit);
    return p->takes_ends ? c >= 0 : c > 0;
}

static void spread_times10(struct spread *p)
{
    big_times10(&p->r);
    big_times10(&p->m_low);
    big_times10(&p->m_high);
}

static void spread_start(struct spread *p, uint64_t significand, int exponent)
{
    bool is_power = significand == (uint64_t)1 << 52; /* the gap below is half the gap above */
    int extra = is_power ? 2 : 1;
    int up = exponent > 0 ? exponent : 0, down = exponent < 0 ? -exponent : 0;
    big_shift(&p->r, significand, up + extra);
    big_shift(&p->s, 1, down + extra);
    big_shift(&p->m_low, 1, up);
    big_shift(&p->m_high, 1, up + extra - 1);
    p->takes_ends = (significand & 1) == 0;
}

/* One digit of r/s x 10; true when it is the last one needed. */
static bool spread_digit(struct spread *p, char *ret_digit)
{
    spread_times10(p);
    int d = 0;
    while (big_compare(&p->r, &p->s) >= 0) {
        big_take(&p->r, &p->s);
        d++;
    }
    int c = big_compare(&p->r, &p->m_low);
    bool is_low = p->takes_ends ? c <= 0 : c < 0;
    bool is_high = spread_reaches(p, &p->s);
    if (is_low && is_high) {
        struct big twice = big_plus(&p->r, &p->r);
        int half = big_compare(&twice, &p->s);
        d += half > 0 || (half == 0 && (d & 1));
    } else if (is_high) {
        d++;
    }
    *ret_digit = (char)('0' + d);
    return is_low || is_high;
}

enum err decimal_shortest(double value, struct decimal *ret)
{
    if (!(value >= 0x1p-80) || !(value < 0x1p63))
        return ERR_DOMAIN;
    union {
        double value;
        uint64_t bits;
    } image;
    image.value = value;
    int exponent = (int)(image.bits >> 52) - 1075; /* never subnormal in this range */
    uint64_t significand = (image.bits & (((uint64_t)1 << 52) - 1)) | (uint64_t)1 << 52;

    struct spread p;
    spread_start(&p, significand, exponent);
    ret->point = 0;
    while (spread_reaches(&p, &p.s)) {
        big_times10(&p.s);
        ret->point++;
    }
    for (;;) {
        struct spread next = p;
        spread_times10(&next);
        if (spread_reaches(&next, &next.s))
            break;
        p = next;
        ret->point--;
    }

    bool is_last = false;
    for (ret->n = 0; !is_last && ret->n < DECIMAL_DIGITS_MAX; ret->n++)
        is_last = spread_digit(&p, &ret->digits[ret->n]);
    return ERR_OK;
}
