#!/usr/bin/env python3
"""A standby that is read from: studies, the campaign and the report answer from it as from the primary, tell how far it is behind, and go to the
primary when it cannot be used.

usage: replica.py PROGRAM
"""
import json
import os
import pathlib
import subprocess
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / 'store'))
import server as postgresql  # noqa: E402
from door import ROOT, Server, done, ok  # noqa: E402
from load import bags  # noqa: E402
from studies import ask  # noqa: E402


def run(a, *words):
    return subprocess.run([a.program, *map(str, words)], capture_output=True, text=True, timeout=240)


def campaign(a, read_from=None):
    """What it prints but for the clock, and the note."""
    told = run(a, 'campaign', '--store', a.store, '--at', '2026-12-01T00:00:00Z', '--json', *(['--read-from', read_from] if read_from else []))
    return told.stdout, told.stderr.strip()


def study(a, *more):
    told = run(a, 'study', 'window', '--draws', '99', '--store', a.store, '--json', *more)
    assert told.returncode in (0, 1, 4), told.stderr
    answer = json.loads(told.stdout)
    notes = [n['text'] for n in answer.pop('assumptions') if 'standby' in n['text']]
    ok(bool(notes) == ('--read-from' in more) == ('note:' in told.stderr), f'study: {notes or "nothing"} is said of a standby', told.stderr)
    return told.returncode, answer, notes


def keep_units(a):
    """Six units of as many weeks, of which two failed: invented, enough for `study window` to say something."""
    vins = ['ZZZFM24T5R0001234', 'ZZZFM24T7R0001235', 'ZZZFM24T9R0001236', 'ZZZFM24T0R0001237', 'ZZZFM24T2R0001238', 'ZZZFM24T4R0001239']
    rows = [f'{vin},{station},WD40 2024-W{10 + i}' for i, vin in enumerate(vins) for station in ('fore', 'aft')]
    (a.folder / 'builds.csv').write_text('\n'.join(['vin,station,label', *rows]) + '\n')
    (a.folder / 'failures.csv').write_text(f'vin,station,failed\n{vins[1]},fore,2025-03-01\n{vins[2]},fore,2025-04-01\n')
    a.call('store', 'builds', a.folder / 'builds.csv', '--store', a.store)
    a.call('store', 'keep', 'failures', a.folder / 'failures.csv', '--store', a.store)


def check_beside(a, pair, near):
    plain, there = campaign(a), campaign(a, near)
    ok(plain[0] and plain[0] == there[0] and 'has the whole log' in there[1], 'the campaign is the same from the standby, which has the whole log', there[1] or plain[1])
    here, far = study(a), study(a, '--read-from', near)
    ok(here[:2] == far[:2] and not here[2] and 'has the whole log' in far[2][0], 'so is a study, and its notes say where it was read', str((here, far))[:400])
    told = run(a, 'report', '--store', a.store, '--read-from', near, '-o', a.folder / 'report.pdf')
    ok(told.returncode == 0 and (a.folder / 'report.pdf').read_bytes()[:5] == b'%PDF-' and 'has the whole log' in told.stderr, 'and the report', told.stderr)


def check_behind(a, pair, near, data):
    had = int(pair.standby.ask(f'SELECT max(seq) FROM {schema(a)}.log')[0])
    pair.standby.ask('SELECT pg_wal_replay_pause()')
    postgresql.until(lambda: pair.standby.ask('SELECT pg_get_wal_replay_pause_state()') == ['paused'], 'the standby pauses')
    before = campaign(a)[0]
    path = a.folder / 'one-more.zip'
    path.write_bytes(data)
    a.call('take', path, '--store', a.store)
    has = int(pair.primary.ask(f'SELECT max(seq) FROM {schema(a)}.log')[0])
    there = campaign(a, near)
    ok(has > had and f'lacks the last {has - had} entries' in there[1] and 'its last change is of 20' in there[1], 'a standby that is behind: how many entries it lacks, and of when it is', there[1])
    ok(there[0] == before != campaign(a)[0], 'the answer is that of before')
    pair.standby.ask('SELECT pg_wal_replay_resume()')
    postgresql.until(lambda: pair.standby.ask(f'SELECT max(seq) FROM {schema(a)}.log') == [str(has)], 'the standby has caught up')
    ok(campaign(a, near)[0] == campaign(a)[0], 'caught up, they are the same again')


def level(pair, name):
    last = pair.primary.ask(f'SELECT max(seq) FROM {name}.log')
    postgresql.until(lambda: pair.standby.ask(f"SELECT to_regclass('{name}.log') IS NOT NULL") == ['t'] and pair.standby.ask(f'SELECT max(seq) FROM {name}.log') == last,
                     'the standby has it all')


def schema(a):
    return str(a.store).rpartition('schema=')[2]


def asked(clerk):
    """The study by a page: what its notes say of a standby."""
    told = ask(clerk, 'window', {'draws': '99'}).json
    assert told['state'] == 'done', told
    return [n['text'] for n in told['answer']['answer']['assumptions'] if 'standby' in n['text']], told['answer']['answer']['llr']


def check_serve(a, pair, near):
    told = run(a, 'serve', '--store', a.store, '--read-from', a.folder, '--trial')
    ok(told.returncode == 2 and 'postgresql://' in told.stderr, 'serve --read-from a folder: exit code 2', told.stderr)
    a.options = ('--threads', '2', '--read-from', near)
    clerk = a.start().person('clara', 'clerk')
    there, value = asked(clerk)
    ok(len(there) == 1 and 'has the whole log' in there[0] and value == study(a)[1]['llr'], 'a page\'s study is read from the standby, and says so', str((there, value)))
    pair.standby.stop('fast')
    there, value = asked(clerk)
    ok(len(there) == 1 and 'from the primary' in there[0] and str(pair.standby.folder) not in there[0] and value == study(a)[1]['llr'],
       'with the standby away from the primary, without a restart; hosts are not told to pages', str(there))
    pair.standby.start()
    there, value = asked(clerk)
    ok(len(there) == 1 and 'read from the standby' in there[0], 'and from the standby once it is back', str(there))
    ok(a.stop() == 0, 'it ends with 0')


def check_wrong(a, pair, near):
    told = run(a, 'campaign', '--store', a.store, '--read-from', a.folder)
    ok(told.returncode == 2 and 'postgresql://' in told.stderr, 'a folder is no standby: exit code 2', told.stderr)
    other = Server(a.program)
    try:
        a.call('store', 'keep', 'bulletin', ROOT / 'examples/OV-26-03.yaml', '--store', other.store)
        level(pair, schema(other))
        there = campaign(a, f'{near}&schema={schema(other)}')
        ok('not the one of this store' in there[1] and there[0] == campaign(a)[0], 'another store is not read: the primary is, and that is told', there[1])
    finally:
        other.end()
    ok('is no standby' in campaign(a, pair.primary.address)[1], 'a primary in its place: it is told that it is none')


def check_away(a, pair, near):
    pair.standby.stop('fast')
    there = campaign(a, near)
    ok(there[0] == campaign(a)[0] and 'read from the primary, since the standby cannot be used' in there[1], 'the standby away: the primary answers, and that is told', there[1])
    far = study(a, '--read-from', near)
    ok(far[0] == study(a)[0] and 'from the primary' in far[2][0], 'and a study says so among its notes', str(far[2]))
    pair.standby.start()
    whole = campaign(a)[0]
    pair.primary.stop('fast')
    there = campaign(a, near)
    ok(there[0] == whole and 'the primary cannot be asked' in there[1], 'the primary away: the standby answers, and says what is not known', there[1])
    pair.standby.stop('fast')
    told = run(a, 'campaign', '--store', a.store, '--read-from', near)
    ok(told.returncode == 3 and 'cannot be reached' in told.stderr, 'both away: exit code 3', told.stderr)


def main(argv):
    with postgresql.Pair() as pair:
        os.environ['MENDWRIGHT_TEST_SERVER'] = pair.primary.address
        a = Server(argv[1])
        try:
            a.call('store', 'keep', 'bulletin', ROOT / 'examples/OV-26-03.yaml', '--store', a.store)
            keep_units(a)
            made = bags(a, 3)
            for i, data in enumerate(made[:2]):
                (a.folder / f'{i}.zip').write_bytes(data)
                a.call('take', a.folder / f'{i}.zip', '--store', a.store)
            a.call('rule', '--store', a.store, codes=(0, 1, 4))
            near = pair.standby.address
            level(pair, schema(a))
            check_beside(a, pair, near)
            check_behind(a, pair, near, made[2])
            check_wrong(a, pair, near)
            pair.primary.ask('ALTER SYSTEM RESET synchronous_standby_names')
            pair.primary.ask('SELECT pg_reload_conf()')
            check_serve(a, pair, near)
            check_away(a, pair, near)
        finally:
            a.end()
    return done()


if __name__ == '__main__':
    sys.exit(main(sys.argv))
