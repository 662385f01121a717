/* campaign_board: owns the reading of claims and rulings into memory, and when it must begin anew. */
#include "desk/campaign_board.h"

#include "core/date.h"
#include "desk/known.h"
#include "store/since.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { DAY_MS = 86400000 };

/* ---- arrays -------------------------------------------------------------------------------- */

bool board_grow(void *array, size_t *room, size_t n, size_t size)
{
    void **p = array;
    if (n <= *room)
        return true;
    const size_t want = n + n / 2 + 16;
    void *more = realloc(*p, want * size);
    if (more == NULL)
        return false;
    *p = more;
    *room = want;
    return true;
}

uint32_t board_unit_of(struct board *b, const char *vin)
{
    const size_t before = b->vins.n;
    const uint32_t i = words_put(&b->vins, vin, strlen(vin));
    if (i == WORDS_NONE || !board_grow(&b->units, &b->units_room, b->vins.n, sizeof *b->units))
        return WORDS_NONE;
    if (b->vins.n > before)
        b->units[i] = (struct board_unit){.day = INT32_MAX};
    return i;
}

struct board_sums board_sums(const struct board *b, uint32_t row)
{
    struct board_sums sums = {{0}};
    if (row > 0)
        memcpy(&sums, words_text(&b->sums, row - 1), sizeof sums);
    return sums;
}

/* The row of these sums; false: no memory. */
static bool put_sums(struct board *b, const struct board_sums *sums, uint32_t *ret_row)
{
    static const struct board_sums nothing;
    *ret_row = 0;
    if (memcmp(sums, &nothing, sizeof nothing) == 0)
        return true;
    const uint32_t i = words_put(&b->sums, (const char *)sums, sizeof *sums);
    if (i != WORDS_NONE)
        *ret_row = i + 1;
    return i != WORDS_NONE;
}

int board_station(const struct board *b, const char *id, size_t n)
{
    for (size_t i = 0; i < b->bulletin->scope.stations.n; i++)
        if (strlen(b->bulletin->scope.stations.at[i].id) == n &&
            memcmp(b->bulletin->scope.stations.at[i].id, id, n) == 0)
            return (int)i;
    return -1;
}

/* ---- claims -------------------------------------------------------------------------------- */

struct reading_on {
    struct board *b;
    bool is_broken; /* memory ran out */
    size_t at;      /* the claim that rows are of, as they come in its order */
    /* the ruling that awards are of, its claim, and the claim's money by kind as far as it was read */
    int64_t ruling;
    struct board_claim *claim;
    struct board_sums stands, paid, ruled;
    bool takes, is_rule;
};

static uint16_t bit(int station)
{
    if (station < 0)
        return 0;
    return (uint16_t)(1U << (unsigned)station);
}

/* A later claim of the same job of the same unit stands in place of the earlier. */
static bool note_job(struct board *b, const struct since_claim *s, uint32_t unit)
{
    char key[STORE_ID_MAX + 16];
    if (s->job == NULL)
        return true;
    const size_t before = b->jobs.n;
    const int n = snprintf(key, sizeof key, "%s %u", s->job, (unsigned)unit);
    const uint32_t i =
        words_put(&b->jobs, key, (size_t)n < sizeof key ? (size_t)n : sizeof key - 1);
    if (i == WORDS_NONE ||
        !board_grow(&b->last_of_job, &b->jobs_room, b->jobs.n, sizeof *b->last_of_job))
        return false;
    if (b->jobs.n == before)
        b->claims[b->last_of_job[i]].flags |= BOARD_IS_REPLACED;
    b->last_of_job[i] = (uint32_t)b->n_claims;
    return true;
}

/* The first claim with a set of readings is nobody's copy; a job that is sent again is no copy of itself. */
static bool note_set(struct board *b, const struct since_claim *s, struct board_claim *c)
{
    if (!s->has_set)
        return true;
    c->flags |= BOARD_HAS_SET;
    const size_t before = b->sets.n;
    const uint32_t i = words_put(&b->sets, (const char *)s->set, sizeof s->set / 2);
    if (i == WORDS_NONE ||
        !board_grow(&b->first_of_set, &b->sets_room, b->sets.n, sizeof *b->first_of_set))
        return false;
    if (b->sets.n > before)
        b->first_of_set[i] = (uint32_t)b->n_claims;
    else if (b->claims[b->first_of_set[i]].unit != c->unit)
        c->flags |= BOARD_IS_COPY;
    return true;
}

static bool see_claim(void *me, const struct since_claim *s)
{
    struct reading_on *r = me;
    struct board *b = r->b;
    const char *shop = s->shop != NULL ? s->shop : "";
    struct board_claim c = {.seq = s->seq,
                            .taken_ms = s->taken_ms,
                            .finished_ms = s->finished_ms,
                            .verdict = CAMPAIGN_UNRULED};
    c.unit = board_unit_of(b, s->vin);
    c.shop = words_put(&b->shops, shop, strlen(shop));
    r->is_broken = c.unit == WORDS_NONE || c.shop == WORDS_NONE ||
                   !board_grow(&b->claims, &b->claims_room, b->n_claims + 1, sizeof *b->claims) ||
                   !board_grow(&b->events, &b->events_room, b->n_events + 1, sizeof *b->events) ||
                   !note_job(b, s, c.unit) || !note_set(b, s, &c);
    if (r->is_broken)
        return false;
    const int32_t day = (int32_t)(s->taken_ms / DAY_MS);
    if (day < b->units[c.unit].day)
        b->units[c.unit].day = day;
    b->claims[b->n_claims++] = c;
    b->events[b->n_events++] = (struct board_event){.at_ms = s->taken_ms, .kind = BOARD_CAME};
    return !board_is_over(b);
}

/* The claim of that place, at or after r->at: rows come in the order of claims. */
static struct board_claim *claim_on(struct reading_on *r, int64_t seq)
{
    while (r->at < r->b->n_claims && r->b->claims[r->at].seq < seq)
        r->at++;
    return r->at < r->b->n_claims && r->b->claims[r->at].seq == seq ? &r->b->claims[r->at] : NULL;
}

static bool see_station(void *me, int64_t seq, const char *station, const char *scope,
                        const char *kit)
{
    struct reading_on *r = me;
    struct board_claim *c = claim_on(r, seq);
    const int i = board_station(r->b, station, strlen(station));
    if (c == NULL || i < 0)
        return true;
    board_mark(&c->told, bit(i));
    board_mark(&r->b->units[c->unit].told, bit(i));
    if (scope != NULL && strcmp(scope, "in") == 0)
        board_mark(&c->sees_in, bit(i));
    if (kit == NULL)
        return true;
    board_mark(&c->worked, bit(i));
    for (size_t k = 0; k < r->b->bulletin->kits.n; k++)
        if (strcmp(r->b->bulletin->kits.at[k].id, kit) == 0)
            c->kit[i] = (uint8_t)(k + 1);
    return true;
}

static int point_of(const struct bulletin *b, const char *id)
{
    for (size_t i = 0; i < b->points.n; i++)
        if (strcmp(b->points.at[i].id, id) == 0)
            return (int)i;
    return -1;
}

/* What a job leaves at a point: its last reading after the work; where there is none its last. They come in the order of taking. */
static bool see_reading(void *me, const struct since_reading *s)
{
    struct reading_on *r = me;
    struct board *b = r->b;
    struct board_claim *c = claim_on(r, s->claim_seq);
    const int point = point_of(b->bulletin, s->point);
    if (c == NULL || point < 0)
        return true;
    if (!board_grow(&b->values_nano, &b->values_room, b->n_readings + 1, sizeof *b->values_nano) ||
        !board_grow(&b->marks, &b->marks_room, b->n_readings + 1, sizeof *b->marks)) {
        r->is_broken = true;
        return false;
    }
    if (c->n_readings == 0)
        c->first_reading = (uint32_t)b->n_readings;
    uint8_t now = (uint8_t)(point | BOARD_IS_FINAL | (s->is_after ? BOARD_IS_AFTER : 0));
    for (uint32_t i = c->first_reading; i < c->first_reading + c->n_readings; i++) {
        uint8_t *before = &b->marks[i];
        if ((*before & BOARD_POINT) != point || (*before & BOARD_IS_FINAL) == 0)
            continue;
        uint8_t *gone =
            (*before & BOARD_IS_AFTER) != 0 && (now & BOARD_IS_AFTER) == 0 ? &now : before;
        *gone = (uint8_t)(*gone & ~BOARD_IS_FINAL);
    }
    b->marks[b->n_readings] = now;
    b->values_nano[b->n_readings++] = s->value_nano;
    c->n_readings++;
    return !board_is_over(b);
}

enum err board_read_claims(struct board *b, struct store *store, struct fault *reterr)
{
    struct reading_on r = {.b = b, .at = b->n_claims};
    const size_t first = b->n_claims;
    enum err err = since_claims(store, b->id, b->seq, see_claim, &r, reterr);
    r.at = first;
    if (err == ERR_OK && !r.is_broken)
        err = since_stations(store, b->id, b->seq, see_station, &r, reterr);
    r.at = first;
    if (err == ERR_OK && !r.is_broken)
        err = since_readings(store, b->id, b->seq, see_reading, &r, reterr);
    return err == ERR_OK && r.is_broken ? fault_no_memory(reterr) : err;
}

/* ---- rulings ------------------------------------------------------------------------------- */

static struct board_claim *claim_find(struct board *b, int64_t seq)
{
    size_t low = 0, high = b->n_claims;
    while (low < high) {
        const size_t mid = low + (high - low) / 2;
        if (b->claims[mid].seq < seq)
            low = mid + 1;
        else
            high = mid;
    }
    return low < b->n_claims && b->claims[low].seq == seq ? &b->claims[low] : NULL;
}

static uint8_t verdict_of(const char *name)
{
    for (int i = 0; i < CAMPAIGN_UNRULED; i++)
        if (strcmp(name, rule_verdict_name((enum rule_verdict)i)) == 0)
            return (uint8_t)i;
    return CAMPAIGN_UNRULED;
}

static bool is_foreign(const struct board *b, const char *currency)
{
    return currency != NULL && strcmp(currency, b->bulletin->head.currency) != 0;
}

/* All of a ruling was read. */
static bool end_ruling(struct reading_on *r)
{
    struct board_claim *c = r->claim;
    return c == NULL ||
           (put_sums(r->b, &r->stands, &c->stands_kind) &&
            put_sums(r->b, &r->paid, &c->paid_kind) && put_sums(r->b, &r->ruled, &c->ruled_kind));
}

/* The head of a ruling: what stands now. */
static void begin_ruling(struct reading_on *r, struct board_claim *c, const struct since_award *a)
{
    struct board_event *e = &r->b->events[r->b->n_events++];
    const uint8_t verdict = verdict_of(a->verdict);
    r->claim = c;
    r->ruling = a->seq;
    r->stands = board_sums(r->b, c->stands_kind);
    r->paid = board_sums(r->b, c->paid_kind);
    r->ruled = board_sums(r->b, c->ruled_kind);
    *e = (struct board_event){.at_ms = a->at_ms, .kind = (uint8_t)a->kind, .verdict = verdict};
    if (is_foreign(r->b, a->currency))
        c->flags |= BOARD_IS_FOREIGN;
    r->is_rule = a->kind == STORE_RULED;
    r->takes = store_takes_over(a->kind, (c->flags & BOARD_IS_WORD) != 0);
    if (a->kind == STORE_PAID) {
        c->paid_minor += a->amount_minor;
        e->paid_minor = a->amount_minor;
        return;
    }
    if (r->is_rule) {
        r->ruled = (struct board_sums){{0}};
        c->flags = (uint8_t)((c->flags & ~BOARD_HAS_FINDINGS) | BOARD_IS_RULED |
                             (a->has_findings ? BOARD_HAS_FINDINGS : 0));
    }
    if (!r->takes)
        return;
    const int64_t stands = verdict == RULE_PAY ? a->amount_minor : 0;
    e->is_change =
        c->verdict != CAMPAIGN_UNRULED && (c->verdict != verdict || c->stands_minor != stands);
    c->verdict = verdict;
    c->stands_minor = stands;
    c->pays = 0;
    r->stands = (struct board_sums){{0}};
    /* A word taken back leaves none: what stands then is the rules'. */
    c->flags =
        (uint8_t)(store_is_word(a->kind) ? c->flags | BOARD_IS_WORD : c->flags & ~BOARD_IS_WORD);
}

static void add_award(struct reading_on *r, struct board_claim *c, const struct since_award *a)
{
    size_t n = 0;
    const enum bulletin_pays kind = known_award_split(a->station, &n);
    const int station = n > 0 ? board_station(r->b, a->station, n) : -1;
    const uint8_t verdict = verdict_of(a->station_verdict);
    if (a->kind == STORE_PAID) {
        r->paid.minor[kind] += a->station_minor;
        return;
    }
    board_mark(&c->worked, bit(station));
    if (r->is_rule && verdict != RULE_VERDICT_REFUSE)
        r->ruled.minor[kind] += a->station_minor;
    if (!r->takes || verdict != RULE_PAY || c->verdict != RULE_PAY)
        return;
    r->stands.minor[kind] += a->station_minor;
    board_mark(&c->pays, bit(station));
}

static bool see_award(void *me, const struct since_award *a)
{
    struct reading_on *r = me;
    struct board_claim *c = claim_find(r->b, a->claim_seq);
    if (c == NULL)
        return true;
    if (a->seq != r->ruling) {
        r->is_broken = !end_ruling(r) || !board_grow(&r->b->events, &r->b->events_room,
                                                     r->b->n_events + 1, sizeof *r->b->events);
        if (r->is_broken)
            return false;
        begin_ruling(r, c, a);
    }
    if (a->station != NULL)
        add_award(r, c, a);
    return !board_is_over(r->b);
}

enum err board_read_rulings(struct board *b, struct store *store, struct fault *reterr)
{
    struct reading_on r = {.b = b};
    const enum err err = since_rulings(store, b->id, b->seq, see_award, &r, reterr);
    return err == ERR_OK && (r.is_broken || !end_ruling(&r)) ? fault_no_memory(reterr) : err;
}

/* ---- the whole ----------------------------------------------------------------------------- */

void board_done(struct board *b)
{
    char id[sizeof b->id];
    memcpy(id, b->id, sizeof id);
    bulletin_free(b->bulletin);
    words_done(&b->vins);
    words_done(&b->shops);
    words_done(&b->jobs);
    words_done(&b->sets);
    words_done(&b->sums);
    free(b->units);
    free(b->claims);
    free(b->values_nano);
    free(b->marks);
    free(b->events);
    free(b->runs);
    free(b->last_of_job);
    free(b->first_of_set);
    free(b->papers_ms);
    text_done(&b->told);
    *b = (struct board){.used = b->used, .is_over = b->is_over};
    memcpy(b->id, id, sizeof id);
}

struct newest {
    struct text *text; /* NULL: not asked for */
    int64_t revision, seq;
};

static bool see_bulletin(void *me, const struct store_paper *p)
{
    struct newest *n = me;
    if (p->revision <= n->revision)
        return true;
    n->revision = p->revision;
    n->seq = p->seq;
    if (n->text != NULL) {
        text_clear(n->text);
        text_add(n->text, p->text, p->n);
    }
    return true;
}

/* The newest revision that is kept. */
static enum err read_bulletin(struct board *b, struct store *store, struct fault *f)
{
    struct text text = {0};
    struct newest newest = {&text, -1, 0};
    struct fault_list faults = {0};
    enum err err = store_papers(store, "bulletin", b->id, true, see_bulletin, &newest, f);
    if (err == ERR_OK && newest.revision < 0)
        err = fault_set(f, ERR_UNKNOWN, "no bulletin '%.60s' is kept in the store", b->id);
    if (err == ERR_OK && text.is_broken)
        err = fault_no_memory(f);
    if (err == ERR_OK) {
        b->bulletin = bulletin_load(text.data, text.size, b->id, &faults);
        if (b->bulletin == NULL) /* it was sound when it was kept */
            err = fault_set(f, ERR_DOMAIN,
                            "the bulletin kept as '%.60s' cannot be read by this program", b->id);
    }
    b->bulletin_seq = newest.seq;
    fault_list_done(&faults);
    text_done(&text);
    return err;
}

/* Whether another revision, or another text of this one, is kept by now. */
static enum err has_other_bulletin(const struct board *b, struct store *store, bool *ret,
                                   struct fault *f)
{
    struct newest newest = {NULL, -1, 0};
    const enum err err = store_papers(store, "bulletin", b->id, false, see_bulletin, &newest, f);
    *ret = newest.seq != b->bulletin_seq;
    return err;
}

static enum err read_on(struct board *b, struct store *store, const struct store_heads *heads,
                        struct fault *f)
{
    enum err err = ERR_OK;
    if (b->bulletin == NULL) {
        err = read_bulletin(b, store, f);
        b->has_builds = heads->has_builds;
        if (err == ERR_OK && heads->has_builds)
            err = board_read_builds(b, store, f);
    }
    if (err == ERR_OK && heads->paper != b->paper)
        err = board_read_papers(b, store, f);
    if (err == ERR_OK)
        err = board_read_claims(b, store, f);
    if (err == ERR_OK)
        err = board_read_rulings(b, store, f);
    if (err == ERR_OK && board_is_over(b)) /* whatever was read may have broken off */
        return fault_set(f, ERR_IO, "the server stops");
    return err == ERR_OK && !board_sum_runs(b) ? fault_no_memory(f) : err;
}

enum err board_read(struct board *b, struct store *store, struct fault *reterr)
{
    struct store_heads heads = {0};
    bool is_other = false;
    enum err err = store_heads(store, b->seq, &heads, reterr);
    if (err == ERR_OK && b->bulletin != NULL && heads.seq == b->seq)
        return ERR_OK;
    if (err == ERR_OK && heads.paper != b->paper)
        err = has_other_bulletin(b, store, &is_other, reterr);
    if (err == ERR_OK && (heads.came_builds || is_other || heads.seq < b->seq))
        board_done(b);
    if (err == ERR_OK)
        err = read_on(b, store, &heads, reterr);
    if (err != ERR_OK) {
        board_done(b);
        return err;
    }
    b->seq = heads.seq;
    b->paper = heads.paper;
    return ERR_OK;
}
