/* yamltree: owns the walk from libyaml's events to a tree in an arena. Keeps these invariants:
 * every node knows its place; no node is deeper than YAMLTREE_DEPTH_MAX; text is UTF-8 without
 * control bytes other than line breaks. */
#include "bulletin/yamltree.h"

#include "base/text.h"
#include "bulletin/yamlsay.h"

#include <stdio.h>
#include <string.h>
#include <yaml.h>

/* A collection whose end has not come yet; children are chained until then. */
struct open_node {
    struct yamlnode *node;
    struct chain *first, *last;
    size_t n;
    bool is_key_next; /* a mapping that waits for a key */
    const char *key;  /* NULL: no usable key */
    int key_line, key_column;
};

struct chain {
    struct chain *next;
    struct yamlnode *node;
};

struct reader {
    struct arena *arena;
    struct fault_list *faults;
    const char *name;
    const char *text;
    size_t n_text;
    struct yamlnode *root;
    struct open_node open[YAMLTREE_DEPTH_MAX];
    size_t depth;
    size_t n_nodes;
    size_t n_documents;
    enum err err; /* the first thing that went wrong */
    bool is_over; /* nothing after this can be read */
};

static bool is_line_break(const char *s, size_t n, size_t i)
{
    return s[i] == '\n' || (s[i] == '\r' && (i + 1 == n || s[i + 1] != '\n'));
}

/* Line and column, from 1, of the byte at `at`; columns count characters. */
static void place_of(const char *s, size_t n, size_t at, int *ret_line, int *ret_column)
{
    int line = 1, column = 1;
    for (size_t i = 0; i < at && i < n; i++) {
        if (is_line_break(s, n, i)) {
            line++;
            column = 1;
        } else if (((unsigned char)s[i] & 0xC0) != 0x80 && s[i] != '\r') {
            column++;
        }
    }
    *ret_line = line;
    *ret_column = column;
}

static void complain(struct reader *r, enum err code, int line, int column, const char *path,
                     const char *message)
{
    struct fault f = {.line = line, .column = column};
    snprintf(f.file, sizeof f.file, "%s", r->name);
    snprintf(f.path, sizeof f.path, "%s", path);
    fault_set(&f, code, "%s", message);
    fault_list_unreadable(r->faults, &f);
    if (r->err == ERR_OK)
        r->err = code;
}

static void complain_at_mark(struct reader *r, enum err code, yaml_mark_t mark, const char *message)
{
    char path[FAULT_PATH_MAX] = "";
    if (r->depth > 0)
        yamlnode_path(r->open[r->depth - 1].node, path, sizeof path);
    complain(r, code, (int)mark.line + 1, (int)mark.column + 1, path, message);
}

/* ---- before libyaml: bytes that no bulletin may hold ---- */

/* Size of a separator that YAML 1.1 takes for a line end and editors do not; 0 when there is none.
 */
static size_t odd_separator(const char *s, size_t n)
{
    if (n >= 2 && memcmp(s, "\xC2\x85", 2) == 0)
        return 2;
    if (n >= 3 && (memcmp(s, "\xE2\x80\xA8", 3) == 0 || memcmp(s, "\xE2\x80\xA9", 3) == 0))
        return 3;
    return 0;
}

static const char *bad_byte(const char *s, size_t n, size_t i)
{
    const unsigned char c = (unsigned char)s[i];
    if (c == 0)
        return "a NUL byte: a bulletin is a text file in UTF-8, and this looks like a binary file "
               "or UTF-16";
    if (c == 0x7F || (c < 0x20 && c != '\n' && c != '\r' && c != '\t'))
        return "a control character stands in the text: delete it";
    if (odd_separator(s + i, n - i) > 0)
        return "a separator character (NEL, LS or PS) stands in the text: write a plain line break";
    return NULL;
}

static bool are_bytes_fine(struct reader *r)
{
    int line, column;
    size_t at;
    if (!text_is_utf8(r->text, r->n_text, &at) && r->text[at] != '\0') {
        place_of(r->text, r->n_text, at, &line, &column);
        complain(r, ERR_ENCODING, line, column, "",
                 "bytes that are not UTF-8: save the file as UTF-8");
        return false;
    }
    for (size_t i = 0; i < r->n_text; i++) {
        const char *what = bad_byte(r->text, r->n_text, i);
        if (what == NULL)
            continue;
        place_of(r->text, r->n_text, i, &line, &column);
        complain(r, ERR_ENCODING, line, column, "", what);
        return false;
    }
    return true;
}

/* ---- nodes ---- */

static struct yamlnode *node_new(struct reader *r, enum yamlnode_kind kind, yaml_mark_t mark)
{
    if (r->n_nodes++ >= YAMLTREE_NODES_MAX) {
        complain_at_mark(r, ERR_LIMIT, mark, "more than 200000 values: no bulletin needs so many");
        r->is_over = true;
        return NULL;
    }
    struct yamlnode *node = arena_get(r->arena, sizeof *node);
    if (node == NULL) {
        r->is_over = true;
        r->err = ERR_MEMORY;
        return NULL;
    }
    node->kind = kind;
    node->line = (int)mark.line + 1;
    node->column = (int)mark.column + 1;
    node->text = "";
    return node;
}

static bool is_key_taken(const struct open_node *o, const char *key, int *ret_line)
{
    for (const struct chain *c = o->first; c != NULL; c = c->next)
        if (strcmp(c->node->key, key) == 0) {
            *ret_line = c->node->key_line;
            return true;
        }
    return false;
}

/* A scalar where a mapping waits for a key. */
static void take_key(struct reader *r, struct open_node *o, const yaml_event_t *e)
{
    const char *key = (const char *)e->data.scalar.value;
    const size_t n = e->data.scalar.length;
    o->is_key_next = false;
    o->key = NULL;
    o->key_line = (int)e->start_mark.line + 1;
    o->key_column = (int)e->start_mark.column + 1;
    if (n == 0 || strlen(key) != n) {
        complain_at_mark(r, ERR_SYNTAX, e->start_mark, "a key is missing before the colon");
        return;
    }
    int line;
    if (is_key_taken(o, key, &line)) {
        char message[FAULT_MESSAGE_MAX];
        snprintf(message, sizeof message,
                 "the key '%.60s' is given twice, first in line %d: keep one of them", key, line);
        complain_at_mark(r, ERR_DUPLICATE, e->start_mark, message);
        return;
    }
    if (o->n == YAMLTREE_KEYS_MAX) {
        complain_at_mark(r, ERR_LIMIT, e->start_mark, "more than 512 keys in one mapping");
        r->is_over = true;
        return;
    }
    o->key = arena_text(r->arena, key, n);
}

/* Hangs node below the innermost open collection; under an unusable key it is dropped (its faults
 * are kept). */
static void hang(struct reader *r, struct yamlnode *node)
{
    if (r->depth == 0) {
        r->root = node;
        return;
    }
    struct open_node *o = &r->open[r->depth - 1];
    node->parent = o->node;
    if (o->node->kind == YAMLNODE_MAPPING) {
        node->key = o->key != NULL ? o->key : "?";
        node->key_line = o->key_line;
        node->key_column = o->key_column;
        o->is_key_next = true;
        if (o->key == NULL)
            return;
    }
    struct chain *link = arena_get(r->arena, sizeof *link);
    if (link == NULL) {
        r->is_over = true;
        return;
    }
    node->index = o->n++;
    link->node = node;
    if (o->last != NULL)
        o->last->next = link;
    else
        o->first = link;
    o->last = link;
}

static void refuse_mark(struct reader *r, const yaml_char_t *anchor, const yaml_char_t *tag,
                        yaml_mark_t mark)
{
    if (anchor != NULL)
        complain_at_mark(r, ERR_SYNTAX, mark,
                         "an anchor (&) is not allowed: write the value out where it is needed");
    if (tag != NULL)
        complain_at_mark(r, ERR_SYNTAX, mark,
                         "a tag (!) is not allowed: each key knows its own kind of value");
}

/* A key that is itself a list or mapping. */
static bool is_odd_key(struct reader *r, yaml_mark_t mark)
{
    if (r->depth == 0 || !r->open[r->depth - 1].is_key_next)
        return false;
    complain_at_mark(
        r, ERR_SYNTAX, mark,
        "a key must be a single word: did a bracket or brace start here that should be "
        "in quotes?");
    r->is_over = true;
    return true;
}

static void on_open(struct reader *r, enum yamlnode_kind kind, const yaml_event_t *e)
{
    if (is_odd_key(r, e->start_mark))
        return;
    if (r->depth == YAMLTREE_DEPTH_MAX) {
        complain_at_mark(r, ERR_LIMIT, e->start_mark,
                         "nested more than 16 levels deep: no bulletin needs that");
        r->is_over = true;
        return;
    }
    struct yamlnode *node = node_new(r, kind, e->start_mark);
    if (node == NULL)
        return;
    hang(r, node);
    r->open[r->depth++] = (struct open_node){.node = node, .is_key_next = kind == YAMLNODE_MAPPING};
}

static void on_close(struct reader *r)
{
    if (r->depth == 0)
        return;
    struct open_node *o = &r->open[--r->depth];
    const struct yamlnode **items = arena_get(r->arena, o->n * sizeof(const struct yamlnode *));
    if (items == NULL || o->node == NULL) {
        r->is_over = true;
        return;
    }
    size_t i = 0;
    for (const struct chain *c = o->first; c != NULL; c = c->next)
        items[i++] = c->node;
    o->node->items = items;
    o->node->n_items = o->n;
}

/* Escapes in double quotes can name characters that bad_byte has not seen. */
static void check_unescaped(struct reader *r, const yaml_event_t *e)
{
    const char *s = (const char *)e->data.scalar.value;
    const size_t n = e->data.scalar.length;
    for (size_t i = 0; i < n; i++)
        if (bad_byte(s, n, i) != NULL) {
            complain_at_mark(r, ERR_ENCODING, e->start_mark,
                             "an escape in this text makes a control character: leave it out");
            return;
        }
}

static void on_scalar(struct reader *r, const yaml_event_t *e)
{
    if (e->data.scalar.style == YAML_DOUBLE_QUOTED_SCALAR_STYLE)
        check_unescaped(r, e);
    struct open_node *o = r->depth > 0 ? &r->open[r->depth - 1] : NULL;
    if (o != NULL && o->is_key_next) {
        take_key(r, o, e);
        return;
    }
    struct yamlnode *node = node_new(r, YAMLNODE_TEXT, e->start_mark);
    if (node == NULL)
        return;
    node->n_text = e->data.scalar.length;
    node->text = arena_text(r->arena, (const char *)e->data.scalar.value, node->n_text);
    node->is_plain = e->data.scalar.style == YAML_PLAIN_SCALAR_STYLE;
    if (node->text == NULL) {
        r->is_over = true;
        return;
    }
    hang(r, node);
    /* libyaml puts an empty value wherever the next token is. */
    if (node->is_plain && node->n_text == 0 && node->key != NULL) {
        node->line = node->key_line;
        node->column = node->key_column;
    }
}

static void on_alias(struct reader *r, const yaml_event_t *e)
{
    complain_at_mark(r, ERR_SYNTAX, e->start_mark,
                     "an alias (*) is not allowed: write the value out where it is needed");
    if (is_odd_key(r, e->start_mark))
        return;
    struct yamlnode *node = node_new(r, YAMLNODE_TEXT, e->start_mark);
    if (node != NULL)
        hang(r, node);
}

static void on_document(struct reader *r, const yaml_event_t *e)
{
    if (++r->n_documents < 2)
        return;
    complain_at_mark(r, ERR_SYNTAX, e->start_mark,
                     "a second document starts here (---): a bulletin is one document");
    r->is_over = true;
}

static void on_event(struct reader *r, const yaml_event_t *e)
{
    switch (e->type) {
    case YAML_DOCUMENT_START_EVENT:
        on_document(r, e);
        break;
    case YAML_ALIAS_EVENT:
        on_alias(r, e);
        break;
    case YAML_SCALAR_EVENT:
        refuse_mark(r, e->data.scalar.anchor, e->data.scalar.tag, e->start_mark);
        on_scalar(r, e);
        break;
    case YAML_SEQUENCE_START_EVENT:
        refuse_mark(r, e->data.sequence_start.anchor, e->data.sequence_start.tag, e->start_mark);
        on_open(r, YAMLNODE_LIST, e);
        break;
    case YAML_MAPPING_START_EVENT:
        refuse_mark(r, e->data.mapping_start.anchor, e->data.mapping_start.tag, e->start_mark);
        on_open(r, YAMLNODE_MAPPING, e);
        break;
    case YAML_SEQUENCE_END_EVENT:
    case YAML_MAPPING_END_EVENT:
        on_close(r);
        break;
    case YAML_STREAM_END_EVENT:
        r->is_over = true;
        break;
    default: /* stream start, document end: nothing to keep */
        break;
    }
}

/* libyaml stopped: say why, at the more telling of its two places. */
static void on_parser_error(struct reader *r, const yaml_parser_t *p)
{
    if (p->error == YAML_MEMORY_ERROR) {
        r->err = ERR_MEMORY;
        return;
    }
    yaml_mark_t mark = p->problem_mark;
    const bool is_quote = p->context != NULL && strstr(p->context, "quoted") != NULL &&
                          strstr(p->problem, "end of stream") != NULL;
    const bool is_simple_key = p->problem != NULL && strstr(p->problem, "expected ':'") != NULL;
    const bool is_bracket = p->problem != NULL && strstr(p->problem, "expected ',' or") != NULL;
    if (is_quote || is_simple_key || is_bracket)
        mark = p->context_mark;
    const char at = mark.index < r->n_text ? r->text[mark.index] : '\0';
    const char *say = yamlsay(p->problem, p->context, at);
    char message[FAULT_MESSAGE_MAX];
    if (is_bracket)
        snprintf(message, sizeof message, "%s before line %zu, column %zu", say,
                 p->problem_mark.line + 1, p->problem_mark.column + 1);
    else
        snprintf(message, sizeof message, "%s", say);
    /* No path: libyaml reads ahead, so the innermost open node may not be the one meant. */
    complain(r, ERR_SYNTAX, (int)mark.line + 1, (int)mark.column + 1, "", message);
}

static void parse(struct reader *r)
{
    yaml_parser_t parser;
    if (!yaml_parser_initialize(&parser)) {
        r->err = ERR_MEMORY;
        return;
    }
    yaml_parser_set_encoding(&parser, YAML_UTF8_ENCODING);
    yaml_parser_set_input_string(&parser, (const unsigned char *)r->text, r->n_text);
    while (!r->is_over) {
        yaml_event_t event;
        if (!yaml_parser_parse(&parser, &event)) {
            on_parser_error(r, &parser);
            break;
        }
        on_event(r, &event);
        yaml_event_delete(&event);
    }
    yaml_parser_delete(&parser);
}

enum err yamltree_read(const char *text, size_t n, const char *name, struct arena *arena,
                       const struct yamlnode **ret_root, struct fault_list *faults)
{
    struct reader r = {.arena = arena, .faults = faults, .name = name, .text = text, .n_text = n};
    if (n >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0) {
        r.text += 3;
        r.n_text -= 3;
    }
    if (are_bytes_fine(&r))
        parse(&r);
    if (arena->is_broken)
        r.err = ERR_MEMORY;
    if (r.err == ERR_OK && r.root == NULL)
        complain(&r, ERR_EMPTY, 1, 1, "", "the file is empty: a bulletin was expected");
    if (r.err == ERR_MEMORY)
        fault_list_no_memory(faults, name);
    if (r.err == ERR_OK)
        *ret_root = r.root;
    return r.err;
}

const struct yamlnode *yamlnode_get(const struct yamlnode *node, const char *key)
{
    if (node == NULL || node->kind != YAMLNODE_MAPPING)
        return NULL;
    for (size_t i = 0; i < node->n_items; i++)
        if (strcmp(node->items[i]->key, key) == 0)
            return node->items[i];
    return NULL;
}

void yamlnode_path(const struct yamlnode *node, char *buf, size_t room)
{
    const struct yamlnode *chain[YAMLTREE_DEPTH_MAX + 1];
    size_t depth = 0, used = 0;
    for (; node != NULL && node->parent != NULL && depth <= YAMLTREE_DEPTH_MAX; node = node->parent)
        chain[depth++] = node;
    buf[0] = '\0';
    while (depth > 0 && used + 1 < room) {
        const struct yamlnode *step = chain[--depth];
        int n;
        if (step->parent->kind == YAMLNODE_LIST)
            n = snprintf(buf + used, room - used, "[%zu]", step->index);
        else
            n = snprintf(buf + used, room - used, "%s%.40s", used > 0 ? "." : "", step->key);
        if (n < 0)
            return;
        used += (size_t)n;
    }
}

bool yamlnode_is_empty(const struct yamlnode *node)
{
    if (node->kind != YAMLNODE_TEXT || !node->is_plain)
        return false;
    return node->n_text == 0 || strcmp(node->text, "~") == 0 || strcmp(node->text, "null") == 0 ||
           strcmp(node->text, "Null") == 0 || strcmp(node->text, "NULL") == 0;
}
