#!/usr/bin/env python3
"""The made-up campaign as Python sees it: its own csv, zipfile, hashlib, datetime and statistics against what the program wrote.
The figures of bulletin OV-26-03 are typed again here. Prints TAP.

usage: campaign.py PROGRAM
"""
import csv
import datetime
import filecmp
import hashlib
import json
import os
import pathlib
import re
import statistics
import subprocess
import sys
import tempfile
import zipfile

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / 'cli'))
from run import ROOT, Tap  # noqa: E402

UNITS, SEED, FAULTY = 150, 41, 60
# Bulletin OV-26-03: variants' windows as ISO weeks, both ends included.
WINDOWS = {'WD40': [('2024-W11', '2024-W15'), ('2024-W31', '2024-W33')],
           'WD55': [('2024-W12', '2024-W16'), ('2024-W38', '2024-W40')],
           'WD70': [('2024-W38', '2024-W39')]}
LOW, HIGH, KERF = 56_000_000, 61_000_000, 1_600_000
# Gap gauge: resolution 0.1 mm, calibration 0.05 mm, repeatability 0.15 mm (JCGM 100:2008, F.2.2.1 and 5.1.2); risk 5 % a side.
GAP_U = (100_000 ** 2 / 12 + 50_000 ** 2 + 150_000 ** 2) ** 0.5
GUARD = statistics.NormalDist().inv_cdf(0.95) * GAP_U

# 49 CFR 565.15, tables III and IV, typed from the regulation.
VALUES = dict(zip('ABCDEFGHJKLMNPRSTUVWXYZ', (1, 2, 3, 4, 5, 6, 7, 8, 1, 2, 3, 4, 5, 7, 9, 2, 3, 4, 5, 6, 7, 8, 9)))
WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)


def check_digit(vin):
    total = sum(w * (int(c) if c.isdigit() else VALUES[c]) for w, c in zip(WEIGHTS, vin))
    return 'X' if total % 11 == 10 else str(total % 11)


def week_of(label):
    """(variant, ISO week) of a label by either pattern; None when it is neither."""
    found = re.fullmatch(r'(\S+) (\d{4})-W(\d{2})', label) or re.fullmatch(r'(\S+) WK (\d{2}) (\d{4})', label)
    if not found:
        return None
    variant, a, b = found.groups()
    year, week = (a, b) if len(a) == 4 else (b, a)
    datetime.date.fromisocalendar(int(year), int(week), 1)  # raises when there is no such week
    return variant, f'{year}-W{week}'


def is_in(label):
    variant, week = week_of(label)
    return any(first <= week <= last for first, last in WINDOWS[variant[:4]])


def rows(path):
    with open(path, newline='', encoding='utf-8') as file:
        return list(csv.DictReader(file))


def make(program, folder, *more):
    return subprocess.run([program, 'demo', 'make', folder, '--units', str(UNITS), '--seed', str(SEED), '--faulty', str(FAULTY),
                           '--json', *more], capture_output=True, text=True, timeout=800)


def trees_differ(a, b):
    """Relative paths that are not the same, byte for byte."""
    names = [sorted(os.path.relpath(os.path.join(d, f), top) for d, _, files in os.walk(top) for f in files) for top in (a, b)]
    if names[0] != names[1]:
        return sorted(set(names[0]) ^ set(names[1]))
    return filecmp.cmpfiles(a, b, names[0], shallow=False)[1]


class Bag:
    """One zip: its events, what is in it, and whether its sums hold."""

    def __init__(self, path):
        with zipfile.ZipFile(path) as z:
            self.zip_is_sound = z.testzip() is None
            top = z.namelist()[0].split('/')[0]
            self.files = {n[len(top) + 1:]: z.read(n) for n in z.namelist()}
        self.head = json.loads(self.files['data/events.json'])
        self.events = self.head['events']
        lines = self.files['manifest-sha256.txt'].decode().splitlines()
        self.sums_hold = all(hashlib.sha256(self.files[p]).hexdigest() == s for s, p in (line.split('  ', 1) for line in lines))

    def of(self, kind):
        return [e for e in self.events if e['type'] == kind]

    def last(self, point):
        return [e for e in self.of('reading_taken') if e['payload']['point'] == point][-1]


def test_units(tap, folder):
    builds = rows(folder / 'builds.csv')
    vins = {r['vin'] for r in builds}
    tap.ok(len(vins) == UNITS and len(builds) == 2 * UNITS, 'two columns for each unit', len(builds))
    tap.ok(all(len(v) == 17 and v[8] == check_digit(v) for v in vins), 'every check digit is right (49 CFR 565.15)')
    tap.ok(all(week_of(r['label']) for r in builds), 'every label is a variant and an ISO week that exists')
    share = sum(is_in(r['label']) for r in builds) / len(builds)
    tap.ok(0.4 < share < 0.7, 'about half of the columns are in', share)
    failures = rows(folder / 'failures.csv')
    tap.ok(len(failures) == 2 * UNITS and {r['failed'] for r in failures} <= {'0', '1'}, 'a failure or none for each column')
    days = rows(folder / 'days.csv')
    tap.ok(sum(int(r['built']) for r in days) == 2 * UNITS and
           sum(int(r['failed']) for r in days) == sum(r['failed'] == '1' for r in failures), 'the same by day')
    reports = rows(folder / 'reports.csv')
    told = {(r['vin'], r['station']) for r in failures if r['failed'] == '1'}
    before = {(r['vin'], r['station']) for r in reports if r['failed'] <= '2026-02-16'}
    tap.ok(before == told, 'failure reports up to the day of issue are the failures of the studies', before ^ told)
    tap.ok(all(r['failed'] <= r['reported'] for r in reports) and any(r['failed'] > '2026-02-16' for r in reports), 'and some came later')
    weeks = [datetime.date.fromisoformat(r['built']).isocalendar() for r in failures]
    tap.ok(all(week_of(b['label'])[1] == f'{w[0]}-W{w[1]:02d}' for b, w in zip(builds, weeks)),
           "labels say the week in which the column was built (Python's calendar)")


def clean_faults(bag):
    """What an honest job must show, worked out here."""
    label = {e['station']: e['payload']['text'] for e in bag.of('label_read')}
    done = sorted({e['station'] for e in bag.of('kit_chosen')})
    found = []
    if done != sorted(s for s, text in label.items() if is_in(text)):
        found.append('worked on other columns than are in')
    gaps = {e['payload']['point'] for e in bag.of('reading_taken') if e['payload'].get('step') == 'true-room'}
    values = [bag.last(p)['payload']['value_nm'] for p in gaps]
    if len(gaps) != 8 or not all(LOW + GUARD <= v <= HIGH - GUARD for v in values):
        found.append('a gap that is not surely inside')
    for e in bag.of('cut'):
        p = e['payload']
        if p['needed_nm'] + KERF + p['offcut_nm'] != p['stock_nm'] or p['mark_nm'] != p['needed_nm']:
            found.append('a cut that does not add up')
    times = [e['at_ms'] for e in bag.events]
    if times != sorted(times) or [e['id'] for e in bag.events] != sorted(e['id'] for e in bag.events):
        found.append('events out of order')
    if bag.events[0]['type'] != 'opened' or bag.events[-1]['type'] != 'finished':
        found.append('does not begin with opened and end with finished')
    photos = {(e.get('station'), e['payload']['photo']) for e in bag.of('photo_taken')}
    wanted = {(s, p) for s in done for p in ('label', 'old-racks', 'cut-ends', 'racks-timed', 'fixings', 'seal')}
    if not wanted | {(None, 'room-supported'), (None, 'supply-isolated'), (None, 'finished')} <= photos:
        found.append('a photo is missing')
    if any(hashlib.sha256(bag.files['data/' + e['payload']['path']]).hexdigest() != e['payload']['sha256']
           for e in bag.of('photo_taken')):
        found.append('a photo with another sum')
    return found


def test_claims(tap, folder):
    truth = json.loads((folder / 'truth.json').read_text(encoding='utf-8'))
    builds = {}
    for r in rows(folder / 'builds.csv'):
        builds.setdefault(r['vin'], {})[r['station']] = r['label']
    bags = {c['bag']: Bag(folder / 'bags' / c['bag']) for c in truth['claims']}
    kinds = {c['kind'] for c in truth['claims']}
    arrivals = rows(folder / 'arrivals.csv')
    tap.ok([r['bag'] for r in arrivals] == ['bags/' + b for b in sorted(bags)] and sorted(os.listdir(folder / 'bags')) == sorted(bags),
           'a bag and an arrival for each claim')
    tap.ok([int(r['arrived_ms']) for r in arrivals] == sorted(int(r['arrived_ms']) for r in arrivals), 'bags are in the order of arrival')
    tap.ok(all(b.zip_is_sound for b in bags.values()), 'every zip is sound')
    unsound = [c['bag'] for c in truth['claims'] if bags[c['bag']].sums_hold == (c['kind'] == 'tampered')]
    tap.ok(not unsound, "every bag's sums hold, but for one that was tampered with", unsound)
    tap.ok(all(bags[c['bag']].events[0]['id'] == c['job'] for c in truth['claims']), "a claim's job is its first event")
    tap.ok(all(b.head['invented'] for b in bags.values()), 'every job says that it is invented')
    for c in truth['claims']:
        bag = bags[c['bag']]
        if c['kind'] == 'clean':
            found = clean_faults(bag)
            typed = {e['station']: e['payload']['text'] for e in bag.of('label_read')}
            if builds.get(bag.head['vin']) != typed:
                found.append('labels unlike the build list')
            tap.ok(not found, f"{c['bag']} is clean", found)
    spans = {}
    for c in truth['claims']:
        if c['kind'] != 'two-at-once':
            b = bags[c['bag']]
            spans.setdefault(b.events[0]['technician'], []).append((b.events[0]['at_ms'], b.events[-1]['at_ms']))
    tap.ok(all(a[1] < b[0] for s in spans.values() for a, b in zip(sorted(s), sorted(s)[1:])),
           'nobody is at two units at once unless that was planted')
    return truth, bags, kinds


def test_faults(tap, truth, bags, kinds):
    """Each planted fault of which Python can see the trace, by other means than the desk's."""
    by_kind = {}
    for c in truth['claims']:
        by_kind.setdefault(c['kind'], []).append((c, bags[c['bag']]))
    digests = {c['bag']: {hashlib.sha256(v).hexdigest() for k, v in bags[c['bag']].files.items() if k.endswith('.jpg')}
               for c in truth['claims']}

    def all_of(kind, what, holds):
        if kind in by_kind:
            bad = [c['bag'] for c, bag in by_kind[kind] if not holds(c, bag)]
            tap.ok(not bad, f'{kind}: {what}', bad)

    all_of('vin-wrong', 'the check digit is wrong', lambda c, b: b.head['vin'][8] != check_digit(b.head['vin']))
    all_of('out-of-scope', 'a column that is out was done',
           lambda c, b: not is_in({e['station']: e['payload']['text'] for e in b.of('label_read')}[c['station']]))
    all_of('label-unreadable', 'the label is by no pattern',
           lambda c, b: not week_of({e['station']: e['payload']['text'] for e in b.of('label_read')}[c['station']]))
    all_of('copy-bytes', 'a photo of the earlier claim lies in it', lambda c, b: digests[c['bag']] & digests[c['source']])
    all_of('photo-missing', 'fewer photos than events of an honest job', lambda c, b: 'a photo is missing' in clean_faults(b))
    all_of('photo-broken', 'a JPEG without its end', lambda c, b: any(
        k.endswith('.jpg') and not v.endswith(b'\xff\xd9') for k, v in b.files.items()))
    all_of('readings-copied', 'every final reading is the same', lambda c, b: all(
        b.last(e['payload']['point'])['payload'].get('value_nm') == bags[c['source']].last(e['payload']['point'])['payload'].get('value_nm')
        for e in b.of('reading_taken')))
    all_of('reading-outside', 'beyond a limit by more than the guard', lambda c, b: not (
        LOW - GUARD <= b.last(c['where'])['payload']['value_nm'] <= HIGH + GUARD))
    all_of('reading-uncertain', 'inside, but not by the guard', lambda c, b: (
        LOW <= b.last(c['where'])['payload']['value_nm'] < LOW + GUARD or
        HIGH - GUARD < b.last(c['where'])['payload']['value_nm'] <= HIGH))
    all_of('reading-missing', 'it is not there', lambda c, b: not any(
        e['payload']['point'] == c['where'] for e in b.of('reading_taken')))
    all_of('mistimed', 'some gap far outside', lambda c, b: any(
        not LOW - GUARD <= e['payload']['value_nm'] <= HIGH + GUARD
        for e in b.of('reading_taken') if e['payload'].get('step') == 'true-room'))
    all_of('too-fast', 'less than 35 minutes', lambda c, b: b.events[-1]['at_ms'] - b.events[0]['at_ms'] < 35 * 60_000)
    all_of('cut-missing', 'no cut at the station', lambda c, b: not any(e['station'] == c['station'] for e in b.of('cut')))
    all_of('cut-wrong', 'the cut does not add up', lambda c, b: 'a cut that does not add up' in clean_faults(b))
    all_of('not-finished', 'no end', lambda c, b: not b.of('finished'))
    all_of('work-after', 'a reading after the end', lambda c, b: b.events[-1]['type'] == 'reading_taken')
    all_of('unsigned', 'no signature', lambda c, b: 'signature-ed25519.txt' not in b.files)
    all_of('signed-by-other', 'another shop signed', lambda c, b: c['shop'].encode() not in b.files['signature-ed25519.txt'])
    all_of('claimed-twice', "the source's unit", lambda c, b: b.head['vin'] == bags[c['source']].head['vin'])
    all_of('revision-old', 'an earlier revision', lambda c, b: b.head['bulletin']['revision'] == 1)
    all_of('expense-capped', 'travel above 120.00', lambda c, b: any(
        e['payload']['what'] == 'travel' and e['payload']['amount_minor'] > 12000 for e in b.of('expense_claimed')))
    told = (ROOT / 'doc' / 'demo.md').read_text(encoding='utf-8')
    tap.ok(all(k == 'clean' or f'| `{k}` |' in told for k in kinds), 'doc/demo.md tells of each')
    tap.ok(len(kinds) >= 38, 'many kinds of faults in so few claims', len(kinds))


def main(argv):
    program, tap = argv[0], Tap()
    with tempfile.TemporaryDirectory(prefix='mendwright-demo-') as scratch:
        one, two = pathlib.Path(scratch, 'one'), pathlib.Path(scratch, 'two')
        done = make(program, one, '--threads', '1')
        said = json.loads(done.stdout) if done.returncode == 0 else {}
        tap.ok(done.returncode == 0 and said['units'] == UNITS and done.stderr == '', 'a campaign is made', done.stderr)
        tap.ok(make(program, two, '--threads', '3').returncode == 0, 'and once more on three threads')
        differ = trees_differ(one, two)
        tap.ok(not differ, 'the same order gives the same files, byte for byte, however many threads make them', differ)
        tap.ok(sorted(os.listdir(one)) == ['arrivals.csv', 'bags', 'builds.csv', 'bulletin.yaml', 'days.csv', 'failures.csv', 'keys', 'keys.txt',
                                           'reports.csv', 'reserve.csv', 'shops.csv', 'stock.csv', 'truth.json'], 'nothing is left beside what is wanted', os.listdir(one))
        again = make(program, one)
        tap.ok(again.returncode == 2 and 'empty folder' in again.stderr, 'a folder that holds something is refused', again.stderr)
        test_units(tap, one)
        truth, bags, kinds = test_claims(tap, one)
        tap.ok(said['claims'] == len(bags) and said['faults'] == sum(c['kind'] != 'clean' for c in truth['claims']),
               'as many claims and faults as were told', said)
        test_faults(tap, truth, bags, kinds)
    return tap.done()


if __name__ == '__main__':
    sys.exit(main(sys.argv[1:]))
