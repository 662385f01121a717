#!/usr/bin/env python3
"""People, shops, keys and the list of who did what over HTTP: invited by a link, given another role, revoked; the last owner stays, nobody
demotes themselves; two who change the list of shops at once; every answer equals the command line's.

usage: people.py PROGRAM
What HTTP says of conditions is RFC 9110 (13.1.1, 15.5.13) and RFC 6585 (3); the list of shops is a CSV file by RFC 4180, read back here by
Python's csv.
"""
import csv
import io
import json
import sqlite3
import sys
import threading

from api import fits, is_problem
from door import ROOT, Server, Someone, done, ok

LIST = 'shop,kind,rate,from,town\r\nfern-1,shop,68.00,2026-01-01,"Fern, upper"\r\nfern-1,shop,72.50,2026-06-01,"Fern, upper"\r\nvale-2,mobile,,,\r\n'
ONE = '/api/v1/people/{person}'


def told(server, *words):
    return json.loads(server.call(*words, '--store', server.store, '--json'))


def check_people(server, ada):
    a = ada.get('/api/v1/people')
    ok(a.status == 200 and a.json == told(server, 'people', 'list') and fits(a, 'get', '/api/v1/people'), "the list is the command line's", a.text)
    a = ada.send('POST', '/api/v1/people', {'name': 'clara', 'role': 'clerk'})
    ok(a.status == 201 and a.json == {'name': 'clara', 'role': 'clerk', 'shop': None, 'revoked': False, 'has_password': False} and fits(a, 'post', '/api/v1/people'), 'a clerk is let in', a.text)
    ok(is_problem(ada.send('POST', '/api/v1/people', {'name': 'clara', 'role': 'owner'}), 409), 'who may come in already is not let in again: 409')
    for what, body in (('no role', {'name': 'x'}), ('a role there is not', {'name': 'x', 'role': 'king'}), ('nobody', {'name': 'x', 'role': 'nobody'}), ('a technician of no shop', {'name': 'x', 'role': 'technician'}),
                       ('a clerk of a shop', {'name': 'x', 'role': 'clerk', 'shop': 'fern-1'}), ('a blank in the name', {'name': 'a b', 'role': 'clerk'}), ('65 letters', {'name': 'x' * 65, 'role': 'clerk'})):
        a = ada.send('POST', '/api/v1/people', body)
        ok(is_problem(a, 422) or is_problem(a, 400), f'{what}: refused', f'{a.status} {a.text[:200]}')
    a = ada.send('POST', '/api/v1/people/clara/link')
    ok(a.status == 201 and a.json['path'].startswith('/enter/') and fits(a, 'post', ONE + '/link') and 'no-cache' in a.headers.get('Cache-Control', ''), 'a link is told, and kept by nobody on the way', a.text)
    clara, link = Someone(server), a.json['path'].removeprefix('/enter/')
    ok(clara.send('POST', '/api/v1/session', {'link': link}).json['role'] == 'clerk', 'it lets in, as a clerk')
    ok(is_problem(Someone(server).send('POST', '/api/v1/session', {'link': link}), 401), 'once')
    ok(is_problem(ada.send('POST', '/api/v1/people/nobody-here/link'), 404), 'nobody of that name: 404')
    return clara


def check_roles(server, ada, clara):
    ok(clara.get('/api/v1/claims').status == 200 and is_problem(clara.get('/api/v1/people'), 403), 'a clerk sees claims and no people')
    a = ada.send('PUT', '/api/v1/people/clara', {'role': 'technician', 'shop': 'fern-1'})
    ok(a.status == 200 and a.json['role'] == 'technician' and a.json['shop'] == 'fern-1' and fits(a, 'put', ONE), 'another role', a.text)
    ok(clara.get('/api/v1/session').json['role'] == 'nobody', 'ends the session that had the old one')
    ok(is_problem(ada.send('PUT', '/api/v1/people/nobody-here', {'role': 'clerk'}), 404), 'of nobody: 404')
    ok(is_problem(ada.send('PUT', '/api/v1/people/ada', {'role': 'clerk'}), 409), 'not of oneself: 409')
    ok(is_problem(ada.send('DELETE', '/api/v1/people/ada'), 409), 'nobody revokes themselves: 409')
    ok(server.call('people', 'revoke', 'ada', '--store', server.store, codes=(2,)) == '' and ada.get('/api/v1/session').json['role'] == 'owner', 'nor does the command line the last owner')
    server.call('people', 'add', 'ada', '--role', 'clerk', '--store', server.store, codes=(2,))
    ok(ada.get('/api/v1/session').json['role'] == 'owner', 'whose role it does not change either')
    otto = server.person('otto', 'owner')
    again = server.enter('otto')
    ok(ada.send('DELETE', '/api/v1/people/otto').status == 204 and otto.get('/api/v1/session').json['role'] == again.get('/api/v1/session').json['role'] == 'nobody', 'revoked: every session has ended')
    ok(is_problem(ada.send('DELETE', '/api/v1/people/otto'), 404) and is_problem(ada.send('POST', '/api/v1/people/otto/link'), 404), 'and no link is made')
    a = ada.send('POST', '/api/v1/people', {'name': 'otto', 'role': 'clerk'})
    ok(a.status == 201 and a.json['role'] == 'clerk' and not a.json['revoked'], 'who was revoked may be let in again', a.text)


def check_last_owner(server, ada):
    """Two owners who revoke one another at once: one of them stays, whoever was first."""
    for _ in range(5):
        eve = server.person('eve', 'owner') if 'eve' not in [p['name'] for p in told(server, 'people', 'list')['people']] else None
        if eve is None:
            server.call('people', 'add', 'eve', '--role', 'owner', '--store', server.store)
            eve = server.enter('eve')
        codes = {}
        calls = [threading.Thread(target=lambda who=who, whom=whom: codes.__setitem__(whom, who.send('DELETE', '/api/v1/people/' + whom).status)) for who, whom in ((ada, 'eve'), (eve, 'ada'))]
        for c in calls:
            c.start()
        for c in calls:
            c.join()
        owners = [p['name'] for p in told(server, 'people', 'list')['people'] if p['role'] == 'owner' and not p['revoked']]
        if len(owners) != 1 or sorted(codes.values())[0] != 204:
            break
        if owners == ['eve']:
            server.call('people', 'add', 'ada', '--role', 'owner', '--store', server.store)
            ada = server.enter('ada')
            server.call('people', 'revoke', 'eve', '--store', server.store)
    ok(len(owners) == 1 and 204 in codes.values() and any(c in (401, 403, 404, 409) for c in codes.values()), 'two owners revoke one another at once: one stays (five times)', f'{owners} {codes}')
    return ada


def shops(ada, body, match):
    return ada.send('POST', '/api/v1/shops', body, {'If-Match': match} if match else {})


def check_shops(server, ada):
    a = ada.get('/api/v1/shops')
    ok(a.status == 200 and a.json == {'sha256': None, 'kept_ms': None, 'shops': []} and a.headers['ETag'] == '"none"' and fits(a, 'get', '/api/v1/shops'), 'no list yet', a.text)
    ok(is_problem(shops(ada, {'text': LIST}, None), 428), 'without If-Match: 428')
    ok(is_problem(shops(ada, {'text': LIST}, '"' + '0' * 64 + '"'), 412), 'on top of a list that is not there: 412')
    a = shops(ada, {'text': LIST}, '"none"')
    ok(a.status == 201 and a.json == told(server, 'store', 'shops') and fits(a, 'post', '/api/v1/shops'), "a whole list is kept; what is told is the command line's", a.text)
    first = a.headers['ETag']
    by = {s['shop']: s for s in a.json['shops']}
    ok(by['fern-1']['rows'] == [{'kind': 'shop', 'rate': '68.00', 'from': '2026-01-01'}, {'kind': 'shop', 'rate': '72.50', 'from': '2026-06-01'}] and by['vale-2']['rows'] == [{'kind': 'mobile', 'rate': None, 'from': None}],
       'rates with the days from which they hold, as the file has them', a.text)
    a = shops(ada, {'row': {'shop': 'fern-1', 'kind': 'shop', 'rate': '75.00', 'from': '2026-09-01'}}, first)
    ok(a.status == 201 and [r['rate'] for r in a.json['shops'][0]['rows']] == ['68.00', '72.50', '75.00'], 'a row more', a.text)
    ok(is_problem(shops(ada, {'row': {'shop': 'x', 'kind': 'shop', 'rate': '', 'from': ''}}, first), 412), 'on top of the list before: 412')
    second = a.headers['ETag']
    a = shops(ada, {'row': {'shop': 'fern-1', 'kind': 'mobile', 'rate': '70.00', 'from': '2026-06-01'}}, second)
    ok(a.json['shops'][0]['rows'][1] == {'kind': 'mobile', 'rate': '70.00', 'from': '2026-06-01'}, 'of the same shop and day: another in its place', a.text)
    a = shops(ada, {'gone': {'shop': 'vale-2'}}, a.headers['ETag'])
    ok([s['shop'] for s in a.json['shops']] == ['fern-1'], 'one taken out', a.text)
    ok(is_problem(shops(ada, {'gone': {'shop': 'vale-2'}}, a.headers['ETag']), 404), 'which is then not there: 404')
    db = sqlite3.connect(f'file:{server.store}/store.db?mode=ro', uri=True)
    texts = [json.loads(j)['text'] for (j,) in db.execute("SELECT json FROM log WHERE type = 'store.paper' ORDER BY seq")]
    db.close()
    rows = list(csv.DictReader(io.StringIO(texts[-1], newline='')))
    ok(len(texts) == 4 and texts[0] == LIST and [r.get('town') for r in rows] == ['Fern, upper', 'Fern, upper', ''], 'each change is a paper of its own on the log, with the further column as it was (read by Python\'s csv)', texts)
    for what, body in (('a kind there is not', {'row': {'shop': 'a', 'kind': 'king'}}), ('a day there is not', {'row': {'shop': 'a', 'kind': 'shop', 'from': '2026-02-30'}}), ('money that is none', {'row': {'shop': 'a', 'kind': 'shop', 'rate': '6,8'}}),
                       ('no id', {'row': {'shop': '../x', 'kind': 'shop'}}), ('the same row twice', {'text': 'shop,kind\na,shop\na,shop\n'}), ('no list', {'text': 'x'}), ('nothing', {}), ('two at once', {'text': LIST, 'gone': {'shop': 'a'}}),
                       ('a row that is a list', {'row': []}), ('a number for a rate', {'row': {'shop': 'a', 'kind': 'shop', 'rate': 68}})):
        b = shops(ada, body, a.headers['ETag'])
        ok(b.status in (400, 409, 422) and is_problem(b, b.status), f'{what}: refused', f'{b.status} {b.text[:200]}')
    ok(ada.get('/api/v1/shops').headers['ETag'] == a.headers['ETag'], 'and nothing was kept')
    answers, tag = [], a.headers['ETag']
    threads = [threading.Thread(target=lambda k=k: answers.append(shops(ada, {'row': {'shop': f'new-{k}', 'kind': 'shop'}}, tag).status)) for k in range(12)]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    ok(sorted(answers) == [201] + [412] * 11, 'twelve at once on top of the same list: one gets through', answers)


def check_keys(server, ada):
    one, two = 'a1' * 32, 'b2' * 32
    a = ada.send('POST', '/api/v1/keys', {'shop': 'fern-1', 'key': one.upper()})
    keys = {s['shop']: s['keys'] for s in a.json['shops']}
    ok(a.status == 201 and keys['fern-1'] == [one] and fits(a, 'post', '/api/v1/keys'), 'a key', a.text)
    a = ada.send('POST', '/api/v1/keys', {'shop': 'not-listed', 'key': two})
    ok([s['rows'] for s in a.json['shops'] if s['shop'] == 'not-listed'] == [[]], 'of a shop that the list does not have: it is told, without rows', a.text)
    ok(is_problem(ada.send('POST', '/api/v1/keys', {'shop': 'vale-2', 'key': one}), 409), "another shop's key: 409")
    for body in ({'shop': 'x', 'key': 'a1'}, {'shop': 'x', 'key': 'zz' * 32}, {'shop': 'a b', 'key': 'cc' * 32}, {'shop': 'x'}):
        b = ada.send('POST', '/api/v1/keys', body)
        ok(b.status in (400, 422) and is_problem(b, b.status), f'{body}: refused', b.text)
    other = server.folder / 'other.pub'
    other.write_text(f'# from before\nfern-1 {one}\n')
    server.call('store', 'keep', 'keys', other, '--name', 'older', '--store', server.store)
    a = ada.send('DELETE', f'/api/v1/keys/{one}')
    ok(a.status == 200 and all(one not in s['keys'] for s in a.json['shops']) and fits(a, 'delete', '/api/v1/keys/{key}') and a.json == told(server, 'store', 'shops'), 'revoked: gone from both keyrings', a.text)
    ok(is_problem(ada.send('DELETE', f'/api/v1/keys/{one}'), 404) and is_problem(ada.send('DELETE', '/api/v1/keys/xyz'), 404), 'again: 404')
    ada.send('DELETE', f'/api/v1/keys/{two}')
    ok(all(s['keys'] == [] for s in ada.get('/api/v1/shops').json['shops']), 'the last key may go as well')


def check_audit(server, ada):
    a = ada.get('/api/v1/audit?limit=500')
    ok(a.status == 200 and a.json == told(server, 'people', 'audit', '--limit', '500') and fits(a, 'get', '/api/v1/audit'), "the list is the command line's", a.text[:400])
    acts = a.json['acts']
    ok(a.json['next'] is None and [x['at_ms'] for x in acts] == sorted((x['at_ms'] for x in acts), reverse=True), 'the newest first')
    by_ada = [(x['what'], x['whom'], x['paper']) for x in acts if x['who'] == 'ada']
    for act in (('added', 'clara', None), ('link', 'clara', None), ('changed', 'clara', None), ('revoked', 'otto', None), ('let-in', 'otto', None), ('paper', None, 'shops'), ('paper', None, 'keys')):
        ok(act in by_ada, f'{act} by ada is in it')
    older = [x for x in acts if x['paper'] == 'keys' and x['name'] == 'older']
    ok([x['who'] for x in older] == ['ada', None], 'a keyring that was kept at the command line names nobody; the change from the page does', older)
    ok([x['who'] for x in acts if x['what'] == 'added' and x['whom'] == 'ada'] == [None], 'so does the first owner')
    got, place = [], ''
    for _ in range(200):
        p = ada.get('/api/v1/audit?limit=3' + (f'&from={place}' if place else '')).json
        got += p['acts']
        place = p['next']
        if place is None:
            break
    ok(got == acts, f'{len(acts)} acts three at a time are the same, none twice and none left out')
    ok(ada.get('/api/v1/audit?what=paper&limit=500').json['acts'] == [x for x in acts if x['what'] == 'paper'] and ada.get('/api/v1/audit?who=ada&limit=500').json['acts'] == [x for x in acts if x['who'] == 'ada'], 'by kind and by person')
    for q in ('what=king', 'limit=0', 'limit=501', 'limit=x', 'from=x', 'from=1', 'from=1.2', 'from=1.2.3.4', 'from=-1.2.3', 'what=%27;DROP%20TABLE%20acts'):
        ok(is_problem(ada.get('/api/v1/audit?' + q), 400), f'{q}: 400')


def check_forgotten(server, ada):
    server.call('people', 'forget', 'clara', '--store', server.store, codes=(2,))
    ok('clara' in [p['name'] for p in told(server, 'people', 'list')['people']], 'who may come in is not forgotten')
    ok(is_problem(ada.send('DELETE', '/api/v1/people/clara/name'), 409), 'nor over HTTP: 409, as long as they may come in')
    ada.send('DELETE', '/api/v1/people/clara')
    ok(is_problem(ada.send('DELETE', '/api/v1/people/nobody-here/name'), 404), 'nobody of that name: 404')
    gone = ada.send('DELETE', '/api/v1/people/clara/name')
    ok(gone.status == 204 and is_problem(ada.send('DELETE', '/api/v1/people/clara/name'), 404), 'revoked, the owner forgets them; then there is nobody to forget', gone.text)
    text = ada.get('/api/v1/audit?limit=500').text + ada.get('/api/v1/people').text
    db = sqlite3.connect(f'file:{server.store}/people.db?mode=ro', uri=True)
    dump = '\n'.join(map(str, [row for t in ('people', 'links', 'sessions', 'acts') for row in db.execute(f'SELECT * FROM {t}')]))
    db.close()
    ok('clara' not in text and 'clara' not in dump and 'forgotten 1' in text, 'forgotten: no table of people.db has the name any more, the acts stay', dump)
    copy = server.folder / 'copy'
    server.call('store', 'backup', copy, '--with-people', '--store', server.store)
    ok(json.loads(server.call('people', 'audit', '--limit', '500', '--store', copy, '--json')) == told(server, 'people', 'audit', '--limit', '500'), 'a copy of the store with its people has the same list')


def check_older(server):
    """people.db of the version before this list: Python's sqlite3 makes one, the program brings it up to date."""
    db = sqlite3.connect(server.store / 'people.db', isolation_level=None)
    db.execute('DROP TABLE acts')
    db.execute('PRAGMA user_version = 1')
    db.close()
    before = told(server, 'people', 'list')
    ok(told(server, 'people', 'audit')['acts'][:1] == [] or all(x['seq'] for x in told(server, 'people', 'audit')['acts']), 'a list of people of version 1 is brought up to this one: what stands on the log is told')
    server.call('people', 'add', 'zoe', '--role', 'clerk', '--store', server.store)
    ok([x['what'] for x in told(server, 'people', 'audit', '--what', 'added')['acts']] == ['added'] and len(told(server, 'people', 'list')['people']) == len(before['people']) + 1, 'and goes on')


def main(argv):
    server = Server(argv[1])
    try:
        server.start()
        ada = server.person('ada', 'owner')
        clara = check_people(server, ada)
        check_roles(server, ada, clara)
        check_shops(server, ada)
        check_keys(server, ada)
        check_audit(server, ada)
        check_forgotten(server, ada)
        check_last_owner(server, ada)
        ok(server.stop() == 0, 'the server ends with 0')
        check_older(server)
        log = (server.folder / 'log').read_text()
        ok('ERROR: ' not in log and 'runtime error' not in log, 'and no sanitizer said a word', log[-1500:] if 'rror' in log else '')
    finally:
        server.end()
    return done()


if __name__ == '__main__':
    sys.exit(main(sys.argv))
