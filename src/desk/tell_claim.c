/* tell_claim: owns the JSON of one claim. */
#include "base/json.h"
#include "desk/rule.h"
#include "desk/tell.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- tags ------------------------------------------------------------------------------------------- */

void tell_tag(const char *claim, int64_t seq, char tag[TELL_TAG_ROOM])
{
    snprintf(tag, TELL_TAG_ROOM, "%.*s-%lld", (int)STORE_CLAIM_SIZE, claim, (long long)seq);
}

int64_t tell_tag_seq(const char *claim, const char *tag)
{
    char again[TELL_TAG_ROOM], *end = NULL;
    const size_t n = strlen(claim);
    if (strncmp(tag, claim, n) != 0 || tag[n] != '-')
        return 0;
    const int64_t seq = strtoll(tag + n + 1, &end, 10);
    tell_tag(claim, seq, again);
    if (strcmp(again, tag) != 0) /* one spelling, nothing out of range */
        return 0;
    return seq == 0 ? -1 : seq;
}

/* ---- the bulletin whose limits hold ------------------------------------------------------------------- */

struct tell_limits {
    char id[STORE_ID_MAX + 1]; /* "": nothing is kept */
    uint8_t sha256[STORE_DIGEST];
    int64_t revision;
    struct bulletin *b;
    struct rule_book *book; /* NULL: no limits are told */
};

static void forget(struct tell_limits *l)
{
    rule_book_free(l->book);
    bulletin_free(l->b);
    *l = (struct tell_limits){0};
}

struct tell_limits *tell_limits_new(void)
{
    return calloc(1, sizeof(struct tell_limits));
}

void tell_limits_free(struct tell_limits *limits)
{
    if (limits == NULL)
        return;
    forget(limits);
    free(limits);
}

/* Which paper holds; then its text. */
struct paper {
    int64_t wanted; /* revision; STORE_UNKNOWN: the newest */
    int64_t revision;
    uint8_t sha256[STORE_DIGEST];
    struct text file;
};

static bool see_paper(void *me, const struct store_paper *p)
{
    struct paper *l = me;
    if ((l->wanted != STORE_UNKNOWN && p->revision != l->wanted) || p->revision < l->revision)
        return true;
    l->revision = p->revision;
    memcpy(l->sha256, p->sha256, STORE_DIGEST);
    text_clear(&l->file);
    if (p->text != NULL)
        text_add(&l->file, p->text, p->n);
    return true;
}

static enum err limits_read(struct store *store, const char *id, struct paper *paper,
                            struct tell_limits *ret, struct fault *f)
{
    struct fault_list faults = {0};
    struct fault ignored = {0};
    const enum err err = store_papers(store, "bulletin", id, true, see_paper, paper, f);
    if (err != ERR_OK)
        return err;
    if (paper->file.is_broken)
        return fault_no_memory(f);
    ret->b = bulletin_load(paper->file.data, paper->file.size, id, &faults);
    fault_list_done(&faults);
    if (ret->b != NULL && rule_book_new(ret->b, NULL, &ret->book, &ignored) == ERR_MEMORY)
        return fault_no_memory(f);
    snprintf(ret->id, sizeof ret->id, "%s", id);
    memcpy(ret->sha256, paper->sha256, STORE_DIGEST);
    ret->revision = paper->revision;
    return ERR_OK;
}

/* The revision that it was ruled by, else the newest. One that cannot be read has no limits: the claim is told all the same. */
static enum err limits_open(struct store *store, const char *id, int64_t revision,
                            struct tell_limits *kept, struct fault *f)
{
    struct paper paper = {.wanted = revision, .revision = -1};
    enum err err = store_papers(store, "bulletin", id, false, see_paper, &paper, f);
    if (err != ERR_OK)
        return err;
    if (paper.revision >= 0 && strcmp(kept->id, id) == 0 && kept->revision == paper.revision &&
        memcmp(kept->sha256, paper.sha256, STORE_DIGEST) == 0)
        return ERR_OK;
    forget(kept);
    if (paper.revision < 0)
        return ERR_OK;
    err = limits_read(store, id, &paper, kept, f);
    text_done(&paper.file);
    if (err != ERR_OK)
        forget(kept);
    return err;
}

/* ---- which instrument ---------------------------------------------------------------------------------- */

struct tool {
    char ulid[ULID_TEXT_SIZE + 1], instrument[EVENT_ID_MAX + 1];
};

/* Of the readings whose events name one. */
struct tools {
    struct tool *at;
    size_t n, room;
    bool is_out_of_memory;
};

static bool add_tool(struct tools *t, const char *ulid, const char *instrument)
{
    if (t->n == t->room) {
        const size_t room = t->room > 0 ? 2 * t->room : 32;
        struct tool *more = realloc(t->at, room * sizeof *more);
        if (more == NULL)
            return false;
        t->at = more;
        t->room = room;
    }
    struct tool *to = &t->at[t->n++];
    snprintf(to->ulid, sizeof to->ulid, "%s", ulid);
    snprintf(to->instrument, sizeof to->instrument, "%s", instrument);
    return true;
}

static bool see_reading(void *me, const struct store_event *e)
{
    struct tools *t = me;
    struct json_doc *doc = NULL;
    struct fault ignored = {0};
    if (strcmp(e->type, "reading_taken") != 0 || strstr(e->json, "\"instrument\"") == NULL)
        return true;
    if (json_parse(e->json, e->n, "event", &doc, &ignored) != ERR_OK)
        return true;
    json_node *node = json_get(json_get(json_root(doc), "payload"), "instrument");
    size_t n = 0;
    const char *name = node != NULL ? json_string(node, &n) : NULL;
    t->is_out_of_memory = name != NULL && !add_tool(t, e->ulid, name);
    json_free(doc);
    return !t->is_out_of_memory;
}

static const char *tool_of(const struct tools *t, const char *ulid)
{
    for (size_t i = 0; i < t->n && ulid != NULL; i++)
        if (strcmp(t->at[i].ulid, ulid) == 0)
            return t->at[i].instrument;
    return NULL;
}

/* ---- its parts ---------------------------------------------------------------------------------------- */

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
        jsonw_string(w, "what", at[i].what);
        jsonw_string(w, "other", at[i].other);
        jsonw_string(w, "other_what", at[i].other_what);
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

static void put_limit(struct jsonw *w, const char *key, int64_t nano)
{
    if (nano == INT64_MIN || nano == INT64_MAX)
        jsonw_null(w, key);
    else
        jsonw_int(w, key, nano);
}

/* Null where there is no such point or no limits: nothing is judged that was not. */
static void put_sight(struct jsonw *w, const struct store_reading *r, const char *instrument,
                      const struct tell_limits *l)
{
    struct rule_sight s;
    const enum unit unit = quantity_unit_find(r->unit, strlen(r->unit));
    const bool is_seen = l->book != NULL &&
                         rule_sight(l->book, r->point, instrument, r->value_nano, unit, &s) &&
                         (s.limits.low != INT64_MIN || s.limits.high != INT64_MAX);
    jsonw_string(w, "instrument", instrument);
    jsonw_string(w, "verdict", is_seen ? conform_verdict_name(s.verdict) : NULL);
    if (!is_seen)
        return;
    put_limit(w, "low_nano", s.limits.low);
    put_limit(w, "high_nano", s.limits.high);
    put_limit(w, "guarded_low_nano", s.guarded.low);
    put_limit(w, "guarded_high_nano", s.guarded.high);
    jsonw_int(w, "guard_nano", s.guard);
    jsonw_double(w, "u_nano", s.u);
    jsonw_double(w, "p_conform", s.p);
}

static void put_readings(struct jsonw *w, const struct store_claim *c, const struct tell_limits *l,
                         const struct tools *tools)
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
        tell_int(w, "taken_ms", r->taken_ms);
        put_sight(w, r, tool_of(tools, r->ulid), l);
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
        tell_int(w, "bytes", p->bytes);
        tell_int(w, "width", p->width);
        tell_int(w, "height", p->height);
        tell_int(w, "taken_ms", p->taken_ms);
        jsonw_double(w, "sharpness", p->sharpness);
        jsonw_double(w, "exposure", p->exposure);
        jsonw_string(w, "codes", p->codes);
        jsonw_string(w, "fault", p->fault);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
}

static const char *kind_name(enum store_ruling_kind kind)
{
    static const char *const kinds[] = {[STORE_RULED] = "ruled",
                                        [STORE_OVERRULED] = "overruled",
                                        [STORE_PAID] = "paid",
                                        [STORE_LIFTED] = "taken-back",
                                        [STORE_NOTED] = "noted"};
    return kinds[kind];
}

static void put_entry(struct jsonw *w, const struct store_ruling *r)
{
    jsonw_string(w, "kind", kind_name(r->kind));
    jsonw_string(w, "verdict", r->kind != STORE_NOTED ? r->verdict : NULL);
    jsonw_int(w, "amount_minor", r->amount_minor);
    jsonw_string(w, "currency", r->currency);
    tell_int(w, "revision", r->revision);
    jsonw_string(w, "person", r->person);
    jsonw_string(w, "reason", r->reason);
    jsonw_int(w, "at_ms", r->at_ms);
}

static bool see_ruling(void *me, const struct store_ruling *r)
{
    struct jsonw *w = me;
    jsonw_object(w, NULL);
    put_entry(w, r);
    jsonw_array(w, "awards");
    for (size_t i = 0; i < r->n_awards; i++) {
        jsonw_object(w, NULL);
        jsonw_string(w, "station", r->awards[i].station);
        jsonw_string(w, "verdict", r->awards[i].verdict);
        jsonw_int(w, "amount_minor", r->awards[i].amount_minor);
        jsonw_string(w, "what", r->awards[i].what);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
    put_findings(w, r->findings, r->n_findings);
    jsonw_object_end(w);
    return true;
}

/* ---- the claim ------------------------------------------------------------------------------------------- */

struct whole {
    struct store *store;
    struct jsonw *w;
    const char *shop;
    char bulletin[STORE_ID_MAX + 1];
    int64_t last_seq, revision; /* of the last ruling by the rules */
    struct tell_limits *limits;
    struct tools tools;
    bool is_found;
};

static bool see_head(void *me, const struct store_listed *l)
{
    struct whole *v = me;
    v->is_found = v->shop == NULL || (l->shop != NULL && strcmp(l->shop, v->shop) == 0);
    if (!v->is_found)
        return false;
    tell_head(v->w, l);
    v->last_seq = l->last_seq;
    snprintf(v->bulletin, sizeof v->bulletin, "%s", l->bulletin);
    return false;
}

static bool see_revision(void *me, const struct store_ruling *r)
{
    if (r->kind == STORE_RULED)
        ((struct whole *)me)->revision = r->revision;
    return true;
}

static bool see_parts(void *me, const char *id, const struct store_claim *c)
{
    struct whole *v = me;
    (void)id;
    put_stations(v->w, c);
    put_readings(v->w, c, v->limits, &v->tools);
    put_photos(v->w, c);
    put_findings(v->w, c->findings, c->n_findings);
    return false;
}

static enum err find_head(struct whole *v, const char *claim, struct fault *f)
{
    const struct store_filter one = {.claim = claim, .n_max = 1};
    const enum err err = store_list(v->store, &one, see_head, v, f);
    return err == ERR_OK && !v->is_found
               ? fault_set(f, ERR_UNKNOWN, "there is no claim %.20s", claim)
               : err;
}

static enum err tell(struct whole *v, const char *claim, struct fault *f)
{
    enum err err = find_head(v, claim, f);
    if (err == ERR_OK)
        err = store_rulings(v->store, claim, see_revision, v, f);
    if (err == ERR_OK)
        err = limits_open(v->store, v->bulletin, v->revision, v->limits, f);
    if (err == ERR_OK)
        err = store_events(v->store, claim, see_reading, &v->tools, f);
    if (err == ERR_OK && v->tools.is_out_of_memory)
        err = fault_no_memory(f);
    if (err != ERR_OK)
        return err;
    tell_int(v->w, "limits_revision",
             v->limits->book != NULL ? v->limits->revision : STORE_UNKNOWN);
    err = store_claims(v->store, claim, see_parts, v, f);
    jsonw_array(v->w, "rulings");
    if (err == ERR_OK)
        err = store_rulings(v->store, claim, see_ruling, v->w, f);
    jsonw_array_end(v->w);
    return err;
}

enum err tell_claim(struct store *store, struct tell_limits *limits, const char *claim,
                    const char *shop, struct jsonw *w, char tag[TELL_TAG_ROOM], int64_t *ret_seq,
                    struct fault *reterr)
{
    struct whole v = {
        .store = store, .w = w, .shop = shop, .limits = limits, .revision = STORE_UNKNOWN};
    enum err err = store_hold(store, reterr); /* one moment: what is told belongs together */
    if (err != ERR_OK)
        return err;
    err = tell(&v, claim, reterr);
    store_release(store);
    free(v.tools.at);
    tell_tag(claim, v.last_seq, tag);
    *ret_seq = v.last_seq > 0 ? v.last_seq : -1;
    return err;
}

/* ---- its events -------------------------------------------------------------------------------------------- */

struct events {
    struct text *ret;
    size_t n;
};

static bool see_event(void *me, const struct store_event *e)
{
    struct events *v = me;
    if (v->n++ > 0)
        text_putc(v->ret, ',');
    text_add(v->ret, e->json, e->n); /* taking in held it to be one JSON object */
    return true;
}

static bool see_shop(void *me, const struct store_listed *l)
{
    struct whole *v = me;
    v->is_found = v->shop == NULL || (l->shop != NULL && strcmp(l->shop, v->shop) == 0);
    return false;
}

enum err tell_events(struct store *store, const char *claim, const char *shop, struct text *ret,
                     struct fault *reterr)
{
    struct whole v = {.shop = shop};
    struct events events = {.ret = ret};
    struct jsonw w;
    const struct store_filter one = {.claim = claim, .n_max = 1};
    enum err err = store_list(store, &one, see_shop, &v, reterr);
    if (err == ERR_OK && !v.is_found)
        err = fault_set(reterr, ERR_UNKNOWN, "there is no claim %.20s", claim);
    if (err != ERR_OK)
        return err;
    jsonw_start(&w, ret);
    jsonw_object(&w, NULL);
    jsonw_string(&w, "claim", claim);
    text_puts(ret, ",\"events\":[");
    err = store_events(store, claim, see_event, &events, reterr);
    text_puts(ret, "]}\n");
    return err == ERR_OK && ret->is_broken ? fault_no_memory(reterr) : err;
}

/* ---- what is there now --------------------------------------------------------------------------------------- */

struct present {
    struct jsonw *w;
    int64_t last_seq;
    bool is_found;
};

static bool see_present(void *me, const struct store_listed *l)
{
    struct present *v = me;
    char tag[TELL_TAG_ROOM];
    v->is_found = true;
    v->last_seq = l->last_seq;
    tell_tag(l->claim, l->last_seq, tag);
    jsonw_string(v->w, "claim", l->claim);
    jsonw_string(v->w, "etag", tag);
    jsonw_string(v->w, "verdict", l->verdict);
    jsonw_int(v->w, "amount_minor", l->amount_minor);
    jsonw_string(v->w, "currency", l->currency);
    jsonw_int(v->w, "paid_minor", l->paid_minor);
    jsonw_bool(v->w, "is_overruled", l->is_word);
    return false;
}

static bool see_last(void *me, const struct store_ruling *r)
{
    struct present *v = me;
    if (r->seq != v->last_seq)
        return true;
    jsonw_object(v->w, "last");
    put_entry(v->w, r);
    jsonw_object_end(v->w);
    return false;
}

enum err tell_present(struct store *store, const char *claim, struct jsonw *w, struct fault *reterr)
{
    struct present v = {.w = w};
    const struct store_filter one = {.claim = claim, .n_max = 1};
    enum err err = store_hold(store, reterr);
    if (err != ERR_OK)
        return err;
    err = store_list(store, &one, see_present, &v, reterr);
    if (err == ERR_OK && !v.is_found)
        err = fault_set(reterr, ERR_UNKNOWN, "there is no claim %.20s", claim);
    if (err == ERR_OK && v.last_seq > 0)
        err = store_rulings(store, claim, see_last, &v, reterr);
    else if (err == ERR_OK)
        jsonw_null(w, "last");
    store_release(store);
    return err;
}
