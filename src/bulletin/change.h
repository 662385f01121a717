/* change: what is different between two revisions of a bulletin, in words that a person can check one by one.
 *
 * Both are laid out as their export (export.h), so a key can not be forgotten, and walked side by side. Things with an id (kits, steps,
 * points ...) are matched by it, wherever they stand; what has none is matched by its place. Where the same things stand in another
 * order that is told too, for the order of steps has a meaning. */
#ifndef BULLETIN_CHANGE_H
#define BULLETIN_CHANGE_H

#include "base/fault.h"
#include "bulletin/arena.h"
#include "bulletin/bulletin.h"

enum { CHANGES_MAX = 2000 };

struct change {
    const char *where; /* "kits: left-upper: racks: inboard: kerf" */
    const char *was;   /* "1.6 mm"; NULL: it was not there */
    const char *now;   /* NULL: it is gone */
};

/* Zero-initialised is empty and fine. */
struct change_list {
    struct arena arena; /* owns every text */
    struct change *changes;
    size_t n, room;
    size_t n_more; /* found beyond CHANGES_MAX */
};

/* changes_between: appends every difference, in the order of the newer one, what is gone after what stood before it. Amounts are
 * given in the unit they were written in; an amount that is written in another unit but is the same is no change. Errors: ERR_MEMORY, and
 * ERR_LIMIT where an export is beyond what json.h reads. */
MUST_USE enum err changes_between(const struct bulletin *was, const struct bulletin *now,
                                  struct change_list *ret, struct fault *reterr);

/* change_lay: a bulletin laid out for being compared often; *ret is the caller's, change_laid_free it (NULL is fine), and needs the bulletin
 * no more. changes_from: changes_between, from what was laid out. Errors: those of changes_between. */
struct change_laid;
MUST_USE enum err change_lay(const struct bulletin *b, struct change_laid **ret,
                             struct fault *reterr);
void change_laid_free(struct change_laid *laid);
MUST_USE enum err changes_from(const struct change_laid *was, const struct bulletin *now,
                               struct change_list *ret, struct fault *reterr);
void change_list_done(struct change_list *list);

#endif
