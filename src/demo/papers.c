/* papers: owns the form of the campaign's tables and of truth.json. */
#include "demo/papers.h"

#include "base/csv.h"
#include "base/digest.h"
#include "base/jsonw.h"
#include "demo/disk.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void paper_bag(const struct world *world, size_t i, char ret[PAPER_BAG])
{
    const int digits = world->n_claims < 10000 ? 4 : 7;
    snprintf(ret, PAPER_BAG, "%0*u.zip", digits, (unsigned)(i + 1) % 10000000);
}

static void put(struct text *out, bool is_first, const char *field)
{
    csv_put(out, is_first, field, strlen(field));
}

static void put_row(struct text *out, const char *const *fields, size_t n)
{
    for (size_t i = 0; i < n; i++)
        put(out, i == 0, fields[i]);
    csv_put_end(out);
}

static enum err write_text(const char *folder, const char *name, struct text *text,
                           struct fault *reterr)
{
    const enum err e = disk_write(folder, name, text, reterr);
    text_done(text);
    return e;
}

/* ---- tables ------------------------------------------------------------------------------------ */

static enum err write_builds(const struct world *world, const char *folder, struct fault *reterr)
{
    static const char *const head[] = {"vin", "station", "label"};
    struct text out = {0};
    put_row(&out, head, 3);
    for (size_t i = 0; i < world->n_units; i++)
        for (size_t s = 0; s < WORLD_STATIONS; s++) {
            const char *row[] = {world->units[i].vin, world->bulletin->scope.stations.at[s].id,
                                 world->units[i].station[s].label};
            put_row(&out, row, 3);
        }
    return write_text(folder, "builds.csv", &out, reterr);
}

static enum err write_failures(const struct world *world, const char *folder, struct fault *reterr)
{
    static const char *const head[] = {"vin", "built", "station", "failed", "days"};
    struct text out = {0};
    put_row(&out, head, 5);
    for (size_t i = 0; i < world->n_units; i++)
        for (size_t s = 0; s < WORLD_STATIONS; s++) {
            const struct world_station *station = &world->units[i].station[s];
            char built[DATE_SHOW_SIZE], days[16];
            date_show(station->day, built);
            snprintf(days, sizeof days, "%" PRId32, station->days);
            const char *row[] = {world->units[i].vin, built,
                                 world->bulletin->scope.stations.at[s].id,
                                 station->has_failed ? "1" : "0", days};
            put_row(&out, row, 5);
        }
    return write_text(folder, "failures.csv", &out, reterr);
}

/* ---- failure reports --------------------------------------------------------------------------- */

enum { REPORTED_WITHIN = 21 /* days */ };
#define YEAR 365.25

static void put_report(struct text *out, const struct world *world, size_t unit, size_t s,
                       int32_t day, struct random *r)
{
    char failed[DATE_SHOW_SIZE], reported[DATE_SHOW_SIZE];
    date_show(day, failed);
    date_show(day + (int32_t)random_within(r, 0, REPORTED_WITHIN), reported);
    const char *row[] = {world->units[unit].vin, world->bulletin->scope.stations.at[s].id, failed,
                         reported};
    put_row(out, row, 4);
}

/* The first failure from a day on until before another, at a constant rate a year. */
static void draw_report(struct text *out, const struct world *world, size_t unit, size_t s,
                        int32_t from, int32_t until, double rate, struct random *r)
{
    const double days = -YEAR * log1p(-random_share(r)) / rate;
    if (days < until - from)
        put_report(out, world, unit, s, from + (int32_t)days, r);
}

/* When each column was repaired: INT32_MAX, never. The caller frees it; NULL: no memory. */
static int32_t *repair_days(const struct world *world, int32_t *ret_last)
{
    int32_t *days = calloc(world->n_units * WORLD_STATIONS, sizeof *days);
    *ret_last = world->bulletin->head.issued;
    for (size_t i = 0; days != NULL && i < world->n_units * WORLD_STATIONS; i++)
        days[i] = INT32_MAX;
    for (size_t i = 0; days != NULL && i < world->n_claims; i++) {
        const struct world_claim *c = &world->claims[i];
        const int32_t arrived = (int32_t)(c->arrived_ms / 86400000);
        *ret_last = arrived > *ret_last ? arrived : *ret_last;
        for (size_t s = 0; s < WORLD_STATIONS; s++)
            if (c->is_done[s] && c->day < days[c->unit * WORLD_STATIONS + s])
                days[c->unit * WORLD_STATIONS + s] = c->day;
    }
    return days;
}

/* What the after-sales desk was told: before the bulletin those of failures.csv, and then what failed until the last claim came. */
static enum err write_reports(const struct world *world, const char *folder, struct fault *reterr)
{
    static const char *const head[] = {"vin", "station", "failed", "reported"};
    struct text out = {0};
    int32_t last = 0;
    int32_t *repaired = repair_days(world, &last);
    if (repaired == NULL)
        return fault_no_memory(reterr);
    put_row(&out, head, 4);
    for (size_t i = 0; i < world->n_units; i++)
        for (size_t s = 0; s < WORLD_STATIONS; s++) {
            struct random r;
            const struct world_station *station = &world->units[i].station[s];
            const int32_t from = world->bulletin->head.issued + 1;
            const int32_t mended = repaired[i * WORLD_STATIONS + s];
            random_start(&r, world->seed, RANDOM_LATER, i * WORLD_STATIONS + s);
            if (station->has_failed)
                put_report(&out, world, i, s, world->units[i].day + station->days, &r);
            draw_report(&out, world, i, s, from, mended < last ? mended : last,
                        station->is_in ? WORLD_RATE_OPEN : WORLD_RATE_OTHERS, &r);
            if (mended < last)
                draw_report(&out, world, i, s, mended + 1, last, WORLD_RATE_REPAIRED, &r);
        }
    free(repaired);
    return write_text(folder, "reports.csv", &out, reterr);
}

/* ---- what the maker has for it ----------------------------------------------------------------- */

enum { RESERVE_A_UNIT = 600, LEAD_DAYS = 21, STOCK_SHARE = 80 };

/* So much money for each unit with a column from the windows: near what three in four of them cost. */
static enum err write_reserve(const struct world *world, const char *folder, struct fault *reterr)
{
    static const char *const head[] = {"bulletin", "amount", "currency", "person"};
    struct text out = {0};
    char amount[32];
    size_t n = 0;
    for (size_t i = 0; i < world->n_units; i++)
        n += world->units[i].station[0].is_in || world->units[i].station[1].is_in;
    snprintf(amount, sizeof amount, "%zu", n * RESERVE_A_UNIT);
    const char *row[] = {world->bulletin->head.id, amount, world->bulletin->head.currency,
                         "invented board"};
    put_row(&out, head, 4);
    put_row(&out, row, 4);
    return write_text(folder, "reserve.csv", &out, reterr);
}

static enum err write_stock(const struct world *world, const char *folder, struct fault *reterr)
{
    static const char *const head[] = {"kit", "on_hand", "ordered", "lead_days"};
    const int64_t most = (int64_t)(world->n_units / STOCK_SHARE) + 4;
    struct text out = {0};
    struct random r;
    char on_hand[24], ordered[24], lead[24];
    const char *row[] = {NULL, on_hand, ordered, lead};
    random_start(&r, world->seed, RANDOM_LATER, world->n_units * WORLD_STATIONS);
    put_row(&out, head, 4);
    for (size_t i = 0; i < world->bulletin->kits.n; i++) {
        row[0] = world->bulletin->kits.at[i].id;
        snprintf(on_hand, sizeof on_hand, "%" PRId64, random_within(&r, 0, most));
        snprintf(ordered, sizeof ordered, "%" PRId64, random_within(&r, 0, most));
        snprintf(lead, sizeof lead, "%d", LEAD_DAYS);
        put_row(&out, row, 4);
    }
    return write_text(folder, "stock.csv", &out, reterr);
}

/* The same as failures.csv by day: how many columns were built and how many of them failed. */
static enum err write_days(const struct world *world, const char *folder, struct fault *reterr)
{
    static const char *const head[] = {"day", "built", "failed"};
    enum { DAYS = 1100, FIRST = 19540 };
    struct text out = {0};
    struct {
        unsigned built, failed;
    } *days = calloc(DAYS, sizeof *days);
    if (days == NULL)
        return fault_no_memory(reterr);
    put_row(&out, head, 3);
    for (size_t i = 0; i < world->n_units; i++)
        for (size_t s = 0; s < WORLD_STATIONS; s++) {
            const struct world_station *station = &world->units[i].station[s];
            const int32_t at = station->day - FIRST;
            if (at < 0 || at >= DAYS)
                continue;
            days[at].built++;
            days[at].failed += station->has_failed;
        }
    for (int32_t i = 0; i < DAYS; i++) {
        char day[DATE_SHOW_SIZE], built[16], failed[16];
        const char *row[] = {day, built, failed};
        if (days[i].built == 0)
            continue;
        date_show(FIRST + i, day);
        snprintf(built, sizeof built, "%u", days[i].built);
        snprintf(failed, sizeof failed, "%u", days[i].failed);
        put_row(&out, row, 3);
    }
    free(days);
    return write_text(folder, "days.csv", &out, reterr);
}

static enum err write_shops(const struct world *world, const char *folder, struct fault *reterr)
{
    static const char *const head[] = {"shop", "kind", "rate", "from"};
    struct text out = {0};
    put_row(&out, head, 4);
    for (size_t i = 0; i < world->n_shops; i++) {
        const struct world_shop *shop = &world->shops[i];
        char rate[32];
        snprintf(rate, sizeof rate, "%" PRId64 ".%02" PRId64, shop->rate_minor / 100,
                 shop->rate_minor % 100);
        const char *row[] = {shop->id, shop->kind == BULLETIN_PAYEE_MOBILE ? "mobile" : "shop",
                             rate, "2026-01-01"};
        put_row(&out, row, 4);
    }
    return write_text(folder, "shops.csv", &out, reterr);
}

static enum err write_keys(const struct world *world, const char *folder, struct fault *reterr)
{
    char keys[DISK_PATH], name[WORLD_ID + 8], hex[2 * SIGN_KEY_SIZE + 1];
    struct text all = {0};
    enum err e = disk_path(keys, folder, "keys", reterr);
    if (e == ERR_OK)
        e = disk_folder(keys, reterr);
    for (size_t i = 0; i < world->n_shops && e == ERR_OK; i++) {
        struct text line = {0};
        digest_hex(world->shops[i].key, SIGN_KEY_SIZE, hex);
        text_printf(&line, "%s %s\n", world->shops[i].id, hex);
        text_printf(&all, "%s %s\n", world->shops[i].id, hex);
        snprintf(name, sizeof name, "%s.pub", world->shops[i].id);
        e = write_text(keys, name, &line, reterr);
    }
    if (e == ERR_OK)
        e = disk_write(folder, "keys.txt", &all, reterr);
    text_done(&all);
    return e;
}

static enum err write_arrivals(const struct world *world, const char *folder, struct fault *reterr)
{
    static const char *const head[] = {"bag", "arrived_ms"};
    struct text out = {0};
    put_row(&out, head, 2);
    for (size_t i = 0; i < world->n_claims; i++) {
        char bag[PAPER_BAG], path[PAPER_BAG + 8], ms[32];
        const char *row[] = {path, ms};
        paper_bag(world, i, bag);
        snprintf(path, sizeof path, "bags/%s", bag);
        snprintf(ms, sizeof ms, "%" PRId64, world->claims[i].arrived_ms);
        put_row(&out, row, 2);
    }
    return write_text(folder, "arrivals.csv", &out, reterr);
}

enum err papers_write(const struct world *world, const char *folder, struct fault *reterr)
{
    enum err e = write_builds(world, folder, reterr);
    if (e == ERR_OK)
        e = write_failures(world, folder, reterr);
    if (e == ERR_OK)
        e = write_days(world, folder, reterr);
    if (e == ERR_OK)
        e = write_reports(world, folder, reterr);
    if (e == ERR_OK)
        e = write_reserve(world, folder, reterr);
    if (e == ERR_OK)
        e = write_stock(world, folder, reterr);
    if (e == ERR_OK)
        e = write_shops(world, folder, reterr);
    if (e == ERR_OK)
        e = write_keys(world, folder, reterr);
    if (e == ERR_OK)
        e = write_arrivals(world, folder, reterr);
    return e;
}

/* ---- the truth --------------------------------------------------------------------------------- */

static void put_failures(struct jsonw *w, const struct world *world)
{
    jsonw_object(w, "failures");
    jsonw_double(w, "rate_inside", WORLD_RATE_INSIDE);
    jsonw_double(w, "rate_outside", WORLD_RATE_OUTSIDE);
    jsonw_double(w, "later_open_per_year", WORLD_RATE_OPEN);
    jsonw_double(w, "later_repaired_per_year", WORLD_RATE_REPAIRED);
    jsonw_double(w, "later_others_per_year", WORLD_RATE_OTHERS);
    jsonw_array(w, "windows");
    for (size_t v = 0; v < world->bulletin->scope.variants.n; v++) {
        const struct bulletin_variant *variant = &world->bulletin->scope.variants.at[v];
        for (size_t i = 0; i < variant->windows.n; i++) {
            char day[DATE_SHOW_SIZE];
            jsonw_object(w, NULL);
            jsonw_string(w, "variant", variant->id);
            date_show(variant->windows.at[i].from.first, day);
            jsonw_string(w, "first", day);
            date_show(variant->windows.at[i].to.last, day);
            jsonw_string(w, "last", day);
            jsonw_object_end(w);
        }
    }
    jsonw_array_end(w);
    jsonw_object_end(w);
}

/* Technicians who like 0 and 5 as the last digit of a gap. */
static void put_habits(struct jsonw *w, const struct world *world)
{
    jsonw_array(w, "last_digit_0_or_5");
    for (size_t i = 0; i < world->n_persons; i++)
        if (world->persons[i].has_habit)
            jsonw_string(w, NULL, world->persons[i].id);
    jsonw_array_end(w);
}

static void put_rules(struct jsonw *w, const char *rules)
{
    jsonw_array(w, "expect");
    while (*rules != '\0') {
        const size_t n = strcspn(rules, " ");
        jsonw_string_n(w, NULL, rules, n);
        rules += n + (rules[n] == ' ');
    }
    jsonw_array_end(w);
}

static void put_fault(struct jsonw *w, const struct world *world, const struct world_claim *c,
                      const struct paper_claim *p)
{
    const struct kind_row *row = &kind_rows[p->kind];
    char bag[PAPER_BAG];
    jsonw_bool(w, "deterministic", row->is_deterministic);
    jsonw_string(w, "take", p->kind == KIND_TAMPERED ? "refused" : "taken");
    put_rules(w, row->rules);
    jsonw_string(w, "vin", world->units[c->unit].vin);
    jsonw_string(w, "shop", world->shops[c->shop].id);
    jsonw_string(w, "technician", world->persons[c->person].id);
    jsonw_string(w, "station", world->bulletin->scope.stations.at[c->station].id);
    jsonw_string(w, "what", row->what);
    if (p->what[0] != '\0')
        jsonw_string(w, "where", p->what);
    if (c->source != WORLD_NONE) {
        paper_bag(world, c->source, bag);
        jsonw_string(w, "source", bag);
    }
}

static void put_claims(struct text *out, struct jsonw *w, const struct world *world,
                       const struct paper_claim *claims)
{
    jsonw_array(w, "claims");
    for (size_t i = 0; i < world->n_claims; i++) {
        char bag[PAPER_BAG], job[ULID_TEXT_SIZE + 1];
        paper_bag(world, i, bag);
        ulid_show(&claims[i].job, job);
        text_putc(out, '\n');
        jsonw_object(w, NULL);
        jsonw_string(w, "bag", bag);
        jsonw_string(w, "job", job);
        jsonw_string(w, "kind", kind_rows[claims[i].kind].name);
        if (claims[i].kind != KIND_CLEAN)
            put_fault(w, world, &world->claims[i], &claims[i]);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
}

enum err papers_truth(const struct world *world, const struct paper_claim *claims,
                      const char *folder, struct fault *reterr)
{
    struct text out = {0};
    struct jsonw w;
    jsonw_start(&w, &out);
    jsonw_object(&w, NULL);
    jsonw_int(&w, "mendwright_truth", 1);
    jsonw_bool(&w, "invented", true);
    jsonw_string(&w, "bulletin", world->bulletin->head.id);
    jsonw_int(&w, "revision", world->bulletin->head.revision);
    jsonw_int(&w, "units", (int64_t)world->n_units);
    jsonw_int(&w, "seed", (int64_t)world->seed);
    put_failures(&w, world);
    put_habits(&w, world);
    put_claims(&out, &w, world, claims);
    jsonw_object_end(&w);
    text_putc(&out, '\n');
    return write_text(folder, "truth.json", &out, reterr);
}
