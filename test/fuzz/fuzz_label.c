/* fuzz_label: any bytes as patterns and a label, separated by line feeds: all lines but the last are patterns.
 * Properties:
 *   a failure points into the pattern or the text;
 *   label_read accepts exactly the patterns that label_pattern_check accepts;
 *   a label that is read gives first <= last, at most 31 days, days that exist, a pattern that is there, and the same
 *   once more when its date is written in ISO form and read by that pattern. */
#include "core/label.h"

#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void expect(bool holds)
{
    if (!holds)
        abort();
}

static void check_good(const struct label *l, size_t n_patterns)
{
    static const char *const iso[] = {"%Y-%m-%d"};
    expect(l->first_day <= l->last_day && l->last_day - l->first_day <= 30);
    expect(l->pattern >= 0 && (size_t)l->pattern < n_patterns);
    expect(memchr(l->variant, '\0', sizeof l->variant) != NULL);
    char shown[DATE_SHOW_SIZE];
    struct label again;
    size_t at;
    date_show(l->first_day, shown);
    expect(label_read(shown, strlen(shown), iso, 1, &again, &at) == ERR_OK);
    expect(again.first_day == l->first_day && again.last_day == l->first_day);
}

static void check(const char *text, size_t n, const char *const *patterns, size_t n_patterns)
{
    bool are_good = true;
    for (size_t i = 0; i < n_patterns; i++) {
        size_t at = 0;
        const size_t size = strlen(patterns[i]);
        const bool is_good = label_pattern_check(patterns[i], size, &at) == ERR_OK;
        expect(is_good || at <= size);
        are_good = are_good && is_good;
    }
    struct label l = {.pattern = -1};
    size_t at = 0;
    const enum err e = label_read(text, n, patterns, n_patterns, &l, &at);
    if (e == ERR_OK) {
        expect(are_good);
        check_good(&l, n_patterns);
        return;
    }
    expect(l.pattern == -1);
    if (e == ERR_DOMAIN)
        expect(!are_good && at < n_patterns);
    else
        expect(at <= n);
    if (e == ERR_SYNTAX || e == ERR_IMPOSSIBLE || e == ERR_AMBIGUOUS)
        expect(are_good);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const char *patterns[LABEL_PATTERNS_MAX];
    size_t n_patterns = 0;
    char *copy = malloc(size + 1);
    expect(copy != NULL);
    memcpy(copy, data, size);
    copy[size] = '\0';
    char *at = copy;
    for (char *end; n_patterns < LABEL_PATTERNS_MAX &&
                    (end = memchr(at, '\n', (size_t)(copy + size - at))) != NULL;
         at = end + 1) {
        *end = '\0';
        patterns[n_patterns++] = at;
    }
    const size_t n = (size_t)(copy + size - at);
    char *text = malloc(n ? n : 1); /* exactly so large, so that reading on is found */
    expect(text != NULL);
    memcpy(text, at, n);
    check(text, n, patterns, n_patterns);
    free(text);
    free(copy);
    return 0;
}
