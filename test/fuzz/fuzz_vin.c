/* fuzz_vin: any bytes as a VIN, then, after a line feed, as a list of known ones, 17 bytes each. Properties:
 *   vin_check never reads out of bounds, points into the text, and what it keeps is printable;
 *   vin_is_valid17 agrees with vin_check on seventeen bytes that do not begin or end in a blank or dash;
 *   repairs without a list are valid, differ from what was read, come once and in the order of their ranks;
 *   repairs with a list are in the list; a VIN without fault has none. */
#include "core/vin.h"

#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void expect(bool holds)
{
    if (!holds)
        abort();
}

static bool is_edge(char c)
{
    return c == ' ' || c == '\t' || c == '-';
}

static bool is_listed(const char *vin, const char (*known)[VIN_SIZE + 1], size_t n_known)
{
    for (size_t i = 0; i < n_known; i++)
        if (memcmp(known[i], vin, VIN_SIZE) == 0)
            return true;
    return false;
}

static void check_repairs(const char *text, size_t n, const struct vin_verdict *v,
                          const char (*known)[VIN_SIZE + 1], size_t n_known)
{
    struct vin_repair r[VIN_REPAIRS_MAX];
    const size_t n_repairs = vin_repair(text, n, known, n_known, r);
    expect(n_repairs <= VIN_REPAIRS_MAX);
    expect(n_repairs == 0 || v->fault == VIN_FAULT_CHARACTER || v->fault == VIN_FAULT_CHECK);
    for (size_t i = 0; i < n_repairs; i++) {
        expect(r[i].rank == (int)i + 1 && r[i].at >= 1 && r[i].at <= VIN_SIZE);
        expect(memcmp(r[i].vin, v->vin, VIN_SIZE) != 0 && r[i].vin[VIN_SIZE] == '\0');
        expect(r[i].was == v->vin[r[i].at - 1] && r[i].now == r[i].vin[r[i].at - 1]);
        expect(known ? is_listed(r[i].vin, known, n_known) : vin_is_valid17(r[i].vin));
        for (size_t k = 0; k < i; k++)
            expect(memcmp(r[i].vin, r[k].vin, VIN_SIZE) != 0 && r[k].kind <= r[i].kind);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const uint8_t *stop = memchr(data, '\n', size);
    const size_t n = stop ? (size_t)(stop - data) : size;
    char *text = malloc(n ? n : 1); /* exactly so large, so that reading on is found */
    expect(text != NULL);
    memcpy(text, data, n);

    struct vin_verdict v;
    vin_check(text, n, &v);
    expect(v.at <= n && v.n_years >= 0 && v.n_years <= VIN_YEARS_MAX);
    expect((v.fault == VIN_FAULT_LENGTH) == (v.vin[0] == '\0'));
    for (const char *c = v.vin; *c; c++)
        expect(*c >= ' ' && *c <= '~' && !(*c >= 'a' && *c <= 'z'));
    if (n == VIN_SIZE && !is_edge(text[0]) && !is_edge(text[n - 1]))
        expect(vin_is_valid17(text) == (v.fault == VIN_FAULT_NONE));
    check_repairs(text, n, &v, NULL, 0);

    const size_t n_known = stop ? (size - n - 1) / VIN_SIZE : 0;
    char(*known)[VIN_SIZE + 1] = malloc((n_known + 1) * sizeof *known);
    expect(known != NULL);
    for (size_t i = 0; i < n_known; i++) {
        memcpy(known[i], stop + 1 + i * VIN_SIZE, VIN_SIZE);
        known[i][VIN_SIZE] = '\0';
    }
    check_repairs(text, n, &v, (const char(*)[VIN_SIZE + 1]) known, n_known);
    free(known);
    free(text);
    return 0;
}
