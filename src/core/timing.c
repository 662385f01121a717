/* timing: poses rack timing as a truing problem, solves it, and says what is left when whole teeth
 * cannot do it; see timing.h. Owns no data. Invariant: moves are only given when they bring every
 * difference inside its guarded limits. */
#include "core/timing.h"

#include <math.h>

static enum err check(const struct timing_problem *p, size_t *reterr_at)
{
    *reterr_at = (size_t)-1;
    if (p->n_racks < 2 || p->n_differences == 0)
        return ERR_EMPTY;
    if (p->n_racks > TIMING_RACKS_MAX || p->n_differences > TIMING_DIFFERENCES_MAX)
        return ERR_LIMIT;
    if (gear_pitch_nm(p->module_nm) <= 0)
        return ERR_DOMAIN;
    for (size_t i = 0; i < p->n_racks; i++) {
        const struct timing_rack *r = &p->racks[i];
        *reterr_at = i;
        if (r->min > 0 || r->max < 0 || r->min < -TIMING_TEETH_MAX || r->max > TIMING_TEETH_MAX)
            return ERR_DOMAIN;
        if (!(r->u_nm >= 0) || r->u_nm > (double)TRUING_AMOUNT_MAX)
            return ERR_DOMAIN;
        if (r->end_nm > TRUING_AMOUNT_MAX / 2 || r->end_nm < -TRUING_AMOUNT_MAX / 2)
            return ERR_RANGE;
    }
    for (size_t i = 0; i < p->n_differences; i++) {
        const struct timing_difference *d = &p->differences[i];
        *reterr_at = i;
        if (d->a >= p->n_racks || d->b >= p->n_racks || d->a == d->b)
            return ERR_DOMAIN;
        if (d->nominal_nm > TRUING_AMOUNT_MAX || d->nominal_nm < -TRUING_AMOUNT_MAX)
            return ERR_RANGE;
        if (d->low_nm > d->high_nm)
            return ERR_ORDER;
    }
    return ERR_OK;
}

enum err timing_pose(const struct timing_problem *p, struct truing_point *points,
                     struct truing_adjuster *adjusters, int64_t *effect, struct truing_problem *ret,
                     size_t *reterr_at)
{
    size_t at = 0;
    enum err e = check(p, &at);
    if (e != ERR_OK) {
        *reterr_at = at;
        return e;
    }
    int64_t pitch = gear_pitch_nm(p->module_nm);
    int64_t seconds = 0;
    for (size_t r = 0; r < p->n_racks; r++)
        seconds += p->racks[r].setup_s != 0 || p->racks[r].step_s != 0;
    for (size_t r = 0; r < p->n_racks; r++) {
        const struct timing_rack *rack = &p->racks[r];
        adjusters[r] = (struct truing_adjuster){
            .min = rack->min, .max = rack->max, .setup_s = rack->setup_s, .step_s = rack->step_s};
        if (seconds ==
            0) /* nothing costs time: then each tooth counts as one, for the fewest teeth */
            adjusters[r].step_s = 1;
    }
    for (size_t i = 0; i < p->n_differences; i++) {
        const struct timing_difference *d = &p->differences[i];
        const struct timing_rack *a = &p->racks[d->a], *b = &p->racks[d->b];
        points[i] = (struct truing_point){.nominal = d->nominal_nm,
                                          .low = d->low_nm,
                                          .high = d->high_nm,
                                          .reading = a->end_nm - b->end_nm,
                                          .u = sqrt(a->u_nm * a->u_nm + b->u_nm * b->u_nm)};
        for (size_t r = 0; r < p->n_racks; r++)
            effect[r * p->n_differences + i] = r == d->a ? pitch : r == d->b ? -pitch : 0;
    }
    *ret = (struct truing_problem){.n_points = p->n_differences,
                                   .n_adjusters = p->n_racks,
                                   .points = points,
                                   .adjusters = adjusters,
                                   .effect = effect,
                                   .has_guard = p->has_guard,
                                   .risk = p->risk,
                                   .n_plans = 1};
    return ERR_OK;
}

size_t timing_workspace(size_t n_racks, size_t n_differences)
{
    if (n_racks > TIMING_RACKS_MAX || n_differences > TIMING_DIFFERENCES_MAX)
        return 0;
    return truing_workspace(n_differences, n_racks);
}

/* The least k with k * by >= of, and the greatest with k * by <= of; by > 0. */
static int64_t ceil_div(int64_t of, int64_t by)
{
    return of / by + (of % by > 0);
}

static int64_t floor_div(int64_t of, int64_t by)
{
    return of / by - (of % by < 0);
}

/* Whether some number of teeth in least..greatest, added to the difference, brings it within the
 * limits. Open limits stand at the ends of int64, so they are capped before anything is subtracted.
 */
static bool jump_fits(int64_t difference, struct conform_limits l, int64_t pitch, int64_t least,
                      int64_t greatest)
{
    int64_t low = l.low < -TRUING_AMOUNT_MAX ? -TRUING_AMOUNT_MAX : l.low;
    int64_t high = l.high > TRUING_AMOUNT_MAX ? TRUING_AMOUNT_MAX : l.high;
    if (low > TRUING_AMOUNT_MAX || high < -TRUING_AMOUNT_MAX)
        return false;
    int64_t from = ceil_div(low - difference, pitch);
    int64_t to = floor_div(high - difference, pitch);
    return (from > least ? from : least) <= (to < greatest ? to : greatest);
}

static enum timing_meaning residue_meaning(double residue)
{
    if (fabs(residue) <= 0.125)
        return TIMING_SMALL_RESIDUE;
    return fabs(residue) >= 0.375 ? TIMING_HALF_PITCH : TIMING_ODD_RESIDUE;
}

/* What a difference outside its limits means when it is looked at alone. */
static enum timing_meaning meaning_alone(const struct timing_problem *p, size_t i, int64_t pitch,
                                         const struct truing_answer *t,
                                         const struct timing_finding *f)
{
    const struct timing_difference *d = &p->differences[i];
    struct conform_limits simple = {d->low_nm, d->high_nm};
    int64_t least = (int64_t)p->racks[d->a].min - p->racks[d->b].max;
    int64_t greatest = (int64_t)p->racks[d->a].max - p->racks[d->b].min;
    if (jump_fits(f->before_nm, t->guarded[i], pitch, least, greatest))
        return TIMING_JUMPED;
    if (jump_fits(f->before_nm, simple, pitch, least, greatest))
        return TIMING_TOO_COARSE;
    if (jump_fits(f->before_nm, simple, pitch, INT32_MIN, INT32_MAX))
        return TIMING_BEYOND_RANGE;
    return residue_meaning(f->residue);
}

static enum err measure(const struct timing_problem *p, const struct truing_point *point,
                        int64_t pitch, struct timing_finding *f)
{
    double teeth = 0;
    enum err e = gear_teeth_of_span(p->module_nm, point->reading - point->nominal, &teeth);
    if (e != ERR_OK)
        return e;
    double whole = floor(teeth + 0.5);
    if (fabs(whole) > (double)INT32_MAX)
        return ERR_RANGE;
    *f = (struct timing_finding){.before_nm = point->reading,
                                 .after_nm = point->reading,
                                 .u_nm = point->u,
                                 .teeth = (int32_t)whole,
                                 .residue = teeth - whole,
                                 .residue_u = point->u / (double)pitch};
    double near = 2 * f->residue_u > 0.05 ? 2 * f->residue_u : 0.05;
    f->is_whole = f->teeth != 0 && fabs(f->residue) <= near;
    return ERR_OK;
}

/* Each difference's own meaning; returns whether any of them cannot be brought in by teeth, even
 * alone. */
static bool explain(const struct timing_problem *p, const struct truing_answer *t,
                    struct timing_answer *a)
{
    bool is_any_alone_bad = false;
    for (size_t i = 0; i < p->n_differences; i++) {
        struct timing_finding *f = &a->differences[i];
        f->verdict = t->point[i];
        if (f->verdict == VERDICT_INSIDE)
            f->meaning = TIMING_IN_STEP;
        else if (f->verdict == VERDICT_UNCERTAIN)
            f->meaning = TIMING_UNCERTAIN;
        else
            f->meaning = meaning_alone(p, i, a->pitch_nm, t, f);
        is_any_alone_bad =
            is_any_alone_bad || (f->verdict == VERDICT_OUTSIDE && f->meaning != TIMING_JUMPED);
    }
    return is_any_alone_bad;
}

static void settle(const struct timing_problem *p, const struct truing_answer *t,
                   struct timing_answer *a)
{
    bool is_any_alone_bad = explain(p, t, a);
    if (t->verdict != VERDICT_OUTSIDE) {
        a->verdict = t->verdict == VERDICT_INSIDE ? TIMING_STEP : TIMING_PERSON;
        return;
    }
    if (t->n_plans > 0 && t->plans[0].worst_violation == 0) {
        a->verdict = TIMING_WORK;
        for (size_t r = 0; r < p->n_racks; r++)
            a->moves[r] = t->plans[0].steps[r];
        for (size_t i = 0; i < p->n_differences; i++)
            a->differences[i].after_nm = t->plans[0].predicted[i];
        return;
    }
    a->verdict = TIMING_CANNOT;
    bool is_only_coarse = true;
    for (size_t i = 0; i < p->n_differences; i++) {
        struct timing_finding *f = &a->differences[i];
        /* Each could be brought in alone, yet not all together: the readings contradict one
         * another. */
        if (f->meaning == TIMING_JUMPED && !is_any_alone_bad)
            f->meaning = TIMING_CONFLICT;
        is_only_coarse = is_only_coarse && f->meaning != TIMING_CONFLICT &&
                         (f->meaning <= TIMING_JUMPED || f->meaning == TIMING_TOO_COARSE);
    }
    if (is_only_coarse)
        a->verdict = TIMING_PERSON;
}

static size_t worst_of(const struct timing_problem *p, const struct timing_answer *a)
{
    size_t worst = 0;
    int64_t most = INT64_MIN;
    for (size_t i = 0; i < p->n_differences; i++) {
        const struct timing_difference *d = &p->differences[i];
        int64_t x = a->differences[i].before_nm;
        int64_t low = d->low_nm < -TRUING_AMOUNT_MAX ? -TRUING_AMOUNT_MAX : d->low_nm;
        int64_t high = d->high_nm > TRUING_AMOUNT_MAX ? TRUING_AMOUNT_MAX : d->high_nm;
        int64_t over = low - x > x - high ? low - x : x - high;
        if (over > most) {
            most = over;
            worst = i;
        }
    }
    return worst;
}

enum err timing_solve(const struct timing_problem *p, void *workspace, size_t size,
                      struct timing_answer *ret, size_t *reterr_at)
{
    struct truing_point points[TIMING_DIFFERENCES_MAX];
    struct truing_adjuster adjusters[TIMING_RACKS_MAX];
    int64_t effect[TIMING_RACKS_MAX * TIMING_DIFFERENCES_MAX];
    struct truing_problem posed;
    struct truing_answer solved;
    size_t at = (size_t)-1;
    enum err e = timing_pose(p, points, adjusters, effect, &posed, &at);
    if (e == ERR_OK)
        e = truing_solve(&posed, workspace, size, &solved, &at);
    struct timing_answer a = {.pitch_nm = gear_pitch_nm(p->module_nm)};
    for (size_t i = 0; e == ERR_OK && i < p->n_differences; i++) {
        at = i;
        e = measure(p, &points[i], a.pitch_nm, &a.differences[i]);
    }
    if (e != ERR_OK) {
        *reterr_at = at;
        return e;
    }
    settle(p, &solved, &a);
    a.worst = worst_of(p, &a);
    a.is_proved = solved.is_proved;
    a.nodes = solved.nodes;
    *ret = a;
    return ERR_OK;
}

const char *timing_verdict_name(enum timing_verdict verdict)
{
    switch (verdict) {
    case TIMING_STEP:
        return "in step";
    case TIMING_WORK:
        return "out of step";
    case TIMING_CANNOT:
        return "cannot";
    case TIMING_PERSON:
        break;
    }
    return "uncertain";
}

const char *timing_meaning_code(enum timing_meaning meaning)
{
    switch (meaning) {
#define X(symbol, number, code)                                                                    \
    case symbol:                                                                                   \
        return code;
        TIMING_MEANING_TABLE(X)
#undef X
    }
    return "?";
}

static void put_teeth(struct fill *t, int32_t teeth)
{
    int64_t n = teeth < 0 ? -(int64_t)teeth : teeth;
    fill_int(t, n);
    fill_puts(t, n == 1 ? " tooth" : " teeth");
}

static void put_standing(struct fill *t, const struct timing_finding *f, const char *a,
                         const char *b)
{
    fill_puts(t, a);
    fill_puts(t, " stands ");
    put_teeth(t, f->teeth);
    fill_puts(t, f->teeth < 0 ? " behind " : " ahead of ");
    fill_puts(t, b);
}

static void put_residue(struct fill *t, const struct timing_finding *f, int64_t pitch_nm,
                        enum unit show)
{
    fill_puts(t, "No whole jump brings it in: the nearest leaves ");
    fill_length(t, (int64_t)floor(fabs(f->residue) * (double)pitch_nm + 0.5), show);
    fill_puts(t, ", ");
    fill_hundredths(t, fabs(f->residue));
    fill_puts(t, " of a pitch. ");
}

size_t timing_meaning_text(const struct timing_finding *f, int64_t pitch_nm, const char *a,
                           const char *b, enum unit show, char *buf, size_t room)
{
    struct fill t;
    fill_start(&t, buf, room);
    switch (f->meaning) {
    case TIMING_IN_STEP:
        fill_puts(&t, "In step.");
        break;
    case TIMING_UNCERTAIN:
        fill_puts(&t, "Too near a limit to tell with this instrument. Measure again, better with a "
                      "finer one.");
        break;
    case TIMING_JUMPED:
        if (f->teeth != 0)
            put_standing(&t, f, a, b);
        else
            fill_puts(&t, "A jump of teeth brings it in");
        fill_puts(&t, f->is_whole
                          ? "; the difference is a whole number of pitches, as when racks jumped."
                          : ".");
        break;
    case TIMING_BEYOND_RANGE:
        put_standing(&t, f, a, b);
        fill_puts(&t, ", more than a rack may jump here. Measure both again from the same face; "
                      "then look for a "
                      "rack of another length.");
        break;
    case TIMING_SMALL_RESIDUE:
        put_residue(&t, f, pitch_nm, show);
        fill_puts(&t,
                  "So little is not a tooth. Measure again; then look for a wrong length, a wrong "
                  "relief, a burr or a bent rack.");
        break;
    case TIMING_ODD_RESIDUE:
        put_residue(&t, f, pitch_nm, show);
        fill_puts(&t, "Measure again; then compare the two lengths and reliefs, and look whether a "
                      "rack is bent "
                      "or a pinion has slipped on the shaft.");
        break;
    case TIMING_HALF_PITCH:
        put_residue(&t, f, pitch_nm, show);
        fill_puts(
            &t,
            "Half a pitch cannot come from teeth in mesh: look whether a pinion has turned on the "
            "shaft, a rack rides on the tips, or it was cut or relieved elsewhere in the tooth.");
        break;
    case TIMING_CONFLICT:
        fill_puts(&t, "Each difference could be brought in alone, but not all together: one end is "
                      "misread, or "
                      "the errors add up. Measure all ends again.");
        break;
    case TIMING_TOO_COARSE:
        fill_puts(&t, "A whole jump would bring it within the limits, but these readings are too "
                      "coarse to be "
                      "sure. Measure with a finer instrument before moving anything.");
        break;
    }
    return t.size;
}
