/* replay: owns how a list of operations is read and played; see replay.h. */
#include "practice/replay.h"

#include "practice/exercise_tables.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- reading ------------------------------------------------------------------------------- */

static enum err refuse(struct fault *f, json_node *node, size_t i, const char *what,
                       const char *expected)
{
    json_place(node, f);
    snprintf(f->path, sizeof f->path, "ops[%zu]", i);
    return fault_set(f, ERR_TYPE, "%s: expected %s, found %s", what, expected,
                     json_kind(node) == JSON_STRING ? json_string(node, NULL)
                                                    : json_kind_name(json_kind(node)));
}

/* A whole number within low..high, or one of names[n]. */
static bool read_figure(json_node *node, int64_t low, int64_t high, const char *(*name)(int),
                        int n_names, int64_t *ret)
{
    if (json_kind(node) == JSON_INT) {
        *ret = json_int(node);
        return *ret >= low && *ret <= high;
    }
    if (json_kind(node) != JSON_STRING || name == NULL)
        return false;
    for (int i = 0; i < n_names; i++)
        if (strcmp(name(i), json_string(node, NULL)) == 0) {
            *ret = i;
            return true;
        }
    return false;
}

static enum err read_op(json_node *row, size_t i, struct replay_op *ret, struct fault *reterr)
{
    int64_t v[4];
    if (json_kind(row) != JSON_ARRAY || json_size(row) != 4)
        return refuse(reterr, row, i, "an operation", "[op, side, place, amount]");
    if (!read_figure(json_at(row, 0), 0, PRACTICE_OP_N - 1, practice_op_id, PRACTICE_OP_N, &v[0]))
        return refuse(reterr, json_at(row, 0), i, "op", "an operation's number or id, as run");
    if (!read_figure(json_at(row, 1), 0, 1, exercise_side_name, 2, &v[1]))
        return refuse(reterr, json_at(row, 1), i, "side", "0 (fore) or 1 (aft)");
    if (!read_figure(json_at(row, 2), 0, 1, exercise_place_name, 2, &v[2]))
        return refuse(reterr, json_at(row, 2), i, "place", "0 (lower) or 1 (upper)");
    if (!read_figure(json_at(row, 3), -INT64_C(1000000000000), INT64_C(1000000000000), NULL, 0,
                     &v[3]))
        return refuse(reterr, json_at(row, 3), i, "amount", "a whole number within 10^12");
    *ret = (struct replay_op){(int32_t)v[0], (int32_t)v[1], (int32_t)v[2], v[3]};
    return ERR_OK;
}

enum err replay_ops_read(json_node *list, struct replay_ops *ret, struct fault *reterr)
{
    const size_t n = json_size(list);
    *ret = (struct replay_ops){0};
    json_place(list, reterr);
    snprintf(reterr->path, sizeof reterr->path, "ops");
    if (list == NULL || json_kind(list) != JSON_ARRAY)
        return fault_set(reterr, ERR_TYPE, "expected a list of operations, found %s",
                         list == NULL ? "nothing" : json_kind_name(json_kind(list)));
    if (n > REPLAY_OPS_MAX)
        return fault_set(reterr, ERR_LIMIT, "%zu operations, at most %d are taken", n,
                         REPLAY_OPS_MAX);
    struct replay_op *ops = calloc(n > 0 ? n : 1, sizeof *ops);
    if (ops == NULL)
        return fault_no_memory(reterr);
    for (size_t i = 0; i < n; i++) {
        const enum err e = read_op(json_at(list, i), i, &ops[i], reterr);
        if (e != ERR_OK) {
            free(ops);
            return e;
        }
    }
    *ret = (struct replay_ops){ops, n};
    return ERR_OK;
}

void replay_ops_done(struct replay_ops *ops)
{
    free(ops->at);
    *ops = (struct replay_ops){0};
}

/* ---- playing ------------------------------------------------------------------------------- */

enum err replay_run(const struct exercise *x, const struct replay_op *ops, size_t n,
                    struct practice_result *results, struct replay *ret, size_t *reterr_at)
{
    struct replay r = {0};
    *reterr_at = n;
    enum err e = exercise_plant(x, &r.unit);
    for (size_t i = 0; e == ERR_OK && i < n; i++) {
        struct practice_result result;
        *reterr_at = i;
        e = practice_do(&r.unit, (enum practice_op)ops[i].op, ops[i].side, ops[i].place,
                        ops[i].amount, &result);
        if (e != ERR_OK)
            break;
        r.n_refused += result.refusal != PRACTICE_FINE;
        if (results != NULL)
            results[i] = result;
    }
    if (e == ERR_OK)
        e = practice_score(&r.unit, &r.score);
    if (e != ERR_OK)
        return e;
    r.is_finished = r.unit.is_finished;
    r.is_reached = r.is_finished && exercise_reached(x, &r.score);
    *ret = r;
    return ERR_OK;
}

size_t replay_readings(const struct exercise *x, const struct replay_op *ops, size_t n,
                       struct replay_reading *at, size_t max)
{
    struct practice p;
    size_t n_found = 0;
    if (exercise_plant(x, &p) != ERR_OK)
        return 0;
    for (size_t i = 0; i < n && n_found < max && p.n_moves == 0; i++) {
        struct practice_result result;
        const int64_t stands = practice_extension(&p);
        if (practice_do(&p, (enum practice_op)ops[i].op, ops[i].side, ops[i].place, ops[i].amount,
                        &result) != ERR_OK)
            break;
        if (ops[i].op != PRACTICE_READ_GAP || result.refusal != PRACTICE_FINE)
            continue;
        const int is_out = stands > (p.gap_at_nm[0] + p.gap_at_nm[1]) / 2;
        at[n_found++] = (struct replay_reading){
            ops[i].side * 4 + (ops[i].place == MECHANISM_UPPER ? 0 : 2) + is_out, result.nano};
    }
    return n_found;
}

size_t replay_answers(const struct exercise *x, json_node *answers, size_t *ret_given)
{
    size_t n_right = 0;
    *ret_given = 0;
    for (size_t i = 0; i < x->questions.n; i++) {
        const struct exercise_question *q = &x->questions.at[i];
        json_node *answer = json_get(answers, q->id);
        if (answer == NULL || json_kind(answer) != JSON_STRING)
            continue;
        for (size_t k = 0; k < q->choices.n; k++)
            if (strcmp(q->choices.at[k].id, json_string(answer, NULL)) == 0) {
                (*ret_given)++;
                n_right += q->choices.at[k].is_right;
            }
    }
    return n_right;
}

/* ---- telling ------------------------------------------------------------------------------- */

void replay_tell(const struct exercise *x, const struct replay *r, struct jsonw *w)
{
    static const uint32_t bits[] = {PRACTICE_INSIDE_GAPS,  PRACTICE_INSIDE_ENDS,
                                    PRACTICE_INSIDE_VOLTS, PRACTICE_INSIDE_AMPS,
                                    PRACTICE_INSIDE_TIME,  PRACTICE_INSIDE_KEYS};
    const struct practice_score *s = &r->score;
    jsonw_bool(w, "reached", r->is_reached);
    jsonw_bool(w, "finished", r->is_finished);
    jsonw_int(w, "inside", s->inside);
    jsonw_int(w, "goal_bits", exercise_goal_bits(x));
    jsonw_array(w, "missed");
    for (int g = 0; g <= EXERCISE_KEYS; g++)
        if (exercise_has_goal(x, (enum exercise_goal)g) && (s->inside & bits[g]) != bits[g])
            jsonw_string(w, NULL, exercise_goal_name(g));
    if (exercise_has_goal(x, EXERCISE_CAREFUL) && s->n_cautions > 0)
        jsonw_string(w, NULL, exercise_goal_name(EXERCISE_CAREFUL));
    jsonw_array_end(w);
    jsonw_array(w, "cautions");
    for (int i = 0; i < PRACTICE_CAUTION_N; i++)
        if (s->cautions & UINT32_C(1) << i)
            jsonw_string(w, NULL, practice_caution_id(i));
    jsonw_array_end(w);
    jsonw_int(w, "n_cautions", s->n_cautions);
    jsonw_int(w, "moves", s->n_moves);
    jsonw_int(w, "readings", s->n_readings);
    jsonw_int(w, "runs", s->n_runs);
    jsonw_int(w, "refused", (int64_t)r->n_refused);
    jsonw_int(w, "seconds", s->seconds);
    jsonw_int(w, "worst_gap_nm", s->worst_gap_nm);
}
