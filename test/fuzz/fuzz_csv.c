/* fuzz_csv: the reader of comma-separated values on any bytes.
 * Property: it either refuses with a code, a sentence and no row, or gives records of as many fields as there are columns, each UTF-8
 * without NUL, which written again read back as the same fields and are written to the same bytes. Read on behind every fault
 * (csv_resume) it ends, goes forward only, tells each fault with a place and a sentence, and gives the rows before the first fault as
 * before. */
#include "base/csv.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void must(bool holds)
{
    if (!holds)
        abort();
}

/* Everything that can be read, written into out; the error that reading ended in. */
static enum err copy(const char *s, size_t n, struct text *out, size_t *ret_rows)
{
    struct csv *csv = NULL;
    struct fault f = {0};
    bool is_row = true;
    enum err e = csv_open(s, n, "fuzz", &csv, &f);
    must(e == ERR_OK || (csv == NULL && f.code == e && f.message[0] != '\0'));
    if (e != ERR_OK)
        return e;
    const size_t n_columns = csv_columns(csv);
    must(n_columns >= 1 && n_columns <= CSV_COLUMNS_MAX);
    for (size_t i = 0; i < n_columns; i++) {
        const char *name = csv_column_name(csv, i);
        must(csv_column(csv, name) == (int)i);
        csv_put(out, i == 0, name, strlen(name));
    }
    csv_put_end(out);
    for (;;) {
        e = csv_next(csv, &is_row, &f);
        must(e == ERR_OK || (f.code == e && f.message[0] != '\0'));
        must(csv_bytes(csv) <= n);
        if (e != ERR_OK || !is_row)
            break;
        ++*ret_rows;
        for (size_t i = 0; i < n_columns; i++) {
            const struct csv_field field = csv_at(csv, i);
            must(field.at[field.n] == '\0' && field.column >= 1 && csv_line(csv) >= 2);
            must(text_is_utf8(field.at, field.n, NULL));
            csv_put(out, i == 0, field.at, field.n);
        }
        csv_put_end(out);
    }
    csv_close(csv);
    return e;
}

/* Every record, the wrong ones too; rows before the first fault must be n_before. */
static void read_on(const char *s, size_t n, enum err first, size_t n_before)
{
    struct csv *csv = NULL;
    struct fault f = {0};
    bool is_row = true;
    size_t n_rows = 0, n_faults = 0;
    uint64_t at = 0;
    int line = 0;
    if (csv_open(s, n, "fuzz", &csv, &f) != ERR_OK)
        return;
    for (;;) {
        f = (struct fault){0};
        const enum err e = csv_next(csv, &is_row, &f);
        must(csv_bytes(csv) >= at && csv_bytes(csv) <= n);
        at = csv_bytes(csv);
        if (e == ERR_OK && !is_row)
            break;
        if (e == ERR_OK) {
            must(csv_line(csv) > line);
            line = csv_line(csv);
            n_rows++;
            continue;
        }
        must(f.code == e && f.message[0] != '\0' && f.line >= 1);
        must(n_faults > 0 || (e == first && n_rows == n_before));
        n_faults++;
        must(n_faults + n_rows <= n); /* each takes a byte at least */
        must(csv_resume(csv, &f) == ERR_OK);
    }
    must(n_faults > 0 || (first == ERR_OK && n_rows == n_before));
    csv_close(csv);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct text once = {0}, again = {0};
    size_t n_rows = 0, n_again = 0;
    const enum err first = copy((const char *)data, size, &once, &n_rows);
    read_on((const char *)data, size, first, n_rows);
    if (once.size > 0) {
        must(copy(once.data, once.size, &again, &n_again) == ERR_OK && n_again == n_rows);
        must(again.size == once.size && memcmp(again.data, once.data, once.size) == 0);
    }
    text_done(&once);
    text_done(&again);
    return 0;
}
