/* json: owns how JSON text becomes a tree with places, and the words for what is wrong with it.
 * jansson reads; its tree is then walked once beside the text, so that every value knows its line
 * and column and members can be counted off. Only this file sees jansson, whose names that clash
 * with ours are set aside while its header is read. */
#define JSON_OBJECT JANSSON_OBJECT
#define JSON_ARRAY  JANSSON_ARRAY
#define JSON_STRING JANSSON_STRING
#define JSON_REAL   JANSSON_REAL
#define JSON_NULL   JANSSON_NULL
#define json_string jansson_make_string
#include <jansson.h>
#undef JSON_OBJECT
#undef JSON_ARRAY
#undef JSON_STRING
#undef JSON_REAL
#undef JSON_NULL
#undef json_string

#include "base/json.h"

#include "base/jsontree.h"
#include "base/text.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct json_doc {
    json_t *tree;
    struct json_node *nodes; /* nodes[0] is the root; the items of a list stand side by side */
    size_t n_nodes;
};

/* ---- places -------------------------------------------------------------------------------- */

struct cursor {
    const char *text;
    size_t n, at;
    int line, column; /* of text[at]; columns count characters */
};

static void step(struct cursor *c)
{
    const unsigned char b = (unsigned char)c->text[c->at++];
    if (b == '\n') {
        c->line++;
        c->column = 1;
    } else if (c->at >= c->n || ((unsigned char)c->text[c->at] & 0xC0) != 0x80) {
        c->column++;
    }
}

/* The text is taken to end there, since an ill-formed byte may look like the tail of what is before it. */
static void place_at(const char *text, size_t at, struct fault *f)
{
    struct cursor c = {text, at, 0, 1, 1};
    while (c.at < at)
        step(&c);
    f->line = c.line;
    f->column = c.column;
}

/* ---- bounds before parsing ----------------------------------------------------------------- */

/* Depth and number of values by brackets and commas alone: cheap, and the parser then meets nothing
 * unbounded. */
static enum err check_bounds(const char *text, size_t n, struct fault *f)
{
    size_t depth = 0;
    size_t items = 0;
    bool is_string = false;
    for (size_t i = 0; i < n; i++) {
        const char c = text[i];
        if (is_string) {
            if (c == '\\')
                i++;
            else if (c == '"')
                is_string = false;
            continue;
        }
        is_string = c == '"';
        if (c == '[' || c == '{') {
            depth++;
            items++;
        } else if (c == ']' || c == '}') {
            depth -= depth > 0;
        } else if (c == ',') {
            items++;
        }
        if (depth <= JSON_DEPTH_MAX && items <= JSON_ITEMS_MAX)
            continue;
        place_at(text, i, f);
        if (depth > JSON_DEPTH_MAX)
            return fault_set(f, ERR_LIMIT, "found lists and objects nested deeper than %d",
                             (int)JSON_DEPTH_MAX);
        return fault_set(f, ERR_LIMIT, "found more than %d values", (int)JSON_ITEMS_MAX);
    }
    return ERR_OK;
}

static enum err check_encoding(const char *text, size_t n, struct fault *f)
{
    size_t at;
    if (text_is_utf8(text, n, &at))
        return ERR_OK;
    place_at(text, at, f);
    if (text[at] == '\0')
        return fault_set(f, ERR_ENCODING, "found a NUL byte; expected JSON text in UTF-8");
    return fault_set(f, ERR_ENCODING, "found the byte 0x%02X; expected JSON text in UTF-8",
                     (unsigned)(unsigned char)text[at]);
}

/* ---- jansson's findings in our words ------------------------------------------------------- */

static const char value_expected[] =
    "expected a value: a number, a text in double quotes, true, false, null, a list or an object";

/* What it says and how we say what was expected. back: how far before the end of what it read the
 * culprit stands inside a text; -1: the whole token is meant. */
struct wording {
    const char *theirs, *ours;
    int back;
};

static const struct wording wordings[] = {
    {"string or '}' expected", "expected a key in double quotes", -1},
    {"':' expected", "expected ':' after the key", -1},
    {"'}' expected", "expected ',' or '}'", -1},
    {"']' expected", "expected ',' or ']'", -1},
    {"end of file expected", "expected nothing after the end of the value", -1},
    {"invalid token", value_expected, -1},
    {"unexpected token", value_expected, -1},
    {"unexpected newline", "expected the closing double quote of the text before the line ends", 0},
    {"control character", "expected an escape such as \\n or \\t in its place", 0},
    {"invalid escape",
     "expected one of \\\" \\\\ \\/ \\b \\f \\n \\r \\t, or \\u and four hexadecimal digits", 1},
    {"invalid Unicode", "expected \\u and the four hexadecimal digits of a whole character", 1},
    {"\\u0000 is not allowed", "expected a text without the character NUL", -1},
    {"NUL byte in object key", "expected a key without the character NUL", -1},
};

static const struct wording *find_wording(const char *theirs)
{
    for (size_t i = 0; i < sizeof wordings / sizeof *wordings; i++)
        if (strncmp(theirs, wordings[i].theirs, strlen(wordings[i].theirs)) == 0)
            return &wordings[i];
    return NULL;
}

static bool is_blank(char c)
{
    return c == ' ' || c == '\t' || c == '\r' || c == '\n';
}

static bool is_mark(char c)
{
    return c != '\0' && strchr(",:[]{}", c) != NULL;
}

/* The end of the token at text[at]: a mark, a text in quotes (or what there is of one), or a word.
 */
static size_t token_end(const char *text, size_t n, size_t at)
{
    if (is_mark(text[at]))
        return at + 1;
    if (text[at] == '"') {
        for (at++; at < n && text[at] != '"'; at++)
            at += text[at] == '\\';
        return at < n ? at + 1 : n;
    }
    while (at < n && !is_blank(text[at]) && !is_mark(text[at]) && text[at] != '"')
        at++;
    return at;
}

/* What stands around the place where jansson stopped; it tells only where that is, we also want to
 * know what began. */
struct context {
    size_t token; /* where the token begins that jansson read last */
    size_t open[JSON_DEPTH_MAX];
    size_t n_open; /* brackets still open there */
};

static struct context look_around(const char *text, size_t n, size_t stop)
{
    struct context c = {.token = n};
    for (size_t at = 0; at < n;) {
        if (is_blank(text[at])) {
            at++;
            continue;
        }
        const size_t end = token_end(text, n, at);
        if (end >= stop) {
            c.token = at;
            return c;
        }
        if ((text[at] == '[' || text[at] == '{') && c.n_open < JSON_DEPTH_MAX)
            c.open[c.n_open++] = at;
        if (text[at] == ']' || text[at] == '}')
            c.n_open -= c.n_open > 0;
        at = end;
    }
    return c;
}

/* "found X": one character, word, number or text, cut when long. */
static void show_found(const char *text, size_t n, size_t at, char *buf, size_t room)
{
    enum { LONGEST = 24 };
    if (at >= n) {
        snprintf(buf, room, "the end");
        return;
    }
    if (text[at] == '\n' || text[at] == '\r') {
        snprintf(buf, room, "the end of the line");
        return;
    }
    if ((unsigned char)text[at] < 0x20) {
        snprintf(buf, room, "the control character 0x%02X", (unsigned)(unsigned char)text[at]);
        return;
    }
    size_t end = token_end(text, n, at);
    const bool is_cut = end - at > LONGEST;
    if (is_cut)
        for (end = at + LONGEST; ((unsigned char)text[end] & 0xC0) == 0x80;)
            end--;
    const char *quote = text[at] == '"' ? "" : "'";
    snprintf(buf, room, "%s%.*s%s%s", quote, (int)(end - at), text + at, is_cut ? "..." : "",
             quote);
}

static enum err explain_end(const char *text, size_t n, bool is_in_text, struct fault *f)
{
    /* One past the end: every token is then read, and what is open stays open. */
    const struct context c = look_around(text, n, n + 1);
    struct fault opened = {0};
    place_at(text, n, f);
    if (is_in_text)
        return fault_set(f, ERR_SYNTAX,
                         "found the end; expected the closing double quote of a text");
    if (c.n_open == 0)
        return fault_set(f, ERR_SYNTAX, "found the end; %s", value_expected);
    const char bracket = text[c.open[c.n_open - 1]];
    place_at(text, c.open[c.n_open - 1], &opened);
    return fault_set(f, ERR_SYNTAX,
                     "found the end; expected '%c' to close the '%c' of line %d, column %d",
                     bracket == '[' ? ']' : '}', bracket, opened.line, opened.column);
}

static enum err explain(const char *text, size_t n, const json_error_t *e, struct fault *f)
{
    const enum json_error_code code = json_error_code(e);
    if (code == json_error_out_of_memory)
        return fault_set(f, ERR_MEMORY, "memory ran out while reading");
    if (code == json_error_premature_end_of_input)
        return explain_end(text, n, strncmp(e->text, "premature", 9) == 0, f);

    const size_t stop = e->position < 0 || (size_t)e->position > n ? n : (size_t)e->position;
    const struct wording *w = find_wording(e->text);
    const char *expected = w != NULL ? w->ours : "expected JSON";
    const struct context c = look_around(text, n, stop);
    size_t at = c.token;
    if (w != NULL && w->back >= 0)
        at = stop - ((size_t)w->back < stop ? (size_t)w->back : stop);
    else if (at < n && (text[at] == '-' || (text[at] >= '0' && text[at] <= '9')) &&
             token_end(text, n, at) > stop)
        expected =
            value_expected; /* "0x10": jansson takes 0 for a number and trips over the rest */
    char found[80];
    place_at(text, at, f);
    show_found(text, n, at, found, sizeof found);
    if (code == json_error_duplicate_key)
        return fault_set(f, ERR_DUPLICATE, "found the key %s twice in one object; expected it once",
                         found);
    if (code == json_error_numeric_overflow)
        return fault_set(f, ERR_RANGE,
                         "found the number %s; expected at most %" PRId64
                         " (whole) or about 1.8e308",
                         found, INT64_MAX);
    return fault_set(f, ERR_SYNTAX, "found %s; %s", found, expected);
}

/* ---- the tree ------------------------------------------------------------------------------ */

static size_t count_nodes(json_t *j)
{
    size_t n = 1;
    if (json_typeof(j) == JANSSON_ARRAY)
        for (size_t i = 0; i < json_array_size(j); i++)
            n += count_nodes(json_array_get(j, i));
    if (json_typeof(j) == JANSSON_OBJECT)
        for (void *it = json_object_iter(j); it != NULL; it = json_object_iter_next(j, it))
            n += count_nodes(json_object_iter_value(it));
    return n;
}

/* To the next byte that starts a key, a value or a closing bracket. */
static void skip_between(struct cursor *c)
{
    while (c->at < c->n &&
           (is_blank(c->text[c->at]) || c->text[c->at] == ',' || c->text[c->at] == ':'))
        step(c);
}

static void skip_token(struct cursor *c)
{
    for (size_t end = token_end(c->text, c->n, c->at); c->at < end;)
        step(c);
}

static void fill(struct json_doc *doc, struct json_node *node, json_t *j, struct cursor *c);

static void fill_list(struct json_doc *doc, struct json_node *node, json_t *j, struct cursor *c)
{
    const bool is_object = json_typeof(j) == JANSSON_OBJECT;
    const size_t n = is_object ? json_object_size(j) : json_array_size(j);
    struct json_node *items = doc->nodes + doc->n_nodes;
    doc->n_nodes += n;
    node->kind = is_object ? JSON_OBJECT : JSON_ARRAY;
    node->as.list.items = items;
    node->as.list.n = n;
    skip_token(c); /* the opening bracket */
    void *it = is_object ? json_object_iter(j) : NULL;
    for (size_t i = 0; i < n; i++) {
        json_t *value;
        skip_between(c);
        if (is_object) {
            items[i].key = json_object_iter_key(it);
            value = json_object_iter_value(it);
            it = json_object_iter_next(j, it);
            skip_token(c); /* the key */
        } else {
            value = json_array_get(j, i);
        }
        fill(doc, &items[i], value, c);
    }
    skip_between(c);
    skip_token(c); /* the closing bracket */
}

static void fill(struct json_doc *doc, struct json_node *node, json_t *j, struct cursor *c)
{
    skip_between(c);
    node->line = c->line;
    node->column = c->column;
    switch (json_typeof(j)) {
    case JANSSON_OBJECT:
    case JANSSON_ARRAY:
        fill_list(doc, node, j, c);
        return;
    case JANSSON_STRING:
        node->kind = JSON_STRING;
        node->as.string.data = json_string_value(j);
        node->as.string.n = json_string_length(j);
        break;
    case JSON_INTEGER:
        node->kind = JSON_INT;
        node->as.integer = json_integer_value(j);
        break;
    case JANSSON_REAL:
        node->kind = JSON_REAL;
        node->as.real = json_real_value(j);
        break;
    case JSON_TRUE:
    case JSON_FALSE:
        node->kind = JSON_BOOL;
        node->as.truth = json_is_true(j);
        break;
    case JANSSON_NULL:
        node->kind = JSON_NULL;
        break;
    }
    skip_token(c);
}

static enum err parse(const char *text, size_t n, struct json_doc **ret, struct fault *f)
{
    if (n > JSON_SIZE_MAX)
        return fault_set(f, ERR_LIMIT, "is larger than %d MiB; expected a smaller file",
                         (int)JSON_SIZE_MAX / (1024 * 1024));
    if (n >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0) {
        text += 3;
        n -= 3;
    }
    enum err err = check_encoding(text, n, f);
    if (err == ERR_OK)
        err = check_bounds(text, n, f);
    if (err != ERR_OK)
        return err;
    size_t start = 0;
    while (start < n && is_blank(text[start]))
        start++;
    if (start == n)
        return fault_set(f, ERR_EMPTY, "is empty; expected JSON");

    json_error_t e;
    json_t *tree = json_loadb(text, n, JSON_REJECT_DUPLICATES | JSON_DECODE_ANY, &e);
    if (tree == NULL)
        return explain(text, n, &e, f);
    struct json_doc *doc = calloc(1, sizeof *doc);
    struct json_node *nodes = calloc(count_nodes(tree), sizeof *nodes);
    if (doc == NULL || nodes == NULL) {
        free(nodes);
        free(doc);
        json_decref(tree);
        return fault_set(f, ERR_MEMORY, "memory ran out while reading");
    }
    *doc = (struct json_doc){.tree = tree, .nodes = nodes, .n_nodes = 1};
    struct cursor c = {text, n, 0, 1, 1};
    fill(doc, nodes, tree, &c);
    *ret = doc;
    return ERR_OK;
}

enum err json_parse(const char *text, size_t n, const char *name, struct json_doc **ret,
                    struct fault *reterr)
{
    struct fault f = {0};
    snprintf(f.file, sizeof f.file, "%s", name);
    const enum err err = parse(text, n, ret, &f);
    if (err != ERR_OK)
        *reterr = f;
    return err;
}

void json_free(struct json_doc *doc)
{
    if (doc == NULL)
        return;
    json_decref(doc->tree);
    free(doc->nodes);
    free(doc);
}

json_node *json_root(const struct json_doc *doc)
{
    return doc->nodes;
}
