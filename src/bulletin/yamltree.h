/* yamltree: a YAML text as a tree of nodes that know their place. The only place that sees libyaml.
 *
 * Taken: one document of mappings, lists and texts. Refused, each with its place and what to do
 * instead: anchors and aliases, tags, several documents, duplicate keys, keys that are not plain
 * words, more than YAMLTREE_DEPTH_MAX levels, YAMLTREE_NODES_MAX nodes, YAMLTREE_KEYS_MAX keys in
 * one mapping, bytes that are not UTF-8, control bytes, and the separators NEL, LS and PS, which
 * YAML 1.1 counts as line ends and editors do not. A byte order mark and CRLF are fine. Scalars are
 * kept as they are written: what is a number or a date is for the schema to say. */
#ifndef BULLETIN_YAMLTREE_H
#define BULLETIN_YAMLTREE_H

#include "bulletin/arena.h"
#include "bulletin/faults.h"

#include <stdbool.h>
#include <stddef.h>

enum { YAMLTREE_DEPTH_MAX = 16, YAMLTREE_NODES_MAX = 200000, YAMLTREE_KEYS_MAX = 512 };

enum yamlnode_kind { YAMLNODE_TEXT, YAMLNODE_LIST, YAMLNODE_MAPPING };

struct yamlnode {
    enum yamlnode_kind kind;
    int line, column; /* from 1, columns in characters; of the value, of the key when the value is
                         empty */
    const struct yamlnode *parent; /* NULL at the top */
    const char *key;               /* when the parent is a mapping, else NULL */
    int key_line, key_column;
    size_t index;     /* among the parent's items */
    const char *text; /* YAMLNODE_TEXT: NUL-terminated; "" else */
    size_t n_text;
    bool is_plain;                       /* written without quotes, in one piece */
    const struct yamlnode *const *items; /* of a list or mapping, in the order of the file */
    size_t n_items;
};

/* yamltree_read: text[0..n) into *ret_root, in the arena. Everything wrong goes to *faults (with
 * name as file). Errors: ERR_SYNTAX, ERR_DUPLICATE, ERR_LIMIT, ERR_ENCODING, ERR_EMPTY, ERR_MEMORY;
 * faults->is_unreadable is then set. */
MUST_USE enum err yamltree_read(const char *text, size_t n, const char *name, struct arena *arena,
                                const struct yamlnode **ret_root, struct fault_list *faults);

/* yamlnode_get: the value of a key; NULL when missing, or when the node is no mapping or NULL. */
const struct yamlnode *yamlnode_get(const struct yamlnode *node, const char *key);

/* yamlnode_path: "kits[2].racks[0].length" into buf, cut to fit, NUL-terminated; "" at the top. */
void yamlnode_path(const struct yamlnode *node, char *buf, size_t room);

/* yamlnode_is_empty: nothing is written: `key:`, `key: ~` or `key: null`. */
bool yamlnode_is_empty(const struct yamlnode *node);

#endif
