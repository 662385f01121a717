/* fuzz json: whatever the bytes, json_parse either gives a tree or a fault that can be shown.
 * A tree: every value's place is where a value of its kind begins in the text; written by jsonw and
 * read again it is the same tree, and written once more the same bytes. A fault: its message is
 * UTF-8 and not empty, its place lies in the text. */
#include "base/json.h"
#include "base/jsonw.h"
#include "base/text.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void must(bool holds)
{
    if (!holds)
        abort();
}

/* The byte at a line and column (characters); NULL when the text does not reach so far. */
static const char *byte_at(const char *text, size_t n, int line, int column)
{
    size_t at = 0;
    for (; line > 1; line--) {
        const char *feed = memchr(text + at, '\n', n - at);
        if (feed == NULL)
            return NULL;
        at = (size_t)(feed - text) + 1;
    }
    for (; column > 1 && at < n; column--)
        for (at++; at < n && ((unsigned char)text[at] & 0xC0) == 0x80;)
            at++;
    return column == 1 ? text + at : NULL;
}

static void check_places(json_node *node, const char *text, size_t n)
{
    static const char *const starts[] = {"n", "tf", "-0123456789", "-0123456789", "\"", "[", "{"};
    struct fault f = {0};
    const char *key;
    json_place(node, &f);
    const char *at = byte_at(text, n, f.line, f.column);
    must(at != NULL && at < text + n && *at != '\0' &&
         strchr(starts[json_kind(node)], *at) != NULL);
    for (size_t i = 0; i < json_size(node); i++)
        check_places(json_kind(node) == JSON_ARRAY ? json_at(node, i) : json_member(node, i, &key),
                     text, n);
}

static int depth_of(json_node *node)
{
    int most = 0;
    const char *key;
    for (size_t i = 0; i < json_size(node); i++) {
        const bool is_array = json_kind(node) == JSON_ARRAY;
        const int d = depth_of(is_array ? json_at(node, i) : json_member(node, i, &key));
        most = d > most ? d : most;
    }
    return most + 1;
}

static void write_node(struct jsonw *w, const char *key, json_node *node)
{
    const char *name = NULL;
    size_t n = 0;
    switch (json_kind(node)) {
    case JSON_NULL:
        jsonw_null(w, key);
        break;
    case JSON_BOOL:
        jsonw_bool(w, key, json_bool(node));
        break;
    case JSON_INT:
        jsonw_int(w, key, json_int(node));
        break;
    case JSON_REAL:
        jsonw_double(w, key, json_double(node));
        break;
    case JSON_STRING: {
        const char *s = json_string(node, &n);
        jsonw_string_n(w, key, s, n);
        break;
    }
    case JSON_ARRAY:
        jsonw_array(w, key);
        for (size_t i = 0; i < json_size(node); i++)
            write_node(w, NULL, json_at(node, i));
        jsonw_array_end(w);
        break;
    case JSON_OBJECT:
        jsonw_object(w, key);
        for (size_t i = 0; i < json_size(node); i++) {
            json_node *value = json_member(node, i, &name);
            write_node(w, name, value);
        }
        jsonw_object_end(w);
        break;
    }
}

static void write_tree(struct text *out, json_node *root)
{
    struct jsonw w;
    jsonw_start(&w, out);
    write_node(&w, NULL, root);
    must(!out->is_broken);
}

static bool is_number(json_node *node)
{
    return json_kind(node) == JSON_INT || json_kind(node) == JSON_REAL;
}

static bool is_same(json_node *a, json_node *b)
{
    const char *ka = "";
    const char *kb = "";
    if (is_number(a) && is_number(b)) /* 1.0 comes back as 1 */
        return json_double(a) == json_double(b) &&
               json_int(a) == (json_kind(a) == JSON_INT ? json_int(b) : 0);
    if (json_kind(a) != json_kind(b) || json_size(a) != json_size(b) ||
        json_bool(a) != json_bool(b))
        return false;
    if (json_kind(a) == JSON_STRING)
        return strcmp(json_string(a, NULL), json_string(b, NULL)) == 0;
    for (size_t i = 0; i < json_size(a); i++) {
        const bool is_array = json_kind(a) == JSON_ARRAY;
        json_node *x = is_array ? json_at(a, i) : json_member(a, i, &ka);
        json_node *y = is_array ? json_at(b, i) : json_member(b, i, &kb);
        if (strcmp(ka, kb) != 0 || !is_same(x, y))
            return false;
    }
    return true;
}

static void check_round_trip(json_node *root)
{
    struct text first = {0};
    struct text second = {0};
    struct json_doc *again = NULL;
    struct fault f;
    write_tree(&first, root);
    must(json_parse(first.data, first.size, "again", &again, &f) == ERR_OK);
    must(is_same(root, json_root(again)));
    write_tree(&second, json_root(again));
    must(second.size == first.size && memcmp(first.data, second.data, first.size) == 0);
    json_free(again);
    text_done(&first);
    text_done(&second);
}

static void check_fault(const struct fault *f, const char *text, size_t n)
{
    char line[1024];
    fault_line(f, line, sizeof line);
    must(f->code != ERR_OK && f->message[0] != '\0' && text_is_utf8(line, strlen(line), NULL));
    must(strchr(line, '\n') == NULL);
    if (f->line > 0)
        must(byte_at(text, n, f->line, f->column) != NULL);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const char *text = (const char *)data;
    struct json_doc *doc = NULL;
    struct fault f = {0};
    const enum err err = json_parse(text, size, "fuzz.json", &doc, &f);
    if (size >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0) {
        text += 3;
        size -= 3;
    }
    if (err != ERR_OK) {
        must(doc == NULL);
        check_fault(&f, text, size);
        return 0;
    }
    check_places(json_root(doc), text, size);
    if (depth_of(json_root(doc)) < JSONW_DEPTH_MAX)
        check_round_trip(json_root(doc));
    json_free(doc);
    return 0;
}
