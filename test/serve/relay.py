#!/usr/bin/env python3
"""Open jobs passed between the phones of one shop: who may see them, what is taken, what is refused; two writers at once; bounds; a claim
that is made of one; kill -9; what nobody touched is forgotten.

usage: relay.py PROGRAM
"""
import http.client
import json
import signal
import sqlite3
import sys
import threading
import time

from api import fits, is_problem
from door import ROOT, Answer, Server, Someone, done, ok, sha256

FOLDER = ROOT / 'examples/jobs/ov-26-03-a'
FILE = json.loads((FOLDER / 'events.json').read_text())
EVENTS = FILE['events']
JOB = next(e['id'] for e in EVENTS if e['type'] == 'opened')
PHOTOS = {e['payload']['sha256']: (FOLDER / e['payload']['path']).read_bytes() for e in EVENTS if e['type'] == 'photo_taken'}
AT, ONE = '/api/v1/jobs/{job}/events', '/api/v1/jobs/{job}/photos/{sha256}'
PHONE = '01KQS2CMMEFQ7X44TTBNMCV0A0'


def path(job=JOB, **query):
    return f'/api/v1/jobs/{job}/events' + ('?' + '&'.join(f'{k}={v}' for k, v in query.items()) if query else '')


def photo(digest, job=JOB):
    return f'/api/v1/jobs/{job}/photos/{digest}'


def phone(name, job=JOB):
    return f'/api/v1/jobs/{job}/phones/{name}'


def some(events, **head):
    return {**FILE, **head, 'events': events}


def note(n, shop='fern-mobile-2', technician='ines', text='x'):
    """A note with the n-th name of a made-up phone."""
    digits = '0123456789ABCDEFGHJKMNPQRSTVWXYZ'
    name = '01KQS2CMMEFQ7X44TT' + ''.join(digits[n >> s & 31] for s in range(35, -1, -5))
    return {'id': name, 'type': 'note', 'at_ms': 1777884000000 + n, 'technician': technician, 'shop': shop, 'payload': {'text': text}}


def told(someone, method, where, size, kind='image/jpeg'):
    """The answer to a call that only tells how long its body will be."""
    wire = http.client.HTTPConnection('127.0.0.1', someone.server.port, timeout=60)
    wire.putrequest(method, where)
    for name, value in (('Content-Length', str(size)), ('Content-Type', kind), ('Cookie', someone.cookie), ('X-Mendwright-Csrf', someone.csrf)):
        wire.putheader(name, value)
    wire.endheaders()
    answer = Answer(wire.getresponse())
    wire.close()
    return answer


def check_path(people):
    ines, olu, other = people['ines'], people['olu'], people['other']
    ok(ines.get('/api/v1/jobs').json == {'jobs': []}, 'no job is open')
    ok(is_problem(ines.get(path()), 404), 'a job that nobody passed on is not there')
    a = ines.send('POST', path(), some(EVENTS[1:4]))
    ok(is_problem(a, 404), 'events of a job that is not there, without its opening: 404', a.text[:200])
    a = ines.send('POST', path(), some(EVENTS[:5]))
    ok(a.status == 201 and a.json == {'job': JOB, 'added': 5, 'events': 5} and fits(a, 'post', AT), 'its first five events: 201', a.text[:200])
    a = ines.send('POST', path(), some(EVENTS[:5]))
    ok(a.status == 200 and a.json['added'] == 0 and a.json['events'] == 5, 'the same again: nothing is added')
    a = olu.send('PUT', phone(PHONE))
    ok(a.status == 204, 'another phone of the shop says that it is there', a.text[:200])
    a = olu.get(path())
    ok(a.status == 200 and fits(a, 'get', AT) and a.json['events'] == EVENTS[:5], 'it gets them, as they were written', a.text[:300])
    ok((a.json['next'], a.json['more'], a.json['vin'], a.json['bulletin']) == (5, False, FILE['vin'], FILE['bulletin']), 'with the unit, the bulletin, and where to go on')
    ok([(p['phone'], p['person']) for p in a.json['phones']] == [(PHONE, 'olu')], 'and is counted among the phones')
    tag = a.headers['ETag']
    b = olu.get(path(), If_None_Match=tag)
    ok(b.status == 304 and not b.bytes, 'nothing new: 304 without a body (RFC 9110, 15.4.5)')
    a = olu.send('POST', path(), some([*EVENTS[3:8], note(1, technician='olu')]))
    ok(a.status == 200 and a.json['added'] == 4, 'two phones: what both know counts once', a.text[:200])
    b = ines.get(path(after=5))
    ok([e['id'] for e in b.json['events']] == [e['id'] for e in [*EVENTS[5:8], note(1)]] and b.json['next'] == 9, 'the first phone gets what is new')
    ok(olu.get(path(), If_None_Match=tag).status == 200, 'and the tag is another')
    a = ines.get('/api/v1/jobs')
    ok(fits(a, 'get', '/api/v1/jobs') and [(j['job'], j['events'], j['people'], j['claim']) for j in a.json['jobs']] == [(JOB, 9, ['olu'], None)], 'the list of open jobs has it', a.text[:300])
    ok(is_problem(ines.get(path(after=900)), 404) and ines.get(path(after=ines.get(path()).json['next'])).json['events'] == [], 'after the last: none; after more than there are: 404, as of a box that a backup put up again')
    ok(ines.get(path(JOB.lower())).status == 200, 'a ULID in small letters is the same (ULID specification: case insensitive)')
    # another shop
    a, b = other.get(path()), other.get(path('01KQS2CMMEFQ7X44TTBNMCVZZZ'))
    ok(is_problem(a, 404) and is_problem(b, 404) and a.json['detail'] == b.json['detail'], "another shop's job is answered like one that is not there")
    ok(other.get('/api/v1/jobs').json == {'jobs': []}, 'and is not in its list')
    ok(is_problem(other.send('PUT', phone(PHONE)), 404), 'and its phones are not counted there')
    a = other.send('POST', path(), some(EVENTS[:1]))
    ok(is_problem(a, 422) and a.json['field'] == 'events[0].shop', "a shop's events cannot be passed on by another's people", a.text[:200])
    theirs = [{**EVENTS[0], 'shop': 'elsewhere-9'}, note(7, shop='elsewhere-9')]
    a = other.send('POST', path(), some(theirs))
    ok(a.status == 201 and a.json['events'] == 2 and ines.get(path()).json['next'] == 9, 'the same name at another shop is another job: neither touches the other', a.text[:200])
    for role in ('clerk', 'owner'):
        ok(is_problem(people[role].get('/api/v1/jobs'), 403) and is_problem(people[role].get(path()), 403), f'the {role} has no shop, so no open job: 403')


def check_refused(people):
    ines = people['ines']
    e = note(20)
    rows = [
        ('a list alone', [e], 422), ('no events', some([]), 422), ('another format', some([e], mendwright_events=2), 422), ('a member too many', {**some([e]), 'x': 1}, 422),
        ('an event of no known type', some([{**e, 'type': 'bought'}]), 422), ('a field too many', some([{**e, 'x': 1}]), 422), ('an impossible time', some([{**e, 'at_ms': -1}]), 422),
        ('a ULID that is none', some([{**e, 'id': 'U' * 26}]), 422), ('an empty text', some([{**e, 'payload': {'text': ''}}]), 422), ('a path upwards', some([{**e, 'type': 'photo_taken', 'payload':
            {'photo': 'a', 'path': '../a.jpg', 'sha256': 'a' * 64}}]), 422),
        ('another unit', some([e], vin='1M8GDM9AXKP042788'), 409), ('another bulletin', some([e], bulletin={**FILE['bulletin'], 'sha256': 'a' * 64}), 409),
        ('another shop', some([note(20, shop='elsewhere-9')]), 422),
    ]
    before = ines.get(path()).json['next']
    for what, body, status in rows:
        a = ines.send('POST', path(), json.dumps(body).encode(), {'Content-Type': 'application/json'})
        ok(is_problem(a, status), f'{what}: {status}', f'{a.status} {a.text[:200]}')
    for what, body, kind, status in (('no JSON', b'{', 'application/json', 422), ('no UTF-8', b'{"a":"\xff"}', 'application/json', 422), ('deep nesting', b'[' * 5000, 'application/json', 422), ('nothing', b'', 'application/json', 422), ('another type', b'{}', 'text/plain', 415)):
        a = ines.send('POST', path(), body, {'Content-Type': kind})
        ok(is_problem(a, status), f'{what}: {status}', f'{a.status} {a.text[:200]}')
    a = told(ines, 'POST', path(), 600000, 'application/json')
    ok(is_problem(a, 413), '600 000 bytes: 413, before they are sent', f'{a.status} {a.text[:200]}')
    a = ines.send('POST', path(), some([note(30), {**EVENTS[2], 'technician': 'otto'}]))
    ok(is_problem(a, 409) and a.json['field'] == 'events[1].id', 'another event under a known name: 409, and which', a.text[:300])
    a = ines.send('POST', path(), some([note(30), note(30, text='y')]))
    ok(is_problem(a, 409), 'also when both come in one call', a.text[:200])
    ok(ines.get(path()).json['next'] == before, 'nothing of a refused call is kept')
    for bad in ('after=-1', 'after=x', 'after=', 'after=99999999999999999999'):
        ok(is_problem(ines.get(path() + '?' + bad), 400), f'{bad}: 400')
    ok(is_problem(ines.send('PUT', phone('x')), 422), 'a phone that is no ULID: 422')
    ok(is_problem(ines.send('PUT', phone(PHONE, note(8)['id'])), 404), 'a phone on a job that is not there: 404')
    for bad in ('x', 'U' * 26, '8' + '0' * 25, JOB + '0', "'; DROP TABLE jobs; --".replace(' ', '%20')):
        ok(is_problem(ines.get(path(bad)), 404) and is_problem(ines.send('POST', path(bad), some([e])), 404), f'the job "{bad[:12]}": 404')


def check_photos(people):
    ines, olu, other = people['ines'], people['olu'], people['other']
    digest, data = list(PHOTOS.items())[-1]
    a = ines.send('PUT', photo(digest), data)
    ok(is_problem(a, 404), 'a photo that no event names yet: 404', a.text[:200])
    ines.send('POST', path(), some(EVENTS))
    a = ines.send('PUT', photo(digest), data)
    ok(a.status == 201 and not a.bytes, 'named by an event, it is taken: 201', a.text[:200])
    ok(ines.send('PUT', photo(digest), data).status == 204, 'again: 204')
    ok(digest in olu.get(path()).json['photos'], 'the others are told that it is there')
    a = olu.get(photo(digest))
    ok(a.status == 200 and a.bytes == data and a.headers['Content-Type'] == 'image/png', 'and get it byte for byte', f'{a.status} {len(a.bytes)} {len(data)} {a.headers["Content-Type"]}')
    ok(is_problem(other.get(photo(digest)), 404) and is_problem(other.send('PUT', photo(digest), data), 404), 'not so another shop')
    other_digest = list(PHOTOS)[-2]
    ok(is_problem(ines.get(photo(other_digest)), 404), 'one that has not come: 404')
    a = ines.send('PUT', photo(other_digest), data)
    ok(is_problem(a, 422), 'other bytes than the path says: 422', a.text[:200])
    for name in ('x', 'A' * 64, '..%2f..', 'g' * 64):
        ok(is_problem(ines.get(photo(name)), 404) and is_problem(ines.send('PUT', photo(name), b'x'), 404), f'no digest ("{name[:5]}"): 404')
    html = b'<script>alert(1)</script>'
    events = [{**note(40), 'type': 'photo_taken', 'payload': {'photo': 'a', 'path': 'photos/a.jpg', 'sha256': sha256(html)}}]
    ok(ines.send('POST', path(), some(events)).status == 200, 'another is named')
    a = ines.send('PUT', photo(sha256(html)), html)
    ok(is_problem(a, 422), 'what is no picture: 422', a.text[:200])
    a = told(ines, 'PUT', photo(other_digest), 8 * 1024 * 1024 + 1)
    ok(is_problem(a, 413), 'more than 8 MiB: 413, before they are sent', a.text[:200])
    ok(is_problem(ines.send('PUT', photo(digest), b''), 422), 'nothing: 422')


def many(server, people):
    """Two people write the same and their own at once, a hundred events each, in small lots."""
    answers, ines, olu = [], people['ines'], people['olu']
    shared = [note(1000 + i) for i in range(50)]

    def send(someone, first):
        own = [note(first + i, technician='olu') for i in range(50)]
        for i in range(0, 50, 5):
            answers.append(someone.send('POST', path(), some(own[i:i + 5] + shared[i:i + 5])).status)

    threads = [threading.Thread(target=send, args=a) for a in ((ines, 2000), (olu, 3000), (ines, 4000))]
    before = ines.get(path()).json['next']
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    ok(set(answers) == {200}, 'three writers at once are all answered', str(set(answers)))
    got = ines.get(path(after=before)).json
    names = [e['id'] for e in got['events']]
    ok(len(names) == len(set(names)) == 200 and got['next'] == before + 200, 'what they share is there once, what is their own too', f'{len(names)} {len(set(names))}')


def check_claim(server, people):
    """A bag of the job is taken in: the other phone is told, and which events are not in it."""
    ines, olu, other = people['ines'], people['olu'], people['other']
    ok(olu.get(path()).json['claim'] is None, 'no claim was made of it')
    bag = server.folder / 'bag.zip'
    server.call('bag', 'make', FOLDER, '-o', bag)
    data = bag.read_bytes()
    a = ines.send('PUT', f'/api/v1/bags/{sha256(data)}', data)
    ok(a.status == 201, 'a bag of it is taken in', a.text[:300])
    b = olu.get(path()).json
    extra = b['next'] - len(EVENTS)
    ok((b['claim'], b['claim_by'], b['unclaimed']) == (a.json['claim'], 'ines', extra) and extra > 200, 'the other phone is told: by whom, and how many events are not in it', str((b['claim'], b['claim_by'], b['unclaimed'], extra)))
    ok(other.get(path()).json['claim'] is None, 'the job of that name at another shop is not')
    olu.send('POST', path(), some([note(5000)]))
    ines.send('PUT', f'/api/v1/bags/{sha256(data)}', data)
    c = olu.get(path()).json
    ok(c['claim'] == b['claim'] and c['unclaimed'] == extra + 1, 'what comes later is not in it either, also when the bag is sent again')


def check_kill(server, people):
    """kill -9 in the middle: every event that was acknowledged is there."""
    ines, acknowledged = people['ines'], []

    def send():
        try:
            for i in range(6000, 6500):
                if ines.send('POST', path(), some([note(i)])).status == 200:
                    acknowledged.append(note(i)['id'])
        except (OSError, http.client.HTTPException):
            return

    thread = threading.Thread(target=send)
    thread.start()
    while len(acknowledged) < 20 and thread.is_alive():
        time.sleep(0.01)
    server.stop(signal.SIGKILL)
    thread.join()
    server.start()
    there, after, more = set(), 0, True
    while more:
        page = ines.get(path(after=after)).json
        there |= {e['id'] for e in page['events']}
        after, more = page['next'], page['more']
    ok(len(acknowledged) >= 20 and set(acknowledged) <= there, f'killed after {len(acknowledged)} were acknowledged: all of them are there')
    digest = list(PHOTOS)[-1]
    ok(ines.get(photo(digest)).bytes == PHOTOS[digest], 'and the photo')
    ok((server.store / 'jobs.db').stat().st_mode & 0o077 == 0, "jobs.db is its owner's alone")


def check_bounds(server, people):
    ines = people['ines']
    for i in range(20):
        ines.send('PUT', phone(note(50 + i)['id']))
    ok(len(ines.get(path()).json['phones']) == 16, 'of twenty phones the sixteen heard of last are kept')
    full, status = 0, 200
    while status == 200 and full < 20:
        a = ines.send('POST', path(), some([note(10000 + 400 * full + i) for i in range(400)]))
        full, status = full + 1, a.status
    ok(is_problem(a, 413) and next(j['events'] for j in ines.get('/api/v1/jobs').json['jobs'] if j['job'] == JOB) <= 4000, 'more than 4000 events: 413', a.text[:200])
    page = ines.get(path()).json
    ok(len(page['events']) == 500 and page['more'] and page['next'] == 500, 'five hundred are told at once, and that there are more')
    # What time does, by the database itself: days cannot be waited for.
    with sqlite3.connect(server.store / 'jobs.db') as db:
        db.execute('UPDATE jobs SET touched_ms = touched_ms - 61 * 86400000')
    first = {**EVENTS[0], 'id': note(70)['id']}
    a = ines.send('POST', path(first['id']), some([first]))
    ok(a.status == 201 and [j['job'] for j in ines.get('/api/v1/jobs').json['jobs']] == [first['id']], 'a job that nobody touched for sixty days is forgotten when another is begun', a.text[:200])
    ok(is_problem(ines.get(path()), 404), 'it is not there any more')
    with sqlite3.connect(server.store / 'jobs.db') as db:
        left = {t: db.execute(f'SELECT count(*) FROM {t}').fetchone()[0] for t in ('jobs', 'events', 'photos', 'phones')}
    ok(left == {'jobs': 1, 'events': 1, 'photos': 0, 'phones': 0}, 'with everything of it', str(left))
    for i in range(199):
        e = {**EVENTS[0], 'id': note(20000 + i)['id']}
        a = ines.send('POST', path(e['id']), some([e]))
    ok(a.status == 201, 'two hundred jobs of a shop')
    e = {**EVENTS[0], 'id': note(30000)['id']}
    ok(is_problem(ines.send('POST', path(e['id']), some([e])), 413), 'one more: 413')
    health = json.loads(server.call('store', 'verify', '--store', server.store, '--json'))
    ok(health['ok'] and health['claims'] == 1, 'the store is sound, and has the one claim', str(health)[:300])


def main(argv):
    server = Server(argv[1]).start()
    try:
        people = {name: server.person(name, 'technician', 'fern-mobile-2') for name in ('ines', 'olu')}
        people |= {'other': server.person('otto', 'technician', 'elsewhere-9'), 'clerk': server.person('clara', 'clerk'), 'owner': server.person('ada', 'owner')}
        check_path(people)
        check_refused(people)
        check_photos(people)
        many(server, people)
        check_claim(server, people)
        check_kill(server, people)
        check_bounds(server, people)
        ok(is_problem(Someone(server).get(path()), 401), 'without a session: 401')
        ok(server.stop() == 0, 'it stops when it is told to, with 0')
    finally:
        server.end()
    return done()


if __name__ == '__main__':
    sys.exit(main(sys.argv))
