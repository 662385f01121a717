-- Made by the program of version 4 (commit c2b92bc) of v3.sql: store init brings it up, then the sqlite3 shell's .dump:
--   sqlite3 s/store.db < v3.sql; mendwright store init --store s; sqlite3 s/store.db .dump
PRAGMA application_id = 0x4d575254;
PRAGMA user_version = 4;
PRAGMA journal_mode = WAL;
PRAGMA foreign_keys=OFF;
BEGIN TRANSACTION;
CREATE TABLE log (
  seq  INTEGER PRIMARY KEY CHECK (seq > 0),
  ulid TEXT NOT NULL CHECK (length(ulid) = 26),
  bag  BLOB NOT NULL CHECK (length(bag) = 32),
  type TEXT NOT NULL,
  json TEXT NOT NULL,
  prev BLOB NOT NULL CHECK (length(prev) = 32),
  hash BLOB NOT NULL CHECK (length(hash) = 32)
) STRICT;
INSERT INTO log VALUES(1,'01K6ZK0000AAAAAAAAAAAAAAAA',X'83d321d3981c73ac7b13f232ff80a76788cf53bd591cc402301efef96caff699','store.claim','{"n_events":1,"bulletin":"OV-26-03","revision":1,"vin":"1FHMC00X000000050","shop":"shop-2","technician":"T. Example","signature":"good","opened_ms":1770000000000,"taken_ms":1770000500000,"stations":[{"station":"fore","scope":"in"}],"readings":[{"station":"fore","point":"p0","phase":"before","unit":"mm","value_nano":61000000},{"station":"fore","point":"p1","phase":"before","unit":"mm","value_nano":61000001},{"station":"fore","point":"p2","phase":"before","unit":"mm","value_nano":61000002},{"station":"fore","point":"p3","phase":"before","unit":"mm","value_nano":61000003},{"station":"fore","point":"p4","phase":"before","unit":"mm","value_nano":61000004},{"station":"fore","point":"p5","phase":"before","unit":"mm","value_nano":61000005},{"station":"fore","point":"p0","phase":"after","unit":"mm","value_nano":58000000},{"station":"fore","point":"p1","phase":"after","unit":"mm","value_nano":58000001},{"station":"fore","point":"p2","phase":"after","unit":"mm","value_nano":58000002},{"station":"fore","point":"p3","phase":"after","unit":"mm","value_nano":58000003},{"station":"fore","point":"p4","phase":"after","unit":"mm","value_nano":58000004},{"station":"fore","point":"p5","phase":"after","unit":"mm","value_nano":58000005},{"point":"cycles","phase":"after","unit":"1","value_nano":3000000000}],"photos":[],"findings":[]}',X'0000000000000000000000000000000000000000000000000000000000000000',X'59daaaa77cbffb0affe6100a768af82380bb7274c03c76c9dc78561d01698fa1');
INSERT INTO log VALUES(2,'01K6ZK0000BBBBBBBBBBBBBBBB',X'83d321d3981c73ac7b13f232ff80a76788cf53bd591cc402301efef96caff699','opened','{"n":0}',X'59daaaa77cbffb0affe6100a768af82380bb7274c03c76c9dc78561d01698fa1',X'fcb5b3c06dc4a89b1da9cae8b564ba4b5af2c1d3d84b7e9241b0905555533ffc');
INSERT INTO log VALUES(3,'01K6ZK0000CCCCCCCCCCCCCCCC',X'83d321d3981c73ac7b13f232ff80a76788cf53bd591cc402301efef96caff699','store.ruling','{"claim":"KGF9J3MWR3HST","verdict":"pay","amount_minor":9900,"currency":"EUR","at_ms":1770000600000,"awards":[{"station":"fore","verdict":"pay","amount_minor":9900}],"findings":[]}',X'fcb5b3c06dc4a89b1da9cae8b564ba4b5af2c1d3d84b7e9241b0905555533ffc',X'0c68a259dd5487cc80784a912d8efc027c1bdccc0117eb7b9b7fa60480db013e');
INSERT INTO log VALUES(4,'01K6ZK0000DDDDDDDDDDDDDDDD',X'2f864cd73a9bb48288ac0824c6546d807e4970f60a35aa470cf3df96e9e74765','store.claim','{"n_events":1,"bulletin":"OV-26-03","revision":1,"vin":"1FHMC00X000000051","shop":"shop-2","technician":"T. Example","signature":"good","opened_ms":1770000000000,"taken_ms":1770000500001,"stations":[{"station":"fore","scope":"in"}],"readings":[{"station":"fore","point":"p0","phase":"before","unit":"mm","value_nano":61001000},{"station":"fore","point":"p1","phase":"before","unit":"mm","value_nano":61001001},{"station":"fore","point":"p2","phase":"before","unit":"mm","value_nano":61001002},{"station":"fore","point":"p3","phase":"before","unit":"mm","value_nano":61001003},{"station":"fore","point":"p4","phase":"before","unit":"mm","value_nano":61001004},{"station":"fore","point":"p5","phase":"before","unit":"mm","value_nano":61001005},{"station":"fore","point":"p0","phase":"after","unit":"mm","value_nano":58000000},{"station":"fore","point":"p1","phase":"after","unit":"mm","value_nano":58000001},{"station":"fore","point":"p2","phase":"after","unit":"mm","value_nano":58000002},{"station":"fore","point":"p3","phase":"after","unit":"mm","value_nano":58000003},{"station":"fore","point":"p4","phase":"after","unit":"mm","value_nano":58000004},{"station":"fore","point":"p5","phase":"after","unit":"mm","value_nano":58000005},{"point":"cycles","phase":"after","unit":"1","value_nano":3000000000}],"photos":[],"findings":[]}',X'0c68a259dd5487cc80784a912d8efc027c1bdccc0117eb7b9b7fa60480db013e',X'ff3e3cbefb0d1ba99598b62842bdeec26fb6726dea001c8399e27a4c568ca368');
INSERT INTO log VALUES(5,'01K6ZK0000EEEEEEEEEEEEEEEE',X'2f864cd73a9bb48288ac0824c6546d807e4970f60a35aa470cf3df96e9e74765','opened','{"n":1}',X'ff3e3cbefb0d1ba99598b62842bdeec26fb6726dea001c8399e27a4c568ca368',X'd35b60503578847bf7082d8479970480b1ed0c698aee0ffda861b09040fcaf42');
INSERT INTO log VALUES(6,'01K6ZK0000FFFFFFFFFFFFFFFF',X'2f864cd73a9bb48288ac0824c6546d807e4970f60a35aa470cf3df96e9e74765','store.ruling','{"claim":"K5Y34SNSTKET8","verdict":"pay","amount_minor":9900,"currency":"EUR","at_ms":1770000600001,"awards":[{"station":"fore","verdict":"pay","amount_minor":9900}],"findings":[]}',X'd35b60503578847bf7082d8479970480b1ed0c698aee0ffda861b09040fcaf42',X'7f5a774dfabb718cc31a25f33f3115a98b81ec04189ced6693cb1c7feb056c24');
INSERT INTO log VALUES(7,'01K6ZK0000GGGGGGGGGGGGGGGG',X'ddfe7e7b1173461754670eac40657ea5f7d2132e6afa68646ea8591ad30c7439','store.claim','{"n_events":1,"bulletin":"OV-26-03","revision":1,"vin":"1FHMC00X000000052","shop":"shop-2","technician":"T. Example","signature":"good","opened_ms":1770000000000,"taken_ms":1770000500002,"stations":[{"station":"fore","scope":"in"}],"readings":[{"station":"fore","point":"p0","phase":"before","unit":"mm","value_nano":61002000},{"station":"fore","point":"p1","phase":"before","unit":"mm","value_nano":61002001},{"station":"fore","point":"p2","phase":"before","unit":"mm","value_nano":61002002},{"station":"fore","point":"p3","phase":"before","unit":"mm","value_nano":61002003},{"station":"fore","point":"p4","phase":"before","unit":"mm","value_nano":61002004},{"station":"fore","point":"p5","phase":"before","unit":"mm","value_nano":61002005},{"station":"fore","point":"p0","phase":"after","unit":"mm","value_nano":58007000},{"station":"fore","point":"p1","phase":"after","unit":"mm","value_nano":58007001},{"station":"fore","point":"p2","phase":"after","unit":"mm","value_nano":58007002},{"station":"fore","point":"p3","phase":"after","unit":"mm","value_nano":58007003},{"station":"fore","point":"p4","phase":"after","unit":"mm","value_nano":58007004},{"station":"fore","point":"p5","phase":"after","unit":"mm","value_nano":58007005},{"point":"cycles","phase":"after","unit":"1","value_nano":3000000000}],"photos":[],"findings":[]}',X'7f5a774dfabb718cc31a25f33f3115a98b81ec04189ced6693cb1c7feb056c24',X'ccb52d679a12773224fcb6332eaf285e9c0739413bd8156300376dd94f3ff124');
INSERT INTO log VALUES(8,'01K6ZK0000HHHHHHHHHHHHHHHH',X'ddfe7e7b1173461754670eac40657ea5f7d2132e6afa68646ea8591ad30c7439','opened','{"n":2}',X'ccb52d679a12773224fcb6332eaf285e9c0739413bd8156300376dd94f3ff124',X'5b37db3d2c0c712736c8fdde2bbb856cd24e68d4edb09dd0a308949f63910123');
INSERT INTO log VALUES(9,'01K6ZK0000JJJJJJJJJJJJJJJJ',X'ddfe7e7b1173461754670eac40657ea5f7d2132e6afa68646ea8591ad30c7439','store.ruling','{"claim":"KVQZ7WYRHED31","verdict":"pay","amount_minor":9900,"currency":"EUR","at_ms":1770000600002,"awards":[{"station":"fore","verdict":"pay","amount_minor":9900}],"findings":[]}',X'5b37db3d2c0c712736c8fdde2bbb856cd24e68d4edb09dd0a308949f63910123',X'84c7b21a8c5bf8a77e1c7b23a43a222d741e2080a4f82c543dc7829904989505');
INSERT INTO log VALUES(10,'01K6ZK0000KKKKKKKKKKKKKKKK',X'83d321d3981c73ac7b13f232ff80a76788cf53bd591cc402301efef96caff699','store.payment','{"claim":"KGF9J3MWR3HST","verdict":"pay","amount_minor":9900,"currency":"EUR","at_ms":1770000600000,"awards":[{"station":"fore","verdict":"pay","amount_minor":9900}],"findings":[]}',X'84c7b21a8c5bf8a77e1c7b23a43a222d741e2080a4f82c543dc7829904989505',X'5e4caed4c762b2b3efd9212b4421aa8f0fdfc7c6a3570af9f4e3edbb28a3fdf8');
CREATE TABLE units (
  vin TEXT PRIMARY KEY, first_seq INTEGER NOT NULL REFERENCES log (seq)
) STRICT, WITHOUT ROWID;
INSERT INTO units VALUES('1FHMC00X000000050',1);
INSERT INTO units VALUES('1FHMC00X000000051',4);
INSERT INTO units VALUES('1FHMC00X000000052',7);
CREATE TABLE claims (
  seq INTEGER PRIMARY KEY REFERENCES log (seq), claim TEXT NOT NULL UNIQUE,
  bag BLOB NOT NULL, n_events INTEGER NOT NULL,
  job TEXT, bulletin TEXT NOT NULL, revision INTEGER, bulletin_sha256 TEXT,
  is_invented INTEGER, vin TEXT NOT NULL REFERENCES units (vin),
  shop TEXT, technician TEXT, signature TEXT, signed_by TEXT, opened_ms INTEGER, finished_ms INTEGER,
  taken_ms INTEGER NOT NULL, labour_s INTEGER
) STRICT;
INSERT INTO claims VALUES(1,'KGF9J3MWR3HST',X'83d321d3981c73ac7b13f232ff80a76788cf53bd591cc402301efef96caff699',1,NULL,'OV-26-03',1,NULL,NULL,'1FHMC00X000000050','shop-2','T. Example','good',NULL,1770000000000,NULL,1770000500000,NULL);
INSERT INTO claims VALUES(4,'K5Y34SNSTKET8',X'2f864cd73a9bb48288ac0824c6546d807e4970f60a35aa470cf3df96e9e74765',1,NULL,'OV-26-03',1,NULL,NULL,'1FHMC00X000000051','shop-2','T. Example','good',NULL,1770000000000,NULL,1770000500001,NULL);
INSERT INTO claims VALUES(7,'KVQZ7WYRHED31',X'ddfe7e7b1173461754670eac40657ea5f7d2132e6afa68646ea8591ad30c7439',1,NULL,'OV-26-03',1,NULL,NULL,'1FHMC00X000000052','shop-2','T. Example','good',NULL,1770000000000,NULL,1770000500002,NULL);
CREATE TABLE stations (
  claim_seq INTEGER NOT NULL REFERENCES claims (seq), n INTEGER NOT NULL,
  station TEXT NOT NULL, variant TEXT, label TEXT, built_first TEXT, built_last TEXT,
  scope TEXT, kit TEXT,
  PRIMARY KEY (claim_seq, n), UNIQUE (claim_seq, station)
) STRICT, WITHOUT ROWID;
INSERT INTO stations VALUES(1,0,'fore',NULL,NULL,NULL,NULL,'in',NULL);
INSERT INTO stations VALUES(4,0,'fore',NULL,NULL,NULL,NULL,'in',NULL);
INSERT INTO stations VALUES(7,0,'fore',NULL,NULL,NULL,NULL,'in',NULL);
CREATE TABLE readings (
  claim_seq INTEGER NOT NULL REFERENCES claims (seq), n INTEGER NOT NULL,
  station TEXT, point TEXT NOT NULL, phase TEXT, unit TEXT NOT NULL,
  value_nano INTEGER NOT NULL, u_nano INTEGER, taken_ms INTEGER, ulid TEXT,
  PRIMARY KEY (claim_seq, n),
  FOREIGN KEY (claim_seq, station) REFERENCES stations (claim_seq, station)
) STRICT, WITHOUT ROWID;
INSERT INTO readings VALUES(1,0,'fore','p0','before','mm',61000000,NULL,NULL,NULL);
INSERT INTO readings VALUES(1,1,'fore','p1','before','mm',61000001,NULL,NULL,NULL);
INSERT INTO readings VALUES(1,2,'fore','p2','before','mm',61000002,NULL,NULL,NULL);
INSERT INTO readings VALUES(1,3,'fore','p3','before','mm',61000003,NULL,NULL,NULL);
INSERT INTO readings VALUES(1,4,'fore','p4','before','mm',61000004,NULL,NULL,NULL);
INSERT INTO readings VALUES(1,5,'fore','p5','before','mm',61000005,NULL,NULL,NULL);
INSERT INTO readings VALUES(1,6,'fore','p0','after','mm',58000000,NULL,NULL,NULL);
INSERT INTO readings VALUES(1,7,'fore','p1','after','mm',58000001,NULL,NULL,NULL);
INSERT INTO readings VALUES(1,8,'fore','p2','after','mm',58000002,NULL,NULL,NULL);
INSERT INTO readings VALUES(1,9,'fore','p3','after','mm',58000003,NULL,NULL,NULL);
INSERT INTO readings VALUES(1,10,'fore','p4','after','mm',58000004,NULL,NULL,NULL);
INSERT INTO readings VALUES(1,11,'fore','p5','after','mm',58000005,NULL,NULL,NULL);
INSERT INTO readings VALUES(1,12,NULL,'cycles','after','1',3000000000,NULL,NULL,NULL);
INSERT INTO readings VALUES(4,0,'fore','p0','before','mm',61001000,NULL,NULL,NULL);
INSERT INTO readings VALUES(4,1,'fore','p1','before','mm',61001001,NULL,NULL,NULL);
INSERT INTO readings VALUES(4,2,'fore','p2','before','mm',61001002,NULL,NULL,NULL);
INSERT INTO readings VALUES(4,3,'fore','p3','before','mm',61001003,NULL,NULL,NULL);
INSERT INTO readings VALUES(4,4,'fore','p4','before','mm',61001004,NULL,NULL,NULL);
INSERT INTO readings VALUES(4,5,'fore','p5','before','mm',61001005,NULL,NULL,NULL);
INSERT INTO readings VALUES(4,6,'fore','p0','after','mm',58000000,NULL,NULL,NULL);
INSERT INTO readings VALUES(4,7,'fore','p1','after','mm',58000001,NULL,NULL,NULL);
INSERT INTO readings VALUES(4,8,'fore','p2','after','mm',58000002,NULL,NULL,NULL);
INSERT INTO readings VALUES(4,9,'fore','p3','after','mm',58000003,NULL,NULL,NULL);
INSERT INTO readings VALUES(4,10,'fore','p4','after','mm',58000004,NULL,NULL,NULL);
INSERT INTO readings VALUES(4,11,'fore','p5','after','mm',58000005,NULL,NULL,NULL);
INSERT INTO readings VALUES(4,12,NULL,'cycles','after','1',3000000000,NULL,NULL,NULL);
INSERT INTO readings VALUES(7,0,'fore','p0','before','mm',61002000,NULL,NULL,NULL);
INSERT INTO readings VALUES(7,1,'fore','p1','before','mm',61002001,NULL,NULL,NULL);
INSERT INTO readings VALUES(7,2,'fore','p2','before','mm',61002002,NULL,NULL,NULL);
INSERT INTO readings VALUES(7,3,'fore','p3','before','mm',61002003,NULL,NULL,NULL);
INSERT INTO readings VALUES(7,4,'fore','p4','before','mm',61002004,NULL,NULL,NULL);
INSERT INTO readings VALUES(7,5,'fore','p5','before','mm',61002005,NULL,NULL,NULL);
INSERT INTO readings VALUES(7,6,'fore','p0','after','mm',58007000,NULL,NULL,NULL);
INSERT INTO readings VALUES(7,7,'fore','p1','after','mm',58007001,NULL,NULL,NULL);
INSERT INTO readings VALUES(7,8,'fore','p2','after','mm',58007002,NULL,NULL,NULL);
INSERT INTO readings VALUES(7,9,'fore','p3','after','mm',58007003,NULL,NULL,NULL);
INSERT INTO readings VALUES(7,10,'fore','p4','after','mm',58007004,NULL,NULL,NULL);
INSERT INTO readings VALUES(7,11,'fore','p5','after','mm',58007005,NULL,NULL,NULL);
INSERT INTO readings VALUES(7,12,NULL,'cycles','after','1',3000000000,NULL,NULL,NULL);
CREATE TABLE reading_sets (
  claim_seq INTEGER PRIMARY KEY REFERENCES claims (seq),
  digest BLOB NOT NULL
) STRICT;
INSERT INTO reading_sets VALUES(1,X'220f0b6eceaf0e69e88c5484d73775bc947a557c04378b73ad0a7f13e09a614a');
INSERT INTO reading_sets VALUES(4,X'220f0b6eceaf0e69e88c5484d73775bc947a557c04378b73ad0a7f13e09a614a');
INSERT INTO reading_sets VALUES(7,X'ac8c560199045995002f8e728ea7fdef15c5d276b5cdc8e1483c8c9581647728');
CREATE TABLE photo_files (
  sha256 BLOB PRIMARY KEY CHECK (length(sha256) = 32), ext TEXT NOT NULL,
  bytes INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE TABLE photos (
  claim_seq INTEGER NOT NULL REFERENCES claims (seq), n INTEGER NOT NULL,
  name TEXT NOT NULL, station TEXT, point TEXT, ulid TEXT,
  sha256 BLOB NOT NULL REFERENCES photo_files (sha256), ext TEXT NOT NULL,
  bytes INTEGER NOT NULL, width INTEGER, height INTEGER, taken_ms INTEGER, dhash INTEGER,
  dhash_mirror INTEGER, phash INTEGER, phash_mirror INTEGER, is_flat INTEGER, sharpness REAL,
  exposure REAL, codes TEXT, fault TEXT,
  PRIMARY KEY (claim_seq, n),
  FOREIGN KEY (claim_seq, station) REFERENCES stations (claim_seq, station)
) STRICT, WITHOUT ROWID;
CREATE TABLE rulings (
  seq INTEGER PRIMARY KEY REFERENCES log (seq),
  claim_seq INTEGER NOT NULL REFERENCES claims (seq), kind INTEGER NOT NULL,
  claim TEXT NOT NULL, verdict TEXT NOT NULL, amount_minor INTEGER NOT NULL, currency TEXT,
  revision INTEGER, person TEXT, reason TEXT, at_ms INTEGER NOT NULL
) STRICT;
INSERT INTO rulings VALUES(3,1,0,'KGF9J3MWR3HST','pay',9900,'EUR',NULL,NULL,NULL,1770000600000);
INSERT INTO rulings VALUES(6,4,0,'K5Y34SNSTKET8','pay',9900,'EUR',NULL,NULL,NULL,1770000600001);
INSERT INTO rulings VALUES(9,7,0,'KVQZ7WYRHED31','pay',9900,'EUR',NULL,NULL,NULL,1770000600002);
INSERT INTO rulings VALUES(10,1,2,'KGF9J3MWR3HST','pay',9900,'EUR',NULL,NULL,NULL,1770000600000);
CREATE TABLE awards (
  ruling_seq INTEGER NOT NULL REFERENCES rulings (seq), n INTEGER NOT NULL,
  station TEXT NOT NULL, verdict TEXT NOT NULL, amount_minor INTEGER NOT NULL, what TEXT,
  PRIMARY KEY (ruling_seq, n)
) STRICT, WITHOUT ROWID;
INSERT INTO awards VALUES(3,0,'fore','pay',9900,NULL);
INSERT INTO awards VALUES(6,0,'fore','pay',9900,NULL);
INSERT INTO awards VALUES(9,0,'fore','pay',9900,NULL);
INSERT INTO awards VALUES(10,0,'fore','pay',9900,NULL);
CREATE TABLE findings (
  seq INTEGER NOT NULL REFERENCES log (seq), n INTEGER NOT NULL,
  rule TEXT NOT NULL, level TEXT NOT NULL, station TEXT, message TEXT NOT NULL, cure TEXT,
  what TEXT, other TEXT, other_what TEXT,
  PRIMARY KEY (seq, n)
) STRICT, WITHOUT ROWID;
CREATE TABLE standings (
  claim_seq INTEGER PRIMARY KEY REFERENCES claims (seq), verdict TEXT NOT NULL,
  is_word INTEGER NOT NULL, amount_minor INTEGER NOT NULL, paid_minor INTEGER NOT NULL,
  currency TEXT, needs TEXT NOT NULL, ruled_seq INTEGER, last_seq INTEGER NOT NULL,
  n_ruled INTEGER NOT NULL, n_intake INTEGER NOT NULL, tail TEXT NOT NULL
) STRICT;
INSERT INTO standings VALUES(1,'pay',0,9900,9900,'EUR','nothing',3,10,0,0,'050000000X00CMHF1');
INSERT INTO standings VALUES(4,'pay',0,9900,0,'EUR','payment',6,6,0,0,'150000000X00CMHF1');
INSERT INTO standings VALUES(7,'pay',0,9900,0,'EUR','payment',9,9,0,0,'250000000X00CMHF1');
CREATE TABLE papers (
  seq INTEGER PRIMARY KEY REFERENCES log (seq), kind TEXT NOT NULL, name TEXT NOT NULL,
  revision INTEGER, at_ms INTEGER NOT NULL, sha256 BLOB NOT NULL, bytes INTEGER NOT NULL
) STRICT;
CREATE TABLE builds (
  vin TEXT NOT NULL, station TEXT NOT NULL, label TEXT,
  seq INTEGER NOT NULL REFERENCES log (seq),
  PRIMARY KEY (vin, station)
) STRICT, WITHOUT ROWID;
CREATE TRIGGER log_keeps_rows BEFORE DELETE ON log
BEGIN SELECT RAISE(ABORT, 'the log is only ever added to'); END;
CREATE TRIGGER log_keeps_values BEFORE UPDATE ON log
BEGIN SELECT RAISE(ABORT, 'the log is only ever added to'); END;
CREATE INDEX claims_by_vin ON claims (vin);
CREATE INDEX claims_by_shop ON claims (shop);
CREATE INDEX claims_by_bulletin ON claims (bulletin);
CREATE INDEX reading_sets_by_digest ON reading_sets (digest);
CREATE INDEX photos_by_sha256 ON photos (sha256);
CREATE INDEX rulings_by_claim ON rulings (claim_seq);
CREATE INDEX findings_by_rule ON findings (rule, seq);
CREATE INDEX standings_by_verdict ON standings (verdict);
CREATE INDEX standings_by_needs ON standings (needs);
CREATE INDEX standings_by_ruled ON standings (ruled_seq);
CREATE INDEX standings_by_tail ON standings (tail);
CREATE INDEX papers_by_name ON papers (kind, name, revision);
COMMIT;
