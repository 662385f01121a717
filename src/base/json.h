/* json: reads a JSON file or text, strictly, and tells where it is wrong. The only place that sees
 * jansson. Refused: duplicate keys, NaN, text after the end, non-UTF-8, NUL, depth over
 * JSON_DEPTH_MAX, files over JSON_SIZE_MAX, more than JSON_ITEMS_MAX values, integers that do not
 * fit 64 bits, reals that overflow. A UTF-8 byte order mark at the start is skipped. Nodes are
 * borrowed from the document and die with it. */
#ifndef BASE_JSON_H
#define BASE_JSON_H

#include "base/fault.h"
#include "core/quantity.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { JSON_SIZE_MAX = 16 * 1024 * 1024, JSON_ITEMS_MAX = 1000000, JSON_DEPTH_MAX = 64 };

struct json_doc; /* owns the tree */
typedef const struct json_node json_node;

/* json_parse: text[0..n). name is for messages ("problem.json"). On failure *reterr tells file,
 * line, column, what was found and expected. Any kind of value may stand at the root. Free with
 * json_free (NULL is fine). The text need not outlive the call. Source of the rules: RFC 8259.
 * Errors: ERR_EMPTY, ERR_SYNTAX, ERR_ENCODING, ERR_DUPLICATE, ERR_RANGE, ERR_LIMIT, ERR_MEMORY. */
MUST_USE enum err json_parse(const char *text, size_t n, const char *name, struct json_doc **ret,
                             struct fault *reterr);
void json_free(struct json_doc *doc);
json_node *json_root(const struct json_doc *doc);

enum json_kind { JSON_NULL, JSON_BOOL, JSON_INT, JSON_REAL, JSON_STRING, JSON_ARRAY, JSON_OBJECT };
enum json_kind json_kind(json_node *node);
const char *
json_kind_name(enum json_kind kind); /* "a number", "a text", "a list", "an object", ... */

json_node *json_get(json_node *object, const char *key); /* NULL when missing or not an object */
size_t json_size(json_node *node);                       /* items of an array or object; else 0 */
json_node *json_at(json_node *array, size_t i);          /* NULL when out of range */
/* i-th member of an object, in file order; *ret_key borrowed. NULL when out of range. */
json_node *json_member(json_node *object, size_t i, const char **ret_key);

int64_t json_int(json_node *node);   /* 0 unless JSON_INT */
double json_double(json_node *node); /* of JSON_INT or JSON_REAL; else 0 */
bool json_bool(json_node *node);
/* NULL unless JSON_STRING; ret_n may be NULL. Hidden, because jansson exports a function of this
 * name and must go on finding its own. */
__attribute__((visibility("hidden"))) const char *json_string(json_node *node, size_t *ret_n);

/* json_place: writes the line and column at which the node's text begins into f, so that a fault
 * found later in its meaning points as well as one in its form. NULL node: leaves f alone. */
void json_place(json_node *node, struct fault *f);

/* json_quantity: an amount in nano: a number in `bare`, or a string with a unit of bare's
 * dimension. On failure reterr->message says what was found and expected; the caller has set
 * reterr->path. */
MUST_USE enum err json_quantity(json_node *node, enum unit bare, int64_t *ret_nano,
                                struct fault *reterr);

#endif
