/* true_show: owns how a truing answer reads on a terminal. Nothing is decided here. */
#include "cli/true_show.h"

#include "cli/amount.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { STRIP_LEAST = 12, STRIP_MOST = 30, VERDICT_COLUMNS = 19, PLANS_ABREAST = 3 };

struct show {
    struct cli *ctx;
    const struct problem *p;
    const struct truing_answer *a;
    enum unit unit;
    size_t n_shown; /* plans worth showing: a further one that moves nothing is none */
    size_t shown[TRUING_PLANS_MAX];
};

static const char *duration(int64_t seconds, char *buf)
{
    if (seconds < 60)
        snprintf(buf, CLI_AMOUNT_SIZE, "%lld s", (long long)seconds);
    else if (seconds % 60 == 0 || seconds >= 600)
        snprintf(buf, CLI_AMOUNT_SIZE, "%lld min", (long long)((seconds + 30) / 60));
    else
        snprintf(buf, CLI_AMOUNT_SIZE, "%lld min %lld s", (long long)(seconds / 60),
                 (long long)(seconds % 60));
    return buf;
}

/* An estimate: two decimals, three of an inch, whatever the nano say. */
static const char *estimate(const struct show *s, int64_t nano, char *buf)
{
    (void)quantity_show(nano, s->unit, s->unit == UNIT_IN ? 3 : 2, buf, NULL);
    return buf;
}

static size_t count_verdicts(const struct show *s, enum verdict v)
{
    size_t n = 0;
    for (size_t i = 0; i < s->p->truing.n_points; i++)
        n += s->a->point[i] == v;
    return n;
}

static bool has_uncertainty(const struct show *s)
{
    for (size_t i = 0; i < s->p->truing.n_points; i++)
        if (s->p->points[i].u > 0.0)
            return true;
    return false;
}

/* Chance that all are inside, if their errors are independent. */
static double all_inside(const struct show *s, const double *p_conform)
{
    double p = 1.0;
    for (size_t i = 0; i < s->p->truing.n_points; i++)
        p *= p_conform[i];
    return p;
}

/* ---- verdict
 * ----------------------------------------------------------------------------------------------------
 */

const char *true_sureness(double p, char *buf)
{
    /* Rounded down, and never to certainty. */
    if (p >= 0.999)
        snprintf(buf, CLI_AMOUNT_SIZE, " (>99.9 %% sure)");
    else
        snprintf(buf, CLI_AMOUNT_SIZE, " (%.0f %% sure)", floor(100.0 * p));
    return buf;
}

/* Nothing where no reading has an uncertainty. */
static const char *sureness(const struct show *s, const double *p_conform, char *buf)
{
    *buf = '\0';
    return has_uncertainty(s) ? true_sureness(all_inside(s, p_conform), buf) : buf;
}

/* "Two of eight readings are outside", "one of eight readings is too near a limit to tell". */
static void state(const struct show *s, char *buf, size_t room)
{
    char n_buf[CLI_AMOUNT_SIZE], of_buf[CLI_AMOUNT_SIZE];
    const size_t n_points = s->p->truing.n_points, n_outside = count_verdicts(s, VERDICT_OUTSIDE);
    const size_t n = n_outside ? n_outside : count_verdicts(s, VERDICT_UNCERTAIN);
    const char *what = n_outside ? "outside" : "too near a limit to tell";
    snprintf(buf, room, "%s of %s reading%s %s %s", cli_count(n, n_buf),
             cli_count(n_points, of_buf), n_points == 1 ? "" : "s", n == 1 ? "is" : "are", what);
    if (*buf >= 'a' && *buf <= 'z')
        *buf = (char)(*buf - 'a' + 'A');
}

static void verdict(const struct show *s, const char *inside)
{
    char now[256], time[CLI_AMOUNT_SIZE], sure[CLI_AMOUNT_SIZE], left[CLI_AMOUNT_SIZE];
    const struct truing_plan *best = &s->a->plans[0];
    if (s->a->verdict == VERDICT_INSIDE) {
        cli_verdict(s->ctx, CLI_STRONG, "%s%s. Nothing to move.", inside,
                    sureness(s, s->a->p_conform, sure));
        return;
    }
    state(s, now, sizeof now);
    if (s->a->n_plans && best->worst_violation == 0) {
        cli_verdict(s->ctx, CLI_ACT, "%s; %s of work brings all inside%s.", now,
                    duration(best->cost_s, time), sureness(s, best->p_conform, sure));
        return;
    }
    cli_verdict(
        s->ctx, CLI_STOP,
        s->a->is_proved
            ? "%s, and no allowed move brings all inside: at best one stays %s outside%s."
            : "%s, and no move was found that brings all inside: the best leaves one %s outside%s.",
        now, cli_amount(best->worst_violation, s->unit, left),
        s->p->truing.has_guard ? " its guarded limits" : "");
}

/* ---- readings
 * ---------------------------------------------------------------------------------------------------
 */

static void limits_text(const struct show *s, const struct truing_point *point, char *buf,
                        size_t room)
{
    (void)cli_limits(point->low, point->high, s->unit, buf, room);
}

static void strip_text(const struct show *s, size_t i, int columns, char *buf, size_t room)
{
    const struct truing_point *point = &s->p->points[i];
    *buf = '\0';
    if (point->low == INT64_MIN || point->high == INT64_MAX)
        return;
    const struct cli_strip_values v = {
        .low = quantity_to_double(point->low, s->unit),
        .high = quantity_to_double(point->high, s->unit),
        .guard_low = quantity_to_double(s->a->guarded[i].low, s->unit),
        .guard_high = quantity_to_double(s->a->guarded[i].high, s->unit),
        .nominal = quantity_to_double(point->nominal, s->unit),
        .reading = quantity_to_double(point->reading, s->unit),
    };
    cli_strip_draw(buf, room, columns, &v);
}

static void reading_text(const struct show *s, size_t i, char *buf, size_t room)
{
    char reading[CLI_AMOUNT_SIZE], u[CLI_AMOUNT_SIZE];
    const struct truing_point *point = &s->p->points[i];
    cli_figure(point->reading, s->unit, reading);
    if (has_uncertainty(s))
        snprintf(buf, room, "%s %s %s", reading, cli_plus_minus(),
                 cli_spread(point->u, s->unit, u));
    else
        snprintf(buf, room, "%s", reading);
}

/* What a line leaves for the strip once the other columns have their room. */
static int strip_columns(const struct show *s)
{
    size_t id = 5, reading = 12, limits = 6;
    char text[3 * CLI_AMOUNT_SIZE];
    for (size_t i = 0; i < s->p->truing.n_points; i++) {
        size_t n = text_columns(s->p->point_id[i], strlen(s->p->point_id[i]));
        id = n > id ? n : id;
        reading_text(s, i, text, sizeof text);
        n = text_columns(text, strlen(text));
        reading = n > reading ? n : reading;
        limits_text(s, &s->p->points[i], text, sizeof text);
        n = text_columns(text, strlen(text));
        limits = n > limits ? n : limits;
    }
    const int left =
        s->ctx->columns - (int)(2 + id + 2 + reading + 2 + limits + 2 + 2 + VERDICT_COLUMNS);
    return left < STRIP_LEAST ? STRIP_LEAST : left > STRIP_MOST ? STRIP_MOST : left;
}

void true_verdict_cell(struct cli_table *t, enum verdict verdict, int64_t reading,
                       struct conform_limits limits, enum unit unit)
{
    char by[CLI_AMOUNT_SIZE];
    if (verdict == VERDICT_INSIDE) {
        cli_table_cell(t, CLI_PLAIN, "inside");
        return;
    }
    const enum cli_tone tone = verdict == VERDICT_OUTSIDE ? CLI_STOP : CLI_STRONG;
    const char *word = verdict == VERDICT_OUTSIDE ? "outside" : "uncertain";
    if (limits.high != INT64_MAX && reading > limits.high)
        cli_table_cell(t, tone, "%s, %s high", word, cli_figure(reading - limits.high, unit, by));
    else if (limits.low != INT64_MIN && reading < limits.low)
        cli_table_cell(t, tone, "%s, %s low", word, cli_figure(limits.low - reading, unit, by));
    else
        cli_table_cell(t, tone, "%s", word);
}

static void verdict_cell(const struct show *s, struct cli_table *t, size_t i)
{
    const struct truing_point *point = &s->p->points[i];
    true_verdict_cell(t, s->a->point[i], point->reading,
                      (struct conform_limits){point->low, point->high}, s->unit);
}

static void readings(const struct show *s)
{
    const bool is_sure = has_uncertainty(s);
    const int columns = strip_columns(s);
    struct cli_table *t = cli_table_new("l.lll");
    char head[64], reading[3 * CLI_AMOUNT_SIZE], limits[3 * CLI_AMOUNT_SIZE], strip[CLI_STRIP_MAX];
    snprintf(head, sizeof head, "%s%s%s", quantity_unit_name(s->unit), is_sure ? " " : "",
             is_sure ? (cli_is_utf8() ? "\xC2\xB1 u" : "+- u") : "");
    cli_table_head(t, (const char *const[]){"point", head, "limits", "", "verdict"});
    for (size_t i = 0; i < s->p->truing.n_points; i++) {
        reading_text(s, i, reading, sizeof reading);
        limits_text(s, &s->p->points[i], limits, sizeof limits);
        strip_text(s, i, columns, strip, sizeof strip);
        cli_table_cell(t, CLI_PLAIN, "%s", s->p->point_id[i]);
        cli_table_cell(t, CLI_PLAIN, "%s", reading);
        cli_table_cell(t, CLI_PLAIN, "%s", limits);
        cli_table_cell(t, CLI_PLAIN, "%s", strip);
        verdict_cell(s, t, i);
    }
    cli_table_print(t, s->ctx, 2);
    cli_table_free(t);
    if (!is_sure)
        cli_say(s->ctx, 2, "No uncertainty was given, so the readings count as exact.");
}

/* ---- what the deviations have in common
 * ------------------------------------------------------------------------- */

void true_effect_name(const struct problem *problem, unsigned set, char *buf, size_t room)
{
    size_t at = 0;
    if (set == 0) {
        snprintf(buf, room, "mean");
        return;
    }
    buf[0] = '\0';
    for (size_t i = 0; i < problem->n_factors; i++) {
        if (!(set >> i & 1u) || at >= room)
            continue;
        const int n = snprintf(buf + at, room - at, "%s%s", at ? " x " : "", problem->factor[i]);
        at += n > 0 ? (size_t)n : 0;
    }
}

static void patterns(const struct show *s)
{
    const char *names[MODES_FACTORS_MAX];
    bool is_any = false;
    for (size_t i = 0; i < s->p->n_factors; i++)
        names[i] = s->p->factor[i];
    for (size_t i = 0; i < s->p->n_effects; i++) {
        const struct modes_effect *e = &s->p->effects[i];
        if (!e->is_significant)
            continue;
        if (!is_any)
            cli_say(s->ctx, 0, "\nWhat the deviations from nominal have in common");
        is_any = true;
        char meaning[2 * PROBLEM_TEXT_MAX], value[CLI_AMOUNT_SIZE], u[CLI_AMOUNT_SIZE];
        modes_meaning(names, s->p->n_factors, e->set, meaning, sizeof meaning);
        cli_say(s->ctx, 2, "%s%s (u %s): %s", e->value > 0 ? "+" : "", estimate(s, e->value, value),
                cli_spread(e->u, s->unit, u), meaning);
    }
    if (s->p->n_effects && !is_any)
        cli_say(s->ctx, 0, "\nThe deviations have no pattern in common beyond their uncertainty.");
}

/* ---- plans
 * ------------------------------------------------------------------------------------------------------
 */

static int64_t move_seconds(const struct truing_adjuster *a, int32_t steps)
{
    return steps ? a->setup_s + a->step_s * (steps < 0 ? -steps : steps) : 0;
}

static void move_row(const struct show *s, struct cli_table *t, size_t a, int32_t steps)
{
    char size[CLI_AMOUNT_SIZE], total[CLI_AMOUNT_SIZE], time[CLI_AMOUNT_SIZE];
    const int count = steps < 0 ? -steps : steps;
    cli_table_cell(t, CLI_STRONG, "%s", s->p->adjuster_id[a]);
    cli_table_cell(t, CLI_PLAIN, "%s", steps > 0 ? "add" : "take away");
    if (s->p->step[a]) {
        cli_table_cell(t, CLI_PLAIN, "%d x %s", count, cli_amount(s->p->step[a], s->unit, size));
        cli_table_cell(t, CLI_PLAIN, "-> %s%s", steps > 0 ? "+" : "",
                       cli_amount(s->p->step[a] * steps, s->unit, total));
    } else {
        cli_table_cell(t, CLI_PLAIN, "%d step%s", count, count == 1 ? "" : "s");
        cli_table_cell(t, CLI_PLAIN, " ");
    }
    cli_table_cell(t, CLI_PLAIN, "%s", duration(move_seconds(&s->p->adjusters[a], steps), time));
}

/* "all inside with 0.8 mm to spare, 97.7 % sure" or "0.6 mm still outside". */
static void plan_result(const struct show *s, const struct truing_plan *plan, char *buf,
                        size_t room)
{
    char amount[CLI_AMOUNT_SIZE], sure[CLI_AMOUNT_SIZE];
    const char *limits = s->p->truing.has_guard ? " the guarded limits" : "";
    if (plan->worst_violation) {
        snprintf(buf, room, "%s still outside%s",
                 cli_amount(plan->worst_violation, s->unit, amount), limits);
        return;
    }
    const bool is_sure = has_uncertainty(s);
    snprintf(buf, room, "all inside%s, %s to spare%s%s%s", limits,
             cli_amount(plan->least_margin, s->unit, amount), is_sure ? ", " : "",
             is_sure ? cli_percent(all_inside(s, plan->p_conform), sure) : "",
             is_sure ? " sure" : "");
}

static bool is_moving(const struct show *s, const struct truing_plan *plan)
{
    for (size_t a = 0; a < s->p->truing.n_adjusters; a++)
        if (plan->steps[a])
            return true;
    return false;
}

static void choose_plans(struct show *s)
{
    s->n_shown = 0;
    for (size_t k = 0; k < s->a->n_plans; k++)
        if (k == 0 || is_moving(s, &s->a->plans[k]))
            s->shown[s->n_shown++] = k;
}

static void print_plan(const struct show *s, size_t number)
{
    const struct truing_plan *plan = &s->a->plans[s->shown[number]];
    char time[CLI_AMOUNT_SIZE], result[4 * CLI_AMOUNT_SIZE];
    plan_result(s, plan, result, sizeof result);
    if (!is_moving(s, plan)) {
        cli_say(s->ctx, 0, "\nPlan %zu, nothing moved: %s", number + 1, result);
        return;
    }
    cli_say(s->ctx, 0, "\nPlan %zu, %s: %s", number + 1, duration(plan->cost_s, time), result);
    struct cli_table *t = cli_table_new("llllr");
    for (size_t a = 0; a < s->p->truing.n_adjusters; a++)
        if (plan->steps[a])
            move_row(s, t, a, plan->steps[a]);
    cli_table_print(t, s->ctx, 2);
    cli_table_free(t);
}

/* Readings as they will be, plans first..first+n side by side. */
static void predictions(const struct show *s, size_t first, size_t n)
{
    static const char *const aligns[] = {"l.", "l..", "l...", "l...."};
    const bool is_sure = has_uncertainty(s);
    struct cli_table *t = cli_table_new(aligns[n]);
    const char *head[2 + PLANS_ABREAST] = {"point", "as read"};
    char plan_head[PLANS_ABREAST][32], value[CLI_AMOUNT_SIZE], sure[CLI_AMOUNT_SIZE];
    for (size_t k = 0; k < n; k++) {
        snprintf(plan_head[k], sizeof plan_head[k], "plan %zu", first + k + 1);
        head[2 + k] = plan_head[k];
    }
    cli_table_head(t, head);
    for (size_t i = 0; i < s->p->truing.n_points; i++) {
        cli_table_cell(t, CLI_PLAIN, "%s", s->p->point_id[i]);
        cli_table_cell(t, CLI_PLAIN, "%s", cli_figure(s->p->points[i].reading, s->unit, value));
        for (size_t k = first; k < first + n; k++) {
            const struct truing_plan *plan = &s->a->plans[s->shown[k]];
            cli_figure(plan->predicted[i], s->unit, value);
            if (is_sure)
                cli_table_cell(t, CLI_PLAIN, "%s (%s)", value,
                               cli_percent(plan->p_conform[i], sure));
            else
                cli_table_cell(t, CLI_PLAIN, "%s", value);
        }
    }
    cli_table_print(t, s->ctx, 2);
    cli_table_free(t);
}

static void plans(const struct show *s)
{
    for (size_t k = 0; k < s->n_shown; k++)
        print_plan(s, k);
    cli_say(s->ctx, 0, "\nReadings to expect, %s%s", quantity_unit_name(s->unit),
            has_uncertainty(s) ? " (chance of being inside)" : "");
    for (size_t k = 0; k < s->n_shown; k += PLANS_ABREAST)
        predictions(s, k, s->n_shown - k < PLANS_ABREAST ? s->n_shown - k : PLANS_ABREAST);
}

static void proof(const struct show *s)
{
    char bound[CLI_AMOUNT_SIZE];
    if (s->a->is_proved)
        cli_say(s->ctx, 0, "\nProved: no allowed combination of moves does better.");
    else if (s->a->plans[0].worst_violation > s->a->bound_violation)
        cli_say(s->ctx, 0,
                "\nNot proved best: the search reached its limit. No plan can leave less than %s "
                "outside.",
                cli_amount(s->a->bound_violation, s->unit, bound));
    else
        cli_say(s->ctx, 0,
                "\nNot proved best: the search reached its limit. No plan as good as the first can "
                "take less "
                "than %s.",
                duration(s->a->bound_cost_s, bound));
}

static void next_action(const struct show *s)
{
    if (s->a->plans[0].worst_violation == 0) {
        cli_say(s->ctx, 0,
                "Next: support what you loosen as its maker says, make the "
                "moves of plan 1, "
                "then read every point again. A plan is only as good as the effects in the file.");
        return;
    }
    cli_say(s->ctx, 0,
            "Next: read the worst point again, with a second person. If it stands, the adjusters "
            "cannot reach it: "
            "look for a wrong part or length, something bent or loose, an effect in the file that "
            "does not hold, "
            "or limits that contradict one another. Do not force it.");
}

void true_show_verdict(struct cli *ctx, const struct problem *problem,
                       const struct truing_answer *answer, enum unit unit, const char *inside)
{
    const struct show s = {.ctx = ctx, .p = problem, .a = answer, .unit = unit};
    verdict(&s, inside);
}

void true_show_readings(struct cli *ctx, const struct problem *problem,
                        const struct truing_answer *answer, enum unit unit)
{
    const struct show s = {.ctx = ctx, .p = problem, .a = answer, .unit = unit};
    text_putc(&ctx->out, '\n');
    readings(&s);
    patterns(&s);
}

void true_show_plans(struct cli *ctx, const struct problem *problem,
                     const struct truing_answer *answer, enum unit unit)
{
    struct show s = {.ctx = ctx, .p = problem, .a = answer, .unit = unit};
    if (answer->verdict == VERDICT_INSIDE || answer->n_plans == 0)
        return;
    choose_plans(&s);
    plans(&s);
    proof(&s);
    next_action(&s);
}
