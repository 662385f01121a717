/* shops_list: owns how the kept list of shops and the keyrings are told and changed. */
#include "desk/shops_list.h"

#include "base/csv.h"
#include "core/date.h"
#include "desk/shops.h"
#include "proof/keyring.h"
#include "store/acts.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- the list that holds ------------------------------------------------------------------------------ */

/* A copy of a paper that holds. */
struct held {
    struct text text;
    char name[STORE_ID_MAX + 1];
    uint8_t sha256[STORE_DIGEST]; /* zero: there is none */
    int64_t seq, at_ms;
};

/* Of several kept under different names the last that was put there holds, as for ruling. */
static bool see_list(void *me, const struct store_paper *p)
{
    struct held *h = me;
    if (p->seq <= h->seq)
        return true;
    text_clear(&h->text);
    text_add(&h->text, p->text, p->n);
    snprintf(h->name, sizeof h->name, "%s", p->name);
    memcpy(h->sha256, p->sha256, sizeof h->sha256);
    h->seq = p->seq;
    h->at_ms = p->at_ms;
    return true;
}

/* *h zeroed; text_done its text. */
static enum err hold(struct store *store, struct held *h, struct fault *f)
{
    snprintf(h->name, sizeof h->name, "shops");
    const enum err err = store_papers(store, "shops", NULL, true, see_list, h, f);
    return err == ERR_OK && h->text.is_broken ? fault_no_memory(f) : err;
}

static void tag_of(const struct held *h, char ret[SHOPS_TAG_ROOM])
{
    char hex[DIGEST_HEX_ROOM];
    digest_hex(h->sha256, STORE_DIGEST, hex);
    snprintf(ret, SHOPS_TAG_ROOM, "%.64s", h->seq > 0 ? hex : "none");
}

enum err shops_paper_name(struct store *store, char ret[STORE_ID_MAX + 1], struct fault *reterr)
{
    struct held h = {0};
    const enum err err = hold(store, &h, reterr);
    memcpy(ret, h.name, sizeof h.name);
    text_done(&h.text);
    return err;
}

/* ---- telling ------------------------------------------------------------------------------------------ */

struct counted {
    char shop[STORE_ID_MAX + 1];
    int64_t n_claims;
};

struct telling {
    struct shops *shops;
    int digits;
    struct keyring ring;
    struct counted *counted;
    size_t n_counted, room;
    bool is_broken;
    struct jsonw *w;
};

static bool see_count(void *me, const char *shop, int64_t n_claims)
{
    struct telling *t = me;
    if (t->n_counted == t->room) {
        const size_t room = t->room > 0 ? 2 * t->room : 64;
        struct counted *more = realloc(t->counted, room * sizeof *more);
        t->is_broken = more == NULL;
        if (more == NULL)
            return false;
        t->counted = more;
        t->room = room;
    }
    struct counted *c = &t->counted[t->n_counted++];
    c->n_claims = n_claims;
    snprintf(c->shop, sizeof c->shop, "%s", shop);
    return true;
}

static int by_shop(const void *a, const void *b)
{
    return strcmp(((const struct keyring_key *)a)->shop, ((const struct keyring_key *)b)->shop);
}

static void put_rate(struct jsonw *w, int64_t minor, int digits)
{
    char text[40];
    int64_t one = 1;
    for (int i = 0; i < digits; i++)
        one *= 10;
    if (minor == BULLETIN_NO_AMOUNT)
        jsonw_null(w, "rate");
    else if (digits == 0)
        snprintf(text, sizeof text, "%lld", (long long)minor);
    else
        snprintf(text, sizeof text, "%lld.%0*lld", (long long)(minor / one), digits,
                 (long long)(minor % one));
    if (minor != BULLETIN_NO_AMOUNT)
        jsonw_string(w, "rate", text);
}

static void put_row(const struct telling *t, const struct shops_row *row)
{
    char day[DATE_SHOW_SIZE] = "";
    jsonw_object(t->w, NULL);
    jsonw_string(t->w, "kind", bulletin_payee_names[row->kind]);
    put_rate(t->w, row->rate_minor, t->digits);
    if (row->from != INT32_MIN)
        date_show(row->from, day);
    jsonw_string(t->w, "from", day[0] != '\0' ? day : NULL);
    jsonw_object_end(t->w);
}

/* Where each of the three lists, all by shop, has come to. */
struct places {
    size_t row, key, count;
};

static const char *first_of(const struct telling *t, const struct places *p)
{
    const char *shop = NULL;
    if (t->shops != NULL && p->row < shops_n(t->shops))
        shop = shops_at(t->shops, p->row)->id;
    if (p->key < t->ring.n && (shop == NULL || strcmp(t->ring.keys[p->key].shop, shop) < 0))
        shop = t->ring.keys[p->key].shop;
    if (p->count < t->n_counted && (shop == NULL || strcmp(t->counted[p->count].shop, shop) < 0))
        shop = t->counted[p->count].shop;
    return shop;
}

static void put_shop(const struct telling *t, struct places *p, const char *shop)
{
    char hex[DIGEST_HEX_ROOM];
    int64_t n_claims = 0;
    jsonw_object(t->w, NULL);
    jsonw_string(t->w, "shop", shop);
    if (p->count < t->n_counted && strcmp(t->counted[p->count].shop, shop) == 0)
        n_claims = t->counted[p->count++].n_claims;
    jsonw_int(t->w, "claims", n_claims);
    jsonw_array(t->w, "rows");
    for (; t->shops != NULL && p->row < shops_n(t->shops) &&
           strcmp(shops_at(t->shops, p->row)->id, shop) == 0;
         p->row++)
        put_row(t, shops_at(t->shops, p->row));
    jsonw_array_end(t->w);
    jsonw_array(t->w, "keys");
    for (; p->key < t->ring.n && strcmp(t->ring.keys[p->key].shop, shop) == 0; p->key++) {
        digest_hex(t->ring.keys[p->key].key, SIGN_KEY_SIZE, hex);
        jsonw_string(t->w, NULL, hex);
    }
    jsonw_array_end(t->w);
    jsonw_object_end(t->w);
}

static enum err gather(struct store *store, const struct held *h, struct telling *t,
                       struct fault *f)
{
    enum err err = ERR_OK;
    if (h->seq > 0)
        err = shops_read_any(h->text.data, h->text.size, h->name, &t->shops, &t->digits, f);
    if (err == ERR_OK)
        err = papers_ring(store, &t->ring, f);
    if (err == ERR_OK)
        err = store_shop_counts(store, see_count, t, f);
    if (err == ERR_OK && t->is_broken)
        err = fault_no_memory(f);
    if (err == ERR_OK && t->ring.n > 0)
        qsort(t->ring.keys, t->ring.n, sizeof *t->ring.keys, by_shop);
    return err;
}

enum err shops_tell(struct store *store, struct jsonw *w, char tag[SHOPS_TAG_ROOM],
                    struct fault *reterr)
{
    struct held h = {0};
    struct telling t = {.w = w};
    struct places p = {0};
    enum err err = store_hold(store, reterr);
    if (err != ERR_OK)
        return err;
    err = hold(store, &h, reterr);
    if (err == ERR_OK)
        err = gather(store, &h, &t, reterr);
    store_release(store);
    if (err == ERR_OK) {
        tag_of(&h, tag);
        jsonw_string(w, "sha256", h.seq > 0 ? tag : NULL);
        if (h.seq > 0)
            jsonw_int(w, "kept_ms", h.at_ms);
        else
            jsonw_null(w, "kept_ms");
        jsonw_array(w, "shops");
        for (const char *shop = first_of(&t, &p); shop != NULL; shop = first_of(&t, &p))
            put_shop(&t, &p, shop);
        jsonw_array_end(w);
    }
    shops_free(t.shops);
    keyring_done(&t.ring);
    free(t.counted);
    text_done(&h.text);
    return err;
}

/* ---- another list ------------------------------------------------------------------------------------ */

static enum err keep(struct store *store, const char *kind, const struct held *h, const char *text,
                     size_t n, int64_t now_ms, struct fault *f)
{
    bool is_new = false;
    struct store_paper paper = {.kind = kind,
                                .name = h->name,
                                .revision = STORE_UNKNOWN,
                                .at_ms = now_ms,
                                .text = text,
                                .n = n,
                                .replaces = h->sha256};
    return store_keep(store, &paper, &is_new, f);
}

static enum err changed(struct fault *f)
{
    *f = (struct fault){0};
    return fault_set(f, ERR_DUPLICATE,
                     "the list of shops has changed since you looked; look again, then change it");
}

/* The list that holds, if it is the one that was seen. */
static enum err hold_seen(struct store *store, const char *seen, struct held *h, struct fault *f)
{
    char tag[SHOPS_TAG_ROOM];
    const enum err err = hold(store, h, f);
    if (err != ERR_OK)
        return err;
    tag_of(h, tag);
    return strcmp(tag, seen != NULL ? seen : "none") == 0 ? ERR_OK : changed(f);
}

/* A text that is sound in place of the held one. */
static enum err put_list(struct store *store, const struct held *h, const char *text, size_t n,
                         int64_t now_ms, struct fault *f)
{
    struct shops *shops = NULL;
    int digits = 0;
    enum err err = shops_read_any(text, n, "shops", &shops, &digits, f);
    if (err != ERR_OK)
        return err;
    shops_free(shops);
    err = keep(store, "shops", h, text, n, now_ms, f);
    return err == ERR_ORDER ? changed(f) : err;
}

enum err shops_replace(struct store *store, const char *seen, const char *text, size_t n,
                       int64_t now_ms, struct fault *reterr)
{
    struct held h = {0};
    enum err err = hold_seen(store, seen, &h, reterr);
    if (err == ERR_OK)
        err = put_list(store, &h, text, n, now_ms, reterr);
    text_done(&h.text);
    return err;
}

/* ---- one row ----------------------------------------------------------------------------------------- */

enum { SHOP, KIND, RATE, FROM, OURS };
static const char *const ours[OURS] = {"shop", "kind", "rate", "from"};

struct editing {
    struct csv *csv;
    int columns[OURS]; /* -1: there is none in the file */
    const char *values[OURS];
    bool adds[OURS]; /* columns that the file gets for this row */
    bool is_done;
    struct text out;
};

static bool is_field(const struct editing *e, int column, const char *value)
{
    const struct csv_field field =
        column >= 0 ? csv_at(e->csv, (size_t)column) : (struct csv_field){"", 0, 0};
    return field.n == strlen(value) && memcmp(field.at, value, field.n) == 0;
}

/* What a record is: the columns' names, a row as it was read, that row with our values, or our values alone. */
enum record { HEAD, AS_READ, REPLACED, ADDED };

static void put_record(struct editing *e, enum record record)
{
    const size_t n = csv_columns(e->csv);
    for (size_t i = 0; i < n; i++) {
        const char *value = NULL;
        for (int k = 0; record >= REPLACED && k < OURS; k++)
            if (e->columns[k] == (int)i)
                value = e->values[k];
        if (record == HEAD)
            value = csv_column_name(e->csv, i);
        else if (record == ADDED && value == NULL)
            value = "";
        const struct csv_field field =
            value != NULL ? (struct csv_field){value, strlen(value), 0} : csv_at(e->csv, i);
        csv_put(&e->out, i == 0, field.at, field.n);
    }
    for (int k = 0; k < OURS; k++) {
        const char *value = record == HEAD ? ours[k] : record == AS_READ ? "" : e->values[k];
        if (e->adds[k])
            csv_put(&e->out, false, value, strlen(value));
    }
    csv_put_end(&e->out);
}

static enum err edit_rows(struct editing *e, bool is_gone, struct fault *f)
{
    bool has_row = true;
    enum err err = ERR_OK;
    put_record(e, HEAD);
    while (err == ERR_OK) {
        err = csv_next(e->csv, &has_row, f);
        if (err != ERR_OK || !has_row)
            break;
        const bool is_it = is_field(e, e->columns[SHOP], e->values[SHOP]) &&
                           is_field(e, e->columns[FROM], e->values[FROM]);
        e->is_done = e->is_done || is_it;
        if (!is_it || !is_gone)
            put_record(e, is_it ? REPLACED : AS_READ);
    }
    if (err == ERR_OK && !e->is_done && is_gone)
        return fault_set(f, ERR_UNKNOWN, "there is no row of this shop and day");
    if (err == ERR_OK && !e->is_done)
        put_record(e, ADDED);
    return err == ERR_OK && e->out.is_broken ? fault_no_memory(f) : err;
}

static enum err edit(struct editing *e, const struct held *h, const struct shops_change *change,
                     struct fault *f)
{
    static const char empty[] = "shop,kind,rate,from\r\n";
    const char *const values[OURS] = {change->shop, change->kind, change->rate, change->from};
    enum err err = csv_open(h->seq > 0 ? h->text.data : empty,
                            h->seq > 0 ? h->text.size : sizeof empty - 1, h->name, &e->csv, f);
    for (int k = 0; err == ERR_OK && k < OURS; k++) {
        e->values[k] = values[k];
        e->columns[k] = csv_column(e->csv, ours[k]);
        e->adds[k] = e->columns[k] < 0 && !change->is_gone && values[k][0] != '\0';
    }
    return err == ERR_OK ? edit_rows(e, change->is_gone, f) : err;
}

enum err shops_change(struct store *store, const char *seen, const struct shops_change *change,
                      int64_t now_ms, struct fault *reterr)
{
    struct held h = {0};
    struct editing e = {0};
    enum err err = hold_seen(store, seen, &h, reterr);
    if (err == ERR_OK)
        err = edit(&e, &h, change, reterr);
    if (err == ERR_OK)
        err = put_list(store, &h, e.out.data, e.out.size, now_ms, reterr);
    csv_close(e.csv);
    text_done(&e.out);
    text_done(&h.text);
    return err;
}

/* ---- keys -------------------------------------------------------------------------------------------- */

static enum err read_key(const char *text, uint8_t ret[SIGN_KEY_SIZE], struct fault *f)
{
    return strlen(text) == (size_t)2 * SIGN_KEY_SIZE && digest_unhex(text, SIGN_KEY_SIZE, ret)
               ? ERR_OK
               : fault_set(f, ERR_SYNTAX, "a key has %d hexadecimal digits", 2 * SIGN_KEY_SIZE);
}

static enum err key_is_new(struct store *store, const char *shop, const uint8_t *key,
                           struct fault *f)
{
    struct keyring ring = {0};
    enum err err = papers_ring(store, &ring, f);
    const char *owner = err == ERR_OK ? keyring_owner(&ring, key) : NULL;
    if (owner != NULL)
        err = fault_set(f, ERR_DUPLICATE, "the key is %s already",
                        strcmp(owner, shop) == 0 ? "that shop's" : "another shop's");
    keyring_done(&ring);
    return err;
}

enum err shops_key_add(struct store *store, const char *shop, const char *key, int64_t now_ms,
                       struct fault *reterr)
{
    struct held h = {.name = "keys"};
    uint8_t bytes[SIGN_KEY_SIZE];
    char hex[DIGEST_HEX_ROOM];
    enum err err = read_key(key, bytes, reterr);
    if (err == ERR_OK && !keyring_is_shop(shop, strlen(shop)))
        err = fault_set(reterr, ERR_SYNTAX, "expected a shop's id: letters, digits, '.', '_', '-'");
    if (err == ERR_OK)
        err = key_is_new(store, shop, bytes, reterr);
    if (err == ERR_OK)
        err = store_papers(store, "keys", "keys", true, see_list, &h, reterr);
    if (err == ERR_OK) {
        if (h.text.size > 0 && h.text.data[h.text.size - 1] != '\n')
            text_putc(&h.text, '\n');
        digest_hex(bytes, sizeof bytes, hex);
        text_printf(&h.text, "%s %s\n", shop, hex);
        err = h.text.is_broken ? fault_no_memory(reterr)
                               : keep(store, "keys", &h, h.text.data, h.text.size, now_ms, reterr);
    }
    text_done(&h.text);
    return err;
}

struct revoking {
    struct held rings[16]; /* those that have the key */
    size_t n;
    const char *hex;
    bool is_full;
};

/* Whether a line of a keyring, without its end, is of this key. */
static bool is_of(const char *line, size_t n, const char *hex)
{
    const size_t digits = (size_t)2 * SIGN_KEY_SIZE;
    while (n > 0 && strchr(" \t\r", line[n - 1]) != NULL)
        n--;
    if (n <= digits || line[0] == '#')
        return false;
    for (size_t i = 0; i < digits; i++) {
        const char c = line[n - digits + i];
        if ((c >= 'A' && c <= 'F' ? c - 'A' + 'a' : c) != hex[i])
            return false;
    }
    return true;
}

static bool see_keys(void *me, const struct store_paper *p)
{
    struct revoking *r = me;
    struct text rest = {0};
    bool has_it = false;
    for (size_t at = 0; at < p->n;) {
        const char *end = memchr(p->text + at, '\n', p->n - at);
        const size_t n = end != NULL ? (size_t)(end - p->text) - at : p->n - at;
        if (is_of(p->text + at, n, r->hex))
            has_it = true;
        else {
            text_add(&rest, p->text + at, n);
            text_putc(&rest, '\n');
        }
        at += n + 1;
    }
    r->is_full = has_it && r->n == sizeof r->rings / sizeof *r->rings;
    if (!has_it || r->is_full) {
        text_done(&rest);
        return !r->is_full;
    }
    if (rest.size == 0)
        text_puts(&rest, "# no key is left\n");
    struct held *h = &r->rings[r->n++];
    *h = (struct held){.text = rest, .seq = p->seq};
    snprintf(h->name, sizeof h->name, "%s", p->name);
    memcpy(h->sha256, p->sha256, sizeof h->sha256);
    return true;
}

enum err shops_key_revoke(struct store *store, const char *key, int64_t now_ms,
                          char ret_name[STORE_ID_MAX + 1], struct fault *reterr)
{
    uint8_t bytes[SIGN_KEY_SIZE];
    char hex[DIGEST_HEX_ROOM];
    struct revoking r = {.hex = hex};
    enum err err = read_key(key, bytes, reterr);
    if (err == ERR_OK) {
        digest_hex(bytes, sizeof bytes, hex);
        err = store_papers(store, "keys", NULL, true, see_keys, &r, reterr);
    }
    if (err == ERR_OK && r.is_full)
        err = fault_set(reterr, ERR_LIMIT, "more than %zu keyrings have this key",
                        sizeof r.rings / sizeof *r.rings);
    if (err == ERR_OK && r.n == 0)
        err = fault_set(reterr, ERR_UNKNOWN, "no keyring that is kept has this key");
    for (size_t i = 0; err == ERR_OK && i < r.n; i++) {
        struct held *h = &r.rings[i];
        err = h->text.is_broken
                  ? fault_no_memory(reterr)
                  : keep(store, "keys", h, h->text.data, h->text.size, now_ms, reterr);
        memcpy(ret_name, h->name, sizeof h->name);
    }
    for (size_t i = 0; i < r.n; i++)
        text_done(&r.rings[i].text);
    return err;
}
