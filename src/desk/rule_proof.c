/* rule_proof: owns the rules about photos: those wanted, what is wrong with them, where else they were seen, and codes in them. */
#include "desk/rule_in.h"

#include "proof/photo.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* ---- which file a photo is ---- */

static int digit(char c)
{
    return c >= '0' && c <= '9' ? c - '0' : c >= 'a' && c <= 'f' ? c - 'a' + 10 : -1;
}

static bool is_sum(const uint8_t sum[STORE_DIGEST], const char *hex)
{
    for (size_t i = 0; i < STORE_DIGEST; i++)
        if (digit(hex[2 * i]) * 16 + digit(hex[2 * i + 1]) != sum[i])
            return false;
    return true;
}

/* The photo of an event: by its sum, of several the one of its name; else by its name (the bag's finding says that it was
 * changed). */
static const struct store_photo *file_of(const struct store_claim *claim,
                                         const struct event_photo_taken *e)
{
    const struct store_photo *found = NULL;
    for (size_t i = 0; i < claim->n_photos; i++) {
        const struct store_photo *p = &claim->photos[i];
        if (!is_sum(p->sha256, e->sha256))
            continue;
        if (strcmp(p->name, e->path) == 0)
            return p;
        found = found == NULL ? p : found;
    }
    for (size_t i = 0; i < claim->n_photos && found == NULL; i++)
        if (strcmp(claim->photos[i].name, e->path) == 0)
            found = &claim->photos[i];
    return found;
}

/* A photo that is wanted, and what there is for it. */
struct want {
    const struct bulletin_photo *photo;
    const struct rule_photo *about;
    int station; /* index; RULE_WHOLE */
    const struct store_photo *file;
};

static const char *id_of(const struct rule_run *r, int station)
{
    return station >= 0 ? r->sites[station].id : NULL;
}

/* ---- one photo ---- */

static const char *wanted_text(const struct rule_run *r, const struct want *w)
{
    return bulletin_text_in(r->b, &w->photo->name, r->b->head.language);
}

static void say_dark(struct rule_run *r, const struct want *w)
{
    rule_message(r, "Photo %s%s is too dark: mean brightness %.2f, and %.2f is the least",
                 w->photo->id, rule_of(id_of(r, w->station)).text, w->file->exposure,
                 PHOTO_DARK_BELOW);
    rule_cure(r, "Take it again with a lamp, and send it: %s.", wanted_text(r, w));
    rule_evidence(r, w->photo->id, NULL, NULL);
    rule_add(r, RULE_PHOTO_DARK, RULE_ASK, w->station);
}

static void say_bright(struct rule_run *r, const struct want *w)
{
    rule_message(r, "Photo %s%s is washed out: mean brightness %.2f, and %.2f is the most",
                 w->photo->id, rule_of(id_of(r, w->station)).text, w->file->exposure,
                 PHOTO_BRIGHT_ABOVE);
    rule_cure(r, "Take it again without the flash or the sun in it, and send it: %s.",
              wanted_text(r, w));
    rule_evidence(r, w->photo->id, NULL, NULL);
    rule_add(r, RULE_PHOTO_BRIGHT, RULE_ASK, w->station);
}

static void say_blurred(struct rule_run *r, const struct want *w)
{
    rule_message(r, "Photo %s%s is blurred: sharpness %.1f, and %.0f is the least", w->photo->id,
                 rule_of(id_of(r, w->station)).text, w->file->sharpness, PHOTO_BLURRED_BELOW);
    rule_cure(r, "Take it again with the camera held still, and send it: %s.", wanted_text(r, w));
    rule_evidence(r, w->photo->id, NULL, NULL);
    rule_add(r, RULE_PHOTO_BLURRED, RULE_ASK, w->station);
}

/* A picture without light is not sharp either: said once. What was not measured is NaN, and neither. */
static void judge_look(struct rule_run *r, const struct want *w)
{
    if (w->file->exposure < PHOTO_DARK_BELOW)
        say_dark(r, w);
    else if (w->file->exposure > PHOTO_BRIGHT_ABOVE)
        say_bright(r, w);
    else if (w->file->sharpness < PHOTO_BLURRED_BELOW)
        say_blurred(r, w);
}

static void say_time(struct rule_run *r, const struct want *w)
{
    char taken[RULE_TIME_SIZE], first[RULE_TIME_SIZE], last[RULE_TIME_SIZE];
    const int64_t ms = w->file->taken_ms;
    const struct job *job = r->job;
    if (ms == STORE_UNKNOWN || job->first_ms == EVENT_ABSENT ||
        (ms >= job->first_ms - RULE_CLOCK_MS && ms <= job->last_ms + RULE_CLOCK_MS))
        return;
    rule_message(r, "Photo %s%s was taken on %s by its camera; the job ran from %s to %s",
                 w->photo->id, rule_of(id_of(r, w->station)).text, rule_time(ms, taken),
                 rule_time(job->first_ms, first), rule_time(job->last_ms, last));
    rule_cure(r, "If the camera's clock is wrong, send a photo of a clock taken with it; else send "
                 "a photo of this job.");
    rule_evidence(r, w->photo->id, NULL, NULL);
    rule_add(r, RULE_PHOTO_TIME, RULE_ASK, w->station);
}

static void say_broken(struct rule_run *r, const struct want *w)
{
    rule_message(r, "Photo %s%s (%.80s) cannot be looked at: %.60s", w->photo->id,
                 rule_of(id_of(r, w->station)).text, w->file->name, w->file->fault);
    rule_cure(
        r,
        "Send it again as the camera wrote it, as JPEG or PNG; take it anew if the file is lost.");
    rule_evidence(r, w->photo->id, NULL, NULL);
    rule_add(r, RULE_PHOTO_BROKEN, RULE_ASK, w->station);
}

/* ---- codes ---- */

static bool is_vin(const char *text, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        const char c = text[i];
        const bool is_letter = (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z');
        if (!is_letter && !(c >= '0' && c <= '9'))
            return false;
        if (strchr("IOQioq", c) != NULL)
            return false;
    }
    return n == VIN_SIZE;
}

static bool same_start(const char *code, const char *vin, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        const char c = code[i] >= 'a' && code[i] <= 'z' ? (char)(code[i] - 'a' + 'A') : code[i];
        if (c != vin[i])
            return false;
    }
    return true;
}

/* Whether a code that reads as a label says what was typed: at its station, or at any for a photo of the unit. */
static bool is_typed(const struct rule_run *r, int station, const char *code)
{
    bool is_any = false;
    for (size_t i = 0; i < r->n_sites; i++) {
        const char *label = r->sites[i].label;
        if (label == NULL || (station >= 0 && (int)i != station))
            continue;
        is_any = true;
        if (rule_same_label(r->b, label, code))
            return true;
    }
    return !is_any; /* label-missing speaks of it */
}

/* Seventeen characters on a part may be its serial number: away from labels and plates a code counts as a VIN only when it checks, or
 * is of the same maker as the job's (its first three characters, ISO 3780). */
static void judge_vin_code(struct rule_run *r, const struct want *w, const char *code)
{
    const char *vin = r->c->events->vin;
    if (same_start(code, vin, VIN_SIZE) ||
        (!w->about->is_coded && !vin_is_valid17(code) && !same_start(code, vin, 3)))
        return;
    rule_message(r, "A code in photo %s%s says VIN %s; the job says %s", w->photo->id,
                 rule_of(id_of(r, w->station)).text, code, vin);
    rule_cure(r, "Desk: look at the photo. The wrong unit's photo: ask for the right one. A "
                 "mistyped VIN: ask for the job with the right one.");
    rule_evidence(r, w->photo->id, NULL, NULL);
    rule_add(r, RULE_CODE_DIFFERS, RULE_HOLD, w->station);
}

static void judge_label_code(struct rule_run *r, const struct want *w, const char *code)
{
    struct label label;
    size_t at = 0;
    if (!w->about->is_coded ||
        label_read(code, strlen(code), r->b->scope.labels.at, r->b->scope.labels.n, &label, &at) !=
            ERR_OK ||
        is_typed(r, w->station, code))
        return;
    if (w->station >= 0)
        rule_message(r, "A code in photo %s of %s says label '%.80s'; '%.80s' was typed",
                     w->photo->id, r->sites[w->station].id, code, r->sites[w->station].label);
    else
        rule_message(r, "A code in photo %s says label '%.80s', which was typed for no station",
                     w->photo->id, code);
    rule_cure(r, "Desk: look at the photo. Another label's photo: ask for the right one. A "
                 "mistyped label: ask for it as it stands.");
    rule_evidence(r, w->photo->id, NULL, NULL);
    rule_add(r, RULE_CODE_DIFFERS, RULE_HOLD, w->station);
}

static void judge_code(struct rule_run *r, const struct want *w, const char *code)
{
    const size_t n = strlen(code);
    /* A VIN as Code 39 may begin with an I, for "import" (common practice). */
    if (n == VIN_SIZE + 1 && (code[0] == 'I' || code[0] == 'i') && is_vin(code + 1, VIN_SIZE))
        judge_vin_code(r, w, code + 1);
    else if (is_vin(code, n))
        judge_vin_code(r, w, code);
    else
        judge_label_code(r, w, code);
}

static void judge_codes(struct rule_run *r, const struct want *w)
{
    char code[PHOTO_CODE_TEXT_MAX + 1];
    const char *line = w->file->codes;
    while (line != NULL && *line != '\0') {
        const size_t n = strcspn(line, "\n");
        size_t from = 0, to = n < sizeof code ? n : sizeof code - 1;
        while (from < to && line[from] == ' ')
            from++;
        while (to > from && line[to - 1] == ' ')
            to--;
        memcpy(code, line + from, to - from);
        code[to - from] = '\0';
        if (n < sizeof code)
            judge_code(r, w, code);
        line += n + (line[n] == '\n');
    }
}

static void judge_photo(struct rule_run *r, const struct want *w)
{
    if (w->file->fault != NULL && w->file->fault[0] != '\0') {
        say_broken(r, w);
        return;
    }
    judge_look(r, w);
    say_time(r, w);
    judge_codes(r, w);
}

/* ---- the photos wanted ---- */

static void say_missing(struct rule_run *r, const struct want *w)
{
    rule_message(r, "Photo %s%s is missing: %s", w->photo->id, rule_of(id_of(r, w->station)).text,
                 wanted_text(r, w));
    rule_cure(r, "Take it if the work can still be seen, and send the job again with it; else say "
                 "what was done and by whom, and ask the desk.");
    rule_evidence(r, w->photo->id, NULL, NULL);
    rule_add(r, RULE_PHOTO_MISSING, RULE_ASK, w->station);
}

static bool bag_spoke(const struct rule_run *r)
{
    for (size_t i = 0; i < r->claim->n_findings; i++)
        if (strcmp(r->claim->findings[i].rule, "bag") == 0 &&
            strcmp(r->claim->findings[i].level, "note") != 0)
            return true;
    return false;
}

/* Where two wanted photos are one file. Said at the later of the two in the bulletin's order. */
static void find_twice(struct rule_run *r, const struct want *wants, size_t n)
{
    const struct want *w = &wants[n];
    for (size_t i = 0; i < n; i++) {
        if (wants[i].file == NULL ||
            memcmp(wants[i].file->sha256, w->file->sha256, STORE_DIGEST) != 0)
            continue;
        rule_message(r, "Photo %s%s is the same file as photo %s%s", w->photo->id,
                     rule_of(id_of(r, w->station)).text, wants[i].photo->id,
                     rule_of(id_of(r, wants[i].station)).text);
        rule_cure(r, "Send the photo that belongs here: %s.", wanted_text(r, w));
        rule_evidence(r, w->photo->id, NULL, NULL);
        rule_add(r, RULE_PHOTO_TWICE, RULE_ASK, w->station);
        return;
    }
}

static void judge_want(struct rule_run *r, struct want *wants, size_t n, const struct event *e)
{
    struct want *w = &wants[n];
    w->file = e != NULL ? file_of(r->claim, &e->as.photo_taken) : NULL;
    if (w->file != NULL) {
        judge_photo(r, w);
        find_twice(r, wants, n);
        return;
    }
    const bool is_needed =
        !w->about->is_only_cutting || (w->station >= 0 && r->sites[w->station].is_cut);
    /* A photo that was taken and is not in the bag is the bag's finding. */
    if (is_needed && !(e != NULL && bag_spoke(r)))
        say_missing(r, w);
}

static void judge_wants(struct rule_run *r)
{
    struct want wants[RULE_PHOTOS_MAX * BULLETIN_STATIONS_MAX];
    size_t n = 0, root = 0;
    for (size_t i = 0; i < r->b->proof.photos.n; i++) {
        const struct bulletin_photo *photo = &r->b->proof.photos.at[i];
        const struct want want = {photo, &r->book->photos[i], RULE_WHOLE, NULL};
        if (photo->per == BULLETIN_PER_UNIT) {
            wants[n] = want;
            judge_want(r, wants, n++, rule_latest(r->job, EVENT_PHOTO_TAKEN, photo->id, &root));
        }
        for (size_t s = 0; photo->per == BULLETIN_PER_STATION && s < r->n_sites; s++) {
            if (!r->sites[s].is_worked)
                continue;
            wants[n] = want;
            wants[n].station = (int)s;
            judge_want(r, wants, n++,
                       job_latest(r->job,
                                  rule_item(r->job, r->sites[s].at, EVENT_PHOTO_TAKEN, photo->id)));
        }
    }
}

/* ---- photos seen before ---- */

/* Of two earlier photos the one that is told: the same bytes, then the more alike, then by name. */
static bool is_closer(const struct rule_seen *a, const struct rule_seen *z)
{
    const double x = isnan(a->likeness) ? -1 : a->likeness,
                 y = isnan(z->likeness) ? -1 : z->likeness;
    if (a->is_same_bytes != z->is_same_bytes)
        return a->is_same_bytes;
    if (x < y || x > y)
        return x > y;
    const int c = strcmp(a->claim, z->claim);
    if (c != 0)
        return c < 0;
    const int d = strcmp(a->name, z->name);
    return d != 0 ? d < 0 : !a->is_mirrored && z->is_mirrored;
}

static void say_seen(struct rule_run *r, const struct store_photo *p, const struct rule_seen *seen)
{
    char alike[48] = "", name[EVENT_ID_MAX + 96];
    const int station = p->station != NULL ? rule_station(r->b, p->station) : RULE_WHOLE;
    if (!seen->is_same_bytes && !isnan(seen->likeness))
        snprintf(alike, sizeof alike, " (likeness %.2f)", seen->likeness);
    else if (!seen->is_same_bytes)
        snprintf(alike, sizeof alike, " (by their hashes)");
    snprintf(name, sizeof name, "%.*s%s", 80, p->point != NULL ? p->point : p->name,
             rule_of(p->station).text);
    rule_message(r, "Photo %s %s %.90s of claim %.20s%s", name,
                 seen->is_same_bytes ? "is the same file as"
                 : seen->is_mirrored ? "shows the same picture, mirrored, as"
                                     : "shows the same picture as",
                 seen->name, seen->claim, alike);
    rule_cure(r, "Desk: look at both. If they are one picture, ask for a photo of this job and "
                 "talk to the shop; if not, overrule with that reason.");
    rule_evidence(r, p->name, seen->claim, seen->name);
    rule_add(r, RULE_PHOTO_SEEN, RULE_HOLD, station >= 0 ? station : RULE_WHOLE);
}

static void find_seen(struct rule_run *r)
{
    const struct rule_known *k = r->known;
    for (size_t i = 0; i < k->n_seen; i++) {
        const struct rule_seen *seen = &k->seen[i];
        bool is_best = seen->photo < r->claim->n_photos;
        for (size_t j = 0; j < k->n_seen && is_best; j++)
            is_best = j == i || k->seen[j].photo != seen->photo || !is_closer(&k->seen[j], seen);
        if (is_best)
            say_seen(r, &r->claim->photos[seen->photo], seen);
    }
}

void rule_proof(struct rule_run *r)
{
    judge_wants(r);
    find_seen(r);
}
