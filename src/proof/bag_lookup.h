/* bag_lookup: from a path as a manifest or fetch.txt writes it to the file it means, and what is
 * wrong or odd about the way it is written. */
#ifndef PROOF_BAG_LOOKUP_H
#define PROOF_BAG_LOOKUP_H

#include "proof/bag_files.h"

struct bag_lookup {
    const struct bag_files *files;
    bool is_old;            /* before 1.0: '%' stands for itself, '*' may stand before a path */
    struct bag_form *forms; /* files with letters beyond ASCII, by their composed form */
    size_t n_forms;
    bool has_forms;
};

struct bag_found {
    char path[4097];       /* decoded, without "./" */
    struct bag_file *file; /* NULL: not in the bag */
    const char *unsafe;    /* not NULL: why the path is refused; file is NULL then. Static. */
    const char *odd;       /* not NULL: a clause for a warning. Static. */
};

/* bag_lookup_find: written[0..n) as it stands in the line. Error: ERR_MEMORY. */
MUST_USE enum err bag_lookup_find(struct bag_lookup *l, const char *written, size_t n,
                                  struct bag_found *ret);
void bag_lookup_done(struct bag_lookup *l);

#endif
