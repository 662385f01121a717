/* words: texts that are held once each and told apart by a number: VINs, shops, jobs, labels. Inside src/desk. */
#ifndef DESK_WORDS_H
#define DESK_WORDS_H

#include <stddef.h>
#include <stdint.h>

#define WORDS_NONE UINT32_MAX

/* Zero-initialised is empty and fine. At most 2^31 texts and 4 GB of them. */
struct words {
    char *bytes;
    size_t n_bytes, bytes_room;
    uint32_t *at; /* where text i begins; its NUL follows it */
    size_t n, room;
    uint32_t *slots; /* open addressing; WORDS_NONE: free */
    size_t n_slots;  /* a power of two, or 0 */
};

/* words_put: the number of s[0..n), in the order of first coming; WORDS_NONE: memory ran out. The bytes may be any. O(1). */
uint32_t words_put(struct words *w, const char *s, size_t n);
/* words_text: borrowed until the next words_put. */
const char *words_text(const struct words *w, uint32_t i);
void words_done(struct words *w); /* leaves it zero-initialised */

#endif
