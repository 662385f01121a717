/* export: owns the queries of what is given out, and with them the names of its columns. */
#include "store/export.h"

#include "store/inner.h"

const char *const export_table_names[EXPORT_TABLES + 1] = {
    "units", "claims", "stations", "readings", "rulings", "awards", "payments", NULL};

/* Kinds are those of enum store_ruling_kind; their words those of desk/tell.c. */
#define KIND                                                                                       \
    "CASE r.kind WHEN 0 THEN 'ruled' WHEN 1 THEN 'overruled' WHEN 2 THEN 'paid' WHEN 3 THEN "      \
    "'taken-back' ELSE 'noted' END"

static const char *const queries[EXPORT_TABLES] = {
    "SELECT vin, station, label FROM builds ORDER BY vin, station",
    "SELECT c.claim AS claim, c.bulletin AS bulletin, c.revision AS revision, c.vin AS vin, c.shop "
    "AS shop, c.technician AS technician, c.job AS job, c.is_invented AS is_invented, c.opened_ms "
    "AS opened_ms, c.finished_ms AS finished_ms, c.taken_ms AS taken_ms, c.labour_s AS labour_s, "
    "c.signature AS signature, s.verdict AS verdict, s.is_word AS is_overruled, s.amount_minor AS "
    "amount_minor, s.paid_minor AS paid_minor, s.currency AS currency, s.needs AS needs FROM "
    "claims AS c LEFT JOIN standings AS s ON s.claim_seq = c.seq ORDER BY c.seq",
    "SELECT c.claim AS claim, c.vin AS vin, s.station AS station, s.variant AS variant, s.label AS "
    "label, s.built_first AS built_first, s.built_last AS built_last, s.scope AS scope, s.kit AS "
    "kit FROM claims AS c CROSS JOIN stations AS s ON s.claim_seq = c.seq ORDER BY c.seq, s.n",
    "SELECT c.claim AS claim, c.vin AS vin, r.station AS station, r.point AS point, r.phase AS "
    "phase, r.unit AS unit, r.value_nano AS value_nano, r.u_nano AS u_nano, r.taken_ms AS taken_ms "
    "FROM claims AS c CROSS JOIN readings AS r ON r.claim_seq = c.seq ORDER BY c.seq, r.n",
    "SELECT r.claim AS claim, " KIND " AS kind, r.verdict AS verdict, r.amount_minor AS "
    "amount_minor, r.currency AS currency, r.revision AS revision, r.person AS person, r.reason AS "
    "reason, r.at_ms AS at_ms FROM rulings AS r ORDER BY r.seq",
    "SELECT r.claim AS claim, " KIND " AS kind, r.at_ms AS at_ms, a.station AS station, a.verdict "
    "AS verdict, a.amount_minor AS amount_minor, r.currency AS currency FROM rulings AS r CROSS "
    "JOIN awards AS a ON a.ruling_seq = r.seq ORDER BY r.seq, a.n",
    "SELECT r.claim AS claim, c.vin AS vin, c.shop AS shop, r.amount_minor AS amount_minor, "
    "r.currency AS currency, r.person AS person, r.at_ms AS at_ms FROM rulings AS r CROSS JOIN "
    "claims AS c ON c.seq = r.claim_seq WHERE r.kind = 2 ORDER BY r.seq",
};
_Static_assert(STORE_RULED == 0 && STORE_OVERRULED == 1 && STORE_PAID == 2 && STORE_LIFTED == 3 &&
                   STORE_NOTED == 4,
               "as in the queries");

static void read_cell(const struct db_use *u, int i, struct export_cell *ret)
{
    size_t n = 0;
    if (db_col_is_null(u, i)) {
        ret->kind = EXPORT_NULL;
        return;
    }
    ret->kind = db_col_is_int(u, i) ? EXPORT_INT : EXPORT_TEXT;
    if (ret->kind == EXPORT_INT) {
        ret->number = db_col_int(u, i);
        return;
    }
    ret->text = db_col_text(u, i, &n);
    ret->n = n;
}

enum err store_export(struct store *store, enum export_table table, store_see_cells *see, void *me,
                      struct fault *reterr)
{
    struct export_cell cells[EXPORT_CELLS_MAX] = {{0}};
    enum err err = db_confirm(store->db, reterr); /* money is moved by what is given out */
    if (err == ERR_OK)
        err = store_look(store, reterr);
    if (err != ERR_OK)
        return store_named(store, err, reterr);
    struct db_use u = db_use(store->db, queries[table]);
    const size_t n = (size_t)db_cols(&u) < EXPORT_CELLS_MAX ? (size_t)db_cols(&u) : 0;
    for (size_t i = 0; i < n; i++)
        cells[i].name = db_col_name(&u, (int)i);
    bool goes_on = see(me, -1, cells, n);
    for (int64_t row = 0; goes_on; row++) {
        bool has_row = false;
        err = db_next(&u, &has_row, reterr);
        if (err != ERR_OK || !has_row)
            break;
        for (size_t i = 0; i < n; i++)
            read_cell(&u, (int)i, &cells[i]);
        goes_on = see(me, row, cells, n);
    }
    db_rest(&u);
    store_look_end(store);
    return store_named(store, err, reterr);
}
