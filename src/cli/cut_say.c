/* cut_say: owns how the answer of the cut verb is said: as JSON, and in words with the rack drawn. */
#include "cli/cut_job.h"

#include "cli/amount.h"
#include "cli/draw.h"
#include "cli/job.h"

#include <math.h>
#include <string.h>

/* ---- what the answer says ---- */

static const char *chosen_id(const struct cut_job *job)
{
    return job->answer.chosen >= 0 ? job->b->kits.at[job->answer.chosen].id : NULL;
}

static void add_attribute(const struct cut_job *job, const struct kit_finding *f,
                          const struct bulletin_kit *kit, struct text *t)
{
    const struct bulletin_attribute *attribute = &job->b->scope.attributes.at[f->attribute];
    const char *has = "";
    for (size_t i = 0; i < kit->fits.n; i++)
        if (strcmp(kit->fits.at[i].key, attribute->id) == 0)
            has = kit->fits.at[i].value;
    int seen = job->need.values[f->attribute];
    if (f->reason == KIT_OPEN)
        text_printf(t, "it is for %s %s, which nobody has told", attribute->id, has);
    else
        text_printf(t, "it is for %s %s; this is %s", attribute->id, has,
                    seen == KIT_ANY ? "not told" : attribute->values.at[seen]);
}

static const struct cut_piece *piece_for(const struct cut_job *job, size_t kit, size_t rack,
                                         size_t *ret_piece)
{
    const struct kit *k = &job->kits.kits[kit];
    for (size_t i = 0; i < k->n_pieces; i++) {
        if (k->piece_rack[i] != job->need.rack[rack])
            continue;
        *ret_piece = i;
        return &k->pieces[i];
    }
    return NULL;
}

/* Why a kit was passed over, one sentence without full stop. */
static void why_not(const struct cut_job *job, size_t kit, struct text *t)
{
    const struct kit_finding *f = &job->answer.kits[kit];
    char buf[CUT_TEXT_MAX], length[CLI_AMOUNT_SIZE];
    size_t piece = 0;
    text_clear(t);
    switch (f->reason) {
    case KIT_ATTRIBUTE_DIFFERS:
    case KIT_OPEN:
        if (f->attribute >= 0)
            add_attribute(job, f, &job->b->kits.at[kit], t);
        else
            text_puts(t, "it would fit, but an attribute must be told first");
        break;
    case KIT_NO_PIECE:
        text_printf(t, "it holds no rack for %s", job->kits.racks[job->need.rack[f->rack]]);
        break;
    case KIT_PIECE_UNFIT:
        cut_status_text(piece_for(job, kit, (size_t)f->rack, &piece), &f->racks[f->rack], job->show,
                        buf, sizeof buf);
        text_printf(t, "%s: %s", job->kits.racks[job->need.rack[f->rack]], buf);
        break;
    case KIT_MORE_CUTS:
        text_printf(t, "it would fit, with %d more to cut",
                    f->n_cuts - job->answer.kits[job->answer.chosen].n_cuts);
        break;
    case KIT_MORE_OFFCUT:
        text_printf(t, "it would fit, with %s more offcut",
                    cli_amount(f->offcut_nm - job->answer.kits[job->answer.chosen].offcut_nm,
                               job->show, length));
        break;
    case KIT_LATER:
        text_puts(t, "it would fit as well, but stands later in the bulletin");
        break;
    case KIT_OTHER_STATION:
        text_puts(t, "it is for another station");
        break;
    case KIT_CHOSEN:
        break;
    }
}

static size_t count_fits(const struct cut_job *job)
{
    size_t n = 0;
    for (size_t k = 0; k < job->kits.n_kits; k++)
        n += job->answer.kits[k].fits;
    return n;
}

static void why(const struct cut_job *job, struct text *t)
{
    text_clear(t);
    if (job->answer.chosen < 0) {
        text_puts(t, job->answer.open != 0 ? "an attribute must be told before a kit can be chosen"
                                           : "no kit of this bulletin can do it");
        return;
    }
    const struct kit_finding *f = &job->answer.kits[job->answer.chosen];
    const struct bulletin_kit *kit = &job->b->kits.at[job->answer.chosen];
    char length[CLI_AMOUNT_SIZE];
    for (size_t i = 0; i < kit->fits.n; i++)
        text_printf(t, "%s%s %s", i > 0 ? ", " : "", kit->fits.at[i].key, kit->fits.at[i].value);
    text_puts(t, t->size > 0 ? "; " : "");
    if (job->need.n_racks == 0)
        text_puts(t, "chosen by its attributes");
    else if (f->n_cuts == 0)
        text_puts(t, "every rack fits as it is");
    else
        text_printf(t, "%d to cut, offcut in all %s%s", f->n_cuts,
                    cli_amount(f->offcut_nm, job->show, length),
                    count_fits(job) > 1 ? ", the best of the kits that fit" : "");
}

static const char *end_name(enum bulletin_end end)
{
    static const char *const names[] = {[BULLETIN_END_UPPER] = "upper",
                                        [BULLETIN_END_LOWER] = "lower",
                                        [BULLETIN_END_NONE] = "either"};
    return names[end];
}

const struct cut_piece *cut_job_piece(const struct cut_job *job, size_t rack)
{
    size_t piece = 0;
    return job->answer.chosen < 0 ? NULL : piece_for(job, (size_t)job->answer.chosen, rack, &piece);
}

const struct bulletin_rack *cut_job_source(const struct cut_job *job, size_t rack)
{
    size_t piece = 0;
    if (job->answer.chosen < 0 || piece_for(job, (size_t)job->answer.chosen, rack, &piece) == NULL)
        return NULL;
    return job->kits.pieces[job->answer.chosen][piece];
}

/* ---- JSON ---- */

static void json_rack(struct jsonw *w, const struct cut_job *job, size_t i)
{
    size_t piece = 0;
    const struct cut_answer *a = &job->answer.kits[job->answer.chosen].racks[i];
    const struct cut_piece *p = piece_for(job, (size_t)job->answer.chosen, i, &piece);
    bool is_cut = a->status == CUT_DO;
    char text[CUT_TEXT_MAX];
    jsonw_object(w, NULL);
    jsonw_string(w, "id", job->kits.racks[job->need.rack[i]]);
    jsonw_int(w, "needed_nm", a->needed_nm);
    jsonw_int(w, "stock_nm", a->stock_nm);
    jsonw_bool(w, "cut", is_cut);
    if (is_cut) {
        jsonw_int(w, "mark_nm", a->mark_nm);
        jsonw_string(w, "from_end", end_name(cut_job_source(job, i)->keep));
        jsonw_string(w, "blade_side", p->blade == CUT_BLADE_CENTRE ? "centre" : "waste");
        jsonw_int(w, "kerf_nm", a->kerf_nm);
        jsonw_int(w, "offcut_nm", a->offcut_nm);
        jsonw_int(w, "mark_u_nm", llrint(a->mark_u_nm));
    } else {
        static const char *const none[] = {"mark_nm", "from_end",  "blade_side",
                                           "kerf_nm", "offcut_nm", "mark_u_nm"};
        for (size_t k = 0; k < sizeof none / sizeof none[0]; k++)
            jsonw_null(w, none[k]);
    }
    if (is_cut && a->tooth_fraction >= 0)
        jsonw_double(w, "tooth_fraction", a->tooth_fraction);
    else
        jsonw_null(w, "tooth_fraction");
    jsonw_array(w, "warnings");
    for (int k = 0; k < CUT_WARNINGS_N; k++) {
        if ((a->warnings >> k & 1U) == 0)
            continue;
        cut_warning_text(p, a, (enum cut_warning)k, job->show, text, sizeof text);
        jsonw_string(w, NULL, text);
    }
    jsonw_array_end(w);
    jsonw_object_end(w);
}

static void json_remeasure(struct jsonw *w, const struct cut_job *job)
{
    jsonw_bool(w, "remeasure", job->asks_again);
    if (!job->asks_again)
        return;
    jsonw_object(w, "disagree");
    jsonw_array(w, "racks");
    jsonw_string(w, NULL, job->kits.racks[job->need.rack[job->pair.a]]);
    jsonw_string(w, NULL, job->kits.racks[job->need.rack[job->pair.b]]);
    jsonw_array_end(w);
    jsonw_int(w, "apart_nm", job->pair.apart_nm);
    jsonw_int(w, "allowed_nm", llrint(job->pair.allowed_nm));
    jsonw_object_end(w);
}

void cut_json(struct cli *ctx, const struct cut_job *job)
{
    struct jsonw w;
    struct text t = {0};
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    job_json_head(&w, job->b);
    jsonw_string(&w, "station", job->station->id);
    jsonw_string(&w, "kit", chosen_id(job));
    why(job, &t);
    jsonw_string(&w, "why", t.data);
    jsonw_array(&w, "not");
    for (size_t k = 0; k < job->kits.n_kits; k++) {
        if ((int)k == job->answer.chosen)
            continue;
        why_not(job, k, &t);
        jsonw_object(&w, NULL);
        jsonw_string(&w, "kit", job->b->kits.at[k].id);
        jsonw_string(&w, "why", t.data);
        jsonw_string(&w, "code", kit_reason_code(job->answer.kits[k].reason));
        jsonw_object_end(&w);
    }
    jsonw_array_end(&w);
    jsonw_array(&w, "racks");
    for (size_t i = 0; job->answer.chosen >= 0 && i < job->need.n_racks; i++)
        json_rack(&w, job, i);
    jsonw_array_end(&w);
    jsonw_array(&w, "ask");
    for (size_t i = 0; i < job->kits.n_attributes; i++)
        if ((job->answer.open >> i & 1U) != 0)
            jsonw_string(&w, NULL, job->b->scope.attributes.at[i].id);
    jsonw_array_end(&w);
    json_remeasure(&w, job);
    jsonw_int(&w, "tape_u_nm", llrint(job->kits.u.tape_nm));
    jsonw_object_end(&w);
    ctx->out.is_broken |= t.is_broken;
    text_done(&t);
}

/* ---- words ---- */

static void say_verdict(struct cli *ctx, const struct cut_job *job)
{
    struct text t = {0};
    char apart[CLI_AMOUNT_SIZE], allowed[CLI_AMOUNT_SIZE];
    if (job->asks_again)
        cli_verdict(
            ctx, CLI_STOP,
            "Measure again before you cut: %s and %s are %s apart, and the tape explains %s.",
            job->kits.racks[job->need.rack[job->pair.a]],
            job->kits.racks[job->need.rack[job->pair.b]],
            cli_amount(job->pair.apart_nm, job->show, apart),
            cli_amount(llrint(job->pair.allowed_nm / 1e4) * 10000, job->show, allowed));
    if (job->answer.chosen >= 0)
        cli_verdict(ctx, job->asks_again ? CLI_QUIET : CLI_ACT, "Kit %s for %s%s%s%s.",
                    chosen_id(job), job->station->id,
                    job->b->kits.at[job->answer.chosen].number[0] != '\0' ? ", number " : "",
                    job->b->kits.at[job->answer.chosen].number,
                    job->asks_again ? " - if the second measurement confirms these lengths" : "");
    else if (job->answer.open != 0)
        cli_verdict(ctx, CLI_QUIET, "The kit for %s is not settled yet.", job->station->id);
    else
        cli_verdict(ctx, CLI_STOP, "No kit of this bulletin can do %s. Cut nothing.",
                    job->station->id);
    why(job, &t);
    if (job->answer.chosen >= 0)
        cli_say(ctx, 4, "Why: %s.", t.data != NULL ? t.data : "");
    job_head(ctx, job->b);
    ctx->out.is_broken |= t.is_broken;
    text_done(&t);
}

static void say_rack_table(struct cli *ctx, const struct cut_job *job)
{
    static const char *const head[] = {"rack", "needed", "stock",  "mark",
                                       "from", "kerf",   "offcut", "tooth"};
    char needed[CLI_AMOUNT_SIZE], stock[CLI_AMOUNT_SIZE], mark[CLI_AMOUNT_SIZE],
        kerf[CLI_AMOUNT_SIZE], offcut[CLI_AMOUNT_SIZE];
    struct cli_table *t = cli_table_new("l...l..r");
    cli_table_head(t, head);
    for (size_t i = 0; i < job->need.n_racks; i++) {
        const struct cut_answer *a = &job->answer.kits[job->answer.chosen].racks[i];
        bool is_cut = a->status == CUT_DO;
        cli_table_cell(t, CLI_PLAIN, "%s", job->kits.racks[job->need.rack[i]]);
        cli_table_cell(t, CLI_PLAIN, "%s", cli_amount(a->needed_nm, job->show, needed));
        cli_table_cell(t, CLI_PLAIN, "%s", cli_amount(a->stock_nm, job->show, stock));
        cli_table_cell(t, CLI_ACT, "%s",
                       is_cut ? cli_amount(a->mark_nm, job->show, mark) : "no cut");
        cli_table_cell(t, CLI_PLAIN, "%s", is_cut ? end_name(cut_job_source(job, i)->keep) : "-");
        cli_table_cell(t, CLI_PLAIN, "%s", is_cut ? cli_amount(a->kerf_nm, job->show, kerf) : "-");
        cli_table_cell(t, CLI_PLAIN, "%s",
                       is_cut ? cli_amount(a->offcut_nm, job->show, offcut) : "-");
        if (is_cut && a->tooth_fraction >= 0)
            cli_table_cell(t, CLI_PLAIN, "%.2f", a->tooth_fraction);
        else
            cli_table_cell(t, CLI_PLAIN, "-");
    }
    text_putc(&ctx->out, '\n');
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
}

static void draw_rack_of(struct cli *ctx, const struct cut_job *job, size_t i)
{
    const struct bulletin_rack *r = cut_job_source(job, i);
    const struct cut_answer *a = &job->answer.kits[job->answer.chosen].racks[i];
    size_t piece = 0;
    const struct cut_piece *p = piece_for(job, (size_t)job->answer.chosen, i, &piece);
    char amount[CLI_AMOUNT_SIZE], says[CLI_AMOUNT_SIZE + 8];
    snprintf(says, sizeof says, "mark %s", cli_amount(a->mark_nm, job->show, amount));
    bool is_kept_lower = r->keep == BULLETIN_END_LOWER;
    bool is_upper_relieved =
        r->relief == BULLETIN_RELIEF_UPPER || r->relief == BULLETIN_RELIEF_BOTH;
    bool is_lower_relieved =
        r->relief == BULLETIN_RELIEF_LOWER || r->relief == BULLETIN_RELIEF_BOTH;
    const struct draw_rack d = {
        .kept_end = is_kept_lower ? "lower" : "upper",
        .other_end = is_kept_lower ? "upper" : "lower",
        .kept_relieved = is_kept_lower ? is_lower_relieved : is_upper_relieved,
        .other_relieved = is_kept_lower ? is_upper_relieved : is_lower_relieved,
        .cut = a,
        .blade = p->blade,
        .mark_says = says};
    text_putc(&ctx->out, '\n');
    cli_say(ctx, 4, "%s%s", job->kits.racks[job->need.rack[i]],
            a->status == CUT_DO ? "" : ": not cut, fits as it is");
    draw_cut(ctx, 4, &d);
}

static void say_warnings(struct cli *ctx, const struct cut_job *job)
{
    char text[CUT_TEXT_MAX];
    size_t piece = 0;
    for (size_t i = 0; i < job->need.n_racks; i++) {
        const struct cut_answer *a = &job->answer.kits[job->answer.chosen].racks[i];
        for (int k = 0; k < CUT_WARNINGS_N; k++) {
            if ((a->warnings >> k & 1U) == 0)
                continue;
            cut_warning_text(piece_for(job, (size_t)job->answer.chosen, i, &piece), a,
                             (enum cut_warning)k, job->show, text, sizeof text);
            cli_verdict(ctx, CLI_STOP, "%s: %s.", job->kits.racks[job->need.rack[i]], text);
        }
    }
}

/* Racks that the chosen kit also holds and that nobody has measured. */
static void say_missing(struct cli *ctx, const struct cut_job *job)
{
    const struct kit *k = &job->kits.kits[job->answer.chosen];
    for (size_t i = 0; i < k->n_pieces; i++) {
        bool is_asked = false;
        for (size_t r = 0; r < job->need.n_racks; r++)
            is_asked = is_asked || job->need.rack[r] == k->piece_rack[i];
        if (!is_asked)
            cli_verdict(ctx, CLI_ACT,
                        "The kit also holds %s: measure it too before you cut, so that the lengths "
                        "can be compared.",
                        job->kits.racks[k->piece_rack[i]]);
    }
}

static void say_uncertainty(struct cli *ctx, const struct cut_job *job)
{
    char edge[CLI_AMOUNT_SIZE], half[CLI_AMOUNT_SIZE];
    double u = cut_mark_u(&job->need.u);
    cli_amount(llrint(u / 1e4) * 10000, job->show, edge);
    cli_amount(ADAPT_BLADE_HALF_NM, job->show, half);
    cli_say(ctx, 4,
            "Standard uncertainty of the cut edge: %s (the tape twice by the bulletin's figures; "
            "the blade to the line taken as "
            "within %s, not measured).",
            edge, half);
}

static void say_how(struct cli *ctx, const struct cut_job *job)
{
    static const char always[] = "Clamp the piece on both sides of the line, guard down, eyes and "
                                 "hands protected; let the blade stop before you reach in. "
                                 "Deburr both faces: a burr damages the guide shoe (common "
                                 "practice). The saw maker's instructions come first.";
    static const char otherwise[] = "The steps of this bulletin state no caution for cutting.";
    const char *blade = job_text(job->b, &job->b->cut.blade_says);
    const char *measure = job_text(job->b, &job->b->cut.measure);
    static const char *const words[] = {"cut", "saw", "deburr", "rack", NULL};
    job_cautions(ctx, job->b, 1U << BULLETIN_HAZARD_CUTTING, words, otherwise, always);
    text_putc(&ctx->out, '\n');
    if (measure[0] != '\0')
        cli_verdict(ctx, CLI_ACT, "Measuring: %s", measure);
    if (blade[0] != '\0')
        cli_verdict(ctx, CLI_ACT, "Sawing: %s", blade);
}

static void say_others(struct cli *ctx, const struct cut_job *job)
{
    static const char *const head[] = {"kit", "why not"};
    struct text t = {0};
    struct cli_table *table = cli_table_new("ll");
    cli_table_head(table, head);
    size_t n = 0;
    for (size_t k = 0; k < job->kits.n_kits; k++) {
        if ((int)k == job->answer.chosen)
            continue;
        why_not(job, k, &t);
        cli_table_cell(table, CLI_PLAIN, "%s", job->b->kits.at[k].id);
        cli_table_cell(table, CLI_PLAIN, "%s", t.data != NULL ? t.data : "");
        n++;
    }
    text_putc(&ctx->out, '\n');
    if (n > 0)
        cli_table_print(table, ctx, 4);
    cli_table_free(table);
    ctx->out.is_broken |= t.is_broken;
    text_done(&t);
}

static void say_open(struct cli *ctx, const struct cut_job *job)
{
    for (size_t i = 0; i < job->kits.n_attributes; i++) {
        if ((job->answer.open >> i & 1U) == 0)
            continue;
        const struct bulletin_attribute *attribute = &job->b->scope.attributes.at[i];
        const char *ask = job_text(job->b, &attribute->ask);
        struct text values = {0};
        for (size_t k = 0; k < attribute->values.n; k++)
            text_printf(&values, "%s%s", k > 0 ? "|" : "", attribute->values.at[k]);
        cli_verdict(ctx, CLI_ACT, "%s%sTell it with --with %s=%s.", ask, ask[0] != '\0' ? " " : "",
                    attribute->id, values.data != NULL ? values.data : "");
        ctx->out.is_broken |= values.is_broken;
        text_done(&values);
    }
}

static void say_again(struct cli *ctx, const struct cut_job *job)
{
    static const char *const head[] = {"rack", "measured"};
    char needed[CLI_AMOUNT_SIZE];
    const char *measure = job_text(job->b, &job->b->cut.measure);
    struct cli_table *t = cli_table_new("l.");
    cli_table_head(t, head);
    for (size_t i = 0; i < job->need.n_racks; i++) {
        cli_table_cell(t, CLI_PLAIN, "%s", job->kits.racks[job->need.rack[i]]);
        cli_table_cell(t, CLI_PLAIN, "%s", cli_amount(job->need.needed_nm[i], job->show, needed));
    }
    text_putc(&ctx->out, '\n');
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
    text_putc(&ctx->out, '\n');
    if (measure[0] != '\0')
        cli_verdict(ctx, CLI_ACT, "Measuring: %s", measure);
    cli_verdict(ctx, CLI_ACT,
                "Call again with the new lengths. If they still differ, the racks do: ask the "
                "maker before anything is cut.");
}

void cut_words(struct cli *ctx, const struct cut_job *job)
{
    say_verdict(ctx, job);
    if (job->answer.chosen < 0) {
        text_putc(&ctx->out, '\n');
        say_open(ctx, job);
        if (job->answer.open == 0)
            cli_verdict(
                ctx, CLI_ACT,
                "Measure again and look again at what was told; if both stand, ask the maker.");
        say_others(ctx, job);
        job_foot(ctx, job->b);
        return;
    }
    if (job->asks_again) { /* no mark is shown that somebody might saw at */
        say_again(ctx, job);
        job_foot(ctx, job->b);
        return;
    }
    bool is_any_cut = job->answer.kits[job->answer.chosen].n_cuts > 0;
    if (job->need.n_racks > 0)
        say_rack_table(ctx, job);
    for (size_t i = 0; i < job->need.n_racks; i++)
        draw_rack_of(ctx, job, i);
    if (is_any_cut) {
        text_putc(&ctx->out, '\n');
        cli_say(ctx, 4,
                "[ ] ends, _ relief, v teeth kept, # kerf, . offcut; lengths to proportion, relief "
                "and kerf not to scale. "
                "\"tooth\" in the table: 0 is the middle of a gap, 0.5 of a tooth.");
        say_uncertainty(ctx, job);
        text_putc(&ctx->out, '\n');
    }
    say_warnings(ctx, job);
    say_missing(ctx, job);
    if (is_any_cut)
        say_how(ctx, job);
    say_others(ctx, job);
    job_foot(ctx, job->b);
}
