/* suggest: owns the distance between words and when two are near enough to be worth asking about.
 */
#include "base/suggest.h"

#include <stdbool.h>
#include <string.h>

static char lower(char c)
{
    return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
}

static size_t least(size_t a, size_t b)
{
    return a < b ? a : b;
}

size_t suggest_distance(const char *a, size_t na, const char *b, size_t nb, size_t max)
{
    /* Three rows of the table suffice: the current one, the one before, and the one before that for
     * swaps. */
    size_t rows[3][SUGGEST_WORD_MAX + 1];
    if (na > SUGGEST_WORD_MAX || nb > SUGGEST_WORD_MAX)
        return max + 1;
    for (size_t j = 0; j <= nb; j++)
        rows[0][j] = j;
    for (size_t i = 1; i <= na; i++) {
        size_t *row = rows[i % 3];
        const size_t *above = rows[(i - 1) % 3];
        row[0] = i;
        for (size_t j = 1; j <= nb; j++) {
            const bool is_same = lower(a[i - 1]) == lower(b[j - 1]);
            row[j] = least(above[j - 1] + !is_same, least(above[j], row[j - 1]) + 1);
            const bool is_swap = i > 1 && j > 1 && lower(a[i - 1]) == lower(b[j - 2]) &&
                                 lower(a[i - 2]) == lower(b[j - 1]);
            if (is_swap)
                row[j] = least(row[j], rows[(i - 2) % 3][j - 2] + 1);
        }
    }
    const size_t distance = rows[na % 3][nb];
    return distance > max ? max + 1 : distance;
}

static size_t leading_dashes(const char *word, size_t n)
{
    size_t i = 0;
    while (i < n && word[i] == '-')
        i++;
    return i;
}

/* The known word goes on where the word ends: "--read" of "--reading". */
static bool is_start(const char *word, size_t n, const char *known, size_t n_known)
{
    if (n - leading_dashes(word, n) < 3 || n_known <= n)
        return false;
    for (size_t i = 0; i < n; i++)
        if (lower(word[i]) != lower(known[i]))
            return false;
    return true;
}

const char *suggest_nearest(const char *word, size_t n, const char *const *known, size_t n_known)
{
    const size_t max = n >= 6 ? n / 3 : 1;
    const size_t letters = n - leading_dashes(word, n);
    const char *best = NULL;
    size_t best_distance = max + 1;
    for (size_t i = 0; i < n_known; i++) {
        if (known[i] == NULL)
            continue;
        const size_t size = strlen(known[i]);
        size_t distance = suggest_distance(word, n, known[i], size, max);
        if (is_start(word, n, known[i], size))
            distance = least(distance, 1);
        /* A word with every letter replaced is near to nothing. */
        const size_t known_letters = size - leading_dashes(known[i], size);
        if (distance < best_distance && distance < letters && distance < known_letters) {
            best = known[i];
            best_distance = distance;
        }
    }
    return best;
}
