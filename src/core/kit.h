/* kit: which kit serves a station, and why the others do not.
 *
 * A kit fits when it is declared for the station, its attributes (hand, relief, module ...) do not
 * contradict what was seen, and each rack asked for has a piece that can be used as it is or cut to
 * length (cut.h). Of those that fit, in this order: fewest pieces to cut (a ready-made piece that
 * fits goes over a cut), least total offcut, first in the bulletin.
 *
 * An attribute on which the fitting kits differ and that nobody has told is asked for: a kit is
 * never guessed. */
#ifndef CORE_KIT_H
#define CORE_KIT_H

#include "core/cut.h"

enum { KIT_KITS_MAX = 64, KIT_ATTRIBUTES_MAX = 16, KIT_TEXT_MAX = 400 };
enum { KIT_ANY = -1 };

struct kit {
    uint32_t stations;              /* bit i: made for station i */
    int values[KIT_ATTRIBUTES_MAX]; /* index of the value of each attribute; KIT_ANY: does not
                                       matter for this kit */
    size_t n_pieces;
    int piece_rack[CUT_RACKS_MAX]; /* which rack the piece is for: the caller's index; each at most
                                      once */
    struct cut_piece pieces[CUT_RACKS_MAX];
};

struct kit_need {
    int station;
    int values[KIT_ATTRIBUTES_MAX]; /* as seen on the unit; KIT_ANY: not told */
    size_t n_racks;
    int rack[CUT_RACKS_MAX]; /* the caller's index of each rack */
    int64_t needed_nm[CUT_RACKS_MAX];
    struct cut_uncertainty u;
};

#define KIT_REASON_TABLE(X)                                                                        \
    X(KIT_CHOSEN, 0, "chosen")                                                                     \
    X(KIT_OTHER_STATION, 1, "other-station")                                                       \
    X(KIT_ATTRIBUTE_DIFFERS, 2, "attribute-differs")                                               \
    X(KIT_NO_PIECE, 3, "no-piece")                                                                 \
    X(KIT_PIECE_UNFIT, 4, "piece-unfit")                                                           \
    X(KIT_MORE_CUTS, 5, "more-cuts")                                                               \
    X(KIT_MORE_OFFCUT, 6, "more-offcut")                                                           \
    X(KIT_LATER, 7, "later-in-bulletin")                                                           \
    X(KIT_OPEN, 8, "attribute-open")

enum kit_reason {
#define X(symbol, number, code) symbol = number,
    KIT_REASON_TABLE(X)
#undef X
};

struct kit_finding {
    enum kit_reason reason;
    int attribute;     /* that differs or is open; -1 */
    int rack;          /* index into need->rack of the rack without a usable piece; -1 */
    bool fits;         /* every rack has a usable piece and nothing contradicts */
    int n_cuts;        /* when it fits */
    int64_t offcut_nm; /* in all, when it fits */
    struct cut_answer racks[CUT_RACKS_MAX]; /* by need->rack, up to the first that is unfit */
};

struct kit_answer { /* large: some 60 kB; better not on a small stack */
    int chosen;     /* index; -1: no kit, or an attribute is open */
    unsigned open;  /* bit i: attribute i must be told before a kit can be chosen */
    struct kit_finding kits[KIT_KITS_MAX];
};

/* kit_choose: kits[n]. A kit without pieces is chosen by its attributes alone; pieces that nobody
 * asks for do not matter. Errors: ERR_EMPTY (no kits), ERR_LIMIT (counts), ERR_DUPLICATE (a rack
 * asked for twice), ERR_DOMAIN (station), and those of cut_plan. *reterr_at: index of the kit,
 * (size_t)-1 for the need. */
MUST_USE enum err kit_choose(const struct kit *kits, size_t n, size_t n_attributes,
                             const struct kit_need *need, struct kit_answer *ret,
                             size_t *reterr_at);

const char *kit_reason_code(enum kit_reason reason);

#endif
