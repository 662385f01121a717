/* bag_result: what verifying a bag found: faults and warnings, bounded, in the order they were found. */
#ifndef PROOF_BAG_RESULT_H
#define PROOF_BAG_RESULT_H

#include "base/text.h"

/* What a fault is about; the words are part of the command contract. */
#define BAG_FAULT_TABLE(X)                                                                         \
    X(BAG_DECLARATION, "declaration") /* bagit.txt is missing or malformed */                      \
    X(BAG_ENCODING, "encoding")       /* text that is not what it is declared to be */             \
    X(BAG_NO_PAYLOAD, "no-payload")   /* there is no data/ */                                      \
    X(BAG_NO_MANIFEST, "no-manifest") /* there is no payload manifest that can be used */          \
    X(BAG_MANIFEST_LINE,                                                                           \
      "manifest-line")                /* a line that is not sum and path, or in the wrong place */ \
    X(BAG_UNSAFE_PATH, "unsafe-path") /* a path that leaves the bag or could */                    \
    X(BAG_DUPLICATE_PATH, "duplicate-path")                                                        \
    X(BAG_CLASH,                                                                                   \
      "clash") /* two names that another system takes for one, where one would be lost */          \
    X(BAG_MISSING_FILE, "missing-file")                                                            \
    X(BAG_NOT_FETCHED, "not-fetched") /* listed in fetch.txt and not here; nothing is fetched */   \
    X(BAG_UNLISTED_FILE, "unlisted-file") /* here, and missing in a manifest that must list it */  \
    X(BAG_WRONG_SUM, "wrong-sum")                                                                  \
    X(BAG_PAYLOAD_OXUM, "payload-oxum")                                                            \
    X(BAG_INFO_LINE, "bag-info-line")                                                              \
    X(BAG_FETCH_LINE, "fetch-line")                                                                \
    X(BAG_LINK, "link")     /* a symbolic link */                                                  \
    X(BAG_DEVICE, "device") /* neither file nor folder */                                          \
    X(BAG_ENCRYPTED, "encrypted")                                                                  \
    X(BAG_BOMB, "bomb")   /* unpacks to far more than it is */                                     \
    X(BAG_LIMIT, "limit") /* more of it than allowed */                                            \
    X(BAG_ZIP, "zip")     /* a zip that is cut off, damaged, or tells untruths */                  \
    X(BAG_UNREADABLE, "unreadable")                                                                \
    X(BAG_BAD_SIGNATURE, "signature")

enum bag_kind {
#define X(symbol, word) symbol,
    BAG_FAULT_TABLE(X)
#undef X
        BAG_KINDS
};

/* bag_kind_word: the kind as the contract writes it. */
const char *bag_kind_word(enum bag_kind kind);

struct bag_fault {
    enum bag_kind kind;
    char *path;    /* in the bag; "" for the whole */
    char *message; /* a sentence without a closing full stop */
};

enum bag_signature {
    BAG_SIGNATURE_NONE,       /* there is none */
    BAG_SIGNATURE_GOOD,       /* by a key that the keyring gives for the shop named */
    BAG_SIGNATURE_BAD,        /* malformed, or it does not belong to these bytes */
    BAG_SIGNATURE_UNKNOWN_KEY /* it belongs to these bytes, but nobody vouches for the key */
};

/* bag_signature_word: "none", "good", "bad", "unknown-key". */
const char *bag_signature_word(enum bag_signature s);

enum { BAG_FAULTS_MAX = 1000, BAG_WARNINGS_MAX = 200, BAG_SHOP_ROOM = 65 };

/* Zero-initialised is empty; bag_result_done frees what it holds. */
struct bag_result {
    bool is_valid;    /* RFC 8493, section 3: complete, and every sum agrees */
    bool is_complete; /* all that is required is there, and listed */
    char version[8];  /* "" when unknown */
    struct bag_fault *faults;
    size_t n_faults, n_more_faults; /* more: found, but not kept */
    char **warnings;
    size_t n_warnings, n_more_warnings;
    uint64_t bytes, files; /* of the payload found */
    enum bag_signature signature;
    char shop[BAG_SHOP_ROOM]; /* who signed, as the signature says; "" when unsigned */
    bool has_no_memory;
};

void bag_result_done(struct bag_result *r);

/* bag_fault_add, bag_warn: texts are cleaned of what could move a cursor, paths and messages cut to
 * a length that can be shown. path may be NULL. */
void bag_fault_add(struct bag_result *r, enum bag_kind kind, const char *path, const char *fmt, ...)
    PRINTF_LIKE(4, 5);
void bag_warn(struct bag_result *r, const char *fmt, ...) PRINTF_LIKE(2, 3);

/* bag_result_is_sound: no fault so far that speaks against the bag itself (any but a signature's). */
bool bag_result_is_sound(const struct bag_result *r);

#endif
