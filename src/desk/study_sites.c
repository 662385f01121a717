/* study_sites: owns how the build list, claims, rulings and failure reports of a store are brought together by station. */
#include "desk/study_sites.h"

#include "bulletin/adapt.h"
#include "core/date.h"
#include "desk/tell.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { WATCH_EVERY = 256, DAY_MS = 86400000 };

/* What stands for a claim, while rulings are read; sorted by claim, then by their order in the log. */
struct stand {
    char claim[STORE_CLAIM_SIZE + 1];
    size_t order;
    enum store_ruling_kind kind;
    bool is_refused;
};

struct loading {
    struct study_sites *s;
    const struct study_watch *watch;
    struct fault *f;
    enum err err;
    size_t room, visits_room;
    struct stand *stands;
    size_t n_stands, stands_room;
    const char *wanted; /* bulletin */
    char found[STORE_ID_MAX + 1];
    size_t n_found; /* different bulletins */
    uint64_t done, all;
};

/* The array with room for one more than n; NULL after a fault was set, and the old one is still there. */
static void *grown(struct loading *l, void *array, size_t n, size_t *room, size_t size)
{
    if (n < *room)
        return array;
    const size_t more = *room > 0 ? 2 * *room : 256;
    void *data = realloc(array, more * size);
    if (data == NULL)
        l->err = fault_no_memory(l->f);
    else
        *room = more;
    return data;
}

static int32_t day_of(int64_t ms)
{
    return (int32_t)(ms >= 0 ? ms / DAY_MS : -((-ms + DAY_MS - 1) / DAY_MS));
}

/* ---- papers -------------------------------------------------------------------------------- */

static bool see_bulletin(void *me, const struct store_paper *paper)
{
    struct loading *l = me;
    if (strcmp(l->found, paper->name) != 0)
        l->n_found++;
    (void)snprintf(l->found, sizeof l->found, "%s", paper->name);
    return true;
}

static enum err load_bulletin(struct loading *l, struct store *store)
{
    struct text file = {0};
    struct fault_list faults = {0};
    char sum[DIGEST_HEX_ROOM];
    enum err e = store_papers(store, "bulletin", l->wanted, false, see_bulletin, l, l->f);
    if (e != ERR_OK)
        return e;
    if (l->n_found == 0 && l->wanted != NULL)
        return fault_set(l->f, ERR_UNKNOWN, "no bulletin '%.60s' is kept in this store", l->wanted);
    if (l->n_found == 0)
        return fault_set(l->f, ERR_EMPTY,
                         "no bulletin is kept in this store; keep one: store keep bulletin FILE");
    if (l->n_found > 1)
        return fault_set(l->f, ERR_AMBIGUOUS,
                         "%zu bulletins are kept in this store; say which: --bulletin ID",
                         l->n_found);
    e = tell_bulletin(store, l->found, 0, true, &file, sum, l->f);
    if (e == ERR_OK) {
        l->s->bulletin = bulletin_load(file.data, file.size, l->found, &faults);
        if (l->s->bulletin == NULL && faults.is_out_of_memory)
            e = fault_no_memory(l->f);
        else if (l->s->bulletin == NULL)
            e = fault_set(l->f, ERR_DOMAIN, "the bulletin '%.60s' that is kept cannot be read",
                          l->found);
    }
    fault_list_done(&faults);
    text_done(&file);
    return e;
}

static bool see_failures(void *me, const struct store_paper *paper)
{
    struct loading *l = me;
    l->err = failures_read(paper->text, paper->n, paper->name, &l->s->failures, l->f);
    l->s->has_failures = l->err == ERR_OK;
    return false;
}

/* ---- the build list ------------------------------------------------------------------------ */

static int station_index(const struct bulletin *b, const char *id)
{
    for (size_t i = 0; i < b->scope.stations.n; i++)
        if (strcmp(b->scope.stations.at[i].id, id) == 0)
            return (int)i;
    return -1;
}

/* The sites first..n-1 are one unit's; its labels in sights. */
struct one_unit {
    struct loading *l;
    struct adapt_scope *rule;
    struct scope_sight sights[SCOPE_STATIONS_MAX];
    struct scope_answer answer;
    size_t first;
};

static void judge_site(const struct one_unit *u, struct study_site *site)
{
    const struct bulletin *b = u->l->s->bulletin;
    const struct scope_finding *found = &u->answer.stations[site->station];
    const bool is_swept = b->scope.mixed == BULLETIN_MIXED_WHOLE_UNIT &&
                          (u->answer.unit == SCOPE_IN || u->answer.unit == SCOPE_MIXED);
    site->variant = (int16_t)found->variant;
    site->is_in = is_swept || found->verdict == SCOPE_IN;
    site->is_unknown = !site->is_in && found->verdict == SCOPE_UNKNOWN;
    site->is_read = u->sights[site->station].state == SCOPE_LABEL_READ;
    if (site->is_read) {
        site->first = u->sights[site->station].label.first_day;
        site->last = u->sights[site->station].label.last_day;
    }
}

static bool end_unit(struct one_unit *u)
{
    struct study_sites *s = u->l->s;
    size_t at = 0;
    if (u->first == s->n)
        return true;
    const char *vin = s->at[u->first].vin;
    const enum err e = scope_judge(&u->rule->rule, vin, strlen(vin), u->sights, &u->answer, &at);
    if (e != ERR_OK) {
        u->l->err = fault_set(u->l->f, e, "unit %s of the build list: %s", vin, err_text(e));
        return false;
    }
    for (size_t i = u->first; i < s->n; i++)
        judge_site(u, &s->at[i]);
    s->n_units++;
    u->first = s->n;
    memset(u->sights, 0, sizeof u->sights);
    return true;
}

static bool see_build(void *me, const struct store_build *build)
{
    struct one_unit *u = me;
    struct study_sites *s = u->l->s;
    const int station = station_index(s->bulletin, build->station);
    s->n_builds++;
    if (s->n > u->first && strcmp(s->at[s->n - 1].vin, build->vin) != 0 && !end_unit(u))
        return false;
    if (station < 0 || strlen(build->vin) > VIN_SIZE) {
        s->n_other_station++;
        return true;
    }
    if (s->n_builds % WATCH_EVERY == 0 &&
        !study_go_on(u->l->watch, "reading the build list", s->n_builds, u->l->all)) {
        u->l->err = fault_set(u->l->f, ERR_BUSY, "stopped while the build list was read");
        return false;
    }
    struct study_site *sites = grown(u->l, s->at, s->n, &u->l->room, sizeof *s->at);
    if (sites == NULL)
        return false;
    s->at = sites;
    struct study_site *site = &s->at[s->n++];
    *site = (struct study_site){.station = (uint8_t)station,
                                .variant = -1,
                                .repaired = SITES_NO_DAY,
                                .claimed = SITES_NO_DAY};
    (void)snprintf(site->vin, sizeof site->vin, "%s", build->vin);
    struct fault unread = {0}; /* a label that cannot be read is a state, not a fault */
    if (build->label == NULL ||
        adapt_scope_label(s->bulletin, build->label, &u->sights[station], &unread) != ERR_OK)
        u->sights[station] = (struct scope_sight){.state = SCOPE_LABEL_UNREAD};
    return true;
}

static enum err load_builds(struct loading *l, struct store *store)
{
    struct one_unit *u = calloc(1, sizeof *u);
    struct adapt_scope *rule = calloc(1, sizeof *rule);
    enum err e = u != NULL && rule != NULL ? adapt_scope_rule(l->s->bulletin, rule, l->f)
                                           : fault_no_memory(l->f);
    if (e == ERR_OK) {
        u->l = l;
        u->rule = rule;
        e = store_builds(store, NULL, see_build, u, l->f);
    }
    if (e == ERR_OK && l->err == ERR_OK)
        (void)end_unit(u);
    free(u);
    free(rule);
    return e == ERR_OK ? l->err : e;
}

/* The order of sites is that of the store's VINs and stations' ids. */
static int compare_site(const struct study_sites *s, const struct study_site *site, const char *vin,
                        const char *station)
{
    const int c = strcmp(site->vin, vin);
    return c != 0 ? c : strcmp(s->bulletin->scope.stations.at[site->station].id, station);
}

struct study_site *study_site_of(const struct study_sites *s, const char *vin, const char *station)
{
    size_t low = 0, high = s->n;
    while (low < high) {
        const size_t mid = low + (high - low) / 2;
        const int c = compare_site(s, &s->at[mid], vin, station);
        if (c == 0)
            return &s->at[mid];
        if (c < 0)
            low = mid + 1;
        else
            high = mid;
    }
    return NULL;
}

/* ---- failures ------------------------------------------------------------------------------ */

static void place_failures(struct study_sites *s)
{
    const struct failures *list = &s->failures;
    for (size_t i = 0; i < list->n; i++) {
        struct study_site *site = study_site_of(s, list->at[i].vin, list->at[i].station);
        const int32_t heard =
            list->at[i].reported > list->at[i].failed ? list->at[i].reported : list->at[i].failed;
        s->heard = heard > s->heard ? heard : s->heard;
        s->n_strangers += site == NULL;
        if (site != NULL && site->n_failed++ == 0)
            site->failed = &list->at[i];
    }
}

/* ---- rulings and claims -------------------------------------------------------------------- */

static bool see_ruling(void *me, const struct store_ruling *ruling)
{
    struct loading *l = me;
    struct stand *stands = grown(l, l->stands, l->n_stands, &l->stands_room, sizeof *l->stands);
    if (stands == NULL)
        return false;
    l->stands = stands;
    struct stand *stand = &l->stands[l->n_stands];
    *stand = (struct stand){.order = l->n_stands,
                            .kind = ruling->kind,
                            .is_refused = strcmp(ruling->verdict, "refuse") == 0};
    (void)snprintf(stand->claim, sizeof stand->claim, "%s", ruling->claim);
    l->n_stands++;
    return true;
}

static int by_claim(const void *a, const void *b)
{
    const struct stand *x = a, *y = b;
    const int c = strcmp(x->claim, y->claim);
    return c != 0 ? c : (x->order > y->order) - (x->order < y->order);
}

/* The first of the rulings of a claim; their number in *ret_n. */
static const struct stand *find_stand(const struct loading *l, const char *claim, size_t *ret_n)
{
    size_t low = 0, high = l->n_stands, end = 0;
    while (low < high) {
        const size_t mid = low + (high - low) / 2;
        if (strcmp(l->stands[mid].claim, claim) < 0)
            low = mid + 1;
        else
            high = mid;
    }
    for (end = low; end < l->n_stands && strcmp(l->stands[end].claim, claim) == 0; end++)
        ;
    *ret_n = end - low;
    return *ret_n > 0 ? &l->stands[low] : NULL;
}

static void judge_visit(const struct loading *l, struct study_visit *v)
{
    size_t n = 0;
    bool is_word = false;
    const struct stand *stand = find_stand(l, v->claim, &n);
    for (size_t i = 0; i < n; i++) {
        if (!store_takes_over(stand[i].kind, is_word))
            continue;
        is_word = stand[i].kind == STORE_OVERRULED;
        v->is_ruled = true;
        v->is_refused = stand[i].is_refused;
    }
}

static void place_station(struct study_sites *s, const struct study_visit *v, const char *station,
                          bool is_done)
{
    struct study_site *site = study_site_of(s, v->vin, station);
    if (site == NULL)
        return;
    if (site->claimed == SITES_NO_DAY || v->taken < site->claimed)
        site->claimed = v->taken;
    if (!is_done || v->is_refused || v->finished_ms == STORE_UNKNOWN)
        return;
    const int32_t day = day_of(v->finished_ms);
    if (site->repaired == SITES_NO_DAY || day < site->repaired)
        site->repaired = day;
}

static char *keep(struct study_sites *s, const char *text)
{
    return arena_text(&s->arena, text != NULL ? text : "", text != NULL ? strlen(text) : 0);
}

static bool see_claim(void *me, const char *id, const struct store_claim *claim)
{
    struct loading *l = me;
    struct study_sites *s = l->s;
    if (++l->done % WATCH_EVERY == 0 && !study_go_on(l->watch, "reading claims", l->done, l->all)) {
        l->err = fault_set(l->f, ERR_BUSY, "stopped while claims were read");
        return false;
    }
    if (strcmp(claim->bulletin, s->bulletin->head.id) != 0)
        return true;
    struct study_visit *visits =
        grown(l, s->visits, s->n_visits, &l->visits_room, sizeof *s->visits);
    if (visits == NULL)
        return false;
    s->visits = visits;
    struct study_visit *v = &s->visits[s->n_visits];
    *v = (struct study_visit){.seq = (int64_t)s->n_visits,
                              .claim = keep(s, id),
                              .vin = keep(s, claim->vin),
                              .shop = keep(s, claim->shop),
                              .technician = keep(s, claim->technician),
                              .taken = day_of(claim->taken_ms),
                              .finished_ms = claim->finished_ms,
                              .labour_s = claim->labour_s};
    if (s->arena.is_broken) {
        l->err = fault_no_memory(l->f);
        return false;
    }
    s->n_visits++;
    s->heard = v->taken > s->heard ? v->taken : s->heard;
    judge_visit(l, v);
    for (size_t i = 0; i < claim->n_stations; i++) {
        const bool is_done = claim->stations[i].kit != NULL && claim->stations[i].kit[0] != '\0';
        v->n_done += is_done;
        place_station(s, v, claim->stations[i].station, is_done);
    }
    return true;
}

/* ---- all of it ----------------------------------------------------------------------------- */

static enum err load(struct loading *l, struct store *store)
{
    struct store_counts counts = {0};
    enum err e = load_bulletin(l, store);
    if (e == ERR_OK)
        e = store_count(store, &counts, l->f);
    if (e != ERR_OK)
        return e;
    l->s->heard = l->s->bulletin->head.issued;
    l->all = (uint64_t)counts.builds;
    e = store_papers(store, "failures", "failures", true, see_failures, l, l->f);
    if (e == ERR_OK && l->err == ERR_OK)
        e = load_builds(l, store);
    if (e == ERR_OK && l->err == ERR_OK) {
        place_failures(l->s);
        e = store_rulings(store, NULL, see_ruling, l, l->f);
    }
    if (e == ERR_OK && l->err == ERR_OK) {
        if (l->n_stands > 0)
            qsort(l->stands, l->n_stands, sizeof *l->stands, by_claim);
        l->all = (uint64_t)counts.claims;
        e = store_claims(store, NULL, see_claim, l, l->f);
    }
    return e == ERR_OK ? l->err : e;
}

enum err study_sites_read(struct store *store, const char *bulletin,
                          const struct study_watch *watch, struct study_sites *ret,
                          struct fault *reterr)
{
    *ret = (struct study_sites){0};
    struct loading l = {.s = ret, .watch = watch, .f = reterr, .wanted = bulletin};
    enum err e = store_hold(store, reterr);
    if (e != ERR_OK)
        return e;
    e = load(&l, store);
    store_release(store);
    free(l.stands);
    return e;
}

void study_sites_done(struct study_sites *s)
{
    bulletin_free(s->bulletin);
    failures_done(&s->failures);
    free(s->at);
    free(s->visits);
    arena_done(&s->arena);
    *s = (struct study_sites){0};
}
