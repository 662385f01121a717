/* readings: owns the text of readings, from the call and from lists, and what is said when a line
 * is not right; see readings.h. */
#include "cli/readings.h"

#include "base/file.h"
#include "cli/amount.h"
#include "cli/job.h"

#include <string.h>

/* Where a point was read first, for the message when it is read again. */
struct source {
    bool is_given;
    int line; /* 0: by the call */
};

struct taking {
    const struct cli *ctx;
    const struct bulletin *b;
    struct adapt_reading *readings;
    struct source source[BULLETIN_POINTS_MAX];
};

enum { PLACE_MAX = FAULT_FILE_MAX + 32 };

/* Index of a point; -1 after cli_error_near. place: "FILE:3: " or "". */
static int find_point(const struct taking *t, const char *place, const char *id)
{
    const char *known[BULLETIN_POINTS_MAX];
    char what[PLACE_MAX + 8], hint[120];
    size_t n = 0;
    for (size_t i = 0; i < t->b->points.n && i < BULLETIN_POINTS_MAX; i++) {
        if (strcmp(t->b->points.at[i].id, id) == 0)
            return (int)i;
        known[n++] = t->b->points.at[i].id;
    }
    if (n == 0) {
        cli_error(t->ctx, "%spoint '%.80s' is not known: the bulletin has no points", place, id);
        return -1;
    }
    snprintf(what, sizeof what, "%spoint", place);
    snprintf(hint, sizeof hint, "expected one of the bulletin's %zu points, such as %.48s", n,
             known[0]);
    cli_error_near(t->ctx, what, id, known, n, hint);
    return -1;
}

static int check_range(const struct taking *t, const char *name, const char *text, double nano,
                       enum unit unit)
{
    if (nano <= (double)TRUING_AMOUNT_MAX && nano >= -(double)TRUING_AMOUNT_MAX)
        return CLI_GOOD;
    return cli_error(t->ctx, "%s: found %.80s; expected at most %.10g %s either way", name, text,
                     quantity_to_double(TRUING_AMOUNT_MAX, unit), quantity_unit_name(unit));
}

/* One reading; line 0: from the call. */
static int take_reading(struct taking *t, const char *place, const char *id, const char *text,
                        int line)
{
    char name[PLACE_MAX + JOB_ID_MAX];
    const int i = find_point(t, place, id);
    if (i < 0)
        return CLI_WRONG;
    if (t->source[i].is_given && t->source[i].line > 0)
        return cli_error(t->ctx,
                         "%sfound a second reading of %s, first in line %d; expected one a point",
                         place, id, t->source[i].line);
    if (t->source[i].is_given)
        return cli_error(t->ctx,
                         "%sfound a second reading of %s, first by --reading; expected one a point",
                         place, id);
    const struct bulletin_point *point = &t->b->points.at[i];
    struct adapt_reading *reading = &t->readings[i];
    snprintf(name, sizeof name, "%s%s", *place != '\0' ? place : "--reading ", id);
    int code = cli_read_amount(t->ctx, name, text, point->nominal.unit, &reading->nano);
    if (code == CLI_GOOD)
        code = check_range(t, name, text, (double)reading->nano, point->nominal.unit);
    if (code != CLI_GOOD)
        return code;
    t->source[i] = (struct source){true, line};
    reading->is_given = true;
    reading->u = adapt_point_u(t->b, point);
    return CLI_GOOD;
}

/* ---- lists ---- */

static bool is_blank(char c)
{
    return c == ' ' || c == '\t' || c == '\r';
}

/* Cuts comment and blanks off; returns where the rest begins. */
static char *trim(char *line)
{
    for (char *at = line; *at != '\0'; at++)
        if (*at == '#' && (at == line || is_blank(at[-1])))
            *at = '\0';
    size_t n = strlen(line);
    while (n > 0 && is_blank(line[n - 1]))
        line[--n] = '\0';
    while (is_blank(*line))
        line++;
    return line;
}

/* "POINT VALUE" or "POINT=VALUE", in place; not empty, not beginning with '='. false when there is
 * no value. */
static bool split(char *line, char **ret_value)
{
    char *at = line + strcspn(line, "= \t");
    const size_t id_size = (size_t)(at - line);
    bool has_equals = false;
    while (is_blank(*at) || (*at == '=' && !has_equals)) {
        has_equals = has_equals || *at == '=';
        at++;
    }
    line[id_size] = '\0';
    *ret_value = at;
    return *at != '\0';
}

static int take_line(struct taking *t, const char *path, int number, const char *bytes, size_t n)
{
    char line[READINGS_LINE_MAX + 1], place[PLACE_MAX], *value = NULL;
    snprintf(place, sizeof place, "%.200s:%d: ", path, number);
    if (n > READINGS_LINE_MAX)
        return cli_error(t->ctx, "%sfound a line of %zu bytes; expected at most %d", place, n,
                         READINGS_LINE_MAX);
    if (!text_is_utf8(bytes, n, NULL))
        return cli_error(t->ctx, "%sfound bytes that are no text (UTF-8); expected POINT VALUE",
                         place);
    memcpy(line, bytes, n);
    line[n] = '\0';
    char *start = trim(line);
    if (*start == '\0')
        return CLI_GOOD;
    if (*start == '=')
        return cli_error(t->ctx, "%sfound '%.80s' without a point; expected POINT VALUE", place,
                         start);
    if (!split(start, &value))
        return cli_error(t->ctx, "%sfound '%.80s' without a value; expected POINT VALUE", place,
                         start);
    return take_reading(t, place, start, value, number);
}

static int take_lines(struct taking *t, const char *path, const struct text *list)
{
    const char *at = list->data, *end = list->data + list->size;
    size_t n_bad = 0;
    if (list->size >= 3 && memcmp(at, "\xEF\xBB\xBF", 3) == 0)
        at += 3;
    for (int number = 1; at < end; number++) {
        const char *feed = memchr(at, '\n', (size_t)(end - at));
        const size_t size = (size_t)((feed != NULL ? feed : end) - at);
        if (n_bad < READINGS_FAULTS_MAX) {
            n_bad += take_line(t, path, number, at, size) != CLI_GOOD;
        } else {
            cli_error(t->ctx, "%.200s: %d bad lines so far; the rest was not read", path,
                      READINGS_FAULTS_MAX);
            break;
        }
        at += size + (feed != NULL);
    }
    return n_bad > 0 ? CLI_WRONG : CLI_GOOD;
}

static int take_list(struct taking *t, const char *path)
{
    struct text list = {0};
    struct fault fault = {0};
    const enum err e = file_read(path, READINGS_SIZE_MAX, &list, &fault);
    int code = CLI_GOOD;
    if (e != ERR_OK) {
        code = cli_fault(t->ctx, &fault);
    } else if (list.data != NULL) {
        code = take_lines(t, path, &list);
    }
    text_done(&list);
    return code;
}

/* ---- the call ---- */

static int take_option(struct taking *t, const struct cli_arg *arg)
{
    char id[JOB_ID_MAX];
    const char *text = NULL;
    if (!job_split(t->ctx, arg, "POINT=VALUE, such as supply-load=12.6", id, &text))
        return CLI_WRONG;
    return take_reading(t, "", id, text, 0);
}

static int take_u(struct taking *t, const struct cli_arg *arg, bool *is_said)
{
    char id[JOB_ID_MAX], name[JOB_ID_MAX + 8];
    const char *text = NULL;
    if (!job_split(t->ctx, arg, "POINT=U, such as supply-load=0.05", id, &text))
        return CLI_WRONG;
    const int i = find_point(t, "", id);
    if (i < 0)
        return CLI_WRONG;
    if (is_said[i])
        return cli_error(t->ctx, "--u is given twice for %s; expected one", id);
    if (!t->readings[i].is_given)
        return cli_error(t->ctx, "--u is given for %s; expected a reading of it too", id);
    is_said[i] = true;
    const enum unit unit = t->b->points.at[i].nominal.unit;
    snprintf(name, sizeof name, "--u %s", id);
    const int code = cli_read_u(t->ctx, name, text, unit, &t->readings[i].u);
    return code == CLI_GOOD ? check_range(t, name, text, t->readings[i].u, unit) : code;
}

static bool is_option(const struct cli_arg *arg, const char *name)
{
    return arg->name != NULL && strcmp(arg->name, name) == 0;
}

int readings_take(const struct cli *ctx, const struct bulletin *b, const struct cli_arg *args,
                  int n, struct adapt_reading *ret)
{
    struct taking t = {.ctx = ctx, .b = b, .readings = ret};
    bool is_said[BULLETIN_POINTS_MAX] = {false}, is_any = false;
    int code = CLI_GOOD;
    memset(ret, 0, BULLETIN_POINTS_MAX * sizeof *ret);
    for (int i = 0; i < n && code == CLI_GOOD; i++)
        if (is_option(&args[i], "--reading"))
            code = take_option(&t, &args[i]);
    const char *list = cli_value(args, n, "--readings");
    if (code == CLI_GOOD && list != NULL)
        code = take_list(&t, list);
    for (int i = 0; i < n && code == CLI_GOOD; i++)
        if (is_option(&args[i], "--u"))
            code = take_u(&t, &args[i], is_said);
    for (size_t i = 0; i < b->points.n && i < BULLETIN_POINTS_MAX; i++)
        is_any = is_any || ret[i].is_given;
    if (code == CLI_GOOD && !is_any)
        return cli_error(ctx, "%s%sfound no readings; expected at least one POINT VALUE",
                         list != NULL ? list : "", list != NULL ? ": " : "");
    return code;
}
