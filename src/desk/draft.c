/* draft: owns how a bulletin that is being written is told of, and the run over units and claims that shows what would follow. */
#include "desk/draft.h"

#include "base/digest.h"
#include "bulletin/adapt.h"
#include "bulletin/export.h"
#include "bulletin/reference.h"
#include "bulletin/yamltree.h"
#include "desk/audit.h"
#include "desk/tell.h"
#include "draw/sheet.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- the check, and what is different ----------------------------------------------------------- */

void draft_tell_check(const struct bulletin *b, const struct fault_list *faults, struct jsonw *w)
{
    jsonw_bool(w, "valid", b != NULL);
    jsonw_bool(w, "meaning_checked", faults->is_checked);
    fault_list_tell(faults, w);
    if (b == NULL)
        return;
    jsonw_string(w, "id", b->head.id);
    jsonw_int(w, "revision", b->head.revision);
    jsonw_bool(w, "invented", b->head.is_invented);
    jsonw_int(w, "stations", (int64_t)b->scope.stations.n);
    jsonw_int(w, "kits", (int64_t)b->kits.n);
    jsonw_int(w, "steps", (int64_t)b->steps.n);
    jsonw_int(w, "points", (int64_t)b->points.n);
    jsonw_int(w, "adjusters", (int64_t)b->adjusters.n);
}

void draft_warn_day(const struct bulletin *b, int32_t before_revision, int32_t before_issued,
                    struct fault_list *faults)
{
    const struct yamlnode *at = yamlnode_get(b->head.node, "issued");
    struct fault f = {.line = at != NULL ? at->line : 0, .column = at != NULL ? at->column : 0};
    if (b->head.revision <= before_revision || b->head.issued != before_issued)
        return;
    snprintf(f.path, sizeof f.path, "bulletin.issued");
    (void)fault_set(&f, ERR_ORDER,
                    "the day of revision %d, which it replaces: every job begun by that one since "
                    "then would be asked for again. Expected the day on which this one goes out",
                    before_revision);
    fault_list_add(faults, &f, true);
    fault_list_sort(faults);
}

void draft_tell_changes(const struct change_list *changes, struct jsonw *w)
{
    jsonw_array(w, "changes");
    for (size_t i = 0; i < changes->n; i++) {
        jsonw_object(w, NULL);
        jsonw_string(w, "where", changes->changes[i].where);
        jsonw_string(w, "was", changes->changes[i].was);
        jsonw_string(w, "now", changes->changes[i].now);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
    jsonw_int(w, "more_changes", (int64_t)changes->n_more);
}

static bool count_paper(void *me, const struct store_paper *paper)
{
    (void)paper;
    ++*(int *)me;
    return true;
}

enum err draft_before(struct store *store, const struct bulletin *b, struct bulletin **ret,
                      struct fault *reterr)
{
    struct text file = {0};
    struct fault_list faults = {0};
    char sha256[65];
    int n = 0;
    *ret = NULL;
    enum err err = store_papers(store, "bulletin", b->head.id, false, count_paper, &n, reterr);
    if (err != ERR_OK || n == 0)
        return err;
    err = tell_bulletin(store, b->head.id, 0, true, &file, sha256, reterr);
    if (err == ERR_OK) {
        *ret = bulletin_load(file.data, file.size, b->head.id, &faults);
        if (*ret == NULL)
            err = fault_set(reterr, faults.is_out_of_memory ? ERR_MEMORY : ERR_DOMAIN,
                            "the bulletin %.60s that is kept cannot be read", b->head.id);
    }
    fault_list_done(&faults);
    text_done(&file);
    return err;
}

/* ---- units of the build list -------------------------------------------------------------------- */

enum { BEFORE, NOW, SIDES };

/* One unit of the build list, judged by both revisions. */
struct walk {
    const struct bulletin *b[SIDES]; /* [BEFORE] may be NULL */
    struct adapt_scope rules[SIDES];
    struct scope_sight sights[SIDES][SCOPE_STATIONS_MAX];
    struct scope_answer answer;
    char vin[24];
    struct whatif *ret;
    enum err err;
    struct fault *f;
};

static int station_index(const struct bulletin *b, const char *id)
{
    const struct bulletin_station *found = bulletin_station_find(b, id);
    return found != NULL ? (int)(found - b->scope.stations.at) : -1;
}

static void count(struct whatif_scope *s, bool was_in, bool is_in)
{
    s->before += was_in;
    s->now += is_in;
    s->swept_in += is_in && !was_in;
    s->let_out += was_in && !is_in;
}

/* Whether the station is worked on: in, or swept in with its unit. */
static bool is_station_in(const struct walk *w, int side, int station)
{
    return station >= 0 && (w->answer.stations[station].verdict == SCOPE_IN ||
                            (w->b[side]->scope.mixed == BULLETIN_MIXED_WHOLE_UNIT &&
                             w->answer.unit == SCOPE_MIXED));
}

struct unit_seen {
    bool is_in, is_unknown;
    bool stations_in[SCOPE_STATIONS_MAX]; /* by the newer bulletin's order */
};

static bool judge(struct walk *w, int side, struct unit_seen *ret)
{
    size_t at = 0;
    *ret = (struct unit_seen){0};
    if (w->b[side] == NULL)
        return true;
    w->err =
        scope_judge(&w->rules[side].rule, w->vin, strlen(w->vin), w->sights[side], &w->answer, &at);
    if (w->err != ERR_OK) {
        (void)fault_set(w->f, w->err, "unit %s of the build list: %s", w->vin, err_text(w->err));
        return false;
    }
    ret->is_in = w->answer.unit == SCOPE_IN || w->answer.unit == SCOPE_MIXED;
    ret->is_unknown = w->answer.unit == SCOPE_UNKNOWN;
    for (size_t i = 0; i < w->b[NOW]->scope.stations.n; i++)
        ret->stations_in[i] =
            is_station_in(w, side, station_index(w->b[side], w->b[NOW]->scope.stations.at[i].id));
    return true;
}

static bool end_unit(struct walk *w)
{
    struct unit_seen was, is;
    if (w->vin[0] == '\0')
        return true;
    if (!judge(w, BEFORE, &was) || !judge(w, NOW, &is))
        return false;
    count(&w->ret->units, was.is_in, is.is_in);
    w->ret->units.unknown_now += is.is_unknown;
    for (size_t i = 0; i < w->b[NOW]->scope.stations.n; i++) {
        count(&w->ret->stations, was.stations_in[i], is.stations_in[i]);
        w->ret->stations.unknown_now += w->answer.stations[i].verdict == SCOPE_UNKNOWN;
    }
    memset(w->sights, 0, sizeof w->sights);
    return true;
}

static bool see_build(void *me, const struct store_build *build)
{
    struct walk *w = me;
    if (strcmp(w->vin, build->vin) != 0) {
        const bool is_vin = strlen(build->vin) < sizeof w->vin; /* longer ones are left out */
        if (!end_unit(w))
            return false;
        snprintf(w->vin, sizeof w->vin, "%s", is_vin ? build->vin : "");
        if (!is_vin)
            return true;
    }
    for (int side = BEFORE; side < SIDES; side++) {
        const int station = w->b[side] != NULL ? station_index(w->b[side], build->station) : -1;
        struct fault unread = {0}; /* a label that cannot be read is a state, not a fault */
        if (station < 0 || build->label == NULL)
            continue;
        struct scope_sight *sight = &w->sights[side][station];
        if (adapt_scope_label(w->b[side], build->label, sight, &unread) != ERR_OK)
            *sight = (struct scope_sight){.state = SCOPE_LABEL_UNREAD};
    }
    return true;
}

static enum err walk_units(struct store *store, const struct bulletin *before,
                           const struct bulletin *now, struct whatif *ret, struct fault *f)
{
    struct walk *w = calloc(1, sizeof *w);
    if (w == NULL)
        return fault_no_memory(f);
    w->b[BEFORE] = before;
    w->b[NOW] = now;
    w->ret = ret;
    w->f = f;
    enum err err = adapt_scope_rule(now, &w->rules[NOW], f);
    if (err == ERR_OK && before != NULL)
        err = adapt_scope_rule(before, &w->rules[BEFORE], f);
    if (err == ERR_OK)
        err = store_builds(store, NULL, see_build, w, f);
    if (err == ERR_OK && w->err == ERR_OK)
        (void)end_unit(w);
    err = err == ERR_OK ? w->err : err;
    free(w);
    return err;
}

/* ---- claims ------------------------------------------------------------------------------------- */

struct claims {
    const struct bulletin *now;
    struct whatif *ret;
};

static int verdict_of(const char *name)
{
    for (int v = RULE_PAY; v <= RULE_VERDICT_REFUSE; v++)
        if (strcmp(rule_verdict_name((enum rule_verdict)v), name) == 0)
            return v;
    return WHATIF_VERDICTS - 1;
}

static int64_t shift(const struct whatif_claim *c)
{
    return c->now_minor > c->was_minor ? c->now_minor - c->was_minor : c->was_minor - c->now_minor;
}

/* Kept by how much money moves; of equals the one taken in first stands first. */
static void list(struct whatif *ret, const struct whatif_claim *c)
{
    size_t at = ret->n_listed;
    if (at == WHATIF_LISTED_MAX && shift(c) <= shift(&ret->listed[at - 1]))
        return;
    at -= at == WHATIF_LISTED_MAX;
    for (; at > 0 && shift(&ret->listed[at - 1]) < shift(c); at--)
        ret->listed[at] = ret->listed[at - 1];
    ret->listed[at] = *c;
    ret->n_listed += ret->n_listed < WHATIF_LISTED_MAX;
}

/* The rule that decides: of the gravest findings the first. RULE_N: there is no finding. */
static int decides(const struct rule_ruling *r)
{
    const struct rule_finding *gravest = NULL;
    for (size_t i = 0; i < r->n_findings; i++)
        if (gravest == NULL || r->findings[i].level > gravest->level)
            gravest = &r->findings[i];
    return gravest != NULL && gravest->level > RULE_NOTE ? (int)gravest->rule : RULE_N;
}

static bool see_claim(void *me, const struct ruling_seen *seen)
{
    const struct claims *x = me;
    struct whatif *ret = x->ret;
    const bool is_ruled = seen->before != NULL;
    if (strcmp(seen->claim->bulletin, x->now->head.id) != 0)
        return true;
    struct whatif_claim c = {.was =
                                 is_ruled ? verdict_of(seen->before->verdict) : WHATIF_VERDICTS - 1,
                             .was_minor = is_ruled ? seen->before->amount_minor : 0,
                             .paid_minor = seen->paid_minor};
    c.now = seen->is_overruled ? c.was : (int)seen->ruling->verdict;
    c.now_minor = seen->is_overruled ? c.was_minor : seen->ruling->amount_minor;
    strncpy(c.claim, seen->claim_id, sizeof c.claim - 1);
    strncpy(c.vin, seen->claim->vin, sizeof c.vin - 1);
    strncpy(ret->currency, seen->currency != NULL ? seen->currency : "", sizeof ret->currency - 1);
    ret->n_claims++;
    ret->n_overruled += seen->is_overruled;
    ret->moves[c.was][c.now]++;
    if (c.was != c.now) /* no person's word stands, so that the verdict is the rules' */
        ret->because[c.was][c.now][decides(seen->ruling)]++;
    ret->was_minor += c.was_minor;
    ret->now_minor += c.now_minor;
    if (c.paid_minor > c.now_minor)
        ret->owed_back_minor += c.paid_minor - c.now_minor;
    if (c.was != c.now || c.was_minor != c.now_minor) {
        ret->n_changed++;
        list(ret, &c);
    }
    return true;
}

enum err draft_whatif(struct store *store, const struct bulletin *before,
                      const struct bulletin *now, int64_t now_ms, int n_threads,
                      const struct known_progress *progress, struct whatif *ret,
                      struct fault *reterr)
{
    struct claims claims = {now, ret};
    const struct ruling_order order = {
        .bulletin = now, .now_ms = now_ms, .n_threads = n_threads, .is_trial = true};
    size_t n_unruled = 0;
    *ret = (struct whatif){.has_before = before != NULL,
                           .before_revision = before != NULL ? before->head.revision : 0};
    enum err err = walk_units(store, before, now, ret, reterr);
    if (err == ERR_OK)
        err = ruling_run(store, &order, progress, see_claim, &claims, &n_unruled, reterr);
    ret->n_unruled = (int64_t)n_unruled;
    return err;
}

/* ---- in words ----------------------------------------------------------------------------------- */

static const char *verdict_word(int v)
{
    return v == WHATIF_VERDICTS - 1 ? "unruled" : rule_verdict_name((enum rule_verdict)v);
}

static void put_scope(struct jsonw *w, const char *key, const struct whatif_scope *s,
                      bool has_before)
{
    jsonw_object(w, key);
    if (has_before)
        jsonw_int(w, "in_before", s->before);
    else
        jsonw_null(w, "in_before");
    jsonw_int(w, "in_now", s->now);
    jsonw_int(w, "swept_in", s->swept_in);
    jsonw_int(w, "let_out", s->let_out);
    jsonw_int(w, "unknown_now", s->unknown_now);
    jsonw_object_end(w);
}

int whatif_reason(const int64_t n_of[RULE_N + 1], int last)
{
    const int64_t n_last = last < 0 ? INT64_MAX : n_of[last];
    int best = -1;
    for (int r = 0; r <= RULE_N; r++) {
        const bool is_later = n_of[r] < n_last || (n_of[r] == n_last && r > last);
        if (is_later && n_of[r] > (best < 0 ? 0 : n_of[best]))
            best = r;
    }
    return best;
}

static void put_because(struct jsonw *w, const int64_t *n_of)
{
    jsonw_array(w, "because");
    for (int r = whatif_reason(n_of, -1); r >= 0; r = whatif_reason(n_of, r)) {
        jsonw_object(w, NULL);
        jsonw_string(w, "finding", r < RULE_N ? rule_rows[r].name : NULL);
        jsonw_int(w, "n", n_of[r]);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
}

static void put_claims(struct jsonw *w, const struct whatif *what)
{
    jsonw_object(w, "claims");
    jsonw_int(w, "n", what->n_claims);
    jsonw_int(w, "changed", what->n_changed);
    jsonw_int(w, "overruled", what->n_overruled);
    jsonw_int(w, "unruled", what->n_unruled);
    jsonw_array(w, "moves");
    for (int a = 0; a < WHATIF_VERDICTS; a++)
        for (int b = 0; b < WHATIF_VERDICTS; b++) {
            if (a == b || what->moves[a][b] == 0)
                continue;
            jsonw_object(w, NULL);
            jsonw_string(w, "was", verdict_word(a));
            jsonw_string(w, "now", verdict_word(b));
            jsonw_int(w, "n", what->moves[a][b]);
            put_because(w, what->because[a][b]);
            jsonw_object_end(w);
        }
    jsonw_array_end(w);
    jsonw_array(w, "dearest");
    for (size_t i = 0; i < what->n_listed; i++) {
        const struct whatif_claim *c = &what->listed[i];
        jsonw_object(w, NULL);
        jsonw_string(w, "claim", c->claim);
        jsonw_string(w, "vin", c->vin);
        jsonw_string(w, "was", verdict_word(c->was));
        jsonw_string(w, "now", verdict_word(c->now));
        jsonw_int(w, "was_minor", c->was_minor);
        jsonw_int(w, "now_minor", c->now_minor);
        jsonw_int(w, "paid_minor", c->paid_minor);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
    jsonw_object_end(w);
}

void draft_tell_whatif(const struct whatif *what, struct jsonw *w)
{
    if (what->has_before)
        jsonw_int(w, "against_revision", what->before_revision);
    else
        jsonw_null(w, "against_revision");
    put_scope(w, "units", &what->units, what->has_before);
    put_scope(w, "stations_in_scope", &what->stations, what->has_before);
    put_claims(w, what);
    jsonw_object(w, "money");
    tell_currency(w, what->currency[0] != '\0' ? what->currency : NULL);
    jsonw_int(w, "was_minor", what->was_minor);
    jsonw_int(w, "now_minor", what->now_minor);
    jsonw_int(w, "owed_back_minor", what->owed_back_minor);
    jsonw_object_end(w);
}

/* ---- from its text ------------------------------------------------------------------------------ */

/* NULL after reterr was set. */
static struct bulletin *load(const char *text, size_t n, struct fault *reterr)
{
    struct fault_list faults = {0};
    struct bulletin *b = bulletin_load(text, n, "", &faults);
    if (b == NULL && faults.n_faults > 0)
        *reterr = faults.faults[0];
    if (b == NULL)
        reterr->code = faults.is_out_of_memory ? ERR_MEMORY
                       : faults.is_unreadable  ? ERR_SYNTAX
                                               : ERR_DOMAIN;
    fault_list_done(&faults);
    return b;
}

/* The whole of it, by the digest of the text. */
static enum err tell_whole(const struct bulletin *b, const char *text, size_t n, struct jsonw *w,
                           struct fault *f)
{
    uint8_t digest[DIGEST_SHA256_SIZE];
    char hex[DIGEST_HEX_ROOM];
    const enum err err = digest_bytes(DIGEST_SHA256, text, n, digest);
    if (err != ERR_OK)
        return fault_set(f, err, "the digest could not be computed");
    digest_hex(digest, sizeof digest, hex);
    jsonw_object(w, "bulletin");
    jsonw_string(w, "sha256", hex);
    bulletin_write_json(b, w);
    jsonw_object_end(w);
    return ERR_OK;
}

struct draft_held {
    int64_t seq; /* its place in the log, where it never changes; 0: none */
    int32_t revision, issued;
    struct change_laid *laid;
};

struct draft_held *draft_held_new(void)
{
    return calloc(1, sizeof(struct draft_held));
}

void draft_held_free(struct draft_held *held)
{
    if (held == NULL)
        return;
    change_laid_free(held->laid);
    free(held);
}

struct newest {
    int64_t revision, seq;
};

static bool see_newest(void *me, const struct store_paper *p)
{
    struct newest *n = me;
    if (n->seq == 0 || p->revision > n->revision)
        *n = (struct newest){p->revision, p->seq};
    return true;
}

static enum err read_held(struct store *store, struct draft_held *held, const struct bulletin *b,
                          int64_t seq, struct fault *f)
{
    struct bulletin *read = NULL;
    struct change_laid *laid = NULL;
    enum err err = draft_before(store, b, &read, f);
    if (err == ERR_OK && read != NULL)
        err = change_lay(read, &laid, f);
    if (err == ERR_OK && read != NULL) {
        change_laid_free(held->laid);
        *held = (struct draft_held){seq, read->head.revision, read->head.issued, laid};
    }
    bulletin_free(read);
    return err;
}

/* Makes what is held the newest revision that is kept under the id of b; *ret_any false: there is none. */
static enum err hold_before(struct store *store, struct draft_held *held, const struct bulletin *b,
                            bool *ret_any, struct fault *f)
{
    struct newest newest = {0, 0};
    enum err err = store_hold(store, f);
    if (err != ERR_OK)
        return err;
    err = store_papers(store, "bulletin", b->head.id, false, see_newest, &newest, f);
    if (err == ERR_OK && newest.seq != 0 && newest.seq != held->seq)
        err = read_held(store, held, b, newest.seq, f);
    store_release(store);
    *ret_any = err == ERR_OK && newest.seq != 0;
    return err;
}

enum err draft_check(struct store *store, struct draft_held *held, const char *text, size_t n,
                     bool with_whole, struct jsonw *w, struct fault *reterr)
{
    struct fault_list faults = {0};
    struct change_list changes = {0};
    bool has_before = false;
    struct bulletin *b = bulletin_load(text, n, "", &faults);
    enum err err = faults.is_out_of_memory ? fault_no_memory(reterr) : ERR_OK;
    if (b != NULL && err == ERR_OK)
        err = hold_before(store, held, b, &has_before, reterr);
    if (has_before && err == ERR_OK)
        draft_warn_day(b, held->revision, held->issued, &faults);
    draft_tell_check(b, &faults, w);
    if (has_before && err == ERR_OK)
        err = changes_from(held->laid, b, &changes, reterr);
    if (has_before)
        jsonw_int(w, "against", held->revision);
    else
        jsonw_null(w, "against");
    draft_tell_changes(&changes, w);
    if (b != NULL && with_whole && err == ERR_OK)
        err = tell_whole(b, text, n, w, reterr);
    change_list_done(&changes);
    bulletin_free(b);
    fault_list_done(&faults);
    return err;
}

enum err draft_foresee(struct store *store, const char *text, size_t n, int64_t now_ms,
                       int n_threads, const struct known_progress *progress, struct jsonw *w,
                       struct fault *reterr)
{
    struct bulletin *before = NULL, *b = load(text, n, reterr);
    struct whatif *what = calloc(1, sizeof *what);
    enum err err = b == NULL ? reterr->code : ERR_OK;
    if (err == ERR_OK && what == NULL)
        err = fault_no_memory(reterr);
    if (err == ERR_OK)
        err = draft_before(store, b, &before, reterr);
    if (err == ERR_OK)
        err = draft_whatif(store, before, b, now_ms, n_threads, progress, what, reterr);
    if (err == ERR_OK) {
        jsonw_string(w, "id", b->head.id);
        jsonw_int(w, "revision", b->head.revision);
        draft_tell_whatif(what, w);
    }
    free(what);
    bulletin_free(before);
    bulletin_free(b);
    return err;
}

enum err draft_reference(struct text *out, char ret_sha256[65], struct fault *reterr)
{
    uint8_t sum[DIGEST_SHA256_SIZE];
    reference_json(out);
    if (out->is_broken)
        return fault_no_memory(reterr);
    const enum err err = digest_bytes(DIGEST_SHA256, out->data, out->size, sum);
    if (err != ERR_OK)
        return fault_set(reterr, err, "the digest cannot be made");
    digest_hex(sum, sizeof sum, ret_sha256);
    return ERR_OK;
}

enum err draft_sheet(const char *text, size_t n, bool on_letter, int64_t now_ms, struct text *out,
                     struct fault *reterr)
{
    struct bulletin *b = load(text, n, reterr);
    struct sheet_made made;
    if (b == NULL)
        return reterr->code;
    const struct sheet_order order = {
        .b = b, .size = on_letter ? PAPER_LETTER : PAPER_A4, .made_s = now_ms / 1000};
    const enum err err = sheet_make(&order, out, &made, reterr);
    bulletin_free(b);
    return err;
}

enum err draft_page(const char *text, size_t n, bool on_letter, const char *step, int page,
                    struct text *out, int *ret_page, int *ret_pages, struct fault *reterr)
{
    struct bulletin *b = load(text, n, reterr);
    struct sheet_made made = {0};
    if (b == NULL)
        return reterr->code;
    const struct sheet_order order = {.b = b,
                                      .size = on_letter ? PAPER_LETTER : PAPER_A4,
                                      .is_page = true,
                                      .page = page,
                                      .step = step};
    const enum err err = sheet_make(&order, out, &made, reterr);
    *ret_page = made.page;
    *ret_pages = made.n_pages;
    bulletin_free(b);
    return err;
}

/* Whether b may follow what holds. */
static enum err may_follow(const struct bulletin *b, const struct bulletin *holds, int64_t seen,
                           struct fault *f)
{
    const int64_t holds_revision = holds != NULL ? holds->head.revision : 0;
    if (seen != holds_revision)
        return fault_set(f, ERR_ORDER,
                         "revision %lld of %.60s was issued in the meantime; look at it first",
                         (long long)holds_revision, b->head.id);
    if (holds == NULL)
        return ERR_OK;
    if (b->head.revision <= holds_revision) {
        snprintf(f->path, sizeof f->path, "bulletin.revision");
        return fault_set(f, ERR_RANGE,
                         "revision %d is not above the one that holds; expected %lld or more",
                         b->head.revision, (long long)holds_revision + 1);
    }
    if (b->head.issued < holds->head.issued) {
        snprintf(f->path, sizeof f->path, "bulletin.issued");
        return fault_set(f, ERR_RANGE,
                         "it is issued on a day before that of revision %lld, which it replaces",
                         (long long)holds_revision);
    }
    return ERR_OK;
}

enum err draft_issue(struct store *store, struct signin *signin, const char *who, const char *text,
                     size_t n, int64_t before, int64_t now_ms, struct jsonw *w,
                     struct fault *reterr)
{
    struct bulletin *holds = NULL, *b = load(text, n, reterr);
    char hex[DIGEST_HEX_ROOM];
    bool is_new = false;
    enum err err = b == NULL ? reterr->code : draft_before(store, b, &holds, reterr);
    if (err == ERR_OK)
        err = may_follow(b, holds, before, reterr);
    if (err == ERR_OK) {
        struct store_paper paper = {.kind = "bulletin",
                                    .name = b->head.id,
                                    .revision = b->head.revision,
                                    .at_ms = now_ms,
                                    .text = text,
                                    .n = n};
        err = store_keep(store, &paper, &is_new, reterr);
        digest_hex(paper.sha256, sizeof paper.sha256, hex);
    }
    if (err == ERR_OK && is_new)
        err = audit_note_paper(store, signin, who, "bulletin", b->head.id, b->head.revision, now_ms,
                               reterr);
    if (err == ERR_OK) {
        jsonw_string(w, "id", b->head.id);
        jsonw_int(w, "revision", b->head.revision);
        jsonw_string(w, "sha256", hex);
    }
    bulletin_free(holds);
    bulletin_free(b);
    return err;
}
