/* fuzz_store: what an entry of the store's own says, on any bytes: the first byte picks its type, the
 * rest is its JSON. A log may come from anywhere, and `store verify` and `store rebuild` derive from
 * all of it.
 * Property: it either refuses with a code and a sentence, or leaves rows that name no row which is
 * not there, and what the store reads back has texts and lists that can be walked. */
#include "store/inner.h"

#include "store/schema.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void must(bool holds)
{
    if (!holds)
        abort();
}

static const char claim_json[] =
    "{\"n_events\":0,\"bulletin\":\"B\",\"vin\":\"V\",\"taken_ms\":1,\"stations\":[]}";

/* A store in a private file with one claim, so that rulings have one: its bag is of ones. */
static struct store *make(void)
{
    static struct store s;
    struct fault f = {0};
    struct log_end end = {0};
    struct log_entry e = {0};
    if (s.db != NULL)
        return &s;
    s.mode = STORE_WRITE;
    must(db_open("", DB_SCRATCH, &s.db, &f) == ERR_OK &&
         digest_new(DIGEST_SHA256, &s.digest) == ERR_OK);
    /* Such a file has no journal, and so no way back, unless it is asked for. */
    must(db_script(s.db, "PRAGMA journal_mode = MEMORY", &f) == ERR_OK);
    must(db_script(s.db, "BEGIN", &f) == ERR_OK && schema_make(s.db, &f) == ERR_OK);
    memset(e.bag, 0xff, sizeof e.bag);
    text_puts(&s.json, claim_json);
    must(store_append(&s, &end, &e, LOG_CLAIM, 1, &f) == ERR_OK && db_commit(s.db, &f) == ERR_OK);
    return &s;
}

static void see_text(const char *s)
{
    must(s == NULL || strlen(s) < SIZE_MAX);
}

static bool see_claim(void *me, const char *id, const struct store_claim *c)
{
    (void)me;
    must(strlen(id) == STORE_CLAIM_SIZE && c->vin != NULL && c->bulletin != NULL);
    see_text(c->shop);
    for (size_t i = 0; i < c->n_stations; i++)
        see_text(c->stations[i].label);
    for (size_t i = 0; i < c->n_readings; i++)
        must(c->readings[i].point != NULL && c->readings[i].unit != NULL);
    for (size_t i = 0; i < c->n_photos; i++)
        must(c->photos[i].name != NULL && c->photos[i].ext != NULL);
    for (size_t i = 0; i < c->n_findings; i++)
        must(c->findings[i].message != NULL);
    return true;
}

static bool see_ruling(void *me, const struct store_ruling *r)
{
    (void)me;
    must(r->claim != NULL && r->verdict != NULL && r->seq > 0);
    for (size_t i = 0; i < r->n_awards; i++)
        must(r->awards[i].station != NULL);
    return true;
}

static bool see_paper(void *me, const struct store_paper *p)
{
    (void)me;
    must(p->kind != NULL && p->name != NULL && p->text != NULL && strlen(p->text) == p->n);
    return true;
}

static bool see_build(void *me, const struct store_build *b)
{
    (void)me;
    must(b->vin != NULL && b->station != NULL);
    return true;
}

static void tell(void *me, bool is_key, const char *text)
{
    (void)me;
    (void)text;
    must(!is_key);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const char *const types[] = {LOG_CLAIM, LOG_RULING, LOG_OVERRULE, LOG_PAYMENT,
                                        LOG_PAPER, LOG_BUILDS, "store.gift", "note"};
    struct store *s = make();
    struct fault f = {0};
    struct log_end end;
    struct log_entry e = {0};
    if (size == 0)
        return 0;
    must(db_script(s->db, "BEGIN", &f) == ERR_OK && log_find_end(s->db, &end, &f) == ERR_OK);
    memcpy(e.ulid, "01K6ZK0000AAAAAAAAAAAAAAAA", ULID_TEXT_SIZE);
    e.type = types[data[0] % (sizeof types / sizeof *types)];
    e.n_type = strlen(e.type);
    e.json = (const char *)data + 1;
    e.n_json = size - 1;
    memset(e.bag, 0x5a, sizeof e.bag);
    must(log_append(s->db, s->digest, &end, &e, &f) == ERR_OK);
    const enum err err = derive_entry(s->db, &s->scratch, s->digest, &e, &f);
    must(err == ERR_OK || (f.code == err && f.message[0] != '\0'));
    if (err == ERR_OK) {
        s->n_looking = 1; /* within this transaction */
        must(store_claims(s, NULL, see_claim, NULL, &f) == ERR_OK);
        must(store_rulings(s, NULL, see_ruling, NULL, &f) == ERR_OK);
        must(store_papers(s, NULL, NULL, true, see_paper, NULL, &f) == ERR_OK);
        must(store_builds(s, NULL, see_build, NULL, &f) == ERR_OK);
        s->n_looking = 0;
        must(db_check_file(s->db, 5, tell, NULL, &f) == ERR_OK);
    }
    db_rollback(s->db);
    return 0;
}
