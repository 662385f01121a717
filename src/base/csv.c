/* csv: owns the grammar of RFC 4180 (section 2, with LF taken for CRLF) and the place of each field. What fields mean is someone
 * else's.
 *
 * The source is a window of bytes [at, end); fill() moves it on. A record is copied out of it run by run, fields one after the
 * other, each closed by a NUL. */
#include "base/csv.h"

#include "base/file.h"
#include "base/suggest.h"

#include <assert.h>
#include <limits.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { CSV_BLOCK = 64 * 1024, CSV_NAME_SHOWN = 60 };

struct place {
    size_t at, n;
    int line, column;
};

struct record {
    struct text text;
    size_t n;
    struct place fields[CSV_COLUMNS_MAX];
    int line; /* where it began */
};

struct csv {
    char name[FAULT_FILE_MAX];
    const char *at, *end;
    uint64_t before; /* bytes of the source that lie before `end` */
    int fd;          /* -1: all of it is in the window from the start */
    char *block;
    int line;            /* of the byte at `at`, from 1 */
    uint64_t line_began; /* offset of that line's first byte */
    uint64_t row_began;  /* offset at which csv_next began */
    bool has_broken_off;
    struct fault
        fault; /* the file's name, the rest empty until a record is wrong: a row costs nothing for it */
    struct record head, row;
};

/* How a field ended. */
enum stop { STOP_FIELD, STOP_RECORD };

/* ---- the source ---------------------------------------------------------------------------- */

static uint64_t offset(const struct csv *csv)
{
    return csv->before - (uint64_t)(csv->end - csv->at);
}

/* Where the byte at `at` stands. */
static void here(const struct csv *csv, int *line, int *column)
{
    const uint64_t n = offset(csv) - csv->line_began;
    *line = csv->line;
    *column = n < INT_MAX ? (int)n + 1 : INT_MAX;
}

/* The byte at `at` was the end of a line and is now behind. */
static void count_line(struct csv *csv)
{
    csv->line += csv->line < INT_MAX;
    csv->line_began = offset(csv);
}

static enum err fault_at(struct fault *f, enum err code, int line, int column, const char *message)
{
    f->line = line;
    f->column = column;
    return fault_set(f, code, "%s", message);
}

static enum err fault_here(const struct csv *csv, struct fault *f, enum err code,
                           const char *message)
{
    int line = 0, column = 0;
    here(csv, &line, &column);
    return fault_at(f, code, line, column, message);
}

/* Makes the window hold at least one byte; *is_end when there is none. */
static enum err fill(struct csv *csv, bool *is_end, struct fault *f)
{
    *is_end = false;
    if (csv->at < csv->end)
        return ERR_OK;
    size_t n = 0;
    const enum err e = csv->fd >= 0 ? file_piece(csv->fd, csv->block, CSV_BLOCK, &n, f) : ERR_OK;
    if (e != ERR_OK)
        return e;
    *is_end = n == 0;
    if (n > 0) {
        csv->at = csv->block;
        csv->end = csv->block + n;
        csv->before += n;
    }
    return ERR_OK;
}

/* The next byte without going past it; -1 at the end. */
static enum err peek(struct csv *csv, int *ret, struct fault *f)
{
    bool is_end = false;
    const enum err e = fill(csv, &is_end, f);
    if (e == ERR_OK)
        *ret = is_end ? -1 : (unsigned char)*csv->at;
    return e;
}

/* ---- a field ------------------------------------------------------------------------------- */

static enum err fault_long(const struct csv *csv, struct fault *f, const struct place *open)
{
    if (open == NULL)
        return fault_here(csv, f, ERR_LIMIT,
                          "the record is longer than 1 MiB; expected a shorter one");
    return fault_at(f, ERR_LIMIT, open->line, open->column,
                    "the record is longer than 1 MiB from the quote that opens here; is its "
                    "closing quote missing?");
}

/* n bytes at `at` into the record. */
static enum err keep(struct csv *csv, struct record *r, size_t n, const struct place *open,
                     struct fault *f)
{
    if (r->text.size + n > CSV_RECORD_MAX)
        return fault_long(csv, f, open);
    text_add(&r->text, csv->at, n);
    csv->at += n;
    return r->text.is_broken ? fault_set(f, ERR_MEMORY, "memory ran out while reading") : ERR_OK;
}

/* What stands where a field or a record must end: a comma, CRLF, LF or the end of all. Goes past it. */
static enum err read_stop(struct csv *csv, enum stop *ret, const char *instead, struct fault *f)
{
    int c = -1;
    int line = 0, column = 0;
    enum err e = peek(csv, &c, f);
    if (e != ERR_OK)
        return e;
    *ret = c == ',' ? STOP_FIELD : STOP_RECORD;
    if (c < 0)
        return ERR_OK;
    here(csv, &line, &column);
    csv->at++;
    if (c == ',')
        return ERR_OK;
    if (c == '\r') {
        e = peek(csv, &c, f);
        if (e != ERR_OK)
            return e;
        if (c != '\n')
            return fault_at(f, ERR_SYNTAX, line, column,
                            "found a carriage return without a line feed; expected lines that end "
                            "in both, or in a "
                            "line feed");
        csv->at++;
    }
    if (c != '\n')
        return fault_at(f, ERR_SYNTAX, line, column, instead);
    count_line(csv);
    return ERR_OK;
}

static bool ends_bare(char c)
{
    return c == ',' || c == '\n' || c == '\r' || c == '"' || c == '\0';
}

static enum err read_bare(struct csv *csv, struct record *r, enum stop *stop, struct fault *f)
{
    for (;;) {
        bool is_end = false;
        enum err e = fill(csv, &is_end, f);
        size_t n = 0;
        if (e != ERR_OK)
            return e;
        while (csv->at + n < csv->end && !ends_bare(csv->at[n]))
            n++;
        e = keep(csv, r, n, NULL, f);
        if (e != ERR_OK)
            return e;
        if (csv->at == csv->end && !is_end)
            continue;
        if (!is_end && *csv->at == '"')
            return fault_here(csv, f, ERR_SYNTAX,
                              "found a quote inside a field that does not begin with one; expected "
                              "the whole field in "
                              "quotes and this one doubled");
        if (!is_end && *csv->at == '\0')
            return fault_here(csv, f, ERR_ENCODING, "found a NUL byte; expected text");
        return read_stop(csv, stop, "", f);
    }
}

/* Behind a quote inside quotes: it is doubled, or it closes the field. */
static enum err read_quote(struct csv *csv, struct record *r, const struct place *open,
                           bool *ret_closed, struct fault *f)
{
    int c = -1;
    csv->at++;
    const enum err e = peek(csv, &c, f);
    if (e != ERR_OK)
        return e;
    *ret_closed = c != '"';
    return c == '"' ? keep(csv, r, 1, open, f) : ERR_OK;
}

/* Inside quotes: up to and with a line feed, a quote, or the window's end. */
static enum err read_inside(struct csv *csv, struct record *r, const struct place *open,
                            bool *ret_closed, struct fault *f)
{
    bool is_end = false;
    enum err e = fill(csv, &is_end, f);
    if (e != ERR_OK)
        return e;
    if (is_end)
        return fault_at(f, ERR_SYNTAX, open->line, open->column,
                        "the quote that opens here is never closed");
    size_t n = 0;
    while (csv->at + n < csv->end && csv->at[n] != '"' && csv->at[n] != '\0' && csv->at[n] != '\n')
        n++;
    e = keep(csv, r, n, open, f);
    if (e != ERR_OK || csv->at == csv->end)
        return e;
    if (*csv->at == '\0')
        return fault_here(csv, f, ERR_ENCODING, "found a NUL byte; expected text");
    if (*csv->at == '"')
        return read_quote(csv, r, open, ret_closed, f);
    e = keep(csv, r, 1, open, f);
    count_line(csv);
    return e;
}

/* From behind the opening quote. */
static enum err read_quoted(struct csv *csv, struct record *r, const struct place *open,
                            enum stop *stop, struct fault *f)
{
    bool is_closed = false;
    enum err e = ERR_OK;
    while (e == ERR_OK && !is_closed)
        e = read_inside(csv, r, open, &is_closed, f);
    return e != ERR_OK
               ? e
               : read_stop(csv, stop,
                           "found more after the closing quote of a field; expected a comma or the "
                           "line's end (a quote inside a field is doubled)",
                           f);
}

static enum err check_text(const char *s, const struct place *p, struct fault *f)
{
    size_t bad = 0;
    if (text_is_utf8(s, p->n, &bad))
        return ERR_OK;
    f->line = p->line;
    f->column = p->column;
    return fault_set(f, ERR_ENCODING,
                     "found the byte 0x%02X after %zu others of this field; expected UTF-8 text",
                     (unsigned)(unsigned char)s[bad], bad);
}

static enum err read_field(struct csv *csv, struct record *r, enum stop *stop, struct fault *f)
{
    if (r->n == CSV_COLUMNS_MAX)
        return fault_here(csv, f, ERR_LIMIT, "found more than 256 fields in a record");
    struct place *p = &r->fields[r->n];
    int c = -1;
    *p = (struct place){.at = r->text.size};
    here(csv, &p->line, &p->column);
    enum err e = peek(csv, &c, f);
    if (e == ERR_OK && c == '"') {
        csv->at++;
        e = read_quoted(csv, r, p, stop, f);
    } else if (e == ERR_OK) {
        e = read_bare(csv, r, stop, f);
    }
    if (e != ERR_OK)
        return e;
    p->n = r->text.size - p->at;
    text_putc(&r->text, '\0');
    if (r->text.is_broken)
        return fault_set(f, ERR_MEMORY, "memory ran out while reading");
    e = check_text(r->text.data + p->at, p, f);
    r->n += e == ERR_OK;
    return e;
}

/* ---- a record ------------------------------------------------------------------------------ */

/* Past empty lines; *is_end when nothing comes after them. */
static enum err skip_empty(struct csv *csv, bool *is_end, struct fault *f)
{
    for (;;) {
        int c = -1;
        enum stop stop = STOP_RECORD;
        enum err e = peek(csv, &c, f);
        *is_end = c < 0;
        if (e != ERR_OK || (c != '\n' && c != '\r'))
            return e;
        e = read_stop(csv, &stop, "", f);
        if (e != ERR_OK)
            return e;
    }
}

static enum err read_record(struct csv *csv, struct record *r, bool *is_end, struct fault *f)
{
    enum err e = skip_empty(csv, is_end, f);
    enum stop stop = STOP_FIELD;
    r->n = 0;
    r->line = csv->line;
    text_clear(&r->text);
    while (e == ERR_OK && !*is_end && stop == STOP_FIELD)
        e = read_field(csv, r, &stop, f);
    return e;
}

/* ---- opening ------------------------------------------------------------------------------- */

static struct csv *csv_new(const char *name)
{
    struct csv *csv = calloc(1, sizeof *csv);
    if (csv == NULL)
        return NULL;
    snprintf(csv->name, sizeof csv->name, "%s", name);
    snprintf(csv->fault.file, sizeof csv->fault.file, "%s", csv->name);
    csv->fd = -1;
    csv->line = 1;
    return csv;
}

void csv_close(struct csv *csv)
{
    if (csv == NULL)
        return;
    if (csv->fd >= 0)
        file_close(csv->fd);
    text_done(&csv->head.text);
    text_done(&csv->row.text);
    free(csv->block);
    free(csv);
}

/* As many of the first bytes as needed, even when a pipe gives them one by one; the window is whole at the start. */
static enum err fill_start(struct csv *csv, size_t wanted, struct fault *f)
{
    size_t have = (size_t)(csv->end - csv->at), n = 1;
    while (csv->fd >= 0 && have < wanted && n > 0) {
        const enum err e = file_piece(csv->fd, csv->block + have, CSV_BLOCK - have, &n, f);
        if (e != ERR_OK)
            return e;
        have += n;
        csv->at = csv->block;
        csv->end = csv->block + have;
        csv->before = have;
    }
    return ERR_OK;
}

static bool begins(const struct csv *csv, const char *bytes, size_t n)
{
    return (size_t)(csv->end - csv->at) >= n && memcmp(csv->at, bytes, n) == 0;
}

static enum err read_mark(struct csv *csv, struct fault *f)
{
    const enum err e = fill_start(csv, 3, f);
    if (e != ERR_OK)
        return e;
    if (begins(csv, "\xFF\xFE", 2) || begins(csv, "\xFE\xFF", 2))
        return fault_here(csv, f, ERR_ENCODING, "begins like UTF-16; expected UTF-8 text");
    if (begins(csv, "\xEF\xBB\xBF", 3)) {
        csv->at += 3;
        csv->line_began = 3; /* columns are counted behind it */
    }
    return ERR_OK;
}

static enum err check_names(const struct csv *csv, struct fault *f)
{
    const size_t n = csv->head.n;
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k < i; k++) {
            if (strcmp(csv_column_name(csv, i), csv_column_name(csv, k)) != 0)
                continue;
            f->line = csv->head.fields[i].line;
            f->column = csv->head.fields[i].column;
            if (csv->head.fields[i].n == 0)
                return fault_set(f, ERR_DUPLICATE, "found two columns without a name, %zu and %zu",
                                 k + 1, i + 1);
            return fault_set(f, ERR_DUPLICATE, "found two columns \"%.*s\", %zu and %zu",
                             (int)CSV_NAME_SHOWN, csv_column_name(csv, i), k + 1, i + 1);
        }
    return ERR_OK;
}

static enum err read_head(struct csv *csv, struct csv **ret, struct fault *reterr)
{
    struct fault f = {0};
    bool is_end = false;
    snprintf(f.file, sizeof f.file, "%s", csv->name);
    enum err e = read_mark(csv, &f);
    if (e == ERR_OK)
        e = read_record(csv, &csv->head, &is_end, &f);
    if (e == ERR_OK && is_end)
        e = fault_set(&f, ERR_EMPTY,
                      "there is nothing in it; expected a first line with the columns' names");
    if (e == ERR_OK)
        e = check_names(csv, &f);
    if (e == ERR_OK) {
        *ret = csv;
        return ERR_OK;
    }
    csv_close(csv);
    *reterr = f;
    return e;
}

static enum err no_memory(const char *name, struct fault *reterr)
{
    *reterr = (struct fault){0};
    snprintf(reterr->file, sizeof reterr->file, "%s", name);
    return fault_set(reterr, ERR_MEMORY, "memory ran out while reading");
}

enum err csv_open(const char *text, size_t n, const char *name, struct csv **ret,
                  struct fault *reterr)
{
    struct csv *csv = csv_new(name);
    if (csv == NULL)
        return no_memory(name, reterr);
    csv->at = n > 0 ? text : "";
    csv->end = csv->at + n;
    csv->before = n;
    return read_head(csv, ret, reterr);
}

enum err csv_open_file(const char *path, struct csv **ret, struct fault *reterr)
{
    int fd = -1;
    uint64_t size = 0;
    const enum err e = file_open(path, SIZE_MAX, &fd, &size, reterr);
    if (e != ERR_OK)
        return e;
    struct csv *csv = csv_new(path);
    if (csv != NULL)
        csv->block = malloc(CSV_BLOCK);
    if (csv == NULL || csv->block == NULL) {
        csv_close(csv);
        file_close(fd);
        return no_memory(path, reterr);
    }
    csv->fd = fd;
    csv->at = csv->end = csv->block;
    return read_head(csv, ret, reterr);
}

/* ---- columns ------------------------------------------------------------------------------- */

size_t csv_columns(const struct csv *csv)
{
    return csv->head.n;
}

const char *csv_column_name(const struct csv *csv, size_t i)
{
    assert(i < csv->head.n);
    return csv->head.text.data + csv->head.fields[i].at;
}

int csv_column(const struct csv *csv, const char *name)
{
    for (size_t i = 0; i < csv->head.n; i++)
        if (strcmp(csv_column_name(csv, i), name) == 0)
            return (int)i;
    return -1;
}

/* A table by another separator has one column whose name holds all of them. */
static bool is_otherwise_parted(const struct csv *csv)
{
    return csv->head.n == 1 && strpbrk(csv_column_name(csv, 0), ";\t|") != NULL;
}

enum err csv_need(const struct csv *csv, const char *name, int *ret, struct fault *reterr)
{
    const char *names[CSV_COLUMNS_MAX];
    const int i = csv_column(csv, name);
    if (i >= 0) {
        *ret = i;
        return ERR_OK;
    }
    struct fault f = {.line = csv->head.line};
    struct text list = {0};
    snprintf(f.file, sizeof f.file, "%s", csv->name);
    for (size_t k = 0; k < csv->head.n; k++) {
        names[k] = csv_column_name(csv, k);
        text_printf(&list, "%s%.*s", k > 0 ? ", " : "", (int)CSV_NAME_SHOWN, names[k]);
    }
    const char *near = suggest_nearest(name, strlen(name), names, csv->head.n);
    const char *found = list.data != NULL ? list.data : "others";
    enum err e = ERR_EMPTY;
    if (is_otherwise_parted(csv))
        e = fault_set(&f, e, "no column \"%s\": found %s; expected commas between the columns",
                      name, found);
    else if (near != NULL)
        e = fault_set(&f, e, "no column \"%s\"; did you mean \"%.*s\"? Found %s", name,
                      (int)CSV_NAME_SHOWN, near, found);
    else
        e = fault_set(&f, e, "no column \"%s\"; found %s", name, found);
    text_done(&list);
    *reterr = f;
    return e;
}

/* ---- rows ---------------------------------------------------------------------------------- */

enum err csv_next(struct csv *csv, bool *ret_row, struct fault *reterr)
{
    struct fault *f = &csv->fault;
    bool is_end = false;
    struct record *r = &csv->row;
    if (csv->has_broken_off) {
        *f = (struct fault){.line = 0};
        snprintf(f->file, sizeof f->file, "%s", csv->name);
    }
    csv->row_began = csv->has_broken_off ? csv->row_began : offset(csv);
    enum err e = csv->has_broken_off
                     ? fault_set(f, ERR_SYNTAX, "reading broke off at an earlier fault")
                     : read_record(csv, r, &is_end, f);
    if (e == ERR_OK && !is_end && r->n != csv->head.n) {
        f->line = r->line;
        e = fault_set(f, ERR_SYNTAX,
                      "found %zu field%s; expected %zu, one for each column of the first line",
                      r->n, r->n == 1 ? "" : "s", csv->head.n);
    } else if (e != ERR_OK && !csv->has_broken_off && f->line > 0 && r->n < csv->head.n) {
        snprintf(f->path, sizeof f->path, "%s", csv_column_name(csv, r->n));
        f->path[text_clean(f->path, strlen(f->path), false)] = '\0';
    }
    if (e == ERR_OK) {
        *ret_row = !is_end;
        return ERR_OK;
    }
    csv->has_broken_off = true;
    r->n = 0;
    *reterr = *f;
    return e;
}

enum err csv_resume(struct csv *csv, struct fault *reterr)
{
    bool is_end = false;
    if (!csv->has_broken_off)
        return ERR_OK;
    csv->fault = (struct fault){.line = 0};
    snprintf(csv->fault.file, sizeof csv->fault.file, "%s", csv->name);
    /* At the begin of a line either the wrong record's end was read, or its first byte was wrong and nothing was. */
    bool is_stuck = offset(csv) == csv->row_began;
    while (is_stuck || offset(csv) != csv->line_began) {
        const enum err e = fill(csv, &is_end, reterr);
        if (e != ERR_OK)
            return e;
        if (is_end)
            break;
        const char *lf = memchr(csv->at, '\n', (size_t)(csv->end - csv->at));
        csv->at = lf != NULL ? lf + 1 : csv->end;
        is_stuck = is_stuck && lf == NULL;
        if (lf != NULL)
            count_line(csv);
    }
    csv->has_broken_off = false;
    return ERR_OK;
}

struct csv_field csv_at(const struct csv *csv, size_t i)
{
    assert(i < csv->row.n);
    const struct place *p = &csv->row.fields[i];
    return (struct csv_field){csv->row.text.data + p->at, p->n, p->column};
}

int csv_line(const struct csv *csv)
{
    return csv->row.line;
}

uint64_t csv_bytes(const struct csv *csv)
{
    return offset(csv);
}

enum err csv_fault(const struct csv *csv, size_t i, struct fault *f, enum err code, const char *fmt,
                   ...)
{
    char message[FAULT_MESSAGE_MAX];
    va_list ap;
    assert(i < csv->row.n);
    va_start(ap, fmt);
    vsnprintf(message, sizeof message, fmt, ap);
    va_end(ap);
    snprintf(f->file, sizeof f->file, "%s", csv->name);
    snprintf(f->path, sizeof f->path, "%s", csv_column_name(csv, i));
    f->path[text_clean(f->path, strlen(f->path), false)] = '\0';
    f->line = csv->row.fields[i].line;
    f->column = csv->row.fields[i].column;
    return fault_set(f, code, "%s", message);
}

/* ---- writing ------------------------------------------------------------------------------- */

static bool needs_quotes(bool is_first, const char *field, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (field[i] == ',' || field[i] == '"' || field[i] == '\r' || field[i] == '\n')
            return true;
    /* What looks like a byte order mark would be taken for one at the start of a file. */
    return is_first && n >= 3 && memcmp(field, "\xEF\xBB\xBF", 3) == 0;
}

void csv_put(struct text *out, bool is_first, const char *field, size_t n)
{
    if (!is_first)
        text_putc(out, ',');
    if (!needs_quotes(is_first, field, n)) {
        text_add(out, field, n);
        return;
    }
    text_putc(out, '"');
    for (size_t i = 0; i < n; i++) {
        if (field[i] == '"')
            text_putc(out, '"');
        text_putc(out, field[i]);
    }
    text_putc(out, '"');
}

void csv_put_end(struct text *out)
{
    /* A record never ends in a bare line feed, so one that does is the record before: this one is empty. */
    if (out->size == 0 || out->data[out->size - 1] == '\n')
        text_puts(out, "\"\"");
    text_puts(out, "\r\n");
}
