/* bag_text: the text files of a bag (RFC 8493, 2.1 to 2.3), read line by line from memory. Pure
 * readers: no file is opened, nothing is fetched. */
#ifndef PROOF_BAG_TEXT_H
#define PROOF_BAG_TEXT_H

#include "base/digest.h"
#include "base/fault.h"
#include "base/text.h"

/* Lines of a text, ended by LF, CR or CRLF; the last may lack its end. Set data and size, leave the
 * rest zero. */
struct bag_lines {
    const char *data;
    size_t size, at;
    int line; /* of the one last returned, from 1 */
};

/* bag_lines_next: the next line without its end, borrowed; false when there is none. */
bool bag_lines_next(struct bag_lines *l, const char **ret, size_t *ret_n);

enum { BAG_VERSION_ROOM = 8, BAG_ENCODING_ROOM = 24 };

struct bag_declaration {
    char version[BAG_VERSION_ROOM]; /* "0.97", "1.0" */
    bool is_old;                    /* before 1.0: its looser rules hold */
    char encoding[BAG_ENCODING_ROOM];
};

/* bag_declaration_read: bagit.txt, strictly: two lines, exact labels, one blank after the colon, no
 * byte order mark. Versions 0.97 and 1.0 are known, and the encodings UTF-8, US-ASCII, ISO-8859-1,
 * UTF-16, UTF-16BE and UTF-16LE (in any case). Errors: ERR_SYNTAX, ERR_ENCODING, ERR_UNKNOWN;
 * reterr has line and message. Source: RFC 8493, 2.1.1. */
MUST_USE enum err bag_declaration_read(const char *text, size_t n, struct bag_declaration *ret,
                                       struct fault *reterr);

/* bag_text_decode: the bytes of a tag file in the declared encoding as UTF-8, appended to ret. A
 * byte order mark is left out, *ret_has_mark says so. Errors: ERR_ENCODING (reterr says where),
 * ERR_MEMORY. */
MUST_USE enum err bag_text_decode(const char *encoding, const char *bytes, size_t n,
                                  struct text *ret, bool *ret_has_mark, struct fault *reterr);

struct bag_manifest_line {
    uint8_t sum[DIGEST_SIZE_MAX]; /* digest_size(kind) bytes */
    const char *path;             /* borrowed from the line, still encoded */
    size_t path_n;
};

/* bag_manifest_line: one line of a (tag) manifest: sum in hexadecimal digits of either case, blanks
 * or tabs, path. Error: ERR_SYNTAX with what was found and expected. Source: RFC 8493, 2.1.3. */
MUST_USE enum err bag_manifest_line(const char *line, size_t n, enum digest_kind kind,
                                    struct bag_manifest_line *ret, struct fault *reterr);

struct bag_fetch_line {
    const char *path; /* borrowed, still encoded */
    size_t path_n;
    int64_t bytes; /* -1: not said */
};

/* bag_fetch_line: one line of fetch.txt: URL, size or '-', path. The URL is looked at for its form
 * only. Error: ERR_SYNTAX. Source: RFC 8493, 2.2.3. */
MUST_USE enum err bag_fetch_line(const char *line, size_t n, struct bag_fetch_line *ret,
                                 struct fault *reterr);

enum { BAG_INFO_LABEL_MAX = 200 };

struct bag_info {
    bool has_oxum;
    uint64_t oxum_bytes, oxum_files;
    int n_elements;
    int n_loose; /* lines that keep to the form before 1.0 only: blanks around the label or none after
                    the colon */
};

/* bag_info_read: bag-info.txt, already UTF-8: "Label: value", continued by lines that begin with a
 * blank. Labels are compared without regard to case; any may be repeated but Payload-Oxum. Errors:
 * ERR_SYNTAX, ERR_DUPLICATE; reterr has line and message. Source: RFC 8493, 2.2.2. */
MUST_USE enum err bag_info_read(const char *text, size_t n, struct bag_info *ret,
                                struct fault *reterr);

/* bag_info_value: the first element so labelled: its first line, borrowed; NULL when there is none. */
const char *bag_info_value(const char *text, size_t n, const char *label, size_t *ret_n);

/* bag_manifest_name: whether a file at the root of a bag is named as a payload manifest
 * ("manifest-ALG.txt") or, with is_tag, as a tag manifest. *ret_alg is ALG, borrowed. */
bool bag_manifest_name(const char *name, bool is_tag, const char **ret_alg, size_t *ret_n);

#endif
