#!/usr/bin/env python3
"""The server's interface from outside: every route without a session, with the wrong role, with another shop's things, with broken and
oversize bodies; bags whole, in pieces, again, spoilt, another shop's; entity tags; the description against the table and the answers.

usage: api.py PROGRAM
"""
import json
import re
import subprocess
import sys

from door import ROOT, Server, Someone, done, ok, raw, sha256, skip

try:
    import jsonschema
except ImportError:
    jsonschema = None

SPEC = json.loads((ROOT / 'src/serve/files/openapi.json').read_text())
ROLES = ['nobody', 'technician', 'clerk', 'owner']


def is_problem(answer, status):
    if answer.status != status or answer.headers.get('Content-Type') != 'application/problem+json':
        return False
    p = answer.json
    return p['status'] == status and p['type'].startswith('urn:mendwright:problem:') and p['title'] and p['detail'] and p['instance']


def fits(answer, method, template):
    """Whether a JSON answer is as the description says; True when there is nothing to compare by."""
    if jsonschema is None:
        return True
    responses = SPEC['paths'][template][method.lower()]['responses']
    told = responses.get(str(answer.status), responses['default'])
    schema = next((m['schema'] for t, m in told.get('content', {}).items() if 'json' in t), None)
    if schema is None:
        return True
    try:
        jsonschema.Draft202012Validator({**schema, 'components': SPEC['components']}).validate(answer.json)
        return True
    except jsonschema.ValidationError as e:
        print(f'#   {e.message[:300]} at {list(e.absolute_path)}')
        return False


def check_table():
    text = (ROOT / 'src/serve/routes.c').read_text()
    table = {(p, m.lower(), r.lower()) for m, p, r in re.findall(r'\{"([A-Z]+)",\s*"(/[^"]*)",\s*SIGNIN_(\w+)', text) if p != '/'}
    spec = {(p, m, o['x-role']) for p, ways in SPEC['paths'].items() for m, o in ways.items()}
    ok(table == spec, 'the description has the paths, methods and roles of the table', str(table ^ spec))
    ok(SPEC['openapi'].startswith('3.1.'), 'it says OpenAPI 3.1 (OpenAPI Specification 3.1.0, 4.8.1)')
    needed = all('responses' in o and 'default' in o['responses'] for ways in SPEC['paths'].values() for o in ways.values())
    ok(needed, 'every operation says what can go wrong')
    for path, ways in SPEC['paths'].items():
        names = set(re.findall(r'\{(\w+)\}', path))
        for method, o in ways.items():
            told = {p['name'] for p in o.get('parameters', []) if p['in'] == 'path'}
            ok(told == names, f'{method.upper()} {path}: its path parameters are told (OpenAPI 3.1.0, 4.8.12)', f'{told} {names}')
    refs = set(re.findall(r'"#/components/schemas/(\w+)"', json.dumps(SPEC)))
    ok(refs <= set(SPEC['components']['schemas']), 'every schema that is named is there')
    if jsonschema:
        for name, schema in SPEC['components']['schemas'].items():
            jsonschema.Draft202012Validator.check_schema(schema)
        ok(True, 'every schema is a JSON Schema of 2020-12')
    else:
        skip('answers against their schemas', 'python3-jsonschema is not here')


def filled(path):
    return re.sub(r'\{(\w+)\}', lambda m: {'sha256': 'a' * 64, 'revision': '2', 'bulletin': 'OV-26-03'}.get(m[1], 'K' + '0' * 12), path)


def check_roles(server, people):
    for path, ways in SPEC['paths'].items():
        for method, o in ways.items():
            method, least = method.upper(), ROLES.index(o['x-role'])
            body, headers = (b'x', {'Content-Length': '1'}) if method == 'PUT' and 'bags' in path else (None, {})
            if 'requestBody' in o and body is None:
                body = {}
            if least == 0:
                continue
            a = Someone(server).send(method, filled(path), body, headers)
            ok(is_problem(a, 401), f'{method} {path} without a session: 401', f'{a.status} {a.text[:200]}')
            for role in ROLES[1:least]:
                a = people[role].send(method, filled(path), body, headers)
                ok(is_problem(a, 403), f'{method} {path} as {role}: 403', f'{a.status}')
            if method not in ('GET', 'HEAD'):
                a = people['owner'].send(method, filled(path), body, headers, csrf=False)
                ok(is_problem(a, 403) and 'csrf' in a.json['type'], f'{method} {path} without the word against forged requests: 403', f'{a.status} {a.text[:100]}')
                a = people['owner'].send(method, filled(path), body, {**headers, 'X-Mendwright-Csrf': 'f' * 64}, csrf=False)
                ok(is_problem(a, 403), f'{method} {path} with a wrong one: 403')


def check_headers(server):
    a = Someone(server).get('/health')
    h = a.headers
    ok(a.status == 200 and fits(a, 'get', '/health'), 'health is as described')
    policy = h['Content-Security-Policy']
    ok("default-src 'none'" in policy and "'unsafe-inline'" not in policy and "'unsafe-eval'" not in policy.replace('wasm-unsafe-eval', ''),
       'a strict content policy: nothing inline, nothing evaluated (Content Security Policy Level 3)')
    ok(h['X-Content-Type-Options'] == 'nosniff' and h['X-Frame-Options'] == 'DENY' and h['Referrer-Policy'] == 'no-referrer', 'no sniffing, no frames, no referrer')
    ok('Server' not in h, 'it does not say what it is built of')
    a = Someone(server).send('POST', '/api/v1/session', {'link': 'x'})
    ok('Set-Cookie' not in a.headers, 'a refused link sets no cookie')


def check_broken(server, people):
    nobody = Someone(server)
    json_type = {'Content-Type': 'application/json'}
    rows = [
        ('no JSON', b'{', json_type, 400), ('a list', b'[]', json_type, 400), ('the same key twice', b'{"link":"a","link":"b"}', json_type, 400),
        ('bytes that are no UTF-8', b'{"link":"\xff"}', json_type, 400), ('a number for a text', b'{"link":1}', json_type, 400),
        ('an empty text', b'{"link":""}', json_type, 400), ('a control character', b'{"link":"a\\u0001"}', json_type, 400),
        ('nothing', b'', json_type, 400), ('a name alone', b'{"name":"ada"}', json_type, 400),
        ('another type', b'{"link":"a"}', {'Content-Type': 'text/plain'}, 415), ('no type', b'{"link":"a"}', {}, 415),
        ('5000 bytes', b'{"link":"' + b'a' * 5000 + b'"}', json_type, 413), ('deep nesting', b'[' * 2000, json_type, 400),
    ]
    for what, body, headers, status in rows:
        a = nobody.send('POST', '/api/v1/session', body, headers)
        ok(is_problem(a, status), f'signing in with {what}: {status}', f'{a.status} {a.text[:200]}')
    for path in ('/api/v1/nothing', '/api/v1/claims/a/b/c/d/e/f/g', '/api//v1', '/api/v1/%zz', '/api/v1/claims/%2e%2e', '/api/v1/claims/a%2fb', '/api/v1/claims/a%00'):
        a = people['owner'].get(path)
        ok(is_problem(a, 404), f'GET {path}: 404', f'{a.status}')
    for path in ('/../etc/passwd', '/%2e%2e/%2e%2e/etc/passwd', '/assets/../../people.db', '/people.db'):
        a = nobody.get(path)
        ok(is_problem(a, 404), f'GET {path}: 404, no file of the server is told', f'{a.status}')
    a = people['owner'].send('DELETE', '/api/v1/claims')
    ok(is_problem(a, 405) and a.headers['Allow'] == 'GET', 'a method that the path does not have: 405 with Allow (RFC 9110, 15.5.6)')
    for q in ('limit=0', 'limit=501', 'limit=x', 'limit=-1', 'limit=99999999999999999999'):
        a = people['owner'].get('/api/v1/claims?' + q)
        ok(is_problem(a, 400), f'claims?{q}: 400', f'{a.status}')
    ok(is_problem(people['owner'].get('/api/v1/claims?after=K000000000000'), 404), 'claims after one that is not there: 404')
    for rev in ('0', '-1', 'x', '99'):
        ok(people['owner'].get(f'/api/v1/bulletins/OV-26-03/{rev}').status in (400, 404), f'revision {rev} of a bulletin is refused')


def check_wire(server):
    got = raw(server.port, b'GET /health HTTP/1.1\r\nHost: x\r\n\r\n' * 3 + b'GET /health HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n')
    ok(got.count(b'200 OK') == 4, 'four calls one behind the other on one connection are answered (RFC 9112, 9.3.2)')
    got = raw(server.port, b'POST /api/v1/session HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: 10\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n')
    ok(b' 200 ' not in got, 'length and chunks at once are not taken for a call (RFC 9112, 6.3)', repr(got[:80]))
    for lines in (b'Content-Length: 1\r\nTransfer-Encoding: denkcuh', b'Transfer-Encoding: gzip, chunked', b'Transfer-Encoding: chunked\r\nContent-Length: 2', b'Transfer-Encoding: identity'):
        got = raw(server.port, b'POST /api/v1/session HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n' + lines + b'\r\n\r\n2\r\n{}\r\n0\r\n\r\n')
        ok(got.startswith(b'HTTP/1.1 400 ') and got.count(b'HTTP/1.1 ') == 1, f'{lines.decode().splitlines()}: 400, and what follows is no call (RFC 9112, 6.1)', repr(got[:80]))
    got = raw(server.port, b'GET /' + b'a' * 100000 + b' HTTP/1.1\r\nHost: x\r\n\r\n')
    ok(b' 200 ' not in got, 'a path of 100 000 bytes is refused', repr(got[:80]))
    got = raw(server.port, b'GET /health HTTP/1.1\r\nHost: x\r\n' + b'X: ' + b'a' * 200000 + b'\r\n\r\n')
    ok(b' 200 ' not in got, 'a header of 200 000 bytes is refused', repr(got[:80]))
    got = raw(server.port, b'\x16\x03\x01\x02\x00\x01\x00\x01\xfc' + bytes(200))
    ok(b' 200 ' not in got, 'TLS spoken to a plain port is no call')
    got = raw(server.port, b'GET /health HTTP/1.1\r\n\r\n')
    ok(b' 400 ' in got, 'a call of HTTP/1.1 without Host: 400 (RFC 9112, 3.2)', repr(got[:80]))


def check_bags(server, program, people, bag):
    data = bag.read_bytes()
    name = sha256(data)
    tech = people['technician']
    path = f'/api/v1/bags/{name}'
    ok(tech.get(path).json == {'sha256': name, 'received': 0}, 'nothing of a bag has come yet')
    a = tech.send('PUT', path, b'not these bytes')
    ok(is_problem(a, 422), 'other bytes than the digest says: 422', a.text[:200])
    a = tech.send('PUT', '/api/v1/bags/short', data)
    ok(is_problem(a, 404), 'no digest: 404')
    junk = b'PK\x03\x04' + bytes(5000)
    a = tech.send('PUT', f'/api/v1/bags/{sha256(junk)}', junk)
    ok(is_problem(a, 422), 'a spoilt zip: 422', a.text[:200])
    a = people['other'].send('PUT', path, data)
    ok(is_problem(a, 403), "another shop's technician may not send it: 403", a.text[:300])
    third = len(data) // 3
    a = tech.send('PUT', path, data[:third], {'Content-Range': f'bytes 0-{third - 1}/{len(data)}'})
    ok(a.status == 202 and a.json['received'] == third and fits(a, 'put', '/api/v1/bags/{sha256}'), 'a first piece: 202', a.text[:200])
    server.stop()
    server.start()
    ok(tech.get(path).json['received'] == third, 'the server stopped and begun anew, the piece is there')
    ok(people['other'].get(path).json['received'] == 0, 'nobody else sees it')
    a = tech.send('PUT', path, data[2 * third:], {'Content-Range': f'bytes {2 * third}-{len(data) - 1}/{len(data)}'})
    ok(is_problem(a, 409) and a.headers['X-Mendwright-Received'] == str(third), 'a piece that does not follow: 409, and where to go on')
    for text in ('bytes 0-1/1', 'bytes 5-1/9', 'bytes */9', 'items 0-1/2', f'bytes {third}-{third}/{len(data)}', 'bytes -1-2/9', 'bytes 0-99999999999999999999/9'):
        ok(is_problem(tech.send('PUT', path, b'xy', {'Content-Range': text}), 400), f'Content-Range "{text}" for two bytes: 400')
    a = tech.send('PUT', path, data[third:], {'Content-Range': f'bytes {third}-{len(data) - 1}/{len(data)}'})
    ok(a.status == 201 and a.json['result'] == 'taken' and fits(a, 'put', '/api/v1/bags/{sha256}'), 'the last piece: taken in, 201', a.text[:300])
    claim = a.json.get('claim')
    ok(a.headers['Location'] == f'/api/v1/claims/{claim}', 'and where the claim is')
    a = tech.send('PUT', path, data)
    ok(a.status == 200 and a.json['result'] == 'already' and a.json['claim'] == claim, 'sent again, whole: 200, it is there already')
    cli = json.loads(server.call('take', bag, '--store', server.store, '--json'))
    ok(cli['result'] == 'already' and cli['claim'] == claim, 'the command line says the same of it')
    ok(json.loads(server.call('store', 'verify', '--store', server.store, '--json'))['ok'], 'the store is sound')
    ok(not list((server.store / 'coming').glob('*')), 'nothing of it is left behind')
    return claim


def check_claims(server, people, claim):
    tech, other, owner = people['technician'], people['other'], people['owner']
    a = tech.get('/api/v1/claims')
    ok(a.status == 200 and [c['claim'] for c in a.json['claims']] == [claim] and fits(a, 'get', '/api/v1/claims'), "the shop's claims", a.text[:200])
    ok(other.get('/api/v1/claims').json['claims'] == [], "another shop's technician sees none of them")
    ok(other.get('/api/v1/claims?shop=fern-mobile-2').json['claims'] == [], 'not by asking for the shop, either')
    a = other.get(f'/api/v1/claims/{claim}')
    b = other.get('/api/v1/claims/K000000000000')
    ok(is_problem(a, 404) and is_problem(b, 404) and a.json['detail'].replace(claim, '') == b.json['detail'].replace('K000000000000', ''),
       'another shop\'s claim is answered like one that is not there')
    a = owner.get(f'/api/v1/claims/{claim}')
    ok(a.status == 200 and fits(a, 'get', '/api/v1/claims/{claim}'), 'the owner sees it, as described', a.text[:200])
    tag = a.headers['ETag']
    b = owner.get(f'/api/v1/claims/{claim}', If_None_Match=tag)
    ok(b.status == 304 and not b.bytes, 'not changed since: 304 without a body (RFC 9110, 15.4.5)')
    b = owner.get(f'/api/v1/claims/{claim}', If_None_Match='"other", W/' + tag)
    ok(b.status == 304, 'one of several tags, weak (RFC 9110, 13.1.2)')
    server.call('rule', '--store', server.store, codes=(0, 1, 4))
    b = owner.get(f'/api/v1/claims/{claim}', If_None_Match=tag)
    ok(b.status == 200 and b.headers['ETag'] != tag and b.json['verdict'], 'once it is ruled on, the tag is another')
    told = json.loads(server.call('rule', '--store', server.store, '--claim', claim, '--json', codes=(0, 1, 4)))
    same = b.json['verdict'] == told['verdict'] and b.json['amount_minor'] == told['amount_minor'] and len(b.json['rulings'][-1]['findings']) == len(told['findings'])
    ok(same, "verdict, money and findings are the command line's")
    photo = a.json['photos'][0]['sha256']
    p = tech.get(f'/api/v1/claims/{claim}/photos/{photo}')
    ok(p.status == 200 and sha256(p.bytes) == photo and p.headers['Content-Type'].startswith('image/'), 'a photo comes as it was sent')
    ok('immutable' in p.headers['Cache-Control'], 'and may be kept for good')
    ok(is_problem(other.get(f'/api/v1/claims/{claim}/photos/{photo}'), 404), "not for another shop")
    ok(is_problem(tech.get(f'/api/v1/claims/{claim}/photos/{"0" * 64}'), 404) and is_problem(tech.get(f'/api/v1/claims/{claim}/photos/x'), 404), 'a photo that is not there: 404')
    at = next((server.files / 'photos' / photo[:2]).glob(f'{photo[2:]}.*'))
    right = at.read_bytes()
    at.write_bytes(right[:-1] + bytes([right[-1] ^ 1]))
    p = tech.get(f'/api/v1/claims/{claim}/photos/{photo}')
    ok(is_problem(p, 503) and 'damaged' in p.json['detail'] and right[:64] not in p.bytes, 'one wrong byte on the disk: it is told, and nothing of the photo shown', p.text[:200])
    at.unlink()
    ok(is_problem(tech.get(f'/api/v1/claims/{claim}/photos/{photo}'), 503), 'its file is gone: the same')
    at.write_bytes(right)


def check_filters(server, people, claim):
    clerk = people['clerk']
    path = '/api/v1/claims'
    one = clerk.get(path).json['claims'][0]
    tail = one['vin'][-5:]
    for q, n in ((f'tail={tail}', 1), ('tail=ZZZ', 0), (f'verdict={one["verdict"]}', 1), (f'needs={one["needs"]}', 1), (f'bulletin={one["bulletin"]}', 1), ('bulletin=none-such', 0),
                 ('rule=none-such', 0), (f'verdict={one["verdict"]}&needs={one["needs"]}&tail={tail}&vin={one["vin"]}&shop={one["shop"]}', 1),
                 ('findings=none', int(one['n_findings'] == 0)), ('verdict=unruled', 0)):
        a = clerk.get(f'{path}?{q}')
        ok(a.status == 200 and len(a.json['claims']) == n and fits(a, 'get', path), f'claims?{q}: {n} of them, as described', a.text[:200])
    for q in ('verdict=yes', 'needs=money', 'findings=some', 'verdict='):
        ok(is_problem(clerk.get(f'{path}?{q}'), 400), f'claims?{q}: 400')
    counts = clerk.get(path).json['counts']
    ok(counts['all'] == 1 and counts['verdict'][one['verdict']] == 1 and sum(counts['needs'].values()) == 1, 'how many there are of each', str(counts))
    ok(people['other'].get(path).json['counts']['all'] == 0, "another shop's technician counts none of them")


def check_words(server, people, claim):
    """What a clerk does: every write says by If-Match which state was looked at, names the person, and loses nobody's word."""
    clerk, owner, tech, other = (people[k] for k in ('clerk', 'owner', 'technician', 'other'))
    path = f'/api/v1/claims/{claim}'
    ruling, payment, note = path + '/ruling', path + '/payment', path + '/note'
    template = '/api/v1/claims/{claim}'
    word = {'verdict': 'hold', 'reason': 'the shop was asked'}
    tag = clerk.get(path).headers['ETag']
    before = clerk.get(path).json
    def unchanged():
        return clerk.get(path).headers['ETag'] == tag
    for method, at, body in (('POST', ruling, word), ('DELETE', ruling, None), ('POST', payment, None), ('POST', note, {'text': 'x'})):
        a = clerk.send(method, at, body)
        ok(is_problem(a, 428) and fits(a, method, at.replace(claim, '{claim}')), f'{method} {at[-8:]} without If-Match: 428 (RFC 6585, 3)', a.text[:200])
        a = clerk.send(method, at, body, {'If-Match': '*'})
        ok(is_problem(a, 428), f'{method} {at[-8:]} with If-Match: *: 428, as it names no state')
        for wrong in ('"' + claim + '-1"', f'W/{tag}', '"x"', '""', tag[:-1], f'{tag}, {tag}', '"' + claim + '-99999999999999999999999"', '"' + 'a' * 300 + '"'):
            a = clerk.send(method, at, body, {'If-Match': wrong})
            ok(is_problem(a, 412) and a.json['present']['etag'] == tag.strip('"') and fits(a, method, at.replace(claim, '{claim}')),
               f'{method} {at[-8:]} with the tag {wrong[:20]}: 412, and what is there now (RFC 9110, 13.1.1)', f'{a.status} {a.text[:300]}')
        for who in (tech, other):
            ok(is_problem(who.send(method, at, body, {'If-Match': tag}), 403), f"{method} {at[-8:]}: not a technician's")
    for body in ({}, {'verdict': 'hold'}, {'reason': 'x'}, {'verdict': 1, 'reason': 'x'}, {'verdict': 'hold', 'reason': ''}, {'verdict': 'hold', 'reason': 'x' * 1001}, {'verdict': 'hold', 'reason': 'a\u0001b'},
                 {'verdict': 'pay', 'reason': 'x', 'amount_minor': -1}, {'verdict': 'pay', 'reason': 'x', 'amount_minor': 1.5}, {'verdict': 'pay', 'reason': 'x', 'amount_minor': 'much'}):
        a = clerk.send('POST', ruling, body, {'If-Match': tag})
        ok(is_problem(a, 400), f'a ruling {json.dumps(body)[:60]}: 400', a.text[:200])
    for body in ({'verdict': 'perhaps', 'reason': 'x'}, {'verdict': 'hold', 'reason': 'x', 'amount_minor': 5}, {'verdict': 'hold', 'reason': '  '}):
        a = clerk.send('POST', ruling, body, {'If-Match': tag})
        ok(a.status in (404, 422) and a.headers['Content-Type'] == 'application/problem+json', f'a ruling {json.dumps(body)[:60]}: refused', f'{a.status} {a.text[:200]}')
    ok(is_problem(clerk.send('POST', '/api/v1/claims/K000000000000/ruling', word, {'If-Match': '"K000000000000-1"'}), 404), 'a claim that is not there: 404')
    ok(unchanged(), 'none of them changed anything')
    # Two who look at the same state.
    a = clerk.send('POST', ruling, word, {'If-Match': tag})
    ok(a.status == 200 and a.json['verdict'] == 'hold' and a.json['is_overruled'] and fits(a, 'post', template + '/ruling'), 'a word with a reason', a.text[:200])
    last = a.json['rulings'][-1]
    ok(last['person'] == 'clara' and last['reason'] == word['reason'] and last['kind'] == 'overruled', 'it names who is signed in, whoever the body says')
    b = owner.send('POST', ruling, {'verdict': 'refuse', 'reason': 'two at once', 'person': 'clara'}, {'If-Match': tag})
    ok(is_problem(b, 412) and b.json['present']['last']['person'] == 'clara' and b.json['present']['last']['reason'] == word['reason'] and b.json['present']['verdict'] == 'hold'
       and '"' + b.json['present']['etag'] + '"' == a.headers['ETag'], 'the second of two is told the first one\'s word and writes nothing', b.text[:300])
    ok(len(clerk.get(path).json['rulings']) == len(before['rulings']) + 1, "nobody's word is lost")
    tag = a.headers['ETag']
    ok(is_problem(owner.send('DELETE', ruling, None, {'If-Match': tag}), 409), "another person's word is not taken back")
    a = clerk.send('POST', note, {'text': 'called the shop <b>&"\u202e'}, {'If-Match': tag})
    ok(a.status == 200 and a.json['rulings'][-1]['kind'] == 'noted' and a.json['verdict'] == 'hold' and fits(a, 'post', template + '/note'), 'a note changes nothing else', a.text[:200])
    ok(is_problem(clerk.send('DELETE', ruling, None, {'If-Match': tag}), 412), 'but is an entry that one must have seen')
    a = clerk.send('DELETE', ruling, None, {'If-Match': a.headers['ETag']})
    ok(a.status == 200 and a.json['verdict'] == before['verdict'] and not a.json['is_overruled'] and a.json['rulings'][-1]['kind'] == 'taken-back' and fits(a, 'delete', template + '/ruling'),
       "one's own word is taken back: the rules' ruling stands again", a.text[:200])
    ok([r['kind'] for r in a.json['rulings']][-3:] == ['overruled', 'noted', 'taken-back'], 'and all of it is on the record')
    # Money.
    a = clerk.send('POST', ruling, {'verdict': 'pay', 'reason': 'seen', 'amount_minor': 4321}, {'If-Match': a.headers['ETag']})
    ok(a.json['amount_minor'] == 4321 and a.json['needs'] == 'payment', 'an amount of a person\'s own')
    seen = a.headers['ETag']
    a = clerk.send('POST', payment, None, {'If-Match': seen})
    ok(a.status == 200 and a.json['paid_minor'] == 4321 and a.json['rulings'][-1]['person'] == 'clara' and fits(a, 'post', template + '/payment'), 'a payment names who let it go', a.text[:200])
    ok(is_problem(owner.send('POST', payment, None, {'If-Match': seen}), 412), 'the second of two who pay is told')
    b = clerk.send('POST', payment, None, {'If-Match': a.headers['ETag']})
    ok(is_problem(b, 409), 'nothing is due any more: 409')
    ok(is_problem(clerk.send('DELETE', ruling, None, {'If-Match': a.headers['ETag']}), 409), 'a word that money was paid on is not taken back')
    told = json.loads(server.call('rule', '--store', server.store, '--claim', claim, '--json', codes=(0, 1, 4)))
    ok(told['paid_minor'] == 4321 and told['overruled'], 'the command line says the same')
    # Many at once.
    for body in ({}, {'claims': []}, {'claims': 'all'}, {'claims': [claim]}, {'claims': [{'claim': claim}]}, {'claims': [{'claim': claim, 'etag': 'x'}] * 501}):
        ok(is_problem(clerk.send('POST', '/api/v1/payments', body), 400), f'settling {json.dumps(body)[:50]}: 400')
    many = {'claims': [{'claim': claim, 'etag': a.headers['ETag'].strip('"')}, {'claim': claim, 'etag': f'{claim}-1'}, {'claim': 'K000000000000', 'etag': 'K000000000000-1'}]}
    b = clerk.send('POST', '/api/v1/payments', many)
    want = 'findings' if told['findings'] else 'nothing'
    ok(b.status == 200 and [r['result'] for r in b.json['claims']] == [want, 'changed', 'unknown'] and b.json['n_paid'] == 0 and fits(b, 'post', '/api/v1/payments'), 'what became of each is told', b.text)


def check_letter(server, people, claim):
    clerk, tech, other = people['clerk'], people['technician'], people['other']
    path = f'/api/v1/claims/{claim}/letter'
    a = tech.get(path)
    ok(a.status == 200 and a.headers['Content-Type'].startswith('text/plain') and claim in a.text, "the letter, for the shop's own technician", a.text[:200])
    b = clerk.get(path + '?as=pdf&language=fr&paper=letter')
    ok(b.status == 200 and b.bytes.startswith(b'%PDF-') and b.headers['Content-Type'] == 'application/pdf', 'as a PDF')
    ok('Demande ' + claim in clerk.get(path + '?language=fr').text and 'Reclamo ' + claim in clerk.get(path + '?language=es').text, 'in French, in Spanish')
    ok(is_problem(other.get(path), 404), 'not for another shop')
    for q in ('as=doc', 'language=xx', 'paper=a5'):
        ok(is_problem(clerk.get(f'{path}?{q}'), 400), f'letter?{q}: 400')
    e = tech.get(f'/api/v1/claims/{claim}/events')
    ok(e.status == 200 and len(e.json['events']) > 10 and fits(e, 'get', '/api/v1/claims/{claim}/events'), 'what the technician did, event for event')
    ok(e.json['events'] == json.loads((ROOT / 'examples/jobs/ov-26-03-a/events.json').read_text())['events'], 'as it was sent')
    ok(is_problem(other.get(f'/api/v1/claims/{claim}/events'), 404), 'not for another shop')


def check_bulletins(server, people):
    tech = people['technician']
    a = tech.get('/api/v1/bulletins')
    ok(a.status == 200 and a.json['bulletins'][0]['id'] == 'OV-26-03' and fits(a, 'get', '/api/v1/bulletins'), 'the bulletins')
    a = tech.get('/api/v1/bulletins/OV-26-03/2')
    ok(a.status == 200 and fits(a, 'get', '/api/v1/bulletins/{bulletin}/{revision}') and a.json['bulletin']['invented'] is True, 'one as JSON, which says that it is invented', a.text[:100])
    ok(tech.get('/api/v1/bulletins/OV-26-03/2', If_None_Match=a.headers['ETag']).status == 304, 'not again when it has not changed')
    f = tech.get('/api/v1/bulletins/OV-26-03/2/file')
    ok(f.bytes == (ROOT / 'examples/OV-26-03.yaml').read_bytes() and sha256(f.bytes) == a.json['sha256'], 'its file, byte for byte, by the digest that the JSON names')


def check_teaching(server, people):
    """Paper to teach by, of a bulletin that is kept. ISO 216: A4 is 595.28 points wide; Letter is 612."""
    tech, at = people['technician'], '/api/v1/bulletins/OV-26-03/2'
    a = tech.get(f'{at}/cards.pdf')
    ok(a.status == 200 and a.headers['Content-Type'] == 'application/pdf' and a.bytes.startswith(b'%PDF-') and b'595.27' in a.bytes, 'step cards, on A4', a.bytes[:200])
    b = tech.get(f'{at}/cards.pdf?paper=letter&language=es&per_page=2&back=1')
    ok(b.status == 200 and b'612' in b.bytes and len(b.bytes) > len(a.bytes), 'on Letter, in Spanish, two to a page, with backs', b.bytes[:200])
    c = tech.get(f'{at}/crib.pdf?language=fr')
    ok(c.status == 200 and c.bytes.startswith(b'%PDF-') and re.search(rb'Pages:\s+1\n', subprocess.run(['pdfinfo', '-'], input=c.bytes, capture_output=True).stdout), 'all on one page (pdfinfo)', c.bytes[:200])
    for q in ('paper=a5', 'language=e', 'per_page=3', 'back=yes'):
        ok(is_problem(tech.get(f'{at}/cards.pdf?{q}'), 400), f'cards.pdf?{q}: 400')
    ok(is_problem(tech.get('/api/v1/bulletins/OV-26-03/77/crib.pdf'), 404), 'of a revision that there is not: 404')


SVG = b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 2 1" onload="document.title=1"><script>document.title=2</script></svg>'


def check_pictures(server, people):
    """A bulletin with a picture that would like to run: it comes byte for byte, and shut in."""
    text = re.sub(r'(?m)^(    per: \w+\n)', r'\1    picture: {file: stands.svg, alt: {en: "The stands"}}\n', (ROOT / 'examples/FR-26-11.yaml').read_text(), count=1)
    (server.folder / 'stands.svg').write_bytes(SVG)
    (server.folder / 'illustrated.yaml').write_text(text)
    server.call('store', 'keep', 'bulletin', server.folder / 'illustrated.yaml', '--store', server.store)
    tech, at = people['technician'], '/api/v1/bulletins/FR-26-11/1/pictures/'
    a = tech.get(at + 'stands.svg')
    ok(a.status == 200 and a.bytes == SVG and a.headers['Content-Type'] == 'image/svg+xml', 'a picture of a bulletin comes as it was kept', f'{a.status} {a.text[:200]}')
    policy = {p.split()[0]: p.split()[1:] for p in a.headers['Content-Security-Policy'].split(';')}
    ok(policy.get('default-src') == ["'none'"] and policy.get('sandbox') == [] and 'script-src' not in policy and a.headers['X-Content-Type-Options'] == 'nosniff',
       'shut in: no script, no origin (Content Security Policy Level 3, 6.3.2, from memory)', str(policy))
    ok(tech.get(at + 'stands.svg', If_None_Match=a.headers['ETag']).status == 304, 'not again when it has not changed')
    for path in (at + 'other.svg', at + '..%2Fstands.svg', at + '%2e%2e', at.replace('/1/', '/2/') + 'stands.svg', at.replace('FR-26-11', 'OV-26-03') + 'stands.svg'):
        ok(is_problem(tech.get(path), 404), f'{path}: 404')
    ok(is_problem(tech.get(at.replace('/1/', '/x/') + 'stands.svg'), 400), 'a revision that is no number: 400')


def check_sessions(server, people):
    someone = server.enter('clara')
    a = someone.get('/api/v1/session')
    ok(a.json['role'] == 'clerk' and fits(a, 'get', '/api/v1/session'), 'a session knows who it is')
    ok(Someone(server).get('/api/v1/session').json == {'role': 'nobody'}, 'without one: nobody')
    a = someone.send('PUT', '/api/v1/session/password', {'password': 'short'})
    ok(is_problem(a, 413), 'a short password is refused', a.text[:100])
    a = someone.send('PUT', '/api/v1/session/password', {'password': 'plumb, square and true'})
    ok(a.status == 204, 'a password is set')
    again = Someone(server)
    a = again.send('POST', '/api/v1/session', {'name': 'clara', 'password': 'plumb, square and true'})
    ok(a.status == 200 and a.json['role'] == 'clerk', 'and lets her in')
    cookie = a.headers['Set-Cookie']
    ok('HttpOnly' in cookie and 'SameSite=Strict' in cookie and 'Path=/' in cookie, 'the cookie is HttpOnly and SameSite=Strict (RFC 6265bis)')
    a = again.send('DELETE', '/api/v1/session')
    ok(a.status == 204 and 'Max-Age=0' in a.headers['Set-Cookie'], 'signing out takes the cookie away')
    again.cookie = cookie.split(';')[0]
    ok(is_problem(again.get('/api/v1/claims'), 401), 'and the session is over for whoever kept a copy')
    wrong = [Someone(server).send('POST', '/api/v1/session', {'name': 'clara', 'password': 'wrong and wrong again'}).status for _ in range(12)]
    ok(wrong[0] == 401 and 429 in wrong, 'guessing is slowed down', str(wrong))
    a = Someone(server).send('POST', '/api/v1/session', {'name': 'nobody-there', 'password': 'wrong and wrong again'})
    ok(is_problem(a, 429) and int(a.headers['Retry-After']) >= 1, 'for the address as well, with Retry-After (RFC 9110, 10.2.3)')
    server.call('people', 'revoke', 'clara', '--store', server.store)
    ok(is_problem(someone.get('/api/v1/claims'), 401), 'revoked, her session is over')


def check_log(server, secret):
    text = (server.folder / 'log').read_text()
    lines = [json.loads(line) for line in text.splitlines()]
    ok(all({'at_ms', 'id', 'from', 'who', 'method', 'path', 'status', 'micros'} <= set(line) for line in lines), 'one JSON line a call')
    ok(all(word not in text for word in secret), 'no cookie, link or password is in the log')
    ok(len({line['id'] for line in lines}) == len(lines), 'every call has an id of its own')


def main(argv):
    program = argv[1]
    server = Server(program)
    try:
        server.call('store', 'keep', 'bulletin', ROOT / 'examples/OV-26-03.yaml', '--store', server.store)
        bag = server.folder / 'bag.zip'
        server.call('bag', 'make', ROOT / 'examples/jobs/ov-26-03-a', '-o', bag)
        server.start()
        check_table()
        check_headers(server)
        people = {'technician': server.person('ines', 'technician', 'fern-mobile-2'), 'other': server.person('otto', 'technician', 'elsewhere-9'),
                  'clerk': server.person('clara', 'clerk'), 'owner': server.person('ada', 'owner')}
        check_roles(server, people)
        check_bulletins(server, people)
        check_teaching(server, people)
        check_pictures(server, people)
        claim = check_bags(server, program, people, bag)
        check_claims(server, people, claim)
        check_filters(server, people, claim)
        check_words(server, people, claim)
        check_letter(server, people, claim)
        check_wire(server)
        check_broken(server, people)
        m = people['owner'].get('/metrics')
        ok(m.status == 200 and re.search(r'^mendwright_http_requests_total \d+$', m.text, re.M) is not None, 'figures for a monitor')
        check_sessions(server, people)
        check_log(server, [p.cookie.split('=')[1] for p in people.values()] + [p.csrf for p in people.values()] + ['plumb, square'])
        ok(server.stop() == 0, 'it stops when it is told to, with 0')
    finally:
        server.end()
    return done()


if __name__ == '__main__':
    sys.exit(main(sys.argv))
