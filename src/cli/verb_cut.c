/* verb_cut: which kit, where to mark, on which side of the line to saw. */
#include "cli/cut_job.h"
#include "cli/job.h"
#include "cli/svg.h"
#include "cli/verbs.h"

#include <string.h>

/* ---- the call ---- */

static bool take_rack(const struct cli *ctx, struct cut_job *job, const struct cli_arg *arg,
                      const char *option)
{
    char id[JOB_ID_MAX];
    const char *text = NULL;
    if (!job_split(ctx, arg, "ID=LENGTH, such as inboard=1203.5", id, &text))
        return false;
    int rack = adapt_rack(&job->kits, id);
    if (rack < 0) {
        cli_error_near(ctx, "rack", id, job->kits.racks, job->kits.n_racks,
                       job->kits.n_racks > 0 ? "the bulletin's kits name other racks"
                                             : "the bulletin's kits hold no racks");
        return false;
    }
    for (size_t i = 0; i < job->need.n_racks; i++) {
        if (job->need.rack[i] == rack) {
            cli_error(ctx, "%s is given twice for %s", option, id);
            return false;
        }
    }
    if (job->need.n_racks == CUT_RACKS_MAX) {
        cli_error(ctx, "more than %d racks", (int)CUT_RACKS_MAX);
        return false;
    }
    size_t n = job->need.n_racks;
    if (!job_length(ctx, option, text, job->bare, false, &job->need.needed_nm[n]))
        return false;
    job->need.rack[n] = rack;
    job->need.n_racks++;
    return true;
}

static int find_attribute(const struct cli *ctx, const struct bulletin *b, const char *id)
{
    const char *known[KIT_ATTRIBUTES_MAX];
    size_t n = 0;
    for (size_t i = 0; i < b->scope.attributes.n && i < KIT_ATTRIBUTES_MAX; i++) {
        if (strcmp(b->scope.attributes.at[i].id, id) == 0)
            return (int)i;
        known[n++] = b->scope.attributes.at[i].id;
    }
    cli_error_near(ctx, "attribute", id, known, n,
                   n > 0 ? "the bulletin lists its attributes under scope"
                         : "the bulletin has none");
    return -1;
}

static bool take_with(const struct cli *ctx, struct cut_job *job, const struct cli_arg *arg)
{
    char id[JOB_ID_MAX];
    const char *value = NULL;
    if (!job_split(ctx, arg, "ATTRIBUTE=VALUE, such as relief=upper", id, &value))
        return false;
    int i = find_attribute(ctx, job->b, id);
    if (i < 0)
        return false;
    const struct bulletin_attribute *attribute = &job->b->scope.attributes.at[i];
    int index = adapt_value(attribute, value);
    if (index == KIT_ANY) {
        job_unknown(ctx, id, value, attribute->values.at, attribute->values.n);
        return false;
    }
    if (job->need.values[i] != KIT_ANY && job->need.values[i] != index) {
        cli_error(ctx, "--with %s=%.40s: station %s has %s", id, value, job->station->id,
                  attribute->values.at[job->need.values[i]]);
        return false;
    }
    job->need.values[i] = index;
    return true;
}

static bool take_args(const struct cli *ctx, struct cut_job *job, const struct cli_arg *args, int n,
                      const char *option)
{
    const char *station = cli_value(args, n, "--station");
    if (station == NULL) {
        cli_error(ctx, "found no --station; expected the station to cut for");
        return false;
    }
    int index = job_station(ctx, job->b, station);
    if (index < 0)
        return false;
    job->station = &job->b->scope.stations.at[index];
    job->need.station = index;
    adapt_station_values(job->b, job->station, job->need.values);
    enum unit written = job->b->kits.n > 0 && job->b->kits.at[0].racks.n > 0
                            ? job->b->kits.at[0].racks.at[0].stock.unit
                            : UNIT_MM;
    if (!job_units(ctx, args, n, option, written, &job->bare, &job->show))
        return false;
    for (int i = 0; i < n; i++) {
        if (args[i].name == NULL)
            continue;
        if (strcmp(args[i].name, option) == 0 && !take_rack(ctx, job, &args[i], option))
            return false;
        if (strcmp(args[i].name, "--with") == 0 && !take_with(ctx, job, &args[i]))
            return false;
    }
    if (job->need.n_racks == 0 && job->kits.n_racks > 0) {
        cli_error(ctx,
                  "found no %s; expected the measured length of each rack, such as %s %s=1203.5",
                  option, option, job->kits.racks[0]);
        return false;
    }
    return true;
}

static int exit_of(const struct cut_job *job)
{
    if (job->answer.chosen < 0)
        return job->answer.open != 0 ? CLI_PERSON : CLI_NO;
    return job->asks_again ? CLI_PERSON : CLI_GOOD;
}

static void compare_lengths(struct cut_job *job)
{
    int group[CUT_RACKS_MAX] = {0}; /* all racks of a station are one group */
    job->asks_again = cut_remeasure(job->need.needed_nm, group, job->need.n_racks,
                                    job->need.u.tape_nm, job->kits.remeasure_factor, &job->pair);
}

int cut_job_fill(const struct cli *ctx, const struct bulletin *b, struct cut_job *job,
                 const struct cli_arg *args, int n, const char *option)
{
    struct fault f = {0};
    size_t at = 0;
    job->b = b;
    if (job->b->kits.n == 0)
        return cli_error(ctx, "%s has no kits", job->b->head.id);
    if (adapt_kits(job->b, &job->kits, &f) != ERR_OK)
        return cli_fault(ctx, &f);
    if (!take_args(ctx, job, args, n, option))
        return CLI_WRONG;
    job->need.u = job->kits.u;
    enum err e = kit_choose(job->kits.kits, job->kits.n_kits, job->kits.n_attributes, &job->need,
                            &job->answer, &at);
    if (e != ERR_OK)
        return cli_error(ctx, "the lengths cannot be used: %s", err_text(e));
    compare_lengths(job);
    return CLI_GOOD;
}

static int run_with(struct cli *ctx, const struct bulletin *b, void *zeroed,
                    const struct cli_arg *args, int n)
{
    struct cut_job *job = zeroed;
    const int code = cut_job_fill(ctx, b, job, args, n, "--rack");
    if (code != CLI_GOOD)
        return code;
    if (ctx->is_json)
        cut_json(ctx, job);
    else
        cut_words(ctx, job);
    const char *svg = cli_value(args, n, "--svg");
    const int drawn = svg != NULL ? svg_cut(ctx, svg, job) : CLI_GOOD;
    return drawn == CLI_GOOD ? exit_of(job) : drawn;
}

static int run_cut(struct cli *ctx, int argc, char **argv)
{
    return job_run(ctx, &verb_cut, argc, argv, sizeof(struct cut_job), run_with);
}

static const struct cli_option options[] = {
    {"--station", "ID", "the station to cut for", false},
    {"--rack", "ID=LENGTH",
     "the measured length of one rack; any unit of length, else the bulletin's", true},
    {"--with", "ATTR=VALUE", "what was seen on the unit, such as relief=upper", true},
    {"--show", "in|mm",
     "show lengths in inches or millimetres; else as the first length was written", false},
    {"--svg", "FILE", "also draw the racks to proportion, with mark, blade and offcut", false},
    {NULL, NULL, NULL, false},
};

const struct cli_verb verb_cut = {
    .name = "cut",
    .line = "which kit does this station take, and where are its racks cut?",
    .call = "cut BULLETIN --station ID --rack ID=LENGTH [...] [--with ATTR=VALUE ...]",
    .about = "Chooses the kit by what the station and you say of it and by the measured lengths, "
             "and tells why each other kit is "
             "not it. A ready-made piece that fits goes over a cut; then the least offcut; then "
             "the bulletin's order. Ready-made "
             "pieces are never cut, a piece relieved at both ends is not cut, one relieved at one "
             "end is cut at the other.\n"
             "\n"
             "For each rack to cut: the mark from the kept end, the side of the line on which the "
             "blade goes, the offcut, and where "
             "in the tooth the cut falls. When the racks of the station differ by more than the "
             "tape explains, measure again "
             "before anything is cut.\n"
             "\n"
             "Exit 0 when a kit can do it; 1 when none can; 4 when a second measurement is asked "
             "for, or an attribute that "
             "decides is not told; 2 when the bulletin or the call cannot be read.",
    .example = "  $ mendwright cut examples/OV-26-03.yaml --station fore --with relief=upper "
               "--rack inboard=1203.5mm --rack outboard=1204mm\n"
               "  [>] Kit left-upper for fore, number OV-K31-LU.\n"
               "      Why: hand left, relief upper; 2 to cut, offcut in all 549.3 mm.\n"
               "      OV-26-03 revision 2: Wall drive WD - racks slip out of step\n"
               "\n"
               "      rack         needed    stock       mark  from     kerf    offcut  tooth\n"
               "      -----------------------------------------------------------------------\n"
               "      inboard   1203.5 mm  1480 mm  1203.5 mm  upper  1.6 mm  274.9 mm   0.74\n"
               "      outboard  1204 mm    1480 mm  1204 mm    upper  1.6 mm  274.4 mm   0.81\n"
               "\n"
               "      inboard\n"
               "      upper (keep)                                                         lower\n"
               "      [__vvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvv|#.............]\n"
               "                        blade on the waste side, mark 1203.5 mm ^>\n"
               "\n"
               "      outboard\n"
               "      upper (keep)                                                         lower\n"
               "      [__vvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvvv|#.............]\n"
               "                          blade on the waste side, mark 1204 mm ^>\n"
               "  ...\n",
    .options = options,
    .run = run_cut,
};
