/* Paths inside a bag: which stay inside, how they are encoded, which meet. RFC 8493, 2.1.3, 5, 6.1. */
#include "proof/bag_path.h"
#include "tap.h"

#include <stdlib.h>
#include <string.h>

static const struct {
    const char *path;
    bool is_safe;
} paths[] = {
    {"data/a.txt", true},
    {"bagit.txt", true},
    {"data/..a", true},
    {"data/a..", true},
    {"data/...", true},
    {"data/a\\b", true},
    {"data/a:b", true},
    {"data/~", true},
    {"data/\xC3\xA9", true},
    {"data/a\nb", true},
    {"", false},
    {"/", false},
    {"/etc", false},
    {"\\etc", false},
    {"..", false},
    {"../a", false},
    {"data/..", false},
    {"data/../../a", false},
    {"data/..\\a", false},
    {"data\\..\\..", false},
    {".", false},
    {"./a", false},
    {"data/./a", false},
    {"data//a", false},
    {"data/", false},
    {"~", false},
    {"~root/a", false},
    {"C:", false},
    {"c:/a", false},
    {"data/\xFF", false},
    {"data/\xC0\xAE", false},
    {"data/\xED\xA0\x80", false},
};

static const struct {
    const char *plain, *encoded;
} codes[] = {
    {"data/a b.txt", "data/a b.txt"},
    {"data/50%", "data/50%25"},
    {"a\nb\rc", "a%0Ab%0Dc"},
    {"%0A", "%250A"},
    {"%%", "%25%25"},
};

static const struct {
    const char *written, *path;
    bool is_loose;
} decodes[] = {
    {"%0a%0d%25", "\n\r%", false}, {"%20", "%20", true}, {"%", "%", true}, {"%2", "%2", true},
    {"%250A", "%0A", false},
};

/* Unicode 15 names: U+00E9 is U+0065 U+0301 decomposed; U+00C9 its capital; sharp s folds to "ss"
 * (CaseFolding.txt, status F). */
static const struct {
    const char *a, *b;
    bool meets_in_form, meets_in_case;
} folds[] = {
    {"a", "a", true, true},
    {"a", "A", false, true},
    {"a", "b", false, false},
    {"\xC3\xA9", "e\xCC\x81", true, true},
    {"\xC3\xA9", "E\xCC\x81", false, true},
    {"stra\xC3\x9F"
     "e",
     "STRASSE", false, true},
    {"\xC3\xA9", "e", false, false},
};

static bool meets(const char *a, const char *b, bool in_case)
{
    char *x = NULL, *y = NULL;
    const bool is_same = bag_path_fold(a, in_case, &x) == ERR_OK &&
                         bag_path_fold(b, in_case, &y) == ERR_OK && strcmp(x, y) == 0;
    free(x);
    free(y);
    return is_same;
}

static void check_codes(void)
{
    char buf[64];
    bool is_loose = false;
    for (size_t i = 0; i < sizeof codes / sizeof *codes; i++) {
        struct text t = {0};
        bag_path_encode(codes[i].plain, &t);
        tap_ok(t.data && strcmp(t.data, codes[i].encoded) == 0,
               "'%s' is what is written (RFC 8493, 2.1.3)", codes[i].encoded);
        snprintf(buf, sizeof buf, "%s", codes[i].encoded);
        const size_t n = bag_path_decode(buf, strlen(buf), &is_loose);
        tap_ok(n == strlen(codes[i].plain) && memcmp(buf, codes[i].plain, n) == 0 && !is_loose,
               "'%s' is read back (round trip)", codes[i].encoded);
        text_done(&t);
    }
    for (size_t i = 0; i < sizeof decodes / sizeof *decodes; i++) {
        snprintf(buf, sizeof buf, "%s", decodes[i].written);
        const size_t n = bag_path_decode(buf, strlen(buf), &is_loose);
        tap_ok(n == strlen(decodes[i].path) && memcmp(buf, decodes[i].path, n) == 0 &&
                   is_loose == decodes[i].is_loose,
               "'%s' is decoded, and only CR, LF and %% (RFC 8493, 2.1.3)", decodes[i].written);
    }
}

int main(void)
{
    for (size_t i = 0; i < sizeof paths / sizeof *paths; i++) {
        const char *why = bag_path_fault(paths[i].path, strlen(paths[i].path));
        char shown[32];
        snprintf(shown, sizeof shown, "%s", paths[i].path);
        shown[text_clean(shown, strlen(shown), false)] = '\0';
        tap_ok((why == NULL) == paths[i].is_safe, "'%s' %s (RFC 8493, 5)", shown,
               paths[i].is_safe ? "stays in the bag" : "is refused");
    }
    tap_ok(bag_path_fault("a\0b", 3) != NULL, "a NUL in a path is refused");
    check_codes();
    for (size_t i = 0; i < sizeof folds / sizeof *folds; i++) {
        tap_ok(meets(folds[i].a, folds[i].b, false) == folds[i].meets_in_form,
               "'%s' and '%s' %s in Unicode's form (UnicodeData)", folds[i].a, folds[i].b,
               folds[i].meets_in_form ? "meet" : "differ");
        tap_ok(meets(folds[i].a, folds[i].b, true) == folds[i].meets_in_case,
               "'%s' and '%s' %s without case (CaseFolding)", folds[i].a, folds[i].b,
               folds[i].meets_in_case ? "meet" : "differ");
    }
    return tap_done();
}
