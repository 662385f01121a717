/* audit: owns the one list that is made of the log's acts and of those beside the people. */
#include "desk/audit.h"

#include "desk/tell.h"
#include "store/acts.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const char *const audit_words[] = {"overruled", "taken-back", "paid",   "noted",   "paper",
                                   "builds",    "added",      "let-in", "changed", "link",
                                   "revoked",   "forgotten",  NULL};
/* By enum store_ruling_kind; STORE_RULED is never an act. */
static const char *const ruling_words[] = {"", "overruled", "paid", "taken-back", "noted"};
enum { RULING_WORDS = sizeof ruling_words / sizeof *ruling_words };

/* ---- three sources --------------------------------------------------------------------------------- */

/* Each source is read on its own, the newest first, until it has one act more than the page holds; then the newest of all are taken. */
struct source {
    struct reading *r;
    struct audit_act *acts;
    int64_t *places; /* seq, or n beside the people */
    size_t n;
};
enum { RULINGS, PAPERS, PEOPLE, SOURCES };

struct reading {
    const struct audit_order *order;
    struct signin *signin;
    struct arena *arena;
    struct source sources[SOURCES];
    enum err err;
    struct fault *f;
};

static const char *keep(struct reading *r, const char *text)
{
    return text != NULL ? arena_text(r->arena, text, strlen(text)) : NULL;
}

/* Whether the source goes on after this one. */
static bool add(struct source *s, int64_t place, const struct audit_act *act)
{
    s->acts[s->n] = *act;
    s->places[s->n++] = place;
    return s->n <= (size_t)s->r->order->limit && !s->r->arena->is_broken;
}

static bool see_ruling(void *me, const struct store_act *a)
{
    struct source *s = me;
    struct reading *r = s->r;
    const struct audit_act act = {.at_ms = a->at_ms,
                                  .seq = a->seq,
                                  .what =
                                      (int)a->ruling < RULING_WORDS ? ruling_words[a->ruling] : "",
                                  .who = keep(r, a->person),
                                  .detail = keep(r, a->reason),
                                  .claim = keep(r, a->claim),
                                  .verdict = keep(r, a->verdict),
                                  .currency = keep(r, a->currency),
                                  .amount_minor = a->amount_minor,
                                  .revision = STORE_UNKNOWN};
    return add(s, a->seq, &act);
}

static bool see_paper(void *me, const struct store_act *a)
{
    struct source *s = me;
    struct reading *r = s->r;
    char who[PEOPLE_NAME_MAX + 1];
    bool is_known = false;
    r->err = people_act_of(signin_people(r->signin), a->seq, who, &is_known, r->f);
    if (r->err != ERR_OK)
        return false;
    if (r->order->who != NULL && strcmp(who, r->order->who) != 0)
        return true;
    const struct audit_act act = {.at_ms = a->at_ms,
                                  .seq = a->seq,
                                  .what = "paper",
                                  .who = who[0] != '\0' ? keep(r, who) : NULL,
                                  .paper = keep(r, a->kind),
                                  .name = keep(r, a->name),
                                  .revision = a->revision};
    return add(s, a->seq, &act);
}

static bool see_people(void *me, const struct people_act *a)
{
    struct source *s = me;
    struct reading *r = s->r;
    const struct audit_order *o = r->order;
    /* A note on a paper only tells who kept it. */
    if (a->seq > 0 || (o->what != NULL && strcmp(o->what, a->what) != 0) ||
        (o->who != NULL && (a->who == NULL || strcmp(o->who, a->who) != 0)))
        return true;
    const struct audit_act act = {.at_ms = a->at_ms,
                                  .what = keep(r, a->what),
                                  .who = keep(r, a->who),
                                  .whom = keep(r, a->whom),
                                  .detail = keep(r, a->detail),
                                  .revision = STORE_UNKNOWN};
    return add(s, a->n, &act);
}

/* ---- the page --------------------------------------------------------------------------------------- */

/* The ruling's kind of a word; STORE_RULED for every kind, -1 when no ruling is asked for. */
static int kind_of(const char *what)
{
    for (int i = 1; what != NULL && i < RULING_WORDS; i++)
        if (strcmp(ruling_words[i], what) == 0)
            return i;
    return what == NULL ? 0 : -1;
}

/* "RULING.PAPER.PEOPLE": each source's last place on the page before. */
static enum err read_from(const char *from, int64_t ret[SOURCES], struct fault *f)
{
    for (size_t i = 0; i < SOURCES; i++) {
        char *end = NULL;
        ret[i] = INT64_MAX;
        if (from == NULL)
            continue;
        if (from[0] < '0' || from[0] > '9')
            return fault_set(f, ERR_SYNTAX, "is no place in the list; expected the next of a page");
        ret[i] = strtoll(from, &end, 10);
        if (*end != (i + 1 < SOURCES ? '.' : '\0'))
            return fault_set(f, ERR_SYNTAX, "is no place in the list; expected the next of a page");
        from = end + 1;
    }
    return ERR_OK;
}

static enum err read_all(struct store *store, struct reading *r, const int64_t from[SOURCES],
                         struct fault *f)
{
    const struct audit_order *o = r->order;
    const int kind = kind_of(o->what);
    enum err err = ERR_OK;
    if (kind >= 0)
        err = store_ruling_acts(store, from[RULINGS], (enum store_ruling_kind)kind, o->who,
                                see_ruling, &r->sources[RULINGS], f);
    if (err == ERR_OK && (o->what == NULL || strcmp(o->what, "paper") == 0))
        err = store_paper_acts(store, from[PAPERS], see_paper, &r->sources[PAPERS], f);
    if (err == ERR_OK && r->err == ERR_OK && (o->what == NULL || kind < 0))
        err =
            people_acts(signin_people(r->signin), from[PEOPLE], see_people, &r->sources[PEOPLE], f);
    return err != ERR_OK ? err : r->err;
}

/* The newest of what the sources have left; NULL: nothing. */
static struct source *newest(struct reading *r, const size_t used[SOURCES], size_t *ret_i)
{
    struct source *best = NULL;
    for (size_t i = 0; i < SOURCES; i++) {
        struct source *s = &r->sources[i];
        if (used[i] < s->n &&
            (best == NULL || s->acts[used[i]].at_ms > best->acts[used[*ret_i]].at_ms)) {
            best = s;
            *ret_i = i;
        }
    }
    return best;
}

static void merge(struct reading *r, int64_t last[SOURCES], struct audit_list *ret)
{
    size_t used[SOURCES] = {0}, i = 0;
    struct source *s = newest(r, used, &i);
    for (; s != NULL && ret->n < (size_t)r->order->limit; s = newest(r, used, &i)) {
        ret->acts[ret->n++] = s->acts[used[i]];
        last[i] = s->places[used[i]++];
    }
    ret->next[0] = '\0';
    if (s != NULL)
        snprintf(ret->next, sizeof ret->next, "%" PRId64 ".%" PRId64 ".%" PRId64, last[RULINGS],
                 last[PAPERS], last[PEOPLE]);
}

static enum err check_order(const struct audit_order *o, struct fault *f)
{
    size_t i = 0;
    if (o->limit < 1 || o->limit > AUDIT_LIMIT_MAX)
        return fault_set(f, ERR_LIMIT, "expected 1 to %d acts at once", AUDIT_LIMIT_MAX);
    while (o->what != NULL && audit_words[i] != NULL && strcmp(audit_words[i], o->what) != 0)
        i++;
    return o->what == NULL || audit_words[i] != NULL
               ? ERR_OK
               : fault_set(f, ERR_UNKNOWN, "'%.40s' is no kind of act", o->what);
}

enum err audit_read(struct store *store, struct signin *signin, const struct audit_order *order,
                    struct audit_list *ret, struct fault *reterr)
{
    int64_t from[SOURCES] = {0};
    *ret = (struct audit_list){0};
    struct reading r = {.order = order, .signin = signin, .arena = &ret->arena, .f = reterr};
    enum err err = check_order(order, reterr);
    if (err == ERR_OK)
        err = read_from(order->from, from, reterr);
    if (err != ERR_OK)
        return err;
    const size_t room = (size_t)order->limit + 1;
    for (size_t i = 0; i < SOURCES; i++)
        r.sources[i] = (struct source){.r = &r,
                                       .acts = arena_get(r.arena, room * sizeof *ret->acts),
                                       .places = arena_get(r.arena, room * sizeof(int64_t))};
    ret->acts = arena_get(r.arena, room * sizeof *ret->acts);
    if (!r.arena->is_broken)
        err = read_all(store, &r, from, reterr);
    if (err == ERR_OK && r.arena->is_broken)
        err = fault_no_memory(reterr);
    if (err == ERR_OK)
        merge(&r, from, ret);
    else
        audit_done(ret);
    return err;
}

void audit_done(struct audit_list *list)
{
    arena_done(&list->arena);
    *list = (struct audit_list){0};
}

/* ---- as JSON ----------------------------------------------------------------------------------------- */

void audit_json(const struct audit_list *list, struct jsonw *w)
{
    jsonw_array(w, "acts");
    for (size_t i = 0; i < list->n; i++) {
        const struct audit_act *a = &list->acts[i];
        jsonw_object(w, NULL);
        jsonw_int(w, "at_ms", a->at_ms);
        jsonw_string(w, "what", a->what);
        jsonw_string(w, "who", a->who);
        jsonw_string(w, "whom", a->whom);
        jsonw_string(w, "detail", a->detail);
        jsonw_string(w, "claim", a->claim);
        jsonw_string(w, "verdict", a->verdict);
        if (a->claim != NULL)
            jsonw_int(w, "amount_minor", a->amount_minor);
        else
            jsonw_null(w, "amount_minor");
        tell_currency(w, a->currency);
        jsonw_string(w, "paper", a->paper);
        jsonw_string(w, "name", a->name);
        if (a->revision != STORE_UNKNOWN)
            jsonw_int(w, "revision", a->revision);
        else
            jsonw_null(w, "revision");
        if (a->seq > 0)
            jsonw_int(w, "seq", a->seq);
        else
            jsonw_null(w, "seq");
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
    jsonw_string(w, "next", list->next[0] != '\0' ? list->next : NULL);
}

/* ---- noting ------------------------------------------------------------------------------------------ */

enum err audit_note(struct signin *signin, const char *who, const char *what, const char *detail,
                    int64_t now_ms, struct fault *reterr)
{
    const struct people_act act = {.at_ms = now_ms, .who = who, .what = what, .detail = detail};
    return people_note(signin_people(signin), &act, reterr);
}

struct holding {
    int64_t revision, seq;
};

static bool see_held(void *me, const struct store_paper *p)
{
    struct holding *h = me;
    if (p->revision == h->revision)
        h->seq = p->seq;
    return true;
}

enum err audit_note_paper(struct store *store, struct signin *signin, const char *who,
                          const char *kind, const char *name, int64_t revision, int64_t now_ms,
                          struct fault *reterr)
{
    struct holding h = {.revision = revision};
    const enum err err = store_papers(store, kind, name, false, see_held, &h, reterr);
    if (err != ERR_OK || h.seq == 0)
        return err;
    const struct people_act act = {.at_ms = now_ms, .who = who, .what = "paper", .seq = h.seq};
    return people_note(signin_people(signin), &act, reterr);
}
