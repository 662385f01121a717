/* campaign_json: owns how a campaign is told to programs. Every figure stands beside what it is made of: "filter" is the query of the list of
 * claims (/api/v1/claims?..., and behind the # of the page) that it counts. */
#include "desk/campaign_board.h"

#include "bulletin/export.h"
#include "desk/rule.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const char *verdict_name(int verdict)
{
    return verdict == CAMPAIGN_UNRULED ? "unruled" : rule_verdict_name((enum rule_verdict)verdict);
}

static const char *kind_name(int kind)
{
    return kind == BULLETIN_PAYS_N ? "other" : rule_pays_name((enum bulletin_pays)kind);
}

static void put_count(struct jsonw *w, const char *key, const struct campaign_count *c)
{
    jsonw_object(w, key);
    jsonw_int(w, "in_scope", c->in_scope);
    jsonw_int(w, "reached", c->reached);
    jsonw_int(w, "done", c->done);
    jsonw_int(w, "proved", c->proved);
    jsonw_int(w, "unknown", c->unknown);
    jsonw_int(w, "beyond", c->beyond);
    jsonw_object_end(w);
}

static void put_money(struct jsonw *w, const struct campaign_money *m)
{
    jsonw_int(w, "stands_minor", m->stands_minor);
    jsonw_int(w, "paid_minor", m->paid_minor);
    jsonw_int(w, "promised_minor", m->promised_minor);
    jsonw_int(w, "owed_back_minor", m->owed_back_minor);
    jsonw_int(w, "asked_minor", m->asked_minor);
    jsonw_int(w, "held_minor", m->held_minor);
    jsonw_int(w, "refused_minor", m->refused_minor);
}

static void put_verdicts(struct jsonw *w, const int64_t n[CAMPAIGN_VERDICTS])
{
    char filter[40];
    jsonw_array(w, "claims");
    for (int v = 0; v < CAMPAIGN_VERDICTS; v++) {
        snprintf(filter, sizeof filter, "verdict=%s", verdict_name(v));
        jsonw_object(w, NULL);
        jsonw_string(w, "verdict", verdict_name(v));
        jsonw_int(w, "claims", n[v]);
        jsonw_string(w, "filter", filter);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
}

static void put_kinds(struct jsonw *w, const struct campaign_money *by_kind)
{
    jsonw_array(w, "by_kind");
    for (int k = 0; k < CAMPAIGN_KINDS; k++) {
        jsonw_object(w, NULL);
        jsonw_string(w, "kind", kind_name(k));
        put_money(w, &by_kind[k]);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
}

/* A query's value: what is not a letter, a digit or one of -._~ as %XX (RFC 3986, 2.3). */
static void put_filter(struct jsonw *w, const char *name, const char *value)
{
    char buf[32 + 3 * STORE_ID_MAX + 1];
    size_t n = (size_t)snprintf(buf, 32, "%s=", name);
    for (const unsigned char *p = (const unsigned char *)value; *p != '\0' && n + 4 < sizeof buf;
         p++) {
        const bool is_plain = (*p >= 'a' && *p <= 'z') || (*p >= 'A' && *p <= 'Z') ||
                              (*p >= '0' && *p <= '9') || strchr("-._~", *p) != NULL;
        n += (size_t)snprintf(buf + n, sizeof buf - n, is_plain ? "%c" : "%%%02X", *p);
    }
    jsonw_string(w, "filter", buf);
}

static void put_shops(struct jsonw *w, const struct campaign *c)
{
    jsonw_array(w, "by_shop");
    for (size_t i = 0; i < c->n_shops; i++) {
        const struct campaign_shop *s = &c->shops[i];
        jsonw_object(w, NULL);
        jsonw_string(w, "shop", s->id[0] != '\0' ? s->id : NULL);
        put_filter(w, "shop", s->id);
        for (int v = 0; v < CAMPAIGN_VERDICTS; v++)
            jsonw_int(w, verdict_name(v), s->n_claims[v]);
        put_money(w, &s->money);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
}

static void put_reserve(struct jsonw *w, const struct campaign *c)
{
    static const char *const words[] = {
        [CAMPAIGN_WITHIN] = "within", [CAMPAIGN_OVER] = "over", [CAMPAIGN_OPEN] = "open"};
    const struct campaign_reserve *r = &c->reserve;
    jsonw_object(w, "reserve");
    jsonw_string(w, "verdict", words[campaign_verdict(c)]);
    if (r->is_given) {
        jsonw_int(w, "minor", r->minor);
        jsonw_string(w, "person", r->person);
        jsonw_int(w, "at_ms", r->at_ms);
    } else {
        jsonw_null(w, "minor");
        jsonw_null(w, "person");
        jsonw_null(w, "at_ms");
    }
    if (r->has_expected) {
        jsonw_int(w, "expected_minor", r->expected_minor);
        jsonw_int(w, "low_minor", r->low_minor);
        jsonw_int(w, "high_minor", r->high_minor);
        jsonw_int(w, "mean_unit_minor", r->mean_unit_minor);
    } else {
        jsonw_null(w, "expected_minor");
        jsonw_null(w, "low_minor");
        jsonw_null(w, "high_minor");
        jsonw_null(w, "mean_unit_minor");
    }
    jsonw_object_end(w);
}

static void put_forecast(struct jsonw *w, const struct campaign_forecast *f)
{
    jsonw_object(w, "forecast");
    jsonw_bool(w, "known", f->is_known);
    jsonw_string(w, "why", f->is_known ? NULL : f->why);
    bulletin_write_day(w, "from", f->from);
    if (f->is_known) {
        jsonw_int(w, "units", f->n);
        jsonw_int(w, "come", f->n_come);
        jsonw_int(w, "further", f->further);
        jsonw_int(w, "further_low", f->low);
        jsonw_int(w, "further_high", f->high);
        jsonw_double(w, "share", f->share);
        jsonw_double(w, "share_low", f->share_low);
        jsonw_double(w, "share_high", f->share_high);
        jsonw_double(w, "half_by_days", f->half_by);
        jsonw_double(w, "most_by_days", f->most_by);
    }
    jsonw_object_end(w);
}

static void put_kit(struct jsonw *w, const struct campaign_kit *k)
{
    jsonw_object(w, NULL);
    jsonw_string(w, "kit", k->id);
    jsonw_string(w, "name", k->name);
    jsonw_string(w, "number", k->number[0] != '\0' ? k->number : NULL);
    jsonw_int(w, "used", k->used);
    if (k->has_to_come) {
        jsonw_int(w, "to_come", k->to_come);
        jsonw_int(w, "to_come_high", k->to_come_high);
    } else {
        jsonw_null(w, "to_come");
        jsonw_null(w, "to_come_high");
    }
    if (k->has_stock) {
        jsonw_object(w, "stock");
        jsonw_int(w, "on_hand", k->on_hand);
        jsonw_int(w, "ordered", k->ordered);
        jsonw_int(w, "lead_days", k->lead_days);
        jsonw_int(w, "used_since", k->used_since);
        jsonw_int(w, "left", k->left);
        jsonw_double(w, "days", k->has_days ? k->days : (double)NAN);
        jsonw_double(w, "days_low", k->has_days ? k->days_low : (double)NAN);
        jsonw_double(w, "days_high", k->has_days ? k->days_high : (double)NAN);
        jsonw_bool(w, "short", k->is_short);
        jsonw_object_end(w);
    } else {
        jsonw_null(w, "stock");
    }
    jsonw_object_end(w);
}

static void put_readings(struct jsonw *w, const struct campaign_readings *r)
{
    jsonw_object(w, NULL);
    jsonw_string(w, "point", r->point);
    jsonw_string(w, "shop", r->shop);
    jsonw_string(w, "unit", quantity_unit_name(r->unit));
    if (r->low_nano != INT64_MIN)
        jsonw_int(w, "low_nano", r->low_nano);
    else
        jsonw_null(w, "low_nano");
    if (r->high_nano != INT64_MAX)
        jsonw_int(w, "high_nano", r->high_nano);
    else
        jsonw_null(w, "high_nano");
    jsonw_int(w, "n", r->n);
    jsonw_int(w, "outside", r->n_outside);
    jsonw_double(w, "mean", r->mean);
    jsonw_double(w, "sd", r->sd);
    jsonw_double(w, "ppk", r->has_index ? r->ppk : (double)NAN);
    jsonw_double(w, "ppk_low", r->has_index ? r->ppk_low : (double)NAN);
    jsonw_double(w, "ppk_high", r->has_index ? r->ppk_high : (double)NAN);
    jsonw_object_end(w);
}

static void put_look(struct jsonw *w, const struct campaign_look *l)
{
    static const char *const kinds[] = {[CAMPAIGN_FINDINGS] = "findings",
                                        [CAMPAIGN_DIGITS] = "digits",
                                        [CAMPAIGN_COPIES] = "copies"};
    jsonw_object(w, NULL);
    jsonw_string(w, "shop", l->shop);
    put_filter(w, "shop", l->shop);
    jsonw_array(w, "reasons");
    for (size_t i = 0; i < l->n; i++) {
        const struct campaign_reason *r = &l->at[i];
        jsonw_object(w, NULL);
        jsonw_string(w, "kind", kinds[r->kind]);
        jsonw_int(w, "k", r->k);
        jsonw_int(w, "n", r->n);
        jsonw_double(w, "share", r->share);
        jsonw_double(w, "others_share", r->others_share);
        jsonw_double(w, "p", r->p);
        jsonw_double(w, "q", r->q);
        jsonw_string(w, "words", r->words);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
    jsonw_object_end(w);
}

static void put_head(struct jsonw *w, const struct campaign *c)
{
    jsonw_string(w, "bulletin", c->id);
    jsonw_int(w, "revision", c->revision);
    jsonw_string(w, "title", c->title);
    jsonw_string(w, "currency", c->currency);
    jsonw_int(w, "currency_digits", c->currency_digits);
    jsonw_bool(w, "invented", c->is_invented);
    jsonw_bool(w, "build_list", c->has_builds);
    bulletin_write_day(w, "issued", c->issued);
    bulletin_write_day(w, "until", c->until);
    bulletin_write_day(w, "today", c->today);
    jsonw_int(w, "seq", c->seq);
}

void campaign_write_rest(const struct campaign *c, struct jsonw *w)
{
    put_head(w, c);
    put_count(w, "units", &c->units);
    put_count(w, "stations", &c->stations);
    put_verdicts(w, c->n_claims);
    jsonw_int(w, "other_currency", c->n_other_currency);
    jsonw_object(w, "money");
    put_money(w, &c->money);
    put_reserve(w, c);
    put_kinds(w, c->by_kind);
    put_shops(w, c);
    jsonw_object_end(w);
    put_forecast(w, &c->forecast);
    jsonw_array(w, "kits");
    for (size_t i = 0; i < c->n_kits; i++)
        put_kit(w, &c->kits[i]);
    jsonw_array_end(w);
    jsonw_array(w, "readings");
    for (size_t i = 0; i < c->n_readings; i++)
        put_readings(w, &c->readings[i]);
    jsonw_array_end(w);
    jsonw_array(w, "looks");
    for (size_t i = 0; i < c->n_looks; i++)
        put_look(w, &c->looks[i]);
    jsonw_array_end(w);
    jsonw_int(w, "tests", (int64_t)c->n_tests);
}

void campaign_write_news(const struct campaign_news *n, const char *key, struct jsonw *w)
{
    if (!n->is_asked) {
        jsonw_null(w, key);
        return;
    }
    jsonw_object(w, key);
    jsonw_int(w, "since_ms", n->since_ms);
    jsonw_int(w, "taken", n->n_taken);
    jsonw_object(w, "ruled");
    for (int v = 0; v < CAMPAIGN_UNRULED; v++)
        jsonw_int(w, verdict_name(v), n->n_ruled[v]);
    jsonw_object_end(w);
    jsonw_int(w, "changed", n->n_changed);
    jsonw_int(w, "overruled", n->n_words);
    jsonw_int(w, "payments", n->n_paid);
    jsonw_int(w, "paid_minor", n->paid_minor);
    jsonw_int(w, "papers", n->n_papers);
    jsonw_object_end(w);
}

void campaign_write(const struct campaign *c, struct jsonw *w)
{
    campaign_write_rest(c, w);
    campaign_write_news(&c->news, "news", w);
}
