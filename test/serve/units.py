#!/usr/bin/env python3
"""Lists brought in over HTTP, units found, and all given out again.

usage: units.py PROGRAM
Peers: how many rows of a list are faulty is counted here, by rules of our own; what a list does to the store is held against `store builds`
and `store keep` of the same rows; what is given out is read by Python's csv and json (RFC 4180, RFC 8259) and held against SQLite's own
SELECT; a search against a look through all rows in Python.
"""
import csv
import io
import json
import pathlib
import random
import re
import sqlite3
import sys
import tempfile
import time

from api import fits, is_problem
from door import ROOT, Server, done, ok, sha256

ALPHABET = '0123456789ABCDEFGHJKLMNPRSTUVWXYZ'
VALUES = {**{str(i): i for i in range(10)}, **dict(zip('ABCDEFGH', range(1, 9))), **dict(zip('JKLMN', range(1, 6))), 'P': 7, 'R': 9, **dict(zip('STUVWXYZ', range(2, 10)))}
WEIGHTS = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2]


def vin(i, model='1FHMC00'):
    """An invented VIN with its check digit (49 CFR 565.15(c))."""
    v = f'{model}0_R{"A"}{i:06d}'
    v = model + '0' + '0' + 'RA' + f'{i:06d}'
    rest = sum(VALUES[c] * w for c, w in zip(v, WEIGHTS)) % 11
    return v[:8] + ('X' if rest == 10 else str(rest)) + v[9:]


def is_vin(text):
    return re.fullmatch(r'[0-9A-HJ-NPR-Z]{17}', text.strip().upper()) is not None


def rows_of(n, seed=1):
    rng = random.Random(seed)
    return [[vin(i), place, f'{rng.choice("AB")} 2024-W{rng.randint(1, 52):02d}'] for i in range(n) for place in ('fore', 'aft')]


def text_of(head, rows, end='\r\n', mark=''):
    out = io.StringIO()
    w = csv.writer(out, lineterminator=end)
    w.writerows([head, *rows])
    return (mark + out.getvalue()).encode()


def wait(owner, answer):
    assert answer.status == 202, answer.text
    for _ in range(1200):
        a = owner.get(answer.headers['Location'])
        if a.json['state'] not in ('waiting', 'running'):
            return a
        time.sleep(0.05)
    return a


def send(owner, data):
    return owner.send('POST', '/api/v1/lists', data, {'Content-Type': 'text/csv'})


def bring(owner, name, kind, columns, dry):
    return wait(owner, owner.send('POST', f'/api/v1/lists/{name}/bring', {'kind': kind, 'columns': columns, 'dry': dry}))


BUILDS = {'vin': 'Chassis No', 'station': 'Position', 'label': 'Sticker'}


def dump(store, table):
    db = sqlite3.connect(f'file:{store}/store.db?mode=ro', uri=True)
    try:
        return db.execute(f'SELECT * FROM {table}').fetchall()
    finally:
        db.close()


def builds(store):
    return [r[:3] for r in sorted(dump(store, 'builds'))]


def check_look(owner):
    data = text_of(['Plant', 'Chassis No', 'Position', 'Sticker'], [['N', *r] for r in rows_of(3)], mark='\ufeff')
    a = send(owner, data)
    ok(a.status == 201 and fits(a, 'post', '/api/v1/lists') and a.json['list'] == sha256(data) and a.json['columns'] == ['Plant', 'Chassis No', 'Position', 'Sticker'], 'a list is sent: its name and its columns', a.text)
    ok(a.json['kind'] == 'builds' and a.json['guess']['builds'] == BUILDS, 'and what they may be', a.text)
    ok(a.json['first'] == [['N', *r] for r in rows_of(3)[:3]], 'with its first rows')
    b = send(owner, text_of(['shop', 'type', 'Hourly rate', 'valid from'], [['a', 'shop', '1.00', '']]))
    ok(b.json['kind'] == 'shops' and b.json['guess']['shops'] == {'shop': 'shop', 'kind': 'type', 'rate': 'Hourly rate', 'from': 'valid from'}, 'a list of shops is one', b.text)
    ok(is_problem(owner.send('POST', f"/api/v1/lists/{a.json['list']}/bring", {'kind': 'builds', 'columns': BUILDS, 'dry': True}), 404), 'the list sent before has made room')
    rows = [('nothing', b'', 400), ('a head alone', b'vin,station,label\r\n', 422), ('a NUL', b'vin\0,station\n1,2\n', 422), ('UTF-16', 'vin,station\n1,2\n'.encode('utf-16'), 422), ('no UTF-8', b'v\xffn,station\n1,2\n', 422),
            ('two columns of one name', b'vin,vin\n1,2\n', 409), ('257 columns', (','.join(f'c{i}' for i in range(257)) + '\n').encode(), 413), ('an open quote', b'"vin,station\n1,2\n', 422), ('a head of 2 MB', b'a' * 2_000_000 + b'\n1\n', 413)]
    for what, body, status in rows:
        a = send(owner, body)
        ok(is_problem(a, status) and '/' not in a.json['detail'], f'a list that is {what}: {status}, and no path of the server is told', a.text[:300])


def check_bring(server, owner, scratch):
    good = rows_of(500)
    bad = {7: ('I' + good[7][0][1:], *good[7][1:]), 40: (good[40][0][:16], *good[40][1:]), 41: ('', *good[41][1:]), 300: (good[300][0], 'Fore', good[300][2]), 301: (good[301][0], '', good[301][2]),
           700: (good[700][0], good[700][1], 'x' * 121), 999: (good[999][0], good[999][1], 'a\x07b')}
    rows = [list(bad.get(i, r)) for i, r in enumerate(good)]
    rows[3][2] = 'A "quoted", label'
    faulty = sum(not is_vin(v) or not re.fullmatch(r'[a-z0-9]+(-[a-z0-9]+)*', s) or len(b.encode()) > 120 or not b.isprintable() for v, s, b in rows)
    head = ['Chassis No', 'Note', 'Position', 'Sticker']
    data = text_of(head, [[v, 'n', s, b] for v, s, b in rows])
    name = send(owner, data).json['list']
    a = bring(owner, name, 'builds', BUILDS, True)
    t = a.json['answer']
    ok(a.json['state'] == 'done' and a.json['kind'] == 'try-list' and fits(a, 'get', '/api/v1/tasks/{task}') and (t['rows'], t['faulty'], t['put']) == (1000, faulty, False) and faulty == 7, 'a dry run finds as many faulty rows as are counted here', a.text[:500])
    ok([f['line'] for f in t['faults']] == [i + 2 for i in sorted(bad)] and [f['field'] for f in t['faults']] == ['Chassis No'] * 3 + ['Position'] * 2 + ['Sticker'] * 2, 'each with its line, and by the name of its own column', str(t['faults'])[:600])
    ok((t['new'], t['changed'], t['same'], t['repeated'], t['gone']) == (993, 0, 0, 0, 0), 'and what the others would be', str(t)[-300:])
    ok(builds(server.store) == [], 'nothing was put')
    f = owner.get(f'/api/v1/lists/{name}/faults')
    back = list(csv.reader(io.StringIO(f.bytes.decode(), newline=''), strict=True))
    ok(f.headers['Content-Type'].startswith('text/csv') and back[0] == [*head, 'reason'] and [r[:4] for r in back[1:]] == [[bad[i][0], 'n', bad[i][1], bad[i][2]] for i in sorted(bad)], 'the faulty rows come back by the same columns, as they were', f.text[:400])
    ok(all(len(r[4]) > 20 for r in back[1:]) and [r[4].split(':')[0] for r in back[1:]] == [x['field'] for x in t['faults']], 'each with its reason')
    lines = data.split(b'\r\n')
    ok(all(f.bytes.split(b'\r\n')[k + 1].startswith(lines[i + 1] + b',') for k, i in enumerate(sorted(bad))), 'byte for byte')
    a = bring(owner, name, 'builds', BUILDS, False)
    ok(a.json['state'] == 'done' and not a.json['answer']['put'] and builds(server.store) == [], 'for good, it is not put at all: one faulty row is enough')
    rows = [r if i not in bad else good[i] for i, r in enumerate(rows)]
    data = text_of(head, [[v.lower(), 'n', s, b] for v, s, b in rows], end='\n')
    name = send(owner, data).json['list']
    a = bring(owner, name, 'builds', BUILDS, False)
    ok(a.json['kind'] == 'bring-list' and a.json['answer']['put'] and a.json['answer']['new'] == 1000, 'mended it is put', a.text[-400:])
    ok(builds(server.store) == sorted(map(tuple, rows)), 'and holds the rows, each of them')
    ours, other = scratch / 'ours.csv', scratch / 'other'
    ours.write_bytes(text_of(['vin', 'station', 'label'], rows))
    server.call('store', 'init', '--store', other)
    server.call('store', 'builds', ours, '--store', other)
    ok(builds(server.store) == builds(other), '`store builds` of the same rows makes the same build list')
    ok(is_problem(owner.get(f'/api/v1/lists/{name}/faults'), 404) and not [p for p in (server.store / 'coming').iterdir() if p.suffix not in ('.part',)], 'the list is gone from the server afterwards')
    again = [list(r) for r in rows[:10]]
    again[0][2] = 'B 2023-W01'
    name = send(owner, text_of(['vin', 'station', 'label'], [*again, again[5], [vin(9999), 'fore', '']])).json['list']
    t = bring(owner, name, 'builds', dict(vin='vin', station='station', label='label'), True).json['answer']
    ok((t['rows'], t['new'], t['changed'], t['same'], t['repeated']) == (12, 1, 1, 9, 1), 'of a second list it says what is new, changed, the same, told twice', str(t))
    wrong = vin(1)[:8] + ('0' if vin(1)[8] != '0' else '1') + vin(1)[9:]
    name = send(owner, text_of(['vin', 'station', 'label'], [[vin(0), 'fore', ''], [wrong, 'fore', '']])).json['list']
    t = bring(owner, name, 'builds', dict(vin='vin', station='station', label='label'), True).json['answer']
    ok((t['faulty'], t['wrong_check_digits'], t['first_wrong']) == (0, 1, {'vin': wrong, 'line': 3}), 'a wrong check digit is told, not refused', str(t))
    return rows


def check_hostile(server, owner):
    head = b'vin,station,label\n'
    v = vin(1).encode()
    rows = [('a field too few', v + b',fore\n', 1), ('a field too many', v + b',fore,x,y\n', 1), ('a quote in the middle', v + b',fo"re,x\n' + v + b',fore,x\n', 1), ('bytes that are no UTF-8', v + b',fore,\xff\xfe\n' + v + b',fore,x\n', 1),
            ('an open quote', v + b',fore,"x\n' + v + b',fore,x\n' * 5, 1), ('text behind a quote', v + b',fore,"x"y\n' + v + b',fore,x\n', 1), ('a NUL', v + b',fore,a\0b\n' + v + b',fore,x\n', 1), ('a lone carriage return', v + b',fore,a\rb\n' + v + b',fore,x\n', 1),
            ('a formula', v + b',fore,"=1+1"\n', 0), ('300 kB of commas', b',' * 300_000 + b'\n' + v + b',fore,x\n', 1), ('2 MB in quotes', b'"' + b'x' * 2_000_000 + b'"\n' + v + b',fore,x\n', 1), ('quotes by the thousand', b'"' * 9999 + b'\n' + v + b',fore,x\n', 1)]
    columns = dict(vin='vin', station='station', label='label')
    before = builds(server.store)
    for what, body, n in rows:
        a = bring(owner, send(owner, head + body).json['list'], 'builds', columns, True)
        ok(a.json['state'] == 'done' and (a.json['answer']['faulty'] > 0) == (n > 0), f'a list with {what}: {"told" if n else "taken"}', a.text[:400])
        if n and b'"' not in body and b'\r' not in body and a.json['answer']['rows'] > 1:
            ok(a.json['answer']['faulty'] == n, '  and reading goes on with the next row', a.text[:400])
    ok(builds(server.store) == before, 'nothing of them was put')
    name = send(owner, head + v + b',fore,x\n').json['list']
    path = f'/api/v1/lists/{name}/bring'
    for what, order in [('no kind', dict(columns=columns, dry=True)), ('another kind', dict(kind='keys', columns=columns, dry=True)), ('no dry', dict(kind='builds', columns=columns)), ('columns as a list', dict(kind='builds', columns=[], dry=True)),
                        ('a number for a column', dict(kind='builds', columns={**columns, 'vin': 1}, dry=True)), ('a column with a zero', dict(kind='builds', columns={**columns, 'vin': 'a\0b'}, dry=True))]:
        ok(owner.send('POST', path, order).status in (400, 422), f'an order with {what} is refused')
    for what, cols in [('no column for the VIN', {'station': 'station', 'label': 'label'}), ('a column that is not there', {**columns, 'vin': 'wine'})]:
        a = bring(owner, name, 'builds', cols, True)
        ok(a.json['state'] == 'failed' and 'column' in a.json['fault']['message'], f'{what}: it fails, and says so', a.text)
    for bad in ('a' * 64, 'x', '..', 'A' * 64):
        ok(owner.send('POST', f'/api/v1/lists/{bad}/bring', dict(kind='builds', columns=columns, dry=True)).status == 404, f'no such list, {bad[:6]}: 404')
    ok(owner.send('DELETE', f'/api/v1/lists/{name}').status == 204 and is_problem(owner.send('DELETE', f'/api/v1/lists/{name}'), 404), 'a list can be thrown away, once')
    many = text_of(['vin', 'station', 'label'], [['bad', 'fore', 'x']] * 12000)
    name = send(owner, many).json['list']
    t = bring(owner, name, 'builds', columns, True).json['answer']
    n = len(owner.get(f'/api/v1/lists/{name}/faults').bytes.splitlines()) - 1
    ok((t['faulty'], t['in_file'], n, len(t['faults']), t['more_faults']) == (12000, 10000, 10000, 50, 11950), 'of 12 000 faulty rows all are counted, 10 000 written down, 50 told', str(t)[-300:])


def check_papers(server, owner, scratch):
    fail = [[vin(1), 'fore', '2025-03-01', '2025-03-04'], [vin(1), 'aft', '2025-04-01', ''], [vin(2), 'fore', '2025-05-01', '2025-05-01']]
    cols = dict(vin='VIN', station='Where', failed='Day', reported='Told')
    bad = [*fail, fail[0], [vin(3), 'fore', '2025-02-30', ''], [vin(3), 'fore', '2025-03-10', '2025-03-09']]
    name = send(owner, text_of(list(cols.values()), bad)).json['list']
    t = bring(owner, name, 'failures', cols, False).json['answer']
    ok([f['line'] for f in t['faults']] == [5, 6, 7] and not t['put'] and 'line 2 says already' in t['faults'][0]['reason'], 'failures: told twice, no such day, reported before it failed', str(t))
    name = send(owner, text_of(list(cols.values()), fail)).json['list']
    t = bring(owner, name, 'failures', cols, False).json['answer']
    ok(t['put'] and t['new'] == 3, 'failures are put', str(t))
    a, b = scratch / 'f.csv', scratch / 'other'
    a.write_bytes(text_of(['vin', 'station', 'failed', 'reported'], fail))
    server.call('store', 'keep', 'failures', a, '--store', b)
    paper = "papers WHERE kind = 'failures'"
    ok([r[5] for r in dump(server.store, paper)] == [r[5] for r in dump(b, paper)], 'the paper is that of `store keep`, byte for byte (SHA-256)')
    data = a.read_bytes()
    name = send(owner, data).json['list']
    t = bring(owner, name, 'failures', dict(vin='vin', station='station', failed='failed', reported='reported'), False).json['answer']
    ok((t['same'], t['gone']) == (3, 0), 'the same again changes nothing', str(t))
    name = send(owner, text_of(['vin', 'station', 'failed', 'reported'], [[vin(1), 'fore', '2025-03-01', '2025-03-05']])).json['list']
    t = bring(owner, name, 'failures', dict(vin='vin', station='station', failed='failed', reported='reported'), True).json['answer']
    ok((t['new'], t['changed'], t['same'], t['gone']) == (0, 1, 0, 2), 'what is in the store and not in the list would go, and it says so', str(t))
    shops = [['fern-1', 'shop', '68.00', '2024-01-01'], ['fern-1', 'shop', '70.00', '2025-01-01'], ['=HYPER', 'shop', '', ''], ['fern-2', 'garage', '', ''], ['fern-3', 'mobile', '1.2.3', '']]
    cols = dict(shop='shop', kind='kind', rate='rate', **{'from': 'from'})
    name = send(owner, text_of(list(cols), shops)).json['list']
    t = bring(owner, name, 'shops', cols, True).json['answer']
    ok([f['line'] for f in t['faults']] == [4, 5, 6] and t['new'] == 2, 'shops: no id, no kind, no money', str(t))
    name = send(owner, text_of(list(cols), shops[:2])).json['list']
    ok(bring(owner, name, 'shops', cols, False).json['answer']['put'], 'shops are put')


def check_search(owner, clerk, tech, rows, server):
    def find(who, **q):
        return who.get('/api/v1/units?' + '&'.join(f'{k}={v}'.replace(' ', '%20') for k, v in q.items()))
    vins = sorted({r[0] for r in rows} | {r[0] for r in dump(server.store, 'units')})
    for tail in ('0042', '00042', '000042', vins[10][-9:], vins[10], '9999', '0000', '0499'):
        a = find(owner, vin=tail, limit=100)
        ok(a.status == 200 and fits(a, 'get', '/api/v1/units') and sorted(u['vin'] for u in a.json['units']) == [v for v in vins if v.endswith(tail)], f'units that end in {tail}: {len(a.json["units"])}', a.text[:300])
    ok([u['vin'] for u in find(owner, vin=vins[5][-6:].lower()).json['units']] == [v for v in vins if v.endswith(vins[5][-6:])], 'small letters do')
    for bad in ('042', "';--", '0' * 18, '%C3%A4%C3%A4%C3%A4%C3%A4'):
        ok(is_problem(find(owner, vin=bad), 422), f'{bad!r} is no end of a VIN: 422')
    ok(is_problem(owner.get('/api/v1/units'), 400) and is_problem(find(owner, vin='0042', limit=0), 400) and is_problem(find(owner, vin='0042', limit=101), 400), 'nothing asked for, or too much: 400')
    some, seen, after = sorted(r[0] for r in rows if r[2].startswith('A 2024-W1')), [], None
    for _ in range(100):
        a = find(owner, label='A 2024-W1', limit=7, **({'after': after} if after else {})).json
        seen += [u['vin'] for u in a['units']]
        after = a['next']
        if not a['more']:
            break
    ok(set(seen) == set(some), f'units by the beginning of a label, seven at a time: {len(set(some))}', str(len(seen)))
    u = find(owner, vin=rows[0][0]).json['units'][0]
    ok([(s['station'], s['label'], s['listed']) for s in u['stations']] == [('fore', rows[0][2], True), ('aft', rows[1][2], True)] and u['check'] == 'good', "a unit's stations and labels", str(u))
    told = json.loads(server.call('scope', ROOT / 'examples/OV-26-03.yaml', '--vin', rows[0][0], '--label', f'fore={rows[0][2]}', '--label', f'aft={rows[1][2]}', '--json', codes=(0, 1, 4)))
    ok(u['unit'] == told['unit'] and [(s['scope'], s['reason']) for s in u['stations']] == [(s['verdict'], s['reason']) for s in told['stations']], "its scope, and why, are the command line's", f"{u} {told}")
    ok(is_problem(find(owner, vin='0042', bulletin='none'), 404), 'by a bulletin that is not kept: 404')
    claim = dump(server.store, 'claims')[0]
    a = find(clerk, shop='fern-mobile-2').json
    ok([x['vin'] for x in a['units']] == [claim[9]] and [c['claim'] for c in a['units'][0]['claims']] == [claim[1]], 'units of a shop are those it claimed for, with the claim and what stands', str(a)[:500])
    ok(clerk.get('/api/v1/claims').json['claims'] == a['units'][0]['claims'], 'as the list of claims has it')
    own = find(tech, vin=claim[9][-6:]).json['units']
    ok([x['vin'] for x in own] == [claim[9]], "a technician finds their own shop's unit")
    ok(find(tech, vin=rows[0][0]).json['units'] == [] and find(tech, label='A').json['units'] == [] and [x['vin'] for x in find(tech, shop='other').json['units']] == [claim[9]], 'and no other one, whatever is asked')


def check_roles(server, people):
    for who in ('clerk', 'tech'):
        ok(is_problem(send(people[who], b'vin\n1\n'), 403) and is_problem(people[who].get('/api/v1/export/units.csv'), 403), f'{who} brings nothing in and takes nothing out: 403')
    owner, other = people['owner'], people['other']
    name = send(owner, b'vin,station,label\n1,2,3\n').json['list']
    ok(is_problem(other.send('DELETE', f'/api/v1/lists/{name}'), 404), "another owner's list is not there: 404")
    owner.send('DELETE', f'/api/v1/lists/{name}')


SELECTS = {
    'units': 'SELECT vin, station, label FROM builds ORDER BY vin, station',
    'claims': 'SELECT c.claim, c.bulletin, c.revision, c.vin, c.shop, c.technician, c.job, c.is_invented, c.opened_ms, c.finished_ms, c.taken_ms, c.labour_s, c.signature, s.verdict, s.is_word, s.amount_minor, s.paid_minor, s.currency, s.needs '
              'FROM claims c LEFT JOIN standings s ON s.claim_seq = c.seq ORDER BY c.seq',
    'readings': 'SELECT c.claim, c.vin, r.station, r.point, r.phase, r.unit, r.value_nano, r.u_nano, r.taken_ms FROM readings r JOIN claims c ON c.seq = r.claim_seq ORDER BY c.seq, r.n',
    'stations': 'SELECT c.claim, c.vin, s.station, s.variant, s.label, s.built_first, s.built_last, s.scope, s.kit FROM stations s JOIN claims c ON c.seq = s.claim_seq ORDER BY c.seq, s.n',
    'rulings': "SELECT claim, json_extract('[\"ruled\",\"overruled\",\"paid\",\"taken-back\",\"noted\"]', '$[' || kind || ']'), verdict, amount_minor, currency, revision, person, reason, at_ms FROM rulings ORDER BY seq",
}


def check_export(server, owner, scratch):
    db = sqlite3.connect(f'file:{server.store}/store.db?mode=ro', uri=True)
    name = send(owner, text_of(['vin', 'station', 'label'], [[vin(7000 + i), 'fore', x] for i, x in enumerate(['=1+1', '+1', '-1', '@SUM(A1)', "it's", 'a,"b"', 'Größe ☂'])])).json['list']
    ok(bring(owner, name, 'builds', dict(vin='vin', station='station', label='label'), False).json['answer']['put'], 'labels that look like formulas are put as they are')
    for what, select in SELECTS.items():
        wanted = db.execute(select).fetchall()
        a, j = owner.get(f'/api/v1/export/{what}.csv'), owner.get(f'/api/v1/export/{what}.json')
        back = list(csv.reader(io.StringIO(a.bytes.decode(), newline=''), strict=True))
        def guarded(x):
            return '' if x is None else str(x) if isinstance(x, int) else "'" + x if x[:1] in '=+-@\t\r' and x else x
        ok(a.status == 200 and back[1:] == [[guarded(x) for x in r] for r in wanted] and len(wanted) > 0, f"{what}.csv is SQLite's own SELECT of {len(wanted)} rows, formulas made harmless", a.text[:300])
        ok(a.bytes.count(b'\r\n') >= len(wanted) + 1 and int(a.headers['X-Mendwright-Rows']) == len(wanted), '  records end in CRLF (RFC 4180, 2)')
        ok([list(x.values()) for x in j.json] == [list(r) for r in wanted] and all(list(x) == back[0] for x in j.json), f'{what}.json holds the same, texts as they are')
        out = scratch / f'{what}.csv'
        server.call('store', 'export', what, out, '--store', server.store)
        ok(out.read_bytes() == a.bytes and server.call('store', 'export', what, '-', '--json', '--store', server.store).encode() == j.bytes, '  and `store export` writes the same bytes')
    db.close()
    for what in ('awards', 'payments', 'failures', 'shops'):
        a, j = owner.get(f'/api/v1/export/{what}.csv'), owner.get(f'/api/v1/export/{what}.json')
        ok(a.status == 200 and len(list(csv.reader(io.StringIO(a.text, newline='')))) == len(j.json) + 1, f'{what} as well: {len(j.json)} rows', a.text[:200])
    got = list(csv.DictReader(io.StringIO(owner.get('/api/v1/export/failures.csv').text)))
    ok([r['failed'] for r in got] == ['2025-03-01', '2025-04-01', '2025-05-01'], 'failures are those of the list')
    for bad in ('units.xml', 'units', '.csv', 'people.csv', 'log.csv', 'units.csv.json'):
        ok(is_problem(owner.get(f'/api/v1/export/{bad}'), 404), f'{bad}: 404')


def main(argv):
    server = Server(argv[1])
    scratch = pathlib.Path(tempfile.mkdtemp(dir=server.folder))
    server.call('store', 'keep', 'bulletin', ROOT / 'examples/OV-26-03.yaml', '--store', server.store)
    bag = scratch / 'a.zip'
    server.call('bag', 'make', ROOT / 'examples/jobs/ov-26-03-a', '-o', bag)
    server.call('take', bag, '--store', server.store, codes=(0, 1, 4))
    server.call('rule', '--store', server.store, codes=(0, 1, 4))
    server.start()
    try:
        people = {'owner': server.person('olga', 'owner'), 'other': server.person('oda', 'owner'), 'clerk': server.person('carl', 'clerk'), 'tech': server.person('tove', 'technician', 'fern-mobile-2')}
        owner = people['owner']
        check_look(owner)
        rows = check_bring(server, owner, scratch)
        check_search(owner, people['clerk'], people['tech'], rows, server)
        check_hostile(server, owner)
        check_papers(server, owner, scratch)
        check_export(server, owner, scratch)
        check_roles(server, people)
        ok(not [p.name for p in (server.store / 'coming').iterdir() if not p.name.endswith(('.list', '.faults'))], 'nothing of the work is left over')
        ok(json.loads(server.call('store', 'verify', '--store', server.store, '--json'))['ok'], 'the store is whole')
        ok(server.stop() == 0, 'it stops when it is told to, with 0')
    finally:
        server.end()
    return done()


if __name__ == '__main__':
    sys.exit(main(sys.argv))
