/* rule_json: owns how rulings are told to programs; the fields are in the command contracts. */
#include "cli/rule_job.h"

#include "base/jsonw.h"

#include <string.h>

static void put_findings(struct jsonw *w, const struct rule_ruling *r)
{
    jsonw_array(w, "findings");
    for (size_t i = 0; i < r->n_findings; i++) {
        const struct rule_finding *f = &r->findings[i];
        jsonw_object(w, NULL);
        jsonw_string(w, "rule", rule_rows[f->rule].name);
        jsonw_string(w, "level", rule_level_name(f->level));
        jsonw_string(w, "station", f->station);
        jsonw_string(w, "message", f->message);
        jsonw_string(w, "cure", f->cure);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
    jsonw_int(w, "more_findings", (int64_t)r->n_more_findings);
}

static void put_stations(struct jsonw *w, const struct rule_ruling *r)
{
    jsonw_array(w, "stations");
    for (size_t i = 0; i < r->n_awards; i++) {
        jsonw_object(w, NULL);
        jsonw_string(w, "station", r->awards[i].station);
        jsonw_string(w, "verdict", rule_verdict_name(r->awards[i].verdict));
        jsonw_int(w, "amount_minor", r->awards[i].amount_minor);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
    jsonw_array(w, "lines");
    for (size_t i = 0; i < r->n_lines; i++) {
        jsonw_object(w, NULL);
        jsonw_string(w, "station", r->lines[i].station);
        jsonw_string(w, "kind", rule_pays_name(r->lines[i].kind));
        jsonw_int(w, "due_minor", r->lines[i].due_minor);
        jsonw_int(w, "paid_minor", r->lines[i].paid_minor);
        jsonw_string(w, "what", r->lines[i].what);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
}

static void put_before(struct jsonw *w, const struct store_ruling *before)
{
    if (before == NULL) {
        jsonw_null(w, "before");
        return;
    }
    jsonw_object(w, "before");
    jsonw_string(w, "verdict", before->verdict);
    jsonw_int(w, "amount_minor", before->amount_minor);
    jsonw_int(w, "revision", before->revision);
    jsonw_int(w, "at_ms", before->at_ms);
    jsonw_string(w, "person", before->person);
    jsonw_string(w, "reason", before->reason);
    jsonw_object_end(w);
}

void rule_json_claim(struct cli *ctx, const struct ruling_seen *seen)
{
    const struct rule_standing s = rule_standing_of(seen);
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_string(&w, "claim", seen->claim_id);
    jsonw_string(&w, "verdict", rule_verdict_name(s.verdict));
    jsonw_int(&w, "amount_minor", s.amount_minor);
    jsonw_string(&w, "currency", seen->currency);
    jsonw_string(&w, "vin", seen->claim->vin);
    jsonw_string(&w, "shop", seen->claim->shop);
    jsonw_string(&w, "technician", seen->claim->technician);
    jsonw_string(&w, "bulletin", seen->claim->bulletin);
    jsonw_int(&w, "taken_ms", seen->claim->taken_ms);
    put_findings(&w, seen->ruling);
    put_stations(&w, seen->ruling);
    jsonw_int(&w, "if_cured_minor", seen->ruling->if_cured_minor);
    jsonw_int(&w, "paid_minor", seen->paid_minor);
    jsonw_bool(&w, "new", seen->is_new);
    jsonw_bool(&w, "changed", seen->is_changed && !seen->is_new);
    jsonw_bool(&w, "overruled", seen->is_overruled);
    jsonw_string(&w, "by_rules", rule_verdict_name(seen->ruling->verdict));
    put_before(&w, seen->before);
    jsonw_object_end(&w);
    text_putc(&ctx->out, '\n');
}

void rule_json_word(struct cli *ctx, const struct store_ruling *word)
{
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_string(&w, "claim", word->claim);
    jsonw_string(&w, "verdict", word->verdict);
    jsonw_int(&w, "amount_minor", word->amount_minor);
    jsonw_string(&w, "currency", word->currency);
    jsonw_string(&w, "person", word->person);
    jsonw_string(&w, "reason", word->reason);
    jsonw_object_end(&w);
    text_putc(&ctx->out, '\n');
}

void rule_json_payment(struct cli *ctx, const char *claim, int64_t amount_minor,
                       const char *currency)
{
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_string(&w, "claim", claim);
    jsonw_int(&w, "paid_minor", amount_minor);
    jsonw_string(&w, "currency", currency);
    jsonw_object_end(&w);
    text_putc(&ctx->out, '\n');
}

void rule_json_rules(struct cli *ctx)
{
    struct jsonw w;
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_array(&w, "rules");
    for (int i = 0; i < RULE_N; i++) {
        jsonw_object(&w, NULL);
        jsonw_string(&w, "rule", rule_rows[i].name);
        jsonw_string(&w, "level", rule_level_name(rule_rows[i].level));
        jsonw_string(&w, "sees", rule_rows[i].sees);
        jsonw_string(&w, "why", rule_rows[i].why);
        jsonw_string(&w, "cure", rule_rows[i].cure);
        jsonw_object_end(&w);
    }
    jsonw_array_end(&w);
    jsonw_object_end(&w);
}
