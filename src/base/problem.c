/* problem: owns the shape of a truing problem file, and what is said when one is not right.
 *
 * Every reader below sets the path first, so that whatever fails names its place. */
#include "base/problem.h"

#include "base/json.h"
#include "base/suggest.h"
#include "base/text.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

struct reader {
    struct problem *p;
    struct fault *f;
};

PRINTF_LIKE(2, 3) static void at(struct reader *r, const char *fmt, ...)
{
    va_list ap;
    va_start(ap, fmt);
    vsnprintf(r->f->path, sizeof r->f->path, fmt, ap);
    va_end(ap);
    r->f->path[text_clean(r->f->path, strlen(r->f->path), false)] = '\0';
}

/* ---- what follows from the parts
 * --------------------------------------------------------------------------------------------
 */

struct problem *problem_new(void)
{
    struct problem *p = calloc(1, sizeof *p);
    if (!p)
        return NULL;
    p->truing.points = p->points;
    p->truing.adjusters = p->adjusters;
    p->truing.effect = p->effect;
    p->truing.n_plans = PROBLEM_PLANS;
    return p;
}

void problem_level(struct problem *problem, size_t i, const char *factor, int level)
{
    size_t f = 0;
    problem->n_levels[i]++;
    if (i == 0 && problem->n_factors < MODES_FACTORS_MAX)
        snprintf(problem->factor[problem->n_factors++], PROBLEM_ID_MAX + 1, "%s", factor);
    while (f < problem->n_factors && strcmp(problem->factor[f], factor) != 0)
        f++;
    if (f == problem->n_factors)
        problem->has_other_factors = true;
    else
        problem->modes[i].level[f] = level;
}

/* Effects, or the reason why there are none. */
static void find_effects(struct problem *p)
{
    bool is_same = !p->has_other_factors;
    for (size_t i = 0; i < p->truing.n_points; i++) {
        is_same = is_same && p->n_levels[i] == p->n_factors;
        p->modes[i].deviation = p->points[i].reading - p->points[i].nominal;
        p->modes[i].u = p->points[i].u;
    }
    p->effects_note = NULL;
    if (!is_same)
        p->effects_note = "not every point names the same factors";
    else if (p->n_factors == 0)
        p->effects_note = "no point names its factors";
    else if (modes_effects(p->modes, p->truing.n_points, p->n_factors, p->effects) != ERR_OK)
        p->effects_note =
            "the points are not every combination of the factors' levels exactly once";
    else
        p->n_effects = p->truing.n_points;
    if (!is_same)
        p->n_factors = 0;
}

/* Whatever the steps, no predicted reading may pass TRUING_AMOUNT_MAX: the solver's sums rely on
 * it. */
static enum err check_reach(struct reader *r)
{
    const struct problem *p = r->p;
    for (size_t i = 0; i < p->truing.n_points; i++) {
        double reach = 0.0;
        for (size_t a = 0; a < p->truing.n_adjusters; a++) {
            const int32_t low = -p->adjusters[a].min, high = p->adjusters[a].max;
            const double effect = (double)p->effect[a * p->truing.n_points + i];
            reach += (effect < 0.0 ? -effect : effect) * (low > high ? low : high);
        }
        at(r, "points[%zu]", i);
        if (reach > (double)TRUING_AMOUNT_MAX * 0.999999) /* doubles: stay clear of the bound */
            return fault_set(
                r->f, ERR_RANGE,
                "the adjusters together could move \"%s\" by %.6g %s; expected less than %.6g",
                p->point_id[i], reach / (double)quantity_unit_nano(p->unit),
                quantity_unit_name(p->unit), quantity_to_double(TRUING_AMOUNT_MAX, p->unit));
    }
    return ERR_OK;
}

/* Guard bands of finite size: the limits with them must still be whole nano. */
static enum err check_guards(struct reader *r)
{
    const struct truing_problem *t = &r->p->truing;
    for (size_t i = 0; t->has_guard && i < t->n_points; i++) {
        int64_t guard = 0;
        at(r, "points[%zu].u", i);
        if (conform_guard(t->points[i].u, t->risk, &guard) != ERR_OK || guard > TRUING_AMOUNT_MAX)
            return fault_set(r->f, ERR_RANGE,
                             "the guard band for this risk is too large; expected a smaller "
                             "uncertainty or a larger risk");
    }
    return ERR_OK;
}

enum err problem_finish(struct problem *problem, struct fault *reterr)
{
    struct reader r = {problem, reterr};
    find_effects(problem);
    const enum err e = check_reach(&r);
    return e == ERR_OK ? check_guards(&r) : e;
}

/* ---- members
 * ----------------------------------------------------------------------------------------------------
 */

/* Refuses members of object (at `where`) that are not known. */
static enum err only_known(struct reader *r, const char *where, json_node *object,
                           const char *const *known, size_t n_known)
{
    if (json_kind(object) != JSON_OBJECT) {
        at(r, "%s", where);
        return fault_set(r->f, ERR_TYPE, "found %s; expected an object {...}",
                         json_kind_name(json_kind(object)));
    }
    for (size_t i = 0; i < json_size(object); i++) {
        const char *key = NULL;
        (void)json_member(object, i, &key);
        bool is_known = false;
        for (size_t k = 0; k < n_known; k++)
            is_known = is_known || strcmp(key, known[k]) == 0;
        if (is_known)
            continue;
        at(r, "%s%s%s", where, *where ? "." : "", key);
        const char *near = suggest_nearest(key, strlen(key), known, n_known);
        if (near)
            return fault_set(r->f, ERR_UNKNOWN, "no such member; did you mean \"%s\"?", near);
        struct text list = {0};
        for (size_t k = 0; k < n_known; k++)
            text_printf(&list, "%s%s", k ? ", " : "", known[k]);
        const enum err e = fault_set(r->f, ERR_UNKNOWN, "no such member; expected one of %s",
                                     list.data ? list.data : "those documented");
        text_done(&list);
        return e;
    }
    return ERR_OK;
}

/* The member `key` of object; sets the path to it. NULL, with a fault, when missing. */
static json_node *need(struct reader *r, const char *where, json_node *object, const char *key)
{
    json_node *node = json_get(object, key);
    at(r, "%s%s%s", where, *where ? "." : "", key);
    if (!node)
        (void)fault_set(r->f, ERR_EMPTY, "missing; expected \"%s\" here", key);
    return node;
}

/* The same for one that may be missing, without a fault. */
static json_node *want(struct reader *r, const char *where, json_node *object, const char *key)
{
    at(r, "%s%s%s", where, *where ? "." : "", key);
    return json_get(object, key);
}

/* ---- values, at the path that is set
 * ---------------------------------------------------------------------------- */

static enum err read_amount(struct reader *r, json_node *node, int64_t *ret)
{
    int64_t nano = 0;
    const enum err e = json_quantity(node, r->p->unit, &nano, r->f);
    if (e != ERR_OK)
        return e;
    if (nano > TRUING_AMOUNT_MAX || nano < -TRUING_AMOUNT_MAX)
        return fault_set(r->f, ERR_RANGE, "found %.6g %s; expected at most %.6g either way",
                         quantity_to_double(nano, r->p->unit), quantity_unit_name(r->p->unit),
                         quantity_to_double(TRUING_AMOUNT_MAX, r->p->unit));
    *ret = nano;
    return ERR_OK;
}

/* A standard uncertainty keeps its fraction of a nano: it is a double all the way. */
static enum err read_u(struct reader *r, json_node *node, double *ret)
{
    double u = 0.0;
    const enum json_kind kind = json_kind(node);
    if (kind == JSON_INT || kind == JSON_REAL) {
        u = json_double(node) * (double)quantity_unit_nano(r->p->unit);
    } else {
        int64_t nano = 0;
        const enum err e = read_amount(r, node, &nano);
        if (e != ERR_OK)
            return e;
        u = (double)nano;
    }
    if (u < 0.0)
        return fault_set(r->f, ERR_DOMAIN,
                         "found a negative uncertainty; expected 0 (an exact reading) or more");
    if (!(u <= (double)TRUING_AMOUNT_MAX))
        return fault_set(r->f, ERR_RANGE, "found %.6g; expected an uncertainty of at most %.6g %s",
                         json_double(node), quantity_to_double(TRUING_AMOUNT_MAX, r->p->unit),
                         quantity_unit_name(r->p->unit));
    *ret = u;
    return ERR_OK;
}

static enum err read_whole(struct reader *r, json_node *node, int64_t low, int64_t high,
                           int64_t *ret)
{
    const enum json_kind kind = json_kind(node);
    if (kind != JSON_INT && kind != JSON_REAL)
        return fault_set(r->f, ERR_TYPE, "found %s; expected a whole number %lld..%lld",
                         json_kind_name(kind), (long long)low, (long long)high);
    /* The bounds are far below 2^53, so a double holds every number that passes. */
    const double value = json_double(node);
    if (!(value >= (double)low && value <= (double)high) || value != (double)(int64_t)value)
        return fault_set(r->f, ERR_DOMAIN, "found %.17g; expected a whole number %lld..%lld", value,
                         (long long)low, (long long)high);
    *ret = (int64_t)value;
    return ERR_OK;
}

/* Text of 1..max bytes without control characters into buf[max + 1]. */
static enum err read_text(struct reader *r, json_node *node, size_t max, char *buf)
{
    size_t n = 0;
    const char *s = json_string(node, &n);
    if (!s)
        return fault_set(r->f, ERR_TYPE, "found %s; expected text",
                         json_kind_name(json_kind(node)));
    if (n == 0)
        return fault_set(r->f, ERR_EMPTY, "found empty text; expected 1..%zu bytes", max);
    if (n > max)
        return fault_set(r->f, ERR_LIMIT, "found %zu bytes of text; expected at most %zu", n, max);
    for (size_t i = 0; i < n; i++)
        if ((unsigned char)s[i] < 0x20 || s[i] == 0x7F)
            return fault_set(r->f, ERR_ENCODING, "found a control character; expected plain text");
    memcpy(buf, s, n);
    buf[n] = '\0';
    return ERR_OK;
}

static enum err read_note(struct reader *r, const char *where, json_node *object)
{
    char note[PROBLEM_TEXT_MAX + 1];
    json_node *node = want(r, where, object, "note");
    return node ? read_text(r, node, PROBLEM_TEXT_MAX, note) : ERR_OK;
}

/* An id that is not among ids[0..n) yet, into ids[n]. */
static enum err read_id(struct reader *r, const char *where, json_node *object,
                        char (*ids)[PROBLEM_ID_MAX + 1], size_t n)
{
    json_node *node = need(r, where, object, "id");
    if (!node)
        return r->f->code;
    const enum err e = read_text(r, node, PROBLEM_ID_MAX, ids[n]);
    if (e != ERR_OK)
        return e;
    for (size_t i = 0; i < n; i++)
        if (strcmp(ids[i], ids[n]) == 0)
            return fault_set(r->f, ERR_DUPLICATE, "\"%s\" is given twice; expected ids that differ",
                             ids[n]);
    return ERR_OK;
}

/* ---- points
 * -----------------------------------------------------------------------------------------------------
 */

static enum err read_limits(struct reader *r, const char *where, json_node *object,
                            struct truing_point *point)
{
    point->low = INT64_MIN;
    point->high = INT64_MAX;
    json_node *low = want(r, where, object, "low");
    const bool has_low = low && json_kind(low) != JSON_NULL;
    enum err e = has_low ? read_amount(r, low, &point->low) : ERR_OK;
    if (e != ERR_OK)
        return e;
    json_node *high = want(r, where, object, "high");
    const bool has_high = high && json_kind(high) != JSON_NULL;
    e = has_high ? read_amount(r, high, &point->high) : ERR_OK;
    if (e != ERR_OK)
        return e;
    at(r, "%s", where);
    if (!has_low && !has_high)
        return fault_set(r->f, ERR_EMPTY, "has no limit; expected \"low\", \"high\" or both");
    if (point->low > point->high)
        return fault_set(r->f, ERR_ORDER, "low %.9g lies above high %.9g %s; expected low <= high",
                         quantity_to_double(point->low, r->p->unit),
                         quantity_to_double(point->high, r->p->unit),
                         quantity_unit_name(r->p->unit));
    if (has_low && has_high) /* the middle, rounded down */
        point->nominal = (point->low + point->high) / 2 - ((point->low + point->high) % 2 < 0);
    else
        point->nominal = has_low ? point->low : point->high;
    return ERR_OK;
}

static enum err read_factors(struct reader *r, const char *where, json_node *object, size_t point)
{
    json_node *factors = want(r, where, object, "factors");
    const size_t n = json_size(factors);
    if (!factors)
        return ERR_OK;
    if (json_kind(factors) != JSON_OBJECT)
        return fault_set(r->f, ERR_TYPE, "found %s; expected an object such as {\"side\": 1}",
                         json_kind_name(json_kind(factors)));
    if (n > MODES_FACTORS_MAX)
        return fault_set(r->f, ERR_LIMIT, "found %zu factors; expected at most %d", n,
                         MODES_FACTORS_MAX);
    for (size_t i = 0; i < n; i++) {
        const char *key = NULL;
        json_node *node = json_member(factors, i, &key);
        at(r, "%s.factors.%s", where, key);
        if (*key == '\0' || strlen(key) > PROBLEM_ID_MAX)
            return fault_set(r->f, ERR_LIMIT, "found a name of %zu bytes; expected 1..%d",
                             strlen(key), PROBLEM_ID_MAX);
        int64_t level = 0;
        enum err e = read_whole(r, node, -1, 1, &level);
        if (e == ERR_OK && level == 0)
            e = fault_set(r->f, ERR_DOMAIN, "found 0; expected -1 or 1");
        if (e != ERR_OK)
            return e;
        problem_level(r->p, point, key, (int)level);
    }
    return ERR_OK;
}

static enum err read_point(struct reader *r, json_node *object, size_t i)
{
    static const char *const known[] = {"id",      "nominal", "low",     "high",
                                        "reading", "u",       "factors", "note"};
    struct truing_point *point = &r->p->points[i];
    char where[32];
    snprintf(where, sizeof where, "points[%zu]", i);
    enum err e = only_known(r, where, object, known, COUNT(known));
    if (e == ERR_OK)
        e = read_id(r, where, object, r->p->point_id, i);
    if (e == ERR_OK)
        e = read_limits(r, where, object, point);
    if (e != ERR_OK)
        return e;
    json_node *nominal = want(r, where, object, "nominal");
    e = nominal ? read_amount(r, nominal, &point->nominal) : ERR_OK;
    if (e != ERR_OK)
        return e;
    json_node *reading = need(r, where, object, "reading");
    e = reading ? read_amount(r, reading, &point->reading) : r->f->code;
    if (e != ERR_OK)
        return e;
    json_node *u = want(r, where, object, "u");
    e = u ? read_u(r, u, &point->u) : ERR_OK;
    if (e == ERR_OK)
        e = read_note(r, where, object);
    return e == ERR_OK ? read_factors(r, where, object, i) : e;
}

static enum err read_points(struct reader *r, json_node *root)
{
    json_node *list = need(r, "", root, "points");
    if (!list)
        return r->f->code;
    if (json_kind(list) != JSON_ARRAY)
        return fault_set(r->f, ERR_TYPE, "found %s; expected a list [...] of points",
                         json_kind_name(json_kind(list)));
    const size_t n = json_size(list);
    if (n == 0)
        return fault_set(r->f, ERR_EMPTY, "found no points; expected at least one");
    if (n > TRUING_POINTS_MAX)
        return fault_set(r->f, ERR_LIMIT, "found %zu points; expected at most %d", n,
                         TRUING_POINTS_MAX);
    for (size_t i = 0; i < n; i++) {
        const enum err e = read_point(r, json_at(list, i), i);
        if (e != ERR_OK)
            return e;
    }
    r->p->truing.n_points = n;
    return ERR_OK;
}

/* ---- adjusters
 * --------------------------------------------------------------------------------------------------
 */

static enum err read_effect(struct reader *r, const char *where, json_node *object, size_t a)
{
    const size_t n_points = r->p->truing.n_points;
    json_node *effect = need(r, where, object, "effect");
    if (!effect)
        return r->f->code;
    if (json_kind(effect) != JSON_OBJECT)
        return fault_set(r->f, ERR_TYPE, "found %s; expected an object {\"point\": change}",
                         json_kind_name(json_kind(effect)));
    for (size_t i = 0; i < json_size(effect); i++) {
        const char *key = NULL;
        json_node *node = json_member(effect, i, &key);
        at(r, "%s.effect.%s", where, key);
        size_t p = 0;
        while (p < n_points && strcmp(r->p->point_id[p], key) != 0)
            p++;
        if (p == n_points) {
            const char *known[TRUING_POINTS_MAX];
            for (size_t k = 0; k < n_points; k++)
                known[k] = r->p->point_id[k];
            const char *near = suggest_nearest(key, strlen(key), known, n_points);
            return near ? fault_set(r->f, ERR_UNKNOWN, "no such point; did you mean \"%s\"?", near)
                        : fault_set(r->f, ERR_UNKNOWN, "no such point; expected the id of one");
        }
        const enum err e = read_amount(r, node, &r->p->effect[a * n_points + p]);
        if (e != ERR_OK)
            return e;
    }
    return ERR_OK;
}

static enum err read_steps(struct reader *r, const char *where, json_node *object,
                           struct truing_adjuster *adjuster)
{
    const struct {
        const char *key;
        int64_t low, high;
    } members[] = {{"min", -TRUING_STEPS_MAX, 0},
                   {"max", 0, TRUING_STEPS_MAX},
                   {"setup_s", 0, TRUING_SECONDS_MAX},
                   {"step_s", 0, TRUING_SECONDS_MAX}};
    int64_t value[COUNT(members)] = {0};
    for (size_t i = 0; i < COUNT(members); i++) {
        json_node *node = need(r, where, object, members[i].key);
        const enum err e =
            node ? read_whole(r, node, members[i].low, members[i].high, &value[i]) : r->f->code;
        if (e != ERR_OK)
            return e;
    }
    adjuster->min = (int32_t)value[0];
    adjuster->max = (int32_t)value[1];
    adjuster->setup_s = value[2];
    adjuster->step_s = value[3];
    return ERR_OK;
}

static enum err read_adjuster(struct reader *r, json_node *object, size_t a)
{
    static const char *const known[] = {"id",      "step",   "min",    "max",
                                        "setup_s", "step_s", "effect", "note"};
    char where[32];
    snprintf(where, sizeof where, "adjusters[%zu]", a);
    enum err e = only_known(r, where, object, known, COUNT(known));
    if (e == ERR_OK)
        e = read_id(r, where, object, r->p->adjuster_id, a);
    if (e == ERR_OK)
        e = read_steps(r, where, object, &r->p->adjusters[a]);
    if (e != ERR_OK)
        return e;
    json_node *step = want(r, where, object, "step");
    e = step ? read_amount(r, step, &r->p->step[a]) : ERR_OK;
    if (e == ERR_OK && step && r->p->step[a] <= 0)
        e = fault_set(r->f, ERR_DOMAIN, "found a step of 0 or less; expected the size of one step");
    if (e == ERR_OK)
        e = read_note(r, where, object);
    return e == ERR_OK ? read_effect(r, where, object, a) : e;
}

static enum err read_adjusters(struct reader *r, json_node *root)
{
    json_node *list = need(r, "", root, "adjusters");
    if (!list)
        return r->f->code;
    if (json_kind(list) != JSON_ARRAY)
        return fault_set(r->f, ERR_TYPE, "found %s; expected a list [...] of adjusters",
                         json_kind_name(json_kind(list)));
    const size_t n = json_size(list);
    if (n > TRUING_ADJUSTERS_MAX)
        return fault_set(r->f, ERR_LIMIT, "found %zu adjusters; expected at most %d", n,
                         TRUING_ADJUSTERS_MAX);
    for (size_t a = 0; a < n; a++) {
        const enum err e = read_adjuster(r, json_at(list, a), a);
        if (e != ERR_OK)
            return e;
    }
    r->p->truing.n_adjusters = n;
    return ERR_OK;
}

/* ---- the rest
 * ---------------------------------------------------------------------------------------------------
 */

static enum err read_unit(struct reader *r, json_node *root)
{
    char name[PROBLEM_ID_MAX + 1];
    json_node *node = need(r, "", root, "unit");
    const enum err e = node ? read_text(r, node, PROBLEM_ID_MAX, name) : r->f->code;
    if (e != ERR_OK)
        return e;
    r->p->unit = quantity_unit_find(name, strlen(name));
    if (r->p->unit != UNIT_N)
        return ERR_OK;
    struct text list = {0};
    for (int u = 0; u < UNIT_N; u++)
        text_printf(&list, "%s%s", u ? ", " : "", quantity_unit_name((enum unit)u));
    (void)fault_set(r->f, ERR_UNIT, "found \"%s\"; expected one of %s", name,
                    list.data ? list.data : "the known units");
    text_done(&list);
    return ERR_UNIT;
}

static enum err read_rule(struct reader *r, json_node *root)
{
    static const char *const known[] = {"guard", "risk"};
    json_node *rule = want(r, "", root, "rule");
    if (!rule)
        return ERR_OK;
    enum err e = only_known(r, "rule", rule, known, COUNT(known));
    if (e != ERR_OK)
        return e;
    char guard[PROBLEM_ID_MAX + 1];
    json_node *node = need(r, "rule", rule, "guard");
    e = node ? read_text(r, node, PROBLEM_ID_MAX, guard) : r->f->code;
    if (e != ERR_OK)
        return e;
    const bool is_risk = strcmp(guard, "risk") == 0;
    if (!is_risk && strcmp(guard, "none") != 0)
        return fault_set(r->f, ERR_UNKNOWN, "found \"%s\"; expected \"none\" or \"risk\"", guard);
    json_node *risk = is_risk ? need(r, "rule", rule, "risk") : want(r, "rule", rule, "risk");
    if (!risk)
        return is_risk ? r->f->code : ERR_OK;
    if (!is_risk)
        return fault_set(r->f, ERR_UNKNOWN,
                         "a risk without a guard; expected \"guard\": \"risk\" beside it");
    const double value = json_double(risk);
    if (json_kind(risk) != JSON_INT && json_kind(risk) != JSON_REAL)
        return fault_set(r->f, ERR_TYPE, "found %s; expected a number above 0 and up to 0.5",
                         json_kind_name(json_kind(risk)));
    if (!(value > 0.0 && value <= 0.5))
        return fault_set(r->f, ERR_DOMAIN, "found %g; expected a number above 0 and up to 0.5",
                         value);
    r->p->truing.has_guard = true;
    r->p->truing.risk = value;
    return ERR_OK;
}

static enum err read_root(struct reader *r, json_node *root)
{
    static const char *const known[] = {"unit",      "title", "note", "points",
                                        "adjusters", "rule",  "plans"};
    enum err e = only_known(r, "", root, known, COUNT(known));
    if (e == ERR_OK)
        e = read_unit(r, root);
    if (e == ERR_OK)
        e = read_note(r, "", root);
    json_node *title = e == ERR_OK ? want(r, "", root, "title") : NULL;
    if (title)
        e = read_text(r, title, PROBLEM_TEXT_MAX, r->p->title);
    if (e == ERR_OK)
        e = read_points(r, root);
    if (e == ERR_OK)
        e = read_adjusters(r, root);
    if (e == ERR_OK)
        e = read_rule(r, root);
    if (e != ERR_OK)
        return e;
    int64_t plans = PROBLEM_PLANS;
    json_node *node = want(r, "", root, "plans");
    e = node ? read_whole(r, node, 1, TRUING_PLANS_MAX, &plans) : ERR_OK;
    r->p->truing.n_plans = (size_t)plans;
    return e == ERR_OK ? problem_finish(r->p, r->f) : e;
}

enum err problem_read(const char *text, size_t n, const char *name, struct problem **ret,
                      struct fault *reterr)
{
    struct json_doc *doc = NULL;
    struct fault fault = {0};
    enum err e = json_parse(text, n, name, &doc, &fault);
    struct problem *p = e == ERR_OK ? problem_new() : NULL;
    if (p) {
        struct reader r = {p, &fault};
        snprintf(fault.file, sizeof fault.file, "%s", name);
        e = read_root(&r, json_root(doc));
    } else if (e == ERR_OK) {
        e = fault_set(&fault, ERR_MEMORY, "memory ran out while reading the problem");
    }
    json_free(doc);
    if (e == ERR_OK) {
        *ret = p;
        return ERR_OK;
    }
    free(p);
    *reterr = fault;
    return e;
}

void problem_free(struct problem *problem)
{
    free(problem);
}
