/* bring: owns the way of a list through its dry run: every row is looked at, faulty ones are gathered, good ones are held against what is
 * in the store; then, unless it was to be dry or a row is faulty, the list is put there by what the command line puts it there with. */
#include "desk/bring.h"

#include "base/csv.h"
#include "base/file.h"
#include "desk/bring_inner.h"
#include "desk/builds.h"
#include "desk/papers.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { STEP_EVERY = 512 /* rows */, PATH_ROOM = 1024, OUT_PIECE = 64 * 1024 };

/* ---- columns ------------------------------------------------------------------------------- */

static enum err find_columns(const struct bring_order *o, const struct csv *csv,
                             int ret[BRING_FIELDS_MAX], struct fault *f)
{
    const struct bring_field *fields = bring_fields(o->kind);
    for (int i = 0; i < BRING_FIELDS_MAX; i++)
        ret[i] = -1;
    for (int i = 0; fields[i].name != NULL; i++) {
        if (o->columns[i] == NULL && fields[i].is_needed)
            return fault_set(f, ERR_EMPTY, "no column is told for \"%s\"; expected one",
                             fields[i].name);
        if (o->columns[i] == NULL)
            continue;
        const enum err err = csv_need(csv, o->columns[i], &ret[i], f);
        if (err != ERR_OK)
            return err;
    }
    return ERR_OK;
}

/* Whether the file can be kept as it is: its columns have our names, and none that has one was left out. */
static bool is_ours(const struct bring_order *o, const struct csv *csv)
{
    const struct bring_field *fields = bring_fields(o->kind);
    for (int i = 0; fields[i].name != NULL; i++)
        if (o->columns[i] != NULL ? strcmp(o->columns[i], fields[i].name) != 0
                                  : csv_column(csv, fields[i].name) >= 0)
            return false;
    return true;
}

/* ---- every row once ------------------------------------------------------------------------ */

static enum err check_row(struct bring *b, struct fault *f)
{
    return b->order->kind == BRING_BUILDS ? bring_build_row(b, f) : bring_item_row(b, f);
}

static enum err step(const struct bring *b)
{
    const struct bring_order *o = b->order;
    if (b->n_rows % STEP_EVERY != 0)
        return ERR_OK;
    if (o->step != NULL)
        o->step->step(o->step->me, "checking", csv_bytes(b->csv), b->bytes);
    return o->is_stopped != NULL && o->is_stopped(o->me) ? ERR_BUSY : ERR_OK;
}

static bool ends_all(enum err err)
{
    return err == ERR_IO || err == ERR_MEMORY || err == ERR_BUSY;
}

/* One row: good, faulty (gathered), or the end. */
static enum err look_at_row(struct bring *b, bool *ret_row, struct fault *f)
{
    struct fault wrong = {0};
    b->at = csv_bytes(b->csv);
    enum err err = csv_next(b->csv, ret_row, &wrong);
    const bool is_read = err == ERR_OK;
    if (is_read && !*ret_row)
        return ERR_OK;
    if (ends_all(err)) {
        *f = wrong;
        return err;
    }
    if (!is_read) {
        err = csv_resume(b->csv, f);
        if (err != ERR_OK)
            return err;
    }
    if (++b->n_rows > BRING_ROWS_MAX)
        return fault_set(f, ERR_LIMIT, "found more than %d rows", (int)BRING_ROWS_MAX);
    b->line = is_read ? csv_line(b->csv) : wrong.line;
    b->n = csv_bytes(b->csv) - b->at;
    err = is_read ? check_row(b, &wrong) : ERR_SYNTAX;
    if (ends_all(err) || b->is_over) {
        *f = wrong;
        return err;
    }
    *ret_row = true;
    if (err != ERR_OK && !bring_add_fault(b, &wrong))
        return fault_no_memory(f);
    return step(b);
}

static enum err look_at_all(struct bring *b, struct fault *f)
{
    bool is_row = true;
    enum err err = csv_open_file(b->order->path, &b->csv, f);
    if (err != ERR_OK)
        return err;
    b->head_n = csv_bytes(b->csv);
    err = find_columns(b->order, b->csv, b->columns, f);
    b->is_ours = is_ours(b->order, b->csv);
    while (err == ERR_OK && is_row)
        err = look_at_row(b, &is_row, f);
    csv_close(b->csv);
    b->csv = NULL;
    if (err == ERR_OK && b->n_rows == 0)
        err =
            fault_set(f, ERR_EMPTY, "there is no row in it; expected one or more below the first");
    return err;
}

/* ---- with our columns alone ---------------------------------------------------------------- */

static bool drain(struct text *t, FILE *out)
{
    const bool is_good = !t->is_broken && fwrite(t->data, 1, t->size, out) == t->size;
    text_clear(t);
    return is_good;
}

static void put_record(const struct bring *b, struct csv *csv, bool is_head, struct text *t)
{
    const struct bring_field *fields = bring_fields(b->order->kind);
    struct text record = {0};
    bool is_first = true;
    for (int i = 0; fields[i].name != NULL; i++) {
        if (b->columns[i] < 0)
            continue;
        const struct csv_field field =
            is_head ? (struct csv_field){fields[i].name, strlen(fields[i].name), 0}
                    : csv_at(csv, (size_t)b->columns[i]);
        csv_put(&record, is_first, field.at, field.n);
        is_first = false;
    }
    csv_put_end(&record);
    text_add(t, record.data, record.size);
    t->is_broken |= record.is_broken;
    text_done(&record);
}

static enum err write_ours(const struct bring *b, const char *path, struct fault *f)
{
    struct csv *csv = NULL;
    struct text t = {0};
    bool is_row = true, is_good = true;
    enum err err = csv_open_file(b->order->path, &csv, f);
    FILE *out = err == ERR_OK ? fopen(path, "wbx") : NULL;
    if (err == ERR_OK && out == NULL)
        err = fault_set(f, ERR_IO, "the list cannot be written with our columns");
    if (err == ERR_OK)
        put_record(b, csv, true, &t);
    while (err == ERR_OK && is_row && is_good) {
        err = csv_next(csv, &is_row, f);
        if (err == ERR_OK && is_row)
            put_record(b, csv, false, &t);
        if (t.size > OUT_PIECE || !is_row)
            is_good = drain(&t, out);
    }
    if (out != NULL && fclose(out) != 0)
        is_good = false;
    if (err == ERR_OK && !is_good)
        err = fault_set(f, ERR_IO, "there is no room to write the list with our columns");
    csv_close(csv);
    text_done(&t);
    return err;
}

/* ---- into the store ------------------------------------------------------------------------ */

static enum err put_path(struct bring *b, struct store *store, const char *path, struct fault *f)
{
    const struct bring_order *o = b->order;
    struct fault_list faults = {0};
    enum err err;
    if (o->kind == BRING_BUILDS) {
        struct builds_answer a = {0};
        err = builds_take(store, path, o->now_ms, o->step, &a, f);
    } else {
        const struct paper_order order = {.kind =
                                              o->kind == BRING_SHOPS ? PAPER_SHOPS : PAPER_FAILURES,
                                          .path = path,
                                          .revision = STORE_UNKNOWN,
                                          .now_ms = o->now_ms};
        struct paper_answer a = {0};
        err = paper_keep(store, &order, &faults, &a, f);
        fault_list_done(&faults);
    }
    b->is_put = err == ERR_OK;
    return err;
}

static enum err put_list(struct bring *b, struct store *store, struct fault *f)
{
    char path[PATH_ROOM];
    const struct bring_order *o = b->order;
    if (o->is_stopped != NULL && o->is_stopped(o->me))
        return ERR_BUSY;
    if (b->is_ours)
        return put_path(b, store, o->path, f);
    snprintf(path, sizeof path, "%.1000s.ours", o->path);
    (void)unlink(path); /* left over by a server that was cut off */
    enum err err = write_ours(b, path, f);
    if (err == ERR_OK)
        err = put_path(b, store, path, f);
    (void)unlink(path);
    return err;
}

/* ---- the answer ---------------------------------------------------------------------------- */

static void put_answer(const struct bring *b, struct jsonw *w)
{
    jsonw_string(w, "kind", bring_kind_names[b->order->kind]);
    jsonw_bool(w, "dry", b->order->is_dry);
    jsonw_int(w, "rows", b->n_rows);
    bring_put_faults(b, w);
    jsonw_int(w, "new", b->n_new);
    jsonw_int(w, "changed", b->n_changed);
    jsonw_int(w, "same", b->n_same);
    jsonw_int(w, "repeated", b->n_repeated);
    jsonw_int(w, "gone", b->n_gone);
    jsonw_int(w, "wrong_check_digits", b->n_bad_checks);
    if (b->n_bad_checks > 0) {
        jsonw_object(w, "first_wrong");
        jsonw_string(w, "vin", b->bad_vin);
        jsonw_int(w, "line", b->bad_line);
        jsonw_object_end(w);
    } else {
        jsonw_null(w, "first_wrong");
    }
    jsonw_bool(w, "put", b->is_put);
}

enum err bring_run(struct store *store, const struct bring_order *order, struct jsonw *w,
                   struct fault *reterr)
{
    struct bring b = {.order = order, .store = store};
    struct stat st;
    enum err err = ERR_OK;
    b.bytes = stat(order->path, &st) == 0 && st.st_size > 0 ? (uint64_t)st.st_size : 0;
    if (order->kind != BRING_BUILDS && b.bytes > STORE_PAPER_MAX)
        return fault_set(reterr, ERR_LIMIT, "the list is larger than %d bytes",
                         (int)STORE_PAPER_MAX);
    if (order->kind == BRING_BUILDS)
        err = bring_builds_begin(&b, reterr);
    if (err == ERR_OK)
        err = look_at_all(&b, reterr);
    if (order->kind == BRING_BUILDS)
        bring_builds_end(&b);
    else if (err == ERR_OK)
        err = bring_items_end(&b, reterr);
    if (err == ERR_OK)
        err = bring_write_faults(&b, reterr);
    if (err == ERR_OK && !order->is_dry && b.n_faulty == 0)
        err = put_list(&b, store, reterr);
    if (err == ERR_OK)
        put_answer(&b, w);
    bring_done(&b);
    return err;
}
