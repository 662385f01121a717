/* cut: from a needed length to a mark, for one rack that is cut from a longer one.
 *
 *      kept end                       mark
 *        |<---------- needed --------->|kerf|<-- offcut -->|
 *        |<----------------------- stock ----------------->|
 *
 * The blade stands on the waste side of the line, so that the kept piece is the needed length and
 * needed + kerf + offcut = stock exactly, in whole nm. When 0 < stock - needed < kerf the blade has
 * no waste side to stand on: the cut is refused. A piece whose length equals the need within the
 * uncertainty is not cut.
 *
 * A ready-made piece is never cut; a piece relieved at both ends is not cut; a piece relieved at
 * one end is cut at the other, and its relieved end is the kept end (common practice).
 *
 * The teeth: pitch p = pi x module (core/gear.h). With the middle of the first tooth at
 * `first_tooth` from the kept end, the cut falls at the fraction f of the pitch past the middle of
 * a gap: f = frac((needed - first_tooth)/p + 1/2), 0 the middle of a gap, 1/2 the middle of a
 * tooth. At the pitch line a tooth fills half the pitch, f = 1/4..3/4, so the kept side keeps a
 * part tooth of (f - 1/4) p there when 1/4 < f < 3/4.
 *
 * Uncertainty: the tape is laid twice (measuring, marking) and the blade once; root sum of squares
 * (JCGM 100:2008, 5.1.2). The tape's own scale error would cancel when one tape does both; it is
 * counted twice here, which is on the safe side. */
#ifndef CORE_CUT_H
#define CORE_CUT_H

#include "core/fill.h"
#include "core/gear.h"

enum { CUT_RACKS_MAX = 8, CUT_TEXT_MAX = 320 };

/* Two readings of one thing, or a length and a limit, are told apart beyond this many standard
 * uncertainties: about 95 %. */
#define CUT_COVERAGE 2.0

/* Lengths beyond 1 km are refused, so sums never overflow. */
#define CUT_LENGTH_MAX ((int64_t)1000000000000)

enum cut_relief {
    CUT_RELIEF_NONE,
    CUT_RELIEF_ONE,
    CUT_RELIEF_BOTH
}; /* how many ends are relieved */

enum cut_blade {
    CUT_BLADE_WASTE, /* beside the line, on the waste side: the mark stands at the needed length */
    CUT_BLADE_CENTRE /* its middle on the line: the mark stands half a kerf further out, the kept
                        piece stays as needed */
};

struct cut_piece {
    int64_t stock_nm; /* as shipped, > 0 */
    bool is_ready;    /* ready-made: never cut */
    enum cut_relief relief;
    int64_t kerf_nm;  /* > 0 for a piece that may be cut */
    int64_t fit_nm;   /* a piece that is not cut may differ this much from the need, >= 0 */
    int64_t least_nm; /* needed lengths that it can give; 0: no limit, or for a ready-made piece */
    int64_t greatest_nm;   /* the stock less and plus the fit */
    int64_t offcut_max_nm; /* a longer offcut gives a warning; 0: none */
    enum cut_blade blade;
    int64_t module_nm;      /* of the teeth; 0: no teeth, or not known */
    bool has_first_tooth;   /* else nothing is said of where in the tooth the cut falls */
    int64_t first_tooth_nm; /* kept end to the middle of the first tooth, >= 0 */
    int64_t
        sliver_nm; /* a part tooth thinner than this at the pitch line gives a warning; 0: none */
};

struct cut_uncertainty { /* standard uncertainties, nm, >= 0 */
    double tape_nm;      /* one length by the tape (conform_combine of its parts) */
    double blade_nm;     /* blade to line */
    double stock_nm;     /* length of the piece as shipped */
};

/* symbol, number, code for scripts */
#define CUT_STATUS_TABLE(X)                                                                        \
    X(CUT_NOT_NEEDED, 0, "no-cut")                                                                 \
    X(CUT_DO, 1, "cut")                                                                            \
    X(CUT_TOO_SHORT, 2, "too-short")                                                               \
    X(CUT_NO_WASTE_SIDE, 3, "no-waste-side")                                                       \
    X(CUT_READY_DIFFERS, 4, "ready-made-differs")                                                  \
    X(CUT_RELIEVED_BOTH, 5, "relieved-both-ends")                                                  \
    X(CUT_BELOW_LEAST, 6, "below-least")                                                           \
    X(CUT_ABOVE_GREATEST, 7, "above-greatest")

enum cut_status {
#define X(symbol, number, code) symbol = number,
    CUT_STATUS_TABLE(X)
#undef X
};

#define CUT_WARNING_TABLE(X)                                                                       \
    X(CUT_WARN_OFFCUT, 0, "large-offcut")                                                          \
    X(CUT_WARN_SLIVER, 1, "sliver")                                                                \
    X(CUT_WARN_NEAR_LEAST, 2, "near-least")                                                        \
    X(CUT_WARN_NEAR_GREATEST, 3, "near-greatest")

enum cut_warning {
#define X(symbol, number, code) symbol = number,
    CUT_WARNING_TABLE(X)
#undef X
        CUT_WARNINGS_N
};

struct cut_answer {
    enum cut_status status;
    int64_t needed_nm, stock_nm;
    int64_t mark_nm;       /* from the kept end; CUT_DO only, else 0 */
    int64_t kerf_nm;       /* taken by the blade; 0 when nothing is cut */
    int64_t offcut_nm;     /* stock - needed - kerf for CUT_DO, else 0 */
    double mark_u_nm;      /* combined standard uncertainty of the cut edge */
    double tooth_fraction; /* 0..1; CUT_DO with module and first tooth, else -1 */
    double part_tooth_nm;  /* left on the kept side at the pitch line; 0: none or a whole one; else
                              -1 like the fraction */
    unsigned warnings;     /* bit CUT_WARN_* */
};

/* cut_can: whether the status lets the piece be used. */
bool cut_can(enum cut_status status);

/* cut_plan: one piece, one needed length (nm, > 0).
 * Errors: ERR_DOMAIN (a negative or non-finite figure, no kerf on a piece that may be cut, no
 * pitch), ERR_RANGE (beyond CUT_LENGTH_MAX), ERR_ORDER (least > greatest). Worked: stock 1000 mm,
 * needed 812.5 mm, kerf 1.2 mm: mark at 812.5 mm, offcut 186.3 mm. */
MUST_USE enum err cut_plan(const struct cut_piece *piece, int64_t needed_nm,
                           const struct cut_uncertainty *u, struct cut_answer *ret);

/* cut_mark_u: sqrt(2 tape^2 + blade^2), nm. */
double cut_mark_u(const struct cut_uncertainty *u);

/* cut_tooth_fraction: where in the tooth the length falls, 0 <= f < 1. Errors: ERR_DOMAIN (module).
 */
MUST_USE enum err cut_tooth_fraction(int64_t length_nm, int64_t first_tooth_nm, int64_t module_nm,
                                     double *ret_fraction);

/* cut_disagree: two measured lengths that ought to be equal differ by more than factor x sqrt(a_u^2
 * + b_u^2). */
bool cut_disagree(int64_t a_nm, double a_u, int64_t b_nm, double b_u, double factor);

struct cut_pair {
    size_t a, b;      /* indexes of the two racks that are furthest apart */
    int64_t apart_nm; /* |difference| */
    double allowed_nm;
};

/* cut_remeasure: among racks of one group (group[i] >= 0; -1: in none), the pair that disagrees the
 * most beyond what the tape explains. lengths_nm[n], n <= CUT_RACKS_MAX. false: nothing to measure
 * again. */
bool cut_remeasure(const int64_t *lengths_nm, const int *group, size_t n, double tape_u_nm,
                   double factor, struct cut_pair *ret);

const char *cut_status_code(enum cut_status status);
const char *cut_warning_code(enum cut_warning warning);

/* Sentences without full stop; lengths shown in `show`. buf[room >= CUT_TEXT_MAX]; return the size.
 */
size_t cut_status_text(const struct cut_piece *piece, const struct cut_answer *answer,
                       enum unit show, char *buf, size_t room);
size_t cut_warning_text(const struct cut_piece *piece, const struct cut_answer *answer,
                        enum cut_warning warning, enum unit show, char *buf, size_t room);

#endif
