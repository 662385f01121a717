/* wire: owns the tables of copper conductors and Ohm's law over a pair of them. */
#include "core/wire.h"

#include "core/fill.h"

#include <float.h>

#define OHM_MM2_PER_M (1.0 / 58.0) /* 100 % IACS at 20 C, IEC 60028 */
#define PER_KELVIN    0.00393      /* annealed copper at 20 C, IEC 60028 */
#define STRANDED      1.02         /* ASTM B8: 2 % for the lay of the strands */
#define PI            3.14159265358979323846

enum { AWG_N = WIRE_AWG_MAX - WIRE_AWG_MIN + 1 };

/* 0.127 mm x 92^((36-n)/39), n from -3 (4/0): ASTM B258, worked out to 17 digits, as pow() is not
 * at hand here. */
static const double awg_diameter_mm[AWG_N] = {
    11.684,              /* 4/0 */
    10.404902483053985,  /* 3/0 */
    9.2658332490468144,  /* 2/0 */
    8.2514628021714628,  /* 1/0 */
    7.3481398321757484,  /* 1 */
    6.5437074962027847,  /* 2 */
    5.8273398130451325,  /* 3 */
    5.189395968020596,   /* 4 */
    4.6212905677172061,  /* 5 */
    4.1153780985069084,  /* 6 */
    3.6648500338805647,  /* 7 */
    3.263643205883633,   /* 8 */
    2.9063582075231839,  /* 9 */
    2.5881867280128641,  /* 10 */
    2.3048468429397825,  /* 11 */
    2.0525253884939473,  /* 12 */
    1.8278266442375914,  /* 13 */
    1.6277266337915052,  /* 14 */
    1.4495324284209463,  /* 15 */
    1.2908459058322815,  /* 16 */
    1.1495314764493646,  /* 17 */
    1.0236873428326521,  /* 18 */
    0.91161990545278993, /* 19 */
    0.81182097037377378, /* 20 */
    0.7229474521086421,  /* 21 */
    0.64380329849047946, /* 22 */
    0.57332339430519818, /* 23 */
    0.51055922706257235, /* 24 */
};

/* Nominal areas and the greatest resistance at 20 C of plain copper, ohm/km: IEC 60228:2004, by way
 * of four public reproductions that agree (the standard itself was not opened). */
static const struct metric {
    double area_mm2, class2, class5;
    char name[5];
} metric_table[] = {
    {0.5, 36.0, 39.0, "0.5"},   {0.75, 24.5, 26.0, "0.75"}, {1.0, 18.1, 19.5, "1"},
    {1.5, 12.1, 13.3, "1.5"},   {2.5, 7.41, 7.98, "2.5"},   {4.0, 4.61, 4.95, "4"},
    {6.0, 3.08, 3.30, "6"},     {10.0, 1.83, 1.91, "10"},   {16.0, 1.15, 1.21, "16"},
    {25.0, 0.727, 0.780, "25"}, {35.0, 0.524, 0.554, "35"},
};
enum { METRIC_N = sizeof metric_table / sizeof metric_table[0] };

static const int awg_sold[] = {18, 16, 14, 12, 10, 8, 6, 4, 3, 2, 1, 0, -1, -2, -3};
enum { AWG_SOLD_N = sizeof awg_sold / sizeof awg_sold[0] };

static bool is_in(double x, double low, double high)
{
    return x >= low && x <= high; /* false for NaN */
}

static bool is_awg(enum wire_kind kind)
{
    return kind == WIRE_AWG_SOLID || kind == WIRE_AWG_STRANDED;
}

enum err wire_awg_diameter(int awg, double *ret_mm)
{
    if (awg < WIRE_AWG_MIN || awg > WIRE_AWG_MAX)
        return ERR_DOMAIN;
    *ret_mm = awg_diameter_mm[awg - WIRE_AWG_MIN];
    return ERR_OK;
}

static const struct metric *metric_find(double area_mm2)
{
    for (size_t i = 0; i < METRIC_N; i++)
        if (metric_table[i].area_mm2 == area_mm2)
            return &metric_table[i];
    return NULL;
}

/* At 20 C. */
static enum err base_ohm_per_m(struct wire wire, double *ret)
{
    if (is_awg(wire.kind)) {
        double d_mm = 0.0;
        const enum err e = wire_awg_diameter(wire.awg, &d_mm);
        if (e != ERR_OK)
            return e;
        const double solid = OHM_MM2_PER_M / (PI * 0.25 * d_mm * d_mm);
        *ret = wire.kind == WIRE_AWG_STRANDED ? solid * STRANDED : solid;
        return ERR_OK;
    }
    if (wire.kind != WIRE_MM2_STRANDED && wire.kind != WIRE_MM2_FLEXIBLE)
        return ERR_DOMAIN;
    const struct metric *m = metric_find(wire.area_mm2);
    if (!m)
        return ERR_UNKNOWN;
    *ret = (wire.kind == WIRE_MM2_STRANDED ? m->class2 : m->class5) / 1000.0;
    return ERR_OK;
}

enum err wire_ohm_per_m(struct wire wire, double temp_c, double *ret_ohm_per_m)
{
    if (!is_in(temp_c, WIRE_TEMP_MIN_C, WIRE_TEMP_MAX_C))
        return ERR_DOMAIN;
    double base = 0.0;
    const enum err e = base_ohm_per_m(wire, &base);
    if (e != ERR_OK)
        return e;
    *ret_ohm_per_m = base * (1.0 + PER_KELVIN * (temp_c - 20.0));
    return ERR_OK;
}

enum err wire_drop(struct wire wire, const struct wire_load *load, struct wire_drop *ret)
{
    if (load->one_way_nm < 0 || load->one_way_nm > WIRE_LENGTH_MAX_NM ||
        !is_in(load->current_a, 0.0, 10000.0) || !is_in(load->supply_v, DBL_MIN, 1000.0))
        return ERR_DOMAIN;
    double per_m = 0.0;
    const enum err e = wire_ohm_per_m(wire, load->temp_c, &per_m);
    if (e != ERR_OK)
        return e;
    ret->loop_ohm = 2.0 * ((double)load->one_way_nm / 1e9) * per_m;
    ret->drop_v = ret->loop_ohm * load->current_a;
    ret->percent = 100.0 * ret->drop_v / load->supply_v;
    ret->at_motor_v = ret->drop_v < load->supply_v ? load->supply_v - ret->drop_v : 0.0;
    return ERR_OK;
}

bool wire_listed(enum wire_kind kind, size_t i, struct wire *ret)
{
    if (i >= (is_awg(kind) ? (size_t)AWG_SOLD_N : (size_t)METRIC_N))
        return false;
    *ret = (struct wire){.kind = kind};
    if (is_awg(kind))
        ret->awg = awg_sold[i];
    else
        ret->area_mm2 = metric_table[i].area_mm2;
    return true;
}

enum err wire_least(enum wire_kind kind, const struct wire_load *load, double drop_max_v,
                    struct wire *ret, struct wire_drop *ret_drop)
{
    if (!is_in(drop_max_v, DBL_MIN, 1000.0))
        return ERR_DOMAIN;
    struct wire wire;
    for (size_t i = 0; wire_listed(kind, i, &wire); i++) { /* both lists run from thin to thick */
        struct wire_drop drop;
        const enum err e = wire_drop(wire, load, &drop);
        if (e != ERR_OK)
            return e;
        if (drop.drop_v <= drop_max_v) {
            *ret = wire;
            *ret_drop = drop;
            return ERR_OK;
        }
    }
    return ERR_IMPOSSIBLE;
}

/* ---- sizes as text ---------------------------------------------------------------------------- */

/* Text that is left to read: all[at..n). */
struct rest {
    const char *all;
    size_t n, at;
};

static void skip_blanks(struct rest *r)
{
    while (r->at < r->n && r->all[r->at] == ' ')
        r->at++;
}

/* Whether `word` (lower case) comes next, in any case; passes it. */
static bool take_word(struct rest *r, const char *word)
{
    size_t i = 0;
    for (; word[i] != '\0'; i++) {
        if (r->at + i >= r->n)
            return false;
        const char c = r->all[r->at + i];
        if ((c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c) != word[i])
            return false;
    }
    r->at += i;
    return true;
}

/* Up to `most` digits as a whole number; how many there were. */
static size_t take_digits(struct rest *r, size_t most, int *ret)
{
    size_t n = 0;
    for (*ret = 0; n < most && r->at < r->n && r->all[r->at] >= '0' && r->all[r->at] <= '9'; n++)
        *ret = 10 * *ret + (r->all[r->at++] - '0');
    return n;
}

/* What a number says before its unit is known: whole, whole/0, or whole.hundredths. */
struct size_number {
    int whole, hundredths;
    bool is_aught, has_point;
};

static bool take_number(struct rest *r, struct size_number *ret)
{
    *ret = (struct size_number){0};
    if (take_digits(r, 3, &ret->whole) == 0)
        return false;
    if (r->at < r->n && r->all[r->at] == '/') {
        ret->is_aught = true;
        r->at++;
        return take_word(r, "0");
    }
    if (r->at == r->n || r->all[r->at] != '.')
        return true;
    ret->has_point = true;
    r->at++;
    const size_t n = take_digits(r, 2, &ret->hundredths);
    if (n == 1)
        ret->hundredths *= 10;
    return n > 0;
}

static enum err awg_of(const struct size_number *number, struct wire *ret)
{
    ret->awg = number->is_aught ? 1 - number->whole : number->whole;
    if (number->has_point || ret->awg < WIRE_AWG_MIN || ret->awg > WIRE_AWG_MAX ||
        (number->is_aught && number->whole < 1))
        return ERR_DOMAIN;
    return ERR_OK;
}

static enum err area_of(const struct size_number *number, struct wire *ret)
{
    const int hundredths = 100 * number->whole + number->hundredths;
    for (size_t i = 0; i < METRIC_N && !number->is_aught; i++)
        if ((int)(100.0 * metric_table[i].area_mm2 + 0.5) == hundredths) {
            ret->area_mm2 = metric_table[i].area_mm2;
            return ERR_OK;
        }
    return ERR_UNKNOWN;
}

enum err wire_parse(const char *text, size_t n, bool is_stranded, struct wire *ret,
                    size_t *reterr_at)
{
    struct rest r = {text, n, 0};
    struct size_number number;
    skip_blanks(&r);
    *reterr_at = r.at;
    if (r.at == n)
        return ERR_EMPTY;
    bool is_awg_size = take_word(&r, "awg");
    skip_blanks(&r);
    const bool is_number = take_number(&r, &number);
    *reterr_at = r.at;
    if (!is_number)
        return ERR_SYNTAX;
    skip_blanks(&r);
    *reterr_at = r.at;
    const bool is_area = !is_awg_size && (take_word(&r, "mm2") || take_word(&r, "mm^2") ||
                                          take_word(&r, "mm\xC2\xB2"));
    if (!is_awg_size && !is_area)
        is_awg_size = take_word(&r, "awg");
    if (!is_awg_size && !is_area)
        return ERR_UNIT;
    skip_blanks(&r);
    *reterr_at = r.at;
    if (r.at < n)
        return ERR_SYNTAX;
    struct wire wire = {.kind = is_area       ? is_stranded ? WIRE_MM2_STRANDED : WIRE_MM2_FLEXIBLE
                                : is_stranded ? WIRE_AWG_STRANDED
                                              : WIRE_AWG_SOLID};
    const enum err e = is_area ? area_of(&number, &wire) : awg_of(&number, &wire);
    if (e == ERR_OK)
        *ret = wire;
    return e;
}

size_t wire_name(struct wire wire, char *buf, size_t room)
{
    struct fill f;
    fill_start(&f, buf, room);
    if (!is_awg(wire.kind)) {
        const struct metric *m = metric_find(wire.area_mm2);
        fill_puts(&f, m ? m->name : "?");
        fill_puts(&f, " mm2");
        return f.size;
    }
    if (wire.awg < WIRE_AWG_MIN || wire.awg > WIRE_AWG_MAX) {
        fill_puts(&f, "?");
    } else if (wire.awg <= 0) { /* 0 is 1/0, -3 is 4/0 */
        fill_int(&f, 1 - wire.awg);
        fill_puts(&f, "/0");
    } else {
        fill_int(&f, wire.awg);
    }
    fill_puts(&f, " AWG");
    return f.size;
}
