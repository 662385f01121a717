/* job: owns how verbs open a bulletin and read "ID=VALUE" options against it; see job.h. */
#include "cli/job.h"

#include "cli/amount.h"

#include <stdlib.h>
#include <string.h>

static int refuse_bulletin(const struct cli *ctx, const char *path, const struct fault_list *faults)
{
    if (faults->is_out_of_memory || faults->n_faults == 0) {
        cli_error(ctx, "%.200s: memory ran out", path);
        return CLI_FAILED;
    }
    struct fault first = faults->faults[0];
    size_t more = faults->n_faults - 1 + faults->n_more_faults;
    size_t used = strlen(first.message);
    if (more > 0)
        snprintf(first.message + used, sizeof first.message - used,
                 " (and %zu more; `mendwright check` lists them)", more);
    int code = cli_fault(ctx, &first);
    return first.code == ERR_MEMORY ? code : CLI_WRONG;
}

struct bulletin *job_bulletin(const struct cli *ctx, const struct cli_arg *args, int n,
                              int *ret_code)
{
    const char *path = NULL;
    *ret_code = CLI_WRONG;
    for (int i = 0; i < n; i++) {
        if (args[i].name != NULL)
            continue;
        if (path != NULL) {
            cli_error(ctx, "found '%.80s' beside '%.80s'; expected one bulletin", args[i].value,
                      path);
            return NULL;
        }
        path = args[i].value;
    }
    if (path == NULL) {
        cli_error(ctx, "found no bulletin; expected its file, such as OV-26-03.yaml");
        return NULL;
    }
    struct fault_list faults = {0};
    struct bulletin *b = bulletin_load_file(path, &faults);
    if (b == NULL)
        *ret_code = refuse_bulletin(ctx, path, &faults);
    fault_list_done(&faults);
    return b;
}

struct bulletin *job_bulletin_text(const struct cli *ctx, const char *text, size_t n,
                                   const char *name, int *ret_code)
{
    struct fault_list faults = {0};
    struct bulletin *b = bulletin_load(text, n, name, &faults);
    if (b == NULL)
        *ret_code = refuse_bulletin(ctx, name, &faults);
    fault_list_done(&faults);
    return b;
}

int job_run(struct cli *ctx, const struct cli_verb *verb, int argc, char **argv, size_t size,
            job_work *work)
{
    struct cli_arg args[CLI_ARGS_MAX];
    int code = CLI_WRONG;
    const int n = cli_options(ctx, verb, argc, argv, args);
    if (n < 0)
        return CLI_WRONG;
    struct bulletin *b = job_bulletin(ctx, args, n, &code);
    if (b == NULL)
        return code;
    void *job = calloc(1, size);
    if (job == NULL) {
        cli_error(ctx, "memory ran out");
        code = CLI_FAILED;
    } else {
        code = work(ctx, b, job, args, n);
    }
    free(job);
    bulletin_free(b);
    return code;
}

void job_unknown(const struct cli *ctx, const char *what, const char *word,
                 const char *const *known, size_t n)
{
    char hint[200] = "expected ";
    for (size_t i = 0; i < n; i++) {
        size_t used = strlen(hint);
        snprintf(hint + used, sizeof hint - used, "%s%.40s",
                 i == 0       ? ""
                 : i + 1 == n ? " or "
                              : ", ",
                 known[i]);
    }
    cli_error_near(ctx, what, word, known, n, hint);
}

int job_station(const struct cli *ctx, const struct bulletin *b, const char *id)
{
    const char *known[BULLETIN_STATIONS_MAX];
    size_t n = 0;
    for (size_t i = 0; i < b->scope.stations.n && i < BULLETIN_STATIONS_MAX; i++) {
        if (strcmp(b->scope.stations.at[i].id, id) == 0)
            return (int)i;
        known[n++] = b->scope.stations.at[i].id;
    }
    job_unknown(ctx, "station", id, known, n);
    return -1;
}

bool job_split(const struct cli *ctx, const struct cli_arg *arg, const char *like, char *id,
               const char **ret_value)
{
    const char *equals = strchr(arg->value, '=');
    if (equals == NULL || equals == arg->value || equals[1] == '\0') {
        cli_error(ctx, "%s '%.80s': expected %s", arg->name, arg->value, like);
        return false;
    }
    size_t size = (size_t)(equals - arg->value);
    if (size >= JOB_ID_MAX) {
        cli_error(ctx, "%s '%.80s...': a name of more than %d bytes", arg->name, arg->value,
                  JOB_ID_MAX - 1);
        return false;
    }
    memcpy(id, arg->value, size);
    id[size] = '\0';
    *ret_value = equals + 1;
    return true;
}

static bool is_inches(enum unit unit)
{
    return unit == UNIT_IN || unit == UNIT_FT;
}

/* The LENGTH of the first `option` ID=LENGTH; NULL when there is none. */
static const char *first_length(const struct cli_arg *args, int n, const char *option)
{
    for (int i = 0; i < n; i++) {
        const char *equals = args[i].name != NULL && strcmp(args[i].name, option) == 0
                                 ? strchr(args[i].value, '=')
                                 : NULL;
        if (equals != NULL)
            return equals + 1;
    }
    return NULL;
}

bool job_units(const struct cli *ctx, const struct cli_arg *args, int n, const char *option,
               enum unit written, enum unit *ret_bare, enum unit *ret_show)
{
    const char *wanted = cli_value(args, n, "--show"), *first = first_length(args, n, option);
    struct quantity q;
    size_t at = 0;
    *ret_bare = is_inches(written) ? UNIT_IN : UNIT_MM;
    *ret_show = *ret_bare;
    if (wanted == NULL) {
        if (first != NULL && quantity_parse(first, strlen(first), *ret_bare, &q, &at) == ERR_OK &&
            q.dim == DIM_LENGTH)
            *ret_show = is_inches(q.unit) ? UNIT_IN : UNIT_MM;
        return true;
    }
    if (strcmp(wanted, "in") != 0 && strcmp(wanted, "mm") != 0) {
        cli_error(ctx, "--show '%.80s': expected in or mm", wanted);
        return false;
    }
    *ret_show = wanted[0] == 'i' ? UNIT_IN : UNIT_MM;
    return true;
}

bool job_length(const struct cli *ctx, const char *option, const char *text, enum unit bare,
                bool is_signed, int64_t *ret_nm)
{
    /* A kilometre is far beyond any rack, and its sums are far from any overflow. */
    const int64_t most = (int64_t)1000 * 1000 * 1000 * 1000;
    if (cli_read_amount(ctx, option, text, bare, ret_nm) != 0)
        return false;
    if (*ret_nm > most || *ret_nm < -most) {
        cli_error(ctx, "%s '%.80s': more than a kilometre", option, text);
        return false;
    }
    if (!is_signed && *ret_nm <= 0) {
        cli_error(ctx, "%s '%.80s': expected a length greater than 0", option, text);
        return false;
    }
    return true;
}

const char *job_text(const struct bulletin *b, const struct bulletin_text *text)
{
    return bulletin_text_in(b, text, b->head.language);
}

void job_head(struct cli *ctx, const struct bulletin *b)
{
    cli_say(ctx, 4, "%s revision %d: %s", b->head.id, (int)b->head.revision,
            job_text(b, &b->head.title));
}

void job_foot(struct cli *ctx, const struct bulletin *b)
{
    if (!b->head.is_invented)
        return;
    text_putc(&ctx->out, '\n');
    cli_say(ctx, 4, "This bulletin is invented, for teaching and testing. Repair nothing by it.");
}

void job_json_head(struct jsonw *w, const struct bulletin *b)
{
    jsonw_string(w, "bulletin", b->head.id);
    jsonw_int(w, "revision", b->head.revision);
    jsonw_bool(w, "invented", b->head.is_invented);
}

enum { SAID_MAX = 12 };

/* The same caution may stand at several steps; it is said once. */
static bool is_said(const char *const *said, size_t n, const char *text)
{
    for (size_t i = 0; i < n; i++)
        if (strcmp(said[i], text) == 0)
            return true;
    return false;
}

static bool has_word(const char *id, const char *const *words)
{
    for (size_t i = 0; words[i] != NULL; i++)
        if (strstr(id, words[i]) != NULL)
            return true;
    return false;
}

/* Says the cautions of the steps with these words in their ids (NULL: of every step); returns how many. */
static size_t say_cautions(struct cli *ctx, const struct bulletin *b, unsigned hazards,
                           const char *const *words)
{
    const char *said[SAID_MAX];
    size_t n = 0;
    for (size_t i = 0; i < b->steps.n; i++) {
        const struct bulletin_step *step = &b->steps.at[i];
        if (words != NULL && !has_word(step->id, words))
            continue;
        for (size_t k = 0; k < step->cautions.n && n < SAID_MAX; k++) {
            const char *text = job_text(b, &step->cautions.at[k].text);
            if ((hazards >> step->cautions.at[k].hazard & 1U) == 0 || is_said(said, n, text))
                continue;
            cli_say(ctx, 2, "%s (step %s): %s", bulletin_hazard_name(step->cautions.at[k].hazard),
                    step->id, text);
            said[n++] = text;
        }
    }
    return n;
}

void job_cautions(struct cli *ctx, const struct bulletin *b, unsigned hazards,
                  const char *const *words, const char *otherwise, const char *always)
{
    const struct text *out = &ctx->out;
    if (out->size < 2 || memcmp(out->data + out->size - 2, "\n\n", 2) != 0)
        text_putc(&ctx->out, '\n'); /* one empty line, whatever came before */
    cli_rule(ctx, 2, ctx->columns - 4);
    cli_say(ctx, 2, "CAUTION");
    size_t n = say_cautions(ctx, b, hazards, words);
    if (n == 0)
        n = say_cautions(ctx, b, hazards, NULL);
    if (n == 0 && otherwise != NULL)
        cli_say(ctx, 2, "%s", otherwise);
    cli_say(ctx, 2, "%s", always);
    cli_rule(ctx, 2, ctx->columns - 4);
}
