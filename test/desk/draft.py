#!/usr/bin/env python3
"""draft: `check --against` and `check --store` on a made-up campaign.

usage: draft.py PROGRAM
What is in scope is counted here by Python's own ISO 8601 calendar (datetime.date.fromisocalendar) from the build list and the windows
as a person reads them in the bulletin; claims and money are added up here from the rulings that the real issue of the same revision
then gives.
"""
import csv
import datetime
import json
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))
import tap  # noqa: E402

program = pathlib.Path(sys.argv[1]).resolve()
AT = '2026-12-06T18:00:00Z'


def ok(good, what, seen=''):
    tap.ok(good, what, str(seen)[:1500])


def run(*args, codes=(0,)):
    done = subprocess.run([program, *map(str, args)], stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False)
    if done.returncode not in codes:
        ok(False, f"{' '.join(map(str, args))} ends with one of {codes}", f'{done.returncode}\n{done.stdout}\n{done.stderr}')
    return done.stdout


# ---- what is in, counted anew ----

def week(text):
    """First and last day of "2024-W15", of a day itself."""
    at = re.fullmatch(r'(\d{4})-W(\d\d)', text)
    if at is None:
        day = datetime.date.fromisoformat(text)
        return day, day
    first = datetime.date.fromisocalendar(int(at[1]), int(at[2]), 1)
    return first, first + datetime.timedelta(days=6)


def windows_of(text):
    """{variant: [(first, last)]} of the demo bulletin, by its lines."""
    found, variant = {}, None
    for line in text.splitlines():
        named = re.fullmatch(r'    - id: (wd\d\d)', line)
        variant = named[1] if named else variant
        at = re.fullmatch(r'        - \{from: (\S+), to: (\S+)\}', line)
        if at:
            found.setdefault(variant, []).append((week(at[1])[0], week(at[2])[1]))
    return found


def is_in(label, windows):
    """None: the label tells nothing or straddles an end."""
    at = re.fullmatch(r'(\S+) (?:(\d{4})-W(\d\d)|WK (\d\d) (\d{4}))', label)
    if at is None:
        return None
    variant = 'wd' + at[1][2:4] if re.fullmatch(r'WD40B?|WD55-.*|WD70', at[1]) else None
    if variant is None:
        return False
    first, last = week(f'{at[2] or at[5]}-W{at[3] or at[4]}')
    if any(a <= first and last <= b for a, b in windows[variant]):
        return True
    return None if any(a <= last and first <= b for a, b in windows[variant]) else False


def counted(builds, was, now):
    units, stations = {}, {'in_before': 0, 'in_now': 0, 'swept_in': 0, 'let_out': 0, 'unknown_now': 0}
    for row in builds:
        a, b = is_in(row['label'], was) is True, is_in(row['label'], now)
        stations['in_before'] += a
        stations['in_now'] += b is True
        stations['swept_in'] += b is True and not a
        stations['let_out'] += a and b is not True
        stations['unknown_now'] += b is None
        units.setdefault(row['vin'], []).append((a, b))
    sums = [(any(a for a, _ in u), any(b is True for _, b in u), all(b is not True for _, b in u) and any(b is None for _, b in u)) for u in units.values()]
    return {'in_before': sum(a for a, _, _ in sums), 'in_now': sum(b for _, b, _ in sums), 'swept_in': sum(b and not a for a, b, _ in sums),
            'let_out': sum(a and not b for a, b, _ in sums), 'unknown_now': sum(c for _, _, c in sums)}, stations


# ---- the tests ----

def made(folder):
    campaign, store = folder / 'c', folder / 's'
    run('demo', 'make', campaign, '--units', 40, '--seed', 5)
    run('store', 'init', '--store', store)
    for kind, name in (('bulletin', 'bulletin.yaml'), ('shops', 'shops.csv'), ('keys', 'keys.txt')):
        run('store', 'keep', kind, campaign / name, '--store', store)
    run('store', 'builds', campaign / 'builds.csv', '--store', store)
    run('take', '--arrivals', campaign / 'arrivals.csv', '--store', store, codes=(0, 1))
    run('rule', '--store', store, '--at', AT, codes=(0, 1, 4))
    run('rule', '--settle', '--person', 'olga', '--store', store, '--at', AT)
    return campaign, store


def rulings(store, *more):
    lines = run('rule', '--store', store, '--at', AT, '--json', *more, codes=(0, 1, 4)).splitlines()
    return {r['claim']: r for r in map(json.loads, lines) if 'claim' in r}


def check_scope(told, text, newer, builds):
    units, stations = counted(builds, windows_of(text), windows_of(newer))
    ok(told['units'] == units, 'units in scope, swept in and let out are those that ISO weeks say', (told['units'], units))
    ok(told['stations_in_scope'] == stations, 'stations likewise', (told['stations_in_scope'], stations))
    ok(units['swept_in'] > 0 and stations['let_out'] > 0, 'the test sweeps some in and lets some out', (units, stations))


def check_claims(told, before, after):
    moves = {}
    for claim, now in after.items():
        was = before[claim]
        if was['verdict'] != now['verdict']:
            key = was['verdict'], now['verdict']
            moves[key] = moves.get(key, 0) + 1
    changed = [c for c in after if (before[c]['verdict'], before[c]['amount_minor']) != (after[c]['verdict'], after[c]['amount_minor'])]
    claims, money = told['claims'], told['money']
    ok({(m['was'], m['now']): m['n'] for m in claims['moves']} == moves, 'claims go from verdict to verdict as they do when it is issued', (claims['moves'], moves))
    grave, why = ['note', 'ask', 'hold', 'refuse'], {}
    for claim, now in after.items():
        if before[claim]['verdict'] != now['verdict']:
            found = [f for f in now['findings'] if f['level'] != 'note']
            first = max(found, key=lambda f: grave.index(f['level']))['rule'] if found else None  # max: of equals the first
            key = before[claim]['verdict'], now['verdict'], first
            why[key] = why.get(key, 0) + 1
    ok({(m['was'], m['now'], x['finding']): x['n'] for m in claims['moves'] for x in m['because']} == why and why, 'each by the gravest finding that it has when it is issued', (claims['moves'], why))
    ok((claims['n'], claims['changed']) == (len(after), len(changed)) and len(changed) > 0, 'as many change', (claims['n'], claims['changed'], len(after), len(changed)))
    ok({c['claim'] for c in claims['dearest']} == set(changed), 'and they are the ones listed', claims['dearest'])
    shifts = [abs(c['now_minor'] - c['was_minor']) for c in claims['dearest']]
    ok(shifts == sorted(shifts, reverse=True), 'the dearest first', shifts)
    total = {k: sum(r['amount_minor'] for r in v.values()) for k, v in (('was_minor', before), ('now_minor', after))}
    ok({k: money[k] for k in total} == total, 'money is the sum over the claims', (money, total))
    back = sum(max(0, r['paid_minor'] - r['amount_minor']) for r in after.values())
    ok(money['owed_back_minor'] == back and back > 0, 'so is what would be owed back', (money, back))


def check_same_day(folder, store, newer):
    """The revision counts up and the day is left as it was: allowed, and told; what follows says for which finding."""
    path = folder / 'same.yaml'
    path.write_text(newer.replace('issued: 2026-12-05', 'issued: 2026-02-16'))
    told = json.loads(run('check', path, '--store', store, '--json'))
    line = 1 + [i for i, row in enumerate(path.read_text().splitlines()) if row.startswith('  issued: ')][0]
    ok(told['valid'] and [(f['path'], f['line']) for f in told['warnings']] == [('bulletin.issued', line)], 'a revision issued on the day of the one it replaces: a warning at its line', told['warnings'])
    ok(any(x['finding'] == 'revision-old' and x['n'] > 0 for m in told['if_issued']['claims']['moves'] for x in m['because']), 'and the jobs done since then would be asked for again', told['if_issued']['claims']['moves'])


def main():
    folder = pathlib.Path(tempfile.mkdtemp(prefix='mendwright-draft-'))
    try:
        campaign, store = made(folder)
        text = (campaign / 'bulletin.yaml').read_text()
        newer = text
        for was, now in (('revision: 2\n', 'revision: 3\n'), ('issued: 2026-02-16', 'issued: 2026-12-05'), ('to: 2024-09-29', 'to: 2024-12-08'),
                         ('from: 2024-W12, to: 2024-W16', 'from: 2024-W14, to: 2024-W16'), ('    travel: 120.00', '    travel: 10.00')):
            ok(newer.count(was) == 1, f'the bulletin says {was.strip()!r} once')
            newer = newer.replace(was, now)
        draft = folder / 'r3.yaml'
        draft.write_text(newer)
        with open(campaign / 'builds.csv', newline='') as f:
            builds = list(csv.DictReader(f))
        head = json.loads(run('store', 'verify', '--store', store, '--json'))
        before = rulings(store)
        told = json.loads(run('check', draft, '--store', store, '--json'))
        ok(json.loads(run('store', 'verify', '--store', store, '--json')) == head, 'nothing was written: the log ends as before')
        ok([(c['was'], c['now']) for c in told['changes']] == [
            ('2', '3'), ('2026-02-16', '2026-12-05'), ('2024-03-18 to 2024-03-24', '2024-04-01 to 2024-04-07'),
            ('2024-09-29', '2024-12-08'), ('120.00', '10.00')], 'the five edits are the five differences, weeks as days', told['changes'])
        ok(told['valid'] and told['against'] == 'OV-26-03 revision 2', 'it is valid, and compared with what is kept', told)
        ok(told['warnings'] == [], 'nothing about it is odd', told['warnings'])
        check_same_day(folder, store, newer)
        check_scope(told['if_issued'], text, newer, builds)
        check_claims(told['if_issued'], before, rulings(store, '--bulletin', draft))
        again = json.loads(run('check', draft, '--store', store, '--json'))
        ok(again['changes'] == [] and again['if_issued']['claims']['changed'] == 0, 'once it is issued nothing more would follow', again)
        first = run('check', draft, '--against', campaign / 'bulletin.yaml')
        ok('120.00 -> 10.00' in first and '5 things are different' in first, 'in words', first)
    finally:
        shutil.rmtree(folder)
    return tap.done()


sys.exit(main())
