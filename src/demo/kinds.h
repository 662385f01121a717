/* kinds: what may be wrong with a made-up claim, and by which rules (desk/rule.h) the desk must find it. doc/demo.md tells each. */
#ifndef DEMO_KINDS_H
#define DEMO_KINDS_H

#include <stdbool.h>
#include <stddef.h>

/* Where a planted fault gets its matter from. */
enum kind_source {
    KIND_ALONE,
    KIND_ANY,    /* an earlier clean claim */
    KIND_PERSON, /* one with the same stations, whose technician does the copying */
    KIND_UNIT    /* one of another shop, whose unit is claimed again */
};

/* X(symbol, "name", deterministic, source, "rules of which one must be found", "what was done")
 * Deterministic: must always be found. The others hang on a threshold of likeness. The rules are separated by blanks; for a
 * bag that must be refused at taking in there are none. */
#define KIND_TABLE(X)                                                                              \
    X(KIND_CLEAN, "clean", true, KIND_ALONE, "", "")                                               \
    X(KIND_OUT_OF_SCOPE, "out-of-scope", true, KIND_ALONE, "out-of-scope",                         \
      "a column whose label lies outside every window was done and claimed")                       \
    X(KIND_LABEL_UNREADABLE, "label-unreadable", true, KIND_ALONE, "scope-unknown label-missing",  \
      "the week on the label was typed as far as it could be read")                                \
    X(KIND_LABEL_VARIANT, "label-variant", true, KIND_ALONE, "scope-unknown",                      \
      "the variant on the label was misread, so that the label names none")                        \
    X(KIND_LABEL_DIFFERS, "label-differs", true, KIND_ALONE, "label-differs",                      \
      "another week than the build list has, inside a window too")                                 \
    X(KIND_VIN_WRONG, "vin-wrong", true, KIND_ALONE, "vin-check vin-unknown",                      \
      "one digit of the VIN is wrong")                                                             \
    X(KIND_PHOTO_MISSING, "photo-missing", true, KIND_ALONE, "photo-missing",                      \
      "a photo that is asked for was not sent")                                                    \
    X(KIND_PHOTO_DARK, "photo-dark", true, KIND_ALONE, "photo-dark", "a photo is nearly black")    \
    X(KIND_PHOTO_BLURRED, "photo-blurred", true, KIND_ALONE, "photo-blurred",                      \
      "a photo is out of focus")                                                                   \
    X(KIND_PHOTO_BROKEN, "photo-broken", true, KIND_ALONE, "photo-broken",                         \
      "the file of a photo is cut off")                                                            \
    X(KIND_PHOTO_TIME, "photo-time", true, KIND_ALONE, "photo-time",                               \
      "a photo was taken weeks before the job")                                                    \
    X(KIND_CODE_LABEL, "code-label", true, KIND_ALONE, "code-differs",                             \
      "the code in the photo of the label says another week than was typed")                       \
    X(KIND_CODE_VIN, "code-vin", true, KIND_ALONE, "code-differs",                                 \
      "the code on the plate in the last photo is that of another unit")                           \
    X(KIND_COPY_BYTES, "copy-bytes", true, KIND_ANY, "photo-seen",                                 \
      "a photo of an earlier claim, byte for byte")                                                \
    X(KIND_COPY_SAVED, "copy-saved", true, KIND_ANY, "photo-seen",                                 \
      "a photo of an earlier claim, saved again at quality 60")                                    \
    X(KIND_COPY_HALF, "copy-half", true, KIND_ANY, "photo-seen",                                   \
      "a photo of an earlier claim, at half its size")                                             \
    X(KIND_COPY_BRIGHT, "copy-bright", true, KIND_ANY, "photo-seen",                               \
      "a photo of an earlier claim, brightened")                                                   \
    X(KIND_COPY_CROP, "copy-crop", false, KIND_ANY, "photo-seen",                                  \
      "a photo of an earlier claim, 3 % cropped off each side")                                    \
    X(KIND_COPY_MIRROR, "copy-mirror", false, KIND_ANY, "photo-seen",                              \
      "a photo of an earlier claim, mirrored")                                                     \
    X(KIND_READING_OUTSIDE, "reading-outside", true, KIND_ALONE, "reading-outside",                \
      "a final reading lies outside its limits")                                                   \
    X(KIND_READING_UNCERTAIN, "reading-uncertain", true, KIND_ALONE, "reading-uncertain",          \
      "a final reading lies so near its limit that it is not surely inside")                       \
    X(KIND_READING_MISSING, "reading-missing", true, KIND_ALONE, "reading-missing",                \
      "a reading that is asked for was not taken")                                                 \
    X(KIND_READING_EARLY, "reading-early", true, KIND_ALONE, "reading-early",                      \
      "the gaps were read before the work only")                                                   \
    X(KIND_READINGS_COPIED, "readings-copied", true, KIND_PERSON, "readings-copied",               \
      "every final reading is that of an earlier claim")                                           \
    X(KIND_MISTIMED, "mistimed", true, KIND_ALONE, "reading-outside",                              \
      "the racks of a column were left out of step; the room runs crooked")                        \
    X(KIND_KIT_WRONG, "kit-wrong", true, KIND_ALONE, "kit-wrong",                                  \
      "the kit is not the one for the relief that was seen")                                       \
    X(KIND_CUT_WRONG, "cut-wrong", true, KIND_ALONE, "cut-wrong",                                  \
      "a cut that the stock cannot give")                                                          \
    X(KIND_CUT_MISSING, "cut-missing", true, KIND_ALONE, "cut-missing",                            \
      "a kit that must be cut, and no cut")                                                        \
    X(KIND_HOLD_SKIPPED, "hold-skipped", true, KIND_ALONE, "hold-skipped",                         \
      "a step that holds until it is confirmed was not confirmed")                                 \
    X(KIND_TOO_FAST, "too-fast", true, KIND_ALONE, "too-fast",                                     \
      "the whole job within half an hour")                                                         \
    X(KIND_TWO_AT_ONCE, "two-at-once", true, KIND_PERSON, "two-at-once",                           \
      "the technician was at another unit in the same hours")                                      \
    X(KIND_NOT_FINISHED, "not-finished", true, KIND_ALONE, "not-finished",                         \
      "sent in before the job was finished")                                                       \
    X(KIND_WORK_AFTER, "work-after", true, KIND_ALONE, "work-after",                               \
      "a reading was taken after the job was finished")                                            \
    X(KIND_LATE, "late", true, KIND_ALONE, "late", "sent in long after the days that are allowed") \
    X(KIND_CLAIMED_TWICE, "claimed-twice", true, KIND_UNIT, "claimed-twice paid-already",          \
      "another shop has claimed the same columns before")                                          \
    X(KIND_REVISION_OLD, "revision-old", true, KIND_ALONE, "revision-old",                         \
      "worked by an earlier revision of the bulletin")                                             \
    X(KIND_BULLETIN_DIFFERS, "bulletin-differs", true, KIND_ALONE, "bulletin-differs",             \
      "worked by another file of the same revision")                                               \
    X(KIND_SHOP_UNKNOWN, "shop-unknown", true, KIND_ALONE, "shop-unknown",                         \
      "the shop is not in the list")                                                               \
    X(KIND_UNSIGNED, "unsigned", true, KIND_ALONE, "unsigned", "the bag is not signed")            \
    X(KIND_SIGNED_BY_OTHER, "signed-by-other", true, KIND_ALONE, "signature",                      \
      "the bag is signed by another shop")                                                         \
    X(KIND_TAMPERED, "tampered", true, KIND_ALONE, "",                                             \
      "a time in the bag was changed after it was signed, and the zip made sound again")           \
    X(KIND_EXPENSE, "expense-capped", true, KIND_ALONE, "capped", "travel above the cap")          \
    X(KIND_NOT_TRUED, "not-trued", true, KIND_ALONE, "reading-outside reading-uncertain",          \
      "a unit that truing could not bring inside: nobody's fault, and said as it is")

enum kind {
#define X(symbol, name, is_sure, source, rules, what) symbol,
    KIND_TABLE(X)
#undef X
        KIND_N
};

struct kind_row {
    const char *name;
    bool is_deterministic;
    enum kind_source source;
    const char *rules, *what;
};
extern const struct kind_row kind_rows[KIND_N];

/* kind_is_copy: a photo of an earlier claim. */
bool kind_is_copy(enum kind kind);

/* kind_find: by name; KIND_N when there is none. */
enum kind kind_find(const char *name);

#endif
