/* fuzz_quantity: any bytes as an amount. Properties:
 *   a failure points into the text (0..n) and writes no amount;
 *   an amount has the unit's dimension, and shown with nine decimals in a unit of up to 10^9 nano it reads
 *   back as the same amount: parse(show(x)) == x;
 *   eight bytes taken as a double give the nearest nano: never off by more than half, and none for NaN.
 * The first byte chooses the unit of bare numbers. */
#include "core/length.h"
#include "core/quantity.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void expect(bool holds)
{
    if (!holds)
        abort();
}

static void check_text(const char *text, size_t n, enum unit bare)
{
    struct quantity q = {.nano = 12345}, again;
    size_t at = n + 1;
    const enum err e = quantity_parse(text, n, bare, &q, &at);
    if (e != ERR_OK) {
        expect(at <= n && q.nano == 12345);
        return;
    }
    expect(at == n + 1 && q.unit < UNIT_N && q.dim == quantity_unit_dim(q.unit));
    char buf[QUANTITY_SHOW_MAX];
    bool is_rounded;
    if (quantity_unit_nano(q.unit) <= 1000000000 && 1000000000 % quantity_unit_nano(q.unit) == 0) {
        const size_t size = quantity_show(q.nano, q.unit, 9, buf, &is_rounded);
        expect(size < sizeof buf && !is_rounded);
        expect(quantity_parse(buf, size, q.unit, &again, &at) == ERR_OK && again.nano == q.nano &&
               again.unit == q.unit);
    }
    if (q.dim == DIM_LENGTH) {
        char fraction[LENGTH_SHOW_MAX];
        size_t size = 0;
        expect(length_show_fraction(q.nano, 64, fraction, &size, &is_rounded) == ERR_OK);
        expect(size < sizeof fraction);
        if (!is_rounded)
            expect(quantity_parse(fraction, size, UNIT_N, &again, &at) == ERR_OK &&
                   again.nano == q.nano);
    }
}

static void check_double(const uint8_t *data, enum unit unit)
{
    double value;
    int64_t nano = 0;
    memcpy(&value, data, sizeof value);
    const enum err e = quantity_from_double(value, unit, &nano);
    if (!isfinite(value)) {
        expect(e == ERR_DOMAIN);
        return;
    }
    const long double exact = (long double)value * (long double)quantity_unit_nano(unit);
    if (e != ERR_OK) {
        expect(e == ERR_RANGE && fabsl(exact) > 0x1p63L * 0.999999L);
        return;
    }
    /* The shortest decimal lies within half a step of the double, so the amount within that and half a nano. */
    const long double slack = 0.5000001L + fabsl(exact) * 0x1p-53L;
    expect(fabsl((long double)nano - exact) <= slack);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    if (size < 1)
        return 0;
    const enum unit bare = (enum unit)(data[0] % (UNIT_N + 1));
    char *text = malloc(size); /* exactly so large, so that reading on is found */
    expect(text != NULL);
    memcpy(text, data + 1, size - 1);
    check_text(text, size - 1, bare);
    free(text);
    if (size >= 9 && bare < UNIT_N)
        check_double(data + 1, bare);
    return 0;
}
