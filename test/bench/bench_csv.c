/* bench_csv: a CSV file read through base/csv, every field looked at.
 *
 * usage: bench_csv FILE
 * Prints one JSON object: rows, the bytes of all fields (so that nothing is left out), seconds from opening to the end. */
#include "base/csv.h"

#include <stdio.h>
#include <time.h>

static double now_s(void)
{
    struct timespec t = {0};
    (void)clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

int main(int argc, char **argv)
{
    struct csv *csv = NULL;
    struct fault f = {0};
    size_t n_rows = 0, n_bytes = 0;
    bool is_row = true;
    if (argc != 2)
        return 2;
    const double start = now_s();
    enum err e = csv_open_file(argv[1], &csv, &f);
    while (e == ERR_OK) {
        e = csv_next(csv, &is_row, &f);
        if (e != ERR_OK || !is_row)
            break;
        n_rows++;
        for (size_t i = 0; i < csv_columns(csv); i++)
            n_bytes += csv_at(csv, i).n;
    }
    csv_close(csv);
    printf("{\"rows\":%zu,\"field_bytes\":%zu,\"read_s\":%.6f}\n", n_rows, n_bytes,
           now_s() - start);
    return e == ERR_OK ? 0 : 1;
}
