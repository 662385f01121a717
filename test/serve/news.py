#!/usr/bin/env python3
"""The campaign at one look and the stream of news, over HTTP: the same bytes as the command's, entity tags; two hundred who listen, one of
them slow, on two threads; where a listener left off; too many; stopping. The form of events: HTML Living Standard, 9.2.

usage: news.py PROGRAM
"""
import http.client
import json
import signal
import socket
import sys
import time

from api import fits, is_problem
from door import ROOT, Server, Someone, done, ok, sha256


class Listener:
    """One stream over a socket of its own."""

    def __init__(self, server, someone, last=None, small=False):
        self.wire = socket.socket()
        if small:
            self.wire.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
        self.wire.connect(('127.0.0.1', server.port))
        self.wire.settimeout(30)
        extra = f'Last-Event-ID: {last}\r\n' if last is not None else ''
        self.wire.sendall(f'GET /api/v1/news HTTP/1.1\r\nHost: x\r\nCookie: {someone.cookie}\r\nAccept: text/event-stream\r\n{extra}\r\n'.encode())
        self.got = b''

    def until(self, text, seconds=30):
        end = time.monotonic() + seconds
        while text not in self.got and time.monotonic() < end:
            self.wire.settimeout(max(0.1, end - time.monotonic()))
            try:
                more = self.wire.recv(65536)
            except (TimeoutError, socket.timeout):
                break
            if not more:
                break
            self.got += more
        return text in self.got

    @property
    def status(self):
        return int(self.got.split(b' ', 2)[1])

    def ids(self):
        return [int(line[4:]) for line in self.got.decode().splitlines() if line.startswith('id: ')]

    def close(self):
        self.wire.close()


def check_campaign(server, people):
    owner = people['owner']
    a = owner.get('/api/v1/campaign')
    ok(is_problem(a, 404), 'no bulletin is kept: 404', f'{a.status} {a.text[:200]}')
    server.call('store', 'keep', 'bulletin', ROOT / 'examples/OV-26-03.yaml', '--store', server.store)
    (server.folder / 'builds.csv').write_text('vin,station,label\nZZZFM24T1R0000002,fore,WD40 2024-W14\nZZZFM24T1R0000002,aft,WD40 2024-W40\n')
    server.call('store', 'builds', server.folder / 'builds.csv', '--store', server.store)
    a = owner.get('/api/v1/campaign?since=0')
    ok(a.status == 200 and fits(a, 'get', '/api/v1/campaign'), 'the campaign is as described', a.text[:300])
    told = server.call('campaign', '--store', server.store, '--json', '--since', '0', codes=(0, 1, 4))
    ok(told.encode() == a.bytes, 'and is what the command prints, byte for byte', f'{told[:300]} {a.text[:300]}')
    ok(a.json['units']['in_scope'] == 1 and a.json['stations']['in_scope'] == 1, 'one unit, one of its stations in scope')
    tag = a.headers['ETag']
    ok(owner.get('/api/v1/campaign?since=0', If_None_Match=tag).status == 304, 'not changed since: 304')
    ok(owner.get('/api/v1/campaign?since=0', If_None_Match='"x", ' + tag).status == 304, 'one of several tags')
    ok(owner.get('/api/v1/campaign', If_None_Match=tag).status == 200, 'asked in another way: the whole')
    ok(is_problem(owner.get('/api/v1/campaign?since=yesterday'), 400), 'since when it is no number: 400')
    ok(is_problem(owner.get('/api/v1/campaign?bulletin=XX'), 404), 'a bulletin that is not kept: 404')
    ok(is_problem(people['technician'].get('/api/v1/campaign'), 403), 'not for technicians')
    ok(people['clerk'].get('/api/v1/campaign').bytes == owner.get('/api/v1/campaign').bytes, 'a clerk sees what the owner sees')
    return tag


def put_bag(server, people, i):
    """A bag like the example's but for a note."""
    import shutil
    job = server.folder / f'job{i}'
    shutil.copytree(ROOT / 'examples/jobs/ov-26-03-a', job)
    (job / 'note.txt').write_text(f'{i}\n')
    server.call('bag', 'make', job, '-o', server.folder / f'{i}.zip')
    data = (server.folder / f'{i}.zip').read_bytes()
    a = people['technician'].send('PUT', f'/api/v1/bags/{sha256(data)}', data)
    assert a.status == 201, a.text


def check_news(server, people, tag):
    clerk = people['clerk']
    one = Listener(server, clerk)
    ok(one.until(b'event: here') and one.status == 200 and b'text/event-stream' in one.got and b'no-cache' in one.got, 'a stream of events begins', repr(one.got[:300]))
    slow = Listener(server, clerk, small=True)  # never read until the end
    many = [Listener(server, clerk) for _ in range(200)]
    ok(all(m.until(b'event: here') for m in many), 'two hundred listen on two threads')
    began = time.monotonic()
    healthy = [Someone(server).get('/health').status for _ in range(20)]
    ok(healthy == [200] * 20, 'and calls are answered beside them', f'{time.monotonic() - began:.1f} s')
    put_bag(server, people, 1)
    ok(one.until(b'event: news') and all(m.until(b'event: news') for m in many), 'a bag is taken in: everyone is told')
    a = clerk.get('/api/v1/campaign?since=0', If_None_Match=tag)
    ok(a.status == 200 and a.json['news']['taken'] == 1 and a.json['seq'] == one.ids()[-1], 'the id is the place in the log that the campaign tells', f'{a.json["seq"]} {one.ids()}')
    server.call('rule', '--store', server.store, codes=(0, 1, 4))  # by another process
    n = len(one.ids())
    ok(one.until(f'id: {clerk.get("/api/v1/campaign").json["seq"]}\n'.encode()) and len(one.ids()) > n, 'what another process writes is told as well')
    ids = one.ids()
    ok(ids == sorted(ids) and len(set(ids)) == len(ids), 'ids ascend', str(ids))
    late = Listener(server, clerk, last=ids[0])
    ok(late.until(b'event: news', 10) and late.ids()[-1] == ids[-1], 'who comes again is told at once what came meanwhile', repr(late.got))
    ok(b'"since":%d' % ids[0] in late.got, 'and since when')
    for last in ('x', '-1', '99999999999999999999999'):
        a = clerk.get('/api/v1/news', Last_Event_ID=last)
        ok(is_problem(a, 400), f'Last-Event-ID {last}: 400', f'{a.status}')
    ok(slow.until(b'event: news', 10), 'the slow one hears of it when it reads')
    return [one, slow, late, *many]


def check_full(server, people, listeners):
    clerk = people['clerk']
    more = [Listener(server, clerk) for _ in range(400 - len(listeners))]
    ok(all(m.until(b'event: here') for m in more), 'four hundred listen')
    a = clerk.get('/api/v1/news')
    ok(is_problem(a, 503) and int(a.headers['Retry-After']) > 0, 'one more: 503, with Retry-After', f'{a.status}')
    ok(clerk.get('/api/v1/campaign').status == 200, 'everything else goes on')
    for m in more:
        m.close()
    put_bag(server, people, 2)
    end = time.monotonic() + 30
    again = None
    while time.monotonic() < end:
        again = Listener(server, clerk)
        if again.until(b'\r\n\r\n') and again.status == 200:
            break
        time.sleep(0.5)
    ok(again.status == 200, 'once some have gone there is room again', repr(again.got[:100]))
    return [*listeners, again]


def check_stop(server, listeners):
    began = time.monotonic()
    server.process.send_signal(signal.SIGTERM)
    code = server.process.wait(timeout=60)
    ok(code == 0, 'told to stop while many listen, it stops with 0', f'{code} after {time.monotonic() - began:.1f} s')
    ended = sum(m.until(b'\r\n0\r\n\r\n', 10) for m in listeners)
    ok(ended == len(listeners), 'and every stream ended as it should (RFC 9112, 7.1)', f'{ended} of {len(listeners)}')
    for m in listeners:
        m.close()


def main(argv):
    server = Server(argv[1], '--threads', '2')
    try:
        server.start()
        people = {'technician': server.person('ines', 'technician', 'fern-mobile-2'), 'clerk': server.person('clara', 'clerk'), 'owner': server.person('ada', 'owner')}
        a = people['technician'].get('/api/v1/news')
        ok(is_problem(a, 403), 'technicians do not listen')
        head = http.client.HTTPConnection('127.0.0.1', server.port, timeout=30)
        tag = check_campaign(server, people)
        head.request('HEAD', '/api/v1/news', headers={'Cookie': people['clerk'].cookie})
        h = head.getresponse()
        ok(h.status == 200 and h.headers['Content-Type'] == 'text/event-stream' and not h.read(), 'HEAD tells what it would be')
        head.close()
        listeners = check_news(server, people, tag)
        listeners = check_full(server, people, listeners)
        check_stop(server, listeners)
        log = [json.loads(line) for line in (server.folder / 'log').read_text().splitlines()]
        ok(any(line['path'] == '/api/v1/news' for line in log), 'streams are in the log as calls')
    finally:
        server.end()
    return done()


if __name__ == '__main__':
    sys.exit(main(sys.argv))
