/* claims_writer: makes a store of invented claims for the verb's tests.
 * usage: claims_writer FOLDER EVENTS.json KIND...
 * KIND: clean, blurred, out (one column, out of scope), copy (the photos of the first), again (the first's job once more). Prints the
 * claims' ids, a line each. */
#include "base/file.h"
#include "claims.h"

#include <stdio.h>
#include <string.h>

int main(int argc, char **argv)
{
    struct text text = {0};
    struct fault f = {0};
    struct store *s = NULL;
    bool is_made = false;
    if (argc < 3 || file_read(argv[2], 1 << 22, &text, &f) != ERR_OK ||
        store_init(argv[1], &is_made, &f) != ERR_OK ||
        store_open(argv[1], STORE_WRITE, &s, &f) != ERR_OK) {
        fprintf(stderr, "claims_writer: %s\n", f.message);
        return 2;
    }
    struct claims *c = claims_new(text.data, text.size);
    for (int i = 3; i < argc; i++) {
        const unsigned n = (unsigned)(i - 3);
        struct claims_how how = {.unit = n,
                                 .job = n + 1,
                                 .technician = n,
                                 .bag = n + 1,
                                 .has_photos = true,
                                 .readings = n};
        how.is_blurred = strcmp(argv[i], "blurred") == 0;
        how.is_small = strcmp(argv[i], "out") == 0;
        how.fore_label = how.is_small ? "WD40 2024-W40" : NULL;
        how.photo_of = strcmp(argv[i], "copy") == 0 ? 1 : 0;
        if (strcmp(argv[i], "again") == 0) {
            how.unit = how.technician = how.readings = 0;
            how.job = 1;
        }
        puts(claims_take(c, s, &how));
    }
    claims_free(c);
    store_close(s);
    text_done(&text);
    return 0;
}
