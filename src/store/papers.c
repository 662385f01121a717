/* papers: owns the way of papers onto the log and back. */
#include "store/inner.h"

#include <stdio.h>
#include <string.h>

/* ---- papers: putting ----------------------------------------------------------------------- */

static enum err check_paper(struct store *s, struct store_paper *p, struct fault *f)
{
    enum err err = shape_check(&shape_paper, p, "", f);
    if (err != ERR_OK)
        return err;
    snprintf(f->path, sizeof f->path, "text");
    if (p->text == NULL || p->n == 0)
        return fault_set(f, ERR_EMPTY, "is missing");
    if (p->n > STORE_PAPER_MAX)
        return fault_set(f, ERR_LIMIT, "is %zu bytes long; expected at most %d MiB", p->n,
                         STORE_PAPER_MAX / 1048576);
    if (!text_is_utf8(p->text, p->n, NULL))
        return fault_set(f, ERR_ENCODING, "is not UTF-8");
    f->path[0] = '\0';
    digest_add(s->digest, p->text, p->n);
    return digest_end(s->digest, p->sha256) == ERR_OK ? ERR_OK : fault_no_memory(f);
}

/* Where the same paper holds already; 0 when another or none does. held: the digest of the one that holds, zero for none. */
static enum err find_same(struct store *s, const struct store_paper *p, int64_t *ret_seq,
                          uint8_t held[STORE_DIGEST], struct fault *f)
{
    struct db_use u =
        db_use(s->db, "SELECT seq, sha256 FROM papers WHERE kind = ? AND name = ? "
                      "AND revision IS NOT DISTINCT FROM ? ORDER BY seq DESC LIMIT 1");
    bool has_row = false;
    size_t n = 0;
    db_text(&u, p->kind);
    db_text(&u, p->name);
    if (p->revision == STORE_UNKNOWN)
        db_null(&u);
    else
        db_int(&u, p->revision);
    const enum err err = db_next(&u, &has_row, f);
    *ret_seq = 0;
    memset(held, 0, STORE_DIGEST);
    if (err == ERR_OK && has_row) {
        const uint8_t *sum = db_col_blob(&u, 1, &n);
        if (n == STORE_DIGEST)
            memcpy(held, sum, n);
        if (n == STORE_DIGEST && memcmp(sum, p->sha256, n) == 0)
            *ret_seq = db_col_int(&u, 0);
    }
    db_rest(&u);
    return err;
}

enum err store_keep(struct store *store, struct store_paper *paper, bool *ret_new,
                    struct fault *reterr)
{
    struct log_entry e = {0}; /* of no bag */
    int64_t seq = 0;
    uint8_t held[STORE_DIGEST];
    enum err err = check_paper(store, paper, reterr);
    if (err != ERR_OK)
        return err;
    err = store_writable(store, reterr);
    if (err == ERR_OK)
        err = db_begin(store->db, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    err = find_same(store, paper, &seq, held, reterr);
    if (err == ERR_OK && paper->replaces != NULL && memcmp(held, paper->replaces, sizeof held) != 0)
        err = fault_set(reterr, ERR_ORDER, "has changed since it was looked at");
    if (err == ERR_OK && seq != 0) {
        paper->seq = seq;
        *ret_new = false;
        return store_named(store, db_commit(store->db, reterr), reterr);
    }
    text_clear(&store->json);
    derive_paper_json(paper, &store->json);
    err = store_append_last(store, err, &e, LOG_PAPER, paper->at_ms, reterr);
    if (err == ERR_OK) {
        paper->seq = e.seq;
        *ret_new = true;
    }
    return store_named(store, err, reterr);
}

/* ---- papers: reading ----------------------------------------------------------------------- */

/* The text of the entry in column i, in *ret_doc's memory, held against the paper's digest. */
static enum err read_text(struct store *s, const struct db_use *u, int i, struct store_paper *p,
                          struct json_doc **ret_doc, struct fault *f)
{
    uint8_t sum[STORE_DIGEST];
    size_t n = 0;
    const char *json = db_col_text(u, i, &n);
    const enum err err = json_parse(json, n, "the log", ret_doc, f);
    if (err != ERR_OK)
        return err;
    json_node *text = json_get(json_root(*ret_doc), "text");
    p->text = text != NULL ? json_string(text, &p->n) : NULL;
    if (p->text != NULL)
        digest_add(s->digest, p->text, p->n);
    if (p->text != NULL && digest_end(s->digest, sum) != ERR_OK)
        return fault_no_memory(f);
    if (p->text == NULL || memcmp(sum, p->sha256, sizeof sum) != 0)
        return fault_set(f, ERR_SYNTAX,
                         "the paper at entry %lld of the log is damaged; see `store verify`",
                         (long long)p->seq);
    return ERR_OK;
}

/* One row to see; texts in the scratch, so that see may call what it likes. */
static enum err see_row(struct store *s, const struct db_use *u, struct scratch *scratch,
                        bool has_text, store_see_paper *see, void *me, bool *ret_goes_on,
                        struct fault *f)
{
    struct store_paper p = {0};
    struct json_doc *doc = NULL;
    size_t n = 0;
    enum err err = ERR_OK;
    p.seq = db_col_int(u, 0);
    const uint8_t *sum = db_col_blob(u, 1, &n);
    if (n == STORE_DIGEST)
        memcpy(p.sha256, sum, n);
    p.n = (size_t)db_col_int(u, 2);
    shape_row(&shape_paper, u, 3, scratch, &p);
    if (scratch->is_broken)
        return fault_no_memory(f);
    if (has_text)
        err = read_text(s, u, 3 + (int)shape_paper.n_fields, &p, &doc, f);
    if (err == ERR_OK)
        *ret_goes_on = see(me, &p);
    json_free(doc);
    return err;
}

#define PAPERS(columns, tables)                                                                    \
    "SELECT p.seq, p.sha256, p.bytes, p.kind, p.name, p.revision, p.at_ms" columns                 \
    " FROM papers AS p" tables " WHERE (?1 IS NULL OR p.kind = ?1) AND (?2 IS NULL OR p.name = "   \
    "?2) AND p.seq = (SELECT max(q.seq) FROM papers AS q WHERE q.kind = p.kind AND q.name = "      \
    "p.name AND q.revision IS NOT DISTINCT FROM p.revision) ORDER BY p.kind, p.name, p.revision"

enum err store_papers(struct store *store, const char *kind, const char *name, bool has_text,
                      store_see_paper *see, void *me, struct fault *reterr)
{
    static const char narrow[] = PAPERS("", "");
    static const char whole[] = PAPERS(", log.json", " JOIN log ON log.seq = p.seq");
    enum err err = store_look(store, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    struct scratch scratch = {0};
    struct db_use u = db_use(store->db, has_text ? whole : narrow);
    bool has_row = true, goes_on = true;
    db_text(&u, kind);
    db_text(&u, name);
    while (goes_on && err == ERR_OK) {
        err = db_next(&u, &has_row, reterr);
        if (err != ERR_OK || !has_row)
            break;
        scratch_clear(&scratch);
        err = see_row(store, &u, &scratch, has_text, see, me, &goes_on, reterr);
    }
    db_rest(&u);
    scratch_done(&scratch);
    store_look_end(store);
    return store_named(store, err, reterr);
}
