/* scope: is a station, and with it the unit, in the bulletin's scope?
 *
 * A station is in when its label's days lie wholly in the build windows of its variant, out when
 * they lie wholly outside, unknown otherwise. Windows of one variant may touch or overlap: their
 * union counts. Where the variant is not known, every variant listed, and one that is not listed,
 * is tried: when all agree that is the verdict, else it is unknown.
 *
 * A VIN that must check and does not makes every station unknown: a mistyped VIN could be another
 * unit.
 *
 * Limits of the method: a label is taken to belong to its station; parts swapped since building are
 * not seen. */
#ifndef CORE_SCOPE_H
#define CORE_SCOPE_H

#include "core/label.h"
#include "core/vin.h"

enum {
    SCOPE_STATIONS_MAX = 16,
    SCOPE_VARIANTS_MAX = 64,
    SCOPE_CODES_MAX = 256,
    SCOPE_WINDOWS_MAX = 256,
    SCOPE_PREFIXES_MAX = 64,
    SCOPE_TEXT_MAX = 320 /* enough for every sentence of scope_reason and scope_settle */
};

struct scope_window {
    int variant; /* index into variants; -1: any variant, also one that is not listed */
    int station; /* index; -1: every station */
    int32_t first_day, last_day; /* both built days are affected */
};

enum scope_vin_rule {
    SCOPE_VIN_NONE,     /* nobody asks for it */
    SCOPE_VIN_ADVISORY, /* a check digit that does not fit is a warning (outside North America and
                           China) */
    SCOPE_VIN_REQUIRED
};

struct scope_code {
    const char *text; /* as on the label, upper-case; a closing '*' stands for any rest */
    int variant;      /* index */
};

struct scope_rule {
    size_t n_stations, n_variants, n_codes, n_windows, n_prefixes;
    const char *const *variants; /* names to show; all borrowed */
    const struct scope_code
        *codes; /* an exact code goes over one with '*', a longer one over a shorter */
    const struct scope_window *windows;
    enum scope_vin_rule vin_rule;
    const char *const
        *prefixes; /* beginnings of affected VINs, upper-case; n_prefixes 0: every VIN */
};

enum scope_label { SCOPE_LABEL_UNREAD, SCOPE_LABEL_READ, SCOPE_LABEL_AMBIGUOUS };

struct scope_sight { /* what was seen at one station */
    enum scope_label state;
    struct label label;        /* when read; its variant "" when the label holds none */
    const char *given_variant; /* by hand, upper-case; NULL or "": none */
};

enum scope_verdict { SCOPE_OUT, SCOPE_IN, SCOPE_UNKNOWN, SCOPE_MIXED /* units only */ };

/* symbol, number (never reused), code for scripts */
#define SCOPE_REASON_TABLE(X)                                                                      \
    X(SCOPE_BUILT_INSIDE, 0, "built-inside")                                                       \
    X(SCOPE_BUILT_BEFORE, 1, "built-before")                                                       \
    X(SCOPE_BUILT_AFTER, 2, "built-after")                                                         \
    X(SCOPE_BUILT_BETWEEN, 3, "built-between")                                                     \
    X(SCOPE_VARIANT_CLEAR, 4, "variant-clear")                                                     \
    X(SCOPE_VIN_CLEAR, 5, "vin-clear")                                                             \
    X(SCOPE_LABEL_MISSING, 6, "label-missing")                                                     \
    X(SCOPE_LABEL_TWO_WAYS, 7, "label-ambiguous")                                                  \
    X(SCOPE_LABEL_STRADDLES, 8, "label-straddles")                                                 \
    X(SCOPE_VARIANT_MISSING, 9, "variant-missing")                                                 \
    X(SCOPE_VARIANT_DIFFERS, 10, "variant-differs")                                                \
    X(SCOPE_VARIANT_MISREAD, 11, "variant-misread")                                                \
    X(SCOPE_VIN_MISSING, 12, "vin-missing")                                                        \
    X(SCOPE_VIN_FAULTY, 13, "vin-faulty")

enum scope_reason {
#define X(symbol, number, code) symbol = number,
    SCOPE_REASON_TABLE(X)
#undef X
};

struct scope_finding {
    enum scope_verdict verdict;
    enum scope_reason reason;
    int window;  /* the window that settles or unsettles it; -1: none */
    int variant; /* index of the variant it was judged as; -1: unknown or not listed */
    bool has_days;
    int32_t first_day, last_day; /* off the label, when has_days */
};

struct scope_answer {
    enum scope_verdict unit;
    struct scope_finding stations[SCOPE_STATIONS_MAX];
    bool has_vin_warning; /* advisory and faulty */
    struct vin_verdict vin;
    size_t n_repairs; /* proposed for a VIN that does not check */
    struct vin_repair repairs[VIN_REPAIRS_MAX];
};

/* scope_judge: the whole answer. vin[0..n_vin) as typed, NULL when none was given.
 * sights[rule->n_stations]. Unit: all in: in; all out: out; none in and any unknown: unknown; any
 * in beside any other: mixed. Errors: ERR_EMPTY (no stations), ERR_LIMIT (counts), ERR_ORDER (a
 * window or a label whose first day lies after its last), ERR_DOMAIN (an index in a window out of
 * range). *reterr_at: index of the window, code or station at fault. Worked: window
 * 2024-02-05..2024-06-30, label 2024-W26 (24 to 30 June) is in; a month label 2024-07 is out; with
 * a window to 2024-06-26 the week straddles: unknown. */
MUST_USE enum err scope_judge(const struct scope_rule *rule, const char *vin, size_t n_vin,
                              const struct scope_sight *sights, struct scope_answer *ret,
                              size_t *reterr_at);

const char *scope_verdict_name(enum scope_verdict verdict); /* "in", "out", "unknown", "mixed" */
const char *scope_reason_code(enum scope_reason reason);    /* "built-inside", ... */

/* scope_reason_text: one sentence without full stop, why the station stands as it does.
 * scope_settle_text: what would settle it; "" when nothing is open. buf[room >= SCOPE_TEXT_MAX];
 * return the size. */
size_t scope_reason_text(const struct scope_rule *rule, const struct scope_sight *sight,
                         const struct scope_answer *answer, const struct scope_finding *finding,
                         char *buf, size_t room);
size_t scope_settle_text(const struct scope_rule *rule, const struct scope_sight *sight,
                         const struct scope_answer *answer, const struct scope_finding *finding,
                         char *buf, size_t room);

#endif
