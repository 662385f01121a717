/* ruling_item: owns a claim's way from the store to a ruling in memory: a copy that outlives the store's call, the replay of its
 * events, and the ruling as the store keeps it. */
#include "desk/ruling_inner.h"

#include "base/fnv.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- copies ------------------------------------------------------------------------------------ */

struct copier {
    struct event_pool *pool;
    bool is_broken;
};

static const char *copy(struct copier *c, const char *s)
{
    const char *to = s != NULL ? event_pool_text(c->pool, s, strlen(s)) : NULL;
    c->is_broken |= s != NULL && to == NULL;
    return to;
}

/* n items of a size, as they are; NULL for none. */
static void *copy_items(struct copier *c, const void *items, size_t n, size_t size)
{
    void *to = n > 0 ? event_pool_get(c->pool, n * size) : NULL;
    c->is_broken |= n > 0 && to == NULL;
    if (to != NULL)
        memcpy(to, items, n * size);
    return to;
}

static const struct store_station *copy_stations(struct copier *c, const struct store_claim *from)
{
    struct store_station *to = copy_items(c, from->stations, from->n_stations, sizeof *to);
    for (size_t i = 0; to != NULL && i < from->n_stations; i++) {
        const struct store_station *s = &from->stations[i];
        to[i] = (struct store_station){
            copy(c, s->station),    copy(c, s->variant), copy(c, s->label), copy(c, s->built_first),
            copy(c, s->built_last), copy(c, s->scope),   copy(c, s->kit)};
    }
    return to;
}

static const struct store_reading *copy_readings(struct copier *c, const struct store_claim *from)
{
    struct store_reading *to = copy_items(c, from->readings, from->n_readings, sizeof *to);
    for (size_t i = 0; to != NULL && i < from->n_readings; i++) {
        to[i].station = copy(c, to[i].station);
        to[i].point = copy(c, to[i].point);
        to[i].phase = copy(c, to[i].phase);
        to[i].unit = copy(c, to[i].unit);
        to[i].ulid = copy(c, to[i].ulid);
    }
    return to;
}

static struct store_photo *copy_photos(struct copier *c, const struct store_claim *from)
{
    struct store_photo *to = copy_items(c, from->photos, from->n_photos, sizeof *to);
    for (size_t i = 0; to != NULL && i < from->n_photos; i++) {
        to[i].name = copy(c, to[i].name);
        to[i].station = copy(c, to[i].station);
        to[i].point = copy(c, to[i].point);
        to[i].ulid = copy(c, to[i].ulid);
        to[i].ext = copy(c, to[i].ext);
        to[i].codes = copy(c, to[i].codes);
        to[i].fault = copy(c, to[i].fault);
    }
    return to;
}

static const struct store_finding *copy_findings(struct copier *c, const struct store_finding *from,
                                                 size_t n)
{
    struct store_finding *to = copy_items(c, from, n, sizeof *to);
    for (size_t i = 0; to != NULL && i < n; i++)
        to[i] = (struct store_finding){copy(c, from[i].rule),    copy(c, from[i].level),
                                       copy(c, from[i].station), copy(c, from[i].message),
                                       copy(c, from[i].cure),    copy(c, from[i].what),
                                       copy(c, from[i].other),   copy(c, from[i].other_what)};
    return to;
}

static const struct store_claim *copy_claim(struct copier *c, const struct store_claim *from)
{
    struct store_claim *to = copy_items(c, from, 1, sizeof *to);
    if (to == NULL)
        return NULL;
    to->job = copy(c, from->job);
    to->bulletin = copy(c, from->bulletin);
    to->bulletin_sha256 = copy(c, from->bulletin_sha256);
    to->vin = copy(c, from->vin);
    to->shop = copy(c, from->shop);
    to->technician = copy(c, from->technician);
    to->signature = copy(c, from->signature);
    to->signed_by = copy(c, from->signed_by);
    to->stations = copy_stations(c, from);
    to->readings = copy_readings(c, from);
    to->photos = copy_photos(c, from);
    to->findings = copy_findings(c, from->findings, from->n_findings);
    to->events = NULL;
    return to;
}

static const struct store_ruling *copy_ruling(struct copier *c, const struct store_ruling *from)
{
    struct store_ruling *to = copy_items(c, from, 1, sizeof *to);
    struct store_award *awards = copy_items(c, from->awards, from->n_awards, sizeof *awards);
    if (to == NULL)
        return NULL;
    for (size_t i = 0; awards != NULL && i < from->n_awards; i++) {
        awards[i].station = copy(c, awards[i].station);
        awards[i].verdict = copy(c, awards[i].verdict);
        awards[i].what = copy(c, awards[i].what);
    }
    to->claim = NULL;
    to->verdict = copy(c, from->verdict);
    to->currency = copy(c, from->currency);
    to->person = copy(c, from->person);
    to->reason = copy(c, from->reason);
    to->awards = awards;
    to->findings = copy_findings(c, from->findings, from->n_findings);
    return to;
}

/* ---- what stands ------------------------------------------------------------------------------- */

struct standing_reader {
    struct copier copier;
    struct ruling_standing *ret;
};

static bool see_ruling(void *me, const struct store_ruling *r)
{
    struct standing_reader *s = me;
    struct ruling_standing *to = s->ret;
    to->last_seq = r->seq;
    if (r->kind == STORE_PAID) {
        to->paid_minor += r->amount_minor;
        return true;
    }
    const struct store_ruling *kept = copy_ruling(&s->copier, r);
    if (r->kind == STORE_RULED)
        to->by_rule = kept;
    if (store_takes_over(r->kind, to->stands != NULL && store_is_word(to->stands->kind)))
        to->stands = kept;
    return !s->copier.is_broken;
}

enum err ruling_standing(struct store *store, const char *claim, struct event_pool *pool,
                         struct ruling_standing *ret, struct fault *reterr)
{
    struct standing_reader s = {.copier = {.pool = pool}, .ret = ret};
    *ret = (struct ruling_standing){0};
    const enum err err = store_rulings(store, claim, see_ruling, &s, reterr);
    return err == ERR_OK && s.copier.is_broken ? fault_no_memory(reterr) : err;
}

/* ---- reading ----------------------------------------------------------------------------------- */

struct item_reader {
    struct ruling_item *item;
    struct copier copier;
};

static bool see_claim(void *me, const char *id, const struct store_claim *claim)
{
    struct item_reader *r = me;
    (void)id;
    r->item->claim = copy_claim(&r->copier, claim);
    return false;
}

static bool see_event(void *me, const struct store_event *e)
{
    struct text *to = me;
    text_add(to, e->json, e->n);
    text_add(to, "", 1);
    return !to->is_broken;
}

enum err ruling_item_read(struct store *store, const char *id, struct ruling_item *ret,
                          struct fault *reterr)
{
    struct item_reader r = {.item = ret};
    ruling_item_clear(ret);
    ret->pool = event_pool_new();
    r.copier.pool = ret->pool;
    snprintf(ret->id, sizeof ret->id, "%s", id);
    if (ret->pool == NULL)
        return fault_no_memory(reterr);
    enum err err = store_claims(store, id, see_claim, &r, reterr);
    if (err == ERR_OK && ret->claim == NULL)
        return r.copier.is_broken
                   ? fault_no_memory(reterr)
                   : fault_set(reterr, ERR_UNKNOWN, "there is no claim %.40s in the store", id);
    if (err == ERR_OK)
        err = store_events(store, id, see_event, &ret->events, reterr);
    if (err == ERR_OK && (r.copier.is_broken || ret->events.is_broken))
        return fault_no_memory(reterr);
    if (err == ERR_OK)
        err = ruling_standing(store, id, ret->pool, &ret->standing, reterr);
    if (err == ERR_OK)
        ret->unit = fnv_text(ret->claim->vin);
    return err;
}

void ruling_item_clear(struct ruling_item *item)
{
    struct text events = item->events;
    event_pool_free(item->pool);
    text_clear(&events);
    *item = (struct ruling_item){.events = events};
}

void ruling_item_done(struct ruling_item *item)
{
    event_pool_free(item->pool);
    text_done(&item->events);
    *item = (struct ruling_item){0};
}

/* ---- ruling ------------------------------------------------------------------------------------ */

/* Only the parts that are filled, with texts of their own: what the ruling borrowed goes away before it is told. */
static struct ruling_small fold(struct copier *c, const struct rule_ruling *from)
{
    struct ruling_small to = {.verdict = from->verdict,
                              .amount_minor = from->amount_minor,
                              .if_cured_minor = from->if_cured_minor,
                              .n_awards = from->n_awards,
                              .n_lines = from->n_lines,
                              .n_findings = from->n_findings,
                              .n_more_findings = from->n_more_findings};
    to.awards = copy_items(c, from->awards, to.n_awards, sizeof *to.awards);
    to.lines = copy_items(c, from->lines, to.n_lines, sizeof *to.lines);
    to.findings = copy_items(c, from->findings, to.n_findings, sizeof *to.findings);
    for (size_t i = 0; !c->is_broken && i < to.n_awards; i++)
        to.awards[i].station = copy(c, to.awards[i].station);
    for (size_t i = 0; !c->is_broken && i < to.n_lines; i++)
        to.lines[i].station = copy(c, to.lines[i].station);
    for (size_t i = 0; !c->is_broken && i < to.n_findings; i++) {
        struct rule_finding *f = &to.findings[i];
        f->station = copy(c, f->station);
        f->what = copy(c, f->what);
        f->other = copy(c, f->other);
        f->other_what = copy(c, f->other_what);
    }
    return to;
}

void ruling_unfold(const struct ruling_small *small, struct rule_ruling *ret)
{
    ret->verdict = small->verdict;
    ret->amount_minor = small->amount_minor;
    ret->if_cured_minor = small->if_cured_minor;
    ret->n_awards = small->n_awards;
    ret->n_lines = small->n_lines;
    ret->n_findings = small->n_findings;
    ret->n_more_findings = small->n_more_findings;
    if (small->n_awards > 0)
        memcpy(ret->awards, small->awards, small->n_awards * sizeof *small->awards);
    if (small->n_lines > 0)
        memcpy(ret->lines, small->lines, small->n_lines * sizeof *small->lines);
    if (small->n_findings > 0)
        memcpy(ret->findings, small->findings, small->n_findings * sizeof *small->findings);
}

/* A station's verdict as the store names it; once a unit goes with the whole claim's. */
static const char *award_verdict(const struct ruling_small *r, const char *station)
{
    for (size_t i = 0; i < r->n_awards && station != NULL; i++)
        if (strcmp(r->awards[i].station, station) == 0)
            return rule_verdict_name(r->awards[i].verdict);
    return rule_verdict_name(r->verdict);
}

static bool has_lines(const struct ruling_small *r, const char *station)
{
    for (size_t i = 0; i < r->n_lines; i++)
        if (r->lines[i].station != NULL && strcmp(r->lines[i].station, station) == 0)
            return true;
    return false;
}

/* What an amount was worked out from, behind what is told of it already; what does not fit is left out whole. */
static const char *add_what(struct copier *c, const char *told, const struct rule_line *line)
{
    char all[STORE_TEXT_MAX + 1];
    const int n =
        snprintf(all, sizeof all, "%s%s%s%s", told != NULL ? told : "", told != NULL ? "; " : "",
                 line->what, line->paid_minor < line->due_minor ? ", capped" : "");
    return n >= 0 && (size_t)n < sizeof all ? copy(c, all) : told;
}

/* Adds to the award of that name. line NULL: nothing is told of the amount. */
static void add_award(struct copier *c, struct store_award *awards, size_t *n, const char *station,
                      enum bulletin_pays kind, const char *verdict, const struct rule_line *line)
{
    char name[KNOWN_AWARD_ROOM];
    size_t i = 0;
    known_award_name(station, kind, name);
    while (i < *n && strcmp(awards[i].station, name) != 0)
        i++;
    if (i == STORE_STATIONS_MAX)
        i--; /* more kinds and stations than there is room for: the sum stays right */
    if (i == *n) {
        awards[i] = (struct store_award){copy(c, name), verdict, 0, NULL};
        if (c->is_broken)
            return;
        ++*n;
    }
    if (line == NULL)
        return;
    awards[i].amount_minor += line->paid_minor;
    if (line->what[0] != '\0')
        awards[i].what = add_what(c, awards[i].what, line);
}

static void put_awards(struct copier *c, const struct ruling_small *r, struct store_ruling *ret)
{
    struct store_award *awards = event_pool_get(c->pool, STORE_STATIONS_MAX * sizeof *awards);
    size_t n = 0;
    c->is_broken |= awards == NULL;
    for (size_t i = 0; i < r->n_awards && !c->is_broken; i++)
        if (!has_lines(r, r->awards[i].station))
            add_award(c, awards, &n, r->awards[i].station, BULLETIN_PAYS_N,
                      rule_verdict_name(r->awards[i].verdict), NULL);
    for (size_t i = 0; i < r->n_lines && !c->is_broken; i++)
        add_award(c, awards, &n, r->lines[i].station, r->lines[i].kind,
                  award_verdict(r, r->lines[i].station), &r->lines[i]);
    ret->awards = awards;
    ret->n_awards = n;
}

static void put_findings(struct copier *c, const struct ruling_small *r, struct store_ruling *ret)
{
    struct store_finding *to = event_pool_get(c->pool, (r->n_findings + 1) * sizeof *to);
    c->is_broken |= to == NULL;
    for (size_t i = 0; i < r->n_findings && to != NULL; i++) {
        const struct rule_finding *f = &r->findings[i];
        to[i] = (struct store_finding){rule_rows[f->rule].name,
                                       rule_level_name(f->level),
                                       f->station,
                                       f->message,
                                       f->cure,
                                       f->what,
                                       f->other,
                                       f->other_what};
    }
    ret->findings = to;
    ret->n_findings = r->n_findings;
}

static bool same_text(const char *a, const char *b)
{
    return strcmp(a != NULL ? a : "", b != NULL ? b : "") == 0;
}

bool ruling_same(const struct store_ruling *a, const struct store_ruling *b)
{
    if (!same_text(a->verdict, b->verdict) || a->amount_minor != b->amount_minor ||
        !same_text(a->currency, b->currency) || a->n_awards != b->n_awards ||
        a->n_findings != b->n_findings)
        return false;
    for (size_t i = 0; i < a->n_awards; i++)
        if (!same_text(a->awards[i].station, b->awards[i].station) ||
            !same_text(a->awards[i].verdict, b->awards[i].verdict) ||
            a->awards[i].amount_minor != b->awards[i].amount_minor)
            return false;
    for (size_t i = 0; i < a->n_findings; i++) {
        const struct store_finding *x = &a->findings[i], *y = &b->findings[i];
        if (!same_text(x->rule, y->rule) || !same_text(x->level, y->level) ||
            !same_text(x->station, y->station) || !same_text(x->message, y->message) ||
            !same_text(x->cure, y->cure))
            return false;
    }
    return true;
}

static enum err keep_ruling(struct ruling_item *item, const struct rule_ruling *ruling,
                            int64_t now_ms, struct fault *f)
{
    struct copier c = {.pool = item->pool};
    const struct bulletin_head *head = &item->book->bulletin->head;
    item->ruling = fold(&c, ruling);
    if (c.is_broken)
        return fault_no_memory(f);
    item->said = (struct store_ruling){.kind = STORE_RULED,
                                       .claim = item->id,
                                       .verdict = rule_verdict_name(ruling->verdict),
                                       .amount_minor = ruling->amount_minor,
                                       .currency = copy(&c, head->currency),
                                       .revision = head->revision,
                                       .at_ms = now_ms};
    put_awards(&c, &item->ruling, &item->said);
    put_findings(&c, &item->ruling, &item->said);
    if (c.is_broken)
        return fault_no_memory(f);
    item->is_ruled = true;
    item->is_changed =
        item->standing.stands == NULL || (!store_is_word(item->standing.stands->kind) &&
                                          !ruling_same(&item->said, item->standing.stands));
    return ERR_OK;
}

static enum err rule_job(struct ruling_item *item, const struct event_list *events,
                         const struct known *known, struct ruling_hand *hand, int64_t now_ms,
                         struct fault *f)
{
    struct rule_known knows;
    struct job *job = NULL;
    enum err err = job_replay(events->events, events->n, &job);
    if (err != ERR_OK)
        return fault_set(f, err, "%s", err_text(err));
    err = known_of(known, item->claim, item->id, hand->work, &knows, f);
    if (err == ERR_OK) {
        knows.paid_here_minor = item->standing.paid_minor;
        const struct rule_case c = {item->book->book, item->claim, events, job, &knows};
        rule_claim(&c, hand->ruling);
        err = keep_ruling(item, hand->ruling, now_ms, f);
    }
    job_free(job);
    return err;
}

/* The way for what taking in wrote; ERR_SYNTAX when anything is written otherwise. */
static enum err read_fast(const struct ruling_item *item, struct event_list *list)
{
    const char *at = item->events.data, *end = at + item->events.size;
    enum err err = at != end ? ERR_OK : ERR_SYNTAX;
    while (at != end && err == ERR_OK) {
        const size_t n = strlen(at);
        err = events_add_written(list, at, n);
        at += n + 1;
    }
    return err;
}

/* As an events.json with the head that taking in read, for the one reader that knows all. */
static enum err read_slow(const struct ruling_item *item, struct event_list **ret)
{
    const struct store_claim *c = item->claim;
    const char *end = item->events.data + item->events.size;
    struct text all = {0};
    struct fault ignored = {0};
    text_printf(&all,
                "{\"mendwright_events\":%d,\"invented\":%s,\"bulletin\":{\"id\":\"%s\","
                "\"revision\":%lld,\"sha256\":\"%s\"},\"vin\":\"%s\",\"events\":[",
                (int)EVENT_FORMAT, c->is_invented == 1 ? "true" : "false", c->bulletin,
                (long long)c->revision, c->bulletin_sha256 != NULL ? c->bulletin_sha256 : "",
                c->vin);
    for (const char *at = item->events.data; at != end; at += strlen(at) + 1) {
        if (at != item->events.data)
            text_putc(&all, ',');
        text_puts(&all, at);
    }
    text_puts(&all, "]}");
    const enum err err =
        all.is_broken ? ERR_MEMORY : events_read(all.data, all.size, item->id, ret, &ignored);
    text_done(&all);
    return err;
}

static void put_head(const struct store_claim *c, struct event_list *list)
{
    snprintf(list->vin, sizeof list->vin, "%s", c->vin);
    snprintf(list->bulletin_id, sizeof list->bulletin_id, "%s", c->bulletin);
    snprintf(list->bulletin_sha256, sizeof list->bulletin_sha256, "%s",
             c->bulletin_sha256 != NULL ? c->bulletin_sha256 : "");
    list->revision = c->revision;
    list->is_invented = c->is_invented == 1;
}

static enum err read_events(const struct ruling_item *item, struct event_list **ret)
{
    struct event_list *list = events_new();
    enum err err = list != NULL ? read_fast(item, list) : ERR_MEMORY;
    if (err == ERR_SYNTAX) {
        events_free(list);
        list = NULL;
        err = item->events.size > 0 ? read_slow(item, &list) : ERR_EMPTY;
    }
    if (err != ERR_OK) {
        events_free(list);
        return err;
    }
    put_head(item->claim, list);
    *ret = list;
    return ERR_OK;
}

enum err ruling_item_rule(struct ruling_item *item, const struct known *known,
                          struct ruling_hand *hand, int64_t now_ms, struct fault *reterr)
{
    struct event_list *events = NULL;
    if (item->book == NULL)
        return ERR_OK;
    enum err err = read_events(item, &events);
    if (err == ERR_MEMORY)
        return fault_no_memory(reterr);
    if (err != ERR_OK)
        return ERR_OK; /* not ruled */
    err = rule_job(item, events, known, hand, now_ms, reterr);
    events_free(events);
    return err;
}
