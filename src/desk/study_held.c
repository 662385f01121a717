/* study_held: owns the question whether the fix held. */
#include "desk/study_held.h"

#define FAILED_MAX 2000000000
#define UNLIKE     2.0 /* times watched on average that differ by more than this factor */

void study_held_wants(const char *repaired, const char *failed, const char *time,
                      struct study_want wants[HELD_COLUMNS])
{
    wants[HELD_REPAIRED] = (struct study_want){.column = repaired, .type = STUDY_YES};
    wants[HELD_FAILED] = (struct study_want){
        .column = failed, .type = STUDY_NUMBER, .low = 0, .high = 1e6, .is_whole = true};
    wants[HELD_TIME] =
        (struct study_want){.column = time, .type = STUDY_NUMBER, .low = 0, .high = 1e12};
}

static enum err add_up(const struct study_table *t, struct study_held *r, struct fault *f)
{
    const uint8_t *repaired = study_yes(t, HELD_REPAIRED);
    const double *failed = study_numbers(t, HELD_FAILED), *time = study_numbers(t, HELD_TIME);
    if (study_rows(t) == 0)
        return study_table_fault(t, f, ERR_EMPTY, "found no row; expected units");
    for (size_t i = 0; i < study_rows(t); i++) {
        struct study_held_side *side = repaired[i] ? &r->repaired : &r->others;
        side->n++;
        side->n_failed += (int64_t)failed[i];
        side->time += time[i];
        if (side->n_failed > FAILED_MAX / 2)
            return study_row_fault(t, i, HELD_FAILED, f, ERR_RANGE,
                                   "more than %d failures up to here", FAILED_MAX / 2);
    }
    const struct study_held_side *none = !(r->repaired.time > 0) ? &r->repaired
                                         : !(r->others.time > 0) ? &r->others
                                                                 : NULL;
    if (none != NULL)
        return study_table_fault(t, f, ERR_DOMAIN,
                                 "the %s units were watched for no time, so their rate is unknown",
                                 none == &r->repaired ? "repaired" : "other");
    if (r->repaired.n_failed + r->others.n_failed == 0)
        return study_table_fault(t, f, ERR_DOMAIN,
                                 "nothing failed, repaired or not, so there is nothing to compare");
    return ERR_OK;
}

static void find_rate(struct study_held_side *s, double confidence)
{
    s->rate = (double)s->n_failed / s->time;
    rates_bounds(s->n_failed, s->time, confidence, &s->low, &s->high);
}

static void note_all(struct study_held *r)
{
    const double mine = r->repaired.time / (double)r->repaired.n;
    const double theirs = r->others.time / (double)r->others.n;
    study_note(&r->notes, STUDY_ASSUMED,
               "Repaired and other units are alike but for the repair: the same builds, use and "
               "time of the year, and failures of both are reported alike.");
    study_note(&r->notes, STUDY_ASSUMED,
               "Failures come at a constant rate; when units wear, compare like ages (a life study "
               "with the age at which each unit came under watch).");
    if (mine > UNLIKE * theirs || theirs > UNLIKE * mine)
        study_note(
            &r->notes, STUDY_CAVEAT,
            "Repaired units were watched for %.3g on average, the others for %.3g: a fix that "
            "only puts the failure off looks good in a short time.",
            mine, theirs);
    else
        study_note(&r->notes, STUDY_CHECKED,
                   "Both were watched for about as long (%.3g and %.3g on average).", mine, theirs);
    if (r->repaired.n_failed + r->others.n_failed < 5)
        study_note(&r->notes, STUDY_CAVEAT,
                   "Fewer than five failures in all: the interval is right, but wide.");
}

enum err study_held(const struct study_table *t, const struct study_held_order *order,
                    struct study_held *ret, struct fault *reterr)
{
    struct study_held r = {.verdict = HELD_UNCERTAIN};
    const enum err e = add_up(t, &r, reterr);
    if (e != ERR_OK)
        return e;
    find_rate(&r.repaired, order->confidence);
    find_rate(&r.others, order->confidence);
    if (!rates_compare(r.repaired.n_failed, r.repaired.time, r.others.n_failed, r.others.time,
                       order->confidence, &r.rates))
        return fault_set(reterr, ERR_DOMAIN, "nothing failed");
    if (r.rates.high < order->at_most)
        r.verdict = HELD_HOLDS;
    else if (r.rates.low > (order->at_most > 1 ? order->at_most : 1))
        r.verdict = HELD_WORSE;
    note_all(&r);
    *ret = r;
    return ERR_OK;
}
