/* check_more: owns the words for what is different and for what would follow. */
#include "cli/check_more.h"

#include "base/file.h"
#include "base/pool.h"
#include "cli/moment.h"
#include "cli/progress.h"
#include "cli/rule_job.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- reading ------------------------------------------------------------------------------------ */

static enum err load_file(const char *path, struct bulletin **ret, struct fault *f)
{
    struct text text = {0};
    struct fault_list faults = {0};
    enum err err = file_read(path, BULLETIN_SIZE_MAX, &text, f);
    if (err == ERR_OK) {
        *ret = bulletin_load(text.data != NULL ? text.data : "", text.size, path, &faults);
        if (*ret == NULL) {
            *f = faults.n_faults > 0 ? faults.faults[0] : *f;
            err = faults.is_out_of_memory ? ERR_MEMORY : ERR_DOMAIN;
            f->code = err;
        }
    }
    fault_list_done(&faults);
    text_done(&text);
    return err;
}

static enum err follow(struct store *store, const struct bulletin *before, const struct bulletin *b,
                       struct check_more *ret, struct fault *f)
{
    struct progress p;
    const struct known_progress progress = {progress_show, &p};
    ret->whatif = calloc(1, sizeof *ret->whatif);
    if (ret->whatif == NULL)
        return fault_no_memory(f);
    progress_start(&p);
    const enum err err =
        draft_whatif(store, before, b, moment_now(), pool_threads(), &progress, ret->whatif, f);
    progress_wipe(&p);
    return err;
}

enum err check_more_read(const struct bulletin *b, const struct check_order *order,
                         struct fault_list *faults, struct check_more *ret, struct fault *reterr)
{
    struct bulletin *kept = NULL, *file = NULL;
    struct store *store = NULL;
    enum err err = ERR_OK;
    ret->digits = b->head.currency_digits;
    if (order->against != NULL)
        err = load_file(order->against, &file, reterr);
    if (err == ERR_OK && order->store != NULL)
        err = store_open(order->store, STORE_READ, &store, reterr);
    if (err == ERR_OK && store != NULL)
        err = draft_before(store, b, &kept, reterr);
    const struct bulletin *other = file != NULL ? file : kept;
    if (err == ERR_OK && other != NULL) {
        ret->has_changes = true;
        snprintf(ret->other, sizeof ret->other, "%s revision %d", other->head.id,
                 other->head.revision);
        draft_warn_day(b, other->head.revision, other->head.issued, faults);
        err = changes_between(other, b, &ret->changes, reterr);
    }
    if (err == ERR_OK && store != NULL)
        err = follow(store, kept, b, ret, reterr);
    store_close(store);
    bulletin_free(kept);
    bulletin_free(file);
    return err;
}

void check_more_done(struct check_more *more)
{
    change_list_done(&more->changes);
    free(more->whatif);
    more->whatif = NULL;
}

/* ---- for programs ------------------------------------------------------------------------------- */

void check_more_json(const struct check_more *more, struct jsonw *w)
{
    if (more->has_changes) {
        jsonw_string(w, "against", more->other);
        draft_tell_changes(&more->changes, w);
    }
    if (more->whatif == NULL)
        return;
    jsonw_object(w, "if_issued");
    draft_tell_whatif(more->whatif, w);
    jsonw_object_end(w);
}

/* ---- for people --------------------------------------------------------------------------------- */

static const char *plural(int64_t n)
{
    return n == 1 ? "" : "s";
}

static void say_changes(struct cli *ctx, const struct check_more *more)
{
    const struct change_list *l = &more->changes;
    text_putc(&ctx->out, '\n');
    if (l->n == 0)
        cli_say(ctx, 2, "Nothing is different from %s.", more->other);
    else
        cli_say(ctx, 2, "%zu thing%s different from %s:", l->n + l->n_more,
                l->n + l->n_more == 1 ? " is" : "s are", more->other);
    for (size_t i = 0; i < l->n; i++) {
        const struct change *c = &l->changes[i];
        cli_say(ctx, 4, "%s", c->where);
        if (c->was == NULL)
            cli_say(ctx, 8, "new: %s", c->now != NULL ? c->now : "");
        else if (c->now == NULL)
            cli_say(ctx, 8, "gone: %s", c->was);
        else
            cli_say(ctx, 8, "%s -> %s", c->was, c->now);
    }
    if (l->n_more > 0)
        cli_say(ctx, 4, "... and %zu more.", l->n_more);
}

static void say_scope(struct cli *ctx, const char *what, const struct whatif_scope *s,
                      bool has_before)
{
    if (!has_before)
        cli_say(ctx, 4, "%" PRId64 " %s would be in scope.", s->now, what);
    else
        cli_say(ctx, 4,
                "%s in scope: %" PRId64 " -> %" PRId64 " (%" PRId64 " swept in, %" PRId64
                " let out).",
                what, s->before, s->now, s->swept_in, s->let_out);
}

static void say_reasons(struct cli *ctx, const int64_t *n_of)
{
    for (int r = whatif_reason(n_of, -1); r >= 0; r = whatif_reason(n_of, r))
        cli_say(ctx, 12, "%" PRId64 " for %s", n_of[r],
                r < RULE_N ? rule_rows[r].name : "nothing that is found any more");
}

static void say_moves(struct cli *ctx, const struct whatif *what)
{
    static const char *const names[WHATIF_VERDICTS] = {"pay", "ask", "hold", "refuse", "not ruled"};
    for (int a = 0; a < WHATIF_VERDICTS; a++)
        for (int b = 0; b < WHATIF_VERDICTS; b++)
            if (a != b && what->moves[a][b] > 0) {
                cli_say(ctx, 8, "%" PRId64 " from %s to %s", what->moves[a][b], names[a], names[b]);
                say_reasons(ctx, what->because[a][b]);
            }
}

static void say_whatif(struct cli *ctx, const struct whatif *what)
{
    char was[RULE_SAY_MONEY], now[RULE_SAY_MONEY], back[RULE_SAY_MONEY];
    text_puts(&ctx->out, "\n  If it were issued (nothing was written):\n");
    say_scope(ctx, what->has_before ? "Units" : "units", &what->units, what->has_before);
    say_scope(ctx, what->has_before ? "Stations" : "stations", &what->stations, what->has_before);
    cli_say(ctx, 4, "%" PRId64 " of %" PRId64 " claim%s would be ruled otherwise.", what->n_changed,
            what->n_claims, plural(what->n_claims));
    say_moves(ctx, what);
    if (what->n_overruled > 0)
        cli_say(ctx, 8, "A person's word stands on %" PRId64 ", and would go on standing.",
                what->n_overruled);
    if (what->n_claims > 0)
        cli_say(ctx, 4, "To pay in all: %s -> %s.",
                rule_say_money(what->was_minor, what->currency, was),
                rule_say_money(what->now_minor, what->currency, now));
    if (what->owed_back_minor > 0)
        cli_say(ctx, 4, "%s that was paid already would be owed back.",
                rule_say_money(what->owed_back_minor, what->currency, back));
}

void check_more_say(struct cli *ctx, const struct check_more *more)
{
    if (more->has_changes)
        say_changes(ctx, more);
    if (more->whatif != NULL)
        say_whatif(ctx, more->whatif);
}
