/* verb_time: are the racks of a station in step, and if not, which one jumps how many teeth? */
#include "bulletin/adapt.h"
#include "cli/amount.h"
#include "cli/draw.h"
#include "cli/job.h"
#include "cli/verbs.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* One call: what was asked and what came out. */
struct time_job {
    const struct bulletin *b;
    const char *station;
    struct adapt_timing timing;
    bool has_end[TIMING_RACKS_MAX];
    enum unit bare, show; /* of a number without a unit: the bulletin's; of what is shown */
    struct timing_answer answer;
};

/* ---- the call ---- */

static bool take_rack(const struct cli *ctx, struct time_job *job, const struct cli_arg *arg)
{
    char id[JOB_ID_MAX];
    const char *text = NULL;
    size_t i = 0, n = job->timing.problem.n_racks;
    if (!job_split(ctx, arg, "ID=LENGTH, such as inboard=41.25", id, &text))
        return false;
    while (i < n && strcmp(job->timing.ids[i], id) != 0)
        i++;
    if (i == n) {
        cli_error_near(ctx, "rack", id, job->timing.ids, n,
                       "the bulletin's timing section names others");
        return false;
    }
    if (job->has_end[i]) {
        cli_error(ctx, "--rack is given twice for %s", id);
        return false;
    }
    job->has_end[i] = true;
    return job_length(ctx, "--rack", text, job->bare, true, &job->timing.racks[i].end_nm);
}

static bool take_args(const struct cli *ctx, struct time_job *job, const struct cli_arg *args,
                      int n)
{
    const char *station = cli_value(args, n, "--station");
    if (station == NULL) {
        cli_error(ctx, "found no --station; expected the station that is timed");
        return false;
    }
    int index = job_station(ctx, job->b, station);
    if (index < 0)
        return false;
    job->station = job->b->scope.stations.at[index].id;
    if (!adapt_timing_station(job->b, job->station, &job->timing)) {
        cli_error(ctx, "the bulletin times no racks at station %s", job->station);
        return false;
    }
    enum unit written = job->b->timing.limit.unit;
    if (!job_units(ctx, args, n, "--rack", written, &job->bare, &job->show))
        return false;
    for (int i = 0; i < n; i++)
        if (args[i].name != NULL && strcmp(args[i].name, "--rack") == 0 &&
            !take_rack(ctx, job, &args[i]))
            return false;
    for (size_t i = 0; i < job->timing.problem.n_racks; i++) {
        if (!job->has_end[i]) {
            cli_error(ctx,
                      "found no --rack %s=LENGTH; expected the end of every rack of station %s",
                      job->timing.ids[i], job->station);
            return false;
        }
    }
    return true;
}

static enum err solve(struct time_job *job)
{
    size_t at = 0;
    size_t size = timing_workspace(job->timing.problem.n_racks, job->timing.problem.n_differences);
    void *workspace = malloc(size > 0 ? size : 1);
    if (workspace == NULL)
        return ERR_MEMORY;
    enum err e = timing_solve(&job->timing.problem, workspace, size, &job->answer, &at);
    free(workspace);
    return e;
}

static int exit_of(const struct time_job *job)
{
    switch (job->answer.verdict) {
    case TIMING_STEP:
        return CLI_GOOD;
    case TIMING_PERSON:
        return CLI_PERSON;
    default:
        return CLI_NO;
    }
}

static const char *rack_a(const struct time_job *job, size_t i)
{
    return job->timing.ids[job->timing.differences[i].a];
}

static const char *rack_b(const struct time_job *job, size_t i)
{
    return job->timing.ids[job->timing.differences[i].b];
}

static void meaning(const struct time_job *job, size_t i, char *buf)
{
    timing_meaning_text(&job->answer.differences[i], job->answer.pitch_nm, rack_a(job, i),
                        rack_b(job, i), job->show, buf, TIMING_TEXT_MAX);
}

/* ---- JSON ---- */

static void json_difference(struct jsonw *w, const struct time_job *job, size_t i)
{
    const struct timing_finding *f = &job->answer.differences[i];
    char text[TIMING_TEXT_MAX], id[2 * JOB_ID_MAX];
    snprintf(id, sizeof id, "%s-%s", rack_a(job, i), rack_b(job, i));
    meaning(job, i, text);
    jsonw_object(w, NULL);
    jsonw_string(w, "id", id);
    jsonw_string(w, "from", rack_b(job, i));
    jsonw_string(w, "to", rack_a(job, i));
    jsonw_int(w, "before_nm", f->before_nm);
    jsonw_int(w, "after_nm", f->after_nm);
    jsonw_int(w, "low_nm", job->timing.differences[i].low_nm);
    jsonw_int(w, "high_nm", job->timing.differences[i].high_nm);
    jsonw_int(w, "u_nm", llrint(f->u_nm));
    jsonw_string(w, "verdict", conform_verdict_name(f->verdict));
    jsonw_int(w, "teeth", f->teeth);
    jsonw_double(w, "residue", f->residue);
    jsonw_bool(w, "whole_pitches", f->is_whole);
    jsonw_string(w, "code", timing_meaning_code(f->meaning));
    jsonw_string(w, "meaning", text);
    jsonw_object_end(w);
}

static void write_json(struct cli *ctx, const struct time_job *job)
{
    struct jsonw w;
    char text[TIMING_TEXT_MAX];
    const struct timing_answer *a = &job->answer;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    job_json_head(&w, job->b);
    jsonw_string(&w, "station", job->station);
    jsonw_string(&w, "verdict", timing_verdict_name(a->verdict));
    jsonw_array(&w, "moves");
    for (size_t i = 0; i < job->timing.problem.n_racks; i++) {
        if (a->moves[i] == 0)
            continue;
        jsonw_object(&w, NULL);
        jsonw_string(&w, "rack", job->timing.ids[i]);
        jsonw_int(&w, "teeth", a->moves[i] < 0 ? -(int64_t)a->moves[i] : a->moves[i]);
        jsonw_string(&w, "toward", a->moves[i] > 0 ? "out" : "in");
        jsonw_object_end(&w);
    }
    jsonw_array_end(&w);
    jsonw_array(&w, "differences");
    for (size_t i = 0; i < job->timing.problem.n_differences; i++)
        json_difference(&w, job, i);
    jsonw_array_end(&w);
    jsonw_int(&w, "pitch_nm", a->pitch_nm);
    jsonw_double(&w, "residue", a->differences[a->worst].residue);
    meaning(job, a->worst, text);
    jsonw_string(&w, "meaning", text);
    jsonw_bool(&w, "proved", a->is_proved);
    jsonw_object_end(&w);
}

/* ---- words ---- */

/* Ends are read to a twentieth of a millimetre: two decimals, or three of an inch. */
static const char *fine(const struct time_job *job, int64_t nm, char *buf)
{
    quantity_show(nm, job->show, job->show == UNIT_IN ? 3 : 2, buf, NULL);
    return buf;
}

static void say_verdict(struct cli *ctx, const struct time_job *job)
{
    const struct timing_answer *a = &job->answer;
    char text[TIMING_TEXT_MAX];
    meaning(job, a->worst, text);
    switch (a->verdict) {
    case TIMING_STEP:
        cli_verdict(ctx, CLI_STRONG, "In step: the racks of %s.", job->station);
        break;
    case TIMING_WORK:
        for (size_t i = 0; i < job->timing.problem.n_racks; i++) {
            int32_t n = a->moves[i] < 0 ? -a->moves[i] : a->moves[i];
            if (n > 0)
                cli_verdict(ctx, CLI_ACT, "Out of step: %s jumps %d %s %s.", job->timing.ids[i],
                            (int)n, n == 1 ? "tooth" : "teeth", a->moves[i] > 0 ? "out" : "in");
        }
        cli_say(ctx, 4, "%s", text);
        break;
    case TIMING_CANNOT:
        cli_verdict(ctx, CLI_STOP, "Out of step, beyond what a jump mends: %s. Force nothing.",
                    job->station);
        cli_say(ctx, 4, "%s", text);
        break;
    case TIMING_PERSON:
        cli_verdict(ctx, CLI_QUIET, "Uncertain: %s cannot be judged with these readings.",
                    job->station);
        cli_say(ctx, 4, "%s", text);
        break;
    }
    job_head(ctx, job->b);
}

static void say_table(struct cli *ctx, const struct time_job *job)
{
    static const char *const head[] = {"difference", "now", "after", "limits", "teeth", ""};
    char now[QUANTITY_SHOW_MAX], after[QUANTITY_SHOW_MAX], low[QUANTITY_SHOW_MAX],
        high[QUANTITY_SHOW_MAX];
    struct cli_table *t = cli_table_new("l..r.l");
    cli_table_head(t, head);
    for (size_t i = 0; i < job->timing.problem.n_differences; i++) {
        const struct timing_finding *f = &job->answer.differences[i];
        const struct timing_difference *d = &job->timing.differences[i];
        cli_table_cell(t, CLI_PLAIN, "%s - %s", rack_a(job, i), rack_b(job, i));
        cli_table_cell(t, CLI_PLAIN, "%s", fine(job, f->before_nm, now));
        cli_table_cell(t, CLI_ACT, "%s",
                       job->answer.verdict == TIMING_WORK ? fine(job, f->after_nm, after) : "-");
        cli_table_cell(t, CLI_PLAIN, "%s to %s", fine(job, d->low_nm, low),
                       fine(job, d->high_nm, high));
        cli_table_cell(t, CLI_PLAIN, "%.2f", f->teeth + f->residue);
        cli_table_cell(t, CLI_PLAIN, "%s", conform_verdict_name(f->verdict));
    }
    text_putc(&ctx->out, '\n');
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
    text_putc(&ctx->out, '\n');
    cli_say(ctx, 4, "One tooth is %s (pitch). Standard uncertainty of a difference: %s.",
            fine(job, job->answer.pitch_nm, now),
            fine(job, llrint(job->answer.differences[job->answer.worst].u_nm), after));
}

static void say_drawing(struct cli *ctx, const struct time_job *job)
{
    struct draw_timed racks[TIMING_RACKS_MAX];
    char says[TIMING_RACKS_MAX][QUANTITY_SHOW_MAX];
    for (size_t i = 0; i < job->timing.problem.n_racks; i++)
        racks[i] = (struct draw_timed){.name = job->timing.ids[i],
                                       .end_nm = job->timing.racks[i].end_nm,
                                       .move = job->answer.moves[i],
                                       .end_says = fine(job, job->timing.racks[i].end_nm, says[i])};
    text_putc(&ctx->out, '\n');
    draw_timed(ctx, 4, racks, job->timing.problem.n_racks, job->answer.pitch_nm);
    cli_say(ctx, 4, "Four columns are one tooth; out is to the right.");
}

static void say_next(struct cli *ctx, const struct time_job *job)
{
    static const char always[] =
        "Before a rack is lifted off its pinion: the room on its supports, the supply isolated and "
        "made safe against coming back, nobody "
        "under the room or in its gap. A rack that comes free drops, and the shaft can turn by "
        "itself. The maker's instructions come "
        "first.";
    static const char *const words[] = {"time-", "timing", "rack", NULL};
    char text[TIMING_TEXT_MAX];
    for (size_t i = 0; job->answer.verdict != TIMING_STEP && i < job->timing.problem.n_differences;
         i++) {
        if (i == job->answer.worst || job->answer.differences[i].verdict == VERDICT_INSIDE)
            continue;
        meaning(job, i, text);
        cli_say(ctx, 4, "%s - %s: %s", rack_a(job, i), rack_b(job, i), text);
    }
    if (job->answer.verdict == TIMING_WORK || job->answer.verdict == TIMING_CANNOT) {
        job_cautions(ctx, job->b,
                     1U << BULLETIN_HAZARD_LIFTING | 1U << BULLETIN_HAZARD_STORED_ENERGY |
                         1U << BULLETIN_HAZARD_PINCH,
                     words, NULL, always);
        text_putc(&ctx->out, '\n');
    }
    if (job->answer.verdict == TIMING_WORK)
        cli_verdict(
            ctx, CLI_ACT,
            "After the jump, read every end again: this answer is only as good as the readings.");
    else if (job->answer.verdict == TIMING_CANNOT || job->answer.verdict == TIMING_PERSON)
        cli_verdict(ctx, CLI_ACT, "How to read: %s", job_text(job->b, &job->b->timing.how));
    if (!job->answer.is_proved)
        cli_say(ctx, 4, "The search ended before this answer was proved to be the best.");
}

static int run_with(struct cli *ctx, const struct bulletin *b, void *zeroed,
                    const struct cli_arg *args, int n)
{
    struct time_job *job = zeroed;
    job->b = b;
    if (!take_args(ctx, job, args, n))
        return CLI_WRONG;
    enum err e = solve(job);
    if (e == ERR_MEMORY) {
        cli_error(ctx, "memory ran out");
        return CLI_FAILED;
    }
    if (e != ERR_OK)
        return cli_error(ctx, "the ends cannot be used: %s", err_text(e));
    if (ctx->is_json) {
        write_json(ctx, job);
        return exit_of(job);
    }
    say_verdict(ctx, job);
    say_table(ctx, job);
    say_drawing(ctx, job);
    if (job->answer.verdict != TIMING_STEP || !job->answer.is_proved)
        text_putc(&ctx->out, '\n');
    say_next(ctx, job);
    job_foot(ctx, job->b);
    return exit_of(job);
}

static int run_time(struct cli *ctx, int argc, char **argv)
{
    return job_run(ctx, &verb_time, argc, argv, sizeof(struct time_job), run_with);
}

static const struct cli_option options[] = {
    {"--station", "ID", "the station whose racks are timed", false},
    {"--rack", "ID=LENGTH",
     "where the end of one rack stands; larger is further out; any unit of length, else the "
     "bulletin's",
     true},
    {"--show", "in|mm",
     "show lengths in inches or millimetres; else as the first length was written", false},
    {NULL, NULL, NULL, false},
};

const struct cli_verb verb_time = {
    .name = "time",
    .line = "are the racks in step, and if not, which one jumps how many teeth?",
    .call = "time BULLETIN --station ID --rack ID=LENGTH --rack ID=LENGTH [...]",
    .about = "Compares where the racks of one torque shaft end. Racks that jumped differ by whole "
             "pitches; the answer names the "
             "jump that takes the least time and brings every difference inside its limits. When "
             "no whole jump does, it says "
             "what the rest means instead of forcing it: near half a pitch a pinion has turned or "
             "a rack was cut elsewhere in the "
             "tooth; a little over the limit is a wrong length, a bent rack or a misreading.\n"
             "\n"
             "Exit 0 when the racks are in step; 1 when work is needed or no jump can do it; 4 "
             "when the readings are too "
             "uncertain to tell; 2 when the bulletin or the call cannot be read.",
    .example =
        "  $ mendwright time examples/OV-26-03.yaml --station fore --rack inboard=41.20mm --rack "
        "outboard=47.55mm\n"
        "  [>] Out of step: outboard jumps 1 tooth in.\n"
        "      outboard stands 1 tooth ahead of inboard; the difference is a whole number\n"
        "      of pitches, as when racks jumped.\n"
        "      OV-26-03 revision 2: Wall drive WD - racks slip out of step\n"
        "\n"
        "      difference              now    after               limits  teeth\n"
        "      -------------------------------------------------------------------------\n"
        "      outboard - inboard  6.35 mm  0.07 mm  -1.20 mm to 1.20 mm   1.01  outside\n"
        "\n"
        "      One tooth is 6.28 mm (pitch). Standard uncertainty of a difference: 0.07 mm.\n"
        "\n"
        "      inboard  _/\\__/\\__/\\_|                      41.20 mm   stays\n"
        "                    (o)\n"
        "      outboard _/\\__/\\__/\\__/\\_|                  47.55 mm   <-- 1 tooth in\n"
        "                    (o)\n"
        "      Four columns are one tooth; out is to the right.\n"
        "  ...\n"
        "  [>] After the jump, read every end again: this answer is only as good as the\n"
        "  ...\n",
    .options = options,
    .run = run_time,
};
