/* take_say: owns how taking in is told: a line of JSON a bag, or the refused ones and a summary for people. */
#include "base/jsonw.h"
#include "cli/take_job.h"

#include <string.h>

enum { LINE = FAULT_FILE_MAX + FAULT_PATH_MAX + FAULT_MESSAGE_MAX + 64 };

static const char *or_null(const char *text)
{
    return text[0] != '\0' ? text : NULL;
}

/* A fault of the events without its file: "line 3, events[2].at_ms: ...". */
static void content_fault(const struct fault *f, char *buf, size_t room)
{
    struct fault copy = *f;
    copy.file[0] = '\0';
    fault_line(&copy, buf, room);
}

static void put_fault(struct jsonw *w, const char *kind, const char *path, const char *message)
{
    jsonw_object(w, NULL);
    jsonw_string(w, "kind", kind);
    jsonw_string(w, "path", path);
    jsonw_string(w, "message", message);
    jsonw_object_end(w);
}

static void put_json(struct cli *ctx, const char *path, const struct take_answer *a)
{
    struct jsonw w;
    char line[LINE];
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_string(&w, "bag", path);
    jsonw_string(&w, "result", take_result_name(a->result));
    jsonw_string(&w, "claim", or_null(a->claim));
    jsonw_string(&w, "job", or_null(a->job));
    jsonw_string(&w, "vin", or_null(a->vin));
    jsonw_string(&w, "signature", bag_signature_word(a->bag.signature));
    jsonw_string(&w, "signed_by", or_null(a->bag.shop));
    jsonw_string(&w, "signature_noted", or_null(a->signature));
    jsonw_int(&w, "photos", (int64_t)a->n_photos);
    jsonw_int(&w, "findings", (int64_t)a->n_findings);
    jsonw_array(&w, "faults");
    for (size_t i = 0; i < a->bag.n_faults; i++)
        put_fault(&w, bag_kind_word(a->bag.faults[i].kind), a->bag.faults[i].path,
                  a->bag.faults[i].message);
    if (a->kind != NULL) {
        content_fault(&a->fault, line, sizeof line);
        put_fault(&w, a->kind, a->fault.file, line);
    }
    jsonw_array_end(&w);
    jsonw_int(&w, "more_faults", (int64_t)a->bag.n_more_faults);
    jsonw_object_end(&w);
    text_putc(&ctx->out, '\n');
}

void take_say_one(struct cli *ctx, const char *path, const struct take_answer *a)
{
    if (ctx->is_json) {
        put_json(ctx, path, a);
        return;
    }
    if (a->result != TAKE_REFUSED)
        return;
    cli_verdict(ctx, CLI_STOP, "Refused: %s", path);
    if (a->kind != NULL) {
        char line[LINE];
        content_fault(&a->fault, line, sizeof line);
        cli_say(ctx, 4, "%s%s%s.", a->fault.file, a->fault.file[0] != '\0' ? ": " : "", line);
        return;
    }
    const struct bag_fault *f = a->bag.faults;
    const size_t more = a->bag.n_faults + a->bag.n_more_faults - 1;
    if (a->bag.n_faults == 0)
        return;
    cli_say(ctx, 4, "%s: %s%s%s.", bag_kind_word(f->kind), f->path, f->path[0] != '\0' ? ": " : "",
            f->message);
    if (more > 0)
        cli_say(ctx, 4, "And %zu more fault%s; `mendwright bag verify` lists them.", more,
                more == 1 ? "" : "s");
}

static const char *plural(size_t n)
{
    return n == 1 ? "" : "s";
}

static void say_only(struct cli *ctx, const struct take_answer *a)
{
    if (a->result == TAKE_TAKEN)
        cli_verdict(ctx, CLI_STRONG, "Taken in as claim %s.", a->claim);
    else
        cli_verdict(ctx, CLI_STRONG, "Here already, as claim %s; nothing was changed.", a->claim);
    cli_say(ctx, 4, "%s, %zu photo%s, signature: %s%s%s.", a->vin, a->n_photos, plural(a->n_photos),
            bag_signature_word(a->bag.signature), a->bag.shop[0] != '\0' ? ", as " : "",
            a->bag.shop);
    if (strcmp(a->signature, bag_signature_word(a->bag.signature)) != 0)
        cli_say(ctx, 4,
                "The claim was taken in with signature: %s, and that stays noted. To have this one "
                "counted, the shop adds a note to the job and sends it signed.",
                a->signature);
    if (a->n_findings > 0)
        cli_say(ctx, 4, "%zu finding%s kept with the claim; `mendwright rule` tells them.",
                a->n_findings, plural(a->n_findings));
}

void take_say_all(struct cli *ctx, const struct take_tally *t, const struct take_answer *last)
{
    if (last != NULL && last->result != TAKE_REFUSED) {
        say_only(ctx, last);
        return;
    }
    if (t->n > 1 && t->n_refused > 0)
        text_putc(&ctx->out, '\n');
    if (t->n > 1) {
        cli_verdict(ctx, t->n_refused > 0 ? CLI_STOP : CLI_STRONG,
                    "%zu bags: %zu taken in, %zu here already, %zu refused.", t->n, t->n_taken,
                    t->n_already, t->n_refused);
        cli_say(ctx, 4, "%zu photo%s, %zu finding%s kept with the claims.", t->n_photos,
                plural(t->n_photos), t->n_findings, plural(t->n_findings));
    }
    if (t->n_refused == 0)
        return;
    text_putc(&ctx->out, '\n');
    cli_verdict(ctx, CLI_ACT, "Ask the shop to pack and send %s again; change nothing in it.",
                t->n_refused == 1 ? "this bag" : "each refused bag");
}
