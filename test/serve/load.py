#!/usr/bin/env python3
"""Many at once, slow senders, stopping in the middle, TLS, and who may be listened to from where.

usage: load.py PROGRAM
"""
import http.client
import json
import shutil
import signal
import socket
import ssl
import subprocess
import sys
import threading
import time

from door import ROOT, Server, Someone, done, ok, raw, sha256, skip


def bags(server, count):
    """The example job, made into different bags by a note in each."""
    made = []
    for i in range(count):
        job = server.folder / f'job{i}'
        shutil.copytree(ROOT / 'examples/jobs/ov-26-03-a', job)
        (job / 'note.txt').write_text(f'{i}\n')
        out = server.folder / f'{i}.zip'
        server.call('bag', 'make', job, '-o', out)
        shutil.rmtree(job)
        made.append(out.read_bytes())
    return made


def check_many(server):
    made = bags(server, 12)
    people = [server.person(f'ines-{i}', 'technician', 'fern-mobile-2') for i in range(4)]
    answers = []

    def send(i, someone):
        for data in made[i % 2::2]:  # each bag is sent by two people at once
            answers.append(someone.send('PUT', f'/api/v1/bags/{sha256(data)}', data))

    threads = [threading.Thread(target=send, args=(i, p)) for i, p in enumerate(people)]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    told = [(a.status, a.json.get('result')) for a in answers]
    ok(sorted(set(told)) == [(200, 'already'), (201, 'taken')] and told.count((201, 'taken')) == 12 and len(told) == 24,
       'twelve bags sent by two people each at once: each is taken once', str(told))
    health = json.loads(server.call('store', 'verify', '--store', server.store, '--json'))
    ok(health['ok'] and health['claims'] == 12 and health['orphans'] == 0, 'the store has the twelve and is sound')


def check_slow(server):
    slow = socket.create_connection(('127.0.0.1', server.port))
    slow.sendall(b'GET /health HTTP/1.1\r\nHost: x\r\n')
    idle = [socket.create_connection(('127.0.0.1', server.port)) for _ in range(200)]
    a = Someone(server).get('/health')
    ok(a.status == 200, 'two hundred idle connections and a slow one keep nobody waiting')
    for s in [slow, *idle]:
        s.close()


def check_stop(server):
    """A bag on its way when the server is told to stop: answered, and what it acknowledged is there."""
    data = bags(server, 1)[0] + b''
    someone = server.person('ada', 'owner')
    wire = http.client.HTTPConnection('127.0.0.1', server.port, timeout=60)
    wire.putrequest('PUT', f'/api/v1/bags/{sha256(data)}')
    for name, value in (('Content-Length', str(len(data))), ('Cookie', someone.cookie), ('X-Mendwright-Csrf', someone.csrf)):
        wire.putheader(name, value)
    wire.endheaders()
    half = len(data) // 2
    wire.send(data[:half])
    # Not before the server has seen it: what waits at the door is no call yet.
    while 'mendwright_http_open 2\n' not in someone.get('/metrics').text:
        time.sleep(0.05)
    server.process.send_signal(signal.SIGTERM)
    time.sleep(0.3)
    wire.send(data[half:])
    status = wire.getresponse().status
    code = server.process.wait(timeout=60)
    wire.close()
    ok(status in (200, 201) and code == 0, 'told to stop in the middle of a bag, it takes the bag, answers, and stops', f'{status} {code}')
    try:
        socket.create_connection(('127.0.0.1', server.port), timeout=2).close()
        ok(False, 'nobody is let in afterwards')
    except OSError:
        ok(True, 'nobody is let in afterwards')


def check_kill(program):
    """kill -9 while bags come: every bag that was acknowledged is there."""
    server = Server(program).start()
    try:
        made, acknowledged = bags(server, 8), []
        someone = server.person('ada', 'owner')

        def send():
            try:
                for data in made:
                    a = someone.send('PUT', f'/api/v1/bags/{sha256(data)}', data)
                    if a.status in (200, 201):
                        acknowledged.append(a.json['claim'])
            except (OSError, http.client.HTTPException):
                return

        thread = threading.Thread(target=send)
        thread.start()
        while len(acknowledged) < 3 and thread.is_alive():
            time.sleep(0.01)
        server.stop(signal.SIGKILL)
        thread.join()
        server.start()
        owner = server.enter('ada')
        there = {c['claim'] for c in owner.get('/api/v1/claims').json['claims']}
        ok(len(acknowledged) >= 3 and set(acknowledged) <= there, 'killed while bags came: every acknowledged one is there', f'{acknowledged} {there}')
        ok(json.loads(server.call('store', 'verify', '--store', server.store, '--json'))['ok'], 'and the store is sound')
    finally:
        server.end()


def check_where(program, server):
    def refused(*options):
        d = subprocess.run([program, 'serve', '--store', str(server.store), *options], capture_output=True, text=True, timeout=60, check=False)
        return d.returncode, d.stderr

    code, text = refused('--listen', '0.0.0.0:0')
    ok(code == 2 and '--certificate' in text, 'beyond loopback without TLS: refused, and how to go on', text)
    code, text = refused('--listen', 'nowhere:1')
    ok(code == 2, 'no address: refused', text)
    code, text = refused('--listen', '127.0.0.1:99999')
    ok(code == 2 and '--listen' in text, 'no port: refused', text)
    code, text = refused('--certificate', '/dev/null')
    ok(code == 2 and '--key' in text, 'a certificate without its key: refused', text)
    with socket.socket() as taken:
        taken.bind(('127.0.0.1', 0))
        taken.listen()
        code, text = refused('--listen', f'127.0.0.1:{taken.getsockname()[1]}')
        ok(code == 2 and 'cannot listen' in text, 'a port that is taken: refused', text)
    d = subprocess.run([program, 'serve', '--store', str(server.folder / 'none'), '--listen', '127.0.0.1:0'], capture_output=True, text=True, timeout=60, check=False)
    ok(d.returncode in (2, 3) and 'store' in d.stderr, 'no store: refused', d.stderr)


def check_tls(program):
    if shutil.which('openssl') is None:
        skip('TLS', 'no openssl to make a certificate')
        return
    server = Server(program)
    try:
        key, cert = server.folder / 'key.pem', server.folder / 'cert.pem'
        subprocess.run(['openssl', 'req', '-x509', '-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:prime256v1', '-nodes', '-days', '1', '-subj', '/CN=localhost', '-addext',
                        'subjectAltName=IP:127.0.0.1', '-keyout', key, '-out', cert], check=True, capture_output=True)
        server.options = ('--certificate', str(cert), '--key', str(key))
        server.start()
        context = ssl.create_default_context(cafile=str(cert))
        wire = http.client.HTTPSConnection('127.0.0.1', server.port, context=context, timeout=30)
        wire.request('GET', '/health')
        a = wire.getresponse()
        ok(a.status == 200 and 'max-age' in a.headers['Strict-Transport-Security'], 'by TLS, with a certificate that holds, and HSTS (RFC 6797)')
        a.read()
        link = (server.call('people', 'add', 'ada', '--role', 'owner', '--store', server.store), json.loads(server.call('people', 'link', 'ada', '--store', server.store, '--json')))[1]['link']
        wire.request('POST', '/api/v1/session', json.dumps({'link': link}), {'Content-Type': 'application/json'})
        cookie = wire.getresponse().headers['Set-Cookie']
        ok(cookie.startswith('__Host-') and 'Secure' in cookie, 'the cookie is bound to the host and to https (RFC 6265bis, 4.1.3.2)', cookie)
        wire.close()
        ok(wire.sock is None and b'HTTP/1.1 200' not in raw(server.port, b'GET /health HTTP/1.1\r\nHost: x\r\n\r\n'), 'without TLS nobody is answered there')
    finally:
        server.end()


def main(argv):
    program = argv[1]
    server = Server(program).start()
    try:
        check_many(server)
        check_slow(server)
        check_where(program, server)
        check_stop(server)
    finally:
        server.end()
    check_kill(program)
    check_tls(program)
    return done()


if __name__ == '__main__':
    sys.exit(main(sys.argv))
