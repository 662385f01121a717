/* bag_tags: the tag files of one bag, read and brought together with its files: which sums each file
 * must have, what is listed and missing. Between bag.c, which judges, and the readers of text. */
#ifndef PROOF_BAG_TAGS_H
#define PROOF_BAG_TAGS_H

#include "proof/bag_lookup.h"
#include "proof/bag_text.h"

enum { BAG_MANIFESTS_MAX = 2 * DIGEST_KINDS };

struct bag_manifest {
    const char *name; /* borrowed from the file list */
    enum digest_kind kind;
    bool is_tag;
    uint8_t *sums; /* one behind the other; bag_file.sums points into it */
};

struct bag_missing {
    char *path;
    const struct bag_manifest *manifest;
};

struct bag_tags {
    struct bag_files *files;   /* borrowed */
    struct bag_result *result; /* borrowed */
    bool has_declaration;
    struct bag_declaration declaration;
    struct bag_manifest manifests[BAG_MANIFESTS_MAX];
    size_t n_manifests;
    struct bag_info info;
    struct bag_missing *missing;
    size_t n_missing;
    char **fetched; /* paths in fetch.txt that are not here, sorted */
    size_t n_fetched;
    struct bag_lookup lookup;
};

/* bag_tags_read: reads them all; every fault goes into result. Errors: ERR_IO, ERR_MEMORY only.
 * bag_tags_done also after a failure. */
MUST_USE enum err bag_tags_read(struct bag_tags *tags, struct bag_files *files,
                                struct bag_result *result, struct fault *reterr);
void bag_tags_done(struct bag_tags *tags);

#endif
