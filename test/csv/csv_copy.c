/* csv_copy: reads a table and writes it again, for peer.py. Standard output: the table by csv_put. File descriptor 3: the first
 * line and every record as read, one JSON array of texts a line. usage: csv_copy FILE */
#include "base/csv.h"
#include "base/jsonw.h"

#include <stdio.h>
#include <string.h>

enum { FLUSH = 256 * 1024 };

static bool flush(struct text *t, FILE *to, size_t least)
{
    bool is_good = !t->is_broken;
    if (t->size >= least && t->size > 0) {
        is_good = is_good && fwrite(t->data, 1, t->size, to) == t->size;
        text_clear(t);
    }
    return is_good;
}

static void put_field(struct text *table, struct jsonw *w, size_t i, const char *s, size_t n)
{
    csv_put(table, i == 0, s, n);
    jsonw_string_n(w, NULL, s, n);
}

static void put_record(const struct csv *csv, bool is_head, struct text *table, struct jsonw *w)
{
    jsonw_array(w, NULL);
    for (size_t i = 0; i < csv_columns(csv); i++) {
        const char *name = csv_column_name(csv, i);
        if (is_head)
            put_field(table, w, i, name, strlen(name));
        else
            put_field(table, w, i, csv_at(csv, i).at, csv_at(csv, i).n);
    }
    jsonw_array_end(w);
    text_putc(w->out, '\n');
    csv_put_end(table);
}

int main(int argc, char **argv)
{
    struct text table = {0}, json = {0};
    struct jsonw w;
    struct csv *csv = NULL;
    struct fault f = {0};
    char line[1000];
    FILE *told = fdopen(3, "wb");
    if (argc != 2 || told == NULL)
        return 2;
    enum err e = csv_open_file(argv[1], &csv, &f);
    bool is_row = e == ERR_OK, is_good = true;
    jsonw_start(&w, &json);
    if (is_row)
        put_record(csv, true, &table, &w);
    while (is_row && is_good && e == ERR_OK) {
        e = csv_next(csv, &is_row, &f);
        if (is_row && e == ERR_OK)
            put_record(csv, false, &table, &w);
        is_good = flush(&table, stdout, FLUSH) && flush(&json, told, FLUSH);
    }
    is_good = flush(&table, stdout, 0) && flush(&json, told, 0) && is_good;
    csv_close(csv);
    text_done(&table);
    text_done(&json);
    if (fclose(told) != 0 || fflush(stdout) != 0)
        is_good = false;
    if (e == ERR_OK)
        return is_good ? 0 : 3;
    fault_line(&f, line, sizeof line);
    fprintf(stderr, "%s\n", line);
    return 1;
}
