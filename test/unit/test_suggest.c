/* suggest: distances against published examples, and which words are near enough to ask about. */
#include "base/suggest.h"

#include "tap.h"

#include <stdlib.h>
#include <string.h>

struct distance_row {
    const char *a, *b;
    size_t edits;
    const char *source;
};

static const struct distance_row distance_rows[] = {
    {"kitten", "sitting", 3, "text-book example of edit distance, from memory"},
    {"saturday", "sunday", 3, "text-book example of edit distance, from memory"},
    {"ca", "abc", 3,
     "restricted form: 3 where the unrestricted one has 2; text-book example, from memory"},
    {"form", "from", 1, "Damerau 1964: two neighbours swapped"},
    {"word", "ward", 1, "Damerau 1964: one wrong letter"},
    {"word", "wword", 1, "Damerau 1964: one letter too many"},
    {"word", "wrd", 1, "Damerau 1964: one letter missing"},
    {"", "abc", 3, "definition: three insertions"},
    {"abc", "", 3, "definition: three deletions"},
    {"same", "same", 0, "definition"},
    {"Same", "sAME", 0, "our own rule: case does not count"},
};

/* The definition itself, without a table: what the recurrence must equal. */
static size_t by_definition(const char *a, size_t na, const char *b, size_t nb)
{
    if (na == 0 || nb == 0)
        return na + nb;
    size_t best = by_definition(a, na - 1, b, nb - 1) + (a[na - 1] != b[nb - 1]);
    const size_t del = by_definition(a, na - 1, b, nb) + 1;
    const size_t ins = by_definition(a, na, b, nb - 1) + 1;
    best = del < best ? del : best;
    best = ins < best ? ins : best;
    if (na > 1 && nb > 1 && a[na - 1] == b[nb - 2] && a[na - 2] == b[nb - 1]) {
        const size_t swap = by_definition(a, na - 2, b, nb - 2) + 1;
        best = swap < best ? swap : best;
    }
    return best;
}

static void check_distances(void)
{
    for (size_t i = 0; i < sizeof distance_rows / sizeof *distance_rows; i++) {
        const struct distance_row *r = &distance_rows[i];
        const size_t d = suggest_distance(r->a, strlen(r->a), r->b, strlen(r->b), 10);
        tap_ok(d == r->edits, "'%s' to '%s': %zu (%s)", r->a, r->b, r->edits, r->source);
    }
    int n_bad = 0;
    unsigned seed = 1;
    for (int i = 0; i < 2000; i++) {
        char w[2][6];
        size_t n[2];
        for (int k = 0; k < 2; k++) {
            n[k] = (seed = seed * 1103515245U + 12345U) >> 16 & 3;
            n[k] += seed >> 20 & 1;
            for (size_t j = 0; j < n[k]; j++)
                w[k][j] = (char)('a' + ((seed = seed * 1103515245U + 12345U) >> 16) % 3);
        }
        n_bad +=
            suggest_distance(w[0], n[0], w[1], n[1], 20) != by_definition(w[0], n[0], w[1], n[1]);
    }
    tap_ok(n_bad == 0, "2000 pairs of short words (seed 1) agree with the recursive definition");
    tap_ok(suggest_distance("abcdef", 6, "uvwxyz", 6, 2) == 3,
           "more edits than asked for: one more than asked for");
    char longest[SUGGEST_WORD_MAX + 1];
    memset(longest, 'a', sizeof longest);
    tap_ok(suggest_distance(longest, SUGGEST_WORD_MAX, longest, SUGGEST_WORD_MAX, 2) == 0,
           "the longest word is measured");
    tap_ok(suggest_distance(longest, sizeof longest, longest, 1, 2) == 3,
           "a longer one is far from everything");
}

struct nearest_row {
    const char *word, *wanted; /* NULL: none is near */
};

static const char *const known[] = {"--reading", "--low",  "--high", NULL,  "--u",
                                    "--unit",    "--risk", "true",   "time"};

static const struct nearest_row nearest_rows[] = {
    {"--raeding", "--reading"},
    {"--readings", "--reading"},
    {"--lwo", "--low"},
    {"--hihg", "--high"},
    {"--Unit", "--unit"},
    {"--read", "--reading"},
    {"tru", "true"},
    {"tmie", "time"},
    {"--colour", NULL},
    {"xyzzy", NULL},
    {"", NULL},
    {"q", NULL},
    {"--", NULL},
};

static void check_nearest(void)
{
    for (size_t i = 0; i < sizeof nearest_rows / sizeof *nearest_rows; i++) {
        const struct nearest_row *r = &nearest_rows[i];
        const char *near =
            suggest_nearest(r->word, strlen(r->word), known, sizeof known / sizeof *known);
        const bool is_good =
            r->wanted == NULL ? near == NULL : near != NULL && strcmp(near, r->wanted) == 0;
        if (!tap_ok(is_good, "'%s': %s", r->word, r->wanted != NULL ? r->wanted : "nothing near"))
            tap_note("found %s", near != NULL ? near : "nothing");
    }
    tap_ok(suggest_nearest("x", 1, NULL, 0) == NULL, "no words known: none is near");
}

int main(void)
{
    check_distances();
    check_nearest();
    return tap_done();
}
