#!/usr/bin/env python3
"""Drafts of bulletins over HTTP: put away, changed by two people, checked, what would follow, issued; and the long work behind it.

usage: drafts.py PROGRAM
What the check says is held against the command line; that of two who write at once one is told, by RFC 9110's conditional requests.
"""
import json
import re
import struct
import subprocess
import sys
import tempfile
import threading
import time

from api import fits, is_problem
from door import ROOT, Server, done, ok, sha256

BULLETIN = (ROOT / 'examples/OV-26-03.yaml').read_text()
ONE = '/api/v1/drafts/{draft}'
R3 = BULLETIN.replace('revision: 2\n', 'revision: 3\n').replace('issued: 2026-02-16', 'issued: 2026-11-20')


def put(who, name, text, match=None, new=False):
    headers = {'If-Match': match} if match else {'If-None-Match': '*'} if new else {}
    return who.send('PUT', f'/api/v1/drafts/{name}', {'text': text}, headers)


def check_drawer(owner, other):
    ok(owner.get('/api/v1/drafts').json == {'drafts': []}, 'no drafts')
    half = 'bulletin:\n  id: half a thought \u2026\n'
    a = put(owner, 'OV-26-03', half, new=True)
    ok(a.status == 200 and a.json['sha256'] == sha256(half.encode()) and fits(a, 'put', ONE), 'half a thought can be put away', a.text)
    b = owner.get('/api/v1/drafts/OV-26-03')
    ok(b.bytes == half.encode() and b.headers['ETag'] == a.headers['ETag'], 'and comes back byte for byte, by its tag')
    ok(is_problem(put(other, 'OV-26-03', 'x', new=True), 412), 'a second new one of the name: 412')
    ok(is_problem(put(other, 'OV-26-03', 'x'), 428), 'without a condition: 428 (RFC 6585)')
    ok(is_problem(put(other, 'OV-26-03', 'x', match='"' + '0' * 64 + '"'), 412), 'in place of what is there no longer: 412')
    ok(owner.get('/api/v1/drafts/OV-26-03').bytes == half.encode(), 'and nothing was written')
    c = put(other, 'OV-26-03', R3, match=b.headers['ETag'])
    ok(c.status == 200 and is_problem(put(owner, 'OV-26-03', half, match=b.headers['ETag']), 412), 'the later of two is told', c.text)
    listed = owner.get('/api/v1/drafts')
    ok([(d['name'], d['bytes']) for d in listed.json['drafts']] == [('OV-26-03', len(R3.encode()))] and fits(listed, 'get', '/api/v1/drafts'), 'the list', listed.text)
    for name in ('.hidden', 'a b', 'x' * 61, '%C3%A9'):
        ok(is_problem(put(owner, name.replace(' ', '%20'), 'x', new=True), 404), f'{name!r} is no name of a draft')
    ok(is_problem(put(owner, 'nul', 'a\0b', new=True), 422) or is_problem(put(owner, 'nul', 'a\0b', new=True), 400), 'a zero byte is refused')
    ok(is_problem(put(owner, 'large', 'x' * (1 << 20) + 'x', new=True), 413), 'one byte over the limit: 413')
    return c.headers['ETag']


def check_race(owner, tag):
    """Twenty at once in place of the same text: one gets through."""
    answers = []
    threads = [threading.Thread(target=lambda k=k: answers.append(put(owner, 'OV-26-03', R3 + f'# {k}\n', match=tag).status)) for k in range(20)]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    ok(sorted(answers) == [200] + [412] * 19, 'twenty at once in place of the same text: one gets through', answers)
    return owner.get('/api/v1/drafts/OV-26-03').headers['ETag']


def check_check(server, owner, scratch):
    faulty = R3.replace('revision: 3', 'revision: zero')
    a = owner.send('POST', '/api/v1/bulletins/check', {'text': faulty})
    path = scratch / 'faulty.yaml'
    path.write_text(faulty)
    told = json.loads(server.call('check', path, '--json', codes=(1,)))
    ok(a.status == 200 and not a.json['valid'] and all(a.json[k] == told[k] for k in ('faults', 'warnings', 'meaning_checked')), "faults, lines and columns are the command line's", a.text[:400])
    ok(fits(a, 'post', '/api/v1/bulletins/check'), 'as described')
    a = owner.send('POST', '/api/v1/bulletins/check', {'text': R3})
    ok(a.json['valid'] and a.json['against'] == 2 and [c['where'] for c in a.json['changes']] == ['bulletin: revision', 'bulletin: issued'] and fits(a, 'post', '/api/v1/bulletins/check'), 'a sound one, and what is different from what holds', a.text[:400])
    b = owner.send('POST', '/api/v1/bulletins/check', {'text': R3.replace('issued: 2026-11-20', 'issued: 2026-02-16')})
    ok(not a.json['warnings'] and [f['path'] for f in b.json['warnings']] == ['bulletin.issued'] and b.json['valid'] and fits(b, 'post', '/api/v1/bulletins/check'), 'one of the same day as what holds comes with a warning', b.text[:400])
    ok(is_problem(owner.send('POST', '/api/v1/bulletins/check', {'txt': R3}), 422), 'without its text: 422')
    a = owner.send('POST', '/api/v1/bulletins/check', {'text': R3, 'whole': True})
    path = scratch / 'sound.yaml'
    path.write_text(R3)
    ok(a.json['bulletin'] == json.loads(server.call('check', path, '--export')) and fits(a, 'post', '/api/v1/bulletins/check'), "all of it, when it is asked for, is `check --export`'s")


def check_sheet(owner):
    a = owner.send('POST', '/api/v1/bulletins/sheet', {'text': R3})
    b = owner.send('POST', '/api/v1/bulletins/sheet', {'text': R3, 'paper': 'letter'})
    # ISO 216: A4 is 210 mm by 297 mm; ANSI Letter is 8.5 in by 11 in; PDF counts 72 a inch.
    ok(a.status == 200 and a.headers['Content-Type'] == 'application/pdf' and a.bytes.startswith(b'%PDF-') and b'595.27' in a.bytes, 'the sheet, on A4', a.bytes[:200])
    ok(b.status == 200 and b'612 792' in b.bytes, 'and on Letter')
    ok(is_problem(owner.send('POST', '/api/v1/bulletins/sheet', {'text': R3, 'paper': 'a5'}), 422), 'no other paper')
    # One page as a picture: which page a step stands on, how many there are and how large one is are poppler's word on the PDF.
    with tempfile.NamedTemporaryFile(suffix='.pdf') as f:
        f.write(a.bytes)
        f.flush()
        n = int(re.search(r'Pages:\s+(\d+)', subprocess.run(['pdfinfo', f.name], capture_output=True, text=True, check=True).stdout)[1])
        at = [p for p in range(1, n + 1) if re.search(r'(?m)^\s*\d+\s+Cut the racks', subprocess.run(['pdftotext', '-layout', '-f', str(p), '-l', str(p), f.name, '-'], capture_output=True, text=True, check=True).stdout)]
        page = owner.send('POST', '/api/v1/bulletins/sheet', {'text': R3, 'step': 'cut-racks'})
        size = struct.unpack('>II', page.bytes[16:24])
        # A4 is 210 x 297 mm (ISO 216): at 144 dots an inch 1190.6 x 1683.8.
        ok(page.status == 200 and page.headers['Content-Type'] == 'image/png' and page.bytes.startswith(b'\x89PNG\r\n\x1a\n') and size == (1191, 1684), 'a page is a PNG of A4 at 144 dpi', str(size))
        ok([int(page.headers['X-Mendwright-Page'])] == at and int(page.headers['X-Mendwright-Pages']) == n, 'the page on which the step begins, of as many as the PDF has', f"{page.headers['X-Mendwright-Page']} {at} {n}")
    last, wrong = owner.send('POST', '/api/v1/bulletins/sheet', {'text': R3, 'page': 500}), owner.send('POST', '/api/v1/bulletins/sheet', {'text': R3, 'step': 'no-such-step'})
    ok(int(last.headers['X-Mendwright-Page']) == n and int(wrong.headers['X-Mendwright-Page']) == 1, 'beyond the last page the last, for no step the first')
    told = [owner.send('POST', '/api/v1/bulletins/sheet', {'text': R3, **bad}).status for bad in ({'page': 0}, {'page': 501}, {'page': 'x'}, {'step': ''}, {'step': 'x' * 65})]
    ok(told == [422, 422, 422, 400, 400], 'no page 0, none above 500, no empty step and none of 65 letters', str(told))
    ok(is_problem(owner.send('POST', '/api/v1/bulletins/sheet', {'text': 'bulletin: 1'}), 422), 'none of what is not sound')


def wait(owner, name):
    for _ in range(600):
        a = owner.get(f'/api/v1/tasks/{name}')
        if a.json['state'] not in ('waiting', 'running'):
            return a
        time.sleep(0.05)
    return a


def check_whatif(server, owner, scratch):
    a = owner.send('POST', '/api/v1/bulletins/what-if', {'text': R3})
    ok(a.status == 202 and fits(a, 'post', '/api/v1/bulletins/what-if') and a.headers['Location'] == f"/api/v1/tasks/{a.json['task']}", 'what would follow is begun', a.text)
    b = wait(owner, a.json['task'])
    path = scratch / 'r3.yaml'
    path.write_text(R3)
    told = json.loads(server.call('check', path, '--store', server.store, '--json'))['if_issued']
    ok(b.json['state'] == 'done' and {k: b.json['answer'].get(k) for k in told} == told, "its figures are the command line's", b.text[:600])
    ok(fits(b, 'get', '/api/v1/tasks/{task}') and b.json['person'] == 'olga', 'as described, and who asked')
    a = owner.send('POST', '/api/v1/bulletins/what-if', {'text': R3.replace('revision: 3', 'revision: zero')})
    b = wait(owner, a.json['task'])
    ok(b.json['state'] == 'failed' and b.json['fault']['path'] == 'bulletin.revision' and b.json['fault']['line'] > 0 and fits(b, 'get', '/api/v1/tasks/{task}'), 'one that is not sound says where', b.text)
    ok(is_problem(owner.get('/api/v1/tasks/0-1'), 404) and is_problem(owner.send('DELETE', '/api/v1/tasks/0-1'), 404), 'no such task: 404')
    ok(owner.send('DELETE', f"/api/v1/tasks/{a.json['task']}").status == 204, 'one that is over may be asked to stop')


def check_issue(server, owner, other, tag):
    def issue(who, text, before):
        return who.send('POST', '/api/v1/bulletins', {'text': text, 'before': before})
    ok(is_problem(issue(owner, BULLETIN + '# x\n', 2), 422), 'the same revision with another text is refused')
    ok(is_problem(issue(owner, R3.replace('issued: 2026-11-20', 'issued: 2026-02-15'), 2), 422), 'so is one issued before the one it replaces')
    a = issue(owner, R3.replace('revision: 3', 'revision: zero'), 2)
    ok(is_problem(a, 422) and a.json['field'] == 'bulletin.revision', 'and one that is not sound, with its place', a.text)
    ok(is_problem(issue(owner, R3, 1), 409), 'on top of a revision that does not hold: 409')
    ok(is_problem(owner.send('POST', '/api/v1/bulletins', {'text': R3}), 422), 'without saying what holds: 422')
    a = issue(owner, R3, 2)
    ok(a.status == 201 and a.json['sha256'] == sha256(R3.encode()) and fits(a, 'post', '/api/v1/bulletins'), 'it is issued', a.text)
    ok(owner.get('/api/v1/bulletins/OV-26-03/3/file').bytes == R3.encode(), 'and holds, byte for byte')
    ok(is_problem(issue(other, R3.replace('revision: 3', 'revision: 4'), 2), 409), 'a second owner who had not seen it is told')
    ok(json.loads(server.call('store', 'verify', '--store', server.store, '--json'))['ok'], 'the store is whole')
    ok(is_problem(owner.send('DELETE', '/api/v1/drafts/OV-26-03', headers={'If-Match': '"' + '0' * 64 + '"'}), 412), 'a draft is not thrown away unseen')
    ok(owner.send('DELETE', '/api/v1/drafts/OV-26-03', headers={'If-Match': tag}).status == 204 and is_problem(owner.get('/api/v1/drafts/OV-26-03'), 404), 'then it is gone')


def main(argv):
    server = Server(argv[1]).start()
    try:
        owner, other = server.person('olga', 'owner'), server.person('oda', 'owner')
        server.call('store', 'keep', 'bulletin', ROOT / 'examples/OV-26-03.yaml', '--store', server.store)
        tag = check_drawer(owner, other)
        tag = check_race(owner, tag)
        check_check(server, owner, server.folder)
        check_sheet(owner)
        check_whatif(server, owner, server.folder)
        check_issue(server, owner, other, tag)
        ok(server.stop() == 0, 'it stops when it is told to, with 0')
    finally:
        server.end()
    return done()


if __name__ == '__main__':
    sys.exit(main(sys.argv))
