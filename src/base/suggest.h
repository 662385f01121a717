/* suggest: the known word nearest to one that is not known, for "did you mean ...". */
#ifndef BASE_SUGGEST_H
#define BASE_SUGGEST_H

#include <stddef.h>

enum { SUGGEST_WORD_MAX = 64 };

/* suggest_distance: edits (insert, delete, replace a byte, swap two neighbours; no byte edited
 * twice) that make b of a, or max + 1 when more than max are needed or a word is longer than
 * SUGGEST_WORD_MAX. ASCII case does not count. O(na nb), no allocation. Source: Damerau 1964, CACM
 * 7(3), 171-176 (the four kinds of error); the recurrence is the restricted ("optimal string
 * alignment") form of Wagner & Fischer 1974, JACM 21(1), 168-173. */
size_t suggest_distance(const char *a, size_t na, const char *b, size_t nb, size_t max);

/* suggest_nearest: the first of known[0..n_known) with the fewest edits from word[0..n), if these
 * are at most a third of the word's size (at least 1); a known word that begins with the word (3
 * bytes or more, leading dashes not counted) is as good as one edit. NULL when none is near.
 * Borrowed from known; entries may be NULL and are skipped. */
const char *suggest_nearest(const char *word, size_t n, const char *const *known, size_t n_known);

#endif
