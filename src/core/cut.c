/* cut: mark, kerf, offcut and the place in the tooth for one piece; see cut.h for the geometry.
 * Owns no data. Lengths are whole nm and add up exactly; doubles only carry uncertainties and the
 * fraction of a pitch. */
#include "core/cut.h"

#include "core/conform.h"

#include <math.h>

bool cut_can(enum cut_status status)
{
    return status == CUT_NOT_NEEDED || status == CUT_DO;
}

static bool is_length(int64_t nm)
{
    return nm >= 0 && nm <= CUT_LENGTH_MAX;
}

static bool is_spread(double u)
{
    return u >= 0 && u <= (double)CUT_LENGTH_MAX;
}

static enum err check(const struct cut_piece *p, int64_t needed_nm, const struct cut_uncertainty *u)
{
    const int64_t lengths[] = {p->fit_nm,         p->stock_nm,    p->kerf_nm,
                               p->least_nm,       p->greatest_nm, p->offcut_max_nm,
                               p->first_tooth_nm, p->sliver_nm,   needed_nm};
    for (size_t i = 0; i < sizeof lengths / sizeof lengths[0]; i++)
        if (!is_length(lengths[i]))
            return lengths[i] < 0 ? ERR_DOMAIN : ERR_RANGE;
    if (p->stock_nm == 0 || needed_nm == 0 || (p->kerf_nm == 0 && !p->is_ready))
        return ERR_DOMAIN;
    if (!is_spread(u->tape_nm) || !is_spread(u->blade_nm) || !is_spread(u->stock_nm))
        return ERR_DOMAIN;
    if (p->module_nm < 0 || p->module_nm > GEAR_MODULE_MAX_NM)
        return ERR_DOMAIN;
    if (p->greatest_nm > 0 && p->least_nm > p->greatest_nm)
        return ERR_ORDER;
    return ERR_OK;
}

static double root_sum(double a, double b)
{
    return conform_combine((struct conform_u){.calibration_u = a, .repeat_u = b});
}

double cut_mark_u(const struct cut_uncertainty *u)
{
    return root_sum(root_sum(u->tape_nm, u->tape_nm), u->blade_nm);
}

enum err cut_tooth_fraction(int64_t length_nm, int64_t first_tooth_nm, int64_t module_nm,
                            double *ret_fraction)
{
    double teeth = 0;
    enum err e = gear_teeth_of_span(module_nm, length_nm - first_tooth_nm, &teeth);
    if (e != ERR_OK)
        return e;
    double fraction = teeth + 0.5 - floor(teeth + 0.5);
    *ret_fraction = fraction < 1 ? fraction : 0; /* a hair below a whole number can round up to 1 */
    return ERR_OK;
}

static int64_t ready_least(const struct cut_piece *p)
{
    return p->least_nm > 0 ? p->least_nm : p->stock_nm - p->fit_nm;
}

static int64_t ready_greatest(const struct cut_piece *p)
{
    return p->greatest_nm > 0 ? p->greatest_nm : p->stock_nm + p->fit_nm;
}

static enum cut_status status_ready(const struct cut_piece *p, int64_t needed_nm, double slack)
{
    int64_t least = ready_least(p), greatest = ready_greatest(p);
    bool is_fit = (double)(least - needed_nm) <= slack && (double)(needed_nm - greatest) <= slack;
    return is_fit ? CUT_NOT_NEEDED : CUT_READY_DIFFERS;
}

static enum cut_status status_of(const struct cut_piece *p, int64_t needed_nm,
                                 const struct cut_uncertainty *u)
{
    double slack = CUT_COVERAGE * root_sum(u->tape_nm, u->stock_nm);
    int64_t spare = p->stock_nm - needed_nm;
    if (p->is_ready)
        return status_ready(p, needed_nm, slack);
    if (fabs((double)spare) <= (double)p->fit_nm + slack)
        return CUT_NOT_NEEDED;
    if (spare < 0)
        return CUT_TOO_SHORT;
    if (p->relief == CUT_RELIEF_BOTH)
        return CUT_RELIEVED_BOTH;
    if (p->least_nm > 0 && needed_nm < p->least_nm)
        return CUT_BELOW_LEAST;
    if (p->greatest_nm > 0 && needed_nm > p->greatest_nm)
        return CUT_ABOVE_GREATEST;
    return spare < p->kerf_nm ? CUT_NO_WASTE_SIDE : CUT_DO;
}

/* Sets the fraction and the part tooth, and warns of a sliver. */
static enum err place_in_tooth(const struct cut_piece *p, struct cut_answer *a)
{
    if (p->module_nm == 0 || !p->has_first_tooth)
        return ERR_OK;
    enum err e =
        cut_tooth_fraction(a->needed_nm, p->first_tooth_nm, p->module_nm, &a->tooth_fraction);
    if (e != ERR_OK)
        return e;
    bool is_in_tooth = a->tooth_fraction > 0.25 && a->tooth_fraction < 0.75;
    double pitch_nm = 1e6 * gear_pitch_mm((double)p->module_nm / 1e6);
    a->part_tooth_nm = is_in_tooth ? (a->tooth_fraction - 0.25) * pitch_nm : 0;
    if (is_in_tooth && a->part_tooth_nm < (double)p->sliver_nm)
        a->warnings |= 1U << CUT_WARN_SLIVER;
    return ERR_OK;
}

enum err cut_plan(const struct cut_piece *p, int64_t needed_nm, const struct cut_uncertainty *u,
                  struct cut_answer *ret)
{
    enum err e = check(p, needed_nm, u);
    if (e != ERR_OK)
        return e;
    struct cut_answer a = {.status = status_of(p, needed_nm, u),
                           .needed_nm = needed_nm,
                           .stock_nm = p->stock_nm,
                           .mark_u_nm = cut_mark_u(u),
                           .tooth_fraction = -1,
                           .part_tooth_nm = -1};
    if (a.status == CUT_DO) {
        a.mark_nm = needed_nm + (p->blade == CUT_BLADE_CENTRE ? p->kerf_nm / 2 : 0);
        a.kerf_nm = p->kerf_nm;
        a.offcut_nm = p->stock_nm - needed_nm - p->kerf_nm;
        if (p->offcut_max_nm > 0 && a.offcut_nm > p->offcut_max_nm)
            a.warnings |= 1U << CUT_WARN_OFFCUT;
        e = place_in_tooth(p, &a);
    }
    double near = CUT_COVERAGE * a.mark_u_nm;
    if (a.status == CUT_DO && p->least_nm > 0 && (double)(needed_nm - p->least_nm) <= near)
        a.warnings |= 1U << CUT_WARN_NEAR_LEAST;
    if (a.status == CUT_DO && p->greatest_nm > 0 && (double)(p->greatest_nm - needed_nm) <= near)
        a.warnings |= 1U << CUT_WARN_NEAR_GREATEST;
    if (e == ERR_OK)
        *ret = a;
    return e;
}

bool cut_disagree(int64_t a_nm, double a_u, int64_t b_nm, double b_u, double factor)
{
    return fabs((double)(a_nm - b_nm)) > factor * root_sum(a_u, b_u);
}

bool cut_remeasure(const int64_t *lengths_nm, const int *group, size_t n, double tape_u_nm,
                   double factor, struct cut_pair *ret)
{
    bool is_found = false;
    for (size_t a = 0; a < n; a++) {
        for (size_t b = a + 1; b < n; b++) {
            int64_t apart = lengths_nm[a] - lengths_nm[b];
            apart = apart < 0 ? -apart : apart;
            if (group[a] < 0 || group[a] != group[b] || (is_found && apart <= ret->apart_nm) ||
                !cut_disagree(lengths_nm[a], tape_u_nm, lengths_nm[b], tape_u_nm, factor))
                continue;
            *ret = (struct cut_pair){a, b, apart, factor * root_sum(tape_u_nm, tape_u_nm)};
            is_found = true;
        }
    }
    return is_found;
}

const char *cut_status_code(enum cut_status status)
{
    switch (status) {
#define X(symbol, number, code)                                                                    \
    case symbol:                                                                                   \
        return code;
        CUT_STATUS_TABLE(X)
#undef X
    }
    return "?";
}

const char *cut_warning_code(enum cut_warning warning)
{
    switch (warning) {
#define X(symbol, number, code)                                                                    \
    case symbol:                                                                                   \
        return code;
        CUT_WARNING_TABLE(X)
#undef X
    case CUT_WARNINGS_N:
        break;
    }
    return "?";
}

static void put_limit(struct fill *t, const char *before, int64_t limit_nm, int64_t needed_nm,
                      enum unit show)
{
    fill_puts(t, before);
    fill_length(t, limit_nm, show);
    fill_puts(t, ", and ");
    fill_length(t, needed_nm, show);
    fill_puts(t, " is needed");
}

static void put_ready(struct fill *t, const struct cut_piece *p, int64_t needed_nm, enum unit show)
{
    int64_t least = ready_least(p), greatest = ready_greatest(p);
    if (least == greatest) {
        put_limit(t, "ready-made at ", least, needed_nm, show);
    } else {
        fill_puts(t, "ready-made for ");
        fill_length(t, least, show);
        put_limit(t, " to ", greatest, needed_nm, show);
    }
    fill_puts(t, "; a ready-made piece is never cut");
}

size_t cut_status_text(const struct cut_piece *p, const struct cut_answer *a, enum unit show,
                       char *buf, size_t room)
{
    struct fill t;
    fill_start(&t, buf, room);
    switch (a->status) {
    case CUT_NOT_NEEDED:
        fill_puts(&t, "fits as it is, nothing is cut");
        break;
    case CUT_DO:
        fill_puts(&t, "mark at ");
        fill_length(&t, a->mark_nm, show);
        fill_puts(&t, p->blade == CUT_BLADE_CENTRE ? " from the kept end, blade centred on the line"
                                                   : " from the kept end, blade on the waste side");
        break;
    case CUT_TOO_SHORT:
        put_limit(&t, "too short: the piece is ", a->stock_nm, a->needed_nm, show);
        break;
    case CUT_NO_WASTE_SIDE:
        fill_puts(&t, "only ");
        fill_length(&t, a->stock_nm - a->needed_nm, show);
        fill_puts(&t, " would go, less than the blade takes (");
        fill_length(&t, p->kerf_nm, show);
        fill_puts(&t, "): the blade has no waste side to stand on");
        break;
    case CUT_READY_DIFFERS:
        put_ready(&t, p, a->needed_nm, show);
        break;
    case CUT_RELIEVED_BOTH:
        put_limit(&t, "relieved at both ends, so it is not cut: it is ", a->stock_nm, a->needed_nm,
                  show);
        break;
    case CUT_BELOW_LEAST:
        put_limit(&t, "may not be cut below ", p->least_nm, a->needed_nm, show);
        break;
    case CUT_ABOVE_GREATEST:
        put_limit(&t, "serves no length above ", p->greatest_nm, a->needed_nm, show);
        break;
    }
    return t.size;
}

static void put_sliver(struct fill *t, const struct cut_piece *p, const struct cut_answer *a,
                       enum unit show)
{
    fill_puts(t, "the cut leaves ");
    fill_length(t, (int64_t)(a->part_tooth_nm + 0.5), show);
    fill_puts(t, " of a tooth on the kept piece at the pitch line, thinner than ");
    fill_length(t, p->sliver_nm, show);
    fill_puts(t, ": it can break off; dress it away down to the root");
}

size_t cut_warning_text(const struct cut_piece *p, const struct cut_answer *a,
                        enum cut_warning warning, enum unit show, char *buf, size_t room)
{
    struct fill t;
    fill_start(&t, buf, room);
    switch (warning) {
    case CUT_WARN_OFFCUT:
        fill_puts(&t, "the offcut of ");
        fill_length(&t, a->offcut_nm, show);
        fill_puts(&t, " is longer than the ");
        fill_length(&t, p->offcut_max_nm, show);
        fill_puts(&t, " expected: measure again, and look for a kit with a shorter rack");
        break;
    case CUT_WARN_SLIVER:
        put_sliver(&t, p, a, show);
        break;
    case CUT_WARN_NEAR_LEAST:
    case CUT_WARN_NEAR_GREATEST:
        fill_puts(&t, "the needed length lies within its uncertainty of the ");
        fill_puts(&t, warning == CUT_WARN_NEAR_LEAST ? "least this piece may be cut to, "
                                                     : "greatest this piece serves, ");
        fill_length(&t, warning == CUT_WARN_NEAR_LEAST ? p->least_nm : p->greatest_nm, show);
        fill_puts(&t, ": measure again before cutting");
        break;
    case CUT_WARNINGS_N:
        break;
    }
    return t.size;
}
