#!/usr/bin/env python3
"""study window against looking at every run in Python, against windows that were planted, and against the truth of made-up campaigns.
TAP.

usage: study_window.py PROGRAM
"""
import csv
import datetime
import itertools
import json
import math
import pathlib
import random
import signal
import subprocess
import sys
import tempfile
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))
from tap import Tap  # noqa: E402

tap = Tap(notes_always=True)
ok = tap.ok


def ratio(c, total, e):
    if c <= e:
        return 0.0
    return c * math.log(c / e) + ((total - c) * math.log((total - c) / (total - e)) if c < total else 0.0)


def best_run(rows):
    """rows: (day, built, failed) in order, built > 0. Every run looked at."""
    total, everything = sum(r[2] for r in rows), sum(r[1] for r in rows)
    best = (0.0, None)
    for i in range(len(rows)):
        c = x = 0
        for j in range(i, len(rows)):
            c, x = c + rows[j][2], x + rows[j][1]
            llr = ratio(c, total, total * x / everything)
            if llr > best[0] + 1e-12:
                best = (llr, (rows[i][0], rows[j][0], x, c, total * x / everything))
    return best


def study(program, path, *options, expect=(0, 1)):
    done = subprocess.run([program, 'study', 'window', str(path), '--json', *options], capture_output=True, text=True)
    if done.returncode not in expect:
        tap.note(f'exit {done.returncode}: {done.stderr}')
        return None, done.stdout
    return json.loads(done.stdout), done.stdout


COLUMNS = ['--day', 'day', '--built', 'built', '--failed', 'failed']


def write(path, rows, shuffle=None):
    rows = [(r[0], r[1], r[2]) for r in rows]
    if shuffle:
        shuffle.shuffle(rows)
    with open(path, 'w', newline='', encoding='utf-8') as f:
        out = csv.writer(f)
        out.writerow(['day', 'built', 'failed'])
        out.writerows(rows)


def against_every_run(program, path):
    chance = random.Random(77)
    same = 0
    for _ in range(60):
        days = chance.randint(2, 25)
        high = chance.choice([0.05, 0.2, 0.6])
        rows = [(d * chance.choice([1, 1, 3]) + 100 * d, b := chance.randint(1, 30),
                 sum(chance.random() < (high if 5 <= d <= 9 else 0.05) for _ in range(b))) for d in range(days)]
        if sum(r[2] for r in rows) == 0:
            rows[0] = (rows[0][0], rows[0][1], 1)
        write(path, rows + [(-5, 0, 0), (100000, 0, 0)], chance)
        found, _ = study(program, path, *COLUMNS, '--draws', '99')
        llr, run = best_run(rows)
        if run is None:
            same += found is not None and found['first'] is None and found['p_value'] == 1
            continue
        same += found is not None and (int(found['first']), int(found['last']), found['built'], found['failed']) == run[:4] and \
            abs(found['expected'] - run[4]) < 1e-9 and abs(found['llr'] - llr) < 1e-9
    ok(same == 60, '60 made-up series (seed 77), rows in any order: the run, its counts and its ratio are those of looking at every run in Python')


def exact_p(program, path):
    cells = [0, 4, 1, 1]
    write(path, [(i + 1, 10, c) for i, c in enumerate(cells)])
    seen, _ = study(program, path, *COLUMNS, '--draws', '100000')
    mark = best_run([(i, 1, c) for i, c in enumerate(cells)])[0]
    reach = sum(best_run([(i, 1, place.count(i)) for i in range(4)])[0] >= mark - 1e-12
                for place in itertools.product(range(4), repeat=6))
    exact = reach / 4 ** 6
    ok(abs(seen['p_value'] - exact) < 4 * math.sqrt(exact * (1 - exact) / 100000),
       f"100000 draws: p {seen['p_value']:.4f}; all {4 ** 6} placements enumerated: {exact:.4f}; within four standard errors")


def threads(program, path):
    chance = random.Random(5)
    write(path, [(d, 20, sum(chance.random() < 0.1 for _ in range(20))) for d in range(200)])
    one, two = (study(program, path, *COLUMNS, '--draws', '2000', '--threads', t)[1] for t in '13')
    ok(one == two != '', 'one thread or three: the same answer, byte for byte')
    other = study(program, path, *COLUMNS, '--draws', '2000', '--seed', '2')[0]
    first = json.loads(one)
    ok(other['llr'] == first['llr'] and other['p_value'] != first['p_value'] and abs(other['p_value'] - first['p_value']) < 0.06,
       'another seed: the same run, nearly the same p-value')


def planted(program, path):
    for seed in (1, 2, 3):
        chance = random.Random(seed)
        start = datetime.date(2024, 1, 1)
        first = chance.randint(40, 200)
        last = first + chance.randint(15, 45)
        rows = []
        for d in range(366):
            built = chance.randint(8, 24)
            rate = 0.16 if first <= d <= last else 0.02
            rows.append(((start + datetime.timedelta(d)).isoformat(), built, sum(chance.random() < rate for _ in range(built))))
        write(path, rows, chance)
        found, _ = study(program, path, *COLUMNS, '--windows', '3')
        ends = found['confidence_set']
        truth = rows[first][0], rows[last][0]
        ok(ends['first'][0] <= truth[0] <= ends['first'][1] and ends['last'][0] <= truth[1] <= ends['last'][1] and
           found['p_value'] == 0.0001 and found['found'],
           f'planted {truth[0]} to {truth[1]} (seed {seed}): both ends lie in the confidence set, p 1/10000',
           f"found {found['first']} to {found['last']}, first in {ends['first']}, last in {ends['last']}")
        ok(all(not w['found'] for w in found['windows'][1:]), f'planted (seed {seed}): no second run is made up')
        curve = found['cost_curve']
        ok(all(a['built'] <= b['built'] and a['needless'] <= b['needless'] + 1e-9 and a['left_out_built'] >= b['left_out_built'] - 1e-9
               for a, b in zip(curve, curve[1:])), f'planted (seed {seed}): wider lines sweep in more and leave out less')


def two_planted(program, path):
    chance = random.Random(11)
    rows = [(d, 20, sum(chance.random() < (0.2 if 50 <= d < 70 or 200 <= d < 215 else 0.02) for _ in range(20))) for d in range(300)]
    write(path, rows)
    found, _ = study(program, path, *COLUMNS, '--windows', '4')
    runs = sorted((int(w['first']), int(w['last'])) for w in found['windows'] if w['found'])
    ok(len(runs) == 2 and all(abs(a - b) <= 4 for run, truth in zip(runs, [(50, 69), (200, 214)]) for a, b in zip(run, truth)),
       'two planted runs: both found, each end within four days, and no third', f'found {runs}')


def made_up_campaigns(program, folder):
    for seed in (1, 2, 3):
        where = folder / f'campaign{seed}'
        subprocess.run([program, 'demo', 'make', where, '--units', '100', '--seed', str(seed), '--faulty', '0'], check=True, capture_output=True)
        truth = json.loads((where / 'truth.json').read_text())['failures']['windows']
        with open(where / 'failures.csv', newline='', encoding='utf-8') as f:
            rows = list(csv.DictReader(f))
        bad = [r for r in rows if any(t['first'] <= r['built'] <= t['last'] for t in truth)]
        found, _ = study(program, where / 'failures.csv', '--day', 'built', '--failed', 'failed', '--windows', '4')
        by_day, _ = study(program, where / 'days.csv', *COLUMNS, '--windows', '4')
        runs = [(w['first'], w['last']) for w in found['windows'] if w['found']]
        inside = [r for r in rows if any(a <= r['built'] <= b for a, b in runs)]
        caught = sum(r['failed'] == '1' and r in inside for r in bad) / max(1, sum(r['failed'] == '1' for r in bad))
        ends = found['confidence_set']
        low, high = min(t['first'] for t in truth), max(t['last'] for t in truth)
        ok(found['found'] and caught >= 0.9, f'campaign of seed {seed}: nine in ten of the failures of the planted windows lie in the runs found',
           f'planted {low} to {high} with gaps; found {runs}; {100 * caught:.0f} % of their failures')
        ok(ends['first'][0] <= low <= ends['first'][1] or found['first'] >= low, f'campaign of seed {seed}: the run begins no earlier than planted, or as early as the set allows',
           f"set {ends['first']}, {ends['last']}")
        ok({k: v for k, v in found.items()} == by_day, f'campaign of seed {seed}: a row a column or a row a day, the same answer')


def stopped(program, path):
    """Ctrl-C in the middle of ten million draws."""
    chance = random.Random(6)
    write(path, [(d, 20, sum(chance.random() < 0.1 for _ in range(20))) for d in range(400)])
    call = [program, 'study', 'window', str(path), '--json', *COLUMNS, '--draws', '10000000']
    running = subprocess.Popen(call, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    time.sleep(2)
    running.send_signal(signal.SIGINT)
    out, err = running.communicate(timeout=120)
    found = json.loads(out) if running.returncode in (0, 1) else {}
    ok(found.get('stopped') and 0 < found['draws'] < 10000000 and 0 < found['p_value'] <= 1 and
       any(n['kind'] == 'caveat' and n['text'].startswith('Stopped before the end') for n in found['assumptions']),
       'Ctrl-C: the p-value of the draws that were made, and it says so', f"exit {running.returncode}, {found.get('draws')} draws {err}")


def main(argv):
    program = argv[0]
    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(folder) / 'days.csv'
        against_every_run(program, path)
        exact_p(program, path)
        threads(program, path)
        planted(program, path)
        two_planted(program, path)
        stopped(program, path)
        made_up_campaigns(program, pathlib.Path(folder))
    return tap.done()


if __name__ == '__main__':
    sys.exit(main(sys.argv[1:]))
