/* study_rows_readings: owns the rows that follow from the claims' final readings and their kits. */
#include "desk/study_rows_inner.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { WATCH_EVERY = 256 };

struct final {
    const struct store_reading *at; /* NULL: none */
    bool is_after;
};

struct reading_run {
    struct rows_run *run;
    bool is_digits;
    const struct bulletin_instrument *instrument; /* digits: of this one alone */
    size_t next;                                  /* the visit that this claim must be */
    size_t n_claims, n_refused, n_other, n_unlimited, n_unit, n_foreign;
    double u2;
    size_t n_u;
    size_t kits[BULLETIN_KITS_MAX], n_no_kit;
    enum err err;
    uint64_t done;
};

/* ---- one claim ----------------------------------------------------------------------------- */

/* The last reading of each point after the work, or, where there is none, the last there is. */
static void find_final(const struct bulletin *b, const struct store_claim *claim,
                       struct final final[BULLETIN_POINTS_MAX])
{
    memset(final, 0, BULLETIN_POINTS_MAX * sizeof *final);
    for (size_t i = 0; i < claim->n_readings; i++) {
        const struct store_reading *reading = &claim->readings[i];
        const bool is_after = reading->phase != NULL && strcmp(reading->phase, "after") == 0;
        for (size_t p = 0; p < b->points.n; p++)
            if (strcmp(b->points.at[p].id, reading->point) == 0 && (is_after || !final[p].is_after))
                final[p] = (struct final){reading, is_after};
    }
}

static void put_amount(struct study_rows *r, int64_t nano, enum unit unit)
{
    char buf[QUANTITY_SHOW_MAX];
    (void)quantity_show_number(nano, unit, buf, NULL);
    rows_put(r, false, "%s", buf);
}

static void put_limit(struct study_rows *r, const struct bulletin_amount *limit, enum unit unit)
{
    if (limit->is_given)
        put_amount(r, limit->nano, unit);
    else
        rows_put(r, false, "%s", "");
}

/* A reading's own standard uncertainty, else that of the bulletin's instrument; 0: not known. */
static double u_of(const struct bulletin *b, const struct bulletin_point *p,
                   const struct store_reading *reading, enum unit unit)
{
    const struct conform_u parts = bulletin_uncertainty(b, p->instrument);
    if (reading->u_nano != STORE_UNKNOWN && reading->u_nano > 0)
        return quantity_to_double(reading->u_nano, unit);
    return conform_combine(parts) / (double)quantity_unit_nano(unit);
}

static void put_reading(struct reading_run *w, const struct study_visit *v,
                        const struct bulletin_point *p, const struct store_reading *reading)
{
    struct study_rows *r = w->run->r;
    const enum unit unit = w->run->o->unit;
    rows_put(r, true, "%s", v->claim);
    rows_put(r, false, "%s", v->shop);
    rows_put(r, false, "%s", v->technician);
    rows_put(r, false, "%s", p->id);
    put_amount(r, reading->value_nano, unit);
    put_limit(r, &p->low, unit);
    put_limit(r, &p->high, unit);
    rows_end(r);
    const double u = u_of(w->run->s->bulletin, p, reading, unit);
    if (u > 0) {
        w->u2 += u * u;
        w->n_u++;
    }
}

static void take_readings(struct reading_run *w, const struct study_visit *v,
                          const struct store_claim *claim)
{
    struct final final[BULLETIN_POINTS_MAX];
    const struct bulletin *b = w->run->s->bulletin;
    const enum dim dim = quantity_unit_dim(w->run->o->unit);
    find_final(b, claim, final);
    for (size_t p = 0; p < b->points.n; p++) {
        const struct bulletin_point *point = &b->points.at[p];
        if (final[p].at == NULL)
            continue;
        const enum unit unit = quantity_unit_find(final[p].at->unit, strlen(final[p].at->unit));
        const struct bulletin_amount *limit = point->low.is_given ? &point->low : &point->high;
        const bool is_dim = limit->is_given && limit->dim == dim && unit != UNIT_N &&
                            quantity_unit_dim(unit) == dim;
        w->n_unit += !is_dim;
        if (!is_dim)
            continue;
        if (w->is_digits &&
            (w->instrument == NULL || strcmp(point->instrument, w->instrument->id) != 0)) {
            w->n_other++;
            continue;
        }
        put_reading(w, v, point, final[p].at);
    }
}

static bool see_claim(void *me, const char *id, const struct store_claim *claim)
{
    struct reading_run *w = me;
    const struct study_sites *s = w->run->s;
    if (++w->done % WATCH_EVERY == 0 &&
        !study_go_on(w->run->watch, "reading claims", w->done, s->n_visits)) {
        w->err = fault_set(w->run->f, ERR_BUSY, "stopped while claims were read");
        return false;
    }
    /* Claims of this bulletin come in the order of the visits; one taken in since then is left for the next time. */
    if (w->next == s->n_visits || strcmp(s->visits[w->next].claim, id) != 0)
        return true;
    const struct study_visit *v = &s->visits[w->next++];
    w->n_refused += v->is_refused;
    if (v->is_refused)
        return true;
    w->n_claims++;
    take_readings(w, v, claim);
    return true;
}

static enum err read_claims(struct reading_run *w)
{
    const enum err e = store_claims(w->run->store, NULL, see_claim, w, w->run->f);
    return e == ERR_OK ? w->err : e;
}

static void note_readings(const struct reading_run *w)
{
    struct study_notes *notes = &w->run->r->notes;
    study_note(
        notes, STUDY_CHECKED,
        "Rows: %zu final readings of %zu claims: the last after the work; at a point without "
        "one the last there is.",
        w->run->r->n_rows, w->n_claims);
    if (w->n_refused > 0)
        study_note(notes, STUDY_CHECKED, "Left out: %zu claims that stand refused.", w->n_refused);
    if (w->n_unit > 0)
        study_note(
            notes, STUDY_CHECKED,
            "Left out: %zu readings that are no amount of %s; another unit can be asked for.",
            w->n_unit, quantity_unit_name(w->run->o->unit));
}

/* ---- capability ---------------------------------------------------------------------------- */

static const char reading_head[] = "claim,shop,technician,point,value,low,high";

enum err rows_capability(struct rows_run *run)
{
    struct reading_run w = {.run = run};
    rows_head(run->r, reading_head);
    const enum err e = read_claims(&w);
    if (e != ERR_OK)
        return e;
    rows_say(run->r, "--value", "value");
    rows_say(run->r, "--point", "point");
    rows_say(run->r, "--low-column", "low");
    rows_say(run->r, "--high-column", "high");
    note_readings(&w);
    if (w.n_u > 0) {
        const double u = sqrt(w.u2 / (double)w.n_u);
        rows_say(run->r, "--u", "%.6g %s", u, quantity_unit_name(run->o->unit));
        study_note(&run->r->notes, STUDY_ASSUMED,
                   "A reading's standard uncertainty is %.3g %s: the root of the mean square of "
                   "what %zu readings carry, or their instrument in the bulletin.",
                   u, quantity_unit_name(run->o->unit), w.n_u);
    }
    return ERR_OK;
}

/* ---- digits -------------------------------------------------------------------------------- */

/* The instrument that most points of the unit's dimension are read with. */
static const struct bulletin_instrument *main_instrument(const struct bulletin *b, enum dim dim)
{
    const struct bulletin_instrument *best = NULL;
    size_t most = 0;
    for (size_t i = 0; i < b->instruments.n; i++) {
        size_t n = 0;
        if (!b->instruments.at[i].resolution.is_given || b->instruments.at[i].resolution.dim != dim)
            continue;
        for (size_t p = 0; p < b->points.n; p++)
            n += strcmp(b->points.at[p].instrument, b->instruments.at[i].id) == 0;
        if (n > most) {
            most = n;
            best = &b->instruments.at[i];
        }
    }
    return best;
}

enum err rows_digits(struct rows_run *run)
{
    char step[QUANTITY_SHOW_MAX];
    struct reading_run w = {.run = run, .is_digits = true};
    w.instrument = main_instrument(run->s->bulletin, quantity_unit_dim(run->o->unit));
    if (w.instrument == NULL)
        return fault_set(
            run->f, ERR_IMPOSSIBLE,
            "no point of the bulletin is read by an instrument with a resolution in %s "
            "(another unit can be asked for)",
            quantity_unit_name(run->o->unit));
    rows_head(run->r, reading_head);
    const enum err e = read_claims(&w);
    if (e != ERR_OK)
        return e;
    (void)quantity_show_number(w.instrument->resolution.nano, run->o->unit, step, NULL);
    rows_say(run->r, "--value", "value");
    rows_say(run->r, "--by", "shop");
    rows_say(run->r, "--set", "claim");
    rows_say(run->r, "--step", "%s %s", step, quantity_unit_name(run->o->unit));
    note_readings(&w);
    study_note(&run->r->notes, STUDY_CHECKED,
               "The step is the resolution of the instrument most points are read with, %s; %zu "
               "readings by others are left out.",
               w.instrument->id, w.n_other);
    return ERR_OK;
}

/* ---- kits ---------------------------------------------------------------------------------- */

static bool see_kits(void *me, const char *id, const struct store_claim *claim)
{
    struct reading_run *w = me;
    const struct study_sites *s = w->run->s;
    if (w->next == s->n_visits || strcmp(s->visits[w->next].claim, id) != 0)
        return true;
    const struct study_visit *v = &s->visits[w->next++];
    w->n_refused += v->is_refused;
    for (size_t i = 0; !v->is_refused && i < claim->n_stations; i++) {
        const char *kit = claim->stations[i].kit;
        const struct bulletin_kit *known =
            kit != NULL && kit[0] != '\0' ? bulletin_kit_find(s->bulletin, kit) : NULL;
        if (known != NULL)
            w->kits[known - s->bulletin->kits.at]++;
        else
            w->n_no_kit += kit != NULL && kit[0] != '\0';
    }
    return true;
}

enum err rows_kits(struct rows_run *run)
{
    struct reading_run w = {.run = run};
    const struct bulletin *b = run->s->bulletin;
    size_t open = 0;
    enum err e = store_claims(run->store, NULL, see_kits, &w, run->f);
    if (e != ERR_OK)
        return e;
    for (size_t i = 0; i < run->s->n; i++)
        open += run->s->at[i].is_in && run->s->at[i].repaired == SITES_NO_DAY;
    rows_head(run->r, "kit,used");
    for (size_t i = 0; i < b->kits.n; i++) {
        rows_put(run->r, true, "%s", b->kits.at[i].id);
        rows_put(run->r, false, "%zu", w.kits[i]);
        rows_end(run->r);
    }
    if (open == 0)
        return fault_set(run->f, ERR_IMPOSSIBLE,
                         "no station in scope is still to be done, so no kit is needed");
    rows_say(run->r, "--kit", "kit");
    rows_say(run->r, "--count", "used");
    rows_say(run->r, "--units", "%zu", open);
    study_note(&run->r->notes, STUDY_CHECKED,
               "Rows: the kits of stations in claims that do not stand refused; a unit here is a "
               "station: %zu in scope are still to do.",
               open);
    study_note(
        &run->r->notes, STUDY_ASSUMED,
        "Every station still to do will come. Some owners never do: `study completion` tells "
        "how many.");
    if (w.n_refused > 0)
        study_note(&run->r->notes, STUDY_CHECKED, "Left out: %zu claims that stand refused.",
                   w.n_refused);
    if (w.n_no_kit > 0)
        study_note(&run->r->notes, STUDY_CHECKED,
                   "Left out: %zu stations with a kit that the bulletin does not have.",
                   w.n_no_kit);
    return ERR_OK;
}
