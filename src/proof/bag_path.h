/* bag_path: paths inside a bag: whether they stay inside, how manifests write them, when two of them
 * would meet on another file system. The only place that sees utf8proc. Nothing here touches a disk. */
#ifndef PROOF_BAG_PATH_H
#define PROOF_BAG_PATH_H

#include "base/text.h"

enum { BAG_PATH_MAX = 4096, BAG_PATH_DEPTH_MAX = 64 };

/* bag_path_fault: NULL when path[0..n) stays inside the folder it is joined to on any common system;
 * else what is wrong with it, a static clause such as "leaves the bag by '..'". Refused: empty,
 * absolute, a drive letter, a leading '~', parts that are empty, "." or "..", also between
 * backslashes, ill-formed UTF-8, NUL, more than BAG_PATH_MAX bytes or BAG_PATH_DEPTH_MAX parts.
 * Source of the rules: RFC 8493, 5 (hostile paths) and 2.1.3 ('/' separates). */
const char *bag_path_fault(const char *path, size_t n);

/* bag_path_is_payload: the path lies below data/. */
bool bag_path_is_payload(const char *path);

/* bag_path_encode: appends the path as a manifest writes it: CR, LF and '%' as %0D, %0A and %25,
 * all else as it is (RFC 8493, 2.1.3). */
void bag_path_encode(const char *path, struct text *out);

/* bag_path_decode: the opposite, in place on s[0..n); returns the new size. Only the three
 * encodings are undone, in either case of their letters. *ret_is_loose: a '%' stood for itself,
 * which version 1.0 does not allow. */
size_t bag_path_decode(char *s, size_t n, bool *ret_is_loose);

/* bag_path_fold: the path in Unicode's composed form (NFC), with case folded as well if so asked:
 * two paths with equal results may be one file on another system. *ret is the caller's to free.
 * Errors: ERR_MEMORY, ERR_ENCODING. */
MUST_USE enum err bag_path_fold(const char *path, bool is_case_folded, char **ret);

#endif
