#!/usr/bin/env python3
"""The rules' turn over HTTP: begun by a clerk, what it came to beside the command's on a copy of the same store, who sees it, a store without
a bulletin; and the reference of a bulletin's keys beside the command's.

usage: rulings.py PROGRAM
"""
import json
import re
import shutil
import sys
import time

from api import fits, is_problem
from door import Server, done, ok

EVENING = '2026-12-01T18:00:00Z'


def wait(who, name):
    for _ in range(600):
        a = who.get(f'/api/v1/tasks/{name}')
        if a.status != 200 or a.json['state'] not in ('waiting', 'running'):
            return a
        time.sleep(0.05)
    return a


def fill(server):
    campaign = server.folder / 'campaign'
    server.call('demo', 'make', campaign, '--units', '24', '--seed', '7', '--faulty', '50')
    for what, file in (('bulletin', 'bulletin.yaml'), ('shops', 'shops.csv'), ('keys', 'keys.txt')):
        server.call('store', 'keep', what, campaign / file, '--store', server.store)
    server.call('store', 'builds', campaign / 'builds.csv', '--store', server.store)
    server.call('take', '--arrivals', campaign / 'arrivals.csv', '--store', server.store, codes=(0, 1))
    return campaign


def lines(text):
    return [json.loads(line) for line in text.splitlines() if line.strip()]


def standing(server, store):
    return {r['claim']: (r['verdict'], r['amount_minor'], [f['rule'] for f in r['findings']]) for r in lines(server.call('rule', '--store', store, '--trial', '--at', EVENING, '--json', codes=(0, 1, 4))) if 'claim' in r}


def check_turn(server, clerk, owner, other):
    a = clerk.send('POST', '/api/v1/rulings', {})
    b = wait(clerk, a.json['task'])
    ok(b.json['state'] == 'failed' and 'bulletin' in b.json['fault']['message'], 'without a bulletin nothing can be ruled, and it is said', b.text)
    fill(server)
    copy = server.folder / 'copy'
    shutil.copytree(server.store, copy)
    told = [r for r in lines(server.call('rule', '--store', copy, '--at', EVENING, '--json', codes=(0, 1, 4))) if 'claim' in r]
    a = clerk.send('POST', '/api/v1/rulings', {})
    ok(a.status == 202 and fits(a, 'post', '/api/v1/rulings'), "the rules' turn is begun by a clerk", a.text)
    b = wait(clerk, a.json['task'])
    got = b.json.get('answer', {})
    ok(b.json['state'] == 'done' and fits(b, 'get', '/api/v1/tasks/{task}'), 'and ends', b.text)
    ok(len(told) > 10 and got.get('ruled') == len(told) and {v: got.get(v) for v in ('pay', 'ask', 'hold', 'refuse')} == {v: sum(r['verdict'] == v for r in told) for v in ('pay', 'ask', 'hold', 'refuse')}, "every claim, and each verdict as often as the command's", f'{got}')
    ok(standing(server, server.store) == standing(server, copy), "what stands is the command's, claim by claim")
    ok(is_problem(other.get(f"/api/v1/tasks/{a.json['task']}"), 404) and is_problem(other.send('DELETE', f"/api/v1/tasks/{a.json['task']}"), 404), "another clerk's is not there")
    ok(owner.get(f"/api/v1/tasks/{a.json['task']}").json['person'] == 'ada', 'an owner sees who began it')
    before = json.loads(server.call('store', 'verify', '--store', server.store, '--json'))['events']
    b = wait(clerk, clerk.send('POST', '/api/v1/rulings', {}).json['task'])
    ok(b.json['answer']['ruled'] == 0, 'asked again: nothing is left to rule on', b.text)
    b = wait(clerk, clerk.send('POST', '/api/v1/rulings', {'all': True}).json['task'])
    ok(b.json['answer']['ruled'] == len(told) and b.json['answer']['changed'] == 0, 'all of them anew: the same, so nothing changes', b.text)
    after = json.loads(server.call('store', 'verify', '--store', server.store, '--json'))
    ok(after['ok'] and after['events'] == before, 'and nothing is written twice', f'{before} {after}')
    ok(is_problem(clerk.send('POST', '/api/v1/rulings', {'all': 'yes'}), 400), 'all is true or false')


def check_reference(server, clerk):
    a = clerk.get('/api/v1/bulletins/reference')
    ok(a.status == 200 and fits(a, 'get', '/api/v1/bulletins/reference'), 'what may stand in a bulletin, as described', a.text[:300])
    ok(clerk.get("/api/v1/bulletins/reference", If_None_Match=a.headers["ETag"]).status == 304, 'and not again to who has it')
    rows, at = [], ''
    for line in server.call('check', '--reference').splitlines():
        head, row = re.match(r'##+ `(.*)`$', line), re.match(r'\| `([a-z_]+)` \| (yes)? ?\| (.*) \| (.*) \| (.*) \|$', line)
        if head:
            at = head[1]
        elif row:
            rows.append((f'{at}.{row[1]}' if at not in ('', '(the file)') else row[1], row[2] == 'yes', row[4].replace('\\|', '|')))
    told = [(f['path'].removesuffix('[]'), f['needed'], f['what']) for f in a.json['fields']]
    ok(len(told) > 100 and sorted(rows) == sorted(told), f'its {len(told)} keys are those of `check --reference`, with what they are', f'{sorted(set(rows) ^ set(told))[:6]}')


def main(argv):
    server = Server(argv[1]).start()
    try:
        clerk, other, owner = server.person('ada', 'clerk'), server.person('abe', 'clerk'), server.person('olga', 'owner')
        check_turn(server, clerk, owner, other)
        check_reference(server, clerk)
        ok(server.stop() == 0, "the server ends with 0")
    finally:
        server.end()
    return done()


if __name__ == '__main__':
    sys.exit(main(sys.argv))
