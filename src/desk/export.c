/* export: owns the two forms in which the store's contents are given out. */
#include "desk/export.h"

#include "base/csv.h"
#include "base/jsonw.h"
#include "desk/bring.h"
#include "store/export.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

enum { PIECE = 64 * 1024 };

const char *const export_names[EXPORT_KINDS + 1] = {"units",   "claims", "stations", "readings",
                                                    "rulings", "awards", "payments", "failures",
                                                    "shops",   NULL};

int export_find(const char *name)
{
    int i = 0;
    while (i < EXPORT_KINDS && strcmp(export_names[i], name) != 0)
        i++;
    return i < EXPORT_KINDS ? i : -1;
}

struct writing {
    bool is_json, is_broken;
    struct text piece;
    export_put *put;
    void *me;
    int64_t n_rows;
};

static bool drain(struct writing *w, size_t least)
{
    if (w->piece.is_broken)
        w->is_broken = true;
    if (!w->is_broken && w->piece.size > least) {
        w->is_broken = !w->put(w->me, w->piece.data, w->piece.size);
        text_clear(&w->piece);
    }
    return !w->is_broken;
}

/* ---- a row ----------------------------------------------------------------------------------- */

static void put_text(struct text *record, bool is_first, const struct export_cell *c)
{
    struct text guarded = {0};
    if (c->n == 0 || strchr("=+-@\t\r", c->text[0]) == NULL) {
        csv_put(record, is_first, c->text, c->n);
        return;
    }
    text_putc(&guarded, '\'');
    text_add(&guarded, c->text, c->n);
    csv_put(record, is_first, guarded.data, guarded.size);
    record->is_broken |= guarded.is_broken;
    text_done(&guarded);
}

static void put_csv(struct text *record, int64_t row, const struct export_cell *cells, size_t n)
{
    char number[32];
    for (size_t i = 0; i < n; i++) {
        const struct export_cell *c = &cells[i];
        if (row < 0) {
            csv_put(record, i == 0, c->name, strlen(c->name));
        } else if (c->kind == EXPORT_INT) {
            const int k = snprintf(number, sizeof number, "%" PRId64, c->number);
            csv_put(record, i == 0, number, (size_t)k);
        } else if (c->kind == EXPORT_TEXT) {
            put_text(record, i == 0, c);
        } else {
            csv_put(record, i == 0, "", 0);
        }
    }
    csv_put_end(record);
}

static void put_json(struct text *out, int64_t row, const struct export_cell *cells, size_t n)
{
    struct jsonw w;
    if (row < 0) {
        text_puts(out, "[");
        return;
    }
    text_puts(out, row == 0 ? "\n" : ",\n");
    jsonw_start(&w, out);
    jsonw_object(&w, NULL);
    for (size_t i = 0; i < n; i++) {
        const struct export_cell *c = &cells[i];
        if (c->kind == EXPORT_INT)
            jsonw_int(&w, c->name, c->number);
        else if (c->kind == EXPORT_TEXT)
            jsonw_string_n(&w, c->name, c->text, c->n);
        else
            jsonw_null(&w, c->name);
    }
    jsonw_object_end(&w);
}

static bool put_row(void *me, int64_t row, const struct export_cell *cells, size_t n)
{
    struct writing *w = me;
    if (w->is_json) {
        put_json(&w->piece, row, cells, n);
    } else {
        struct text record = {0};
        put_csv(&record, row, cells, n);
        text_add(&w->piece, record.data, record.size);
        w->piece.is_broken |= record.is_broken;
        text_done(&record);
    }
    w->n_rows += row >= 0;
    return drain(w, PIECE);
}

/* ---- papers ---------------------------------------------------------------------------------- */

struct paper {
    struct writing *w;
    const struct bring_field *fields;
    bool is_found;
    enum err err;
    struct fault *fault;
};

static bool see_paper(void *me, const struct store_paper *p)
{
    struct paper *t = me;
    struct csv *csv = NULL;
    struct export_cell cells[BRING_FIELDS_MAX] = {{0}};
    size_t n = 0;
    int at[BRING_FIELDS_MAX];
    bool is_row = true, goes_on = true;
    t->is_found = true;
    t->err = csv_open(p->text, p->n, p->name, &csv, t->fault);
    for (; t->err == ERR_OK && t->fields[n].name != NULL; n++)
        at[n] = csv_column(csv, t->fields[n].name);
    for (int64_t row = 0; t->err == ERR_OK && goes_on; row++) {
        t->err = csv_next(csv, &is_row, t->fault);
        if (t->err != ERR_OK || !is_row)
            break;
        for (size_t i = 0; i < n; i++) {
            const struct csv_field field =
                at[i] >= 0 ? csv_at(csv, (size_t)at[i]) : (struct csv_field){"", 0, 0};
            cells[i] = (struct export_cell){.name = t->fields[i].name,
                                            .kind = field.n > 0 ? EXPORT_TEXT : EXPORT_NULL,
                                            .text = field.at,
                                            .n = field.n};
        }
        goes_on = put_row(t->w, row, cells, n);
    }
    csv_close(csv);
    return false;
}

/* A paper that is kept by its kind's own name, row by row under our columns; none: the head alone. */
static enum err write_paper(struct store *store, enum bring_kind kind, struct writing *w,
                            struct fault *f)
{
    const char *name = bring_kind_names[kind];
    struct export_cell head[BRING_FIELDS_MAX] = {{0}};
    struct paper t = {.w = w, .fields = bring_fields(kind), .fault = f};
    size_t n = 0;
    for (; t.fields[n].name != NULL; n++)
        head[n].name = t.fields[n].name;
    if (!put_row(w, -1, head, n))
        return ERR_OK;
    const enum err err = store_papers(store, name, name, true, see_paper, &t, f);
    return err == ERR_OK ? t.err : err;
}

enum err export_write(struct store *store, int what, bool is_json, export_put *put, void *me,
                      int64_t *ret_rows, struct fault *reterr)
{
    struct writing w = {.is_json = is_json, .put = put, .me = me};
    enum err err =
        what < EXPORT_TABLES
            ? store_export(store, (enum export_table)what, put_row, &w, reterr)
            : write_paper(store, what == EXPORT_TABLES ? BRING_FAILURES : BRING_SHOPS, &w, reterr);
    if (err == ERR_OK && is_json)
        text_puts(&w.piece, w.n_rows > 0 ? "\n]\n" : "]\n");
    if (err == ERR_OK && !drain(&w, 0))
        err = fault_set(reterr, w.piece.is_broken ? ERR_MEMORY : ERR_IO,
                        "what is given out cannot be written");
    text_done(&w.piece);
    *ret_rows = w.n_rows;
    return err;
}
