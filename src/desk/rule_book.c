/* rule_book: owns what ruling takes from the bulletin alone, worked out once. */
#include "bulletin/adapt_truing.h"
#include "desk/rule_in.h"

#include <stdlib.h>
#include <string.h>

/* ---- words ---- */

/* Whether one of the words between an id's dashes is among these. */
static bool has_word(const char *id, const char *const *words)
{
    while (*id != '\0') {
        const size_t n = strcspn(id, "-");
        for (size_t i = 0; words[i] != NULL; i++)
            if (strlen(words[i]) == n && strncmp(id, words[i], n) == 0)
                return true;
        id += n;
        id += *id == '-';
    }
    return false;
}

static const struct bulletin_photo *photo_find(const struct bulletin *b, const char *id,
                                               size_t *ret_at)
{
    for (size_t i = 0; i < b->proof.photos.n; i++) {
        if (strcmp(b->proof.photos.at[i].id, id) == 0) {
            *ret_at = i;
            return &b->proof.photos.at[i];
        }
    }
    return NULL;
}

/* ---- steps and photos ---- */

static bool is_listed(const char *const *words, size_t n, const char *id)
{
    for (size_t i = 0; i < n; i++)
        if (strcmp(words[i], id) == 0)
            return true;
    return false;
}

/* A bulletin in which no rack is cut may use "cutting" for any other blade. */
static bool cuts_racks(const struct bulletin *b)
{
    for (size_t k = 0; k < b->kits.n; k++)
        for (size_t i = 0; i < b->kits.at[k].racks.n; i++)
            if (b->kits.at[k].racks.at[i].supply == BULLETIN_SUPPLY_CUT)
                return true;
    return false;
}

/* Index of the first step that is dangerous; n when none is. What comes before it is getting ready. */
static size_t first_hazard(const struct bulletin *b)
{
    size_t i = 0;
    while (i < b->steps.n && b->steps.at[i].hazards.n == 0)
        i++;
    return i;
}

static bool shows_labels_only(const struct rule_book *book, const struct bulletin_step *step)
{
    bool is_all = step->photos.n > 0 && step->readings.n == 0 && step->hazards.n == 0;
    for (size_t i = 0; i < step->photos.n && is_all; i++) {
        size_t at = 0;
        is_all = photo_find(book->b, step->photos.at[i], &at) != NULL && book->photos[at].is_label;
    }
    return is_all;
}

static void read_photos(struct rule_book *book)
{
    static const char *const labels[] = {"label", "labels", "sticker", "vin", NULL};
    static const char *const coded[] = {"label", "labels", "sticker", "vin",
                                        "plate", "plates", NULL};
    const struct bulletin *b = book->b;
    for (size_t i = 0; i < b->proof.photos.n; i++)
        book->photos[i] =
            (struct rule_photo){.is_label = has_word(b->proof.photos.at[i].id, labels),
                                .is_coded = has_word(b->proof.photos.at[i].id, coded)};
}

static void read_steps(struct rule_book *book)
{
    const struct bulletin *b = book->b;
    const size_t hazard = first_hazard(b);
    const bool is_cut = cuts_racks(b);
    for (size_t i = 0; i < b->steps.n; i++) {
        const struct bulletin_step *step = &b->steps.at[i];
        const bool is_ready = hazard < b->steps.n && i < hazard; /* getting ready */
        book->steps[i] =
            (struct rule_step){.is_only_cutting = is_cut && step->hazards.n == 1 &&
                                                  step->hazards.at[0] == BULLETIN_HAZARD_CUTTING,
                               .is_work = step->per == BULLETIN_PER_STATION && !is_ready &&
                                          !shows_labels_only(book, step)};
    }
}

/* What the steps that ask for a photo make of it. */
static void weigh_photos(struct rule_book *book)
{
    const struct bulletin *b = book->b;
    for (size_t p = 0; p < b->proof.photos.n; p++) {
        size_t n = 0, n_cutting = 0;
        for (size_t i = 0; i < b->steps.n; i++) {
            const struct bulletin_step *step = &b->steps.at[i];
            if (!is_listed(step->photos.at, step->photos.n, b->proof.photos.at[p].id))
                continue;
            n++;
            n_cutting += book->steps[i].is_only_cutting;
            book->photos[p].is_work = book->photos[p].is_work || book->steps[i].is_work;
        }
        book->photos[p].is_only_cutting = n > 0 && n_cutting == n;
        book->photos[p].is_work = book->photos[p].is_work && !book->photos[p].is_label;
    }
}

/* ---- points ---- */

static int step_of(const struct bulletin *b, const char *point)
{
    for (size_t i = 0; i < b->steps.n; i++)
        if (is_listed(b->steps.at[i].readings.at, b->steps.at[i].readings.n, point))
            return (int)i;
    return -1;
}

static enum err read_points(struct rule_book *book, struct fault *reterr)
{
    const struct bulletin *b = book->b;
    enum err e = conform_factor(b->decision.risk, &book->guard_factor);
    for (size_t i = 0; i < b->points.n && e == ERR_OK; i++) {
        const struct bulletin_point *point = &b->points.at[i];
        struct rule_point *p = &book->points[i];
        *p = (struct rule_point){
            .station = point->station[0] != '\0' ? rule_station(b, point->station) : -1,
            .step = step_of(b, point->id),
            .is_wanted = is_listed(b->proof.readings.at, b->proof.readings.n, point->id),
            .is_reached = adapt_is_reached(b, point),
            .u = adapt_point_u(b, point),
            .limits = {point->low.is_given ? point->low.nano : INT64_MIN,
                       point->high.is_given ? point->high.nano : INT64_MAX}};
        e = conform_guard_by(book->guard_factor, p->u, &p->guard);
        if (e == ERR_OK)
            e = conform_narrow(p->limits, p->guard, &p->guarded);
    }
    return e == ERR_OK
               ? e
               : fault_set(reterr, e, "the bulletin's limits cannot be used: %s", err_text(e));
}

/* ---- the whole ---- */

static void read_rest(struct rule_book *book)
{
    const struct bulletin *b = book->b;
    for (size_t i = 0; i < b->scope.stations.n; i++) {
        adapt_station_values(b, &b->scope.stations.at[i], book->values[i]);
        book->labour_s[i] = bulletin_labour_s(b, b->scope.stations.at[i].id);
    }
    for (size_t i = 0; i < b->claim.pays.n; i++)
        book->does_pay[b->claim.pays.at[i]] = true;
    for (size_t i = 0; i < b->claim.who.n; i++)
        book->is_payee[b->claim.who.at[i]] = true;
}

enum err rule_book_new(const struct bulletin *bulletin, const char *sha256, struct rule_book **ret,
                       struct fault *reterr)
{
    if (bulletin->proof.photos.n > RULE_PHOTOS_MAX)
        return fault_set(reterr, ERR_LIMIT, "more than %d photos", (int)RULE_PHOTOS_MAX);
    struct rule_book *book = calloc(1, sizeof *book);
    if (book == NULL)
        return fault_no_memory(reterr);
    book->b = bulletin;
    if (sha256 != NULL && strlen(sha256) == EVENT_SHA256_SIZE)
        memcpy(book->sha256, sha256, EVENT_SHA256_SIZE);
    enum err e = adapt_scope_rule(bulletin, &book->scope, reterr);
    if (e == ERR_OK)
        e = adapt_kits(bulletin, &book->kits, reterr);
    if (e == ERR_OK)
        e = read_points(book, reterr);
    if (e != ERR_OK) {
        rule_book_free(book);
        return e;
    }
    read_photos(book);
    read_steps(book);
    weigh_photos(book);
    read_rest(book);
    *ret = book;
    return ERR_OK;
}

void rule_book_free(struct rule_book *book)
{
    free(book);
}

const struct bulletin *rule_book_bulletin(const struct rule_book *book)
{
    return book->b;
}

/* ---- worked on ---- */

static bool is_work(const struct rule_book *book, const struct job_item *item)
{
    size_t at = 0;
    switch (item->type) {
    case EVENT_RACK_MEASURED:
    case EVENT_KIT_CHOSEN:
    case EVENT_CUT:
        return true;
    case EVENT_MOVED:
        return item->target == EVENT_RACK;
    case EVENT_HOLD_CONFIRMED:
        for (size_t i = 0; i < book->b->steps.n; i++)
            if (book->steps[i].is_work && strcmp(book->b->steps.at[i].id, item->key) == 0)
                return true;
        return false;
    case EVENT_PHOTO_TAKEN:
        return photo_find(book->b, item->key, &at) != NULL && book->photos[at].is_work;
    default:
        return false;
    }
}

bool rule_worked_on(const struct rule_book *book, const struct job *job, const char *station)
{
    if (rule_station(book->b, station) < 0)
        return false;
    for (size_t s = 0; s < job->n_stations; s++) {
        const struct job_station *at = &job->stations[s];
        if (at->id == NULL || strcmp(at->id, station) != 0)
            continue;
        for (size_t i = 0; i < at->n_items; i++)
            if (is_work(book, &job->items[at->first_item + i]))
                return true;
    }
    return false;
}
