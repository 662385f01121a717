-- Written by make_old.py; do not change by hand.
PRAGMA application_id = 0x4d575254;
PRAGMA user_version = 1;
PRAGMA journal_mode = WAL;
CREATE TABLE log (
  seq  INTEGER PRIMARY KEY CHECK (seq > 0),
  ulid TEXT NOT NULL CHECK (length(ulid) = 26),
  bag  BLOB NOT NULL CHECK (length(bag) = 32),
  type TEXT NOT NULL,
  json TEXT NOT NULL,
  prev BLOB NOT NULL CHECK (length(prev) = 32),
  hash BLOB NOT NULL CHECK (length(hash) = 32)
) STRICT;
CREATE TRIGGER log_keeps_rows BEFORE DELETE ON log
BEGIN SELECT RAISE(ABORT, 'the log is only ever added to'); END;
CREATE TRIGGER log_keeps_values BEFORE UPDATE ON log
BEGIN SELECT RAISE(ABORT, 'the log is only ever added to'); END;
CREATE TABLE units (vin TEXT PRIMARY KEY, first_seq INTEGER NOT NULL REFERENCES log (seq)) STRICT, WITHOUT ROWID;
CREATE TABLE claims (
  seq INTEGER PRIMARY KEY REFERENCES log (seq), claim TEXT NOT NULL UNIQUE, bag BLOB NOT NULL, n_events INTEGER NOT NULL,
  bulletin TEXT NOT NULL, vin TEXT NOT NULL REFERENCES units (vin), taken_ms INTEGER NOT NULL) STRICT;
INSERT INTO log VALUES (1, '01K6ZK0000AAAAAAAAAAAAAAAA', x'3dd41f7269331933e282d51371aface330ef322444b11f41fa5401f53cf9f98d', 'store.claim', '{"n_events":2,"bulletin":"OV-26-03","revision":1,"vin":"1FHMC00X000000042","shop":"shop-1","taken_ms":1770000000000,"stations":[{"station":"fore","scope":"in"}],"readings":[{"station":"fore","point":"upper","unit":"mm","value_nano":58000000}],"photos":[{"name":"label.jpg","sha256":"dba77c55a9039aaee5d99869469bc9b1d66101518048f21217e314aa2eae7b28","ext":"jpg","bytes":24,"dhash":"f0f0f0f0f0f0f0f0"}],"findings":[]}', x'0000000000000000000000000000000000000000000000000000000000000000', x'd0c16aa6dc94415be4298a9f52d0a30e4af67181a8ee7d650f6f7aaef0a7f6ac');
INSERT INTO log VALUES (2, '01K6ZK0000BBBBBBBBBBBBBBBB', x'3dd41f7269331933e282d51371aface330ef322444b11f41fa5401f53cf9f98d', 'opened', '{"n":0}', x'd0c16aa6dc94415be4298a9f52d0a30e4af67181a8ee7d650f6f7aaef0a7f6ac', x'77712b813193f3863a61b8879791fcab58bb07ba47f1743cf59ffc33b8778ccb');
INSERT INTO log VALUES (3, '01K6ZK0000CCCCCCCCCCCCCCCC', x'3dd41f7269331933e282d51371aface330ef322444b11f41fa5401f53cf9f98d', 'reading', '{"n":1}', x'77712b813193f3863a61b8879791fcab58bb07ba47f1743cf59ffc33b8778ccb', x'8646274fa4754ea820d86fa4aa650f2a7be13104e08314c9fc7c781126eaa407');
INSERT INTO log VALUES (4, '01K6ZK0000DDDDDDDDDDDDDDDD', x'3dd41f7269331933e282d51371aface330ef322444b11f41fa5401f53cf9f98d', 'store.ruling', '{"claim":"K7QA1YWK96CCK","verdict":"pay","amount_minor":12500,"currency":"EUR","at_ms":1770000100000,"awards":[{"station":"fore","verdict":"pay","amount_minor":12500}],"findings":[]}', x'8646274fa4754ea820d86fa4aa650f2a7be13104e08314c9fc7c781126eaa407', x'423f57a39b5b768fe5516ee11826654a2a9716273dea61b0689ba53d6eb9a048');
INSERT INTO units VALUES ('1FHMC00X000000042', 1);
INSERT INTO claims VALUES (1, 'K7QA1YWK96CCK', x'3dd41f7269331933e282d51371aface330ef322444b11f41fa5401f53cf9f98d', 2, 'OV-26-03', '1FHMC00X000000042', 1770000000000);
