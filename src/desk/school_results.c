/* school_results: owns what the owner sees of the results: by person, by exercise, by question, and where readings disagree. */
#include "base/json.h"
#include "desk/school.h"
#include "desk/study_gauge.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { CORNERS = MECHANISM_CORNERS, REPEATS = 2 };
#define MM_NM 1e6

static const char *const corners[CORNERS] = {"fore-upper-in",  "fore-upper-out", "fore-lower-in",
                                             "fore-lower-out", "aft-upper-in",   "aft-upper-out",
                                             "aft-lower-in",   "aft-lower-out"};

/* A list that grows: items of one size, found by a text they begin with. */
struct list {
    char *at;
    size_t n, room, size;
    bool is_broken;
};

static void *item(const struct list *l, size_t i)
{
    return l->at + i * l->size;
}

/* The item that begins with these two or three ids, made (zeros and the key) when it is not there; NULL: no memory. */
static void *item_of(struct list *l, const char *key)
{
    for (size_t i = 0; i < l->n; i++)
        if (strcmp(item(l, i), key) == 0)
            return item(l, i);
    if (l->n == l->room) {
        const size_t room = l->room > 0 ? 2 * l->room : 64;
        char *grown = realloc(l->at, room * l->size);
        if (grown == NULL) {
            l->is_broken = true;
            return NULL;
        }
        l->at = grown;
        l->room = room;
    }
    void *made = item(l, l->n++);
    memset(made, 0, l->size);
    snprintf(made, (size_t)3 * CLASSROOM_NAME_ROOM, "%s", key);
    return made;
}

/* ---- counting ------------------------------------------------------------------------------ */

struct work { /* what somebody did on one exercise; key "person/set/exercise" */
    char key[3 * CLASSROOM_NAME_ROOM];
};

struct person {
    char name[3 * CLASSROOM_NAME_ROOM];
    char shop[CLASSROOM_NAME_ROOM];
    int64_t results, tried, reached, exams, hints, cautions, right, questions, last_ms;
};

struct exercise_sum {
    char key[3 * CLASSROOM_NAME_ROOM]; /* "set/exercise" */
    char set[CLASSROOM_ID_ROOM], exercise[CLASSROOM_ID_ROOM];
    int64_t results, people, reached, hints, cautions, seconds, moves;
};

struct question_sum {
    char key[3 * CLASSROOM_NAME_ROOM]; /* "set/exercise/question" */
    char set[CLASSROOM_ID_ROOM], exercise[CLASSROOM_ID_ROOM], question[CLASSROOM_ID_ROOM];
    int64_t answered, right;
};

struct looking {
    struct jsonw *w;
    struct list works, people, exercises, questions;
    size_t n_looked;
    bool is_broken;
};

static void count_person(struct looking *l, const struct classroom_result *r, bool is_latest)
{
    struct person *p = item_of(&l->people, r->person);
    if (p == NULL)
        return;
    if (p->results == 0) { /* the newest comes first */
        snprintf(p->shop, sizeof p->shop, "%s", r->shop);
        p->last_ms = r->came_ms;
    }
    p->results++;
    p->exams += r->is_exam;
    p->hints += r->hints;
    p->cautions += r->cautions;
    p->right += r->right;
    p->questions += r->questions;
    p->tried += is_latest;
    p->reached += is_latest && r->is_reached;
}

static void count_exercise(struct looking *l, const struct classroom_result *r, bool is_latest)
{
    char key[3 * CLASSROOM_NAME_ROOM];
    snprintf(key, sizeof key, "%s/%s", r->set, r->exercise);
    struct exercise_sum *x = item_of(&l->exercises, key);
    if (x == NULL)
        return;
    snprintf(x->set, sizeof x->set, "%s", r->set);
    snprintf(x->exercise, sizeof x->exercise, "%s", r->exercise);
    x->results++;
    x->people += is_latest;
    x->reached += is_latest && r->is_reached;
    x->hints += r->hints;
    x->cautions += r->cautions;
    x->seconds += r->seconds;
    x->moves += r->moves;
}

static void count_questions(struct looking *l, const struct classroom_result *r)
{
    struct json_doc *doc = NULL;
    struct fault f = {0};
    if (r->questions == 0 || json_parse(r->account, r->n_account, "", &doc, &f) != ERR_OK)
        return;
    json_node *answers = json_get(json_root(doc), "answers");
    for (size_t i = 0; i < json_size(answers); i++) {
        const char *question = NULL;
        char key[3 * CLASSROOM_NAME_ROOM];
        json_node *answer = json_member(answers, i, &question);
        snprintf(key, sizeof key, "%s/%s/%s", r->set, r->exercise, question);
        struct question_sum *q = item_of(&l->questions, key);
        if (q == NULL)
            break;
        snprintf(q->set, sizeof q->set, "%s", r->set);
        snprintf(q->exercise, sizeof q->exercise, "%s", r->exercise);
        snprintf(q->question, sizeof q->question, "%s", question);
        q->answered++;
        q->right += json_bool(json_get(answer, "right"));
    }
    json_free(doc);
}

static void tell_result(struct jsonw *w, const struct classroom_result *r)
{
    jsonw_object(w, NULL);
    jsonw_string(w, "person", r->person);
    jsonw_string(w, "shop", r->shop);
    jsonw_string(w, "set", r->set);
    jsonw_string(w, "exercise", r->exercise);
    jsonw_string(w, "mode", r->is_exam ? "exam" : "practice");
    jsonw_bool(w, "passed", r->is_reached);
    jsonw_int(w, "came_ms", r->came_ms);
    jsonw_int(w, "seconds", r->seconds);
    jsonw_int(w, "moves", r->moves);
    jsonw_int(w, "hints", r->hints);
    jsonw_int(w, "cautions", r->cautions);
    jsonw_int(w, "right", r->right);
    jsonw_int(w, "questions", r->questions);
    jsonw_object_end(w);
}

static bool look(void *me, const struct classroom_result *r)
{
    struct looking *l = me;
    char key[3 * CLASSROOM_NAME_ROOM];
    const size_t n_works = l->works.n;
    snprintf(key, sizeof key, "%s/%s/%s", r->person, r->set, r->exercise);
    (void)item_of(&l->works, key);
    const bool is_latest = l->works.n > n_works;
    if (l->n_looked < SCHOOL_SHOWN_MAX)
        tell_result(l->w, r);
    count_person(l, r, is_latest);
    count_exercise(l, r, is_latest);
    count_questions(l, r);
    l->is_broken = l->works.is_broken || l->people.is_broken || l->exercises.is_broken ||
                   l->questions.is_broken;
    return !l->is_broken && ++l->n_looked < SCHOOL_LOOK_MAX;
}

static void tell_people(struct jsonw *w, const struct list *l)
{
    jsonw_array(w, "people");
    for (size_t i = 0; i < l->n; i++) {
        const struct person *p = item(l, i);
        jsonw_object(w, NULL);
        jsonw_string(w, "person", p->name);
        jsonw_string(w, "shop", p->shop);
        jsonw_int(w, "results", p->results);
        jsonw_int(w, "tried", p->tried);
        jsonw_int(w, "passed", p->reached);
        jsonw_int(w, "exams", p->exams);
        jsonw_int(w, "hints", p->hints);
        jsonw_int(w, "cautions", p->cautions);
        jsonw_int(w, "right", p->right);
        jsonw_int(w, "questions", p->questions);
        jsonw_int(w, "last_ms", p->last_ms);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
}

static void tell_exercises(struct jsonw *w, const struct list *l)
{
    jsonw_array(w, "exercises");
    for (size_t i = 0; i < l->n; i++) {
        const struct exercise_sum *x = item(l, i);
        jsonw_object(w, NULL);
        jsonw_string(w, "set", x->set);
        jsonw_string(w, "exercise", x->exercise);
        jsonw_int(w, "results", x->results);
        jsonw_int(w, "people", x->people);
        jsonw_int(w, "passed", x->reached);
        jsonw_int(w, "hints", x->hints);
        jsonw_int(w, "cautions", x->cautions);
        jsonw_int(w, "mean_s", x->seconds / x->results);
        jsonw_double(w, "mean_moves", (double)x->moves / (double)x->results);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
}

static void tell_questions(struct jsonw *w, const struct list *l)
{
    jsonw_array(w, "questions");
    for (size_t i = 0; i < l->n; i++) {
        const struct question_sum *q = item(l, i);
        jsonw_object(w, NULL);
        jsonw_string(w, "set", q->set);
        jsonw_string(w, "exercise", q->exercise);
        jsonw_string(w, "question", q->question);
        jsonw_int(w, "answered", q->answered);
        jsonw_int(w, "right", q->right);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
}

/* ---- where readings disagree --------------------------------------------------------------- */

struct read { /* of one person at one place of one exercise; they come in this order */
    char set[CLASSROOM_ID_ROOM], exercise[CLASSROOM_ID_ROOM], person[CLASSROOM_NAME_ROOM];
    int32_t place;
    int64_t first[REPEATS];
    int64_t n;
};

struct gathering {
    struct read *at;
    size_t n, room;
    bool is_broken;
};

static bool gather(void *me, const char *set, const char *exercise, const char *person,
                   const struct classroom_reading *reading)
{
    struct gathering *g = me;
    struct read *last = g->n > 0 ? &g->at[g->n - 1] : NULL;
    if (reading->place < 0 || reading->place >= CORNERS)
        return true;
    if (g->n == 0 || last == NULL || last->place != reading->place ||
        strcmp(last->person, person) != 0 || strcmp(last->exercise, exercise) != 0 ||
        strcmp(last->set, set) != 0) {
        if (g->n == g->room) {
            const size_t room = g->room > 0 ? 2 * g->room : 256;
            struct read *grown = realloc(g->at, room * sizeof *grown);
            if (grown == NULL) {
                g->is_broken = true;
                return false;
            }
            g->at = grown;
            g->room = room;
        }
        struct read *made = g->at + g->n++;
        *made = (struct read){.place = reading->place};
        snprintf(made->set, sizeof made->set, "%s", set);
        snprintf(made->exercise, sizeof made->exercise, "%s", exercise);
        snprintf(made->person, sizeof made->person, "%s", person);
        last = made;
    }
    if (last->n < REPEATS)
        last->first[last->n] = reading->nano;
    last->n++;
    return true;
}

static bool is_same_place(const struct read *a, const struct read *b)
{
    return a->place == b->place && strcmp(a->exercise, b->exercise) == 0 &&
           strcmp(a->set, b->set) == 0;
}

/* Each person's first reading of one place. */
static void tell_place(struct jsonw *w, const struct read *at, size_t n)
{
    const struct read *low = at, *high = at;
    double sum = 0.0, squares = 0.0;
    for (size_t i = 0; i < n; i++) {
        sum += (double)at[i].first[0];
        low = at[i].first[0] < low->first[0] ? &at[i] : low;
        high = at[i].first[0] > high->first[0] ? &at[i] : high;
    }
    const double mean = sum / (double)n;
    for (size_t i = 0; i < n; i++)
        squares += ((double)at[i].first[0] - mean) * ((double)at[i].first[0] - mean);
    jsonw_object(w, NULL);
    jsonw_string(w, "set", at->set);
    jsonw_string(w, "exercise", at->exercise);
    jsonw_string(w, "point", corners[at->place]);
    jsonw_int(w, "people", (int64_t)n);
    jsonw_int(w, "mean_nm", (int64_t)floor(mean + 0.5));
    jsonw_int(w, "sd_nm", (int64_t)floor(sqrt(squares / (double)(n - 1)) + 0.5));
    jsonw_int(w, "range_nm", high->first[0] - low->first[0]);
    jsonw_string(w, "lowest", low->person);
    jsonw_string(w, "highest", high->person);
    jsonw_object_end(w);
}

static void tell_disagree(struct jsonw *w, const struct gathering *g)
{
    jsonw_array(w, "disagree");
    for (size_t i = 0; i < g->n;) {
        size_t k = i + 1;
        while (k < g->n && is_same_place(&g->at[i], &g->at[k]))
            k++;
        if (k - i >= 2)
            tell_place(w, &g->at[i], k - i);
        i = k;
    }
    jsonw_array_end(w);
}

/* ---- the gauge study ----------------------------------------------------------------------- */

static void put_interval(struct jsonw *w, const char *key, struct study_interval i)
{
    jsonw_array(w, key);
    if (i.is_known) {
        jsonw_double(w, NULL, i.low);
        jsonw_double(w, NULL, i.high);
    }
    jsonw_array_end(w);
}

static void tell_study(struct jsonw *w, const struct study_gauge *g)
{
    jsonw_int(w, "parts", (int64_t)g->n_parts);
    jsonw_int(w, "operators", (int64_t)g->n_operators);
    jsonw_int(w, "repeats", (int64_t)g->n_repeats);
    jsonw_double(w, "repeatability_sd_mm", sqrt(g->repeatability));
    jsonw_double(w, "reproducibility_sd_mm", sqrt(g->reproducibility));
    jsonw_double(w, "gauge_sd_mm", sqrt(g->gauge));
    jsonw_double(w, "part_sd_mm", sqrt(g->part));
    jsonw_double(w, "percent_study", g->percent_study);
    put_interval(w, "percent_study_interval", g->percent_study_i);
    jsonw_double(w, "percent_tolerance", g->percent_tolerance);
    if (g->has_ndc)
        jsonw_int(w, "ndc", g->ndc);
    else
        jsonw_null(w, "ndc");
    jsonw_array(w, "notes");
    for (size_t i = 0; i < g->notes.n; i++)
        jsonw_string(w, NULL, g->notes.at[i].text);
    jsonw_array_end(w);
}

enum err school_gauge(const char *csv, size_t n, struct jsonw *w, struct fault *reterr)
{
    struct practice perfect;
    struct study_table *t = NULL;
    struct study_want wants[GAUGE_COLUMNS];
    struct study_gauge *g = calloc(1, sizeof *g);
    if (g == NULL)
        return fault_no_memory(reterr);
    practice_perfect(0, &perfect);
    const struct study_gauge_order order = {
        .pool_above = 1.0,
        .confidence = 0.95,
        .tolerance = (double)(perfect.limits.gap_high_nm - perfect.limits.gap_low_nm) / MM_NM,
        .unit = UNIT_N};
    study_gauge_wants("part", "operator", "value", UNIT_N, wants);
    enum err e = study_table_parse(csv, n, "", wants, GAUGE_COLUMNS, &t, reterr);
    if (e == ERR_OK)
        e = study_gauge(t, &order, g, reterr);
    if (e == ERR_OK)
        tell_study(w, g);
    study_table_free(t);
    free(g);
    return e;
}

/* Whether this person read every gap of the exercise whose readings are at[n] twice. */
static bool has_read_all(const struct read *at, size_t n, const char *person)
{
    int n_twice = 0;
    for (size_t i = 0; i < n; i++)
        n_twice += strcmp(at[i].person, person) == 0 && at[i].n >= REPEATS;
    return n_twice == CORNERS;
}

static size_t count_whole(const struct read *at, size_t n)
{
    size_t n_whole = 0;
    for (size_t i = 0; i < n && at[i].place == at[0].place; i++)
        n_whole += has_read_all(at, n, at[i].person);
    return n_whole;
}

/* The exercise where most people have read everything twice: at..at + n; n 0: nowhere two have. */
static const struct read *most_read(const struct gathering *g, size_t *ret_n)
{
    const struct read *best = NULL;
    size_t most = 1;
    *ret_n = 0;
    for (size_t i = 0; i < g->n;) {
        size_t k = i + 1;
        while (k < g->n && strcmp(g->at[i].exercise, g->at[k].exercise) == 0 &&
               strcmp(g->at[i].set, g->at[k].set) == 0)
            k++;
        const size_t n_whole = count_whole(&g->at[i], k - i);
        if (n_whole > most) {
            most = n_whole;
            best = &g->at[i];
            *ret_n = k - i;
        }
        i = k;
    }
    return best;
}

static enum err tell_gauge(struct jsonw *w, const struct gathering *g, struct fault *f)
{
    size_t n = 0;
    const struct read *at = most_read(g, &n);
    struct text csv = {0}, out = {0};
    struct jsonw inner;
    struct fault why = {0};
    if (at == NULL) {
        jsonw_null(w, "gauge");
        return ERR_OK;
    }
    text_puts(&csv, "part,operator,value\n");
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k < REPEATS && has_read_all(at, n, at[i].person); k++)
            text_printf(&csv, "%s,%s,%.3f\n", corners[at[i].place], at[i].person,
                        (double)at[i].first[k] / MM_NM);
    jsonw_start(&inner, &out);
    jsonw_object(&inner, NULL);
    jsonw_string(&inner, "set", at->set);
    jsonw_string(&inner, "exercise", at->exercise);
    const enum err e = csv.is_broken ? ERR_MEMORY : school_gauge(csv.data, csv.size, &inner, &why);
    jsonw_object_end(&inner);
    if (e == ERR_OK && !out.is_broken)
        jsonw_raw(w, "gauge", out.data, out.size);
    else
        jsonw_null(w, "gauge"); /* readings that all agree say nothing of the people */
    const bool is_broken = csv.is_broken || out.is_broken || e == ERR_MEMORY;
    text_done(&csv);
    text_done(&out);
    return is_broken ? fault_no_memory(f) : ERR_OK;
}

/* ---- all ----------------------------------------------------------------------------------- */

static enum err tell_readings(struct classroom *c, struct jsonw *w, struct fault *f)
{
    struct gathering g = {0};
    enum err e = classroom_readings(c, gather, &g, f);
    if (e == ERR_OK && g.is_broken)
        e = fault_no_memory(f);
    if (e == ERR_OK) {
        tell_disagree(w, &g);
        e = tell_gauge(w, &g, f);
    }
    free(g.at);
    return e;
}

enum err school_results(struct classroom *c, struct jsonw *w, struct fault *reterr)
{
    struct looking l = {.w = w,
                        .works = {.size = sizeof(struct work)},
                        .people = {.size = sizeof(struct person)},
                        .exercises = {.size = sizeof(struct exercise_sum)},
                        .questions = {.size = sizeof(struct question_sum)}};
    jsonw_array(w, "results");
    enum err e = classroom_results(c, look, &l, reterr);
    jsonw_array_end(w);
    if (e == ERR_OK && l.is_broken)
        e = fault_no_memory(reterr);
    if (e == ERR_OK) {
        jsonw_int(w, "looked_at", (int64_t)l.n_looked);
        tell_people(w, &l.people);
        tell_exercises(w, &l.exercises);
        tell_questions(w, &l.questions);
        e = tell_readings(c, w, reterr);
    }
    free(l.works.at);
    free(l.people.at);
    free(l.exercises.at);
    free(l.questions.at);
    return e;
}
