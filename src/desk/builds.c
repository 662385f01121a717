/* builds: owns what a row of the build list must be, and the way of the list into the store. */
#include "desk/builds.h"

#include "base/file.h"
#include "bulletin/values.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

enum { STEP_EVERY = 256 /* rows */ };

/* One way through the list. */
struct pass {
    struct csv *csv;
    int vin, station, label; /* columns */
    struct builds_row *rows; /* STORE_BUILDS_AT_ONCE; NULL: rows are only checked */
    struct store_build *builds;
    size_t n; /* rows held */
    builds_put *put;
    void *me;
    const struct store_progress *step;
    const char *what;
    uint64_t before, all; /* bytes */
    bool is_whole;        /* what is put is undone after a fault: there is no need to check first */
    struct builds_answer answer;
};

/* ---- a row --------------------------------------------------------------------------------- */

static enum err read_vin(struct pass *p, char ret[VIN_SIZE + 1], struct fault *f)
{
    struct vin_verdict v;
    const struct csv_field field = csv_at(p->csv, (size_t)p->vin);
    vin_check(field.at, field.n, &v);
    if (v.fault == VIN_FAULT_LENGTH)
        return csv_fault(p->csv, (size_t)p->vin, f, ERR_SYNTAX,
                         "found \"%.40s\"; expected a VIN of 17 characters", field.at);
    if (v.fault == VIN_FAULT_CHARACTER)
        return csv_fault(
            p->csv, (size_t)p->vin, f, ERR_SYNTAX,
            "found \"%.40s\"; expected a VIN: 17 letters and digits, without I, O and Q", field.at);
    memcpy(ret, v.vin, sizeof v.vin);
    if (v.fault == VIN_FAULT_NONE)
        return ERR_OK;
    if (p->answer.n_bad_checks++ == 0) {
        p->answer.first_bad_line = csv_line(p->csv);
        memcpy(p->answer.first_bad_vin, v.vin, sizeof v.vin);
    }
    return ERR_OK;
}

static enum err read_station(const struct pass *p, char ret[BUILDS_STATION_ROOM], struct fault *f)
{
    char why[FAULT_MESSAGE_MAX] = "";
    const struct csv_field field = csv_at(p->csv, (size_t)p->station);
    const enum err e = value_id(field.at, field.n, why);
    if (e == ERR_OK && field.n < BUILDS_STATION_ROOM) {
        memcpy(ret, field.at, field.n + 1);
        return ERR_OK;
    }
    if (why[0] != '\0')
        return csv_fault(p->csv, (size_t)p->station, f, e, "%s", why);
    return csv_fault(p->csv, (size_t)p->station, f, ERR_SYNTAX,
                     "found \"%.60s\"; expected a station's id: lower-case words with dashes",
                     field.at);
}

static enum err read_label(const struct pass *p, char ret[BUILDS_LABEL_MAX + 1], struct fault *f)
{
    const struct csv_field field = csv_at(p->csv, (size_t)p->label);
    if (field.n > BUILDS_LABEL_MAX)
        return csv_fault(p->csv, (size_t)p->label, f, ERR_LIMIT,
                         "found a label of %zu bytes; expected at most %d", field.n,
                         (int)BUILDS_LABEL_MAX);
    memcpy(ret, field.at, field.n + 1);
    if (text_clean(ret, field.n, false) != field.n || memcmp(ret, field.at, field.n) != 0)
        return csv_fault(p->csv, (size_t)p->label, f, ERR_ENCODING,
                         "found \"%s\"; expected one line of plain text", field.at);
    return ERR_OK;
}

enum err builds_row(struct csv *csv, int vin, int station, int label, struct builds_row *ret,
                    struct fault *reterr)
{
    struct pass p = {.csv = csv, .vin = vin, .station = station, .label = label};
    enum err e = read_vin(&p, ret->vin, reterr);
    if (e == ERR_OK)
        e = read_station(&p, ret->station, reterr);
    if (e == ERR_OK)
        e = read_label(&p, ret->label, reterr);
    ret->is_bad_check = p.answer.n_bad_checks > 0;
    return e;
}

static enum err flush(struct pass *p, struct fault *f)
{
    if (p->n == 0)
        return ERR_OK;
    for (size_t i = 0; i < p->n; i++)
        p->builds[i] =
            (struct store_build){.vin = p->rows[i].vin,
                                 .station = p->rows[i].station,
                                 .label = p->rows[i].label[0] != '\0' ? p->rows[i].label : NULL};
    const enum err e = p->put(p->me, p->builds, p->n, f);
    p->n = 0;
    return e;
}

static enum err read_row(struct pass *p, struct fault *f)
{
    struct builds_row unkept = {.vin = ""};
    struct builds_row *row = p->rows != NULL ? &p->rows[p->n] : &unkept;
    enum err e = read_vin(p, row->vin, f);
    if (e == ERR_OK)
        e = read_station(p, row->station, f);
    if (e == ERR_OK)
        e = read_label(p, row->label, f);
    if (e != ERR_OK)
        return e;
    p->answer.n_rows++;
    if (p->step != NULL && p->answer.n_rows % STEP_EVERY == 0)
        p->step->step(p->step->me, p->what, p->before + csv_bytes(p->csv), p->all);
    if (p->rows == NULL)
        return ERR_OK;
    return ++p->n == STORE_BUILDS_AT_ONCE ? flush(p, f) : ERR_OK;
}

/* ---- a pass -------------------------------------------------------------------------------- */

/* Everything in p->csv, which it closes. */
static enum err run_pass(struct pass *p, struct fault *f)
{
    bool is_row = true;
    enum err e = csv_need(p->csv, "vin", &p->vin, f);
    if (e == ERR_OK)
        e = csv_need(p->csv, "station", &p->station, f);
    if (e == ERR_OK)
        e = csv_need(p->csv, "label", &p->label, f);
    while (e == ERR_OK && is_row) {
        e = csv_next(p->csv, &is_row, f);
        if (e == ERR_OK && is_row)
            e = read_row(p, f);
    }
    if (e == ERR_OK && p->rows != NULL)
        e = flush(p, f);
    csv_close(p->csv);
    p->csv = NULL;
    return e;
}

/* Where the list comes from: a file that is read twice, or bytes. */
struct source {
    const char *path;
    const char *text; /* NULL: the file at path */
    size_t n;
};

static enum err open_source(const struct source *s, struct csv **ret, struct fault *f)
{
    return s->text != NULL ? csv_open(s->text, s->n, s->path, ret, f)
                           : csv_open_file(s->path, ret, f);
}

static enum err put_source(const struct source *s, struct pass *p, struct fault *f)
{
    p->rows = calloc(STORE_BUILDS_AT_ONCE, sizeof *p->rows);
    p->builds = calloc(STORE_BUILDS_AT_ONCE, sizeof *p->builds);
    p->what = "putting";
    p->before = p->is_whole ? 0 : p->all / 2;
    enum err e = p->rows != NULL && p->builds != NULL
                     ? open_source(s, &p->csv, f)
                     : fault_set(f, ERR_MEMORY, "memory ran out while reading the build list");
    if (e == ERR_OK)
        e = run_pass(p, f);
    free(p->rows);
    free(p->builds);
    return e;
}

static enum err check_rows(const struct source *s, const struct pass *p, struct fault *f)
{
    if (p->answer.n_rows > 0)
        return ERR_OK;
    snprintf(f->file, sizeof f->file, "%s", s->path);
    return fault_set(f, ERR_EMPTY,
                     "there is no unit in it; expected one or more lines below the first");
}

/* Checked first, then put; or both at once. */
static enum err read_source(const struct source *s, struct pass *p, struct fault *f)
{
    enum err e = ERR_OK;
    if (!p->is_whole) {
        p->what = "checking";
        e = open_source(s, &p->csv, f);
        if (e == ERR_OK)
            e = run_pass(p, f);
        if (e == ERR_OK)
            e = check_rows(s, p, f);
    }
    if (e == ERR_OK && p->put != NULL) {
        p->answer = (struct builds_answer){0};
        e = put_source(s, p, f);
    }
    if (e == ERR_OK)
        e = check_rows(s, p, f);
    return e;
}

enum err builds_read(const char *text, size_t n, const char *name, builds_put *put, void *me,
                     struct builds_answer *ret, struct fault *reterr)
{
    const struct source s = {name, n > 0 ? text : "", n};
    struct pass p = {.put = put, .me = me, .all = 2 * (uint64_t)n};
    struct fault f = {0};
    const enum err e = read_source(&s, &p, &f);
    if (e == ERR_OK)
        *ret = p.answer;
    else
        *reterr = f;
    return e;
}

/* ---- into the store ------------------------------------------------------------------------ */

struct target {
    struct store *store;
    int64_t now_ms;
};

static enum err put_batch(void *me, const struct store_build *rows, size_t n, struct fault *f)
{
    const struct target *t = me;
    return store_build_put(t->store, rows, n, t->now_ms, f);
}

static enum err put_all(struct store *store, const struct source *s, struct pass *p,
                        struct fault *f)
{
    struct fault ignored = {0};
    const bool may_be_whole = p->all <= 2 * (uint64_t)BUILDS_WHOLE_MAX;
    enum err e = store_builds_begin(store, may_be_whole, &p->is_whole, f);
    if (e == ERR_OK)
        e = read_source(s, p, f);
    const enum err end = store_builds_end(store, e == ERR_OK, e == ERR_OK ? f : &ignored);
    if (p->step != NULL && p->is_whole)
        p->step->step(p->step->me, p->what, p->all, p->all);
    return e != ERR_OK ? e : end;
}

enum err builds_take(struct store *store, const char *path, int64_t now_ms,
                     const struct store_progress *step, struct builds_answer *ret,
                     struct fault *reterr)
{
    struct target t = {store, now_ms};
    struct pass p = {.put = put_batch, .me = &t, .step = step};
    struct text whole = {0};
    struct stat st;
    struct fault f = {0};
    enum err e = ERR_OK;
    struct source s = {.path = path};
    if (strcmp(path, "-") != 0 && stat(path, &st) == 0 && S_ISREG(st.st_mode)) {
        p.all = 2 * (uint64_t)st.st_size;
    } else { /* cannot be read twice */
        e = file_read(path, BUILDS_PIPE_MAX, &whole, &f);
        s.text = whole.data != NULL ? whole.data : "";
        s.n = whole.size;
        p.all = 2 * (uint64_t)whole.size;
    }
    if (e == ERR_OK)
        e = put_all(store, &s, &p, &f);
    text_done(&whole);
    if (e == ERR_OK)
        *ret = p.answer;
    else
        *reterr = f;
    return e;
}
