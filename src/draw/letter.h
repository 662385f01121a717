/* letter: what a shop is told about one claim: what to send and how to cure it, why it is not paid, what is paid. As plain text and as
 * PDF, in English, Spanish or French where the words are ours; findings as they stand on the record.
 *
 * Plain structs: whoever fills them in decides what a shop may be told. Texts are borrowed and UTF-8; they may come from anywhere and
 * are cleaned of everything that cannot be shown. */
#ifndef DRAW_LETTER_H
#define DRAW_LETTER_H

#include "base/fault.h"
#include "base/text.h"
#include "draw/size.h"
#include "draw/words.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum letter_verdict { LETTER_PAY, LETTER_ASK, LETTER_HOLD, LETTER_REFUSE, LETTER_UNRULED };

/* One finding. */
struct letter_item {
    const char *rule;    /* its name; a cure in the letter's language goes by it */
    const char *where;   /* the station's name; NULL: the whole unit */
    const char *what;    /* the photo's or point's name in the letter's language; NULL */
    const char *message; /* as it stands on the record */
    const char *cure;    /* the same; NULL */
};

/* One amount. */
struct letter_line {
    const char *what;   /* "Labour, Fore column" */
    const char *why;    /* "200 min at 68.00 EUR/h"; NULL */
    const char *amount; /* "226.67 EUR" */
};

struct letter {
    enum words_language language;
    enum paper_size size;
    enum letter_verdict verdict;
    bool is_invented, is_paid; /* all that stands is paid */
    bool is_person;            /* a person's word stands */
    const char *claim, *vin, *bulletin, *title, *maker, *shop, *technician; /* NULL: not told */
    const char *date, *finished, *taken, *until; /* "2026-12-01"; NULL: not told */
    const char *amount, *paid; /* what stands; what was paid so far; NULL: nothing */
    const char *reason;        /* of a person's word; NULL */
    const struct letter_item *asked, *refused;
    const struct letter_line *lines;
    size_t n_asked, n_refused, n_lines;
    int64_t made_s; /* seconds since 1970-01-01T00:00Z, for the file's own date */
};

/* letter_text: appended to out, lines of at most 78 columns. Error: ERR_MEMORY. */
MUST_USE enum err letter_text(const struct letter *l, struct text *out, struct fault *reterr);

/* letter_pdf: the same as a PDF, appended to out; the same letter gives the same bytes on one machine. Errors: ERR_UNKNOWN (no font on
 * this machine), ERR_MEMORY. */
MUST_USE enum err letter_pdf(const struct letter *l, struct text *out, struct fault *reterr);

#endif
