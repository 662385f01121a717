/* values: owns the reading of single values. No locale, no libc number parsing: what is accepted is
 * what stands here. */
#include "bulletin/values.h"

#include <stdio.h>
#include <string.h>

enum { ID_SIZE_MAX = 48, CODE_SIZE_MAX = 40 };

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

static bool is_lower(char c)
{
    return c >= 'a' && c <= 'z';
}

static bool is_upper(char c)
{
    return c >= 'A' && c <= 'Z';
}

/* ---- numbers ---- */

enum err value_int(const char *s, size_t n, int64_t min, int64_t max, int32_t *ret, char *why)
{
    const bool has_sign = n > 0 && (s[0] == '-' || s[0] == '+');
    size_t i = has_sign ? 1 : 0;
    if (i == n || n > 12)
        return ERR_SYNTAX;
    if (s[i] == '0' && n - i > 1) {
        snprintf(why, FAULT_MESSAGE_MAX, "a whole number does not start with 0");
        return ERR_SYNTAX;
    }
    int64_t value = 0;
    for (; i < n; i++) {
        if (!is_digit(s[i]))
            return ERR_SYNTAX;
        value = value * 10 + (s[i] - '0');
    }
    if (s[0] == '-')
        value = -value;
    if (value < min || value > max) {
        snprintf(why, FAULT_MESSAGE_MAX, "%lld is not within %lld..%lld", (long long)value,
                 (long long)min, (long long)max);
        return ERR_RANGE;
    }
    *ret = (int32_t)value;
    return ERR_OK;
}

/* Digits with at most `places` decimals into a whole number of 10^-places. */
static enum err read_decimal(const char *s, size_t n, int places, int64_t *ret, int *ret_places)
{
    int64_t value = 0;
    int n_places = -1; /* before the point */
    size_t n_digits = 0;
    for (size_t i = 0; i < n; i++) {
        if (s[i] == '.' && n_places < 0 && n_digits > 0) {
            n_places = 0;
            continue;
        }
        if (!is_digit(s[i]))
            return ERR_SYNTAX;
        if (n_places >= 0 && ++n_places > places)
            return ERR_DOMAIN;
        if (++n_digits > 15)
            return ERR_RANGE;
        value = value * 10 + (s[i] - '0');
    }
    if (n_digits == 0 || n_places == 0)
        return ERR_SYNTAX;
    *ret_places = n_places < 0 ? 0 : n_places;
    for (int k = *ret_places; k < places; k++) {
        if (value > INT64_MAX / 10)
            return ERR_RANGE;
        value *= 10;
    }
    *ret = value;
    return ERR_OK;
}

enum err value_real(const char *s, size_t n, int64_t min, int64_t max, double *ret, char *why)
{
    int64_t millionths;
    int places;
    const enum err err = read_decimal(s, n, 6, &millionths, &places);
    if (err == ERR_DOMAIN)
        snprintf(why, FAULT_MESSAGE_MAX, "more than six decimals");
    if (err != ERR_OK)
        return err;
    if (millionths < min || millionths > max) {
        snprintf(why, FAULT_MESSAGE_MAX, "%.*s is not within %g..%g", (int)n, s, (double)min / 1e6,
                 (double)max / 1e6);
        return ERR_RANGE;
    }
    *ret = (double)millionths / 1e6;
    return ERR_OK;
}

enum err value_money(const char *s, size_t n, const char *currency, int digits, int64_t *ret,
                     char *why)
{
    const int64_t money_max = 1000000000000; /* far above any campaign; sums cannot overflow */
    if (n > 1 && s[0] == '-' && is_digit(s[1])) {
        snprintf(why, FAULT_MESSAGE_MAX, "money cannot be negative here, found %.40s", s);
        return ERR_DOMAIN;
    }
    int64_t minor;
    int places;
    const enum err err = read_decimal(s, n, digits, &minor, &places);
    if (err == ERR_DOMAIN || (err == ERR_OK && places > 0 && places != digits)) {
        if (digits == 0)
            snprintf(why, FAULT_MESSAGE_MAX, "%s has no decimals, found %.40s", currency, s);
        else
            snprintf(why, FAULT_MESSAGE_MAX, "%s has %d decimals, found %.40s", currency, digits,
                     s);
        return ERR_DOMAIN;
    }
    if (err == ERR_RANGE || (err == ERR_OK && minor > money_max)) {
        snprintf(why, FAULT_MESSAGE_MAX, "%.40s is more money than any campaign has", s);
        return ERR_RANGE;
    }
    if (err == ERR_OK)
        *ret = minor;
    return err;
}

enum err value_share(const char *s, size_t n, struct bulletin_share *ret, char *why)
{
    const char *slash = memchr(s, '/', n);
    if (slash == NULL)
        return ERR_SYNTAX;
    int32_t of, by;
    char unused[FAULT_MESSAGE_MAX];
    const size_t n_of = (size_t)(slash - s);
    if (value_int(s, n_of, 1, 1000, &of, unused) != ERR_OK ||
        value_int(slash + 1, n - n_of - 1, 1, 1000, &by, unused) != ERR_OK)
        return ERR_SYNTAX;
    if (of > by) {
        snprintf(why, FAULT_MESSAGE_MAX, "%d/%d is more than the whole", of, by);
        return ERR_RANGE;
    }
    *ret = (struct bulletin_share){of, by};
    return ERR_OK;
}

/* ---- amounts ---- */

static void why_not_amount(const char *s, size_t n, enum err err, size_t at, char *why)
{
    if (err == ERR_UNIT) {
        struct quantity q;
        size_t unused;
        if (quantity_parse(s, n, UNIT_ONE, &q, &unused) == ERR_OK)
            snprintf(why, FAULT_MESSAGE_MAX, "the unit is missing after %.40s", s);
        else
            snprintf(why, FAULT_MESSAGE_MAX, "unknown unit in '%.40s'", s);
    } else if (err == ERR_RANGE || err == ERR_LIMIT) {
        snprintf(why, FAULT_MESSAGE_MAX, "'%.40s' is too large or too long", s);
    } else if (at < n && s[at] == ',') {
        snprintf(why, FAULT_MESSAGE_MAX,
                 "a comma in '%.40s' can be read in two ways: write a decimal point", s);
    }
}

enum err value_amount(const char *s, size_t n, enum dim dim, int64_t min, int64_t max,
                      struct bulletin_amount *ret, char *why)
{
    struct quantity q;
    size_t at = 0;
    const enum err err = quantity_parse(s, n, UNIT_N, &q, &at);
    if (err != ERR_OK) {
        why_not_amount(s, n, err, at, why);
        return err;
    }
    if (dim != DIM_N && q.dim != dim)
        return ERR_UNIT;
    if (q.nano < min) {
        if (min == 1)
            snprintf(why, FAULT_MESSAGE_MAX, "%.40s is not above zero", s);
        else if (min == 0)
            snprintf(why, FAULT_MESSAGE_MAX, "%.40s is below zero", s);
        else
            snprintf(why, FAULT_MESSAGE_MAX, "%.40s is too far below zero to be meant", s);
        return ERR_RANGE;
    }
    if (q.nano > max) {
        char shown[QUANTITY_SHOW_MAX];
        quantity_show(max, q.unit, 0, shown, NULL);
        snprintf(why, FAULT_MESSAGE_MAX, "%.40s is too large to be meant: at most %s", s, shown);
        return ERR_RANGE;
    }
    *ret = (struct bulletin_amount){.is_given = true, .dim = q.dim, .unit = q.unit, .nano = q.nano};
    return ERR_OK;
}

enum err value_time(const char *s, size_t n, int64_t min, int64_t max, int64_t *ret_s, char *why)
{
    const int64_t second = 1000000000;
    struct bulletin_amount a;
    const enum err err = value_amount(s, n, DIM_TIME, min > 0 ? 1 : 0, max * second, &a, why);
    if (err != ERR_OK)
        return err;
    if (a.nano % second != 0) {
        snprintf(why, FAULT_MESSAGE_MAX, "%.40s is not a whole number of seconds", s);
        return ERR_DOMAIN;
    }
    *ret_s = a.nano / second;
    return ERR_OK;
}

/* ---- days ---- */

enum err value_date(const char *s, size_t n, int32_t *ret, char *why)
{
    const enum err err = date_parse(s, n, ret);
    if (err == ERR_IMPOSSIBLE)
        snprintf(why, FAULT_MESSAGE_MAX, "there is no day %.40s", s);
    if (err == ERR_DOMAIN)
        snprintf(why, FAULT_MESSAGE_MAX, "%.40s is outside the years 1900 to 2199", s);
    return err;
}

/* "2024-W14": the Monday and the Sunday. */
static enum err read_week(const char *s, int32_t *ret_first, int32_t *ret_last, char *why)
{
    for (size_t i = 0; i < 8; i++)
        if (i != 4 && i != 5 && !is_digit(s[i]))
            return ERR_SYNTAX;
    if (s[4] != '-' || s[5] != 'W')
        return ERR_SYNTAX;
    const int year = (s[0] - '0') * 1000 + (s[1] - '0') * 100 + (s[2] - '0') * 10 + (s[3] - '0');
    const int week = (s[6] - '0') * 10 + (s[7] - '0');
    enum err err = date_from_week(year, week, 1, ret_first);
    if (err == ERR_OK)
        err = date_from_week(year, week, 7, ret_last);
    if (err != ERR_OK)
        snprintf(why, FAULT_MESSAGE_MAX, "there is no week %.8s", s);
    return err;
}

enum err value_days(const char *s, size_t n, struct bulletin_days *ret, char *why)
{
    int32_t first = 0, last = 0;
    enum err err;
    if (n == 8) {
        err = read_week(s, &first, &last, why);
    } else {
        err = value_date(s, n, &first, why);
        last = first;
    }
    if (err == ERR_OK)
        *ret = (struct bulletin_days){true, first, last};
    return err;
}

/* ---- words ---- */

/* What the id may have been meant to be: lower case, dashes for all else. */
static void mend_id(const char *s, size_t n, char *mended)
{
    size_t used = 0;
    for (size_t i = 0; i < n && used < ID_SIZE_MAX; i++) {
        const char c = is_upper(s[i]) ? (char)(s[i] - 'A' + 'a') : s[i];
        if (is_lower(c) || is_digit(c))
            mended[used++] = c;
        else if (used > 0 && mended[used - 1] != '-')
            mended[used++] = '-';
    }
    while (used > 0 && mended[used - 1] == '-')
        used--;
    mended[used] = '\0';
}

enum err value_id(const char *s, size_t n, char *why)
{
    bool is_good = n > 0 && n <= ID_SIZE_MAX && s[n - 1] != '-' && s[0] != '-';
    for (size_t i = 0; is_good && i < n; i++)
        is_good = is_lower(s[i]) || is_digit(s[i]) || (s[i] == '-' && s[i - 1] != '-');
    if (is_good)
        return ERR_OK;
    if (n > ID_SIZE_MAX) {
        snprintf(why, FAULT_MESSAGE_MAX, "an id has at most %d characters, found %zu", ID_SIZE_MAX,
                 n);
        return ERR_LIMIT;
    }
    char mended[ID_SIZE_MAX + 1];
    mend_id(s, n, mended);
    if (mended[0] != '\0')
        snprintf(why, FAULT_MESSAGE_MAX,
                 "an id is lower-case words with dashes: write '%s' instead of '%.60s'", mended, s);
    return ERR_SYNTAX;
}

enum err value_code(const char *s, size_t n, char *why)
{
    if (n == 0)
        return ERR_SYNTAX;
    if (n > CODE_SIZE_MAX) {
        snprintf(why, FAULT_MESSAGE_MAX, "a code has at most %d characters, found %zu",
                 CODE_SIZE_MAX, n);
        return ERR_LIMIT;
    }
    for (size_t i = 0; i < n; i++)
        if (!is_digit(s[i]) && !is_lower(s[i]) && !is_upper(s[i]) && strchr("-./_*", s[i]) == NULL)
            return ERR_SYNTAX;
    return ERR_OK;
}

/* BCP 47 in the part that is of use here: language[-subtag]...; the language in lower case, as is
 * usual. */
enum err value_language(const char *s, size_t n)
{
    size_t i = 0;
    while (i < n && is_lower(s[i]))
        i++;
    if (i < 2 || i > 3 || n > 35)
        return ERR_SYNTAX;
    while (i < n) {
        size_t size = 0;
        if (s[i++] != '-')
            return ERR_SYNTAX;
        for (; i < n && (is_lower(s[i]) || is_upper(s[i]) || is_digit(s[i])); i++)
            size++;
        if (size < 1 || size > 8)
            return ERR_SYNTAX;
    }
    return ERR_OK;
}
