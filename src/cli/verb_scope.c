/* verb_scope: is this unit in the bulletin's scope, station by station? */
#include "bulletin/adapt.h"
#include "cli/job.h"
#include "cli/verbs.h"
#include "cli/vin_words.h"

#include <string.h>

/* One call: what was asked and what came out. */
struct scope_job {
    const struct bulletin *b;
    const char *path; /* as the call names it */
    struct adapt_scope scope;
    struct scope_sight sights[SCOPE_STATIONS_MAX];
    bool has_label[SCOPE_STATIONS_MAX];
    char given[SCOPE_STATIONS_MAX][LABEL_VARIANT_MAX + 1];
    const char *vin;
    struct scope_answer answer;
};

/* ---- the call ---- */

static bool take_label(const struct cli *ctx, struct scope_job *job, const struct cli_arg *arg)
{
    char id[JOB_ID_MAX];
    const char *text = NULL;
    if (!job_split(ctx, arg, "STATION=TEXT, such as 'fore=WD40 2024-W13'", id, &text))
        return false;
    int i = job_station(ctx, job->b, id);
    if (i < 0)
        return false;
    if (job->has_label[i]) {
        cli_error(ctx, "--label is given twice for station %s", id);
        return false;
    }
    struct fault f = {0};
    if (adapt_scope_label(job->b, text, &job->sights[i], &f) != ERR_OK) {
        cli_error(ctx, "--label %s: %s", id, f.message);
        return false;
    }
    job->has_label[i] = true;
    return true;
}

static bool take_variant(const struct cli *ctx, struct scope_job *job, const struct cli_arg *arg)
{
    char id[JOB_ID_MAX];
    const char *text = NULL;
    if (!job_split(ctx, arg, "STATION=CODE, such as fore=WD40", id, &text))
        return false;
    int i = job_station(ctx, job->b, id);
    if (i < 0)
        return false;
    if (job->given[i][0] != '\0') {
        cli_error(ctx, "--variant is given twice for station %s", id);
        return false;
    }
    const char *code = bulletin_code_of(job->b, text);
    size_t n = strcspn(code, "*");
    if (n == 0 || n > LABEL_VARIANT_MAX) {
        cli_error(ctx, "--variant %s: found '%.60s'; expected 1 to %d characters", id, text,
                  (int)LABEL_VARIANT_MAX);
        return false;
    }
    for (size_t k = 0; k < n; k++)
        job->given[i][k] = code[k] >= 'a' && code[k] <= 'z' ? (char)(code[k] - 'a' + 'A') : code[k];
    job->sights[i].given_variant = job->given[i];
    return true;
}

static bool take_args(const struct cli *ctx, struct scope_job *job, const struct cli_arg *args,
                      int n)
{
    for (int i = 0; i < n; i++) {
        if (args[i].name == NULL) {
            job->path = args[i].value;
            continue;
        }
        if (strcmp(args[i].name, "--label") == 0 && !take_label(ctx, job, &args[i]))
            return false;
        if (strcmp(args[i].name, "--variant") == 0 && !take_variant(ctx, job, &args[i]))
            return false;
    }
    job->vin = cli_value(args, n, "--vin");
    if (job->vin != NULL && strlen(job->vin) > VIN_TEXT_MAX) {
        cli_error(ctx, "--vin is %zu bytes long; a VIN has 17 characters", strlen(job->vin));
        return false;
    }
    return true;
}

/* Whether the station gets work: in itself, or swept in by a bulletin that does whole units. */
static bool gets_work(const struct scope_job *job, size_t i)
{
    bool is_any_in = job->answer.unit == SCOPE_IN || job->answer.unit == SCOPE_MIXED;
    return job->answer.stations[i].verdict == SCOPE_IN ||
           (is_any_in && job->b->scope.mixed == BULLETIN_MIXED_WHOLE_UNIT);
}

/* ---- JSON ---- */

static void json_day(struct jsonw *w, const char *key, bool is_given, int32_t day)
{
    char buf[DATE_SHOW_SIZE];
    if (is_given)
        date_show(day, buf);
    jsonw_string(w, key, is_given ? buf : NULL);
}

static void json_vin(struct jsonw *w, const struct scope_job *job)
{
    const struct vin_verdict *v = &job->answer.vin;
    if (job->vin == NULL) {
        jsonw_null(w, "vin");
        return;
    }
    jsonw_object(w, "vin");
    jsonw_string(w, "vin", v->vin[0] != '\0' ? v->vin : job->vin);
    vin_verdict_json(v, w);
    jsonw_bool(w, "warning", job->answer.has_vin_warning);
    jsonw_array(w, "repairs");
    for (size_t i = 0; i < job->answer.n_repairs; i++) {
        jsonw_object(w, NULL);
        jsonw_string(w, "vin", job->answer.repairs[i].vin);
        jsonw_int(w, "position", job->answer.repairs[i].at);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
    jsonw_object_end(w);
}

static void json_station(struct jsonw *w, const struct scope_job *job, size_t i)
{
    const struct scope_finding *f = &job->answer.stations[i];
    char text[SCOPE_TEXT_MAX];
    jsonw_object(w, NULL);
    jsonw_string(w, "id", job->b->scope.stations.at[i].id);
    jsonw_string(w, "verdict", scope_verdict_name(f->verdict));
    scope_reason_text(&job->scope.rule, &job->sights[i], &job->answer, f, text, sizeof text);
    jsonw_string(w, "reason", text);
    jsonw_string(w, "code", scope_reason_code(f->reason));
    scope_settle_text(&job->scope.rule, &job->sights[i], &job->answer, f, text, sizeof text);
    jsonw_string(w, "settle", text[0] != '\0' ? text : NULL);
    jsonw_string(w, "variant", f->variant >= 0 ? job->scope.variants[f->variant] : NULL);
    json_day(w, "built_first", f->has_days, f->first_day);
    json_day(w, "built_last", f->has_days, f->last_day);
    jsonw_bool(w, "work", gets_work(job, i));
    jsonw_object_end(w);
}

static void write_json(struct cli *ctx, const struct scope_job *job)
{
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    job_json_head(&w, job->b);
    jsonw_string(&w, "unit", scope_verdict_name(job->answer.unit));
    jsonw_array(&w, "stations");
    for (size_t i = 0; i < job->scope.rule.n_stations; i++)
        json_station(&w, job, i);
    jsonw_array_end(&w);
    json_vin(&w, job);
    jsonw_object_end(&w);
}

/* ---- words ---- */

/* "fore, aft": the ids of the stations with this verdict; "" for none. */
static void list_stations(const struct scope_job *job, enum scope_verdict verdict, struct text *t)
{
    text_clear(t);
    for (size_t i = 0; i < job->scope.rule.n_stations; i++)
        if (job->answer.stations[i].verdict == verdict)
            text_printf(t, "%s%s", t->size > 0 ? ", " : "", job->b->scope.stations.at[i].id);
}

static void say_verdict(struct cli *ctx, const struct scope_job *job)
{
    struct text in = {0}, out = {0}, unknown = {0};
    list_stations(job, SCOPE_IN, &in);
    list_stations(job, SCOPE_OUT, &out);
    list_stations(job, SCOPE_UNKNOWN, &unknown);
    if (job->answer.unit == SCOPE_IN)
        cli_verdict(ctx, CLI_ACT, "In scope: %s.", in.data != NULL ? in.data : "");
    else if (job->answer.unit == SCOPE_OUT)
        cli_verdict(ctx, CLI_STRONG, "Out of scope: %s.", out.data != NULL ? out.data : "");
    else if (job->answer.unit == SCOPE_UNKNOWN)
        cli_verdict(ctx, CLI_QUIET, "Not known yet: %s.%s%s%s",
                    unknown.data != NULL ? unknown.data : "", out.size > 0 ? " Out of scope: " : "",
                    out.size > 0 ? out.data : "", out.size > 0 ? "." : "");
    else
        cli_verdict(ctx, CLI_ACT, "In scope: %s.%s%s%s%s%s%s", in.data != NULL ? in.data : "",
                    out.size > 0 ? " Out of scope: " : "", out.size > 0 ? out.data : "",
                    out.size > 0 ? "." : "", unknown.size > 0 ? " Not known yet: " : "",
                    unknown.size > 0 ? unknown.data : "", unknown.size > 0 ? "." : "");
    ctx->out.is_broken |= in.is_broken || out.is_broken || unknown.is_broken;
    text_done(&in);
    text_done(&out);
    text_done(&unknown);
}

static void say_table(struct cli *ctx, const struct scope_job *job)
{
    static const char *const head[] = {"station", "verdict", "variant", "why"};
    static const enum cli_tone tones[] = {
        [SCOPE_OUT] = CLI_PLAIN, [SCOPE_IN] = CLI_ACT, [SCOPE_UNKNOWN] = CLI_STRONG};
    char text[SCOPE_TEXT_MAX];
    struct cli_table *t = cli_table_new("llll");
    cli_table_head(t, head);
    for (size_t i = 0; i < job->scope.rule.n_stations; i++) {
        const struct scope_finding *f = &job->answer.stations[i];
        scope_reason_text(&job->scope.rule, &job->sights[i], &job->answer, f, text, sizeof text);
        cli_table_cell(t, CLI_PLAIN, "%s", job->b->scope.stations.at[i].id);
        cli_table_cell(t, tones[f->verdict], "%s", scope_verdict_name(f->verdict));
        cli_table_cell(t, CLI_PLAIN, "%s", f->variant >= 0 ? job->scope.variants[f->variant] : "-");
        cli_table_cell(t, CLI_PLAIN, "%s", text);
    }
    text_putc(&ctx->out, '\n');
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
}

static void say_vin(struct cli *ctx, const struct scope_job *job)
{
    const struct vin_verdict *v = &job->answer.vin;
    if (job->vin == NULL)
        return;
    text_putc(&ctx->out, '\n');
    if (v->fault == VIN_FAULT_NONE)
        cli_say(ctx, 4, "VIN %s: the check digit is right.", v->vin);
    else if (v->vin[0] == '\0')
        cli_say(ctx, 4, "VIN %s: does not have 17 characters.", job->vin);
    else if (v->fault == VIN_FAULT_CHECK)
        cli_say(ctx, 4, "VIN %s: the check digit is %c and should be %c%s", v->vin, v->check_found,
                v->check_expected,
                job->answer.has_vin_warning
                    ? ". Only North America and China require it: a warning. Compare the plate."
                    : ".");
    else
        cli_say(ctx, 4, "VIN %s: holds a character that no VIN may hold.", v->vin);
    for (size_t i = 0; i < job->answer.n_repairs && i < 3; i++)
        cli_say(ctx, 8, "it may be %s (position %d)", job->answer.repairs[i].vin,
                job->answer.repairs[i].at);
}

/* The bulletin's file as a shell takes it; BULLETIN where it came by standard input, or its name is too odd. */
static void put_file(struct text *t, const char *path)
{
    static const char plain[] =
        "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789/._-+,@%=:";
    const bool is_plain = path[strspn(path, plain)] == '\0';
    if (strcmp(path, "-") == 0 || strchr(path, '\'') != NULL)
        text_puts(t, "BULLETIN");
    else
        text_printf(t, is_plain ? "%s" : "'%s'", path);
}

/* What would settle an open station, and where to look for its label. */
static void say_settle(struct cli *ctx, const struct scope_job *job, size_t i, const char *text,
                       bool is_for_all)
{
    const struct bulletin_station *station = &job->b->scope.stations.at[i];
    const bool is_label = job->answer.stations[i].reason == SCOPE_LABEL_MISSING;
    if (is_for_all)
        cli_verdict(ctx, CLI_ACT, "To settle it: %s.", text);
    else if (is_label && station->label_at.n > 0)
        cli_verdict(ctx, CLI_ACT, "%s: %s. Where it is: %s.", station->id, text,
                    job_text(job->b, &station->label_at));
    else
        cli_verdict(ctx, CLI_ACT, "%s: %s.", station->id, text);
}

/* Every station gets its own next action. */
static void say_station(struct cli *ctx, const struct scope_job *job, size_t i,
                        bool *ret_is_said_for_all)
{
    const char *id = job->b->scope.stations.at[i].id;
    const struct scope_finding *f = &job->answer.stations[i];
    const bool is_for_all = f->reason == SCOPE_VIN_FAULTY || f->reason == SCOPE_VIN_MISSING;
    char text[SCOPE_TEXT_MAX];
    scope_settle_text(&job->scope.rule, &job->sights[i], &job->answer, f, text, sizeof text);
    if (text[0] != '\0' && !(is_for_all && *ret_is_said_for_all)) {
        say_settle(ctx, job, i, text, is_for_all);
        *ret_is_said_for_all |= is_for_all;
    }
    if (gets_work(job, i) && job->b->kits.n > 0) {
        struct text file = {0};
        put_file(&file, job->path);
        cli_verdict(ctx, CLI_ACT,
                    "%s: choose its kit, with its racks as measured:\n"
                    "  mendwright cut %s --station %s --rack ID=LENGTH ...",
                    id, file.data != NULL ? file.data : "", id);
        ctx->out.is_broken |= file.is_broken;
        text_done(&file);
    } else if (gets_work(job, i)) {
        cli_verdict(ctx, CLI_ACT, "%s: do the work of the bulletin.", id);
    } else if (f->verdict == SCOPE_OUT && job->answer.unit != SCOPE_OUT) {
        cli_say(ctx, 4, "%s: nothing is to be done under this bulletin.", id);
    }
}

static void say_next(struct cli *ctx, const struct scope_job *job)
{
    bool is_said_for_all = false;
    text_putc(&ctx->out, '\n');
    if (job->answer.unit == SCOPE_MIXED && job->b->scope.mixed == BULLETIN_MIXED_WHOLE_UNIT)
        cli_say(ctx, 4, "This bulletin does the whole unit as soon as one station is in.");
    for (size_t i = 0; i < job->scope.rule.n_stations; i++)
        say_station(ctx, job, i, &is_said_for_all);
    if (job->answer.unit == SCOPE_OUT)
        cli_say(ctx, 4, "Nothing is to be done on this unit under this bulletin.");
}

static int exit_of(enum scope_verdict unit)
{
    switch (unit) {
    case SCOPE_OUT:
        return CLI_NO;
    case SCOPE_UNKNOWN:
        return CLI_PERSON;
    default:
        return CLI_GOOD;
    }
}

static int run_with(struct cli *ctx, const struct bulletin *b, void *zeroed,
                    const struct cli_arg *args, int n)
{
    struct scope_job *job = zeroed;
    job->b = b;
    struct fault f = {0};
    size_t at = 0;
    if (adapt_scope_rule(job->b, &job->scope, &f) != ERR_OK)
        return cli_fault(ctx, &f);
    if (!take_args(ctx, job, args, n))
        return CLI_WRONG;
    enum err e = scope_judge(&job->scope.rule, job->vin, job->vin != NULL ? strlen(job->vin) : 0,
                             job->sights, &job->answer, &at);
    if (e != ERR_OK)
        return cli_error(ctx, "the bulletin's scope cannot be used: %s", err_text(e));
    if (ctx->is_json) {
        write_json(ctx, job);
        return exit_of(job->answer.unit);
    }
    say_verdict(ctx, job);
    job_head(ctx, job->b);
    say_table(ctx, job);
    say_vin(ctx, job);
    say_next(ctx, job);
    job_foot(ctx, job->b);
    return exit_of(job->answer.unit);
}

static int run_scope(struct cli *ctx, int argc, char **argv)
{
    return job_run(ctx, &verb_scope, argc, argv, sizeof(struct scope_job), run_with);
}

static const struct cli_option options[] = {
    {"--vin", "VIN", "the unit's VIN, as on its plate", false},
    {"--label", "STATION=TEXT", "what stands on a station's label", true},
    {"--variant", "STATION=CODE", "a station's variant, where its label does not tell it", true},
    {NULL, NULL, NULL, false},
};

const struct cli_verb verb_scope = {
    .name = "scope",
    .line = "is this unit in the bulletin's scope, station by station?",
    .call = "scope BULLETIN --vin VIN --label STATION=TEXT [...] [--variant STATION=CODE ...]",
    .about = "Judges every station by its own label: in when all its possible days of manufacture "
             "lie inside a build "
             "window of its variant, out when none does, unknown otherwise, with what would settle "
             "it. A unit with one "
             "station in and another out is the normal case, not an error.\n"
             "\n"
             "A VIN that the bulletin requires and that does not check leaves every station "
             "unknown: a mistyped VIN "
             "could be another unit.\n"
             "\n"
             "Exit 0 when any station is in; 1 when all are out; 4 when none is in and any is "
             "unknown; 2 when the "
             "bulletin, a label or the call cannot be read.",
    .example =
        "  $ mendwright scope examples/OV-26-03.yaml --label 'fore=WD40 2024-W13' --label "
        "'aft=WD40 2024-W20'\n"
        "  [>] In scope: fore. Out of scope: aft.\n"
        "      OV-26-03 revision 2: Wall drive WD - racks slip out of step\n"
        "\n"
        "      station  verdict  variant  why\n"
        "      ----------------------------------------------------------------------------\n"
        "      fore     in       wd40     built in the days 2024-03-25 to 2024-03-31,\n"
        "                                 inside the build window 2024-03-11 to 2024-04-14\n"
        "                                 of variant wd40\n"
        "      aft      out      wd40     built in the days 2024-05-13 to 2024-05-19,\n"
        "                                 between the build windows, the nearest being\n"
        "                                 2024-03-11 to 2024-04-14 of variant wd40\n"
        "\n"
        "  [>] fore: choose its kit, with its racks as measured:\n"
        "        mendwright cut examples/OV-26-03.yaml --station fore --rack ID=LENGTH ...\n"
        "      aft: nothing is to be done under this bulletin.\n"
        "\n"
        "      This bulletin is invented, for teaching and testing. Repair nothing by it.\n",
    .options = options,
    .run = run_scope,
};
