/* rule_work: owns the rules about the work as it went: holds, the end, clocks, and times that cannot be. */
#include "desk/rule_in.h"

#include <string.h>

/* ---- holds ---- */

static void name_dangers(const struct bulletin_step *step, char *buf, size_t room)
{
    struct fill f;
    fill_start(&f, buf, room);
    for (size_t i = 0; i < step->hazards.n; i++) {
        fill_puts(&f, i > 0 ? ", " : "; its danger: ");
        fill_puts(&f, bulletin_hazard_name((enum bulletin_hazard)step->hazards.at[i]));
    }
}

static void say_skipped(struct rule_run *r, const struct bulletin_step *step, int station)
{
    char dangers[120];
    name_dangers(step, dangers, sizeof dangers);
    rule_message(r, "Step %s%s was not confirmed%s", step->id,
                 rule_of(station >= 0 ? r->sites[station].id : NULL).text, dangers);
    rule_cure(r, "Say who did this step and how, and send the job with it confirmed. Was it left "
                 "out: make the unit safe and do it, as the bulletin's cautions say.");
    rule_add(r, RULE_HOLD_SKIPPED, RULE_ASK, station);
}

static void find_skipped(struct rule_run *r)
{
    size_t root = 0, n_cut = 0;
    for (size_t s = 0; s < r->n_sites; s++)
        n_cut += r->sites[s].is_cut;
    for (size_t i = 0; i < r->b->steps.n; i++) {
        const struct bulletin_step *step = &r->b->steps.at[i];
        if (step->hold != BULLETIN_HOLD_CONFIRM)
            continue;
        if (step->per == BULLETIN_PER_UNIT) {
            const bool is_needed = !r->book->steps[i].is_only_cutting || n_cut > 0;
            if (is_needed && rule_latest(r->job, EVENT_HOLD_CONFIRMED, step->id, &root) == NULL)
                say_skipped(r, step, RULE_WHOLE);
            continue;
        }
        for (size_t s = 0; s < r->n_sites; s++) {
            const struct rule_site *site = &r->sites[s];
            if (site->is_worked && (!r->book->steps[i].is_only_cutting || site->is_cut) &&
                rule_item(r->job, site->at, EVENT_HOLD_CONFIRMED, step->id) == NULL)
                say_skipped(r, step, (int)s);
        }
    }
}

/* ---- the list of events ---- */

static void find_end(struct rule_run *r)
{
    if (r->n_worked == 0) {
        rule_message(
            r, "No station was worked on: no kit, no rack, no step of the work is written down");
        rule_cure(r, "Send the whole job. A unit that was only looked at is not claimed.");
        rule_add(r, RULE_NOT_FINISHED, RULE_ASK, RULE_WHOLE);
    }
    if (r->job->is_finished)
        return;
    rule_message(r, "The job was not finished, or was opened again since");
    rule_cure(r, "Finish the job in the program and send it again.");
    rule_add(r, RULE_NOT_FINISHED, RULE_ASK, RULE_WHOLE);
}

static enum rule_id rule_of_kind(enum job_finding_kind kind)
{
    return kind == JOB_CLOCK_BACK   ? RULE_CLOCK
           : kind == JOB_WORK_AFTER ? RULE_WORK_AFTER
                                    : RULE_EVENTS_ODD;
}

static void say_odd(struct rule_run *r, enum job_finding_kind kind, const struct job_finding *first,
                    size_t n)
{
    char id[ULID_TEXT_SIZE + 1], at[RULE_TIME_SIZE], more[48] = "";
    struct fill f;
    ulid_show(&first->event->id, id);
    fill_start(&f, more, sizeof more);
    if (n > 1) {
        fill_puts(&f, ", and ");
        fill_int(&f, (int64_t)n - 1);
        fill_puts(&f, " more like it");
    }
    rule_message(r, "The event %s (%s%s, %s) %s%s", id, event_types[first->event->type].name,
                 rule_of(first->event->station).text, rule_time(first->event->at_ms, at),
                 job_finding_text(kind), more);
    switch (rule_of_kind(kind)) {
    case RULE_CLOCK:
        rule_cure(r, "Nothing to send. Set the device's clock by the network; times of this job "
                     "are as good as its clock.");
        rule_add(r, RULE_CLOCK, RULE_NOTE, RULE_WHOLE);
        return;
    case RULE_WORK_AFTER:
        rule_cure(r, "Say what this was. Was the job not finished yet: open it again, finish it "
                     "after the last work, and send it again.");
        rule_add(r, RULE_WORK_AFTER, RULE_ASK, RULE_WHOLE);
        return;
    default:
        rule_cure(r, "Send the whole list of events from the device that wrote it, not edited.");
        rule_add(r, RULE_EVENTS_ODD, RULE_ASK, RULE_WHOLE);
    }
}

/* One finding a kind, by its first event in time. */
static void find_odd(struct rule_run *r)
{
    const struct job_finding *first[JOB_FINDING_N] = {NULL};
    size_t n[JOB_FINDING_N] = {0};
    for (size_t i = 0; i < r->job->n_findings; i++) {
        const struct job_finding *f = &r->job->findings[i];
        n[f->kind]++;
        if (first[f->kind] == NULL || event_compare(f->event, first[f->kind]->event) < 0)
            first[f->kind] = f;
    }
    for (int kind = 0; kind < JOB_FINDING_N; kind++)
        if (first[kind] != NULL)
            say_odd(r, (enum job_finding_kind)kind, first[kind], n[kind]);
}

/* ---- times that cannot be ---- */

/* Paid seconds of the stations that were worked on, and what is once a unit. */
static int64_t allowance_s(const struct rule_run *r)
{
    int64_t sum = r->b->labour.once_s;
    for (size_t i = 0; i < r->n_sites; i++)
        sum += r->sites[i].is_worked ? r->book->labour_s[i] : 0;
    return sum;
}

static void find_too_fast(struct rule_run *r)
{
    char took[RULE_AMOUNT_SIZE], least[RULE_AMOUNT_SIZE], each[RULE_AMOUNT_SIZE];
    const struct job_item *opened = job_item(r->job, EVENT_OPENED, NULL, NULL);
    const int64_t from =
        opened != NULL ? r->job->entries[opened->entries[0]].place_ms : r->job->first_ms;
    const int64_t fastest = r->b->claim.fastest_s;
    if (!r->job->is_finished || from == EVENT_ABSENT || r->n_worked == 0)
        return;
    const int64_t took_s = (r->job->finished_ms - from) / 1000;
    /* Without the bulletin's word: a quarter of the paid time. Ours, and said. */
    const int64_t least_s =
        fastest != BULLETIN_NO_AMOUNT ? fastest * (int64_t)r->n_worked : allowance_s(r) / 4;
    if (took_s >= least_s)
        return;
    rule_minutes(took_s / 60 * 60, took);
    if (fastest != BULLETIN_NO_AMOUNT)
        rule_message(r,
                     "The job took %s from opened to finished; honest work takes at least %s (%s "
                     "for each of %zu station%s, by the bulletin)",
                     took, rule_minutes(least_s, least), rule_minutes(fastest, each), r->n_worked,
                     r->n_worked == 1 ? "" : "s");
    else
        rule_message(r,
                     "The job took %s from opened to finished, less than %s: a quarter of the paid "
                     "time, a limit of ours as the bulletin gives none",
                     took, rule_minutes(least_s / 60 * 60, least));
    rule_cure(r, "Desk: ask the shop how the work went. Was the job opened in the program only "
                 "after the work: a word of the shop and photos with their times settle it.");
    rule_add(r, RULE_TOO_FAST, RULE_HOLD, RULE_WHOLE);
}

static bool overlaps(const struct rule_run *r, const struct rule_overlap *o)
{
    return r->job->first_ms != EVENT_ABSENT && o->first_ms < r->job->last_ms &&
           o->last_ms > r->job->first_ms;
}

static void find_two_at_once(struct rule_run *r)
{
    char first[RULE_TIME_SIZE], last[RULE_TIME_SIZE];
    for (size_t i = 0; i < r->known->n_overlaps; i++) {
        const struct rule_overlap *o = &r->known->overlaps[i];
        if (!overlaps(r, o))
            continue;
        rule_message(
            r, "The same technician has claim %.20s for unit %.20s in the same hours: %s to %s",
            o->claim, o->vin, rule_time(o->first_ms, first), rule_time(o->last_ms, last));
        rule_cure(r, "Desk: ask the shop who did which job. Two people under one name, or a job "
                     "left open over night: a word of the shop settles it.");
        rule_add(r, RULE_TWO_AT_ONCE, RULE_HOLD, RULE_WHOLE);
    }
}

static void find_future(struct rule_run *r)
{
    char last[RULE_TIME_SIZE], taken[RULE_TIME_SIZE];
    if (r->job->last_ms == EVENT_ABSENT || r->claim->taken_ms == STORE_UNKNOWN ||
        r->job->last_ms <= r->claim->taken_ms + RULE_CLOCK_MS)
        return;
    rule_message(r, "The job ends on %s, after it was taken in on %s",
                 rule_time(r->job->last_ms, last), rule_time(r->claim->taken_ms, taken));
    rule_cure(r, "The device's clock is wrong: say when the work was done, set the clock, and send "
                 "the job again.");
    rule_add(r, RULE_IN_FUTURE, RULE_ASK, RULE_WHOLE);
}

void rule_work(struct rule_run *r)
{
    if (r->n_worked > 0)
        find_skipped(r);
    find_end(r);
    find_odd(r);
    find_too_fast(r);
    find_two_at_once(r);
    find_future(r);
}
