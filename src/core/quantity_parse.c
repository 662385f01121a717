/* quantity_parse: owns the grammar of written amounts. Units, showing and converting are in
 * quantity.c.
 *
 *   amount   = sign? ( feet inches | number unit? )
 *   feet     = whole ( ' | ft | ... ) then blanks, at most one '-' and blanks
 *   inches   = number with an inch unit, below 12
 *   number   = decimal | whole | fraction | whole ( blanks | '-' )? fraction
 *   fraction = whole '/' whole | one of the ready-made fraction characters
 *
 * A fraction is for inches and feet only: 2 1/2 mm is hardly what anyone measured, so it is refused
 * as the wrong unit and not guessed at. A mixed fraction's part must be below one, and feet go with
 * whole feet and less than 12 in. */
#include "core/decimal.h"
#include "core/quantity.h"

struct scan {
    const char *text;
    size_t n, at;
};

struct span {
    const char *digits;
    size_t n;
};

struct number {
    struct span whole, frac; /* frac: digits after a decimal point */
    bool has_fraction;
    size_t fraction_at; /* where the fraction stands, for faults */
    uint64_t top, bottom;
};

enum { FRACTION_DIGITS_MAX = 9 }; /* numerator x foot stays below 2^63 */

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

static bool is_letter(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

static bool scan_is_end(const struct scan *s)
{
    return s->at >= s->n;
}

static char scan_peek(const struct scan *s)
{
    return scan_is_end(s) ? '\0' : s->text[s->at];
}

static bool scan_take(struct scan *s, const char *literal)
{
    size_t i = 0;
    for (; literal[i] != '\0'; i++)
        if (s->at + i >= s->n || s->text[s->at + i] != literal[i])
            return false;
    s->at += i;
    return true;
}

static bool scan_blanks(struct scan *s)
{
    size_t start = s->at;
    while (scan_take(s, " ") || scan_take(s, "\t") || scan_take(s, "\xc2\xa0")) /* U+00A0 */
        ;
    return s->at != start;
}

static struct span scan_digits(struct scan *s)
{
    struct span d = {s->text + s->at, 0};
    while (is_digit(scan_peek(s))) {
        s->at++;
        d.n++;
    }
    return d;
}

/* ---- numbers
 * ---------------------------------------------------------------------------------------------------
 */

static const struct {
    char text[4];
    unsigned char top, bottom;
} ready_made[] = {
    {"\xc2\xbc", 1, 4},     {"\xc2\xbd", 1, 2},     {"\xc2\xbe", 3, 4},     {"\xe2\x85\x93", 1, 3},
    {"\xe2\x85\x94", 2, 3}, {"\xe2\x85\x95", 1, 5}, {"\xe2\x85\x96", 2, 5}, {"\xe2\x85\x97", 3, 5},
    {"\xe2\x85\x98", 4, 5}, {"\xe2\x85\x99", 1, 6}, {"\xe2\x85\x9a", 5, 6}, {"\xe2\x85\x9b", 1, 8},
    {"\xe2\x85\x9c", 3, 8}, {"\xe2\x85\x9d", 5, 8}, {"\xe2\x85\x9e", 7, 8},
};

static bool scan_ready_made(struct scan *s, struct number *num)
{
    size_t at = s->at;
    for (size_t i = 0; i < sizeof ready_made / sizeof ready_made[0]; i++) {
        if (!scan_take(s, ready_made[i].text))
            continue;
        num->has_fraction = true;
        num->fraction_at = at;
        num->top = ready_made[i].top;
        num->bottom = ready_made[i].bottom;
        return true;
    }
    return false;
}

static bool scan_slash(struct scan *s)
{
    return scan_take(s, "/") || scan_take(s, "\xe2\x81\x84"); /* U+2044 */
}

static enum err small_whole(struct span d, uint64_t *ret)
{
    while (d.n > 0 && d.digits[0] == '0') {
        d.digits++;
        d.n--;
    }
    if (d.n > FRACTION_DIGITS_MAX)
        return ERR_RANGE;
    *ret = 0;
    for (size_t i = 0; i < d.n; i++)
        *ret = *ret * 10 + (uint64_t)(d.digits[i] - '0');
    return ERR_OK;
}

/* After "top /": the denominator. On failure s->at is where the fault lies. */
static enum err scan_bottom(struct scan *s, struct span top, struct number *num)
{
    size_t top_at = (size_t)(top.digits - s->text), bottom_at = s->at;
    struct span bottom = scan_digits(s);
    if (bottom.n == 0)
        return ERR_SYNTAX;
    num->has_fraction = true;
    num->fraction_at = top_at;
    if (small_whole(top, &num->top) != ERR_OK) {
        s->at = top_at;
        return ERR_RANGE;
    }
    enum err e = small_whole(bottom, &num->bottom);
    if (e == ERR_OK && num->bottom == 0)
        e = ERR_SYNTAX;
    if (e != ERR_OK)
        s->at = bottom_at;
    return e;
}

/* After a whole number: " 1/2", "-1/2" or a ready-made fraction; anything else is left unread. */
static enum err scan_mixed(struct scan *s, struct number *num)
{
    struct scan ahead = *s;
    bool has_blanks = scan_blanks(&ahead);
    if (!has_blanks)
        scan_take(&ahead, "-");
    size_t part_at = ahead.at;
    if (scan_ready_made(&ahead, num)) {
        *s = ahead;
        return ERR_OK;
    }
    if (part_at == s->at || !is_digit(scan_peek(&ahead)))
        return ERR_OK;
    struct span top = scan_digits(&ahead);
    if (!scan_slash(&ahead)) { /* "1 2 in", "2-3 in": two numbers */
        s->at = has_blanks ? part_at : s->at;
        return ERR_SYNTAX;
    }
    enum err e = scan_bottom(&ahead, top, num);
    s->at = ahead.at;
    if (e == ERR_OK && num->top >= num->bottom) {
        s->at = part_at;
        return ERR_SYNTAX;
    }
    return e;
}

static enum err scan_number(struct scan *s, struct number *num)
{
    *num = (struct number){.bottom = 1};
    if (scan_ready_made(s, num))
        return ERR_OK;
    struct span first = scan_digits(s);
    if (scan_take(s, ".")) {
        num->whole = first;
        num->frac = scan_digits(s);
        return num->frac.n > 0 ? ERR_OK : ERR_SYNTAX;
    }
    if (first.n == 0)
        return ERR_SYNTAX;
    if (scan_slash(s))
        return scan_bottom(s, first, num);
    num->whole = first;
    return scan_mixed(s, num);
}

/* number x per, added to sum; at most 2^63. */
static enum err number_add(const struct number *num, uint64_t per, uint64_t *sum, bool *is_rounded)
{
    uint64_t nano;
    enum err e = decimal_scale(num->whole.digits, num->whole.n, num->frac.digits, num->frac.n, per,
                               &nano, is_rounded);
    if (e != ERR_OK)
        return e;
    *sum += nano;
    if (num->has_fraction) {
        /* Whole inches and feet are even in nano, so the parity of the quotient is that of the sum.
         */
        uint64_t product = num->top * per, part = product / num->bottom;
        uint64_t rest = product % num->bottom;
        if (2 * rest > num->bottom || (2 * rest == num->bottom && (part & 1)))
            part++;
        *sum += part;
        *is_rounded = rest != 0;
    }
    return *sum > (uint64_t)1 << 63 ? ERR_RANGE : ERR_OK;
}

/* ---- units
 * -----------------------------------------------------------------------------------------------------
 */

/* Why the rest of the text is no unit: a byte that no unit holds, or a unit that is not known. */
static enum err unit_fault(struct scan *s)
{
    static const char others[] = " .-'\"";
    char c = scan_peek(s);
    struct scan ahead = *s;
    ahead.at++;
    char next = scan_peek(&ahead);
    if ((c == 'e' || c == 'E') && (is_digit(next) || next == '-' || next == '+'))
        return ERR_SYNTAX; /* an exponent */
    if (!is_letter(c) && (unsigned char)c < 0x80 && c != '\'' && c != '"')
        return ERR_SYNTAX;
    for (size_t i = s->at; i < s->n; i++) {
        c = s->text[i];
        bool is_fine = is_letter(c) || (unsigned char)c >= 0x80;
        for (size_t k = 0; k + 1 < sizeof others && !is_fine; k++)
            is_fine = c == others[k];
        if (!is_fine) {
            s->at = i;
            return ERR_SYNTAX;
        }
    }
    return ERR_UNIT;
}

static enum err scan_unit(struct scan *s, enum unit bare, const struct number *num,
                          enum unit *ret_unit)
{
    scan_blanks(s);
    size_t at = s->at;
    *ret_unit = bare;
    if (!scan_is_end(s)) {
        *ret_unit = quantity_unit_find(s->text + s->at, s->n - s->at);
        if (*ret_unit == UNIT_ONE && scan_peek(s) == '1')
            *ret_unit = UNIT_N; /* the name of counts is a digit: not as a unit behind a number */
        if (*ret_unit == UNIT_N)
            return unit_fault(s);
    }
    if (*ret_unit >= UNIT_N)
        return ERR_UNIT;
    if (num->has_fraction && *ret_unit != UNIT_IN && *ret_unit != UNIT_FT) {
        s->at = at == s->n ? num->fraction_at : at;
        return ERR_UNIT;
    }
    s->at = s->n;
    return ERR_OK;
}

/* "1' ", "1 ft - ": true, and the scan stands before the inches; false and nothing read when none
 * follow. */
static bool scan_feet(struct scan *s)
{
    static const char *const marks[] = {"'", "\xe2\x80\xb2", "\xe2\x80\x99", "feet", "foot", "ft.",
                                        "ft"};
    struct scan ahead = *s;
    scan_blanks(&ahead);
    bool is_feet = false;
    for (size_t i = 0; i < sizeof marks / sizeof marks[0] && !is_feet; i++)
        is_feet = scan_take(&ahead, marks[i]);
    if (!is_feet)
        return false;
    scan_blanks(&ahead);
    scan_take(&ahead, "-");
    scan_blanks(&ahead);
    struct scan probe = ahead;
    struct number ignored;
    bool has_inches = is_digit(scan_peek(&probe)) || scan_peek(&probe) == '.' ||
                      scan_ready_made(&probe, &ignored);
    if (has_inches)
        *s = ahead;
    return has_inches;
}

/* ---- the whole
 * -------------------------------------------------------------------------------------------------
 */

static enum err scan_inches_after_feet(struct scan *s, uint64_t *sum, bool *is_rounded)
{
    struct number inches;
    size_t at = s->at;
    enum err e = scan_number(s, &inches);
    if (e != ERR_OK)
        return e;
    enum unit unit;
    e = scan_unit(s, UNIT_N, &inches, &unit); /* "1' 2": the inch mark may not be left out */
    if (e != ERR_OK)
        return e;
    uint64_t below_foot = 0;
    e = number_add(&inches, (uint64_t)quantity_unit_nano(UNIT_IN), &below_foot, is_rounded);
    s->at = at;
    if (unit != UNIT_IN)
        return ERR_UNIT;
    if (e != ERR_OK || below_foot >= (uint64_t)quantity_unit_nano(UNIT_FT))
        return ERR_SYNTAX; /* 1' 14" is rather 1' 1.4" or 1' 1/4" than 2' 2" */
    *sum += below_foot;
    return *sum > (uint64_t)1 << 63 ? ERR_RANGE : ERR_OK;
}

static enum err scan_amount(struct scan *s, enum unit bare, uint64_t *ret, enum unit *ret_unit,
                            bool *ret_rounded)
{
    struct number num;
    size_t at = s->at;
    enum err e = scan_number(s, &num);
    if (e != ERR_OK)
        return e;
    *ret = 0;
    bool is_whole = !num.has_fraction && num.frac.n == 0;
    bool is_feet = is_whole && scan_feet(s);
    *ret_unit = is_feet ? UNIT_FT : bare;
    if (!is_feet) {
        e = scan_unit(s, bare, &num, ret_unit);
        if (e != ERR_OK)
            return e;
    }
    e = number_add(&num, (uint64_t)quantity_unit_nano(*ret_unit), ret, ret_rounded);
    if (e != ERR_OK) {
        s->at = at;
        return e;
    }
    if (!is_feet)
        return ERR_OK;
    *ret_unit = UNIT_IN;
    return scan_inches_after_feet(s, ret, ret_rounded);
}

static enum err parse(struct scan *s, enum unit bare, struct quantity *q)
{
    scan_blanks(s);
    if (scan_is_end(s))
        return ERR_EMPTY;
    size_t at = s->at;
    bool is_negative = scan_take(s, "-") || scan_take(s, "\xe2\x88\x92"); /* U+2212 */
    if (!is_negative)
        scan_take(s, "+");
    uint64_t nano;
    enum err e = scan_amount(s, bare, &nano, &q->unit, &q->is_rounded);
    if (e != ERR_OK)
        return e;
    if (nano > (uint64_t)INT64_MAX && !(is_negative && nano == (uint64_t)1 << 63)) {
        s->at = at;
        return ERR_RANGE;
    }
    q->nano = is_negative ? (int64_t)(0 - nano) : (int64_t)nano;
    q->dim = quantity_unit_dim(q->unit);
    if (q->unit == UNIT_LBF_IN && nano != 0)
        q->is_rounded = true; /* the unit itself is rounded to the nano */
    return ERR_OK;
}

static bool ends_in_blank(const char *text, size_t n, size_t *ret_size)
{
    if (n >= 1 && (text[n - 1] == ' ' || text[n - 1] == '\t'))
        *ret_size = 1;
    else if (n >= 2 && text[n - 2] == '\xc2' && text[n - 1] == '\xa0')
        *ret_size = 2;
    else
        return false;
    return true;
}

enum err quantity_parse(const char *text, size_t n, enum unit bare, struct quantity *ret,
                        size_t *reterr_at)
{
    if (n > QUANTITY_TEXT_MAX) {
        *reterr_at = QUANTITY_TEXT_MAX;
        return ERR_LIMIT;
    }
    struct scan s = {text, n, 0};
    size_t blank;
    while (ends_in_blank(text, s.n, &blank))
        s.n -= blank;
    struct quantity q;
    enum err e = parse(&s, bare, &q);
    if (e == ERR_OK)
        *ret = q;
    else
        *reterr_at = s.at;
    return e;
}
