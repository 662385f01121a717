"""door: starts `mendwright serve` on a free port of loopback over a store of its own, and speaks HTTP to it. For the tests beside it."""
import hashlib
import http.client
import itertools
import json
import os
import pathlib
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))
from tap import done, note, ok, skip  # noqa: E402, F401

ROOT = pathlib.Path(__file__).resolve().parents[2]


class Server:
    numbers = itertools.count()

    def __init__(self, program, *options):
        self.program = program
        self.folder = pathlib.Path(tempfile.mkdtemp(prefix='mendwright-serve-'))
        self.files = self.folder / 'store'  # photos lie there, and with SQLite everything
        self.store = self.files
        if server := os.environ.get('MENDWRIGHT_TEST_SERVER'):  # a PostgreSQL: test/store/server.py
            self.store = f'{server}&files={self.files}&schema=t{os.getpid()}_{next(Server.numbers)}'
            if photos := os.environ.get('MENDWRIGHT_TEST_PHOTOS'):  # an object store: test/store/s3double.py
                self.store += '&' + photos
        self.options = options
        self.process = None
        self.call('store', 'init', '--store', self.store)

    def call(self, *words, codes=(0,)):
        done_ = subprocess.run([self.program, *map(str, words)], capture_output=True, text=True, check=False)
        assert done_.returncode in codes, (words, done_.returncode, done_.stderr)
        return done_.stdout

    def start(self):
        self.log = open(self.folder / 'log', 'ab')
        self.process = subprocess.Popen([self.program, 'serve', '--store', str(self.store), '--listen', '127.0.0.1:0', '--log', '--json', *self.options],
                                        stdout=subprocess.PIPE, stderr=self.log, text=True)
        told = json.loads(self.process.stdout.readline())
        self.port, self.url = told['port'], told['url']
        return self

    def stop(self, how=signal.SIGTERM):
        self.process.send_signal(how)
        status = self.process.wait(timeout=60)
        if status not in (0, -how):  # what it said besides its log of calls, a sanitizer's report above all
            said = [line for line in (self.folder / 'log').read_text('utf-8', 'replace').splitlines() if not line.startswith('{')]
            note('\n'.join([f'mendwright serve ended with {status}:', *said[:60]]))
        return status

    def again(self, *options):
        """Stopped, and started with other options; whether it ended with 0. Sessions hold, the port is another."""
        is_good = self.stop() == 0
        self.options = options
        self.start()
        return is_good

    def end(self):
        if self.process and self.process.poll() is None:
            self.stop()
        shutil.rmtree(self.folder, ignore_errors=True)

    def person(self, name, role, shop=None):
        self.call('people', 'add', name, '--role', role, *(['--shop', shop] if shop else []), '--store', self.store)
        return self.enter(name)

    def enter(self, name):
        link = json.loads(self.call('people', 'link', name, '--store', self.store, '--json'))['link']
        someone = Someone(self)
        answer = someone.send('POST', '/api/v1/session', {'link': link})
        assert answer.status == 200, answer.text
        return someone


class Answer:
    def __init__(self, raw):
        self.status, self.headers, self.bytes = raw.status, raw.headers, raw.read()
        self.text = self.bytes.decode('utf-8', 'replace')

    @property
    def json(self):
        return json.loads(self.bytes)


class Someone:
    """A browser's worth of state: the cookie and the word against forged requests."""

    def __init__(self, server):
        self.server, self.cookie, self.csrf = server, None, None

    def send(self, method, path, body=None, headers=None, csrf=True):
        headers = dict(headers or {})
        if isinstance(body, (dict, list)):
            body, headers['Content-Type'] = json.dumps(body).encode(), 'application/json'
        if self.cookie:
            headers.setdefault('Cookie', self.cookie)
        if self.csrf and csrf and method not in ('GET', 'HEAD'):
            headers.setdefault('X-Mendwright-Csrf', self.csrf)
        wire = http.client.HTTPConnection('127.0.0.1', self.server.port, timeout=60)
        try:
            wire.request(method, path, body, headers)
            answer = Answer(wire.getresponse())
        finally:
            wire.close()
        for cookie in answer.headers.get_all('Set-Cookie') or []:
            self.cookie = cookie.split(';')[0]
        if path == '/api/v1/session' and answer.status == 200:
            self.csrf = answer.json.get('csrf')
        return answer

    def get(self, path, **headers):
        return self.send('GET', path, headers={k.replace('_', '-'): v for k, v in headers.items()})


def patiently(call, seconds=60):
    """What call() gives. For a server that cuts off who is silent for a second (--timeout 1), as an honest test is, too, when the machine does
    not let it run: a call whose connection was closed without an answer is made again. A server that is gone refuses the next one."""
    end = time.monotonic() + seconds
    while True:
        try:
            return call()
        except (ConnectionResetError, BrokenPipeError):
            if time.monotonic() > end:
                raise


def raw(port, data, wait=0.0, timeout=15):
    """Bytes as they are; what comes back until the server closes or time is up."""
    with socket.create_connection(('127.0.0.1', port), timeout=timeout) as s:
        try:
            for piece in ([data] if isinstance(data, bytes) else data):
                s.sendall(piece)
                time.sleep(wait)
            got = b''
            while True:
                more = s.recv(65536)
                if not more:
                    return got
                got += more
        except (ConnectionError, TimeoutError, socket.timeout):
            return locals().get('got', b'')


def sha256(data):
    return hashlib.sha256(data).hexdigest()
