/* study_ask: owns the list of what a page may ask of a study, and the check of what it sends. */
#include "desk/study_ask.h"

#include "base/number.h"
#include "core/date.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* ---- what may be asked ---------------------------------------------------------------------------- */

#define WHOLE(name, least, most, usual)                                                            \
    {                                                                                              \
        name, STUDY_ASK_WHOLE, least, most, usual, NULL                                            \
    }
#define NUMBER(name, least, most, usual)                                                           \
    {                                                                                              \
        name, STUDY_ASK_NUMBER, least, most, usual, NULL                                           \
    }
#define DAY(name)                                                                                  \
    {                                                                                              \
        name, STUDY_ASK_DAY, 0, 0, NULL, NULL                                                      \
    }
#define WORD(name)                                                                                 \
    {                                                                                              \
        name, STUDY_ASK_WORD, 0, 0, NULL, NULL                                                     \
    }
#define AMOUNT(name)                                                                               \
    {                                                                                              \
        name, STUDY_ASK_AMOUNT, 0, 0, NULL, NULL                                                   \
    }
#define FLAG(name)                                                                                 \
    {                                                                                              \
        name, STUDY_ASK_FLAG, 0, 0, NULL, NULL                                                     \
    }
#define CHOICE(name, usual, choices)                                                               \
    {                                                                                              \
        name, STUDY_ASK_CHOICE, 0, 0, usual, choices                                               \
    }
#define END                                                                                        \
    {                                                                                              \
        NULL, STUDY_ASK_FLAG, 0, 0, NULL, NULL                                                     \
    }

/* A million seeds are as good as 2^53, and draws are held to a tenth of a million: seconds, not hours. */
enum { SEEDS = 999999, DRAWS = 99999, DAYS = 36500 };

static const char *const units[] = {"mm", "cm", "m", "in", "ft", "V", "A", "s", "N m", "deg", NULL};
static const char *const lengths[] = {"mm", "cm", "m", "in", "ft", NULL};
static const char *const who[] = {"shop", "technician", NULL};

static const struct study_ask_option window_options[] = {NUMBER("confidence", 50, 99.9, "95"),
                                                         WHOLE("windows", 1, 8, "1"),
                                                         WORD("variant"),
                                                         WORD("bulletin"),
                                                         DAY("until"),
                                                         WHOLE("draws", 99, DRAWS, "9999"),
                                                         WHOLE("seed", 0, SEEDS, "1"),
                                                         END};
static const struct study_ask_option life_options[] = {NUMBER("forecast", 1, DAYS, NULL),
                                                       FLAG("cure"),
                                                       NUMBER("confidence", 50, 99.99, "95"),
                                                       WORD("variant"),
                                                       WORD("bulletin"),
                                                       DAY("until"),
                                                       WHOLE("seed", 0, SEEDS, "1"),
                                                       END};
static const struct study_ask_option completion_options[] = {NUMBER("within", 1, DAYS, NULL),
                                                             NUMBER("confidence", 50, 99.99, "95"),
                                                             DAY("notice"),
                                                             DAY("until"),
                                                             WORD("variant"),
                                                             WORD("bulletin"),
                                                             WHOLE("seed", 0, SEEDS, "1"),
                                                             END};
static const struct study_ask_option held_options[] = {NUMBER("at-most", 0.01, 100, "1"),
                                                       NUMBER("confidence", 50, 99.99, "95"),
                                                       DAY("notice"),
                                                       DAY("until"),
                                                       WORD("variant"),
                                                       WORD("bulletin"),
                                                       END};
static const struct study_ask_option labour_options[] = {NUMBER("paid", 1, 100000, NULL),
                                                         NUMBER("share", 1, 99, "80"),
                                                         NUMBER("within", 0.1, 100, "5"),
                                                         NUMBER("rating", 10, 300, "100"),
                                                         NUMBER("relaxation", 0, 200, "0"),
                                                         NUMBER("confidence", 50, 99.99, "95"),
                                                         WORD("bulletin"),
                                                         END};
static const struct study_ask_option gauge_options[] = {
    NUMBER("tolerance", 0.000001, 1000000, NULL),
    NUMBER("most", 0, 100, NULL),
    NUMBER("pool-above", 0, 1, NULL),
    CHOICE("unit", NULL, units),
    NUMBER("confidence", 50, 99.9, "95"),
    END};
static const struct study_ask_option capability_options[] = {
    NUMBER("least", 0.01, 100, NULL),      AMOUNT("u"),      CHOICE("unit", "mm", units),
    NUMBER("confidence", 50, 99.99, "95"), WORD("bulletin"), END};
static const struct study_ask_option audit_options[] = {NUMBER("aql", 0.001, 100, NULL),
                                                        NUMBER("lq", 0.001, 100, NULL),
                                                        NUMBER("producer", 0.01, 99, "5"),
                                                        NUMBER("consumer", 0.01, 99, "10"),
                                                        WHOLE("lot", 1, 1000000, NULL),
                                                        WHOLE("sample", 1, 100000, NULL),
                                                        WHOLE("accept", 0, 100000, NULL),
                                                        WHOLE("found", 0, 100000, NULL),
                                                        NUMBER("confidence", 50, 99.99, "95"),
                                                        WORD("bulletin"),
                                                        END};
static const struct study_ask_option digits_options[] = {
    CHOICE("by", "shop", who),          AMOUNT("step"),   CHOICE("unit", "mm", lengths),
    NUMBER("discovery", 0.01, 50, "5"), WORD("bulletin"), END};
static const struct study_ask_option stock_options[] = {WHOLE("units", 1, 1000000, NULL),
                                                        NUMBER("service", 1, 99.999, "95"),
                                                        FLAG("all-sorts"),
                                                        NUMBER("short-cost", 0.000001, 1e9, NULL),
                                                        NUMBER("left-cost", 0.000001, 1e9, NULL),
                                                        WORD("bulletin"),
                                                        END};

const struct study_ask_kind study_ask_kinds[] = {
    {"window", NULL, window_options},
    {"life", NULL, life_options},
    {"completion", NULL, completion_options},
    {"held", NULL, held_options},
    {"labour", NULL, labour_options},
    {"stock", NULL, stock_options},
    {"capability", NULL, capability_options},
    {"digits", NULL, digits_options},
    {"audit", NULL, audit_options},
    {"gauge", "part,operator,value", gauge_options},
    {NULL, NULL, NULL},
};

const struct study_ask_kind *study_ask_find(const char *kind)
{
    for (const struct study_ask_kind *k = study_ask_kinds; k->kind != NULL; k++)
        if (strcmp(k->kind, kind) == 0)
            return k;
    return NULL;
}

/* ---- one option ------------------------------------------------------------------------------------ */

static enum err check_number(const struct study_ask_option *o, const char *text, struct fault *f)
{
    double value = 0;
    if (!number_read(text, strlen(text), &value, NULL))
        return fault_set(f, ERR_SYNTAX, "found '%s'; expected a number such as 95 or 0.5", text);
    if (!(value >= o->least && value <= o->most))
        return fault_set(f, ERR_RANGE, "found %s; expected %g to %.10g", text, o->least, o->most);
    if (o->type == STUDY_ASK_WHOLE && value != floor(value))
        return fault_set(f, ERR_SYNTAX, "found %s; expected a whole number", text);
    return ERR_OK;
}

static enum err check_choice(const struct study_ask_option *o, const char *text, struct fault *f)
{
    char list[120] = "";
    for (size_t i = 0; o->choices[i] != NULL; i++) {
        if (strcmp(o->choices[i], text) == 0)
            return ERR_OK;
        const size_t n = strlen(list);
        (void)snprintf(list + n, sizeof list - n, "%s%s", i > 0 ? ", " : "", o->choices[i]);
    }
    return fault_set(f, ERR_SYNTAX, "found '%s'; expected one of %s", text, list);
}

/* Letters, digits and a few signs; nothing that could be taken for an option. */
static enum err check_text(const char *text, const char *signs, const char *what, struct fault *f)
{
    char allowed[100];
    (void)snprintf(allowed, sizeof allowed,
                   "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789%s", signs);
    if (text[0] == '-' || strspn(text, allowed) != strlen(text))
        return fault_set(f, ERR_SYNTAX, "found '%s'; expected %s", text, what);
    return ERR_OK;
}

static enum err check_value(const struct study_ask_option *o, const char *text, struct fault *f)
{
    int32_t day = 0;
    switch (o->type) {
    case STUDY_ASK_NUMBER:
    case STUDY_ASK_WHOLE:
        return check_number(o, text, f);
    case STUDY_ASK_DAY:
        return date_parse(text, strlen(text), &day) == ERR_OK
                   ? ERR_OK
                   : fault_set(f, ERR_SYNTAX, "found '%s'; expected a day such as 2026-03-05",
                               text);
    case STUDY_ASK_WORD:
        return check_text(text, "-._", "letters, digits, '-', '.' and '_'", f);
    case STUDY_ASK_AMOUNT:
        return check_text(text, "-./ \"'", "an amount such as 0.5 mm or 1/16", f);
    case STUDY_ASK_CHOICE:
        return check_choice(o, text, f);
    case STUDY_ASK_FLAG:
        break;
    }
    return strcmp(text, "yes") == 0 ? ERR_OK
                                    : fault_set(f, ERR_SYNTAX, "found '%s'; expected yes", text);
}

static const struct study_ask_option *find_option(const struct study_ask_kind *kind,
                                                  const char *name)
{
    for (const struct study_ask_option *o = kind->options; o->name != NULL; o++)
        if (strcmp(o->name, name) == 0)
            return o;
    return NULL;
}

enum err study_ask_set(struct study_ask *ask, const char *name, const char *value, size_t n,
                       struct fault *reterr)
{
    char text[STUDY_ASK_VALUE_MAX + 1];
    const struct study_ask_option *o = find_option(ask->kind, name);
    (void)snprintf(reterr->path, sizeof reterr->path, "options.%.40s", name);
    reterr->path[text_clean(reterr->path, strlen(reterr->path), false)] = '\0';
    if (o == NULL)
        return fault_set(reterr, ERR_UNKNOWN, "this study has no such option");
    for (size_t i = 0; i < ask->n; i++)
        if (ask->at[i].option == o)
            return fault_set(reterr, ERR_DUPLICATE, "is given twice");
    if (n == 0 || n > STUDY_ASK_VALUE_MAX)
        return fault_set(reterr, ERR_LIMIT, "found %zu bytes; expected 1 to %d", n,
                         (int)STUDY_ASK_VALUE_MAX);
    if (ask->n == STUDY_ASK_OPTIONS_MAX)
        return fault_set(reterr, ERR_LIMIT, "too many options");
    memcpy(text, value, n);
    text[text_clean(text, n, false)] = '\0';
    const enum err e = check_value(o, text, reterr);
    if (e != ERR_OK)
        return e;
    ask->at[ask->n].option = o;
    (void)snprintf(ask->at[ask->n].text, sizeof ask->at[ask->n].text, "%s", text);
    ask->n++;
    reterr->path[0] = '\0';
    return ERR_OK;
}

/* ---- as a call --------------------------------------------------------------------------------------- */

static void put_word(struct text *t, const char *word)
{
    static const char plain[] =
        "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-._/";
    if (word[0] != '\0' && strspn(word, plain) == strlen(word)) {
        text_puts(t, word);
        return;
    }
    text_putc(t, '\'');
    for (; *word != '\0'; word++)
        if (*word == '\'')
            text_puts(t, "'\\''");
        else
            text_putc(t, *word);
    text_putc(t, '\'');
}

/* "part,operator,value" as "--part part --operator operator ..." */
static void put_columns(struct text *t, const char *columns)
{
    while (*columns != '\0') {
        const int n = (int)strcspn(columns, ",");
        text_printf(t, " --%.*s %.*s", n, columns, n, columns);
        columns += n + (columns[n] == ',');
    }
}

void study_ask_command(const struct study_ask *ask, const char *store, struct text *ret)
{
    text_printf(ret, "mendwright study %s ", ask->kind->kind);
    if (ask->kind->columns == NULL) {
        text_puts(ret, "--store ");
        put_word(ret, store);
    } else {
        text_puts(ret, "rows.csv");
        put_columns(ret, ask->kind->columns);
    }
    for (size_t i = 0; i < ask->n; i++) {
        text_printf(ret, " --%s", ask->at[i].option->name);
        if (ask->at[i].option->type == STUDY_ASK_FLAG)
            continue;
        text_putc(ret, ' ');
        put_word(ret, ask->at[i].text);
    }
}

void study_ask_store(const char *store, char ret[STUDY_ASK_STORE_ROOM])
{
    size_t n = strcspn(store, "?#"); /* of an address: what stands behind may hold secrets */
    while (n > 1 && store[n - 1] == '/')
        n--;
    size_t at = n;
    while (at > 0 && store[at - 1] != '/')
        at--;
    (void)snprintf(ret, STUDY_ASK_STORE_ROOM, "%.*s", (int)(n - at), store + at);
    if (ret[0] == '\0' ||
        strchr(ret, '@') != NULL) /* an address that names no database: who opens it, and where */
        (void)snprintf(ret, STUDY_ASK_STORE_ROOM, "STORE");
}

/* ---- the list ---------------------------------------------------------------------------------------- */

static void list_option(struct jsonw *w, const struct study_ask_option *o)
{
    static const char *const types[] = {"number", "whole",  "day", "word",
                                        "amount", "choice", "flag"};
    const bool has_bounds = o->type == STUDY_ASK_NUMBER || o->type == STUDY_ASK_WHOLE;
    jsonw_object(w, NULL);
    jsonw_string(w, "name", o->name);
    jsonw_string(w, "type", types[o->type]);
    if (has_bounds) {
        jsonw_double(w, "least", o->least);
        jsonw_double(w, "most", o->most);
    }
    if (o->usual != NULL)
        jsonw_string(w, "usual", o->usual);
    if (o->choices != NULL) {
        jsonw_array(w, "choices");
        for (size_t i = 0; o->choices[i] != NULL; i++)
            jsonw_string(w, NULL, o->choices[i]);
        jsonw_array_end(w);
    }
    jsonw_object_end(w);
}

void study_ask_list(struct jsonw *w)
{
    jsonw_array(w, "kinds");
    for (const struct study_ask_kind *k = study_ask_kinds; k->kind != NULL; k++) {
        jsonw_object(w, NULL);
        jsonw_string(w, "kind", k->kind);
        jsonw_string(w, "columns", k->columns);
        jsonw_array(w, "options");
        for (const struct study_ask_option *o = k->options; o->name != NULL; o++)
            list_option(w, o);
        jsonw_array_end(w);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
}

void study_told_done(struct study_told *told)
{
    text_done(&told->answer);
    text_done(&told->said);
    text_done(&told->svg);
    text_done(&told->png);
}
