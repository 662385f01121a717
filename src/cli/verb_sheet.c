/* verb_sheet: the bulletin as a job sheet on paper. Owns the call; what stands on the sheet is draw/sheet. */
#include "cli/amount.h"
#include "cli/cut_job.h"
#include "cli/job.h"
#include "cli/on_paper.h"
#include "cli/verbs.h"
#include "core/vin.h"
#include "draw/sheet.h"

#include <string.h>

/* One call. Large (cut_job holds every kit): from the heap. */
struct sheet_job {
    struct cut_job cut;
    struct vin_verdict vin;
    const char *stations[BULLETIN_STATIONS_MAX];
    struct sheet_cut cuts[SHEET_CUTS_MAX];
    struct sheet_order order;
    struct sheet_made made;
    struct on_paper paper;
    bool is_check_wrong; /* the VIN's check digit, where the bulletin only advises */
};

/* ---- the call --------------------------------------------------------------------------------- */

static int take_vin(const struct cli *ctx, struct sheet_job *job, const struct cli_arg *args, int n)
{
    const char *text = cli_value(args, n, "--vin");
    if (text == NULL)
        return CLI_GOOD;
    vin_check(text, strlen(text), &job->vin);
    switch (job->vin.fault) {
    case VIN_FAULT_LENGTH:
        return cli_error(ctx, "--vin: '%.40s' is no VIN; expected %d characters", text,
                         (int)VIN_SIZE);
    case VIN_FAULT_CHARACTER:
        return cli_error(ctx, "--vin: '%.40s' holds a character that no VIN holds, at position %zu",
                         text, job->vin.at + 1);
    case VIN_FAULT_CHECK:
        if (job->order.b->scope.vin.check == BULLETIN_VIN_REQUIRED)
            return cli_error(ctx,
                             "--vin: %s has the check digit %c; expected %c. `mendwright vin` "
                             "tells what it may have been",
                             job->vin.vin, job->vin.check_found, job->vin.check_expected);
        job->is_check_wrong = job->order.b->scope.vin.check == BULLETIN_VIN_ADVISORY;
        break;
    case VIN_FAULT_NONE:
        break;
    }
    job->order.vin = job->vin.vin;
    return CLI_GOOD;
}

static int take_stations(const struct cli *ctx, struct sheet_job *job, const struct cli_arg *args,
                         int n)
{
    bool is_asked[BULLETIN_STATIONS_MAX] = {false};
    for (int i = 0; i < n; i++) {
        if (args[i].name == NULL || strcmp(args[i].name, "--station") != 0)
            continue;
        const int at = job_station(ctx, job->order.b, args[i].value);
        if (at < 0)
            return CLI_WRONG;
        is_asked[at] = true;
    }
    for (size_t i = 0; i < job->order.b->scope.stations.n && i < BULLETIN_STATIONS_MAX; i++)
        if (is_asked[i])
            job->stations[job->order.n_stations++] = job->order.b->scope.stations.at[i].id;
    job->order.stations = job->stations;
    return CLI_GOOD;
}

/* An answer, not a fault: nothing is printed, and why. */
static int refuse_cut(struct cli *ctx, const struct sheet_job *job)
{
    const struct cut_job *cut = &job->cut;
    const char *why =
        cut->answer.chosen >= 0 ? "the lengths differ by more than the tape explains: measure again"
        : cut->answer.open != 0 ? "an attribute must be told before a kit can be chosen (--with)"
                                : "no kit of this bulletin can do it";
    if (ctx->is_json) {
        struct jsonw w;
        jsonw_start(&w, &ctx->out);
        jsonw_object(&w, NULL);
        job_json_head(&w, job->order.b);
        jsonw_null(&w, "path");
        jsonw_string(&w, "why", why);
        jsonw_object_end(&w);
        text_putc(&ctx->out, '\n');
    } else {
        cli_verdict(ctx, CLI_STOP, "Nothing is printed: %s.", why);
        job_head(ctx, job->order.b);
        cli_verdict(ctx, CLI_ACT, "`mendwright cut` with the same lengths says more.");
        job_foot(ctx, job->order.b);
    }
    return cut->answer.chosen < 0 && cut->answer.open == 0 ? CLI_NO : CLI_PERSON;
}

/* With lengths: the kit and the cut, by the same path as the verb cut. No mark is printed that is not sure. */
static int take_cuts(struct cli *ctx, struct sheet_job *job, const struct cli_arg *args, int n)
{
    struct cut_job *cut = &job->cut;
    if (cli_value(args, n, "--needed") == NULL) {
        if (cli_value(args, n, "--with") != NULL)
            return cli_error(ctx,
                             "found --with without --needed; expected the measured lengths too");
        return CLI_GOOD;
    }
    if (job->order.n_stations != 1)
        return cli_error(
            ctx, "--needed: found %zu stations; expected one --station, which the lengths are of",
            job->order.n_stations);
    const int code = cut_job_fill(ctx, job->order.b, cut, args, n, "--needed");
    if (code != CLI_GOOD)
        return code;
    if (cut->answer.chosen < 0 || cut->asks_again)
        return refuse_cut(ctx, job);
    for (size_t i = 0; i < cut->need.n_racks && i < SHEET_CUTS_MAX; i++) {
        const struct bulletin_kit *kit = &cut->b->kits.at[cut->answer.chosen];
        job->cuts[job->order.n_cuts++] = (struct sheet_cut){
            .station = cut->station->id,
            .kit = kit->number[0] != '\0' ? kit->number : kit->id,
            .rack = cut->kits.racks[cut->need.rack[i]],
            .piece = cut_job_source(cut, i),
            .blade = cut_job_piece(cut, i)->blade,
            .answer = &cut->answer.kits[cut->answer.chosen].racks[i],
            .show = cut->show,
        };
    }
    job->order.cuts = job->cuts;
    return CLI_GOOD;
}

static int take_args(struct cli *ctx, struct sheet_job *job, const struct cli_arg *args, int n)
{
    int code = on_paper_take(ctx, args, n, "sheet.pdf", &job->paper);
    if (code != CLI_GOOD)
        return code;
    job->order.language = job->paper.language;
    job->order.size = job->paper.size;
    job->order.made_s = job->paper.made_s;
    job->order.link = cli_value(args, n, "--link");
    if (job->order.link != NULL && !text_is_utf8(job->order.link, strlen(job->order.link), NULL))
        return cli_error(ctx, "--link is no UTF-8 text");
    code = take_vin(ctx, job, args, n);
    if (code == CLI_GOOD)
        code = take_stations(ctx, job, args, n);
    return code == CLI_GOOD ? take_cuts(ctx, job, args, n) : code;
}

/* ---- the answer ------------------------------------------------------------------------------- */

static void tell(const void *me, struct jsonw *w)
{
    const struct sheet_job *job = me;
    jsonw_int(w, "pages", job->made.n_pages);
    jsonw_int(w, "template_pages", job->made.n_template_pages);
}

static void say(struct cli *ctx, const void *me)
{
    const struct sheet_job *job = me;
    const int rest = job->made.n_pages - job->made.n_template_pages;
    cli_verdict(ctx, CLI_STRONG, "%s: %d pages, %s.", job->paper.out, job->made.n_pages,
                on_paper_name(&job->paper));
    job_head(ctx, job->order.b);
    if (job->made.n_template_pages > 0)
        cli_verdict(ctx, CLI_ACT,
                    "Print pages %d to %d at 100 %%, without fitting them to the page, and measure "
                    "the bar on each: 100 mm.",
                    rest + 1, job->made.n_pages);
    if (job->is_check_wrong)
        cli_verdict(ctx, CLI_ACT,
                    "%s has the check digit %c; expected %c. Look at the plate once more.",
                    job->vin.vin, job->vin.check_found, job->vin.check_expected);
    job_foot(ctx, job->order.b);
}

static int run_with(struct cli *ctx, const struct bulletin *b, void *zeroed,
                    const struct cli_arg *args, int n)
{
    struct sheet_job *job = zeroed;
    struct text pdf = {0};
    struct fault f = {0};
    job->order.b = b;
    int code = take_args(ctx, job, args, n);
    if (code != CLI_GOOD)
        return code;
    const enum err e = sheet_make(&job->order, &pdf, &job->made, &f);
    if (e == ERR_UNKNOWN) { /* no font: this machine's lack, not the call's */
        (void)cli_fault(ctx, &f);
        code = CLI_FAILED;
    } else {
        code = e != ERR_OK ? cli_fault(ctx, &f)
                           : on_paper_answer(ctx, &job->paper, b, &pdf, job, tell, say);
    }
    text_done(&pdf);
    return code;
}

static int run_sheet(struct cli *ctx, int argc, char **argv)
{
    return job_run(ctx, &verb_sheet, argc, argv, sizeof(struct sheet_job), run_with);
}

static const struct cli_option options[] = {
    {"-o", "FILE", "the PDF to write; - for standard output", false},
    {"--vin", "VIN", "the unit; else boxes to fill in", false},
    {"--station", "ID", "only this station, and others named so; else all", true},
    {"--paper", "a4|letter", "the paper; else A4", false},
    {"--language", "TAG", "en, es, fr or any that the bulletin has; else the bulletin's own",
     false},
    {"--link", "URL", "where the job is, for the code on the first page", false},
    {"--needed", "ID=LENGTH",
     "the measured length of one rack: adds its cut at true scale; wants one --station", true},
    {"--with", "ATTR=VALUE", "with --needed: what was seen on the unit, such as relief=upper",
     true},
    {"--show", "in|mm", "with --needed: show lengths so; else as the first length was written",
     false},
    {NULL, NULL, NULL, false},
};

const struct cli_verb verb_sheet = {
    .name = "sheet",
    .line = "the bulletin on paper: what to do, what to write down, the cut at true scale",
    .call = "sheet BULLETIN -o FILE [--vin VIN] [--station ID ...] [--paper a4|letter] [--language "
            "TAG]",
    .about =
        "Writes a job sheet as PDF: which stations are in, which kit, what to bring, the steps "
        "with their cautions and boxes to tick, the opening with a box for each reading and its "
        "limits, what can be moved, what counts as proof. The code on the first page leads to "
        "the job: to --link, or without it says the bulletin, its revision and the VIN.\n"
        "\n"
        "With measured lengths (--needed) the cut is worked out as the verb cut does and drawn at "
        "true scale on sheets to be glued together, each with a bar to check the printer by. "
        "Lengths that disagree, or that no kit can serve, are refused: no mark is printed that "
        "somebody might saw at.\n"
        "\n"
        "Our own words are in English, Spanish and French; the bulletin's texts are in the "
        "language "
        "asked for where the bulletin has it, else in its own.\n"
        "\n"
        "Exit 0 when the sheet is written; 1 when no kit can do it; 4 when lengths must be "
        "measured "
        "again or an attribute must be told; 2 when the bulletin or the call cannot be read; 3 "
        "when "
        "the file cannot be written or the machine has no font.",
    .example = "  $ mendwright sheet examples/FR-26-11.yaml --paper letter -o sheet.pdf\n"
               "  [=] sheet.pdf: ...\n"
               "      FR-26-11 revision 1: Loading ramp LR - hinge bushes wear and walk out\n"
               "  ...",
    .options = options,
    .run = run_sheet,
};
