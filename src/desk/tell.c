/* tell: owns the JSON of what the store holds. */
#include "desk/tell.h"

#include "base/text.h"
#include "bulletin/bulletin.h"
#include "bulletin/export.h"
#include "bulletin/schema.h"
#include "store/store.h"

#include <stdio.h>
#include <string.h>

void tell_int(struct jsonw *w, const char *key, int64_t value)
{
    if (value == STORE_UNKNOWN)
        jsonw_null(w, key);
    else
        jsonw_int(w, key, value);
}

/* ---- the list ------------------------------------------------------------------------------------ */

const char *const tell_verdicts[] = {"pay", "ask", "hold", "refuse", "unruled", NULL};
const char *const tell_needs[] = {STORE_NEEDS_PERSON, STORE_NEEDS_PAYMENT, STORE_NEEDS_SHOP,
                                  STORE_NEEDS_RULING, STORE_NEEDS_NOTHING, NULL};

void tell_currency(struct jsonw *w, const char *currency)
{
    const int digits = currency != NULL ? schema_currency_digits(currency) : -1;
    jsonw_string(w, "currency", currency);
    if (digits >= 0)
        jsonw_int(w, "currency_digits", digits);
    else
        jsonw_null(w, "currency_digits");
}

void tell_head(struct jsonw *w, const struct store_listed *l)
{
    jsonw_string(w, "claim", l->claim);
    jsonw_string(w, "vin", l->vin);
    jsonw_string(w, "shop", l->shop);
    jsonw_string(w, "technician", l->technician);
    jsonw_string(w, "bulletin", l->bulletin);
    tell_int(w, "revision", l->revision);
    jsonw_string(w, "job", l->job);
    tell_int(w, "opened_ms", l->opened_ms);
    tell_int(w, "finished_ms", l->finished_ms);
    jsonw_int(w, "taken_ms", l->taken_ms);
    jsonw_string(w, "signature", l->signature);
    jsonw_bool(w, "is_invented", l->is_invented == 1);
    jsonw_string(w, "verdict", l->verdict);
    jsonw_int(w, "amount_minor", l->amount_minor);
    tell_currency(w, l->currency);
    jsonw_int(w, "paid_minor", l->paid_minor);
    jsonw_bool(w, "is_overruled", l->is_word);
    jsonw_string(w, "needs", l->needs);
    jsonw_string(w, "finding", l->finding);
    jsonw_int(w, "n_findings", l->n_findings);
}

struct list {
    struct jsonw *w;
    size_t n, n_max;
    bool is_more;
};

static bool see_listed(void *me, const struct store_listed *l)
{
    struct list *v = me;
    char tag[TELL_TAG_ROOM];
    if (v->n == v->n_max) {
        v->is_more = true;
        return false;
    }
    v->n++;
    tell_tag(l->claim, l->last_seq, tag);
    jsonw_object(v->w, NULL);
    tell_head(v->w, l);
    jsonw_string(v->w, "etag", tag);
    jsonw_object_end(v->w);
    return true;
}

enum err tell_claims(struct store *store, const struct tell_order *order, struct jsonw *w,
                     struct fault *reterr)
{
    struct list l = {.w = w,
                     .n_max = order->n_max < 1                 ? 1
                              : order->n_max > TELL_CLAIMS_MAX ? TELL_CLAIMS_MAX
                                                               : (size_t)order->n_max};
    const struct store_filter filter = {.vin = order->vin,
                                        .tail = order->tail,
                                        .rule = order->rule,
                                        .needs = order->needs,
                                        .verdict = order->verdict,
                                        .shop = order->shop,
                                        .bulletin = order->bulletin,
                                        .is_clean = order->is_clean,
                                        .after = order->after,
                                        .n_max = l.n_max + 1};
    jsonw_array(w, "claims");
    const enum err err = store_list(store, &filter, see_listed, &l, reterr);
    jsonw_array_end(w);
    jsonw_bool(w, "more", l.is_more);
    return err;
}

struct counts {
    int64_t n, clean, by_verdict[5], by_needs[5];
};

static void count_in(const char *const *names, const char *name, int64_t n, int64_t *counts)
{
    for (size_t i = 0; names[i] != NULL; i++)
        if (strcmp(names[i], name) == 0)
            counts[i] += n;
}

static bool see_count(void *me, const struct store_count_of *c)
{
    struct counts *v = me;
    v->n += c->n;
    count_in(tell_verdicts, c->verdict, c->n, v->by_verdict);
    count_in(tell_needs, c->needs, c->n, v->by_needs);
    if (c->is_clean && strcmp(c->needs, STORE_NEEDS_PAYMENT) == 0)
        v->clean += c->n;
    return true;
}

enum err tell_counts(struct store *store, const char *shop, struct jsonw *w, struct fault *reterr)
{
    struct counts v = {0};
    const enum err err = store_tally(store, shop, see_count, &v, reterr);
    jsonw_object(w, "counts");
    jsonw_int(w, "all", v.n);
    jsonw_object(w, "verdict");
    for (size_t i = 0; tell_verdicts[i] != NULL; i++)
        jsonw_int(w, tell_verdicts[i], v.by_verdict[i]);
    jsonw_object_end(w);
    jsonw_object(w, "needs");
    for (size_t i = 0; tell_needs[i] != NULL; i++)
        jsonw_int(w, tell_needs[i], v.by_needs[i]);
    jsonw_object_end(w);
    jsonw_int(w, "clean", v.clean);
    jsonw_object_end(w);
    return err;
}

/* ---- photos ---------------------------------------------------------------------------------------- */

struct photo_of {
    const char *shop, *sha256;
    uint8_t digest[STORE_DIGEST];
    char ext[8];
    bool is_found;
};

static bool see_photos(void *me, const char *id, const struct store_claim *c)
{
    struct photo_of *v = me;
    (void)id;
    if (v->shop != NULL && (c->shop == NULL || strcmp(c->shop, v->shop) != 0))
        return false;
    for (size_t i = 0; i < c->n_photos && !v->is_found; i++) {
        v->is_found = memcmp(c->photos[i].sha256, v->digest, STORE_DIGEST) == 0;
        if (v->is_found)
            snprintf(v->ext, sizeof v->ext, "%s",
                     c->photos[i].ext != NULL ? c->photos[i].ext : "bin");
    }
    return false;
}

enum err tell_photo(struct store *store, const char *claim, const char *shop, const char *sha256,
                    struct text *ret, char ext[8], struct fault *reterr)
{
    struct photo_of v = {.shop = shop};
    if (strlen(sha256) == 2 * (size_t)STORE_DIGEST &&
        digest_unhex(sha256, STORE_DIGEST, v.digest)) {
        const enum err err = store_claims(store, claim, see_photos, &v, reterr);
        if (err != ERR_OK)
            return err;
    }
    if (!v.is_found)
        return fault_set(reterr, ERR_UNKNOWN, "there is no such photo in claim %.20s", claim);
    snprintf(ext, 8, "%s", v.ext);
    return store_photo_read(store, v.digest, v.ext, STORE_PHOTO_MAX, ret, reterr);
}

/* ---- bulletins --------------------------------------------------------------------------------------- */

static bool see_paper(void *me, const struct store_paper *p)
{
    struct jsonw *w = me;
    char hex[2 * STORE_DIGEST + 1];
    digest_hex(p->sha256, STORE_DIGEST, hex);
    jsonw_object(w, NULL);
    jsonw_string(w, "id", p->name);
    jsonw_int(w, "revision", p->revision);
    jsonw_string(w, "sha256", hex);
    jsonw_int(w, "kept_ms", p->at_ms);
    jsonw_object_end(w);
    return true;
}

enum err tell_bulletins(struct store *store, struct jsonw *w, struct fault *reterr)
{
    jsonw_array(w, "bulletins");
    const enum err err = store_papers(store, "bulletin", NULL, false, see_paper, w, reterr);
    jsonw_array_end(w);
    return err;
}

struct paper_of {
    int64_t revision, best;
    struct text *file; /* NULL: not wanted */
    char *sha256;
};

static bool see_file(void *me, const struct store_paper *p)
{
    struct paper_of *v = me;
    if ((v->revision != 0 && p->revision != v->revision) || p->revision <= v->best)
        return true;
    v->best = p->revision;
    if (v->file != NULL) {
        text_clear(v->file);
        text_add(v->file, p->text, p->n);
    }
    digest_hex(p->sha256, STORE_DIGEST, v->sha256);
    return true;
}

static enum err as_json(const char *id, const struct text *file, struct text *ret,
                        const char *sha256, struct fault *f)
{
    struct fault_list faults = {0};
    struct bulletin *b = bulletin_load(file->data, file->size, id, &faults);
    fault_list_done(&faults);
    if (b == NULL) /* it was sound when it was kept */
        return fault_set(f, ERR_IO, "the bulletin kept as %.40s cannot be read by this program",
                         id);
    bulletin_export(b, sha256, ret);
    bulletin_free(b);
    return ret->is_broken ? fault_no_memory(f) : ERR_OK;
}

static enum err find_bulletin(struct store *store, const char *id, struct paper_of *v,
                              struct fault *f)
{
    const enum err err = store_papers(store, "bulletin", id, v->file != NULL, see_file, v, f);
    return err == ERR_OK && v->best == 0 ? fault_set(f, ERR_UNKNOWN, "no such bulletin is kept")
                                         : err;
}

enum err tell_bulletin_sha256(struct store *store, const char *id, int64_t revision,
                              char sha256[65], struct fault *reterr)
{
    struct paper_of v = {.revision = revision};
    v.sha256 = sha256; /* within the braces clang-tidy would take it for one that may be const */
    return find_bulletin(store, id, &v, reterr);
}

enum err tell_bulletin(struct store *store, const char *id, int64_t revision, bool is_file,
                       struct text *ret, char sha256[65], struct fault *reterr)
{
    struct text file = {0};
    struct paper_of v = {revision, 0, &file, sha256};
    enum err err = find_bulletin(store, id, &v, reterr);
    if (err == ERR_OK && file.is_broken)
        err = fault_no_memory(reterr);
    if (err == ERR_OK && is_file)
        text_add(ret, file.data, file.size);
    else if (err == ERR_OK)
        err = as_json(id, &file, ret, sha256, reterr);
    text_done(&file);
    return err;
}
