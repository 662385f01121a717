#!/usr/bin/env python3
"""Practice over HTTP: sets, an exam from its beginning to its one result, results played again by the server, what the owner sees.

usage: practice.py PROGRAM

The operations that are handed in are those of `mendwright practice solve`; the account they must give is that of `mendwright practice try`
(another way into the program: the command line), and who may do what is from doc/practice.md.
"""
import json
import re
import sys

from door import ROOT, Server, done, ok, sha256

EXAMPLES = ROOT / 'examples' / 'practice'
EXAM = (EXAMPLES / 'exam-one.yaml').read_text()


def solved(server, name, exercise):
    out = json.loads(server.call('practice', 'solve', EXAMPLES / f'{name}.yaml', '--json'))
    return next(x for x in out['exercises'] if x['exercise'] == exercise)['ops']


def result(sets, name, exercise, ops, **more):
    s = next(x for x in sets if x['set'] == name)
    x = next(x for x in s['exercises'] if x['id'] == exercise)
    return {'set': name, 'set_sha256': s['sha256'], 'exercise': exercise, 'mode': 'practice', 'seed': x['seed'], 'ops': ops, 'hints_used': 0, 'answers': {},
            'began': '2026-11-25T08:00:00.000Z', 'ended': '2026-11-25T08:31:07.5Z', **more}


def problem(answer, status, words, what):
    told = answer.json if answer.status >= 400 else {}
    ok(answer.status == status and words in told.get('detail', ''), what, f'{answer.status} {answer.text[:300]}')


def check_sets(server, owner, tech):
    sets = tech.get('/api/v1/practice/sets').json['sets']
    ok([s['set'] for s in sets] == ['first-steps', 'hard-days', 'in-the-yard'], 'the sets that come with the program are there', str([s['set'] for s in sets]))
    exported = json.loads(server.call('practice', 'check', '--export', *[EXAMPLES / f'{s["set"]}.yaml' for s in sets]))
    ok(sets == exported, 'as `practice check --export` prints them')
    answer = owner.send('POST', '/api/v1/practice/check', {'text': EXAM.replace('amount: -4 mm', 'amount: -4')}).json
    line = EXAM.split('\n').index('      - {fault: offset, amount: -4 mm}') + 1
    ok(answer['valid'] is False and answer['faults'][0]['line'] == line and answer['faults'][0]['path'] == 'exercises[0].faults[1].amount', 'a set with a fault: which, and where', json.dumps(answer))
    ok(owner.send('POST', '/api/v1/practice/check', {'text': EXAM}).json['valid'] is True, 'a set without one')
    problem(owner.send('PUT', '/api/v1/practice/sets/exam-one', {'text': EXAM.replace('amount: -4 mm', 'amount: -4')}), 422, 'expected a number and mm', 'what has a fault is not shared')
    problem(owner.send('PUT', '/api/v1/practice/sets/other', {'text': EXAM}), 422, "the file is the set 'exam-one'", 'nor under another name')
    first = (EXAMPLES / 'first-steps.yaml').read_text() + '\n'
    problem(owner.send('PUT', '/api/v1/practice/sets/first-steps', {'text': first}), 422, 'comes with the program', 'nor in place of one of the program')
    a = owner.send('PUT', '/api/v1/practice/sets/exam-one', {'text': EXAM})
    ok(a.status == 200 and a.json == {'set': 'exam-one', 'sha256': sha256(EXAM.encode()), 'exercises': 3}, 'the owner shares an exam', a.text)
    ok(owner.send('PUT', '/api/v1/practice/sets/exam-one', {'text': EXAM}).status == 200, 'and again, which changes nothing')
    kept = owner.get('/api/v1/practice/sets').json['kept']
    ok([(k['set'], k['by']) for k in kept] == [('exam-one', 'ada')], 'the owner sees which are their own', str(kept))
    return sets


def check_exam(server, owner, tech):
    def exam(who):
        return next(s for s in who.get('/api/v1/practice/sets').json['sets'] if s['set'] == 'exam-one')

    before = exam(tech)
    secret = [k for x in before['exercises'] for k in ('seed', 'faults', 'goal', 'hints') if k in x]
    ok(not secret and '"right"' not in json.dumps(before), 'before it begins, a technician is told no seed, no fault and no right choice of an exam', str(secret))
    ok('faults' in exam(owner)['exercises'][0], 'the owner is')
    sets = owner.get('/api/v1/practice/sets').json['sets']
    ops = solved(server, 'exam-one', 'first-unit')
    problem(tech.send('POST', '/api/v1/practice/results', result(sets, 'exam-one', 'first-unit', ops, mode='exam')), 422, 'not begun', 'an exam that was not begun is not taken')
    a = tech.send('POST', '/api/v1/practice/sets/exam-one/exercises/first-unit')
    ok(a.status == 200 and a.json['exercise']['seed'] == 211 and a.json['exercise']['faults'][0]['fault'] == 'teeth', 'it begins, and is told whole', a.text[:200])
    ok(tech.send('POST', '/api/v1/practice/sets/exam-one/exercises/first-unit').json['began_ms'] == a.json['began_ms'], 'begun again, the first time holds')
    told = [x['id'] for x in exam(tech)['exercises'] if 'seed' in x]
    ok(told == ['first-unit'], 'and only what was begun is told', str(told))
    problem(tech.send('POST', '/api/v1/practice/results', result(sets, 'exam-one', 'first-unit', ops)), 422, 'an exam', 'an exam is not practised')
    problem(tech.send('POST', '/api/v1/practice/results', result(sets, 'exam-one', 'first-unit', ops, mode='exam', hints_used=1)), 422, 'without hints', 'nor done with hints')
    a = tech.send('POST', '/api/v1/practice/results', result(sets, 'exam-one', 'first-unit', ops, mode='exam'))
    ok(a.status == 201 and a.json['passed'] is True, 'the exam is handed in', a.text[:300])
    again = tech.send('POST', '/api/v1/practice/results', result(sets, 'exam-one', 'first-unit', ops, mode='exam'))
    ok(again.status == 200 and again.json['already'] is True, 'the same again changes nothing', again.text[:200])
    problem(tech.send('POST', '/api/v1/practice/results', result(sets, 'exam-one', 'first-unit', ops[:-1], mode='exam')), 409, 'one attempt counts', 'and another attempt is refused')
    problem(tech.send('POST', '/api/v1/practice/sets/first-steps/exercises/one-tooth'), 422, 'no exam', 'what is no exam does not begin')


def check_results(server, owner, tech, sets):
    ops = solved(server, 'hard-days', 'wrong-kit')
    a = tech.send('POST', '/api/v1/practice/results', result(sets, 'hard-days', 'wrong-kit', ops, hints_used=2, answers={'why-jumps': 'depth'}))
    (server.folder / 'ops.json').write_text(json.dumps(ops))
    tried = json.loads(server.call('practice', 'try', EXAMPLES / 'hard-days.yaml', 'wrong-kit', '--ops', server.folder / 'ops.json', '--json'))
    same = [k for k in tried if k in a.json and tried[k] != a.json[k]]
    ok(a.status == 201 and not same and a.json['right'] == 1, 'the server plays the operations again: its account is that of `practice try`', f'{same} {a.text[:300]}')
    wrong = tech.send('POST', '/api/v1/practice/results', result(sets, 'hard-days', 'wrong-kit', ops, answers={'why-jumps': 'volts'}))
    ok(wrong.status == 201 and wrong.json['reached'] is True and wrong.json['passed'] is False, 'reached, but the question answered wrong: not passed', wrong.text[:200])
    idle = tech.send('POST', '/api/v1/practice/results', result(sets, 'first-steps', 'one-tooth', [[19, 0, 0, 0]]))
    ok(idle.status == 201 and idle.json['reached'] is False and idle.json['missed'] == ['ends'], 'nothing done: not reached, and why', idle.text[:200])
    base = result(sets, 'first-steps', 'one-tooth', [[19, 0, 0, 0]])
    rows = [('set_sha256', 'a' * 64, 404, 'no such set'), ('exercise', 'none', 404, 'no such exercise'), ('seed', 18, 422, 'another seed'), ('mode', 'game', 404, 'practice or exam'),
            ('ops', 'x', 422, 'a list of operations'), ('ops', [[99, 0, 0, 0]], 422, 'op: expected'), ('ops', [[0, 0, 0, 0]] * 5001, 422, 'at most 5000'), ('hints_used', -1, 422, 'whole number'),
            ('began', '2026-11-25 08:00', 422, 'RFC 3339'), ('ended', '2026-11-24T08:00:00Z', 422, 'before it began'), ('answers', [], 422, 'expected an object')]
    for key, value, status, words in rows:
        a = tech.send('POST', '/api/v1/practice/results', {**base, key: value})
        told = a.json if a.status >= 400 else {}
        ok(a.status in (status, 400, 413) and words in told.get('detail', ''), f'refused: {key} {json.dumps(value)[:40]}', f'{a.status} {a.text[:300]}')


def twice(ops):
    """Every gap read twice, before anything is moved: what a class does for a gauge study."""
    out = [[0, 0, 0, 150000000]] + [[1, s, p, 0] for _ in range(2) for s in (0, 1) for p in (0, 1)] + [[0, 0, 0, 960000000]] + [[1, s, p, 0] for _ in range(2) for s in (0, 1) for p in (0, 1)]
    return out + ops


def check_owner(server, owner, people, sets):
    for i, who in enumerate(people):
        extra = [[7, 0, 0, 0]] * i  # each checked the tape another number of times first: other noise
        ops = extra + twice(solved(server, 'first-steps', 'to-one-side'))
        a = who.send('POST', '/api/v1/practice/results', result(sets, 'first-steps', 'to-one-side', ops))
        assert a.status == 201, a.text
    seen = owner.get('/api/v1/practice/results').json
    rows = {p['person']: p for p in seen['people']}
    ok(rows['ines']['results'] == 5 and rows['ines']['tried'] == 4 and rows['ines']['exams'] == 1 and rows['ines']['hints'] == 2, 'by person: what ines handed in', json.dumps(rows['ines']))
    hard = next(x for x in seen['exercises'] if x['exercise'] == 'wrong-kit')
    ok(hard['results'] == 2 and hard['people'] == 1 and hard['passed'] == 0, 'by exercise: the latest attempt of each counts', json.dumps(hard))
    q = next(x for x in seen['questions'] if x['question'] == 'why-jumps')
    ok(q['answered'] == 2 and q['right'] == 1, 'by question', json.dumps(q))
    points = [d for d in seen['disagree'] if d['exercise'] == 'to-one-side']
    ok(len(points) == 8 and all(d['people'] == len(people) for d in points), 'each gap that several people read before anything was moved', json.dumps(points)[:300])
    g = seen['gauge']
    ok(g is not None and (g['exercise'], g['parts'], g['operators'], g['repeats']) == ('to-one-side', 8, len(people), 2), 'and a gauge study of the exercise that was read twice by most', json.dumps(g)[:300])
    # The same readings through the command line: the model's noise is the gap gauge's, 0.15 mm repeated (examples/OV-26-03.yaml) and 0.1 mm of resolution.
    ok(0.05 < g['repeatability_sd_mm'] < 0.35, f'whose repeatability is near that of the gap gauge ({g["repeatability_sd_mm"]:.3f} mm)')


CSV = ROOT / 'test' / 'serve' / 'class.csv'


def check_gauge(server, owner):
    """A worked example from outside: the study of the command line is tested against published tables (test/cli/study.case); here both ways in must agree."""
    text = CSV.read_text()
    a = owner.send('POST', '/api/v1/practice/gauge', {'csv': text})
    out = json.loads(server.call('study', 'gauge', CSV, '--part', 'part', '--operator', 'operator', '--value', 'value', '--json', codes=(0, 1)))
    ok(a.status == 200 and abs(a.json['repeatability_sd_mm'] ** 2 - out['repeatability_var']) < 1e-12 and abs(a.json['percent_study'] - out['percent_study']) < 1e-9 and a.json['ndc'] == out['ndc'],
       'a class measurement gives what `study gauge` gives', f'{a.text[:300]} {json.dumps(out)[:300]}')
    problem(owner.send('POST', '/api/v1/practice/gauge', {'csv': 'a,b\n1,2\n'}), 422, 'no column', 'a file without the columns is refused, with what is missing')


def check_forget(server, owner, tech, sets):
    server.call('store', 'backup', server.folder / 'copy', '--store', server.store, '--with-people')
    ok((server.folder / 'copy' / 'practice.db').is_file() and (server.folder / 'copy' / 'practice.db').stat().st_mode & 0o077 == 0, 'a backup with people holds what they practised, for its owner alone')
    server.call('store', 'backup', server.folder / 'plain', '--store', server.store)
    ok(not (server.folder / 'plain' / 'practice.db').exists(), 'a backup without people does not')
    server.call('people', 'revoke', 'otto', '--store', server.store)
    server.call('people', 'forget', 'otto', '--store', server.store)
    names = [p['person'] for p in owner.get('/api/v1/practice/results').json['people']]
    ok('otto' not in names and 'ines' in names, 'who is forgotten is forgotten here, too', str(names))
    ok(owner.send('DELETE', '/api/v1/practice/sets/exam-one').status == 204, 'a set is withdrawn')
    ok([s['set'] for s in tech.get('/api/v1/practice/sets').json['sets']] == ['first-steps', 'hard-days', 'in-the-yard'], 'and gone')
    problem(owner.send('DELETE', '/api/v1/practice/sets/exam-one'), 404, 'no set', 'once')
    ok(any(r['set'] == 'exam-one' for r in owner.get('/api/v1/practice/results').json['results']), 'its results stay')


def main(argv):
    server = Server(argv[1])
    try:
        server.start()
        owner, tech = server.person('ada', 'owner'), server.person('ines', 'technician', 'fern-mobile-2')
        others = [server.person('otto', 'technician', 'fern-mobile-2'), server.person('pia', 'technician', 'elsewhere-9')]
        sets = check_sets(server, owner, tech)
        check_exam(server, owner, tech)
        check_results(server, owner, tech, sets)
        check_owner(server, owner, [tech, *others], sets)
        check_gauge(server, owner)
        check_forget(server, owner, tech, sets)
        ok(server.stop() == 0, 'the server ends with 0')
        log = (server.folder / 'log').read_text()
        ok(not re.search('ERROR: |runtime error', log), 'and no sanitizer said a word', log[-800:])
    finally:
        server.end()
    return done()


if __name__ == '__main__':
    sys.exit(main(sys.argv))
