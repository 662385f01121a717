/* jsontree: owns the questions that can be asked of a JSON value. Asking for what is not there, or the wrong kind, gives
 * nothing and is fine; NULL may be asked anything. */
#include "base/jsontree.h"

#include <string.h>

enum json_kind json_kind(json_node *node)
{
    return node == NULL ? JSON_NULL : node->kind;
}

const char *json_kind_name(enum json_kind kind)
{
    switch (kind) {
    case JSON_NULL:
        return "null";
    case JSON_BOOL:
        return "true or false";
    case JSON_INT:
        return "a whole number";
    case JSON_REAL:
        return "a number";
    case JSON_STRING:
        return "a text";
    case JSON_ARRAY:
        return "a list";
    case JSON_OBJECT:
        return "an object";
    }
    return "an unknown kind";
}

static bool is_list(json_node *node)
{
    return node != NULL && (node->kind == JSON_ARRAY || node->kind == JSON_OBJECT);
}

json_node *json_get(json_node *object, const char *key)
{
    if (object == NULL || object->kind != JSON_OBJECT)
        return NULL;
    for (size_t i = 0; i < object->as.list.n; i++)
        if (strcmp(object->as.list.items[i].key, key) == 0)
            return &object->as.list.items[i];
    return NULL;
}

size_t json_size(json_node *node)
{
    return is_list(node) ? node->as.list.n : 0;
}

json_node *json_at(json_node *array, size_t i)
{
    const bool is_there = array != NULL && array->kind == JSON_ARRAY && i < array->as.list.n;
    return is_there ? &array->as.list.items[i] : NULL;
}

json_node *json_member(json_node *object, size_t i, const char **ret_key)
{
    if (object == NULL || object->kind != JSON_OBJECT || i >= object->as.list.n)
        return NULL;
    *ret_key = object->as.list.items[i].key;
    return &object->as.list.items[i];
}

int64_t json_int(json_node *node)
{
    return node != NULL && node->kind == JSON_INT ? node->as.integer : 0;
}

double json_double(json_node *node)
{
    if (node != NULL && node->kind == JSON_REAL)
        return node->as.real;
    return (double)json_int(node);
}

bool json_bool(json_node *node)
{
    return node != NULL && node->kind == JSON_BOOL && node->as.truth;
}

const char *json_string(json_node *node, size_t *ret_n)
{
    if (node == NULL || node->kind != JSON_STRING)
        return NULL;
    if (ret_n != NULL)
        *ret_n = node->as.string.n;
    return node->as.string.data;
}

void json_place(json_node *node, struct fault *f)
{
    if (node == NULL)
        return;
    f->line = node->line;
    f->column = node->column;
}

static enum err quantity_from_text(json_node *node, enum unit bare, int64_t *ret_nano,
                                   struct fault *f)
{
    const char *s = node->as.string.data;
    const char *unit = quantity_unit_name(bare);
    struct quantity q;
    size_t at = 0;
    const enum err err = quantity_parse(s, node->as.string.n, UNIT_N, &q, &at);
    if (err == ERR_UNIT)
        return fault_set(
            f, err, "found \"%.40s\"; expected an amount with a unit, such as \"5 %s\"", s, unit);
    if (err != ERR_OK)
        return fault_set(f, err,
                         "found \"%.40s\", which %s at character %zu; expected an amount "
                         "with a unit, such as \"5 %s\"",
                         s, err_text(err), at + 1, unit);
    if (q.dim != quantity_unit_dim(bare))
        return fault_set(f, ERR_UNIT, "found \"%.40s\"; expected an amount in %s or a unit like it",
                         s, unit);
    *ret_nano = q.nano;
    return ERR_OK;
}

enum err json_quantity(json_node *node, enum unit bare, int64_t *ret_nano, struct fault *reterr)
{
    const enum json_kind kind = json_kind(node);
    if (kind == JSON_STRING)
        return quantity_from_text(node, bare, ret_nano, reterr);
    if (kind != JSON_INT && kind != JSON_REAL)
        return fault_set(reterr, ERR_TYPE, "found %s; expected an amount such as 5 or \"5 %s\"",
                         json_kind_name(kind), quantity_unit_name(bare));
    int64_t nano;
    enum err err = ERR_OK;
    if (kind == JSON_REAL)
        err = quantity_from_double(node->as.real, bare, &nano);
    else if (__builtin_mul_overflow(node->as.integer, quantity_unit_nano(bare), &nano))
        err = ERR_RANGE;
    if (err != ERR_OK)
        return fault_set(reterr, err, "found %.6g %s; expected an amount that fits (%s)",
                         json_double(node), quantity_unit_name(bare), err_text(err));
    *ret_nano = nano;
    return ERR_OK;
}
