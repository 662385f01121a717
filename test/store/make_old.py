#!/usr/bin/env python3
"""Writes a store of version 1, 2 or 3 as SQL, by doc/store.md and without the program: v1.sql to v3.sql are its output, kept so
that a later program can be held to bringing old stores up. Version 1 had the log without the index on its ULIDs and, among the
derived tables, no reading_sets; version 2 had a set for every claim with readings, of all of them; version 3 no longer had the index, and no standings. What came with version 3 no
older entry has: of a bulletin's digest, of being invented, of the shop that signed. The derived tables here hold what is needed
to see that they are made anew.

usage: make_old.py 1 > v1.sql; make_old.py 2 > v2.sql; make_old.py 3 > v3.sql
"""
import hashlib
import json
import struct
import sys

PHOTO = b'\xff\xd8\xff a photo of version 1'


def claim_id(bag):
    bits = int.from_bytes(bag[:8], 'big') >> 4
    return 'K' + ''.join('0123456789ABCDEFGHJKMNPQRSTVWXYZ'[bits >> (55 - 5 * i) & 31] for i in range(12))


def one_claim():
    """A claim with one reading and one photo, its two events, its ruling: version 1."""
    bag = hashlib.sha256(b'a bag of version 1').digest()
    claim = {
        'n_events': 2, 'bulletin': 'OV-26-03', 'revision': 1, 'vin': '1FHMC00X000000042', 'shop': 'shop-1',
        'taken_ms': 1770000000000,
        'stations': [{'station': 'fore', 'scope': 'in'}],
        'readings': [{'station': 'fore', 'point': 'upper', 'unit': 'mm', 'value_nano': 58000000}],
        'photos': [{'name': 'label.jpg', 'sha256': hashlib.sha256(PHOTO).hexdigest(), 'ext': 'jpg', 'bytes': 24, 'dhash': 'f0f0f0f0f0f0f0f0'}],
        'findings': [],
    }
    ruling = {'claim': claim_id(bag), 'verdict': 'pay', 'amount_minor': 12500, 'currency': 'EUR', 'at_ms': 1770000100000,
              'awards': [{'station': 'fore', 'verdict': 'pay', 'amount_minor': 12500}], 'findings': []}
    return [(bag, 'store.claim', claim), (bag, 'opened', {'n': 0}), (bag, 'reading', {'n': 1}), (bag, 'store.ruling', ruling)]


def three_claims():
    """Without photos. Claims 0 and 1 end with the same readings but began with others; claim 2 shares only a count with them."""
    entries = []
    for i in range(3):
        bag = hashlib.sha256(b'bag %d of version 2' % i).digest()
        readings = [{'station': 'fore', 'point': f'p{k}', 'phase': 'before', 'unit': 'mm', 'value_nano': 61000000 + 1000 * i + k} for k in range(6)]
        readings += [{'station': 'fore', 'point': f'p{k}', 'phase': 'after', 'unit': 'mm', 'value_nano': 58000000 + 7000 * (i == 2) + k} for k in range(6)]
        readings += [{'point': 'cycles', 'phase': 'after', 'unit': '1', 'value_nano': 3000000000}]
        claim = {'n_events': 1, 'bulletin': 'OV-26-03', 'revision': 1, 'vin': f'1FHMC00X00000005{i}', 'shop': 'shop-2', 'technician': 'T. Example',
                 'signature': 'good', 'opened_ms': 1770000000000, 'taken_ms': 1770000500000 + i,
                 'stations': [{'station': 'fore', 'scope': 'in'}], 'readings': readings, 'photos': [], 'findings': []}
        entries += [(bag, 'store.claim', claim), (bag, 'opened', {'n': i})]
        last = {'claim': claim_id(bag), 'verdict': 'pay', 'amount_minor': 9900, 'currency': 'EUR', 'at_ms': 1770000600000 + i,
                'awards': [{'station': 'fore', 'verdict': 'pay', 'amount_minor': 9900}], 'findings': []}
        entries += [(bag, 'store.ruling', last)]
    entries += [(entries[0][0], 'store.payment', entries[2][2])]
    return entries


LOG = '''CREATE TABLE log (
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
BEGIN SELECT RAISE(ABORT, 'the log is only ever added to'); END;'''

TABLES = '''CREATE TABLE units (vin TEXT PRIMARY KEY, first_seq INTEGER NOT NULL REFERENCES log (seq)) STRICT, WITHOUT ROWID;
CREATE TABLE claims (
  seq INTEGER PRIMARY KEY REFERENCES log (seq), claim TEXT NOT NULL UNIQUE, bag BLOB NOT NULL, n_events INTEGER NOT NULL,
  bulletin TEXT NOT NULL, vin TEXT NOT NULL REFERENCES units (vin), taken_ms INTEGER NOT NULL) STRICT;'''

SETS = '''CREATE TABLE reading_sets (claim_seq INTEGER PRIMARY KEY REFERENCES claims (seq), digest BLOB NOT NULL) STRICT;
CREATE INDEX reading_sets_by_digest ON reading_sets (digest);'''


def ulid_of(seq):
    return '01K6ZK0000' + 'ABCDEFGHJKMNPQRS'[seq - 1] * 16


def main(version):
    entries = one_claim() if version == 1 else three_claims()
    print('-- Written by make_old.py; do not change by hand.')
    print(f'PRAGMA application_id = 0x4d575254;\nPRAGMA user_version = {version};\nPRAGMA journal_mode = WAL;')
    print(LOG)
    if version == 2:
        print('CREATE INDEX log_by_ulid ON log (ulid);')
    print(TABLES)
    if version > 1:
        print(SETS)
    prev = bytes(32)
    for seq, (bag, kind, content) in enumerate(entries, 1):
        text = json.dumps(content, separators=(',', ':')).encode()
        name = kind.encode()
        ulid = ulid_of(seq).encode()
        hashed = hashlib.sha256(b'mendwright-log-1' + struct.pack('>Q', seq) + prev + bag + ulid
                                + struct.pack('>L', len(name)) + name + struct.pack('>Q', len(text)) + text).digest()
        print(f"INSERT INTO log VALUES ({seq}, '{ulid.decode()}', x'{bag.hex()}', '{kind}', '{text.decode()}', "
              f"x'{prev.hex()}', x'{hashed.hex()}');")
        prev = hashed
    for seq, (bag, kind, c) in enumerate(entries, 1):
        if kind == 'store.claim':
            print(f"INSERT INTO units VALUES ('{c['vin']}', {seq});")
            print(f"INSERT INTO claims VALUES ({seq}, '{claim_id(bag)}', x'{bag.hex()}', {c['n_events']}, '{c['bulletin']}', '{c['vin']}', {c['taken_ms']});")
            if version > 1:
                print(f"INSERT INTO reading_sets VALUES ({seq}, x'{bag.hex()}');")


if __name__ == '__main__':
    main(int(sys.argv[1]))
