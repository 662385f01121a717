/* exports_job: the flat door's other half: scope, cutting and kits, whose answers are the largest.
 * Same rules as exports.c: checks what C would leave undefined, unpacks, calls the core, packs;
 * keeps no state. */
#include "wasm/exports.h"

#include "core/gear.h"
#include "core/kit.h"
#include "core/scope.h"
#include "core/wire.h"
#include "wasm/pack.h"

/* ---- scope ----------------------------------------------------------------------------------- */

/* Everything mw_scope unpacks into; taken from the scratch room, for it is large. */
struct scope_call {
    struct scope_rule rule;
    struct scope_answer answer;
    struct scope_sight sights[SCOPE_STATIONS_MAX];
    struct scope_window windows[SCOPE_WINDOWS_MAX];
    struct scope_code codes[SCOPE_CODES_MAX];
    const char *code_texts[SCOPE_CODES_MAX];
    const char *variants[SCOPE_VARIANTS_MAX], *prefixes[SCOPE_PREFIXES_MAX];
    const char *sight_variants[2 * SCOPE_STATIONS_MAX];
};

static enum err scope_windows(struct scope_call *call, const int64_t *rows, size_t n,
                              size_t *reterr_at)
{
    for (size_t i = 0; i < n; i++, rows += 4) {
        *reterr_at = i;
        if (!pack_is_within(rows[0], -1, SCOPE_VARIANTS_MAX) ||
            !pack_is_within(rows[1], -1, SCOPE_STATIONS_MAX) ||
            !pack_is_within(rows[2], INT32_MIN, INT32_MAX) ||
            !pack_is_within(rows[3], INT32_MIN, INT32_MAX))
            return ERR_DOMAIN;
        call->windows[i] = (struct scope_window){.variant = (int)rows[0],
                                                 .station = (int)rows[1],
                                                 .first_day = (int32_t)rows[2],
                                                 .last_day = (int32_t)rows[3]};
    }
    return ERR_OK;
}

static enum err scope_sights(struct scope_call *call, const int64_t *rows, size_t n,
                             size_t *reterr_at)
{
    for (size_t i = 0; i < n; i++, rows += 4) {
        struct scope_sight *sight = &call->sights[i];
        *reterr_at = i;
        if (!pack_is_within(rows[0], SCOPE_LABEL_UNREAD, SCOPE_LABEL_AMBIGUOUS) ||
            !pack_is_within(rows[1], INT32_MIN, INT32_MAX) ||
            !pack_is_within(rows[2], INT32_MIN, INT32_MAX) ||
            !pack_is_within(rows[3], 0, LABEL_PATTERNS_MAX - 1))
            return ERR_DOMAIN;
        *sight = (struct scope_sight){.state = (enum scope_label)rows[0],
                                      .given_variant = call->sight_variants[2 * i + 1]};
        sight->label.first_day = (int32_t)rows[1];
        sight->label.last_day = (int32_t)rows[2];
        sight->label.pattern = (int)rows[3];
        pack_copy_text(sight->label.variant, sizeof sight->label.variant,
                       call->sight_variants[2 * i]);
    }
    return ERR_OK;
}

static void scope_pack(const struct scope_call *call, size_t row_size, int64_t *ret,
                       char *ret_texts)
{
    const struct scope_answer *answer = &call->answer;
    ret[0] = answer->unit;
    ret[1] = answer->has_vin_warning;
    for (size_t i = 0; i < call->rule.n_stations; i++) {
        const struct scope_finding *f = &answer->stations[i];
        char *text = ret_texts + 2 * i * row_size;
        const int64_t row[7] = {f->verdict,  f->reason,    f->window,  f->variant,
                                f->has_days, f->first_day, f->last_day};
        memcpy(ret + 2 + 7 * i, row, sizeof row);
        scope_reason_text(&call->rule, &call->sights[i], answer, f, text, row_size);
        scope_settle_text(&call->rule, &call->sights[i], answer, f, text + row_size, row_size);
    }
}

/* The counts of mw_scope, in the order of its n[6]. */
enum { N_STATIONS, N_VARIANTS, N_CODES, N_WINDOWS, N_PREFIXES, N_VIN };
/* The bytes of its lists, in the order of its size[5]. */
enum { OF_VARIANTS, OF_CODES, OF_PREFIXES, OF_SIGHTS, OF_TEXT_ROW };

static enum err scope_lists(struct scope_call *call, const char *const *lists, const uint32_t *size,
                            const uint32_t *n)
{
    enum err err = pack_split(lists[OF_VARIANTS], size[OF_VARIANTS], n[N_VARIANTS], call->variants);
    if (!err)
        err = pack_split(lists[OF_CODES], size[OF_CODES], n[N_CODES], call->code_texts);
    if (!err)
        err = pack_split(lists[OF_PREFIXES], size[OF_PREFIXES], n[N_PREFIXES], call->prefixes);
    if (!err)
        err = pack_split(lists[OF_SIGHTS], size[OF_SIGHTS], 2 * (size_t)n[N_STATIONS],
                         call->sight_variants);
    return err;
}

static enum err scope_codes(struct scope_call *call, const int64_t *variants, size_t n,
                            size_t *reterr_at)
{
    for (size_t i = 0; i < n; i++) {
        *reterr_at = i;
        if (!pack_is_within(variants[i], 0, SCOPE_VARIANTS_MAX))
            return ERR_DOMAIN;
        call->codes[i] =
            (struct scope_code){.text = call->code_texts[i], .variant = (int)variants[i]};
    }
    return ERR_OK;
}

int32_t mw_scope(const uint32_t *n, const uint32_t *size, const char *vin, int32_t vin_rule,
                 const char *variants, const char *codes, const int64_t *code_variants,
                 const char *prefixes, const int64_t *windows, const int64_t *sights,
                 const char *sight_variants, int64_t *ret, char *ret_texts)
{
    size_t at = (size_t)-1;
    if (n[N_STATIONS] > SCOPE_STATIONS_MAX || n[N_VARIANTS] > SCOPE_VARIANTS_MAX ||
        n[N_CODES] > SCOPE_CODES_MAX || n[N_WINDOWS] > SCOPE_WINDOWS_MAX ||
        n[N_PREFIXES] > SCOPE_PREFIXES_MAX)
        return pack_fail(ERR_LIMIT, at, ret);
    if (!pack_is_within(vin_rule, SCOPE_VIN_NONE, SCOPE_VIN_REQUIRED))
        return pack_fail(ERR_DOMAIN, at, ret);
    if (size[OF_TEXT_ROW] < SCOPE_TEXT_MAX)
        return pack_fail(ERR_SPACE, at, ret);
    uintptr_t mark = pack_mark();
    struct scope_call *call = mw_alloc(sizeof *call);
    if (!call)
        return pack_fail(ERR_MEMORY, at, ret);
    memset(call, 0, sizeof *call);
    const char *const lists[4] = {variants, codes, prefixes, sight_variants};
    enum err err = scope_lists(call, lists, size, n);
    if (!err)
        err = scope_codes(call, code_variants, n[N_CODES], &at);
    if (!err)
        err = scope_windows(call, windows, n[N_WINDOWS], &at);
    if (!err)
        err = scope_sights(call, sights, n[N_STATIONS], &at);
    if (!err) {
        at = (size_t)-1;
        call->rule = (struct scope_rule){.n_stations = n[N_STATIONS],
                                         .n_variants = n[N_VARIANTS],
                                         .n_codes = n[N_CODES],
                                         .n_windows = n[N_WINDOWS],
                                         .n_prefixes = n[N_PREFIXES],
                                         .variants = call->variants,
                                         .codes = call->codes,
                                         .windows = call->windows,
                                         .vin_rule = (enum scope_vin_rule)vin_rule,
                                         .prefixes = call->prefixes};
        err = scope_judge(&call->rule, n[N_VIN] ? vin : NULL, n[N_VIN], call->sights, &call->answer,
                          &at);
    }
    if (!err)
        scope_pack(call, size[OF_TEXT_ROW], ret, ret_texts);
    pack_release(mark);
    return err ? pack_fail(err, at, ret) : ERR_OK;
}

/* ---- cutting --------------------------------------------------------------------------------- */

enum { PIECE_ROW = 13 }; /* figures of a piece, exports.h */

static enum err piece_unpack(const int64_t *row, struct cut_piece *ret)
{
    if (!pack_is_within(row[2], CUT_RELIEF_NONE, CUT_RELIEF_BOTH) ||
        !pack_is_within(row[7], CUT_BLADE_WASTE, CUT_BLADE_CENTRE))
        return ERR_DOMAIN;
    *ret = (struct cut_piece){.stock_nm = row[0],
                              .is_ready = row[1] != 0,
                              .relief = (enum cut_relief)row[2],
                              .kerf_nm = row[3],
                              .least_nm = row[4],
                              .greatest_nm = row[5],
                              .offcut_max_nm = row[6],
                              .blade = (enum cut_blade)row[7],
                              .module_nm = row[8],
                              .has_first_tooth = row[9] != 0,
                              .first_tooth_nm = row[10],
                              .sliver_nm = row[11],
                              .fit_nm = row[12]};
    return ERR_OK;
}

static struct cut_uncertainty u_unpack(const double *u)
{
    return (struct cut_uncertainty){.tape_nm = u[0], .blade_nm = u[1], .stock_nm = u[2]};
}

int32_t mw_cut_plan(const int64_t *piece, int64_t needed_nm, const double *u, int32_t show,
                    int64_t *ret, double *ret_real, char *ret_text)
{
    struct cut_piece unpacked;
    struct cut_answer answer;
    const struct cut_uncertainty spread = u_unpack(u);
    if (!pack_is_unit(show) || quantity_unit_dim((enum unit)show) != DIM_LENGTH)
        return pack_fail(ERR_UNIT, (size_t)-1, ret);
    enum err err = piece_unpack(piece, &unpacked);
    if (!err)
        err = cut_plan(&unpacked, needed_nm, &spread, &answer);
    if (err)
        return pack_fail(err, (size_t)-1, ret);
    const int64_t row[7] = {answer.status,  answer.needed_nm, answer.stock_nm, answer.mark_nm,
                            answer.kerf_nm, answer.offcut_nm, answer.warnings};
    memcpy(ret, row, sizeof row);
    ret_real[0] = answer.mark_u_nm;
    ret_real[1] = answer.tooth_fraction;
    ret_real[2] = answer.part_tooth_nm;
    cut_status_text(&unpacked, &answer, (enum unit)show, ret_text, CUT_TEXT_MAX);
    return ERR_OK;
}

int32_t mw_cut_remeasure(const int64_t *lengths_nm, const int64_t *group, uint32_t n,
                         double tape_u_nm, double factor, int64_t *ret)
{
    int groups[CUT_RACKS_MAX];
    struct cut_pair pair;
    if (n > CUT_RACKS_MAX)
        return -1;
    for (uint32_t i = 0; i < n; i++)
        groups[i] = pack_is_within(group[i], 0, INT32_MAX) ? (int)group[i] : -1;
    if (!cut_remeasure(lengths_nm, groups, n, tape_u_nm, factor, &pair))
        return 0;
    ret[0] = (int64_t)pair.a;
    ret[1] = (int64_t)pair.b;
    ret[2] = pair.apart_nm;
    return 1;
}

struct kit_call {
    struct kit kits[KIT_KITS_MAX];
    struct kit_need need;
    struct kit_answer answer;
};

static enum err kit_values(const int64_t *values, size_t n, int *ret)
{
    for (size_t i = 0; i < KIT_ATTRIBUTES_MAX; i++)
        ret[i] = KIT_ANY;
    for (size_t i = 0; i < n; i++) {
        if (!pack_is_within(values[i], KIT_ANY, INT32_MAX))
            return ERR_DOMAIN;
        ret[i] = (int)values[i];
    }
    return ERR_OK;
}

/* kit_unpack: one kit; *pieces moves on past its own. */
static enum err kit_unpack(const int64_t *row, size_t n_attributes, const int64_t **pieces,
                           struct kit *ret)
{
    if (!pack_is_within(row[0], 0, UINT32_MAX) || !pack_is_within(row[1], 0, CUT_RACKS_MAX))
        return ERR_LIMIT;
    ret->stations = (uint32_t)row[0];
    ret->n_pieces = (size_t)row[1];
    for (size_t i = 0; i < ret->n_pieces; i++, *pieces += 1 + PIECE_ROW) {
        if (!pack_is_within((*pieces)[0], 0, INT32_MAX) ||
            piece_unpack(*pieces + 1, &ret->pieces[i]))
            return ERR_DOMAIN;
        ret->piece_rack[i] = (int)(*pieces)[0];
    }
    return kit_values(row + 3, n_attributes, ret->values);
}

static enum err need_unpack(const int64_t *row, size_t n_attributes, const double *u,
                            struct kit_need *ret)
{
    if (!pack_is_within(row[0], 0, INT32_MAX) || !pack_is_within(row[1], 0, CUT_RACKS_MAX))
        return ERR_LIMIT;
    ret->station = (int)row[0];
    ret->n_racks = (size_t)row[1];
    ret->u = u_unpack(u);
    const int64_t *pair = row + 2 + n_attributes;
    for (size_t i = 0; i < ret->n_racks; i++, pair += 2) {
        if (!pack_is_within(pair[0], 0, INT32_MAX))
            return ERR_DOMAIN;
        ret->rack[i] = (int)pair[0];
        ret->needed_nm[i] = pair[1];
    }
    return kit_values(row + 2, n_attributes, ret->values);
}

static void kit_pack(const struct kit_answer *answer, size_t n_kits, int64_t *ret)
{
    ret[0] = answer->chosen;
    ret[1] = answer->open;
    for (size_t i = 0; i < n_kits; i++) {
        const struct kit_finding *f = &answer->kits[i];
        const int64_t row[6] = {f->reason, f->attribute, f->rack, f->fits, f->n_cuts, f->offcut_nm};
        memcpy(ret + 2 + 6 * i, row, sizeof row);
    }
}

int32_t mw_kit_choose(const int64_t *kits, uint32_t n_kits, uint32_t n_attributes,
                      const int64_t *pieces, const int64_t *need, const double *u, int64_t *ret)
{
    size_t at = (size_t)-1;
    if (n_kits > KIT_KITS_MAX || n_attributes > KIT_ATTRIBUTES_MAX)
        return pack_fail(ERR_LIMIT, at, ret);
    uintptr_t mark = pack_mark();
    struct kit_call *call = mw_alloc(sizeof *call);
    if (!call)
        return pack_fail(ERR_MEMORY, at, ret);
    memset(call, 0, sizeof *call);
    enum err err = need_unpack(need, n_attributes, u, &call->need);
    for (size_t i = 0; i < n_kits && !err; i++) {
        err = kit_unpack(kits + i * (3 + (size_t)n_attributes), n_attributes, &pieces,
                         &call->kits[i]);
        at = err ? i : at;
    }
    if (!err)
        err = kit_choose(call->kits, n_kits, n_attributes, &call->need, &call->answer, &at);
    if (!err)
        kit_pack(&call->answer, n_kits, ret);
    pack_release(mark);
    return err ? pack_fail(err, at, ret) : ERR_OK;
}

/* ---- teeth and conductors -------------------------------------------------------------------- */

enum { WIRE_NAME_ROOM = 24 };

int32_t mw_gear_span(int64_t module_nm, int64_t n_teeth, int64_t *ret)
{
    int64_t span_nm;
    enum err err = gear_span_nm(module_nm, n_teeth, &span_nm);
    if (err)
        return pack_fail(err, (size_t)-1, ret);
    ret[0] = span_nm;
    return ERR_OK;
}

int32_t mw_wire_least(int32_t kind, const double *load, int64_t one_way_nm, double drop_max_v,
                      double *ret, char *ret_name)
{
    struct wire wire;
    struct wire_drop drop;
    const struct wire_load unpacked = {
        .one_way_nm = one_way_nm, .current_a = load[0], .supply_v = load[1], .temp_c = load[2]};
    ret[0] = -1;
    if (!pack_is_within(kind, WIRE_AWG_SOLID, WIRE_KIND_N - 1))
        return ERR_DOMAIN;
    enum err err = wire_least((enum wire_kind)kind, &unpacked, drop_max_v, &wire, &drop);
    if (err)
        return (int32_t)err;
    ret[0] = drop.loop_ohm;
    ret[1] = drop.drop_v;
    ret[2] = drop.percent;
    ret[3] = drop.at_motor_v;
    wire_name(wire, ret_name, WIRE_NAME_ROOM);
    return ERR_OK;
}
