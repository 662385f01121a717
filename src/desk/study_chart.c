/* study_chart: owns the memory and the words that all pictures of studies have. */
#include "desk/study_chart_inner.h"

#include "base/text.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

enum { SAY_MAX = 2000 };

void study_chart_begin(struct study_chart *ret, enum chart_kind kind)
{
    *ret = (struct study_chart){.chart = {.kind = kind, .title = "", .how = ""}};
}

enum err study_chart_end(struct study_chart *c, struct fault *reterr)
{
    return c->arena.is_broken ? fault_no_memory(reterr) : ERR_OK;
}

void study_chart_done(struct study_chart *c)
{
    arena_done(&c->arena);
    *c = (struct study_chart){.chart = {.title = ""}};
}

const char *study_chart_say(struct study_chart *c, const char *fmt, ...)
{
    char buf[SAY_MAX];
    va_list ap;
    va_start(ap, fmt);
    (void)vsnprintf(buf, sizeof buf, fmt, ap);
    va_end(ap);
    const char *copy = arena_text(&c->arena, buf, text_clean(buf, strlen(buf), false));
    return copy != NULL ? copy : "";
}

double *study_chart_numbers(struct study_chart *c, size_t n)
{
    return n > SIZE_MAX / sizeof(double) ? NULL : arena_get(&c->arena, (n + 1) * sizeof(double));
}

/* "Assumed: one. two. Take care: three." */
static const char *assumed(struct study_chart *c, const struct study_notes *notes)
{
    static const char *const heads[] = {"Assumed: ", NULL, "Take care: "};
    char buf[SAY_MAX] = "";
    size_t used = 0;
    for (int kind = STUDY_ASSUMED; kind <= STUDY_CAVEAT; kind++) {
        bool has_any = heads[kind] == NULL;
        for (size_t i = 0; i < notes->n && heads[kind] != NULL; i++) {
            if ((int)notes->at[i].kind != kind || used >= sizeof buf - 1)
                continue;
            const int n = snprintf(buf + used, sizeof buf - used, "%s%s%s", used > 0 ? " " : "",
                                   has_any ? "" : heads[kind], notes->at[i].text);
            used = n > 0 && (size_t)n < sizeof buf - used ? used + (size_t)n : sizeof buf - 1;
            has_any = true;
        }
    }
    return study_chart_say(c, "%s", buf);
}

void study_chart_words(struct study_chart *c, const struct study_notes *notes,
                       const struct study_table *t, const struct study_chart_about *about)
{
    char rows[40] = "";
    const bool has_date = about->date != NULL && *about->date != '\0';
    if (t != NULL)
        (void)snprintf(rows, sizeof rows, ", %zu row%s", study_rows(t),
                       study_rows(t) == 1 ? "" : "s");
    c->chart.assumed = notes != NULL ? assumed(c, notes) : "";
    c->chart.source =
        study_chart_say(c, "Source: %s%s. %s%sDrawn by mendwright " MENDWRIGHT_VERSION ".",
                        about->file == NULL             ? "worked out from the plan, no file"
                        : strcmp(about->file, "-") == 0 ? "standard input"
                                                        : about->file,
                        rows, has_date ? about->date : "", has_date ? ". " : "");
}

const char *study_chart_unit(const struct study_chart_about *about)
{
    return about->time_unit != NULL ? about->time_unit : "";
}

const char *study_chart_figure(struct study_chart *c, double value, int digits)
{
    char buf[CHART_FIGURE_SIZE];
    return study_chart_say(c, "%s", chart_figure(value, digits, buf));
}

const char *study_chart_name(struct study_chart *c, const char *name)
{
    char buf[CHART_NAME_SIZE];
    return study_chart_say(c, "%s", chart_cut(name, buf));
}

const char *study_chart_p(struct study_chart *c, double p)
{
    return p < 0.0001 ? "<0.0001" : study_chart_figure(c, p, 2);
}
