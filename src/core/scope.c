/* scope: decides in, out or unknown per station and puts the stations together into the unit; see
 * scope.h for the rules. Owns no data. The one invariant: "in" or "out" is only said when every
 * reading of what was seen leads there. */
#include "core/scope.h"

#include "core/fill.h"

#include <string.h>

/* Bit for each outcome that some possible reading of the label leads to. */
enum { MAYBE_IN = 1, MAYBE_OUT = 2 };

static bool concerns(const struct scope_window *w, int station, int variant)
{
    return (w->station < 0 || w->station == station) && (w->variant < 0 || w->variant == variant);
}

/* The union of the windows is walked from the first day on: each step takes the window that holds
 * the day and reaches furthest. Ends after at most n_windows steps, since each window can be the
 * furthest only once. */
static bool is_covered(const struct scope_rule *rule, int station, int variant, int32_t first,
                       int32_t last)
{
    int64_t day = first;
    while (day <= last) {
        int64_t reach = day - 1;
        for (size_t i = 0; i < rule->n_windows; i++) {
            const struct scope_window *w = &rule->windows[i];
            if (concerns(w, station, variant) && w->first_day <= day && w->last_day > reach)
                reach = w->last_day;
        }
        if (reach < day)
            return false;
        day = reach + 1;
    }
    return true;
}

/* The first window that shares a day with first..last; -1 when none does. */
static int touching(const struct scope_rule *rule, int station, int variant, int32_t first,
                    int32_t last)
{
    for (size_t i = 0; i < rule->n_windows; i++) {
        const struct scope_window *w = &rule->windows[i];
        if (concerns(w, station, variant) && w->first_day <= last && w->last_day >= first)
            return (int)i;
    }
    return -1;
}

/* Built outside every window (of the variant, or when is_any of every variant): before, after or
 * between, and the window that lies nearest. */
static void place_outside(const struct scope_rule *rule, int station, bool is_any,
                          struct scope_finding *f)
{
    int64_t nearest = INT64_MAX;
    bool has_earlier = false, has_later = false;
    f->verdict = SCOPE_OUT;
    f->window = -1;
    for (size_t i = 0; i < rule->n_windows; i++) {
        const struct scope_window *w = &rule->windows[i];
        if (!concerns(w, station, is_any && w->variant >= 0 ? w->variant : f->variant))
            continue;
        bool is_later = w->first_day > f->last_day;
        int64_t gap =
            is_later ? (int64_t)w->first_day - f->last_day : (int64_t)f->first_day - w->last_day;
        has_later = has_later || is_later;
        has_earlier = has_earlier || !is_later;
        if (gap < nearest) {
            nearest = gap;
            f->window = (int)i;
        }
    }
    if (f->window < 0)
        f->reason = SCOPE_VARIANT_CLEAR;
    else if (has_earlier && has_later)
        f->reason = SCOPE_BUILT_BETWEEN;
    else
        f->reason = has_later ? SCOPE_BUILT_BEFORE : SCOPE_BUILT_AFTER;
}

static unsigned outcome(const struct scope_rule *rule, int station, int variant,
                        const struct scope_finding *f)
{
    if (touching(rule, station, variant, f->first_day, f->last_day) < 0)
        return MAYBE_OUT;
    return is_covered(rule, station, variant, f->first_day, f->last_day) ? MAYBE_IN
                                                                         : MAYBE_IN | MAYBE_OUT;
}

static void judge_known(const struct scope_rule *rule, int station, struct scope_finding *f)
{
    unsigned maybe = outcome(rule, station, f->variant, f);
    if (maybe == MAYBE_OUT) {
        place_outside(rule, station, false, f);
        return;
    }
    f->window = touching(rule, station, f->variant, f->first_day, f->last_day);
    f->verdict = maybe == MAYBE_IN ? SCOPE_IN : SCOPE_UNKNOWN;
    f->reason = maybe == MAYBE_IN ? SCOPE_BUILT_INSIDE : SCOPE_LABEL_STRADDLES;
}

/* The variant is not known: every listed one is tried, and -1 stands for one that is not listed. */
static void judge_any(const struct scope_rule *rule, int station, struct scope_finding *f)
{
    unsigned all = 0;
    int day_window = -1;
    for (int v = -1; v < (int)rule->n_variants; v++) {
        unsigned one = outcome(rule, station, v, f);
        all |= one;
        if ((one & MAYBE_IN) != 0 && day_window < 0)
            day_window = touching(rule, station, v, f->first_day, f->last_day);
    }
    f->variant = -1;
    f->window = day_window;
    if (all == MAYBE_IN) {
        f->verdict = SCOPE_IN;
        f->reason = SCOPE_BUILT_INSIDE;
    } else if (all == MAYBE_OUT) {
        place_outside(rule, station, true, f);
    } else {
        f->verdict = SCOPE_UNKNOWN;
        f->reason = SCOPE_VARIANT_MISSING;
    }
}

/* How well a listed code fits: 0 not at all, 1 + its fixed characters with a closing '*', more than
 * any of these when it fits exactly. `same` says which characters count as equal. */
static size_t fit_of(const char *listed, const char *code, bool (*same)(char, char))
{
    size_t k = 0;
    while (code[k] != '\0' && listed[k] != '\0' && listed[k] != '*' && same(code[k], listed[k]))
        k++;
    if (listed[k] == '*' && listed[k + 1] == '\0')
        return 1 + k;
    return code[k] == '\0' && listed[k] == '\0' ? SIZE_MAX : 0;
}

static int best_code(const struct scope_rule *rule, const char *code, bool (*same)(char, char))
{
    size_t best = 0;
    int variant = -1;
    for (size_t i = 0; i < rule->n_codes; i++) {
        size_t fit = fit_of(rule->codes[i].text, code, same);
        if (fit > best) {
            best = fit;
            variant = rule->codes[i].variant;
        }
    }
    return variant;
}

static bool is_equal(char a, char b)
{
    return a == b;
}

/* Pairs that get mistaken for one another on a worn label; the same ones as for VINs (vin.h), with
 * I, O and Q. */
static bool look_alike(char a, char b)
{
    static const char *const groups[] = {"0OQD", "1IL", "5S", "8B", "2Z", "6G"};
    if (a == b)
        return true;
    for (size_t i = 0; i < sizeof groups / sizeof groups[0]; i++)
        if (strchr(groups[i], a) != NULL && strchr(groups[i], b) != NULL)
            return true;
    return false;
}

static const char *label_variant(const struct scope_sight *sight)
{
    return sight->state == SCOPE_LABEL_READ ? sight->label.variant : "";
}

static const char *given_variant(const struct scope_sight *sight)
{
    return sight->given_variant != NULL ? sight->given_variant : "";
}

/* Sets variant; false when the finding is settled already (differs, misread). */
static bool settle_variant(const struct scope_rule *rule, const struct scope_sight *sight,
                           const char *code, struct scope_finding *f)
{
    const char *given = given_variant(sight);
    const char *read = label_variant(sight);
    bool has_both = given[0] != '\0' && read[0] != '\0';
    if (has_both && strcmp(given, read) != 0 &&
        (best_code(rule, given, is_equal) < 0 ||
         best_code(rule, given, is_equal) != best_code(rule, read, is_equal))) {
        f->reason = SCOPE_VARIANT_DIFFERS;
        return false;
    }
    f->variant = best_code(rule, code, is_equal);
    int alike = f->variant < 0 ? best_code(rule, code, look_alike) : -1;
    if (alike < 0)
        return true;
    f->variant = alike;
    f->reason = SCOPE_VARIANT_MISREAD;
    return false;
}

static void judge_station(const struct scope_rule *rule, int station,
                          const struct scope_sight *sight, struct scope_finding *f)
{
    *f = (struct scope_finding){.verdict = SCOPE_UNKNOWN, .window = -1, .variant = -1};
    if (sight->state == SCOPE_LABEL_READ) {
        f->has_days = true;
        f->first_day = sight->label.first_day;
        f->last_day = sight->label.last_day;
    }
    const char *read = label_variant(sight);
    const char *code = read[0] != '\0' ? read : given_variant(sight);
    if (code[0] != '\0' && !settle_variant(rule, sight, code, f))
        return;
    if (code[0] != '\0' && f->variant < 0) {
        /* A variant that is not listed and that no window for any variant covers is out, whatever
         * its date. */
        bool has_window = touching(rule, station, -1, INT32_MIN, INT32_MAX) >= 0;
        if (!has_window) {
            f->verdict = SCOPE_OUT;
            f->reason = SCOPE_VARIANT_CLEAR;
            return;
        }
    }
    if (!f->has_days) {
        f->reason =
            sight->state == SCOPE_LABEL_AMBIGUOUS ? SCOPE_LABEL_TWO_WAYS : SCOPE_LABEL_MISSING;
        return;
    }
    if (code[0] != '\0')
        judge_known(rule, station, f);
    else
        judge_any(rule, station, f);
}

static bool starts_with(const char *text, const char *prefix)
{
    while (*prefix != '\0' && *text == *prefix) {
        text++;
        prefix++;
    }
    return *prefix == '\0';
}

/* What the VIN says of every station; false when it leaves them to their labels. */
static bool judge_vin(const struct scope_rule *rule, const char *vin, size_t n_vin,
                      struct scope_answer *a, enum scope_verdict *ret_verdict,
                      enum scope_reason *ret_reason)
{
    bool is_given = vin != NULL && n_vin > 0;
    *ret_verdict = SCOPE_UNKNOWN;
    *ret_reason = SCOPE_VIN_MISSING;
    if (is_given) {
        vin_check(vin, n_vin, &a->vin);
        if (a->vin.fault != VIN_FAULT_NONE)
            a->n_repairs = vin_repair(vin, n_vin, NULL, 0, a->repairs);
    }
    if (rule->vin_rule == SCOPE_VIN_NONE && rule->n_prefixes == 0)
        return false;
    bool is_required = rule->vin_rule == SCOPE_VIN_REQUIRED || rule->n_prefixes > 0;
    if (!is_given)
        return is_required;
    *ret_reason = SCOPE_VIN_FAULTY;
    bool is_faulty = a->vin.fault != VIN_FAULT_NONE;
    /* Without a required check digit a mismatch says little; a VIN of another size or with I, O, Q
     * was misread. */
    bool is_mild = a->vin.fault == VIN_FAULT_CHECK && rule->vin_rule != SCOPE_VIN_REQUIRED;
    if (is_faulty && rule->vin_rule == SCOPE_VIN_ADVISORY)
        a->has_vin_warning = true;
    if (is_faulty && is_required && !is_mild)
        return true;
    if (rule->n_prefixes == 0)
        return false;
    for (size_t i = 0; i < rule->n_prefixes; i++)
        if (starts_with(a->vin.vin, rule->prefixes[i]))
            return false;
    *ret_verdict = SCOPE_OUT;
    *ret_reason = SCOPE_VIN_CLEAR;
    return true;
}

static enum scope_verdict join(const struct scope_finding *stations, size_t n)
{
    size_t n_in = 0, n_out = 0;
    for (size_t i = 0; i < n; i++) {
        n_in += stations[i].verdict == SCOPE_IN;
        n_out += stations[i].verdict == SCOPE_OUT;
    }
    if (n_in == n)
        return SCOPE_IN;
    if (n_out == n)
        return SCOPE_OUT;
    return n_in > 0 ? SCOPE_MIXED : SCOPE_UNKNOWN;
}

static enum err check_rule(const struct scope_rule *rule, size_t *reterr_at)
{
    *reterr_at = (size_t)-1;
    if (rule->n_stations == 0)
        return ERR_EMPTY;
    if (rule->n_stations > SCOPE_STATIONS_MAX || rule->n_variants > SCOPE_VARIANTS_MAX ||
        rule->n_codes > SCOPE_CODES_MAX || rule->n_windows > SCOPE_WINDOWS_MAX ||
        rule->n_prefixes > SCOPE_PREFIXES_MAX)
        return ERR_LIMIT;
    for (size_t i = 0; i < rule->n_codes; i++) {
        *reterr_at = i;
        if (rule->codes[i].variant < 0 || rule->codes[i].variant >= (int)rule->n_variants)
            return ERR_DOMAIN;
    }
    for (size_t i = 0; i < rule->n_windows; i++) {
        const struct scope_window *w = &rule->windows[i];
        *reterr_at = i;
        if (w->first_day > w->last_day)
            return ERR_ORDER;
        if (w->variant < -1 || w->variant >= (int)rule->n_variants || w->station < -1 ||
            w->station >= (int)rule->n_stations)
            return ERR_DOMAIN;
    }
    return ERR_OK;
}

enum err scope_judge(const struct scope_rule *rule, const char *vin, size_t n_vin,
                     const struct scope_sight *sights, struct scope_answer *ret, size_t *reterr_at)
{
    size_t at = 0;
    enum err e = check_rule(rule, &at);
    for (size_t i = 0; e == ERR_OK && i < rule->n_stations; i++) {
        at = i;
        if (sights[i].state == SCOPE_LABEL_READ &&
            sights[i].label.first_day > sights[i].label.last_day)
            e = ERR_ORDER;
    }
    if (e != ERR_OK) {
        *reterr_at = at;
        return e;
    }
    *ret = (struct scope_answer){.n_repairs = 0};
    enum scope_verdict verdict = SCOPE_UNKNOWN;
    enum scope_reason reason = SCOPE_VIN_MISSING;
    bool is_settled = judge_vin(rule, vin, n_vin, ret, &verdict, &reason);
    for (size_t i = 0; i < rule->n_stations; i++) {
        struct scope_finding *f = &ret->stations[i];
        judge_station(rule, (int)i, &sights[i], f);
        if (!is_settled)
            continue;
        f->verdict = verdict;
        f->reason = reason;
        f->window = -1;
    }
    ret->unit = join(ret->stations, rule->n_stations);
    return ERR_OK;
}

const char *scope_verdict_name(enum scope_verdict verdict)
{
    switch (verdict) {
    case SCOPE_OUT:
        return "out";
    case SCOPE_IN:
        return "in";
    case SCOPE_MIXED:
        return "mixed";
    default:
        return "unknown";
    }
}

const char *scope_reason_code(enum scope_reason reason)
{
    switch (reason) {
#define X(symbol, number, code)                                                                    \
    case symbol:                                                                                   \
        return code;
        SCOPE_REASON_TABLE(X)
#undef X
    }
    return "?";
}

static const char *variant_shown(const struct scope_rule *rule, const struct scope_sight *sight,
                                 const struct scope_finding *f)
{
    if (f->variant >= 0)
        return rule->variants[f->variant];
    const char *read = label_variant(sight);
    return read[0] != '\0' ? read : given_variant(sight);
}

static void put_built(struct fill *t, const struct scope_finding *f)
{
    fill_puts(t, f->first_day == f->last_day ? "built on " : "built in the days ");
    fill_days(t, f->first_day, f->last_day);
}

static void put_window(struct fill *t, const struct scope_rule *rule, const struct scope_finding *f)
{
    const struct scope_window *w = &rule->windows[f->window];
    fill_days(t, w->first_day, w->last_day);
    if (f->variant < 0)
        return;
    fill_puts(t, " of variant ");
    fill_puts(t, rule->variants[f->variant]);
}

static void put_vin_fault(struct fill *t, const struct vin_verdict *v)
{
    const char one[2] = {v->check_found, '\0'};
    const char due[2] = {v->check_expected, '\0'};
    if (v->is_filler) {
        fill_puts(t, "the VIN is a filler, one digit 17 times");
        return;
    }
    switch (v->fault) {
    case VIN_FAULT_LENGTH:
        fill_puts(t, "the VIN does not have 17 characters");
        return;
    case VIN_FAULT_CHARACTER:
        fill_puts(t, "the VIN holds a character that no VIN may hold (such as I, O or Q)");
        return;
    case VIN_FAULT_CHECK:
        fill_puts(t, "the VIN does not check: its 9th character is ");
        fill_puts(t, one);
        fill_puts(t, " and should be ");
        fill_puts(t, due);
        return;
    case VIN_FAULT_NONE:
        break;
    }
    fill_puts(t, "the VIN checks");
}

static void put_outside(struct fill *t, const struct scope_rule *rule,
                        const struct scope_finding *f)
{
    put_built(t, f);
    fill_puts(t, f->reason == SCOPE_BUILT_BEFORE  ? ", before"
                 : f->reason == SCOPE_BUILT_AFTER ? ", after"
                                                  : ", between");
    if (f->window < 0) {
        fill_puts(t, " every build window");
        return;
    }
    fill_puts(t, f->reason == SCOPE_BUILT_BETWEEN ? " the build windows, the nearest being "
                                                  : " the build window ");
    put_window(t, rule, f);
}

/* The variant's name when the code is listed, else the code. */
static const char *code_shown(const struct scope_rule *rule, const char *code)
{
    int variant = best_code(rule, code, is_equal);
    return variant >= 0 ? rule->variants[variant] : code;
}

static void put_variant_reason(struct fill *t, const struct scope_rule *rule,
                               const struct scope_sight *sight, const struct scope_finding *f)
{
    if (f->reason == SCOPE_VARIANT_MISSING) {
        fill_puts(t, "the variant is not known, and for these days it decides");
        return;
    }
    if (f->reason == SCOPE_VARIANT_DIFFERS) {
        fill_puts(t, "the label says variant ");
        fill_puts(t, code_shown(rule, label_variant(sight)));
        fill_puts(t, " but ");
        fill_puts(t, code_shown(rule, given_variant(sight)));
        fill_puts(t, " was given");
        return;
    }
    fill_puts(t, "variant ");
    const char *read = label_variant(sight);
    if (f->reason == SCOPE_VARIANT_MISREAD) {
        fill_puts(t, read[0] != '\0' ? read : given_variant(sight));
        fill_puts(t, " is not listed, but could be ");
        fill_puts(t, rule->variants[f->variant]);
        fill_puts(t, " misread");
        return;
    }
    fill_puts(t, variant_shown(rule, sight, f));
    fill_puts(t, f->variant >= 0 ? " has no build window here"
                                 : " is not one of this bulletin's variants");
}

size_t scope_reason_text(const struct scope_rule *rule, const struct scope_sight *sight,
                         const struct scope_answer *answer, const struct scope_finding *f,
                         char *buf, size_t room)
{
    struct fill t;
    fill_start(&t, buf, room);
    switch (f->reason) {
    case SCOPE_BUILT_INSIDE:
        put_built(&t, f);
        fill_puts(&t, ", inside the build window ");
        put_window(&t, rule, f);
        break;
    case SCOPE_BUILT_BEFORE:
    case SCOPE_BUILT_AFTER:
    case SCOPE_BUILT_BETWEEN:
        put_outside(&t, rule, f);
        break;
    case SCOPE_VARIANT_CLEAR:
    case SCOPE_VARIANT_MISSING:
    case SCOPE_VARIANT_DIFFERS:
    case SCOPE_VARIANT_MISREAD:
        put_variant_reason(&t, rule, sight, f);
        break;
    case SCOPE_VIN_CLEAR:
        fill_puts(&t, "the VIN does not begin as the affected ones do");
        break;
    case SCOPE_LABEL_MISSING:
        fill_puts(&t, "the label has not been read");
        break;
    case SCOPE_LABEL_TWO_WAYS:
        fill_puts(&t, "the label can be read as more than one date");
        break;
    case SCOPE_LABEL_STRADDLES:
        put_built(&t, f);
        fill_puts(&t, ", which lie only partly inside the build window ");
        put_window(&t, rule, f);
        break;
    case SCOPE_VIN_MISSING:
        fill_puts(&t, "no VIN was given, and this bulletin asks for it");
        break;
    case SCOPE_VIN_FAULTY:
        put_vin_fault(&t, &answer->vin);
        break;
    }
    return t.size;
}

static void put_vin_settle(struct fill *t, const struct scope_answer *answer)
{
    fill_puts(t, "read the VIN again from the plate");
    if (answer->n_repairs == 0)
        return;
    fill_puts(t, answer->n_repairs == 1 ? "; it may be " : "; the likeliest is ");
    fill_puts(t, answer->repairs[0].vin);
    fill_puts(t, ", but only the plate can say so");
}

size_t scope_settle_text(const struct scope_rule *rule, const struct scope_sight *sight,
                         const struct scope_answer *answer, const struct scope_finding *f,
                         char *buf, size_t room)
{
    struct fill t;
    fill_start(&t, buf, room);
    switch (f->reason) {
    case SCOPE_LABEL_MISSING:
        fill_puts(
            &t, "read the station's label; if it cannot be read, ask the maker with a photo of it");
        break;
    case SCOPE_LABEL_TWO_WAYS:
        fill_puts(
            &t,
            "find out which date is meant: compare the other station's label, or ask the maker");
        break;
    case SCOPE_LABEL_STRADDLES:
        fill_puts(&t, "ask the maker for the day it was built, or whether the whole span counts");
        break;
    case SCOPE_VARIANT_MISSING:
        fill_puts(&t, "tell the variant (it stands on the label or the part)");
        break;
    case SCOPE_VARIANT_DIFFERS:
        fill_puts(&t, "look at the part: one of the two is wrong, or parts were swapped");
        break;
    case SCOPE_VARIANT_MISREAD:
        fill_puts(&t, "read the label again; it may say ");
        fill_puts(&t, variant_shown(rule, sight, f));
        break;
    case SCOPE_VIN_MISSING:
        fill_puts(&t, "read the VIN from the plate");
        break;
    case SCOPE_VIN_FAULTY:
        put_vin_settle(&t, answer);
        break;
    default:
        break;
    }
    return t.size;
}
