/* wire: copper conductors: resistance, voltage drop at a motor, and the least conductor for a given
 * drop.
 *
 * Resistance at temperature T (degrees Celsius): R(T) = R(20) (1 + 0.00393 (T - 20)), the
 * temperature coefficient of annealed copper at 20 C (IEC 60028). It is the same straight line as
 * the rule under NEC Chapter 9 Table 8, R2 = R1 (1 + 0.00323 (T2 - 75)), seen from 20 C: 0.00393 /
 * (1 + 0.00393 x 55) = 0.003232.
 *
 * AWG sizes: diameter 0.005 in x 92^((36-n)/39) (ASTM B258), resistivity 1/58 ohm mm2/m at 20 C
 * (100 % IACS, IEC 60028); a stranded conductor has 1.02 times the resistance of a solid one (lay
 * of the strands, ASTM B8). Metric sizes: the greatest resistance at 20 C that IEC 60228 allows for
 * the nominal area, plain copper.
 *
 * Direct current only. It says nothing of how warm a conductor gets: fuse and conductor size for
 * heat follow the maker's instructions and the local code; the thicker of the two answers holds.
 * Lengths are int64 nm, one way; the current goes there and back. */
#ifndef CORE_WIRE_H
#define CORE_WIRE_H

#include "core/err.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    WIRE_AWG_MIN = -3, /* 4/0; 3/0 is -2, 2/0 is -1, 1/0 is 0 */
    WIRE_AWG_MAX = 24,
    WIRE_TEMP_MIN_C = -50,
    WIRE_TEMP_MAX_C = 150
};

#define WIRE_LENGTH_MAX_NM ((int64_t)1000000000000) /* 1 km one way */

enum wire_kind {
    WIRE_AWG_SOLID,
    WIRE_AWG_STRANDED,
    WIRE_MM2_STRANDED, /* IEC 60228 class 2 */
    WIRE_MM2_FLEXIBLE, /* IEC 60228 class 5: what moves with a room or a door */
    WIRE_KIND_N
};

struct wire {
    enum wire_kind kind;
    int awg; /* for the AWG kinds */
    double
        area_mm2; /* for the others: one of the nominal areas 0.5 0.75 1 1.5 2.5 4 6 10 16 25 35 */
};

/* wire_awg_diameter: of the solid conductor, in mm. Errors: ERR_DOMAIN. Worked: 14 is 1.627726...
 * mm (0.0640837 in). */
MUST_USE enum err wire_awg_diameter(int awg, double *ret_mm);

/* wire_ohm_per_m: resistance of one metre of one conductor at temp_c.
 * Errors: ERR_DOMAIN (size or temperature out of range), ERR_UNKNOWN (an area that is no nominal
 * area). */
MUST_USE enum err wire_ohm_per_m(struct wire wire, double temp_c, double *ret_ohm_per_m);

struct wire_load {
    int64_t one_way_nm; /* supply to motor: 0..WIRE_LENGTH_MAX_NM */
    double current_a;   /* 0..10 000 */
    double supply_v;    /* > 0, up to 1000 */
    double temp_c;      /* of the conductor */
};

struct wire_drop {
    double loop_ohm;   /* there and back */
    double drop_v;     /* lost on the way */
    double percent;    /* of supply_v */
    double at_motor_v; /* what is left; not below 0 */
};

/* wire_drop: what a load loses in this conductor. Errors: ERR_DOMAIN, ERR_UNKNOWN.
 * Worked (NEC Table 8 solid at 75 C): 12 V, 20 A, 25 ft one way, 10 AWG: 1.21 V, 10.1 %. */
MUST_USE enum err wire_drop(struct wire wire, const struct wire_load *load, struct wire_drop *ret);

/* wire_least: the thinnest conductor of that kind whose drop is at most drop_max_v (> 0). AWG sizes
 * tried: 18 16 14 12 10 8 6 4 3 2 1 1/0 2/0 3/0 4/0 (those of NEC Chapter 9 Table 8); areas: the
 * nominal ones above (wire_listed). Errors: ERR_DOMAIN; ERR_IMPOSSIBLE when even the thickest loses more. */
MUST_USE enum err wire_least(enum wire_kind kind, const struct wire_load *load, double drop_max_v,
                             struct wire *ret, struct wire_drop *ret_drop);

/* wire_listed: size i (0: the thinnest) of those that wire_least tries; false beyond the thickest. */
bool wire_listed(enum wire_kind kind, size_t i, struct wire *ret);

/* wire_parse: a size as people write it, text[0..n): "10 AWG", "AWG 10", "10awg", "2/0 AWG", "0 AWG" (1/0),
 * "2.5 mm2", "2.5 mm^2" or with a raised 2; blanks around it are fine. is_stranded chooses among the kinds
 * (AWG: solid or stranded; mm2: flexible or stranded).
 * Errors: ERR_EMPTY; ERR_SYNTAX and ERR_UNIT (neither AWG nor mm2), *reterr_at being the offending byte, may
 * be n; ERR_DOMAIN (no such AWG size here), ERR_UNKNOWN (no nominal area). */
MUST_USE enum err wire_parse(const char *text, size_t n, bool is_stranded, struct wire *ret,
                             size_t *reterr_at);

/* wire_name: "10 AWG", "2/0 AWG", "2.5 mm2" into buf, NUL-terminated, cut to room; returns the size
 * written. */
size_t wire_name(struct wire wire, char *buf, size_t room);

#endif
