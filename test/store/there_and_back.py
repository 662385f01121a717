#!/usr/bin/env python3
"""`mendwright store copy` between a folder and PostgreSQL: there and back is the same, entry by entry, as another program reads it
(Python's sqlite3, psql); a copy that is broken off leaves no store; a target must be new. The chain in PostgreSQL is recomputed by
Python's hashlib, by the table of doc/store.md. What `store verify` must find there: one thing is changed behind the store's back. TAP.

usage: there_and_back.py WRITER PROGRAM
"""
import hashlib
import json
import os
import pathlib
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time

import server

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))
import tap  # noqa: E402
from tap import ok  # noqa: E402

CLAIMS = 120


class Desk:
    def __init__(self, program, pg, scratch):
        self.program, self.pg, self.scratch = program, pg, scratch

    def call(self, *words):
        """(exit code, the object, stderr)"""
        done = subprocess.run([self.program, *words, '--json'], capture_output=True, text=True)
        return done.returncode, json.loads(done.stdout) if done.stdout else None, done.stderr

    def verify(self, store):
        code, said, err = self.call('store', 'verify', '--store', store)
        return code, said if said else {'faults': [{'kind': 'none', 'where': '', 'message': err}], 'head': ''}


def log_of(folder):
    """The log as Python's own SQLite reads it."""
    with sqlite3.connect(f'file:{folder}/store.db?mode=ro', uri=True) as db:
        return [tuple(v.hex() if isinstance(v, bytes) else str(v) for v in row)
                for row in db.execute('SELECT seq, ulid, bag, type, json, prev, hash FROM log ORDER BY seq')]


def log_at(pg, schema):
    """The log as psql reads it; texts as hexadecimal digits, so that nothing in them is a sign of psql's."""
    rows = pg.ask(f"SELECT seq, ulid, encode(bag, 'hex'), type, encode(convert_to(json, 'UTF8'), 'hex'), encode(prev, 'hex'), "
                  f"encode(hash, 'hex') FROM {schema}.log ORDER BY seq")
    rows = [row.split('|') for row in rows]
    return [(seq, ulid, bag, kind, bytes.fromhex(text).decode(), prev, sum_) for seq, ulid, bag, kind, text, prev, sum_ in rows]


def chain_fault(log):
    """The first entry whose hash is not that of doc/store.md, or None."""
    before = bytes(32)
    for seq, ulid, bag, kind, text, prev, sum_ in log:
        kind, text = kind.encode(), text.encode()
        whole = (b'mendwright-log-1' + int(seq).to_bytes(8, 'big') + before + bytes.fromhex(bag) + ulid.encode() + len(kind).to_bytes(4, 'big')
                 + kind + len(text).to_bytes(8, 'big') + text)
        if bytes.fromhex(prev) != before or hashlib.sha256(whole).hexdigest() != sum_:
            return seq
        before = bytes.fromhex(sum_)
    return None


def photos_of(folder):
    return {p.relative_to(folder).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest() for p in pathlib.Path(folder, 'photos').rglob('*')
            if p.is_file()}


def people_of(folder):
    with sqlite3.connect(f'file:{folder}/people.db?mode=ro', uri=True) as db:
        return [list(db.execute('SELECT * FROM people ORDER BY name')), list(db.execute('SELECT * FROM acts ORDER BY n'))]


def check_there_and_back(d):
    first, back = d.scratch / 'first', d.scratch / 'back'
    there = d.pg.store(d.scratch / 'there', 'there', log_part=100)
    for name, role in (('ada', 'owner'), ('cleo', 'clerk')):
        assert d.call('people', 'add', name, '--role', role, '--store', str(first))[0] == 0
    code, said, err = d.call('store', 'copy', str(first), there)
    ok(code == 0 and said['claims'] == CLAIMS and said['people'] == 2, 'a folder is copied to the server', err)
    ok(d.verify(there)[0] == 0, 'the copy is whole: chain, tables, photos', str(d.verify(there)[1])[:600])
    mine, theirs = log_of(first), log_at(d.pg, 'there')
    ok(len(mine) > CLAIMS and mine == theirs, f'psql reads the same {len(mine)} entries as sqlite3, byte for byte')
    ok(chain_fault(theirs) is None and theirs[-1][6] == said['head'], 'the chain is right by hashlib, to the head that was told')
    parts = d.pg.ask("SELECT count(*) FROM pg_inherits WHERE inhparent = 'there.log'::regclass")
    ok(parts == [str((len(mine) - 1) // 100 + 1)], f'the log lies in {parts[0]} partitions of a hundred')
    code, said, err = d.call('store', 'copy', there, str(back))
    ok(code == 0 and said['people'] == 2, 'and back into a folder', err)
    ok(log_of(back) == mine, 'the log is the same')
    with sqlite3.connect(first / 'store.db') as a, sqlite3.connect(back / 'store.db') as b:
        tables = [n for (n,) in a.execute("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name")]
        same = [list(a.execute(f'SELECT * FROM {t} ORDER BY 1, 2')) == list(b.execute(f'SELECT * FROM {t} ORDER BY 1, 2')) for t in tables]
        ok(all(same) and len(tables) == 15, f'all {len(tables)} tables are the same, row by row', str(list(zip(tables, same))))
        schemas = [list(db.execute('SELECT type, name, sql FROM sqlite_schema ORDER BY 1, 2')) for db in (a, b)]
        ok(schemas[0] == schemas[1], 'so are their definitions')
    ok(photos_of(first) == photos_of(back) and len(photos_of(back)) > CLAIMS, f'{len(photos_of(back))} photos are the same')
    ok(people_of(first) == people_of(back), 'the people and the list of who did what are the same')
    ok(not (d.scratch / 'back.part').exists() and d.verify(str(back))[0] == 0, 'the store that came back is whole')
    code, said, err = d.call('store', 'backup', str(d.scratch / 'backup'), '--store', there)
    ok(code == 0 and log_of(d.scratch / 'backup') == mine, "`store backup` of a server's store is a folder with the same log", err)


def check_targets(d):
    first = d.scratch / 'first'
    there = d.pg.store(d.scratch / 'there', 'there')
    code, _, err = d.call('store', 'copy', str(first), there)
    ok(code == 2 and 'is there already' in err, 'a server that has a store is no target', err)
    code, _, err = d.call('store', 'copy', there, str(first))
    ok(code == 2 and 'is there already' in err, 'nor is a folder that is there', err)
    code, _, err = d.call('store', 'copy', str(first), str(first))
    ok(code == 2, 'nor the store itself', err)
    code, said, err = d.call('store', 'copy', there, str(d.scratch / 'alone'), '--without-people')
    ok(code == 0 and said['people'] == 0 and not (d.scratch / 'alone/people.db').exists(), 'people stay behind when it is asked for', err)
    code, _, err = d.call('store', 'verify', '--store', d.pg.store(d.scratch / 'x', 'nothing'))
    ok(code == 2 and 'there is no store here' in err, 'where no store is, none is found', err)
    code, _, err = d.call('store', 'verify', '--store', f'postgresql://tester:hunter2@/postgres?host={d.pg.folder}&files=x')
    ok(code == 2 and 'hunter2' not in err and 'PGPASSFILE' in err, 'an address with a password is refused, and the password not repeated', err)
    code, _, err = d.call('store', 'verify', '--store', f'postgresql:///nowhere?host={d.pg.folder}&user=tester&files=x')
    ok(code == 3 and 'cannot be reached' in err, 'a database that is not there: exit 3', err)
    photo = next(p for p in (first / 'photos').rglob('*') if p.is_file())
    photo.rename(d.scratch / 'photo')
    target = d.pg.store(d.scratch / 'holes', 'holes')
    code, _, err = d.call('store', 'copy', str(first), target)
    ok(code == 3 and d.verify(target)[0] == 2, 'a missing photo stops a copy, and there is no store', err)
    (d.scratch / 'photo').rename(photo)


def check_broken_off(d):
    """Killed at times spread over the copy, to each kind of target."""
    first = d.scratch / 'first'
    start = time.monotonic()
    d.call('store', 'copy', str(first), d.pg.store(d.scratch / 'timed', 'timed'))
    whole = time.monotonic() - start
    left = {'server': 0, 'folder': 0}
    n_killed = 0
    for i in range(10):
        for kind in left:
            target = d.pg.store(d.scratch / f'k{i}', f'k{i}') if kind == 'server' else str(d.scratch / f'f{i}')
            p = subprocess.Popen([d.program, 'store', 'copy', str(first), target], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            time.sleep(whole * (i + 0.5) / 10)
            p.send_signal(signal.SIGKILL)
            n_killed += p.wait() != 0
            code, said = d.verify(target)
            # Nothing, or, when it was quicker than the kill, all of it.
            left[kind] += not (code == 2 or (code == 0 and said['head'] == d.head))
    ok(n_killed > 5 and not any(left.values()), f'{n_killed} copies were killed on their way; none left half a store', str(left))
    for kind in left:  # each kind's earliest: the same call again completes it
        target = d.pg.store(d.scratch / 'k0', 'k0') if kind == 'server' else str(d.scratch / 'f0')
        if d.verify(target)[0] != 0:
            d.call('store', 'copy', str(first), target)
        d.call('store', 'tidy', '--store', target)  # a photo that was on its way when the first was killed
        code, said = d.verify(target)
        ok(code == 0 and said['head'] == d.head and said['orphans'] == 0, f'{kind}: the same call again makes it whole', str(said)[:400])


def check_meddling(d):
    """What a person with psql could change, and what verify must say."""
    triggers = 'ALTER TABLE m.log DISABLE TRIGGER USER;'
    cases = [
        ('an entry changed', triggers + "UPDATE m.log SET json = replace(json, 'OV-26-03', 'OV-26-04') WHERE seq = 12;"
         'ALTER TABLE m.log ENABLE TRIGGER USER', 'chain', 'entry 12'),
        ('an event taken out', triggers + 'DELETE FROM m.log WHERE seq = 14; ALTER TABLE m.log ENABLE TRIGGER USER', 'chain', 'entry 15'),
        ('a reading changed', 'UPDATE m.readings SET value_nano = value_nano + 1 WHERE claim_seq = 1 AND n = 3', 'derived', 'readings'),
        ('a standing changed', "UPDATE m.standings SET paid_minor = 5 WHERE claim_seq = 1", 'derived', 'standings'),
        ('a tally changed', 'UPDATE m.tallies SET n = n + 1', 'derived', 'tallies'),
        ('a photo forgotten', 'DELETE FROM m.photos WHERE claim_seq = 1 AND n = 0', 'derived', 'photos'),
        ('an index dropped', 'DROP INDEX m.claims_by_vin', 'schema', 'claims_by_vin'),
        ('a table added', 'CREATE TABLE m.mine (a integer)', 'schema', 'mine'),
        ('a trigger dropped', 'DROP TRIGGER log_keeps_rows ON m.log', 'schema', 'log_keeps_rows'),
        ('a trigger switched off', triggers, 'file', ''),
    ]
    for name, sql, kind, where in cases:
        store = d.pg.store(d.scratch / 'there', 'm')
        d.pg.ask('DROP SCHEMA IF EXISTS m CASCADE')
        d.call('store', 'copy', str(d.scratch / 'first'), store, '--without-people')
        d.pg.ask(sql)
        code, said = d.verify(store)
        found = [f for f in said['faults'] if f['kind'] == kind and where in f['where']]
        ok(code == 1 and found, f'{name}: verify says so', str(said['faults'])[:400])
    for sql in ('DELETE FROM there.log WHERE seq = 1', "UPDATE there.log SET type = 'x' WHERE seq = 1"):
        try:
            d.pg.ask(sql)
            said = 'nothing'
        except RuntimeError as e:
            said = str(e)
        ok('the log is only ever added to' in said, f'{sql[:20]}... is refused by the database itself', said)
    d.pg.ask('DELETE FROM m.readings; UPDATE m.standings SET paid_minor = 7; ALTER TABLE m.log ENABLE TRIGGER USER')
    code, said, err = d.call('store', 'rebuild', '--store', store)
    ok(code == 0 and d.verify(store)[0] == 0, 'rebuild makes the tables whole again', err, str(d.verify(store)[1])[:400])


def check_versions(d):
    """Marks of an older and of a later program's tables."""
    store = d.pg.store(d.scratch / 'there', 'm')
    d.pg.ask('UPDATE m.meta SET version = 5; DROP TABLE m.tallies CASCADE')
    code, said = d.verify(store)
    ok(code == 2 and 'earlier program' in said['faults'][0]['message'], "an older program's store is not read as it is", str(said)[:300])
    code, _, err = d.call('store', 'init', '--store', store)
    code_2, said = d.verify(store)
    ok(code == 0 and code_2 == 0 and said['head'] == d.head, 'init brings it up: the same log, every table anew', err, str(said)[:300])
    d.pg.ask('UPDATE m.meta SET version = 6; DROP INDEX m.rulings_of_people, m.rulings_of_person, m.rulings_of_kind')
    code, _, err = d.call('store', 'init', '--store', store)
    ok(code == 0 and d.verify(store)[0] == 0, 'from version 6 it gets its indexes', err)
    d.pg.ask('UPDATE m.meta SET version = 99')
    code, said = d.verify(store)
    ok(code == 2 and 'later program' in said['faults'][0]['message'], "a later program's is left alone", str(said)[:300])
    d.pg.ask('DROP TABLE m.meta')
    code, _, err = d.call('store', 'init', '--store', store)
    ok(code != 0 and d.pg.ask('SELECT count(*) > 0 FROM m.log') == ['t'], 'where tables lie that are not marked as a store nothing is made', err)


def main(argv):
    if len(argv) != 2:
        sys.exit(__doc__)
    writer, program = argv
    scratch = pathlib.Path(tempfile.mkdtemp(prefix='mw-copy-'))
    try:
        subprocess.run([writer, '--claims', str(CLAIMS), '--photos', scratch / 'first'], check=True, stdout=subprocess.DEVNULL)
        with server.Server() as pg:
            d = Desk(program, pg, scratch)
            d.head = d.verify(str(scratch / 'first'))[1]['head']
            check_there_and_back(d)
            check_targets(d)
            check_meddling(d)
            check_versions(d)
            check_broken_off(d)
    finally:
        shutil.rmtree(scratch, ignore_errors=True)
    return tap.done()


if __name__ == '__main__':
    os.environ.setdefault('LC_ALL', 'C.UTF-8')
    sys.exit(main(sys.argv[1:]))
