/* photo_set: the photos of one call, or of an index, and the pairs among them; what verb_photo says
 * of them. */
#ifndef CLI_PHOTO_SET_H
#define CLI_PHOTO_SET_H

#include "cli/cli.h"
#include "proof/photo.h"

enum { PHOTO_SET_MAX = 20000000 };

/* What is kept of a photo for comparing. */
struct photo_entry {
    char *path;                 /* owned by the set */
    struct photohash hash;      /* flat ones are never compared */
    bool has_mirror, has_phash; /* an index may know the dhash alone */
};

/* Zero-initialised is empty; free with photo_set_done. */
struct photo_set {
    struct photo_entry *entries;
    size_t n, room;
};

/* photo_set_add: takes over a copy of entry with a copy of path; false when memory ran out or the set is
 * full. */
bool photo_set_add(struct photo_set *set, const struct photo_entry *entry, const char *path,
                   size_t path_size);
void photo_set_done(struct photo_set *set);

/* photo_set_load: adds what an index holds, one photo a line: what `photo --json` printed, or sixteen
 * hexadecimal digits of a dhash, a blank, and a name. Lines of photos with a fault are passed over
 * and counted. Returns an exit code, CLI_GOOD when read. */
int photo_set_load(struct cli *ctx, const char *path, struct photo_set *set, size_t *ret_faulty);

/* photo_pairs_write: all pairs within the radius: among `set`, or, when `news` is not NULL, of each in
 * `news` with each in `set`. Returns an exit code. */
int photo_pairs_write(struct cli *ctx, const struct photo_set *set, const struct photo_set *news,
                      int radius, size_t n_faulty);

/* photo_say_json: one object. photo_say_row: one row of the table that photo_say_head began. */
void photo_say_json(struct cli *ctx, const char *path, const struct photo *photo);
void photo_say_head(struct cli_table *table);
void photo_say_row(struct cli_table *table, const char *path, const struct photo *photo);
#define PHOTO_SAY_ALIGN "lrlrrl"

#endif
