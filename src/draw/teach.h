/* teach: a bulletin on paper for teaching: step cards, one step a card, four or two to a page with lines to cut along; and a crib, all
 * that is looked up on one page.
 *
 * Cards hold a step whole: its cautions in their frame before the act, what is looked at first, the act in the bulletin's words, what is
 * read with its limits, the picture, why, with what. A step that no legible size brings onto one card goes on on the next.
 * The crib holds what is in, the labels, kits, the cut, timing, limits in the opening, what moves what, proof; it never takes
 * two pages, and drops nothing: it shrinks as far as letters of TEACH_LEAST_PT, and says else what does not fit. */
#ifndef DRAW_TEACH_H
#define DRAW_TEACH_H

#include "base/fault.h"
#include "base/text.h"
#include "bulletin/bulletin.h"
#include "draw/size.h"

enum { TEACH_PICTURE_SIDE_MAX = 4096 };
#define TEACH_LEAST_PT 7.0

enum teach_kind { TEACH_CARDS, TEACH_CRIB };

/* A step's picture as the file's bytes: PNG, or JPEG with its size in pixels as its head tells it and how it is to be turned (EXIF
 * orientation; 1, 3, 6 or 8). */
enum teach_picture_kind { TEACH_NO_PICTURE, TEACH_PNG, TEACH_JPEG };
struct teach_picture {
    enum teach_picture_kind kind;
    struct text bytes; /* owned by whoever asked: text_done */
    int width, height, orientation;
};

struct teach_order {
    const struct bulletin *b;
    const char *language; /* BCP 47; NULL: the bulletin's */
    enum teach_kind kind;
    enum paper_size size;
    int per_page; /* cards: 4 or 2 */
    bool
        has_back; /* cards: a page of backs after each page of fronts, to be turned along its long edge */
    /* The picture of that file; TEACH_NO_PICTURE where there is none that can be drawn (its words are printed then). NULL: none. */
    void (*picture)(void *me, const char *file, struct teach_picture *ret);
    void *me;
    int64_t made_s; /* seconds since 1970-01-01T00:00Z, for the file's own date */
};

struct teach_made {
    int n_pages, n_cards, n_pictures; /* n_cards: with those that only go on */
    size_t n_other_language;          /* texts that are not in the language asked for, marked */
    double
        body_pt; /* size of the texts; of the card where it is smallest. Nothing is below TEACH_LEAST_PT */
};

/* teach_make: the PDF appended to out. The same order gives the same bytes on one machine. Errors: ERR_UNKNOWN (no font), ERR_RANGE
 * (the crib does not fit on one page; the message says which parts take how much), ERR_EMPTY (cards of a bulletin without steps),
 * ERR_DOMAIN (per_page), ERR_MEMORY. */
MUST_USE enum err teach_make(const struct teach_order *order, struct text *out,
                             struct teach_made *ret, struct fault *reterr);

#endif
