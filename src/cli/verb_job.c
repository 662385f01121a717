/* verb_job: what a technician's events come to. */
#include "base/file.h"
#include "base/json.h"
#include "cli/amount.h"
#include "cli/job.h"
#include "cli/verbs.h"
#include "core/date.h"
#include "proof/job.h"

#include <inttypes.h>
#include <string.h>

enum { TIME_SIZE = 40, MS_A_DAY = 86400000, MS_A_MINUTE = 60000 };

/* One call. */
struct view {
    const struct event_list *list;
    const struct job *job;
    enum unit show; /* lengths */
    bool has_days;  /* what is shown lies on several days: times show theirs */
};

/* ---- pieces -------------------------------------------------------------------------------- */

static const char *show_time(int64_t ms, bool has_day, char *buf)
{
    char date[DATE_SHOW_SIZE];
    const int minute = (int)(ms % MS_A_DAY / MS_A_MINUTE);
    date_show((int32_t)(ms / MS_A_DAY), date);
    snprintf(buf, TIME_SIZE, "%s%s%02d:%02d", has_day ? date : "", has_day ? " " : "", minute / 60,
             minute % 60);
    return buf;
}

static void put_length(struct text *t, const struct view *v, const char *before, int64_t nm)
{
    char amount[CLI_AMOUNT_SIZE];
    if (nm != EVENT_ABSENT)
        text_printf(t, "%s%s", before, cli_amount(nm, v->show, amount));
}

static void put_label(struct text *t, const struct event_label_read *label)
{
    char first[DATE_SHOW_SIZE], last[DATE_SHOW_SIZE];
    text_puts(t, label->text);
    if (label->variant != NULL)
        text_printf(t, "; variant %s", label->variant);
    if (label->built_first_day == EVENT_ABSENT)
        return;
    date_show((int32_t)label->built_first_day, first);
    text_printf(t, "; built %s", first);
    if (label->built_last_day == EVENT_ABSENT || label->built_last_day == label->built_first_day)
        return;
    date_show((int32_t)label->built_last_day, last);
    text_printf(t, " to %s", last);
}

static void put_steps(struct text *t, int64_t steps, bool is_rack)
{
    const bool is_one = steps == 1 || steps == -1;
    text_printf(t, "%+" PRId64 " %s", steps,
                is_rack ? (is_one ? "tooth" : "teeth") : (is_one ? "step" : "steps"));
}

/* The currency is the bulletin's, which is not at hand here. */
static void put_expense(struct text *t, const struct event_expense_claimed *expense)
{
    text_printf(t, "%" PRId64 " in minor units", expense->amount_minor);
    if (expense->count != EVENT_ABSENT)
        text_printf(t, ", for %" PRId64, expense->count);
    if (expense->why != NULL)
        text_printf(t, "; %s", expense->why);
}

static void put_value(struct text *t, const struct view *v, const struct job_item *item)
{
    char amount[CLI_AMOUNT_SIZE];
    const struct event *e = job_latest(v->job, item);
    const struct event_scope_found *scope = &e->as.scope_found;
    const struct event_pairs *with = &e->as.kit_chosen.with;
    const struct event_amount *value = &e->as.reading_taken.value;
    switch (e->type) {
    case EVENT_LABEL_READ:
        put_label(t, &e->as.label_read);
        return;
    case EVENT_SCOPE_FOUND:
        text_printf(t, "%s%s%s", event_types[e->type].fields[0].choices[scope->verdict],
                    scope->reason != NULL ? ": " : "", scope->reason != NULL ? scope->reason : "");
        return;
    case EVENT_RACK_MEASURED:
        put_length(t, v, "", e->as.rack_measured.length_nm);
        return;
    case EVENT_KIT_CHOSEN:
        text_puts(t, e->as.kit_chosen.kit);
        for (size_t i = 0; i < with->n; i++)
            text_printf(t, "%s %s %s", i > 0 ? "," : ";", with->pairs[i].name,
                        with->pairs[i].value);
        return;
    case EVENT_CUT:
        put_length(t, v, "mark ", e->as.cut.mark_nm);
        put_length(t, v, " of ", e->as.cut.stock_nm);
        if (e->as.cut.from_end != NULL)
            text_printf(t, " from %s", e->as.cut.from_end);
        put_length(t, v, ", offcut ", e->as.cut.offcut_nm);
        return;
    case EVENT_READING_TAKEN:
        text_puts(t,
                  cli_amount(value->nano, value->unit == UNIT_NM ? v->show : value->unit, amount));
        return;
    case EVENT_MOVED:
        put_steps(t, job_steps(v->job, item), item->target == EVENT_RACK);
        return;
    case EVENT_EXPENSE_CLAIMED:
        put_expense(t, &e->as.expense_claimed);
        return;
    default:
        return;
    }
}

/* ---- a station ----------------------------------------------------------------------------- */

static const char *words_of(const struct job_item *item)
{
    switch (item->type) {
    case EVENT_LABEL_READ:
        return "label";
    case EVENT_SCOPE_FOUND:
        return "scope";
    case EVENT_RACK_MEASURED:
        return "rack";
    case EVENT_KIT_CHOSEN:
        return "kit";
    case EVENT_CUT:
        return "cut";
    case EVENT_READING_TAKEN:
        return "reading";
    case EVENT_MOVED:
        return "moved";
    case EVENT_EXPENSE_CLAIMED:
        return event_types[item->type].fields[0].choices[item->target];
    default:
        return NULL; /* told below the table */
    }
}

static void add_row(const struct view *v, const struct job_item *item, struct cli_table *table)
{
    char time[TIME_SIZE];
    struct text value = {0};
    const struct job_entry *last = &v->job->entries[item->entries[item->n - 1]];
    put_value(&value, v, item);
    cli_table_cell(table, CLI_PLAIN, "%s", words_of(item));
    cli_table_cell(table, CLI_PLAIN, "%s", item->key);
    cli_table_cell(table, CLI_QUIET, "%zu", item->n);
    cli_table_cell(table, CLI_QUIET, "%s", show_time(last->place_ms, v->has_days, time));
    cli_table_cell(table, CLI_STRONG, "%s", value.data != NULL ? value.data : "");
    text_done(&value);
}

/* "photos: a, b (2)": the keys of one type. */
static void say_keys(struct cli *ctx, const struct view *v, const struct job_station *station,
                     enum event_type type, const char *title)
{
    struct text t = {0};
    size_t n = 0;
    for (size_t i = 0; i < station->n_items; i++) {
        const struct job_item *item = &v->job->items[station->first_item + i];
        if (item->type != type)
            continue;
        text_printf(&t, "%s%s", n++ > 0 ? ", " : "", item->key);
        if (item->n > 1)
            text_printf(&t, " (%zu)", item->n);
    }
    if (n > 0)
        cli_say(ctx, 4, "%s (%zu): %s", title, n, t.data != NULL ? t.data : "");
    text_done(&t);
}

static void say_notes(struct cli *ctx, const struct view *v, const struct job_station *station)
{
    char time[TIME_SIZE];
    const struct job_item *item = job_item(v->job, EVENT_NOTE, station->id, NULL);
    for (size_t i = 0; item != NULL && i < item->n; i++) {
        const struct job_entry *entry = &v->job->entries[item->entries[i]];
        cli_say(ctx, 4, "note, %s: %s", show_time(entry->place_ms, v->has_days, time),
                entry->event->as.note.text);
    }
}

static void say_station(struct cli *ctx, const struct view *v, const struct job_station *station)
{
    static const char *const head[] = {"what", "of", "times", "UTC", "holds now"};
    char first[TIME_SIZE], last[TIME_SIZE];
    size_t n_rows = 0;
    text_putc(&ctx->out, '\n');
    if (station->first_ms == EVENT_ABSENT)
        cli_say(ctx, 0, "%s", station->id != NULL ? station->id : "whole unit");
    else
        cli_say(ctx, 0, "%s, %s to %s UTC", station->id != NULL ? station->id : "whole unit",
                show_time(station->first_ms, true, first), show_time(station->last_ms, true, last));
    struct cli_table *table = cli_table_new("llrll");
    cli_table_head(table, head);
    for (size_t i = 0; i < station->n_items; i++) {
        const struct job_item *item = &v->job->items[station->first_item + i];
        if (words_of(item) == NULL)
            continue;
        add_row(v, item, table);
        n_rows++;
    }
    if (n_rows > 0 || table == NULL)
        cli_table_print(table, ctx, 4);
    cli_table_free(table);
    say_keys(ctx, v, station, EVENT_PHOTO_TAKEN, "photos");
    say_keys(ctx, v, station, EVENT_HOLD_CONFIRMED, "steps confirmed");
    say_notes(ctx, v, station);
}

/* ---- the whole ----------------------------------------------------------------------------- */

/* Everyone with events, each once, in the order of the list. */
static void put_people(struct text *t, const struct event_list *list)
{
    enum { PEOPLE_MAX = 8 };
    const struct event *seen[PEOPLE_MAX];
    size_t n = 0;
    bool is_more = false;
    for (size_t i = 0; i < list->n; i++) {
        const struct event *e = &list->events[i];
        size_t k = 0;
        while (k < n && (strcmp(seen[k]->technician, e->technician) != 0 ||
                         strcmp(seen[k]->shop, e->shop) != 0))
            k++;
        if (k == n && n == PEOPLE_MAX)
            is_more = true;
        else if (k == n)
            seen[n++] = e;
    }
    for (size_t k = 0; k < n; k++)
        text_printf(t, "%s%s of %s", k > 0 ? ", " : "", seen[k]->technician, seen[k]->shop);
    text_puts(t, is_more ? " and others" : "");
}

static void say_head(struct cli *ctx, const struct view *v)
{
    const struct job *job = v->job;
    char first[TIME_SIZE], last[TIME_SIZE];
    struct text people = {0};
    if (job->is_finished)
        cli_verdict(ctx, CLI_STRONG, "Finished: %s, bulletin %s revision %" PRId64 ".",
                    v->list->vin, v->list->bulletin_id, v->list->revision);
    else
        cli_verdict(ctx, CLI_QUIET, "Not finished: %s, bulletin %s revision %" PRId64 ".",
                    v->list->vin, v->list->bulletin_id, v->list->revision);
    if (job->first_ms != EVENT_ABSENT) {
        const int64_t minutes = (job->last_ms - job->first_ms) / MS_A_MINUTE;
        cli_say(ctx, 4, "%s to %s UTC by the device's clock, %" PRId64 " h %02d min.",
                show_time(job->first_ms, true, first), show_time(job->last_ms, true, last),
                minutes / 60, (int)(minutes % 60));
    }
    put_people(&people, v->list);
    const char *who = people.data != NULL ? people.data : "";
    const char *plural = job->n_entries == 1 ? "" : "s";
    if (job->n_void == 0)
        cli_say(ctx, 4, "%zu event%s, none corrected; %s.", job->n_entries, plural, who);
    else
        cli_say(ctx, 4, "%zu event%s, %zu of them corrected by later ones; %s.", job->n_entries,
                plural, job->n_void, who);
    text_done(&people);
}

static void say_findings(struct cli *ctx, const struct job *job)
{
    char id[ULID_TEXT_SIZE + 1];
    if (job->n_all_findings == 0)
        return;
    text_putc(&ctx->out, '\n');
    cli_verdict(ctx, CLI_QUIET, "%zu thing%s to look at in the list itself:", job->n_all_findings,
                job->n_all_findings == 1 ? "" : "s");
    for (size_t i = 0; i < job->n_findings; i++) {
        ulid_show(&job->findings[i].event->id, id);
        cli_say(ctx, 4, "%s (%s) %s.", id, event_types[job->findings[i].event->type].name,
                job_finding_text(job->findings[i].kind));
    }
    if (job->n_findings < job->n_all_findings)
        cli_say(ctx, 4, "... and %zu more.", job->n_all_findings - job->n_findings);
}

static void say_job(struct cli *ctx, const struct view *v)
{
    say_head(ctx, v);
    for (size_t s = 0; s < v->job->n_stations; s++)
        say_station(ctx, v, &v->job->stations[s]);
    say_findings(ctx, v->job);
    text_putc(&ctx->out, '\n');
    if (v->list->is_invented)
        cli_say(ctx, 0, "Invented: no such unit, shop or technician exists.");
    if (!v->job->is_finished)
        cli_verdict(ctx, CLI_ACT, "Go on with the job, and close it with \"finished\".");
    else
        cli_say(ctx, 0,
                "Whether it is complete under the bulletin is not judged here: this only says what "
                "was recorded.");
}

static void write_json(struct cli *ctx, const struct view *v)
{
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_object(&w, "bulletin");
    jsonw_string(&w, "id", v->list->bulletin_id);
    jsonw_int(&w, "revision", v->list->revision);
    jsonw_string(&w, "sha256", v->list->bulletin_sha256);
    jsonw_object_end(&w);
    jsonw_string(&w, "vin", v->list->vin);
    jsonw_bool(&w, "invented", v->list->is_invented);
    job_write(v->job, &w);
    jsonw_object_end(&w);
}

/* Whether what stands, notes and expenses too, lies on more than one day. */
static bool has_days(const struct job *job)
{
    int64_t day = -1;
    for (size_t i = 0; i < job->n_entries; i++) {
        if (job->entries[i].is_void)
            continue;
        if (day >= 0 && job->entries[i].place_ms / MS_A_DAY != day)
            return true;
        day = job->entries[i].place_ms / MS_A_DAY;
    }
    return false;
}

static int show_list(struct cli *ctx, const struct event_list *list, enum unit show)
{
    struct job *job = NULL;
    const enum err e = job_replay(list->events, list->n, &job);
    if (e != ERR_OK) {
        cli_error(ctx, "the events cannot be replayed: %s", err_text(e));
        return e == ERR_MEMORY ? CLI_FAILED : CLI_WRONG;
    }
    const struct view v = {list, job, show, has_days(job)};
    const int code = job->is_finished ? CLI_GOOD : CLI_PERSON;
    if (ctx->is_json)
        write_json(ctx, &v);
    else
        say_job(ctx, &v);
    job_free(job);
    return code;
}

static int run_job(struct cli *ctx, int argc, char **argv)
{
    struct cli_arg args[CLI_ARGS_MAX];
    const char *path = NULL;
    enum unit show = UNIT_MM;
    const int n = cli_options(ctx, &verb_job, argc, argv, args);
    if (n < 0)
        return CLI_WRONG;
    for (int i = 0; i < n; i++) {
        if (args[i].name != NULL)
            continue;
        if (path != NULL)
            return cli_error(ctx, "found a second file, '%.80s'; expected one", args[i].value);
        path = args[i].value;
    }
    if (path == NULL)
        return cli_error(ctx, "found no file; expected an events.json, or - for standard input");
    enum unit bare; /* every length in the file says its unit */
    if (!job_units(ctx, args, n, "--show", UNIT_MM, &bare, &show))
        return CLI_WRONG;
    struct text text = {0};
    struct fault fault = {0};
    struct event_list *list = NULL;
    enum err e = file_read(path, JSON_SIZE_MAX, &text, &fault);
    if (e == ERR_OK)
        e = events_read(text.data != NULL ? text.data : "", text.size, path, &list, &fault);
    text_done(&text);
    const int code = e == ERR_OK ? show_list(ctx, list, show) : cli_fault(ctx, &fault);
    events_free(list);
    return code;
}

static const struct cli_option options[] = {
    {"--show", "in|mm", "show lengths in inches or millimetres (mm unless said)", false},
    {NULL, NULL, NULL, false},
};

const struct cli_verb verb_job = {
    .name = "job",
    .line = "what was done on this unit, by its events?",
    .call = "job EVENTS.json",
    .about =
        "Replays the events of one job and shows what they come to, station by station: label, "
        "scope, lengths, kit, cuts, the reading that holds at each point and how often it was "
        "taken, moves, photos, steps confirmed, times by the device's clock. Nothing is edited in "
        "such a file: a later event names the one it corrects and stands in its place. Both are "
        "kept, and --json lists both.\n"
        "\n"
        "What is wrong with the list itself is said at the end: a correction of nothing, a clock "
        "that went back, one id for two events, work after the job was finished.\n"
        "\n"
        "Exit 0 when the job is finished, 4 when it is not, 2 when the file cannot be read.",
    .example = "  $ mendwright job examples/jobs/ov-26-03-a/events.json\n"
               "  [=] Finished: ZZZFM24T5R0001234, bulletin OV-26-03 revision 2.\n"
               "      2026-05-04 07:12 to 2026-05-04 13:48 UTC by the device's clock, 6 h 36 min.\n"
               "      99 events, 2 of them corrected by later ones; ines of fern-mobile-2.\n"
               "\n"
               "  fore, 2026-05-04 07:14 to 2026-05-04 13:02 UTC\n"
               "      what     of                  times  UTC    holds now\n"
               "      "
               "----------------------------------------------------------------------------\n"
               "      label                            1  07:14  WD40 2024-W13; variant WD40;\n"
               "                                                 built 2024-03-25 to 2024-03-31\n"
               "  ...\n",
    .options = options,
    .run = run_job,
};
