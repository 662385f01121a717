/* failures: owns reading the list of failure reports and finding those of a station. */
#include "desk/failures.h"

#include "bulletin/values.h"
#include "core/date.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct reading {
    struct csv *csv;
    int vin, station, failed, reported; /* columns; reported -1: there is none */
    struct failures *list;
    size_t room;
};

static enum err read_vin(const struct reading *r, char ret[VIN_SIZE + 1], struct fault *f)
{
    struct vin_verdict v;
    const struct csv_field field = csv_at(r->csv, (size_t)r->vin);
    vin_check(field.at, field.n, &v);
    if (v.fault == VIN_FAULT_LENGTH || v.fault == VIN_FAULT_CHARACTER)
        return csv_fault(
            r->csv, (size_t)r->vin, f, ERR_SYNTAX,
            "found \"%.40s\"; expected a VIN: 17 letters and digits, without I, O and Q", field.at);
    memcpy(ret, v.vin, sizeof v.vin);
    return ERR_OK;
}

static enum err read_station(const struct reading *r, char ret[FAILURES_STATION], struct fault *f)
{
    char why[FAULT_MESSAGE_MAX] = "";
    const struct csv_field field = csv_at(r->csv, (size_t)r->station);
    const enum err e = value_id(field.at, field.n, why);
    if (e == ERR_OK && field.n < FAILURES_STATION) {
        memcpy(ret, field.at, field.n + 1);
        return ERR_OK;
    }
    return csv_fault(r->csv, (size_t)r->station, f, ERR_SYNTAX, "%s",
                     why[0] != '\0' ? why
                                    : "expected a station's id: lower-case words with dashes");
}

static enum err read_day(const struct reading *r, int column, int32_t *ret, struct fault *f)
{
    const struct csv_field field = csv_at(r->csv, (size_t)column);
    const enum err e = date_parse(field.at, field.n, ret);
    return e == ERR_OK ? e
                       : csv_fault(r->csv, (size_t)column, f, e,
                                   "found \"%.60s\"; expected a day \"YYYY-MM-DD\"", field.at);
}

static enum err read_days(const struct reading *r, struct failure *row, struct fault *f)
{
    const enum err e = read_day(r, r->failed, &row->failed, f);
    row->reported = FAILURES_NO_DAY;
    if (e != ERR_OK || r->reported < 0 || csv_at(r->csv, (size_t)r->reported).n == 0)
        return e;
    const enum err e2 = read_day(r, r->reported, &row->reported, f);
    if (e2 == ERR_OK && row->reported < row->failed)
        return csv_fault(r->csv, (size_t)r->reported, f, ERR_ORDER,
                         "found %.20s, before the day on which it failed",
                         csv_at(r->csv, (size_t)r->reported).at);
    return e2;
}

static enum err make_room(struct reading *r, struct fault *f)
{
    if (r->list->n == FAILURES_MAX)
        return csv_fault(r->csv, 0, f, ERR_LIMIT, "found more than %d rows", (int)FAILURES_MAX);
    if (r->list->n < r->room)
        return ERR_OK;
    const size_t room = r->room > 0 ? 2 * r->room : 256;
    struct failure *at = realloc(r->list->at, room * sizeof *at);
    if (at == NULL)
        return fault_set(f, ERR_MEMORY, "memory ran out while reading failures");
    r->list->at = at;
    r->room = room;
    return ERR_OK;
}

enum err failures_row(struct csv *csv, int vin, int station, int failed, int reported,
                      struct failure *ret, struct fault *reterr)
{
    const struct reading r = {
        .csv = csv, .vin = vin, .station = station, .failed = failed, .reported = reported};
    memset(ret, 0, sizeof *ret);
    enum err e = read_vin(&r, ret->vin, reterr);
    if (e == ERR_OK)
        e = read_station(&r, ret->station, reterr);
    return e == ERR_OK ? read_days(&r, ret, reterr) : e;
}

static enum err read_row(struct reading *r, struct fault *f)
{
    enum err e = make_room(r, f);
    if (e != ERR_OK)
        return e;
    struct failure *row = &r->list->at[r->list->n];
    e = failures_row(r->csv, r->vin, r->station, r->failed, r->reported, row, f);
    r->list->n += e == ERR_OK;
    return e;
}

static int compare(const struct failure *a, const struct failure *b)
{
    int c = strcmp(a->vin, b->vin);
    if (c == 0)
        c = strcmp(a->station, b->station);
    return c != 0 ? c : (a->failed > b->failed) - (a->failed < b->failed);
}

static int by_place(const void *a, const void *b)
{
    return compare(a, b);
}

static enum err check_twice(const struct failures *list, const char *name, struct fault *f)
{
    for (size_t i = 1; i < list->n; i++) {
        char day[DATE_SHOW_SIZE];
        if (compare(&list->at[i - 1], &list->at[i]) != 0)
            continue;
        date_show(list->at[i].failed, day);
        *f = (struct fault){.line = 0};
        snprintf(f->file, sizeof f->file, "%s", name);
        return fault_set(f, ERR_DUPLICATE,
                         "found %s, station %s, failed %s twice; expected each failure once",
                         list->at[i].vin, list->at[i].station, day);
    }
    return ERR_OK;
}

static enum err read_all(struct reading *r, struct fault *f)
{
    bool is_row = true;
    enum err e = csv_need(r->csv, "vin", &r->vin, f);
    if (e == ERR_OK)
        e = csv_need(r->csv, "station", &r->station, f);
    if (e == ERR_OK)
        e = csv_need(r->csv, "failed", &r->failed, f);
    r->reported = csv_column(r->csv, "reported");
    while (e == ERR_OK && is_row) {
        e = csv_next(r->csv, &is_row, f);
        if (e == ERR_OK && is_row)
            e = read_row(r, f);
    }
    return e;
}

enum err failures_read(const char *text, size_t n, const char *name, struct failures *ret,
                       struct fault *reterr)
{
    struct failures list = {0};
    struct reading r = {.list = &list};
    struct fault f = {0};
    enum err e = csv_open(n > 0 ? text : "", n, name, &r.csv, &f);
    if (e == ERR_OK)
        e = read_all(&r, &f);
    csv_close(r.csv);
    if (e == ERR_OK && list.n > 0) {
        qsort(list.at, list.n, sizeof *list.at, by_place);
        e = check_twice(&list, name, &f);
    }
    if (e != ERR_OK) {
        failures_done(&list);
        *reterr = f;
        return e;
    }
    *ret = list;
    return ERR_OK;
}

void failures_done(struct failures *list)
{
    free(list->at);
    *list = (struct failures){0};
}

static int place(const struct failure *at, const char *vin, const char *station)
{
    const int c = strcmp(at->vin, vin);
    return c != 0 ? c : strcmp(at->station, station);
}

const struct failure *failures_of(const struct failures *list, const char *vin, const char *station,
                                  size_t *ret_n)
{
    size_t low = 0, high = list->n, end = 0;
    while (low < high) {
        const size_t mid = low + (high - low) / 2;
        if (place(&list->at[mid], vin, station) < 0)
            low = mid + 1;
        else
            high = mid;
    }
    for (end = low; end < list->n && place(&list->at[end], vin, station) == 0; end++)
        ;
    *ret_n = end - low;
    return list->at + (list->n > 0 ? low : 0);
}
