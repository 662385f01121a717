#!/usr/bin/env python3
"""Hostile calls, byte for byte as they come over the wire, each with the answer that it must get. doc/security.md has the same table: tools/hostile
writes it from here and a test holds it to this file. Every case is followed by a look whether the server still answers, and whatever is hidden in a
case's body or behind it must never be answered as a call.

usage: hostile.py PROGRAM
"""
import json
import re
import resource
import select
import socket
import sys
import time

from door import ROOT, Server, Someone, done, ok, raw, sha256

HIDDEN = b'GET /hidden HTTP/1.1\r\nHost: x\r\n\r\n'  # what a case smuggles; /hidden in the log would show that it was taken for a call
SESSION = b'POST /api/v1/session HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n'
HEALTH = b'GET /health HTTP/1.1\r\nHost: x\r\n'
LEAK = re.compile(rb'/tmp/|/root/|root:x:0|\.db\b|sqlite|\.c:\d', re.I)
CLOSED = 0  # the connection is closed without an answer

# (group, what, bytes or pieces, the statuses of which one must come, why). The last word names the rule.
ROWS = []


def row(group, what, data, *statuses, why):
    ROWS.append((group, what, data, statuses, why))


def get(target, more=b''):
    return b'GET ' + target + b' HTTP/1.1\r\nHost: x\r\n' + more + b'Connection: close\r\n\r\n'


F = 'what the body is'
row(F, 'Content-Length and Transfer-Encoding', SESSION + b'Content-Length: 4\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n' + HIDDEN, 400, why='RFC 9112, 6.1')
row(F, 'Transfer-Encoding and then Content-Length', SESSION + b'Transfer-Encoding: chunked\r\nContent-Length: 4\r\n\r\n0\r\n\r\n' + HIDDEN, 400, why='RFC 9112, 6.1')
row(F, 'Transfer-Encoding: gzip, chunked', SESSION + b'Transfer-Encoding: gzip, chunked\r\n\r\n0\r\n\r\n' + HIDDEN, 400, why='RFC 9112, 6.1')
row(F, 'Transfer-Encoding: identity', SESSION + b'Transfer-Encoding: identity\r\n\r\n' + HIDDEN, 400, why='RFC 9112, 6.1')
row(F, 'Transfer-Encoding: xchunked', SESSION + b'Transfer-Encoding: xchunked\r\n\r\n0\r\n\r\n' + HIDDEN, 400, why='RFC 9112, 6.1')
row(F, 'Transfer-Encoding behind a vertical tab', SESSION + b'Transfer-Encoding: \x0bchunked\r\n\r\n0\r\n\r\n' + HIDDEN, 400, why='RFC 9112, 6.1')
row(F, 'Transfer-Encoding twice', SESSION + b'Transfer-Encoding: chunked\r\nTransfer-Encoding: identity\r\n\r\n0\r\n\r\n' + HIDDEN, 400, why='RFC 9112, 6.1')
row(F, 'a blank before the colon of Transfer-Encoding', SESSION + b'Content-Length: 5\r\nTransfer-Encoding : chunked\r\n\r\n0\r\n\r\n' + HIDDEN, 400, why='RFC 9112, 5.1')
row(F, 'two sizes that differ', SESSION + b'Content-Length: 2\r\nContent-Length: 40\r\n\r\n{}' + HIDDEN, 400, why='RFC 9112, 6.3')
row(F, 'a list of sizes', SESSION + b'Content-Length: 2, 40\r\n\r\n{}' + HIDDEN, 400, why='RFC 9112, 6.3')
row(F, 'a size with a sign', SESSION + b'Content-Length: +2\r\n\r\n{}' + HIDDEN, 400, why='RFC 9110, 8.6')
row(F, 'a size below zero', SESSION + b'Content-Length: -1\r\n\r\n{}' + HIDDEN, 400, why='RFC 9110, 8.6')
row(F, 'a size in hexadecimal', SESSION + b'Content-Length: 0x2\r\n\r\n{}' + HIDDEN, 400, why='RFC 9110, 8.6')
row(F, 'no size behind the colon', SESSION + b'Content-Length:\r\n\r\n' + HIDDEN, 400, why='RFC 9110, 8.6')
row(F, 'a size of 30 digits', SESSION + b'Content-Length: ' + b'9' * 30 + b'\r\n\r\n{}', 400, 413, why='RFC 9110, 15.5.14')
row(F, 'a size of a terabyte', SESSION + b'Content-Length: 1000000000000\r\n\r\n{}', 413, why='RFC 9110, 15.5.14')
row(F, 'a body on a call that takes none', HEALTH + b'Content-Length: 34\r\n\r\n' + HIDDEN, 413, why='ours')
row(F, 'Expect: 100-continue before too large a body', SESSION + b'Expect: 100-continue\r\nContent-Length: 1000000\r\n\r\n', 413, why='RFC 9110, 10.1.1')

C = 'chunks'
CHUNKED = SESSION + b'Transfer-Encoding: chunked\r\n\r\n'
row(C, 'a size that is no number', CHUNKED + b'zz\r\n{}\r\n0\r\n\r\n', 400, why='RFC 9112, 7.1')
row(C, 'a size below zero', CHUNKED + b'-2\r\n{}\r\n0\r\n\r\n', 400, why='RFC 9112, 7.1')
row(C, 'a size with 0x', CHUNKED + b'0x2\r\n{}\r\n0\r\n\r\n', 400, why='RFC 9112, 7.1')
row(C, 'a size of 2^64', CHUNKED + b'10000000000000000\r\n{}\r\n0\r\n\r\n', 400, 413, why='RFC 9112, 7.1')
row(C, 'no size', CHUNKED + b'\r\n{}\r\n0\r\n\r\n', 400, why='RFC 9112, 7.1')
row(C, 'more bytes than the size says', CHUNKED + b'2\r\n{}{}{}{}\r\n0\r\n\r\n', 400, why='RFC 9112, 7.1')
row(C, 'an extension of 200 000 bytes', CHUNKED + b'2;' + b'a' * 200000 + b'\r\n{}\r\n0\r\n\r\n', 500, CLOSED, why='RFC 9112, 7.1.1; the 500 is libmicrohttpd 0.9.75 saying that it has no room')
row(C, 'trailers of 200 000 bytes', CHUNKED + b'2\r\n{}\r\n0\r\n' + b'X: a\r\n' * 33000 + b'\r\n', 400, 413, 431, CLOSED, why='RFC 9112, 7.1.2')
row(C, 'more of them than the call may have', CHUNKED + (b'1000\r\n' + b' ' * 4096 + b'\r\n') * 40 + b'0\r\n\r\n', 413, why='RFC 9110, 15.5.14')
row(C, 'cut off in the middle', CHUNKED + b'2\r\n{', CLOSED, why='RFC 9112, 8')

H = 'the head'
row(H, 'no Host', b'GET /health HTTP/1.1\r\nConnection: close\r\n\r\n', 400, why='RFC 9112, 3.2')
row(H, 'two Hosts', HEALTH + b'Host: y\r\nConnection: close\r\n\r\n', 400, why='RFC 9112, 3.2')
row(H, 'a header without a colon', HEALTH + b'nonsense\r\nConnection: close\r\n\r\n', 400, why='RFC 9112, 5')
row(H, 'a header without a name', HEALTH + b': x\r\nConnection: close\r\n\r\n', 200, 400, why='RFC 9112, 5.1 wants 400; libmicrohttpd 0.9.75 takes it for the end of the head, see below')
row(H, 'a header that goes on in the next line', HEALTH + b'X: a\r\n b\r\nConnection: close\r\n\r\n', 200, 400, why='RFC 9112, 5.2: is refused or joined by a blank')
row(H, 'a blank before the first header', b'GET /health HTTP/1.1\r\n Host: x\r\nConnection: close\r\n\r\n', 400, why='RFC 9112, 2.2')
row(H, 'a zero byte in a header', HEALTH + b'X: a\0b\r\nConnection: close\r\n\r\n', 200, 400, why='RFC 9110, 5.5 wants 400 or a blank; libmicrohttpd 0.9.75 reads the value up to it')
row(H, 'a zero byte in a size', SESSION + b'Content-Length: 2\x0040\r\nConnection: close\r\n\r\n{}' + HIDDEN, 400, why='RFC 9110, 5.5; read up to it, and the connection ends')
row(H, 'a carriage return within a header', HEALTH + b'X: a\rContent-Length: 30\r\nConnection: close\r\n\r\n' + HIDDEN, 400, why='RFC 9110, 5.5')
row(H, 'a header of 200 000 bytes', HEALTH + b'X: ' + b'a' * 200000 + b'\r\n\r\n', 431, why='RFC 6585, 5')
row(H, '20 000 headers', HEALTH + b'X: a\r\n' * 20000 + b'\r\n', 431, why='RFC 6585, 5')
row(H, 'a target of 100 000 bytes', get(b'/' + b'a' * 100000), 414, why='RFC 9110, 15.5.15')
row(H, 'a target of 2 000 bytes', get(b'/api/v1/' + b'a' * 2000), 404, 414, why='RFC 9110, 15.5.15')
row(H, 'a method of 10 000 letters', b'A' * 10000 + b' /health HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n', 400, 405, 501, why='RFC 9110, 9.1')
row(H, 'a method in small letters', b'get /health HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n', 405, 501, why='RFC 9110, 9.1')
row(H, 'TRACE', b'TRACE /health HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n', 405, why='RFC 9110, 9.3.8')
row(H, 'CONNECT to another machine', b'CONNECT evil.example:443 HTTP/1.1\r\nHost: evil.example:443\r\nConnection: close\r\n\r\n', 400, 404, 405, 501, why='RFC 9110, 9.3.6')
row(H, 'Upgrade to another protocol', get(b'/health', b'Upgrade: websocket\r\n'), 200, why='RFC 9110, 7.8: is passed over')
row(H, 'HTTP/0.9', b'GET /health\r\n\r\n', 400, 505, CLOSED, why='RFC 9112, 2.3')
row(H, 'HTTP/2 without asking', b'PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n', 400, 505, CLOSED, why='RFC 9113, 3.4')
row(H, 'HTTP/9.9', b'GET /health HTTP/9.9\r\nHost: x\r\n\r\n', 400, 505, why='RFC 9110, 15.6.6')
row(H, 'TLS spoken to a plain port', b'\x16\x03\x01\x02\x00\x01\x00\x01\xfc' + bytes(200) + b'\r\n\r\n', 400, 505, CLOSED, why='RFC 8446, 4.1.2')
row(H, 'bytes that are no text', bytes(range(128, 256)) * 20 + b'\r\n\r\n', 400, 505, CLOSED, why='RFC 9112, 3')
row(H, 'sixteen calls behind one that is refused', get(b'/health', b'Content-Length: x\r\n') + HIDDEN * 16, 400, why='RFC 9112, 9.3')

T = 'the target'
for what, target in (('..', b'/../../etc/passwd'), ('.. in a page', b'/bench/../../../etc/passwd'), ('%2e%2e', b'/%2e%2e/%2e%2e/etc/passwd'), ('..%2f', b'/bench/..%2f..%2fetc%2fpasswd'),
                     ('%252e, encoded twice', b'/%252e%252e/%252e%252e/etc/passwd'), ('.. in overlong UTF-8', b'/%c0%ae%c0%ae/%c0%ae%c0%ae/etc/passwd'), ('backslashes', b'/bench/..\\..\\etc\\passwd'),
                     ('two slashes', b'//etc/passwd'), ('an encoded zero', b'/health%00'), ('an encoded zero in a name', b'/api/v1/bulletins/OV%00-26-03/1'), ('an encoded end of line', b'/health%0d%0aX:%20a'),
                     ('a percent sign alone', b'/health%'), ('%zz', b'/health%zz'), ('another path that ends in ours', b'/x/health'), ('a path below a file', b'/health/x')):
    row(T, what, get(target), 404, 400, why='ours')
row(T, 'a zero byte', b'GET /health\0x HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n', 200, 400, 404, why='RFC 9112, 3.2 wants 400; libmicrohttpd 0.9.75 reads the target up to it')
row(T, 'a blank within', b'GET /health x HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n', 400, 404, 505, CLOSED, why='RFC 9112, 3')
row(T, 'the whole address of another server', get(b'http://evil.example/health'), 200, 400, 404, why='RFC 9112, 3.2.2: is ours, and nothing is fetched')
row(T, '*', b'OPTIONS * HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n', 400, 404, 405, why='RFC 9110, 9.3.7')
row(T, 'an end of line in a query', get(b'/health?x=%0d%0aSet-Cookie:%20a=b'), 200, why='it is in no answer')

O = 'where it says it comes from'
EVIL = b'Origin: https://evil.example\r\n'
row(O, "another site's preflight", b'OPTIONS /api/v1/session HTTP/1.1\r\nHost: x\r\n' + EVIL + b'Access-Control-Request-Method: POST\r\nAccess-Control-Request-Headers: content-type\r\nConnection: close\r\n\r\n', 405, why='Fetch standard, 3.2: no Access-Control-Allow-Origin')
row(O, "another site's form that signs in", b'POST /api/v1/session HTTP/1.1\r\nHost: x\r\nContent-Type: text/plain\r\n' + EVIL + b'Content-Length: 14\r\nConnection: close\r\n\r\n{"link":"a=b"}', 415, why='ours: JSON alone, which a form cannot send')
row(O, "another site's name as Host", b'GET / HTTP/1.1\r\nHost: evil.example\r\nConnection: close\r\n\r\n', 200, 303, 302, 307, 404, why='ours: the name is in no answer')
row(O, 'a Host that is no name', b'GET /health HTTP/1.1\r\nHost: a b/<script>\r\nConnection: close\r\n\r\n', 200, 400, why='ours: the name is in no answer')
row(O, 'X-Forwarded-Host', get(b'/', b'X-Forwarded-Host: evil.example\r\n'), 200, 303, 302, 307, 404, why='ours: is passed over')
row(O, 'X-Forwarded-For without a proxy', get(b'/health', b'X-Forwarded-For: 203.0.113.77\r\n'), 200, why='ours: is passed over')
row(O, 'X-Http-Method-Override', get(b'/api/v1/session', b'X-Http-Method-Override: DELETE\r\n'), 200, why='ours: is passed over')

R = 'ranges'
for what, text in (('1 000 of them', b'bytes=' + b','.join([b'0-0'] * 1000)), ('overlapping ones', b'bytes=0-,1-,2-,3-'), ('one of 2^64', b'bytes=0-18446744073709551616'),
                   ('one backwards', b'bytes=9-1'), ('one before the beginning', b'bytes=-99999999999'), ('another unit', b'elephants=1-2')):
    row(R, what, get(b'/api/v1/openapi.json', b'Range: ' + text + b'\r\n'), 200, why='RFC 9110, 14.2: is passed over, all of it comes once')

S = 'slow, and many'
PATIENT = [(S, 'a head a byte at a time, without an end', 'closed'), (S, 'a body a byte at a time, without an end', 'closed'),
           (S, 'a connection on which nothing comes', 'closed'), (S, 'much asked for and none of it read', 'closed'),
           (S, '10 000 idle connections from one address', 'a caller elsewhere is answered meanwhile; 500 are held'),
           (S, '10 000 idle connections from 40 addresses', 'an honest caller is answered once the time of the idle is over'),
           (S, '150 sign-ins at once', 'each 401, 429 or 503 with Retry-After; a page is answered meanwhile'),
           (S, 'guessing a password', '401, then 429 with Retry-After')]


def answers(status):
    return 'closed' if status == CLOSED else str(status)


def table():
    """Rows of (group, case, answer, rule) for doc/security.md."""
    return [(g, w, ' or '.join(map(answers, s)), why) for g, w, _, s, why in ROWS] + [(g, w, a, 'ours') for g, w, a in PATIENT]


def statuses_of(got):
    return [int(s) for s in re.findall(rb'HTTP/1\.[01] (\d{3}) ', got)]


def lives(server):
    return Someone(server).get('/health').status == 200


def send(port, data):
    """All that comes back. What is sent is ended, so that whoever waits for more of it learns that there is none."""
    got = b''
    with socket.create_connection(('127.0.0.1', port), timeout=60) as wire:
        try:
            wire.sendall(data)
            wire.shutdown(socket.SHUT_WR)
        except OSError:
            pass
        try:
            while more := wire.recv(65536):
                got += more
        except ConnectionError:
            pass
    return got


def check_rows(server):
    told = []
    for group, what, data, wanted, why in ROWS:
        got = send(server.port, data)
        seen = statuses_of(got)
        # libmicrohttpd 0.9.75 writes the head of its own refusals twice, the second time as their body; and where a header has no name it
        # takes what follows for a call of its own, which is none.
        is_good = (seen[:1] or [CLOSED])[0] in wanted and (len(set(seen)) <= 1 or (seen == [200, 400] and what == 'a header without a name'))
        told.append(((seen[:1] or [CLOSED])[0], group, what))
        ok(is_good and not LEAK.search(got) and b'evil.example' not in got and b'Set-Cookie: a' not in got and b'Access-Control' not in got, f'{group}: {what}: {" or ".join(map(answers, wanted))} ({why})', f'{seen} {got[:300]!r}')
    ok(lives(server), f'after {len(ROWS)} hostile calls the server answers')
    lines = [json.loads(line) for line in (server.folder / 'log').read_text().splitlines() if line.startswith('{')]
    ok(not [line for line in lines if line['path'] == '/hidden'], 'and nothing that was hidden in one of them is in its log as a call')
    ok({line['from'] for line in lines} == {'127.0.0.1'}, 'nor an address that a caller made up', str({line['from'] for line in lines}))


def until_closed(wire, piece, seconds=60):
    """Whether the server ends it, however long something goes on coming."""
    end = time.monotonic() + seconds
    try:
        while time.monotonic() < end:
            if piece:
                wire.sendall(piece)
            if select.select([wire], [], [], 0.1)[0] and not wire.recv(65536):
                return True
    except OSError:
        return True
    return False


def check_slow(server):
    for what, head, piece in ((PATIENT[0][1], HEALTH + b'X: ', b'a'), (PATIENT[1][1], SESSION + b'Content-Length: 1000\r\n\r\n{', b' '), (PATIENT[2][1], b'', b'')):
        with socket.create_connection(('127.0.0.1', server.port)) as wire:
            wire.sendall(head)
            ok(until_closed(wire, piece), f'{S}: {what}: closed (--timeout 1)')
    with socket.create_connection(('127.0.0.1', server.port)) as wire:
        wire.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        wire.sendall(b'GET /api/v1/openapi.json HTTP/1.1\r\nHost: x\r\n\r\n' * 200)
        end, is_over = time.monotonic() + 60, False
        while not is_over and time.monotonic() < end:
            time.sleep(0.2)
            try:
                wire.sendall(b'GET /health HTTP/1.1\r\nHost: x\r\n\r\n')  # tells whether the other side is still there
            except OSError:
                is_over = True
        ok(is_over, f'{S}: {PATIENT[3][1]}: closed (--timeout 1)')


def room_for(count):
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    if hard < count + 200:
        return False
    resource.setrlimit(resource.RLIMIT_NOFILE, (hard, hard))
    return True


def idle(server, count, addresses):
    """So many connections that say nothing, from addresses of loopback; none waits for being let in."""
    wires = []
    for i in range(count):
        wire = socket.socket()
        wire.setblocking(False)
        wire.bind((f'127.0.1.{1 + i % addresses}', 0))
        wire.connect_ex(('127.0.0.1', server.port))
        wires.append(wire)
    return wires


def check_idle(program):
    count = 10000
    if not room_for(count):
        count = 2000
        print(f'# this shell may open few files: {count} in place of 10 000')
        if not room_for(count):
            return ok(False, 'room for 2 000 connections', 'ulimit -n')
    server = Server(program).start()
    try:
        wires = idle(server, count, 1)
        ok(lives(server), f'{S}: {count} idle connections from one address: a caller elsewhere is answered meanwhile (--timeout 30)')
        held = count
        end = time.monotonic() + 60
        while held > 500 and time.monotonic() < end:
            gone = select.poll()
            for wire in wires:
                gone.register(wire, select.POLLIN | select.POLLHUP | select.POLLERR)
            held = count - len(gone.poll(200))
        ok(held == 500, f'{S}: of which 500 are held', str(held))
        for wire in wires:
            wire.close()
        ok(server.stop() == 0, 'it stops with 0')
    finally:
        server.end()
    server = Server(program, '--timeout', '1').start()
    try:
        wires = idle(server, count, 40)
        is_answered, end = False, time.monotonic() + 60
        while not is_answered and time.monotonic() < end:
            try:
                is_answered = lives(server)
            except OSError:
                time.sleep(0.1)
        ok(is_answered, f'{S}: {count} idle connections from 40 addresses: an honest caller is answered once their time is over (--timeout 1)')
        for wire in wires:
            wire.close()
        ok(server.stop() == 0, 'it stops with 0')
    finally:
        server.end()


def sign_in(name, address):
    body = json.dumps({'name': name, 'password': 'not the right one at all'}).encode()
    return b'POST /api/v1/session HTTP/1.1\r\nHost: x\r\nX-Forwarded-For: ' + address.encode() + b'\r\nContent-Type: application/json\r\nContent-Length: ' + str(len(body)).encode() + b'\r\n\r\n' + body


def check_flood(program):
    server = Server(program, '--threads', '2', '--behind-proxy').start()
    try:
        wires = [socket.create_connection(('127.0.0.1', server.port)) for _ in range(150)]
        for i, wire in enumerate(wires):
            wire.sendall(sign_in(f'guess-{i}', f'192.0.2.{i + 1}'))
        is_answered = lives(server)
        told = []
        for wire in wires:
            wire.settimeout(120)
            got = wire.recv(65536)
            told.append(((statuses_of(got) or [0])[0], b'Retry-After: ' in got))
            wire.close()
        ok(is_answered and {s for s, _ in told} <= {401, 429, 503} and all(again for s, again in told if s in (429, 503)), f'{S}: 150 sign-ins at once: each 401, 429 or 503 with Retry-After; a page is answered meanwhile', str(sorted(set(told))))
        told = []
        for _ in range(12):
            got = raw(server.port, sign_in('one-name', '198.51.100.9').replace(b'\r\n\r\n', b'\r\nConnection: close\r\n\r\n', 1))
            told.append((statuses_of(got) or [0])[0])
        ok(told[0] == 401 and told[-1] == 429, f'{S}: guessing a password: 401, then 429', str(told))
    finally:
        server.end()


def check_origin(server):
    """A session's cookie that another site's page brings along (an old browser that knows no SameSite) is not enough."""
    bag = server.folder / 'bag.zip'
    server.call('bag', 'make', ROOT / 'examples/jobs/ov-26-03-a', '-o', bag)
    data, someone = bag.read_bytes(), server.person('ines', 'technician', 'fern-mobile-2')
    a = someone.send('PUT', f'/api/v1/bags/{sha256(data)}', data, {'Origin': 'https://evil.example'}, csrf=False)
    ok(a.status == 403 and 'csrf' in a.json['type'] and 'Access-Control-Allow-Origin' not in a.headers, "a change with a session's cookie, from another site: 403", f'{a.status} {a.text[:200]}')
    a = someone.send('DELETE', '/api/v1/session', None, {'Origin': 'null'}, csrf=False)
    ok(a.status == 403 and someone.get('/api/v1/claims').status == 200, 'nor does another site sign anybody out: 403')


def main(argv):
    server = Server(argv[1]).start()
    try:
        check_rows(server)
        check_origin(server)
        ok(server.again('--timeout', '1'), 'it stops with 0, and begins anew')
        check_slow(server)
        ok(server.stop() == 0, 'it stops with 0')
        log = (server.folder / 'log').read_text()
        ok('ERROR: ' not in log and 'runtime error' not in log, 'and no sanitizer said a word', log[-1500:] if 'rror' in log else '')
    finally:
        server.end()
    check_idle(argv[1])
    check_flood(argv[1])
    return done()


if __name__ == '__main__':
    sys.exit(main(sys.argv))
