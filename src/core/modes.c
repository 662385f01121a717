/* modes: owns the Walsh-Hadamard effects of two-level factors and their plain meanings.
 *
 * With at most 16 points the plain double loop is as good as the fast transform, and its 128-bit
 * sums cannot overflow on the way: only the sum itself has to fit. */
#include "core/modes.h"

#include "core/fill.h"

#include <float.h>
#include <math.h>

#define MODES_COVERAGE 2.0

__extension__ typedef __int128 wide;

/* Bit i is set when factor i is at -1: the sign of a set at this point is (-1)^(number of common
 * bits). */
static unsigned low_bits(const struct modes_point *p, size_t k)
{
    unsigned bits = 0;
    for (size_t i = 0; i < k; i++)
        if (p->level[i] < 0)
            bits |= 1u << i;
    return bits;
}

static int sign_of(unsigned set, unsigned low)
{
    int sign = 1;
    for (unsigned common = set & low; common; common &= common - 1)
        sign = -sign;
    return sign;
}

/* Every combination exactly once, every number usable. */
static enum err check(const struct modes_point *points, size_t n, size_t k)
{
    if (k > MODES_FACTORS_MAX || n > MODES_EFFECTS_MAX)
        return ERR_LIMIT;
    unsigned seen = 0;
    for (size_t p = 0; p < n; p++) {
        for (size_t i = 0; i < k; i++)
            if (points[p].level[i] != -1 && points[p].level[i] != 1)
                return ERR_DOMAIN;
        if (!(points[p].u >= 0.0 && points[p].u <= DBL_MAX))
            return ERR_DOMAIN;
        const unsigned bit = 1u << low_bits(&points[p], k);
        if (seen & bit)
            return ERR_DUPLICATE;
        seen |= bit;
    }
    return n == (size_t)1 << k ? ERR_OK : ERR_EMPTY;
}

/* sum / 2^k to the nearest integer, ties to the even one. */
static int64_t divide_even(int64_t sum, size_t k)
{
    if (k == 0)
        return sum;
    const int64_t n = (int64_t)1 << k;
    int64_t floor_part = sum / n;
    int64_t rest = sum % n;
    if (rest < 0) {
        rest += n;
        floor_part--;
    }
    if (2 * rest > n || (2 * rest == n && floor_part % 2 != 0))
        floor_part++;
    return floor_part;
}

enum err modes_effects(const struct modes_point *points, size_t n, size_t k,
                       struct modes_effect *ret_effects)
{
    const enum err e = check(points, n, k);
    if (e != ERR_OK)
        return e;
    int64_t sums[MODES_EFFECTS_MAX];
    double squares = 0.0;
    for (size_t p = 0; p < n; p++)
        squares += points[p].u * points[p].u;
    const double spread = sqrt(squares); /* of any of the sums */
    for (size_t s = 0; s < n; s++) {
        wide sum = 0;
        for (size_t p = 0; p < n; p++)
            sum += (wide)points[p].deviation * sign_of((unsigned)s, low_bits(&points[p], k));
        if (sum < INT64_MIN || sum > INT64_MAX)
            return ERR_RANGE;
        sums[s] = (int64_t)sum;
    }
    for (size_t s = 0; s < n; s++)
        ret_effects[s] = (struct modes_effect){
            .set = (unsigned)s,
            .sum = sums[s],
            .value = divide_even(sums[s], k),
            .u = spread / (double)n,
            .is_significant = fabs((double)sums[s]) > MODES_COVERAGE * spread,
        };
    return ERR_OK;
}

void modes_invert(const struct modes_effect *effects, const struct modes_point *points, size_t n,
                  size_t k, int64_t *ret_deviations)
{
    for (size_t p = 0; p < n; p++) {
        wide sum = 0;
        for (size_t s = 0; s < n; s++)
            sum += (wide)effects[s].sum * sign_of(effects[s].set, low_bits(&points[p], k));
        ret_deviations[p] =
            (int64_t)(sum / (wide)n); /* no rest: the matrix's inverse is itself / n */
    }
}

/* ---- meanings
 * ---------------------------------------------------------------------------------------------------
 */

enum { SIDE = 1, HEIGHT = 2, TRAVEL = 4 };

/* What travels is a room; the gaps around it are what is read. */
static const char *room_meaning(int parts)
{
    switch (parts) {
    case 0:
        return "opening wrong width for the room: every gap is off by the same amount";
    case SIDE:
        return "room off-centre: the gaps on one side are wider, on the other narrower";
    case HEIGHT:
        return "keystone: the gaps on both sides open together from bottom to top";
    case SIDE | HEIGHT:
        return "room or column leaning: wider at the top on one side, at the bottom on the other";
    case TRAVEL:
        return "taper over travel: the gaps on both sides open together as the room moves";
    case SIDE | TRAVEL:
        return "yaw over travel: the room swings to one side as it moves";
    case HEIGHT | TRAVEL:
        return "keystone changing over travel: it is not the same with the room in and out";
    default:
        return "twist: the lean changes as the room moves";
    }
}

/* Where nothing travels it may be a ramp or a door as well: only what the readings themselves say. */
static const char *plain_meaning(int parts)
{
    switch (parts) {
    case 0:
        return "all readings off by the same amount";
    case SIDE:
        return "off to one side: larger on one side, smaller on the other";
    case HEIGHT:
        return "differs from bottom to top, on both sides alike";
    default:
        return "leaning: larger at the top on one side, at the bottom on the other";
    }
}

static bool is_same(const char *a, const char *b)
{
    while (*a && *a == *b) {
        a++;
        b++;
    }
    return *a == *b;
}

static int known_factor(const char *name)
{
    if (is_same(name, "side"))
        return SIDE;
    if (is_same(name, "height"))
        return HEIGHT;
    return is_same(name, "travel") ? TRAVEL : 0;
}

size_t modes_meaning(const char *const *names, size_t k, unsigned set, char *buf, size_t room)
{
    int parts = 0;
    size_t n_known = 0, n_set = 0;
    for (size_t i = 0; i < k && i < MODES_FACTORS_MAX; i++) {
        if (!(set >> i & 1u))
            continue;
        const int part = known_factor(names[i]);
        n_set++;
        if (part && !(parts & part))
            n_known++;
        parts |= part;
    }
    /* The mean is a matter of width only where sides are among the factors. */
    bool has_side = false, has_travel = false;
    for (size_t i = 0; i < k && i < MODES_FACTORS_MAX; i++) {
        has_side = has_side || known_factor(names[i]) == SIDE;
        has_travel = has_travel || known_factor(names[i]) == TRAVEL;
    }
    struct fill f;
    fill_start(&f, buf, room);
    if (n_known == n_set) {
        const bool is_room = has_travel && (n_set > 0 || has_side);
        fill_puts(&f, is_room ? room_meaning(parts) : plain_meaning(parts));
        return f.size;
    }
    fill_puts(&f, "differs with ");
    size_t written = 0;
    for (size_t i = 0; i < k && i < MODES_FACTORS_MAX; i++) {
        if (!(set >> i & 1u))
            continue;
        if (written++)
            fill_puts(&f, " and ");
        fill_puts(&f, names[i]);
    }
    if (written > 1)
        fill_puts(&f, " together");
    return f.size;
}
