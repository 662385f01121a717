#!/usr/bin/env python3
"""What the server has to endure: sign-ins in a flood, a store that somebody else is writing to, senders that give a byte now and then,
uploads that are left off, and losing the machine (a backup, with its people, put up again).

Nothing here is timed: where something must not wait for something else, the order of the answers tells.
usage: endure.py PROGRAM
"""
import contextlib
import http.client
import json
import os
import select
import signal
import socket
import sqlite3
import stat
import subprocess
import sys
import threading
import time

from door import ROOT, Server, Someone, done, ok, patiently, raw, sha256

PASSWORD = 'plumb, square and true'


def until(happens, seconds=60):
    """Whether it happens before patience ends."""
    end = time.monotonic() + seconds
    while not happens():
        if time.monotonic() > end:
            return False
        time.sleep(0.05)
    return True


def post(name, address, path='/api/v1/session'):
    body = json.dumps({'name': name, 'password': 'wrong and wrong again'}).encode()
    return (f'POST {path} HTTP/1.1\r\nHost: x\r\nX-Forwarded-For: {address}\r\nContent-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n').encode() + body


def answer_of(wire):
    """Status and head of the answer on a socket; (0, '') when it was closed without one."""
    got = b''
    wire.settimeout(120)
    try:
        while b'\r\n\r\n' not in got:
            more = wire.recv(65536)
            if not more:
                return 0, ''
            got += more
    except OSError:
        return 0, ''
    head = got.split(b'\r\n\r\n')[0].decode()
    return int(head.split()[1]), head


def flood(server, count):
    """So many sign-ins at once, each under another name and, as the proxy tells it, from another address, so that no guard slows them."""
    wires = [socket.create_connection(('127.0.0.1', server.port)) for _ in range(count)]
    for i, wire in enumerate(wires):
        wire.sendall(post(f'guess-{i}', f'192.0.2.{i + 1}'))
    return wires


def check_flood(program):
    server = Server(program, '--threads', '2', '--behind-proxy').start()
    try:
        wires = flood(server, 16)
        a = Someone(server).get('/bench/')
        silent = 16 - len(select.select(wires, [], [], 0)[0])
        ok(a.status in (200, 404) and silent > 0, f'a page is answered while {silent} of 16 sign-ins, sent before it, still wait (two threads)', f'{a.status} {silent}')
        told = [answer_of(w)[0] for w in wires]
        ok(set(told) == {401}, 'each of the sixteen is answered: 401', str(told))
        for w in wires:
            w.close()
        wires = flood(server, 150)
        told = [answer_of(w) for w in wires]
        away = [head for status, head in told if status == 503]
        ok({s for s, _ in told} <= {401, 503} and len(away) > 0 and all('Retry-After: ' in h for h in away),
           f'of 150 at once {150 - len(away)} are hashed and {len(away)} turned away with 503 and Retry-After (RFC 9110, 15.6.4)', str(sorted({s for s, _ in told})))
        for w in wires:
            w.close()
        owner = server.person('ada', 'owner')
        metrics = owner.get('/metrics').text
        ok(f'mendwright_http_turned_away_total {len(away)}\n' in metrics, 'the figures for a monitor count them')
        ok(owner.send('PUT', '/api/v1/session/password', {'password': PASSWORD}).status == 204, 'afterwards a password is set')
        a = Someone(server).send('POST', '/api/v1/session', {'name': 'ada', 'password': PASSWORD}, {'X-Forwarded-For': '198.51.100.1'})
        ok(a.status == 200, 'and lets her in')
        ok(server.stop() == 0, 'it stops when it is told to')
    finally:
        server.end()


def check_stop_in_flood(program):
    """Told to stop while sign-ins wait: every one is answered, or its connection closed; the server ends."""
    server = Server(program, '--threads', '2', '--behind-proxy').start()
    try:
        wires = flood(server, 16)
        ok(server.stop() == 0, 'told to stop in a flood of sign-ins, it stops with 0')
        told = [answer_of(w)[0] for w in wires]
        ok(set(told) <= {0, 401, 503}, 'and whoever was answered was told something true', str(told))
        for w in wires:
            w.close()
    finally:
        server.end()


def call_of(method, path, person, body=b''):
    """As bytes, for a connection that is open already."""
    kind = 'Content-Type: application/json\r\nIf-None-Match: *\r\n' if body else ''
    return (f'{method} {path} HTTP/1.1\r\nHost: x\r\nCookie: {person.cookie}\r\nX-Mendwright-Csrf: {person.csrf}\r\n{kind}'
            f'Content-Length: {len(body)}\r\n\r\n').encode() + body


def send_all(wires, calls, stopped):
    """One call after the other, each on a connection of its own, until the last or until nobody is there any more."""
    for wire, call in zip(wires, calls):
        stopped.wait(0.01)  # also before the first: by then nothing is under way that would be waited for
        try:
            wire.sendall(call)
        except OSError:
            return  # closed: the server is done with it


def check_calls_in_stop(program):
    """Connections that were open before it was told to stop go on calling while it does, whatever is already being put away: a sign-in, a
    sum, a change, an ear for news, a question after a task. It must end as if nobody did."""
    server = Server(program, '--threads', '2', '--behind-proxy').start()
    try:
        owner, status, told = server.person('ada', 'owner'), [], []
        for turn in range(3):
            if turn:
                server.start()
                owner = server.enter('ada')
            wires = [socket.create_connection(('127.0.0.1', server.port)) for _ in range(40)]
            calls = [call for i in range(8) for call in (
                post(f'guess-{i}', f'192.0.2.{i + 1}'),
                call_of('GET', '/api/v1/campaign', owner),
                call_of('PUT', f'/api/v1/drafts/last-{turn}-{i}', owner, b'{"text": "bulletin:\\n"}'),
                call_of('GET', '/api/v1/news', owner),
                call_of('GET', '/api/v1/tasks/none', owner))]
            stopped = threading.Event()
            sender = threading.Thread(target=send_all, args=(wires, calls, stopped))
            sender.start()
            status.append(server.stop())
            stopped.set()
            sender.join()
            told += [answer_of(w)[0] for w in wires]
            for w in wires:
                w.close()
        ok(status == [0, 0, 0], 'whatever calls come while it stops, it stops with 0, three times', str(status))
        ok(set(told) <= {0, 200, 400, 401, 404, 503}, 'and each of them was answered with something true, or not at all', str(sorted(set(told))))
        told = server.call('store', 'verify', '--store', server.store, '--json')
        ok(json.loads(told)['ok'], 'the store is whole', told[:400])
    finally:
        server.end()


def with_bag(program):
    """A server that is running, whose store keeps the bulletin; and the bag of a job by it."""
    server = Server(program, '--threads', '2')
    server.call('store', 'keep', 'bulletin', ROOT / 'examples/OV-26-03.yaml', '--store', server.store)
    bag = server.folder / 'bag.zip'
    server.call('bag', 'make', ROOT / 'examples/jobs/ov-26-03-a', '-o', bag)
    return server.start(), bag.read_bytes()


@contextlib.contextmanager
def held(server):
    """Meanwhile another program holds the right to write to the store."""
    other = sqlite3.connect(server.store / 'store.db', isolation_level=None, timeout=60)
    other.execute('BEGIN IMMEDIATE')
    try:
        yield
    finally:
        other.execute('ROLLBACK')
        other.close()


def check_busy_store(server, data):
    """Another program holds the right to write: who only looks does not wait for it, a bag waits and is then taken."""
    someone, told = server.person('ines', 'technician', 'fern-mobile-2'), []
    senders = [threading.Thread(target=lambda: told.append(someone.send('PUT', f'/api/v1/bags/{sha256(data)}', data))) for _ in range(4)]
    with held(server):
        for s in senders:
            s.start()
        owner = server.enter('ada')
        kept = owner.send('PUT', '/api/v1/drafts/beside', {'text': 'bulletin:\n'}, {'If-None-Match': '*'}).status  # a change that does not need the store
        ok(kept == 200 and not told, 'four bags that wait, more than there are threads for them, do not hold up a draft that is kept', f'{kept} {len(told)}')
        looks = [someone.get('/api/v1/claims').status for _ in range(20)]
        ok(set(looks) == {200} and not told, 'while another program is writing to the store, claims are looked at twenty times and the bags wait', f'{looks} {len(told)}')
    for s in senders:
        s.join()
    answers = sorted((a.status, a.json['result']) for a in told)
    ok(answers == [(200, 'already')] * 3 + [(201, 'taken')], 'once it is done, the bag that was sent four times is taken once', str(answers))


def check_open_in_stop(program):
    """Told to stop while a bag waits: who calls by a connection that was open is answered, and told that it closes."""
    server, data = with_bag(program)
    try:
        someone, owner, told, closed = server.person('ines', 'technician', 'fern-mobile-2'), server.person('ada', 'owner'), [], []
        sender = threading.Thread(target=lambda: told.append(someone.send('PUT', f'/api/v1/bags/{sha256(data)}', data).status))
        with held(server):
            sender.start()
            ok(until(lambda: 'mendwright_http_open 2\n' in owner.get('/metrics').text), 'a bag waits for the store')  # the bag's and this call
            wire = http.client.HTTPConnection('127.0.0.1', server.port, timeout=60)
            wire.connect()
            server.process.send_signal(signal.SIGTERM)

            def is_told():
                wire.request('GET', '/health')
                answer = wire.getresponse()
                answer.read()
                closed.append((answer.status, answer.headers['Connection']))
                return answer.headers['Connection'] == 'close'

            ok(until(is_told, 20) and {status for status, _ in closed} == {200},
               'told to stop meanwhile, it goes on answering by a connection that was open, and says that it closes (RFC 9112, 9.6)', str(closed[-3:]))
        sender.join()
        ok(told == [201] and server.stop() == 0, 'the bag is taken, and the server ends', str(told))
    finally:
        server.end()


def closes(port, head, trickle, seconds=60):
    """Whether the server ends a connection on which something goes on coming, a byte at a time, and never the last."""
    with socket.create_connection(('127.0.0.1', port)) as wire:
        wire.sendall(head)
        end, got = time.monotonic() + seconds, b''
        while time.monotonic() < end:
            try:
                wire.sendall(trickle)
            except OSError:
                return True, got
            if select.select([wire], [], [], 0.2)[0]:
                try:
                    more = wire.recv(65536)
                except OSError:
                    return True, got
                if not more:
                    return True, got
                got += more
    return False, got


def check_slow(server):
    someone, owner = server.enter('ines'), server.enter('ada')
    ok(server.again('--timeout', '1'), 'it stops with 0, and begins anew')
    figures = lambda: patiently(lambda: owner.get('/metrics').text)
    figure = lambda name: int([w for w in figures().splitlines() if w.startswith(f'mendwright_http_{name} ')][0].split()[1])
    is_closed, got = closes(server.port, b'GET /health HTTP/1.1\r\nHost: x\r\nX-A: ', b'a')
    ok(is_closed and b' 200 ' not in got, 'a head that comes a byte at a time is cut off (--timeout 1)', repr(got[:100]))
    is_closed, got = closes(server.port, b'POST /api/v1/session HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 1000\r\n\r\n{', b' ')
    ok(is_closed and b' 200 ' not in got, 'so is a body', repr(got[:100]))
    head = (f'PUT /api/v1/bags/{"a" * 64} HTTP/1.1\r\nHost: x\r\nContent-Length: 2000\r\nCookie: {someone.cookie}\r\nX-Mendwright-Csrf: {someone.csrf}\r\n\r\n').encode()
    is_closed, got = closes(server.port, head, b'x')
    ok(is_closed and b'HTTP/1.1 2' not in got, 'and a bag', repr(got[:100]))
    ok(until(lambda: not [p for p in (server.store / 'coming').glob('*') if not p.name.endswith('.part')]), 'of which nothing is left behind')
    wire = socket.create_connection(('127.0.0.1', server.port))
    with wire:
        wire.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        wire.sendall(b'GET /api/v1/openapi.json HTTP/1.1\r\nHost: x\r\n\r\n' * 200)
        time.sleep(0.5)
        ok(patiently(lambda: Someone(server).get('/health').status) == 200, 'who asks for much and reads none of it keeps nobody waiting')
        ok(until(lambda: figure('open') == 1), 'and is cut off: no call but the one that looks is under way')
    count = figure('too_slow_total')
    ok(count >= 3, 'the figures for a monitor count what was too slow', figures())
    with socket.create_connection(('127.0.0.1', server.port)) as wire:
        wire.sendall(b'POST /api/v1/session HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 1000\r\n\r\n{')
        wire.settimeout(60)
        ok(b' 200 ' not in wire.recv(4096), 'who falls silent within a call is cut off')
    ok(until(lambda: figure('too_slow_total') > count), 'and counted')


def check_leftovers(server):
    """--coming-mib 2: a person's unfinished bags; --tidy 1: what is old goes while the server runs, and at its start."""
    ok(server.stop() == 0, 'it stops with 0')
    server.options = ('--coming-mib', '2', '--tidy', '1')
    coming = server.store / 'coming'
    for p in coming.glob('*'):
        p.unlink()
    day = 86400
    old = {'a' * 64 + '-61.part': 15 * day, 'b' * 64 + '-61.part': 13 * day, 'Ab3dEf': 3 * 3600, 'Zb3dEf': 3600}
    coming.mkdir(exist_ok=True)
    for name, age in old.items():
        (coming / name).write_bytes(b'x')
        os.utime(coming / name, (time.time() - age,) * 2)
    server.start()
    ok(sorted(p.name for p in coming.glob('*')) == ['Zb3dEf', 'b' * 64 + '-61.part'], 'at its start, pieces of 15 days and a body of 3 hours go; of 13 days and 1 hour they stay',
       str([p.name for p in coming.glob('*')]))
    os.utime(coming / ('b' * 64 + '-61.part'), (time.time() - 15 * day,) * 2)
    ok(until(lambda: not (coming / ('b' * 64 + '-61.part')).exists()), 'and so they do while it runs (--tidy 1)')
    one, two = server.enter('ines'), server.person('otto', 'technician', 'elsewhere-9')
    piece = bytes(1024 * 1024 * 3 // 4)

    def begin(someone, digit):
        a = someone.send('PUT', f'/api/v1/bags/{digit * 64}', piece, {'Content-Range': f'bytes 0-{len(piece) - 1}/{len(piece) + 1}'})
        assert a.status == 202, a.text
        time.sleep(0.02)  # so that the files' times tell which is older

    def has(someone):
        return [d for d in 'cdef' if someone.get(f'/api/v1/bags/{d * 64}').json['received'] > 0]

    begin(two, 'c')
    for d in 'cde':
        begin(one, d)
    ok(has(one) == ['d', 'e'], 'a third bag begun does not fit into 2 MiB with two: the one touched longest ago makes room', str(has(one)))
    ok(has(two) == ['c'], "another person's stay")
    for i in range(40):
        a = one.send('PUT', f'/api/v1/bags/{i:064x}', b'x', {'Content-Range': 'bytes 0-0/2'})
        assert a.status == 202, a.text
    n = len([p for p in coming.glob('*.part') if p.name.endswith(b'ines'.hex() + '.part')])
    ok(n == 32, f'of forty tiny pieces 32 stay (now {n})')


def check_restore(program, server, claim_count):
    """The machine is lost: what `store backup --with-people` made is put up elsewhere, and everybody who had a password comes in."""
    someone = server.enter('ines')
    assert someone.send('PUT', '/api/v1/session/password', {'password': PASSWORD}).status == 204
    events = json.loads((ROOT / 'examples/jobs/ov-26-03-a/events.json').read_text())
    job = next(e['id'] for e in events['events'] if e['type'] == 'opened')
    assert someone.send('POST', f'/api/v1/jobs/{job}/events', {**events, 'events': events['events'][:7]}).status == 201
    server.call('people', 'link', 'otto', '--store', server.store)
    server.call('people', 'add', 'gone', '--role', 'clerk', '--store', server.store)
    server.call('people', 'revoke', 'gone', '--store', server.store)
    plain, copy = server.folder / 'plain', server.folder / 'copy'
    told = json.loads(server.call('store', 'backup', plain, '--store', server.store, '--json'))
    ok(not (plain / 'people.db').exists() and told['people'] == 0, 'a backup is without people unless they are asked for')
    text = server.call('store', 'backup', server.folder / 'third', '--store', server.store)
    ok('--with-people' in text, 'and says so', text)
    told = json.loads(server.call('store', 'backup', copy, '--with-people', '--store', server.store, '--json'))
    people = json.loads(server.call('people', 'list', '--store', server.store, '--json').strip().split('\n')[0])
    ok(told['people'] >= 3 and people is not None, 'asked for, they come along', str(told))
    ok(stat.S_IMODE((copy / 'people.db').stat().st_mode) == 0o600, 'readable by the owner of the file alone')
    same = server.call('people', 'list', '--store', server.store, '--json') == server.call('people', 'list', '--store', copy, '--json')
    ok(same, 'names, roles, shops and who is revoked are the same')
    ok(stat.S_IMODE((copy / 'jobs.db').stat().st_mode) == 0o600 and told['open_jobs'] == 1, 'the open jobs come along, for the owner of the file alone to read', str(told))
    db = sqlite3.connect(copy / 'people.db')
    ok(db.execute('SELECT (SELECT count(*) FROM sessions), (SELECT count(*) FROM links)').fetchone() == (0, 0), 'no session and no link is in the copy')
    db.close()
    late = someone.send('POST', f'/api/v1/jobs/{job}/events', {**events, 'events': events['events'][7:9]})
    seen = someone.get(f'/api/v1/jobs/{job}/events').json
    ok(late.status == 200 and seen['next'] == 9, 'the phone goes on after the copy', late.text[:200])
    cookie = someone.cookie
    server.stop()
    again = Server(program)
    try:
        subprocess.run(['rm', '-r', again.store], check=True)
        subprocess.run(['cp', '-a', copy, again.store], check=True)
        again.start()
        thief = Someone(again)
        thief.cookie = cookie
        ok(thief.get('/api/v1/claims').status == 401, 'restored elsewhere: no old session lets anybody in')
        a = Someone(again)
        b = a.send('POST', '/api/v1/session', {'name': 'ines', 'password': PASSWORD})
        ok(b.status == 200 and b.json['shop'] == 'fern-mobile-2', 'the password does')
        ok(len(a.get('/api/v1/claims').json['claims']) == claim_count, 'and the claims are there')
        path = f'/api/v1/jobs/{job}/events'
        here = a.get(path).json['events']
        ok([e['id'] for e in here] == [e['id'] for e in seen['events'][:7]], 'the open job is as it was when the copy was made')
        ok(a.get(f'{path}?after=9').status == 404, 'a phone that has seen more is told to begin anew')
        ok(a.send('POST', path, {**events, 'events': events['events'][:9]}).json['added'] == 2 and a.get(path).json['events'] == seen['events'], 'and what it sends again fills the gap')
        ok(json.loads(again.call('store', 'verify', '--store', again.store, '--json'))['ok'], 'the store is sound')
        ok(Someone(again).send('POST', '/api/v1/session', {'name': 'gone', 'password': PASSWORD}).status == 401, 'who was revoked stays out')
    finally:
        again.end()
    wrong = subprocess.run([program, 'store', 'verify', '--with-people', '--store', str(server.store)], capture_output=True, text=True, check=False)
    ok(wrong.returncode == 2 and '--with-people' in wrong.stderr, '--with-people belongs to backup alone', wrong.stderr)


def main(argv):
    program = argv[1]
    check_flood(program)
    check_stop_in_flood(program)
    check_calls_in_stop(program)
    check_open_in_stop(program)
    server, data = with_bag(program)
    try:
        server.person('ada', 'owner')
        check_busy_store(server, data)
        check_slow(server)
        check_leftovers(server)
        check_restore(program, server, 1)
    finally:
        server.end()
    return done()


if __name__ == '__main__':
    sys.exit(main(sys.argv))
