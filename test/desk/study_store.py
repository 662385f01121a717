#!/usr/bin/env python3
"""`study KIND --store` against the same study of a CSV file that Python exports from the store's tables by SQL, with labels, scope, repairs
and what stands worked out again here. The store is that of a small made-up campaign. Prints TAP.

usage: study_store.py PROGRAM
"""
import collections
import csv
import datetime
import json
import os
import pathlib
import re
import sqlite3
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / 'cli'))
from run import Tap  # noqa: E402

UNITS, SEED = 90, 7
# Bulletin OV-26-03, typed again: variants' windows as ISO weeks, both ends included; day of issue; limits of the gaps in mm.
WINDOWS = {'wd40': [('2024-W11', '2024-W15'), ('2024-W31', '2024-W33')],
           'wd55': [('2024-W12', '2024-W16'), ('2024-W38', '2024-W40')],
           'wd70': [('2024-W38', '2024-W39')]}
ISSUED = datetime.date(2026, 2, 16)
LOW, HIGH = '56', '61'


def read_label(label):
    """(variant, Monday, ISO week)"""
    found = re.fullmatch(r'(\S+) (\d{4})-W(\d{2})', label) or re.fullmatch(r'(\S+) WK (\d{2}) (\d{4})', label)
    variant, a, b = found.groups()
    year, week = (a, b) if len(a) == 4 else (b, a)
    return variant[:4].lower(), datetime.date.fromisocalendar(int(year), int(week), 1), f'{year}-W{week}'


def day_of(ms):
    return datetime.date(1970, 1, 1) + datetime.timedelta(days=ms // 86400000)


class Store:
    def __init__(self, folder, reports):
        db = sqlite3.connect(f'file:{folder}/store.db?mode=ro', uri=True)
        db.row_factory = sqlite3.Row
        self.claims = db.execute('SELECT * FROM claims ORDER BY seq').fetchall()
        self.readings = db.execute('SELECT * FROM readings ORDER BY claim_seq, n').fetchall()
        self.done = db.execute("SELECT * FROM stations ORDER BY claim_seq, n").fetchall()
        self.stands = {}
        words = set()
        for r in db.execute('SELECT claim_seq, kind, verdict FROM rulings ORDER BY seq'):
            if r['kind'] == 1 or (r['kind'] == 0 and r['claim_seq'] not in words):  # overruled; ruled
                self.stands[r['claim_seq']] = r['verdict']
            if r['kind'] == 1:
                words.add(r['claim_seq'])
        by_seq = {c['seq']: c for c in self.claims}
        self.failures = collections.defaultdict(list)
        self.heard = ISSUED
        with open(reports, newline='', encoding='utf-8') as file:
            for row in csv.DictReader(file):
                failed = datetime.date.fromisoformat(row['failed'])
                self.failures[row['vin'], row['station']].append(failed)
                self.heard = max(self.heard, failed, datetime.date.fromisoformat(row['reported']))
        self.repaired, self.claimed = {}, {}
        for s in self.done:
            claim = by_seq[s['claim_seq']]
            key = claim['vin'], s['station']
            taken = day_of(claim['taken_ms'])
            self.heard = max(self.heard, taken)
            self.claimed[key] = min(self.claimed.get(key, taken), taken)
            if s['kit'] and self.stands.get(claim['seq']) != 'refuse' and claim['finished_ms'] is not None:
                day = day_of(claim['finished_ms'])
                self.repaired[key] = min(self.repaired.get(key, day), day)
        self.sites = []
        for b in db.execute('SELECT vin, station, label FROM builds ORDER BY vin, station'):
            variant, monday, week = read_label(b['label'])
            is_in = any(first <= week <= last for first, last in WINDOWS[variant])
            self.sites.append((b['vin'], b['station'], variant, monday, is_in))

    def refused(self, seq):
        return self.stands.get(seq) == 'refuse'

    def first_failure(self, key):
        failed = sorted(self.failures.get(key, []))
        if not failed or (key in self.repaired and failed[0] > self.repaired[key]):
            return None
        return failed[0]

    def window(self, variant=None):
        days = collections.defaultdict(lambda: [0, 0])
        for vin, station, kind, monday, _ in self.sites:
            if variant in (None, kind):
                days[monday][0] += 1
                days[monday][1] += self.first_failure((vin, station)) is not None
        return ['day', 'built', 'failed'], [[d.isoformat(), *n] for d, n in sorted(days.items())]

    def life(self):
        out = []
        for vin, station, variant, monday, _ in self.sites:
            failed = self.first_failure((vin, station))
            end = failed or min(self.heard, self.repaired.get((vin, station), self.heard))
            out.append([(end - monday).days, int(failed is not None), variant])
        return ['t', 'e', 'g'], out

    def completion(self):
        units = collections.OrderedDict()
        for vin, station, _, _, is_in in self.sites:
            unit = units.setdefault(vin, [False, []])
            unit[0] |= is_in
            if (vin, station) in self.claimed:
                unit[1].append(self.claimed[vin, station])
        out = []
        for is_in, came in units.values():
            if is_in:
                out.append([max(((min(came) if came else self.heard) - ISSUED).days, 0.5 if came else 0), int(bool(came))])
        return ['t', 'e'], out

    def held(self):
        out = []
        for vin, station, _, _, is_in in self.sites:
            if not is_in:
                continue
            key = vin, station
            mended = self.repaired.get(key)
            sides = [(0, ISSUED, mended or self.heard)] + ([(1, mended, self.heard)] if mended else [])
            for repaired, first, last in sides:
                if last > first:
                    out.append([repaired, sum(first < f <= last for f in self.failures.get(key, [])), (last - first).days])
        return ['r', 'f', 't'], out

    def labour(self):
        shops = collections.defaultdict(list)
        for c in self.claims:
            if not self.refused(c['seq']) and c['labour_s'] and c['finished_ms'] is not None:
                shops[c['shop']].append((c['finished_ms'], c['seq'], c['labour_s']))
        return ['m', 'o', 'b'], [[repr(s / 60), i + 1, shop] for shop, jobs in sorted(shops.items())
                                 for i, (_, _, s) in enumerate(sorted(jobs))]

    def final(self):
        """(claim row, point, value in mm as an exact decimal), lengths only"""
        by_claim = collections.defaultdict(dict)
        for r in self.readings:
            now = by_claim[r['claim_seq']].get(r['point'])
            if r['phase'] == 'after' or now is None or now['phase'] != 'after':
                by_claim[r['claim_seq']][r['point']] = r
        for c in self.claims:
            if self.refused(c['seq']):
                continue
            for point, r in by_claim[c['seq']].items():
                if r['unit'] == 'nm':  # kept in nanometres
                    yield c, point, f"{r['value_nano'] // 1000000}.{r['value_nano'] % 1000000:06d}"

    def capability(self):
        return ['v', 'p', 'lo', 'hi'], [[v, point, LOW, HIGH] for c, point, v in sorted(self.final(), key=lambda f: (f[0]['seq'], POINTS.index(f[1])))]

    def digits(self):
        return ['v', 'b', 's'], [[v, c['shop'], c['claim']] for c, point, v in sorted(self.final(), key=lambda f: (f[0]['seq'], POINTS.index(f[1])))]

    def kits(self):
        used = collections.Counter(s['kit'] for s in self.done if s['kit'] and not self.refused(s['claim_seq']))
        return ['k', 'n'], [[k, used[k]] for k in KITS]

    def still_to_do(self):
        return sum(is_in and (vin, station) not in self.repaired for vin, station, _, _, is_in in self.sites)

    def finished_units(self):
        units = collections.defaultdict(list)
        for vin, station, _, _, is_in in self.sites:
            if is_in:
                units[vin].append((vin, station) in self.repaired)
        return sum(all(u) for u in units.values())


KITS = ['left-upper', 'left-lower', 'left-both', 'right-upper', 'right-lower', 'right-both']
POINTS = [f'{side}-{height}-{travel}' for side in ('fore', 'aft') for height in ('upper', 'lower') for travel in ('in', 'out')]


def call(program, *args):
    done = subprocess.run([program, *map(str, args)], capture_output=True, text=True, timeout=600)
    return done.returncode, done.stdout, done.stderr


def without_notes(out):
    answer = json.loads(out)
    answer.pop('assumptions', None)
    return answer


def prepare(program, folder):
    campaign, store = f'{folder}/campaign', f'{folder}/store'
    steps = [('demo', 'make', campaign, '--units', UNITS, '--seed', SEED), ('store', 'init', '--store', store),
             ('store', 'keep', 'bulletin', f'{campaign}/bulletin.yaml', '--store', store),
             ('store', 'keep', 'shops', f'{campaign}/shops.csv', '--store', store),
             ('store', 'keep', 'keys', f'{campaign}/keys.txt', '--store', store),
             ('store', 'keep', 'failures', f'{campaign}/reports.csv', '--store', store),
             ('store', 'builds', f'{campaign}/builds.csv', '--store', store),
             ('take', '--arrivals', f'{campaign}/arrivals.csv', '--store', store),
             ('rule', '--store', store, '--at', '2026-12-01T18:00:00Z')]
    for step in steps:
        code, _, err = call(program, *step)
        if code > 4 or code in (2, 3):
            raise SystemExit(f'{step}: exit {code}: {err}')
    return campaign, store


def same(tap, program, folder, store, kind, table, file_args, store_args=()):
    path = f'{folder}/{kind}.csv'
    with open(path, 'w', newline='', encoding='utf-8') as file:
        csv.writer(file).writerows([table[0], *table[1]])
    ours = call(program, 'study', kind, '--store', store, '--json', *store_args)
    theirs = call(program, 'study', kind, path, '--json', *file_args)
    told = (ours[0], ours[2], theirs[0], theirs[2], *[(k, without_notes(ours[1]).get(k), v) for k, v in without_notes(theirs[1]).items() if v != without_notes(ours[1]).get(k)][:3]) \
        if ours[1] and theirs[1] else (ours, theirs)
    ok = ours[0] == theirs[0] and ours[0] in (0, 1, 4) and '"cannot":' not in ours[1] \
        and without_notes(ours[1]) == without_notes(theirs[1])
    tap.ok(ok, f'{kind} {" ".join(map(str, store_args))}: the store\'s answer is that of {len(table[1])} rows exported by SQL', told)
    notes = json.loads(ours[1]).get('assumptions', []) if ok else []
    tap.ok(any(n['text'].startswith(('Rows:', 'The lot:')) for n in notes), f'{kind}: says which rows were used', notes)


def main():
    program = os.path.abspath(sys.argv[1])
    tap = Tap()
    with tempfile.TemporaryDirectory() as folder:
        campaign, store = prepare(program, folder)
        s = Store(store, f'{campaign}/reports.csv')
        kept = sum(map(len, s.failures.values()))
        tap.ok(kept > 10 and len(s.claims) > 20, 'the store holds claims and failures', (kept, len(s.claims)))

        def study(kind, table, file_args, store_args=()):
            same(tap, program, folder, store, kind, table, file_args, store_args)

        study('window', s.window(), ['--day', 'day', '--built', 'built', '--failed', 'failed'])
        study('window', s.window('wd55'), ['--day', 'day', '--built', 'built', '--failed', 'failed'], ['--variant', 'wd55'])
        study('life', s.life(), ['--time', 't', '--event', 'e', '--group', 'g'])
        study('completion', s.completion(), ['--time', 't', '--event', 'e'])
        study('held', s.held(), ['--repaired', 'r', '--failed', 'f', '--time', 't'])
        study('labour', s.labour(), ['--minutes', 'm', '--order', 'o', '--by', 'b'])
        # Gap gauge of the bulletin: resolution 0.1 mm, calibration 0.05 mm, repeatability 0.15 mm (JCGM 100:2008, 5.1.2 and F.2.2.1).
        u = (0.1 ** 2 / 12 + 0.05 ** 2 + 0.15 ** 2) ** 0.5
        study('capability', s.capability(), ['--value', 'v', '--point', 'p', '--low-column', 'lo', '--high-column', 'hi', '--u', f'{u:.6g} mm'])
        study('digits', s.digits(), ['--value', 'v', '--by', 'b', '--set', 's', '--step', '0.1'])
        study('stock', s.kits(), ['--kit', 'k', '--count', 'n', '--units', s.still_to_do()])
        ours = call(program, 'study', 'audit', '--store', store, '--aql', '1', '--lq', '10', '--json')
        theirs = call(program, 'study', 'audit', '--lot', s.finished_units(), '--aql', '1', '--lq', '10', '--json')
        tap.ok(ours[0] == theirs[0] == 0 and without_notes(ours[1]) == without_notes(theirs[1]), 'audit: the lot is the finished units', (ours, theirs))

        code, out, _ = call(program, 'study', 'gauge', '--store', store, '--json')
        tap.ok(code == 4 and 'measured in class' in json.loads(out)['cannot'], 'gauge: says that a store cannot answer', (code, out))
        code, _, err = call(program, 'study', 'window', f'{campaign}/days.csv', '--store', store)
        tap.ok(code == 2 and 'a file and --store' in err, 'a file and a store are too many', err)
        code, _, err = call(program, 'study', 'window', f'{campaign}/days.csv', '--day', 'day', '--failed', 'failed', '--variant', 'wd40')
        tap.ok(code == 2 and 'without --store' in err, '--variant wants a store', err)
        code, _, err = call(program, 'study', 'window', '--store', store, '--variant', 'wd99')
        tap.ok(code == 2 and "no variant 'wd99'" in err, 'a variant that is none is refused', err)
        code, _, err = call(program, 'study', 'held', '--store', store, '--notice', '2026-02-30')
        tap.ok(code == 2 and '--notice' in err, 'a day that is none is refused', err)
        code, out, _ = call(program, 'study', 'completion', '--store', store, '--until', '2026-01-01')
        tap.ok(code == 4 and 'before the notice' in out, 'watched until before the notice: cannot be answered', out)
        rows = f'{folder}/rows.csv'
        code, out, _ = call(program, 'study', 'window', '--store', store, '--rows', rows, '--json')
        again = call(program, 'study', 'window', rows, '--day', 'day', '--built', 'built', '--failed', 'failed', '--json')
        tap.ok(without_notes(out) == without_notes(again[1]), '--rows writes the rows that were used', again[2])

        for name, text, wanted in [('bad.csv', 'vin,station,failed\nX,fore,2026-01-01\n', 'expected a VIN'),
                                   ('day.csv', f'vin,station,failed\n{s.sites[0][0]},fore,2026-02-30\n', 'YYYY-MM-DD'),
                                   ('order.csv', f'vin,station,failed,reported\n{s.sites[0][0]},fore,2026-02-03,2026-02-01\n', 'before the day'),
                                   ('twice.csv', f'vin,station,failed\n{s.sites[0][0]},fore,2026-02-03\n{s.sites[0][0]},fore,2026-02-03\n', 'twice'),
                                   ('head.csv', 'vin,station\n', 'failed')]:
            with open(f'{folder}/{name}', 'w', encoding='utf-8') as file:
                file.write(text)
            code, _, err = call(program, 'store', 'keep', 'failures', f'{folder}/{name}', '--store', store)
            tap.ok(code == 2 and wanted in err, f'a list of failures with a fault is refused: {name}', err)
        empty = f'{folder}/empty'
        call(program, 'store', 'init', '--store', empty)
        code, _, err = call(program, 'study', 'window', '--store', empty)
        tap.ok(code == 2 and 'no bulletin is kept' in err, 'a store without a bulletin says so', err)
        call(program, 'store', 'keep', 'bulletin', f'{campaign}/bulletin.yaml', '--store', empty)
        for kind in ('window', 'life', 'completion', 'held', 'labour', 'capability', 'digits', 'stock', 'audit'):
            code, out, err = call(program, 'study', kind, '--store', empty, *(['--aql', '1', '--lq', '10'] if kind == 'audit' else []))
            tap.ok(code == 4 and 'cannot answer' in out, f'{kind}: a store without rows cannot answer', (code, out, err))
    sys.exit(tap.done())


if __name__ == '__main__':
    main()
