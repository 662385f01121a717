#!/usr/bin/env python3
"""Studies over HTTP: every kind, with its usual options and with changed ones, beside `mendwright study KIND --store S --json` and beside what it
prints in words; who may; bad input of every sort; stopping; two people; what is kept for the report, how it stands on the log and in the
report; and that the store is only read.

usage: studies.py PROGRAM
"""
import hashlib
import json
import re
import subprocess
import sys
import time

from api import fits, is_problem
from door import ROOT, Server, done, ok

EVENING = '2026-12-01T18:00:00Z'
# Kind: options that change the answer. What each does is the command's business, and the command is asked the same.
CHANGED = {
    'window': {'confidence': '80', 'windows': '2', 'draws': '999', 'seed': '7'},
    'life': {'forecast': '365', 'cure': 'yes', 'confidence': '90', 'variant': 'wd40'},
    'completion': {'within': '45', 'notice': '2026-02-20', 'confidence': '80'},
    'held': {'at-most': '0.3', 'confidence': '99'},
    'labour': {'paid': '200', 'share': '50', 'rating': '110'},
    'stock': {'units': '500', 'service': '99', 'all-sorts': 'yes'},
    'capability': {'least': '1.33', 'u': '0.3 mm'},
    'digits': {'by': 'technician', 'step': '0.1', 'discovery': '20'},
    'audit': {'sample': '20', 'accept': '1', 'found': '3'},
    'gauge': {'most': '10', 'pool-above': '0.25'},
}
# What a kind needs to be answered at all.
USUAL = {'audit': {'aql': '1', 'lq': '10'}}
# A part, who measured, the reading: 4 parts, 3 people, twice each; made up.
GAUGE = 'part,operator,value\n' + ''.join(f'{p},{o},{10 + 2 * i + 0.1 * k + 0.03 * ((i * 7 + k * 5 + r * 3) % 4):.2f}\n' for i, p in enumerate('abcd') for k, o in enumerate(('ann', 'bob', 'cyd')) for r in range(2))


def wait(who, name, states=('waiting', 'running')):
    end = time.monotonic() + 200
    while time.monotonic() < end:
        a = who.get(f'/api/v1/tasks/{name}')
        if a.status != 200 or a.json['state'] not in states:
            return a
        time.sleep(0.03)
    return a


def body(kind, options):
    return {'options': options, **({'rows': GAUGE} if kind == 'gauge' else {})}


def ask(who, kind, options):
    a = who.send('POST', f'/api/v1/studies/{kind}', body(kind, options))
    if a.status != 202:
        return a
    assert fits(a, 'post', '/api/v1/studies/{study}')
    return wait(who, a.json['task'])


def words(kind, options, store, rows):
    call = ['study', kind, *(['--store', store] if kind != 'gauge' else [rows, '--part', 'part', '--operator', 'operator', '--value', 'value'])]
    for name, value in options.items():
        call += [f'--{name}'] if value == 'yes' else [f'--{name}', value]
    return [str(w) for w in call]


def fill(server):
    campaign = server.folder / 'campaign'
    server.call('demo', 'make', campaign, '--units', '90', '--seed', '7', '--faulty', '30')
    for what, file in (('bulletin', 'bulletin.yaml'), ('shops', 'shops.csv'), ('keys', 'keys.txt'), ('failures', 'reports.csv'), ('reserve', 'reserve.csv')):
        server.call('store', 'keep', what, campaign / file, '--store', server.store)
    server.call('store', 'builds', campaign / 'builds.csv', '--store', server.store)
    server.call('take', '--arrivals', campaign / 'arrivals.csv', '--store', server.store, codes=(0, 1))
    server.call('rule', '--store', server.store, '--at', EVENING, codes=(0, 1, 4))


def flat(text):
    """Printed words with the terminal's lines, boxes and blanks taken out."""
    return re.sub(r'[\s\u2500-]+', '', text)


def check_same(server, clerk):
    rows = server.folder / 'rows.csv'
    rows.write_text(GAUGE)
    for kind, changed in CHANGED.items():
        answers = []
        for options in (USUAL.get(kind, {}), changed):
            call = words(kind, options, server.store, rows)
            told = subprocess.run([server.program, *call, '--json'], capture_output=True, check=False)
            a = ask(clerk, kind, options)
            run = a.json.get('answer') or {}
            ok(a.json['state'] == 'done' and fits_study(run), f'study {kind} {options}: answered, as described', a.text[:600])
            if a.json['state'] != 'done':
                continue
            ok(run['code'] == told.returncode and run['answer'] == json.loads(told.stdout), f'study {kind} {options}: every figure is the command\'s --json, and so is its exit code {told.returncode}', f"{run['code']} {told.stderr}")
            ok(run['answer_sha256'] == hashlib.sha256(told.stdout).hexdigest(), f'study {kind}: its SHA-256 is that of what the command prints')
            printed = flat(server.call(*call, codes=(0, 1, 4)))
            said = [p['text'] for p in run['said'] if p['kind'] != 'table'] + [cell for p in run['said'] if p['kind'] == 'table' for row in p['rows'] for cell in row]
            ok(said and all(flat(s) in printed for s in said) and flat(run['sentence']) in printed, f'study {kind}: the sentence, {len(said)} texts and cells are what it prints', str([s for s in said if flat(s) not in printed]))
            ok(run['svg'] is not None and run['svg'].startswith('<?xml') and '<script' not in run['svg'] and run['png'] is not None, f'study {kind}: with its picture', str(run['no_picture']))
            ok(run['command'].startswith(f'mendwright study {kind} ') and str(server.folder) not in a.text, f'study {kind}: the call is told, and nothing of where the store lies')
            ok(run['rows'] == (GAUGE if kind == 'gauge' else None), f'study {kind}: rows that were sent stand beside the answer')
            answers.append(run['answer'])
        ok(len(answers) == 2 and answers[0] != answers[1], f'study {kind}: other options, another answer')


def fits_study(run):
    from api import SPEC, jsonschema
    if jsonschema is None:
        return True
    try:
        jsonschema.Draft202012Validator({'$ref': '#/components/schemas/Study', 'components': SPEC['components']}).validate(run)
        return True
    except jsonschema.ValidationError as e:
        print(f'#   {e.message[:300]} at {list(e.absolute_path)}')
        return False


def check_list(server, clerk, owner):
    a = clerk.get('/api/v1/studies')
    ok(a.status == 200 and fits(a, 'get', '/api/v1/studies'), 'the list of studies is as described', a.text[:300])
    # What may be set is a part of what the command knows; each bound is the command's or narrower.
    for kind in a.json['kinds']:
        known = set(re.findall(r'^  --([a-z-]+)', server.call('help', 'study', kind['kind']), re.M))
        told = {o['name'] for o in kind['options']}
        ok(told <= known and not told & {'store', 'rows', 'plot', 'plot-size', 'plot-date', 'threads', 'json'}, f"study {kind['kind']}: {len(told)} of the command's options may be set, none that names a file", str(told - known))
        for o in kind['options']:
            if 'least' not in o:
                continue
            wrong = [(v, r.status) for v in (o['least'] - 1 if o['least'] > 0 else -1, o['most'] * 1.01 + 1) for r in [clerk.send('POST', f"/api/v1/studies/{kind['kind']}", body(kind['kind'], {o['name']: f'{v:.12g}'}))] if not is_problem(r, 422)]
            ok(not wrong, f"study {kind['kind']} --{o['name']}: beyond {o['least']:g} to {o['most']:g} is refused at once", str(wrong))
    ok(set(a.json['last']) == set(CHANGED) and a.json['last']['held']['options'] == CHANGED['held'] and a.json['last']['held']['person'] == 'ada', 'the last answer of each kind is told, with its options and who asked', str(a.json['last'])[:400])
    ok(owner.get('/api/v1/studies').json['last']['held']['sentence'] == a.json['last']['held']['sentence'], 'to an owner, too')


def check_bad(server, clerk, tech, nobody):
    ok(is_problem(tech.get('/api/v1/studies'), 403) and is_problem(tech.send('POST', '/api/v1/studies/window', {'options': {}}), 403) and is_problem(nobody.get('/api/v1/studies'), 401), 'a technician sees none, a stranger none')
    ok(is_problem(tech.send('POST', '/api/v1/kept-studies', {'task': 'x'}), 403) and is_problem(tech.get('/api/v1/kept-studies/x'), 403) and is_problem(tech.send('DELETE', '/api/v1/kept-studies/x'), 403), 'and may keep none')
    ok(is_problem(clerk.send('POST', '/api/v1/studies/horoscope', {'options': {}}), 404), 'no such study')
    rows = [({}, 'without options'), ({'options': []}, 'a list'), ({'options': {'confidence': 95}}, 'a number, not as typed'), ({'options': {'threads': '16'}}, "the command's, not a page's"), ({'options': {'rows': '/etc/passwd'}}, 'a file to write'),
            ({'options': {'store': '/'}}, 'another store'), ({'options': {'plot': 'x.svg'}}, 'a picture to write'), ({'options': {'--confidence': '95'}}, 'with dashes'), ({'options': {'confidence': ''}}, 'empty'), ({'options': {'confidence': '9' * 61}}, 'too long'),
            ({'options': {'confidence': 'nan'}}, 'nan'), ({'options': {'confidence': 'inf'}}, 'inf'), ({'options': {'confidence': '0x5f'}}, 'hexadecimal'), ({'options': {'draws': '1e9'}}, 'a thousand million draws'), ({'options': {'draws': '999.5'}}, 'half a draw'),
            ({'options': {'variant': '--json'}}, 'a word like an option'), ({'options': {'variant': "a'; rm -r /"}}, 'a word for a shell'), ({'options': {'until': '2026-02-30'}}, 'no such day'), ({'options': {'variant': 'a\u0000b'}}, 'a zero'), ({'options': {}, 'rows': GAUGE}, 'rows, where the store has them')]
    wrong = [(what, a.status, a.text[:200]) for b, what in rows for a in [clerk.send('POST', '/api/v1/studies/window', b)] if not (is_problem(a, 422) or is_problem(a, 400))]
    ok(not wrong, f'{len(rows)} bad calls are refused at once, as problems', str(wrong))
    a = clerk.send('POST', '/api/v1/studies/window', {'options': {'confidence': '101'}})
    ok(a.json['field'] == 'options.confidence' and '101' in a.json['detail'] and '99.9' in a.json['detail'], 'and say which option, what was found, what is expected', a.text)
    for b, what in (({'options': {}}, 'no rows'), ({'options': {}, 'rows': 7}, 'rows that are no text'), ({'options': {}, 'rows': 'x' * 262145}, 'too many')):
        ok(is_problem(clerk.send('POST', '/api/v1/studies/gauge', b), 422), f'study gauge: {what} is refused')
    # What only the study can see fails as a task, with the command's own words.
    for kind, options, rows_, mark in (('audit', {}, None, '--aql'), ('audit', {'sample': '5'}, None, '--accept'), ('window', {'variant': 'none'}, None, 'none'), ('window', {'bulletin': 'XX-1'}, None, 'XX-1'), ('stock', {'short-cost': '5'}, None, '--left-cost'), ('capability', {'u': '3 V'}, None, 'V'),
                                       ('gauge', {}, 'part,operator,value\na,b,x\n', 'rows.csv:2'), ('gauge', {}, 'a,b\n1,2\n', 'part'), ('gauge', {}, '"', 'rows.csv')):
        a = clerk.send('POST', f'/api/v1/studies/{kind}', {'options': options, **({'rows': rows_} if rows_ else {})})
        b = wait(clerk, a.json['task'])
        ok(b.json['state'] == 'failed' and mark in b.json['fault']['message'] and str(server.folder) not in b.text and fits(b, 'get', '/api/v1/tasks/{task}'), f'study {kind} {options}: fails with words: {b.json.get("fault", {}).get("message")}', b.text[:400])
    a = ask(clerk, 'completion', {'until': '2026-02-17'})
    ok(a.json['state'] == 'done' and a.json['answer']['code'] == 4 and a.json['answer']['tone'] == 'quiet' and 'cannot' in a.json['answer']['answer'], 'data that cannot answer: an answer, which says so', a.text[:300])


def check_stop(server, clerk, other):
    first = clerk.send('POST', '/api/v1/studies/window', {'options': {'draws': '99999', 'windows': '8'}}).json['task']
    second = other.send('POST', '/api/v1/studies/window', {'options': {'draws': '99999', 'windows': '8', 'seed': '2'}}).json['task']
    ok(is_problem(other.get(f'/api/v1/tasks/{first}'), 404) and is_problem(other.send('DELETE', f'/api/v1/tasks/{first}'), 404), "another clerk's study is not there, and cannot be stopped")
    ok(clerk.send('DELETE', f'/api/v1/tasks/{first}').status == 204 and wait(clerk, first).json['state'] == 'stopped', 'a study is stopped while it works or waits')
    ok(is_problem(clerk.send('POST', '/api/v1/kept-studies', {'task': first}), 409), 'and one that was stopped cannot be kept')
    ok(other.send('DELETE', f'/api/v1/tasks/{second}').status == 204 and wait(other, second).json['state'] == 'stopped', "the other's goes its own way")
    names = [a.json['task'] for _ in range(20) for a in [clerk.send('POST', '/api/v1/studies/window', {'options': {'draws': '99999', 'windows': '8'}})] if a.status == 202]
    a = clerk.send('POST', '/api/v1/studies/window', {'options': {'draws': '99999', 'windows': '8'}})
    ok(len(names) <= 8 and is_problem(a, 429), f'no more than {len(names)} wait; the next is turned away', f'{a.status}')
    for name in names:
        clerk.send('DELETE', f'/api/v1/tasks/{name}')
    ok(all(wait(clerk, name).json['state'] in ('stopped', 'done') for name in names), 'all of them end')


def kept(who):
    return who.get('/api/v1/studies').json['kept']


def section(server, *words_):
    """The kept studies in the report: its JSON says word for word what is on the pages."""
    told = json.loads(server.call('report', '--store', server.store, '-o', server.folder / 'r.pdf', '--at', EVENING, '--json', *words_))
    return next((s for s in told['sections'] if s['id'] == 'kept'), None)


def check_keep(server, clerk, other, owner):
    ok(section(server) is None, 'nothing is kept: the report has no such chapter')
    task = clerk.send('POST', '/api/v1/studies/held', body('held', {'at-most': '0.3'})).json['task']
    run = wait(clerk, task).json['answer']
    ok(is_problem(other.send('POST', '/api/v1/kept-studies', {'task': task}), 409), "another clerk's answer cannot be kept")
    a = clerk.send('POST', '/api/v1/kept-studies', {'task': task, 'note': 'For the board.'})
    ok(a.status == 201 and fits(a, 'post', '/api/v1/kept-studies'), 'an answer is kept', a.text)
    name = a.json['kept']
    b = clerk.get(a.headers['Location'])
    ok(b.status == 200 and fits(b, 'get', '/api/v1/kept-studies/{kept}') and b.json['run'] == run and b.json['person'] == 'ada' and b.json['note'] == 'For the board.', 'and told as it was answered, with who, when and the note', b.text[:300])
    ok([k['id'] for k in kept(other)] == [name] and kept(other)[0]['sha256'] == run['answer_sha256'], 'the list has it, for everybody of the desk')
    for b, what in (({}, 'no task'), ({'task': 'none'}, 'a task that is not there'), ({'task': task, 'note': 5}, 'a note that is no text'), ({'task': task, 'note': 'x' * 401}, 'a note that is too long'), ({'task': task, 'run': {'sentence': 'All is well.'}, 'note': 'a\nb'}, 'a note of two lines')):
        a = clerk.send('POST', '/api/v1/kept-studies', b)
        ok(a.status in (400, 409, 422) and is_problem(a, a.status), f'{what}: refused ({a.status})', a.text)
    ruled = clerk.send('POST', '/api/v1/rulings', {}).json['task']
    wait(clerk, ruled)
    ok(is_problem(clerk.send('POST', '/api/v1/kept-studies', {'task': ruled}), 409), 'the answer of other work is no study')
    s = section(server)
    texts = [t for block in s['blocks'] for t in [block.get('text', ''), *[c for row in block.get('rows', []) for c in row]]]
    cells = [c for p in run['said'] if p['kind'] == 'table' for row in p['rows'] for c in row]
    ok(run['sentence'] in texts and all(c in texts for c in cells) and 'ada notes: For the board.' in texts and any(run['answer_sha256'] in t for t in texts), "the report prints it: the sentence, every cell, the note, who, the answer's SHA-256", str(texts)[:800])
    ok(all(any(n['text'] in t for t in texts) for n in run['answer']['assumptions'] if n['kind'] != 'checked'), 'with what it takes for granted, and its caveats')
    ok(any(b['kind'] == 'picture' for b in s['blocks']), 'and its picture')
    ok((server.folder / 'r.pdf').read_bytes().startswith(b'%PDF'), 'the pages are a PDF')
    verified = json.loads(server.call('store', 'verify', '--store', server.store, '--json'))
    ok(verified['ok'], 'the store is sound', str(verified))
    ok(is_problem(other.send('DELETE', f'/api/v1/kept-studies/{name}'), 403), "another clerk's is not taken out by a clerk")
    ok(is_problem(owner.send('DELETE', '/api/v1/kept-studies/none'), 404) and owner.send('DELETE', f'/api/v1/kept-studies/{name}').status == 204, 'an owner takes it out')
    ok(kept(owner) == [] and is_problem(owner.get(f'/api/v1/kept-studies/{name}'), 404) and is_problem(owner.send('DELETE', f'/api/v1/kept-studies/{name}'), 404) and section(server) is None, 'then it is gone from the list and from the report')
    acts = [a for a in owner.get('/api/v1/audit?limit=50').json['acts'] if name in json.dumps(a)]
    ok(len(acts) == 2, 'the log has both: kept, taken out', str(acts))
    names = [clerk.send('POST', '/api/v1/kept-studies', {'task': task}) for _ in range(25)]
    ok([a.status for a in names] == [201] * 24 + [409], 'no more than 24 are kept', str([a.status for a in names]))
    ok(len(section(server)['blocks']) > 24 * 4, 'all of them stand in the report')
    ok(clerk.send('DELETE', f"/api/v1/kept-studies/{names[3].json['kept']}").status == 204 and len(kept(clerk)) == 23, 'a clerk takes out their own')
    ok(json.loads(server.call('store', 'verify', '--store', server.store, '--json'))['ok'], 'the store is sound still')


def main(argv):
    server = Server(argv[1])
    try:
        fill(server)
        server.start()
        clerk, other, owner = server.person('ada', 'clerk'), server.person('abe', 'clerk'), server.person('olga', 'owner')
        tech, nobody = server.person('ines', 'technician', 'fern-mobile-2'), type(clerk)(server)
        before = json.loads(server.call('store', 'verify', '--store', server.store, '--json'))
        check_same(server, clerk)
        check_list(server, clerk, owner)
        check_bad(server, clerk, tech, nobody)
        check_stop(server, clerk, other)
        after = json.loads(server.call('store', 'verify', '--store', server.store, '--json'))
        ok(after == before and after['ok'], 'nothing of all that wrote to the store', f'{before} {after}')
        check_keep(server, clerk, other, owner)
        ok(server.stop() == 0, 'the server ends with 0')
        ok('ERROR: AddressSanitizer' not in (server.folder / 'log').read_text() and 'runtime error' not in (server.folder / 'log').read_text(), 'and no sanitizer spoke')
    finally:
        server.end()
    return done()


if __name__ == '__main__':
    sys.exit(main(sys.argv))
