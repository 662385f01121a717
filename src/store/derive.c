/* derive: owns the meaning of our own entries in the log. */
#include "store/derive.h"

#include "core/quantity.h"
#include "store/schema.h"
#include "store/standing.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- writing ------------------------------------------------------------------------------- */

static void write_list(struct jsonw *w, const char *key, const struct shape *shape,
                       const void *items, size_t n)
{
    jsonw_array(w, key);
    for (size_t i = 0; i < n; i++) {
        jsonw_object(w, NULL);
        shape_write(shape, (const char *)items + i * shape->size, w);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
}

void derive_claim_json(const struct store_claim *claim, struct text *ret)
{
    struct jsonw w;
    jsonw_start(&w, ret);
    jsonw_object(&w, NULL);
    jsonw_int(&w, "n_events", (int64_t)claim->n_events);
    shape_write(&shape_claim, claim, &w);
    write_list(&w, "stations", &shape_station, claim->stations, claim->n_stations);
    write_list(&w, "readings", &shape_reading, claim->readings, claim->n_readings);
    write_list(&w, "photos", &shape_photo, claim->photos, claim->n_photos);
    write_list(&w, "findings", &shape_finding, claim->findings, claim->n_findings);
    jsonw_object_end(&w);
}

void derive_ruling_json(const struct store_ruling *ruling, struct text *ret)
{
    struct jsonw w;
    jsonw_start(&w, ret);
    jsonw_object(&w, NULL);
    shape_write(&shape_ruling, ruling, &w);
    write_list(&w, "awards", &shape_award, ruling->awards, ruling->n_awards);
    write_list(&w, "findings", &shape_finding, ruling->findings, ruling->n_findings);
    jsonw_object_end(&w);
}

void derive_paper_json(const struct store_paper *paper, struct text *ret)
{
    struct jsonw w;
    jsonw_start(&w, ret);
    jsonw_object(&w, NULL);
    shape_write(&shape_paper, paper, &w);
    jsonw_string_n(&w, "text", paper->text, paper->n);
    jsonw_object_end(&w);
}

void derive_builds_json(const struct store_build *builds, size_t n, int64_t at_ms, struct text *ret)
{
    struct jsonw w;
    jsonw_start(&w, ret);
    jsonw_object(&w, NULL);
    jsonw_int(&w, "at_ms", at_ms);
    write_list(&w, "builds", &shape_build, builds, n);
    jsonw_object_end(&w);
}

static const char *const ruling_types[] = {[STORE_RULED] = LOG_RULING,
                                           [STORE_OVERRULED] = LOG_OVERRULE,
                                           [STORE_PAID] = LOG_PAYMENT,
                                           [STORE_LIFTED] = LOG_LIFT,
                                           [STORE_NOTED] = LOG_NOTE};

const char *derive_ruling_type(enum store_ruling_kind kind)
{
    return ruling_types[kind];
}

/* ---- rows ---------------------------------------------------------------------------------- */

struct work {
    struct db *db;
    struct scratch *scratch;
    struct digest *digest;
    const struct log_entry *e;
    struct fault *f;
};

static const char put_station[] =
    "INSERT INTO stations (claim_seq, n, station, variant, label, built_first, built_last, scope, "
    "kit) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)";
static const char put_reading[] = "INSERT INTO readings (claim_seq, n, station, point, phase, "
                                  "unit, value_nano, u_nano, taken_ms, "
                                  "ulid) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)";
static const char put_photo[] =
    "INSERT INTO photos (claim_seq, n, name, station, point, ulid, sha256, ext, bytes, width, "
    "height, taken_ms, dhash, dhash_mirror, phash, phash_mirror, is_flat, sharpness, exposure, "
    "codes, fault) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)";
static const char put_file[] =
    "INSERT INTO photo_files (sha256, ext, bytes) VALUES (?, ?, ?) ON CONFLICT DO NOTHING";
static const char put_finding[] =
    "INSERT INTO findings (seq, n, rule, level, station, message, "
    "cure, what, other, other_what) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)";
static const char put_award[] = "INSERT INTO awards (ruling_seq, n, station, verdict, "
                                "amount_minor, what) VALUES (?, ?, ?, ?, ?, ?)";
static const char put_unit[] =
    "INSERT INTO units (vin, first_seq) VALUES (?, ?) ON CONFLICT DO NOTHING";
static const char put_claim[] = "INSERT INTO claims (seq, claim, bag, n_events, job, bulletin, "
                                "revision, bulletin_sha256, is_invented, vin, shop, technician, "
                                "signature, signed_by, opened_ms, finished_ms, taken_ms, "
                                "labour_s) "
                                "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)";
static const char put_set[] = "INSERT INTO reading_sets (claim_seq, digest) VALUES (?, ?)";
static const char put_ruling[] =
    "INSERT INTO rulings (seq, claim_seq, kind, claim, verdict, amount_minor, currency, revision, "
    "person, reason, at_ms) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)";
static const char put_paper[] = "INSERT INTO papers (seq, kind, name, revision, at_ms, sha256, "
                                "bytes) VALUES (?, ?, ?, ?, ?, ?, ?)";
/* The last row of a unit and station holds. Many rows in one statement take a quarter less time than one each. */
#define BUILDS_INTO "INSERT INTO builds (vin, station, label, seq) VALUES "
#define BUILDS_LAST                                                                                \
    " ON CONFLICT (vin, station) DO UPDATE SET label = excluded.label, seq = excluded.seq"
#define ROW       "(?, ?, ?, ?)"
#define FIVE_ROWS ROW ", " ROW ", " ROW ", " ROW ", " ROW
enum { BUILDS_MANY = 20 };
static const char put_build[] = BUILDS_INTO ROW BUILDS_LAST;
static const char put_many_builds[] =
    BUILDS_INTO FIVE_ROWS ", " FIVE_ROWS ", " FIVE_ROWS ", " FIVE_ROWS BUILDS_LAST;

/* Reads the list `key` of an entry into the scratch; *ret_n items. A list that is not there is empty. */
static enum err read_list(struct work *k, json_node *root, const char *key,
                          const struct shape *shape, void **ret, size_t *ret_n)
{
    json_node *list = json_get(root, key);
    const size_t n = list != NULL ? json_size(list) : 0;
    if (list != NULL && json_kind(list) != JSON_ARRAY)
        return fault_set(k->f, ERR_TYPE, "\"%s\" is %s; expected a list", key,
                         json_kind_name(json_kind(list)));
    char *items = scratch_take(k->scratch, n * shape->size + 1);
    enum err err = items != NULL ? ERR_OK : fault_no_memory(k->f);
    for (size_t i = 0; i < n && err == ERR_OK; i++)
        err = shape_read(shape, json_at(list, i), k->scratch, items + i * shape->size, k->f);
    *ret = items;
    *ret_n = n;
    return err;
}

/* One row for each item of a list, placed by (seq, its number). */
static enum err put_list(struct work *k, const char *sql, const struct shape *shape,
                         const void *items, size_t n)
{
    enum err err = ERR_OK;
    for (size_t i = 0; i < n && err == ERR_OK; i++) {
        struct db_use u = db_use(k->db, sql);
        db_int(&u, k->e->seq);
        db_int(&u, (int64_t)i);
        shape_bind(shape, (const char *)items + i * shape->size, &u);
        err = db_end(&u, k->f);
    }
    return err;
}

static enum err put_files(struct work *k, const struct store_photo *photos, size_t n)
{
    enum err err = ERR_OK;
    for (size_t i = 0; i < n && err == ERR_OK; i++) {
        struct db_use u = db_use(k->db, put_file);
        db_blob(&u, photos[i].sha256, STORE_DIGEST);
        db_text(&u, photos[i].ext);
        db_int(&u, photos[i].bytes);
        err = db_end(&u, k->f);
    }
    return err;
}

static int compare_text(const char *a, const char *b)
{
    return strcmp(a != NULL ? a : "", b != NULL ? b : "");
}

static bool is_after(const struct store_reading *r)
{
    return r->phase != NULL && strcmp(r->phase, "after") == 0;
}

/* By point; what was read after the work by its value, then the rest, the last taken first. */
static int compare_readings(const void *a, const void *b)
{
    const struct store_reading *x = a, *y = b;
    int order = compare_text(x->station, y->station);
    if (order == 0)
        order = compare_text(x->point, y->point);
    if (order == 0)
        order = is_after(y) - is_after(x);
    if (order == 0 && !is_after(x) && x->taken_ms != y->taken_ms)
        return x->taken_ms < y->taken_ms ? 1 : -1;
    return order != 0 ? order : (x->value_nano > y->value_nano) - (x->value_nano < y->value_nano);
}

/* Two honest jobs often count the same. */
static bool is_measured(const struct store_reading *r)
{
    const enum unit unit = quantity_unit_find(r->unit, strlen(r->unit));
    return unit == UNIT_N || quantity_unit_dim(unit) != DIM_COUNT;
}

static bool is_same_point(const struct store_reading *a, const struct store_reading *b)
{
    return compare_text(a->station, b->station) == 0 && compare_text(a->point, b->point) == 0;
}

/* What a job left behind, of sorted readings: those after the work; at a point without one the last there is (a torque that was
 * read before the room was trued stands as it is). */
static bool is_final(const struct store_reading *readings, size_t i)
{
    return is_after(&readings[i]) || i == 0 || !is_same_point(&readings[i - 1], &readings[i]);
}

static void add_text(struct digest *d, const char *s)
{
    if (s != NULL)
        digest_add(d, s, strlen(s));
    digest_add(d, "", 1);
}

/* The set of a claim's final readings as one digest: sorted, so that the order of taking them is no
 * difference; values in nano, so that 1 in and 25.4 mm are the same. Sorts and thins the list. */
static enum err put_reading_set(struct work *k, struct store_reading *readings, size_t n_all)
{
    uint8_t sum[STORE_DIGEST];
    size_t n = 0, n_after = 0;
    for (size_t i = 0; i < n_all; i++) {
        if (!is_measured(&readings[i]))
            continue;
        n_after += is_after(&readings[i]);
        readings[n++] = readings[i];
    }
    if (n_after < STORE_SET_LEAST)
        return ERR_OK;
    qsort(readings, n, sizeof *readings, compare_readings);
    for (size_t i = 0; i < n; i++) {
        char value[24];
        if (!is_final(readings, i))
            continue;
        snprintf(value, sizeof value, "%lld", (long long)readings[i].value_nano);
        add_text(k->digest, readings[i].station);
        add_text(k->digest, readings[i].point);
        add_text(k->digest, value);
    }
    if (digest_end(k->digest, sum) != ERR_OK)
        return fault_no_memory(k->f);
    struct db_use u = db_use(k->db, put_set);
    db_int(&u, k->e->seq);
    db_blob(&u, sum, sizeof sum);
    return db_end(&u, k->f);
}

static enum err put_head(struct work *k, json_node *root)
{
    struct store_claim claim = {0};
    char id[STORE_CLAIM_SIZE + 1];
    const int64_t n_events = json_int(json_get(root, "n_events"));
    enum err err = shape_read(&shape_claim, root, k->scratch, &claim, k->f);
    if (err == ERR_OK && (n_events < 0 || n_events > STORE_EVENTS_MAX))
        err = fault_set(k->f, ERR_DOMAIN, "it says of %lld events; expected 0 to %d",
                        (long long)n_events, (int)STORE_EVENTS_MAX);
    if (err != ERR_OK)
        return err;
    struct db_use u = db_use(k->db, put_unit);
    db_text(&u, claim.vin);
    db_int(&u, k->e->seq);
    err = db_end(&u, k->f);
    if (err != ERR_OK)
        return err;
    store_claim_id(k->e->bag, id);
    u = db_use(k->db, put_claim);
    db_int(&u, k->e->seq);
    db_text(&u, id);
    db_blob(&u, k->e->bag, STORE_DIGEST);
    db_int(&u, n_events);
    shape_bind(&shape_claim, &claim, &u);
    err = db_end(&u, k->f);
    json_node *findings = json_get(root, "findings");
    return err != ERR_OK
               ? err
               : standing_begin(k->db, k->e->seq, claim.vin,
                                findings != NULL ? (int64_t)json_size(findings) : 0, k->f);
}

static enum err derive_claim(struct work *k, json_node *root)
{
    void *items = NULL;
    size_t n = 0;
    enum err err = put_head(k, root);
    if (err == ERR_OK)
        err = read_list(k, root, "stations", &shape_station, &items, &n);
    if (err == ERR_OK)
        err = put_list(k, put_station, &shape_station, items, n);
    if (err == ERR_OK)
        err = read_list(k, root, "readings", &shape_reading, &items, &n);
    if (err == ERR_OK)
        err = put_list(k, put_reading, &shape_reading, items, n);
    if (err == ERR_OK)
        err = put_reading_set(k, items, n);
    if (err == ERR_OK)
        err = read_list(k, root, "photos", &shape_photo, &items, &n);
    if (err == ERR_OK)
        err = put_files(k, items, n);
    if (err == ERR_OK)
        err = put_list(k, put_photo, &shape_photo, items, n);
    if (err == ERR_OK)
        err = read_list(k, root, "findings", &shape_finding, &items, &n);
    return err != ERR_OK ? err : put_list(k, put_finding, &shape_finding, items, n);
}

/* The place of a claim in the log. */
static enum err find_claim(struct work *k, const char *claim, int64_t *ret_seq)
{
    struct db_use u = db_use(k->db, "SELECT seq FROM claims WHERE claim = ?");
    bool has_row = false;
    db_text(&u, claim);
    enum err err = db_next(&u, &has_row, k->f);
    if (err == ERR_OK && !has_row)
        err = fault_set(k->f, ERR_UNKNOWN, "there is no claim %.40s in the store", claim);
    if (err == ERR_OK)
        *ret_seq = db_col_int(&u, 0);
    db_rest(&u);
    return err;
}

static enum err derive_ruling(struct work *k, json_node *root, enum store_ruling_kind kind)
{
    struct store_ruling ruling = {0};
    int64_t claim_seq = 0;
    void *items = NULL;
    size_t n = 0;
    enum err err = shape_read(&shape_ruling, root, k->scratch, &ruling, k->f);
    if (err == ERR_OK)
        err = find_claim(k, ruling.claim, &claim_seq);
    if (err != ERR_OK)
        return err;
    struct db_use u = db_use(k->db, put_ruling);
    db_int(&u, k->e->seq);
    db_int(&u, claim_seq);
    db_int(&u, kind);
    shape_bind(&shape_ruling, &ruling, &u);
    err = db_end(&u, k->f);
    if (err == ERR_OK)
        err = read_list(k, root, "awards", &shape_award, &items, &n);
    if (err == ERR_OK)
        err = put_list(k, put_award, &shape_award, items, n);
    if (err == ERR_OK)
        err = read_list(k, root, "findings", &shape_finding, &items, &n);
    if (err == ERR_OK)
        err = put_list(k, put_finding, &shape_finding, items, n);
    ruling.kind = kind;
    ruling.seq = k->e->seq;
    ruling.n_findings = n;
    return err != ERR_OK ? err : standing_move(k->db, claim_seq, &ruling, k->f);
}

static enum err derive_paper(struct work *k, json_node *root)
{
    struct store_paper paper = {0};
    uint8_t sum[STORE_DIGEST];
    size_t n = 0;
    json_node *node = json_get(root, "text");
    const char *text = node != NULL ? json_string(node, &n) : NULL;
    enum err err = shape_read(&shape_paper, root, k->scratch, &paper, k->f);
    if (err == ERR_OK && text == NULL)
        err = fault_set(k->f, ERR_EMPTY, "the paper has no text");
    if (err != ERR_OK)
        return err;
    digest_add(k->digest, text, n);
    if (digest_end(k->digest, sum) != ERR_OK)
        return fault_no_memory(k->f);
    struct db_use u = db_use(k->db, put_paper);
    db_int(&u, k->e->seq);
    shape_bind(&shape_paper, &paper, &u);
    db_blob(&u, sum, sizeof sum);
    db_int(&u, (int64_t)n);
    return db_end(&u, k->f);
}

/* An empty label is not written into the log, and stands for none. */
static const char *text_or_null(const char *s)
{
    return s != NULL && s[0] != '\0' ? s : NULL;
}

enum err derive_builds_rows(struct db *db, int64_t seq, const struct store_build *builds, size_t n,
                            struct fault *reterr)
{
    /* Elsewhere one statement may not write the same row twice. */
    const size_t many = db_dialect(db) == DB_SQLITE ? BUILDS_MANY : 1;
    enum err err = ERR_OK;
    for (size_t i = 0, end; i < n && err == ERR_OK; i = end) {
        end = n - i >= many ? i + many : i + 1;
        struct db_use u = db_use(db, end - i > 1 ? put_many_builds : put_build);
        for (size_t k = i; k < end; k++) {
            db_text(&u, builds[k].vin);
            db_text(&u, builds[k].station);
            db_text(&u, text_or_null(builds[k].label));
            db_int(&u, seq);
        }
        err = db_end(&u, reterr);
    }
    return err;
}

static enum err derive_builds(struct work *k, json_node *root)
{
    void *items = NULL;
    size_t n = 0;
    const enum err err = read_list(k, root, "builds", &shape_build, &items, &n);
    return err != ERR_OK ? err : derive_builds_rows(k->db, k->e->seq, items, n, k->f);
}

static bool is_type(const struct log_entry *e, const char *type)
{
    return e->n_type == strlen(type) && memcmp(e->type, type, e->n_type) == 0;
}

enum err derive_entry(struct db *db, struct scratch *scratch, struct digest *digest,
                      const struct log_entry *e, struct fault *reterr)
{
    struct json_doc *doc = NULL;
    struct work k = {db, scratch, digest, e, reterr};
    if (e->n_type < sizeof LOG_OURS - 1 || memcmp(e->type, LOG_OURS, sizeof LOG_OURS - 1) != 0)
        return ERR_OK;
    scratch_clear(scratch);
    enum err err = json_parse(e->json, e->n_json, "the log", &doc, reterr);
    if (err != ERR_OK)
        return err;
    if (is_type(e, LOG_CLAIM))
        err = derive_claim(&k, json_root(doc));
    else if (is_type(e, LOG_RULING))
        err = derive_ruling(&k, json_root(doc), STORE_RULED);
    else if (is_type(e, LOG_OVERRULE))
        err = derive_ruling(&k, json_root(doc), STORE_OVERRULED);
    else if (is_type(e, LOG_PAYMENT))
        err = derive_ruling(&k, json_root(doc), STORE_PAID);
    else if (is_type(e, LOG_LIFT))
        err = derive_ruling(&k, json_root(doc), STORE_LIFTED);
    else if (is_type(e, LOG_NOTE))
        err = derive_ruling(&k, json_root(doc), STORE_NOTED);
    else if (is_type(e, LOG_PAPER))
        err = derive_paper(&k, json_root(doc));
    else if (is_type(e, LOG_BUILDS))
        err = derive_builds(&k, json_root(doc));
    else
        err = fault_set(reterr, ERR_UNKNOWN, "the log holds an entry of the unknown type %.*s",
                        (int)(e->n_type < 40 ? e->n_type : 40), e->type);
    json_free(doc);
    return err;
}

enum err derive_empty(struct db *db, struct fault *reterr)
{
    size_t n = 0;
    enum err err = ERR_OK;
    while (schema_derived[n].table != NULL)
        n++;
    while (n > 0 && err == ERR_OK) { /* children first */
        struct db_use u = db_use(db, schema_derived[--n].empty);
        err = db_end(&u, reterr);
    }
    return err;
}
