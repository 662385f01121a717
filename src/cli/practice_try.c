/* practice try, practice solve: owns how a game is told on the command line: what was done, what it showed, and its account. */
#include "base/file.h"
#include "base/jsonw.h"
#include "cli/practice_call.h"
#include "practice/solve.h"

#include <stdlib.h>
#include <string.h>

#define MM_NM 1e6
#define NANO  1e9

/* ---- a game for people --------------------------------------------------------------------- */

static bool has_place(int op)
{
    return op == PRACTICE_READ_GAP || op == PRACTICE_READ_END || op == PRACTICE_COUNT ||
           op == PRACTICE_JUMP || op == PRACTICE_PACK ||
           (op >= PRACTICE_RENEW_RACK && op <= PRACTICE_EASE);
}

static bool has_side(int op)
{
    return has_place(op) || op == PRACTICE_READ_VOLTS || op == PRACTICE_TURN_TOE ||
           op == PRACTICE_RENEW_LEAD;
}

static void say_where(struct text *t, const struct replay_op *o)
{
    text_puts(t, practice_op_id(o->op));
    if (has_side(o->op))
        text_puts(t, o->side == 0 ? " fore" : " aft");
    if (has_place(o->op))
        text_puts(t, o->place == 0 ? " lower" : " upper");
    if (o->op == PRACTICE_RUN)
        text_printf(t, " to %.0f mm", (double)o->amount / MM_NM);
    else if (o->op == PRACTICE_SUPPORT || o->op == PRACTICE_ISOLATE)
        text_puts(t, o->amount != 0 ? " on" : " off");
    else if (o->op == PRACTICE_JUMP || o->op == PRACTICE_PACK || o->op == PRACTICE_TURN_TOE)
        text_printf(t, " %+lld", (long long)o->amount);
}

static void say_shown(struct text *t, int op, const struct practice_result *r)
{
    if (r->refusal != PRACTICE_FINE) {
        text_printf(t, "refused: %s", practice_refusal_id((int)r->refusal));
        return;
    }
    if (op == PRACTICE_READ_GAP || op == PRACTICE_READ_END || op == PRACTICE_CHECK_TAPE)
        text_printf(t, "%.2f mm", (double)r->nano / MM_NM);
    else if (op == PRACTICE_COUNT)
        text_printf(t, "%lld teeth ahead", (long long)r->nano);
    else if (op == PRACTICE_READ_VOLTS)
        text_printf(t, "%.1f V", (double)r->nano / NANO);
    else if (op == PRACTICE_READ_AMPS)
        text_printf(t, "%.1f A", (double)r->nano / NANO);
    else if (op == PRACTICE_READ_TIME)
        text_printf(t, "%.1f s", (double)r->nano / NANO);
    for (int i = 0; i < PRACTICE_CAUTION_N; i++)
        if (r->cautions & UINT32_C(1) << i)
            text_printf(t, "%scaution skipped: %s", t->size > 0 ? "; " : "",
                        practice_caution_id(i));
}

static void say_game(struct cli *ctx, const struct replay_op *ops,
                     const struct practice_result *results, size_t n)
{
    static const char *const head[] = {"", "done", "min", "shown"};
    struct cli_table *t = cli_table_new("rlrl");
    int64_t seconds = 0;
    cli_table_head(t, head);
    for (size_t i = 0; i < n; i++) {
        struct text done = {0}, shown = {0};
        say_where(&done, &ops[i]);
        say_shown(&shown, ops[i].op, &results[i]);
        seconds += results[i].seconds;
        cli_table_cell(t, CLI_QUIET, "%zu", i + 1);
        cli_table_cell(t, CLI_PLAIN, "%s", done.data != NULL ? done.data : "");
        cli_table_cell(t, CLI_PLAIN, "%.1f", (double)seconds / 60.0);
        cli_table_cell(t, CLI_PLAIN, "%s", shown.data != NULL ? shown.data : "");
        text_done(&done);
        text_done(&shown);
    }
    cli_table_print(t, ctx, 4);
    cli_table_free(t);
}

static void say_account(struct cli *ctx, const struct exercise *x, const struct replay *r)
{
    const struct practice_score *s = &r->score;
    const bool is_cannot = exercise_has_goal(x, EXERCISE_CANNOT);
    struct text skipped = {0};
    if (is_cannot)
        cli_verdict(ctx, CLI_ACT, "%s: cannot be brought in; its question decides", x->id);
    else if (r->is_reached)
        cli_verdict(ctx, CLI_STRONG, "%s: reached", x->id);
    else
        cli_verdict(ctx, CLI_STOP, "%s: not reached%s", x->id,
                    r->is_finished ? "" : ", and not finished");
    for (int i = 0; i < PRACTICE_CAUTION_N; i++)
        if (s->cautions & UINT32_C(1) << i)
            text_printf(&skipped, "%s%s", skipped.size > 0 ? ", " : "", practice_caution_id(i));
    cli_say(ctx, 4, "%lld of %d minutes, %d of %d moves, %d readings, %d runs.",
            (long long)((s->seconds + 59) / 60), (int)x->limits.minutes, (int)s->n_moves,
            (int)x->limits.moves, (int)s->n_readings, (int)s->n_runs);
    if (s->worst_gap_nm < 0)
        cli_say(ctx, 4, "A gap is %.1f mm outside.", -(double)s->worst_gap_nm / MM_NM);
    else
        cli_say(ctx, 4, "All gaps are inside, the tightest by %.1f mm.",
                (double)s->worst_gap_nm / MM_NM);
    cli_say(ctx, 4, "Cautions skipped: %s.", skipped.size > 0 ? skipped.data : "none");
    text_done(&skipped);
}

static void tell_ops(struct jsonw *w, const struct replay_op *ops, size_t n)
{
    jsonw_array(w, "ops");
    for (size_t i = 0; i < n; i++) {
        jsonw_array(w, NULL);
        jsonw_int(w, NULL, ops[i].op);
        jsonw_int(w, NULL, ops[i].side);
        jsonw_int(w, NULL, ops[i].place);
        jsonw_int(w, NULL, ops[i].amount);
        jsonw_array_end(w);
    }
    jsonw_array_end(w);
}

static void tell_results(struct jsonw *w, const struct practice_result *results, size_t n)
{
    jsonw_array(w, "results");
    for (size_t i = 0; i < n; i++) {
        jsonw_object(w, NULL);
        jsonw_string(w, "refusal", practice_refusal_id((int)results[i].refusal));
        jsonw_int(w, "cautions", results[i].cautions);
        jsonw_int(w, "nano", results[i].nano);
        jsonw_int(w, "seconds", results[i].seconds);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
}

/* ---- try ----------------------------------------------------------------------------------- */

static const struct cli_option try_options[] = {
    {"--ops", "FILE", "the operations: a JSON list of [op, side, place, amount], `-` reads them",
     false},
    {0},
};

static int read_ops(const struct cli *ctx, const char *path, struct replay_ops *ret)
{
    struct text text = {0};
    struct fault f = {0};
    struct json_doc *doc = NULL;
    enum err e = file_read(path, JSON_SIZE_MAX, &text, &f);
    if (e == ERR_OK)
        e = json_parse(text.data != NULL ? text.data : "", text.size, path, &doc, &f);
    if (e == ERR_OK) {
        json_node *root = json_root(doc);
        snprintf(f.file, sizeof f.file, "%s", path);
        e = replay_ops_read(json_kind(root) == JSON_OBJECT ? json_get(root, "ops") : root, ret, &f);
    }
    json_free(doc);
    text_done(&text);
    return e == ERR_OK ? CLI_GOOD : cli_fault(ctx, &f);
}

static int play(struct cli *ctx, const struct practice_file *file, const struct exercise *x,
                const struct replay_op *ops, size_t n)
{
    struct practice_result *results = calloc(n > 0 ? n : 1, sizeof *results);
    struct replay r;
    size_t at = 0;
    if (results == NULL)
        return CLI_FAILED;
    const enum err e = replay_run(x, ops, n, results, &r, &at);
    if (e == ERR_OK && ctx->is_json) {
        struct jsonw w;
        jsonw_start(&w, &ctx->out);
        jsonw_object(&w, NULL);
        jsonw_string(&w, "set", file->set->head.id);
        jsonw_string(&w, "set_sha256", file->sha256);
        jsonw_string(&w, "exercise", x->id);
        replay_tell(x, &r, &w);
        tell_ops(&w, ops, n);
        tell_results(&w, results, n);
        jsonw_object_end(&w);
        text_putc(&ctx->out, '\n');
    } else if (e == ERR_OK) {
        say_account(ctx, x, &r);
        text_putc(&ctx->out, '\n');
        say_game(ctx, ops, results, n);
    }
    free(results);
    if (e != ERR_OK)
        return cli_error(ctx, "operation %zu cannot be played: %s", at + 1, err_text(e));
    return r.is_reached ? CLI_GOOD : CLI_NO;
}

static int refuse_exercise(const struct cli *ctx, const struct exercise_set *set, const char *id)
{
    const char *known[EXERCISES_MAX];
    for (size_t i = 0; i < set->exercises.n; i++)
        known[i] = set->exercises.at[i].id;
    return cli_error_near(ctx, "the exercise", id, known, set->exercises.n,
                          "`mendwright practice list` names them");
}

/* Up to two operands: the file and the exercise. */
static int operands(const struct cli *ctx, const struct cli_arg *args, int n, const char *ret[2])
{
    size_t n_found = 0;
    ret[0] = ret[1] = NULL;
    for (int i = 0; i < n; i++) {
        if (args[i].name != NULL)
            continue;
        if (n_found == 2)
            return cli_error(ctx, "found '%.80s' as well; expected a file and an exercise",
                             args[i].value);
        ret[n_found++] = args[i].value;
    }
    return n_found > 0 ? CLI_GOOD : cli_error(ctx, "which set? The file comes first");
}

static int run_try(struct cli *ctx, int argc, char **argv)
{
    static struct cli_arg args[CLI_ARGS_MAX];
    const char *words[2];
    struct practice_file file = {0};
    struct replay_ops ops = {0};
    const int n = cli_options(ctx, &practice_try_verb, argc, argv, args);
    if (n < 0 || operands(ctx, args, n, words) != CLI_GOOD)
        return CLI_WRONG;
    const char *path = cli_value(args, n, "--ops");
    if (words[1] == NULL)
        return cli_error(ctx, "which exercise? `mendwright practice list %.80s` names them",
                         words[0]);
    if (path == NULL)
        return cli_error(ctx, "--ops is missing: a file with the operations");
    int code = practice_file_whole(ctx, words[0], &file);
    const struct exercise *x = code == CLI_GOOD ? exercise_find(file.set, words[1]) : NULL;
    if (code == CLI_GOOD && x == NULL)
        code = refuse_exercise(ctx, file.set, words[1]);
    if (code == CLI_GOOD)
        code = read_ops(ctx, path, &ops);
    if (code == CLI_GOOD && x != NULL)
        code = play(ctx, &file, x, ops.at, ops.n);
    replay_ops_done(&ops);
    practice_file_done(&file);
    return code;
}

const struct cli_verb practice_try_verb = {
    .name = "practice try",
    .line = "play a list of operations on an exercise and print the account",
    .call = "practice try FILE EXERCISE --ops FILE",
    .about =
        "Plays the operations one after the other on the exercise's unit, as the pages do, and "
        "says "
        "what each showed and how the game ended. An operation is [op, side, place, amount]: op a "
        "number or an id (run, read-gap, read-end, count-teeth, read-volts, read-amps, read-time, "
        "check-tape, change-tape, support, isolate, jump, pack, toe, renew-rack, renew-key, ease, "
        "renew-lead, charge, finish), side 0 or fore, 1 or aft, place 0 or lower, 1 or upper, "
        "amount a whole number: nm to run to, teeth, shims, notches, 1 and 0 for on and off. What "
        "`practice solve --json` prints can be fed in.\n\n"
        "Exit 0: the goal is reached within the limits. 1: it is not. 2: the call or a file is "
        "wrong.",
    .example =
        "  $ echo "
        "'[[\"run\",0,0,960000000],[\"read-end\",\"fore\",\"upper\",0],[\"finish\",0,0,0]]' |\\\n"
        "      mendwright practice try examples/practice/first-steps.yaml one-tooth --ops -\n"
        "  [x] one-tooth: not reached\n"
        "  ...\n",
    .options = try_options,
    .run = run_try,
};

/* ---- solve --------------------------------------------------------------------------------- */

static const struct cli_option solve_options[] = {
    {0},
};

static void tell_solve(struct jsonw *w, const struct exercise *x, const struct solve *s)
{
    jsonw_object(w, NULL);
    jsonw_string(w, "exercise", x->id);
    jsonw_bool(w, "reached", s->is_reached);
    jsonw_int(w, "seconds", s->score.seconds);
    jsonw_int(w, "minutes_limit", x->limits.minutes);
    jsonw_int(w, "moves", s->score.n_moves);
    jsonw_int(w, "moves_limit", x->limits.moves);
    jsonw_int(w, "readings", s->score.n_readings);
    jsonw_int(w, "n_cautions", s->score.n_cautions);
    jsonw_bool(w, "says_cannot", s->says_cannot);
    jsonw_int(w, "least_out_nm", s->least_out_nm);
    tell_ops(w, s->ops, s->n);
    jsonw_object_end(w);
}

static void say_solve(struct cli_table *t, const struct exercise *x, const struct solve *s)
{
    cli_table_cell(t, CLI_STRONG, "%s", x->id);
    cli_table_cell(t, s->is_reached ? CLI_PLAIN : CLI_STOP, "%s",
                   !s->is_reached   ? "not solved"
                   : s->says_cannot ? "cannot be brought in"
                                    : "solved");
    cli_table_cell(t, CLI_PLAIN, "%lld of %d", (long long)((s->score.seconds + 59) / 60),
                   (int)x->limits.minutes);
    cli_table_cell(t, CLI_PLAIN, "%d of %d", (int)s->score.n_moves, (int)x->limits.moves);
    cli_table_cell(t, CLI_PLAIN, "%d", (int)s->score.n_readings);
}

static int solve_all(struct cli *ctx, const struct practice_file *file, struct solve *s)
{
    static const char *const head[] = {"exercise", "", "min", "moves", "readings"};
    struct cli_table *t = cli_table_new("llrrr");
    struct jsonw w;
    bool is_good = true;
    enum err e = ERR_OK;
    jsonw_start(&w, &ctx->out);
    if (ctx->is_json) {
        jsonw_object(&w, NULL);
        jsonw_string(&w, "set", file->set->head.id);
        jsonw_array(&w, "exercises");
    }
    cli_table_head(t, head);
    for (size_t i = 0; e == ERR_OK && i < file->set->exercises.n; i++) {
        const struct exercise *x = &file->set->exercises.at[i];
        e = solve_exercise(x, s);
        is_good = is_good && e == ERR_OK && s->is_reached;
        if (e == ERR_OK && ctx->is_json)
            tell_solve(&w, x, s);
        else if (e == ERR_OK)
            say_solve(t, x, s);
    }
    if (ctx->is_json) {
        jsonw_array_end(&w);
        jsonw_object_end(&w);
        text_putc(&ctx->out, '\n');
    } else if (e == ERR_OK) {
        cli_verdict(ctx, is_good ? CLI_STRONG : CLI_STOP, "%s: %s", file->set->head.id,
                    is_good ? "each exercise is done within its limits"
                            : "some cannot be done within their limits");
        cli_table_print(t, ctx, 4);
    }
    cli_table_free(t);
    if (e != ERR_OK)
        return cli_error(ctx, "an exercise could not be worked: %s", err_text(e));
    return is_good ? CLI_GOOD : CLI_NO;
}

static int run_solve(struct cli *ctx, int argc, char **argv)
{
    static struct cli_arg args[CLI_ARGS_MAX];
    const char *words[2];
    struct practice_file file = {0};
    const int n = cli_options(ctx, &practice_solve_verb, argc, argv, args);
    if (n < 0 || operands(ctx, args, n, words) != CLI_GOOD)
        return CLI_WRONG;
    struct solve *s = calloc(1, sizeof *s);
    if (s == NULL)
        return CLI_FAILED;
    /* A set whose exercises cannot be solved is not valid for anything else; here it is what is asked. */
    int code = practice_file_form(ctx, words[0], &file);
    const struct exercise *x =
        code == CLI_GOOD && words[1] != NULL ? exercise_find(file.set, words[1]) : NULL;
    if (code == CLI_GOOD && words[1] != NULL && x == NULL)
        code = refuse_exercise(ctx, file.set, words[1]);
    else if (code == CLI_GOOD && x == NULL)
        code = solve_all(ctx, &file, s);
    else if (code == CLI_GOOD) {
        const enum err e = solve_exercise(x, s);
        code = e == ERR_OK ? play(ctx, &file, x, s->ops, s->n)
                           : cli_error(ctx, "%s could not be worked: %s", x->id, err_text(e));
    }
    free(s);
    practice_file_done(&file);
    return code;
}

const struct cli_verb practice_solve_verb = {
    .name = "practice solve",
    .line = "do the exercises by the plain good procedure",
    .call = "practice solve FILE [EXERCISE]",
    .about =
        "Does each exercise as a careful technician would who knows no more than the readings: "
        "meter, rack ends, count, tape on the block; puts right what is off, with the room on "
        "stands and the supply off; then moves packing and toe as `mendwright true` advises; runs "
        "and reads again. It shows that an exercise can be done within its limits; a good learner "
        "may need less. With an exercise's id, every step and what it showed. It gives the answers "
        "away: not for learners.\n\n"
        "Exit 0: done within the limits. 1: not. 2: the call or the file is wrong.",
    .example = "  $ mendwright practice solve examples/practice/first-steps.yaml\n"
               "  [=] first-steps: each exercise is done within its limits\n"
               "  ...\n",
    .options = solve_options,
    .run = run_solve,
};
