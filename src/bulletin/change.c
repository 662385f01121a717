/* change: owns the walk through two exported bulletins and the words for what differs. */
#include "bulletin/change.h"

#include "base/json.h"
#include "base/text.h"
#include "bulletin/export.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { WHERE_MAX = 400 };

struct walk {
    struct change_list *list;
    int money_digits[2]; /* of the older one, of the newer */
    char where[WHERE_MAX];
};

enum side { WAS, NOW };

/* ---- values in words ---- */

static bool ends_in(const char *key, const char *suffix)
{
    const size_t n = strlen(key), k = strlen(suffix);
    return n > k && strcmp(key + n - k, suffix) == 0;
}

static void say_money(struct text *t, int64_t minor, int digits)
{
    int64_t scale = 1;
    for (int i = 0; i < digits; i++)
        scale *= 10;
    text_printf(t, "%s%lld", minor < 0 && minor / scale == 0 ? "-" : "",
                (long long)(minor / scale));
    if (digits > 0)
        text_printf(t, ".%0*lld", digits, (long long)llabs(minor % scale));
}

static void say_time(struct text *t, int64_t s)
{
    if (s % 60 != 0)
        text_printf(t, "%lld s", (long long)s);
    else if (s % 3600 != 0)
        text_printf(t, "%lld min", (long long)(s / 60));
    else
        text_printf(t, "%lld h", (long long)(s / 3600));
}

/* {"nano", "unit"}: false when the node is none. */
static bool say_amount(struct text *t, json_node *node)
{
    json_node *nano = json_get(node, "nano"), *unit = json_get(node, "unit");
    size_t n = 0;
    const char *name = unit != NULL ? json_string(unit, &n) : NULL;
    char buf[QUANTITY_SHOW_MAX];
    if (json_size(node) != 2 || nano == NULL || name == NULL)
        return false;
    const enum unit u = quantity_unit_find(name, n);
    quantity_show_number(json_int(nano), u, buf, NULL);
    text_printf(t, strcmp(name, "1") == 0 ? "%s" : "%s %s", buf, name);
    return true;
}

static void say_day(struct text *t, int64_t day)
{
    char buf[DATE_SHOW_SIZE];
    date_show((int32_t)day, buf);
    text_puts(t, buf);
}

/* {"of", "by"} and {"first", "last"}: false when the node is neither. */
static bool say_pair(struct text *t, json_node *node)
{
    json_node *of = json_get(node, "of"), *by = json_get(node, "by");
    json_node *first = json_get(node, "first"), *last = json_get(node, "last");
    if (json_size(node) != 2)
        return false;
    if (of != NULL && by != NULL) {
        text_printf(t, "%lld/%lld", (long long)json_int(of), (long long)json_int(by));
        return true;
    }
    if (first == NULL || last == NULL || json_kind(first) != JSON_INT)
        return false;
    say_day(t, json_int(first));
    if (json_int(first) != json_int(last)) {
        text_puts(t, " to ");
        say_day(t, json_int(last));
    }
    return true;
}

static void say_value(struct text *t, json_node *node, const char *key, int digits);

/* A thing with an id is told by its name, for all of it would be pages. */
static bool say_name(struct text *t, json_node *node)
{
    json_node *name =
        json_get(node, "name") != NULL ? json_get(node, "name") : json_get(node, "title");
    const char *key;
    if (json_get(node, "id") == NULL)
        return false;
    if (json_size(name) == 0)
        name = json_get(node, "id");
    else
        name = json_member(name, 0, &key);
    text_puts(t, json_string(name, NULL));
    return true;
}

static void say_inside(struct text *t, json_node *node, int digits)
{
    const bool is_object = json_kind(node) == JSON_OBJECT;
    for (size_t i = 0; i < json_size(node); i++) {
        const char *key = "";
        json_node *item = is_object ? json_member(node, i, &key) : json_at(node, i);
        text_puts(t, i > 0 ? ", " : "");
        if (is_object)
            text_printf(t, "%s ", key);
        say_value(t, item, key, digits);
    }
}

static void say_value(struct text *t, json_node *node, const char *key, int digits)
{
    switch (json_kind(node)) {
    case JSON_NULL:
        break;
    case JSON_BOOL:
        text_puts(t, json_bool(node) ? "yes" : "no");
        break;
    case JSON_INT:
        if (ends_in(key, "_minor"))
            say_money(t, json_int(node), digits);
        else if (ends_in(key, "_s"))
            say_time(t, json_int(node));
        else
            text_printf(t, "%lld", (long long)json_int(node));
        break;
    case JSON_REAL:
        text_printf(t, "%.15g", json_double(node));
        break;
    case JSON_STRING:
        text_puts(t, json_string(node, NULL));
        break;
    default:
        if (!say_amount(t, node) && !say_pair(t, node) && !say_name(t, node))
            say_inside(t, node, digits);
    }
}

/* NULL for what says nothing: null, "", an empty list. */
static const char *words(struct walk *w, json_node *node, const char *key, enum side side)
{
    struct text t = {0};
    if (node != NULL)
        say_value(&t, node, key, w->money_digits[side]);
    const char *ret = t.size > 0 ? arena_text(&w->list->arena, t.data, t.size) : NULL;
    w->list->arena.is_broken |= t.is_broken;
    text_done(&t);
    return ret;
}

/* ---- the list ---- */

static void add(struct walk *w, const char *was, const char *now)
{
    struct change_list *l = w->list;
    if (l->n == CHANGES_MAX) {
        l->n_more++;
        return;
    }
    if (l->n == l->room) {
        const size_t room = l->room > 0 ? 2 * l->room : 64;
        struct change *grown = realloc(l->changes, room * sizeof *grown);
        if (grown == NULL) {
            l->arena.is_broken = true;
            return;
        }
        l->changes = grown;
        l->room = room;
    }
    l->changes[l->n++] =
        (struct change){arena_text(&l->arena, w->where, strlen(w->where)), was, now};
}

/* Goes one step down; returns the length to come back to. Keys lose the unit that the export puts into them. */
static size_t down(struct walk *w, const char *key)
{
    const size_t at = strlen(w->where);
    size_t n = strlen(key);
    if (ends_in(key, "_minor"))
        n -= strlen("_minor");
    else if (ends_in(key, "_s"))
        n -= strlen("_s");
    const char *joint = at > 0 ? ": " : "";
    if (at + strlen(joint) + n < sizeof w->where) {
        memcpy(w->where + at, joint, strlen(joint));
        memcpy(w->where + at + strlen(joint), key, n);
        w->where[at + strlen(joint) + n] = '\0';
    }
    return at;
}

/* ---- the walk ---- */

static void compare(struct walk *w, json_node *was, json_node *now, const char *key);

/* By what an item of a list is known: its id, or what it is about; NULL when it is known by its place alone. */
static const char *name_of(json_node *item)
{
    static const char *const keys[] = {"id", "station", "part", "photo", "variant", "code"};
    for (size_t i = 0; i < sizeof keys / sizeof *keys; i++) {
        json_node *name = json_get(item, keys[i]);
        if (name != NULL && json_kind(name) == JSON_STRING)
            return json_string(name, NULL);
    }
    return NULL;
}

static json_node *named(json_node *list, const char *name, size_t *ret_at)
{
    for (size_t i = 0; i < json_size(list); i++) {
        const char *here = name_of(json_at(list, i));
        if (here != NULL && strcmp(here, name) == 0) {
            *ret_at = i;
            return json_at(list, i);
        }
    }
    return NULL;
}

/* Every item has a name, and no two the same. */
static bool is_named(json_node *list)
{
    for (size_t i = 0; i < json_size(list); i++) {
        const char *name = name_of(json_at(list, i));
        size_t at = 0;
        if (name == NULL || named(list, name, &at) == NULL || at != i)
            return false;
    }
    return true;
}

static void compare_items(struct walk *w, json_node *was, json_node *now, const char *name)
{
    const size_t at = down(w, name);
    compare(w, was, now, "");
    w->where[at] = '\0';
}

static void say_order(struct text *t, json_node *list, json_node *other)
{
    for (size_t i = 0; i < json_size(list); i++) {
        const char *name = name_of(json_at(list, i));
        size_t at;
        if (named(other, name, &at) != NULL)
            text_printf(t, "%s%s", t->size > 0 ? ", " : "", name);
    }
}

/* What both hold, in the order of each. */
static void compare_order(struct walk *w, json_node *was, json_node *now)
{
    struct text a = {0}, b = {0};
    say_order(&a, was, now);
    say_order(&b, now, was);
    w->list->arena.is_broken |= a.is_broken || b.is_broken;
    if (a.size > 0 && b.size > 0 && strcmp(a.data, b.data) != 0) {
        const size_t at = down(w, "order");
        add(w, arena_text(&w->list->arena, a.data, a.size),
            arena_text(&w->list->arena, b.data, b.size));
        w->where[at] = '\0';
    }
    text_done(&a);
    text_done(&b);
}

static void compare_named(struct walk *w, json_node *was, json_node *now)
{
    size_t at = 0;
    for (size_t i = 0; i < json_size(now); i++) {
        const char *name = name_of(json_at(now, i));
        compare_items(w, named(was, name, &at), json_at(now, i), name);
    }
    for (size_t i = 0; i < json_size(was); i++) {
        const char *name = name_of(json_at(was, i));
        if (named(now, name, &at) == NULL)
            compare_items(w, json_at(was, i), NULL, name);
    }
    compare_order(w, was, now);
}

static bool is_plain(json_node *list)
{
    for (size_t i = 0; i < json_size(list); i++)
        if (json_kind(json_at(list, i)) >= JSON_ARRAY)
            return false;
    return true;
}

static void say_both(struct walk *w, json_node *was, json_node *now, const char *key)
{
    const char *a = words(w, was, key, WAS), *b = words(w, now, key, NOW);
    if (a == b || (a != NULL && b != NULL && strcmp(a, b) == 0))
        return;
    add(w, a, b);
}

static void compare_lists(struct walk *w, json_node *was, json_node *now, const char *key)
{
    if (is_plain(was) && is_plain(now)) {
        say_both(w, was, now, key);
        return;
    }
    if (is_named(was) && is_named(now)) {
        compare_named(w, was, now);
        return;
    }
    const size_t n_was = json_size(was), n_now = json_size(now);
    for (size_t i = 0; i < (n_was > n_now ? n_was : n_now); i++) {
        char place[24];
        snprintf(place, sizeof place, "%zu", i + 1);
        compare_items(w, json_at(was, i), json_at(now, i), place);
    }
}

static void compare_members(struct walk *w, json_node *was, json_node *now)
{
    const char *key;
    for (size_t i = 0; i < json_size(now); i++) {
        json_node *item = json_member(now, i, &key);
        const size_t at = down(w, key);
        compare(w, json_get(was, key), item, key);
        w->where[at] = '\0';
    }
    for (size_t i = 0; i < json_size(was); i++) {
        json_node *item = json_member(was, i, &key);
        if (json_get(now, key) != NULL)
            continue;
        const size_t at = down(w, key);
        compare(w, item, NULL, key);
        w->where[at] = '\0';
    }
}

/* One value in a form of its own, although it is an object. */
static bool is_value(json_node *node)
{
    struct text t = {0};
    const bool ret = say_amount(&t, node) || say_pair(&t, node);
    text_done(&t);
    return ret;
}

static enum dim dim_of(json_node *amount)
{
    size_t n;
    const char *unit = json_string(json_get(amount, "unit"), &n);
    return quantity_unit_dim(quantity_unit_find(unit, n));
}

/* 1 in and 25.4 mm are the same. */
static bool is_same_amount(json_node *was, json_node *now)
{
    json_node *a = json_get(was, "nano"), *b = json_get(now, "nano");
    return a != NULL && b != NULL && json_int(a) == json_int(b) && dim_of(was) == dim_of(now);
}

/* Either may be NULL: not there. */
static void compare(struct walk *w, json_node *was, json_node *now, const char *key)
{
    const enum json_kind kind = json_kind(now != NULL ? now : was);
    const bool is_one = was == NULL || now == NULL;
    if (is_one || json_kind(was) != kind || kind < JSON_ARRAY)
        say_both(w, was, now, key);
    else if (kind == JSON_ARRAY)
        compare_lists(w, was, now, key);
    else if (!is_value(was) || !is_value(now))
        compare_members(w, was, now);
    else if (!is_same_amount(was, now))
        say_both(w, was, now, key);
}

static enum err lay_out(const struct bulletin *b, struct json_doc **ret, struct fault *f)
{
    struct text t = {0};
    bulletin_export(b, "", &t);
    const enum err err = t.is_broken
                             ? fault_set(f, ERR_MEMORY, "memory ran out while comparing bulletins")
                             : json_parse(t.data, t.size, b->head.id, ret, f);
    text_done(&t);
    return err;
}

struct change_laid {
    struct json_doc *doc;
};

enum err change_lay(const struct bulletin *b, struct change_laid **ret, struct fault *reterr)
{
    struct change_laid *laid = calloc(1, sizeof *laid);
    if (laid == NULL)
        return fault_set(reterr, ERR_MEMORY, "memory ran out while comparing bulletins");
    const enum err err = lay_out(b, &laid->doc, reterr);
    if (err == ERR_OK)
        *ret = laid;
    else
        free(laid);
    return err;
}

void change_laid_free(struct change_laid *laid)
{
    if (laid != NULL)
        json_free(laid->doc);
    free(laid);
}

enum err changes_from(const struct change_laid *was, const struct bulletin *now,
                      struct change_list *ret, struct fault *reterr)
{
    struct json_doc *b = NULL;
    struct walk w = {.list = ret};
    enum err err = lay_out(now, &b, reterr);
    if (err == ERR_OK) {
        w.money_digits[WAS] = (int)json_int(json_get(json_root(was->doc), "currency_digits"));
        w.money_digits[NOW] = (int)json_int(json_get(json_root(b), "currency_digits"));
        compare_members(&w, json_root(was->doc), json_root(b));
        if (ret->arena.is_broken)
            err = fault_set(reterr, ERR_MEMORY, "memory ran out while comparing bulletins");
    }
    json_free(b);
    return err;
}

enum err changes_between(const struct bulletin *was, const struct bulletin *now,
                         struct change_list *ret, struct fault *reterr)
{
    struct change_laid *laid = NULL;
    enum err err = change_lay(was, &laid, reterr);
    if (err == ERR_OK)
        err = changes_from(laid, now, ret, reterr);
    change_laid_free(laid);
    return err;
}

void change_list_done(struct change_list *list)
{
    arena_done(&list->arena);
    free(list->changes);
    *list = (struct change_list){0};
}
