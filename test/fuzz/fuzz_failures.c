/* fuzz: a list of failure reports. Property: whatever the bytes, the reader ends; what it refuses has a message; what it takes is in order
 * by VIN, station and day, each once, no report lies before its failure, and every row is found again under its own station. */
#include "desk/failures.h"

#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void need(bool holds)
{
    if (!holds)
        abort();
}

static void check_row(const struct failures *list, size_t i)
{
    const struct failure *row = &list->at[i];
    size_t n = 0;
    const struct failure *found = failures_of(list, row->vin, row->station, &n);
    need(strlen(row->vin) == VIN_SIZE);
    need(row->reported == FAILURES_NO_DAY || row->reported >= row->failed);
    need(n > 0 && found <= row && row < found + n);
    if (i == 0)
        return;
    const struct failure *last = row - 1;
    int c = strcmp(last->vin, row->vin);
    if (c == 0)
        c = strcmp(last->station, row->station);
    need(c < 0 || (c == 0 && last->failed < row->failed));
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct failures list = {0};
    struct fault f = {0};
    const enum err e = failures_read((const char *)data, size, "list.csv", &list, &f);
    if (e != ERR_OK) {
        need(f.message[0] != '\0' && list.at == NULL);
        return 0;
    }
    for (size_t i = 0; i < list.n; i++)
        check_row(&list, i);
    failures_done(&list);
    return 0;
}
