/* bag_make: packs the folder of a job as a bag in a zip: version 1.0, sha256, signed if there is a
 * key. The same files, date and key give the same bytes. */
#ifndef PROOF_BAG_MAKE_H
#define PROOF_BAG_MAKE_H

#include "base/fault.h"
#include "proof/keyring.h"

struct bag_made {
    uint8_t sha256[32];    /* of the zip */
    uint64_t bytes, files; /* of the payload */
    uint64_t zip_bytes;
    char folder[64]; /* the bag's top folder in the zip, named after what it holds */
};

struct bag_order {
    const char *folder; /* every file in it becomes payload, below data/ */
    const char *out; /* the zip to write; one that is there is replaced when the new one is whole */
    const struct keyring_secret *secret; /* NULL: not signed */
    const char
        *date; /* Bagging-Date, "YYYY-MM-DD"; NULL: the day of the last change to a file, UTC */
};

/* bag_make: writes beside out under another name, reads the bag back and verifies it, makes sure of
 * the disk, renames. Nothing is left behind after a failure. Links, devices and names that are not
 * UTF-8 are refused, as are a folder without files and an out inside the folder. Errors: ERR_OPEN,
 * ERR_TYPE (link, device), ERR_ENCODING, ERR_LIMIT, ERR_EMPTY, ERR_DOMAIN (out inside the folder),
 * ERR_IO, ERR_MEMORY; reterr names the file. */
MUST_USE enum err bag_make(const struct bag_order *order, struct bag_made *ret,
                           struct fault *reterr);

#endif
