#!/usr/bin/env python3
"""Every route of the interface, from openapi.json, so that a new one is tried by itself: without a session, with every role that is too
low, without the word against forged requests, with another shop's things and with made-up ones, by methods that the path does not have,
with broken and oversize bodies, hostile paths and queries, by slow senders, and with a store that fails underneath. Whatever is refused is
a problem (RFC 9457) and tells nothing of the machine. A route or a {part} of a path that this file does not know what to do with fails.
At the end a table: how many calls each route had of each kind.

usage: audit.py PROGRAM
"""
import json
import re
import selectors
import socket
import sqlite3
import sys
import time
import urllib.parse

from door import ROOT, Server, Someone, done, ok, patiently, sha256

SPEC = json.loads((ROOT / 'src/serve/files/openapi.json').read_text())
ROLES = ['nobody', 'technician', 'clerk', 'owner']
JOB = ROOT / 'examples/jobs/ov-26-03-a'
EVENTS = json.loads((JOB / 'events.json').read_text())
PHOTO = (JOB / 'photos/fore-label.png').read_bytes()
KINDS = ['no session', 'low role', 'no csrf', "other shop's", 'method', 'broken', 'oversize', 'hostile', 'slow', 'store fails']

# What stands for a {part} of a path: one that is there and is the first shop's, and one that is well formed and is not. Of a part that every
# shop may see (shared) there is no other shop's. A new part belongs in here; without it the test fails.
PARTS = {
    'bulletin': {'there': 'OV-26-03', 'not': 'OV-99-99', 'shared': True},
    'revision': {'there': '2', 'not': '77', 'shared': True},
    'picture': {'there': 'stands.svg', 'not': 'other.svg', 'shared': True},
    'link': {'there': 'x', 'not': 'y', 'shared': True},
    'claim': {'not': 'K000000000000'},
    'draft': {'there': 'OV-26-03', 'not': 'none', 'shared': True},
    'task': {'there': '0-2', 'not': '0-1', 'shared': True},
    'list': {'there': sha256(b'list'), 'not': 'a' * 64, 'shared': True},  # each person's own
    'file': {'there': 'units.csv', 'not': 'none.csv', 'shared': True},
    'person': {'there': 'nora', 'not': 'nobody-here', 'shared': True},
    'study': {'there': 'held', 'not': 'none', 'shared': True},
    'kept': {'not': 'held-2026-01-01T000000.000Z', 'shared': True},
    'key': {'there': 'c3' * 32, 'not': 'd4' * 32, 'shared': True},
    'job': {'there': next(e['id'] for e in EVENTS['events'] if e['type'] == 'opened'), 'not': '01KQS2CMMEFQ7X44TTBNMCV0A0'},
    'phone': {'there': '01KQS2CMMEFQ7X44TTBNMCV0B1', 'not': '01KQS2CMMEFQ7X44TTBNMCV0B2', 'shared': True},  # its own choice
    'set': {'there': 'exam-one', 'not': 'none', 'shared': True},
    'exercise': {'there': 'first-unit', 'not': 'none', 'shared': True},
    'sha256': {'there': sha256(PHOTO), 'not': 'a' * 64},
}
HOSTILE = ['%00', '..%2f..%2fetc', '%2e%2e', '%ff%fe', urllib.parse.quote("'; DROP TABLE claims; --"), 'a' * 600, '-1', '%25s%25n', '%F0%9F%94%A7', '9' * 40]
LEAK = re.compile(r'/tmp/|/home/|/dev/|/root/|\.db\b|sqlite|SELECT |INSERT |UPDATE |DELETE FROM|no such (table|column)|\bsrc/|\.c:\d|0x[0-9a-f]{6,}|backtrace|jansson|libmicrohttpd', re.I)
CLOSED = {400, 403, 404, 405, 409, 411, 413, 415, 422, 428, 412}

counts = {}
seen = {'answers': 0, 'problems': 0}
leaks, faults = [], []


class Way:
    """A method of a path."""

    def __init__(self, path, method, told):
        self.path, self.method, self.told = path, method.upper(), told
        self.role, self.least = told['x-role'], ROLES.index(told['x-role'])
        self.parts = re.findall(r'\{(\w+)\}', path)
        self.name = f'{self.method} {path}'
        content = told.get('requestBody', {}).get('content', {})
        self.is_json = 'application/json' in content
        self.has_body = bool(content)
        self.type = next(iter(content), '').replace('/*', '/png')
        self.schema = content.get('application/json', {}).get('schema')
        self.is_change = self.method not in ('GET', 'HEAD')
        # An answer without an end is never begun here: what would begin one is asked where no event was (test/serve/news.py has the rest).
        self.always = {'Last-Event-ID': 'x'} if 'text/event-stream' in told['responses'].get('200', {}).get('content', {}) else {}

    def at(self, which='there', **other):
        return re.sub(r'\{(\w+)\}', lambda m: other.get(m[1], PARTS[m[1]].get(which)), self.path)

    def body(self):
        return (b'{}' if self.is_json else b'x') if self.has_body else None

    def headers(self):
        return {'Content-Type': self.type} if self.has_body else {}


WAYS = [Way(path, method, told) for path, ways in SPEC['paths'].items() for method, told in ways.items()]


def count(way, kind, n=1):
    counts.setdefault(way.name, {}).setdefault(kind, 0)
    counts[way.name][kind] += n


def look(server, answer, what):
    """Every answer: a refusal is a problem, and tells nothing of the machine."""
    seen['answers'] += 1
    if answer.status < 400:
        return answer
    seen['problems'] += 1
    try:
        p = answer.json
        is_problem = answer.headers.get('Content-Type') == 'application/problem+json' and p['status'] == answer.status and p['type'].startswith('urn:mendwright:problem:') and \
            p['title'] and p['detail'] and p['instance']
    except (ValueError, KeyError, TypeError):
        is_problem = False
    text = answer.text + str(answer.headers)
    if not is_problem:
        faults.append(f'{what}: {answer.status} {answer.text[:200]}')
    if LEAK.search(text) or str(server.folder) in text:
        leaks.append(f'{what}: {answer.text[:300]}')
    return answer


class Caller:
    """Sends as somebody, looks at every answer, and counts it."""

    def __init__(self, server, people):
        self.server, self.people = server, people

    def __call__(self, way, kind, who, path=None, body=..., headers=None, method=None, csrf=True, n=1):
        if body is ...:
            body = way.body()
        someone = self.people[who] if who != 'nobody' else Someone(self.server)
        headers = {**way.always, **(way.headers() if body is not None else {}), **(headers or {})}
        a = someone.send(method or way.method, path or way.at(), body, headers, csrf=csrf)
        if kind is not None:
            count(way, kind, n)
        return look(self.server, a, f'{kind}, {method or way.method} {path or way.path} as {who}')


def check_roles(call, way):
    statuses = []
    if way.least > 0:
        statuses.append((call(way, 'no session', 'nobody').status, 401))
    for role in ROLES[1:way.least]:
        statuses.append((call(way, 'low role', role).status, 403))
    if way.is_change and way.least > 0:
        statuses.append((call(way, 'no csrf', way.role, csrf=False).status, 403))
        statuses.append((call(way, 'no csrf', way.role, csrf=False, headers={'X-Mendwright-Csrf': 'f' * 64}).status, 403))
    wrong = [s for s in statuses if s[0] != s[1]]
    ok(not wrong, f'{way.name}: without a session 401, with a lower role or without csrf 403 ({len(statuses)} calls)', str(wrong))


def check_other(call, way):
    """What another shop's technician gets for what is there is what they get for what is not."""
    marks = [PARTS['claim']['there'], 'fern-mobile-2', 'ines', PARTS['job']['there'], call.server.vin]
    is_there, is_not = call(way, "other shop's", 'other'), call(way, "other shop's", 'other', path=way.at('not', **{p: PARTS[p]['there'] for p in way.parts if PARTS[p].get('shared')}))

    def plain(a):
        text = re.sub(r'"instance":"[^"]*"', '', a.text)
        for part in way.parts:
            if not PARTS[part].get('shared'):
                text = text.replace(PARTS[part]['there'], '?').replace(PARTS[part]['not'], '?')
        return a.status, text

    ok(plain(is_there) == plain(is_not), f'{way.name}: another shop is answered as if it were not there ({is_there.status})', f'{plain(is_there)} {plain(is_not)}'[:600])
    told = [m for m in marks if re.search(rf'\b{re.escape(m)}\b', plain(is_there)[1])]
    ok(not told, f'{way.name}: and told nothing of the first shop', str(told))


def check_methods(call, path):
    ways = [w for w in WAYS if w.path == path]
    allowed, wrong = {w.method for w in ways}, []
    for method in ('GET', 'POST', 'PUT', 'DELETE', 'PATCH', 'OPTIONS'):
        if method in allowed:
            continue
        a = call(ways[0], None, 'owner', method=method, body=None)
        allow = set(re.split(r', *', a.headers.get('Allow') or ''))
        if a.status != 405 or allow != allowed:
            wrong.append(f'{method}: {a.status} {allow}')
        for w in ways:
            count(w, 'method')
    ok(not wrong, f'{path}: other methods than {", ".join(sorted(allowed))}: 405, and Allow says which (RFC 9110, 15.5.6)', str(wrong))


def resolve(schema):
    while '$ref' in schema:
        schema = SPEC['components']['schemas'][schema['$ref'].split('/')[-1]]
    return schema


def sample(schema):
    schema = resolve(schema)
    for key in ('oneOf', 'anyOf'):
        if key in schema:
            return sample(schema[key][0])
    if 'enum' in schema:
        return schema['enum'][0]
    kind = schema.get('type', 'object')
    kind = kind[0] if isinstance(kind, list) else kind
    if kind == 'object':
        return {k: sample(v) for k, v in schema.get('properties', {}).items()}
    return {'string': 'x' * max(1, schema.get('minLength', 1)), 'integer': schema.get('minimum', 1), 'number': 1, 'boolean': True, 'array': [], 'null': None}[kind]


def spoilt(schema):
    """Objects with a member of the wrong kind, or without one that is required: (body, what it is)."""
    schema = resolve(schema)
    for each in schema.get('oneOf', schema.get('anyOf', [schema])):
        each = resolve(each)
        good, required = sample(each), each.get('required', [])
        for name in required:
            yield {k: v for k, v in good.items() if k != name}, f'without {name}'
            kinds = resolve(each['properties'].get(name, {})).get('type', [])
            kinds = [kinds] if isinstance(kinds, str) else kinds
            for wrong, kind in ((1, 'integer'), ('x', 'string'), ([], 'array'), ({}, 'object'), (None, 'null'), (True, 'boolean')):
                if kind not in kinds and not (kind == 'integer' and 'number' in kinds):
                    yield {**good, name: wrong}, f'{name} is {json.dumps(wrong)}'


def check_broken(call, way):
    if way.is_json:
        rows = [(b'', 'nothing'), (b'{', 'half an object'), (b'[]', 'a list'), (b'null', 'null'), (b'{"a":1,"a":2}', 'a key twice'), (b'{"a":"\xff"}', 'no UTF-8'), (b'[' * 3000, 'deep nesting'),
                (b'{"\\u0000":1}', 'a zero'), (b'{"a":1e999}', 'too large a number'), (b'{"a":"' + b'\\ud800' + b'"}', 'half a surrogate'), (b'{} {}', 'two objects')]
        rows += [(json.dumps(body).encode(), what) for body, what in spoilt(way.schema)]
        wrong = [(what, a.status) for body, what in rows for a in [call(way, 'broken', way.role, body=body)] if a.status not in CLOSED]
        a = call(way, 'broken', way.role, body=b'{}', headers={'Content-Type': 'text/plain'})
        wrong += [('text/plain', a.status)] if a.status != 415 else []
        ok(not wrong, f'{way.name}: {len(rows) + 1} broken bodies are refused', str(wrong))
    elif way.has_body:
        rows = [b'', b'x', b'PK\x03\x04' + bytes(2000), b'\x89PNG\r\n\x1a\n' + bytes(500), b'\xff\xd8\xff\xe0' + bytes(500)]
        wrong = [(len(body), a.status) for body in rows for a in [call(way, 'broken', way.role, body=body)] if a.status not in CLOSED]
        wrong += [(path, a.status) for body in rows[1:] for path in [way.at(**{'sha256': sha256(body)})] for a in [call(way, 'broken', way.role, path=path, body=body)] if a.status not in CLOSED]
        for text in ('bytes 0-0/0', 'bytes 1-0/1', 'bytes -', 'bytes 0-18446744073709551615/18446744073709551615'):
            a = call(way, 'broken', way.role, body=b'x', headers={'Content-Range': text})
            wrong += [(text, a.status)] if a.status not in CLOSED else []
        ok(not wrong, f'{way.name}: {2 * len(rows) + 3} broken bodies are refused', str(wrong))


def told(server, someone, way, lines, more=b''):
    """The answer to a call whose head is written here; (status, answer's bytes)."""
    head = [f'{way.method} {way.at()} HTTP/1.1', 'Host: x', *lines]
    if way.has_body:
        head.append(f'Content-Type: {way.type}')
    if someone.cookie:
        head.append(f'Cookie: {someone.cookie}')
    if someone.csrf:
        head.append(f'X-Mendwright-Csrf: {someone.csrf}')
    with socket.create_connection(('127.0.0.1', server.port), timeout=60) as wire:
        try:
            wire.sendall(('\r\n'.join(head) + '\r\n\r\n').encode() + more)
            got = wire.recv(65536)
        except (ConnectionError, TimeoutError):
            return 0, b''
    if LEAK.search(got.decode('utf-8', 'replace').split('\r\n\r\n')[-1]):
        leaks.append(f'{way.name}: {got[-300:]}')
    return (int(got.split()[1]) if got.startswith(b'HTTP/1.') else 0), got


def check_oversize(server, people, way):
    someone = people[way.role] if way.least else Someone(server)
    status, _ = told(server, someone, way, ['Content-Length: 1000000000000'])
    wrong = [f'told: {status}'] if status != 413 else []
    status, _ = told(server, someone, way, ['Content-Length: 99999999999999999999999'])
    wrong += [f'told too large a number: {status}'] if status not in (400, 413) else []
    count(way, 'oversize', 2)
    if way.is_json or not way.has_body:
        chunk = b'10000\r\n' + b' ' * 65536 + b'\r\n'
        status, _ = told(server, someone, way, ['Transfer-Encoding: chunked'], chunk * 48 + b'0\r\n\r\n')
        wrong += [f'in chunks: {status}'] if status not in (0, 413) else []
    else:
        status, _ = told(server, someone, way, ['Transfer-Encoding: chunked'], b'1\r\nx\r\n0\r\n\r\n')
        wrong += [f'in chunks: {status}'] if status != 411 else []
    count(way, 'oversize')
    ok(not wrong, f'{way.name}: an oversize body is refused before it is read, and in chunks as well', str(wrong))


def check_hostile(call, way):
    wrong = []
    for part in way.parts:
        for text in HOSTILE:
            a = call(way, 'hostile', way.role, path=way.at(**{part: text}))
            if a.status >= 500 or (a.status < 400 and part != 'link'):
                wrong.append((part, text, a.status))
    queries = [p['name'] for p in way.told.get('parameters', []) if p['in'] == 'query']
    for name in [*queries, 'not-there']:
        for text in HOSTILE:
            a = call(way, 'hostile', way.role, path=f'{way.at()}?{name}={text}')
            if a.status >= 500:
                wrong.append((name, text, a.status))
    ok(not wrong, f'{way.name}: {(len(way.parts) + len(queries) + 1) * len(HOSTILE)} hostile parts of the path and of the query', str(wrong))


def check_slow(server, people):
    """All at once: of each route a head a byte at a time, and where it takes a body, a body a byte at a time; the last byte never comes."""
    pool, open_, bad = selectors.DefaultSelector(), {}, []
    for way in WAYS:
        someone = people[way.role] if way.least else Someone(server)
        who = (f'Cookie: {someone.cookie}\r\n' if someone.cookie else '') + (f'X-Mendwright-Csrf: {someone.csrf}\r\n' if someone.csrf else '')
        head = f'{way.method} {way.at()} HTTP/1.1\r\nHost: x\r\n{who}'
        for what, start, more in [('head', head + 'X-Slow: ', b'a')] + ([('body', head + f'Content-Type: {way.type}\r\nContent-Length: 1000\r\n\r\n' + ('{' if way.is_json else ''), b' ')] if way.has_body else []):
            wire = socket.create_connection(('127.0.0.1', server.port))
            wire.sendall(start.encode())
            open_[wire] = (way, what, more, [b''])
            pool.register(wire, selectors.EVENT_READ)
            count(way, 'slow')
    n, end = len(open_), time.monotonic() + 90
    while open_ and time.monotonic() < end:
        ready = {key.fileobj for key, _ in pool.select(0.2)}
        for wire in list(open_):
            way, what, more, got = open_[wire]
            try:
                if wire in ready:
                    piece = wire.recv(65536)
                    got[0] += piece
                    if not piece:
                        raise ConnectionError
                wire.sendall(more)
            except OSError:
                if b'HTTP/1.1 2' in got[0]:
                    bad.append(f'{way.name}, {what}: {got[0][:60]}')
                pool.unregister(wire)
                wire.close()
                del open_[wire]
    ok(not open_, f'{n} slow senders, a head or a body a byte at a time of every route, are cut off (--timeout 1)', str([(w.name, what) for w, what, _, _ in open_.values()]))
    ok(not bad, 'and none of them is answered as if all had come', str(bad))
    for wire in open_:
        wire.close()
    ok(patiently(lambda: Someone(server).get('/health').status) == 200, 'the server lives')


def check_store_fails(server, call):
    """A store that breaks while the server runs: tables are gone, files are gone. What is told is that it failed, no more."""
    for name in ('store.db', 'jobs.db', 'practice.db'):
        db = sqlite3.connect(server.store / name, isolation_level=None)
        for (table,) in db.execute("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%'").fetchall():
            db.execute(f'ALTER TABLE "{table}" RENAME TO "gone_{table}"')
        db.close()
    for p in (server.store / 'photos').rglob('*.*'):
        p.unlink()
    told_ = {}
    by_people = {'POST /api/v1/people/{person}/link': 201, 'DELETE /api/v1/people/{person}': 204, 'DELETE /api/v1/people/{person}/name': 204}  # people.db is whole
    for way in WAYS:
        if way.method == 'DELETE' and way.path.endswith('/session'):
            count(way, 'store fails', 0)
            continue  # people.db is whole; signing out would end the session that the rest needs
        status = call(way, 'store fails', way.role).status
        if status != by_people.get(way.name):
            told_.setdefault(status, []).append(way.name)
    begun = told_.pop(202, [])  # a task is begun before it looks at the store; its own answer is then the fault
    ok(set(begun) <= {'POST /api/v1/rulings'}, 'with a store whose tables are gone, only what looks at it later is begun', str(begun))
    ok(503 in told_ and set(told_) <= {200, 503} | CLOSED | {401, 303, 304, 429}, 'with a store whose tables are gone, what needs them is answered 503', str(told_))


def prepare(server):
    # The example with a picture at its first step, which lies beside it.
    (server.folder / 'stands.svg').write_text('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 2 1"/>')
    (server.folder / 'OV-26-03.yaml').write_text(re.sub(r'(?m)^(    per: \w+\n)', r'\1    picture: {file: stands.svg, alt: {en: Stands}}\n',
                                                        (ROOT / 'examples/OV-26-03.yaml').read_text(), count=1))
    server.call('store', 'keep', 'bulletin', server.folder / 'OV-26-03.yaml', '--store', server.store)
    bag = server.folder / 'bag.zip'
    server.call('bag', 'make', JOB, '-o', bag)
    server.start()
    people = {'technician': server.person('ines', 'technician', 'fern-mobile-2'), 'other': server.person('otto', 'technician', 'elsewhere-9'),
              'clerk': server.person('clara', 'clerk'), 'owner': server.person('ada', 'owner')}
    server.person('nora', 'clerk')
    data, tech = bag.read_bytes(), people['technician']
    a = tech.send('PUT', f'/api/v1/bags/{sha256(data)}', data)
    assert a.status == 201, a.text
    PARTS['claim']['there'], server.vin = a.json['claim'], a.json['vin']
    a = tech.send('POST', f'/api/v1/jobs/{PARTS["job"]["there"]}/events', EVENTS)
    assert a.status in (200, 201), a.text
    # A study, with whatever it comes to, kept for the report.
    clerk = people['clerk']
    a = clerk.send('POST', '/api/v1/studies/held', {'options': {}})
    assert a.status == 202, a.text
    while clerk.get(f"/api/v1/tasks/{a.json['task']}").json['state'] in ('waiting', 'running'):
        time.sleep(0.02)
    a = clerk.send('POST', '/api/v1/kept-studies', {'task': a.json['task']})
    assert a.status == 201, a.text
    PARTS['kept']['there'] = a.json['kept']
    a = tech.send('PUT', f'/api/v1/jobs/{PARTS["job"]["there"]}/photos/{sha256(PHOTO)}', PHOTO, {'Content-Type': 'image/png'})
    assert a.status in (201, 204), a.text
    a = people['owner'].send('PUT', '/api/v1/practice/sets/exam-one', {'text': (ROOT / 'examples/practice/exam-one.yaml').read_text()})
    assert a.status == 200, a.text
    a = tech.send('PUT', f'/api/v1/bags/{sha256(PHOTO)}', PHOTO[:100], {'Content-Range': f'bytes 0-99/{len(PHOTO)}'})
    assert a.status == 202, a.text
    return people


MARK = 'hush-7c1f'  # stands in whatever of a call must not be in the log


def check_log(server, people, call):
    """Every call once more as whoever may make it, with a VIN and secrets in its query, its headers and its body; links that sign in, spelled
    in every way and refused in every way; passwords right and wrong. Then the log is read."""
    secrets, short = [MARK], {'the VIN of a query': server.vin}
    for way in WAYS:
        body = json.dumps({**sample(way.schema), 'note': MARK, 'reason': MARK, 'text': MARK, 'password': MARK, 'name': MARK}).encode() if way.is_json else MARK.encode() if way.has_body else None
        if not (way.method == 'DELETE' and way.path.endswith('/session')):
            call(way, None, way.role, path=f'{way.at()}?vin={server.vin}&link={MARK}&password={MARK}', body=body, headers={'Authorization': f'Bearer {MARK}', 'Referer': f'http://x/enter/{MARK}'})
    for _ in range(2):
        link = json.loads(server.call('people', 'link', 'otto', '--store', server.store, '--json'))['link']
        secrets.append(link)
        for target in (f'/enter/{link}', f'/enter/{link}/', f'/enter/{link}?x=1', f'//enter/{link}', f'/enter//{link}', f'/enter/{link}/x', f'/enter/{link}%00', f'/enter/{link}%', f'/%65nter/{link}', f'/Enter/{link}',
                       f'/bench/enter/{link}', f'/{link}', f'http://x/enter/{link}', f'/api/v1/session/{link}', f'/health?{link}'):
            for method, more in (('GET', ''), ('HEAD', ''), ('POST', 'Content-Length: 0\r\n'), ('GET', 'Content-Length: 1\r\nTransfer-Encoding: chunked\r\n')):
                with socket.create_connection(('127.0.0.1', server.port), timeout=30) as wire:
                    wire.sendall(f'{method} {target} HTTP/1.1\r\nHost: x\r\n{more}Cookie: mendwright={link}\r\nConnection: close\r\n\r\n'.encode())
                    wire.recv(65536)
        someone = Someone(server)
        ok(someone.send('POST', '/api/v1/session', {'link': link}).status == 200, 'none of these used the link up')
        secrets += [someone.cookie.split('=')[1], someone.csrf]
    password, wrong = 'a level bubble, a square corner', 'a level bubble, a round corner'
    secrets += [password, wrong]
    statuses = [someone.send('PUT', '/api/v1/session/password', {'password': password}).status]
    statuses += [Someone(server).send('POST', '/api/v1/session', {'name': 'otto', 'password': p}).status for p in (wrong, password)]
    ok(statuses == [204, 401, 200], 'a password set, one that is wrong, and the right one', str(statuses))
    secrets += [p.cookie.split('=')[1] for p in people.values()] + [p.csrf for p in people.values()]
    lines = [json.loads(line) for line in (server.folder / 'log').read_text().splitlines() if line.startswith('{')]
    text = (server.folder / 'log').read_text()
    shown = [w for s in secrets for w in (s, urllib.parse.quote(s)) if w in text] + [what for what, w in short.items() if w in text]
    ok(not shown, f'none of {len(secrets)} links, cookies, passwords, words against forged requests and contents is among the {len(lines)} lines of the log, nor a VIN that was in a query', str(shown))
    told = {(line['method'], line['path']) for line in lines}
    untold = [w.name for w in WAYS if (w.method, '/enter' if w.path.startswith('/enter/') else w.at()) not in told]
    ok(not untold, f'and each of the {len(WAYS)} calls has a line there', str(untold))
    ok(any(line['path'] == '/enter/*' for line in lines), 'a link whose call is refused is left out of its path as well')


def show_table():
    """Which kinds a route must have had follows from the description alone."""
    print('# ' + f'{"calls":56}' + ''.join(f'{k:>13}' for k in KINDS))
    missing = []
    for way in WAYS:
        row = counts.get(way.name, {})
        wanted = {'method', 'oversize', 'hostile', 'slow', 'store fails'}
        wanted |= {'no session'} if way.least else set()
        wanted |= {'low role'} if way.least > 1 else set()
        wanted |= {'no csrf'} if way.least and way.is_change else set()
        wanted |= {"other shop's"} if way.role == 'technician' else set()
        wanted |= {'broken'} if way.has_body else set()
        missing += [f'{way.name}: {k}' for k in sorted(wanted) if k not in row]
        print('# ' + f'{way.name:56}' + ''.join(f'{row[k] if k in row else "-" if k not in wanted else "MISSING":>13}' for k in KINDS))
    ok(not missing, f'each of the {len(WAYS)} calls of openapi.json was tried in every way that it has', str(missing))


def main(argv):
    server = Server(argv[1], '--bag-mib', '1')
    try:
        unknown = sorted({p for w in WAYS for p in w.parts} - set(PARTS))
        ok(not unknown, 'what every {part} of a path stands for is known to this test', f'add to PARTS: {unknown}')
        if unknown:
            return done()
        people = prepare(server)
        call = Caller(server, people)
        for way in WAYS:
            check_roles(call, way)
            if way.role == 'technician' and not way.path.endswith('/session'):
                check_other(call, way)
            elif way.role == 'technician':
                count(way, "other shop's", 0)  # one's own session is nobody else's
            check_broken(call, way)
            check_oversize(server, people, way)
            if not (way.method == 'DELETE' and way.path.endswith('/session')):
                check_hostile(call, way)
            else:
                count(way, 'hostile', 0)  # no part and no query; it would end the session that the rest needs
        for path in SPEC['paths']:
            check_methods(call, path)
        ok(server.again('--bag-mib', '1', '--timeout', '1'), 'the server ends with 0, and begins anew')
        check_slow(server, people)
        ok(server.again('--bag-mib', '1'), 'and so once more')
        check_log(server, people, call)
        check_store_fails(server, call)
        ok(not faults, f'each of {seen["problems"]} refusals among {seen["answers"]} answers is a problem (RFC 9457)', '\n#   '.join(faults[:10]))
        ok(not leaks, 'and none tells a path, a database, SQL, a source or an address in memory', '\n#   '.join(leaks[:10]))
        show_table()
        ok(server.stop() == 0, 'the server ends with 0')
        log = (server.folder / 'log').read_text()
        ok('ERROR: ' not in log and 'runtime error' not in log, 'and no sanitizer said a word', log[-1500:] if 'rror' in log else '')
    finally:
        server.end()
    return done()


if __name__ == '__main__':
    sys.exit(main(sys.argv))
