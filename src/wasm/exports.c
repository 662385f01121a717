/* exports: owns the flat door of the core to WebAssembly and the memory handed out there; computes
 * nothing itself. It checks what C would leave undefined (an enumeration out of range, a count that
 * an array here could not hold), unpacks numbers into structs, calls the core, and packs the
 * answer. It also compiles natively, so that a test can call the same functions on both sides and
 * compare them bit for bit (test/wasm). */
#include "wasm/exports.h"

#include "core/advise.h"
#include "core/conform.h"
#include "core/date.h"
#include "core/label.h"
#include "core/length.h"
#include "core/modes.h"
#include "core/timing.h"
#include "core/truing.h"
#include "core/ulid.h"
#include "core/vin.h"
#include "wasm/pack.h"

/* ---- memory ---------------------------------------------------------------------------------- */

enum { ALIGN = 16, PAGE = 65536 };

#if defined(__wasm__)
extern unsigned char __heap_base; /* set by the linker: the first byte after stack and data */
static uintptr_t arena_start(void)
{
    return (uintptr_t)&__heap_base;
}

/* The memory ends at arena_room() and grows when more is asked for. */
static int arena_reach(uintptr_t end)
{
    uintptr_t have = (uintptr_t)__builtin_wasm_memory_size(0) * PAGE;
    if (end <= have)
        return 1;
    return __builtin_wasm_memory_grow(0, (end - have + PAGE - 1) / PAGE) != (size_t)-1;
}
#else
enum { NATIVE_ROOM = 16 << 20 };
static _Alignas(ALIGN) unsigned char native_arena[NATIVE_ROOM];
static uintptr_t arena_start(void)
{
    return (uintptr_t)native_arena;
}

static int arena_reach(uintptr_t end)
{
    return end <= (uintptr_t)native_arena + NATIVE_ROOM;
}
#endif

static uintptr_t arena_used; /* bytes handed out */

void *mw_alloc(uint32_t size)
{
    uintptr_t start = (arena_start() + arena_used + ALIGN - 1) & ~(uintptr_t)(ALIGN - 1);
    uintptr_t end = start + size;
    if (end < start || !arena_reach(end))
        return NULL;
    arena_used = end - arena_start();
    return (void *)start; /* NOLINT(performance-no-int-to-ptr): this is where addresses come from */
}

void mw_reset(void)
{
    arena_used = 0;
}

uintptr_t pack_mark(void)
{
    return arena_used;
}

void pack_release(uintptr_t mark)
{
    arena_used = mark;
}

/* ---- words ----------------------------------------------------------------------------------- */

int32_t mw_err_text(int32_t code, char *buf, uint32_t room)
{
    pack_copy_text(buf, room, err_text((enum err)code));
    return room ? (int32_t)strlen(buf) : 0;
}

/* ---- amounts and dates ----------------------------------------------------------------------- */

int32_t mw_unit_find(const char *text, uint32_t n)
{
    return (int32_t)quantity_unit_find(text, n);
}

int32_t mw_quantity_parse(const char *text, uint32_t n, int32_t bare, int64_t *ret)
{
    struct quantity q;
    size_t at = (size_t)-1;
    if (!pack_is_unit(bare) && bare != (int32_t)UNIT_N)
        return pack_fail(ERR_UNIT, at, ret);
    enum err err = quantity_parse(text, n, (enum unit)bare, &q, &at);
    if (err)
        return pack_fail(err, at, ret);
    ret[0] = q.nano;
    ret[1] = q.dim;
    ret[2] = q.unit;
    ret[3] = q.is_rounded;
    return ERR_OK;
}

int32_t mw_quantity_from_double(double value, int32_t unit, int64_t *ret)
{
    int64_t nano;
    if (!pack_is_unit(unit))
        return pack_fail(ERR_UNIT, (size_t)-1, ret);
    enum err err = quantity_from_double(value, (enum unit)unit, &nano);
    if (err)
        return pack_fail(err, (size_t)-1, ret);
    ret[0] = nano;
    return ERR_OK;
}

int32_t mw_quantity_show(int64_t nano, int32_t unit, int32_t decimals, char *buf, int64_t *ret)
{
    bool rounded = false;
    if (!pack_is_unit(unit))
        return pack_fail(ERR_UNIT, (size_t)-1, ret);
    if (decimals < -1 || decimals > 9)
        return pack_fail(ERR_DOMAIN, (size_t)-1, ret);
    size_t size = decimals < 0 ? quantity_show_number(nano, (enum unit)unit, buf, &rounded)
                               : quantity_show(nano, (enum unit)unit, decimals, buf, &rounded);
    ret[0] = (int64_t)size;
    ret[1] = rounded;
    return ERR_OK;
}

int32_t mw_length_fraction(int64_t nm, int32_t denominator, char *buf, int64_t *ret)
{
    size_t size;
    bool rounded;
    enum err err = length_show_fraction(nm, denominator, buf, &size, &rounded);
    if (err)
        return pack_fail(err, (size_t)-1, ret);
    ret[0] = (int64_t)size;
    ret[1] = rounded;
    return ERR_OK;
}

int32_t mw_date_show(int32_t day, char *buf, int64_t *ret)
{
    int32_t first, last;
    int year, week, weekday;
    if (date_from_civil(1900, 1, 1, &first) || date_from_civil(2199, 12, 31, &last) ||
        day < first || day > last)
        return pack_fail(ERR_DOMAIN, (size_t)-1, ret);
    date_show(day, buf);
    date_to_week(day, &year, &week, &weekday);
    ret[0] = year;
    ret[1] = week;
    ret[2] = weekday;
    return ERR_OK;
}

/* ---- names ------------------------------------------------------------------------------------ */

int32_t mw_ulid_next(const char *last, uint32_t n, int64_t time_ms, const uint8_t *random,
                     int64_t *ret, char *ret_name)
{
    struct ulid before, next;
    size_t at = (size_t)-1;
    enum err err = ERR_OK;
    if (n > 0) {
        err = ulid_parse(last, n, &before, &at);
        if (!err)
            err = ulid_next(&before, time_ms, random, &next);
    } else {
        err = ulid_make(time_ms, random, &next);
    }
    if (err)
        return pack_fail(err, at, ret);
    ulid_show(&next, ret_name);
    return ERR_OK;
}

/* ---- the unit and its labels ----------------------------------------------------------------- */

int32_t mw_label_read(const char *text, uint32_t n, const char *patterns, uint32_t patterns_size,
                      uint32_t n_patterns, int64_t *ret, char *ret_variant)
{
    const char *list[LABEL_PATTERNS_MAX];
    struct label label;
    size_t at = (size_t)-1;
    if (n_patterns > LABEL_PATTERNS_MAX)
        return pack_fail(ERR_LIMIT, at, ret);
    enum err err = pack_split(patterns, patterns_size, n_patterns, list);
    if (!err)
        err = label_read(text, n, list, n_patterns, &label, &at);
    if (err)
        return pack_fail(err, at, ret);
    ret[0] = label.first_day;
    ret[1] = label.last_day;
    ret[2] = label.pattern;
    pack_copy_text(ret_variant, sizeof label.variant, label.variant);
    return ERR_OK;
}

int32_t mw_vin_check(const char *text, uint32_t n, int64_t *ret, char *ret_vin)
{
    struct vin_verdict v;
    vin_check(text, n, &v);
    ret[0] = v.fault;
    ret[1] = (int64_t)v.at;
    ret[2] = (unsigned char)v.check_expected;
    ret[3] = (unsigned char)v.check_found;
    ret[4] = v.n_years;
    for (int i = 0; i < VIN_YEARS_MAX; i++)
        ret[5 + i] = i < v.n_years ? v.years[i] : 0;
    pack_copy_text(ret_vin, sizeof v.vin, v.vin);
    return (int32_t)v.fault;
}

int32_t mw_vin_repair(const char *text, uint32_t n, const char *known, uint32_t n_known,
                      int64_t *ret, char *ret_vins)
{
    struct vin_repair found[VIN_REPAIRS_MAX];
    const char(*list)[VIN_SIZE + 1] = n_known ? (const char(*)[VIN_SIZE + 1]) known : NULL;
    size_t n_found = vin_repair(text, n, list, n_known, found);
    for (size_t i = 0; i < n_found; i++) {
        int64_t *row = ret + 5 * i;
        row[0] = found[i].kind;
        row[1] = found[i].at;
        row[2] = (unsigned char)found[i].was;
        row[3] = (unsigned char)found[i].now;
        row[4] = found[i].rank;
        memcpy(ret_vins + i * (VIN_SIZE + 1), found[i].vin, VIN_SIZE + 1);
    }
    return (int32_t)n_found;
}

/* ---- readings and limits --------------------------------------------------------------------- */

int32_t mw_conform(int64_t reading, double u, int64_t low, int64_t high, double risk, int64_t *ret,
                   double *ret_p)
{
    struct conform_answer answer;
    enum err err = conform_judge(reading, u, (struct conform_limits){low, high}, risk, &answer);
    if (err)
        return pack_fail(err, (size_t)-1, ret);
    ret[0] = answer.simple;
    ret[1] = answer.guarded;
    ret[2] = answer.guard;
    ret[3] = answer.guarded_limits.low;
    ret[4] = answer.guarded_limits.high;
    ret[5] = answer.margin;
    ret_p[0] = answer.p_conform;
    return ERR_OK;
}

double mw_conform_combine(int64_t resolution, double calibration_u, double repeat_u)
{
    return conform_combine((struct conform_u){
        .resolution = resolution, .calibration_u = calibration_u, .repeat_u = repeat_u});
}

int32_t mw_conform_risks(double mean, double process_u, double measure_u, double low, double high,
                         double w, double *ret)
{
    struct conform_risks risks;
    enum err err = conform_risks(mean, process_u, measure_u, low, high, w, &risks);
    if (err) {
        ret[0] = -1;
        return (int32_t)err;
    }
    ret[0] = risks.consumer;
    ret[1] = risks.producer;
    ret[2] = risks.accept;
    return ERR_OK;
}

int32_t mw_modes(const int64_t *points, const double *u, uint32_t n, uint32_t k, int64_t *ret,
                 double *ret_u)
{
    struct modes_point list[MODES_EFFECTS_MAX];
    struct modes_effect effects[MODES_EFFECTS_MAX];
    if (k > MODES_FACTORS_MAX || n > MODES_EFFECTS_MAX)
        return pack_fail(ERR_LIMIT, (size_t)-1, ret);
    memset(list, 0, sizeof list);
    for (uint32_t i = 0; i < n; i++, points += k + 1) {
        for (uint32_t f = 0; f < k;
             f++) /* 0 is no level, and is refused by the core as anything else is */
            list[i].level[f] = pack_is_within(points[f], -1, 1) ? (int)points[f] : 0;
        list[i].deviation = points[k];
        list[i].u = u[i];
    }
    enum err err = modes_effects(list, n, k, effects);
    if (err)
        return pack_fail(err, (size_t)-1, ret);
    for (uint32_t i = 0; i < n; i++) {
        const int64_t row[4] = {effects[i].set, effects[i].sum, effects[i].value,
                                effects[i].is_significant};
        memcpy(ret + 4 * (size_t)i, row, sizeof row);
        ret_u[i] = effects[i].u;
    }
    return ERR_OK;
}

int32_t mw_modes_meaning(const char *names, uint32_t names_size, uint32_t k, uint32_t set,
                         char *buf, uint32_t room, int64_t *ret)
{
    const char *list[MODES_FACTORS_MAX];
    if (k > MODES_FACTORS_MAX)
        return pack_fail(ERR_LIMIT, (size_t)-1, ret);
    if (set >> k != 0)
        return pack_fail(ERR_DOMAIN, (size_t)-1, ret);
    enum err err = pack_split(names, names_size, k, list);
    if (err)
        return pack_fail(err, (size_t)-1, ret);
    ret[0] = (int64_t)modes_meaning(list, k, set, buf, room);
    return ERR_OK;
}

/* ---- truing and timing ----------------------------------------------------------------------- */

enum { TRUING_HEAD = 8, PLAN_HEAD = 3 };

uint32_t mw_truing_size(uint32_t n_points, uint32_t n_adjusters, uint32_t n_plans)
{
    if (n_points > TRUING_POINTS_MAX || n_adjusters > TRUING_ADJUSTERS_MAX ||
        n_plans > TRUING_PLANS_MAX)
        return 0;
    return TRUING_HEAD + 3 * n_points + n_plans * (PLAN_HEAD + n_adjusters + n_points);
}

struct truing_call {
    struct truing_point points[TRUING_POINTS_MAX];
    struct truing_adjuster adjusters[TRUING_ADJUSTERS_MAX];
    struct truing_answer answer;
};

static enum err adjusters_unpack(const int64_t *rows, size_t n, struct truing_adjuster *ret,
                                 size_t *reterr_at)
{
    for (size_t i = 0; i < n; i++, rows += 4) {
        *reterr_at = i;
        if (!pack_is_within(rows[0], INT32_MIN, INT32_MAX) ||
            !pack_is_within(rows[1], INT32_MIN, INT32_MAX))
            return ERR_DOMAIN;
        ret[i] = (struct truing_adjuster){.min = (int32_t)rows[0],
                                          .max = (int32_t)rows[1],
                                          .setup_s = rows[2],
                                          .step_s = rows[3]};
    }
    return ERR_OK;
}

static void truing_pack(const struct truing_answer *answer, size_t n, size_t m, int64_t *ret,
                        double *ret_p)
{
    const int64_t head[TRUING_HEAD] = {
        answer->verdict, answer->worst_violation, (int64_t)answer->n_plans, answer->is_proved,
        answer->nodes,   answer->bound_violation, answer->bound_cost_s,     answer->is_aimed};
    memcpy(ret, head, sizeof head);
    ret += TRUING_HEAD;
    for (size_t p = 0; p < n; p++) {
        *ret++ = answer->point[p];
        *ret++ = answer->guarded[p].low;
        *ret++ = answer->guarded[p].high;
        *ret_p++ = answer->p_conform[p];
    }
    for (size_t i = 0; i < answer->n_plans; i++) {
        const struct truing_plan *plan = &answer->plans[i];
        *ret++ = plan->cost_s;
        *ret++ = plan->worst_violation;
        *ret++ = plan->least_margin;
        for (size_t a = 0; a < m; a++)
            *ret++ = plan->steps[a];
        for (size_t p = 0; p < n; p++) {
            *ret++ = plan->predicted[p];
            *ret_p++ = plan->p_conform[p];
        }
    }
}

int32_t mw_advise(const int64_t *points, const double *u, uint32_t n_points,
                  const int64_t *adjusters, uint32_t n_adjusters, const int64_t *effect,
                  double risk, double plan_risk, uint32_t n_plans, int64_t node_limit, int64_t *ret,
                  double *ret_p)
{
    size_t at = (size_t)-1;
    if (mw_truing_size(n_points, n_adjusters, n_plans) == 0)
        return pack_fail(ERR_LIMIT, at, ret);
    uintptr_t mark = pack_mark();
    size_t size = truing_workspace(n_points, n_adjusters);
    struct truing_call *call = mw_alloc(sizeof *call);
    void *workspace = mw_alloc((uint32_t)size);
    if (!call || !workspace) {
        pack_release(mark);
        return pack_fail(ERR_MEMORY, at, ret);
    }
    for (uint32_t i = 0; i < n_points; i++, points += 4)
        call->points[i] = (struct truing_point){.nominal = points[0],
                                                .low = points[1],
                                                .high = points[2],
                                                .reading = points[3],
                                                .u = u[i]};
    enum err err = adjusters_unpack(adjusters, n_adjusters, call->adjusters, &at);
    if (!err) {
        at = (size_t)-1;
        struct truing_problem problem = {.n_points = n_points,
                                         .n_adjusters = n_adjusters,
                                         .points = call->points,
                                         .adjusters = call->adjusters,
                                         .effect = effect,
                                         .has_guard = risk != 0,
                                         .risk = risk,
                                         .n_plans = n_plans,
                                         .node_limit = node_limit};
        err = advise_solve(&problem, plan_risk, workspace, size, &call->answer, &at);
    }
    if (!err)
        truing_pack(&call->answer, n_points, n_adjusters, ret, ret_p);
    pack_release(mark);
    return err ? pack_fail(err, at, ret) : ERR_OK;
}

int32_t mw_truing(const int64_t *points, const double *u, uint32_t n_points,
                  const int64_t *adjusters, uint32_t n_adjusters, const int64_t *effect,
                  double risk, uint32_t n_plans, int64_t node_limit, int64_t *ret, double *ret_p)
{
    return mw_advise(points, u, n_points, adjusters, n_adjusters, effect, risk, 0, n_plans,
                     node_limit, ret, ret_p);
}

struct timing_call {
    struct timing_rack racks[TIMING_RACKS_MAX];
    struct timing_difference differences[TIMING_DIFFERENCES_MAX];
    struct timing_answer answer;
};

static enum err timing_unpack(struct timing_call *call, const int64_t *racks, const double *u,
                              size_t n_racks, const int64_t *differences, size_t n_differences,
                              size_t *reterr_at)
{
    for (size_t i = 0; i < n_racks; i++, racks += 5) {
        *reterr_at = i;
        if (!pack_is_within(racks[1], INT32_MIN, INT32_MAX) ||
            !pack_is_within(racks[2], INT32_MIN, INT32_MAX))
            return ERR_DOMAIN;
        call->racks[i] = (struct timing_rack){.end_nm = racks[0],
                                              .u_nm = u[i],
                                              .min = (int32_t)racks[1],
                                              .max = (int32_t)racks[2],
                                              .setup_s = racks[3],
                                              .step_s = racks[4]};
    }
    for (size_t i = 0; i < n_differences; i++, differences += 5) {
        *reterr_at = i;
        if (!pack_is_within(differences[0], 0, TIMING_RACKS_MAX) ||
            !pack_is_within(differences[1], 0, TIMING_RACKS_MAX))
            return ERR_DOMAIN;
        call->differences[i] = (struct timing_difference){.a = (size_t)differences[0],
                                                          .b = (size_t)differences[1],
                                                          .nominal_nm = differences[2],
                                                          .low_nm = differences[3],
                                                          .high_nm = differences[4]};
    }
    return ERR_OK;
}

static void timing_pack(const struct timing_answer *answer, size_t n_racks, size_t n_differences,
                        int64_t *ret, double *ret_real)
{
    const int64_t head[5] = {answer->verdict, pack_index(answer->worst), answer->pitch_nm,
                             answer->is_proved, answer->nodes};
    memcpy(ret, head, sizeof head);
    for (size_t i = 0; i < n_racks; i++)
        ret[5 + i] = answer->moves[i];
    ret += 5 + n_racks;
    for (size_t i = 0; i < n_differences; i++) {
        const struct timing_finding *f = &answer->differences[i];
        const int64_t row[6] = {f->meaning,  f->verdict, f->before_nm,
                                f->after_nm, f->teeth,   f->is_whole};
        memcpy(ret + 6 * i, row, sizeof row);
        ret_real[3 * i] = f->u_nm;
        ret_real[3 * i + 1] = f->residue;
        ret_real[3 * i + 2] = f->residue_u;
    }
}

int32_t mw_timing(const int64_t *racks, const double *u, uint32_t n_racks,
                  const int64_t *differences, uint32_t n_differences, int64_t module_nm,
                  double risk, int64_t *ret, double *ret_real)
{
    size_t at = (size_t)-1;
    if (n_racks > TIMING_RACKS_MAX || n_differences > TIMING_DIFFERENCES_MAX)
        return pack_fail(ERR_LIMIT, at, ret);
    uintptr_t mark = pack_mark();
    size_t size = timing_workspace(n_racks, n_differences);
    struct timing_call *call = mw_alloc(sizeof *call);
    void *workspace = mw_alloc((uint32_t)size);
    if (!call || !workspace) {
        pack_release(mark);
        return pack_fail(ERR_MEMORY, at, ret);
    }
    enum err err = timing_unpack(call, racks, u, n_racks, differences, n_differences, &at);
    if (!err) {
        at = (size_t)-1;
        struct timing_problem problem = {.n_racks = n_racks,
                                         .n_differences = n_differences,
                                         .racks = call->racks,
                                         .differences = call->differences,
                                         .module_nm = module_nm,
                                         .has_guard = risk != 0,
                                         .risk = risk};
        err = timing_solve(&problem, workspace, size, &call->answer, &at);
    }
    if (!err)
        timing_pack(&call->answer, n_racks, n_differences, ret, ret_real);
    pack_release(mark);
    return err ? pack_fail(err, at, ret) : ERR_OK;
}
