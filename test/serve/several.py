#!/usr/bin/env python3
"""Two servers on one PostgreSQL: who signed in at one is known at the other, what one takes in the other tells, what both do to the same
claim at the same moment is done once; and the PostgreSQL killed and started again while both take bags in.

usage: several.py PROGRAM
"""
import json
import os
import pathlib
import subprocess
import sys
import threading
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / 'store'))
import server as postgresql  # noqa: E402
from door import ROOT, Server, Someone, done, ok, sha256  # noqa: E402
from load import bags  # noqa: E402
from news import Listener  # noqa: E402


def second(server):
    """Another process on the same store."""
    other = Server.__new__(Server)
    other.__dict__.update(server.__dict__)
    return other.start()


def at(server, someone):
    """The same person's browser, sent to the other server by whatever stands before both."""
    twin = Someone(server)
    twin.cookie, twin.csrf = someone.cookie, someone.csrf
    return twin


def both(calls):
    """Runs the calls at the same moment; their answers."""
    answers, gate = [None] * len(calls), threading.Barrier(len(calls))

    def run(i):
        gate.wait()
        answers[i] = calls[i]()

    threads = [threading.Thread(target=run, args=(i,)) for i in range(len(calls))]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    return answers


def verify(server):
    return json.loads(server.call('store', 'verify', '--store', server.store, '--json', codes=(0, 1)))


def check_sessions(a, b, people):
    ok(people['b']['tech'].get('/api/v1/session').json['name'] == 'ines', 'who signed in at the first is known at the second')
    someone = a.person('otto', 'clerk')
    twin = at(b, someone)
    ok(twin.send('DELETE', '/api/v1/session').status in (200, 204), 'signs out at the second')
    ok(someone.get('/api/v1/claims').status == 401, 'and is out at the first')


def check_taking(a, b, people, made):
    listener = Listener(b, people['b']['clerk'])
    ok(listener.until(b'event: here', 60), 'somebody listens at the second')
    first = people['a']['tech'].send('PUT', f'/api/v1/bags/{sha256(made[0])}', made[0])
    ok(first.status == 201 and listener.until(b'event: news', 60), 'a bag taken in at the first is news there', first.text[:200])
    listener.close()
    told = []
    for data in made[1:]:
        told += both([lambda w=w, d=data: people[w]['tech'].send('PUT', f'/api/v1/bags/{sha256(d)}', d) for w in 'ab'])
    got = [(t.status, t.json.get('result')) for t in told]
    n = len(made) - 1
    ok(got.count((201, 'taken')) == n and got.count((200, 'already')) == n, f'{n} bags sent to both at once: each is taken once', str(got))
    health = verify(a)
    ok(health['ok'] and health['claims'] == len(made) and health['orphans'] == 0, 'the store has each once and is whole', str(health)[:300])


def check_money(a, b, people):
    """Each claim: two different words at once, then two payments at once, one at each server."""
    won, paid, odd, said = 0, 0, [], []
    a.call('rule', '--store', a.store, codes=(0, 1, 4))
    claims = people['a']['clerk'].get('/api/v1/claims').json['claims']
    for claim in claims:
        path = f"/api/v1/claims/{claim['claim']}"
        tag = people['a']['clerk'].get(path).headers['ETag']
        words = both([lambda w=w, n=n: people[w]['clerk'].send('POST', path + '/ruling', {'verdict': 'pay', 'reason': f'seen at {w}', 'amount_minor': n}, {'If-Match': tag})
                      for w, n in (('a', 1000), ('b', 2000))])
        won += sorted(w.status for w in words) == [200, 412]
        said = said or [(w.status, w.text[:200]) for w in words]
        now = people['b']['clerk'].get(path)
        money = both([lambda w=w: people[w]['clerk'].send('POST', path + '/payment', None, {'If-Match': now.headers['ETag']}) for w in 'ab'])
        paid += sorted(m.status for m in money) == [200, 412]
        last = people['a']['clerk'].get(path).json
        kinds = [r['kind'] for r in last['rulings']]
        if kinds.count('overruled') != 1 or kinds.count('paid') != 1 or last['paid_minor'] != last['amount_minor']:
            odd.append((claim['claim'], kinds, last['paid_minor'], last['amount_minor']))
    ok(won == len(claims), f'of two words at once on {len(claims)} claims one stands, and the other is told of it', f'{won} {said}')
    ok(paid == len(claims), 'of two payments at once one is made', f'{paid}')
    ok(not odd, 'one word and one payment of its amount stand for each', str(odd)[:400])
    a.call('store', 'export', 'payments', a.folder / 'payments.json', '--store', a.store)
    rows = json.loads((a.folder / 'payments.json').read_text())
    rows = rows if isinstance(rows, list) else next(v for v in rows.values() if isinstance(v, list))
    ok(len(rows) == len(claims) and len({r['claim'] for r in rows}) == len(claims), 'the list of payments has each claim once', str(rows)[:300])
    ok(verify(a)['ok'], 'the chain is one chain')


def send_all(someone, todo, said, acknowledged):
    """Sends until everything is acknowledged, as a phone does; answers go to `said`."""
    for data in todo:
        digest = sha256(data)
        for _ in range(300):
            try:
                answer = someone.send('PUT', f'/api/v1/bags/{digest}', data)
            except OSError as e:
                said.append((0, str(e)))
                time.sleep(0.1)
                continue
            said.append((answer.status, answer.headers.get('Retry-After')))
            if answer.status in (200, 201):
                acknowledged.append(answer.json['claim'])
                break
            time.sleep(0.1)


def check_restart(pg, a, b, people, made):
    before = {c['claim'] for c in people['a']['clerk'].get('/api/v1/claims').json['claims']}
    said, acknowledged = [], []
    threads = [threading.Thread(target=send_all, args=(people[w]['tech'], made[i::2], said, acknowledged)) for i, w in enumerate('ab')]
    for t in threads:
        t.start()
    n_restarts = 0
    while any(t.is_alive() for t in threads) and n_restarts < 6:
        have = len(acknowledged)
        while len(acknowledged) < have + 4 and any(t.is_alive() for t in threads):  # ends: sending is given up at some time
            time.sleep(0.01)
        if not any(t.is_alive() for t in threads):
            break
        pg.stop('immediate')
        if n_restarts == 0:
            failed = subprocess.run([a.program, 'store', 'verify', '--store', str(a.store)], capture_output=True, text=True)
            ok(failed.returncode == 3 and 'cannot be reached' in failed.stderr, 'while it is away a command ends with 3 and says so', failed.stderr)
            mine = people['a']['clerk'].get('/api/v1/claims')
            ok(mine.status == 503 and int(mine.headers['Retry-After']) > 0 and 'try again' in mine.json['detail'], 'and a page is told to try again', f'{mine.status} {mine.text}')
        pg.start()
        n_restarts += 1
    for t in threads:
        t.join()
    kinds = sorted({s for s, _ in said})
    ok(n_restarts >= 2 and len(acknowledged) == len(made), f'{len(made)} bags were acknowledged while the PostgreSQL was killed {n_restarts} times', f'{n_restarts} {len(acknowledged)} {kinds}')
    ok(set(kinds) <= {200, 201, 503}, f'answers were {kinds}, and no other', str([s for s in said if s[0] not in (200, 201, 503)])[:300])
    ok(all(wait is not None for s, wait in said if s == 503), 'each 503 says when to come again')
    health = verify(a)
    after = []
    page = people['b']['clerk'].get('/api/v1/claims?limit=200').json
    after += [c['claim'] for c in page['claims']]
    ok(health['ok'] and health['claims'] == len(before) + len(made), 'every acknowledged bag is there, once, and the chain is whole', f'{health}'[:300])
    ok(set(acknowledged) <= set(after) and before <= set(after), 'the list has every one', f'{len(after)}')
    ok(people['b']['tech'].get('/api/v1/session').status == 200, 'sessions outlive it')


def main(argv):
    with postgresql.Server() as pg:
        os.environ['MENDWRIGHT_TEST_SERVER'] = pg.address
        a = Server(argv[1], '--threads', '2').start()
        b = None
        try:
            b = second(a)
            ok(a.port != b.port, 'two servers on one store')
            a.call('store', 'keep', 'bulletin', ROOT / 'examples/OV-26-03.yaml', '--store', a.store)
            people = {'a': {'tech': a.person('ines', 'technician', 'fern-mobile-2'), 'clerk': a.person('clara', 'clerk')}}
            people['b'] = {k: at(b, v) for k, v in people['a'].items()}
            made = bags(a, 45)
            check_sessions(a, b, people)
            check_taking(a, b, people, made[:12])
            check_money(a, b, people)
            check_restart(pg, a, b, people, made[12:])
            ok(a.stop() == 0 and b.stop() == 0, 'both end with 0')
        finally:
            if b and b.process.poll() is None:
                b.process.kill()
            a.end()
    return done()


if __name__ == '__main__':
    sys.exit(main(sys.argv))
