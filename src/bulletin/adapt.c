/* adapt: owns how a bulletin's sections become the core's problems; see adapt.h. Decides nothing
 * itself. */
#include "bulletin/adapt.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* ---- scope ---- */

static bool add_windows(const struct bulletin_variant *v, int variant, struct adapt_scope *a)
{
    for (size_t i = 0; i < v->windows.n; i++) {
        if (a->rule.n_windows == SCOPE_WINDOWS_MAX)
            return false;
        const struct bulletin_window *w = &v->windows.at[i];
        a->windows[a->rule.n_windows++] = (struct scope_window){
            .variant = variant, .station = -1, .first_day = w->from.first, .last_day = w->to.last};
    }
    return true;
}

static bool add_codes(const struct bulletin_variant *v, int variant, struct adapt_scope *a)
{
    for (size_t i = 0; i < v->codes.n; i++) {
        if (a->rule.n_codes == SCOPE_CODES_MAX)
            return false;
        a->codes[a->rule.n_codes++] = (struct scope_code){v->codes.at[i], variant};
    }
    return true;
}

enum err adapt_scope_rule(const struct bulletin *b, struct adapt_scope *ret, struct fault *reterr)
{
    static const enum scope_vin_rule rules[] = {[BULLETIN_VIN_REQUIRED] = SCOPE_VIN_REQUIRED,
                                                [BULLETIN_VIN_ADVISORY] = SCOPE_VIN_ADVISORY,
                                                [BULLETIN_VIN_NONE] = SCOPE_VIN_NONE};
    const struct bulletin_scope *s = &b->scope;
    ret->rule = (struct scope_rule){.n_stations = s->stations.n,
                                    .n_prefixes = s->vin.prefixes.n,
                                    .variants = ret->variants,
                                    .codes = ret->codes,
                                    .windows = ret->windows,
                                    .vin_rule = rules[s->vin.check],
                                    .prefixes = s->vin.prefixes.at};
    if (s->variants.n > SCOPE_VARIANTS_MAX)
        return fault_set(reterr, ERR_LIMIT, "more than %d variants", (int)SCOPE_VARIANTS_MAX);
    for (size_t i = 0; i < s->variants.n; i++) {
        const struct bulletin_variant *v = &s->variants.at[i];
        ret->variants[ret->rule.n_variants++] = v->id;
        /* Without codes the label says no variant: its windows hold for every label. */
        if (!add_windows(v, v->codes.n > 0 ? (int)i : -1, ret))
            return fault_set(reterr, ERR_LIMIT, "more than %d build windows",
                             (int)SCOPE_WINDOWS_MAX);
        if (!add_codes(v, (int)i, ret))
            return fault_set(reterr, ERR_LIMIT, "more than %d variant codes", (int)SCOPE_CODES_MAX);
    }
    return ERR_OK;
}

/* How a label of this bulletin reads, for people: by its first pattern, with its first variant and window. */
static void put_like(const struct bulletin *b, char *buf, size_t room)
{
    char variant[LABEL_VARIANT_MAX + 1] = "A1";
    int32_t day = 0;
    buf[0] = '\0';
    if (b->scope.labels.n == 0)
        return;
    if (b->scope.variants.n > 0) {
        const struct bulletin_variant *v = &b->scope.variants.at[0];
        const int n = v->codes.n > 0 ? (int)strcspn(v->codes.at[0], "*") : 0;
        if (n > 0)
            snprintf(variant, sizeof variant, "%.*s", n, v->codes.at[0]);
        if (v->windows.n > 0)
            day = v->windows.at[0].from.first;
    }
    (void)label_example(b->scope.labels.at[0], strlen(b->scope.labels.at[0]), day, variant, buf,
                        room);
}

enum err adapt_scope_label(const struct bulletin *b, const char *text, struct scope_sight *ret,
                           struct fault *reterr)
{
    size_t at = 0;
    enum err e =
        label_read(text, strlen(text), b->scope.labels.at, b->scope.labels.n, &ret->label, &at);
    if (e == ERR_OK) {
        ret->state = SCOPE_LABEL_READ;
        return ERR_OK;
    }
    if (e == ERR_AMBIGUOUS) {
        ret->state = SCOPE_LABEL_AMBIGUOUS;
        return ERR_OK;
    }
    char like[LABEL_PATTERN_MAX + LABEL_VARIANT_MAX + 1];
    put_like(b, like, sizeof like);
    if (e == ERR_SYNTAX)
        return fault_set(
            reterr, e,
            "the label '%.60s' fits no pattern from character %zu on; expected one like '%s'", text,
            at + 1, like);
    if (e == ERR_IMPOSSIBLE)
        return fault_set(reterr, e,
                         "the label '%.60s' names a day that does not exist; read it again", text);
    return fault_set(reterr, e, "the label '%.60s' %s; expected one like '%s'", text, err_text(e),
                     like);
}

/* ---- kit and cut ---- */

int adapt_value(const struct bulletin_attribute *attribute, const char *value)
{
    for (size_t i = 0; i < attribute->values.n; i++)
        if (strcmp(attribute->values.at[i], value) == 0)
            return (int)i;
    return KIT_ANY;
}

int adapt_rack(const struct adapt_kits *a, const char *id)
{
    for (size_t i = 0; i < a->n_racks; i++)
        if (strcmp(a->racks[i], id) == 0)
            return (int)i;
    return -1;
}

static int rack_index(struct adapt_kits *a, const char *id)
{
    int i = adapt_rack(a, id);
    if (i >= 0 || a->n_racks == ADAPT_RACKS_MAX)
        return i;
    a->racks[a->n_racks] = id;
    return (int)a->n_racks++;
}

static int64_t amount_or(const struct bulletin_amount *amount, int64_t otherwise)
{
    return amount->is_given ? amount->nano : otherwise;
}

static enum cut_relief relief_of(enum bulletin_relief relief)
{
    switch (relief) {
    case BULLETIN_RELIEF_UPPER:
    case BULLETIN_RELIEF_LOWER:
        return CUT_RELIEF_ONE;
    case BULLETIN_RELIEF_BOTH:
        return CUT_RELIEF_BOTH;
    case BULLETIN_RELIEF_NONE:
        break;
    }
    return CUT_RELIEF_NONE;
}

static struct cut_piece piece_of(const struct bulletin *b, const struct bulletin_rack *r)
{
    return (struct cut_piece){.stock_nm = r->stock.nano,
                              .is_ready = r->supply == BULLETIN_SUPPLY_READY,
                              .relief = relief_of(r->relief),
                              .fit_nm = amount_or(&r->fit, 0),
                              .kerf_nm = amount_or(&b->cut.kerf, 0),
                              .least_nm = amount_or(&r->least, 0),
                              .greatest_nm = amount_or(&r->greatest, 0),
                              .offcut_max_nm = amount_or(&b->cut.offcut_max, 0),
                              .blade = b->cut.blade == BULLETIN_BLADE_CENTRE ? CUT_BLADE_CENTRE
                                                                             : CUT_BLADE_WASTE,
                              .module_nm = amount_or(&r->module, 0),
                              .has_first_tooth = r->first_tooth.is_given,
                              .first_tooth_nm = amount_or(&r->first_tooth, 0),
                              .sliver_nm = amount_or(&b->cut.sliver, 0)};
}

static void add_kit(const struct bulletin *b, const struct bulletin_kit *from, struct adapt_kits *a)
{
    size_t index = a->n_kits++;
    struct kit *k = &a->kits[index];
    *k = (struct kit){.stations = UINT32_MAX, .n_pieces = from->racks.n};
    for (size_t i = 0; i < KIT_ATTRIBUTES_MAX; i++)
        k->values[i] = KIT_ANY;
    for (size_t i = 0; i < from->fits.n; i++)
        for (size_t j = 0; j < a->n_attributes; j++)
            if (strcmp(from->fits.at[i].key, b->scope.attributes.at[j].id) == 0)
                k->values[j] = adapt_value(&b->scope.attributes.at[j], from->fits.at[i].value);
    for (size_t i = 0; i < k->n_pieces; i++) {
        k->piece_rack[i] = rack_index(a, from->racks.at[i].id);
        k->pieces[i] = piece_of(b, &from->racks.at[i]);
        a->pieces[index][i] = &from->racks.at[i];
    }
}

enum err adapt_kits(const struct bulletin *b, struct adapt_kits *ret, struct fault *reterr)
{
    if (b->scope.attributes.n > KIT_ATTRIBUTES_MAX)
        return fault_set(reterr, ERR_LIMIT, "more than %d attributes", (int)KIT_ATTRIBUTES_MAX);
    if (b->kits.n > KIT_KITS_MAX)
        return fault_set(reterr, ERR_LIMIT, "more than %d kits", (int)KIT_KITS_MAX);
    memset(ret, 0, sizeof *ret);
    ret->n_attributes = b->scope.attributes.n;
    for (size_t i = 0; i < b->kits.n; i++)
        add_kit(b, &b->kits.at[i], ret);
    ret->remeasure_factor = b->cut.node != NULL ? b->cut.remeasure_factor : CUT_COVERAGE;
    if (b->cut.node != NULL)
        ret->u.tape_nm = conform_combine(bulletin_uncertainty(b, b->cut.instrument));
    ret->u.blade_nm = ADAPT_BLADE_HALF_NM / sqrt(3);
    return ERR_OK;
}

void adapt_station_values(const struct bulletin *b, const struct bulletin_station *station,
                          int values[KIT_ATTRIBUTES_MAX])
{
    for (size_t i = 0; i < KIT_ATTRIBUTES_MAX; i++)
        values[i] = KIT_ANY;
    for (size_t i = 0; i < b->scope.attributes.n && i < KIT_ATTRIBUTES_MAX; i++) {
        const struct bulletin_attribute *attribute = &b->scope.attributes.at[i];
        const char *fixed = bulletin_station_value(station, attribute->id);
        if (fixed != NULL)
            values[i] = adapt_value(attribute, fixed);
        else if (attribute->values.n == 1)
            values[i] = 0;
    }
}

/* ---- timing ---- */

static const struct bulletin_timing_station *timed(const struct bulletin *b, const char *station)
{
    for (size_t i = 0; b->timing.node != NULL && i < b->timing.stations.n; i++)
        if (strcmp(b->timing.stations.at[i].station, station) == 0)
            return &b->timing.stations.at[i];
    return NULL;
}

bool adapt_timing_station(const struct bulletin *b, const char *station, struct adapt_timing *ret)
{
    const struct bulletin_timing *t = &b->timing;
    const struct bulletin_timing_station *s = timed(b, station);
    if (s == NULL || s->racks.n > TIMING_RACKS_MAX)
        return false;
    double u = conform_combine(bulletin_uncertainty(b, t->instrument));
    size_t n = 0;
    for (size_t i = 0; i < s->racks.n; i++) {
        ret->ids[i] = s->racks.at[i];
        ret->racks[i] = (struct timing_rack){.u_nm = u,
                                             .min = -t->jump_max,
                                             .max = t->jump_max,
                                             .setup_s = t->setup_s,
                                             .step_s = t->per_jump_s};
        for (size_t j = 0; j < i; j++)
            ret->differences[n++] = (struct timing_difference){
                .a = i, .b = j, .low_nm = -t->limit.nano, .high_nm = t->limit.nano};
    }
    ret->problem = (struct timing_problem){.n_racks = s->racks.n,
                                           .n_differences = n,
                                           .racks = ret->racks,
                                           .differences = ret->differences,
                                           .module_nm = t->module.nano,
                                           .has_guard = b->decision.guard == BULLETIN_GUARD_RISK,
                                           .risk = b->decision.risk};
    return true;
}
