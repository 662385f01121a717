/* known: owns the index over what the store knows, but for photos (known_photos.c): how it is filled in one pass, and in which
 * orders it is searched. */
#include "desk/known_inner.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *keep(struct known *k, const char *s)
{
    return s != NULL ? event_pool_text(k->pool, s, strlen(s)) : NULL;
}

/* A shop or a technician: the same text is kept once. */
static const char *keep_name(struct known *k, const char *s)
{
    const size_t before = k->names.n;
    const uint32_t i = s != NULL ? words_put(&k->names, s, strlen(s)) : WORDS_NONE;
    if (i == WORDS_NONE)
        return NULL;
    if (k->names.n == before)
        return k->name_at[i];
    if (i >= k->names_room) {
        const size_t room = 2 * k->names_room + 64;
        const char **more = realloc(k->name_at, room * sizeof *more);
        if (more == NULL)
            return NULL;
        k->name_at = more;
        k->names_room = room;
    }
    return k->name_at[i] = keep(k, s);
}

static int compare_text(const char *a, const char *b)
{
    return strcmp(a != NULL ? a : "", b != NULL ? b : "");
}

bool known_same_job(const struct known_claim *a, const struct known_claim *b)
{
    return a == b || (a->job != NULL && b->job != NULL && strcmp(a->job, b->job) == 0 &&
                      strcmp(a->vin, b->vin) == 0);
}

/* ---- names of awards --------------------------------------------------------------------------- */

void known_award_name(const char *station, enum bulletin_pays kind, char buf[KNOWN_AWARD_ROOM])
{
    const char *base = station != NULL ? station : "*";
    if (kind < BULLETIN_PAYS_N)
        snprintf(buf, KNOWN_AWARD_ROOM, "%.100s/%s", base, rule_pays_name(kind));
    else
        snprintf(buf, KNOWN_AWARD_ROOM, "%.100s", base);
}

enum bulletin_pays known_award_split(const char *name, size_t *ret_n)
{
    const char *slash = strchr(name, '/');
    const size_t n = slash != NULL ? (size_t)(slash - name) : strlen(name);
    *ret_n = n == 1 && name[0] == '*' ? 0 : n;
    for (int i = 0; slash != NULL && i < BULLETIN_PAYS_N; i++)
        if (strcmp(slash + 1, rule_pays_name((enum bulletin_pays)i)) == 0)
            return (enum bulletin_pays)i;
    return BULLETIN_PAYS_N;
}

/* ---- orders ------------------------------------------------------------------------------------ */

static const struct known_claim *at(const void *p)
{
    return *(const struct known_claim *const *)p;
}

static int by_seq(const struct known_claim *a, const struct known_claim *b)
{
    return (a->seq > b->seq) - (a->seq < b->seq);
}

static int by_id(const void *a, const void *b)
{
    return strcmp(at(a)->id, at(b)->id);
}

static int by_unit(const void *a, const void *b)
{
    const int order = strcmp(at(a)->vin, at(b)->vin);
    return order != 0 ? order : by_seq(at(a), at(b));
}

static int by_readings(const void *a, const void *b)
{
    const int order = memcmp(at(a)->readings, at(b)->readings, STORE_DIGEST);
    return order != 0 ? order : by_seq(at(a), at(b));
}

static int same_person(const struct known_claim *a, const struct known_claim *b)
{
    const int order = strcmp(a->technician, b->technician);
    return order != 0 ? order : compare_text(a->shop, b->shop);
}

static int by_technician(const void *a, const void *b)
{
    const int order = same_person(at(a), at(b));
    if (order != 0)
        return order;
    return at(a)->first_ms != at(b)->first_ms ? (at(a)->first_ms > at(b)->first_ms ? 1 : -1)
                                              : by_seq(at(a), at(b));
}

typedef int compare_claims(const void *a, const void *b);

/* The first of a list that does not come before the key. */
static size_t first_from(const struct known_list *list, const struct known_claim *key,
                         compare_claims *compare)
{
    size_t low = 0, high = list->n;
    while (low < high) {
        const size_t mid = low + (high - low) / 2;
        if (compare(&list->at[mid], &key) < 0)
            low = mid + 1;
        else
            high = mid;
    }
    return low;
}

const struct known_claim *known_find(const struct known *known, const char *id)
{
    struct known_claim key = {0};
    if (id == NULL || strlen(id) != STORE_CLAIM_SIZE)
        return NULL;
    snprintf(key.id, sizeof key.id, "%s", id);
    const size_t i = first_from(&known->by_id, &key, by_id);
    return i < known->by_id.n && strcmp(known->by_id.at[i]->id, id) == 0 ? known->by_id.at[i]
                                                                         : NULL;
}

static bool has_hours(const struct known_claim *c)
{
    return c->technician != NULL && c->first_ms != STORE_UNKNOWN && c->last_ms != STORE_UNKNOWN &&
           c->last_ms > c->first_ms;
}

static bool any(const struct known_claim *c)
{
    (void)c;
    return true;
}

static bool has_readings(const struct known_claim *c)
{
    return c->has_readings;
}

static bool put_in_order(const struct known *k, struct known_list *list,
                         bool (*belongs)(const struct known_claim *), compare_claims *compare)
{
    list->at = malloc((k->n_claims + 1) * sizeof(const struct known_claim *));
    if (list->at == NULL)
        return false;
    for (size_t i = 0; i < k->n_claims; i++)
        if (belongs(&k->claims[i]))
            list->at[list->n++] = &k->claims[i];
    qsort(list->at, list->n, sizeof(const struct known_claim *), compare);
    return true;
}

/* For each place the latest end of the same person's jobs up to there: tells how far back to look. */
static bool note_ends(struct known *k)
{
    const struct known_list *list = &k->by_technician;
    k->last_ms = malloc((list->n + 1) * sizeof *k->last_ms);
    if (k->last_ms == NULL)
        return false;
    for (size_t i = 0; i < list->n; i++) {
        const struct known_claim *c = list->at[i];
        const bool goes_on = i > 0 && same_person(list->at[i - 1], c) == 0;
        k->last_ms[i] = goes_on && k->last_ms[i - 1] > c->last_ms ? k->last_ms[i - 1] : c->last_ms;
    }
    return true;
}

static enum err put_all_in_order(struct known *k, struct fault *f)
{
    const bool is_whole =
        put_in_order(k, &k->by_id, any, by_id) && put_in_order(k, &k->by_unit, any, by_unit) &&
        put_in_order(k, &k->by_readings, has_readings, by_readings) &&
        put_in_order(k, &k->by_technician, has_hours, by_technician) && note_ends(k);
    return is_whole ? ERR_OK : fault_no_memory(f);
}

/* ---- filling: claims --------------------------------------------------------------------------- */

struct filling {
    struct known *k;
    bool is_out_of_memory;
    const struct known_progress *progress;
    uint64_t n_all;
};

static struct known_claim claim_of(const struct store_brief *b)
{
    struct known_claim c = {.seq = b->seq,
                            .job = b->job,
                            .vin = b->vin,
                            .shop = b->shop,
                            .technician = b->technician,
                            .first_ms = b->opened_ms,
                            .last_ms = b->finished_ms,
                            .has_readings = b->has_readings};
    snprintf(c.id, sizeof c.id, "%s", b->claim);
    memcpy(c.readings, b->readings, STORE_DIGEST);
    return c;
}

static bool keep_texts(struct known *k, struct known_claim *c)
{
    const char *job = c->job, *shop = c->shop, *technician = c->technician;
    c->job = keep(k, job);
    c->shop = keep_name(k, shop);
    c->technician = keep_name(k, technician);
    c->vin = keep(k, c->vin);
    return (c->job != NULL || job == NULL) && (c->shop != NULL || shop == NULL) &&
           (c->technician != NULL || technician == NULL) && c->vin != NULL;
}

static bool make_room(struct known *k, size_t room)
{
    struct known_claim *more =
        room < SIZE_MAX / sizeof *more ? realloc(k->claims, room * sizeof *more) : NULL;
    if (more == NULL)
        return false;
    k->claims = more;
    k->room = room;
    return true;
}

/* Room was made for as many as the store counted; some may have come since. */
static bool add_claim(struct known *k, const struct known_claim *c)
{
    if (k->n_claims == k->room && !make_room(k, k->room + k->room / 8 + 64))
        return false;
    k->claims[k->n_claims] = *c;
    return keep_texts(k, &k->claims[k->n_claims++]);
}

static void tell(const struct filling *f, const char *what, uint64_t done)
{
    enum { TELL_EVERY = 4096 };
    if (f->progress != NULL && f->progress->step != NULL && done % TELL_EVERY == 0)
        f->progress->step(f->progress->me, what, done, f->n_all);
}

static bool see_brief(void *me, const struct store_brief *b)
{
    struct filling *f = me;
    const struct known_claim c = claim_of(b);
    f->is_out_of_memory = !add_claim(f->k, &c);
    tell(f, "claims", f->k->n_claims);
    return !f->is_out_of_memory;
}

static enum err fill_claims(struct filling *f, struct fault *reterr)
{
    f->is_out_of_memory = f->n_all < SIZE_MAX && !make_room(f->k, (size_t)f->n_all + 1);
    const enum err err =
        f->is_out_of_memory ? ERR_OK : store_briefs(f->k->store, see_brief, f, reterr);
    return err == ERR_OK && f->is_out_of_memory ? fault_no_memory(reterr) : err;
}

/* ---- filling: what matters between claims of one unit ------------------------------------------- */

struct detail_reader {
    struct known *k;
    struct known_claim *claim;
    struct known_detail *detail;
    struct store_award paid[STORE_STATIONS_MAX];
    size_t n_paid;
    bool has_word, is_out_of_memory; /* a person's word stands */
};

static bool see_claim(void *me, const char *id, const struct store_claim *c)
{
    struct detail_reader *r = me;
    struct known *k = r->k;
    struct rule_label *labels = event_pool_get(k->pool, (c->n_stations + 1) * sizeof *labels);
    const char **stations = event_pool_get(k->pool, (c->n_stations + 1) * sizeof *stations);
    r->is_out_of_memory = labels == NULL || stations == NULL;
    (void)id;
    for (size_t i = 0; i < c->n_stations && !r->is_out_of_memory; i++) {
        const struct store_station *s = &c->stations[i];
        const char *station = keep(k, s->station);
        r->is_out_of_memory = station == NULL;
        if (s->kit != NULL && s->kit[0] != '\0')
            stations[r->detail->n_stations++] = station;
        if (s->label == NULL || s->label[0] == '\0')
            continue;
        labels[r->detail->n_labels++] =
            (struct rule_label){station, keep(k, s->label), r->claim->id};
        r->is_out_of_memory |= labels[r->detail->n_labels - 1].label == NULL;
    }
    r->detail->labels = labels;
    r->detail->stations = stations;
    return false;
}

/* Adds to what a station was paid, whatever for. */
static void add_paid(struct detail_reader *r, const char *name, size_t n, int64_t amount_minor)
{
    size_t i = 0;
    while (i < r->n_paid &&
           (strlen(r->paid[i].station) != n || memcmp(r->paid[i].station, name, n) != 0))
        i++;
    if (i == STORE_STATIONS_MAX)
        return;
    if (i == r->n_paid) {
        r->paid[i] = (struct store_award){event_pool_text(r->k->pool, name, n), "pay", 0, NULL};
        if (r->paid[i].station == NULL) {
            r->is_out_of_memory = true;
            return;
        }
        r->n_paid++;
    }
    r->paid[i].amount_minor += amount_minor;
}

static bool see_ruling(void *me, const struct store_ruling *u)
{
    struct detail_reader *r = me;
    if (u->kind != STORE_PAID) {
        if (store_takes_over(u->kind, r->has_word)) {
            r->claim->is_refused = strcmp(u->verdict, "refuse") == 0;
            r->has_word = store_is_word(u->kind);
        }
        return true;
    }
    int64_t rest_minor = u->amount_minor;
    r->detail->paid_unit_minor += u->amount_minor;
    for (size_t i = 0; i < u->n_awards && !r->is_out_of_memory; i++) {
        const struct store_award *a = &u->awards[i];
        size_t n = 0;
        const enum bulletin_pays kind = known_award_split(a->station, &n);
        if (kind < BULLETIN_PAYS_N)
            r->detail->paid_minor[kind] += a->amount_minor;
        add_paid(r, a->station, n, a->amount_minor);
        rest_minor -= a->amount_minor;
    }
    if (rest_minor != 0) /* a person's word that names no station */
        add_paid(r, "", 0, rest_minor);
    return !r->is_out_of_memory;
}

/* What is once a unit is labour; paid by the claim on balance. */
struct once {
    int64_t minor;
};

static bool add_once(void *me, const struct store_ruling *u)
{
    struct once *o = me;
    for (size_t i = 0; u->kind == STORE_PAID && i < u->n_awards; i++) {
        size_t n = 0;
        if (known_award_split(u->awards[i].station, &n) == BULLETIN_PAYS_LABOUR && n == 0)
            o->minor += u->awards[i].amount_minor;
    }
    return true;
}

static enum err read_detail(struct known *k, struct known_claim *c, struct fault *f)
{
    struct detail_reader r = {.k = k, .claim = c};
    struct once once = {0};
    r.detail = event_pool_get(k->pool, sizeof *r.detail);
    if (r.detail == NULL)
        return fault_no_memory(f);
    memset(r.detail, 0, sizeof *r.detail);
    enum err err = store_claims(k->store, c->id, see_claim, &r, f);
    if (err == ERR_OK && !r.is_out_of_memory)
        err = store_rulings(k->store, c->id, see_ruling, &r, f);
    if (err == ERR_OK && !r.is_out_of_memory)
        err = store_rulings(k->store, c->id, add_once, &once, f);
    if (err != ERR_OK)
        return err;
    struct store_award *paid = event_pool_get(k->pool, (r.n_paid + 1) * sizeof *paid);
    if (paid == NULL || r.is_out_of_memory)
        return fault_no_memory(f);
    for (size_t i = 0; i < r.n_paid; i++)
        if (r.paid[i].amount_minor != 0) /* what was paid and taken off again is not paid */
            paid[r.detail->n_paid++] = r.paid[i];
    r.detail->paid = paid;
    r.detail->is_once_paid = once.minor > 0;
    c->detail = r.detail;
    return ERR_OK;
}

/* vin NULL: of every unit that has several. */
static enum err fill_details(struct known *k, const char *vin, struct fault *f)
{
    const struct known_list *u = &k->by_unit;
    enum err err = ERR_OK;
    for (size_t i = 0; i < u->n && err == ERR_OK; i++) {
        const bool is_shared = (i > 0 && strcmp(u->at[i - 1]->vin, u->at[i]->vin) == 0) ||
                               (i + 1 < u->n && strcmp(u->at[i + 1]->vin, u->at[i]->vin) == 0);
        if (is_shared && (vin == NULL || strcmp(vin, u->at[i]->vin) == 0))
            err = read_detail(k, &k->claims[u->at[i] - k->claims], f);
    }
    return err;
}

/* ---- filling: lists and keys -------------------------------------------------------------------- */

struct build_reader {
    struct known *k;
    size_t next; /* in the order of units: both go by VIN */
    bool is_out_of_memory;
};

static bool add_build(struct known *k, size_t unit, const struct store_build *b)
{
    if (k->n_builds == k->builds_room) {
        const size_t room = k->builds_room > 0 ? 2 * k->builds_room : 64;
        struct known_build *more = realloc(k->builds, room * sizeof *more);
        if (more == NULL)
            return false;
        k->builds = more;
        k->builds_room = room;
    }
    struct known_build *to = &k->builds[k->n_builds++];
    *to = (struct known_build){(uint32_t)unit, words_put(&k->words, b->station, strlen(b->station)),
                               WORDS_NONE};
    if (b->label != NULL)
        to->label = words_put(&k->words, b->label, strlen(b->label));
    return to->station != WORDS_NONE && (to->label != WORDS_NONE || b->label == NULL);
}

static bool see_build(void *me, const struct store_build *b)
{
    struct build_reader *r = me;
    const struct known_list *u = &r->k->by_unit;
    while (r->next < u->n && strcmp(u->at[r->next]->vin, b->vin) < 0)
        r->next++;
    if (r->next < u->n && strcmp(u->at[r->next]->vin, b->vin) == 0)
        r->is_out_of_memory = !add_build(r->k, r->next, b);
    return !r->is_out_of_memory && r->next < u->n;
}

static bool see_keys(void *me, const struct store_paper *p)
{
    struct known *k = me;
    struct fault ignored = {0};
    /* It was read when it was put there; one that cannot be read now has no keys. */
    k->has_ring |= keyring_add(&k->ring, p->text, p->n, p->name, &ignored) == ERR_OK;
    return true;
}

static enum err fill_lists(struct known *k, const char *vin, struct store_counts *counts,
                           struct fault *reterr)
{
    struct build_reader builds = {.k = k};
    enum err err = store_papers(k->store, "keys", NULL, true, see_keys, k, reterr);
    k->has_builds = counts->builds > 0;
    if (err == ERR_OK && k->has_builds)
        err = store_builds(k->store, vin, see_build, &builds, reterr);
    return err == ERR_OK && builds.is_out_of_memory ? fault_no_memory(reterr) : err;
}

enum err known_open(struct store *store, const struct shops *shops, const char *claim,
                    const struct known_progress *progress, struct known **ret, struct fault *reterr)
{
    struct known *k = calloc(1, sizeof *k);
    struct filling f = {.k = k, .progress = progress};
    struct store_counts counts = {0};
    const struct known_claim *one = NULL;
    if (k == NULL)
        return fault_no_memory(reterr);
    *k = (struct known){.store = store, .shops = shops, .pool = event_pool_new()};
    enum err err = k->pool != NULL ? store_count(store, &counts, reterr) : fault_no_memory(reterr);
    f.n_all = counts.claims > 0 ? (uint64_t)counts.claims : 0;
    if (err == ERR_OK)
        err = fill_claims(&f, reterr);
    if (err == ERR_OK)
        err = put_all_in_order(k, reterr);
    if (err == ERR_OK && claim != NULL && (one = known_find(k, claim)) == NULL)
        err = fault_set(reterr, ERR_UNKNOWN, "there is no claim %.40s in the store", claim);
    if (err == ERR_OK)
        err = fill_details(k, one != NULL ? one->vin : NULL, reterr);
    if (err == ERR_OK)
        err = fill_lists(k, one != NULL ? one->vin : NULL, &counts, reterr);
    if (err == ERR_OK)
        err = known_photos_open(k, one, reterr);
    if (err != ERR_OK) {
        known_close(k);
        return err;
    }
    *ret = k;
    return ERR_OK;
}

void known_close(struct known *known)
{
    if (known == NULL)
        return;
    known_photos_close(&known->photos);
    keyring_done(&known->ring);
    free(known->by_id.at);
    free(known->by_unit.at);
    free(known->by_readings.at);
    free(known->by_technician.at);
    free(known->last_ms);
    free(known->claims);
    free(known->builds);
    words_done(&known->words);
    words_done(&known->names);
    free(known->name_at);
    event_pool_free(known->pool);
    free(known);
}

/* ---- asking ------------------------------------------------------------------------------------ */

struct known_work {
    struct event_pool *pool;
    struct known_eyes *eyes;
    struct rule_shop shop;
};

struct known_work *known_work_new(void)
{
    struct known_work *w = calloc(1, sizeof *w);
    if (w == NULL)
        return NULL;
    w->eyes = known_eyes_new();
    if (w->eyes == NULL) {
        free(w);
        return NULL;
    }
    return w;
}

void known_work_free(struct known_work *work)
{
    if (work == NULL)
        return;
    event_pool_free(work->pool);
    known_eyes_free(work->eyes);
    free(work);
}

static void find_shop(const struct known *k, const struct store_claim *c, struct known_work *w,
                      struct rule_known *ret)
{
    enum { DAY_MS = 86400000 };
    const int64_t ms = c->finished_ms != STORE_UNKNOWN ? c->finished_ms : c->taken_ms;
    const int64_t day = ms / DAY_MS - (ms % DAY_MS < 0);
    ret->has_shops = k->shops != NULL;
    if (k->shops == NULL || c->shop == NULL || day < INT32_MIN + 1 || day > INT32_MAX)
        return;
    const struct shops_row *row = shops_find(k->shops, c->shop, (int32_t)day);
    if (row == NULL)
        return;
    w->shop = (struct rule_shop){row->id, row->kind, row->rate_minor, false};
    for (size_t i = 0; i < k->ring.n && !w->shop.has_keys; i++)
        w->shop.has_keys = strcmp(k->ring.keys[i].shop, c->shop) == 0;
    ret->shop = &w->shop;
}

static const char *vin_of(const struct known *k, const struct known_build *b)
{
    return k->by_unit.at[b->unit]->vin;
}

/* The build list's rows of a unit. */
static const struct known_build *find_builds(const struct known *k, const char *vin, size_t *ret_n)
{
    size_t low = 0, high = k->n_builds, n = 0;
    while (low < high) { /* the first of this VIN */
        const size_t mid = low + (high - low) / 2;
        if (strcmp(vin_of(k, &k->builds[mid]), vin) < 0)
            low = mid + 1;
        else
            high = mid;
    }
    while (low + n < k->n_builds && strcmp(vin_of(k, &k->builds[low + n]), vin) == 0)
        n++;
    *ret_n = n;
    return k->builds != NULL ? &k->builds[low] : NULL;
}

/* One of the unit's other claims. Labels that an earlier claim of the same job gave were its own to correct. */
static void add_other(const struct known_claim *c, const struct known_claim *mine,
                      struct rule_other *others, struct rule_label *labels, struct rule_known *ret)
{
    const struct known_detail *d = c->detail;
    const bool is_later = c->seq > mine->seq, is_same_job = known_same_job(c, mine);
    for (int p = 0; p < BULLETIN_PAYS_N; p++)
        ret->paid_minor[p] += d->paid_minor[p];
    ret->paid_unit_minor += d->paid_unit_minor;
    ret->is_once_paid |= d->is_once_paid;
    if (is_later && !is_same_job && d->n_paid == 0)
        return;
    others[ret->n_others++] =
        (struct rule_other){c->id,     c->shop,     is_same_job,   is_later,     d->paid,
                            d->n_paid, d->stations, d->n_stations, c->is_refused};
    for (size_t l = 0; l < d->n_labels && !is_later && !is_same_job; l++)
        labels[ret->n_labels++] = d->labels[l];
}

/* Other claims of the unit, their labels, and what the build list says. */
static bool find_unit(const struct known *k, const struct known_claim *mine, struct known_work *w,
                      struct rule_known *ret)
{
    struct known_claim key = {.vin = mine->vin, .seq = INT64_MIN};
    const struct known_list *list = &k->by_unit;
    const size_t first = first_from(list, &key, by_unit);
    size_t end = first, n_labels = 0, n_builds = 0;
    const struct known_build *builds = find_builds(k, mine->vin, &n_builds);
    for (; end < list->n && strcmp(list->at[end]->vin, mine->vin) == 0; end++)
        n_labels += list->at[end]->detail != NULL ? list->at[end]->detail->n_labels : 0;
    struct rule_other *others = event_pool_get(w->pool, (end - first + 1) * sizeof *others);
    struct rule_label *labels = event_pool_get(w->pool, (n_labels + n_builds + 1) * sizeof *labels);
    if (others == NULL || labels == NULL)
        return false;
    ret->has_builds = k->has_builds;
    ret->is_built = n_builds > 0;
    for (size_t i = 0; i < n_builds; i++)
        if (builds[i].label != WORDS_NONE)
            labels[ret->n_labels++] =
                (struct rule_label){words_text(&k->words, builds[i].station),
                                    words_text(&k->words, builds[i].label), RULE_BUILD_LIST};
    for (size_t i = first; i < end; i++)
        if (list->at[i] != mine && list->at[i]->detail != NULL)
            add_other(list->at[i], mine, others, labels, ret);
    ret->others = others;
    ret->labels = labels;
    return true;
}

enum { OVERLAPS_MAX = 16, SAME_MAX = 1000 }; /* told; more say no more */

static bool find_readings(const struct known *k, const struct known_claim *mine,
                          struct known_work *w, struct rule_known *ret)
{
    struct known_claim key = {.seq = INT64_MIN};
    const struct known_list *list = &k->by_readings;
    if (!mine->has_readings)
        return true;
    memcpy(key.readings, mine->readings, STORE_DIGEST);
    const size_t first = first_from(list, &key, by_readings);
    const size_t mine_at = first_from(list, mine, by_readings);
    const size_t end = mine_at - first > SAME_MAX ? first + SAME_MAX : mine_at;
    const char **ids = event_pool_get(w->pool, (end - first + 1) * sizeof *ids);
    if (ids == NULL)
        return false;
    for (size_t i = first; i < end; i++)
        if (!known_same_job(list->at[i], mine))
            ids[ret->n_same_readings++] = list->at[i]->id;
    ret->same_readings = ids;
    return true;
}

static bool find_overlaps(const struct known *k, const struct known_claim *mine,
                          struct known_work *w, struct rule_known *ret)
{
    const struct known_list *list = &k->by_technician;
    struct known_claim key = *mine;
    if (!has_hours(mine))
        return true;
    struct rule_overlap *found = event_pool_get(w->pool, OVERLAPS_MAX * sizeof *found);
    if (found == NULL)
        return false;
    key.first_ms = mine->last_ms; /* whatever begins from here on does not overlap */
    key.seq = INT64_MIN;
    for (size_t i = first_from(list, &key, by_technician); i > 0; i--) {
        const struct known_claim *c = list->at[i - 1];
        if (same_person(c, mine) != 0 || k->last_ms[i - 1] <= mine->first_ms ||
            ret->n_overlaps == OVERLAPS_MAX)
            break;
        if (c->seq < mine->seq && c->last_ms > mine->first_ms && !known_same_job(c, mine))
            found[ret->n_overlaps++] =
                (struct rule_overlap){c->id, c->vin, c->first_ms, c->last_ms};
    }
    ret->overlaps = found;
    return true;
}

enum err known_of(const struct known *known, const struct store_claim *claim, const char *claim_id,
                  struct known_work *work, struct rule_known *ret, struct fault *reterr)
{
    const struct known_claim *mine = known_find(known, claim_id);
    if (mine == NULL)
        return fault_set(reterr, ERR_UNKNOWN, "the claim %.40s was not there at the start",
                         claim_id != NULL ? claim_id : "");
    event_pool_free(work->pool);
    work->pool = event_pool_new();
    *ret = (struct rule_known){0};
    if (work->pool == NULL)
        return fault_no_memory(reterr);
    find_shop(known, claim, work, ret);
    if (!find_unit(known, mine, work, ret) || !find_readings(known, mine, work, ret) ||
        !find_overlaps(known, mine, work, ret))
        return fault_no_memory(reterr);
    return known_photos_of(known, mine, claim, work->eyes, work->pool, &ret->seen, &ret->n_seen,
                           reterr);
}

void known_set_refused(struct known *known, const char *claim_id, bool is_refused)
{
    const struct known_claim *c = known_find(known, claim_id);
    if (c != NULL)
        known->claims[c - known->claims].is_refused = is_refused;
}
