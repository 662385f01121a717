/* papers: files that the desk keeps on the store's log (store.h), read and checked before they are kept: a revision of a bulletin, the
 * list of shops, a keyring, the list of failure reports (desk/failures.h), a campaign's reserve, the stock of kits
 * (desk/campaign_papers.h). */
#ifndef DESK_PAPERS_H
#define DESK_PAPERS_H

#include "base/fault.h"
#include "bulletin/faults.h"
#include "store/store.h"

enum paper_kind {
    PAPER_BULLETIN,
    PAPER_SHOPS,
    PAPER_KEYS,
    PAPER_FAILURES,
    PAPER_RESERVE,
    PAPER_STOCK,
    PAPER_KIND_N
};
/* "bulletin", "shops", "keys", "failures", "reserve", "stock"; closed by NULL */
extern const char *const paper_kind_names[];

struct paper_order {
    enum paper_kind kind;
    const char *path; /* "-": standard input */
    const char *
        name; /* NULL: the kind's own name; of a bulletin and a reserve it must be NULL: the bulletin's id is their name */
    int64_t revision; /* STORE_UNKNOWN: none; of a bulletin: its own */
    int64_t now_ms;
};

struct paper_answer {
    bool is_new; /* false: the one that holds, and its pictures, are the same, byte for byte */
    char name[STORE_ID_MAX + 1];
    int64_t revision; /* STORE_UNKNOWN: none */
    uint8_t sha256[STORE_DIGEST];
    size_t
        n; /* steps of the bulletin, rows of shops, of stock and of the reserve, keys, failures */
    size_t n_pictures; /* of a bulletin's steps (pictures.h) */
};

/* paper_keep: the pictures that a bulletin names are read from beside it and kept first (pictures.h). faults is the caller's, zeroed,
 * for bulletins (fault_list_done it): a bulletin that is not sound is ERR_DOMAIN, or ERR_SYNTAX when faults->is_unreadable, and
 * reterr is its first fault. A list of shops is read as if for currencies of 2, 0 and 3 decimals, since it says none, and must be
 * right for one of them. Errors: those of file_read, shops_read, keyring_add, ERR_EMPTY (no key), ERR_AMBIGUOUS (a name or revision
 * for a bulletin), those of pictures_keep and store_keep. */
MUST_USE enum err paper_keep(struct store *store, const struct paper_order *order,
                             struct fault_list *faults, struct paper_answer *ret,
                             struct fault *reterr);

/* papers_ring: the keys of every keyring that is kept, added to ring (the caller's, keyring_done it). */
struct keyring;
MUST_USE enum err papers_ring(struct store *store, struct keyring *ring, struct fault *reterr);

#endif
