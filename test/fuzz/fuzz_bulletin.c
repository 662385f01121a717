/* fuzz_bulletin: any bytes as a bulletin file. Holds: a bulletin or at least one fault, never both or neither; every fault
 * has words and, unless memory ran out, a place inside the file; a bulletin that is handed out can be used: every text it
 * names is there. */
#include "bulletin/bulletin.h"

#include <assert.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static size_t count_lines(const uint8_t *data, size_t size)
{
    size_t n = 1;
    for (size_t i = 0; i < size; i++)
        n += data[i] == '\n' || data[i] == '\r';
    return n;
}

static void judge_faults(const struct fault *faults, size_t n, size_t n_lines)
{
    for (size_t i = 0; i < n; i++) {
        assert(faults[i].message[0] != '\0' && faults[i].code != ERR_OK);
        assert(faults[i].line >= 1 && (size_t)faults[i].line <= n_lines + 1 &&
               faults[i].column >= 1);
        assert(i == 0 || faults[i - 1].line <= faults[i].line);
    }
}

/* Walks what a reader would walk. */
static size_t use(const struct bulletin *b)
{
    size_t n = strlen(b->head.id) + strlen(bulletin_text_in(b, &b->head.title, "es"));
    for (size_t i = 0; i < b->scope.stations.n; i++)
        n += (size_t)bulletin_labour_s(b, b->scope.stations.at[i].id);
    for (size_t i = 0; i < b->steps.n; i++)
        n += strlen(bulletin_text_in(b, &b->steps.at[i].text, b->head.language));
    for (size_t i = 0; i < b->points.n; i++) {
        assert(b->points.at[i].low.is_given || b->points.at[i].high.is_given);
        n += conform_combine(bulletin_uncertainty(b, b->points.at[i].instrument)) >= 0;
    }
    for (size_t i = 0; i < b->adjusters.n; i++)
        for (size_t k = 0; k < b->adjusters.at[i].effects.n; k++)
            assert(bulletin_point_find(b, b->adjusters.at[i].effects.at[k].point) != NULL);
    return n;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct fault_list list = {0};
    struct bulletin *b = bulletin_load((const char *)data, size, "fuzz.yaml", &list);
    assert((b == NULL) == (list.n_faults > 0));
    const size_t n_lines = count_lines(data, size);
    judge_faults(list.faults, list.n_faults, n_lines);
    judge_faults(list.warnings, list.n_warnings, n_lines);
    if (b != NULL)
        assert(use(b) > 0);
    bulletin_free(b);
    fault_list_done(&list);
    return 0;
}
