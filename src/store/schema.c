/* schema: owns the SQL of the tables. The columns of each derived table follow the fields of its
 * struct (fields.c), after the columns that place the row. */
#include "store/schema.h"

#define LOG_COLUMNS                                                                                \
    "  seq  INTEGER PRIMARY KEY CHECK (seq > 0),\n"                                                \
    "  ulid TEXT NOT NULL CHECK (length(ulid) = 26),\n"                                            \
    "  bag  BLOB NOT NULL CHECK (length(bag) = 32),\n"                                             \
    "  type TEXT NOT NULL,\n"                                                                      \
    "  json TEXT NOT NULL,\n"                                                                      \
    "  prev BLOB NOT NULL CHECK (length(prev) = 32),\n"                                            \
    "  hash BLOB NOT NULL CHECK (length(hash) = 32)\n"

/* Version 1 of the log. Never changed: later versions add to it in `steps` below. PostgreSQL's is cut into partitions by seq, made as the
 * log grows (db_log_room): it is only ever added to at its end, so that all but the last are still for good, to be frozen, moved and
 * backed up once. */
static const char *const log_sql[DB_DIALECTS] = {
    [DB_SQLITE] = "CREATE TABLE log (\n" LOG_COLUMNS ") STRICT;\n"
                  "CREATE TRIGGER log_keeps_rows BEFORE DELETE ON log\n"
                  "BEGIN SELECT RAISE(ABORT, 'the log is only ever added to'); END;\n"
                  "CREATE TRIGGER log_keeps_values BEFORE UPDATE ON log\n"
                  "BEGIN SELECT RAISE(ABORT, 'the log is only ever added to'); END;\n",
    [DB_POSTGRESQL] = "CREATE TABLE log (\n" LOG_COLUMNS ") PARTITION BY RANGE (seq);\n"
                      "CREATE FUNCTION log_keeps() RETURNS trigger LANGUAGE plpgsql AS\n"
                      "$$ BEGIN RAISE EXCEPTION 'the log is only ever added to'; END $$;\n"
                      "CREATE TRIGGER log_keeps_rows BEFORE DELETE ON log\n"
                      "FOR EACH ROW EXECUTE FUNCTION log_keeps();\n"
                      "CREATE TRIGGER log_keeps_values BEFORE UPDATE ON log\n"
                      "FOR EACH ROW EXECUTE FUNCTION log_keeps();\n"};

/* steps[i] brings the log from version i + 1 to i + 2. */
static const char *const steps[SCHEMA_VERSION - 1] = {
    "CREATE INDEX log_by_ulid ON log (ulid);\n",
    "DROP INDEX log_by_ulid;\n", /* nobody ever looked an entry up by its name */
    "",                          /* derived tables alone */
    "",                          /* indexes of derived tables */
    "",                          /* tallies of standings */
    "",                          /* indexes of what people did */
};

/* What keeps the tallies: the one part of the derived tables that the databases do not share. */
static const char *const tally_sql[DB_DIALECTS] = {
    [DB_SQLITE] =
        "CREATE TRIGGER standings_come AFTER INSERT ON standings\n"
        "BEGIN\n"
        "  INSERT INTO tallies VALUES (NEW.verdict, NEW.needs, NEW.n_ruled + NEW.n_intake = 0, 1)\n"
        "    ON CONFLICT DO UPDATE SET n = n + 1;\n"
        "END;\n"
        "CREATE TRIGGER standings_go AFTER DELETE ON standings\n"
        "BEGIN\n"
        "  UPDATE tallies SET n = n - 1 WHERE verdict = OLD.verdict AND needs = OLD.needs\n"
        "    AND is_clean = (OLD.n_ruled + OLD.n_intake = 0);\n"
        "  DELETE FROM tallies WHERE verdict = OLD.verdict AND needs = OLD.needs AND n = 0;\n"
        "END;\n"
        "CREATE TRIGGER standings_turn AFTER UPDATE ON standings\n"
        "BEGIN\n"
        "  INSERT INTO tallies VALUES (NEW.verdict, NEW.needs, NEW.n_ruled + NEW.n_intake = 0, 1)\n"
        "    ON CONFLICT DO UPDATE SET n = n + 1;\n"
        "  UPDATE tallies SET n = n - 1 WHERE verdict = OLD.verdict AND needs = OLD.needs\n"
        "    AND is_clean = (OLD.n_ruled + OLD.n_intake = 0);\n"
        "  DELETE FROM tallies WHERE verdict = OLD.verdict AND needs = OLD.needs AND n = 0;\n"
        "END;\n",
    [DB_POSTGRESQL] =
        "CREATE OR REPLACE FUNCTION tally(v text, w text, c boolean, d integer) RETURNS void\n"
        "LANGUAGE plpgsql AS $$ BEGIN\n"
        "  IF d > 0 THEN\n"
        "    INSERT INTO tallies AS t VALUES (v, w, c::integer, 1)\n"
        "      ON CONFLICT (verdict, needs, is_clean) DO UPDATE SET n = t.n + 1;\n"
        "    RETURN;\n"
        "  END IF;\n"
        "  UPDATE tallies SET n = n - 1 WHERE verdict = v AND needs = w AND is_clean = "
        "c::integer;\n"
        "  DELETE FROM tallies WHERE verdict = v AND needs = w AND is_clean = c::integer AND n = "
        "0;\n"
        "END $$;\n"
        "CREATE OR REPLACE FUNCTION tally_standing() RETURNS trigger LANGUAGE plpgsql\n"
        "SET search_path FROM CURRENT AS $$ BEGIN\n"
        "  IF TG_OP <> 'DELETE' THEN\n"
        "    PERFORM tally(NEW.verdict, NEW.needs, NEW.n_ruled + NEW.n_intake = 0, 1);\n"
        "  END IF;\n"
        "  IF TG_OP <> 'INSERT' THEN\n"
        "    PERFORM tally(OLD.verdict, OLD.needs, OLD.n_ruled + OLD.n_intake = 0, -1);\n"
        "  END IF;\n"
        "  RETURN NULL;\n"
        "END $$;\n"
        "CREATE TRIGGER standings_come AFTER INSERT ON standings\n"
        "FOR EACH ROW EXECUTE FUNCTION tally_standing();\n"
        "CREATE TRIGGER standings_go AFTER DELETE ON standings\n"
        "FOR EACH ROW EXECUTE FUNCTION tally_standing();\n"
        "CREATE TRIGGER standings_turn AFTER UPDATE ON standings\n"
        "FOR EACH ROW EXECUTE FUNCTION tally_standing();\n",
};

/* While the tables are filled from the whole log in one transaction: PostgreSQL keeps every version of a row until its end, and a
 * tally that changes with each claim would be looked for among as many. Counted once at the end. */
static const char *const bulk_sql[DB_DIALECTS][2] = {
    [DB_SQLITE] = {"", ""},
    [DB_POSTGRESQL] = {"ALTER TABLE standings DISABLE TRIGGER USER",
                       "INSERT INTO tallies SELECT verdict, needs, (n_ruled + n_intake = "
                       "0)::integer, count(*) FROM standings GROUP BY 1, 2, 3;\n"
                       "ALTER TABLE standings ENABLE TRIGGER USER"},
};

/* What people entered, the newest first, among very many rulings by the rules: of anybody, of one, of one kind. Came with version 7. */
#define PEOPLE_INDEXES                                                                             \
    "CREATE INDEX rulings_of_people ON rulings (seq) WHERE kind <> 0;\n"                           \
    "CREATE INDEX rulings_of_person ON rulings (person, seq) WHERE kind <> 0;\n"                   \
    "CREATE INDEX rulings_of_kind ON rulings (kind, seq) WHERE kind <> 0;\n"
enum { INDEXES_ALONE_SINCE = 6 };

/* Made after the rows where very many come at once (schema_builds). */
#define BUILDS_INDEXES                                                                             \
    "CREATE INDEX builds_by_serial ON builds (substr(vin, 12));\n"                                 \
    "CREATE INDEX builds_by_label ON builds (label);\n"

static const char derived_sql[] =
    "CREATE TABLE units (\n"
    "  vin TEXT PRIMARY KEY, first_seq INTEGER NOT NULL REFERENCES log (seq)\n"
    ") STRICT, WITHOUT ROWID;\n"
    "CREATE INDEX units_by_serial ON units (substr(vin, 12));\n"
    "CREATE TABLE claims (\n"
    "  seq INTEGER PRIMARY KEY REFERENCES log (seq), claim TEXT NOT NULL UNIQUE,\n"
    "  bag BLOB NOT NULL, n_events INTEGER NOT NULL,\n"
    "  job TEXT, bulletin TEXT NOT NULL, revision INTEGER, bulletin_sha256 TEXT,\n"
    "  is_invented INTEGER, vin TEXT NOT NULL REFERENCES units (vin),\n"
    "  shop TEXT, technician TEXT, signature TEXT, signed_by TEXT, opened_ms INTEGER, finished_ms "
    "INTEGER,\n"
    "  taken_ms INTEGER NOT NULL, labour_s INTEGER\n"
    ") STRICT;\n"
    "CREATE INDEX claims_by_vin ON claims (vin);\n"
    "CREATE INDEX claims_by_shop ON claims (shop);\n"
    "CREATE INDEX claims_by_bulletin ON claims (bulletin);\n"
    "CREATE TABLE stations (\n"
    "  claim_seq INTEGER NOT NULL REFERENCES claims (seq), n INTEGER NOT NULL,\n"
    "  station TEXT NOT NULL, variant TEXT, label TEXT, built_first TEXT, built_last TEXT,\n"
    "  scope TEXT, kit TEXT,\n"
    "  PRIMARY KEY (claim_seq, n), UNIQUE (claim_seq, station)\n"
    ") STRICT, WITHOUT ROWID;\n"
    "CREATE TABLE readings (\n"
    "  claim_seq INTEGER NOT NULL REFERENCES claims (seq), n INTEGER NOT NULL,\n"
    "  station TEXT, point TEXT NOT NULL, phase TEXT, unit TEXT NOT NULL,\n"
    "  value_nano INTEGER NOT NULL, u_nano INTEGER, taken_ms INTEGER, ulid TEXT,\n"
    "  PRIMARY KEY (claim_seq, n),\n"
    "  FOREIGN KEY (claim_seq, station) REFERENCES stations (claim_seq, station)\n"
    ") STRICT, WITHOUT ROWID;\n"
    "CREATE TABLE reading_sets (\n"
    "  claim_seq INTEGER PRIMARY KEY REFERENCES claims (seq),\n"
    "  digest BLOB NOT NULL\n"
    ") STRICT;\n"
    "CREATE INDEX reading_sets_by_digest ON reading_sets (digest);\n"
    "CREATE TABLE photo_files (\n"
    "  sha256 BLOB PRIMARY KEY CHECK (length(sha256) = 32), ext TEXT NOT NULL,\n"
    "  bytes INTEGER NOT NULL\n"
    ") STRICT, WITHOUT ROWID;\n"
    "CREATE TABLE photos (\n"
    "  claim_seq INTEGER NOT NULL REFERENCES claims (seq), n INTEGER NOT NULL,\n"
    "  name TEXT NOT NULL, station TEXT, point TEXT, ulid TEXT,\n"
    "  sha256 BLOB NOT NULL REFERENCES photo_files (sha256), ext TEXT NOT NULL,\n"
    "  bytes INTEGER NOT NULL, width INTEGER, height INTEGER, taken_ms INTEGER, dhash INTEGER,\n"
    "  dhash_mirror INTEGER, phash INTEGER, phash_mirror INTEGER, is_flat INTEGER, sharpness "
    "REAL,\n"
    "  exposure REAL, codes TEXT, fault TEXT,\n"
    "  PRIMARY KEY (claim_seq, n),\n"
    "  FOREIGN KEY (claim_seq, station) REFERENCES stations (claim_seq, station)\n"
    ") STRICT, WITHOUT ROWID;\n"
    "CREATE INDEX photos_by_sha256 ON photos (sha256);\n"
    "CREATE TABLE rulings (\n"
    "  seq INTEGER PRIMARY KEY REFERENCES log (seq),\n"
    "  claim_seq INTEGER NOT NULL REFERENCES claims (seq), kind INTEGER NOT NULL,\n"
    "  claim TEXT NOT NULL, verdict TEXT NOT NULL, amount_minor INTEGER NOT NULL, currency TEXT,\n"
    "  revision INTEGER, person TEXT, reason TEXT, at_ms INTEGER NOT NULL\n"
    ") STRICT;\n"
    "CREATE INDEX rulings_by_claim ON rulings (claim_seq);\n" PEOPLE_INDEXES
    "CREATE TABLE awards (\n"
    "  ruling_seq INTEGER NOT NULL REFERENCES rulings (seq), n INTEGER NOT NULL,\n"
    "  station TEXT NOT NULL, verdict TEXT NOT NULL, amount_minor INTEGER NOT NULL, what TEXT,\n"
    "  PRIMARY KEY (ruling_seq, n)\n"
    ") STRICT, WITHOUT ROWID;\n"
    "CREATE TABLE findings (\n"
    "  seq INTEGER NOT NULL REFERENCES log (seq), n INTEGER NOT NULL,\n"
    "  rule TEXT NOT NULL, level TEXT NOT NULL, station TEXT, message TEXT NOT NULL, cure TEXT,\n"
    "  what TEXT, other TEXT, other_what TEXT,\n"
    "  PRIMARY KEY (seq, n)\n"
    ") STRICT, WITHOUT ROWID;\n"
    "CREATE INDEX findings_by_rule ON findings (rule, seq);\n"
    "CREATE TABLE standings (\n"
    "  claim_seq INTEGER PRIMARY KEY REFERENCES claims (seq), verdict TEXT NOT NULL,\n"
    "  is_word INTEGER NOT NULL, amount_minor INTEGER NOT NULL, paid_minor INTEGER NOT NULL,\n"
    "  currency TEXT, needs TEXT NOT NULL, ruled_seq INTEGER, last_seq INTEGER NOT NULL,\n"
    "  n_ruled INTEGER NOT NULL, n_intake INTEGER NOT NULL, tail TEXT NOT NULL\n"
    ") STRICT;\n"
    "CREATE INDEX standings_by_verdict ON standings (verdict);\n"
    "CREATE INDEX standings_by_needs ON standings (needs);\n"
    "CREATE INDEX standings_by_ruled ON standings (ruled_seq);\n"
    "CREATE INDEX standings_by_tail ON standings (tail);\n"
    "CREATE INDEX standings_clean ON standings (needs, claim_seq) WHERE n_ruled + n_intake = 0;\n"
    /* How many standings there are of each sort: counted as they change, since counting them all anew takes seconds. */
    "CREATE TABLE tallies (\n"
    "  verdict TEXT NOT NULL, needs TEXT NOT NULL, is_clean INTEGER NOT NULL, n INTEGER NOT NULL,\n"
    "  PRIMARY KEY (verdict, needs, is_clean)\n"
    ") STRICT, WITHOUT ROWID;\n"
    "CREATE TABLE papers (\n"
    "  seq INTEGER PRIMARY KEY REFERENCES log (seq), kind TEXT NOT NULL, name TEXT NOT NULL,\n"
    "  revision INTEGER, at_ms INTEGER NOT NULL, sha256 BLOB NOT NULL, bytes INTEGER NOT NULL\n"
    ") STRICT;\n"
    "CREATE INDEX papers_by_name ON papers (kind, name, revision);\n"
    "CREATE TABLE builds (\n"
    "  vin TEXT NOT NULL, station TEXT NOT NULL, label TEXT,\n"
    "  seq INTEGER NOT NULL REFERENCES log (seq),\n"
    "  PRIMARY KEY (vin, station)\n"
    ") STRICT, WITHOUT ROWID;\n" BUILDS_INDEXES;

/* clang-format off */
const struct schema_table schema_derived[SCHEMA_DERIVED + 1] = {
    {"units", "SELECT * FROM units ORDER BY vin", "DELETE FROM units"},
    {"claims", "SELECT * FROM claims ORDER BY seq", "DELETE FROM claims"},
    {"stations", "SELECT * FROM stations ORDER BY claim_seq, n", "DELETE FROM stations"},
    {"readings", "SELECT * FROM readings ORDER BY claim_seq, n", "DELETE FROM readings"},
    {"reading_sets", "SELECT * FROM reading_sets ORDER BY claim_seq", "DELETE FROM reading_sets"},
    {"photo_files", "SELECT * FROM photo_files ORDER BY sha256", "DELETE FROM photo_files"},
    {"photos", "SELECT * FROM photos ORDER BY claim_seq, n", "DELETE FROM photos"},
    {"rulings", "SELECT * FROM rulings ORDER BY seq", "DELETE FROM rulings"},
    {"awards", "SELECT * FROM awards ORDER BY ruling_seq, n", "DELETE FROM awards"},
    {"findings", "SELECT * FROM findings ORDER BY seq, n", "DELETE FROM findings"},
    {"standings", "SELECT * FROM standings ORDER BY claim_seq", "DELETE FROM standings"},
    {"tallies", "SELECT * FROM tallies ORDER BY verdict, needs, is_clean", "DELETE FROM tallies"},
    {"papers", "SELECT * FROM papers ORDER BY seq", "DELETE FROM papers"},
    {"builds", "SELECT * FROM builds ORDER BY vin, station", "DELETE FROM builds"},
    {NULL, NULL, NULL},
};
/* clang-format on */

const char schema_list[] = "SELECT type, name, sql FROM sqlite_schema ORDER BY type, name";
const char *const schema_names[DB_DIALECTS] = {
    [DB_SQLITE] = "SELECT type, name FROM sqlite_schema WHERE sql IS NOT NULL ORDER BY type, name",
    [DB_POSTGRESQL] =
        "SELECT kind AS type, name FROM (SELECT CASE c.relkind WHEN 'r' THEN 'table' WHEN 'p' THEN "
        "'table' ELSE 'index' END AS kind, c.relname::text COLLATE \"C\" AS name FROM pg_class AS "
        "c "
        "WHERE c.relnamespace = to_regnamespace(current_schema()::text) AND c.relkind IN ('r', "
        "'p', 'i', 'I') AND NOT c.relispartition AND c.relname <> 'meta' AND NOT EXISTS (SELECT 1 "
        "FROM pg_constraint AS k WHERE k.conindid = c.oid) UNION ALL SELECT 'trigger', "
        "t.tgname::text COLLATE \"C\" FROM pg_trigger AS t JOIN pg_class AS c ON c.oid = t.tgrelid "
        "WHERE c.relnamespace = to_regnamespace(current_schema()::text) AND NOT t.tgisinternal AND "
        "t.tgparentid = 0) AS objects ORDER BY kind COLLATE \"C\", name",
};

/* Every table but the log, children first; IF EXISTS because an older version has fewer. */
static const char drop_sql[] =
    "DROP TABLE IF EXISTS builds; DROP TABLE IF EXISTS papers;\n"
    "DROP TABLE IF EXISTS tallies; DROP TABLE IF EXISTS standings;\n"
    "DROP TABLE IF EXISTS findings; DROP TABLE IF EXISTS awards; DROP TABLE IF EXISTS rulings;\n"
    "DROP TABLE IF EXISTS photos; DROP TABLE IF EXISTS photo_files;\n"
    "DROP TABLE IF EXISTS reading_sets; DROP TABLE IF EXISTS readings;\n"
    "DROP TABLE IF EXISTS stations; DROP TABLE IF EXISTS claims; DROP TABLE IF EXISTS units;\n";

static enum err run_steps(struct db *db, int64_t version, struct fault *f)
{
    enum err err = ERR_OK;
    size_t first = version > 1 ? (size_t)(version - 1) : 0; /* steps[i] leads from version i + 1 */
    for (size_t i = first; i + 1 < SCHEMA_VERSION && err == ERR_OK; i++)
        err = db_script(db, steps[i], f);
    return err;
}

enum err schema_make(struct db *db, struct fault *reterr)
{
    enum err err = db_script(db, log_sql[db_dialect(db)], reterr);
    if (err == ERR_OK)
        err = run_steps(db, 1, reterr);
    if (err == ERR_OK)
        err = db_script(db, derived_sql, reterr);
    if (err == ERR_OK)
        err = db_script(db, tally_sql[db_dialect(db)], reterr);
    return err != ERR_OK ? err : db_mark(db, SCHEMA_APPLICATION, SCHEMA_VERSION, reterr);
}

enum err schema_bulk(struct db *db, bool is_end, struct fault *reterr)
{
    return db_script(db, bulk_sql[db_dialect(db)][is_end], reterr);
}

enum err schema_builds(struct db *db, bool is_end, struct fault *reterr)
{
    static const char drop[] = "DROP INDEX builds_by_serial; DROP INDEX builds_by_label";
    return db_script(db, is_end ? BUILDS_INDEXES : drop, reterr);
}

enum err schema_check(struct db *db, int64_t *ret_version, struct fault *reterr)
{
    int64_t application = 0, version = 0;
    const enum err err = db_marks(db, &application, &version, reterr);
    if (err != ERR_OK)
        return err;
    if (application != SCHEMA_APPLICATION || version < 1)
        return fault_set(reterr, ERR_TYPE, "is a database, but not a store of this program");
    if (version > SCHEMA_VERSION)
        return fault_set(reterr, ERR_DOMAIN,
                         "was written by a later program (version %lld; this one knows up to %d); "
                         "use that one",
                         (long long)version, (int)SCHEMA_VERSION);
    *ret_version = version;
    return ERR_OK;
}

enum err schema_upgrade(struct db *db, int64_t version, bool *ret_is_empty, struct fault *reterr)
{
    *ret_is_empty = version < INDEXES_ALONE_SINCE;
    if (version == SCHEMA_VERSION)
        return ERR_OK;
    enum err err = run_steps(db, version, reterr);
    if (err == ERR_OK && !*ret_is_empty) {
        err = db_script(db, PEOPLE_INDEXES, reterr);
        return err != ERR_OK ? err : db_mark(db, SCHEMA_APPLICATION, SCHEMA_VERSION, reterr);
    }
    if (err == ERR_OK)
        err = db_script(db, drop_sql, reterr);
    if (err == ERR_OK)
        err = db_script(db, derived_sql, reterr);
    if (err == ERR_OK)
        err = db_script(db, tally_sql[db_dialect(db)], reterr);
    return err != ERR_OK ? err : db_mark(db, SCHEMA_APPLICATION, SCHEMA_VERSION, reterr);
}
