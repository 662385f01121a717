/* export: a bulletin as JSON, for the pages: everything that was read, in every language it was given in.
 *
 * Written by the same tables that read the file (schema.h), so that a key cannot be forgotten: each key of the reference
 * (doc/bulletin.md) stands at the same place, with these forms:
 *   time    "<key>_s"       whole seconds, or null          money  "<key>_minor"   whole minor units, or null
 *   amount  "<key>"         {"nano": integer, "unit": "mm"} or null; nano is 10^-9 of the dimension's base unit (core/quantity.h)
 *   text    "<key>"         {"en": "...", "es": "..."}, in the file's order; {} when not given
 *   share   "<key>"         {"of": 1, "by": 2} or null      date   "<key>"         "2026-02-16" or null
 *   days    "<key>"         {"first": day, "last": day}, days since 1970-01-01
 *   pairs, levels           {"hand": "left"}, {"side": 1}   effects  {"point": {"nano", "unit"}}
 *   one word                the word, or null               lists    arrays; a mapping that is not given is null
 * Every number is an integer within 2^53 either way (amounts are bounded by TRUING_AMOUNT_MAX), so that JavaScript reads it
 * exactly, but for the few that the file gives as decimals ("risk", "remeasure_factor"). */
#ifndef BULLETIN_EXPORT_H
#define BULLETIN_EXPORT_H

#include "base/jsonw.h"
#include "bulletin/bulletin.h"

enum { BULLETIN_EXPORT_FORMAT = 1 };

/* bulletin_write_json: members into an object that the caller has opened: "mendwright_bulletin": 1 (the form),
 * "currency_digits", "languages" (every language that some text has, in alphabetical order), then the sections of the file
 * by their names. */
void bulletin_write_json(const struct bulletin *b, struct jsonw *w);

/* bulletin_export: the whole object: "sha256" (of the file, 64 hexadecimal digits, by which events name it), then what bulletin_write_json gives; appended to out. */
void bulletin_export(const struct bulletin *b, const char *sha256, struct text *out);

/* bulletin_write_day: one member, "2026-02-16"; null for BULLETIN_NO_DAY. */
void bulletin_write_day(struct jsonw *w, const char *key, int32_t day);

#endif
