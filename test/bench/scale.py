#!/usr/bin/env python3
"""scale: what a unit and a claim cost in stores of 10^4 to 10^6 units, with the exponents by which it grows (growth.py), and what the same
laws say of 10^8. Costs are the processor's time (user and system) of the programs and of the server, so that what else runs on the machine
counts little; wall clock is never told. Claims are those of the rulings' bench (no photos, one claim to five units); photos are looked at by
bags of the example job, and searched for among made-up hashes.

usage: scale.py measure BUILD BENCH_BUILD FOLDER UNITS... [--out FILE.json]     stores are made in FOLDER, one after the other, and removed
       scale.py show FILE.json [--svg FILE.svg] [--far 1e8]                     the tables and exponents of what was measured
       scale.py postgresql BUILD BENCH_BUILD FOLDER UNITS... [--out FILE.json]  bytes of the same stores in PostgreSQL
A FILE.json that is there is added to. On a folder in memory (/dev/shm) nothing waits for a disk; the processor's time hardly differs.
"""
import argparse
import http.client
import json
import os
import pathlib
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time

TREE = pathlib.Path(__file__).resolve().parents[2]
sys.path[:0] = [str(TREE / 'test' / 'bench'), str(TREE / 'test' / 'store')]
import growth  # noqa: E402
from desk import look_around, memory_mb, put_builds, sign_in, Caller  # noqa: E402
from rulings import BULLETIN, EVENTS, without_photos  # noqa: E402
from stores import machine, make_bags  # noqa: E402

UNITS_A_CLAIM, PHOTOS_A_UNIT, BAGS = 5, 2, 10
# What is asked of the server: a call is repeated until it has used this much, or so often.
CALL_S, CALLS = 0.3, 400
ASKED = {'campaign, news since': '/api/v1/campaign?since=1700000000000', 'claims, a hundred': '/api/v1/claims?limit=100', 'claims to be paid': '/api/v1/claims?limit=100&needs=payment',
         'claims by VIN tail': '/api/v1/claims?limit=100&tail={tail}', 'a claim': '/api/v1/claims/{claim}', 'units by VIN, 4 characters': '/api/v1/units?limit=20&vin={tail4}',
         'units by label': '/api/v1/units?limit=20&label=WD40%202024-W1', 'audit': '/api/v1/audit?limit=50'}
# key: (what it is, what it is of, unit of the table). Of: units, claims, photos (the whole is measured), or one (a single call).
TOLD = {'units in': ('bringing in the build list', 'units'), 'claims in': ('taking in claims', 'claims'), 'bag in': ('taking in a bag with photos', 'one'),
        'ruled, all new': ('ruling, each one written', 'claims'), 'ruled, again': ('ruling, nothing new', 'claims'), 'one ruled': ('ruling on one claim', 'one'),
        'board': ('campaign, from the start of the server', 'units'), 'campaign': ('campaign, by command', 'units'), 'verify': ('store verify', 'units'),
        'export units': ('export of units, CSV', 'units'), 'export claims': ('export of claims, CSV', 'claims'),
        'near build': ('index of photo hashes', 'photos'), 'near query': ('search of one hash, radius 6', 'one')}


def spent(command, good=(0,)):
    """Processor's seconds and the most memory of a program and those that it waited for."""
    process = subprocess.Popen([str(w) for w in command], stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    said = process.stderr.read()
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode not in good:
        sys.exit(f"scale: {' '.join(map(str, command))} ended with {process.returncode}: {said.decode(errors='replace')[:500]}")
    return {'cpu_s': used.ru_utime + used.ru_stime, 'rss_mb': used.ru_maxrss / 1024}


def spent_often(command, good=(0,)):
    """The mean of runs that together take a second, at most ten: for what changes nothing."""
    runs = [spent(command, good)]
    while len(runs) < 10 and sum(r['cpu_s'] for r in runs) < 1:
        runs.append(spent(command, good))
    return {'cpu_s': sum(r['cpu_s'] for r in runs) / len(runs), 'rss_mb': max(r['rss_mb'] for r in runs)}


def clock(pid):
    """Processor's seconds of a process so far, ended threads too, to the nanosecond (clock_getcpuclockid's number, Linux)."""
    return time.clock_gettime((~pid << 3) | 2)


def tables(store):
    """Bytes of the pages of each table with its indexes, by SQLite's own count; whole: the file."""
    db = sqlite3.connect(f'file:{store}/store.db?mode=ro', uri=True)
    of = dict(db.execute('SELECT name, tbl_name FROM sqlite_schema'))
    sums = {}
    for name, n in db.execute('SELECT name, sum(pgsize) FROM dbstat GROUP BY name'):
        sums[of.get(name, name)] = sums.get(of.get(name, name), 0) + n
    db.close()
    return sums


def ask_server(program, store):
    server = subprocess.Popen([program, 'serve', '--store', str(store), '--listen', '127.0.0.1:0', '--json'], stdout=subprocess.PIPE, text=True)
    try:
        port = json.loads(server.stdout.readline())['port']
        me = Caller(port, *sign_in(program, store, port, 'bench', '--role', 'owner'))
        of = look_around(me)
        me('GET', '/api/v1/campaign')
        got = {'board': {'cpu_s': clock(server.pid), 'rss_mb': memory_mb(server.pid)['VmRSS']}}
        for name, path in ASKED.items():
            path = path.format(**of)
            me('GET', path)
            n, begun = 0, clock(server.pid)
            while n < CALLS and clock(server.pid) - begun < CALL_S:
                me('GET', path)
                n += 1
            got[name] = {'cpu_s': (clock(server.pid) - begun) / n, 'calls': n}
        got['board']['rss_after_mb'] = memory_mb(server.pid)['VmHWM']
        return got
    finally:
        server.terminate()
        server.wait(timeout=120)


def make(program, bench, folder, n_units):
    """(store, what it cost). Claims first: the build list then holds their units among the others."""
    store, bulletin, tool, n = folder / 'store', folder / 'bulletin.yaml', bench / 'test' / 'bench' / 'bench_rule', n_units // UNITS_A_CLAIM
    bulletin.write_text(without_photos(BULLETIN.read_text(encoding='utf-8')), encoding='utf-8')
    got = {'claims in': spent([tool, 'make', store, n, EVENTS, bulletin])}
    size = sum(tables(store).values())
    got['claims in']['bytes'] = size
    got['ruled, all new'] = spent([tool, 'rule', store, bulletin]) | {'bytes': sum(tables(store).values()) - size}
    size += got['ruled, all new']['bytes']
    put_builds('true', folder, store, n_units)  # the list alone is written; it is brought in below, and measured
    got['units in'] = spent([program, 'store', 'builds', folder / 'builds.csv', '--store', store]) | {'bytes': sum(tables(store).values()) - size}
    (folder / 'builds.csv').unlink()
    return store, got


def measure_one(build, bench, folder, n_units, bags):
    program = build / 'mendwright'
    store, got = make(program, bench, folder, n_units)
    r = {'units': n_units, 'claims': n_units // UNITS_A_CLAIM, 'photos': PHOTOS_A_UNIT * n_units, 'load': os.getloadavg()[0], 'tables': tables(store), 'costs': got}
    got['ruled, again'] = spent([bench / 'test' / 'bench' / 'bench_rule', 'rule', store, folder / 'bulletin.yaml'])
    got |= ask_server(program, store)
    got['one ruled'] = spent_often([program, 'rule', '--store', store, '--claim', a_claim(store)], (0, 1, 4))
    got['campaign'] = spent_often([program, 'campaign', '--store', store, '--json'], (0, 1, 4))
    got['export units'] = spent_often([program, 'store', 'export', 'units', '-', '--store', store])
    got['export claims'] = spent_often([program, 'store', 'export', 'claims', '-', '--store', store])
    got['verify'] = spent([program, 'store', 'verify', '--store', store])
    near = json.loads(subprocess.run([bench / 'test' / 'bench' / 'bench_near', str(PHOTOS_A_UNIT * n_units), '200', '6'], check=True, capture_output=True, text=True).stdout)
    got['near build'], got['near query'] = {'cpu_s': near['build_s']}, {'cpu_s': near['near_us'] / 1e6}
    one = spent([program, 'take', *bags, '--store', store])
    got['bag in'] = {'cpu_s': one['cpu_s'] / len(bags), 'rss_mb': one['rss_mb']}
    r['load_after'] = os.getloadavg()[0]
    return r


def a_claim(store):
    db = sqlite3.connect(f'file:{store}/store.db?mode=ro', uri=True)
    claim = db.execute('SELECT claim FROM claims ORDER BY seq LIMIT 1 OFFSET 100').fetchone()[0]
    db.close()
    return claim


def keep(path, part, rows):
    all_ = json.loads(path.read_text()) if path.exists() else {}
    old = [r for r in all_.get(part, []) if r['units'] not in {x['units'] for x in rows}]
    all_[part] = sorted(old + rows, key=lambda r: r['units'])
    all_['machine'] = machine().rsplit(', load', 1)[0]
    path.write_text(json.dumps(all_, indent=1) + '\n')


def measure(options):
    build, bench = options.build.resolve(), options.bench.resolve()
    with tempfile.TemporaryDirectory(dir=options.folder, prefix='mw-scale-') as scratch:
        bags = pathlib.Path(scratch) / 'bags'
        bags.mkdir()
        made = []
        for i, data in enumerate(make_bags(build / 'mendwright', bags, BAGS)):
            made.append(bags / f'{i}.zip')
            made[-1].write_bytes(data)
        for n in options.units:
            folder = pathlib.Path(scratch) / str(n)
            folder.mkdir()
            row = measure_one(build, bench, folder, n, made)
            keep(options.out, 'rows', [row])
            shutil.rmtree(folder)
            print(f"{n:,} units, load {row['load']:.1f} to {row['load_after']:.1f}: " + ', '.join(f"{k} {v['cpu_s']:.4g} s" for k, v in row['costs'].items()), flush=True)


def measure_postgresql(options):
    """The store is made as a folder and copied: bytes of each relation with its indexes; the processor's time of the copying program alone."""
    import server as postgresql
    build, bench = options.build.resolve(), options.bench.resolve()
    with tempfile.TemporaryDirectory(dir=options.folder, prefix='mw-scale-') as scratch, postgresql.Server() as pg:
        for n in options.units:
            folder = pathlib.Path(scratch) / str(n)
            folder.mkdir()
            store, _ = make(build / 'mendwright', bench, folder, n)
            used = spent([build / 'mendwright', 'store', 'copy', store, pg.store(folder / 'files', f's{n}')])
            lines = pg.ask(f"SELECT relname, pg_total_relation_size(oid) FROM pg_class WHERE relkind = 'r' AND relnamespace = 's{n}'::regnamespace")
            sizes = {a: int(b) for a, b in (line.split('|') for line in lines)}
            keep(options.out, 'postgresql', [{'units': n, 'claims': n // UNITS_A_CLAIM, 'copy_cpu_s': used['cpu_s'], 'tables': sizes, 'sqlite': sum(tables(store).values())}])
            print(f"{n:,} units in PostgreSQL: {sum(sizes.values()) / 1e6:,.0f} MB, in SQLite {sum(tables(store).values()) / 1e6:,.0f} MB", flush=True)
            shutil.rmtree(folder)


# ---- what was measured ---------------------------------------------------------------------------

def amount(seconds):
    for unit, size in (('s', 1), ('ms', 1e-3), ('us', 1e-6)):
        if seconds >= size:
            return f'{seconds / size:.3g} {unit}'
    return f'{seconds / 1e-9:.3g} ns'


def hours(seconds):
    return f'{seconds:.3g} s' if seconds < 600 else f'{seconds / 60:.3g} min' if seconds < 7200 else f'{seconds / 3600:.3g} h'


def law(rows, key, field='cpu_s'):
    return growth.Fit([r['units'] for r in rows], [r['costs'][key][field] for r in rows])


def of_(row, key):
    return {'units': row['units'], 'claims': row['claims'], 'photos': row['photos'], 'one': 1}[TOLD[key][1] if key in TOLD else 'one']


def show_row(rows, key, what, far):
    fit = law(rows, key)
    one = {'units': 'unit', 'claims': 'claim', 'photos': 'photo', 'one': 'call'}[TOLD[key][1] if key in TOLD else 'one']
    cells = ' | '.join(amount(r['costs'][key]['cpu_s'] / of_(r, key)) for r in rows)
    low, high = fit.between(far)
    tell = hours if one != 'call' else amount
    print(f'| {what} | a {one} | {cells} | {fit.exponent:.3f} ± {fit.se:.3f} | {fit.low:.2f} to {fit.high:.2f} | {tell(fit.at(far))} ({tell(low)} to {tell(high)}) |')


def show_memory(rows, far):
    print('\n| memory at most, MB | ' + ' | '.join(f"{r['units']:,}" for r in rows) + f' | a unit more | at {far:.0e} units |')
    print('| --- |' + ' ---: |' * (len(rows) + 2))
    for key, field, what in (('board', 'rss_mb', 'the server, with the campaign in memory'), ('ruled, all new', 'rss_mb', 'ruling on all'), ('one ruled', 'rss_mb', 'ruling on one claim'),
                             ('campaign', 'rss_mb', 'campaign, by command'), ('verify', 'rss_mb', 'store verify'), ('units in', 'rss_mb', 'bringing in the build list')):
        mb = [r['costs'][key][field] for r in rows]
        slope = (mb[-1] - mb[-2]) / (rows[-1]['units'] - rows[-2]['units'])
        print(f'| {what} | ' + ' | '.join(f'{v:.0f}' for v in mb) + f' | {slope * 1e6:.0f} B | {(mb[-1] + slope * (far - rows[-1]["units"])) / 1000:.1f} GB |')


def show_bytes(rows, postgresql, far):
    print('\n| bytes in the store | ' + ' | '.join(f"{r['units']:,}" for r in rows) + ' | exponent ± its error | 95 % |')
    print('| --- |' + ' ---: |' * (len(rows) + 2))
    for key, each in (('claims in', 'claims'), ('ruled, all new', 'claims'), ('units in', 'units')):
        fit = law(rows, key, 'bytes')
        name = {'claims in': 'a claim, taken in', 'ruled, all new': 'a claim, ruled on', 'units in': 'a unit of the build list, two stations'}[key]
        print(f'| {name} | ' + ' | '.join(f"{r['costs'][key]['bytes'] / r[each]:,.0f}" for r in rows) + f' | {fit.exponent:.4f} ± {fit.se:.4f} | {fit.low:.3f} to {fit.high:.3f} |')
    last = rows[-1]
    print(f"\nof {last['units']:,} units: " + ', '.join(f'{name} {n / 1e6:,.0f} MB' for name, n in sorted(last['tables'].items(), key=lambda t: -t[1])[:8]))
    for p in postgresql:
        print(f"PostgreSQL, {p['units']:,} units: {sum(p['tables'].values()) / 1e6:,.0f} MB, {sum(p['tables'].values()) / p['sqlite']:.2f} times SQLite's {p['sqlite'] / 1e6:,.0f} MB; copied with {p['copy_cpu_s']:.1f} s of the program's own")


def show(options):
    about = json.loads(options.file.read_text())
    rows, far = about['rows'], options.far
    print(f"{about['machine']}; load " + ', '.join(f"{r['load']:.1f} to {r['load_after']:.1f}" for r in rows) + '\n')
    print('| processor time | of | ' + ' | '.join(f"{r['units']:,}" for r in rows) + f' | exponent of the whole ± its error | 95 % | the whole at {far:.0e} units, if the law holds |')
    print('| --- | --- |' + ' ---: |' * (len(rows) + 3))
    for key, (what, _) in TOLD.items():
        show_row(rows, key, what, far)
    for key in ASKED:
        show_row(rows, key, f'Desk: {key}', far)
    show_bytes(rows, about.get('postgresql', []), far)
    show_memory(rows, far)
    if options.svg:
        lines = [(name, [r['units'] for r in rows], [r['costs'][key]['cpu_s'] for r in rows]) for key, name in
                 (('verify', 'store verify'), ('claims in', 'taking in all claims'), ('units in', 'the build list'), ('ruled, all new', 'ruling on all'), ('one ruled', 'ruling on one claim'), ('claims, a hundred', 'a list of 100 claims'))]
        options.svg.write_text(growth.draw("Processor time by the number of units", lines, far, 'units (one claim to five); dashed: not measured', 'seconds'))


def main(argv):
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    verbs = parser.add_subparsers(required=True)
    for name, do in (('measure', measure), ('postgresql', measure_postgresql)):
        verb = verbs.add_parser(name)
        for word in ('build', 'bench', 'folder'):
            verb.add_argument(word, type=pathlib.Path)
        verb.add_argument('units', type=int, nargs='+')
        verb.add_argument('--out', type=pathlib.Path, default=pathlib.Path('scale.json'))
        verb.set_defaults(do=do)
    verb = verbs.add_parser('show')
    verb.add_argument('file', type=pathlib.Path)
    verb.add_argument('--svg', type=pathlib.Path)
    verb.add_argument('--far', type=float, default=1e8)
    verb.set_defaults(do=show)
    options = parser.parse_args(argv)
    options.do(options)


if __name__ == '__main__':
    main(sys.argv[1:])
