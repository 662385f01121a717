/* ruling_letter: owns what a shop is told of the record, and gathers it. */
#include "desk/ruling_letter.h"

#include "core/date.h"
#include "desk/known.h"
#include "desk/rule_in.h"
#include "desk/ruling_inner.h"
#include "draw/letter.h"
#include "draw/letter_words.h"

#include <stdio.h>
#include <string.h>

#define DAY_MS ((int64_t)86400000)

/* Everything the letter borrows lives in the pool, or in the bulletin. */
struct draft {
    struct store *store;
    const struct ruling_letter_order *order;
    struct event_pool *pool;
    struct bulletin *b; /* NULL: not kept */
    struct ruling_standing standing;
    struct letter letter;
    struct letter_item *asked, *refused;
    struct letter_line *lines;
    const char *language;
    int64_t wanted, revision; /* of the bulletin */
    char bulletin[STORE_ID_MAX + 1];
    bool is_found, is_out_of_memory;
};

static const char *copy_n(struct draft *j, const char *s, size_t n)
{
    const char *to = event_pool_text(j->pool, s, n);
    j->is_out_of_memory |= to == NULL;
    return to;
}

static const char *copy(struct draft *j, const char *s)
{
    return s != NULL ? copy_n(j, s, strlen(s)) : NULL;
}

static const char *day(struct draft *j, int64_t ms)
{
    char text[DATE_SHOW_SIZE];
    if (ms == STORE_UNKNOWN)
        return NULL;
    date_show(rule_day(ms), text);
    return copy(j, text);
}

/* In the bulletin's digits; in minor units, and said so, where it is not kept. */
static const char *money(struct draft *j, int64_t minor, const char *currency)
{
    char text[RULE_MONEY_SIZE + STORE_CURRENCY_ROOM + 40];
    if (j->b != NULL && currency != NULL && strcmp(currency, j->b->head.currency) == 0)
        (void)rule_money_text(j->b, minor, text);
    else
        snprintf(text, sizeof text, "%lld minor units %.7s", (long long)minor,
                 currency != NULL ? currency : "");
    return copy(j, text);
}

/* ---- the claim ------------------------------------------------------------------------------------- */

static bool see_listed(void *me, const struct store_listed *l)
{
    struct draft *j = me;
    struct letter *to = &j->letter;
    j->is_found =
        j->order->shop == NULL || (l->shop != NULL && strcmp(l->shop, j->order->shop) == 0);
    if (!j->is_found)
        return false;
    to->claim = copy(j, l->claim);
    to->vin = copy(j, l->vin);
    to->shop = copy(j, l->shop);
    to->technician = copy(j, l->technician);
    to->finished = day(j, l->finished_ms);
    to->taken = day(j, l->taken_ms);
    to->is_invented = l->is_invented == 1;
    to->is_person = l->is_word;
    snprintf(j->bulletin, sizeof j->bulletin, "%s", l->bulletin);
    return false;
}

/* The revision that it was ruled by; the newest where it was not. */
static bool see_paper(void *me, const struct store_paper *p)
{
    struct draft *j = me;
    struct fault_list faults = {0};
    if ((j->wanted != STORE_UNKNOWN && p->revision != j->wanted) || p->revision < j->revision)
        return true;
    j->revision = p->revision;
    bulletin_free(j->b);
    j->b = bulletin_load(p->text, p->n, p->name, &faults);
    fault_list_done(&faults);
    return true;
}

static void head(struct draft *j)
{
    struct letter *to = &j->letter;
    char text[STORE_ID_MAX + 40];
    j->language = j->order->language != NULL ? j->order->language
                  : j->b != NULL             ? j->b->head.language
                                             : "en";
    to->language = words_language(j->language);
    to->size = j->order->size;
    to->date = day(j, j->order->now_ms);
    to->made_s = j->order->now_ms / 1000;
    if (j->b == NULL) {
        to->bulletin = copy(j, j->bulletin);
        return;
    }
    snprintf(text, sizeof text, "%.128s, %s %d", j->bulletin,
             to->language == WORDS_ES   ? "revisi\xC3\xB3n"
             : to->language == WORDS_FR ? "r\xC3\xA9vision"
                                        : "revision",
             (int)j->b->head.revision);
    to->bulletin = copy(j, text);
    to->title = bulletin_text_in(j->b, &j->b->head.title, j->language);
    to->maker = j->b->head.maker;
    to->until = day(j, (int64_t)j->b->claim.until * DAY_MS);
}

/* ---- findings -------------------------------------------------------------------------------------- */

static const char *station_name(const struct draft *j, const char *id)
{
    for (size_t i = 0; j->b != NULL && id != NULL && i < j->b->scope.stations.n; i++)
        if (strcmp(j->b->scope.stations.at[i].id, id) == 0)
            return bulletin_text_in(j->b, &j->b->scope.stations.at[i].name, j->language);
    return id;
}

static const char *thing_name(const struct draft *j, const char *id)
{
    if (j->b == NULL || id == NULL)
        return NULL;
    for (size_t i = 0; i < j->b->proof.photos.n; i++)
        if (strcmp(j->b->proof.photos.at[i].id, id) == 0)
            return bulletin_text_in(j->b, &j->b->proof.photos.at[i].name, j->language);
    for (size_t i = 0; i < j->b->points.n; i++)
        if (strcmp(j->b->points.at[i].id, id) == 0)
            return bulletin_text_in(j->b, &j->b->points.at[i].name, j->language);
    return NULL;
}

/* Without what is meant for the desk: from "Desk:" on. */
static const char *cure_for_shop(struct draft *j, const char *cure)
{
    const char *at = cure != NULL ? strstr(cure, "Desk:") : NULL;
    if (at == NULL)
        return copy(j, cure);
    while (at > cure && at[-1] == ' ')
        at--;
    return at > cure ? copy_n(j, cure, (size_t)(at - cure)) : NULL;
}

static void add_findings(struct draft *j, const struct store_finding *at, size_t n)
{
    struct letter *l = &j->letter;
    for (size_t i = 0; i < n; i++) {
        const bool is_ask = strcmp(at[i].level, "ask") == 0;
        if (!is_ask && strcmp(at[i].level, "refuse") != 0)
            continue;
        struct letter_item *to = is_ask ? &j->asked[l->n_asked++] : &j->refused[l->n_refused++];
        *to = (struct letter_item){.rule = copy(j, at[i].rule),
                                   .where = copy(j, station_name(j, at[i].station)),
                                   .what = thing_name(j, at[i].what),
                                   .message = copy(j, at[i].message),
                                   .cure = cure_for_shop(j, at[i].cure)};
    }
}

/* A person's word to pay or to refuse leaves nothing to send; one to ask or to hold leaves what the rules ask for. */
static void findings(struct draft *j)
{
    const struct store_ruling *r = j->standing.by_rule;
    const size_t n = r != NULL ? r->n_findings : 0;
    struct letter *l = &j->letter;
    j->asked = event_pool_get(j->pool, (n + 1) * sizeof *j->asked);
    j->refused = event_pool_get(j->pool, (n + 1) * sizeof *j->refused);
    if (j->asked == NULL || j->refused == NULL) {
        j->is_out_of_memory = true;
        return;
    }
    if (n > 0)
        add_findings(j, r->findings, n);
    if (l->verdict == LETTER_PAY || l->verdict == LETTER_REFUSE)
        l->n_asked = 0;
    if (l->is_person && l->verdict != LETTER_REFUSE)
        l->n_refused = 0;
    l->asked = j->asked;
    l->refused = j->refused;
}

/* ---- money ----------------------------------------------------------------------------------------- */

static const char *line_name(struct draft *j, const char *award)
{
    static const enum letter_word kinds[BULLETIN_PAYS_N] = {[BULLETIN_PAYS_LABOUR] = L_LABOUR,
                                                            [BULLETIN_PAYS_KIT] = L_KIT,
                                                            [BULLETIN_PAYS_PARTS] = L_PARTS,
                                                            [BULLETIN_PAYS_TRAVEL] = L_TRAVEL,
                                                            [BULLETIN_PAYS_CONSUMABLES] =
                                                                L_CONSUMABLES};
    char id[STORE_ID_MAX + 1], text[2 * STORE_ID_MAX + 80];
    size_t n = 0;
    const enum bulletin_pays kind = known_award_split(award, &n);
    snprintf(id, sizeof id, "%.*s", (int)n, award);
    const char *where = n > 0 && strcmp(id, "*") != 0 ? station_name(j, id)
                                                      : letter_word(L_UNIT_ALL, j->letter.language);
    if (kind >= BULLETIN_PAYS_N)
        return copy(j, where);
    snprintf(text, sizeof text, "%s, %.200s", letter_word(kinds[kind], j->letter.language), where);
    return copy(j, text);
}

static void lines(struct draft *j, const struct store_ruling *stands)
{
    struct letter *l = &j->letter;
    j->lines = event_pool_get(j->pool, (stands->n_awards + 1) * sizeof *j->lines);
    if (j->lines == NULL) {
        j->is_out_of_memory = true;
        return;
    }
    for (size_t i = 0; i < stands->n_awards; i++) {
        const struct store_award *a = &stands->awards[i];
        if (a->amount_minor != 0)
            j->lines[l->n_lines++] =
                (struct letter_line){line_name(j, a->station), copy(j, a->what),
                                     money(j, a->amount_minor, stands->currency)};
    }
    l->lines = j->lines;
}

static enum letter_verdict verdict_of(const struct store_ruling *stands)
{
    for (int i = RULE_PAY; stands != NULL && i <= RULE_VERDICT_REFUSE; i++)
        if (strcmp(stands->verdict, rule_verdict_name((enum rule_verdict)i)) == 0)
            return (enum letter_verdict)(LETTER_PAY + i - RULE_PAY);
    return LETTER_UNRULED;
}

static void account(struct draft *j)
{
    const struct store_ruling *stands = j->standing.stands;
    struct letter *l = &j->letter;
    l->verdict = verdict_of(stands);
    if (stands == NULL)
        return;
    if (l->verdict == LETTER_PAY) {
        l->amount = money(j, stands->amount_minor, stands->currency);
        lines(j, stands);
    }
    if (j->standing.paid_minor > 0)
        l->paid = money(j, j->standing.paid_minor, stands->currency);
    l->is_paid = l->verdict == LETTER_PAY && j->standing.paid_minor >= stands->amount_minor &&
                 j->standing.paid_minor > 0;
    l->reason = l->is_person ? stands->reason : NULL;
}

/* ---- the whole --------------------------------------------------------------------------------------- */

static enum err gather(struct draft *j, struct fault *f)
{
    const struct store_filter one = {.claim = j->order->claim, .n_max = 1};
    enum err err = store_list(j->store, &one, see_listed, j, f);
    if (err == ERR_OK && !j->is_found)
        err = fault_set(f, ERR_UNKNOWN, "there is no claim %.20s", j->order->claim);
    if (err == ERR_OK)
        err = ruling_standing(j->store, j->order->claim, j->pool, &j->standing, f);
    if (err == ERR_OK && j->standing.by_rule != NULL)
        j->wanted = j->standing.by_rule->revision;
    if (err == ERR_OK)
        err = store_papers(j->store, "bulletin", j->bulletin, true, see_paper, j, f);
    return err;
}

enum err ruling_letter(struct store *store, const struct ruling_letter_order *order,
                       struct text *out, struct fault *reterr)
{
    struct draft j = {.store = store,
                      .order = order,
                      .pool = event_pool_new(),
                      .wanted = STORE_UNKNOWN,
                      .revision = -1};
    if (j.pool == NULL)
        return fault_no_memory(reterr);
    enum err err = gather(&j, reterr);
    if (err == ERR_OK) {
        head(&j);
        account(&j);
        findings(&j);
        err = j.is_out_of_memory ? fault_no_memory(reterr)
              : order->is_pdf    ? letter_pdf(&j.letter, out, reterr)
                                 : letter_text(&j.letter, out, reterr);
    }
    bulletin_free(j.b);
    event_pool_free(j.pool);
    return err;
}
