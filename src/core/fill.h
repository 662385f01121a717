/* fill: puts words, whole numbers, days and lengths into a buffer of the caller's, cut to fit and
 * always closed by NUL. For the sentences that the core hands out (scope, kit, cut, timing), so
 * that phone and desk read the same words. */
#ifndef CORE_FILL_H
#define CORE_FILL_H

#include "core/quantity.h"

struct fill {
    char *buf;
    size_t room, size; /* size: bytes written so far, without the NUL; < room when room > 0 */
    bool is_cut;       /* something did not fit */
};

/* fill_start: buf[room] may be NULL with room 0. */
void fill_start(struct fill *f, char *buf, size_t room);
void fill_puts(struct fill *f, const char *s);
void fill_int(struct fill *f, int64_t value);
void fill_day(struct fill *f, int32_t day); /* "2024-02-05" */

/* fill_days: "2024-02-05", or "2024-02-05 to 2024-02-11" when they differ. */
void fill_days(struct fill *f, int32_t first, int32_t last);

/* fill_length: UNIT_IN shows the nearest 1/64 in as a fraction, every other unit of length one
 * decimal (mm, cm, m: 1, 2, 4 decimals, that is a tenth of a millimetre). Marks nothing as rounded:
 * the exact figure stands in the data. */
void fill_length(struct fill *f, int64_t nm, enum unit show);

/* fill_hundredths: value with two decimals, half away from zero; |value| < 1e12, else "?". */
void fill_hundredths(struct fill *f, double value);

#endif
