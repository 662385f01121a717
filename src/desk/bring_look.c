/* bring_look: owns looking at a list before it is brought in, and guessing which of its columns is which of ours. */
#include "desk/bring.h"

#include "base/csv.h"
#include "base/suggest.h"

#include <ctype.h>
#include <string.h>
#include <sys/stat.h>

enum { ROWS_SHOWN = 3, WORD = 40, SHOWN_MAX = 200 };

const char *const bring_kind_names[BRING_KIND_N + 1] = {"builds", "failures", "shops", NULL};

static const struct bring_field fields[BRING_KIND_N][BRING_FIELDS_MAX + 1] = {
    {{"vin", true}, {"station", true}, {"label", true}, {NULL, false}},
    {{"vin", true}, {"station", true}, {"failed", true}, {"reported", false}, {NULL, false}},
    {{"shop", true}, {"kind", true}, {"rate", false}, {"from", false}, {NULL, false}},
};

const struct bring_field *bring_fields(enum bring_kind kind)
{
    return fields[kind];
}

/* What others call a column of ours, in small letters and digits alone. */
static const struct {
    const char *name, *other[8];
} others[] = {
    {"vin",
     {"chassis", "chassisnumber", "chassisno", "vehicleid", "serial", "serialnumber", "unit"}},
    {"station", {"position", "place", "location", "column", "stationid", "side"}},
    {"label", {"labeltext", "sticker", "printed", "plate", "marking"}},
    {"failed", {"failedon", "failuredate", "dateoffailure", "failure", "dayfailed"}},
    {"reported", {"reportedon", "reportdate", "datereported", "heard", "received"}},
    {"shop", {"shopid", "workshop", "shopname", "shopno", "shopnumber"}},
    {"kind", {"type", "shoptype", "category"}},
    {"rate", {"hourlyrate", "labourrate", "laborrate", "rateperhour", "rateanhour"}},
    {"from", {"validfrom", "since", "startdate", "datefrom", "begins"}},
};

/* Small letters and digits of a name. */
static void bare(const char *name, char ret[WORD])
{
    size_t n = 0;
    for (; *name != '\0' && n + 1 < WORD; name++) {
        const unsigned char c = (unsigned char)*name;
        if (c < 128 && isalnum(c))
            ret[n++] = (char)tolower(c);
    }
    ret[n] = '\0';
}

static bool is_called(const char *ours, const char *word)
{
    if (strcmp(ours, word) == 0)
        return true;
    for (size_t i = 0; i < sizeof others / sizeof *others; i++)
        for (size_t k = 0; strcmp(others[i].name, ours) == 0 && k < 8; k++)
            if (others[i].other[k] != NULL && strcmp(others[i].other[k], word) == 0)
                return true;
    return false;
}

/* The file's column for one of ours: the same name, one that others use, else one spelt nearly so; -1: none. */
static int guess(const struct csv *csv, const char *ours)
{
    const char *names[CSV_COLUMNS_MAX];
    const size_t n = csv_columns(csv);
    char word[WORD];
    const int same = csv_column(csv, ours);
    if (same >= 0)
        return same;
    for (size_t i = 0; i < n; i++) {
        names[i] = csv_column_name(csv, i);
        bare(names[i], word);
        if (is_called(ours, word))
            return (int)i;
    }
    const char *near = suggest_nearest(ours, strlen(ours), names, n);
    return near != NULL ? csv_column(csv, near) : -1;
}

/* Needed fields found in 60ths of all that the kind needs, a point more where all of its fields are there. */
static int put_guess(const struct csv *csv, enum bring_kind kind, struct jsonw *w)
{
    int needed = 0, found = 0, all = 0;
    jsonw_object(w, bring_kind_names[kind]);
    for (const struct bring_field *f = fields[kind]; f->name != NULL; f++) {
        const int at = guess(csv, f->name);
        jsonw_string(w, f->name, at >= 0 ? csv_column_name(csv, (size_t)at) : NULL);
        needed += f->is_needed;
        found += f->is_needed && at >= 0;
        all += at >= 0;
    }
    jsonw_object_end(w);
    return needed > 0 ? 60 * found / needed + all : all;
}

static enum err put_rows(struct csv *csv, struct jsonw *w, struct fault *f)
{
    int n = 0;
    bool is_row = true;
    enum err err = ERR_OK;
    jsonw_array(w, "first");
    for (int i = 0; i < ROWS_SHOWN && err == ERR_OK && is_row; i++) {
        struct fault unsaid = {0}; /* a faulty row is told by the dry run */
        err = csv_next(csv, &is_row, &unsaid);
        if (err == ERR_IO || err == ERR_MEMORY) {
            *f = unsaid;
            break;
        }
        n += err != ERR_OK || is_row;
        if (err != ERR_OK) {
            err = csv_resume(csv, f);
            continue;
        }
        if (!is_row)
            break;
        jsonw_array(w, NULL);
        for (size_t k = 0; k < csv_columns(csv); k++) {
            const struct csv_field field = csv_at(csv, k);
            jsonw_string_n(w, NULL, field.at, field.n < SHOWN_MAX ? field.n : SHOWN_MAX);
        }
        jsonw_array_end(w);
    }
    jsonw_array_end(w);
    if (err == ERR_OK && n == 0)
        err =
            fault_set(f, ERR_EMPTY, "there is no row in it; expected one or more below the first");
    return err;
}

enum err bring_look(const char *path, struct jsonw *w, struct fault *reterr)
{
    struct csv *csv = NULL;
    struct stat st;
    int best = -1, best_points = -1;
    enum err err = csv_open_file(path, &csv, reterr);
    if (err != ERR_OK)
        return err;
    jsonw_int(w, "bytes", stat(path, &st) == 0 ? (int64_t)st.st_size : 0);
    jsonw_array(w, "columns");
    for (size_t i = 0; i < csv_columns(csv); i++)
        jsonw_string(w, NULL, csv_column_name(csv, i));
    jsonw_array_end(w);
    jsonw_object(w, "guess");
    for (int kind = 0; kind < BRING_KIND_N; kind++) {
        const int points = put_guess(csv, (enum bring_kind)kind, w);
        if (points > best_points) {
            best_points = points;
            best = kind;
        }
    }
    jsonw_object_end(w);
    jsonw_string(w, "kind", bring_kind_names[best]);
    err = put_rows(csv, w, reterr);
    csv_close(csv);
    return err;
}
