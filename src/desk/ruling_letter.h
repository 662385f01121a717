/* ruling_letter: the letter to a shop about one claim (draw/letter.h), from what stands on the record. It tells what is asked for and why
 * what is refused is; what a person at the desk has to look at is not told, only that somebody looks. A cure's advice to the desk is
 * left out. */
#ifndef DESK_RULING_LETTER_H
#define DESK_RULING_LETTER_H

#include "base/fault.h"
#include "base/text.h"
#include "draw/size.h"

#include <stdbool.h>
#include <stdint.h>

struct store;

struct ruling_letter_order {
    const char *claim;
    const char *shop;     /* NULL: any; else another shop's claim is not there */
    const char *language; /* BCP 47: en, es, fr; NULL: the bulletin's own */
    enum paper_size size;
    bool is_pdf;
    int64_t now_ms;
};

/* ruling_letter: appended to out. Errors: ERR_UNKNOWN (no such claim; no font for a PDF), ERR_MEMORY, the store's. */
MUST_USE enum err ruling_letter(struct store *store, const struct ruling_letter_order *order,
                                struct text *out, struct fault *reterr);

#endif
