/* words: owns the table in which texts are found again. */
#include "desk/words.h"

#include "base/fnv.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

enum { LEAST = 64 };

/* With a last turn, since the low bits choose the slot. */
static uint64_t hash(const char *s, size_t n)
{
    const uint64_t h = fnv_more(FNV_START, s, n);
    return h ^ (h >> 29);
}

static size_t size_of(const struct words *w, uint32_t i)
{
    const size_t end = i + 1 < w->n ? w->at[i + 1] : w->n_bytes;
    return end - w->at[i] - 1;
}

static size_t slot_of(const struct words *w, const char *s, size_t n)
{
    size_t at = hash(s, n) & (w->n_slots - 1);
    for (; w->slots[at] != WORDS_NONE; at = (at + 1) & (w->n_slots - 1)) {
        const uint32_t i = w->slots[at];
        if (size_of(w, i) == n && memcmp(w->bytes + w->at[i], s, n) == 0)
            break;
    }
    return at;
}

static bool grow_slots(struct words *w)
{
    const size_t n = w->n_slots > 0 ? 2 * w->n_slots : LEAST;
    uint32_t *slots = malloc(n * sizeof *slots);
    if (slots == NULL)
        return false;
    memset(slots, 0xff, n * sizeof *slots);
    free(w->slots);
    w->slots = slots;
    w->n_slots = n;
    for (uint32_t i = 0; i < w->n; i++)
        w->slots[slot_of(w, w->bytes + w->at[i], size_of(w, i))] = i;
    return true;
}

/* Room for one more of n bytes. */
static bool make_room(struct words *w, size_t n)
{
    if (w->n_bytes + n + 1 > UINT32_MAX || w->n >= INT32_MAX)
        return false;
    if (w->n_bytes + n + 1 > w->bytes_room) {
        const size_t room = 2 * w->bytes_room + n + 1024;
        char *bytes = realloc(w->bytes, room);
        if (bytes == NULL)
            return false;
        w->bytes = bytes;
        w->bytes_room = room;
    }
    if (w->n == w->room) {
        const size_t room = w->room > 0 ? w->room + w->room / 2 : LEAST;
        uint32_t *at = realloc(w->at, room * sizeof *at);
        if (at == NULL)
            return false;
        w->at = at;
        w->room = room;
    }
    return 4 * (w->n + 1) <= 3 * w->n_slots || grow_slots(w);
}

uint32_t words_put(struct words *w, const char *s, size_t n)
{
    if (!make_room(w, n))
        return WORDS_NONE;
    const size_t slot = slot_of(w, s, n);
    if (w->slots[slot] != WORDS_NONE)
        return w->slots[slot];
    const uint32_t i = (uint32_t)w->n++;
    w->at[i] = (uint32_t)w->n_bytes;
    memcpy(w->bytes + w->n_bytes, s, n);
    w->bytes[w->n_bytes + n] = '\0';
    w->n_bytes += n + 1;
    w->slots[slot] = i;
    return i;
}

const char *words_text(const struct words *w, uint32_t i)
{
    return w->bytes + w->at[i];
}

void words_done(struct words *w)
{
    free(w->bytes);
    free(w->at);
    free(w->slots);
    *w = (struct words){0};
}
