/* exports: the core as flat functions for WebAssembly: numbers and pointers into linear memory, no
 * structs.
 *
 * The phone pages and the server call the same core; this is the only door to it from JavaScript.
 * exports.txt lists the names and is reviewed: a test checks that the module exports exactly those
 * and imports nothing.
 *
 * Rules for all of them:
 * - Text is (pointer, size) in UTF-8. A list of texts is one block in which each text is closed by
 * NUL.
 * - int64 arrays are BigInt64Array, double arrays Float64Array, both 8-byte aligned as mw_alloc
 * gives them.
 * - Functions that can fail return a number of enum err, 0 = fine; mw_err_text says it in words.
 * Then `ret` holds only ret[0]: the byte or index at fault (-1: none). Enumerations travel by their
 * number in the core's header, and a number that is not in the enumeration is an error, never
 * undefined.
 * - Amounts are int64 nano (core/quantity.h). No limit: INT64_MIN, INT64_MAX.
 * - Sizes are bounded by the core's own limits; pointers are believed: a wrong one can hurt only
 * the module's memory. */
#ifndef WASM_EXPORTS_H
#define WASM_EXPORTS_H

#include <stdint.h>

/* ---- memory ----------------------------------------------------------------------------------
 * A bump allocator: fill in the inputs, call, read the outputs, mw_reset. This state belongs to the
 * wasm layer alone. */

/* mw_alloc: size bytes, 16-byte aligned, not cleared; NULL when memory ran out. May grow the
 * memory: views made before the call are then stale. */
void *mw_alloc(uint32_t size);

/* mw_reset: everything handed out is free again. */
void mw_reset(void);

/* ---- words ----------------------------------------------------------------------------------- */

/* mw_err_text: the words for an error number into buf[room], NUL-closed, cut to fit; returns the
 * size. */
int32_t mw_err_text(int32_t code, char *buf, uint32_t room);

/* ---- amounts and dates ----------------------------------------------------------------------- */

/* mw_unit_find: number of the unit written in text; the number of units when there is none of that
 * name. */
int32_t mw_unit_find(const char *text, uint32_t n);

/* mw_quantity_parse: bare: unit of a number without one, or the number of units: one must be
 * written. ret[4]: nano, dimension, unit, is_rounded. */
int32_t mw_quantity_parse(const char *text, uint32_t n, int32_t bare, int64_t *ret);

/* mw_quantity_from_double: ret[1]: nano. */
int32_t mw_quantity_from_double(double value, int32_t unit, int64_t *ret);

/* mw_quantity_show: decimals 0..9, -1: as many as needed and no unit. buf[64]. ret[2]: size,
 * is_rounded. */
int32_t mw_quantity_show(int64_t nano, int32_t unit, int32_t decimals, char *buf, int64_t *ret);

/* mw_length_fraction: inches as a mixed fraction. buf[64]. ret[2]: size, is_rounded. */
int32_t mw_length_fraction(int64_t nm, int32_t denominator, char *buf, int64_t *ret);

/* mw_date_show: day counted from 1970-01-01, years 1900..2199, as "YYYY-MM-DD" and NUL into
 * buf[11]. ret[3]: ISO week-year, week, weekday. */
int32_t mw_date_show(int32_t day, char *buf, int64_t *ret);

/* ---- names ------------------------------------------------------------------------------------ */

/* mw_ulid_next: the name of an event: time_ms since 1970-01-01, 10 random bytes of the caller's, and the name this device gave
 * last (n 26, or 0 for none), after which the new one sorts. ret_name[27]: 26 capitals and NUL. ret[1]: only on failure.
 * See core/ulid.h. */
int32_t mw_ulid_next(const char *last, uint32_t n, int64_t time_ms, const uint8_t *random,
                     int64_t *ret, char *ret_name);

/* ---- the unit and its labels ----------------------------------------------------------------- */

/* mw_label_read: patterns: a list of n_patterns texts in patterns[0..patterns_size).
 * ret[3]: first day, last day, index of the pattern. ret_variant[25]: NUL-closed, "" when there is
 * none. */
int32_t mw_label_read(const char *text, uint32_t n, const char *patterns, uint32_t patterns_size,
                      uint32_t n_patterns, int64_t *ret, char *ret_variant);

/* mw_vin_check: ret[7]: fault, at, check_expected, check_found, n_years, year, other year (0:
 * none). ret_vin[18]: as cleaned, NUL-closed. Returns the fault, too. */
int32_t mw_vin_check(const char *text, uint32_t n, int64_t *ret, char *ret_vin);

/* mw_vin_repair: known: n_known VINs of 17 characters and NUL, one after the other; n_known 0: no
 * list. ret[24][5]: kind, at, was, now, rank. ret_vins[24][18]. Returns how many were written. */
int32_t mw_vin_repair(const char *text, uint32_t n, const char *known, uint32_t n_known,
                      int64_t *ret, char *ret_vins);

/* mw_scope: n[6]: stations, variants, codes, windows, prefixes, bytes of the VIN (0: none).
 * variants, codes, prefixes: lists of texts; code_variants[codes]: the variant that each code
 * means. windows[][4]: variant or -1, station or -1, first day, last day. sights[][4], a row a
 * station: state of the label, first day, last day, index of the pattern. sight_variants: a list of
 * two texts a station: the label's variant and the one given by hand ("": none). size[5]: bytes of
 * variants, codes, prefixes, sight_variants, and of each row of ret_texts (at least 320).
 * ret[2 + 7 stations]: unit verdict, has_vin_warning, then a row a station: verdict, reason,
 * window, variant, has_days, first day, last day. ret_texts, two rows a station: the reason, and
 * what would settle it. */
int32_t mw_scope(const uint32_t *n, const uint32_t *size, const char *vin, int32_t vin_rule,
                 const char *variants, const char *codes, const int64_t *code_variants,
                 const char *prefixes, const int64_t *windows, const int64_t *sights,
                 const char *sight_variants, int64_t *ret, char *ret_texts);

/* ---- cutting --------------------------------------------------------------------------------- */
/* A piece is piece[13]: stock_nm, is_ready, relief, kerf_nm, least_nm, greatest_nm, offcut_max_nm,
 * blade, module_nm, has_first_tooth, first_tooth_nm, sliver_nm, fit_nm. u[3]: tape_nm, blade_nm, stock_nm.
 * See cut.h. */

/* mw_cut_plan: ret[7]: status, needed_nm, stock_nm, mark_nm, kerf_nm, offcut_nm, warnings.
 * ret_real[3]: mark_u_nm, tooth_fraction, part_tooth_nm. ret_text[320]: the status in words,
 * lengths in unit `show`. */
int32_t mw_cut_plan(const int64_t *piece, int64_t needed_nm, const double *u, int32_t show,
                    int64_t *ret, double *ret_real, char *ret_text);

/* mw_cut_remeasure: lengths_nm[n], group[n] (-1: in none). Returns 1 when two disagree: ret[3]: a,
 * b, apart_nm; 0 when none do; -1 when n is beyond the limit of 8. */
int32_t mw_cut_remeasure(const int64_t *lengths_nm, const int64_t *group, uint32_t n,
                         double tape_u_nm, double factor, int64_t *ret);

/* mw_kit_choose: kits[n_kits][3 + n_attributes]: stations (bits), n_pieces, 0, then the value of
 * each attribute (-1: any). pieces[sum of n_pieces][14]: rack, then the 13 of a piece. need:
 * station, n_racks, then n_attributes values, then n_racks pairs of rack and needed_nm.
 * ret[2 + 6 n_kits]: chosen or -1, open (bits), then a row a kit: reason, attribute, rack, fits,
 * n_cuts, offcut_nm. */
int32_t mw_kit_choose(const int64_t *kits, uint32_t n_kits, uint32_t n_attributes,
                      const int64_t *pieces, const int64_t *need, const double *u, int64_t *ret);

/* ---- teeth and conductors -------------------------------------------------------------------- */

/* mw_gear_span: ret[1]: length of n_teeth pitches, nm. */
int32_t mw_gear_span(int64_t module_nm, int64_t n_teeth, int64_t *ret);

/* mw_wire_least: the thinnest conductor of that kind that loses at most drop_max_v. load[3]:
 * current_a, supply_v, temp_c. ret[4]: loop_ohm, drop_v, percent, at_motor_v; on failure ret[0] =
 * -1. ret_name[24]: "10 AWG". */
int32_t mw_wire_least(int32_t kind, const double *load, int64_t one_way_nm, double drop_max_v,
                      double *ret, char *ret_name);

/* ---- readings and limits --------------------------------------------------------------------- */

/* mw_conform: ret[6]: simple, guarded, guard, guarded low, guarded high, margin. ret_p[1]:
 * probability of conformity. */
int32_t mw_conform(int64_t reading, double u, int64_t low, int64_t high, double risk, int64_t *ret,
                   double *ret_p);

/* mw_conform_combine: root sum of squares of an instrument's resolution (half width over sqrt 3),
 * calibration, repeat. */
double mw_conform_combine(int64_t resolution, double calibration_u, double repeat_u);

/* mw_conform_risks: ret[3]: consumer, producer, accept; JCGM 106:2012, 9.5; see conform.h. */
int32_t mw_conform_risks(double mean, double process_u, double measure_u, double low, double high,
                         double w, double *ret);

/* mw_modes: points[n][k + 1]: the k levels, the deviation; u[n]; n = 2^k.
 * ret[n][4]: set, sum, value, is_significant. ret_u[n]. */
int32_t mw_modes(const int64_t *points, const double *u, uint32_t n, uint32_t k, int64_t *ret,
                 double *ret_u);

/* mw_modes_meaning: names: a list of k texts in names[0..names_size). buf[room]. ret[1]: size. */
int32_t mw_modes_meaning(const char *names, uint32_t names_size, uint32_t k, uint32_t set,
                         char *buf, uint32_t room, int64_t *ret);

/* ---- truing and timing ----------------------------------------------------------------------- */

/* mw_truing_size: int64 that `ret` of mw_truing needs; ret_p needs as many doubles at most. 0:
 * sizes out of range. */
uint32_t mw_truing_size(uint32_t n_points, uint32_t n_adjusters, uint32_t n_plans);

/* mw_truing: points[n_points][4]: nominal, low, high, reading; u[n_points].
 * adjusters[n_adjusters][4]: min, max, setup_s, step_s. effect[n_adjusters][n_points]. risk: 0: no
 * guard. node_limit 0: the core's own. ret: verdict, worst_violation, n_plans, is_proved, nodes,
 * bound_violation, bound_cost_s, is_aimed; [n_points][3]: verdict, guarded low, guarded high; [n_plans]:
 * cost_s, worst_violation, least_margin, steps[n_adjusters], predicted[n_points]. ret_p: [1 +
 * n_plans][n_points]: probability of conformity as read, then after each plan. */
int32_t mw_truing(const int64_t *points, const double *u, uint32_t n_points,
                  const int64_t *adjusters, uint32_t n_adjusters, const int64_t *effect,
                  double risk, uint32_t n_plans, int64_t node_limit, int64_t *ret, double *ret_p);

/* mw_advise: the same, aiming as core/advise does; plan_risk 0: not. */
int32_t mw_advise(const int64_t *points, const double *u, uint32_t n_points,
                  const int64_t *adjusters, uint32_t n_adjusters, const int64_t *effect,
                  double risk, double plan_risk, uint32_t n_plans, int64_t node_limit, int64_t *ret,
                  double *ret_p);

/* mw_timing: racks[n_racks][5]: end_nm, min, max, setup_s, step_s; u[n_racks].
 * differences[n_differences][5]: a, b, nominal_nm, low_nm, high_nm. risk: 0: no guard. ret:
 * verdict, worst, pitch_nm, is_proved, nodes, moves[n_racks], [n_differences][6]: meaning, verdict,
 * before_nm, after_nm, teeth, is_whole. ret_real[n_differences][3]: u_nm, residue, residue_u. */
int32_t mw_timing(const int64_t *racks, const double *u, uint32_t n_racks,
                  const int64_t *differences, uint32_t n_differences, int64_t module_nm,
                  double risk, int64_t *ret, double *ret_real);

/* ---- photos ---------------------------------------------------------------------------------- */

/* mw_photo: a grey picture, one byte a pixel, row after row, as large as the caller took it (the desk judges light and
 * sharpness at 1024 pixels on the longer side). ret[5]: dhash, dhash_mirror, phash, phash_mirror, is_flat.
 * ret_real[5]: mean light 0..1, dark share, bright share, sharpness, contrast; see photohash.h. */
int32_t mw_photo(const uint8_t *grey, uint32_t width, uint32_t height, int64_t *ret,
                 double *ret_real);

/* mw_photo_alike: a[4], b[4]: dhash, dhash_mirror, phash, phash_mirror of two pictures that are not flat, as mw_photo gave them.
 * 0: different; 1: likely the same picture; 2: likely the same, seen in a mirror (photohash_alike). */
int32_t mw_photo_alike(const int64_t *a, const int64_t *b);

/* ---- practice -------------------------------------------------------------------------------- */
/* A game is a seed, its faults and the list of operations so far; each call goes through all of them (core/practice.h).
 * spread: -1: plant faults[n_faults][4]: kind, side, place, amount; 0..300: draw a unit by seed. ops[n_ops][4]: op, side, place,
 * amount; at most 5000. On failure ret[0] is the index of the fault or operation at fault. */

/* mw_practice: ret[47 + 4 n_ops]. Scene: extension, visible, end of the last run, is_supported, is_isolated, is_finished, yaw, lean;
 * then fore lower, fore upper, aft lower, aft upper, four each of: gap here, mesh depth, teeth ahead, what its end is off beside,
 * packing; then toe fore, aft. Score from 30 on: is_inside, inside, cautions, n_cautions, n_moves, n_readings, n_runs, seconds,
 * worst_gap_nm, and the 8 true gaps in the order of mechanism_corners. From 47 on each operation's refusal, cautions, nano,
 * seconds. ret_real[12]: places fore, aft, m; of the last run volts, amperes and twist of fore and aft, feed_a, time_s, apart_m, J in. */
int32_t mw_practice(int64_t seed, int32_t spread, const int64_t *faults, uint32_t n_faults,
                    const int64_t *ops, uint32_t n_ops, int64_t *ret, double *ret_real);

/* mw_practice_trace: how a run to to_nm would go after these operations. ret[2]: samples written, how it ends.
 * ret_real[n_samples][7]: time_s, places of fore and aft, their amperes, their volts. */
int32_t mw_practice_trace(int64_t seed, int32_t spread, const int64_t *faults, uint32_t n_faults,
                          const int64_t *ops, uint32_t n_ops, int64_t to_nm, double every_s,
                          uint32_t n_samples, int64_t *ret, double *ret_real);

#endif
