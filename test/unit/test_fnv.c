/* The hash of texts, held against the 64-bit FNV-1a values that RFC 9923 prints for its test strings. */
#include "base/fnv.h"

#include "tap.h"

#include <inttypes.h>
#include <string.h>

int main(void)
{
    static const struct {
        const char *text;
        uint64_t wanted;
    } rows[] = {{"", UINT64_C(0xcbf29ce484222325)},
                {"a", UINT64_C(0xaf63dc4c8601ec8c)},
                {"foobar", UINT64_C(0x85944171f73967e8)},
                {"Hello!\x01\xff\xed", UINT64_C(0xbd51ea7094ee6fa1)}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        const size_t n = strlen(rows[i].text);
        const uint64_t found = fnv_text(rows[i].text);
        if (!tap_ok(found == rows[i].wanted, "row %zu (RFC 9923)", i))
            tap_note("found %016" PRIx64, found);
        const uint64_t half = fnv_more(FNV_START, rows[i].text, n / 2);
        tap_ok(fnv_more(half, rows[i].text + n / 2, n - n / 2) == rows[i].wanted,
               "row %zu in two pieces (RFC 9923)", i);
    }
    return tap_done();
}
