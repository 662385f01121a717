/* true_rest: owns how the readings beside a truing problem are shown: those judged one by one, the
 * missing and the unread. Nothing is decided here. */
#include "cli/true_job.h"

#include "cli/amount.h"
#include "cli/job.h"
#include "cli/true_show.h"

#include <string.h>

size_t true_count(const struct true_job *job, enum adapt_part part)
{
    size_t n = 0;
    for (size_t i = 0; i < job->b->points.n; i++)
        n += job->truing.part[i] == part;
    return n;
}

static bool is_judged(const struct true_job *job, size_t i, enum verdict verdict)
{
    return job->truing.part[i] == ADAPT_JUDGED && job->truing.judged[i].guarded == verdict;
}

size_t true_count_judged(const struct true_job *job, enum verdict verdict)
{
    size_t n = 0;
    for (size_t i = 0; i < job->b->points.n; i++)
        n += is_judged(job, i, verdict);
    return n;
}

enum unit true_unit(const struct true_job *job, const struct bulletin_point *point)
{
    const enum unit shown = job->shown[point->nominal.dim];
    return shown == UNIT_N ? point->nominal.unit : shown;
}

/* "a, b, c": ids of one part; the caller text_done()s it. */
static void list_part(const struct true_job *job, enum adapt_part part, struct text *ret)
{
    for (size_t i = 0; i < job->b->points.n; i++)
        if (job->truing.part[i] == part)
            text_printf(ret, "%s%s", ret->size > 0 ? ", " : "", job->b->points.at[i].id);
}

static void list_judged(const struct true_job *job, enum verdict verdict, struct text *ret)
{
    for (size_t i = 0; i < job->b->points.n; i++)
        if (is_judged(job, i, verdict))
            text_printf(ret, "%s%s", ret->size > 0 ? ", " : "", job->b->points.at[i].id);
}

/* ---- first lines ---- */

/* "One of seven other readings is outside: supply-load." */
static void say_judged(struct cli *ctx, const struct true_job *job, enum verdict verdict,
                       const char *what)
{
    char n_text[CLI_AMOUNT_SIZE], of_text[CLI_AMOUNT_SIZE], first[CLI_AMOUNT_SIZE];
    const size_t n = true_count_judged(job, verdict), of = true_count(job, ADAPT_JUDGED);
    struct text ids = {0};
    if (n == 0)
        return;
    list_judged(job, verdict, &ids);
    snprintf(first, sizeof first, "%s", cli_count(n, n_text));
    if (*first >= 'a' && *first <= 'z')
        *first = (char)(*first - 'a' + 'A');
    const enum cli_tone tone = verdict == VERDICT_OUTSIDE ? CLI_STOP : CLI_QUIET;
    const char *list = ids.data != NULL ? ids.data : "",
               *other = job->truing.n_problems > 0 ? "other " : "";
    if (of == 1)
        cli_verdict(ctx, tone, "The %sreading is %s: %s.", other, what, list);
    else
        cli_verdict(ctx, tone, "%s of %s %sreadings %s %s: %s.", first, cli_count(of, of_text),
                    other, n == 1 ? "is" : "are", what, list);
    text_done(&ids);
}

static void say_inside(struct cli *ctx, const struct true_job *job)
{
    char count[CLI_AMOUNT_SIZE];
    const size_t n = true_count(job, ADAPT_JUDGED);
    if (n == 0 || true_count_judged(job, VERDICT_INSIDE) < n)
        return;
    const char *other = job->truing.n_problems > 0 ? "other " : "";
    if (n == 1)
        cli_verdict(ctx, CLI_STRONG, "The %sreading is inside.", other);
    else
        cli_verdict(ctx, CLI_STRONG, "The %s %sreadings are inside.", cli_count(n, count), other);
}

void true_rest_verdict(struct cli *ctx, const struct true_job *job)
{
    struct text ids = {0};
    say_judged(ctx, job, VERDICT_OUTSIDE, "outside");
    list_part(job, ADAPT_MISSING, &ids);
    if (ids.size > 0)
        cli_verdict(ctx, CLI_QUIET, "No plan without these readings: %s. None is guessed.",
                    ids.data != NULL ? ids.data : "");
    text_done(&ids);
    say_judged(ctx, job, VERDICT_UNCERTAIN, "too near a limit to tell");
    say_inside(ctx, job);
}

/* ---- the table ---- */

/* "12.6 +- 0.03 V", "5" */
static const char *reading_text(const struct true_job *job, size_t i, char *buf, size_t room)
{
    char figure[CLI_AMOUNT_SIZE], u[CLI_AMOUNT_SIZE];
    const struct adapt_reading *r = &job->readings[i];
    const enum unit unit = true_unit(job, &job->b->points.at[i]);
    const bool is_count = unit == UNIT_ONE;
    cli_figure(r->nano, unit, figure);
    if (r->u > 0.0)
        snprintf(buf, room, "%s %s %s%s%s", figure, cli_plus_minus(), cli_spread(r->u, unit, u),
                 is_count ? "" : " ", is_count ? "" : quantity_unit_name(unit));
    else
        snprintf(buf, room, "%s%s%s", figure, is_count ? "" : " ",
                 is_count ? "" : quantity_unit_name(unit));
    return buf;
}

static struct conform_limits limits_of(const struct bulletin_point *point)
{
    return (struct conform_limits){.low = point->low.is_given ? point->low.nano : INT64_MIN,
                                   .high = point->high.is_given ? point->high.nano : INT64_MAX};
}

static void show_table(struct cli *ctx, const struct true_job *job)
{
    static const char *const head[] = {"point", "reading", "limits", "chance", "verdict"};
    char reading[4 * CLI_AMOUNT_SIZE], limits[3 * CLI_AMOUNT_SIZE], chance[CLI_AMOUNT_SIZE];
    struct cli_table *t = cli_table_new("lllrl");
    cli_table_head(t, head);
    for (size_t i = 0; i < job->b->points.n; i++) {
        const struct bulletin_point *point = &job->b->points.at[i];
        const struct conform_limits l = limits_of(point);
        const enum unit unit = true_unit(job, point);
        if (job->truing.part[i] != ADAPT_JUDGED)
            continue;
        cli_table_cell(t, CLI_PLAIN, "%s", point->id);
        cli_table_cell(t, CLI_PLAIN, "%s", reading_text(job, i, reading, sizeof reading));
        cli_table_cell(t, CLI_PLAIN, "%s", cli_limits(l.low, l.high, unit, limits, sizeof limits));
        cli_table_cell(t, CLI_PLAIN, "%s",
                       job->readings[i].u > 0.0
                           ? cli_percent(job->truing.judged[i].p_conform, chance)
                           : "exact");
        true_verdict_cell(t, job->truing.judged[i].guarded, job->readings[i].nano, l, unit);
    }
    cli_table_print(t, ctx, 2);
    cli_table_free(t);
}

/* What the bulletin says for a reading that nothing can move. */
static void show_actions(struct cli *ctx, const struct true_job *job)
{
    for (size_t i = 0; i < job->b->points.n; i++) {
        const struct bulletin_point *point = &job->b->points.at[i];
        const char *otherwise = job_text(job->b, &point->otherwise);
        if (is_judged(job, i, VERDICT_UNCERTAIN))
            cli_verdict(ctx, CLI_ACT,
                        "%s: too near a limit for this uncertainty. Read it again, several times "
                        "or with a finer instrument.",
                        point->id);
        if (!is_judged(job, i, VERDICT_OUTSIDE))
            continue;
        if (*otherwise != '\0')
            cli_verdict(ctx, CLI_ACT, "%s: %s.", point->id, otherwise);
        else if (adapt_is_reached(job->b, point))
            cli_verdict(ctx, CLI_ACT, "%s: take the missing readings; then a plan can be made.",
                        point->id);
        else
            cli_verdict(ctx, CLI_ACT,
                        "%s: read it again. If it stands, ask the maker: the bulletin does not say "
                        "what to do.",
                        point->id);
    }
}

void true_rest_show(struct cli *ctx, const struct true_job *job)
{
    struct text unread = {0};
    if (true_count(job, ADAPT_JUDGED) > 0) {
        if (job->truing.n_problems > 0)
            cli_say(ctx, 0, "\nOther readings, each judged by itself");
        else
            text_putc(&ctx->out, '\n');
        show_table(ctx, job);
        if (true_count_judged(job, VERDICT_INSIDE) < true_count(job, ADAPT_JUDGED))
            text_putc(&ctx->out, '\n');
        show_actions(ctx, job);
    }
    list_part(job, ADAPT_UNREAD, &unread);
    if (unread.size > 0)
        cli_say(ctx, 0, "\nNot read: %s.", unread.data != NULL ? unread.data : "");
    text_done(&unread);
}

/* ---- JSON ---- */

static void json_limit(struct jsonw *w, const char *stem, const struct bulletin_amount *limit,
                       enum unit unit)
{
    if (limit->is_given)
        jsonw_nano(w, stem, limit->nano, unit);
}

static void json_judged(struct jsonw *w, const struct true_job *job, size_t i)
{
    const struct bulletin_point *point = &job->b->points.at[i];
    const struct adapt_reading *reading = &job->readings[i];
    const struct conform_answer *a = &job->truing.judged[i];
    const enum unit unit = point->nominal.unit;
    const bool is_length = point->nominal.dim == DIM_LENGTH;
    jsonw_object(w, NULL);
    jsonw_string(w, "id", point->id);
    jsonw_string(w, "verdict", conform_verdict_name(a->guarded));
    jsonw_double(w, "p_conform", a->p_conform);
    jsonw_double(w, "value", quantity_to_double(reading->nano, unit));
    jsonw_string(w, "unit", quantity_unit_name(unit));
    if (is_length)
        jsonw_int(w, "value_nm", reading->nano);
    jsonw_double(w, is_length ? "u_nm" : "u",
                 is_length ? reading->u : reading->u / (double)quantity_unit_nano(unit));
    json_limit(w, "low", &point->low, unit);
    json_limit(w, "high", &point->high, unit);
    jsonw_nano(w, "margin", a->margin, unit);
    if (a->guarded == VERDICT_OUTSIDE && point->otherwise.n > 0)
        jsonw_string(w, "otherwise", job_text(job->b, &point->otherwise));
    jsonw_object_end(w);
}

static void json_ids(struct jsonw *w, const char *key, const struct true_job *job,
                     enum adapt_part part)
{
    jsonw_array(w, key);
    for (size_t i = 0; i < job->b->points.n; i++)
        if (job->truing.part[i] == part)
            jsonw_string(w, NULL, job->b->points.at[i].id);
    jsonw_array_end(w);
}

void true_rest_json(struct jsonw *w, const struct true_job *job)
{
    jsonw_array(w, "judged");
    for (size_t i = 0; i < job->b->points.n; i++)
        if (job->truing.part[i] == ADAPT_JUDGED)
            json_judged(w, job, i);
    jsonw_array_end(w);
    json_ids(w, "missing", job, ADAPT_MISSING);
    json_ids(w, "unread", job, ADAPT_UNREAD);
}
