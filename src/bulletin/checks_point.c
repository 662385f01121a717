/* checks_point: owns what can be wrong with instruments, points and adjusters: limits that nothing can meet, readings that
 * nobody takes, adjusters that move nothing. */
#include "bulletin/checks.h"
#include "core/modes.h"
#include "core/truing.h"

#include <string.h>

static const char *dim_name(enum dim dim)
{
    static const char *const names[] = {
#define X(symbol, name, shown) name,
        QUANTITY_DIM_TABLE(X)
#undef X
    };
    return dim < DIM_N ? names[dim] : "?";
}

/* ---- instruments ---- */

static bool is_instrument_used(const struct bulletin *b, const char *id)
{
    bool is_used = (b->cut.node != NULL && strcmp(b->cut.instrument, id) == 0) ||
                   (b->timing.node != NULL && strcmp(b->timing.instrument, id) == 0);
    for (size_t i = 0; i < b->points.n; i++)
        is_used = is_used || strcmp(b->points.at[i].instrument, id) == 0;
    return is_used;
}

static void check_instruments(const struct bulletin *b, const struct schema *s)
{
    checks_unique(s, CHECKS_IDS(b->instruments, bulletin_instrument), "instrument");
    for (size_t i = 0; i < b->instruments.n; i++) {
        const struct bulletin_instrument *in = &b->instruments.at[i];
        if (in->calibration_u.is_given && in->calibration_u.dim != in->resolution.dim)
            FAULT_AT(s, in->node, "calibration_u", "a %s, but the instrument reads a %s",
                     dim_name(in->calibration_u.dim), dim_name(in->resolution.dim));
        if (in->repeat_u.is_given && in->repeat_u.dim != in->resolution.dim)
            FAULT_AT(s, in->node, "repeat_u", "a %s, but the instrument reads a %s",
                     dim_name(in->repeat_u.dim), dim_name(in->resolution.dim));
        if (!is_instrument_used(b, in->id))
            WARN_AT(s, in->node, "id", "nothing is read with '%s'", in->id);
    }
}

/* ---- one point ---- */

/* false when the limits cannot be compared. */
static bool check_limits(const struct schema *s, const struct bulletin_point *p)
{
    char a[QUANTITY_SHOW_MAX], z[QUANTITY_SHOW_MAX];
    if (!p->low.is_given && !p->high.is_given) {
        FAULT_AT(s, p->node, "", "point '%s' has no limits: give low, high or both", p->id);
        return false;
    }
    if (p->low.is_given && p->low.dim != p->nominal.dim) {
        FAULT_AT(s, p->node, "low", "a %s, but nominal is a %s", dim_name(p->low.dim),
                 dim_name(p->nominal.dim));
        return false;
    }
    if (p->high.is_given && p->high.dim != p->nominal.dim) {
        FAULT_AT(s, p->node, "high", "a %s, but nominal is a %s", dim_name(p->high.dim),
                 dim_name(p->nominal.dim));
        return false;
    }
    if (p->low.is_given && p->high.is_given && p->low.nano > p->high.nano) {
        FAULT_AT(s, p->node, "low", "low (%s) is above high (%s)", checks_amount(&p->low, a),
                 checks_amount(&p->high, z));
        return false;
    }
    if (p->low.is_given && p->nominal.nano < p->low.nano)
        FAULT_AT(s, p->node, "nominal", "nominal (%s) is below low (%s)",
                 checks_amount(&p->nominal, a), checks_amount(&p->low, z));
    if (p->high.is_given && p->nominal.nano > p->high.nano)
        FAULT_AT(s, p->node, "nominal", "nominal (%s) is above high (%s)",
                 checks_amount(&p->nominal, a), checks_amount(&p->high, z));
    return true;
}

static bool is_one_dimension(const struct bulletin_instrument *in)
{
    return (!in->calibration_u.is_given || in->calibration_u.dim == in->resolution.dim) &&
           (!in->repeat_u.is_given || in->repeat_u.dim == in->resolution.dim);
}

/* Limits so close that, with this instrument and this rule, no reading counts as inside. */
static void check_guard(const struct bulletin *b, const struct schema *s,
                        const struct bulletin_point *p)
{
    const double u = conform_combine(bulletin_uncertainty(b, p->instrument));
    int64_t guard = 0;
    if (!p->low.is_given || !p->high.is_given || b->decision.guard != BULLETIN_GUARD_RISK ||
        conform_guard(u, b->decision.risk, &guard) != ERR_OK)
        return;
    if (guard > (p->high.nano - p->low.nano) / 2)
        FAULT_AT(s, p->node, "instrument",
                 "'%s' is too coarse for these limits: at a risk of %g no reading could be called "
                 "inside",
                 p->instrument, b->decision.risk);
}

static void check_instrument_of(const struct bulletin *b, const struct schema *s,
                                const struct bulletin_point *p)
{
    const struct yamlnode *at = yamlnode_get(p->node, "instrument");
    if (at == NULL) {
        if (p->nominal.dim != DIM_COUNT)
            WARN_AT(s, p->node, "id",
                    "point '%s' names no instrument: its readings are taken as exact", p->id);
        return;
    }
    if (!checks_known(s, at, p->instrument, CHECKS_IDS(b->instruments, bulletin_instrument),
                      "instrument"))
        return;
    const struct bulletin_instrument *in = bulletin_instrument_find(b, p->instrument);
    if (in->resolution.dim != p->nominal.dim)
        FAULT_AT(s, at, "", "'%s' reads a %s, but this point is a %s", in->id,
                 dim_name(in->resolution.dim), dim_name(p->nominal.dim));
    else if (is_one_dimension(in))
        check_guard(b, s, p);
}

static bool is_read(const struct bulletin *b, const char *point)
{
    for (size_t i = 0; i < b->steps.n; i++)
        for (size_t k = 0; k < b->steps.at[i].readings.n; k++)
            if (strcmp(b->steps.at[i].readings.at[k], point) == 0)
                return true;
    return false;
}

static void check_point(const struct bulletin *b, const struct schema *s,
                        const struct bulletin_point *p)
{
    if (p->station[0] != '\0')
        (void)checks_known(s, yamlnode_get(p->node, "station"), p->station,
                           CHECKS_IDS(b->scope.stations, bulletin_station), "station");
    if (check_limits(s, p))
        check_instrument_of(b, s, p);
    if (p->factors.n > MODES_FACTORS_MAX)
        FAULT_AT(s, p->node, "factors", "%zu factors, at most %d", p->factors.n, MODES_FACTORS_MAX);
    if (!is_read(b, p->id))
        WARN_AT(s, p->node, "id", "no step reads the point '%s'", p->id);
}

/* ---- factors ---- */

static int32_t level_of(const struct bulletin_point *p, const char *factor)
{
    for (size_t i = 0; i < p->factors.n; i++)
        if (strcmp(p->factors.at[i].factor, factor) == 0)
            return p->factors.at[i].level;
    return 0;
}

/* Two points at the same place: most likely a slip in copying. */
static void check_factors(const struct bulletin *b, const struct schema *s, size_t i)
{
    const struct bulletin_point *p = &b->points.at[i];
    for (size_t k = 0; k < i && p->factors.n > 0; k++) {
        const struct bulletin_point *q = &b->points.at[k];
        bool is_same = q->factors.n == p->factors.n && q->nominal.dim == p->nominal.dim;
        for (size_t f = 0; f < p->factors.n && is_same; f++)
            is_same = level_of(q, p->factors.at[f].factor) == p->factors.at[f].level;
        if (is_same) {
            FAULT_AT(s, p->node, "factors", "point '%s' in line %d stands at the same factors",
                     q->id, q->node->line);
            return;
        }
    }
}

/* ---- adjusters ---- */

static bool is_reached(const struct bulletin *b, const char *point)
{
    for (size_t i = 0; i < b->adjusters.n; i++)
        for (size_t k = 0; k < b->adjusters.at[i].effects.n; k++)
            if (strcmp(b->adjusters.at[i].effects.at[k].point, point) == 0 &&
                b->adjusters.at[i].effects.at[k].change.nano != 0)
                return true;
    return false;
}

/* A gap that nothing moves, beside others that something does. Voltages and times are mended, not trued. */
static void check_reach(const struct bulletin *b, const struct schema *s)
{
    bool is_trued[DIM_N] = {false};
    for (size_t i = 0; i < b->points.n; i++)
        if (is_reached(b, b->points.at[i].id))
            is_trued[b->points.at[i].nominal.dim] = true;
    for (size_t i = 0; i < b->points.n; i++) {
        const struct bulletin_point *p = &b->points.at[i];
        if (is_trued[p->nominal.dim] && !is_reached(b, p->id) && p->otherwise.n == 0)
            WARN_AT(s, p->node, "id",
                    "no adjuster reaches the point '%s': say under 'otherwise' what to do when it "
                    "is outside",
                    p->id);
    }
}

static void check_effect(const struct bulletin *b, const struct schema *s,
                         const struct bulletin_adjuster *a, const struct bulletin_effect *e)
{
    char shown[QUANTITY_SHOW_MAX];
    if (!checks_known(s, e->node, e->point, CHECKS_IDS(b->points, bulletin_point), "point"))
        return;
    const struct bulletin_point *p = bulletin_point_find(b, e->point);
    if (e->change.dim != p->nominal.dim) {
        FAULT_AT(s, e->node, "", "a %s, but the point '%s' is a %s", dim_name(e->change.dim), p->id,
                 dim_name(p->nominal.dim));
        return;
    }
    const int64_t size = e->change.nano < 0 ? -e->change.nano : e->change.nano;
    const int64_t steps = a->max > -a->min ? a->max : -(int64_t)a->min;
    if (steps > 0 && size > TRUING_AMOUNT_MAX / steps)
        FAULT_AT(s, e->node, "", "%s times %lld steps is too far to be meant",
                 checks_amount(&e->change, shown), (long long)steps);
    else if (p->low.is_given && p->high.is_given && p->low.nano <= p->high.nano &&
             size > p->high.nano - p->low.nano)
        WARN_AT(s, e->node, "",
                "one step (%s) is wider than the limits of '%s': it can jump over them",
                checks_amount(&e->change, shown), p->id);
    if (size == 0)
        WARN_AT(s, e->node, "", "a change of nothing: leave '%s' out", e->point);
}

static void check_adjuster(const struct bulletin *b, const struct schema *s,
                           const struct bulletin_adjuster *a)
{
    bool moves = false;
    if (a->station[0] != '\0')
        (void)checks_known(s, yamlnode_get(a->node, "station"), a->station,
                           CHECKS_IDS(b->scope.stations, bulletin_station), "station");
    for (size_t i = 0; i < a->effects.n; i++) {
        check_effect(b, s, a, &a->effects.at[i]);
        moves = moves || a->effects.at[i].change.nano != 0;
    }
    if (a->min == 0 && a->max == 0)
        FAULT_AT(s, a->node, "max", "min and max are both 0: adjuster '%s' cannot be moved", a->id);
    else if (!moves)
        FAULT_AT(s, a->node, "effects", "adjuster '%s' moves nothing: every change is 0", a->id);
    if (a->setup_s == 0 && a->per_step_s == 0)
        WARN_AT(s, a->node, "setup", "adjuster '%s' takes no time: plans would move it for nothing",
                a->id);
}

static bool same_effects(const struct bulletin_adjuster *a, const struct bulletin_adjuster *b)
{
    if (a->effects.n != b->effects.n)
        return false;
    for (size_t i = 0; i < a->effects.n; i++) {
        bool is_found = false;
        for (size_t k = 0; k < b->effects.n && !is_found; k++)
            is_found = strcmp(a->effects.at[i].point, b->effects.at[k].point) == 0 &&
                       a->effects.at[i].change.nano == b->effects.at[k].change.nano;
        if (!is_found)
            return false;
    }
    return true;
}

void checks_points(const struct bulletin *b, const struct schema *s)
{
    check_instruments(b, s);
    checks_unique(s, CHECKS_IDS(b->points, bulletin_point), "point");
    for (size_t i = 0; i < b->points.n; i++) {
        check_point(b, s, &b->points.at[i]);
        check_factors(b, s, i);
    }
}

void checks_adjusters(const struct bulletin *b, const struct schema *s)
{
    checks_unique(s, CHECKS_IDS(b->adjusters, bulletin_adjuster), "adjuster");
    for (size_t i = 0; i < b->adjusters.n; i++) {
        check_adjuster(b, s, &b->adjusters.at[i]);
        for (size_t k = 0; k < i; k++)
            if (same_effects(&b->adjusters.at[i], &b->adjusters.at[k]))
                WARN_AT(s, b->adjusters.at[i].node, "effects",
                        "adjuster '%s' does exactly what '%s' in line %d does: was it copied?",
                        b->adjusters.at[i].id, b->adjusters.at[k].id,
                        b->adjusters.at[k].node->line);
    }
    check_reach(b, s);
}
