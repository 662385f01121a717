/* units: owns the search for units and what is told of each. */
#include "desk/units.h"

#include "bulletin/adapt.h"
#include "desk/tell.h"
#include "store/units.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { NEXT_ROOM = 2 * STORE_ID_MAX + 8 };

/* ---- the bulletin by which scope is judged -------------------------------------------------- */

struct units_by {
    struct bulletin *bulletin; /* NULL: none is kept, or one that this program cannot read */
    struct adapt_scope *scope;
    int64_t revision, seq; /* the paper's place in the log; 0: none */
    char id[STORE_ID_MAX + 1];
};

static void forget(struct units_by *by)
{
    bulletin_free(by->bulletin);
    free(by->scope);
    *by = (struct units_by){.revision = STORE_UNKNOWN};
}

struct units_by *units_by_new(void)
{
    struct units_by *by = calloc(1, sizeof *by);
    if (by != NULL)
        by->revision = STORE_UNKNOWN;
    return by;
}

void units_by_free(struct units_by *by)
{
    if (by == NULL)
        return;
    forget(by);
    free(by);
}

struct newest {
    int64_t revision, seq;
    char id[STORE_ID_MAX + 1];
};

static bool see_newest(void *me, const struct store_paper *p)
{
    struct newest *n = me;
    if (p->seq <= n->seq)
        return true;
    n->seq = p->seq;
    n->revision = p->revision;
    snprintf(n->id, sizeof n->id, "%s", p->name);
    return true;
}

static bool see_text(void *me, const struct store_paper *p)
{
    struct units_by *by = me;
    struct fault_list ignored = {0};
    if (p->seq != by->seq)
        return true;
    by->bulletin = bulletin_load(p->text, p->n, p->name, &ignored);
    fault_list_done(&ignored);
    return false;
}

static enum err read_bulletin(struct store *store, const struct newest *newest, struct units_by *by,
                              struct fault *f)
{
    by->seq = newest->seq;
    by->revision = newest->revision;
    snprintf(by->id, sizeof by->id, "%s", newest->id);
    const enum err err = store_papers(store, "bulletin", by->id, true, see_text, by, f);
    if (err != ERR_OK || by->bulletin == NULL)
        return err; /* one that this program cannot read judges nothing */
    by->scope = calloc(1, sizeof *by->scope);
    if (by->scope == NULL)
        return fault_no_memory(f);
    return adapt_scope_rule(by->bulletin, by->scope, f);
}

/* A paper never changes at its place in the log: the one that was read last is read again only when another holds. */
static enum err find_bulletin(struct store *store, const char *id, struct units_by *by,
                              struct fault *f)
{
    struct newest newest = {.revision = STORE_UNKNOWN};
    enum err err = store_papers(store, "bulletin", id, false, see_newest, &newest, f);
    if (err == ERR_OK && newest.seq == 0 && id != NULL)
        err = fault_set(f, ERR_UNKNOWN, "no bulletin \"%.80s\" is kept", id);
    if (err != ERR_OK || (newest.seq != 0 && newest.seq == by->seq))
        return err;
    forget(by);
    if (newest.seq != 0)
        err = read_bulletin(store, &newest, by, f);
    if (err != ERR_OK)
        forget(by);
    return err;
}

/* ---- which units ---------------------------------------------------------------------------- */

struct found {
    struct store *store;
    const struct units_order *order;
    char (*vins)[STORE_ID_MAX + 1]; /* [n_max] */
    int n, n_looked;
    bool has_more;
    char next[NEXT_ROOM];
    enum err err;
    struct fault *fault;
};

struct label_look {
    const char *label;
    bool is_found;
};

static bool see_label(void *me, const struct store_build *s)
{
    struct label_look *l = me;
    l->is_found = s->label != NULL && strncmp(s->label, l->label, strlen(l->label)) == 0;
    return !l->is_found;
}

static bool ends_in(const char *vin, const char *tail)
{
    const size_t n = strlen(vin), k = strlen(tail);
    return n >= k && strcmp(vin + n - k, tail) == 0;
}

/* Whether what was found by one of the three fits the other two. */
static bool fits(struct found *f, const char *vin)
{
    const struct units_order *o = f->order;
    struct label_look l = {o->label, o->label == NULL};
    bool is_of = true;
    if (o->tail != NULL && !ends_in(vin, o->tail))
        return false;
    if (o->shop != NULL)
        f->err = store_unit_is_of(f->store, vin, o->shop, &is_of, f->fault);
    if (f->err == ERR_OK && is_of && !l.is_found)
        f->err = store_builds(f->store, vin, see_label, &l, f->fault);
    return f->err == ERR_OK && is_of && l.is_found;
}

static bool is_listed(const struct found *f, const char *vin)
{
    int i = 0;
    while (i < f->n && strcmp(f->vins[i], vin) != 0)
        i++;
    return i < f->n;
}

static void go_on_behind(struct found *f, const struct unit_place *p)
{
    if (p->claim != NULL)
        snprintf(f->next, sizeof f->next, "%s", p->claim);
    else if (p->station != NULL)
        snprintf(f->next, sizeof f->next, "%s/%s", p->vin, p->station);
    else
        snprintf(f->next, sizeof f->next, "%s", p->vin);
}

static bool see_unit(void *me, const struct unit_place *p)
{
    struct found *f = me;
    const bool is_again = is_listed(f, p->vin);
    if (f->n_looked == UNITS_LOOK_MAX || (f->n == f->order->n_max && !is_again)) {
        f->has_more = true;
        return false;
    }
    f->n_looked++;
    go_on_behind(f, p);
    if (!is_again && fits(f, p->vin))
        snprintf(f->vins[f->n++], sizeof f->vins[0], "%s", p->vin);
    return f->err == ERR_OK;
}

static enum err find_by_label(struct found *f, const char *after, struct fault *fault)
{
    char vin[STORE_ID_MAX + 1] = "";
    const char *slash = after != NULL ? strchr(after, '/') : NULL;
    if (after == NULL)
        return store_units_by_label(f->store, f->order->label, NULL, NULL, see_unit, f, fault);
    if (slash == NULL || (size_t)(slash - after) >= sizeof vin)
        return fault_set(fault, ERR_UNKNOWN, "there is no such unit to go on behind");
    memcpy(vin, after, (size_t)(slash - after));
    return store_units_by_label(f->store, f->order->label, vin, slash + 1, see_unit, f, fault);
}

static enum err find(struct found *f, struct fault *fault)
{
    const struct units_order *o = f->order;
    enum err err;
    if (o->shop != NULL && (o->is_shop_alone || o->tail == NULL))
        err = store_units_by_shop(f->store, o->shop, o->after, see_unit, f, fault);
    else if (o->tail != NULL)
        err = store_units_by_tail(f->store, o->tail, o->after, see_unit, f, fault);
    else if (o->label != NULL)
        err = find_by_label(f, o->after, fault);
    else
        err = fault_set(fault, ERR_EMPTY,
                        "nothing is asked for; expected a VIN's end, a label or a shop");
    return err == ERR_OK ? f->err : err;
}

/* ---- what is told of one -------------------------------------------------------------------- */

enum { LABEL_ROOM = 128 };
struct seen {
    char station[64], label[LABEL_ROOM];
    bool has_label;
};
struct one {
    const struct units_by *by;
    struct seen listed[SCOPE_STATIONS_MAX];
    int n; /* further ones are not told */
};

static bool see_listed(void *me, const struct store_build *s)
{
    struct one *u = me;
    struct seen *to = &u->listed[u->n++];
    snprintf(to->station, sizeof to->station, "%s", s->station);
    snprintf(to->label, sizeof to->label, "%s", s->label != NULL ? s->label : "");
    to->has_label = s->label != NULL;
    return u->n < SCOPE_STATIONS_MAX;
}

static const struct seen *listed(const struct one *u, const char *station)
{
    for (int i = 0; i < u->n; i++)
        if (strcmp(u->listed[i].station, station) == 0)
            return &u->listed[i];
    return NULL;
}

static void put_station(struct jsonw *w, const char *station, const struct seen *s,
                        const char *scope, const char *reason)
{
    jsonw_object(w, NULL);
    jsonw_string(w, "station", station);
    jsonw_string(w, "label", s != NULL && s->has_label ? s->label : NULL);
    jsonw_bool(w, "listed", s != NULL);
    jsonw_string(w, "scope", scope);
    jsonw_string(w, "reason", reason);
    jsonw_object_end(w);
}

/* The bulletin's stations as it judges them, then those of the list that it does not know. */
static void put_judged(const struct one *u, const char *vin, struct jsonw *w)
{
    const struct bulletin *b = u->by->bulletin;
    const struct scope_rule *rule = &u->by->scope->rule;
    struct scope_sight sights[SCOPE_STATIONS_MAX] = {{.state = SCOPE_LABEL_UNREAD}};
    struct scope_answer answer;
    size_t at = 0;
    const size_t n = b->scope.stations.n;
    for (size_t i = 0; i < n; i++) {
        const struct seen *s = listed(u, b->scope.stations.at[i].id);
        struct fault unread = {0};
        sights[i] = (struct scope_sight){.state = SCOPE_LABEL_UNREAD};
        if (s != NULL && s->has_label &&
            adapt_scope_label(b, s->label, &sights[i], &unread) != ERR_OK)
            sights[i] = (struct scope_sight){.state = SCOPE_LABEL_UNREAD};
    }
    const bool is_judged = scope_judge(rule, vin, strlen(vin), sights, &answer, &at) == ERR_OK;
    jsonw_string(w, "unit", is_judged ? scope_verdict_name(answer.unit) : NULL);
    jsonw_array(w, "stations");
    for (size_t i = 0; i < n; i++) {
        char reason[SCOPE_TEXT_MAX] = "";
        if (is_judged)
            scope_reason_text(rule, &sights[i], &answer, &answer.stations[i], reason,
                              sizeof reason);
        put_station(w, b->scope.stations.at[i].id, listed(u, b->scope.stations.at[i].id),
                    is_judged ? scope_verdict_name(answer.stations[i].verdict) : NULL,
                    is_judged ? reason : NULL);
    }
    for (int i = 0; i < u->n; i++)
        if (bulletin_station_find(b, u->listed[i].station) == NULL)
            put_station(w, u->listed[i].station, &u->listed[i], NULL,
                        "the bulletin has no such station");
    jsonw_array_end(w);
}

static const char *check_of(const char *vin)
{
    struct vin_verdict v;
    vin_check(vin, strlen(vin), &v);
    return v.fault == VIN_FAULT_NONE                                       ? "good"
           : v.fault == VIN_FAULT_LENGTH || v.fault == VIN_FAULT_CHARACTER ? "none"
                                                                           : "wrong";
}

static enum err put_unit(struct store *store, const struct units_by *by,
                         const struct units_order *o, const char *vin, struct jsonw *w,
                         struct fault *f)
{
    struct one *u = calloc(1, sizeof *u);
    const struct tell_order claims = {
        .shop = o->is_shop_alone ? o->shop : NULL, .vin = vin, .n_max = UNITS_CLAIMS_MAX};
    if (u == NULL)
        return fault_no_memory(f);
    u->by = by;
    enum err err = store_builds(store, vin, see_listed, u, f);
    jsonw_object(w, NULL);
    jsonw_string(w, "vin", vin);
    jsonw_string(w, "check", check_of(vin));
    if (by->scope != NULL) {
        put_judged(u, vin, w);
    } else {
        jsonw_null(w, "unit");
        jsonw_array(w, "stations");
        for (int i = 0; i < u->n; i++)
            put_station(w, u->listed[i].station, &u->listed[i], NULL, NULL);
        jsonw_array_end(w);
    }
    if (err == ERR_OK)
        err = tell_claims(store, &claims, w, f);
    jsonw_object_end(w);
    free(u);
    return err;
}

enum err units_find(struct store *store, struct units_by *by, const struct units_order *order,
                    struct jsonw *w, struct fault *reterr)
{
    struct found f = {.store = store, .order = order, .fault = reterr};
    f.vins = calloc((size_t)order->n_max, sizeof *f.vins);
    if (f.vins == NULL)
        return fault_no_memory(reterr);
    enum err err = store_hold(store, reterr);
    const bool is_held = err == ERR_OK;
    if (err == ERR_OK)
        err = find_bulletin(store, order->bulletin, by, reterr);
    if (err == ERR_OK)
        err = find(&f, reterr);
    jsonw_string(w, "bulletin", by->scope != NULL ? by->id : NULL);
    if (by->scope != NULL)
        jsonw_int(w, "revision", by->revision);
    else
        jsonw_null(w, "revision");
    jsonw_array(w, "units");
    for (int i = 0; i < f.n && err == ERR_OK; i++)
        err = put_unit(store, by, order, f.vins[i], w, reterr);
    jsonw_array_end(w);
    jsonw_bool(w, "more", f.has_more);
    jsonw_string(w, "next", f.has_more ? f.next : NULL);
    if (is_held)
        store_release(store);
    free(f.vins);
    return err;
}
