#!/usr/bin/env python3
"""What a shop may send in a day: bytes and claims, by shop and not by person, 429 with the seconds to the next day of UTC.

usage: quota.py PROGRAM
"""
import json
import shutil
import sys
import time

from door import ROOT, Server, done, ok, sha256


def bags(server, count):
    """As many different bags of the example job."""
    out = []
    for i in range(count):
        job = server.folder / f'job-{i}'
        shutil.copytree(ROOT / 'examples/jobs/ov-26-03-a', job)
        (job / 'note.txt').write_text(f'bag {i}\n')
        server.call('bag', 'make', job, '-o', server.folder / f'{i}.zip')
        out.append((server.folder / f'{i}.zip').read_bytes())
    return out


def send(who, data):
    return who.send('PUT', f'/api/v1/bags/{sha256(data)}', data)


def is_over(answer):
    """429, kind quota, and Retry-After as far as midnight (RFC 6585, 4; RFC 9110, 10.2.3)."""
    if answer.status != 429 or answer.json['type'] != 'urn:mendwright:problem:quota':
        return False
    return abs(int(answer.headers['Retry-After']) - (86400 - int(time.time()) % 86400)) <= 120


def main(argv):
    server = Server(argv[1], '--shop-claims', '2')
    try:
        server.call('store', 'keep', 'bulletin', ROOT / 'examples/OV-26-03.yaml', '--store', server.store)
        server.start()
        one, two, other = server.person('ines', 'technician', 'fern-mobile-2'), server.person('iris', 'technician', 'fern-mobile-2'), server.person('otto', 'technician', 'elsewhere-9')
        all_ = bags(server, 4)
        a = [send(one, all_[0]), send(two, all_[1])]
        ok([x.status for x in a] == [201, 201], 'two claims a day: the first two of a shop are taken in', str([x.text for x in a]))
        a = send(one, all_[2])
        ok(is_over(a), 'the third: 429, quota, Retry-After', f'{a.status} {a.text}')
        a = send(two, all_[2])
        ok(is_over(a), "whoever of the shop sends it")
        a = send(other, all_[3])
        ok(a.status == 403, "another shop is not held back by it (403: it is not its own bag)", a.text[:200])
        claims = one.get('/api/v1/claims').json['claims']
        ok(len(claims) == 2, 'and nothing of the third was taken in')
        server.again('--shop-mib', '1', '--shop-claims', '0')
        one = server.enter('ines')
        a = send(one, all_[0])
        ok(a.status == 200 and a.json['result'] == 'already', 'one MiB a day, no limit to claims: a bag that is there already')
        piece = bytes(700 * 1024)
        first = one.send('PUT', f'/api/v1/bags/{"a" * 64}', piece, {'Content-Range': f'bytes 0-{len(piece) - 1}/{2 * len(piece)}'})
        second = one.send('PUT', f'/api/v1/bags/{"a" * 64}', piece, {'Content-Range': f'bytes {len(piece)}-{2 * len(piece) - 1}/{2 * len(piece)}'})
        ok(first.status == 202 and is_over(second), 'a piece of 700 KiB is within it, the next is not', f'{first.status} {second.status} {second.text}')
        ok(one.get(f'/api/v1/bags/{"a" * 64}').json['received'] == len(piece), 'what came before stays, so that it goes on from there tomorrow')
        ok(json.loads(server.call('store', 'verify', '--store', server.store, '--json'))['ok'], 'the store is sound')
        ok(server.stop() == 0, 'it stops with 0')
    finally:
        server.end()
    return done()


if __name__ == '__main__':
    sys.exit(main(sys.argv))
