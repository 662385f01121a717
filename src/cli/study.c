/* study: owns what kinds of study share on the command line: options, the way notes are said, figures that count. */
#include "cli/study.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- options ------------------------------------------------------------------------------- */

const char *study_option(const struct study_call *c, const char *name)
{
    const char *value = cli_value(c->args, c->n_args, name);
    return value == NULL && c->rows != NULL ? study_rows_value(c->rows, name) : value;
}

bool study_flag(const struct study_call *c, const char *name)
{
    return cli_has(c->args, c->n_args, name);
}

int study_need(const struct study_call *c, const char *name, const char *what, const char **ret)
{
    *ret = study_option(c, name);
    return *ret != NULL ? CLI_GOOD : cli_error(c->ctx, "found no %s; expected %s", name, what);
}

int study_option_number(const struct study_call *c, const char *name, double low, double high,
                        double *ret)
{
    const char *text = study_option(c, name);
    return text == NULL ? CLI_GOOD : cli_read_number(c->ctx, name, text, low, high, ret);
}

int study_option_whole(const struct study_call *c, const char *name, int64_t low, int64_t high,
                       int64_t *ret)
{
    double value = 0;
    const char *text = study_option(c, name);
    if (text == NULL)
        return CLI_GOOD;
    const int code = cli_read_number(c->ctx, name, text, (double)low, (double)high, &value);
    if (code != CLI_GOOD)
        return code;
    if (value != floor(value))
        return cli_error(c->ctx, "%s: found %.80s; expected a whole number", name, text);
    *ret = (int64_t)value;
    return CLI_GOOD;
}

int study_option_percent(const struct study_call *c, const char *name, double low, double high,
                         double *ret)
{
    double value = 0;
    const char *text = study_option(c, name);
    if (text == NULL)
        return CLI_GOOD;
    const int code = cli_read_number(c->ctx, name, text, low, high, &value);
    if (code == CLI_GOOD)
        *ret = value / 100;
    return code;
}

int study_option_unit(const struct study_call *c, const char *name, enum unit *ret)
{
    const char *text = study_option(c, name);
    return text == NULL ? CLI_GOOD : cli_read_unit(c->ctx, name, text, ret);
}

int study_read(struct study_call *c, const struct study_want *wants, size_t n_wants,
               struct study_table **ret)
{
    struct fault f = {0};
    const enum err e = c->rows != NULL
                           ? study_table_parse(c->rows->csv.data, c->rows->csv.size, c->file, wants,
                                               n_wants, ret, &f)
                           : study_table_read(c->file, wants, n_wants, &c->watch, ret, &f);
    progress_wipe(&c->progress);
    if (e == ERR_OK)
        return CLI_GOOD;
    (void)cli_fault(c->ctx, &f);
    return e == ERR_IO || e == ERR_MEMORY || e == ERR_BUSY ? CLI_FAILED : CLI_WRONG;
}

/* ---- answers ------------------------------------------------------------------------------- */

static bool is_answer(const struct fault *f)
{
    return f->line == 0 && (f->code == ERR_EMPTY || f->code == ERR_DOMAIN ||
                            f->code == ERR_IMPOSSIBLE || f->code == ERR_AMBIGUOUS);
}

int study_cannot(const struct study_call *c, const struct fault *f)
{
    if (!is_answer(f)) {
        (void)cli_fault(c->ctx, f);
        return f->code == ERR_IO || f->code == ERR_MEMORY || f->code == ERR_BUSY ? CLI_FAILED
                                                                                 : CLI_WRONG;
    }
    if (c->ctx->is_json) {
        struct jsonw w;
        jsonw_start(&w, &c->ctx->out);
        jsonw_object(&w, NULL);
        jsonw_string(&w, "cannot", f->message);
        jsonw_object_end(&w);
    }
    if (study_is_said(c->ctx))
        cli_verdict(c->ctx, CLI_QUIET, "The data cannot answer: %s.", f->message);
    if (!c->ctx->is_json && c->plot.path != NULL)
        cli_say(c->ctx, 4, "Nothing is drawn: %s is not written.", c->plot.path);
    return CLI_PERSON;
}

static bool add_notes(struct cli_table *t, const struct study_notes *notes, int kind)
{
    bool has_any = false;
    for (size_t i = 0; notes != NULL && i < notes->n; i++) {
        if ((int)notes->at[i].kind != kind)
            continue;
        has_any = true;
        cli_table_cell(t, CLI_PLAIN, "-");
        cli_table_cell(t, CLI_PLAIN, "%s", notes->at[i].text);
    }
    return has_any;
}

void study_say_notes(struct cli *ctx, const struct study_notes *notes)
{
    static const char *const heads[] = {"Assumed", "Checked", "Take care"};
    if (ctx->tap != NULL)
        return;
    for (int kind = STUDY_ASSUMED; kind <= STUDY_CAVEAT; kind++) {
        struct cli_table *t = cli_table_new("ll");
        const bool has_first = add_notes(t, ctx->first_notes, kind);
        if (add_notes(t, notes, kind) || has_first) {
            cli_say(ctx, 4, "%s:", heads[kind]);
            cli_table_print(t, ctx, 4);
        }
        cli_table_free(t);
    }
}

static void put_notes(struct jsonw *w, const struct study_notes *notes)
{
    for (size_t i = 0; notes != NULL && i < notes->n; i++) {
        jsonw_object(w, NULL);
        jsonw_string(w, "kind", study_note_word(notes->at[i].kind));
        jsonw_string(w, "text", notes->at[i].text);
        jsonw_object_end(w);
    }
}

void study_put_notes(const struct cli *ctx, struct jsonw *w, const struct study_notes *notes)
{
    jsonw_array(w, "assumptions");
    put_notes(w, ctx->first_notes);
    put_notes(w, notes);
    jsonw_array_end(w);
}

const char *study_figure(double value, int digits, char *buf)
{
    if (!isfinite(value)) {
        (void)snprintf(buf, CLI_AMOUNT_SIZE, "-");
        return buf;
    }
    if (value == 0 || fabs(value) >= 1e9 || fabs(value) < 1e-9) {
        (void)snprintf(buf, CLI_AMOUNT_SIZE, "%.*g", digits, value);
        return buf;
    }
    const int power = (int)floor(log10(fabs(value)));
    const int decimals = digits - 1 - power > 0 ? digits - 1 - power : 0;
    (void)snprintf(buf, CLI_AMOUNT_SIZE, "%.*f", decimals, value);
    if (strchr(buf, '.') != NULL) {
        size_t n = strlen(buf);
        while (buf[n - 1] == '0')
            n--;
        buf[buf[n - 1] == '.' ? n - 1 : n] = '\0';
    }
    return buf;
}

const char *study_p(double p, char *buf)
{
    if (p < 0.0001)
        (void)snprintf(buf, CLI_AMOUNT_SIZE, "<0.0001");
    else
        (void)study_figure(p, 2, buf);
    return buf;
}

void study_put(struct jsonw *w, const char *key, double value)
{
    if (isfinite(value))
        jsonw_double(w, key, value);
    else
        jsonw_null(w, key);
}

void study_put_interval(struct jsonw *w, const char *key, struct study_interval i)
{
    jsonw_array(w, key);
    if (i.is_known) {
        study_put(w, NULL, i.low);
        study_put(w, NULL, i.high);
    }
    jsonw_array_end(w);
}
