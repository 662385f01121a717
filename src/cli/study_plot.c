/* study_plot: owns the options of pictures and how they reach the disk. */
#include "cli/study_plot.h"

#include "base/save.h"
#include "core/date.h"

#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

enum { WIDTH = 720, SIDE_LEAST = 100 };

static bool read_side(const char *text, char **end, double *ret)
{
    if (*text < '0' || *text > '9')
        return false;
    *ret = strtod(text, end);
    return *ret >= SIDE_LEAST && *ret <= CHART_SIDE_MAX;
}

static int read_size(struct study_call *c, const char *text)
{
    char *end = NULL;
    if (read_side(text, &end, &c->plot.width) && *end == 'x' &&
        read_side(end + 1, &end, &c->plot.height) && *end == '\0')
        return CLI_GOOD;
    return cli_error(c->ctx,
                     "--plot-size: found %.40s; expected two sides from %d to %d, such as 720x480",
                     text, (int)SIDE_LEAST, (int)CHART_SIDE_MAX);
}

/* Before long work: whether there is a folder for the picture, and no folder in its place. What goes wrong later, the save tells. */
static int check_path(const struct study_call *c)
{
    char folder[PATH_MAX];
    struct stat about;
    const char *path = c->plot.path, *slash = strrchr(path, '/');
    const size_t n = slash != NULL ? (size_t)(slash - path) : 0;
    struct fault f = {.line = 0};
    if (strlen(path) >= sizeof folder)
        return cli_error(c->ctx, "--plot: found a path of %zu bytes; expected fewer than %d",
                         strlen(path), (int)PATH_MAX);
    (void)snprintf(folder, sizeof folder, "%.*s", (int)n, path);
    if (stat(n > 0           ? folder
             : slash != NULL ? "/"
                             : ".",
             &about) == 0 &&
        S_ISDIR(about.st_mode) && !(stat(path, &about) == 0 && S_ISDIR(about.st_mode)))
        return CLI_GOOD;
    (void)snprintf(f.file, sizeof f.file, "%s", path);
    (void)fault_set(&f, ERR_OPEN,
                    "cannot be made: its folder is not there, or it is a folder itself");
    (void)cli_fault(c->ctx, &f);
    return CLI_FAILED;
}

int study_plot_read(struct study_call *c)
{
    const char *date = study_option(c, "--plot-date"), *size = study_option(c, "--plot-size");
    int32_t day = 0;
    c->plot = (struct study_plot_order){.path = study_option(c, "--plot"), .date = date};
    if (c->plot.path == NULL) {
        if (date != NULL || size != NULL || study_option(c, "--time-unit") != NULL)
            return cli_error(c->ctx, "found %s without --plot; expected --plot FILE with it",
                             date != NULL   ? "--plot-date"
                             : size != NULL ? "--plot-size"
                                            : "--time-unit");
        return CLI_GOOD;
    }
    enum chart_format format = CHART_SVG;
    if (!chart_format_of(c->plot.path, &format))
        return cli_error(c->ctx,
                         "--plot: found '%.80s'; expected a file that ends in .svg, .png or .pdf",
                         c->plot.path);
    c->plot.format = (int)format;
    if (date != NULL && date_parse(date, strlen(date), &day) != ERR_OK)
        return cli_error(c->ctx, "--plot-date: found %.40s; expected a date such as 2026-03-05",
                         date);
    const int code = size != NULL ? read_size(c, size) : CLI_GOOD;
    return code == CLI_GOOD ? check_path(c) : code;
}

/* "days" is what the column's times are in; of "t_end" nobody knows. */
static const char *unit_of(struct study_call *c, const char *column)
{
    static const char *const units[] = {"seconds", "minutes", "hours", "days",
                                        "weeks",   "months",  "years", "km",
                                        "miles",   "cycles",  "runs",  "openings"};
    const char *given = study_option(c, "--time-unit");
    char name[CHART_NAME_SIZE];
    if (given == NULL && column == NULL)
        return NULL;
    for (size_t i = 0; i < sizeof units / sizeof *units; i++)
        if (given == NULL && strcmp(column, units[i]) == 0)
            return column;
    if (given != NULL)
        (void)snprintf(c->plot.unit, sizeof c->plot.unit, "%s", given);
    else
        (void)snprintf(c->plot.unit, sizeof c->plot.unit, "units of \"%s\"",
                       chart_cut(column, name));
    c->plot.unit[text_clean(c->plot.unit, strlen(c->plot.unit), false)] = '\0';
    return c->plot.unit;
}

struct study_chart_about study_plot_about(struct study_call *c, const char *time_column)
{
    /* Where the file lies on this machine is nobody's business who looks at the picture. */
    const char *slash = c->file != NULL ? strrchr(c->file, '/') : NULL;
    return (struct study_chart_about){.file = slash != NULL ? slash + 1 : c->file,
                                      .date = c->plot.date,
                                      .time_unit = unit_of(c, time_column)};
}

/* Both forms, or neither and why. */
static void into_memory(const struct study_plot_order *o, enum err made, struct study_chart *chart,
                        const struct fault *f)
{
    struct fault fault = *f;
    const double height = chart_height(&chart->chart, WIDTH);
    enum err e = made;
    if (e == ERR_OK)
        e = chart_file(&chart->chart, CHART_SVG, WIDTH, height, o->svg, &fault);
    if (e == ERR_OK)
        e = chart_file(&chart->chart, CHART_PNG, WIDTH, height, o->png, &fault);
    if (e != ERR_OK) {
        text_clear(o->svg);
        text_clear(o->png);
        *o->fault = fault;
    }
}

int study_plot_save(struct study_call *c, enum err made, struct study_chart *chart,
                    const struct fault *f, int code)
{
    struct text file = {0};
    struct fault fault = *f;
    if (c->plot.svg != NULL) {
        into_memory(&c->plot, made, chart, f);
        study_chart_done(chart);
        return code;
    }
    const double width = c->plot.width > 0 ? c->plot.width : WIDTH;
    const double height = c->plot.height > 0 ? c->plot.height : chart_height(&chart->chart, width);
    enum err e = made;
    if (e == ERR_OK)
        e = chart_file(&chart->chart, (enum chart_format)c->plot.format, width, height, &file,
                       &fault);
    if (e == ERR_OK)
        e = save_file(c->plot.path, file.data, file.size, &fault);
    text_done(&file);
    study_chart_done(chart);
    if (e != ERR_OK) {
        (void)cli_fault(c->ctx,
                        &fault); /* no font, no memory, no such folder: not the figures' fault */
        return CLI_FAILED;
    }
    if (!c->ctx->is_json)
        cli_say(c->ctx, 4, "Picture: %s, %g x %g points.", c->plot.path, width, height);
    return code;
}
