/* study_rows: owns the rows that follow from build days, repairs and failures, and the minutes told; what a study is told about them. */
#include "desk/study_rows.h"
#include "desk/study_rows_inner.h"

#include "base/csv.h"
#include "core/date.h"

#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { FIELD_ROOM = 256, SPAN_MAX = 200000 /* days between 1900 and 2199, and some */ };

/* ---- writing ------------------------------------------------------------------------------- */

void rows_say(struct study_rows *r, const char *option, const char *fmt, ...)
{
    va_list ap;
    if (r->n_says == ROWS_SAYS_MAX)
        return;
    struct study_rows_say *say = &r->says[r->n_says++];
    say->option = option;
    va_start(ap, fmt);
    (void)vsnprintf(say->value, sizeof say->value, fmt, ap);
    va_end(ap);
}

const char *study_rows_value(const struct study_rows *r, const char *option)
{
    for (size_t i = 0; i < r->n_says; i++)
        if (strcmp(r->says[i].option, option) == 0)
            return r->says[i].value;
    return NULL;
}

void rows_put(struct study_rows *r, bool is_first, const char *fmt, ...)
{
    char field[FIELD_ROOM];
    va_list ap;
    va_start(ap, fmt);
    (void)vsnprintf(field, sizeof field, fmt, ap);
    va_end(ap);
    csv_put(&r->csv, is_first, field, strlen(field));
}

void rows_end(struct study_rows *r)
{
    csv_put_end(&r->csv);
    r->n_rows++;
}

void rows_head(struct study_rows *r, const char *head)
{
    text_puts(&r->csv, head);
    text_puts(&r->csv, "\r\n");
}

static void note_left_out(struct study_rows *r, size_t n, const char *what)
{
    if (n > 0)
        study_note(&r->notes, STUDY_CHECKED, "Left out: %zu %s.", n, what);
}

/* What every study that counts failures says of the list. */
static void note_failures(struct rows_run *run)
{
    struct study_notes *notes = &run->r->notes;
    const struct study_sites *s = run->s;
    if (!s->has_failures)
        study_note(notes, STUDY_CAVEAT,
                   "No list of failure reports is kept in this store (store keep failures), so no "
                   "failure is known.");
    else
        study_note(notes, STUDY_ASSUMED,
                   "The list of failure reports is complete: %zu failures, those not reported "
                   "count as none.",
                   s->failures.n);
    note_left_out(run->r, s->n_strangers, "failures of stations that are not in the build list");
}

static bool has_variant(const struct rows_run *run, const struct study_site *site)
{
    return run->variant < 0 || site->variant == run->variant;
}

static const char *variant_name(const struct rows_run *run, const struct study_site *site)
{
    return site->variant >= 0 ? run->s->bulletin->scope.variants.at[site->variant].id : "";
}

/* The first failure before any repair and not after `until`; ROWS_NO_DAY: none. */
static int32_t first_failure(const struct rows_run *run, const struct study_site *site)
{
    if (site->n_failed == 0 || site->failed[0].failed > run->r->until ||
        (site->repaired != SITES_NO_DAY && site->failed[0].failed > site->repaired))
        return ROWS_NO_DAY;
    return site->failed[0].failed;
}

/* ---- window -------------------------------------------------------------------------------- */

struct count {
    uint32_t built, failed;
};

static void put_days(struct study_rows *r, const struct count *days, int32_t from, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        char day[DATE_SHOW_SIZE];
        if (days[i].built == 0)
            continue;
        date_show(from + (int32_t)i, day);
        rows_put(r, true, "%s", day);
        rows_put(r, false, "%" PRIu32, days[i].built);
        rows_put(r, false, "%" PRIu32, days[i].failed);
        rows_end(r);
    }
}

static enum err rows_window(struct rows_run *run)
{
    const struct study_sites *s = run->s;
    size_t n_unread = 0, n_used = 0, n_early = 0, n_spans = 0;
    int32_t from = INT32_MAX, to = INT32_MIN;
    for (size_t i = 0; i < s->n; i++) {
        if (!s->at[i].is_read || !has_variant(run, &s->at[i]))
            continue;
        from = s->at[i].first < from ? s->at[i].first : from;
        to = s->at[i].first > to ? s->at[i].first : to;
    }
    const size_t span = to >= from ? (size_t)(to - from) + 1 : 1;
    if (span > SPAN_MAX)
        return fault_set(run->f, ERR_LIMIT, "the build list spans more than %d days", SPAN_MAX);
    struct count *days = calloc(span, sizeof *days);
    if (days == NULL)
        return fault_no_memory(run->f);
    for (size_t i = 0; i < s->n; i++) {
        const struct study_site *site = &s->at[i];
        n_unread += !site->is_read;
        if (!site->is_read || !has_variant(run, site))
            continue;
        const int32_t failed = first_failure(run, site);
        n_used++;
        n_spans += site->first != site->last;
        n_early += failed != ROWS_NO_DAY && failed < site->first;
        days[site->first - from].built++;
        days[site->first - from].failed += failed != ROWS_NO_DAY && failed >= site->first;
    }
    rows_head(run->r, "day,built,failed");
    put_days(run->r, days, from, span);
    free(days);
    rows_say(run->r, "--day", "day");
    rows_say(run->r, "--built", "built");
    rows_say(run->r, "--failed", "failed");
    study_note(&run->r->notes, STUDY_CHECKED,
               "Rows: %zu stations of %zu units in the build list, by the day on their label; "
               "failed are those that failed before any repair, each once.",
               n_used, s->n_units);
    if (n_spans > 0)
        study_note(&run->r->notes, STUDY_ASSUMED,
                   "%zu labels name a week or a month: their first day is taken, so no end is "
                   "known to the day.",
                   n_spans);
    note_left_out(run->r, n_unread, "stations whose label in the build list cannot be read");
    note_left_out(run->r, n_early, "failures told for a day before the station was built");
    note_failures(run);
    return ERR_OK;
}

/* ---- life ---------------------------------------------------------------------------------- */

static enum err rows_life(struct rows_run *run)
{
    const struct study_sites *s = run->s;
    size_t n_unread = 0, n_early = 0;
    rows_head(run->r, "vin,station,days,failed,variant");
    for (size_t i = 0; i < s->n; i++) {
        const struct study_site *site = &s->at[i];
        const int32_t failed = first_failure(run, site);
        int32_t end = failed != ROWS_NO_DAY ? failed : run->r->until;
        n_unread += !site->is_read;
        if (!site->is_read || !has_variant(run, site))
            continue;
        if (failed == ROWS_NO_DAY && site->repaired != SITES_NO_DAY && site->repaired < end)
            end = site->repaired;
        if (end < site->first) {
            n_early++;
            continue;
        }
        rows_put(run->r, true, "%s", site->vin);
        rows_put(run->r, false, "%s", s->bulletin->scope.stations.at[site->station].id);
        /* Of a failure on the very day of building half a day is told: a curve has no failure at 0. */
        rows_put(run->r, false, failed != ROWS_NO_DAY && end == site->first ? "0.5" : "%" PRId32,
                 end - site->first);
        rows_put(run->r, false, "%d", failed != ROWS_NO_DAY);
        rows_put(run->r, false, "%s", variant_name(run, site));
        rows_end(run->r);
    }
    rows_say(run->r, "--time", "days");
    rows_say(run->r, "--event", "failed");
    if (run->variant < 0 && s->bulletin->scope.variants.n > 1)
        rows_say(run->r, "--group", "variant");
    study_note(
        &run->r->notes, STUDY_CHECKED,
        "Rows: %zu stations, in days from the first day of their label to the first failure; "
        "those repaired before are watched until their repair.",
        run->r->n_rows);
    study_note(
        &run->r->notes, STUDY_ASSUMED,
        "Service begins on the day of building: the store does not know when a unit was sold.");
    note_left_out(run->r, n_unread, "stations whose label in the build list cannot be read");
    note_left_out(run->r, n_early,
                  "stations that failed or were repaired before the first day of their label");
    note_failures(run);
    return ERR_OK;
}

/* ---- completion ---------------------------------------------------------------------------- */

/* One unit's sites: at[i..ret) ; whether one is in scope, and its first claim. */
static size_t next_unit(const struct rows_run *run, size_t i, bool *ret_in, bool *ret_unknown,
                        int32_t *ret_claimed)
{
    const struct study_sites *s = run->s;
    size_t end = i;
    *ret_in = *ret_unknown = false;
    *ret_claimed = SITES_NO_DAY;
    for (; end < s->n && strcmp(s->at[end].vin, s->at[i].vin) == 0; end++) {
        const struct study_site *site = &s->at[end];
        *ret_in = *ret_in || (site->is_in && has_variant(run, site));
        *ret_unknown = *ret_unknown || site->is_unknown;
        if (site->claimed != SITES_NO_DAY &&
            (*ret_claimed == SITES_NO_DAY || site->claimed < *ret_claimed))
            *ret_claimed = site->claimed;
    }
    *ret_unknown = *ret_unknown && !*ret_in;
    return end;
}

static enum err rows_completion(struct rows_run *run)
{
    struct study_rows *r = run->r;
    const struct study_sites *s = run->s;
    size_t n_unknown = 0, n_come = 0, n_same = 0;
    rows_head(r, "vin,days,come");
    for (size_t i = 0, end = 0; i < s->n; i = end) {
        bool is_in = false, is_unknown = false;
        int32_t claimed = SITES_NO_DAY;
        end = next_unit(run, i, &is_in, &is_unknown, &claimed);
        n_unknown += is_unknown;
        if (!is_in)
            continue;
        const bool has_come = claimed != SITES_NO_DAY && claimed <= r->until;
        const int32_t days = (has_come ? claimed : r->until) - r->notice;
        n_come += has_come;
        n_same += has_come && days <= 0;
        rows_put(r, true, "%s", s->at[i].vin);
        rows_put(r, false, has_come && days <= 0 ? "0.5" : "%" PRId32, days);
        rows_put(r, false, "%d", has_come);
        rows_end(r);
    }
    rows_say(r, "--time", "days");
    rows_say(r, "--event", "come");
    study_note(&r->notes, STUDY_CHECKED,
               "Rows: %zu units in scope by the build list; %zu have sent a claim, whatever became "
               "of it.",
               r->n_rows, n_come);
    study_note(&r->notes, STUDY_ASSUMED, "Every unit in scope was given notice on the same day.");
    if (n_same > 0)
        study_note(&r->notes, STUDY_ASSUMED,
                   "%zu claims came on the day of the notice or before it: half a day is counted.",
                   n_same);
    note_left_out(r, n_unknown, "units whose labels do not tell whether they are in scope");
    return ERR_OK;
}

/* ---- held ---------------------------------------------------------------------------------- */

static void put_side(struct rows_run *run, const struct study_site *site, int is_repaired,
                     int32_t from, int32_t to)
{
    size_t failed = 0;
    for (size_t i = 0; i < site->n_failed; i++)
        failed += site->failed[i].failed > from && site->failed[i].failed <= to;
    if (to <= from)
        return;
    rows_put(run->r, true, "%s", site->vin);
    rows_put(run->r, false, "%s", run->s->bulletin->scope.stations.at[site->station].id);
    rows_put(run->r, false, "%d", is_repaired);
    rows_put(run->r, false, "%zu", failed);
    rows_put(run->r, false, "%" PRId32, to - from);
    rows_end(run->r);
}

static enum err rows_held(struct rows_run *run)
{
    struct study_rows *r = run->r;
    size_t n_in = 0, n_repaired = 0;
    rows_head(r, "vin,station,repaired,failed,days");
    for (size_t i = 0; i < run->s->n; i++) {
        const struct study_site *site = &run->s->at[i];
        if (!site->is_in || !has_variant(run, site))
            continue;
        const bool is_repaired = site->repaired != SITES_NO_DAY && site->repaired <= r->until;
        n_in++;
        n_repaired += is_repaired;
        put_side(run, site, 0, r->notice, is_repaired ? site->repaired : r->until);
        if (is_repaired)
            put_side(run, site, 1, site->repaired > r->notice ? site->repaired : r->notice,
                     r->until);
    }
    rows_say(r, "--repaired", "repaired");
    rows_say(r, "--failed", "failed");
    rows_say(r, "--time", "days");
    study_note(&r->notes, STUDY_CHECKED,
               "Rows: %zu stations in scope, of which %zu were repaired; each is watched from the "
               "notice until its repair, and from the day after it.",
               n_in, n_repaired);
    study_note(&r->notes, STUDY_ASSUMED,
               "Who came for the repair would have failed as often as who did not.");
    note_failures(run);
    return ERR_OK;
}

/* ---- labour -------------------------------------------------------------------------------- */

struct job {
    const struct study_visit *v;
};

static int by_shop(const void *a, const void *b)
{
    const struct study_visit *x = ((const struct job *)a)->v, *y = ((const struct job *)b)->v;
    const int c = strcmp(x->shop, y->shop);
    if (c != 0)
        return c;
    if (x->finished_ms != y->finished_ms)
        return x->finished_ms < y->finished_ms ? -1 : 1;
    return (x->seq > y->seq) - (x->seq < y->seq);
}

static void put_labour(struct study_rows *r, const struct job *list, size_t n)
{
    size_t order = 0;
    for (size_t i = 0; i < n; i++) {
        order = i > 0 && strcmp(list[i].v->shop, list[i - 1].v->shop) == 0 ? order + 1 : 1;
        rows_put(r, true, "%s", list[i].v->claim);
        rows_put(r, false, "%s", list[i].v->shop);
        rows_put(r, false, "%zu", order);
        rows_put(r, false, "%.17g", (double)list[i].v->labour_s / 60);
        rows_put(r, false, "%d", list[i].v->n_done);
        rows_end(r);
    }
}

static enum err rows_labour(struct rows_run *run)
{
    const struct study_sites *s = run->s;
    struct study_rows *r = run->r;
    size_t n = 0, n_refused = 0, n_untold = 0, most = 0, counts[BULLETIN_STATIONS_MAX + 1] = {0};
    struct job *list = calloc(s->n_visits + 1, sizeof *list);
    if (list == NULL)
        return fault_no_memory(run->f);
    for (size_t i = 0; i < s->n_visits; i++) {
        const struct study_visit *v = &s->visits[i];
        const bool is_told = v->labour_s != STORE_UNKNOWN && v->labour_s > 0 &&
                             v->shop[0] != '\0' && v->finished_ms != STORE_UNKNOWN;
        n_refused += v->is_refused;
        n_untold += !v->is_refused && !is_told;
        if (v->is_refused || !is_told)
            continue;
        list[n++].v = v;
        counts[v->n_done <= BULLETIN_STATIONS_MAX ? v->n_done : BULLETIN_STATIONS_MAX]++;
    }
    for (size_t i = 0; i <= BULLETIN_STATIONS_MAX; i++)
        most = counts[i] > most ? counts[i] : most;
    qsort(list, n, sizeof *list, by_shop);
    rows_head(r, "claim,shop,order,minutes,stations");
    put_labour(r, list, n);
    free(list);
    rows_say(r, "--minutes", "minutes");
    rows_say(r, "--order", "order");
    rows_say(r, "--by", "shop");
    study_note(
        &r->notes, STUDY_CHECKED,
        "Rows: %zu claims with the minutes their technician told, in the order in which each "
        "shop finished them.",
        n);
    if (most < n)
        study_note(
            &r->notes, STUDY_CAVEAT,
            "Claims of different numbers of stations stand side by side (%zu of %zu have the "
            "most frequent number): the column \"stations\" tells them apart.",
            most, n);
    note_left_out(r, n_refused, "claims that stand refused");
    note_left_out(r, n_untold, "claims without minutes, a shop or a finish");
    return ERR_OK;
}

/* ---- audit --------------------------------------------------------------------------------- */

static enum err rows_audit(struct rows_run *run)
{
    const struct study_sites *s = run->s;
    size_t lot = 0;
    for (size_t i = 0, end = 0; i < s->n; i = end) {
        bool is_open = false, is_in = false;
        for (end = i; end < s->n && strcmp(s->at[end].vin, s->at[i].vin) == 0; end++) {
            is_in = is_in || s->at[end].is_in;
            is_open = is_open || (s->at[end].is_in && s->at[end].repaired == SITES_NO_DAY);
        }
        lot += is_in && !is_open;
    }
    if (lot == 0)
        return fault_set(run->f, ERR_IMPOSSIBLE,
                         "no unit in scope is finished yet, so there is no lot to draw from");
    rows_say(run->r, "--lot", "%zu", lot);
    study_note(&run->r->notes, STUDY_CHECKED,
               "The lot: %zu units whose stations in scope are all repaired, by claims that do not "
               "stand refused.",
               lot);
    return ERR_OK;
}

static enum err rows_gauge(struct rows_run *run)
{
    return fault_set(run->f, ERR_IMPOSSIBLE,
                     "a store holds no part that several people measured several times; have them "
                     "measured in class, and give that file");
}

/* ---- all of it ----------------------------------------------------------------------------- */

static enum err find_variant(struct rows_run *run)
{
    const struct bulletin *b = run->s->bulletin;
    run->variant = -1;
    if (run->o->variant == NULL)
        return ERR_OK;
    for (size_t i = 0; i < b->scope.variants.n; i++)
        if (strcmp(b->scope.variants.at[i].id, run->o->variant) == 0)
            run->variant = (int)i;
    return run->variant >= 0
               ? ERR_OK
               : fault_set(run->f, ERR_UNKNOWN, "the bulletin %s has no variant '%.60s'",
                           b->head.id, run->o->variant);
}

static void note_days(struct rows_run *run)
{
    char notice[DATE_SHOW_SIZE], until[DATE_SHOW_SIZE];
    struct study_rows *r = run->r;
    date_show(r->notice, notice);
    date_show(r->until, until);
    if (run->o->kind == ROWS_COMPLETION || run->o->kind == ROWS_HELD)
        study_note(
            &r->notes, STUDY_ASSUMED, "Notice was given on %s%s; watched until %s%s.", notice,
            run->o->notice == ROWS_NO_DAY ? ", the bulletin's day of issue" : "", until,
            run->o->until == ROWS_NO_DAY ? ", the last day from which the store has heard" : "");
    else if (run->o->kind == ROWS_LIFE || run->o->kind == ROWS_WINDOW)
        study_note(&r->notes, STUDY_ASSUMED, "Watched until %s%s.", until,
                   run->o->until == ROWS_NO_DAY ? ", the last day from which the store has heard"
                                                : "");
}

enum err study_rows_make(struct store *store, const struct study_sites *sites,
                         const struct study_rows_order *order, const struct study_watch *watch,
                         struct study_rows *ret, struct fault *reterr)
{
    static enum err (*const kinds[ROWS_KIND_N])(struct rows_run *) = {
        [ROWS_WINDOW] = rows_window,         [ROWS_LIFE] = rows_life,
        [ROWS_COMPLETION] = rows_completion, [ROWS_HELD] = rows_held,
        [ROWS_LABOUR] = rows_labour,         [ROWS_GAUGE] = rows_gauge,
        [ROWS_CAPABILITY] = rows_capability, [ROWS_AUDIT] = rows_audit,
        [ROWS_DIGITS] = rows_digits,         [ROWS_KITS] = rows_kits,
    };
    struct rows_run run = {store, sites, order, watch, ret, reterr, -1};
    *ret = (struct study_rows){
        .notice = order->notice != ROWS_NO_DAY ? order->notice : sites->bulletin->head.issued,
        .until = order->until != ROWS_NO_DAY ? order->until : sites->heard};
    enum err e = find_variant(&run);
    if (e == ERR_OK && ret->until < ret->notice &&
        (order->kind == ROWS_COMPLETION || order->kind == ROWS_HELD))
        e = fault_set(reterr, ERR_IMPOSSIBLE, "the last day watched lies before the notice");
    if (e == ERR_OK)
        e = kinds[order->kind](&run);
    if (e == ERR_OK) {
        note_days(&run);
        if (sites->n_other_station > 0)
            study_note(&ret->notes, STUDY_CAVEAT,
                       "%zu rows of the build list name a station that the bulletin does not have.",
                       sites->n_other_station);
        if (ret->csv.is_broken)
            e = fault_no_memory(reterr);
    }
    if (e != ERR_OK)
        study_rows_done(ret);
    return e;
}

void study_rows_done(struct study_rows *r)
{
    text_done(&r->csv);
    *r = (struct study_rows){0};
}
