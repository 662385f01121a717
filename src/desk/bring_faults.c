/* bring_faults: owns the faulty rows of a list: what is told of them, and the file of them: the list's own bytes, row by row, each with
 * its reason in a last column. */
#include "desk/bring_inner.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

bool bring_add_fault(struct bring *b, const struct fault *f)
{
    b->n_faulty++;
    if (b->n_faults == BRING_FAULTS_MAX)
        return true;
    if (b->n_faults == b->faults_room) {
        const size_t room = b->faults_room > 0 ? 2 * b->faults_room : 64;
        struct bring_fault *more = realloc(b->faults, room * sizeof *more);
        if (more == NULL)
            return false;
        b->faults = more;
        b->faults_room = room;
    }
    struct bring_fault *to = &b->faults[b->n_faults++];
    *to = (struct bring_fault){.line = b->line, .column = f->column, .at = b->at, .n = b->n};
    snprintf(to->field, sizeof to->field, "%.63s", f->path);
    snprintf(to->reason, sizeof to->reason, "%.319s", f->message);
    to->reason[text_clean(to->reason, strlen(to->reason), false)] = '\0';
    to->field[text_clean(to->field, strlen(to->field), false)] = '\0';
    return true;
}

void bring_put_faults(const struct bring *b, struct jsonw *w)
{
    size_t n = BRING_FAULTS_TOLD;
    if (b->n_faults < n)
        n = b->n_faults;
    jsonw_int(w, "faulty", b->n_faulty);
    jsonw_array(w, "faults");
    for (size_t i = 0; i < n; i++) {
        const struct bring_fault *f = &b->faults[i];
        jsonw_object(w, NULL);
        jsonw_int(w, "line", f->line);
        jsonw_int(w, "column", f->column);
        jsonw_string(w, "field", f->field[0] != '\0' ? f->field : NULL);
        jsonw_string(w, "reason", f->reason);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
    jsonw_int(w, "more_faults", b->n_faulty - (int64_t)n);
    jsonw_int(w, "in_file", (int64_t)b->n_faults);
}

static int by_place(const void *a, const void *b)
{
    const struct bring_fault *x = a, *y = b;
    return (x->at > y->at) - (x->at < y->at);
}

/* The bytes [at, at + n) of the list without the line ends around them. */
static bool read_raw(int fd, uint64_t at, uint64_t n, struct text *ret)
{
    char piece[4096];
    text_clear(ret);
    while (n > 0) {
        const ssize_t k = pread(fd, piece, n < sizeof piece ? (size_t)n : sizeof piece, (off_t)at);
        if (k < 0 && errno == EINTR)
            continue;
        if (k <= 0)
            return false;
        text_add(ret, piece, (size_t)k);
        at += (uint64_t)k;
        n -= (uint64_t)k;
    }
    if (ret->is_broken)
        return false;
    size_t first = 0;
    while (first < ret->size && (ret->data[first] == '\r' || ret->data[first] == '\n'))
        first++;
    while (ret->size > first &&
           (ret->data[ret->size - 1] == '\r' || ret->data[ret->size - 1] == '\n'))
        ret->size--;
    if (first > 0)
        memmove(ret->data, ret->data + first, ret->size - first);
    ret->size -= first;
    return true;
}

/* One row and its last field. */
static bool put_row(FILE *out, const struct text *raw, const char *last, const char *end)
{
    struct text field = {0};
    csv_put(&field, false, last, strlen(last)); /* with the comma before it */
    const bool is_good = !field.is_broken && fwrite(raw->data, 1, raw->size, out) == raw->size &&
                         fwrite(field.data, 1, field.size, out) == field.size &&
                         fputs(end, out) >= 0;
    text_done(&field);
    return is_good;
}

static bool write_rows(const struct bring *b, int fd, FILE *out)
{
    struct text raw = {0};
    char end[2] = "", reason[BRING_REASON_ROOM + 80];
    bool is_good = b->head_n >= 2 && pread(fd, end, 2, (off_t)b->head_n - 2) == 2;
    const char *stop = is_good && end[0] == '\r' ? "\r\n" : "\n"; /* as the list has it */
    is_good = is_good && read_raw(fd, 0, b->head_n, &raw) && put_row(out, &raw, "reason", stop);
    for (size_t i = 0; i < b->n_faults && is_good; i++) {
        const struct bring_fault *f = &b->faults[i];
        if (f->field[0] != '\0')
            snprintf(reason, sizeof reason, "%s: %s", f->field, f->reason);
        else
            snprintf(reason, sizeof reason, "%s", f->reason);
        is_good = read_raw(fd, f->at, f->n, &raw) && put_row(out, &raw, reason, stop);
    }
    text_done(&raw);
    return is_good;
}

enum err bring_write_faults(struct bring *b, struct fault *reterr)
{
    const char *path = b->order->faults_path;
    if (b->n_faults > 1)
        qsort(b->faults, b->n_faults, sizeof *b->faults, by_place);
    if (path == NULL)
        return ERR_OK;
    (void)unlink(path);
    if (b->n_faults == 0)
        return ERR_OK;
    const int fd = open(b->order->path, O_RDONLY | O_CLOEXEC);
    FILE *out = fd >= 0 ? fopen(path, "wbx") : NULL;
    bool is_good = out != NULL && write_rows(b, fd, out);
    if (out != NULL && fclose(out) != 0)
        is_good = false;
    if (fd >= 0)
        close(fd);
    return is_good ? ERR_OK : fault_set(reterr, ERR_IO, "the faulty rows cannot be written down");
}

void bring_done(struct bring *b)
{
    free(b->faults);
    free(b->seen);
    free(b->items.at);
}
