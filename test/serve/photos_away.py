#!/usr/bin/env python3
"""A server whose photos lie in an object store (a test double of one: test/store/s3double.py): bags are taken in and photos looked at over
HTTP; while the store is away nothing is acknowledged and nothing shown, and the same call does it afterwards. TAP.

usage: server.py photos_away.py PROGRAM
"""
import os
import pathlib
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / 'store'))
import s3double  # noqa: E402
from door import Server, done, ok, sha256  # noqa: E402
from load import bags  # noqa: E402


def is_away(answer, words):
    return answer.status == 503 and answer.headers.get('Content-Type') == 'application/problem+json' and words in answer.json['detail']


def check(server, double):
    made = bags(server, 2)
    tech = server.person('ines', 'technician', 'fern-mobile-2')

    def send(data):
        return tech.send('PUT', f'/api/v1/bags/{sha256(data)}', data)

    double.faults = [s3double.Fault(500, times=99)]
    a = send(made[0])
    ok(is_away(a, 'could not be used') and not double.objects, 'the store is away: the bag is not taken, 503', a.text[:200])
    ok('127.0.0.1' not in a.text and 'yard-photos' not in a.text, 'where photos lie is nobody\'s business', a.text[:200])
    double.faults = [s3double.Fault('lost', 'PUT')]
    a = send(made[0])
    ok(a.status == 201 and double.objects and set(double.refused) <= {'InternalError'}, 'it is back, and loses one answer: taken', a.text[:200])
    a = send(made[0])
    ok(a.status == 200 and a.json['result'] == 'already', 'sent once more: already')
    claim = a.json['claim']
    photos = tech.get(f'/api/v1/claims/{claim}').json['photos']
    shown = [(p['sha256'], tech.get(f'/api/v1/claims/{claim}/photos/{p["sha256"]}')) for p in photos]
    ok(shown and all(s.status == 200 and sha256(s.bytes) == name for name, s in shown), f'{len(shown)} photos come from the bucket as they were sent')
    address = f'/api/v1/claims/{claim}/photos/{photos[0]["sha256"]}'
    double.faults = [s3double.Fault('wrong byte', 'GET', 'photos/')]
    a = tech.get(address)
    ok(is_away(a, 'damaged') and shown[0][1].bytes[:64] not in a.bytes, 'one wrong byte: it is told, and nothing of it shown', a.text[:200])
    double.faults = [s3double.Fault('dropped', times=99)]
    ok(is_away(tech.get(address), 'cannot be read now'), 'the store is away: the photo cannot be read now')
    double.faults = []
    ok(tech.get(address).bytes == shown[0][1].bytes, 'and then it can')
    ok(send(made[1]).status == 201, 'the next bag')
    log = (server.folder / 'log').read_text()
    ok(double.secret not in log and double.key not in log, 'the key is not in the log')


def main(program):
    with s3double.Double() as double:
        os.environ.update(double.environment, MENDWRIGHT_TEST_PHOTOS=double.words(wait=2))
        server = Server(program).start()
        try:
            check(server, double)
        finally:
            server.end()
    return done()


if __name__ == '__main__':
    sys.exit(main(*sys.argv[1:]))
