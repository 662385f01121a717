/* rule: owns how findings are kept in order, what they come to, and the words that all rules share. The rules themselves are in
 * rule_scope.c, rule_proof.c, rule_readings.c, rule_kit.c, rule_work.c, rule_about.c; the money in rule_money.c. */
#include "desk/rule_in.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* ---- names ---- */

const char *rule_verdict_name(enum rule_verdict v)
{
    static const char *const names[] = {[RULE_PAY] = "pay",
                                        [RULE_VERDICT_ASK] = "ask",
                                        [RULE_VERDICT_HOLD] = "hold",
                                        [RULE_VERDICT_REFUSE] = "refuse"};
    return names[v];
}

const char *rule_level_name(enum rule_level l)
{
    static const char *const names[RULE_LEVEL_N] = {
        [RULE_NOTE] = "note", [RULE_ASK] = "ask", [RULE_HOLD] = "hold", [RULE_REFUSE] = "refuse"};
    return names[l];
}

const char *rule_pays_name(enum bulletin_pays kind)
{
    static const char *const names[BULLETIN_PAYS_N] = {[BULLETIN_PAYS_LABOUR] = "labour",
                                                       [BULLETIN_PAYS_KIT] = "kit",
                                                       [BULLETIN_PAYS_PARTS] = "parts",
                                                       [BULLETIN_PAYS_TRAVEL] = "travel",
                                                       [BULLETIN_PAYS_CONSUMABLES] = "consumables"};
    return names[kind];
}

/* ---- findings ---- */

/* Cut at a whole character, fit to be shown. */
static void put(char *buf, size_t room, const char *fmt, va_list ap)
{
    const int n = vsnprintf(buf, room, fmt, ap);
    size_t size = strlen(buf);
    if (n < 0 || (size_t)n >= room) {
        while (size > 0 && ((unsigned char)buf[size - 1] & 0xC0) == 0x80)
            size--;
        if (size > 0 && (unsigned char)buf[size - 1] >= 0xC0)
            size--;
    }
    buf[text_clean(buf, size, false)] = '\0';
}

void rule_text(char *buf, size_t room, const char *fmt, ...)
{
    va_list ap;
    va_start(ap, fmt);
    put(buf, room, fmt, ap);
    va_end(ap);
}

void rule_message(struct rule_run *r, const char *fmt, ...)
{
    va_list ap;
    va_start(ap, fmt);
    put(r->draft.message, sizeof r->draft.message, fmt, ap);
    va_end(ap);
    rule_evidence(r, NULL, NULL, NULL); /* a draft begins with its message */
}

void rule_evidence(struct rule_run *r, const char *what, const char *other, const char *other_what)
{
    r->draft.what = what;
    r->draft.other = other;
    r->draft.other_what = other_what;
}

void rule_cure(struct rule_run *r, const char *fmt, ...)
{
    va_list ap;
    va_start(ap, fmt);
    put(r->draft.cure, sizeof r->draft.cure, fmt, ap);
    va_end(ap);
}

/* The whole claim, the bulletin's stations in its order, others. */
static size_t rank_of(const struct rule_run *r, const char *station)
{
    if (station == NULL)
        return 0;
    for (size_t i = 0; i < r->n_sites; i++)
        if (r->sites[i].id == station)
            return 1 + i;
    return 1 + r->n_sites;
}

static int compare(const struct rule_run *r, const struct rule_finding *a,
                   const struct rule_finding *z)
{
    if (a->rule != z->rule)
        return a->rule < z->rule ? -1 : 1;
    const size_t x = rank_of(r, a->station), y = rank_of(r, z->station);
    if (x != y)
        return x < y ? -1 : 1;
    const bool is_other = x > r->n_sites && a->station != NULL && z->station != NULL;
    const int c = is_other ? strcmp(a->station, z->station) : 0;
    return c != 0 ? c : strcmp(a->message, z->message);
}

static void widen(enum rule_level *worst, enum rule_level level)
{
    *worst = level > *worst ? level : *worst;
}

void rule_add(struct rule_run *r, enum rule_id rule, enum rule_level level, int station)
{
    struct rule_ruling *ret = r->ret;
    struct rule_finding *f = &r->draft;
    f->rule = rule;
    f->level = level;
    if (station != RULE_OTHER)
        f->station = station >= 0 ? r->sites[station].id : NULL;
    widen(station >= 0            ? &r->sites[station].worst
          : station == RULE_WHOLE ? &r->worst_whole
                                  : &r->worst_other,
          level);
    size_t at = ret->n_findings;
    while (at > 0 && compare(r, f, &ret->findings[at - 1]) < 0)
        at--;
    if (at > 0 && compare(r, f, &ret->findings[at - 1]) == 0)
        return; /* the same thing, seen twice */
    if (ret->n_findings == RULE_FINDINGS_MAX)
        ret->n_more_findings++;
    else
        ret->n_findings++;
    if (at == RULE_FINDINGS_MAX)
        return;
    memmove(&ret->findings[at + 1], &ret->findings[at], (ret->n_findings - 1 - at) * sizeof *f);
    ret->findings[at] = *f;
}

/* ---- the verdict ---- */

static enum rule_verdict verdict_of(enum rule_level worst)
{
    static const enum rule_verdict verdicts[RULE_LEVEL_N] = {[RULE_NOTE] = RULE_PAY,
                                                             [RULE_ASK] = RULE_VERDICT_ASK,
                                                             [RULE_HOLD] = RULE_VERDICT_HOLD,
                                                             [RULE_REFUSE] = RULE_VERDICT_REFUSE};
    return verdicts[worst];
}

/* A refused station does not hold up the others; one that nobody worked on counts with what was found at it. */
static enum rule_verdict judge(const struct rule_run *r)
{
    enum rule_level worst = r->worst_whole;
    size_t n_open = 0;
    if (worst == RULE_REFUSE)
        return RULE_VERDICT_REFUSE;
    if (r->worst_other != RULE_REFUSE)
        widen(&worst, r->worst_other);
    for (size_t i = 0; i < r->n_sites; i++) {
        n_open += r->sites[i].is_worked && r->sites[i].worst != RULE_REFUSE;
        if (r->sites[i].worst != RULE_REFUSE)
            widen(&worst, r->sites[i].worst);
    }
    if (n_open == 0 && (r->n_worked > 0 || worst == RULE_NOTE))
        return RULE_VERDICT_REFUSE;
    return verdict_of(worst);
}

static void award(struct rule_run *r)
{
    struct rule_ruling *ret = r->ret;
    for (size_t i = 0; i < r->n_sites; i++) {
        const enum rule_level worst =
            r->worst_whole == RULE_REFUSE ? RULE_REFUSE : r->sites[i].worst;
        if (r->sites[i].is_worked)
            ret->awards[ret->n_awards++] =
                (struct rule_award){r->sites[i].id, verdict_of(worst), 0};
    }
}

/* ---- the job's stations ---- */

static const struct job_station *station_at(const struct job *job, const char *id)
{
    for (size_t i = 0; i < job->n_stations; i++)
        if (job->stations[i].id != NULL && strcmp(job->stations[i].id, id) == 0)
            return &job->stations[i];
    return NULL;
}

static int kit_index(const struct bulletin *b, const char *id)
{
    for (size_t i = 0; i < b->kits.n; i++)
        if (strcmp(b->kits.at[i].id, id) == 0)
            return (int)i;
    return -1;
}

/* Whether a rack of the site's kit is to be cut: one that was measured and fits as it is is not. */
static bool is_cut(const struct rule_run *r, const struct rule_site *site)
{
    const struct kit *kit = site->kit >= 0 ? &r->book->kits.kits[site->kit] : NULL;
    for (size_t i = 0; kit != NULL && i < kit->n_pieces; i++) {
        const char *rack = r->book->kits.racks[kit->piece_rack[i]];
        const struct event *e =
            job_latest(r->job, rule_item(r->job, site->at, EVENT_RACK_MEASURED, rack));
        struct cut_answer a;
        if (kit->pieces[i].is_ready)
            continue;
        if (e == NULL ||
            cut_plan(&kit->pieces[i], e->as.rack_measured.length_nm, &r->book->kits.u, &a) !=
                ERR_OK ||
            a.status != CUT_NOT_NEEDED)
            return true;
    }
    return false;
}

static void read_site(struct rule_run *r, size_t i)
{
    struct rule_site *site = &r->sites[i];
    site->id = r->b->scope.stations.at[i].id;
    site->kit = -1;
    site->at = station_at(r->job, site->id);
    if (site->at == NULL)
        return;
    site->is_worked = rule_worked_on(r->book, r->job, site->id);
    r->n_worked += site->is_worked;
    const struct event *label =
        job_latest(r->job, rule_item(r->job, site->at, EVENT_LABEL_READ, ""));
    const struct event *kit = job_latest(r->job, rule_item(r->job, site->at, EVENT_KIT_CHOSEN, ""));
    site->label = label != NULL ? label->as.label_read.text : NULL;
    site->chosen = kit != NULL ? &kit->as.kit_chosen : NULL;
    site->kit = kit != NULL ? kit_index(r->b, kit->as.kit_chosen.kit) : -1;
    site->is_cut = is_cut(r, site);
}

void rule_claim(const struct rule_case *c, struct rule_ruling *ret)
{
    struct rule_run r = {.c = c,
                         .book = c->book,
                         .b = c->book->b,
                         .job = c->job,
                         .claim = c->claim,
                         .known = c->known,
                         .ret = ret,
                         .n_sites = c->book->b->scope.stations.n};
    ret->n_awards = ret->n_lines = ret->n_findings = ret->n_more_findings = 0;
    ret->amount_minor = ret->if_cured_minor = 0;
    for (size_t i = 0; i < r.n_sites; i++)
        read_site(&r, i);
    rule_scope(&r);
    rule_bulletin(&r);
    if (r.n_worked > 0) {
        rule_proof(&r);
        rule_readings(&r);
        rule_kit(&r);
    }
    rule_work(&r);
    rule_about_claim(&r);
    award(&r);
    ret->verdict = judge(&r);
    rule_money(&r);
    ret->amount_minor = ret->verdict == RULE_PAY ? ret->if_cured_minor : 0;
}

/* ---- shared helpers ---- */

int rule_station(const struct bulletin *b, const char *id)
{
    for (size_t i = 0; i < b->scope.stations.n; i++)
        if (strcmp(b->scope.stations.at[i].id, id) == 0)
            return (int)i;
    return -1;
}

const struct job_item *rule_item(const struct job *job, const struct job_station *at,
                                 enum event_type type, const char *key)
{
    size_t low = at != NULL ? at->first_item : 0, high = at != NULL ? low + at->n_items : 0;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        const struct job_item *item = &job->items[middle];
        const int c = item->type != type ? (item->type < type ? -1 : 1) : strcmp(item->key, key);
        if (c == 0)
            return item;
        if (c < 0)
            low = middle + 1;
        else
            high = middle;
    }
    return NULL;
}

const struct event *rule_latest(const struct job *job, enum event_type type, const char *key,
                                size_t *ret_root)
{
    const struct event *best = NULL;
    for (size_t s = 0; s < job->n_stations; s++) {
        const struct job_item *item = rule_item(job, &job->stations[s], type, key);
        if (item == NULL)
            continue;
        const struct job_entry *entry = &job->entries[item->entries[item->n - 1]];
        if (best != NULL && entry->root < *ret_root)
            continue;
        best = entry->event;
        *ret_root = entry->root;
    }
    return best;
}

struct rule_of rule_of(const char *station)
{
    struct rule_of of = {""};
    if (station != NULL)
        snprintf(of.text, sizeof of.text, " of %.*s", EVENT_ID_MAX, station);
    return of;
}

/* ---- labels ---- */

static char fold(char c)
{
    return c >= 'a' && c <= 'z' ? (char)(c - 'a' + 'A') : c;
}

static bool same_letters(const char *a, const char *z)
{
    for (;;) {
        while (*a == ' ')
            a++;
        while (*z == ' ')
            z++;
        if (fold(*a) != fold(*z))
            return false;
        if (*a == '\0')
            return true;
        a++;
        z++;
    }
}

bool rule_same_label(const struct bulletin *b, const char *a, const char *z)
{
    struct label x, y;
    size_t at = 0;
    const char *const *patterns = b->scope.labels.at;
    const size_t n = b->scope.labels.n;
    if (same_letters(a, z))
        return true;
    if (label_read(a, strlen(a), patterns, n, &x, &at) != ERR_OK ||
        label_read(z, strlen(z), patterns, n, &y, &at) != ERR_OK)
        return false;
    const bool is_same_variant =
        x.variant[0] == '\0' || y.variant[0] == '\0' || strcmp(x.variant, y.variant) == 0;
    return x.first_day == y.first_day && x.last_day == y.last_day && is_same_variant;
}

/* ---- figures ---- */

const char *rule_money_text(const struct bulletin *b, int64_t minor, char buf[RULE_MONEY_SIZE])
{
    uint64_t scale = 1;
    for (int i = 0; i < b->head.currency_digits; i++)
        scale *= 10;
    const uint64_t size = minor < 0 ? 0 - (uint64_t)minor : (uint64_t)minor;
    const char *sign = minor < 0 ? "-" : "";
    if (b->head.currency_digits == 0)
        snprintf(buf, RULE_MONEY_SIZE, "%s%llu %.3s", sign, (unsigned long long)size,
                 b->head.currency);
    else
        snprintf(buf, RULE_MONEY_SIZE, "%s%llu.%0*llu %.3s", sign,
                 (unsigned long long)(size / scale), b->head.currency_digits,
                 (unsigned long long)(size % scale), b->head.currency);
    return buf;
}

const char *rule_length(int64_t nm, enum unit show, char buf[RULE_AMOUNT_SIZE])
{
    struct fill f;
    fill_start(&f, buf, RULE_AMOUNT_SIZE);
    fill_length(&f, nm, show == UNIT_IN || show == UNIT_FT ? UNIT_IN : UNIT_MM);
    return buf;
}

const char *rule_amount(int64_t nano, enum unit unit, char buf[RULE_AMOUNT_SIZE])
{
    const size_t n = quantity_show_number(nano, unit, buf, NULL);
    if (unit != UNIT_ONE)
        snprintf(buf + n, RULE_AMOUNT_SIZE - n, " %s", quantity_unit_name(unit));
    return buf;
}

const char *rule_minutes(int64_t seconds, char buf[RULE_AMOUNT_SIZE])
{
    if (seconds % 60 == 0)
        snprintf(buf, RULE_AMOUNT_SIZE, "%lld min", (long long)(seconds / 60));
    else
        snprintf(buf, RULE_AMOUNT_SIZE, "%lld s", (long long)seconds);
    return buf;
}

static int64_t floor_div(int64_t a, int64_t b)
{
    return a / b - (a % b < 0);
}

int32_t rule_day(int64_t ms)
{
    const int32_t least = -25567, most = 84005; /* 1900-01-01 and 2199-12-31 */
    const int64_t day = floor_div(ms, 24 * RULE_HOUR_MS);
    return day < least ? least : day > most ? most : (int32_t)day;
}

const char *rule_time(int64_t ms, char buf[RULE_TIME_SIZE])
{
    char date[DATE_SHOW_SIZE];
    const int64_t minute = floor_div(ms, 60000) - floor_div(ms, 24 * RULE_HOUR_MS) * 1440;
    date_show(rule_day(ms), date);
    snprintf(buf, RULE_TIME_SIZE, "%s %02d:%02d UTC", date, (int)(minute / 60), (int)(minute % 60));
    return buf;
}
