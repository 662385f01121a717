#!/usr/bin/env python3
"""The store as another program sees it: by Python's own sqlite3 and hashlib and the layout in doc/store.md, and no code of
ours beside the program that wrote it. TAP.

usage: chain.py WRITER PROGRAM    WRITER makes a store of invented claims in a folder (bench_store --claims N FOLDER)
"""
import hashlib
import json
import pathlib
import sqlite3
import struct
import subprocess
import sys
import tempfile

from standings import standings

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))
import tap  # noqa: E402
from tap import ok  # noqa: E402

CLAIMS = 25


def entry_hash(seq, ulid, bag, kind, text, prev):
    kind, text = kind.encode(), text.encode()
    return hashlib.sha256(b'mendwright-log-1' + struct.pack('>Q', seq) + prev + bag + ulid.encode() + struct.pack('>L', len(kind))
                          + kind + struct.pack('>Q', len(text)) + text).digest()


def claim_id(bag):
    bits = int.from_bytes(bag[:8], 'big') >> 4
    return 'K' + ''.join('0123456789ABCDEFGHJKMNPQRSTVWXYZ'[bits >> (55 - 5 * i) & 31] for i in range(12))


def reading_set(readings):
    """What was read after the work; at a point without such a reading, the last there is."""
    points = {}
    for r in readings:
        if r['unit'] != '1':
            points.setdefault((r.get('station', ''), r['point']), []).append(r)
    rows = []
    for point, read in points.items():
        after = [r for r in read if r.get('phase') == 'after']
        rows += [(*point, r['value_nano']) for r in after or [max(read, key=lambda r: r['taken_ms'])]]
    return hashlib.sha256(b''.join(f'{s}\0{p}\0{v}\0'.encode() for s, p, v in sorted(rows))).digest()


def check_log(db):
    prev, good = bytes(32), True
    rows = db.execute('SELECT seq, ulid, bag, type, json, prev, hash FROM log ORDER BY seq').fetchall()
    for n, (seq, ulid, bag, kind, text, named, hashed) in enumerate(rows, 1):
        good &= seq == n and named == prev and hashed == entry_hash(seq, ulid, bag, kind, text, prev)
        prev = hashed
    ok(good and len(rows) > CLAIMS, f'the hashes of {len(rows)} entries are those of doc/store.md, by hashlib')
    return rows, prev


def check_tables(db, rows):
    claims = [(seq, bag, json.loads(text)) for seq, _, bag, kind, text, _, _ in rows if kind == 'store.claim']
    ok(len(claims) == CLAIMS, f'{CLAIMS} claims stand in the log')
    ok(db.execute('SELECT claim FROM claims ORDER BY seq').fetchall() == [(claim_id(bag),) for _, bag, _ in claims],
       "a claim's id is its bag's first 60 bits in base32")
    for table, key in (('stations', 'station'), ('readings', 'value_nano'), ('photos', 'name'), ('findings', 'message')):
        place = 'seq' if table == 'findings' else 'claim_seq'
        wanted = [(seq, n, item[key]) for seq, _, c in claims for n, item in enumerate(c[table])]
        found = db.execute(f'SELECT {place}, n, {key} FROM {table} ORDER BY {place}, n').fetchall()
        ok(found == wanted, f'{len(found)} {table} are those in the log')
    sets = db.execute('SELECT claim_seq, digest FROM reading_sets ORDER BY claim_seq').fetchall()
    ok(sets == [(seq, reading_set(c['readings'])) for seq, _, c in claims], 'the digests of sets of readings')
    events = [seq for seq, _, _, kind, _, _, _ in rows if not kind.startswith('store.')]
    placed = [seq + 1 + i for seq, _, c in claims for i in range(c['n_events'])]
    ok(events == placed, "each claim's events follow its entry without a gap")


def check_papers(db, rows):
    """The tables of papers and of the build list, from the log; that text comes through JSON whole."""
    logged = [(seq, json.loads(text)) for seq, _, _, kind, text, _, _ in rows if kind == 'store.paper']
    wanted = [(seq, p['kind'], p['name'], p.get('revision'), p['at_ms'], hashlib.sha256(p['text'].encode()).digest(), len(p['text'].encode()))
              for seq, p in logged]
    found = db.execute('SELECT seq, kind, name, revision, at_ms, sha256, bytes FROM papers ORDER BY seq').fetchall()
    ok(found == wanted and len(found) == 3, f'{len(found)} papers are those in the log, their digests by hashlib')
    ok(logged[2][1]['text'] == 'a: "b"\n\tc: \\ \u00f6 \u20ac \U0001d11e\n', "a paper's text came through")
    builds = {}
    for seq, _, _, kind, text, _, _ in rows:
        for row in json.loads(text)['builds'] if kind == 'store.builds' else ():
            builds[row['vin'], row['station']] = (row.get('label'), seq)
    found = db.execute('SELECT vin, station, label, seq FROM builds ORDER BY vin, station').fetchall()
    ok(found == [(*key, *builds[key]) for key in sorted(builds)] and len(found) == 2, 'of the build list the last row of a station holds')
    ok(all(bag == bytes(32) for _, _, bag, kind, _, _, _ in rows if kind in ('store.paper', 'store.builds')), 'they belong to no bag')


def check_files(db, folder):
    rows = db.execute('SELECT sha256, ext, bytes FROM photo_files').fetchall()
    good = True
    for digest, ext, size in rows:
        name = digest.hex()
        content = (folder / 'photos' / name[:2] / f'{name[2:]}.{ext}').read_bytes()
        good &= hashlib.sha256(content).digest() == digest and len(content) == size
    ok(good and len(rows) == 2 * CLAIMS, f'{len(rows)} photos lie under the names of their content, by hashlib')


def check_marks(db):
    ok(db.execute('PRAGMA application_id').fetchone() == (0x4d575254,), 'application_id is "MWRT"')
    ok(db.execute('PRAGMA user_version').fetchone() == (7,), 'user_version is 7')
    ok(db.execute('PRAGMA journal_mode').fetchone() == ('wal',), 'the journal is a write-ahead log')
    tables = db.execute("SELECT name, strict FROM pragma_table_list WHERE schema = 'main' AND type = 'table' "
                        "AND name NOT LIKE 'sqlite_%'").fetchall()
    ok(len(tables) == 15 and all(strict for _, strict in tables), f'all {len(tables)} tables are STRICT')
    ok(db.execute('PRAGMA foreign_key_check').fetchall() == [], 'no row names a row that is not there')
    ok(db.execute('PRAGMA integrity_check').fetchall() == [('ok',)], "SQLite's own integrity check")


def main(argv):
    writer, program = argv
    with tempfile.TemporaryDirectory() as scratch:
        folder = pathlib.Path(scratch) / 'store'
        subprocess.run([writer, '--claims', str(CLAIMS), '--photos', folder], check=True, stdout=subprocess.DEVNULL)
        with sqlite3.connect(folder / 'store.db') as db:
            rows, head = check_log(db)
            check_tables(db, rows)
            found, expected = standings(db)
            ok(found == expected and len(found) == CLAIMS, f'what stands for {len(found)} claims follows from the log')
            counted = db.execute('SELECT verdict, needs, n_ruled + n_intake = 0, count(*) FROM standings GROUP BY 1, 2, 3 ORDER BY 1, 2, 3').fetchall()
            ok(db.execute('SELECT verdict, needs, is_clean, n FROM tallies ORDER BY 1, 2, 3').fetchall() == counted and sum(c[3] for c in counted) == CLAIMS, 'the tallies are what counting the rows gives')
            check_papers(db, rows)
            check_files(db, folder)
            check_marks(db)
        db.close()
        done = subprocess.run([program, 'store', 'verify', '--store', folder, '--json'], capture_output=True, text=True, check=False)
        told = json.loads(done.stdout)
        ok(done.returncode == 0 and told['ok'] is True, 'store verify finds it whole')
        ok(told['head'] == head.hex(), 'and names the same head')
        ok(told['papers'] == 2 and told['builds'] == 2 and told['claims'] == CLAIMS and told['photos'] == 2 * CLAIMS and told['events'] == 10 * CLAIMS, 'and counts the same')
    return tap.done()


if __name__ == '__main__':
    sys.exit(main(sys.argv[1:]))
