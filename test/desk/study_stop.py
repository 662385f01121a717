#!/usr/bin/env python3
"""Ctrl-C during a study: the answer so far that says so, or a plain word that there is none. Prints TAP.

usage: study_stop.py PROGRAM
"""
import json
import pathlib
import random
import signal
import subprocess
import sys
import tempfile
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1]))
import tap  # noqa: E402
from tap import ok  # noqa: E402


def while_reading(program):
    """More rows come as long as it lives; it stops by itself, without a figure from half a file."""
    run = subprocess.Popen([program, 'study', 'labour', '-', '--minutes', 'min'], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                           stderr=subprocess.PIPE)
    end = time.monotonic() + 120
    try:
        run.stdin.write(b'min\n' + b'5\n6\n' * 20000)
        run.stdin.flush()
        run.send_signal(signal.SIGINT)
        while run.poll() is None and time.monotonic() < end:
            run.stdin.write(b'5\n6\n' * 5000)
            run.stdin.flush()
    except BrokenPipeError:
        pass
    try:
        run.stdin.close()
    except BrokenPipeError:
        pass
    out, err = run.stdout.read(), run.stderr.read().decode()
    code = run.wait()
    ok(code == 3 and out == b'', f'stopped while reading: exit {code}, no figures')
    ok(err.count('\n') == 1 and 'stopped after' in err and 'before all were read' in err, 'and says so in a line', err)


def while_working(program, folder):
    """Thousands of small groups are simulated one by one; the ones that were done are told."""
    rng = random.Random(5)
    path = folder / 'groups.csv'
    path.write_text('mm,shop\n' + ''.join(f'{rng.gauss(58, 2):.1f},S{i % 4000}\n' for i in range(160000)))
    for wait in (1, 2, 4, 8):
        run = subprocess.Popen([program, 'study', 'digits', path, '--value', 'mm', '--by', 'shop', '--step', '0.1', '--json'],
                               stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        time.sleep(wait)
        run.send_signal(signal.SIGINT)
        out, err = run.communicate()
        if run.returncode in (0, 1):  # else it was still reading, or had not begun
            break
    ok(run.returncode in (0, 1) and err == b'', f'stopped at work: exit {run.returncode}', err.decode())
    answer = json.loads(out) if out else {'groups': [], 'partial': None, 'assumptions': []}
    known = sum(g['p'] is not None for g in answer['groups'])
    ok(answer['partial'] is True and 0 < known < 4000, f'the answer so far: {known} of 4000 groups')
    ok(any('Stopped early' in note['text'] for note in answer['assumptions']), 'and says so')


def stopped_at(call, waits):
    """Runs call once for each wait until it was stopped neither before it had begun its work nor after its end."""
    for wait in waits:
        run = subprocess.Popen(call, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        time.sleep(wait)
        run.send_signal(signal.SIGINT)
        out, err = run.communicate()
        answer = json.loads(out) if out else {}
        if answer.get('stopped') or 'before a choice was found' in err.decode():  # stopped before its first group, life is asked again
            break
    return run.returncode, answer, err.decode()


def while_fitting(program, folder):
    """Sixty groups, each with a mixture of thousands of times: those that were worked are told."""
    rng = random.Random(6)
    path = folder / 'groups.csv'
    path.write_text('t,e,g\n' + ''.join(f'{rng.weibullvariate(100, 1.3):.5f},{int(i % 7 > 1)},G{i % 60}\n' for i in range(240000)))
    code, answer, err = stopped_at([program, 'study', 'life', path, '--time', 't', '--event', 'e', '--group', 'g', '--cure', '--json'],
                                   (2, 3, 4, 6, 9, 14, 20))
    n = len(answer.get('groups', []))
    ok(code == 0 and err == '' and answer.get('stopped') is True and 0 < n < 60, f'life: stopped at work, exit {code}: {n} of 60 groups', err)
    ok(any(f'Stopped before the end: {n} of 60 groups' in note['text'] for note in answer.get('assumptions', [])) and 'logrank' not in answer,
       'life: says so, and compares nothing')
    ok(all(g['weibull'] is not None and g['mixture'] is not None for g in answer.get('groups', [])), 'life: the groups told are whole')


def while_choosing(program, folder):
    """A choice of lengths is exact or none: there is no part of it."""
    rng = random.Random(7)
    path = folder / 'needs.csv'
    path.write_text('x\n' + ''.join(f'{x / 100}\n' for x in rng.sample(range(20000, 9000000), 200000)))
    call = [program, 'study', 'stock', path, '--length', 'x', '--k', '60', '--json']
    code, answer, err = stopped_at(call, (1, 2, 3, 4, 6, 9, 14))
    ok(code == 3 and answer == {} and err.count('\n') == 1 and 'no part of an answer' in err, f'stock: stopped at work, exit {code}, no figures, and says so', err)


def main():
    program = str(pathlib.Path(sys.argv[1]).resolve())
    while_reading(program)
    with tempfile.TemporaryDirectory(prefix='mendwright-stop-') as name:
        while_working(program, pathlib.Path(name))
        while_fitting(program, pathlib.Path(name))
        while_choosing(program, pathlib.Path(name))
    return tap.done()


if __name__ == '__main__':
    sys.exit(main())
