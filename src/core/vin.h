/* vin: vehicle identification numbers: check digit, model years, repair of misreads.
 * Source: 49 CFR 565.15 (check digit, Tables III to VII), ISO 3779 (17 characters). The check digit is required in
 * North America and China only: elsewhere a mismatch is a warning, which is the caller's to decide.
 * Seventeen equal characters are refused as implausible (FAULT_PLAUSIBLE) but for the well-known straight ones. */
#ifndef CORE_VIN_H
#define CORE_VIN_H

#include "core/err.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { VIN_SIZE = 17, VIN_YEARS_MAX = 2, VIN_REPAIRS_MAX = 24, VIN_TEXT_MAX = 64 };

enum vin_fault { VIN_FAULT_NONE, VIN_FAULT_LENGTH, VIN_FAULT_CHARACTER, VIN_FAULT_CHECK };

struct vin_verdict {
    char vin[VIN_SIZE + 1]; /* upper-cased, blanks and dashes around it dropped; "" when the length is wrong */
    enum vin_fault fault;
    size_t at;              /* byte of the first bad character in the text given; its size when too short */
    char check_expected;    /* '0'..'9' or 'X'; 0 when it cannot be computed */
    char check_found;       /* the character at position 9; 0 when the length is wrong */
    int n_years;
    int years[VIN_YEARS_MAX]; /* what position 10 can mean, the likelier first; none for a bad letter */
};

/* vin_check: judges one VIN. text[0..n) is hostile and may hold any bytes. Never fails. */
void vin_check(const char *text, size_t n, struct vin_verdict *ret);

/* vin_is_valid17: the fast path for batches: exactly 17 bytes, any case; true when vin_check would find no fault. */
bool vin_is_valid17(const char *text);

struct vin_repair {
    char vin[VIN_SIZE + 1];
    enum { VIN_REPAIR_MISREAD, VIN_REPAIR_SWAP, VIN_REPAIR_KNOWN } kind;
    int at;        /* position of the change, from 1; of the first of two when swapped */
    char was, now; /* the character read and the one proposed */
    int rank;      /* 1 is likeliest; look-alikes before swaps before any other single character */
};

/* vin_repair: single look-alike misreads (I/1, O/0, Q/0, S/5, B/8, Z/2, G/6 ...; several at once where they are
 * letters no VIN may hold), neighbour swaps, that make the check digit right, ranked.
 * known[n_known]: VINs that exist (each VIN_SIZE+1 bytes), or NULL; with a list, only repairs in it are returned
 * and any single wrong character is tried too.
 * Returns how many were written to ret[VIN_REPAIRS_MAX]; 0 for a VIN without fault. */
size_t vin_repair(const char *text, size_t n, const char (*known)[VIN_SIZE + 1], size_t n_known,
                  struct vin_repair *ret);

#endif
