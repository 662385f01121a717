#!/usr/bin/env python3
"""`campaign` on a small invented campaign that was taken in, ruled, overruled and settled: every figure of its --json against sums made
here from the store's tables by Python's sqlite3, dates by datetime, statistics by statistics and fractions. TAP.

Sources: ISO weeks by datetime.date.fromisocalendar; Fisher's exact test by whole numbers (math.comb); the chi-square tail for odd degrees
of freedom in closed form, Abramowitz & Stegun 26.4.4 (from memory); Benjamini & Hochberg 1995; Ppk's interval by Bissell's approximation
(Applied Statistics 39(3), 1990; from memory); what is planted by the demo's truth.json.

usage: campaign.py PROGRAM
"""
import csv
import datetime
import json
import math
import pathlib
import re
import sqlite3
import statistics
import subprocess
import sys
import tempfile
from fractions import Fraction

import yaml

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / 'cli'))
from run import Tap  # noqa: E402

AT, UNITS, SEED = '2026-11-01T18:00:00Z', 150, 7
AT_MS = int(datetime.datetime(2026, 11, 1, 18, tzinfo=datetime.timezone.utc).timestamp() * 1000)
DAY_MS = 86400000
KINDS = ('labour', 'kit', 'parts', 'travel', 'consumables', 'other')
VERDICTS = ('pay', 'ask', 'hold', 'refuse', 'unruled')


class Desk:
    """A store, and the calls that fill it."""

    def __init__(self, program, folder):
        self.program, self.folder, self.store = program, folder, folder / 'store'

    def call(self, *words, good=(0,), stdin=None):
        done = subprocess.run([self.program, *map(str, words)], capture_output=True, text=True, timeout=600, cwd=self.folder, input=stdin)
        if done.returncode not in good:
            raise RuntimeError(f'{words}: {done.returncode} {done.stderr}{done.stdout[:500]}')
        return done

    def fill(self):
        self.call('demo', 'make', 'campaign', '--units', UNITS, '--seed', SEED, '--faulty', 40)
        self.call('store', 'init', '--store', self.store)
        for kind, name in (('bulletin', 'bulletin.yaml'), ('shops', 'shops.csv'), ('keys', 'keys.txt')):
            self.call('store', 'keep', kind, f'campaign/{name}', '--store', self.store)
        self.call('store', 'builds', 'campaign/builds.csv', '--store', self.store)
        self.call('take', '--arrivals', 'campaign/arrivals.csv', '--store', self.store, good=(0, 1))
        self.rule()

    def rule(self):
        """Two are overruled, one to be paid more than it was; then what stands is paid, but for what comes after."""
        ruled = [json.loads(r) for r in self.call('rule', '--store', self.store, '--json', '--at', '2026-10-01', good=(0, 1, 4)).stdout.splitlines()]
        by = {v: [r['claim'] for r in ruled if r['verdict'] == v] for v in VERDICTS}
        say = ('--person', 'ada', '--reason', 'seen on site', '--store', self.store)
        self.call('rule', '--claim', by['pay'][0], '--overrule', 'refuse', '--at', '2026-10-02', *say)
        self.call('rule', '--claim', by['pay'][1], '--overrule', 'hold', '--at', '2026-10-02', *say)
        self.call('rule', '--settle', '--person', 'ola', '--at', '2026-10-03', '--store', self.store)
        self.call('rule', '--claim', by['pay'][2], '--overrule', 'pay', '--amount', '10.00', '--at', '2026-10-04', *say)
        self.call('rule', '--claim', by['ask'][0], '--overrule', 'pay', '--at', '2026-10-04', *say)

    def campaign(self, *words):
        done = self.call('campaign', '--store', self.store, '--at', AT, '--json', *words, good=(0, 1, 4))
        return done.returncode, json.loads(done.stdout)


# ---- what the store says, read here --------------------------------------------------------------

class Seen:
    """Claims with what stands for them, as doc/store.md has it: a person's word over the rules', payments beside."""

    def __init__(self, store):
        db = sqlite3.connect(f'file:{store}/store.db?mode=ro', uri=True)
        db.row_factory = sqlite3.Row
        self.builds = {}
        for r in db.execute('SELECT vin, station, label FROM builds'):
            self.builds.setdefault(r['vin'], {})[r['station']] = r['label']
        self.claims = {r['seq']: dict(r, stations=[], readings=[], verdict='unruled', stands=0, paid=0, word=False, ruled=None, awards=[],
                                      paid_awards=[], rule_awards=[]) for r in db.execute('SELECT * FROM claims ORDER BY seq')}
        for r in db.execute('SELECT * FROM stations ORDER BY claim_seq, n'):
            self.claims[r['claim_seq']]['stations'].append(dict(r))
        for r in db.execute('SELECT * FROM readings ORDER BY claim_seq, n'):
            self.claims[r['claim_seq']]['readings'].append(dict(r))
        self.sets = dict(db.execute('SELECT claim_seq, digest FROM reading_sets'))
        self.rulings = [dict(r) for r in db.execute('SELECT * FROM rulings ORDER BY seq')]
        notes = {r[0] for r in db.execute("SELECT DISTINCT seq FROM findings WHERE level <> 'note'")}
        for r in self.rulings:
            awards = [dict(a) for a in db.execute('SELECT * FROM awards WHERE ruling_seq = ? ORDER BY n', (r['seq'],))]
            self.stand(self.claims[r['claim_seq']], r, awards, r['seq'] in notes)
        self.head = db.execute('SELECT max(seq) FROM log').fetchone()[0]
        db.close()

    @staticmethod
    def stand(c, r, awards, has_findings):
        if r['kind'] == 2:
            c['paid'] += r['amount_minor']
            c['paid_awards'] += awards
            return
        if r['kind'] == 0:
            c['ruled'], c['rule_awards'] = has_findings, awards
        if r['kind'] == 1 or not c['word']:
            r['changed'] = c['verdict'] != 'unruled' and (c['verdict'], c['stands']) != (r['verdict'], r['amount_minor'] if r['verdict'] == 'pay' else 0)
            c['verdict'], c['awards'], c['word'] = r['verdict'], awards, r['kind'] == 1
            c['stands'] = r['amount_minor'] if r['verdict'] == 'pay' else 0


def day_of(text, weekday):
    """A day, or a week's Monday or Sunday."""
    got = re.fullmatch(r'(\d{4})-W(\d\d)', str(text))
    return datetime.date.fromisocalendar(int(got[1]), int(got[2]), weekday) if got else datetime.date.fromisoformat(str(text))


def scope_of(bulletin, label):
    """Whether a label of the demo's two patterns lies in a window of its variant, by its ISO week's Monday and Sunday."""
    got = re.fullmatch(r'(\S+) (?:(\d{4})-W(\d\d)|WK (\d\d) (\d{4}))', label)
    code, year, week = got[1], int(got[2] or got[5]), int(got[3] or got[4])
    first = datetime.date.fromisocalendar(year, week, 1)
    for v in bulletin['scope']['variants']:
        if any(code == c or (c.endswith('*') and code.startswith(c[:-1])) for c in v['codes']):
            for w in v['windows']:
                if day_of(w['from'], 1) <= first and first + datetime.timedelta(6) <= day_of(w['to'], 7):
                    return True
    return False


def finals(c):
    """What a job leaves at each point: its last reading after the work; where there is none its last."""
    found = {}
    for r in c['readings']:
        if r['phase'] == 'after' or found.get(r['point'], {}).get('phase') != 'after':
            found[r['point']] = r
    return found


def replaced(seen):
    """Claims whose job, of the same unit, was sent again later."""
    last = {(c['job'], c['vin']): seq for seq, c in seen.claims.items()}
    return {seq for seq, c in seen.claims.items() if c['job'] is not None and last[c['job'], c['vin']] != seq}


# ---- the parts -----------------------------------------------------------------------------------

def check_counts(tap, got, seen, bulletin):
    scope = {v: {s for s, label in rows.items() if scope_of(bulletin, label)} for v, rows in seen.builds.items()}
    scope = {v: s for v, s in scope.items() if s}
    told, done, proved = {}, {}, {}
    for c in seen.claims.values():
        names = {s['station'] for s in c['stations']}
        kits = {s['station'] for s in c['stations'] if s['kit']}
        works = kits | {a['station'].split('/')[0] for a in c['awards'] + c['rule_awards'] if not a['station'].startswith('*')}
        told.setdefault(c['vin'], set()).update(names)
        if c['finished_ms'] is not None and c['verdict'] != 'refuse':
            done.setdefault(c['vin'], set()).update(works)
        if c['verdict'] == 'pay':
            pays = {a['station'].split('/')[0] for a in c['awards'] if a['verdict'] == 'pay' and not a['station'].startswith('*')}
            proved.setdefault(c['vin'], set()).update(pays or works)
    none = set()
    expect = {'in_scope': len(scope), 'reached': sum(v in told for v in scope), 'done': sum(s <= done.get(v, none) for v, s in scope.items()),
              'proved': sum(s <= proved.get(v, none) for v, s in scope.items()), 'unknown': 0, 'beyond': len(set(told) - set(scope))}
    tap.ok(got['units'] == expect, 'units', got['units'], expect)
    expect = {'in_scope': sum(map(len, scope.values())), 'reached': sum(len(s & told.get(v, none)) for v, s in scope.items()),
              'done': sum(len(s & done.get(v, none)) for v, s in scope.items()), 'proved': sum(len(s & proved.get(v, none)) for v, s in scope.items()),
              'unknown': 0, 'beyond': sum(len(s - scope.get(v, none)) for v, s in done.items())}
    tap.ok(got['stations'] == expect, 'stations', got['stations'], expect)
    tap.ok(all(0 < expect[k] for k in ('in_scope', 'reached', 'done', 'proved')), 'none of them nought')
    return scope


def sums(claims):
    m = dict.fromkeys(('stands', 'paid', 'promised', 'owed_back', 'asked', 'held', 'refused'), 0)
    for c in claims:
        ruled = sum(a['amount_minor'] for a in c['rule_awards'] if a['verdict'] != 'refuse')
        m['stands'] += c['stands']
        m['paid'] += c['paid']
        m['promised'] += max(0, c['stands'] - c['paid'])
        m['owed_back'] += max(0, c['paid'] - c['stands'])
        for verdict, name in (('ask', 'asked'), ('hold', 'held'), ('refuse', 'refused')):
            m[name] += ruled if c['verdict'] == verdict else 0
    return {k + '_minor': v for k, v in m.items()}


def kind_of(award):
    name = award['station'].partition('/')[2]
    return name if name in KINDS else 'other'


def check_money(tap, got, seen):
    claims, money = list(seen.claims.values()), got['money']
    expect = sums(claims)
    tap.ok({k: money[k] for k in expect} == expect, 'money', {k: money[k] for k in expect}, expect)
    tap.ok(all(expect[k + '_minor'] > 0 for k in ('paid', 'promised', 'owed_back', 'asked', 'held', 'refused')), 'none of it nought', expect)
    tap.ok(expect['stands_minor'] - expect['paid_minor'] == expect['promised_minor'] - expect['owed_back_minor'], 'what stands less what was paid is promised less owed back')
    by_kind = {}
    for name, pick in (('stands', lambda c: [a for a in c['awards'] if c['verdict'] == 'pay' and a['verdict'] == 'pay']), ('paid', lambda c: c['paid_awards'])):
        for c in claims:
            rest = c[name]
            for a in pick(c):
                by_kind[name, kind_of(a)] = by_kind.get((name, kind_of(a)), 0) + a['amount_minor']
                rest -= a['amount_minor']
            by_kind[name, 'other'] = by_kind.get((name, 'other'), 0) + rest
    for name in ('stands', 'paid'):
        rows = {r['kind']: r[name + '_minor'] for r in money['by_kind']}
        tap.ok(rows == {k: by_kind.get((name, k), 0) for k in KINDS}, f'{name} by kind', rows, by_kind)
    for name in ('stands', 'paid', 'asked', 'held', 'refused'):
        tap.ok(sum(r[name + '_minor'] for r in money['by_kind']) == money[name + '_minor'], f'kinds of {name} add up')
    shops = {r['shop']: r for r in money['by_shop']}
    for shop in sorted({c['shop'] for c in claims}):
        mine = [c for c in claims if c['shop'] == shop]
        expect = sums(mine) | {v: sum(c['verdict'] == v for c in mine) for v in VERDICTS} | {'shop': shop, 'filter': f'shop={shop}'}
        tap.ok(shops.pop(shop, None) == expect, f'shop {shop}', expect)
    tap.ok(not shops, 'no other shop')
    counts = {r['verdict']: r['claims'] for r in got['claims']}
    tap.ok(counts == {v: sum(c['verdict'] == v for c in claims) for v in VERDICTS}, 'claims by verdict', counts)


def check_kits(tap, got, seen):
    old, used = replaced(seen), {}
    for seq, c in seen.claims.items():
        if c['verdict'] != 'refuse' and seq not in old:
            for s in c['stations']:
                if s['kit']:
                    used[s['kit']] = used.get(s['kit'], 0) + 1
    rows = {k['kit']: k['used'] for k in got['kits']}
    tap.ok({k: n for k, n in rows.items() if n} == used and used, 'kits used', rows, used)


NANO = {'mm': 10**6, 'mV': 10**6, 'V': 10**9, 'A': 10**9, 's': 10**9, 'N m': 10**9, '1': 10**9, 'mohm': 10**6}


def check_readings(tap, got, seen, bulletin):
    points = {p['id']: p for p in bulletin['points']}
    old, values = replaced(seen), {}
    for seq, c in seen.claims.items():
        if seq not in old:
            for point, r in finals(c).items():
                for shop in (None, c['shop']):
                    values.setdefault((point, shop), []).append(r['value_nano'])
    rows = {(r['point'], r['shop']): r for r in got['readings']}
    tap.ok(set(rows) == set(values), 'points and shops that have readings')
    bad = []
    for key, r in rows.items():
        x, per = values[key], NANO[r['unit']]
        low, high = (r[k] if r[k] is not None else math.inf * s for k, s in (('low_nano', -1), ('high_nano', 1)))
        ok = r['n'] == len(x) and r['outside'] == sum(not low <= v <= high for v in x)
        mean = float(Fraction(sum(x), len(x)) / per)
        sd = statistics.stdev([Fraction(v, per) for v in x]) if len(x) > 1 else 0
        ok = ok and math.isclose(r['mean'], mean, rel_tol=1e-12, abs_tol=1e-12) and math.isclose(r['sd'], float(sd), rel_tol=1e-9, abs_tol=1e-12)
        if len(x) >= 5 and sd > 0:
            n, z = len(x), statistics.NormalDist().inv_cdf(0.975)
            ppk = min(high / per - mean, mean - low / per) / (3 * float(sd))
            half = z * math.sqrt(1 / (9 * n) + ppk ** 2 / (2 * (n - 1)))
            ok = ok and all(math.isclose(a, b, rel_tol=1e-9) for a, b in ((r['ppk'], ppk), (r['ppk_low'], ppk - half), (r['ppk_high'], ppk + half)))
        else:
            ok = ok and r['ppk'] is None
        if not ok:
            bad.append((r, mean, float(sd)))
    tap.ok(not bad, f'{len(rows)} rows of readings against limits', bad[:3])
    limits = {r['point']: (r['low_nano'], r['high_nano'], r['unit']) for r in got['readings']}
    tap.ok(all(str(points[p]['high']).split()[0] == f'{hi / NANO[u]:g}' for p, (_, hi, u) in limits.items() if hi is not None), 'limits are the bulletin\'s', limits)


def chi2_upper_9(x):
    """A&S 26.4.4 for 9 degrees of freedom."""
    total, term = 0.0, math.sqrt(x)
    for r in (1, 2, 3, 4):
        total += term
        term *= x / (2 * r + 1)
    return math.erfc(math.sqrt(x / 2)) + math.sqrt(2 / math.pi) * math.exp(-x / 2) * total


def upper_tail(k, n, bad, lot):
    return float(Fraction(sum(math.comb(bad, i) * math.comb(lot - bad, n - i) for i in range(k, min(n, bad) + 1)), math.comb(lot, n)))


def check_looks(tap, got, seen, bulletin):
    steps = {i['id']: i['resolution'] for i in bulletin['instruments'] if i.get('resolution')}
    points, tests, old, first = {p['id']: p for p in bulletin['points']}, [], replaced(seen), {}
    tally = {}
    for seq, c in seen.claims.items():
        is_copy = False
        if seq in seen.sets:
            before = first.setdefault(seen.sets[seq], c['vin'])
            is_copy = before != c['vin']
        if seq in old:
            continue
        t = tally.setdefault(c['shop'], {'claims': 0, 'findings': 0, 'sets': 0, 'copies': 0, 'steps': [0] * 10})
        t['claims'] += c['ruled'] is not None
        t['findings'] += bool(c['ruled'])
        t['sets'] += seq in seen.sets
        t['copies'] += is_copy
        for r in c['readings']:
            if r['point'] not in points:
                continue
            number, _, unit = str(steps.get(points[r['point']].get('instrument'), '')).partition(' ')
            if number and unit in NANO and unit != '1':
                step = int(Fraction(number) * NANO[unit])
                if r['value_nano'] % step == 0:
                    t['steps'][r['value_nano'] // step % 10] += 1
    whole = {k: sum(t[k] for t in tally.values()) for k in ('claims', 'findings', 'sets', 'copies')}
    all_steps = [sum(t['steps'][i] for t in tally.values()) for i in range(10)]
    for shop, t in tally.items():
        for kind, k, n in (('findings', 'findings', 'claims'), ('copies', 'copies', 'sets')):
            if t[n] >= 5 and whole[n] - t[n] >= 5:
                tests.append((shop, kind, upper_tail(t[k], t[n], whole[k], whole[n]), t[k], t[n]))
        n, others = sum(t['steps']), sum(all_steps) - sum(t['steps'])
        if n >= 50 and others >= 50 and min(min(n, others) * a for a in all_steps) >= 5 * (n + others):
            chi2 = sum((t['steps'][i] - a * n / (n + others)) ** 2 * (1 / (a * n / (n + others)) + 1 / (a * others / (n + others))) for i, a in enumerate(all_steps))
            tests.append((shop, 'digits', chi2_upper_9(chi2), None, n))
    tap.ok(got['tests'] == len(tests) and tests, 'so many tests', got['tests'], len(tests))
    tests.sort(key=lambda t: t[2])
    q, named = 1, {}
    for i in range(len(tests), 0, -1):
        shop, kind, p, k, n = tests[i - 1]
        q = min(q, p * len(tests) / i)
        if q <= 0.05:
            named[shop, kind] = (p, q, k, n)
    told = {(look['shop'], r['kind']): r for look in got['looks'] for r in look['reasons']}
    tap.ok(set(told) == set(named), 'shops that stand out', sorted(told), sorted(named))
    tap.ok(all(math.isclose(told[key]['p'], p, rel_tol=1e-8) and math.isclose(told[key]['q'], q, rel_tol=1e-8) and told[key]['n'] == n and k in (None, told[key]['k'])
               for key, (p, q, k, n) in named.items() if key in told), 'with p and q', told, named)


def check_forecast(tap, desk, got, scope, seen):
    """`study completion` on the same units, one row each, is the peer: the page counts by day, the study reads rows."""
    issued, today = datetime.date(2026, 2, 16), datetime.date(2026, 11, 1)
    first = {}
    for c in seen.claims.values():
        day = datetime.date(1970, 1, 1) + datetime.timedelta(c['taken_ms'] // DAY_MS)
        first[c['vin']] = min(day, first.get(c['vin'], day))
    rows = [((first[v] - issued).days or 0.5, 1) if v in first else ((today - issued).days, 0) for v in scope]
    with (desk.folder / 'come.csv').open('w', newline='') as f:
        csv.writer(f).writerows([('time', 'event'), *rows])
    study = json.loads(desk.call('study', 'completion', 'come.csv', '--time', 'time', '--event', 'event', '--seed', 1, '--json', good=(0, 1, 4)).stdout)
    f = got['forecast']
    tap.ok(f['known'] and f['units'] == len(rows) and f['come'] == sum(e for _, e in rows), 'units given notice, and come', f)
    flat = json.dumps(study)
    for name in ('share', 'share_low', 'share_high'):
        near = [x for x in numbers(study) if math.isclose(x, f[name], rel_tol=1e-6)]
        tap.ok(near, f'forecast {name} is the study\'s', f[name], flat[:800])
    r = got['money']['reserve']
    m = got['money']
    so_far = m['paid_minor'] + m['promised_minor'] + m['asked_minor'] + m['held_minor']
    n = len({c['vin'] for c in seen.claims.values() if c['stands'] > 0})
    mean = math.floor(Fraction(m['stands_minor'], n) + Fraction(1, 2))
    expect = [mean] + [so_far + f[k] * mean for k in ('further', 'further_low', 'further_high')]
    tap.ok([r[k] for k in ('mean_unit_minor', 'expected_minor', 'low_minor', 'high_minor')] == expect, 'what it will have cost', r, expect)


def numbers(x):
    if isinstance(x, dict):
        x = list(x.values())
    if isinstance(x, list):
        return [n for y in x for n in numbers(y)]
    return [float(x)] if isinstance(x, (int, float)) and not isinstance(x, bool) else []


def news_since(seen, since, papers):
    late = [r for r in seen.rulings if r['at_ms'] > since]
    return {'since_ms': since, 'taken': sum(c['taken_ms'] > since for c in seen.claims.values()),
            'ruled': {v: sum(r['kind'] == 0 and r['verdict'] == v for r in late) for v in VERDICTS[:4]}, 'changed': sum(r.get('changed', False) for r in late),
            'overruled': sum(r['kind'] == 1 for r in late), 'payments': sum(r['kind'] == 2 for r in late), 'paid_minor': sum(r['amount_minor'] for r in late if r['kind'] == 2),
            'papers': papers}


def check_news(tap, desk, seen):
    """At one moment by hand; then from before everything to behind it, so that what is added up beforehand is cut in its middle and at its ends."""
    since = int(datetime.datetime(2026, 10, 2, 12, tzinfo=datetime.timezone.utc).timestamp() * 1000)
    _, got = desk.campaign('--since', '2026-10-02T12:00:00Z')
    expect = news_since(seen, since, got['news']['papers'])
    tap.ok(got['news'] == expect and expect['overruled'] == 2, 'news', got['news'], expect)
    times = sorted({t // 1000 for t in [c['taken_ms'] for c in seen.claims.values()] + [r['at_ms'] for r in seen.rulings]})
    events = len(seen.claims) + len(seen.rulings)
    tap.ok(events > 2 * 64, 'more came than is added up at once', events)
    for at in [times[0] - 1, *times[::max(1, len(times) // 12)], times[-1], times[-1] + 1]:
        when = datetime.datetime.fromtimestamp(at, datetime.timezone.utc).strftime('%Y-%m-%dT%H:%M:%SZ')
        _, got = desk.campaign('--since', when)
        expect = news_since(seen, at * 1000, got['news']['papers'])
        tap.ok(got['news'] == expect, f'news since {when}', got['news'], expect)


def check_means(tap, desk, got):
    """A reserve and a stock list, and the exit codes."""
    high, low = got['money']['reserve']['high_minor'], got['money']['reserve']['low_minor']
    for minor, verdict, code in ((high, 'within', 0), (low - 1, 'over', 1), (high - 1, 'open' if low <= high - 1 else 'over', 4)):
        text = f'bulletin,amount,currency,person\nOV-26-03,{minor // 100}.{minor % 100:02},EUR,ola\n'
        desk.call('store', 'keep', 'reserve', '-', '--store', desk.store, stdin=text)
        rc, now = desk.campaign()
        r = now['money']['reserve']
        tap.ok((rc, r['verdict'], r['minor'], r['person']) == (code, verdict, minor, 'ola'), f'a reserve of {minor}: {verdict}', rc, r)
    kit = max(got['kits'], key=lambda k: k['used'])
    desk.call('store', 'keep', 'stock', '-', '--store', desk.store, stdin=f'kit,on_hand,ordered,lead_days\n{kit["kit"]},1,40,9999\n')
    _, now = desk.campaign()
    stock = {k['kit']: k['stock'] for k in now['kits']}
    told = stock.pop(kit['kit'])
    tap.ok({k: told[k] for k in ('on_hand', 'ordered', 'lead_days', 'used_since', 'left', 'short')} ==
           {'on_hand': 1, 'ordered': 40, 'lead_days': 9999, 'used_since': 0, 'left': 1, 'short': True} and not any(stock.values()), 'stock of one kit', told)
    first = min(c['taken_ms'] for c in Seen(desk.store).claims.values())
    watched, shape = (AT_MS - first) / DAY_MS, kit['used'] + 0.5
    # One kit left: the wait for the next is gamma mixed, P(T > t) = (w / (w + t))^shape (Lomax), so its quantiles are in closed form.
    expect = [watched * ((1 - p) ** (-1 / shape) - 1) for p in (0.5, 0.025, 0.975)]
    tap.ok(all(math.isclose(a, b, rel_tol=1e-9) for a, b in zip((told['days'], told['days_low'], told['days_high']), expect)), 'days until it runs out', told, expect)
    out = desk.call('campaign', '--store', desk.store, '--at', AT, good=(4,)).stdout
    tap.ok(out.startswith('[>] It may not close within its reserve of ') and 'order now' in out and 'never a proof' in out or 'No shop stands out' in out, 'for people: verdict first', out)


def check_refusals(tap, desk):
    for words, text, said in (
            (('reserve',), 'bulletin,amount,currency\nX,1,EUR\n', 'person'),
            (('reserve',), 'bulletin,amount,currency,person\nX,-1,EUR,ola\n', 'amount'),
            (('reserve',), 'bulletin,amount,currency,person\nX,1,eur,ola\n', 'expected a code of three letters'),
            (('reserve',), 'bulletin,amount,currency,person\nX,1,EUR,ola\nX,1,EUR,ola\n', 'found a second row'),
            (('reserve', '--name', 'Y'), 'bulletin,amount,currency,person\nX,1,EUR,ola\n', ''),
            (('stock',), 'kit,on_hand,ordered,lead_days\nk,1.5,0,3\n', 'expected a whole number'),
            (('stock',), 'kit,on_hand,ordered,lead_days\n', 'there is no kit in it')):
        call = ['store', 'keep', words[0], '-', *words[1:], '--store', desk.store]
        done = desk.call(*call, good=(2,), stdin=text)
        tap.ok(said in done.stderr and not done.stdout, f'refused: {text.splitlines()[-1]} {words}', done.stderr)
    done = desk.call('campaign', '--store', desk.store, '--bulletin', 'XX', good=(2,))
    tap.ok("no bulletin 'XX' is kept" in done.stderr, 'another bulletin', done.stderr)


def main(program):
    tap = Tap()
    with tempfile.TemporaryDirectory() as scratch:
        desk = Desk(pathlib.Path(program).resolve(), pathlib.Path(scratch))
        desk.fill()
        bulletin = yaml.safe_load((desk.folder / 'campaign' / 'bulletin.yaml').read_text(encoding='utf-8'))
        _, got = desk.campaign()
        seen = Seen(desk.store)
        tap.ok(got['seq'] == seen.head and got['today'] == AT[:10] and got['build_list'], 'of the whole log, of that day')
        scope = check_counts(tap, got, seen, bulletin)
        check_money(tap, got, seen)
        check_kits(tap, got, seen)
        check_readings(tap, got, seen, bulletin)
        check_looks(tap, got, seen, bulletin)
        check_forecast(tap, desk, got, scope, seen)
        check_news(tap, desk, seen)
        check_means(tap, desk, got)
        check_refusals(tap, desk)
    sys.exit(tap.done())


if __name__ == '__main__':
    main(sys.argv[1])
