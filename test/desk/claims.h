/* claims: for the tests and the bench of ruling: claims as taking in makes them, each the finished example job on another unit, by
 * another technician on another day, under its own ids. Everything in them is invented. */
#ifndef TEST_CLAIMS_H
#define TEST_CLAIMS_H

#include "store/store.h"

enum { CLAIMS_EVENTS = 128, CLAIMS_PHOTOS = 32, CLAIMS_READINGS = 64 };

struct claims_how {
    unsigned unit, job, technician, day; /* numbers of each; equal ones are the same */
    unsigned bag;                        /* claims of one bag number are one claim */
    bool has_photos, is_blurred;         /* blurred: one photo that has to be asked for again */
    bool is_small;          /* one column alone, the other found out of scope: about 50 events */
    unsigned readings;      /* moves the last readings by so many nm, that no two are copies */
    const char *fore_label; /* NULL: the example's */
    unsigned photo_of;      /* with photos: the bytes of this job's; 0: its own */
};

struct claims;
/* claims_new: text[0..n) is the example's events.json. Ends the test when it cannot be read. */
struct claims *claims_new(const char *text, size_t n);
/* claims_set_bulletin: they were worked by this file. */
void claims_set_bulletin(struct claims *c, const char *text, size_t n);
void claims_free(struct claims *c);

/* claims_how_of: claim i of many that have nothing to do with each other, without photos. */
struct claims_how claims_how_of(unsigned i);
/* claims_make: points into c until the next call. */
struct store_claim *claims_make(struct claims *c, const struct claims_how *how);
/* claims_take: makes it and takes it into a store; its id. Ends the test on an error. */
const char *claims_take(struct claims *c, struct store *store, const struct claims_how *how);

#endif
