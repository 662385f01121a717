/* svg: owns which drawing belongs to which answer, and its words, which are the answer's own. */
#include "cli/svg.h"

#include "base/save.h"
#include "cli/amount.h"
#include "cli/job.h"
#include "cli/true_show.h"
#include "draw/plot.h"

#include <string.h>

static int save(struct cli *ctx, const char *path, const struct text *svg)
{
    struct fault f = {0};
    if (save_file(path, svg->data, svg->size, &f) != ERR_OK) {
        (void)cli_fault(ctx, &f);
        return CLI_FAILED;
    }
    if (!ctx->is_json)
        cli_say(ctx, 4, "Drawing: %s", path);
    return CLI_GOOD;
}

static int failed(const struct cli *ctx, const struct fault *f)
{
    (void)cli_fault(ctx, f); /* no font, no memory: this machine's lack, not the call's */
    return CLI_FAILED;
}

/* The verdict as the answer says it, in one line and without its sign. */
static void verdict_of(const struct problem *p, const struct truing_answer *a, enum unit unit,
                       struct text *ret)
{
    struct cli whole = {.columns = 100000};
    true_show_verdict(&whole, p, a, unit, "All readings are inside");
    const char *line = whole.out.data != NULL ? whole.out.data : "";
    size_t at = 0;
    line += line[0] == '[' && strlen(line) > 4 ? 4 : 0;
    for (const size_t n = strcspn(line, "\n"); at < n; at++)
        if (line[at] == ' ' && line[at + 1] == '%')
            text_puts(ret, "\xC2\xA0"); /* "88 %" stays on one line */
        else
            text_putc(ret, line[at]);
    ret->is_broken |= whole.out.is_broken;
    text_done(&whole.out);
}

/* "150 mm out" for the points of a bulletin that stand at this level of travel; "" when it does not say. */
static void extension_of(const struct bulletin *b, int level, char *buf, size_t room)
{
    char amount[CLI_AMOUNT_SIZE];
    buf[0] = '\0';
    for (size_t i = 0; b != NULL && i < b->points.n; i++) {
        const struct bulletin_point *point = &b->points.at[i];
        for (size_t k = 0; k < point->factors.n; k++)
            if (point->extension.is_given && strcmp(point->factors.at[k].factor, "travel") == 0 &&
                point->factors.at[k].level == level)
                (void)snprintf(buf, room, "%s out",
                               cli_amount(point->extension.nano, point->extension.unit, amount));
    }
}

int svg_true(struct cli *ctx, const char *path, const struct problem *problem,
             const struct truing_answer *answer, enum unit unit, const struct bulletin *b)
{
    struct text verdict = {0}, svg = {0};
    struct fault f = {0};
    char in[CLI_AMOUNT_SIZE + 8], out[CLI_AMOUNT_SIZE + 8];
    int code = CLI_FAILED;
    verdict_of(problem, answer, unit, &verdict);
    extension_of(b, -1, in, sizeof in);
    extension_of(b, 1, out, sizeof out);
    const struct plot_true order = {
        .problem = problem,
        .answer = answer,
        .unit = unit,
        .verdict = verdict.data != NULL ? verdict.data : "",
        .title = problem->title,
        .travel = {in[0] != '\0' ? in : NULL, out[0] != '\0' ? out : NULL},
        .caution = "Before anything is loosened: support what it holds, make the supply safe "
                   "against coming back, keep everyone "
                   "out of what can move or fall. The maker's instructions come first.",
        .is_invented = b != NULL && b->head.is_invented,
    };
    if (verdict.is_broken || plot_true(&order, &svg, &f) != ERR_OK)
        code = failed(ctx, &f);
    else
        code = save(ctx, path, &svg);
    text_done(&verdict);
    text_done(&svg);
    return code;
}

/* ---- cut -------------------------------------------------------------------------------------- */

static struct plot_cut_rack rack_of(const struct cut_job *job, size_t i)
{
    const struct bulletin_rack *source = cut_job_source(job, i);
    const bool is_lower = source->keep == BULLETIN_END_LOWER;
    const bool has_upper =
        source->relief == BULLETIN_RELIEF_UPPER || source->relief == BULLETIN_RELIEF_BOTH;
    const bool has_lower =
        source->relief == BULLETIN_RELIEF_LOWER || source->relief == BULLETIN_RELIEF_BOTH;
    return (struct plot_cut_rack){
        .rack = job->kits.racks[job->need.rack[i]],
        .piece = cut_job_piece(job, i),
        .answer = &job->answer.kits[job->answer.chosen].racks[i],
        .kept_end = source->keep == BULLETIN_END_NONE ? "either end"
                    : is_lower                        ? "lower"
                                                      : "upper",
        .other_end = source->keep == BULLETIN_END_NONE ? ""
                     : is_lower                        ? "upper"
                                                       : "lower",
        .is_kept_relieved = is_lower ? has_lower : has_upper,
        .is_other_relieved = is_lower ? has_upper : has_lower,
    };
}

int svg_cut(struct cli *ctx, const char *path, const struct cut_job *job)
{
    struct plot_cut_rack racks[CUT_RACKS_MAX];
    struct text verdict = {0}, title = {0}, svg = {0};
    struct fault f = {0};
    int code = CLI_FAILED;
    if (job->answer.chosen < 0 || job->asks_again || job->need.n_racks == 0)
        return CLI_GOOD; /* the answer has said why there is nothing to draw */
    const struct bulletin_kit *kit = &job->b->kits.at[job->answer.chosen];
    const int n_cuts = job->answer.kits[job->answer.chosen].n_cuts;
    for (size_t i = 0; i < job->need.n_racks; i++)
        racks[i] = rack_of(job, i);
    if (n_cuts > 0)
        text_printf(&verdict, "Kit %s: %d to cut.", kit->number[0] != '\0' ? kit->number : kit->id,
                    n_cuts);
    else
        text_printf(&verdict, "Kit %s: nothing to cut.",
                    kit->number[0] != '\0' ? kit->number : kit->id);
    text_printf(&title, "%s, station %s: %s", job->b->head.id, job->station->id,
                job_text(job->b, &kit->name));
    const struct plot_cut order = {
        .verdict = verdict.data != NULL ? verdict.data : "",
        .title = title.data != NULL ? title.data : "",
        .caution = "Clamp the piece on both sides of the line, guard down, eyes and hands "
                   "protected; let the blade stop before you "
                   "reach in. The saw maker's instructions come first.",
        .blade_says = job_text(job->b, &job->b->cut.blade_says),
        .racks = racks,
        .n_racks = job->need.n_racks,
        .show = job->show,
        .is_invented = job->b->head.is_invented,
    };
    if (verdict.is_broken || title.is_broken || plot_cut(&order, &svg, &f) != ERR_OK)
        code = failed(ctx, &f);
    else
        code = save(ctx, path, &svg);
    text_done(&verdict);
    text_done(&title);
    text_done(&svg);
    return code;
}
