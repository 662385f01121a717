/* label: owns patterns and the reading of labels by them. The calendar is in date.c. */
#include "core/label.h"

#include "core/fill.h"

/* ---- patterns
 * --------------------------------------------------------------------------------------------------
 */

/* What a conversion gives; the bits of the set of them. */
enum field {
    FIELD_YEAR,
    FIELD_YEAR2,
    FIELD_MONTH,
    FIELD_MONTH_NAME,
    FIELD_DAY,
    FIELD_ORDINAL,
    FIELD_WEEK_YEAR,
    FIELD_WEEK_YEAR2,
    FIELD_WEEK,
    FIELD_WEEKDAY,
    FIELD_VARIANT,
    FIELD_N,
    ITEM_LITERAL = FIELD_N, /* kinds of items beyond the fields */
    ITEM_BLANK
};

static const struct {
    char letter;
    unsigned char n_digits; /* 0: no number */
} conversions[FIELD_VARIANT] = {
    [FIELD_YEAR] = {'Y', 4},       [FIELD_YEAR2] = {'y', 2},      [FIELD_MONTH] = {'m', 2},
    [FIELD_MONTH_NAME] = {'b', 0}, [FIELD_DAY] = {'d', 2},        [FIELD_ORDINAL] = {'j', 3},
    [FIELD_WEEK_YEAR] = {'G', 4},  [FIELD_WEEK_YEAR2] = {'g', 2}, [FIELD_WEEK] = {'V', 2},
    [FIELD_WEEKDAY] = {'u', 1},
};

struct item {
    unsigned char kind;
    char literal;
};

struct pattern {
    struct item items[LABEL_PATTERN_MAX];
    size_t n;
    unsigned fields;
};

#define BIT(field) (1u << (field))

static bool is_blank(char c)
{
    return c == ' ' || c == '\t';
}

static bool is_control(char c)
{
    return ((unsigned char)c < 0x20 && c != '\t') || c == 0x7f;
}

static enum err pattern_field(struct pattern *p, unsigned kind)
{
    /* %m and %b, %Y and %y, %G and %g say the same thing. */
    static const unsigned same[FIELD_N] = {
        [FIELD_YEAR] = BIT(FIELD_YEAR2),           [FIELD_YEAR2] = BIT(FIELD_YEAR),
        [FIELD_MONTH] = BIT(FIELD_MONTH_NAME),     [FIELD_MONTH_NAME] = BIT(FIELD_MONTH),
        [FIELD_WEEK_YEAR] = BIT(FIELD_WEEK_YEAR2), [FIELD_WEEK_YEAR2] = BIT(FIELD_WEEK_YEAR),
    };
    if (p->fields & (BIT(kind) | same[kind]))
        return ERR_DUPLICATE;
    p->fields |= BIT(kind);
    p->items[p->n++] = (struct item){(unsigned char)kind, '\0'};
    return ERR_OK;
}

/* One item at text[*at]; moves *at behind it, only when it is fine. */
static enum err pattern_item(struct pattern *p, const char *text, size_t n, size_t *at)
{
    static const char variant[] = "{variant}";
    char c = text[*at];
    if (is_control(c))
        return ERR_ENCODING;
    if (c == '{') {
        size_t i = 0;
        while (i < sizeof variant - 1 && *at + i < n && text[*at + i] == variant[i])
            i++;
        enum err e = i == sizeof variant - 1 ? pattern_field(p, FIELD_VARIANT) : ERR_SYNTAX;
        if (e == ERR_OK)
            *at += i;
        return e;
    }
    if (c != '%' || (*at + 1 < n && text[*at + 1] == '%')) {
        p->items[p->n++] = (struct item){is_blank(c) ? ITEM_BLANK : ITEM_LITERAL, c};
        *at += c == '%' ? 2 : 1;
        return ERR_OK;
    }
    for (unsigned k = 0; *at + 1 < n && k < FIELD_VARIANT; k++) {
        if (conversions[k].letter != text[*at + 1])
            continue;
        enum err e = pattern_field(p, k);
        if (e == ERR_OK)
            *at += 2;
        return e;
    }
    return ERR_SYNTAX;
}

static bool has_all(unsigned fields, unsigned wanted)
{
    return (fields & wanted) == wanted;
}

/* Every set of fields that settles a date, two-digit years and month names taken for their kin. */
static enum err settles(unsigned fields)
{
    static const unsigned sets[] = {
        BIT(FIELD_YEAR) | BIT(FIELD_MONTH) | BIT(FIELD_DAY),
        BIT(FIELD_YEAR) | BIT(FIELD_ORDINAL),
        BIT(FIELD_WEEK_YEAR) | BIT(FIELD_WEEK) | BIT(FIELD_WEEKDAY),
        BIT(FIELD_WEEK_YEAR) | BIT(FIELD_WEEK),
        BIT(FIELD_YEAR) | BIT(FIELD_MONTH),
    };
    static const unsigned kin[] = {FIELD_YEAR2, FIELD_MONTH_NAME, FIELD_WEEK_YEAR2};
    fields &= ~BIT(FIELD_VARIANT);
    for (size_t i = 0; i < sizeof kin / sizeof kin[0]; i++)
        if (fields & BIT(kin[i]))
            fields = (fields & ~BIT(kin[i])) | BIT(kin[i] - 1);
    bool is_more = false;
    for (size_t i = 0; i < sizeof sets / sizeof sets[0]; i++) {
        if (fields == sets[i])
            return ERR_OK;
        is_more = is_more || has_all(fields, sets[i]);
    }
    bool is_mixed = has_all(fields, BIT(FIELD_YEAR) | BIT(FIELD_WEEK));
    return is_more || is_mixed ? ERR_AMBIGUOUS : ERR_UNKNOWN;
}

/* kin[i] - 1 above leans on this order. */
_Static_assert(FIELD_YEAR2 == FIELD_YEAR + 1 && FIELD_MONTH_NAME == FIELD_MONTH + 1 &&
                   FIELD_WEEK_YEAR2 == FIELD_WEEK_YEAR + 1,
               "a field and its kin follow one another");

static enum err pattern_read(const char *text, size_t n, struct pattern *ret, size_t *reterr_at)
{
    *ret = (struct pattern){.n = 0};
    *reterr_at = 0;
    if (n == 0)
        return ERR_EMPTY;
    if (n > LABEL_PATTERN_MAX) {
        *reterr_at = LABEL_PATTERN_MAX;
        return ERR_LIMIT;
    }
    size_t at = 0;
    enum err e = ERR_OK;
    while (at < n && e == ERR_OK)
        e = pattern_item(ret, text, n, &at);
    if (e == ERR_OK)
        e = settles(ret->fields);
    *reterr_at = at;
    return e;
}

enum err label_pattern_check(const char *pattern, size_t n, size_t *reterr_at)
{
    struct pattern ignored;
    size_t at;
    enum err e = pattern_read(pattern, n, &ignored, &at);
    if (e != ERR_OK)
        *reterr_at = at;
    return e;
}

/* ---- one reading
 * -----------------------------------------------------------------------------------------------
 */

struct reading {
    const char *text;
    size_t n, at;
    int value[FIELD_N];
    size_t date_at; /* where the first part of the date stands */
    bool has_date;
    char variant[LABEL_VARIANT_MAX + 1];
};

static char upper(char c)
{
    return c >= 'a' && c <= 'z' ? (char)(c - 'a' + 'A') : c;
}

static bool is_variant_char(char c)
{
    c = upper(c);
    return (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' || c == '.' || c == '/';
}

static bool take_number(struct reading *r, unsigned kind)
{
    int value = 0;
    for (unsigned i = 0; i < conversions[kind].n_digits; i++, r->at++) {
        if (r->at >= r->n || r->text[r->at] < '0' || r->text[r->at] > '9')
            return false;
        value = value * 10 + (r->text[r->at] - '0');
    }
    r->value[kind] = value;
    return true;
}

/* How much of name stands at r->at, case ignored. */
static size_t common(const struct reading *r, const char *name)
{
    size_t i = 0;
    while (name[i] != '\0' && r->at + i < r->n && upper(r->text[r->at + i]) == name[i])
        i++;
    return i;
}

static const char month_names[12][10] = {"JANUARY",   "FEBRUARY", "MARCH",    "APRIL",
                                         "MAY",       "JUNE",     "JULY",     "AUGUST",
                                         "SEPTEMBER", "OCTOBER",  "NOVEMBER", "DECEMBER"};

static bool take_month(struct reading *r)
{
    for (int m = 0; m < 12; m++) {
        size_t n = common(r, month_names[m]);
        if (n < 3)
            continue;
        r->at += month_names[m][n] == '\0' ? n : 3;
        r->value[FIELD_MONTH] = m + 1;
        return true;
    }
    return false;
}

static bool take_variant(struct reading *r, size_t size)
{
    for (size_t i = 0; i < size; i++, r->at++) {
        if (r->at >= r->n || !is_variant_char(r->text[r->at]))
            return false;
        r->variant[i] = upper(r->text[r->at]);
    }
    r->variant[size] = '\0';
    return true;
}

static bool take_item(struct reading *r, struct item item, size_t variant_size)
{
    switch (item.kind) {
    case ITEM_BLANK:
        while (r->at < r->n && is_blank(r->text[r->at]))
            r->at++;
        return true;
    case ITEM_LITERAL:
        if (r->at >= r->n || upper(r->text[r->at]) != upper(item.literal))
            return false;
        r->at++;
        return true;
    case FIELD_VARIANT:
        return take_variant(r, variant_size);
    default:
        if (!r->has_date)
            r->date_at = r->at;
        r->has_date = true;
        return item.kind == FIELD_MONTH_NAME ? take_month(r) : take_number(r, item.kind);
    }
}

static bool read_once(struct reading *r, const struct pattern *p, size_t variant_size)
{
    for (size_t i = 0; i < p->n; i++)
        if (!take_item(r, p->items[i], variant_size))
            return false;
    return r->at == r->n;
}

static int full_year(int two_digits)
{
    return two_digits + (two_digits >= 69 ? 1900 : 2000);
}

static enum err month_ends(int year, int month, int32_t *ret_first, int32_t *ret_last)
{
    enum err e = date_from_civil(year, month, 1, ret_first);
    int day = 31;
    while (e == ERR_OK && date_from_civil(year, month, day, ret_last) != ERR_OK)
        day--;
    return e;
}

static enum err settle(const struct reading *r, unsigned fields, int32_t *ret_first,
                       int32_t *ret_last)
{
    int year =
        (fields & BIT(FIELD_YEAR2)) ? full_year(r->value[FIELD_YEAR2]) : r->value[FIELD_YEAR];
    int month = r->value[FIELD_MONTH];
    enum err e;
    if (fields & BIT(FIELD_ORDINAL)) {
        e = date_from_ordinal(year, r->value[FIELD_ORDINAL], ret_first);
        *ret_last = *ret_first;
    } else if (fields & BIT(FIELD_WEEK)) {
        int week_year = (fields & BIT(FIELD_WEEK_YEAR2)) ? full_year(r->value[FIELD_WEEK_YEAR2])
                                                         : r->value[FIELD_WEEK_YEAR];
        bool has_day = fields & BIT(FIELD_WEEKDAY);
        e = date_from_week(week_year, r->value[FIELD_WEEK], has_day ? r->value[FIELD_WEEKDAY] : 1,
                           ret_first);
        *ret_last = *ret_first + (has_day ? 0 : 6);
    } else if (fields & BIT(FIELD_DAY)) {
        e = date_from_civil(year, month, r->value[FIELD_DAY], ret_first);
        *ret_last = *ret_first;
    } else {
        e = month_ends(year, month, ret_first, ret_last);
    }
    return e;
}

/* ---- all readings
 * ---------------------------------------------------------------------------------------------- */

struct tally {
    struct label label;
    bool has_label, has_impossible, is_ambiguous;
    size_t furthest, impossible_at, ambiguous_at;
};

static bool is_equal(const char *a, const char *b)
{
    while (*a != '\0' && *a == *b) {
        a++;
        b++;
    }
    return *a == *b;
}

static void copy_variant(char *to, const char *from)
{
    do
        *to++ = *from;
    while (*from++ != '\0');
}

static void tally_add(struct tally *t, const struct reading *r, unsigned fields, int pattern)
{
    int32_t first = 0, last = 0;
    if (settle(r, fields, &first, &last) != ERR_OK) {
        if (!t->has_impossible)
            t->impossible_at = r->date_at;
        t->has_impossible = true;
        return;
    }
    struct label *l = &t->label;
    if (!t->has_label) {
        t->has_label = true;
        *l = (struct label){.first_day = first, .last_day = last, .pattern = pattern};
        copy_variant(l->variant, r->variant);
        return;
    }
    bool has_other_variant =
        l->variant[0] != '\0' && r->variant[0] != '\0' && !is_equal(l->variant, r->variant);
    if (l->first_day != first || l->last_day != last || has_other_variant) {
        if (!t->is_ambiguous)
            t->ambiguous_at = r->date_at;
        t->is_ambiguous = true;
    }
    if (l->variant[0] == '\0')
        copy_variant(l->variant, r->variant);
}

static void try_pattern(struct tally *t, const char *text, size_t first, size_t end,
                        const struct pattern *p, int index)
{
    size_t longest = (p->fields & BIT(FIELD_VARIANT)) ? LABEL_VARIANT_MAX : 1;
    for (size_t size = 1; size <= longest; size++) {
        struct reading r = {.text = text, .n = end, .at = first};
        bool fits = read_once(&r, p, size);
        if (r.at > t->furthest)
            t->furthest = r.at;
        if (fits)
            tally_add(t, &r, p->fields, index);
    }
}

static enum err check_text(const char *text, size_t n, size_t *first, size_t *end,
                           size_t *reterr_at)
{
    if (n > LABEL_TEXT_MAX) {
        *reterr_at = LABEL_TEXT_MAX;
        return ERR_LIMIT;
    }
    for (size_t i = 0; i < n; i++)
        if (is_control(text[i])) {
            *reterr_at = i;
            return ERR_ENCODING;
        }
    for (*first = 0; *first < n && is_blank(text[*first]);)
        ++*first;
    for (*end = n; *end > *first && is_blank(text[*end - 1]);)
        --*end;
    if (*first == *end) {
        *reterr_at = n;
        return ERR_EMPTY;
    }
    return ERR_OK;
}

static size_t bounded_size(const char *s, size_t max)
{
    size_t n = 0;
    while (n < max && s[n] != '\0')
        n++;
    return n;
}

enum err label_read(const char *text, size_t n, const char *const *patterns, size_t n_patterns,
                    struct label *ret, size_t *reterr_at)
{
    size_t first, end, ignored;
    enum err e = check_text(text, n, &first, &end, reterr_at);
    if (e != ERR_OK)
        return e;
    if (n_patterns < 1 || n_patterns > LABEL_PATTERNS_MAX) {
        *reterr_at = 0;
        return ERR_LIMIT;
    }
    struct tally t = {.furthest = first};
    for (size_t i = 0; i < n_patterns; i++) {
        struct pattern p;
        size_t size = bounded_size(patterns[i], LABEL_PATTERN_MAX + 1);
        if (pattern_read(patterns[i], size, &p, &ignored) != ERR_OK) {
            *reterr_at = i;
            return ERR_DOMAIN;
        }
        try_pattern(&t, text, first, end, &p, (int)i);
    }
    if (t.is_ambiguous) {
        *reterr_at = t.ambiguous_at;
        return ERR_AMBIGUOUS;
    }
    if (!t.has_label) {
        *reterr_at = t.has_impossible ? t.impossible_at : t.furthest;
        return t.has_impossible ? ERR_IMPOSSIBLE : ERR_SYNTAX;
    }
    *ret = t.label;
    return ERR_OK;
}

/* ---- examples ---------------------------------------------------------------------------------- */

static void put_padded(struct fill *f, int value, int n_digits)
{
    static const int powers[] = {0, 10, 100, 1000};
    for (int i = n_digits - 1; i > 0 && value < powers[i]; i--)
        fill_puts(f, "0");
    fill_int(f, value);
}

/* What a conversion stands for on this day. */
static int value_of(unsigned field, int32_t day)
{
    int year, month, day_of_month, week_year, week, weekday;
    int32_t new_year = day;
    date_to_civil(day, &year, &month, &day_of_month);
    date_to_week(day, &week_year, &week, &weekday);
    switch (field) {
    case FIELD_YEAR:
        return year;
    case FIELD_YEAR2:
        return year % 100;
    case FIELD_MONTH:
    case FIELD_MONTH_NAME:
        return month;
    case FIELD_DAY:
        return day_of_month;
    case FIELD_ORDINAL:
        return date_from_civil(year, 1, 1, &new_year) == ERR_OK ? day - new_year + 1 : 0;
    case FIELD_WEEK_YEAR:
        return week_year;
    case FIELD_WEEK_YEAR2:
        return week_year % 100;
    case FIELD_WEEK:
        return week;
    default:
        return weekday;
    }
}

static void put_item(struct fill *f, const struct item *item, int32_t day, const char *variant)
{
    const char literal[2] = {item->literal, '\0'};
    if (item->kind == ITEM_LITERAL || item->kind == ITEM_BLANK) {
        fill_puts(f, item->kind == ITEM_BLANK ? " " : literal);
    } else if (item->kind == FIELD_VARIANT) {
        fill_puts(f, variant);
    } else if (item->kind == FIELD_MONTH_NAME) {
        const char *name = month_names[value_of(item->kind, day) - 1];
        const char shown[4] = {name[0], (char)(name[1] - 'A' + 'a'), (char)(name[2] - 'A' + 'a'),
                               '\0'};
        fill_puts(f, shown);
    } else {
        put_padded(f, value_of(item->kind, day), conversions[item->kind].n_digits);
    }
}

size_t label_example(const char *pattern, size_t n, int32_t day, const char *variant, char *buf,
                     size_t room)
{
    struct pattern p;
    size_t at = 0;
    struct fill f;
    fill_start(&f, buf, room);
    if (pattern_read(pattern, n, &p, &at) != ERR_OK)
        return 0;
    for (size_t i = 0; i < p.n; i++)
        put_item(&f, &p.items[i], day, variant);
    return f.size;
}
