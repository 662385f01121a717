/* rule_readings: owns the rules about readings: those wanted, their limits, when they were taken, and sets seen before. */
#include "desk/rule_in.h"

#include <stdio.h>
#include <string.h>

/* One wanted reading. */
struct reading {
    const struct bulletin_point *point;
    const struct rule_point *about;
    const struct event *event;
    size_t root; /* where it stands in the order of the job */
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
    rule_add(r, RULE_READING_UNCERTAIN, RULE_ASK, x->about->station);
}

static void judge(struct rule_run *r, const struct reading *x)
{
    const struct event_reading_taken *e = &x->event->as.reading_taken;
    struct conform_limits guarded = x->about->guarded;
    int64_t guard = x->about->guard;
    /* Another instrument of the bulletin than the point's own brings its own uncertainty. */
    if (e->instrument != NULL && strcmp(e->instrument, x->point->instrument) != 0 &&
        bulletin_instrument_find(r->b, e->instrument) != NULL) {
        const double u = conform_combine(bulletin_uncertainty(r->b, e->instrument));
        if (conform_guard_by(r->book->guard_factor, u, &guard) != ERR_OK ||
            conform_narrow(x->about->limits, guard, &guarded) != ERR_OK) {
            guard = x->about->guard;
            guarded = x->about->guarded;
        }
    }
    switch (conform_verdict(e->value.nano, x->about->limits, guard, guarded)) {
    case VERDICT_OUTSIDE:
        say_outside(r, x, e->value.nano);
        break;
    case VERDICT_UNCERTAIN:
        say_uncertain(r, x, e->value.nano, guard, guarded);
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

/* A dangerous step that comes before the reading's own one: the reading can only be right after it. */
static bool is_earlier_step(const struct rule_run *r, const struct reading *x, const char *step)
{
    for (int i = 0; i < x->about->step; i++)
        if (strcmp(r->b->steps.at[i].id, step) == 0)
            return r->b->steps.at[i].hazards.n > 0;
    return false;
}

/* Whether work after which the reading no longer holds stands later than it. The last cut and move count; of a step the first time
 * it was confirmed, as a room is supported again while it is trued. */
static bool spoils(const struct rule_run *r, const struct reading *x, const struct job_item *item)
{
    const size_t last = r->job->entries[item->entries[item->n - 1]].root;
    const bool is_here = item->station == NULL || x->about->station < 0 || x->about->is_reached ||
                         strcmp(item->station, r->sites[x->about->station].id) == 0;
    switch (item->type) {
    case EVENT_CUT:
        return is_here && last > x->root;
    case EVENT_MOVED:
        return last > x->root &&
               (item->target == EVENT_RACK ? is_here : has_effect(r->b, item->key, x->point->id));
    case EVENT_HOLD_CONFIRMED:
        return is_here && r->job->entries[item->entries[0]].root > x->root &&
               is_earlier_step(r, x, item->key);
    default:
        return false;
    }
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

static void judge_time(struct rule_run *r, const struct reading *x)
{
    const struct job_item *found = NULL;
    size_t found_root = 0;
    for (size_t i = 0; i < r->job->n_items; i++) {
        const struct job_item *item = &r->job->items[i];
        const size_t root = r->job->entries[item->entries[item->n - 1]].root;
        if (!spoils(r, x, item) || (found != NULL && root <= found_root))
            continue;
        found = item;
        found_root = root;
    }
    if (found != NULL)
        rule_message(r, "Reading %s was taken before the work was done: the %s %s%s came after it",
                     x->point->id, work_text(found), found->key, rule_of(found->station).text);
    else if (is_first_look(r, x))
        rule_message(
            r, "Reading %s was taken at step %s, before the work was done, and not again after it",
            x->point->id, x->event->as.reading_taken.step);
    else
        return;
    rule_cure(r, "Read it again on the finished unit and send the job with that reading.");
    rule_add(r, RULE_READING_EARLY, RULE_ASK, x->about->station);
}

/* ---- the readings wanted ---- */

static void say_missing(struct rule_run *r, const struct reading *x, const char *why)
{
    const char *name = bulletin_text_in(r->b, &x->point->name, r->b->head.language);
    rule_message(r, "Reading %s is missing%s: %s", x->point->id, why, name);
    rule_cure(r, "Read it on the finished unit and send the job again with it.");
    rule_add(r, RULE_READING_MISSING, RULE_ASK, x->about->station);
}

static void judge_point(struct rule_run *r, size_t i)
{
    struct reading x = {.point = &r->b->points.at[i], .about = &r->book->points[i]};
    x.event = rule_latest(r->job, EVENT_READING_TAKEN, x.point->id, &x.root);
    if (x.event == NULL) {
        say_missing(r, &x, "");
        return;
    }
    if (quantity_unit_dim(x.event->as.reading_taken.value.unit) != x.point->nominal.dim) {
        say_missing(r, &x, ", what was sent is of another kind");
        return;
    }
    judge(r, &x);
    judge_time(r, &x);
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
    rule_add(r, RULE_READINGS_COPIED, RULE_HOLD, RULE_WHOLE);
}

void rule_readings(struct rule_run *r)
{
    for (size_t i = 0; i < r->b->points.n; i++) {
        const struct rule_point *p = &r->book->points[i];
        if (p->is_wanted && (p->station < 0 || r->sites[p->station].is_worked))
            judge_point(r, i);
    }
    find_copied(r);
}
