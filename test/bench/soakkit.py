"""soakkit: what soak.py needs to be two hundred people at once in one thread: a connection each, a session each, and the figures of every
call. Raw sockets under asyncio, so that the callers take little of the machine that they share with the server."""
import asyncio
import csv
import hashlib
import json
import pathlib
import re
import time
import zipfile

PATIENCE_S = 180  # for one answer; a machine that is shared may be slow, and slow is a figure, not a fault
KEPT_S = 8        # a connection silent for longer is not used again; the server closes it after its --timeout (30 s)


class Broken(Exception):
    """No answer came, or the server said "later" so often that the page would leave it for another time."""


class Answer:
    def __init__(self, status, headers, data):
        self.status, self.headers, self.bytes = status, headers, data

    @property
    def json(self):
        return json.loads(self.bytes)

    @property
    def tag(self):
        return self.headers.get('etag', '')


class Figures:
    """Every call: its kind, how long it took, its status; whether that status is a good one, one that was to be expected, or an error."""

    def __init__(self):
        self.times, self.statuses, self.errors, self.minute, self.n, self.retries = {}, {}, [], [], 0, 0
        self.busy = self.put_off = 0

    def add(self, kind, took_s, status, good, expected, note=''):
        self.n += 1
        self.times.setdefault(kind, []).append(took_s)
        self.minute.append(took_s)
        self.statuses.setdefault(kind, {}).setdefault(str(status), 0)
        self.statuses[kind][str(status)] += 1
        if status in (429, 503):
            self.busy += 1
        elif status not in good and status not in expected:
            self.complain(f'{kind}: {status} {note[:300]}')

    def complain(self, text):
        self.errors.append(text)
        if len(self.errors) <= 20:
            print(f'  error: {text}', flush=True)

    def take_minute(self):
        was, self.minute = self.minute, []
        return sorted(was)


def share(sorted_s, part):
    """The time, ms, that so large a part of the calls stays within; 0 of none."""
    return 1000 * sorted_s[min(len(sorted_s) - 1, int(len(sorted_s) * part))] if sorted_s else 0.0


async def read_answer(reader, method):
    head = (await reader.readuntil(b'\r\n\r\n')).decode('latin-1').split('\r\n')
    status = int(head[0].split(' ')[1])
    headers = {}
    for line in head[1:]:
        name, _, value = line.partition(':')
        headers[name.lower()] = value.strip() if name.lower() != 'set-cookie' else value.split(';')[0].strip()
    if method == 'HEAD' or status in (204, 304):
        return Answer(status, headers, b'')
    if headers.get('transfer-encoding') == 'chunked':
        data = b''
        while n := int((await reader.readuntil(b'\r\n')).split(b';')[0], 16):
            data += (await reader.readexactly(n + 2))[:-2]
        await reader.readuntil(b'\r\n')
        return Answer(status, headers, data)
    if 'content-length' in headers:
        return Answer(status, headers, await reader.readexactly(int(headers['content-length'])))
    return Answer(status, headers, await reader.read())


class Person:
    """Somebody signed in: one connection that is kept while it is used, the cookie, the word against forged requests. in_answers_s: how
    long it waited for answers, all told."""

    def __init__(self, soak, name, role, shop=None):
        self.soak, self.name, self.role, self.shop = soak, name, role, shop
        self.cookie = self.csrf = self.reader = self.writer = None
        self.last = self.in_answers_s = 0.0
        self.calls = 0

    def head(self, method, path, size, headers):
        lines = [f'{method} {path} HTTP/1.1', 'Host: 127.0.0.1']
        lines += [f'{k}: {v}' for k, v in (headers or {}).items()]
        if self.cookie:
            lines.append(f'Cookie: {self.cookie}')
        if self.csrf and method != 'GET':
            lines.append(f'X-Mendwright-Csrf: {self.csrf}')
        if size is not None:
            lines.append(f'Content-Length: {size}')
        return ('\r\n'.join(lines) + '\r\n\r\n').encode()

    def hang_up(self, rudely=False):
        if self.writer is not None:
            self.writer.transport.abort() if rudely else self.writer.close()
        self.reader = self.writer = None

    async def once(self, method, path, body, headers, pieces):
        if self.writer is None or time.monotonic() - self.last > KEPT_S or self.writer.is_closing():
            self.hang_up()
            self.reader, self.writer = await asyncio.open_connection('127.0.0.1', self.soak.port, limit=1 << 20)
        size = len(body) if body is not None else 0 if method in ('POST', 'PUT') else None
        self.writer.write(self.head(method, path, size, headers))
        for at in range(0, len(body or b''), pieces or max(1, len(body or b''))):
            self.writer.write(body[at:at + (pieces or len(body))])
            await self.writer.drain()
            if pieces:
                await asyncio.sleep(0.2)
        answer = await read_answer(self.reader, method)
        self.last = time.monotonic()
        if answer.headers.get('connection', '').lower() == 'close':
            self.hang_up()
        return answer

    async def call(self, kind, method, path, body=None, headers=None, good=(200,), expected=(), pieces=None):
        """One call and its answer; a call that may not change anything is tried once more on a new connection when a kept one turns out
        to be closed. 429 and 503: waits as Retry-After tells, and tries again, at most five times. Broken: no answer came, which is counted
        as an error, or it was told to come later to the last."""
        if isinstance(body, dict):
            body, headers = json.dumps(body).encode(), {**(headers or {}), 'Content-Type': 'application/json'}
        for attempt in range(6):
            start = time.perf_counter()
            kept = self.writer is not None
            try:
                answer = await asyncio.wait_for(self.once(method, path, body, headers, pieces), PATIENCE_S)
            except (OSError, EOFError, asyncio.TimeoutError, asyncio.LimitOverrunError) as e:
                self.hang_up(True)
                if kept and method == 'GET':
                    self.soak.figures.retries += 1
                    continue
                self.soak.figures.add(kind, time.perf_counter() - start, type(e).__name__, good, expected, f'{method} {path}: {e}')
                raise Broken(kind) from e
            took = time.perf_counter() - start
            self.in_answers_s += took
            self.calls += 1
            self.soak.figures.add(kind, took, answer.status, good, expected, f'{method} {path}: {answer.bytes[:300]!r}')
            if answer.status not in (429, 503):
                return answer
            if 'retry-after' not in answer.headers and answer.status == 503:
                self.soak.figures.complain(f'{kind}: 503 without Retry-After: {answer.bytes[:200]!r}')
            await asyncio.sleep(min(30, int(answer.headers.get('retry-after', '2'))) * (1 + attempt))
        self.soak.figures.put_off += 1
        raise Broken(kind)

    async def break_off(self, method, path, data, total, headers, rudely):
        """Sends the head and some of the body on a connection of its own, and is gone."""
        reader, writer = await asyncio.open_connection('127.0.0.1', self.soak.port)
        writer.write(self.head(method, path, total, headers) + data)
        try:
            await writer.drain()
            await asyncio.sleep(0.05)
        except OSError:
            pass  # the server was the first to close, which it may
        writer.transport.abort() if rudely else writer.close()

    async def come_in(self, link):
        answer = await self.call('sign in, link', 'POST', '/api/v1/session', {'link': link})
        self.cookie, self.csrf = answer.headers['set-cookie'], answer.json['csrf']


class Bag:
    """A bag of the made-up campaign: what is known of it without the program under test."""

    def __init__(self, path, told):
        self.path, self.is_refused, self.kind = path, told['take'] == 'refused', told['kind']
        data = path.read_bytes()
        self.sha256, self.size = hashlib.sha256(data).hexdigest(), len(data)
        with zipfile.ZipFile(path) as z:
            self.events_name = next(n for n in z.namelist() if n.endswith('/data/events.json'))
            events = json.loads(z.read(self.events_name))
        opened = next(e for e in events['events'] if e['type'] == 'opened')
        self.job, self.vin, self.shop = opened['id'], events['vin'], opened['shop']

    def events(self):
        with zipfile.ZipFile(self.path) as z:
            return json.loads(z.read(self.events_name))

    def photo(self, event):
        with zipfile.ZipFile(self.path) as z:
            return z.read(self.events_name.replace('events.json', event['payload']['path']))


def read_bags(campaign, most):
    truth = {c['bag']: c for c in json.loads((campaign / 'truth.json').read_text())['claims']}
    bags = []
    with (campaign / 'arrivals.csv').open() as f:
        for row in csv.DictReader(f):
            name = pathlib.Path(row['bag']).name
            if len(bags) < most:
                bags.append(Bag(campaign / row['bag'], {'take': 'taken', 'kind': 'clean', **truth.get(name, {})}))
    return bags


def memory(pid):
    """RssAnon in MiB, threads, open files."""
    text = pathlib.Path(f'/proc/{pid}/status').read_text()
    number = lambda key: int(re.search(rf'^{key}:\s+(\d+)', text, re.M)[1])  # noqa: E731
    return number('RssAnon') / 1024, number('Threads'), len(list(pathlib.Path(f'/proc/{pid}/fd').iterdir()))


def slope(points):
    """Least squares through (x, y): y for each x; 0 of fewer than three."""
    if len(points) < 3:
        return 0.0
    mx, my = (sum(p[i] for p in points) / len(points) for i in (0, 1))
    below = sum((x - mx) ** 2 for x, _ in points)
    return sum((x - mx) * (y - my) for x, y in points) / below if below else 0.0
