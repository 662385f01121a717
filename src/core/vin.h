/* vin: vehicle identification numbers: check digit, model years, repair of misreads.
 * Source: 49 CFR 565.15 (check digit, Tables III to VII), ISO 3779 (17 characters). The check digit
 * is required in North America and China only: elsewhere a mismatch is a warning, which is the
 * caller's to decide.
 *
 * Seventeen equal digits always pass the arithmetic (the weights sum to 89, which is 1 modulo 11),
 * so it proves nothing: they are refused as VIN_FAULT_CHECK with is_filler set, save the straight
 * ones that are used for testing. */
#ifndef CORE_VIN_H
#define CORE_VIN_H

#include "core/err.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { VIN_SIZE = 17, VIN_YEARS_MAX = 2, VIN_REPAIRS_MAX = 24, VIN_TEXT_MAX = 64 };

enum vin_fault { VIN_FAULT_NONE, VIN_FAULT_LENGTH, VIN_FAULT_CHARACTER, VIN_FAULT_CHECK };

/* vin_fault_name: the contract's word: "length", "character", "check"; NULL for VIN_FAULT_NONE. */
const char *vin_fault_name(enum vin_fault fault);

struct vin_verdict {
    char vin[VIN_SIZE + 1]; /* upper-cased, blanks and dashes around it dropped; "" when the length
                               is wrong; bytes that are no printable ASCII stand as '?' */
    enum vin_fault fault;
    bool is_filler; /* seventeen equal digits: the arithmetic passes and proves nothing */
    size_t at; /* byte of the first bad character in the text given (position 9 for the check digit,
                  the 18th when too long); its size when too short; 0 when there is no fault */
    char check_expected; /* '0'..'9' or 'X'; 0 when it cannot be computed */
    char check_found;    /* the character at position 9; 0 when the length is wrong */
    int n_years;
    int years[VIN_YEARS_MAX]; /* what position 10 can mean, the likelier first; none for a bad
                                 letter */
};

/* vin_check: judges one VIN. text[0..n) is hostile and may hold any bytes. Never fails. The length
 * is judged first, then the characters, then the check digit. Model years: position 10 stands for
 * two years 30 apart. 49 CFR 565.15(b): cars, multipurpose vehicles and trucks up to 4536 kg have a
 * letter in position 7 from model year 2010 on, so a letter there puts the later year first, a
 * digit the earlier. The rule does not cover trailers, buses and heavy motor homes: both years are
 * always given. Worked: 1G4AH59H45G118341 has no fault, check digit 4, years 2005 and 2035. */
void vin_check(const char *text, size_t n, struct vin_verdict *ret);

/* vin_is_valid17: the fast path for batches: exactly 17 bytes, any case; true when vin_check would
 * find no fault. */
bool vin_is_valid17(const char *text);

struct vin_repair {
    char vin[VIN_SIZE + 1];
    enum vin_repair_kind { VIN_REPAIR_MISREAD, VIN_REPAIR_SWAP, VIN_REPAIR_KNOWN } kind;
    int at;        /* position of the change, from 1; of the first when there are several */
    char was, now; /* the character read there and the one proposed */
    int rank;      /* from 1, the likeliest */
};

/* vin_repair: what a faulty VIN may have been before it was misread or mistyped, likeliest first.
 *
 * Letters that no VIN may hold are put right first, all at once: I to 1, O and Q to 0. If that
 * alone makes the check digit right it is proposed; on top of it every single look-alike is tried.
 * Without such letters neighbour swaps are tried too. Look-alikes, either way, the surer first: I/1
 * O/0 Q/0 S/5 B/8 Z/2 G/6; then D/0 D/O D/Q Q/9 Q/G C/O L/1 L/I 7/1 T/7 Z/7 A/4 9/4 3/8 3/B 3/5 5/6
 * 6/8 0/6 0/8 U/V V/Y V/W C/G M/N H/N K/X E/F P/R. In the order, look-alikes come before swaps
 * before other characters; within each a proposal falls back when it has a letter among the last
 * four characters or none of the model-year codes in position 10 (49 CFR 565.15, from memory for
 * the last four; a habit, so it never excludes anything).
 *
 * known[n_known]: VINs that exist (each VIN_SIZE+1 bytes, upper case), in any order, or NULL. With
 * a list only VINs of it are returned, whatever their check digit; any single other character is
 * tried too. Cost: O(n_known). Returns how many were written to ret[VIN_REPAIRS_MAX], the likeliest
 * when there are more; 0 for a VIN without fault, for a wrong length, and for a VIN that is itself
 * in the list. */
size_t vin_repair(const char *text, size_t n, const char (*known)[VIN_SIZE + 1], size_t n_known,
                  struct vin_repair *ret);

#endif
