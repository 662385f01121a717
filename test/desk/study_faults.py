#!/usr/bin/env python3
"""Bad input, kind by kind of study: each fault of the table is put into a good file, and what comes must be a clear error or a clear
answer with its caveat; never NaN or infinity, in words or in JSON; never a curve that is not there without saying so. Prints TAP.

usage: study_faults.py PROGRAM [--show]   (--show: print what the program says to each)
"""
import json
import math
import pathlib
import re
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))
from tap import Tap  # noqa: E402

tap = Tap(notes_always='--show' in sys.argv)
ok = tap.ok
NO_NUMBER = re.compile(r'(?<![\w.])[-+]?(nan|inf|infinity)(?![\w])', re.IGNORECASE)


# ---- good files ---------------------------------------------------------------------------------

def spread(i):
    """Figures that vary, the same in every run."""
    return (i * 7919 % 101) / 101


# A column: name, role. Roles: time (a number of 0 or more), positive, number (any), amount, yes, count (whole, 0 or more), text, day.
KINDS = {
    'window': {
        'call': ['--day', 'day', '--built', 'built', '--failed', 'failed', '--draws', '199'],
        'columns': {'day': 'day', 'built': 'count', 'failed': 'count'},
        'rows': [(d, 20, 4 if 10 <= d < 15 else d % 3 == 0) for d in range(40)],
    },
    'life': {
        'call': ['--time', 't', '--event', 'e', '--entry', 'from', '--group', 'g', '--cure', '--forecast', '50'],
        'columns': {'t': 'time', 'e': 'yes', 'from': 'time', 'g': 'text'},
        'rows': [(10 + 90 * spread(i), i % 3 != 0, 2 * spread(i + 50), 'ab'[i % 2]) for i in range(60)],
    },
    'life of units that fail again': {
        'call': ['--time', 't', '--event', 'e', '--unit', 'u'],
        'columns': {'t': 'time', 'e': 'yes', 'u': 'text'},
        'rows': [row for u in range(12) for row in ((5 + 40 * spread(u), 1, u), (50 + u, 0, u))],
    },
    'completion': {
        'call': ['--time', 't', '--event', 'e'],
        'columns': {'t': 'time', 'e': 'yes'},
        'rows': [(1 + 40 * spread(i), 1) if i % 3 else (60, 0) for i in range(60)],
    },
    'held': {
        'call': ['--repaired', 'r', '--failed', 'f', '--time', 't'],
        'columns': {'r': 'yes', 'f': 'count', 't': 'time'},
        'rows': [(i % 2, i % 7 == 0 if i % 2 else i % 3 == 0, 50 + i) for i in range(60)],
    },
    'labour': {
        'call': ['--minutes', 'm', '--order', 'k', '--by', 's', '--paid', '100'],
        'columns': {'m': 'positive', 'k': 'positive', 's': 'text'},
        'rows': [(80 + 30 * spread(i), i + 1, f's{i % 5}') for i in range(40)],
    },
    'gauge': {
        'call': ['--part', 'p', '--operator', 'o', '--value', 'v', '--most', '30'],
        'columns': {'p': 'text', 'o': 'text', 'v': 'number'},
        'rows': [(p, o, p + o / 10 + spread(9 * p + 3 * o + r) / 5) for p in range(6) for o in range(3) for r in range(2)],
    },
    'capability': {
        'call': ['--value', 'v', '--low', '56', '--high', '61', '--u', '0.3', '--by', 's', '--least', '1.33'],
        'columns': {'v': 'amount', 's': 'text'},
        'rows': [(round(57 + 3 * spread(i), 1), f's{i % 2}') for i in range(40)],
    },
    'digits': {
        'call': ['--value', 'v', '--by', 's', '--step', '0.1', '--set', 'j'],
        'columns': {'v': 'amount', 's': 'text', 'j': 'text'},
        'rows': [(round(57 + 3 * spread(i), 1), f's{i % 2}', i // 2) for i in range(80)],
    },
    'stock of lengths': {
        'call': ['--length', 'x', '--count', 'n', '--k', '3'],
        'columns': {'x': 'amount', 'n': 'count'},
        'rows': [(200 + 10 * i, i + 1) for i in range(12)],
    },
    'stock of kits': {
        'call': ['--kit', 'x', '--count', 'n', '--units', '100'],
        'columns': {'x': 'text', 'n': 'count'},
        'rows': [(f'K{i}', 5 + i) for i in range(5)],
    },
}
NUMBERS = ('time', 'positive', 'number', 'amount', 'count', 'yes', 'day')


def text_of(value):
    return str(int(value)) if isinstance(value, bool) else f'{value:.6g}' if isinstance(value, float) else str(value)


def csv_of(names, rows):
    return ','.join(names) + '\n' + ''.join(','.join(map(text_of, row)) + '\n' for row in rows)


def put(kind, column, value, at=2):
    """The good rows with one field changed (at: a row) or all of a column (at None). value may be a function of the row's number."""
    names = list(kind['columns'])
    k = names.index(column)
    rows = [list(row) for row in kind['rows']]
    for i, row in enumerate(rows):
        if at is None or i == at:
            row[k] = value(i) if callable(value) else value
    return csv_of(names, rows)


# ---- what every answer is held to ---------------------------------------------------------------

def no_constant(word):
    raise ValueError(f'{word} in JSON')


def finite(value):
    if isinstance(value, dict):
        return all(finite(v) for v in value.values())
    if isinstance(value, list):
        return all(finite(v) for v in value)
    return not isinstance(value, float) or math.isfinite(value)


def curves_are_told(answer):
    """A Weibull curve is there, or why it is not."""
    return all(g['weibull'] is not None or g.get('weibull_fault') for g in answer.get('groups', []) if 'weibull' in g)


def call(program, folder, name, csv):
    """name: a kind of KINDS. The two runs: words and JSON."""
    kind = KINDS[name]
    (folder / 'file.csv').write_text(csv)
    words = [program, 'study', name.split()[0], 'file.csv', *kind['call']]
    runs = [subprocess.run(words + more, capture_output=True, cwd=folder, timeout=1200) for more in ([], ['--json'])]
    return [(r.returncode, r.stdout.decode(), r.stderr.decode()) for r in runs]


def hold(program, folder, name, fault, csv, codes, *phrases):
    """codes: the exit codes that will do. phrases: each must stand in the error, or in the answer in words."""
    (code, out, err), (code_json, out_json, err_json) = call(program, folder, name, csv)
    notes = [f'exit {code}, {code_json}', out, err]
    is_good = code == code_json and code in codes and not NO_NUMBER.search(out) and not NO_NUMBER.search(out_json)
    said = out
    if code in (2, 3):
        said = err
        is_good = is_good and out == out_json == '' and err == err_json and err.count('\n') == 1 and 'file.csv' in err
    else:
        try:
            answer = json.loads(out_json, parse_constant=no_constant)
            is_good = is_good and err == err_json == '' and finite(answer) and curves_are_told(answer)
            is_good = is_good and (code != 4 or 'cannot' in answer or answer.get('verdict') == 'uncertain')
            is_good = is_good and ('cannot' in answer or answer['assumptions'] != [])
        except ValueError as e:
            is_good, notes = False, notes + [e, out_json]
    said = ' '.join(said.split())
    is_good = is_good and all(phrase in said for phrase in phrases)
    ok(is_good, f'{name}: {fault}', *notes, *[f'expected: {p}' for p in phrases])


# ---- faults of one field ------------------------------------------------------------------------

def fields(program, folder):
    for name, kind in KINDS.items():
        names = list(kind['columns'])
        good = csv_of(names, kind['rows'])
        hold(program, folder, name, 'the good file is answered', good, (0, 1, 4) if name == 'held' else (0, 1))
        hold(program, folder, name, 'an empty file', '', (2,))
        hold(program, folder, name, 'a head without rows', ','.join(names) + '\n', (4,))
        hold(program, folder, name, 'a row with a field too few', good + '1\n', (2,), f'file.csv:{len(kind["rows"]) + 2}')
        hold(program, folder, name, 'an open quote', good + '"1,2', (2,))
        for column, role in kind['columns'].items():
            gone = csv_of(['other' if n == column else n for n in names], kind['rows'])
            hold(program, folder, name, f'no column "{column}"', gone, (2,), column)
            hold(program, folder, name, f'the column "{column}" twice', csv_of([*names, column], [[*r, 1] for r in kind['rows']]), (2,), column)
            hold(program, folder, name, f'"{column}" left empty in one row', put(kind, column, ''), (2,), 'file.csv:4', column)
            if role in NUMBERS:
                for word in ('about ten', 'nan', 'inf', '-inf', '1e999', '1..5', '0x10', '\u0661\u0662'):
                    hold(program, folder, name, f'"{word}" in "{column}"', put(kind, column, word), (2,), 'file.csv:4', column)
            if role in ('time', 'positive', 'count', 'yes'):
                hold(program, folder, name, f'-1 in "{column}"', put(kind, column, -1), (2,), 'file.csv:4', column)
            if role == 'positive':
                hold(program, folder, name, f'0 in "{column}"', put(kind, column, 0), (2,), 'file.csv:4', column)
            if role in ('count', 'yes'):
                hold(program, folder, name, f'a half in "{column}"', put(kind, column, 0.5), (2,), 'file.csv:4', column)
            if role == 'yes':
                hold(program, folder, name, f'2 in "{column}"', put(kind, column, 2), (2,), 'file.csv:4', column)


# ---- faults of the whole ------------------------------------------------------------------------

ANY = (0, 1, 4)
# kind, what is wrong, column(s) and what they all become (or a CSV), exit codes, what must be said.
WHOLE = [
    ('window', 'nothing failed', {'failed': 0}, (4,), 'failed'),
    ('window', 'one failure', {'failed': lambda i: i == 12}, (0, 1)),
    ('window', 'everything failed', {'failed': 20}, ANY),
    ('window', 'zero builds on every day', {'built': 0, 'failed': 0}, (4,)),
    ('window', 'failures of a day on which nothing was built', {'built': lambda i: 0 if i == 12 else 20}, (2,), 'file.csv:14'),
    ('window', 'more failed than were built', {'failed': lambda i: 21 if i == 12 else 1}, (0, 1), 'more failed than were built'),
    ('window', 'all from one day', {'day': 7}, (4,)),
    ('window', 'every day alike (ties)', {'failed': 2}, (0, 1)),
    ('window', 'a failure a day, as many as built', {'built': 1, 'failed': 1}, ANY),
    ('window', 'an impossible day', {'day': '2024-02-30'}, (2,), 'file.csv:2'),
    ('window', 'days of two kinds', {'day': lambda i: '2024-02-01' if i == 12 else i}, (2,), 'file.csv:14'),

    ('life', 'nothing failed (all censored)', {'e': 0}, (0,), 'Nothing failed in any', 'no Weibull curve, because'),
    ('life', 'one failed', {'e': lambda i: i == 7}, (0,), 'only 1 failed'),
    ('life', 'all failed', {'e': 1}, (0,)),
    ('life', 'an entry after the end', {'from': lambda i: 500 if i == 2 else 0}, (2,), 'file.csv:4', 'from'),
    ('life', 'an entry that is the end', {'from': lambda i: 20 if i == 2 else 0, 't': 20}, (2,), 'file.csv:4', 'from'),
    ('life', 'all times alike (ties)', {'t': 30}, (0,), 'no Weibull curve'),
    ('life', 'all times alike, nothing failed', {'t': 30, 'e': 0}, (0,), 'nothing failed'),
    ('life', 'a failure at time 0', {'t': lambda i: 0 if i == 1 else 10 + i, 'from': 0}, (2,), 'file.csv:3'),
    ('life', 'all failures at the latest time', {'t': lambda i: 90 if i % 3 else 30}, (0,), 'cannot be compared', 'no Weibull curve'),
    ('life', 'a group for each unit', {'g': lambda i: f'g{i}'}, (0,), 'did not fit in here'),
    ('life', 'more groups than can be compared', 'g,t,e,from\n' + ''.join(f'g{i},{i + 1},1,0\n' for i in range(65)), (2,), 'groups'),
    ('life', 'times of 1e-9 and 1e12', {'t': lambda i: 1e-9 if i % 2 else 1e12, 'from': 0}, (0,)),
    ('life', 'a time above 1e12', {'t': lambda i: 1e13 if i == 2 else 10 + i}, (2,), 'file.csv:4'),
    ('life', 'late entries, then all at once', {'t': lambda i: 11 if i % 2 else 90, 'from': lambda i: 10.9 if i % 2 else 10}, (0,)),

    ('life of units that fail again', 'nothing failed', {'e': 0}, (0,), 'None of'),
    ('life of units that fail again', 'one failed', {'e': lambda i: i == 4}, (0,), 'only 1 failed'),
    ('life of units that fail again', 'every row a failure', {'e': 1}, (0,), 'end with a failure', 'fewer than 5 units'),
    ('life of units that fail again', 'all at one time', {'t': 9}, (0,)),
    ('life of units that fail again', 'all at time 0', {'t': 0}, (0,)),
    ('life of units that fail again', 'one unit', {'u': 'a'}, (0,), 'not known', 'fewer than 5 units'),

    ('completion', 'nobody has come (all censored)', {'e': 0}, (4,), 'come'),
    ('completion', 'one has come', {'e': lambda i: i == 7}, (0, 4)),
    ('completion', 'all have come', {'e': 1}, (0,)),
    ('completion', 'all at one time', {'t': 9}, (4,)),
    ('completion', 'a claim at time 0', {'t': lambda i: 0 if i == 1 else 9 + i}, (2,), 'file.csv:3'),
    ('completion', 'times of 1e-9 and 1e12', {'t': lambda i: 1e-9 if i % 2 else 1e12}, (0, 2, 4)),

    ('held', 'nothing failed', {'f': 0}, (4,)),
    ('held', 'one failed', {'f': lambda i: i == 3}, (4,)),
    ('held', 'nothing repaired', {'r': 0}, (4,)),
    ('held', 'all repaired', {'r': 1}, (4,)),
    ('held', 'no time watched', {'t': 0, 'f': 0}, (4,)),
    ('held', 'a failure in no time', {'t': lambda i: 0 if i == 3 else 50, 'f': 1}, (0, 1, 2, 4)),
    ('held', 'a thousand million failures a row', {'f': 10 ** 9}, (0, 1, 2, 4)),

    ('labour', 'all took as long (constant)', {'m': 90}, (4,)),
    ('labour', 'one job', 'm,k,s\n90,1,a\n', (4,)),
    ('labour', 'two jobs', 'm,k,s\n90,1,a\n95,2,b\n', (0, 1)),
    ('labour', 'one shop', {'s': 'a'}, (0, 1, 4)),
    ('labour', 'a shop for each job', {'s': lambda i: f's{i}'}, (0, 1, 4)),
    ('labour', 'every job the first (ties)', {'k': 1}, (0, 1)),
    ('labour', 'minutes of 1e-300 and 1e300', {'m': lambda i: 1e-300 if i % 2 else 1e300}, (0, 1, 2, 4)),

    ('gauge', 'nothing varies (constant)', {'v': 5}, (4,), 'alike'),
    ('gauge', 'one part', {'p': 1}, (4,)),
    ('gauge', 'one person', {'o': 1}, (4,)),
    ('gauge', 'not balanced', {'o': lambda i: 0 if i == 5 else i // 2 % 3}, (4,), 'not balanced'),
    ('gauge', 'repeats exactly alike (ties)', {'v': lambda i: i // 2}, (0, 1), 'exactly alike'),
    ('gauge', 'readings of 1e300', {'v': lambda i: 1e-300 if i % 2 else 1e300}, (2,), 'file.csv:2'),
    ('gauge', 'readings that differ by 1e-300', {'v': lambda i: i % 7 * 1e-300}, (4,), 'too little'),
    ('gauge', 'readings near 10^12 that differ in the last digit', {'v': lambda i: f'1000000000000.000{i % 7}'}, (0, 1)),

    ('capability', 'all alike (constant)', {'v': 58}, (4,)),
    ('capability', 'four readings', 'v,s\n58,a\n59,a\n57,a\n58.5,a\n', (4,)),
    ('capability', 'measuring explains all of it', {'v': lambda i: 58 + i // 2 % 2 / 10}, (0, 1)),
    ('capability', 'all outside', {'v': lambda i: 90 + i}, (1,)),
    ('capability', 'the largest amounts there are', {'v': lambda i: 9e12 if i % 2 else -9e12}, (0, 1, 2, 4)),

    ('digits', 'all alike (constant)', {'v': 58.5}, (0, 1, 4)),
    ('digits', 'four readings', 'v,s,j\n58,a,1\n59,a,1\n57,a,2\n58.5,a,2\n', (4,)),
    ('digits', 'a reading that is no whole step', {'v': lambda i: 58.55 if i == 2 else 58.5 + i}, (0, 1, 2), ),
    ('digits', 'a group for each reading', {'s': lambda i: f's{i}'}, (4,)),
    ('digits', 'one job', {'j': 1}, (0, 1)),

    ('stock of lengths', 'nothing needed', {'n': 0}, (4,)),
    ('stock of lengths', 'all alike (constant)', {'x': 300}, (0,)),
    ('stock of lengths', 'a length of 0', {'x': 0}, (2, 4)),
    ('stock of lengths', 'a length below 0', {'x': -5}, (2,), 'file.csv:2'),
    ('stock of lengths', 'so many that their waste is no number of 64 bits', {'n': 10 ** 9, 'x': lambda i: 10 ** (i % 7 + 1)}, (2,), 'more than can be counted'),
    ('stock of kits', 'nothing asked for', {'n': 0}, (4,)),
    ('stock of kits', 'one sort', {'x': 'K'}, (0,)),
    ('stock of kits', 'one kit', 'x,n\nK,1\n', (0,)),
    ('stock of kits', 'a thousand million a row', {'n': 10 ** 9}, (0, 2)),
]


def whole(program, folder):
    for name, fault, change, codes, *phrases in WHOLE:
        kind = KINDS[name]
        if isinstance(change, str):
            csv = change
        else:
            names = list(kind['columns'])
            rows = [[change.get(n, old)(i) if callable(change.get(n)) else change.get(n, old) for n, old in zip(names, row)]
                    for i, row in enumerate(kind['rows'])]
            csv = csv_of(names, rows)
        hold(program, folder, name, fault, csv, codes, *phrases)
    for name, kind in KINDS.items():
        one = csv_of(list(kind['columns']), kind['rows'][:1])
        hold(program, folder, name, 'one row', one, ANY)
        twice = csv_of(list(kind['columns']), kind['rows'][:1] * 2)
        hold(program, folder, name, 'two rows that are the same', twice, ANY)


# ---- the audit, which takes no file -------------------------------------------------------------

AUDITS = [
    ('a sample larger than the lot', ['--lot', '10', '--sample', '11', '--accept', '0'], 2),
    ('more accepted than looked at', ['--lot', '10', '--sample', '5', '--accept', '6'], 2),
    ('more bad than there are', ['--lot', '10', '--sample', '5', '--accept', '0', '--bad', '11'], 2),
    ('a lot of none', ['--lot', '0', '--sample', '5', '--accept', '0'], 2),
    ('text for a number', ['--lot', 'ten', '--sample', '5', '--accept', '0'], 2),
    ('nan for a number', ['--lot', 'nan', '--sample', '5', '--accept', '0'], 2),
    ('a negative sample', ['--lot', '10', '--sample', '-5', '--accept', '0'], 2),
    ('no plan keeps both promises', ['--aql', '1', '--lq', '1.01'], 4),
    ('a poor share below the fine one', ['--aql', '5', '--lq', '1'], 2),
    ('the whole lot', ['--lot', '10', '--sample', '10', '--accept', '0'], 0),
    ('everything found bad', ['--lot', '10', '--sample', '5', '--accept', '0', '--found', '5'], 1),
    ('a lot of a hundred million', ['--lot', '100000000', '--sample', '1250', '--accept', '10'], 0),
]


def audits(program):
    for what, words, code in AUDITS:
        for more in ([], ['--json']):
            done = subprocess.run([program, 'study', 'audit', *words, *more], capture_output=True, timeout=1200)
            out, err = done.stdout.decode(), done.stderr.decode()
            is_good = done.returncode == code and not NO_NUMBER.search(out) and (out == '') == (code == 2) and err.count('\n') == (code == 2)
            if more and out:
                is_good = is_good and finite(json.loads(out, parse_constant=no_constant))
            ok(is_good, f"audit: {what}{', JSON' if more else ''}", f'exit {done.returncode}', out, err)


# ---- a million rows -----------------------------------------------------------------------------

def million(program, folder):
    """Each kind's good rows over and over, with names kept to what the kind may hold."""
    for name, kind in KINDS.items():
        if name == 'gauge':
            rows = [(i % 500, i // 500 % 4, i % 500 / 50 + spread(i * 31 + i // 97)) for i in range(1_000_000)]
        elif name == 'life of units that fail again':
            rows = [row for u in range(500_000) for row in ((5 + u % 40, 1, u), (50 + u % 12, 0, u))]
        else:
            rows = kind['rows'] * (1_000_000 // len(kind['rows']))
        hold(program, folder, name, f'{len(rows)} rows', csv_of(list(kind['columns']), rows), ANY)


def main():
    program = str(pathlib.Path(sys.argv[1]).resolve())
    with tempfile.TemporaryDirectory(prefix='mendwright-faults-') as name:
        folder = pathlib.Path(name)
        fields(program, folder)
        whole(program, folder)
        audits(program)
        million(program, folder)
    return tap.done()


if __name__ == '__main__':
    sys.exit(main())
