/* tell: owns the JSON of what the store holds. */
#include "desk/tell.h"

#include "base/text.h"
#include "bulletin/bulletin.h"
#include "bulletin/export.h"
#include "store/store.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static enum err no_memory(struct fault *f)
{
    return fault_set(f, ERR_MEMORY, "memory ran out");
}

static void put_int(struct jsonw *w, const char *key, int64_t value)
{
    if (value == STORE_UNKNOWN)
        jsonw_null(w, key);
    else
        jsonw_int(w, key, value);
}

/* ---- what stands ------------------------------------------------------------------------------- */

struct standing {
    char verdict[16], currency[8];
    int64_t amount_minor, paid_minor, seq;
    bool is_ruled, is_overruled;
};

static bool see_standing(void *me, const struct store_ruling *r)
{
    struct standing *s = me;
    s->seq = r->seq;
    snprintf(s->currency, sizeof s->currency, "%s", r->currency != NULL ? r->currency : "");
    if (r->kind == STORE_PAID) {
        s->paid_minor += r->amount_minor;
        return true;
    }
    if (!store_takes_over(r->kind, s->is_overruled))
        return true;
    s->is_ruled = true;
    s->is_overruled = r->kind == STORE_OVERRULED;
    s->amount_minor = r->amount_minor;
    snprintf(s->verdict, sizeof s->verdict, "%s", r->verdict);
    return true;
}

static void put_standing(struct jsonw *w, const struct standing *s)
{
    jsonw_string(w, "verdict", s->is_ruled ? s->verdict : NULL);
    jsonw_int(w, "amount_minor", s->amount_minor);
    jsonw_string(w, "currency", s->currency[0] != '\0' ? s->currency : NULL);
    jsonw_int(w, "paid_minor", s->paid_minor);
    jsonw_bool(w, "is_overruled", s->is_overruled);
}

/* ---- the list ------------------------------------------------------------------------------------ */

/* The newest claims that are wanted: a ring of their ids. */
struct list {
    const struct tell_order *order;
    char (*ids)[STORE_CLAIM_SIZE + 1]; /* [n_max + 1] */
    size_t room, n_seen;
    bool is_found; /* `after` */
};

static bool see_brief(void *me, const struct store_brief *b)
{
    struct list *l = me;
    const struct tell_order *o = l->order;
    if (o->after != NULL && strcmp(b->claim, o->after) == 0) {
        l->is_found = true;
        return false;
    }
    if (o->shop != NULL && (b->shop == NULL || strcmp(b->shop, o->shop) != 0))
        return true;
    if (o->vin != NULL && strcmp(b->vin, o->vin) != 0)
        return true;
    snprintf(l->ids[l->n_seen++ % l->room], sizeof l->ids[0], "%s", b->claim);
    return true;
}

struct one {
    struct jsonw *w;
};

static bool put_head(void *me, const char *id, const struct store_claim *c)
{
    struct jsonw *w = ((struct one *)me)->w;
    jsonw_string(w, "claim", id);
    jsonw_string(w, "vin", c->vin);
    jsonw_string(w, "shop", c->shop);
    jsonw_string(w, "technician", c->technician);
    jsonw_string(w, "bulletin", c->bulletin);
    put_int(w, "revision", c->revision);
    jsonw_string(w, "job", c->job);
    put_int(w, "opened_ms", c->opened_ms);
    put_int(w, "finished_ms", c->finished_ms);
    jsonw_int(w, "taken_ms", c->taken_ms);
    jsonw_string(w, "signature", c->signature);
    jsonw_bool(w, "is_invented", c->is_invented == 1);
    return false;
}

static enum err put_listed(struct store *store, const char *id, struct jsonw *w, struct fault *f)
{
    struct standing s = {0};
    struct one one = {w};
    jsonw_object(w, NULL);
    enum err err = store_claims(store, id, put_head, &one, f);
    if (err == ERR_OK)
        err = store_rulings(store, id, see_standing, &s, f);
    put_standing(w, &s);
    jsonw_object_end(w);
    return err;
}

enum err tell_claims(struct store *store, const struct tell_order *order, struct jsonw *w,
                     struct fault *reterr)
{
    const size_t want = order->n_max < 1                 ? 1
                        : order->n_max > TELL_CLAIMS_MAX ? TELL_CLAIMS_MAX
                                                         : (size_t)order->n_max;
    struct list l = {.order = order, .room = want + 1};
    l.ids = calloc(l.room, sizeof *l.ids);
    if (l.ids == NULL)
        return no_memory(reterr);
    enum err err = store_briefs(store, see_brief, &l, reterr);
    if (err == ERR_OK && order->after != NULL && !l.is_found)
        err = fault_set(reterr, ERR_UNKNOWN, "there is no claim %.20s", order->after);
    jsonw_array(w, "claims");
    for (size_t i = 0; err == ERR_OK && i < want && i < l.n_seen; i++)
        err = put_listed(store, l.ids[(l.n_seen - 1 - i) % l.room], w, reterr);
    jsonw_array_end(w);
    jsonw_bool(w, "more", l.n_seen > want);
    free(l.ids);
    return err;
}

/* ---- one claim ------------------------------------------------------------------------------------- */

struct whole {
    struct jsonw *w;
    const char *shop;
    bool is_found;
};

static void put_findings(struct jsonw *w, const struct store_finding *at, size_t n)
{
    jsonw_array(w, "findings");
    for (size_t i = 0; i < n; i++) {
        jsonw_object(w, NULL);
        jsonw_string(w, "rule", at[i].rule);
        jsonw_string(w, "level", at[i].level);
        jsonw_string(w, "station", at[i].station);
        jsonw_string(w, "message", at[i].message);
        jsonw_string(w, "cure", at[i].cure);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
}

static void put_stations(struct jsonw *w, const struct store_claim *c)
{
    jsonw_array(w, "stations");
    for (size_t i = 0; i < c->n_stations; i++) {
        const struct store_station *s = &c->stations[i];
        jsonw_object(w, NULL);
        jsonw_string(w, "station", s->station);
        jsonw_string(w, "variant", s->variant);
        jsonw_string(w, "label", s->label);
        jsonw_string(w, "built_first", s->built_first);
        jsonw_string(w, "built_last", s->built_last);
        jsonw_string(w, "scope", s->scope);
        jsonw_string(w, "kit", s->kit);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
}

static void put_readings(struct jsonw *w, const struct store_claim *c)
{
    jsonw_array(w, "readings");
    for (size_t i = 0; i < c->n_readings; i++) {
        const struct store_reading *r = &c->readings[i];
        jsonw_object(w, NULL);
        jsonw_string(w, "station", r->station);
        jsonw_string(w, "point", r->point);
        jsonw_string(w, "phase", r->phase);
        jsonw_int(w, "value_nano", r->value_nano);
        jsonw_string(w, "unit", r->unit);
        put_int(w, "taken_ms", r->taken_ms);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
}

static void put_photos(struct jsonw *w, const struct store_claim *c)
{
    char hex[2 * STORE_DIGEST + 1];
    jsonw_array(w, "photos");
    for (size_t i = 0; i < c->n_photos; i++) {
        const struct store_photo *p = &c->photos[i];
        digest_hex(p->sha256, STORE_DIGEST, hex);
        jsonw_object(w, NULL);
        jsonw_string(w, "name", p->name);
        jsonw_string(w, "station", p->station);
        jsonw_string(w, "proof", p->point);
        jsonw_string(w, "sha256", hex);
        put_int(w, "width", p->width);
        put_int(w, "height", p->height);
        put_int(w, "taken_ms", p->taken_ms);
        jsonw_double(w, "sharpness", p->sharpness);
        jsonw_double(w, "exposure", p->exposure);
        jsonw_string(w, "codes", p->codes);
        jsonw_string(w, "fault", p->fault);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
}

static bool see_whole(void *me, const char *id, const struct store_claim *c)
{
    struct whole *v = me;
    struct one one = {v->w};
    v->is_found = v->shop == NULL || (c->shop != NULL && strcmp(c->shop, v->shop) == 0);
    if (!v->is_found)
        return false;
    put_head(&one, id, c);
    put_stations(v->w, c);
    put_readings(v->w, c);
    put_photos(v->w, c);
    put_findings(v->w, c->findings, c->n_findings);
    return false;
}

static bool see_ruling(void *me, const struct store_ruling *r)
{
    static const char *const kinds[] = {
        [STORE_RULED] = "ruled", [STORE_OVERRULED] = "overruled", [STORE_PAID] = "paid"};
    struct jsonw *w = me;
    jsonw_object(w, NULL);
    jsonw_string(w, "kind", kinds[r->kind]);
    jsonw_string(w, "verdict", r->verdict);
    jsonw_int(w, "amount_minor", r->amount_minor);
    jsonw_string(w, "currency", r->currency);
    put_int(w, "revision", r->revision);
    jsonw_string(w, "person", r->person);
    jsonw_string(w, "reason", r->reason);
    jsonw_int(w, "at_ms", r->at_ms);
    jsonw_array(w, "awards");
    for (size_t i = 0; i < r->n_awards; i++) {
        jsonw_object(w, NULL);
        jsonw_string(w, "station", r->awards[i].station);
        jsonw_string(w, "verdict", r->awards[i].verdict);
        jsonw_int(w, "amount_minor", r->awards[i].amount_minor);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
    put_findings(w, r->findings, r->n_findings);
    jsonw_object_end(w);
    return true;
}

enum err tell_claim(struct store *store, const char *claim, const char *shop, struct jsonw *w,
                    char tag[TELL_TAG_ROOM], struct fault *reterr)
{
    struct whole v = {.w = w, .shop = shop};
    struct standing s = {0};
    enum err err = store_claims(store, claim, see_whole, &v, reterr);
    if (err == ERR_OK && !v.is_found)
        err = fault_set(reterr, ERR_UNKNOWN, "there is no claim %.20s", claim);
    if (err == ERR_OK)
        err = store_rulings(store, claim, see_standing, &s, reterr);
    if (err != ERR_OK)
        return err;
    put_standing(w, &s);
    jsonw_array(w, "rulings");
    err = store_rulings(store, claim, see_ruling, w, reterr);
    jsonw_array_end(w);
    snprintf(tag, TELL_TAG_ROOM, "%.20s-%lld", claim, (long long)s.seq);
    return err;
}

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
                    char *path, size_t room, char ext[8], struct fault *reterr)
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
    store_photo_path(store, v.digest, v.ext, path, room);
    snprintf(ext, 8, "%s", v.ext);
    return ERR_OK;
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
    return ret->is_broken ? no_memory(f) : ERR_OK;
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
    struct paper_of v = {revision, 0, NULL, sha256};
    return find_bulletin(store, id, &v, reterr);
}

enum err tell_bulletin(struct store *store, const char *id, int64_t revision, bool is_file,
                       struct text *ret, char sha256[65], struct fault *reterr)
{
    struct text file = {0};
    struct paper_of v = {revision, 0, &file, sha256};
    enum err err = find_bulletin(store, id, &v, reterr);
    if (err == ERR_OK && file.is_broken)
        err = no_memory(reterr);
    if (err == ERR_OK && is_file)
        text_add(ret, file.data, file.size);
    else if (err == ERR_OK)
        err = as_json(id, &file, ret, sha256, reterr);
    text_done(&file);
    return err;
}
