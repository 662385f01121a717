#!/usr/bin/env python3
"""Writes a store of version 1 as SQL, by doc/store.md and without the program: v1.sql is its output, kept so that a later
program can be held to bringing old stores up. Version 1 had the log without the index on its ULIDs and, among the derived
tables, no reading_sets; the derived tables here are left as version 1 had them for one claim and one ruling.

usage: make_v1.py > v1.sql
"""
import hashlib
import json
import struct

ULIDS = ['01K6ZK0000AAAAAAAAAAAAAAAA', '01K6ZK0000BBBBBBBBBBBBBBBB', '01K6ZK0000CCCCCCCCCCCCCCCC', '01K6ZK0000DDDDDDDDDDDDDDDD']
BAG = hashlib.sha256(b'a bag of version 1').digest()
PHOTO = hashlib.sha256(b'\xff\xd8\xff a photo of version 1').digest()
CLAIM = {
    'n_events': 2, 'bulletin': 'OV-26-03', 'revision': 1, 'vin': '1FHMC00X000000042', 'shop': 'shop-1',
    'taken_ms': 1770000000000,
    'stations': [{'station': 'fore', 'scope': 'in'}],
    'readings': [{'station': 'fore', 'point': 'upper', 'unit': 'mm', 'value_nano': 58000000}],
    'photos': [{'name': 'label.jpg', 'sha256': PHOTO.hex(), 'ext': 'jpg', 'bytes': 24, 'dhash': 'f0f0f0f0f0f0f0f0'}],
    'findings': [],
}


def claim_id():
    bits = int.from_bytes(BAG[:8], 'big') >> 4
    return 'K' + ''.join('0123456789ABCDEFGHJKMNPQRSTVWXYZ'[bits >> (55 - 5 * i) & 31] for i in range(12))


RULING = {'claim': claim_id(), 'verdict': 'pay', 'amount_minor': 12500, 'currency': 'EUR', 'at_ms': 1770000100000,
          'awards': [{'station': 'fore', 'verdict': 'pay', 'amount_minor': 12500}], 'findings': []}
ENTRIES = [('store.claim', CLAIM), ('opened', {'n': 0}), ('reading', {'n': 1}), ('store.ruling', RULING)]

TABLES = '''CREATE TABLE log (
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
  bulletin TEXT NOT NULL, vin TEXT NOT NULL REFERENCES units (vin), taken_ms INTEGER NOT NULL) STRICT;'''


def main():
    print('-- Written by make_v1.py; do not change by hand.')
    print('PRAGMA application_id = 0x4d575254;\nPRAGMA user_version = 1;\nPRAGMA journal_mode = WAL;')
    print(TABLES)
    prev = bytes(32)
    for seq, (kind, content) in enumerate(ENTRIES, 1):
        text = json.dumps(content, separators=(',', ':')).encode()
        name = kind.encode()
        ulid = ULIDS[seq - 1].encode()
        hashed = hashlib.sha256(b'mendwright-log-1' + struct.pack('>Q', seq) + prev + BAG + ulid
                                + struct.pack('>L', len(name)) + name + struct.pack('>Q', len(text)) + text).digest()
        print(f"INSERT INTO log VALUES ({seq}, '{ulid.decode()}', x'{BAG.hex()}', '{kind}', '{text.decode()}', "
              f"x'{prev.hex()}', x'{hashed.hex()}');")
        prev = hashed
    print(f"INSERT INTO units VALUES ('{CLAIM['vin']}', 1);")
    print(f"INSERT INTO claims VALUES (1, '{claim_id()}', x'{BAG.hex()}', 2, 'OV-26-03', '{CLAIM['vin']}', 1770000000000);")


if __name__ == '__main__':
    main()
