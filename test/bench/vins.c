/* vins: writes a file of seeded VINs, one a line, for the batch bench: one in ONE_IN has one wrong character (0: none), the
 * rest carry the right check digit. usage: bench_vins N ONE_IN >FILE */
#include "core/vin.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* xorshift64* (Marsaglia 2003, Vigna 2014; from memory); any stream would do. */
static uint64_t next(uint64_t *state)
{
    *state ^= *state >> 12;
    *state ^= *state << 25;
    *state ^= *state >> 27;
    return *state * 0x2545f4914f6cdd1dULL;
}

int main(int argc, char **argv)
{
    static const char signs[] = "ABCDEFGHJKLMNPRSTUVWXYZ0123456789";
    enum { YEAR_AT = 9, CHECK_AT = 8, N_YEAR_SIGNS = 21 };
    long n = argc == 3 ? strtol(argv[1], NULL, 10) : 0;
    long one_in = argc == 3 ? strtol(argv[2], NULL, 10) : -1;
    uint64_t state = 20240206;
    if (n <= 0 || one_in < 0) {
        fprintf(stderr, "usage: bench_vins N ONE_IN >FILE\n");
        return 2;
    }
    for (long i = 0; i < n; i++) {
        char line[VIN_SIZE + 1];
        for (int k = 0; k < VIN_SIZE; k++)
            line[k] = signs[next(&state) % (sizeof signs - 1)];
        line[YEAR_AT] = "ABCDEFGHJKLMNPRSTVWXY"[next(&state) % N_YEAR_SIGNS];
        for (int k = VIN_SIZE - 5; k < VIN_SIZE; k++)
            line[k] = (char)('0' + next(&state) % 10);
        struct vin_verdict verdict;
        vin_check(line, VIN_SIZE, &verdict);
        line[CHECK_AT] = verdict.check_expected;
        if (one_in > 0 && next(&state) % (uint64_t)one_in == 0)
            line[VIN_SIZE - 1] = line[VIN_SIZE - 1] == '9' ? '0' : (char)(line[VIN_SIZE - 1] + 1);
        line[VIN_SIZE] = '\n';
        fwrite(line, 1, sizeof line, stdout);
    }
    return fflush(stdout) || ferror(stdout) ? 1 : 0;
}
