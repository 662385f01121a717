/* checks: what a bulletin means: does it contradict itself, leave someone unsafe, unpaid or without a kit?
 *
 * Run only on a bulletin whose form is faultless, so that every id is text and every required value is there. Faults make it
 * unusable; warnings are odd but may be meant. The core's own rules are asked where there are any (label patterns, guard bands,
 * pitches), so that what passes here does not fail there. */
#ifndef BULLETIN_CHECKS_H
#define BULLETIN_CHECKS_H

#include "bulletin/schema.h"

/* checks_run: everything; faults and warnings to s->faults. */
void checks_run(const struct bulletin *b, const struct schema *s);

/* ---- for checks_*.c only ---- */

/* Ids of a list of structs: the id of item i lies at (char *)at + i * size + offset. */
struct checks_ids {
    const void *at;
    size_t n, size, offset;
};

#define CHECKS_IDS(list, type)                                                                     \
    ((struct checks_ids){(list).at, (list).n, sizeof(struct type), offsetof(struct type, id)})

const char *checks_id(struct checks_ids ids, size_t i);
bool checks_has(struct checks_ids ids, const char *id);

/* checks_known: complains at the value of node's key unless id is among ids; what: "a station". false when unknown. */
bool checks_known(const struct schema *s, const struct yamlnode *at, const char *id,
                  struct checks_ids ids, const char *what);

/* checks_unique: complains of every id that was there before. */
void checks_unique(const struct schema *s, struct checks_ids ids, const char *what);

/* checks_words_unique, checks_words_known: the same for a plain list of words; list is its node. */
void checks_words_unique(const struct schema *s, const struct yamlnode *list,
                         const char *const *words, size_t n);
void checks_words_known(const struct schema *s, const struct yamlnode *list,
                        const char *const *words, size_t n, struct checks_ids ids,
                        const char *what);

/* checks_amount: "58 mm" as written; buf[QUANTITY_SHOW_MAX]. checks_money: "12.50 EUR", buf[48]. */
const char *checks_amount(const struct bulletin_amount *a, char *buf);
const char *checks_money(const struct schema *s, int64_t minor, char *buf);

/* checks_pair: the attribute is declared, and has such a value. */
bool checks_pair(const struct bulletin *b, const struct schema *s,
                 const struct bulletin_pair *pair);

/* checks_scope: false when a station fixes an attribute to what is not declared; which kit serves it cannot be judged then. */
bool checks_scope(const struct bulletin *b, const struct schema *s);
void checks_kits(const struct bulletin *b, const struct schema *s, bool are_stations_known);
void checks_racks(const struct bulletin *b, const struct schema *s);
void checks_steps(const struct bulletin *b, const struct schema *s);
void checks_points(const struct bulletin *b, const struct schema *s);
void checks_adjusters(const struct bulletin *b, const struct schema *s);
void checks_timing(const struct bulletin *b, const struct schema *s);
void checks_claim(const struct bulletin *b, const struct schema *s);

/* Complaints at a node's value, or at one of its keys (missing, or itself at fault). */
#define FAULT_AT(s, node, key, ...)                                                                \
    schema_complain((s), (node), (key), false, ERR_DOMAIN, __VA_ARGS__)
#define WARN_AT(s, node, key, ...)                                                                 \
    schema_complain((s), (node), (key), true, ERR_DOMAIN, __VA_ARGS__)

#endif
