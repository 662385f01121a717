/* demo_score: owns what counts as found, as missed and as wrongly blamed. */
#include "cli/demo_score.h"

#include "base/file.h"
#include "base/json.h"
#include "core/ulid.h"
#include "store/store.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { FINDINGS = 64, RULE_NAME = 40, PATH_ROOM = 1024 };

/* One claim of the truth; texts are the document's. */
struct truth {
    const char *job, *bag;
    enum kind kind;
    bool is_deterministic, must_be_refused, is_taken;
    json_node *expect;
};

/* What stands for the claim that is being looked at. */
struct standing {
    char rules[FINDINGS][RULE_NAME];
    size_t n_rules;
    int verdict;
    int64_t minor, paid_minor;
    char currency[8];
    bool is_ruled;
};

struct scoring {
    struct score *score;
    struct truth *truths;
    size_t n;
    struct store *store;
    struct standing standing;
    enum err err;
    struct fault *fault;
};

/* ---- the truth --------------------------------------------------------------------------------- */

static int by_job(const void *a, const void *b)
{
    return strcmp(((const struct truth *)a)->job, ((const struct truth *)b)->job);
}

static enum err wrong(json_node *node, struct fault *f, const char *what)
{
    json_place(node, f);
    return fault_set(f, ERR_TYPE, "%s", what);
}

static enum err read_claim(json_node *node, struct truth *t, struct fault *f)
{
    const char *kind = json_string(json_get(node, "kind"), NULL);
    const char *take = json_string(json_get(node, "take"), NULL);
    t->job = json_string(json_get(node, "job"), NULL);
    t->bag = json_string(json_get(node, "bag"), NULL);
    t->expect = json_get(node, "expect");
    t->is_deterministic = json_bool(json_get(node, "deterministic"));
    t->must_be_refused = take != NULL && strcmp(take, "refused") == 0;
    if (t->job == NULL || t->bag == NULL || kind == NULL)
        return wrong(node, f, "a claim has no job, bag or kind");
    t->kind = kind_find(kind);
    if (t->kind != KIND_N)
        return ERR_OK;
    json_place(node, f);
    return fault_set(f, ERR_UNKNOWN, "the kind '%.60s' is not planted by this program", kind);
}

static enum err read_truth(struct scoring *s, const char *folder, struct json_doc **ret_doc)
{
    char path[PATH_ROOM];
    struct text text = {0};
    if (snprintf(path, sizeof path, "%s/truth.json", folder) >= (int)sizeof path)
        return fault_set(s->fault, ERR_LIMIT, "the name of the folder is too long");
    enum err e = file_read(path, JSON_SIZE_MAX, &text, s->fault);
    if (e == ERR_OK)
        e = json_parse(text.data, text.size, path, ret_doc, s->fault);
    text_done(&text);
    if (e != ERR_OK)
        return e;
    json_node *claims = json_get(json_root(*ret_doc), "claims");
    snprintf(s->fault->file, sizeof s->fault->file, "%.250s", path);
    if (json_int(json_get(json_root(*ret_doc), "mendwright_truth")) != 1 ||
        json_kind(claims) != JSON_ARRAY)
        return wrong(json_root(*ret_doc), s->fault, "this is not the truth of a made-up campaign");
    s->n = json_size(claims);
    s->truths = calloc(s->n + 1, sizeof *s->truths);
    if (s->truths == NULL)
        return fault_no_memory(s->fault);
    for (size_t i = 0; i < s->n && e == ERR_OK; i++)
        e = read_claim(json_at(claims, i), &s->truths[i], s->fault);
    if (e == ERR_OK)
        qsort(s->truths, s->n, sizeof *s->truths, by_job);
    return e;
}

/* ---- what stands in the store ------------------------------------------------------------------ */

static int verdict_of(const char *name)
{
    static const char *const names[SCORE_VERDICTS] = {"pay", "ask", "hold", "refuse"};
    for (int i = 0; i < SCORE_VERDICTS; i++)
        if (strcmp(names[i], name) == 0)
            return i;
    return SCORE_VERDICTS - 1;
}

/* The last ruling by the rules holds here: the score is the rules', not a person's. */
static bool see_ruling(void *me, const struct store_ruling *r)
{
    struct standing *now = &((struct scoring *)me)->standing;
    if (r->kind == STORE_PAID)
        now->paid_minor += r->amount_minor;
    if (r->kind != STORE_RULED)
        return true;
    now->is_ruled = true;
    now->verdict = verdict_of(r->verdict);
    now->minor = r->amount_minor;
    if (r->amount_minor == 0)
        for (size_t i = 0; i < r->n_awards; i++)
            now->minor += r->awards[i].amount_minor;
    snprintf(now->currency, sizeof now->currency, "%.7s", r->currency != NULL ? r->currency : "");
    now->n_rules = r->n_findings < FINDINGS ? r->n_findings : FINDINGS;
    for (size_t i = 0; i < now->n_rules; i++)
        snprintf(now->rules[i], sizeof now->rules[i], "%.39s", r->findings[i].rule);
    return true;
}

static size_t count_rule(const struct standing *now, const char *rule)
{
    size_t n = 0;
    for (size_t i = 0; i < now->n_rules; i++)
        n += strcmp(now->rules[i], rule) == 0;
    return n;
}

static bool is_found(const struct truth *t, const struct standing *now)
{
    for (size_t i = 0; i < json_size(t->expect); i++) {
        const char *rule = json_string(json_at(t->expect, i), NULL);
        if (rule != NULL && count_rule(now, rule) > 0)
            return true;
    }
    return false;
}

static void note_name(char names[SCORE_NAMES][SCORE_NAME], size_t *n, const char *bag,
                      const char *what)
{
    if (*n < SCORE_NAMES)
        snprintf(names[(*n)++], SCORE_NAME, "%.20s %.26s", bag, what);
}

static void count_kind(struct score *score, const struct truth *t, bool found)
{
    struct score_kind *kind = &score->kinds[t->kind];
    kind->planted++;
    kind->found += found;
    kind->is_deterministic = t->is_deterministic;
    if (found || !t->is_deterministic)
        return;
    score->n_missed++;
    note_name(score->missed, &score->n_missed_names, t->bag, kind_rows[t->kind].name);
}

static void judge(struct scoring *s, struct truth *t)
{
    struct score *score = s->score;
    const struct standing *now = &s->standing;
    const size_t seen = count_rule(now, "photo-seen");
    t->is_taken = true;
    score->n_taken++;
    score->n_ruled += now->is_ruled;
    score->n_false_pairs += kind_is_copy(t->kind) && seen > 0 ? seen - 1 : seen;
    if (now->is_ruled) {
        score->n_verdicts[now->verdict]++;
        score->minor[now->verdict] += now->minor;
        memcpy(score->currency, now->currency, sizeof score->currency);
    }
    score->paid_minor += now->paid_minor;
    if (t->kind != KIND_CLEAN) {
        count_kind(score, t, !t->must_be_refused && is_found(t, now));
        return;
    }
    score->n_clean++;
    if (now->n_rules == 0)
        return;
    score->n_clean_found++;
    note_name(score->blamed, &score->n_blamed_names, t->bag, now->rules[0]);
}

static bool see_claim(void *me, const char *id, const struct store_claim *claim)
{
    struct scoring *s = me;
    const struct truth key = {.job = claim->job != NULL ? claim->job : ""};
    struct truth *t = bsearch(&key, s->truths, s->n, sizeof *s->truths, by_job);
    s->score->n_photos += claim->n_photos;
    if (t == NULL || t->is_taken) /* not of this campaign, or sent again */
        return true;
    s->standing = (struct standing){.n_rules = 0};
    s->err = store_rulings(s->store, id, see_ruling, s, s->fault);
    if (s->err == ERR_OK)
        judge(s, t);
    return s->err == ERR_OK;
}

/* What is not in the store was refused at taking in, or never came. */
static void count_absent(struct scoring *s)
{
    for (size_t i = 0; i < s->n; i++) {
        const struct truth *t = &s->truths[i];
        if (t->is_taken)
            continue;
        if (t->kind != KIND_CLEAN) {
            count_kind(s->score, t, t->must_be_refused);
            continue;
        }
        s->score->n_clean++;
        s->score->n_clean_found++;
        note_name(s->score->blamed, &s->score->n_blamed_names, t->bag, "not in the store");
    }
}

enum err demo_score(const char *folder, const char *store, struct score *ret, struct fault *reterr)
{
    struct scoring s = {.score = ret, .fault = reterr};
    struct json_doc *doc = NULL;
    *ret = (struct score){.n_claims = 0};
    enum err e = read_truth(&s, folder, &doc);
    reterr->file[0] = e == ERR_OK ? '\0' : reterr->file[0];
    if (e == ERR_OK)
        e = store_open(store, STORE_READ, &s.store, reterr);
    if (e == ERR_OK)
        e = store_claims(s.store, NULL, see_claim, &s, reterr);
    if (e == ERR_OK)
        e = s.err;
    if (e == ERR_OK) {
        count_absent(&s);
        ret->n_claims = s.n;
        ret->n_pairs = ret->n_photos > 1 ? ret->n_photos * (ret->n_photos - 1) / 2 : 0;
        ret->is_good = ret->n_missed == 0 && ret->n_clean_found == 0 &&
                       ret->n_ruled == ret->n_taken && ret->n_taken > 0;
    }
    store_close(s.store);
    json_free(doc);
    free(s.truths);
    return e;
}
