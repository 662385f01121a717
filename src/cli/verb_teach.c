/* verb_teach: the bulletin on paper to teach by. Owns the call; what stands on cards and crib is draw/teach. */
#include "base/file.h"
#include "cli/job.h"
#include "cli/on_paper.h"
#include "cli/verbs.h"
#include "desk/pictures.h"
#include "desk/teaching.h"

#include <stdlib.h>
#include <string.h>

struct teach_job {
    struct on_paper paper;
    struct teach_order order;
    struct teach_made made;
    const char *path; /* of the bulletin: its pictures lie beside it */
};

/* ---- the call --------------------------------------------------------------------------------- */

static void beside(void *me, const char *file, struct teach_picture *ret)
{
    const struct teach_job *job = me;
    const char *path = job->path, *slash = strrchr(path, '/');
    struct text name = {0}, bytes = {0};
    struct fault f = {0};
    *ret = (struct teach_picture){0};
    if (strcmp(path, "-") == 0)
        return; /* nothing lies beside standard input */
    text_printf(&name, "%.*s%s", slash != NULL ? (int)(slash - path + 1) : 0, path, file);
    if (name.data != NULL && file_read(name.data, PICTURE_MAX, &bytes, &f) == ERR_OK)
        teaching_picture(&bytes, ret);
    text_done(&bytes);
    text_done(&name);
}

static int take_args(struct cli *ctx, struct teach_job *job, const struct cli_arg *args, int n)
{
    const char *per_page = cli_value(args, n, "--per-page");
    const int code = on_paper_take(ctx, args, n, "cards.pdf", &job->paper);
    if (code != CLI_GOOD)
        return code;
    const bool is_crib = cli_has(args, n, "--crib"), has_back = cli_has(args, n, "--back");
    if (is_crib && (per_page != NULL || has_back))
        return cli_error(ctx,
                         "found --crib with --per-page or --back; expected these with cards only");
    if (per_page != NULL && strcmp(per_page, "4") != 0 && strcmp(per_page, "2") != 0)
        return cli_error(ctx, "--per-page: found '%.40s'; expected 4 or 2", per_page);
    for (int i = 0; i < n; i++)
        if (args[i].name == NULL)
            job->path = args[i].value;
    job->order.language = job->paper.language;
    job->order.kind = is_crib ? TEACH_CRIB : TEACH_CARDS;
    job->order.size = job->paper.size;
    job->order.per_page = per_page != NULL && per_page[0] == '2' ? 2 : 4;
    job->order.has_back = has_back;
    job->order.made_s = job->paper.made_s;
    job->order.picture = beside;
    job->order.me = job;
    return CLI_GOOD;
}

/* ---- the answer ------------------------------------------------------------------------------- */

static void tell(const void *me, struct jsonw *w)
{
    const struct teach_job *job = me;
    const bool is_crib = job->order.kind == TEACH_CRIB;
    jsonw_string(w, "kind", is_crib ? "crib" : "cards");
    jsonw_int(w, "pages", job->made.n_pages);
    jsonw_int(w, "cards", job->made.n_cards);
    jsonw_int(w, "pictures", job->made.n_pictures);
    jsonw_int(w, "other_language", (int64_t)job->made.n_other_language);
    jsonw_double(w, "body_pt", job->made.body_pt);
}

static void say(struct cli *ctx, const void *me)
{
    const struct teach_job *job = me;
    if (job->order.kind == TEACH_CRIB)
        cli_verdict(ctx, CLI_STRONG, "%s: one page, %s, texts in %.1f pt.", job->paper.out,
                    on_paper_name(&job->paper), job->made.body_pt);
    else
        cli_verdict(ctx, CLI_STRONG, "%s: %d cards on %d pages, %s.", job->paper.out,
                    job->made.n_cards, job->made.n_pages, on_paper_name(&job->paper));
    job_head(ctx, job->order.b);
    if (job->order.has_back)
        cli_verdict(ctx, CLI_ACT,
                    "Print on both sides, turned along the long edge, at 100 %%; then cut.");
    else if (job->order.kind == TEACH_CARDS)
        cli_verdict(ctx, CLI_ACT, "Print at 100 %% and cut along the broken lines.");
    if (job->made.n_other_language > 0)
        cli_verdict(ctx, CLI_ACT,
                    "%zu texts are not in the bulletin in that language; each is marked.",
                    job->made.n_other_language);
    job_foot(ctx, job->order.b);
}

static int refuse(struct cli *ctx, enum err e, const struct fault *f)
{
    (void)cli_fault(ctx, f);
    if (e == ERR_UNKNOWN) /* no font: this machine's lack, not the call's */
        return CLI_FAILED;
    return e == ERR_MEMORY ? CLI_FAILED : CLI_NO;
}

static int run_with(struct cli *ctx, const struct bulletin *b, void *zeroed,
                    const struct cli_arg *args, int n)
{
    struct teach_job *job = zeroed;
    struct text pdf = {0};
    struct fault f = {0};
    job->order.b = b;
    int code = take_args(ctx, job, args, n);
    if (code != CLI_GOOD)
        return code;
    const enum err e = teach_make(&job->order, &pdf, &job->made, &f);
    code = e != ERR_OK ? refuse(ctx, e, &f)
                       : on_paper_answer(ctx, &job->paper, b, &pdf, job, tell, say);
    text_done(&pdf);
    return code;
}

static int run_teach(struct cli *ctx, int argc, char **argv)
{
    return job_run(ctx, &verb_teach, argc, argv, sizeof(struct teach_job), run_with);
}

static const struct cli_option options[] = {
    {"-o", "FILE", "the PDF to write; - for standard output", false},
    {"--crib", NULL, "all that is looked up, on one page, in place of the cards", false},
    {"--paper", "a4|letter", "the paper; else A4", false},
    {"--language", "TAG", "en, es, fr or any that the bulletin has; else the bulletin's own",
     false},
    {"--per-page", "4|2", "cards to a page; else 4", false},
    {"--back", NULL, "cards with backs: a page of questions after each page of cards", false},
    {NULL, NULL, NULL, false},
};

const struct cli_verb verb_teach = {
    .name = "teach",
    .line = "the bulletin on paper to teach by: step cards, or all on one page",
    .call = "teach BULLETIN -o FILE [--crib] [--paper a4|letter] [--language TAG] [--per-page 4|2] "
            "[--back]",
    .about =
        "Writes step cards as PDF, one step a card: its number, the dangers in their frame before "
        "the act, what to look at first, the act in the bulletin's words, what is read and between "
        "which limits, the picture, why, and with what. Four cards lie on a page, or two, with "
        "broken lines to cut along. With --back each page is followed by the backs of its cards, "
        "placed for printing on both sides turned along the long edge: the number, the title and "
        "what to ask before the card is turned.\n"
        "\n"
        "With --crib it writes one page: what is in and how labels are read, kits, the cut, "
        "timing, "
        "the limits at each corner, what moves what, other limits, proof. It shrinks as far as "
        "letters of 7 pt and drops nothing; a bulletin that does not fit is refused, with the "
        "parts "
        "that take most.\n"
        "\n"
        "Our own words are in English, Spanish and French. A text that the bulletin does not have "
        "in "
        "the language asked for is printed in its own and marked, such as [en]. Pictures are PNG "
        "or "
        "JPEG beside the bulletin; of an SVG the words are printed.\n"
        "\n"
        "Exit 0 when the file is written; 1 when the bulletin has no steps or does not fit on one "
        "page; 2 when the bulletin or the call cannot be read; 3 when the file cannot be written "
        "or "
        "the machine has no font.",
    .example = "  $ mendwright teach examples/FR-26-11.yaml --crib --paper letter -o crib.pdf\n"
               "  [=] crib.pdf: one page, Letter, texts in ...\n"
               "      FR-26-11 revision 1: Loading ramp LR - hinge bushes wear and walk out\n"
               "  ...",
    .options = options,
    .run = run_teach,
};
