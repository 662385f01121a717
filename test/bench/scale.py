#!/usr/bin/env python3
"""scale: what a unit and a claim cost in stores of 10^4 to 10^6 units, with the exponents by which it grows (growth.py), and what the same
laws say of 10^8. Costs are the processor's time (user and system) of the programs and of the server, so that what else runs on the machine
counts little; wall clock is never told. Claims are those of the rulings' bench (no photos, one claim to five units); photos are looked at by
bags of the example job, and searched for among made-up hashes.

usage: scale.py measure BUILD BENCH_BUILD FOLDER UNITS... [--out FILE.json] [--store STORE]     stores are made in FOLDER, one after the other, and removed
       scale.py show FILE.json [MORE.json...] [--svg FILE.svg] [--far 1e8]      the tables and exponents of what was measured
       scale.py postgresql BUILD BENCH_BUILD FOLDER UNITS... [--out FILE.json]  bytes of the same stores in PostgreSQL
A FILE.json that is there is added to. On a folder in memory (/dev/shm) nothing waits for a disk; the processor's time hardly differs.
"""
import argparse
import http.client
import json
import math
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
START = 1000  # units: a smaller store tells what starting costs
ASKED = {'campaign, news since': '/api/v1/campaign?since=1700000000000', 'claims, a hundred': '/api/v1/claims?limit=100', 'claims to be paid': '/api/v1/claims?limit=100&needs=payment',
         'claims by VIN tail': '/api/v1/claims?limit=100&tail={tail}', 'a claim': '/api/v1/claims/{claim}', 'units by VIN, 4 characters': '/api/v1/units?limit=20&vin={tail4}',
         'units by label': '/api/v1/units?limit=20&label=WD40%202024-W1', 'audit': '/api/v1/audit?limit=50'}
# key: (what it is, what it is of, unit of the table). Of: units, claims, photos (the whole is measured), or one (a single call).
TOLD = {'units in': ('bringing in the build list', 'units'), 'claims in': ('taking in claims', 'claims'), 'bag in': ('taking in a bag with photos', 'one'),
        'ruled, all new': ('ruling, each one written', 'claims'), 'ruled, again': ('ruling, nothing new', 'claims'), 'ruled, the new': (f'ruling on the {BAGS} claims that came in', 'one'), 'one ruled': ('ruling on one claim', 'one'),
        'board': ('campaign, from the start of the server', 'units'), 'campaign': ('campaign, by command', 'units'), 'verify': ('store verify', 'units'),
        'export units': ('export of units, CSV', 'units'), 'export claims': ('export of claims, CSV', 'claims'),
        'near build': ('index of photo hashes', 'photos'), 'near query': ('search of one hash, radius 6', 'one')}
# What has a start that is no part of its growth, and what is drawn.
GROWING = ('units in', 'claims in', 'ruled, all new', 'ruled, again', 'ruled, the new', 'one ruled', 'board', 'campaign', 'verify', 'export units', 'export claims')
DRAWN = (('verify', 'store verify'), ('claims in', 'taking in all claims'), ('ruled, again', 'ruling on all'), ('units in', 'the whole build list'), ('board', 'campaign, at the start'),
         ('one ruled', 'ruling on one claim'), ('claims, a hundred', 'a list of 100 claims'))


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
        begun = clock(server.pid)
        at = me('POST', '/api/v1/rulings', '{}', good=(202,))[2]['Location']
        while json.loads(me('GET', at)[1])['state'] in ('waiting', 'running'):
            time.sleep(0.05)
        got['ruled, the new'] = {'cpu_s': clock(server.pid) - begun}
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


def look_at(build, bench, folder, store, n_units, bags):
    """What the store costs that is there."""
    program, got = build / 'mendwright', {}
    got['ruled, again'] = spent([bench / 'test' / 'bench' / 'bench_rule', 'rule', store, folder / 'bulletin.yaml'])
    one = spent([program, 'take', *bags, '--store', store])
    got['bag in'] = {'cpu_s': one['cpu_s'] / len(bags), 'rss_mb': one['rss_mb']}
    got |= ask_server(program, store)
    got['one ruled'] = spent_often([program, 'rule', '--store', store, '--claim', a_claim(store)], (0, 1, 4))
    got['campaign'] = spent_often([program, 'campaign', '--store', store, '--json'], (0, 1, 4))
    got['export units'] = spent_often([program, 'store', 'export', 'units', '-', '--store', store])
    got['export claims'] = spent_often([program, 'store', 'export', 'claims', '-', '--store', store])
    got['verify'] = spent([program, 'store', 'verify', '--store', store])
    near = json.loads(subprocess.run([bench / 'test' / 'bench' / 'bench_near', str(PHOTOS_A_UNIT * n_units), '200', '6'], check=True, capture_output=True, text=True).stdout)
    got['near build'], got['near query'] = {'cpu_s': near['build_s']}, {'cpu_s': near['near_us'] / 1e6}
    return got


def a_claim(store):
    db = sqlite3.connect(f'file:{store}/store.db?mode=ro', uri=True)
    claim = db.execute('SELECT claim FROM claims ORDER BY seq LIMIT 1 OFFSET (SELECT count(*) / 2 FROM claims)').fetchone()[0]
    db.close()
    return claim


def put(all_, part, row):
    """A row of so many units, or more about one that is there."""
    old = next((r for r in all_.setdefault(part, []) if r['units'] == row['units']), {'costs': {}})
    row = old | row | {'costs': old['costs'] | row.get('costs', {})}
    all_[part] = sorted([r for r in all_[part] if r['units'] != row['units']] + [row], key=lambda r: r['units'])


def keep(path, part, row):
    all_ = json.loads(path.read_text()) if path.exists() else {}
    put(all_, part, row)
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
            folder, load = pathlib.Path(scratch) / str(n), os.getloadavg()[0]
            folder.mkdir()
            if options.store:
                store = shutil.copytree(options.store, folder / 'store')
                (folder / 'bulletin.yaml').write_text(without_photos(BULLETIN.read_text(encoding='utf-8')), encoding='utf-8')
            else:
                store, got = make(build / 'mendwright', bench, folder, n)
                keep(options.out, 'rows', {'units': n, 'claims': n // UNITS_A_CLAIM, 'photos': PHOTOS_A_UNIT * n, 'load': load, 'tables': tables(store), 'costs': got})
                tell(n, got)
            got = look_at(build, bench, folder, store, n, made)
            keep(options.out, 'rows', {'units': n, 'costs': got, 'load_after': os.getloadavg()[0]})
            tell(n, got)
            shutil.rmtree(folder)


def tell(n, costs):
    print(f'{n:,} units: ' + ', '.join(f"{k} {v['cpu_s']:.4g} s" for k, v in costs.items()), flush=True)


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
            keep(options.out, 'postgresql', {'units': n, 'claims': n // UNITS_A_CLAIM, 'copy_cpu_s': used['cpu_s'], 'tables': sizes, 'sqlite': sum(tables(store).values())})
            print(f"{n:,} units in PostgreSQL: {sum(sizes.values()) / 1e6:,.0f} MB, in SQLite {sum(tables(store).values()) / 1e6:,.0f} MB", flush=True)
            shutil.rmtree(folder)


# ---- what was measured ---------------------------------------------------------------------------

def amount(seconds):
    for unit, size in (('s', 1), ('ms', 1e-3), ('us', 1e-6)):
        if seconds >= size:
            return f'{seconds / size:.3g} {unit}'
    return f'{seconds / 1e-9:.3g} ns'


def hours(seconds):
    return amount(seconds) if seconds < 1 else f'{seconds:.3g} s' if seconds < 600 else f'{seconds / 60:.3g} min' if seconds < 7200 else f'{seconds / 3600:.3g} h'


def law(rows, key, field='cpu_s'):
    return growth.Fit([r['units'] for r in rows], [r['costs'][key][field] for r in rows])


def without_start(rows):
    """The rows of at least START units; from what grows, the cost in the store of fewer is taken off: starting the program, reading the bulletin."""
    rows = [r for r in rows if {*TOLD, *ASKED} <= r['costs'].keys()]  # a run that goes on has rows that are not whole
    small = next((r for r in rows if r['units'] < START), None)
    rows = json.loads(json.dumps([r for r in rows if r['units'] >= START]))
    for r in rows:
        for key in GROWING if small else ():
            r['costs'][key]['cpu_s'] -= small['costs'][key]['cpu_s'] * (1 - small['units'] / r['units'])
    return rows


def each_of(row, key):
    return row[TOLD[key][1]] if key in TOLD and TOLD[key][1] != 'one' else 1


def show_times(rows, far):
    print('| processor time | of | ' + ' | '.join(f"{r['units']:,}" for r in rows) + f' | exponent of the whole ± its error | 95 % | the whole at {size_of(far)} units, if the law holds |')
    print('| --- | --- |' + ' ---: |' * (len(rows) + 3))
    for key in [*TOLD, *ASKED]:
        what, of = TOLD.get(key, (f'Desk: {key}', 'one'))
        fit, one = law(rows, key), {'units': 'unit', 'claims': 'claim', 'photos': 'photo', 'one': 'call'}[of]
        low, high = fit.between(far)
        cells = ' | '.join(amount(r['costs'][key]['cpu_s'] / each_of(r, key)) for r in rows)
        print(f'| {what} | {one} | {cells} | {fit.exponent:.3f} ± {fit.se:.3f} | {fit.low:.2f} to {fit.high:.2f} | {hours(fit.at(far))} ({hours(low)} to {hours(high)}) |')


MEMORY = (('board', 'rss_mb', 'the server, with the campaign in memory'), ('ruled, again', 'rss_mb', 'ruling on all'), ('one ruled', 'rss_mb', 'ruling on one claim'),
          ('campaign', 'rss_mb', 'campaign, by command'), ('verify', 'rss_mb', 'store verify'), ('units in', 'rss_mb', 'bringing in the build list'))


def line(rows, key, field):
    """(a, b) of the straight line a + b units through the two largest: memory has a start that no power law has."""
    (x0, y0), (x1, y1) = ((r['units'], r['costs'][key][field]) for r in rows[-2:])
    return y1 - x1 * (y1 - y0) / (x1 - x0), (y1 - y0) / (x1 - x0)


def show_memory(rows, far):
    print('\n| memory at most, MB | ' + ' | '.join(f"{r['units']:,}" for r in rows) + f' | a unit more | at {size_of(far)} units, by the line through the last two |')
    print('| --- |' + ' ---: |' * (len(rows) + 2))
    for key, field, what in MEMORY:
        start, slope = line(rows, key, field)
        grown = f'{slope * 1e6:.0f} B | {(start + slope * far) / 1000:.1f} GB' if slope > 0 else 'none | as now'
        print(f'| {what} | ' + ' | '.join(f"{r['costs'][key][field]:.0f}" for r in rows) + f' | {grown} |')


def show_bytes(rows, postgresql, far):
    print('\n| bytes in the store | ' + ' | '.join(f"{r['units']:,}" for r in rows) + f' | exponent ± its error | 95 % | the whole at {size_of(far)} units |')
    print('| --- |' + ' ---: |' * (len(rows) + 3))
    for key, each, name in (('claims in', 'claims', 'a claim, taken in'), ('ruled, all new', 'claims', 'a claim, ruled on'), ('units in', 'units', 'a unit of the build list, two stations')):
        fit = law(rows, key, 'bytes')
        print(f'| {name} | ' + ' | '.join(f"{r['costs'][key]['bytes'] / r[each]:,.0f}" for r in rows) + f' | {fit.exponent:.4f} ± {fit.se:.4f} | {fit.low:.3f} to {fit.high:.3f} | {fit.at(far) / 1e9:,.0f} GB |')
    last = rows[-1]
    print(f"\nof {last['units']:,} units: " + ', '.join(f'{name} {n / 1e6:,.0f} MB' for name, n in sorted(last['tables'].items(), key=lambda t: -t[1])[:6]))
    for p in postgresql:
        print(f"PostgreSQL, {p['units']:,} units: {sum(p['tables'].values()) / 1e6:,.0f} MB, {sum(p['tables'].values()) / p['sqlite']:.2f} times SQLite's {p['sqlite'] / 1e6:,.0f} MB; copied with {p['copy_cpu_s']:.1f} s of the program's own")


# What no store of ours can tell. A guess is called a guess wherever it is shown.
GUESSED = {'years': 3, 'days': 250, 'hours': 10, 'peak': 5, 'photo_mb': 0.5, 'asked': 50}
PHOTOS_A_CLAIM = 15  # the example job's
LOOK_S = 0.14  # of a photo of 2048 x 1536, as the phone keeps them: measured by hand, doc/scale.md says how
PHOTO_B, ENTRIES_A_CLAIM = 172, 59  # counted from src/desk/known_inner.h and near.h; 57 events, the claim, its ruling: the bench's job


def show_need(rows, postgresql, far):
    """What so many units need: each line its figure, and how it was come by."""
    g, claims = GUESSED, far / UNITS_A_CLAIM
    gb = sum(law(rows, key, 'bytes').at(far) for key in ('claims in', 'ruled, all new', 'units in')) / 1e9
    ratio = sum(sum(p['tables'].values()) / p['sqlite'] for p in postgresql) / len(postgresql) if postgresql else math.nan
    a_day = claims / g['years'] / g['days']
    peak = a_day / g['hours'] * g['peak'] / 3600
    write = sum(law(rows, key).at(far) for key in ('claims in', 'ruled, all new')) / claims
    bag = rows[-1]['costs']['bag in']['cpu_s'] + PHOTOS_A_CLAIM * LOOK_S
    call = max(law(rows, key).at(far) for key in ASKED)
    photos = claims * PHOTOS_A_CLAIM
    print(f"""
{size_of(far)} units, {size_of(claims)} claims ({UNITS_A_CLAIM} units a claim, as measured)
| the log and its tables, SQLite | {gb:,.0f} GB | the laws of bytes |
| the same in PostgreSQL | {gb * ratio:,.0f} GB | {ratio:.2f} times, measured at {', '.join(f"{p['units']:,}" for p in postgresql)} units |
| entries of the log | {size_of(claims * ENTRIES_A_CLAIM)} | {ENTRIES_A_CLAIM} a claim |
| partitions of the log | {claims * ENTRIES_A_CLAIM / 1e6:,.0f}, or {claims * ENTRIES_A_CLAIM / 1e7:,.0f} | of 1 000 000 entries (the usual), or 10 000 000 |
| photos' files | {photos * g['photo_mb'] / 1e6:,.0f} TB | {PHOTOS_A_CLAIM} a claim (the example job); guess: {g['photo_mb']} MB each |
| claims a working day | {a_day:,.0f} | guess: {g['years']} years of {g['days']} days |
| claims a second, busiest hour | {peak:.1f} | guess: {g['hours']} hours a day, the busiest {g['peak']} times the mean |
| of the one writer, busiest hour | {100 * peak * write:.2g} % of a processor | {1000 * write:.2g} ms a claim, taken in and ruled on |
| looking at bags, busiest hour | {peak * bag:.1f} processors | {bag:.2g} s a bag: {PHOTOS_A_CLAIM} photos of 2048 x 1536 |
| the Desk's calls, busiest hour | {peak * g['asked'] * call:.2g} processors | guess: {g['asked']} calls a claim; {1000 * call:.2g} ms, the dearest list by its law |
| memory of each server | {sum(a + b * far for a, b in [line(rows, 'board', 'rss_mb')]) / 1000:.0f} GB | the line of memory |
| memory of ruling, without photos | {sum(a + b * far for a, b in [line(rows, 'ruled, again', 'rss_mb')]) / 1000:.0f} GB | the line of memory |
| and of its photos | {photos * PHOTO_B / 1e9:.0f} GB | {PHOTO_B} bytes a photo, counted from the program's structures |""")


# (what, unit of the bound, bound, why): bounds are choices of ours, no measurement.
BOUNDS = (('one ruled', 'cpu_s', 10, '`rule --claim` takes 10 s'), ('ruled, the new', 'cpu_s', 600, 'ruling on what is new takes 10 min'), ('ruled, again', 'cpu_s', 8 * 3600, 'ruling on all takes a night, 8 h'),
          ('board', 'cpu_s', 300, 'the campaign is there 5 min after a server starts'), ('verify', 'cpu_s', 24 * 3600, 'verify takes a day'), ('export units', 'cpu_s', 600, 'an export takes 10 min'),
          ('near query', 'cpu_s', 0.1, 'a photo is searched for 0.1 s'), ('claims to be paid', 'cpu_s', 0.1, 'a list of the Desk takes 0.1 s'),
          ('board', 'rss_mb', 8000, 'a server needs 8 GB of memory'), ('ruled, again', 'rss_mb', 8000, 'ruling needs 8 GB of memory, photos not counted'))


def size_of(units):
    return 'beyond 1e15' if math.isinf(units) else f'{units:.1e}'.replace('e+0', 'e').replace('e+', 'e')


def show_bounds(rows, far):
    print('\nat how many units a bound of ours is reached, by the law or line above; first what comes first')
    found = []
    for key, field, bound, why in BOUNDS:
        if field == 'cpu_s':
            fit = law(rows, key)
            at = lambda f, bound=bound: next((10 ** (k / 50) for k in range(200, 751) if f(10 ** (k / 50)) >= bound), math.inf)  # noqa: E731
            spread = (at(lambda n, fit=fit: fit.between(n)[1]), at(lambda n, fit=fit: fit.between(n)[0]))
            found.append((at(fit.at), why, f'{size_of(spread[0])} to {size_of(spread[1])}'))
        else:
            start, slope = line(rows, key, field)
            found.append(((bound - start) / slope if slope > 0 else math.inf, why, 'a straight line through two: no interval'))
    for size, why, spread in sorted(found):
        print(f'| {size_of(size)} | {why} | {spread} |')


def show(options):
    about = json.loads(options.file.read_text())
    for other in options.more:
        for part, more in json.loads(other.read_text()).items():
            for row in more if part in ('rows', 'postgresql') else ():
                put(about, part, row)
    rows = without_start(about['rows'])
    print(f"{about['machine']}; load when a size was begun: " + ', '.join(f"{r['load']:.0f}" for r in rows) + '\n')
    show_times(rows, options.far)
    show_bytes(rows, about.get('postgresql', []), options.far)
    show_memory(rows, options.far)
    show_need(rows, about.get('postgresql', []), options.far)
    show_bounds(rows, options.far)
    if options.svg:
        lines = [(name, [r['units'] for r in rows], [r['costs'][key]['cpu_s'] for r in rows]) for key, name in DRAWN]
        options.svg.write_text(growth.draw('Processor time by the number of units', lines, options.far, 'units (a claim to every five); dashed: not measured, shaded: 95 %', 'seconds'))


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
        if do is measure:
            verb.add_argument('--store', type=pathlib.Path, help='a store of so many units that is there already: a copy of it is looked at, nothing is made')
    verb = verbs.add_parser('show')
    verb.add_argument('file', type=pathlib.Path)
    verb.add_argument('more', type=pathlib.Path, nargs='*')
    verb.add_argument('--svg', type=pathlib.Path)
    verb.add_argument('--far', type=float, default=1e8)
    verb.set_defaults(do=show)
    options = parser.parse_args(argv)
    options.do(options)


if __name__ == '__main__':
    main(sys.argv[1:])
