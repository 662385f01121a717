/* rule_readings: owns the rules about readings: those wanted, their limits, when they were taken, and sets seen before. */
#include "desk/rule_in.h"

#include <stdio.h>
#include <string.h>

/* One wanted reading. */
struct reading {
    const struct bulletin_point *point;
    const struct rule_point *about;
    const struct event *event;
    size_t root;                 /* where it stands in the order of the job */
    const struct job_item *work; /* that came after it and spoils it; NULL */
    size_t work_root;
};

/* ---- limits ---- */

static const char *limits_text(const struct bulletin_point *p, struct conform_limits l, char *buf,
                               size_t room)
{
    char low[RULE_AMOUNT_SIZE], high[RULE_AMOUNT_SIZE];
    const enum unit unit = p->nominal.unit;
    if (l.low == l.high)
        snprintf(buf, room, "exactly %s", rule_amount(l.low, unit, low));
    else if (l.low == INT64_MIN)
        snprintf(buf, room, "at most %s", rule_amount(l.high, unit, high));
    else if (l.high == INT64_MAX)
        snprintf(buf, room, "at least %s", rule_amount(l.low, unit, low));
    else
        snprintf(buf, room, "%s to %s", rule_amount(l.low, unit, low),
                 rule_amount(l.high, unit, high));
    return buf;
}

static void say_outside(struct rule_run *r, const struct reading *x, int64_t nano)
{
    char value[RULE_AMOUNT_SIZE], limits[2 * RULE_AMOUNT_SIZE + 8];
    const char *otherwise = bulletin_text_in(r->b, &x->point->otherwise, r->b->head.language);
    rule_message(r, "Reading %s is %s, outside its limits: %s", x->point->id,
                 rule_amount(nano, x->point->nominal.unit, value),
                 limits_text(x->point, x->about->limits, limits, sizeof limits));
    if (otherwise[0] != '\0')
        rule_cure(r, "%s. Then read it again and send the job with the new reading.", otherwise);
    else if (x->about->is_reached)
        rule_cure(r, "True it by the bulletin, the room supported as its steps say; then read "
                     "again and send the job with the new readings.");
    else
        rule_cure(r, "Read it again. If it stands, ask the maker: the bulletin does not say what "
                     "to do. Send the job with the new reading.");
    rule_evidence(r, x->point->id, NULL, NULL);
    rule_add(r, RULE_READING_OUTSIDE, RULE_ASK, x->about->station);
}

static void say_uncertain(struct rule_run *r, const struct reading *x, int64_t nano, int64_t guard,
                          struct conform_limits guarded)
{
    char value[RULE_AMOUNT_SIZE], limits[2 * RULE_AMOUNT_SIZE + 8], band[RULE_AMOUNT_SIZE];
    const enum unit unit = x->point->nominal.unit;
    (void)quantity_show(guard, unit, 2, band, NULL);
    rule_message(r,
                 "Reading %s is %s, too near a limit to tell: with a risk of %.3g and this "
                 "instrument it counts as inside at %s (guard band %s)",
                 x->point->id, rule_amount(nano, unit, value), r->b->decision.risk,
                 limits_text(x->point, guarded, limits, sizeof limits), band);
    rule_cure(r, "Read it again, several times or with a finer instrument, or move it further "
                 "inside; send the job with the new reading.");
    rule_evidence(r, x->point->id, NULL, NULL);
    rule_add(r, RULE_READING_UNCERTAIN, RULE_ASK, x->about->station);
}

static struct rule_sight see(const struct rule_book *book, size_t point, const char *instrument,
                             int64_t nano)
{
    const struct rule_point *about = &book->points[point];
    struct rule_sight s = {
        .limits = about->limits, .guarded = about->guarded, .guard = about->guard, .u = about->u};
    /* Another instrument of the bulletin than the point's own brings its own uncertainty. */
    if (instrument != NULL && strcmp(instrument, book->b->points.at[point].instrument) != 0 &&
        bulletin_instrument_find(book->b, instrument) != NULL) {
        const double u = conform_combine(bulletin_uncertainty(book->b, instrument));
        struct conform_limits guarded;
        int64_t guard = 0;
        if (conform_guard_by(book->guard_factor, u, &guard) == ERR_OK &&
            conform_narrow(s.limits, guard, &guarded) == ERR_OK) {
            s.guard = guard;
            s.guarded = guarded;
            s.u = u;
        }
    }
    s.verdict = conform_verdict(nano, s.limits, s.guard, s.guarded);
    s.p = conform_p(nano, s.u, s.limits);
    return s;
}

bool rule_sight(const struct rule_book *book, const char *point, const char *instrument,
                int64_t nano, enum unit unit, struct rule_sight *ret)
{
    for (size_t i = 0; i < book->b->points.n; i++) {
        const struct bulletin_point *p = &book->b->points.at[i];
        if (strcmp(p->id, point) != 0)
            continue;
        if (unit == UNIT_N || quantity_unit_dim(unit) != p->nominal.dim)
            return false;
        *ret = see(book, i, instrument, nano);
        return true;
    }
    return false;
}

static void judge(struct rule_run *r, const struct reading *x)
{
    const struct event_reading_taken *e = &x->event->as.reading_taken;
    const struct rule_sight s =
        see(r->book, (size_t)(x->point - r->b->points.at), e->instrument, e->value.nano);
    switch (s.verdict) {
    case VERDICT_OUTSIDE:
        say_outside(r, x, e->value.nano);
        break;
    case VERDICT_UNCERTAIN:
        say_uncertain(r, x, e->value.nano, s.guard, s.guarded);
        break;
    case VERDICT_INSIDE:
        break;
    }
}

/* ---- taken before the work ---- */

static bool has_effect(const struct bulletin *b, const char *adjuster, const char *point)
{
    for (size_t i = 0; i < b->adjusters.n; i++) {
        if (strcmp(b->adjusters.at[i].id, adjuster) != 0)
            continue;
        for (size_t k = 0; k < b->adjusters.at[i].effects.n; k++)
            if (strcmp(b->adjusters.at[i].effects.at[k].point, point) == 0)
                return true;
    }
    return false;
}

/* Work after which some readings no longer hold. */
struct work {
    const struct job_item *item;
    size_t root; /* where it stands in the order of the job */
    int station; /* index; -1: the unit, or a station that the bulletin does not have */
    int step;    /* of a dangerous step that was confirmed; -1 */
};

static int dangerous_step(const struct bulletin *b, const char *id)
{
    for (size_t i = 0; i < b->steps.n; i++)
        if (strcmp(b->steps.at[i].id, id) == 0)
            return b->steps.at[i].hazards.n > 0 ? (int)i : -1;
    return -1;
}

/* false for what is no such work. The last cut and move count; of a step the first time it was confirmed, as a room is supported
 * again while it is trued. */
static bool read_work(const struct rule_run *r, const struct job_item *item, size_t since,
                      struct work *ret)
{
    const bool is_hold = item->type == EVENT_HOLD_CONFIRMED;
    if (!is_hold && item->type != EVENT_CUT && item->type != EVENT_MOVED)
        return false;
    const size_t root = r->job->entries[item->entries[is_hold ? 0 : item->n - 1]].root;
    if (root <= since)
        return false;
    *ret = (struct work){item, root, item->station != NULL ? rule_station(r->b, item->station) : -1,
                         is_hold ? dangerous_step(r->b, item->key) : -1};
    return !is_hold || ret->step >= 0;
}

/* Whether a reading no longer holds after this work, which stands later than it. */
static bool spoils(const struct rule_run *r, const struct reading *x, const struct work *w)
{
    const bool is_here = w->station < 0 || x->about->station < 0 || x->about->is_reached ||
                         w->station == x->about->station;
    if (w->item->type == EVENT_HOLD_CONFIRMED)
        return is_here && w->step < x->about->step;
    if (w->item->type == EVENT_MOVED && w->item->target != EVENT_RACK)
        return has_effect(r->b, w->item->key, x->point->id);
    return is_here;
}

static const char *work_text(const struct job_item *item)
{
    return item->type == EVENT_CUT ? "rack cut" : item->type == EVENT_MOVED ? "move" : "step";
}

/* The bulletin's first look at the unit reads the same points as its last. */
static bool is_first_look(const struct rule_run *r, const struct reading *x)
{
    const char *step = x->event->as.reading_taken.step;
    for (int i = 0; step != NULL && i < x->about->step; i++)
        if (strcmp(r->b->steps.at[i].id, step) == 0)
            return true;
    return false;
}

/* Finds for each reading the latest work that spoils it. */
static void find_work(const struct rule_run *r, struct reading *xs, size_t n)
{
    size_t first = SIZE_MAX;
    struct work w;
    for (size_t k = 0; k < n; k++)
        first = xs[k].root < first ? xs[k].root : first;
    for (size_t i = 0; i < r->job->n_items; i++) {
        if (!read_work(r, &r->job->items[i], first, &w))
            continue;
        for (size_t k = 0; k < n; k++) {
            struct reading *x = &xs[k];
            if (w.root <= x->root || (x->work != NULL && w.root <= x->work_root) ||
                !spoils(r, x, &w))
                continue;
            x->work = w.item;
            x->work_root = w.root;
        }
    }
}

static void judge_time(struct rule_run *r, const struct reading *x)
{
    if (x->work != NULL)
        rule_message(r, "Reading %s was taken before the work was done: the %s %s%s came after it",
                     x->point->id, work_text(x->work), x->work->key,
                     rule_of(x->work->station).text);
    else if (is_first_look(r, x))
        rule_message(
            r, "Reading %s was taken at step %s, before the work was done, and not again after it",
            x->point->id, x->event->as.reading_taken.step);
    else
        return;
    rule_cure(r, "Read it again on the finished unit and send the job with that reading.");
    rule_evidence(r, x->point->id, NULL, NULL);
    rule_add(r, RULE_READING_EARLY, RULE_ASK, x->about->station);
}

/* ---- the readings wanted ---- */

static void say_missing(struct rule_run *r, const struct reading *x, const char *why)
{
    const char *name = bulletin_text_in(r->b, &x->point->name, r->b->head.language);
    rule_message(r, "Reading %s is missing%s: %s", x->point->id, why, name);
    rule_cure(r, "Read it on the finished unit and send the job again with it.");
    rule_evidence(r, x->point->id, NULL, NULL);
    rule_add(r, RULE_READING_MISSING, RULE_ASK, x->about->station);
}

/* false when there is no such reading (and said). */
static bool read_point(struct rule_run *r, size_t i, struct reading *ret)
{
    *ret = (struct reading){.point = &r->b->points.at[i], .about = &r->book->points[i]};
    ret->event = rule_latest(r->job, EVENT_READING_TAKEN, ret->point->id, &ret->root);
    if (ret->event == NULL) {
        say_missing(r, ret, "");
        return false;
    }
    if (quantity_unit_dim(ret->event->as.reading_taken.value.unit) != ret->point->nominal.dim) {
        say_missing(r, ret, ", what was sent is of another kind");
        return false;
    }
    return true;
}

static void find_copied(struct rule_run *r)
{
    const struct rule_known *k = r->known;
    const char *first = k->n_same_readings > 0 ? k->same_readings[0] : NULL;
    for (size_t i = 1; i < k->n_same_readings; i++)
        if (strcmp(k->same_readings[i], first) < 0)
            first = k->same_readings[i];
    if (first == NULL)
        return;
    if (k->n_same_readings == 1)
        rule_message(r,
                     "The final readings are those of claim %.20s, value for value at every point",
                     first);
    else
        rule_message(r,
                     "The final readings are those of claim %.20s and of %zu more, value for value "
                     "at every point",
                     first, k->n_same_readings - 1);
    rule_cure(r, "Desk: two units never read alike at every point. Ask the shop to read this unit "
                 "again, with photos of the instrument.");
    rule_evidence(r, NULL, first, NULL);
    rule_add(r, RULE_READINGS_COPIED, RULE_HOLD, RULE_WHOLE);
}

void rule_readings(struct rule_run *r)
{
    struct reading xs[BULLETIN_POINTS_MAX];
    size_t n = 0;
    for (size_t i = 0; i < r->b->points.n; i++) {
        const struct rule_point *p = &r->book->points[i];
        if (p->is_wanted && (p->station < 0 || r->sites[p->station].is_worked))
            n += read_point(r, i, &xs[n]);
    }
    find_work(r, xs, n);
    for (size_t i = 0; i < n; i++) {
        judge(r, &xs[i]);
        judge_time(r, &xs[i]);
    }
    find_copied(r);
}
